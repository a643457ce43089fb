package agree

import (
	"math"
	"slices"

	"example.org/bookend/caveat"
	"example.org/bookend/stat/tail"
)

// Concordance is Kendall's W of raters who rank the same objects, and with it
// Friedman's test that no object is ranked higher than another: one
// computation under two names.
type Concordance struct {
	Objects, Raters int
	RankSums        []float64 // of each object over the raters; ties share their mean rank
	S               float64   // sum of squared deviations of the rank sums
	Ties            float64   // sum of t^3 - t over all ties of all raters
	W               float64   // 0 no agreement, 1 the same order; corrected for ties
	WUncorrected    float64
	Chi2            float64 // Friedman's statistic, corrected for ties
	DF              float64 // objects - 1
	P               float64 // by chi-square
	F               float64 // Iman and Davenport's form; 0 where all raters agree and F has no value
	FDF1, FDF2      float64
	FP              float64 // by F
	Caveats         caveat.List
}

// Rank computes Kendall's W and Friedman's test from a full table, objects by
// raters (for Friedman: treatments by blocks).
func Rank(table [][]float64) (Concordance, error) {
	n, m, err := shape(table)
	c := Concordance{Objects: n, Raters: m, P: 1, FP: 1}
	if err != nil {
		return c, err
	}
	nf, mf := float64(n), float64(m)
	c.RankSums = make([]float64, n)
	c.DF = nf - 1
	c.FDF1, c.FDF2 = nf-1, (nf-1)*(mf-1)
	col := make([]float64, n)
	for j := range m {
		for i := range n {
			col[i] = table[i][j]
		}
		r, ties := Ranks(col)
		c.Ties += ties
		for i := range n {
			c.RankSums[i] += r[i]
		}
	}
	mean := mf * (nf + 1) / 2
	for _, s := range c.RankSums {
		c.S += sq(s - mean)
	}
	full := mf * mf * (nf*nf*nf - nf)
	c.WUncorrected = 12 * c.S / full
	room := full - mf*c.Ties
	if room <= 0 {
		c.Caveats.Add("all_tied", caveat.Place{}, "Every rater rates all objects the same: there is no order to agree on.")
		return c, nil
	}
	c.W = math.Min(1, 12*c.S/room)
	c.Chi2 = mf * (nf - 1) * c.W
	c.P = tail.Chi2(c.Chi2, c.DF)
	if c.W < 1-1e-12 {
		c.F = (mf - 1) * c.W / (1 - c.W)
		c.FP = tail.F(c.F, c.FDF1, c.FDF2)
	} else {
		c.W, c.FP = 1, 0
		c.Caveats.Add("no_disagreement", caveat.Place{}, "All raters give the same order: the F form has no value.")
	}
	if m*n < 30 {
		c.Caveats.Add("rough_p_value", caveat.Place{}, "With %d raters and %d objects the p-value by chi-square is rough; the F form is nearer.", m, n)
	}
	return c, nil
}

// Friedman tests whether treatments differ, from a full table of blocks by
// treatments: Rank of the table turned over.
func Friedman(blocks [][]float64) (Concordance, error) {
	if _, _, err := shape(blocks); err != nil {
		return Concordance{P: 1, FP: 1}, err
	}
	turned := make([][]float64, len(blocks[0]))
	for j := range turned {
		for i := range blocks {
			turned[j] = append(turned[j], blocks[i][j])
		}
	}
	return Rank(turned)
}

// Ranks gives ranks from 1, ties sharing their mean, and the sum of t^3 - t.
func Ranks(x []float64) (r []float64, ties float64) {
	order := make([]int, len(x))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case x[a] < x[b]:
			return -1
		case x[a] > x[b]:
			return 1
		}
		return 0
	})
	r = make([]float64, len(x))
	for i := 0; i < len(order); {
		j := i
		for j < len(order) && x[order[j]] == x[order[i]] {
			j++
		}
		for k := i; k < j; k++ {
			r[order[k]] = float64(i+j+1) / 2
		}
		t := float64(j - i)
		ties += t*t*t - t
		i = j
	}
	return r, ties
}
