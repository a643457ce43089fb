// Package basis puts a mixed model into the coordinates in which it is small: an
// orthonormal basis first of what the fixed terms span, then of what the random
// ones add to it.
//
// In the trade a programme has many runs but few tyres, stints and days: the
// likelihood needs only as many coordinates as there are of these. Columns that
// cannot be told apart are found here and named.
//
// Source: Gram-Schmidt taken twice (Björck 1996, 2.4.5). Units are those of the
// response. Limits: dense; weights and a full covariance of the residual are
// taken out first.
package basis

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/floats"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/stat/linear"
	"example.org/bookend/stat/mixed/component"
	"example.org/bookend/stat/mixed/dense"
)

// Basis is the model in the coordinates of an orthonormal basis: first of the
// span of the fixed terms, then of what the random terms add to it. Outside
// both the response is plain residual, of which only the sum of squares counts.
type Basis struct {
	N, Fixed, Random int           // rows with weight, rank of the fixed terms, what the random terms add
	Kept             []int         // columns of the design estimated
	Upper            *dense.Matrix // p x p: fixed columns = basis times upper
	Y                []float64     // p + r, in the response's unit
	Rest             float64       // sum of squares outside
	RestDF           int
	F                [][]*dense.Matrix // per component and term, (p + r) x q
	LogDet           float64           // log determinant of the residual's covariance but for its variance
	Size             float64           // largest response, for its rounding
	Aliased          []Alias
}

// Alias is a column of the design that the runs cannot tell from others.
type Alias struct {
	Column int
	Of     []float64 // what it is the sum of, one factor a column of the design
}

// newTol is the part of a random column's length that must stand out of the
// basis to add to it: what is less is rounding after two passes of
// Gram-Schmidt (Björck 1996, 2.4.5), and is put to zero.
const newTol = 1e-10

// Reduce takes the model apart: fixed terms of the design, response, one of
// random a component; weights, one a row, and the residual's covariance but for
// its variance, n x n, may be nil.
func Reduce(d *linear.Design, y []float64, random []*component.Laid, weights []float64, residual [][]float64, aliased linear.AliasRule) (*Basis, caveat.List, error) {
	n := d.Rows()
	var rows []int // rows with weight
	root := make([]float64, n)
	out := &Basis{}
	for i := range n {
		root[i] = 1
		if weights != nil {
			w := weights[i]
			if w == 0 {
				continue
			}
			root[i] = math.Sqrt(w)
			out.LogDet -= math.Log(w)
		}
		rows = append(rows, i)
		out.Size = max(out.Size, math.Abs(y[i])*root[i])
	}
	out.N = len(rows)
	if out.N == 0 {
		return nil, nil, fault.New(fault.Invalid, "there is no row with weight")
	}
	var whiten func(x []float64)
	if residual != nil {
		l, err := residualFactor(residual, n)
		if err != nil {
			return nil, nil, err
		}
		out.LogDet += l.LogDet()
		whiten = func(x []float64) { l.Forward(&dense.Matrix{Rows: len(x), Cols: 1, Data: x}) }
	}
	column := func(at func(i int) float64) []float64 {
		x := make([]float64, out.N)
		for k, i := range rows {
			x[k] = at(i) * root[i]
		}
		if whiten != nil {
			whiten(x)
		}
		return x
	}

	var basis [][]float64
	// project takes x apart over the basis, twice for the rounding.
	project := func(x []float64) []float64 {
		c := make([]float64, len(basis))
		for range 2 {
			for j, q := range basis {
				f := floats.Dot(q, x)
				c[j] += f
				floats.AddScaled(x, -f, q)
			}
		}
		return c
	}
	// The fixed terms.
	var notes caveat.List
	names := d.Names()
	design := make([][]float64, n)
	for i := range design {
		design[i] = d.Row(i)
	}
	var tri [][]float64
	for j := range names {
		x := column(func(i int) float64 { return design[i][j] })
		whole := floats.Norm(x, 2)
		c := project(x)
		left := floats.Norm(x, 2)
		if whole == 0 || left <= linear.RankTol*whole {
			a := Alias{j, make([]float64, len(names))}
			if whole > 0 {
				for i, v := range backSolve(tri, c) {
					// 1e-9: a make-up is known to RankTol times the condition.
					if math.Abs(v)*floats.Norm(tri[i], 2) > 1e-9*whole {
						a.Of[out.Kept[i]] = v
					}
				}
			}
			words := spell(names, a)
			if aliased == linear.RefuseAliased {
				return nil, nil, fault.New(fault.Invalid, "column %q cannot be told apart: %s", names[j], words).
					WithHint("leave it out, or add runs that tell it apart")
			}
			out.Aliased = append(out.Aliased, a)
			notes.Add("column_aliased", caveat.Place{}, "Column %q cannot be told apart and was left out: %s.", names[j], words)
			continue
		}
		floats.Scale(1/left, x)
		basis = append(basis, x)
		tri = append(tri, append(c, left))
		out.Kept = append(out.Kept, j)
	}
	out.Fixed = len(basis)
	out.Upper = dense.New(out.Fixed, out.Fixed)
	for j, c := range tri {
		for i, v := range c {
			out.Upper.Set(i, j, v)
		}
	}
	// The random terms.
	coef := make([][][][]float64, len(random))
	for k, r := range random {
		coef[k] = make([][][]float64, len(r.Z))
		for t, z := range r.Z {
			coef[k][t] = make([][]float64, z.Cols)
			for q := range z.Cols {
				x := column(func(i int) float64 { return z.At(i, q) })
				whole := floats.Norm(x, 2)
				c := project(x)
				left := floats.Norm(x, 2)
				if left > newTol*whole && len(basis) < out.N {
					floats.Scale(1/left, x)
					basis = append(basis, x)
					c = append(c, left)
				}
				coef[k][t][q] = c
			}
		}
	}
	size := len(basis)
	out.Random = size - out.Fixed
	for k, r := range random {
		var fs []*dense.Matrix
		for t, z := range r.Z {
			f := dense.New(size, z.Cols)
			for q, c := range coef[k][t] {
				for i, v := range c {
					f.Set(i, q, v)
				}
			}
			fs = append(fs, f)
		}
		out.F = append(out.F, fs)
	}
	// The response.
	x := column(func(i int) float64 { return y[i] })
	out.Y = project(x)
	out.RestDF = out.N - size
	if out.RestDF > 0 {
		out.Rest = floats.Dot(x, x)
	}
	return out, notes, nil
}

