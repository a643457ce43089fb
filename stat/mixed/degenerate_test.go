package mixed_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/stat/linear"
	"example.org/bookend/stat/mixed"
	"example.org/bookend/stat/mixed/component"
	"example.org/bookend/stat/mixed/freedom"
)

func refused(t *testing.T, err error, code fault.Code, words string) {
	t.Helper()
	if fault.CodeOf(err) != code || !strings.Contains(fmt.Sprint(err), words) {
		t.Errorf("%q (%s), want %q with %q", err, fault.CodeOf(err), code, words)
	}
}

func TestWhatCannotBeToldIsRefusedByName(t *testing.T) {
	p := makeProgramme(1, 9, 0.5, 0.4)
	n := len(p.y)
	one, each, code := make([]string, n), make([]string, n), make([]string, n)
	for i := range n {
		one[i], each[i], code[i] = "all", fmt.Sprint(i), p.tyre[i]
	}
	fit := func(opt mixed.Options, cs ...component.Component) (*mixed.Model, error) {
		return mixed.Fit(p.design(t), p.y, cs, opt)
	}
	_, err := fit(mixed.Options{}, component.Intercept("stint", one))
	refused(t, err, fault.Invalid, "lies within the fixed terms")
	_, err = fit(mixed.Options{}, component.Intercept("set", code)) // one set a code
	refused(t, err, fault.Invalid, `component "set" lies within the fixed terms`)
	_, err = fit(mixed.Options{}, component.Intercept("run", each))
	refused(t, err, fault.Invalid, `component "run" cannot be told from residual`)
	_, err = fit(mixed.Options{}, component.Intercept("stint", p.stint), component.Intercept("fitment", p.stint))
	refused(t, err, fault.Invalid, `component "fitment" cannot be told from stint`)
	if fault.HintOf(err) == "" {
		t.Error("there is no hint")
	}
	// Dropped when asked, and said.
	m, err := fit(mixed.Options{Inseparable: mixed.DropInseparable}, component.Intercept("stint", p.stint), component.Intercept("run", each), component.Intercept("set", code))
	if err != nil {
		t.Fatal(err)
	}
	sane(t, m)
	if !m.Caveats.Has("component_dropped") || !m.Caveats.Has("component_untold") || !entry(t, m, "run", "", "").Dropped {
		t.Errorf("caveats %v", m.Caveats)
	}
	without, err := fit(mixed.Options{}, component.Intercept("stint", p.stint))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "criterion", m.Criterion, without.Criterion, 1e-11)
	// A held variance needs no telling: one set a code, from elsewhere.
	m, err = fit(mixed.Options{}, component.Intercept("stint", p.stint), component.Intercept("set", code).Hold(0.25))
	if err != nil {
		t.Fatal(err)
	}
	sane(t, m)
	a, b := coefficients(t, without, freedom.Satterthwaite), coefficients(t, m, freedom.Satterthwaite)
	for i, k := range []float64{1, 2, 2} { // the set's variance once in the mean of K, twice in a difference
		near(t, "variance of "+b[i].Name, b[i].StdErr*b[i].StdErr, a[i].StdErr*a[i].StdErr+k*0.25, 1e-9)
	}
}

