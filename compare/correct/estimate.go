package correct

import (
	"math"

	"example.org/bookend/caveat"
	"example.org/bookend/compare/sequence"
	"example.org/bookend/compare/setting"
	"example.org/bookend/fault"
)

// Estimate is one candidate against the control on the analysis scale, positive
// better.
type Estimate struct {
	Code     string
	OK       bool
	Value    float64
	Weights  []float64 // over the stint means
	Contrast []float64 // over the coefficients, where a model gives the estimate; not turned to positive better
	Open     []Anchor  // what rests on one control alone
	Blind    bool      // outside the controls with nothing but extrapolation
	Why      string    // not OK: why
	// NotBelow and NotAbove say that the value is a bound, where thresholds were not
	// reached: what is estimated is not below it, or not above it.
	NotBelow, NotAbove bool
}

// Anchor is the part of an estimate that rests on one control stint, without
// one on the other side.
type Anchor struct {
	Control  int     // index of the stint
	Distance float64 // in what drift runs along
	Weight   float64
}

// Local is what the control was worth at one stint.
type Local struct {
	OK      bool
	Value   float64   // in the measure's unit
	Weights []float64 // over the stint means, on the analysis scale
	After   *float64  // weight of the later control in a bracket
}

// Estimates are all candidates, and what the control was worth.
type Estimates struct {
	List    []Estimate // in the order of the sequence's codes
	Local   []Local    // one a stint
	Curve   []CurvePoint
	Caveats caveat.List
}

// CurvePoint is what the control was worth at one place of the sequence, in the
// measure's unit, with the weights of the stint means on the analysis scale.
type CurvePoint struct {
	Segment  int
	X, Value float64
	Weights  []float64
}

// Bracket interpolates the control between its stints before and after.
func Bracket(q *sequence.Sequence) (*Estimates, error) {
	n := len(q.Stints)
	e := &Estimates{Local: make([]Local, n)}
	opens := make([]*Anchor, n)
	for i := range q.Stints {
		f := &q.Stints[i]
		w := make([]float64, n)
		if f.Control {
			w[i] = 1
			e.Local[i] = Local{OK: true, Value: f.Equal, Weights: w}
			continue
		}
		before, after := q.Neighbours(i)
		switch {
		case before >= 0 && after >= 0:
			b, a := &q.Stints[before], &q.Stints[after]
			t := (f.X - b.X) / (a.X - b.X)
			w[before], w[after] = 1-t, t
			e.Local[i] = Local{OK: true, Value: (1-t)*b.Equal + t*a.Equal, Weights: w, After: some(t)}
		case before >= 0:
			w[before] = 1
			e.Local[i] = Local{OK: true, Value: q.Stints[before].Equal, Weights: w}
			opens[i] = &Anchor{Control: before, Distance: f.X - q.Stints[before].X}
		default:
			return nil, fault.New(fault.Internal, "stint %s has no control before it", f.ID)
		}
	}
	average(q, e, opens)
	// The control's curve, and what it moved from bracket to bracket.
	for s := range q.Segments {
		last := -1
		for _, c := range q.Controls {
			if q.Stints[c].Segment != s {
				continue
			}
			if last >= 0 {
				a, b := &q.Stints[last], &q.Stints[c]
				const steps = 8
				for k := range steps {
					t := float64(k) / steps
					w := make([]float64, n)
					w[last], w[c] = 1-t, t
					e.Curve = append(e.Curve, CurvePoint{s, a.X + t*(b.X-a.X), (1-t)*a.Equal + t*b.Equal, w})
				}
			}
			last = c
		}
		if last >= 0 {
			w := make([]float64, n)
			w[last] = 1
			e.Curve = append(e.Curve, CurvePoint{s, q.Stints[last].X, q.Stints[last].Equal, w})
		}
	}
	return e, nil
}

// average makes one estimate a candidate from its stints against the local
// control.
func average(q *sequence.Sequence, e *Estimates, opens []*Anchor) {
	for _, code := range q.Codes {
		est := Estimate{Code: code, OK: true, Weights: make([]float64, len(q.Stints))}
		m := 0.0
		for i := range q.Stints {
			if q.Stints[i].Code == code {
				m++
			}
		}
		for i := range q.Stints {
			if q.Stints[i].Code != code {
				continue
			}
			l := e.Local[i]
			if !l.OK || q.Ratio && l.Value <= 0 {
				est.OK, est.Why = false, "the control cannot be had at stint "+q.Stints[i].ID
				break
			}
			est.Value += q.Against(q.Stints[i].Equal, l.Value) / m
			est.Weights[i] += q.Sign / m
			for j, w := range l.Weights {
				est.Weights[j] -= q.Sign * w / m
			}
			if opens != nil && opens[i] != nil {
				o := *opens[i]
				o.Weight = q.Sign / m
				est.Open = append(est.Open, o)
			}
		}
		e.List = append(e.List, est)
	}
}

