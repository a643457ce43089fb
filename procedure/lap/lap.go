// Package lap turns one lap into its time and sector times, and into what the vehicle
// does in each corner: speeds, lateral grip, balance, corrections, what is left of the
// grip past its peak, and where tyres float on water.
//
// Source: common practice; positions by the conversions of IOGP Guidance Note
// 373-7-2 (room course). Times in s, lengths in m, speeds in m/s, offsets positive
// to the left. A gate is crossed between two samples: time and place are interpolated
// along the straight step between them. With accelerations and yaw rate positions are
// those of the motion that all sensors say together (room motion); without, they are as
// recorded. Recorded position and speed are not filtered.
//
// Corners are stretches in which the course bends, by its reference line or else by the
// lap's own path, and are numbered as driven. Angles in rad; steering at the wheel;
// lateral acceleration and sideslip by room motion, signs of ISO 8855.
//
// Limits: at 20 samples a second a crossing is good to some milliseconds, as far as
// the positions are; at one a second the step is longer than a bend, and nothing
// below some tenths of a second means anything. Lengths are those of the driven path
// in the course's plane. Sideslip is known as well as the sensors let it be: its
// standard deviation is room motion's. A wheel that spins or locks is not told from one
// that floats but by how hard the vehicle brakes or accelerates. Scatter from lap to lap
// is room compare's.
package lap

import (
	_ "embed"
	"math"
	"slices"
	"strconv"

	"example.org/bookend/caveat"
	"example.org/bookend/course"
	"example.org/bookend/fault"
	"example.org/bookend/motion"
	"example.org/bookend/procedure"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
	"example.org/bookend/unit"
)

//go:embed help.md
var help string

type lap struct{}

// New gives the procedure.
func New() procedure.Procedure { return lap{} }

func (lap) Spec() programme.Spec { return spec }

func (lap) Help() string { return help }

// run is one lap being reduced.
type run struct {
	in     procedure.Input
	rec    *signal.Recording
	path   []course.Track
	motion *motion.Motion // nil where there is none
	place  caveat.Place
	out    procedure.Output
}

// passage is a crossing of a gate, and which.
type passage struct {
	course.Passage
	gate int
}

// Reduce turns one lap into observations.
func (lap) Reduce(in procedure.Input) (procedure.Output, error) {
	if len(in.Recordings) == 0 {
		return procedure.Output{}, fault.New(fault.Invalid, "run %s has no recording", in.Run)
	}
	r := &run{in: in, rec: in.Recordings[0]}
	r.place = caveat.Place{File: r.rec.Name, Run: in.Run}
	if err := r.reduce(); err != nil {
		return procedure.Output{}, fault.At(err, "%s", r.rec.Name)
	}
	return r.out, nil
}

func (r *run) doubt(code string, t float64, format string, args ...any) {
	p := r.place
	p.TimeS = caveat.At(t)
	r.out.Caveats.Add(code, p, format, args...)
}

func (r *run) give(measure, place string, value float64) {
	r.out.Observations = append(r.out.Observations, programme.Observation{Run: r.in.Run, Measure: measure, Place: place, Value: value})
}

