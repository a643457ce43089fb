package mixed

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/stat/linear"
	"gonum.org/v1/gonum/floats"
)

// reduced is the model in the coordinates of an orthonormal basis: first of the
// span of the fixed terms, then of what the random terms add to it. Outside
// both the response is plain residual, of which only the sum of squares counts.
type reduced struct {
	n, p, r int       // rows with weight, rank of the fixed terms, what the random terms add
	kept    []int     // columns of the design estimated
	upper   *dense    // p x p: fixed columns = basis times upper
	y       []float64 // p + r, in the response's unit
	rest    float64   // sum of squares outside
	restDF  int
	f       [][]*dense // per component and term, (p + r) x q
	logDet  float64    // log determinant of the residual's covariance but for its variance
	size    float64    // largest response, for its rounding
	aliased []alias
}

type alias struct {
	column int
	of     []float64 // over all columns
}

// newTol is the part of a random column's length that must stand out of the
// basis to add to it: what is less is rounding after two passes of
// Gram-Schmidt (Björck 1996, 2.4.5), and is put to zero.
const newTol = 1e-10

// reduce takes the model apart: fixed terms of the design, response, one of
// random a component; weights, one a row, and the residual's covariance but for
// its variance, n x n, may be nil.
func reduce(d *linear.Design, y []float64, random []*random, weights []float64, residual [][]float64, aliased linear.AliasRule) (*reduced, caveat.List, error) {
	n := d.Rows()
	var rows []int // rows with weight
	root := make([]float64, n)
	out := &reduced{}
	for i := range n {
		root[i] = 1
		if weights != nil {
			w := weights[i]
			if w == 0 {
				continue
			}
			root[i] = math.Sqrt(w)
			out.logDet -= math.Log(w)
		}
		rows = append(rows, i)
		out.size = max(out.size, math.Abs(y[i])*root[i])
	}
	out.n = len(rows)
	if out.n == 0 {
		return nil, nil, fault.New(fault.Invalid, "there is no row with weight")
	}
	var whiten func(x []float64)
	if residual != nil {
		l, err := residualFactor(residual, n)
		if err != nil {
			return nil, nil, err
		}
		out.logDet += l.logDet()
		whiten = func(x []float64) { l.forward(&dense{len(x), 1, x}) }
	}
	column := func(at func(i int) float64) []float64 {
		x := make([]float64, out.n)
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
			a := alias{j, make([]float64, len(names))}
			if whole > 0 {
				for i, v := range backSolve(tri, c) {
					// 1e-9: a make-up is known to RankTol times the condition.
					if math.Abs(v)*floats.Norm(tri[i], 2) > 1e-9*whole {
						a.of[out.kept[i]] = v
					}
				}
			}
			words := spell(names, a)
			if aliased == linear.RefuseAliased {
				return nil, nil, fault.New(fault.Invalid, "column %q cannot be told apart: %s", names[j], words).
					WithHint("leave it out, or add runs that tell it apart")
			}
			out.aliased = append(out.aliased, a)
			notes.Add("column_aliased", caveat.Place{}, "Column %q cannot be told apart and was left out: %s.", names[j], words)
			continue
		}
		floats.Scale(1/left, x)
		basis = append(basis, x)
		tri = append(tri, append(c, left))
		out.kept = append(out.kept, j)
	}
	out.p = len(basis)
	out.upper = newDense(out.p, out.p)
	for j, c := range tri {
		for i, v := range c {
			out.upper.set(i, j, v)
		}
	}
	// The random terms.
	coef := make([][][][]float64, len(random))
	for k, r := range random {
		coef[k] = make([][][]float64, len(r.z))
		for t, z := range r.z {
			coef[k][t] = make([][]float64, z.cols)
			for q := range z.cols {
				x := column(func(i int) float64 { return z.at(i, q) })
				whole := floats.Norm(x, 2)
				c := project(x)
				left := floats.Norm(x, 2)
				if left > newTol*whole && len(basis) < out.n {
					floats.Scale(1/left, x)
					basis = append(basis, x)
					c = append(c, left)
				}
				coef[k][t][q] = c
			}
		}
	}
	size := len(basis)
	out.r = size - out.p
	for k, r := range random {
		var fs []*dense
		for t, z := range r.z {
			f := newDense(size, z.cols)
			for q, c := range coef[k][t] {
				for i, v := range c {
					f.set(i, q, v)
				}
			}
			fs = append(fs, f)
		}
		out.f = append(out.f, fs)
	}
	// The response.
	x := column(func(i int) float64 { return y[i] })
	out.y = project(x)
	out.restDF = out.n - size
	if out.restDF > 0 {
		out.rest = floats.Dot(x, x)
	}
	return out, notes, nil
}

func residualFactor(v [][]float64, n int) (*dense, error) {
	if len(v) != n {
		return nil, fault.New(fault.Invalid, "the residual's covariance has %d rows for %d", len(v), n)
	}
	m := newDense(n, n)
	for i := range v {
		if len(v[i]) != n {
			return nil, fault.New(fault.Invalid, "row %d of the residual's covariance has %d entries for %d", i+1, len(v[i]), n)
		}
		for j, x := range v[i] {
			// 1e-12: the rounding of entries computed both ways round.
			if math.IsNaN(x) || math.IsInf(x, 0) || (j < i && math.Abs(x-v[j][i]) > 1e-12*(math.Abs(x)+math.Abs(v[j][i]))) {
				return nil, fault.New(fault.Invalid, "the residual's covariance is not symmetric at %d, %d", i+1, j+1)
			}
			m.set(i, j, x)
		}
	}
	// 1e-14: below this a pivot is rounding.
	l, ok := m.factor(1e-14)
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

func spell(names []string, a alias) string {
	var parts []string
	for j, v := range a.of {
		if v != 0 {
			parts = append(parts, fmt.Sprintf("%.4g of %q", v, names[j]))
		}
	}
	if len(parts) == 0 {
		return "it is zero in every row"
	}
	return "it is the sum of " + strings.Join(parts, ", ")
}

// rotate gives upper^-T l for a row l over all columns: what the contrast is in
// the coordinates of the basis; it refuses what the runs do not determine.
func (r *reduced) rotate(l []float64, names []string) ([]float64, error) {
	if len(l) != len(names) {
		return nil, fault.New(fault.Invalid, "it has %d entries for %d columns", len(l), len(names))
	}
	for j, v := range l {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, fault.New(fault.Invalid, "it is not finite at column %q", names[j])
		}
	}
	for _, a := range r.aliased {
		want, size := 0.0, math.Abs(l[a.column])
		for j, v := range a.of {
			want += v * l[j]
			size += math.Abs(v * l[j])
		}
		// 1e-9: an aliased column's make-up is known to RankTol times the condition.
		if math.Abs(l[a.column]-want) > 1e-9*size {
			return nil, fault.New(fault.Invalid, "it cannot be had from these runs: column %q cannot be told apart", names[a.column])
		}
	}
	k := make([]float64, r.p)
	for i := range k {
		s := l[r.kept[i]]
		for j := range i {
			s -= r.upper.at(j, i) * k[j]
		}
		k[i] = s / r.upper.at(i, i)
	}
	return k, nil
}

// covariance gives the matrix that the entry a, b of a component's covariance
// is multiplied with, in the coordinates of the basis.
func covariance(f []*dense, a, b int) *dense {
	m := timesT(f[a], f[b])
	if a != b {
		m.addScaled(1, m.transpose())
	}
	return m
}
