// Package corner finds the corners of a lap: stretches of the course that bend one way.
//
// Stations in m from the start gate, curvature in 1/m, positive to the left. What counts
// as a corner is own choice (docs of procedure lap have the defaults): a radius below the
// greatest one, a turn of at least the least angle.
package corner

import (
	"math"
	"strconv"
)

// Corner is a stretch of the lap in which the course turns one way.
type Corner struct {
	Number   int     // in the order driven, from 1
	From, To float64 // m from the start gate
	Left     bool
	Whole    bool // it neither begins before the start gate nor ends after it
}

// Place gives what the corner is called as a place: "corner 3".
func (c Corner) Place() string { return "corner " + strconv.Itoa(c.Number) }

// Sign is 1 for a corner to the left, -1 for one to the right.
func (c Corner) Sign() float64 {
	if c.Left {
		return 1
	}
	return -1
}

// Rule says what a corner is.
type Rule struct {
	Radius float64 // m, greatest
	Turn   float64 // rad, least
	Join   float64 // m, between bends the same way that are one corner
}

// Find finds the corners in a curvature by rising stations, both alike long: stretches that
// bend one way on a radius below the greatest one, those of one way and near each other
// joined, those that turn by less than the least angle left out.
func (q Rule) Find(station, curvature []float64) []Corner {
	tight := 1 / q.Radius
	type piece struct {
		from, to int
		left     bool
	}
	var pieces []piece
	for i, k := range curvature {
		if math.Abs(k) < tight {
			continue
		}
		left := k > 0
		if n := len(pieces); n > 0 && pieces[n-1].left == left && station[i]-station[pieces[n-1].to] <= q.Join {
			pieces[n-1].to = i
		} else {
			pieces = append(pieces, piece{i, i, left})
		}
	}
	var out []Corner
	for _, p := range pieces {
		turn := 0.0
		for i := p.from + 1; i <= p.to; i++ {
			turn += (curvature[i] + curvature[i-1]) / 2 * (station[i] - station[i-1])
		}
		if math.Abs(turn) < q.Turn {
			continue
		}
		out = append(out, Corner{Number: len(out) + 1, From: station[p.from], To: station[p.to], Left: p.left, Whole: p.from > 0 && p.to < len(curvature)-1})
	}
	return out
}