func (r *run) reduce() error {
	if r.in.Course == nil || len(r.in.Course.Posts) == 0 {
		return fault.New(fault.Invalid, "a lap needs a gate").
			WithHint("give a gate as LAT,LON,LAT,LON in degrees, the right post as driven first")
	}
	lat, lon := r.rec.ByRole(signal.Latitude), r.rec.ByRole(signal.Longitude)
	if lat == nil || lon == nil {
		return fault.New(fault.Invalid, "a lap needs latitude and longitude, and the recording lacks them").
			WithHint("name the columns in a mapping file if they are there under other names")
	}
	step := lat.Base.Step()
	plane := r.in.Course.Plane()
	r.motion = r.smooth()
	if r.motion != nil && r.inertially() {
		r.path = []course.Track{path(r.motion)}
	} else {
		// The crossings at both ends lie between samples outside of the window.
		for _, p := range signal.Pair(lat, lon, r.in.FromS-2*step, r.in.ToS+2*step) {
			r.path = append(r.path, plane.Track(p.T, p.A, p.B))
		}
	}
	gates := r.in.Course.Gates()
	start, end, err := r.ends(gates[0], step)
	if err != nil {
		return err
	}
	r.rate(step, start)
	r.giveTime("lap_time", "", start, end)
	stops := []passage{{start, 0}}
	for k := 1; k < len(gates); k++ {
		p, ok := r.first(gates[k], stops[len(stops)-1].T, end.T)
		if !ok {
			near := math.Inf(1)
			for _, tr := range r.path {
				m, _ := tr.Between(start.T, end.T).Nearest(gates[k])
				near = math.Min(near, m)
			}
			r.doubt("gate_missed", start.T, "Gate %d is not crossed after gate %d, though the vehicle comes within %s of it; the sectors on both sides of it have no time.",
				k+1, stops[len(stops)-1].gate+1, unit.Metre.Format(near, 1, unit.Plain))
			continue
		}
		stops = append(stops, passage{p, k})
	}
	stops = append(stops, passage{end, len(gates)})
	for i := 1; len(gates) > 1 && i < len(stops); i++ {
		if stops[i].gate == stops[i-1].gate+1 {
			r.giveTime("sector_time", "sector "+strconv.Itoa(stops[i].gate), stops[i-1].Passage, stops[i].Passage)
		}
	}
	for _, p := range stops {
		place := "gate " + strconv.Itoa(p.gate+1)
		if p.gate == len(gates) {
			place = "finish"
		}
		r.give("gate_offset", place, p.Offset)
	}
	r.speeds(start.T, end.T)
	if tr, station, ok := r.distance(start.T, end.T); ok {
		r.handling(start.T, end.T, tr, station)
	}
	return nil
}

// handling gives what the vehicle does in the lap beside its time.
func (r *run) handling(from, to float64, tr course.Track, station []float64) {
	w := r.moves(from, to, tr, station)
	if w == nil {
		return
	}
	p := r.in.Parameters
	x, k := r.bend(tr, station)
	r.trace("curvature_by_station", "Curvature of the course by station", x, "m", k, "1/m")
	corners := rule(p).Find(x, k)
	r.take(w, corners)
	if w.steers && (p.Number(paramWheelbase) == 0 || p.Number(paramRatio) == 0) {
		r.doubt("balance_unknown", from, "Wheelbase and steering ratio are not stated, so that there is no neutral angle to hold the steering against.")
	}
	if w.slips && w.rearOfNull == 0 {
		r.doubt("rear_axle_unknown", from, "Where the rear axle lies is not stated; sideslip and lateral acceleration are those of the reference point, and what is kept past the peak is rougher.")
	}
	r.corrections(w)
	r.past(w)
	r.floating(w, corners)
}

// giveTime gives the time between two crossings, with its standard uncertainty where
// motion says how well positions are known.
func (r *run) giveTime(measure, place string, from, to course.Passage) {
	r.give(measure, place, to.T-from.T)
	if r.motion == nil || from.Speed <= 0 || to.Speed <= 0 {
		return
	}
	a, b := r.known(from.T), r.known(to.T)
	slow := r.in.Parameters.Number(paramPositionSD)
	if slow == 0 {
		slow = alone
	}
	// What both crossings share of the slow error cancels as far as they are driven the same way.
	shared := math.Exp(-(to.T-from.T)/slowFor) * math.Cos(a.direction-b.direction)
	u := math.Sqrt(a.sd*a.sd/(from.Speed*from.Speed) + b.sd*b.sd/(to.Speed*to.Speed) +
		slow*slow*(1/(from.Speed*from.Speed)+1/(to.Speed*to.Speed)-2*shared/(from.Speed*to.Speed)))
	r.out.Observations[len(r.out.Observations)-1].Uncertainty = &u
}

