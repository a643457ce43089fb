// Package relate says how far two columns of numbers go together, and how often
// chance alone makes few items go together as far.
//
// Pearson's product moment correlation, and Spearman's: the same of ranks, ties sharing
// their mean. p-values are of permutations, two-sided: the share of orders of one
// column in which the correlation is at least as far from 0. All orders are counted up
// to eight items, drawn with a fixed seed beyond; no normal distribution is supposed.
//
// Sources: R. A. Fisher, The Design of Experiments (1935), for the permutation;
// Hollander and Wolfe, Nonparametric Statistical Methods (1973), for the rank
// correlation and its exact distribution. Units: none. Limits: a column that is
// constant has no correlation; a correlation is no cause.
package relate

import (
	"math"
	"slices"

	"example.org/bookend/fault"
	"example.org/bookend/stat/agree"
	"example.org/bookend/stat/resample"
)

// Correlation is how far two columns go together.
type Correlation struct {
	N         int
	Pearson   float64
	PearsonP  float64 // two-sided, of permutations
	Spearman  float64
	SpearmanP float64
	Exact     bool    // all orders were counted
	LeastP    float64 // the smallest p-value that so many items can give Pearson's; ranks turned over are as far from 0, and give twice that
}

// Of correlates two columns of equal length. It fails for fewer than three items, for
// values that are not finite and for a column that is constant.
func Of(x, y []float64, o resample.Options) (Correlation, error) {
	c := Correlation{N: len(x)}
	if len(x) != len(y) {
		return c, fault.New(fault.Invalid, "columns of %d and %d values do not go together", len(x), len(y))
	}
	if len(x) < 3 {
		return c, fault.New(fault.Invalid, "a correlation needs at least 3 items, not %d", len(x))
	}
	for _, v := range slices.Concat(x, y) {
		if !(math.Abs(v) <= largest) {
			return c, fault.New(fault.Invalid, "%v is no value that can be correlated", v)
		}
	}
	var ok bool
	if c.Pearson, ok = Pearson(x, y); !ok {
		return c, fault.New(fault.Invalid, "a column is constant: nothing can go with it")
	}
	rx, _ := agree.Ranks(x)
	ry, _ := agree.Ranks(y)
	c.Spearman, _ = Pearson(rx, ry)
	test := func(a, b []float64) (resample.Permutation, error) {
		moved := make([]float64, len(b))
		return resample.Permute(len(a), func(order []int) float64 {
			for i, k := range order {
				moved[i] = b[k]
			}
			r, _ := Pearson(a, moved)
			return math.Abs(r)
		}, o)
	}
	p, err := test(x, y)
	if err != nil {
		return c, err
	}
	q, err := test(rx, ry)
	if err != nil {
		return c, err
	}
	c.PearsonP, c.SpearmanP, c.Exact = p.P, q.P, p.Exact
	c.LeastP = p.LeastP
	return c, nil
}

// largest is beyond what can be squared and summed.
const largest = 1e100

// Pearson gives the product moment correlation of two columns of equal length; false
// where one of them is constant.
func Pearson(x, y []float64) (float64, bool) {
	n := float64(len(x))
	var mx, my float64
	for i := range x {
		mx, my = mx+x[i]/n, my+y[i]/n
	}
	var sxx, syy, sxy float64
	for i := range x {
		dx, dy := x[i]-mx, y[i]-my
		sxx, syy, sxy = sxx+dx*dx, syy+dy*dy, sxy+dx*dy
	}
	if alike(x) || alike(y) || !(sxx > 0 && syy > 0) {
		return 0, false
	}
	if sxx == syy { // ranks without ties: the root is exact
		return sxy / sxx, true
	}
	return math.Max(-1, math.Min(1, sxy/math.Sqrt(sxx)/math.Sqrt(syy))), true
}

// alike tells whether all values are the same one.
func alike(x []float64) bool {
	return !slices.ContainsFunc(x, func(v float64) bool { return v != x[0] })
}
