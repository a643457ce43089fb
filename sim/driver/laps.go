package driver

import (
	"math"

	"example.org/bookend/sim/vehicle"
)

// Laps drives at the limit until the first gate has been crossed laps+1 times and
// some way beyond, planning each lap anew: what he dares, and what the tyres have
// become. spoilt says which timed laps, from 1, are held up by traffic; nil: none.
func (s *Session) Laps(laps int, spoilt func(lap int) bool) {
	gate := s.Course.Gates[0]
	l := s.Course.Path.Length
	first := math.Floor((s.station-gate)/l) + 1 // lap that begins at the next crossing
	for lap := -1; lap <= laps; lap++ {
		dare := s.Driver.Dare + s.Driver.LapSD*s.Rand.NormFloat64()
		if lap < 0 || lap == laps {
			dare = 0.7 * s.Driver.Dare // out-lap and in-lap
		}
		if spoilt != nil && spoilt(lap+1) {
			dare *= 0.8
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
			if s.Over() {
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
		for s.station < begin && !s.Over() {
			s.follow()
		}
		water := s.Around.Water
		s.Around.Water *= math.Max(0.2, 1+s.Around.WaterSD*s.Rand.NormFloat64())
		pedal := 0.0
		rest := 0.0
		for rest < 2 && !s.Over() {
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
