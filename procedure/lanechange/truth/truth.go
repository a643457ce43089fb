// Package truth drives lane changes on the synthetic ground, for the procedure's tests
// alone: what the instruments wrote, and what the vehicle really did.
package truth

import (
	"math"

	"example.org/bookend/sim"
)

// Passes drives the double lane change of ISO 3888-1 at a speed in m/s on a tyre in
// an evaluator's words. exact gives faultless instruments.
func Passes(words string, speed float64, runs int, exact bool, seed uint64) (*sim.Driven, error) {
	return sim.Drive(sim.Ask{Kind: sim.LaneChange, Words: words, Speed: speed, Runs: runs, Seed: seed, Kit: sim.Kit{Exact: exact}})
}

// Body gives the vehicle's width in m, and its ends' distances from the antenna, which
// the ground puts 0.4 m ahead of the centre of gravity; the body's middle is halfway
// between the axles. The acceleration sensor sits 0.3 m behind the centre of gravity.
func Body(d *sim.Driven) (width, ahead, behind float64) {
	b := &d.Scenario.Build
	middle := (b.Front-b.Rear)/2 - 0.4
	return b.Width, middle + b.Length/2, b.Length/2 - middle
}

// Slide gives for how many seconds, from the first lane on until so long after the
// run's end, the centre of gravity really slid at more than an angle in rad, and the
// greatest sideslip.
func Slide(d *sim.Driven, run int, angle, after float64) (seconds, most float64) {
	r := d.Stint.Runs[run]
	p := d.Trace(run).Point
	for i := 1; i < len(p); i++ {
		if p[i].T < r.From || p[i].T > r.To+after {
			continue
		}
		beta := math.Abs(math.Atan2(p[i].VY, p[i].VX))
		most = math.Max(most, beta)
		if beta > angle {
			seconds += p[i].T - p[i-1].T
		}
	}
	return seconds, most
}
