package web

import (
	"bytes"
	"context"
	"slices"
	"strings"
	"sync"
	"time"

	"example.org/bookend/app"
	"example.org/bookend/caveat"
	"example.org/bookend/compare"
	"example.org/bookend/fault"
	"example.org/bookend/report"
	"example.org/bookend/report/html"
	"example.org/bookend/unit"
)

// seen is a programme as its entries make it, and what was computed from it. It
// is never changed once it was handed out.
type seen struct {
	state  *app.State
	driven []*app.Driven // of the tests that could be driven
	failed []failed      // tests that could not
	made   *sync.Map     // what pages made of it, by what was asked: a cache, which changes nothing that is seen
}

// keep gives what was made of a programme as it stands, making it once.
func keep[T any](s *seen, key string, make func() (T, error)) (T, error) {
	if v, ok := s.made.Load(key); ok {
		return v.(T), nil
	}
	v, err := make()
	if err == nil {
		s.made.Store(key, v)
	}
	return v, err
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

// keeper keeps what was computed for the entries as they stand.
type keeper struct {
	mu sync.Mutex
	of map[string]*kept
}

// kept is one programme's: its state, and the reports of that state that were asked
// for. Whoever asks while it is computed waits, instead of computing it again.
type kept struct {
	mu      sync.Mutex
	seen    *seen
	reports map[string]*made
}

// made is a report, and its page once somebody read it.
type made struct {
	document *report.Document
	once     sync.Once
	page     []byte
	err      error
}

// whole gives the report as it is sent.
func (m *made) whole() ([]byte, error) {
	m.once.Do(func() {
		var b bytes.Buffer
		m.err = html.Write(&b, m.document)
		m.page = b.Bytes()
	})
	return m.page, m.err
}

// mostReports bounds the reports kept for a state of a programme.
const mostReports = 8

// of gives what is kept of a programme.
func (k *keeper) programme(name string) *kept {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.of == nil {
		k.of = map[string]*kept{}
	}
	if k.of[name] == nil {
		k.of[name] = &kept{}
	}
	return k.of[name]
}

// see gives a programme as it stands.
func (f *face) see(ctx context.Context, p Programme) (*seen, error) {
	k := f.kept.programme(p.Name)
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.see(ctx, p)
}

// see brings what is kept up to date. What was driven is put together anew only
// where an entry bears on it.
func (k *kept) see(ctx context.Context, p Programme) (*seen, error) {
	s, err := app.Rebuild(ctx, p.Folder.Store)
	if err != nil {
		return nil, err
	}
	old := k.seen
	if old != nil && old.state.Head == s.Head && old.state.Entries == s.Entries {
		return old, nil
	}
	v := &seen{state: s, made: &sync.Map{}}
	if old != nil && old.state.Drives == s.Drives {
		v.driven, v.failed, v.made = old.driven, old.failed, old.made
		k.seen, k.reports = v, nil
		return v, nil
	}
	for _, t := range s.Tests {
		d, err := p.Folder.Driven(ctx, s, t.Test.ID)
		if ctx.Err() != nil {
			return nil, ctx.Err() // whoever asked is gone: nothing of it is kept
		}
		if err != nil {
			v.failed = append(v.failed, failed{t.Test.ID, err})
			continue
		}
		v.driven = append(v.driven, d)
	}
	k.seen, k.reports = v, nil
	return v, nil
}

// asked is how verdicts are asked for in an address.
type asked struct {
	control string
	margin  *compare.Margin
	typed   string          // the margin as it was typed
	points  *compare.Margin // of what is rated, in points of the scale
	rated   string          // the same as it was typed
	comma   bool
	style   unit.Style // how the reader wants numbers
}

// key is what tells one way of asking from another.
func (a asked) key() string {
	return strings.Join([]string{a.control, a.typed, a.rated, lookKey(a.style)}, "\n")
}

// document gives the report of all tests of a programme.
func (f *face) document(ctx context.Context, p Programme, a asked) (*made, error) {
	if a.control == "" {
		return nil, fault.New(fault.Invalid, "it is not said which code is the control").WithHint("choose it above the table")
	}
	key := a.key()
	k := f.kept.programme(p.Name)
	k.mu.Lock()
	defer k.mu.Unlock()
	if _, err := k.see(ctx, p); err != nil {
		return nil, err
	}
	if m := k.reports[key]; m != nil {
		return m, nil
	}
	q := app.TestsRequest{Control: a.control}
	q.Head.Comma, q.Head.Units = a.comma, a.style
	q.Settings.Margin, q.Ratings.Settings.Margin = a.margin, a.points
	d, err := p.Folder.ReportTests(ctx, q) // all tests that can be compared
	if err != nil {
		return nil, err
	}
	// That verdicts were looked at is an entry itself, and the report names it: it is
	// the report of the state after it.
	if _, err := k.see(ctx, p); err != nil {
		return nil, err
	}
	if k.reports == nil || len(k.reports) >= mostReports {
		k.reports = map[string]*made{}
	}
	m := &made{document: d}
	if slices.ContainsFunc(d.Inputs, func(h report.Hash) bool { return h.SHA256 == k.seen.state.Head }) {
		k.reports[key] = m
	}
	return m, nil
}

// zone gives the zone of the ground, UTC where none is told.
func (s *seen) zone() (*time.Location, error) {
	zone, err := s.state.Zone()
	if zone == nil {
		zone = time.UTC
	}
	return zone, err
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
		order := d.Log.AsDriven()
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
			if !slices.ContainsFunc(d.Log.Caveats, func(k caveat.Caveat) bool { return k.Code == "recording_unmatched" && k.Place.File == r.Name }) && !inDoubt(d, r) {
				c.matched++
			}
		}
	}
	return c
}

// inDoubt tells whether nothing of a recording is used because log and clocks do not
// agree whose it is.
func inDoubt(d *app.Driven, r app.RecordingEntry) bool {
	runs, doubted := 0, 0
	for _, p := range piecesOf(d, r) {
		if p.LogRun != "" {
			runs++
		}
		if p.Doubt != "" {
			doubted++
		}
	}
	return doubted > 0 && doubted >= runs
}