// The slow error of positions, as room motion has it: that of a receiver by itself in m,
// and for how long in s it keeps its value.
const (
	alone   = 1.5
	slowFor = 100.0
)

// ends gives the crossings of the first gate at which the lap begins and ends: the
// first and the last within the window.
func (r *run) ends(g course.Gate, step float64) (start, end course.Passage, err error) {
	var xs []course.Passage
	for _, tr := range r.path {
		for _, x := range tr.Crossings(g) {
			if x.T >= r.in.FromS-step && x.T <= r.in.ToS+step {
				xs = append(xs, x)
			}
		}
	}
	if len(xs) < 2 {
		near := math.Inf(1)
		for _, tr := range r.path {
			m, _ := tr.Nearest(g)
			near = math.Min(near, m)
		}
		err := fault.New(fault.Invalid, "gate 1 is crossed %d times between %.3f and %.3f s; a lap needs its start and its end", len(xs), r.in.FromS, r.in.ToS)
		if !math.IsInf(near, 1) {
			return start, end, err.WithHint("the vehicle comes within %s of it: check the posts and which is the right one as driven", unit.Metre.Format(near, 1, unit.Plain))
		}
		return start, end, err.WithHint("the recording has no positions there")
	}
	if len(xs) > 2 {
		r.doubt("gate_crossed_again", xs[1].T, "Gate 1 is crossed %d times within the lap; the first and the last count.", len(xs))
	}
	return xs[0], xs[len(xs)-1], nil
}

// first gives the first crossing of a gate after one time and before another.
func (r *run) first(g course.Gate, after, before float64) (course.Passage, bool) {
	for _, tr := range r.path {
		for _, x := range tr.Crossings(g) {
			if x.T > after && x.T < before {
				return x, true
			}
		}
	}
	return course.Passage{}, false
}

// rate tells of positions that come too seldom.
func (r *run) rate(step float64, start course.Passage) {
	for _, n := range spec.Needs {
		if n.Role == "latitude" && step > 1/n.LeastHz*1.02 { // stamps jitter
			r.doubt("low_rate", start.T, "Positions come %s times a second, and a step at the gate is %s long: a crossing is no better than what a vehicle does within it.",
				unit.Number(1/step, 1, unit.Plain), unit.Metre.Format(start.Speed*step, 1, unit.Plain))
		}
	}
}

// within gives the track that holds the whole lap; ok is false where positions are
// missing within it.
func (r *run) within(from, to float64) (course.Track, bool) {
	for _, tr := range r.path {
		if tr.T[0] <= from && tr.T[len(tr.T)-1] >= to {
			return tr.Between(from, to), true
		}
	}
	return course.Track{}, false
}

// distance gives the lap's length and what is drawn along it; and the lap's track with
// the station in m from the start gate of each of its points.
func (r *run) distance(from, to float64) (tr course.Track, station []float64, ok bool) {
	tr, ok = r.within(from, to)
	if !ok {
		r.doubt("position_missing", from, "Positions are missing within the lap, so that it has no length and is not drawn; a crossing of a gate may have been lost.")
		return tr, nil, false
	}
	along := tr.Along()
	r.give("lap_distance", "", along[len(along)-1])
	t := make([]float64, len(tr.T))
	for i := range t {
		t[i] = tr.T[i] - from
	}
	station = along
	if line := r.in.Course.Reference; line != nil {
		s, offset := line.Follow(tr.At)
		station = line.Unwrap(s)
		first := station[0]
		for i := range station {
			station[i] -= first
		}
		r.trace("offset_by_station", "Offset by station", station, "m", offset, "m")
		r.trace("time_by_station", "Time by station", station, "m", t, "s")
	}
	since := make([]float64, len(tr.T))
	for i := range since {
		since[i] = tr.T[i] - r.in.FromS
	}
	r.trace(procedure.TimeFromCut, "Time from the cut by station", station, "m", since, "s")
	// The path itself, to be seen from above; without a line it is also where Overlay
	// finds the station that laps share.
	var at, east, north []float64
	for i := range tr.T {
		if n := len(at); n == 0 || i == len(t)-1 || t[i]-at[n-1] >= placeEvery-1e-9 {
			at, east, north = append(at, t[i]), append(east, tr.At[i].East), append(north, tr.At[i].North)
		}
	}
	r.trace("east_by_time", "East of the course's origin by time", at, "s", east, "m")
	r.trace("north_by_time", "North of the course's origin by time", at, "s", north, "m")
	if v := r.speed(); v != nil {
		var x, y []float64
		for i, at := range tr.T {
			if value, ok := v.At(at); ok {
				x, y = append(x, station[i]), append(y, value)
			}
		}
		r.trace("speed_by_station", "Speed by station", x, "m", y, "m/s")
	}
	return tr, station, true
}

