// Package drift says what a control sequence shows of drift: slope, curvature,
// a sudden shift, correlation from one control to the next, a random walk, and
// a slope that no single odd value can turn.
//
// In the trade: the control tyre is fitted again and again, and what it shows
// to have changed is given to the surface, the weather or the driver. This is
// the evidence alone; whether and how to correct is decided by the plan, not
// by these p-values, which are weak with three to six controls and say so.
//
// Positions are run positions, clock times or whatever the sequence runs
// along, in any unit; slopes are in value units per position unit. Sources:
// least squares in an orthogonal basis; Hawkins, JASA 72 (1977) 180-186 for the
// likelihood of one shift; Durbin and Koopman, Time Series Analysis by State
// Space Methods (2012), chapter 2, for the local level; Sen, JASA 63 (1968)
// 1379-1389 for the robust slope. Limits: up to some hundred values a sequence.
package drift

import (
	"math"
	"slices"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/stat/resample"
	"example.org/bookend/stat/tail"
)

// Sequence is a control sequence: values with their positions or times, in any
// order.
type Sequence struct {
	At    []float64 // position or time, any unit
	Value []float64 // in the measure's unit
}

// largest is the greatest size of a position or value admitted: squares and
// their sums stay far from overflow, and no measure comes near it.
const largest = 1e100

// sorted gives the sequence in order of position, values at equal positions in
// the order given.
func (s Sequence) sorted() (Sequence, error) {
	if len(s.At) != len(s.Value) {
		return s, fault.New(fault.Invalid, "%d positions but %d values", len(s.At), len(s.Value))
	}
	order := make([]int, len(s.At))
	for i := range order {
		order[i] = i
		if !(math.Abs(s.At[i]) <= largest) || !(math.Abs(s.Value[i]) <= largest) {
			return s, fault.New(fault.Invalid, "position or value %d is no number, or beyond %g", i+1, largest).WithHint("leave missing controls out")
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case s.At[a] < s.At[b]:
			return -1
		case s.At[a] > s.At[b]:
			return 1
		}
		return 0
	})
	out := Sequence{make([]float64, len(order)), make([]float64, len(order))}
	for i, j := range order {
		out.At[i], out.Value[i] = s.At[j], s.Value[j]
	}
	return out, nil
}

// Term is one coefficient of the drift with its t test. Tested is false where
// no degrees of freedom are left or the fit is perfect: then only Estimate
// stands.
type Term struct {
	Estimate   float64 // slope: value per position; curvature: value per position squared (the coefficient of the square)
	SE         float64
	T          float64
	DF         float64
	P          float64 // two-sided; 1 where Tested is false
	Tested     bool
	ResidualSD float64 // about the fitted line or parabola
	Level      float64 // fitted value at the mean position
	Caveats    caveat.List
}

// Slope fits a straight line and tests its slope.
func Slope(s Sequence) (Term, error) { return term(s, 1) }

// Curvature fits a parabola and tests the coefficient of its square; the line
// is allowed for.
func Curvature(s Sequence) (Term, error) { return term(s, 2) }

func term(s Sequence, degree int) (Term, error) {
	t := Term{P: 1}
	s, err := s.sorted()
	if err != nil {
		return t, err
	}
	b, err := newBasis(s.At, degree)
	if err != nil {
		return t, err
	}
	coef, resid := b.fit(s.Value)
	t.Estimate = coef[degree] / b.lead[degree]
	t.DF = float64(len(s.At) - degree - 1)
	for k, c := range coef {
		t.Level += c * b.atCenter[k]
	}
	rss := sumSquares(resid)
	switch {
	case t.DF == 0:
		t.Caveats.Add("no_degrees_of_freedom", caveat.Place{}, "%d controls determine a curve of order %d exactly: nothing is left to test it with.", len(s.At), degree)
	case rss == 0:
		t.Caveats.Add("perfect_fit", caveat.Place{}, "The curve of order %d goes through all %d controls: there is no scatter to test it with.", degree, len(s.At))
	default:
		t.ResidualSD = math.Sqrt(rss / t.DF)
		t.SE = t.ResidualSD / math.Abs(b.lead[degree])
		t.T = t.Estimate / t.SE
		t.P = tail.TwoSidedT(t.T, t.DF)
		t.Tested = true
		if t.DF < 3 {
			t.Caveats.Add("few_controls", caveat.Place{}, "With %.0f degrees of freedom a drift must be very plain to be shown; its absence proves little.", t.DF)
		}
	}
	return t, nil
}

