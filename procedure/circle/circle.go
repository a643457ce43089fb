// Package circle turns steady circular driving into lateral grip and balance: the
// greatest lateral acceleration that is held, and the understeer gradient.
//
// Source: ISO 4138; docs/sources says what of it was seen and what is from memory.
//
// Lateral acceleration is speed times yaw rate, m/s²: on a steady circle that is what
// holds the vehicle on it, and no gravity of a leaning body is in it. Each direction
// stands by itself, its values turned to positive ones; its place is "left" or
// "right". Samples are averaged within increments of lateral acceleration, and the
// gradient is the slope of the straight line by least squares through these means:
//
//	K = d(δH)/d(ay) / iS - L d(1/R)/d(ay)
//
// with the steering-wheel angle δH in rad, the steering ratio iS, the wheelbase L and
// the radius R in m, the latter from speed over yaw rate. It holds for all three
// methods: constant radius, where the second term is 0, constant speed, and constant
// steering angle, where the first is. The slope's standard error is given as the
// gradient's uncertainty.
//
// Only what is steady counts for gradients: where lateral acceleration changes little
// from second to second. Grip is looked for everywhere.
//
// Limits: a zero error of the yaw rate makes left and
// right differ and leaves their mean.
package circle

import (
	_ "embed"
	"math"

	"example.org/bookend/course"
	"example.org/bookend/fault"
	"example.org/bookend/motion"
	"example.org/bookend/motion/sensors"
	"example.org/bookend/procedure"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
	"example.org/bookend/unit"
)

//go:embed help.md
var help string

type circle struct{}

// New gives the procedure.
func New() procedure.Procedure { return circle{} }

func (circle) Spec() programme.Spec { return spec }

func (circle) Help() string { return help }

// run is one recording being reduced, on the samples of its yaw rate.
type run struct {
	*procedure.Reduction
	t        []float64
	speed    []float64
	yaw      []float64
	lateral  []float64
	steer    []float64 // nil where there is none, as the following
	roll     []float64
	sideslip []float64
}

// Reduce turns one recording into observations.
func (circle) Reduce(in procedure.Input) (procedure.Output, error) {
	begun, err := procedure.Begin(in)
	if err != nil {
		return procedure.Output{}, err
	}
	r := &run{Reduction: begun}
	if err := r.lay(); err != nil {
		return procedure.Output{}, fault.At(err, "%s", r.Rec.Name)
	}
	found := false
	for _, side := range []struct {
		name string
		sign float64
	}{{"left", 1}, {"right", -1}} {
		found = r.direction(side.name, side.sign) || found
	}
	if !found {
		return procedure.Output{}, fault.New(fault.Invalid, "the recording holds no circle between %s and %s of lateral acceleration",
			metres(in.Parameters.Number("low")), metres(in.Parameters.Number("high"))).At("%s", r.Rec.Name).
			WithHint("check the unit of the yaw rate, or the range of the gradient")
	}
	return r.Out, nil
}

func metres(a float64) string { return unit.MetrePerSecondSquared.Format(a, 1, unit.Plain) }

// give adds an observation with its standard uncertainty, nil where none is known.
func (r *run) give(measure, place string, value float64, sd *float64) {
	r.Give(measure, place, value)
	r.Out.Observations[len(r.Out.Observations)-1].Uncertainty = sd
}

