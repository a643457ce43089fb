package sqlite

import "context"

// CreateOn makes a programme's folder on another of SQLite's file systems, synced
// as told; for the tests of power cuts. Not for tests that run beside others.
func CreateOn(ctx context.Context, dir, vfs, synchronous string) (*Store, error) {
	before := disk
	defer func() { disk = before }()
	disk.vfs, disk.synchronous = vfs, synchronous
	return Create(ctx, dir)
}

// Ask gives the answer of the writing connection to a question of one value.
func (s *Store) Ask(query string) (string, error) {
	var got string
	err := s.write.QueryRow(query).Scan(&got)
	return got, err
}
