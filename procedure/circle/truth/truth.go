// Package truth drives circles on the synthetic ground, for the procedure's tests
// alone: what the instruments wrote, and what the vehicle really did.
package truth

import (
	"math"

	"example.org/bookend/sim"
)

// Circles drives circles of 40 m to the left and to the right by turns, ever faster,
// on a tyre in an evaluator's words. exact gives faultless instruments.
func Circles(words string, runs int, exact bool, seed uint64) (*sim.Driven, error) {
	return sim.Drive(sim.Ask{Kind: sim.Circle, Words: words, Runs: runs, Seed: seed, Kit: sim.Kit{Exact: exact}})
}

// Vehicle gives the vehicle's steering ratio and its wheelbase in m.
func Vehicle(d *sim.Driven) (ratio, base float64) {
	return d.Scenario.Build.Ratio, d.Scenario.Build.Base()
}

// Gradient gives the true understeer gradient between two lateral accelerations in
// m/s², rad/(m/s²): a straight line through means of a second of the road wheels' angle
// beyond the radius's, of those within which the acceleration ranged over less than
// 0.35 m/s²: a driver who hunts tells nothing of the vehicle.
func Gradient(d *sim.Driven, run int, low, high float64) float64 {
	b := &d.Scenario.Build
	type second struct{ n, ay, y, least, most float64 }
	var all []second
	p := d.Trace(run).Point
	for _, m := range p {
		k := int(m.T - p[0].T)
		for len(all) <= k {
			all = append(all, second{least: math.Inf(1), most: math.Inf(-1)})
		}
		s := &all[k]
		ay := math.Abs(m.AY)
		s.n, s.ay = s.n+1, s.ay+ay
		s.y += math.Abs(m.Steer)/b.Ratio - b.Base()*math.Abs(m.YawRate)/m.VX
		s.least, s.most = math.Min(s.least, ay), math.Max(s.most, ay)
	}
	// Means of increments of 0.5 m/s², each weighing alike.
	var in [64]second
	for _, s := range all {
		if x := s.ay / s.n; x >= low && x < high && s.most-s.least < 0.35 {
			k := int(2 * x)
			in[k].n, in[k].ay, in[k].y = in[k].n+1, in[k].ay+x, in[k].y+s.y/s.n
		}
	}
	var n, sx, sy, sxx, sxy float64
	for _, s := range in {
		if s.n > 0 {
			x, y := s.ay/s.n, s.y/s.n
			n, sx, sy, sxx, sxy = n+1, sx+x, sy+y, sxx+x*x, sxy+x*y
		}
	}
	return (n*sxy - sx*sy) / (n*sxx - sx*sx)
}
