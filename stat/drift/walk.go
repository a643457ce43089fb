package drift

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/stat/tail"
)

// Walk is the local-level model fitted to control sequences: what each control
// shows is a level that walks at random, plus independent scatter.
type Walk struct {
	Sequences int // that said something
	Contrasts int // degrees of freedom in all: values less what each sequence's own mean and drift take
	Degree    int // of the drift allowed for in each sequence

	Step       float64 // variance of the walk per unit of position, in squared value units
	StepLow    float64 // interval by profile likelihood
	StepHigh   float64 // 0 where Bounded is false
	Bounded    bool    // false: the sequences set no upper limit
	Noise      float64 // variance of the independent scatter, in squared value units
	Ratio      float64 // twice the gain in log likelihood over no walk
	P          float64 // that there is no walk (half the chi-square tail: the step cannot be negative)
	Minus2Log  float64 // -2 log of the restricted likelihood, with its constant, for orthonormal contrasts
	Confidence float64
	Caveats    caveat.List
}

// FitWalk estimates the variance of a random walk per unit of position, and
// that of the scatter about it, from one or more control sequences together,
// by restricted maximum likelihood: each sequence's own polynomial (degree 0:
// its mean; 1: its line) is taken out first, so that only what is left
// counts. Sequences share both variances. Positions may have gaps.
func FitWalk(sequences []Sequence, degree int, confidence float64) (Walk, error) {
	w := Walk{Degree: degree, P: 1, Confidence: confidence}
	if !(confidence > 0 && confidence < 1) {
		return w, fault.New(fault.Invalid, "a confidence lies between 0 and 1, not at %v", confidence)
	}
	var c contrasts
	passed := 0
	for i, s := range sequences {
		s, err := s.sorted()
		if err != nil {
			return w, fault.At(err, "sequence %d", i+1)
		}
		if len(s.At) < degree+2 {
			passed++
			continue
		}
		if err := c.add(s, degree); err != nil {
			return w, fault.At(err, "sequence %d", i+1)
		}
		w.Sequences++
	}
	if passed > 0 {
		w.Caveats.Add("short_sequences", caveat.Place{}, "%d of %d sequences are too short to say anything beside their own drift, and are passed over.", passed, len(sequences))
	}
	w.Contrasts = len(c.z2)
	if w.Contrasts < 2 {
		return w, fault.New(fault.Invalid, "a random walk needs at least 2 degrees of freedom beside the sequences' own drift, not %d", w.Contrasts)
	}
	mean, total, spread := 0.0, 0.0, 0.0
	for i, l := range c.l {
		mean += l / float64(len(c.l))
		total += c.z2[i]
	}
	for _, l := range c.l {
		spread = math.Max(spread, math.Abs(l-mean))
	}
	if total == 0 {
		w.Bounded = true
		w.Caveats.Add("no_scatter", caveat.Place{}, "The controls do not scatter about their own drift: both variances are 0.")
		return w, nil
	}
	if mean <= 0 || spread < 1e-9*mean {
		return w, fault.New(fault.Invalid, "these sequences cannot tell a random walk from scatter").
			WithHint("at least one sequence of three controls at different positions is needed beside its own drift")
	}
	for i := range c.l {
		c.l[i] /= mean // so that step and noise are of one size
	}
	// Share of the walk in the variance, from none to all.
	objective := func(share float64) float64 { v, _ := c.profile(share); return v }
	share := leastShare(objective)
	best, scale := c.profile(share)
	w.Minus2Log = best + float64(w.Contrasts)*math.Log(2*math.Pi)
	w.Step, w.Noise = scale*share/mean, scale*(1-share)
	none, _ := c.profile(0)
	w.Ratio = math.Max(0, none-best)
	w.P = 1
	if w.Ratio > 0 {
		w.P = 0.5 * tail.Chi2(w.Ratio, 1)
	}

	// Interval: steps whose best likelihood lies within the chi-square point.
	limit := best + tail.Chi2Point(1-confidence, 1)
	start := math.Max(w.Step*mean, scale*1e-4)
	over := func(step float64) bool { return c.givenStep(step, scale) > limit }
	if w.Step > 0 && c.givenStep(0, scale) > limit {
		w.StepLow = crossing(over, start, 0) / mean
	}
	top := start
	for range 40 {
		if over(top) {
			w.Bounded = true
			break
		}
		top *= 4
	}
	if w.Bounded {
		w.StepHigh = crossing(over, start, top) / mean
	} else {
		w.Caveats.Add("no_upper_limit", caveat.Place{}, "The sequences set no upper limit to the random walk.")
	}
	switch {
	case share == 0:
		w.Caveats.Add("no_walk", caveat.Place{}, "The controls show no random walk: its variance is estimated as 0, which is not a proof that there is none; see the upper limit.")
	case share == 1:
		w.Caveats.Add("no_noise", caveat.Place{}, "All scatter is taken for a random walk: the independent part is estimated as 0.")
	}
	if w.Contrasts < 10 {
		w.Caveats.Add("few_controls", caveat.Place{}, "A random walk from %d degrees of freedom is a guess: its interval is rough and rests on large-sample theory.", w.Contrasts)
	}
	return w, nil
}

// contrasts are what is left of all sequences beside their own drift, turned
// so that they are independent with variance noise + step*l.
type contrasts struct{ l, z2 []float64 }

