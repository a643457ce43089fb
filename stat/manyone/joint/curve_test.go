package joint

import (
	"math"
	"slices"
	"testing"

	"example.org/bookend/stat/manyone/network"
)

// brackets gives the correlations of the candidates of an order, each stint
// against the control interpolated between its neighbours: 1 + w1^2 + w2^2 and
// what the shared control stints bring, by the weights themselves.
func brackets(order string) [][]float64 {
	var codes []byte
	for i := range order {
		if c := order[i]; c != 'K' && !slices.Contains(codes, c) {
			codes = append(codes, c)
		}
	}
	w := make([][]float64, len(codes))
	for k, code := range codes {
		w[k] = make([]float64, len(order))
		for i := range order {
			if order[i] != code {
				continue
			}
			before, after := i, i
			for order[before] != 'K' {
				before--
			}
			for order[after] != 'K' {
				after++
			}
			t := float64(i-before) / float64(after-before)
			w[k][i]++
			w[k][before] -= 1 - t
			w[k][after] -= t
		}
	}
	r := make([][]float64, len(codes))
	dot := func(a, b []float64) (s float64) {
		for i := range a {
			s += a[i] * b[i]
		}
		return s
	}
	for i := range r {
		r[i] = make([]float64, len(codes))
		for j := range r[i] {
			r[i][j] = dot(w[i], w[j]) / math.Sqrt(dot(w[i], w[i])*dot(w[j], w[j]))
		}
		r[i][i] = 1
	}
	return r
}

// A tail by its curve is the tail integrated directly, and what remembers
// earlier calls gives the bits of what does not.
func TestCurveIsDirect(t *testing.T) {
	worst := map[string]float64{}
	families := [][][]float64{
		Product([]float64{0.7, 0.6, -0.5, 0.2}), Product(alike(8, math.Sqrt(0.5))), Product([]float64{0.99, 0.9}),
		brackets("KABKCDK"), brackets("KABKCDKEFKFEKDCKBAK"), brackets("KAKBKCKDKEKFK"),
	}
	for _, r := range families {
		for _, sided := range []Sided{TwoSided, Upper} {
			for _, df := range []float64{1, 3, 12.5, math.Inf(1)} {
				f := Family{Corr: r, DF: df, Sided: sided}
				for _, c := range []float64{0.05, 0.7, 2.2, 3.1, 5.5} {
					p, err := f.prepare()
					ok(t, err)
					if p.Curve == nil {
						t.Fatalf("%v is computed by %s without a curve", r, p.Method)
					}
					b := p.box(alike(len(r), c))
					var want float64
					tol := network.FactorsRel
					if p.Method == network.OneFactor {
						want, _ = network.FactorTail(p.lambda, b, df)
						tol = 1e-11 // of one factor
					} else {
						want, _ = network.FactorsTail(p.load, b, df)
					}
					got := p.outside(b)
					e := math.Abs(got.P-want) / want
					worst[p.Method] = max(worst[p.Method], e)
					if got.P > negligible && (e > tol || math.Abs(got.P-want) > got.Error+1e-14*want) {
						t.Errorf("%d by %s df %v %v c %v: %v, directly %v (%.1e)", len(r), p.Method, df, sided, c, got.P, want, e)
					}
				}
			}
		}
	}
	t.Log("largest relative differences: ", worst)
	r := brackets("KABKCDKBAK")
	for _, c := range []float64{4, 0.3, 2} {
		f, err := Family{Corr: r, DF: 4}.fresh()
		ok(t, err)
		again, err := Family{Corr: r, DF: 4}.Tail(c)
		ok(t, err)
		if p := f.TailAll(c); p != again {
			t.Errorf("c %v: %v at first, %v later", c, p, again)
		}
	}
}

// BenchmarkBrackets is a critical value and six p-values of a family that was
// not met before.
func BenchmarkBrackets(b *testing.B) {
	for _, order := range []string{"KABKCDKDCKBAK", "KABCKDEKEDKCBAK", "KABKCDKEFKFEKDCKBAK", "KABCKDEFKFEDKCBAK", "KABKCDKEFKGHK"} {
		r := brackets(order)
		b.Run(order, func(b *testing.B) {
			for b.Loop() {
				p, err := Family{Corr: r, DF: 9}.fresh()
				if err != nil {
					b.Fatal(err)
				}
				_, _, _ = p.Critical(0.05)
				for i := range r {
					p.TailAll(1.5 + 0.4*float64(i))
				}
			}
		})
	}
}
