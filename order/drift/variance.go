package drift

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Frame is where stints stand: their blocks, and the shapes that drift takes
// over them, in standard deviations of a stint mean. It knows no codes.
type Frame struct {
	n      int
	block  []int     // of each stint
	first  []int     // first stint of each block, and n behind the last
	at     []float64 // place within the block, -1 to 1 over the longest
	rise   []float64 // one standard deviation of linear drift, a shape over each block, in stint sd
	bow    []float64 // of the parabola's part beside it
	step   float64   // standard deviation of the random walk a stint, in stint sd
	bounds [4]*mat.Dense
}

// NewFrame lays out blocks of so many stints.
func NewFrame(lengths []int, a Assumption) *Frame {
	f := &Frame{step: a.StepSD}
	longest := slices.Max(lengths)
	for b, n := range lengths {
		f.first = append(f.first, f.n)
		rise, bow := a.Sizes(n)
		for i := range n {
			f.block = append(f.block, b)
			u := 0.0 // -1 to 1 over this block
			if n > 1 {
				u = 2*float64(i)/float64(n-1) - 1
			}
			f.at = append(f.at, 2*float64(i)/math.Max(1, float64(longest-1))-1)
			f.rise = append(f.rise, rise*u/2)
			f.bow = append(f.bow, bow*(1-u*u))
		}
		f.n += n
	}
	f.first = append(f.first, f.n)
	return f
}

// Scorer scores sequences of codes over one frame: code 0 is the control, 1 to
// k are candidates.
type Scorer struct {
	*Frame
	correction Correction
	aim        Aim
	weight     [4]float64 // of the drift models, summing to 1
	k          int
	q          int       // nuisance columns beside the codes
	z          []float64 // n x q
	zz         []float64 // q x q: their products over all stints

	// scratch
	count []float64 // of each code
	mean  []float64 // (k+1) x q
	g, x  []float64 // q x q, k x q
	// W holds the weights of each candidate's estimate over the stints, after Weigh.
	W      [][]float64
	before []int
	after  []int
	// Variance is that of each candidate under each drift model, after Vary, in
	// units of the variance of a stint mean.
	Variance [][4]float64
}

// NewScorer gives a scorer for k candidates by a correction. Weights are of the
// drift models and sum to 1.
func NewScorer(f *Frame, k int, c Correction, aim Aim, weight [4]float64) *Scorer {
	s := &Scorer{Frame: f, correction: c, aim: aim, weight: weight, k: k}
	s.columns(c.Degree())
	s.count = make([]float64, k+1)
	s.W = make([][]float64, k)
	for i := range s.W {
		s.W[i] = make([]float64, f.n)
	}
	s.before, s.after = make([]int, f.n), make([]int, f.n)
	s.Variance = make([][4]float64, k)
	return s
}

// columns lays out what stands beside the codes in the model of stint means: a
// level for each block but the first, and the powers of the place within the
// block.
func (s *Scorer) columns(degree int) {
	blocks := len(s.first) - 1
	s.q = blocks - 1 + degree
	s.z = make([]float64, s.n*s.q)
	for i := range s.n {
		row := s.z[i*s.q : (i+1)*s.q]
		if b := s.block[i]; b > 0 {
			row[b-1] = 1
		}
		v := 1.0
		for d := range degree {
			v *= s.at[i]
			row[blocks-1+d] = v
		}
	}
	s.zz = make([]float64, s.q*s.q)
	for i := range s.n {
		for a := range s.q {
			for b := range s.q {
				s.zz[a*s.q+b] += s.z[i*s.q+a] * s.z[i*s.q+b]
			}
		}
	}
	s.mean = make([]float64, (s.k+1)*s.q)
	s.g = make([]float64, s.q*s.q)
	s.x = make([]float64, s.k*s.q)
}

// Weigh fills w: the estimate of each candidate less control is the sum of W
// times the stint means. It is false where a difference cannot be had.
func (s *Scorer) Weigh(seq []int8) bool {
	for c := range s.count {
		s.count[c] = 0
	}
	for _, c := range seq {
		s.count[c]++
	}
	for _, n := range s.count {
		if n == 0 {
			return false
		}
	}
	if s.correction == Bracket {
		return s.interpolate(seq)
	}
	return s.fit(seq)
}

