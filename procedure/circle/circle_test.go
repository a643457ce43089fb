package circle

import (
	"bytes"
	"math"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited"
	"example.org/bookend/internal/golden"
	"example.org/bookend/procedure"
	"example.org/bookend/procedure/circle/truth"
	"example.org/bookend/procedure/proceduretest"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
)

const ratio = 16.0

// turn is a steady turn driven through slowly: speed in m/s and curvature in 1/m by
// time, to the left for a positive one, on a vehicle whose steering is that of a
// straight handling curve of a gradient.
type turn struct {
	base, gradient float64
	speed, bend    func(t float64) float64
	seconds, rate  float64
}

func (c turn) drive() *signal.Recording {
	n := int(c.seconds * c.rate)
	b := &signal.Base{T: make([]float64, n)}
	for i := range b.T {
		b.T[i] = float64(i) / c.rate
	}
	rec := &signal.Recording{Name: "turn.csv"}
	add := func(name string, role signal.Role, unit string, f func(t float64) float64) {
		v := make([]float64, n)
		for i := range v {
			v[i] = f(b.T[i])
		}
		rec.Channels = append(rec.Channels, &signal.Channel{Name: name, Role: role, Unit: unit, Base: b, Values: v, Valid: []signal.Span{{From: 0, To: n}}})
	}
	lateral := func(t float64) float64 { return c.speed(t) * c.speed(t) * c.bend(t) }
	roll := func(t float64) float64 { return 0.009 * lateral(t) }
	add("v", signal.Speed, "m/s", c.speed)
	add("yaw", signal.YawRate, "rad/s", func(t float64) float64 { return c.speed(t) * c.bend(t) })
	add("steer", signal.SteeringAngle, "rad", func(t float64) float64 { return ratio * (c.base*c.bend(t) + c.gradient*lateral(t)) })
	add("ay", signal.AccelY, "m/s²", func(t float64) float64 { return lateral(t)*math.Cos(roll(t)) + 9.81*math.Sin(roll(t)) })
	add("roll", signal.Roll, "rad", roll)
	add("slip", signal.Sideslip, "rad", func(t float64) float64 { return 1.2*c.bend(t) - 0.006*lateral(t) })
	return rec
}

// widening drives a circle of a radius in m ever faster, to one side.
func widening(base, gradient, radius float64) turn {
	return turn{base: base, gradient: gradient, seconds: 90, rate: 100,
		speed: func(t float64) float64 { return 6 + 0.17*t }, bend: func(float64) float64 { return 1 / radius }}
}

func number(id string, v float64) programme.Setting { return programme.Setting{ID: id, Number: v} }

func word(id, w string) programme.Setting { return programme.Setting{ID: id, Word: w} }

