package sim

import (
	"math"

	"example.org/bookend/sim/vehicle"
)

// Run is one run as it really was.
type Run struct {
	Number   int
	Trace    int     // which of the stint's traces
	From, To float64 // s of the stint
	Values   []Value
}

// Value is a true figure of a run, in SI units.
type Value struct {
	Measure string
	Value   float64
}

// Value gives a run's true figure; ok is false where the run has none.
func (r *Run) Value(measure string) (v float64, ok bool) {
	for _, x := range r.Values {
		if x.Measure == measure {
			return x.Value, true
		}
	}
	return 0, false
}

func (r *Run) put(measure string, v float64) {
	if !math.IsNaN(v) && !math.IsInf(v, 0) {
		r.Values = append(r.Values, Value{measure, v})
	}
}

// truth finds the runs of a stint and their true figures from the traces. What each
// figure means:
//
// lap_time, sector_time_1 and so on: between crossings of gates by the centre of
// gravity. braking_distance: from 80 to 20 km/h along the way; mfdd: from 0.8 to 0.1
// of the speed at which the pedal was touched. yaw_delay, lateral_delay: phase of the
// first harmonic of a slalom between its second and its last cone but one, by least
// squares, over its frequency; yaw_gain, in 1/s; clearance: least distance of the
// vehicle's side from a cone, or of its corners from the edges of a lane change;
// overshoot_side: how far the body comes beyond the middle way's left edge, negative
// where it stays inside; overshoot: the same, 0 where it stays inside.
// understeer_gradient: of the road wheels' angle beyond that of the radius driven, on
// a circle between 1 and 3 m/s², rad/(m/s²); peak_lateral. yaw_t90 and yaw_overshoot of a step. float_speed: where
// the driven wheel in the trough is 15 % faster than that beside it. least_lateral:
// in a trough.
func (s *Scenario) truth(t *Test, st *Stint) []Run {
	c := t.Course
	l := c.Path.Length
	var out []Run
	one := func(i int, p []Moment) Run {
		return Run{Number: len(out) + 1, Trace: i, From: p[0].T, To: p[len(p)-1].T}
	}
	for i, tr := range st.Traces {
		p := tr.Point
		switch t.Kind {
		case Laps:
			x := crossings(p, c.Gates[0], l)
			for k := 1; k < len(x) && k <= t.Runs; k++ {
				r := Run{Number: len(out) + 1, Trace: i, From: x[k-1], To: x[k]}
				r.put("lap_time", r.To-r.From)
				before := r.From
				for g := 1; g <= len(c.Gates); g++ {
					end := r.To
					if g < len(c.Gates) {
						for _, y := range crossings(p, c.Gates[g], l) {
							if y > r.From && y < r.To {
								end = y
							}
						}
					}
					r.put("sector_time_"+string(rune('0'+g)), end-before)
					before = end
				}
				part := p[at(p, r.From):at(p, r.To)]
				r.put("peak_lateral", peak(part, func(m *Moment) float64 { return math.Abs(m.AY) }))
				out = append(out, r)
			}
		case Stops:
			for _, w := range stops(p) {
				r := one(i, w)
				stopFigures(&r, w)
				out = append(out, r)
			}
		case StepSteer, Sweep, SineDwell, Circle:
			r := one(i, p)
			switch t.Kind {
			case StepSteer:
				stepFigures(&r, p)
			case Circle:
				circleFigures(&r, p, &s.Build)
			}
			out = append(out, r)
		default:
			from, to := crossings(p, c.Gates[0], l), crossings(p, c.Gates[1], l)
			for _, begin := range from {
				for len(to) > 0 && to[0] <= begin {
					to = to[1:]
				}
				if len(to) == 0 {
					break
				}
				w := p[at(p, begin):at(p, to[0])]
				r := Run{Number: len(out) + 1, Trace: i, From: begin, To: to[0]}
				r.put("entry_speed", w[0].VX)
				s.passFigures(t, &r, w)
				out = append(out, r)
			}
		}
	}
	return out
}

// at gives the first moment not before a time.
func at(p []Moment, t float64) int {
	i := int((t - p[0].T) * vehicle.TraceHz)
	i = max(0, min(i, len(p)-1))
	for i > 0 && p[i].T > t {
		i--
	}
	for i < len(p)-1 && p[i].T < t {
		i++
	}
	return i
}

// crossings gives the times at which a station of a closed path is passed.
func crossings(p []Moment, station, length float64) []float64 {
	var out []float64
	for i := 1; i < len(p); i++ {
		a, b := (p[i-1].Station-station)/length, (p[i].Station-station)/length
		if n := math.Floor(b); math.Floor(a) < n {
			out = append(out, p[i-1].T+(n-a)/(b-a)*(p[i].T-p[i-1].T))
		}
	}
	return out
}

