// Package app is the use cases, the desk at which an evaluator works: a programme in its
// folder is opened, files and entries are brought in, what they amount to is put together
// (State, by test Driven), runs are left out, recordings assigned and cut otherwise, and
// the tests compared and reported. It declares the Store that keeps the entries; who may
// see what is asked of room sight. Quantities are SI as in every room within; times are
// in s from a recording's anchor, or in ns of the clock that its comment names. Errors
// are faults; what stands at a number's doubt is a caveat.
package app

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"example.org/bookend/app/codes"
	"example.org/bookend/app/logger"
	"example.org/bookend/fault"
	"example.org/bookend/ingest"
	"example.org/bookend/match"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
	"example.org/bookend/soundness/mend"
	"example.org/bookend/table"
)

// Folder is a programme in its folder, and who works in it.
type Folder struct {
	Store  Store
	Ground Store // of the ground that the programme lies in; nil: none is at hand
	Shelf  logger.Shelf
	Author string           // who enters
	Device string           // on what
	Now    func() time.Time // the device's clock

	Vault Vault      // what is sealed beside it; nil: nothing can be
	Codes *codes.Key // opened; nil: codes stay as they are driven

	// Progress is called before the i-th of n recordings is reduced; may be nil.
	Progress func(i, n int, name string)
}

// Put keeps one entry made here and now, of a kind that the caller has checked; it
// takes the place of the one that supersedes names, if any.
func (f *Folder) Put(ctx context.Context, kind, supersedes string, body any) error {
	b, err := programme.Canonical(body)
	if err != nil {
		return err
	}
	e, err := f.entry(ctx, kind, 1, supersedes, b)
	if err != nil {
		return err
	}
	_, _, err = f.Store.Put(ctx, e)
	return err
}

// Begin enters what the programme is.
func (f *Folder) Begin(ctx context.Context, p programme.Programme) error {
	if p.Zone != "" {
		if _, err := time.LoadLocation(p.Zone); err != nil {
			return fault.New(fault.Invalid, "%q is no IANA zone", p.Zone).WithHint("for example Europe/London")
		}
	}
	id, err := uuid.NewV7()
	if err != nil {
		return fault.New(fault.Internal, "making the programme's id: %w", err)
	}
	if err := asks(p.Asked); err != nil {
		return err
	}
	p.ID = id.String()
	return f.putProgramme(ctx, p)
}

// ImportRequest brings tables and recordings into a test. A table has the
// columns stint and code; with a column recording it says which file holds
// which runs.
type ImportRequest struct {
	Test      string
	Procedure string // of a test with recordings
	Gates     []string
	Given     programme.Parameters
	Better    programme.Better // of typed values
	Scale     programme.Scale  // of typed values; empty: ratio
	Columns   map[string]string
	Paths     []string
	Options   FileOptions
	Mends     []string                    // words for the recordings' channels; "none" takes back what was accepted before
	Progress  func(i, n int, name string) // called before the i-th of n files is read; may be nil
}

// Imported says what became of one file.
type Imported struct {
	Name    string `json:"name"`
	Kind    string `json:"kind"` // "table" or "recording"
	SHA256  string `json:"sha256"`
	Runs    int    `json:"runs,omitempty"`    // of a table
	Again   bool   `json:"again"`             // it was here already: nothing was done
	Another bool   `json:"another,omitempty"` // a recording of the same name with other content is here
	Mends   int    `json:"mends,omitempty"`   // of a recording: how many were accepted
}

// incoming is one file, read and judged but not kept yet.
type incoming struct {
	path, name, sum string
	table           *TableEntry
	recording       *RecordingEntry
	mends           *MendEntry
}

