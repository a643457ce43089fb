// Package linear fits linear models by least squares: ordinary, weighted, and
// generalised with a known covariance of the errors.
//
// The factorisation is Householder's QR, carried out in twofold.Number precision
// (about 31 digits), so that what is printed in float64 is limited by the data
// and not by the arithmetic: this is the refinement of Björck (1967) taken to
// its end. Columns are taken in the order of the design. A column that lies in
// the span of those before it, to within RankTol of its own length, is aliased:
// it is refused by name or dropped by name, as the caller chooses.
//
// Zero residual degrees of freedom are allowed: estimates, but no error. What
// cannot be had is said by a second result, never by NaN.
//
// Sources: Björck, Numerical Methods for Least Squares Problems (1996); Cook
// and Weisberg, Residuals and Influence in Regression (1982). Checked against
// the NIST StRD reference data sets. Units are those of the response. Limits:
// dense, some thousands of rows with tens of columns; covariance of the errors
// given, not estimated (package mixed estimates).
package linear

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/stat/linear/twofold"
)

// AliasRule says what becomes of a column that lies in the span of others.
type AliasRule int

// The rules.
const (
	RefuseAliased AliasRule = iota // an error that names the column and what it lies in
	DropAliased                    // no coefficient for it, and a caveat
)

// RankTol is the part of a column's length that must stand out of the span of
// the columns before it. Stored columns are rounded at 1e-16 of their length,
// and terms that lean on each other blow this up by their condition; 1e-10
// leaves a million for that. R's lm takes 1e-7, at which it refuses NIST's
// Filip, where 5.2e-8 of the last column stands out.
const RankTol = 1e-10

// Options of a fit. The zero value is ordinary least squares, refusing aliased
// columns.
type Options struct {
	Weights    []float64   // one a row, >= 0; variance of row i is sigma^2/w_i, a row of weight 0 takes no part
	Covariance [][]float64 // n x n, positive definite; the errors' covariance is sigma^2 times this
	Aliased    AliasRule
	RankTol    float64 // 0 means the package's RankTol
}

// Alias is a column that lies in the span of the columns before it.
type Alias struct {
	Column int       // index in the design
	Of     []float64 // coefficients of the other columns that make it up, one a column of the design
}

// Model is a fitted model.
type Model struct {
	Names     []string
	Coef      []float64 // one a column; 0 where not estimated
	Estimated []bool    // false for an aliased column
	Aliased   []Alias
	N         int // rows with weight
	Rank      int // columns estimated
	DF        int // residual degrees of freedom, N - Rank; may be 0
	RSS       float64
	Fitted    []float64 // in the response's unit, one a row
	Residuals []float64 // response less fitted, one a row, unweighted
	// PerfectFit tells that the residuals are no larger than the rounding of
	// the stored response: there is no scatter to test against.
	PerfectFit bool
	Caveats    caveat.List

	design   *Design
	y        []float64
	unscaled [][]float64
	kept     []int              // estimated columns in order
	rinv     [][]twofold.Number // inverse of R over kept columns, upper, rows then columns
	effect   []twofold.Number   // first Rank entries of Q'y
	white    [][]twofold.Number // weighted design, by column
	logDetV  float64            // log determinant of the errors' covariance but for sigma
	logDetX  float64            // log determinant of X' V^-1 X over kept columns
	whiteY   []twofold.Number   // weighted response
	totalSS  float64            // about zero, weighted
}

// Fit fits the response to the design.
func Fit(d *Design, y []float64, opt Options) (*Model, error) {
	n, p := d.n, len(d.columns)
	if len(y) != n {
		return nil, fault.New(fault.Invalid, "the response has %d values for %d rows", len(y), n)
	}
	if p == 0 {
		return nil, fault.New(fault.Invalid, "the design has no columns")
	}
	for i, v := range y {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, fault.New(fault.Invalid, "the response has no finite value in row %d", i+1)
		}
	}
	m := &Model{Names: slices.Clone(d.names), design: d, y: slices.Clone(y)}
	a, b, err := m.whiten(d, y, opt)
	if err != nil {
		return nil, err
	}
	m.white = make([][]twofold.Number, p)
	for j := range a {
		m.white[j] = slices.Clone(a[j])
	}
	m.whiteY = slices.Clone(b)
	m.totalSS = twofold.Dot(b, b).Float()
	tol := opt.RankTol
	if tol <= 0 {
		tol = RankTol
	}
	if err := m.factorise(a, b, tol, opt.Aliased); err != nil {
		return nil, err
	}
	return m, nil
}

