// Package tyremodel says what force a tyre gives: published tyre models as they
// are printed, and the tyre that the synthetic ground drives on.
//
// The published ones are the Magic Formula with the coefficients of 1987
// (Set1987) and the subset of the later formula with which a public library of
// vehicle models describes its tyre (Set2020); wet friction is bounded by the
// published formulas of the speed at which a tyre floats. They are held to
// printed figures. Tyre rests on the second set, and adds what a comparison of
// tyres turns on: grip that falls with load, with water and with speed, floating,
// relaxation, wear, temperature. Where those have no public figures they are our
// own choice, and the line says so.
//
// SI units; slip angles in rad, slips as shares, unless a name says otherwise.
// Signs follow ISO 8855:2011: a slip angle is positive where the contact moves to
// its left, and the lateral force of a tyre then points to the right. Camber, the
// shifts of the curves (ply steer, conicity), turn slip and aligning torque of the
// vehicle's tyres are left out.
package tyremodel

import "math"

// Curve is the Magic Formula: y = D sin(C arctan(Bx - E(Bx - arctan Bx))). The unit
// of x is that of 1/B, the unit of y that of D.
type Curve struct{ B, C, D, E float64 }

// At gives the formula's value at x.
func (k Curve) At(x float64) float64 {
	bx := k.B * x
	return k.D * math.Sin(k.C*math.Atan(bx-k.E*(bx-math.Atan(bx))))
}

// Slope gives the slope at the origin, BCD.
func (k Curve) Slope() float64 { return k.B * k.C * k.D }

// Peak gives where the curve is highest, and how high. ok is false for a curve that
// has no peak: C of 1 or less, or E above 1 - 1/C² such that it never gets there
// within a hundred times its stiffness factor.
func (k Curve) Peak() (x, y float64, ok bool) {
	if k.C <= 1 || k.B <= 0 {
		return 0, 0, false
	}
	// The peak is where C times the arctangent is a right angle.
	want := math.Tan(math.Pi / (2 * k.C))
	inner := func(bx float64) float64 { return bx - k.E*(bx-math.Atan(bx)) }
	low, high := 0.0, 100.0
	if !(inner(high) >= want) {
		return 0, 0, false
	}
	for range 100 {
		mid := (low + high) / 2
		if inner(mid) < want {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2 / k.B, k.D, true
}

// Far gives the value that the curve tends to, D sin(Cπ/2): what is left of the
// peak when the tyre slides, for E below 1.
func (k Curve) Far() float64 { return k.D * math.Sin(k.C*math.Pi/2) }

// ShapeFactor gives C from the peak D and the value far beyond it, with the peak
// inside (C above 1).
func ShapeFactor(far, peak float64) float64 { return 2 - 2/math.Pi*math.Asin(far/peak) }

// CurvatureFactor gives E from B, C and the place xm of the peak.
func CurvatureFactor(b, c, xm float64) float64 {
	return (b*xm - math.Tan(math.Pi/(2*c))) / (b*xm - math.Atan(b*xm))
}
