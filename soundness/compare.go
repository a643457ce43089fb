package soundness

import (
	"fmt"
	"math"
	"slices"

	"example.org/bookend/motion"
	"example.org/bookend/motion/sensors"
	"example.org/bookend/signal"
	"example.org/bookend/soundness/agree"
	"example.org/bookend/soundness/mend"
	"example.org/bookend/soundness/still"
	"example.org/bookend/soundness/wrongunit"
	"example.org/bookend/unit"
)

// expectation is what a channel may do beside its reference. All bounds are own
// choices but where a line says otherwise; each is wider than sound sensors of a
// vehicle need, and narrower than what spoils a measure.
type expectation struct {
	what      string  // the reference in words
	spread    float64 // of the reference, below which no slope is judged, in its unit
	low, high float64 // slope
	offset    float64 // in the channel's unit
	early     float64 // s, may the channel come before the reference
	late      float64 // s, may it come after it

	slope, aside float64 // of a line over all of the drive, where there is one: factor, and what is beside it in the channel's unit
}

var (
	// 0.5 % and 0.3 m/s are 0.4 km/h and 1 km/h at 80 km/h.
	expectSpeed = expectation{spread: 1, low: 0.995, high: 1.005, offset: 0.3, early: 0.1, late: 0.1}
	// The rolling radius of a tyre changes by a percent with load, pressure and wear, and
	// a driven wheel slips by another; slip comes with the force, and so before the speed.
	expectWheel = expectation{spread: 1, low: 0.98, high: 1.02, offset: 0.3, early: 0.25, late: 0.1}
	// Twice the 0.1 °/s that a protocol asks of a yaw rate (euro-ncap-aeb-4.3.1, 4.2). The course turns
	// with the sideslip too, which shifts it against the yaw by up to a tenth of a second.
	expectYaw = expectation{spread: 0.03, low: 0.93, high: 1.07, offset: 0.2 * math.Pi / 180, early: 0.2, late: 0.2}
	// A body that rolls by 7° for 9.8 m/s² adds an eighth; a bank of 2.5 %, the most that
	// iso-15037-1 allows (6.2, from memory), 0.25 m/s².
	expectAcross = expectation{spread: 0.4, low: 0.9, high: 1.25, offset: 0.3, early: 0.1, late: 0.1}
	// Wheels of one vehicle, of one kind of tyre; on the outside of a bend they are
	// faster by half the track over its radius, which a lap levels out in part.
	expectOthers = expectation{spread: 1, low: 0.95, high: 1.05, offset: math.Inf(1)}
	expectAlong  = expectation{spread: 0.4, low: 0.9, high: 1.2, offset: 0.4, early: 0.1, late: 0.1}
)

// littleLag is the delay in s that is left in before signals are compared (own
// choice: less changes no factor).
const littleLag = 0.02

// plainlyNone is the delay in s below which a channel plainly agrees with the
// reference (own choice).
const plainlyNone = 0.05

// Certainty that a finding asks for; own choices.
const (
	sure        = 4.0 // standard errors: one in 16,000 for a Gaussian error
	goodShape   = 0.8 // correlation from which on a slope is judged
	wrongShape  = 0.3 // correlation below which a channel contradicts a reference that moves
	plainMove   = 3.0 // times the least spread, for that
	throughZero = 0.1 // share of what is shown on the mean that a factor's line may leave at 0
)

