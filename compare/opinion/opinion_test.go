package opinion_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"example.org/bookend/compare"
	"example.org/bookend/compare/opinion"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

// sheets makes a log: codes in order, and by rater the rating of each stint.
func sheets(attribute string, codes string, by map[string][]float64, raters ...string) programme.Log {
	var l programme.Log
	for i, c := range codes {
		id := fmt.Sprint(i + 1)
		l.Stints = append(l.Stints, programme.Stint{ID: id, Code: string(c), Position: float64(i + 1)})
		l.Runs = append(l.Runs, programme.Run{ID: id + "/sheet", Stint: id, Number: 1})
		for _, r := range raters {
			if v := by[r][i]; !math.IsNaN(v) {
				l.Observations = append(l.Observations, programme.Observation{Run: id + "/sheet", Measure: attribute, Rater: r, Value: v})
			}
		}
	}
	return l
}

func do(t *testing.T, in opinion.Input) *opinion.Result {
	t.Helper()
	in.Control, in.Settings.Quick = "K", true
	r, err := opinion.Compare(in)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func near(t *testing.T, what string, got *float64, want, tol float64) {
	t.Helper()
	if got == nil || math.Abs(*got-want) > tol {
		show := "none"
		if got != nil {
			show = fmt.Sprint(*got)
		}
		t.Errorf("%s: %s, want %v", what, show, want)
	}
}

var (
	order = "KPRKRPKWK"
	one   = []float64{6, 7, 6.5, 6.25, 6.25, 7.25, 6, 5.5, 6.25}
	two   = []float64{5.5, 6.75, 6, 5.5, 6.25, 6.5, 5.75, 5, 5.5}
)

// A free sheet is compared as any measure is: the mean of the raters by stint,
// given to compare directly, gives the same.
func TestAFreeSheetIsComparedAsAMeasureIs(t *testing.T) {
	by := map[string][]float64{"one": one, "two": two}
	r := do(t, opinion.Input{Log: sheets("grip", order, by, "one", "two")})
	var l programme.Log
	for i, c := range order {
		id := fmt.Sprint(i + 1)
		l.Stints = append(l.Stints, programme.Stint{ID: id, Code: string(c), Position: float64(i + 1)})
		l.Runs = append(l.Runs, programme.Run{ID: id, Stint: id, Number: 1})
		l.Observations = append(l.Observations, programme.Observation{Run: id, Measure: "m", Value: (one[i] + two[i]) / 2})
	}
	want, err := compare.Compare(compare.Input{Log: l, Control: "K", Settings: compare.Settings{Quick: true}, Measure: programme.Measure{ID: "m", Better: programme.Higher, Scale: programme.Difference, Unit: "1"}})
	if err != nil {
		t.Fatal(err)
	}
	a := r.Attributes[0]
	if len(a.Rows) != 3 || !r.Shared || r.Sheets != 18 {
		t.Fatalf("%+v", a.Rows)
	}
	for i, row := range a.Rows {
		near(t, row.Code, row.Difference, *want.Rows[i].Difference, 1e-12)
		near(t, row.Code+" low", row.Low, *want.Rows[i].DiffLow, 1e-12)
		near(t, row.Code+" first rater and second", mean(row.ByRater), *row.Difference, 1e-12)
	}
	// The second rates the control 0.5625 lower by hand: 6.125 against 5.5625.
	if d := *r.Raters[0].Severity - *r.Raters[1].Severity; !(d > 0.3) {
		t.Errorf("severities differ by %v", d)
	}
}

func mean(list []*float64) *float64 {
	s := 0.0
	for _, p := range list {
		if p == nil {
			return nil
		}
		s += *p / float64(len(list))
	}
	return &s
}

// Who rates harder changes no verdict, nor does a missing sheet of an additive
// table; the ordinal model does not mind any stretching of the scale.
func TestLawsOfRatings(t *testing.T) {
	by := map[string][]float64{"one": one, "two": two}
	plain := do(t, opinion.Input{Log: sheets("grip", order, by, "one", "two")})
	harder := make([]float64, len(two))
	for i, v := range two {
		harder[i] = v - 1
	}
	r := do(t, opinion.Input{Log: sheets("grip", order, map[string][]float64{"one": one, "two": harder}, "one", "two")})
	for i, row := range r.Attributes[0].Rows {
		near(t, "harder, "+row.Code, row.Difference, *plain.Attributes[0].Rows[i].Difference, 1e-9)
		near(t, "harder, high of "+row.Code, row.High, *plain.Attributes[0].Rows[i].High, 1e-9)
	}
	near(t, "severity", r.Raters[1].Severity, *plain.Raters[1].Severity-.5, 1e-9)

	additive := make([]float64, len(one))
	for i, v := range one {
		additive[i] = v - 0.75
	}
	whole := do(t, opinion.Input{Log: sheets("grip", order, map[string][]float64{"one": one, "two": additive}, "one", "two")})
	additive[4] = math.NaN()
	gap := do(t, opinion.Input{Log: sheets("grip", order, map[string][]float64{"one": one, "two": additive}, "one", "two")})
	for i, row := range gap.Attributes[0].Rows {
		near(t, "a sheet is missing, "+row.Code, row.Difference, *whole.Attributes[0].Rows[i].Difference, 1e-9)
	}
	if !gap.Attributes[0].Caveats.Has("sheets_missing") {
		t.Error("a missing sheet is not said")
	}

	a := do(t, opinion.Input{Log: sheets("grip", "KPRKRPKRK", map[string][]float64{"one": {6, 6.25, 6.5, 6.5, 6.25, 6, 6, 6.75, 6.25}}, "one")}).Attributes[0]
	if a.Ordinal == nil {
		t.Fatalf("no ordinal model: %s", a.Graded)
	}
	var wide []float64
	for _, v := range []float64{6, 6.25, 6.5, 6.5, 6.25, 6, 6, 6.75, 6.25} {
		wide = append(wide, math.Exp(v))
	}
	b := do(t, opinion.Input{Log: sheets("grip", "KPRKRPKRK", map[string][]float64{"one": wide}, "one")}).Attributes[0]
	for i := range a.Rows {
		near(t, "log odds of "+a.Rows[i].Code, b.Rows[i].OrdinalOdds, *a.Rows[i].OrdinalOdds, 1e-9)
	}
}

// By hand: the control fixed at 6; P rated 7, 7.5, 8 differs by 1.5 with a
// standard deviation of 0.5 on 2 degrees of freedom; t(0.975, 2) is 4.30265 in
// printed tables (NIST/SEMATECH e-Handbook 1.3.6.7.2: 4.303), so the interval is
// 1.5 -+ 4.30265 * 0.5 / sqrt 3.
func TestAnAnchoredSheetByHand(t *testing.T) {
	in := opinion.Input{Sheet: opinion.Anchored, Log: sheets("grip", "KPPPK", map[string][]float64{"one": {6, 7, 7.5, 8, 6}}, "one")}
	r := do(t, in)
	row := r.Attributes[0].Rows[0]
	half := 4.30265 * 0.5 / math.Sqrt(3)
	near(t, "difference", row.Difference, 1.5, 1e-12)
	near(t, "low", row.Low, 1.5-half, 1e-5)
	near(t, "high", row.High, 1.5+half, 1e-5)
	if row.Verdict.Word != compare.Better || !r.Caveats.Has("anchored_sheet") {
		t.Errorf("%v", row.Verdict.Word)
	}
	single := do(t, opinion.Input{Sheet: opinion.Anchored, Log: sheets("grip", "KPRK", map[string][]float64{"one": {6, 7, 5, 6}}, "one")})
	for _, row := range single.Attributes[0].Rows {
		if row.Verdict.Word != compare.NotShown || row.Low != nil || row.Verdict.Because == "" {
			t.Errorf("%s: %v %v, with nothing to judge by", row.Code, row.Verdict.Word, row.Low)
		}
	}
	in.Log = sheets("grip", "KPPPK", map[string][]float64{"one": {6, 7, 7.5, 8, 6.25}}, "one")
	in.Control = "K"
	if _, err := opinion.Compare(in); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("an anchor that moves: %v", err)
	}
}

