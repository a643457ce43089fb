package sequence

import (
	"math"
	"slices"

	"example.org/bookend/caveat"
	"example.org/bookend/compare/setting"
)

// NumberEffect is what the number of a run within its stint does: warm-up, wear,
// learning, common to all codes. It is taken from within the stints alone, so
// that drift and tyres have no part in it.
type NumberEffect struct {
	Rule    setting.RunNumber
	Slope   float64   // per run, on the analysis scale; of the rule linear
	Numbers []int     // that occur, in order; of the rule each
	Level   []float64 // of those numbers against their mean over all runs, on the analysis scale
	Used    bool      // stints have other runs than each other, so that it changes the comparison

	column [][][]float64 // by stint and run compared: what stands for its number
	solve  [][][]float64 // by stint and run compared: its weight in each coefficient
	mean   []float64     // of the columns over all runs compared
	coef   []float64
	rank   int
}

// equalRuns tells whether all stints have runs of the same numbers.
func (q *Sequence) equalRuns() bool {
	for i := range q.Stints {
		a, b := q.Stints[i].Numbers, q.Stints[0].Numbers
		if len(a) != len(b) {
			return false
		}
		for k := range a {
			if a[k] != b[k] {
				return false
			}
		}
	}
	return true
}

// renumber counts runs within their stint where their numbers run through the
// whole table: no two stints share one.
func renumber(all []Stint) {
	seen := map[int]int{}
	several := 0
	for i := range all {
		if len(all[i].Runs) > 1 {
			several++
		}
		for _, r := range all[i].Runs {
			if at, ok := seen[r.Number]; ok && at != i {
				return
			}
			seen[r.Number] = i
		}
	}
	if several < 2 {
		return
	}
	for i := range all {
		least := math.MaxInt
		for _, r := range all[i].Runs {
			least = min(least, r.Number)
		}
		for k := range all[i].Runs {
			all[i].Runs[k].Number -= least - 1
		}
	}
}

// equalise puts the stint means on equal run numbers: what the number does is
// estimated within stints, and taken out against its mean over all runs.
func (q *Sequence) equalise(rule setting.RunNumber) {
	e := &q.Number
	e.Rule = rule
	for i := range q.Stints {
		q.Stints[i].Equal = q.Stints[i].Mean
	}
	if rule == setting.NumberIgnored || q.EqualRuns {
		if !q.EqualRuns && rule == setting.NumberIgnored {
			q.Caveats.Add("unequal_run_numbers", caveat.Place{}, "Stints have other runs than each other, and what the run number does (warm-up, wear) is not allowed for.")
		}
		return
	}
	var occur []int
	for i := range q.Stints {
		occur = append(occur, q.Stints[i].Numbers...)
	}
	slices.Sort(occur)
	occur = slices.Compact(occur)
	width := 1
	if rule == setting.NumberEach {
		width = len(occur)
	}
	// Columns, less their mean within the stint.
	column := func(number int) []float64 {
		c := make([]float64, width)
		if rule == setting.NumberEach {
			k, _ := slices.BinarySearch(occur, number)
			c[k] = 1
		} else {
			c[0] = float64(number)
		}
		return c
	}
	gram := make([][]float64, width)
	for a := range gram {
		gram[a] = make([]float64, width)
	}
	e.column = make([][][]float64, len(q.Stints))
	within := make([][][]float64, len(q.Stints))
	e.mean = make([]float64, width)
	total := 0.0
	for i := range q.Stints {
		s := &q.Stints[i]
		own := make([]float64, width)
		for _, n := range s.Numbers {
			c := column(n)
			e.column[i] = append(e.column[i], c)
			for a := range c {
				own[a] += c[a] / float64(s.N())
				e.mean[a] += c[a]
			}
			total++
		}
		for _, c := range e.column[i] {
			w := make([]float64, width)
			for a := range c {
				w[a] = c[a] - own[a]
			}
			within[i] = append(within[i], w)
			for a := range w {
				for b := range w {
					gram[a][b] += w[a] * w[b]
				}
			}
		}
	}
	for a := range e.mean {
		e.mean[a] /= total
	}
	inverse, rank := pseudo(gram)
	if rank == 0 {
		q.Caveats.Add("unequal_run_numbers", caveat.Place{}, "Stints have other runs than each other, and no stint has runs enough to tell what the run number does: it is not allowed for.")
		e.column = nil
		return
	}
	coef := make([]float64, width)
	e.solve = make([][][]float64, len(q.Stints))
	for i := range q.Stints {
		s := &q.Stints[i]
		for k, w := range within[i] {
			b := make([]float64, width)
			for a := range b {
				for c := range w {
					b[a] += inverse[a][c] * w[c]
				}
			}
			e.solve[i] = append(e.solve[i], b)
			y := s.Values[k]
			if q.Ratio {
				y = math.Log(y)
			}
			for a := range b {
				coef[a] += b[a] * y
			}
		}
	}
	e.Used, e.coef, e.rank = true, coef, rank
	if rule == setting.NumberEach {
		e.Numbers, e.Level = occur, make([]float64, width)
		m := 0.0
		for a := range coef {
			m += coef[a] * e.mean[a]
		}
		for a := range coef {
			e.Level[a] = coef[a] - m
		}
	} else {
		e.Slope = coef[0]
	}
	for i := range q.Stints {
		s := &q.Stints[i]
		d := 0.0
		for a, m := range e.own(i) {
			d += coef[a] * (m - e.mean[a])
		}
		s.Y -= d
		if q.Ratio {
			s.Equal = s.Mean * math.Exp(-d)
		} else {
			s.Equal = s.Mean - d
		}
	}
}

