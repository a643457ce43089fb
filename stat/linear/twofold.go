package linear

import "math"

// twofold is an unevaluated sum hi + lo of two float64 with |lo| at most half a
// unit in the last place of hi: about 31 digits. The algorithms are those of
// Dekker (1971) and Knuth, as collected by Hida, Li and Bailey (2001); sums
// stand apart from products, so that no compiler fuses what must be rounded.
type twofold struct{ hi, lo float64 }

func two(x float64) twofold { return twofold{x, 0} }

// float gives the nearest float64.
func (a twofold) float() float64 { return a.hi }

func quickTwoSum(a, b float64) twofold {
	s := a + b
	return twofold{s, b - (s - a)}
}

func twoSum(a, b float64) (s, e float64) {
	s = a + b
	v := s - a
	return s, (a - (s - v)) + (b - v)
}

func twoProduct(a, b float64) (p, e float64) {
	p = float64(a * b)
	return p, math.FMA(a, b, -p)
}

func (a twofold) add(b twofold) twofold {
	s1, s2 := twoSum(a.hi, b.hi)
	t1, t2 := twoSum(a.lo, b.lo)
	s2 += t1
	r := quickTwoSum(s1, s2)
	return quickTwoSum(r.hi, r.lo+t2)
}

func (a twofold) neg() twofold          { return twofold{-a.hi, -a.lo} }
func (a twofold) sub(b twofold) twofold { return a.add(b.neg()) }

func (a twofold) mul(b twofold) twofold {
	p, e := twoProduct(a.hi, b.hi)
	cross := float64(a.hi*b.lo) + float64(a.lo*b.hi)
	return quickTwoSum(p, e+cross)
}

func (a twofold) div(b twofold) twofold {
	q1 := a.hi / b.hi
	r := a.sub(b.mul(two(q1)))
	q2 := r.hi / b.hi
	r = r.sub(b.mul(two(q2)))
	q3 := r.hi / b.hi
	return quickTwoSum(q1, q2).add(two(q3))
}

func (a twofold) sqrt() twofold {
	if a.hi <= 0 {
		return twofold{}
	}
	x := math.Sqrt(a.hi)
	p, e := twoProduct(x, x)
	rest := a.sub(twofold{p, e})
	return quickTwoSum(x, rest.hi/(2*x))
}

func dotTwofold(a, b []twofold) twofold {
	var s twofold
	for i, x := range a {
		s = s.add(x.mul(b[i]))
	}
	return s
}
