package slalom

import (
	"bytes"
	"fmt"
	"math"
	"testing"

	"example.org/bookend/course"
	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited"
	"example.org/bookend/procedure"
	"example.org/bookend/procedure/slalom/truth"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
	"example.org/bookend/sim"
)

// driven gives a run of the synthetic ground as input, from the bytes that the
// instruments wrote. Times of recordings count from their first sample.
func driven(t testing.TB, d *sim.Driven, run int, given ...programme.Setting) procedure.Input {
	t.Helper()
	f := d.Recordings(run)[0]
	rec, err := delimited.New().Read(t.Context(), bytes.NewReader(f.Data), ingest.Options{Name: f.Name})
	if err != nil {
		t.Fatal(err)
	}
	var posts []course.Posts
	for _, g := range d.Gates {
		p, err := course.ParseGate(fmt.Sprintf("%.9f,%.9f,%.9f,%.9f", g[0], g[1], g[2], g[3]))
		if err != nil {
			t.Fatal(err)
		}
		posts = append(posts, p)
	}
	c, err := course.New(posts...)
	if err != nil {
		t.Fatal(err)
	}
	p, err := spec.Settings(given)
	if err != nil {
		t.Fatal(err)
	}
	// The base's zero is the recording's anchor; the stint's is its start.
	shift := float64(rec.Anchor.UnixNS-d.Stint.Start.UnixNano()) / 1e9
	r := d.Stint.Runs[run]
	return procedure.Input{Run: "1", Recordings: []*signal.Recording{rec}, FromS: r.From - shift, ToS: r.To - shift, Course: c, Parameters: p}
}

// On the synthetic ground what the vehicle really did is known, by other code than
// the procedure's.
func TestTheTruthIsRecovered(t *testing.T) {
	worst := map[string]float64{}
	for _, q := range []struct {
		name, words string
		exact       bool
	}{{"faultless", "", true}, {"noise", "", false}, {"soft", "much softer sidewall", false}} {
		d, err := truth.Passes(q.words, 2, q.exact, 3)
		if err != nil {
			t.Fatal(err)
		}
		width, ahead, behind := truth.Body(d)
		for i, run := range d.Stint.Runs {
			out := reduce(t, driven(t, d, i, number("vehicle_width", width), number("body_ahead", ahead), number("body_behind", behind), number("position_sd", 0.02), number("marker_radius", 0), number("inertial_ahead", -0.7), number("reference_ahead", -0.4)))
			near := func(what string, got, was, tol float64) {
				t.Helper()
				worst[q.name+" "+what] = math.Max(worst[q.name+" "+what], math.Abs(got-was))
				if math.Abs(got-was) > tol {
					t.Errorf("%s, run %d: %s is %.5f, was %.5f", q.name, i+1, what, got, was)
				}
			}
			// Delays to 5 ms. The wheel is turned in steps of 10 ms, which makes 2.5 ms of the
			// difference; of the lateral one 2 ms more are what is left of the roll's lag, found
			// from satellite velocities. What is known is the phase at the slalom's frequency;
			// the delay by correlation weighs what is above it as well, which for a soft tyre
			// makes 1 ms more.
			for m, w := range map[string]struct {
				id  string
				tol float64
			}{"yaw_phase_delay": {"yaw_delay", 0.005}, "yaw_delay": {"yaw_delay", 0.005}, "lateral_phase_delay": {"lateral_delay", 0.005}, "lateral_delay": {"lateral_delay", 0.006}, "yaw_gain": {"yaw_gain", 0.002}} {
				was, _ := run.Value(w.id)
				if m == "yaw_gain" { // by the road wheels there, by the steering wheel here
					was /= d.Scenario.Build.Ratio
				}
				near(m, value(t, out, m, ""), was, w.tol)
			}
			for k := range d.Test.Course.Cones {
				gap, room := truth.Gap(d, i, k)
				near("marker_gap", value(t, out, "marker_gap", marker(k)), gap, 0.03)
				near("room_used", value(t, out, "room_used", marker(k)), room, 0.03)
			}
			near("marker_sideslip", value(t, out, "marker_sideslip", ""), truth.Sideslip(d, i), 0.3*math.Pi/180)
		}
	}
	for k, v := range worst {
		t.Log(k, v)
	}
}

