package twofold_test

import (
	"math/big"
	"math/rand/v2"
	"testing"

	"example.org/bookend/stat/linear/twofold"
)

// Against math/big, of the standard library, with 400 bits: each result is within
// 2^-98 of the exact one, relative to the operands' sizes for sums.
func TestAgainstExactNumbers(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 11))
	exact := func(a twofold.Number) *big.Float {
		return new(big.Float).SetPrec(400).Add(new(big.Float).SetPrec(400).SetFloat64(a.Hi), new(big.Float).SetPrec(400).SetFloat64(a.Lo))
	}
	limit := new(big.Float).SetMantExp(big.NewFloat(1), -98)
	near := func(what string, got twofold.Number, want, size *big.Float) {
		t.Helper()
		d := new(big.Float).SetPrec(400).Sub(exact(got), want)
		if d.Abs(d).Cmp(new(big.Float).SetPrec(400).Mul(limit, new(big.Float).Abs(size))) > 0 {
			t.Errorf("%s: %v, off by %v", what, got, d)
		}
	}
	number := func() twofold.Number {
		return twofold.Of(rng.NormFloat64()).Add(twofold.Of(1e-17 * rng.NormFloat64()))
	}
	big400 := func() *big.Float { return new(big.Float).SetPrec(400) }
	for range 2000 {
		a, b := number(), number()
		x, y := exact(a), exact(b)
		size := big400().Add(big400().Abs(x), big400().Abs(y))
		near("a + b", a.Add(b), big400().Add(x, y), size)
		near("a - b", a.Sub(b), big400().Sub(x, y), size)
		near("a b", a.Mul(b), big400().Mul(x, y), big400().Mul(x, y))
		near("a / b", a.Div(b), big400().Quo(x, y), big400().Quo(x, y))
		square := a.Mul(a)
		root := big400().Sqrt(exact(square))
		near("root", square.Sqrt(), root, root)
	}
}
