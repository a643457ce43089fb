package network

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"example.org/bookend/stat/manyone/region"
)

// Limits of the integral over several factors. The grid's step goes with the
// root of the least variance that a comparison keeps of its own.
const (
	mostFactors = 4
	mostTerms   = 1.5e6 // for one limit: a curve takes some tenths of a second
	fewTerms    = 1200  // a comparison; below this no cheaper set is looked for
)

// ownWanted are the variances of their own that the comparisons are to keep,
// first a comfortable one.
var ownWanted = [...]float64{0.3, 0.06}

// fitFactors finds m factors with r_ij = sum_f load_if*load_jf off the
// diagonal, by Levenberg-Marquardt from principal axes, and the largest
// misfit; ok tells that every comparison keeps nearly own of its variance.
func fitFactors(r [][]float64, m int, own float64) (load [][]float64, misfit float64, ok bool) {
	misfit = math.Inf(1)
	for start := range 3 {
		l := principal(r, m, start)
		if l == nil {
			continue
		}
		f := marquardt(r, l, own)
		keeps := true
		for i := range l {
			s := 0.0
			for _, v := range l[i] {
				s += v * v
			}
			keeps = keeps && 1-s >= own*0.8
		}
		if keeps && (!ok || f < misfit) || !keeps && !ok && f < misfit {
			load, misfit, ok = l, f, keeps
		}
		if ok && misfit <= FactorTol {
			break
		}
	}
	return load, misfit, ok
}

// principal gives the m leading axes of r with the diagonal lowered: by the
// least eigenvalue, by what the other comparisons do not explain, or by half.
func principal(r [][]float64, m, start int) [][]float64 {
	k := len(r)
	a := mat.NewSymDense(k, nil)
	for i := range k {
		for j := range i + 1 {
			a.SetSym(i, j, r[i][j])
		}
	}
	var e mat.EigenSym
	if !e.Factorize(a, true) {
		return nil
	}
	least := e.Values(nil)[0]
	switch start {
	case 0:
		for i := range k {
			a.SetSym(i, i, 1-max(least, 0))
		}
	case 1:
		var c mat.Cholesky
		if least < 1e-8 || !c.Factorize(a) {
			return nil
		}
		var inv mat.SymDense
		if c.InverseTo(&inv) != nil {
			return nil
		}
		for i := range k {
			a.SetSym(i, i, 1-1/inv.At(i, i))
		}
	default:
		for i := range k {
			a.SetSym(i, i, 0.5)
		}
	}
	if !e.Factorize(a, true) {
		return nil
	}
	values := e.Values(nil)
	var v mat.Dense
	e.VectorsTo(&v)
	l := make([][]float64, k)
	for i := range l {
		l[i] = make([]float64, m)
		for f := range m {
			at := k - 1 - f
			l[i][f] = math.Sqrt(max(values[at], 0)) * v.At(i, at)
		}
	}
	return l
}

