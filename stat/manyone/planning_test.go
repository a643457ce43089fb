package manyone_test

import (
	"fmt"
	"math"
	"testing"

	"example.org/bookend/internal/golden"
	"example.org/bookend/stat/manyone"
)

// Power, smallest detectable difference, and back again.
func TestPower(t *testing.T) {
	golden.Run(t, "scipy-1.10.1", "power-mdd", func(t *testing.T, c *golden.Case) {
		type row struct {
			K, N, N0 int
			DF       float64
			Crit     float64
			MDD80    float64 `json:"mdd_over_s_0.8"`
			MDD90    float64 `json:"mdd_over_s_0.9"`
			At2      float64 `json:"power_at_2s"`
		}
		var in, want []row
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		for i, w := range want {
			if in[i].K != w.K || in[i].N != w.N || in[i].N0 != w.N0 {
				t.Fatalf("row %d: inputs %v for %v", i, in[i], w)
			}
			l := manyone.Layout{Candidates: w.K, Control: w.N0, Runs: w.N, Alpha: 0.05}
			cr, df, err := l.Critical()
			must(t, err)
			if df != w.DF {
				t.Errorf("df %v, want %v", df, w.DF)
			}
			c.NearRel(t, fmt.Sprint("critical ", w), cr, w.Crit)
			for power, mdd := range map[float64]float64{0.8: w.MDD80, 0.9: w.MDD90} {
				got, err := l.Detectable(power)
				must(t, err)
				c.NearRel(t, fmt.Sprint("detectable ", power, w), got, mdd)
				back, err := l.Power(got)
				must(t, err)
				if math.Abs(back-power) > 1e-11 {
					t.Errorf("power at the detectable difference is %v, not %v", back, power)
				}
			}
			p, err := l.Power(2)
			must(t, err)
			c.NearRel(t, fmt.Sprint("power at 2 sigma ", w), p, w.At2)
		}
	})
}

// The smallest layout is enough, the next smaller is not.
func TestNeeded(t *testing.T) {
	for _, sided := range []manyone.Sided{manyone.TwoSided, manyone.Upper} {
		for _, delta := range []float64{0.7, 1.5, 3} {
			l, err := manyone.Layout{Candidates: 4, Alpha: 0.05, Sided: sided}.Needed(delta, 0.8, 0)
			must(t, err)
			p, err := l.Power(delta)
			must(t, err)
			if p < 0.8 || l.Control != 2*l.Runs {
				t.Errorf("%+v has power %v", l, p)
			}
			if l.Runs > 1 {
				l.Runs--
				l.Control -= 2
				if p, err := l.Power(delta); err == nil && p >= 0.8 {
					t.Errorf("%+v would do with power %v", l, p)
				}
			}
		}
	}
}

// The split of runs between control and candidates.
func TestAllocation(t *testing.T) {
	golden.Run(t, "scipy-1.10.1", "control-allocation", func(t *testing.T, c *golden.Case) {
		type split struct {
			N0, N     int
			Variance  float64 `json:"var_over_s2"`
			HalfWidth float64 `json:"halfwidth_over_s"`
		}
		var in []struct{ K, N int }
		var want []struct {
			K, N     int
			Variance struct {
				N0, N int
				V     float64 `json:"var_over_s2"`
			} `json:"best_variance"`
			Width struct {
				N0, N int
				H     float64 `json:"halfwidth_over_s"`
			} `json:"best_dunnett_halfwidth"`
			Ideal float64 `json:"ideal_ratio_sqrt_k"`
			Table []split
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		for i, w := range want {
			all, v, h, err := manyone.Allocations(in[i].K, in[i].N, 0.05, manyone.TwoSided)
			must(t, err)
			if len(all) != len(w.Table) {
				t.Fatalf("%d splits, want %d", len(all), len(w.Table))
			}
			for j, a := range all {
				if a.Control != w.Table[j].N0 || a.Runs != w.Table[j].N {
					t.Errorf("split %d+%dx%d, want %v", a.Control, a.Candidates, a.Runs, w.Table[j])
				}
				c.Near(t, "variance", a.Variance, w.Table[j].Variance)
				c.Near(t, "half-width", a.HalfWidth, w.Table[j].HalfWidth)
			}
			if all[v].Control != w.Variance.N0 || all[v].Runs != w.Variance.N || all[h].Control != w.Width.N0 || all[h].Runs != w.Width.N {
				t.Errorf("best %+v and %+v, want %+v and %+v", all[v], all[h], w.Variance, w.Width)
			}
			c.Near(t, "ratio", math.Sqrt(float64(in[i].K)), w.Ideal)
			c.Near(t, "least variance", all[v].Variance, w.Variance.V)
			c.Near(t, "least half-width", all[h].HalfWidth, w.Width.H)
		}
	})
}

// Equivalence: P <= alpha exactly where the interval at 1-2 alpha is inside.
func TestEquivalence(t *testing.T) {
	for _, df := range []float64{1, 4, 17, math.Inf(1)} {
		c, _, err := manyone.Family{Corr: [][]float64{{1}}, DF: df, Sided: manyone.Upper}.Critical(0.05)
		must(t, err)
		for _, est := range []float64{-0.9, -0.3, 0, 0.2, 0.55} {
			for _, se := range []float64{0.1, 0.3, 0.5} {
				e, err := manyone.Equivalent(est, se, df, -1, 1)
				must(t, err)
				inside := est-c*se >= -1 && est+c*se <= 1
				if (e.P <= 0.05) != inside {
					t.Errorf("df %v, %v ± %v: p %v, interval inside %v", df, est, se, e.P, inside)
				}
			}
		}
	}
	if _, err := manyone.Equivalent(0, 0, 5, -1, 1); err == nil {
		t.Error("no scatter was accepted")
	}
}
