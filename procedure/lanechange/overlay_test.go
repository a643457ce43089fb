package lanechange

import (
	"math"
	"testing"

	"example.org/bookend/figure"
	"example.org/bookend/procedure"
	"example.org/bookend/procedure/proceduretest"
)

// Lines lie over each other whichever side the change goes to, and the figure says how
// far apart they are at the exit.
func TestOverlay(t *testing.T) {
	const laidOutFor = wide
	good, broad := clean(t), clean(t)
	broad.over = 0.4
	var runs []procedure.Overlaid
	for i, in := range []procedure.Input{good.input(t), broad.input(t), proceduretest.Mirror(broad.input(t)), proceduretest.Mirror(good.input(t))} {
		runs = append(runs, procedure.Overlaid{Code: []string{"K", "P", "P", "K"}[i], Stint: []string{"1", "2", "3", "4"}[i], Run: "1", Traces: reduce(t, in).Traces})
	}
	figs, err := New().Overlay(runs)
	if err != nil || len(figs) != 1 {
		t.Fatal(err, figs)
	}
	f, ok := figs[0].(*figure.RoomPlot)
	if !ok || len(f.Ways) != 3 || len(f.Curves) != 2 || len(f.Gaps) != 2 || f.Detail == nil {
		t.Fatalf("%#v", figs[0])
	}
	lanes := Layout(obstacle, laidOutFor, exitAtLeast)
	for i, w := range f.Ways {
		if l := lanes[i]; w.Name != l.Name || math.Abs(w.Right-l.Right) > 1e-9 || math.Abs(w.Left-l.Left) > 1e-9 {
			t.Errorf("%s is drawn from %v to %v, laid out from %v to %v", l.Name, w.Right, w.Left, l.Right, l.Left)
		}
	}
	if g := f.Gaps[0]; math.Abs(math.Abs(g.To-g.From)-0.4) > 0.03 {
		t.Errorf("P runs %v m wider, want 0.4", g.From-g.To)
	}
	// What is left to the cones: the right edge, the side and the swing.
	if g, want := f.Gaps[1], -0.4-laidOutFor/2-lanes[2].Right; math.Abs(g.To-g.From-want) > 0.03 {
		t.Errorf("%v m are left to the cones, want %v", g.To-g.From, want)
	}
}
