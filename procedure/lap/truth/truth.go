// Package truth drives handling laps on the synthetic ground, for the procedure's tests
// alone: what the instruments wrote, and what the vehicle really did.
package truth

import (
	"math"

	"example.org/bookend/sim"
)

// Laps drives laps at the limit by a professional with his scatter, on a tyre in an
// evaluator's words; course nil is the dry handling course.
func Laps(words string, course *sim.Course, laps int, kit sim.Kit, seed uint64) (*sim.Driven, error) {
	return sim.Drive(sim.Ask{Kind: sim.Laps, Words: words, Course: course, Runs: laps, Seed: seed, Kit: kit})
}

// Sustained gives the greatest mean of lateral acceleration over a second, to either
// side, of a run.
func Sustained(tr *sim.Trace, run sim.Run) float64 {
	var last []float64
	sum, most := 0.0, 0.0
	n := 200 // moments a second
	for i := range tr.Point {
		m := &tr.Point[i]
		if m.T < run.From || m.T > run.To {
			continue
		}
		last = append(last, m.AY)
		sum += m.AY
		if k := len(last); k > n {
			sum -= last[k-1-n]
			most = math.Max(most, math.Abs(sum)/float64(n))
		}
	}
	return most
}

// Offsets gives where the centre of gravity crosses each gate in a run, in m to the left
// of the course's middle.
func Offsets(d *sim.Driven, run sim.Run) []float64 {
	p := d.Stint.Traces[run.Trace].Point
	l := d.Test.Course.Path.Length
	var out []float64
	for _, g := range d.Test.Course.Gates {
		for i := 1; i < len(p); i++ {
			a, b := (p[i-1].Station-g)/l, (p[i].Station-g)/l
			if n := math.Floor(b); math.Floor(a) < n && p[i].T >= run.From-1e-9 && p[i-1].T < run.To-0.1 {
				part := (n - a) / (b - a)
				out = append(out, p[i-1].Offset+part*(p[i].Offset-p[i-1].Offset))
				break
			}
		}
	}
	return out
}
