// Package dense is the dense linear algebra of the mixed models: products,
// Cholesky factors with a floor for their pivots, symmetric eigenvalues.
//
// It knows no unit and no model. Source: the loops are those of BLAS, by gonum;
// factor and substitution are the textbook's (Golub and Van Loan, Matrix
// Computations, 4.2; from memory). Limits: real matrices that fit into memory; a
// shape that does not fit is a programmer's slip and panics.
package dense

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/floats"
)

// Matrix is a matrix kept row by row, Data[i*Cols+j]; zero rows or columns are
// allowed.
type Matrix struct {
	Rows, Cols int
	Data       []float64
}

// New gives a matrix of zeros, rows x cols.
func New(rows, cols int) *Matrix { return &Matrix{rows, cols, make([]float64, rows*cols)} }

// Row gives row i itself, not a copy.
func (m *Matrix) Row(i int) []float64 { return m.Data[i*m.Cols : (i+1)*m.Cols] }

// At gives entry i, j.
func (m *Matrix) At(i, j int) float64 { return m.Data[i*m.Cols+j] }

// Set puts v at i, j.
func (m *Matrix) Set(i, j int, v float64) { m.Data[i*m.Cols+j] = v }

// AddTo adds v to entry i, j.
func (m *Matrix) AddTo(i, j int, v float64) { m.Data[i*m.Cols+j] += v }

// Clone gives a copy.
func (m *Matrix) Clone() *Matrix { return &Matrix{m.Rows, m.Cols, append([]float64(nil), m.Data...)} }

// AddScaled adds f times b, which has the same shape.
func (m *Matrix) AddScaled(f float64, b *Matrix) { floats.AddScaled(m.Data, f, b.Data) }

// Part gives a copy of rows i to i1 and columns j to j1, ends left out.
func (m *Matrix) Part(i, i1, j, j1 int) *Matrix {
	out := New(i1-i, j1-j)
	for k := range out.Rows {
		copy(out.Row(k), m.Row(i + k)[j:j1])
	}
	return out
}

// Transpose gives the transposed matrix, a copy.
func (m *Matrix) Transpose() *Matrix {
	out := New(m.Cols, m.Rows)
	for i := range m.Rows {
		for j, v := range m.Row(i) {
			out.Set(j, i, v)
		}
	}
	return out
}

func identity(n int) *Matrix {
	m := New(n, n)
	for i := range n {
		m.Set(i, i, 1)
	}
	return m
}

// Times gives a b.
func Times(a, b *Matrix) *Matrix { return multiply(blas.NoTrans, a, b) }

// TimesT gives a b'.
func TimesT(a, b *Matrix) *Matrix { return multiply(blas.Trans, a, b) }

func multiply(tb blas.Transpose, a, b *Matrix) *Matrix {
	cols := b.Cols
	if tb == blas.Trans {
		cols = b.Rows
	}
	out := New(a.Rows, cols)
	if len(out.Data) == 0 || a.Cols == 0 {
		return out
	}
	g := func(m *Matrix) blas64.General {
		return blas64.General{Rows: m.Rows, Cols: m.Cols, Stride: m.Cols, Data: m.Data}
	}
	blas64.Gemm(blas.NoTrans, tb, 1, g(a), g(b), 0, g(out))
	return out
}

// Apply gives m x.
func (m *Matrix) Apply(x []float64) []float64 {
	out := make([]float64, m.Rows)
	for i := range out {
		out[i] = floats.Dot(m.Row(i), x)
	}
	return out
}

// Trace gives the sum of the diagonal.
func (m *Matrix) Trace() float64 {
	s := 0.0
	for i := range m.Rows {
		s += m.At(i, i)
	}
	return s
}

// TraceOf gives tr(a b).
func TraceOf(a, b *Matrix) float64 {
	s := 0.0
	bt := b.Transpose()
	for i := range a.Rows {
		s += floats.Dot(a.Row(i), bt.Row(i))
	}
	return s
}

// Inner gives the sum of products of the entries of a and b.
func Inner(a, b *Matrix) float64 {
	if len(a.Data) == 0 {
		return 0
	}
	return floats.Dot(a.Data, b.Data)
}

