package tyremodel

import "math"

// Set1987 is the tyre of Bakker, Nyborg and Pacejka, SAE 870421 (1987),
// docs/sources/bakker-1987.md, with its printed coefficients. Loads are in kN, slip
// angles in degrees and slips in per cent, as there, forces in N and torques in
// N·m; forces are positive for positive slips.
type Set1987 struct{}

// Lateral gives lateral force in N against the slip angle in degrees at a load in kN.
func (Set1987) Lateral(loadkN float64) Curve {
	f := loadkN
	k := Curve{C: 1.30, D: -22.1*f*f + 1011*f, E: -0.354*f + 0.707}
	k.B = 1078 * math.Sin(1.82*math.Atan(0.208*f)) / (k.C * k.D)
	return k
}

// Longitudinal gives longitudinal force in N against the slip in per cent at a load
// in kN.
func (Set1987) Longitudinal(loadkN float64) Curve {
	return of1987(1.65, [8]float64{-21.3, 1144, 49.6, 226, 0.069, -0.006, 0.056, 0.486}, loadkN)
}

// Aligning gives the self-aligning torque in N·m against the slip angle in degrees
// at a load in kN.
func (Set1987) Aligning(loadkN float64) Curve {
	return of1987(2.40, [8]float64{-2.72, -2.28, -1.86, -2.73, 0.110, -0.070, 0.643, -4.04}, loadkN)
}

// of1987 is the form that longitudinal force and aligning torque share.
func of1987(c float64, a [8]float64, f float64) Curve {
	k := Curve{C: c, D: a[0]*f*f + a[1]*f, E: a[5]*f*f + a[6]*f + a[7]}
	k.B = (a[2]*f*f + a[3]*f) / math.Exp(a[4]*f) / (k.C * k.D)
	return k
}
