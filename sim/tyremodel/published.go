package tyremodel

import "math"

// Ellipse gives the lateral force in N that the friction ellipse leaves beside a
// longitudinal force in N: mu_y Fz sqrt(1 - (Fx / (mu_x Fz))²), 0 where that force
// is more than the tyre has. Handbook formula, docs/sources/vehicle-handbook.md.
func Ellipse(muX, muY, load, long float64) float64 {
	r := long / (muX * load)
	if !(r*r < 1) {
		return 0
	}
	return muY * load * math.Sqrt(1-r*r)
}

// Relax gives the slip (angle or share) that a contact has after a time dt in s,
// from its slip before and the slip that the wheel has now, at a speed in m/s and a
// relaxation length in m: (sigma/V) d(slip)/dt + slip = target, solved exactly for
// a target that holds still. Handbook formula, docs/sources/vehicle-handbook.md.
func Relax(slip, target, speed, sigma, dt float64) float64 {
	return target + (slip-target)*math.Exp(-speed*dt/sigma)
}

// Units of the formulas below, exact (NIST SP 811, appendix B).
const (
	mph  = 0.44704           // m/s
	psi  = 6894.757293168361 // Pa
	inch = 0.0254            // m
)

// HorneSpeed gives the speed in m/s at which a smooth or worn tyre floats on a
// flooded surface, by its pressure in Pa: 10.35 sqrt(p) mph, p in psi. Horne and
// Dreher, NASA TN D-2056 (1963), docs/sources/nasa-tn-d-2056.md.
func HorneSpeed(pressure float64) float64 { return 10.35 * math.Sqrt(pressure/psi) * mph }

// HorneFootprintSpeed is HorneSpeed for a footprint of a given width over length:
// 7.95 sqrt(p/(w/l)) mph. Horne 1986, docs/sources/horne-1986.md.
func HorneFootprintSpeed(pressure, widthByLength float64) float64 {
	return 7.95 * math.Sqrt(pressure/psi/widthByLength) * mph
}

// IveySpeed gives the speed in m/s at which a lightly loaded truck tyre floats, by
// pressure in Pa and footprint aspect ratio: 23.3 p^0.21 (1.4/FAR)^0.5 mph.
// Texas Transportation Institute, docs/sources/tti-hydroplaning.md.
func IveySpeed(pressure, aspect float64) float64 {
	return 23.3 * math.Pow(pressure/psi, 0.21) * math.Sqrt(1.4/aspect) * mph
}

// GallawaySpeed gives the speed in m/s at which a free-rolling wheel has spun down
// by a share: from pressure in Pa, tread depth, water depth and texture depth in m.
// Texas Transportation Institute, docs/sources/tti-hydroplaning.md. It is fitted to
// water that stands above the texture, and says nothing of a film.
func GallawaySpeed(spinDown, pressure, tread, water, texture float64) float64 {
	wd, txd := water/inch, texture/inch
	w := math.Pow(wd, 0.06)
	a := math.Max(10.409/w+3.507, (28.952/w-7.817)*math.Pow(txd, 0.14))
	return math.Pow(100*spinDown, 0.04) * math.Pow(pressure/psi, 0.3) * math.Pow(tread/inch*32+1, 0.06) * a * mph
}
