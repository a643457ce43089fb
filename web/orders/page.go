package orders

import (
	"context"
	"net/url"
	"slices"
	"time"

	"example.org/bookend/app"
	"example.org/bookend/app/ordering"
	"example.org/bookend/figure"
	"example.org/bookend/order/drift"
	"example.org/bookend/unit"
	"example.org/bookend/web/form"
)

// Page is the body of the order's page.
type Page struct {
	Tabs   []Tab
	Form   *form.Form
	Shown  *Shown
	Runs   string
	Models []string
	Drawn  string // address of the order drawn
	Take   *Taking
	Taken  []Taken
	Bring  Bring
	Sheet  string // address of the run sheet
}

// Taking is the form that takes an order into the programme.
type Taking struct {
	To, Asked, Test string
	Tests           []string
}

// Taken is an order that was taken into the programme.
type Taken struct {
	Test, Again, Person, When string
	Codes                     []string
	How                       string // drawn, own order, or planned anew and why
	Gone                      bool   // a later one took its place
}

// Bring is the form that brings in a table of an earlier programme.
type Bring struct {
	To, Asked string
	Name      string // as typed
	Text      string
	May       bool
}

// Begin gives the page as it is before anything is asked: the form, and the orders
// that were taken.
func Begin(ctx context.Context, a Ask, q url.Values) (*Page, *Leaf, error) {
	histories, tables, err := a.Choices(ctx, q)
	if err != nil {
		return nil, nil, err
	}
	p := &Page{Tabs: Tabs(a.Base, a.Test, "Search"), Form: Form(histories, tables),
		Bring: Bring{To: a.Base + "/order/table", Asked: Kept(q).Encode(), May: a.Writes}}
	p.Form.To = a.Base + "/order"
	p.Form.Begins(a.Usual)
	p.Form.Filled(q)
	for _, m := range drift.Models {
		p.Models = append(p.Models, form.Sentence(m))
	}
	l := &Leaf{Page: "order", Body: p, Scripts: []string{"order.js"}, Title: "No order is chosen yet", Below: "Name control and candidates: the control first, last and in between, candidates where drift does least harm."}
	for i, o := range slices.Backward(a.State.Orders) {
		t := Taken{Test: o.Test, Person: o.Person, When: o.At, Codes: o.Sequence, How: "own order"}
		if at, err := time.Parse(time.RFC3339, o.At); err == nil {
			t.When = at.In(a.Now.Location()).Format("2006-01-02 15:04")
		}
		switch {
		case o.Anew != nil:
			t.How = "planned anew after " + unit.Count(o.Anew.Results.After, "stint") + ": " + o.Anew.Results.Reason
		case o.Drawn:
			t.How = "drawn"
		}
		if o.Asked != "" && o.Anew == nil {
			t.Again = p.Form.To + "?" + o.Asked
		}
		t.Gone = slices.ContainsFunc(a.State.Orders[i+1:], func(x app.TakenOrder) bool { return x.Test == o.Test })
		p.Taken = append(p.Taken, t)
		if !t.Gone {
			l.Codes = CodesOf(o.ControlCode(), o.Sequence)
		}
	}
	if n := len(a.State.OrderedTests()); n > 0 {
		l.Title, l.Below = "The order of "+unit.Count(n, "test")+" is chosen", "Each opens to what it was chosen from. Another search begins below."
	}
	return p, l, nil
}

// Answer puts an answer on the page. kept is how it was asked for.
func (p *Page) Answer(l *Leaf, a Ask, got *ordering.Answer, kept url.Values) {
	p.Shown = Show(got, kept, a.Style)
	p.Runs = unit.Count(got.Plan.Request.Runs, "run")
	drawn := url.Values{}
	for k, x := range kept {
		if k != "own" {
			drawn[k] = x
		}
	}
	p.Drawn = p.Form.To + "?" + drawn.Encode()
	for i := range p.Shown.Rows { // whole addresses: the page may answer a form that was sent elsewhere
		for _, to := range []*string{&p.Shown.Rows[i].Earlier, &p.Shown.Rows[i].Later} {
			if *to != "" {
				*to = p.Form.To + *to
			}
		}
	}
	p.Sheet = a.Base + "/order/sheet?" + kept.Encode()
	if a.Writes {
		p.Take = &Taking{To: a.Base + "/order/take", Asked: kept.Encode(), Test: kept.Get("test"), Tests: a.Tests()}
	}
	l.Title, l.Below = p.Shown.Title, p.Shown.Below
	l.Codes = CodesOf(got.Plan.Request.Control, Sequence(got))
}

// CodesOf gives the codes of a sequence in the order in which candidates are
// drawn.
func CodesOf(control string, sequence []string) figure.Codes {
	c := figure.Codes{Control: control}
	for _, k := range sequence {
		if k != control && k != "/" && !slices.Contains(c.Candidates, k) {
			c.Candidates = append(c.Candidates, k)
		}
	}
	slices.Sort(c.Candidates)
	return c
}
