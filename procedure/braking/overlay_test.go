package braking

import (
	"math"
	"testing"

	"example.org/bookend/figure"
	"example.org/bookend/procedure"
)

// even is a stop from v at a constant deceleration a: what is left from a speed is
// v²/2a (uniform deceleration, any textbook of mechanics).
func even(code, stint string, v, a float64) procedure.Overlaid {
	var t, s, d []float64
	for x := 0.0; x <= v/a+1e-9; x += 0.01 {
		t, s, d = append(t, x), append(s, v-a*x), append(d, v*x-a*x*x/2)
	}
	return procedure.Overlaid{Code: code, Stint: stint, Run: stint + "/1", Traces: []procedure.Trace{
		{ID: "speed_by_time", X: t, XUnit: "s", Y: s, YUnit: "m/s"}, {ID: "distance_by_time", X: t, XUnit: "s", Y: d, YUnit: "m"}}}
}

func TestOverlayShowsWhatIsLeftFromEverySpeed(t *testing.T) {
	in := []procedure.Overlaid{even("K", "1", 25, 7), even("K", "3", 25, 7), even("P", "2", 24, 8), even("P", "4", 24, 8)}
	figs, err := New().Overlay(in)
	if err != nil || len(figs) != 2 {
		t.Fatal(figs, err)
	}
	f := figs[0].(*figure.PastThePeak)
	if f.Codes.Control != "K" || len(f.Curves) != 2 {
		t.Fatalf("%+v", f)
	}
	for i, a := range []float64{7, 8} {
		for k, v := range f.Curves[i].X {
			v /= 3.6
			if v > 2 && math.Abs(f.Curves[i].Y[k]-v*v/2/a) > 0.03 {
				t.Fatalf("at %.2f m/s %.3f m are left, not %.3f", v, f.Curves[i].Y[k], v*v/2/a)
			}
		}
	}
	// From 24 m/s, where P began: 24²/14 = 41.14 m and 24²/16 = 36.00 m.
	if got := f.Title.String(); got != "From 86\u00a0km/h K needed 41.1\u00a0m, P 36.0\u00a0m" {
		t.Error(got)
	}
	beside := figs[1].(*figure.PastThePeak)
	if got := beside.Title.String(); got != "From 86\u00a0km/h P needed 5.14\u00a0m less than K" {
		t.Error(got)
	}
	for k, v := range beside.Curves[1].X {
		v /= 3.6
		if got, want := beside.Curves[1].Y[k], v*v/2*(1./8-1./7); v > 2 && math.Abs(got-want) > 0.05 || beside.Curves[0].Y[k] != 0 {
			t.Fatalf("at %.2f m/s %.3f m more than the control, not %.3f", v, got, want)
		}
	}
	if figs, _ = New().Overlay(in[:2]); figs != nil {
		t.Error("one code alone makes a figure")
	}
	for _, w := range []figure.Width{figure.Full, figure.Half} {
		for _, f := range []figure.Figure{f, beside} {
			d, err := f.Draw(w)
			if err != nil || len(d.Caveats) > 0 {
				t.Error(err, d.Caveats)
			}
		}
	}
}
