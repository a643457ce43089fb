package mixed_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/stat/linear"
	"example.org/bookend/stat/mixed"
	"example.org/bookend/stat/mixed/component"
	"example.org/bookend/stat/mixed/freedom"
)

// programme is a made-up one: codes in stints of unequal runs, on days.
type programme struct {
	tyre, stint, day []string
	position, y      []float64
}

func makeProgramme(seed uint64, stints int, between, within float64) *programme {
	r := rand.New(rand.NewPCG(seed, 7))
	p := &programme{}
	for s := range stints {
		code := []string{"K", "P", "R", "K", "R", "P"}[s%6]
		u := between * r.NormFloat64()
		for range 2 + r.IntN(4) {
			p.tyre = append(p.tyre, code)
			p.stint = append(p.stint, fmt.Sprintf("s%02d", s))
			p.day = append(p.day, fmt.Sprintf("d%d", s%3))
			p.position = append(p.position, float64(s))
			p.y = append(p.y, 50+0.1*float64(s)+u+within*r.NormFloat64())
		}
	}
	return p
}

func (p *programme) design(t testing.TB) *linear.Design {
	t.Helper()
	d := linear.NewDesign(len(p.y))
	for _, err := range []error{d.AddIntercept(), d.AddFactor("tyre", []string{"K", "P", "R"}, p.tyre, linear.Treatment), d.AddColumn("position", p.position)} {
		if err != nil {
			t.Fatal(err)
		}
	}
	return d
}

func (p *programme) fit(t testing.TB, opt mixed.Options, cs ...component.Component) *mixed.Model {
	t.Helper()
	if cs == nil {
		cs = []component.Component{component.Intercept("stint", p.stint), component.Intercept("day", p.day)}
	}
	m, err := mixed.Fit(p.design(t), p.y, cs, opt)
	if err != nil {
		t.Fatal(err)
	}
	sane(t, m)
	return m
}

func near(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol*math.Max(1, math.Abs(want))) {
		t.Errorf("%s = %v, want %v", what, got, want)
	}
}

// sane fails on anything that is no number.
func sane(t testing.TB, m *mixed.Model) {
	t.Helper()
	bad := func(what string, v float64, infinite bool) {
		if math.IsNaN(v) || (math.IsInf(v, 0) && !(infinite && v > 0)) {
			t.Errorf("%s is %v", what, v)
		}
	}
	for _, v := range m.Variances {
		bad("variance of "+v.Component, v.Value, false)
		bad("its error", v.StdErr, false)
		if v.Term == v.Other && v.Value < 0 {
			t.Errorf("the variance of %s is %v", v.Component, v.Value)
		}
	}
	bad("criterion", m.Criterion, false)
	for i := range m.Fitted {
		bad("fitted", m.Fitted[i], false)
		bad("mean", m.FittedMean[i], false)
		bad("residual", m.Residuals[i], false)
	}
	for _, method := range []freedom.Method{freedom.KenwardRoger, freedom.Satterthwaite, freedom.KenwardRogerKept, freedom.FixedTerms} {
		c, err := m.Coefficients(method)
		if err != nil {
			if m.Method == mixed.ML && fault.CodeOf(err) == fault.Unsupported {
				continue
			}
			t.Fatal(err)
		}
		var l [][]float64
		for i, b := range c {
			bad(b.Name, b.Estimate, false)
			bad("error of "+b.Name, b.StdErr, false)
			bad("df of "+b.Name, b.DF, true)
			bad("t of "+b.Name, b.T, false)
			bad("p of "+b.Name, b.P, false)
			if b.HasTest && !(b.DF > 0) {
				t.Errorf("df of %s are %v by %v", b.Name, b.DF, method)
			}
			if b.Estimated && len(m.Names) == m.Rank {
				row := make([]float64, len(c))
				row[i] = 1
				l = append(l, row)
			}
		}
		f, err := m.Test("all", l, method)
		if err != nil {
			t.Fatal(err)
		}
		bad("F", f.F, false)
		bad("den", f.Den, true)
		bad("p", f.P, false)
	}
	for _, v := range m.Variances {
		if v.Component == component.ResidualName {
			continue
		}
		e, err := m.Effects(v.Component)
		if err == nil {
			for _, x := range e {
				bad("effect", x.Estimate, false)
				bad("its error", x.StdErr, false)
				bad("its error", x.Conditional, false)
			}
		} else if fault.CodeOf(err) != fault.Unsupported {
			t.Fatal(err)
		}
		path, se, err := m.Path(v.Component)
		if err != nil {
			t.Fatal(err)
		}
		for i := range path {
			bad("path", path[i], false)
			if se != nil {
				bad("its error", se[i], false)
			}
		}
	}
}

