package linear_test

import (
	"bufio"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"example.org/bookend/stat/linear"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol*(1+math.Abs(want))) {
		t.Errorf("%s = %v, want %v within %g", what, got, want, tol)
	}
}

// session makes a run series: codes, positions and a response.
func session(seed uint64, order string) (runs []string, at, y []float64) {
	rng := rand.New(rand.NewPCG(seed, 1))
	for i, r := range order {
		runs = append(runs, string(r))
		at = append(at, float64(i)+0.3*rng.Float64())
		y = append(y, 40+0.1*float64(i)+float64(r%5)+0.3*rng.NormFloat64())
	}
	return runs, at, y
}

func build(t *testing.T, runs []string, levels []string, at []float64, degree int, coding linear.Coding) *linear.Design {
	t.Helper()
	d := linear.NewDesign(len(runs))
	if coding != linear.Cell {
		must(t, d.AddIntercept())
	}
	must(t, d.AddFactor("tyre", levels, runs, coding))
	if degree > 0 {
		_, err := d.AddPolynomial("drift", at, degree)
		must(t, err)
	}
	return d
}

// The fit does not depend on the coding of a factor; adjusted means agree.
func TestCodings(t *testing.T) {
	runs, at, y := session(1, "CABCBACDDCAC")
	levels := []string{"C", "A", "B", "D"}
	var first *linear.Model
	var means []float64
	for _, coding := range []linear.Coding{linear.Treatment, linear.Sum, linear.Cell} {
		d := build(t, runs, levels, at, 2, coding)
		m, err := linear.Fit(d, y, linear.Options{})
		must(t, err)
		var l [][]float64
		for _, k := range levels {
			row, err := d.At(linear.Setting{Levels: map[string]string{"tyre": k}, Values: map[string]float64{"drift": 4.5}})
			must(t, err)
			l = append(l, row)
		}
		c, err := m.Contrasts(l)
		must(t, err)
		if first == nil {
			first, means = m, c.Estimate
			continue
		}
		near(t, string(coding)+" rss", m.RSS, first.RSS, 1e-12)
		for i := range means {
			near(t, string(coding)+" mean "+levels[i], c.Estimate[i], means[i], 1e-12)
		}
		if m.DF != first.DF {
			t.Errorf("%s: %d df, %d before", coding, m.DF, first.DF)
		}
	}
}

// Shifting and scaling the response or a covariate does what it must.
func TestUnits(t *testing.T) {
	runs, at, y := session(2, "CABCBACDDCAC")
	levels := []string{"C", "A", "B", "D"}
	m, err := linear.Fit(build(t, runs, levels, at, 1, linear.Treatment), y, linear.Options{})
	must(t, err)
	moved, later := make([]float64, len(y)), make([]float64, len(at))
	for i := range y {
		moved[i] = 3.6*y[i] - 70
		later[i] = 60*at[i] + 1e4
	}
	n, err := linear.Fit(build(t, runs, levels, later, 1, linear.Treatment), moved, linear.Options{})
	must(t, err)
	near(t, "intercept", n.Coef[0], 3.6*m.Coef[0]-70, 1e-12)
	for j := 1; j < len(m.Coef); j++ {
		near(t, m.Names[j], n.Coef[j], 3.6*m.Coef[j], 1e-10)
	}
	near(t, "rss", n.RSS, 3.6*3.6*m.RSS, 1e-10)
	for j, c := range m.Coefficients()[1:] {
		near(t, "t "+c.Name, n.Coefficients()[1+j].T, c.T, 1e-10)
	}
}

