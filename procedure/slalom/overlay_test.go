package slalom

import (
	"math"
	"testing"

	"example.org/bookend/figure"
	"example.org/bookend/procedure"
	"example.org/bookend/procedure/proceduretest"
)

// Lines lie over each other whichever side the first marker is passed on, and the gap
// at the last marker is that of the amplitudes.
func TestOverlay(t *testing.T) {
	narrow, broad := usual(), usual()
	broad.amplitude += 0.25
	var runs []procedure.Overlaid
	for i, in := range []procedure.Input{narrow.input(t), broad.input(t), proceduretest.Mirror(broad.input(t)), proceduretest.Mirror(narrow.input(t))} {
		runs = append(runs, procedure.Overlaid{Code: []string{"K", "P", "P", "K"}[i], Stint: []string{"1", "2", "3", "4"}[i], Run: "1", Traces: reduce(t, in).Traces})
	}
	figs, err := New().Overlay(runs)
	if err != nil || len(figs) != 1 {
		t.Fatal(err, figs)
	}
	f, ok := figs[0].(*figure.RoomPlot)
	if !ok || len(f.Cones) != narrow.markers || len(f.Curves) != 2 || len(f.Gaps) != 1 {
		t.Fatalf("%#v", figs[0])
	}
	if g := f.Gaps[0]; math.Abs(math.Abs(g.To-g.From)-0.25) > 0.005 || g.Value != "0.25\u00a0m" {
		t.Errorf("the gap at the last marker is %v to %v, %q; want 0.25 m", g.From, g.To, g.Value)
	}
	for i, v := range f.Curves[1].Low {
		if wide := f.Curves[1].High[i] - v; wide > 0.2 {
			t.Fatalf("a pass and its mirror image are %v m apart at %v m", wide, f.Curves[1].X[i])
		}
	}
}
