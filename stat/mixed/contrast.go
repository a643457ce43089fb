package mixed

import (
	"math"

	"example.org/bookend/fault"
	"example.org/bookend/stat/mixed/dense"
	"example.org/bookend/stat/mixed/freedom"
	"example.org/bookend/stat/tail"
)

// Contrasts are linear combinations of coefficients with their covariance.
type Contrasts struct {
	Method     freedom.Method
	Estimate   []float64   // in the response's unit
	Covariance [][]float64 // adjusted under Kenward-Roger; zero where HasError is false
	DF         []float64   // of each contrast; math.Inf(1) where no variance is estimated
	HasError   bool        // false without degrees of freedom
	Testable   bool        // false too where the response lies on the fixed terms
}

// spreadFor gives covariance and parts for a method.
func (m *Model) spreadFor(method freedom.Method) (*freedom.Spread, *dense.Matrix, error) {
	s, phi := &m.inf.Plain, m.inf.Phi
	switch method {
	case freedom.KenwardRoger, freedom.KenwardRogerKept:
		if m.Method != REML {
			return nil, nil, fault.New(fault.Unsupported, "Kenward and Roger's degrees of freedom need restricted likelihood").
				WithHint("fit by REML, or ask for Satterthwaite's")
		}
		if method == freedom.KenwardRogerKept {
			s = &m.inf.Whole
		}
		if s.PhiA != nil {
			phi = s.PhiA
		}
	case freedom.Satterthwaite, freedom.FixedTerms:
	default:
		return nil, nil, fault.New(fault.Invalid, "there is no method %d for degrees of freedom", method)
	}
	return s, phi, nil
}

// rotated gives the rows of l in the coordinates of the basis.
func (m *Model) rotated(l [][]float64) ([][]float64, error) {
	out := make([][]float64, len(l))
	for i, row := range l {
		k, err := m.part.Rotate(row, m.Names)
		if err != nil {
			return nil, fault.At(err, "contrast %d", i+1)
		}
		out[i] = k
	}
	return out, nil
}

// Contrasts gives L beta, one row of l a contrast over all columns of the
// design. A combination that the runs do not determine is refused.
func (m *Model) Contrasts(l [][]float64, method freedom.Method) (*Contrasts, error) {
	k, err := m.rotated(l)
	if err != nil {
		return nil, err
	}
	s, phi, err := m.spreadFor(method)
	if err != nil {
		return nil, err
	}
	c := &Contrasts{Method: method, HasError: m.HasError, Testable: m.HasError && !m.PerfectFit}
	for i, row := range l {
		e := 0.0
		for j, v := range row {
			e += v * m.Coef[j]
		}
		c.Estimate = append(c.Estimate, e)
		c.Covariance = append(c.Covariance, make([]float64, len(l)))
		if !m.HasError {
			c.DF = append(c.DF, 0)
			continue
		}
		c.DF = append(c.DF, m.inf.Freedom(s, k[i], method))
		if m.PerfectFit {
			continue
		}
		pk := phi.Apply(k[i])
		for j := range i + 1 {
			v := 0.0
			for a, x := range k[j] {
				v += x * pk[a]
			}
			v *= m.scale * m.scale
			c.Covariance[i][j], c.Covariance[j][i] = v, v
		}
	}
	return c, nil
}

// StdErr gives the standard error of each contrast in the response's unit, and
// false without degrees of freedom.
func (c *Contrasts) StdErr() ([]float64, bool) {
	if !c.HasError {
		return nil, false
	}
	out := make([]float64, len(c.Estimate))
	for i := range out {
		out[i] = math.Sqrt(math.Max(c.Covariance[i][i], 0))
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
		if !(se[i] > 0) {
			return nil, false
		}
		out[i] = c.Estimate[i] / se[i]
	}
	return out, true
}

// P gives the two-sided p-value of each contrast, unadjusted for their number,
// and false without scatter to test against.
func (c *Contrasts) P() ([]float64, bool) {
	t, ok := c.T()
	if !ok {
		return nil, false
	}
	for i := range t {
		t[i] = tail.TwoSidedT(t[i], c.DF[i])
	}
	return t, true
}