// The order of the rows does not matter.
func TestRowOrder(t *testing.T) {
	runs, at, y := session(3, "CABCBACDDCAC")
	levels := []string{"C", "A", "B", "D"}
	m, err := linear.Fit(build(t, runs, levels, at, 2, linear.Treatment), y, linear.Options{})
	must(t, err)
	p := rand.New(rand.NewPCG(4, 4)).Perm(len(y))
	r2, a2, y2 := make([]string, len(y)), make([]float64, len(y)), make([]float64, len(y))
	for i, k := range p {
		r2[i], a2[i], y2[i] = runs[k], at[k], y[k]
	}
	n, err := linear.Fit(build(t, r2, levels, a2, 2, linear.Treatment), y2, linear.Options{})
	must(t, err)
	for j := range m.Coef {
		near(t, m.Names[j], n.Coef[j], m.Coef[j], 1e-13)
	}
	for i, k := range p {
		near(t, "residual", n.Residuals[i], m.Residuals[k], 1e-13)
	}
}

// Whole weights are repeats of rows; a weight of zero leaves a row out; a
// diagonal covariance is the inverse of weights.
func TestWeights(t *testing.T) {
	runs, at, y := session(5, "CABCBACDC")
	levels := []string{"C", "A", "B", "D"}
	w := []float64{1, 2, 1, 3, 1, 1, 2, 0, 1}
	levels = levels[:3]
	runs[7] = "A"
	weighted, err := linear.Fit(build(t, runs, levels, at, 1, linear.Treatment), y, linear.Options{Weights: w})
	must(t, err)
	// The same drift in plain columns, since the basis depends on the rows.
	plain := func(runs []string, at, y []float64, opt linear.Options) *linear.Model {
		d := linear.NewDesign(len(y))
		must(t, d.AddIntercept())
		must(t, d.AddFactor("tyre", levels, runs, linear.Treatment))
		must(t, d.AddColumn("at", at))
		m, err := linear.Fit(d, y, opt)
		must(t, err)
		return m
	}
	m := plain(runs, at, y, linear.Options{Weights: w})
	near(t, "rss over both bases", m.RSS, weighted.RSS, 1e-12)
	var r2 []string
	var a2, y2 []float64
	v := make([][]float64, 0)
	for i := range w {
		for range int(w[i]) {
			r2, a2, y2 = append(r2, runs[i]), append(a2, at[i]), append(y2, y[i])
		}
	}
	n := plain(r2, a2, y2, linear.Options{})
	for j := range m.Coef {
		near(t, m.Names[j], m.Coef[j], n.Coef[j], 1e-12)
		near(t, "unscaled variance", m.Unscaled()[j][j], n.Unscaled()[j][j], 1e-12)
	}
	near(t, "rss", m.RSS, n.RSS, 1e-11)
	if m.N != 8 || m.DF != 4 {
		t.Errorf("%d rows, %d df", m.N, m.DF)
	}
	w[7] = 0.5
	for i := range w {
		row := make([]float64, len(w))
		row[i] = 1 / w[i]
		v = append(v, row)
	}
	a, b := plain(runs, at, y, linear.Options{Weights: w}), plain(runs, at, y, linear.Options{Covariance: v})
	for j := range a.Coef {
		near(t, "covariance "+a.Names[j], b.Coef[j], a.Coef[j], 1e-12)
	}
	la, _ := a.LogLik()
	lb, _ := b.LogLik()
	near(t, "log likelihood", lb, la, 1e-12)
}