// marquardt improves the loadings in place and gives the largest misfit.
func marquardt(r, l [][]float64, own float64) float64 {
	k, m := len(l), len(l[0])
	n := k * m
	off := func(l [][]float64) (sum, worst float64) {
		for i := range k {
			for j := range i {
				d := r[i][j]
				for f := range m {
					d -= l[i][f] * l[j][f]
				}
				sum += d * d
				worst = max(worst, math.Abs(d))
			}
			if d := excess(l[i], own); d > 0 {
				sum += d * d
			}
		}
		return sum, worst
	}
	sum, worst := off(l)
	damp := 1e-3
	next := make([][]float64, k)
	for i := range next {
		next[i] = make([]float64, m)
	}
	for range 200 {
		if worst < 1e-13 {
			break
		}
		// Normal equations of the linearised misfit.
		h := mat.NewSymDense(n, nil)
		g := mat.NewVecDense(n, nil)
		for i := range k {
			for j := range i {
				d := r[i][j]
				for f := range m {
					d -= l[i][f] * l[j][f]
				}
				for f := range m {
					a, b := i*m+f, j*m+f
					g.SetVec(a, g.AtVec(a)+d*l[j][f])
					g.SetVec(b, g.AtVec(b)+d*l[i][f])
					for f2 := range m {
						if f2 <= f {
							h.SetSym(a, i*m+f2, h.At(a, i*m+f2)+l[j][f]*l[j][f2])
							h.SetSym(b, j*m+f2, h.At(b, j*m+f2)+l[i][f]*l[i][f2])
						}
						h.SetSym(a, j*m+f2, h.At(a, j*m+f2)+l[j][f]*l[i][f2])
					}
				}
			}
			if d := excess(l[i], own); d > 0 {
				for f := range m {
					a := i*m + f
					g.SetVec(a, g.AtVec(a)-2*d*l[i][f])
					for f2 := range f + 1 {
						h.SetSym(a, i*m+f2, h.At(a, i*m+f2)+4*l[i][f]*l[i][f2])
					}
				}
			}
		}
		better := false
		for range 12 {
			hd := mat.NewSymDense(n, nil)
			hd.CopySym(h)
			for i := range n {
				hd.SetSym(i, i, hd.At(i, i)+damp)
			}
			var c mat.Cholesky
			if !c.Factorize(hd) {
				damp *= 10
				continue
			}
			var step mat.VecDense
			if c.SolveVecTo(&step, g) != nil {
				damp *= 10
				continue
			}
			for i := range k {
				for f := range m {
					next[i][f] = l[i][f] + step.AtVec(i*m+f)
				}
			}
			if s, w := off(next); s < sum {
				gain := (sum - s) / sum
				for i := range k {
					copy(l[i], next[i])
				}
				sum, worst = s, w
				damp = max(damp/10, 1e-14)
				better = gain > 1e-6
				break
			}
			damp *= 10
		}
		if !better {
			break
		}
	}
	return worst
}

// excess gives by how much a comparison's factors leave it less variance
// than its own is to be.
func excess(l []float64, own float64) float64 {
	s := own - 1
	for _, v := range l {
		s += v * v
	}
	return s
}

// alikeFactors gives every comparison the same variance of its own, the most
// that the correlations leave: fewer factors than comparisons, and where each
// comparison hangs together with few others, so do the factors. Nil where
// nothing is left.
func alikeFactors(r [][]float64) [][]float64 {
	k := len(r)
	a := mat.NewSymDense(k, nil)
	for i := range k {
		for j := range i + 1 {
			a.SetSym(i, j, r[i][j])
		}
	}
	var e mat.EigenSym
	if !e.Factorize(a, false) {
		return nil
	}
	own := e.Values(nil)[0]
	if own < 0.02 { // more points than anything has use for
		return nil
	}
	rest := make([][]float64, k)
	for i := range rest {
		rest[i] = append([]float64(nil), r[i]...)
		rest[i][i] -= own
	}
	l, rank, err := region.Pivoted(rest)
	if err != nil || rank == 0 {
		return nil
	}
	for i := range l {
		l[i] = l[i][:rank]
	}
	return l
}

// step gives a step with which the tail at deviation s is right, and how far
// it was seen to be off.
func (g *Network) step(s float64) (h, rel float64) {
	// The trapezoid rule's error falls like exp(-x/h^2): 0.92 of the least
	// deviation leaves some 1e-11, and 0.8, for one factor, 1e-13.
	h, enough := 0.92*g.least, 1e-10
	if len(g.levels) == 1 {
		h, enough = 0.8*g.least, 1e-12
	}
	v := g.tail(s, h, 0)
	for range 6 {
		finer := g.tail(s, 0.8*h, 0)
		if rel = math.Abs(v/finer - 1); rel < enough {
			break
		}
		h, v = 0.8*h, finer
	}
	return h, rel
}

