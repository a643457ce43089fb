package likelihood

import (
	"math"

	"gonum.org/v1/gonum/floats"

	"example.org/bookend/stat/mixed/dense"
)

// Dependent gives nil where the parts from first on stand out of those before
// them, and else the parts before that make them up (none, where they lean on
// each other).
func (q *Problem) Dependent(first int) []int {
	var parts []int
	for i := range q.Parts {
		if i > 0 || !q.Residual {
			parts = append(parts, i)
		}
	}
	dot := func(i, j int) float64 {
		a, b := q.Parts[i], q.Parts[j]
		switch {
		case a.Whole == nil && b.Whole == nil:
			return float64(q.Random + q.RestDF)
		case a.Whole == nil:
			return b.inner.Trace()
		case b.Whole == nil:
			return a.inner.Trace()
		}
		return dense.Inner(a.inner, b.inner)
	}
	n := len(parts)
	l := dense.New(n, n)
	length := make([]float64, n)
	for i, pi := range parts {
		length[i] = math.Sqrt(dot(pi, pi))
		for j := range i + 1 {
			v := 0.0
			if length[i] > 0 && length[j] > 0 {
				v = dot(pi, parts[j]) / (length[i] * length[j])
			}
			s := v - floats.Dot(l.Row(i)[:j], l.Row(j)[:j])
			if i > j {
				l.Set(i, j, s/l.At(j, j))
				continue
			}
			// 1e-12: a millionth of its own length stands out; less is rounding
			// blown up by terms that lean on each other.
			if s < 1e-12 {
				from := []int{}
				c := l.Row(i)[:i]
				x := make([]float64, i)
				for a := i - 1; a >= 0; a-- {
					t := c[a]
					for b := a + 1; b < i; b++ {
						t -= l.At(b, a) * x[b]
					}
					x[a] = t / l.At(a, a)
					if math.Abs(x[a]) > 1e-6 && parts[a] < first {
						from = append([]int{parts[a]}, from...)
					}
				}
				return from
			}
			l.Set(i, i, math.Sqrt(s))
		}
	}
	return nil
}

// subset gives the problem with only the blocks kept, and where its entries of
// theta stand in the whole.
func (q *Problem) subset(keep []bool) (*Problem, []int) {
	s := *q
	s.Parts, s.Blocks = []Part{q.Parts[0]}, nil
	at := []int{0}
	for i, b := range q.Blocks {
		if !keep[i] {
			continue
		}
		nb := b
		nb.First = len(s.Parts)
		for e := range b.Entries() {
			s.Parts = append(s.Parts, q.Parts[b.First+e])
			at = append(at, b.First+e)
		}
		s.Blocks = append(s.Blocks, nb)
	}
	return &s, at
}

// matrix gives the covariance of a block.
func (b Block) matrix(theta []float64) *dense.Matrix {
	g := dense.New(b.Size, b.Size)
	for i := range b.Size {
		for j := range b.Size {
			g.Set(i, j, theta[b.Place(i, j)])
		}
	}
	return g
}

