package signal

import (
	"math"
	"sort"
)

// At gives the channel's value at a time in s, by linear interpolation between
// neighbouring samples of one valid span; ok is false outside every span. An
// angle that jumps by a turn is not joined across the jump.
func (c *Channel) At(t float64) (v float64, ok bool) {
	s, ok := c.spanAt(t)
	if !ok {
		return 0, false
	}
	return c.stretch(s).At(t)
}

// spanAt gives the valid span whose first to last sample hold the time.
func (c *Channel) spanAt(t float64) (Span, bool) {
	tt := c.Base.T
	k := sort.Search(len(c.Valid), func(k int) bool { return tt[c.Valid[k].To-1] >= t })
	if k == len(c.Valid) || tt[c.Valid[k].From] > t {
		return Span{}, false
	}
	return c.Valid[k], true
}

func (c *Channel) stretch(s Span) Stretch {
	return Stretch{T: c.Base.T[s.From:s.To], V: c.Values[s.From:s.To]}
}

// All gives every valid span of the channel.
func (c *Channel) All() []Stretch { return c.Stretches(math.Inf(-1), math.Inf(1)) }

// Covers tells whether one valid span of the channel holds both times, in s.
func (c *Channel) Covers(from, to float64) bool {
	s, ok := c.spanAt(from)
	return ok && to >= from && to <= c.Base.T[s.To-1]
}

// At gives the stretch's value at a time in s by linear interpolation; ok is false
// outside it.
func (s Stretch) At(t float64) (v float64, ok bool) {
	n := len(s.T)
	if n == 0 || !(t >= s.T[0] && t <= s.T[n-1]) {
		return 0, false
	}
	i := sort.SearchFloat64s(s.T, t)
	if s.T[i] == t {
		return s.V[i], true
	}
	return between(t, s.T[i-1], s.T[i], s.V[i-1], s.V[i]), true
}

func between(t, t0, t1, v0, v1 float64) float64 {
	return v0 + (v1-v0)*((t-t0)/(t1-t0))
}

// Cut gives the part of the stretch in [from, to] s, with interpolated ends;
// what lies outside the stretch is left out.
func (s Stretch) Cut(from, to float64) Stretch {
	n := len(s.T)
	if n == 0 || !(to >= from) || to < s.T[0] || from > s.T[n-1] {
		return Stretch{}
	}
	lo := sort.SearchFloat64s(s.T, from)
	hi := sort.Search(n, func(i int) bool { return s.T[i] > to })
	var out Stretch
	if v, ok := s.At(from); ok && s.T[lo] != from {
		out.T, out.V = append(out.T, from), append(out.V, v)
	}
	if lo < hi {
		out.T, out.V = append(out.T, s.T[lo:hi]...), append(out.V, s.V[lo:hi]...)
	}
	if v, ok := s.At(to); ok && (len(out.T) == 0 || out.T[len(out.T)-1] < to) {
		out.T, out.V = append(out.T, to), append(out.V, v)
	}
	return out
}

// Paired is a stretch in which two channels are valid together: times in s and
// the value of each.
type Paired struct {
	T, A, B []float64
}

// Pair gives the stretches in [from, to] s in which both channels are valid, at
// the samples of a's base; b is interpolated where its base is another.
func Pair(a, b *Channel, from, to float64) []Paired {
	var out []Paired
	for _, s := range a.Stretches(from, to) {
		var p Paired
		end := func() {
			if len(p.T) > 0 {
				out = append(out, p)
				p = Paired{}
			}
		}
		last := Span{-1, -1}
		for i, t := range s.T {
			span, ok := b.spanAt(t)
			if !ok || len(p.T) > 0 && span != last {
				end()
			}
			if !ok {
				continue
			}
			last = span
			v, _ := b.stretch(span).At(t)
			p.T, p.A, p.B = append(p.T, t), append(p.A, s.V[i]), append(p.B, v)
		}
		end()
	}
	return out
}

// Resample gives the channel on another base by linear interpolation. A sample is
// valid where one valid span holds it; neighbours that are valid in different
// spans stand in different spans. Nothing is filtered first: resample to a lower
// rate only what holds nothing above half of it.
func (c *Channel) Resample(base *Base) *Channel {
	out := &Channel{Name: c.Name, Role: c.Role, Unit: c.Unit, SourceUnit: c.SourceUnit, Base: base,
		Values: make([]float64, len(base.T)), History: append([]Mend(nil), c.History...)}
	last := Span{-1, -1}
	for i, t := range base.T {
		s, ok := c.spanAt(t)
		if !ok {
			last = Span{-1, -1}
			continue
		}
		out.Values[i], _ = c.stretch(s).At(t)
		if s == last {
			out.Valid[len(out.Valid)-1].To = i + 1
		} else {
			out.Valid = append(out.Valid, Span{i, i + 1})
		}
		last = s
	}
	return out
}

// Even gives an evenly spaced base from a time to another, both in s and both
// included as far as the step in s divides them.
func Even(from, to, step float64) *Base {
	if !(step > 0) || !(to >= from) || math.IsInf(to-from, 0) {
		panic("signal: Even needs a step above 0 and an end not before the start")
	}
	n := int((to-from)/step+1e-9) + 1 // 1e-9 of a step: rounding of the division
	b := &Base{T: make([]float64, n)}
	for i := range b.T {
		b.T[i] = from + float64(i)*step
	}
	return b
}

// Step gives the median step of the base in s, 0 for fewer than two samples.
func (b *Base) Step() float64 {
	if len(b.T) < 2 {
		return 0
	}
	d := make([]float64, len(b.T)-1)
	for i := range d {
		d[i] = b.T[i+1] - b.T[i]
	}
	sort.Float64s(d)
	if n := len(d); n%2 == 0 {
		return (d[n/2-1] + d[n/2]) / 2
	}
	return d[len(d)/2]
}

// SpeedOverGround gives the recording's speed over ground in m/s: its speed
// channel, or the length of its north and east velocity; nil if it has neither.
func (r *Recording) SpeedOverGround() *Channel {
	if c := r.ByRole(Speed); c != nil {
		return c
	}
	n, e := r.ByRole(VelocityNorth), r.ByRole(VelocityEast)
	if n == nil || e == nil {
		return nil
	}
	out := &Channel{Name: n.Name + ", " + e.Name, Role: Speed, Unit: "m/s", Base: n.Base, Values: make([]float64, len(n.Values))}
	i := 0
	for _, p := range Pair(n, e, math.Inf(-1), math.Inf(1)) {
		for n.Base.T[i] < p.T[0] {
			i++
		}
		from := i
		for k := range p.T {
			out.Values[i] = math.Hypot(p.A[k], p.B[k])
			i++
		}
		out.Valid = append(out.Valid, Span{from, i})
	}
	return out
}
