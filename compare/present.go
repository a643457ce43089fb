package compare

import (
	"fmt"
	"math"

	"example.org/bookend/caveat"
	"example.org/bookend/compare/control"
	"example.org/bookend/compare/correct"
	"example.org/bookend/compare/edition"
	"example.org/bookend/compare/scatter"
	"example.org/bookend/compare/sequence"
	"example.org/bookend/programme"
	"example.org/bookend/stat/tail"
)

// stints fills what is said of each stint, and the control's curve.
func (r *Result) stints(q *sequence.Sequence, est *correct.Estimates, sc *scatter.Scatter) {
	r.Level = q.Level(r.Settings)
	_, has := sc.SD()
	band := func(v float64, w []float64) (low, high *float64) {
		if !has {
			return nil, nil
		}
		df := sc.VarDF(w)
		if !(df > 0) {
			return nil, nil
		}
		h := tail.TPoint((1-r.Settings.Confidence)/2, df) * math.Sqrt(sc.Var(w))
		if q.Ratio {
			return some(v * math.Exp(-h)), some(v * math.Exp(h))
		}
		return some(v - h), some(v + h)
	}
	atLevel := map[string]float64{}
	for i := range q.Stints {
		f := &q.Stints[i]
		s := Stint{ID: f.ID, Code: f.Code, Set: f.Set, Control: f.Control, Block: f.Block, Segment: f.Segment,
			Position: f.Position, ClockS: f.ClockS, X: f.X, Runs: f.Driven(), N: f.Count(), Threshold: f.Level, Mean: f.Mean, Equal: f.Equal}
		if f.N() > 1 {
			sd := deviation(f.Values, f.Mean)
			s.SD = some(sd)
			if q.Ratio {
				s.CV = some(100 * sd / f.Mean)
			}
			h := sd / math.Sqrt(float64(f.N())) * tail.TPoint((1-r.Settings.Confidence)/2, float64(f.N()-1))
			s.MeanLow, s.MeanHigh = some(f.Mean-h), some(f.Mean+h)
		}
		if l := est.Local[i]; l.OK && finite(l.Value) && (!q.Ratio || l.Value > 0) {
			s.Local, s.After = some(l.Value), l.After
			s.LocalLow, s.LocalHigh = band(l.Value, l.Weights)
			s.Difference = some(f.Equal - l.Value)
			if q.Ratio {
				s.Index = some(100 * math.Exp(q.Against(f.Equal, l.Value)))
				s.AtLevel = some(f.Equal * r.Level / l.Value)
			} else {
				s.AtLevel = some(f.Equal + r.Level - l.Value)
			}
			if s.AtLevel != nil {
				atLevel[s.Code] += *s.AtLevel
			}
		} else {
			atLevel[s.Code] = math.NaN()
		}
		r.Stints = append(r.Stints, s)
	}
	for i := range r.Rows {
		r.Rows[i].AtLevel = some(atLevel[r.Rows[i].Code] / float64(r.Rows[i].Stints))
	}
	for _, p := range est.Curve {
		c := CurvePoint{Segment: p.Segment, X: p.X, Value: p.Value}
		c.Low, c.High = band(p.Value, p.Weights)
		r.Curve = append(r.Curve, c)
	}
	r.Brackets = control.Brackets(q)
}

// deviation gives the standard deviation with n-1.
func deviation(x []float64, mean float64) float64 {
	if len(x) < 2 {
		return 0
	}
	s := 0.0
	for _, v := range x {
		s += (v - mean) * (v - mean)
	}
	return math.Sqrt(s / float64(len(x)-1))
}

// validity holds what was driven against the limits.
func (r *Result) validity(q *sequence.Sequence, set Settings) error {
	judge := func(l programme.Limit, profile string, f Finding) {
		f.Limit, f.Profile = l, profile
		f.Standing = l.Judge(f.Value)
		if f.Standing == programme.Broken {
			r.Caveats.Add("limit_broken", caveat.Place{Stint: f.Stint, Run: f.Run, Code: f.Code}, "%s is %.4g %s, outside %s (%s): %s.", f.Limit.Field, *f.Value, l.Unit, bounds(l), l.Source, l.Stands)
		}
		r.Validity = append(r.Validity, f)
	}
	hold := func(l programme.Limit, profile string) {
		if l.Field == edition.ReferenceShift {
			for _, b := range r.Brackets {
				judge(l, profile, Finding{Stint: b.From, To: b.To, Code: q.Control, Value: b.Percent})
			}
			return
		}
		if l.Field == edition.CandidatesBetween {
			for _, b := range r.Brackets {
				judge(l, profile, Finding{Stint: b.From, To: b.To, Value: some(float64(len(b.Candidates)))})
			}
			return
		}
		for i := range q.Stints {
			f, s := &q.Stints[i], &r.Stints[i]
			if l.Of == "control" && !f.Control || l.Of == "candidate" && f.Control {
				continue
			}
			at := Finding{Stint: s.ID, Code: s.Code}
			switch l.Field {
			case edition.CV:
				at.Value = s.CV
				judge(l, profile, at)
			case edition.RunsField:
				at.Value = some(float64(s.N))
				judge(l, profile, at)
			default:
				if l.Per != "run" {
					if m, ok := f.Recorded(l.Field); ok {
						at.Value = some(m)
					}
					judge(l, profile, at)
					break
				}
				for _, run := range s.Runs {
					if !run.Compared {
						continue
					}
					at.Run, at.Value = run.Run, nil
					if x, ok := run.Covariates[l.Field]; ok {
						at.Value = some(x)
					}
					judge(l, profile, at)
				}
			}
		}
	}
	for _, l := range set.Limits {
		hold(l, "")
	}
	for _, p := range set.Profiles {
		for _, l := range p.Limits {
			hold(l, p.ID)
		}
	}
	if set.Profile != nil {
		for _, l := range set.Profile.Limits() {
			hold(l, set.Profile.ID)
		}
		r.regulation(q, set)
	}
	return nil
}

func bounds(l programme.Limit) string {
	switch {
	case l.Low != nil && l.High != nil:
		return fmt.Sprintf("%g to %g %s", *l.Low, *l.High, l.Unit)
	case l.Low != nil:
		return fmt.Sprintf("at least %g %s", *l.Low, l.Unit)
	case l.High != nil:
		return fmt.Sprintf("at most %g %s", *l.High, l.Unit)
	}
	return "no bound"
}

// regulation works the block out as the profile's edition has it.
func (r *Result) regulation(q *sequence.Sequence, set Settings) {
	var list []edition.Driven
	for i := range q.Stints {
		f, s := &q.Stints[i], &r.Stints[i]
		if f.Control || s.Local == nil {
			continue
		}
		d := edition.Driven{Stint: s.ID, Code: s.Code, Mean: s.Mean, CV: s.CV, Weighted: *s.Local}
		if m, ok := f.Recorded("surface_temperature_degc"); ok {
			d.SurfaceC = some(m)
		}
		before, after := q.Neighbours(i)
		d.Closed = after >= 0
		if before >= 0 {
			d.Before = q.Stints[before].ID
		}
		list = append(list, d)
	}
	var notes caveat.List
	r.Block, notes = set.Profile.Block(list, r.Validity)
	r.Caveats = append(r.Caveats, notes...)
}
