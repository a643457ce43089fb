package soundness_test

import (
	"math"
	"testing"

	"example.org/bookend/signal"
	"example.org/bookend/sim"
	"example.org/bookend/sim/ground"
	"example.org/bookend/soundness"
)

// Three instruments with clocks of their own are judged together: what they say of one
// drive agrees but for their clocks, whose difference is found by cross-correlation.
// Truth is how far the clocks of the two others were set off from the satellites': all
// three begin with the drive, so that their first stamps show it to a sample of 0.05 s.
func TestInstrumentsApart(t *testing.T) {
	for seed := range uint64(6) {
		d, err := sim.Drive(sim.Ask{Kind: sim.Laps, Course: ground.WetHandling(), Runs: 1, Seed: 40 + seed, Kit: sim.Kit{Apart: true}})
		if err != nil {
			t.Fatal(err)
		}
		var recs []*signal.Recording
		for _, f := range d.Files {
			recs = append(recs, text(t, f.Name, f.Data, ""))
		}
		if len(recs) != 3 {
			t.Fatalf("%d files", len(recs))
		}
		off := float64(recs[1].Anchor.UnixNS-recs[0].Anchor.UnixNS) / 1e9
		got, err := soundness.Judge(recs...)
		if err != nil {
			t.Fatal(err)
		}
		found := false
		for _, f := range got {
			if f.Code != "late_channel" {
				t.Errorf("seed %d: it says %s %s: %s", seed, f.Code, f.Place, f.Text)
				continue
			}
			found = true
			want := -off // of the imu and the network, which are late by that
			if f.Place.File == recs[0].Name {
				want = off
			}
			// Wheels slip before the speed changes, and a body turns in before its course does.
			if math.Abs(f.Mends[0].Value-want) > 0.2 {
				t.Errorf("seed %d: %s is to be moved by %.3f s, where the clocks differ by %.2f s", seed, f.Place, f.Mends[0].Value, off)
			}
		}
		if !found && math.Abs(off) > 0.3 {
			t.Errorf("seed %d: clocks that differ by %.2f s are not found", seed, off)
		}
	}
}
