package sinedwell

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

func record(rate, seconds float64, steer, yaw, lateral, roll func(t float64) float64) *signal.Recording {
	n := int(seconds*rate) + 1
	b := signal.Even(0, float64(n-1)/rate, 1/rate)
	rec := &signal.Recording{Name: "dwell.csv"}
	for _, q := range []struct {
		role signal.Role
		unit string
		of   func(float64) float64
	}{
		{signal.SteeringAngle, "rad", steer}, {signal.YawRate, "rad/s", yaw}, {signal.AccelY, "m/s²", lateral}, {signal.Roll, "rad", roll},
		{signal.Speed, "m/s", func(float64) float64 { return 80 * kmh }},
	} {
		if q.of == nil {
			continue
		}
		c := &signal.Channel{Name: string(q.role), Role: q.role, Unit: q.unit, Base: b, Valid: []signal.Span{{From: 0, To: len(b.T)}}}
		for _, t := range b.T {
			c.Values = append(c.Values, q.of(t))
		}
		rec.Channels = append(rec.Channels, c)
	}
	return rec
}

const (
	onset = 2.0
	hz    = 0.7
	dwell = 0.5
	over  = onset + 1/hz + dwell // the steering is back at zero
)

// shape is a sine with dwell of amplitude 1 by time, from the onset on.
func shape(t float64) float64 {
	t -= onset
	second := 0.75 / hz
	switch {
	case t < 0 || t > 1/hz+dwell:
		return 0
	case t > second+dwell:
		t -= dwell
	case t > second:
		t = second
	}
	return math.Sin(2 * math.Pi * hz * t)
}

// follows is a yaw rate that follows the steering and dies down from a share of its
// second peak when that ends.
func follows(amplitude, left, tau float64) func(float64) float64 {
	return func(t float64) float64 {
		if t > over {
			return -amplitude * left * math.Exp(-(t-over)/tau)
		}
		// From the dwell's end it goes down to what is left.
		if q := over - 0.25/hz; t > q {
			u := (t - q) / (over - q)
			return -amplitude * (1 - (1-left)*u*u*(3-2*u))
		}
		return amplitude * shape(t)
	}
}

func steering(angle, zero float64) func(float64) float64 {
	return func(t float64) float64 { return zero + angle*shape(t) }
}

// swing is a lateral acceleration whose first half swing begins where the steering
// reaches 5° of an amplitude.
func swing(amplitude, angle float64) func(float64) float64 {
	begin := onset + math.Asin(5*deg/angle)/(2*math.Pi*hz)
	return func(t float64) float64 {
		if t < begin {
			return 0
		}
		return amplitude * math.Sin(2*math.Pi*hz*(t-begin))
	}
}

func input(t testing.TB, rec *signal.Recording, given ...programme.Setting) procedure.Input {
	t.Helper()
	p, err := spec.Settings(given)
	if err != nil {
		t.Fatal(err)
	}
	b := rec.Channels[0].Base.T
	return procedure.Input{Run: "r1", Recordings: []*signal.Recording{rec}, FromS: b[0], ToS: b[len(b)-1], Parameters: p}
}