// A column in the span of others is refused by name, or dropped by name with
// the rest unharmed; what it took with it cannot be asked for.
func TestAliased(t *testing.T) {
	runs, at, y := session(6, "CABCBAC")
	d := build(t, runs, []string{"C", "A", "B", "D"}, at, 1, linear.Treatment)
	celsius, fahrenheit := make([]float64, 7), make([]float64, 7)
	for i := range celsius {
		celsius[i] = 20 + at[i]*at[i]/10
		fahrenheit[i] = 32 + 1.8*celsius[i]
	}
	must(t, d.AddColumn("surface", celsius))
	must(t, d.AddColumn("surface again", fahrenheit))
	_, err := linear.Fit(d, y, linear.Options{})
	if err == nil || !strings.Contains(err.Error(), "tyre[D]") {
		t.Fatalf("refused with %v", err)
	}
	m, err := linear.Fit(d, y, linear.Options{Aliased: linear.DropAliased})
	must(t, err)
	if len(m.Aliased) != 2 || m.Names[m.Aliased[0].Column] != "tyre[D]" || m.Names[m.Aliased[1].Column] != "surface again" {
		t.Fatalf("aliased: %+v", m.Aliased)
	}
	if !m.Caveats.Has("column_aliased") || !strings.Contains(m.Caveats[1].Text, `1.8 of "surface"`) {
		t.Errorf("caveats: %v", m.Caveats)
	}
	s, ok := d.Index("surface")
	if !ok {
		t.Fatal("no column surface")
	}
	row := make([]float64, len(m.Coef))
	row[s] = 1
	if _, err := m.Contrasts([][]float64{row}); err == nil {
		t.Error("the slope of one of two equal covariates was given")
	}
	// Both together, as in a prediction, can be had.
	at5, err := d.At(linear.Setting{Values: map[string]float64{"surface": 25, "surface again": 77}, Levels: map[string]string{"tyre": "A"}})
	must(t, err)
	if _, err := m.Contrasts([][]float64{at5}); err != nil {
		t.Errorf("a prediction was refused: %v", err)
	}
}

// As many terms as runs: estimates, no error, nothing that is not a number.
func TestNoFreedom(t *testing.T) {
	d := linear.NewDesign(3)
	must(t, d.AddIntercept())
	must(t, d.AddFactor("tyre", []string{"C", "A", "B"}, []string{"C", "A", "B"}, linear.Treatment))
	m, err := linear.Fit(d, []float64{10, 12, 13}, linear.Options{})
	must(t, err)
	near(t, "A", m.Coef[1], 2, 1e-15)
	if _, ok := m.Sigma(); ok || m.DF != 0 {
		t.Errorf("sigma on %d df", m.DF)
	}
	if _, ok := m.Covariance(); ok {
		t.Error("a covariance")
	}
	c, err := m.Contrasts([][]float64{{0, 1, 0}, {0, 0, 1}})
	must(t, err)
	if _, ok := c.StdErr(); ok || c.Testable {
		t.Error("a standard error")
	}
	r, ok := c.Correlation()
	if !ok || math.Abs(r[0][1]-0.5) > 1e-14 {
		t.Errorf("correlation %v", r)
	}
	for _, k := range m.Coefficients() {
		if k.HasStdErr || k.HasTest {
			t.Errorf("%+v", k)
		}
	}
	for _, i := range m.Influences() {
		if i.HasStandard || i.HasStudent || i.HasCook || math.Abs(i.Leverage-1) > 1e-14 {
			t.Errorf("%+v", i)
		}
	}
	if f := m.Anova()[1]; f.HasTest || f.Num != 2 {
		t.Errorf("%+v", f)
	}
	if !m.Caveats.Has("no_degrees_of_freedom") {
		t.Error("no caveat")
	}
}

// Runs exactly on the model: sigma is nil and nothing is tested.
func TestPerfectFit(t *testing.T) {
	d := linear.NewDesign(5)
	must(t, d.AddIntercept())
	must(t, d.AddColumn("at", []float64{0.1, 0.2, 0.3, 0.4, 0.7}))
	y := make([]float64, 5)
	for i, x := range []float64{0.1, 0.2, 0.3, 0.4, 0.7} {
		y[i] = 2 + 0.3*x
	}
	m, err := linear.Fit(d, y, linear.Options{})
	must(t, err)
	if !m.PerfectFit || !m.Caveats.Has("perfect_fit") {
		t.Error("not seen as perfect")
	}
	for _, c := range m.Coefficients() {
		if c.HasTest {
			t.Errorf("%+v", c)
		}
	}
	// All runs equal.
	m, err = linear.Fit(d, []float64{7, 7, 7, 7, 7}, linear.Options{})
	must(t, err)
	if _, ok := m.RSquared(); ok || !m.PerfectFit {
		t.Error("equal runs vary")
	}
}

