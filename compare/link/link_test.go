package link

import (
	"math"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/internal/golden"
)

// Two legs of their own degrees of freedom are Welch's interval.
func TestWelch(t *testing.T) {
	golden.Run(t, "r-4.2.2", "sleep", func(t *testing.T, c *golden.Case) {
		var in struct{ Estimate, Variance, DF []float64 }
		var want struct{ Estimate, SE, DF, Low, High float64 }
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		got, err := Chain(Asked{}, Fan{Codes: []string{"A"}, Against: "L", Estimate: in.Estimate[:1], Cov: [][]float64{{in.Variance[0]}}, DF: in.DF[0]},
			Leg{Of: "L", Against: "R", Estimate: in.Estimate[1], Variance: in.Variance[1], DF: in.DF[1]})
		if err != nil {
			t.Fatal(err)
		}
		r := got.Rows[0]
		c.NearRel(t, "estimate", r.Estimate, want.Estimate)
		c.NearRel(t, "standard error", r.SE, want.SE)
		c.NearRel(t, "df", r.DF, want.DF)
		c.NearRel(t, "low", *r.Verdict.Low, want.Low)
		c.NearRel(t, "high", *r.Verdict.High, want.High)
	})
}

// The index of a chain is the product of its indices, and what is shared by all
// tyres correlates them.
func TestProduct(t *testing.T) {
	fan := Fan{Codes: []string{"P", "R"}, Against: "L", Estimate: []float64{math.Log(1.04), math.Log(0.97)}, Cov: [][]float64{{4e-4, 1e-4}, {1e-4, 5e-4}}, DF: 8, Ratio: true}
	leg := Leg{Of: "L", Against: "K", Estimate: math.Log(1.10), Variance: 3e-4, DF: 6, Ratio: true}
	got, err := Chain(Asked{}, fan, leg)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{104 * 1.10, 97 * 1.10} {
		if r := got.Rows[i]; math.Abs(*r.Index-want) > 1e-9 || math.Abs(r.Parts[0]+r.Parts[1]-1) > 1e-12 || !(*r.IndexLow < *r.Index && *r.Index < *r.IndexHigh) {
			t.Errorf("%+v", r)
		}
	}
	// A leg that is known for certain changes nothing but the estimate.
	leg.Variance = 1e-18
	sure, err := Chain(Asked{}, fan, leg)
	if err != nil {
		t.Fatal(err)
	}
	if r := sure.Rows[0]; math.Abs(r.SE-0.02) > 1e-9 || math.Abs(r.DF-8) > 1e-9 {
		t.Errorf("%+v", r)
	}
	// There and back again.
	back, err := Chain(Asked{}, fan, leg, Leg{Of: "K", Against: "L2", Estimate: -leg.Estimate, Variance: 1e-18, DF: 6, Ratio: true})
	if err != nil || math.Abs(back.Rows[0].Estimate-fan.Estimate[0]) > 1e-15 || len(back.Through) != 2 || !back.Caveats.Has("linked") {
		t.Errorf("%+v, %v", back, err)
	}
}

func TestChainRefused(t *testing.T) {
	fan := Fan{Codes: []string{"P"}, Against: "L", Estimate: []float64{0.1}, Cov: [][]float64{{1e-4}}, DF: 5, Ratio: true, From: 1}
	leg := Leg{Of: "L", Against: "K", Estimate: 0.05, Variance: 1e-4, DF: 5, Ratio: true, From: 2}
	change := func(f func(l *Leg)) Leg { l := leg; f(&l); return l }
	for name, l := range map[string]Leg{
		"another tyre":       change(func(l *Leg) { l.Of = "M" }),
		"one programme":      change(func(l *Leg) { l.From = 1 }),
		"another scale":      change(func(l *Leg) { l.Ratio = false }),
		"no interval":        change(func(l *Leg) { l.Variance = 0 }),
		"no degrees of free": change(func(l *Leg) { l.DF = 0 }),
	} {
		if _, err := Chain(Asked{}, fan, l); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := Chain(Asked{}, fan); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("no leg: %v", err)
	}
}
