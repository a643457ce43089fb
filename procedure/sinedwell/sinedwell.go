// Package sinedwell turns a sine with dwell into how much yaw is left after the
// steering has ended, and how far the vehicle has moved aside by then.
//
// Source: UN R140 and the American standard with the same method
// (docs/sources/un-r140.md): 80 km/h, one sine of 0.7 Hz with half a second of dwell at
// its second peak. Steering is filtered at 10 Hz, yaw rate and lateral acceleration at
// 6 Hz, by a 12-pole phaseless Butterworth filter; zeros are means over the second
// before the steering moves.
//
// Angles in rad at the steering wheel, yaw rate in rad/s, lateral acceleration in m/s²,
// displacement in m, signs of ISO 8855. Displacement is a double integral along the
// vehicle's own axis, as the standard has it, not a path over the ground.
//
// Limits: one manoeuvre a run. The ratio judges a vehicle with its stability control;
// tyres are compared only with the same settings of it. Nothing here says that a
// vehicle or a tyre is safe.
package sinedwell

import (
	_ "embed"
	"math"

	"example.org/bookend/fault"
	"example.org/bookend/figure"
	"example.org/bookend/motion/sensors"
	"example.org/bookend/procedure"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
	"example.org/bookend/unit"
)

//go:embed help.md
var help string

type sinedwell struct{}

// New gives the procedure.
func New() procedure.Procedure { return sinedwell{} }

func (sinedwell) Spec() programme.Spec { return spec }

func (sinedwell) Help() string { return help }

// run is one manoeuvre being reduced. Signals have their zeros taken off, and are
// turned so that the first half of the steering goes to the left.
type run struct {
	*procedure.Reduction
	steer, yaw, lateral signal.Stretch
	sign                float64
	moves               float64 // s: the steering moves; zeros are taken from the second before
	begin, reverse, end float64 // s: 5° reached, first return through zero, second
}

// Reduce turns one manoeuvre into observations.
func (sinedwell) Reduce(in procedure.Input) (procedure.Output, error) {
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
	steering, err := r.Needed(signal.SteeringAngle, "steering-wheel angle")
	if err != nil {
		return err
	}
	yaw, err := r.Needed(signal.YawRate, "yaw rate")
	if err != nil {
		return err
	}
	window := func(c *signal.Channel) signal.Stretch { return procedure.Longest(c, r.In.FromS, r.In.ToS) }
	r.steer = window(r.Filtered(steering, p.Number(paramSteerFilter)))
	r.yaw = window(r.Filtered(yaw, p.Number(paramFilter)))
	if len(r.steer.T) < 8 || len(r.yaw.T) < 8 {
		return fault.New(fault.Invalid, "steering angle or yaw rate has no valid stretch between %.3f and %.3f s", r.In.FromS, r.In.ToS).
			WithHint("see with check where the channels are valid")
	}
	if err := r.find(); err != nil {
		return err
	}
	r.entry()
	r.trace("steering_by_time", "Steering by time from its beginning", r.steer, "rad")
	if err := r.yawing(); err != nil {
		return err
	}
	r.aside()
	return nil
}

// The beginning: the steering wheel moves at this rate for so long, the rate being the
// derivative of a running mean of so long; and the angle that counts as begun.
// docs/sources/un-r140.md, Annex 3, data processing.
const (
	movingRate = 75 * deg // rad/s
	movingFor  = 0.2      // s
	rateMean   = 0.1      // s
	begunAngle = 5 * deg  // rad
	zeroFor    = 1.0      // s
)

