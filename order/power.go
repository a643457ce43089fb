package order

import (
	"context"
	"math"

	"example.org/bookend/fault"
	"example.org/bookend/order/drift"
	"example.org/bookend/programme"
	"example.org/bookend/stat/manyone"
)

// Test says how the comparison that follows will judge.
type Test struct {
	Confidence float64       // of all intervals together; default 0.95
	Power      float64       // for one candidate that differs; default 0.8
	Sided      manyone.Sided // default two-sided
	Wanted     float64       // smallest difference that is to be shown, on the scatter's scale; 0: not told
}

// Sides of the intervals that an order is planned for.
const (
	TwoSided = manyone.TwoSided
	OneSided = manyone.Upper
)

func (t Test) complete() Test {
	if t.Confidence == 0 {
		t.Confidence = 0.95
	}
	if t.Power == 0 {
		t.Power = 0.8
	}
	return t
}

func (t Test) check(s *programme.Scatter) error {
	if !(t.Confidence > 0.5 && t.Confidence < 1) {
		return fault.New(fault.Invalid, "the confidence is %v, not between 0.5 and 1", t.Confidence).WithHint("write 0.95 for 95 %%")
	}
	if !(t.Power > 0 && t.Power < 1) {
		return fault.New(fault.Invalid, "the power is %v, not between 0 and 1", t.Power).WithHint("write 0.8 for 80 %%")
	}
	if !(t.Wanted >= 0) || !finite(t.Wanted) {
		return fault.New(fault.Invalid, "the difference to be shown is %v", t.Wanted).WithHint("give a difference above 0")
	}
	if s == nil {
		if t.Wanted > 0 {
			return fault.New(fault.Invalid, "a difference is to be shown, but nothing is known of the scatter").WithHint("give the standard deviation of stints")
		}
		return nil
	}
	for _, v := range []float64{s.StintSD, s.StintDF, s.RunSD, s.RunDF, s.DriftSD} {
		if !(v >= 0) || !finite(v) {
			return fault.New(fault.Invalid, "the scatter has a standard deviation or degrees of freedom of %v", v).WithHint("they are 0 or more")
		}
	}
	if !(s.StintSD > 0) && !(s.RunSD > 0) {
		return fault.New(fault.Invalid, "the scatter of stints and runs is 0").WithHint("give at least one standard deviation above 0")
	}
	return nil
}

// stintMeanSD gives the standard deviation of a stint's mean on the scatter's
// scale.
func (r Request) stintMeanSD() float64 {
	s := r.Scatter
	if s == nil {
		return 0
	}
	return math.Sqrt(s.StintSD*s.StintSD + s.RunSD*s.RunSD/float64(max(1, r.Runs)))
}

// Detectable is the smallest difference that a plan can show.
type Detectable struct {
	InSD     float64  // in standard deviations of a stint mean, the correction leaving no drift
	Value    *float64 // the same on the scatter's scale; nil without a scatter
	Walk     *float64 // on the scatter's scale, drift being a random walk that the correction takes out in part
	DF       int      // degrees of freedom of the scatter of stint means about tyre and drift
	Critical float64
	Method   string // how the critical value was computed
	// Known is the smallest difference on the scatter's scale if the scatter of
	// stints is taken from the record beside this programme's own: degrees of
	// freedom are the sum. Nil without a record.
	Known *float64
}

// df gives the degrees of freedom of stint means about codes, block levels and
// drift, at least a straight line, as package compare counts them.
func (l *layout) df(stints, blocks int) int {
	return stints - len(l.Codes) - (blocks - 1) - max(1, l.req.Correction.Degree())
}

// correlations gives those of the estimates, from their weights.
func correlations(w [][]float64) (corr [][]float64, length []float64) {
	length = make([]float64, len(w))
	for c := range w {
		length[c] = math.Sqrt(dot(w[c], w[c]))
	}
	corr = make([][]float64, len(w))
	for c := range w {
		corr[c] = make([]float64, len(w))
		for d := range w {
			corr[c][d] = dot(w[c], w[d]) / (length[c] * length[d])
		}
		corr[c][c] = 1
	}
	for c := range w {
		for d := range c {
			v := math.Max(-1, math.Min(1, (corr[c][d]+corr[d][c])/2))
			corr[c][d], corr[d][c] = v, v
		}
	}
	return corr, length
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i := range a {
		s += a[i] * b[i]
	}
	return s
}

// planTol is the absolute error of tail probabilities that planning asks of the
// lattice rule: it moves a detectable difference by less than 0.1 %.
const planTol = 1e-4

