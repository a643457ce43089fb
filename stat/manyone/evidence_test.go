package manyone_test

import (
	"encoding/json"
	"fmt"
	"math"
	"testing"

	"example.org/bookend/internal/golden"
	"example.org/bookend/stat/manyone"
)

// freedom is degrees of freedom as the sources print them: a number or "inf".
type freedom float64

func (f *freedom) UnmarshalJSON(b []byte) error {
	if string(b) == `"inf"` {
		*f = freedom(math.Inf(1))
		return nil
	}
	var v float64
	if err := json.Unmarshal(b, &v); err != nil {
		return err
	}
	*f = freedom(v)
	return nil
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// even gives k comparisons that all correlate by rho.
func even(k int, rho, df float64, sided manyone.Sided) manyone.Family {
	r := make([][]float64, k)
	for i := range r {
		r[i] = make([]float64, k)
		for j := range r[i] {
			r[i][j] = rho
		}
		r[i][i] = 1
	}
	return manyone.Family{Corr: r, DF: df, Sided: sided}
}

// seen keeps the critical values of families that several tables print.
var seen = map[string]float64{}

func critical(t *testing.T, f manyone.Family, alpha float64) float64 {
	t.Helper()
	key := fmt.Sprint(f, alpha)
	if c, ok := seen[key]; ok {
		return c
	}
	c, bound, err := f.Critical(alpha)
	must(t, err)
	if bound > 1e-8 {
		t.Errorf("the bound of the critical value is %g", bound)
	}
	seen[key] = c
	return c
}

// Critical values at correlation 0.5, to 1e-9.
func TestCriticalHalf(t *testing.T) {
	golden.Run(t, "scipy-1.10.1", "critical-rho05", func(t *testing.T, c *golden.Case) {
		var in struct {
			Rho float64
			K   []int
			DF  []freedom
		}
		var want map[string][][]float64
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		if len(want) != 4 {
			t.Fatalf("%d tables", len(want))
		}
		for name, table := range want {
			sided := manyone.TwoSided
			var side string
			var alpha float64
			if _, err := fmt.Sscanf(name, "%s %g", &side, &alpha); err != nil {
				t.Fatal(err)
			}
			if side == "one-sided" {
				sided = manyone.Upper
			}
			for i, df := range in.DF {
				for j, k := range in.K {
					got := critical(t, even(k, in.Rho, float64(df), sided), alpha)
					c.Near(t, fmt.Sprintf("%s k=%d df=%v", name, k, df), got, table[i][j])
				}
			}
		}
	})
}

// Printed tables: every entry to its last digit, but for the misprints listed.
func TestPrintedTables(t *testing.T) {
	for source, sided := range map[string]manyone.Sided{"dunnett-1964": manyone.TwoSided, "dunnett-1955": manyone.Upper} {
		golden.Run(t, source, "*-sided-5pct", func(t *testing.T, c *golden.Case) {
			var in struct {
				Alpha float64
				Two   bool `json:"two_sided"`
				Rho   float64
				K     []int
				DF    []freedom
			}
			var want struct {
				Printed   [][]float64
				Misprints []struct {
					DF             freedom
					K              int
					Printed, Exact float64
				}
			}
			c.JSON(t, "inputs.json", &in)
			c.JSON(t, "expected.json", &want)
			checked := 0
			for i, df := range in.DF {
				for j, k := range in.K {
					got := critical(t, even(k, in.Rho, float64(df), sided), in.Alpha)
					printed := want.Printed[i][j]
					for _, m := range want.Misprints {
						if m.DF == df && m.K == k {
							if m.Printed != printed || math.Abs(printed-got) <= 0.005 {
								t.Errorf("df %v k %d: listed as a misprint, but %v prints %v", df, k, got, printed)
							}
							if math.Abs(m.Exact-got) > 1e-6 {
								t.Errorf("df %v k %d: %v, exact value listed %v", df, k, got, m.Exact)
							}
							printed = math.NaN()
						}
					}
					if math.IsNaN(printed) {
						continue
					}
					checked++
					c.Near(t, fmt.Sprintf("df %v k %d", df, k), got, printed)
				}
			}
			t.Logf("%d printed entries agree, %d listed misprints", checked, len(want.Misprints))
		})
	}
}

// The exact values behind the printed tables.
func TestTablesExact(t *testing.T) {
	golden.Run(t, "scipy-1.10.1", "table-*", func(t *testing.T, c *golden.Case) {
		var in struct {
			Alpha float64
			Two   bool `json:"two_sided"`
			Rho   float64
			K     []int
			DF    []freedom
		}
		var want [][]float64
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		sided := manyone.Upper
		if in.Two {
			sided = manyone.TwoSided
		}
		for i, df := range in.DF {
			for j, k := range in.K {
				c.Near(t, fmt.Sprintf("df %v k %d", df, k), critical(t, even(k, in.Rho, float64(df), sided), in.Alpha), want[i][j])
			}
		}
	})
}

// Small and large tails with unequal numbers.
func TestTails(t *testing.T) {
	golden.Run(t, "scipy-1.10.1", "tail-probabilities", func(t *testing.T, c *golden.Case) {
		var in []struct {
			C  float64
			N0 int
			N  []int
			DF freedom
		}
		var want []struct {
			Two float64 `json:"p_two"`
			One float64 `json:"p_one"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		for i, x := range in {
			for _, sided := range []manyone.Sided{manyone.TwoSided, manyone.Upper, manyone.Lower} {
				f, err := manyone.Independent(x.N0, x.N, float64(x.DF), sided)
				must(t, err)
				p, err := f.Tail(x.C)
				must(t, err)
				w := want[i].One
				if sided == manyone.TwoSided {
					w = want[i].Two
				}
				c.NearRel(t, fmt.Sprint(x, sided), p.P, w)
			}
		}
	})
}

// Worked examples: from data to p, critical values and intervals.
func TestExamples(t *testing.T) {
	golden.Run(t, "scipy-1.10.1", "example-*", func(t *testing.T, c *golden.Case) {
		var in struct {
			Control    []float64
			Candidates [][]float64
		}
		var want struct {
			Estimate, SE, T []float64
			DF              float64
			PTwo            []float64    `json:"p_two"`
			PGreater        []float64    `json:"p_greater"`
			PLess           []float64    `json:"p_less"`
			Two05           float64      `json:"crit_two_05"`
			One05           float64      `json:"crit_one_05"`
			Two01           float64      `json:"crit_two_01"`
			One10           float64      `json:"crit_one_10"`
			CI95            [][2]float64 `json:"ci95_two"`
			Low95           []float64    `json:"ci95_lower_bound"`
			High95          []float64    `json:"ci95_upper_bound"`
			High90          []float64    `json:"ci90_upper_bound"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		estimate, se, df := oneWay(in.Control, in.Candidates)
		if df != want.DF {
			t.Errorf("df = %v, want %v", df, want.DF)
		}
		n := make([]int, len(in.Candidates))
		ts := make([]float64, len(n))
		for i := range n {
			n[i] = len(in.Candidates[i])
			ts[i] = estimate[i] / se[i]
			c.Near(t, "estimate", estimate[i], want.Estimate[i])
			c.Near(t, "t", ts[i], want.T[i])
		}
		fam := func(s manyone.Sided) manyone.Family {
			f, err := manyone.Independent(len(in.Control), n, df, s)
			must(t, err)
			return f
		}
		for s, w := range map[manyone.Sided][]float64{manyone.TwoSided: want.PTwo, manyone.Upper: want.PGreater, manyone.Lower: want.PLess} {
			p, bound, err := fam(s).AdjustedP(ts)
			must(t, err)
			if bound > 1e-11 {
				t.Errorf("bound %g", bound)
			}
			for i := range p {
				c.Near(t, fmt.Sprintf("p %v %d", s, i+1), p[i], w[i])
			}
		}
		check := func(s manyone.Sided, alpha, crit float64, limits func(i int) (low, high float64)) {
			ivs, cr, _, err := fam(s).Intervals(estimate, se, alpha)
			must(t, err)
			c.Near(t, fmt.Sprint("critical ", s, alpha), cr, crit)
			for i, iv := range ivs {
				low, high := limits(i)
				if (s == manyone.Upper) != iv.HighOpen || (s == manyone.Lower) != iv.LowOpen {
					t.Errorf("%v: open sides %v %v", s, iv.LowOpen, iv.HighOpen)
				}
				if !iv.LowOpen {
					c.Near(t, "low", iv.Low, low)
				}
				if !iv.HighOpen {
					c.Near(t, "high", iv.High, high)
				}
			}
		}
		check(manyone.TwoSided, 0.05, want.Two05, func(i int) (float64, float64) { return want.CI95[i][0], want.CI95[i][1] })
		check(manyone.Upper, 0.05, want.One05, func(i int) (float64, float64) { return want.Low95[i], 0 })
		check(manyone.Lower, 0.05, want.One05, func(i int) (float64, float64) { return 0, want.High95[i] })
		check(manyone.Lower, 0.10, want.One10, func(i int) (float64, float64) { return 0, want.High90[i] })
		c.Near(t, "1 % critical", critical(t, fam(manyone.TwoSided), 0.01), want.Two01)
	})
}

func oneWay(control []float64, candidates [][]float64) (estimate, se []float64, df float64) {
	mean := func(x []float64) float64 {
		s := 0.0
		for _, v := range x {
			s += v
		}
		return s / float64(len(x))
	}
	ss, n := 0.0, 0
	for _, g := range append([][]float64{control}, candidates...) {
		m := mean(g)
		for _, v := range g {
			ss += (v - m) * (v - m)
		}
		n += len(g)
	}
	df = float64(n - len(candidates) - 1)
	for _, g := range candidates {
		estimate = append(estimate, mean(g)-mean(control))
		se = append(se, math.Sqrt(ss/df*(1/float64(len(g))+1/float64(len(control)))))
	}
	return estimate, se, df
}

// Figures printed in the literature for the examples.
func TestExamplesPrinted(t *testing.T) {
	golden.Run(t, "westfall-1999", "recovery", func(t *testing.T, c *golden.Case) {
		var in struct {
			Control    []float64
			Candidates [][]float64
		}
		var want struct {
			Quantile  float64   `json:"quantile_one_sided_90"`
			Upper     []float64 `json:"upper_limits_90"`
			Estimates []float64
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		estimate, se, df := oneWay(in.Control, in.Candidates)
		f, err := manyone.Independent(len(in.Control), []int{len(in.Candidates[0]), len(in.Candidates[1]), len(in.Candidates[2])}, df, manyone.Lower)
		must(t, err)
		iv, cr, _, err := f.Intervals(estimate, se, 0.1)
		must(t, err)
		c.Near(t, "quantile", -cr, want.Quantile)
		for i := range iv {
			c.Near(t, "estimate", estimate[i], want.Estimates[i])
			c.Near(t, "upper limit", iv[i].High, want.Upper[i])
		}
	})
	golden.Run(t, "dunnett-1955", "fabric", func(t *testing.T, c *golden.Case) {
		var in struct {
			Control    []float64
			Candidates [][]float64
		}
		var want struct {
			T, Estimate []float64
			S2          float64
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		estimate, se, _ := oneWay(in.Control, in.Candidates)
		c.Near(t, "s2", se[0]*se[0]*1.5, want.S2)
		for i := range estimate {
			c.Near(t, "estimate", estimate[i], want.Estimate[i])
			c.Near(t, "t", estimate[i]/se[i], want.T[i])
		}
	})
}

// Control repeated about sqrt(k) times as often.
func TestSqrtK(t *testing.T) {
	golden.Run(t, "scipy-1.10.1", "critical-sqrtk-control", func(t *testing.T, c *golden.Case) {
		var in []struct {
			K, N0, N int
			DF       float64
		}
		var want []struct{ Two05, Two01, One05 float64 }
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		for i, x := range in {
			n := make([]int, x.K)
			for j := range n {
				n[j] = x.N
			}
			f, err := manyone.Independent(x.N0, n, x.DF, manyone.TwoSided)
			must(t, err)
			c.Near(t, "two-sided 5 %", critical(t, f, 0.05), want[i].Two05)
			c.Near(t, "two-sided 1 %", critical(t, f, 0.01), want[i].Two01)
			f.Sided = manyone.Upper
			c.Near(t, "one-sided 5 %", critical(t, f, 0.05), want[i].One05)
		}
	})
}

// Run series with drift, where the product form holds no longer quite.
func TestDriftFamilies(t *testing.T) {
	golden.Run(t, "scipy-1.10.1", "drift-*", func(t *testing.T, c *golden.Case) {
		var in struct {
			Correlation [][]float64
			DF          float64
			T           []float64
			Estimate    []float64
			SE          []float64
		}
		var want struct {
			P    []float64    `json:"p_dunnett_two"`
			Crit float64      `json:"crit_two_05"`
			CI   [][2]float64 `json:"ci95"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		f := manyone.Family{Corr: in.Correlation, DF: in.DF}
		p, _, err := f.AdjustedP(in.T)
		must(t, err)
		iv, cr, _, err := f.Intervals(in.Estimate, in.SE, 0.05)
		must(t, err)
		c.Near(t, "critical", cr, want.Crit)
		for i := range p {
			c.NearRel(t, "p", p[i], want.P[i])
			c.Near(t, "low", iv[i].Low, want.CI[i][0])
			c.Near(t, "high", iv[i].High, want.CI[i][1])
		}
	})
}
