package app

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
)

// What has become of what the log says was recorded.
const (
	Arrived = "arrived" // every run that the log lists is in it
	Missing = "missing" // the log names it, and it has not been imported
	Short   = "short"   // it holds fewer runs than the log lists, or its end is cut off
	Stray   = "stray"   // no run of the log names it
	Untold  = "untold"  // the log names no recording for the stint
)

// ArrivedRecording is one recording of a stint, or one that the log names and that has
// not come.
type ArrivedRecording struct {
	Test    string `json:"test"`
	Stint   string `json:"stint"` // empty of a stray
	Code    string `json:"code"`
	Name    string `json:"name"`
	SHA256  string `json:"sha256,omitempty"` // empty of one that is missing
	Size    int64  `json:"size"`
	Runs    int    `json:"runs"`   // that the log lists in it for the stint
	Pieces  int    `json:"pieces"` // laps, stops or passes that it holds for the stint
	State   string `json:"state"`
	Remark  string `json:"remark,omitempty"` // what is odd, in words
	Another bool   `json:"another"`          // there is a recording of the same name with other content
}

// Intake says stint by stint what has arrived of a test's recordings, what is missing
// and what is short; strays stand last. A file of the same name with other content is
// another recording, and stands beside the first.
func (f *Folder) Intake(ctx context.Context, s *State, test string) ([]ArrivedRecording, error) {
	entry, err := s.Test(test)
	if err != nil {
		return nil, err
	}
	sequence := s.Day.Sequence(test)
	stints, runs := sequence.Log.Stints, sequence.Log.Runs
	names := sequence.Recordings
	for _, t := range s.Tables {
		if t.Test != test {
			continue
		}
		if len(sequence.Log.Stints) == 0 {
			stints, runs = append(stints, t.Log.Stints...), append(runs, t.Log.Runs...)
		}
		for name, of := range t.Recordings {
			names[name] = append(names[name], of...)
		}
	}
	var out []ArrivedRecording
	named := map[string]bool{} // hashes of recordings that the log names
	for _, st := range stints {
		var files []string // in the order driven
		wanted := map[string]int{}
		for _, r := range runs {
			if r.Stint != st.ID {
				continue
			}
			for _, name := range slices.Sorted(maps.Keys(names)) {
				of := names[name]
				if slices.Contains(of, r.ID) {
					if wanted[name] == 0 {
						files = append(files, name)
					}
					wanted[name]++
				}
			}
		}
		if files == nil {
			out = append(out, ArrivedRecording{Test: test, Stint: st.ID, Code: st.Code, State: Untold})
		}
		for _, name := range files {
			a := ArrivedRecording{Test: test, Stint: st.ID, Code: st.Code, Name: name, Runs: wanted[name], State: Missing}
			here := recordingsOf(s, test, name)
			if len(here) == 0 {
				out = append(out, a)
			}
			for _, r := range here {
				b := a
				named[r.SHA256] = true
				if err := f.holds(ctx, s, entry, r, &b, len(names[name])); err != nil {
					return nil, err
				}
				b.Another = len(here) > 1
				out = append(out, b)
			}
		}
	}
	for _, r := range s.Recordings {
		if r.Test == test && !named[r.SHA256] {
			a := ArrivedRecording{Test: test, Name: r.Name}
			if err := f.holds(ctx, s, entry, r, &a, 0); err != nil {
				return nil, err
			}
			a.State, a.Another = Stray, len(recordingsOf(s, test, r.Name)) > 1
			if m, ok := s.MainOf(r); ok {
				a.State, a.Remark = Arrived, "beside "+m.Name
			}
			out = append(out, a)
		}
	}
	return out, nil
}

// labelOf gives the name by which a log may mean one of several recordings of one
// name: with the first digits of its hash behind it.
func labelOf(r RecordingEntry) string { return r.Name + "#" + r.SHA256[:8] }

