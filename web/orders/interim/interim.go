// Package interim is what may be seen of a test while it goes on: codes, estimates and
// intervals, marked with the stint reached, and no word of a verdict before a look that
// the plan names.
//
// Whoever reads it has seen how candidates compare: it counts as a look, and is logged as
// one under the reader's name before it is shown. So the page says first which look it
// would be; the numbers come when somebody asks for them, and stay to be read again until
// something else is driven or left out. Who drives or rates sees nothing of it. Limits: as
// the use case.
package interim

import (
	"context"
	"encoding/json"
	"fmt"
	"html/template"
	"net/url"
	"slices"
	"strings"

	"example.org/bookend/app"
	"example.org/bookend/fault"
	"example.org/bookend/figure"
	"example.org/bookend/figure/svg"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
	"example.org/bookend/web/form"
	"example.org/bookend/web/orders"
)

// fields gives the form.
func fields(a orders.Ask, test string) *form.Form {
	return &form.Form{ID: "o", To: a.Base + "/interim", Do: "Look, and have it logged", Kept: map[string]string{"test": test}, Groups: []form.Group{{Title: "What is looked at", Folded: true, Fields: []form.Field{
		{Name: "control", Title: "Control", Hint: "empty: the plan’s"},
		{Name: "measure", Title: "Measure", Hint: "empty: the plan’s first"},
		{Name: "place", Title: "Place", Hint: "of a measure with places: sector 2"},
	}}}}
}

// Page is the body of the page.
type Page struct {
	Test   string
	Tests  []string
	Tabs   []orders.Tab
	Form   *form.Form
	Would  string // which look it would be
	Asked  bool   // the form may be sent
	Shown  bool
	Told   bool
	Full   template.HTML // the ladder, in two widths
	Half   template.HTML
	Column string
	Rows   []Row
	Notes  []string
	Looks  []Looked
}

// Row is one candidate by now.
type Row struct{ Code, Estimate, Interval, Stints, Verdict string }

// Looked is a look that was logged.
type Looked struct{ When, Person, Stints, Measures string }

// opened gives the looks at a test, the newest last.
func opened(ctx context.Context, a orders.Ask, test string) ([]Looked, error) {
	entries, err := a.Folder.Store.Entries(ctx, 0)
	if err != nil {
		return nil, err
	}
	var looks []Looked
	for _, e := range entries {
		if e.Kind != app.KindOpened {
			continue
		}
		var o app.OpenedEntry
		if err := json.Unmarshal(e.Body, &o); err != nil {
			return nil, fault.New(fault.Internal, "reading entry %d: %w", e.Sequence, err)
		}
		if o.Test != test {
			continue
		}
		l := Looked{When: e.ServerTime.Time().In(a.Now.Location()).Format("2006-01-02 15:04"), Person: e.Author, Stints: fmt.Sprint(o.Stints), Measures: fmt.Sprintf("%d measures", len(o.Measures))}
		if len(o.Measures) <= 3 {
			var measures []string
			for _, m := range o.Measures {
				measures = append(measures, strings.TrimSpace(strings.ReplaceAll(m.Measure, "_", " ")+" "+m.Place))
			}
			l.Measures = strings.Join(measures, ", ")
		}
		looks = append(looks, l)
	}
	return looks, nil
}

