package app

import (
	"bytes"
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"example.org/bookend/app/groundbook"
	"example.org/bookend/app/opinions"
	"example.org/bookend/app/origin"
	"example.org/bookend/caveat"
	"example.org/bookend/compare"
	"example.org/bookend/compare/opinion"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/programme/attribute"
	"example.org/bookend/report"
	"example.org/bookend/table"
	"example.org/bookend/unit"
)

// ReportHead is what a report says beside its results.
type ReportHead struct {
	Title    string // what was compared
	Client   string
	Ground   string
	Vehicle  string
	Question string
	Blind    string     // who knew what; empty: not told
	Comma    bool       // numbers have a decimal comma
	Units    unit.Style // in which the reader wants to see speeds, lengths, temperatures and pressures
}

// ReportMeasure is how one measure of a report is taken where it is not taken
// as the others are.
type ReportMeasure struct {
	Title  string           // as it is to be read; empty: as the table has it
	Better programme.Better // empty: as the request says
	Scale  programme.Scale  // empty: as the request says
	Margin *compare.Margin  // nil: as the request says
}

// ReportRequest asks for the report of a table: its comparison, of one or of
// several measures.
type ReportRequest struct {
	Head     ReportHead
	Compare  CompareRequest // its measure is not looked at
	Measures []string       // those reported, the first measure first; empty: all, as they occur
	Each     map[string]ReportMeasure
	Ratings  *opinions.Request // rating sheets beside the table; nil: none
}

// ReportTable compares every measure of a table, a measure with places at each
// of them, and makes the report. A measure that cannot be compared is reported
// with the reason; if none can, that is the fault.
func ReportTable(q ReportRequest) (*report.Document, error) {
	c := q.Compare
	t, err := table.Read(bytes.NewReader(c.Data), table.Options{Name: c.Name, Columns: c.Columns, EachRowAStint: c.Rows})
	if err != nil {
		return nil, err
	}
	log := t.Log
	if c.Block != "" {
		if log, err = t.InBlocks(c.Block); err != nil {
			return nil, err
		}
		c.Settings.Block = c.Block
	}
	if c.Plan != nil {
		if err := c.fromPlan(); err != nil {
			return nil, err
		}
	}
	ids := q.Measures
	if len(ids) == 0 {
		ids = t.Measures
		if c.Plan != nil {
			ids = firstOf(ids, c.Measure)
		}
	}
	for i, id := range ids {
		if !slices.Contains(t.Measures, id) {
			return nil, fault.New(fault.NotFound, "there is no measure %q", id).At("%s", c.Name).WithHint("the measures are: %s", join(t.Measures))
		}
		if slices.Contains(ids[:i], id) {
			return nil, fault.New(fault.Invalid, "the measure %q is named twice", id).WithHint("name each once, the first measure first")
		}
	}
	for id := range q.Each {
		if !slices.Contains(ids, id) {
			return nil, fault.New(fault.NotFound, "there is no measure %q to be taken otherwise", id).At("%s", c.Name).WithHint("the measures are: %s", join(ids))
		}
	}
	var list []compare.Input
	for _, id := range ids {
		each := q.Each[id]
		better, scale := c.Better, c.Scale
		if each.Better != "" {
			better = each.Better
		}
		if each.Scale != "" {
			scale = each.Scale
		}
		if scale == "" {
			scale = programme.Ratio
		}
		m := Typed(id, t, better, scale)
		if each.Title != "" {
			m.Title = each.Title
		}
		set := c.Settings
		set.Scale = m.Scale
		if each.Margin != nil {
			set.Margin = each.Margin
		}
		for _, place := range placesOf(log, id) {
			list = append(list, compare.Input{Log: log, Measure: m, Place: place, Control: c.Control, Settings: set})
		}
	}
	test := report.Test{Log: log}
	inputs := []report.Hash{{Name: c.Name, SHA256: origin.HashOf(c.Data)}}
	if c.History != nil {
		inputs = append(inputs, report.Hash{Name: c.History.Name, SHA256: origin.HashOf(c.History.Data)})
	}
	by := func(in compare.Input) (*compare.Both, *Planned, map[string]string, error) {
		if c.History != nil {
			var err error
			if in.Record, _, err = c.History.Record(in.Measure.ID, in.Measure.Unit); err != nil {
				return nil, nil, nil, err
			}
		}
		if c.Plan == nil {
			both, err := compare.CompareBoth(in)
			return both, nil, nil, err
		}
		one := c
		one.Override = c.Override.margin(q.Each[in.Measure.ID].Margin)
		both, p, err := one.inTable(in)
		return both, p, nil, err
	}
	if err := compared(&test, list, by); err != nil {
		return nil, err
	}
	in := q.Head.input()
	in.Tests, in.Inputs = []report.Test{test}, inputs
	if q.Ratings != nil {
		one := *q.Ratings
		one.Control = c.Control
		a, err := opinions.Compare(one)
		if err != nil {
			return nil, err
		}
		in.Ratings = []report.Sheets{{Log: a.Log, Result: a.Result}}
		in.Inputs = append(in.Inputs, report.Hash{Name: one.Name, SHA256: origin.HashOf(one.Data)})
	}
	return report.Build(in)
}