// Residuals gives the residuals of a sequence about a polynomial of the degree
// given, in order of position, and the degrees of freedom left; both are what
// a record of scatter may count.
func Residuals(s Sequence, degree int) (resid []float64, df int, err error) {
	s, err = s.sorted()
	if err != nil {
		return nil, 0, err
	}
	b, err := newBasis(s.At, degree)
	if err != nil {
		return nil, 0, err
	}
	_, resid = b.fit(s.Value)
	return resid, len(s.At) - degree - 1, nil
}

// basis is an orthonormal polynomial basis over positions.
type basis struct {
	q        [][]float64 // q[k][i]
	lead     []float64   // leading coefficient's divisor in position units: q_k = x^k/lead_k^-1 ...
	atCenter []float64   // each polynomial's value at the mean position
}

// newBasis orthogonalises the powers of centred and scaled positions, twice
// over.
func newBasis(x []float64, degree int) (basis, error) {
	var b basis
	n := len(x)
	distinct := 0
	for i := range x {
		if i == 0 || x[i] != x[i-1] { // x is sorted
			distinct++
		}
	}
	if degree < 0 || distinct < degree+1 {
		return b, fault.New(fault.Invalid, "a drift of order %d needs at least %d controls at different positions, not %d", degree, max(degree, 0)+1, distinct)
	}
	center := 0.0
	for _, v := range x {
		center += v / float64(n)
	}
	scale := math.Max(x[n-1]-center, center-x[0])
	if scale == 0 {
		scale = 1
	}
	u := make([]float64, n)
	for i, v := range x {
		u[i] = (v - center) / scale
	}
	for k := 0; k <= degree; k++ {
		v := make([]float64, n)
		at := 0.0
		for i := range v {
			v[i] = math.Pow(u[i], float64(k))
		}
		if k == 0 {
			at = 1
		}
		for range 2 {
			for j, q := range b.q {
				d := dot(q, v)
				for i := range v {
					v[i] -= d * q[i]
				}
				at -= d * b.atCenter[j]
			}
		}
		norm := math.Sqrt(sumSquares(v))
		for i := range v {
			v[i] /= norm
		}
		b.q = append(b.q, v)
		b.atCenter = append(b.atCenter, at/norm)
		b.lead = append(b.lead, norm*math.Pow(scale, float64(k)))
	}
	return b, nil
}

// fit gives coefficients and residuals; residuals that are rounding only are
// zero.
func (b basis) fit(y []float64) (coef, resid []float64) {
	resid = slices.Clone(y)
	coef = make([]float64, len(b.q))
	for range 2 {
		for k, q := range b.q {
			d := dot(q, resid)
			coef[k] += d
			for i := range resid {
				resid[i] -= d * q[i]
			}
		}
	}
	size := 0.0
	for _, v := range y {
		size = math.Max(size, math.Abs(v))
	}
	if sumSquares(resid) <= float64(len(y))*math.Pow(1e-14*size, 2) {
		clear(resid)
	}
	return coef, resid
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i := range a {
		s += a[i] * b[i]
	}
	return s
}

func sumSquares(a []float64) float64 { return dot(a, a) }

// Shift is the most likely sudden shift of a sequence.
type Shift struct {
	N        int
	Before   int     // number of values before the shift; 0 where there is none to place
	From, To float64 // the shift lies between these two positions
	Size     float64 // level after minus level before, in value units
	LogRatio float64 // twice the gain in log likelihood
	P        float64 // by permutation: how often chance order gives as great a gain
	Exact    bool    // all orders were counted
	Orders   int     // counted or drawn
	Degree   int     // of the drift allowed for beside the shift
	Caveats  caveat.List
}

