package vehicle_test

import (
	"math"
	"testing"

	"example.org/bookend/sim/tyremodel"
	"example.org/bookend/sim/vehicle"
)

// drive holds the speed and a steering-wheel angle for a time in s, on a surface.
func drive(v *vehicle.Vehicle, s tyremodel.Surface, speed, steer, brake, seconds float64, each func()) {
	for range int(seconds / vehicle.Step) {
		for i := range v.State.Surface {
			v.State.Surface[i] = s
		}
		c := vehicle.Controls{Steer: steer, Brake: brake}
		if brake == 0 {
			c.Throttle = math.Min(1, math.Max(0, 0.15+2*(speed-v.State.VX)))
		}
		v.Advance(c)
		if each != nil {
			each()
		}
	}
}

var dry = tyremodel.Surface{Grip: 1}

// Driven gently the two-track vehicle is the linear bicycle of its own stiffness:
// steady gains within 2 % (load transfer and drive forces take the rest), and a step
// answered in the same time once the tyres answer at once.
func TestTendsToTheBicycle(t *testing.T) {
	tyre := tyremodel.Van()
	tyre.Relaxation, tyre.LongRelaxation = 0.03, 0.03
	b := vehicle.VanAsBuilt()
	linear := b.Linear(&tyre)
	for _, speed := range []float64{15, 22, 30} {
		v := vehicle.New(b, tyre, tyre.BestC)
		v.Place(0, 0, 0, speed)
		drive(v, dry, speed, 0, 0, 2, nil)
		const steer = 0.04
		gain, _, _ := linear.Gains(speed)
		t90, from := 0.0, v.State.T
		drive(v, dry, speed, steer, 0, 4, func() {
			if t90 == 0 && v.State.YawRate >= 0.9*gain*steer/b.Ratio {
				t90 = v.State.T - from
			}
		})
		s := &v.State
		road := steer / b.Ratio
		gain, lateral, sideslip := linear.Gains(s.VX)
		for _, c := range []struct {
			what      string
			got, want float64
			tol       float64
		}{
			{"yaw gain", s.YawRate / road, gain, 0.02 * gain},
			{"lateral gain", s.AY / road, lateral, 0.02 * lateral},
			{"sideslip gain", s.Sideslip() / road, sideslip, 0.02*math.Abs(sideslip) + 0.01},
			{"T90", t90, linear.StepSteer(speed, 0).YawT90, 0.015},
		} {
			if math.Abs(c.got-c.want) > c.tol {
				t.Errorf("%v m/s: %s %v, of the bicycle %v", speed, c.what, c.got, c.want)
			}
		}
	}
}

// A softer sidewall answers later: the relaxation length is in the vehicle.
func TestRelaxationDelaysTheAnswer(t *testing.T) {
	half := func(sigma float64) float64 {
		tyre := tyremodel.Van()
		tyre.Relaxation = sigma
		v := vehicle.New(vehicle.VanAsBuilt(), tyre, 20)
		v.Place(0, 0, 0, 16)
		drive(v, dry, 16, 0, 0, 1, nil)
		from, at := v.State.T, 0.0
		drive(v, dry, 16, 0.3, 0, 2, func() {
			if at == 0 && v.State.YawRate > 0.03 {
				at = v.State.T - from
			}
		})
		return at
	}
	short, long := half(0.3), half(0.9)
	// Two axles' lags of (0.9 - 0.3) m / 16 m/s = 37 ms; the yaw answer is later by about one of them.
	if d := long - short; d < 0.010 || d > 0.060 {
		t.Errorf("yaw rate comes %v s later", d)
	}
}

// Load moves as the handbook has it, once roll and pitch have settled, and none is
// lost.
func TestLoadsMove(t *testing.T) {
	b := vehicle.VanAsBuilt()
	weight := b.Mass * tyremodel.Gravity
	v := vehicle.New(b, tyremodel.Van(), 50)
	v.Place(0, 0, 0, 20)
	drive(v, dry, 20, 0.7, 0, 8, nil)
	s := &v.State
	left, right := s.Load[vehicle.FL]+s.Load[vehicle.RL], s.Load[vehicle.FR]+s.Load[vehicle.RR]
	if math.Abs(left+right-weight) > 1e-6*weight {
		t.Errorf("the wheels carry %v N of %v N", left+right, weight)
	}
	// The body that leans adds m g times its sideways lever.
	axis := (b.RollCentre[0]*b.Rear + b.RollCentre[1]*b.Front) / b.Base()
	track := (b.FrontTrack + b.RearTrack) / 2
	want := vehicle.LateralTransfer(b.Mass, s.AY, b.Height, track) + weight*(b.Height-axis)*s.Roll/track
	if got := (right - left) / 2; math.Abs(got-want) > 0.02*want {
		t.Errorf("%v N moved to the right at %v m/s², of the handbook %v N", got, s.AY, want)
	}
	if !(s.AY > 2 && s.Roll > 0 && s.Sideslip() < 0.05) {
		t.Errorf("in a bend to the left: %+v", s)
	}

	v = vehicle.New(b, tyremodel.Van(), 50)
	v.Place(0, 0, 0, 30)
	sumA, sumL, n := 0.0, 0.0, 0.0
	drive(v, dry, 0, 0, 0.25, 3, func() {
		if v.State.T > 1.5 {
			sumA += v.State.AX
			sumL += v.State.Load[vehicle.FL] + v.State.Load[vehicle.FR] - 2*b.Load(vehicle.FL)
			n++
		}
	})
	if got, want := sumL/n, vehicle.LongitudinalTransfer(b.Mass, -sumA/n, b.Height, b.Base()); math.Abs(got-want) > 0.02*want {
		t.Errorf("%v N moved to the front at %v m/s², of the handbook %v N", got, sumA/n, want)
	}
	if v.State.Pitch <= 0 {
		t.Error("the nose does not dip under braking")
	}
}

