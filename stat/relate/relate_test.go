package relate_test

import (
	"math"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/internal/golden"
	"example.org/bookend/stat/relate"
	"example.org/bookend/stat/resample"
)

func TestAgainstR(t *testing.T) {
	golden.Run(t, "hollander-wolfe-1973", "tuna-*", func(t *testing.T, c *golden.Case) {
		var in struct{ X, Y []float64 }
		var want struct {
			Pearson   float64
			PearsonP  float64 `json:"pearson_p"`
			Spearman  float64
			SpearmanP float64 `json:"spearman_p"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		got, err := relate.Of(in.X, in.Y, resample.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if !got.Exact {
			t.Error("orders of so few items are counted, not drawn")
		}
		c.Near(t, "Pearson", got.Pearson, want.Pearson)
		c.Near(t, "p of Pearson", got.PearsonP, want.PearsonP)
		c.Near(t, "Spearman", got.Spearman, want.Spearman)
		c.Near(t, "p of Spearman", got.SpearmanP, want.SpearmanP)
	})
}

// Shifting and scaling change nothing, turning a column over turns the sign, the two
// columns may change places, and so may the items.
func TestLaws(t *testing.T) {
	x, y := []float64{1, 4, 2, 8, 5, 7}, []float64{2.5, 3, 2, 9, 4, 4}
	a, err := relate.Of(x, y, resample.Options{})
	if err != nil {
		t.Fatal(err)
	}
	near := func(what string, x, y []float64, sign float64) {
		t.Helper()
		b, err := relate.Of(x, y, resample.Options{})
		if err != nil || math.Abs(b.Pearson-sign*a.Pearson) > 1e-12 || math.Abs(b.Spearman-sign*a.Spearman) > 1e-12 || b.PearsonP != a.PearsonP || b.SpearmanP != a.SpearmanP {
			t.Errorf("%s: %+v, %+v, %v", what, b, a, err)
		}
	}
	by := func(x []float64, f func(float64) float64) (out []float64) {
		for _, v := range x {
			out = append(out, f(v))
		}
		return out
	}
	near("scaled", by(x, func(v float64) float64 { return 3*v + 7 }), y, 1)
	near("turned over", x, by(y, func(v float64) float64 { return -v }), -1)
	near("exchanged", y, x, 1)
	near("reordered", []float64{7, 1, 4, 2, 8, 5}, []float64{4, 2.5, 3, 2, 9, 4}, 1)
	if a.LeastP != 1.0/720 {
		t.Errorf("least p %v", a.LeastP)
	}
}

func TestOddColumns(t *testing.T) {
	for _, x := range [][2][]float64{
		{{1, 2}, {1, 2}}, {{1, 2, 3}, {1, 2}}, {{1, 1, 1}, {1, 2, 3}}, {{1, 2, math.NaN()}, {1, 2, 3}}, {{1, 2, math.Inf(1)}, {1, 2, 3}}, {nil, nil},
	} {
		if _, err := relate.Of(x[0], x[1], resample.Options{}); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%v: %v", x, err)
		}
	}
	// Beyond eight items orders are drawn, alike at every call.
	x, y := make([]float64, 12), make([]float64, 12)
	for i := range x {
		x[i], y[i] = float64(i), float64((i*5)%12)
	}
	a, err := relate.Of(x, y, resample.Options{})
	b, _ := relate.Of(x, y, resample.Options{})
	if err != nil || a.Exact || a != b || !(a.PearsonP > 0 && a.PearsonP <= 1) {
		t.Errorf("%+v %+v %v", a, b, err)
	}
}