// begin gives the page before anything is looked at.
func begin(ctx context.Context, a orders.Ask) (*Page, *orders.Leaf, error) {
	test := a.Chosen()
	p := &Page{Test: test, Tests: a.Tests(), Form: fields(a, test)}
	p.Form.Filled(a.Typed)
	if a.Plans {
		p.Tabs = orders.Tabs(a.Base, test, "Interim look")
	}
	l := &orders.Leaf{Page: "interim", Body: p, Title: "There is no test to look at", Below: "A test comes with its first table, recording or stint."}
	if test == "" {
		return p, l, nil
	}
	if _, err := a.State.Test(test); err != nil {
		return p, l, err
	}
	looks, err := opened(ctx, a, test)
	if err != nil {
		return nil, nil, err
	}
	slices.Reverse(looks)
	p.Looks, p.Asked = looks, true
	stints := 0
	for _, c := range a.Driven(test).Codes {
		if c != "/" {
			stints++
		}
	}
	l.Title = fmt.Sprintf("%s of %s driven, not looked at yet", unit.Count(stints, "stint"), test)
	if len(looks) > 0 {
		l.Title = fmt.Sprintf("%s of %s driven; the last look was after %s", unit.Count(stints, "stint"), test, looks[0].Stints)
	}
	l.Below = "A look is logged under your name before it shows how candidates compare; the report tells what was done otherwise after it."
	p.Would = "No plan is frozen: every look before the end is one that nobody planned."
	if t := a.Plan(test); t != nil {
		words, _, planned := t.Look(stints)
		p.Would = "It would be " + words + "."
		switch {
		case t.Stints == 0:
			p.Would = "The plan does not say how many stints will be driven, so that no look before the end is one of its own, and no verdict is told here."
		case !planned:
			p.Would += " No verdict is told at it: one that is read off early is wrong more often than it says."
		}
	}
	return p, l, nil
}

// Show shows what was looked at already, or says which look it would be.
func Show(ctx context.Context, a orders.Ask) (*orders.Leaf, error) {
	p, l, err := begin(ctx, a)
	if err != nil || p.Test == "" || a.Typed.Get("look") == "" {
		return l, err
	}
	// The same is seen again, which is no new look; anything else waits to be asked for.
	got, err := a.Folder.InterimSeen(ctx, p.request(a))
	switch {
	case err != nil:
		return l, l.Refused(p.Form, err)
	case got != nil:
		p.fill(l, got, a.Style)
	}
	return l, nil
}

// Look logs the look and leads to what it shows.
func Look(ctx context.Context, a orders.Ask) (*orders.Leaf, error) {
	p, l, err := begin(ctx, a)
	if err != nil {
		return nil, err
	}
	if _, err := a.Folder.Interim(ctx, p.request(a)); err != nil {
		return l, l.Refused(p.Form, err)
	}
	q := p.Form.Part(a.Typed)
	q.Set("test", a.Chosen())
	q.Set("look", "yes")
	return &orders.Leaf{Go: a.Base + "/interim?" + q.Encode()}, nil
}

// request reads the form.
func (p *Page) request(a orders.Ask) app.TestRequest {
	q := app.TestRequest{Test: p.Test, Control: trimmed(a.Typed, "control"), Measure: trimmed(a.Typed, "measure"), Place: trimmed(a.Typed, "place")}
	if q.Control == "" && a.Plan(p.Test) == nil {
		q.Control = a.Usual["control"]
	}
	return q
}

func trimmed(q url.Values, name string) string { return strings.TrimSpace(q.Get(name)) }

// words are verdicts as people read them.
var words = map[string]string{"better_less_than_margin": "better, by less than matters", "worse_less_than_margin": "worse, by less than matters"}

