package compare

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"example.org/bookend/compare/scatter"
	"example.org/bookend/internal/golden"
	"example.org/bookend/programme"
)

// A programme from runs to errors, held to R: stint random, unequal runs, run
// number, sets within codes, tyre by block, and a bracket's given weights under
// the same variances.
func TestMixedModel(t *testing.T) {
	golden.Run(t, "lme4-1.1-31", "*", func(t *testing.T, c *golden.Case) {
		var in struct {
			Control  string
			Settings struct {
				Drift     Drift
				RunNumber RunNumber `json:"run_number"`
			}
			Runs []struct {
				Stint, Code, Set, Block string
				Position                float64
				Number                  int
				Value                   float64
			}
		}
		var want struct {
			Variances     map[string]float64
			Codes         []string
			Estimate      []float64
			Covariance    [][]float64
			KenwardRoger  []float64 `json:"df_kr"`
			Satterthwaite []float64 `json:"df_satterthwaite"`
			DF            []float64 // of given weights
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		var log programme.Log
		for _, r := range in.Runs {
			if n := len(log.Stints); n == 0 || log.Stints[n-1].ID != r.Stint {
				log.Stints = append(log.Stints, programme.Stint{ID: r.Stint, Code: r.Code, Set: r.Set, Block: r.Block, Position: r.Position})
			}
			id := r.Stint + "/" + string(rune('0'+r.Number))
			log.Runs = append(log.Runs, programme.Run{ID: id, Stint: r.Stint, Number: r.Number})
			log.Observations = append(log.Observations, programme.Observation{Run: id, Measure: "deceleration", Value: r.Value})
		}
		res := mustCompare(t, Input{Log: log, Measure: decel, Control: in.Control, Settings: Settings{Drift: in.Settings.Drift, RunNumber: in.Settings.RunNumber}})
		if res.Error.Model != Mixed {
			t.Fatalf("the model is %s: %v", res.Error.Model, res.Caveats)
		}
		rel := func(what string, got, want float64) {
			t.Helper()
			if math.Abs(got-want) > c.Tol*math.Abs(want) {
				t.Errorf("%s = %.12g, want %.12g", what, got, want)
			}
		}
		name := map[string]string{"stint": scatter.StintPart, "Residual": scatter.RunPart, "code:set": scatter.SetPart, "code:block": scatter.BlockPart}
		for group, v := range want.Variances {
			k := slices.IndexFunc(res.Error.Parts, func(p scatter.Part) bool { return p.Name == name[group] })
			if k < 0 {
				t.Fatalf("no variance of %s: %+v", group, res.Error.Parts)
			}
			rel("variance of "+group, res.Error.Parts[k].SD*res.Error.Parts[k].SD, v)
		}
		least := math.Inf(1)
		for i, code := range want.Codes {
			row := res.row(t, code)
			rel(code+" variance", *row.SE**row.SE, want.Covariance[i][i])
			df := want.DF
			if want.Estimate != nil {
				df = want.KenwardRoger
				if got := *row.Verdict.Estimate; math.Abs(got-want.Estimate[i]) > c.Tol*math.Sqrt(want.Covariance[i][i]) {
					t.Errorf("%s = %v, want %v", code, got, want.Estimate[i])
				}
				rel(code+" Satterthwaite", *row.Satterthwaite, want.Satterthwaite[i])
			}
			rel(code+" df", *row.DF, df[i])
			least = min(least, df[i])
		}
		rel("df of the interval", res.Error.DF, least)
		// The critical value is that of the covariance and the least degrees of
		// freedom; what it is for those is package manyone's evidence.
		for i, code := range want.Codes {
			row := res.row(t, code)
			rel(code+" half-width", *row.Verdict.High-*row.Verdict.Low, 2*res.Critical*math.Sqrt(want.Covariance[i][i]))
		}
	})
}

// With equal runs the mixed model is the model of stint means, but where the
// stint variance is nothing.
func TestMixedModelOfEqualRuns(t *testing.T) {
	for seed := range uint64(12) {
		for _, s := range corrections {
			in := Input{Log: logOf("deceleration", day(seed)), Measure: decel, Control: "K", Settings: s}
			a := mustCompare(t, in)
			in.Settings.Model = Mixed
			b := mustCompare(t, in)
			if a.Error.Model != StintMeans {
				t.Fatalf("the default is %s", a.Error.Model)
			}
			if b.Error.Model != Mixed {
				if !b.Caveats.Has("stint_variance_zero") {
					t.Errorf("seed %d: %v", seed, b.Caveats)
				}
				continue
			}
			if s.Drift == Bracket {
				// A bracket weights arithmetic means, the mixed model scatters the
				// logarithms of runs: the same to second order.
				for i := range a.Rows {
					if !near(*b.Rows[i].SE, *a.Rows[i].SE, 0.01**a.Rows[i].SE) || !near(*b.Rows[i].DF, *a.Rows[i].DF, 1e-6) {
						t.Errorf("seed %d: %v and %v on %v", seed, *b.Rows[i].SE, *a.Rows[i].SE, *b.Rows[i].DF)
					}
				}
				continue
			}
			same(t, string(s.Drift), a, b, keep)
			if !near(b.Error.DF, a.Error.DF, 1e-7) || !near(*b.Error.SD, *a.Error.SD, 1e-7) {
				t.Errorf("seed %d, %s: %v on %v, want %v on %v", seed, s.Drift, *b.Error.SD, b.Error.DF, *a.Error.SD, a.Error.DF)
			}
		}
	}
}

// Unequal runs, drift and fitment from a seed: the intervals of all candidates
// hold together as often as they say, small and large stint variance, in the
// model and in a bracket; degrees of freedom stay those of stints.
func TestUnequalRunsHoldWhatTheySay(t *testing.T) {
	const programmes = 300
	truth := map[string]float64{"K": 0, "P": 0.2, "W": -0.1}
	all := 0
	for _, stint := range []float64{0, 0.02, 0.1} {
		for _, drift := range []Drift{Linear, Bracket} {
			r := rand.New(rand.NewPCG(21, 4))
			held := 0
			for range programmes {
				var list []driven
				for i, code := range strings.Fields("K P W K W P K P W K") {
					fit := 7 + truth[code] - 0.02*float64(i) + stint*r.NormFloat64()
					var v []float64
					for k := range []int{3, 8, 5, 6, 3, 4, 9, 5, 3, 6}[i] {
						v = append(v, fit-0.01*float64(k)+0.1*r.NormFloat64())
					}
					list = append(list, driven{code: code, values: v})
				}
				res, err := Compare(Input{Log: logOf("gain", list), Measure: gain, Control: "K", Settings: Settings{Drift: drift, Quick: true}})
				if err != nil {
					t.Fatal(err)
				}
				if res.Error.DF > 8 {
					t.Fatalf("%v degrees of freedom from 10 stints less 4 terms", res.Error.DF)
				}
				p, w := res.row(t, "P"), res.row(t, "W")
				if *p.DiffLow <= 0.2 && 0.2 <= *p.DiffHigh && *w.DiffLow <= -0.1 && -0.1 <= *w.DiffHigh {
					held++
				}
			}
			all += held
			// 4 standard errors of 300 programmes at 0.95: 0.05.
			if got := float64(held) / programmes; math.Abs(got-0.95) > 0.05 {
				t.Errorf("stint scatter %v, %s: intervals hold in %.3f of programmes, not in 0.95", stint, drift, got)
			}
		}
	}
	// 4 standard errors of all 1,800: 0.021.
	if got := float64(all) / (6 * programmes); math.Abs(got-0.95) > 0.021 {
		t.Errorf("intervals hold in %.3f of programmes, not in 0.95", got)
	}
}

// Where the stints scatter no more than their runs, the degrees of freedom do
// not become those of the runs.
func TestStintVarianceZero(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 8))
	found := 0
	for range 40 {
		var list []driven
		for i, code := range strings.Fields("K P W K W P K") {
			var v []float64
			for range 4 + i%3 {
				v = append(v, 7+r.NormFloat64())
			}
			list = append(list, driven{code: code, values: v})
		}
		res := mustCompare(t, Input{Log: logOf("gain", list), Measure: gain, Control: "K", Settings: Settings{Drift: Linear}})
		if res.Caveats.Has("stint_variance_zero") {
			found++
			if res.Error.Model != StintMeans || res.Error.DF != 3 {
				t.Errorf("%s on %v", res.Error.Model, res.Error.DF)
			}
		} else if res.Error.Model != Mixed || res.Error.DF > 5 {
			t.Errorf("%s on %v: %v", res.Error.Model, res.Error.DF, res.Caveats)
		}
	}
	if found == 0 {
		t.Error("the case did not come up")
	}
}