// recordingsOf gives the recordings that the log means by a name.
func recordingsOf(s *State, test, name string) []RecordingEntry {
	var out []RecordingEntry
	for _, r := range s.Recordings {
		if r.Test == test && (r.Name == name || labelOf(r) == name) {
			out = append(out, r)
		}
	}
	return out
}

// cutOff lists caveats of readers that say that a recording's end is not there.
var cutOff = []string{"truncated_line", "no_line_end", "nul_bytes"}

// holds looks what a recording holds. all is how many runs the log lists in it, over
// all stints.
func (f *Folder) holds(ctx context.Context, s *State, test TestEntry, r RecordingEntry, a *ArrivedRecording, all int) error {
	a.SHA256, a.Size, a.State = r.SHA256, r.Size, Arrived
	got, err := f.Reduce(ctx, s, test, r)
	switch code := fault.CodeOf(err); {
	case err == nil:
	case code == fault.Invalid || code == fault.NotFound:
		a.State, a.Remark = Short, err.Error()
		return nil
	default:
		return err
	}
	for _, p := range got.Results.Pieces {
		if p.Run != "" {
			a.Pieces++
		}
	}
	switch {
	case all > a.Runs: // it holds other stints too: only the whole can be counted
		if a.Pieces < all {
			a.State, a.Remark = Short, "it holds several stints, and fewer runs than they list"
		}
		a.Pieces = min(a.Pieces, a.Runs)
	case a.Pieces < a.Runs:
		a.State, a.Remark = Short, "it holds fewer runs than the log lists"
	case a.Runs > 0 && a.Pieces > a.Runs:
		a.Remark = "it holds more runs than the log lists"
	}
	if slices.ContainsFunc(got.Caveats, func(c caveat.Caveat) bool { return slices.Contains(cutOff, c.Code) }) {
		a.State, a.Remark = Short, "its end may be cut off"
	}
	return nil
}

// Media names the folders of a copy: the programme's, the second medium's, and the
// card's; the card's may be empty.
type Media struct{ Kept, Second, Card string }

// Copied says of a recording, or of a file on a card, whether it may be wiped.
type Copied struct {
	Name     string `json:"name"`
	SHA256   string `json:"sha256"`
	Kept     bool   `json:"kept"`     // in the programme, read again just now
	Verified bool   `json:"verified"` // on the second medium, read again just now
	Wipe     bool   `json:"wipe"`     // safe to wipe where it came from
	Remark   string `json:"remark,omitempty"`
}

// deviceOf tells on which device a folder lies; a test puts its own in its place.
var deviceOf = device

// SecondCopies makes sure that recordings lie on a second medium too: a file there with
// the same bytes will do, whatever its name; else one is written under the recording's
// hash, made durable and only then given its name. Both copies are read again from
// their first byte to the last and hashed. Safe to wipe is only what has the right hash
// in both, on different devices. Nothing on a card is written, renamed or removed.
//
// What has been written just now may be read from the machine's memory instead of the
// medium: to be certain beyond that, take the medium off, put it back and ask again.
func (f *Folder) SecondCopies(ctx context.Context, m Media, recordings []RecordingEntry) ([]Copied, error) {
	apart, why, err := apart(m)
	if err != nil {
		return nil, err
	}
	there, err := filesBySize(m.Second)
	if err != nil {
		return nil, err
	}
	var out []Copied
	seen := map[string]bool{}
	for _, r := range recordings {
		if seen[r.SHA256+r.Name] {
			continue
		}
		seen[r.SHA256+r.Name] = true
		c := Copied{Name: r.Name, SHA256: r.SHA256}
		if err := f.copySecond(ctx, m.Second, there[r.Size], r, &c); err != nil {
			return nil, err
		}
		c.Wipe = c.Kept && c.Verified && apart
		if c.Kept && c.Verified && !apart {
			c.Remark = why
		}
		out = append(out, c)
	}
	return out, nil
}

