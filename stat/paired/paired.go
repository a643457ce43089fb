// Package paired fits paired comparisons: which of two was better, or neither.
//
// In the trade an evaluator who cannot put a number to a feeling can still say
// which of two tyres steered better. Each code has a worth pi, and a code i is
// preferred to j with odds pi_i : pi_j (Bradley and Terry). Where "no
// difference" may be said, its odds are nu sqrt(pi_i pi_j) (Davidson): nu is how
// readily it is said.
//
// The log likelihood is concave and is climbed by Newton's method to the
// rounding error. It has a maximum only if no code, and no group of codes, was
// preferred in every comparison with the others (Ford): otherwise the worth is
// unlimited, and the fit is refused with their names.
//
// Sources: Bradley and Terry, Biometrika 39 (1952) 324; Ford, American
// Mathematical Monthly 64 (1957) 28; Davidson, JASA 65 (1970) 317 (from memory;
// the model as in the check values). Worths are without unit. Limits: the
// comparisons are taken as independent: an evaluator's own leaning, or that of
// whoever was driven first, is not in the model.
package paired

import (
	"math"
	"slices"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/stat/tail"
)

// Pair is what came of comparing two items: how often each was preferred, and
// how often neither. Counts may be fractional (weights).
type Pair struct {
	A, B               string
	WinsA, WinsB, Ties float64
}

// Rule says what becomes of ties.
type Rule int

// The rules.
const (
	Davidson Rule = iota // ties have a parameter of their own
	NoTies               // Bradley and Terry: ties are refused
	HalfTies             // Bradley and Terry: a tie is half a preference for each
)

// Model is a fitted model.
type Model struct {
	Items  []string  // in the order given
	Log    []float64 // log worth of each item less that of the first, which is 0
	Worth  []float64 // worth of each item, with sum 1
	Nu     float64   // how readily a tie is said; 0 without ties
	LogNu  float64   // its logarithm; meaningless where HasNu is false
	HasNu  bool
	StdErr []float64 // of Log; 0 for the first
	NuErr  float64   // of LogNu
	LogLik float64   // without the constants of the counts
	// Deviance is twice the log likelihood that was given up against a model
	// in which each pair has probabilities of its own, with DevianceDF degrees
	// of freedom; P of chi-square, which needs several comparisons a pair.
	Deviance   float64
	DevianceDF int
	DevianceP  float64
	// Equal tests that all worths are the same: the likelihood ratio and its P
	// of chi-square with EqualDF degrees of freedom.
	Equal   float64
	EqualDF int
	EqualP  float64
	Caveats caveat.List

	cov [][]float64 // of Log, then of LogNu
}

type counts struct {
	i, j       int
	wi, wj, ti float64
}

func (c counts) n() float64 { return c.wi + c.wj + c.ti }

