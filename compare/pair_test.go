package compare

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"example.org/bookend/compare/joint"
	"example.org/bookend/compare/link"
	"example.org/bookend/stat/manyone"
	"example.org/bookend/stat/tail"
)

// Two candidates against each other, by their covariances, are what the
// difference of their weights gives.
func TestCandidateAgainstCandidate(t *testing.T) {
	list := day(21)
	for _, s := range []Settings{{Drift: Linear}, {Drift: Quadratic}, {Drift: Linear, Scale: "difference"}} {
		a := mustCompare(t, Input{Log: logOf("deceleration", list), Measure: decel, Control: "K", Settings: s})
		leg, err := a.Joint.Leg("P", "W")
		if err != nil {
			t.Fatal(err)
		}
		p, w := a.row(t, "P"), a.row(t, "W")
		sd := *a.Error.SD
		v := 0.0
		for i := range p.Weights {
			d := p.Weights[i] - w.Weights[i]
			v += d * d
		}
		if !near(leg.Estimate, *p.Verdict.Estimate-*w.Verdict.Estimate, 1e-12) || !near(leg.Variance, sd*sd*v, 1e-9*sd*sd*v) {
			t.Errorf("%s: %+v", s.Drift, leg)
		}
		back, err := a.Joint.Leg("W", "P")
		if err != nil || back.Estimate != -leg.Estimate || !near(back.Variance, leg.Variance, 1e-15) {
			t.Errorf("%+v and %+v", leg, back)
		}
		control, err := a.Joint.Leg("P", "K")
		if err != nil || control.Estimate != *p.Verdict.Estimate || !near(control.Variance, *p.SE**p.SE, 1e-12) {
			t.Errorf("%+v, %v", control, err)
		}
	}
}

// A chain through a link tyre covers the truth: P and R of one programme against
// the control Q of another, through L.
func TestLinkHolds(t *testing.T) {
	r := rand.New(rand.NewPCG(31, 4))
	truth := map[string]float64{"K": 7, "P": 7.5, "R": 6.9, "L": 7.2, "Q": 8}
	drive := func(order, control string, offset float64) *Result {
		var list []driven
		for i, c := range strings.Fields(order) {
			list = append(list, driven{code: c, values: []float64{truth[c] + offset - 0.05*float64(i) + 0.1*r.NormFloat64()}})
		}
		res, err := Compare(Input{Log: logOf("gain", list), Measure: gain, Control: control, Settings: Settings{Drift: Linear, Quick: true}})
		if err != nil {
			t.Fatal(err)
		}
		return res
	}
	const n = 400
	held := 0
	for range n {
		first := drive("K P R L K L R P K", "K", 0)
		second := drive("Q L Q L Q L Q", "Q", 3) // another vehicle
		got, err := Linked(link.Asked{}, first, "L", second, "L", "Q")
		if err != nil {
			t.Fatal(err)
		}
		ok := true
		for _, row := range got.Rows {
			want := truth[row.Code] - truth["Q"]
			ok = ok && *row.Verdict.Low <= want && want <= *row.Verdict.High
		}
		if ok {
			held++
		}
		if len(got.Rows) != 3 {
			t.Fatalf("%d rows", len(got.Rows))
		}
	}
	// 4 standard errors of 400 programmes at 0.95: 0.044.
	if got := float64(held) / n; got < 0.95-0.044 {
		t.Errorf("intervals hold in %.3f of programmes, not in 0.95", got)
	}
}

// Letters say what all pairs say: those of the exact point where a decision hangs
// on it, and with the bounds alone where none does.
func TestLetters(t *testing.T) {
	undecided := 0
	for seed := range uint64(40) {
		r := mustCompare(t, Input{Log: logOf("deceleration", day(seed)), Measure: decel, Control: "K", Settings: Settings{Drift: Linear}})
		g := r.Group
		all, err := manyone.AllPairs(r.Joint.Estimate, r.Joint.Cov, r.Joint.DF, 0.05)
		if err != nil || g == nil {
			t.Fatal(g, err)
		}
		if all.Critical < g.Low-1e-9 || all.Critical > g.High+1e-9 || g.Wide {
			t.Errorf("the point %v is not within %v and %v", all.Critical, g.Low, g.High)
		}
		// Between Dunnett's point of one fewer and Bonferroni's the bounds leave it open.
		few, err := joint.Critical(joint.Family(among(r.Joint.Cov), r.Joint.DF, TwoSided), 0.05)
		if err != nil {
			t.Fatal(err)
		}
		n := float64(len(g.Codes) * (len(g.Codes) - 1))
		for _, p := range all.Pairs {
			if x := math.Abs(p.T); few.Value < x && x <= tail.TPoint(0.05/n, r.Joint.DF) {
				undecided++
			}
		}
		if !slices.Equal(g.Letters, all.Letters) {
			t.Errorf("seed %d: letters %v, want %v", seed, g.Letters, all.Letters)
		}
	}
	if undecided == 0 {
		t.Error("no decision hung on the point itself")
	}
	// One candidate has nobody to be compared with, two have one point.
	one := mustCompare(t, Input{Log: logOf("deceleration", seq("K P K P K", 7, 7.2, 7.1, 7.3, 7)), Measure: decel, Control: "K"})
	if one.Group != nil {
		t.Errorf("%+v", one.Group)
	}
	two := mustCompare(t, Input{Log: logOf("deceleration", seq("K P R K P R K", 7, 7.2, 7.6, 7.1, 7.3, 7.7, 7)), Measure: decel, Control: "K"})
	if g := two.Group; g == nil || !near(g.Low, tail.TPoint(0.025, two.Joint.DF), 1e-9) || g.Low != g.High {
		t.Errorf("%+v", g)
	}
}

// among gives the covariance of all candidates but the first against that one.
func among(cov [][]float64) [][]float64 {
	var out [][]float64
	for a := range cov[1:] {
		var row []float64
		for b := range cov[1:] {
			row = append(row, cov[a+1][b+1]-cov[a+1][0]-cov[0][b+1]+cov[0][0])
		}
		out = append(out, row)
	}
	return out
}

// Step by step p-values are never larger than the common ones, and the smallest
// of them is the same.
func TestStepDown(t *testing.T) {
	for seed := range uint64(10) {
		r := mustCompare(t, Input{Log: logOf("deceleration", day(seed)), Measure: decel, Control: "K"})
		least, step := 1.0, 1.0
		for _, row := range r.Rows {
			if *row.StepP > *row.P+1e-9 || *row.StepP < *row.RawP-1e-9 {
				t.Errorf("%s: %v, common %v, raw %v", row.Code, *row.StepP, *row.P, *row.RawP)
			}
			least, step = min(least, *row.P), min(step, *row.StepP)
		}
		if !near(least, step, 1e-9) {
			t.Errorf("the smallest are %v and %v", least, step)
		}
	}
}