// interpolate compares each candidate's stint with the control between its
// stints before and after in the same block, or with the one before it.
func (s *Scorer) interpolate(seq []int8) bool {
	for b := 0; b+1 < len(s.first); b++ {
		last := -1
		for i := s.first[b]; i < s.first[b+1]; i++ {
			s.before[i] = last
			if seq[i] == 0 {
				last = i
			}
		}
		next := -1
		for i := s.first[b+1] - 1; i >= s.first[b]; i-- {
			s.after[i] = next
			if seq[i] == 0 {
				next = i
			}
		}
	}
	for c := range s.W {
		clear(s.W[c])
	}
	for i, c := range seq {
		if c == 0 {
			continue
		}
		w, share := s.W[c-1], 1/s.count[c]
		w[i] += share
		a, b := s.before[i], s.after[i]
		switch {
		case a < 0:
			return false
		case b < 0:
			w[a] -= share
		default:
			t := float64(i-a) / float64(b-a)
			w[a] -= share * (1 - t)
			w[b] -= share * t
		}
	}
	return true
}

// fit takes the estimates from the model of stint means: codes, block levels
// and the powers of the place, by least squares.
func (s *Scorer) fit(seq []int8) bool {
	q, k := s.q, s.k
	clear(s.mean)
	for i, c := range seq {
		m, z := s.mean[int(c)*q:(int(c)+1)*q], s.z[i*q:(i+1)*q]
		for a := range m {
			m[a] += z[a]
		}
	}
	for c := range k + 1 {
		m := s.mean[c*q : (c+1)*q]
		for a := range m {
			m[a] /= s.count[c]
		}
	}
	// What is left of the columns about the codes' means, and the differences of
	// means that it has to carry.
	copy(s.g, s.zz)
	for c := range k + 1 {
		m := s.mean[c*q : (c+1)*q]
		for a := range q {
			for b := range q {
				s.g[a*q+b] -= s.count[c] * m[a] * m[b]
			}
		}
	}
	control := s.mean[:q]
	for c := range k {
		for a := range q {
			s.x[c*q+a] = s.mean[(c+1)*q+a] - control[a]
		}
	}
	if !s.solve() {
		return false
	}
	for c := range k {
		w, x := s.W[c], s.x[c*q:(c+1)*q]
		for i, code := range seq {
			v := 0.0
			switch int(code) {
			case 0:
				v = -1 / s.count[0]
			case c + 1:
				v = 1 / s.count[c+1]
			}
			m, z := s.mean[int(code)*q:(int(code)+1)*q], s.z[i*q:(i+1)*q]
			for a := range x {
				v -= (z[a] - m[a]) * x[a]
			}
			w[i] = v
		}
	}
	return true
}

// solve replaces each row of x by g^-1 x. Where g has no width in a direction,
// x must have none there either.
func (s *Scorer) solve() bool {
	const flat = 1e-9 // of a column's own length: what rounding leaves of a column that the codes explain
	q := s.q
	for j := range q {
		d := s.g[j*q+j]
		if d <= flat*s.zz[j*q+j] {
			// The codes and the columns before explain this one.
			for c := range s.k {
				if math.Abs(s.x[c*q+j]) > 1e-7 {
					return false
				}
				s.x[c*q+j] = 0
			}
			s.g[j*q+j] = 0
			continue
		}
		for i := j + 1; i < q; i++ {
			f := s.g[i*q+j] / d
			if f == 0 {
				continue
			}
			for a := j; a < q; a++ {
				s.g[i*q+a] -= f * s.g[j*q+a]
			}
			for c := range s.k {
				s.x[c*q+i] -= f * s.x[c*q+j]
			}
		}
	}
	for c := range s.k {
		x := s.x[c*q : (c+1)*q]
		for j := q - 1; j >= 0; j-- {
			if s.g[j*q+j] == 0 {
				x[j] = 0
				continue
			}
			v := x[j]
			for a := j + 1; a < q; a++ {
				v -= s.g[j*q+a] * x[a]
			}
			x[j] = v / s.g[j*q+j]
		}
	}
	return true
}

// Vary fills the variance of each candidate under each drift model from the
// weights: the scatter of stints, and what the correction leaves of the drift.
func (s *Scorer) Vary() {
	for c, w := range s.W {
		scatter, line, bow, walk := 0.0, 0.0, 0.0, 0.0
		for b := 0; b+1 < len(s.first); b++ {
			r, q, tail := 0.0, 0.0, 0.0
			for i := s.first[b+1] - 1; i >= s.first[b]; i-- {
				v := w[i]
				scatter += v * v
				r += v * s.rise[i]
				q += v * s.bow[i]
				if i > s.first[b] {
					tail += v
					walk += tail * tail
				}
			}
			line += r * r
			bow += q * q
		}
		s.Variance[c] = [4]float64{scatter, scatter + line, scatter + line + bow, scatter + s.step*s.step*walk}
	}
}

