package web

import (
	"fmt"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"example.org/bookend/app"
	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/figure"
	"example.org/bookend/order"
	"example.org/bookend/order/day"
	"example.org/bookend/order/drift"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// ordered is the body of the page of orders.
type ordered struct {
	Form      orderForm
	Sequence  []app.OrderStint
	Times     bool
	Blocks    bool
	Rows      []orderedRow
	Best      string
	Says      []string // what it can show, and what a stint more or fewer would do
	Doubts    []caveat.Caveat
	Candidate bool // there is an order
}

type orderedRow struct {
	Code  string
	Free  string
	Under []string // under each kind of drift; the best possible in brackets
}

// orderForm is what is asked, as typed.
type orderForm struct {
	Control, Candidates                                         string
	Repeats, Controls, Between, Blocks, Runs, Seed              string
	Correction, StintSD, Wanted, Start, RunTime, WheelTime, Own string
	Reversed                                                    bool
	Corrections                                                 []string
}

// readOrder takes the form from an address, with what the programme says where nothing
// is typed.
func (s *seen) readOrder(r *http.Request) orderForm {
	q := r.URL.Query()
	or := func(key, otherwise string) string {
		if v := strings.TrimSpace(q.Get(key)); v != "" || q.Has(key) {
			return v
		}
		return otherwise
	}
	control := s.opener()
	if control == "" {
		control = "K"
	}
	var others []string
	for _, c := range s.codes() {
		if c != control {
			others = append(others, c)
		}
	}
	for _, x := range s.state.Programme.Sets {
		if x.Code != "" && x.Code != control && !slices.Contains(others, x.Code) {
			others = append(others, x.Code)
		}
	}
	slices.Sort(others)
	return orderForm{
		Control: or("control", control), Candidates: or("candidates", strings.Join(others, " ")), Repeats: or("repeats", "2"), Controls: or("controls", ""),
		Between: or("between", "3"), Blocks: or("blocks", "1"), Runs: or("runs", "4"), Seed: or("seed", "1"), Correction: or("correction", "bracket"),
		StintSD: or("stint-sd", ""), Wanted: or("wanted", ""), Start: or("start", "08:30"), RunTime: or("run-time", ""), WheelTime: or("wheel", "4"), Own: or("own", ""),
		Reversed: q.Get("reversed") == "yes", Corrections: []string{"none", "bracket", "linear", "quadratic"},
	}
}

// request turns the form into a request.
func (f orderForm) request() (q app.OrderRequest, err error) {
	whole := func(what, text string, least, most int) int {
		if err != nil {
			return 0
		}
		v, e := strconv.Atoi(strings.TrimSpace(text))
		if e != nil || v < least || v > most {
			err = fault.New(fault.Invalid, "%s: %q is no whole number from %d to %d", what, text, least, most)
		}
		return v
	}
	number := func(what, text string) float64 {
		if err != nil || strings.TrimSpace(text) == "" {
			return 0
		}
		v, e := strconv.ParseFloat(strings.Replace(strings.TrimSpace(text), ",", ".", 1), 64)
		if e != nil || !(v > 0 && v < 1e4) {
			err = fault.New(fault.Invalid, "%s: %q is no number above 0", what, text)
		}
		return v
	}
	q.Control, q.Scale, q.Correction, q.Reversed = strings.TrimSpace(f.Control), programme.Ratio, drift.Correction(f.Correction), f.Reversed
	repeats := whole("stints of each candidate", f.Repeats, 1, 20)
	stints := 0
	for _, c := range strings.FieldsFunc(f.Candidates, func(r rune) bool { return r == ' ' || r == ',' || r == ';' }) {
		q.Candidates = append(q.Candidates, order.Candidate{Code: c, Repeats: repeats})
		stints += repeats
	}
	q.MostBetween, q.Blocks, q.Runs, q.Seed = whole("candidates between two controls", f.Between, 0, 50), whole("days or drivers", f.Blocks, 1, 20), whole("runs a stint", f.Runs, 1, 100), uint64(whole("seed", f.Seed, 0, math.MaxInt32))
	if f.Controls != "" {
		q.ControlStints = whole("stints of the control", f.Controls, 1, 100)
	} else if err == nil {
		q.ControlStints = max(3, 2*q.Blocks)
		if q.MostBetween > 0 {
			q.ControlStints = max(q.ControlStints, (stints+q.MostBetween-1)/q.MostBetween+q.Blocks)
		}
		q.ControlStints = min(q.ControlStints, max(2, stints+1))
	}
	if sd := number("stint standard deviation", f.StintSD); sd > 0 {
		q.Scatter = &programme.Scatter{StintSD: sd / 100, FromText: "typed in"}
	}
	if w := number("difference to be shown", f.Wanted); w > 0 {
		q.Test.Wanted = math.Log1p(w / 100)
	}
	if run := number("time of a run", f.RunTime); run > 0 && err == nil {
		h, m, ok := strings.Cut(f.Start, ":")
		hour, e1 := strconv.Atoi(h)
		minute, e2 := strconv.Atoi(m)
		if !ok || e1 != nil || e2 != nil || hour < 0 || hour > 23 || minute < 0 || minute > 59 {
			return q, fault.New(fault.Invalid, "%q is no time of day", f.Start).WithHint("for example 08:30")
		}
		q.Times = &day.Times{StartS: float64(hour*3600 + minute*60), RunS: run * 60, WheelS: number("time of a wheel", f.WheelTime) * 60, Crew: 1, Wheels: 4}
	}
	if f.Own != "" {
		q.Own = strings.FieldsFunc(f.Own, func(r rune) bool { return r == ' ' || r == ',' })
	}
	return q, err
}

// order plans in which order sets are fitted, and says what that order can show.
func (f *face) order(w http.ResponseWriter, r *http.Request) error {
	p, s, err := f.opened(r)
	if err != nil {
		return err
	}
	v := frame{}
	f.around(&v, p, s, "Order")
	form := s.readOrder(r)
	body := ordered{Form: form}
	codes := figure.Codes{Control: form.Control}
	if strings.TrimSpace(form.Candidates) == "" {
		v.Title, v.Below, v.Body = say("No candidate is named yet"), say("Name their codes, and what each stint costs; the control opens, closes and comes in between."), body
		return f.hand(w, r, http.StatusOK, "order", v, &codes)
	}
	q, err := form.request()
	if err != nil {
		return err
	}
	a, err := app.Order(q)
	if err != nil {
		return err
	}
	d := a.Document()
	style := unit.Style{Comma: lookOf(r).Comma}
	n := func(x float64) string { return unit.Number(x, 2, style) }
	for _, c := range q.Candidates {
		codes.Candidates = append(codes.Candidates, c.Code)
	}
	slices.Sort(codes.Candidates)
	body.Candidate, body.Sequence, body.Times, body.Blocks, body.Doubts = true, d.Results.Sequence, q.Times != nil, q.Blocks > 1, d.Caveats
	for _, c := range a.Plan.Score.Candidates {
		row := orderedRow{Code: c.Code, Free: n(c.Free)}
		for m := range c.Under {
			row.Under = append(row.Under, n(c.Under[m])+" ("+n(c.Best[m])+")")
		}
		body.Rows = append(body.Rows, row)
	}
	how := fmt.Sprintf("the best of %d that were tried", d.Results.Best.Tried)
	if d.Results.Best.Proven {
		how = fmt.Sprintf("the best there is, all %d tried", d.Results.Best.Tried)
	}
	body.Best = fmt.Sprintf("Criterion %s; %s has %s (%s). %s within 2 %% of it; one was drawn by the seed.", n(d.Results.Criterion),
		strings.Join(d.Results.Best.Sequence, " "), n(d.Results.Best.Criterion), how, plural(d.Results.Best.Near, "order"))
	shows := func(x *app.OrderDetectable) string {
		switch {
		case x == nil:
			return "shows nothing: no degrees of freedom"
		case x.Value == nil:
			return fmt.Sprintf("shows %s standard deviations of a stint mean, on %d degrees of freedom", n(x.SD), x.DF)
		}
		return fmt.Sprintf("shows %s %s, on %d degrees of freedom", n(*x.Value), a.ShownUnit(), x.DF)
	}
	percent := unit.Number(100*a.Plan.Request.Test.Power, 0, style)
	body.Says = append(body.Says, "With a power of "+percent+" % this order "+shows(d.Results.Detectable)+".")
	for _, o := range []struct {
		word string
		of   *app.OrderOther
	}{{"One control stint more", d.Results.More}, {"One control stint fewer", d.Results.Fewer}} {
		switch {
		case o.of == nil:
		case o.of.Clash != "":
			body.Says = append(body.Says, o.word+": "+o.of.Clash+".")
		default:
			body.Says = append(body.Says, fmt.Sprintf("%s (%s): %s.", o.word, plural(o.of.Stints, "stint"), shows(o.of.Detectable)))
		}
	}
	if x := d.Results.Needed; x != nil {
		body.Says = append(body.Says, fmt.Sprintf("To show %s %s: %s of each candidate and %d of the control, %s in all.", n(a.Shown(a.Plan.Request.Test.Wanted)), a.ShownUnit(), plural(x.Repeats, "stint"), x.Controls, plural(x.Stints, "stint")))
	}
	if o := d.Results.Own; o != nil {
		body.Says = append(body.Says, fmt.Sprintf("Your own order: criterion %s, the best there is has %s %% of it.", n(o.Criterion), unit.Number(100*o.Efficiency, 0, style)))
	}
	v.Title = say(fmt.Sprintf("%s, %d of them of ", plural(len(d.Results.Sequence), "stint"), a.Plan.Request.ControlStints), code(q.Control), ": the order "+shows(d.Results.Detectable))
	v.Below = say("The control opens, closes and comes in between, so that drift of surface, weather and driver shows. The same seed draws the same order.")
	v.Body = body
	return f.hand(w, r, http.StatusOK, "order", v, &codes)
}
