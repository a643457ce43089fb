// Package control says what the control alone shows: how it moved from bracket
// to bracket, its slope, whether it bends, whether it shifted at once, and
// whether each of its stints resembles the one before.
//
// In the trade the control is fitted again and again so that what changed on the
// ground can be seen. This is what there is to see, for people to judge; whether
// and how drift is taken out was fixed by the plan.
//
// Sources: package stat/drift has the tests and theirs; ASTM F1650 (drift shown or
// not). Units: stint means in the measure's unit, positions from 1, clocks in s.
// Limits: with three to six control stints these tests see only what is plain.
package control

import (
	"math"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/compare/correct"
	"example.org/bookend/compare/scatter"
	"example.org/bookend/compare/sequence"
	"example.org/bookend/compare/setting"
	"example.org/bookend/stat/drift"
	"example.org/bookend/stat/linear"
	"example.org/bookend/stat/resample"
	"example.org/bookend/unit"
)

// Report is what the control alone shows, on its stint means in the measure's
// unit.
type Report struct {
	Stints, Runs int
	Sets         []string
	First, Mean  float64
	Low, High    float64 // least and greatest stint mean
	// Slope is the straight line through the control's stint means, a level of
	// its own in each segment: per position or s. Nil with fewer stints than a
	// line needs.
	Slope      *scatter.Term
	Intercept  *float64 // of that line at position or clock 0; nil with several segments
	ResidualSD *float64 // about that line
	DF         int
	// WorthPercent is what the line was worth from the first to the last control
	// stint, in per cent of their mean; nil where the mean is not above 0.
	WorthPercent *float64
	Test         *scatter.FResult // of the drift that the correction would take out
	// Shown says whether the control shows drift at the settings' level: by that
	// test. A bracket takes out more than a line; for it successive stints that
	// resemble each other (LagOne) show drift as well, each test at half the level.
	Shown bool
	// Curvature is the coefficient of the square, the line allowed for: per
	// position or s squared. Nil with several segments or fewer than four stints.
	Curvature *scatter.Term
	// Shift is the most likely sudden shift, a steady drift allowed for; of
	// several segments that of the least p. Nil where no segment has enough stints,
	// or nobody asked.
	Shift *drift.Shift
	// ShiftStints are what was driven where the shift lies: the control stints on
	// either side of it, and the candidates between them.
	ShiftStints []string
	// LagOne is the correlation of each control stint with the next, as driven:
	// well above 0 where the ground drifts or wanders. Nil with fewer than four
	// stints in a segment, or where nobody asked.
	LagOne *drift.Correlation
}

// Bracket is two neighbouring control stints and what lies between.
type Bracket struct {
	From, To   string // stints
	Segment    int
	Candidates []string // stints, in order
	Change     float64  // of the control, in the unit
	Percent    *float64 // the same in per cent of the first, without its sign; nil where that is not above 0
}

// Look says what the control shows.
func Look(q *sequence.Sequence, set setting.Settings, caveats *caveat.List) Report {
	c := Report{Stints: len(q.Controls), Sets: q.SetsOf(q.Control)}
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
	if !set.Quick || set.When == setting.IfShown {
		c.lagOne(q)
	}
	deg := max(1, set.Drift.Degree())
	if f, err := correct.LeastSquares(q, q.Controls, y, deg, 0, false, nil); err == nil && f.Common != nil && f.Common.Degree() == deg {
		c.test(f, set)
	}
	if c.byBracket(set) {
		c.Shown = c.Shown || c.LagOne.P < set.ShownLevel/2
	}
	if !set.Quick {
		c.evidence(q, set, caveats)
	}
	return c
}

// ShiftControls is how many control stints a search for a sudden shift beside a
// line needs: own choice; with fewer, level, line and place of the shift leave
// nothing to judge by.
const ShiftControls = 5

// draws: where there are too many orders to count out, 5,000 place p to 0.003.
var draws = resample.Options{Draws: 5000, Seed: 1}

// bySegment gives the control's stints in each segment.
func bySegment(q *sequence.Sequence) (values []drift.Sequence, stints [][]int) {
	values, stints = make([]drift.Sequence, q.Segments), make([][]int, q.Segments)
	for _, i := range q.Controls {
		s := &q.Stints[i]
		values[s.Segment].At = append(values[s.Segment].At, s.X)
		values[s.Segment].Value = append(values[s.Segment].Value, s.Equal)
		stints[s.Segment] = append(stints[s.Segment], i)
	}
	return values, stints
}

