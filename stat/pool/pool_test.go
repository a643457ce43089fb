package pool_test

import (
	"bufio"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/internal/golden"
	"example.org/bookend/stat/drift"
	"example.org/bookend/stat/pool"
	"example.org/bookend/stat/tail"
)

// dataRows reads the rows of n numbers of a file of the open data set, which
// lies beside the checkout or where BOOKEND_DATA says; without it the test is
// skipped.
func dataRows(t *testing.T, name string, n int) [][]float64 {
	t.Helper()
	dir := os.Getenv("BOOKEND_DATA")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "shared", "data")
	}
	f, err := os.Open(filepath.Join(dir, name))
	if err != nil {
		t.Skipf("the open data are not here: %v", err)
	}
	defer f.Close()
	var out [][]float64
	for s := bufio.NewScanner(f); s.Scan(); {
		fields := strings.Fields(s.Text())
		if len(fields) != n {
			continue
		}
		row := make([]float64, n)
		good := true
		for i, x := range fields {
			v, err := strconv.ParseFloat(x, 64)
			row[i], good = v, good && err == nil
		}
		if good {
			out = append(out, row)
		}
	}
	return out
}

func ok[T any](t *testing.T) func(T, error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

func list(variance, df []float64) []pool.Contribution {
	var out []pool.Contribution
	for i := range variance {
		out = append(out, pool.Contribution{Label: strconv.Itoa(i), Variance: variance[i], DF: df[i]})
	}
	return out
}

func TestModeratedVariancesAgreeWithLimma(t *testing.T) {
	for _, match := range []string{"twelve-*", "thirty-*", "ten-*", "fifteen-*"} {
		golden.Run(t, "limma-3.54.1", match, func(t *testing.T, c *golden.Case) {
			var v struct {
				Variance []float64 `json:"variance"`
				DF       []float64 `json:"df"`
				PriorDF  float64   `json:"df_prior"`
				PriorVar float64   `json:"var_prior"`
				Post     []float64 `json:"var_post"`
				Total    []float64 `json:"df_total"`
			}
			c.JSON(t, "values.json", &v)
			record := list(v.Variance, v.DF)
			p := ok[pool.Prior](t)(pool.FitPrior(record))
			c.NearRel(t, "s0 squared", p.Variance, v.PriorVar)
			sum := 0.0
			for _, d := range v.DF {
				sum += d
			}
			if v.PriorDF < 0 {
				if !math.IsInf(p.DF, 1) {
					t.Errorf("d0 = %v, want infinity", p.DF)
				}
				return
			}
			c.NearRel(t, "d0", p.DF, v.PriorDF)
			// limma's own variance of each row, moderated by the prior of all rows.
			for i := range v.Variance {
				post := (p.DF*p.Variance + v.DF[i]*v.Variance[i]) / (p.DF + v.DF[i])
				c.NearRel(t, "posterior variance", post, v.Post[i])
				c.NearRel(t, "total df", math.Min(p.DF+v.DF[i], sum), v.Total[i])
			}
			// Borrow with a programme that fits gives the same arithmetic.
			own := pool.Contribution{Label: "own", Variance: p.Variance, DF: 3}
			b := ok[pool.Borrowed](t)(pool.Borrow(own, record))
			if b.Method != pool.Moderated || b.Refused || math.Abs(b.Variance-p.Variance) > 1e-12*p.Variance {
				t.Errorf("%+v", b)
			}
			c.NearRel(t, "df", b.DF, math.Min(v.PriorDF+3, sum+3))
		})
	}
	golden.Run(t, "limma-3.54.1", "trigamma-*", func(t *testing.T, c *golden.Case) {
		var v struct{ X, Y []float64 }
		c.JSON(t, "values.json", &v)
		for i := range v.X {
			c.NearRel(t, "inverse of "+strconv.FormatFloat(v.X[i], 'g', -1, 64), pool.TrigammaInverse(v.X[i]), v.Y[i])
		}
	})
}

// Laws of the trigamma function: trigamma(1) = pi^2/6, trigamma(1/2) =
// pi^2/2, trigamma(x+1) = trigamma(x) - 1/x^2 (Abramowitz and Stegun 6.4.2,
// 6.4.4, 6.4.6), and the inverse turns it back.
func TestTrigammaLaws(t *testing.T) {
	near := func(got, want, tol float64) {
		t.Helper()
		if math.Abs(got-want) > tol*math.Abs(want) {
			t.Errorf("%v, want %v", got, want)
		}
	}
	near(pool.Trigamma(1), math.Pi*math.Pi/6, 1e-14)
	near(pool.Trigamma(0.5), math.Pi*math.Pi/2, 1e-14)
	for _, x := range []float64{0.01, 0.3, 1, 2.5, 7, 40, 900} {
		near(pool.Trigamma(x+1), pool.Trigamma(x)-1/(x*x), 1e-9)
		near(pool.TrigammaInverse(pool.Trigamma(x)), x, 1e-12)
	}
	near(pool.TrigammaInverse(pool.Trigamma(1e8)), 1e8, 1e-6)
}

func TestBartlettAgreesWithR(t *testing.T) {
	golden.Run(t, "r-4.2.2", "bartlett", func(t *testing.T, c *golden.Case) {
		var v struct {
			Variance []float64 `json:"variance"`
			DF       []float64 `json:"df"`
			Chi2     float64   `json:"chi2"`
			P        float64   `json:"p"`
		}
		c.JSON(t, "values.json", &v)
		p := ok[pool.Pooled](t)(pool.Pool(list(v.Variance, v.DF)))
		c.NearRel(t, "chi-square", p.Chi2, v.Chi2)
		c.NearRel(t, "p", p.P, v.P)
	})
}

func TestPooledTOfTwoMethods(t *testing.T) {
	golden.Run(t, "nist-dataplot", "pooled-t-*", func(t *testing.T, c *golden.Case) {
		var w struct {
			T float64 `json:"t"`
			P float64 `json:"p"`
		}
		c.JSON(t, "expected.json", &w)
		var x [2][]float64
		for _, r := range dataRows(t, "stats/nist_NATR323.DAT", 2) {
			for i := range x {
				if r[i] != -99 {
					x[i] = append(x[i], r[i])
				}
			}
		}
		var mean, n [2]float64
		var both []pool.Contribution
		for i := range x {
			s := drift.Sequence{Value: x[i], At: make([]float64, len(x[i]))}
			for j := range x[i] {
				s.At[j] = float64(j)
				mean[i] += x[i][j] / float64(len(x[i]))
			}
			n[i] = float64(len(x[i]))
			both = append(both, ok[pool.Contribution](t)(pool.FromSequence("method", s, 0)))
		}
		p := ok[pool.Pooled](t)(pool.Pool(both))
		tt := (mean[0] - mean[1]) / math.Sqrt(p.Variance*(1/n[0]+1/n[1]))
		c.Near(t, "t", tt, w.T)
		if got := tail.TwoSidedT(tt, p.DF); math.Abs(got-w.P) > 1e-6 || p.DF != 19 {
			t.Errorf("p %v on %v df", got, p.DF)
		}
	})
}

func TestResistivityCheckStandard(t *testing.T) {
	golden.Run(t, "nist-ehandbook", "mpc62", func(t *testing.T, c *golden.Case) {
		var w struct {
			Mean float64 `json:"mean"`
			SD2  float64 `json:"level2_sd"`
			DF2  float64 `json:"level2_df"`
			SD1  float64 `json:"pooled_level1_sd"`
			DF1  float64 `json:"pooled_df"`
		}
		c.JSON(t, "expected.json", &w)
		var values []float64
		var within []pool.Contribution
		for _, r := range dataRows(t, "stats/nist_MPC62.DAT", 13) {
			values = append(values, r[10])
			within = append(within, pool.Contribution{Variance: r[11] * r[11], DF: r[12]})
		}
		if len(values) != 25 {
			t.Fatalf("%d rows", len(values))
		}
		chart := ok[pool.Chart](t)(pool.Shewhart(values, pool.ChartOptions{}))
		c.Near(t, "mean", chart.Target, w.Mean)
		c.Near(t, "level-2 SD", chart.SD, w.SD2)
		c.Near(t, "level-2 df", float64(chart.Baseline-1), w.DF2)
		if chart.Out != 0 || chart.FirstOut != -1 {
			t.Errorf("%d points out of control", chart.Out)
		}
		p := ok[pool.PrecisionChart](t)(pool.Precision(within, 0, 0.01))
		c.Near(t, "pooled level-1 SD", p.Pooled, w.SD1)
		c.Near(t, "its df", p.DF, w.DF1)
		if want := p.Pooled * math.Sqrt(tail.FPoint(0.01, 5, 125)); math.Abs(p.Points[0].High-want) > 1e-12 {
			t.Errorf("limit %v, want %v", p.Points[0].High, want)
		}
	})
}

func TestMassStandardDriftsAfter1985(t *testing.T) {
	golden.Run(t, "nist-ehandbook", "mass", func(t *testing.T, c *golden.Case) {
		var w struct {
			Mean float64 `json:"mean_before_1985"`
			SD   float64 `json:"sd_before_1985"`
			Rows int     `json:"rows"`
		}
		c.JSON(t, "expected.json", &w)
		var values []float64
		before := 0
		for _, r := range dataRows(t, "stats/nist_MASS.DAT", 6) {
			values = append(values, r[2])
			if r[0] < 85 {
				before++
			}
		}
		if len(values) != w.Rows {
			t.Fatalf("%d rows", len(values))
		}
		o := pool.ChartOptions{Baseline: before, Lambda: 0.2}
		chart := ok[pool.Chart](t)(pool.EWMA(values, o))
		c.Near(t, "mean", chart.Target, w.Mean)
		c.Near(t, "SD", chart.SD, w.SD)
		outBefore, outAfter := 0, 0
		for i, p := range chart.Points {
			if len(p.Broken) == 0 {
				continue
			}
			if i < before {
				outBefore++
			} else {
				outAfter++
				if p.Statistic < chart.Target {
					t.Errorf("point %d is out on the low side", i)
				}
			}
		}
		// The slow shift: hardly anything out before, much of the rest after.
		if after := len(values) - before; outBefore > before/20 || outAfter < after/4 {
			t.Errorf("%d of %d out before 1985, %d of %d after", outBefore, before, outAfter, after)
		}
		single := ok[pool.Chart](t)(pool.Shewhart(values, o))
		if single.Out >= outAfter {
			t.Errorf("single values find %d, the EWMA %d", single.Out, outAfter)
		}
	})
}

func TestPrintedChartExamples(t *testing.T) {
	golden.Run(t, "nist-ehandbook", "ewma-example", func(t *testing.T, c *golden.Case) {
		var in struct {
			X      []float64 `json:"x"`
			Target float64   `json:"target"`
			SD     float64   `json:"sd"`
			Lambda float64   `json:"lambda"`
		}
		var w struct {
			EWMA []float64 `json:"ewma"`
			Low  float64   `json:"low"`
			High float64   `json:"high"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &w)
		chart := ok[pool.Chart](t)(pool.EWMA(in.X, pool.ChartOptions{Target: &in.Target, SD: &in.SD, Lambda: in.Lambda, Steady: true}))
		for i, z := range w.EWMA {
			c.Near(t, "EWMA", chart.Points[i].Statistic, z)
		}
		if math.Abs(chart.Points[0].Low-w.Low) > 1e-4 || math.Abs(chart.Points[0].High-w.High) > 1e-4 || chart.Out != 0 || chart.Baseline != 0 {
			t.Errorf("limits %v, %v", chart.Points[0].Low, chart.Points[0].High)
		}
		growing := ok[pool.Chart](t)(pool.EWMA(in.X, pool.ChartOptions{Target: &in.Target, SD: &in.SD, Lambda: in.Lambda}))
		// Analytic: the first average is lambda x, with lambda times the SD.
		if want := in.Target + 3*in.SD*in.Lambda; math.Abs(growing.Points[0].High-want) > 1e-12 {
			t.Errorf("first limit %v, want %v", growing.Points[0].High, want)
		}
	})
	golden.Run(t, "nist-ehandbook", "individuals-example", func(t *testing.T, c *golden.Case) {
		var in struct {
			X []float64 `json:"x"`
		}
		var w struct {
			Center float64 `json:"center"`
			Range  float64 `json:"mean_moving_range"`
			Low    float64 `json:"low"`
			High   float64 `json:"high"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &w)
		chart := ok[pool.Chart](t)(pool.Shewhart(in.X, pool.ChartOptions{Scale: pool.MovingRange}))
		c.Near(t, "center", chart.Target, w.Center)
		c.Near(t, "mean moving range", chart.SD*2/math.Sqrt(math.Pi), w.Range)
		c.Near(t, "low", chart.Points[0].Low, w.Low)
		c.Near(t, "high", chart.Points[0].High, w.High)
		if !chart.Caveats.Has("short_baseline") {
			t.Error("ten values are a short baseline")
		}
	})
}

// The four rules on made points: each breaks exactly where its words say.
func TestRulesOfTheChart(t *testing.T) {
	zero, one := 0.0, 1.0
	all := []pool.Rule{pool.Beyond, pool.TwoOfThree, pool.FourOfFive, pool.EightInARow}
	broken := func(x ...float64) [][]pool.Rule {
		var out [][]pool.Rule
		for _, p := range ok[pool.Chart](t)(pool.Shewhart(x, pool.ChartOptions{Target: &zero, SD: &one, Rules: all})).Points {
			out = append(out, p.Broken)
		}
		return out
	}
	has := func(r []pool.Rule, want ...pool.Rule) bool {
		if len(r) != len(want) {
			return false
		}
		for i := range r {
			if r[i] != want[i] {
				return false
			}
		}
		return true
	}
	if b := broken(0.5, -3.1, 0.2); !has(b[1], pool.Beyond) || len(b[0])+len(b[2]) != 0 {
		t.Errorf("beyond: %v", b)
	}
	if b := broken(2.1, -2.1, 2.2, 0, 2.1); !has(b[2], pool.TwoOfThree) || len(b[1])+len(b[3]) != 0 || !has(b[4], pool.TwoOfThree) {
		t.Errorf("two of three: %v", b)
	}
	if b := broken(-1.2, -1.1, 0.3, -1.5, -1.3, 0.1); !has(b[4], pool.FourOfFive) || len(b[5]) != 0 {
		t.Errorf("four of five: %v", b)
	}
	if b := broken(0.1, 0.2, 0.1, 0.3, 0.1, 0.1, 0.2, 0.4, -0.1); !has(b[7], pool.EightInARow) || len(b[6])+len(b[8]) != 0 {
		t.Errorf("eight in a row: %v", b)
	}
}

func TestRulesOfBorrowing(t *testing.T) {
	rec := func(n int, v, df float64) []pool.Contribution {
		var out []pool.Contribution
		for i := range n {
			out = append(out, pool.Contribution{Variance: v * math.Exp(math.Sin(float64(i))), DF: df})
		}
		return out
	}
	own := pool.Contribution{Variance: 1, DF: 1}
	// Below ten: plain pooling, degrees of freedom summed.
	b := ok[pool.Borrowed](t)(pool.Borrow(own, rec(9, 1, 2)))
	if b.Method != pool.Plain || b.DF != 19 || b.Prior != nil || !b.Caveats.Has("plain_pooling") {
		t.Errorf("nine programmes: %+v", b)
	}
	if want := (18*b.Record.Variance + 1) / 19; math.Abs(b.Variance-want) > 1e-12 {
		t.Errorf("variance %v, want %v", b.Variance, want)
	}
	if _, err := pool.FitPrior(rec(9, 1, 2)); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("a prior from nine programmes: %v", err)
	}
	// From ten: moderated; never more degrees of freedom than sum plus own.
	b = ok[pool.Borrowed](t)(pool.Borrow(own, rec(10, 1, 2)))
	if b.Method != pool.Moderated || b.Prior == nil || b.DF > 21 {
		t.Errorf("ten programmes: %+v", b)
	}
	if !b.Capped || b.DF != 21 || !b.Caveats.Has("capped") || b.Uncapped <= 21 {
		t.Errorf("mild spread is not capped: %+v", b)
	}
	// Upper check: refused just above the limit, not just below.
	above := pool.Contribution{Variance: b.FLimit / (b.F / own.Variance) * 1.0001, DF: 1}
	below := pool.Contribution{Variance: b.FLimit / (b.F / own.Variance) * 0.9999, DF: 1}
	r := ok[pool.Borrowed](t)(pool.Borrow(above, rec(10, 1, 2)))
	if !r.Refused || r.Method != pool.OwnAlone || r.Variance != above.Variance || r.DF != 1 || !r.Caveats.Has("record_refused") {
		t.Errorf("above the limit: %+v", r)
	}
	if math.Abs(r.P-pool.CheckLevel) > 1e-4 {
		t.Errorf("p at the limit %v", r.P)
	}
	if s := ok[pool.Borrowed](t)(pool.Borrow(below, rec(10, 1, 2))); s.Refused {
		t.Errorf("below the limit: %+v", s)
	}
	// No own degrees of freedom: the record alone, unchecked and said.
	n := ok[pool.Borrowed](t)(pool.Borrow(pool.Contribution{}, rec(5, 2, 3)))
	if n.Method != pool.Plain || n.DF != 15 || !n.Caveats.Has("unchecked_record") || math.Abs(n.Variance-n.Record.Variance) > 1e-12*n.Variance {
		t.Errorf("no own: %+v", n)
	}
	// No record: own alone.
	n = ok[pool.Borrowed](t)(pool.Borrow(own, nil))
	if n.Method != pool.OwnAlone || n.DF != 1 || !n.Caveats.Has("no_record") {
		t.Errorf("no record: %+v", n)
	}
}

