// Package vehicle moves the vehicle of the synthetic ground: a two-track model with
// load transfer through roll and pitch, four tyres of package tyremodel with
// relaxation of both slips, wheels that spin and lock, brakes with an anti-lock
// system, and drive at the rear axle. Beside it stands the linear bicycle whose
// figures are published, and to which the two-track model tends when driven gently.
//
// SI units, ISO 8855:2011: x forward, y left, z up; yaw, steering and lateral
// acceleration positive to the left, roll positive with the right side down, pitch
// positive nose down. The reference point is the centre of gravity. Wheels are in
// the order front left, front right, rear left, rear right.
//
// The ground is flat. Left out: camber, toe, steering elasticity, wind, gear
// changes, engine dynamics, stability control, aerodynamic lift. The step of
// integration is fixed, 1 ms, semi-implicit, so that two runs of the same inputs
// give the same bytes.
package vehicle

import (
	"math"

	"example.org/bookend/sim/tyremodel"
)

// Wheels in their order.
const (
	FL = iota
	FR
	RL
	RR
	wheels
)

// Step is the step of integration in s.
const Step = 0.001

// Build is a vehicle as built and loaded.
type Build struct {
	Mass       float64 // kg
	Inertia    float64 // about z, kg·m²
	RollI      float64 // about x, kg·m²
	PitchI     float64 // about y, kg·m²
	Front      float64 // centre of gravity to front axle, m
	Rear       float64 // to rear axle, m
	FrontTrack float64 // m
	RearTrack  float64
	Height     float64    // of the centre of gravity, m
	RollCentre [2]float64 // height at front and rear axle, m
	RollK      [2]float64 // roll stiffness, N·m/rad
	RollC      [2]float64 // N·m·s/rad
	PitchK     float64    // N·m/rad
	PitchC     float64    // N·m·s/rad
	Radius     float64    // of a rolling wheel, m
	WheelI     float64    // kg·m²
	Ratio      float64    // steering wheel to road wheel
	BrakeTop   [2]float64 // brake torque of one wheel at full pedal, N·m
	BrakeLag   float64    // time constant of brake pressure, s
	Power      float64    // W at the wheels
	DriveTop   float64    // largest drive force, N
	EngineDrag float64    // deceleration by a closed throttle, m/s²
	DragArea   float64    // drag coefficient times area, m²
	Rolling    float64    // rolling resistance coefficient
	Pressure   [2]float64 // of the tyres, front and rear, Pa
	StiffPress [2]float64 // factor on cornering stiffness by those pressures
	Width      float64    // without mirrors, m
	Length     float64    // m
}

// VanAsBuilt is the demonstration's vehicle: an ambulance body on a van of 3.5 t,
// of our own invention, driven at the rear.
func VanAsBuilt() Build {
	return Build{
		Mass: 3500, Inertia: 9200, RollI: 1900, PitchI: 8200,
		Front: 1.98, Rear: 1.68, FrontTrack: 1.74, RearTrack: 1.71, Height: 0.88,
		RollCentre: [2]float64{0.10, 0.25}, RollK: [2]float64{135e3, 85e3}, RollC: [2]float64{9e3, 7e3},
		PitchK: 480e3, PitchC: 42e3, Radius: 0.345, WheelI: 1.9, Ratio: 18,
		BrakeTop: [2]float64{4600, 3000}, BrakeLag: 0.06, Power: 115e3, DriveTop: 9000, EngineDrag: 0.5,
		DragArea: 2.6, Rolling: 0.011, Pressure: [2]float64{360e3, 450e3}, StiffPress: [2]float64{0.92, 1.20},
		Width: 2.02, Length: 5.9,
	}
}

// Base gives the wheelbase in m.
func (b *Build) Base() float64 { return b.Front + b.Rear }

// Load gives the load of one wheel at rest in N.
func (b *Build) Load(wheel int) float64 {
	axle := b.Rear
	if wheel >= RL {
		axle = b.Front
	}
	return b.Mass * tyremodel.Gravity * axle / b.Base() / 2
}

// At gives the place of a wheel's contact from the centre of gravity, forward and
// left, m.
func (b *Build) At(wheel int) (x, y float64) {
	switch wheel {
	case FL:
		return b.Front, b.FrontTrack / 2
	case FR:
		return b.Front, -b.FrontTrack / 2
	case RL:
		return -b.Rear, b.RearTrack / 2
	}
	return -b.Rear, -b.RearTrack / 2
}

