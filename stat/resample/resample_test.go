package resample_test

import (
	"math"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/internal/golden"
	"example.org/bookend/stat/resample"
)

func mean(x []float64) float64 {
	s := 0.0
	for _, v := range x {
		s += v
	}
	return s / float64(len(x))
}

func correlation(x, y []float64) resample.Statistic {
	return func(index []int) (float64, bool) {
		n := float64(len(index))
		var mx, my float64
		for _, i := range index {
			mx += x[i]
			my += y[i]
		}
		mx, my = mx/n, my/n
		var xx, yy, xy float64
		for _, i := range index {
			xx += (x[i] - mx) * (x[i] - mx)
			yy += (y[i] - my) * (y[i] - my)
			xy += (x[i] - mx) * (y[i] - my)
		}
		return xy / math.Sqrt(xx*yy), xx > 0 && yy > 0
	}
}

func TestExhaustiveBootstrapOfAMean(t *testing.T) {
	golden.Run(t, "scipy-1.10.1", "exhaustive-mean", func(t *testing.T, c *golden.Case) {
		var in struct {
			X         []float64 `json:"x"`
			Statistic string    `json:"statistic"`
			Ties      string    `json:"ties_with_theta"`
			Quantile  string    `json:"quantile"`
		}
		var w struct {
			SE     float64    `json:"ideal_boot_se"`
			Closed float64    `json:"closed_form_se"`
			Z0     float64    `json:"z0"`
			A      float64    `json:"acceleration"`
			Levels [2]float64 `json:"bca_levels"`
			BCa    [2]float64 `json:"bca_95"`
			Pct    [2]float64 `json:"percentile_95"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &w)
		b, err := resample.BCa(len(in.X), resample.Of(in.X, mean), resample.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if !b.Exhaustive || b.Resamples != 46656 || !b.Caveats.Has("few_items") {
			t.Errorf("%d resamples, exhaustive %v", b.Resamples, b.Exhaustive)
		}
		c.Near(t, "SE", b.SE, w.SE)
		c.Near(t, "SE in closed form", b.SE, w.Closed)
		c.Near(t, "z0", b.Z0, w.Z0)
		c.Near(t, "acceleration", b.Acceleration, w.A)
		for i := range 2 {
			c.Near(t, "level", b.Levels[i], w.Levels[i])
		}
		c.Near(t, "low", b.Low, w.BCa[0])
		c.Near(t, "high", b.High, w.BCa[1])
		c.Near(t, "percentile low", b.PctLow, w.Pct[0])
		c.Near(t, "percentile high", b.PctHigh, w.Pct[1])
	})
}

func TestLawSchool(t *testing.T) {
	golden.Run(t, "efron-tibshirani-1993", "law-school", func(t *testing.T, c *golden.Case) {
		var in struct {
			LSAT      []float64 `json:"lsat"`
			GPA       []float64 `json:"gpa"`
			Statistic string    `json:"statistic"`
		}
		var w struct {
			Theta  float64    `json:"theta"`
			Jack   []float64  `json:"jackknife"`
			A      float64    `json:"acceleration"`
			JackSE float64    `json:"jackknife_se"`
			Z0     float64    `json:"z0"`
			SE     float64    `json:"boot_se"`
			BCa95  [2]float64 `json:"bca_95"`
			BCa90  [2]float64 `json:"bca_90"`
			Pct95  [2]float64 `json:"percentile_95"`
		}
		var tol struct {
			Theta float64 `json:"theta"`
			Jack  float64 `json:"jackknife"`
			A     float64 `json:"acceleration"`
			Z0    float64 `json:"z0"`
			SE    float64 `json:"boot_se"`
			BCa   float64 `json:"bca"`
			Pct   float64 `json:"percentile"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &w)
		c.JSON(t, "tolerance.json", &tol)
		near := func(what string, got, want, tol float64) {
			t.Helper()
			if !(math.Abs(got-want) <= tol) {
				t.Errorf("%s = %v, want %v within %g", what, got, want, tol)
			}
		}
		f := correlation(in.LSAT, in.GPA)
		b, err := resample.BCa(len(in.LSAT), f, resample.Options{Draws: 40_000, Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		near("theta", b.Estimate, w.Theta, tol.Theta)
		near("acceleration", b.Acceleration, w.A, tol.A)
		ss, n := 0.0, float64(len(w.Jack))
		for i := range w.Jack {
			near("jackknife", b.Jackknife[i], w.Jack[i], tol.Jack)
			ss += (b.Jackknife[i] - mean(b.Jackknife)) * (b.Jackknife[i] - mean(b.Jackknife))
		}
		near("jackknife SE", math.Sqrt((n-1)/n*ss), w.JackSE, 1e-10)
		near("z0", b.Z0, w.Z0, tol.Z0)
		near("SE", b.SE, w.SE, tol.SE)
		near("low 95", b.Low, w.BCa95[0], tol.BCa)
		near("high 95", b.High, w.BCa95[1], tol.BCa)
		near("percentile low", b.PctLow, w.Pct95[0], tol.Pct)
		near("percentile high", b.PctHigh, w.Pct95[1], tol.Pct)
		b90, err := resample.BCa(len(in.LSAT), f, resample.Options{Confidence: 0.9, Draws: 40_000, Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		near("low 90", b90.Low, w.BCa90[0], tol.BCa)
		near("high 90", b90.High, w.BCa90[1], tol.BCa)

		again, _ := resample.BCa(len(in.LSAT), f, resample.Options{Draws: 40_000, Seed: 1})
		if again.Low != b.Low || again.SE != b.SE || again.Z0 != b.Z0 {
			t.Error("the same seed gives other bits")
		}
		other, _ := resample.BCa(len(in.LSAT), f, resample.Options{Draws: 40_000, Seed: 2})
		if other.SE == b.SE {
			t.Error("another seed gives the same bits")
		}
	})
}

// Laws: BCa limits of a mean shift and scale with the data (they are
// transformation respecting), and the exhaustive ones do not see the order.
func TestBootstrapLaws(t *testing.T) {
	x := []float64{4.2, 3.1, 5.5, 4.4, 9.0}
	y := make([]float64, len(x))
	for i := range x {
		y[i] = 20 + 3*x[(i*2)%len(x)]
	}
	a, err := resample.BCa(len(x), resample.Of(x, mean), resample.Options{})
	if err != nil {
		t.Fatal(err)
	}
	b, err := resample.BCa(len(y), resample.Of(y, mean), resample.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range [][2]float64{{20 + 3*a.Low, b.Low}, {20 + 3*a.High, b.High}, {3 * a.SE, b.SE}} {
		if math.Abs(p[0]-p[1]) > 1e-10 {
			t.Errorf("%v against %v", p[0], p[1])
		}
	}
}

// Analytic: the greatest of three in last place happens in 2 of 6 orders; the
// full order of n distinct values in 1 of n!.
func TestPermutationCountsAllOrders(t *testing.T) {
	x := []float64{1, 2, 3}
	p, err := resample.Permute(3, func(o []int) float64 { return x[o[2]] }, resample.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if p.P != 2.0/6 || !p.Exact || !p.Caveats.Has("few_orders") {
		t.Errorf("%+v", p)
	}
	p, err = resample.Permute(8, func(o []int) float64 {
		s := 0.0
		for i, v := range o {
			s += float64(i * v)
		}
		return s
	}, resample.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if p.P != 1.0/40320 || p.Permutations != 40320 {
		t.Errorf("%+v", p)
	}
}

func TestDrawnPermutationsComeNearTheCountedShare(t *testing.T) {
	f := func(o []int) float64 { return float64(o[0]) } // item 0 stands first: every order ties or beats it
	p, err := resample.Permute(12, f, resample.Options{Seed: 3})
	if err != nil {
		t.Fatal(err)
	}
	if p.P != 1 || p.Exact {
		t.Errorf("%+v", p)
	}
	// The observed order has item 11 last; a share of 1/12 has it there.
	p, _ = resample.Permute(12, func(o []int) float64 { return float64(o[11]) }, resample.Options{Seed: 3})
	if sd := math.Sqrt(1.0 / 12 * 11 / 12 / 20000); math.Abs(p.P-1.0/12) > 4*sd {
		t.Errorf("p %v, want 1/12", p.P)
	}
}

func TestDegenerateInputIsSaid(t *testing.T) {
	if _, err := resample.BCa(1, resample.Of([]float64{1}, mean), resample.Options{}); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("one value: %v", err)
	}
	b, err := resample.BCa(4, resample.Of([]float64{2, 2, 2, 2}, mean), resample.Options{})
	if err != nil || b.Low != 2 || b.High != 2 || !b.Caveats.Has("no_scatter") {
		t.Errorf("equal values: %+v %v", b, err)
	}
	flat := []float64{1, 1, 1, 2}
	b, err = resample.BCa(4, correlation(flat, []float64{1, 2, 3, 4}), resample.Options{})
	if err != nil || b.Without == 0 || !b.Caveats.Has("resamples_without_value") || !b.Caveats.Has("no_acceleration") {
		t.Errorf("correlation with ties: %+v %v", b, err)
	}
	for _, v := range []float64{b.Low, b.High, b.SE, b.Z0, b.Acceleration} {
		if math.IsNaN(v) {
			t.Error("no number in the result")
		}
	}
	if _, err := resample.BCa(4, correlation([]float64{1, 1, 1, 1}, flat), resample.Options{}); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("no value at all: %v", err)
	}
	if _, err := resample.BCa(5, resample.Of(make([]float64, 5), mean), resample.Options{Confidence: 2}); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("confidence 2: %v", err)
	}
	if _, err := resample.Permute(1, func([]int) float64 { return 0 }, resample.Options{}); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("one item: %v", err)
	}
	maximum := func(x []float64) float64 {
		m := x[0]
		for _, v := range x {
			m = math.Max(m, v)
		}
		return m
	}
	b, err = resample.BCa(10, resample.Of([]float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10}, maximum), resample.Options{Seed: 5})
	if err != nil || math.IsNaN(b.Low) || b.High != 10 {
		t.Errorf("maximum: %+v %v", b, err)
	}
}

// Every number below n is equally likely, and none is out of reach.
func TestBelow(t *testing.T) {
	g := resample.Generator(9)
	count := make([]int, 7)
	for range 70_000 {
		count[resample.Below(g, 7)]++
	}
	for i, c := range count {
		if math.Abs(float64(c)-10_000) > 4*math.Sqrt(10_000.0*6/7) {
			t.Errorf("%d came %d times in 70000", i, c)
		}
	}
}