// Best in the middle: 7 and 5 are as far from 6 as each other, and it is in no sum.
func TestBestInTheMiddleIsADistanceAndNeverSummed(t *testing.T) {
	l := sheets("effort", "KPRK", map[string][]float64{"one": {6, 7, 5, 6.25}}, "one")
	in := opinion.Input{Log: l, Control: "K", Targets: map[string]float64{"effort": 6}}
	r := do(t, in)
	rows := r.Attributes[0].Rows
	if rows[0].Difference == nil || math.Abs(*rows[0].Difference-*rows[1].Difference) > 0.1 || *rows[0].Difference > 0 {
		t.Errorf("7 and 5 against a target of 6: %v and %v", *rows[0].Difference, *rows[1].Difference)
	}
	in.Weights = map[string]float64{"effort": 1}
	if _, err := opinion.Compare(in); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("summed: %v", err)
	}
	in.Weights, in.Targets = map[string]float64{"grip": 1}, nil
	if _, err := opinion.Compare(in); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("weight of what nobody rated: %v", err)
	}
}

// A balance goes from understeer to oversteer. Without a target it has differences, as
// rated, and no better or worse (methods: a measure that is best near a target has no
// direction without it); with one, the distance from it is compared. It is in no sum,
// and says nothing of how hard a rater rates.
func TestABalanceIsBetterOnlyWhereATargetIsDeclared(t *testing.T) {
	codes := "KPRKRPKPRK"
	l := sheets("balance at entry", codes, map[string][]float64{"one": {-1, 1, -2.5, -1, -2.5, 1, -1.25, 1, -2.5, -1}}, "one")
	in := opinion.Input{Log: l}
	a := do(t, in).Attributes[0]
	if !a.Middle || a.Target != nil || !a.Caveats.Has("no_target") {
		t.Errorf("middle %v, target %v, %v", a.Middle, a.Target, a.Caveats)
	}
	for i, sign := range []float64{1, -1} {
		row := a.Rows[i]
		if row.Difference == nil || *row.Difference*sign < 1 || row.Low == nil || row.High == nil {
			t.Errorf("%s: %v, %v to %v", row.Code, row.Difference, row.Low, row.High)
		}
		if row.Verdict.Word != compare.NotComputed || !strings.Contains(row.Verdict.Because, "target") {
			t.Errorf("%s is %v without a target: %s", row.Code, row.Verdict.Word, row.Verdict.Because)
		}
	}
	in.Sheet = opinion.Anchored
	in.Log = sheets("balance at entry", "KPPPK", map[string][]float64{"one": {-1, 1, 1.25, 1, -1}}, "one")
	if a := do(t, in).Attributes[0]; a.Rows[0].Verdict.Word != compare.NotComputed || *a.Rows[0].Difference < 2 {
		t.Errorf("anchored: %v, %v", a.Rows[0].Verdict.Word, *a.Rows[0].Difference)
	}
	in = opinion.Input{Log: l, Targets: map[string]float64{"balance at entry": 0}}
	// Neutral is best: K is 1 away, P 1 on the other side, R 2.5.
	a = do(t, in).Attributes[0]
	if p, r := a.Rows[0], a.Rows[1]; math.Abs(*p.Difference) > 0.2 || p.Verdict.Word == compare.Better || r.Verdict.Word != compare.Worse || math.Abs(*r.Difference+1.5) > 0.2 {
		t.Errorf("with neutral as target: P %v %v, R %v %v", *p.Difference, p.Verdict.Word, *r.Difference, r.Verdict.Word)
	}
	in.Targets, in.Weights = nil, map[string]float64{"balance at entry": 1}
	if _, err := opinion.Compare(opinion.Input{Log: l, Control: "K", Weights: in.Weights}); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("summed: %v", err)
	}
	// Two raters who agree on grip and lie two points apart in balance are equally severe.
	two := sheets("grip", "KPRKRPK", map[string][]float64{"one": {6, 7, 6, 6, 6, 7, 6}, "two": {6, 7, 6, 6, 6, 7, 6}}, "one", "two")
	other := sheets("balance at exit", "KPRKRPK", map[string][]float64{"one": {1, 1, 1, 1, 1, 1, 1}, "two": {-1, -1, -1, -1, -1, -1, -1}}, "one", "two")
	two.Observations = append(two.Observations, other.Observations...)
	for _, p := range do(t, opinion.Input{Log: two}).Raters {
		if p.Severity != nil && math.Abs(*p.Severity) > 1e-9 {
			t.Errorf("%s is severe by %v", p.Name, *p.Severity)
		}
	}
}