// compare compares a channel with what the reference lets expect of it.
func (j *judge) compare(c *signal.Channel) {
	r := &j.ref
	switch c.Role {
	case signal.Speed:
		if r.HasSpeed() {
			j.steady(c, expectSpeed)
		}
	case signal.WheelSpeedFL, signal.WheelSpeedFR, signal.WheelSpeedRL, signal.WheelSpeedRR:
		if r.HasSpeed() && c.Unit != "rad/s" {
			j.steady(c, expectWheel)
		} else {
			j.wheels(c)
		}
	case signal.YawRate:
		if r.HasTurn() {
			e := expectYaw
			e.what = "the rate at which " + r.ByTurn + " turns"
			j.against(c, r.Turn, e)
		} else if other := j.rec.ByRole(signal.YawRate); other != c && other.Unit == c.Unit {
			e := expectYaw
			e.what = other.Name
			j.against(c, r.On(j.clean[other]), e)
		} else {
			j.zero(c)
		}
	case signal.AccelY:
		if r.HasTurn() {
			e := expectAcross
			e.what = "speed times the rate at which " + r.ByTurn + " turns"
			j.against(c, r.Across, e)
		} else if yaw := j.rec.ByRole(signal.YawRate); yaw != nil && r.HasSpeed() {
			e := expectAcross
			e.what = "speed times yaw rate (" + yaw.Name + ")"
			e.early, e.late = 0.2, 0.2
			j.against(c, times(r.Speed, r.On(j.clean[yaw])), e)
		}
	case signal.AccelX:
		if r.HasSpeed() {
			e := expectAlong
			e.what = "the change of " + r.BySpeed
			j.against(c, r.Along, e)
		}
	case signal.AccelZ:
		j.upright(c)
	case signal.SteeringAngle:
		j.steering(c)
	case signal.Roll:
		if y := j.rec.ByRole(signal.AccelY); y != nil {
			j.lean(c, y, 1, "rolls to the outside of a bend")
		}
	case signal.Pitch:
		if x := j.rec.ByRole(signal.AccelX); x != nil {
			j.lean(c, x, -1, "dips its nose when it brakes")
		}
	}
}

func times(a, b agree.Series) agree.Series {
	return agree.Of(func(v ...float64) (float64, bool) { return v[0] * v[1], true }, a, b)
}

// Where speeds are compared; own choices: wheels on the two sides of a bend go
// different ways, and tyres slip when they push.
const (
	steadyTurn  = 0.05 // rad/s
	steadyAlong = 0.8  // m/s²
	unsteady    = 0.08 // share by which a speed may be off where it never goes steadily
	halfTrack   = 0.8  // m, of a car or a van, near enough to lay a wheel's speed beside the vehicle's in a bend
)

// aside gives how far to the left of the vehicle's middle a wheel is taken to be, in
// m; 0 for what is no wheel.
func aside(role signal.Role) float64 {
	switch role {
	case signal.WheelSpeedFL, signal.WheelSpeedRL:
		return halfTrack
	case signal.WheelSpeedFR, signal.WheelSpeedRR:
		return -halfTrack
	}
	return 0
}

// steady compares a speed of the vehicle's own with the speed over ground where it
// goes straight and steadily enough.
func (j *judge) steady(c *signal.Channel, e expectation) {
	r := &j.ref
	e.what = "speed over ground by " + r.BySpeed
	x, all := r.Speed, r.Speed
	if r.HasTurn() {
		left := aside(c.Role)
		all = agree.Of(func(v ...float64) (float64, bool) { return v[0] - left*v[1], true }, r.Speed, r.Turn)
		x = agree.Of(func(v ...float64) (float64, bool) {
			return v[0] - left*v[1], v[0] > agree.MovingSpeed && math.Abs(v[1]) < steadyTurn && math.Abs(v[2]) < steadyAlong
		}, r.Speed, r.Turn, r.Along)
	}
	raw := r.On(j.clean[c])
	y := raw
	whole, late := agree.Between(all, raw, agree.LongestLag, e.late, e.spread)
	late = late && whole.DelayKnown
	if late && math.Abs(whole.Delay) > littleLag {
		y = y.Moved(whole.Delay)
	}
	if whole.Spread >= e.spread && whole.Correlation >= goodShape {
		e.slope, e.aside = whole.Slope, whole.Offset
	}
	f, ok := agree.Between(x, y, agree.LongestLag, math.Inf(1), e.spread)
	if !ok { // it never goes steadily: only what is gross can be told
		x = all
		e.low, e.high, e.offset = 1-unsteady, 1+unsteady, math.Inf(1)
		if f, ok = agree.Between(x, y, agree.LongestLag, math.Inf(1), e.spread); !ok {
			return
		}
	}
	if j.coarse(c, x, f) { // what stands still is left out now
		j.steady(c, e)
		return
	}
	if late && whole.Spread >= e.spread {
		l := lag{c: c, of: r.BySpeed, delay: whole.Delay, se: whole.DelaySE, low: -e.early, high: e.late}
		if pair, ok := j.behind(c, raw); ok && whole.Delay > 0 && pair.delay > whole.Delay {
			l = pair
		}
		j.late = append(j.late, l)
	}
	if f.Spread >= e.spread && f.Correlation >= goodShape {
		j.confirm(c, e.what, f.Correlation)
	}
	// Wheels float, lock and spin: only what the whole drive shows as well is an error
	// of the sensor.
	if m := meanOf(all); m > 0 {
		if ratio := 1 + whole.Shift/m; ratio > e.low && ratio < e.high && math.Abs(whole.Shift) < e.offset {
			return
		}
	}
	j.decide(c, f, e, meanOf(x))
}