// Correlation gives the correlations of the contrasts; false where a contrast
// has no variance.
func (c *Contrasts) Correlation() ([][]float64, bool) {
	out := make([][]float64, len(c.Estimate))
	for i := range out {
		out[i] = make([]float64, len(out))
		if !c.HasError || !(c.Covariance[i][i] > 0) {
			return nil, false
		}
	}
	for i := range out {
		for j := range i {
			r := c.Covariance[i][j] / math.Sqrt(c.Covariance[i][i]*c.Covariance[j][j])
			out[i][j] = max(-1, min(1, r))
			out[j][i] = out[i][j]
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
	DF, T, P  float64 // P two-sided, unadjusted
	HasTest   bool
}

// Coefficients gives the table of coefficients, one line a column.
func (m *Model) Coefficients(method freedom.Method) ([]Coefficient, error) {
	if _, _, err := m.spreadFor(method); err != nil {
		return nil, err
	}
	out := make([]Coefficient, len(m.Coef))
	for j := range out {
		out[j] = Coefficient{Name: m.Names[j], Estimate: m.Coef[j], Estimated: m.Estimated[j]}
		if !m.Estimated[j] {
			continue
		}
		row := make([]float64, len(m.Coef))
		row[j] = 1
		for _, a := range m.part.Aliased {
			row[a.Column] = a.Of[j] // of the estimated columns alone
		}
		c, err := m.Contrasts([][]float64{row}, method)
		if err != nil {
			return nil, err
		}
		if se, ok := c.StdErr(); ok {
			out[j].StdErr, out[j].HasStdErr, out[j].DF = se[0], true, c.DF[0]
		}
		if t, ok := c.T(); ok {
			p, _ := c.P()
			out[j].T, out[j].P, out[j].HasTest = t[0], p[0], true
		}
	}
	return out, nil
}

// FTest is a test of several restrictions at once.
type FTest struct {
	Term    string
	Method  freedom.Method
	F       float64 // scaled under Kenward-Roger
	Scale   float64 // what F was multiplied with; 1 but for Kenward-Roger
	Num     int     // independent restrictions
	Den     float64 // degrees of freedom of the denominator; math.Inf(1) where no variance is estimated
	P       float64
	HasTest bool // false without scatter, without restrictions, or without degrees of freedom enough
}

// Test tests that all contrasts of l are zero; dependent rows count once.
func (m *Model) Test(term string, l [][]float64, method freedom.Method) (FTest, error) {
	f := FTest{Term: term, Method: method, Scale: 1}
	k, err := m.rotated(l)
	if err != nil {
		return f, err
	}
	s, phi, err := m.spreadFor(method)
	if err != nil {
		return f, err
	}
	// Independent rows, and their estimates.
	var rows, ortho [][]float64
	var est []float64
	for i, row := range k {
		x := append([]float64(nil), row...)
		whole := norm(x)
		for range 2 {
			for _, q := range ortho {
				d := 0.0
				for a := range x {
					d += q[a] * x[a]
				}
				for a := range x {
					x[a] -= d * q[a]
				}
			}
		}
		left := norm(x)
		// As in package linear: RankTol of its own length.
		if whole == 0 || left <= 1e-10*whole {
			continue
		}
		for a := range x {
			x[a] /= left
		}
		ortho = append(ortho, x)
		rows = append(rows, row)
		e := 0.0
		for j, v := range l[i] {
			e += v * m.Coef[j]
		}
		est = append(est, e/m.scale)
	}
	f.Num = len(rows)
	if f.Num == 0 || !m.HasError || m.PerfectFit {
		return f, nil
	}
	km := dense.New(f.Num, m.part.Fixed)
	for i, row := range rows {
		copy(km.Row(i), row)
	}
	within := func(a *dense.Matrix) *dense.Matrix { return dense.TimesT(dense.Times(km, a), km) }
	v, ok := within(phi).Factor(1e-14)
	if !ok {
		return f, nil
	}
	x := &dense.Matrix{Rows: f.Num, Cols: 1, Data: append([]float64(nil), est...)}
	v.Forward(x)
	for _, e := range x.Data {
		f.F += e * e / float64(f.Num)
	}
	switch {
	case f.Num == 1:
		f.Den = m.inf.Freedom(s, rows[0], method)
	case method == freedom.Satterthwaite:
		f.Den = m.inf.ManySatterthwaite(s, km, within(m.inf.Phi))
	case method == freedom.FixedTerms || !s.HasW || m.inf.Certain:
		f.Den = m.inf.Freedom(s, rows[0], freedom.FixedTerms)
	default:
		f.Den, f.Scale = m.inf.ManyKenwardRoger(s, within)
		f.F *= f.Scale
	}
	if f.Den > 0 && f.F >= 0 {
		f.P, f.HasTest = tail.F(f.F, float64(f.Num), f.Den), true
	} else {
		f.F, f.Scale, f.Den = 0, 1, 0
	}
	return f, nil
}

func norm(x []float64) float64 {
	s := 0.0
	for _, v := range x {
		s += v * v
	}
	return math.Sqrt(s)
}

// TestTerm tests a term of the design with everything else in the model.
func (m *Model) TestTerm(name string, method freedom.Method) (FTest, error) {
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
	return m.Test(name, l, method)
}