// fill prints an interim view.
func (p *Page) fill(l *orders.Leaf, a *app.InterimAnswer, style unit.Style) {
	d := a.Document()
	r := a.Of.Both.Result
	p.Shown, p.Told, p.Form.Again, p.Form.Do = true, a.Told, true, "Look again"
	of := ""
	if a.Planned > 0 {
		of = fmt.Sprintf(" of %d", a.Planned)
	}
	l.Title = fmt.Sprintf("Interim, after %d%s stints: %s against control %s", a.Stints, of, r.Measure.Title, r.Control)
	l.Below = "A look that no plan names. It is logged."
	switch {
	case a.Look != "":
		l.Below = form.Sentence(a.Look) + ". It is logged."
	case a.Of.Plan != nil && a.Planned == 0:
		l.Below = "The plan does not say how many stints will be driven: it is no look of its own. It is logged."
	case a.Of.Plan != nil && a.Of.Plan.Look != "":
		l.Below = form.Sentence(a.Of.Plan.Look) + ". It is logged."
	}
	ratio := r.Scale == programme.Ratio
	digits, u, shown := r.Measure.Digits, unit.Unit{}, ""
	p.Column = "Index, control = 100"
	if ratio {
		digits = unit.IndexDigits
	} else {
		u, _ = unit.Known(r.Measure.Unit)
		if to, ok := unit.Known(r.Measure.Shown); ok && r.Measure.Shown != "" {
			u = to
		}
		u = style.Of(u)
		if !u.IsZero() && u != unit.One {
			shown = ", " + u.Symbol()
		}
		p.Column = "Difference" + shown
	}
	conv := func(x float64) float64 {
		if ratio || u.IsZero() {
			return x
		}
		return u.DifferenceFromHouse(x)
	}
	l.Codes = figure.Codes{Control: r.Control}
	ladder := &figure.IntervalLadder{Stints: "stints", Columns: []string{strings.ToLower(p.Column[:1]) + p.Column[1:]}, Value: figure.Axis{Name: strings.ToLower(p.Column[:1]) + p.Column[1:], Better: figure.Rising, Signed: !ratio}}
	if ratio {
		ladder.Control = 100
	}
	if r.Measure.Better == programme.Undirected || r.Measure.Better == "" {
		ladder.Value.Better = figure.Nowhere
	}
	for _, row := range d.Results.Rows {
		l.Codes.Candidates = append(l.Codes.Candidates, row.Code)
		v, low, high := row.Difference, row.DifferenceLow, row.DifferenceHigh
		if ratio {
			v, low, high = row.Index, row.IndexLow, row.IndexHigh
		}
		out := Row{Code: row.Code, Estimate: "none", Interval: "none", Stints: fmt.Sprint(row.Stints)}
		if v != nil {
			out.Estimate = unit.Number(conv(*v), digits, style)
		}
		switch {
		case low != nil && high != nil:
			out.Interval = unit.Interval(conv(*low), conv(*high), digits, style)
		case low != nil:
			out.Interval = "from " + unit.Number(conv(*low), digits, style)
		}
		if row.Verdict != "" {
			if out.Verdict = words[row.Verdict]; out.Verdict == "" {
				out.Verdict = strings.ReplaceAll(row.Verdict, "_", " ")
			}
		}
		p.Rows = append(p.Rows, out)
		rung := figure.LadderRow{Code: row.Code, Verdict: figure.NotTold, Stints: out.Stints}
		if row.Verdict != "" {
			rung.Verdict = figure.Verdict(row.Verdict)
		}
		if v != nil {
			x := conv(*v)
			rung.Estimate, rung.Readings = &x, []figure.Reading{{Value: out.Estimate, Interval: out.Interval}}
			if low != nil && high != nil {
				a, b := conv(*low), conv(*high)
				rung.Low, rung.High = &a, &b
			}
		}
		ladder.Rows = append(ladder.Rows, rung)
	}
	slices.Sort(l.Codes.Candidates)
	p.draw(ladder, l, r.Settings.Confidence, style)
	for _, c := range d.Caveats {
		p.Notes = append(p.Notes, c.Text)
	}
}

// draw lays the ladder of intervals out for both widths; a ladder that cannot be drawn
// leaves the table, which says the same.
func (p *Page) draw(f *figure.IntervalLadder, l *orders.Leaf, confidence float64, style unit.Style) {
	f.Head.Codes, f.Head.Comma, f.Head.Test = l.Codes, style.Comma, p.Test
	f.Head.Title = figure.Say("Interim: what is said here is not the end")
	f.Head.Sub = figure.Say(fmt.Sprintf("Bars: the %s %% interval that holds for all candidates at once.", unit.Number(100*confidence, 0, style)))
	for _, w := range []struct {
		width figure.Width
		id    string
		to    *template.HTML
	}{{figure.Full, "ladder", &p.Full}, {figure.Half, "ladder-half", &p.Half}} {
		if d, err := f.Draw(w.width); err == nil {
			*w.to = template.HTML(svg.String(d, svg.Options{ID: w.id}))
		}
	}
}
