package ground

import "math"

// Spot is a place at which water is measured: station and offset in m, and the
// depth there in m on the day that the course was surveyed.
type Spot struct {
	Name            string
	Station, Offset float64
	Depth           float64
}

// Lane is a stretch that holds water: stations and offsets in m, depth in m.
type Lane struct {
	From, To    float64
	Right, Left float64 // offsets
	Depth       float64
}

// Cone is a marker on the ground.
type Cone struct{ At Point }

// Course is a path with its gates, its surface and its water.
type Course struct {
	Name   string
	Title  string
	Path   *Path
	Half   float64   // half the width of the road, m
	Gates  []float64 // stations of the gates; the first is start and finish of a lap
	Grip   Profile   // factor of the surface along the path; none: 1
	Spots  []Spot
	Lanes  []Lane
	Cones  []Cone
	water  Profile // depth along the path, between the spots
	radius float64
}

// Gate gives the i-th gate, of the road's width.
func (c *Course) Gate(i int) Gate { return c.Path.Gate(c.Gates[i], c.Half) }

// Surface gives the factor of grip and the depth of water in m at a station and an
// offset, on the day of the survey.
func (c *Course) Surface(station, offset float64) (grip, depth float64) {
	s := c.Path.wrap(station)
	grip = 1
	if len(c.Grip.Station) > 0 {
		grip = c.Grip.At(s)
	}
	if len(c.water.Station) > 0 {
		depth = c.water.At(s)
	}
	for _, l := range c.Lanes {
		if s >= l.From && s <= l.To && offset >= l.Right && offset <= l.Left {
			depth = l.Depth
		}
	}
	return grip, depth
}

// flood makes the depth along the path of the spots, which stand in order.
func (c *Course) flood() *Course {
	for _, s := range c.Spots {
		c.water.Station = append(c.water.Station, s.Station)
		c.water.Value = append(c.water.Value, s.Depth)
	}
	return c
}

func must(p *Path, err error) *Path {
	if err != nil {
		panic("ground: " + err.Error()) // a course of ours that does not close is a slip
	}
	return p
}

// DryHandling is a handling course of some 1270 m with eight bends, six of them to
// the left, dry. The lengths of its first and its seventh straight close it.
func DryHandling() *Course {
	p := must(Loop(Point{East: 120, North: 40}, 0, 0, 12,
		Straight(0), Bend(68, 60, 20), Straight(30), Bend(48, 105, 20), Straight(20), Bend(68, -90, 18),
		Straight(60), Bend(52, 120, 18), Straight(40), Bend(64, 75, 20), Straight(80), Bend(30, -60, 18),
		Straight(0), Bend(40, 105, 16), Straight(80), Bend(26, 45, 18),
	))
	return &Course{Name: "dry-handling", Title: "Dry handling course", Path: p, Half: 5,
		Gates: []float64{60, 0.36 * p.Length, 0.7 * p.Length},
		Grip:  Profile{Station: []float64{0, 300, 420, 700, 900, p.Length}, Value: []float64{1, 1, 0.985, 1.01, 1, 1}},
	}
}

// WetHandling is a shorter handling course that is kept wet; its depths are measured
// at six spots.
func WetHandling() *Course {
	p := must(Loop(Point{East: -420, North: 60}, 0, 0, 12,
		Straight(0), Bend(28, 120, 18), Straight(20), Bend(38, -75, 16), Straight(50), Bend(38, 120, 20),
		Straight(20), Bend(38, 45, 18), Straight(40), Bend(32, 60, 16), Straight(40), Bend(24, -50, 18),
		Straight(0), Bend(38, 140, 18),
	))
	c := &Course{Name: "wet-handling", Title: "Wet handling course", Path: p, Half: 5, Gates: []float64{45, 0.37 * p.Length, 0.72 * p.Length}}
	l := p.Length
	for i, s := range []struct{ at, mm float64 }{{0.02, 0.6}, {0.2, 1.1}, {0.38, 0.8}, {0.52, 1.9}, {0.68, 1.0}, {0.86, 0.7}} {
		c.Spots = append(c.Spots, Spot{Name: string(rune('1' + i)), Station: s.at * l, Depth: s.mm / 1000})
	}
	return c.flood()
}

// Stations of the braking straight, m: where its lane begins and ends, and where the
// straight ends.
const (
	LaneFrom    = 300.0
	LaneTo      = 420.0
	straightEnd = 440.0
)

// BrakingStraight is a straight with a lane that is wetted to a depth in m (0: dry),
// and the way back to its start.
func BrakingStraight(depth float64) *Course {
	p := Draw(Point{East: -300, North: -160}, 0.12,
		Straight(straightEnd), Bend(25, 180, 10), Straight(straightEnd), Bend(25, 180, 10))
	p.Closed = true
	c := &Course{Name: "braking-straight", Title: "Straight with a wetted lane", Path: p, Half: 4, Gates: []float64{LaneFrom, LaneTo}}
	if depth > 0 {
		c.Lanes = []Lane{{From: LaneFrom, To: LaneTo, Right: -2.2, Left: 2.2, Depth: depth}}
		for i, at := range []float64{LaneFrom + 10, LaneFrom + 30, LaneFrom + 50} {
			c.Spots = append(c.Spots, Spot{Name: string(rune('1' + i)), Station: at, Depth: depth})
		}
	}
	return c
}

// Circle is a circle of a radius in m, driven to the left.
func Circle(radius float64) *Course {
	p := Draw(Point{East: 500, North: -300}, 0, Piece{Radius: radius, Angle: 2 * math.Pi})
	p.Closed = true
	return &Course{Name: "circle", Title: "Circle", Path: p, Half: 5, Gates: []float64{0}, radius: radius}
}
