package lap

import (
	"math"
	"slices"

	"example.org/bookend/course"
	"example.org/bookend/motion"
	"example.org/bookend/signal"
)

// moved is how the vehicle moved in the lap, sample by sample.
type moved struct {
	t          []float64 // s
	station    []float64 // m from the start gate
	v          []float64 // m/s
	ax, ay     []float64 // m/s² at the reference point
	yaw        []float64 // rad/s
	sideslip   []float64 // rad
	slips      bool      // sideslip is known
	inertial   bool      // from accelerations and yaw rate, not from positions alone
	curvature  []float64 // 1/m of the driven path
	steer      []float64 // rad at the steering wheel, its zero taken off
	steers     bool
	rearOfNull float64 // m, the rear axle behind the reference point; 0: not stated
}

// lead is for how long in s before and after the lap motion is made of what was
// recorded (own choice: the sensors' zero errors settle within it).
const lead = 8.0

// smooth makes the motion of the lap; nil, and told, where that cannot be.
func (r *run) smooth() *motion.Motion {
	p := r.in.Parameters
	if p.Word(paramMotion) != motionSmoothed {
		return nil
	}
	m, err := motion.Smooth(thin(part(r.rec, r.in.FromS-lead, r.in.ToS+lead)), r.in.Course.Plane(), motion.Settings{
		Antenna:    motion.Lever{X: -p.Number(paramReference), Y: p.Number(paramAntenna)},
		Inertial:   motion.Lever{X: p.Number(paramInertial) - p.Number(paramReference), Y: p.Number(paramInertialY)},
		RearAxle:   -p.Number(paramRearAxle),
		PositionSD: p.Number(paramPositionSD),
	})
	if err != nil {
		r.doubt("no_motion", r.in.FromS, "No motion could be made of the recording (%v); what rests on it is missing.", err)
		return nil
	}
	for _, c := range m.Caveats {
		if c.Code == "uncertainty_doubtful" || c.Code == "bridged" && c.Place.TimeS != nil && *c.Place.TimeS >= r.in.FromS-1 && *c.Place.TimeS <= r.in.ToS {
			c.Place = c.Place.Within(r.place)
			r.out.Caveats = append(r.out.Caveats, c)
		}
	}
	return m
}

// known is which way the vehicle goes at a time, in rad anticlockwise from east, and the
// standard deviation in m of its place along that way, the slow error left out.
type known struct{ direction, sd float64 }

func (r *run) known(t float64) known {
	m := r.motion
	i, _ := slices.BinarySearch(m.Base.T, t)
	i = min(i, len(m.Base.T)-1)
	s, c := math.Sincos(m.Course.Value[i])
	return known{m.Course.Value[i], math.Hypot(c*m.ShownEast.SD[i], s*m.ShownNorth.SD[i])}
}

// part gives what a recording holds in [from, to] s; channels that share a base go on
// sharing one, and nothing of the recording is changed.
func part(rec *signal.Recording, from, to float64) *signal.Recording {
	out := *rec
	out.Channels = nil
	type cutting struct {
		base     *signal.Base
		lo, hi   int
		original *signal.Base
	}
	var cuts []cutting
	for _, c := range rec.Channels {
		k := slices.IndexFunc(cuts, func(q cutting) bool { return q.original == c.Base })
		if k < 0 {
			lo, _ := slices.BinarySearch(c.Base.T, from)
			hi, found := slices.BinarySearch(c.Base.T, to)
			if found {
				hi++
			}
			cuts = append(cuts, cutting{&signal.Base{T: c.Base.T[lo:hi]}, lo, hi, c.Base})
			k = len(cuts) - 1
		}
		q := cuts[k]
		d := *c
		d.Base, d.Values, d.Valid = q.base, c.Values[q.lo:q.hi], nil
		for _, v := range c.Valid {
			if a, b := max(v.From, q.lo), min(v.To, q.hi); a < b {
				d.Valid = append(d.Valid, signal.Span{From: a - q.lo, To: b - q.lo})
			}
		}
		out.Channels = append(out.Channels, &d)
	}
	return &out
}