func (c *contrasts) add(s Sequence, degree int) error {
	b, err := newBasis(s.At, degree)
	if err != nil {
		return err
	}
	n := len(s.At)
	p := degree + 1
	x := mat.NewDense(n, p, nil)
	for k, q := range b.q {
		x.SetCol(k, q)
	}
	var qr mat.QR
	qr.Factorize(x)
	var q mat.Dense
	qr.QTo(&q)
	k := q.Slice(0, n, p, n)
	m := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			m.SetSym(i, j, s.At[i]-s.At[0]) // sorted: the smaller of both
		}
	}
	var mk, a mat.Dense
	mk.Mul(m, k)
	a.Mul(k.T(), &mk)
	sym := mat.NewSymDense(n-p, nil)
	for i := range n - p {
		for j := i; j < n-p; j++ {
			sym.SetSym(i, j, (a.At(i, j)+a.At(j, i))/2)
		}
	}
	var eig mat.EigenSym
	if !eig.Factorize(sym, true) {
		return fault.New(fault.Internal, "the random walk's covariance has no eigenvalues")
	}
	var v mat.Dense
	eig.VectorsTo(&v)
	_, resid := b.fit(s.Value)
	var kr, z mat.VecDense
	kr.MulVec(k.T(), mat.NewVecDense(n, resid))
	z.MulVec(v.T(), &kr)
	for i, l := range eig.Values(nil) {
		c.l = append(c.l, math.Max(0, l))
		c.z2 = append(c.z2, z.AtVec(i)*z.AtVec(i))
	}
	return nil
}

// profile gives -2 log likelihood (without its constant) at the best scale for
// a share of the walk, and that scale.
func (c contrasts) profile(share float64) (minus2, scale float64) {
	n := float64(len(c.l))
	logs := 0.0
	for i, l := range c.l {
		v := 1 - share + share*l
		if v <= 0 {
			return math.Inf(1), 0
		}
		scale += c.z2[i] / v / n
		logs += math.Log(v)
	}
	return n*math.Log(scale) + logs + n, scale
}

// givenStep gives -2 log likelihood at the best noise for a step variance.
func (c contrasts) givenStep(step, scale float64) float64 {
	f := func(noise float64) float64 {
		s := 0.0
		for i, l := range c.l {
			v := noise + step*l
			if v <= 0 {
				return math.Inf(1)
			}
			s += math.Log(v) + c.z2[i]/v
		}
		return s
	}
	best, at := f(0), math.Inf(-1)
	const lo, hi, points = -30.0, 8.0, 77 // logarithm of noise over scale: 1e-13 to 3e3
	for i := range points {
		u := lo + (hi-lo)*float64(i)/(points-1)
		if v := f(scale * math.Exp(u)); v < best {
			best, at = v, u
		}
	}
	if math.IsInf(at, -1) {
		return best
	}
	d := (hi - lo) / (points - 1)
	u := golden(func(u float64) float64 { return f(scale * math.Exp(u)) }, at-d, at+d)
	return math.Min(best, f(scale*math.Exp(u)))
}

// leastShare minimises over [0, 1]: a grid on the logit, golden section about
// its best point, the two ends held against it.
func leastShare(f func(float64) float64) float64 {
	logistic := func(u float64) float64 { return 1 / (1 + math.Exp(-u)) }
	const lo, hi, points = -18.0, 18.0, 145
	d := (hi - lo) / (points - 1)
	best, at := math.Inf(1), lo
	for i := range points {
		u := lo + d*float64(i)
		if v := f(logistic(u)); v < best {
			best, at = v, u
		}
	}
	s := logistic(golden(func(u float64) float64 { return f(logistic(u)) }, at-d, at+d))
	// An inner optimum must be better than an end by more than rounding.
	v := f(s)
	for _, end := range []float64{0, 1} {
		if e := f(end); e <= v+1e-9 {
			s, v = end, e
		}
	}
	return s
}

// golden minimises a function with one minimum between a and b: golden section
// down to where function values no longer tell points apart, then one parabola.
func golden(f func(float64) float64, a, b float64) float64 {
	g := (math.Sqrt(5) - 1) / 2
	c, d := b-g*(b-a), a+g*(b-a)
	fc, fd := f(c), f(d)
	for b-a > 1e-4 {
		if fc <= fd {
			b, d, fd = d, c, fc
			c = b - g*(b-a)
			fc = f(c)
		} else {
			a, c, fc = c, d, fd
			d = a + g*(b-a)
			fd = f(d)
		}
	}
	m := (a + b) / 2
	const h = 1e-3
	lo, mid, hi := f(m-h), f(m), f(m+h)
	if curve := lo - 2*mid + hi; curve > 0 {
		if step := h * (lo - hi) / (2 * curve); math.Abs(step) < 2*h {
			return m + step
		}
	}
	return m
}

// crossing gives where over changes between inside (false) and outside (true).
func crossing(over func(float64) bool, inside, outside float64) float64 {
	for range 60 {
		m := (inside + outside) / 2
		if inside > 0 && outside > 0 {
			m = math.Sqrt(inside) * math.Sqrt(outside)
		}
		if over(m) {
			outside = m
		} else {
			inside = m
		}
	}
	return inside
}
