// Package kalman estimates a state from measurements that come one after the
// other, forward and then backward in time.
//
// A State is what is known of n numbers: their values and their covariance. It is
// carried from moment to moment (Propagate) and takes in measurements one number
// at a time (Update); Smoother goes back over what was kept on the way (H. E. Rauch,
// F. Tung, C. T. Striebel, "Maximum likelihood estimates of linear dynamic systems",
// AIAA Journal 3 (1965) 1445; docs/sources/rauch-1965.md). What the numbers are, and
// their units, is the caller's affair; a caller whose model is not straight hands in
// its slopes.
package kalman

import (
	"math"

	"example.org/bookend/fault"
)

// State is what is known of a state: n values and their covariance, row by row.
type State struct {
	N int
	X []float64
	P []float64
}

// New gives a state of n numbers, all 0 and known exactly.
func New(n int) *State {
	return &State{N: n, X: make([]float64, n), P: make([]float64, n*n)}
}

// Copy puts the values and the covariance of o, as long, into g.
func (g *State) Copy(o *State) {
	copy(g.X, o.X)
	copy(g.P, o.P)
}

// Term is one entry of a measurement's row: which state, and how much of it.
type Term struct {
	At int
	By float64
}

// Variance gives the variance of a sum of terms.
func (g *State) Variance(h []Term) float64 {
	s := 0.0
	for _, a := range h {
		row := g.P[a.At*g.N:]
		for _, b := range h {
			s += a.By * b.By * row[b.At]
		}
	}
	return s
}

// Update takes in one measurement: h is its row, innovation what it gave beyond
// what was expected, r its variance. work has n places.
func (g *State) Update(h []Term, innovation, r float64, work []float64) {
	n := g.N
	for i := range n {
		row := g.P[i*n:]
		s := 0.0
		for _, t := range h {
			s += row[t.At] * t.By
		}
		work[i] = s
	}
	s := r
	for _, t := range h {
		s += t.By * work[t.At]
	}
	gain := 1 / s
	for i := range n {
		k := work[i] * gain
		g.X[i] += k * innovation
		row := g.P[i*n : i*n+n]
		for j := range row {
			row[j] -= k * work[j]
		}
	}
	g.even()
}

// even evens out what rounding made unlike.
func (g *State) even() {
	n := g.N
	for i := range n {
		for j := i + 1; j < n; j++ {
			m := 0.5 * (g.P[i*n+j] + g.P[j*n+i])
			g.P[i*n+j], g.P[j*n+i] = m, m
		}
	}
}

// Propagate puts phi·p·phiᵀ in place of the covariance; q is added to its
// diagonal. phi differs from the unit matrix in its first dense rows, and beyond
// them only on the diagonal. work has n·n places.
func (g *State) Propagate(phi []float64, dense int, q []float64, work []float64) {
	n := g.N
	Left(work, phi, g.P, n, dense)
	// work·phiᵀ
	for i := range n {
		w := work[i*n : i*n+n]
		out := g.P[i*n : i*n+n]
		for j := range dense {
			f := phi[j*n : j*n+n]
			s := 0.0
			for k, v := range f {
				s += w[k] * v
			}
			out[j] = s
		}
		for j := dense; j < n; j++ {
			out[j] = w[j] * phi[j*n+j]
		}
	}
	for i := range n {
		g.P[i*n+i] += q[i]
	}
	g.even()
}

// Left puts phi·m into out, for a phi as Propagate has it.
func Left(out, phi, m []float64, n, dense int) {
	for i := range dense {
		o := out[i*n : i*n+n]
		for j := range o {
			o[j] = 0
		}
		for k := range n {
			f := phi[i*n+k]
			if f == 0 {
				continue
			}
			for j, v := range m[k*n : k*n+n] {
				o[j] += f * v
			}
		}
	}
	for i := dense; i < n; i++ {
		f := phi[i*n+i]
		for j, v := range m[i*n : i*n+n] {
			out[i*n+j] = f * v
		}
	}
}

