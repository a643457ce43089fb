// Package resample answers how sure a statistic is by drawing the data again:
// the bootstrap with bias-corrected and accelerated (BCa) limits, and the
// permutation test.
//
// In the trade this stands beside the formula where a formula's assumptions
// are doubted, or where there is none. Where all resamples or permutations can
// be counted they are, and nothing is random; otherwise draws come from a PCG
// with the seed given, and the same seed gives the same bits.
//
// Sources: Efron and Tibshirani, An Introduction to the Bootstrap (1993),
// chapters 14 (BCa) and 15 (permutation); Phipson and Smyth, Statistical
// Applications in Genetics and Molecular Biology 9 (2010) 39 for the p-value of
// drawn permutations. Values are in the statistic's unit. Limits: the bootstrap
// of fewer than about eight values is coarse, and a caveat says so; the
// statistic must not depend on the order of the resample.
package resample

import (
	"math"
	"math/bits"
	"math/rand/v2"
	"slices"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/stat/tail"
)

// EnumerateUpTo is the number of resamples or permutations up to which all are
// counted instead of drawn: 6^6 = 46,656 and 8! = 40,320 are within it. Set
// by this project: 50,000 small statistics take well under a second.
const EnumerateUpTo = 50_000

// DefaultDraws is how many resamples are drawn where they are not counted.
// Efron and Tibshirani (1993, 14.3) ask for 2,000 at least for BCa limits; at
// 20,000 the limits of their law school data repeat to about 0.005.
const DefaultDraws = 20_000

// Statistic computes a value from the items whose indices are given (with
// repetitions); ok is false where it has no value, as a correlation of equal
// values.
type Statistic func(index []int) (value float64, ok bool)

// Of makes a statistic of a function of values.
func Of(x []float64, f func(sample []float64) float64) Statistic {
	buf := make([]float64, len(x))
	return func(index []int) (float64, bool) {
		for i, j := range index {
			buf[i] = x[j]
		}
		v := f(buf[:len(index)])
		return v, !math.IsNaN(v) && !math.IsInf(v, 0)
	}
}

// Options steer a bootstrap or a permutation test; the zero value takes the
// defaults.
type Options struct {
	Confidence float64 // of the limits; 0: 0.95
	Draws      int     // resamples where they are drawn; 0: DefaultDraws
	Seed       uint64  // of the draws
}

func (o Options) filled() (Options, error) {
	if o.Confidence == 0 {
		o.Confidence = 0.95
	}
	if o.Draws == 0 {
		o.Draws = DefaultDraws
	}
	if !(o.Confidence > 0 && o.Confidence < 1) {
		return o, fault.New(fault.Invalid, "a confidence lies between 0 and 1, not at %v", o.Confidence)
	}
	if o.Draws < 100 {
		return o, fault.New(fault.Invalid, "%d draws are too few", o.Draws).WithHint("leave the number open for %d", DefaultDraws)
	}
	return o, nil
}

// Generator gives the random numbers of a seed: a PCG (O'Neill 2014), whose
// sequence the Go language promises to keep.
func Generator(seed uint64) *rand.PCG {
	return rand.NewPCG(seed, 0x9e3779b97f4a7c15) // second word: the golden ratio's bits, fixed for ever
}

// Below gives a whole number in 0..n-1, every one equally likely, from 64
// random bits (Lemire's multiplication with rejection), written out here so
// that results do not hang on a library's choice.
func Below(g *rand.PCG, n int) int {
	bound := uint64(n)
	threshold := -bound % bound
	for {
		hi, lo := bits.Mul64(g.Uint64(), bound)
		if lo >= threshold {
			return int(hi)
		}
	}
}

// Bootstrap is the outcome of a bootstrap. Values and limits are in the
// statistic's unit.
type Bootstrap struct {
	N            int
	Estimate     float64 // of the data themselves
	SE           float64 // standard deviation over the resamples
	Bias         float64 // mean over the resamples minus Estimate
	Low, High    float64 // BCa limits
	PctLow       float64 // percentile limits, for comparison
	PctHigh      float64
	Z0           float64    // bias correction, in normal units
	Acceleration float64    // from the jackknife
	Levels       [2]float64 // shares of the resamples at which the BCa limits lie
	Jackknife    []float64  // the statistic without item i; empty where it has no value somewhere
	Confidence   float64
	Resamples    int // used
	Without      int // resamples without a value, left out
	Exhaustive   bool
	Seed         uint64
	Caveats      caveat.List
}

