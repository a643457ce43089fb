package soundness

import (
	"math"

	"example.org/bookend/caveat"
	"example.org/bookend/signal"
	"example.org/bookend/soundness/agree"
	"example.org/bookend/soundness/mend"
)

// jumpy is what no tyre can do: how far a velocity may change, in m/s², and how
// often it may seem to, as a share of the samples (own choices; 15 m/s² is one and a
// half times gravity).
const (
	mostChange = 15.0
	jumpsShare = 1e-3
	changeOver = 0.05 // s, over which at least a change is taken
)

// velocityAgainstPath judges a measured velocity by the positions; false where it
// is not to be used.
func (j *judge) velocityAgainstPath(channels []*signal.Channel, measured, path agree.Series) bool {
	jumps, share, at := jumps(channels)
	if share > jumpsShare && jumps > 2 {
		for _, k := range channels {
			o := j.original(k)
			j.find(o, "impossible_change", caveat.At(at), []mend.Mend{{What: mend.Drop, Reason: "It changes as no vehicle can."}},
				"The velocity changes %d times by more than %g m/s², as no vehicle can, for the first time here; the positions beside it do not.", jumps, mostChange)
		}
		return false
	}
	moving := agree.Of(func(v ...float64) (float64, bool) { return v[0], v[0] > agree.MovingSpeed }, path)
	e := expectation{what: "the change of position", spread: 1, low: 0.97, high: 1.03, offset: math.Inf(1)}
	f, ok := agree.Between(moving, measured, agree.LongestLag, 0.1, e.spread)
	if !ok {
		return true
	}
	if f.Spread >= e.spread && f.Correlation >= goodShape {
		for _, k := range channels {
			j.confirm(j.original(k), e.what, f.Correlation)
		}
	}
	if f.Spread < e.spread || f.Correlation < goodShape || !beyond(f.SlopeLow, f.SlopeHigh, f.SlopeSE, e) {
		return true
	}
	for _, k := range channels {
		if o := j.original(k); o.Role != signal.CourseAngle {
			j.factor(o, f, e, 0)
		}
	}
	return false
}

// jumps counts changes of a velocity that no vehicle can make, gives their share of
// the samples and when the first came.
func jumps(channels []*signal.Channel) (count int, share, at float64) {
	a, b := channels[0], channels[1]
	polar := b.Role == signal.CourseAngle
	n, i := 0, -1
	var t, e, m []float64
	for k := range a.Values {
		if !a.ValidAt(k) || b.Base == a.Base && !b.ValidAt(k) {
			continue
		}
		y, ok := b.Values[min(k, b.Len()-1)], true
		if b.Base != a.Base {
			y, ok = b.At(a.Base.T[k])
		}
		if !ok {
			continue
		}
		x := a.Values[k]
		if polar {
			sin, cos := math.Sincos(y)
			x, y = x*sin, x*cos
		}
		t, e, m = append(t, a.Base.T[k]), append(e, x), append(m, y)
	}
	for k := range t {
		n++
		if i < 0 {
			i = 0
		}
		for i < k && t[k]-t[i+1] >= changeOver-1e-9 {
			i++
		}
		dt := t[k] - t[i]
		if dt < changeOver-1e-9 || dt > 0.5 {
			continue
		}
		if math.Hypot(e[k]-e[i], m[k]-m[i]) > mostChange*dt {
			if count == 0 {
				at = t[k]
			}
			count++
		}
	}
	return count, float64(count) / float64(max(1, n)), at
}