// Wear within the stint is taken out on equal run numbers: without scatter the
// truth comes back, by every rule but the one that ignores it.
func TestRunNumbers(t *testing.T) {
	wear := func(k int) float64 { return []float64{0, 0.3, 0.35, 0.38, 0.4, 0.41}[k] }
	var list []driven
	for i, code := range strings.Fields("K P W K W P K") {
		var v []float64
		for k := range []int{6, 2, 3, 5, 4, 6, 3}[i] {
			v = append(v, 7+map[string]float64{"P": 0.5, "W": -0.2}[code]-wear(k))
		}
		list = append(list, driven{code: code, values: v})
	}
	for rule, right := range map[RunNumber]bool{NumberEach: true, NumberIgnored: false} {
		for _, d := range []Drift{Bracket, Linear} {
			res := mustCompare(t, Input{Log: logOf("gain", list), Measure: gain, Control: "K", Settings: Settings{Drift: d, RunNumber: rule}})
			if got := near(*res.row(t, "P").Difference, 0.5, 1e-9) && near(*res.row(t, "W").Difference, -0.2, 1e-9); got != right {
				t.Errorf("%s, %s: %v, %v", rule, d, *res.row(t, "P").Difference, *res.row(t, "W").Difference)
			}
			if res.Caveats.Has("unequal_run_numbers") == right || res.Error.NumberSaid == "" {
				t.Errorf("%s: %v", rule, res.Caveats)
			}
		}
	}
	// A line through what is no line is said to be none. The scatter that makes it
	// testable is small beside the bend.
	r := rand.New(rand.NewPCG(5, 9))
	rough := slices.Clone(list)
	straight := slices.Clone(list)
	for i := range rough {
		rough[i].values, straight[i].values = slices.Clone(list[i].values), slices.Clone(list[i].values)
		for k := range rough[i].values {
			e := 0.02 * r.NormFloat64()
			rough[i].values[k] += e
			straight[i].values[k] += e + wear(k) - 0.1*float64(k)
		}
	}
	bent := mustCompare(t, Input{Log: logOf("gain", rough), Measure: gain, Control: "K"})
	if !bent.Caveats.Has("run_number_bends") {
		t.Errorf("a bend draws no caveat: %v", bent.Caveats)
	}
	flat := mustCompare(t, Input{Log: logOf("gain", straight), Measure: gain, Control: "K"})
	if n := flat.Error.Trend; flat.Caveats.Has("run_number_bends") || n == nil || math.Abs(n.Estimate+0.1) > 4**n.SE || *n.P > 1e-6 {
		t.Errorf("a straight line: %v, %+v", flat.Caveats, n)
	}
	// Numbers that run through the table are counted within their stints.
	through := logOf("gain", list)
	for i := range through.Runs {
		through.Runs[i].Number = 100 + i
	}
	res := mustCompare(t, Input{Log: through, Measure: gain, Control: "K", Settings: Settings{RunNumber: NumberEach}})
	if !near(*res.row(t, "P").Difference, 0.5, 1e-9) {
		t.Errorf("numbers through the table: %v", *res.row(t, "P").Difference)
	}
}
