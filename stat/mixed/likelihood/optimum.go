// Package likelihood is the likelihood of a mixed model as a function of its
// variances, and the way to its maximum.
//
// Newton's method with exact second derivatives runs from several starts; where
// an optimum lies at the edge, variances are exactly zero and are found by leaving
// components out and looking at the slope there.
//
// Sources: Patterson and Thompson, Biometrika 58 (1971) 545, for the restricted
// likelihood (from memory). Coordinates are those of package basis, units those
// in which the response has mean square 1. Limits: as package mixed; several
// maxima are possible, and the starts make missing the highest unlikely.
package likelihood

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"example.org/bookend/stat/mixed/dense"
)

// Problem is the likelihood as a function of the variances, in units in which
// the response has mean square 1 about the fixed terms and each component's
// matrix has mean diagonal 1 there.
type Problem struct {
	ML            bool
	Fixed, Random int
	RestDF        int
	Rest          float64
	Y2            []float64 // r
	Parts         []Part    // parts[0] is the residual; then block by block, lower triangle by rows
	Blocks        []Block
	Known         *dense.Matrix // covariance of components held, (p+r) x (p+r), or nil
	Residual      bool          // the residual's variance is held
	Theta0        float64
}

// Part is the derivative of the covariance with respect to one entry of theta:
// the identity for the residual.
type Part struct {
	Whole *dense.Matrix // (p+r) x (p+r); nil for the residual
	inner *dense.Matrix // its lower right r x r
}

// NewPart makes the part of a whole, (p+r) x (p+r), beside p fixed coordinates.
func NewPart(whole *dense.Matrix, p int) Part {
	return Part{whole, whole.Part(p, whole.Rows, p, whole.Cols)}
}

// Block is a component with estimated variances: size terms that vary together,
// its entries in theta from first on.
type Block struct {
	Component   int
	First, Size int
}

// Entries counts the variances and covariances of the block.
func (b Block) Entries() int { return b.Size * (b.Size + 1) / 2 }

// Place gives where entry a, b of the block's covariance stands in theta.
func (b Block) Place(i, j int) int {
	if i < j {
		i, j = j, i
	}
	return b.First + i*(i+1)/2 + j
}

// Point is the likelihood at one covariance.
type Point struct {
	theta0 float64
	F      float64       // -2 log likelihood but for constants
	Low    *dense.Matrix // factor of the covariance within the random part, r x r
	Inv    *dense.Matrix // its inverse
	W      []float64
	Whole  *dense.Matrix // covariance, (p+r) x (p+r)
	wholeL *dense.Matrix // its factor, under ML alone
	wholeI *dense.Matrix // its inverse, under ML alone
}

func (q *Problem) covariance(theta []float64) *dense.Matrix {
	v := dense.New(q.Fixed+q.Random, q.Fixed+q.Random)
	for i := range v.Rows {
		v.Set(i, i, theta[0])
	}
	if q.Known != nil {
		v.AddScaled(1, q.Known)
	}
	for k, t := range theta[1:] {
		if t != 0 {
			v.AddScaled(t, q.Parts[k+1].Whole)
		}
	}
	return v
}

// At gives the likelihood at theta, and false where the covariance has no
// inverse.
func (q *Problem) At(theta []float64) (*Point, bool) {
	for _, t := range theta {
		if math.IsNaN(t) || math.IsInf(t, 0) {
			return nil, false
		}
	}
	if theta[0] < 0 || (theta[0] == 0 && q.RestDF > 0) {
		return nil, false
	}
	pt := &Point{theta0: theta[0], Whole: q.covariance(theta)}
	v := pt.Whole.Part(q.Fixed, q.Fixed+q.Random, q.Fixed, q.Fixed+q.Random)
	var ok bool
	// 1e-15: a pivot below this is rounding.
	if pt.Low, ok = v.Factor(1e-15); !ok {
		return nil, false
	}
	pt.W = pt.Low.SolveVector(q.Y2)
	pt.F = floats.Dot(pt.W, q.Y2)
	if q.ML {
		if pt.wholeL, ok = pt.Whole.Factor(1e-15); !ok {
			return nil, false
		}
		pt.F += pt.wholeL.LogDet()
	} else {
		pt.F += pt.Low.LogDet()
	}
	if q.RestDF > 0 {
		pt.F += float64(q.RestDF)*math.Log(theta[0]) + q.Rest/theta[0]
	}
	if math.IsNaN(pt.F) || math.IsInf(pt.F, 0) {
		return nil, false
	}
	return pt, true
}

