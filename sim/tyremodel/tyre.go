package tyremodel

import "math"

// Gravity in m/s² as the simulation uses it (ISO 80000-3 gives 9.80665 as standard;
// the trade's worked figures use 9.81, which is what is meant here).
const Gravity = 9.81

// Tyre is one tyre of the synthetic ground: the curves of Set2020 with what a
// comparison turns on. Figures without a source are our own choice, sized as common
// practice has them; none is of a real tyre.
type Tyre struct {
	Nominal float64 // load in N at which the coefficients hold

	LatPeak, LatFall   float64 // peak lateral friction, and its change for a load higher by the nominal one
	LongPeak, LongFall float64 // the same along
	LatStiffness       float64 // cornering stiffness at the nominal load over that load, 1/rad
	StiffLoad          float64 // load over nominal at which cornering stiffness is greatest
	LongStiffness      float64 // slip stiffness over load
	LatShape           float64 // C of the lateral curve: how sharply force drops past the peak
	LatCurvature       float64 // E of it
	LongShape          float64
	LongCurvature      float64
	BrakedB1, BrakedB2 float64 // weights of combined slip, as in Set2020 with C = 1
	SteerB1, SteerB2   float64

	Relaxation     float64 // lateral relaxation length, m
	LongRelaxation float64 // m

	WetShare    float64 // share of the dry friction left on a just wetted surface at walking pace
	WetSpeed    float64 // loss of log friction at 30 m/s on a deep film
	Footprint   float64 // width over length of the contact
	FloatFactor float64 // factor on the published floating speed: 1 for the control
	Tread       float64 // depth in m, new
	WearRate    float64 // tread lost for a joule of sliding, m/J

	BestC    float64 // tread temperature of most grip, °C
	TempFall float64 // share of grip lost 40 K away from it
	Heat     float64 // heat capacity, J/K
	Cooling  float64 // W/K at standstill; rises with speed
}

// Van is the control's tyre: a van's all-season tyre of our own invention, with the
// shapes of Set2020 and a van's load.
func Van() Tyre {
	s := CommonRoad()
	return Tyre{
		Nominal: 8500,
		LatPeak: 0.92, LatFall: -0.10, LongPeak: 0.98, LongFall: -0.10,
		LatStiffness: 11.5, StiffLoad: 1.9, LongStiffness: 20,
		LatShape: s.LatShape, LatCurvature: -0.4, LongShape: 1.55, LongCurvature: 0.3,
		BrakedB1: s.BrakedB1, BrakedB2: s.BrakedB2, SteerB1: s.SteeredB1, SteerB2: -s.SteeredB2,
		Relaxation: 0.55, LongRelaxation: 0.25,
		WetShare: 0.80, WetSpeed: 0.22, Footprint: 1.05, FloatFactor: 1, Tread: 0.0080, WearRate: 1.5e-11,
		BestC: 55, TempFall: 0.04, Heat: 9000, Cooling: 22,
	}
}

// Surface is what a tyre stands on.
type Surface struct {
	Grip  float64 // factor on friction: 1 is the surface as the coefficients have it
	Depth float64 // water above the texture, m
}

// Condition is how a tyre is by now.
type Condition struct {
	Tread        float64 // m left
	TemperatureC float64
}

// Footing is what surface, condition and speed leave of a tyre: found some hundred
// times a second, used at every step.
type Footing struct {
	Grip  float64 // factor on friction
	Share float64 // share of the load that the contact still carries; the water carries the rest
}

// Our own choices for water, sized by what testers report: how deep a film wets, how
// deep it is when speed counts in full, and how much depth a tread lets through.
const (
	wetting   = 0.0002 // m
	filmDeep  = 0.0010 // m
	drained   = 0.0006 // m, without any tread
	drainRate = 0.45   // m of water for a metre of tread
	leastHold = 0.03   // share of the load that is left when it floats: spray, and edges
)

// FloatSpeed gives the speed in m/s at which the tyre floats in deep water at a
// pressure in Pa: HorneFootprintSpeed times the tyre's own factor.
func (t *Tyre) FloatSpeed(pressure float64) float64 {
	return t.FloatFactor * HorneFootprintSpeed(pressure, t.Footprint)
}

