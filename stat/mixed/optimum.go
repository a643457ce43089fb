package mixed

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// problem is the likelihood as a function of the variances, in units in which
// the response has mean square 1 about the fixed terms and each component's
// matrix has mean diagonal 1 there.
type problem struct {
	ml       bool
	p, r     int
	restDF   int
	rest     float64
	y2       []float64 // r
	parts    []part    // parts[0] is the residual; then block by block, lower triangle by rows
	blocks   []block
	known    *dense // covariance of components held, (p+r) x (p+r), or nil
	residual bool   // the residual's variance is held
	theta0   float64
}

// part is the derivative of the covariance with respect to one entry of theta:
// the identity for the residual.
type part struct {
	whole *dense // (p+r) x (p+r); nil for the residual
	inner *dense // its lower right r x r
}

func newPart(whole *dense, p int) part {
	return part{whole, whole.part(p, whole.rows, p, whole.cols)}
}

// block is a component with estimated variances: size terms that vary together,
// its entries in theta from first on.
type block struct {
	component   int
	first, size int
}

func (b block) entries() int { return b.size * (b.size + 1) / 2 }

// place gives where entry a, b of the block's covariance stands in theta.
func (b block) place(i, j int) int {
	if i < j {
		i, j = j, i
	}
	return b.first + i*(i+1)/2 + j
}

// point is the likelihood at one covariance.
type point struct {
	theta0 float64
	f      float64 // -2 log likelihood but for constants
	low    *dense  // factor of the covariance within the random part, r x r
	inv    *dense  // its inverse
	w      []float64
	whole  *dense // covariance, (p+r) x (p+r)
	wholeL *dense // its factor, under ML alone
	wholeI *dense // its inverse, under ML alone
}

func (q *problem) covariance(theta []float64) *dense {
	v := newDense(q.p+q.r, q.p+q.r)
	for i := range v.rows {
		v.set(i, i, theta[0])
	}
	if q.known != nil {
		v.addScaled(1, q.known)
	}
	for k, t := range theta[1:] {
		if t != 0 {
			v.addScaled(t, q.parts[k+1].whole)
		}
	}
	return v
}

// at gives the likelihood at theta, and false where the covariance has no
// inverse.
func (q *problem) at(theta []float64) (*point, bool) {
	for _, t := range theta {
		if math.IsNaN(t) || math.IsInf(t, 0) {
			return nil, false
		}
	}
	if theta[0] < 0 || (theta[0] == 0 && q.restDF > 0) {
		return nil, false
	}
	pt := &point{theta0: theta[0], whole: q.covariance(theta)}
	v := pt.whole.part(q.p, q.p+q.r, q.p, q.p+q.r)
	var ok bool
	// 1e-15: a pivot below this is rounding.
	if pt.low, ok = v.factor(1e-15); !ok {
		return nil, false
	}
	pt.w = pt.low.solveVector(q.y2)
	pt.f = floats.Dot(pt.w, q.y2)
	if q.ml {
		if pt.wholeL, ok = pt.whole.factor(1e-15); !ok {
			return nil, false
		}
		pt.f += pt.wholeL.logDet()
	} else {
		pt.f += pt.low.logDet()
	}
	if q.restDF > 0 {
		pt.f += float64(q.restDF)*math.Log(theta[0]) + q.rest/theta[0]
	}
	if math.IsNaN(pt.f) || math.IsInf(pt.f, 0) {
		return nil, false
	}
	return pt, true
}

// slopes gives the first derivatives of -2 log likelihood over the parts, the
// second ones, and the expected second ones.
func (q *problem) slopes(pt *point, parts []part) (g []float64, observed, expected *dense) {
	k := len(parts)
	g, observed, expected = make([]float64, k), newDense(k, k), newDense(k, k)
	if pt.inv == nil {
		pt.inv = pt.low.inverse()
		if q.ml {
			pt.wholeI = pt.wholeL.inverse()
		}
	}
	m := make([]*dense, k) // inverse times part, in the space whose determinant counts
	u := make([][]float64, k)
	for i, d := range parts {
		switch {
		case q.ml && d.whole == nil:
			m[i] = pt.wholeI
		case q.ml:
			m[i] = times(pt.wholeI, d.whole)
		case d.whole == nil:
			m[i] = pt.inv
		default:
			m[i] = times(pt.inv, d.inner)
		}
		if d.whole == nil {
			u[i] = pt.w
		} else {
			u[i] = d.inner.apply(pt.w)
		}
		g[i] = m[i].trace() - floats.Dot(u[i], pt.w)
	}
	for i := range k {
		mt := m[i].transpose()
		su := pt.inv.apply(u[i])
		for j := range i + 1 {
			e := inner(mt, m[j])
			o := -e + 2*floats.Dot(su, u[j])
			expected.set(i, j, e)
			expected.set(j, i, e)
			observed.set(i, j, o)
			observed.set(j, i, o)
		}
	}
	for i, d := range parts {
		if d.whole == nil && q.restDF > 0 {
			t, n := pt.theta0, float64(q.restDF)
			g[i] += n/t - q.rest/(t*t)
			expected.addTo(i, i, n/(t*t))
			observed.addTo(i, i, -n/(t*t)+2*q.rest/(t*t*t))
		}
	}
	return g, observed, expected
}