// Factor gives the lower triangle l with l l' = m, and false where a pivot is
// not above floor times its diagonal entry.
func (m *Matrix) Factor(floor float64) (*Matrix, bool) {
	n := m.Rows
	l := New(n, n)
	for i := range n {
		li := l.Row(i)
		for j := range i + 1 {
			lj := l.Row(j)
			s := m.At(i, j) - floats.Dot(li[:j], lj[:j])
			if i > j {
				li[j] = s / lj[j]
				continue
			}
			if !(s > floor*m.At(i, i)) || math.IsInf(s, 0) {
				return nil, false
			}
			li[i] = math.Sqrt(s)
		}
	}
	return l, true
}

// Solve solves l l' x = b in place, l a lower triangle.
func (l *Matrix) Solve(b *Matrix) {
	l.Forward(b)
	for i := l.Rows - 1; i >= 0; i-- {
		x := b.Row(i)
		for k := i + 1; k < l.Rows; k++ {
			floats.AddScaled(x, -l.At(k, i), b.Row(k))
		}
		floats.Scale(1/l.At(i, i), x)
	}
}

// Forward solves l x = b in place.
func (l *Matrix) Forward(b *Matrix) {
	for i := range l.Rows {
		x := b.Row(i)
		for k, f := range l.Row(i)[:i] {
			floats.AddScaled(x, -f, b.Row(k))
		}
		floats.Scale(1/l.At(i, i), x)
	}
}

// SolveVector gives the x with l l' x = b.
func (l *Matrix) SolveVector(b []float64) []float64 {
	x := &Matrix{len(b), 1, append([]float64(nil), b...)}
	l.Solve(x)
	return x.Data
}

// Inverse gives (l l')^-1.
func (l *Matrix) Inverse() *Matrix {
	x := identity(l.Rows)
	l.Solve(x)
	// Both triangles alike, to the last bit.
	for i := range x.Rows {
		for j := range i {
			v := (x.At(i, j) + x.At(j, i)) / 2
			x.Set(i, j, v)
			x.Set(j, i, v)
		}
	}
	return x
}

// LogDet gives the log determinant of l l'.
func (l *Matrix) LogDet() float64 {
	s := 0.0
	for i := range l.Rows {
		s += 2 * math.Log(l.At(i, i))
	}
	return s
}

// Eigen gives values in rising order and vectors, one a column, of a symmetric
// matrix, by Jacobi rotations (Golub and Van Loan, Matrix Computations, 8.5):
// the matrices here are as small as the number of variances.
func (m *Matrix) Eigen() ([]float64, *Matrix) {
	n := m.Rows
	a, v := m.Clone(), identity(n)
	// 60 sweeps: convergence is quadratic, and 10 have always been enough.
	for range 60 {
		off := 0.0
		for i := range n {
			for j := range i {
				off += a.At(i, j) * a.At(i, j)
			}
		}
		if off == 0 {
			break
		}
		for p := range n {
			for q := p + 1; q < n; q++ {
				apq := a.At(p, q)
				if apq == 0 {
					continue
				}
				if math.Abs(apq) < 0x1p-60*math.Sqrt(math.Abs(a.At(p, p)*a.At(q, q))) {
					a.Set(p, q, 0)
					a.Set(q, p, 0)
					continue
				}
				tau := (a.At(q, q) - a.At(p, p)) / (2 * apq)
				t := 1 / (math.Abs(tau) + math.Hypot(1, tau))
				if tau < 0 {
					t = -t
				}
				c := 1 / math.Hypot(1, t)
				s := t * c
				for k := range n {
					x, y := a.At(k, p), a.At(k, q)
					a.Set(k, p, c*x-s*y)
					a.Set(k, q, s*x+c*y)
				}
				for k := range n {
					x, y := a.At(p, k), a.At(q, k)
					a.Set(p, k, c*x-s*y)
					a.Set(q, k, s*x+c*y)
				}
				a.Set(p, q, 0)
				a.Set(q, p, 0)
				for k := range n {
					x, y := v.At(k, p), v.At(k, q)
					v.Set(k, p, c*x-s*y)
					v.Set(k, q, s*x+c*y)
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
		for j := i; j > 0 && a.At(order[j], order[j]) < a.At(order[j-1], order[j-1]); j-- {
			order[j], order[j-1] = order[j-1], order[j]
		}
	}
	sorted := New(n, n)
	for i, o := range order {
		values[i] = a.At(o, o)
		for k := range n {
			sorted.Set(k, i, v.At(k, o))
		}
	}
	return values, sorted
}