// Slopes gives the first derivatives of -2 log likelihood over the parts, the
// second ones, and the expected second ones.
func (q *Problem) Slopes(pt *Point, parts []Part) (g []float64, observed, expected *dense.Matrix) {
	k := len(parts)
	g, observed, expected = make([]float64, k), dense.New(k, k), dense.New(k, k)
	if pt.Inv == nil {
		pt.Inv = pt.Low.Inverse()
		if q.ML {
			pt.wholeI = pt.wholeL.Inverse()
		}
	}
	m := make([]*dense.Matrix, k) // inverse times part, in the space whose determinant counts
	u := make([][]float64, k)
	for i, d := range parts {
		switch {
		case q.ML && d.Whole == nil:
			m[i] = pt.wholeI
		case q.ML:
			m[i] = dense.Times(pt.wholeI, d.Whole)
		case d.Whole == nil:
			m[i] = pt.Inv
		default:
			m[i] = dense.Times(pt.Inv, d.inner)
		}
		if d.Whole == nil {
			u[i] = pt.W
		} else {
			u[i] = d.inner.Apply(pt.W)
		}
		g[i] = m[i].Trace() - floats.Dot(u[i], pt.W)
	}
	for i := range k {
		mt := m[i].Transpose()
		su := pt.Inv.Apply(u[i])
		for j := range i + 1 {
			e := dense.Inner(mt, m[j])
			o := -e + 2*floats.Dot(su, u[j])
			expected.Set(i, j, e)
			expected.Set(j, i, e)
			observed.Set(i, j, o)
			observed.Set(j, i, o)
		}
	}
	for i, d := range parts {
		if d.Whole == nil && q.RestDF > 0 {
			t, n := pt.theta0, float64(q.RestDF)
			g[i] += n/t - q.Rest/(t*t)
			expected.AddTo(i, i, n/(t*t))
			observed.AddTo(i, i, -n/(t*t)+2*q.Rest/(t*t*t))
		}
	}
	return g, observed, expected
}

// The walk downhill is over x: the log of the residual's variance, and for each
// block the lower triangle of a root of its covariance. So every point is
// allowed, and an optimum at a variance of zero is an ordinary one at x = 0.

// Theta gives the variances at the place x, in which they are free of bounds.
func (q *Problem) Theta(x []float64) []float64 {
	th := make([]float64, len(x))
	th[0] = q.Theta0
	if !q.Residual {
		th[0] = math.Exp(x[0])
	}
	for _, b := range q.Blocks {
		for i := range b.Size {
			for j := range i + 1 {
				s := 0.0
				for c := range j + 1 {
					s += x[b.Place(i, c)] * x[b.Place(j, c)]
				}
				th[b.Place(i, j)] = s
			}
		}
	}
	return th
}

// slopesX gives the derivatives over x.
func (q *Problem) slopesX(pt *Point, th, x []float64) ([]float64, *dense.Matrix) {
	g, h, _ := q.Slopes(pt, q.Parts)
	k := len(x)
	jac := dense.New(k, k) // theta by x
	curve := dense.New(k, k)
	if !q.Residual {
		jac.Set(0, 0, th[0])
		curve.Set(0, 0, g[0]*th[0])
	}
	for _, b := range q.Blocks {
		for i := range b.Size {
			for j := range i + 1 {
				t := b.Place(i, j)
				for c := range j + 1 {
					a, d := b.Place(i, c), b.Place(j, c)
					jac.AddTo(t, a, x[d])
					jac.AddTo(t, d, x[a])
					curve.AddTo(a, d, g[t])
					curve.AddTo(d, a, g[t])
				}
			}
		}
	}
	jt := jac.Transpose()
	gx := jt.Apply(g)
	hx := dense.Times(jt, dense.Times(h, jac))
	hx.AddScaled(1, curve)
	if q.Residual {
		gx[0] = 0
		for i := range k {
			hx.Set(0, i, 0)
			hx.Set(i, 0, 0)
		}
		hx.Set(0, 0, 1)
	}
	return gx, hx
}

// newton gives the downhill step for a gradient and second derivatives: Newton's,
// with directions of negative curvature turned round.
func newton(g []float64, h *dense.Matrix) []float64 {
	values, vectors := h.Eigen()
	top := 0.0
	for _, v := range values {
		top = max(top, math.Abs(v))
	}
	step := make([]float64, len(g))
	for i, v := range values {
		// 1e-10 of the largest curvature: what is flatter is not known from rounding.
		v = max(math.Abs(v), 1e-10*top, 1e-300)
		s := 0.0
		for k := range g {
			s += vectors.At(k, i) * g[k]
		}
		for k := range step {
			step[k] -= s / v * vectors.At(k, i)
		}
	}
	return step
}

