package ground

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

// Cone is a marker on the ground, by station and offset in m. Pass is the side on
// which it is passed: 1 leaves it to the right, -1 to the left, 0 is a cone that only
// bounds a way.
type Cone struct {
	Station, Offset float64
	Pass            float64
}

// Way is a stretch that must be kept within: stations and offsets in m.
type Way struct {
	From, To    float64
	Right, Left float64
}

// Course is a path with its gates, its surface and its water.
type Course struct {
	Name  string
	Title string
	Path  *Path
	Half  float64   // half the width of the road, m
	Gates []float64 // stations of the gates; the first is start and finish of a lap
	Grip  Profile   // factor of the surface along the path; none: 1
	Spots []Spot
	Lanes []Lane
	Cones []Cone
	Ways  []Way   // between cones that must be kept
	water Profile // depth along the path, between the spots
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
