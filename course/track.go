package course

import (
	"math"
	"sort"
)

// Track is an unbroken path through the plane: times in s, strictly increasing,
// and a point at each. Between samples it is straight and evenly driven.
type Track struct {
	T  []float64
	At []Point
}

// Track gives the path of positions: times in s, latitudes and longitudes in rad,
// all alike long.
func (p Plane) Track(t, latitude, longitude []float64) Track {
	at := make([]Point, len(t))
	for i := range at {
		at[i] = p.Place(latitude[i], longitude[i])
	}
	return Track{T: t, At: at}
}

// Passage is one crossing of a gate.
type Passage struct {
	T      float64 // s, interpolated
	Offset float64 // m from the middle of the gate, positive to the left
	Speed  float64 // m/s across the step that crosses it
}

// Crossings gives the crossings of a gate in its direction, in order.
func (t Track) Crossings(g Gate) []Passage {
	var out []Passage
	for i := 1; i < len(t.At); i++ {
		part, offset, ok := g.Crossing(t.At[i-1], t.At[i])
		if !ok {
			continue
		}
		dt := t.T[i] - t.T[i-1]
		out = append(out, Passage{T: t.T[i-1] + part*dt, Offset: offset, Speed: t.At[i-1].Distance(t.At[i]) / dt})
	}
	return out
}

// Nearest gives how near the track comes to a gate, in m, and when, in s; +Inf
// for a track of no samples.
func (t Track) Nearest(g Gate) (m, at float64) {
	m = math.Inf(1)
	if len(t.At) == 1 {
		_, m = nearest(t.At[0], g.Right, g.Left)
		return m, t.T[0]
	}
	for i := 1; i < len(t.At); i++ {
		if d, part := g.distance(t.At[i-1], t.At[i]); d < m {
			m, at = d, t.T[i-1]+part*(t.T[i]-t.T[i-1])
		}
	}
	return m, at
}

// Point gives where the track is at a time in s; ok is false outside it.
func (t Track) Point(at float64) (p Point, ok bool) {
	n := len(t.T)
	if n == 0 || !(at >= t.T[0] && at <= t.T[n-1]) {
		return Point{}, false
	}
	i := sort.SearchFloat64s(t.T, at)
	if t.T[i] == at {
		return t.At[i], true
	}
	return t.At[i-1].Toward(t.At[i], (at-t.T[i-1])/(t.T[i]-t.T[i-1])), true
}

// Between gives the part of the track in [from, to] s, with interpolated ends;
// what lies outside the track is left out.
func (t Track) Between(from, to float64) Track {
	n := len(t.T)
	if n == 0 || to < from || to < t.T[0] || from > t.T[n-1] {
		return Track{}
	}
	var out Track
	add := func(at float64, p Point) {
		if k := len(out.T); k == 0 || at > out.T[k-1] {
			out.T, out.At = append(out.T, at), append(out.At, p)
		}
	}
	if p, ok := t.Point(from); ok {
		add(from, p)
	}
	lo := sort.SearchFloat64s(t.T, from)
	for i := lo; i < n && t.T[i] <= to; i++ {
		add(t.T[i], t.At[i])
	}
	if p, ok := t.Point(to); ok {
		add(to, p)
	}
	return out
}

// Along gives the distance in m driven from the track's first sample to each.
func (t Track) Along() []float64 {
	s := make([]float64, len(t.At))
	for i := 1; i < len(s); i++ {
		s[i] = s[i-1] + t.At[i-1].Distance(t.At[i])
	}
	return s
}

// Length gives the whole distance driven in m.
func (t Track) Length() float64 {
	s := 0.0
	for i := 1; i < len(t.At); i++ {
		s += t.At[i-1].Distance(t.At[i])
	}
	return s
}
