// Package anew is the page on which the rest of a day is planned anew: after a shower,
// a set that is lost, an hour that is gone. What was driven stands as the run log has
// it, what was planned as the order that was taken; what is left is laid out within the
// time and the wear that remain, with what that costs against the plan.
//
// The order that is found is taken into the programme with a reason, and the deviation
// is logged. Times are of the ground's clock. Limits: as package order, whose replanning
// it shows; that a plan was changed changes no verdict's rules.
package anew

import (
	"context"
	"fmt"
	"html/template"
	"net/url"
	"strconv"
	"strings"
	"time"

	"example.org/bookend/app/ordered"
	"example.org/bookend/app/ordering"
	"example.org/bookend/fault"
	"example.org/bookend/figure"
	"example.org/bookend/order/day"
	"example.org/bookend/unit"
	"example.org/bookend/web/form"
	"example.org/bookend/web/orders"
	"example.org/bookend/web/orders/typed"
)

// happened gives the part of the form that is about what happened.
func happened(a orders.Ask) form.Group {
	incidents := []form.Choice{{"", "none"}}
	for _, i := range a.State.Day.Incidents {
		incidents = append(incidents, form.Choice{i.Entry.ID, i.Title()})
	}
	return form.Group{Title: "What happened", Fields: []form.Field{
		{Name: "driven", Title: "Driven so far", Hint: "codes as they were driven; blocks divided by /"},
		{Name: "lost", Title: "Cannot be driven any more", Hint: "codes"},
		{Name: "left", Title: "Stints that sets still last", Hint: "as P:1, R:2; others: as planned"},
		{Name: "incident", Title: "Incident", Choices: incidents},
		{Name: "reason", Title: "Reason", Needed: true, Hint: "it is kept as a deviation from the plan"},
		{Name: "fresh", Title: "What is left begins a block of its own, as after a shower", Tick: true},
	}}
}

// asking gives the whole form: what happened, then the order as it was planned.
func asking(a orders.Ask, histories, tables []form.Choice) *form.Form {
	f := orders.Form(histories, tables)
	f.To, f.Do = a.Base+"/order/anew", "Plan the rest"
	out := []form.Group{happened(a)}
	for i, g := range f.Groups {
		switch i {
		case 0:
			g.Title = "What was planned"
		case 2:
			g.Title = "The time that is left"
			for j := range g.Fields {
				if g.Fields[j].Name == "start" {
					g.Fields[j].Title = "The next fitting begins"
				}
			}
		default:
			g.Folded = true
		}
		out = append(out, g)
	}
	f.Groups = out
	return f
}

// Page is the body of the page.
type Page struct {
	Take, Asked   string
	Test          string
	Tests         []string
	Tabs          []orders.Tab
	Form          *form.Form
	Shown         bool
	Drawing       template.HTML
	Rows          []orders.Row
	Timed, Blocks bool
	Says          []string
	Caveats       []string
	May           bool
	Runs          int // a stint
	Sheet         string
}

// usual gives what the form begins with: the order that was taken, what was driven,
// and the clock.
func usual(a orders.Ask, test string) map[string]string {
	out := map[string]string{}
	for k, v := range a.Usual {
		out[k] = v
	}
	o, ok := a.State.Order(test)
	if ok {
		if q, err := url.ParseQuery(o.Asked); err == nil {
			for k := range orders.Kept(q) {
				out[k] = q.Get(k)
			}
		}
	}
	d := a.Driven(test)
	out["driven"], out["lost"] = strings.Join(d.Codes, " "), strings.Join(d.Lost, ", ")
	if d.Fresh {
		out["fresh"] = "yes"
	}
	if out["run_time"] != "" {
		at := a.Now.Truncate(5 * time.Minute)
		if at.Before(a.Now) {
			at = at.Add(5 * time.Minute)
		}
		out["start"] = at.Format("15:04")
	}
	for _, i := range a.State.Day.Open() {
		if i.Test == test {
			out["incident"] = i.Entry.ID
		}
	}
	return out
}

// plan reads the form and plans the rest.
func plan(ctx context.Context, a orders.Ask, q url.Values) (*ordering.ReorderAnswer, error) {
	r := &typed.Reader{Reader: form.Reader{Typed: q}}
	whole, err := orders.Request(ctx, a, q)
	if err != nil {
		return nil, err
	}
	whole.Own = nil
	out := ordering.ReorderRequest{Plan: whole, Driven: typed.Codes(r.Text("driven")), Fresh: r.Ticked("fresh"), Lost: typed.Codes(r.Text("lost")), Reason: r.Text("reason")}
	if out.Reason == "" {
		r.Bad("reason", "say what happened", "no reason is given for planning anew")
	}
	for _, c := range r.Counted("left", 0, -1) {
		if out.Left == nil {
			out.Left = map[string]int{}
		}
		out.Left[c.Code] = c.N
	}
	if r.Err != nil {
		return nil, r.Err
	}
	got, err := a.Await("anew?"+q.Encode(), "Planning the rest anew", func(stop <-chan struct{}) (any, error) {
		out.Plan.Stop = stop
		return ordering.Reorder(out)
	})
	if err != nil {
		return nil, err
	}
	return got.(*ordering.ReorderAnswer), nil
}

// Show shows the page.
func Show(ctx context.Context, a orders.Ask) (*orders.Leaf, error) {
	_, l, err := show(ctx, a, a.Typed)
	return l, err
}