// BCa bootstraps a statistic of n items. All n^n resamples are counted when
// they are not more than EnumerateUpTo (n up to 6), so that the result is
// exact; ties with the estimate count one half in the bias correction, and
// limits are the smallest value with at least the wanted share at or below it.
func BCa(n int, f Statistic, o Options) (Bootstrap, error) {
	b := Bootstrap{N: n}
	o, err := o.filled()
	if err != nil {
		return b, err
	}
	b.Confidence, b.Seed = o.Confidence, o.Seed
	if n < 2 {
		return b, fault.New(fault.Invalid, "a bootstrap needs at least 2 items, not %d", n)
	}
	index := make([]int, n)
	for i := range index {
		index[i] = i
	}
	est, ok := f(index)
	if !ok {
		return b, fault.New(fault.Invalid, "the statistic has no value for the data themselves")
	}
	b.Estimate = est
	values := make([]float64, 0, EnumerateUpTo)
	take := func() {
		if v, ok := f(index); ok {
			values = append(values, v)
		} else {
			b.Without++
		}
	}
	if math.Pow(float64(n), float64(n)) <= EnumerateUpTo {
		b.Exhaustive = true
		clear(index)
		for more := true; more; {
			take()
			more = false
			for k := n - 1; k >= 0; k-- {
				if index[k]++; index[k] < n {
					more = true
					break
				}
				index[k] = 0
			}
		}
	} else {
		g := Generator(o.Seed)
		for range o.Draws {
			for i := range index {
				index[i] = Below(g, n)
			}
			take()
		}
	}
	b.Resamples = len(values)
	if b.Without > 0 {
		b.Caveats.Add("resamples_without_value", caveat.Place{}, "The statistic has no value in %d of %d resamples; they are left out.", b.Without, b.Without+b.Resamples)
	}
	if n < 8 {
		b.Caveats.Add("few_items", caveat.Place{}, "A bootstrap of %d items is coarse: its limits hold less often than they say.", n)
	}
	slices.Sort(values)
	mean, sd := meanSD(values)
	b.SE, b.Bias = sd, mean-est
	half := (1 - o.Confidence) / 2
	b.PctLow, b.PctHigh = share(values, half), share(values, 1-half)
	if values[0] == values[len(values)-1] {
		b.Low, b.High, b.Levels = values[0], values[0], [2]float64{half, 1 - half}
		b.SE = 0
		b.Caveats.Add("no_scatter", caveat.Place{}, "Every resample gives the same value: the interval has no width.")
		return b, nil
	}

	// Bias correction: share below the estimate, ties one half. A resample
	// equal to the estimate but for rounding is a tie.
	eps := 1e-12 * math.Max(math.Abs(est), values[len(values)-1]-values[0])
	below := 0.0
	for _, v := range values {
		if v < est-eps {
			below++
		} else if v <= est+eps {
			below += 0.5
		}
	}
	below /= float64(len(values))
	b.Acceleration, b.Jackknife, ok = jackknife(n, f)
	switch {
	case below <= 0 || below >= 1:
		b.Caveats.Add("no_bias_correction", caveat.Place{}, "All resamples lie on one side of the estimate: percentile limits stand in for corrected ones.")
	case !ok:
		b.Caveats.Add("no_acceleration", caveat.Place{}, "The statistic has no value when one item is left out: percentile limits stand in for corrected ones.")
	}
	if below <= 0 || below >= 1 || !ok {
		b.Levels = [2]float64{half, 1 - half}
		b.Low, b.High = b.PctLow, b.PctHigh
		return b, nil
	}
	b.Z0 = -tail.NormalPoint(below)
	for i, p := range []float64{half, 1 - half} {
		z := b.Z0 - tail.NormalPoint(p)
		d := 1 - b.Acceleration*z
		if d <= 0 {
			// Beyond the pole of the correction: the end of the distribution.
			b.Levels[i] = float64(i)
			continue
		}
		b.Levels[i] = 1 - tail.Normal(b.Z0+z/d)
	}
	b.Low, b.High = share(values, b.Levels[0]), share(values, b.Levels[1])
	if m := float64(len(values)); b.Levels[0]*m < 10 || (1-b.Levels[1])*m < 10 {
		b.Caveats.Add("limit_at_the_edge", caveat.Place{}, "A limit lies among the ten outermost resamples and is uncertain itself.")
	}
	return b, nil
}

