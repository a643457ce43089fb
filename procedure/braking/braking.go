// Package braking turns a stop in a straight line into its distance and
// decelerations.
//
// Sources: UN R117 (window 80 to 20 km/h, average deceleration, force coefficient),
// UN R13-H (mean fully developed deceleration), ISO 21994 (correction by the square
// of speed); docs/sources says of each what was seen and what is from memory.
//
// Speeds in m/s, distances in m, times in s. The distance is the integral of speed
// by the trapezoidal rule between crossings that are interpolated between samples:
// the nearest sample would be up to 0.44 m wrong at 80 km/h and 50 Hz. Speed is not
// filtered. Rest is the first time that the speed falls to a small threshold; a
// body that swings back on its suspension reads as a negative speed and is left out.
//
// Limits: one straight stop at a time; nothing is corrected for slope, wind or brake
// temperature. Speed over ground is taken as it is: a scale error of it shows only
// where positions give a second distance.
package braking

import (
	_ "embed"
	"math"
	"slices"

	"example.org/bookend/caveat"
	"example.org/bookend/course"
	"example.org/bookend/fault"
	"example.org/bookend/procedure"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
	"example.org/bookend/unit"
)

//go:embed help.md
var help string

type braking struct{}

// New gives the procedure.
func New() procedure.Procedure { return braking{} }

func (braking) Spec() programme.Spec { return spec }

func (braking) Help() string { return help }

// stop is one run being reduced.
type stop struct {
	in    procedure.Input
	rec   *signal.Recording
	speed signal.Stretch // in the run's window
	place caveat.Place
	out   procedure.Output

	onset float64 // s
	v1    float64 // m/s at the onset
	rest  float64 // s; +Inf where the run does not come to rest
}

// window is where distance and time are measured.
type window struct {
	from, to float64 // s
	v1, v2   float64 // m/s at its ends
	n1, n2   float64 // m/s that it was to have
}

// Reduce turns one stop into observations.
func (braking) Reduce(in procedure.Input) (procedure.Output, error) {
	if len(in.Recordings) == 0 {
		return procedure.Output{}, fault.New(fault.Invalid, "run %s has no recording", in.Run)
	}
	s := &stop{in: in, rec: in.Recordings[0], rest: math.Inf(1)}
	s.place = caveat.Place{File: s.rec.Name, Run: in.Run}
	ch := s.rec.SpeedOverGround()
	if ch == nil {
		return procedure.Output{}, fault.New(fault.Invalid, "braking needs the speed over ground, and the recording has none").At("%s", s.rec.Name).
			WithHint("name the column in a mapping file if it is there under another name")
	}
	for _, st := range ch.All() {
		if c := st.Cut(in.FromS, in.ToS); len(c.T) > len(s.speed.T) {
			s.speed = c
		}
	}
	if len(s.speed.T) < 3 {
		return procedure.Output{}, fault.New(fault.Invalid, "speed has no valid stretch between %.3f and %.3f s", in.FromS, in.ToS).At("%s", s.rec.Name)
	}
	if s.speed.T[0] > in.FromS+1e-9 || s.speed.T[len(s.speed.T)-1] < in.ToS-1e-9 {
		s.doubt("speed_missing", in.FromS, "Speed is missing in part of the run; its longest valid stretch is used.")
	}
	if err := s.find(); err != nil {
		return procedure.Output{}, fault.At(err, "%s", s.rec.Name)
	}
	s.measure()
	return s.out, nil
}

func (s *stop) doubt(code string, t float64, format string, args ...any) {
	p := s.place
	p.TimeS = caveat.At(t)
	s.out.Caveats.Add(code, p, format, args...)
}

func (s *stop) give(measure, place string, value float64) {
	s.out.Observations = append(s.out.Observations, programme.Observation{Run: s.in.Run, Measure: measure, Place: place, Value: value})
}

