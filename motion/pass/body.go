package pass

import "math"

// Spot is a place on the ground along the straight: station and offset in m.
type Spot struct{ Station, Offset float64 }

// Corners gives the four corners of the body at sample i: front left, front right,
// rear left, rear right. A body without width is its antenna four times.
func (p *Pass) Corners(i int, b Body) [4]Spot {
	if b.Width <= 0 {
		a := Spot{p.At[i], p.Offset[i]}
		return [4]Spot{a, a, a, a}
	}
	left, right := b.Width/2-b.Left, -b.Width/2-b.Left
	return [4]Spot{p.spot(i, b.Ahead, left), p.spot(i, b.Ahead, right), p.spot(i, -b.Behind, left), p.spot(i, -b.Behind, right)}
}

// spot gives where a point of the body, m ahead and to the left of the antenna, is.
func (p *Pass) spot(i int, ahead, left float64) Spot {
	s, c := math.Sincos(p.Turn[i])
	return Spot{p.At[i] + ahead*c - left*s, p.Offset[i] + ahead*s + left*c}
}

// Apart gives how far in m a place stands from the body at sample i: from its
// outline, negative for a place inside it.
func (p *Pass) Apart(i int, b Body, at Spot) float64 {
	ds, do := at.Station-p.At[i], at.Offset-p.Offset[i]
	s, c := math.Sincos(p.Turn[i])
	x, y := ds*c+do*s, do*c-ds*s
	// From the outline's middle.
	x -= (b.Ahead - b.Behind) / 2
	y += b.Left
	dx, dy := math.Abs(x)-(b.Ahead+b.Behind)/2, math.Abs(y)-b.Width/2
	if dx <= 0 && dy <= 0 {
		return math.Max(dx, dy)
	}
	return math.Hypot(math.Max(dx, 0), math.Max(dy, 0))
}

// Index gives the first sample at or after which the antenna is at a station, by the
// first crossing; ok is false if it never gets there.
func (p *Pass) Index(station float64) (i int, ok bool) {
	for i := range p.At {
		if p.At[i] >= station && (i == 0 || p.At[i-1] < station) {
			return i, true
		}
	}
	return 0, false
}

// Time gives when the antenna passes a station first, in s, between samples; ok is
// false if it does not within what was laid out.
func (p *Pass) Time(station float64) (t float64, ok bool) {
	i, ok := p.Index(station)
	if !ok || i == 0 {
		return 0, false
	}
	share := (station - p.At[i-1]) / (p.At[i] - p.At[i-1])
	return p.T[i-1] + share*p.Step, true
}

// Value gives a quantity at a time in s, between samples.
func (p *Pass) Value(of []float64, t float64) (v float64, ok bool) {
	x := (t - p.T[0]) / p.Step
	k := int(math.Floor(x))
	if of == nil || !(x >= 0) || k >= len(of) {
		return 0, false
	}
	if k == len(of)-1 {
		return of[k], true
	}
	return of[k] + (of[k+1]-of[k])*(x-float64(k)), true
}

// Dense gives the pass with places alone, at steps of at most so many m of the way:
// where a corner of the body leaves a lane at a slant, the sample before and the one
// after are some centimetres apart. Between samples all is straight.
func (p *Pass) Dense(most float64) *Pass {
	fastest := 0.0
	for _, v := range p.Speed {
		fastest = math.Max(fastest, v)
	}
	n := max(1, int(math.Ceil(fastest*p.Step/most)))
	d := &Pass{Axis: p.Axis, Step: p.Step / float64(n)}
	between := func(v []float64) []float64 {
		if v == nil {
			return nil
		}
		out := make([]float64, 0, n*len(v))
		for i := range v {
			if i+1 == len(v) {
				out = append(out, v[i])
				break
			}
			for k := range n {
				out = append(out, v[i]+(v[i+1]-v[i])*float64(k)/float64(n))
			}
		}
		return out
	}
	d.T, d.At, d.Offset, d.SD = between(p.T), between(p.At), between(p.Offset), between(p.SD)
	turn := make([]float64, len(p.Turn)) // without jumps of a turn
	for i, a := range p.Turn {
		if i > 0 {
			a = turn[i-1] + turned(a-turn[i-1])
		}
		turn[i] = a
	}
	d.Turn = between(turn)
	return d
}
