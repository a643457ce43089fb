package signal

import (
	"math"
	"sort"
)

// Direction is the way in which a level is crossed.
type Direction int

// Rising from below, falling from above, or either.
const (
	Either Direction = iota
	Rising
	Falling
)

// Crossing is one crossing of a level.
type Crossing struct {
	T      float64 // s, interpolated between samples
	Rising bool
}

// Crossings gives the times in s at which the stretch reaches a level from one
// side of it, by linear interpolation between samples. A sample on the level is
// the crossing itself, once; a signal that leaves the level again to the side it
// came from has not crossed back.
//
// Taking the nearest sample instead would cost up to speed times step: 0.44 m at
// 80 km/h and 50 Hz.
func (s Stretch) Crossings(level float64, way Direction) []Crossing {
	var out []Crossing
	for i := 1; i < len(s.V); i++ {
		a, b := s.V[i-1], s.V[i]
		switch {
		case a < level && b >= level && way != Falling, a > level && b <= level && way != Rising:
			t := s.T[i]
			if b != level {
				t = s.T[i-1] + (s.T[i]-s.T[i-1])*((level-a)/(b-a))
			}
			out = append(out, Crossing{T: t, Rising: b > a})
		}
	}
	return out
}

// Crossings gives the crossings of a level in [from, to] s, valid span by valid
// span: a level that is passed within a gap is not crossed.
func (c *Channel) Crossings(level float64, way Direction, from, to float64) []Crossing {
	var out []Crossing
	for _, s := range c.All() {
		if s.T[len(s.T)-1] < from || s.T[0] > to {
			continue
		}
		lo := max(0, sort.SearchFloat64s(s.T, from)-1)
		hi := min(len(s.T), sort.SearchFloat64s(s.T, to)+1)
		for _, x := range (Stretch{T: s.T[lo:hi], V: s.V[lo:hi]}).Crossings(level, way) {
			if x.T >= from && x.T <= to {
				out = append(out, x)
			}
		}
	}
	return out
}

// Below gives the stretches of time, in s, in which the stretch lies below a
// level, with interpolated ends.
func (s Stretch) Below(level float64) [][2]float64 {
	var out [][2]float64
	for i, v := range s.V {
		switch {
		case v < level && (i == 0 || s.V[i-1] >= level):
			from := s.T[i]
			if i > 0 {
				from = between(level, s.V[i-1], v, s.T[i-1], s.T[i])
			}
			out = append(out, [2]float64{from, s.T[i]})
		case v < level:
			out[len(out)-1][1] = s.T[i]
		case i > 0 && s.V[i-1] < level:
			out[len(out)-1][1] = between(level, s.V[i-1], v, s.T[i-1], s.T[i])
		}
	}
	return out
}

// Integral gives the integral over [from, to] s, in the channel's unit times s:
// the trapezoidal rule with both ends interpolated. ok is false unless one valid
// span holds the whole window.
func (c *Channel) Integral(from, to float64) (v float64, ok bool) {
	s, ok := c.spanAt(from)
	if !ok || !(to >= from) || to > c.Base.T[s.To-1] {
		return 0, false
	}
	return c.stretch(s).Integral(from, to)
}

// Integral gives the integral over [from, to] s, as Channel.Integral.
func (s Stretch) Integral(from, to float64) (v float64, ok bool) {
	n := len(s.T)
	if n == 0 || !(from >= s.T[0] && to >= from && to <= s.T[n-1]) {
		return 0, false
	}
	w := s.Cut(from, to)
	for i := 1; i < len(w.T); i++ {
		v += (w.T[i] - w.T[i-1]) * (w.V[i] + w.V[i-1]) / 2
	}
	return v, true
}

// Cumulative gives the integral from the stretch's first sample to each, by the
// trapezoidal rule, in the unit times s.
func (s Stretch) Cumulative() []float64 {
	out := make([]float64, len(s.T))
	for i := 1; i < len(out); i++ {
		out[i] = out[i-1] + (s.T[i]-s.T[i-1])*(s.V[i]+s.V[i-1])/2
	}
	return out
}

// Mean gives the mean over [from, to] s by time, as the integral over its length;
// the value itself for an empty window.
func (s Stretch) Mean(from, to float64) (v float64, ok bool) {
	if from == to {
		return s.At(from)
	}
	v, ok = s.Integral(from, to)
	return v / (to - from), ok
}

// Derivative gives the derivative by time at each sample, in the unit per s: that
// of the parabola through the sample and its neighbours, whatever their spacing;
// at the ends, of the parabola through the three nearest. Two samples give their
// slope, one gives 0. Noise grows with the rate: smooth first.
func (s Stretch) Derivative() []float64 {
	n := len(s.T)
	out := make([]float64, n)
	if n == 2 {
		out[0] = (s.V[1] - s.V[0]) / (s.T[1] - s.T[0])
		out[1] = out[0]
	}
	for i := 0; n > 2 && i < n; i++ {
		k := min(max(i, 1), n-2)
		h0, h1 := s.T[k]-s.T[k-1], s.T[k+1]-s.T[k]
		d0, d1 := (s.V[k]-s.V[k-1])/h0, (s.V[k+1]-s.V[k])/h1
		mid := (h1*d0 + h0*d1) / (h0 + h1)
		bend := 2 * (d1 - d0) / (h0 + h1)
		out[i] = mid + bend*(s.T[i]-s.T[k])
	}
	return out
}

// MovingMean gives at each sample the mean by time over a window of the given
// width in s about it, cut off at the stretch's ends.
func (s Stretch) MovingMean(width float64) []float64 {
	n := len(s.T)
	out := make([]float64, n)
	if n == 0 || !(width > 0) {
		copy(out, s.V)
		return out
	}
	cum := s.Cumulative()
	// area is the integral from the start to t, which lies between samples k-1 and k.
	area := func(t float64, k int) float64 {
		if k == 0 {
			return 0
		}
		v := between(t, s.T[k-1], s.T[k], s.V[k-1], s.V[k])
		return cum[k-1] + (t-s.T[k-1])*(s.V[k-1]+v)/2
	}
	lo, hi := 0, 0
	for i, t := range s.T {
		a, b := math.Max(s.T[0], t-width/2), math.Min(s.T[n-1], t+width/2)
		for lo < n-1 && s.T[lo] < a {
			lo++
		}
		for hi < n-1 && s.T[hi] < b {
			hi++
		}
		if b > a {
			out[i] = (area(b, hi) - area(a, lo)) / (b - a)
		} else {
			out[i] = s.V[i]
		}
	}
	return out
}
