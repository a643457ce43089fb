package web

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"example.org/bookend/compare"
	"example.org/bookend/fault"
	"example.org/bookend/programme/attribute"
	"example.org/bookend/report"
	"example.org/bookend/web/form"
)

// judged is the body of the verdicts' page.
type judged struct {
	Ask     asking
	Answer  []report.Text
	Matrix  []matrix
	Notes   []report.Note
	Asides  []report.Aside
	Missing []troubledTest
	Others  []another
	Count   int             // of them
	Apart   *report.Section // one of them, opened
	Folds   string          // address that folds it in
}

// another is a measure that describes and has no row, by its test.
type another struct {
	Test  string
	Lines []described
}

type described struct {
	Title report.Text
	Opens string
}

// asking is the form above the table.
type asking struct {
	Codes   []string
	Control string
	Guessed bool // by the sequence, not chosen
	Margin  string
	Planned bool // a frozen plan has margins of its own
	Points  bool // the margin is in points of the scale that people rate on, not of an index
}

type troubledTest struct{ Test, Why, Hint string }

// matrix is one table of verdicts; the open measure has its parts under its row.
type matrix struct {
	report.Table
	Lines []line
}

type line struct {
	report.Row
	Open   *report.Section
	Opens  string // address that opens the row
	Folds  string // and that folds it in
	ID     string
	Beside int // columns left of what is open
	Span   int // columns of what is open
}

// asks opens the programme that an address names, and reads how its verdicts are asked
// for there.
func (f *face) asks(r *http.Request) (p Programme, s *seen, a asked, ask asking, err error) {
	if p, s, err = f.opened(r); err == nil {
		a, ask, err = s.asked(r)
	}
	return p, s, a, ask, err
}

// asked reads from an address how verdicts are asked for.
func (s *seen) asked(r *http.Request) (asked, asking, error) {
	q := r.URL.Query()
	a := asked{control: q.Get("control"), typed: strings.TrimSpace(q.Get("margin")), rated: strings.TrimSpace(q.Get("points")), comma: lookOf(r).Comma, style: lookOf(r).style()}
	ask := asking{Codes: s.codes(), Margin: a.typed, Planned: len(s.state.Plans) > 0}
	if a.control == "" {
		a.control, ask.Guessed = s.opener(), true
	}
	ask.Control = a.control
	if a.typed != "" {
		v, err := strconv.ParseFloat(strings.Replace(a.typed, ",", ".", 1), 64)
		if err != nil || !(v > 0 && v <= 100) {
			return a, ask, fault.New(fault.Invalid, "the margin %q is no number of index points", a.typed).WithHint("for example 2: differences below 2 points do not matter to the client")
		}
		a.margin = &compare.Margin{Value: v}
	}
	if a.rated != "" {
		v, err := strconv.ParseFloat(strings.Replace(a.rated, ",", ".", 1), 64)
		if most := attribute.Points.High - attribute.Points.Low; err != nil || !(v > 0 && v <= most) {
			return a, ask, fault.New(fault.Invalid, "the margin %q is no number of points of the scale", a.rated).WithHint("for example 0.5: a quarter point is just noticeable back to back, half a point clear to an expert, a whole one clear to a customer")
		}
		a.points = &compare.Margin{Value: v, InUnit: true}
	}
	return a, ask, nil
}

// with gives an address's question part with one thing changed; an empty value
// takes it out.
func with(q url.Values, key, value string) string {
	out := url.Values{}
	for k, v := range q {
		out[k] = v
	}
	out.Del(key)
	if value != "" {
		out.Set(key, value)
	}
	if len(out) == 0 {
		return ""
	}
	return "?" + out.Encode()
}

