// Package ground is the synthetic proving ground itself: courses drawn by us, what
// their surfaces give and how deep the water stands on them, what the day does to
// both, and where on the earth all that lies.
//
// The ground, Skerry Moor, is invented; so are all its courses, depths and days.
// Only the lay-outs that standards fix (ISO 3888-1 and -2) are those of the
// standards. Geometry here is the ground's own: nothing is shared with the rooms
// that are checked against it.
//
// Plane of local metres, east and north about an origin; SI units; headings in rad
// from east, anticlockwise; left is positive. The ground is flat.
package ground

import (
	"math"
	"sort"

	"example.org/bookend/fault"
)

// Point is a place of the plane, m.
type Point struct{ East, North float64 }

// Piece is one piece of a path: a straight of a length in m, or a bend of a radius
// and an angle (rad, positive to the left) with a stretch at either end along which
// curvature grows from none and falls back.
type Piece struct {
	Length float64 // of a straight
	Radius float64 // of a bend
	Angle  float64
	Ease   float64 // length of each stretch of growing curvature, m
}

// Straight gives a straight of a length in m.
func Straight(length float64) Piece { return Piece{Length: length} }

// Bend gives a bend of a radius in m through an angle in degrees, positive to the
// left, with stretches of growing curvature of a length in m.
func Bend(radius, degrees, ease float64) Piece {
	return Piece{Radius: radius, Angle: degrees * math.Pi / 180, Ease: ease}
}

// length gives the piece's length, and curvature its curvature at a distance s into
// it.
func (p Piece) length() float64 {
	if p.Radius == 0 {
		return p.Length
	}
	return math.Abs(p.Angle)*p.Radius + p.Ease
}

func (p Piece) curvature(s float64) float64 {
	if p.Radius == 0 {
		return 0
	}
	k := math.Copysign(1/p.Radius, p.Angle)
	l := p.length()
	switch {
	case p.Ease > 0 && s < p.Ease:
		return k * s / p.Ease
	case p.Ease > 0 && s > l-p.Ease:
		return k * (l - s) / p.Ease
	}
	return k
}

// spacing is the distance between the places kept of a path, m: chords of it stay
// within half a millimetre of a bend of 15 m.
const spacing = 0.25

// Path is a line to be driven along, by station in m.
type Path struct {
	Closed    bool
	Length    float64
	at        []Point
	heading   []float64
	curvature []float64
	Bends     []Bent
}

// Bent says where a bend of the path lies: stations at which its curvature begins
// and ends, its radius in m and angle in rad.
type Bent struct{ From, To, Radius, Angle float64 }

// Draw draws a path from a place along pieces.
func Draw(from Point, heading float64, pieces ...Piece) *Path {
	p := &Path{}
	for _, q := range pieces {
		if q.Radius != 0 {
			p.Bends = append(p.Bends, Bent{From: p.Length, To: p.Length + q.length(), Radius: q.Radius, Angle: q.Angle})
		}
		p.Length += q.length()
	}
	n := int(math.Ceil(p.Length / spacing))
	// Curvature is integrated by the midpoint rule in tenths of the spacing.
	const parts = 10
	step := spacing / parts
	at, piece, into := from, 0, 0.0
	put := func(k float64) {
		p.at, p.heading, p.curvature = append(p.at, at), append(p.heading, heading), append(p.curvature, k)
	}
	k := func(d float64) float64 {
		for piece < len(pieces)-1 && into+d > pieces[piece].length() {
			into -= pieces[piece].length()
			piece++
		}
		return pieces[piece].curvature(math.Max(0, into+d))
	}
	put(k(0))
	for range n {
		for range parts {
			c := k(step / 2)
			mid := heading + c*step/2
			sin, cos := math.Sincos(mid)
			chord := step * (1 - c*c*step*step/24)
			at.East += chord * cos
			at.North += chord * sin
			heading += c * step
			into += step
		}
		put(k(0))
	}
	return p
}

// Loop draws a closed path: the lengths of the two straights named by their places
// among the pieces are found so that it ends where it began. The angles must add up
// to a full turn. A loop that would need a straight of less than 5 m is invalid.
func Loop(from Point, heading float64, first, second int, pieces ...Piece) (*Path, error) {
	turn := 0.0
	for _, q := range pieces {
		turn += q.Angle
	}
	if math.Abs(math.Abs(turn)-2*math.Pi) > 1e-9 {
		return nil, fault.New(fault.Invalid, "the bends turn by %.1f°, not by a full turn", turn*180/math.Pi)
	}
	pieces = append([]Piece(nil), pieces...)
	// Straights only shift what follows them, so the gap is linear in their lengths.
	heads := make([]float64, len(pieces))
	h := heading
	for i, q := range pieces {
		heads[i] = h
		h += q.Angle
	}
	pieces[first].Length, pieces[second].Length = 0, 0
	for range 3 { // twice would do; the third takes the rounding of the last spacing out
		p := Draw(from, heading, pieces...)
		end := p.Point(p.Length)
		de, dn := from.East-end.East, from.North-end.North
		s1, c1 := math.Sincos(heads[first])
		s2, c2 := math.Sincos(heads[second])
		det := c1*s2 - s1*c2
		if math.Abs(det) < 0.1 {
			return nil, fault.New(fault.Invalid, "the two straights run the same way, and cannot close the loop")
		}
		pieces[first].Length += (de*s2 - dn*c2) / det
		pieces[second].Length += (c1*dn - s1*de) / det
	}
	for _, i := range []int{first, second} {
		if pieces[i].Length < 5 {
			return nil, fault.New(fault.Invalid, "piece %d would have to be %.1f m long to close the loop", i+1, pieces[i].Length)
		}
	}
	p := Draw(from, heading, pieces...)
	p.Closed = true
	return p, nil
}