func peak(p []Moment, f func(*Moment) float64) float64 {
	most := math.Inf(-1)
	for i := range p {
		most = math.Max(most, f(&p[i]))
	}
	return most
}

// stops cuts a trace into stops: from where the brake was last off above 10 m/s to
// rest.
func stops(p []Moment) [][]Moment {
	var out [][]Moment
	from := -1
	for i := range p {
		switch {
		case p[i].Brake == 0 && p[i].VX > 10:
			from = i
		case from >= 0 && p[i].VX < 0.05 && p[i].Brake > 0:
			out = append(out, p[from:i+1])
			from = -1
		case p[i].Brake == 0 && p[i].VX <= 10:
			from = -1
		}
	}
	return out
}

// falls gives the distance along the way at which the speed falls to v.
func falls(p []Moment, v float64) float64 {
	for i := 1; i < len(p); i++ {
		if a, b := p[i-1].VX, p[i].VX; a >= v && b < v {
			return p[i-1].Distance + (a-v)/(a-b)*(p[i].Distance-p[i-1].Distance)
		}
	}
	return math.NaN()
}

func stopFigures(r *Run, p []Moment) {
	r.put("entry_speed", p[0].VX)
	r.put("braking_distance", falls(p, 20*kmh)-falls(p, 80*kmh))
	v := p[0].VX
	r.put("mfdd", (0.64-0.01)*v*v/2/(falls(p, 0.1*v)-falls(p, 0.8*v)))
}

// passFigures finds what a pass shows.
func (s *Scenario) passFigures(t *Test, r *Run, p []Moment) {
	c := t.Course
	l := c.Path.Length
	lap := math.Floor(p[0].Station/l) * l
	switch t.Kind {
	case Slalom:
		least := math.Inf(1)
		for _, cone := range c.Cones {
			for i := 1; i < len(p); i++ {
				if st := cone.Station + lap; p[i-1].Station < st && p[i].Station >= st {
					least = math.Min(least, (p[i].Offset-cone.Offset)*cone.Pass-s.Build.Width/2)
				}
			}
		}
		r.put("clearance", least)
		n := len(c.Cones)
		inner := p
		for inner[0].Station < c.Cones[1].Station+lap && len(inner) > 1 {
			inner = inner[1:]
		}
		for inner[len(inner)-1].Station > c.Cones[n-2].Station+lap && len(inner) > 1 {
			inner = inner[:len(inner)-1]
		}
		if len(inner) < vehicle.TraceHz {
			return
		}
		hz := float64(n-3) / 2 / (inner[len(inner)-1].T - inner[0].T)
		steer := harmonic(inner, hz, func(m *Moment) float64 { return m.Steer })
		yaw := harmonic(inner, hz, func(m *Moment) float64 { return m.YawRate })
		lateral := harmonic(inner, hz, func(m *Moment) float64 { return m.AY })
		r.put("yaw_delay", later(steer, yaw, hz))
		r.put("lateral_delay", later(steer, lateral, hz))
		r.put("yaw_gain", math.Hypot(real(yaw), imag(yaw))/math.Hypot(real(steer), imag(steer))*s.Build.Ratio)
		r.put("peak_lateral", peak(inner, func(m *Moment) float64 { return math.Abs(m.AY) }))
	case LaneChange:
		least, over := math.Inf(1), math.Inf(-1)
		for i := range p {
			for k := range 4 {
				st, off := s.corner(&p[i], k)
				for w, way := range c.Ways {
					if st < way.From+lap || st > way.To+lap {
						continue
					}
					least = math.Min(least, math.Min(way.Left-off, off-way.Right))
					if w == 1 {
						over = math.Max(over, off-way.Left)
					}
				}
			}
		}
		r.put("clearance", least)
		r.put("overshoot", math.Max(0, over))
		r.put("overshoot_side", over)
		r.put("peak_yaw_rate", peak(p, func(m *Moment) float64 { return math.Abs(m.YawRate) }))
		r.put("peak_sideslip", peak(p, func(m *Moment) float64 { return math.Abs(math.Atan2(m.VY, math.Max(1, m.VX))) }))
	case FloatLine:
		for i := 1; i < len(p); i++ {
			a, b := p[i-1].Spin[vehicle.RR]/p[i-1].Spin[vehicle.RL]-1.15, p[i].Spin[vehicle.RR]/p[i].Spin[vehicle.RL]-1.15
			if a < 0 && b >= 0 {
				r.put("float_speed", p[i-1].VX-a/(b-a)*(p[i].VX-p[i-1].VX))
				break
			}
		}
	case FloatCircle:
		r.put("least_lateral", -peak(p, func(m *Moment) float64 { return -m.AY }))
	}
}

