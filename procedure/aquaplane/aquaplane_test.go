package aquaplane

import (
	"math"
	"strconv"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/internal/golden"
	"example.org/bookend/procedure"
	"example.org/bookend/procedure/proceduretest"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
)

const kmh = 1 / 3.6

func TestTheWorkedOnset(t *testing.T) {
	golden.Run(t, "common-practice", "onset", func(t *testing.T, c *golden.Case) {
		var q struct {
			Speed []float64 `json:"speed_kmh"`
			Slip  []float64 `json:"slip_percent"`
			Limit float64   `json:"limit_percent"`
			Want  float64   `json:"onset_kmh"`
		}
		c.JSON(t, "case.json", &q)
		got, ok := Onset(q.Speed, q.Slip, q.Limit)
		if !ok {
			t.Fatal("no onset")
		}
		c.Near(t, "onset", got, q.Want)
	})
}

// drive is a pass from 60 km/h on at 3 m/s², the water beginning at 3 s; a wheel's slip is
// a share that grows as a power of speed, and is the stated 15 % at a speed.
func drive(rate, floats float64, wet signal.Role, radii float64) *signal.Recording {
	b := signal.Even(0, 6, 1/rate)
	all := []signal.Span{{From: 0, To: len(b.T)}}
	rec := &signal.Recording{Name: "trough.csv"}
	speed := func(t float64) float64 { return 60*kmh + 3*math.Max(0, t-3) }
	add := func(role signal.Role, of func(t float64) float64) {
		c := &signal.Channel{Name: string(role), Role: role, Unit: "m/s", Base: b, Valid: all}
		for _, t := range b.T {
			c.Values = append(c.Values, of(t))
		}
		rec.Channels = append(rec.Channels, c)
	}
	add(signal.Speed, speed)
	for _, role := range []signal.Role{signal.WheelSpeedFL, signal.WheelSpeedFR, signal.WheelSpeedRL, signal.WheelSpeedRR} {
		add(role, func(t float64) float64 {
			v := speed(t)
			if role == wet {
				v *= radii
				if t > 3 {
					v *= 1 + 0.15*math.Pow(speed(t)/floats, 12)
				}
			}
			return v
		})
	}
	return rec
}

func input(t testing.TB, rec *signal.Recording, from, to float64, given ...programme.Setting) procedure.Input {
	t.Helper()
	p, err := spec.Settings(given)
	if err != nil {
		t.Fatal(err)
	}
	return procedure.Input{Run: "r1", Recordings: []*signal.Recording{rec}, FromS: from, ToS: to, Parameters: p}
}

func reduceOne(t testing.TB, in procedure.Input) procedure.Output {
	t.Helper()
	out, err := New().Reduce(in)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func find(out procedure.Output, measure string) (float64, bool) {
	for _, o := range out.Observations {
		if o.Measure == measure {
			return o.Value, true
		}
	}
	return 0, false
}

var front = []programme.Setting{{ID: paramAxle, Word: axleFront}, {ID: paramWet, Word: wetLeft}}

// The slip is known by its formula, whichever wheel it is and whatever its radius.
func TestOnsetOfAKnownSlip(t *testing.T) {
	for _, q := range []struct {
		wet    signal.Role
		given  []programme.Setting
		radii  float64
		floats float64
	}{
		{signal.WheelSpeedRR, nil, 1, 80 * kmh},
		{signal.WheelSpeedRR, nil, 1.02, 77 * kmh},
		{signal.WheelSpeedFL, front, 0.97, 85 * kmh},
	} {
		out := reduceOne(t, input(t, drive(100, q.floats, q.wet, q.radii), 3, 5.9, q.given...))
		if got, ok := find(out, "onset_speed"); !ok || math.Abs(got-q.floats) > 0.02*kmh {
			t.Errorf("%s: onset at %.3f km/h, want %.3f; %v", q.wet, got/kmh, q.floats/kmh, out.Caveats)
		}
		if len(out.Caveats) > 0 {
			t.Errorf("%v", out.Caveats)
		}
	}
}

func TestWhatIsOddAboutAPassIsTold(t *testing.T) {
	never := reduceOne(t, input(t, drive(100, 120*kmh, signal.WheelSpeedRR, 1), 3, 5.9))
	if _, ok := find(never, "onset_speed"); ok || !never.Caveats.Has("no_onset") {
		t.Errorf("%v", never)
	}
	if top, _ := find(never, "top_speed"); math.Abs(top-(60*kmh+3*2.9)) > 0.05 {
		t.Errorf("top speed %v", top)
	}
	// A bump of two samples is no onset.
	bump := drive(100, 80*kmh, signal.WheelSpeedRR, 1)
	w := bump.ByRole(signal.WheelSpeedRR)
	for i := 340; i < 342; i++ {
		w.Values[i] *= 1.3
	}
	if got, _ := find(reduceOne(t, input(t, bump, 3, 5.9)), "onset_speed"); math.Abs(got-80*kmh) > 0.02*kmh {
		t.Errorf("with a bump: %v km/h", got/kmh)
	}
	if late := reduceOne(t, input(t, drive(100, 80*kmh, signal.WheelSpeedRR, 1), 5.5, 5.9, programme.Setting{ID: paramReference, Number: 4})); !late.Caveats.Has("floats_at_entry") {
		t.Errorf("%v", late.Caveats)
	}
	cut := drive(100, 80*kmh, signal.WheelSpeedRR, 1)
	for _, c := range cut.Channels {
		c.Valid = []signal.Span{{From: 300, To: c.Len()}}
	}
	if out := reduceOne(t, input(t, cut, 3, 5.9)); !out.Caveats.Has("wheels_not_scaled_before") {
		t.Errorf("%v", out.Caveats)
	}
	bare := drive(100, 80*kmh, signal.WheelSpeedRR, 1)
	bare.Channels = bare.Channels[:3]
	if out := reduceOne(t, input(t, bare, 3, 5.9)); !out.Caveats.Has("no_wheel_speed") {
		t.Errorf("without rear wheels: %v", out.Caveats)
	}
	bare.Channels = bare.Channels[1:]
	if _, err := New().Reduce(input(t, bare, 3, 5.9)); fault.CodeOf(err) != fault.Invalid || fault.HintOf(err) == "" {
		t.Errorf("without speed: %v", err)
	}
}

func TestConformance(t *testing.T) {
	moved := map[string]float64{"onset_speed": 0.02, "top_speed": 0.05, "greatest_float_slip": 0.02}
	proceduretest.Run(t, proceduretest.Suite{
		Procedure: New(),
		Cases: []proceduretest.Case{
			{Name: "right rear", Input: input(t, drive(100, 80*kmh, signal.WheelSpeedRR, 1.01), 3, 5.9), Resampled: moved},
			{Name: "left front", Input: input(t, drive(100, 85*kmh, signal.WheelSpeedFL, 1), 3, 5.9, front[0]), Resampled: moved},
		},
	})
}

func TestTheOverlayShowsSlipBySpeed(t *testing.T) {
	var runs []procedure.Overlaid
	for i, v := range []float64{80, 85, 80.5, 85.5} {
		out := reduceOne(t, input(t, drive(100, v*kmh, signal.WheelSpeedRR, 1), 3, 5.9))
		runs = append(runs, procedure.Overlaid{Code: []string{"K", "P"}[i%2], Stint: strconv.Itoa(i), Run: "1", Traces: out.Traces})
	}
	figs, err := New().Overlay(runs)
	if err != nil || len(figs) != 1 || figs[0].Kind() != "past-the-peak" {
		t.Fatal(err, figs)
	}
}
