package lines

import (
	"math"
	"slices"
)

// thinTo is how far, in m, a run that is driven again may lie from what was recorded at
// the same moment, in place and in station (own choice: less than a line's width when the
// course is seen as near as it can be).
const thinTo = 0.02

// RunOf names a run that can be driven again.
type RunOf struct {
	Run, Stint, Code string
}

// Runs gives all runs that can be driven again, the control's first, each code's in the
// order driven.
func (l *Lines) Runs() []RunOf {
	var out []RunOf
	for _, p := range l.paths {
		out = append(out, RunOf{p.run, p.stint, p.code})
	}
	return out
}

// Run gives one run to be driven again.
func (l *Lines) Run(id string) (Driven, bool) {
	for _, p := range l.paths {
		if p.run == id {
			return p.driven(), true
		}
	}
	return Driven{}, false
}

// At gives where the run is at a time in s from its first station; it stays where it ends.
func (d *Driven) At(t float64) (x, y float64) {
	return between(d.T, d.X, t), between(d.T, d.Y, t)
}

// When gives the time in s from the run's first station at which it is at a station in m.
func (d *Driven) When(station float64) float64 { return between(d.S, d.T, station) }

// between gives a value between those of a rising list, and the nearest end's outside.
func between(x, y []float64, at float64) float64 {
	n := len(x)
	switch {
	case n == 0:
		return 0
	case at <= x[0]:
		return y[0]
	case at >= x[n-1]:
		return y[n-1]
	}
	k, _ := slices.BinarySearch(x, at)
	return y[k-1] + (at-x[k-1])/(x[k]-x[k-1])*(y[k]-y[k-1])
}

// driven gives the path in time from its first station, thinned.
func (p path) driven() Driven {
	d := Driven{Code: p.code, Run: p.run, Stint: p.stint}
	for _, i := range p.thin() {
		d.T, d.S = append(d.T, p.t[i]-p.t[0]), append(d.S, p.s[i])
		d.X, d.Y = append(d.X, p.x[i]), append(d.Y, p.y[i])
	}
	return d
}

// thin gives the samples between which all others lie within thinTo of where a straight
// and steady motion would be at their time: halves at the farthest one until that holds.
func (p path) thin() []int {
	n := len(p.t)
	keep := make([]bool, n)
	keep[0], keep[n-1] = true, true
	open := [][2]int{{0, n - 1}}
	for len(open) > 0 {
		a, b := open[len(open)-1][0], open[len(open)-1][1]
		open = open[:len(open)-1]
		far, least := -1, thinTo
		for i := a + 1; i < b; i++ {
			w := (p.t[i] - p.t[a]) / (p.t[b] - p.t[a])
			off := func(v []float64) float64 { return v[i] - v[a] - w*(v[b]-v[a]) }
			if d := math.Max(math.Hypot(off(p.x), off(p.y)), math.Abs(off(p.s))); d > least {
				far, least = i, d
			}
		}
		if far >= 0 {
			keep[far] = true
			open = append(open, [2]int{a, far}, [2]int{far, b})
		}
	}
	var out []int
	for i, k := range keep {
		if k {
			out = append(out, i)
		}
	}
	return out
}

// Rounded gives the same to the millimetre and the millisecond, for what is sent to be
// drawn.
func (l *Lines) Rounded() *Lines {
	out := *l
	out.Station = rounded(l.Station)
	out.Codes = nil
	for _, q := range l.Codes {
		for _, v := range []*[]float64{&q.X, &q.Y, &q.Aside, &q.Low, &q.High, &q.Spread, &q.Gain, &q.Speed} {
			*v = rounded(*v)
		}
		q.Body, q.Driven = q.Body.rounded(), q.Driven.Rounded()
		out.Codes = append(out.Codes, q)
	}
	return &out
}

// Rounded gives the run to the millimetre and the millisecond.
func (d Driven) Rounded() Driven {
	d.T, d.S, d.X, d.Y = rounded(d.T), rounded(d.S), rounded(d.X), rounded(d.Y)
	return d
}

func rounded(x []float64) []float64 {
	if x == nil {
		return nil
	}
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = math.Round(v*1000) / 1000
	}
	return out
}
