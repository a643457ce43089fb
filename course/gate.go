package course

import "math"

// Gate is a directed line in the plane, given by its right and its left post as
// driven. Crossing it the other way does not count.
type Gate struct {
	Right, Left Point
}

// Width gives the distance between the posts in m.
func (g Gate) Width() float64 { return g.Right.Distance(g.Left) }

// Middle gives the point between the posts.
func (g Gate) Middle() Point { return g.Right.Toward(g.Left, 0.5) }

// Reversed gives the gate as driven the other way.
func (g Gate) Reversed() Gate { return Gate{Right: g.Left, Left: g.Right} }

// Crossing tells whether the straight step from a to b crosses the gate in its
// direction. Part is the share of the step at which it does, from 0 (not
// counted) to 1 (counted), so that a track through a sample on the gate crosses
// once; offset is where, in m from the middle of the gate, positive to the left.
func (g Gate) Crossing(a, b Point) (part, offset float64, ok bool) {
	ge, gn := g.Left.East-g.Right.East, g.Left.North-g.Right.North
	width := math.Hypot(ge, gn)
	if width == 0 {
		return 0, 0, false
	}
	// Ahead of the gate is to the right of the way from right post to left post.
	ahead := func(p Point) float64 {
		return ((p.East-g.Right.East)*gn - (p.North-g.Right.North)*ge) / width
	}
	da, db := ahead(a), ahead(b)
	if !(da < 0 && db >= 0) {
		return 0, 0, false
	}
	part = -da / (db - da)
	p := a.Toward(b, part)
	along := ((p.East-g.Right.East)*ge + (p.North-g.Right.North)*gn) / width
	if along < 0 || along > width {
		return 0, 0, false
	}
	return part, along - width/2, true
}

// distance gives how far in m the step from a to b stays from the gate, and the
// share of the step at which it is nearest.
func (g Gate) distance(a, b Point) (m, part float64) {
	if p, _, ok := g.Crossing(a, b); ok {
		return 0, p
	}
	if p, _, ok := g.Reversed().Crossing(a, b); ok {
		return 0, p
	}
	// Two straight pieces that do not cross are nearest at an end of one of them.
	m = math.Inf(1)
	take := func(d, at float64) {
		if d < m {
			m, part = d, at
		}
	}
	for _, post := range []Point{g.Right, g.Left} {
		at, d := nearest(post, a, b)
		take(d, at)
	}
	_, d := nearest(a, g.Right, g.Left)
	take(d, 0)
	_, d = nearest(b, g.Right, g.Left)
	take(d, 1)
	return m, part
}

// nearest gives the share of the way from a to b that is nearest to p, and its
// distance in m.
func nearest(p, a, b Point) (share, m float64) {
	de, dn := b.East-a.East, b.North-a.North
	if l := de*de + dn*dn; l > 0 {
		share = math.Min(1, math.Max(0, ((p.East-a.East)*de+(p.North-a.North)*dn)/l))
	}
	return share, p.Distance(a.Toward(b, share))
}
