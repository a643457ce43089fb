// Package next is the page that says during the day what the next stint would best be:
// the control, a repeat of which candidate, or none; what could be shown by now, and how
// many stints it still is to the difference that is wanted.
//
// It looks at scatter and drift and at no candidate's difference, so that it is no look
// and nothing is logged; certainty ends the day at a look of the plan alone. Who drives
// or rates does not see it: it tells which code is the control. Differences stand in
// index points or the measure's unit. Limits: as package order/advice.
package next

import (
	"context"
	"fmt"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"example.org/bookend/app/ordering"
	"example.org/bookend/compare"
	"example.org/bookend/fault"
	"example.org/bookend/figure"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
	"example.org/bookend/web/form"
	"example.org/bookend/web/orders"
	"example.org/bookend/web/orders/typed"
)

// fields gives the form.
func fields(histories []form.Choice) *form.Form {
	return &form.Form{ID: "o", Get: true, Do: "Ask what is next", Groups: []form.Group{
		{Title: "What is compared", Fields: []form.Field{
			{Name: "control", Title: "Control", Hint: "empty: as the plan has it"},
			{Name: "candidates", Title: "Candidates", Needed: true, Hint: "driven yet or not, as P, R, T"},
			{Name: "measure", Title: "Measure", Hint: "empty: the plan’s first, or the only one"},
			{Name: "wanted", Title: "Difference to be shown", Hint: "index points, or the measure’s unit; empty: the plan’s margin"},
		}},
		{Title: "What the day still allows", Fields: []form.Field{
			{Name: "time", Title: "Stints that there is time for", Number: true, Hint: "empty: any number"},
			{Name: "left", Title: "Stints that sets still last", Hint: "as P:1, R:2; others: any number"},
			{Name: "held", Title: "Sets that are held", Hint: "codes"},
			{Name: "between", Title: "Candidates between controls, at most", Number: true, Value: "3", Hint: "0: any number"},
		}},
		{Title: "How it is judged", Folded: true, Fields: []form.Field{
			{Name: "drift", Title: "Drift is taken out by", Choices: form.Words("as the plan has it", compare.Bracket, compare.Linear, compare.Quadratic, compare.NoDrift), Hint: "without a plan: bracket"},
			{Name: "power", Title: "Power", Symbol: "%", Number: true, Value: "80"},
			{Name: "planned", Title: "Stints of the whole plan", Number: true, Hint: "empty: as the plan has it"},
			{Name: "looks", Title: "Looks, after stints", Hint: "as 9, 13, 17; empty: those of the plan"},
			{Name: "spending", Title: "The looks spend", Value: "obrien_fleming", Choices: []form.Choice{{"obrien_fleming", "little at first, as O’Brien and Fleming have it"}, {"pocock", "the same at each, as Pocock has it"}}},
			{Name: "decided", Title: "Decided at an earlier look", Hint: "codes"},
			{Name: "history", Title: "Scatter of earlier control stints", Choices: histories, Hint: "a table is brought in on the page of the search"},
		}},
	}}
}

// Page is the body of the page.
type Page struct {
	Look    string
	Test    string
	Tests   []string
	Tabs    []orders.Tab
	Form    *form.Form
	Shown   bool
	Rows    []Row
	Unit    string
	Says    []string
	Options []Option
	Due     bool // a look of the plan stands here
	Caveats []string
}

// Row is what could be shown of one candidate.
type Row struct{ Code, Shows string }

// Option is one thing that can be done next.
type Option struct {
	Code   string
	Stints int
	Shows  string
}

// usual gives what the form begins with.
func usual(a orders.Ask, test string) map[string]string {
	control := a.Usual["control"]
	out := map[string]string{"candidates": "", "control": control}
	var codes []string
	add := func(c string) {
		if c != control && c != "/" && c != "" && !slices.Contains(codes, c) {
			codes = append(codes, c)
		}
	}
	if o, ok := a.State.Order(test); ok {
		for _, c := range o.Sequence {
			add(c)
		}
	}
	driven := a.Driven(test)
	for _, c := range driven.Codes {
		add(c)
	}
	if len(codes) == 0 {
		for _, c := range typed.Codes(a.Usual["candidates"]) {
			code, _, _ := strings.Cut(c, ":")
			add(code)
		}
	}
	slices.Sort(codes)
	out["candidates"] = strings.Join(codes, ", ")
	var left []string
	for _, c := range driven.Lost {
		left = append(left, c+":0")
	}
	out["left"] = strings.Join(left, ", ")
	return out
}

