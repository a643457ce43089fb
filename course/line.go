package course

import (
	"math"
	"slices"

	"example.org/bookend/fault"
)

// Line is a reference line: points in the course's plane at equal steps of
// station, joined straight. Station counts from its first point in m, offset from
// it in m, positive to the left.
//
// A closed line ends where it begins; its first point is not repeated.
type Line struct {
	Closed bool    `json:"closed"`
	Step   float64 `json:"step_m"` // between points along the line
	Points []Point `json:"points"`
}

// rounding is what a learnt line's points are rounded to, in m (own choice: a
// hundredth of what the best receivers resolve, so that the line's hash is the
// same on every machine that agrees on the recording).
const rounding = 1e-4

// Learn makes a reference line of a driven path: the points of one chosen lap
// (closed) or pass (open), at about the given step in m.
//
// Points nearer than a quarter of the step to the last that was kept are passed
// over, so that the jitter of a standing receiver adds no length. A lap that ends
// to the side of where it began is closed by sharing the difference out along it;
// one that ends more than a twentieth of its length away (own choice) is refused.
func Learn(path []Point, closed bool, step float64) (*Line, error) {
	if !(step > 0) || math.IsInf(step, 0) {
		return nil, fault.New(fault.Invalid, "a reference line needs a step above 0 m, not %g", step)
	}
	var kept []Point
	for _, p := range path {
		if math.IsNaN(p.East+p.North) || math.IsInf(p.East+p.North, 0) {
			return nil, fault.New(fault.Invalid, "a point of the path is not finite")
		}
		if len(kept) == 0 || kept[len(kept)-1].Distance(p) >= step/4 {
			kept = append(kept, p)
		}
	}
	if n := len(path); n > 0 && len(kept) > 1 && kept[len(kept)-1] != path[n-1] {
		if len(kept) > 2 {
			kept[len(kept)-1] = path[n-1] // the end stays the end
		} else {
			kept = append(kept, path[n-1])
		}
	}
	along := Track{At: kept}.Along()
	if len(kept) < 3 || along[len(along)-1] < 3*step {
		return nil, fault.New(fault.Invalid, "the path is shorter than three steps of %g m", step).
			WithHint("choose a whole lap or pass")
	}
	if closed {
		first, last, length := kept[0], kept[len(kept)-1], along[len(along)-1]
		gap := first.Distance(last)
		if gap > length/20 {
			return nil, fault.New(fault.Invalid, "the path ends %.1f m from where it began", gap).
				WithHint("choose a whole lap, from one crossing of the start gate to the next, or an open line")
		}
		for i := range kept {
			share := 0.5 - along[i]/length
			kept[i].East += share * (last.East - first.East)
			kept[i].North += share * (last.North - first.North)
		}
		along = Track{At: kept}.Along()
	}
	length := along[len(along)-1]
	n := max(3, int(math.Round(length/step)))
	l := &Line{Closed: closed, Step: length / float64(n)}
	count := n
	if !closed {
		count++
	}
	k := 1
	for i := range count {
		s := length * float64(i) / float64(n)
		for k < len(along)-1 && along[k] < s {
			k++
		}
		p := kept[k-1].Toward(kept[k], (s-along[k-1])/(along[k]-along[k-1]))
		l.Points = append(l.Points, Point{East: round(p.East), North: round(p.North)})
	}
	l.Step = math.Round(l.Step*1e9) / 1e9
	return l, nil
}

func round(m float64) float64 {
	r := math.Round(m/rounding) / (1 / rounding)
	if r == 0 {
		return 0 // no negative zero in the canonical form
	}
	return r
}

func (l *Line) check() error {
	if len(l.Points) < 3 || !(l.Step > 0) {
		return fault.New(fault.Invalid, "it has %d points at a step of %g m", len(l.Points), l.Step)
	}
	for i, p := range l.Points {
		if math.IsNaN(p.East+p.North) || math.IsInf(p.East+p.North, 0) || i > 0 && p == l.Points[i-1] {
			return fault.New(fault.Invalid, "point %d is not finite or stands twice", i+1)
		}
	}
	return nil
}

// pieces gives the number of straight pieces.
func (l *Line) pieces() int {
	if l.Closed {
		return len(l.Points)
	}
	return len(l.Points) - 1
}

// Length gives the line's length by station in m.
func (l *Line) Length() float64 { return l.Step * float64(l.pieces()) }

// point gives point i, counted round a closed line.
func (l *Line) point(i int) Point {
	n := len(l.Points)
	if l.Closed {
		return l.Points[((i%n)+n)%n]
	}
	return l.Points[min(max(i, 0), n-1)]
}

// At gives the point at a station in m and the line's direction there, in rad
// anticlockwise from east. A station off the end of an open line gives its end.
func (l *Line) At(station float64) (Point, float64) {
	k, share := l.split(station)
	a, b := l.point(k), l.point(k+1)
	return a.Toward(b, share), math.Atan2(b.North-a.North, b.East-a.East)
}

