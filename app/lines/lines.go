// Package lines lays the paths of a test's runs over each other as seen from above: the
// mean line of each code with its spread, where codes are at any station, the time that
// each has gained on the control by then, the room between any two, and whole runs to be
// driven again from a common gate.
//
// In the trade this is where an evaluator looks for the reason of a number: who runs
// wide, and where the time goes. It is description: means of stints without correction
// for drift; verdicts are room compare's.
//
// Times in s, places and stations in m, speeds in m/s. Laps are laid onto the path of
// the first one, the control's; straight manoeuvres have stations of their own, and runs
// that go the other way round the first marker or lane are turned over; where cones stand
// and the body's width is told, the room between its corners and them. Low and High are
// 95 % intervals of each mean, by Student's t over the scatter of all codes' stints, as
// procedure.Means has them; the spread is that of single runs. Limits: a run without a
// path is left out; a run that is driven again is thinned to what lies within thinTo of it.
package lines

import (
	"math"
	"slices"

	"example.org/bookend/course"
	"example.org/bookend/procedure"
)

// Lines is the paths of a test.
type Lines struct {
	Control  string    `json:"control"`
	Closed   bool      `json:"closed"`  // a lap: the line ends where it begins
	Station  []float64 `json:"station"` // m, at which everything below is given
	Codes    []Line    `json:"codes"`   // the control first
	Cones    []Place   `json:"cones,omitempty"`
	Ways     []Way     `json:"ways,omitempty"`
	Straight bool      `json:"straight"` // places are station and offset, not east and north

	paths []path
}

// Place is a place in m: east and north, or station and offset.
type Place struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
}

// Way is a lane between cones, in m of station and of offset to the left.
type Way struct {
	From  float64 `json:"from"`
	To    float64 `json:"to"`
	Left  float64 `json:"left"`
	Right float64 `json:"right"`
}

// Line is one code's mean line, by station. Gain and Aside are against the control's
// mean; Low and High are nil where no code has two stints, Spread for
// fewer than two runs.
type Line struct {
	Code   string    `json:"code"`
	Runs   int       `json:"runs"`
	Stints int       `json:"stints"`
	X      []float64 `json:"x"`
	Y      []float64 `json:"y"`
	Aside  []float64 `json:"offset"` // m to the left of the control's line
	Low    []float64 `json:"low,omitempty"`
	High   []float64 `json:"high,omitempty"`
	Spread []float64 `json:"spread,omitempty"` // m, standard deviation of single runs' offsets
	Gain   []float64 `json:"time"`             // s gained since the first station
	Speed  []float64 `json:"speed,omitempty"`
	Body   *Body     `json:"body,omitempty"`
	Driven Driven    `json:"run"`
}

// Driven is one whole run, in time. A line's own is that run of its code whose time is
// the middle one's.
type Driven struct {
	Code  string    `json:"code"`
	Run   string    `json:"run"`
	Stint string    `json:"stint"`
	T     []float64 `json:"t"` // s from the first station
	S     []float64 `json:"station"`
	X     []float64 `json:"x"`
	Y     []float64 `json:"y"`
}

// path is one run's way.
type path struct {
	code, stint, run string
	s, t, x, y       []float64
	off              []float64 // to the left of what stations are counted along
	cut              float64   // s from the run's cut to the first place
	timed            bool      // cut is known
	body             sides
	speedS, speed    []float64
	speedAt          float64 // at the last place taken
}

// least is the fewest samples that make a path (own choice).
const least = 10

