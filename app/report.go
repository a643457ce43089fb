package app

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strings"
	"time"

	"example.org/bookend/compare"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
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
	Blind    string // who knew what; empty: not told
	Comma    bool   // numbers have a decimal comma
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
	ids := q.Measures
	if len(ids) == 0 {
		ids = t.Measures
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
		m := typed(id, t.Unit, better, scale)
		if each.Title != "" {
			m.Title = each.Title
		}
		set := c.Settings
		set.Scale = scale
		if each.Margin != nil {
			set.Margin = each.Margin
		}
		for _, place := range placesOf(log, id) {
			list = append(list, compare.Input{Log: log, Measure: m, Place: place, Control: c.Control, Settings: set})
		}
	}
	measured, err := compared(list)
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(c.Data)
	in := q.Head.input()
	in.Tests = []report.Test{{Log: log, Measures: measured}}
	in.Inputs = []report.Hash{{Name: c.Name, SHA256: hex.EncodeToString(sum[:])}}
	return report.Build(in)
}

func (h ReportHead) input() report.Input {
	return report.Input{
		Title: h.Title, Client: h.Client, Ground: h.Ground, Vehicle: h.Vehicle, Question: h.Question,
		Blind: strings.TrimSuffix(h.Blind, "."), Style: unit.Style{Comma: h.Comma},
	}
}

// compared compares a list of measures; it fails if not one can be compared.
func compared(list []compare.Input) ([]report.Measured, error) {
	both, errs := compare.CompareAll(list)
	var out []report.Measured
	var failed error
	done := 0
	for i, b := range both {
		if errs[i] == nil {
			done++
			out = append(out, report.Measured{Both: b})
			continue
		}
		if failed == nil {
			failed = errs[i]
		}
		title := list[i].Measure.Title
		if list[i].Place != "" {
			title += ", " + list[i].Place
		}
		out = append(out, report.Measured{Failed: errs[i].Error(), Title: title})
	}
	if done == 0 {
		return nil, failed
	}
	return out, nil
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
	Control  string
	Settings compare.Settings
	Each     map[string]ReportMeasure
}

// ReportTests compares the measures of tests of the programme and makes the
// report. What the head leaves empty is taken from the programme.
func (f *Folder) ReportTests(ctx context.Context, q TestsRequest) (*report.Document, error) {
	s, err := Rebuild(ctx, f.Store)
	if err != nil {
		return nil, err
	}
	h := q.Head
	h.Title, h.Client = cmp.Or(h.Title, s.Programme.Title), cmp.Or(h.Client, s.Programme.Client)
	h.Ground, h.Vehicle = cmp.Or(h.Ground, s.Programme.Ground), cmp.Or(h.Vehicle, s.Programme.Vehicle)
	h.Question = cmp.Or(h.Question, s.Programme.Question)
	in := h.input()
	if s.Last.Known() {
		in.Entered = s.Last.Time().Format("2006-01-02 15:04 MST")
		if zone, err := time.LoadLocation(s.Programme.Zone); err == nil && s.Programme.Zone != "" {
			in.Entered = s.Last.Time().In(zone).Format("2006-01-02 15:04 MST")
		}
	}
	in.Sets = s.Programme.Sets
	tests := q.Tests
	if len(tests) == 0 {
		for _, t := range s.Tests {
			tests = append(tests, t.Test.ID)
		}
	}
	if len(tests) == 0 {
		_, err := s.Test("")
		return nil, err
	}
	found := map[string]bool{}
	for _, id := range tests {
		d, err := f.Drive(ctx, s, id)
		if err != nil {
			return nil, err
		}
		measured, err := q.measure(d, found)
		if err != nil {
			return nil, fault.At(err, "test %s", id)
		}
		title := ""
		if len(tests) > 1 {
			title = d.Test.Test.Title
		}
		in.Tests = append(in.Tests, report.Test{Title: title, Surface: d.Test.Test.Surface, Log: d.Log, Measures: measured})
		for _, i := range d.Inputs {
			in.Inputs = append(in.Inputs, report.Hash{Name: i.Name, SHA256: i.SHA256})
		}
	}
	for _, m := range q.Measures {
		if !found[m] {
			return nil, fault.New(fault.NotFound, "no test has the measure %q", m).WithHint("bookend compare --test NAME --measure X lists what a test has")
		}
	}
	in.Inputs = append(in.Inputs, report.Hash{Name: "chain of entries", SHA256: s.Head})
	return report.Build(in)
}

// measure compares the measures of one test that are asked for.
func (q TestsRequest) measure(d *Driven, found map[string]bool) ([]report.Measured, error) {
	var list []compare.Input
	take := func(m programme.Measure) {
		found[m.ID] = true
		set := q.Settings
		set.Scale = m.Scale
		if each := q.Each[m.ID]; each.Margin != nil {
			set.Margin = each.Margin
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
	for _, m := range d.Measures {
		if len(q.Measures) == 0 && m.Better != programme.Undirected {
			take(m)
		}
	}
	if len(list) == 0 {
		return nil, fault.New(fault.NotFound, "there is nothing to report").WithHint("import its run log and its recordings, or a table of values")
	}
	return compared(list)
}
