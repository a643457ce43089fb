package lap

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"example.org/bookend/course"
	"example.org/bookend/fault"
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

const (
	radius = 50.0 // m, of the circle that is driven to the left about (-50, 0)
	pace   = 20.0 // m/s
	around = 2 * math.Pi * radius / pace
)

// ground has its first gate at the origin, 12 m wide, driven north, and a second one
// a third of the way round.
func ground(t testing.TB, gates int) *course.Course {
	t.Helper()
	var posts []course.Posts
	for k := range gates {
		a := 2 * math.Pi / 3 * float64(k)
		on := func(r float64) course.Position { return at(-radius+r*math.Cos(a), r*math.Sin(a)) }
		posts = append(posts, course.Posts{Right: on(radius + 6), Left: on(radius - 6)})
	}
	c, err := course.New(posts...)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// drive is a recording on a circle that lies left m to the left of the gates'
// middles, at a pace by distance, from 20 m before the first gate on.
func drive(left, rate, seconds float64, speed func(s float64) float64) *signal.Recording {
	n := int(seconds*rate) + 1
	b := &signal.Base{T: make([]float64, n)}
	lat, lon, v := make([]float64, n), make([]float64, n), make([]float64, n)
	r := radius - left
	s := -20.0
	const fine = 50
	for i := range n {
		b.T[i] = float64(i) / rate
		v[i] = speed(s)
		p := at(-radius+r*math.Cos(s/r), r*math.Sin(s/r))
		lat[i], lon[i] = p.Latitude, p.Longitude
		for range fine {
			s += speed(s) / rate / fine
		}
	}
	all := []signal.Span{{From: 0, To: n}}
	return &signal.Recording{Name: "circle.csv", Channels: []*signal.Channel{
		{Name: "lat", Role: signal.Latitude, Unit: "rad", Base: b, Values: lat, Valid: all},
		{Name: "lon", Role: signal.Longitude, Unit: "rad", Base: b, Values: lon, Valid: all},
		{Name: "v", Role: signal.Speed, Unit: "m/s", Base: b, Values: v, Valid: all},
	}}
}

func steady(float64) float64 { return pace }

func input(t testing.TB, rec *signal.Recording, c *course.Course, from, to float64) procedure.Input {
	t.Helper()
	p, err := spec.Settings(nil)
	if err != nil {
		t.Fatal(err)
	}
	return procedure.Input{Run: "r1", Recordings: []*signal.Recording{rec}, FromS: from, ToS: to, Course: c, Parameters: p}
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

// On a circle at a steady pace everything is known in closed form.
func TestALapOfACircle(t *testing.T) {
	const left = 1.5
	rec := drive(left, 20, 20, steady)
	r := radius - left
	time := 2 * math.Pi * r / pace
	out := reduce(t, input(t, rec, ground(t, 3), 0.5, 18))
	for _, q := range []struct {
		measure, place string
		want, tol      float64
	}{
		{"lap_time", "", time, 1e-4},
		{"sector_time", "sector 1", time / 3, 1e-3},
		{"sector_time", "sector 2", time / 3, 1e-3},
		{"sector_time", "sector 3", time / 3, 1e-3},
		// Steps of 1 m are straight: shorter than the arc by 1/(24 r²) of it, and up to
		// 1/(8 r) m inside it.
		{"lap_distance", "", 2 * math.Pi * r, 2 * math.Pi * r / (24 * r * r) * 1.5},
		{"gate_offset", "gate 1", left, 1.2 / (8 * r)},
		{"gate_offset", "gate 2", left, 1.2 / (8 * r)},
		{"gate_offset", "finish", left, 1.2 / (8 * r)},
		{"least_speed", "", pace, 1e-9},
		{"greatest_speed", "", pace, 1e-9},
		{"standing_time", "", 0, 0},
	} {
		if got := value(t, out, q.measure, q.place); !(math.Abs(got-q.want) <= q.tol) {
			t.Errorf("%s %s is %v, want %v within %v", q.measure, q.place, got, q.want, q.tol)
		}
	}
	// The whole lap is one corner, found in its own path, and there are positions alone.
	for _, c := range out.Caveats {
		if c.Code != "lateral_by_positions" && c.Code != "corners_by_lap" && c.Code != "corner_cut" {
			t.Errorf("a good lap has a caveat: %v", c)
		}
	}
	if got := value(t, out, "corner_sustained_lateral", "corner 1"); math.Abs(got-pace*pace/r) > 0.1 {
		t.Errorf("%v m/s² on the circle, want %v", got, pace*pace/r)
	}
}

func TestAMissedGateLeavesItsSectorsWithoutTime(t *testing.T) {
	c := ground(t, 3)
	c.Posts[1] = course.Posts{Right: at(-200, 100), Left: at(-210, 100)}
	out := reduce(t, input(t, drive(0, 20, 20, steady), c, 0.5, 18))
	for _, o := range out.Observations {
		if o.Measure == "sector_time" && o.Place != "sector 3" {
			t.Errorf("%s has a time", o.Place)
		}
	}
	if !out.Caveats.Has("gate_missed") || math.Abs(value(t, out, "sector_time", "sector 3")-around/3) > 1e-3 {
		t.Errorf("%v, %v", out.Caveats, out.Observations)
	}
}

func TestWhatIsOddAboutALapIsTold(t *testing.T) {
	stand := drive(0, 20, 40, func(s float64) float64 {
		if s > 100 && s < 101 {
			return 0.1 // a metre in ten seconds
		}
		return pace
	})
	out := reduce(t, input(t, stand, ground(t, 1), 0.5, 30))
	if got := value(t, out, "standing_time", ""); math.Abs(got-10) > 0.3 || !out.Caveats.Has("standing") {
		t.Errorf("stood for %v s: %v", got, out.Caveats)
	}
	gap := drive(0, 20, 20, steady)
	n := gap.Channels[1].Len()
	gap.Channels[1].Valid = []signal.Span{{From: 0, To: 100}, {From: 130, To: n}}
	out = reduce(t, input(t, gap, ground(t, 1), 0.5, 18))
	if !out.Caveats.Has("position_missing") || math.Abs(value(t, out, "lap_time", "")-around) > 1e-3 {
		t.Errorf("a gap: %v", out.Caveats)
	}
	for _, o := range out.Observations {
		if o.Measure == "lap_distance" {
			t.Error("a lap with a gap has a length")
		}
	}
	bare := drive(0, 20, 20, steady)
	bare.Channels = bare.Channels[:2]
	out = reduce(t, input(t, bare, ground(t, 1), 0.5, 18))
	if got := value(t, out, "least_speed", ""); !out.Caveats.Has("speed_by_position") || math.Abs(got-pace) > 0.01 {
		t.Errorf("least speed by position %v: %v", got, out.Caveats)
	}
	if out = reduce(t, input(t, drive(0, 1, 20, steady), ground(t, 1), 0.5, 18)); !out.Caveats.Has("low_rate") {
		t.Errorf("one position a second: %v", out.Caveats)
	}
}

func TestLapsThatCannotBeReducedSayWhy(t *testing.T) {
	rec := drive(0, 20, 20, steady)
	none := input(t, rec, ground(t, 1), 0.5, 18)
	none.Course = nil
	bare := input(t, &signal.Recording{}, ground(t, 1), 0.5, 18)
	wrong := ground(t, 1)
	wrong.Posts[0].Right, wrong.Posts[0].Left = wrong.Posts[0].Left, wrong.Posts[0].Right
	for name, in := range map[string]procedure.Input{
		"no course": none, "no positions": bare, "half a lap": input(t, rec, ground(t, 1), 0.5, 9),
		"the other way": input(t, rec, wrong, 0.5, 18), "outside": input(t, rec, ground(t, 1), 100, 200),
	} {
		if _, err := New().Reduce(in); fault.CodeOf(err) != fault.Invalid || fault.HintOf(err) == "" {
			t.Errorf("%s: %v (hint %q)", name, err, fault.HintOf(err))
		}
	}
	if _, err := New().Reduce(procedure.Input{}); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("nothing: %v", err)
	}
}

// wavy is a pace between 15 and 25 m/s.
func wavy(s float64) float64 { return 20 + 5*math.Sin(s/31) }

func reference(t testing.TB, c *course.Course) *course.Course {
	t.Helper()
	var path []course.Point
	plane := c.Plane()
	for i := range 361 {
		a := float64(i) * math.Pi / 180
		p := at(-radius+radius*math.Cos(a), radius*math.Sin(a))
		path = append(path, plane.Place(p.Latitude, p.Longitude))
	}
	l, err := course.Learn(path, true, 1)
	if err != nil {
		t.Fatal(err)
	}
	c.Reference = l
	return c
}

func TestConformance(t *testing.T) {
	bare := drive(-0.5, 25, 20, wavy)
	bare.Channels = bare.Channels[:2]
	// Straight steps of another length end up to 1/(8 r) m beside the arc, and a peak of
	// speed falls between samples.
	moved := map[string]float64{"lap_time": 1e-3, "sector_time": 2e-3, "gate_offset": 0.01, "lap_distance": 0.02, "least_speed": 0.05, "greatest_speed": 0.05, "standing_time": 0.05,
		// A finer path bends a little otherwise, and a corner's ends move with it.
		"corner_entry_speed": 0.1, "corner_least_speed": 0.05, "corner_exit_speed": 0.2, "sustained_lateral": 0.1, "corner_peak_lateral": 0.15, "corner_sustained_lateral": 0.1,
		"steering_balance": 5e-4, "yaw_balance": 0.02, "steering_corrections": 0, "sideslip_at_peak": 0.01, "grip_kept": 0.1, "floating_time": 0.1, "corner_floating_time": 0.1}
	full := circuitInput(t, circuit(20, 40, wet{from: 150, to: 165, slip: 0.3, slide: 8 * deg}))
	recorded := circuitInput(t, circuit(20, 40, wet{}), programme.Setting{ID: paramMotion, Word: "as_recorded"})
	recorded.Course.Reference = circuitLine(t, recorded.Course)
	proceduretest.Run(t, proceduretest.Suite{
		Procedure: New(),
		Lateral:   []string{"gate_offset"},
		Cases: []proceduretest.Case{
			{Name: "three gates and a reference line", Input: input(t, drive(1, 20, 20, wavy), reference(t, ground(t, 3)), 0.5, 18), Resampled: moved},
			{Name: "one gate", Input: input(t, drive(0.3, 20, 20, wavy), ground(t, 1), 0.5, 18), Resampled: moved},
			{Name: "positions alone", Input: input(t, bare, reference(t, ground(t, 2)), 0.5, 18), Resampled: moved},
			{Name: "a circuit, all channels", Input: full, Resampled: moved},
			{Name: "a circuit, as recorded", Input: recorded, Resampled: moved},
		},
	})
}

// What is gained on a lap that is driven a twentieth faster is a twenty-first of the
// control's time at each station.
func TestGainAlongTheLap(t *testing.T) {
	c := reference(t, ground(t, 1))
	var runs []procedure.Overlaid
	for i, v := range []float64{20, 21, 20} {
		out := reduce(t, input(t, drive(0, 50, 20, func(float64) float64 { return v }), c, 0.5, 18))
		runs = append(runs, procedure.Overlaid{Code: []string{"K", "P", "K"}[i], Stint: strconv.Itoa(i), Run: "1", Traces: out.Traces})
	}
	figs, err := New().Overlay(runs)
	if err != nil || len(figs) != 1 {
		t.Fatal(err, figs)
	}
	b, err := json.Marshal(figs[0])
	if err != nil {
		t.Fatal(err)
	}
	var f struct {
		Curves []struct {
			Code string    `json:"code"`
			X    []float64 `json:"x"`
			Y    []float64 `json:"y"`
		} `json:"curves"`
	}
	if err := json.Unmarshal(b, &f); err != nil || len(f.Curves) != 1 || f.Curves[0].Code != "P" {
		t.Fatal(err, f)
	}
	for i, x := range f.Curves[0].X {
		// The line is straight between its points, 1 m apart: 3 cm of station at most.
		if want := x/20 - x/21; math.Abs(f.Curves[0].Y[i]-want) > 0.002 {
			t.Fatalf("gained %v s at %v m, want %v", f.Curves[0].Y[i], x, want)
		}
	}
}

// openData gives a file of the open recordings, beside the checkout or where
// BOOKEND_DATA says; without it the test is skipped.
func openData(t *testing.T, name string) []byte {
	t.Helper()
	dir := os.Getenv("BOOKEND_DATA")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "shared", "data")
	}
	b, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(name)))
	if os.IsNotExist(err) {
		t.Skipf("the open data are not here (%s); set BOOKEND_DATA", name)
	}
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// column is where a channel stands in a table, and what it is multiplied by.
type column struct {
	index int
	role  signal.Role
	scale float64
}