// SuddenShift looks for the one split of the sequence into before and after
// that raises the likelihood most, a drift of the degree given (0 level, 1
// line) being allowed for on both sides alike. Its p-value comes from
// permuting the residuals about that drift: exact for degree 0 and up to eight
// values, drawn with the options' seed beyond.
func SuddenShift(s Sequence, degree int, o resample.Options) (Shift, error) {
	r := Shift{N: len(s.At), Degree: degree, P: 1}
	s, err := s.sorted()
	if err != nil {
		return r, err
	}
	n := len(s.At)
	if n < degree+3 {
		return r, fault.New(fault.Invalid, "a shift beside a drift of order %d needs at least %d controls, not %d", degree, degree+3, n)
	}
	b, err := newBasis(s.At, degree)
	if err != nil {
		return r, err
	}
	_, resid := b.fit(s.Value)
	rss := sumSquares(resid)
	if rss == 0 {
		r.Caveats.Add("no_scatter", caveat.Place{}, "The controls lie exactly on the drift allowed for: there is no shift to look for.")
		return r, nil
	}
	// Squared length of each step that the drift does not explain.
	length := make([]float64, n) // length[k]: step before value k
	for k := 1; k < n; k++ {
		if s.At[k] == s.At[k-1] {
			continue
		}
		step := make([]float64, n)
		for i := k; i < n; i++ {
			step[i] = 1
		}
		for _, q := range b.q {
			d := dot(q, step)
			for i := range step {
				step[i] -= d * q[i]
			}
		}
		if l := sumSquares(step); l > 1e-12 {
			length[k] = l
		}
	}
	gain := func(e []float64) (best float64, at int) { // e orthogonal to the drift
		sum := 0.0
		for k := n - 1; k >= 1; k-- {
			sum += e[k]
			if length[k] > 0 {
				if g := sum * sum / length[k]; g >= best {
					best, at = g, k
				}
			}
		}
		return best, at
	}
	best, at := gain(resid)
	if at == 0 {
		r.Caveats.Add("no_split", caveat.Place{}, "No split leaves the drift allowed for distinguishable from a shift.")
		return r, nil
	}
	r.Before, r.From, r.To = at, s.At[at-1], s.At[at]
	for _, e := range resid[at:] {
		r.Size += e / length[at]
	}
	share := best / rss
	if share < 1-1e-12 {
		r.LogRatio = -float64(n) * math.Log1p(-share)
	} else {
		r.Caveats.Add("perfect_fit", caveat.Place{}, "Before and after the shift the controls do not scatter at all.")
	}
	moved := make([]float64, n)
	p, err := resample.Permute(n, func(order []int) float64 {
		for i, j := range order {
			moved[i] = resid[j]
		}
		if degree > 0 {
			for _, q := range b.q {
				d := dot(q, moved)
				for i := range moved {
					moved[i] -= d * q[i]
				}
			}
			ss := sumSquares(moved)
			if ss <= 1e-20*rss {
				return 0
			}
			g, _ := gain(moved)
			return g / ss
		}
		g, _ := gain(moved)
		return g / rss
	}, o)
	if err != nil {
		return r, err
	}
	r.P, r.Exact, r.Orders = p.P, p.Exact, p.Permutations
	r.Caveats = append(r.Caveats, p.Caveats...)
	if degree > 0 {
		r.Caveats.Add("approximate_permutation", caveat.Place{}, "Residuals about a fitted drift are not quite exchangeable: the p-value is approximate.")
	}
	return r, nil
}

// Correlation is the correlation of successive values.
type Correlation struct {
	Pairs   int
	R       float64 // 0 where it has no value
	Defined bool
	P       float64 // one-sided, for a positive correlation: by permutation of one sequence, by t of several
	Exact   bool    // P counts all orders
	Caveats caveat.List
}

