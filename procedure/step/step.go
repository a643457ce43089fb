// Package step turns a step of the steering wheel into how the vehicle answers it:
// response times, overshoot, settling, damping, steady gains.
//
// Source: ISO 7401:2011, clause 10 (step input); docs/sources says of each definition
// whether it was seen or is from memory. Times count from the instant at which the
// steering angle is half way through its change. Steady values are means over a
// window after it, what was before is a mean over half a second before the input.
//
// Angles in rad at the steering wheel, yaw rate in rad/s, lateral acceleration in
// m/s², times in s, signs of ISO 8855. Signals are filtered without delay (Butterworth,
// twelve poles, gain 1/2 at the cut-off); crossings are interpolated between samples,
// peaks by a parabola through three. Lateral acceleration is that of where it was
// measured; the tilt of the body is in it unless motion took it out.
//
// Limits: one step a run. Speed is taken to be held; what it loses is told. A step
// that is slower than the standard asks lengthens response times, and is told too.
package step

import (
	_ "embed"
	"math"

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

type step struct{}

// New gives the procedure.
func New() procedure.Procedure { return step{} }

func (step) Spec() programme.Spec { return spec }

func (step) Help() string { return help }

// run is one step being reduced.
type run struct {
	*procedure.Reduction
	steer signal.Stretch // rad, filtered
	sign  float64        // 1 for a step to the left

	begin  float64 // s, before the input
	half   float64 // s, steering half way: time 0 of everything
	rise   float64 // s, from 10 to 90 % of the change of steering
	change float64 // rad, of steering, signed
	steady [2]float64
}

// Reduce turns one step into observations.
func (step) Reduce(in procedure.Input) (procedure.Output, error) {
	q, err := procedure.Begin(in)
	if err != nil {
		return procedure.Output{}, err
	}
	r := &run{Reduction: q}
	if err := r.reduce(); err != nil {
		return procedure.Output{}, fault.At(err, "%s", r.Rec.Name)
	}
	return r.Out, nil
}

func (r *run) reduce() error {
	p := r.In.Parameters
	cutOff := p.Number(paramFilter)
	steering, err := r.Needed(signal.SteeringAngle, "steering-wheel angle")
	if err != nil {
		return err
	}
	yaw, err := r.Needed(signal.YawRate, "yaw rate")
	if err != nil {
		return err
	}
	r.steer = procedure.Longest(r.Filtered(steering, cutOff), r.In.FromS, r.In.ToS)
	if len(r.steer.T) < 8 {
		return fault.New(fault.Invalid, "the steering-wheel angle has no valid stretch between %.3f and %.3f s", r.In.FromS, r.In.ToS).
			WithHint("see with check where the channel is valid")
	}
	if err := r.find(); err != nil {
		return err
	}
	r.Give("steering_step", "", r.change)
	r.Give("steering_rise_time", "", r.rise)
	if most := p.Number(paramRise); r.rise > most {
		r.Doubt("step_slow", r.half, "The steering takes %s from 10 to 90 %% of its change, longer than %s; response times are longer for it.",
			unit.Second.Format(r.rise, 3, unit.Plain), unit.Second.Format(most, 2, unit.Plain))
	}
	r.speed()
	r.trace("steering_by_time", "Steering by time from half the step", r.steer, "rad")
	overshoot := p.Number(paramBand)
	if y := r.answer(r.Filtered(yaw, cutOff), "yaw rate", overshoot); y != nil {
		r.Give("yaw_response_time", "", y.T90)
		r.Give("yaw_peak_time", "", y.Peak)
		r.Give("yaw_overshoot", "", y.Overshoot)
		r.gain("yaw_gain", "yaw rate", y.change/r.change, y.at)
		if y.settled {
			r.Give("yaw_settling_time", "", y.Settling)
		}
		r.decay(y)
		r.trace("yaw_rate_by_time", "Yaw rate by time from half the step", y.of, "rad/s")
		r.sideslip(y.Peak)
	}
	lateral := r.Channel(signal.AccelY)
	if lateral == nil {
		r.Doubt("no_lateral_acceleration", r.half, "There is no lateral acceleration; its response time, overshoot and gain are missing.")
		return nil
	}
	if a := r.answer(r.Filtered(lateral, cutOff), "lateral acceleration", overshoot); a != nil {
		r.Give("lateral_response_time", "", a.T90)
		r.Give("lateral_peak_time", "", a.Peak)
		r.Give("lateral_overshoot", "", a.Overshoot)
		r.gain("lateral_gain", "lateral acceleration", a.change/r.change, a.at)
		r.Give("steady_lateral", "", math.Abs(a.change))
		r.trace("lateral_acceleration_by_time", "Lateral acceleration by time from half the step", a.of, "m/s²")
	}
	return nil
}

// before is for how long in s before the input the first values are means of, and
// clear how far it stays off the input (ISO 15037-1:2019, 7.2, from memory: means over
// 0.5 to 0.8 s; the lower end is taken).
const (
	before = 0.5
	clear  = 0.1
)

// find finds the step: where the steering changes most within the time that a step
// takes.
func (r *run) find() error {
	p := r.In.Parameters
	s := r.steer
	within := 2 * p.Number(paramRise)
	n := len(s.T)
	most, at, j := 0.0, 0, 0
	for i := range s.T {
		for j < n-1 && s.T[j] < s.T[i]+within {
			j++
		}
		if d := math.Abs(s.V[j] - s.V[i]); d > most*(1+1e-9) {
			most, at = d, i
		}
	}
	if least := p.Number(paramLeast); most < least {
		return fault.New(fault.Invalid, "the steering wheel never turns by %s within %.2f s", unit.Degree.Format(least, 0, unit.Plain), within).
			WithHint("it turns by %s at most; give a smaller least step if that was one", unit.Degree.Format(most, 1, unit.Plain))
	}
	// Half the change within that time is passed near the true middle; the two means
	// then settle it.
	mid := (s.V[at] + s.V[indexAfter(s.T, s.T[at]+within)]) / 2
	window := signal.Stretch{T: s.T, V: s.V}.Cut(s.T[at], s.T[at]+within)
	x := window.Crossings(mid, signal.Either)
	if len(x) == 0 {
		return fault.New(fault.Invalid, "the steering wheel does not pass half of its change").WithHint("see the channel with check")
	}
	r.half = x[0].T
	r.begin = s.T[at]
	for range 3 {
		r.begin = r.half - within/2 - clear
		from := r.begin - before
		if from < s.T[0] {
			from = s.T[0]
		}
		if r.begin-from < before/2 {
			return fault.New(fault.Invalid, "only %.2f s come before the step; it needs %.2f s of straight driving", math.Max(0, r.begin-from), before).
				WithHint("let the run's window begin earlier")
		}
		a, _ := s.Mean(from, r.begin)
		r.steady = [2]float64{r.half + p.Number(paramSteadyFrom), r.half + p.Number(paramSteadyFrom) + p.Number(paramSteadyFor)}
		end := s.T[n-1]
		if r.steady[1] > end {
			r.steady = [2]float64{end - p.Number(paramSteadyFor), end}
		}
		if r.steady[0] < r.half+within {
			return fault.New(fault.Invalid, "the run ends %.2f s after the step, before anything can be steady", end-r.half).
				WithHint("hold the wheel still for %.1f s", p.Number(paramSteadyFrom)+p.Number(paramSteadyFor))
		}
		b, _ := s.Mean(r.steady[0], r.steady[1])
		r.change = b - a
		if math.Abs(r.change) < p.Number(paramLeast)/2 {
			return fault.New(fault.Invalid, "the steering wheel goes back after its step: it ends %s from where it began", unit.Degree.Format(math.Abs(r.change), 1, unit.Plain)).
				WithHint("hold the wheel still for %.1f s", p.Number(paramSteadyFrom)+p.Number(paramSteadyFor))
		}
		level := func(share float64) (float64, bool) {
			way := signal.Rising
			if r.change < 0 {
				way = signal.Falling
			}
			x := s.Cut(r.begin, r.steady[1]).Crossings(a+share*r.change, way)
			if len(x) == 0 {
				return 0, false
			}
			return x[0].T, true
		}
		ten, ok1 := level(0.1)
		half, ok2 := level(0.5)
		ninety, ok3 := level(0.9)
		if !ok1 || !ok2 || !ok3 {
			return fault.New(fault.Invalid, "the steering wheel does not pass 10, 50 and 90 %% of its change").WithHint("see the channel with check")
		}
		r.half, r.rise = half, ninety-ten
	}
	r.sign = math.Copysign(1, r.change)
	if r.steady[1] < r.half+p.Number(paramSteadyFrom)+p.Number(paramSteadyFor)-1e-9 {
		r.Doubt("steady_early", r.steady[0], "The run ends before the steady window does; steady values are means from %.2f to %.2f s after the step.", r.steady[0]-r.half, r.steady[1]-r.half)
	}
	return nil
}

func indexAfter(t []float64, at float64) int {
	i := 0
	for i < len(t)-1 && t[i] < at {
		i++
	}
	return i
}

// speed gives the speed at the step, and tells where it is not held.
func (r *run) speed() {
	v := r.Rec.SpeedOverGround()
	at, ok := 0.0, false
	if v != nil {
		at, ok = v.At(r.half)
	}
	if !ok {
		r.Doubt("no_speed", r.half, "The speed at the step is not known; answers of other speeds cannot be told from it.")
		return
	}
	r.Give("step_speed", "", at)
	p := r.In.Parameters
	if off := math.Abs(at - p.Number(paramSpeed)); p.Number(paramSpeed) > 0 && off > p.Number(paramSpeedTolerance)+1e-12 {
		r.Doubt("speed_outside", r.half, "The speed at the step is %s, outside %s ± %s.", unit.KilometrePerHour.Format(at, 1, unit.Plain),
			unit.KilometrePerHour.Format(p.Number(paramSpeed), 1, unit.Plain), unit.KilometrePerHour.Format(p.Number(paramSpeedTolerance), 1, unit.Plain))
	}
	if end, ok := v.At(r.steady[1]); ok && at-end > speedLost*at {
		r.Doubt("speed_lost", r.half, "The vehicle loses %s until its values are steady; steady gains are those of a falling speed.", unit.KilometrePerHour.Format(at-end, 1, unit.Plain))
	}
}

// speedLost is the share of speed lost by the end of the steady window from which on
// it is told (own choice: a gain changes about as much).
const speedLost = 0.05

// answer is how a signal answers the step.
type answer struct {
	signal.StepAnswer                // times from half the steering's change
	of                signal.Stretch // the signal in the run's window
	at                float64        // its value before
	change            float64        // signed
	settled           bool
}

// answer measures a signal's answer; nil, and told, where it has none.
func (r *run) answer(c *signal.Channel, what string, band float64) *answer {
	s := procedure.Longest(c, r.begin-before, r.In.ToS)
	if len(s.T) < 8 || s.T[0] > r.begin-before/2 || s.T[len(s.T)-1] < r.steady[1]-1e-6 {
		r.Doubt("answer_missing", r.half, "The %s is missing in part of the step, and has no answer.", what)
		return nil
	}
	a := &answer{of: s}
	a.at, _ = s.Mean(math.Max(s.T[0], r.begin-before), r.begin)
	to, _ := s.Mean(r.steady[0], r.steady[1])
	a.change = to - a.at
	if a.change*r.change <= 0 {
		r.Doubt("answer_missing", r.half, "The %s ends on the other side than the steering asks, or does not answer.", what)
		return nil
	}
	s = s.Cut(r.begin, r.steady[1])
	x, err := s.Step(r.begin, a.at, to, math.MaxFloat64)
	if err != nil {
		r.Doubt("answer_missing", r.half, "The %s has no answer: %v.", what, err)
		return nil
	}
	a.StepAnswer = x
	if y, err := s.Step(r.begin, a.at, to, band); err == nil {
		a.settled, a.Settling = true, y.Settling-(r.half-r.begin)
	} else {
		r.Doubt("not_settled", r.half, "The %s does not stay within %s of its steady value before the steady window ends.", what, unit.Percent.Format(band, 0, unit.Plain))
	}
	for _, t := range []*float64{&a.T10, &a.T50, &a.T90, &a.Peak} {
		*t -= r.half - r.begin
	}
	return a
}

// gain gives a steady gain; a signal that is more than a tenth of its change off 0
// before the step is told (own choice).
func (r *run) gain(measure, what string, gain, at float64) {
	r.Give(measure, "", gain)
	if math.Abs(at) > 0.1*math.Abs(gain*r.change) {
		r.Doubt("not_straight", r.begin, "The %s is not near 0 before the step: the vehicle was not going straight, or the sensor has a zero error. Changes are taken from there.", what)
	}
}

// clearOf is how many standard deviations of the signal about its steady value a peak
// must stand out by to count for the damping (own choice: noise that the filter leaves
// has passed five by chance once in a million).
const clearOf = 5

// decay gives how yaw rate dies down after its first peak, by the logarithmic
// decrement: a straight line by least squares through the logarithms of the peaks that
// lie between crossings of the steady value, on both sides of it by turns.
func (r *run) decay(y *answer) {
	w := y.of.Cut(r.half, r.steady[1])
	steady := y.at + y.change
	tail := y.of.Cut(r.steady[0], r.steady[1])
	square := 0.0
	for _, v := range tail.V {
		square += (v - steady) * (v - steady)
	}
	noise := math.Sqrt(square / float64(len(tail.V)))
	var ts, ls []float64
	first := 0.0
	x := w.Crossings(steady, signal.Either)
	for i := range x {
		to := w.T[len(w.T)-1]
		if i+1 < len(x) {
			to = x[i+1].T
		}
		t, v := highest(w.Cut(x[i].T, to), steady)
		if first == 0 {
			first = v
		}
		if v < r.In.Parameters.Number(paramDecay)*first || v < clearOf*noise {
			break
		}
		ts, ls = append(ts, t), append(ls, math.Log(v))
	}
	n := len(ts)
	if n < 3 {
		r.Doubt("no_decay", r.half, "Yaw rate does not swing often enough for a damping ratio: three peaks about the steady value are needed, clear of its noise.")
		return
	}
	mean := float64(n-1) / 2
	num, den := 0.0, 0.0
	for k, l := range ls {
		num += (float64(k) - mean) * l
		den += (float64(k) - mean) * (float64(k) - mean)
	}
	decrement := -2 * num / den // peaks on one side are two apart
	r.Give("yaw_damping", "", decrement/math.Hypot(2*math.Pi, decrement))
	r.Give("yaw_frequency", "", float64(n-1)/2/(ts[n-1]-ts[0]))
}

// highest gives time and height of what lies farthest from a level, by the parabola
// through the farthest sample and its neighbours.
func highest(s signal.Stretch, level float64) (t, v float64) {
	k := 0
	for i := range s.V {
		if math.Abs(s.V[i]-level) > math.Abs(s.V[k]-level) {
			k = i
		}
	}
	t, v = s.T[k], math.Abs(s.V[k]-level)
	if k == 0 || k == len(s.V)-1 {
		return t, v
	}
	a, b, c := math.Abs(s.V[k-1]-level), v, math.Abs(s.V[k+1]-level)
	if bend := a - 2*b + c; bend < 0 {
		part := 0.5 * (a - c) / bend
		t, v = t+part*(s.T[k+1]-s.T[k-1])/2, b-0.25*(a-c)*part
	}
	return t, v
}

// sideslip gives steady sideslip and the TB factor, by a sideslip channel or else by
// the motion of the vehicle.
func (r *run) sideslip(peak float64) {
	c := r.Channel(signal.Sideslip)
	if c == nil {
		c = r.moved()
	}
	s := procedure.Longest(c, r.begin-before, r.steady[1])
	if len(s.T) < 2 || s.T[0] > r.begin-before/2 || s.T[len(s.T)-1] < r.steady[1]-1e-6 {
		r.Doubt("no_sideslip", r.half, "There is neither sideslip nor what it could be made of; steady sideslip and TB factor are missing.")
		return
	}
	a, _ := s.Mean(math.Max(s.T[0], r.begin-before), r.begin)
	b, _ := s.Mean(r.steady[0], r.steady[1])
	r.Give("steady_sideslip", "", r.sign*(b-a))
	r.Give("tb_factor", "", peak*r.sign*(b-a))
}

// moved gives the sideslip of the vehicle's motion, nil where the recording has no
// positions beside yaw rate and lateral acceleration.
func (r *run) moved() *signal.Channel {
	lat, lon := r.Channel(signal.Latitude), r.Channel(signal.Longitude)
	if lat == nil || lon == nil || r.Channel(signal.AccelY) == nil {
		return nil
	}
	i := lat.Valid[0].From
	at, ok := lon.At(lat.Base.T[i])
	if !ok {
		at = lon.Values[lon.Valid[0].From]
	}
	p := r.In.Parameters
	m, err := motion.Smooth(r.Rec, course.NewPlane(course.Position{Latitude: lat.Values[i], Longitude: at}), motion.Settings{
		Antenna: motion.Lever{X: -p.Number(paramReference)}, Inertial: motion.Lever{X: p.Number(paramInertial) - p.Number(paramReference)}, RearAxle: -p.Number(paramRearAxle),
	})
	if err != nil {
		r.Doubt("no_motion", r.half, "No motion could be made of the recording: %v.", err)
		return nil
	}
	for _, c := range m.Channels() {
		if c.Role == signal.Sideslip && len(c.Valid) > 0 {
			r.Doubt("sideslip_by_motion", r.half, "Sideslip is not measured; it is that of the motion that positions, accelerations and yaw rate say together.")
			return c
		}
	}
	return nil
}

// traceFrom and traceTo bound traces, in s from half the step (own choice: the answer
// and a little before it).
const (
	traceFrom = -0.3
	traceTo   = 2.0
)

// trace adds a signal by time from half the step, turned to the left.
func (r *run) trace(id, title string, s signal.Stretch, symbol string) {
	w := s.Cut(r.half+traceFrom, math.Min(r.half+traceTo, r.steady[1]))
	base, _ := s.Mean(math.Max(s.T[0], r.begin-before), r.begin)
	x, y := make([]float64, len(w.T)), make([]float64, len(w.T))
	for i := range w.T {
		x[i], y[i] = w.T[i]-r.half, r.sign*(w.V[i]-base)
	}
	r.Trace(id, title, x, "s", y, symbol)
}
