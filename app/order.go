package app

import (
	"fmt"
	"math"
	"strings"
	"time"

	"example.org/bookend/app/origin"
	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/order"
	"example.org/bookend/order/day"
	"example.org/bookend/order/drift"
	"example.org/bookend/programme"
	walk "example.org/bookend/stat/drift"
	"example.org/bookend/stat/pool"
	"example.org/bookend/unit"
)

// OrderRequest asks for the order in which sets are fitted. Scatter comes from
// the request itself, from the control's history, or from an earlier table; one
// of them.
type OrderRequest struct {
	order.Request
	Scale   programme.Scale // empty: ratio. Scatter and Wanted stand on its analysis scale
	Unit    string          // SI symbol of a difference
	History *History        // control stints of earlier programmes
	Earlier *CompareRequest // the table of an earlier programme
	Own     []string        // an order of the evaluator's own, to be scored beside; blocks divided by "/"
	Sun     *SunAt          // daylight is computed; nil: as Times says
}

// SunAt is a place and a day whose daylight is computed.
type SunAt struct {
	day.Sun
	Day  string // 2026-11-25
	Zone string // IANA; empty: UTC
}

// OrderAnswer is a planned order with what it was made from.
type OrderAnswer struct {
	Inputs []origin.Hashed
	Plan   *order.Plan
	Scale  programme.Scale
	Unit   string
	Own    *order.Score // of the evaluator's own order
	Light  *day.Span    // computed daylight
	Sun    *SunAt
}