// verdicts shows one row a measure and one column a candidate; the row that is
// open has its figures below it.
func (f *face) verdicts(w http.ResponseWriter, r *http.Request) error {
	p, s, a, ask, err := f.asks(r)
	if err != nil {
		return err
	}
	body := judged{Ask: ask}
	for _, x := range s.failed {
		body.Missing = append(body.Missing, troubledTest{x.test, form.Sentence(x.cause.Error()), fault.HintOf(x.cause)})
	}
	v := frame{}
	f.around(&v, p, s, "Verdicts")
	if a.control == "" && len(ask.Codes) > 0 {
		v.Title, v.Below, v.Body = say("It is not said which code is the control"), say("No code opens and closes every sequence. Choose it here."), body
		return f.hand(w, r, http.StatusOK, "verdicts", v, nil)
	}
	if len(ask.Codes) == 0 {
		v.Title, v.Below, v.Body = say("No verdict can be given yet"), say("The programme has no run log and no table of values."), body
		return f.hand(w, r, http.StatusOK, "verdicts", v, nil)
	}
	m, err := f.reported(r, p, a)
	if err != nil {
		return err
	}
	d := m.document
	v.Title, v.Below = d.Title, nil
	body.Answer, body.Notes, body.Asides = d.Answer, d.Notes, d.Asides
	open := r.URL.Query().Get("open")
	for _, t := range d.Matrix {
		m := matrix{Table: t}
		beside := 0
		for _, row := range t.Rows {
			l := line{Row: row}
			if row.Group {
				beside = 0
			}
			for _, c := range row.Cells {
				if c.Head && c.Rows > 0 {
					beside = 1
				}
				for _, x := range c.Text {
					if c.Head && x.To != "" && x.As != report.Mark {
						l.ID = x.To
					}
				}
			}
			l.Beside, l.Span = beside, len(t.Columns)-beside
			l.Opens, l.Folds = v.Home+"/verdicts"+with(r.URL.Query(), "open", l.ID)+"#"+l.ID, v.Home+"/verdicts"+with(r.URL.Query(), "open", "")
			if open != "" && l.ID == open {
				l.Open = opened(d.Sections, open)
			}
			m.Lines = append(m.Lines, l)
		}
		m.spread()
		body.Matrix = append(body.Matrix, m)
	}
	rows := map[string]bool{}
	for _, m := range body.Matrix {
		for _, l := range m.Lines {
			rows[l.ID] = true
		}
	}
	for _, s := range d.Sections {
		if !s.Behind || !isMeasure(s.ID) || rows[s.ID] {
			continue
		}
		test, _, several := strings.Cut(s.Short, ": ")
		if strings.HasSuffix(s.ID, "-more") { // "More measures: Slalom, dry"
			_, test, several = strings.Cut(s.Short, ": ")
		}
		if !several {
			test = ""
		}
		if n := len(body.Others); n == 0 || body.Others[n-1].Test != test {
			body.Others = append(body.Others, another{Test: test})
		}
		o := &body.Others[len(body.Others)-1]
		o.Lines = append(o.Lines, described{s.Title, v.Home + "/verdicts" + with(r.URL.Query(), "open", s.ID) + "#" + s.ID})
		if body.Count++; s.ID == open {
			body.Apart, body.Folds = opened(d.Sections, open), v.Home+"/verdicts"+with(r.URL.Query(), "open", "")
		}
	}
	v.Body = body
	codes := d.Codes
	return f.hand(w, r, http.StatusOK, "verdicts", v, &codes)
}

// isMeasure tells whether a section is a measure's own, or the list of those without one.
func isMeasure(id string) bool {
	if strings.HasSuffix(id, "-more") {
		return true
	}
	test, measure, ok := strings.Cut(strings.TrimPrefix(id, "t"), "m")
	_, err := strconv.Atoi(test)
	_, also := strconv.Atoi(measure)
	return ok && err == nil && also == nil
}

// opened gives all of what the report has of a measure: its section and those that go on
// with it, figures first; nil where it has none.
func opened(sections []report.Section, id string) *report.Section {
	i := slices.IndexFunc(sections, func(s report.Section) bool { return s.ID == id })
	if i < 0 {
		return nil
	}
	s := sections[i] // the report's own stays as it is
	s.Blocks = slices.Clone(s.Blocks)
	if s.Behind {
		slices.SortStableFunc(s.Blocks, func(a, b report.Block) int {
			switch {
			case (a.Figure != nil) == (b.Figure != nil):
				return 0
			case a.Figure != nil:
				return -1
			}
			return 1
		})
	}
	for _, x := range sections {
		if x.Of == id {
			s.Blocks = append(s.Blocks, x.Blocks...)
		}
	}
	return &s
}

// spread lets the head of a group of rows stand beside what is open too.
func (m *matrix) spread() {
	head := -1
	for i := range m.Lines {
		if m.Lines[i].Group || i == 0 {
			head = i
		}
		if m.Lines[i].Open == nil || head < 0 {
			continue
		}
		cells := m.Lines[head].Cells
		for j := range cells {
			if cells[j].Head && cells[j].Rows > 0 {
				copied := append([]report.Cell(nil), cells...) // the report's own stay as they are
				copied[j].Rows++
				m.Lines[head].Cells = copied
			}
		}
	}
}
