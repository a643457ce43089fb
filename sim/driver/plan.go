// Package driver drives: a driver with preview, reaction and scatter, who can be
// asked for a set speed, for the limit, for a stop, or for steering as a machine
// does it.
//
// He looks ahead along the path, steers by its curvature and by where he would come
// to be, feels the front tyres slide, and drives at the limit by what grip he
// expects and by how much of it he dares to use, which differs a little from lap to
// lap and from bend to bend. His figures (a preview below a second, a reaction of
// some 0.2 s, lap times that scatter by 0.3 to 0.7 %) are common practice without
// a source.
//
// SI units, ISO 8855:2011 signs.
package driver

import (
	"math"

	"example.org/bookend/sim/ground"
	"example.org/bookend/sim/tyremodel"
	"example.org/bookend/sim/vehicle"
)

// grid is the spacing of a speed plan, m.
const grid = 2.0

// Plan is the speed that is meant to be driven, by station.
type Plan struct {
	path  *ground.Path
	speed []float64 // m/s, one each grid
	accel []float64 // m/s²
}

// at gives speed in m/s and acceleration in m/s² at a station.
func (p *Plan) at(station float64) (v, a float64) {
	s := station
	if p.path.Closed {
		s = math.Mod(s, p.path.Length)
		if s < 0 {
			s += p.path.Length
		}
	}
	x := s / grid
	i := max(0, min(int(x), len(p.speed)-1))
	j := i + 1
	if j == len(p.speed) {
		if p.path.Closed {
			j = 0
		} else {
			j = i
		}
	}
	u := math.Min(1, x-float64(i))
	return p.speed[i] + u*(p.speed[j]-p.speed[i]), p.accel[i]
}

// limits gives what lateral acceleration, deceleration and drive in m/s² the vehicle
// has on a surface at a speed, as a driver who knows it would expect.
func limits(v *vehicle.Vehicle, s tyremodel.Surface, speed float64) (lateral, braking, drive float64) {
	b := &v.Build
	g := tyremodel.Gravity
	lateral = 6
	lever := b.Height
	for range 3 {
		sum := 0.0
		shift := [2]float64{}
		share := b.RollK[0] / (b.RollK[0] + b.RollK[1])
		total := b.Mass * lateral * lever
		shift[0], shift[1] = total*share/b.FrontTrack, total*(1-share)/b.RearTrack
		for w := range 4 {
			t := &v.Tyres[w]
			load := b.Load(w)
			if w&1 == 0 {
				load -= shift[w/2]
			} else {
				load += shift[w/2]
			}
			load = math.Max(0, load)
			f := t.Footing(s, v.Condition[w], speed, t.FloatSpeed(b.Pressure[w/2]))
			sum += t.Lateral(load, f).D
		}
		lateral = sum / b.Mass
	}
	for w := range 4 {
		t := &v.Tyres[w]
		f := t.Footing(s, v.Condition[w], speed, t.FloatSpeed(b.Pressure[w/2]))
		d := t.Longitudinal(b.Load(w), f).D
		braking += d / b.Mass
		if w >= vehicle.RL {
			drive += 0.8 * d / b.Mass
		}
	}
	drive = math.Min(drive, math.Min(b.DriveTop, b.Power/math.Max(5, speed))/b.Mass)
	return lateral, math.Min(braking, 1.2*g), drive
}

// makePlan finds the highest speed along a path that uses a share of the grip: at
// most what each bend allows, then backward by braking and forward by driving. dare
// gives the share at a station; cap the highest speed there. grip is the day's
// factor on the surface, water that on the depth.
func makePlan(v *vehicle.Vehicle, c *ground.Course, dare, limit func(station float64) float64, grip, water float64) *Plan {
	n := int(math.Ceil(c.Path.Length / grid))
	p := &Plan{path: c.Path, speed: make([]float64, n), accel: make([]float64, n)}
	surface := func(s float64) tyremodel.Surface {
		k, d := c.Surface(s, 0)
		return tyremodel.Surface{Grip: k * grip, Depth: d * water}
	}
	for i := range n {
		s := float64(i) * grid
		k := math.Abs(c.Path.Curvature(s))
		top := limit(s)
		speed := top
		if k > 1e-5 {
			speed = math.Min(top, math.Sqrt(6/k))
			for range 6 {
				lateral, _, _ := limits(v, surface(s), speed)
				speed = math.Min(top, (speed+math.Sqrt(dare(s)*lateral/k))/2)
			}
		}
		p.speed[i] = speed
	}
	passes := 1
	if c.Path.Closed {
		passes = 2
	}
	left := func(i int, full, lateral float64) float64 {
		s := float64(i) * grid
		u := p.speed[i] * p.speed[i] * math.Abs(c.Path.Curvature(s)) / (lateral * dare(s))
		return full * math.Sqrt(math.Max(0.02, 1-u*u))
	}
	for range passes {
		for i := n - 1; i >= 0; i-- {
			j := i + 1
			if j == n {
				if !c.Path.Closed {
					continue
				}
				j = 0
			}
			s := float64(j) * grid
			lateral, braking, _ := limits(v, surface(s), p.speed[j])
			a := left(j, 0.72*dare(s)*braking, lateral)
			p.speed[i] = math.Min(p.speed[i], math.Sqrt(p.speed[j]*p.speed[j]+2*a*grid))
		}
	}
	for range passes {
		for i := range n {
			j := i - 1
			if j < 0 {
				if !c.Path.Closed {
					continue
				}
				j = n - 1
			}
			s := float64(j) * grid
			lateral, _, drive := limits(v, surface(s), p.speed[j])
			a := left(j, 0.95*drive, lateral)
			p.speed[i] = math.Min(p.speed[i], math.Sqrt(p.speed[j]*p.speed[j]+2*a*grid))
		}
	}
	for i := range n {
		j := i + 1
		if j == n {
			j = 0
			if !c.Path.Closed {
				j = i
			}
		}
		p.accel[i] = (p.speed[j]*p.speed[j] - p.speed[i]*p.speed[i]) / (2 * grid)
	}
	return p
}
