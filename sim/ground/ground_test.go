package ground_test

import (
	"math"
	"testing"

	"example.org/bookend/internal/golden"
	"example.org/bookend/sim/ground"
)

func TestEarth(t *testing.T) {
	golden.Run(t, "iogp-373-7-2", "*", func(t *testing.T, c *golden.Case) {
		var in struct {
			Origin       [2]float64 `json:"origin_deg"`
			OriginHeight float64    `json:"origin_height_m"`
			Point        [2]float64 `json:"point_deg"`
			PointHeight  float64    `json:"point_height_m"`
			ENU          [3]float64 `json:"enu_m"`
		}
		c.JSON(t, "case.json", &in)
		o := ground.Origin{LatitudeDeg: in.Origin[0], LongitudeDeg: in.Origin[1], Height: in.OriginHeight}
		lat, lon, h := o.Earth(ground.Point{East: in.ENU[0], North: in.ENU[1]}, in.ENU[2])
		c.Near(t, "latitude", lat, in.Point[0])
		c.Near(t, "longitude", lon, in.Point[1])
		if math.Abs(h-in.PointHeight) > 0.002 {
			t.Errorf("height %v m, want %v", h, in.PointHeight)
		}
	})
	golden.Run(t, "pyproj-3.4.1", "*", func(t *testing.T, c *golden.Case) {
		var in []struct {
			Origin [2]float64 `json:"origin_deg"`
			Height float64    `json:"height_m"`
			Point  [2]float64 `json:"point_deg"`
			ENU    [3]float64 `json:"enu_m"`
		}
		c.JSON(t, "case.json", &in)
		for _, r := range in {
			o := ground.Origin{LatitudeDeg: r.Origin[0], LongitudeDeg: r.Origin[1], Height: r.Height}
			lat, lon, _ := o.Earth(ground.Point{East: r.ENU[0], North: r.ENU[1]}, r.ENU[2])
			c.Near(t, "latitude", lat, r.Point[0])
			c.Near(t, "longitude", lon, r.Point[1])
		}
	})
}

// Every loop ends where it began, in the direction in which it began, and does not
// come near itself again.
func TestLoopsClose(t *testing.T) {
	for _, c := range []*ground.Course{ground.DryHandling(), ground.WetHandling(), ground.BrakingStraight(0.001), ground.Circle(30),
		ground.Slalom(8, 18), ground.LaneChange1(2.02), ground.LaneChange2(2.02), ground.FloatStraight(0.007), ground.CurvedTrough(100, 0.007)} {
		p := c.Path
		a, b := p.Point(0), p.Point(p.Length-1e-9)
		if d := math.Hypot(a.East-b.East, a.North-b.North); d > 0.01 {
			t.Errorf("%s: its ends are %v m apart", c.Name, d)
		}
		if turn := p.Heading(p.Length-1e-9) - p.Heading(0); math.Abs(math.Abs(turn)-2*math.Pi) > 1e-3 {
			t.Errorf("%s turns by %v rad", c.Name, turn)
		}
		for s := 0.0; s < p.Length; s += 5 {
			for u := s + 8*c.Half; u < p.Length && p.Length-(u-s) > 8*c.Half; u += 5 {
				q, r := p.Point(s), p.Point(u)
				if d := math.Hypot(q.East-r.East, q.North-r.North); d < 2*c.Half {
					t.Errorf("%s: stations %v and %v are %v m apart", c.Name, s, u, d)
				}
			}
		}
	}
}

// Station and offset of a place beside the path come back, from a station that is
// known roughly and from none.
func TestLocate(t *testing.T) {
	p := ground.DryHandling().Path
	for s := 3.0; s < p.Length-3; s += 7.3 {
		for _, off := range []float64{-3, 0, 2.5} {
			q := p.Beside(s, off)
			if st, o := p.Locate(q, s+0.7); math.Abs(st-s) > 0.02 || math.Abs(o-off) > 0.005 {
				t.Errorf("station %v, offset %v: located at %v, %v", s, off, st, o)
			}
			if st, o := p.Find(q); math.Abs(st-s) > 0.02 || math.Abs(o-off) > 0.005 {
				t.Errorf("station %v, offset %v: found at %v, %v", s, off, st, o)
			}
		}
	}
	// Laps go on.
	if st, _ := p.Locate(p.Point(10), p.Length+9.8); math.Abs(st-p.Length-10) > 1e-3 {
		t.Errorf("in the second lap: station %v", st)
	}
}

// A circle has its radius, and its length is its circumference.
func TestCircle(t *testing.T) {
	p := ground.Circle(50).Path
	if math.Abs(p.Length-2*math.Pi*50) > 1e-9 {
		t.Errorf("circumference %v m", p.Length)
	}
	a, b := p.Point(0), p.Point(p.Length/2)
	if d := math.Hypot(a.East-b.East, a.North-b.North); math.Abs(d-100) > 1e-3 {
		t.Errorf("diameter %v m", d)
	}
	if k := p.Curvature(70); math.Abs(k-1.0/50) > 1e-12 {
		t.Errorf("curvature %v", k)
	}
}

// A path that cannot close is refused; its bends must make a full turn.
func TestLoopRefuses(t *testing.T) {
	if _, err := ground.Loop(ground.Point{}, 0, 0, 2, ground.Straight(0), ground.Bend(30, 90, 10), ground.Straight(0)); err == nil {
		t.Error("a quarter turn is a loop")
	}
	if _, err := ground.Loop(ground.Point{}, 0, 0, 2, ground.Straight(0), ground.Bend(30, 180, 10), ground.Straight(0), ground.Bend(30, 180, 10)); err == nil {
		t.Error("two straights the same way close a loop")
	}
}

// Water stands where it was measured, between spots in between, and in the lane
// alone.
func TestWaterOnCourses(t *testing.T) {
	c := ground.WetHandling()
	for _, s := range c.Spots {
		if _, d := c.Surface(s.Station, 0); math.Abs(d-s.Depth) > 1e-12 {
			t.Errorf("spot %s: %v m, measured %v", s.Name, d, s.Depth)
		}
	}
	a, b := c.Spots[1], c.Spots[2]
	if _, d := c.Surface((a.Station+b.Station)/2, 0); math.Abs(d-(a.Depth+b.Depth)/2) > 1e-12 {
		t.Errorf("between two spots: %v m", d)
	}
	lane := ground.BrakingStraight(0.001)
	for _, q := range []struct{ station, offset, want float64 }{{ground.LaneFrom + 5, 0, 0.001}, {ground.LaneFrom + 5, 3, 0}, {ground.LaneFrom - 1, 0, 0}} {
		if _, d := lane.Surface(q.station, q.offset); d != q.want {
			t.Errorf("station %v, offset %v: %v m", q.station, q.offset, d)
		}
	}
}
