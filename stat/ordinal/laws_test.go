package ordinal_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/stat/linear"
	"example.org/bookend/stat/ordinal"
)

// sheet is made-up ratings: raters rate codes again and again.
type sheet struct {
	tyre, rater []string
	category    []int
	labels      []string
}

func makeSheet(seed uint64, raters, runs, categories int, severity float64) *sheet {
	r := rand.New(rand.NewPCG(seed, 17))
	s := &sheet{}
	for c := range categories {
		s.labels = append(s.labels, fmt.Sprint(c+4))
	}
	for k := range raters {
		u := severity * r.NormFloat64()
		for i := range runs {
			code := []string{"K", "P", "R"}[(i+k)%3]
			z := u + map[string]float64{"K": 0, "P": 0.8, "R": -0.6}[code]
			p := r.Float64()
			z += math.Log(p / (1 - p))
			cat := 0
			for c := 1; c < categories; c++ {
				if z > -2+4*float64(c)/float64(categories) {
					cat = c
				}
			}
			s.tyre, s.rater, s.category = append(s.tyre, code), append(s.rater, fmt.Sprintf("r%d", k)), append(s.category, cat)
		}
	}
	return s
}

func (s *sheet) design(t testing.TB) *linear.Design {
	t.Helper()
	d := linear.NewDesign(len(s.category))
	if err := d.AddFactor("tyre", []string{"K", "P", "R"}, s.tyre, linear.Treatment); err != nil {
		t.Fatal(err)
	}
	return d
}

func (s *sheet) fit(t testing.TB, opt ordinal.Options, random ...ordinal.Random) *ordinal.Model {
	t.Helper()
	m, err := ordinal.Fit(s.design(t), s.category, s.labels, random, opt)
	if err != nil {
		t.Fatal(err)
	}
	sane(t, m)
	return m
}

func near(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %v, want %v", what, got, want)
	}
}

func sane(t testing.TB, m *ordinal.Model) {
	t.Helper()
	values := []float64{m.LogLik}
	for _, c := range append(append([]ordinal.Coefficient(nil), m.Coefficients...), m.Cuts...) {
		values = append(values, c.Estimate, c.StdErr, c.Z, c.P)
	}
	for _, r := range m.Random {
		values = append(values, r.SD, r.StdErr)
		e, err := m.Effects(r.Name)
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range e {
			values = append(values, x.Estimate, x.StdErr)
		}
	}
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			t.Fatalf("%+v", m)
		}
	}
	for j := 1; j < len(m.Cuts); j++ {
		if !(m.Cuts[j].Estimate > m.Cuts[j-1].Estimate) {
			t.Errorf("thresholds %+v", m.Cuts)
		}
	}
}

func rater(s *sheet) ordinal.Random { return ordinal.Random{Name: "rater", Groups: s.rater} }

// Two categories and one factor of two levels: the log odds ratio of a table of
// four, and its error (analytic).
func TestTwoByTwo(t *testing.T) {
	s := &sheet{labels: []string{"poor", "good"}}
	for cell, n := range []int{9, 5, 4, 11} {
		for range n {
			s.tyre = append(s.tyre, []string{"K", "P"}[cell/2])
			s.category = append(s.category, cell%2)
		}
	}
	d := linear.NewDesign(len(s.category))
	d.AddIntercept()
	d.AddFactor("tyre", []string{"K", "P"}, s.tyre, linear.Treatment)
	for _, kind := range []ordinal.Thresholds{ordinal.Flexible, ordinal.Symmetric, ordinal.Equidistant} {
		m, err := ordinal.Fit(d, s.category, s.labels, nil, ordinal.Options{Thresholds: kind})
		if err != nil {
			t.Fatal(err)
		}
		sane(t, m)
		near(t, "log odds ratio", m.Coefficients[0].Estimate, math.Log(9.0*11/(5*4)), 1e-10)
		near(t, "its error", m.Coefficients[0].StdErr, math.Sqrt(1.0/9+1.0/5+1.0/4+1.0/11), 1e-10)
		near(t, "threshold", m.Cuts[0].Estimate, math.Log(9.0/5), 1e-10)
		if m.Cuts[0].Name != "poor|good" || m.Parameters != 2 {
			t.Errorf("%+v, %d parameters", m.Cuts, m.Parameters)
		}
	}
}

