// Package region holds what every way to a simultaneous tail rests on: the box
// of limits inside which no comparison passes, upper tails and quantiles of the
// normal and of Student's t, the distribution of the deviation over its true
// value and the integral over it, Gauss-Legendre rules, the pivoted Cholesky
// factor of correlations, and the zero of a falling function.
//
// Sources: the normal tail is the error function's, Student's tail the
// incomplete beta function's (gonum's mathext); the rules for integrals are
// those named at each function. Units: pure numbers, limits in standard errors.
// Limits: degrees of freedom above 0, which may be infinite; probabilities are
// always the small side, so that they keep their digits.
package region

import (
	"math"
)

// Box is the region inside: -lo_i*s <= Z_i <= hi_i*s for each different
// comparison, s the deviation over its true value.
type Box struct{ Lo, Hi []float64 }

// Majorant gives Bonferroni's bound on the tail at deviation s.
func (b Box) Majorant(s float64) float64 {
	sum := 0.0
	for i := range b.Lo {
		sum += UpperPhi(b.Hi[i]*s) + UpperPhi(b.Lo[i]*s)
	}
	return min(1, sum)
}

// Sides gives how many limits there are.
func (b Box) Sides() float64 {
	n := 0.0
	for i := range b.Lo {
		for _, v := range [2]float64{b.Lo[i], b.Hi[i]} {
			if !math.IsInf(v, 1) {
				n++
			}
		}
	}
	return n
}

// Over gives the c >= 0 with b = c times the box of limits 1, if there is one.
func (b Box) Over(unit Box) (c float64, ok bool) {
	c = -1
	for i := range b.Lo {
		for _, v := range [2][2]float64{{b.Lo[i], unit.Lo[i]}, {b.Hi[i], unit.Hi[i]}} {
			switch {
			case math.IsInf(v[1], 1) != math.IsInf(v[0], 1):
				return 0, false
			case math.IsInf(v[1], 1):
			case c < 0:
				c = v[0]
			case v[0] != c:
				return 0, false
			}
		}
	}
	return c, c >= 0
}

// Positive tells whether every limit is above zero.
func (b Box) Positive() bool {
	for i := range b.Lo {
		if b.Lo[i] < 0 || b.Hi[i] < 0 {
			return false
		}
	}
	return true
}