// Linear gives the bicycle that the vehicle is when driven gently, on one kind of
// tyre all round.
func (b *Build) Linear(t *tyremodel.Tyre) Bicycle {
	return Bicycle{
		Mass: b.Mass, Inertia: b.Inertia, Front: b.Front, Rear: b.Rear,
		FrontC: 2 * b.StiffPress[0] * t.CorneringStiffness(b.Load(FL)),
		RearC:  2 * b.StiffPress[1] * t.CorneringStiffness(b.Load(RL)),
	}
}

// Controls are what a driver does.
type Controls struct {
	Steer    float64 // steering-wheel angle, rad
	Brake    float64 // share of the pedal's travel
	Throttle float64 // share of the drive force that there is
}

// State is the vehicle's motion.
type State struct {
	T                   float64 // s
	East, North         float64 // of the centre of gravity, m
	Heading             float64 // from east, anticlockwise, rad, not wrapped
	VX, VY              float64 // m/s
	YawRate             float64 // rad/s
	AX, AY              float64 // of the centre of gravity in the vehicle's frame, m/s²
	YawAccel            float64 // rad/s²
	Roll, RollRate      float64
	Pitch, PitchRate    float64
	Spin                [wheels]float64 // of the wheels, rad/s
	Tangent             [wheels]float64 // of the slip angle that the contact has, relaxed
	Slip                [wheels]float64 // relaxed
	Load                [wheels]float64 // N
	Long, Lat           [wheels]float64 // forces of the contact, in the wheel's frame, N
	Pressure            [wheels]float64 // brake pressure as a share of the greatest
	Held                [wheels]float64 // by the anti-lock system: share of the pressure that it lets through
	Falling             [wheels]bool    // pressure is being let off
	seenSlip            [wheels]float64
	Road                float64 // angle of the front wheels, rad
	Controls            Controls
	Antilock            bool    // working now
	Distance            float64 // travelled, m
	Footing             [wheels]tyremodel.Footing
	Surface             [wheels]tyremodel.Surface
	sinHeading, cosHead float64
}

// Speed gives the speed over ground in m/s.
func (s *State) Speed() float64 { return math.Hypot(s.VX, s.VY) }

// Sideslip gives atan(v_y/v_x) in rad, 0 below walking pace.
func (s *State) Sideslip() float64 {
	if s.VX < 0.5 {
		return 0
	}
	return math.Atan2(s.VY, s.VX)
}

// Vehicle is a build on its tyres, moving.
type Vehicle struct {
	Build     Build
	Tyres     [wheels]tyremodel.Tyre
	Condition [wheels]tyremodel.Condition
	AirC      float64
	State     State

	static [wheels]float64
	x, y   [wheels]float64
	floats [wheels]float64
	work   [wheels]float64 // sliding power summed since the last look, W·steps
	since  int
	every  int
}

// lookEvery is after how many steps surface, temperature and wear are looked at
// again: 5 ms, a tenth of a metre at 70 km/h.
const lookEvery = 5

// New puts a build on four tyres of one kind, at rest at the origin.
func New(b Build, t tyremodel.Tyre, airC float64) *Vehicle {
	v := &Vehicle{Build: b, AirC: airC, every: lookEvery}
	for i := range wheels {
		v.Tyres[i] = t
		axle := i / 2
		v.Tyres[i].LatStiffness *= b.StiffPress[axle]
		v.Condition[i] = tyremodel.Condition{Tread: t.Tread, TemperatureC: airC}
		v.static[i] = b.Load(i)
		v.x[i], v.y[i] = b.At(i)
		v.floats[i] = t.FloatSpeed(b.Pressure[axle])
		v.State.Held[i] = 1
		v.State.Load[i] = v.static[i]
		v.State.Surface[i] = tyremodel.Surface{Grip: 1}
	}
	v.Place(0, 0, 0, 0)
	return v
}

// Place puts the vehicle somewhere with a heading in rad and a speed in m/s, wheels
// rolling, body upright, clock and odometer untouched.
func (v *Vehicle) Place(east, north, heading, speed float64) {
	s := &v.State
	*s = State{T: s.T, Distance: s.Distance, East: east, North: north, Heading: heading, VX: speed, Surface: s.Surface}
	s.sinHeading, s.cosHead = math.Sincos(heading)
	for i := range wheels {
		s.Spin[i] = speed / v.Build.Radius
		s.Held[i] = 1
		s.Load[i] = v.static[i]
	}
	v.look()
}

