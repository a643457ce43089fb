package mixed

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// dependent gives nil where the parts from first on stand out of those before
// them, and else the parts before that make them up (none, where they lean on
// each other).
func (q *problem) dependent(first int) []int {
	var parts []int
	for i := range q.parts {
		if i > 0 || !q.residual {
			parts = append(parts, i)
		}
	}
	dot := func(i, j int) float64 {
		a, b := q.parts[i], q.parts[j]
		switch {
		case a.whole == nil && b.whole == nil:
			return float64(q.r + q.restDF)
		case a.whole == nil:
			return b.inner.trace()
		case b.whole == nil:
			return a.inner.trace()
		}
		return inner(a.inner, b.inner)
	}
	n := len(parts)
	l := newDense(n, n)
	length := make([]float64, n)
	for i, pi := range parts {
		length[i] = math.Sqrt(dot(pi, pi))
		for j := range i + 1 {
			v := 0.0
			if length[i] > 0 && length[j] > 0 {
				v = dot(pi, parts[j]) / (length[i] * length[j])
			}
			s := v - floats.Dot(l.row(i)[:j], l.row(j)[:j])
			if i > j {
				l.set(i, j, s/l.at(j, j))
				continue
			}
			// 1e-12: a millionth of its own length stands out; less is rounding
			// blown up by terms that lean on each other.
			if s < 1e-12 {
				from := []int{}
				c := l.row(i)[:i]
				x := make([]float64, i)
				for a := i - 1; a >= 0; a-- {
					t := c[a]
					for b := a + 1; b < i; b++ {
						t -= l.at(b, a) * x[b]
					}
					x[a] = t / l.at(a, a)
					if math.Abs(x[a]) > 1e-6 && parts[a] < first {
						from = append([]int{parts[a]}, from...)
					}
				}
				return from
			}
			l.set(i, i, math.Sqrt(s))
		}
	}
	return nil
}

// subset gives the problem with only the blocks kept, and where its entries of
// theta stand in the whole.
func (q *problem) subset(keep []bool) (*problem, []int) {
	s := *q
	s.parts, s.blocks = []part{q.parts[0]}, nil
	at := []int{0}
	for i, b := range q.blocks {
		if !keep[i] {
			continue
		}
		nb := b
		nb.first = len(s.parts)
		for e := range b.entries() {
			s.parts = append(s.parts, q.parts[b.first+e])
			at = append(at, b.first+e)
		}
		s.blocks = append(s.blocks, nb)
	}
	return &s, at
}

// matrix gives the covariance of a block.
func (b block) matrix(theta []float64) *dense {
	g := newDense(b.size, b.size)
	for i := range b.size {
		for j := range b.size {
			g.set(i, j, theta[b.place(i, j)])
		}
	}
	return g
}

// polish takes Newton steps over theta itself, from a point where all variances
// are well inside what is allowed, until only rounding is left.
func (q *problem) polish(theta []float64) []float64 {
	free := make([]int, 0, len(theta))
	for i := range theta {
		if i > 0 || !q.residual {
			free = append(free, i)
		}
	}
	if len(free) == 0 {
		return theta
	}
	pt, ok := q.at(theta)
	if !ok {
		return theta
	}
	last := math.Inf(1)
	// Convergence is quadratic: 12 steps are more than rounding leaves room for.
	for range 12 {
		g, h, _ := q.slopes(pt, q.parts)
		hs, gs := newDense(len(free), len(free)), make([]float64, len(free))
		for i, a := range free {
			gs[i] = -g[a] * math.Max(theta[a], 1e-8)
			for j, b := range free {
				hs.set(i, j, h.at(a, b)*math.Max(theta[a], 1e-8)*math.Max(theta[b], 1e-8))
			}
		}
		l, ok := hs.factor(1e-13)
		if !ok {
			break
		}
		step := l.solveVector(gs)
		gain := floats.Dot(step, gs)
		if !(gain < last) {
			break
		}
		last = gain
		next := append([]float64(nil), theta...)
		for i, a := range free {
			next[a] += step[i] * math.Max(theta[a], 1e-8)
		}
		if !q.allowed(next) {
			break
		}
		np, ok := q.at(next)
		// 1e-8: the rounding of the criterion.
		if !ok || np.f > pt.f+1e-8 {
			break
		}
		theta, pt = next, np
		if floats.Norm(step, math.Inf(1)) < 1e-15 {
			break
		}
	}
	return theta
}

// allowed tells whether every covariance is positive definite.
func (q *problem) allowed(theta []float64) bool {
	if theta[0] <= 0 && !q.residual {
		return false
	}
	for _, b := range q.blocks {
		if _, ok := b.matrix(theta).factor(1e-9); !ok {
			return false
		}
	}
	return true
}

