package outlier_test

import (
	"math"
	"strconv"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/internal/golden"
	"example.org/bookend/stat/outlier"
)

func must[T any](t *testing.T) func(T, error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

func TestGrubbsCriticalValuesAgreeWithScipy(t *testing.T) {
	golden.Run(t, "scipy-1.10.1", "grubbs-critical", func(t *testing.T, c *golden.Case) {
		var in struct {
			N []int `json:"n"`
		}
		var want struct {
			One5 []float64 `json:"one_sided_5"`
			One1 []float64 `json:"one_sided_1"`
			Two5 []float64 `json:"two_sided_5"`
			Two1 []float64 `json:"two_sided_1"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		for i, n := range in.N {
			c.Near(t, "one-sided 5 %", must[float64](t)(outlier.GrubbsCritical(n, outlier.Greatest, 0.05)), want.One5[i])
			c.Near(t, "one-sided 1 %", must[float64](t)(outlier.GrubbsCritical(n, outlier.Least, 0.01)), want.One1[i])
			c.Near(t, "two-sided 5 %", must[float64](t)(outlier.GrubbsCritical(n, outlier.TwoSided, 0.05)), want.Two5[i])
			c.Near(t, "two-sided 1 %", must[float64](t)(outlier.GrubbsCritical(n, outlier.TwoSided, 0.01)), want.Two1[i])
		}
	})
}

type misprint struct {
	N       int     `json:"n"`
	Alpha   float64 `json:"alpha"`
	Printed float64 `json:"printed"`
}

// printedEntry holds a value against a table's, and a listed misprint against
// its listing: it must really be off.
func printedEntry(t *testing.T, c *golden.Case, wrong []misprint, n int, alpha, got, printed float64) {
	t.Helper()
	for _, m := range wrong {
		if m.N == n && m.Alpha == alpha {
			if m.Printed != printed || math.Abs(got-printed) <= c.Tol {
				t.Errorf("n %d: %v is listed as a misprint but agrees with %v", n, printed, got)
			}
			return
		}
	}
	c.Near(t, "n "+strconv.Itoa(n)+" at "+strconv.FormatFloat(alpha, 'g', -1, 64), got, printed)
}

func TestGrubbsPrintedTables(t *testing.T) {
	golden.Run(t, "libretexts-grubbs", "*", func(t *testing.T, c *golden.Case) {
		var w struct {
			N     []int      `json:"two_sided_n"`
			Five  []float64  `json:"two_sided_5"`
			One   []float64  `json:"two_sided_1"`
			Wrong []misprint `json:"known_misprints"`
		}
		c.JSON(t, "expected.json", &w)
		check := func(n int, alpha, printed float64) {
			got := must[float64](t)(outlier.GrubbsCritical(n, outlier.TwoSided, alpha))
			printedEntry(t, c, w.Wrong, n, alpha, got, printed)
		}
		for i, n := range w.N {
			check(n, 0.05, w.Five[i])
			check(n, 0.01, w.One[i])
		}
	})
	golden.Run(t, "grubbs-table-two-decimals", "*", func(t *testing.T, c *golden.Case) {
		var w struct {
			Alpha []float64            `json:"alpha"`
			Table map[string][]float64 `json:"table"`
			Wrong []misprint           `json:"known_misprints"`
		}
		c.JSON(t, "expected.json", &w)
		for key, row := range w.Table {
			n, err := strconv.Atoi(key)
			if err != nil {
				t.Fatal(err)
			}
			for i, a := range w.Alpha {
				got := must[float64](t)(outlier.GrubbsCritical(n, outlier.Greatest, a))
				printedEntry(t, c, w.Wrong, n, a, got, row[i])
			}
		}
	})
}

func TestGrubbsMassSpectrometer(t *testing.T) {
	golden.Run(t, "nist-ehandbook", "grubbs-*", func(t *testing.T, c *golden.Case) {
		var in struct {
			X []float64 `json:"x"`
		}
		var w struct {
			G     float64 `json:"G"`
			Crit  float64 `json:"crit_one_sided_5"`
			Index int     `json:"index"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &w)
		r := must[outlier.Grubbs](t)(outlier.TestGrubbs(in.X, outlier.Greatest, 0.05))
		c.Near(t, "G", r.G, w.G)
		c.Near(t, "critical value", r.Critical, w.Crit)
		if r.Index != w.Index || !r.Outlier || !r.Exact || r.P > 0.05 {
			t.Errorf("index %d, outlier %v, p %v exact %v", r.Index, r.Outlier, r.P, r.Exact)
		}
	})
}

// Law: a G at its critical value has p = alpha.
func TestGrubbsPValueIsTheInverseOfTheCriticalValue(t *testing.T) {
	for _, n := range []int{3, 4, 8, 14} {
		for _, side := range []outlier.Side{outlier.TwoSided, outlier.Greatest, outlier.Least} {
			// A sample whose G is what we want: one value out, the rest spread evenly.
			x := make([]float64, n)
			for i := range x {
				x[i] = float64(i % 2)
			}
			sign := 1.0
			if side == outlier.Least {
				sign = -1
			}
			x[0] = 3 * sign
			r := must[outlier.Grubbs](t)(outlier.TestGrubbs(x, side, 0.05))
			if r.P <= 0 || r.P >= 1 {
				continue
			}
			back := must[float64](t)(outlier.GrubbsCritical(n, side, r.P))
			if math.Abs(back-r.G) > 1e-9*r.G {
				t.Errorf("n %d, %v: G %v has p %v, whose critical value is %v", n, side, r.G, r.P, back)
			}
		}
	}
}

// For three values the one-sided G at or above its exactness bound 1/sqrt 3
// is always exact, and the distribution is known: P(G > g) = 3 P(T1 > t).
// Analytic: with three values all alike in scatter, the greatest G is 2/sqrt 3.
func TestGrubbsOfThreeValuesReachesItsCeiling(t *testing.T) {
	r := must[outlier.Grubbs](t)(outlier.TestGrubbs([]float64{5, 5, 9}, outlier.TwoSided, 0.05))
	if math.Abs(r.G-2/math.Sqrt(3)) > 1e-14 || r.P > 1e-6 || !r.Exact {
		t.Errorf("G %v p %v exact %v", r.G, r.P, r.Exact)
	}
}

// Laws: shift, scale, mirror and reorder.
func TestGrubbsLaws(t *testing.T) {
	x := []float64{3.1, 2.9, 3.3, 3.0, 4.4, 3.2}
	a := must[outlier.Grubbs](t)(outlier.TestGrubbs(x, outlier.Greatest, 0.05))
	var y, z []float64
	for i := range x {
		y = append(y, -7*x[i]+100)
		z = append(z, x[len(x)-1-i])
	}
	b := must[outlier.Grubbs](t)(outlier.TestGrubbs(y, outlier.Least, 0.05))
	d := must[outlier.Grubbs](t)(outlier.TestGrubbs(z, outlier.Greatest, 0.05))
	if math.Abs(a.G-b.G) > 1e-12 || math.Abs(a.P-b.P) > 1e-12 || a.Index != b.Index {
		t.Errorf("mirrored and scaled: %+v against %+v", a, b)
	}
	if math.Abs(a.G-d.G) > 1e-12 || d.Index != len(x)-1-a.Index {
		t.Errorf("reordered: %+v against %+v", a, d)
	}
	two := must[outlier.Grubbs](t)(outlier.TestGrubbs(x, outlier.TwoSided, 0.05))
	if math.Abs(two.P-2*a.P) > 1e-12 {
		t.Errorf("two-sided p %v, one-sided %v", two.P, a.P)
	}
}

func TestCochran(t *testing.T) {
	run := func(source, match string, withOne bool) {
		golden.Run(t, source, match, func(t *testing.T, c *golden.Case) {
			var in struct {
				P []int `json:"p"`
				N []int `json:"n"`
			}
			var w struct {
				C5 [][]float64 `json:"c5"`
				C1 [][]float64 `json:"c1"`
			}
			c.JSON(t, "inputs.json", &in)
			c.JSON(t, "expected.json", &w)
			for i, p := range in.P {
				for j, n := range in.N {
					c.Near(t, "5 %", must[float64](t)(outlier.CochranCritical(p, n, 0.05)), w.C5[i][j])
					if withOne {
						c.Near(t, "1 %", must[float64](t)(outlier.CochranCritical(p, n, 0.01)), w.C1[i][j])
					}
				}
			}
		})
	}
	run("scipy-1.10.1", "cochran-c-critical", true)
	run("nms-cochran-table", "*", false)
}

// Law: at C = critical the p-value is alpha; relabelled groups give the same.
func TestCochranPValueAndRelabelling(t *testing.T) {
	const groups, n = 6, 4
	crit := must[float64](t)(outlier.CochranCritical(groups, n, 0.03))
	v := make([]float64, groups)
	counts := make([]int, groups)
	for i := range v {
		v[i], counts[i] = (1-crit)/(groups-1), n
	}
	v[4] = crit
	r := must[outlier.Cochran](t)(outlier.TestCochran(v, counts, 0.05))
	if math.Abs(r.P-0.03) > 1e-10 || r.Index != 4 || !r.Outlier || math.Abs(r.C-crit) > 1e-12 {
		t.Errorf("%+v, want p 0.03 at C %v", r, crit)
	}
	v[0], v[4] = v[4], v[0]
	s := must[outlier.Cochran](t)(outlier.TestCochran(v, counts, 0.05))
	if s.Index != 0 || math.Abs(s.P-r.P) > 1e-14 {
		t.Errorf("relabelled: %+v", s)
	}
}

func TestCochranWithUnequalCounts(t *testing.T) {
	r := must[outlier.Cochran](t)(outlier.TestCochran([]float64{1, 1.2, 30, 0.8, 5}, []int{6, 6, 5, 6, 1}, 0.05))
	if r.Index != 2 || !r.Outlier || !r.Caveats.Has("unequal_counts") || !r.Caveats.Has("group_without_scatter") || r.PerGroup != 6 || r.Groups != 4 {
		t.Errorf("%+v", r)
	}
	// A two-value group's great variance is less odd than the same in a ten-value group.
	few := must[outlier.Cochran](t)(outlier.TestCochran([]float64{1, 1, 1, 6}, []int{10, 10, 10, 2}, 0.05))
	many := must[outlier.Cochran](t)(outlier.TestCochran([]float64{1, 1, 1, 6}, []int{10, 10, 10, 10}, 0.05))
	if few.P <= many.P {
		t.Errorf("p %v with 2 values, %v with 10", few.P, many.P)
	}
}

func TestMandel(t *testing.T) {
	golden.Run(t, "scipy-1.10.1", "mandel-*", func(t *testing.T, c *golden.Case) {
		var in struct {
			P []int `json:"p"`
			N []int `json:"n"`
		}
		var w struct {
			H []float64   `json:"h_1"`
			K [][]float64 `json:"k_1"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &w)
		for i, p := range in.P {
			c.Near(t, "h", must[float64](t)(outlier.MandelH(p, 0.01)), w.H[i])
			for j, n := range in.N {
				c.Near(t, "k", must[float64](t)(outlier.MandelK(p, n, 0.01)), w.K[i][j])
			}
		}
	})
	golden.Run(t, "iso-5725-2", "mandel-*", func(t *testing.T, c *golden.Case) {
		var w struct {
			P      []int        `json:"p"`
			Values [][]float64  `json:"values"`
			Off    [][4]float64 `json:"entries_off"`
		}
		c.JSON(t, "expected.json", &w)
		off := map[[2]int]bool{}
		for _, e := range w.Off {
			off[[2]int{int(e[0]), int(e[1])}] = true
		}
		for i, p := range w.P {
			c.Near(t, "h", must[float64](t)(outlier.MandelH(p, 0.01)), w.Values[i][0])
			for n := 2; n <= 10; n++ {
				got := must[float64](t)(outlier.MandelK(p, n, 0.01))
				if off[[2]int{p, n}] {
					if math.Abs(got-w.Values[i][n-1]) > 0.0095 {
						t.Errorf("p %d n %d: %v, printed %v", p, n, got, w.Values[i][n-1])
					}
					continue
				}
				c.Near(t, "k", got, w.Values[i][n-1])
			}
		}
	})
}

func TestPrecisionOfTheGlucoseData(t *testing.T) {
	golden.Run(t, "astm-e691", "glucose-*", func(t *testing.T, c *golden.Case) {
		var in struct {
			Labs [][]float64 `json:"labs_by_replicates"`
		}
		var w struct {
			Mean     float64   `json:"mean"`
			SX       float64   `json:"sx"`
			SR       float64   `json:"s_repeatability"`
			SL2      float64   `json:"sL2"`
			SRepro   float64   `json:"s_reproducibility"`
			Limit    float64   `json:"repeatability_limit_2_8"`
			LimitR   float64   `json:"reproducibility_limit_2_8"`
			H        []float64 `json:"h"`
			K        []float64 `json:"k"`
			C        float64   `json:"cochran_C"`
			C5       float64   `json:"cochran_crit_5"`
			C1       float64   `json:"cochran_crit_1"`
			Max      float64   `json:"grubbs_max"`
			Min      float64   `json:"grubbs_min"`
			GrubbsC5 float64   `json:"grubbs_crit_two_sided_5"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &w)
		p := must[outlier.Precision](t)(outlier.Study(in.Labs, 0.005))
		c.Near(t, "mean", p.Mean, w.Mean)
		c.Near(t, "s_x", p.SDOfMeans, w.SX)
		c.Near(t, "s_r", p.Repeatability, w.SR)
		c.Near(t, "s_L^2", p.BetweenVar, w.SL2)
		c.Near(t, "s_R", p.Reproduce, w.SRepro)
		c.Near(t, "r", p.RepeatLimit, w.Limit)
		c.Near(t, "R", p.ReproduceLimit, w.LimitR)
		v := make([]float64, len(in.Labs))
		for i := range in.Labs {
			c.Near(t, "h", p.H[i], w.H[i])
			c.Near(t, "k", p.K[i], w.K[i])
			v[i] = p.SDs[i] * p.SDs[i]
		}
		five := must[outlier.Cochran](t)(outlier.TestCochran(v, p.Counts, 0.05))
		one := must[outlier.Cochran](t)(outlier.TestCochran(v, p.Counts, 0.01))
		c.Near(t, "Cochran's C", five.C, w.C)
		c.Near(t, "its 5 % value", five.Critical, w.C5)
		c.Near(t, "its 1 % value", one.Critical, w.C1)
		if five.Outlier != (w.C > w.C5) {
			t.Errorf("outlier %v with C %v against %v", five.Outlier, w.C, w.C5)
		}
		hi := must[outlier.Grubbs](t)(outlier.TestGrubbs(p.Means, outlier.Greatest, 0.05))
		lo := must[outlier.Grubbs](t)(outlier.TestGrubbs(p.Means, outlier.Least, 0.05))
		two := must[outlier.Grubbs](t)(outlier.TestGrubbs(p.Means, outlier.TwoSided, 0.05))
		c.Near(t, "G of the greatest mean", hi.G, w.Max)
		c.Near(t, "G of the least mean", lo.G, w.Min)
		c.Near(t, "G at 5 %", two.Critical, w.GrubbsC5)
	})
	golden.Run(t, "astm-e691", "printed-*", func(t *testing.T, c *golden.Case) {
		var in struct {
			Labs [][]float64 `json:"labs_by_replicates"`
		}
		var w struct {
			Mean   float64 `json:"mean"`
			SX     float64 `json:"sx"`
			SR     float64 `json:"s_repeatability"`
			SRepro float64 `json:"s_reproducibility"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &w)
		p := must[outlier.Precision](t)(outlier.Study(in.Labs, 0.005))
		c.Near(t, "mean", p.Mean, w.Mean)
		c.Near(t, "s_x", p.SDOfMeans, w.SX)
		c.Near(t, "s_r", p.Repeatability, w.SR)
		c.Near(t, "s_R", p.Reproduce, w.SRepro)
	})
}

func TestCoefficientOfVariation(t *testing.T) {
	golden.Run(t, "scipy-1.10.1", "cv-*", func(t *testing.T, c *golden.Case) {
		var in struct {
			X []float64 `json:"x"`
		}
		var w struct {
			Mean  float64    `json:"mean"`
			S     float64    `json:"s"`
			CV    float64    `json:"cv_percent"`
			CI    [2]float64 `json:"cv_ci95_exact_noncentral_t"`
			R28   float64    `json:"r_2_8"`
			Exact float64    `json:"r_exact_factor"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &w)
		v := must[outlier.Variation](t)(outlier.CoefficientOfVariation(in.X, 0.95))
		c.NearRel(t, "mean", v.Mean, w.Mean)
		c.NearRel(t, "s", v.SD, w.S)
		c.NearRel(t, "CV", 100*v.CV, w.CV)
		c.NearRel(t, "low", v.Low, w.CI[0])
		c.NearRel(t, "high", v.High, w.CI[1])
		p := must[outlier.Precision](t)(outlier.Study([][]float64{in.X, in.X}, 0.01))
		c.NearRel(t, "2.8 s_r", p.RepeatLimit, w.R28)
		c.NearRel(t, "1.96 sqrt 2 s_r", p.RepeatExact, w.Exact)
	})
}

// Law: the scale of the values does not matter to a coefficient of variation.
func TestCoefficientOfVariationHasNoUnit(t *testing.T) {
	x := []float64{31.2, 30.1, 33.0, 32.2}
	y := make([]float64, len(x))
	for i := range x {
		y[i] = x[i] / 0.3048
	}
	a := must[outlier.Variation](t)(outlier.CoefficientOfVariation(x, 0.9))
	b := must[outlier.Variation](t)(outlier.CoefficientOfVariation(y, 0.9))
	for _, p := range [][2]float64{{a.CV, b.CV}, {a.Low, b.Low}, {a.High, b.High}} {
		if math.Abs(p[0]-p[1]) > 1e-12 {
			t.Errorf("%v against %v", p[0], p[1])
		}
	}
}

func TestDegenerateInputIsSaid(t *testing.T) {
	code := func(what string, err error) {
		t.Helper()
		if fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%s: %v", what, err)
		}
	}
	_, err := outlier.TestGrubbs([]float64{1, 2}, outlier.TwoSided, 0.05)
	code("two values", err)
	_, err = outlier.TestGrubbs([]float64{1, 2, math.NaN()}, outlier.TwoSided, 0.05)
	code("no number", err)
	_, err = outlier.TestGrubbs([]float64{1, 2, 3}, outlier.TwoSided, 1)
	code("level", err)
	r := must[outlier.Grubbs](t)(outlier.TestGrubbs([]float64{0.1, 0.1, 0.1, 0.1}, outlier.TwoSided, 0.05))
	if r.Index != -1 || r.P != 1 || r.Outlier || !r.Caveats.Has("no_scatter") {
		t.Errorf("equal values: %+v", r)
	}
	r = must[outlier.Grubbs](t)(outlier.TestGrubbs([]float64{1, 1, 1, 5, 5}, outlier.Greatest, 0.05))
	if !r.Caveats.Has("tied_extreme") || r.Index != 3 {
		t.Errorf("tied extreme: %+v", r)
	}
	c := must[outlier.Cochran](t)(outlier.TestCochran(make([]float64, 40), fill(40, 3), 0.05))
	if c.Index != -1 || c.P != 1 || !c.Caveats.Has("no_scatter") {
		t.Errorf("no scatter in 40 groups: %+v", c)
	}
	one := make([]float64, 40)
	one[17] = 2
	c = must[outlier.Cochran](t)(outlier.TestCochran(one, fill(40, 3), 0.05))
	if c.Index != 17 || c.P != 0 || c.C != 1 {
		t.Errorf("all scatter in one group: %+v", c)
	}
	_, err = outlier.TestCochran([]float64{1, 2}, []int{1, 5}, 0.05)
	code("one group with scatter", err)
	_, err = outlier.TestCochran([]float64{1, -2}, []int{3, 5}, 0.05)
	code("negative variance", err)
	_, err = outlier.Study([][]float64{{1}, {2}, {3}}, 0.01)
	code("no repeats", err)
	_, err = outlier.Study([][]float64{{1, 2}, {}}, 0.01)
	code("empty group", err)
	p := must[outlier.Precision](t)(outlier.Study([][]float64{{2, 2}, {2, 2}, {2}}, 0.01))
	if p.H[0] != 0 || p.K[0] != 0 || !p.Caveats.Has("no_scatter") || !p.Caveats.Has("unequal_counts") {
		t.Errorf("no scatter: %+v", p)
	}
	_, err = outlier.CoefficientOfVariation([]float64{-1, 1}, 0.95)
	code("mean zero", err)
	_, err = outlier.CoefficientOfVariation([]float64{1}, 0.95)
	code("one value", err)
	v := must[outlier.Variation](t)(outlier.CoefficientOfVariation([]float64{3, 3, 3}, 0.95))
	if v.CV != 0 || !v.Caveats.Has("no_scatter") {
		t.Errorf("no scatter: %+v", v)
	}
	v = must[outlier.Variation](t)(outlier.CoefficientOfVariation([]float64{0.1, 9}, 0.95))
	if v.Bounded || !v.Caveats.Has("no_upper_limit") || v.Low <= 0 {
		t.Errorf("mean not shown: %+v", v)
	}
}

func fill(n, v int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = v
	}
	return out
}
