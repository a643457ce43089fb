package mixed

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/floats"
)

// dense is a matrix kept row by row; zero rows or columns are allowed.
type dense struct {
	rows, cols int
	a          []float64
}

func newDense(rows, cols int) *dense { return &dense{rows, cols, make([]float64, rows*cols)} }

func (m *dense) row(i int) []float64           { return m.a[i*m.cols : (i+1)*m.cols] }
func (m *dense) at(i, j int) float64           { return m.a[i*m.cols+j] }
func (m *dense) set(i, j int, v float64)       { m.a[i*m.cols+j] = v }
func (m *dense) addTo(i, j int, v float64)     { m.a[i*m.cols+j] += v }
func (m *dense) clone() *dense                 { return &dense{m.rows, m.cols, append([]float64(nil), m.a...)} }
func (m *dense) addScaled(f float64, b *dense) { floats.AddScaled(m.a, f, b.a) }

// part gives a copy of rows i to i1 and columns j to j1, ends left out.
func (m *dense) part(i, i1, j, j1 int) *dense {
	out := newDense(i1-i, j1-j)
	for k := range out.rows {
		copy(out.row(k), m.row(i + k)[j:j1])
	}
	return out
}

func (m *dense) transpose() *dense {
	out := newDense(m.cols, m.rows)
	for i := range m.rows {
		for j, v := range m.row(i) {
			out.set(j, i, v)
		}
	}
	return out
}

func identity(n int) *dense {
	m := newDense(n, n)
	for i := range n {
		m.set(i, i, 1)
	}
	return m
}

// times gives a b.
func times(a, b *dense) *dense { return multiply(blas.NoTrans, a, b) }

// timesT gives a b'.
func timesT(a, b *dense) *dense { return multiply(blas.Trans, a, b) }

func multiply(tb blas.Transpose, a, b *dense) *dense {
	cols := b.cols
	if tb == blas.Trans {
		cols = b.rows
	}
	out := newDense(a.rows, cols)
	if len(out.a) == 0 || a.cols == 0 {
		return out
	}
	g := func(m *dense) blas64.General {
		return blas64.General{Rows: m.rows, Cols: m.cols, Stride: m.cols, Data: m.a}
	}
	blas64.Gemm(blas.NoTrans, tb, 1, g(a), g(b), 0, g(out))
	return out
}

// apply gives m x.
func (m *dense) apply(x []float64) []float64 {
	out := make([]float64, m.rows)
	for i := range out {
		out[i] = floats.Dot(m.row(i), x)
	}
	return out
}

func (m *dense) trace() float64 {
	s := 0.0
	for i := range m.rows {
		s += m.at(i, i)
	}
	return s
}

// traceOf gives tr(a b).
func traceOf(a, b *dense) float64 {
	s := 0.0
	bt := b.transpose()
	for i := range a.rows {
		s += floats.Dot(a.row(i), bt.row(i))
	}
	return s
}

// inner gives the sum of products of the entries of a and b.
func inner(a, b *dense) float64 {
	if len(a.a) == 0 {
		return 0
	}
	return floats.Dot(a.a, b.a)
}

// factor gives the lower triangle l with l l' = m, and false where a pivot is
// not above floor times its diagonal entry.
func (m *dense) factor(floor float64) (*dense, bool) {
	n := m.rows
	l := newDense(n, n)
	for i := range n {
		li := l.row(i)
		for j := range i + 1 {
			lj := l.row(j)
			s := m.at(i, j) - floats.Dot(li[:j], lj[:j])
			if i > j {
				li[j] = s / lj[j]
				continue
			}
			if !(s > floor*m.at(i, i)) || math.IsInf(s, 0) {
				return nil, false
			}
			li[i] = math.Sqrt(s)
		}
	}
	return l, true
}

// solve solves l l' x = b in place, l a lower triangle.
func (l *dense) solve(b *dense) {
	l.forward(b)
	for i := l.rows - 1; i >= 0; i-- {
		x := b.row(i)
		for k := i + 1; k < l.rows; k++ {
			floats.AddScaled(x, -l.at(k, i), b.row(k))
		}
		floats.Scale(1/l.at(i, i), x)
	}
}

// forward solves l x = b in place.
func (l *dense) forward(b *dense) {
	for i := range l.rows {
		x := b.row(i)
		for k, f := range l.row(i)[:i] {
			floats.AddScaled(x, -f, b.row(k))
		}
		floats.Scale(1/l.at(i, i), x)
	}
}

// solveVector gives the x with l l' x = b.
func (l *dense) solveVector(b []float64) []float64 {
	x := &dense{len(b), 1, append([]float64(nil), b...)}
	l.solve(x)
	return x.a
}

// inverse gives (l l')^-1.
func (l *dense) inverse() *dense {
	x := identity(l.rows)
	l.solve(x)
	// Both triangles alike, to the last bit.
	for i := range x.rows {
		for j := range i {
			v := (x.at(i, j) + x.at(j, i)) / 2
			x.set(i, j, v)
			x.set(j, i, v)
		}
	}
	return x
}

// logDet gives the log determinant of l l'.
func (l *dense) logDet() float64 {
	s := 0.0
	for i := range l.rows {
		s += 2 * math.Log(l.at(i, i))
	}
	return s
}

// eigen gives values in rising order and vectors, one a column, of a symmetric
// matrix, by Jacobi rotations (Golub and Van Loan, Matrix Computations, 8.5):
// the matrices here are as small as the number of variances.
func (m *dense) eigen() ([]float64, *dense) {
	n := m.rows
	a, v := m.clone(), identity(n)
	// 60 sweeps: convergence is quadratic, and 10 have always been enough.
	for range 60 {
		off := 0.0
		for i := range n {
			for j := range i {
				off += a.at(i, j) * a.at(i, j)
			}
		}
		if off == 0 {
			break
		}
		for p := range n {
			for q := p + 1; q < n; q++ {
				apq := a.at(p, q)
				if apq == 0 {
					continue
				}
				if math.Abs(apq) < 0x1p-60*math.Sqrt(math.Abs(a.at(p, p)*a.at(q, q))) {
					a.set(p, q, 0)
					a.set(q, p, 0)
					continue
				}
				tau := (a.at(q, q) - a.at(p, p)) / (2 * apq)
				t := 1 / (math.Abs(tau) + math.Hypot(1, tau))
				if tau < 0 {
					t = -t
				}
				c := 1 / math.Hypot(1, t)
				s := t * c
				for k := range n {
					x, y := a.at(k, p), a.at(k, q)
					a.set(k, p, c*x-s*y)
					a.set(k, q, s*x+c*y)
				}
				for k := range n {
					x, y := a.at(p, k), a.at(q, k)
					a.set(p, k, c*x-s*y)
					a.set(q, k, s*x+c*y)
				}
				a.set(p, q, 0)
				a.set(q, p, 0)
				for k := range n {
					x, y := v.at(k, p), v.at(k, q)
					v.set(k, p, c*x-s*y)
					v.set(k, q, s*x+c*y)
				}
			}
		}
	}
	values := make([]float64, n)
	order := make([]int, n)
	for i := range n {
		order[i] = i
	}
	for i := 1; i < n; i++ {
		for j := i; j > 0 && a.at(order[j], order[j]) < a.at(order[j-1], order[j-1]); j-- {
			order[j], order[j-1] = order[j-1], order[j]
		}
	}
	sorted := newDense(n, n)
	for i, o := range order {
		values[i] = a.at(o, o)
		for k := range n {
			sorted.set(k, i, v.at(k, o))
		}
	}
	return values, sorted
}
