// Package truth drives slaloms on the synthetic ground, for the procedure's tests
// alone: what the instruments wrote, and what the vehicle really did.
package truth

import (
	"math"

	"example.org/bookend/sim"
)

// Passes drives passes at the van's usual speed on a tyre in an evaluator's words.
// exact gives faultless instruments.
func Passes(words string, runs int, exact bool, seed uint64) (*sim.Driven, error) {
	return sim.Drive(sim.Ask{Kind: sim.Slalom, Words: words, Runs: runs, Seed: seed, Kit: sim.Kit{Exact: exact}})
}

// At drives passes at a set speed in m/s, with usual instruments.
func At(words string, speed float64, runs int, seed uint64) (*sim.Driven, error) {
	return sim.Drive(sim.Ask{Kind: sim.Slalom, Words: words, Speed: speed, Runs: runs, Seed: seed})
}

// Body gives the vehicle's width in m, and its ends' distances from the antenna, which
// the ground puts 0.4 m ahead of the centre of gravity; the body's middle is halfway
// between the axles.
// The acceleration sensor sits 0.3 m behind the centre of gravity.
func Body(d *sim.Driven) (width, ahead, behind float64) {
	b := &d.Scenario.Build
	middle := (b.Front-b.Rear)/2 - 0.4
	return b.Width, middle + b.Length/2, b.Length/2 - middle
}

// Gap gives how near, in m, the outline of the body really came to the middle of a
// cone in a run, both from 0; Room how far its corners were from the straight within
// half a spacing of it.
func Gap(d *sim.Driven, run, cone int) (gap, room float64) {
	b := &d.Scenario.Build
	c := d.Test.Course
	spacing := c.Cones[1].Station - c.Cones[0].Station
	r := d.Stint.Runs[run]
	gap = math.Inf(1)
	lap := math.NaN()
	for _, m := range d.Trace(run).Point {
		if m.T < r.From || m.T > r.To {
			continue
		}
		if math.IsNaN(lap) {
			lap = math.Floor(m.Station/c.Path.Length) * c.Path.Length
		}
		along, aside := c.Cones[cone].Station+lap-m.Station, c.Cones[cone].Offset-m.Offset
		if math.Abs(along) > spacing/2 {
			continue
		}
		sin, cos := math.Sincos(m.Heading - m.Path)
		middle, l, w := (b.Front-b.Rear)/2, b.Length/2, b.Width/2
		x, y := math.Abs(along*cos+aside*sin-middle)-l, math.Abs(aside*cos-along*sin)-w
		if x <= 0 && y <= 0 {
			gap = math.Min(gap, math.Max(x, y))
		} else {
			gap = math.Min(gap, math.Hypot(math.Max(x, 0), math.Max(y, 0)))
		}
		for _, q := range [4][2]float64{{middle + l, w}, {middle + l, -w}, {middle - l, w}, {middle - l, -w}} {
			room = math.Max(room, math.Abs(m.Offset+q[0]*sin+q[1]*cos))
		}
	}
	return gap, room
}

// Sideslip gives the mean of the greatest sideslip angles of the centre of gravity within half
// a spacing of the inner cones, rad.
func Sideslip(d *sim.Driven, run int) float64 {
	c := d.Test.Course
	spacing := c.Cones[1].Station - c.Cones[0].Station
	r := d.Stint.Runs[run]
	tops := make([]float64, len(c.Cones))
	lap := math.NaN()
	for _, m := range d.Trace(run).Point {
		if m.T < r.From || m.T > r.To {
			continue
		}
		if math.IsNaN(lap) {
			lap = math.Floor(m.Station/c.Path.Length) * c.Path.Length
		}
		for i := range tops {
			if math.Abs(c.Cones[i].Station+lap-m.Station) <= spacing/2 {
				tops[i] = math.Max(tops[i], math.Abs(math.Atan2(m.VY, m.VX)))
			}
		}
	}
	sum := 0.0
	for _, v := range tops[1 : len(tops)-1] {
		sum += v
	}
	return sum / float64(len(tops)-2)
}

// Lost drives one pass within which the receiver loses its place for some seconds.
func Lost(seconds float64, seed uint64) (*sim.Driven, error) {
	return sim.Drive(sim.Ask{Kind: sim.Slalom, Runs: 1, Seed: seed, Incidents: []sim.Incident{{Kind: sim.Dropout, Stint: 1, Run: 1, Size: seconds}}})
}
