package aquaplanecurve

import (
	"math"
	"strconv"
	"testing"

	"example.org/bookend/course"
	"example.org/bookend/fault"
	"example.org/bookend/internal/golden"
	"example.org/bookend/procedure"
	"example.org/bookend/procedure/proceduretest"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
)

type worked struct {
	Speed   []float64 `json:"speed_kmh"`
	Lateral []float64 `json:"lateral_mps2"`
	Area    float64   `json:"area_kmhmps2"`
	SI      float64   `json:"area_m2ps3"`
}

// The test ground: radii of curvature of WGS 84 at 0.9 rad in m.
var (
	w2    = 1 - 0.0066943799901413*math.Pow(math.Sin(0.9), 2)
	north = 6378137 * (1 - 0.0066943799901413) / math.Pow(w2, 1.5)
	east  = 6378137 / math.Sqrt(w2) * math.Cos(0.9)
)

func at(e, n float64) course.Position {
	return course.Position{Latitude: 0.9 + n/north, Longitude: 0.1 + e/east}
}

const (
	radius = 50.0
	trough = 20.0 // m, from station 0 on
)

// ring is the circle, driven to the left, with gates at both ends of the trough.
func ring(t testing.TB) *course.Course {
	t.Helper()
	var posts []course.Posts
	for _, s := range []float64{0, trough} {
		a := s / radius
		on := func(r float64) course.Position { return at(-radius+r*math.Cos(a), r*math.Sin(a)) }
		posts = append(posts, course.Posts{Right: on(radius + 6), Left: on(radius - 6)})
	}
	c, err := course.New(posts...)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// series is rounds of the circle, two at each speed in km/h; in the trough lateral
// acceleration is that of the list, outside of it 4 m/s².
func series(rate float64, speeds, lateral []float64) *signal.Recording {
	rec := &signal.Recording{Name: "circle.csv"}
	var t, lat, lon, v, ay []float64
	s, now := -60.0, 0.0
	round := 2 * math.Pi * radius
	for {
		k := int(math.Floor((s+100)/round)) / 2 // speeds change 100 m before the trough
		if k >= len(speeds) {
			break
		}
		p := at(-radius+radius*math.Cos(s/radius), radius*math.Sin(s/radius))
		a := 4.0
		if q := math.Mod(s+round, round); q < trough && s > -1 {
			// Down to the least in the middle.
			a += (lateral[k] - a) * math.Pow(math.Sin(math.Pi*q/trough), 2)
		}
		t, lat, lon, v, ay = append(t, now), append(lat, p.Latitude), append(lon, p.Longitude), append(v, speeds[k]*kmh), append(ay, a)
		now += 1 / rate
		s += speeds[k] * kmh / rate
	}
	b := &signal.Base{T: t}
	all := []signal.Span{{From: 0, To: len(t)}}
	for _, q := range []struct {
		role signal.Role
		unit string
		v    []float64
	}{{signal.Latitude, "rad", lat}, {signal.Longitude, "rad", lon}, {signal.Speed, "m/s", v}, {signal.AccelY, "m/s²", ay}} {
		rec.Channels = append(rec.Channels, &signal.Channel{Name: string(q.role), Role: q.role, Unit: q.unit, Base: b, Values: q.v, Valid: all})
	}
	return rec
}

func input(t testing.TB, rec *signal.Recording, given ...programme.Setting) procedure.Input {
	t.Helper()
	p, err := spec.Settings(given)
	if err != nil {
		t.Fatal(err)
	}
	b := rec.Channels[0].Base.T
	return procedure.Input{Run: "r1", Recordings: []*signal.Recording{rec}, FromS: b[0], ToS: b[len(b)-1], Course: ring(t), Parameters: p}
}

func reduceOne(t testing.TB, in procedure.Input) procedure.Output {
	t.Helper()
	out, err := New().Reduce(in)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func find1(out procedure.Output, measure, place string) (float64, bool) {
	for _, o := range out.Observations {
		if o.Measure == measure && o.Place == place {
			return o.Value, true
		}
	}
	return 0, false
}

// The worked line, by the formula and from a recording whose passes are those of the line.
func TestTheWorkedArea(t *testing.T) {
	golden.Run(t, "common-practice", "area", func(t *testing.T, c *golden.Case) {
		var q worked
		c.JSON(t, "case.json", &q)
		c.Near(t, "area in km/h m/s²", Area(q.Speed, q.Lateral, 60, 90), q.Area)
		var si []float64
		for _, v := range q.Speed {
			si = append(si, v*kmh)
		}
		c.Near(t, "area in m²/s³", Area(si, q.Lateral, 60*kmh, 90*kmh), q.SI)
		out := reduceOne(t, input(t, series(100, q.Speed, q.Lateral)))
		// The filter rounds the least value of a dip of 0.8 s off by some hundredths.
		if got, ok := find1(out, "floating_area", ""); !ok || math.Abs(got/q.SI-1) > 0.01 {
			t.Errorf("area %v m²/s³ from the recording, want %v; %v", got, q.SI, out.Caveats)
		}
		for i, v := range q.Speed {
			if got, ok := find1(out, "trough_lateral", place(v*kmh)); !ok || math.Abs(got-q.Lateral[i]) > 0.03 {
				t.Errorf("%v m/s² at %g km/h, want %v", got, v, q.Lateral[i])
			}
		}
		if got, _ := find1(out, "greatest_trough_lateral", ""); math.Abs(got-3.25) > 0.03 {
			t.Errorf("greatest %v", got)
		}
		// 1 m/s² lies between 80 and 85 km/h.
		if got, _ := find1(out, "floating_speed", ""); math.Abs(got-(80+5*0.35/0.9)*kmh) > 0.3*kmh {
			t.Errorf("floats at %v km/h", got/kmh)
		}
		if n, _ := find1(out, "passes", ""); n != 14 {
			t.Errorf("%v passes of 14", n)
		}
	})
}

func TestWhatIsOddAboutASeriesIsTold(t *testing.T) {
	for _, q := range []struct {
		code           string
		speed, lateral []float64
	}{
		{"ends_early", []float64{60, 65, 70}, []float64{3, 2.5, 2}},
		{"begins_late", []float64{70, 75, 80, 90}, []float64{3, 2, 1, 0.2}},
		{"never_falls", []float64{60, 65, 70}, []float64{3, 3.1, 3.2}},
		{"not_fallen", []float64{60, 75, 90}, []float64{3, 2.5, 2}},
		{"one_speed", []float64{60}, []float64{3}},
	} {
		out := reduceOne(t, input(t, series(100, q.speed, q.lateral)))
		if !out.Caveats.Has(q.code) {
			t.Errorf("%s: %v", q.code, out.Caveats)
		}
		if _, ok := find1(out, "floating_area", ""); ok && q.code != "not_fallen" {
			t.Errorf("%s has an area", q.code)
		}
	}
	// A series that ends because the vehicle follows the circle no more has its area.
	out := reduceOne(t, input(t, series(100, []float64{60, 70, 80}, []float64{3, 1.5, 0.1})))
	if got, ok := find1(out, "floating_area", ""); !ok || math.Abs(got-(22.5+8)*kmh) > 0.3*kmh {
		t.Errorf("area %v, want %v", got, 30.5*kmh)
	}
	lost := series(100, []float64{60, 70, 80}, []float64{3, 1.5, 0.1})
	a := lost.ByRole(signal.AccelY)
	n := a.Len()
	a.Valid = []signal.Span{{From: 0, To: 400}, {From: 500, To: n}} // the first pass is from 3.6 to 4.8 s
	if out := reduceOne(t, input(t, lost)); !out.Caveats.Has("pass_lost") {
		t.Errorf("%v", out.Caveats)
	}
	none := input(t, series(100, []float64{60}, []float64{3}))
	none.Course = nil
	wrong := input(t, series(100, []float64{60}, []float64{3}))
	wrong.Course.Posts[0].Right, wrong.Course.Posts[0].Left = wrong.Course.Posts[0].Left, wrong.Course.Posts[0].Right
	for name, in := range map[string]procedure.Input{"no gates": none, "the other way": wrong} {
		if _, err := New().Reduce(in); fault.CodeOf(err) != fault.Invalid || fault.HintOf(err) == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestConformance(t *testing.T) {
	rec := series(50, []float64{60, 70, 80, 90}, []float64{3, 2.5, 1.2, 0.1})
	moved := map[string]float64{"trough_lateral": 0.05, "floating_area": 0.3, "floating_speed": 0.1, "greatest_trough_lateral": 0.05, "passes": 0}
	proceduretest.Run(t, proceduretest.Suite{
		Procedure: New(),
		Cases:     []proceduretest.Case{{Name: "four speeds", Input: input(t, rec), Resampled: moved}},
	})
}

func TestTheOverlayShowsTheCurve(t *testing.T) {
	var runs []procedure.Overlaid
	for i, d := range []float64{0, 0.3, 0.02, 0.32} {
		out := reduceOne(t, input(t, series(50, []float64{60, 70, 80, 90}, []float64{3 + d, 2.5 + d, 1.2 + d, 0.1 + d})))
		runs = append(runs, procedure.Overlaid{Code: []string{"K", "P"}[i%2], Stint: strconv.Itoa(i), Run: "1", Traces: out.Traces})
	}
	figs, err := New().Overlay(runs)
	if err != nil || len(figs) != 1 || figs[0].Kind() != "past-the-peak" {
		t.Fatal(err, figs)
	}
}