func TestThinAndPerfectData(t *testing.T) {
	p := makeProgramme(5, 9, 0.5, 0.4)
	n := len(p.y)
	// The response does not vary.
	same := *p
	same.y = make([]float64, n)
	for i := range same.y {
		same.y[i] = 31.7
	}
	m := same.fit(t, mixed.Options{})
	if !m.PerfectFit || !m.Caveats.Has("perfect_fit") || m.HasLogLik {
		t.Errorf("perfect %v, caveats %v", m.PerfectFit, m.Caveats)
	}
	if c := coefficients(t, m, freedom.KenwardRoger); c[1].HasTest || math.Abs(c[0].Estimate-31.7) > 1e-12 {
		t.Errorf("%+v", c)
	}
	// It lies on the fixed terms.
	for i := range same.y {
		same.y[i] = 1e3 + 0.37*p.position[i]
		if p.tyre[i] == "R" {
			same.y[i] -= 5
		}
	}
	if m := same.fit(t, mixed.Options{}); !m.PerfectFit {
		t.Errorf("%+v", m.Variances)
	}
	// Runs of a stint agree to the last digit.
	for i := range same.y {
		same.y[i] = p.y[0]
		for j := range same.y {
			if p.stint[j] == p.stint[i] {
				same.y[i] = p.y[j]
				break
			}
		}
	}
	m = same.fit(t, mixed.Options{}, component.Intercept("stint", same.stint))
	if !m.Caveats.Has("no_scatter_within") || !entry(t, m, component.ResidualName, "", "").Zero {
		t.Errorf("caveats %v", m.Caveats)
	}
	// Then the stints are the runs (analytic).
	var q programme
	for i := range same.y {
		if i == 0 || same.stint[i] != same.stint[i-1] {
			q.tyre, q.position, q.y = append(q.tyre, same.tyre[i]), append(q.position, same.position[i]), append(q.y, same.y[i])
		}
	}
	plain, err := linear.Fit(q.design(t), q.y, linear.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i, b := range coefficients(t, m, freedom.KenwardRoger) {
		want := plain.Coefficients()[i]
		near(t, b.Name, b.Estimate, want.Estimate, 1e-8)
		near(t, "error of "+b.Name, b.StdErr, want.StdErr, 1e-8)
		near(t, "df of "+b.Name, b.DF, float64(plain.DF), 1e-6)
	}
	// As many terms as runs.
	d := linear.NewDesign(2)
	d.AddIntercept()
	d.AddColumn("x", []float64{0, 1})
	m, err = mixed.Fit(d, []float64{3, 5}, []component.Component{component.Intercept("g", []string{"a", "b"})}, mixed.Options{})
	if err != nil {
		t.Fatal(err)
	}
	sane(t, m)
	if m.HasError || m.HasLogLik || !m.Caveats.Has("no_degrees_of_freedom") || math.Abs(m.Coef[1]-2) > 1e-12 {
		t.Errorf("%+v", m)
	}
	// The same with all variances known: errors, and no limit to their degrees of freedom.
	m, err = mixed.Fit(d, []float64{3, 5}, []component.Component{component.Intercept("g", []string{"a", "b"}).Hold(3)}, mixed.Options{HoldResidual: true, ResidualVariance: 1})
	if err != nil {
		t.Fatal(err)
	}
	sane(t, m)
	if c := coefficients(t, m, freedom.KenwardRoger); !c[1].HasTest || math.Abs(c[1].StdErr-math.Sqrt(8)) > 1e-12 || !math.IsInf(c[1].DF, 1) {
		t.Errorf("%+v", c)
	}
	// Two stints of one code, nothing else: one degree of freedom.
	d = linear.NewDesign(4)
	d.AddIntercept()
	m, err = mixed.Fit(d, []float64{1, 1.1, 2, 2.3}, []component.Component{component.Intercept("stint", []string{"a", "a", "b", "b"})}, mixed.Options{})
	if err != nil {
		t.Fatal(err)
	}
	sane(t, m)
	near(t, "df", coefficients(t, m, freedom.KenwardRoger)[0].DF, 1, 1e-9)
}

func TestCollinearColumnsAndMissingCells(t *testing.T) {
	p := makeProgramme(8, 9, 0.5, 0.4)
	d := p.design(t)
	twice := make([]float64, len(p.y))
	for i := range twice {
		twice[i] = 2*p.position[i] + 1
	}
	d.AddColumn("water", twice)
	d.AddFactor("driver", []string{"a", "b"}, p.tyreAs("R", "b", "a"), linear.Treatment)
	cs := []component.Component{component.Intercept("stint", p.stint)}
	_, err := mixed.Fit(d, p.y, cs, mixed.Options{})
	refused(t, err, fault.Invalid, `column "water" cannot be told apart: it is the sum of 1 of "intercept", 2 of "position"`)
	m, err := mixed.Fit(d, p.y, cs, mixed.Options{Aliased: linear.DropAliased})
	if err != nil {
		t.Fatal(err)
	}
	sane(t, m)
	plain := p.fit(t, mixed.Options{}, cs...)
	near(t, "criterion", m.Criterion, plain.Criterion, 1e-10)
	if !m.Caveats.Has("column_aliased") || m.Estimated[4] || m.Estimated[5] {
		t.Errorf("caveats %v", m.Caveats)
	}
	// tyre R and driver b are one: each alone cannot be had, their sum can.
	_, err = m.Contrasts([][]float64{{0, 0, 1, 0, 0, 0}}, freedom.KenwardRoger)
	refused(t, err, fault.Invalid, `contrast 1: it cannot be had from these runs`)
	c, err := m.Contrasts([][]float64{{0, 0, 1, 0, 0, 1}}, freedom.KenwardRoger)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "R with b", c.Estimate[0], plain.Coef[2], 1e-10)
	// A level without a run.
	d = linear.NewDesign(len(p.y))
	d.AddIntercept()
	d.AddFactor("tyre", []string{"K", "P", "R", "T"}, p.tyre, linear.Treatment)
	_, err = mixed.Fit(d, p.y, cs, mixed.Options{})
	refused(t, err, fault.Invalid, `column "tyre[T]" cannot be told apart: it is zero in every row`)
}