// Fit fits the worths of items from pairs. A pair may stand several times.
func Fit(items []string, pairs []Pair, rule Rule) (*Model, error) {
	if rule < Davidson || rule > HalfTies {
		return nil, fault.New(fault.Invalid, "there is no rule %d for ties", rule)
	}
	if len(items) < 2 {
		return nil, fault.New(fault.Invalid, "%d items cannot be compared", len(items))
	}
	at := map[string]int{}
	for i, name := range items {
		if _, twice := at[name]; twice {
			return nil, fault.New(fault.Invalid, "item %q is named twice", name)
		}
		at[name] = i
	}
	k := len(items)
	sums := map[[2]int]*counts{}
	var data []*counts
	for n, p := range pairs {
		i, ok := at[p.A]
		j, ok2 := at[p.B]
		if !ok || !ok2 {
			return nil, fault.New(fault.Invalid, "pair %d: %q or %q is not among the items", n+1, p.A, p.B)
		}
		if i == j {
			return nil, fault.New(fault.Invalid, "pair %d compares %q with itself", n+1, p.A)
		}
		for _, v := range []float64{p.WinsA, p.WinsB, p.Ties} {
			if !(v >= 0) || math.IsInf(v, 0) {
				return nil, fault.New(fault.Invalid, "pair %d (%q and %q): a count is %v", n+1, p.A, p.B, v)
			}
		}
		wi, wj, t := p.WinsA, p.WinsB, p.Ties
		if i > j {
			i, j, wi, wj = j, i, wj, wi
		}
		if t > 0 {
			switch rule {
			case NoTies:
				return nil, fault.New(fault.Invalid, "pair %d (%q and %q) has ties", n+1, p.A, p.B).WithHint("fit Davidson's model, or count a tie as half a preference for each")
			case HalfTies:
				wi, wj, t = wi+t/2, wj+t/2, 0
			}
		}
		c := sums[[2]int{i, j}]
		if c == nil {
			c = &counts{i: i, j: j}
			sums[[2]int{i, j}] = c
			data = append(data, c)
		}
		c.wi, c.wj, c.ti = c.wi+wi, c.wj+wj, c.ti+t
	}
	slices.SortFunc(data, func(a, b *counts) int {
		if a.i != b.i {
			return a.i - b.i
		}
		return a.j - b.j
	})
	data = slices.DeleteFunc(data, func(c *counts) bool { return c.n() == 0 })
	if err := connected(items, data); err != nil {
		return nil, err
	}
	m := &Model{Items: slices.Clone(items)}
	ties, wins := 0.0, 0.0
	for _, c := range data {
		ties += c.ti
		wins += c.wi + c.wj
	}
	switch {
	case rule == HalfTies:
		m.Caveats.Add("ties_halved", caveat.Place{}, "A tie counts as half a preference for each: errors are too small where there are many.")
	case rule == Davidson && ties == 0:
		m.Caveats.Add("no_ties", caveat.Place{}, "Nobody said that there is no difference: the model is that of Bradley and Terry.")
	case wins == 0:
		return nil, fault.New(fault.Invalid, "every comparison is a tie: no worths can be told").WithHint("nothing was found to differ")
	}
	m.HasNu = ties > 0
	log, cov, ll, err := climb(k, data, m.HasNu, false)
	if err != nil {
		return nil, err
	}
	m.LogLik, m.cov = ll, cov
	m.Log = append([]float64{0}, log[:k-1]...)
	m.StdErr = make([]float64, k)
	for i := 1; i < k; i++ {
		m.StdErr[i] = math.Sqrt(cov[i-1][i-1])
	}
	if m.HasNu {
		m.LogNu = log[k-1]
		m.Nu, m.NuErr = math.Exp(m.LogNu), math.Sqrt(cov[k-1][k-1])
	}
	top := slices.Max(m.Log)
	sum := 0.0
	for _, l := range m.Log {
		m.Worth = append(m.Worth, math.Exp(l-top))
		sum += math.Exp(l - top)
	}
	for i := range m.Worth {
		m.Worth[i] /= sum
	}
	// Against each pair by itself, and against no difference at all.
	saturated, kinds := 0.0, 1
	if m.HasNu {
		kinds = 2
	}
	few := false
	for _, c := range data {
		for _, v := range []float64{c.wi, c.wj, c.ti} {
			if v > 0 {
				saturated += v * math.Log(v/c.n())
			}
		}
		// 5 expected in each kind of outcome: Cochran's rule for chi-square
		// (common practice, no source at hand).
		few = few || c.n() < 5*float64(kinds+1)
	}
	m.Deviance = max(0, 2*(saturated-ll))
	m.DevianceDF = kinds*len(data) - len(log)
	m.DevianceP = 1
	if m.DevianceDF > 0 && m.Deviance > 0 {
		m.DevianceP = tail.Chi2(m.Deviance, float64(m.DevianceDF))
	}
	if few {
		m.Caveats.Add("few_comparisons", caveat.Place{}, "Some pairs were compared only a few times: the test of the model as a whole is rough, and its errors lean on large numbers.")
	}
	_, _, flat, err := climb(k, data, m.HasNu, true)
	if err != nil {
		return nil, err
	}
	m.Equal, m.EqualDF, m.EqualP = max(0, 2*(ll-flat)), k-1, 1
	if m.Equal > 0 {
		m.EqualP = tail.Chi2(m.Equal, float64(k-1))
	}
	return m, nil
}

