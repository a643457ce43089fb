// Package cells gives the tail of comparisons of rank two and three by the
// directions in which one limit is met first: sectors of a plane by the angle,
// cells of a sphere by the azimuth, the radius in closed form.
//
// The formulas are derived where they stand from the distribution of the
// radius of a multivariate t. Units: pure numbers, limits in standard errors.
// Limits: the plane is exact to rounding, the sphere to about 1e-11 and for
// limits above zero only.
package cells

import (
	"math"
	"slices"

	"example.org/bookend/stat/manyone/region"
)

// PlaneTail gives the tail for comparisons Z_i = l_i1 y_1 + l_i2 y_2. In polar
// coordinates the radius over s has P(R > x) = (1 + x^2/df)^(-df/2), so that
// one integral over the angle is left; between the angles at which another
// limit takes over it is smooth.
func PlaneTail(l [][]float64, b region.Box, df float64) float64 {
	type half struct{ x, y, c float64 } // x cos + y sin, times radius, <= c
	var hs []half
	for i := range l {
		x, y := l[i][0], 0.0
		if len(l[i]) > 1 {
			y = l[i][1]
		}
		if !math.IsInf(b.Hi[i], 1) {
			hs = append(hs, half{x, y, b.Hi[i]})
		}
		if !math.IsInf(b.Lo[i], 1) {
			hs = append(hs, half{-x, -y, b.Lo[i]})
		}
	}
	cuts := []float64{0, 2 * math.Pi}
	add := func(x, y float64) { // both angles at right angles to (x, y)
		if x == 0 && y == 0 {
			return
		}
		a := math.Atan2(x, -y)
		for _, v := range [2]float64{a, a + math.Pi} {
			if v < 0 {
				v += 2 * math.Pi
			}
			if v >= 2*math.Pi {
				v -= 2 * math.Pi
			}
			cuts = append(cuts, v)
		}
	}
	for i, h := range hs {
		add(h.x, h.y)
		// A small limit is met within a small angle of this.
		base := math.Atan2(h.x, -h.y)
		for _, far := range [5]float64{0.25, 1, 2.5, 5, 10} {
			if d := math.Abs(h.c) / far; d < math.Pi/8 {
				for _, v := range [4]float64{base - d, base + d, base + math.Pi - d, base + math.Pi + d} {
					cuts = append(cuts, math.Mod(v+4*math.Pi, 2*math.Pi))
				}
			}
		}
		for _, g := range hs[:i] {
			add(h.x*g.c-g.x*h.c, h.y*g.c-g.y*h.c)
		}
	}
	for i := 1; i < 16; i++ {
		cuts = append(cuts, float64(i)*math.Pi/8)
	}
	slices.Sort(cuts)
	survive := func(x float64) float64 { // P(R/s > x)
		if math.IsInf(df, 1) {
			return math.Exp(-x * x / 2)
		}
		return math.Exp(-df / 2 * math.Log1p(x*x/df))
	}
	at := func(a float64) float64 {
		sin, cos := math.Sincos(a)
		near, far := 0.0, math.Inf(1) // inside for near <= radius <= far
		for _, h := range hs {
			v := h.x*cos + h.y*sin
			switch {
			case v > 0:
				far = min(far, h.c/v)
			case v < 0:
				near = max(near, h.c/v)
			case h.c < 0:
				return 1
			}
		}
		if far <= near {
			return 1
		}
		q := 0.0
		if !math.IsInf(far, 1) {
			q = survive(far)
		}
		if near > 0 {
			q += -math.Expm1(math.Log(survive(near)))
		}
		return q
	}
	x := region.Legendre(20)
	sum := 0.0
	for i := 1; i < len(cuts); i++ {
		w := (cuts[i] - cuts[i-1]) / 2
		if w <= 1e-15 {
			continue
		}
		mid, part := cuts[i-1]+w, 0.0
		for _, n := range x {
			part += n.W * at(mid+w*n.X)
		}
		sum += w * part
	}
	return sum / (2 * math.Pi)
}