func (p *programme) tyreAs(code, is, isNot string) []string {
	out := make([]string, len(p.tyre))
	for i, c := range p.tyre {
		out[i] = isNot
		if c == code {
			out[i] = is
		}
	}
	return out
}

func TestFortyCandidates(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	levels := []string{"K"}
	var tyre, stint []string
	var y []float64
	for s := range 53 {
		code := "K"
		if s%4 != 0 {
			code = fmt.Sprintf("C%02d", s-s/4)
			levels = append(levels, code)
		}
		u := 0.4 * r.NormFloat64()
		for range 3 + s%3 {
			tyre, stint, y = append(tyre, code), append(stint, fmt.Sprint(s)), append(y, 20+u+0.3*r.NormFloat64())
		}
	}
	d := linear.NewDesign(len(y))
	d.AddIntercept()
	if err := d.AddFactor("tyre", levels, tyre, linear.Treatment); err != nil {
		t.Fatal(err)
	}
	m, err := mixed.Fit(d, y, []component.Component{component.Intercept("stint", stint)}, mixed.Options{})
	if err != nil {
		t.Fatal(err)
	}
	// The candidates have a stint each, so only the control's tell the stint's variance.
	for _, b := range coefficients(t, m, freedom.KenwardRoger)[1:] {
		if !b.HasTest || !(b.DF > 10 && b.DF < 30) {
			t.Errorf("%+v", b)
		}
	}
	if len(levels) < 40 {
		t.Errorf("%d levels", len(levels))
	}
}

