package ground_test

import (
	"math"
	"testing"

	"example.org/bookend/internal/golden"
	"example.org/bookend/sim/ground"
)

// printed is a figure and the unit of its last printed digit.
type printed [2]float64

func (p printed) near(t *testing.T, c *golden.Case, what string, got float64) {
	t.Helper()
	c.Near(t, what, (got-p[0])/p[1], 0)
}

// Lane changes have the lengths, widths and offset of their standards.
func TestLaneChanges(t *testing.T) {
	for _, q := range []struct {
		source string
		lay    func(width float64) *ground.Course
		// The first part counts its offset from right edge to right edge, the second
		// from the first way's left edge to the next one's right edge.
		offset func(first, second ground.Way) float64
	}{
		{"iso-3888-1", ground.LaneChange1, func(a, b ground.Way) float64 { return b.Right - a.Right }},
		{"iso-3888-2", ground.LaneChange2, func(a, b ground.Way) float64 { return b.Right - a.Left }},
	} {
		golden.Run(t, q.source, "*", func(t *testing.T, c *golden.Case) {
			var in struct {
				Width  float64 `json:"width_m"`
				Total  printed `json:"total_m"`
				Offset printed `json:"offset_m"`
				Ways   []struct {
					From  float64 `json:"from_m"`
					To    float64 `json:"to_m"`
					Width printed `json:"width_m"`
				} `json:"ways"`
			}
			c.JSON(t, "case.json", &in)
			course := q.lay(in.Width)
			in.Total.near(t, c, "length", course.Gates[1]-course.Gates[0])
			if len(course.Ways) != len(in.Ways) {
				t.Fatalf("%d ways, want %d", len(course.Ways), len(in.Ways))
			}
			for i, w := range in.Ways {
				got := course.Ways[i]
				printed{w.From, 0.01}.near(t, c, "beginning of a way", got.From-ground.ChangeFrom)
				printed{w.To, 0.01}.near(t, c, "end of a way", got.To-ground.ChangeFrom)
				w.Width.near(t, c, "width of a way", got.Left-got.Right)
			}
			in.Offset.near(t, c, "offset", q.offset(course.Ways[0], course.Ways[1]))
		})
	}
}

// What is driven through a slalom bends as the closed form says, and passes each
// cone on its side.
func TestSlalom(t *testing.T) {
	golden.Run(t, "closed-forms", "slalom", func(t *testing.T, c *golden.Case) {
		var in struct {
			Spacing   float64 `json:"spacing_m"`
			Speed     float64 `json:"speed_kmh"`
			Amplitude float64 `json:"amplitude_m"`
			Gate      printed `json:"gate_s"`
			Hz        printed `json:"hz"`
			Lateral   printed `json:"lateral_mps2"`
			Yaw       printed `json:"yaw_degps"`
		}
		c.JSON(t, "case.json", &in)
		course := ground.Slalom(7, in.Spacing)
		v := in.Speed / 3.6
		line := course.Weave(in.Amplitude)
		a, b := course.Cones[2], course.Cones[3]
		in.Gate.near(t, c, "time from cone to cone", (b.Station-a.Station)/v)
		in.Hz.near(t, c, "frequency", v/2/(b.Station-a.Station))
		for _, cone := range course.Cones {
			offset, k := line(cone.Station)
			if math.Abs(offset-cone.Pass*in.Amplitude) > 1e-12 {
				t.Errorf("the cone at %v is passed at %v", cone.Station, offset)
			}
			in.Lateral.near(t, c, "lateral acceleration", math.Abs(k)*v*v)
			in.Yaw.near(t, c, "yaw rate", math.Abs(k)*v*180/math.Pi)
		}
	})
}

// What is driven is smooth: its curvature is the second derivative of its offset,
// and it begins and ends on the path.
func TestLinesAreSmooth(t *testing.T) {
	const width = 2.02
	one, two, row := ground.LaneChange1(width), ground.LaneChange2(width), ground.Slalom(8, 18)
	for _, q := range []struct {
		name string
		c    *ground.Course
		line func(station float64) (offset, curvature float64)
	}{{"slalom", row, row.Weave(1.5)}, {"lane change 1", one, one.Dodge(width, 0.3, 4)}, {"lane change 2", two, two.Dodge(width, 0.3, 3)}} {
		const h = 0.01
		// Between the knots of a line, where the second derivative itself may jump.
		misses := 0
		for s := 60.0; s < q.c.Gates[1]+100; s += 0.37 {
			o, k := q.line(s)
			before, _ := q.line(s - h)
			after, _ := q.line(s + h)
			if math.Abs(after-before) > 0.5*2*h {
				t.Errorf("%s jumps at %v", q.name, s)
			}
			if d := (after - 2*o + before) / (h * h); math.Abs(d-k) > 1e-3 {
				misses++
			}
		}
		if misses > 4 {
			t.Errorf("%s: curvature is not that of the offset at %d stations", q.name, misses)
		}
		for _, s := range []float64{60, q.c.Gates[1] + 105} {
			if o, k := q.line(s); math.Abs(o) > 1e-9 || math.Abs(k) > 1e-9 {
				t.Errorf("%s is %v beside the path at %v", q.name, o, s)
			}
		}
	}
}

// Troughs hold their water where they are, and nowhere else; a circle driven to the
// right mirrors that to the left.
func TestTroughs(t *testing.T) {
	c := ground.FloatStraight(0.007)
	for _, q := range []struct{ station, offset, want float64 }{
		{ground.TroughFrom + 1, -0.9, 0.007}, {ground.TroughFrom + 1, 0.9, 0}, {ground.TroughFrom - 1, -0.9, 0}, {ground.TroughTo + 1, -0.9, 0},
	} {
		if _, d := c.Surface(q.station, q.offset); d != q.want {
			t.Errorf("station %v, offset %v: %v m", q.station, q.offset, d)
		}
	}
	c = ground.CurvedTrough(100, 0.006)
	if _, d := c.Surface(c.Gates[0]+1, 2); d != 0.006 {
		t.Errorf("%v m in the trough", d)
	}
	if _, d := c.Surface(c.Gates[0]-1, 2); d != 0 {
		t.Errorf("%v m before it", d)
	}
	left := ground.Circle(40).Path
	right := left.Mirrored()
	for s := 0.0; s < left.Length; s += 10 {
		if a, b := left.Curvature(s), right.Curvature(s); a != -b {
			t.Fatalf("curvatures %v and %v", a, b)
		}
	}
	a, b := left.Point(left.Length/4), right.Point(left.Length/4)
	if math.Abs(a.North+b.North-2*left.Point(0).North) > 1e-6 || math.Abs(a.East-b.East) > 1e-6 {
		t.Errorf("a quarter round: %v and %v", a, b)
	}
}