// FitColumns fits the response to columns as they are, one slice a column.
func FitColumns(names []string, columns [][]float64, y []float64, opt Options) (*Model, error) {
	if len(names) != len(columns) {
		return nil, fault.New(fault.Invalid, "%d names for %d columns", len(names), len(columns))
	}
	d := NewDesign(len(y))
	for j, c := range columns {
		if err := d.AddColumn(names[j], c); err != nil {
			return nil, err
		}
	}
	return Fit(d, y, opt)
}

// whiten gives the columns and the response with the errors made alike.
func (m *Model) whiten(d *Design, y []float64, opt Options) ([][]twofold.Number, []twofold.Number, error) {
	n := d.n
	a := make([][]twofold.Number, len(d.columns))
	for j := range d.columns {
		a[j] = make([]twofold.Number, n)
		for i := range a[j] {
			a[j][i] = d.entry(j, i)
		}
	}
	b := make([]twofold.Number, n)
	for i, v := range y {
		b[i] = twofold.Of(v)
	}
	m.N = n
	switch {
	case opt.Weights != nil && opt.Covariance != nil:
		return nil, nil, fault.New(fault.Invalid, "weights and a covariance are given together").WithHint("put the weights into the covariance")
	case opt.Weights != nil:
		if len(opt.Weights) != n {
			return nil, nil, fault.New(fault.Invalid, "%d weights for %d rows", len(opt.Weights), n)
		}
		m.N = 0
		for i, w := range opt.Weights {
			if !(w >= 0) || math.IsInf(w, 0) {
				return nil, nil, fault.New(fault.Invalid, "the weight of row %d is %v", i+1, w)
			}
			if w > 0 {
				m.N++
				m.logDetV -= math.Log(w)
			}
			r := twofold.Of(w).Sqrt()
			for j := range a {
				a[j][i] = a[j][i].Mul(r)
			}
			b[i] = b[i].Mul(r)
		}
	case opt.Covariance != nil:
		l, err := cholesky(opt.Covariance, n)
		if err != nil {
			return nil, nil, err
		}
		for i := range l {
			m.logDetV += 2 * math.Log(l[i][i].Float())
		}
		for j := range a {
			forward(l, a[j])
		}
		forward(l, b)
	}
	return a, b, nil
}

// cholesky gives the lower triangle of a covariance.
func cholesky(v [][]float64, n int) ([][]twofold.Number, error) {
	if len(v) != n {
		return nil, fault.New(fault.Invalid, "the covariance has %d rows for %d", len(v), n)
	}
	l := make([][]twofold.Number, n)
	for i := range v {
		if len(v[i]) != n {
			return nil, fault.New(fault.Invalid, "row %d of the covariance has %d entries for %d", i+1, len(v[i]), n)
		}
		l[i] = make([]twofold.Number, i+1)
		for j := range l[i] {
			if math.IsNaN(v[i][j]) || math.IsInf(v[i][j], 0) || math.Abs(v[i][j]-v[j][i]) > 1e-12*math.Sqrt(math.Abs(v[i][i]*v[j][j])) {
				return nil, fault.New(fault.Invalid, "the covariance is not symmetric at %d, %d", i+1, j+1)
			}
			s := twofold.Of(v[i][j]).Sub(twofold.Dot(l[i][:j], l[j][:j]))
			if i > j {
				l[i][j] = s.Div(l[j][j])
				continue
			}
			if !(s.Hi > 1e-14*v[i][i]) {
				return nil, fault.New(fault.Invalid, "the covariance is not positive definite (row %d)", i+1)
			}
			l[i][i] = s.Sqrt()
		}
	}
	return l, nil
}

func forward(l [][]twofold.Number, x []twofold.Number) {
	for i := range x {
		x[i] = x[i].Sub(twofold.Dot(l[i][:i], x[:i])).Div(l[i][i])
	}
}

