package compare

import (
	"fmt"
	"math"

	"example.org/bookend/caveat"
	"example.org/bookend/programme"
	"example.org/bookend/stat/drift"
	"example.org/bookend/stat/linear"
	"example.org/bookend/stat/resample"
	"example.org/bookend/stat/tail"
)

// ControlReport is what the control alone shows, on its stint means in the
// measure's unit.
type ControlReport struct {
	Stints, Runs int
	Sets         []string
	First, Mean  float64
	Low, High    float64 // least and greatest stint mean
	// Slope is the straight line through the control's stint means, a level of
	// its own in each segment: per position or s. Nil with fewer stints than a
	// line needs.
	Slope      *Term
	Intercept  *float64 // of that line at position or clock 0; nil with several segments
	ResidualSD *float64 // about that line
	DF         int
	// WorthPercent is what the line was worth from the first to the last control
	// stint, in per cent of their mean; nil where the mean is not above 0.
	WorthPercent *float64
	Test         *FResult // of the drift that the correction would take out
	Shown        bool     // that test, at the settings' level
	Shift        *drift.Shift
}

// BracketReport is two neighbouring control stints and what lies between.
type BracketReport struct {
	From, To   string // stints
	Segment    int
	Candidates []string // stints, in order
	Change     float64  // of the control, in the unit
	Percent    *float64 // the same in per cent of the first, without its sign; nil where that is not above 0
}

// look says what the control shows.
func (q *sequence) look(set Settings, caveats *caveat.List) ControlReport {
	c := ControlReport{Stints: len(q.controls), Sets: q.setsOf(q.control)}
	y := make([]float64, len(q.controls))
	for k, i := range q.controls {
		y[k] = q.stints[i].mean
		c.Runs += q.stints[i].n()
		c.Mean += y[k] / float64(len(y))
		if k == 0 {
			c.First, c.Low, c.High = y[k], y[k], y[k]
		}
		c.Low, c.High = min(c.Low, y[k]), max(c.High, y[k])
	}
	if f, err := q.fit(q.controls, y, 1, 0, false, nil); err == nil && f.common != nil && f.m.Estimated[f.commonAt] {
		c.slope(q, f)
	}
	deg := max(1, degree(set.Drift))
	if f, err := q.fit(q.controls, y, deg, 0, false, nil); err == nil && f.common != nil && f.common.Degree() == deg {
		c.test(f, set)
	}
	if !set.Quick && q.segments == 1 && len(y) >= shiftControls {
		s := drift.Sequence{Value: y}
		for _, i := range q.controls {
			s.At = append(s.At, q.stints[i].x)
		}
		// A line is allowed for, so that drift is not taken for a shift; drawn,
		// not counted out, above six controls: 5,000 draws place p to 0.003.
		if sh, err := drift.SuddenShift(s, 1, resample.Options{Draws: 5000, Seed: 1}); err == nil {
			c.Shift = &sh
			if sh.P < set.ShownLevel && sh.Before > 0 {
				caveats.Add("sudden_shift", caveat.Place{Code: q.control}, "The control seems to have shifted at once by %.4g between %s %.6g and %.6g (p %.3f, a steady drift allowed for): was there a shower, a pause, another driver? A line or a bracket does not take a shift out.", sh.Size, set.By, sh.From, sh.To, sh.P)
			}
		}
	}
	return c
}

// shiftControls is how many control stints a search for a sudden shift beside a
// line needs: own choice; with fewer, level, line and place of the shift leave
// nothing to judge by.
const shiftControls = 5

func (c *ControlReport) slope(q *sequence, f *fitted) {
	l := make([]float64, f.covAt)
	l[f.commonAt] = (f.common.At(f.common.Middle + f.common.Half)[1] - f.common.At(f.common.Middle)[1]) / f.common.Half
	v, w, ok := f.predict(l)
	if !ok {
		return
	}
	t := &Term{Name: "drift", Estimate: v}
	c.DF = f.m.DF
	if sd, ok := f.m.Sigma(); ok && !f.m.PerfectFit {
		c.ResidualSD = some(sd)
		if se := sd * math.Sqrt(dot(w, w)); se > 0 {
			t.SE, t.T, t.P = some(se), some(v/se), some(linear.TwoSidedT(v/se, float64(f.m.DF)))
		}
	}
	c.Slope = t
	first, last := &q.stints[q.controls[0]], &q.stints[q.controls[len(q.controls)-1]]
	if c.Mean > 0 && q.segments == 1 {
		c.WorthPercent = some(100 * v * (last.x - first.x) / c.Mean)
	}
	if q.segments == 1 {
		if at0, _, ok := f.predict(f.at(0, first.u-first.x, "", nil)); ok {
			c.Intercept = some(at0)
		}
	}
}

func (c *ControlReport) test(f *fitted, set Settings) {
	var l [][]float64
	for j := f.commonAt; j < f.commonAt+f.common.Degree(); j++ {
		if f.m.Estimated[j] {
			row := make([]float64, f.covAt)
			row[j] = 1
			l = append(l, row)
		}
	}
	t, err := f.m.Test("drift", l)
	if err != nil {
		return
	}
	switch {
	case t.HasTest:
		c.Test = &FResult{F: t.F, P: t.P, Num: t.Num, Den: t.Den}
		c.Shown = t.P < set.ShownLevel
	case f.m.DF > 0 && f.m.PerfectFit:
		// On a line to the last digit: it is shown unless it is level.
		c.Shown = c.High-c.Low > 1e-12*math.Max(math.Abs(c.High), math.Abs(c.Low))
	}
}