// lagOne is the correlation from each control stint to the next.
func (c *Report) lagOne(q *sequence.Sequence) {
	values, _ := bySegment(q)
	var long []drift.Sequence
	for _, s := range values {
		if len(s.At) >= 2 {
			long = append(long, s)
		}
	}
	if l, err := lagOne(long...); err == nil && l.Defined {
		c.LagOne = &l
	}
}

// byBracket tells whether resemblance of successive stints counts as drift.
func (c *Report) byBracket(set setting.Settings) bool {
	return set.Drift == setting.Bracket && set.When == setting.IfShown && c.LagOne != nil
}

// evidence is what takes long: bend and sudden shift.
func (c *Report) evidence(q *sequence.Sequence, set setting.Settings, caveats *caveat.List) {
	bySegment, stints := bySegment(q)
	if q.Segments == 1 {
		if t, err := drift.Curvature(bySegment[0]); err == nil {
			c.Curvature = &scatter.Term{Name: "curvature", Estimate: t.Estimate}
			if t.Tested {
				c.Curvature.SE, c.Curvature.T, c.Curvature.P = some(t.SE), some(t.T), some(t.P)
			}
		}
	}
	searched, where := 0, -1
	for k, s := range bySegment {
		if len(s.At) < ShiftControls {
			continue
		}
		// A line is allowed for, so that drift is not taken for a shift.
		sh, err := suddenShift(s)
		if err != nil || sh.Before == 0 {
			continue
		}
		searched++
		if c.Shift == nil || sh.P < c.Shift.P {
			c.Shift, where = &sh, k
		}
	}
	if c.Shift == nil {
		return
	}
	// Several segments are several looks (Bonferroni).
	c.Shift.P = min(1, c.Shift.P*float64(searched))
	from, to := stints[where][c.Shift.Before-1], stints[where][c.Shift.Before]
	var between []string
	for i := from; i <= to; i++ {
		c.ShiftStints = append(c.ShiftStints, q.Stints[i].ID)
		if i > from && i < to {
			between = append(between, q.Stints[i].ID+" ("+q.Stints[i].Code+")")
		}
	}
	if c.Shift.P >= set.ShownLevel {
		return
	}
	what := "nothing was driven between"
	if len(between) > 0 {
		what = "what was driven between (" + strings.Join(between, ", ") + ") may lie before it or after it"
	}
	caveats.Add("sudden_shift", caveat.Place{Code: q.Control, Stint: q.Stints[to].ID}, "The control seems to have shifted at once by %.4g between its stints %s and %s (%s, a steady drift allowed for); %s. Was there a shower, a pause, another driver? A line or a bracket does not take a shift out: if something did happen there, declare a break.",
		c.Shift.Size, q.Stints[from].ID, q.Stints[to].ID, unit.Probability(c.Shift.P), what)
}

func (c *Report) slope(q *sequence.Sequence, f *correct.Fit) {
	l, _ := f.Slope()
	v, w, ok := f.Predict(l)
	if !ok {
		return
	}
	t := &scatter.Term{Name: "drift", Estimate: v}
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

func (c *Report) test(f *correct.Fit, set setting.Settings) {
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
		level := set.ShownLevel
		if c.byBracket(set) {
			level /= 2
		}
		c.Test = &scatter.FResult{F: t.F, P: t.P, Num: t.Num, Den: t.Den}
		c.Shown = t.P < level
	case f.M.DF > 0 && f.M.PerfectFit:
		// On a line to the last digit: it is shown unless it is level.
		c.Shown = c.High-c.Low > 1e-12*math.Max(math.Abs(c.High), math.Abs(c.Low))
	}
}

// Brackets gives the brackets of the sequence.
func Brackets(q *sequence.Sequence) []Bracket {
	var out []Bracket
	for k, i := range q.Controls[:len(q.Controls)-1] {
		j := q.Controls[k+1]
		a, b := &q.Stints[i], &q.Stints[j]
		if a.Segment != b.Segment {
			continue
		}
		r := Bracket{From: a.ID, To: b.ID, Segment: a.Segment, Change: b.Equal - a.Equal}
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

func dot(a, b []float64) float64 {
	s := 0.0
	for i := range a {
		s += a[i] * b[i]
	}
	return s
}

func some(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}
