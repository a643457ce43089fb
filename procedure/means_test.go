package procedure_test

import (
	"math"
	"testing"

	"example.org/bookend/procedure"
)

func line(code, stint string, from, to, value float64) procedure.Overlaid {
	return procedure.Overlaid{Code: code, Stint: stint, Traces: []procedure.Trace{{ID: "x", X: []float64{from, to}, Y: []float64{value, value}}}}
}

// Means are those of stints, each the mean of its runs: a stint with more runs weighs no
// more. Of 1 and 3 the interval is the mean of 2 and 12.706 times 1 (Student's t of 97.5 %
// with one degree of freedom, as every table has it).
func TestMeansAreThoseOfStints(t *testing.T) {
	in := []procedure.Overlaid{
		line("K", "1", 0, 10, 1), line("P", "2", 0, 8, 7), line("K", "3", 1, 9, 2), line("K", "3", 1, 9, 4),
	}
	got := procedure.Means(in, "x")
	if len(got) != 2 || got[0].Code != "K" || got[1].Code != "P" {
		t.Fatalf("%+v", got)
	}
	k := got[0]
	if k.X[0] != 1 || k.X[len(k.X)-1] != 8 || k.Runs != 3 || k.Stints != 2 {
		t.Errorf("from %g to %g, %d runs, %d stints", k.X[0], k.X[len(k.X)-1], k.Runs, k.Stints)
	}
	y, low, high := k.At(5)
	if y != 2 || math.Abs(high-2-12.706) > 0.001 || math.Abs(2-low-12.706) > 0.001 {
		t.Errorf("%g, %g to %g", y, low, high)
	}
	if got[1].Low != nil {
		t.Error("one stint has an interval")
	}
	each := procedure.MeansOfEach(in, "x")
	if len(each) != 2 || each[0].X[len(each[0].X)-1] != 9 || each[1].X[0] != 0 {
		t.Errorf("each by itself: %+v", each)
	}
	if z := k.Scaled(3.6, 10); z.Y[0] != 20 || z.X[0] != 3.6 || k.Y[0] != 2 {
		t.Errorf("scaled: %v at %v", z.Y[0], z.X[0])
	}
	if procedure.Means(in, "none") != nil || procedure.Means(nil, "x") != nil {
		t.Error("means of nothing")
	}
	if procedure.BandWords(each[1:]) != "" || procedure.BandWords(each[:1]) == "" || procedure.BandWords(each) == procedure.BandWords(each[:1]) {
		t.Error("words for bands that are not there")
	}
}