// find finds beginning and end of the steering and takes zeros off.
func (r *run) find() error {
	rate := signal.Stretch{T: r.steer.T, V: signal.Stretch{T: r.steer.T, V: r.steer.MovingMean(rateMean)}.Derivative()}
	found := false
	for i, from := 0, -1; i < len(rate.V); i++ {
		if math.Abs(rate.V[i]) < movingRate || from >= 0 && (rate.V[i] > 0) != (rate.V[from] > 0) {
			from = -1
			if math.Abs(rate.V[i]) < movingRate {
				continue
			}
		}
		if from < 0 {
			from = i
		}
		if rate.T[i]-rate.T[from] >= movingFor {
			r.moves, r.sign, found = rate.T[from], math.Copysign(1, rate.V[from]), true
			break
		}
	}
	if !found {
		return fault.New(fault.Invalid, "the steering wheel never turns at %s for %.1f s", unit.DegreePerSecond.Format(movingRate, 0, unit.Plain), movingFor).
			WithHint("that is how the manoeuvre's beginning is told; see the channel with check")
	}
	if r.moves-zeroFor < math.Max(r.steer.T[0], r.yaw.T[0])-1e-9 {
		return fault.New(fault.Invalid, "only %.2f s come before the steering; zeros are taken from %.1f s", r.moves-math.Max(r.steer.T[0], r.yaw.T[0]), zeroFor).
			WithHint("let the run's window begin earlier")
	}
	r.steer, r.yaw = r.zeroed(r.steer), r.zeroed(r.yaw)
	after := r.steer.Cut(r.moves-rateMean, r.steer.T[len(r.steer.T)-1])
	x := after.Crossings(begunAngle, signal.Rising)
	if len(x) == 0 {
		return fault.New(fault.Invalid, "the steering wheel never reaches %s", unit.Degree.Format(begunAngle, 0, unit.Plain)).WithHint("see the channel with check")
	}
	r.begin = x[0].T
	after = after.Cut(r.begin, after.T[len(after.T)-1])
	down := after.Crossings(0, signal.Falling)
	if len(down) == 0 {
		return fault.New(fault.Invalid, "the steering wheel never goes through zero to the other side").WithHint("a sine with dwell has two halves")
	}
	r.reverse = down[0].T
	after = after.Cut(r.reverse, after.T[len(after.T)-1])
	// Back from the other side: the first return through zero after the second half has
	// been there.
	k := 0
	for i, v := range after.V {
		if v < after.V[k] {
			k = i
		}
	}
	up := signal.Stretch{T: after.T[k:], V: after.V[k:]}.Crossings(0, signal.Rising)
	if len(up) == 0 || -after.V[k] < begunAngle {
		return fault.New(fault.Invalid, "the steering wheel does not come back to zero").WithHint("let the run's window end two seconds after the manoeuvre")
	}
	r.end = up[0].T
	return nil
}

// zeroed takes off the mean over the second before the steering moves and turns the
// signal as the steering.
func (r *run) zeroed(s signal.Stretch) signal.Stretch {
	zero, _ := s.Mean(math.Max(s.T[0], r.moves-zeroFor), r.moves)
	out := signal.Stretch{T: s.T, V: make([]float64, len(s.V))}
	for i, v := range s.V {
		out.V[i] = r.sign * (v - zero)
	}
	return out
}

// entry gives speed and steering amplitude.
func (r *run) entry() {
	p := r.In.Parameters
	r.Give("first_steering_side", "", r.sign)
	top, bottom := 0.0, 0.0
	for _, v := range r.steer.Cut(r.begin, r.end).V {
		top, bottom = math.Max(top, v), math.Min(bottom, v)
	}
	amplitude := (top - bottom) / 2
	r.Give("steering_amplitude", "", amplitude)
	if normal := p.Number(paramNormal); normal > 0 {
		r.Give("steering_multiple", "", amplitude/normal)
	}
	if math.Abs(top+bottom) > 0.1*amplitude { // own choice: the halves are meant to be alike
		r.Doubt("halves_differ", r.begin, "The halves of the steering differ: %s and %s.", unit.Degree.Format(top, 0, unit.Plain), unit.Degree.Format(-bottom, 0, unit.Plain))
	}
	v := r.Rec.SpeedOverGround()
	at, ok := 0.0, false
	if v != nil {
		at, ok = v.At(r.begin)
	}
	if !ok {
		r.Doubt("no_speed", r.begin, "The speed at the beginning of steering is not known.")
		return
	}
	r.Give("entry_speed", "", at)
	if set := p.Number(paramSpeed); set > 0 && math.Abs(at-set) > p.Number(paramSpeedTolerance)+1e-12 {
		r.Doubt("entry_speed_outside", r.begin, "The speed at the beginning of steering is %s, outside %s ± %s.", unit.KilometrePerHour.Format(at, 1, unit.Plain),
			unit.KilometrePerHour.Format(set, 1, unit.Plain), unit.KilometrePerHour.Format(p.Number(paramSpeedTolerance), 1, unit.Plain))
	}
}

