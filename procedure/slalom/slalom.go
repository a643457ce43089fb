// Package slalom turns one pass through a row of markers into how soon and how much
// the vehicle answered, what steering and what room it took, and whether its motion
// grew from marker to marker.
//
// Sources: common practice for what is read off a slalom; for the sine that it is
// near to, closed forms: at spacing D, speed V and amplitude A the frequency is
// V/(2 D), the greatest lateral acceleration A (π V/D)², the greatest yaw rate
// A (π/D)² V.
//
// The course is a straight from the middle of its first gate to that of its last,
// markers on it at even spacing. Stations and offsets in m, offsets to the left;
// times in s, speeds in m/s, angles in rad, signs of ISO 8855:2011. Package
// motion/pass says what is filtered and where the body is taken to be.
//
// Delays are given twice: by the lag of greatest correlation, normalised on the
// overlap (the plain form is biased by up to 4 ms), and by the phase at the slalom's
// frequency. They agree where the answer only comes later, and differ where it changes
// its form. First and last marker are left out of both, and of
// whatever is read off steering and motion: the way in and the way out are no slalom.
//
// Limits: the markers stand where spacing and gates put them, not where they were
// knocked to. A drive that is held at a set speed shows answer and room; its time
// shows the driver.
package slalom

import (
	_ "embed"
	"math"
	"strconv"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/motion/pass"
	"example.org/bookend/motion/sensors"
	"example.org/bookend/procedure"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
	"example.org/bookend/unit"
)

//go:embed help.md
var help string

type slalom struct{}

// New gives the procedure.
func New() procedure.Procedure { return slalom{} }

func (slalom) Spec() programme.Spec { return spec }

func (slalom) Help() string { return help }

// run is one pass being reduced.
type run struct {
	*procedure.Reduction
	p       *pass.Pass
	body    pass.Body
	spacing float64
	markers []float64 // stations, m
	first   int       // of the markers that are not left out
	last    int
}

// Reduce turns one pass into observations.
func (slalom) Reduce(in procedure.Input) (procedure.Output, error) {
	begun, err := procedure.Begin(in)
	if err != nil {
		return procedure.Output{}, err
	}
	r := &run{Reduction: begun}
	if err := r.reduce(); err != nil {
		return procedure.Output{}, fault.At(err, "%s", r.Rec.Name)
	}
	return r.Out, nil
}

// give adds an observation with its standard uncertainty, nil where none is known.
func (r *run) give(measure, place string, value float64, sd *float64) {
	r.Give(measure, place, value)
	r.Out.Observations[len(r.Out.Observations)-1].Uncertainty = sd
}

// past is how long after the run's end is looked at, s (own choice: the vehicle is
// straight again within a second of the last gate).
const past = 1.0

func (r *run) reduce() error {
	q := r.In.Parameters
	p, err := pass.Lay(r.Rec, r.In.Course, r.In.FromS, r.In.ToS, pass.Settings{
		Lead: past, Tail: past, CutOff: q.Number("cut_off"), PositionSD: q.Number("position_sd"),
		Inertial: sensors.Lever{X: q.Number("inertial_ahead")}, Reference: q.Number("reference_ahead"),
	})
	if err != nil {
		return err
	}
	r.p = p
	r.body = pass.Body{Width: q.Number("vehicle_width"), Ahead: q.Number("body_ahead"), Behind: q.Number("body_behind"), Left: q.Number("antenna_left")}
	if err := r.stand(); err != nil {
		return err
	}
	r.speeds()
	r.room()
	r.Out.Caveats = append(r.Out.Caveats, p.Caveats.Within(caveat.Place{File: r.Rec.Name, Run: r.In.Run})...)
	from, ok1 := p.Index(r.markers[r.first])
	to, ok2 := p.Index(r.markers[r.last])
	if !ok1 || !ok2 || to <= from {
		return fault.New(fault.Invalid, "markers %d and %d are not passed one after the other", r.first+1, r.last+1).
			WithHint("check the spacing and the gates")
	}
	r.answer(from, to)
	r.steering(from, to)
	r.peaks()
	r.traces()
	return nil
}

