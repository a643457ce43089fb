package manyone

import (
	"math"
	"slices"

	"example.org/bookend/fault"
	"example.org/bookend/stat/manyone/joint"
)

// Pair is the comparison of code B with code A: B less A.
type Pair struct {
	A, B       int
	Difference float64 // in the unit of the estimates
	StdErr     float64
	T          float64
	P          float64 // adjusted over all pairs
}

// Grouping is all pairs of codes compared at once.
type Grouping struct {
	Pairs    []Pair // (0,1), (0,2), ... (1,2), ...
	Critical float64
	Error    float64 // bound on the error of the p-values
	Method   string  // as in Probability, or "range" for codes of equal standing
	Letters  []string
}

// MostCodes is the largest number of codes for all pairs: 9 make 36 pairs.
const MostCodes = 9

// AllPairs compares all pairs of codes two-sided at simultaneous level alpha:
// Tukey's test for codes of equal standing, and its like with the true
// correlations otherwise. The covariance is that of the estimates, in their
// unit squared, on df degrees of freedom. Codes that share a letter are not
// shown to differ.
func AllPairs(estimate []float64, cov [][]float64, df, alpha float64) (*Grouping, error) {
	g := len(estimate)
	switch {
	case g < 2:
		return nil, fault.New(fault.Invalid, "%d codes make no pair", g)
	case g > MostCodes:
		return nil, fault.New(fault.Unsupported, "%d codes make too many pairs, at most %d are done", g, MostCodes)
	case len(cov) != g:
		return nil, fault.New(fault.Invalid, "a covariance of %d rows for %d codes", len(cov), g)
	case !(alpha > 0 && alpha < 1):
		return nil, fault.New(fault.Invalid, "alpha is %v, not between 0 and 1", alpha)
	}
	for i, row := range cov {
		if len(row) != g {
			return nil, fault.New(fault.Invalid, "row %d of the covariance has %d entries for %d codes", i+1, len(row), g)
		}
		for _, v := range row {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return nil, fault.New(fault.Invalid, "row %d of the covariance is not finite", i+1)
			}
		}
		if math.IsNaN(estimate[i]) || math.IsInf(estimate[i], 0) {
			return nil, fault.New(fault.Invalid, "the estimate of code %d is %v", i+1, estimate[i])
		}
	}
	out := &Grouping{}
	for a := range g {
		for b := a + 1; b < g; b++ {
			v := cov[a][a] + cov[b][b] - cov[a][b] - cov[b][a]
			if !(v > 1e-14*(cov[a][a]+cov[b][b])) {
				return nil, fault.New(fault.Invalid, "codes %d and %d have no variance between them", a+1, b+1).
					WithHint("without scatter there is no test")
			}
			d := estimate[b] - estimate[a]
			out.Pairs = append(out.Pairs, Pair{A: a, B: b, Difference: d, StdErr: math.Sqrt(v), T: d / math.Sqrt(v)})
		}
	}
	k := len(out.Pairs)
	f := joint.Family{DF: df, Corr: make([][]float64, k)}
	codes := make([][2]int, k)
	for i, p := range out.Pairs {
		f.Corr[i] = make([]float64, k)
		for j, q := range out.Pairs {
			c := cov[p.B][q.B] - cov[p.B][q.A] - cov[p.A][q.B] + cov[p.A][q.A]
			f.Corr[i][j] = c / (p.StdErr * q.StdErr)
		}
		f.Corr[i][i] = 1
		codes[i] = [2]int{p.A, p.B}
	}
	pl, err := f.PrepareAll(g, codes)
	if err != nil {
		return nil, err
	}
	out.Method = pl.Method
	if out.Critical, _, err = pl.Critical(alpha); err != nil {
		return nil, err
	}
	for i := range out.Pairs {
		r := pl.TailAll(math.Abs(out.Pairs[i].T))
		out.Pairs[i].P = r.P
		out.Error = max(out.Error, r.Error)
		out.Method = r.Method
	}
	differ := make([][]bool, g)
	for i := range differ {
		differ[i] = make([]bool, g)
	}
	for _, p := range out.Pairs {
		d := math.Abs(p.T) > out.Critical
		differ[p.A][p.B], differ[p.B][p.A] = d, d
	}
	out.Letters = Letters(differ, descending(estimate))
	return out, nil
}

func descending(x []float64) []int {
	order := make([]int, len(x))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case x[a] > x[b]:
			return -1
		case x[a] < x[b]:
			return 1
		}
		return 0
	})
	return order
}

// Letters gives each code its letters so that two codes share one exactly
// where they are not shown to differ: insert and absorb (Piepho, J. Comput.
// Graph. Stat. 13 (2004) 456). The order says whose letters come first.
func Letters(differ [][]bool, order []int) []string {
	g := len(order)
	all := make([]bool, g)
	for i := range all {
		all[i] = true
	}
	columns := [][]bool{all}
	for x := range g {
		for y := x + 1; y < g; y++ {
			a, b := order[x], order[y]
			if !differ[a][b] {
				continue
			}
			// Insert: a column that holds both is split.
			var next [][]bool
			for _, c := range columns {
				if c[a] && c[b] {
					one, two := slices.Clone(c), slices.Clone(c)
					one[b], two[a] = false, false
					next = append(next, one, two)
				} else {
					next = append(next, c)
				}
			}
			// Absorb: a column within another says nothing; of equal ones the
			// first stays.
			columns = columns[:0]
			for i, c := range next {
				inside := false
				for j, d := range next {
					if i != j && subset(c, d) && (!subset(d, c) || j < i) {
						inside = true
						break
					}
				}
				if !inside {
					columns = append(columns, c)
				}
			}
		}
	}
	// Letters by the first code, then the second, that a column holds.
	slices.SortStableFunc(columns, func(p, q []bool) int {
		for _, o := range order {
			if p[o] != q[o] {
				if p[o] {
					return -1
				}
				return 1
			}
		}
		return 0
	})
	out := make([]string, g)
	for i, c := range columns {
		for o := range c {
			if c[o] {
				out[o] += letter(i)
			}
		}
	}
	return out
}

func subset(a, b []bool) bool {
	for i := range a {
		if a[i] && !b[i] {
			return false
		}
	}
	return true
}

// letter gives a to z, then a2 to z2 and so on.
func letter(i int) string {
	s := string(rune('a' + i%26))
	if n := i / 26; n > 0 {
		s += string(rune('1' + n))
	}
	return s
}
