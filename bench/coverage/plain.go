package main

import (
	"fmt"
	"math"
	"slices"

	"example.org/bookend/compare"
	"example.org/bookend/stat/linear"
	"example.org/bookend/stat/manyone"
	"example.org/bookend/stat/tail"
)

// simpler is a method that an evaluator might use instead.
type simpler int

const (
	rawMeans simpler = iota
	rawRuns
	runsAsReplicates
	onlyIfShown
	orderByTests
	oneDropped
	howManySimpler
)

var simplerNames = [howManySimpler]string{
	"means of stints, no drift taken out",
	"means of all runs, no drift taken out, runs taken for replicates",
	"bracket, the runs taken for replicates",
	"corrected only if the control shows drift at 5 %",
	"order of the drift chosen by tests at 5 %",
	"straight line, one stint dropped at will",
}

// plain is a least-squares analysis of stint means with a polynomial drift, its
// weights worked out once: the estimates and the residuals are linear.
type plain struct {
	estimate [][]float64 // of each candidate left, over all stints
	residual [][]float64 // over all stints
	top      []float64   // the drift's highest term
	topUnits float64     // its variance in residual variances
	df       float64
	se       []float64 // in residual deviations
	critical float64
}

// newPlain analyses the stints kept; nil where nothing is left to judge by.
func newPlain(of []int, kept []bool, degree int) (*plain, error) {
	n := len(of)
	var rows, codes []int
	for i := range n {
		if !kept[i] {
			continue
		}
		rows = append(rows, i)
		if of[i] >= 0 && !slices.Contains(codes, of[i]) {
			codes = append(codes, of[i])
		}
	}
	names := []string{"level"}
	columns := [][]float64{make([]float64, len(rows))}
	for _, c := range codes {
		names = append(names, fmt.Sprint("candidate ", c))
		columns = append(columns, make([]float64, len(rows)))
	}
	for p := range degree {
		names = append(names, fmt.Sprint("drift ", p+1))
		columns = append(columns, make([]float64, len(rows)))
	}
	for j, i := range rows {
		columns[0][j] = 1
		for k, c := range codes {
			if of[i] == c {
				columns[1+k][j] = 1
			}
		}
		u := 2*float64(i)/float64(n-1) - 1
		for p := range degree {
			columns[1+len(codes)+p][j] = math.Pow(u, float64(p+1))
		}
	}
	a := &plain{df: float64(len(rows) - len(names))}
	if a.df < 1 || len(codes) == 0 {
		return nil, nil
	}
	for range codes {
		a.estimate = append(a.estimate, make([]float64, n))
	}
	for range rows {
		a.residual = append(a.residual, make([]float64, n))
	}
	a.top = make([]float64, n)
	for at, i := range rows {
		y := make([]float64, len(rows))
		y[at] = 1
		m, err := linear.FitColumns(names, columns, y, linear.Options{})
		if err != nil {
			return nil, err
		}
		if m.Rank < len(names) {
			return nil, nil
		}
		for k := range codes {
			a.estimate[k][i] = m.Coef[1+k]
		}
		if degree > 0 {
			a.top[i] = m.Coef[len(names)-1]
			a.topUnits += a.top[i] * a.top[i]
		}
		for j := range rows {
			v := y[j]
			for c := range columns {
				v -= columns[c][j] * m.Coef[c]
			}
			a.residual[j][i] = v
		}
	}
	var err error
	a.se, a.critical, err = judged(a.estimate, nil, a.df)
	return a, err
}

// judged gives standard errors of weighted sums in deviations, and the two-sided
// 5 % point for all together; the variances of what is weighed are 1 or given.
func judged(weights [][]float64, variances []float64, df float64) (se []float64, critical float64, err error) {
	cov := func(a, b []float64) float64 {
		s := 0.0
		for i := range a {
			v := 1.0
			if variances != nil {
				v = variances[i]
			}
			s += a[i] * b[i] * v
		}
		return s
	}
	f := manyone.Family{DF: df}
	for i := range weights {
		se = append(se, math.Sqrt(cov(weights[i], weights[i])))
	}
	for i := range weights {
		row := make([]float64, len(weights))
		for j := range weights {
			row[j] = cov(weights[i], weights[j]) / (se[i] * se[j])
		}
		row[i] = 1
		f.Corr = append(f.Corr, row)
	}
	critical, _, err = f.Critical(0.05)
	return se, critical, err
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i := range a {
		s += a[i] * b[i]
	}
	return s
}

func (a *plain) sigma(y []float64) float64 {
	s := 0.0
	for _, r := range a.residual {
		e := dot(r, y)
		s += e * e
	}
	return math.Sqrt(s / a.df)
}

// verdicts tells whether any candidate is called different, and adds the
// half-widths.
func (a *plain) verdicts(y []float64, half []float64) (any bool, _ []float64) {
	s := a.sigma(y)
	for k, w := range a.estimate {
		h := a.critical * s * a.se[k]
		half = append(half, h)
		any = any || math.Abs(dot(w, y)) > h
	}
	return any, half
}

// pOfTop gives the p-value of the drift's highest term.
func (a *plain) pOfTop(y []float64) float64 {
	return tail.TwoSidedT(dot(a.top, y)/(a.sigma(y)*math.Sqrt(a.topUnits)), a.df)
}

