package joint

import (
	"math"

	"example.org/bookend/stat/manyone/network"
	"example.org/bookend/stat/manyone/region"
)

// rangeTail gives P(range of g independent normals > q s), s on df degrees of
// freedom, and a bound on its relative error: the studentised range from its
// small side.
func rangeTail(g int, q, df float64) (value, rel float64) {
	tail := func(s float64) float64 {
		w := q * s
		h := 0.25
		sum := 0.0
		// z is the largest: density phi(z) Phi(z)^(g-1), and at least one of
		// the others below z-w.
		for j := -int(9 / h); j <= int((9+w)/h); j++ {
			z := float64(j) * h
			below := region.UpperPhi(-z)
			if below == 0 {
				continue
			}
			out := region.UpperPhi(w-z) / below
			if out >= 1 {
				sum += region.Phi(z) * math.Pow(below, float64(g-1))
				continue
			}
			sum += region.Phi(z) * math.Pow(below, float64(g-1)) * -math.Expm1(float64(g-1)*math.Log1p(-out))
		}
		return min(1, float64(g)*h*sum)
	}
	pairs := float64(g*(g-1)) / 2
	major := func(s float64) float64 { return min(1, 2*pairs*region.UpperPhi(q*s/math.Sqrt2)) }
	return region.OverScale(df, major, tail)
}

// standing makes the family of all pairs of g codes ready for codes of equal
// standing, exactly so or nearly.
func (p *Plan) standing(g int, pairs [][2]int) {
	even := make([][]float64, len(pairs))
	worst := 0.0
	for i, a := range pairs {
		even[i] = make([]float64, len(pairs))
		for j, b := range pairs {
			r := 0.0
			for _, s := range [4]struct {
				same bool
				sign float64
			}{{a[0] == b[0], 0.5}, {a[1] == b[1], 0.5}, {a[0] == b[1], -0.5}, {a[1] == b[0], -0.5}} {
				if s.same {
					r += s.sign
				}
			}
			even[i][j] = r
			worst = max(worst, math.Abs(r-p.r[i][j]))
		}
	}
	p.pairs = g
	switch {
	case worst <= network.FactorTol:
		p.Method = rangeOf
	case p.Method == lattice:
		p.even = even
	}
}

// PrepareAll makes the family of all pairs of g codes ready; pairs holds the
// two codes of each comparison.
func (f Family) PrepareAll(g int, pairs [][2]int) (*Plan, error) {
	p, err := f.prepare()
	if err != nil {
		return nil, err
	}
	if len(p.r) == len(pairs) && g > 3 {
		p.standing(g, pairs)
	}
	return p, nil
}