func (l *Line) split(station float64) (piece int, share float64) {
	if l.Closed {
		station -= l.Length() * math.Floor(station/l.Length())
	}
	piece = min(max(int(math.Floor(station/l.Step)), 0), l.pieces()-1)
	return piece, math.Min(1, math.Max(0, station/l.Step-float64(piece)))
}

// Locate gives station and offset in m of a point, by the nearest place on the
// whole line.
func (l *Line) Locate(p Point) (station, offset float64) {
	station, offset, _ = l.locate(p, 0, l.pieces())
	return station, offset
}

// locate looks at count pieces from first on.
func (l *Line) locate(p Point, first, count int) (station, offset, distance float64) {
	distance = math.Inf(1)
	n := l.pieces()
	for j := range count {
		k := first + j
		if l.Closed {
			k = ((k % n) + n) % n
		} else if k < 0 || k >= n {
			continue
		}
		a, b := l.point(k), l.point(k+1)
		share, d := nearest(p, a, b)
		if d >= distance {
			continue
		}
		distance = d
		station = l.Step * (float64(k) + share)
		// Left of the way: at a kink the mean of both directions decides.
		from, to := a, b
		if share == 0 {
			from = l.point(k - 1)
		} else if share == 1 {
			to = l.point(k + 2)
		}
		offset = math.Copysign(d, (to.East-from.East)*(p.North-a.North)-(to.North-from.North)*(p.East-a.East))
	}
	if l.Closed && station >= l.Length() {
		station -= l.Length()
	}
	return station, offset, distance
}

// Follow gives station and offset in m of each point of a driven path. Each is
// looked for near the one before, so that a line that crosses itself or comes
// back beside itself is followed as driven; the whole line is looked at for the
// first point, and again wherever the path has left the line by more than 30 m
// (own choice).
func (l *Line) Follow(path []Point) (station, offset []float64) {
	station, offset = make([]float64, len(path)), make([]float64, len(path))
	const lost = 30
	distance := math.Inf(1)
	for i, p := range path {
		if distance > lost {
			station[i], offset[i], distance = l.locate(p, 0, l.pieces())
			continue
		}
		reach := int((10+3*p.Distance(path[i-1]))/l.Step) + 2
		k, _ := l.split(station[i-1])
		station[i], offset[i], distance = l.locate(p, k-reach, min(2*reach+1, l.pieces()))
		if distance > lost {
			station[i], offset[i], distance = l.locate(p, 0, l.pieces())
		}
	}
	return station, offset
}

// Curvature gives the line's curvature in 1/m at each of its points, positive in
// a left-hand bend: that of the circle through the point and its neighbours half
// a span away. A short span follows noise, a long one rounds bends off. At the
// ends of an open line the nearest whole span counts.
func (l *Line) Curvature(span float64) []float64 {
	n := len(l.Points)
	reach := max(1, int(math.Round(span/2/l.Step)))
	reach = min(reach, (n-1)/2)
	out := make([]float64, n)
	for i := range out {
		j := i
		if !l.Closed {
			j = min(max(i, reach), n-1-reach)
		}
		out[i] = bend(l.point(j-reach), l.point(j), l.point(j+reach))
	}
	return out
}

// bend gives the curvature in 1/m of the circle through three points.
func bend(a, b, c Point) float64 {
	cross := (b.East-a.East)*(c.North-b.North) - (b.North-a.North)*(c.East-b.East)
	d := a.Distance(b) * b.Distance(c) * a.Distance(c)
	if d == 0 {
		return 0
	}
	return 2 * cross / d
}

// ByStation gives values on a grid of stations in m by linear interpolation, from
// values at rising stations; places where the path went back are passed over. A
// grid point outside the stations is left out: ok tells which are inside.
func ByStation(station, value, grid []float64) (out []float64, ok []bool) {
	var s, v []float64
	for i := range station {
		if len(s) == 0 || station[i] > s[len(s)-1] {
			s, v = append(s, station[i]), append(v, value[i])
		}
	}
	out, ok = make([]float64, len(grid)), make([]bool, len(grid))
	for i, g := range grid {
		k, found := slices.BinarySearch(s, g)
		switch {
		case found:
			out[i], ok[i] = v[k], true
		case k > 0 && k < len(s):
			out[i], ok[i] = v[k-1]+(v[k]-v[k-1])*(g-s[k-1])/(s[k]-s[k-1]), true
		}
	}
	return out, ok
}

// Unwrap gives the stations in m of a path followed round a closed line as if it
// went on straight: crossing the line's start adds a length instead of starting
// again at 0.
func (l *Line) Unwrap(station []float64) []float64 {
	out := slices.Clone(station)
	if !l.Closed {
		return out
	}
	for i := 1; i < len(out); i++ {
		out[i] += l.Length() * math.Round((out[i-1]-out[i])/l.Length())
	}
	return out
}
