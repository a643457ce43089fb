package linear

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"example.org/bookend/fault"
	"example.org/bookend/stat/linear/twofold"
)

// Contrasts are linear combinations of coefficients with their covariance.
type Contrasts struct {
	Estimate []float64   // in the response's unit
	Unscaled [][]float64 // covariance but for sigma^2
	DF       int         // residual degrees of freedom
	Sigma    float64     // residual standard deviation; 0 where HasError is false
	HasError bool        // false without degrees of freedom
	Testable bool        // false too where the model fits perfectly
}

// Contrasts gives L beta, one row of l a contrast over all columns of the
// design. A combination that the runs do not determine is refused.
func (m *Model) Contrasts(l [][]float64) (*Contrasts, error) {
	z, err := m.project(l)
	if err != nil {
		return nil, err
	}
	c := &Contrasts{DF: m.DF, Unscaled: square(len(l))}
	for i, row := range l {
		var s twofold.Number
		for _, j := range m.kept {
			s = s.Add(twofold.Of(row[j]).Mul(twofold.Of(m.Coef[j])))
		}
		c.Estimate = append(c.Estimate, s.Float())
		for k := range i + 1 {
			v := twofold.Dot(z[i], z[k]).Float()
			c.Unscaled[i][k], c.Unscaled[k][i] = v, v
		}
	}
	c.Sigma, c.HasError = m.Sigma()
	c.Testable = c.HasError && !m.PerfectFit
	return c, nil
}

// project gives R^-T l for each row of l.
func (m *Model) project(l [][]float64) ([][]twofold.Number, error) {
	z := make([][]twofold.Number, len(l))
	for i, row := range l {
		if len(row) != len(m.Coef) {
			return nil, fault.New(fault.Invalid, "contrast %d has %d entries for %d columns", i+1, len(row), len(m.Coef))
		}
		for j, v := range row {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return nil, fault.New(fault.Invalid, "contrast %d is not finite at column %q", i+1, m.Names[j])
			}
		}
		for _, a := range m.Aliased {
			want, size := 0.0, math.Abs(row[a.Column])
			for j, v := range a.Of {
				want += v * row[j]
				size += math.Abs(v * row[j])
			}
			// 1e-9: an aliased column's make-up is known to RankTol times the condition.
			if math.Abs(row[a.Column]-want) > 1e-9*size {
				return nil, fault.New(fault.Invalid, "contrast %d cannot be had from these runs: column %q cannot be told apart", i+1, m.Names[a.Column])
			}
		}
		z[i] = make([]twofold.Number, len(m.kept))
		for c := range m.kept {
			var s twofold.Number
			for r := range c + 1 {
				s = s.Add(m.rinv[r][c].Mul(twofold.Of(row[m.kept[r]])))
			}
			z[i][c] = s
		}
	}
	return z, nil
}

// Covariance gives the covariance of the contrasts, and false without degrees
// of freedom.
func (c *Contrasts) Covariance() ([][]float64, bool) {
	if !c.HasError {
		return nil, false
	}
	out := square(len(c.Estimate))
	for i := range out {
		for j := range out {
			out[i][j] = c.Sigma * c.Sigma * c.Unscaled[i][j]
		}
	}
	return out, true
}

// StdErr gives the standard error of each contrast in the response's unit, and
// false without degrees of freedom.
func (c *Contrasts) StdErr() ([]float64, bool) {
	if !c.HasError {
		return nil, false
	}
	out := make([]float64, len(c.Estimate))
	for i := range out {
		out[i] = c.Sigma * math.Sqrt(c.Unscaled[i][i])
	}
	return out, true
}

// T gives estimate by standard error for each contrast, and false without
// scatter to test against.
func (c *Contrasts) T() ([]float64, bool) {
	se, _ := c.StdErr()
	if !c.Testable {
		return nil, false
	}
	out := make([]float64, len(se))
	for i := range out {
		if se[i] == 0 {
			return nil, false
		}
		out[i] = c.Estimate[i] / se[i]
	}
	return out, true
}

// Correlation gives the correlations of the contrasts, which need no scatter;
// false where a contrast has no variance at all.
func (c *Contrasts) Correlation() ([][]float64, bool) {
	out := square(len(c.Estimate))
	for i := range out {
		if !(c.Unscaled[i][i] > 0) {
			return nil, false
		}
	}
	for i := range out {
		for j := range i {
			r := c.Unscaled[i][j] / math.Sqrt(c.Unscaled[i][i]*c.Unscaled[j][j])
			r = max(-1, min(1, r))
			out[i][j], out[j][i] = r, r
		}
		out[i][i] = 1
	}
	return out, true
}

// Coefficient is one line of the table of coefficients.
type Coefficient struct {
	Name      string
	Estimate  float64
	Estimated bool // false: aliased
	StdErr    float64
	HasStdErr bool
	T, P      float64 // P two-sided, unadjusted
	HasTest   bool
}

// Coefficients gives the table of coefficients, one line a column.
func (m *Model) Coefficients() []Coefficient {
	s, ok := m.Sigma()
	out := make([]Coefficient, len(m.Coef))
	for j := range out {
		c := Coefficient{Name: m.Names[j], Estimate: m.Coef[j], Estimated: m.Estimated[j]}
		if c.Estimated && ok {
			c.StdErr, c.HasStdErr = s*math.Sqrt(m.unscaled[j][j]), true
			if !m.PerfectFit && c.StdErr > 0 {
				c.T = c.Estimate / c.StdErr
				c.P, c.HasTest = TwoSidedT(c.T, float64(m.DF)), true
			}
		}
		out[j] = c
	}
	return out
}

