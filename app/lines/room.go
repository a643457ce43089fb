package lines

import (
	"math"

	"example.org/bookend/course"
)

// Room is how far one code's mean line lies to the left of another's, in m by station of
// Lines. Low and High are the ends of its 95 % interval by Student's t, each place by
// itself, with the scatter of all codes' stints about their means taken together
// (nist-ehandbook 7.3.1: two means, pooled variance); nil where no code has two
// stints.
type Room struct {
	Of     string    `json:"of"`   // lies to the left
	From   string    `json:"from"` // of this one
	Left   []float64 `json:"offset"`
	Low    []float64 `json:"low,omitempty"`
	High   []float64 `json:"high,omitempty"`
	Widest int       `json:"-"` // the place where it is farthest from none
}

// Between gives the room between two codes; false where either has no line.
func (l *Lines) Between(of, from string) (Room, bool) {
	r := Room{Of: of, From: from}
	var a, b *Line
	for i := range l.Codes {
		q := &l.Codes[i]
		if q.Code == of {
			a = q
		}
		if q.Code == from {
			b = q
		}
	}
	if a == nil || b == nil {
		return r, false
	}
	for k := range l.Station {
		left := a.Aside[k] - b.Aside[k]
		r.Left = append(r.Left, left)
		if math.Abs(left) > math.Abs(r.Left[r.Widest]) {
			r.Widest = k
		}
		if a.Low == nil || b.Low == nil {
			continue
		}
		// Both intervals rest on the same pooled scatter: halves add as standard errors do.
		half := 0.0
		if of != from {
			half = math.Hypot((a.High[k]-a.Low[k])/2, (b.High[k]-b.Low[k])/2)
		}
		r.Low, r.High = append(r.Low, left-half), append(r.High, left+half)
	}
	return r, true
}

// Rounded gives the same to the millimetre.
func (r Room) Rounded() Room {
	r.Left, r.Low, r.High = rounded(r.Left), rounded(r.Low), rounded(r.High)
	return r
}

// spread gives the standard deviation of a code's single runs about their mean at each
// station; nil for fewer than two.
func spread(all []path, code string, stations []float64) []float64 {
	var offs [][]float64
	for _, p := range all {
		if p.code == code {
			v, _ := course.ByStation(p.s, p.off, stations)
			offs = append(offs, v)
		}
	}
	if len(offs) < 2 {
		return nil
	}
	n := float64(len(offs))
	out := make([]float64, len(stations))
	for k := range out {
		mean, squares := 0.0, 0.0
		for _, v := range offs {
			mean += v[k] / n
		}
		for _, v := range offs {
			squares += (v[k] - mean) * (v[k] - mean)
		}
		out[k] = math.Sqrt(squares / (n - 1))
	}
	return out
}