// Import reads all files before it keeps any: where one is wrong, nothing is
// kept.
func (f *Folder) Import(ctx context.Context, q ImportRequest) ([]Imported, error) {
	s, err := Rebuild(ctx, f.Store)
	if err != nil {
		return nil, err
	}
	test, fresh, err := f.testOf(s, q)
	if err != nil {
		return nil, err
	}
	var all []incoming
	for i, path := range q.Paths {
		if q.Progress != nil {
			q.Progress(i+1, len(q.Paths), filepath.Base(path))
		}
		in, err := f.read(ctx, path, q, s)
		if err != nil {
			return nil, err
		}
		if in.recording != nil && test.Test.Procedure == "" {
			return nil, fault.New(fault.Invalid, "%s is a recording, and test %s has no procedure", in.name, q.Test).
				WithHint("name it with --procedure when the test is first imported into")
		}
		all = append(all, in)
	}
	if fresh {
		if err := f.Put(ctx, KindTest, "", test); err != nil {
			return nil, err
		}
	}
	var out []Imported
	for _, in := range all {
		done := Imported{Name: in.name, SHA256: in.sum, Kind: KindRecording}
		if in.table != nil {
			done.Kind, done.Runs = KindTable, len(in.table.Log.Runs)
			done.Again = slices.ContainsFunc(s.Tables, func(t TableEntry) bool { return t.Test == q.Test && t.SHA256 == in.sum })
		} else {
			done.Again = slices.ContainsFunc(s.Recordings, func(r RecordingEntry) bool {
				return r.Test == q.Test && r.SHA256 == in.sum && r.Name == in.name
			})
			done.Another = slices.ContainsFunc(s.Recordings, func(r RecordingEntry) bool {
				return r.Test == q.Test && r.SHA256 != in.sum && r.Name == in.name
			})
		}
		if !done.Again {
			if err := f.keep(ctx, in); err != nil {
				return nil, err
			}
			var err error
			if in.table != nil {
				err = f.Put(ctx, KindTable, "", in.table)
				s.Tables = append(s.Tables, *in.table)
			} else {
				err = f.Put(ctx, KindRecording, "", in.recording)
				s.Recordings = append(s.Recordings, *in.recording)
			}
			if err != nil {
				return nil, err
			}
		}
		if in.mends != nil {
			before, _ := s.mends(*in.recording)
			if err := f.Put(ctx, KindMend, before, in.mends); err != nil {
				return nil, err
			}
			done.Mends = len(in.mends.Mends)
		}
		out = append(out, done)
	}
	return out, nil
}

// testOf gives the test to import into; fresh where it must be entered first.
func (f *Folder) testOf(s *State, q ImportRequest) (test TestEntry, fresh bool, err error) {
	if q.Test == "" {
		return test, false, fault.New(fault.Invalid, "no test is named").WithHint("--test NAME: one manoeuvre on one surface, for example wet-stop")
	}
	var params programme.Parameters
	if q.Procedure != "" {
		p, err := f.Shelf.Procedure(q.Procedure)
		if err != nil {
			return test, false, err
		}
		if params, err = p.Spec().Settings(q.Given); err != nil {
			return test, false, err
		}
		if _, err := logger.CourseOf(q.Gates, p.Spec()); err != nil {
			return test, false, err
		}
	}
	i := slices.IndexFunc(s.Tests, func(t TestEntry) bool { return t.Test.ID == q.Test })
	if i < 0 || s.Tests[i].assumed {
		return TestEntry{Test: programme.Test{ID: q.Test, Title: q.Test, Procedure: q.Procedure, Parameters: params}, Gates: q.Gates}, true, nil
	}
	test = s.Tests[i]
	switch {
	case q.Procedure != "" && q.Procedure != test.Test.Procedure,
		q.Procedure != "" && len(q.Given) > 0 && !slices.Equal(params, test.Test.Parameters),
		len(q.Gates) > 0 && !slices.Equal(q.Gates, test.Gates):
		return test, false, fault.New(fault.Conflict, "test %s was begun with another procedure, parameters or gates", q.Test).
			WithHint("leave them out to add to it, or name another test")
	}
	return test, false, nil
}

// keep copies a file's bytes into the store, as they were when it was judged.
func (f *Folder) keep(ctx context.Context, in incoming) error {
	file, err := os.Open(in.path)
	if err != nil {
		return fault.New(fault.NotFound, "reading it again: %w", err).At("%s", in.path)
	}
	defer file.Close() //nolint:errcheck // opened for reading alone
	sum, _, _, err := f.Store.PutRaw(ctx, file)
	if err != nil {
		return err
	}
	if sum != in.sum {
		return fault.New(fault.Conflict, "it changed while it was imported").At("%s", in.path).WithHint("import it again once nothing writes to it")
	}
	return nil
}

