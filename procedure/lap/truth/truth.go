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

// Loose gives a driver who uses so much of the grip, and the van with its roll stiffness
// shared out anew, front and rear in N·m/rad: the stiffer the rear, the sooner its axle
// goes past its peak.
func Loose(dare, front, rear float64) sim.Ask {
	s := sim.SkerryMoor(1)
	d, b := s.Drivers[0], s.Build
	d.Dare = dare
	b.RollK = [2]float64{front, rear}
	return sim.Ask{Kind: sim.Laps, Driver: &d, Vehicle: &b, Runs: 1}
}

// Peak gives, of what really happened in a run, the sideslip in rad at the rear axle at
// which its lateral acceleration was greatest, and the share of that which was kept so far
// past it: the mean of all moments of steady speed within half a degree of it. ok is false
// where there were fewer than n of them.
func Peak(d *sim.Driven, i int, way float64, n int) (at, kept float64, ok bool) {
	run := d.Stint.Runs[i]
	b := d.Scenario.Build
	const wide = 0.5 * math.Pi / 180
	sum, count := map[int]float64{}, map[int]float64{}
	mean := func(slip float64, half int) (float64, float64) {
		s, c := 0.0, 0.0
		for k := int(math.Round(slip/wide)) - half; k <= int(math.Round(slip/wide))+half; k++ {
			s, c = s+sum[k], c+count[k]
		}
		return s / c, c
	}
	for k := range d.Stint.Traces[run.Trace].Point {
		m := &d.Stint.Traces[run.Trace].Point[k]
		if m.T < run.From || m.T > run.To || m.VX < 8 || math.Abs(m.AX) > 2 || math.Abs(m.AY) < 2 {
			continue
		}
		side := math.Copysign(1, m.AY)
		slip := -side * math.Atan2(m.VY-b.Rear*m.YawRate, m.VX)
		j := int(math.Round(slip / wide))
		sum[j], count[j] = sum[j]+side*(m.AY-b.Rear*m.YawAccel), count[j]+1
	}
	most := 0.0
	for j := 0; j < 80; j++ {
		if v, c := mean(float64(j)*wide, 0); c >= 20 && v > most {
			most, at = v, float64(j)*wide
		}
	}
	v, c := mean(at+way, 1)
	return at, v / most, c >= float64(n)
}

// Trough gives laps by the van, its tyres at so many Pa, on a straight there and back whose
// right wheels run through a trough of a depth in m.
func Trough(pressure, depth float64, seed uint64) (*sim.Driven, error) {
	s := sim.SkerryMoor(1)
	d, err := sim.Drive(sim.Ask{Kind: sim.FloatLine, Runs: 1, Seed: seed})
	if err != nil {
		return nil, err
	}
	c := d.Test.Course
	for i := range c.Lanes {
		c.Lanes[i].Depth = depth
	}
	b := s.Build
	b.Pressure = [2]float64{pressure, pressure}
	return sim.Drive(sim.Ask{Kind: sim.Laps, Vehicle: &b, Course: c, Runs: 1, Seed: seed})
}

// Floated gives for how long in s a run had a wheel whose slip was at least so much either
// way while the vehicle neither braked nor accelerated by more than 2 m/s², and what
// share of that wheel's load its contact carried meanwhile, in the mean.
func Floated(d *sim.Driven, i int, slip float64) (seconds, share float64) {
	run := d.Stint.Runs[i]
	p := d.Stint.Traces[run.Trace].Point
	for k := 1; k < len(p); k++ {
		m := &p[k]
		if m.T < run.From || m.T > run.To || m.VX < 8 || math.Abs(m.AX) > 2 {
			continue
		}
		for w := range m.Slip {
			if math.Abs(m.Slip[w]) >= slip {
				seconds += m.T - p[k-1].T
				share += (m.T - p[k-1].T) * m.Share[w]
				break
			}
		}
	}
	return seconds, share / math.Max(seconds, 1e-9)
}
