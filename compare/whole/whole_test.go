package whole

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"example.org/bookend/compare"
	"example.org/bookend/compare/joint"
	"example.org/bookend/fault"
	"example.org/bookend/internal/golden"
	"example.org/bookend/programme"
	"example.org/bookend/stat/tail"
)

// With one candidate a test it is Holm's procedure.
func TestHolm(t *testing.T) {
	golden.Run(t, "r-4.2.2", "holm", func(t *testing.T, c *golden.Case) {
		var in struct{ P [][]float64 }
		var want struct{ Holm [][]float64 }
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		for i, ps := range in.P {
			var tests []*joint.Estimates
			var sided []compare.Sides
			for k, p := range ps {
				df := float64(5 + k)
				tests = append(tests, &joint.Estimates{Codes: []string{"P"}, Estimate: []float64{tail.TPoint(p/2, df)}, Cov: [][]float64{{1}}, DF: df})
				sided = append(sided, compare.TwoSided)
			}
			got, err := Adjust(tests, sided)
			if err != nil {
				t.Fatal(err)
			}
			for k := range ps {
				c.NearRel(t, fmt.Sprint("p ", ps[k]), got[k][0], want.Holm[i][k])
			}
		}
	})
}

// alike is k candidates of which each two correlate by a half, as with as many
// control stints as candidates' own.
func alike(estimate []float64, df float64) *joint.Estimates {
	e := &joint.Estimates{Estimate: estimate, DF: df}
	for i := range estimate {
		e.Codes = append(e.Codes, string(rune('A'+i)))
		row := make([]float64, len(estimate))
		for j := range row {
			row[j] = 1
		}
		row[i] = 2
		e.Cov = append(e.Cov, row)
	}
	return e
}

// With one test it is Dunnett's step-down; more tests never make a p-value
// smaller than its test's own, nor larger than two times the common one.
func TestOneTest(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 8))
	for range 20 {
		draw := func() *joint.Estimates {
			e := alike([]float64{3 * r.NormFloat64(), 3 * r.NormFloat64(), 3 * r.NormFloat64()}, 9)
			return e
		}
		a, b := draw(), draw()
		one, err := Adjust([]*joint.Estimates{a}, []compare.Sides{compare.TwoSided})
		if err != nil {
			t.Fatal(err)
		}
		step, err := a.StepDown(compare.TwoSided)
		if err != nil {
			t.Fatal(err)
		}
		both, err := Adjust([]*joint.Estimates{a, b}, []compare.Sides{compare.TwoSided, compare.TwoSided})
		if err != nil {
			t.Fatal(err)
		}
		for i := range step {
			if math.Abs(one[0][i]-step[i]) > 1e-9 {
				t.Errorf("%v, want %v", one[0], step)
			}
			p, err := joint.Adjusted(joint.Family(a.Cov, a.DF, compare.TwoSided), a.Estimate[i]/math.Sqrt2)
			if err != nil {
				t.Fatal(err)
			}
			if both[0][i] < step[i]-1e-9 || both[0][i] > min(1, 2*p)+1e-9 {
				t.Errorf("over two tests %v, within one %v, common %v", both[0][i], step[i], p)
			}
		}
	}
}

// The family error over three tests of three candidates stays at 5 %, whichever
// of the candidates really differ: those that do must not free the level for
// the rest of their test.
func TestFamilyErrorOverTests(t *testing.T) {
	r := rand.New(rand.NewPCG(17, 5))
	const n = 1500
	for name, truth := range map[string][3][3]float64{
		"none differs":            {},
		"one a test differs":      {{30, 0, 0}, {0, -30, 0}, {0, 0, 30}},
		"all of one test differ":  {{30, 40, -30}, {0, 0, 0}, {0, 0, 0}},
		"two of one test differ":  {{30, 40, 0}, {0, 0, 0}, {0, 0, 0}},
		"only one of nine is not": {{30, 30, 30}, {30, 30, 30}, {30, 30, 0}},
	} {
		wrong := 0
		for range n {
			var tests []*joint.Estimates
			sided := []compare.Sides{compare.TwoSided, compare.TwoSided, compare.TwoSided}
			for k := range truth {
				const df = 8
				s := 0.0
				for range df {
					x := r.NormFloat64()
					s += x * x / df
				}
				control := r.NormFloat64()
				e := alike(make([]float64, 3), df)
				for i := range e.Estimate {
					e.Estimate[i] = truth[k][i] + r.NormFloat64() - control
					for j := range e.Cov[i] {
						e.Cov[i][j] *= s
					}
				}
				tests = append(tests, e)
			}
			got, err := Adjust(tests, sided)
			if err != nil {
				t.Fatal(err)
			}
			bad := false
			for k := range truth {
				for i, d := range truth[k] {
					bad = bad || d == 0 && got[k][i] <= 0.05
				}
			}
			if bad {
				wrong++
			}
		}
		// 4 standard errors of 1,500 at 5 %: 2.3 %.
		if share := float64(wrong) / n; share > 0.05+0.023 {
			t.Errorf("%s: wrong in %.3f", name, share)
		}
	}
}

