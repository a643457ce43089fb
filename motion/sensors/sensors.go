// Package sensors says what the sensors of a vehicle measured, brought to one
// point of it: which channels of a recording motion is made of, how noisy each is,
// gravity and lever arms taken out of accelerations, and what the recording shows
// of the way that the vehicle was driven.
//
// Values are in SI units and ISO 8855 axes and signs (x forward, y left, z up);
// positions are east and north in m in a course's plane. What sensors of the grade
// that vehicles carry are good for at best is own choice, at the lines.
package sensors

import (
	"math"
	"slices"
	"sort"

	"example.org/bookend/caveat"
	"example.org/bookend/course"
	"example.org/bookend/signal"
)

// Least standard deviations in one sample. Own choices, at the good end of what
// makers of such sensors state: what a recording shows from sample to sample may
// be less, because receivers smooth what they give out, but the error is not.
const (
	leastPosition  = 0.01  // m, each of east and north, beside the slow part
	leastVelocity  = 0.03  // m/s, each of east and north
	leastRate      = 0.002 // rad/s; 0.1 °/s, Euro NCAP AEB car-to-car protocol 4.3.1, accuracy of yaw rate
	leastAccel     = 0.1   // m/s²; likewise, accuracy of acceleration
	leastWheel     = 0.03  // m/s
	wheelSlipFor   = 0.5   // s, for which slip stays what it is
	leanFor        = 0.5   // s, for which what a leaning body adds beyond its share stays what it is
	sparsePosition = 0.1   // m, where samples are too far apart to see the noise between them
	sparseVelocity = 0.1   // m/s
)

// WheelSlip is by how much wheels run ahead of the vehicle or lag behind it, one
// standard deviation: a share of 0.4 % for each m/s² of acceleration, to the side too,
// where front wheels are steered and outer ones turn faster (own choice).
const WheelSlip = 0.004 // s²/m

// sparse is the step in s beyond which the noise of a channel cannot be told from
// the vehicle's motion by third differences (own choice).
const sparse = 0.25

// Sensor is one kind of measurement with its samples: times in s, and in A and B
// what it measured, B empty for one number.
type Sensor struct {
	Kind Kind
	Name string // channels that it comes from
	T    []float64
	A, B []float64
	SD   float64 // of one number
	Held float64 // by how much an error that stays for a while weighs more in one sample, for wheels and accelerations
}

// Kind says what a sensor measures.
type Kind int

// The kinds; the last two are assumptions about the vehicle.
const (
	Position   Kind = iota // m, east and north
	Velocity               // m/s, over ground, east and north
	Speed                  // m/s, over ground, without direction
	YawRate                // rad/s
	AccelX                 // m/s²
	AccelY                 // m/s²
	Wheels                 // m/s, speed by the wheels
	Rear                   // how far the rear axle slips sideways, assumed
	Standstill             // that a vehicle which stands does not move
)

var words = [...]string{"position", "velocity", "speed", "yaw rate", "longitudinal acceleration", "lateral acceleration",
	"wheel speed", "rear axle", "standstill"}

// String gives the kind in words.
func (k Kind) String() string { return words[k] }

// Kit is what a recording offers.
type Kit struct {
	Sensors  []Sensor
	Base     *signal.Base // the fastest of those used
	Levelled [2]bool      // gravity was taken out of longitudinal, lateral acceleration
	Slow     float64      // m, standard deviation of the position error that all samples share
	Doubt    caveat.List
}

// slowDefaultSD in m, each of east and north: a receiver by itself, under open sky
// (own choice).
const slowDefaultSD = 1.5

func (k *Kit) use(c ...*signal.Channel) string {
	name := ""
	for i, c := range c {
		if i > 0 {
			name += ", "
		}
		name += c.Name
		if k.Base == nil || c.Base.Step() > 0 && (k.Base.Step() == 0 || c.Base.Step() < k.Base.Step()) {
			k.Base = c.Base
		}
	}
	return name
}

// Find gives the sensor of that kind, nil where there is none.
func (k *Kit) Find(kind Kind) *Sensor {
	for i := range k.Sensors {
		if k.Sensors[i].Kind == kind {
			return &k.Sensors[i]
		}
	}
	return nil
}

// Gather takes from a recording the channels that motion is made of. inertial is
// where the acceleration sensors sit, slow the standard deviation in m of the error
// that all positions share, 0 where nobody says.
func Gather(rec *signal.Recording, plane course.Plane, inertial Lever, slow float64) *Kit {
	k := &Kit{Slow: slow}
	position := k.position(rec, plane)
	if k.Slow == 0 {
		k.Slow = slowDefaultSD
		if position != nil {
			k.Doubt.Add("position_accuracy_assumed", caveat.Place{File: rec.Name},
				"How far all positions may lie to one side is not stated; %.1f m east and north is assumed, as of a receiver without corrections.", slowDefaultSD)
		}
	}
	ground := k.velocity(rec, position)
	k.inertial(rec, inertial)
	k.wheels(rec, ground)
	return k
}