// polish takes Newton steps over theta itself, from a point where all variances
// are well inside what is allowed, until only rounding is left.
func (q *Problem) polish(theta []float64) []float64 {
	free := make([]int, 0, len(theta))
	for i := range theta {
		if i > 0 || !q.Residual {
			free = append(free, i)
		}
	}
	if len(free) == 0 {
		return theta
	}
	pt, ok := q.At(theta)
	if !ok {
		return theta
	}
	last := math.Inf(1)
	// Convergence is quadratic: 12 steps are more than rounding leaves room for.
	for range 12 {
		g, h, _ := q.Slopes(pt, q.Parts)
		hs, gs := dense.New(len(free), len(free)), make([]float64, len(free))
		for i, a := range free {
			gs[i] = -g[a] * math.Max(theta[a], 1e-8)
			for j, b := range free {
				hs.Set(i, j, h.At(a, b)*math.Max(theta[a], 1e-8)*math.Max(theta[b], 1e-8))
			}
		}
		l, ok := hs.Factor(1e-13)
		if !ok {
			break
		}
		step := l.SolveVector(gs)
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
		np, ok := q.At(next)
		// 1e-8: the rounding of the criterion.
		if !ok || np.F > pt.F+1e-8 {
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
func (q *Problem) allowed(theta []float64) bool {
	if theta[0] <= 0 && !q.Residual {
		return false
	}
	for _, b := range q.Blocks {
		if _, ok := b.matrix(theta).Factor(1e-9); !ok {
			return false
		}
	}
	return true
}

// Where an optimum lies at the boundary is found by leaving a component out and
// looking at the slope of the likelihood there.
const (
	NearZero   = 1e-5  // of the response's variance: below it leaving out is tried
	FlatSlope  = -1e-8 // a slope above this is not downhill: rounding of the derivatives
	rankFactor = 1e-8  // of a block's trace: below it a direction has no variance
)

// Settle finds which variances are exactly zero, and the optimum with those left
// out. It gives theta, and the rank of every block.
func (q *Problem) Settle(x []float64) ([]float64, []int) {
	keep := make([]bool, len(q.Blocks))
	for i := range keep {
		keep[i] = true
	}
	refused := make([]bool, len(q.Blocks))
	finish := func(keep []bool, x []float64) ([]float64, []float64) {
		s, at := q.subset(keep)
		xs := make([]float64, len(at))
		for i, a := range at {
			xs[i] = x[a]
		}
		xs, _, ok := s.Descend(xs)
		if !ok {
			return nil, nil
		}
		ths := s.polish(s.Theta(xs))
		th, nx := make([]float64, len(x)), make([]float64, len(x))
		for i, a := range at {
			th[a], nx[a] = ths[i], xs[i]
		}
		return th, nx
	}
	theta, x := finish(keep, x)
	for {
		try := -1
		least := NearZero
		for i, b := range q.Blocks {
			if t := b.matrix(theta).Trace(); keep[i] && !refused[i] && t < least {
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
			down = q.downhill(th, q.Blocks[try])
		}
		if down {
			keep[try], refused[try] = true, true
			continue
		}
		theta, x = th, nx
	}
	rank := make([]int, len(q.Blocks))
	for i, b := range q.Blocks {
		if !keep[i] {
			continue
		}
		if b.Size == 1 {
			rank[i] = 1
			continue
		}
		values, vectors := b.matrix(theta).Eigen()
		g := dense.New(b.Size, b.Size)
		for e, v := range values {
			if v <= rankFactor*values[b.Size-1] {
				continue
			}
			rank[i]++
			for a := range b.Size {
				for c := range b.Size {
					g.AddTo(a, c, v*vectors.At(a, e)*vectors.At(c, e))
				}
			}
		}
		if rank[i] < b.Size {
			for a := range b.Size {
				for c := range a + 1 {
					theta[b.Place(a, c)] = g.At(a, c)
				}
			}
		}
	}
	return theta, rank
}

// downhill tells whether a block that stands at zero would lower the criterion
// by becoming more than zero.
func (q *Problem) downhill(theta []float64, b Block) bool {
	pt, ok := q.At(theta)
	if !ok {
		return true
	}
	g, _, _ := q.Slopes(pt, q.Parts[b.First:b.First+b.Entries()])
	m := dense.New(b.Size, b.Size)
	for i := range b.Size {
		for j := range b.Size {
			v := g[b.Place(i, j)-b.First]
			if i != j {
				v /= 2
			}
			m.Set(i, j, v)
		}
	}
	values, _ := m.Eigen()
	return values[0] < FlatSlope
}

// Bottomless tells whether the full likelihood grows without limit as the
// residual's variance goes to zero: where some of the random terms leave a
// direction without variance that the fixed terms can follow exactly. A random
// walk does, which is zero at its least position.
func (q *Problem) Bottomless() bool {
	if !q.ML || q.Residual || q.RestDF > 0 {
		return false
	}
	for set := 1; set < 1<<len(q.Blocks); set++ {
		v := dense.New(q.Fixed+q.Random, q.Fixed+q.Random)
		if q.Known != nil {
			v.AddScaled(1, q.Known)
		}
		for k, b := range q.Blocks {
			if set>>k&1 == 1 {
				for i := range b.Size {
					v.AddScaled(1, q.Parts[b.Place(i, i)].Whole)
				}
			}
		}
		// 1e-10: pivots of what is singular are rounding, a million times less.
		_, inside := v.Part(q.Fixed, v.Rows, q.Fixed, v.Rows).Factor(1e-10)
		_, whole := v.Factor(1e-10)
		if inside && !whole {
			return true
		}
	}
	return false
}

// Directions gives the parts of a block whose covariance has less than full
// rank, over the directions that do vary.
func (q *Problem) Directions(b Block, theta []float64) []Part {
	values, vectors := b.matrix(theta).Eigen()
	var dirs [][]float64
	for e, v := range values {
		if v > rankFactor*values[b.Size-1] {
			d := make([]float64, b.Size)
			for a := range d {
				d[a] = vectors.At(a, e)
			}
			dirs = append(dirs, d)
		}
	}
	var out []Part
	for i := range dirs {
		for j := range i + 1 {
			d := dense.New(q.Fixed+q.Random, q.Fixed+q.Random)
			for a := range b.Size {
				for c := range a + 1 {
					// d/dM_ij of entry a, c of L M L'.
					f := dirs[i][a] * dirs[j][c]
					if i != j {
						f += dirs[j][a] * dirs[i][c]
					}
					d.AddScaled(f, q.Parts[b.Place(a, c)].Whole)
				}
			}
			out = append(out, NewPart(d, q.Fixed))
		}
	}
	return out
}