func result(t *testing.T, order string, margin float64, better map[string]float64, seed uint64) *compare.Result {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 1))
	var log programme.Log
	for i, code := range strings.Fields(order) {
		id := fmt.Sprint("s", i+1)
		log.Stints = append(log.Stints, programme.Stint{ID: id, Code: code, Position: float64(i + 1)})
		log.Runs = append(log.Runs, programme.Run{ID: id + "/1", Stint: id, Number: 1})
		log.Observations = append(log.Observations, programme.Observation{Run: id + "/1", Measure: "gain", Value: 7 + better[code] + 0.1*r.NormFloat64()})
	}
	s := compare.Settings{}
	if margin > 0 {
		s.Margin = &compare.Margin{Value: margin, InUnit: true}
	}
	res, err := compare.Compare(compare.Input{Log: log, Control: "K", Settings: s, Measure: programme.Measure{ID: "gain", Better: programme.Higher, Scale: programme.Difference}})
	if err != nil {
		t.Fatal(err)
	}
	return res
}

// Claims stand or fall over all tests, sameness and difference each by its own
// rule, and every verdict is counted.
func TestTogether(t *testing.T) {
	const order = "K P R K P R K R P K R P K"
	tests := []Test{
		{ID: "wet braking", First: result(t, order, 0.5, map[string]float64{"P": 2, "R": -2}, 1), Others: []*compare.Result{result(t, order, 0, nil, 2), result(t, order, 0, nil, 3)}},
		{ID: "slalom", First: result(t, order, 2, nil, 4)},
		{ID: "lap", First: result(t, order, 0, nil, 5)},
		{ID: "ratings", Others: []*compare.Result{result(t, order, 0, nil, 6)}},
	}
	p, err := Together(tests)
	if err != nil {
		t.Fatal(err)
	}
	if p.Tests != 4 || p.Measures != 6 || p.Verdicts != 12 || p.Firsts != 6 || !p.Adjusted || len(p.Answers) != 6 {
		t.Errorf("%+v", p)
	}
	for i, want := range []string{"better", "worse", "same", "same", "not_shown", "not_shown"} {
		a := p.Answers[i]
		if a.Verdict.Word.Key() != want || (a.Holds != nil) != (want != "not_shown") || a.Holds != nil && !*a.Holds || *a.Over < *a.P-1e-9 && i > 1 {
			t.Errorf("%s of %s: %+v", a.Code, a.Test, a)
		}
	}
	text := strings.Join(p.Words(), " ")
	for _, part := range []string{"12 verdicts were given on 6 measures of 4 tests", "6 are on first measures", "every claim stands", "The 6 verdicts that describe hold"} {
		if !strings.Contains(text, part) {
			t.Errorf("%q is not said: %s", part, text)
		}
	}
	// A claim that just stands in its own test falls among many.
	close := Test{ID: "close"}
	for seed := uint64(1); close.First == nil; seed++ {
		r := result(t, order, 0, map[string]float64{"P": 0.15}, seed)
		if r.Rows[0].Verdict.Word == compare.Better && *r.Rows[0].P > 0.03 {
			close.First = r
		}
	}
	p, err = Together(append(tests, close))
	if err != nil {
		t.Fatal(err)
	}
	if a := p.Answers[6]; a.Holds == nil || *a.Holds || !strings.Contains(strings.Join(p.Words(), " "), "one claim of a single test does not stand") {
		t.Errorf("%+v, %v", a, p.Words())
	}
	alone, err := Together([]Test{close})
	if err != nil || alone.Adjusted || !*alone.Answers[0].Holds {
		t.Errorf("%+v, %v", alone, err)
	}
	other := *close.First
	other.Settings.Confidence = 0.9
	if _, err := Together([]Test{tests[0], {ID: "x", First: &other}}); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("two levels: %v", err)
	}
}