// Wheel gives where a wheel's contact is, east and north in m.
func (v *Vehicle) Wheel(i int) (east, north float64) {
	s := &v.State
	return s.East + v.x[i]*s.cosHead - v.y[i]*s.sinHeading, s.North + v.x[i]*s.sinHeading + v.y[i]*s.cosHead
}

// Due tells whether the ground under the wheels is to be looked at before the next
// Advance, which State.Surface is for.
func (v *Vehicle) Due() bool { return v.since == 0 }

// look finds footings anew, and what sliding has done to the tyres.
func (v *Vehicle) look() {
	s := &v.State
	speed := math.Abs(s.VX)
	dt := float64(v.every) * Step
	for i := range wheels {
		v.Condition[i] = v.Tyres[i].Warm(v.Condition[i], v.work[i]/float64(v.every), speed, v.AirC, dt)
		v.work[i] = 0
		s.Footing[i] = v.Tyres[i].Footing(s.Surface[i], v.Condition[i], speed, v.floats[i])
	}
}

// waterDensity in kg/m³, and the width of the tread that pushes water, m.
const (
	waterDensity = 1000
	treadWidth   = 0.19
)

// Advance moves the vehicle on by one step under the driver's controls.
func (v *Vehicle) Advance(c Controls) {
	if v.since == 0 {
		v.look()
	}
	v.since++
	if v.since == v.every {
		v.since = 0
	}
	b, s := &v.Build, &v.State
	s.Controls = c
	s.Road = c.Steer / b.Ratio
	sin, cos := math.Sincos(s.Road)

	// Loads: what roll and pitch press down, and what goes through the roll centres.
	pitchMoment := b.PitchK*s.Pitch + b.PitchC*s.PitchRate
	long := pitchMoment / b.Base() / 2
	frontLat := s.Lat[FL] + s.Lat[FR]
	rearLat := s.Lat[RL] + s.Lat[RR]
	left := [2]float64{
		(b.RollK[0]*s.Roll + b.RollC[0]*s.RollRate + frontLat*b.RollCentre[0]) / b.FrontTrack,
		(b.RollK[1]*s.Roll + b.RollC[1]*s.RollRate + rearLat*b.RollCentre[1]) / b.RearTrack,
	}
	for i := range wheels {
		load := v.static[i]
		if i < RL {
			load += long
		} else {
			load -= long
		}
		if i&1 == 0 {
			load -= left[i/2]
		} else {
			load += left[i/2]
		}
		s.Load[i] = math.Max(0, load)
	}

	drive := v.drive(c.Throttle)
	var fx, fy, moment float64
	s.Antilock = false
	for i := range wheels {
		// Velocity of the contact, in the wheel's frame.
		vx := s.VX - s.YawRate*v.y[i]
		vy := s.VY + s.YawRate*v.x[i]
		if i < RL {
			vx, vy = vx*cos+vy*sin, vy*cos-vx*sin
		}
		roll := s.Spin[i] * b.Radius
		ax := math.Abs(vx)
		t := &v.Tyres[i]
		// Relaxation, implicit in the slip: sigma d(slip)/dt + |v| slip = slip velocity.
		s.Tangent[i] = clamp((s.Tangent[i]+Step/t.Relaxation*vy)/(1+Step/t.Relaxation*ax), 2)
		s.Slip[i] = clamp((s.Slip[i]+Step/t.LongRelaxation*(roll-vx))/(1+Step/t.LongRelaxation*ax), 3)
		slip := s.Slip[i]
		if ax < 4 {
			// At walking pace a relaxed contact is a spring without a damper (Pacejka
			// adds one in the same way; the size is our own).
			slip += 0.02 * (1 - ax/4) * (roll - vx)
		}
		fl, fs := t.Force(s.Load[i], s.Footing[i], s.Tangent[i], slip)
		if ax < 1 {
			fs -= 2000 * vy * (1 - ax)
		}
		s.Long[i], s.Lat[i] = fl, fs
		slideX, slideY := roll-vx, vy
		v.work[i] += math.Abs(fl*slideX) + math.Abs(fs*slideY)

		// The wheel.
		torque := -fl * b.Radius
		if i >= RL {
			torque += drive / 2 * b.Radius
		}
		spin := s.Spin[i] + Step*(torque/b.WheelI)
		brake := v.brake(i, c.Brake, vx, roll)
		if roll > 0.3 || spin > 0 {
			brake += b.Rolling * s.Load[i] * b.Radius
		}
		if stop := Step * brake / b.WheelI; math.Abs(spin) <= stop {
			spin = 0
		} else {
			spin -= math.Copysign(stop, spin)
		}
		s.Spin[i] = spin

		if i < RL {
			fl, fs = fl*cos-fs*sin, fl*sin+fs*cos
		}
		if d := s.Surface[i].Depth; d > 0 && s.VX > 1 {
			fl -= 0.5 * waterDensity * s.VX * s.VX * treadWidth * d * 0.7
		}
		fx += fl
		fy += fs
		moment += v.x[i]*fs - v.y[i]*fl
	}
	fx -= 0.5 * 1.225 * b.DragArea * s.VX * math.Abs(s.VX) // air of 1.225 kg/m³ (ISO 2533)

	s.AX, s.AY = fx/b.Mass, fy/b.Mass
	s.YawAccel = moment / b.Inertia
	// Body first, then place: semi-implicit.
	vx := s.VX + Step*(s.AX+s.YawRate*s.VY)
	vy := s.VY + Step*(s.AY-s.YawRate*s.VX)
	s.VX, s.VY = vx, vy
	s.YawRate += Step * s.YawAccel

	// The body's lever over the roll axis.
	axis := (b.RollCentre[0]*b.Rear + b.RollCentre[1]*b.Front) / b.Base()
	lever := b.Height - axis
	s.RollRate += Step / b.RollI * (b.Mass*lever*(s.AY+tyremodel.Gravity*s.Roll) -
		(b.RollK[0]+b.RollK[1])*s.Roll - (b.RollC[0]+b.RollC[1])*s.RollRate)
	s.Roll += Step * s.RollRate
	s.PitchRate += Step / b.PitchI * (-b.Mass*b.Height*s.AX - pitchMoment)
	s.Pitch += Step * s.PitchRate

	s.Heading += Step * s.YawRate
	s.sinHeading, s.cosHead = math.Sincos(s.Heading)
	s.East += Step * (s.VX*s.cosHead - s.VY*s.sinHeading)
	s.North += Step * (s.VX*s.sinHeading + s.VY*s.cosHead)
	s.Distance += Step * math.Hypot(s.VX, s.VY)
	s.T += Step
}