// Without fixed terms and raters the thresholds are the shares of the categories
// (analytic).
func TestSharesOfTheCategories(t *testing.T) {
	s := makeSheet(3, 5, 12, 4, 0.5)
	m, err := ordinal.Fit(linear.NewDesign(len(s.category)), s.category, s.labels, nil, ordinal.Options{})
	if err != nil {
		t.Fatal(err)
	}
	cum := 0
	for j, c := range m.Cuts {
		cum += m.Counts[j]
		near(t, c.Name, c.Estimate, math.Log(float64(cum)/float64(len(s.category)-cum)), 1e-9)
	}
	p, err := m.Probabilities(nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	for j := range p {
		near(t, "share", p[j], float64(m.Counts[j])/float64(len(s.category)), 1e-10)
	}
}

func TestTurnedRoundRatingsTurnAllRound(t *testing.T) {
	s := makeSheet(5, 6, 12, 5, 1)
	back := *s
	back.category, back.labels = nil, nil
	for _, c := range s.category {
		back.category = append(back.category, 4-c)
	}
	for i := range s.labels {
		back.labels = append(back.labels, s.labels[4-i])
	}
	for _, kind := range []ordinal.Thresholds{ordinal.Flexible, ordinal.Symmetric, ordinal.Equidistant} {
		a, b := s.fit(t, ordinal.Options{Thresholds: kind}, rater(s)), back.fit(t, ordinal.Options{Thresholds: kind}, rater(s))
		near(t, "log likelihood", b.LogLik, a.LogLik, 1e-9)
		near(t, "scatter", b.Random[0].SD, a.Random[0].SD, 1e-7)
		for i := range a.Coefficients {
			near(t, "coefficient", b.Coefficients[i].Estimate, -a.Coefficients[i].Estimate, 1e-7)
			near(t, "its error", b.Coefficients[i].StdErr, a.Coefficients[i].StdErr, 1e-7)
		}
		for j := range a.Cuts {
			near(t, "threshold", b.Cuts[3-j].Estimate, -a.Cuts[j].Estimate, 1e-7)
		}
	}
}

func TestOrderAndNamesDoNotMatter(t *testing.T) {
	s := makeSheet(7, 6, 12, 5, 1)
	o := &sheet{labels: s.labels}
	for _, i := range rand.New(rand.NewPCG(1, 1)).Perm(len(s.category)) {
		o.tyre, o.rater, o.category = append(o.tyre, s.tyre[i]), append(o.rater, "driver "+s.rater[i]), append(o.category, s.category[i])
	}
	a, b := s.fit(t, ordinal.Options{}, rater(s)), o.fit(t, ordinal.Options{}, rater(o))
	near(t, "log likelihood", b.LogLik, a.LogLik, 1e-10)
	near(t, "scatter", b.Random[0].SD, a.Random[0].SD, 1e-8)
	for i := range a.Coefficients {
		near(t, "coefficient", b.Coefficients[i].Estimate, a.Coefficients[i].Estimate, 1e-8)
	}
	again := s.fit(t, ordinal.Options{}, rater(s))
	if fmt.Sprintf("%x", again.LogLik) != fmt.Sprintf("%x", a.LogLik) || fmt.Sprint(again.Coefficients) != fmt.Sprint(a.Coefficients) {
		t.Error("two fits of the same differ")
	}
}

// The quadrature is the integral: more nodes change nothing, and Laplace's
// approximation is near.
func TestMoreNodesChangeNothing(t *testing.T) {
	for seed := range uint64(4) {
		s := makeSheet(seed, 5, 9, 5, 1.2)
		a, b, c := s.fit(t, ordinal.Options{}, rater(s)), s.fit(t, ordinal.Options{Nodes: 50}, rater(s)), s.fit(t, ordinal.Options{Nodes: 1}, rater(s))
		near(t, "log likelihood", a.LogLik, b.LogLik, 1e-8)
		near(t, "scatter", a.Random[0].SD, b.Random[0].SD, 1e-6)
		near(t, "log likelihood by Laplace", c.LogLik, b.LogLik, 0.2)
	}
}

// No scatter between raters at all: exactly zero, and the fit without raters.
func TestRatersThatRateAlike(t *testing.T) {
	s := makeSheet(2, 1, 24, 4, 0)
	n := len(s.category)
	for k := 1; k < 4; k++ {
		for i := range n {
			s.tyre, s.rater, s.category = append(s.tyre, s.tyre[i]), append(s.rater, fmt.Sprintf("r%d", k)), append(s.category, s.category[i])
		}
	}
	plain := s.fit(t, ordinal.Options{})
	for _, nodes := range []int{0, 1} {
		m := s.fit(t, ordinal.Options{Nodes: nodes}, rater(s))
		if m.Random[0].SD != 0 || !m.Random[0].Zero || !m.Caveats.Has("variance_zero") {
			t.Errorf("%+v, %v", m.Random, m.Caveats)
		}
		near(t, "log likelihood", m.LogLik, plain.LogLik, 1e-9)
		near(t, "coefficient", m.Coefficients[0].Estimate, plain.Coefficients[0].Estimate, 1e-8)
		r, err := ordinal.LikelihoodRatio(plain, m)
		if err != nil || r.Statistic > 1e-8 || r.P < 0.99 {
			t.Error(r, err)
		}
	}
}

func refused(t *testing.T, err error, words string) {
	t.Helper()
	if fault.CodeOf(err) != fault.Invalid || !strings.Contains(fmt.Sprint(err), words) {
		t.Errorf("%v, want %q", err, words)
	}
}

func TestSeparationAndEmptyCategories(t *testing.T) {
	s := makeSheet(4, 5, 12, 5, 0.8)
	// Every rating of R is the lowest, none of the others is.
	apart := *s
	apart.category = nil
	for i, c := range s.category {
		switch {
		case s.tyre[i] == "R":
			c = 0
		default:
			c = max(c, 1)
		}
		apart.category = append(apart.category, c)
	}
	_, err := ordinal.Fit(apart.design(t), apart.category, apart.labels, nil, ordinal.Options{})
	refused(t, err, `separated by "tyre[R]"`)
	_, err = ordinal.Fit(apart.design(t), apart.category, apart.labels, []ordinal.Random{rater(s)}, ordinal.Options{})
	refused(t, err, `separated by "tyre[R]"`)
	// A category that nobody gave.
	gap := *s
	gap.category = nil
	for _, c := range s.category {
		if c == 2 {
			c = 3
		}
		gap.category = append(gap.category, c)
	}
	m := gap.fit(t, ordinal.Options{}, rater(s))
	if !m.Caveats.Has("category_empty") || len(m.Cuts) != 3 || m.Cuts[1].Name != "5|7" {
		t.Errorf("%v, %+v", m.Caveats, m.Cuts)
	}
	m = gap.fit(t, ordinal.Options{Thresholds: ordinal.Equidistant}, rater(s))
	if !m.Caveats.Has("category_empty") || len(m.Cuts) != 4 {
		t.Errorf("%v, %+v", m.Caveats, m.Cuts)
	}
	for j := 2; j < 4; j++ {
		near(t, "distance", m.Cuts[j].Estimate-m.Cuts[j-1].Estimate, m.Cuts[1].Estimate-m.Cuts[0].Estimate, 1e-10)
	}
}

func TestOddInputIsRefused(t *testing.T) {
	s := makeSheet(1, 4, 9, 4, 0.5)
	n := len(s.category)
	each, one := make([]string, n), make([]string, n)
	same := make([]int, n)
	for i := range each {
		each[i], one[i] = fmt.Sprint(i), "r"
	}
	fit := func(category []int, labels []string, opt ordinal.Options, random ...ordinal.Random) error {
		_, err := ordinal.Fit(s.design(t), category, labels, random, opt)
		return err
	}
	refused(t, fit(s.category[1:], s.labels, ordinal.Options{}), "ratings for")
	refused(t, fit(s.category, s.labels[:2], ordinal.Options{}), "is in category")
	refused(t, fit(s.category, []string{"1", "1", "2", "3"}, ordinal.Options{}), "named twice")
	refused(t, fit(same, s.labels, ordinal.Options{}), "all ratings are the same")
	refused(t, fit(s.category, s.labels, ordinal.Options{Thresholds: 9}), "no kind")
	refused(t, fit(s.category, s.labels, ordinal.Options{Nodes: 61}, rater(s)), "nodes")
	refused(t, fit(s.category, s.labels, ordinal.Options{}, ordinal.Random{Name: "x", Groups: each}), "single rating")
	refused(t, fit(s.category, s.labels, ordinal.Options{}, ordinal.Random{Name: "x", Groups: one}), "single group")
	refused(t, fit(s.category, s.labels, ordinal.Options{}, ordinal.Random{Name: "x", Groups: s.tyre}), "lies within the fixed terms")
	refused(t, fit(s.category, s.labels, ordinal.Options{}, ordinal.Random{Name: "x", Groups: one[1:]}), "groups for")
	refused(t, fit(s.category, s.labels, ordinal.Options{}, rater(s), rater(s)), "or two are")
	refused(t, fit(s.category, s.labels, ordinal.Options{}, rater(s), ordinal.Random{Name: "x", Groups: s.rater}), "same groups")
	d := s.design(t)
	x := make([]float64, n)
	for i, c := range s.tyre {
		if c == "R" {
			x[i] = 2
		}
	}
	d.AddColumn("again", x)
	_, err := ordinal.Fit(d, s.category, s.labels, nil, ordinal.Options{})
	refused(t, err, `column "again" cannot be told apart`)
	if _, _, err := ordinal.Categories([]float64{6, math.NaN()}); err == nil {
		t.Error("a rating that is no number passes")
	}
	labels, category, err := ordinal.Categories([]float64{7, 6.5, 7, 6.25})
	if err != nil || fmt.Sprint(labels, category) != "[6.25 6.5 7] [2 1 2 0]" {
		t.Error(labels, category, err)
	}
	m := s.fit(t, ordinal.Options{}, rater(s))
	if _, err := m.Effects("nonesuch"); fault.CodeOf(err) != fault.NotFound {
		t.Error(err)
	}
	_, _, err = m.Contrasts([][]float64{{1}})
	refused(t, err, "entries for")
	_, err = m.Probabilities([]float64{1}, 0)
	refused(t, err, "entries for")
	e, cov, err := m.Contrasts([][]float64{{1, 0}, {1, -1}})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "P less R", e[1], m.Coefficients[0].Estimate-m.Coefficients[1].Estimate, 1e-14)
	near(t, "variance of P", cov[0][0], m.Coefficients[0].StdErr*m.Coefficients[0].StdErr, 1e-14)
	_, err = ordinal.LikelihoodRatio(m, m)
	refused(t, err, "as many parameters")
	_, err = ordinal.LikelihoodRatio(m, s.fit(t, ordinal.Options{}))
	refused(t, err, `random term "rater" is not in the larger one`)
}

// Small and thin sheets: numbers, or a refusal with a reason.
func TestThinSheetsGiveNumbersOrReasons(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 2))
	fits, refusals := 0, 0
	for trial := range 100 {
		s := makeSheet(uint64(trial), 2+r.IntN(4), 2+r.IntN(8), 2+r.IntN(6), 3*r.Float64())
		random := []ordinal.Random{rater(s)}
		if trial%10 == 0 {
			session := make([]string, len(s.category))
			for i := range session {
				session[i] = fmt.Sprint(i / 2 % 3)
			}
			random = append(random, ordinal.Random{Name: "session", Groups: session})
		}
		m, err := ordinal.Fit(s.design(t), s.category, s.labels, random, ordinal.Options{Thresholds: ordinal.Thresholds(trial % 3)})
		if err != nil {
			refusals++
			if fault.CodeOf(err) != fault.Invalid {
				t.Errorf("trial %d: %v", trial, err)
			}
			continue
		}
		fits++
		sane(t, m)
	}
	if fits < 40 || refusals < 10 {
		t.Errorf("%d fits, %d refusals", fits, refusals)
	}
}
