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
	// P has one stint: its interval is by the scatter of K's, which is 1 to either side.
	if y, low, high := got[1].At(5); y != 7 || math.Abs(high-7-12.706*math.Sqrt2) > 0.001 || math.Abs(7-low-12.706*math.Sqrt2) > 0.001 {
		t.Errorf("of one stint: %g, %g to %g", y, low, high)
	}
	if alone := procedure.Means(in[1:2], "x"); alone[0].Low != nil {
		t.Error("one stint alone has an interval")
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
	if each[1].Low != nil {
		t.Error("P reaches from 0, where no stint is repeated, and has an interval")
	}
	for _, c := range []struct {
		of   []procedure.Mean
		want string
	}{
		{each[1:], " Each code rests on one stint."},
		{each[:1], " Bands are 95 % of each mean, by the scatter of all codes’ stints."},
		{each, " Bands, where they can be had, are 95 % of the mean, by the scatter of all codes’ stints. P rests on one stint."},
	} {
		if got := procedure.BandWords(c.of); got != c.want {
			t.Errorf("%q, not %q", got, c.want)
		}
	}
}

// Two codes with two stints each, apart by 2 and by 4: squares 2 and 8 with one degree
// of freedom each, so 5 with two; Student's t of 97.5 % with two is 4.303 in every table.
func TestScatterOfAllCodesIsPooled(t *testing.T) {
	in := []procedure.Overlaid{line("K", "1", 0, 1, 1), line("P", "2", 0, 1, 1), line("P", "3", 0, 1, 5), line("K", "4", 0, 1, 3)}
	for _, m := range procedure.Means(in, "x") {
		if y, low, high := m.At(0.5); math.Abs(high-y-4.303*math.Sqrt(2.5)) > 0.001 || math.Abs(y-low-(high-y)) > 1e-12 {
			t.Errorf("%s: %g, %g to %g", m.Code, y, low, high)
		}
	}
}
