// Package truth drives sines with dwell on the synthetic ground, for the procedure's
// tests alone: what the instruments wrote, and what the vehicle really did.
package truth

import (
	"math"

	"example.org/bookend/sim"
)

// Dwells drives sines with dwell of growing amplitude, up to a steering-wheel angle in
// rad, at 80 km/h.
func Dwells(angle float64, runs int, seed uint64) (*sim.Driven, error) {
	return sim.Drive(sim.Ask{Kind: sim.SineDwell, Amplitude: angle, Runs: runs, Seed: seed})
}

// Left gives what is left of the second peak of yaw rate at some seconds after the
// steering has come back to zero, from the true motion.
func Left(tr *sim.Trace, after float64) float64 {
	p := tr.Point
	first, last := -1, 0
	for i := range p {
		if p[i].Steer != 0 {
			if first < 0 {
				first = i
			}
			last = i
		}
	}
	side := math.Copysign(1, p[first+10].Steer)
	second, then := 0.0, 0.0
	for i := first; i < len(p); i++ {
		y := side * p[i].YawRate
		if side*p[i].Steer < 0 {
			second = math.Min(second, y)
		}
		if p[i].T <= p[last].T+after {
			then = y
		}
	}
	return then / second
}