func (q *sequence) bracketReports() []BracketReport {
	var out []BracketReport
	for k, i := range q.controls[:len(q.controls)-1] {
		j := q.controls[k+1]
		a, b := &q.stints[i], &q.stints[j]
		if a.segment != b.segment {
			continue
		}
		r := BracketReport{From: a.stint.ID, To: b.stint.ID, Segment: a.segment, Change: b.mean - a.mean}
		if a.mean > 0 {
			r.Percent = some(100 * math.Abs(b.mean-a.mean) / a.mean)
		}
		for n := i + 1; n < j; n++ {
			r.Candidates = append(r.Candidates, q.stints[n].stint.ID)
		}
		out = append(out, r)
	}
	return out
}

// stints fills what is said of each stint, and the control's curve.
func (r *Result) stints(q *sequence, est *estimates, sc *scatter) {
	r.Level = q.level(r.Settings)
	sigma, has := sc.sd()
	half := 0.0
	if has {
		half = sigma * tail.TPoint((1-r.Settings.Confidence)/2, float64(sc.df()))
	}
	band := func(v float64, w []float64) (low, high *float64) {
		if !has {
			return nil, nil
		}
		h := half * math.Sqrt(dot(w, w))
		if q.ratio {
			return some(v * math.Exp(-h)), some(v * math.Exp(h))
		}
		return some(v - h), some(v + h)
	}
	atLevel := map[string]float64{}
	for i := range q.stints {
		f := &q.stints[i]
		s := Stint{ID: f.stint.ID, Code: f.stint.Code, Set: f.stint.Set, Control: f.control, Block: f.stint.Block, Segment: f.segment,
			Position: f.stint.Position, ClockS: f.stint.ClockS, X: f.x, Runs: f.runs, N: f.n(), Mean: f.mean}
		if f.n() > 1 {
			sd := deviation(f.values, f.mean)
			s.SD = some(sd)
			if q.ratio {
				s.CV = some(100 * sd / f.mean)
			}
			h := sd / math.Sqrt(float64(f.n())) * tail.TPoint((1-r.Settings.Confidence)/2, float64(f.n()-1))
			s.MeanLow, s.MeanHigh = some(f.mean-h), some(f.mean+h)
		}
		if l := est.local[i]; l.ok && finite(l.value) && (!q.ratio || l.value > 0) {
			s.Local, s.After = some(l.value), l.after
			s.LocalLow, s.LocalHigh = band(l.value, l.weights)
			s.Difference = some(f.mean - l.value)
			if q.ratio {
				s.Index = some(100 * math.Exp(q.against(f.mean, l.value)))
				s.AtLevel = some(f.mean * r.Level / l.value)
			} else {
				s.AtLevel = some(f.mean + r.Level - l.value)
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
	for _, p := range est.curve {
		c := CurvePoint{Segment: p.segment, X: p.x, Value: p.value}
		c.Low, c.High = band(p.value, p.weights)
		r.Curve = append(r.Curve, c)
	}
	r.Brackets = q.bracketReports()
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

// Finding is one value held against one limit.
type Finding struct {
	Limit    programme.Limit
	Profile  string // of the limit; empty for the evaluator's own
	Stint    string // or the first of a bracket
	To       string // the second of a bracket
	Run      string
	Code     string
	Value    *float64
	Standing programme.Standing
}

// validity holds what was driven against the limits.
func (r *Result) validity(q *sequence, set Settings) error {
	judge := func(l programme.Limit, profile string, f Finding) {
		f.Limit, f.Profile = l, profile
		f.Standing = l.Judge(f.Value)
		if f.Standing == programme.Broken {
			r.Caveats.Add("limit_broken", caveat.Place{Stint: f.Stint, Run: f.Run, Code: f.Code}, "%s is %.4g %s, outside %s (%s): %s.", f.Limit.Field, *f.Value, l.Unit, bounds(l), l.Source, l.Stands)
		}
		r.Validity = append(r.Validity, f)
	}
	hold := func(l programme.Limit, profile string) {
		if l.Field == "reference_shift" {
			for _, b := range r.Brackets {
				judge(l, profile, Finding{Stint: b.From, To: b.To, Code: q.control, Value: b.Percent})
			}
			return
		}
		if l.Field == "candidates_between" {
			for _, b := range r.Brackets {
				judge(l, profile, Finding{Stint: b.From, To: b.To, Value: some(float64(len(b.Candidates)))})
			}
			return
		}
		for i := range q.stints {
			f, s := &q.stints[i], &r.Stints[i]
			if l.Of == "control" && !f.control || l.Of == "candidate" && f.control {
				continue
			}
			at := Finding{Stint: s.ID, Code: s.Code}
			switch l.Field {
			case "cv":
				at.Value = s.CV
				judge(l, profile, at)
			case "runs":
				at.Value = some(float64(s.N))
				judge(l, profile, at)
			default:
				if l.Per != "run" {
					if m, ok := f.recorded(l.Field); ok {
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
	if set.Profile != nil {
		for _, l := range set.Profile.limits() {
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
