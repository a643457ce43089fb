package clocks_test

import (
	"bytes"
	"math"
	"testing"

	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited"
	"example.org/bookend/signal"
	"example.org/bookend/sim"
	"example.org/bookend/sim/ground"
	"example.org/bookend/soundness/clocks"
)

// Truth is how far the clocks of two instruments were set off that of the satellite
// receiver, and how late each hands its values on: 0.04 s the receiver, 0.004 s the body's
// sensors, 0.015 s the bus. All three begin with the drive, so that their first stamps show
// their clocks to a sample.
func TestClocksAreLaidOnTheFirst(t *testing.T) {
	worst := map[string]float64{}
	for _, c := range []struct {
		name string
		on   *ground.Course
	}{{"wet", ground.WetHandling()}, {"dry", ground.DryHandling()}} {
		for seed := range uint64(4) {
			d, err := sim.Drive(sim.Ask{Kind: sim.Laps, Course: c.on, Runs: 2, Seed: 40 + seed, Kit: sim.Kit{Apart: true}})
			if err != nil {
				t.Fatal(err)
			}
			var recs []*signal.Recording
			for _, f := range d.Files {
				rec, err := delimited.New().Read(t.Context(), bytes.NewReader(f.Data), ingest.Options{Name: f.Name})
				if err != nil {
					t.Fatal(err)
				}
				recs = append(recs, rec)
			}
			laid, notes := clocks.Lay(recs)
			if len(notes) != 2 {
				t.Fatalf("%v", notes)
			}
			for i, q := range []struct {
				name        string
				first, late float64
				tol         float64
			}{{"imu", 0.01, 0.004, 0.01}, {"can", 0.02, 0.015, 0.02}} {
				rec := recs[i+1]
				// On dry ground wheels slip by so much at the limit that they tell no clock: they
				// are left out rather than laid 0.1 s off.
				if c.name == "dry" && q.name == "can" {
					if notes[i].Code != "clock_not_compared" || laid[i+1].ByRole(signal.WheelSpeedFL) != nil || laid[i+1].ByRole(signal.SteeringAngle) == nil {
						t.Errorf("dry %d: %v", seed, notes[i])
					}
					continue
				}
				if notes[i].Code != "clock_laid" {
					t.Errorf("%s %d: %v", c.name, seed, notes[i])
				}
				was := float64(rec.Anchor.UnixNS-recs[0].Anchor.UnixNS)/1e9 - (q.first - 0.05) + q.late - 0.04
				got := -laid[i+1].Anchor.OffsetS
				t.Logf("%s %d %s: %.4f, was %.4f; %v", c.name, seed, q.name, got, was, notes[i].Text)
				worst[q.name] = math.Max(worst[q.name], math.Abs(got-was))
				if math.Abs(got-was) > q.tol {
					t.Errorf("%s %d: %s is laid by %.4f s, was %.4f s", c.name, seed, q.name, got, was)
				}
			}
			if recs[1].Anchor.OffsetS != 0 {
				t.Error("what was handed in is changed")
			}
		}
	}
	t.Log(worst)
}