// Mirrored gives the path with left and right exchanged about its start's direction.
func (p *Path) Mirrored() *Path {
	q := *p
	sin, cos := math.Sincos(2 * p.heading[0])
	o := p.at[0]
	q.at, q.heading, q.curvature, q.Bends = nil, nil, nil, nil
	for i, a := range p.at {
		e, n := a.East-o.East, a.North-o.North
		q.at = append(q.at, Point{o.East + e*cos + n*sin, o.North + e*sin - n*cos})
		q.heading = append(q.heading, 2*p.heading[0]-p.heading[i])
		q.curvature = append(q.curvature, -p.curvature[i])
	}
	for _, b := range p.Bends {
		b.Angle = -b.Angle
		q.Bends = append(q.Bends, b)
	}
	return &q
}

// wrap brings a station of a closed path into it; the ends of an open one go on
// straight.
func (p *Path) wrap(s float64) float64 {
	if p.Closed {
		s = math.Mod(s, p.Length)
		if s < 0 {
			s += p.Length
		}
	}
	return s
}

func (p *Path) index(s float64) (i int, part float64) {
	x := s / spacing
	i = int(math.Floor(x))
	i = max(0, min(i, len(p.at)-2))
	return i, x - float64(i)
}

// Point gives the place at a station.
func (p *Path) Point(s float64) Point {
	s = p.wrap(s)
	i, u := p.index(s)
	a, b := p.at[i], p.at[i+1]
	return Point{a.East + u*(b.East-a.East), a.North + u*(b.North-a.North)}
}

// Heading gives the direction at a station, rad, going on over full turns.
func (p *Path) Heading(s float64) float64 {
	laps := 0.0
	if p.Closed {
		laps = math.Floor(s / p.Length)
	}
	i, u := p.index(p.wrap(s))
	if u > 1 {
		u = 1
	} else if u < 0 {
		u = 0
	}
	return p.heading[i] + u*(p.heading[i+1]-p.heading[i]) + laps*(p.heading[len(p.heading)-1]-p.heading[0])
}

// Curvature gives it at a station, 1/m, none beyond the ends of an open path.
func (p *Path) Curvature(s float64) float64 {
	s = p.wrap(s)
	if s < 0 || s > p.Length {
		return 0
	}
	i, u := p.index(s)
	return p.curvature[i] + u*(p.curvature[i+1]-p.curvature[i])
}

// Locate gives station and offset of a place near a station that is known roughly:
// the last one, half a metre ago. The station of a closed path goes on over laps.
func (p *Path) Locate(q Point, near float64) (station, offset float64) {
	station = near
	for range 3 {
		at := p.Point(station)
		sin, cos := math.Sincos(p.Heading(station))
		de, dn := q.East-at.East, q.North-at.North
		offset = dn*cos - de*sin
		along := de*cos + dn*sin
		scale := 1 - p.Curvature(station)*offset
		if scale < 0.3 {
			scale = 0.3
		}
		station += along / scale
		if math.Abs(along) < 1e-4 {
			break
		}
	}
	return station, offset
}

// Find gives station and offset of a place with nothing known before: the nearest
// of the places kept.
func (p *Path) Find(q Point) (station, offset float64) {
	best := math.Inf(1)
	for i, a := range p.at {
		if d := math.Hypot(a.East-q.East, a.North-q.North); d < best {
			best, station = d, float64(i)*spacing
		}
	}
	return p.Locate(q, station)
}

// Beside gives the place at a station and an offset to the left of the path.
func (p *Path) Beside(station, offset float64) Point {
	at := p.Point(station)
	sin, cos := math.Sincos(p.Heading(station))
	return Point{at.East - offset*sin, at.North + offset*cos}
}

// Gate is a directed line by its right and its left post as driven.
type Gate struct{ Right, Left Point }

// Gate gives the gate across the path at a station, of a half-width in m.
func (p *Path) Gate(station, half float64) Gate {
	return Gate{Right: p.Beside(station, -half), Left: p.Beside(station, half)}
}

// Profile is values by station, straight between its knots, level beyond them.
type Profile struct{ Station, Value []float64 }

// At gives the value at a station.
func (f Profile) At(s float64) float64 {
	n := len(f.Station)
	if n == 0 {
		return 0
	}
	i := sort.SearchFloat64s(f.Station, s)
	switch {
	case i == 0:
		return f.Value[0]
	case i == n:
		return f.Value[n-1]
	}
	u := (s - f.Station[i-1]) / (f.Station[i] - f.Station[i-1])
	return f.Value[i-1] + u*(f.Value[i]-f.Value[i-1])
}
