// Package motion makes of what sensors recorded the motion of the vehicle: where
// its reference point was, how fast it went and which way it pointed, and how
// well each of these is known.
//
// Smooth brings satellite position, speed and course, accelerations, yaw rate and
// wheel speeds together in one pass forward and one backward (extended Kalman
// filter; Rauch, Tung and Striebel 1965), with the sensors' zero errors, the
// gravity that a leaning body adds to its accelerations, the wheels' scale and a
// slowly wandering position error among the unknowns. It uses what there is:
// satellites alone, with inertial sensors, with wheel speeds that carry on where
// satellites drop out. Package sensors carries
// single values to the reference point and takes gravity out by hand;
// Zeros finds zero errors from standstill and straights; Join lays recordings of
// one drive, one file a sensor, on one time axis.
//
// Motion is in the plane: east and north in m in a course's plane, velocities and
// accelerations along the vehicle's axes, signs of ISO 8855:2011 (x forward, y
// left, yaw and sideslip positive to the left), angles in rad, yaw anticlockwise
// from east. The slope of the ground is part of the accelerometers' zero errors.
//
// Limits: heading is known only through accelerations and the assumption that
// the rear axle slips little unless the car corners hard, so that sideslip
// without inertial sensors is that assumption and no measurement, and its
// standard deviation says so. With them, laps at the limit of the synthetic ground's van,
// which leans by 5°, have a sideslip within 0.1° of the truth (RMS). The ground may slope
// and bank by as much as model allows; on level ground standard deviations are wider than
// they need be. A measured heading (two antennas) is not used.
// Sensors are taken to share one clock without delay: what soundness finds late
// is to be moved first. A vehicle that starts in reverse is taken to face
// backward.
package motion

import (
	"math"

	"example.org/bookend/caveat"
	"example.org/bookend/motion/sensors"
	"example.org/bookend/signal"
)

// Lever is where something sits on the vehicle: m forward and m to the left of
// the point that the motion is asked for.
type Lever = sensors.Lever

// Settings say what a recording does not say itself. Levers count from the point
// that the motion is asked for.
type Settings struct {
	Antenna  Lever // of the satellite antenna
	Inertial Lever // of the acceleration sensors
	// RearAxle is how far, in m, the rear axle lies from the reference point,
	// negative behind it; 0 where nobody says.
	RearAxle float64
	// PositionSD is the standard deviation in m, each of east and north, of a
	// position error that all samples share and that wanders within minutes: 0.02
	// for a fixed carrier-phase solution, 1.5 for a receiver by itself; 0 takes the
	// latter.
	PositionSD float64
}

// Estimate is a value at each sample of a motion, with its standard deviation.
type Estimate struct {
	Value, SD []float64
}

func estimate(n int) Estimate { return Estimate{make([]float64, n), make([]float64, n)} }

// Motion is how the reference point of a vehicle moved, sample by sample of the
// recording's fastest channel.
type Motion struct {
	Base  *signal.Base
	Valid []signal.Span // where there is a motion; values outside are 0

	East, North    Estimate  // m
	EastNorth      []float64 // covariance of the two, m²
	ShownEast      Estimate  // m, as the receiver would show it: with the error that its positions share
	ShownNorth     Estimate  // m
	Yaw            Estimate  // rad, anticlockwise from east, going on past a turn
	VelX, VelY     Estimate  // m/s along the vehicle's axes
	YawRate        Estimate  // rad/s
	AccelX, AccelY Estimate  // m/s² along the vehicle's axes, in the plane of the ground

	Speed         Estimate      // m/s
	Course        Estimate      // rad, of the velocity, anticlockwise from east
	Sideslip      Estimate      // rad
	SideslipValid []signal.Span // where the vehicle is faster than 3 m/s

	Constants   []Constant   // what the sensors showed too much, and by which factor
	Innovations []Innovation // how the measurements agreed with what was expected of them
	Caveats     caveat.List
}

// Constant is something about a sensor or the vehicle that was found together
// with the motion, at the recording's end.
type Constant struct {
	What  string // in words
	Unit  string
	Value float64
	SD    float64
}

// Innovation is how the measurements of one kind agreed with what the motion up to
// them let expect.
type Innovation struct {
	Kind    string
	Channel string
	Numbers int     // single numbers taken in
	SD      float64 // of one number, in its unit, as used in the end
	// MeanSquare is the mean of the squared differences, each divided by its
	// expected variance: 1 where the standard deviations are honest.
	MeanSquare float64
	Beyond     int // numbers more than three standard deviations off, given less weight
}

// AcrossSD gives the standard deviation in m of the position at sample i across a
// direction in rad anticlockwise from east: of the offset from a line there.
func (m *Motion) AcrossSD(i int, direction float64) float64 {
	s, c := math.Sincos(direction)
	e, n := m.East.SD[i], m.North.SD[i]
	return math.Sqrt(max(0, e*e*s*s+n*n*c*c-2*s*c*m.EastNorth[i]))
}

// Channels gives the motion as channels of one base, for procedures: values under
// their roles, standard deviations without role under the name with "_sd" behind
// it. Course is turned to the receivers' sense, clockwise from north, within a
// turn; yaw stays anticlockwise from east and goes on past a turn.
func (m *Motion) Channels() []*signal.Channel {
	var out []*signal.Channel
	add := func(name string, role signal.Role, symbol string, e Estimate, valid []signal.Span) {
		for _, c := range []struct {
			name   string
			role   signal.Role
			values []float64
		}{{name, role, e.Value}, {name + "_sd", "", e.SD}} {
			out = append(out, &signal.Channel{Name: c.name, Role: c.role, Unit: symbol, Base: m.Base, Values: c.values, Valid: valid})
		}
	}
	add("east", signal.East, "m", m.East, m.Valid)
	add("north", signal.North, "m", m.North, m.Valid)
	add("speed", signal.Speed, "m/s", m.Speed, m.Valid)
	course := Estimate{make([]float64, len(m.Course.Value)), m.Course.SD}
	for i, c := range m.Course.Value {
		course.Value[i] = math.Mod(math.Mod(math.Pi/2-c, 2*math.Pi)+2*math.Pi, 2*math.Pi)
	}
	add("course", signal.CourseAngle, "rad", course, m.SideslipValid)
	add("yaw", "", "rad", m.Yaw, m.Valid)
	add("velocity_x", "", "m/s", m.VelX, m.Valid)
	add("velocity_y", "", "m/s", m.VelY, m.Valid)
	add("sideslip", signal.Sideslip, "rad", m.Sideslip, m.SideslipValid)
	add("yaw_rate", signal.YawRate, "rad/s", m.YawRate, m.Valid)
	add("acceleration_x", signal.AccelX, "m/s²", m.AccelX, m.Valid)
	add("acceleration_y", signal.AccelY, "m/s²", m.AccelY, m.Valid)
	return out
}