// behind compares a wheel with the one across its axle, which slips as it does, so
// that a delay is plainer than against the ground; ok is false where there is none.
func (j *judge) behind(c *signal.Channel, y agree.Series) (lag, bool) {
	i := slices.Index(wheelRoles, c.Role)
	if i < 0 {
		return lag{}, false
	}
	o := j.rec.ByRole(wheelRoles[i^1]) // left and right stand in pairs
	if o == nil || o == c || o.Unit != c.Unit {
		return lag{}, false
	}
	left := aside(c.Role)
	x := j.ref.On(j.clean[o])
	if j.ref.HasTurn() {
		level := func(v ...float64) (float64, bool) { return v[0] - 2*left*v[1], true }
		x = agree.Of(level, x, j.ref.Turn)
	}
	f, ok := agree.Between(x, y, agree.LongestLag, math.Inf(1), expectWheel.spread)
	return lag{c: c, of: o.Name, delay: f.Delay, se: f.DelaySE, low: math.Inf(-1), high: expectWheel.late}, ok && f.DelayKnown && f.Spread >= expectWheel.spread
}

func meanOf(s agree.Series) float64 {
	sum, n := 0.0, 0
	for i, ok := range s.OK {
		if ok {
			sum += s.V[i]
			n++
		}
	}
	return sum / float64(max(1, n))
}

// against compares a channel with a series.
func (j *judge) against(c *signal.Channel, x agree.Series, e expectation) {
	y := j.ref.On(j.clean[c])
	f, ok := agree.Between(x, y, agree.LongestLag, littleLag, e.spread)
	if !ok {
		return
	}
	if j.coarse(c, x, f) {
		j.against(c, x, e)
		return
	}
	if f.DelayKnown && f.Spread >= e.spread {
		j.late = append(j.late, lag{c, j.ref.BySpeed, f.Delay, f.DelaySE, -e.early, e.late})
	}
	j.decide(c, f, e, 0)
}

// decide says what a fit shows. mean is the reference's mean where a factor may be
// taken through 0, else 0.
func (j *judge) decide(c *signal.Channel, f agree.Fit, e expectation, mean float64) {
	lively := f.Spread >= e.spread
	if lively && math.Abs(f.Correlation) < wrongShape && f.Spread > plainMove*e.spread {
		j.find(c, "contradicts", nil, []mend.Mend{{What: mend.Drop, Reason: "It does not show what its role says."}},
			"It does not follow %s: the correlation is %.2f. It may be another signal than its role says.", e.what, f.Correlation)
		return
	}
	slope, offset, offsetSE := 1.0, f.Shift, f.ShiftSE
	if lively && math.Abs(f.Correlation) >= goodShape {
		j.confirm(c, e.what, f.Correlation)
		slope, offset, offsetSE = j.factor(c, f, e, mean)
	} else if mean != 0 && f.ShiftSE < math.Abs(mean) {
		// Speeds that hardly change show a factor and no offset.
		if ratio, se := 1+f.Shift/mean, f.ShiftSE/math.Abs(mean); beyond(ratio, ratio, se, e) {
			j.scaled(c, ratio, se, 0, e)
		}
		return
	}
	if math.Abs(offset) > e.offset && math.Abs(offset) > sure*offsetSE {
		at := ""
		if slope != 1 {
			at = " once its factor is put right"
		}
		j.find(c, "offset", nil, []mend.Mend{{What: mend.Offset, Value: -offset, Reason: fmt.Sprintf("Against %s.", e.what)}},
			"It shows %s too much%s, against %s.", quantity(offset, offsetSE, c), at, e.what)
	}
}

