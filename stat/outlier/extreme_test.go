package outlier_test

import (
	"math"
	"testing"

	"example.org/bookend/stat/outlier"
)

// Law: the unit does not matter, be it very small or very large.
func TestAnyUnit(t *testing.T) {
	base := []float64{3.1, 2.9, 3.3, 3.0, 4.4, 3.2}
	want := must[outlier.Grubbs](t)(outlier.TestGrubbs(base, outlier.TwoSided, 0.05))
	for _, k := range []float64{1e-140, 1e-30, 1e90} {
		x := make([]float64, len(base))
		for i := range x {
			x[i] = k * base[i]
		}
		g := must[outlier.Grubbs](t)(outlier.TestGrubbs(x, outlier.TwoSided, 0.05))
		if math.Abs(g.G-want.G) > 1e-9 || math.Abs(g.P-want.P) > 1e-9 {
			t.Errorf("unit %g: G %v p %v", k, g.G, g.P)
		}
	}
	tiny := must[outlier.Grubbs](t)(outlier.TestGrubbs([]float64{1e-300, 2e-300, 4e-300}, outlier.TwoSided, 0.05))
	if math.IsNaN(tiny.G) || math.IsInf(tiny.G, 0) || !tiny.Caveats.Has("no_scatter") {
		t.Errorf("scatter below what squares can hold: %+v", tiny)
	}
}
