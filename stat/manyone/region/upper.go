package region

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Phi gives the density of the standard normal at z.
func Phi(z float64) float64 {
	return math.Exp(-z*z/2) * (1 / math.Sqrt(2*math.Pi))
}

// Solve finds the zero of a falling function between low and high: value,
// slope there, and the function's own error there.
func Solve(g func(float64) (float64, float64), low, high float64) (c, slope, e float64) {
	gl, _ := g(low)
	gh, _ := g(high)
	a, b, ga, gb := low, high, gl, gh
	if ga <= 0 {
		return a, (gb - ga) / (b - a), 0
	}
	if gb >= 0 {
		return b, (gb - ga) / (b - a), 0
	}
	c0, g0, c1, g1 := a, ga, b, gb
	slope = (gb - ga) / (b - a)
	for range 60 {
		x := c1 - g1*(c1-c0)/(g1-g0)
		if !(x > a && x < b) {
			x = a + (b-a)/2
		}
		gx, ex := g(x)
		if x != c1 && gx != g1 {
			slope = (gx - g1) / (x - c1)
		}
		if gx > 0 {
			a = x
		} else {
			b = x
		}
		c0, g0, c1, g1 = c1, g1, x, gx
		// Secant converges at order 1.6: a step of 1e-8 leaves about 1e-13.
		if e = ex; gx == 0 || math.Abs(c1-c0) < 1e-8*(1+math.Abs(c1)) && math.Abs(gx/slope) < 1e-12*(1+math.Abs(c1)) || b-a < 1e-14*(1+math.Abs(b)) {
			break
		}
	}
	return c1, slope, e
}

// UpperPhi gives P(Z > x) for the standard normal.
func UpperPhi(x float64) float64 { return 0.5 * math.Erfc(x*(1/math.Sqrt2)) }

// UpperT gives P(T > t) with df degrees of freedom; small values keep their
// digits.
func UpperT(t, df float64) float64 {
	if math.IsInf(df, 1) {
		return UpperPhi(t)
	}
	switch {
	case math.IsInf(t, 1):
		return 0
	case math.IsInf(t, -1):
		return 1
	case t == 0:
		return 0.5
	}
	// For |t| small beside sqrt(df) the complement is the accurate side.
	var half float64
	if x := t * t; x < df {
		half = 0.5 * (1 - mathext.RegIncBeta(0.5, df/2, x/(df+x)))
	} else {
		half = 0.5 * mathext.RegIncBeta(df/2, 0.5, df/(df+x))
	}
	if x := t * t; x < df && half < 0.01 {
		half = 0.5 * mathext.RegIncBeta(df/2, 0.5, df/(df+x))
	}
	if t < 0 {
		return 1 - half
	}
	return half
}

// QuantileT gives t with P(T > t) = p.
func QuantileT(p, df float64) float64 {
	switch {
	case p == 0.5:
		return 0
	case p > 0.5:
		return -QuantileT(1-p, df)
	case math.IsInf(df, 1):
		return -math.Sqrt2 * math.Erfinv(2*p-1)
	}
	// Newton in log P from the normal value, which lies below.
	low, high := 0.0, 1.0
	for UpperT(high, df) > p {
		low, high = high, high*2
		if math.IsInf(high, 1) {
			return math.MaxFloat64
		}
	}
	g := func(t float64) (float64, float64) { return math.Log(UpperT(t, df)) - math.Log(p), 0 }
	t, _, _ := Solve(g, low, high)
	return t
}
