package manyone

import (
	"math"
	"testing"

	"example.org/bookend/stat/manyone/joint"
	"example.org/bookend/stat/tail"
)

// Differences of a hundred standard errors and more, on one or two degrees of
// freedom, have a probability that is small and no less than that of one
// comparison, no more than that of all of them together (Bonferroni). Analytic.
func TestFarOut(t *testing.T) {
	corr := func(k int, r func(i, j int) float64) [][]float64 {
		c := make([][]float64, k)
		for i := range c {
			c[i] = make([]float64, k)
			for j := range c[i] {
				if c[i][j] = 1; i != j {
					c[i][j] = r(i, j)
				}
			}
		}
		return c
	}
	for name, c := range map[string][][]float64{
		"one factor": corr(4, func(i, j int) float64 { return 0.5 }),
		"brackets": corr(5, func(i, j int) float64 {
			return 0.6 - 0.15*math.Abs(float64(i-j))
		}),
		"near brackets": corr(5, func(i, j int) float64 {
			return 0.5/(1+math.Abs(float64(i-j))) + 0.03*math.Sin(float64(i*j))
		}),
	} {
		for _, df := range []float64{1, 2, 3.5} {
			for _, x := range []float64{30, 60, 100, 1e3, 1e5} {
				f := joint.Family{Corr: c, DF: df}
				p, err := f.Tail(x)
				if err != nil {
					t.Fatal(err)
				}
				one := tail.TwoSidedT(x, df)
				if !(p.P >= one*(1-1e-6) && p.P <= float64(len(c))*one*(1+1e-6)) {
					t.Errorf("%s, %v on %v: %v, of one comparison %v", name, x, df, p.P, one)
				}
			}
		}
	}
}