func TestOddInputIsRefused(t *testing.T) {
	p := makeProgramme(1, 6, 0.5, 0.4)
	n := len(p.y)
	stint := component.Intercept("stint", p.stint)
	short := p.y[:n-1]
	with := func(v float64) []float64 { y := append([]float64(nil), p.y...); y[2] = v; return y }
	negative := make([][]float64, n)
	for i := range negative {
		negative[i] = make([]float64, n)
		negative[i][i] = 1
	}
	negative[0][1], negative[1][0] = 2, 2
	crooked := make([][]float64, n)
	for i := range crooked {
		crooked[i] = make([]float64, n)
		crooked[i][i] = 1
	}
	crooked[0][1] = 0.5
	for i, c := range []struct {
		y   []float64
		cs  []component.Component
		opt mixed.Options
		say string
	}{
		{short, nil, mixed.Options{}, "values for"},
		{with(math.NaN()), nil, mixed.Options{}, "no finite value in row 3"},
		{with(math.Inf(1)), nil, mixed.Options{}, "no finite value in row 3"},
		{p.y, []component.Component{stint, stint}, mixed.Options{}, "two components"},
		{p.y, []component.Component{component.Intercept("", p.stint)}, mixed.Options{}, "cannot be called"},
		{p.y, []component.Component{component.Intercept(component.ResidualName, p.stint)}, mixed.Options{}, "cannot be called"},
		{p.y, []component.Component{component.Intercept("g", p.stint[1:])}, mixed.Options{}, "groups for"},
		{p.y, []component.Component{component.Intercept("g", nil)}, mixed.Options{}, "rows for"},
		{p.y, []component.Component{component.Slope("g", p.stint, short)}, mixed.Options{}, "values for"},
		{p.y, []component.Component{component.Slope("g", p.stint, with(math.NaN()))}, mixed.Options{}, "no finite value"},
		{p.y, []component.Component{component.InterceptAndSlopes("g", p.stint, []string{"a", "b"}, [][]float64{p.position})}, mixed.Options{}, "names for"},
		{p.y, []component.Component{component.InterceptAndSlopes("g", p.stint, []string{"a"}, [][]float64{p.position}).Hold(1)}, mixed.Options{}, "only a single variance"},
		{p.y, []component.Component{stint.Hold(-1)}, mixed.Options{}, "held is -1"},
		{p.y, []component.Component{stint.Hold(math.NaN())}, mixed.Options{}, "held is NaN"},
		{p.y, []component.Component{component.Known("v", negative)}, mixed.Options{}, "not positive semidefinite"},
		{p.y, []component.Component{component.Known("v", crooked)}, mixed.Options{}, "not symmetric"},
		{p.y, []component.Component{component.Known("v", crooked[1:])}, mixed.Options{}, "rows for"},
		{p.y, []component.Component{component.Walk("v", with(math.Inf(1)))}, mixed.Options{}, "not finite"},
		{p.y, nil, mixed.Options{Weights: short}, "weights for"},
		{p.y, nil, mixed.Options{Weights: with(-1)}, "weight of row 3"},
		{p.y, nil, mixed.Options{Weights: make([]float64, n)}, "no row with weight"},
		{p.y, nil, mixed.Options{Weights: p.y, Residual: negative}, "given together"},
		{p.y, nil, mixed.Options{Residual: negative}, "not positive definite"},
		{p.y, nil, mixed.Options{Residual: crooked}, "not symmetric"},
		{p.y, nil, mixed.Options{HoldResidual: true}, "held at 0"},
		{p.y, nil, mixed.Options{Method: 7}, "no method"},
	} {
		_, err := mixed.Fit(p.design(t), c.y, c.cs, c.opt)
		if err == nil || !strings.Contains(err.Error(), c.say) || fault.CodeOf(err) == fault.Internal {
			t.Errorf("%d: %v, want %q", i, err, c.say)
		}
	}
	m := p.fit(t, mixed.Options{}, stint)
	if _, err := m.Contrasts([][]float64{{1}}, freedom.KenwardRoger); fault.CodeOf(err) != fault.Invalid {
		t.Error(err)
	}
	if _, err := m.Contrasts([][]float64{{1, math.NaN(), 0, 0}}, freedom.KenwardRoger); fault.CodeOf(err) != fault.Invalid {
		t.Error(err)
	}
	if _, err := m.Contrasts(nil, 9); fault.CodeOf(err) != fault.Invalid {
		t.Error(err)
	}
	if _, err := m.Effects("nonesuch"); fault.CodeOf(err) != fault.NotFound {
		t.Error(err)
	}
	if _, err := component.Autoregressive(p.position, 1); fault.CodeOf(err) != fault.Invalid {
		t.Error(err)
	}
	if _, err := component.Cells(p.stint, p.tyre[1:]); fault.CodeOf(err) != fault.Invalid {
		t.Error(err)
	}
}

