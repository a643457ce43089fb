package driver

import (
	"math"

	"example.org/bookend/sim/vehicle"
)

// Pass is one pass through a manoeuvre on a closed course: at a set speed along a
// line between two stations, and round at an easy pace.
type Pass struct {
	Speed    float64 // set speed, m/s
	From, To float64 // stations between which it is held, m
	Line     Line    // what is driven there; nil: the path
	Release  float64 // station at which the throttle is released; 0: held
	Full     bool    // full throttle between the stations, until a wheel spins
	Blind    bool    // the set speed is held whatever bends and water ask for
	Hold     bool    // the steering wheel is held still between the stations
	Easy     float64 // highest speed on the way round, m/s; 0: 22
}

// spins is the slip of a driven wheel at which the driver hears it and lifts (own
// choice; the tests look for 0.15).
const spins = 0.5

// Passes drives passes one after another.
func (s *Session) Passes(list []Pass) {
	l := s.Course.Path.Length
	for i, p := range list {
		base := float64(i) * l
		entry := p.Speed + s.Driver.SpeedSD*s.Rand.NormFloat64()
		easy := p.Easy
		if easy == 0 {
			easy = 22
		}
		limit := func(st float64) float64 {
			if st <= p.To+5 || st > l-60 {
				return entry
			}
			return math.Min(entry, easy)
		}
		dare := func(st float64) float64 {
			if p.Blind {
				return 50
			}
			return 0.62
		}
		s.plan = makePlan(s.Vehicle, s.Course, dare, limit, s.Around.Grip, s.Around.Water)
		shift := s.Driver.PlaceSD * s.Rand.NormFloat64()
		margin := 1 + 0.015*s.Rand.NormFloat64()
		s.aim = nil
		if p.Line != nil {
			s.aim = func(st float64) (float64, float64) {
				o, k := p.Line(st - 0.3*shift)
				return o * margin, k * margin
			}
		}
		spun := false
		water := s.Around.Water
		s.Around.Water *= math.Max(0.2, 1+s.Around.WaterSD*s.Rand.NormFloat64())
		for s.station < base+l-30 && !s.Over() {
			at := s.station - base
			inside := at >= p.From && at <= p.To
			s.held = p.Hold && inside
			s.gently = p.Full
			switch {
			case inside && p.Full && spun:
				// Wheels that float neither drive nor brake: he lifts and lets it roll out.
				s.foot = 0
				s.advance(vehicle.Controls{Steer: s.steer()})
			case inside && p.Full:
				spun = s.Vehicle.State.Slip[vehicle.RL] > spins || s.Vehicle.State.Slip[vehicle.RR] > spins
				s.foot = math.Min(1, s.foot+tick/0.2)
				s.advance(vehicle.Controls{Steer: s.steer(), Throttle: math.Max(0, s.foot)})
			case inside && p.Release > 0 && at >= p.Release:
				s.foot = 0
				s.advance(vehicle.Controls{Steer: s.steer()})
			default:
				s.follow()
			}
		}
		s.held, s.aim, s.gently = false, nil, false
		s.Around.Water = water
	}
}

// Climb drives along a closed course ever faster, by rate in m/s², from a speed in
// m/s until the vehicle is wide by a distance in m or as fast as top in m/s.
func (s *Session) Climb(speed, rate, top, wide float64) {
	for st := &s.Vehicle.State; speed < top && math.Abs(s.offset) < wide && !s.Over(); speed += rate * tick {
		brake, throttle := s.pedals(rate + 1.8*(speed-st.VX))
		s.advance(vehicle.Controls{Steer: s.steer(), Brake: brake, Throttle: throttle})
	}
}

// Machine drives straight at a speed in m/s for settle seconds, and then steers as a
// machine does: the steering-wheel angle in rad by time in s from then, with the
// throttle held where it was, for some seconds. Nothing scatters but what speed was
// reached.
func (s *Session) Machine(speed, settle, seconds float64, steer func(t float64) float64) {
	entry := speed + s.Driver.SpeedSD*s.Rand.NormFloat64()
	st := &s.Vehicle.State
	sum := 0.0
	n := int(math.Round(settle / tick))
	for range n {
		want := 3*(entry-st.VX) + 1.5*sum
		sum += (entry - st.VX) * tick
		brake, throttle := s.pedals(want)
		s.advance(vehicle.Controls{Brake: brake, Throttle: throttle})
	}
	throttle := math.Max(0, s.foot)
	for i := range int(math.Round(seconds / tick)) {
		from := float64(i) * tick
		for k := range ticks {
			s.step(vehicle.Controls{Steer: steer(from + float64(k)*vehicle.Step), Throttle: throttle})
		}
		s.locate()
	}
}

// Step gives the steering of a step: to an angle in rad at a rate in rad/s, held.
func Step(angle, rate float64) func(t float64) float64 {
	rise := math.Abs(angle) / rate
	return func(t float64) float64 { return angle * math.Min(1, math.Max(0, t/rise)) }
}

// Sweep gives a sine of an amplitude in rad whose frequency grows evenly from one to
// another in Hz over a time in s.
func Sweep(amplitude, from, to, seconds float64) func(t float64) float64 {
	return func(t float64) float64 {
		if t > seconds {
			return 0
		}
		return amplitude * math.Sin(2*math.Pi*(from*t+(to-from)*t*t/(2*seconds)))
	}
}

// SineDwell gives a sine of 0.7 Hz with a dwell of half a second at its second peak,
// of an amplitude in rad (docs/sources/un-r140.md).
func SineDwell(amplitude float64) func(t float64) float64 {
	const hz, dwell = 0.7, 0.5
	second := 0.75 / hz
	return func(t float64) float64 {
		switch {
		case t > 1/hz+dwell:
			return 0
		case t > second+dwell:
			t -= dwell
		case t > second:
			t = second
		}
		return amplitude * math.Sin(2*math.Pi*hz*t)
	}
}