// request reads the form.
func request(ctx context.Context, a orders.Ask, q url.Values) (out ordering.AdviceRequest, err error) {
	r := &typed.Reader{Reader: form.Reader{Typed: q}}
	out = ordering.AdviceRequest{Candidates: typed.Codes(r.Text("candidates")), MostBetween: r.Count("between", 3), MostStints: r.Count("time", -1), Planned: r.Count("planned", 0),
		Power: r.Amount("power", 80) / 100, Spending: ordering.Spending(r.Text("spending")), Decided: typed.Codes(r.Text("decided")), Held: typed.Codes(r.Text("held"))}
	if len(out.Candidates) == 0 {
		r.Bad("candidates", "as P, R, T", "no candidate is named")
	}
	out.Table.Control, out.Table.Measure, out.Table.Settings.Drift = r.Text("control"), r.Text("measure"), compare.Drift(r.Text("drift"))
	for _, c := range r.Counted("left", 0, -1) {
		if out.Left == nil {
			out.Left = map[string]int{}
		}
		out.Left[c.Code] = c.N
	}
	for _, text := range typed.Codes(r.Text("looks")) {
		n, err := strconv.Atoi(text)
		if err != nil || n < 1 {
			r.Unread("looks", text, "numbers of stints, as 9, 13, 17")
		}
		out.Looks = append(out.Looks, n)
	}
	if name := r.Text("history"); name != "" {
		h, err := orders.History(ctx, a, name)
		r.Refuse("history", err)
		out.Table.History = h
	}
	if text := r.Text("wanted"); text != "" {
		x, u, err := unit.ParseQuantity(text)
		switch {
		case err != nil || !(x > 0 && x <= 1e6):
			r.Unread("wanted", text, "a number above 0")
		case u.IsZero():
			out.Wanted = x // index points or the unit: the measure's scale says
		default:
			out.Wanted = u.DifferenceToHouse(x)
		}
	}
	return out, r.Err
}

// Show shows the page.
func Show(ctx context.Context, a orders.Ask) (*orders.Leaf, error) {
	test := a.Chosen()
	histories, _, err := a.Choices(ctx, a.Typed)
	if err != nil {
		return nil, err
	}
	f := fields(histories)
	begins := usual(a, test)
	f.To, f.Kept = a.Base+"/order/advice", map[string]string{"test": test}
	f.Begins(begins)
	q := f.Complete(a.Typed)
	f.Filled(q)
	p := &Page{Look: a.Base + "/interim?" + url.Values{"test": {test}}.Encode(), Test: test, Tests: a.Tests(),
		Tabs: orders.Tabs(a.Base, test, "What next"), Form: f}
	l := &orders.Leaf{Page: "next", Body: p, Title: "There is no test to advise on", Below: "A test comes with its first table, recording or stint.",
		Codes: orders.CodesOf(begins["control"], typed.Codes(begins["candidates"]))}
	if test == "" {
		return l, nil
	}
	asked := f.Asked(q)
	if !asked { // the page answers at once by what is usual
		q = url.Values{}
		for k, v := range begins {
			q.Set(k, v)
		}
		q = f.Complete(q)
	}
	request, err := request(ctx, a, q)
	if err == nil {
		err = inScale(a, test, &request, q.Get("wanted"))
	}
	var got *ordering.AdviceAnswer
	if err == nil {
		got, err = ordering.AdviseTest(ctx, a.Folder, test, request)
	}
	switch {
	case err != nil && asked:
		return l, l.Refused(f, err)
	case err != nil:
		// Nobody asked yet: what stands in the way is no error of theirs.
		l.Title, l.Below = "Nothing can be advised of "+test+" yet", f.Says(err)+"."
		return l, onlyInternal(err)
	}
	p.fill(l, got, a.Style)
	for _, i := range a.State.Day.Open() {
		if i.Test == test {
			p.Caveats = append(p.Caveats, i.Title()+" is not released yet: runs since then are held and count for nothing here, and what is left may have to be planned anew.")
		}
	}
	return l, nil
}

