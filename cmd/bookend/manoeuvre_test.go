package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"example.org/bookend/sim"
)

// From the bytes of the synthetic ground's instruments to the numbers of the
// manoeuvre, by the command line alone, held against what the vehicle really did.
func TestManoeuvresOfTheSyntheticGround(t *testing.T) {
	value := func(d reduced, measure, run, place string) float64 {
		t.Helper()
		for _, o := range d.Results.Observations {
			if o.Measure == measure && o.Run == run && o.Place == place {
				return o.Value
			}
		}
		t.Fatalf("no %s of run %s at %q", measure, run, place)
		return 0
	}
	drive := func(kind, procedure string, set ...string) (*sim.Driven, []reduced) {
		t.Helper()
		d, err := sim.Drive(sim.Ask{Kind: kind, Runs: 2, Seed: 21})
		if err != nil {
			t.Fatal(err)
		}
		var out []reduced
		for _, f := range d.Files {
			path := filepath.Join(t.TempDir(), f.Name)
			if err := os.WriteFile(path, f.Data, 0o600); err != nil {
				t.Fatal(err)
			}
			args := []string{path, "--procedure", procedure}
			for _, g := range d.Gates {
				args = append(args, fmt.Sprintf("--gate=%.9f,%.9f,%.9f,%.9f", g[0], g[1], g[2], g[3]))
			}
			for _, s := range set {
				args = append(args, "--set", s)
			}
			out = append(out, reduceFile(t, args...))
		}
		return d, out
	}
	near := func(what string, got, was, tol float64) {
		t.Helper()
		if !(math.Abs(got-was) <= tol) {
			t.Errorf("%s is %v, was %v", what, got, was)
		}
	}

	d, got := drive(sim.Slalom, "slalom", "marker_spacing=18m", "inertial_ahead=-0.7m", "reference_ahead=-0.4m")
	for i, run := range d.Stint.Runs {
		was, _ := run.Value("yaw_delay")
		near("delay to yaw rate, s", value(got[0], "yaw_delay", strconv.Itoa(i+1), ""), was, 0.005)
		was, _ = run.Value("entry_speed")
		near("entry speed, m/s", value(got[0], "entry_speed", strconv.Itoa(i+1), ""), was, 0.1)
	}

	b := &d.Scenario.Build
	middle := (b.Front-b.Rear)/2 - 0.4 // of the body, ahead of the antenna
	d, got = drive(sim.LaneChange, "lanechange", "layout=iso_3888_1", fmt.Sprintf("vehicle_width=%gm", b.Width),
		fmt.Sprintf("body_ahead=%.3fm", middle+b.Length/2), fmt.Sprintf("body_behind=%.3fm", b.Length/2-middle))
	for i, run := range d.Stint.Runs {
		was, _ := run.Value("overshoot")
		near("overshoot, m", math.Max(0, value(got[0], "overshoot", strconv.Itoa(i+1), "side lane")), was, 0.05)
		was, _ = run.Value("clearance")
		if clean := value(got[0], "clean", strconv.Itoa(i+1), ""); math.Abs(was) > 0.05 && clean == 1 != (was > 0) {
			t.Errorf("run %d is clean: %v, with %v m to the nearest edge", i+1, clean, was)
		}
	}

	d, got = drive(sim.Circle, "circle", fmt.Sprintf("steering_ratio=%g", b.Ratio), fmt.Sprintf("wheelbase=%gm", b.Front+b.Rear))
	for i, run := range d.Stint.Runs {
		was, _ := run.Value("peak_lateral")
		near("grip, m/s²", value(got[i], "lateral_grip", "1", []string{"left", "right"}[i%2]), was, 0.02*was)
	}
}
