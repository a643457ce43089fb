package mixed

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/stat/tail"
)

// Ratio is a likelihood-ratio test of a small model inside a large one.
type Ratio struct {
	Statistic float64 // twice the difference of log likelihoods, >= 0
	DF        int     // parameters more in the large model
	P         float64 // of chi-square with DF
	// Mixture is P of the half-and-half mixture of chi-squares with DF less one
	// degree of freedom and with all, which holds for one more random term
	// (Self and Liang 1987; Stram and Lee 1994): its variance lies at the edge
	// of what is possible if it is zero. With few groups it is on the safe side.
	Mixture    float64
	HasMixture bool
	Caveats    caveat.List
}

// LikelihoodRatio tests a small model inside a large one, fitted to the same
// response. Fixed terms may differ only under ML.
func LikelihoodRatio(small, large *Model) (Ratio, error) {
	var r Ratio
	wrong := func(format string, args ...any) (Ratio, error) {
		return Ratio{}, fault.New(fault.Invalid, format, args...)
	}
	if small.Method != large.Method {
		return wrong("the models are fitted by different likelihoods")
	}
	if small.N != large.N || len(small.y) != len(large.y) {
		return wrong("the models have %d and %d runs", small.N, large.N)
	}
	for i := range small.y {
		if small.y[i] != large.y[i] || small.weight(i) != large.weight(i) {
			return wrong("the models differ in response or weight in row %d", i+1)
		}
	}
	if small.opt.HoldResidual != large.opt.HoldResidual || small.opt.ResidualVariance != large.opt.ResidualVariance || !sameMatrix(small.opt.Residual, large.opt.Residual) {
		return wrong("the models differ in their residual")
	}
	if !small.HasLogLik || !large.HasLogLik {
		return wrong("a likelihood without scatter cannot be compared")
	}
	if name, ok := small.inside(large); !ok {
		return wrong("the models are not nested: %q is not in the larger one", name)
	}
	fixed := large.Rank - small.Rank
	if fixed > 0 && large.Method == REML {
		return wrong("restricted likelihoods of different fixed terms cannot be compared")
	}
	// Random terms: every one of the small model must be one of the large, where
	// several may have grown into one that lets them vary together.
	more, grown, by := 0, 0, 0
	taken := make([][]bool, len(large.random))
	for kl, rl := range large.random {
		taken[kl] = make([]bool, len(rl.Z))
		if large.state[kl] == estimated {
			more += len(rl.Z) * (len(rl.Z) + 1) / 2
		}
	}
	for ks, rs := range small.random {
		if small.state[ks] == dropped {
			continue
		}
		found := -1
		for kl, rl := range large.random {
			if large.state[kl] != dropped && rs.Within(rl, taken[kl]) {
				found = kl
				break
			}
		}
		if found < 0 {
			return wrong("the models are not nested: component %q is not in the larger one", rs.Name)
		}
		rl := large.random[found]
		switch {
		case rs.Held && rl.Held:
			if rs.Value != rl.Value {
				return wrong("component %q is held at different values", rs.Name)
			}
		case rl.Held:
			return wrong("the models are not nested: component %q is held in the larger one", rl.Name)
		case rs.Held:
			// From a value held to an estimate: no edge, unless at zero.
			if rs.Value == 0 {
				taken[found][0] = false
			}
		default:
			more -= len(rs.Z) * (len(rs.Z) + 1) / 2
		}
	}
	for kl, rl := range large.random {
		new := 0
		for _, t := range taken[kl] {
			if !t {
				new++
			}
		}
		switch {
		case new == 0 || large.state[kl] == dropped:
		case rl.Held && rl.Value > 0:
			return wrong("the models are not nested: component %q is held in the larger one alone", rl.Name)
		case !rl.Held:
			grown++
			by = new
		}
	}
	r.DF = fixed + more
	if r.DF == 0 {
		return wrong("the models are the same")
	}
	r.Statistic = max(0, small.Criterion-large.Criterion)
	r.P = tail.Chi2(r.Statistic, float64(r.DF))
	if r.Statistic == 0 {
		r.P = 1
	}
	switch {
	case grown == 0:
	case grown == 1 && by == 1:
		r.HasMixture = true
		lower := 0.0
		if r.DF > 1 {
			lower = tail.Chi2(r.Statistic, float64(r.DF-1))
		}
		r.Mixture = (r.P + lower) / 2
		if r.Statistic == 0 {
			r.Mixture = 1
		}
		r.Caveats.Add("variance_at_edge", caveat.Place{}, "The variance tested lies at the edge of what is possible if it is zero: the mixture of chi-squares with %d and %d degrees of freedom is used.", r.DF-1, r.DF)
	default:
		r.Caveats.Add("variance_at_edge", caveat.Place{}, "Several variances tested lie at the edge of what is possible if they are zero: the p-value of chi-square with %d degrees of freedom is on the safe side.", r.DF)
	}
	return r, nil
}

func (m *Model) weight(i int) float64 {
	if m.opt.Weights == nil {
		return 1
	}
	return m.opt.Weights[i]
}

func sameMatrix(a, b [][]float64) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if !floats.Equal(a[i], b[i]) {
			return false
		}
	}
	return true
}

// inside tells whether the fixed columns of m lie in the span of those of
// large, and else which does not.
func (m *Model) inside(large *Model) (string, bool) {
	var basis [][]float64
	column := func(of *Model, j int) []float64 {
		x := make([]float64, len(of.y))
		for i := range x {
			x[i] = of.design.Row(i)[j] * math.Sqrt(of.weight(i))
		}
		return x
	}
	project := func(x []float64) (whole, left float64) {
		whole = norm(x)
		for range 2 {
			for _, q := range basis {
				floats.AddScaled(x, -floats.Dot(q, x), q)
			}
		}
		return whole, norm(x)
	}
	for _, j := range large.part.Kept {
		x := column(large, j)
		if _, left := project(x); left > 0 {
			floats.Scale(1/left, x)
			basis = append(basis, x)
		}
	}
	for _, j := range m.part.Kept {
		// 1e-8: rounding of columns that lean on each other.
		if whole, left := project(column(m, j)); left > 1e-8*whole {
			return m.Names[j], false
		}
	}
	return "", true
}

// String gives the test in words.
func (r Ratio) String() string {
	return fmt.Sprintf("chi-square %.4f on %d", r.Statistic, r.DF)
}