func show(ctx context.Context, a orders.Ask, q url.Values) (*ordering.ReorderAnswer, *orders.Leaf, error) {
	test := a.Chosen()
	histories, tables, err := a.Choices(ctx, q)
	if err != nil {
		return nil, nil, err
	}
	begins := usual(a, test)
	f := asking(a, histories, tables)
	f.Kept = map[string]string{"test": test}
	f.Begins(begins)
	q = f.Complete(q)
	f.Filled(q)
	p := &Page{Take: a.Base + "/order/anew/take", Test: test, Tests: a.Tests(), May: a.Writes, Tabs: orders.Tabs(a.Base, test, "Plan the rest anew"), Form: f}
	driven := len(typed.Codes(strings.ReplaceAll(begins["driven"], "/", " ")))
	l := &orders.Leaf{Page: "anew", Body: p, Title: fmt.Sprintf("%s driven: what is left can be planned anew", count(driven, "stint")),
		Below: "Say what happened and what time is left. What was driven is kept.", Codes: codes(a, test, begins)}
	if len(p.Tests) == 0 {
		l.Title, l.Below = "There is no test whose rest could be planned", "A test comes with its first table, recording or stint."
	}
	if !f.Asked(q) {
		return nil, l, nil
	}
	got, err := plan(ctx, a, q)
	if err != nil {
		return nil, l, l.Refused(f, err)
	}
	p.Asked = f.Part(q, "test").Encode()
	p.Sheet = f.To + "/sheet?" + p.Asked
	if p.Runs, err = strconv.Atoi(strings.TrimSpace(q.Get("runs"))); err != nil {
		p.Runs = 1 // as the request has it where nothing is said
	}
	p.fill(l, got, q.Get("control"), a.Style)
	return got, l, nil
}

// codes gives the codes of the page for their marks.
func codes(a orders.Ask, test string, begins map[string]string) figure.Codes {
	sequence := typed.Codes(begins["driven"])
	if o, ok := a.State.Order(test); ok {
		sequence = append(sequence, o.Sequence...)
	}
	return orders.CodesOf(begins["control"], sequence)
}

func count(n int, one string) string {
	switch n {
	case 0:
		return "No " + one
	case 1:
		return "One " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}

// fill prints how to go on.
func (p *Page) fill(l *orders.Leaf, a *ordering.ReorderAnswer, control string, style unit.Style) {
	d := a.Document()
	r := d.Results
	n := func(x float64) string { return unit.Number(x, 2, style) }
	p.Shown = true
	sequence := []string{}
	for i, s := range r.Sequence {
		row := orders.Row{At: i, Stint: s.Position, Block: s.Block, Code: s.Code, Set: s.Set, Fit: s.Fit, Drive: s.Drive, Run: s.Run, End: s.End, Free: s.Free, First: i == 0, Control: s.Code == control}
		p.Timed = p.Timed || s.Fit != ""
		p.Blocks = p.Blocks || s.Block > 1
		p.Rows = append(p.Rows, row)
		sequence = append(sequence, s.Code)
	}
	p.Drawing = orders.Draw(p.Rows, control, a.Rest.Rest, p.Timed)
	l.Codes = orders.CodesOf(control, append(a.Sequence(), sequence...))
	l.Title = count(r.After, "stint") + " driven, none to go"
	if k := len(r.Sequence); k > 0 {
		l.Title = fmt.Sprintf("%s driven, %d to go", count(r.After, "stint"), k)
	}
	if k := len(a.Rest.Rest); k > 0 && a.Rest.Rest[k-1].Slot != nil {
		l.Title += ", over at " + day.Clock(a.Rest.Rest[k-1].Slot.FreeS)
	}
	shows := func(o *ordered.Detectable) string {
		switch {
		case o == nil:
			return "shows nothing: no degrees of freedom"
		case o.Value == nil:
			return fmt.Sprintf("shows what differs by %s standard deviations of a stint mean", n(o.SD))
		}
		return fmt.Sprintf("shows what differs by %s %s", n(*o.Value), a.Of.ShownUnit())
	}
	l.Below = "The whole, what was driven included, " + shows(r.Shown)
	if r.Planned > 0 {
		l.Below += "; the plan would have shown " + strings.TrimPrefix(strings.TrimPrefix(shows(r.Expected), "shows what differs by "), "shows ")
	}
	l.Below += "."
	text := "Criterion of the whole: " + n(r.Criterion)
	if r.Planned > 0 {
		text += "; as planned " + n(r.Planned)
	}
	if !r.Proven {
		text += "; there are too many orders of what is left to try them all"
	}
	p.Says = append(p.Says, text+".")
	for _, c := range d.Caveats {
		p.Caveats = append(p.Caveats, c.Text)
	}
}

// Take takes the order that was planned anew into the programme.
func Take(ctx context.Context, a orders.Ask) (*orders.Leaf, error) {
	asked, err := url.ParseQuery(a.Typed.Get("asked"))
	if err != nil {
		return nil, fault.New(fault.Invalid, "how the rest was asked for cannot be read")
	}
	a.Test = strings.TrimSpace(asked.Get("test"))
	got, l, err := show(ctx, a, asked)
	if err != nil || got == nil {
		return l, err
	}
	// What was planned is asked for again as an order: without what happened.
	if err := ordering.TakeReorder(ctx, a.Folder, a.Chosen(), asked.Get("incident"), got, orders.Kept(asked).Encode()); err != nil {
		return nil, err
	}
	return &orders.Leaf{Go: a.Base + "/order#taken"}, nil
}
