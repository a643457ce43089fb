package mixed

import (
	"math"

	"example.org/bookend/fault"
	"example.org/bookend/stat/tail"
)

// DFMethod says how degrees of freedom are counted.
type DFMethod int

// The methods.
const (
	// KenwardRoger adjusts the covariance for the variances being estimated
	// and takes degrees of freedom from their expected information; REML alone.
	KenwardRoger DFMethod = iota
	// Satterthwaite takes degrees of freedom from the curvature of the
	// likelihood and leaves the covariance as it is.
	Satterthwaite
	// KenwardRogerKept is KenwardRoger with variances estimated as zero counted
	// among the estimated, as R's pbkrtest does: fewer degrees of freedom.
	KenwardRogerKept
	// FixedTerms takes rows less fixed terms, as if there were no random ones.
	FixedTerms
)

// String gives the method's name.
func (m DFMethod) String() string {
	switch m {
	case KenwardRoger:
		return "Kenward-Roger"
	case Satterthwaite:
		return "Satterthwaite"
	case KenwardRogerKept:
		return "Kenward-Roger, zero variances kept"
	case FixedTerms:
		return "fixed terms"
	}
	return "unknown"
}

// Contrasts are linear combinations of coefficients with their covariance.
type Contrasts struct {
	Method     DFMethod
	Estimate   []float64   // in the response's unit
	Covariance [][]float64 // adjusted under Kenward-Roger; zero where HasError is false
	DF         []float64   // of each contrast; math.Inf(1) where no variance is estimated
	HasError   bool        // false without degrees of freedom
	Testable   bool        // false too where the response lies on the fixed terms
}

// spreadFor gives covariance and parts for a method.
func (m *Model) spreadFor(method DFMethod) (*spread, *dense, error) {
	s, phi := &m.inf.plain, m.inf.phi
	switch method {
	case KenwardRoger, KenwardRogerKept:
		if m.Method != REML {
			return nil, nil, fault.New(fault.Unsupported, "Kenward and Roger's degrees of freedom need restricted likelihood").
				WithHint("fit by REML, or ask for Satterthwaite's")
		}
		if method == KenwardRogerKept {
			s = &m.inf.whole
		}
		if s.phiA != nil {
			phi = s.phiA
		}
	case Satterthwaite, FixedTerms:
	default:
		return nil, nil, fault.New(fault.Invalid, "there is no method %d for degrees of freedom", method)
	}
	return s, phi, nil
}

// freedom gives the degrees of freedom of the contrast k, in the coordinates of
// the basis.
func (m *Model) freedom(s *spread, k []float64, method DFMethod) float64 {
	if m.inf.certain {
		return math.Inf(1)
	}
	rest := float64(m.part.r + m.part.restDF)
	w, ok := s.w, s.hasW
	if method == Satterthwaite {
		w, ok = s.observed, s.hasObs
	}
	if method == FixedTerms || !ok || m.PerfectFit {
		return rest
	}
	v := quadratic(m.inf.phi, k)
	g := make([]float64, len(s.parts))
	for i, n := range s.n {
		g[i] = quadratic(n, k)
	}
	variance := quadratic(w, g) // of the estimated variance of the contrast
	if v <= 0 || !(variance > 0) {
		return math.Inf(1)
	}
	return 2 * v * v / variance
}

// rotated gives the rows of l in the coordinates of the basis.
func (m *Model) rotated(l [][]float64) ([][]float64, error) {
	out := make([][]float64, len(l))
	for i, row := range l {
		k, err := m.part.rotate(row, m.Names)
		if err != nil {
			return nil, fault.At(err, "contrast %d", i+1)
		}
		out[i] = k
	}
	return out, nil
}