func (f *Folder) read(ctx context.Context, path string, q ImportRequest, s *State) (incoming, error) {
	info, err := os.Stat(path)
	if err != nil {
		return incoming{}, fault.New(fault.NotFound, "there is no such file").At("%s", path).WithHint("name tables and recordings")
	}
	if info.IsDir() {
		return incoming{}, fault.New(fault.Invalid, "it is a folder").At("%s", path).WithHint("name tables and recordings one by one")
	}
	in := incoming{path: path, name: filepath.Base(path)}
	head, err := logger.HeadOf(path)
	if err != nil {
		return in, err
	}
	if logger.IsTable(head, q.Columns) {
		data, err := logger.ReadTable(path)
		if err != nil {
			return in, err
		}
		sum := sha256.Sum256(data)
		in.sum = hex.EncodeToString(sum[:])
		in.table, err = tableEntry(in, data, q, s)
		return in, err
	}
	opt, err := q.Options.ingest(in.name, s.Programme.Zone)
	if err != nil {
		return in, err
	}
	rec, err := ingest.Open(ctx, path, f.Shelf.Readers, opt)
	if err != nil {
		return in, err
	}
	in.sum = rec.SHA256
	in.recording = &RecordingEntry{Test: q.Test, Name: in.name, SHA256: rec.SHA256, Size: rec.Bytes, Holds: holdsOf(rec), FileOptions: q.Options}
	if len(q.Mends) > 0 {
		mends, err := logger.WordsOf(rec, q.Mends)
		if err != nil {
			return in, fault.At(err, "%s", in.name)
		}
		in.mends = &MendEntry{Test: q.Test, SHA256: rec.SHA256, Words: q.Mends, Mends: append([]mend.Mend{}, mends...)}
	}
	return in, nil
}

func tableEntry(in incoming, data []byte, q ImportRequest, s *State) (*TableEntry, error) {
	opt := table.Options{Name: in.name, Columns: q.Columns, RunsAlone: true}
	if s.Programme.Zone != "" {
		zone, err := time.LoadLocation(s.Programme.Zone)
		if err != nil {
			return nil, fault.New(fault.Internal, "the ground's zone: %w", err)
		}
		opt.Zone = zone
	}
	t, err := table.Read(bytes.NewReader(data), opt)
	if err != nil {
		return nil, err
	}
	e := &TableEntry{Test: q.Test, Name: in.name, SHA256: in.sum, Log: t.Log}
	if len(t.Log.Observations) > 0 {
		if q.Better != programme.Higher && q.Better != programme.Lower {
			return nil, fault.New(fault.Invalid, "it holds values, and it is not said which are better").At("%s", in.name).
				WithHint("--better higher, or --better lower")
		}
		scale := q.Scale
		if scale == "" {
			scale = programme.Ratio
		}
		for _, m := range t.Measures {
			e.Measures = append(e.Measures, Typed(m, t, q.Better, scale))
		}
	}
	for i, c := range t.Columns {
		if !strings.EqualFold(strings.TrimSpace(c), "recording") {
			continue
		}
		e.Recordings = map[string][]string{}
		for row, name := range t.Cells[t.Columns[i]] {
			run := t.Runs[row]
			if name = strings.TrimSpace(name); name != "" && !slices.Contains(e.Recordings[name], run) {
				e.Recordings[name] = append(e.Recordings[name], run)
			}
		}
	}
	for _, other := range s.Tables {
		if other.Test != q.Test || other.SHA256 == in.sum {
			continue
		}
		for _, st := range e.Log.Stints {
			if slices.ContainsFunc(other.Log.Stints, func(o programme.Stint) bool { return o.ID == st.ID }) {
				return nil, fault.New(fault.Conflict, "stint %s stands in %s already", st.ID, other.Name).At("%s", in.name).
					WithHint("number the stints of a test through, or import into another test")
			}
		}
	}
	return e, nil
}

