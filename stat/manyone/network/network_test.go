package network

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"example.org/bookend/stat/manyone/region"
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

// Brackets in a row hang together by their shared control alone, so that the
// points of one factor count squared, however many candidates there are; and
// twice as fine a grid gives the same.
func TestBracketsAreChains(t *testing.T) {
	for _, order := range []string{"KABKCDKDCKBAK", "KAKBKCKDKEKFK", "KABKCDKEFKFEKDCKBAK", "KABKCDKEFKGHKHGKFEKDCKBAK", "KABCKDEFKGHIKJK"} {
		r := brackets(order)
		_, exact, net := Cheapest(r)
		if !exact {
			t.Fatalf("%s: no factors", order)
		}
		unit := region.Box{Lo: make([]float64, len(r)), Hi: make([]float64, len(r))}
		for i := range r {
			unit.Lo[i], unit.Hi[i] = 1, 1
		}
		for f, l := range net.levels {
			if len(l.dep) > 1 {
				t.Errorf("%s: factor %d rests on %v", order, f, l.dep)
			}
		}
		n := net.within(unit)
		h, rel := n.step(2.5)
		for _, x := range []float64{0.4, 2, 4, 6.5} {
			got := n.tail(x, h, 0)
			past := n.past
			n.past = 90
			want := n.tail(x, h/2, 0)
			n.past = past
			if e := math.Abs(got/want - 1); e > 5e-10 || rel > 3e-10 {
				t.Errorf("%s at %v: %v, finer %v (%.1e, bound %.1e)", order, x, got, want, e, rel)
			}
		}
	}
}

// Correlations made of so many factors never look as if they needed more (analytic:
// Weyl's inequality), and twelve candidates in brackets need more than four, so that
// nobody looks for four.
func TestLeastFactors(t *testing.T) {
	rng := rand.New(rand.NewPCG(26, 5))
	for range 200 {
		k, m := 3+rng.IntN(10), 1+rng.IntN(4)
		r := make([][]float64, k)
		load := make([][]float64, k)
		for i := range load {
			load[i] = make([]float64, m)
			for f := range load[i] {
				load[i][f] = rng.NormFloat64() / math.Sqrt(float64(2*m))
			}
		}
		for i := range r {
			r[i] = make([]float64, k)
			for j := range r[i] {
				for f := range m {
					r[i][j] += load[i][f] * load[j][f]
				}
				r[i][j] += (rng.Float64() - 0.5) * FactorTol // within the misfit that is admitted
			}
			r[i][i] = 1
		}
		if got := leastFactors(r); got > m {
			t.Fatalf("%d comparisons of %d factors seem to need %d", k, m, got)
		}
	}
	if got := leastFactors(brackets("KABKCDKEFKGHKIJKLMK")); got <= mostFactors {
		t.Errorf("brackets of twelve need %d factors", got)
	}
}
