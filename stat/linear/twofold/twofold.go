// Package twofold reckons with numbers of about 31 digits: a value is the sum of
// two float64, so that a straight line through a hundred runs loses nothing to
// rounding.
//
// The algorithms are those of Dekker, Numerische Mathematik 18 (1971) 224, and of
// Knuth, as collected by Hida, Li and Bailey (2001; from memory); sums stand apart
// from products, so that no compiler fuses what must be rounded. Numbers have no
// unit. Limits: the range is that of a float64, and what is nearer to zero than
// 2^-969 has fewer digits.
package twofold

import "math"

// Number is an unevaluated sum Hi + Lo of two float64 with |Lo| at most half a
// unit in the last place of Hi.
type Number struct{ Hi, Lo float64 }

// Of gives a float64 as it is.
func Of(x float64) Number { return Number{x, 0} }

// Float gives the nearest float64.
func (a Number) Float() float64 { return a.Hi }

func quickTwoSum(a, b float64) Number {
	s := a + b
	return Number{s, b - (s - a)}
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

// Add gives a + b.
func (a Number) Add(b Number) Number {
	s1, s2 := twoSum(a.Hi, b.Hi)
	t1, t2 := twoSum(a.Lo, b.Lo)
	s2 += t1
	r := quickTwoSum(s1, s2)
	return quickTwoSum(r.Hi, r.Lo+t2)
}

// Neg gives -a.
func (a Number) Neg() Number { return Number{-a.Hi, -a.Lo} }

// Sub gives a - b.
func (a Number) Sub(b Number) Number { return a.Add(b.Neg()) }

// Mul gives a b.
func (a Number) Mul(b Number) Number {
	p, e := twoProduct(a.Hi, b.Hi)
	cross := float64(a.Hi*b.Lo) + float64(a.Lo*b.Hi)
	return quickTwoSum(p, e+cross)
}

// Div gives a / b; b is not zero.
func (a Number) Div(b Number) Number {
	q1 := a.Hi / b.Hi
	r := a.Sub(b.Mul(Of(q1)))
	q2 := r.Hi / b.Hi
	r = r.Sub(b.Mul(Of(q2)))
	q3 := r.Hi / b.Hi
	return quickTwoSum(q1, q2).Add(Of(q3))
}

// Sqrt gives the square root of a; 0 where a is not above it.
func (a Number) Sqrt() Number {
	if a.Hi <= 0 {
		return Number{}
	}
	x := math.Sqrt(a.Hi)
	p, e := twoProduct(x, x)
	rest := a.Sub(Number{p, e})
	return quickTwoSum(x, rest.Hi/(2*x))
}

// Dot gives the sum of the products of two lists of one length, in their order.
func Dot(a, b []Number) Number {
	var s Number
	for i, x := range a {
		s = s.Add(x.Mul(b[i]))
	}
	return s
}
