package linear

import (
	"math"
	"slices"

	"example.org/bookend/fault"
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
	u := make([]twofold, n)
	now, before := make([]twofold, n), make([]twofold, n)
	for i, x := range position {
		u[i] = two(x).sub(two(p.Middle)).div(two(p.Half))
		now[i] = two(1)
	}
	// Monic recurrence q(k+1) = (u - alpha_k) q(k) - beta_k q(k-1).
	square := two(float64(n))
	for k := 0; ; k++ {
		p.norm = append(p.norm, square.div(two(float64(n))).sqrt().float())
		if k == degree {
			break
		}
		var uq twofold
		for i := range u {
			uq = uq.add(u[i].mul(now[i]).mul(now[i]))
		}
		alpha := uq.div(square)
		var beta twofold
		if k > 0 {
			beta = square.div(dotTwofold(before, before))
		}
		for i := range u {
			next := u[i].sub(alpha).mul(now[i]).sub(beta.mul(before[i]))
			before[i], now[i] = now[i], next
		}
		p.alpha = append(p.alpha, alpha.float())
		p.beta = append(p.beta, beta.float())
		square = dotTwofold(now, now)
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