// stand finds where the markers stand.
func (r *run) stand() error {
	q := r.In.Parameters
	r.spacing = q.Number("marker_spacing")
	first, n := q.Number("first_marker"), int(math.Round(q.Number("markers")))
	if first == 0 {
		first = r.spacing
	}
	if n == 0 {
		// The last stands at least a quarter of a spacing before the last gate.
		n = int(math.Floor((r.p.Axis.Length-first)/r.spacing-0.25)) + 1
	}
	for i := range n {
		r.markers = append(r.markers, first+float64(i)*r.spacing)
	}
	r.first, r.last = 0, n-1
	if q.Word("drop") == dropEnds {
		r.first, r.last = 1, n-2
	}
	if r.last-r.first < 2 {
		return fault.New(fault.Invalid, "%d markers at %s leave too few to be read between gates %s apart", n, metres(r.spacing, 1), metres(r.p.Axis.Length, 1)).
			WithHint("give the spacing of the markers, and gates before the first and after the last; at least five are needed, or three if none is left out")
	}
	if end := r.markers[n-1]; end > r.p.Axis.Length {
		return fault.New(fault.Invalid, "marker %d would stand at %s, beyond the last gate at %s", n, metres(end, 1), metres(r.p.Axis.Length, 1)).
			WithHint("check spacing, number and first marker against the gates")
	}
	return nil
}

func metres(v float64, digits int) string { return unit.Metre.Format(v, digits, unit.Plain) }

func kmph(v float64) string { return unit.KilometrePerHour.Format(v, 1, unit.Plain) }

// speeds gives time and speeds between the gates.
func (r *run) speeds() {
	p, q := r.p, r.In.Parameters
	begin, ok1 := p.Time(0)
	end, ok2 := p.Time(p.Axis.Length)
	if !ok1 || !ok2 || end <= begin {
		r.Doubt("gate_missed", r.In.FromS, "The first or the last gate is not passed within what was recorded; there is no time through the slalom.")
		return
	}
	v1, _ := p.Value(p.Speed, begin)
	v2, _ := p.Value(p.Speed, end)
	mean, _ := signal.Stretch{T: p.T, V: p.Speed}.Mean(begin, end)
	r.Give("slalom_time", "", end-begin)
	r.Give("mean_speed", "", mean)
	r.Give("entry_speed", "", v1)
	r.Give("speed_lost", "", v1-v2)
	if r.Rec.SpeedOverGround() == nil {
		r.Doubt("speed_by_position", begin, "There is no speed channel; speed is that of the positions.")
	}
	set, tol := q.Number("set_speed"), q.Number("speed_tolerance")
	for _, s := range []struct {
		what string
		v    float64
	}{{"entry", v1}, {"mean", mean}} {
		if set > 0 && math.Abs(s.v-set) > tol+1e-12 {
			r.Doubt("speed_outside", begin, "The %s speed is %s, outside %s ± %s.", s.what, kmph(s.v), kmph(set), kmph(tol))
		}
	}
}

// window gives the samples within half a spacing of marker k.
func (r *run) window(k int) (from, to int, ok bool) {
	from, ok1 := r.p.Index(r.markers[k] - r.spacing/2)
	to, ok2 := r.p.Index(r.markers[k] + r.spacing/2)
	return from, to, ok1 && ok2 && to > from
}

func marker(k int) string { return "marker " + strconv.Itoa(k+1) }

// room gives what room was used at each marker and past the last, and how near the
// body came to the markers.
func (r *run) room() {
	p := r.p
	wide := func(from, to int) (float64, *float64) {
		most, at := 0.0, from
		for i := from; i <= to; i++ {
			for _, c := range p.Corners(i, r.body) {
				if o := math.Abs(c.Offset); o > most {
					most, at = o, i
				}
			}
		}
		return most, r.sd(at)
	}
	if r.body.Width <= 0 {
		r.Doubt("width_unknown", r.In.FromS, "The width of the vehicle is not told; room is that of the antenna, and nothing says whether a marker was touched.")
	}
	if p.SD == nil {
		r.Doubt("position_accuracy_unknown", r.In.FromS, "How good the positions are is not told; room has no uncertainty.")
	}
	touched, before := 0, 0.0
	seen := 0
	for k := range r.markers {
		from, to, ok := r.window(k)
		if !ok {
			r.Doubt("marker_not_passed", r.In.FromS, "Marker %d is not passed within what was recorded.", k+1)
			continue
		}
		if most, sd := wide(from, to); most > 0 {
			r.give("room_used", marker(k), most, sd)
		}
		at, _ := p.Index(r.markers[k])
		if side := math.Copysign(1, p.Offset[at]); k > 0 && side == before {
			r.Doubt("marker_side", p.T[at], "Marker %d is passed on the same side as marker %d.", k+1, k)
			before = side
		} else {
			before = side
		}
		if r.body.Width <= 0 {
			continue
		}
		least, near := math.Inf(1), from
		for i := from; i <= to; i++ {
			if d := p.Apart(i, r.body, pass.Spot{Station: r.markers[k]}); d < least {
				least, near = d, i
			}
		}
		least -= r.In.Parameters.Number("marker_radius")
		r.give("marker_gap", marker(k), least, r.sd(near))
		seen++
		if least < 0 {
			touched++
		}
	}
	if seen == len(r.markers) {
		r.Give("markers_touched", "", float64(touched))
	}
	from, ok1 := p.Index(r.markers[len(r.markers)-1] + r.spacing/2)
	to, ok2 := p.Index(p.Axis.Length)
	if !ok2 {
		to = len(p.T) - 1
	}
	if ok1 && to > from {
		if most, sd := wide(from, to); most > 0 {
			r.give("room_used", "past the last", most, sd)
		}
	}
}