// Smoother goes back in time; it holds workspace.
type Smoother struct {
	l, a, w, y []float64
}

// NewSmoother gives the workspace for states of n numbers.
func NewSmoother(n int) *Smoother {
	return &Smoother{l: make([]float64, n*n), a: make([]float64, n*n), w: make([]float64, n*n), y: make([]float64, n)}
}

// Back makes of the filtered state at a step, the state predicted from it by
// phi for the next step, and the smoothed state there, the smoothed state at the
// step, in place of s. Source: H. E. Rauch, F. Tung, C. T. Striebel, "Maximum
// likelihood estimates of linear dynamic systems", AIAA Journal 3 (1965) 1445.
func (b *Smoother) Back(filtered, predicted, s *State, phi []float64, dense int) error {
	n := s.N
	if !cholesky(b.l, predicted.P, n) {
		return fault.New(fault.Internal, "a predicted covariance is not positive definite")
	}
	Left(b.a, phi, filtered.P, n, dense)
	// a := predicted⁻¹·phi·filtered, which is the gain turned over.
	solve(b.l, b.a, n)
	for i := range n {
		b.y[i] = s.X[i] - predicted.X[i]
	}
	for i := range n {
		sum := filtered.X[i]
		for k := range n {
			sum += b.a[k*n+i] * b.y[k]
		}
		s.X[i] = sum
	}
	// s.P := filtered + gain·(s.P - predicted)·gainᵀ
	for i := range s.P {
		s.P[i] -= predicted.P[i]
	}
	for i := range b.w {
		b.w[i] = 0
	}
	for i := range n { // w := (s.P - predicted)·a
		w := b.w[i*n : i*n+n]
		for k := range n {
			d := s.P[i*n+k]
			for j, v := range b.a[k*n : k*n+n] {
				w[j] += d * v
			}
		}
	}
	copy(s.P, filtered.P)
	for k := range n { // + aᵀ·w
		w := b.w[k*n : k*n+n]
		for i := range n {
			a := b.a[k*n+i]
			if a == 0 {
				continue
			}
			for j, v := range w {
				s.P[i*n+j] += a * v
			}
		}
	}
	s.even()
	return nil
}

// cholesky puts the lower triangle l with l·lᵀ = p; false if p is not positive
// definite.
func cholesky(l, p []float64, n int) bool {
	for i := range n {
		for j := 0; j <= i; j++ {
			s := p[i*n+j]
			for k := range j {
				s -= l[i*n+k] * l[j*n+k]
			}
			if i == j {
				if !(s > 0) {
					return false
				}
				l[i*n+i] = math.Sqrt(s)
			} else {
				l[i*n+j] = s / l[j*n+j]
			}
		}
	}
	return true
}

// solve puts (l·lᵀ)⁻¹·b in place of b, n columns.
func solve(l, b []float64, n int) {
	for i := range n {
		bi := b[i*n : i*n+n]
		for k := range i {
			f := l[i*n+k]
			for j, v := range b[k*n : k*n+n] {
				bi[j] -= f * v
			}
		}
		d := 1 / l[i*n+i]
		for j := range bi {
			bi[j] *= d
		}
	}
	for i := n - 1; i >= 0; i-- {
		bi := b[i*n : i*n+n]
		for k := i + 1; k < n; k++ {
			f := l[k*n+i]
			for j, v := range b[k*n : k*n+n] {
				bi[j] -= f * v
			}
		}
		d := 1 / l[i*n+i]
		for j := range bi {
			bi[j] *= d
		}
	}
}

// Unit makes p, n by n, the unit matrix.
func Unit(p []float64, n int) {
	for i := range p {
		p[i] = 0
	}
	for i := range n {
		p[i*n+i] = 1
	}
}

// SD gives the standard deviation of number i.
func (g *State) SD(i int) float64 { return math.Sqrt(max(0, g.P[i*g.N+i])) }