// Influence by its definition: leave each run out and fit again.
func TestInfluence(t *testing.T) {
	runs, at, y := session(7, "CABCBACABC")
	levels := []string{"C", "A", "B"}
	fit := func(leave int) *linear.Model {
		d := linear.NewDesign(len(y))
		must(t, d.AddIntercept())
		must(t, d.AddFactor("tyre", levels, runs, linear.Treatment))
		must(t, d.AddColumn("at", at))
		w := make([]float64, len(y))
		for i := range w {
			if i != leave {
				w[i] = 1
			}
		}
		m, err := linear.Fit(d, y, linear.Options{Weights: w})
		must(t, err)
		return m
	}
	m := fit(-1)
	s, _ := m.Sigma()
	sum := 0.0
	for i, in := range m.Influences() {
		sum += in.Leverage
		n := fit(i)
		sn, _ := n.Sigma()
		// The deleted residual's own deviation: sn sqrt(1 + x'(X'X)^-1 x).
		deleted := y[i] - n.Fitted[i]
		near(t, "leverage", 1-in.Residual/deleted, in.Leverage, 1e-10)
		near(t, "studentised", in.Student, in.Residual/(sn*math.Sqrt(1-in.Leverage)), 1e-10)
		cook := 0.0
		for k := range y {
			d := m.Fitted[k] - n.Fitted[k]
			cook += d * d
		}
		near(t, "Cook", in.Cook, cook/(float64(m.Rank)*s*s), 1e-10)
		near(t, "standard", in.Standard, in.Residual/(s*math.Sqrt(1-in.Leverage)), 1e-12)
	}
	near(t, "sum of leverages", sum, float64(m.Rank), 1e-13)
}

// Nested models, the table in sequence, the test of contrasts and t squared
// are one and the same where they ask the same.
func TestTestsAgree(t *testing.T) {
	runs, at, y := session(8, "CABCBACDDCAC")
	levels := []string{"C", "A", "B", "D"}
	small, err := linear.Fit(build(t, runs, levels, at, 1, linear.Treatment), y, linear.Options{})
	must(t, err)
	d := build(t, runs, levels, at, 1, linear.Treatment)
	c := make([]float64, len(at))
	for i := range c {
		c[i] = math.Sin(at[i])
	}
	must(t, d.AddColumn("water", c))
	large, err := linear.Fit(d, y, linear.Options{})
	must(t, err)
	f, err := linear.Nested(small, large)
	must(t, err)
	last := large.Anova()[3]
	term, err := large.TestTerm("water")
	must(t, err)
	k := large.Coefficients()[large.Rank-1]
	near(t, "sequence", last.F, f.F, 1e-11)
	near(t, "contrast", term.F, f.F, 1e-11)
	near(t, "t squared", k.T*k.T, f.F, 1e-11)
	near(t, "p", k.P, f.P, 1e-11)
	if _, err := linear.Nested(large, small); err == nil {
		t.Error("the larger was found inside the smaller")
	}
	// Dependent restrictions count once.
	l := [][]float64{make([]float64, large.Rank), make([]float64, large.Rank), make([]float64, large.Rank)}
	l[0][1], l[1][2], l[2][1], l[2][2] = 1, 1, 1, -1
	g, err := large.Test("A and B", l)
	must(t, err)
	h, err := large.Test("A and B", l[:2])
	must(t, err)
	if g.Num != 2 || math.Abs(g.F-h.F) > 1e-11*h.F {
		t.Errorf("%+v, %+v", g, h)
	}
}

