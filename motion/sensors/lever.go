package sensors

import "math"

// Lever is where something sits on the vehicle: m forward and m to the left of
// the point that the motion is asked for.
type Lever struct {
	X, Y float64
}

// Velocity carries a velocity measured at the lever's end, in m/s along the
// vehicle's axes, to the reference point; r is the yaw rate in rad/s.
//
// Rigid body in the plane, axes and signs of ISO 8855:2011.
func (l Lever) Velocity(vx, vy, r float64) (x, y float64) {
	return vx + l.Y*r, vy - l.X*r
}

// Acceleration carries an acceleration measured at the lever's end, in m/s²
// along the vehicle's axes, to the reference point; r is the yaw rate in rad/s,
// rdot its change in rad/s².
//
// Rigid body in the plane, axes and signs of ISO 8855:2011.
func (l Lever) Acceleration(ax, ay, r, rdot float64) (x, y float64) {
	return ax + l.Y*rdot + l.X*r*r, ay - l.X*rdot + l.Y*r*r
}

// LevelLateral takes gravity out of a lateral acceleration in m/s² that was
// measured in the axes of a body rolled by roll rad, positive with the right side
// down; g is gravity in m/s². It holds for rolls far below a right angle.
func LevelLateral(ay, roll, g float64) float64 {
	return (ay - g*math.Sin(roll)) / math.Cos(roll)
}

// LevelLongitudinal takes gravity out of a longitudinal acceleration in m/s² that
// was measured in the axes of a body pitched by pitch rad, positive with the nose
// down; g is gravity in m/s². It holds for pitches far below a right angle.
func LevelLongitudinal(ax, pitch, g float64) float64 {
	return (ax + g*math.Sin(pitch)) / math.Cos(pitch)
}

// SideslipAngle gives the sideslip angle in rad of a velocity along the vehicle's
// axes in m/s, positive where the vehicle moves to its left; ok is false below
// the speed at which the angle means something.
func SideslipAngle(vx, vy float64) (beta float64, ok bool) {
	if math.Hypot(vx, vy) < SideslipSpeed {
		return 0, false
	}
	return math.Atan2(vy, vx), true
}

// SideslipSpeed is the speed in m/s below which no sideslip angle is given. Own
// choice: at walking pace a velocity error of 0.03 m/s is more than a degree.
const SideslipSpeed = 3.0

// Normal gravity on the WGS 84 ellipsoid, closed form of Somigliana: gravity at
// the equator in m/s², the formula's constant k, the first eccentricity squared.
// Source: NIMA TR8350.2, third edition, tables 3.3 and 3.4, chapter 4.
const (
	equatorGravity = 9.7803253359
	gravityK       = 0.00193185265241
	eccentricity2  = 0.00669437999014
)

// Gravity gives normal gravity in m/s² at a latitude in rad, at height 0. A
// height of 1000 m lessens it by 0.003 m/s², which is left out.
func Gravity(latitude float64) float64 {
	s := math.Sin(latitude)
	return equatorGravity * (1 + gravityK*s*s) / math.Sqrt(1-eccentricity2*s*s)
}

// StandardGravity in m/s²: NIST SP 811 (2008), appendix B.8.
const StandardGravity = 9.80665