// apart tells whether the second folder is another medium than the programme's and the
// card's; why says what is wrong.
func apart(m Media) (ok bool, why string, err error) {
	info, err := os.Stat(m.Second)
	if err != nil || !info.IsDir() {
		return false, "", fault.New(fault.NotFound, "there is no folder %s", m.Second).WithHint("name a folder on another disk or stick, by --second DIR")
	}
	for _, other := range []struct{ dir, why string }{
		{m.Kept, "the second copy lies on the same device as the programme"},
		{m.Card, "the second copy lies on the same device as the card"},
	} {
		if other.dir == "" {
			continue
		}
		a, okA := deviceOf(m.Second)
		b, okB := deviceOf(other.dir)
		if !okA || !okB {
			return false, "this system does not tell whether the folders lie on different devices", nil
		}
		if a == b {
			return false, other.why, nil
		}
	}
	return true, "", nil
}

// filesBySize lists the files below a folder by their length.
func filesBySize(dir string) (map[int64][]string, error) {
	out := map[int64][]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() || strings.HasPrefix(d.Name(), partPrefix) {
			return err
		}
		info, err := d.Info()
		if err != nil {
			return err
		}
		out[info.Size()] = append(out[info.Size()], path)
		return nil
	})
	if err != nil {
		return nil, fault.New(fault.Invalid, "reading the folder: %w", err).At("%s", dir).WithHint("is the second medium there, and may it be read?")
	}
	return out, nil
}

// partPrefix begins the name of a copy that is not whole yet.
const partPrefix = ".bookend-part-"

// copySecond makes sure of one recording.
func (f *Folder) copySecond(ctx context.Context, dir string, there []string, r RecordingEntry, c *Copied) error {
	for _, path := range there {
		if sum, err := hashFile(ctx, path); err == nil && sum == r.SHA256 {
			c.Verified = true
			break
		}
	}
	raw, err := f.Store.Raw(ctx, r.SHA256)
	if fault.CodeOf(err) == fault.NotFound {
		c.Remark = "the programme does not hold it any more"
		return nil
	}
	if err != nil {
		return err
	}
	defer raw.Close() //nolint:errcheck // opened for reading alone
	var sum string
	if c.Verified {
		sum, err = sumOf(ctx, raw)
	} else {
		sum, err = writeCopy(ctx, raw, dir, r.SHA256)
	}
	if err != nil {
		return err
	}
	if c.Kept = sum == r.SHA256; !c.Kept {
		c.Remark = "the programme's copy has changed since it was kept"
		return nil
	}
	if !c.Verified {
		again, err := hashFile(ctx, filepath.Join(dir, r.SHA256))
		if err != nil {
			return err
		}
		if c.Verified = again == r.SHA256; !c.Verified {
			c.Remark = "read again, the second copy is not the same"
		}
	}
	return nil
}

// writeCopy writes src into a folder under its hash and gives the hash of what was
// read. Until it is whole and durable it has another name; where the hash is not the
// one wanted nothing is left.
func writeCopy(ctx context.Context, src io.Reader, dir, want string) (sum string, err error) {
	failed := func(err error) (string, error) {
		return "", fault.New(fault.Invalid, "writing a copy: %w", err).At("%s", dir).WithHint("is the second medium full, write-protected or taken out?")
	}
	file, err := os.CreateTemp(dir, partPrefix+"*")
	if err != nil {
		return failed(err)
	}
	part := file.Name()
	defer func() {
		if err != nil || sum != want {
			file.Close()    //nolint:errcheck // it is thrown away
			os.Remove(part) //nolint:errcheck // likewise
		}
	}()
	hash := sha256.New()
	if _, err := io.Copy(io.MultiWriter(file, hash), inContext{ctx, src}); err != nil {
		return failed(err)
	}
	sum = hex.EncodeToString(hash.Sum(nil))
	if sum != want {
		return sum, nil
	}
	if err := errors.Join(file.Sync(), file.Close()); err != nil {
		return failed(err)
	}
	if err := os.Rename(part, filepath.Join(dir, want)); err != nil {
		return failed(err)
	}
	d, err := os.Open(dir)
	if err != nil {
		return failed(err)
	}
	defer d.Close() //nolint:errcheck // opened for reading alone
	if err := d.Sync(); err != nil && !errors.Is(err, fs.ErrInvalid) && !errors.Is(err, errors.ErrUnsupported) {
		return failed(err)
	}
	return sum, nil
}