// Small random models of every kind: nothing but numbers, or a refusal with a
// reason.
func TestRandomModelsGiveNumbersOrReasons(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 13))
	for trial := range 400 {
		n := 3 + r.IntN(22)
		group := func(k int) []string {
			g := make([]string, n)
			for i := range g {
				g[i] = fmt.Sprint(r.IntN(k))
			}
			return g
		}
		x, y := make([]float64, n), make([]float64, n)
		for i := range x {
			x[i] = float64(r.IntN(5))
			y[i] = math.Round(4*r.NormFloat64()) / []float64{1, 4, 1e-6, 1e6}[trial%4]
		}
		a, b := group(2+r.IntN(5)), group(1+r.IntN(n))
		d := linear.NewDesign(n)
		d.AddIntercept()
		if trial%2 == 0 {
			d.AddColumn("x", x)
		}
		all := []component.Component{component.Intercept("a", a), component.Intercept("b", b), component.Walk("walk", x),
			component.InterceptAndSlopes("c", a, []string{"x"}, [][]float64{x}), component.Slope("s", b, x), component.Intercept("h", b).Hold(0.5)}
		var cs []component.Component
		for _, c := range all {
			if r.IntN(3) == 0 {
				cs = append(cs, c)
			}
		}
		opt := mixed.Options{Inseparable: mixed.SeparateRule(trial / 2 % 2), Aliased: linear.DropAliased, Method: mixed.Method(trial / 4 % 2)}
		m, err := mixed.Fit(d, y, cs, opt)
		if err != nil {
			bottomless := opt.Method == mixed.ML && fault.CodeOf(err) == fault.Unsupported
			if fault.CodeOf(err) != fault.Invalid && !bottomless {
				t.Errorf("trial %d: %v", trial, err)
			}
			continue
		}
		sane(t, m)
		if t.Failed() {
			t.Fatalf("trial %d: n %d, %d components, %+v", trial, n, len(cs), m.Variances)
		}
	}
}

func TestLikelihoodRatios(t *testing.T) {
	p := makeProgramme(21, 14, 0.6, 0.4)
	ml := mixed.Options{Method: mixed.ML}
	large := p.fit(t, ml)
	small := p.fit(t, ml, component.Intercept("stint", p.stint))
	r, err := mixed.LikelihoodRatio(small, large)
	if err != nil {
		t.Fatal(err)
	}
	if r.DF != 1 || !r.HasMixture || r.Statistic < 0 {
		t.Errorf("%+v", r)
	}
	none := p.fit(t, mixed.Options{}, []component.Component{}...)
	one := p.fit(t, mixed.Options{}, component.Intercept("stint", p.stint))
	both := p.fit(t, mixed.Options{})
	if r, err = mixed.LikelihoodRatio(none, both); err != nil || r.DF != 2 || r.HasMixture || !r.Caveats.Has("variance_at_edge") {
		t.Errorf("%+v, %v", r, err)
	}
	if r, err = mixed.LikelihoodRatio(none, one); err != nil || !r.HasMixture || r.Mixture != r.P/2 {
		t.Errorf("%+v, %v", r, err)
	}
	// Fixed terms, by full likelihood alone.
	d := linear.NewDesign(len(p.y))
	d.AddIntercept()
	fit := func(opt mixed.Options) *mixed.Model {
		m, err := mixed.Fit(d, p.y, []component.Component{component.Intercept("stint", p.stint)}, opt)
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
	if r, err = mixed.LikelihoodRatio(fit(ml), small); err != nil || r.DF != 3 || r.HasMixture || len(r.Caveats) != 0 {
		t.Errorf("%+v, %v", r, err)
	}
	_, err = mixed.LikelihoodRatio(fit(mixed.Options{}), one)
	refused(t, err, fault.Invalid, "restricted likelihoods of different fixed terms")
	_, err = mixed.LikelihoodRatio(small, one)
	refused(t, err, fault.Invalid, "different likelihoods")
	_, err = mixed.LikelihoodRatio(one, one)
	refused(t, err, fault.Invalid, "the same")
	_, err = mixed.LikelihoodRatio(both, one)
	refused(t, err, fault.Invalid, `component "day" is not in the larger one`)
	_, err = mixed.LikelihoodRatio(small, fit(ml))
	refused(t, err, fault.Invalid, "is not in the larger one")
	other := *p
	other.y = append([]float64(nil), p.y...)
	other.y[4]++
	_, err = mixed.LikelihoodRatio(one, other.fit(t, mixed.Options{}))
	refused(t, err, fault.Invalid, "differ in response or weight in row 5")
}