// LagOne gives the correlation of each value with the next one, over all pairs
// of all sequences together (values in their order of position; pairs never
// span two sequences). Without drift it lies a little below zero, about
// -1/n for one sequence of n.
func LagOne(o resample.Options, sequences ...Sequence) (Correlation, error) {
	c := Correlation{P: 1}
	var all []Sequence
	for i, s := range sequences {
		s, err := s.sorted()
		if err != nil {
			return c, fault.At(err, "sequence %d", i+1)
		}
		all = append(all, s)
		c.Pairs += max(0, len(s.At)-1)
	}
	if c.Pairs < 3 {
		return c, fault.New(fault.Invalid, "a correlation of successive controls needs at least 3 pairs, not %d", c.Pairs)
	}
	var a, b []float64
	for _, s := range all {
		if n := len(s.Value); n > 1 {
			a, b = append(a, s.Value[:n-1]...), append(b, s.Value[1:]...)
		}
	}
	c.R, c.Defined = pearson(a, b)
	if !c.Defined {
		c.Caveats.Add("no_scatter", caveat.Place{}, "The controls do not scatter: their correlation has no value.")
		return c, nil
	}
	if len(all) == 1 {
		y := all[0].Value
		n := len(y)
		first, next := make([]float64, n-1), make([]float64, n-1)
		// Orders share their sums but for the value at either end, so that only the
		// products of neighbours are left to each; about the mean nothing cancels.
		mean := 0.0
		for _, v := range y {
			mean += v / float64(n)
		}
		z := make([]float64, n)
		sum, square := 0.0, 0.0
		for i, v := range y {
			z[i] = v - mean
			sum += z[i]
			square += z[i] * z[i]
		}
		pairs := float64(n - 1)
		p, err := resample.Permute(n, func(order []int) float64 {
			ab := 0.0
			for i := range n - 1 {
				ab += z[order[i]] * z[order[i+1]]
			}
			begin, end := z[order[0]], z[order[n-1]]
			a, b := sum-end, sum-begin
			aa, bb := square-end*end-a*a/pairs, square-begin*begin-b*b/pairs
			if aa > 1e-3*square && bb > 1e-3*square {
				return math.Max(-1, math.Min(1, (ab-a*b/pairs)/math.Sqrt(aa*bb))) + 2
			}
			// One value makes nearly all of the scatter: the long way.
			for i := range n - 1 {
				first[i], next[i] = y[order[i]], y[order[i+1]]
			}
			r, ok := pearson(first, next)
			if !ok {
				return -1
			}
			return r + 2 // kept positive: ties are judged relative to size
		}, o)
		if err != nil {
			return c, err
		}
		c.P, c.Exact = p.P, p.Exact
	} else if r2 := c.R * c.R; r2 < 1 {
		df := float64(c.Pairs - 2)
		c.P = tail.T(c.R*math.Sqrt(df/(1-r2)), df)
	} else if c.R > 0 {
		c.P = 0
	}
	if c.Pairs < 8 {
		c.Caveats.Add("few_controls", caveat.Place{}, "A correlation of %d pairs says little.", c.Pairs)
	}
	return c, nil
}

func pearson(a, b []float64) (r float64, ok bool) {
	n := float64(len(a))
	var ma, mb float64
	for i := range a {
		ma += a[i] / n
		mb += b[i] / n
	}
	var aa, bb, ab, size float64
	for i := range a {
		aa += (a[i] - ma) * (a[i] - ma)
		bb += (b[i] - mb) * (b[i] - mb)
		ab += (a[i] - ma) * (b[i] - mb)
		size = math.Max(size, math.Max(math.Abs(a[i]), math.Abs(b[i])))
	}
	tiny := n * math.Pow(1e-14*size, 2)
	if aa <= tiny || bb <= tiny {
		return 0, false
	}
	return math.Max(-1, math.Min(1, ab/math.Sqrt(aa*bb))), true
}

// Evidence is what one control sequence shows, side by side. A part that the
// sequence is too short for is absent, with a caveat.
type Evidence struct {
	N         int
	Slope     *Term
	Curvature *Term
	Shift     *Shift
	LagOne    *Correlation
	Robust    *TheilSen
	Caveats   caveat.List
}

// Look gathers the evidence of one control sequence: slope, curvature, sudden
// shift about a level, lag-one correlation, robust slope. A random walk wants
// many sequences: see FitWalk.
func Look(s Sequence, o resample.Options) (Evidence, error) {
	e := Evidence{N: len(s.At)}
	if _, err := s.sorted(); err != nil {
		return e, err
	}
	if e.N == 0 {
		return e, fault.New(fault.Invalid, "there is no control to look at")
	}
	short := func(what string, err error) {
		e.Caveats.Add("too_few_controls", caveat.Place{}, "%s is not looked for: %v.", what, err)
	}
	if t, err := Slope(s); err == nil {
		e.Slope = &t
		e.Caveats = append(e.Caveats, t.Caveats...)
	} else {
		short("A slope", err)
	}
	if t, err := Curvature(s); err == nil {
		e.Curvature = &t
		e.Caveats = append(e.Caveats, t.Caveats...)
	} else {
		short("Curvature", err)
	}
	if t, err := SuddenShift(s, 0, o); err == nil {
		e.Shift = &t
		e.Caveats = append(e.Caveats, t.Caveats...)
	} else {
		short("A sudden shift", err)
	}
	if t, err := LagOne(o, s); err == nil {
		e.LagOne = &t
		e.Caveats = append(e.Caveats, t.Caveats...)
	} else {
		short("Correlation from control to control", err)
	}
	conf := o.Confidence
	if conf == 0 {
		conf = 0.95
	}
	if t, err := FitTheilSen(s, conf); err == nil {
		e.Robust = &t
		e.Caveats = append(e.Caveats, t.Caveats...)
	} else {
		short("A robust slope", err)
	}
	return e, nil
}
