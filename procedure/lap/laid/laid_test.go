package laid_test

import (
	"math"
	"testing"

	"example.org/bookend/figure"
	"example.org/bookend/procedure"
	"example.org/bookend/procedure/lap/laid"
)

// lap is a lap of 100 s and 1,000 m, slower by so many s from 500 m on, whose lateral
// acceleration rises by 2 m/s² a degree of sideslip, less by so much.
func lap(code, stint string, slower, less float64) procedure.Overlaid {
	gain := procedure.Trace{ID: "time_by_station", XUnit: "m", YUnit: "s"}
	for s := 0.0; s <= 1000; s += 5 {
		gain.X, gain.Y = append(gain.X, s), append(gain.Y, s/10+slower*math.Max(0, s-500)/500)
	}
	grip := procedure.Trace{ID: "lateral_by_sideslip", XUnit: "rad", YUnit: "m/s^2"}
	for d := 0.25; d < 4; d += 0.5 {
		grip.X, grip.Y = append(grip.X, d*math.Pi/180), append(grip.Y, 2*d-less)
	}
	return procedure.Overlaid{Code: code, Stint: stint, Run: stint + "/1", Traces: []procedure.Trace{gain, grip}}
}

func figures(t *testing.T, in []procedure.Overlaid) (*figure.GainAlongTheLap, *figure.PastThePeak) {
	t.Helper()
	figs := laid.Setting{Title: "Lap", Way: 4 * math.Pi / 180}.Figures(in)
	if len(figs) != 2 {
		t.Fatalf("%d figures", len(figs))
	}
	for _, f := range figs {
		for _, w := range []figure.Width{figure.Full, figure.Half} {
			if d, err := f.Draw(w); err != nil || len(d.Caveats) > 0 {
				t.Error(f.Kind(), err, d)
			}
		}
	}
	return figs[0].(*figure.GainAlongTheLap), figs[1].(*figure.PastThePeak)
}

// What differs is what was put in: 0.5 s from the middle of the lap on, and 0.4 m/s².
func TestLaidOverEachOther(t *testing.T) {
	gain, grip := figures(t, []procedure.Overlaid{lap("K", "1", 0, 0), lap("K", "3", 0, 0), lap("P", "2", 0.4, 0.3), lap("P", "4", 0.6, 0.5)})
	if got := gain.Title.String(); got != "P ended the lap 0.50\u00a0s behind K" {
		t.Error(got)
	}
	q := gain.Curves[0]
	for i, s := range q.X {
		if want := -0.5 * math.Max(0, s-500) / 500; math.Abs(q.Y[i]-want) > 0.002 {
			t.Fatalf("at %g m %g s are gained, not %g", s, q.Y[i], want)
		}
	}
	// Squares of 0.1 twice about P's mean and none about K's, two degrees of freedom: Student's
	// t of 97.5 % is 4.303, the difference's standard error 0.1 (1/2 and 1/2 of 0.02/2).
	if e := gain.Finishes[0]; math.Abs(*e.High-e.Estimate-0.4303) > 1e-3 {
		t.Errorf("%g to %g", *e.Low, *e.High)
	}
	if got := grip.Title.String(); got != "No code went past its peak; at 3.75° of sideslip P held 0.4\u00a0m/s² less than K" {
		t.Error(got)
	}
	for i, x := range grip.Curves[0].X {
		if math.Abs(grip.Curves[0].Y[i]-2*x) > 1e-9 || math.Abs(grip.Curves[1].Y[i]-(2*x-0.4)) > 1e-9 {
			t.Fatalf("at %g°: %g and %g", x, grip.Curves[0].Y[i], grip.Curves[1].Y[i])
		}
		// As above, of each mean by itself: 4.303 times 0.1 over the root of two.
		if half := grip.Curves[0].High[i] - grip.Curves[0].Y[i]; math.Abs(half-4.3027*0.1/math.Sqrt2) > 1e-3 {
			t.Fatalf("at %g° the band is %g to a side", x, half)
		}
	}
}

func TestLaidRunsThatAreAlike(t *testing.T) {
	gain, grip := figures(t, []procedure.Overlaid{lap("K", "1", 0, 0), lap("P", "2", 0, 0)})
	if got := gain.Title.String(); got != "All codes ended the lap with K" {
		t.Error(got)
	}
	if got := grip.Title.String(); got != "No code went past its peak; all held what K held" {
		t.Error(got)
	}
	if gain.Itself != nil || gain.Curves[0].Low != nil || grip.Curves[0].Low != nil {
		t.Error("bands of single stints")
	}
}
