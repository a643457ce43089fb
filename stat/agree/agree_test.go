package agree_test

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
	"example.org/bookend/stat/agree"
)

// dataFile opens a file of the open data set, which lies beside the checkout
// or where BOOKEND_DATA says; without it the test is skipped.
func dataFile(t *testing.T, name string) [][]string {
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
	var rows [][]string
	for s := bufio.NewScanner(f); s.Scan(); {
		if fields := strings.Fields(s.Text()); len(fields) > 0 {
			rows = append(rows, fields)
		}
	}
	return rows
}

// numbers gives the rows that consist of exactly n numbers.
func numbers(rows [][]string, n int) [][]float64 {
	var out [][]float64
	for _, r := range rows {
		if len(r) != n {
			continue
		}
		v := make([]float64, n)
		good := true
		for i := range r {
			x, err := strconv.ParseFloat(r[i], 64)
			v[i], good = x, good && err == nil
		}
		if good {
			out = append(out, v)
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

type table struct {
	Rows [][]float64 `json:"ratings_targets_by_judges"`
}

func TestSixIntraclassCorrelations(t *testing.T) {
	golden.Run(t, "numpy-1.24", "icc-*", func(t *testing.T, c *golden.Case) {
		var in table
		var w map[string]any
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &w)
		r := ok[agree.Intraclass](t)(agree.IntraclassCorrelations(in.Rows, 0.95))
		c.Near(t, "BMS", r.Between, w["BMS"].(float64))
		c.Near(t, "WMS", r.Within, w["WMS"].(float64))
		c.Near(t, "JMS", r.Rater, w["JMS"].(float64))
		c.Near(t, "EMS", r.Error, w["EMS"].(float64))
		for _, x := range r.All() {
			ci := w["CI "+x.Name].([]any)
			c.Near(t, x.Name, x.Value, w[x.Name].(float64))
			c.Near(t, x.Name+" low", x.Low, ci[0].(float64))
			c.Near(t, x.Name+" high", x.High, ci[1].(float64))
		}
	})
	golden.Run(t, "shrout-fleiss-1979", "*", func(t *testing.T, c *golden.Case) {
		var in table
		var w map[string]any
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &w)
		r := ok[agree.Intraclass](t)(agree.IntraclassCorrelations(in.Rows, 0.95))
		limits := w["CI"].(map[string]any)
		for _, x := range r.All() {
			ci := limits[x.Name].([]any)
			c.Near(t, x.Name, x.Value, w[x.Name].(float64))
			c.Near(t, x.Name+" low", x.Low, ci[0].(float64))
			c.Near(t, x.Name+" high", x.High, ci[1].(float64))
		}
	})
}

// Laws: the order of raters and objects and the unit do not matter; a
// constant added to one rater leaves ICC(3,.) alone and lowers ICC(2,.).
func TestIntraclassLaws(t *testing.T) {
	x := [][]float64{{9, 2, 5, 8}, {6, 1, 3, 2}, {8, 4, 6, 8}, {7, 1, 2, 6}, {10, 5, 6, 9}, {6, 2, 4, 7}}
	var y, z [][]float64
	for i := range x {
		r := x[len(x)-1-i]
		y = append(y, []float64{3*r[2] + 7, 3*r[0] + 7, 3*r[3] + 7, 3*r[1] + 7})
		z = append(z, []float64{x[i][0] + 5, x[i][1], x[i][2], x[i][3]})
	}
	a := ok[agree.Intraclass](t)(agree.IntraclassCorrelations(x, 0.9))
	b := ok[agree.Intraclass](t)(agree.IntraclassCorrelations(y, 0.9))
	d := ok[agree.Intraclass](t)(agree.IntraclassCorrelations(z, 0.9))
	for i, c := range a.All() {
		e := b.All()[i]
		if math.Abs(c.Value-e.Value) > 1e-12 || math.Abs(c.Low-e.Low) > 1e-10 || math.Abs(c.High-e.High) > 1e-10 {
			t.Errorf("%s: %v against %v", c.Name, c, e)
		}
	}
	if math.Abs(d.Three1.Value-a.Three1.Value) > 1e-12 || d.Two1.Value >= a.Two1.Value {
		t.Errorf("after a harder rater: ICC(3,1) %v, ICC(2,1) %v", d.Three1.Value, d.Two1.Value)
	}
}

func TestKendallWithTies(t *testing.T) {
	golden.Run(t, "zar-2010", "*", func(t *testing.T, c *golden.Case) {
		var in struct {
			Rows [][]float64 `json:"objects_by_judges"`
		}
		var w struct {
			Sums []float64 `json:"rank_sums"`
			S    float64   `json:"S"`
			T    float64   `json:"T"`
			WU   float64   `json:"W_uncorrected"`
			W    float64   `json:"W"`
			Chi2 float64   `json:"chi2"`
			DF   float64   `json:"df"`
			P    float64   `json:"p"`
			ChiU float64   `json:"chi2_uncorrected"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &w)
		r := ok[agree.Concordance](t)(agree.Rank(in.Rows))
		for i := range w.Sums {
			c.Near(t, "rank sum", r.RankSums[i], w.Sums[i])
		}
		c.Near(t, "S", r.S, w.S)
		c.Near(t, "ties", r.Ties, w.T)
		c.Near(t, "W uncorrected", r.WUncorrected, w.WU)
		c.Near(t, "W", r.W, w.W)
		c.Near(t, "chi-square", r.Chi2, w.Chi2)
		c.Near(t, "chi-square uncorrected", float64(r.Raters)*r.DF*r.WUncorrected, w.ChiU)
		c.Near(t, "df", r.DF, w.DF)
		c.Near(t, "p", r.P, w.P)
	})
}

func TestFriedman(t *testing.T) {
	for _, source := range []string{"hollander-wolfe-1973", "scipy-1.10.1"} {
		golden.Run(t, source, "*base-running", func(t *testing.T, c *golden.Case) {
			var in struct {
				Rows [][]float64 `json:"blocks_by_treatments"`
			}
			var w struct {
				Chi2 float64  `json:"chi2"`
				DF   float64  `json:"df"`
				P    float64  `json:"p"`
				W    *float64 `json:"kendall_w"`
			}
			c.JSON(t, "inputs.json", &in)
			c.JSON(t, "expected.json", &w)
			r := ok[agree.Concordance](t)(agree.Friedman(in.Rows))
			c.Near(t, "chi-square", r.Chi2, w.Chi2)
			c.Near(t, "df", r.DF, w.DF)
			c.Near(t, "p", r.P, w.P)
			if w.W != nil {
				c.Near(t, "W", r.W, *w.W)
			}
		})
	}
	golden.Run(t, "nist-dataplot", "friedman-*", func(t *testing.T, c *golden.Case) {
		var w struct {
			Chi2 float64 `json:"chi2"`
			P    float64 `json:"p"`
			F    float64 `json:"F"`
			FP   float64 `json:"F_p"`
			W    float64 `json:"W"`
		}
		c.JSON(t, "expected.json", &w)
		rows := numbers(dataFile(t, "ratings/nist_FRIEDMAN.DAT"), 3)
		if len(rows) != 48 {
			t.Fatalf("%d rows", len(rows))
		}
		x := make([][]float64, 12)
		for i := range x {
			x[i] = make([]float64, 4)
		}
		for _, r := range rows {
			x[int(r[1])-1][int(r[2])-1] = r[0]
		}
		r := ok[agree.Concordance](t)(agree.Friedman(x))
		c.Near(t, "chi-square", r.Chi2, w.Chi2)
		c.Near(t, "p", r.P, w.P)
		c.Near(t, "F", r.F, w.F)
		c.Near(t, "p of F", r.FP, w.FP)
		c.Near(t, "W", r.W, w.W)
	})
}

func TestKrippendorff(t *testing.T) {
	for _, source := range []string{"krippendorff-c-data", "numpy-1.24"} {
		match := "krippendorff-*"
		if source == "krippendorff-c-data" {
			match = "printed"
		}
		golden.Run(t, source, match, func(t *testing.T, c *golden.Case) {
			var in struct {
				Units [][]*float64 `json:"units_by_observers"`
			}
			var w map[string]float64
			c.JSON(t, "inputs.json", &in)
			c.JSON(t, "expected.json", &w)
			var ratings []agree.Rating
			for u, row := range in.Units {
				for o, v := range row {
					if v != nil {
						ratings = append(ratings, agree.Rating{Object: strconv.Itoa(u), Rater: strconv.Itoa(o), Value: *v})
					}
				}
			}
			for _, s := range []agree.Scale{agree.Nominal, agree.Ordinal, agree.Interval, agree.Ratio} {
				r := ok[agree.Reliability](t)(agree.Krippendorff(ratings, s))
				want, there := w[s.String()]
				if !there || !r.Defined {
					t.Fatalf("no %v", s)
				}
				c.Near(t, s.String(), r.Alpha, want)
				if r.Objects != 11 || r.Pairable != 40 || !r.Caveats.Has("rated_once") {
					t.Errorf("%d objects, %d ratings", r.Objects, r.Pairable)
				}
			}
		})
	}
}

// Laws: nominal alpha does not see which numbers name the classes, ordinal
// only their order, interval a change of unit and zero, ratio one of unit.
func TestKrippendorffScales(t *testing.T) {
	base := [][]float64{{1, 1, 2}, {2, 3, 2}, {4, 4, 4}, {3, 4, 4}, {1, 2, 1}}
	at := func(s agree.Scale, f func(float64) float64) float64 {
		var r []agree.Rating
		for o := len(base) - 1; o >= 0; o-- { // order of the list does not matter either
			for j, v := range base[o] {
				r = append(r, agree.Rating{Object: strconv.Itoa(o), Rater: strconv.Itoa(j), Value: f(v)})
			}
		}
		return ok[agree.Reliability](t)(agree.Krippendorff(r, s)).Alpha
	}
	same := func(v float64) float64 { return v }
	for s, f := range map[agree.Scale]func(float64) float64{
		agree.Nominal:  func(v float64) float64 { return math.Mod(3*v, 7) },
		agree.Ordinal:  func(v float64) float64 { return v * v * v },
		agree.Interval: func(v float64) float64 { return 10 - 2*v },
		agree.Ratio:    func(v float64) float64 { return 7 * v },
	} {
		if a, b := at(s, same), at(s, f); math.Abs(a-b) > 1e-12 {
			t.Errorf("%v: %v against %v", s, a, b)
		}
	}
}

func TestLimitsOfAgreement(t *testing.T) {
	type inputs struct {
		L1 []float64 `json:"large_first"`
		L2 []float64 `json:"large_second"`
		M1 []float64 `json:"mini_first"`
		M2 []float64 `json:"mini_second"`
	}
	golden.Run(t, "numpy-1.24", "bland-altman-*", func(t *testing.T, c *golden.Case) {
		var in inputs
		var w struct {
			N     int        `json:"n"`
			Bias  float64    `json:"mean_difference"`
			SD    float64    `json:"sd"`
			LoA   [2]float64 `json:"loa_1_96"`
			LoA2  [2]float64 `json:"loa_2sd"`
			SE    float64    `json:"se_mean"`
			CI    [2]float64 `json:"ci95_mean"`
			SEL   float64    `json:"se_limit_sqrt3s2n"`
			Large float64    `json:"repeatability_coefficient_large"`
			Mini  float64    `json:"repeatability_coefficient_mini"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &w)
		l := ok[agree.Limits](t)(agree.LimitsOfAgreement(in.L1, in.M1, 0.95))
		if l.N != w.N {
			t.Errorf("n %d", l.N)
		}
		for _, p := range [][2]float64{{l.Bias, w.Bias}, {l.SD, w.SD}, {l.Low, w.LoA[0]}, {l.High, w.LoA[1]}, {l.TwoSDLow, w.LoA2[0]}, {l.TwoSDHigh, w.LoA2[1]},
			{l.SEBias, w.SE}, {l.BiasLow, w.CI[0]}, {l.BiasHigh, w.CI[1]}, {l.SELimit, w.SEL},
			{ok[float64](t)(agree.RepeatabilityCoefficient(in.L1, in.L2)), w.Large}, {ok[float64](t)(agree.RepeatabilityCoefficient(in.M1, in.M2)), w.Mini}} {
			c.Near(t, "value", p[0], p[1])
		}
		back := ok[agree.Limits](t)(agree.LimitsOfAgreement(in.M1, in.L1, 0.95))
		if back.Bias != -l.Bias || math.Abs(back.P-l.P) > 1e-14 {
			t.Error("turning the methods over changes more than signs")
		}
	})
	golden.Run(t, "bland-altman-1986", "*", func(t *testing.T, c *golden.Case) {
		var in inputs
		var w struct {
			Bias float64    `json:"mean_difference"`
			SD   float64    `json:"sd"`
			LoA  [2]float64 `json:"loa_2sd"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &w)
		l := ok[agree.Limits](t)(agree.LimitsOfAgreement(in.L1, in.M1, 0.95))
		c.Near(t, "bias", l.Bias, w.Bias)
		c.Near(t, "SD", l.SD, w.SD)
		// The print rounds 2 x 38.8 first: 0.07 and 0.03 above.
		rounded := 2 * math.Round(l.SD*10) / 10
		c.Near(t, "low", math.Round(l.Bias*10)/10-rounded, w.LoA[0])
		c.Near(t, "high", math.Round(l.Bias*10)/10+rounded, w.LoA[1])
	})
}

func TestPairedTestsOnOpenData(t *testing.T) {
	var w struct {
		T float64 `json:"t"`
		P float64 `json:"p"`
	}
	check := func(c *golden.Case, first, second []float64) {
		c.JSON(t, "expected.json", &w)
		l := ok[agree.Limits](t)(agree.LimitsOfAgreement(first, second, 0.95))
		c.Near(t, "t", l.T, w.T)
		if math.Abs(l.P-w.P) > 1e-3*w.P {
			t.Errorf("p %v, want %v", l.P, w.P)
		}
	}
	golden.Run(t, "nist-dataplot", "paired-t-boxshoes", func(t *testing.T, c *golden.Case) {
		var a, b []float64
		for _, r := range numbers(dataFile(t, "stats/nist_BOXSHOES.DAT"), 3) {
			if r[1] == 1 {
				a = append(a, r[0])
			} else {
				b = append(b, r[0])
			}
		}
		check(c, a, b)
	})
	golden.Run(t, "nist-dataplot", "paired-t-natr338", func(t *testing.T, c *golden.Case) {
		var a, b []float64
		for _, r := range numbers(dataFile(t, "stats/nist_NATR338.DAT"), 2) {
			a, b = append(a, r[0]), append(b, r[1])
		}
		check(c, a, b)
	})
}

func TestBlocksOfNatrella(t *testing.T) {
	golden.Run(t, "nist-dataplot", "block-f-*", func(t *testing.T, c *golden.Case) {
		var w struct {
			F float64 `json:"F"`
			P float64 `json:"p"`
		}
		c.JSON(t, "expected.json", &w)
		var x [][]float64
		for _, r := range numbers(dataFile(t, "stats/nist_NATR134.DAT"), 7) {
			x = append(x, r[1:])
		}
		r := ok[agree.Intraclass](t)(agree.IntraclassCorrelations(x, 0.95))
		c.Near(t, "F", r.RaterF, w.F)
		c.Near(t, "p", r.RaterP, w.P)
	})
}

func TestSeverityWithMissingCells(t *testing.T) {
	golden.Run(t, "numpy-1.24", "rater-severity-*", func(t *testing.T, c *golden.Case) {
		var in struct {
			Rows [][3]any `json:"rows"`
		}
		var w struct {
			Mu       float64   `json:"mu_control"`
			Effect   []float64 `json:"tyre_effect_A_B_D"`
			SE       []float64 `json:"se"`
			Severity []float64 `json:"severity_r1_r2_r3_r4"`
			S2       float64   `json:"s2"`
			DF       float64   `json:"df"`
			Raw      []float64 `json:"raw_mean_difference_A_B_D"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &w)
		var ratings []agree.Rating
		for _, r := range in.Rows {
			ratings = append(ratings, agree.Rating{Rater: r[0].(string), Object: r[1].(string), Value: r[2].(float64)})
		}
		s := ok[agree.Severity](t)(agree.RaterSeverity(ratings, "C"))
		c.Near(t, "level", s.Level, w.Mu)
		c.Near(t, "variance", s.Var, w.S2)
		c.Near(t, "df", s.DF, w.DF)
		names := []string{"C", "A", "B", "D"} // in order of appearance
		for i, e := range s.Objects {
			if e.Name != names[i] {
				t.Fatalf("object %d is %s", i, e.Name)
			}
			if i > 0 {
				c.Near(t, e.Name, e.Value, w.Effect[i-1])
				c.Near(t, e.Name+" SE", e.SE, w.SE[i-1])
				c.Near(t, e.Name+" raw", e.RawMean-s.Objects[0].RawMean, w.Raw[i-1])
			}
		}
		for i, e := range s.Raters {
			c.Near(t, e.Name, e.Value, w.Severity[i])
		}
		// Law: relabelled and reordered ratings, shifted by 1, give the same effects;
		// another reference gives the same differences and the same rater severities.
		var turned []agree.Rating
		for i := len(ratings) - 1; i >= 0; i-- {
			r := ratings[i]
			turned = append(turned, agree.Rating{Object: "x" + r.Object, Rater: "y" + r.Rater, Value: r.Value + 1})
		}
		u := ok[agree.Severity](t)(agree.RaterSeverity(turned, "xD"))
		value := func(list []agree.Effect, name string) agree.Effect {
			for _, e := range list {
				if e.Name == name {
					return e
				}
			}
			t.Fatalf("no %s", name)
			return agree.Effect{}
		}
		if d := value(u.Objects, "xC").Value + w.Effect[2]; math.Abs(d) > 1e-12 {
			t.Errorf("C against D misses by %v", d)
		}
		for i, e := range s.Raters {
			v := value(u.Raters, "y"+e.Name)
			if math.Abs(v.Value-w.Severity[i]) > 1e-12 || math.Abs(v.SE-e.SE) > 1e-12 {
				t.Errorf("%s: %v against %v", e.Name, v, e)
			}
		}
		if math.Abs(u.RaterF-s.RaterF) > 1e-10 || math.Abs(u.ObjectF-s.ObjectF) > 1e-9 {
			t.Error("F tests hang on the labels")
		}
	})
	golden.Run(t, "agridat", "pearl-*", func(t *testing.T, c *golden.Case) {
		var w struct {
			F   float64 `json:"F"`
			DF1 float64 `json:"df1"`
			DF2 float64 `json:"df2"`
			P   float64 `json:"p"`
		}
		c.JSON(t, "expected.json", &w)
		var ratings []agree.Rating
		for _, r := range dataFile(t, "ratings/agridat_pearl.kernels.txt")[1:] {
			v, err := strconv.ParseFloat(r[2], 64)
			if err != nil {
				t.Fatal(err)
			}
			ratings = append(ratings, agree.Rating{Object: r[0], Rater: r[1], Value: v})
		}
		s := ok[agree.Severity](t)(agree.RaterSeverity(ratings, ratings[0].Object))
		c.Near(t, "F", s.RaterF, w.F)
		c.Near(t, "df", s.RaterDF, w.DF1)
		c.Near(t, "error df", s.DF, w.DF2)
		c.Near(t, "p", s.RaterP, w.P)
	})
}

// Law: for a full table the additive model's F for raters is that of the
// intraclass table, and its rater effects are the differences of means.
func TestSeverityOfAFullTableIsTheTableItself(t *testing.T) {
	x := [][]float64{{9, 2, 5, 8}, {6, 1, 3, 2}, {8, 4, 6, 8}, {7, 1, 2, 6}}
	var ratings []agree.Rating
	for i, row := range x {
		for j, v := range row {
			ratings = append(ratings, agree.Rating{Object: strconv.Itoa(i), Rater: strconv.Itoa(j), Value: v})
		}
	}
	s := ok[agree.Severity](t)(agree.RaterSeverity(ratings, "0"))
	r := ok[agree.Intraclass](t)(agree.IntraclassCorrelations(x, 0.95))
	if math.Abs(s.RaterF-r.RaterF) > 1e-10 || math.Abs(s.Var-r.Error) > 1e-12 {
		t.Errorf("F %v and %v, error %v and %v", s.RaterF, r.RaterF, s.Var, r.Error)
	}
}

func TestDegenerateTables(t *testing.T) {
	bad := func(what string, err error) {
		t.Helper()
		if c := fault.CodeOf(err); c != fault.Invalid && c != fault.NotFound {
			t.Errorf("%s: %v", what, err)
		}
	}
	sound := func(what string, v ...float64) {
		t.Helper()
		for _, x := range v {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				t.Errorf("%s: %v", what, v)
				return
			}
		}
	}
	tables := map[string][][]float64{
		"all equal":        {{5, 5, 5}, {5, 5, 5}, {5, 5, 5}},
		"perfect":          {{1, 1}, {2, 2}, {7, 7}},
		"offset only":      {{1.1, 2.1}, {2.2, 3.2}, {7.3, 8.3}},
		"opposite":         {{1, 3}, {2, 2}, {3, 1}},
		"two by two":       {{1, 2}, {2, 1}},
		"objects alike":    {{1, 3}, {3, 1}, {1, 3}, {3, 1}},
		"raters differ":    {{1, 2}, {1, 2}},
		"nearly no rater":  {{0.3, 0.1, 0.2}, {0.1, 0.2, 0.3}, {0.2, 0.3, 0.1}},
		"one stands apart": {{0, 0, 1}, {0, 0, 0}},
	}
	forty := make([][]float64, 40)
	for i := range forty {
		forty[i] = []float64{float64(i % 3), float64(i % 2), 1}
	}
	tables["forty"] = forty
	for name, x := range tables {
		r, err := agree.IntraclassCorrelations(x, 0.95)
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
		for _, c := range r.All() {
			sound(name+" "+c.Name, c.Value, c.Low, c.High, c.F, c.P)
			if c.Defined && !c.NoLow && (c.Low > c.Value+1e-9 || c.High < c.Value-1e-9) {
				t.Errorf("%s %s: %v outside %v..%v", name, c.Name, c.Value, c.Low, c.High)
			}
		}
		sound(name, r.RaterF, r.RaterP)
		k, err := agree.Rank(x)
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
		sound(name, k.W, k.Chi2, k.P, k.F, k.FP)
		var ratings []agree.Rating
		for i, row := range x {
			for j, v := range row {
				ratings = append(ratings, agree.Rating{Object: strconv.Itoa(i), Rater: strconv.Itoa(j), Value: v})
			}
		}
		s, err := agree.RaterSeverity(ratings, "0")
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
		sound(name, s.Level, s.Var, s.ObjectF, s.ObjectP, s.RaterF, s.RaterP, s.Raters[0].SE)
		for _, scale := range []agree.Scale{agree.Nominal, agree.Ordinal, agree.Interval, agree.Ratio} {
			a, err := agree.Krippendorff(ratings, scale)
			if err != nil {
				t.Errorf("%s: %v", name, err)
			}
			sound(name, a.Alpha)
		}
		first, second := make([]float64, len(x)), make([]float64, len(x))
		for i := range x {
			first[i], second[i] = x[i][0], x[i][1]
		}
		l, err := agree.LimitsOfAgreement(first, second, 0.95)
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
		sound(name, l.Bias, l.SD, l.T, l.P, l.Slope, l.SlopeP)
	}
	equal, _ := agree.IntraclassCorrelations(tables["all equal"], 0.95)
	if equal.One1.Defined || !equal.Caveats.Has("objects_alike") {
		t.Error("equal ratings have a correlation")
	}
	perfect, _ := agree.IntraclassCorrelations(tables["perfect"], 0.95)
	if perfect.One1.Value != 1 || perfect.Two1.Value != 1 || !perfect.Caveats.Has("no_disagreement") {
		t.Errorf("perfect agreement: %+v", perfect)
	}
	offset, _ := agree.IntraclassCorrelations(tables["offset only"], 0.95)
	if offset.Three1.Value != 1 || offset.Two1.Value >= 1 || !offset.Caveats.Has("no_error") {
		t.Errorf("offset: %+v", offset)
	}
	tied, _ := agree.Rank(tables["all equal"])
	if !tied.Caveats.Has("all_tied") {
		t.Error("all tied, and not said")
	}

	_, err := agree.IntraclassCorrelations([][]float64{{1, 2}, {1}}, 0.95)
	bad("missing cell", err)
	if fault.HintOf(err) == "" {
		t.Error("a missing cell without a hint")
	}
	_, err = agree.Rank([][]float64{{1, 2}})
	bad("one object", err)
	_, err = agree.Friedman(nil)
	bad("nothing", err)
	_, err = agree.Krippendorff([]agree.Rating{{"a", "1", 3}, {"b", "1", 4}}, agree.Interval)
	bad("rated once each", err)
	_, err = agree.Krippendorff([]agree.Rating{{"a", "1", -3}, {"a", "2", 4}}, agree.Ratio)
	bad("negative ratio", err)
	_, err = agree.LimitsOfAgreement([]float64{1}, []float64{2}, 0.95)
	bad("one pair", err)
	_, err = agree.RaterSeverity([]agree.Rating{{"a", "1", 3}, {"b", "1", 4}, {"c", "2", 3}, {"d", "2", 4}}, "a")
	bad("apart", err)
	_, err = agree.RaterSeverity([]agree.Rating{{"a", "1", 3}, {"b", "2", 4}}, "z")
	bad("no reference", err)
	full, err := agree.RaterSeverity([]agree.Rating{{"a", "1", 3}, {"b", "1", 4}, {"a", "2", 3.5}}, "a")
	if err != nil || full.DF != 0 || full.Objects[1].SE != 0 || !full.Caveats.Has("no_degrees_of_freedom") {
		t.Errorf("saturated: %+v %v", full, err)
	}
}