// connected refuses comparisons that leave a worth without limit: the graph in
// which each item points to those it was preferred to (or tied with) must lead
// from everywhere to everywhere.
func connected(items []string, data []*counts) error {
	k := len(items)
	beats := make([][]bool, k)
	met := make([][]bool, k)
	for i := range beats {
		beats[i], met[i] = make([]bool, k), make([]bool, k)
	}
	for _, c := range data {
		beats[c.i][c.j] = c.wi > 0 || c.ti > 0
		beats[c.j][c.i] = c.wj > 0 || c.ti > 0
		met[c.i][c.j], met[c.j][c.i] = true, true
	}
	reach := func(edge [][]bool, from int) []bool {
		seen := make([]bool, k)
		seen[from] = true
		todo := []int{from}
		for len(todo) > 0 {
			i := todo[0]
			todo = todo[1:]
			for j := range k {
				if edge[i][j] && !seen[j] {
					seen[j] = true
					todo = append(todo, j)
				}
			}
		}
		return seen
	}
	names := func(in []bool) string {
		var out []string
		for i, ok := range in {
			if ok {
				out = append(out, items[i])
			}
		}
		return strings.Join(out, ", ")
	}
	for i := range k {
		if !slices.Contains(met[i], true) {
			return fault.New(fault.Invalid, "%s was never compared", items[i])
		}
	}
	if seen := reach(met, 0); slices.Contains(seen, false) {
		return fault.New(fault.Invalid, "%s were never compared with the rest", names(seen)).WithHint("compare at least one of them with one of the others")
	}
	for i := range k {
		// What i reaches by preferences is a group that was never preferred to
		// an item outside it.
		seen := reach(beats, i)
		if !slices.Contains(seen, false) {
			continue
		}
		outside := make([]bool, k)
		for j := range seen {
			outside[j] = !seen[j]
		}
		winners, losers := names(outside), names(seen)
		hint := "compare until each has been preferred at least once, or leave it out and say so"
		if strings.Count(winners, ",") > strings.Count(losers, ",") {
			return fault.New(fault.Invalid, "%s lost every comparison with the rest: the worth has no lower limit", losers).WithHint("%s", hint)
		}
		return fault.New(fault.Invalid, "%s won every comparison with the rest: the worth has no upper limit", winners).WithHint("%s", hint)
	}
	return nil
}

// climb gives the log worths against the first item, and log nu, their
// covariance and the log likelihood. With flat all worths are the same.
func climb(k int, data []*counts, nu, flat bool) (x []float64, cov [][]float64, ll float64, err error) {
	p := k - 1
	if flat {
		p = 0
	}
	np := p
	if nu {
		np++
	}
	x = make([]float64, np)
	type outcome struct {
		count float64
		at    [3]int // places in x, or -1
		by    [3]float64
	}
	// An outcome's log odds are a sum over x: a preference adds the item's, a
	// tie half of each and log nu.
	place := func(i int) int {
		if flat || i == 0 {
			return -1
		}
		return i - 1
	}
	outcomes := func(c *counts) []outcome {
		o := []outcome{{c.wi, [3]int{place(c.i), -1, -1}, [3]float64{1, 0, 0}}, {c.wj, [3]int{place(c.j), -1, -1}, [3]float64{1, 0, 0}}}
		if nu {
			o = append(o, outcome{c.ti, [3]int{place(c.i), place(c.j), p}, [3]float64{0.5, 0.5, 1}})
		}
		return o
	}
	eval := func(x []float64) (ll float64, g []float64, h [][]float64) {
		g, h = make([]float64, np), make([][]float64, np)
		for a := range h {
			h[a] = make([]float64, np)
		}
		for _, c := range data {
			o := outcomes(c)
			odds := make([]float64, len(o))
			top := math.Inf(-1)
			for r, e := range o {
				for s, a := range e.at {
					if a >= 0 {
						odds[r] += e.by[s] * x[a]
					}
				}
				top = max(top, odds[r])
			}
			sum := 0.0
			for r := range odds {
				sum += math.Exp(odds[r] - top)
			}
			norm := top + math.Log(sum)
			mean := make([]float64, np)
			for r, e := range o {
				ll += e.count * (odds[r] - norm)
				pr := math.Exp(odds[r] - norm)
				for s, a := range e.at {
					if a >= 0 {
						mean[a] += pr * e.by[s]
						g[a] += e.count * e.by[s]
						for s2, b := range e.at {
							if b >= 0 {
								h[a][b] += c.n() * pr * e.by[s] * e.by[s2]
							}
						}
					}
				}
			}
			for a, v := range mean {
				if v == 0 {
					continue
				}
				g[a] -= c.n() * v
				for b, w := range mean {
					h[a][b] -= c.n() * v * w
				}
			}
		}
		return ll, g, h
	}
	ll, g, h := eval(x)
	// 100 steps: from equal worths ten do.
	for range 100 {
		step, ok := solve(h, g)
		if !ok {
			return nil, nil, 0, fault.New(fault.Invalid, "the comparisons do not tell the worths apart")
		}
		gain := 0.0
		for i := range step {
			gain += g[i] * step[i]
		}
		f, moved := 1.0, false
		for ; f > 1e-6; f /= 2 {
			next := slices.Clone(x)
			for i := range next {
				next[i] += f * step[i]
			}
			nl, ng, nh := eval(next)
			// 1e-13: the rounding of the log likelihood.
			if nl >= ll-1e-13*math.Abs(ll) {
				x, ll, g, h, moved = next, nl, ng, nh, true
				break
			}
		}
		// A gain of 1e-24 is a step of 1e-12 standard errors.
		if !moved || gain < 1e-24 {
			break
		}
	}
	cov = make([][]float64, np)
	for i := range cov {
		unit := make([]float64, np)
		unit[i] = 1
		c, ok := solve(h, unit)
		if !ok {
			return nil, nil, 0, fault.New(fault.Invalid, "the comparisons do not tell the worths apart")
		}
		cov[i] = c
	}
	return x, cov, ll, nil
}

