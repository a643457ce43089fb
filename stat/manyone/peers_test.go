package manyone_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"example.org/bookend/internal/golden"
	"example.org/bookend/stat/linear"
	"example.org/bookend/stat/manyone"
)

// General correlations against an independent program.
func TestGeneralCorrelation(t *testing.T) {
	golden.Run(t, "mvtnorm-1.1-3", "*", func(t *testing.T, c *golden.Case) {
		t.Parallel()
		var in struct {
			Corr [][]float64
			C    float64
			DF   freedom
			Two  bool `json:"two_sided"`
		}
		var want struct{ P, Error float64 }
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		f := manyone.Family{Corr: in.Corr, DF: float64(in.DF), Sided: manyone.Upper, Tol: 1e-5}
		if in.Two {
			f.Sided = manyone.TwoSided
		}
		p, err := f.Tail(in.C)
		must(t, err)
		if p.Error > 1e-5 {
			t.Errorf("bound %g", p.Error)
		}
		if d := math.Abs(p.P - want.P); d > c.Tol+p.Error {
			t.Errorf("%v by %s ± %.1g, want %v within %g", p.P, p.Method, p.Error, want.P, c.Tol)
		}
		t.Logf("%s ± %.1g: %.1e from the peer", p.Method, p.Error, math.Abs(p.P-want.P))
	})
}

// The studentised range against an independent program.
func TestRange(t *testing.T) {
	golden.Run(t, "r-4.2.2", "range", func(t *testing.T, c *golden.Case) {
		var in struct {
			PAt struct {
				Q     float64
				Codes int
				DF    float64
			} `json:"p_at"`
			Quantiles []struct {
				Codes int
				DF    float64
			}
		}
		var want struct {
			P float64
			Q []float64
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		pairs := func(codes int, df float64, first float64) *manyone.Grouping {
			est := make([]float64, codes)
			est[0] = first
			cov := make([][]float64, codes)
			for i := range cov {
				cov[i] = make([]float64, codes)
				cov[i][i] = 0.5 // so that t = q / sqrt 2 is the difference over sqrt 2 of 0.5
			}
			g, err := manyone.AllPairs(est, cov, df, 0.05)
			must(t, err)
			return g
		}
		g := pairs(in.PAt.Codes, in.PAt.DF, in.PAt.Q/math.Sqrt2)
		c.Near(t, "p", g.Pairs[0].P, want.P)
		for i, q := range in.Quantiles {
			g := pairs(q.Codes, q.DF, 0)
			c.Near(t, fmt.Sprint("q ", q), g.Critical*math.Sqrt2, want.Q[i])
			t.Logf("%d codes by %s: %v", q.Codes, g.Method, g.Critical*math.Sqrt2)
			for _, l := range g.Letters {
				if l != "a" {
					t.Errorf("equal codes have letters %v", g.Letters)
				}
			}
		}
	})
}

// A model with a drift of degree q beside the codes has contrasts with at most
// q+1 factors (the codes' block of X'X is diagonal; Woodbury): they are
// computed over factors, not by the lattice.
func TestDriftBringsFactors(t *testing.T) {
	for _, order := range []string{"CABDCEFACBDCEFC", "CABCDCEFCGHCABCDCEFCGHC"} {
		for degree := range 3 {
			runs := strings.Split(order, "")
			levels := []string{"C"}
			for _, r := range runs {
				if !strings.Contains(strings.Join(levels, ""), r) {
					levels = append(levels, r)
				}
			}
			at := make([]float64, len(runs))
			y := make([]float64, len(runs))
			for i := range at {
				at[i] = float64(i)
				y[i] = math.Cos(float64(7 * i))
			}
			d := linear.NewDesign(len(runs))
			must(t, d.AddIntercept())
			must(t, d.AddFactor("tyre", levels, runs, linear.Treatment))
			if degree > 0 {
				_, err := d.AddPolynomial("drift", at, degree)
				must(t, err)
			}
			m, err := linear.Fit(d, y, linear.Options{})
			must(t, err)
			l := make([][]float64, len(levels)-1)
			for i := range l {
				l[i] = make([]float64, len(m.Coef))
				l[i][1+i] = 1
			}
			ct, err := m.Contrasts(l)
			must(t, err)
			r, _ := ct.Correlation()
			p, err := manyone.Family{Corr: r, DF: float64(m.DF)}.Tail(2.5)
			must(t, err)
			want := "factors"
			if degree == 0 {
				want = "one factor"
			}
			if p.Method != want || p.Error > 1e-9 {
				t.Errorf("%s, degree %d: by %s ± %g", order, degree, p.Method, p.Error)
			}
		}
	}
}
