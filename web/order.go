package web

import (
	"context"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"example.org/bookend/app/ordering"
	"example.org/bookend/app/sight"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
	"example.org/bookend/web/orders"
	"example.org/bookend/web/orders/anew"
	"example.org/bookend/web/orders/runsheet"
	"example.org/bookend/web/orders/setout"
	"example.org/bookend/web/orders/typed"
	"example.org/bookend/web/work"
)

// usual gives what forms about the order begin with in this programme.
func (s *seen) usual() map[string]string {
	out := map[string]string{"control": s.opener()}
	var rest []string
	if p := s.state.Plans; out["control"] == "" && len(p) > 0 {
		out["control"] = p[len(p)-1].Plan.Control
	}
	if out["control"] == "" {
		out["control"] = "K"
	}
	for _, c := range s.codes() {
		if c != out["control"] {
			rest = append(rest, c+":2")
		}
	}
	var sizes []string
	for _, x := range s.state.Programme.Sets {
		if x.Code != "" && x.Code != out["control"] && !slices.Contains(rest, x.Code+":2") {
			rest = append(rest, x.Code+":2")
		}
		sizes = append(sizes, x.Size)
	}
	for _, x := range s.state.Day.Sets {
		sizes = append(sizes, x.Size)
	}
	slices.Sort(rest)
	out["candidates"] = strings.Join(rest, ", ")
	slices.Sort(sizes)
	out["sizes"] = strings.TrimSpace(strings.Join(slices.Compact(sizes), "\n"))
	// What the brief says of the vehicle is checked by itself; with less of it nothing is.
	if v := s.state.Programme.Asked; v.TopMps > 0 && v.FrontKg > 0 && v.RearKg > 0 && out["sizes"] != "" {
		out["speed"] = unit.Shortest(math.Round(v.TopMps*36) / 10)
		out["axles"] = "front: " + unit.Shortest(v.FrontKg) + " kg\nrear" + map[bool]string{true: " twin"}[v.TwinRear] + ": " + unit.Shortest(v.RearKg) + " kg"
	}
	return out
}

// ordered counts the tests whose order is chosen.
func (s *seen) ordered() int { return len(s.state.OrderedTests()) }

// asksOrder gives who asks for a page about the order, and how.
func (f *face) asksOrder(r *http.Request) (orders.Ask, Programme, *seen, error) {
	p, s, err := f.opened(r)
	if err != nil {
		return orders.Ask{}, p, nil, err
	}
	g, _ := f.doors.guest(r.Context())
	a := orders.Ask{Folder: p.Folder, State: s.state, Typed: r.URL.Query(), Base: p.base(), Usual: s.usual(), Style: lookOf(r).style(), Writes: writes(g.Role), Plans: sight.May(g.Role, sight.Plan, false)}
	a.Measure = func(test, id string) (programme.Measure, error) {
		d, err := s.test(test)
		if err != nil || d == nil {
			return programme.Measure{}, err
		}
		return d.Measure(id)
	}
	a.Await = func(about, title string, do func(stop <-chan struct{}) (any, error)) (any, error) {
		return awaited(f, r, p.Name+"/"+about, title, func(ctx context.Context, tell func(work.Far)) (any, error) {
			tell(work.Far{Doing: "orders are tried"})
			return do(ctx.Done())
		})
	}
	zone, err := s.zone()
	if err != nil {
		return a, p, s, err
	}
	now := time.Now
	if p.Folder.Now != nil {
		now = p.Folder.Now
	}
	a.Now = now().In(zone)
	if r.Method == http.MethodPost && !strings.HasPrefix(r.Header.Get("Content-Type"), "multipart/") {
		if err := readForm(r); err != nil {
			return a, p, s, err
		}
		a.Typed = r.PostForm
	}
	a.Test = strings.TrimSpace(a.Typed.Get("test"))
	return a, p, s, nil
}

// leaf shows a page about the order, or does what it asks for and goes where it
// leads.
func (f *face) leaf(step string, page func(context.Context, orders.Ask) (*orders.Leaf, error)) func(http.ResponseWriter, *http.Request) error {
	return func(w http.ResponseWriter, r *http.Request) error {
		a, p, s, err := f.asksOrder(r)
		if err != nil {
			return err
		}
		l, err := page(r.Context(), a)
		if err != nil {
			return err
		}
		return f.turn(w, r, step, p, s, l)
	}
}

// leafToEnter is a leaf that only those may ask for who may enter.
func (f *face) leafToEnter(what, step string, page func(context.Context, orders.Ask) (*orders.Leaf, error)) func(http.ResponseWriter, *http.Request) error {
	return func(w http.ResponseWriter, r *http.Request) error {
		if g, ok := f.doors.guest(r.Context()); !ok || !writes(g.Role) {
			return forbidden(what)
		}
		return f.leaf(step, page)(w, r)
	}
}

// turn hands a leaf out.
func (f *face) turn(w http.ResponseWriter, r *http.Request, step string, p Programme, s *seen, l *orders.Leaf) error {
	if l.Go != "" {
		http.Redirect(w, r, l.Go, http.StatusSeeOther)
		return nil
	}
	v := frame{Title: say(l.Title), Below: say(l.Below), Scripts: l.Scripts, Class: l.Class, Body: l.Body}
	f.around(&v, p, s, step)
	status := l.Status
	if status == 0 {
		status = http.StatusOK
	}
	return f.hand(w, r, status, l.Page, v, &l.Codes)
}

