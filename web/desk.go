package web

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"sync"

	"example.org/bookend/app"
	"example.org/bookend/caveat"
	"example.org/bookend/compare"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/report"
)

// seen is a programme as its entries make it, and what was computed from it. It
// is never changed once it was handed out.
type seen struct {
	state  *app.State
	driven []*app.Driven // of the tests that could be driven
	failed []failed      // tests that could not
}

// failed is a test without results, and why.
type failed struct {
	test  string
	cause error
}

// test gives what a test has.
func (s *seen) test(id string) (*app.Driven, error) {
	for _, d := range s.driven {
		if d.Test.Test.ID == id {
			return d, nil
		}
	}
	for _, x := range s.failed {
		if x.test == id {
			return nil, x.cause
		}
	}
	_, err := s.state.Test(id)
	return nil, err
}

// keeper keeps what was computed for the entries as they stand: one state a
// programme, and the reports of that state that were asked for.
type keeper struct {
	mu      sync.Mutex
	of      map[string]*seen
	reports map[string]map[string]*report.Document
}

// mostReports bounds the reports kept for a state of a programme.
const mostReports = 8

// see gives a programme as it stands.
func (f *face) see(ctx context.Context, p Programme) (*seen, error) {
	s, err := app.Rebuild(ctx, p.Folder.Store)
	if err != nil {
		return nil, err
	}
	f.kept.mu.Lock()
	old := f.kept.of[p.Name]
	f.kept.mu.Unlock()
	if old != nil && old.state.Head == s.Head && old.state.Entries == s.Entries {
		return old, nil
	}
	v := &seen{state: s}
	for _, t := range s.Tests {
		d, err := p.Folder.Drive(ctx, s, t.Test.ID)
		if ctx.Err() != nil {
			return nil, ctx.Err() // whoever asked is gone: nothing of it is kept
		}
		if err != nil {
			v.failed = append(v.failed, failed{t.Test.ID, err})
			continue
		}
		v.driven = append(v.driven, d)
	}
	f.kept.mu.Lock()
	defer f.kept.mu.Unlock()
	if f.kept.of == nil {
		f.kept.of, f.kept.reports = map[string]*seen{}, map[string]map[string]*report.Document{}
	}
	f.kept.of[p.Name] = v
	delete(f.kept.reports, p.Name)
	return v, nil
}

// asked is how verdicts are asked for in an address.
type asked struct {
	control string
	margin  *compare.Margin
	typed   string // the margin as it was typed
	comma   bool
}

// report gives the report of all tests of a programme.
func (f *face) document(ctx context.Context, p Programme, v *seen, a asked) (*report.Document, error) {
	if a.control == "" {
		return nil, fault.New(fault.Invalid, "it is not said which code is the control").WithHint("choose it above the table")
	}
	key := strings.Join([]string{a.control, a.typed, map[bool]string{true: "comma"}[a.comma]}, "\n")
	f.kept.mu.Lock()
	d := f.kept.reports[p.Name][key]
	current := f.kept.of[p.Name] == v
	f.kept.mu.Unlock()
	if d != nil && current {
		return d, nil
	}
	q := app.TestsRequest{Control: a.control}
	q.Head.Comma = a.comma
	q.Settings.Margin = a.margin
	d, err := p.Folder.ReportTests(ctx, q) // all tests that can be compared
	if err != nil {
		return nil, err
	}
	f.kept.mu.Lock()
	defer f.kept.mu.Unlock()
	if f.kept.of[p.Name] == v {
		m := f.kept.reports[p.Name]
		if m == nil || len(m) >= mostReports {
			m = map[string]*report.Document{}
			f.kept.reports[p.Name] = m
		}
		m[key] = d
	}
	return d, nil
}

// codes gives the codes of a programme as they first occur.
func (s *seen) codes() []string {
	var out []string
	for _, d := range s.driven {
		for _, t := range d.Log.Stints {
			if !slices.Contains(out, t.Code) {
				out = append(out, t.Code)
			}
		}
	}
	for _, t := range s.state.Day.Stints {
		if !slices.Contains(out, t.Code) {
			out = append(out, t.Code)
		}
	}
	return out
}

// opener gives the code that opens and closes the sequence of every test: what a
// control does. Empty where there is none, or tests disagree.
func (s *seen) opener() string {
	code := ""
	for _, d := range s.driven {
		if len(d.Log.Stints) == 0 {
			continue
		}
		order := slices.Clone(d.Log.Stints)
		slices.SortStableFunc(order, func(a, b programme.Stint) int { return cmp.Compare(a.Position, b.Position) })
		first, last := order[0].Code, order[len(order)-1].Code
		if first != last || len(order) < 3 || code != "" && code != first {
			return ""
		}
		code = first
	}
	return code
}

// counts is how much there is of a programme.
type counts struct {
	tests, stints, runs, recordings, matched, excluded int
}

func (s *seen) counts() counts {
	c := counts{tests: len(s.state.Tests), recordings: len(s.state.Recordings)}
	for _, t := range s.state.Day.Stints {
		if !slices.ContainsFunc(s.driven, func(d *app.Driven) bool { return d.Test.Test.ID == t.Test }) {
			c.stints++
			c.runs += len(t.Runs)
		}
	}
	for _, d := range s.driven {
		c.stints += len(d.Log.Stints)
		c.runs += len(d.Log.Runs)
		c.excluded += len(d.Log.Exclusions)
		for _, r := range s.state.Recordings {
			if r.Test != d.Test.Test.ID {
				continue
			}
			if !slices.ContainsFunc(d.Log.Caveats, func(k caveat.Caveat) bool { return k.Code == "recording_unmatched" && k.Place.File == r.Name }) {
				c.matched++
			}
		}
	}
	return c
}

func sorted[V any](m map[string]V) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}