// lay brings the channels onto the samples of the yaw rate.
func (r *run) lay() error {
	q := r.In.Parameters
	yaw, err := r.Needed(signal.YawRate, "yaw rate")
	if err != nil {
		return err
	}
	speed := r.Rec.SpeedOverGround()
	if speed == nil || len(speed.Valid) == 0 {
		return fault.New(fault.Invalid, "a circle needs the speed over ground, and the recording has none").
			WithHint("name the column in a mapping file if it is there under another name")
	}
	cut := q.Number("cut_off")
	base := procedure.Longest(r.Filtered(yaw, cut), r.In.FromS, r.In.ToS)
	if len(base.T) < 20 {
		return fault.New(fault.Invalid, "yaw rate has no valid stretch between %.3f and %.3f s", r.In.FromS, r.In.ToS).
			WithHint("the recording is too short for a circle")
	}
	r.t, r.yaw = base.T, base.V
	on := func(c *signal.Channel, what string) []float64 {
		if c == nil {
			return nil
		}
		out := make([]float64, len(r.t))
		from, to := -1, -1 // the part that the channel covers
		for i, t := range r.t {
			v, ok := c.At(t)
			if !ok {
				continue
			}
			if from < 0 {
				from = i
			}
			out[i], to = v, i
		}
		if from < 0 || !c.Covers(r.t[from], r.t[to]) || r.t[to]-r.t[from] < 0.9*(r.t[len(r.t)-1]-r.t[0]) { // own choice: a tenth may be missing at the ends
			r.Doubt("channel_missing", r.t[0], "The %s is missing in part of the run and is left out.", what)
			return nil
		}
		for i := range out {
			if i < from {
				out[i] = out[from]
			} else if i > to {
				out[i] = out[to]
			}
		}
		return out
	}
	if r.speed = on(speed, "speed"); r.speed == nil {
		return fault.New(fault.Invalid, "speed is missing in part of the run").WithHint("leave the run out")
	}
	r.steer = on(r.Filtered(r.Channel(signal.SteeringAngle), cut), "steering")
	r.roll = on(r.Filtered(r.Channel(signal.Roll), cut), "roll")
	if r.steer == nil {
		r.Doubt("steering_missing", r.t[0], "Without steering there is no gradient of it.")
	}
	if r.roll == nil {
		r.Doubt("roll_missing", r.t[0], "Without roll there is no roll gradient.")
	}
	r.lateral = make([]float64, len(r.t))
	for i := range r.t {
		r.lateral[i] = r.speed[i] * r.yaw[i]
	}
	if q.Word("lateral") == byAccelerometer {
		if a := on(r.Filtered(r.Channel(signal.AccelY), cut), "lateral acceleration"); a != nil {
			r.lateral = a
			if r.roll == nil {
				r.Doubt("roll_unknown", r.t[0], "There is no roll channel; the lateral acceleration has the gravity of the leaning body in it, some 5 to 10 %% of it.")
			} else {
				g := sensors.GravityAt(r.Rec)
				for i := range a {
					a[i] = sensors.LevelLateral(a[i], r.roll[i], g)
				}
			}
		} else {
			r.Doubt("no_accelerometer", r.t[0], "There is no lateral acceleration channel; lateral acceleration is speed times yaw rate.")
		}
	}
	r.slip(on)
	width := q.Number("smoothing")
	for _, v := range []*[]float64{&r.speed, &r.yaw, &r.steer, &r.roll, &r.sideslip} {
		if *v != nil {
			*v = signal.Stretch{T: r.t, V: *v}.MovingMean(width)
		}
	}
	return nil
}

// slip finds the sideslip: a channel's, or that of the motion.
func (r *run) slip(on func(*signal.Channel, string) []float64) {
	if c := r.Channel(signal.Sideslip); c != nil {
		r.sideslip = on(c, "sideslip")
		return
	}
	lat, lon := r.Channel(signal.Latitude), r.Channel(signal.Longitude)
	if lat == nil || lon == nil || r.Channel(signal.AccelY) == nil {
		r.Doubt("sideslip_unknown", r.t[0], "Without a sideslip channel, or positions and lateral acceleration, there is no sideslip gradient.")
		return
	}
	i, j := lat.Valid[0].From, lon.Valid[0].From
	plane := course.NewPlane(course.Position{Latitude: lat.Values[i], Longitude: lon.Values[j]})
	m, err := motion.Smooth(r.Rec, plane, motion.Settings{})
	if err != nil {
		r.Doubt("sideslip_unknown", r.t[0], "The motion of the vehicle cannot be found, so that there is no sideslip gradient: %v.", err)
		return
	}
	r.sideslip = on(&signal.Channel{Name: "sideslip of the motion", Role: signal.Sideslip, Unit: "rad", Base: m.Base, Values: m.Sideslip.Value, Valid: m.SideslipValid}, "sideslip of the motion")
}