// shown gives how a channel's values are printed: angles in degrees.
func shown(c *signal.Channel) (factor float64, digits int, symbol string) {
	switch c.Unit {
	case "rad/s":
		return unit.DegreePerSecond.FromHouse(1), 2, unit.DegreePerSecond.Symbol()
	case "rad":
		return unit.Degree.FromHouse(1), 2, unit.Degree.Symbol()
	}
	return 1, 3, unitOf(c)
}

// amount prints a value of a channel.
func amount(v float64, c *signal.Channel) string {
	f, digits, symbol := shown(c)
	return fmt.Sprintf("%.*f %s", digits, f*v, symbol)
}

// quantity prints a value of a channel with its standard error.
func quantity(v, se float64, c *signal.Channel) string {
	f, digits, symbol := shown(c)
	return fmt.Sprintf("%.*f ± %.*f %s", digits, f*v, digits, f*se, symbol)
}

// beyond tells whether a factor that lies between two bounds is surely outside what
// is expected.
func beyond(low, high, se float64, e expectation) bool {
	low, high = math.Min(low, high), math.Max(low, high)
	return low-sure*se > e.high || high+sure*se < e.low
}

// factor judges sign, unit and scale, and gives the factor that is left with what
// is too much at it, in the channel's unit once its factor is put right.
func (j *judge) factor(c *signal.Channel, f agree.Fit, e expectation, mean float64) (slope, offset, offsetSE float64) {
	sign := 1.0
	if f.Correlation < 0 {
		sign = -1
		j.find(c, "flipped_sign", nil, []mend.Mend{{What: mend.Sign, Value: -1, Reason: fmt.Sprintf("It ran against %s.", e.what)}},
			"Its sign is the wrong way round: it runs against %s, with a correlation of %.3f.", e.what, f.Correlation)
	}
	low, high, mid, se := sign*f.SlopeLow, sign*f.SlopeHigh, sign*f.Slope, f.SlopeSE
	offset, offsetSE = sign*f.Offset, f.OffsetSE
	if !beyond(low, high, se, e) {
		// Through 0, where that is more certain.
		if mean != 0 && sign > 0 {
			if ratio, rse := 1+f.Shift/mean, f.ShiftSE/math.Abs(mean); rse < se && math.Abs(f.Offset) < sure*f.OffsetSE && beyond(ratio, ratio, rse, e) {
				j.scaled(c, ratio, rse, 0, e)
			}
		}
		return sign, offset, offsetSE
	}
	if mean != 0 && math.Abs(offset) > throughZero*math.Abs(mid*mean) {
		return sign, 0, math.Inf(1) // no factor of a sensor: the wheel spins or floats
	}
	if other, ok := wrongunit.Find(c, mid, e.low, e.high); ok {
		j.find(c, "wrong_unit", nil, []mend.Mend{{What: mend.Scale, Value: other.Factor, Reason: fmt.Sprintf("Its values are in %s.", other.Symbol)}},
			"It shows %.4g times what %s lets expect: its values are in %s, not in %s.", mid, e.what, other.Symbol, other.Stated)
		return mid, offset / mid, offsetSE / mid
	}
	j.scaled(c, mid, se, offset, e)
	return mid, offset / mid, offsetSE / mid
}

func (j *judge) scaled(c *signal.Channel, factor, se, offset float64, e expectation) {
	said := fmt.Sprintf("It shows %.4f ± %.4f times %s", factor, se, e.what)
	if offset != 0 {
		said += fmt.Sprintf(", and %s beside it", amount(offset, c))
	}
	if e.slope != 0 {
		said += fmt.Sprintf("; by a line over all of the drive %.4f times it and %s beside it", e.slope, amount(e.aside, c))
	}
	j.find(c, "scale_error", nil, []mend.Mend{{What: mend.Scale, Value: 1 / factor, Reason: fmt.Sprintf("Against %s.", e.what)}}, "%s.", said)
	f := &j.out[len(j.out)-1]
	f.Factor = &factor
	if e.slope != 0 {
		f.LineFactor, f.LineOffset = &e.slope, &e.aside
	}
}