// The orthogonal basis: orthogonal over uneven, repeated positions; the same
// at any unit of position; degree d is a polynomial of degree d.
func TestPolynomial(t *testing.T) {
	at := []float64{1, 2, 2, 3.5, 7, 8, 8, 8, 13, 21}
	p, err := linear.NewPolynomial(at, 4)
	must(t, err)
	for a := range 5 {
		for b := range a + 1 {
			s := 0.0
			for _, x := range at {
				v := p.At(x)
				s += v[a] * v[b]
			}
			want := 0.0
			if a == b {
				want = float64(len(at))
			}
			near(t, "product", s, want, 1e-12)
		}
	}
	q, err := linear.NewPolynomial([]float64{60, 120, 120, 210, 420, 480, 480, 480, 780, 1260}, 4)
	must(t, err)
	for k := range 5 {
		near(t, "minutes", q.At(300)[k], p.At(5)[k], 1e-12)
	}
	// Fifth differences of a polynomial of degree 4 vanish, the fourth do not.
	d := make([]float64, 6)
	for i := range d {
		d[i] = p.At(float64(i))[4]
	}
	for order := range 5 {
		for i := 0; i < 5-order; i++ {
			d[i] = d[i+1] - d[i]
		}
		if order == 3 && d[0] <= 0 {
			t.Error("the leading coefficient is not positive")
		}
	}
	near(t, "fifth difference", d[0], 0, 1e-12)
	if _, err := linear.NewPolynomial([]float64{1, 1, 2}, 2); err == nil {
		t.Error("degree 2 over two positions")
	}
}

func TestInteraction(t *testing.T) {
	// Two drivers by two tyres: the interaction is the difference of
	// differences.
	tyre := []string{"C", "A", "C", "A", "C", "A", "C", "A"}
	driver := []string{"1", "1", "2", "2", "1", "1", "2", "2"}
	y := []float64{10, 12, 11, 16, 10.2, 12.1, 11.1, 15.7}
	d := linear.NewDesign(8)
	must(t, d.AddIntercept())
	must(t, d.AddFactor("tyre", []string{"C", "A"}, tyre, linear.Treatment))
	must(t, d.AddFactor("driver", []string{"1", "2"}, driver, linear.Treatment))
	must(t, d.Interaction("tyre", "driver"))
	m, err := linear.Fit(d, y, linear.Options{})
	must(t, err)
	near(t, "interaction", m.Coef[3], (15.85-11.05)-(12.05-10.1), 1e-14)
	if m.Names[3] != "tyre[A]:driver[2]" {
		t.Errorf("named %q", m.Names[3])
	}
	a, err := d.At(linear.Setting{Levels: map[string]string{"tyre": "A"}})
	must(t, err)
	c, err := m.Contrasts([][]float64{a})
	must(t, err)
	near(t, "mean of A over drivers", c.Estimate[0], (12.05+15.85)/2, 1e-14)
}

func TestRefused(t *testing.T) {
	d := linear.NewDesign(2)
	must(t, d.AddIntercept())
	for name, err := range map[string]error{
		"twice":      d.AddIntercept(),
		"short":      d.AddColumn("x", []float64{1}),
		"nan":        d.AddColumn("x", []float64{1, math.NaN()}),
		"level":      d.AddFactor("f", []string{"a"}, []string{"a", "b"}, linear.Treatment),
		"same level": d.AddFactor("f", []string{"a", "a"}, []string{"a", "a"}, linear.Treatment),
		"coding":     d.AddFactor("f", []string{"a", "b"}, []string{"a", "b"}, "other"),
		"term":       d.Interaction("intercept", "none"),
	} {
		if err == nil {
			t.Errorf("%s was taken", name)
		}
	}
	for name, opt := range map[string]linear.Options{
		"weights":    {Weights: []float64{1}},
		"negative":   {Weights: []float64{1, -1}},
		"both":       {Weights: []float64{1, 1}, Covariance: [][]float64{{1, 0}, {0, 1}}},
		"indefinite": {Covariance: [][]float64{{1, 2}, {2, 1}}},
		"lopsided":   {Covariance: [][]float64{{1, 0.1}, {0.2, 1}}},
	} {
		if _, err := linear.Fit(d, []float64{1, 2}, opt); err == nil {
			t.Errorf("%s was taken", name)
		}
	}
	if _, err := linear.Fit(d, []float64{1, math.Inf(1)}, linear.Options{}); err == nil {
		t.Error("an infinite response was taken")
	}
}