// yawing gives yaw rate's peaks and what is left of the second one.
func (r *run) yawing() error {
	first, second, at := 0.0, 0.0, r.reverse
	for _, v := range r.yaw.Cut(r.begin, r.end).V {
		first = math.Max(first, v)
	}
	w := r.yaw.Cut(r.reverse, r.end)
	for i, v := range w.V {
		if v < second {
			second, at = v, w.T[i]
		}
	}
	if second == 0 || len(w.V) == 0 {
		return fault.New(fault.Invalid, "yaw rate never follows the second half of the steering").WithHint("see with check whether its sign is turned")
	}
	r.Give("first_yaw_peak", "", first)
	r.Give("second_yaw_peak", "", -second)
	r.Give("second_peak_delay", "", at-r.reverse)
	for _, q := range []struct {
		measure, limit string
		after          float64
	}{
		{"yaw_ratio_1000_ms", paramLimit1000, 1.000}, // docs/sources/un-r140.md
		{"yaw_ratio_1750_ms", paramLimit1750, 1.750},
	} {
		v, ok := r.yaw.At(r.end + q.after)
		if !ok {
			r.Doubt("ends_early", r.end, "The run ends before %.2f s after the steering, where yaw rate is read.", q.after)
			continue
		}
		ratio := v / second
		r.Give(q.measure, "", ratio)
		if limit := r.In.Parameters.Number(q.limit); ratio > limit {
			r.Doubt("yaw_left", r.end+q.after, "%s of the second peak of yaw rate is left %.2f s after the steering, more than %s.",
				unit.Percent.Format(ratio, 0, unit.Plain), q.after, unit.Percent.Format(limit, 0, unit.Plain))
		}
	}
	r.trace("yaw_rate_by_time", "Yaw rate by time from the beginning of steering", r.yaw, "rad/s")
	return nil
}

// displacedAfter is when displacement is read, s after the beginning of steering;
// docs/sources/un-r140.md.
const displacedAfter = 1.07

// aside gives lateral acceleration's peak and the displacement.
func (r *run) aside() {
	p := r.In.Parameters
	c := r.Channel(signal.AccelY)
	if c == nil {
		r.Doubt("no_lateral_acceleration", r.begin, "There is no lateral acceleration; displacement is missing.")
		return
	}
	r.lateral = procedure.Longest(r.level(r.Filtered(c, p.Number(paramFilter))), r.In.FromS, r.In.ToS)
	if len(r.lateral.T) < 8 || r.lateral.T[0] > r.moves-zeroFor+1e-9 {
		r.Doubt("no_lateral_acceleration", r.begin, "Lateral acceleration is missing before or during the manoeuvre; displacement is missing.")
		return
	}
	r.lateral = r.zeroed(r.lateral)
	peak := 0.0
	for _, v := range r.lateral.Cut(r.begin, r.end).V {
		peak = math.Max(peak, math.Abs(v))
	}
	r.Give("peak_lateral", "", peak)
	r.trace("lateral_acceleration_by_time", "Lateral acceleration by time from the beginning of steering", r.lateral, "m/s²")
	w := r.lateral.Cut(r.begin, r.begin+displacedAfter)
	if len(w.T) < 2 || w.T[len(w.T)-1] < r.begin+displacedAfter-1e-9 {
		r.Doubt("lateral_missing", r.begin, "Lateral acceleration ends before %.2f s after the beginning of steering; displacement is missing.", displacedAfter)
		return
	}
	d := Displacement(w)
	r.Give("lateral_displacement", "", d)
	if normal := p.Number(paramNormal); normal > 0 {
		for _, o := range r.Out.Observations {
			if o.Measure == "steering_multiple" && o.Value >= p.Number(paramMultiple)-1e-9 && d < p.Number(paramDisplacement) {
				r.Doubt("displacement_small", r.begin, "The vehicle moves aside by %s, less than %s.", unit.Metre.Format(d, 2, unit.Plain), unit.Metre.Format(p.Number(paramDisplacement), 2, unit.Plain))
			}
		}
	}
}

// Displacement gives how far in m a lateral acceleration in m/s² moves a body aside
// over a stretch, from rest at its beginning: acceleration is taken to be straight
// between samples, and integrated twice.
func Displacement(s signal.Stretch) float64 {
	v, d := 0.0, 0.0
	for i := 1; i < len(s.T); i++ {
		h := s.T[i] - s.T[i-1]
		d += h*v + h*h*(2*s.V[i-1]+s.V[i])/6
		v += h * (s.V[i-1] + s.V[i]) / 2
	}
	return d
}

