package lanechange

import (
	"bytes"
	"fmt"
	"math"
	"testing"

	"example.org/bookend/course"
	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited"
	"example.org/bookend/procedure"
	"example.org/bookend/procedure/lanechange/truth"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
	"example.org/bookend/sim"
)

// driven gives a run of the synthetic ground as input, from the bytes that the
// instruments wrote.
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
		speed       float64
		exact       bool
	}{{"faultless", "", 75, true}, {"noise", "", 75, false}, {"at the limit", "less dry grip", 85, false}} {
		d, err := truth.Passes(q.words, q.speed*kmh, 2, q.exact, 5)
		if err != nil {
			t.Fatal(err)
		}
		width, ahead, behind := truth.Body(d)
		for i, run := range d.Stint.Runs {
			out := reduce(t, driven(t, d, i, word("layout", doubleChange), number("vehicle_width", width), number("body_ahead", ahead), number("body_behind", behind),
				number("position_sd", 0.02), number("inertial_ahead", -0.7), number("reference_ahead", -0.4), number("speed_station", 0), number("slide_angle", 1.5*deg)))
			near := func(what string, got, was, tol float64) {
				t.Helper()
				worst[q.name+" "+what] = math.Max(worst[q.name+" "+what], math.Abs(got-was))
				if math.Abs(got-was) > tol {
					t.Errorf("%s, run %d: %s is %.5f, was %.5f", q.name, i+1, what, got, was)
				}
			}
			room := math.Inf(1)
			for _, o := range out.Observations {
				if o.Measure == "lane_room" {
					room = math.Min(room, o.Value)
				}
			}
			was, _ := run.Value("clearance")
			near("least room", room, was, 0.04)
			if clean := value(t, out, "clean", ""); math.Abs(was) > 0.05 && clean == 1 != (was > 0) {
				t.Errorf("%s, run %d: clean %v with %v m of room", q.name, i+1, clean, was)
			}
			was, _ = run.Value("overshoot")
			near("overshoot", math.Max(0, value(t, out, "overshoot", sideLane)), was, 0.04)
			was, _ = run.Value("peak_yaw_rate")
			near("peak_yaw_rate", value(t, out, "peak_yaw_rate", ""), was, 0.01)
			was, _ = run.Value("entry_speed")
			near("entry_speed", value(t, out, "entry_speed", ""), was, 0.1)
			slid, most := truth.Slide(d, i, 1.5*deg, 3)
			near("slide_time", value(t, out, "slide_time", ""), slid, 0.2) // as long as it hovers within 0.1° of it
			near("peak_sideslip", value(t, out, "peak_sideslip", ""), most, 0.3*deg)
		}
	}
	for k, v := range worst {
		t.Log(k, v)
	}
}
