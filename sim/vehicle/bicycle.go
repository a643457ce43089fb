package vehicle

import (
	"math"
	"math/cmplx"
)

// Bicycle is the linear single-track model: sideslip and yaw rate at a constant
// speed, tyres without limits. Masses in kg and kg·m², distances from the centre of
// gravity to the axles in m, cornering stiffness an axle in N/rad.
// docs/sources/vehicle-handbook.md has the formulas.
type Bicycle struct {
	Mass, Inertia float64
	Front, Rear   float64 // a and b
	FrontC, RearC float64 // both tyres of an axle
}

// Wheelbase gives the distance between the axles in m.
func (b Bicycle) Wheelbase() float64 { return b.Front + b.Rear }

// Understeer gives K in rad·s²/m: the steering that a unit of lateral acceleration
// needs beyond L/R.
func (b Bicycle) Understeer() float64 {
	return b.Mass / b.Wheelbase() * (b.Rear/b.FrontC - b.Front/b.RearC)
}

// CharacteristicSpeed gives sqrt(L/K) in m/s, infinite for a neutral vehicle and
// not a number for an oversteering one, which has a critical speed instead.
func (b Bicycle) CharacteristicSpeed() float64 { return math.Sqrt(b.Wheelbase() / b.Understeer()) }

// Gains gives the steady yaw rate in 1/s, lateral acceleration in m/s² and sideslip
// in rad, each for a radian of road-wheel angle, at a speed in m/s.
func (b Bicycle) Gains(speed float64) (yaw, lateral, sideslip float64) {
	l := b.Wheelbase()
	below := l + b.Understeer()*speed*speed
	return speed / below, speed * speed / below, (b.Rear - b.Mass*b.Front*speed*speed/(b.RearC*l)) / below
}

// matrix gives a11, a12, a21, a22, b1, b2 of (sideslip, yaw rate).
func (b Bicycle) matrix(v float64) (a11, a12, a21, a22, b1, b2 float64) {
	moment := b.Front*b.FrontC - b.Rear*b.RearC
	a11 = -(b.FrontC + b.RearC) / (b.Mass * v)
	a12 = -1 - moment/(b.Mass*v*v)
	a21 = -moment / b.Inertia
	a22 = -(b.Front*b.Front*b.FrontC + b.Rear*b.Rear*b.RearC) / (b.Inertia * v)
	return a11, a12, a21, a22, b.FrontC / (b.Mass * v), b.Front * b.FrontC / b.Inertia
}

// Modes gives the undamped natural frequency in rad/s and the damping ratio at a
// speed in m/s.
func (b Bicycle) Modes(speed float64) (frequency, damping float64) {
	a11, a12, a21, a22, _, _ := b.matrix(speed)
	frequency = math.Sqrt(a11*a22 - a12*a21)
	return frequency, -(a11 + a22) / (2 * frequency)
}

// Response gives yaw rate in 1/s and lateral acceleration at the centre of gravity
// in m/s², each for a radian of sinusoidal road-wheel angle of a frequency in Hz:
// size and, as the argument, phase in rad.
func (b Bicycle) Response(speed, hz float64) (yaw, lateral complex128) {
	a11, a12, a21, a22, b1, b2 := b.matrix(speed)
	s := complex(0, 2*math.Pi*hz)
	det := (s-complex(a11, 0))*(s-complex(a22, 0)) - complex(a12*a21, 0)
	beta := ((s-complex(a22, 0))*complex(b1, 0) + complex(a12*b2, 0)) / det
	yaw = ((s-complex(a11, 0))*complex(b2, 0) + complex(a21*b1, 0)) / det
	lateral = complex(speed, 0) * (s*beta + yaw)
	return yaw, lateral
}

// Phase gives the argument of a response in degrees.
func Phase(z complex128) float64 { return cmplx.Phase(z) * 180 / math.Pi }

