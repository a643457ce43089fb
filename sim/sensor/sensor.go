// Package sensor looks at what really happened with the eyes of instruments: at
// their own rates and on their own clocks, with noise, bias, scale error, delay and
// dropouts, from where they sit in the vehicle.
//
// An instrument samples the truth at the instants of its own clock, each value
// taken its delay earlier. What its clock says is its own: an offset, a rate that is
// off by some millionths, and a jitter of the stamps. Sizes are those of usual
// instruments, common practice without a source.
//
// Units are those that the instruments write: degrees, km/h, m/s², °/s. Signs follow
// ISO 8855:2011. Body-fixed accelerometers carry gravity: what they show of a body
// that rolls is a + g sin(roll), and they sit where they sit, not in the centre of
// gravity.
package sensor

import (
	"math"
	"math/rand/v2"
	"slices"

	"example.org/bookend/sim/ground"
	"example.org/bookend/sim/tyremodel"
	"example.org/bookend/sim/vehicle"
)

// Table is what an instrument recorded: a time column and one column a channel. A
// value that is missing is NaN; it never leaves this room other than as an empty
// cell.
type Table struct {
	Device  string
	Stamp   []float64 // by its own clock, s since the session's start as true clocks have it
	Names   []string
	Digits  []int // decimals written
	Columns [][]float64
}

// Error is what is wrong with a channel.
type Error struct {
	Noise float64 // standard deviation of each value
	Bias  float64 // added
	Scale float64 // share by which it reads too high
	Step  float64 // resolution; 0: none
}

// Channel is one signal of an instrument.
type Channel struct {
	Name   string
	Digits int
	Error  Error
	Value  func(x *Sight) float64
}

// Sight is the truth at one instant as an instrument meets it.
type Sight struct {
	vehicle.Moment
	LatitudeDeg, LongitudeDeg, Height float64 // of the antenna, with the errors of the fix
	AntennaVE, AntennaVN              float64 // its velocity, m/s
	SensorAX, SensorAY                float64 // at the accelerometer, m/s², with gravity by roll and pitch
	Satellites                        float64
	Fix                               float64
}

// Outage is a time without values: from, to in s of the session, and which channels
// have none; nil: all.
type Outage struct {
	From, To float64
	Channels []string
}

// hits tells whether a channel has no value at a time.
func (o *Outage) hits(t float64, name string) bool {
	return t >= o.From && t < o.To && (o.Channels == nil || slices.Contains(o.Channels, name))
}

// Device is an instrument.
type Device struct {
	Name       string
	Hz         float64
	Delay      float64 // age of what is written, s
	Offset     float64 // of its clock, s
	Millionths float64 // by which its clock runs fast
	Jitter     float64 // standard deviation of its stamps, s
	Outages    []Outage
	Missing    float64    // share of samples that are never written
	Antenna    [2]float64 // forward and left of the centre of gravity, m
	Seat       [2]float64 // of the accelerometer: forward, left of the centre of gravity, m
	Fix        Fix
	Channels   []Channel
}

// Fix is how well a satellite receiver knows its place.
type Fix struct {
	White  float64 // standard deviation of each position, m
	Slow   float64 // of an error that wanders, m
	Memory float64 // over which it wanders, s
}

// Fixes of usual receivers, common practice without a source.
var (
	Corrected   = Fix{White: 0.006, Slow: 0.008, Memory: 120} // with corrections from a station
	Uncorrected = Fix{White: 0.02, Slow: 0.6, Memory: 300}
)