// find finds onset and rest.
func (s *stop) find() error {
	p := s.in.Parameters
	rest := p.Number("rest_speed")
	low, high := rest, p.Number("least_entry")
	if p.Word("window") == windowSpeeds {
		low, high = math.Max(rest, p.Number("to_speed")), math.Max(low*1.01, 0.95*p.Number("from_speed"))
	}
	// The end: the first fall to the lower speed after the vehicle was fast.
	k := slices.IndexFunc(s.speed.V, func(v float64) bool { return v >= high })
	if k < 0 {
		return fault.New(fault.Invalid, "the run never reaches %s, from which the window is measured", speed(high)).
			WithHint("its highest speed is %s; choose other speeds", speed(slices.Max(s.speed.V)))
	}
	tail := signal.Stretch{T: s.speed.T[k:], V: s.speed.V[k:]}
	ends := tail.Crossings(low, signal.Falling)
	if len(ends) == 0 {
		return fault.New(fault.Invalid, "the run never falls to %s after %.3f s", speed(low), s.speed.T[k]).
			WithHint("it ends at %s; choose a lower speed above that", speed(s.speed.V[len(s.speed.V)-1]))
	}
	end := ends[0].T
	if x := tail.Crossings(rest, signal.Falling); len(x) > 0 {
		// Rest belongs to this fall only if the vehicle did not get faster in between.
		between := tail.Cut(end, x[0].T)
		if len(between.V) == 0 || slices.Max(between.V) <= math.Max(low, rest)*1.05+0.5 {
			s.rest = x[0].T
		}
	}
	before := s.speed.Cut(s.speed.T[0], end)
	how := p.Word("onset")
	if how == onsetSignal {
		t, ok := s.byBrake(before, rest)
		if ok {
			s.onset = t
		} else {
			how = onsetDeceleration
		}
	}
	switch how {
	case onsetDeceleration:
		t, ok := s.byDeceleration(before)
		if !ok {
			return fault.New(fault.Invalid, "the deceleration never rises through %s", unit.MetrePerSecondSquared.Format(p.Number("onset_deceleration"), 2, unit.Plain)).
				WithHint("give a lower deceleration for the onset, or take the onset from the brake signal or the speed")
		}
		s.onset = t
	case onsetSpeed:
		x := before.Crossings(p.Number("from_speed"), signal.Falling)
		if len(x) == 0 {
			return fault.New(fault.Invalid, "the speed never falls through %s", speed(p.Number("from_speed"))).
				WithHint("its highest speed is %s", speed(slices.Max(before.V)))
		}
		s.onset = x[len(x)-1].T
	}
	s.v1, _ = s.speed.At(s.onset)
	return nil
}

// released is for how long a brake may be off in s within one application (own
// choice: shorter than a foot takes to leave the pedal and come back).
const released = 0.3

// byBrake gives the time in s at which the last application before the end begins:
// the signal rises through its level while the vehicle moves. A signal that is on
// since before the vehicle moved is no onset.
func (s *stop) byBrake(before signal.Stretch, rest float64) (float64, bool) {
	ch := s.rec.ByRole(signal.Brake)
	if ch == nil {
		s.doubt("no_brake_signal", before.T[0], "There is no brake signal; the onset is found by deceleration, which is later.")
		return 0, false
	}
	level := s.in.Parameters.Number("brake_level")
	end := before.T[len(before.T)-1]
	type change struct {
		t  float64
		on bool
	}
	var changes []change
	for _, st := range ch.All() {
		for i := 1; i < len(st.T); i++ {
			a, b := st.V[i-1], st.V[i]
			if a >= level == (b >= level) || st.T[i] < before.T[0] || st.T[i-1] > end {
				continue
			}
			t := st.T[i-1] + (st.T[i]-st.T[i-1])*(level-a)/(b-a)
			if math.Abs(b-a) >= 0.9 {
				// A switch: it closed anywhere between two samples, at best guess in the middle.
				t = (st.T[i-1] + st.T[i]) / 2
			}
			changes = append(changes, change{t, b >= level})
		}
	}
	at, found, applied := 0.0, false, 0
	off := math.Inf(-1)
	for _, c := range changes {
		if !c.on {
			off = c.t
			continue
		}
		v, ok := before.At(c.t)
		if !ok || v <= rest || found && c.t-off <= released {
			continue
		}
		at, found = c.t, true
		applied++
	}
	switch {
	case !found:
		s.doubt("brake_signal_unused", before.T[0], "The brake signal never rises while the vehicle moves; the onset is found by deceleration, which is later.")
	case applied > 1:
		s.doubt("braked_before", at, "The brake was applied %d times in the run; the last time counts.", applied)
	}
	return at, found
}