// Laws: another unit scales variances by its square and leaves degrees of
// freedom and F; the order of the record does not matter.
func TestBorrowingHasNoUnit(t *testing.T) {
	v := []float64{1, 9, 2, 0.3, 4, 30, 0.8, 2.2, 5, 1.1, 0.2, 14}
	df := []float64{2, 3, 2, 4, 2, 2, 3, 1, 5, 2, 2, 3}
	var turned []pool.Contribution
	for i := len(v) - 1; i >= 0; i-- {
		turned = append(turned, pool.Contribution{Variance: v[i] * 0.09, DF: df[i]})
	}
	a := ok[pool.Borrowed](t)(pool.Borrow(pool.Contribution{Variance: 3, DF: 2}, list(v, df)))
	b := ok[pool.Borrowed](t)(pool.Borrow(pool.Contribution{Variance: 0.27, DF: 2}, turned))
	for _, p := range [][2]float64{{a.Variance * 0.09, b.Variance}, {a.DF, b.DF}, {a.F, b.F}, {a.Record.P, b.Record.P}, {a.Prior.DF, b.Prior.DF}} {
		if math.Abs(p[0]-p[1]) > 1e-10*math.Abs(p[0]) {
			t.Errorf("%v against %v", p[0], p[1])
		}
	}
	if !a.Caveats.Has("heterogeneous_record") || a.Method != pool.Moderated || a.Prior.DF >= 29 {
		t.Errorf("%+v", a)
	}
}

