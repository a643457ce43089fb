package scatter

import (
	"fmt"
	"math"
	"slices"

	"example.org/bookend/compare/sequence"
	"example.org/bookend/stat/linear"
	"example.org/bookend/stat/tail"
)

// numberWords says what becomes of the run number within the stint.
func numberWords(q *sequence.Sequence) string {
	n := &q.Number
	most := 0
	for i := range q.Stints {
		most = max(most, q.Stints[i].N())
	}
	switch {
	case q.EqualRuns && most == 1:
		return "every stint has one run, of the same number: stints are compared on equal run numbers"
	case q.EqualRuns:
		return fmt.Sprintf("every stint has the same %d runs: stints are compared on equal run numbers, and what the number does (warm-up, wear, learning) is the same in all", most)
	case n.Used && len(n.Numbers) > 0:
		return "stints have other runs than each other: each run number has a level of its own, the same for all codes, and stints are compared on equal run numbers"
	case n.Used:
		return "stints have other runs than each other: the run number is a straight line, the same for all codes, and stints are compared on equal run numbers"
	}
	return "stints have other runs than each other, and what the run number does is not allowed for"
}

// trend is the slope by the run number within stints, common to all codes, on the
// analysis scale: for people to see whether tyres warm up or wear as they run. Nil
// where no stint has two runs, or where nothing is left to judge it by.
func trend(q *sequence.Sequence) *Term {
	var sxx, sxy, syy float64
	df := -1
	for i := range q.Stints {
		s := &q.Stints[i]
		n := float64(s.N())
		var mx, my float64
		y := make([]float64, s.N())
		for k, v := range s.Values {
			if y[k] = v; q.Ratio {
				y[k] = math.Log(v)
			}
			mx, my = mx+float64(s.Numbers[k])/n, my+y[k]/n
		}
		for k := range y {
			dx, dy := float64(s.Numbers[k])-mx, y[k]-my
			sxx, sxy, syy = sxx+dx*dx, sxy+dx*dy, syy+dy*dy
		}
		df += s.N() - 1
	}
	if !(sxx > 0) {
		return nil
	}
	t := &Term{Name: "run number", Estimate: sxy / sxx}
	rest := syy - sxy*sxy/sxx
	if df > 0 && rest > 1e-12*syy {
		se := math.Sqrt(rest / float64(df) / sxx)
		t.SE, t.T, t.P = some(se), some(t.Estimate/se), some(tail.TwoSidedT(t.Estimate/se, float64(df)))
	}
	return t
}

// bends tests whether what the run number does is no straight line: the number's
// own levels against the line, within stints. Nil where that cannot be told.
func bends(q *sequence.Sequence) *FResult {
	var numbers []int
	for i := range q.Stints {
		numbers = append(numbers, q.Stints[i].Numbers...)
	}
	slices.Sort(numbers)
	numbers = slices.Compact(numbers)
	var y, line []float64
	each := make([][]float64, len(numbers))
	df := 0
	for i := range q.Stints {
		s := &q.Stints[i]
		n := float64(s.N())
		from := len(y)
		for k, v := range s.Values {
			if q.Ratio {
				v = math.Log(v)
			}
			y, line = append(y, v), append(line, float64(s.Numbers[k]))
			for j := range each {
				x := 0.0
				if numbers[j] == s.Numbers[k] {
					x = 1
				}
				each[j] = append(each[j], x)
			}
		}
		for _, c := range append([][]float64{y, line}, each...) {
			mean := 0.0
			for _, x := range c[from:] {
				mean += x / n
			}
			for k := from; k < len(c); k++ {
				c[k] -= mean
			}
		}
		df += s.N() - 1
	}
	fit := func(columns [][]float64) (rss float64, rank int, ok bool) {
		names := make([]string, len(columns))
		for j := range names {
			names[j] = number(j)
		}
		m, err := linear.FitColumns(names, columns, y, linear.Options{Aliased: linear.DropAliased})
		if err != nil {
			return 0, 0, false
		}
		return m.RSS, m.Rank, !m.PerfectFit
	}
	// A level of its own for one number in turn would be spent: the last is left out.
	small, one, ok := fit([][]float64{line})
	large, rank, good := fit(each[:len(each)-1])
	num, den := rank-one, df-rank
	if !ok || !good || num < 1 || den < 1 || !(large > 0) {
		return nil
	}
	f := max(0, small-large) / float64(num) / (large / float64(den))
	return &FResult{F: f, P: linear.UpperF(f, float64(num), float64(den)), Num: num, Den: den}
}
