package manyone

import (
	"math"
	"slices"

	"example.org/bookend/fault"
)

// Holm gives p-values adjusted by Holm's sequentially rejective Bonferroni
// procedure (Scand. J. Stat. 6 (1979) 65): right under any dependence.
func Holm(p []float64) ([]float64, error) {
	order := make([]int, len(p))
	for i, v := range p {
		if !(v >= 0 && v <= 1) {
			return nil, fault.New(fault.Invalid, "p-value %d is %v", i+1, v)
		}
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case p[a] < p[b]:
			return -1
		case p[a] > p[b]:
			return 1
		}
		return 0
	})
	out := make([]float64, len(p))
	so := 0.0
	for i, o := range order {
		so = max(so, math.Min(1, float64(len(p)-i)*p[o]))
		out[o] = so
	}
	return out, nil
}
