// Package cones lays markers out on the ground: a slalom, and both lane changes of
// ISO 3888, for a vehicle's width.
//
// Stations run along the axis of the first lane or of the row of markers, from
// the entry on; offsets to its left are positive (ISO 8855), from the middle of
// the entry. Lengths are in m. The sheet is what whoever sets the cones out reads:
// each cone by its number, station and offset of its centre. The edge of a lane is
// tangent to the base circle of its cones, so that a cone's centre stands half a
// base outside of the edge.
//
// Sources: ISO 3888-1:1999 and ISO 3888-2:2011 as docs/sources has them, lengths
// and widths mostly from memory; the slalom is common practice. Limits: a level
// straight; what the ground's own rules ask for comes first.
package cones

import (
	"fmt"
	"math"

	"example.org/bookend/fault"
)

// Kind names a lay-out.
type Kind string

// The lay-outs.
const (
	DoubleLaneChange Kind = "iso-3888-1"
	Obstacle         Kind = "iso-3888-2"
	Slalom           Kind = "slalom"
)

// Request asks for a lay-out. The zero value of a field is its default.
type Request struct {
	Kind    Kind
	WidthM  float64 // of the vehicle, without mirrors
	Right   bool    // the first change, or the first marker's side, is to the right
	ApartM  float64 // of the cones along a lane's edge, at most; default 5 m
	BaseM   float64 // diameter of a cone's base; default 0.3 m
	Markers int     // of the slalom; default 7
	SpaceM  float64 // from marker to marker; default 18 m
	Exit    Exit    // of the exit lane of ISO 3888-2; default at least 3 m
}

// Exit says what the 3 m of the exit lane of ISO 3888-2 are: the clause is
// remembered either way, so it is a setting.
type Exit string

// Ways to read it.
const (
	ExitAtLeast Exit = "at_least_3_m"
	ExitAtMost  Exit = "at_most_3_m"
	ExitFormula Exit = "not_bounded"
)

// exitBound is the width in m that bounds the exit lane of ISO 3888-2: clause on
// dimensions, from memory.
const exitBound = 3.0

// Defaults. Cones at most 5 m apart: the Chinese ESC standard's annex A, seen in
// translation; a base of 0.3 m: bookend's own, a cone of half a metre has about
// that; spacing and number of a slalom: common practice.
const (
	defaultApart   = 5.0
	defaultBase    = 0.3
	defaultMarkers = 7
	defaultSpace   = 18.0
)

// Lane is a way between cones: stations along it, edges as offsets, in m.
type Lane struct {
	Name        string
	From, To    float64
	Right, Left float64
}

// Width gives the lane's width in m.
func (l Lane) Width() float64 { return l.Left - l.Right }

// Cone is one cone: its centre, in m.
type Cone struct {
	Number  int
	Of      string  // lane or "marker 3"
	Side    string  // "left" or "right" edge of its lane; of a marker, on which side it is passed
	Station float64 // along the axis
	Offset  float64 // to the left
}

// Section is one stretch between marked stations, for the dimension line.
type Section struct {
	Name     string
	From, To float64
}

// Layout is a lay-out set out for one vehicle.
type Layout struct {
	Request  Request // completed
	Title    string
	Lanes    []Lane
	Sections []Section
	Cones    []Cone
	LengthM  float64 // from the first to the last cone or end of lane
	Notes    []string
}

func (r Request) complete() Request {
	if r.ApartM == 0 {
		r.ApartM = defaultApart
	}
	if r.BaseM == 0 {
		r.BaseM = defaultBase
	}
	if r.Markers == 0 {
		r.Markers = defaultMarkers
	}
	if r.SpaceM == 0 {
		r.SpaceM = defaultSpace
	}
	if r.Exit == "" {
		r.Exit = ExitAtLeast
	}
	return r
}

func (r Request) check() error {
	between := func(what string, v, low, high float64) error {
		if !(v >= low && v <= high) {
			return fault.New(fault.Invalid, "%s is %v m", what, v).WithHint("between %g m and %g m", low, high)
		}
		return nil
	}
	for _, c := range []struct {
		what      string
		v         float64
		low, high float64
	}{
		{"the vehicle's width", r.WidthM, 0.5, 4}, {"the distance between cones", r.ApartM, 0.5, 50},
		{"a cone's base", r.BaseM, 0.05, 1}, {"the spacing of the markers", r.SpaceM, 2, 500},
	} {
		if err := between(c.what, c.v, c.low, c.high); err != nil {
			return err
		}
	}
	if r.Markers < 2 || r.Markers > 50 {
		return fault.New(fault.Invalid, "a slalom of %d markers", r.Markers).WithHint("2 to 50")
	}
	switch r.Exit {
	case ExitAtLeast, ExitAtMost, ExitFormula:
	default:
		return fault.New(fault.Invalid, "%q is no way to read the exit lane's bound", r.Exit).WithHint("at_least_3_m, at_most_3_m or not_bounded")
	}
	return nil
}

// Lay lays out.
func Lay(r Request) (*Layout, error) {
	r = r.complete()
	if err := r.check(); err != nil {
		return nil, err
	}
	l := &Layout{Request: r}
	switch r.Kind {
	case DoubleLaneChange:
		l.double()
	case Obstacle:
		l.obstacle()
	case Slalom:
		l.slalom()
	default:
		return nil, fault.New(fault.Invalid, "%q is no lay-out", r.Kind).WithHint("iso-3888-1, iso-3888-2 or slalom")
	}
	if r.Right {
		l.mirror()
	}
	for i := range l.Cones {
		l.Cones[i].Number = i + 1
	}
	return l, nil
}