// Contrasts gives L beta, one row of l a contrast over all columns of the
// design. A combination that the runs do not determine is refused.
func (m *Model) Contrasts(l [][]float64, method DFMethod) (*Contrasts, error) {
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
		c.DF = append(c.DF, m.freedom(s, k[i], method))
		if m.PerfectFit {
			continue
		}
		pk := phi.apply(k[i])
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
func (m *Model) Coefficients(method DFMethod) ([]Coefficient, error) {
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
		for _, a := range m.part.aliased {
			row[a.column] = a.of[j] // of the estimated columns alone
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
	Method  DFMethod
	F       float64 // scaled under Kenward-Roger
	Scale   float64 // what F was multiplied with; 1 but for Kenward-Roger
	Num     int     // independent restrictions
	Den     float64 // degrees of freedom of the denominator; math.Inf(1) where no variance is estimated
	P       float64
	HasTest bool // false without scatter, without restrictions, or without degrees of freedom enough
}

// Test tests that all contrasts of l are zero; dependent rows count once.
func (m *Model) Test(term string, l [][]float64, method DFMethod) (FTest, error) {
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
	km := newDense(f.Num, m.part.p)
	for i, row := range rows {
		copy(km.row(i), row)
	}
	within := func(a *dense) *dense { return timesT(times(km, a), km) }
	v, ok := within(phi).factor(1e-14)
	if !ok {
		return f, nil
	}
	x := &dense{f.Num, 1, append([]float64(nil), est...)}
	v.forward(x)
	for _, e := range x.a {
		f.F += e * e / float64(f.Num)
	}
	switch {
	case f.Num == 1:
		f.Den = m.freedom(s, rows[0], method)
	case method == Satterthwaite:
		f.Den = m.manySatterthwaite(s, km, within(m.inf.phi))
	case method == FixedTerms || !s.hasW || m.inf.certain:
		f.Den = m.freedom(s, rows[0], FixedTerms)
	default:
		f.Den, f.Scale = m.manyKenwardRoger(s, within)
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

// manyKenwardRoger gives degrees of freedom and scale of the F of several
// contrasts (Kenward and Roger 1997, section 3); 0 where there are none.
func (m *Model) manyKenwardRoger(s *spread, within func(*dense) *dense) (df, scale float64) {
	l, ok := within(m.inf.phi).factor(1e-14)
	if !ok {
		return 0, 1
	}
	u := make([]*dense, len(s.parts)) // Theta Phi P Phi, but for the sign
	for i, n := range s.n {
		u[i] = within(n)
		l.solve(u[i])
	}
	a1, a2 := 0.0, 0.0
	for i := range u {
		for j := range u {
			a1 += s.w.at(i, j) * u[i].trace() * u[j].trace()
			a2 += s.w.at(i, j) * traceOf(u[i], u[j])
		}
	}
	q := float64(l.rows)
	if !(a2 > 0) {
		return math.Inf(1), 1
	}
	b := (a1 + 6*a2) / (2 * q)
	g := ((q+1)*a1 - (q+4)*a2) / ((q + 2) * a2)
	c := 3*q + 2*(1-g)
	v0, v1, v2 := 1+g/c*b, 1-(q-g)/c*b, 1-(q+2-g)/c*b
	// 1e-10, as pbkrtest has it: rounding of a numerator that is zero.
	if math.Abs(v0) < 1e-10 {
		v0 = 0
	}
	ratio := 1.0
	if e := 1 - a2/q; math.Abs(e) > 1e-14 || math.Abs(v1) > 1e-14 {
		ratio = e / v1
	}
	rho := ratio * ratio * v0 / (q * v2)
	df = 4 + (q+2)/(q*rho-1)
	scale = 1
	// 1e-2, as pbkrtest has it: near 2 the scale has no meaning.
	if math.Abs(df-2) >= 1e-2 {
		scale = df * (1 - a2/q) / (df - 2)
	}
	if math.IsNaN(df) || math.IsInf(df, 0) || !(df > 0) || !(scale > 0) {
		return 0, 1
	}
	return df, scale
}

// manySatterthwaite gives the degrees of freedom of the F of several contrasts
// (Fai and Cornelius 1996): from those of the principal combinations. 0 where
// there are none.
func (m *Model) manySatterthwaite(s *spread, km, v *dense) float64 {
	values, vectors := v.eigen()
	q := len(values)
	e := 0.0
	first := math.NaN()
	same := true
	for i := range values {
		k := make([]float64, m.part.p)
		for a := range q {
			for j := range k {
				k[j] += vectors.at(a, i) * km.at(a, j)
			}
		}
		df := m.freedom(s, k, Satterthwaite)
		if i == 0 {
			first = df
		}
		// 1e-8, as lmerTest has it: equal ones need no formula.
		if math.Abs(df-first) > 1e-8*first {
			same = false
		}
		if math.IsInf(df, 1) {
			e++
		} else if df > 2 {
			e += df / (df - 2)
		} else {
			return 2
		}
	}
	if same {
		return first
	}
	if e <= float64(q) {
		return math.Inf(1)
	}
	return 2 * e / (e - float64(q))
}

// TestTerm tests a term of the design with everything else in the model.
func (m *Model) TestTerm(name string, method DFMethod) (FTest, error) {
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
