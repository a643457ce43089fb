package soundness

import (
	"fmt"
	"math"

	"example.org/bookend/signal"
	"example.org/bookend/soundness/agree"
	"example.org/bookend/soundness/mend"
	"example.org/bookend/unit"
)

// Bounds for steering; own choices.
const (
	steerSpread  = 0.002                // 1/m, of the bend: a radius of 500 m
	steerSpeed   = 5.0                  // m/s
	steerLateral = 4.0                  // m/s², above which tyres begin to ask for more and more of it
	steerLow     = 12.0                 // m: wheelbase times steering ratio, and what understeer adds,
	steerHigh    = 150.0                // of anything between a kart and a lorry
	steerOffset  = 2.0 * math.Pi / 180  // rad
	steerEarly   = 0.5                  // s, may the steering come before the yaw
	steerLate    = 0.05                 // s, may it come after it
	steerHigher  = steerHigh / steerLow // a factor of 57 cannot hide within it
)

// steering judges the steering angle by the bend that it makes: yaw rate over
// speed.
func (j *judge) steering(c *signal.Channel) {
	r := &j.ref
	if !r.HasSpeed() {
		return
	}
	turn, what := r.Turn, r.ByTurn
	if !r.HasTurn() {
		yaw := j.rec.ByRole(signal.YawRate)
		if yaw == nil {
			return
		}
		turn, what = r.On(j.clean[yaw]), yaw.Name
	}
	bend := agree.Of(func(v ...float64) (float64, bool) {
		return v[0] / v[1], v[1] > steerSpeed && math.Abs(v[0]*v[1]) < steerLateral
	}, turn, r.Speed)
	y := r.On(j.clean[c])
	f, ok := agree.Between(bend, y, agree.LongestLag, littleLag, steerSpread)
	if !ok {
		return
	}
	if j.coarse(c, bend, f) {
		j.steering(c)
		return
	}
	if f.DelayKnown && f.Spread >= steerSpread {
		j.late = append(j.late, lag{c, what, f.Delay, f.DelaySE, -steerEarly, steerLate})
	}
	slope, unitOff := 0.0, 1.0
	sign := 1.0
	if f.Spread >= steerSpread && math.Abs(f.Correlation) >= goodShape {
		slope = f.Slope
		j.confirm(c, "the bend, by "+what, f.Correlation)
		if f.Correlation < 0 {
			sign = -1
			j.find(c, "flipped_sign", nil, []mend.Mend{{What: mend.Sign, Value: -1, Reason: fmt.Sprintf("It ran against %s.", what)}},
				"Its sign is the wrong way round: the vehicle turns against it, by %s, with a correlation of %.3f.", what, f.Correlation)
		}
		arm := math.Abs(f.Slope)
		if arm < steerLow || arm > steerHigh {
			for _, u := range [...]unit.Unit{unit.Degree, unit.Radian} {
				is := unit.Radian
				if c.SourceUnit == unit.Degree.Symbol() || c.SourceUnit == "deg" {
					is = unit.Degree
				}
				ratio := is.ToHouse(1) / u.ToHouse(1)
				if x := arm / ratio; ratio != 1 && x > steerLow && x < steerHigh {
					j.find(c, "wrong_unit", nil, []mend.Mend{{What: mend.Scale, Value: 1 / ratio, Reason: fmt.Sprintf("Its values are in %s.", u.Symbol())}},
						"It turns by %.4g rad for a bend of 1/m; for a vehicle that is %.0f to %.0f, so its values are in %s, not in %s.", arm, steerLow, steerHigh, u.Symbol(), is.Symbol())
					unitOff = ratio
				}
			}
		}
	} else if f.Spread >= steerSpread {
		return
	}
	straight := agree.Of(func(v ...float64) (float64, bool) { return v[0], math.Abs(v[0]) < steerSpread }, bend)
	if f.DelayKnown && math.Abs(f.Delay) > littleLag {
		y = y.Moved(f.Delay)
	}
	g, ok := agree.Between(straight, y, agree.LongestLag, math.Inf(1), 0)
	if !ok {
		return
	}
	m := meanOf(straight)
	offset, se := sign*(g.Shift+m-slope*m)/unitOff, g.ShiftSE/unitOff
	if math.Abs(offset) > steerOffset && math.Abs(offset) > sure*se {
		j.find(c, "offset", nil, []mend.Mend{{What: mend.Offset, Value: -offset, Reason: "On a straight."}},
			"It shows %s on a straight.", quantity(offset, se, c))
	}
}
