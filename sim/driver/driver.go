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
		Name: name, Preview: 0.75, Reaction: 0.16, Muscle: 0.08, Dare: 0.82, LapSD: 0.015, BendSD: 0.025,
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
	stamped         float64 // since when the brake is being stamped; negative: not
	line            *ground.Path
}

// sight is what he sees at one moment.
type sight struct {
	aside float64 // where he would come to be, m to the left of the path
	ahead float64 // at what distance
	yaw   float64
	front float64 // tangent of the front tyres' slip angle, which he feels
}

// Start puts the vehicle on the course at a station with a speed in m/s.
func Start(v *vehicle.Vehicle, c *ground.Course, d Driver, around Surroundings, rnd *rand.Rand, station, speed float64) *Session {
	s := &Session{Vehicle: v, Course: c, Driver: d, Around: around, Rand: rnd, Trace: vehicle.NewTrace(), station: station, stamped: -1, line: c.Path}
	p := c.Path.Point(station)
	v.Place(p.East, p.North, c.Path.Heading(station), speed)
	s.seen = make([]sight, max(1, int(math.Round(d.Reaction/tick))))
	s.surface()
	s.Trace.Add(&v.State, s.station, s.offset)
	return s
}

// Station gives where the vehicle is, m along the path, going on over laps.
func (s *Session) Station() float64 { return s.station }

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

// advance moves on by one tick under the controls.
func (s *Session) advance(c vehicle.Controls) {
	v := s.Vehicle
	for range ticks {
		if v.Due() {
			s.surface()
		}
		v.Advance(c)
		if s.Trace.Due(v.State.T) {
			s.station, s.offset = s.Course.Path.Locate(ground.Point{East: v.State.East, North: v.State.North}, s.station)
			s.Trace.Add(&v.State, s.station, s.offset)
		}
	}
	s.station, s.offset = s.Course.Path.Locate(ground.Point{East: v.State.East, North: v.State.North}, s.station)
}

// steer gives the steering-wheel angle that the driver holds now.
func (s *Session) steer() float64 {
	v, d := s.Vehicle, &s.Driver
	st := &v.State
	b := &v.Build
	speed := math.Max(2, st.VX)
	ahead := math.Max(4, speed*d.Preview)
	// Where he would come to be, going on in the bend that he is in.
	k := st.YawRate / speed
	course := st.Heading + st.Sideslip()
	turn := k * ahead
	sin, cos := math.Sincos(course + turn/2)
	chord := ahead
	if math.Abs(turn) > 1e-6 {
		chord = ahead * math.Sin(turn/2) / (turn / 2)
	}
	p := ground.Point{East: st.East + chord*cos, North: st.North + chord*sin}
	_, aside := s.line.Locate(p, s.lineStation()+ahead)
	now := sight{aside: aside, ahead: ahead, yaw: st.YawRate, front: (st.Tangent[vehicle.FL] + st.Tangent[vehicle.FR]) / 2}
	was := s.seen[s.at]
	s.seen[s.at] = now
	s.at = (s.at + 1) % len(s.seen)
	if was.ahead == 0 {
		was = now
	}
	lead := speed * (d.Reaction*0.3 + d.Muscle + 0.10) // he knows that hands and vehicle take their time
	need := s.line.Curvature(s.lineStation() + lead)
	lin := b.Linear(&v.Tyres[0])
	base := lin.Wheelbase() + 0.9*lin.Understeer()*speed*speed
	want := base * (need - 1.15*2*was.aside/(was.ahead*was.ahead) - 0.10*(was.yaw/speed-s.line.Curvature(s.lineStation())))
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

// lineStation gives the station along the line that is followed, which is the
// course's own path unless a manoeuvre has one of its own.
func (s *Session) lineStation() float64 {
	if s.line == s.Course.Path {
		return s.station
	}
	st, _ := s.line.Locate(ground.Point{East: s.Vehicle.State.East, North: s.Vehicle.State.North}, s.station)
	return st
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
	brake, throttle := s.pedals(want)
	s.advance(vehicle.Controls{Steer: s.steer(), Brake: brake, Throttle: throttle})
}

// Laps drives at the limit until the first gate has been crossed laps+1 times and
// some way beyond, planning each lap anew: what he dares, and what the tyres have
// become.
func (s *Session) Laps(laps int) {
	gate := s.Course.Gates[0]
	l := s.Course.Path.Length
	first := math.Floor((s.station-gate)/l) + 1 // lap that begins at the next crossing
	for lap := -1; lap <= laps; lap++ {
		dare := s.Driver.Dare + s.Driver.LapSD*s.Rand.NormFloat64()
		if lap < 0 || lap == laps {
			dare = 0.7 * s.Driver.Dare // out-lap and in-lap
		}
		bends := s.Course.Path.Bends
		bend := make([]float64, len(bends))
		for i := range bend {
			bend[i] = s.Driver.BendSD * s.Rand.NormFloat64()
		}
		share := func(station float64) float64 {
			station = math.Mod(station, l)
			d := dare
			for i, b := range bends {
				if station >= b.From-40 && station <= b.To {
					d += bend[i]
					break
				}
			}
			return d
		}
		s.plan = makePlan(s.Vehicle, s.Course, share, func(float64) float64 { return 45 }, s.Around.Grip, s.Around.Water)
		end := gate + (first+float64(lap)+1)*l
		if lap == laps {
			end = gate + (first+float64(lap))*l + 0.25*l
		}
		for s.station < end {
			s.follow()
			if s.Trace.Full() {
				return
			}
		}
	}
}

// Stops brakes from a set speed in m/s at a station of a closed course, again and
// again: up to speed, the brake stamped, two seconds at rest, and round.
func (s *Session) Stops(n int, speed, station float64) {
	l := s.Course.Path.Length
	for i := range n {
		entry := speed + s.Driver.SpeedSD*s.Rand.NormFloat64()
		begin := station + s.Driver.PlaceSD*s.Rand.NormFloat64() + float64(i)*l
		limit := func(st float64) float64 {
			if st <= station+20 || st > l-60 {
				return entry
			}
			return math.Min(entry, 20)
		}
		s.plan = makePlan(s.Vehicle, s.Course, func(float64) float64 { return 0.6 }, limit, s.Around.Grip, s.Around.Water)
		for s.station < begin && !s.Trace.Full() {
			s.follow()
		}
		water := s.Around.Water
		s.Around.Water *= math.Max(0.2, 1+s.Around.WaterSD*s.Rand.NormFloat64())
		pedal := 0.0
		rest := 0.0
		for rest < 2 && !s.Trace.Full() {
			pedal = math.Min(1, pedal+tick/s.Driver.PedalTime)
			if s.Vehicle.State.VX < 0.05 {
				rest += tick
			}
			s.foot = -pedal
			s.advance(vehicle.Controls{Steer: s.steer(), Brake: pedal})
		}
		s.foot = 0
		s.Around.Water = water
	}
	// On for a moment, as a driver does.
	for range 200 {
		s.follow()
	}
}

func clamp(x, most float64) float64 { return math.Max(-most, math.Min(most, x)) }