// A stop: the wheels turn until walking pace, the deceleration is near what the
// tyres have, water lengthens it, and the vehicle then stands.
func TestStop(t *testing.T) {
	stop := func(s tyremodel.Surface) (metres float64) {
		v := vehicle.New(vehicle.VanAsBuilt(), tyremodel.Van(), 50)
		v.Place(0, 0, 0, 80/3.6)
		locked := 0
		drive(v, s, 0, 0, 1, 9, func() {
			for _, spin := range v.State.Spin {
				if v.State.VX > 6 && spin*v.Build.Radius < 0.5*v.State.VX {
					locked++
				}
			}
		})
		if locked > 20 {
			t.Errorf("depth %v: wheels were below half the speed for %d steps", s.Depth, locked)
		}
		if math.Abs(v.State.VX) > 0.02 || math.Abs(v.State.North) > 0.2 {
			t.Errorf("depth %v: ends at %v m/s, %v m aside", s.Depth, v.State.VX, v.State.North)
		}
		return v.State.Distance
	}
	d := stop(dry)
	ideal := (80 / 3.6) * (80 / 3.6) / 2 / (0.98 * tyremodel.Gravity) // at the peak of a nominal load
	if d < ideal || d > 1.35*ideal {
		t.Errorf("a dry stop from 80 km/h takes %v m, %v m at the peak", d, ideal)
	}
	w := stop(tyremodel.Surface{Grip: 1, Depth: 0.001})
	deep := stop(tyremodel.Surface{Grip: 1, Depth: 0.003})
	if !(w > 1.1*d && deep > 1.1*w) {
		t.Errorf("stops: dry %v m, 1 mm %v m, 3 mm %v m", d, w, deep)
	}
}

// In deep water above its floating speed the vehicle does not follow its wheels.
func TestFloats(t *testing.T) {
	v := vehicle.New(vehicle.VanAsBuilt(), tyremodel.Van(), 50)
	v.Place(0, 0, 0, 33)
	drive(v, tyremodel.Surface{Grip: 1, Depth: 0.009}, 33, 1, 0, 0.5, nil)
	if v.State.AY > 1.5 {
		t.Errorf("lateral acceleration %v m/s² on deep water", v.State.AY)
	}
	if v.State.Footing[vehicle.FL].Share > 0.35 {
		t.Errorf("the contact carries %v", v.State.Footing[vehicle.FL].Share)
	}
}

// The mirror image of a drive is the drive of mirrored controls; the same drive
// gives the same bits.
func TestMirrorAndRepeat(t *testing.T) {
	run := func(sign float64) vehicle.State {
		v := vehicle.New(vehicle.VanAsBuilt(), tyremodel.Van(), 20)
		v.Place(0, 0, 0, 20)
		drive(v, dry, 20, sign*1.5, 0, 2, nil)
		drive(v, dry, 20, -sign, 0, 1, nil)
		return v.State
	}
	a, b, c := run(1), run(1), run(-1)
	if a != b {
		t.Error("the same drive gives another state")
	}
	if math.Abs(a.North+c.North) > 1e-9 || math.Abs(a.YawRate+c.YawRate) > 1e-9 || math.Abs(a.East-c.East) > 1e-9 {
		t.Errorf("mirrored: %v %v and %v %v", a.East, a.North, c.East, c.North)
	}
}

// How many times faster than real time the vehicle alone is: 1 ms over ns/op.
func BenchmarkAdvance(b *testing.B) {
	v := vehicle.New(vehicle.VanAsBuilt(), tyremodel.Van(), 15)
	v.Place(0, 0, 0, 20)
	for i := range v.State.Surface {
		v.State.Surface[i].Depth = 0.001
	}
	for b.Loop() {
		v.Advance(vehicle.Controls{Steer: 0.5, Throttle: 20 - v.State.VX})
	}
}
