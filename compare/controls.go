package compare

import (
	"math"

	"example.org/bookend/caveat"
	"example.org/bookend/compare/correct"
	"example.org/bookend/compare/sequence"
	"example.org/bookend/stat/drift"
	"example.org/bookend/stat/linear"
	"example.org/bookend/stat/resample"
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
func look(q *sequence.Sequence, set Settings, caveats *caveat.List) ControlReport {
	c := ControlReport{Stints: len(q.Controls), Sets: q.SetsOf(q.Control)}
	y := make([]float64, len(q.Controls))
	for k, i := range q.Controls {
		y[k] = q.Stints[i].Equal
		c.Runs += q.Stints[i].N()
		c.Mean += y[k] / float64(len(y))
		if k == 0 {
			c.First, c.Low, c.High = y[k], y[k], y[k]
		}
		c.Low, c.High = min(c.Low, y[k]), max(c.High, y[k])
	}
	if f, err := correct.LeastSquares(q, q.Controls, y, 1, 0, false, nil); err == nil && f.Common != nil && f.M.Estimated[f.CommonAt] {
		c.slope(q, f)
	}
	deg := max(1, set.Drift.Degree())
	if f, err := correct.LeastSquares(q, q.Controls, y, deg, 0, false, nil); err == nil && f.Common != nil && f.Common.Degree() == deg {
		c.test(f, set)
	}
	if !set.Quick && q.Segments == 1 && len(y) >= shiftControls {
		s := drift.Sequence{Value: y}
		for _, i := range q.Controls {
			s.At = append(s.At, q.Stints[i].X)
		}
		// A line is allowed for, so that drift is not taken for a shift; drawn,
		// not counted out, above six controls: 5,000 draws place p to 0.003.
		if sh, err := drift.SuddenShift(s, 1, resample.Options{Draws: 5000, Seed: 1}); err == nil {
			c.Shift = &sh
			if sh.P < set.ShownLevel && sh.Before > 0 {
				caveats.Add("sudden_shift", caveat.Place{Code: q.Control}, "The control seems to have shifted at once by %.4g between %s %.6g and %.6g (p %.3f, a steady drift allowed for): was there a shower, a pause, another driver? A line or a bracket does not take a shift out.", sh.Size, set.By, sh.From, sh.To, sh.P)
			}
		}
	}
	return c
}

// shiftControls is how many control stints a search for a sudden shift beside a
// line needs: own choice; with fewer, level, line and place of the shift leave
// nothing to judge by.
const shiftControls = 5

func (c *ControlReport) slope(q *sequence.Sequence, f *correct.Fit) {
	l, _ := f.Slope()
	v, w, ok := f.Predict(l)
	if !ok {
		return
	}
	t := &Term{Name: "drift", Estimate: v}
	c.DF = f.M.DF
	if sd, ok := f.M.Sigma(); ok && !f.M.PerfectFit {
		c.ResidualSD = some(sd)
		if se := sd * math.Sqrt(dot(w, w)); se > 0 {
			t.SE, t.T, t.P = some(se), some(v/se), some(linear.TwoSidedT(v/se, float64(f.M.DF)))
		}
	}
	c.Slope = t
	first, last := &q.Stints[q.Controls[0]], &q.Stints[q.Controls[len(q.Controls)-1]]
	if c.Mean > 0 && q.Segments == 1 {
		c.WorthPercent = some(100 * v * (last.X - first.X) / c.Mean)
	}
	if q.Segments == 1 {
		if at0, _, ok := f.Predict(f.At(0, first.U-first.X, "", nil)); ok {
			c.Intercept = some(at0)
		}
	}
}

func (c *ControlReport) test(f *correct.Fit, set Settings) {
	var l [][]float64
	for j := f.CommonAt; j < f.CommonAt+f.Common.Degree(); j++ {
		if f.M.Estimated[j] {
			row := make([]float64, f.Width)
			row[j] = 1
			l = append(l, row)
		}
	}
	t, err := f.M.Test("drift", l)
	if err != nil {
		return
	}
	switch {
	case t.HasTest:
		c.Test = &FResult{F: t.F, P: t.P, Num: t.Num, Den: t.Den}
		c.Shown = t.P < set.ShownLevel
	case f.M.DF > 0 && f.M.PerfectFit:
		// On a line to the last digit: it is shown unless it is level.
		c.Shown = c.High-c.Low > 1e-12*math.Max(math.Abs(c.High), math.Abs(c.Low))
	}
}

func bracketReports(q *sequence.Sequence) []BracketReport {
	var out []BracketReport
	for k, i := range q.Controls[:len(q.Controls)-1] {
		j := q.Controls[k+1]
		a, b := &q.Stints[i], &q.Stints[j]
		if a.Segment != b.Segment {
			continue
		}
		r := BracketReport{From: a.ID, To: b.ID, Segment: a.Segment, Change: b.Equal - a.Equal}
		if a.Equal > 0 {
			r.Percent = some(100 * math.Abs(b.Equal-a.Equal) / a.Equal)
		}
		for n := i + 1; n < j; n++ {
			r.Candidates = append(r.Candidates, q.Stints[n].ID)
		}
		out = append(out, r)
	}
	return out
}