func (h ReportHead) input() report.Input {
	style := h.Units
	style.Comma = h.Comma
	return report.Input{
		Title: h.Title, Client: h.Client, Ground: h.Ground, Vehicle: h.Vehicle, Question: h.Question,
		Blind: strings.TrimSuffix(h.Blind, "."), Style: style,
	}
}

// compared compares a list of measures into a test, and says how the test stands
// to its plan; it fails if not one can be compared. By compares one and names the
// programmes of its record.
func compared(t *report.Test, list []compare.Input, by func(compare.Input) (*compare.Both, *Planned, map[string]string, error)) error {
	var failed error
	done := 0
	for _, in := range list {
		both, plan, names, err := by(in)
		if err == nil {
			done++
			m := report.Measured{Both: both}
			if both.Result.Record != nil {
				if m.Watch, err = groundbook.Watched(both.Result, names); err != nil {
					return err
				}
			}
			if plan != nil {
				m.Planned, m.PlanFailed = plan.Both, plan.Failed
				t.Plan = planOf(t.Plan, plan)
			}
			t.Measures = append(t.Measures, m)
			continue
		}
		if failed == nil {
			failed = err
		}
		title := in.Measure.Title
		if in.Place != "" {
			title += ", " + in.Place
		}
		t.Measures = append(t.Measures, report.Measured{Failed: err.Error(), Title: title})
	}
	if done == 0 {
		return failed
	}
	return nil
}

// planOf gives the plan as the report has it, with the changes of one more
// measure.
func planOf(was *report.Plan, p *Planned) *report.Plan {
	if was == nil {
		was = &report.Plan{SHA256: p.SHA256, Frozen: p.Frozen, Person: p.Person, Late: p.Late, Look: p.Look, Lines: p.Test.Lines()}
	}
	for _, c := range p.Changes {
		x := report.Change{What: c.What, Planned: c.Planned, Used: c.Used, Reason: c.Reason, Person: c.Person, At: c.At, After: c.After}
		if !slices.Contains(was.Changes, x) {
			was.Changes = append(was.Changes, x)
		}
	}
	return was
}

// margin puts a margin of one measure over what is asked for.
func (o Override) margin(m *compare.Margin) Override {
	if m == nil {
		return o
	}
	return func(s compare.Settings) (compare.Settings, error) {
		s, err := o.over(s)
		s.Margin = m
		return s, err
	}
}

// firstOf puts the first measure before the others.
func firstOf(ids []string, first string) []string {
	i := slices.Index(ids, first)
	if i <= 0 {
		return ids
	}
	return append([]string{first}, slices.Delete(slices.Clone(ids), i, i+1)...)
}

// placesOf gives the places at which a measure has values, as they occur; one
// empty place for a measure without any.
func placesOf(l programme.Log, measure string) []string {
	var out []string
	for _, o := range l.Observations {
		if o.Measure == measure && !slices.Contains(out, o.Place) {
			out = append(out, o.Place)
		}
	}
	if len(out) == 0 {
		return []string{""}
	}
	return out
}

// TestsRequest asks for the report of tests of a programme.
type TestsRequest struct {
	Head     ReportHead
	Tests    []string // empty: all that have results
	Measures []string // of each test those it has, the first one named first; empty: all with a direction
	Control  string   // empty: as the plan has it
	Settings compare.Settings
	Each     map[string]ReportMeasure
	Override Override         // what is asked for otherwise than planned, where a plan is frozen
	Reason   string           // why
	Ratings  opinions.Request // how the sheets of the run log are compared; control and data are not looked at
}

