package lanechange

import (
	"math"
	"testing"

	"example.org/bookend/course"
	"example.org/bookend/fault"
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

func ground(t testing.TB, total float64) *course.Course {
	t.Helper()
	c, err := course.New(course.Posts{Right: at(3, 0), Left: at(-3, 0)}, course.Posts{Right: at(3, total), Left: at(-3, total)})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

const (
	pace = 12.0 // m/s
	lead = 7.0  // s before the first lane
)

func smooth(u float64) float64 {
	u = math.Min(1, math.Max(0, u))
	return u * u * u * (10 - 15*u + 6*u*u)
}

// change is a drive north through a lane change at a steady speed: the offset to the
// left by station. Its body points where it goes. yaw and steer replace what follows
// from the path, by time from the first lane.
type change struct {
	out, back, far float64 // stations of the middle of both changes, and the offset between, m
	length         float64 // of a change, m
	over           float64 // m beyond the exit lane's middle as it swings back
	rate           float64
	yaw, steer     func(t float64) float64
}

func (c change) offset(s float64) (y, d1, d2 float64) {
	f := func(s float64) float64 {
		y := c.far * (smooth((s-c.out)/c.length+0.5) - smooth((s-c.back)/c.length+0.5))
		if s > c.back && c.over != 0 {
			u := (s - c.back - 2) / 20
			y -= c.over * smooth(2*u) * smooth(2*(1-u))
		}
		return y
	}
	const h = 1e-3
	p, q, r := f(s-h), f(s), f(s+h)
	return q, (r - p) / (2 * h), (p - 2*q + r) / (h * h)
}

func (c change) drive(total float64) *signal.Recording {
	n := int((total/pace + 2*lead) * c.rate)
	b := &signal.Base{T: make([]float64, n)}
	rec := &signal.Recording{Name: "change.csv"}
	add := func(name string, role signal.Role, unit string, f func(t float64) float64) {
		v := make([]float64, n)
		for i := range v {
			v[i] = f(b.T[i] - lead)
		}
		rec.Channels = append(rec.Channels, &signal.Channel{Name: name, Role: role, Unit: unit, Base: b, Values: v, Valid: []signal.Span{{From: 0, To: n}}})
	}
	for i := range b.T {
		b.T[i] = float64(i) / c.rate
	}
	turn := func(t float64) float64 {
		_, d1, d2 := c.offset(pace * t)
		return d2 * pace / (1 + d1*d1)
	}
	yaw, steer := c.yaw, c.steer
	if yaw == nil {
		yaw = turn
	}
	if steer == nil {
		steer = func(t float64) float64 { return 3 * turn(t+0.08) }
	}
	add("lat", signal.Latitude, "rad", func(t float64) float64 { return at(0, pace*t).Latitude })
	add("lon", signal.Longitude, "rad", func(t float64) float64 { y, _, _ := c.offset(pace * t); return at(-y, 0).Longitude })
	add("v", signal.Speed, "m/s", func(t float64) float64 { _, d1, _ := c.offset(pace * t); return pace * math.Sqrt(1+d1*d1) })
	add("steer", signal.SteeringAngle, "rad", func(t float64) float64 { return 0.03 + steer(t) })
	add("yaw", signal.YawRate, "rad/s", func(t float64) float64 { return 0.002 + yaw(t) })
	add("ay", signal.AccelY, "m/s²", func(t float64) float64 { _, d1, _ := c.offset(pace * t); return turn(t) * pace * math.Sqrt(1+d1*d1) })
	add("roll", signal.Roll, "rad", func(float64) float64 { return 0 })
	add("throttle", signal.Throttle, "1", func(t float64) float64 {
		if pace*t < 2 {
			return 0.3
		}
		return 0
	})
	return rec
}

func number(id string, v float64) programme.Setting { return programme.Setting{ID: id, Number: v} }

func word(id, w string) programme.Setting { return programme.Setting{ID: id, Word: w} }

const wide = 1.8 // m

func (c change) input(t testing.TB, given ...programme.Setting) procedure.Input {
	t.Helper()
	p, err := spec.Settings(append([]programme.Setting{number("vehicle_width", wide), number("position_sd", 0.02)}, given...))
	if err != nil {
		t.Fatal(err)
	}
	lanes := Layout(p.Word("layout"), wide, p.Word("exit_width"))
	total := lanes[len(lanes)-1].To
	return procedure.Input{Run: "r1", Recordings: []*signal.Recording{c.drive(total)}, FromS: lead, ToS: lead + total/pace, Course: ground(t, total), Parameters: p}
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

// clean is a pass of the obstacle avoidance that stays inside: from the entry lane's
// middle to the side lane's and back.
func clean(t testing.TB) change {
	t.Helper()
	l := Layout(obstacle, wide, exitAtLeast)
	return change{out: 18.75, back: 42.75, far: (l[1].Left + l[1].Right) / 2, length: 20, rate: 100}
}

// left gives the room that a body without length leaves in a lane, by vectors: the
// least distance of its sides from the edges, and of the end cones from the line
// between its sides.
func (c change) left(l Lane) float64 {
	least := math.Inf(1)
	for s := l.From - 3; s < l.To+3; s += 0.005 {
		y, d1, _ := c.offset(s)
		n := math.Hypot(1, d1)
		var side [2][2]float64 // left, right: station, offset
		for k, sign := range []float64{1, -1} {
			side[k] = [2]float64{s - sign*wide/2*d1/n, y + sign*wide/2/n}
			if side[k][0] >= l.From && side[k][0] <= l.To {
				least = math.Min(least, math.Min(l.Left-side[k][1], side[k][1]-l.Right))
			}
		}
		ds, dy := side[1][0]-side[0][0], side[1][1]-side[0][1]
		for _, cone := range [][2]float64{{l.From, l.Left}, {l.From, l.Right}, {l.To, l.Left}, {l.To, l.Right}} {
			u := ((cone[0]-side[0][0])*ds + (cone[1]-side[0][1])*dy) / (ds*ds + dy*dy)
			u = math.Min(1, math.Max(0, u))
			least = math.Min(least, math.Hypot(side[0][0]+u*ds-cone[0], side[0][1]+u*dy-cone[1]))
		}
	}
	return least
}

func TestLayouts(t *testing.T) {
	for _, q := range []struct{ source, layout string }{{"iso-3888-1", doubleChange}, {"iso-3888-2", obstacle}} {
		golden.Run(t, q.source, "widths", func(t *testing.T, c *golden.Case) {
			var w struct {
				Width   float64   `json:"width_m"`
				Widths  []float64 `json:"widths_m"`
				Lengths []float64 `json:"lengths_m"`
				Total   float64   `json:"total_m"`
			}
			c.JSON(t, "case.json", &w)
			lanes := Layout(q.layout, w.Width, exitFree)
			if len(lanes) != len(w.Widths) {
				t.Fatalf("%d lanes", len(lanes))
			}
			var ends []float64
			for i, l := range lanes {
				c.Near(t, l.Name, l.Width(), w.Widths[i])
				ends = append(ends, l.From, l.To)
			}
			sum := 0.0
			k := 0
			for i, length := range w.Lengths {
				sum += length
				// Every section's end is a lane's beginning or end.
				for k < len(ends)-1 && ends[k] < sum-1e-9 {
					k++
				}
				c.Near(t, "end of section "+string(rune('1'+i)), ends[k], sum)
			}
			c.Near(t, "total", lanes[len(lanes)-1].To, w.Total)
		})
	}
	if l := Layout(obstacle, wide, exitAtLeast); l[2].Width() != 3 {
		t.Errorf("an exit lane of 3 m at least is %v m wide", l[2].Width())
	}
	if l := Layout(obstacle, 2.2, exitAtMost); l[2].Width() != 3 {
		t.Errorf("an exit lane of 3 m at most is %v m wide", l[2].Width())
	}
}

// A path through the middle of the lanes leaves half of what is wider than the body.
func TestACleanPass(t *testing.T) {
	in := clean(t).input(t)
	out := reduce(t, in)
	l := Layout(obstacle, wide, exitAtLeast)
	if value(t, out, "clean", "") != 1 {
		t.Error("a pass through the middle is not clean")
	}
	near := func(what string, got, want, tol float64) {
		t.Helper()
		if math.Abs(got-want) > tol {
			t.Errorf("%s is %v, want %v", what, got, want)
		}
	}
	for _, lane := range l {
		near("room in the "+lane.Name, value(t, out, "lane_room", lane.Name), clean(t).left(lane), 0.02) // what motion smooths
	}
	near("overshoot of the side lane", value(t, out, "overshoot", sideLane), -(l[1].Width()-wide)/2, 0.01)
	near("overshoot of the exit lane", value(t, out, "overshoot", exitLane), -(0 - wide/2 - l[2].Right), 0.01)
	near("entry speed", value(t, out, "entry_speed", ""), pace, 1e-3)
	near("speed lost", value(t, out, "speed_lost", ""), 0, 1e-3)
	for _, code := range []string{"layout_mismatch", "throttle_held", "position_accuracy_unknown", "speed_outside"} {
		if out.Caveats.Has(code) {
			t.Errorf("a good pass has the caveat %s", code)
		}
	}
}

// A pass that swings past the exit lane's edge is not clean, and by how much is said.
func TestAPassThatIsNotClean(t *testing.T) {
	c := clean(t)
	c.over = 0.5
	out := reduce(t, c.input(t, number("set_speed", 80*kmh)))
	if value(t, out, "clean", "") != 0 || !out.Caveats.Has("speed_outside") {
		t.Errorf("clean: %v", out.Caveats)
	}
	l := Layout(obstacle, wide, exitAtLeast)
	want := c.over + wide/2 + l[2].Right // the side less the edge, both to the right
	if got := value(t, out, "overshoot", exitLane); math.Abs(got-want) > 0.02 {
		t.Errorf("overshoot %v, want %v", got, want)
	}
	if got := value(t, out, "lane_room", exitLane); math.Abs(got+want) > 0.02 {
		t.Errorf("room %v, want %v", got, -want)
	}
	// The ends of a body swing farther out than its middle.
	long := reduce(t, c.input(t, number("body_ahead", 2.4), number("body_behind", 3)))
	if a, b := value(t, out, "lane_room", sideLane), value(t, long, "lane_room", sideLane); !(b < a-0.01) {
		t.Errorf("a body of 5.4 m leaves %v m in the side lane, its middle alone %v", b, a)
	}
}

// free is the free answer of a second-order system from rest at 1 beside its zero.
func free(t, zeta, wn float64) float64 {
	d := math.Sqrt(1 - zeta*zeta)
	return math.Exp(-zeta*wn*t) * (math.Cos(wn*d*t) + zeta/d*math.Sin(wn*d*t))
}

// swinging prescribes steering, and a yaw rate that dies down from the last
// counter-steer on as a second-order system does.
func swinging(t testing.TB, zeta, wn float64) change {
	c := clean(t)
	half := func(t, from, length, size float64) float64 {
		if t < from || t > from+length {
			return 0
		}
		return size * math.Sin(math.Pi*(t-from)/length)
	}
	const from, peak = 2.4, 0.5
	c.steer = func(t float64) float64 {
		return half(t, 0.5, 0.8, 1.2) + half(t, 1.3, 1.1, -1.6) + half(t, from, 0.5, 0.9) + half(t, from+0.5, 0.4, -0.15)
	}
	c.yaw = func(t float64) float64 {
		switch {
		case t < 0.5:
			return 0
		case t < 1.5:
			return half(t, 0.5, 1, 0.3)
		case t < from: // smoothly to the peak on the other side
			return -peak * smooth((t-1.5)/(from-1.5))
		}
		return -peak * free(t-from, zeta, wn)
	}
	return c
}

// Recoil, settling and damping of a known second-order system.
func TestRecoilOfASecondOrderSystem(t *testing.T) {
	golden.Run(t, "closed-forms", "second-order-recoil", func(t *testing.T, c *golden.Case) {
		var all []struct {
			Zeta     float64 `json:"zeta"`
			Wn       float64 `json:"wn_radps"`
			Over     float64 `json:"overshoot_ratio"`
			Settling float64 `json:"settling_5pct_s"`
		}
		c.JSON(t, "case.json", &all)
		for _, q := range all {
			out := reduce(t, swinging(t, q.Zeta, q.Wn).input(t, number("settled", 0.05)))
			c.NearRel(t, "recoil", value(t, out, "recoil", ""), q.Over)
			c.NearRel(t, "settling time", value(t, out, "yaw_settling_time", ""), q.Settling)
			for id, after := range map[string]float64{"yaw_ratio_1000_ms": 1.5, "yaw_ratio_1750_ms": 2.25} {
				if got, want := value(t, out, id, ""), free(after, q.Zeta, q.Wn); math.Abs(got-want) > 0.002 {
					t.Errorf("damping %v: %s is %v, want %v", q.Zeta, id, got, want)
				}
			}
			if q.Zeta > 0.5 {
				if !out.Caveats.Has("few_peaks") {
					t.Errorf("damping %v dies down in a peak, and has a damping ratio", q.Zeta)
				}
				continue
			}
			c.NearRel(t, "damping ratio", value(t, out, "yaw_damping", ""), q.Zeta)
		}
	})
}

func TestFaultsAndDoubts(t *testing.T) {
	c := clean(t)
	none := c.input(t)
	none.Parameters, _ = spec.Settings(nil)
	short := c.input(t)
	short.Course = nil
	for name, in := range map[string]procedure.Input{"no width": none, "no course": short, "nothing": {}} {
		if _, err := New().Reduce(in); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
	// The other layout between gates that stand 61 m apart.
	in := c.input(t, number("after", 6))
	for i := range in.Parameters {
		if in.Parameters[i].ID == "layout" {
			in.Parameters[i].Word = doubleChange
		}
	}
	out := reduce(t, in)
	if !out.Caveats.Has("layout_mismatch") {
		t.Errorf("61 m for 125: %v", out.Caveats)
	}
	still := clean(t)
	still.steer = func(float64) float64 { return 0 }
	if out := reduce(t, still.input(t)); !out.Caveats.Has("no_counter_steer") {
		t.Errorf("no steering: %v", out.Caveats)
	}
}

func TestConformance(t *testing.T) {
	moved := map[string]float64{
		"lane_room": 0.01, "room_used": 0.01, "overshoot": 0.01, "slide_time": 0.02, "slide_distance": 0.4, "recoil": 0.005, "recoil_acceleration": 0.2,
		"yaw_ratio_1000_ms": 0.005, "yaw_ratio_1750_ms": 0.005, "yaw_settling_time": 0.01, "yaw_damping": 0.005, "peak_sideslip": 0.01, "speed_lost": 0.002, "peak_lateral": 0.02, "peak_yaw_rate": 0.002,
	}
	// A yaw rate that does not belong to the path leaves the path to the sensors' rates.
	apart := map[string]float64{}
	for id, v := range moved {
		apart[id] = v
	}
	apart["lane_room"], apart["room_used"], apart["overshoot"] = 0.06, 0.06, 0.06
	swung := swinging(t, 0.2, 8)
	wider := clean(t)
	wider.out, wider.back, wider.far, wider.over, wider.length = 30, 82, 3.6, 0.6, 30
	proceduretest.Run(t, proceduretest.Suite{
		Procedure: New(),
		Cases: []proceduretest.Case{
			{Name: "clean", Input: clean(t).input(t), Resampled: moved},
			{Name: "swinging, with a body", Input: swung.input(t, number("body_ahead", 2.4), number("body_behind", 3)), Resampled: apart},
			{Name: "double lane change", Input: wider.input(t, word("layout", doubleChange), number("slide_angle", 0.5*deg)), Resampled: moved},
		},
	})
}