func (k *Kit) position(rec *signal.Recording, plane course.Plane) *signal.Channel {
	a, b := rec.ByRole(signal.Latitude), rec.ByRole(signal.Longitude)
	geographic := a != nil && b != nil
	if !geographic {
		a, b = rec.ByRole(signal.East), rec.ByRole(signal.North)
	}
	if a == nil || b == nil {
		return nil
	}
	s := Sensor{Kind: Position, Name: k.use(a, b)}
	each(a, b, func(t, x, y float64) {
		if geographic {
			p := plane.Place(x, y)
			x, y = p.East, p.North
		}
		if n := len(s.T); n > 0 && s.A[n-1] == x && s.B[n-1] == y {
			return // held, not measured again
		}
		s.T, s.A, s.B = append(s.T, t), append(s.A, x), append(s.B, y)
	})
	s.SD = noise(s.T, leastPosition, sparsePosition, s.A, s.B)
	k.Add(s)
	return a
}

// Add adds a sensor that has samples.
func (k *Kit) Add(s Sensor) {
	if len(s.T) > 0 {
		k.Sensors = append(k.Sensors, s)
	}
}

// velocity gives the channel that speed over ground was taken from.
func (k *Kit) velocity(rec *signal.Recording, position *signal.Channel) *signal.Channel {
	if n, e := rec.ByRole(signal.VelocityNorth), rec.ByRole(signal.VelocityEast); n != nil && e != nil {
		s := Sensor{Kind: Velocity, Name: k.use(e, n)}
		each(e, n, func(t, ve, vn float64) { s.take(t, ve, vn) })
		k.addVelocity(rec.Name, s)
		return e
	}
	course := rec.ByRole(signal.CourseAngle)
	var best *signal.Channel
	for _, c := range rec.Channels {
		if c.Role != signal.Speed {
			continue
		}
		near := func(o *signal.Channel) bool { return o != nil && c.Base == o.Base }
		if best == nil && (course == nil && position == nil || near(course) || near(position)) {
			best = c
		}
	}
	if best == nil {
		return nil
	}
	if course == nil {
		s := Sensor{Kind: Speed, Name: k.use(best)}
		for _, p := range best.All() {
			for i, t := range p.T {
				s.T, s.A = append(s.T, t), append(s.A, p.V[i])
			}
		}
		s.SD = noise(s.T, leastVelocity, sparseVelocity, s.A)
		k.Add(s)
		return best
	}
	s := Sensor{Kind: Velocity, Name: k.use(best, course)}
	each(best, course, func(t, v, c float64) {
		sin, cos := math.Sincos(c)
		s.take(t, v*sin, v*cos)
	})
	k.addVelocity(rec.Name, s)
	return best
}

// Bounds beyond which a velocity is not believed. Own choices: no tyre gives a
// vehicle more than about 1.5 times gravity, and single jumps are weighted down one
// by one.
const (
	mostChange = 15.0 // m/s²
	jumpsShare = 1e-3
	jumpsStep  = 0.05 // s, over which at least a change is taken
)

// addVelocity adds a velocity, unless it jumps again and again as no vehicle could
// while there is a position to go by.
func (k *Kit) addVelocity(file string, s Sensor) {
	s.SD = noise(s.T, leastVelocity, sparseVelocity, s.A, s.B)
	jumps, first, i := 0, 0, 0
	for j := range s.T {
		for i < j && s.T[j]-s.T[i+1] >= jumpsStep-1e-9 {
			i++
		}
		if dt := s.T[j] - s.T[i]; dt >= jumpsStep-1e-9 && dt < 0.5 && math.Hypot(s.A[j]-s.A[i], s.B[j]-s.B[i]) > mostChange*dt {
			if jumps == 0 {
				first = j
			}
			jumps++
		}
	}
	if float64(jumps) > jumpsShare*float64(len(s.T)) && k.Find(Position) != nil {
		k.Doubt.Add("velocity_jumps", caveat.Place{File: file, Channel: s.Name, TimeS: caveat.At(s.T[first])},
			"The velocity changes %d times by more than %g m/s², as no vehicle can, for the first time here; it is left out, and the motion rests on the position.", jumps, mostChange)
		return
	}
	k.Add(s)
}