// simplerMethods holds what one design's simpler methods need.
type simplerMethods struct {
	g        *ground
	byDegree [3]*plain
	dropped  []*plain
	bracket  replicates // runs about the mean of their stint
	raw      replicates // runs about the mean of their tyre
	means    []float64  // of the stints
}

// replicates takes runs for independent of each other.
type replicates struct {
	weights  [][]float64 // of each estimate, over stint means
	df       float64
	se       []float64 // in deviations of a run
	critical float64
}

func (r *replicates) judge(d *design) (err error) {
	variances := make([]float64, len(d.runs))
	for i, n := range d.runs {
		variances[i] = 1 / float64(n)
	}
	r.se, r.critical, err = judged(r.weights, variances, r.df)
	return err
}

// verdicts tells whether any candidate is called different, given the means of
// stints and the sum of squares that the runs leave.
func (r *replicates) verdicts(means []float64, ss float64, half []float64) (any bool, _ []float64) {
	s := math.Sqrt(ss / r.df)
	for k, w := range r.weights {
		h := r.critical * s * r.se[k]
		half = append(half, h)
		any = any || math.Abs(dot(w, means)) > h
	}
	return any, half
}

func newSimpler(g *ground, r *compare.Result) (*simplerMethods, error) {
	s := &simplerMethods{g: g, means: make([]float64, len(g.of))}
	all := make([]bool, len(g.of))
	for i := range all {
		all[i] = true
	}
	var err error
	for degree := range s.byDegree {
		if s.byDegree[degree], err = newPlain(g.of, all, degree); err != nil {
			return nil, err
		}
	}
	for i := range g.of {
		kept := slices.Clone(all)
		kept[i] = false
		a, err := newPlain(g.of, kept, 1)
		if err != nil {
			return nil, err
		}
		if a != nil {
			s.dropped = append(s.dropped, a)
		}
	}
	total := make([]float64, len(g.codes)+1) // runs of a tyre, the control last
	s.raw.df = -float64(len(total))
	for i, n := range g.d.runs {
		s.bracket.df += float64(n - 1)
		s.raw.df += float64(n)
		total[g.tyre(i)] += float64(n)
	}
	for k := range g.codes {
		w := make([]float64, len(g.of))
		for i, n := range g.d.runs {
			switch g.of[i] {
			case k:
				w[i] = float64(n) / total[k]
			case -1:
				w[i] = -float64(n) / total[len(g.codes)]
			}
		}
		s.raw.weights = append(s.raw.weights, w)
	}
	b := r
	if g.d.fit != compare.Bracket {
		g.draw(0)
		if b, err = g.compare(false, compare.Settings{Drift: compare.Bracket, Quick: true}); err != nil {
			return nil, err
		}
	}
	for i := range b.Rows {
		s.bracket.weights = append(s.bracket.weights, b.Rows[i].Weights)
	}
	if err = s.raw.judge(g.d); err != nil {
		return nil, err
	}
	return s, s.bracket.judge(g.d)
}

// shown tells of the programme drawn, in which no candidate differs, whether
// each method calls any different; half gets their half-widths.
func (s *simplerMethods) shown(half *[howManySimpler][]float64) (any [howManySimpler]bool, err error) {
	g := s.g
	at, within := 0, 0.0
	sum, count := make([]float64, len(g.codes)+1), make([]float64, len(g.codes)+1)
	for i, n := range g.d.runs {
		m := 0.0
		for k := range n {
			m += g.y[at+k] / float64(n)
		}
		for k := range n {
			within += (g.y[at+k] - m) * (g.y[at+k] - m)
		}
		s.means[i] = m
		sum[g.tyre(i)] += m * float64(n)
		count[g.tyre(i)] += float64(n)
		at += n
	}
	about := within
	for i, n := range g.d.runs {
		e := s.means[i] - sum[g.tyre(i)]/count[g.tyre(i)]
		about += float64(n) * e * e
	}
	any[rawMeans], half[rawMeans] = s.byDegree[0].verdicts(s.means, half[rawMeans])
	any[rawRuns], half[rawRuns] = s.raw.verdicts(s.means, about, half[rawRuns])
	any[runsAsReplicates], half[runsAsReplicates] = s.bracket.verdicts(s.means, within, half[runsAsReplicates])
	r, err := g.compare(false, compare.Settings{Drift: g.d.fit, When: compare.IfShown, Quick: true})
	if err != nil {
		return any, err
	}
	for i := range r.Rows {
		if v := r.Rows[i].Verdict; v.Low != nil {
			half[onlyIfShown] = append(half[onlyIfShown], (*v.High-*v.Low)/2)
		}
	}
	any[onlyIfShown] = called(r)
	degree := 2
	for degree > 0 && (s.byDegree[degree] == nil || s.byDegree[degree].pOfTop(s.means) >= 0.05) {
		degree--
	}
	any[orderByTests], half[orderByTests] = s.byDegree[degree].verdicts(s.means, half[orderByTests])
	any[oneDropped], half[oneDropped] = s.byDegree[1].verdicts(s.means, half[oneDropped])
	for _, a := range s.dropped {
		if yes, _ := a.verdicts(s.means, nil); yes {
			any[oneDropped] = true
		}
	}
	return any, nil
}