// Footing gives what is left of the tyre on a surface, at a speed in m/s and a
// floating speed in m/s (FloatSpeed).
func (t *Tyre) Footing(s Surface, c Condition, speed, floats float64) Footing {
	off := (c.TemperatureC - t.BestC) / 40
	f := Footing{Grip: s.Grip * (1 - t.TempFall*off*off), Share: 1}
	if f.Grip < 0.5*s.Grip {
		f.Grip = 0.5 * s.Grip
	}
	if s.Depth > 0 {
		film := 1 - math.Exp(-s.Depth/filmDeep)
		f.Grip *= 1 - (1-t.WetShare)*(1-math.Exp(-s.Depth/wetting))
		f.Grip *= math.Exp(-t.WetSpeed * speed / 30 * film)
		through := drained + drainRate*c.Tread
		h2 := s.Depth * s.Depth
		r := speed / floats
		f.Share = math.Max(leastHold, 1-r*r*h2/(h2+through*through))
	}
	return f
}

// CorneringStiffness gives it in N/rad at a load in N that the contact carries. Its
// form is that of the later formula, sin(2 arctan(load over the load of most
// stiffness)).
func (t *Tyre) CorneringStiffness(load float64) float64 {
	at := func(x float64) float64 { return 2 * x / (1 + x*x) } // sin(2 arctan x)
	return t.LatStiffness * t.Nominal * at(load/(t.StiffLoad*t.Nominal)) / at(1/t.StiffLoad)
}

// Lateral gives the size of the lateral force against the tangent of the slip angle
// at a load in N, on a footing.
func (t *Tyre) Lateral(load float64, f Footing) Curve {
	held := load * f.Share
	k := Curve{C: t.LatShape, D: held * f.Grip * (t.LatPeak + t.LatFall*(held-t.Nominal)/t.Nominal), E: t.LatCurvature}
	k.B = t.CorneringStiffness(held) / (k.C * k.D)
	return k
}

// Longitudinal gives the longitudinal force against the slip at a load in N, on a
// footing.
func (t *Tyre) Longitudinal(load float64, f Footing) Curve {
	held := load * f.Share
	k := Curve{C: t.LongShape, D: held * f.Grip * (t.LongPeak + t.LongFall*(held-t.Nominal)/t.Nominal), E: t.LongCurvature}
	k.B = t.LongStiffness * held / (k.C * k.D)
	return k
}

// Force gives the forces of the contact in N, forward and to the left, at a load in
// N, a footing, the tangent of the slip angle and the slip.
func (t *Tyre) Force(load float64, f Footing, tangent, slip float64) (long, lat float64) {
	if load*f.Share < 1 {
		return 0, 0
	}
	x, y := t.Longitudinal(load, f), t.Lateral(load, f)
	// The weights of Set2020 with C = 1, so that they never change sign:
	// cos(arctan z) = 1/sqrt(1 + z²).
	bx := t.SteerB1 * tangent / math.Sqrt(1+t.SteerB2*t.SteerB2*slip*slip)
	by := t.BrakedB1 * slip / math.Sqrt(1+t.BrakedB2*t.BrakedB2*tangent*tangent)
	long, lat = x.At(slip)/math.Sqrt(1+bx*bx), -y.At(tangent)/math.Sqrt(1+by*by)
	// Such weights bulge beyond the friction ellipse by up to a tenth; what lies
	// beyond it is brought back to it.
	if u, w := long/x.D, lat/y.D; u*u+w*w > 1 {
		e := 1 / math.Sqrt(u*u+w*w)
		long, lat = long*e, lat*e
	}
	return long, lat
}

// Warm gives the condition after a time dt in s of sliding power in W at a speed in
// m/s and an air temperature in °C: one lump of rubber that sliding heats and air
// cools, and that sliding wears.
func (t *Tyre) Warm(c Condition, power, speed, airC, dt float64) Condition {
	cool := t.Cooling * (1 + speed/10)
	// A third of what slides heats the tread, the rest the road (own choice).
	c.TemperatureC += dt * (power/3 - cool*(c.TemperatureC-airC)) / t.Heat
	c.Tread = math.Max(0.0005, c.Tread-t.WearRate*power*dt)
	return c
}
