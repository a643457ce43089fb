package web

import (
	"maps"
	"net/http"
	"slices"
	"strings"
	"time"

	"example.org/bookend/app/sight"
	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// ran is the body of a run's page: what it yielded, and what that rests on.
type ran struct {
	Test, Run  string
	Stint      programme.Stint
	Number     int
	Began      string
	File       string
	Line       int
	Numbers    []ranNumber
	Doubts     []caveat.Caveat
	Out        *programme.Exclusion // left out, and why
	Mine       bool                 // by a person, who can take it back
	To         string               // its address
	Before     string               // address of the run before
	After      string               // and of the run after
	Conditions []ranNumber
	Recordings []string
	Remark     string
	Said       []said // beside the run, and of its stint as a whole
	Back       string // to the verdicts
	TestTitle  string
}

type ranNumber struct {
	Title, Place, Value, Unit, Uncertainty, Derivation string
	Out                                                string
}

// run shows one run with every number that it yielded.
func (f *face) run(w http.ResponseWriter, r *http.Request) error {
	p, s, err := f.opened(r)
	if err != nil {
		return err
	}
	d, err := s.test(r.PathValue("test"))
	if err != nil {
		return err
	}
	at := slices.IndexFunc(d.Log.Runs, func(x programme.Run) bool { return x.ID == r.PathValue("run") })
	if at < 0 {
		return fault.New(fault.NotFound, "test %s has no run %q", d.Test.Test.ID, r.PathValue("run"))
	}
	run := d.Log.Runs[at]
	style := lookOf(r).style()
	body := ran{Test: d.Test.Test.ID, TestTitle: d.Test.Test.Title, Run: run.ID, Number: run.Number, File: run.File, Line: run.Line, Remark: run.Remark, Back: p.base() + "/verdicts", To: p.runTo(d.Test.Test.ID, run.ID)}
	for _, st := range d.Log.Stints {
		if st.ID == run.Stint {
			body.Stint = st
		}
	}
	address := func(i int) string {
		if i < 0 || i >= len(d.Log.Runs) {
			return ""
		}
		return p.runTo(d.Test.Test.ID, d.Log.Runs[i].ID)
	}
	body.Before, body.After = address(at-1), address(at+1)
	zone, err := s.zone()
	if err != nil {
		return err
	}
	if run.At.Known() {
		body.Began = run.At.Time().In(zone).Format("2006-01-02 15:04:05 MST")
	}
	for _, o := range d.Log.Observations {
		if o.Run != run.ID {
			continue
		}
		m, err := d.Measure(o.Measure)
		if err != nil {
			return err
		}
		n := ranNumber{Title: m.Title, Place: o.Place, Derivation: o.Derivation}
		n.Value, n.Unit = shown(o.Value, m, style)
		if o.Uncertainty != nil {
			n.Uncertainty = unit.PlusMinus(*o.Uncertainty, m.Digits+1, style)
		}
		body.Numbers = append(body.Numbers, n)
		body.Doubts = append(body.Doubts, o.Caveats...)
	}
	body.Doubts = caveat.List(body.Doubts).Distinct()
	for _, name := range slices.Sorted(maps.Keys(run.Covariates)) {
		stem, u, ok := unit.SplitName(name)
		n := ranNumber{Title: strings.ReplaceAll(stem, "_", " "), Value: unit.Number(run.Covariates[name], 2, style)}
		if ok {
			rim := style.Of(unit.Rim(u.Dimension()))
			if x, err := unit.Convert(run.Covariates[name], u, rim); err == nil {
				n.Value, n.Unit = unit.Number(x, 2, style), rim.Symbol()
			}
		}
		body.Conditions = append(body.Conditions, n)
	}
	body.Said = s.remarks(p, d.Test.Test.ID, body.Stint.ID, strings.TrimPrefix(run.ID, body.Stint.ID+"/"), func(ns int64) string { return time.Unix(0, ns).In(zone).Format("15:04") })
	for i, x := range d.Log.Exclusions {
		if x.Run == run.ID && x.Measure == "" {
			body.Out = &d.Log.Exclusions[i]
		}
	}
	for _, x := range s.state.Exclusions {
		body.Mine = body.Mine || x.Test == d.Test.Test.ID && x.Exclusion.Run == run.ID
	}
	v := frame{Body: body}
	v.Title = say("Run ", run.ID, " of ", code(body.Stint.Code), " counts")
	if body.Out != nil {
		v.Title = say("Run ", run.ID, " of ", code(body.Stint.Code), " is left out: ", body.Out.Reason)
	}
	v.Below = say("Stint ", body.Stint.ID, ", run ", unit.Shortest(float64(run.Number)), " of it, test ", d.Test.Test.Title, ".")
	f.around(&v, p, s, "Verdicts")
	return f.hand(w, r, http.StatusOK, "run", v, s.palette())
}

// runTo gives the address of a run.
func (p Programme) runTo(test, run string) string {
	return p.base() + "/runs/" + escape(test) + "/" + escape(run)
}

// shown prints a value in the unit that the reader wants to see.
func shown(v float64, m programme.Measure, style unit.Style) (text, symbol string) {
	if m.Unit == "1" {
		return unit.Number(v, m.Digits, style), ""
	}
	u, ok := unit.Known(m.Unit)
	if !ok {
		return unit.Number(v, m.Digits, style), m.Unit
	}
	to := u
	if k, known := unit.Known(m.Shown); known && m.Shown != "" {
		to = k
	}
	digits := style.Digits(to, m.Digits)
	to = style.Of(to)
	x, err := unit.Convert(v, u, to)
	if err != nil {
		return unit.Number(v, m.Digits, style), u.Symbol()
	}
	return unit.Number(x, digits, style), to.Symbol()
}

// excluding opens the programme that an address names, for somebody who may leave runs
// out and take them in again.
func (f *face) excluding(r *http.Request) (Programme, error) {
	if g, err := f.who(r, sight.Verdicts); err != nil || !writes(g.Role) {
		return Programme{}, forbidden("leave runs out")
	}
	p, _, err := f.opened(r)
	return p, err
}

// leaveOut leaves a run out. The reason is kept before anybody sees what that
// does to the verdicts.
func (f *face) leaveOut(w http.ResponseWriter, r *http.Request) error {
	p, err := f.excluding(r)
	if err != nil {
		return err
	}
	if err := readForm(r); err != nil {
		return err
	}
	if err := p.Folder.Exclude(r.Context(), r.PathValue("test"), r.PathValue("run"), r.PostForm.Get("reason")); err != nil {
		return err
	}
	http.Redirect(w, r, p.runTo(r.PathValue("test"), r.PathValue("run")), http.StatusSeeOther)
	return nil
}

// takeBack takes an exclusion back.
func (f *face) takeBack(w http.ResponseWriter, r *http.Request) error {
	p, err := f.excluding(r)
	if err != nil {
		return err
	}
	if err := p.Folder.Readmit(r.Context(), r.PathValue("test"), r.PathValue("run")); err != nil {
		return err
	}
	http.Redirect(w, r, p.runTo(r.PathValue("test"), r.PathValue("run")), http.StatusSeeOther)
	return nil
}