// Lay lays runs over each other, the control's first. It gives nil where fewer than two
// codes have a path.
func Lay(in []procedure.Overlaid) *Lines {
	l := &Lines{}
	var all []path
	var line *course.Line
	for _, o := range in {
		if p, ok := lap(o, &line); ok {
			all = append(all, p)
		}
	}
	if l.Closed = len(all) > 0; !l.Closed {
		l.Straight = true
		for _, o := range in {
			p, ok := straight(o, l)
			if ok {
				all = append(all, p)
			}
		}
	}
	var laid []procedure.Overlaid
	for _, p := range all {
		tr := func(id string, y []float64) procedure.Trace { return procedure.Trace{ID: id, X: p.s, Y: y} }
		o := procedure.Overlaid{Code: p.code, Stint: p.stint, Run: p.run, Traces: []procedure.Trace{tr("x", p.x), tr("y", p.y), tr("t", p.t), tr("off", p.off)}}
		if len(p.body.s) > 1 {
			o.Traces = append(o.Traces, procedure.Trace{ID: "left", X: p.body.s, Y: p.body.left}, procedure.Trace{ID: "right", X: p.body.s, Y: p.body.right})
		}
		if len(p.speedS) > 1 {
			o.Traces = append(o.Traces, procedure.Trace{ID: "v", X: p.speedS, Y: p.speed})
		}
		laid = append(laid, o)
	}
	xs, ys, ts, offs, vs := procedure.Means(laid, "x"), procedure.Means(laid, "y"), procedure.Means(laid, "t"), procedure.Means(laid, "off"), procedure.Means(laid, "v")
	if len(xs) < 2 {
		return nil
	}
	lefts, rights := procedure.Means(laid, "left"), procedure.Means(laid, "right")
	l.Control, l.Station, l.paths = xs[0].Code, xs[0].X, all
	for i, m := range xs {
		q := Line{Code: m.Code, Runs: m.Runs, Stints: m.Stints, X: m.Y, Y: ys[i].Y}
		for k := range l.Station {
			q.Aside = append(q.Aside, offs[i].Y[k]-offs[0].Y[k])
			q.Gain = append(q.Gain, (ts[0].Y[k]-ts[0].Y[0])-(ts[i].Y[k]-ts[i].Y[0]))
		}
		if offs[i].Low != nil {
			for k := range l.Station {
				q.Low = append(q.Low, offs[i].Low[k]-offs[0].Y[k])
				q.High = append(q.High, offs[i].High[k]-offs[0].Y[k])
			}
		}
		for _, v := range vs {
			if v.Code == m.Code {
				for _, s := range l.Station {
					y, _, _ := v.At(math.Min(math.Max(s, v.X[0]), v.X[len(v.X)-1]))
					q.Speed = append(q.Speed, y)
				}
			}
		}
		q.Body = body(q.Code, lefts, rights, l.Station)
		q.Spread = spread(all, m.Code, l.Station)
		q.Driven = middle(all, m.Code)
		l.Codes = append(l.Codes, q)
	}
	return l
}

// middle gives the run of a code whose time is the middle one of all, the earlier of two.
func middle(all []path, code string) Driven {
	var own []path
	for _, p := range all {
		if p.code == code {
			own = append(own, p)
		}
	}
	lasts := func(p path) float64 { return p.t[len(p.t)-1] - p.t[0] }
	slices.SortStableFunc(own, func(a, b path) int {
		switch {
		case lasts(a) < lasts(b):
			return -1
		case lasts(a) > lasts(b):
			return 1
		}
		return 0
	})
	return own[(len(own)-1)/2].driven()
}

func trace(o procedure.Overlaid, id string) (procedure.Trace, bool) {
	for _, tr := range o.Traces {
		if tr.ID == id && len(tr.X) >= least {
			return tr, true
		}
	}
	return procedure.Trace{}, false
}