// drive gives the force in N at the rear axle that a throttle asks for; a closed one
// drags.
func (v *Vehicle) drive(throttle float64) float64 {
	b, s := &v.Build, &v.State
	if throttle <= 0 {
		if s.VX > 2 && s.Controls.Brake == 0 {
			return -b.EngineDrag * b.Mass
		}
		return 0
	}
	return throttle * math.Min(b.DriveTop, b.Power/math.Max(5, s.VX))
}

// Limits of the anti-lock system, own choice: the slip at which pressure begins to
// fall and that at which it begins to rise again, its rates in shares a second, and
// the speed below which it lets the wheels lock. They make it cycle some five times
// a second, as such systems do.
const (
	slipFall  = 0.14
	slipRise  = 0.06
	slipAhead = 0.012 // s, by which a growing slip is seen coming
	rateFall  = 14.0
	rateRise  = 2.6
	leastABS  = 1.8 // m/s
	leastHeld = 0.05
)

// brake gives the brake torque of a wheel in N·m.
func (v *Vehicle) brake(i int, pedal, vx, roll float64) float64 {
	b, s := &v.Build, &v.State
	s.Pressure[i] += Step / b.BrakeLag * (pedal - s.Pressure[i])
	if pedal == 0 && s.Pressure[i] < 1e-4 {
		s.Pressure[i], s.Held[i], s.Falling[i] = 0, 1, false
		return 0
	}
	if vx > leastABS {
		slip := (vx - roll) / vx
		coming := slip + slipAhead*(slip-s.seenSlip[i])/Step
		s.seenSlip[i] = slip
		switch {
		case coming > slipFall:
			s.Falling[i] = true
		case slip < slipRise:
			s.Falling[i] = false
		}
		switch {
		case s.Falling[i]:
			s.Held[i] = math.Max(leastHeld, s.Held[i]-Step*rateFall*s.Held[i])
			s.Antilock = true
		case s.Held[i] < 1:
			s.Held[i] = math.Min(1, s.Held[i]+Step*rateRise*s.Held[i])
			s.Antilock = true
		}
	}
	return b.BrakeTop[i/2] * s.Pressure[i] * s.Held[i]
}

func clamp(x, most float64) float64 { return math.Max(-most, math.Min(most, x)) }