// motionStep is the least step in s of what motion is made of: faster channels are
// averaged to it, which takes half of their noise and of the time that motion takes. Own
// choice: a vehicle does nothing in 20 ms that a straight line through it does not say.
const motionStep = 0.02

// thin gives a recording whose channels are means over steps of at least motionStep, at the
// means of their times; a step that is not valid throughout is left out. Slower channels
// stay as they are.
func thin(rec *signal.Recording) *signal.Recording {
	out := *rec
	out.Channels = nil
	bases := map[*signal.Base]*signal.Base{}
	for _, c := range rec.Channels {
		step := c.Base.Step()
		n := int(motionStep/math.Max(step, 1e-6) + 1e-6)
		if n < 2 || len(c.Base.T) < 2*n {
			out.Channels = append(out.Channels, c)
			continue
		}
		b := bases[c.Base]
		if b == nil {
			b = &signal.Base{}
			for i := 0; i+n <= len(c.Base.T); i += n {
				sum := 0.0
				for _, t := range c.Base.T[i : i+n] {
					sum += t
				}
				b.T = append(b.T, sum/float64(n))
			}
			bases[c.Base] = b
		}
		d := *c
		d.Base, d.Values, d.Valid = b, make([]float64, len(b.T)), nil
		turns := c.Role == signal.CourseAngle || c.Role == signal.Heading
		for _, v := range c.Valid {
			for k := (v.From + n - 1) / n; (k+1)*n <= v.To && k < len(b.T); k++ {
				first := c.Values[k*n]
				sum := 0.0
				for _, x := range c.Values[k*n : (k+1)*n] {
					x -= first
					if turns { // north lies between a whole turn and none
						x -= 2 * math.Pi * math.Round(x/(2*math.Pi))
					}
					sum += x
				}
				d.Values[k] = first + sum/float64(n)
				if m := len(d.Valid); m > 0 && d.Valid[m-1].To == k && k*n > v.From {
					d.Valid[m-1].To++
				} else {
					d.Valid = append(d.Valid, signal.Span{From: k, To: k + 1})
				}
			}
		}
		out.Channels = append(out.Channels, &d)
	}
	return &out
}

// inertially tells whether a recording has accelerations and yaw rate within the lap.
func (r *run) inertially() bool {
	for _, role := range []signal.Role{signal.YawRate, signal.AccelX, signal.AccelY} {
		c := r.rec.ByRole(role)
		if c == nil || len(c.Stretches(r.in.FromS, r.in.ToS)) == 0 {
			return false
		}
	}
	return true
}

// path gives the track of a motion.
func path(m *motion.Motion) course.Track {
	tr := course.Track{T: m.Base.T}
	for i := range m.Base.T {
		tr.At = append(tr.At, course.Point{East: m.East.Value[i], North: m.North.Value[i]})
	}
	return tr
}

