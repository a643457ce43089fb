// Package pass lays one run through a manoeuvre along a straight: a slalom's row of
// markers, the ways of a lane change.
//
// The straight runs from the middle of the course's first gate to the middle of its
// last one. Station counts along it from the first gate, offset across it, positive
// to the left; both in m. What the vehicle did stands on one even time base in s:
// where its antenna was, which way its body pointed, how fast it went, how it slid,
// and what steering wheel, yaw rate, lateral acceleration and torque showed. Signs
// are those of ISO 8855:2011.
//
// Positions, body direction and sideslip are those of package motion, which brings
// satellite and inertial sensors together; standard deviations come with them.
// Steering, yaw rate and lateral acceleration are the recorded channels, filtered
// without delay where a cut-off is asked for: what they are late by against each
// other is what is looked for, and no estimate stands between.
//
// Limits: the ground is flat and the straight is straight. Without yaw rate and
// lateral acceleration the body is taken to point where it goes, and there is no
// sideslip. A lateral acceleration without a roll channel has the gravity of a
// leaning body in it.
package pass

import (
	"math"
	"slices"

	"example.org/bookend/caveat"
	"example.org/bookend/course"
	"example.org/bookend/fault"
	"example.org/bookend/motion"
	"example.org/bookend/motion/sensors"
	"example.org/bookend/signal"
	"example.org/bookend/unit"
)

// Axis is the straight along which a pass is laid.
type Axis struct {
	From   course.Point
	Length float64 // m, from the middle of the first gate to that of the last
	e, n   float64 // unit vector along it
}

// Between gives the straight from a course's first gate to its last.
func Between(c *course.Course) (Axis, error) {
	if c == nil || len(c.Posts) < 2 {
		return Axis{}, fault.New(fault.Invalid, "a pass needs a first and a last gate").
			WithHint("give two gates as LAT,LON,LAT,LON in degrees, the right post as driven first")
	}
	gates := c.Gates()
	a, b := gates[0].Middle(), gates[len(gates)-1].Middle()
	l := a.Distance(b)
	if l < 1 { // own choice: shorter than any manoeuvre
		return Axis{}, fault.New(fault.Invalid, "the first and the last gate are the same place").
			WithHint("give the gate at which the manoeuvre is entered, and the one at which it is left")
	}
	return Axis{From: a, Length: l, e: (b.East - a.East) / l, n: (b.North - a.North) / l}, nil
}

// Locate gives station and offset in m of a point.
func (a Axis) Locate(p course.Point) (station, offset float64) {
	de, dn := p.East-a.From.East, p.North-a.From.North
	return de*a.e + dn*a.n, dn*a.e - de*a.n
}

// direction gives the axis' direction in rad anticlockwise from east.
func (a Axis) direction() float64 { return math.Atan2(a.n, a.e) }

// Body is the outline of the vehicle, seen from above, in m from its antenna.
type Body struct {
	Width  float64 // without mirrors; 0: not told
	Ahead  float64 // from the antenna to the front end
	Behind float64 // from the antenna to the rear end
	Left   float64 // by how much the antenna sits to the left of the middle
}

// Settings say how a run is laid out.
type Settings struct {
	Lead, Tail float64 // s laid out before the run begins and after it ends
	CutOff     float64 // Hz, of a filter of twelve poles without phase; 0: none
	// PositionSD is the standard deviation in m of the error that all positions of
	// the run share; 0 where nobody says, and then positions have no uncertainty.
	PositionSD float64
	RearAxle   float64 // m from the antenna back to the rear axle; 0 where nobody says
	// Inertial is where the acceleration sensor sits, and Reference how far ahead lies
	// the point that sideslip and lateral acceleration are asked for, both counted from
	// the antenna, m.
	Inertial  sensors.Lever
	Reference float64
}

// Pass is a run laid out: one value at each time. A slice is nil where the
// recording lacks its channel.
type Pass struct {
	Axis   Axis
	Step   float64 // s
	T      []float64
	At     []float64 // station of the antenna, m
	Offset []float64 // of the antenna, m
	SD     []float64 // standard uncertainty of the offset, m; nil where not known
	Turn   []float64 // direction of the body against the axis, rad
	Speed  []float64 // over ground, m/s

	Steer    []float64 // at the steering wheel, rad
	Torque   []float64 // at the steering wheel, N·m
	Yaw      []float64 // rad/s
	Lateral  []float64 // of the reference point, m/s²
	Sideslip []float64 // of the reference point, rad
	Throttle []float64 // 1

	Caveats caveat.List
}

