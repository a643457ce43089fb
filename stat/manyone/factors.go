package manyone

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Limits of the integral over several factors. The grid's step goes with the
// root of the least variance that a comparison keeps of its own.
const (
	mostFactors = 4
	mostTerms   = 8e6 // of the whole sum: some tenths of a second
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
		if ok && misfit <= factorTol {
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

// laden is a comparison's loadings, own deviation and limits.
type laden struct {
	load      [mostFactors]float64
	b, lo, hi float64
}

// factorGrid integrates over a ball of factors by the trapezoid rule.
type factorGrid struct {
	gs      []laden
	m       int
	even    bool    // the tail is the same at -z
	far     float64 // largest limit times length of loadings
	s, h, r float64 // deviation, step, radius of the ball
	mean    [mostFactors + 1][]float64
}

func (g *factorGrid) tail(mean []float64) float64 {
	sum := 0.0
	for i := range g.gs {
		c := &g.gs[i]
		q := 0.0
		// Beyond 9 deviations there is 1e-19.
		if x := (c.hi*g.s - mean[i]) / c.b; x < 9 {
			q = upperPhi(x)
		}
		if x := (c.lo*g.s + mean[i]) / c.b; x < 9 {
			q += upperPhi(x)
		}
		if q >= 1 {
			return 1
		}
		if q > 0 {
			sum += math.Log1p(-q)
		}
	}
	return -math.Expm1(sum)
}

// over sums over factor f and those after it; free tells that a coordinate
// before f is not zero, so that both signs are wanted.
func (g *factorGrid) over(f int, zz float64, free bool) float64 {
	if f == g.m {
		v := math.Exp(-zz/2) * g.tail(g.mean[f])
		if g.even && free {
			return 2 * v
		}
		return v
	}
	n := int(math.Sqrt(max(0, g.r*g.r-zz)) / g.h)
	first := -n
	if g.even && !free {
		first = 0
	}
	sum := 0.0
	for j := first; j <= n; j++ {
		z := float64(j) * g.h
		for i := range g.gs {
			g.mean[f+1][i] = g.mean[f][i] + z*g.gs[i].load[f]
		}
		sum += g.over(f+1, zz+z*z, free || j != 0)
	}
	return sum
}

// at integrates at deviation s with step h. Where s itself carries but a part
// exp(-spent) of the most that one s does, the ball may be smaller.
func (g *factorGrid) at(s, h, spent float64) float64 {
	// 7 deviations past where the tail of the farthest limit gathers leave less
	// than 1e-9 of it.
	g.s, g.h, g.r = s, h, min(math.Sqrt(max(49-2*spent, 0))+0.8*g.far*s, 36)
	return math.Pow(h/math.Sqrt(2*math.Pi), float64(g.m)) * g.over(0, 0, false)
}

// factorsTail gives the tail for two to four factors, and a bound on its
// relative error.
func factorsTail(load [][]float64, bx box, df float64) (value, rel float64) {
	g := factorGrid{m: len(load[0]), even: true}
	least := 1.0
	for i, l := range load {
		c := laden{lo: bx.lo[i], hi: bx.hi[i]}
		if math.IsInf(c.lo, 1) && math.IsInf(c.hi, 1) {
			continue
		}
		s := 0.0
		for f, v := range l {
			c.load[f] = v
			s += v * v
		}
		c.b = math.Sqrt(1 - s)
		least = min(least, c.b)
		g.even = g.even && c.lo == c.hi
		for _, v := range [2]float64{c.lo, c.hi} {
			if !math.IsInf(v, 1) {
				g.far = max(g.far, math.Sqrt(s)*math.Abs(v))
			}
		}
		g.gs = append(g.gs, c)
	}
	for f := range g.mean {
		g.mean[f] = make([]float64, len(g.gs))
	}
	// The step is chosen where most of the probability gathers.
	peak := 1.0
	if !math.IsInf(df, 1) {
		peak = math.Exp(newBell(df, bx.majorant).peak)
	}
	want, near := 1e-8, 1e-6
	switch g.m {
	case 3:
		want, near = 1e-7, 3e-6
	case 4:
		want, near = 1e-5, 1e-5
	}
	h := 1.3 * least
	ref := g.at(peak, h, 0)
	rel = math.Inf(1)
	for range 8 {
		finer := g.at(peak, 0.8*h, 0)
		rel = math.Abs(finer-ref) / finer
		h, ref = 0.8*h, finer
		// The error falls like exp(-x/h^2): a fifth off the step raises its
		// logarithm by half again.
		if rel < want {
			rel = 3 * math.Pow(rel, 1.5)
			break
		}
	}
	v, e := overScaleTo(df, 1.4, near, bx.majorant, func(s, spent float64) float64 { return g.at(s, h, spent) })
	return v, max(e, rel, 1e-9)
}

// terms estimates the terms in the sum of factorsTail.
func terms(load [][]float64) float64 {
	least := 1.0
	for _, l := range load {
		s := 0.0
		for _, v := range l {
			s += v * v
		}
		least = min(least, math.Sqrt(max(1-s, 0)))
	}
	ball := [...]float64{1, 2, 3.2, 4.2, 5}[len(load[0])]
	// Step near 0.85 of the least deviation, radius near 7.5, 12 s in full.
	return ball * math.Pow(7.5/(0.85*least), float64(len(load[0]))) / 2 * 12 * float64(len(load))
}
