package slalom

import (
	"math"
	"testing"

	"example.org/bookend/course"
	"example.org/bookend/internal/golden"
	"example.org/bookend/procedure"
	"example.org/bookend/procedure/proceduretest"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
)

// The test ground: radii of curvature of WGS 84 at 0.9 rad in m, to lay it out by
// other means than the plane's.
var (
	w2    = 1 - 0.0066943799901413*math.Pow(math.Sin(0.9), 2)
	north = 6378137 * (1 - 0.0066943799901413) / math.Pow(w2, 1.5)
	east  = 6378137 / math.Sqrt(w2) * math.Cos(0.9)
)

func at(e, n float64) course.Position {
	return course.Position{Latitude: 0.9 + n/north, Longitude: 0.1 + e/east}
}

// weave is a drive north along a straight through markers: a sine of an amplitude
// that may grow, at a constant speed along the straight. The body points where it
// goes.
type weave struct {
	spacing   float64 // m
	markers   int
	speed     float64 // m/s
	amplitude float64 // m
	growth    float64 // share from the first marker to the last
	rate      float64 // samples a second
	yawDelay  float64 // s from steering
	ayDelay   float64
	ratio     float64 // steering-wheel angle for a yaw rate, s
	level     bool    // there is a roll channel, all 0
}

