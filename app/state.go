package app

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"example.org/bookend/app/day"
	"example.org/bookend/clock"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/programme/runlog"
)

// Kinds of entry, each at version 1 and the programme's at 2, too. A kind's meaning never changes; a new
// meaning is a new version, and every older one is accepted for ever.
const (
	KindProgramme = "programme" // body: programme.Programme; version 1 without what the vehicle asks of its tyres
	KindTest      = "test"      // body: TestEntry
	KindRecording = "recording" // body: RecordingEntry
	KindTable     = "table"     // body: TableEntry
	KindExclusion = "exclusion" // body: ExclusionEntry
	KindLimits    = "limits"    // body: LimitsEntry
	KindErased    = "erased"    // body: ErasedEntry

	KindWithdrawal = programme.Withdrawal // body: {}; takes back the entry it supersedes
)

// TestEntry is a test of the programme with the gates of its course as typed.
type TestEntry struct {
	Test  programme.Test `json:"test"`
	Gates []string       `json:"gates,omitempty"` // LAT,LON,LAT,LON in degrees, right post first

	assumed bool // the run log names it, nobody entered it
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
	Holds  *Holds `json:"holds,omitempty"` // nil of one that came before this was kept
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
	Plans      []PlanEntry   // as frozen and amended, in order
	Copied     []RecordEntry // what was copied from the ground's record, in order
	Tests      []TestEntry
	Recordings []RecordingEntry
	Tables     []TableEntry
	Exclusions []KeptExclusion
	Mends      []KeptMend
	Assigned   []KeptAssigned
	Moved      []KeptMoved
	Orders     []TakenOrder // taken into the programme, in order
	LimitsSet  []LimitsEntry
	Sealed     *SealedEntry  // nil: codes are not sealed
	SealedBy   string        // who sealed them
	SealedAt   clock.Instant // when, by the server
	Openings   []Opening     // of the codes
	Day        *day.View     // the run log
	Entries    int           // how many entries it was rebuilt from
	Last       clock.Instant // when the newest entry was kept; documents carry this time
	Head       string        // hash of the newest entry: what the chain stands at
	Drives     string        // id of the newest entry that bears on what was driven; that verdicts were looked at does not

	everywhere string            // id of the newest of those that bear on every test
	only       map[string]string // and of those that bear on one, by test
	leftOut    map[string]string // test of each exclusion, by its entry
	Gaps       []Gap             // entries that a device made and that never came
}

// Gap is numbers of a device's counter of which no entry has come.
type Gap struct {
	Device  string  `json:"device"`
	Missing []int64 `json:"missing"` // the first hundred
	Count   int64   `json:"count"`
}