// wheels compares a wheel with the mean of the others, where nothing else says how
// fast it should turn.
func (j *judge) wheels(c *signal.Channel) {
	var others []agree.Series
	for _, role := range wheelRoles {
		if o := j.rec.ByRole(role); o != nil && o != c && o.Unit == c.Unit {
			others = append(others, j.ref.On(j.clean[o]))
		}
	}
	if len(others) < 2 {
		return
	}
	mean := agree.Of(func(v ...float64) (float64, bool) {
		sum := 0.0
		for _, x := range v {
			sum += x
		}
		return sum / float64(len(v)), true
	}, others...)
	e := expectOthers
	e.what = "the other wheels"
	if f, ok := agree.Between(mean, j.ref.On(j.clean[c]), agree.LongestLag, littleLag, e.spread); ok && !j.coarse(c, mean, f) {
		j.decide(c, f, e, 0)
	}
}

// votes looks, where there is no course to go by, which of lateral acceleration,
// yaw rate and steering angle runs against the two others, and puts a yaw rate that
// does right before it is used.
func (j *judge) votes() {
	r := &j.ref
	yaw, across, steer := j.rec.ByRole(signal.YawRate), j.rec.ByRole(signal.AccelY), j.rec.ByRole(signal.SteeringAngle)
	if r.HasTurn() || !r.HasSpeed() || yaw == nil || across == nil || steer == nil {
		return
	}
	turn := r.On(j.clean[yaw])
	against := func(x agree.Series, c *signal.Channel) bool {
		f, ok := agree.Between(x, r.On(j.clean[c]), agree.LongestLag, littleLag, 0)
		return ok && f.Correlation < -goodShape
	}
	if !against(times(r.Speed, turn), across) || !against(turn, steer) {
		return
	}
	j.find(yaw, "flipped_sign", nil, []mend.Mend{{What: mend.Sign, Value: -1, Reason: "It ran against lateral acceleration and steering."}},
		"Its sign is the wrong way round: it runs against both %s and %s.", across.Name, steer.Name)
	d := *j.clean[yaw]
	d.Values = slices.Clone(d.Values)
	for i := range d.Values {
		d.Values[i] = -d.Values[i]
	}
	j.clean[yaw] = &d
}

// zero judges the zero of a yaw rate by a standstill, where no course does.
func (j *judge) zero(c *signal.Channel) {
	for _, z := range motion.Zeros(&signal.Recording{Channels: append([]*signal.Channel{c}, j.speeds()...)}) {
		if z.Channel == c && z.At == "standstill" && math.Abs(z.Offset) > expectYaw.offset && math.Abs(z.Offset) > sure*z.SD {
			j.find(c, "offset", nil, []mend.Mend{{What: mend.Offset, Value: -z.Offset, Reason: "At a standstill."}},
				"It shows %s while the vehicle stands.", quantity(z.Offset, z.SD, c))
		}
	}
}

func (j *judge) speeds() []*signal.Channel {
	var out []*signal.Channel
	for _, c := range j.rec.Channels {
		if c.Role == signal.Speed || slices.Contains(wheelRoles, c.Role) {
			out = append(out, c)
		}
	}
	return out
}

// Bounds for a vertical acceleration's mean in m/s²; own choices.
const (
	uprightWithin = 1.5 // of gravity, or of 0 where gravity was taken out
	uprightInG    = 0.2 // of 1, where it is in g
)

// upright judges the sign and the unit of a vertical acceleration by gravity.
func (j *judge) upright(c *signal.Channel) {
	sum, n := 0.0, 0
	for _, s := range j.clean[c].All() {
		for _, v := range s.V {
			sum += v
			n++
		}
	}
	if n == 0 {
		return
	}
	mean := sum / float64(n)
	g := sensors.GravityAt(j.rec)
	switch {
	case math.Abs(math.Abs(mean)-1) < uprightInG:
		j.find(c, "wrong_unit", nil, []mend.Mend{{What: mend.Scale, Value: sensors.StandardGravity, Reason: "Its values are in g."}},
			"Its mean is %.3f m/s² where gravity is %.3f: its values are in g, not in m/s².", mean, g)
		if mean < 0 {
			j.turned(c, mean*sensors.StandardGravity)
		}
	case math.Abs(mean+g) < uprightWithin:
		j.turned(c, mean)
	case math.Abs(mean-g) < uprightWithin:
		j.confirm(c, "gravity", 1)
	}
}

