package signal

import (
	"math"

	"example.org/bookend/fault"
)

// Lag is how far one signal comes after another.
type Lag struct {
	Delay       float64 // s, positive where b comes after a
	Correlation float64 // of the two at the best whole sample
	Samples     int     // the best whole sample
	Part        float64 // what the parabola adds to it, in samples
}

// Delay gives by how much b, sampled evenly a step in s apart like a, comes after
// it: the lag, at most longest s either way, at which the correlation over what
// overlaps is greatest, between samples by the parabola through the three best.
//
// The correlation is normalised on the overlap (mean and standard deviation of
// what is compared). The plain form shrinks with the overlap and is biased by some
// milliseconds. A greatest value at the end of the range, a signal that does not
// move and an overlap below eight samples are refused.
func Delay(a, b []float64, step, longest float64) (Lag, error) {
	if len(a) != len(b) || !(step > 0) || !(longest > 0) {
		return Lag{}, fault.New(fault.Invalid, "two signals of %d and %d samples, a step of %g s and a lag up to %g s", len(a), len(b), step, longest)
	}
	reach := int(longest/step + 1e-9)
	if reach < 1 || len(a)-reach-1 < 8 {
		return Lag{}, fault.New(fault.Invalid, "%d samples cannot show a lag of up to %d samples", len(a), reach).
			WithHint("give more samples, or a shorter lag of at least one sample")
	}
	r := make([]float64, 2*reach+1)
	best := -1
	for i := range r {
		lag := i - reach
		from, to := max(0, -lag), min(len(a), len(a)-lag)
		v, ok := correlation(a[from:to], b[from+lag:to+lag])
		if !ok {
			return Lag{}, fault.New(fault.Invalid, "a signal that does not move has no delay")
		}
		r[i] = v
		if best < 0 || v > r[best] {
			best = i
		}
	}
	if best == 0 || best == len(r)-1 {
		return Lag{}, fault.New(fault.Invalid, "the best lag is at the end of the range, %g s", float64(best-reach)*step).
			WithHint("the delay is longer than %g s, or the signals do not belong together", longest)
	}
	l := Lag{Correlation: r[best], Samples: best - reach, Part: vertex(r[best-1], r[best], r[best+1])}
	l.Delay = (float64(l.Samples) + l.Part) * step
	return l, nil
}

// vertex gives where between -1 and 1 the parabola through three even samples has
// its peak, counted from the middle one.
func vertex(a, b, c float64) float64 {
	d := a - 2*b + c
	if d == 0 {
		return 0
	}
	return 0.5 * (a - c) / d
}

func correlation(a, b []float64) (r float64, ok bool) {
	n := float64(len(a))
	ma, mb := 0.0, 0.0
	for i := range a {
		ma += a[i]
		mb += b[i]
	}
	ma, mb = ma/n, mb/n
	aa, bb, ab := 0.0, 0.0, 0.0
	for i := range a {
		x, y := a[i]-ma, b[i]-mb
		aa += x * x
		bb += y * y
		ab += x * y
	}
	if aa == 0 || bb == 0 {
		return 0, false
	}
	return ab / math.Sqrt(aa*bb), true
}