// Order plans the order of a test.
func Order(q OrderRequest) (*OrderAnswer, error) {
	a := &OrderAnswer{Scale: q.Scale, Unit: q.Unit, Inputs: []origin.Hashed{}, Sun: q.Sun}
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
func (q *OrderRequest) known(a *OrderAnswer) error {
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
		s, hashed, err := q.History.scatter(a.Scale, q.Unit)
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
		got, err := CompareTable(e)
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

// scatter pools the control sequences of a history about their own mean and
// straight line, and takes the control's random walk from them where they tell.
func (h *History) scatter(scale programme.Scale, symbol string) (*programme.Scatter, origin.Hashed, error) {
	rec, hashed, err := h.Record("", symbol)
	if err != nil {
		return nil, hashed, err
	}
	at := map[string]int{}
	var all []walk.Sequence
	for _, r := range rec.Rows {
		key := r.Programme + "\x00" + r.Block
		i, ok := at[key]
		if !ok {
			i = len(all)
			at[key] = i
			all = append(all, walk.Sequence{})
		}
		v := r.Value
		if scale == programme.Ratio {
			if !(v > 0) {
				return nil, hashed, fault.New(fault.Invalid, "the value %v is not above 0 and has no ratio", v).At("%s:%d", h.Name, r.Line).WithHint("--scale difference")
			}
			v = math.Log(v)
		}
		all[i].At, all[i].Value = append(all[i].At, r.Position), append(all[i].Value, v)
	}
	sum, df, programmes := 0.0, 0.0, 0
	for i, s := range all {
		if len(s.At) < 3 { // nothing is left beside mean and line
			continue
		}
		c, err := pool.FromSequence(fmt.Sprint(i), s, 1)
		if err != nil {
			return nil, hashed, fault.At(err, "%s", h.Name)
		}
		sum += c.Variance * c.DF
		df += c.DF
		programmes++
	}
	if !(df > 0) || !(sum > 0) {
		return nil, hashed, fault.New(fault.Invalid, "the history has no control sequence that leaves anything beside its own mean and drift").At("%s", h.Name).
			WithHint("three control stints a programme at least")
	}
	out := &programme.Scatter{StintSD: math.Sqrt(sum / df), StintDF: df, FromText: fmt.Sprintf("the history %s: %d control sequences", h.Name, programmes)}
	if w, err := walk.FitWalk(all, 1, 0.95); err == nil && w.Step > 0 {
		out.DriftSD = math.Sqrt(w.Step)
	}
	return out, hashed, nil
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
func (a *OrderAnswer) Shown(x float64) float64 {
	if a.Scale == programme.Ratio {
		return 100 * math.Expm1(x)
	}
	return x
}

// ShownUnit names what Shown is in.
func (a *OrderAnswer) ShownUnit() string {
	if a.Scale == programme.Ratio {
		return "index points"
	}
	return a.Unit
}

// OrderDocument is the JSON of an order, schema "bookend.order/1".
type OrderDocument struct {
	Schema   string            `json:"schema"`
	Inputs   []origin.Hashed   `json:"inputs"`
	Settings map[string]string `json:"settings"`
	Results  OrderResults      `json:"results"`
	Caveats  caveat.List       `json:"caveats"`
}

// OrderResults is the part of the JSON that holds the numbers. Variances are in
// that of a stint mean; differences in index points or the unit.
type OrderResults struct {
	Sequence   []OrderStint     `json:"sequence"`
	Criterion  float64          `json:"criterion"`
	Best       OrderBest        `json:"best"`
	Candidates []OrderCandidate `json:"candidates"`
	Detectable *OrderDetectable `json:"detectable,omitempty"`
	More       *OrderOther      `json:"control_more,omitempty"`
	Fewer      *OrderOther      `json:"control_fewer,omitempty"`
	Needed     *OrderNeeded     `json:"needed,omitempty"`
	RunsNeeded int              `json:"runs_needed,omitempty"`
	Wear       []OrderWear      `json:"wear,omitempty"`
	Daylight   *OrderSpan       `json:"daylight,omitempty"`
	Own        *OrderOwn        `json:"own,omitempty"`
}

// OrderStint is one place of the order; times are of the ground's clock.
type OrderStint struct {
	Position int    `json:"position"`
	Block    int    `json:"block"`
	Code     string `json:"code"`
	Set      string `json:"set"`
	Fit      string `json:"fit,omitempty"`   // fitting begins
	Drive    string `json:"drive,omitempty"` // the warm-up begins
	Run      string `json:"run,omitempty"`   // the first run begins
	End      string `json:"end,omitempty"`   // the last run is over
	Free     string `json:"free,omitempty"`  // the vehicle is free
}

// OrderBest is how good an order can be.
type OrderBest struct {
	Sequence  []string `json:"sequence"`
	Criterion float64  `json:"criterion"`
	Proven    bool     `json:"proven"` // every order that keeps the rules was tried
	Tried     int      `json:"tried"`
	Near      int      `json:"near"` // within 2 % of the best: one of these was drawn
}

// OrderVariances is one variance under each kind of drift.
type OrderVariances struct {
	Constant  float64 `json:"constant"`
	Linear    float64 `json:"linear"`
	Quadratic float64 `json:"quadratic"`
	Walk      float64 `json:"walk"`
}

// OrderCandidate is how well one candidate is told from the control.
type OrderCandidate struct {
	Code  string         `json:"code"`
	Under OrderVariances `json:"under"`         // by the plan's correction
	Best  OrderVariances `json:"best"`          // the least of any unbiased analysis of this order
	Free  float64        `json:"without_drift"` // and without correction
}

// OrderDetectable is the smallest difference that the order can show.
type OrderDetectable struct {
	Value    *float64 `json:"value,omitempty"` // index points, or the unit
	Walk     *float64 `json:"walk,omitempty"`  // the same, what the correction leaves of a random walk included
	Record   *float64 `json:"with_record,omitempty"`
	SD       float64  `json:"sd"` // in standard deviations of a stint mean
	DF       int      `json:"df"`
	Critical float64  `json:"critical"`
	Method   string   `json:"method"`
}

// OrderOther is what a control stint more or fewer would do.
type OrderOther struct {
	Controls   int              `json:"control_stints"`
	Stints     int              `json:"stints"`
	Criterion  float64          `json:"criterion,omitempty"`
	Detectable *OrderDetectable `json:"detectable,omitempty"`
	Clash      string           `json:"clash,omitempty"`
}

// OrderNeeded is the smallest programme that shows the wanted difference.
type OrderNeeded struct {
	Repeats     int     `json:"repeats"`
	Controls    int     `json:"control_stints"`
	Stints      int     `json:"stints"`
	Runs        int     `json:"runs"`
	Value       float64 `json:"value"`
	Sets        int     `json:"sets,omitempty"`
	ControlSets int     `json:"control_sets,omitempty"`
}

// OrderWear is what one set is worn by in the plan.
type OrderWear struct {
	Set    string  `json:"set"`
	Code   string  `json:"code"`
	Stints int     `json:"stints"`
	Runs   int     `json:"runs"`
	WornM  float64 `json:"worn_m"`
	LeftM  float64 `json:"left_m"`
}

// OrderSpan is a span of the ground's clock.
type OrderSpan struct {
	From string `json:"from"`
	To   string `json:"to"`
}

// OrderOwn is how the evaluator's own order stands.
type OrderOwn struct {
	Criterion  float64          `json:"criterion"`
	Efficiency float64          `json:"efficiency"` // the best criterion over its own
	Candidates []OrderCandidate `json:"candidates"`
	Detectable *OrderDetectable `json:"detectable,omitempty"`
}

func variances(v [4]float64) OrderVariances { return OrderVariances{v[0], v[1], v[2], v[3]} }

func candidatesOf(s *order.Score) []OrderCandidate {
	out := []OrderCandidate{}
	for _, c := range s.Candidates {
		out = append(out, OrderCandidate{Code: c.Code, Under: variances(c.Under), Best: variances(c.Best), Free: c.Free})
	}
	return out
}

func (a *OrderAnswer) detectable(d *order.Detectable) *OrderDetectable {
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
	return &OrderDetectable{Value: shown(d.Value), Walk: shown(d.Walk), Record: shown(d.Known), SD: d.InSD, DF: d.DF, Critical: d.Critical, Method: d.Method}
}

func (a *OrderAnswer) other(o *order.Alternative) *OrderOther {
	if o == nil {
		return nil
	}
	out := &OrderOther{Controls: o.ControlStints, Stints: o.Stints, Criterion: o.Criterion, Detectable: a.detectable(o.Detectable)}
	if o.Clash != nil {
		out.Clash = o.Clash.Error()
	}
	return out
}

// Document gives the answer in the form of its JSON.
func (a *OrderAnswer) Document() OrderDocument {
	p := a.Plan
	d := OrderDocument{Schema: "bookend.order/1", Inputs: a.Inputs, Settings: a.settings(), Caveats: append(caveat.List{}, p.Caveats.Distinct()...)}
	r := &d.Results
	r.Sequence = stintsOf(p.Sequence)
	r.Criterion = p.Score.Criterion
	r.Best = OrderBest{Sequence: p.Best, Criterion: p.BestValue, Proven: p.Proven, Tried: p.Tried, Near: p.Near}
	r.Candidates = candidatesOf(&p.Score)
	r.Detectable = a.detectable(p.Score.Detectable)
	r.More, r.Fewer = a.other(p.More), a.other(p.Fewer)
	if n := p.Needed; n != nil {
		r.Needed = &OrderNeeded{Repeats: n.Repeats, Controls: n.ControlStints, Stints: n.Stints, Runs: n.Runs, Value: a.Shown(n.Detectable), Sets: n.Sets, ControlSets: n.ControlSets}
	}
	r.RunsNeeded = p.RunsNeeded
	for _, u := range p.Uses {
		r.Wear = append(r.Wear, OrderWear(u))
	}
	if a.Light != nil {
		r.Daylight = &OrderSpan{day.Clock(a.Light.FromS), day.Clock(a.Light.ToS)}
	}
	if a.Own != nil {
		r.Own = &OrderOwn{Criterion: a.Own.Criterion, Efficiency: p.BestValue / a.Own.Criterion, Candidates: candidatesOf(a.Own), Detectable: a.detectable(a.Own.Detectable)}
	}
	return d
}

// settings spells every setting out.
func (a *OrderAnswer) settings() map[string]string {
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
