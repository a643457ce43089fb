package ground

import "math"

// stadium is a straight of a length in m and the way back to its start, through two
// half circles of a radius in m.
func stadium(from Point, heading, length, radius float64) *Path {
	p := Draw(from, heading, Straight(length), Bend(radius, 180, 10), Straight(length), Bend(radius, 180, 10))
	p.Closed = true
	return p
}

// Stations of the braking straight, m: where its lane begins and ends.
const (
	LaneFrom = 300.0
	LaneTo   = 420.0
)

// BrakingStraight is a straight with a lane that is wetted to a depth in m (0: dry),
// and the way back to its start.
func BrakingStraight(depth float64) *Course {
	p := stadium(Point{East: -300, North: -160}, 0.12, 440, 25)
	c := &Course{Name: "braking-straight", Title: "Straight with a wetted lane", Path: p, Half: 4, Gates: []float64{LaneFrom, LaneTo}}
	if depth > 0 {
		c.Lanes = []Lane{{From: LaneFrom, To: LaneTo, Right: -2.2, Left: 2.2, Depth: depth}}
		for i, at := range []float64{LaneFrom + 10, LaneFrom + 30, LaneFrom + 50} {
			c.Spots = append(c.Spots, Spot{Name: string(rune('1' + i)), Station: at, Depth: depth})
		}
	}
	return c
}

// SlalomFrom is the station of the first cone of a slalom, m.
const SlalomFrom = 170.0

// Slalom is a straight with a row of cones, a spacing in m apart, passed on either
// side by turns, the first with the cone on the right; and the way back. 18 m is the
// usual spacing and 36 m that for higher speeds (common practice); 30 m is known from
// a national standard for cars.
func Slalom(cones int, spacing float64) *Course {
	last := SlalomFrom + float64(cones-1)*spacing
	c := &Course{Name: "slalom", Title: "Slalom", Path: stadium(Point{East: -300, North: -320}, 0.05, last+70, 25), Half: 6,
		Gates: []float64{SlalomFrom - spacing, last + spacing}}
	for i := range cones {
		side := 1.0
		if i&1 == 1 {
			side = -1
		}
		c.Cones = append(c.Cones, Cone{Station: SlalomFrom + float64(i)*spacing, Pass: side})
	}
	return c
}

// Weave gives what a driver drives through a slalom: a cosine of an amplitude in m
// through the cones, with an easy way in and out.
func (c *Course) Weave(amplitude float64) func(station float64) (offset, curvature float64) {
	n := len(c.Cones)
	first := c.Cones[0].Station
	d := c.Cones[1].Station - first
	last := c.Cones[n-1].Station
	end := amplitude
	if n&1 == 0 {
		end = -amplitude
	}
	return func(station float64) (offset, curvature float64) {
		s := c.Path.wrap(station)
		switch {
		case s >= first && s <= last:
			wave := math.Cos(math.Pi * (s - first) / d)
			w := math.Pi / d
			return amplitude * wave, -amplitude * w * w * wave
		case s > first-d && s < first:
			o, k := blend((s-first+d)/d, d)
			return amplitude * o, amplitude * k
		case s > last && s < last+1.5*d:
			o, k := blend((s-last)/(1.5*d), 1.5*d)
			return end * (1 - o), -end * k
		}
		return 0, 0
	}
}

// blend is the smoothest way from 0 to 1 over a length in m: value and second
// derivative at a share u of it.
func blend(u, length float64) (value, curvature float64) {
	if u <= 0 {
		return 0, 0
	}
	if u >= 1 {
		return 1, 0
	}
	return u * u * u * (10 - 15*u + 6*u*u), (60*u - 180*u*u + 120*u*u*u) / (length * length)
}

// ChangeFrom is the station at which a lane change begins, m.
const ChangeFrom = 190.0

// LaneChange1 is the double lane change of ISO 3888-1 for a vehicle of a width in m:
// ways of 15, 25, 15 and 15 m with gaps of 30 and 25 m, the middle one 3.5 m to the
// left, counted from right edge to right edge (docs/sources/iso-3888-1.md).
func LaneChange1(width float64) *Course {
	return change("lane-change-1", "Double lane change, ISO 3888-1", width,
		[]float64{15, 30, 25, 25, 15, 15}, [][2]float64{{1.1, 0.25}, {1.2, 0.25}, {1.3, 0.25}, {1.3, 0.25}},
		func(first, _ float64) float64 { return -first/2 + 3.5 })
}

// LaneChange2 is the obstacle avoidance of ISO 3888-2 for a vehicle of a width in m:
// ways of 12, 11 and 12 m with gaps of 13.5 and 12.5 m, the middle one with its right
// edge 1 m to the left of the first one's left edge (docs/sources/iso-3888-2.md).
func LaneChange2(width float64) *Course {
	return change("lane-change-2", "Obstacle avoidance, ISO 3888-2", width,
		[]float64{12, 13.5, 11, 12.5, 12}, [][2]float64{{1.1, 0.25}, {1, 1}, {1.3, 0.25}},
		func(first, _ float64) float64 { return first/2 + 1 })
}

