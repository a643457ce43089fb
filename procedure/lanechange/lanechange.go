// Package lanechange turns one pass through an evasive lane change into whether it
// was clean and at which speed, how far and for how long the vehicle slid, how
// violently the stored energy came back, how it settled, and what room was left.
//
// Sources: ISO 3888-1 and ISO 3888-2 for the ways between cones (docs/sources says
// what of them was seen and what is from memory), UN R140 for yaw rates at fixed
// delays, common practice for the rest.
//
// Stations count from the beginning of the first lane, offsets from its middle,
// positive to the left; m, s, m/s, rad; signs of ISO 8855:2011. The straight runs from
// the middle of the course's first gate to that of its last one: both gates have
// their middle on the first lane's middle line. To which side the first change goes is
// seen from the path. Package motion/pass says what is filtered and where the body is
// taken to be.
//
// The last counter-steer is the last swing of the steering wheel to the side of the
// first change that begins before the vehicle has left the last lane: that by which
// the driver stops the swing back. What the vehicle does after it is the recoil.
//
// Limits: between cones the lane's edge stands for them. Damping and settling are
// those of vehicle and driver together, for he steers meanwhile. A clean pass by
// position may have touched a cone by some centimetres, as far as the positions go.
package lanechange

import (
	_ "embed"
	"math"

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

type lanechange struct{}

// New gives the procedure.
func New() procedure.Procedure { return lanechange{} }

func (lanechange) Spec() programme.Spec { return spec }

func (lanechange) Help() string { return help }

// run is one pass being reduced.
type run struct {
	*procedure.Reduction
	p     *pass.Pass
	body  pass.Body
	lanes []Lane
	side  float64 // 1: the first change is to the left, -1: to the right
	begin int     // samples at which the first lane begins and the last one ends
	end   int
}

// Reduce turns one pass into observations.
func (lanechange) Reduce(in procedure.Input) (procedure.Output, error) {
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

func (r *run) reduce() error {
	q := r.In.Parameters
	width := q.Number("vehicle_width")
	if width <= 0 {
		return fault.New(fault.Invalid, "the lanes cannot be laid out without the vehicle's width").
			WithHint("give it without mirrors: --set vehicle_width=2.03m")
	}
	p, err := pass.Lay(r.Rec, r.In.Course, r.In.FromS, r.In.ToS, pass.Settings{
		Lead: 1, Tail: q.Number("after"), CutOff: q.Number("cut_off"), PositionSD: q.Number("position_sd"),
		Inertial: sensors.Lever{X: q.Number("inertial_ahead")}, Reference: q.Number("reference_ahead"),
	})
	if err != nil {
		return err
	}
	r.p = p
	r.body = pass.Body{Width: width, Ahead: q.Number("body_ahead"), Behind: q.Number("body_behind"), Left: q.Number("antenna_left")}
	r.lanes = Layout(q.Word("layout"), width, q.Word("exit_width"))
	if err := r.place(); err != nil {
		return err
	}
	r.Out.Caveats = append(r.Out.Caveats, p.Caveats.Within(caveat.Place{File: r.Rec.Name, Run: r.In.Run})...)
	r.zero()
	r.speeds()
	r.room()
	r.slide()
	r.recoil()
	r.traces()
	return nil
}

// place finds where the lanes begin and end, and to which side the change goes.
func (r *run) place() error {
	p := r.p
	total := r.lanes[len(r.lanes)-1].To
	if off := p.Axis.Length - total; math.Abs(off) > 0.5 { // own choice: half a metre is no error of a tape
		r.Doubt("layout_mismatch", r.In.FromS, "The gates stand %s apart, and the layout is %s long; stations count from the first gate.",
			metres(p.Axis.Length, 1), metres(total, 1))
	}
	var ok1, ok2 bool
	r.begin, ok1 = p.Index(0)
	r.end, ok2 = p.Index(total)
	if !ok1 || !ok2 || r.end <= r.begin {
		return fault.New(fault.Invalid, "the vehicle does not pass from the first lane's beginning to the last one's end").
			WithHint("check the layout and the gates")
	}
	// Where the side lane is: what the antenna does between its ends.
	sum := 0.0
	for i := r.begin; i <= r.end; i++ {
		if p.At[i] >= r.lanes[1].From && p.At[i] <= r.lanes[1].To {
			sum += p.Offset[i]
		}
	}
	r.side = math.Copysign(1, sum)
	if r.side < 0 {
		for i := range r.lanes {
			r.lanes[i] = r.lanes[i].mirrored()
		}
	}
	return nil
}

func metres(v float64, digits int) string { return unit.Metre.Format(v, digits, unit.Plain) }

func kmph(v float64) string { return unit.KilometrePerHour.Format(v, 1, unit.Plain) }

// zero takes what steering and yaw rate show before the first lane for their zero.
func (r *run) zero() {
	from := max(0, r.begin-int(r.In.Parameters.Number("zero_window")/r.p.Step))
	for _, v := range [][]float64{r.p.Steer, r.p.Yaw} {
		if v == nil {
			continue
		}
		sum := 0.0
		for _, x := range v[from : r.begin+1] {
			sum += x
		}
		sum /= float64(r.begin + 1 - from)
		for i := range v {
			v[i] -= sum
		}
	}
}

// speeds gives the speeds, and tells of a throttle that was not released.
func (r *run) speeds() {
	p, q := r.p, r.In.Parameters
	at, ok1 := p.Time(q.Number("speed_station"))
	out, ok2 := p.Time(r.lanes[len(r.lanes)-1].To)
	if !ok1 || !ok2 {
		return
	}
	v1, _ := p.Value(p.Speed, at)
	v2, _ := p.Value(p.Speed, out)
	r.Give("entry_speed", "", v1)
	r.Give("exit_speed", "", v2)
	r.Give("speed_lost", "", v1-v2)
	if r.Rec.SpeedOverGround() == nil {
		r.Doubt("speed_by_position", at, "There is no speed channel; speed is that of the positions.")
	}
	if set, tol := q.Number("set_speed"), q.Number("speed_tolerance"); set > 0 && math.Abs(v1-set) > tol+1e-12 {
		r.Doubt("speed_outside", at, "The entry speed is %s, outside %s ± %s.", kmph(v1), kmph(set), kmph(tol))
	}
	if p.Throttle != nil && q.Word("layout") == obstacle {
		// Own choice: a foot is off the pedal within 0.3 s; a twentieth is a released one's noise.
		if v, ok := p.Value(p.Throttle, at+0.3); ok && v > 0.05 {
			r.Doubt("throttle_held", at+0.3, "The throttle is at %s 0.3 s after it was to be released.", unit.Percent.Format(v, 0, unit.Plain))
		}
	}
}

// sd gives the standard uncertainty of an offset at sample i, in m; nil where none
// is known.
func sd(p *pass.Pass, i int) *float64 {
	if p.SD == nil {
		return nil
	}
	v := p.SD[i]
	return &v
}

// fine is the step in m at which the body is followed through the lanes (own choice:
// at a slant of one in three, 7 mm of room).
const fine = 0.02

// room gives what room was left and used in each lane, how far the body came past the
// far edges, and whether the pass was clean.
func (r *run) room() {
	p := r.p.Dense(fine)
	if p.SD == nil {
		r.Doubt("position_accuracy_unknown", r.In.FromS, "How good the positions are is not told; room has no uncertainty.")
	}
	if r.body.Ahead+r.body.Behind <= 0 {
		r.Doubt("length_unknown", r.In.FromS, "How far the body reaches ahead of and behind the antenna is not told; room is that of its width at the antenna.")
	}
	// The body reaches into lanes before the antenna does, and stays in them after it.
	reach := r.body.Ahead + r.body.Behind
	clean := 1.0
	for k, l := range r.lanes {
		left, right := math.Inf(-1), math.Inf(1)
		room, at, over := math.Inf(1), 0, 0
		see := func(d float64, i int) {
			if d < room {
				room, at = d, i
			}
		}
		far := math.Inf(-1)
		toward := r.side // the side of the far edge
		if k > 1 {
			toward = -r.side
		}
		for i := range p.T {
			if p.At[i] < l.From-reach || p.At[i] > l.To+reach {
				continue
			}
			for _, c := range p.Corners(i, r.body) {
				if c.Station < l.From || c.Station > l.To {
					continue
				}
				left, right = math.Max(left, c.Offset), math.Min(right, c.Offset)
				see(l.Left-c.Offset, i)
				see(c.Offset-l.Right, i)
				past := c.Offset - l.Left
				if toward < 0 {
					past = l.Right - c.Offset
				}
				if past > far {
					far, over = past, i
				}
			}
			for _, cone := range []pass.Spot{{Station: l.From, Offset: l.Left}, {Station: l.From, Offset: l.Right}, {Station: l.To, Offset: l.Left}, {Station: l.To, Offset: l.Right}} {
				see(p.Apart(i, r.body, cone), i)
			}
		}
		if !(left > right) {
			continue
		}
		r.give("lane_room", l.Name, room, sd(p, at))
		r.give("room_used", l.Name, left-right, nil)
		if l.Name == sideLane || l.Name == exitLane {
			r.give("overshoot", l.Name, far, sd(p, over))
		}
		if room < 0 {
			clean = 0
		}
	}
	r.Give("clean", "", clean)
}

// slide gives time and distance beyond the stated sideslip.
func (r *run) slide() {
	p := r.p
	if p.Sideslip == nil {
		return // told by the pass
	}
	t := p.T[r.begin:]
	size := make([]float64, len(t))
	most := 0.0
	for i := range size {
		size[i] = math.Abs(p.Sideslip[r.begin+i])
		most = math.Max(most, size[i])
	}
	limit := r.In.Parameters.Number("slide_angle")
	beyond := signal.Stretch{T: t, V: size}
	for i := range size { // Below gives what lies below a level: the same, turned over
		size[i] = -size[i]
	}
	time, distance := 0.0, 0.0
	speed := signal.Stretch{T: t, V: p.Speed[r.begin:]}
	for _, w := range beyond.Below(-limit) {
		time += w[1] - w[0]
		d, _ := speed.Integral(w[0], w[1])
		distance += d
	}
	r.Give("slide_time", "", time)
	r.Give("slide_distance", "", distance)
	r.Give("peak_sideslip", "", most)
}

// swing is one half wave of the steering wheel. Its ends are where the straight line
// through a twentieth and a tenth of its peak meets zero: a wheel that is let go at
// zero, or a zero that is a little wrong, crosses it anywhere.
type swing struct {
	from, to float64 // s
	peak     float64 // rad, with its sign
}

// swings gives the half waves of steering from the first lane on that are larger than
// a share of the largest.
func (r *run) swings() []swing {
	p := r.p
	s := signal.Stretch{T: p.T[r.begin:], V: p.Steer[r.begin:]}
	var out []swing
	edges := []float64{s.T[0]}
	for _, x := range s.Crossings(0, signal.Either) {
		edges = append(edges, x.T)
	}
	edges = append(edges, s.T[len(s.T)-1])
	most := 0.0
	for i := 1; i < len(edges); i++ {
		w := swing{from: edges[i-1], to: edges[i]}
		for _, v := range s.Cut(w.from, w.to).V {
			if math.Abs(v) > math.Abs(w.peak) {
				w.peak = v
			}
		}
		if w.to > w.from {
			out = append(out, w)
			most = math.Max(most, math.Abs(w.peak))
		}
	}
	share := r.In.Parameters.Number("swing")
	kept := out[:0]
	for _, w := range out {
		if math.Abs(w.peak) >= share*most {
			kept = append(kept, w.ended(s))
		}
	}
	return kept
}

// ended gives the swing with its ends found.
func (w swing) ended(s signal.Stretch) swing {
	wave := s.Cut(w.from, w.to)
	low, high := wave.Crossings(0.05*w.peak, signal.Either), wave.Crossings(0.1*w.peak, signal.Either)
	if len(low) == 0 || len(high) == 0 {
		return w
	}
	rise := w.peak > 0
	if a, b := low[0], high[0]; a.Rising == rise && b.T > a.T {
		w.from = math.Max(w.from, 2*a.T-b.T)
	}
	if a, b := low[len(low)-1], high[len(high)-1]; a.Rising != rise && b.T < a.T {
		w.to = math.Min(w.to, 2*a.T-b.T)
	}
	return w
}

// recoil gives what the vehicle does after the last counter-steer.
func (r *run) recoil() {
	p := r.p
	if p.Lateral != nil {
		r.Give("peak_lateral", "", r.most(p.Lateral))
	}
	if p.Yaw == nil {
		r.Doubt("yaw_missing", p.T[r.begin], "Without yaw rate there is no recoil and no settling.")
		return
	}
	r.Give("peak_yaw_rate", "", r.most(p.Yaw))
	if p.Steer == nil {
		r.Doubt("steering_missing", p.T[r.begin], "Without steering nothing says where the last counter-steer begins; there is no recoil and no settling.")
		return
	}
	var counter *swing
	first := 0.0
	all := r.swings()
	for i, w := range all {
		if r.side*w.peak > 0 && w.from <= p.T[r.end] {
			if first == 0 {
				first = w.from
				continue // that is the change itself
			}
			counter = &all[i]
		}
	}
	if counter == nil {
		r.Doubt("no_counter_steer", p.T[r.begin], "Steering shows no counter-steer to the side of the first change; there is no recoil and no settling.")
		return
	}
	at := func(t float64) int { return min(len(p.T)-1, max(0, int(math.Ceil((t-p.T[0])/p.Step-1e-9)))) }
	from, last := at(counter.from), len(p.T)-1
	// The swing back, before; the recoil, after.
	peak, _ := p.Peak(p.Yaw, r.begin, min(last, at(counter.to)), -r.side)
	back, when := p.Peak(p.Yaw, from, last, r.side)
	peak, back = -r.side*peak, r.side*back
	if !(peak > 0) {
		r.Doubt("no_counter_steer", counter.from, "The vehicle does not turn back before the last counter-steer; there is no recoil and no settling.")
		return
	}
	if back > 0 {
		r.Give("recoil", "", back/peak)
		rate := signal.Stretch{T: p.T, V: p.Yaw}.Derivative()
		most := 0.0
		for i := from; i <= at(when); i++ {
			most = math.Max(most, r.side*rate[i])
		}
		if most > 0 {
			r.Give("recoil_acceleration", "", most)
		}
	}
	for _, q := range []struct {
		id    string
		after float64
	}{{"yaw_ratio_1000_ms", 1.000}, {"yaw_ratio_1750_ms", 1.750}} { // UN R140
		if v, ok := p.Value(p.Yaw, counter.to+q.after); ok {
			r.Give(q.id, "", -r.side*v/peak)
		} else {
			r.Doubt("recording_ends", p.T[last], "The recording ends, or is looked at, to less than %s after the last counter-steer.", unit.Second.Format(q.after, 2, unit.Plain))
		}
	}
	r.settle(counter.from, peak)
	if back > 0 {
		r.damping(when)
	}
	r.byTime(counter.from)
}

// most gives the greatest size from the first lane on.
func (r *run) most(v []float64) float64 {
	last := len(v) - 1
	high, _ := r.p.Peak(v, r.begin, last, 1)
	low, _ := r.p.Peak(v, r.begin, last, -1)
	return math.Max(math.Abs(high), math.Abs(low))
}

// settle gives the time from the beginning of the counter-steer until yaw rate stays
// small.
func (r *run) settle(from, peak float64) {
	p := r.p
	limit := r.In.Parameters.Number("settled") * peak
	for i := len(p.T) - 1; i > 0 && p.T[i] > from; i-- {
		v := math.Abs(p.Yaw[i])
		if v <= limit {
			continue
		}
		if i == len(p.T)-1 {
			r.Doubt("not_settled", p.T[i], "Yaw rate has not settled within %s of its peak when what is looked at ends.", unit.Percent.Format(r.In.Parameters.Number("settled"), 0, unit.Plain))
			return
		}
		next := math.Abs(p.Yaw[i+1])
		r.Give("yaw_settling_time", "", p.T[i]+p.Step*(v-limit)/(v-next)-from)
		return
	}
}

// damping gives the damping ratio from the peaks of the half waves of yaw rate, the
// recoil's the first. Between its zeros a half wave has one peak: what noise adds
// near the top is none.
func (r *run) damping(first float64) {
	p := r.p
	share := r.In.Parameters.Number("settled")
	s := signal.Stretch{T: p.T, V: p.Yaw}
	var zeros []float64
	for _, x := range s.Crossings(0, signal.Either) {
		zeros = append(zeros, x.T)
	}
	waves := signal.Stretch{}
	put := func(t, v float64) { waves.T, waves.V = append(waves.T, t), append(waves.V, v) }
	top := 0.0
	for i := 1; i < len(zeros); i++ {
		if zeros[i] < first {
			continue
		}
		from, to := int(math.Ceil((zeros[i-1]-p.T[0])/p.Step)), int((zeros[i]-p.T[0])/p.Step)
		if to-from < 2 {
			continue
		}
		sign := math.Copysign(1, p.Yaw[(from+to)/2])
		v, t := p.Peak(p.Yaw, from, to, sign)
		if top == 0 {
			top = math.Abs(v)
			put(zeros[i-1], 0)
		}
		if math.Abs(v) < share*top {
			break
		}
		put(t, v)
		put(zeros[i], 0)
	}
	if d, err := waves.Decrement(0, share); err == nil {
		r.Give("yaw_damping", "", d.Damping)
	} else {
		r.Doubt("few_peaks", first, "Yaw rate dies down in fewer than three peaks above %s of the first; there is no damping ratio.", unit.Percent.Format(share, 0, unit.Plain))
	}
}

// byTime gives yaw rate and steering by time from the last counter-steer.
func (r *run) byTime(from float64) {
	p := r.p
	var t, yaw, steer []float64
	for i := range p.T {
		if p.T[i] >= from-2 { // own choice: the swing before is a second long
			t, yaw, steer = append(t, p.T[i]-from), append(yaw, p.Yaw[i]), append(steer, p.Steer[i])
		}
	}
	r.Trace("yaw_rate_by_time", "Yaw rate by time from the last counter-steer", t, "s", yaw, "rad/s")
	r.Trace("steering_by_time", "Steering by time from the last counter-steer", t, "s", steer, "rad")
}

// traces gives what is drawn by station: path, when it was passed, the body's corners,
// and the lanes' edges at their ends.
func (r *run) traces() {
	p := r.p
	var at, offset, speed, t []float64
	var corner [4][2][]float64
	for i := range p.T {
		if p.At[i] > p.Axis.Length+30 { // own choice: what is drawn beyond the last lane
			continue
		}
		if p.At[i] < 0 {
			for k, c := range p.Corners(i, r.body) { // what is ahead of the antenna passes the gate before it
				if c.Station >= 0 {
					corner[k][0], corner[k][1] = append(corner[k][0], c.Station), append(corner[k][1], c.Offset)
				}
			}
			continue
		}
		at, offset, speed, t = append(at, p.At[i]), append(offset, p.Offset[i]), append(speed, p.Speed[i]), append(t, p.T[i]-r.In.FromS)
		for k, c := range p.Corners(i, r.body) {
			corner[k][0], corner[k][1] = append(corner[k][0], c.Station), append(corner[k][1], c.Offset)
		}
	}
	r.Trace("offset_by_station", "Offset by station", at, "m", offset, "m")
	r.Trace(procedure.TimeFromCut, "Time from the cut by station", at, "m", t, "s")
	for k, q := range []struct{ id, title string }{ // as Corners gives them
		{"front_left", "left front"}, {"front_right", "right front"}, {"rear_left", "left rear"}, {"rear_right", "right rear"},
	} {
		r.Trace(q.id+"_by_station", "Path of the "+q.title+" corner", corner[k][0], "m", corner[k][1], "m")
	}
	r.Trace("speed_by_station", "Speed by station", at, "m", speed, "m/s")
	var ends, left, right []float64
	for _, l := range r.lanes {
		// Two lanes that meet: the second begins a hair later.
		from := l.From
		if n := len(ends); n > 0 && from <= ends[n-1] {
			from = ends[n-1] + 1e-6
		}
		ends, left, right = append(ends, from, l.To), append(left, l.Left, l.Left), append(right, l.Right, l.Right)
	}
	r.Trace("left_edges", "Left edges of the lanes, at their ends", ends, "m", left, "m")
	r.Trace("right_edges", "Right edges of the lanes, at their ends", ends, "m", right, "m")
}
