// Package ordering holds the use cases of the run order: plan it, say what the next
// stint would best be, plan the rest of a day anew, and take an order into the
// programme.
//
// Scatter comes from a table of results or from the control's history, never from a
// recording; the methods, with their sources, are those of package order and its rooms.
package ordering

import (
	"fmt"
	"math"
	"strings"
	"time"

	"example.org/bookend/app"
	"example.org/bookend/app/groundbook"
	"example.org/bookend/app/ordered"
	"example.org/bookend/app/origin"
	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/order"
	"example.org/bookend/order/day"
	"example.org/bookend/order/drift"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// Request asks for the order in which sets are fitted. Scatter comes from
// the request itself, from the control's history, or from an earlier table; one
// of them.
type Request struct {
	order.Request
	Scale   programme.Scale     // empty: ratio. Scatter and Wanted stand on its analysis scale
	Unit    string              // SI symbol of a difference
	History *groundbook.History // control stints of earlier programmes
	Earlier *app.CompareRequest // the table of an earlier programme
	Own     []string            // an order of the evaluator's own, to be scored beside; blocks divided by "/"
	Sun     *SunAt              // daylight is computed; nil: as Times says
}

// SunAt is a place and a day whose daylight is computed.
type SunAt struct {
	day.Sun
	Day  string // 2026-11-25
	Zone string // IANA; empty: UTC
}

// Answer is a planned order with what it was made from.
type Answer struct {
	Inputs []origin.Hashed
	Plan   *order.Plan
	Scale  programme.Scale
	Unit   string
	Own    *order.Score // of the evaluator's own order
	Light  *day.Span    // computed daylight
	Sun    *SunAt
}

// Order plans the order of a test.
func Order(q Request) (*Answer, error) {
	a := &Answer{Scale: q.Scale, Unit: q.Unit, Inputs: []origin.Hashed{}, Sun: q.Sun}
	if a.Scale == "" {
		a.Scale = programme.Ratio
	}
	if err := q.known(a); err != nil {
		return nil, err
	}
	if q.Sun != nil {
		light, err := q.Sun.light()
		if err != nil {
			return nil, err
		}
		a.Light = &light
		if q.Times == nil {
			return nil, fault.New(fault.Invalid, "daylight is computed for a day without a timetable").WithHint("say how long a run takes: --run-time 6min")
		}
		if q.Times.Light == nil {
			times := *q.Times
			times.Light = &light
			q.Times = &times
		}
	}
	p, err := order.Make(q.Request)
	if err != nil {
		return nil, err
	}
	a.Plan = p
	if len(q.Own) > 0 {
		if a.Own, err = order.ScoreOrder(q.Request, blocksOf(q.Own)); err != nil {
			return nil, fault.At(err, "the order of your own")
		}
	}
	return a, nil
}

// known fills in what is known of the scatter.
func (q *Request) known(a *Answer) error {
	sources := 0
	for _, given := range []bool{q.Scatter != nil, q.History != nil, q.Earlier != nil} {
		if given {
			sources++
		}
	}
	if sources > 1 {
		return fault.New(fault.Invalid, "the scatter is given %d times over", sources).
			WithHint("type it in, or name the control's history, or an earlier table: one of them")
	}
	switch {
	case q.History != nil:
		s, hashed, err := q.History.Scatter(a.Scale, q.Unit)
		if err != nil {
			return err
		}
		q.Scatter, a.Inputs = s, append(a.Inputs, hashed)
	case q.Earlier != nil:
		e := *q.Earlier
		e.Scale = a.Scale
		if e.Control == "" {
			e.Control = q.Control
		}
		got, err := app.CompareTable(e)
		if err != nil {
			return err
		}
		a.Inputs = append(a.Inputs, got.Inputs...)
		err2 := got.Both.Result.Error
		if err2.SD == nil || !(*err2.SD > 0) {
			return fault.New(fault.Invalid, "the earlier table %s leaves no degrees of freedom to judge its stints by", e.Name).
				WithHint("name one with repeated stints, or type the scatter in: --stint-sd")
		}
		q.Scatter = &programme.Scatter{Measure: got.Both.Result.Measure.ID, StintSD: *err2.SD, StintDF: err2.DF, FromText: "the earlier table " + e.Name}
		q.Runs = max(q.Runs, 1)
	}
	return nil
}

func (s *SunAt) light() (day.Span, error) {
	if !(math.Abs(s.Latitude) <= 90) || !(math.Abs(s.Longitude) <= 180) {
		return day.Span{}, fault.New(fault.Invalid, "%g, %g is no place on Earth", s.Latitude, s.Longitude).WithHint("latitude and longitude in degrees, north and east positive")
	}
	zone, err := time.LoadLocation(s.Zone)
	if err != nil || s.Zone == "Local" {
		return day.Span{}, fault.New(fault.Invalid, "%q is no time zone", s.Zone).WithHint("for example Europe/London")
	}
	on, err := time.ParseInLocation(time.DateOnly, s.Day, zone)
	if err != nil {
		return day.Span{}, fault.New(fault.Invalid, "%q is no day", s.Day).WithHint("for example 2026-11-25")
	}
	light, ok := s.Light(on)
	if !ok {
		return day.Span{}, fault.New(fault.Invalid, "the sun does not rise at %g, %g on %s", s.Latitude, s.Longitude, s.Day).WithHint("another day, or say when it is light: --daylight 10:00-14:00")
	}
	return light, nil
}

// Shown gives a difference on the analysis scale as people read it: index
// points, or the unit.
func (a *Answer) Shown(x float64) float64 {
	if a.Scale == programme.Ratio {
		return 100 * math.Expm1(x)
	}
	return x
}

// ShownUnit names what Shown is in.
func (a *Answer) ShownUnit() string {
	if a.Scale == programme.Ratio {
		return "index points"
	}
	return a.Unit
}

func variances(v [4]float64) ordered.Variances {
	return ordered.Variances{Constant: v[0], Linear: v[1], Quadratic: v[2], Walk: v[3]}
}

func candidatesOf(s *order.Score) []ordered.Candidate {
	out := []ordered.Candidate{}
	for _, c := range s.Candidates {
		out = append(out, ordered.Candidate{Code: c.Code, Under: variances(c.Under), Best: variances(c.Best), Free: c.Free})
	}
	return out
}

func (a *Answer) detectable(d *order.Detectable) *ordered.Detectable {
	if d == nil {
		return nil
	}
	shown := func(x *float64) *float64 {
		if x == nil {
			return nil
		}
		v := a.Shown(*x)
		return &v
	}
	return &ordered.Detectable{Value: shown(d.Value), Walk: shown(d.Walk), Record: shown(d.Known), SD: d.InSD, DF: d.DF, Critical: d.Critical, Method: d.Method}
}

func (a *Answer) other(o *order.Alternative) *ordered.Other {
	if o == nil {
		return nil
	}
	out := &ordered.Other{Controls: o.ControlStints, Stints: o.Stints, Criterion: o.Criterion, Detectable: a.detectable(o.Detectable)}
	if o.Clash != nil {
		out.Clash = o.Clash.Error()
	}
	return out
}

// Document gives the answer in the form of its JSON.
func (a *Answer) Document() ordered.Document {
	p := a.Plan
	d := ordered.Document{Schema: "bookend.order/1", Inputs: a.Inputs, Settings: a.settings(), Caveats: append(caveat.List{}, p.Caveats.Distinct()...)}
	r := &d.Results
	r.Sequence = stintsOf(p.Sequence)
	r.Criterion = p.Score.Criterion
	r.Best = ordered.Best{Sequence: p.Best, Criterion: p.BestValue, Proven: p.Proven, Tried: p.Tried, Near: p.Near}
	r.Candidates = candidatesOf(&p.Score)
	r.Detectable = a.detectable(p.Score.Detectable)
	r.More, r.Fewer = a.other(p.More), a.other(p.Fewer)
	if n := p.Needed; n != nil {
		r.Needed = &ordered.Needed{Repeats: n.Repeats, Controls: n.ControlStints, Stints: n.Stints, Runs: n.Runs, Value: a.Shown(n.Detectable), Sets: n.Sets, ControlSets: n.ControlSets}
	}
	r.RunsNeeded = p.RunsNeeded
	for _, u := range p.Uses {
		r.Wear = append(r.Wear, ordered.Wear(u))
	}
	if a.Light != nil {
		r.Daylight = &ordered.Span{From: day.Clock(a.Light.FromS), To: day.Clock(a.Light.ToS)}
	}
	if a.Own != nil {
		r.Own = &ordered.Own{Criterion: a.Own.Criterion, Efficiency: p.BestValue / a.Own.Criterion, Candidates: candidatesOf(a.Own), Detectable: a.detectable(a.Own.Detectable)}
	}
	return d
}

// settings spells every setting out.
func (a *Answer) settings() map[string]string {
	q := a.Plan.Request
	n := unit.Shortest
	yes := func(b bool) string {
		if b {
			return "yes"
		}
		return "no"
	}
	var codes []string
	for _, c := range q.Candidates {
		codes = append(codes, fmt.Sprintf("%s:%d", c.Code, c.Repeats))
	}
	sizes := func(v *float64, otherwise string) string {
		if v == nil {
			return otherwise
		}
		return n(*v)
	}
	w := q.Drift.Weights
	out := map[string]string{
		"control": q.Control, "candidates": strings.Join(codes, ","), "control_stints": fmt.Sprint(q.ControlStints), "blocks": fmt.Sprint(q.Blocks),
		"most_between": fmt.Sprint(q.MostBetween), "open_ends": yes(q.OpenEnds), "same_twice": yes(q.SameTwice), "reversed": yes(q.Reversed),
		"correction": string(q.Correction), "aim": string(q.Aim), "seed": fmt.Sprint(q.Seed), "runs": fmt.Sprint(q.Runs), "scale": string(a.Scale),
		"drift_weights": strings.Join([]string{n(w[drift.Constant]), n(w[drift.Line]), n(w[drift.Parabola]), n(w[drift.Walk])}, ","),
		"walk_step_sd":  n(q.Drift.StepSD), "line_rise_sd": sizes(q.Drift.RiseSD, "as the walk"), "parabola_bow_sd": sizes(q.Drift.BowSD, "as the walk"),
		"confidence": n(q.Test.Confidence), "power": n(q.Test.Power), "sided": fmt.Sprint(q.Test.Sided), "scatter_from": "not told",
	}
	if s := q.Scatter; s != nil {
		out["scatter_from"] = s.FromText
		out["stint_sd"], out["stint_df"], out["run_sd"] = n(s.StintSD), n(s.StintDF), n(s.RunSD)
	}
	if q.Test.Wanted > 0 {
		out["wanted"] = n(a.Shown(q.Test.Wanted))
	}
	if a.Sun != nil {
		out["daylight_at"] = fmt.Sprintf("%s,%s on %s", n(a.Sun.Latitude), n(a.Sun.Longitude), a.Sun.Day)
	}
	return out
}