// placeEvery is how often in s a lap's path is handed on for figures (own choice: a metre
// at 20 m/s).
const placeEvery = 0.05

// trace adds a trace, places where the station does not advance left out.
func (r *run) trace(id, title string, x []float64, xUnit string, y []float64, yUnit string) {
	tr := procedure.Trace{ID: id, Title: title, XUnit: xUnit, YUnit: yUnit}
	for i := range x {
		if n := len(tr.X); n == 0 || x[i] > tr.X[n-1] {
			tr.X, tr.Y = append(tr.X, x[i]), append(tr.Y, y[i])
		}
	}
	if len(tr.X) > 1 {
		r.out.Traces = append(r.out.Traces, tr)
	}
}

// speed gives the speed over ground, from a channel or else from the positions; nil
// where there is neither.
func (r *run) speed() *signal.Channel {
	if c := r.rec.SpeedOverGround(); c != nil && len(c.Valid) > 0 {
		return c
	}
	c := &signal.Channel{Name: "speed by position", Role: signal.Speed, Unit: "m/s", Base: &signal.Base{}}
	for _, tr := range r.path {
		from := len(c.Values)
		for i := 1; i < len(tr.T); i++ {
			c.Base.T = append(c.Base.T, (tr.T[i-1]+tr.T[i])/2)
			c.Values = append(c.Values, tr.At[i-1].Distance(tr.At[i])/(tr.T[i]-tr.T[i-1]))
		}
		if len(c.Values) > from {
			c.Valid = append(c.Valid, signal.Span{From: from, To: len(c.Values)})
		}
	}
	if len(c.Valid) == 0 {
		return nil
	}
	return c
}

// speeds gives least and greatest speed and the time standing.
func (r *run) speeds(from, to float64) {
	v := r.speed()
	if v == nil {
		return
	}
	if v.Name == "speed by position" {
		r.doubt("speed_by_position", from, "There is no speed channel; speed is taken from step to step of the positions, with their noise.")
	}
	least, greatest, standing := math.Inf(1), math.Inf(-1), 0.0
	for _, s := range v.All() {
		w := s.Cut(from, to)
		if len(w.V) == 0 {
			continue
		}
		least, greatest = math.Min(least, slices.Min(w.V)), math.Max(greatest, slices.Max(w.V))
		for _, b := range w.Below(r.in.Parameters.Number(paramStandingSpeed)) {
			if b[1]-b[0] > r.in.Parameters.Number(paramStandingTime) {
				standing += b[1] - b[0]
			}
		}
	}
	if math.IsInf(least, 1) {
		r.doubt("no_speed", from, "Speed is missing within the lap.")
		return
	}
	if !v.Covers(from, to) && v.Name != "speed by position" {
		r.doubt("speed_missing", from, "Speed is missing in part of the lap; least, greatest and standing are those of the rest.")
	}
	r.give("least_speed", "", least)
	r.give("greatest_speed", "", greatest)
	r.give("standing_time", "", standing)
	if standing > 0 {
		r.doubt("standing", from, "The vehicle stood for %s within the lap: no lap to be averaged.", unit.Second.Format(standing, 1, unit.Plain))
	}
}