// ReportTests compares the measures of tests of the programme and makes the
// report. What the head leaves empty is taken from the programme.
func (f *Folder) ReportTests(ctx context.Context, q TestsRequest) (*report.Document, error) {
	in, err := f.compareTests(ctx, q)
	if err != nil {
		return nil, err
	}
	return report.Build(in)
}

// compareTests compares the measures of tests of the programme.
func (f *Folder) compareTests(ctx context.Context, q TestsRequest) (in report.Input, err error) {
	s, err := Rebuild(ctx, f.Store)
	if err != nil {
		return in, err
	}
	h := q.Head
	h.Title, h.Client = cmp.Or(h.Title, s.Programme.Title), cmp.Or(h.Client, s.Programme.Client)
	h.Ground, h.Vehicle = cmp.Or(h.Ground, s.Programme.Ground), cmp.Or(h.Vehicle, s.Programme.Vehicle)
	h.Question = cmp.Or(h.Question, s.Programme.Question)
	in = h.input()
	in.Sets = s.Programme.Sets
	if in.Blind == "" {
		in.Blind = strings.TrimSuffix(s.Blindness().Text, ".")
	}
	tests := q.Tests
	if len(tests) == 0 {
		for _, t := range s.Tests {
			tests = append(tests, t.Test.ID)
		}
	}
	if len(tests) == 0 {
		_, err := s.Test("")
		return in, err
	}
	found := map[string]bool{}
	var failed error
	compared := 0
	for _, id := range tests {
		d, err := f.Driven(ctx, s, id)
		if err != nil {
			return in, err
		}
		test := report.Test{Surface: d.Test.Test.Surface, Log: d.Log}
		if len(tests) > 1 {
			test.Title = d.Test.Test.Title
		}
		if err := f.measure(ctx, s, q, d, found, &test); err != nil {
			err = fault.At(err, "test %s", id)
			// One test that cannot be compared yet does not hold back those that can,
			// unless it was asked for by name.
			if len(q.Tests) > 0 || fault.CodeOf(err) == fault.Internal {
				return in, err
			}
			if failed == nil {
				failed = err
			}
			if len(test.Measures) == 0 {
				continue
			}
		} else {
			compared++
		}
		if control := controlAmong(test.Measures); control != "" {
			if test.Laid, err = f.laid(ctx, s, d, control); err != nil {
				return in, err
			}
		}
		in.Tests = append(in.Tests, test)
		if log := s.Day.Sheets(id); len(log.Observations) > 0 && s.Day.SheetsClosed(id) {
			if f.Codes != nil {
				log = f.Codes.Join(log)
			}
			control := cmp.Or(controlAmong(test.Measures), q.Control)
			weights, _, err := s.weights(id, q.Ratings.Weights)
			if err != nil {
				return in, err
			}
			r, err := opinion.Compare(opinion.Input{Log: log, Control: control, Also: q.Ratings.Also, Sheet: q.Ratings.Sheet,
				Targets: f.targets(d.Test.Test.Procedure, log, q.Ratings.Targets), Weights: rated(log, weights), Settings: q.Ratings.Settings})
			if err != nil {
				return in, fault.At(err, "ratings of test %s", id)
			}
			in.Ratings = append(in.Ratings, report.Sheets{Title: test.Title, Log: log, Result: r})
		}
		for _, i := range d.Inputs {
			in.Inputs = append(in.Inputs, report.Hash{Name: i.Name, SHA256: i.SHA256})
		}
	}
	if compared == 0 {
		return in, failed
	}
	for _, m := range q.Measures {
		if !found[m] {
			return in, fault.New(fault.NotFound, "no test has the measure %q", m).WithHint("bookend compare --test NAME --measure X lists what a test has")
		}
	}
	// That verdicts were opened is an entry itself, made once.
	if s, err = Rebuild(ctx, f.Store); err != nil {
		return in, err
	}
	if s.Last.Known() {
		in.Entered = s.Last.Time().Format("2006-01-02 15:04 MST")
		if zone, err := time.LoadLocation(s.Programme.Zone); err == nil && s.Programme.Zone != "" {
			in.Entered = s.Last.Time().In(zone).Format("2006-01-02 15:04 MST")
		}
	}
	in.Inputs = append(in.Inputs, report.Hash{Name: "chain of entries", SHA256: s.Head})
	return in, nil
}

// controlAmong gives the control that measures were compared with, empty where none was.
func controlAmong(list []report.Measured) string {
	for _, m := range list {
		if m.Both != nil {
			return m.Both.Result.Control
		}
	}
	return ""
}