// poles is the order of the filter in one pass: twelve poles in both (the protocol
// named euro-ncap-aeb-4.3.1 asks for a 12-pole phaseless Butterworth filter; that it
// is six poles run forward and backward is common practice).
const poles = 6

// finest is the shortest step that is laid out, s (own choice: what lies beyond
// 250 Hz is no motion of a vehicle).
const finest = 0.002

// Lay lays out a run that lasts from one time to another, in s on the recording's
// base. Latitude and longitude are needed; whatever else there is, is used.
func Lay(rec *signal.Recording, c *course.Course, from, to float64, set Settings) (*Pass, error) {
	axis, err := Between(c)
	if err != nil {
		return nil, err
	}
	lat, lon := rec.ByRole(signal.Latitude), rec.ByRole(signal.Longitude)
	if lat == nil || lon == nil {
		return nil, fault.New(fault.Invalid, "a pass needs latitude and longitude, and the recording lacks them").
			WithHint("name the columns in a mapping file if they are there under other names")
	}
	if !(to > from) {
		return nil, fault.New(fault.Invalid, "a run from %.3f to %.3f s has no length", from, to)
	}
	p := &Pass{Axis: axis}
	// What is before and after settles the smoothing; 6 s are several times as long as
	// any sensor's error is seen to need (own choice).
	const settle = 6
	part := trim(rec, from-set.Lead-settle, to+set.Tail+settle)
	if err := p.positions(part, from, to); err != nil {
		return nil, err
	}
	m, err := motion.Smooth(part, c.Plane(), motion.Settings{PositionSD: set.PositionSD, RearAxle: -set.RearAxle, Inertial: set.Inertial})
	if err != nil {
		return nil, err
	}
	if err := p.base(part, m, from-set.Lead, to+set.Tail, from, to); err != nil {
		return nil, err
	}
	p.place(m, set)
	for _, q := range []struct {
		role signal.Role
		out  *[]float64
		cut  float64
	}{
		{signal.SteeringAngle, &p.Steer, set.CutOff}, {signal.SteeringTorque, &p.Torque, set.CutOff},
		{signal.YawRate, &p.Yaw, set.CutOff}, {signal.AccelY, &p.Lateral, set.CutOff}, {signal.Throttle, &p.Throttle, 0},
	} {
		*q.out = p.channel(part, q.role, q.cut)
	}
	p.carry(sensors.Lever{X: set.Inertial.X - set.Reference, Y: set.Inertial.Y})
	if roll := p.channel(part, signal.Roll, set.CutOff); roll != nil && p.Lateral != nil {
		g := sensors.GravityAt(part)
		for i := range p.Lateral {
			p.Lateral[i] = sensors.LevelLateral(p.Lateral[i], roll[i], g)
		}
	} else if p.Lateral != nil {
		p.level(m, sensors.Gather(part, c.Plane(), set.Inertial, set.PositionSD), set.Reference, from, to)
	}
	return p, nil
}

// carry carries the lateral acceleration from the sensor to the reference point.
func (p *Pass) carry(from sensors.Lever) {
	if p.Lateral == nil || from == (sensors.Lever{}) {
		return
	}
	if p.Yaw == nil {
		p.doubt("lever_arm_not_used", p.T[0], "Without a yaw rate the lateral acceleration stays that of the sensor's place.")
		return
	}
	turn := signal.Stretch{T: p.T, V: p.Yaw}.Derivative()
	for i := range p.Lateral {
		_, p.Lateral[i] = from.Acceleration(0, p.Lateral[i], p.Yaw[i], turn[i])
	}
}