// The walk downhill is over x: the log of the residual's variance, and for each
// block the lower triangle of a root of its covariance. So every point is
// allowed, and an optimum at a variance of zero is an ordinary one at x = 0.

func (q *problem) theta(x []float64) []float64 {
	th := make([]float64, len(x))
	th[0] = q.theta0
	if !q.residual {
		th[0] = math.Exp(x[0])
	}
	for _, b := range q.blocks {
		for i := range b.size {
			for j := range i + 1 {
				s := 0.0
				for c := range j + 1 {
					s += x[b.place(i, c)] * x[b.place(j, c)]
				}
				th[b.place(i, j)] = s
			}
		}
	}
	return th
}

// slopesX gives the derivatives over x.
func (q *problem) slopesX(pt *point, th, x []float64) ([]float64, *dense) {
	g, h, _ := q.slopes(pt, q.parts)
	k := len(x)
	jac := newDense(k, k) // theta by x
	curve := newDense(k, k)
	if !q.residual {
		jac.set(0, 0, th[0])
		curve.set(0, 0, g[0]*th[0])
	}
	for _, b := range q.blocks {
		for i := range b.size {
			for j := range i + 1 {
				t := b.place(i, j)
				for c := range j + 1 {
					a, d := b.place(i, c), b.place(j, c)
					jac.addTo(t, a, x[d])
					jac.addTo(t, d, x[a])
					curve.addTo(a, d, g[t])
					curve.addTo(d, a, g[t])
				}
			}
		}
	}
	jt := jac.transpose()
	gx := jt.apply(g)
	hx := times(jt, times(h, jac))
	hx.addScaled(1, curve)
	if q.residual {
		gx[0] = 0
		for i := range k {
			hx.set(0, i, 0)
			hx.set(i, 0, 0)
		}
		hx.set(0, 0, 1)
	}
	return gx, hx
}

// newton gives the downhill step for a gradient and second derivatives: Newton's,
// with directions of negative curvature turned round.
func newton(g []float64, h *dense) []float64 {
	values, vectors := h.eigen()
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
			s += vectors.at(k, i) * g[k]
		}
		for k := range step {
			step[k] -= s / v * vectors.at(k, i)
		}
	}
	return step
}

// descend walks from x to the nearest minimum and gives it with its value, and
// false where the likelihood cannot be had at x.
func (q *problem) descend(x []float64) ([]float64, float64, bool) {
	th := q.theta(x)
	pt, ok := q.at(th)
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
		if -down <= 1e-13*(1+math.Abs(pt.f)) {
			nx := slices.Clone(x)
			floats.Add(nx, step)
			if np, ok := q.at(q.theta(nx)); ok {
				x, pt = nx, np
			}
			break
		}
		moved := false
		for f := 1.0; f > 1e-9; f /= 2 {
			nx := slices.Clone(x)
			floats.AddScaled(nx, f, step)
			nth := q.theta(nx)
			np, ok := q.at(nth)
			// 1e-4: Armijo's constant (Nocedal and Wright, Numerical Optimization, 3.1).
			if ok && np.f <= pt.f+1e-4*f*down {
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
		if !q.residual && th[0] < 1e-13 {
			break
		}
	}
	return x, pt.f, true
}

// starts gives where the walks begin: equal shares, mostly residual, mostly one
// component each, terms of a component that vary together, and hardly any
// residual.
func (q *problem) starts() [][]float64 {
	k := float64(len(q.blocks))
	make1 := func(residual float64, share func(i int) float64) []float64 {
		x := make([]float64, len(q.parts))
		x[0] = math.Log(residual)
		for i, b := range q.blocks {
			for t := range b.size {
				x[b.place(t, t)] = math.Sqrt(share(i) / float64(b.size))
			}
		}
		return x
	}
	out := [][]float64{make1(1/(k+1), func(int) float64 { return 1 / (k + 1) })}
	if len(q.blocks) == 0 {
		return out
	}
	out = append(out, make1(0.9, func(int) float64 { return 0.1 / k }))
	for i := range q.blocks {
		out = append(out, make1(0.2/k, func(j int) float64 {
			if i == j {
				return 0.8
			}
			return 0.2 / k
		}))
	}
	for _, b := range q.blocks {
		// Terms that vary together may do so either way; each is begun with.
		for _, way := range []float64{1, -1} {
			for t := 1; t < b.size; t++ {
				x := slices.Clone(out[0])
				x[b.place(t, 0)] = way * x[b.place(t, t)]
				x[b.place(t, t)] *= 0.3
				out = append(out, x)
			}
		}
	}
	return append(out, make1(0.01, func(int) float64 { return 1 / k }))
}

// manyWalks is the size of the random part up to which every start is walked
// from; beyond it, for the time it takes, the two best are.
const manyWalks = 60

// minimum gives x at the lowest minimum found.
func (q *problem) minimum() ([]float64, bool) {
	starts := q.starts()
	if q.r > manyWalks && len(starts) > 2 {
		type ranked struct {
			x []float64
			f float64
		}
		var all []ranked
		for _, x := range starts {
			if pt, ok := q.at(q.theta(x)); ok {
				all = append(all, ranked{x, pt.f})
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
		if x, f, ok := q.descend(x); ok && f < lowest-1e-9 {
			best, lowest = x, f
		}
	}
	if best == nil {
		return nil, false
	}
	return best, true
}
