package sqlite

import "example.org/bookend/caveat"

// Doubts gives what makes the place of the programme a doubtful one: a file system
// that is reached over a network, or by a program that may be one's go-between.
// SQLite's write-ahead log needs memory that all who write share, and locks that
// hold; over a network neither is certain (sqlite.org, "Write-Ahead Logging",
// section 1, and "How To Corrupt An SQLite Database File", section 2.1). A local
// folder that another program synchronises elsewhere looks like any other and is
// not told.
func (s *Store) Doubts() caveat.List {
	var out caveat.List
	if what := remote(s.dir); what != "" {
		out.Add("remote_folder", caveat.Place{File: s.dir}, "The folder lies on a file system of the kind %s, which may be another machine's. Two machines that write there at once can damage the programme; keep it on a disk of this machine, and pass it on with bookend copy.", what)
	}
	return out
}
