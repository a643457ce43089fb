package ordinal_test

import (
	"fmt"
	"math"
	"testing"

	"example.org/bookend/internal/golden"
	"example.org/bookend/stat/linear"
	"example.org/bookend/stat/ordinal"
)

type input struct {
	Rating []int
	Fixed  []struct {
		Name   string
		Levels []string
	}
	Factors    map[string][]string
	Random     []string
	Thresholds string
	Nodes      int
}

func (in *input) design(t testing.TB, but string) *linear.Design {
	t.Helper()
	d := linear.NewDesign(len(in.Rating))
	if err := d.AddIntercept(); err != nil {
		t.Fatal(err)
	}
	for _, f := range in.Fixed {
		if f.Name == but {
			continue
		}
		if err := d.AddFactor(f.Name, f.Levels, in.Factors[f.Name], linear.Treatment); err != nil {
			t.Fatal(err)
		}
	}
	return d
}

func (in *input) fit(t testing.TB, d *linear.Design, random []string, opt ordinal.Options) *ordinal.Model {
	t.Helper()
	var ratings []float64
	for _, r := range in.Rating {
		ratings = append(ratings, float64(r))
	}
	labels, category, err := ordinal.Categories(ratings)
	if err != nil {
		t.Fatal(err)
	}
	var terms []ordinal.Random
	for _, r := range random {
		terms = append(terms, ordinal.Random{Name: r, Groups: in.Factors[r]})
	}
	m, err := ordinal.Fit(d, category, labels, terms, opt)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func TestWineAsPrinted(t *testing.T) {
	golden.Run(t, "christensen-2015", "wine-laplace", func(t *testing.T, c *golden.Case) {
		var in input
		c.JSON(t, "inputs.json", &in)
		var want struct {
			Variance, SD, LogLik float64
			Coef, Cuts           []float64
		}
		c.JSON(t, "expected.json", &want)
		m := in.fit(t, in.design(t, ""), []string{"judge"}, ordinal.Options{Nodes: 1})
		c.Near(t, "variance", m.Random[0].SD*m.Random[0].SD, want.Variance)
		c.Near(t, "deviation", m.Random[0].SD, want.SD)
		c.Near(t, "log likelihood", m.LogLik, want.LogLik)
		for i, v := range want.Coef {
			c.Near(t, m.Coefficients[i].Name, m.Coefficients[i].Estimate, v)
		}
		for i, v := range want.Cuts {
			c.Near(t, m.Cuts[i].Name, m.Cuts[i].Estimate, v)
		}
		if !m.Laplace || !m.Caveats.Has("laplace_approximation") {
			t.Errorf("caveats %v", m.Caveats)
		}
	})
	golden.Run(t, "christensen-2015", "wine-quadrature", func(t *testing.T, c *golden.Case) {
		var in input
		c.JSON(t, "inputs.json", &in)
		var want struct {
			Variance, SD, LogLik float64
			Coef, SE, Z, P, Cuts []float64
			CutsSE               []float64 `json:"cuts_se"`
			WithoutContact       float64   `json:"without_contact"`
			RatioContact         float64   `json:"ratio_contact"`
			PContact             float64   `json:"p_contact"`
			WithoutJudge         float64   `json:"without_judge"`
			RatioJudge           float64   `json:"ratio_judge"`
			PJudge               float64   `json:"p_judge"`
			Fitted, Predicted    []float64
		}
		c.JSON(t, "expected.json", &want)
		// 10 nodes as printed.
		opt := ordinal.Options{Nodes: 10}
		m := in.fit(t, in.design(t, ""), []string{"judge"}, opt)
		c.Near(t, "variance", m.Random[0].SD*m.Random[0].SD, want.Variance)
		c.Near(t, "deviation", m.Random[0].SD, want.SD)
		c.Near(t, "log likelihood", m.LogLik, want.LogLik)
		for i, v := range m.Coefficients {
			c.Near(t, v.Name, v.Estimate, want.Coef[i])
			c.Near(t, "error of "+v.Name, v.StdErr, want.SE[i])
			if math.Abs(v.Z-want.Z[i]) > 2e-4 || math.Abs(v.P-want.P[i]) > 1e-3*want.P[i] {
				t.Errorf("z and p of %s = %v, %v, want %v, %v", v.Name, v.Z, v.P, want.Z[i], want.P[i])
			}
		}
		for i, v := range m.Cuts {
			c.Near(t, v.Name, v.Estimate, want.Cuts[i])
			c.Near(t, "error of "+v.Name, v.StdErr, want.CutsSE[i])
		}
		without := in.fit(t, in.design(t, "contact"), []string{"judge"}, opt)
		c.Near(t, "-2 log likelihood without contact", -2*without.LogLik, want.WithoutContact)
		r, err := ordinal.LikelihoodRatio(without, m)
		if err != nil || r.DF != 1 || r.HasMixture {
			t.Fatal(r, err)
		}
		c.Near(t, "ratio of contact", r.Statistic, want.RatioContact)
		if math.Abs(r.P-want.PContact) > 1e-5*want.PContact {
			t.Errorf("p of contact = %v, want %v", r.P, want.PContact)
		}
		plain := in.fit(t, in.design(t, ""), nil, opt)
		c.Near(t, "-2 log likelihood without judge", -2*plain.LogLik, want.WithoutJudge)
		if r, err = ordinal.LikelihoodRatio(plain, m); err != nil || r.DF != 1 || !r.HasMixture || r.Mixture != r.P/2 {
			t.Fatal(r, err)
		}
		c.Near(t, "ratio of judge", r.Statistic, want.RatioJudge)
		if math.Abs(r.P-want.PJudge) > 1e-5*want.PJudge {
			t.Errorf("p of judge = %v, want %v", r.P, want.PJudge)
		}
		judges, err := m.Effects("judge")
		if err != nil {
			t.Fatal(err)
		}
		d := in.design(t, "")
		for i := range want.Fitted { // the first six are judge 1's
			fitted, err := m.Probabilities(d.Row(i), judges[0].Estimate)
			if err != nil {
				t.Fatal(err)
			}
			average, err := m.Probabilities(d.Row(i), 0)
			if err != nil {
				t.Fatal(err)
			}
			c.Near(t, "fitted", fitted[in.Rating[i]-1], want.Fitted[i])
			c.Near(t, "predicted", average[in.Rating[i]-1], want.Predicted[i])
		}
	})
}

func TestFitsBesideThePeers(t *testing.T) {
	golden.Run(t, "ordinal-2022.11-16", "*", beside)
	golden.Run(t, "r-4.2.2", "*-laplace", beside)
}

func beside(t *testing.T, c *golden.Case) {
	var in input
	c.JSON(t, "inputs.json", &in)
	var want struct {
		Coef, SE, Cuts, SD any
		CutsSE             []float64 `json:"cuts_se"`
		LogLik             float64
		Effects            []float64
		Conditional        []float64
		Rater              []float64 `json:"effects_rater"`
		Session            []float64 `json:"effects_session"`
		SDSE               []float64 `json:"sd_se"`
	}
	c.JSON(t, "expected.json", &want)
	list := func(v any) []float64 {
		switch x := v.(type) {
		case float64:
			return []float64{x}
		case []any:
			var out []float64
			for _, e := range x {
				out = append(out, e.(float64))
			}
			return out
		}
		return nil
	}
	kind := map[string]ordinal.Thresholds{"flexible": ordinal.Flexible, "symmetric": ordinal.Symmetric, "equidistant": ordinal.Equidistant}
	m := in.fit(t, in.design(t, ""), in.Random, ordinal.Options{Thresholds: kind[in.Thresholds], Nodes: in.Nodes})
	c.Near(t, "log likelihood", m.LogLik, want.LogLik)
	for i, v := range list(want.Coef) {
		c.Near(t, m.Coefficients[i].Name, m.Coefficients[i].Estimate, v)
		if want.SE != nil {
			c.Near(t, "error of "+m.Coefficients[i].Name, m.Coefficients[i].StdErr, list(want.SE)[i])
		}
	}
	for i, v := range list(want.Cuts) {
		c.Near(t, m.Cuts[i].Name, m.Cuts[i].Estimate, v)
		if want.CutsSE != nil {
			c.Near(t, "error of "+m.Cuts[i].Name, m.Cuts[i].StdErr, want.CutsSE[i])
		}
	}
	for i, v := range list(want.SD) {
		c.Near(t, "scatter of "+m.Random[i].Name, m.Random[i].SD, v)
		if want.SDSE != nil {
			c.Near(t, "its error", m.Random[i].StdErr, want.SDSE[i])
		}
	}
	for name, values := range map[string][]float64{"judge": want.Effects, "rater": want.Rater, "session": want.Session} {
		if values == nil {
			continue
		}
		e, err := m.Effects(name)
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range values {
			c.Near(t, fmt.Sprintf("%s %s", name, e[i].Group), e[i].Estimate, v)
			if want.Conditional != nil {
				// The peer's is that of the standard severity times the scatter.
				c.Near(t, "its error", e[i].StdErr, want.Conditional[i])
			}
		}
	}
}