// inContext is a source whose reading ends with a context.
type inContext struct {
	ctx context.Context
	src io.Reader
}

func (r inContext) Read(p []byte) (int, error) {
	if err := r.ctx.Err(); err != nil {
		return 0, err
	}
	return r.src.Read(p)
}

func sumOf(ctx context.Context, src io.Reader) (string, error) {
	h := sha256.New()
	if _, err := io.Copy(h, inContext{ctx, src}); err != nil {
		return "", fault.New(fault.Invalid, "reading it: %w", err)
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

func hashFile(ctx context.Context, path string) (string, error) {
	file, err := os.Open(path)
	if err != nil {
		return "", fault.New(fault.NotFound, "reading it: %w", err).At("%s", path)
	}
	defer file.Close() //nolint:errcheck // opened for reading alone
	sum, err := sumOf(ctx, file)
	return sum, fault.At(err, "%s", path)
}

// Card says of every file on a card whether it may be wiped there: it must be kept in
// the programme and verified on the second medium, by its bytes, whatever it is
// called. Files that begin with a point are the card's own and count like any other.
func (f *Folder) Card(ctx context.Context, s *State, m Media) ([]Copied, error) {
	info, err := os.Stat(m.Card)
	if err != nil || !info.IsDir() {
		return nil, fault.New(fault.NotFound, "there is no folder %s", m.Card).WithHint("name the card's folder, by --card DIR")
	}
	type onCard struct {
		name, sum string
	}
	var files []onCard
	err = filepath.WalkDir(m.Card, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		name, err := filepath.Rel(m.Card, path)
		if err != nil {
			return err
		}
		sum, err := hashFile(ctx, path)
		files = append(files, onCard{filepath.ToSlash(name), sum})
		return err
	})
	if err != nil {
		return nil, fault.New(fault.Invalid, "reading the card: %w", err).At("%s", m.Card).WithHint("nothing on it is called safe to wipe until all of it can be read")
	}
	var wanted []RecordingEntry
	tables := map[string]bool{}
	for _, r := range s.Recordings {
		if slices.ContainsFunc(files, func(c onCard) bool { return c.sum == r.SHA256 }) {
			wanted = append(wanted, r)
		}
	}
	for _, t := range s.Tables {
		tables[t.SHA256] = true
	}
	var copies []Copied
	if m.Second != "" {
		if copies, err = f.SecondCopies(ctx, m, wanted); err != nil {
			return nil, err
		}
	}
	var out []Copied
	for _, c := range files {
		k := Copied{Name: c.name, SHA256: c.sum}
		i := slices.IndexFunc(copies, func(o Copied) bool { return o.SHA256 == c.sum })
		here := slices.ContainsFunc(wanted, func(r RecordingEntry) bool { return r.SHA256 == c.sum })
		switch {
		case i >= 0:
			k.Kept, k.Verified, k.Wipe, k.Remark = copies[i].Kept, copies[i].Verified, copies[i].Wipe, copies[i].Remark
		case here:
			k.Kept, k.Remark = true, "no second copy was asked for"
		case tables[c.sum]:
			k.Kept, k.Remark = true, "it is a table; only recordings are copied"
		default:
			k.Remark = "it is not imported"
		}
		out = append(out, k)
	}
	return out, nil
}
