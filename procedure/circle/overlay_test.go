package circle

import (
	"testing"

	"example.org/bookend/figure"
	"example.org/bookend/procedure"
)

// rising is a run round to the left whose steering rises by grad for each m/s².
func rising(code, stint string, grad, most float64) procedure.Overlaid {
	q := procedure.Trace{ID: "steering_by_lateral_left", XUnit: "m/s²", YUnit: "rad"}
	for a := 0.5; a <= most; a += 0.5 {
		q.X, q.Y = append(q.X, a), append(q.Y, 0.05+grad*a)
	}
	return procedure.Overlaid{Code: code, Stint: stint, Run: stint + "/1", Traces: []procedure.Trace{q}}
}

func TestOverlayShowsWhoIsSteeredMore(t *testing.T) {
	in := []procedure.Overlaid{rising("K", "1", 0.002, 7), rising("K", "3", 0.002, 7), rising("P", "2", 0.004, 6), rising("P", "4", 0.004, 6)}
	figs, err := New().Overlay(in)
	if err != nil || len(figs) != 1 {
		t.Fatal(figs, err)
	}
	f := figs[0].(*figure.PastThePeak)
	// At the last place that both reached, 6 m/s²: 0.002 · 6 rad are 0.7°.
	if got := f.Title.String(); got != "To the left, at 6.0\u00a0m/s², P was steered 0.7° more than K" {
		t.Error(got)
	}
	if n := len(f.Curves[0].X); f.Curves[0].X[n-1] != 7 {
		t.Errorf("the control's curve ends at %v", f.Curves[0].X[n-1])
	}
	for _, w := range []figure.Width{figure.Full, figure.Half} {
		d, err := f.Draw(w)
		if err != nil || len(d.Caveats) > 0 {
			t.Error(err, d.Caveats)
		}
	}
}