// Answer is what a step of steering yields, ISO 7401:2011 clause 10
// (docs/sources/iso-7401.md): times in s from the instant at which the steering is
// half way, overshoots as a share of the steady value.
type Answer struct {
	YawGain        float64 // 1/s
	YawT90         float64
	YawPeak        float64 // time of the first peak
	YawOvershoot   float64
	LateralT90     float64
	LateralOver    float64
	TB             float64 // peak time of yaw rate times steady sideslip, s·rad for a radian of steering
	SteadySideslip float64 // rad for a radian
}

// StepSteer gives the answer to a ramp of steering that takes rise seconds (0: an
// ideal step), at a speed in m/s. Integrated by the classical Runge-Kutta method at
// 0.1 ms.
func (b Bicycle) StepSteer(speed, rise float64) Answer {
	const (
		dt   = 1e-4
		last = 5.0
	)
	a11, a12, a21, a22, b1, b2 := b.matrix(speed)
	steer := func(t float64) float64 {
		if t >= rise {
			return 1
		}
		return t / rise
	}
	deriv := func(t, beta, r float64) (float64, float64) {
		d := steer(t)
		return a11*beta + a12*r + b1*d, a21*beta + a22*r + b2*d
	}
	yaw, lateral, sideslip := b.Gains(speed)
	out := Answer{YawGain: yaw, SteadySideslip: sideslip}
	n := int(math.Round(last / dt))
	rs, ays := make([]float64, n+1), make([]float64, n+1)
	beta, r := 0.0, 0.0
	for i := 0; ; i++ {
		t := float64(i) * dt
		bd, _ := deriv(t, beta, r)
		rs[i], ays[i] = r, speed*(bd+r)
		if i == n {
			break
		}
		k1b, k1r := deriv(t, beta, r)
		k2b, k2r := deriv(t+dt/2, beta+dt/2*k1b, r+dt/2*k1r)
		k3b, k3r := deriv(t+dt/2, beta+dt/2*k2b, r+dt/2*k2r)
		k4b, k4r := deriv(t+dt, beta+dt*k3b, r+dt*k3r)
		beta += dt / 6 * (k1b + 2*k2b + 2*k3b + k4b)
		r += dt / 6 * (k1r + 2*k2r + 2*k3r + k4r)
	}
	from := rise / 2
	out.YawT90, out.YawPeak, out.YawOvershoot = rising(rs, dt, from, yaw)
	out.LateralT90, _, out.LateralOver = rising(ays, dt, from, lateral)
	out.TB = out.YawPeak * sideslip
	return out
}

// rising gives the time from an instant to 90 % of a steady value, to the highest
// value, and by how much that is above the steady one. An ideal step of steering
// makes lateral acceleration jump; the first crossing counts.
func rising(y []float64, dt, from, steady float64) (t90, peak, over float64) {
	top := 0
	found := false
	for i := 1; i < len(y); i++ {
		if !found && y[i] >= 0.9*steady {
			part := (0.9*steady - y[i-1]) / (y[i] - y[i-1])
			t90, found = (float64(i-1)+part)*dt-from, true
		}
		if y[i] > y[top] {
			top = i
		}
	}
	// A parabola through the three values about the highest.
	at := float64(top)
	if top > 0 && top < len(y)-1 {
		a, b, c := y[top-1], y[top], y[top+1]
		if curve := a - 2*b + c; curve < 0 {
			at += (a - c) / (2 * curve)
		}
	}
	return t90, at*dt - from, y[top]/steady - 1
}

// LongitudinalTransfer gives the load in N that moves from the rear axle to the
// front under a deceleration in m/s²: m ax h / L.
func LongitudinalTransfer(mass, deceleration, height, wheelbase float64) float64 {
	return mass * deceleration * height / wheelbase
}

// LateralTransfer gives the load in N that moves from the wheels of one side to
// those of the other under a lateral acceleration in m/s²: m ay h / t.
func LateralTransfer(mass, lateral, height, track float64) float64 {
	return mass * lateral * height / track
}
