package web

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"example.org/bookend/app"
	"example.org/bookend/fault"
	"example.org/bookend/figure"
	"example.org/bookend/order/drift"
	"example.org/bookend/web/orders"
	"example.org/bookend/web/work"
)

// ordered is the body of the order's page.
type ordered struct {
	Here   string
	Groups []orders.Group
	Shown  *orders.Shown
	Runs   string
	Models []string
	Drawn  string // address of the order drawn
	Take   *taking
	Taken  []takenOrder
}

// taking is the form that takes an order into the programme.
type taking struct {
	To, Asked, Test string
	Tests           []string
}

type takenOrder struct {
	Test, Again, Person, When string
	Codes                     []string
	Drawn                     bool
}

// usual gives what the form begins with in this programme.
func (s *seen) usual() map[string]string {
	out := map[string]string{"control": s.opener()}
	var rest []string
	for _, c := range s.codes() {
		if c != out["control"] {
			rest = append(rest, c+":2")
		}
	}
	if p := s.state.Plans; out["control"] == "" && len(p) > 0 {
		out["control"] = p[len(p)-1].Plan.Control
	}
	if out["control"] == "" {
		out["control"] = "K"
	}
	for _, x := range s.state.Programme.Sets {
		if x.Code != "" && x.Code != out["control"] && !slices.Contains(rest, x.Code+":2") {
			rest = append(rest, x.Code+":2")
		}
	}
	slices.Sort(rest)
	out["candidates"] = strings.Join(rest, ", ")
	return out
}

// ordered counts the tests whose order is chosen.
func (s *seen) ordered() int { return len(s.state.OrderedTests()) }

// sought gives the answer to an order that is asked for; searching may take a while.
func (f *face) sought(r *http.Request, s *seen, q url.Values) (*app.OrderAnswer, error) {
	request, err := orders.Request(q, s.state.Programme.Zone)
	if err != nil {
		return nil, err
	}
	key := "order?" + q.Encode()
	if v, ok := s.made.Load(key); ok {
		return v.(*app.OrderAnswer), nil
	}
	return awaited(f, r, r.PathValue("programme")+"/"+key, "The search for the order", func(ctx context.Context, tell func(work.Far)) (*app.OrderAnswer, error) {
		tell(work.Far{Doing: "orders are tried"})
		request.Stop = ctx.Done()
		a, err := app.Order(request)
		if err == nil {
			s.made.Store(key, a)
		}
		return a, err
	})
}

// order shows in which order sets would be driven, and takes orders that were chosen.
func (f *face) order(w http.ResponseWriter, r *http.Request) error {
	p, s, err := f.opened(r)
	if err != nil {
		return err
	}
	q := orders.Complete(r.URL.Query(), s.usual())
	body := ordered{Here: p.base() + "/order", Groups: orders.Form(q, s.usual())}
	for _, m := range drift.Models {
		body.Models = append(body.Models, sentence(m))
	}
	v := frame{Title: say("No order is chosen yet"), Below: say("Name control and candidates: the control first, last and in between, candidates where drift does least harm.")}
	f.around(&v, p, s, "Order")
	zone, err := s.state.Zone()
	if err != nil {
		return err
	}
	if zone == nil {
		zone = time.UTC
	}
	codes := figure.Codes{}
	for _, test := range s.state.OrderedTests() {
		o, ok := s.state.Order(test)
		if !ok {
			continue
		}
		again := ""
		if o.Asked != "" {
			again = "?" + o.Asked
		}
		when := o.At
		if at, err := time.Parse(time.RFC3339, o.At); err == nil {
			when = at.In(zone).Format("2006-01-02 15:04")
		}
		body.Taken = append(body.Taken, takenOrder{Test: o.Test, Again: again, Person: o.Person, When: when, Codes: o.Sequence, Drawn: o.Drawn})
		codes = codesOf(o.Order.Settings["control"], o.Sequence)
	}
	if n := len(body.Taken); n > 0 {
		v.Title = say("The order of " + plural(n, "test") + " is chosen")
		v.Below = say("Each opens to what it was chosen from. Another search begins below.")
	}
	if !orders.Asked(q) {
		v.Body = body
		return f.hand(w, r, http.StatusOK, "order", v, &codes)
	}
	kept := orders.Kept(q)
	a, err := f.sought(r, s, kept)
	status := http.StatusOK
	var waits *waiting
	switch {
	case errors.As(err, &waits):
		return err
	case err != nil && fault.CodeOf(err) != fault.Internal && fault.CodeOf(err) != fault.Conflict:
		// The form stays as it was filled in, below what is wrong with it.
		status = statuses[fault.CodeOf(err)]
		v.Title, v.Below = say(sentence(err.Error())), say(sentence(fault.HintOf(err)))
	case err != nil:
		return err
	default:
		body.Shown = orders.Show(a, kept, lookOf(r).style())
		body.Runs = plural(a.Plan.Request.Runs, "run")
		drawn := url.Values{}
		for k, x := range kept {
			if k != "own" {
				drawn[k] = x
			}
		}
		body.Drawn = "?" + drawn.Encode()
		body.Take = &taking{To: p.base() + "/order/take", Asked: kept.Encode(), Test: kept.Get("test")}
		for _, t := range s.state.Tests {
			body.Take.Tests = append(body.Take.Tests, t.Test.ID)
		}
		v.Title, v.Below = say(body.Shown.Title), say(body.Shown.Below)
		v.Scripts = append(v.Scripts, "print.js")
		codes = codesOf(a.Plan.Request.Control, orders.Sequence(a))
	}
	v.Body = body
	return f.hand(w, r, status, "order", v, &codes)
}

// codesOf gives the codes of a sequence in the order in which candidates are
// drawn.
func codesOf(control string, sequence []string) figure.Codes {
	c := figure.Codes{Control: control}
	for _, k := range sequence {
		if k != control && k != "/" && !slices.Contains(c.Candidates, k) {
			c.Candidates = append(c.Candidates, k)
		}
	}
	slices.Sort(c.Candidates)
	return c
}

// takeOrder takes an order into the programme.
func (f *face) takeOrder(w http.ResponseWriter, r *http.Request) error {
	g, ok := f.doors.guest(r.Context())
	if ok && !writes(g.Role) {
		return forbidden("choose the order")
	}
	p, s, err := f.opened(r)
	if err != nil {
		return err
	}
	if err := r.ParseForm(); err != nil {
		return fault.New(fault.Invalid, "reading the form: %w", err)
	}
	asked, err := url.ParseQuery(r.PostForm.Get("asked"))
	if err != nil {
		return fault.New(fault.Invalid, "how the order was asked for cannot be read")
	}
	kept := orders.Kept(asked)
	test := strings.TrimSpace(r.PostForm.Get("test"))
	kept.Set("test", test)
	a, err := f.sought(r, s, kept)
	if err != nil {
		return err
	}
	if err := p.Folder.TakeOrder(r.Context(), test, orders.Codes(kept.Get("own")), a, kept.Encode()); err != nil {
		return err
	}
	http.Redirect(w, r, p.base()+"/order#taken", http.StatusSeeOther)
	return nil
}