// CurveOfControls fits the control's own stint means, in the measure's unit,
// and divides each candidate's mean by the curve.
func CurveOfControls(q *sequence.Sequence, drift setting.Drift) (*Estimates, error) {
	y := make([]float64, len(q.Controls))
	for k, i := range q.Controls {
		y[k] = q.Stints[i].Equal
	}
	f, err := LeastSquares(q, q.Controls, y, drift.Degree(), 0, false, nil)
	if err != nil {
		return nil, err
	}
	e := &Estimates{Local: make([]Local, len(q.Stints))}
	for i := range q.Stints {
		s := &q.Stints[i]
		if f.Common != nil || drift == setting.NoDrift {
			e.Local[i].Value, e.Local[i].Weights, e.Local[i].OK = f.Predict(f.At(s.Segment, s.U, "", nil))
		}
	}
	average(q, e, nil)
	mark(q, e, drift)
	sample(q, e, f, func(v float64) float64 { return v })
	return e, nil
}

// FromModel takes the estimates from a model of tyres and drift together.
func FromModel(q *sequence.Sequence, p Predictor, drift setting.Drift, set setting.Settings) (*Estimates, error) {
	f := p.Layout()
	back := func(v float64) float64 { return v }
	if q.Ratio {
		back = math.Exp
	}
	list, err := FromModelAlone(q, p, drift, set)
	if err != nil {
		return nil, err
	}
	e := &Estimates{List: list, Local: make([]Local, len(q.Stints))}
	for i := range q.Stints {
		s := &q.Stints[i]
		v, w, ok := p.Predict(f.At(s.Segment, s.U, q.Control, s.Covariates))
		if ok {
			e.Local[i] = Local{OK: true, Value: back(v), Weights: w}
		}
	}
	mark(q, e, drift)
	sample(q, e, p, back)
	return e, nil
}

// FromModelAlone takes the candidates' estimates alone from a model of tyres and drift
// together, and does not say which of them rest on a drift carried beyond the controls.
func FromModelAlone(q *sequence.Sequence, p Predictor, drift setting.Drift, set setting.Settings) ([]Estimate, error) {
	f := p.Layout()
	var list []Estimate
	any := false
	for _, code := range q.Codes {
		est := Estimate{Code: code, Why: "its stints cannot be told apart from drift and block"}
		l := make([]float64, f.Width)
		l[f.TyreAt[code]] = 1
		v, w, ok := p.Predict(l)
		if ok {
			est.OK, est.Why, est.Value, est.Contrast = true, "", q.Sign*v, l
			for i := range w {
				w[i] *= q.Sign
			}
			est.Weights = w
			any = true
		}
		list = append(list, est)
	}
	if !any {
		return nil, fault.New(fault.Invalid, "with %s no candidate can be told apart from the drift", set.Correction(drift)).
			WithHint("fit the control again, repeat candidates, or choose a simpler correction")
	}
	return list, nil
}

// mark says which candidates rest on a drift carried beyond the controls: those
// of one block alone; where blocks recur, the model holds them together.
func mark(q *sequence.Sequence, e *Estimates, drift setting.Drift) {
	if drift == setting.NoDrift {
		return
	}
	for i := range q.Stints {
		s := &q.Stints[i]
		before, after := q.Neighbours(i)
		if s.Control || before >= 0 && after >= 0 {
			continue
		}
		if len(q.Blocks) > 1 {
			e.Caveats.Add("outside_controls", caveat.Place{Stint: s.ID, Code: s.Code}, "The stint does not lie between two controls of its block: it rests on the drift model.")
			continue
		}
		for k := range e.List {
			if e.List[k].Code == s.Code {
				e.List[k].Blind = true
			}
		}
	}
}

// curveSteps is how finely the control's curve is sampled over a segment: fine
// enough for a parabola on the width of a page.
const curveSteps = 32

func sample(q *sequence.Sequence, e *Estimates, p Predictor, back func(float64) float64) {
	for s := range q.Segments {
		low, high, shift, has := 0.0, 0.0, 0.0, false
		for i := range q.Stints {
			t := &q.Stints[i]
			if t.Segment != s {
				continue
			}
			if !has {
				low, shift, has = t.U, t.X-t.U, true
			}
			high = t.U
		}
		steps := curveSteps
		if high == low {
			steps = 0
		}
		for k := 0; k <= steps; k++ {
			u := low
			if steps > 0 {
				u += (high - low) * float64(k) / float64(steps)
			}
			v, w, ok := p.Predict(p.Layout().At(s, u, q.Control, nil))
			if b := back(v); ok && finite(b) {
				e.Curve = append(e.Curve, CurvePoint{s, u + shift, b, w})
			}
		}
	}
}