// change lays out a lane change; right gives the right edge of the middle way by the
// widths of the first and the middle one. The last ways share the first one's right
// edge (own reading of the drawing as remembered).
func change(name, title string, width float64, lengths []float64, widths [][2]float64, right func(first, middle float64) float64) *Course {
	total := 0.0
	for _, l := range lengths {
		total += l
	}
	c := &Course{Name: name, Title: title, Path: stadium(Point{East: -300, North: -420}, 0.02, ChangeFrom+total+110, 30), Half: 8,
		Gates: []float64{ChangeFrom, ChangeFrom + total}}
	wide := func(i int) float64 { return widths[i][0]*width + widths[i][1] }
	at, way := ChangeFrom, 0
	for i, l := range lengths {
		gap := i == 1 || i == 3
		if !gap {
			w := Way{From: at, To: at + l, Right: -wide(0) / 2}
			if way == 1 {
				w.Right = right(wide(0), wide(1))
			}
			w.Left = w.Right + wide(way)
			c.Ways = append(c.Ways, w)
			// Cones at both ends and in the middle of each way.
			for _, s := range []float64{w.From, (w.From + w.To) / 2, w.To} {
				c.Cones = append(c.Cones, Cone{Station: s, Offset: w.Right}, Cone{Station: s, Offset: w.Left})
			}
			way++
		}
		at += l
	}
	return c
}

// Dodge gives what a driver drives through a lane change: from the middle of the
// first way into the second, by a margin in m from its near edge for a vehicle of
// that width, and back. He begins early in m before the end of a way, and ends as
// late after the next one's beginning.
func (c *Course) Dodge(width, margin, early float64) func(station float64) (offset, curvature float64) {
	a, b, d := c.Ways[0], c.Ways[1], c.Ways[2]
	from := (a.Right + a.Left) / 2
	to := math.Min((b.Right+b.Left)/2, b.Right+width/2+margin)
	back := (d.Right + d.Left) / 2
	if edge := d.Left - width/2 - margin; edge > back {
		back = edge
	}
	return func(station float64) (offset, curvature float64) {
		s := c.Path.wrap(station)
		out, home := b.From-a.To+2*early, d.From-b.To+2*early
		far := d.To + 60
		switch {
		case s < a.To-early:
			return from, 0
		case s < b.From+early:
			o, k := blend((s-a.To+early)/out, out)
			return from + (to-from)*o, (to - from) * k
		case s < b.To-early:
			return to, 0
		case s < d.From+early:
			o, k := blend((s-b.To+early)/home, home)
			return to + (back-to)*o, (back - to) * k
		case s < far:
			return back, 0
		case s < far+40:
			o, k := blend((s-far)/40, 40)
			return back * (1 - o), -back * k
		}
		return 0, 0
	}
}

// Circle is a circle of a radius in m, driven to the left, or to the right if the
// radius is negative.
func Circle(radius float64) *Course {
	p := Draw(Point{East: 500, North: -300}, 0, Piece{Radius: math.Abs(radius), Angle: math.Copysign(2*math.Pi, radius)})
	p.Closed = true
	return &Course{Name: "circle", Title: "Circle", Path: p, Half: 8, Gates: []float64{0}}
}

// Pad is an open space: a straight line of 600 m that nothing bounds.
func Pad() *Course {
	return &Course{Name: "pad", Title: "Open space", Path: Draw(Point{East: 700, North: -100}, 0.3, Straight(600)), Half: 150, Gates: []float64{100}}
}

// Stations of the straight for aquaplaning, m: where its trough begins and ends.
const (
	TroughFrom = 220.0
	TroughTo   = 520.0
)

// FloatStraight is a straight with a trough for the wheels of the right side alone,
// filled to a depth in m, and the way back. Beyond the trough the straight goes on far
// enough to slow down.
func FloatStraight(depth float64) *Course {
	c := &Course{Name: "float-straight", Title: "Straight with a trough for one side", Path: stadium(Point{East: -300, North: -520}, 0, TroughTo+220, 30), Half: 5,
		Gates: []float64{TroughFrom, TroughTo},
		Lanes: []Lane{{From: TroughFrom, To: TroughTo, Right: -1.6, Left: -0.2, Depth: depth}}}
	for i, at := range []float64{TroughFrom + 30, (TroughFrom + TroughTo) / 2, TroughTo - 30} {
		c.Spots = append(c.Spots, Spot{Name: string(rune('1' + i)), Station: at, Offset: -0.9, Depth: depth})
	}
	return c
}

// troughLength is how long the curved trough is, m: what testers' descriptions of a
// circle with a trough have, in the order of it (common practice).
const troughLength = 20.0

// CurvedTrough is a circle of a radius in m, driven to the left, of which a stretch
// is a trough filled to a depth in m over the road's whole width.
func CurvedTrough(radius, depth float64) *Course {
	p := Draw(Point{East: 560, North: -480}, 0, Piece{Radius: radius, Angle: 2 * math.Pi})
	p.Closed = true
	from := 0.6 * p.Length
	return &Course{Name: "curved-trough", Title: "Circle with a trough", Path: p, Half: 6, Gates: []float64{from, from + troughLength},
		Lanes: []Lane{{From: from, To: from + troughLength, Right: -6, Left: 6, Depth: depth}},
		Spots: []Spot{{Name: "1", Station: from + 3, Depth: depth}, {Name: "2", Station: from + troughLength/2, Depth: depth}, {Name: "3", Station: from + troughLength - 3, Depth: depth}}}
}
