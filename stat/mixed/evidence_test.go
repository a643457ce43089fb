package mixed_test

import (
	"math"
	"testing"

	"example.org/bookend/internal/golden"
	"example.org/bookend/stat/linear"
	"example.org/bookend/stat/mixed"
	"example.org/bookend/stat/mixed/component"
	"example.org/bookend/stat/mixed/freedom"
)

// input is a model as the cases give it.
type input struct {
	Method   string `json:"method"`
	Response string `json:"response"`
	Fixed    []struct {
		Kind   string   `json:"kind"`
		Name   string   `json:"name"`
		Levels []string `json:"levels"`
	} `json:"fixed"`
	Random []struct {
		Name   string   `json:"name"`
		Groups string   `json:"groups"`
		Slopes []string `json:"slopes"`
		Alone  bool     `json:"alone"`
	} `json:"random"`
	Numbers map[string][]float64 `json:"numbers"`
	Factors map[string][]string  `json:"factors"`
}

func (in *input) design(t testing.TB) *linear.Design {
	t.Helper()
	d := linear.NewDesign(len(in.Numbers[in.Response]))
	for _, f := range in.Fixed {
		var err error
		switch f.Kind {
		case "intercept":
			err = d.AddIntercept()
		case "column":
			err = d.AddColumn(f.Name, in.Numbers[f.Name])
		case "factor":
			err = d.AddFactor(f.Name, f.Levels, in.Factors[f.Name], linear.Treatment)
		default:
			t.Fatalf("no term of kind %q", f.Kind)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	return d
}

func (in *input) components() []component.Component {
	var out []component.Component
	for _, r := range in.Random {
		g := in.Factors[r.Groups]
		switch {
		case len(r.Slopes) == 0:
			out = append(out, component.Intercept(r.Name, g))
		case r.Alone:
			out = append(out, component.Slope(r.Name, g, in.Numbers[r.Slopes[0]]))
		default:
			var x [][]float64
			for _, s := range r.Slopes {
				x = append(x, in.Numbers[s])
			}
			out = append(out, component.InterceptAndSlopes(r.Name, g, r.Slopes, x))
		}
	}
	return out
}

func (in *input) fit(t testing.TB) *mixed.Model {
	t.Helper()
	opt := mixed.Options{Weights: in.Numbers["w"]}
	if in.Method == "ML" {
		opt.Method = mixed.ML
	}
	m, err := mixed.Fit(in.design(t), in.Numbers[in.Response], in.components(), opt)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func entry(t testing.TB, m *mixed.Model, component, term, other string) mixed.Variance {
	t.Helper()
	for _, v := range m.Variances {
		if v.Component == component && (v.Term == term && v.Other == other || v.Term == other && v.Other == term) {
			return v
		}
	}
	t.Fatalf("no variance %s %s %s in %+v", component, term, other, m.Variances)
	return mixed.Variance{}
}

func coefficients(t testing.TB, m *mixed.Model, method freedom.Method) []mixed.Coefficient {
	t.Helper()
	c, err := m.Coefficients(method)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// The optimum in 40 digits: variances, criterion, coefficients and errors.
func TestTheOptimumIsTheTrueOne(t *testing.T) {
	golden.Run(t, "mpmath", "*", func(t *testing.T, c *golden.Case) {
		var in input
		c.JSON(t, "inputs.json", &in)
		var want struct {
			Variances []struct {
				Component, Term, Other string
				Value                  float64
			}
			Criterion float64
			Coef, SE  []float64
		}
		c.JSON(t, "expected.json", &want)
		m := in.fit(t)
		for _, v := range want.Variances {
			c.NearRel(t, v.Component+" "+v.Term+" "+v.Other, entry(t, m, v.Component, v.Term, v.Other).Value, v.Value)
		}
		c.NearRel(t, "criterion", m.Criterion, want.Criterion)
		for i, b := range coefficients(t, m, freedom.Satterthwaite) {
			c.NearRel(t, "coefficient "+b.Name, b.Estimate, want.Coef[i])
			c.NearRel(t, "error of "+b.Name, b.StdErr, want.SE[i])
		}
	})
}

func TestDegreesOfFreedomAgreeWithThePeers(t *testing.T) {
	golden.Run(t, "lme4-1.1-31", "degrees-*", func(t *testing.T, c *golden.Case) {
		var in input
		c.JSON(t, "inputs.json", &in)
		var want struct {
			SE  []float64 `json:"se_kr"`
			KR  []float64 `json:"df_kr"`
			Sat []float64 `json:"df_satterthwaite"`
			P   []float64 `json:"p_kr"`
		}
		c.JSON(t, "expected.json", &want)
		m := in.fit(t)
		sat := coefficients(t, m, freedom.Satterthwaite)
		for i, b := range coefficients(t, m, freedom.KenwardRoger) {
			c.Near(t, "Kenward-Roger df of "+b.Name, b.DF, want.KR[i])
			c.Near(t, "Satterthwaite df of "+b.Name, sat[i].DF, want.Sat[i])
			if math.Abs(b.StdErr-want.SE[i]) > 1e-4*want.SE[i] {
				t.Errorf("error of %s = %v, want %v", b.Name, b.StdErr, want.SE[i])
			}
			c.NearRel(t, "p of "+b.Name, b.P, want.P[i])
		}
	})
}

func TestAVarianceOfZeroIsExactlyZero(t *testing.T) {
	golden.Run(t, "lme4-1.1-31", "dyestuff2*", func(t *testing.T, c *golden.Case) {
		var in input
		c.JSON(t, "inputs.json", &in)
		var want struct {
			Residual  float64
			Coef, SE  []float64
			Criterion float64
			KR        []float64 `json:"df_kr_kept"`
			P         []float64 `json:"p_kr_kept"`
		}
		c.JSON(t, "expected.json", &want)
		m := in.fit(t)
		if v := entry(t, m, "Batch", "", ""); v.Value != 0 || !v.Zero || v.HasStdErr {
			t.Errorf("the variance of Batch is %+v", v)
		}
		if !m.Caveats.Has("variance_zero") {
			t.Error("nothing says that the variance is zero")
		}
		c.NearRel(t, "residual", entry(t, m, component.ResidualName, "", "").Value, want.Residual)
		c.Near(t, "criterion", m.Criterion, want.Criterion)
		for _, method := range []freedom.Method{freedom.KenwardRoger, freedom.Satterthwaite, freedom.FixedTerms, freedom.KenwardRogerKept} {
			b := coefficients(t, m, method)[0]
			c.NearRel(t, "mean", b.Estimate, want.Coef[0])
			c.NearRel(t, "its error", b.StdErr, want.SE[0])
			df := 29.0 // rows less fixed terms
			if method == freedom.KenwardRogerKept {
				df = want.KR[0]
				c.NearRel(t, "p", b.P, want.P[0])
			}
			c.NearRel(t, "df, "+method.String(), b.DF, df)
		}
	})
}

type fixture struct {
	Variances []struct {
		Group, Term, Other string
		Value              float64
	}
	Criterion float64
	Coef, SE  []float64
	CovKR     [][]float64 `json:"cov_kr"`
	DFKR      []float64   `json:"df_kr"`
	DFSat     []float64   `json:"df_satterthwaite"`
	TestsKR   []fixtureF  `json:"tests_kr"`
	TestsSat  []fixtureF  `json:"tests_satterthwaite"`
	Fitted    []float64
	Singular  bool
	Effects   []struct {
		Component, Term, Group string
		Value, Conditional     float64
	}
}

type fixtureF struct {
	Columns          []int
	F, Den, Scale, P float64
}

// Whole fits beside lme4, pbkrtest and lmerTest: the models of this house.
func TestWholeFitsAgreeWithThePeers(t *testing.T) {
	for _, match := range []string{"programme-*", "raters-*", "sleepstudy-*", "slopes-*"} {
		golden.Run(t, "lme4-1.1-31", match, wholeFit)
	}
}

func wholeFit(t *testing.T, c *golden.Case) {
	var in input
	c.JSON(t, "inputs.json", &in)
	var want fixture
	c.JSON(t, "expected.json", &want)
	m := in.fit(t)
	name := func(s string) string {
		if s == "(Intercept)" {
			return "intercept"
		}
		return s
	}
	for _, v := range want.Variances {
		if v.Group == "Residual" {
			c.NearRel(t, "residual", entry(t, m, component.ResidualName, "", "").Value, v.Value)
			continue
		}
		term, other := "", ""
		for _, r := range in.Random {
			if r.Name == v.Group && len(r.Slopes) > 0 && !r.Alone {
				term, other = name(v.Term), name(v.Other)
				if v.Other == "" {
					other = term
				}
			}
		}
		c.NearRel(t, v.Group+" "+v.Term+" "+v.Other, entry(t, m, v.Group, term, other).Value, v.Value)
	}
	if want.Singular != (m.Caveats.Has("variance_zero") || m.Caveats.Has("covariance_singular")) {
		t.Errorf("singular is %v, caveats %v", want.Singular, m.Caveats)
	}
	c.NearRel(t, "criterion", m.Criterion, want.Criterion)
	sat := coefficients(t, m, freedom.Satterthwaite)
	for i, b := range sat {
		if math.Abs(b.Estimate-want.Coef[i]) > c.Tol*want.SE[i] {
			t.Errorf("%s = %v, want %v", b.Name, b.Estimate, want.Coef[i])
		}
		c.NearRel(t, "error of "+b.Name, b.StdErr, want.SE[i])
		if want.DFSat != nil && math.Abs(b.DF-want.DFSat[i]) > 1e-4*want.DFSat[i] {
			// lmerTest takes second derivatives numerically.
			t.Errorf("Satterthwaite df of %s = %v, want %v", b.Name, b.DF, want.DFSat[i])
		}
	}
	for i, f := range want.Fitted {
		if math.Abs(m.Fitted[i]-f) > 1e-6*want.SE[0] {
			t.Errorf("fitted %d = %v, want %v", i, m.Fitted[i], f)
		}
	}
	rows := func(columns []int) [][]float64 {
		var l [][]float64
		for _, k := range columns {
			row := make([]float64, len(m.Coef))
			row[k-1] = 1
			l = append(l, row)
		}
		return l
	}
	if in.Method == "REML" {
		var all []int
		for i := range m.Coef {
			all = append(all, i+1)
		}
		// pbkrtest keeps variances of zero among the estimated.
		kr, err := m.Contrasts(rows(all), freedom.KenwardRogerKept)
		if err != nil {
			t.Fatal(err)
		}
		adjusted(t, c, kr, want.DFKR, want.CovKR)
	} else if _, err := m.Coefficients(freedom.KenwardRoger); err == nil {
		t.Error("Kenward-Roger is given for full likelihood")
	}
	check := func(method freedom.Method, f fixtureF, tol float64) {
		got, err := m.Test("", rows(f.Columns), method)
		if err != nil || !got.HasTest {
			t.Fatalf("%v: %+v, %v", method, got, err)
		}
		for _, x := range []struct {
			what      string
			got, want float64
		}{{"F", got.F, f.F}, {"den", got.Den, f.Den}, {"scale", got.Scale, f.Scale}, {"p", got.P, f.P}} {
			if math.Abs(x.got-x.want) > tol*math.Abs(x.want) {
				t.Errorf("%s of %v by %v = %v, want %v", x.what, f.Columns, method, x.got, x.want)
			}
		}
		if got.Num != len(f.Columns) {
			t.Errorf("%d restrictions, want %d", got.Num, len(f.Columns))
		}
	}
	for _, f := range want.TestsKR {
		check(freedom.KenwardRogerKept, f, 1e-5)
	}
	for _, f := range want.TestsSat {
		f.Scale = 1
		check(freedom.Satterthwaite, f, 1e-4)
	}
	for _, e := range want.Effects {
		got, err := m.Effects(e.Component)
		if err != nil {
			t.Fatal(err)
		}
		found := false
		for _, g := range got {
			if g.Group == e.Group && (g.Term == name(e.Term) || g.Term == "slope") {
				found = true
				if math.Abs(g.Estimate-e.Value) > 1e-5*math.Max(e.Conditional, math.Abs(e.Value)) || math.Abs(g.Conditional-e.Conditional) > 1e-5*e.Conditional {
					t.Errorf("effect %+v, want %+v", g, e)
				}
			}
		}
		if !found {
			t.Errorf("no effect %+v", e)
		}
	}
}

func adjusted(t *testing.T, c *golden.Case, kr *mixed.Contrasts, df []float64, cov [][]float64) {
	t.Helper()
	for i := range df {
		c.NearRel(t, "Kenward-Roger df", kr.DF[i], df[i])
		for j, v := range cov[i] {
			if scale := math.Sqrt(cov[i][i] * cov[j][j]); math.Abs(kr.Covariance[i][j]-v) > c.Tol*scale {
				t.Errorf("adjusted covariance %d, %d = %v, want %v", i, j, kr.Covariance[i][j], v)
			}
		}
	}
}

func TestWeightsCountInTheDegreesOfFreedom(t *testing.T) {
	golden.Run(t, "r-4.2.2", "weights", func(t *testing.T, c *golden.Case) {
		var in input
		c.JSON(t, "inputs.json", &in)
		var want struct {
			CovKR [][]float64 `json:"cov_kr"`
			DFKR  []float64   `json:"df_kr"`
		}
		c.JSON(t, "expected.json", &want)
		m := in.fit(t)
		var rows [][]float64
		for i := range m.Coef {
			row := make([]float64, len(m.Coef))
			row[i] = 1
			rows = append(rows, row)
		}
		kr, err := m.Contrasts(rows, freedom.KenwardRoger)
		if err != nil {
			t.Fatal(err)
		}
		adjusted(t, c, kr, want.DFKR, want.CovKR)
	})
}

func TestSleepstudyAsPrinted(t *testing.T) {
	golden.Run(t, "bates-2015", "sleepstudy", func(t *testing.T, c *golden.Case) {
		var in input
		c.JSON(t, "inputs.json", &in)
		var want struct {
			Variances, Deviations []float64
			Correlation           float64
			Criterion             float64
			Coef, SE, T           []float64
			Deviance              map[string]float64 `json:"ml_deviance"`
			Chisq, P              []float64
		}
		c.JSON(t, "expected.json", &want)
		m := in.fit(t)
		level := entry(t, m, "Subject", "intercept", "intercept").Value
		slope := entry(t, m, "Subject", "Days", "Days").Value
		cov := entry(t, m, "Subject", "Days", "intercept").Value
		res := entry(t, m, component.ResidualName, "", "").Value
		for i, v := range []float64{level, slope, cov, res} {
			c.NearRel(t, "variance", v, want.Variances[i])
		}
		for i, v := range []float64{level, slope, res} {
			c.NearRel(t, "deviation", math.Sqrt(v), want.Deviations[i])
		}
		c.NearRel(t, "correlation", cov/math.Sqrt(level*slope), want.Correlation)
		printed := func(what string, got, want, unit float64) {
			t.Helper()
			if math.Abs(got-want) > unit/2*(1+1e-9) {
				t.Errorf("%s = %v, printed %v", what, got, want)
			}
		}
		printed("criterion", m.Criterion, want.Criterion, 0.1)
		for i, b := range coefficients(t, m, freedom.KenwardRoger) {
			printed(b.Name, b.Estimate, want.Coef[i], 0.01)
			printed("error of "+b.Name, b.StdErr, want.SE[i], 0.01)
			printed("t of "+b.Name, b.T, want.T[i], 0.01)
		}
		// The same by full likelihood, against smaller models.
		y, g, days := in.Numbers["Reaction"], in.Factors["Subject"], in.Numbers["Days"]
		ml := func(cs ...component.Component) *mixed.Model {
			m, err := mixed.Fit(in.design(t), y, cs, mixed.Options{Method: mixed.ML})
			if err != nil {
				t.Fatal(err)
			}
			return m
		}
		fm3 := ml(component.Intercept("level", g))
		fm2 := ml(component.Intercept("level", g), component.Slope("slope", g, days))
		fm1 := ml(component.InterceptAndSlopes("both", g, []string{"Days"}, [][]float64{days}))
		for name, m := range map[string]*mixed.Model{"fm1": fm1, "fm2": fm2, "fm3": fm3} {
			printed("deviance of "+name, m.Criterion, want.Deviance[name], 1)
		}
		r, err := mixed.LikelihoodRatio(fm3, fm2)
		if err != nil {
			t.Fatal(err)
		}
		printed("chi-square of the slope", r.Statistic, want.Chisq[0], 0.01)
		printed("its p", r.P, want.P[0], 1e-12)
		if !r.HasMixture || r.Mixture != r.P/2 || !r.Caveats.Has("variance_at_edge") {
			t.Errorf("the mixture is %+v", r)
		}
		// From independent to correlated nothing lies at an edge.
		if r, err = mixed.LikelihoodRatio(fm2, fm1); err != nil {
			t.Fatal(err)
		}
		printed("chi-square of the correlation", r.Statistic, want.Chisq[1], 0.01)
		printed("its p", r.P, want.P[1], 0.1)
		if r.DF != 1 || r.HasMixture || len(r.Caveats) != 0 {
			t.Errorf("%+v", r)
		}
		// From the level alone to level and slope together: two more, one of
		// them at the edge.
		if r, err = mixed.LikelihoodRatio(fm3, fm1); err != nil || r.DF != 2 || !r.HasMixture {
			t.Errorf("%+v, %v", r, err)
		}
	})
}

func TestMachinesAsPrinted(t *testing.T) {
	golden.Run(t, "pinheiro-bates-2000", "machines", func(t *testing.T, c *golden.Case) {
		var in input
		c.JSON(t, "inputs.json", &in)
		var want struct {
			Worker, Cell, Residual, Error float64
			Differences                   []float64
		}
		c.JSON(t, "expected.json", &want)
		m := in.fit(t)
		c.Near(t, "Worker", math.Sqrt(entry(t, m, "Worker", "", "").Value), want.Worker)
		c.Near(t, "Worker:Machine", math.Sqrt(entry(t, m, "Worker:Machine", "", "").Value), want.Cell)
		if s := math.Sqrt(entry(t, m, component.ResidualName, "", "").Value); math.Abs(s-want.Residual) > 5e-5 {
			t.Errorf("residual = %v, printed %v", s, want.Residual)
		}
		for i, b := range coefficients(t, m, freedom.KenwardRoger)[1:] {
			c.Near(t, b.Name, b.Estimate, want.Differences[i])
			c.Near(t, "error of "+b.Name, b.StdErr, want.Error)
		}
	})
}

func TestShoesAsPrinted(t *testing.T) {
	golden.Run(t, "halekoh-hojsgaard-2014", "*", func(t *testing.T, c *golden.Case) {
		var in input
		c.JSON(t, "inputs.json", &in)
		var want struct{ F, Den, P float64 }
		c.JSON(t, "expected.json", &want)
		m := in.fit(t)
		f, err := m.TestTerm("material", freedom.KenwardRoger)
		if err != nil || !f.HasTest {
			t.Fatal(f, err)
		}
		c.NearRel(t, "F", f.F, want.F)
		c.NearRel(t, "df", f.Den, want.Den)
		if math.Abs(f.P-want.P) > 0.5e-4*0.1+1e-12 {
			t.Errorf("p = %v, printed %v", f.P, want.P)
		}
	})
}

func TestAWalkIsTheLocalLevelOfTheNile(t *testing.T) {
	golden.Run(t, "durbin-koopman-2012", "nile", func(t *testing.T, c *golden.Case) {
		var in struct{ Y []float64 }
		c.JSON(t, "inputs.json", &in)
		var want struct{ Noise, Step float64 }
		c.JSON(t, "expected.json", &want)
		at := make([]float64, len(in.Y))
		for i := range at {
			at[i] = float64(1871 + i)
		}
		d := linear.NewDesign(len(in.Y))
		if err := d.AddIntercept(); err != nil {
			t.Fatal(err)
		}
		m, err := mixed.Fit(d, in.Y, []component.Component{component.Walk("level", at)}, mixed.Options{})
		if err != nil {
			t.Fatal(err)
		}
		c.Near(t, "noise", entry(t, m, component.ResidualName, "", "").Value, want.Noise)
		c.Near(t, "step", entry(t, m, "level", "", "").Value, want.Step)
	})
}

func TestAWalkBesideStintsByFormulasWrittenOut(t *testing.T) {
	golden.Run(t, "r-4.2.2", "walk-and-stints", func(t *testing.T, c *golden.Case) {
		var in struct {
			Y           []float64
			Tyre, Stint []string
			Position    []float64
			Held        float64
		}
		c.JSON(t, "inputs.json", &in)
		var want struct {
			Walk, Residual, Criterion float64
			Coef, SE                  []float64
			CovKR                     [][]float64 `json:"cov_kr"`
			DFKR                      []float64   `json:"df_kr"`
			DFSat                     []float64   `json:"df_satterthwaite"`
			Path                      []float64
			PathSE                    []float64 `json:"path_se"`
			Stint                     []float64
			StintSE                   []float64 `json:"stint_se"`
		}
		c.JSON(t, "expected.json", &want)
		d := linear.NewDesign(len(in.Y))
		d.AddIntercept()
		if err := d.AddFactor("tyre", []string{"K", "P", "R"}, in.Tyre, linear.Treatment); err != nil {
			t.Fatal(err)
		}
		m, err := mixed.Fit(d, in.Y, []component.Component{component.Walk("walk", in.Position), component.Intercept("stint", in.Stint).Hold(in.Held)}, mixed.Options{})
		if err != nil {
			t.Fatal(err)
		}
		c.NearRel(t, "walk", entry(t, m, "walk", "", "").Value, want.Walk)
		c.NearRel(t, "residual", entry(t, m, component.ResidualName, "", "").Value, want.Residual)
		if v := entry(t, m, "stint", "", ""); !v.Held || v.Value != in.Held {
			t.Errorf("stint is %+v", v)
		}
		c.NearRel(t, "criterion", m.Criterion, want.Criterion)
		rows := [][]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
		kr, err := m.Contrasts(rows, freedom.KenwardRoger)
		if err != nil {
			t.Fatal(err)
		}
		sat := coefficients(t, m, freedom.Satterthwaite)
		for i := range rows {
			c.NearRel(t, "coefficient", kr.Estimate[i], want.Coef[i])
			c.NearRel(t, "error", sat[i].StdErr, want.SE[i])
			c.NearRel(t, "Kenward-Roger df", kr.DF[i], want.DFKR[i])
			if math.Abs(sat[i].DF-want.DFSat[i]) > 1e-4*want.DFSat[i] { // numerical second derivatives
				t.Errorf("Satterthwaite df = %v, want %v", sat[i].DF, want.DFSat[i])
			}
			for j := range rows {
				c.NearRel(t, "adjusted covariance", kr.Covariance[i][j], want.CovKR[i][j])
			}
		}
		path, se, err := m.Path("walk")
		if err != nil {
			t.Fatal(err)
		}
		for i := range path {
			if math.Abs(path[i]-want.Path[i]) > 1e-6 || math.Abs(se[i]-want.PathSE[i]) > 1e-6 {
				t.Errorf("walk in row %d = %v (%v), want %v (%v)", i, path[i], se[i], want.Path[i], want.PathSE[i])
			}
		}
		stints, err := m.Effects("stint")
		if err != nil {
			t.Fatal(err)
		}
		for i, e := range stints {
			if math.Abs(e.Estimate-want.Stint[i]) > 1e-6 || math.Abs(e.StdErr-want.StintSE[i]) > 1e-6 {
				t.Errorf("stint %s = %v (%v), want %v (%v)", e.Group, e.Estimate, e.StdErr, want.Stint[i], want.StintSE[i])
			}
		}
	})
}

func TestNeighboursThatResembleEachOther(t *testing.T) {
	golden.Run(t, "nlme-3.1-162", "gls-ar1-fixed-phi", func(t *testing.T, c *golden.Case) {
		var in struct {
			I    []float64 `json:"i"`
			Tyre []string  `json:"tyre"`
			Y    []float64 `json:"y"`
		}
		c.JSON(t, "inputs.json", &in)
		var want struct {
			Phi, Sigma, LogLik float64
			Coef, SE           []float64
		}
		c.JSON(t, "expected.json", &want)
		d := linear.NewDesign(len(in.Y))
		d.AddIntercept()
		d.AddFactor("tyre", []string{"C", "A", "B", "D"}, in.Tyre, linear.Treatment)
		d.AddColumn("i", in.I)
		v, err := component.Autoregressive(in.I, want.Phi)
		if err != nil {
			t.Fatal(err)
		}
		m, err := mixed.Fit(d, in.Y, nil, mixed.Options{Residual: v})
		if err != nil {
			t.Fatal(err)
		}
		c.Near(t, "sigma", math.Sqrt(entry(t, m, component.ResidualName, "", "").Value), want.Sigma)
		c.Near(t, "log likelihood", -m.Criterion/2, want.LogLik)
		for i, b := range coefficients(t, m, freedom.KenwardRoger) {
			c.Near(t, b.Name, b.Estimate, want.Coef[i])
			c.Near(t, "error of "+b.Name, b.StdErr, want.SE[i])
		}
	})
}