// corner gives station and offset of a corner of the vehicle, on a straight.
func (s *Scenario) corner(m *Moment, k int) (station, offset float64) {
	b := &s.Build
	// The body's middle lies halfway between the axles (own choice).
	x := (b.Front - b.Rear) / 2
	if k < 2 {
		x += b.Length / 2
	} else {
		x -= b.Length / 2
	}
	y := b.Width / 2
	if k&1 == 1 {
		y = -y
	}
	sin, cos := math.Sincos(m.Heading - m.Path)
	return m.Station + x*cos - y*sin, m.Offset + x*sin + y*cos
}

// harmonic gives the complex amplitude of a sine of hz in f, beside a constant and a
// trend, by least squares on the moments.
func harmonic(p []Moment, hz float64, f func(*Moment) float64) complex128 {
	const n = 4
	var a [n][n + 1]float64
	t0 := p[0].T
	mid := (p[len(p)-1].T - t0) / 2
	for i := range p {
		w := 2 * math.Pi * hz * (p[i].T - t0)
		sin, cos := math.Sincos(w)
		row := [n]float64{sin, cos, 1, p[i].T - t0 - mid}
		y := f(&p[i])
		for j := range n {
			for k := range n {
				a[j][k] += row[j] * row[k]
			}
			a[j][n] += row[j] * y
		}
	}
	for j := range n { // Gauss elimination; the matrix is positive definite
		for k := j + 1; k < n; k++ {
			q := a[k][j] / a[j][j]
			for m := j; m <= n; m++ {
				a[k][m] -= q * a[j][m]
			}
		}
	}
	var x [n]float64
	for j := n - 1; j >= 0; j-- {
		x[j] = a[j][n]
		for k := j + 1; k < n; k++ {
			x[j] -= a[j][k] * x[k]
		}
		x[j] /= a[j][j]
	}
	return complex(x[0], x[1]) // sin(wt + phase) has the amplitude's argument as its phase
}

// later gives by how many seconds b comes after a, of sines of hz, within half a
// period either way.
func later(a, b complex128, hz float64) float64 {
	d := math.Atan2(imag(a), real(a)) - math.Atan2(imag(b), real(b))
	for d > math.Pi {
		d -= 2 * math.Pi
	}
	for d < -math.Pi {
		d += 2 * math.Pi
	}
	return d / (2 * math.Pi * hz)
}

// stepFigures finds response time and overshoot of yaw rate, from the moment at
// which the steering is half way to its last value; steady is the mean of the last
// half second (own choice).
func stepFigures(r *Run, p []Moment) {
	n := len(p)
	tail := p[n-vehicle.TraceHz/2:]
	steady, angle := 0.0, 0.0
	for i := range tail {
		steady += tail[i].YawRate / float64(len(tail))
		angle += tail[i].Steer / float64(len(tail))
	}
	sign := math.Copysign(1, angle)
	cross := func(f func(*Moment) float64, level float64) float64 {
		for i := 1; i < n; i++ {
			if a, b := sign*f(&p[i-1]), sign*f(&p[i]); a < level && b >= level {
				return p[i-1].T + (level-a)/(b-a)*(p[i].T-p[i-1].T)
			}
		}
		return math.NaN()
	}
	yaw := func(m *Moment) float64 { return m.YawRate }
	half := cross(func(m *Moment) float64 { return m.Steer }, math.Abs(angle)/2)
	r.put("yaw_t90", cross(yaw, 0.9*math.Abs(steady))-half)
	r.put("yaw_overshoot", peak(p, func(m *Moment) float64 { return sign * m.YawRate })/math.Abs(steady)-1)
	r.put("yaw_gain", steady/angle)
}

// circleFigures finds the understeer gradient by a line through the road wheels'
// angle less the wheelbase over the radius driven, against lateral acceleration, and the greatest lateral acceleration held for a second.
func circleFigures(r *Run, p []Moment, b *vehicle.Build) {
	var n, sx, sy, sxx, sxy float64
	sum, most := 0.0, 0.0
	for i := range p {
		ay := math.Abs(p[i].AY)
		sum += ay
		if i >= vehicle.TraceHz {
			sum -= math.Abs(p[i-vehicle.TraceHz].AY)
			most = math.Max(most, sum/vehicle.TraceHz)
		}
		if ay >= 1 && ay <= 3 && p[i].T > p[0].T+3 {
			y := math.Abs(p[i].Steer)/b.Ratio - b.Base()*math.Abs(p[i].YawRate)/p[i].VX
			n, sx, sy, sxx, sxy = n+1, sx+ay, sy+y, sxx+ay*ay, sxy+ay*y
		}
	}
	r.put("understeer_gradient", (n*sxy-sx*sy)/(n*sxx-sx*sx))
	r.put("peak_lateral", most)
}
