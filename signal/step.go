package signal

import (
	"math"

	"example.org/bookend/fault"
)

// StepAnswer is how a signal goes from one steady value to another. Times are in s
// from the step, NaN-free: a time that is not reached is a fault.
type StepAnswer struct {
	T10, T50, T90 float64 // first reaching of 10, 50 and 90 % of the change
	Peak          float64 // s to the greatest value in the direction of the change
	Overshoot     float64 // what the peak has beyond the new value, as a share of the change; 0 without one
	Settling      float64 // s after which it stays within the band about the new value
}

// Step measures the answer to a step at a time in s, from one steady value to
// another; band is the share of the change within which it counts as settled
// (5 % is usual). Crossings are interpolated between samples, the peak by a
// parabola through the three highest.
func (s Stretch) Step(at, from, to, band float64) (StepAnswer, error) {
	change := to - from
	if change == 0 || !(band > 0) {
		return StepAnswer{}, fault.New(fault.Invalid, "a step from %g to %g with a band of %g", from, to, band)
	}
	w := Stretch{}
	for i, t := range s.T {
		if t >= at {
			w.T, w.V = append(w.T, t-at), append(w.V, (s.V[i]-from)/change)
		}
	}
	if len(w.T) < 3 {
		return StepAnswer{}, fault.New(fault.Invalid, "fewer than three samples follow the step at %g s", at)
	}
	var out StepAnswer
	for _, q := range []struct {
		level float64
		t     *float64
	}{{0.1, &out.T10}, {0.5, &out.T50}, {0.9, &out.T90}} {
		x := w.Crossings(q.level, Rising)
		if len(x) == 0 {
			return StepAnswer{}, fault.New(fault.Invalid, "the signal never reaches %g %% of its change", 100*q.level)
		}
		*q.t = x[0].T
	}
	k := 0
	for i, v := range w.V {
		if v > w.V[k] {
			k = i
		}
	}
	var top float64
	out.Peak, top = w.top(k)
	out.Overshoot = math.Max(0, top-1)
	for i := len(w.V) - 1; i >= 0; i-- {
		if d := w.V[i] - 1; math.Abs(d) > band {
			if i == len(w.V)-1 {
				return StepAnswer{}, fault.New(fault.Invalid, "the signal has not settled within %g %% when it ends", 100*band)
			}
			edge := 1 + math.Copysign(band, d)
			out.Settling = between(edge, w.V[i], w.V[i+1], w.T[i], w.T[i+1])
			break
		}
	}
	return out, nil
}

// top gives time and value of the parabola's vertex through sample k and its
// neighbours; at an end, the sample itself.
func (s Stretch) top(k int) (t, v float64) {
	if k == 0 || k == len(s.V)-1 {
		return s.T[k], s.V[k]
	}
	part := vertex(s.V[k-1], s.V[k], s.V[k+1])
	return s.T[k] + part*(s.T[k+1]-s.T[k-1])/2, s.V[k] - 0.25*(s.V[k-1]-s.V[k+1])*part
}

// Decay is a free oscillation that dies down.
type Decay struct {
	Decrement float64 // natural logarithm of the ratio of one peak to the next on the same side
	Damping   float64 // ratio to critical damping
	Frequency float64 // Hz, of the damped oscillation
	Peaks     int     // how many peaks, on both sides, that rests on
}

// Decrement measures how an oscillation about a value dies down, by the logarithmic
// decrement: a straight line by least squares through the logarithms of the peaks on
// both sides, down to a share of the first one (below it noise decides). At least three peaks
// are needed. The first and last sample are no peaks.
func (s Stretch) Decrement(about, share float64) (Decay, error) {
	var ts, ls []float64
	first := 0.0
	for i := 1; i < len(s.V)-1; i++ {
		a, b, c := s.V[i-1]-about, s.V[i]-about, s.V[i+1]-about
		if !(b > 0 && b > a && b >= c || b < 0 && b < a && b <= c) {
			continue
		}
		t, v := s.top(i)
		v = math.Abs(v - about)
		if first == 0 {
			first = v
		}
		if v < share*first {
			break
		}
		ts, ls = append(ts, t), append(ls, math.Log(v))
	}
	n := len(ts)
	if n < 3 {
		return Decay{}, fault.New(fault.Invalid, "only %d peaks stand out", n).WithHint("a decrement needs three peaks, counted on both sides")
	}
	mean := float64(n-1) / 2
	num, den := 0.0, 0.0
	for k, l := range ls {
		num += (float64(k) - mean) * l
		den += (float64(k) - mean) * (float64(k) - mean)
	}
	d := Decay{Decrement: -2 * num / den, Peaks: n} // peaks on one side are two apart
	d.Damping = d.Decrement / math.Hypot(2*math.Pi, d.Decrement)
	d.Frequency = float64(n-1) / 2 / (ts[n-1] - ts[0])
	return d, nil
}