// level takes gravity out of lateral acceleration by a roll channel.
func (r *run) level(c *signal.Channel) *signal.Channel {
	roll := r.Channel(signal.Roll)
	if roll == nil {
		r.Doubt("roll_in_lateral", r.begin, "There is no roll angle: the gravity that a leaning body adds to lateral acceleration is in it and in the displacement.")
		return c
	}
	out := *c
	out.Values = append([]float64(nil), c.Values...)
	out.Valid = nil
	g := sensors.GravityAt(r.Rec)
	for _, s := range c.Valid {
		for i := s.From; i < s.To; i++ {
			a, ok := roll.At(c.Base.T[i])
			if !ok {
				out.Values[i] = 0
				continue
			}
			out.Values[i] = sensors.LevelLateral(c.Values[i], a, g)
			if n := len(out.Valid); n > 0 && out.Valid[n-1].To == i && i > s.From {
				out.Valid[n-1].To++
			} else {
				out.Valid = append(out.Valid, signal.Span{From: i, To: i + 1})
			}
		}
	}
	return &out
}

// traceFrom and traceTo bound traces, in s from the beginning of steering (own choice:
// up to where the last ratio is read, and a little).
const (
	traceFrom = -0.3
	traceTo   = 4.0
)

func (r *run) trace(id, title string, s signal.Stretch, symbol string) {
	w := s.Cut(r.begin+traceFrom, r.begin+traceTo)
	x := make([]float64, len(w.T))
	for i := range w.T {
		x[i] = w.T[i] - r.begin
	}
	r.Trace(id, title, x, "s", append([]float64(nil), w.V...), symbol)
}

// Overlay lays the manoeuvres over each other at the beginning of steering, means of
// stints for each code. The first run's code is taken for the control, which opens every
// sequence. With fewer than two codes there is no figure.
func (sinedwell) Overlay(in []procedure.Overlaid) ([]figure.Figure, error) {
	steer := procedure.Means(in, "steering_by_time")
	if len(steer) < 2 {
		return nil, nil
	}
	f := &figure.AnswerCurve{Time: figure.Axis{Name: "time from the beginning of steering, s"}}
	f.Codes.Control = steer[0].Code
	for _, m := range steer[1:] {
		f.Codes.Candidates = append(f.Codes.Candidates, m.Code)
	}
	f.Test = spec.Title
	f.Title = figure.Say("How yaw dies down after a sine with dwell, beside ", figure.CodeOf(f.Codes.Control))
	if x, far, by, ok := procedure.WidestApart(procedure.Means(in, "yaw_rate_by_time")); ok {
		way := " more than "
		if by < 0 {
			way = " less than "
		}
		f.Title = figure.Say(unit.Second.Format(x, 1, unit.Style{})+" after steering began ", figure.CodeOf(far.Code), " yawed "+unit.DegreePerSecond.Format(math.Abs(by), 1, unit.Style{})+way, figure.CodeOf(f.Codes.Control))
	}
	f.TitleShort = figure.Say("Yaw after a sine with dwell")
	f.Sub = figure.Say("Means of stints, turned so that steering begins to the left. It describes without correction for drift and gives no verdict.", procedure.BandWords(steer))
	f.SubShort = figure.Say("Means of stints. No verdict.")
	for _, p := range []struct {
		trace, axis string
		scale       float64
	}{
		{"steering_by_time", "steering wheel, °", 1 / deg},
		{"yaw_rate_by_time", "yaw rate, °/s", 1 / deg},
		{"lateral_acceleration_by_time", "lateral acceleration, m/s²", 1},
	} {
		panel := figure.Panel{Value: figure.Axis{Name: p.axis}}
		for _, m := range procedure.Means(in, p.trace) {
			m = m.Scaled(1, p.scale)
			panel.Curves = append(panel.Curves, figure.Curve{Code: m.Code, X: m.X, Y: m.Y, Low: m.Low, High: m.High})
		}
		if len(panel.Curves) > 0 {
			f.Panels = append(f.Panels, panel)
		}
	}
	return []figure.Figure{f}, nil
}