// Columns gives what stands for the runs' numbers, about their mean over all
// runs compared: one column a coefficient, runs in the order of their stints.
func (e *NumberEffect) Columns(q *Sequence) [][]float64 {
	if !e.Used {
		return nil
	}
	out := make([][]float64, len(e.mean))
	for i := range q.Stints {
		for _, c := range e.column[i] {
			for a := range out {
				out[a] = append(out[a], c[a]-e.mean[a])
			}
		}
	}
	return out
}

// Coefficients gives those of the columns, from within the stints.
func (e *NumberEffect) Coefficients() []float64 { return e.coef }

// Rank gives how many of them are free.
func (e *NumberEffect) Rank() int { return e.rank }

// own gives the mean of the columns over a stint's runs.
func (e *NumberEffect) own(i int) []float64 {
	m := make([]float64, len(e.mean))
	for _, c := range e.column[i] {
		for a := range c {
			m[a] += c[a] / float64(len(e.column[i]))
		}
	}
	return m
}

// RunWeights turns weights of the stint means on equal run numbers into weights
// of the runs compared, by stint.
func (q *Sequence) RunWeights(w []float64) [][]float64 {
	out := make([][]float64, len(q.Stints))
	for i := range q.Stints {
		n := q.Stints[i].N()
		out[i] = make([]float64, n)
		for k := range out[i] {
			out[i][k] = w[i] / float64(n)
		}
	}
	e := &q.Number
	if !e.Used {
		return out
	}
	lean := make([]float64, len(e.mean))
	for i := range q.Stints {
		for a, m := range e.own(i) {
			lean[a] += w[i] * (m - e.mean[a])
		}
	}
	for i := range out {
		for k := range out[i] {
			for a, v := range e.solve[i][k] {
				out[i][k] -= lean[a] * v
			}
		}
	}
	return out
}

// pseudo inverts a Gram matrix whose columns may depend on each other: those
// that lie in the span of the ones before get no coefficient. It gives the rank
// as well.
func pseudo(g [][]float64) ([][]float64, int) {
	n := len(g)
	a := make([][]float64, n)
	inverse := make([][]float64, n)
	for i := range a {
		a[i] = append([]float64(nil), g[i]...)
		inverse[i] = make([]float64, n)
	}
	swept := make([]bool, n)
	rank := 0
	// Sweep (Goodnight 1979) in order, passing over what is spent.
	for k := range n {
		if a[k][k] <= 1e-9*g[k][k] || g[k][k] == 0 {
			continue
		}
		rank, swept[k] = rank+1, true
		p := a[k][k]
		for i := range n {
			if i == k {
				continue
			}
			f := a[i][k] / p
			for j := range n {
				if j != k {
					a[i][j] -= f * a[k][j]
				}
			}
			a[i][k] = -f
		}
		for j := range n {
			if j != k {
				a[k][j] /= p
			}
		}
		a[k][k] = 1 / p
	}
	for i := range n {
		for j := range n {
			if swept[i] && swept[j] {
				inverse[i][j] = a[i][j]
			}
		}
	}
	return inverse, rank
}
