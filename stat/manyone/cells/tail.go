package cells

import (
	"math"

	"example.org/bookend/stat/manyone/region"
)

// tilted is 2 x P(T > c/x) for 0 <= x <= 1, by Chebyshev polynomials in parts that
// are halved until their last terms are rounding beside its value at 1: a sphere
// asks for it thousands of times, and an incomplete beta function takes ten times
// as long. A part that stays rough, as the one at 0 may for broken degrees of
// freedom, is asked the long way.
type tilted struct {
	c, df float64
	whole float64 // at x = 1, where it is largest
	parts []tiltedPart
}

type tiltedPart struct {
	from, to float64
	rough    bool
	terms    [tiltedTerms]float64
}

// A part has so many terms and is halved no more often than this, and its last terms
// are to be so small: limits from 0.3 to 10 on two degrees of freedom and more
// need one to six parts. Own choice; cells_test holds what it leaves.
const (
	tiltedTerms  = 20
	tiltedHalved = 7
	tiltedTol    = 1e-13
)

func newTilted(c, df float64) *tilted {
	t := &tilted{c: c, df: df}
	t.whole = t.straight(1)
	t.add(0, 1, 0)
	return t
}

// straight gives the function itself.
func (t *tilted) straight(x float64) float64 {
	if x <= 0 {
		return 0
	}
	return 2 * x * region.UpperT(t.c/x, t.df)
}

func (t *tilted) add(from, to float64, halved int) {
	p := tiltedPart{from: from, to: to}
	const angle = math.Pi / tiltedTerms
	for j := range tiltedTerms {
		v := t.straight((from+to)/2+(to-from)/2*math.Cos(angle*(float64(j)+0.5))) * 2 / tiltedTerms
		for k := range p.terms {
			p.terms[k] += v * math.Cos(angle*float64(k)*(float64(j)+0.5))
		}
	}
	p.terms[0] /= 2
	last := max(math.Abs(p.terms[tiltedTerms-1]), math.Abs(p.terms[tiltedTerms-2]))
	if last > tiltedTol*t.whole {
		if halved < tiltedHalved {
			mid := (from + to) / 2
			t.add(from, mid, halved+1)
			t.add(mid, to, halved+1)
			return
		}
		p.rough = true
	}
	t.parts = append(t.parts, p)
}

func (t *tilted) at(x float64) float64 {
	if x <= 0 {
		return 0
	}
	k := len(t.parts) - 1
	for k > 0 && x < t.parts[k].from {
		k--
	}
	p := &t.parts[k]
	if p.rough {
		return t.straight(x)
	}
	u := 2 * (2*(x-p.from)/(p.to-p.from) - 1)
	b1, b2 := 0.0, 0.0
	for k := tiltedTerms - 1; k > 0; k-- {
		b1, b2 = u*b1-b2+p.terms[k], b1
	}
	return u/2*b1 - b2 + p.terms[0]
}
