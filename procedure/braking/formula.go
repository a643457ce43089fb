package braking

import (
	"math"

	"example.org/bookend/fault"
)

// Gravity is the acceleration in m/s² by which a deceleration becomes a braking
// force coefficient: 9.81, as UN R117 Annex 5 writes it (from memory), not the
// standard acceleration 9.80665.
const Gravity = 9.81

// MFDD gives the mean fully developed deceleration in m/s² between two speeds in
// m/s and the distances in m from the start of braking at which they are reached:
// (vb² - ve²) / (2 (se - sb)). UN R13-H, 2.1 of Annex 3, writes it with speeds in
// km/h and 25.92 for 2 · 3.6² (from memory).
func MFDD(vb, ve, sb, se float64) (float64, error) {
	if !(vb > ve) || !(ve >= 0) || !(se > sb) {
		return 0, fault.New(fault.Invalid, "no deceleration from %g to %g m/s between %g and %g m", vb, ve, sb, se)
	}
	return (vb*vb - ve*ve) / (2 * (se - sb)), nil
}

// AverageDeceleration gives AD in m/s² of a distance in m covered between two
// speeds in m/s: |vf² - vi²| / (2 d), UN R117 Annex 7.
func AverageDeceleration(vi, vf, d float64) (float64, error) {
	if !(d > 0) {
		return 0, fault.New(fault.Invalid, "no deceleration over %g m", d)
	}
	return math.Abs(vf*vf-vi*vi) / (2 * d), nil
}

// ForceCoefficient gives the braking force coefficient of a deceleration in m/s²:
// AD / 9.81, UN R117 Annex 5 (from memory).
func ForceCoefficient(ad float64) float64 { return ad / Gravity }

// CorrectDistance gives a distance in m as it would have been between nominal speeds
// in m/s: d (n1² - n2²) / (v1² - v2²); to rest, n2 and v2 are 0. It holds for small
// deviations only, since the deceleration is taken as the same.
func CorrectDistance(d, v1, v2, n1, n2 float64) (float64, error) {
	if !(v1 > v2) || !(n1 > n2) || !(v2 >= 0) || !(n2 >= 0) {
		return 0, fault.New(fault.Invalid, "no correction from %g to %g m/s to %g to %g m/s", v1, v2, n1, n2)
	}
	return d * (n1*n1 - n2*n2) / (v1*v1 - v2*v2), nil
}