// level takes out of the lateral acceleration the share that gravity adds to it as
// the body leans, and its zero error, both as motion found them.
func (p *Pass) level(m *motion.Motion, kit *sensors.Kit, ahead, from, to float64) {
	share, zero := 0.0, 0.0
	for _, c := range m.Constants {
		switch c.What {
		case motion.RollShare:
			share = c.Value
		case motion.LateralZero:
			zero = c.Value
		}
	}
	for i := range p.Lateral {
		p.Lateral[i] = (p.Lateral[i] - zero) / (1 + share)
	}
	late, ok := p.late(kit, ahead, math.Max(from, p.T[0]), math.Min(to, p.T[len(p.T)-1]))
	if !ok {
		p.doubt("roll_unknown", p.T[0], "There is no roll channel; that a leaning body adds %s of itself to the lateral acceleration is estimated from the motion; that it comes later than the acceleration, by some milliseconds of delay, is not.",
			unit.Percent.Format(share, 1, unit.Plain))
		return
	}
	p.earlier(late)
	p.doubt("roll_estimated", p.T[0], "There is no roll channel; that a leaning body adds %s of itself to the lateral acceleration, and that what is measured comes %s later for it, is estimated from the motion.",
		unit.Percent.Format(share, 1, unit.Plain), unit.Millisecond.Format(late, 1, unit.Plain))
}

// How the lateness of what a leaning body adds is found (own choices): beyond latest it
// is no lean, and what is not known to the standard error surely is not used.
const (
	latest = 0.03  // s
	surely = 0.002 // s
)

// late gives how much later the measured lateral acceleration comes than that of the
// path, s: gravity's part comes with the roll, which lags. The path's is that of
// satellite velocities, V · d(course)/dt at the antenna, by least squares as
// b · (measured + late · d(measured)/dt) + c, which holds for motions slower than the
// roll; the noise is all on the satellites' side, so that nothing leans the fit. ok is
// false where they do not tell: too few or too noisy, or in time behind the other
// sensors, which looks like a lag below 0.
func (p *Pass) late(kit *sensors.Kit, ahead, from, to float64) (late float64, ok bool) {
	t, e, n := kit.Velocities()
	at := slices.Clone(p.Lateral)
	if ahead != 0 {
		if p.Yaw == nil {
			return 0, false
		}
		for i, turn := range (signal.Stretch{T: p.T, V: p.Yaw}).Derivative() {
			at[i] -= ahead * turn
		}
	}
	measured := signal.Stretch{T: p.T, V: at}
	slope := signal.Stretch{T: p.T, V: measured.Derivative()}
	var rows [][3]float64 // measured, its slope, the path's
	var steps []float64
	var mean [3]float64
	for i := 1; i+1 < len(t); i++ {
		step := t[i+1] - t[i-1]
		if t[i] < from || t[i] > to || !(step > 0) || step > widest {
			continue
		}
		turn := turned(math.Atan2(n[i+1], e[i+1]) - math.Atan2(n[i-1], e[i-1]))
		x, _ := measured.At(t[i])
		y, _ := slope.At(t[i])
		row := [3]float64{x, y, math.Hypot(e[i], n[i]) * turn / step}
		rows, steps = append(rows, row), append(steps, step)
		for k := range row {
			mean[k] += row[k]
		}
	}
	if len(rows) < 20 {
		return 0, false
	}
	for k := range mean {
		mean[k] /= float64(len(rows))
	}
	var s [3][3]float64
	for _, r := range rows {
		for j := range r {
			for k := range r {
				s[j][k] += (r[j] - mean[j]) * (r[k] - mean[k])
			}
		}
	}
	det := s[0][0]*s[1][1] - s[0][1]*s[0][1]
	if !(det > 0) {
		return 0, false
	}
	b := (s[1][1]*s[0][2] - s[0][1]*s[1][2]) / det
	q := (s[0][0]*s[1][2] - s[0][1]*s[0][2]) / det
	late = q / b
	// Of neighbouring differences of velocities most of the noise is the same with the
	// other sign: what is left of it is that of the first and last of the weights'
	// differences.
	rest := math.Max(0, s[2][2]-b*s[0][2]-q*s[1][2]) / float64(len(rows)-3)
	weight := func(i int) float64 {
		if i < 0 || i >= len(rows) {
			return 0
		}
		return (s[0][0]*(rows[i][1]-mean[1]) - s[0][1]*(rows[i][0]-mean[0])) / det / steps[i]
	}
	noise := 0.0 // of q, for velocities with a noise of 1
	for i := -1; i <= len(rows); i++ {
		d := weight(i-1) - weight(i+1)
		noise += d * d
	}
	step := (to - from) / float64(len(rows)) * 2
	if se := math.Sqrt(rest/2*noise) * step / b; !(b > 0.5 && se <= surely && late >= 0 && late <= latest) {
		return 0, false
	}
	return late, true
}