// Delays of several tyres at several speeds, by instruments without a roll channel: each
// within 5 ms. Half of it is the wheel's, which the simulated driver turns in steps of
// 10 ms; of the roll's lag, some 5 ms where nothing takes it out, no more than 1.5 ms are
// left in the mean.
func TestDelaysOfTyresAndSpeeds(t *testing.T) {
	worst, sum, n := map[string]float64{}, map[string]float64{}, map[string]float64{}
	for _, words := range []string{"", "much softer sidewall", "stiffer sidewall", "more dry grip"} {
		for k, kmh := range []float64{38, 42, 45, 48} {
			d, err := truth.At(words, kmh/3.6, 1, uint64(50+k))
			if err != nil {
				t.Fatal(err)
			}
			width, ahead, behind := truth.Body(d)
			for i, run := range d.Stint.Runs {
				out := reduce(t, driven(t, d, i, number("vehicle_width", width), number("body_ahead", ahead), number("body_behind", behind), number("position_sd", 0.02), number("marker_radius", 0), number("inertial_ahead", -0.7), number("reference_ahead", -0.4)))
				for m, id := range map[string]string{"yaw_phase_delay": "yaw_delay", "lateral_phase_delay": "lateral_delay"} {
					was, _ := run.Value(id)
					off := value(t, out, m, "") - was
					worst[m], sum[m], n[m] = math.Max(worst[m], math.Abs(off)), sum[m]+off, n[m]+1
					if math.Abs(off) > 0.005 {
						t.Errorf("%q at %g km/h, run %d: %s is off by %.4f s", words, kmh, i+1, m, off)
					}
				}
			}
		}
	}
	for m := range worst {
		t.Logf("%s: off by up to %.4f s, in the mean of %g runs by %+.4f s", m, worst[m], n[m], sum[m]/n[m])
	}
	if left := (sum["lateral_phase_delay"] - sum["yaw_phase_delay"]) / n["yaw_phase_delay"]; math.Abs(left) > 0.0015 {
		t.Errorf("%.4f s of the roll's lag are left in the mean", left)
	}
}

// Where the receiver loses its place for a second and a half the other sensors carry
// the path, to some millimetres as they are tied at both ends; it is told, and the
// stated uncertainty holds what is wrong.
func TestPositionsLostWithinTheSlalom(t *testing.T) {
	beyond, n := 0, 0
	for seed := range uint64(4) {
		d, err := truth.Lost(1.5, 30+seed)
		if err != nil {
			t.Fatal(err)
		}
		width, ahead, behind := truth.Body(d)
		out := reduce(t, driven(t, d, 0, number("vehicle_width", width), number("body_ahead", ahead), number("body_behind", behind), number("position_sd", 0.02),
			number("inertial_ahead", -0.7), number("reference_ahead", -0.4)))
		if !out.Caveats.Has("position_missing") {
			t.Errorf("seed %d: nobody is told: %v", seed, out.Caveats)
		}
		for k := range d.Test.Course.Cones {
			for _, o := range out.Observations {
				if o.Measure != "room_used" || o.Place != marker(k) {
					continue
				}
				_, was := truth.Gap(d, 0, k)
				n++
				if math.Abs(o.Value-was) > 3*math.Hypot(*o.Uncertainty, 0.01) { // 0.01 m: tops between samples, the outline
					beyond++
				}
				if math.Abs(o.Value-was) > 0.5 {
					t.Errorf("seed %d: room at %s is %v m, was %v", seed, o.Place, o.Value, was)
				}
			}
		}
	}
	if n < 30 || beyond > 1 {
		t.Errorf("%d of %d rooms lie beyond three standard uncertainties", beyond, n)
	}
}
