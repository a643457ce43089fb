package app

import (
	"context"
	"encoding/json"
	"slices"

	"example.org/bookend/clock"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

// Kinds of entry, each at version 1. A kind's meaning never changes; a new
// meaning is a new version, and every older one is accepted for ever.
const (
	KindProgramme  = "programme"  // body: programme.Programme
	KindTest       = "test"       // body: TestEntry
	KindRecording  = "recording"  // body: RecordingEntry
	KindTable      = "table"      // body: TableEntry
	KindExclusion  = "exclusion"  // body: ExclusionEntry
	KindWithdrawal = "withdrawal" // body: {}; takes back the entry it supersedes
)

// TestEntry is a test of the programme with the gates of its course as typed.
type TestEntry struct {
	Test  programme.Test `json:"test"`
	Gates []string       `json:"gates,omitempty"` // LAT,LON,LAT,LON in degrees, right post first
}

// FileOptions is what a person said about a recording that it does not say
// itself; kept, so that it is read the same way again.
type FileOptions struct {
	Zone    string `json:"zone,omitempty"`    // IANA name
	Date    string `json:"date,omitempty"`    // 2026-05-13
	Reader  string `json:"reader,omitempty"`  // id of the reader
	Mapping string `json:"mapping,omitempty"` // text of the mapping table
}

// RecordingEntry says that a raw file was recorded in a test.
type RecordingEntry struct {
	Test   string `json:"test"`
	Name   string `json:"name"`
	SHA256 string `json:"sha256"`
	Size   int64  `json:"size"`
	FileOptions
}

// TableEntry is a run log or a table of typed values: the file's hash, and what
// was read from it.
type TableEntry struct {
	Test       string              `json:"test"`
	Name       string              `json:"name"`
	SHA256     string              `json:"sha256"`
	Log        programme.Log       `json:"log"`
	Measures   []programme.Measure `json:"measures,omitempty"`   // of typed values
	Recordings map[string][]string `json:"recordings,omitempty"` // by the recording's name: its runs, in the order driven
}

// ExclusionEntry leaves a run of a test out.
type ExclusionEntry struct {
	Test      string              `json:"test"`
	Exclusion programme.Exclusion `json:"exclusion"`
}

// State is what the entries of a programme amount to: a view, rebuilt from them
// and never changed alone.
type State struct {
	Programme  programme.Programme
	Plans      []PlanEntry // as frozen and amended, in order
	Tests      []TestEntry
	Recordings []RecordingEntry
	Tables     []TableEntry
	Exclusions []KeptExclusion
	Mends      []KeptMend
	Entries    int           // how many entries it was rebuilt from
	Last       clock.Instant // when the newest entry was kept; documents carry this time
	Head       string        // hash of the newest entry: what the chain stands at
	Gaps       []string      // devices whose counter has gaps, in words
}

// KeptExclusion is an exclusion with the entry that made it.
type KeptExclusion struct {
	Entry string
	ExclusionEntry
}

// Test gives the test of that id, or a not-found fault that lists the tests.
func (s *State) Test(id string) (TestEntry, error) {
	var ids []string
	for _, t := range s.Tests {
		if t.Test.ID == id {
			return t, nil
		}
		ids = append(ids, t.Test.ID)
	}
	if len(ids) == 0 {
		return TestEntry{}, fault.New(fault.NotFound, "the programme has no test yet").
			WithHint("import a table or a recording with --test NAME")
	}
	return TestEntry{}, fault.New(fault.NotFound, "no test %q", id).WithHint("the programme has: %s", join(ids))
}

func join(words []string) string {
	out := ""
	for i, w := range words {
		if i > 0 {
			out += ", "
		}
		out += w
	}
	return out
}

// Rebuild reads all entries of a store into a State.
func Rebuild(ctx context.Context, store Store) (*State, error) {
	entries, err := store.Entries(ctx, 0)
	if err != nil {
		return nil, err
	}
	return fold(entries)
}

func fold(entries []programme.Entry) (*State, error) {
	s := &State{Entries: len(entries)}
	superseded := map[string]bool{}
	for _, e := range entries {
		if e.Supersedes != "" {
			superseded[e.Supersedes] = true
		}
	}
	counters := map[string]int64{}
	var devices []string
	for _, e := range entries {
		if c, ok := counters[e.Device]; !ok {
			devices = append(devices, e.Device)
		} else if e.Counter <= c {
			continue // sent late; order within a device is by counter, and gaps are counted below
		}
		counters[e.Device] = e.Counter
	}
	seen := map[string]int64{}
	for _, e := range entries {
		seen[e.Device]++
		s.Last = e.ServerTime
		if superseded[e.ID] {
			continue
		}
		if err := s.apply(e); err != nil {
			return nil, fault.At(err, "entry %d (%s)", e.Sequence, e.Kind)
		}
	}
	slices.Sort(devices)
	for _, d := range devices {
		if missing := counters[d] - seen[d]; missing > 0 {
			s.Gaps = append(s.Gaps, d)
		}
	}
	if n := len(entries); n > 0 {
		head, err := entries[n-1].Hash()
		if err != nil {
			return nil, err
		}
		s.Head = head
	}
	return s, nil
}

func (s *State) apply(e programme.Entry) error {
	if e.Version != 1 {
		return fault.New(fault.Unsupported, "version %d of this kind is not known to this bookend", e.Version).
			WithHint("use the newer bookend that wrote it")
	}
	read := func(into any) error {
		if err := json.Unmarshal(e.Body, into); err != nil {
			return fault.New(fault.Internal, "reading the entry: %w", err)
		}
		return nil
	}
	switch e.Kind {
	case KindPlan:
		var p PlanEntry
		if err := read(&p); err != nil {
			return err
		}
		s.Plans = append(s.Plans, p)
		return nil
	case KindOpened, KindChange: // told by the plan's history
		return nil
	case KindProgramme:
		return read(&s.Programme)
	case KindTest:
		var t TestEntry
		if err := read(&t); err != nil {
			return err
		}
		if i := slices.IndexFunc(s.Tests, func(o TestEntry) bool { return o.Test.ID == t.Test.ID }); i >= 0 {
			s.Tests[i] = t
		} else {
			s.Tests = append(s.Tests, t)
		}
		return nil
	case KindRecording:
		var r RecordingEntry
		if err := read(&r); err != nil {
			return err
		}
		s.Recordings = append(s.Recordings, r)
		return nil
	case KindTable:
		var t TableEntry
		if err := read(&t); err != nil {
			return err
		}
		s.Tables = append(s.Tables, t)
		return nil
	case KindExclusion:
		var x ExclusionEntry
		if err := read(&x); err != nil {
			return err
		}
		s.Exclusions = append(s.Exclusions, KeptExclusion{Entry: e.ID, ExclusionEntry: x})
		return nil
	case KindMend:
		var m MendEntry
		if err := read(&m); err != nil {
			return err
		}
		s.keepMends(e.ID, m)
		return nil
	case KindWithdrawal:
		return nil
	}
	return fault.New(fault.Unsupported, "kind %q is not known to this bookend", e.Kind).
		WithHint("use the newer bookend that wrote it")
}