func TestShiftingAndScalingTheResponse(t *testing.T) {
	for seed := range uint64(8) {
		p := makeProgramme(seed, 11, 0.4, 0.5)
		a := p.fit(t, mixed.Options{})
		q := *p
		q.y = nil
		const by, plus = -250.0, 1e4
		for _, y := range p.y {
			q.y = append(q.y, by*y+plus)
		}
		b := q.fit(t, mixed.Options{})
		for i, v := range a.Variances {
			near(t, "variance of "+v.Component, b.Variances[i].Value, by*by*v.Value, 1e-7)
		}
		ca, cb := coefficients(t, a, freedom.KenwardRoger), coefficients(t, b, freedom.KenwardRoger)
		for i := range ca {
			want := by * ca[i].Estimate
			if i == 0 {
				want += plus
			}
			near(t, ca[i].Name, cb[i].Estimate, want, 1e-9)
			near(t, "error of "+ca[i].Name, cb[i].StdErr, -by*ca[i].StdErr, 1e-8)
			near(t, "df of "+ca[i].Name, cb[i].DF, ca[i].DF, 1e-6)
		}
		near(t, "criterion", b.Criterion, a.Criterion+2*float64(a.N-a.Rank)*math.Log(-by), 1e-9)
	}
}

func TestReorderingRowsAndRelabellingGroups(t *testing.T) {
	for seed := range uint64(8) {
		p := makeProgramme(seed, 10, 0.4, 0.5)
		a := p.fit(t, mixed.Options{})
		q := &programme{}
		for _, i := range rand.New(rand.NewPCG(seed, 1)).Perm(len(p.y)) {
			q.tyre = append(q.tyre, p.tyre[i])
			q.stint = append(q.stint, "other "+p.stint[i])
			q.day = append(q.day, p.day[i]+"x")
			q.position = append(q.position, p.position[i])
			q.y = append(q.y, p.y[i])
		}
		b := q.fit(t, mixed.Options{}, component.Intercept("day", q.day), component.Intercept("stint", q.stint))
		for _, v := range a.Variances {
			near(t, "variance of "+v.Component, entry(t, b, v.Component, "", "").Value, v.Value, 1e-9)
		}
		near(t, "criterion", b.Criterion, a.Criterion, 1e-11)
		ca, cb := coefficients(t, a, freedom.KenwardRoger), coefficients(t, b, freedom.KenwardRoger)
		for i := range ca {
			near(t, ca[i].Name, cb[i].Estimate, ca[i].Estimate, 1e-10)
			near(t, "df of "+ca[i].Name, cb[i].DF, ca[i].DF, 1e-6)
		}
	}
}

// Whatever other variances are tried, the criterion is no lower there.
func TestNoOtherVariancesHaveALowerCriterion(t *testing.T) {
	for seed := range uint64(12) {
		for _, method := range []mixed.Method{mixed.REML, mixed.ML} {
			p := makeProgramme(seed, 9, []float64{0, 0.2, 1}[seed%3], 0.5)
			m := p.fit(t, mixed.Options{Method: method})
			r := rand.New(rand.NewPCG(seed, 3))
			res := entry(t, m, component.ResidualName, "", "").Value
			for range 60 {
				spread := func(v float64) float64 {
					if r.IntN(5) == 0 {
						return 0
					}
					return (v + 0.01*res) * math.Exp(2*r.NormFloat64())
				}
				tried := p.fit(t, mixed.Options{Method: method, HoldResidual: true, ResidualVariance: res * math.Exp(r.NormFloat64())},
					component.Intercept("stint", p.stint).Hold(spread(entry(t, m, "stint", "", "").Value)),
					component.Intercept("day", p.day).Hold(spread(entry(t, m, "day", "", "").Value)))
				if tried.Criterion < m.Criterion-1e-9 {
					t.Errorf("seed %d: %v has criterion %v, below %v at %v", seed, tried.Variances, tried.Criterion, m.Criterion, m.Variances)
				}
			}
		}
	}
}