// Record lets the instrument look at a trace. rnd is the instrument's own.
func (d *Device) Record(tr *vehicle.Trace, o ground.Origin, rnd *rand.Rand) Table {
	t := Table{Device: d.Name, Columns: make([][]float64, len(d.Channels))}
	for _, c := range d.Channels {
		t.Names = append(t.Names, c.Name)
		t.Digits = append(t.Digits, c.Digits)
	}
	if len(tr.Point) < 2 {
		return t
	}
	first, last := tr.Point[0].T, tr.Point[len(tr.Point)-1].T
	slowE, slowN := d.Fix.Slow*rnd.NormFloat64(), d.Fix.Slow*rnd.NormFloat64()
	keep := 0.0
	if d.Fix.Memory > 0 {
		keep = math.Exp(-1 / d.Hz / d.Fix.Memory)
	}
	wander := d.Fix.Slow * math.Sqrt(1-keep*keep)
	k := int(math.Ceil((first + d.Delay) * d.Hz))
	at := 0
	var x Sight
	for ; ; k++ {
		true_ := float64(k) / d.Hz / (1 + d.Millionths*1e-6)
		if true_ > last {
			return t
		}
		when := true_ - d.Delay
		slowE = keep*slowE + wander*rnd.NormFloat64()
		slowN = keep*slowN + wander*rnd.NormFloat64()
		white := [2]float64{d.Fix.White * rnd.NormFloat64(), d.Fix.White * rnd.NormFloat64()}
		jitter := d.Jitter * rnd.NormFloat64()
		lost := d.Missing > 0 && rnd.Float64() < d.Missing
		if when < first {
			continue
		}
		for at+2 < len(tr.Point) && tr.Point[at+1].T <= when {
			at++
		}
		between(&x.Moment, &tr.Point[at], &tr.Point[at+1], when)
		d.meet(&x, o, slowE+white[0], slowN+white[1])
		if lost {
			continue
		}
		t.Stamp = append(t.Stamp, true_*(1+d.Millionths*1e-6)+d.Offset+jitter)
		for i := range d.Channels {
			c := &d.Channels[i]
			v := c.Value(&x)*(1+c.Error.Scale) + c.Error.Bias + c.Error.Noise*rnd.NormFloat64()
			if c.Error.Step > 0 {
				v = math.Round(v/c.Error.Step) * c.Error.Step
			}
			for k := range d.Outages {
				if d.Outages[k].hits(true_, c.Name) {
					v = math.NaN()
				}
			}
			t.Columns[i] = append(t.Columns[i], v)
		}
	}
}

// between puts the motion at an instant into m: places by their cubic through
// places and velocities, the rest straight.
func between(m, a, b *vehicle.Moment, t float64) {
	h := b.T - a.T
	u := (t - a.T) / h
	mix := func(p, q float64) float64 { return p + u*(q-p) }
	*m = *a
	m.T = t
	m.Heading, m.VX, m.VY, m.YawRate = mix(a.Heading, b.Heading), mix(a.VX, b.VX), mix(a.VY, b.VY), mix(a.YawRate, b.YawRate)
	m.AX, m.AY, m.YawAccel = mix(a.AX, b.AX), mix(a.AY, b.AY), mix(a.YawAccel, b.YawAccel)
	m.Roll, m.Pitch, m.RollRate, m.PitchRate = mix(a.Roll, b.Roll), mix(a.Pitch, b.Pitch), mix(a.RollRate, b.RollRate), mix(a.PitchRate, b.PitchRate)
	m.Steer, m.Brake, m.Throttle = mix(a.Steer, b.Steer), mix(a.Brake, b.Brake), mix(a.Throttle, b.Throttle)
	for i := range m.Spin {
		m.Spin[i] = mix(a.Spin[i], b.Spin[i])
	}
	m.Station, m.Offset, m.Distance = mix(a.Station, b.Station), mix(a.Offset, b.Offset), mix(a.Distance, b.Distance)
	ae, an := a.Velocity()
	be, bn := b.Velocity()
	cubic := func(p, v, q, w float64) float64 {
		u2, u3 := u*u, u*u*u
		return (2*u3-3*u2+1)*p + (u3-2*u2+u)*h*v + (3*u2-2*u3)*q + (u3-u2)*h*w
	}
	m.East, m.North = cubic(a.East, ae, b.East, be), cubic(a.North, an, b.North, bn)
}

// meet finds what depends on where the instrument sits.
func (d *Device) meet(x *Sight, o ground.Origin, errE, errN float64) {
	sin, cos := math.Sincos(x.Heading)
	ax, ay := d.Antenna[0], d.Antenna[1]
	p := ground.Point{East: x.East + ax*cos - ay*sin + errE, North: x.North + ax*sin + ay*cos + errN}
	x.LatitudeDeg, x.LongitudeDeg, x.Height = o.Earth(p, antennaHeight)
	ve, vn := x.Velocity()
	x.AntennaVE = ve + x.YawRate*(-ax*sin-ay*cos)
	x.AntennaVN = vn + x.YawRate*(ax*cos-ay*sin)
	// The accelerometer: a rigid body about z; its swing about the roll axis is left out.
	r, rd := x.YawRate, x.YawAccel
	sx, sy := d.Seat[0], d.Seat[1]
	x.SensorAX = (x.AX-rd*sy-r*r*sx)*math.Cos(x.Pitch) - tyremodel.Gravity*math.Sin(x.Pitch)
	x.SensorAY = (x.AY+rd*sx-r*r*sy)*math.Cos(x.Roll) + tyremodel.Gravity*math.Sin(x.Roll)
	x.Satellites, x.Fix = 17, 4
	if d.Fix.Slow > 0.1 {
		x.Satellites, x.Fix = 15, 1
	}
}

// antennaHeight of the roof above the plane, m.
const antennaHeight = 2.6