func (s *Sensor) take(t, a, b float64) {
	if n := len(s.T); n > 0 && s.A[n-1] == a && s.B[n-1] == b && math.Hypot(a, b) > 0.5 {
		return // held: nothing that moves shows the same twice
	}
	s.T, s.A, s.B = append(s.T, t), append(s.A, a), append(s.B, b)
}

// each gives the samples at which both channels are valid, at the first one's
// times.
func each(a, b *signal.Channel, f func(t, a, b float64)) {
	if a.Base == b.Base {
		for i, t := range a.Base.T {
			if a.ValidAt(i) && b.ValidAt(i) {
				f(t, a.Values[i], b.Values[i])
			}
		}
		return
	}
	for _, p := range signal.Pair(a, b, math.Inf(-1), math.Inf(1)) {
		for i, t := range p.T {
			f(t, p.A[i], p.B[i])
		}
	}
}

// noise gives the standard deviation of what differs from sample to sample in the
// first of the lists given by more than a motion could, and takes the greatest
// over them: third differences, whose variance is 20 times that of the samples, by
// their median, so that jumps do not count.
func noise(t []float64, least, far float64, lists ...[]float64) float64 {
	if len(t) < 8 {
		return max(least, far)
	}
	steps := make([]float64, len(t)-1)
	for i := range steps {
		steps[i] = t[i+1] - t[i]
	}
	slices.Sort(steps)
	median := steps[len(steps)/2]
	if median > sparse {
		return max(least, far)
	}
	sd := least
	for _, x := range lists {
		var d []float64
		for i := 0; i+3 < len(x); i++ {
			if t[i+3]-t[i] < 4.5*median {
				d = append(d, math.Abs(x[i+3]-3*x[i+2]+3*x[i+1]-x[i]))
			}
		}
		if len(d) == 0 {
			continue
		}
		slices.Sort(d)
		const ofNormal = 0.6745 // the median of |x| of a standard normal x
		sd = max(sd, d[len(d)/2]/ofNormal/math.Sqrt(20))
	}
	return sd
}

// inertial takes accelerations and yaw rate, levelled and carried to the
// reference point as far as the recording lets it.
func (k *Kit) inertial(rec *signal.Recording, at Lever) {
	turn := rec.ByRole(signal.YawRate)
	if turn != nil {
		s := Sensor{Kind: YawRate, Name: k.use(turn)}
		for _, p := range turn.All() {
			s.T, s.A = append(s.T, p.T...), append(s.A, p.V...)
		}
		s.SD = noise(s.T, leastRate, leastRate, s.A)
		k.Add(s)
	}
	g := GravityAt(rec)
	level := func(c *signal.Channel, by signal.Role, f func(a, angle, g float64) float64) (*signal.Channel, bool) {
		tilt := rec.ByRole(by)
		if c == nil || tilt == nil {
			return c, false
		}
		out := *c
		out.Values = slices.Clone(c.Values)
		out.Valid = nil
		for i, t := range c.Base.T {
			angle, ok := tilt.At(t)
			if !ok || !c.ValidAt(i) {
				continue
			}
			out.Values[i] = f(c.Values[i], angle, g)
			if n := len(out.Valid); n > 0 && out.Valid[n-1].To == i {
				out.Valid[n-1].To++
			} else {
				out.Valid = append(out.Valid, signal.Span{From: i, To: i + 1})
			}
		}
		return &out, true
	}
	var a [2]*signal.Channel
	a[0], k.Levelled[0] = level(rec.ByRole(signal.AccelX), signal.Pitch, LevelLongitudinal)
	a[1], k.Levelled[1] = level(rec.ByRole(signal.AccelY), signal.Roll, LevelLateral)

	var shift func(t float64) (dx, dy float64, ok bool)
	if at != (Lever{}) {
		if turn == nil {
			k.Doubt.Add("lever_arm_not_used", caveat.Place{File: rec.Name}, "Accelerations cannot be carried to the reference point without a yaw rate; they are taken as they are.")
		} else {
			half := max(0.05, turn.Base.Step()) // s, for the yaw acceleration; own choice: noise of 0.1 °/s makes 0.02 rad/s²
			shift = func(t float64) (float64, float64, bool) {
				r, ok := turn.At(t)
				before, ok1 := turn.At(t - half)
				after, ok2 := turn.At(t + half)
				if !ok || !ok1 || !ok2 {
					return 0, 0, false
				}
				dx, dy := at.Acceleration(0, 0, r, (after-before)/(2*half))
				return dx, dy, true
			}
		}
	}
	for i, c := range a {
		if c == nil {
			continue
		}
		s := Sensor{Kind: AccelX + Kind(i), Name: k.use(c)}
		for _, p := range c.All() {
			for j, t := range p.T {
				v := p.V[j]
				if shift != nil {
					dx, dy, ok := shift(t)
					if !ok {
						continue
					}
					if i == 0 {
						v += dx
					} else {
						v += dy
					}
				}
				s.T, s.A = append(s.T, t), append(s.A, v)
			}
		}
		s.SD = noise(s.T, leastAccel, leastAccel, s.A)
		s.Held = 1
		if step := c.Base.Step(); step > 0 {
			s.Held = math.Sqrt(max(1, leanFor/step))
		}
		k.Add(s)
	}
}