// factorise takes a apart into Q R column by column and fills the model.
func (m *Model) factorise(a [][]twofold.Number, b []twofold.Number, tol float64, rule AliasRule) error {
	n, p := len(b), len(a)
	r := 0
	for j := range p {
		whole := twofold.Dot(a[j], a[j]).Sqrt().Float()
		var left twofold.Number
		if r < n {
			left = twofold.Dot(a[j][r:], a[j][r:]).Sqrt()
		}
		if whole == 0 || left.Float() <= tol*whole {
			al := Alias{Column: j, Of: make([]float64, p)}
			if whole > 0 {
				for i, x := range back(a, m.kept, a[j]) {
					if v := x.Float(); math.Abs(v)*norm(m.white[m.kept[i]]) > 1e-9*whole {
						al.Of[m.kept[i]] = v
					}
				}
			}
			if rule == RefuseAliased {
				return fault.New(fault.Invalid, "column %q cannot be told apart: %s", m.Names[j], m.spell(al)).
					WithHint("leave it out, or add runs that tell it apart")
			}
			m.Aliased = append(m.Aliased, al)
			m.Caveats.Add("column_aliased", caveat.Place{}, "Column %q cannot be told apart and was left out: %s.", m.Names[j], m.spell(al))
			continue
		}
		// Reflect: v = x + sign(x0) |x| e0.
		v := slices.Clone(a[j][r:])
		if v[0].Hi >= 0 {
			v[0] = v[0].Add(left)
			left = left.Neg()
		} else {
			v[0] = v[0].Sub(left)
		}
		vv := twofold.Dot(v, v)
		reflect := func(x []twofold.Number) {
			f := twofold.Dot(v, x).Add(twofold.Dot(v, x)).Div(vv)
			for i := range v {
				x[i] = x[i].Sub(f.Mul(v[i]))
			}
		}
		for c := j + 1; c < p; c++ {
			reflect(a[c][r:])
		}
		reflect(b[r:])
		a[j][r] = left
		for i := r + 1; i < n; i++ {
			a[j][i] = twofold.Number{}
		}
		m.kept = append(m.kept, j)
		r++
	}
	m.Rank = r
	m.DF = m.N - r
	if m.DF < 0 {
		return fault.New(fault.Internal, "rank %d of %d rows", r, m.N)
	}
	m.Estimated = make([]bool, p)
	m.Coef = make([]float64, p)
	coef := back(a, m.kept, b)
	for i, j := range m.kept {
		m.Estimated[j] = true
		m.Coef[j] = coef[i].Float()
		m.logDetX += 2 * math.Log(math.Abs(a[j][i].Float()))
	}
	for i := range r {
		m.effect = append(m.effect, b[i])
	}
	m.RSS = twofold.Dot(b[r:], b[r:]).Float()
	if m.DF == 0 {
		m.RSS = 0
	}
	m.rinv = make([][]twofold.Number, r)
	for i := range m.rinv {
		m.rinv[i] = make([]twofold.Number, r)
	}
	for c := range r {
		unit := make([]twofold.Number, r)
		unit[c] = twofold.Of(1)
		for i, x := range back(a, m.kept, unit) {
			m.rinv[i][c] = x
		}
	}
	m.unscaled = square(p)
	for i, ji := range m.kept {
		for k, jk := range m.kept[:i+1] {
			v := twofold.Dot(m.rinv[i][i:], m.rinv[k][i:]).Float()
			m.unscaled[ji][jk], m.unscaled[jk][ji] = v, v
		}
	}
	// Fitted and residuals, with the coefficients still twofold.
	m.Fitted, m.Residuals = make([]float64, n), make([]float64, n)
	largest := 0.0
	for i := range n {
		var f twofold.Number
		for k, j := range m.kept {
			f = f.Add(coef[k].Mul(m.design.entry(j, i)))
		}
		m.Fitted[i] = f.Float()
		m.Residuals[i] = twofold.Of(m.y[i]).Sub(f).Float()
		largest = max(largest, math.Abs(m.y[i]))
	}
	// One unit in the last place of the largest response, a row: the rounding
	// with which the response was stored.
	ulp := 0x1p-52 * largest
	m.PerfectFit = true
	for _, e := range m.Residuals {
		if math.Abs(e) > ulp {
			m.PerfectFit = false
		}
	}
	if m.DF == 0 {
		m.Caveats.Add("no_degrees_of_freedom", caveat.Place{}, "As many terms as runs: there are estimates, but no scatter to judge them by.")
	} else if m.PerfectFit {
		m.Caveats.Add("perfect_fit", caveat.Place{}, "The runs lie on the model to the last digit: there is no scatter to judge by.")
	}
	return nil
}

