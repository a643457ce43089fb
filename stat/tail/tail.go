// Package tail gives the upper tails and the upper points of the four
// distributions that every test rests on: normal, Student's t, F and
// chi-square; and of the noncentral t.
//
// In the trade this is where a p-value and a coverage factor come from. Tails
// are computed as tails, never as one minus something, so that a p-value of
// 1e-12 keeps its digits. Degrees of freedom may be fractional, and math.Inf(1)
// stands for a scatter taken as known.
//
// Source: Abramowitz and Stegun, Handbook of Mathematical Functions (1964),
// 26.4 to 26.7 (relations to the incomplete beta and gamma functions); the
// functions themselves are gonum's. Limits: tails are good to 1e-12 relative
// for up to 1e3 degrees of freedom and to 1e-8 beyond; the noncentral t wants
// at least one degree of freedom.
package tail

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mathext"
)

// large is the number of degrees of freedom from which t is taken as normal
// and F as chi-square: the difference of the tails is then of the order of
// 1/(4 df) of the Cornish-Fisher expansion (Abramowitz and Stegun
// 26.7.5).
const large = 1e10

// Normal gives P(Z > z) of the standard normal.
func Normal(z float64) float64 { return 0.5 * math.Erfc(z/math.Sqrt2) }

// NormalPoint gives the z with P(Z > z) = p, 0 < p < 1.
func NormalPoint(p float64) float64 {
	if p > 0.5 {
		return -NormalPoint(1 - p)
	}
	z := math.Sqrt2 * math.Erfcinv(2*p)
	if math.IsInf(z, 0) {
		return z
	}
	// One Newton step on the tail, whose density is exact.
	d := math.Exp(-0.5*z*z) / math.Sqrt(2*math.Pi)
	if d > 0 {
		z += (Normal(z) - p) / d
	}
	return z
}

// T gives P(T > t) of Student's t with df degrees of freedom.
func T(t, df float64) float64 {
	if df >= large {
		return Normal(t)
	}
	if t < 0 {
		return 1 - T(-t, df)
	}
	if math.IsInf(t, 1) {
		return 0
	}
	t2 := t * t
	if t2 < df {
		return 0.5 - 0.5*mathext.RegIncBeta(0.5, 0.5*df, t2/(df+t2))
	}
	return 0.5 * mathext.RegIncBeta(0.5*df, 0.5, df/(df+t2))
}

// TwoSidedT gives P(|T| > |t|) of Student's t with df degrees of freedom.
func TwoSidedT(t, df float64) float64 {
	t = math.Abs(t)
	if t*t < 0.1*df && df < large {
		return 1 - mathext.RegIncBeta(0.5, 0.5*df, t*t/(df+t*t))
	}
	return 2 * T(t, df)
}

// TPoint gives the t with P(T > t) = p of Student's t, 0 < p < 1.
func TPoint(p, df float64) float64 {
	switch {
	case df >= large:
		return NormalPoint(p)
	case p == 0.5:
		return 0
	case p > 0.5:
		return -TPoint(1-p, df)
	}
	lg1, _ := math.Lgamma((df + 1) / 2)
	lg2, _ := math.Lgamma(df / 2)
	logc := lg1 - lg2 - 0.5*math.Log(df*math.Pi)
	density := func(t float64) float64 { return math.Exp(logc - (df+1)/2*math.Log1p(t*t/df)) }
	return point(func(t float64) float64 { return T(t, df) }, density, p)
}

// F gives P(F > f) with d1 and d2 degrees of freedom.
func F(f, d1, d2 float64) float64 {
	switch {
	case f <= 0:
		return 1
	case math.IsInf(f, 1):
		return 0
	case d2 >= large:
		return Chi2(d1*f, d1)
	case d1 >= large:
		return 1 - Chi2(d2/f, d2)
	}
	return mathext.RegIncBeta(0.5*d2, 0.5*d1, d2/(d2+d1*f))
}

