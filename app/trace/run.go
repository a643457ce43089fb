package trace

import (
	"math"
	"slices"
)

// Run is the channels of one run with where it was when.
type Run struct {
	Code, Run string
	Channels  []Channel // of its whole recording
	T         []float64 // s of the recording, rising
	S         []float64 // m of station at these, rising
}

// When gives the time in s of the recording at which the run was at a station in m,
// beyond its ends by going on as it did there.
func (r *Run) When(station float64) float64 {
	n := len(r.S)
	k, _ := slices.BinarySearch(r.S, station)
	k = min(max(k, 1), n-1)
	return r.T[k-1] + (station-r.S[k-1])/(r.S[k]-r.S[k-1])*(r.T[k]-r.T[k-1])
}

// Edges is times in s of a recording between which columns lie.
type Edges struct {
	t           []float64
	first, last int // the edges that the run passed
}

// Along gives the edges of columns over stations in m from one to another.
func (r *Run) Along(from, to float64, columns int) Edges {
	e := Edges{t: make([]float64, columns+1), first: columns}
	for k := range e.t {
		s := from + (to-from)*float64(k)/float64(columns)
		if e.t[k] = r.When(s); s >= r.S[0] && s <= r.S[len(r.S)-1] {
			e.first, e.last = min(e.first, k), max(e.last, k)
		}
	}
	return e
}

// Since gives the edges of columns over time in s from the run's passing of a gate at a
// station in m.
func (r *Run) Since(gate, from, to float64, columns int) Edges {
	begin := r.When(gate)
	e := Edges{t: make([]float64, columns+1), first: columns}
	for k := range e.t {
		e.t[k] = begin + from + (to-from)*float64(k)/float64(columns)
		if r.Within(e.t[k]) {
			e.first, e.last = min(e.first, k), max(e.last, k)
		}
	}
	return e
}

// Within tells whether a time in s of the recording lies in the run.
func (r *Run) Within(t float64) bool { return t >= r.T[0] && t <= r.T[len(r.T)-1] }

// Within gives the columns between edges; those beyond the run's own ends are empty.
func (c *Channel) Within(e Edges) []Column {
	out := make([]Column, len(e.t)-1)
	for k := range out {
		out[k].Empty = true
	}
	if e.last > e.first {
		copy(out[e.first:], c.Between(e.t[e.first:e.last+1]))
	}
	return out
}

// Lasts gives how long in s the run goes on from a gate at a station in m.
func (r *Run) Lasts(gate float64) float64 {
	return math.Max(0, r.T[len(r.T)-1]-r.When(gate))
}

// Channel gives the channel that another run has under a name, or in that role where
// neither has the other's name; nil where there is none.
func (r *Run) Channel(like Channel) *Channel {
	for i := range r.Channels {
		if r.Channels[i].Name == like.Name && r.Channels[i].Unit == like.Unit {
			return &r.Channels[i]
		}
	}
	for i := range r.Channels {
		if c := &r.Channels[i]; like.Role != "" && c.Role == like.Role && c.Unit == like.Unit {
			return c
		}
	}
	return nil
}

// Shown gives the channels of a recording that are drawn, so many at most: those whose
// role is known first, what moves before what stands still, places last.
func Shown(all []Channel, most int) []Channel {
	out := slices.Clone(all)
	rank := func(c Channel) int {
		switch {
		case c.Low == c.High:
			return 3
		case c.Role == "latitude" || c.Role == "longitude":
			return 2
		case c.Role == "":
			return 1
		}
		return 0
	}
	slices.SortStableFunc(out, func(a, b Channel) int { return rank(a) - rank(b) })
	return out[:min(len(out), most)]
}