// widest is how far apart two satellite velocities may lie for what their course turns
// between them, s: every other sample of a receiver at 5 Hz (own choice).
const widest = 0.41

// earlier moves the lateral acceleration to an earlier time, s.
func (p *Pass) earlier(by float64) {
	from := signal.Stretch{T: p.T, V: slices.Clone(p.Lateral)}
	last := p.T[len(p.T)-1]
	for i, t := range p.T {
		p.Lateral[i], _ = from.At(math.Min(math.Max(t+by, p.T[0]), last))
	}
}

func (p *Pass) doubt(code string, t float64, format string, args ...any) {
	p.Caveats.Add(code, caveat.Place{TimeS: caveat.At(t)}, format, args...)
}

// trim gives the part of a recording between two times, in s.
func trim(rec *signal.Recording, from, to float64) *signal.Recording {
	out := *rec
	out.Channels = nil
	cut := map[*signal.Base]*signal.Base{}
	for _, c := range rec.Channels {
		t := c.Base.T
		lo, _ := slices.BinarySearch(t, from)
		hi, _ := slices.BinarySearch(t, to)
		if cut[c.Base] == nil {
			cut[c.Base] = &signal.Base{T: t[lo:hi]}
		}
		d := *c
		d.Base, d.Values, d.Valid = cut[c.Base], c.Values[lo:hi], nil
		for _, s := range c.Valid {
			if s = (signal.Span{From: max(s.From, lo) - lo, To: min(s.To, hi) - lo}); s.From < s.To {
				d.Valid = append(d.Valid, s)
			}
		}
		out.Channels = append(out.Channels, &d)
	}
	return &out
}

// bridged is for how long positions may be missing within a run before it is told,
// s (own choice: two samples of a receiver at 5 Hz).
const bridged = 0.41

// longest is for how long they may be missing at all, s (own choice: inertial
// sensors carry a position for some seconds to some decimetres).
const longest = 3

// positions looks for gaps in the positions within the run.
func (p *Pass) positions(part *signal.Recording, from, to float64) error {
	last, gap, at := from, 0.0, from
	n := 0
	see := func(t float64) {
		if t-last > gap {
			gap, at = t-last, last
		}
		last = t
	}
	lat, lon := part.ByRole(signal.Latitude), part.ByRole(signal.Longitude)
	for _, s := range signal.Pair(lat, lon, from-bridged, to+bridged) {
		for _, t := range s.T {
			see(t)
			n++
		}
	}
	see(to)
	switch {
	case n < 3 || gap > longest:
		return fault.New(fault.Invalid, "positions are missing for %.1f s of the run", gap).
			WithHint("a run without positions has no place on the course; leave it out")
	case gap > bridged:
		p.doubt("position_missing", at, "Positions are missing for %s within the run; the other sensors carry the path over the gap.", unit.Second.Format(gap, 1, unit.Plain))
	}
	return nil
}

// base lays the even time base.
func (p *Pass) base(part *signal.Recording, m *motion.Motion, lo, hi, from, to float64) error {
	step := m.Base.Step()
	for _, role := range []signal.Role{signal.SteeringAngle, signal.YawRate, signal.AccelY} {
		if c := part.ByRole(role); c != nil && len(c.Base.T) > 1 {
			step = math.Min(step, c.Base.Step())
		}
	}
	p.Step = math.Max(finest, step)
	for _, s := range m.Valid {
		a, b := m.Base.T[s.From], m.Base.T[s.To-1]
		// The run may begin between two samples.
		if a > from+p.Step || b < to-p.Step {
			continue
		}
		lo, hi = math.Max(lo, a), math.Min(hi, b)
		p.T = signal.Even(lo, hi, p.Step).T
	}
	if len(p.T) < 20 {
		return fault.New(fault.Invalid, "the motion of the vehicle is not known from %.3f to %.3f s", from, to).
			WithHint("positions or speed are missing there; leave the run out")
	}
	return nil
}

