package lines

import (
	"math"

	"example.org/bookend/course"
	"example.org/bookend/procedure"
)

// Body is how far one code's vehicle reaches to either side, by station of Lines: the
// mean offset in m of that corner of the body which comes farthest to the left and to the
// right there, with the ends of its 95 % interval as Line has them; nil where no code has
// two stints.
type Body struct {
	Left      []float64 `json:"left"`
	LeftLow   []float64 `json:"left_low,omitempty"`
	LeftHigh  []float64 `json:"left_high,omitempty"`
	Right     []float64 `json:"right"`
	RightLow  []float64 `json:"right_low,omitempty"`
	RightHigh []float64 `json:"right_high,omitempty"`
}

// sides is how far one run's body reaches, m of offset by station in m.
type sides struct{ s, left, right []float64 }

// corners gives where the body's corners come, runs whose sign is negative turned over;
// empty where the procedure does not tell.
func corners(o procedure.Overlaid, sign float64) sides {
	var at [4]procedure.Trace
	for k, id := range []string{"front_left", "rear_left", "front_right", "rear_right"} {
		tr, ok := trace(o, id+"_by_station")
		if !ok {
			return sides{}
		}
		at[k] = tr
	}
	grid := at[1].X
	var v [4][]float64
	var known [4][]bool
	for k, tr := range at {
		v[k], known[k] = course.ByStation(tr.X, tr.Y, grid)
	}
	var out sides
	for i, s := range grid {
		if !(known[0][i] && known[1][i] && known[2][i] && known[3][i]) {
			continue
		}
		left, right := math.Max(v[0][i], v[1][i]), math.Min(v[2][i], v[3][i])
		if sign < 0 {
			left, right = -right, -left
		}
		out.s, out.left, out.right = append(out.s, s), append(out.left, left), append(out.right, right)
	}
	return out
}

// body gives a code's reach at each station from the means of both sides; nil where it
// has none.
func body(code string, lefts, rights []procedure.Mean, stations []float64) *Body {
	for i, m := range lefts {
		if m.Code != code || i >= len(rights) {
			continue
		}
		var b Body
		side := func(m procedure.Mean) (y, low, high []float64) {
			for _, s := range stations {
				a, lo, hi := m.At(math.Min(math.Max(s, m.X[0]), m.X[len(m.X)-1]))
				y = append(y, a)
				if m.Low != nil {
					low, high = append(low, lo), append(high, hi)
				}
			}
			return y, low, high
		}
		b.Left, b.LeftLow, b.LeftHigh = side(m)
		b.Right, b.RightLow, b.RightHigh = side(rights[i])
		return &b
	}
	return nil
}

// beside is how far in m of station a marker that stands alone is taken to be beside the
// vehicle (own choice: half a metre, in which no corner moves aside by more than some
// centimetres).
const beside = 0.5

// Cone is the room in m between a code's body and the cones on one side of it at a
// station: negative where the body reaches past them. Low and High are the ends of its
// 95 % interval, equal to Room where no code has two stints.
type Cone struct {
	Side            string  // "left" or "right" of the vehicle
	Edge            float64 // m of offset
	Room, Low, High float64
}

// ToCones gives the room between a code's body and the cones beside it at a place of
// Station, those on the left first: both edges of a lane, or the marker that it passes.
// None are given where no cones stand; ok is false where the body's reach is not known.
func (l *Lines) ToCones(code string, at int) (out []Cone, ok bool) {
	var b *Body
	for _, q := range l.Codes {
		if q.Code == code {
			b = q.Body
		}
	}
	if b == nil || len(l.Ways)+len(l.Cones) == 0 {
		return nil, false
	}
	s := l.Station[at]
	left := func(edge float64) Cone {
		c := Cone{Side: "left", Edge: edge, Room: edge - b.Left[at]}
		c.Low, c.High = c.Room, c.Room
		if b.LeftLow != nil {
			c.Low, c.High = edge-b.LeftHigh[at], edge-b.LeftLow[at]
		}
		return c
	}
	right := func(edge float64) Cone {
		c := Cone{Side: "right", Edge: edge, Room: b.Right[at] - edge}
		c.Low, c.High = c.Room, c.Room
		if b.RightLow != nil {
			c.Low, c.High = b.RightLow[at]-edge, b.RightHigh[at]-edge
		}
		return c
	}
	for _, w := range l.Ways {
		if s >= w.From && s <= w.To {
			return []Cone{left(w.Left), right(w.Right)}, true
		}
	}
	for _, c := range l.Cones {
		if math.Abs(c.X-s) > beside {
			continue
		}
		if b.Left[at]+b.Right[at] < 2*c.Y { // it passes on the right of the marker
			return []Cone{left(c.Y)}, true
		}
		return []Cone{right(c.Y)}, true
	}
	return nil, true
}

// Tightest gives the code and the place at which least room is left to the cones; ok is
// false where that is not known of any.
func (l *Lines) Tightest() (code string, at int, c Cone, ok bool) {
	for _, q := range l.Codes {
		for k := range l.Station {
			cones, _ := l.ToCones(q.Code, k)
			for _, x := range cones {
				if !ok || x.Room < c.Room {
					code, at, c, ok = q.Code, k, x, true
				}
			}
		}
	}
	return code, at, c, ok
}

// Clock gives when a run was where: time in s from its cut, by station in m; ok is false
// where its procedure does not tell.
func (l *Lines) Clock(run string) (t, station []float64, ok bool) {
	for _, p := range l.paths {
		if p.run != run || !p.timed {
			continue
		}
		for _, at := range p.t {
			t = append(t, p.cut+at-p.t[0])
		}
		return t, p.s, true
	}
	return nil, nil, false
}

// rounded gives the same to the millimetre.
func (b *Body) rounded() *Body {
	if b == nil {
		return nil
	}
	return &Body{rounded(b.Left), rounded(b.LeftLow), rounded(b.LeftHigh), rounded(b.Right), rounded(b.RightLow), rounded(b.RightHigh)}
}
