package region

import (
	"math"

	"example.org/bookend/fault"
)

// RankTol is the residual variance below which a comparison has no direction
// of its own: a correlation printed to ten digits is taken as meant.
const RankTol = 1e-10

// Pivoted gives L with L L' = r, rows in r's order and columns by pivot, and
// the rank.
func Pivoted(r [][]float64) (l [][]float64, rank int, err error) {
	m := len(r)
	l = make([][]float64, m)
	left := make([]float64, m)
	used := make([]bool, m)
	for i := range l {
		l[i] = make([]float64, m)
		left[i] = r[i][i]
	}
	for c := range m {
		pivot := -1
		for i := range left {
			if !used[i] && (pivot < 0 || left[i] > left[pivot]+1e-14) {
				pivot = i
			}
		}
		if left[pivot] <= RankTol {
			break
		}
		used[pivot] = true
		d := math.Sqrt(left[pivot])
		for i := range m {
			if used[i] && i != pivot {
				continue
			}
			s := r[i][pivot]
			for j := range c {
				s -= l[i][j] * l[pivot][j]
			}
			l[i][c] = s / d
			left[i] -= l[i][c] * l[i][c]
		}
		l[pivot][c] = d
		left[pivot] = 0
		rank++
	}
	for i := range m {
		for j := range i {
			s := 0.0
			for c := range rank {
				s += l[i][c] * l[j][c]
			}
			// 1e-7: correlations printed to seven digits pass.
			if math.Abs(s-r[i][j]) > 1e-7 || left[i] < -1e-7 {
				return nil, 0, fault.New(fault.Invalid, "these are no correlations: the matrix is not positive semidefinite (comparisons %d and %d)", j+1, i+1)
			}
		}
	}
	return l, rank, nil
}
