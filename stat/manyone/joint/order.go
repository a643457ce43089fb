package joint

import (
	"math"

	"example.org/bookend/stat/manyone/region"
)

// prioritise gives the Cholesky factor with the comparisons ordered so that
// the likeliest to be outside comes first (Genz and Bretz), rows and columns
// both in that order, at s = 1. Directions without variance of their own come
// last and have a zero on the diagonal.
func prioritise(r [][]float64, b region.Box) (l [][]float64, order []int) {
	m := len(r)
	l = make([][]float64, m)
	mean := make([]float64, m) // of each comparison, given the expected y so far
	full := make([][]float64, m)
	for i := range full {
		full[i] = make([]float64, m)
	}
	used := make([]bool, m)
	for c := range m {
		best, least := -1, math.Inf(1)
		var be, ba, bd float64
		for i := range m {
			if used[i] {
				continue
			}
			v := r[i][i]
			for j := range c {
				v -= full[i][j] * full[i][j]
			}
			if v <= region.RankTol {
				continue
			}
			d := math.Sqrt(v)
			e, a := (b.Hi[i]-mean[i])/d, (-b.Lo[i]-mean[i])/d
			if in := 1 - region.UpperPhi(e) - region.UpperPhi(-a); in < least-1e-12 {
				best, least, be, ba, bd = i, in, e, a, d
			}
		}
		if best < 0 { // only directions without variance are left
			for i := range m {
				if !used[i] {
					used[i] = true
					order = append(order, i)
				}
			}
			break
		}
		used[best] = true
		order = append(order, best)
		full[best][c] = bd
		y := 0.0 // expected within the limits
		if in := max(least, 1e-10); in > 0 {
			y = (region.Phi(ba) - region.Phi(be)) / in
		}
		for i := range m {
			if used[i] {
				continue
			}
			s := r[i][best]
			for j := range c {
				s -= full[i][j] * full[best][j]
			}
			full[i][c] = s / bd
			mean[i] += full[i][c] * y
		}
	}
	for i, o := range order {
		l[i] = full[o]
	}
	return l, order
}