// openData gives the rows of a file of the open data after its head, or skips.
func openData(t *testing.T, name string, head int) [][]float64 {
	t.Helper()
	dir := os.Getenv("BOOKEND_DATA")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "shared", "data")
	}
	f, err := os.Open(filepath.Join(dir, "stats", name))
	if err != nil {
		t.Skipf("the open data are not here: %v", err)
	}
	defer f.Close()
	var rows [][]float64
	s := bufio.NewScanner(f)
	for n := 1; s.Scan(); n++ {
		if n <= head {
			continue
		}
		var row []float64
		for _, w := range strings.Fields(s.Text()) {
			v, err := strconv.ParseFloat(w, 64)
			if err != nil {
				t.Fatalf("%s:%d: %v", name, n, err)
			}
			row = append(row, v)
		}
		if len(row) > 0 {
			rows = append(rows, row)
		}
	}
	return rows
}

// Natrella (1963) by way of NIST's Dataplot files; figures as computed by R
// 4.2.2 in the description of the open data.
func TestNatrella(t *testing.T) {
	t.Run("533", func(t *testing.T) { // tread life by two methods
		rows := openData(t, "nist_NATR533.DAT", 25)
		var x, y []float64
		for _, r := range rows {
			y, x = append(y, r[0]), append(x, r[1])
		}
		d := linear.NewDesign(len(y))
		must(t, d.AddIntercept())
		must(t, d.AddColumn("weight method", x))
		m, err := linear.Fit(d, y, linear.Options{})
		must(t, err)
		s, _ := m.Sigma()
		near(t, "intercept", m.Coef[0], 13.5059, 5e-6)
		near(t, "slope", m.Coef[1], 0.790212, 5e-7)
		near(t, "s", s, 26.208, 2e-5)
	})
	t.Run("1333", func(t *testing.T) { // Latin square
		rows := openData(t, "nist_NATR1333.DAT", 25)
		var y []float64
		names := make([][]string, 3)
		for _, r := range rows {
			y = append(y, r[0])
			for k := range names {
				names[k] = append(names[k], strconv.Itoa(int(r[1+k])))
			}
		}
		d := linear.NewDesign(len(y))
		must(t, d.AddIntercept())
		four := []string{"1", "2", "3", "4"}
		must(t, d.AddFactor("thermometer", four, names[1], linear.Sum))
		must(t, d.AddFactor("day", four, names[2], linear.Sum))
		must(t, d.AddFactor("cell", four, names[0], linear.Sum))
		m, err := linear.Fit(d, y, linear.Options{})
		must(t, err)
		near(t, "F", m.Anova()[3].F, 37.01, 2e-4)
	})
	t.Run("134", func(t *testing.T) { // randomised blocks
		rows := openData(t, "nist_NATR134.DAT", 25)
		var y []float64
		var block, set []string
		for _, r := range rows {
			for k, v := range r[1:] {
				y = append(y, v)
				block, set = append(block, strconv.Itoa(int(r[0]))), append(set, strconv.Itoa(k))
			}
		}
		d := linear.NewDesign(len(y))
		must(t, d.AddIntercept())
		must(t, d.AddFactor("resistor", []string{"3", "4", "5", "6"}, block, linear.Treatment))
		must(t, d.AddFactor("set", []string{"0", "1", "2", "3", "4", "5"}, set, linear.Treatment))
		m, err := linear.Fit(d, y, linear.Options{})
		must(t, err)
		f := m.Anova()[2]
		near(t, "F", f.F, 1.2468, 3e-5)
		near(t, "p", f.P, 0.336, 5e-4)
	})
}

func BenchmarkDriftModel(b *testing.B) {
	runs := strings.Split("CAABBCDDAACBBDDC", "")
	at := make([]float64, len(runs))
	y := make([]float64, len(runs))
	for i := range at {
		at[i], y[i] = float64(i), math.Sin(float64(i))
	}
	for b.Loop() {
		d := linear.NewDesign(len(runs))
		_ = d.AddIntercept()
		_ = d.AddFactor("tyre", []string{"C", "A", "B", "D"}, runs, linear.Treatment)
		_, _ = d.AddPolynomial("drift", at, 1)
		_, _ = linear.Fit(d, y, linear.Options{})
	}
}