// wide gives a lane's width by the vehicle's.
func (l *Layout) wide(times, plus float64) float64 { return times*l.Request.WidthM + plus }

func (l *Layout) lane(name string, from, length, right, width float64) {
	lane := Lane{Name: name, From: from, To: from + length, Right: right, Left: right + width}
	l.Lanes = append(l.Lanes, lane)
	half := l.Request.BaseM / 2
	pairs := int(math.Ceil(length/l.Request.ApartM - 1e-9))
	for i := range pairs + 1 {
		at := from + length*float64(i)/float64(pairs)
		l.Cones = append(l.Cones,
			Cone{Of: name, Side: "right", Station: at, Offset: lane.Right - half},
			Cone{Of: name, Side: "left", Station: at, Offset: lane.Left + half})
	}
}

// double is ISO 3888-1: sections of 15, 30, 25, 25, 15 and 15 m, the side lane
// 3.5 m aside, counted from right edge to right edge.
func (l *Layout) double() {
	l.Title = "Double lane change, ISO 3888-1"
	right := -l.wide(1.1, 0.25) / 2
	l.lane("entry lane", 0, 15, right, l.wide(1.1, 0.25))
	l.lane("side lane", 45, 25, right+3.5, l.wide(1.2, 0.25))
	l.lane("exit lane", 95, 15, right, l.wide(1.3, 0.25))
	l.lane("last lane", 110, 15, right, l.wide(1.3, 0.25))
	l.sections(15, 30, 25, 25, 15, 15)
	l.once()
	l.Notes = append(l.Notes, "From which edge the 3.5 m count is our own reading: from right edge to right edge.")
}

// obstacle is ISO 3888-2: sections of 12, 13.5, 11, 12.5 and 12 m, the side lane's
// right edge 1 m to the left of the entry lane's left one.
func (l *Layout) obstacle() {
	l.Title = "Obstacle avoidance, ISO 3888-2"
	entry := l.wide(1.1, 0.25)
	l.lane("entry lane", 0, 12, -entry/2, entry)
	l.lane("side lane", 25.5, 11, entry/2+1, l.wide(1, 1))
	last := l.wide(1.3, 0.25)
	switch l.Request.Exit {
	case ExitAtLeast:
		last = max(last, exitBound)
	case ExitAtMost:
		last = min(last, exitBound)
	}
	l.lane("exit lane", 49, 12, -entry/2, last)
	l.sections(12, 13.5, 11, 12.5, 12)
	l.Notes = append(l.Notes, "The throttle is released 2 m after the entry; the speed is measured there.",
		"Whether the exit lane is 3 m wide at least or at most is remembered either way: it is a setting.")
}

// slalom is a row of markers on the axis, passed on alternate sides, between two
// gates of the entry lane's width one spacing before and after.
func (l *Layout) slalom() {
	r := l.Request
	l.Title = fmt.Sprintf("Slalom of %d markers, %g m apart", r.Markers, r.SpaceM)
	width := l.wide(1.1, 0.25)
	half := r.BaseM / 2
	gate := func(name string, at float64) {
		l.Lanes = append(l.Lanes, Lane{Name: name, From: at, To: at, Right: -width / 2, Left: width / 2})
		l.Cones = append(l.Cones,
			Cone{Of: name, Side: "right", Station: at, Offset: -width/2 - half},
			Cone{Of: name, Side: "left", Station: at, Offset: width/2 + half})
	}
	gate("first gate", 0)
	for i := range r.Markers {
		side := "left"
		if i%2 == 1 {
			side = "right"
		}
		l.Cones = append(l.Cones, Cone{Of: fmt.Sprintf("marker %d", i+1), Side: side, Station: r.SpaceM * float64(i+1)})
	}
	gate("last gate", r.SpaceM*float64(r.Markers+1))
	lengths := make([]float64, r.Markers+1)
	for i := range lengths {
		lengths[i] = r.SpaceM
	}
	l.sections(lengths...)
	l.Notes = append(l.Notes, "Markers stand on the axis; the side is that on which the vehicle passes. The gates have the width of the entry lane of ISO 3888.")
}

func (l *Layout) sections(lengths ...float64) {
	at := 0.0
	for i, n := range lengths {
		l.Sections = append(l.Sections, Section{Name: fmt.Sprint(i + 1), From: at, To: at + n})
		at += n
	}
	l.LengthM = at
}

// once takes out a cone that stands where another does: lanes that follow one
// another share them.
func (l *Layout) once() {
	var out []Cone
	for _, c := range l.Cones {
		twice := false
		for _, o := range out {
			twice = twice || math.Abs(o.Station-c.Station) < 1e-9 && math.Abs(o.Offset-c.Offset) < 1e-9
		}
		if !twice {
			out = append(out, c)
		}
	}
	l.Cones = out
}

// mirror turns the lay-out for a first change to the right.
func (l *Layout) mirror() {
	other := map[string]string{"left": "right", "right": "left"}
	for i := range l.Lanes {
		l.Lanes[i].Right, l.Lanes[i].Left = -l.Lanes[i].Left, -l.Lanes[i].Right
	}
	for i := range l.Cones {
		l.Cones[i].Offset = 0 - l.Cones[i].Offset
		l.Cones[i].Side = other[l.Cones[i].Side]
	}
}
