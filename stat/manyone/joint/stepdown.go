package joint

import (
	"slices"

	"example.org/bookend/fault"
)

// StepDown gives the step-down adjusted p-value of each comparison: the closed
// test whose every intersection is judged by its largest t, with the
// correlations of what is left in it (Marcus, Peritz and Gabriel 1976; Dunnett
// and Tamhane 1991). They are never larger than those of AdjustedP and serve
// decisions only: no intervals belong to them.
func (f Family) StepDown(t []float64) (p []float64, errBound float64, err error) {
	if len(t) != len(f.Corr) {
		return nil, 0, fault.New(fault.Invalid, "%d values of t for %d comparisons", len(t), len(f.Corr))
	}
	limits := make([]float64, len(t))
	left := make([]int, len(t))
	for i, v := range t {
		if limits[i], err = f.limit(v); err != nil {
			return nil, 0, fault.At(err, "comparison %d", i+1)
		}
		left[i] = i
	}
	// Largest first; of equal ones the first.
	slices.SortStableFunc(left, func(a, b int) int {
		switch {
		case limits[a] > limits[b]:
			return -1
		case limits[a] < limits[b]:
			return 1
		}
		return 0
	})
	p = make([]float64, len(t))
	so := 0.0
	for len(left) > 0 {
		sub := f
		sub.Corr = make([][]float64, len(left))
		for i, a := range left {
			sub.Corr[i] = make([]float64, len(left))
			for j, b := range left {
				if len(f.Corr[a]) != len(t) {
					return nil, 0, fault.New(fault.Invalid, "row %d of the correlations has %d entries for %d comparisons", a+1, len(f.Corr[a]), len(t))
				}
				sub.Corr[i][j] = f.Corr[a][b]
			}
		}
		r, err := sub.Tail(limits[left[0]])
		if err != nil {
			return nil, 0, err
		}
		errBound = max(errBound, r.Error)
		so = max(so, r.P)
		p[left[0]] = so
		left = left[1:]
	}
	return p, errBound, nil
}