func TestHeldAtItsEstimateChangesNothingButTheDegreesOfFreedom(t *testing.T) {
	p := makeProgramme(4, 12, 0.6, 0.3)
	a := p.fit(t, mixed.Options{}, component.Intercept("stint", p.stint))
	b := p.fit(t, mixed.Options{}, component.Intercept("stint", p.stint).Hold(entry(t, a, "stint", "", "").Value))
	c := p.fit(t, mixed.Options{HoldResidual: true, ResidualVariance: entry(t, a, component.ResidualName, "", "").Value}, component.Intercept("stint", p.stint).Hold(entry(t, a, "stint", "", "").Value))
	near(t, "residual", entry(t, b, component.ResidualName, "", "").Value, entry(t, a, component.ResidualName, "", "").Value, 1e-10)
	near(t, "criterion", b.Criterion, a.Criterion, 1e-11)
	near(t, "criterion", c.Criterion, a.Criterion, 1e-11)
	ca, cb, cc := coefficients(t, a, freedom.Satterthwaite), coefficients(t, b, freedom.Satterthwaite), coefficients(t, c, freedom.KenwardRoger)
	for i := range ca {
		near(t, ca[i].Name, cb[i].Estimate, ca[i].Estimate, 1e-10)
		near(t, "error of "+ca[i].Name, cb[i].StdErr, ca[i].StdErr, 1e-9)
		near(t, "error of "+ca[i].Name, cc[i].StdErr, ca[i].StdErr, 1e-9)
		if !(cb[i].DF > ca[i].DF) || !math.IsInf(cc[i].DF, 1) {
			t.Errorf("df of %s: %v estimated, %v with the stint held, %v with all held", ca[i].Name, ca[i].DF, cb[i].DF, cc[i].DF)
		}
	}
}