// FPoint gives the f with P(F > f) = p, 0 < p < 1, with d1 and d2 degrees of
// freedom.
func FPoint(p, d1, d2 float64) float64 {
	switch {
	case d2 >= large && d1 >= large:
		return 1
	case d2 >= large:
		return Chi2Point(p, d1) / d1
	case d1 >= large:
		return d2 / Chi2Point(1-p, d2)
	}
	lb := mathext.Lbeta(d1/2, d2/2)
	density := func(f float64) float64 {
		return math.Exp(0.5*(d1*math.Log(d1*f)+d2*math.Log(d2)-(d1+d2)*math.Log(d1*f+d2)) - math.Log(f) - lb)
	}
	return point(func(f float64) float64 { return F(f, d1, d2) }, density, p)
}

// Chi2 gives P(X > x) of chi-square with df degrees of freedom.
func Chi2(x, df float64) float64 {
	if x <= 0 {
		return 1
	}
	if math.IsInf(x, 1) {
		return 0
	}
	return mathext.GammaIncRegComp(0.5*df, 0.5*x)
}

// Chi2Point gives the x with P(X > x) = p, 0 < p < 1, of chi-square with df
// degrees of freedom.
func Chi2Point(p, df float64) float64 {
	lg, _ := math.Lgamma(df / 2)
	density := func(x float64) float64 {
		return math.Exp((df/2-1)*math.Log(x) - x/2 - df/2*math.Ln2 - lg)
	}
	return point(func(x float64) float64 { return Chi2(x, df) }, density, p)
}

// point solves upper(x) = p for x > 0, where upper falls from its value at 0
// to 0: bracketing by doubling, bisection on the logarithm until the bracket
// is narrow, then Newton steps kept within it.
func point(upper, density func(float64) float64, p float64) float64 {
	lo, hi := 0.5, 2.0
	for upper(hi) > p && hi < 1e300 {
		lo, hi = hi, hi*4
	}
	for upper(lo) < p && lo > 1e-300 {
		lo, hi = lo/4, lo
	}
	x := math.Sqrt(lo * hi)
	for range 200 {
		u := upper(x)
		if u > p {
			lo = x
		} else {
			hi = x
		}
		next := x
		if d := density(x); d > 0 && !math.IsInf(d, 0) {
			next = x + (u-p)/d
		}
		if !(next > lo && next < hi) || next == x {
			next = math.Sqrt(lo) * math.Sqrt(hi)
		} else if math.Abs(next-x) <= 1e-9*x {
			return next // Newton squares what is left: beyond this is the tail's own rounding
		}
		if math.Abs(next-x) <= 1e-15*x || hi-lo <= 4e-16*hi {
			return next
		}
		x = next
	}
	return x
}

// NoncentralT gives P(T > t) of the noncentral t with df degrees of freedom
// and noncentrality delta, t > 0, to about 1e-12 absolute: the integral over
// the normal numerator of the chi-square tail, which stays smooth for the
// noncentralities of several hundred that a coefficient of variation of half
// a percent brings.
func NoncentralT(t, df, delta float64) float64 {
	if df >= large {
		return Normal(t - delta)
	}
	// T > t when Z + delta > t S: certainly not when Z + delta <= 0.
	below := func(z float64) float64 { // P(S < (z + delta)/t)
		s := (z + delta) / t
		if s <= 0 {
			return 0
		}
		return mathext.GammaIncReg(0.5*df, 0.5*df*s*s)
	}
	const reach = 9.0 // the normal beyond 9 holds 2e-19
	from := math.Max(-reach, -delta)
	if from >= reach {
		return 0
	}
	const pieces, nodes = 24, 24
	width := (reach - from) / pieces
	sum := 0.0
	for i := range pieces {
		a := from + float64(i)*width
		sum += quad.Fixed(func(z float64) float64 {
			return math.Exp(-0.5*z*z) / math.Sqrt(2*math.Pi) * below(z)
		}, a, a+width, nodes, quad.Legendre{}, 1)
	}
	return math.Min(1, sum)
}
