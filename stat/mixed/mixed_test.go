package mixed_test

import (
	"math"
	"slices"
	"testing"

	"example.org/bookend/internal/golden"
	"example.org/bookend/stat/linear"
	"example.org/bookend/stat/mixed"
)

// Nested and crossed random intercepts against the reference program.
func TestVariancesAndDegreesOfFreedomOfTheStandardExamples(t *testing.T) {
	for _, set := range []string{"dyestuff", "machines", "penicillin-crossed"} {
		golden.Run(t, "lme4-1.1-31", set, func(t *testing.T, c *golden.Case) {
			var v struct {
				Response      []float64           `json:"response"`
				Groups        map[string][]string `json:"groups"`
				Components    []string            `json:"components"`
				Variance      []float64           `json:"variance"`
				Estimate      []float64           `json:"estimate"`
				SE            []float64           `json:"se_kr"`
				KenwardRoger  []float64           `json:"df_kr"`
				Satterthwaite []float64           `json:"df_satterthwaite"`
				Criterion     float64             `json:"reml_criterion"`
			}
			c.JSON(t, "case.json", &v)
			d := linear.NewDesign(len(v.Response))
			if err := d.AddIntercept(); err != nil {
				t.Fatal(err)
			}
			if machine, ok := v.Groups["Machine"]; ok {
				levels := slices.Compact(slices.Sorted(slices.Values(machine)))
				if err := d.AddFactor("Machine", levels, machine, linear.Treatment); err != nil {
					t.Fatal(err)
				}
				cells, err := mixed.Cells(v.Groups["Worker"], machine)
				if err != nil {
					t.Fatal(err)
				}
				v.Groups["Worker:Machine"] = cells
			}
			var random []mixed.Component
			for _, name := range v.Components[:len(v.Components)-1] {
				random = append(random, mixed.Intercept(name, v.Groups[name]))
			}
			m, err := mixed.Fit(d, v.Response, random, mixed.Options{})
			if err != nil {
				t.Fatal(err)
			}
			for i, name := range v.Components {
				if i == len(v.Components)-1 {
					name = mixed.ResidualName
				}
				got, ok := m.Variance(name)
				if !ok {
					t.Fatalf("no variance %q", name)
				}
				c.NearRel(t, "variance of "+name, got.Value, v.Variance[i])
			}
			within := func(what string, got, want, tol float64) {
				t.Helper()
				if !(math.Abs(got-want) <= tol) {
					t.Errorf("%s = %v, want %v within %g", what, got, want, tol)
				}
			}
			within("criterion", m.Criterion, v.Criterion, 1e-7)
			for method, df := range map[mixed.DFMethod][]float64{mixed.KenwardRoger: v.KenwardRoger, mixed.Satterthwaite: v.Satterthwaite} {
				table, err := m.Coefficients(method)
				if err != nil {
					t.Fatal(err)
				}
				for i, row := range table {
					within("estimate of "+row.Name, row.Estimate, v.Estimate[i], 1e-7)
					within("df of "+row.Name, row.DF, df[i], 1e-3)
					if method == mixed.KenwardRoger {
						within("standard error of "+row.Name, row.StdErr, v.SE[i], 1e-4)
					}
				}
			}
		})
	}
}
