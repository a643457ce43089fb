package driver

import (
	"math"
	"math/rand/v2"

	"example.org/bookend/sim/ground"
	"example.org/bookend/sim/tyremodel"
	"example.org/bookend/sim/vehicle"
)

// Driver is how somebody drives.
type Driver struct {
	Name      string
	Preview   float64 // how far ahead he looks, s
	Reaction  float64 // s
	Muscle    float64 // time constant of arms and feet, s
	Dare      float64 // share of the grip that he uses at the limit
	LapSD     float64 // scatter of that share from lap to lap
	BendSD    float64 // and from bend to bend
	SteerSD   float64 // restlessness of the steering wheel, rad
	SpeedSD   float64 // of a set speed, m/s
	PlaceSD   float64 // of where something is begun, m
	PedalTime float64 // of stamping the brake, s
}

// Professional is the driver of the demonstration.
func Professional(name string) Driver {
	return Driver{
		Name: name, Preview: 1.0, Reaction: 0.16, Muscle: 0.08, Dare: 0.82, LapSD: 0.007, BendSD: 0.012,
		SteerSD: 0.010, SpeedSD: 0.10, PlaceSD: 0.6, PedalTime: 0.15,
	}
}

// tick is how often the driver acts, s: every ten steps of the vehicle.
const (
	tick  = 0.010
	ticks = 10
)

// Surroundings is the day as it is now.
type Surroundings struct {
	Grip    float64 // factor on the grip of every surface
	Water   float64 // factor on every depth
	WaterSD float64 // scatter of that factor from stop to stop, a share
}

// Session is a driver at the wheel of a vehicle on a course: one recording's worth
// of driving. Everything that happens is written to Trace.
type Session struct {
	Vehicle *vehicle.Vehicle
	Course  *ground.Course
	Driver  Driver
	Around  Surroundings
	Rand    *rand.Rand
	Trace   *vehicle.Trace

	station, offset float64
	seen            []sight // ring of what he saw
	at              int
	hand, foot      float64 // steering wheel, rad; pedals: brake negative
	noise           float64
	plan            *Plan
	aim             Line
	held            bool // he holds the steering wheel where it is
	gently          bool // he does not brake harder than 3 m/s²
}

// Line is what is to be driven beside the course's own path: an offset to its left in
// m and the change of curvature that it means, by station. nil is the path itself.
type Line func(station float64) (offset, curvature float64)

// wanted gives the line's offset in m and curvature in 1/m at a station.
func (s *Session) wanted(station float64) (offset, curvature float64) {
	curvature = s.Course.Path.Curvature(station)
	if s.aim != nil {
		o, k := s.aim(station)
		return o, curvature + k
	}
	return 0, curvature
}

// sight is what he sees at one moment.
type sight struct {
	aside float64 // where he would come to be, m to the left of the path
	ahead float64 // at what distance
	front float64 // tangent of the front tyres' slip angle, which he feels
}

// Start puts the vehicle on the course at a station with a speed in m/s.
func Start(v *vehicle.Vehicle, c *ground.Course, d Driver, around Surroundings, rnd *rand.Rand, station, speed float64) *Session {
	s := &Session{Vehicle: v, Course: c, Driver: d, Around: around, Rand: rnd, Trace: vehicle.NewTrace(), station: station}
	p := c.Path.Point(station)
	v.Place(p.East, p.North, c.Path.Heading(station), speed)
	s.seen = make([]sight, max(1, int(math.Round(d.Reaction/tick))))
	s.surface()
	s.Trace.Add(&v.State, s.station, s.offset, s.Course.Path.Heading(s.station))
	return s
}

// Station gives where the vehicle is, m along the path, going on over laps.
func (s *Session) Station() float64 { return s.station }

// Lost tells that the vehicle has left the course for good: it is further beside the
// road than any run-off of ours.
func (s *Session) Lost() bool { return math.Abs(s.offset) > s.Course.Half+runOff }

// Over tells that nothing more is driven: the trace holds an hour, or the vehicle is
// lost.
func (s *Session) Over() bool { return s.Trace.Full() || s.Lost() }

// runOff is how far beside the road there is ground to come back on, m.
const runOff = 25

// surface looks at what is under each wheel.
func (s *Session) surface() {
	v := s.Vehicle
	for i := range v.State.Surface {
		e, n := v.Wheel(i)
		st, off := s.Course.Path.Locate(ground.Point{East: e, North: n}, s.station)
		grip, depth := s.Course.Surface(st, off)
		v.State.Surface[i] = tyremodel.Surface{Grip: grip * s.Around.Grip, Depth: depth * s.Around.Water}
	}
}

// step moves on by one step of the vehicle.
func (s *Session) step(c vehicle.Controls) {
	v := s.Vehicle
	if v.Due() {
		s.surface()
	}
	v.Advance(c)
	if s.Trace.Due() {
		s.locate()
		s.Trace.Add(&v.State, s.station, s.offset, s.Course.Path.Heading(s.station))
	}
}

