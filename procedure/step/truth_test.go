package step

import (
	"bytes"
	"math"
	"testing"

	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited"
	"example.org/bookend/procedure/step/truth"
	"example.org/bookend/programme"
)

// On the synthetic ground the true answers are known: those of the vehicle's motion,
// by other code than the procedure's.
func TestTheTruthIsRecovered(t *testing.T) {
	worst := map[string]float64{}
	for _, q := range []struct {
		name, words string
		exact       bool
	}{
		{"faultless instruments", "", true},
		{"instruments with noise", "", false},
		{"a soft sidewall", "much softer sidewall", false},
	} {
		d, err := truth.Steps(q.words, 0.8, 4, q.exact, 7)
		if err != nil {
			t.Fatal(err)
		}
		for i, run := range d.Stint.Runs {
			f := d.Recordings(i)[0]
			rec, err := delimited.New().Read(t.Context(), bytes.NewReader(f.Data), ingest.Options{Name: f.Name})
			if err != nil {
				t.Fatal(err)
			}
			at := d.Scenario.Mounting()
			out := reduce(t, input(t, rec, programme.Setting{ID: paramReference, Number: at.CentreAhead}, programme.Setting{ID: paramInertial, Number: at.SeatAhead},
				programme.Setting{ID: paramRearAxle, Number: d.Scenario.Build.Rear}))
			for measure, want := range map[string]string{"yaw_response_time": "yaw_t90", "yaw_overshoot": "yaw_overshoot", "yaw_gain": "yaw_gain"} {
				was, ok := run.Value(want)
				if !ok {
					t.Fatalf("no true %s", want)
				}
				got := value(t, out, measure)
				tol := map[string]float64{"yaw_response_time": 0.002, "yaw_overshoot": 0.005, "yaw_gain": 0.01 * was}[measure]
				if math.Abs(got-was) > tol {
					t.Errorf("%s, run %d: %s is %v, was %v", q.name, i+1, measure, got, was)
				}
				worst[measure] = math.Max(worst[measure], math.Abs(got-was))
			}
			// The vehicle's damping shows in two peaks only: noise is not to make it three.
			for _, o := range out.Observations {
				if o.Measure == "yaw_damping" {
					t.Errorf("%s, run %d: a damping of %v out of noise", q.name, i+1, o.Value)
				}
			}
			// Steady sideslip by the motion, against what the trace holds in the same window.
			p := d.Trace(i).Point
			last := p[len(p)-1]
			for k := len(p) - 1; k > 0 && p[k].T > rec.Channels[0].Base.T[0]+p[0].T+5.3; k-- {
				last = p[k]
			}
			was := math.Copysign(1, last.Steer) * math.Atan2(last.VY, last.VX)
			if got := value(t, out, "steady_sideslip"); math.Abs(got-was) > 0.3*deg {
				t.Errorf("%s, run %d: sideslip %.3f°, was %.3f°", q.name, i+1, got/deg, was/deg)
			}
		}
	}
	t.Logf("worst: %v", worst)
}
