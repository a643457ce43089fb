package tyremodel

import "math"

// Set2020 is the tyre of the CommonRoad vehicle models, version 2020a, table 7: a
// subset of the later Magic Formula, docs/sources/commonroad-2020a.md. Its shifts,
// camber terms and the ply steer under braking are set to zero here. All are
// without unit.
type Set2020 struct {
	LatShape, LatPeak, LatCurvature, LatStiffness     float64 // p_Cy1, p_Dy1, p_Ey1, p_Ky1
	LongShape, LongPeak, LongCurvature, LongStiffness float64 // p_Cx1, p_Dx1, p_Ex1, p_Kx1
	// Weights of combined slip.
	BrakedB1, BrakedB2, BrakedC    float64 // lateral force under slip: r_By1, r_By2, r_Cy1
	SteeredB1, SteeredB2, SteeredC float64 // longitudinal force under slip angle: r_Bx1, r_Bx2, r_Cx1
}

// CommonRoad gives the printed coefficients.
func CommonRoad() Set2020 {
	return Set2020{
		LatShape: 1.3507, LatPeak: 1.0489, LatCurvature: -0.0074722, LatStiffness: -21.92,
		LongShape: 1.6411, LongPeak: 1.1739, LongCurvature: 0.464, LongStiffness: 22.303,
		BrakedB1: 7.1433, BrakedB2: 9.1916, BrakedC: 1.0719,
		SteeredB1: 13.276, SteeredB2: -13.778, SteeredC: 1.2568,
	}
}

// Lateral gives the size of the lateral force in N against the slip angle in rad, at
// a load in N.
func (s Set2020) Lateral(load float64) Curve {
	k := Curve{C: s.LatShape, D: s.LatPeak * load, E: s.LatCurvature}
	k.B = math.Abs(s.LatStiffness) * load / (k.C * k.D)
	return k
}

// Longitudinal gives the longitudinal force in N against the slip, at a load in N.
func (s Set2020) Longitudinal(load float64) Curve {
	k := Curve{C: s.LongShape, D: s.LongPeak * load, E: s.LongCurvature}
	k.B = s.LongStiffness * load / (k.C * k.D)
	return k
}

// Weights gives what is left of the longitudinal force beside a slip angle in rad,
// and of the lateral force beside a slip: cosines of the Magic Formula's form, 1
// where there is none of the other slip.
func (s Set2020) Weights(angle, slip float64) (long, lat float64) {
	bx := s.SteeredB1 / math.Hypot(1, s.SteeredB2*slip) // cos(atan z) = 1/sqrt(1+z²)
	by := s.BrakedB1 / math.Hypot(1, s.BrakedB2*angle)
	return math.Cos(s.SteeredC * math.Atan(bx*angle)), math.Cos(s.BrakedC * math.Atan(by*slip))
}