// FactorsTail gives the tail for limits of any kind, and a bound on its
// relative error.
func FactorsTail(load [][]float64, bx region.Box, df float64) (value, rel float64) {
	g := newNetwork(load).within(bx)
	g.past = 60 // before what is spent on the deviation
	// The step is chosen where most of the probability gathers.
	peak := 1.0
	if !math.IsInf(df, 1) {
		peak = math.Exp(region.NewBell(df, region.AllDepth, bx.Majorant).Peak)
	}
	h, rel := g.step(peak)
	v, e := region.OverScaleTo(df, region.AllDepth, 1.4, 1e-6, bx.Majorant, func(s, spent float64) float64 { return g.tail(s, h, spent) })
	return v, max(e, rel, FactorsRel)
}

// FactorsRel bounds what the misfit of factors, the ball and the step leave of
// a tail.
const FactorsRel = 1e-9

// FactorsCurve gives the curve for comparisons with their loads.
func FactorsCurve(g *Network, unit region.Box) *Curve {
	n := g.within(unit)
	h, rel := n.step(2.5)
	c := &Curve{Method: Factors, count: unit.Sides(), grade: coarse, make: func() func(float64) float64 {
		n := g.within(unit)
		return func(x float64) float64 { return n.tail(x, h, 0) }
	}}
	c.rel = max(rel, c.rel)
	return c
}

// FactorCurve is the same for one factor; nil where that is too sharp for it.
func FactorCurve(lambda []float64, unit region.Box) *Curve {
	load := make([][]float64, len(lambda))
	for i, l := range lambda {
		if math.Sqrt(max(0, (1-l)*(1+l))) < sharp {
			return nil
		}
		load[i] = []float64{l}
	}
	c := FactorsCurve(newNetwork(load), unit)
	c.Method, c.grade = OneFactor, fine
	return c
}

// leastFactors gives a number of factors below which none give the correlations within
// FactorTol. Between one half of the comparisons and the other, factors give a matrix
// of their rank, and singular values move by no more than the misfits together (Weyl).
// The halves are first and last, and one by one.
func leastFactors(r [][]float64) int {
	k := len(r)
	least := 1
	for _, first := range []func(i int) bool{func(i int) bool { return 2*i < k }, func(i int) bool { return i%2 == 0 }} {
		var in, out []int
		for i := range k {
			if first(i) {
				in = append(in, i)
			} else {
				out = append(out, i)
			}
		}
		b := mat.NewDense(len(in), len(out), nil)
		for a, i := range in {
			for c, j := range out {
				b.Set(a, c, r[i][j])
			}
		}
		var d mat.SVD
		if !d.Factorize(b, mat.SVDNone) {
			continue
		}
		n := 0
		for _, v := range d.Values(nil) {
			if v > 2*FactorTol*float64(k) {
				n++
			}
		}
		least = max(least, n)
	}
	return least
}

// Cheapest looks for the cheapest set of factors that gives the correlations
// exactly, with its network, or else for the nearest set that nearly does.
func Cheapest(r [][]float64) (load [][]float64, exact bool, net *Network) {
	take := func(l [][]float64) {
		if g := newNetwork(l); g.cost() <= mostTerms && (!exact || g.cost() < net.cost()) {
			load, exact, net = l, true, g
		}
	}
	if l := alikeFactors(r); l != nil {
		take(l)
	}
	nearest := math.Inf(1)
	least := leastFactors(r)
	for f := 2; f <= mostFactors && f < len(r); f++ {
		if exact && f < least {
			continue // so few cannot do, and the nearest is not wanted
		}
		for _, own := range ownWanted {
			if exact && net.cost() < fewTerms*float64(len(r)) {
				return load, exact, net
			}
			l, misfit, ok := fitFactors(r, f, own)
			if !ok {
				continue
			}
			if misfit <= FactorTol {
				take(l)
				continue
			}
			if f < mostFactors && !exact && misfit < nearest && newNetwork(l).cost() <= mostTerms {
				load, nearest = l, misfit
			}
		}
	}
	return load, exact, net
}