// solve solves a x = b for a positive definite a.
func solve(a [][]float64, b []float64) ([]float64, bool) {
	n := len(b)
	l := make([][]float64, n)
	x := slices.Clone(b)
	for i := range n {
		l[i] = make([]float64, i+1)
		for j := range i + 1 {
			s := a[i][j]
			for k := range j {
				s -= l[i][k] * l[j][k]
			}
			if i > j {
				l[i][j] = s / l[j][j]
				continue
			}
			// 1e-14: a pivot below this is rounding.
			if !(s > 1e-14*a[i][i]) {
				return nil, false
			}
			l[i][i] = math.Sqrt(s)
		}
		for k := range i {
			x[i] -= l[i][k] * x[k]
		}
		x[i] /= l[i][i]
	}
	for i := n - 1; i >= 0; i-- {
		for k := i + 1; k < n; k++ {
			x[i] -= l[k][i] * x[k]
		}
		x[i] /= l[i][i]
	}
	return x, true
}

// Difference gives the log worth of item a less that of item b, its standard
// error, and the two-sided p-value of no difference (normal).
func (m *Model) Difference(a, b string) (estimate, stdErr, p float64, err error) {
	i, j := slices.Index(m.Items, a), slices.Index(m.Items, b)
	if i < 0 || j < 0 {
		return 0, 0, 0, fault.New(fault.NotFound, "the model has no item %q or %q", a, b)
	}
	c := func(i, j int) float64 {
		if i == 0 || j == 0 {
			return 0
		}
		return m.cov[i-1][j-1]
	}
	estimate = m.Log[i] - m.Log[j]
	stdErr = math.Sqrt(max(0, c(i, i)+c(j, j)-2*c(i, j)))
	if stdErr == 0 {
		return estimate, 0, 1, nil
	}
	return estimate, stdErr, 2 * tail.Normal(math.Abs(estimate)/stdErr), nil
}

// Covariance gives the covariance of Log, one row and column an item, those of
// the first zero.
func (m *Model) Covariance() [][]float64 {
	out := make([][]float64, len(m.Items))
	for i := range out {
		out[i] = make([]float64, len(m.Items))
		if i > 0 {
			copy(out[i][1:], m.cov[i-1][:len(m.Items)-1])
		}
	}
	return out
}

// Probabilities gives how likely a is preferred to b, b to a, and neither.
func (m *Model) Probabilities(a, b string) (first, second, tie float64, err error) {
	i, j := slices.Index(m.Items, a), slices.Index(m.Items, b)
	if i < 0 || j < 0 {
		return 0, 0, 0, fault.New(fault.NotFound, "the model has no item %q or %q", a, b)
	}
	d := (m.Log[i] - m.Log[j]) / 2
	top := math.Abs(d)
	x, y, t := math.Exp(d-top), math.Exp(-d-top), m.Nu*math.Exp(-top)
	s := x + y + t
	return x / s, y / s, t / s, nil
}
