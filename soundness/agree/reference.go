package agree

import (
	"math"

	"example.org/bookend/course"
	"example.org/bookend/signal"
)

// How channels are compared; own choices.
const (
	GridStep    = 0.05 // s
	UsefulBand  = 1.5  // Hz; body and tyres follow the driver below it, and receivers are still quick enough
	MovingSpeed = 3.0  // m/s, from which on a course means something
	LongestLag  = 1.0  // s, of a channel that is late
)

// Reference is what a recording lets expect of its channels: series on one grid,
// filtered alike, and what each rests on.
type Reference struct {
	Grid Grid
	Band float64 // Hz

	Speed   Series            // m/s over ground; nil grid where there is none
	Turn    Series            // rad/s, at which the course turns
	Along   Series            // m/s², change of speed
	Across  Series            // m/s², to the left
	BySpeed string            // what speed rests on, in words
	ByTurn  string            // what turn and across rest on; empty where there are none
	Ground  []*signal.Channel // channels that speed and course were taken from: not to be judged by themselves
	Clock   *signal.Base      // the base that they stand on
}

// HasSpeed tells whether anything says how fast the vehicle goes.
func (r *Reference) HasSpeed() bool { return r.BySpeed != "" }

// HasTurn tells whether a course says how it turns.
func (r *Reference) HasTurn() bool { return r.ByTurn != "" }

// On gives a channel on the reference's grid, filtered as it is.
func (r *Reference) On(c *signal.Channel) Series { return On(c, r.Grid).Low(r.Band) }

// Path gives the velocity over ground, east and north in m/s, that positions show.
func Path(rec *signal.Recording, g Grid, band float64) (e, n Series, from []*signal.Channel, ok bool) {
	a, b := rec.ByRole(signal.Latitude), rec.ByRole(signal.Longitude)
	if a != nil && b != nil && a.Base == b.Base && len(a.Valid) > 0 {
		i := a.Valid[0].From
		plane := course.NewPlane(course.Position{Latitude: a.Values[i], Longitude: b.Values[i]})
		x := &signal.Channel{Base: a.Base, Values: make([]float64, a.Len()), Valid: a.Valid}
		y := &signal.Channel{Base: a.Base, Values: make([]float64, a.Len()), Valid: a.Valid}
		for i := range a.Values {
			if a.ValidAt(i) && b.ValidAt(i) {
				p := plane.Place(a.Values[i], b.Values[i])
				x.Values[i], y.Values[i] = p.East, p.North
			}
		}
		from = []*signal.Channel{a, b}
		a, b = x, y
	} else if a, b = rec.ByRole(signal.East), rec.ByRole(signal.North); a != nil && b != nil {
		from = []*signal.Channel{a, b}
	} else {
		return e, n, nil, false
	}
	return On(a, g).Low(band).Slope(), On(b, g).Low(band).Slope(), from, true
}

// Velocity gives the velocity over ground, east and north in m/s, as measured.
func Velocity(rec *signal.Recording, g Grid, band float64) (e, n Series, from []*signal.Channel, ok bool) {
	if a, b := rec.ByRole(signal.VelocityEast), rec.ByRole(signal.VelocityNorth); a != nil && b != nil {
		return On(a, g).Low(band), On(b, g).Low(band), []*signal.Channel{a, b}, true
	}
	way := rec.ByRole(signal.CourseAngle)
	if way == nil {
		return e, n, nil, false
	}
	for _, c := range rec.Channels {
		if c.Role != signal.Speed || c.Base != way.Base {
			continue
		}
		x := &signal.Channel{Base: c.Base, Values: make([]float64, c.Len())}
		y := &signal.Channel{Base: c.Base, Values: make([]float64, c.Len())}
		for i, v := range c.Values {
			if !c.ValidAt(i) || !way.ValidAt(i) {
				continue
			}
			sin, cos := math.Sincos(way.Values[i])
			x.Values[i], y.Values[i] = v*sin, v*cos
			if n := len(x.Valid); n > 0 && x.Valid[n-1].To == i {
				x.Valid[n-1].To++
			} else {
				x.Valid = append(x.Valid, signal.Span{From: i, To: i + 1})
			}
		}
		y.Valid = x.Valid
		return On(x, g).Low(band), On(y, g).Low(band), []*signal.Channel{c, way}, true
	}
	return e, n, nil, false
}

// Length gives the speed of a velocity.
func Length(e, n Series) Series {
	return Of(func(v ...float64) (float64, bool) { return math.Hypot(v[0], v[1]), true }, e, n)
}

// Bend fills in what a velocity lets expect of a vehicle's accelerations and of its
// yaw rate.
func (r *Reference) Bend(e, n Series) {
	de, dn := e.Slope(), n.Slope()
	r.Speed = Length(e, n)
	r.Turn = Of(func(v ...float64) (float64, bool) {
		s := v[0]*v[0] + v[1]*v[1]
		return (v[0]*v[3] - v[1]*v[2]) / s, s > MovingSpeed*MovingSpeed
	}, e, n, de, dn)
	r.Across = Of(func(v ...float64) (float64, bool) {
		s := math.Hypot(v[0], v[1])
		return (v[0]*v[3] - v[1]*v[2]) / s, s > MovingSpeed
	}, e, n, de, dn)
	r.Along = Of(func(v ...float64) (float64, bool) {
		s := math.Hypot(v[0], v[1])
		return (v[0]*v[2] + v[1]*v[3]) / s, s > MovingSpeed
	}, e, n, de, dn)
}