// sought gives the answer to an order that is asked for; searching may take a while,
// scoring another order beside what was found does not.
func (f *face) sought(r *http.Request, a orders.Ask, s *seen, q url.Values) (*ordering.Answer, error) {
	request, err := orders.Request(r.Context(), a, q)
	if err != nil {
		return nil, err
	}
	own := request.Own
	request.Own = nil
	about := url.Values{}
	for k, v := range q {
		if k != "own" && k != "test" {
			about[k] = v
		}
	}
	key := "order?" + about.Encode()
	var got *ordering.Answer
	if v, ok := s.made.Load(key); ok {
		got = v.(*ordering.Answer)
	} else {
		got, err = awaited(f, r, r.PathValue("programme")+"/"+key, "The search for the order", func(ctx context.Context, tell func(work.Far)) (*ordering.Answer, error) {
			tell(work.Far{Doing: "orders are tried"})
			request.Stop = ctx.Done()
			a, err := ordering.Order(request)
			if err == nil {
				s.made.Store(key, a)
			}
			return a, err
		})
		if err != nil {
			return nil, err
		}
	}
	if len(own) > 0 {
		got, err = got.Beside(own)
	}
	return got, err
}

// order shows in which order sets would be driven, and takes orders that were chosen.
func (f *face) order(w http.ResponseWriter, r *http.Request) error {
	a, p, s, err := f.asksOrder(r)
	if err != nil {
		return err
	}
	q := orders.Complete(a.Typed, a.Usual)
	body, l, err := orders.Begin(r.Context(), a, q)
	if err != nil {
		return err
	}
	if orders.Asked(q) {
		kept := orders.Kept(q)
		got, err := f.sought(r, a, s, kept)
		switch {
		case err != nil && fault.CodeOf(err) == fault.Conflict:
			return err // cancelled, or too much is under way
		case err != nil:
			if err := l.Refused(body.Form, err); err != nil {
				return err
			}
		default:
			body.Answer(l, a, got, kept)
		}
	}
	return f.turn(w, r, "Order", p, s, l)
}

// takeOrder takes an order into the programme.
func (f *face) takeOrder(w http.ResponseWriter, r *http.Request) error {
	a, p, s, err := f.asksOrder(r)
	if err != nil {
		return err
	}
	if !a.Writes {
		return forbidden("choose the order")
	}
	asked, err := url.ParseQuery(a.Typed.Get("asked"))
	if err != nil {
		return fault.New(fault.Invalid, "how the order was asked for cannot be read")
	}
	kept := orders.Kept(asked)
	kept.Set("test", a.Test)
	got, err := f.sought(r, a, s, kept)
	if err != nil {
		return err
	}
	if err := ordering.TakeOrder(r.Context(), p.Folder, a.Test, typed.Codes(kept.Get("own")), got, kept.Encode()); err != nil {
		// The order stays below what is wrong with taking it.
		body, l, e := orders.Begin(r.Context(), a, kept)
		if e != nil {
			return e
		}
		body.Answer(l, a, got, kept)
		if err := l.Refused(body.Form, err); err != nil {
			return err
		}
		return f.turn(w, r, "Order", p, s, l)
	}
	http.Redirect(w, r, p.base()+"/order#taken", http.StatusSeeOther)
	return nil
}

// bringTable brings a table of an earlier programme in.
func (f *face) bringTable(w http.ResponseWriter, r *http.Request) error {
	a, p, s, err := f.asksOrder(r)
	if err != nil {
		return err
	}
	if !a.Writes {
		return forbidden("bring a table in")
	}
	l, err := orders.BringIn(r.Context(), a, r)
	if err != nil {
		return err
	}
	return f.turn(w, r, "Order", p, s, l)
}

// conesFile hands out the lay-out of cones as a file.
func (f *face) conesFile(w http.ResponseWriter, r *http.Request) error {
	a, _, _, err := f.asksOrder(r)
	if err != nil {
		return err
	}
	data, kind, err := setout.Take(a, r.PathValue("file"))
	switch {
	case fault.CodeOf(err) == fault.Invalid:
		return f.leaf("Order", setout.Page)(w, r) // which says it at its field
	case err != nil:
		return err
	}
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Disposition", `attachment; filename="`+r.PathValue("file")+`"`) // one of the names that Take knows
	_, _ = w.Write(data)                                                                    // whoever asked may be gone
	return nil
}

// runSheet gives the run sheet of an order, as it is printed.
func (f *face) runSheet(w http.ResponseWriter, r *http.Request) error {
	a, _, s, err := f.asksOrder(r)
	if err != nil {
		return err
	}
	kept := orders.Kept(orders.Complete(a.Typed, a.Usual))
	got, err := f.sought(r, a, s, kept)
	switch {
	case fault.CodeOf(err) == fault.Invalid:
		return f.order(w, r) // which says it at its field
	case err != nil:
		return err
	}
	b, err := runsheet.Whole(a, got, kept)
	return printed(w, b, err)
}

// restSheet gives the run sheet of what is left of a day.
func (f *face) restSheet(w http.ResponseWriter, r *http.Request) error {
	a, p, s, err := f.asksOrder(r)
	if err != nil {
		return err
	}
	l, err := anew.Show(r.Context(), a)
	switch {
	case err != nil:
		return err
	case l.Status != 0:
		return f.turn(w, r, "Order", p, s, l) // which says what is wrong at its field
	}
	b, err := runsheet.Rest(a, l.Body.(*anew.Page))
	return printed(w, b, err)
}

// printed hands out a page that carries its style itself.
func printed(w http.ResponseWriter, page []byte, err error) error {
	if err != nil {
		return err
	}
	w.Header().Set("Content-Security-Policy", policyWhole)
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_, _ = w.Write(page) // whoever asked may be gone
	return nil
}
