package linear

import (
	"math"
	"slices"

	"example.org/bookend/fault"
	"example.org/bookend/stat/linear/twofold"
)

// Polynomial is a basis of polynomials that are orthogonal over given
// positions (run number, station, minutes; need not be evenly spaced, may
// repeat). Positions are first centred on the middle of their range and scaled
// to -1..1. Each polynomial has a positive leading coefficient and mean square
// 1 over the positions; the first is the constant 1. Three-term recurrence of
// Forsythe (1957).
type Polynomial struct {
	Middle, Half float64 // u = (position - Middle) / Half
	alpha, norm  []float64
	beta         []float64
}

// NewPolynomial makes the basis of degrees 0 to degree over the positions.
func NewPolynomial(position []float64, degree int) (*Polynomial, error) {
	if degree < 0 {
		return nil, fault.New(fault.Invalid, "a polynomial has no degree %d", degree)
	}
	distinct := slices.Clone(position)
	slices.Sort(distinct)
	distinct = slices.Compact(distinct)
	if len(distinct) <= degree {
		return nil, fault.New(fault.Invalid, "a polynomial of degree %d needs %d different positions, there are %d", degree, degree+1, len(distinct)).
			WithHint("take a lower degree")
	}
	for _, x := range position {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return nil, fault.New(fault.Invalid, "a position is not finite")
		}
	}
	lo, hi := distinct[0], distinct[len(distinct)-1]
	p := &Polynomial{Middle: lo + (hi-lo)/2, Half: (hi - lo) / 2}
	if p.Half == 0 {
		p.Half = 1
	}
	n := len(position)
	u := make([]twofold.Number, n)
	now, before := make([]twofold.Number, n), make([]twofold.Number, n)
	for i, x := range position {
		u[i] = twofold.Of(x).Sub(twofold.Of(p.Middle)).Div(twofold.Of(p.Half))
		now[i] = twofold.Of(1)
	}
	// Monic recurrence q(k+1) = (u - alpha_k) q(k) - beta_k q(k-1).
	square := twofold.Of(float64(n))
	for k := 0; ; k++ {
		p.norm = append(p.norm, square.Div(twofold.Of(float64(n))).Sqrt().Float())
		if k == degree {
			break
		}
		var uq twofold.Number
		for i := range u {
			uq = uq.Add(u[i].Mul(now[i]).Mul(now[i]))
		}
		alpha := uq.Div(square)
		var beta twofold.Number
		if k > 0 {
			beta = square.Div(twofold.Dot(before, before))
		}
		for i := range u {
			next := u[i].Sub(alpha).Mul(now[i]).Sub(beta.Mul(before[i]))
			before[i], now[i] = now[i], next
		}
		p.alpha = append(p.alpha, alpha.Float())
		p.beta = append(p.beta, beta.Float())
		square = twofold.Dot(now, now)
	}
	return p, nil
}

// Degree gives the highest degree of the basis.
func (p *Polynomial) Degree() int { return len(p.norm) - 1 }

// At gives the values of all polynomials, degree 0 first, at a position.
func (p *Polynomial) At(position float64) []float64 {
	u := (position - p.Middle) / p.Half
	out := make([]float64, len(p.norm))
	now, before := 1.0, 0.0
	for k := range out {
		out[k] = now / p.norm[k]
		if k < len(p.alpha) {
			now, before = (u-p.alpha[k])*now-p.beta[k]*before, now
		}
	}
	return out
}
