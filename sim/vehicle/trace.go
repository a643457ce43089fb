package vehicle

import "math"

// TraceHz is how often the motion is written down.
const TraceHz = 200

// Trace is what really happened, 200 times a second: the truth that sensors look at
// and that estimates are held to.
type Trace struct {
	Point []Moment
	every int
	step  int
}

// Moment is one line of a trace; units as in State.
type Moment struct {
	T, East, North, Heading float64
	VX, VY, YawRate         float64
	AX, AY                  float64 // of the centre of gravity
	YawAccel                float64
	Roll, Pitch             float64
	RollRate, PitchRate     float64
	Steer                   float64 // steering wheel, rad
	Brake, Throttle         float64
	Spin                    [wheels]float64
	Slip, Tangent           [wheels]float64
	Load                    [wheels]float64
	Share                   [wheels]float64 // of the load that contacts carry
	Depth                   [wheels]float64 // water under them, m
	Station, Offset         float64         // on the course, m
	Path                    float64         // direction of the course there, rad
	Distance                float64         // travelled, m
	Antilock                bool
}

// Velocity gives the velocity over ground, east and north in m/s.
func (m *Moment) Velocity() (east, north float64) {
	sin, cos := math.Sincos(m.Heading)
	return m.VX*cos - m.VY*sin, m.VX*sin + m.VY*cos
}

// NewTrace gives an empty trace.
func NewTrace() *Trace { return &Trace{every: 1000 / TraceHz} }

// longest is an hour of driving: a session that has not ended by then never will.
const longest = 3600 * TraceHz

// Full tells that the trace holds an hour.
func (t *Trace) Full() bool { return len(t.Point) >= longest }

// Due tells whether a step is one to be written down; it is asked once a step.
func (t *Trace) Due() bool {
	t.step++
	if t.step == t.every {
		t.step = 0
		return true
	}
	return false
}

// Add writes the state down, with station and offset in m and the direction of the
// course in rad.
func (t *Trace) Add(s *State, station, offset, path float64) {
	m := Moment{
		T: s.T, East: s.East, North: s.North, Heading: s.Heading, VX: s.VX, VY: s.VY, YawRate: s.YawRate,
		AX: s.AX, AY: s.AY, YawAccel: s.YawAccel, Roll: s.Roll, Pitch: s.Pitch, RollRate: s.RollRate, PitchRate: s.PitchRate,
		Steer: s.Controls.Steer, Brake: s.Controls.Brake, Throttle: s.Controls.Throttle,
		Spin: s.Spin, Slip: s.Slip, Tangent: s.Tangent, Load: s.Load, Station: station, Offset: offset, Path: path, Distance: s.Distance,
		Antilock: s.Antilock,
	}
	for i := range wheels {
		m.Share[i], m.Depth[i] = s.Footing[i].Share, s.Surface[i].Depth
	}
	t.Point = append(t.Point, m)
}