// ingest gives the options as the readers take them.
func (o FileOptions) ingest(name, groundZone string) (ingest.Options, error) {
	opt := ingest.Options{Name: name, Reader: o.Reader}
	zone := o.Zone
	if zone == "" {
		zone = groundZone
	}
	if zone != "" {
		z, err := time.LoadLocation(zone)
		if err != nil {
			return opt, fault.New(fault.Invalid, "%q is no IANA zone", zone).WithHint("for example Europe/London")
		}
		opt.Zone = z
	}
	if o.Date != "" {
		d, err := time.Parse(time.DateOnly, o.Date)
		if err != nil {
			return opt, fault.New(fault.Invalid, "%q is no day", o.Date).WithHint("for example 2026-05-13")
		}
		opt.Date = d
	}
	if o.Mapping != "" {
		m, err := ingest.ParseMapping("mapping", []byte(o.Mapping))
		if err != nil {
			return opt, err
		}
		opt.Mapping = m
	}
	return opt, nil
}

// Reduce gives what a recording of a test yields: the kept result where the same
// recording, settings and procedure gave one before.
func (f *Folder) Reduce(ctx context.Context, s *State, test TestEntry, r RecordingEntry) (*logger.ReduceDocument, error) {
	w, err := f.work(ctx, s, test, r)
	if err != nil {
		return nil, err
	}
	if d, ok, err := f.kept(ctx, w.key); err != nil || ok {
		return d, err
	}
	got, err := f.reduceRaw(ctx, s, w)
	if err != nil {
		return nil, err
	}
	return &got.Document, nil
}

// work is a reduction to be done: of which recordings, on which course, and the key
// under which its result is kept.
type work struct {
	test TestEntry
	of   []RecordingEntry // the main one, then those of other instruments beside it
	line logger.Learnt
	key  string
}

// work finds what is to be reduced for a recording: with it those that other
// instruments wrote beside it, and for one of those the one that it lies beside.
func (f *Folder) work(ctx context.Context, s *State, test TestEntry, r RecordingEntry) (work, error) {
	if m, ok := s.MainOf(r); ok {
		r = m
	}
	w := work{test: test, of: append([]RecordingEntry{r}, s.Beside(r)...)}
	p, err := f.Shelf.Procedure(test.Test.Procedure)
	if err != nil {
		return w, err
	}
	if w.line, err = f.line(ctx, s, test); err != nil {
		return w, err
	}
	shape := ""
	if w.line.Line != nil {
		if shape, err = programme.Hash(w.line.Line); err != nil {
			return w, err
		}
	}
	var mends [][]mend.Mend
	for _, o := range w.of {
		_, m := s.mends(o)
		mends = append(mends, m)
	}
	w.key, err = programme.Hash(struct {
		Schema     int                  `json:"schema"` // of the document; raised when it changes
		Recordings []RecordingEntry     `json:"recordings"`
		Mends      [][]mend.Mend        `json:"mends"`
		Zone       string               `json:"zone"`
		Gates      []string             `json:"gates"`
		Line       string               `json:"line,omitempty"` // hash of the reference line
		Procedure  string               `json:"procedure"`
		Version    int                  `json:"version"`
		Settings   programme.Parameters `json:"settings"`
		Programme  string               `json:"programme"`
		Moved      []match.Move         `json:"moved,omitempty"` // cuts, by a person
	}{3, w.of, mends, s.Programme.Zone, test.Gates, shape, p.Spec().ID, p.Spec().Version, test.Test.Parameters, f.Shelf.Version, s.moves(r)})
	return w, err
}

// reduceRaw reduces recordings from their raw files, and keeps their numbers and their
// traces.
func (f *Folder) reduceRaw(ctx context.Context, s *State, w work) (*logger.Reduced, error) {
	var recs []*signal.Recording
	var mends []mend.Mend
	for _, r := range w.of {
		rec, err := f.raw(ctx, s, r)
		if err != nil {
			return nil, err
		}
		recs = append(recs, rec)
		_, m := s.mends(r)
		mends = append(mends, m...)
	}
	got, err := f.Shelf.Reduce(recs, logger.ReduceRequest{Procedure: w.test.Test.Procedure, Gates: w.test.Gates, Given: w.test.Test.Parameters, Moves: s.moves(w.of[0])}, w.line, mends)
	if err != nil {
		return nil, err
	}
	body, err := json.Marshal(got.Document)
	if err != nil {
		return nil, fault.New(fault.Internal, "keeping a result: %w", err)
	}
	if err := f.Store.PutResult(ctx, w.key, body); err != nil {
		return nil, err
	}
	if err := f.keepTraces(ctx, w.key, got.Overlaid); err != nil {
		return nil, err
	}
	return got, nil
}