// plain reads a recording whose columns are known, the time's first; lines of a
// dialect with semicolons have decimal commas and a unit row.
func plain(t *testing.T, name string, timeColumn int, columns ...column) *signal.Recording {
	t.Helper()
	data := openData(t, name)
	r := csv.NewReader(bytes.NewReader(data))
	skip, comma := 1, "."
	if first, _, _ := bytes.Cut(data, []byte("\n")); bytes.Contains(first, []byte(";")) {
		r.Comma, skip, comma = ';', 2, ","
	}
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	rec := &signal.Recording{Name: filepath.Base(name)}
	b := &signal.Base{}
	rows = rows[skip:]
	number := func(text string) float64 {
		x, err := strconv.ParseFloat(strings.Replace(text, comma, ".", 1), 64)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	for _, row := range rows {
		b.T = append(b.T, number(row[timeColumn]))
	}
	for _, c := range columns {
		ch := &signal.Channel{Name: string(c.role), Role: c.role, Base: b, Valid: []signal.Span{{From: 0, To: len(rows)}}}
		for _, row := range rows {
			ch.Values = append(ch.Values, number(row[c.index])*c.scale)
		}
		rec.Channels = append(rec.Channels, ch)
	}
	return rec
}

const deg = math.Pi / 180

type expected struct {
	GateENU   [2][2]float64 `json:"gate_enu_m"`
	Gate      [2][2]float64 `json:"gate_latlon_deg"`
	Direction [2]float64    `json:"direction_enu"`
	Crossing  []float64     `json:"crossing_gps_tow_s"`
	Lap       []float64     `json:"lap_time_s"`
	Length    []float64     `json:"lap_distance_m"`
	Offset    []float64     `json:"lateral_offset_m"`
}

// course gives the course of an expected gate; which post is the right one follows
// from the direction.
func (x expected) course(t *testing.T) *course.Course {
	t.Helper()
	r, l := x.Gate[0], x.Gate[1]
	a, b := x.GateENU[0], x.GateENU[1]
	if (b[0]-a[0])*-x.Direction[1]+(b[1]-a[1])*x.Direction[0] < 0 {
		r, l = l, r
	}
	p, err := course.ParseGate(fmt.Sprintf("%v,%v,%v,%v", r[0], r[1], l[0], l[1]))
	if err != nil {
		t.Fatal(err)
	}
	c, err := course.New(p)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// Laps of three real recordings against values computed with numpy by whoever put
// the open recordings together: times within 0.01 s, lengths within 0.1 m (there in a
// plane 335 m above the ellipsoid, here at height 0). The window given to Reduce is
// loose by half a second, so that the times are its own.
func TestRealLaps(t *testing.T) {
	var all map[string]expected
	if err := json.Unmarshal(openData(t, "laps/expected_laps.json"), &all); err != nil {
		t.Fatal(err)
	}
	worst := 0.0
	for _, name := range []string{"psu_loop_1.csv", "psu_loop_3.csv", "psu_loop_4.csv"} {
		want := all[name]
		c := want.course(t)
		rec := plain(t, "laps/"+name, 1, column{3, signal.Latitude, deg}, column{4, signal.Longitude, deg},
			column{6, signal.VelocityNorth, 1}, column{7, signal.VelocityEast, 1})
		for i, lapTime := range want.Lap {
			out := reduce(t, input(t, rec, c, want.Crossing[i]-0.5, want.Crossing[i+1]+0.5))
			d := math.Abs(value(t, out, "lap_time", "") - lapTime)
			worst = math.Max(worst, d)
			if d > 0.01 {
				t.Errorf("%s lap %d: %v s, want %v", name, i+1, value(t, out, "lap_time", ""), lapTime)
			}
			if d := math.Abs(value(t, out, "lap_distance", "") - want.Length[i]); d > 0.1 {
				t.Errorf("%s lap %d: %v m, want %v", name, i+1, value(t, out, "lap_distance", ""), want.Length[i])
			}
			standing := name == "psu_loop_4.csv" && i == 0
			if out.Caveats.Has("standing") != standing || value(t, out, "standing_time", "") > 0 != standing {
				t.Errorf("%s lap %d: %v", name, i+1, out.Caveats)
			}
		}
	}
	t.Logf("lap times differ by up to %.5f s", worst)
}

// The same recording in another dialect, without heights and with another speed, has
// the same laps: the plane depends on the course alone.
func TestTheReencodedRecordingHasTheSameLaps(t *testing.T) {
	var all map[string]expected
	if err := json.Unmarshal(openData(t, "laps/expected_laps.json"), &all); err != nil {
		t.Fatal(err)
	}
	want := all["psu_loop_4.csv"]
	c := want.course(t)
	a := plain(t, "laps/psu_loop_4.csv", 1, column{3, signal.Latitude, deg}, column{4, signal.Longitude, deg}, column{5, signal.Height, 1})
	b := plain(t, "formats/derived_loop4_semicolon_decimalcomma_bom.csv", 0, column{1, signal.Latitude, deg}, column{2, signal.Longitude, deg}, column{3, signal.Speed, 1 / 3.6})
	for i := range want.Lap {
		from, to := want.Crossing[i]-0.5, want.Crossing[i+1]+0.5
		x, y := reduce(t, input(t, a, c, from, to)), reduce(t, input(t, b, c, from, to))
		for _, m := range []string{"lap_time", "lap_distance"} {
			if p, q := value(t, x, m, ""), value(t, y, m, ""); p != q {
				t.Errorf("lap %d: %s %v and %v", i+1, m, p, q)
			}
		}
	}
}

// The oval is 1555.7 m long by its path (numpy, in the recording's own plane, 0.08 m
// longer for its height than one at height 0).
func TestTheOvalsLength(t *testing.T) {
	rec := plain(t, "laps/psu_testtrack_oval.csv", 0, column{2, signal.Latitude, deg}, column{3, signal.Longitude, deg}, column{1, signal.Speed, 1})
	lat, lon := rec.ByRole(signal.Latitude), rec.ByRole(signal.Longitude)
	plane := course.NewPlane(course.Position{Latitude: lat.Values[0], Longitude: lon.Values[0]})
	tr := plane.Track(lat.Base.T, lat.Values, lon.Values)
	if got := tr.Length(); math.Abs(got-1555.7) > 0.5 {
		t.Errorf("%v m, want 1555.7", got)
	}
	if gap := tr.At[0].Distance(tr.At[len(tr.At)-1]); math.Abs(gap-0.19) > 0.01 {
		t.Errorf("it closes within %v m, want 0.19", gap)
	}
	byspeed, _ := rec.ByRole(signal.Speed).Integral(lat.Base.T[0], lat.Base.T[len(lat.Base.T)-1])
	if math.Abs(byspeed-1557.6) > 0.1 {
		t.Errorf("by speed %v m, want 1557.6", byspeed)
	}
}

// One position a second on a 400 m track, run on foot: a demonstration of what such
// timing is worth, not a claim. The recorder's revolutions about the centroid are
// 17.997 (numpy).
func TestOnePositionASecondIsToldAndStillCountsLaps(t *testing.T) {
	rec := plain(t, "laps/running_track_400m_deviceA.csv", 0, column{1, signal.Latitude, deg}, column{2, signal.Longitude, deg})
	lat, lon := rec.ByRole(signal.Latitude), rec.ByRole(signal.Longitude)
	plane := course.NewPlane(course.Position{Latitude: lat.Values[0], Longitude: lon.Values[0]})
	tr := plane.Track(lat.Base.T, lat.Values, lon.Values)
	// A gate through the path half a lap on, 20 m wide, across the way run there.
	k := 50
	a, b := tr.At[k-3], tr.At[k+3]
	l := a.Distance(b)
	de, dn := (b.East-a.East)/l, (b.North-a.North)/l
	g := course.Gate{Right: course.Point{East: tr.At[k].East + 10*dn, North: tr.At[k].North - 10*de},
		Left: course.Point{East: tr.At[k].East - 10*dn, North: tr.At[k].North + 10*de}}
	xs := tr.Crossings(g)
	if len(xs) != 18 { // the first is in the first lap, so 17 whole laps lie between
		t.Fatalf("%d crossings of 18 laps", len(xs))
	}
	for i := 1; i < len(xs); i++ {
		if d := tr.Between(xs[i-1].T, xs[i].T).Length(); math.Abs(d-400) > 12 {
			t.Errorf("lap %d is %v m long", i, d)
		}
	}
}

func BenchmarkReduce(b *testing.B) {
	in := input(b, drive(1, 100, 20, wavy), reference(b, ground(b, 3)), 0.5, 18)
	for b.Loop() {
		if _, err := New().Reduce(in); err != nil {
			b.Fatal(err)
		}
	}
}