// Where an optimum lies at the boundary is found by leaving a component out and
// looking at the slope of the likelihood there.
const (
	nearZero   = 1e-5  // of the response's variance: below it leaving out is tried
	flatSlope  = -1e-8 // a slope above this is not downhill: rounding of the derivatives
	rankFactor = 1e-8  // of a block's trace: below it a direction has no variance
)

// settle finds which variances are exactly zero, and the optimum with those left
// out. It gives theta, and the rank of every block.
func (q *problem) settle(x []float64) ([]float64, []int) {
	keep := make([]bool, len(q.blocks))
	for i := range keep {
		keep[i] = true
	}
	refused := make([]bool, len(q.blocks))
	finish := func(keep []bool, x []float64) ([]float64, []float64) {
		s, at := q.subset(keep)
		xs := make([]float64, len(at))
		for i, a := range at {
			xs[i] = x[a]
		}
		xs, _, ok := s.descend(xs)
		if !ok {
			return nil, nil
		}
		ths := s.polish(s.theta(xs))
		th, nx := make([]float64, len(x)), make([]float64, len(x))
		for i, a := range at {
			th[a], nx[a] = ths[i], xs[i]
		}
		return th, nx
	}
	theta, x := finish(keep, x)
	for {
		try := -1
		least := nearZero
		for i, b := range q.blocks {
			if t := b.matrix(theta).trace(); keep[i] && !refused[i] && t < least {
				try, least = i, t
			}
		}
		if try < 0 {
			break
		}
		keep[try] = false
		th, nx := finish(keep, x)
		down := th == nil
		if !down {
			down = q.downhill(th, q.blocks[try])
		}
		if down {
			keep[try], refused[try] = true, true
			continue
		}
		theta, x = th, nx
	}
	rank := make([]int, len(q.blocks))
	for i, b := range q.blocks {
		if !keep[i] {
			continue
		}
		if b.size == 1 {
			rank[i] = 1
			continue
		}
		values, vectors := b.matrix(theta).eigen()
		g := newDense(b.size, b.size)
		for e, v := range values {
			if v <= rankFactor*values[b.size-1] {
				continue
			}
			rank[i]++
			for a := range b.size {
				for c := range b.size {
					g.addTo(a, c, v*vectors.at(a, e)*vectors.at(c, e))
				}
			}
		}
		if rank[i] < b.size {
			for a := range b.size {
				for c := range a + 1 {
					theta[b.place(a, c)] = g.at(a, c)
				}
			}
		}
	}
	return theta, rank
}

// downhill tells whether a block that stands at zero would lower the criterion
// by becoming more than zero.
func (q *problem) downhill(theta []float64, b block) bool {
	pt, ok := q.at(theta)
	if !ok {
		return true
	}
	g, _, _ := q.slopes(pt, q.parts[b.first:b.first+b.entries()])
	m := newDense(b.size, b.size)
	for i := range b.size {
		for j := range b.size {
			v := g[b.place(i, j)-b.first]
			if i != j {
				v /= 2
			}
			m.set(i, j, v)
		}
	}
	values, _ := m.eigen()
	return values[0] < flatSlope
}

// bottomless tells whether the full likelihood grows without limit as the
// residual's variance goes to zero: where some of the random terms leave a
// direction without variance that the fixed terms can follow exactly. A random
// walk does, which is zero at its least position.
func (q *problem) bottomless() bool {
	if !q.ml || q.residual || q.restDF > 0 {
		return false
	}
	for set := 1; set < 1<<len(q.blocks); set++ {
		v := newDense(q.p+q.r, q.p+q.r)
		if q.known != nil {
			v.addScaled(1, q.known)
		}
		for k, b := range q.blocks {
			if set>>k&1 == 1 {
				for i := range b.size {
					v.addScaled(1, q.parts[b.place(i, i)].whole)
				}
			}
		}
		// 1e-10: pivots of what is singular are rounding, a million times less.
		_, inside := v.part(q.p, v.rows, q.p, v.rows).factor(1e-10)
		_, whole := v.factor(1e-10)
		if inside && !whole {
			return true
		}
	}
	return false
}

// directions gives the parts of a block whose covariance has less than full
// rank, over the directions that do vary.
func (q *problem) directions(b block, theta []float64) []part {
	values, vectors := b.matrix(theta).eigen()
	var dirs [][]float64
	for e, v := range values {
		if v > rankFactor*values[b.size-1] {
			d := make([]float64, b.size)
			for a := range d {
				d[a] = vectors.at(a, e)
			}
			dirs = append(dirs, d)
		}
	}
	var out []part
	for i := range dirs {
		for j := range i + 1 {
			d := newDense(q.p+q.r, q.p+q.r)
			for a := range b.size {
				for c := range a + 1 {
					// d/dM_ij of entry a, c of L M L'.
					f := dirs[i][a] * dirs[j][c]
					if i != j {
						f += dirs[j][a] * dirs[i][c]
					}
					d.addScaled(f, q.parts[b.place(a, c)].whole)
				}
			}
			out = append(out, newPart(d, q.p))
		}
	}
	return out
}