// locate finds where on the course the vehicle is.
func (s *Session) locate() {
	st := &s.Vehicle.State
	s.station, s.offset = s.Course.Path.Locate(ground.Point{East: st.East, North: st.North}, s.station)
}

// advance moves on by one tick under the controls.
func (s *Session) advance(c vehicle.Controls) {
	for range ticks {
		s.step(c)
	}
	s.locate()
}

// steer gives the steering-wheel angle that the driver holds now.
func (s *Session) steer() float64 {
	v, d := s.Vehicle, &s.Driver
	if s.held {
		return s.hand
	}
	st := &v.State
	b := &v.Build
	speed := math.Max(2, st.VX)
	ahead := math.Max(4, speed*d.Preview)
	// Where he would come to be, going on in the bend that he is in, against where
	// somebody on the line would: offset, direction and curvature that are off it now.
	k := st.YawRate / speed
	meant, here := s.wanted(s.station)
	slope := 0.0
	if s.aim != nil {
		next, _ := s.wanted(s.station + 0.5)
		slope = (next - meant) / 0.5
	}
	off := st.Heading + st.Sideslip() - s.Course.Path.Heading(s.station) - math.Atan(slope)
	// Of curvature he counts less than half: he feels it late, and would hunt (own choice).
	aside := s.offset - meant + ahead*math.Sin(off) + 0.45*ahead*ahead/2*(k-here)
	now := sight{aside: aside, ahead: ahead, front: (st.Tangent[vehicle.FL] + st.Tangent[vehicle.FR]) / 2}
	was := s.seen[s.at]
	s.seen[s.at] = now
	s.at = (s.at + 1) % len(s.seen)
	if was.ahead == 0 {
		was = now
	}
	lead := speed * (d.Muscle + 0.14) // he knows that hands and vehicle take their time
	_, need := s.wanted(s.station + lead)
	lin := b.Linear(&v.Tyres[0])
	base := lin.Wheelbase() + lin.Understeer()*speed*speed
	want := base * (need - 2*was.aside/(was.ahead*was.ahead))
	// Front tyres that slide do not turn the vehicle any more: he holds, or opens.
	const slides = 0.13
	if over := math.Abs(was.front) - slides; over > 0 && was.front*want < 0 {
		want *= math.Max(0.6, 1-3*over)
	}
	s.noise += tick/0.4*(-s.noise) + d.SteerSD*math.Sqrt(2*tick/0.4)*s.Rand.NormFloat64()
	target := want*b.Ratio + s.noise
	const fastest = 9.0 // rad/s, as fast as hands go
	move := clamp((target-s.hand)*tick/d.Muscle, fastest*tick)
	s.hand = clamp(s.hand+move, 8)
	return s.hand
}

// pedals gives brake and throttle for an acceleration wanted in m/s².
func (s *Session) pedals(want float64) (brake, throttle float64) {
	v := s.Vehicle
	b, st := &v.Build, &v.State
	drag := (0.5*1.225*b.DragArea*st.VX*st.VX)/b.Mass + b.Rolling*tyremodel.Gravity
	force := want + drag
	top := (b.BrakeTop[0] + b.BrakeTop[1]) * 2 / b.Radius / b.Mass
	aim := 0.0
	if force > -b.EngineDrag*0.5 {
		aim = math.Max(0, force) * b.Mass / math.Min(b.DriveTop, b.Power/math.Max(5, st.VX))
	} else {
		aim = (force + b.EngineDrag) / top
	}
	aim = math.Max(-1, math.Min(1, aim))
	// A spinning rear wheel makes him lift.
	if slip := math.Max(st.Slip[vehicle.RL], st.Slip[vehicle.RR]); aim > 0 && slip > 0.08 {
		aim *= math.Max(0.2, 1-6*(slip-0.08))
	}
	s.foot += (aim - s.foot) * tick / s.Driver.Muscle
	return math.Max(0, -s.foot), math.Max(0, s.foot)
}

// follow drives one tick along the plan.
func (s *Session) follow() {
	speed, accel := s.plan.at(s.station + s.Vehicle.State.VX*0.12)
	v := s.Vehicle.State.VX
	// Who runs wide lifts, until he is back (own choice: from a metre on).
	if wide := math.Abs(s.offset) - 1; wide > 0 && s.offset*s.Course.Path.Curvature(s.station) < 0 {
		speed *= 1 - math.Min(0.12, 0.03*wide)
	}
	want := accel + 1.8*(speed-v)
	if s.gently {
		want = math.Max(want, -3)
	}
	brake, throttle := s.pedals(want)
	s.advance(vehicle.Controls{Steer: s.steer(), Brake: brake, Throttle: throttle})
}

func clamp(x, most float64) float64 { return math.Max(-most, math.Min(most, x)) }