// on gives values on the even base; nil unless one valid span holds all of it.
func (p *Pass) on(base *signal.Base, values []float64, valid []signal.Span) []float64 {
	for _, s := range valid {
		st := signal.Stretch{T: base.T[s.From:s.To], V: values[s.From:s.To]}
		// An end may lie a rounding before the base's.
		near := p.Step / 2
		if n := len(st.T); st.T[0] > p.T[0]+near || st.T[n-1] < p.T[len(p.T)-1]-near {
			continue
		}
		out := make([]float64, len(p.T))
		for i, t := range p.T {
			out[i], _ = st.At(math.Min(math.Max(t, st.T[0]), st.T[len(st.T)-1]))
		}
		return out
	}
	return nil
}

// place gives where the antenna was and which way the body pointed.
func (p *Pass) place(m *motion.Motion, set Settings) {
	e, n := p.on(m.Base, m.ShownEast.Value, m.Valid), p.on(m.Base, m.ShownNorth.Value, m.Valid)
	yaw := p.on(m.Base, m.Yaw.Value, m.Valid)
	vx, vy := p.on(m.Base, m.VelX.Value, m.Valid), p.on(m.Base, m.VelY.Value, m.Valid)
	p.At, p.Offset = make([]float64, len(p.T)), make([]float64, len(p.T))
	p.Turn, p.Speed = make([]float64, len(p.T)), make([]float64, len(p.T))
	for i := range p.T {
		p.At[i], p.Offset[i] = p.Axis.Locate(course.Point{East: e[i], North: n[i]})
		p.Turn[i] = turned(yaw[i] - p.Axis.direction())
		p.Speed[i] = math.Hypot(vx[i], vy[i])
	}
	if set.PositionSD > 0 {
		sd := make([]float64, len(m.Base.T))
		for i := range sd {
			sd[i] = m.AcrossSD(i, p.Axis.direction())
		}
		p.SD = p.on(m.Base, sd, m.Valid)
	}
	has := func(kind sensors.Kind) bool {
		return slices.ContainsFunc(m.Innovations, func(q motion.Innovation) bool { return q.Kind == kind.String() })
	}
	if has(sensors.YawRate) && has(sensors.AccelY) {
		if s := p.on(m.Base, m.Sideslip.Value, m.SideslipValid); s != nil {
			rate := p.on(m.Base, m.YawRate.Value, m.Valid)
			for i := range s {
				s[i] = math.Atan2(vy[i]+set.Reference*rate[i], vx[i])
			}
			p.Sideslip = s
			return
		}
	}
	// Nothing says how the body slides: it points where it goes.
	for i := range p.T {
		p.Turn[i] = turned(p.Turn[i] + math.Atan2(vy[i], vx[i]))
	}
	p.doubt("sideslip_unknown", p.T[0], "Without yaw rate and lateral acceleration there is no sideslip, and the body is taken to point where it goes.")
}

// turned brings an angle in rad within half a turn.
func turned(a float64) float64 { return a - 2*math.Pi*math.Round(a/(2*math.Pi)) }

// channel gives a recorded channel on the even base, filtered.
func (p *Pass) channel(part *signal.Recording, role signal.Role, cutOff float64) []float64 {
	c := part.ByRole(role)
	if c == nil || len(c.Valid) == 0 {
		return nil
	}
	if cutOff > 0 {
		if rate := 1 / c.Base.Step(); cutOff >= rate/2.5 { // own choice: some room below half the rate
			p.doubt("not_filtered", p.T[0], "Channel %s comes %s times a second, too seldom for a filter of %s Hz, and is not filtered.",
				c.Name, unit.Number(rate, 0, unit.Plain), unit.Number(cutOff, 0, unit.Plain))
		} else if f, doubt, err := c.Filtered(poles, cutOff, signal.OnePass); err == nil {
			c = f
			p.Caveats = append(p.Caveats, doubt...)
		}
	}
	out := p.on(c.Base, c.Values, c.Valid)
	if out == nil {
		p.doubt("channel_missing", p.T[0], "Channel %s is missing in part of the run and is left out.", c.Name)
	}
	return out
}