// bin is the mean of what lies in one increment of lateral acceleration.
type bin struct {
	n                                     float64
	ay, steer, bend, sideslip, roll, wide float64
}

// direction gives the measures of one direction, and tells whether there is any.
func (r *run) direction(place string, sign float64) bool {
	q := r.In.Parameters
	least, low, high, step := q.Number("least_speed"), q.Number("low"), q.Number("high"), q.Number("increment")
	// Grip: the greatest mean over a time, from samples that are all of this direction.
	held := q.Number("held")
	turned := make([]float64, len(r.t))
	for i := range turned {
		turned[i] = sign * r.lateral[i]
	}
	mean := signal.Stretch{T: r.t, V: turned}.MovingMean(held)
	smooth := signal.Stretch{T: r.t, V: turned}.MovingMean(q.Number("smoothing"))
	steady := r.steady(smooth)
	grip, when := 0.0, 0.0
	for i, t := range r.t {
		if t-held/2 >= r.t[0] && t+held/2 <= r.t[len(r.t)-1] && r.speed[i] >= least && sign*r.yaw[i] > 0 && mean[i] > grip {
			grip, when = mean[i], t
		}
	}
	if grip < low {
		return false
	}
	bins := make([]bin, int(math.Ceil(grip/step))+1)
	for i := range r.t {
		if r.speed[i] < least || !(sign*r.yaw[i] > 0) || smooth[i] <= 0 || !steady[i] {
			continue
		}
		k := int(smooth[i] / step)
		if k >= len(bins) {
			continue
		}
		b := &bins[k]
		b.n++
		bend := sign * r.yaw[i] / r.speed[i]
		b.ay += smooth[i]
		b.bend += bend
		b.wide += 1 / bend
		for _, v := range []struct {
			sum *float64
			of  []float64
		}{{&b.steer, r.steer}, {&b.sideslip, r.sideslip}, {&b.roll, r.roll}} {
			if v.of != nil {
				*v.sum += sign * v.of[i]
			}
		}
	}
	var all, line []bin // all increments, and those of the gradient
	for _, b := range bins {
		if b.n*r.step() < 0.1 { // own choice: an increment passed within a tenth of a second is no state
			continue
		}
		for _, v := range []*float64{&b.ay, &b.steer, &b.bend, &b.sideslip, &b.roll, &b.wide} {
			*v /= b.n
		}
		all = append(all, b)
		if b.ay >= low && b.ay <= high {
			line = append(line, b)
		}
	}
	r.Give("lateral_grip", place, grip)
	r.trace(place, all)
	if len(line) < 3 {
		r.Doubt("few_increments", when, "To the %s only %d increments of lateral acceleration between %s and %s were driven steadily; there is no gradient.", place, len(line), metres(low), metres(high))
		return true
	}
	r.gradients(place, line)
	return true
}

// steady tells where lateral acceleration changes slowly: by the root mean square of
// its change over a second.
func (r *run) steady(lateral []float64) []bool {
	d := signal.Stretch{T: r.t, V: lateral}.Derivative()
	for i := range d {
		d[i] *= d[i]
	}
	limit := r.In.Parameters.Number("steady")
	mean := signal.Stretch{T: r.t, V: d}.MovingMean(1)
	out := make([]bool, len(mean))
	for i, v := range mean {
		out[i] = v <= limit*limit
	}
	return out
}

// step gives the mean time between samples, s.
func (r *run) step() float64 { return (r.t[len(r.t)-1] - r.t[0]) / float64(len(r.t)-1) }