// moves gathers how the vehicle moved between two times, from its motion or, where there
// is none, from channels as they were recorded; nil, and told, where neither says how
// it turns.
func (r *run) moves(from, to float64, tr course.Track, station []float64) *moved {
	w := &moved{inertial: r.inertially(), rearOfNull: r.in.Parameters.Number(paramRearAxle)}
	if m := r.motion; m != nil {
		for i, t := range m.Base.T {
			if t < from || t > to {
				continue
			}
			w.t = append(w.t, t)
			w.v, w.ax, w.ay = append(w.v, m.Speed.Value[i]), append(w.ax, m.AccelX.Value[i]), append(w.ay, m.AccelY.Value[i])
			w.yaw, w.sideslip = append(w.yaw, m.YawRate.Value[i]), append(w.sideslip, m.Sideslip.Value[i])
		}
		w.slips = w.inertial
		if !w.inertial {
			r.doubt("lateral_by_positions", from, "Without accelerations and yaw rate lateral acceleration is that of the driven path, rounded off; sideslip, what is left past the peak and floating by yaw rate are not known.")
		}
	} else {
		ay, yaw, v := r.rec.ByRole(signal.AccelY), r.rec.ByRole(signal.YawRate), r.speed()
		if ay == nil || yaw == nil || v == nil {
			r.doubt("no_motion", from, "Without motion, corners need recorded lateral acceleration, yaw rate and speed; they have no numbers.")
			return nil
		}
		ax, slip := r.rec.ByRole(signal.AccelX), r.rec.ByRole(signal.Sideslip)
		w.slips = slip != nil && len(slip.Valid) > 0
		for _, q := range ay.Stretches(from, to) {
			for i, t := range q.T {
				y, ok1 := yaw.At(t)
				s, ok2 := v.At(t)
				if !ok1 || !ok2 {
					continue
				}
				along, beta := 0.0, 0.0
				if ax != nil {
					along, _ = ax.At(t)
				}
				if w.slips {
					var ok bool
					if beta, ok = slip.At(t); !ok {
						continue
					}
				}
				w.t, w.v, w.ax, w.ay, w.yaw, w.sideslip = append(w.t, t), append(w.v, s), append(w.ax, along), append(w.ay, q.V[i]), append(w.yaw, y), append(w.sideslip, beta)
			}
		}
	}
	if len(w.t) < 8 {
		r.doubt("no_motion", from, "Motion is missing within the lap; corners have no numbers.")
		return nil
	}
	// Stations and the path's curvature by time.
	w.station, _ = course.ByStation(tr.T, station, w.t)
	w.curvature = make([]float64, len(w.t))
	line, err := course.Learn(tr.At, false, 1)
	if err == nil {
		along := tr.Along()
		at, _ := course.ByStation(tr.T, along, w.t)
		bend := line.Curvature(r.in.Parameters.Number(paramSpan))
		stations := make([]float64, len(bend))
		for i := range stations {
			stations[i] = float64(i) * line.Step
		}
		scale := along[len(along)-1] / math.Max(1e-9, line.Length())
		for i := range at {
			at[i] = math.Min(at[i]/scale, stations[len(stations)-1])
		}
		w.curvature, _ = course.ByStation(stations, bend, at)
	}
	r.steering(w)
	return w
}

// Where steering is straight: the path bends by less than a circle of so many metres,
// for so many seconds in all (own choices).
const (
	straightRadius = 1000.0
	straightFor    = 1.0
)

// steering adds the steering-wheel angle, what it shows on straights taken off.
func (r *run) steering(w *moved) {
	c := r.rec.ByRole(signal.SteeringAngle)
	if c == nil {
		return
	}
	w.steer = make([]float64, len(w.t))
	sum, seconds := 0.0, 0.0
	for i, t := range w.t {
		v, ok := c.At(t)
		if !ok {
			w.steer = nil
			return
		}
		w.steer[i] = v
		if i > 0 && math.Abs(w.curvature[i]) < 1/straightRadius && w.v[i] > 5 {
			h := t - w.t[i-1]
			sum, seconds = sum+h*v, seconds+h
		}
	}
	w.steers = true
	if seconds < straightFor {
		r.doubt("steering_zero_unknown", w.t[0], "The lap has no straight on which the steering wheel's zero shows; its angle is taken as recorded.")
		return
	}
	for i := range w.steer {
		w.steer[i] -= sum / seconds
	}
}

// over gives the mean by time of values over the samples that are chosen, and for how
// many seconds they stand.
func (w *moved) over(chosen func(i int) bool, value func(i int) float64) (mean, seconds float64) {
	sum := 0.0
	for i := 1; i < len(w.t); i++ {
		if h := w.t[i] - w.t[i-1]; h < longestGap && chosen(i) {
			sum, seconds = sum+h*value(i), seconds+h
		}
	}
	if seconds == 0 {
		return 0, 0
	}
	return sum / seconds, seconds
}

// longestGap is a step in s longer than which samples do not belong together (own
// choice: two samples at the slowest rate).
const longestGap = 0.5

// at gives the speed at a station in m; a station beyond the first or last sample is
// theirs.
func (w *moved) at(station float64) float64 {
	station = math.Max(w.station[0], math.Min(station, w.station[len(w.station)-1]))
	v, _ := course.ByStation(w.station, w.v, []float64{station})
	return v[0]
}