func (j *judge) turned(c *signal.Channel, mean float64) {
	j.find(c, "flipped_sign", nil, []mend.Mend{{What: mend.Sign, Value: -1, Reason: "Gravity showed downward."}},
		"Its mean is %.2f m/s²: a sensor at rest shows gravity upward, as a positive value, so its sign is the wrong way round.", mean)
}

// Bounds for leaning; own choices: bodies lean by less than a degree for each m/s²,
// and a bank or a slope leans them too.
const leanShape = 0.6

// lean judges the sign of roll or pitch by the acceleration that leans the body:
// want says which way (ISO 8855: roll positive with the right side down, pitch with
// the nose down).
func (j *judge) lean(c, by *signal.Channel, want float64, why string) {
	f, ok := agree.Between(j.ref.On(j.clean[by]), j.ref.On(j.clean[c]), agree.LongestLag, math.Inf(1), 0)
	if !ok || f.Spread < expectAlong.spread || math.Abs(f.Correlation) < leanShape {
		return
	}
	j.confirm(c, by.Name, f.Correlation)
	if want*f.Correlation > 0 {
		return
	}
	j.find(c, "flipped_sign", nil, []mend.Mend{{What: mend.Sign, Value: -1, Reason: "A body leans the other way."}},
		"Its sign is the wrong way round: a body %s, and this one runs against %s, with a correlation of %.2f.", why, by.Name, f.Correlation)
}

// coarse finds where a coarse channel stood still while it was expected to move, or
// ran into a limit, and takes that out; it tells whether there was any.
func (j *judge) coarse(c *signal.Channel, x agree.Series, f agree.Fit) bool {
	if math.Abs(f.Correlation) < goodShape || !analogue(c.Role) {
		return false
	}
	have := j.clean[c]
	runs, _ := stands(have)
	low, high, ok := still.Extremes(have)
	if !ok {
		return false
	}
	found := false
	var ends [2][]still.Run
	var over [2]float64
	for _, r := range runs {
		from, to := have.Base.T[r.From], have.Base.T[r.To-1]
		least, most, n := math.Inf(1), math.Inf(-1), 0
		for i := max(0, int((from-x.Grid.From)/x.Grid.Step)); i < x.Grid.N && x.Grid.At(i) <= to; i++ {
			if x.OK[i] && x.Grid.At(i) >= from {
				v := f.Slope*x.V[i] + f.Offset
				least, most = math.Min(least, v), math.Max(most, v)
				n++
			}
		}
		if n == 0 {
			continue
		}
		if still.Long(have, r) && most-least > expectedMoves*f.Residual && math.Max(most-r.Value, r.Value-least) > expectedMoves*f.Residual {
			j.stuck(c, r)
			found = true
			continue
		}
		if r.Len() < still.Few {
			continue
		}
		if r.Value == high && most > high+beyondLimit*f.Residual {
			ends[0] = append(ends[0], r)
			over[0] += float64(r.Len())
		}
		if r.Value == low && least < low-beyondLimit*f.Residual {
			ends[1] = append(ends[1], r)
			over[1] += float64(r.Len())
		}
	}
	for k, list := range ends {
		if over[k] < 2*clippedTotal {
			continue
		}
		var spans []signal.Span
		for _, r := range list {
			spans = append(spans, r.Span)
		}
		j.clipped(c, []float64{high, low}[k], k == 0, int(over[k]), list[0].From, spans)
		found = true
	}
	if found {
		j.clean[c] = j.without(c)
	}
	return found
}

func (j *judge) original(clean *signal.Channel) *signal.Channel {
	for _, c := range j.rec.Channels {
		if j.clean[c] == clean {
			return c
		}
	}
	return clean
}