// lap takes a run's path east and north; line is what stations are counted along, learnt
// from the first lap.
func lap(o procedure.Overlaid, line **course.Line) (path, bool) {
	e, ok1 := trace(o, "east_by_time")
	n, ok2 := trace(o, "north_by_time")
	if !ok1 || !ok2 || len(e.X) != len(n.X) {
		return path{}, false
	}
	at := make([]course.Point, len(e.X))
	for i := range at {
		at[i] = course.Point{East: e.Y[i], North: n.Y[i]}
	}
	if *line == nil {
		q, err := course.Learn(at, true, 1)
		if err != nil {
			return path{}, false // no closed lap to lay others onto
		}
		*line = q
	}
	s, off := (*line).Follow(at)
	s = (*line).Unwrap(s)
	first := s[0]
	p := path{code: o.Code, stint: o.Stint, run: o.Run}
	for i := range s {
		if k := len(p.s); k == 0 || s[i]-first > p.s[k-1] {
			p.s, p.t = append(p.s, s[i]-first), append(p.t, e.X[i])
			p.x, p.y, p.off = append(p.x, at[i].East), append(p.y, at[i].North), append(p.off, off[i])
		}
	}
	if v, ok := trace(o, "speed_by_station"); ok {
		p.speedS, p.speed = v.X, v.Y
	}
	if c, ok := trace(o, procedure.TimeFromCut); ok {
		p.cut, p.timed = c.Y[0], true // it begins at the gate, as the path does
	}
	return p, len(p.s) >= least
}

// straight takes a run's path by station and offset, and what it is driven round.
func straight(o procedure.Overlaid, l *Lines) (path, bool) {
	off, ok := trace(o, "offset_by_station")
	v, ok2 := trace(o, "speed_by_station")
	if !ok || !ok2 {
		return path{}, false
	}
	sign := 1.0
	for _, tr := range o.Traces {
		if tr.ID == "markers" && len(tr.X) > 0 {
			if y, ok := course.ByStation(off.X, off.Y, tr.X[:1]); ok[0] && y[0] < 0 {
				sign = -1
			}
			if l.Cones == nil {
				for _, s := range tr.X {
					l.Cones = append(l.Cones, Place{s, 0})
				}
			}
		}
	}
	left, right := edges(o)
	if len(left.X) >= 4 && len(left.X) == len(right.X) {
		if left.Y[2]+right.Y[2] < left.Y[0]+right.Y[0] { // the side lane lies to the right
			sign = -1
		}
		if l.Ways == nil {
			for k := 0; k+1 < len(left.X); k += 2 {
				a, b := sign*left.Y[k], sign*right.Y[k]
				l.Ways = append(l.Ways, Way{From: left.X[k], To: left.X[k+1], Left: math.Max(a, b), Right: math.Min(a, b)})
			}
		}
	}
	p := path{code: o.Code, stint: o.Stint, run: o.Run, speedS: v.X, speed: v.Y}
	p.body = corners(o, sign)
	at, known := course.ByStation(v.X, v.Y, off.X)
	var since []float64 // s from the cut, where that is told
	clock, timed := trace(o, procedure.TimeFromCut)
	if timed {
		var there []bool
		since, there = course.ByStation(clock.X, clock.Y, off.X)
		for i := range known {
			known[i] = known[i] && there[i]
		}
	}
	t := 0.0
	for i := range off.X {
		if !known[i] || !(at[i] > 0) {
			continue
		}
		if timed && !p.timed {
			p.cut, p.timed = since[i], true
		}
		if k := len(p.s); k > 0 {
			t += (off.X[i] - p.s[k-1]) * 2 / (at[i] + p.speedAt)
		}
		if timed {
			t = since[i] - p.cut
		}
		p.speedAt = at[i]
		p.s, p.t, p.x = append(p.s, off.X[i]), append(p.t, t), append(p.x, off.X[i])
		p.y, p.off = append(p.y, sign*off.Y[i]), append(p.off, sign*off.Y[i])
	}
	return p, len(p.s) >= least
}

func edges(o procedure.Overlaid) (left, right procedure.Trace) {
	for _, tr := range o.Traces {
		switch tr.ID {
		case "left_edges":
			left = tr
		case "right_edges":
			right = tr
		}
	}
	return left, right
}