// byDeceleration gives the time in s at which the deceleration last rises through
// its level and stays up to the end, dips shorter than released bridged.
func (s *stop) byDeceleration(before signal.Stretch) (float64, bool) {
	p := s.in.Parameters
	smooth := signal.Stretch{T: before.T, V: before.MovingMean(p.Number("smoothing"))}
	dec := signal.Stretch{T: before.T, V: smooth.Derivative()}
	for i := range dec.V {
		dec.V[i] = -dec.V[i]
	}
	x := dec.Crossings(p.Number("onset_deceleration"), signal.Either)
	at, found := 0.0, false
	for i := len(x) - 1; i >= 0; i-- {
		switch {
		case x[i].Rising:
			at, found = x[i].T, true
		case found && at-x[i].T > released:
			return at, true
		}
	}
	return at, found
}

func speed(v float64) string { return unit.KilometrePerHour.Format(v, 2, unit.Plain) }

// measure gives the observations.
func (s *stop) measure() {
	p := s.in.Parameters
	s.give("entry_speed", "", s.v1)
	inside := true
	if set := p.Number("entry_speed"); set > 0 && math.Abs(s.v1-set) > p.Number("entry_tolerance")+1e-12 {
		inside = false
		s.doubt("entry_speed_outside", s.onset, "The entry speed is %s, outside %s ± %s; no distance is corrected.",
			speed(s.v1), speed(set), speed(p.Number("entry_tolerance")))
	}
	if p.Word("gradient") == gradientUnknown {
		s.doubt("gradient_unknown", s.onset, "The gradient of the surface is not known; each 1 %% of slope changes the deceleration by 0.098 m/s², and stops in both directions cancel it.")
	}
	if w, ok := s.window(); ok {
		s.between(w, inside)
	}
	if b, ok := s.share(); ok {
		sb, _ := s.speed.Integral(s.onset, b.from)
		se, _ := s.speed.Integral(s.onset, b.to)
		if d, err := MFDD(b.v1, b.v2, sb, se); err == nil {
			s.give("mfdd", "", d)
		}
	}
	if !math.IsInf(s.rest, 1) {
		if d, ok := s.speed.Integral(s.onset, s.rest); ok {
			s.give("stopping_distance", "", d)
			s.give("stopping_time", "", s.rest-s.onset)
		}
		s.rebound()
	} else {
		s.doubt("not_to_rest", s.speed.T[len(s.speed.T)-1], "The run does not come to rest, so that it has no stopping distance.")
	}
	s.trace()
}

// share gives the window from 0.8 to 0.1 of the speed at the onset.
func (s *stop) share() (window, bool) {
	w := window{v1: 0.8 * s.v1, v2: 0.1 * s.v1} // UN R13-H, Annex 3
	after := s.speed.Cut(s.onset, s.speed.T[len(s.speed.T)-1])
	a, b := after.Crossings(w.v1, signal.Falling), after.Crossings(w.v2, signal.Falling)
	if len(a) == 0 || len(b) == 0 || b[0].T <= a[0].T || math.IsInf(s.rest, 1) && b[0].T > s.lastFast() {
		s.doubt("share_not_reached", s.onset, "The speed does not fall from 0.8 to 0.1 of that at the onset, so that there is no mean fully developed deceleration.")
		return w, false
	}
	w.from, w.to = a[0].T, b[0].T
	w.n1, w.n2 = w.v1, w.v2
	return w, true
}

// lastFast gives the time in s up to which a run that does not come to rest is one
// fall of speed: that of its least speed after the onset.
func (s *stop) lastFast() float64 {
	after := s.speed.Cut(s.onset, s.speed.T[len(s.speed.T)-1])
	k := 0
	for i, v := range after.V {
		if v < after.V[k] {
			k = i
		}
	}
	return after.T[k]
}