// GravityAt gives gravity in m/s² where a recording was made, standard gravity
// if it has no latitude.
func GravityAt(rec *signal.Recording) float64 {
	if c := rec.ByRole(signal.Latitude); c != nil && len(c.Valid) > 0 {
		return Gravity(c.Values[c.Valid[0].From])
	}
	return StandardGravity
}

// wheels takes the speed that the vehicle itself states, or the mean of its
// wheels, brought near the speed over ground where the wheels are in rad/s.
func (k *Kit) wheels(rec *signal.Recording, ground *signal.Channel) {
	var own []*signal.Channel
	for _, c := range rec.Channels {
		if c.Role == signal.Speed && c != ground && k.Find(Position) != nil && (ground == nil || c.Base != ground.Base) {
			own = []*signal.Channel{c}
			break
		}
	}
	if own == nil {
		for _, role := range [...]signal.Role{signal.WheelSpeedFL, signal.WheelSpeedFR, signal.WheelSpeedRL, signal.WheelSpeedRR} {
			if c := rec.ByRole(role); c != nil && (len(own) == 0 || c.Unit == own[0].Unit) {
				own = append(own, c)
			}
		}
	}
	if own == nil {
		return
	}
	s := Sensor{Kind: Wheels, Name: k.use(own...)}
	for i, t := range own[0].Base.T {
		sum, all := 0.0, true
		for _, c := range own {
			v, ok := 0.0, false
			if c.Base == own[0].Base {
				v, ok = c.Values[i], c.ValidAt(i)
			} else {
				v, ok = c.At(t)
			}
			sum += v
			all = all && ok
		}
		if all {
			s.T, s.A = append(s.T, t), append(s.A, sum/float64(len(own)))
		}
	}
	if own[0].Unit == "rad/s" {
		radius, ok := k.radius(&s)
		if !ok {
			return
		}
		for i := range s.A {
			s.A[i] *= radius
		}
	}
	s.SD = noise(s.T, leastWheel, leastWheel, s.A)
	// n samples that share an error say no more than one: each is given n times its
	// variance.
	s.Held = 1
	if step := own[0].Base.Step(); step > 0 {
		s.Held = math.Sqrt(max(1, wheelSlipFor/step))
	}
	k.Add(s)
}

// radius gives the median ratio of speed over ground to a rotation in rad/s, in m.
func (k *Kit) radius(s *Sensor) (float64, bool) {
	var ratio []float64
	k.Grounds(func(t, v float64) {
		i := sort.SearchFloat64s(s.T, t)
		if v > SideslipSpeed && i < len(s.T) && s.T[i]-t < 0.1 && s.A[i] > 0 {
			ratio = append(ratio, v/s.A[i])
		}
	})
	if len(ratio) < 10 {
		return 0, false
	}
	slices.Sort(ratio)
	return ratio[len(ratio)/2], true
}

// differenceOver is the time in s over which a velocity is taken from positions
// where none is measured. Own choice: 1 cm of noise makes 0.03 m/s of it.
const differenceOver = 0.5

// Velocities gives moments in s with the velocity over ground, east and north in
// m/s: as measured, else from positions half a second or one step apart.
func (k *Kit) Velocities() (t, e, n []float64) {
	if s := k.Find(Velocity); s != nil {
		return s.T, s.A, s.B
	}
	p := k.Find(Position)
	if p == nil {
		return nil, nil, nil
	}
	i := 0
	for j := range p.T {
		for i < j && p.T[j]-p.T[i+1] >= differenceOver-1e-9 {
			i++
		}
		dt := p.T[j] - p.T[i]
		if dt < differenceOver-1e-9 || dt > 2 {
			continue
		}
		t = append(t, 0.5*(p.T[i]+p.T[j]))
		e, n = append(e, (p.A[j]-p.A[i])/dt), append(n, (p.B[j]-p.B[i])/dt)
	}
	return t, e, n
}

// Grounds gives each known speed over ground, in order of time.
func (k *Kit) Grounds(f func(t, v float64)) {
	if s := k.Find(Speed); s != nil {
		for i, t := range s.T {
			f(t, math.Abs(s.A[i]))
		}
		return
	}
	t, e, n := k.Velocities()
	for i, t := range t {
		f(t, math.Hypot(e[i], n[i]))
	}
}