func whole(t testing.TB, rec *signal.Recording, given ...programme.Setting) procedure.Input {
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

func value(t testing.TB, out procedure.Output, measure, place string) float64 {
	t.Helper()
	for _, o := range out.Observations {
		if o.Measure == measure && o.Place == place {
			return o.Value
		}
	}
	t.Fatalf("no %s at %q; %v", measure, place, out.Caveats)
	return 0
}

// The gradient of a textbook's vehicle is found by all three methods.
func TestUndersteerOfATextbooksVehicle(t *testing.T) {
	golden.Run(t, "bicycle-set-a", "understeer", func(t *testing.T, c *golden.Case) {
		var q struct {
			Base     float64 `json:"wheelbase_m"`
			Gradient float64 `json:"gradient"`
			Speed    float64 `json:"characteristic_mps"`
			Gains    []struct {
				Speed float64 `json:"speed_mps"`
				Gain  float64 `json:"yaw_gain"`
			} `json:"gains"`
		}
		c.JSON(t, "case.json", &q)
		// The gains fix the steering that the gradient stands for.
		for _, g := range q.Gains {
			c.NearRel(t, "yaw gain", g.Speed/(q.Base+q.Gradient*g.Speed*g.Speed), g.Gain)
		}
		known := []programme.Setting{number("steering_ratio", ratio), number("wheelbase", q.Base)}
		radius := widening(q.Base, q.Gradient, 100)
		fast := widening(q.Base, q.Gradient, 0)
		fast.speed = func(float64) float64 { return 100 * kmh }
		fast.bend = func(t float64) float64 { return -(0.0005 + 0.00007*t) } // to the right
		held := widening(q.Base, q.Gradient, 0)
		held.bend = func(t float64) float64 { // what a held wheel makes of the speed
			v := held.speed(t)
			return 0.04 / (q.Base + q.Gradient*v*v)
		}
		for _, m := range []struct {
			name, place string
			turn        turn
			given       []programme.Setting
		}{
			{"constant radius", "left", radius, known},
			{"constant radius, no wheelbase", "left", radius, known[:1]},
			{"constant speed", "right", fast, append(known, word("method", constantSpeed))},
			{"constant steering", "left", held, append(known, word("method", constantSteering))},
			{"accelerometer", "left", radius, append(known, word("lateral", byAccelerometer))},
		} {
			out := reduce(t, whole(t, m.turn.drive(), m.given...))
			c.NearRel(t, m.name+": gradient", value(t, out, "understeer_gradient", m.place), q.Gradient)
			if len(m.given) > 1 {
				c.NearRel(t, m.name+": characteristic speed", value(t, out, "characteristic_speed", m.place), q.Speed)
			}
		}
		// What else is known of the constant radius.
		out := reduce(t, whole(t, radius.drive(), known...))
		c.NearRel(t, "radius", value(t, out, "circle_radius", "left"), 100)
		c.NearRel(t, "roll gradient", value(t, out, "roll_gradient", "left"), 0.009)
		c.NearRel(t, "sideslip gradient", value(t, out, "sideslip_gradient", "left"), -0.006)
		c.NearRel(t, "steering gradient", value(t, out, "steering_gradient", "left"), ratio*q.Gradient)
		// A speed that grows all the way: the last second's mean, at its middle.
		v := radius.speed(radius.seconds - 0.5)
		c.NearRel(t, "grip", value(t, out, "lateral_grip", "left"), v*v/100)
	})
}

func TestANeutralVehicle(t *testing.T) {
	golden.Run(t, "commonroad-2020a", "neutral", func(t *testing.T, c *golden.Case) {
		var q struct {
			Base     float64 `json:"wheelbase_m"`
			Gradient float64 `json:"gradient"`
		}
		c.JSON(t, "case.json", &q)
		out := reduce(t, whole(t, widening(q.Base, q.Gradient, 60).drive(), number("steering_ratio", ratio), number("wheelbase", q.Base)))
		c.Near(t, "gradient", value(t, out, "understeer_gradient", "left"), q.Gradient)
	})
	// One that oversteers has a critical speed.
	out := reduce(t, whole(t, widening(2.5, -0.001, 60).drive(), number("steering_ratio", ratio), number("wheelbase", 2.5)))
	if got := value(t, out, "critical_speed", "left"); math.Abs(got-50) > 0.1 {
		t.Errorf("critical speed %v m/s, want 50", got)
	}
}

func TestFaultsAndDoubts(t *testing.T) {
	straight := widening(2.5, 0.002, 1e6)
	none := widening(2.5, 0.002, 60).drive()
	none.Channels = none.Channels[:1]
	for name, in := range map[string]procedure.Input{"a straight": whole(t, straight.drive()), "no yaw rate": whole(t, none), "nothing": {}} {
		if _, err := New().Reduce(in); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
	c := widening(2.5, 0.002, 60)
	if out := reduce(t, whole(t, c.drive())); !out.Caveats.Has("steering_ratio_unknown") {
		t.Errorf("no ratio: %v", out.Caveats)
	}
	if out := reduce(t, whole(t, c.drive(), number("steering_ratio", ratio), word("method", constantSpeed))); !out.Caveats.Has("wheelbase_unknown") {
		t.Errorf("no wheelbase: %v", out.Caveats)
	}
	if out := reduce(t, whole(t, c.drive(), number("high", 1.2))); !out.Caveats.Has("few_increments") {
		t.Errorf("a narrow range: %v", out.Caveats)
	}
}

// On the synthetic ground the gradient is found within 2 %, which is what the project
// asks for, and grip within 2 %. Half of that is the radius: by the antenna's speed
// here, by the centre of gravity's forward one there. Between 2 and 4 m/s² the driver
// does not hunt.
func TestTheTruthIsRecovered(t *testing.T) {
	for _, q := range []struct {
		name, words string
		exact       bool
	}{{"faultless", "", true}, {"noise", "", false}, {"soft", "much softer sidewall", false}} {
		d, err := truth.Circles(q.words, 2, q.exact, 11)
		if err != nil {
			t.Fatal(err)
		}
		steering, base := truth.Vehicle(d)
		for i, run := range d.Stint.Runs {
			f := d.Recordings(i)[0]
			rec, err := delimited.New().Read(t.Context(), bytes.NewReader(f.Data), ingest.Options{Name: f.Name})
			if err != nil {
				t.Fatal(err)
			}
			out := reduce(t, whole(t, rec, number("steering_ratio", steering), number("wheelbase", base), number("low", 2), number("high", 4)))
			place := []string{"left", "right"}[i%2]
			was := truth.Gradient(d, i, 2, 4)
			if got := value(t, out, "understeer_gradient", place); math.Abs(got/was-1) > 0.02 {
				t.Errorf("%s, run %d: gradient %.6f, was %.6f", q.name, i+1, got, was)
			}
			was, _ = run.Value("peak_lateral")
			got := value(t, out, "lateral_grip", place)
			if math.Abs(got/was-1) > 0.02 {
				t.Errorf("%s, run %d: grip %.4f, was %.4f", q.name, i+1, got, was)
			}
		}
	}
}

func TestConformance(t *testing.T) {
	moved := map[string]float64{"sideslip_gradient": 1e-5}
	known := []programme.Setting{number("steering_ratio", ratio), number("wheelbase", 2.7)}
	under := widening(2.7, 0.0018, 60)
	under.seconds, under.rate = 70, 50
	both := widening(2.7, 0.0018, 60)
	both.rate = 50
	both.bend = func(t float64) float64 { // through the straight to the other side
		return math.Max(-1, math.Min(1, (40-t)/2)) / 60
	}
	over := widening(2.7, -0.001, 50)
	over.seconds, over.rate = 60, 50
	proceduretest.Run(t, proceduretest.Suite{
		Procedure: New(),
		Mirrored: func(place string) string {
			return map[string]string{"left": "right", "right": "left"}[place]
		},
		Cases: []proceduretest.Case{
			{Name: "understeer", Input: whole(t, under.drive(), known...), Resampled: moved},
			{Name: "both directions", Input: whole(t, both.drive(), known[:1]...), Resampled: map[string]float64{"understeer_gradient": 2e-5, "steering_gradient": 3e-4, "sideslip_gradient": 1e-4, "roll_gradient": 1e-4, "circle_radius": 0.5}},
			{Name: "oversteer, accelerometer", Input: whole(t, over.drive(), append(known, word("lateral", byAccelerometer))...), Resampled: moved},
		},
	})
}