// window gives where the distance is measured.
func (s *stop) window() (window, bool) {
	p := s.in.Parameters
	switch p.Word("window") {
	case windowShare:
		return s.share()
	case windowRest:
		w := window{from: s.onset, to: s.rest, v1: s.v1, n1: p.Number("entry_speed")}
		return w, !math.IsInf(s.rest, 1)
	}
	w := window{n1: p.Number("from_speed"), n2: p.Number("to_speed")}
	w.v2 = w.n2
	after := s.speed.Cut(s.onset, s.speed.T[len(s.speed.T)-1])
	end := after.Crossings(math.Max(w.n2, p.Number("rest_speed")), signal.Falling)
	if w.n2 < p.Number("rest_speed") {
		w.n2, w.v2 = 0, 0
	}
	if w.n1 <= w.n2 {
		s.doubt("window_upside_down", s.onset, "The window's upper speed %s is not above its lower one %s.", speed(w.n1), speed(w.n2))
		return w, false
	}
	if len(end) == 0 {
		s.doubt("window_not_reached", s.onset, "The speed does not fall to %s after the onset.", speed(w.n2))
		return w, false
	}
	w.to = end[0].T
	if s.v1 <= w.n1 {
		// The onset was below the upper speed, or (onset by speed) on it.
		if s.v1 < w.n1-p.Number("entry_tolerance")-1e-12 {
			s.doubt("window_not_reached", s.onset, "The speed at the onset is %s, below the window's upper speed %s by more than the tolerance.", speed(s.v1), speed(w.n1))
			return w, false
		}
		w.from, w.v1 = s.onset, s.v1
		if s.v1 < w.n1-1e-9 {
			s.doubt("window_begins_late", s.onset, "The onset is at %s, below the window's upper speed %s: the distance begins there, and the corrected one allows for it.", speed(s.v1), speed(w.n1))
		}
		return w, w.to > w.from
	}
	start := after.Crossings(w.n1, signal.Falling)
	if len(start) == 0 || start[0].T >= w.to {
		return w, false
	}
	w.from, w.v1 = start[0].T, w.n1
	return w, true
}

// between gives the measures of the window.
func (s *stop) between(w window, inside bool) {
	d, ok := s.speed.Integral(w.from, w.to)
	if !ok || !(d > 0) {
		return
	}
	s.give("braking_distance", "", d)
	s.give("braking_time", "", w.to-w.from)
	if inside && w.n1 > w.n2 {
		tolerance := s.in.Parameters.Number("entry_tolerance")
		if math.Abs(w.v1-w.n1) > tolerance+1e-12 {
			s.doubt("not_corrected", w.from, "The window begins at %s, more than %s off %s; its distance is not corrected.", speed(w.v1), speed(tolerance), speed(w.n1))
		} else if c, err := CorrectDistance(d, w.v1, w.v2, w.n1, w.n2); err == nil {
			s.give("corrected_distance", "", c)
		}
	}
	if ad, err := AverageDeceleration(w.v1, w.v2, d); err == nil {
		s.give("average_deceleration", "", ad)
		s.give("braking_force_coefficient", "", ForceCoefficient(ad))
	}
	s.byPosition(w, d)
	s.slip(w)
}

// apart is how far in m, and as a share, the distance by position may be from the
// integral of speed before it is said to disagree (own choice: two positions good
// to 0.1 m each, and a scale error of 1 %).
const (
	apart      = 0.3
	apartShare = 0.01
)

// byPosition gives the distance between the positions at both ends.
func (s *stop) byPosition(w window, d float64) {
	lat, lon := s.rec.ByRole(signal.Latitude), s.rec.ByRole(signal.Longitude)
	var pairs []signal.Paired
	place := func(p signal.Paired) course.Track { return course.Track{} }
	if lat != nil && lon != nil {
		pairs = signal.Pair(lat, lon, math.Inf(-1), math.Inf(1))
		if len(pairs) > 0 {
			plane := course.NewPlane(course.Position{Latitude: pairs[0].A[0], Longitude: pairs[0].B[0]})
			place = func(p signal.Paired) course.Track { return plane.Track(p.T, p.A, p.B) }
		}
	} else if e, n := s.rec.ByRole(signal.East), s.rec.ByRole(signal.North); e != nil && n != nil {
		pairs = signal.Pair(e, n, math.Inf(-1), math.Inf(1))
		place = func(p signal.Paired) course.Track {
			tr := course.Track{T: p.T}
			for i := range p.T {
				tr.At = append(tr.At, course.Point{East: p.A[i], North: p.B[i]})
			}
			return tr
		}
	} else {
		s.doubt("no_positions", w.from, "There are no positions, so that the distance has no second source.")
		return
	}
	for _, p := range pairs {
		if p.T[0] > w.from || p.T[len(p.T)-1] < w.to {
			continue
		}
		tr := place(p)
		a, _ := tr.Point(w.from)
		b, _ := tr.Point(w.to)
		got := a.Distance(b)
		s.give("distance_by_position", "", got)
		if diff := math.Abs(got - d); diff > apart && diff > apartShare*d {
			s.doubt("distance_disagrees", w.from, "By position the distance is %s, by speed %s: one of them is wrong.",
				unit.Metre.Format(got, 2, unit.Plain), unit.Metre.Format(d, 2, unit.Plain))
		}
		return
	}
	s.doubt("no_positions", w.from, "Positions are missing within the window, so that the distance has no second source.")
}