// sd gives the standard uncertainty of an offset at sample i, in m; nil where none
// is known.
func (r *run) sd(i int) *float64 {
	if r.p.SD == nil {
		return nil
	}
	v := r.p.SD[i]
	return &v
}

// answer gives delays and gains between two samples.
func (r *run) answer(from, to int) {
	p := r.p
	if p.Steer == nil {
		r.Doubt("steering_missing", p.T[from], "Without steering there are no delays, gains or steering figures.")
		return
	}
	hz := float64(r.last-r.first) / 2 / (p.T[to] - p.T[from])
	longest := math.Min(r.In.Parameters.Number("longest_delay"), 1/(3*hz))
	steer, err := pass.Fit(p.Steer[from:to+1], p.Step, hz)
	if err != nil {
		r.Doubt("no_sine", p.T[from], "Steering holds no sine: %v.", err)
		return
	}
	for _, q := range []struct {
		v                        []float64
		what, lag, phase, gained string
	}{
		{p.Yaw, "yaw rate", "yaw_delay", "yaw_phase_delay", "yaw_gain"},
		{p.Lateral, "lateral acceleration", "lateral_delay", "lateral_phase_delay", "lateral_gain"},
	} {
		if q.v == nil {
			r.Doubt("answer_missing", p.T[from], "There is no %s, so that there is no delay to it and no gain.", q.what)
			continue
		}
		if lag, err := p.Delay(p.Steer, q.v, from, to, longest); err == nil {
			r.Give(q.lag, "", lag.Delay)
			if lag.Correlation < likely {
				r.Doubt("delay_doubtful", p.T[from], "Steering and %s are alike only to a correlation of %s; their delay is doubtful.", q.what, unit.Number(lag.Correlation, 2, unit.Plain))
			}
		} else {
			r.Doubt("no_delay", p.T[from], "There is no delay to %s: %v.", q.what, err)
		}
		w, err := pass.Fit(q.v[from:to+1], p.Step, hz)
		if err != nil || !(steer.Amplitude > 0) || steer.Share < sine || w.Share < sine {
			r.Doubt("no_sine", p.T[from], "Steering and %s are no sines at %s, so that there is no phase between them and no gain.", q.what, unit.Hertz.Format(hz, 2, unit.Plain))
			continue
		}
		r.Give(q.phase, "", w.Later(steer, hz))
		r.Give(q.gained, "", w.Amplitude/steer.Amplitude)
	}
}

// likely is the least correlation at which two signals count as input and answer,
// sine the least share of the variance for which a sine is to account (own choices:
// half of what is seen has to be what is spoken of).
const (
	likely = 0.7
	sine   = 0.5
)

// steering gives what steering it took between two samples.
func (r *run) steering(from, to int) {
	p := r.p
	if p.Steer == nil {
		return
	}
	s := signal.Stretch{T: p.T, V: p.Steer}
	rate := s.Derivative()
	begin, end := p.T[from], p.T[to]
	square, travel, power := make([]float64, len(rate)), make([]float64, len(rate)), make([]float64, len(rate))
	for i, w := range rate {
		square[i], travel[i] = w*w, math.Abs(w)
		if p.Torque != nil {
			power[i] = math.Max(0, p.Torque[i]*w)
		}
	}
	mean := func(v []float64) float64 {
		m, _ := signal.Stretch{T: p.T, V: v}.Mean(begin, end)
		return m
	}
	middle := mean(p.Steer)
	sum, n := 0.0, 0
	for k := r.first; k <= r.last; k++ {
		if top, _, ok := r.top(p.Steer, k, middle); ok {
			sum += math.Abs(top)
			n++
		}
	}
	positive := func(measure string, v float64) {
		if v > 0 {
			r.Give(measure, "", v)
		}
	}
	if n > 0 {
		positive("steering_needed", sum/float64(n))
	}
	positive("steering_rate", math.Sqrt(mean(square)))
	positive("steering_travel", mean(travel)*(end-begin)/float64(r.last-r.first))
	if p.Torque != nil {
		positive("steering_work", mean(power)*(end-begin)/float64(r.last-r.first))
	} else {
		r.Doubt("torque_missing", begin, "Without steering torque there is no work of steering; the travel stands for it.")
	}
}