// gates stand a spacing before the first marker and after the last, 20 m wide.
func (w weave) course(t testing.TB) *course.Course {
	t.Helper()
	end := float64(w.markers+1) * w.spacing
	c, err := course.New(course.Posts{Right: at(10, 0), Left: at(-10, 0)}, course.Posts{Right: at(10, end), Left: at(-10, end)})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// offset gives the offset to the left at a station, with its first two derivatives,
// by differences of a step that is fine against all that bends.
func (w weave) offset(s float64) (y, d1, d2 float64) {
	f := func(s float64) float64 {
		first, last := w.spacing, float64(w.markers)*w.spacing
		smooth := func(u float64) float64 { u = min(1, max(0, u)); return u * u * u * (10 - 15*u + 6*u*u) }
		env := smooth((s-first+w.spacing)/w.spacing) * smooth((last+w.spacing-s)/w.spacing)
		grow := 1 + w.growth*((s-first)/(last-first)-0.5)
		return w.amplitude * env * grow * math.Cos(math.Pi*(s-first)/w.spacing)
	}
	const h = 1e-3
	a, b, c := f(s-h), f(s), f(s+h)
	return b, (c - a) / (2 * h), (a - 2*b + c) / (h * h)
}

// motion gives yaw rate and lateral acceleration at a time in s from the first gate.
func (w weave) motion(t float64) (yaw, ay float64) {
	_, d1, d2 := w.offset(w.speed * t)
	yaw = d2 * w.speed / (1 + d1*d1)
	return yaw, yaw * w.speed * math.Sqrt(1+d1*d1)
}

// lead is how long the recording begins before the first gate, s.
const lead = 7.0

func (w weave) drive() *signal.Recording {
	through := float64(w.markers+1) * w.spacing / w.speed
	n := int((through + 2*lead) * w.rate)
	b := &signal.Base{T: make([]float64, n)}
	rec := &signal.Recording{Name: "weave.csv"}
	add := func(name string, role signal.Role, unit string, f func(t float64) float64) {
		v := make([]float64, n)
		for i := range v {
			v[i] = f(b.T[i] - lead)
		}
		rec.Channels = append(rec.Channels, &signal.Channel{Name: name, Role: role, Unit: unit, Base: b, Values: v, Valid: []signal.Span{{From: 0, To: n}}})
	}
	for i := range b.T {
		b.T[i] = float64(i) / w.rate
	}
	add("lat", signal.Latitude, "rad", func(t float64) float64 { return at(0, w.speed*t).Latitude })
	add("lon", signal.Longitude, "rad", func(t float64) float64 { y, _, _ := w.offset(w.speed * t); return at(-y, 0).Longitude })
	add("v", signal.Speed, "m/s", func(t float64) float64 { _, d1, _ := w.offset(w.speed * t); return w.speed * math.Sqrt(1+d1*d1) })
	add("steer", signal.SteeringAngle, "rad", func(t float64) float64 { r, _ := w.motion(t + w.yawDelay); return 0.02 + w.ratio*r })
	add("yaw", signal.YawRate, "rad/s", func(t float64) float64 { r, _ := w.motion(t); return r })
	add("ay", signal.AccelY, "m/s²", func(t float64) float64 { _, a := w.motion(t + w.yawDelay - w.ayDelay); return a })
	add("torque", signal.SteeringTorque, "N·m", func(t float64) float64 { r, _ := w.motion(t + w.yawDelay); return 5 * w.ratio * r })
	if w.level {
		add("roll", signal.Roll, "rad", func(float64) float64 { return 0 })
	}
	return rec
}

func (w weave) input(t testing.TB, given ...programme.Setting) procedure.Input {
	t.Helper()
	p, err := spec.Settings(given)
	if err != nil {
		t.Fatal(err)
	}
	through := float64(w.markers+1) * w.spacing / w.speed
	return procedure.Input{Run: "r1", Recordings: []*signal.Recording{w.drive()}, FromS: lead, ToS: lead + through, Course: w.course(t), Parameters: p}
}

func number(id string, v float64) programme.Setting { return programme.Setting{ID: id, Number: v} }

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

// usual is the slalom of the worked line: 18 m, 60 km/h, 0.6 m.
func usual() weave {
	return weave{spacing: 18, markers: 8, speed: 60 * kmh, amplitude: 0.6, rate: 100, yawDelay: 0.053, ayDelay: 0.087, ratio: 3, level: true}
}

// A path that is a sine has its frequency, lateral acceleration and yaw rate in
// closed form.
func TestASineThroughTheMarkers(t *testing.T) {
	golden.Run(t, "closed-forms", "sine-path", func(t *testing.T, c *golden.Case) {
		var q struct {
			Spacing   float64 `json:"spacing_m"`
			Speed     float64 `json:"speed_kmh"`
			Amplitude float64 `json:"amplitude_m"`
			Hz        float64 `json:"frequency_hz"`
			Gate      float64 `json:"time_a_marker_s"`
			Lateral   float64 `json:"lateral_mps2"`
			Yaw       float64 `json:"yaw_rate_degps"`
		}
		c.JSON(t, "case.json", &q)
		w := usual()
		w.spacing, w.speed, w.amplitude, w.yawDelay, w.ayDelay = q.Spacing, q.Speed*kmh, q.Amplitude, 0, 0
		out := reduce(t, w.input(t, number("marker_spacing", q.Spacing)))
		c.NearRel(t, "lateral acceleration at the markers", value(t, out, "marker_lateral", ""), q.Lateral)
		c.NearRel(t, "yaw rate at the markers, °/s", value(t, out, "marker_yaw_rate", "")*180/math.Pi, q.Yaw)
		c.NearRel(t, "time a marker", value(t, out, "slalom_time", "")/float64(w.markers+1), q.Gate)
		c.NearRel(t, "frequency", 0.5/(value(t, out, "slalom_time", "")/float64(w.markers+1)), q.Hz)
		for k := range w.markers {
			if got := value(t, out, "room_used", marker(k)); math.Abs(got-q.Amplitude) > 0.002 {
				t.Errorf("room used at %s is %v m, want %v", marker(k), got, q.Amplitude)
			}
		}
	})
}

// Steering that is known to lead by so much is found to: the project asks for 5 ms
// at 100 samples a second.
func TestDelaysAreFound(t *testing.T) {
	for _, q := range []struct{ yaw, lateral float64 }{{0.053, 0.087}, {0.1234, 0.2071}, {0.002, 0.31}, {0.25, 0.25}} {
		for _, rate := range []float64{50, 100} {
			w := usual()
			w.yawDelay, w.ayDelay, w.rate = q.yaw, q.lateral, rate
			out := reduce(t, w.input(t))
			for _, m := range []struct {
				id   string
				want float64
			}{{"yaw_delay", q.yaw}, {"lateral_delay", q.lateral}, {"yaw_phase_delay", q.yaw}, {"lateral_phase_delay", q.lateral}} {
				if got := value(t, out, m.id, ""); math.Abs(got-m.want) > 0.001 {
					t.Errorf("at %v Hz %s is %.5f s, want %v within 1 ms", rate, m.id, got, m.want)
				}
			}
			if got := value(t, out, "yaw_gain", ""); math.Abs(got*w.ratio-1) > 0.002 {
				t.Errorf("yaw gain %v, want %v", got, 1/w.ratio)
			}
		}
	}
}

// An amplitude that grows by a fifth from the first marker to the last is seen to,
// over the part of it that the inner markers cover.
func TestGrowthIsFound(t *testing.T) {
	w := usual()
	w.growth = 0.2
	out := reduce(t, w.input(t))
	want := w.growth * float64(w.markers-3) / float64(w.markers-1)
	for _, m := range []string{"offset_growth", "yaw_growth"} {
		if got := value(t, out, m, ""); math.Abs(got-want) > 0.004 {
			t.Errorf("%s is %v, want %v", m, got, want)
		}
	}
	if got := value(t, reduce(t, usual().input(t)), "offset_growth", ""); math.Abs(got) > 0.002 {
		t.Errorf("an even slalom grows by %v", got)
	}
}

// Markers are touched by the body's outline, corners and all.
func TestMarkersTouched(t *testing.T) {
	w := usual()
	w.amplitude, w.ayDelay = 1.3, w.yawDelay
	body := []programme.Setting{number("vehicle_width", 2), number("body_ahead", 2.5), number("body_behind", 2.5), number("position_sd", 0.02)}
	out := reduce(t, w.input(t, body...))
	if n := value(t, out, "markers_touched", ""); n != 0 {
		t.Errorf("%v markers touched with 0.15 m of air", n)
	}
	// The antenna is 1.3 m off the marker as it passes; ends of a body that follows the
	// sine lie nearer by half the curvature times the length squared.
	bend := w.amplitude * math.Pow(math.Pi/w.spacing, 2)
	if got, want := value(t, out, "marker_gap", "marker 4"), w.amplitude-1-0.15; math.Abs(got-want) > 0.01 {
		t.Errorf("gap %v m at the middle of the body, want %v (ends %v m nearer when level)", got, want, bend*2.5*2.5/2)
	}
	w.amplitude = 1.1
	out = reduce(t, w.input(t, body...))
	if n := value(t, out, "markers_touched", ""); n != 8 {
		t.Errorf("%v markers touched of 8, with the side %v m from their middles", n, w.amplitude-1)
	}
	for _, o := range out.Observations {
		if (o.Measure == "room_used" || o.Measure == "marker_gap") && (o.Uncertainty == nil || *o.Uncertainty < 0.01 || *o.Uncertainty > 0.04) {
			t.Errorf("%s at %s has the uncertainty %v, with positions good to 0.02 m", o.Measure, o.Place, o.Uncertainty)
		}
	}
}

// What is asked of the run and not kept is told.
func TestDoubts(t *testing.T) {
	w := usual()
	out := reduce(t, w.input(t, number("set_speed", 65*kmh)))
	if !out.Caveats.Has("speed_outside") || !out.Caveats.Has("width_unknown") || !out.Caveats.Has("position_accuracy_unknown") {
		t.Errorf("caveats %v", out.Caveats)
	}
	in := w.input(t, number("set_speed", 60*kmh))
	if out := reduce(t, in); out.Caveats.Has("speed_outside") {
		t.Errorf("caveats %v", out.Caveats)
	}
	// A marker too many on one side.
	if out := reduce(t, w.input(t, number("marker_spacing", 36), programme.Setting{ID: "drop", Word: dropNone})); !out.Caveats.Has("marker_side") {
		t.Errorf("half the markers are passed on one side: %v", out.Caveats)
	}
	for name, in := range map[string]procedure.Input{
		"too few":  w.input(t, number("marker_spacing", 60)),
		"too many": w.input(t, number("markers", 40)),
	} {
		if _, err := New().Reduce(in); err == nil {
			t.Errorf("%s: no fault", name)
		}
	}
}

func TestConformance(t *testing.T) {
	moved := map[string]float64{
		"yaw_delay": 1e-3, "lateral_delay": 1e-3, "yaw_phase_delay": 1e-3, "lateral_phase_delay": 1e-3,
		// Straight lines between samples cut off tops: 0.5 ω² (half a step)² of them.
		"yaw_growth": 0.003, "sideslip_growth": 0.5, "offset_growth": 0.002, "asymmetry": 0.003, "room_used": 0.003, "marker_gap": 0.003,
		"steering_rate": 0.01, "steering_travel": 0.005, "steering_work": 0.05, "marker_sideslip": 1e-3, "speed_lost": 1e-3,
	}
	body := []programme.Setting{number("vehicle_width", 1.8), number("body_ahead", 2), number("body_behind", 2.4), number("position_sd", 0.02)}
	// Without roll the share of gravity is estimated, and without noise as badly as can be.
	unlevelled := map[string]float64{"lateral_gain": 0.1, "marker_lateral": 0.12, "asymmetry": 0.01, "marker_sideslip": 0.003, "room_used": 0.03, "marker_gap": 0.01}
	for id, v := range moved {
		if unlevelled[id] == 0 {
			unlevelled[id] = v
		}
	}
	grown := usual()
	grown.growth, grown.level, grown.amplitude, grown.ayDelay = 0.3, false, 0.9, grown.yawDelay
	odd := usual()
	odd.markers, odd.spacing, odd.speed = 7, 36, 80*kmh
	proceduretest.Run(t, proceduretest.Suite{
		Procedure: New(),
		Lateral:   []string{"asymmetry"},
		Cases: []proceduretest.Case{
			{Name: "eight markers", Input: usual().input(t), Resampled: moved},
			{Name: "a body, growing", Input: grown.input(t, body...), Resampled: unlevelled},
			{Name: "seven markers, none left out", Input: odd.input(t, number("marker_spacing", 36), programme.Setting{ID: "drop", Word: dropNone}), Resampled: moved},
		},
	})
}

func BenchmarkReduce(b *testing.B) {
	in := usual().input(b)
	for b.Loop() {
		if _, err := New().Reduce(in); err != nil {
			b.Fatal(err)
		}
	}
}