// Criterion scores a sequence: infinite where a difference cannot be had.
func (s *Scorer) Criterion(seq []int8) float64 {
	if s.correction == Bound {
		return s.boundCriterion(seq)
	}
	if !s.Weigh(seq) {
		return math.Inf(1)
	}
	s.Vary()
	return s.sum(s.Variance)
}

// sum makes one figure of the variances of candidates under models.
func (s *Scorer) sum(v [][4]float64) float64 {
	total := 0.0
	for m, weight := range s.weight {
		if weight == 0 {
			continue
		}
		largest, mean := 0.0, 0.0
		for c := range v {
			largest = max(largest, v[c][m])
			mean += v[c][m] / float64(len(v))
		}
		if s.aim == Mean {
			largest = mean
		}
		total += weight * largest
	}
	return total
}

func (s *Scorer) boundCriterion(seq []int8) float64 {
	v := make([][4]float64, s.k)
	for m := range s.weight {
		if s.weight[m] == 0 {
			continue
		}
		b, ok := s.Bound(seq, m)
		if !ok {
			return math.Inf(1)
		}
		for c := range v {
			v[c][m] = b[c]
		}
	}
	return s.sum(v)
}

// Bound gives the least variance that any linear unbiased analysis can have for
// each candidate less control under one drift model: generalised least squares
// with the model's own covariance, block levels unknown.
func (s *Scorer) Bound(seq []int8, model int) ([]float64, bool) {
	p := s.projector(model)
	info := mat.NewSymDense(s.k, nil)
	for i, c := range seq {
		if c == 0 {
			continue
		}
		for j, d := range seq {
			if d > 0 && c <= d {
				v := p.At(i, j)
				if c == d {
					info.SetSym(int(c)-1, int(c)-1, info.At(int(c)-1, int(c)-1)+v)
				} else {
					info.SetSym(int(c)-1, int(d)-1, info.At(int(c)-1, int(d)-1)+v)
				}
			}
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(info) || chol.Cond() > 1e12 {
		return nil, false
	}
	var inv mat.SymDense
	if err := chol.InverseTo(&inv); err != nil {
		return nil, false
	}
	out := make([]float64, s.k)
	for c := range out {
		out[c] = inv.At(c, c)
	}
	return out, true
}

// projector gives V^-1 less what the block levels take of it, for the
// covariance V of stint means under one drift model, once a frame.
func (f *Frame) projector(model int) *mat.Dense {
	if f.bounds[model] != nil {
		return f.bounds[model]
	}
	v := mat.NewSymDense(f.n, nil)
	for i := range f.n {
		for j := i; j < f.n; j++ {
			x := 0.0
			if i == j {
				x = 1
			}
			if f.block[i] == f.block[j] {
				switch model {
				case Line:
					x += f.rise[i] * f.rise[j]
				case Parabola:
					x += f.rise[i]*f.rise[j] + f.bow[i]*f.bow[j]
				case Walk:
					x += f.step * f.step * float64(i-f.first[f.block[i]])
				}
			}
			v.SetSym(i, j, x)
		}
	}
	blocks := len(f.first) - 1
	levels := mat.NewDense(f.n, blocks, nil)
	for i, b := range f.block {
		levels.Set(i, b, 1)
	}
	var chol, small mat.Cholesky
	chol.Factorize(v) // the identity plus what is positive semidefinite
	var inv mat.SymDense
	_ = chol.InverseTo(&inv) // its condition is that of the drift's size, which is admitted finite
	var vl, lvl, sol, take mat.Dense
	vl.Mul(&inv, levels)
	lvl.Mul(levels.T(), &vl)
	sym := mat.NewSymDense(blocks, nil)
	for a := range blocks {
		for b := a; b < blocks; b++ {
			sym.SetSym(a, b, (lvl.At(a, b)+lvl.At(b, a))/2)
		}
	}
	small.Factorize(sym)
	_ = small.SolveTo(&sol, vl.T())
	take.Mul(&vl, &sol)
	p := mat.NewDense(f.n, f.n, nil)
	p.Sub(&inv, &take)
	f.bounds[model] = p
	return p
}
