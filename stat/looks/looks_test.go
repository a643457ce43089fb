package looks_test

import (
	"math"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/internal/golden"
	"example.org/bookend/stat/looks"
	"example.org/bookend/stat/tail"
)

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// Critical values by another program, for equal and unequal looks.
func TestBounds(t *testing.T) {
	golden.Run(t, "rpact-3.3.4", "spending", func(t *testing.T, c *golden.Case) {
		var in []struct {
			Spending  looks.Spending `json:"spending"`
			Level     float64        `json:"level"`
			Fractions []float64      `json:"fractions"`
		}
		var want [][]float64
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		for i, q := range in {
			b, err := looks.Two(q.Spending, q.Level, q.Fractions)
			must(t, err)
			for k := range want[i] {
				c.Near(t, string(q.Spending), b.Critical[k], want[i][k])
			}
		}
	})
	golden.Run(t, "lan-demets-1983", "obrien-fleming-type", func(t *testing.T, c *golden.Case) {
		var want map[string][]float64
		c.JSON(t, "expected.json", &want)
		for _, critical := range want {
			var f []float64
			for k := range critical {
				f = append(f, float64(k+1)/float64(len(critical)))
			}
			b, err := looks.Two(looks.OBrienFleming, 0.05, f)
			must(t, err)
			for k := range critical {
				c.Near(t, "critical value", b.Critical[k], critical[k])
			}
		}
	})
}

// The constants of Pocock's and of O'Brien and Fleming's own tests spend 5 %.
func TestCrossingOfPublishedConstants(t *testing.T) {
	golden.Run(t, "jennison-turnbull-2000", "constants", func(t *testing.T, c *golden.Case) {
		var want struct {
			Pocock map[int]float64 `json:"pocock"`
			OBF    map[int]float64 `json:"obrien_fleming"`
		}
		c.JSON(t, "expected.json", &want)
		for name, constants := range map[string]map[int]float64{"Pocock": want.Pocock, "O'Brien-Fleming": want.OBF} {
			for n, constant := range constants {
				f, crit := make([]float64, n), make([]float64, n)
				for k := range n {
					f[k] = float64(k+1) / float64(n)
					crit[k] = constant
					if name != "Pocock" {
						crit[k] = constant / math.Sqrt(f[k])
					}
				}
				p, err := looks.Crossing(f, crit, 0)
				must(t, err)
				c.Near(t, name, p[n-1], 0.05)
			}
		}
	})
}

// One look is one test; what is spent is what crosses; increments sum to the
// level, and held as tests of their own they are stricter than the bounds.
func TestLaws(t *testing.T) {
	for _, s := range []looks.Spending{looks.OBrienFleming, looks.Pocock} {
		b, err := looks.Two(s, 0.05, []float64{1})
		must(t, err)
		if math.Abs(b.Critical[0]-tail.NormalPoint(0.025)) > 1e-10 {
			t.Errorf("%s: %v", s, b.Critical)
		}
		f := []float64{0.2, 0.35, 0.7, 1}
		b, err = looks.Two(s, 0.05, f)
		must(t, err)
		p, err := looks.Crossing(f, b.Critical, 0)
		must(t, err)
		inc, err := looks.Increments(s, 0.05, f)
		must(t, err)
		sum := 0.0
		for k := range f {
			if math.Abs(p[k]-b.Spent[k]) > 1e-9 {
				t.Errorf("%s: %v spent, %v crossed", s, b.Spent, p)
			}
			if sum += inc[k]; inc[k] > b.Level[k]+1e-12 {
				t.Errorf("%s: increment %v, level %v", s, inc[k], b.Level[k])
			}
		}
		if math.Abs(sum-0.05) > 1e-12 {
			t.Errorf("%s: increments sum to %v", s, sum)
		}
		// A true difference is found the more surely the larger it is.
		last := 0.0
		for _, mean := range []float64{0, 1, 2, 3, 4, 6} {
			p, err := looks.Crossing(f, b.Critical, mean)
			must(t, err)
			if p[3] < last || p[3] > 1+1e-9 {
				t.Errorf("%s: mean %v gives %v", s, mean, p)
			}
			last = p[3]
		}
	}
}

func TestRefusals(t *testing.T) {
	for _, f := range [][]float64{nil, {0}, {0.5, 0.5}, {0.5, 1.1}, {math.NaN()}} {
		if _, err := looks.Two(looks.Pocock, 0.05, f); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%v: %v", f, err)
		}
	}
	if _, err := looks.Two("all at once", 0.05, []float64{1}); fault.CodeOf(err) != fault.Invalid {
		t.Error(err)
	}
	if _, err := looks.Increments(looks.Pocock, math.NaN(), []float64{1}); fault.CodeOf(err) != fault.Invalid {
		t.Error(err)
	}
	if _, err := looks.Crossing([]float64{1}, []float64{math.NaN()}, 0); fault.CodeOf(err) != fault.Invalid {
		t.Error(err)
	}
}