func onlyInternal(err error) error {
	if fault.CodeOf(err) == fault.Internal {
		return err
	}
	return nil
}

// inScale brings a difference that was typed without a unit onto the scale that the
// measure is compared on: index points for ratios.
func inScale(a orders.Ask, test string, q *ordering.AdviceRequest, text string) error {
	if q.Wanted == 0 {
		return nil
	}
	_, u, err := unit.ParseQuantity(text)
	if err != nil {
		return err
	}
	measure := q.Table.Measure
	if t := a.Plan(test); measure == "" && t != nil {
		measure = t.First
	}
	m, err := a.Measure(test, measure)
	if err != nil {
		return err
	}
	ratio := m.Scale == programme.Ratio
	switch {
	case ratio && !u.IsZero():
		return fault.New(fault.Invalid, "%.40q has a unit, and the measure is compared in index points", text).At("wanted").WithHint("a number of index points, as 2")
	case ratio:
		q.Wanted = ordering.OnRatio(q.Wanted)
	}
	return nil
}

// fill prints an advice.
func (p *Page) fill(l *orders.Leaf, a *ordering.AdviceAnswer, style unit.Style) {
	d := a.Document()
	r := d.Results
	p.Shown, p.Unit = true, a.ShownUnit()
	l.Title = map[string]string{"control": "The next stint is the control " + r.Code, "candidate": "The next stint is best " + r.Code, "stop": "No further stint is advised", "wait": "Wait for the engineer"}[r.Next]
	l.Below = r.Reason
	n := func(x *float64) string {
		if x == nil {
			return "nothing yet"
		}
		return unit.Number(*x, 2, style)
	}
	for _, row := range r.Rows {
		x := Row{row.Code, n(row.Detectable)}
		if row.Open {
			x.Shows = "its bracket is open"
		}
		p.Rows = append(p.Rows, x)
	}
	stints := unit.Count(r.Stints, "stint")
	if r.DF > 0 {
		scatter := unit.Number(100*r.SD, 2, style) + " %"
		if a.Unit != "" && p.Unit == a.Unit {
			scatter = unit.Number(r.SD, 2, style) + " " + a.Unit
		}
		df := unit.Number(r.DF, 0, style)
		if math.Abs(r.DF-math.Round(r.DF)) > 0.005 {
			df = unit.Number(r.DF, 1, style)
		}
		p.Says = append(p.Says, fmt.Sprintf("After %s, stints scatter by %s about tyre and drift, known from %s degrees of freedom.", stints, scatter, df))
	} else {
		p.Says = append(p.Says, fmt.Sprintf("After %s: too few to know how stints scatter.", stints))
	}
	if text := a.AheadSays(style); text != "" {
		p.Says = append(p.Says, text)
	}
	if r.Level != nil {
		p.Due = true
		p.Says = append(p.Says, fmt.Sprintf("This is a look of the plan: verdicts are given here at a level of %s %% for all candidates together.", unit.Number(100**r.Level, 2, style)))
	}
	if c := r.Control; c != nil && !c.Moved {
		p.Says = append(p.Says, form.Sentence(c.Text)+".")
	}
	for _, o := range r.Options {
		p.Options = append(p.Options, Option{o.Code, o.Stints, n(o.After)})
	}
	for _, c := range d.Caveats {
		p.Caveats = append(p.Caveats, c.Text)
	}
	control := ""
	var codes []string
	for _, row := range r.Rows {
		codes = append(codes, row.Code)
	}
	for _, o := range r.Options {
		if o.Next == "control" {
			control = o.Code
		}
	}
	if r.Next == "control" {
		control = r.Code
	}
	if control == "" {
		control = l.Codes.Control
	}
	l.Codes = figure.Codes{Control: control, Candidates: codes}
	slices.Sort(l.Codes.Candidates)
}