// Two attributes by hand: P is 1 better in the first and level in the second, R
// the other way round by 0.5; P leads where w > 0.5 (1-w), which is two thirds of
// all weightings.
func TestTheOverallAndTheShareOfWeightings(t *testing.T) {
	l := sheets("grip", "KPRKRPK", map[string][]float64{"one": {6, 7, 6, 6, 6, 7, 6}}, "one")
	m := sheets("comfort", "KPRKRPK", map[string][]float64{"one": {6, 6, 6.5, 6, 6.5, 6, 6}}, "one")
	l.Observations = append(l.Observations, m.Observations...)
	o := do(t, opinion.Input{Log: l, Weights: map[string]float64{"grip": 1, "comfort": 1}}).Overall
	want := map[string]float64{"K": 0, "P": 2. / 3, "R": 1. / 3}
	for _, lead := range o.Leads {
		if math.Abs(lead.Share-want[lead.Code]) > 1e-9 || lead.Error != 0 {
			t.Errorf("%s leads over %v ± %v, want %v", lead.Code, lead.Share, lead.Error, want[lead.Code])
		}
	}
	if o.Leader != "P" || !o.Exact || len(o.Turns) == 0 || math.Abs(o.Turns[0].To-1./3) > 1e-9 {
		t.Errorf("leader %s, turns %+v", o.Leader, o.Turns)
	}
	near(t, "P overall", o.Rows[0].Difference, 0.5, 1e-9)
}

// Raters who each drove stints of their own are blocks, joined through the
// control.
func TestRatersWhoDroveTheirOwnAreBlocks(t *testing.T) {
	gap := math.NaN()
	l := sheets("grip", "KPRKKRPK", map[string][]float64{
		"one": {6, 7, 6.5, 6.25, gap, gap, gap, gap},
		"two": {gap, gap, gap, gap, 5, 5.25, 6.25, 5.25}}, "one", "two")
	r := do(t, opinion.Input{Log: l})
	if r.Shared || r.Attributes[0].Result == nil {
		t.Fatalf("%s", r.Attributes[0].Failed)
	}
	blocks := map[string]bool{}
	for _, s := range r.Attributes[0].Result.Stints {
		blocks[s.Block] = true
	}
	if !blocks["one"] || !blocks["two"] || len(blocks) != 2 {
		t.Errorf("blocks %v", blocks)
	}
	if _, err := opinion.Compare(opinion.Input{Log: l, Control: "Z"}); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("a control that nobody rated: %v", err)
	}
	if _, err := opinion.Compare(opinion.Input{Control: "K"}); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("no ratings: %v", err)
	}
}
