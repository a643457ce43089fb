package report

import (
	"slices"
	"strconv"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/compare"
	"example.org/bookend/compare/whole"
	"example.org/bookend/fault"
	"example.org/bookend/figure"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// builder makes one document.
type builder struct {
	in          Input
	doc         *Document
	tests       []test
	marks       caveat.Notes
	figures     int
	together    *whole.Programme // nil where first measures cannot be held together
	apart       string           // why
	described   Text             // what the measures that describe say, in a sentence
	firstsAlone bool             // the first page's table has first measures alone
	several     bool             // measures
	behind      bool             // what is added goes into the appendix
}

// test is a test as it is reported.
type test struct {
	Test
	id       string // "t1"
	measures []measured
	stints   map[string]int // by id: its number in the log, from 1
	runs     map[string]int
	covs     []covariate
}

// measured is a measure as it is reported.
type measured struct {
	t          *test
	id         string // "t1m1"
	first      bool   // the test's first measure, which answers the question
	title      string
	failed     string
	r          *compare.Result
	all        *compare.Result // nothing left out
	allErr     string
	planned    *compare.Result // as planned, where that is not r
	planFailed string
	watch      *Watch // nil: no record
	s          scale
	rows       []*compare.Row // in the order of the codes
}

// gather puts tests and measures in order and finds the codes.
func (b *builder) gather() error {
	control := ""
	candidates := map[string]bool{}
	n := 0
	for i, t := range b.in.Tests {
		rt := test{Test: t, id: "t" + strconv.Itoa(i+1), stints: map[string]int{}, runs: map[string]int{}}
		for k, s := range t.Log.Stints {
			rt.stints[s.ID] = k + 1
		}
		for k, r := range t.Log.Runs {
			rt.runs[r.ID] = k + 1
		}
		for k, m := range t.Measures {
			n++
			rm := measured{id: rt.id + "m" + strconv.Itoa(k+1), first: k == 0, failed: m.Failed, title: m.Title}
			if m.Both == nil {
				if m.Failed == "" {
					return fault.New(fault.Internal, "measure %d of test %d has neither a result nor a reason for having none", k+1, i+1)
				}
				rt.measures = append(rt.measures, rm)
				continue
			}
			r := m.Both.Result
			if control == "" {
				control = r.Control
			}
			if r.Control != control {
				return fault.New(fault.Invalid, "one measure is compared with control %s, another with %s", control, r.Control).WithHint("make a report of each")
			}
			for _, row := range r.Rows {
				candidates[row.Code] = true
			}
			rm.r, rm.all, rm.allErr = r, m.Both.All, m.Both.AllErr
			rm.planFailed, rm.watch = m.PlanFailed, m.Watch
			if m.Planned != nil {
				rm.planned = m.Planned.Result
			}
			rm.title = lower(r.Measure.Title)
			if r.Place != "" {
				rm.title += ", " + r.Place
			}
			if r.Rater != "" {
				rm.title += ", rated by " + r.Rater
			}
			rm.s = scaleOf(r.Measure, r.Scale == programme.Ratio, b.in.Style).telling(r.Rows)
			for j := range r.Rows {
				rm.rows = append(rm.rows, &r.Rows[j])
			}
			slices.SortStableFunc(rm.rows, func(a, c *compare.Row) int { return strings.Compare(a.Code, c.Code) })
			rt.measures = append(rt.measures, rm)
		}
		rt.covs = covariatesOf(t.Log, b.in.Style)
		b.tests = append(b.tests, rt)
	}
	if n == 0 {
		return fault.New(fault.Invalid, "a report needs at least one measure")
	}
	if control == "" {
		for _, t := range b.tests {
			return fault.New(fault.Invalid, "no measure could be compared: %s", t.measures[0].failed)
		}
	}
	b.several = n > 1
	for i := range b.tests {
		for j := range b.tests[i].measures {
			b.tests[i].measures[j].t = &b.tests[i]
		}
	}
	for _, sh := range b.in.Ratings {
		if sh.Result.Control != control {
			return fault.New(fault.Invalid, "ratings are compared with control %s, measures with %s", sh.Result.Control, control).WithHint("make a report of each")
		}
		for _, c := range sh.Result.Codes {
			candidates[c] = true
		}
	}
	b.doc.Codes = figure.Codes{Control: control}
	for c := range candidates {
		b.doc.Codes.Candidates = append(b.doc.Codes.Candidates, c)
	}
	slices.Sort(b.doc.Codes.Candidates)
	return nil
}

// note gives the mark of a caveat.
func (b *builder) note(c caveat.Caveat) Span {
	n := strconv.Itoa(b.marks.Mark(c))
	return Span{Text: n, As: Mark, To: "note-" + n}
}

// noted gives the marks of caveats as they follow a number.
func (b *builder) noted(l caveat.List) Text {
	var t Text
	for _, c := range l {
		if n := b.note(c); !slices.Contains(t, n) {
			t = append(t, n)
		}
	}
	return t
}

// numbers gives the notes' numbers of caveats.
func (b *builder) numbers(l caveat.List) []int {
	var out []int
	for _, c := range l {
		if n := b.marks.Mark(c); !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	return out
}

// own gives the caveats to a candidate as a whole: those of its row, and those
// of the measure that name its code and no stint.
func (m *measured) own(row *compare.Row) caveat.List {
	l := row.Caveats.Within(caveat.Place{Code: row.Code})
	for _, c := range m.r.Caveats {
		if c.Place.Code == row.Code && c.Place.Stint == "" && c.Place.Run == "" {
			l = append(l, c)
		}
	}
	return l.Distinct()
}

// general gives the caveats to the measure as a whole.
func (m *measured) general() caveat.List {
	var l caveat.List
	for _, c := range m.r.Caveats {
		if c.Place.Stint != "" || c.Place.Run != "" {
			continue
		}
		if c.Place.Code == "" || c.Place.Code == m.r.Control {
			l = append(l, c)
		}
	}
	return l.Distinct()
}

// atStint gives the caveats to a stint, those to its runs aside.
func (m *measured) atStint(id string) caveat.List {
	var l caveat.List
	for _, c := range m.r.Caveats {
		if c.Place.Stint == id && c.Place.Run == "" {
			l = append(l, c)
		}
	}
	return l.Distinct()
}

// atRun gives the caveats to one run.
func (m *measured) atRun(id string) caveat.List {
	var l caveat.List
	for _, c := range m.r.Caveats {
		if c.Place.Run == id {
			l = append(l, c)
		}
	}
	return l.Distinct()
}

func (t *test) stintTo(id string) string {
	if n, ok := t.stints[id]; ok {
		return t.id + "-stint-" + strconv.Itoa(n)
	}
	return ""
}

func (t *test) runTo(id string) string {
	if n, ok := t.runs[id]; ok {
		return t.id + "-run-" + strconv.Itoa(n)
	}
	return ""
}

// candidateTo is where a candidate's numbers of one measure are.
func (b *builder) candidateTo(m *measured, letter string) string {
	if m.r != nil && m.r.Alike != nil { // it has no table of candidates
		return m.id
	}
	return m.id + "c" + strconv.Itoa(b.doc.Codes.Order(letter))
}

func (b *builder) section(s Section) {
	s.Behind = b.behind
	s.Begins = s.Begins && !s.Behind
	b.doc.Sections = append(b.doc.Sections, s)
}

// head fills what stands above the answer.
func (b *builder) head() {
	d := b.doc
	if b.in.Title != "" {
		d.About = say(b.in.Title)
	} else {
		n := len(d.Codes.Candidates)
		noun := " candidates"
		if n == 1 {
			noun = " candidate"
		}
		d.About = say("Comparison of "+words(n)+noun+" with the control tyre ", code(d.Codes.Control))
	}
	fact := func(name, text string) {
		if text != "" {
			d.Facts = append(d.Facts, Fact{name, text})
		}
	}
	fact("Ground", b.in.Ground)
	fact("Vehicle", b.in.Vehicle)
	stints, runs := 0, 0
	for _, t := range b.tests {
		stints += len(t.Log.Stints)
		runs += len(t.Log.Runs)
	}
	fact("Driven", count(stints, "stint")+", "+count(runs, "run"))
	fact("Last entry", b.in.Entered)
}

func trimZeros(s string, style unit.Style) string {
	sep := "."
	if style.Comma {
		sep = ","
	}
	if !strings.Contains(s, sep) {
		return s
	}
	return strings.TrimSuffix(strings.TrimRight(s, "0"), sep)
}