// FTest is a test of several restrictions at once.
type FTest struct {
	Term    string
	SS      float64 // sum of squares of the restrictions
	Num     int     // independent restrictions
	Den     int     // residual degrees of freedom
	F, P    float64
	HasTest bool // false without scatter or without restrictions: F and P mean nothing
}

func (m *Model) fTest(term string, ss float64, num int) FTest {
	f := FTest{Term: term, SS: max(ss, 0), Num: num, Den: m.DF}
	if num > 0 && m.DF > 0 && !m.PerfectFit && m.RSS > 0 {
		f.F = f.SS / float64(num) / (m.RSS / float64(m.DF))
		f.P, f.HasTest = UpperF(f.F, float64(num), float64(m.DF)), true
	}
	return f
}

// Test tests that all contrasts of l are zero; dependent rows count once.
func (m *Model) Test(term string, l [][]float64) (FTest, error) {
	z, err := m.project(l)
	if err != nil {
		return FTest{}, err
	}
	// Gram-Schmidt on the rows, the estimates carried along.
	var basis [][]twofold.Number
	ss, num := twofold.Number{}, 0
	beta := make([]twofold.Number, 0, len(l))
	for i := range z {
		var e twofold.Number
		for k, x := range z[i] {
			e = e.Add(x.Mul(m.effect[k]))
		}
		whole := norm(z[i])
		for k, q := range basis {
			f := twofold.Dot(q, z[i])
			for r := range q {
				z[i][r] = z[i][r].Sub(f.Mul(q[r]))
			}
			e = e.Sub(f.Mul(beta[k]))
		}
		left := twofold.Dot(z[i], z[i]).Sqrt()
		if whole == 0 || left.Float() <= RankTol*whole {
			continue
		}
		for r := range z[i] {
			z[i][r] = z[i][r].Div(left)
		}
		e = e.Div(left)
		basis, beta = append(basis, z[i]), append(beta, e)
		ss = ss.Add(e.Mul(e))
		num++
	}
	return m.fTest(term, ss.Float(), num), nil
}

// TestTerm tests a term of the design with everything else in the model. Where
// an aliased column leans on the term, it cannot be tested alone and is refused.
func (m *Model) TestTerm(name string) (FTest, error) {
	columns, err := m.design.Columns(name)
	if err != nil {
		return FTest{}, err
	}
	var l [][]float64
	for _, j := range columns {
		if m.Estimated[j] {
			row := make([]float64, len(m.Coef))
			row[j] = 1
			l = append(l, row)
		}
	}
	return m.Test(name, l)
}

// Anova gives the sequential table: each term after those before it.
func (m *Model) Anova() []FTest {
	out := make([]FTest, 0, len(m.design.terms))
	k := 0
	for _, t := range m.design.terms {
		ss, num := 0.0, 0
		for j := t.first; j < t.first+t.width; j++ {
			if m.Estimated[j] {
				ss += m.effect[k].Mul(m.effect[k]).Float()
				k++
				num++
			}
		}
		out = append(out, m.fTest(t.name, ss, num))
	}
	return out
}

// Nested tests a small model inside a large one, fitted to the same response
// with the same weights.
func Nested(small, large *Model) (FTest, error) {
	if small.N != large.N || len(small.y) != len(large.y) {
		return FTest{}, fault.New(fault.Invalid, "the models have %d and %d runs", small.N, large.N)
	}
	for i := range small.y {
		if small.whiteY[i] != large.whiteY[i] {
			return FTest{}, fault.New(fault.Invalid, "the models differ in response or weight in row %d", i+1)
		}
	}
	// Every column of the small model must lie in the span of the large one.
	for _, j := range small.kept {
		c := small.white[j]
		z := make([]twofold.Number, len(large.kept))
		for i, k := range large.kept {
			z[i] = twofold.Dot(large.white[k], c)
		}
		// Projection by the normal equations in twofold digits.
		whole := twofold.Dot(c, c)
		inside := twofold.Number{}
		for i := range large.kept {
			var s twofold.Number
			for r := range i + 1 {
				s = s.Add(large.rinv[r][i].Mul(z[r]))
			}
			inside = inside.Add(s.Mul(s))
		}
		if whole.Sub(inside).Float() > 1e-12*whole.Float() {
			return FTest{}, fault.New(fault.Invalid, "the models are not nested: %q is not in the larger one", small.Names[j])
		}
	}
	return large.fTest("", small.RSS-large.RSS, large.Rank-small.Rank), nil
}

// TwoSidedT gives P(|T| > |t|) for Student's t with df degrees of freedom,
// which may be infinite; small values keep their digits.
func TwoSidedT(t, df float64) float64 {
	if math.IsInf(df, 1) {
		return math.Erfc(math.Abs(t) / math.Sqrt2)
	}
	if math.IsInf(t, 0) {
		return 0
	}
	if t == 0 {
		return 1
	}
	return mathext.RegIncBeta(df/2, 0.5, df/(df+t*t))
}

// UpperF gives P(F > f) with num and den degrees of freedom; small values keep
// their digits.
func UpperF(f, num, den float64) float64 {
	if !(f > 0) {
		return 1
	}
	if math.IsInf(f, 1) {
		return 0
	}
	return mathext.RegIncBeta(den/2, num/2, den/(den+num*f))
}