func residualFactor(v [][]float64, n int) (*dense.Matrix, error) {
	if len(v) != n {
		return nil, fault.New(fault.Invalid, "the residual's covariance has %d rows for %d", len(v), n)
	}
	m := dense.New(n, n)
	for i := range v {
		if len(v[i]) != n {
			return nil, fault.New(fault.Invalid, "row %d of the residual's covariance has %d entries for %d", i+1, len(v[i]), n)
		}
		for j, x := range v[i] {
			// 1e-12: the rounding of entries computed both ways round.
			if math.IsNaN(x) || math.IsInf(x, 0) || (j < i && math.Abs(x-v[j][i]) > 1e-12*(math.Abs(x)+math.Abs(v[j][i]))) {
				return nil, fault.New(fault.Invalid, "the residual's covariance is not symmetric at %d, %d", i+1, j+1)
			}
			m.Set(i, j, x)
		}
	}
	// 1e-14: below this a pivot is rounding.
	l, ok := m.Factor(1e-14)
	if !ok {
		return nil, fault.New(fault.Invalid, "the residual's covariance is not positive definite")
	}
	return l, nil
}

// backSolve solves the upper triangle whose column j is tri[j].
func backSolve(tri [][]float64, b []float64) []float64 {
	x := slices.Clone(b)
	for i := len(tri) - 1; i >= 0; i-- {
		x[i] /= tri[i][i]
		for k := range i {
			x[k] -= tri[i][k] * x[i]
		}
	}
	return x
}

func spell(names []string, a Alias) string {
	var parts []string
	for j, v := range a.Of {
		if v != 0 {
			parts = append(parts, fmt.Sprintf("%.4g of %q", v, names[j]))
		}
	}
	if len(parts) == 0 {
		return "it is zero in every row"
	}
	return "it is the sum of " + strings.Join(parts, ", ")
}

// Rotate gives upper^-T l for a row l over all columns: what the contrast is in
// the coordinates of the basis; it refuses what the runs do not determine.
func (r *Basis) Rotate(l []float64, names []string) ([]float64, error) {
	if len(l) != len(names) {
		return nil, fault.New(fault.Invalid, "it has %d entries for %d columns", len(l), len(names))
	}
	for j, v := range l {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, fault.New(fault.Invalid, "it is not finite at column %q", names[j])
		}
	}
	for _, a := range r.Aliased {
		want, size := 0.0, math.Abs(l[a.Column])
		for j, v := range a.Of {
			want += v * l[j]
			size += math.Abs(v * l[j])
		}
		// 1e-9: an aliased column's make-up is known to RankTol times the condition.
		if math.Abs(l[a.Column]-want) > 1e-9*size {
			return nil, fault.New(fault.Invalid, "it cannot be had from these runs: column %q cannot be told apart", names[a.Column])
		}
	}
	k := make([]float64, r.Fixed)
	for i := range k {
		s := l[r.Kept[i]]
		for j := range i {
			s -= r.Upper.At(j, i) * k[j]
		}
		k[i] = s / r.Upper.At(i, i)
	}
	return k, nil
}

// Covariance gives the matrix that the entry a, b of a component's covariance
// is multiplied with, in the coordinates of the basis.
func Covariance(f []*dense.Matrix, a, b int) *dense.Matrix {
	m := dense.TimesT(f[a], f[b])
	if a != b {
		m.AddScaled(1, m.Transpose())
	}
	return m
}