// Descend walks from x to the nearest minimum and gives it with its value, and
// false where the likelihood cannot be had at x.
func (q *Problem) Descend(x []float64) ([]float64, float64, bool) {
	th := q.Theta(x)
	pt, ok := q.At(th)
	if !ok {
		return nil, 0, false
	}
	// 200 steps: near an optimum ten do; along a flat valley more.
	for range 200 {
		g, h := q.slopesX(pt, th, x)
		step := newton(g, h)
		// A step of 2 is a factor of 7 in the residual's variance.
		if l := floats.Norm(step, 2); l > 2 {
			floats.Scale(2/l, step)
		}
		down := floats.Dot(g, step)
		// 1e-13 of the criterion is its rounding: no comparison would see the gain.
		if -down <= 1e-13*(1+math.Abs(pt.F)) {
			nx := slices.Clone(x)
			floats.Add(nx, step)
			if np, ok := q.At(q.Theta(nx)); ok {
				x, pt = nx, np
			}
			break
		}
		moved := false
		for f := 1.0; f > 1e-9; f /= 2 {
			nx := slices.Clone(x)
			floats.AddScaled(nx, f, step)
			nth := q.Theta(nx)
			np, ok := q.At(nth)
			// 1e-4: Armijo's constant (Nocedal and Wright, Numerical Optimization, 3.1).
			if ok && np.F <= pt.F+1e-4*f*down {
				x, th, pt, moved = nx, nth, np, true
				break
			}
		}
		// Below 1e-13 a step is rounding. Where no step goes down any more,
		// rounding hides the rest; the polish takes over.
		if !moved || floats.Norm(step, math.Inf(1)) < 1e-13*(1+floats.Norm(x, math.Inf(1))) {
			break
		}
		// Without an own scatter outside the random part the residual may vanish.
		if !q.Residual && th[0] < 1e-13 {
			break
		}
	}
	return x, pt.F, true
}

// starts gives where the walks begin: equal shares, mostly residual, mostly one
// component each, terms of a component that vary together, and hardly any
// residual.
func (q *Problem) starts() [][]float64 {
	k := float64(len(q.Blocks))
	make1 := func(residual float64, share func(i int) float64) []float64 {
		x := make([]float64, len(q.Parts))
		x[0] = math.Log(residual)
		for i, b := range q.Blocks {
			for t := range b.Size {
				x[b.Place(t, t)] = math.Sqrt(share(i) / float64(b.Size))
			}
		}
		return x
	}
	out := [][]float64{make1(1/(k+1), func(int) float64 { return 1 / (k + 1) })}
	if len(q.Blocks) == 0 {
		return out
	}
	out = append(out, make1(0.9, func(int) float64 { return 0.1 / k }))
	for i := range q.Blocks {
		out = append(out, make1(0.2/k, func(j int) float64 {
			if i == j {
				return 0.8
			}
			return 0.2 / k
		}))
	}
	for _, b := range q.Blocks {
		// Terms that vary together may do so either way; each is begun with.
		for _, way := range []float64{1, -1} {
			for t := 1; t < b.Size; t++ {
				x := slices.Clone(out[0])
				x[b.Place(t, 0)] = way * x[b.Place(t, t)]
				x[b.Place(t, t)] *= 0.3
				out = append(out, x)
			}
		}
	}
	return append(out, make1(0.01, func(int) float64 { return 1 / k }))
}

// manyWalks is the size of the random part up to which every start is walked
// from; beyond it, for the time it takes, the two best are.
const manyWalks = 60

// Minimum gives x at the lowest minimum found.
func (q *Problem) Minimum() ([]float64, bool) {
	starts := q.starts()
	if q.Random > manyWalks && len(starts) > 2 {
		type ranked struct {
			x []float64
			f float64
		}
		var all []ranked
		for _, x := range starts {
			if pt, ok := q.At(q.Theta(x)); ok {
				all = append(all, ranked{x, pt.F})
			}
		}
		slices.SortStableFunc(all, func(a, b ranked) int {
			switch {
			case a.f < b.f:
				return -1
			case a.f > b.f:
				return 1
			}
			return 0
		})
		starts = nil
		for _, a := range all[:min(2, len(all))] {
			starts = append(starts, a.x)
		}
	}
	var best []float64
	lowest := math.Inf(1)
	for _, x := range starts {
		// 1e-9: another walk to the same minimum.
		if x, f, ok := q.Descend(x); ok && f < lowest-1e-9 {
			best, lowest = x, f
		}
	}
	if best == nil {
		return nil, false
	}
	return best, true
}