func reduce(t testing.TB, in procedure.Input) procedure.Output {
	t.Helper()
	out, err := New().Reduce(in)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func value(t testing.TB, out procedure.Output, measure string) float64 {
	t.Helper()
	for _, o := range out.Observations {
		if o.Measure == measure {
			return o.Value
		}
	}
	t.Fatalf("no %s; %v", measure, out.Caveats)
	return 0
}

func TestTheDisplacementWorkedFromTheFormula(t *testing.T) {
	golden.Run(t, "un-r140", "displacement", func(t *testing.T, c *golden.Case) {
		var q struct {
			Amplitude float64 `json:"amplitude_mps2"`
			Hz        float64 `json:"hz"`
			After     float64 `json:"after_s"`
			Want      float64 `json:"displacement_m"`
		}
		c.JSON(t, "case.json", &q)
		b := signal.Even(0, q.After, 0.002)
		s := signal.Stretch{T: b.T}
		for _, at := range b.T {
			s.V = append(s.V, q.Amplitude*math.Sin(2*math.Pi*q.Hz*at))
		}
		c.Near(t, "displacement", Displacement(s), q.Want)
		// From a recording, at 200 a second, to either side, with zero errors and filtered.
		for _, side := range []float64{1, -1} {
			angle := 180 * deg
			ay := swing(q.Amplitude, angle)
			rec := record(200, 8, steering(side*angle, 2*deg), follows(side*0.5, 0.5, 0.8), func(at float64) float64 { return side*ay(at) + 0.15 }, nil)
			got := value(t, reduce(t, input(t, rec)), "lateral_displacement")
			if math.Abs(got-side*side*q.Want) > 0.03 { // the filter rounds the beginning off, and 5° are reached a little sooner
				t.Errorf("to side %+g: %v m, want %v", side, got, q.Want)
			}
		}
	})
}

func TestWhatIsLeftOfYaw(t *testing.T) {
	golden.Run(t, "closed-forms", "decay", func(t *testing.T, c *golden.Case) {
		var q struct {
			Left float64 `json:"left"`
			Tau  float64 `json:"time_constant_s"`
			R1   float64 `json:"ratio_1000_ms"`
			R2   float64 `json:"ratio_1750_ms"`
		}
		c.JSON(t, "case.json", &q)
		for _, side := range []float64{1, -1} {
			out := reduce(t, input(t, record(200, 8, steering(side*180*deg, 0), follows(side*0.5, q.Left, q.Tau), swing(6, 180*deg), nil)))
			c.Near(t, "after 1 s", value(t, out, "yaw_ratio_1000_ms"), q.R1)
			c.Near(t, "after 1.75 s", value(t, out, "yaw_ratio_1750_ms"), q.R2)
			if a := value(t, out, "steering_amplitude"); math.Abs(a/(180*deg)-1) > 0.005 {
				t.Errorf("amplitude %v°", a/deg)
			}
			if out.Caveats.Has("yaw_left") {
				t.Errorf("%v", out.Caveats)
			}
		}
	})
	spin := reduce(t, input(t, record(200, 8, steering(180*deg, 0), follows(0.5, 1, 3), swing(6, 180*deg), nil)))
	if !spin.Caveats.Has("yaw_left") {
		t.Errorf("a vehicle that goes on turning: %v", spin.Caveats)
	}
}

func TestWhatIsOddIsTold(t *testing.T) {
	angle := 180 * deg
	good := func() *signal.Recording {
		return record(200, 8, steering(angle, 0), follows(0.5, 0.5, 0.8), swing(6.4, angle), func(float64) float64 { return 0.03 })
	}
	short := input(t, good())
	short.ToS = over + 1.2
	if out := reduce(t, short); !out.Caveats.Has("ends_early") {
		t.Errorf("a short run: %v", out.Caveats)
	}
	for _, q := range []struct {
		code  string
		rec   *signal.Recording
		given []programme.Setting
	}{
		{"entry_speed_outside", good(), []programme.Setting{{ID: paramSpeed, Number: 60 * kmh}}},
		{"displacement_small", good(), []programme.Setting{{ID: paramNormal, Number: 30 * deg}, {ID: paramDisplacement, Number: 2.5}}},
		{"roll_in_lateral", record(200, 8, steering(angle, 0), follows(0.5, 0.5, 0.8), swing(6, angle), nil), nil},
		{"no_lateral_acceleration", record(200, 8, steering(angle, 0), follows(0.5, 0.5, 0.8), nil, nil), nil},
		{"halves_differ", record(200, 8, func(t float64) float64 { return angle * shape(t) * map[bool]float64{true: 1, false: 0.7}[shape(t) > 0] },
			follows(0.5, 0.5, 0.8), swing(6, angle), nil), nil},
	} {
		if out := reduce(t, input(t, q.rec, q.given...)); !out.Caveats.Has(q.code) {
			t.Errorf("%s: %v", q.code, out.Caveats)
		}
	}
	for name, in := range map[string]procedure.Input{
		"nothing steered": input(t, record(200, 8, func(float64) float64 { return 0 }, follows(0.5, 0.5, 0.8), nil, nil)),
		"half a sine":     input(t, record(200, 8, func(t float64) float64 { return math.Max(0, angle*shape(t)) }, follows(0.5, 0.5, 0.8), nil, nil)),
	} {
		if out, err := New().Reduce(in); fault.CodeOf(err) != fault.Invalid || fault.HintOf(err) == "" {
			t.Errorf("%s: %v, %v", name, err, out.Observations)
		}
	}
	// Gravity is taken out by the roll angle: 3° to the right hold back half a metre a second squared.
	a, b := reduce(t, input(t, good())), reduce(t, input(t, record(200, 8, steering(angle, 0), follows(0.5, 0.5, 0.8), func(t float64) float64 {
		return swing(6.4, angle)(t)*math.Cos(0.1*shape(t)) + 9.80665*math.Sin(0.1*shape(t))
	}, func(t float64) float64 { return 0.1 * shape(t) })))
	if x, y := value(t, a, "lateral_displacement"), value(t, b, "lateral_displacement"); math.Abs(x-y) > 0.01 {
		t.Errorf("%v m level, %v m rolled", x, y)
	}
}

func TestConformance(t *testing.T) {
	angle := 150 * deg
	rec := record(200, 8, steering(angle, 1*deg), follows(0.5, 0.5, 0.8), swing(6.4, angle), func(t float64) float64 { return 0.05 * shape(t) })
	moved := map[string]float64{"yaw_ratio_1000_ms": 2e-3, "yaw_ratio_1750_ms": 2e-3, "second_peak_delay": 0.06, "lateral_displacement": 5e-3, "entry_speed": 1e-6}
	proceduretest.Run(t, proceduretest.Suite{
		Procedure: New(),
		Lateral:   []string{"first_steering_side"},
		Cases: []proceduretest.Case{
			{Name: "as the standard has it", Input: input(t, rec, programme.Setting{ID: paramNormal, Number: 30 * deg}), Resampled: moved},
			{Name: "to the right, bare", Input: input(t, record(100, 8, steering(-angle, 0), follows(-0.5, 0.3, 0.5), nil, nil)), Resampled: moved},
		},
	})
}

func TestTheOverlayHasAPanelASignal(t *testing.T) {
	var runs []procedure.Overlaid
	for i, left := range []float64{0.5, 0.7, 0.5, 0.7} {
		out := reduce(t, input(t, record(200, 8, steering(150*deg, 0), follows(0.5, left, 0.8), swing(6, 150*deg), nil)))
		runs = append(runs, procedure.Overlaid{Code: []string{"K", "P"}[i%2], Stint: strconv.Itoa(i), Run: "1", Traces: out.Traces})
	}
	figs, err := New().Overlay(runs)
	if err != nil || len(figs) != 1 || figs[0].Kind() != "answer-curve" {
		t.Fatal(err, figs)
	}
}
