package mixed

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/stat/linear"
	"example.org/bookend/stat/mixed/component"
)

// Small models with far too many variances, where likelihoods have several
// minima and most lie at the edge: from no random start is a lower one found,
// and at the one found the slope is nothing.
func TestNoStartLeadsLower(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	fits, edges := 0, 0
	for trial := range 150 {
		n := 8 + r.IntN(25)
		group := func(k int) []string {
			g := make([]string, n)
			for i := range g {
				g[i] = fmt.Sprint(r.IntN(k))
			}
			return g
		}
		a, b := group(3+r.IntN(6)), group(3+r.IntN(6))
		x, y := make([]float64, n), make([]float64, n)
		level, slope := map[string]float64{}, map[string]float64{}
		sa, sb := 2*r.Float64(), r.Float64()
		for i := range x {
			x[i] = float64(i)
			if _, ok := level[a[i]]; !ok {
				level[a[i]] = sa * r.NormFloat64()
			}
			if _, ok := slope[b[i]]; !ok {
				slope[b[i]] = sb * r.NormFloat64()
			}
			y[i] = level[a[i]] + slope[b[i]]*x[i]/5 + r.NormFloat64()
		}
		d := linear.NewDesign(n)
		d.AddIntercept()
		d.AddColumn("x", x)
		var cs []component.Component
		for _, c := range []component.Component{component.Intercept("b", b), component.Walk("w", x), component.InterceptAndSlopes("c", a, []string{"x"}, [][]float64{x}), component.Slope("s", b, x), component.Intercept("a", a)} {
			if r.IntN(2) == 0 {
				cs = append(cs, c)
			}
		}
		m, err := Fit(d, y, cs, Options{Method: Method(trial % 2)})
		if err != nil {
			continue // refused: what the runs cannot tell, or no maximum
		}
		q := m.prob
		if q.Residual {
			continue // the residual vanished: another problem
		}
		fits++
		if m.Caveats.Has("variance_zero") || m.Caveats.Has("covariance_singular") {
			edges++
		}
		for range 12 {
			x := make([]float64, len(q.Parts))
			x[0] = math.Log(0.05+r.Float64()) - 3*r.Float64()
			for k := 1; k < len(x); k++ {
				x[k] = 1.5 * r.NormFloat64() * math.Exp(-2*r.Float64())
			}
			if _, f, ok := q.Descend(x); ok && f < m.inf.At.F-1e-7 {
				t.Errorf("trial %d: %v lies below %v", trial, f, m.inf.At.F)
			}
		}
		if m.Caveats.Has("covariance_singular") {
			continue // the slope within the directions that vary is checked by the walks
		}
		g, _, _ := q.Slopes(m.inf.At, m.inf.Plain.Parts)
		for i, s := range g {
			if math.Abs(s) > 1e-7 {
				t.Errorf("trial %d: slope %d is %v at %v", trial, i, s, m.theta)
			}
		}
	}
	if fits < 60 || edges < 30 {
		t.Errorf("only %d fits, %d at an edge", fits, edges)
	}
}

// A walk is zero where it begins: the fixed terms follow the first run exactly,
// and the full likelihood has no maximum.
func TestALikelihoodWithoutMaximumIsRefused(t *testing.T) {
	x := []float64{0, 1, 2, 3, 4, 5, 6, 7}
	y := []float64{1, 3, 2, 5, 4, 6, 5, 8}
	d := linear.NewDesign(len(x))
	d.AddIntercept()
	_, err := Fit(d, y, []component.Component{component.Walk("walk", x)}, Options{Method: ML})
	if fault.CodeOf(err) != fault.Unsupported || fault.HintOf(err) == "" {
		t.Errorf("%v", err)
	}
	if _, err := Fit(d, y, []component.Component{component.Walk("walk", x)}, Options{}); err != nil {
		t.Error(err)
	}
}
