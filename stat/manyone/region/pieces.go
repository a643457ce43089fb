package region

import (
	"math"
	"sync"
)

// Deep is how many deviations out a comparison's own part is still followed:
// beyond it there is 1e-32.
const Deep = 12

// The pieces of the normal tail: Taylor polynomials about the middles of cells,
// so many to the unit.
const (
	phiCells  = 64
	phiDegree = 6
)

// PhiPieces holds the coefficients of each cell.
type PhiPieces [12 * phiCells][phiDegree + 1]float64

// PhiTable holds the polynomials; computed once, never changed.
var PhiTable = sync.OnceValue(func() *PhiPieces {
	var table PhiPieces
	for i := range table {
		c := (float64(i) + 0.5) / phiCells
		table[i][0] = UpperPhi(c)
		// The derivatives of the density are Hermite polynomials times it.
		h0, h1, f := 1.0, c, -Phi(c)
		for n := 1; n <= phiDegree; n++ {
			table[i][n] = f * h0
			h0, h1 = h1, c*h1-float64(n)*h0
			f /= -float64(n + 1)
		}
	}
	return &table
})

// At gives P(Z > x) for |x| < deep.
func (t *PhiPieces) At(x float64) float64 {
	a := math.Abs(x)
	i := int(a * phiCells)
	d := a - (float64(i)+0.5)*(1./phiCells)
	p := &t[i]
	d2 := d * d
	v := (p[0] + d*p[1]) + d2*((p[2]+d*p[3])+d2*((p[4]+d*p[5])+d2*p[6]))
	if x < 0 {
		return 1 - v
	}
	return v
}

// Anywhere gives P(Z > x) for any x; past deep it is taken for 0 or 1.
func (t *PhiPieces) Anywhere(x float64) float64 {
	switch {
	case x >= Deep:
		return 0
	case x <= -Deep:
		return 1
	}
	return t.At(x)
}