// jackknife gives the acceleration of Efron and Tibshirani (1993), (14.15).
func jackknife(n int, f Statistic) (a float64, values []float64, ok bool) {
	index := make([]int, 0, n)
	values = make([]float64, n)
	for i := range n {
		index = index[:0]
		for j := range n {
			if j != i {
				index = append(index, j)
			}
		}
		v, ok := f(index)
		if !ok {
			return 0, nil, false
		}
		values[i] = v
	}
	mean, _ := meanSD(values)
	var s2, s3 float64
	for _, v := range values {
		d := mean - v
		s2 += d * d
		s3 += d * d * d
	}
	if s2 == 0 {
		return 0, values, true
	}
	return s3 / (6 * math.Pow(s2, 1.5)), values, true
}

// share gives the smallest value with at least the share p of the sorted
// values at or below it.
func share(sorted []float64, p float64) float64 {
	k := int(math.Ceil(p*float64(len(sorted)) - 1e-9))
	return sorted[min(max(k, 1), len(sorted))-1]
}

// Permutation is the outcome of a permutation test.
type Permutation struct {
	N            int
	Observed     float64 // the statistic of the order as it was
	P            float64 // share of orders with a statistic at least as great
	Permutations int     // counted or drawn
	Exact        bool    // all orders were counted
	LeastP       float64 // the smallest p-value this many items can give
	Seed         uint64
	Caveats      caveat.List
}

// Permute tests whether a statistic of an order of n items is greater than
// chance would make it: great values speak against chance. All n! orders are
// counted when they are not more than EnumerateUpTo (n up to 8); otherwise
// orders are drawn and P is (greater + 1)/(draws + 1).
//
// f must give a value for every order.
func Permute(n int, f func(order []int) float64, o Options) (Permutation, error) {
	p := Permutation{N: n, Seed: o.Seed}
	o, err := o.filled()
	if err != nil {
		return p, err
	}
	if n < 2 {
		return p, fault.New(fault.Invalid, "a permutation test needs at least 2 items, not %d", n)
	}
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	p.Observed = f(order)
	if math.IsNaN(p.Observed) {
		return p, fault.New(fault.Invalid, "the statistic has no value for the order as it was")
	}
	// Orders that tie but for rounding are as great.
	limit := p.Observed - 1e-10*math.Abs(p.Observed)
	factorial, all := 1.0, 1
	for i := 2; i <= n; i++ {
		factorial *= float64(i)
		if factorial <= EnumerateUpTo {
			all *= i
		}
	}
	hits := 0
	if factorial <= EnumerateUpTo {
		p.Exact, p.Permutations = true, all
		each(order, func() {
			if f(order) >= limit {
				hits++
			}
		})
		p.P = float64(hits) / float64(all)
		p.LeastP = 1 / float64(all)
	} else {
		p.Permutations = o.Draws
		g := Generator(o.Seed)
		for range o.Draws {
			for i := n - 1; i > 0; i-- {
				j := Below(g, i+1)
				order[i], order[j] = order[j], order[i]
			}
			if f(order) >= limit {
				hits++
			}
		}
		p.P = float64(hits+1) / float64(o.Draws+1)
		p.LeastP = 1 / float64(o.Draws+1)
	}
	if p.Exact && n <= 4 {
		p.Caveats.Add("few_orders", caveat.Place{}, "There are only %d orders of %d items: a p-value below %.3f cannot occur.", all, n, p.LeastP)
	}
	return p, nil
}

// each visits every order of the items in place (Heap's algorithm) and leaves
// the last one standing.
func each(a []int, visit func()) {
	c := make([]int, len(a))
	visit()
	for i := 1; i < len(a); {
		if c[i] >= i {
			c[i] = 0
			i++
			continue
		}
		if i%2 == 0 {
			a[0], a[i] = a[i], a[0]
		} else {
			a[c[i]], a[i] = a[i], a[c[i]]
		}
		visit()
		c[i]++
		i = 1
	}
}

// meanSD gives mean and standard deviation (divisor n) in two passes.
func meanSD(x []float64) (mean, sd float64) {
	n := float64(len(x))
	for _, v := range x {
		mean += v
	}
	mean /= n
	ss := 0.0
	for _, v := range x {
		ss += (v - mean) * (v - mean)
	}
	return mean, math.Sqrt(ss / n)
}