// top gives the greatest value within half a spacing of marker k, from the middle,
// with its sign, and its time in s.
func (r *run) top(v []float64, k int, middle float64) (value, t float64, ok bool) {
	from, to, ok := r.window(k)
	if !ok {
		return 0, 0, false
	}
	high, th := r.p.Peak(v, from, to, 1)
	low, tl := r.p.Peak(v, from, to, -1)
	if high-middle >= middle-low {
		return high - middle, th, true
	}
	return low - middle, tl, true
}

// peaks gives the greatest values at the markers: their means, their growth, and how
// left and right differ.
func (r *run) peaks() {
	p := r.p
	begin, _ := p.Index(r.markers[r.first])
	end, _ := p.Index(r.markers[r.last])
	for _, q := range []struct {
		v             []float64
		centred       bool
		mean, growing string
	}{
		{p.Yaw, true, "marker_yaw_rate", "yaw_growth"},
		{p.Lateral, true, "marker_lateral", ""},
		{p.Sideslip, true, "marker_sideslip", "sideslip_growth"},
		{p.Offset, false, "", "offset_growth"},
	} {
		if q.v == nil {
			continue
		}
		middle := 0.0
		if q.centred {
			middle, _ = signal.Stretch{T: p.T, V: q.v}.Mean(p.T[begin], p.T[end])
		}
		var at, size []float64
		var side [2][]float64
		for k := r.first; k <= r.last; k++ {
			v, _, ok := r.top(q.v, k, middle)
			if !ok {
				continue
			}
			at, size = append(at, float64(k)), append(size, math.Abs(v))
			if v > 0 {
				side[0] = append(side[0], v)
			} else {
				side[1] = append(side[1], -v)
			}
		}
		if len(at) < 3 {
			r.Doubt("few_peaks", r.In.FromS, "Only %d markers were passed, too few for a growth from one to the next.", len(at))
			continue
		}
		m := mean(size)
		if q.mean != "" {
			r.Give(q.mean, "", m)
		}
		if q.growing != "" && m > 0 {
			r.Give(q.growing, "", slope(at, size)*(at[len(at)-1]-at[0])/m)
		}
		if q.mean == "marker_lateral" && len(side[0]) > 0 && len(side[1]) > 0 && m > 0 {
			r.Give("asymmetry", "", (mean(side[0])-mean(side[1]))/m)
		}
	}
}

func mean(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x
	}
	return s / float64(len(v))
}

// slope gives that of the straight line by least squares.
func slope(x, y []float64) float64 {
	mx, my := mean(x), mean(y)
	xx, xy := 0.0, 0.0
	for i := range x {
		xx += (x[i] - mx) * (x[i] - mx)
		xy += (x[i] - mx) * (y[i] - my)
	}
	return xy / xx
}

// traces gives what is drawn by station.
func (r *run) traces() {
	p := r.p
	for _, q := range []struct {
		id, title, unit string
		v               []float64
	}{
		{"offset_by_station", "Offset by station", "m", p.Offset},
		{"steering_by_station", "Steering by station", "rad", p.Steer},
		{"yaw_rate_by_station", "Yaw rate by station", "rad/s", p.Yaw},
		{"lateral_by_station", "Lateral acceleration by station", "m/s²", p.Lateral},
		{"sideslip_by_station", "Sideslip by station", "rad", p.Sideslip},
		{"speed_by_station", "Speed by station", "m/s", p.Speed},
	} {
		if q.v == nil {
			continue
		}
		var x, y []float64
		for i, at := range p.At {
			if at >= 0 && at <= p.Axis.Length {
				x, y = append(x, at), append(y, q.v[i])
			}
		}
		r.Trace(q.id, q.title, x, "m", y, q.unit)
	}
	var at, t []float64
	var corner [4][2][]float64
	for i := range p.At {
		if p.At[i] >= 0 && p.At[i] <= p.Axis.Length {
			at, t = append(at, p.At[i]), append(t, p.T[i]-r.In.FromS)
		}
		if r.body.Width <= 0 {
			continue // where its sides are is not known
		}
		for k, c := range p.Corners(i, r.body) {
			if c.Station >= 0 && c.Station <= p.Axis.Length {
				corner[k][0], corner[k][1] = append(corner[k][0], c.Station), append(corner[k][1], c.Offset)
			}
		}
	}
	for k, q := range []struct{ id, title string }{ // as Corners gives them
		{"front_left", "left front"}, {"front_right", "right front"}, {"rear_left", "left rear"}, {"rear_right", "right rear"},
	} {
		r.Trace(q.id+"_by_station", "Path of the "+q.title+" corner", corner[k][0], "m", corner[k][1], "m")
	}
	r.Trace(procedure.TimeFromCut, "Time from the cut by station", at, "m", t, "s")
	r.Trace("markers", "Markers", r.markers, "m", make([]float64, len(r.markers)), "m")
}