// detectable gives the smallest difference that the least favoured candidate of
// the weights in s shows with the power given; false without degrees of freedom.
func (l *layout) detectable(s *drift.Scorer, df float64) (d Detectable, ok bool, err error) {
	d.DF = int(df)
	if !(df > 0) {
		return d, false, nil
	}
	t := l.req.Test
	corr, length := correlations(s.W)
	worst := 0.0
	for _, v := range length {
		worst = math.Max(worst, v)
	}
	inSD := func(df float64) (float64, float64, error) {
		f := manyone.Family{Corr: corr, DF: df, Sided: t.Sided, Tol: planTol}
		c, _, err := f.Critical(1 - t.Confidence)
		if err != nil {
			return 0, 0, err
		}
		x, err := manyone.Noncentrality(c, df, t.Power, t.Sided)
		return x * worst, c, err
	}
	if d.InSD, d.Critical, err = inSD(df); err != nil {
		return d, false, err
	}
	if d.Method, err = (manyone.Family{Corr: corr, DF: df, Sided: t.Sided, Tol: planTol}).Method(); err != nil {
		return d, false, err
	}
	sd := l.req.stintMeanSD()
	if sd > 0 {
		value := d.InSD * sd
		d.Value = &value
		if len(s.Variance) > 0 {
			more := 0.0
			for c := range s.Variance {
				more = math.Max(more, s.Variance[c][drift.Walk])
			}
			walk := value * math.Sqrt(more) / worst
			d.Walk = &walk
		}
		if l.req.Scatter.StintDF > 0 {
			known, _, err := inSD(df + l.req.Scatter.StintDF)
			if err != nil {
				return d, false, err
			}
			known *= sd
			d.Known = &known
		}
	}
	return d, true, nil
}

// Needed is the smallest programme that shows a wanted difference.
type Needed struct {
	Repeats       int // stints of each candidate
	ControlStints int
	Stints        int
	Runs          int     // a stint
	Detectable    float64 // on the scatter's scale
	Sets          int     // of each candidate, by the wear budget; 0 without one
	ControlSets   int
}

// mostRepeats ends the search for the smallest programme.
const mostRepeats = 12

// needed looks for the fewest stints that show the wanted difference, the
// control repeated at least as the rules ask and up to twice as often as a
// candidate per root of their number; nil where mostRepeats of each do not.
func (l *layout) needed() (*Needed, error) {
	r := l.req
	if r.Test.Wanted == 0 || r.Scatter == nil {
		return nil, nil
	}
	var best *Needed
	for repeats := 1; repeats <= mostRepeats; repeats++ {
		q := r
		q.Candidates = nil
		for _, c := range r.Candidates {
			q.Candidates = append(q.Candidates, Candidate{c.Code, repeats})
		}
		ideal := float64(repeats) * math.Sqrt(float64(len(r.Candidates)))
		for controls := 1; float64(controls) <= 2*ideal+2; controls++ {
			total := repeats*len(r.Candidates) + controls
			if total > mostStints || best != nil && total >= best.Stints {
				break
			}
			if r.stopped() {
				return nil, context.Canceled
			}
			q.ControlStints = controls
			m, err := q.layout()
			if err != nil {
				return nil, err
			}
			if m.df(m.N(), len(m.Lengths)) < 1 || m.Clash() != nil {
				continue
			}
			f := m.Exchange(m.scorer().Criterion, 0)
			if f == nil || f.Best == nil {
				continue
			}
			s := m.scorer()
			if !s.Weigh(f.Best) {
				continue
			}
			s.Vary()
			d, ok, err := m.detectable(s, float64(m.df(m.N(), len(m.Lengths))))
			if err != nil {
				return nil, err
			}
			if ok && *d.Value <= r.Test.Wanted {
				best = &Needed{Repeats: repeats, ControlStints: controls, Stints: total, Runs: r.Runs, Detectable: *d.Value}
				if w := r.Wear; w != nil {
					best.Sets = w.SetsFor(repeats, r.Runs)
					best.ControlSets = w.SetsFor(controls, r.Runs)
				}
				break
			}
		}
		if best != nil && (repeats+1)*len(r.Candidates)+2 > best.Stints {
			break
		}
	}
	return best, nil
}

// RunsFor gives the fewest runs a stint with which the plan's order shows a
// wanted difference, and false where no number of runs does: what stints scatter
// beside their runs stays.
func RunsFor(detectableInSD, wanted float64, s programme.Scatter) (runs int, ok bool) {
	if !(detectableInSD > 0) || !(wanted > 0) {
		return 0, false
	}
	room := wanted/detectableInSD*wanted/detectableInSD - s.StintSD*s.StintSD
	if !(room > 0) {
		return 0, false
	}
	n := math.Ceil(s.RunSD*s.RunSD/room - 1e-9)
	if n > 1000 {
		return 0, false
	}
	return max(1, int(n)), true
}