// String says what has not come.
func (g Gap) String() string {
	var numbers []string
	for i := 0; i < len(g.Missing) && len(numbers) < 8; i++ {
		k := i
		for k+1 < len(g.Missing) && g.Missing[k+1] == g.Missing[k]+1 {
			k++
		}
		if k > i {
			numbers = append(numbers, fmt.Sprintf("%d to %d", g.Missing[i], g.Missing[k]))
		} else {
			numbers = append(numbers, fmt.Sprint(g.Missing[i]))
		}
		i = k
	}
	if g.Count == 1 {
		return fmt.Sprintf("%s: an entry has not come: %s", g.Device, numbers[0])
	}
	return fmt.Sprintf("%s: %d entries have not come: %s", g.Device, g.Count, strings.Join(numbers, ", "))
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

// Rebuild reads all entries of a store into a State; where the store is remembered,
// those alone that came since.
func Rebuild(ctx context.Context, store Store) (*State, error) {
	if f, ok := store.(*Remembered); ok {
		return f.state(ctx)
	}
	entries, err := store.Entries(ctx, 0)
	if err != nil {
		return nil, err
	}
	return fold(entries)
}

func fold(entries []programme.Entry) (*State, error) {
	s := &State{Entries: len(entries)}
	for _, e := range entries {
		s.Last = e.ServerTime
		switch e.Kind {
		case KindOpened, KindRecord, KindChange, KindSignoff, KindPlan, KindOrder:
		default:
			s.Drives = e.ID
			s.drives(e)
		}
	}
	live, _, _ := day.Standing(entries)
	for _, e := range live {
		if err := s.apply(e); err != nil {
			return nil, fault.At(err, "entry %d (%s)", e.Sequence, e.Kind)
		}
	}
	var err error
	if s.Day, err = day.Build(entries); err != nil {
		return nil, err
	}
	for _, id := range s.Day.Tests() {
		if !slices.ContainsFunc(s.Tests, func(t TestEntry) bool { return t.Test.ID == id }) {
			s.Tests = append(s.Tests, TestEntry{Test: programme.Test{ID: id, Title: id}, assumed: true})
		}
	}
	s.Gaps = gaps(entries)
	if n := len(entries); n > 0 {
		head, err := entries[n-1].Hash()
		if err != nil {
			return nil, err
		}
		s.Head = head
	}
	return s, nil
}

// drives notes what an entry bears on: an exclusion, and its being taken back, on
// its own test; anything else, as far as this goes, on all of them.
func (s *State) drives(e programme.Entry) {
	test := ""
	switch e.Kind {
	case KindExclusion:
		var x ExclusionEntry
		if json.Unmarshal(e.Body, &x) == nil {
			test = x.Test
		}
	case KindWithdrawal:
		test = s.leftOut[e.Supersedes]
	}
	if test == "" {
		s.everywhere = e.ID
		return
	}
	if s.only == nil {
		s.only, s.leftOut = map[string]string{}, map[string]string{}
	}
	s.only[test], s.leftOut[e.ID] = e.ID, test
}

// gaps gives what devices made and never sent, by their counters.
func gaps(entries []programme.Entry) []Gap {
	seen := map[string]map[int64]bool{}
	for _, e := range entries {
		if seen[e.Device] == nil {
			seen[e.Device] = map[int64]bool{}
		}
		seen[e.Device][e.Counter] = true
	}
	var out []Gap
	for _, d := range slices.Sorted(maps.Keys(seen)) {
		g := Gap{Device: d}
		next := int64(1)
		for _, c := range slices.Sorted(maps.Keys(seen[d])) {
			if c < 1 {
				continue
			}
			g.Count += c - next
			for ; next < c && len(g.Missing) < 100; next++ {
				g.Missing = append(g.Missing, next)
			}
			next = c + 1
		}
		if g.Count > 0 {
			out = append(out, g)
		}
	}
	return out
}

func (s *State) apply(e programme.Entry) error {
	if _, ok := runlog.KindOf(e.Kind); ok {
		return nil // read by package day
	}
	if ok, err := s.applySealed(e); ok {
		return err
	}
	if e.Version == 1 {
		if ok, err := s.applyOrder(e); ok {
			return err
		}
	}
	if e.Version != 1 && !(e.Kind == KindProgramme && e.Version == 2) {
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
	case KindRecord:
		var r RecordEntry
		if err := read(&r); err != nil {
			return err
		}
		s.Copied = append(s.Copied, r)
		return nil
	case KindOpened, KindChange, KindSignoff: // told by the history of plan and ground
		return nil
	case KindProgramme:
		var p programme.Programme // a later one takes the place of the whole
		if err := read(&p); err != nil {
			return err
		}
		s.Programme = p
		return nil
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
	case KindLimits:
		var l LimitsEntry
		if err := read(&l); err != nil {
			return err
		}
		s.LimitsSet = append(s.LimitsSet, l)
		return nil
	case KindMend:
		var m MendEntry
		if err := read(&m); err != nil {
			return err
		}
		s.keepMends(e.ID, m)
		return nil
	case KindAssigned:
		var a AssignedEntry
		if err := read(&a); err != nil {
			return err
		}
		s.keepAssigned(e.ID, a)
		return nil
	case KindMoved:
		var m MovedEntry
		if err := read(&m); err != nil {
			return err
		}
		s.keepMoved(e.ID, m)
		return nil
	case KindWithdrawal, KindErased:
		return nil
	}
	return fault.New(fault.Unsupported, "kind %q is not known to this bookend", e.Kind).
		WithHint("use the newer bookend that wrote it")
}