// With the same number of runs in every stint the model is that of the stint
// means: same estimates, t and degrees of freedom (analytic).
func TestEqualStintsAreTheirMeans(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	p, means := &programme{}, &programme{}
	for s := range 9 {
		code := []string{"K", "P", "R"}[s%3]
		u, sum := 2*r.NormFloat64(), 0.0
		for range 4 {
			y := 10 + u + 0.3*r.NormFloat64()
			sum += y
			p.tyre, p.stint, p.day = append(p.tyre, code), append(p.stint, fmt.Sprint(s)), append(p.day, "d")
			p.position, p.y = append(p.position, float64(s)), append(p.y, y)
		}
		means.tyre, means.position, means.y = append(means.tyre, code), append(means.position, float64(s)), append(means.y, sum/4)
	}
	m := p.fit(t, mixed.Options{}, component.Intercept("stint", p.stint))
	plain, err := linear.Fit(means.design(t), means.y, linear.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, method := range []freedom.Method{freedom.KenwardRoger, freedom.Satterthwaite} {
		for i, b := range coefficients(t, m, method) {
			want := plain.Coefficients()[i]
			near(t, b.Name, b.Estimate, want.Estimate, 1e-11)
			near(t, "error of "+b.Name, b.StdErr, want.StdErr, 1e-10)
			near(t, "df of "+b.Name, b.DF, float64(plain.DF), 1e-8)
			near(t, "p of "+b.Name, b.P, want.P, 1e-9)
		}
		f, err := m.TestTerm("tyre", method)
		if err != nil {
			t.Fatal(err)
		}
		want, err := plain.TestTerm("tyre")
		if err != nil {
			t.Fatal(err)
		}
		near(t, "F", f.F, want.F, 1e-9)
		near(t, "den", f.Den, float64(want.Den), 1e-7)
	}
}

func TestWithoutRandomTermsItIsTheLinearModel(t *testing.T) {
	p := makeProgramme(2, 8, 0.1, 0.5)
	w := make([]float64, len(p.y))
	for i := range w {
		w[i] = 0.5 + float64(i%4)
	}
	m := p.fit(t, mixed.Options{Weights: w}, []component.Component{}...)
	plain, err := linear.Fit(p.design(t), p.y, linear.Options{Weights: w})
	if err != nil {
		t.Fatal(err)
	}
	for i, b := range coefficients(t, m, freedom.KenwardRoger) {
		want := plain.Coefficients()[i]
		near(t, b.Name, b.Estimate, want.Estimate, 1e-12)
		near(t, "error of "+b.Name, b.StdErr, want.StdErr, 1e-11)
		near(t, "df of "+b.Name, b.DF, float64(plain.DF), 1e-9)
	}
	full := p.fit(t, mixed.Options{Weights: w, Method: mixed.ML}, []component.Component{}...)
	ll, _ := plain.LogLik()
	near(t, "log likelihood", -full.Criterion/2, ll, 1e-12)
}

func TestDifferentWaysToSayTheSame(t *testing.T) {
	p := makeProgramme(6, 9, 0.5, 0.4)
	n := len(p.y)
	w, r, v := make([]float64, n), make([][]float64, n), make([][]float64, n)
	for i := range n {
		w[i] = 0.5 + float64(i%3)
		r[i], v[i] = make([]float64, n), make([]float64, n)
		r[i][i] = 1 / w[i]
		for j := range n {
			if p.stint[i] == p.stint[j] {
				v[i][j] = 1
			}
		}
	}
	a := p.fit(t, mixed.Options{Weights: w}, component.Intercept("stint", p.stint))
	ones := make([]float64, n)
	for i := range ones {
		ones[i] = 1
	}
	for what, b := range map[string]*mixed.Model{
		"the residual's covariance": p.fit(t, mixed.Options{Residual: r}, component.Intercept("stint", p.stint)),
		"a known covariance":        p.fit(t, mixed.Options{Weights: w}, component.Known("stint", v)),
		"a slope on ones":           p.fit(t, mixed.Options{Weights: w}, component.Slope("stint", p.stint, ones)),
	} {
		near(t, what+": criterion", b.Criterion, a.Criterion, 1e-11)
		near(t, what+": variance", entry(t, b, "stint", "", "").Value, entry(t, a, "stint", "", "").Value, 1e-8)
		ca, cb := coefficients(t, a, freedom.KenwardRoger), coefficients(t, b, freedom.KenwardRoger)
		for i := range ca {
			near(t, what+": "+ca[i].Name, cb[i].Estimate, ca[i].Estimate, 1e-9)
			near(t, what+": df of "+ca[i].Name, cb[i].DF, ca[i].DF, 1e-6)
		}
		pa, sa, _ := a.Path("stint")
		pb, sb, err := b.Path("stint")
		if err != nil {
			t.Fatal(err)
		}
		for i := range pa {
			near(t, what+": path", pb[i], pa[i], 1e-8)
			near(t, what+": its error", sb[i], sa[i], 1e-7)
		}
	}
	// A row without weight is as if it were not there.
	w[3], w[8] = 0, 0
	q := &programme{}
	var left []float64
	for i := range n {
		if w[i] > 0 {
			q.tyre, q.stint, q.day = append(q.tyre, p.tyre[i]), append(q.stint, p.stint[i]), append(q.day, p.day[i])
			q.position, q.y, left = append(q.position, p.position[i]), append(q.y, p.y[i]), append(left, w[i])
		}
	}
	b := p.fit(t, mixed.Options{Weights: w})
	c := q.fit(t, mixed.Options{Weights: left})
	near(t, "criterion", b.Criterion, c.Criterion, 1e-12)
	if b.N != n-2 || len(b.Fitted) != n {
		t.Errorf("%d rows with weight, %d fitted", b.N, len(b.Fitted))
	}
}

func TestTheSameInputGivesTheSameBits(t *testing.T) {
	p := makeProgramme(3, 12, 0.5, 0.4)
	a, b := p.fit(t, mixed.Options{}), p.fit(t, mixed.Options{})
	if fmt.Sprintf("%x %x %x", a.Criterion, a.Coef, a.Fitted) != fmt.Sprintf("%x %x %x", b.Criterion, b.Coef, b.Fitted) || fmt.Sprint(a.Variances) != fmt.Sprint(b.Variances) {
		t.Error("two fits of the same differ")
	}
}

// The estimates of effects sum to zero by the fixed terms that contain them,
// and what is fitted is mean and effects together.
func TestFittedIsMeanAndEffects(t *testing.T) {
	p := makeProgramme(9, 12, 0.8, 0.3)
	m := p.fit(t, mixed.Options{})
	stint, _, _ := m.Path("stint")
	day, _, _ := m.Path("day")
	for i := range p.y {
		near(t, "fitted", m.Fitted[i], m.FittedMean[i]+stint[i]+day[i], 1e-12)
		near(t, "response", p.y[i], m.Fitted[i]+m.Residuals[i], 1e-12)
	}
	e, err := m.Effects("stint")
	if err != nil {
		t.Fatal(err)
	}
	sum := 0.0
	for _, x := range e {
		sum += x.Estimate
		if !(x.Conditional <= x.StdErr) || !(x.StdErr*x.StdErr <= entry(t, m, "stint", "", "").Value*(1+1e-9)) {
			t.Errorf("errors of %+v", x)
		}
	}
	near(t, "sum of the effects", sum, 0, 1e-10)
}