// wheelPlaces are the wheels in their order, and what their places are called.
var wheelPlaces = []struct {
	role  signal.Role
	place string
}{
	{signal.WheelSpeedFL, "wheel front left"}, {signal.WheelSpeedFR, "wheel front right"},
	{signal.WheelSpeedRL, "wheel rear left"}, {signal.WheelSpeedRR, "wheel rear right"},
}

// Free rolling before the onset: over how long its scale is taken in s, and how much
// of that is the least (own choice: a second evens out the road, a fifth of one
// still holds a turn of a wheel).
const (
	rollingFor   = 1.0
	rollingLeast = 0.2
)

// slip gives mean and greatest slip of each wheel.
func (s *stop) slip(w window) {
	p := s.in.Parameters
	least := p.Number("slip_least_speed")
	missing, unscaled := 0, 0
	for _, wheel := range wheelPlaces {
		ch := s.rec.ByRole(wheel.role)
		if ch == nil {
			missing++
			continue
		}
		var ts, slips []float64
		scale := 1.0
		if p.Word("wheels") == wheelsFree {
			k, ok := s.rolling(ch)
			if !ok && ch.Unit != "m/s" {
				unscaled++
				continue
			}
			if ok {
				scale = k
			}
		} else if ch.Unit != "m/s" {
			unscaled++
			continue
		}
		for _, st := range ch.Stretches(w.from, w.to) {
			for i, t := range st.T {
				v, ok := s.speed.At(t)
				if !ok || v < least {
					continue
				}
				ts, slips = append(ts, t), append(slips, 1-scale*st.V[i]/v)
			}
		}
		if len(ts) < 2 {
			missing++
			continue
		}
		mean, _ := (signal.Stretch{T: ts, V: slips}).Mean(ts[0], ts[len(ts)-1])
		s.give("mean_slip", wheel.place, mean)
		s.give("greatest_slip", wheel.place, slices.Max(slips))
	}
	if missing > 0 {
		s.doubt("no_wheel_speed", w.from, "%d of 4 wheels have no speed in the window, and so no slip.", missing)
	}
	if unscaled > 0 {
		s.doubt("wheel_speed_unscaled", w.from, "%d wheels state a rotation or no unit, and no second of free rolling comes before the onset to scale them by; they have no slip.", unscaled)
	}
}

// rolling gives the metres a second of one unit of a wheel's speed, from the time
// before the onset.
func (s *stop) rolling(ch *signal.Channel) (float64, bool) {
	from := math.Max(s.onset-rollingFor, s.speed.T[0])
	if s.onset-from < rollingLeast || !ch.Covers(from, s.onset) {
		return 0, false
	}
	turned, ok1 := ch.Integral(from, s.onset)
	driven, ok2 := s.speed.Integral(from, s.onset)
	if !ok1 || !ok2 || !(turned > 0) || !(driven > 0) {
		return 0, false
	}
	return driven / turned, true
}

// reboundFor is how long after rest in s a rebound is looked for (own choice: a body
// on its suspension swings at 1 to 2 Hz).
const reboundFor = 1.0

// rebound tells of a speed below zero after rest.
func (s *stop) rebound() {
	after := s.speed.Cut(s.rest, math.Min(s.rest+reboundFor, s.speed.T[len(s.speed.T)-1]))
	if len(after.V) == 0 {
		return
	}
	if least := slices.Min(after.V); least < -s.in.Parameters.Number("rest_speed") {
		s.doubt("rebound", s.rest, "After rest the speed reads down to %s as the body swings back; distance and time end before it.",
			unit.MetrePerSecond.Format(least, 2, unit.Plain))
	}
}

// trace gives speed by time from the onset, and by distance from it.
func (s *stop) trace() {
	end := math.Min(s.rest, s.speed.T[len(s.speed.T)-1])
	w := s.speed.Cut(s.onset, end)
	if len(w.T) < 2 {
		return
	}
	t := make([]float64, len(w.T))
	for i := range t {
		t[i] = w.T[i] - s.onset
	}
	s.out.Traces = append(s.out.Traces,
		procedure.Trace{ID: "speed_by_time", Title: "Speed by time from the onset", X: t, XUnit: "s", Y: slices.Clone(w.V), YUnit: "m/s"},
		procedure.Trace{ID: "distance_by_time", Title: "Distance by time from the onset", X: t, XUnit: "s", Y: w.Cumulative(), YUnit: "m"})
}