// back solves R x = b over the kept columns.
func back(a [][]twofold.Number, kept []int, b []twofold.Number) []twofold.Number {
	x := make([]twofold.Number, len(kept))
	for i := len(kept) - 1; i >= 0; i-- {
		s := b[i]
		for k := i + 1; k < len(kept); k++ {
			s = s.Sub(a[kept[k]][i].Mul(x[k]))
		}
		x[i] = s.Div(a[kept[i]][i])
	}
	return x
}

func norm(x []twofold.Number) float64 { return twofold.Dot(x, x).Sqrt().Float() }

func square(n int) [][]float64 {
	out := make([][]float64, n)
	for i := range out {
		out[i] = make([]float64, n)
	}
	return out
}

// spell says in words what an aliased column is made of.
func (m *Model) spell(a Alias) string {
	var parts []string
	for j, v := range a.Of {
		if v != 0 {
			parts = append(parts, fmt.Sprintf("%.4g of %q", v, m.Names[j]))
		}
	}
	if len(parts) == 0 {
		return "it is zero in every row"
	}
	return "it is the sum of " + strings.Join(parts, ", ")
}

// Sigma gives the residual standard deviation in the response's unit, and
// false where there are no degrees of freedom.
func (m *Model) Sigma() (float64, bool) {
	if m.DF == 0 {
		return 0, false
	}
	return math.Sqrt(m.RSS / float64(m.DF)), true
}

// Unscaled gives (X' V^-1 X)^-1, p x p over all columns, zero for an aliased one.
func (m *Model) Unscaled() [][]float64 {
	out := make([][]float64, len(m.unscaled))
	for i, r := range m.unscaled {
		out[i] = slices.Clone(r)
	}
	return out
}

// Covariance gives the covariance of the coefficients, p x p, and false where
// there are no degrees of freedom.
func (m *Model) Covariance() ([][]float64, bool) {
	s, ok := m.Sigma()
	if !ok {
		return nil, false
	}
	out := m.Unscaled()
	for i := range out {
		for j := range out[i] {
			out[i][j] *= s * s
		}
	}
	return out, true
}

// RSquared gives the share of the response's variation that the model takes
// up: about the mean with an intercept, about zero without; false where the
// response does not vary.
func (m *Model) RSquared() (float64, bool) {
	total := m.totalSS
	for i, t := range m.design.terms {
		if t.kind != interceptTerm || !m.Estimated[m.design.terms[i].first] {
			continue
		}
		// About the weighted mean: what the response leaves on the intercept alone.
		c := m.white[t.first]
		cc := twofold.Dot(c, c)
		var cy, rest twofold.Number
		y := m.whiteY
		for k := range c {
			cy = cy.Add(c[k].Mul(y[k]))
		}
		f := cy.Div(cc)
		for k := range c {
			e := y[k].Sub(f.Mul(c[k]))
			rest = rest.Add(e.Mul(e))
		}
		total = rest.Float()
	}
	if !(total > 0) {
		return 0, false
	}
	return 1 - m.RSS/total, true
}

// LogLik gives the log likelihood at the maximum, and false for a residual sum
// of squares of zero.
func (m *Model) LogLik() (float64, bool) {
	if m.RSS <= 0 || m.PerfectFit {
		return 0, false
	}
	n := float64(m.N)
	return -n/2*(math.Log(2*math.Pi*m.RSS/n)+1) - m.logDetV/2, true
}

// RestrictedLogLik gives the restricted log likelihood at its maximum over
// sigma, without the constant in X'X, and false for a residual sum of squares
// of zero.
func (m *Model) RestrictedLogLik() (float64, bool) {
	if m.DF == 0 || m.RSS <= 0 || m.PerfectFit {
		return 0, false
	}
	n := float64(m.DF)
	return -n/2*(math.Log(2*math.Pi*m.RSS/n)+1) - m.logDetV/2 - m.logDetX/2, true
}