func TestContributionsCountAfterMeanAndDrift(t *testing.T) {
	s := drift.Sequence{At: []float64{1, 4, 7, 10}, Value: []float64{7.50, 7.41, 7.35, 7.26}}
	mean := ok[pool.Contribution](t)(pool.FromSequence("day 1", s, 0))
	line := ok[pool.Contribution](t)(pool.FromSequence("day 1", s, 1))
	if mean.DF != 3 || line.DF != 2 || line.Variance >= mean.Variance {
		t.Errorf("%+v, %+v", mean, line)
	}
	// Worked by hand: residual SD about the line 0.009487 (sum of squares 1.8e-4 on 2).
	if math.Abs(line.Variance-9e-5) > 1e-12 {
		t.Errorf("variance %v", line.Variance)
	}
	two := ok[pool.Contribution](t)(pool.FromSequence("day 2", drift.Sequence{At: []float64{1, 2}, Value: []float64{3, 4}}, 1))
	if two.DF != 0 || two.Variance != 0 {
		t.Errorf("%+v", two)
	}
}

func TestDegenerateRecords(t *testing.T) {
	bad := func(what string, err error) {
		t.Helper()
		if fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%s: %v", what, err)
		}
	}
	zeros := list(make([]float64, 12), []float64{2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2})
	p := ok[pool.Pooled](t)(pool.Pool(zeros))
	if p.Variance != 0 || p.P != 1 || !p.Caveats.Has("no_scatter") {
		t.Errorf("zeros: %+v", p)
	}
	_, err := pool.FitPrior(zeros)
	bad("prior of zeros", err)
	b := ok[pool.Borrowed](t)(pool.Borrow(pool.Contribution{Variance: 1, DF: 2}, zeros))
	if !b.Refused || b.Variance != 1 || !b.Caveats.Has("no_prior") {
		t.Errorf("own scatter against a record of zeros: %+v", b)
	}
	b = ok[pool.Borrowed](t)(pool.Borrow(pool.Contribution{Variance: 0, DF: 2}, zeros))
	if b.Refused || b.Variance != 0 {
		t.Errorf("nothing scatters: %+v", b)
	}
	few := list([]float64{0, 1, 2, 3, 1, 2, 3, 1, 2, 1, 3}, []float64{2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 0})
	b = ok[pool.Borrowed](t)(pool.Borrow(pool.Contribution{Variance: 1, DF: 2}, few))
	if !b.Caveats.Has("zero_variance") || !b.Caveats.Has("no_degrees_of_freedom") || math.IsNaN(b.Variance) || b.Record.P != 1 {
		t.Errorf("one zero: %+v", b)
	}
	forty := make([]pool.Contribution, 40)
	for i := range forty {
		forty[i] = pool.Contribution{Variance: 2.5, DF: 1}
	}
	b = ok[pool.Borrowed](t)(pool.Borrow(pool.Contribution{Variance: 2.5, DF: 1}, forty))
	if b.DF != 41 || math.Abs(b.Variance-2.5) > 1e-12 || !b.Capped {
		t.Errorf("forty alike: %+v", b)
	}
	_, err = pool.Pool(nil)
	bad("nothing", err)
	_, err = pool.Pool(list([]float64{-1}, []float64{2}))
	bad("negative", err)
	_, err = pool.Borrow(pool.Contribution{Variance: math.NaN(), DF: 1}, nil)
	bad("no number", err)
	_, err = pool.Shewhart([]float64{1}, pool.ChartOptions{})
	bad("one value", err)
	_, err = pool.Shewhart([]float64{1, math.NaN()}, pool.ChartOptions{})
	bad("no number", err)
	_, err = pool.EWMA([]float64{1, 2}, pool.ChartOptions{Lambda: 2})
	bad("lambda", err)
	_, err = pool.Shewhart([]float64{1, 2}, pool.ChartOptions{Rules: []pool.Rule{"odd"}})
	bad("rule", err)
	_, err = pool.Shewhart([]float64{1, 2}, pool.ChartOptions{Baseline: 3})
	bad("baseline", err)
	_, err = pool.Precision(nil, 0, 0.01)
	bad("no groups", err)
	c := ok[pool.Chart](t)(pool.Shewhart([]float64{0.1, 0.1, 0.1, 0.2}, pool.ChartOptions{Baseline: 3}))
	if c.SD != 0 || c.FirstOut != 3 || c.Out != 1 || !c.Caveats.Has("no_scatter") {
		t.Errorf("no scatter: %+v", c)
	}
}
