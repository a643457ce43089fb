// Package agree lays two signals of one drive on one even time grid and says how
// they agree: by what factor, offset and delay the one shows what the other lets
// expect, and how certain that is.
//
// Both are averaged onto the grid and filtered alike (zero-phase Butterworth), so
// that a difference is none of the filter's. Times are in s, values in the
// channels' SI units. Signals with noise in both cannot give one slope: what is
// given is the range between the two regressions, which holds it.
package agree

import (
	"math"
	"sort"

	"example.org/bookend/signal"
)

// Grid is an even time grid: N moments from From s on, Step s apart.
type Grid struct {
	From, Step float64
	N          int
}

// NewGrid gives the grid over [from, to] s.
func NewGrid(from, to, step float64) Grid {
	n := int((to-from)/step) + 1
	if !(to >= from) || n < 1 {
		n = 0
	}
	return Grid{from, step, n}
}

// At gives moment i in s.
func (g Grid) At(i int) float64 { return g.From + float64(i)*g.Step }

// Series is a signal on a grid. V is 0 wherever OK is false.
type Series struct {
	Grid Grid
	V    []float64
	OK   []bool
}

func empty(g Grid) Series { return Series{g, make([]float64, g.N), make([]bool, g.N)} }

// bridge is how far apart in s samples may lie for a value between them to be
// interpolated, unless the channel's own step is longer than a third of that (own
// choice: manoeuvres last longer).
const bridge = 0.3

// On brings a channel onto a grid: by the mean of the samples within half a step
// where there are such, else between the two samples about the moment.
func On(c *signal.Channel, g Grid) Series {
	out := empty(g)
	reach := max(bridge, 3*c.Base.Step())
	for _, s := range c.All() {
		lo := 0
		first := max(0, int(math.Ceil((s.T[0]-g.From)/g.Step-0.5)))
		for i := first; i < g.N; i++ {
			t := g.At(i)
			if t > s.T[len(s.T)-1]+0.5*g.Step {
				break
			}
			for lo < len(s.T) && s.T[lo] < t-0.5*g.Step {
				lo++
			}
			sum, at, n := 0.0, 0.0, 0
			for j := lo; j < len(s.T) && s.T[j] < t+0.5*g.Step; j++ {
				sum += s.V[j]
				at += s.T[j]
				n++
			}
			// A mean stands at the mean of its times; two samples or more about the
			// moment are near enough to it.
			if n >= 2 && math.Abs(at/float64(n)-t) < 0.25*g.Step {
				// What it lies aside is made up by how the samples run.
				mean, off := sum/float64(n), t-at/float64(n)
				last := lo + n - 1
				out.V[i], out.OK[i] = mean+off*(s.V[last]-s.V[lo])/(s.T[last]-s.T[lo]), true
				continue
			}
			k := sort.SearchFloat64s(s.T, t)
			if k > 0 && k < len(s.T) && s.T[k]-s.T[k-1] <= reach {
				out.V[i] = s.V[k-1] + (s.V[k]-s.V[k-1])*(t-s.T[k-1])/(s.T[k]-s.T[k-1])
				out.OK[i] = true
			}
		}
	}
	return out
}

// runs gives the stretches in which the series is there.
func (s Series) runs() []signal.Span {
	var out []signal.Span
	for i := 0; i < s.Grid.N; i++ {
		if !s.OK[i] {
			continue
		}
		from := i
		for i < s.Grid.N && s.OK[i] {
			i++
		}
		out = append(out, signal.Span{From: from, To: i})
	}
	return out
}

// filterOrder of one pass; both passes together have eight poles (own choice: steep
// enough that two signals are cut alike, short enough to settle within seconds).
const filterOrder = 4

// Low gives the series without what is faster than a frequency in Hz. Stretches too
// short for the filter are left out.
func (s Series) Low(hz float64) Series {
	out := empty(s.Grid)
	f, err := signal.NewLowPass(filterOrder, hz, signal.BothPasses, 1/s.Grid.Step)
	if err != nil { // the grid is too coarse to hold anything faster
		copy(out.V, s.V)
		copy(out.OK, s.OK)
		return out
	}
	for _, r := range s.runs() {
		y, err := f.ZeroPhase(s.V[r.From:r.To])
		if err != nil {
			continue
		}
		copy(out.V[r.From:], y)
		for i := r.From; i < r.To; i++ {
			out.OK[i] = true
		}
	}
	return out
}

// Slope gives the derivative by time, by five points; the two moments at each end
// of a stretch are left out.
func (s Series) Slope() Series {
	out := empty(s.Grid)
	for i := 2; i+2 < s.Grid.N; i++ {
		if s.OK[i-2] && s.OK[i-1] && s.OK[i] && s.OK[i+1] && s.OK[i+2] {
			out.V[i] = (8*(s.V[i+1]-s.V[i-1]) - (s.V[i+2] - s.V[i-2])) / (12 * s.Grid.Step)
			out.OK[i] = true
		}
	}
	return out
}

// Of gives f of several series of one grid, where all are there and f says ok.
func Of(f func(v ...float64) (float64, bool), of ...Series) Series {
	out := empty(of[0].Grid)
	v := make([]float64, len(of))
	for i := range out.V {
		all := true
		for j, s := range of {
			v[j] = s.V[i]
			all = all && s.OK[i]
		}
		if !all {
			continue
		}
		if y, ok := f(v...); ok {
			out.V[i], out.OK[i] = y, true
		}
	}
	return out
}

// Within gives the series in [from, to] s alone.
func (s Series) Within(from, to float64) Series {
	out := empty(s.Grid)
	for i := range out.V {
		if t := s.Grid.At(i); s.OK[i] && t >= from && t <= to {
			out.V[i], out.OK[i] = s.V[i], true
		}
	}
	return out
}

// Moved gives the series as it was d s later: what comes late by d is put right.
func (s Series) Moved(d float64) Series {
	out := empty(s.Grid)
	shift := d / s.Grid.Step
	whole := math.Floor(shift)
	part := shift - whole
	for i := range out.V {
		j := i + int(whole)
		if j < 0 || j >= s.Grid.N || !s.OK[j] {
			continue
		}
		if part == 0 {
			out.V[i], out.OK[i] = s.V[j], true
		} else if j+1 < s.Grid.N && s.OK[j+1] {
			out.V[i], out.OK[i] = s.V[j]+part*(s.V[j+1]-s.V[j]), true
		}
	}
	return out
}

// Seconds gives for how long the series is there.
func (s Series) Seconds() float64 {
	n := 0
	for _, ok := range s.OK {
		if ok {
			n++
		}
	}
	return float64(n) * s.Grid.Step
}
