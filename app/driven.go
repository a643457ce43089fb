package app

import (
	"context"
	"maps"
	"slices"
	"strings"

	"example.org/bookend/app/logger"
	"example.org/bookend/app/origin"
	"example.org/bookend/caveat"
	"example.org/bookend/clock"
	"example.org/bookend/compare"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

// Driven is all that a test has: its log with the observations of typed tables
// and of recordings, and what they rest on.
type Driven struct {
	Test     TestEntry
	Log      programme.Log
	Measures []programme.Measure // those that have observations
	Inputs   []origin.Hashed
	Recorded []Recorded // its recordings, in the order that they came
}

// Recorded is one recording of a test and what its pieces are.
type Recorded struct {
	Recording RecordingEntry
	Pieces    []RecordedPiece // those that may be runs, in the order driven
}

// RecordedPiece is a piece of a recording and the run of the log that it is. Its own
// Run counts the pieces of its recording.
type RecordedPiece struct {
	logger.ReducedPiece
	LogRun string // empty for one that is nobody's run
	Doubt  string // why the run is not used; empty for one that is
}

// Measure gives the measure of that id, the first one where id is empty.
func (d *Driven) Measure(id string) (programme.Measure, error) {
	var ids []string
	for _, m := range d.Measures {
		if m.ID == id || id == "" {
			return m, nil
		}
		ids = append(ids, m.ID)
	}
	if len(ids) == 0 {
		return programme.Measure{}, fault.New(fault.NotFound, "test %s has no results yet", d.Test.Test.ID).
			WithHint("import its run log and its recordings, or a table of values")
	}
	return programme.Measure{}, fault.New(fault.NotFound, "test %s has no measure %q", d.Test.Test.ID, id).
		WithHint("it has: %s", strings.Join(ids, ", "))
}

// Drive puts together what a test has. Recordings are matched to the runs of the log
// by order and clock, or where there is no clock by order alone. A run that its recording flags (it holds
// a standstill, its length is off) is excluded with that reason.
func (f *Folder) Drive(ctx context.Context, s *State, id string) (*Driven, error) {
	test, err := s.Test(id)
	if err != nil {
		return nil, err
	}
	d := &Driven{Test: test}
	names := map[string][]string{}
	logged := s.Day.Sequence(id)
	d.Log, d.Measures = logged.Log, logged.Measures
	maps.Copy(names, logged.Recordings)
	for _, t := range s.Tables {
		if t.Test != id {
			continue
		}
		if len(logged.Log.Stints) > 0 {
			if t.Log, err = ontoLog(logged.Log, t); err != nil {
				return nil, err
			}
		}
		d.Inputs = append(d.Inputs, origin.Hashed{Name: t.Name, SHA256: t.SHA256})
		d.Log.Stints = append(d.Log.Stints, t.Log.Stints...)
		d.Log.Runs = append(d.Log.Runs, t.Log.Runs...)
		d.Log.Observations = append(d.Log.Observations, t.Log.Observations...)
		d.Log.Exclusions = append(d.Log.Exclusions, t.Log.Exclusions...)
		d.Log.Caveats = append(d.Log.Caveats, t.Log.Caveats...)
		for _, m := range t.Measures {
			if !slices.ContainsFunc(d.Measures, func(o programme.Measure) bool { return o.ID == m.ID }) {
				d.Measures = append(d.Measures, m)
			}
		}
		for name, runs := range t.Recordings {
			names[name] = append(names[name], runs...)
		}
	}
	if err := f.recordings(ctx, s, d, names); err != nil {
		return nil, err
	}
	if err := f.sheets(s, d); err != nil {
		return nil, err
	}
	for _, x := range s.Exclusions {
		if x.Test == id {
			d.Log.Exclusions = append(d.Log.Exclusions, x.Exclusion)
		}
	}
	d.Log.Observations = slices.DeleteFunc(d.Log.Observations, func(o programme.Observation) bool { return slices.Contains(logged.Held, o.Run) })
	if f.Codes != nil {
		d.Log = f.Codes.Join(d.Log)
	}
	return d, nil
}

// ontoLog gives what a table adds to a test whose stints are in the run log: its
// values, and runs that were not logged. Its stints must be logged, under the same
// codes.
func ontoLog(log programme.Log, t TableEntry) (programme.Log, error) {
	for _, st := range t.Log.Stints {
		i := slices.IndexFunc(log.Stints, func(o programme.Stint) bool { return o.ID == st.ID })
		if i < 0 {
			return t.Log, fault.New(fault.Conflict, "stint %s is in no entry of the run log", st.ID).At("%s", t.Name).
				WithHint("log it (bookend log stint), or keep the whole test in tables")
		}
		if log.Stints[i].Code != st.Code {
			return t.Log, fault.New(fault.Conflict, "stint %s has code %s here and %s in the run log", st.ID, st.Code, log.Stints[i].Code).At("%s", t.Name).
				WithHint("correct the entry (bookend log correct), or the table")
		}
	}
	add := t.Log
	add.Stints, add.Runs = nil, nil
	for _, r := range t.Log.Runs {
		if !slices.ContainsFunc(log.Runs, func(o programme.Run) bool { return o.ID == r.ID }) {
			add.Runs = append(add.Runs, r)
		}
	}
	return add, nil
}

// TestRequest asks for the comparison of one measure of a test.
type TestRequest struct {
	Test     string
	Measure  string // empty: the first
	Place    string
	Control  string // empty: as the plan has it
	Settings compare.Settings
	Override Override // what is asked for otherwise than planned, where a plan is frozen
	Reason   string   // why
}

// Compare compares the candidates of a test with its control, and enters that it was
// looked at.
func (f *Folder) Compare(ctx context.Context, q TestRequest) (*CompareAnswer, error) {
	c, h, err := f.compared(ctx, q)
	if err != nil {
		return nil, err
	}
	if err := f.open(ctx, h, q.Test, c.planned(), driven(c.Log), []*compare.Both{c.Both}); err != nil {
		return nil, err
	}
	return c, nil
}

// planned gives the hash of the plan that was followed; empty without one.
func (c *CompareAnswer) planned() string {
	if c.Plan == nil {
		return ""
	}
	return c.Plan.SHA256
}

// compared compares, and leaves it to the caller to enter the look before anything of
// it is shown.
func (f *Folder) compared(ctx context.Context, q TestRequest) (*CompareAnswer, *history, error) {
	s, err := Rebuild(ctx, f.Store)
	if err != nil {
		return nil, nil, err
	}
	d, err := f.Drive(ctx, s, q.Test)
	if err != nil {
		return nil, nil, err
	}
	entries, err := f.Store.Entries(ctx, 0)
	if err != nil {
		return nil, nil, err
	}
	h, err := historyOf(entries, q.Test)
	if err != nil {
		return nil, nil, err
	}
	asked := Override(nil)
	if force, ok := h.inForce(); ok {
		asked = q.Override
		t, _ := force.body.Plan.Test(q.Test)
		if q.Measure == "" {
			q.Measure = t.First
		}
		if q.Control == "" {
			q.Control = force.body.Plan.Control
		}
	}
	if q.Control == "" {
		return nil, nil, NoControl()
	}
	m, err := d.Measure(q.Measure)
	if err != nil {
		return nil, nil, err
	}
	if m.Places && q.Place == "" {
		var places []string
		for _, o := range d.Log.Observations {
			if o.Measure == m.ID && !slices.Contains(places, o.Place) {
				places = append(places, o.Place)
			}
		}
		return nil, nil, fault.New(fault.Invalid, "measure %s has a value at each place", m.ID).WithHint("choose one with --place: %s", strings.Join(places, ", "))
	}
	q.Settings.Scale = m.Scale
	in := compare.Input{Log: d.Log, Measure: m, Place: q.Place, Control: q.Control, Settings: q.Settings}
	var notes caveat.List
	if in.Record, notes, err = f.recordOf(ctx, s, d, m, q.Place); err != nil {
		return nil, nil, err
	}
	both, plan, err := f.compareOf(ctx, h, in, q.Test, asked, q.Reason)
	if err != nil {
		return nil, nil, err
	}
	noted(both, notes)
	return &CompareAnswer{Inputs: d.Inputs, Log: d.Log, Both: both, Plan: plan}, h, nil
}

// noted adds what is to be known of a comparison as a whole.
func noted(b *compare.Both, notes caveat.List) {
	for _, r := range []*compare.Result{b.Result, b.All} {
		if r != nil {
			r.Caveats = append(r.Caveats[:len(r.Caveats):len(r.Caveats)], notes...)
		}
	}
}

// NoControl is the fault where nobody said which code is the control's.
func NoControl() error {
	return fault.New(fault.Invalid, "no control is named").WithHint("name its code: --control K")
}

// Exclude leaves a run of a test out, with the reason, before anybody sees what
// that does to the verdicts.
func (f *Folder) Exclude(ctx context.Context, test, run, reason string) error {
	s, err := Rebuild(ctx, f.Store)
	if err != nil {
		return err
	}
	if _, err := s.Test(test); err != nil {
		return err
	}
	if strings.TrimSpace(reason) == "" {
		return fault.New(fault.Invalid, "no reason is given").WithHint("--reason: traffic, missed gear, puddle")
	}
	var ids []string
	for _, t := range s.Tables {
		if t.Test == test {
			for _, r := range t.Log.Runs {
				ids = append(ids, r.ID)
			}
		}
	}
	for _, r := range s.Day.Sequence(test).Log.Runs {
		ids = append(ids, r.ID)
	}
	if !slices.Contains(ids, run) {
		if len(ids) > 12 {
			ids = append(ids[:12], "…")
		}
		return fault.New(fault.NotFound, "test %s has no run %q", test, run).WithHint("its runs are: %s", strings.Join(ids, ", "))
	}
	for _, x := range s.Exclusions {
		if x.Test == test && x.Exclusion.Run == run {
			return fault.New(fault.Conflict, "run %s is left out already: %s", run, x.Exclusion.Reason).
				WithHint("take it back first, with --back")
		}
	}
	return f.Put(ctx, KindExclusion, "", ExclusionEntry{Test: test, Exclusion: programme.Exclusion{
		Run: run, Reason: reason, Person: f.Author, At: clock.Instant{UnixNS: f.Now().UnixNano(), Clock: clock.Device},
	}})
}

// Readmit takes an exclusion back.
func (f *Folder) Readmit(ctx context.Context, test, run string) error {
	s, err := Rebuild(ctx, f.Store)
	if err != nil {
		return err
	}
	for _, x := range s.Exclusions {
		if x.Test == test && x.Exclusion.Run == run {
			return f.Put(ctx, KindWithdrawal, x.Entry, struct{}{})
		}
	}
	return fault.New(fault.NotFound, "run %s of test %s is not left out by anybody here", run, test).
		WithHint("what a table or a recording leaves out is corrected there")
}