// isRated tells a measure that people rated: its values name who.
func isRated(log programme.Log, measure string) bool {
	return slices.ContainsFunc(log.Observations, func(o programme.Observation) bool { return o.Measure == measure && o.Rater != "" })
}

// targets gives where attributes of a log are best: as asked for, else as the test's
// procedure declares it. Of a test that is driven for something else, nobody has said.
func (f *Folder) targets(procedure string, log programme.Log, asked map[string]float64) map[string]float64 {
	out := rated(log, asked)
	p, err := f.Shelf.Procedure(procedure)
	if err != nil || len(p.Spec().Needs) > 0 {
		return out
	}
	for _, m := range p.Spec().Measures {
		if m.Better != programme.Nearest || m.Target == nil {
			continue
		}
		for _, o := range log.Observations {
			if _, ok := out[o.Measure]; !ok && attribute.Key(o.Measure) == attribute.Key(m.Title) {
				if out == nil {
					out = map[string]float64{}
				}
				out[o.Measure] = *m.Target
			}
		}
	}
	return out
}

// rated keeps what is said of attributes that a test's sheets have; nil stays nil.
func rated(log programme.Log, of map[string]float64) map[string]float64 {
	var out map[string]float64
	for _, o := range log.Observations {
		if v, ok := of[o.Measure]; ok {
			if out == nil {
				out = map[string]float64{}
			}
			out[o.Measure] = v
		}
	}
	return out
}

// measure compares the measures of one test that are asked for.
func (f *Folder) measure(ctx context.Context, s *State, q TestsRequest, d *Driven, found map[string]bool, test *report.Test) error {
	id := d.Test.Test.ID
	entries, err := f.Store.Entries(ctx, 0)
	if err != nil {
		return err
	}
	h, err := historyOf(entries, id)
	if err != nil {
		return err
	}
	force, planned := h.inForce()
	first := ""
	if planned {
		t, _ := force.body.Plan.Test(id)
		first = t.First
		q.Control = cmp.Or(q.Control, force.body.Plan.Control)
	}
	if q.Control == "" {
		return NoControl()
	}
	var list []compare.Input
	take := func(m programme.Measure) {
		found[m.ID] = true
		set := q.Settings
		set.Scale = m.Scale
		if each := q.Each[m.ID]; each.Margin != nil {
			set.Margin = each.Margin
		} else if points := q.Ratings.Settings.Margin; points != nil && isRated(d.Log, m.ID) {
			set.Margin = points
		} else if set.Margin != nil && !set.Margin.InUnit && m.Scale != programme.Ratio {
			set.Margin = nil // index points mean nothing to a measure without an index
		}
		m.Title = cmp.Or(q.Each[m.ID].Title, m.Title)
		for _, place := range placesOf(d.Log, m.ID) {
			list = append(list, compare.Input{Log: d.Log, Measure: m, Place: place, Control: q.Control, Settings: set})
		}
	}
	for _, id := range q.Measures {
		if m, err := d.Measure(id); err == nil {
			take(m)
		}
	}
	var ids []string
	for _, m := range d.Measures {
		if len(q.Measures) == 0 && m.Better != programme.Undirected {
			ids = append(ids, m.ID)
		}
	}
	for _, m := range firstOf(ids, first) {
		if m, err := d.Measure(m); err == nil {
			take(m)
		}
	}
	if len(list) == 0 {
		return fault.New(fault.NotFound, "there is nothing to report").WithHint("import its run log and its recordings, or a table of values")
	}
	f.foresee(id, list)
	sum := ""
	err = compared(test, list, func(in compare.Input) (*compare.Both, *Planned, map[string]string, error) {
		var asked Override
		if planned {
			asked = q.Override.margin(q.Each[in.Measure.ID].Margin)
		}
		var notes caveat.List
		if in.Record, notes, err = f.recordOf(ctx, s, d, in.Measure, in.Place); err != nil {
			return nil, nil, nil, err
		}
		both, p, err := f.compareOf(ctx, h, in, id, asked, q.Reason)
		if err == nil {
			noted(both, notes)
		}
		if p != nil {
			sum = p.SHA256
		}
		return both, p, s.recordNames(), err
	})
	if err != nil {
		return err
	}
	var seen []*compare.Both
	for _, m := range test.Measures {
		seen = append(seen, m.Both)
	}
	return f.open(ctx, h, id, sum, driven(d.Log), seen)
}