// gradients gives the slopes through the increments of one direction.
func (r *run) gradients(place string, line []bin) {
	q := r.In.Parameters
	slope := func(of func(bin) float64) (k float64, sd *float64) {
		x, y := make([]float64, len(line)), make([]float64, len(line))
		for i, b := range line {
			x[i], y[i] = b.ay, of(b)
		}
		return fit(x, y)
	}
	radius, nearest, widest := 0.0, math.Inf(1), 0.0
	for _, b := range line {
		radius += b.wide / float64(len(line))
		nearest, widest = math.Min(nearest, 1/b.bend), math.Max(widest, 1/b.bend)
	}
	r.Give("circle_radius", place, radius)
	ratio, base := q.Number("steering_ratio"), q.Number("wheelbase")
	if r.steer != nil {
		k, sd := slope(func(b bin) float64 { return b.steer })
		r.give("steering_gradient", place, k, sd)
		switch {
		case ratio == 0:
			r.Doubt("steering_ratio_unknown", r.t[0], "The steering ratio is not told; there is no understeer gradient, and the steering gradient is by the steering wheel.")
		case base == 0 && q.Word("method") != constantRadius:
			r.Doubt("wheelbase_unknown", r.t[0], "The wheelbase is not told; without a constant radius there is no understeer gradient.")
		default:
			if base == 0 {
				r.Doubt("wheelbase_unknown", r.t[0], "The wheelbase is not told; to the %s the radius goes from %s to %s, and what that asks of the steering is in the gradient.",
					place, unit.Metre.Format(nearest, 1, unit.Plain), unit.Metre.Format(widest, 1, unit.Plain))
			}
			k, sd := slope(func(b bin) float64 { return b.steer/ratio - base*b.bend })
			r.give("understeer_gradient", place, k, sd)
			if v := base / k; v > 0 && !math.IsInf(v, 1) {
				r.Give("characteristic_speed", place, math.Sqrt(v))
			} else if v < 0 && !math.IsInf(v, -1) {
				r.Give("critical_speed", place, math.Sqrt(-v))
			}
		}
	}
	for _, g := range []struct {
		id   string
		have []float64
		of   func(bin) float64
	}{
		{"sideslip_gradient", r.sideslip, func(b bin) float64 { return b.sideslip }},
		{"roll_gradient", r.roll, func(b bin) float64 { return b.roll }},
	} {
		if g.have != nil {
			k, sd := slope(g.of)
			r.give(g.id, place, k, sd)
		}
	}
}

// fit gives the slope of the straight line by least squares, and its standard error,
// nil for fewer than three points.
func fit(x, y []float64) (slope float64, sd *float64) {
	n := float64(len(x))
	mx, my := 0.0, 0.0
	for i := range x {
		mx += x[i] / n
		my += y[i] / n
	}
	xx, xy := 0.0, 0.0
	for i := range x {
		xx += (x[i] - mx) * (x[i] - mx)
		xy += (x[i] - mx) * (y[i] - my)
	}
	slope = xy / xx
	if len(x) > 2 {
		rest := 0.0
		for i := range x {
			e := y[i] - my - slope*(x[i]-mx)
			rest += e * e
		}
		v := math.Sqrt(rest / (n - 2) / xx)
		sd = &v
	}
	return slope, sd
}

// trace gives steering, by the road wheels where the ratio is known, against lateral
// acceleration.
func (r *run) trace(place string, all []bin) {
	if r.steer == nil {
		return
	}
	ratio := r.In.Parameters.Number("steering_ratio")
	if ratio == 0 {
		ratio = 1
	}
	var x, y []float64
	for _, b := range all {
		x, y = append(x, b.ay), append(y, b.steer/ratio)
	}
	r.Trace("steering_by_lateral_"+place, "Steering by lateral acceleration, to the "+place, x, "m/s²", y, "rad")
}
