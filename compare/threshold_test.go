package compare

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"example.org/bookend/compare/threshold"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

// highest is the measure of an attempt: entry speed, with clean or not beside it.
var highest = programme.Measure{ID: "attempt_speed", Unit: "m/s", Shown: "km/h", Better: programme.Higher, Scale: programme.Threshold}

// tried is one stint of attempts.
type tried struct {
	code   string
	speeds []float64
	clean  []bool
}

// try draws attempts around a threshold.
func try(r *rand.Rand, code string, at float64, speeds ...float64) tried {
	t := tried{code: code, speeds: speeds}
	for _, v := range speeds {
		t.clean = append(t.clean, r.Float64() < 1/(1+math.Exp((v-at)/0.5)))
	}
	return t
}

func attemptsLog(list []tried) programme.Log {
	var l programme.Log
	for i, d := range list {
		id := fmt.Sprintf("s%d", i+1)
		l.Stints = append(l.Stints, programme.Stint{ID: id, Code: d.code, Set: d.code + "1", Position: float64(i + 1)})
		for k, v := range d.speeds {
			clean := 0.0
			if d.clean[k] {
				clean = 1
			}
			run := programme.Run{ID: fmt.Sprintf("%s/%d", id, k+1), Stint: id, Number: k + 1, Covariates: map[string]float64{"clean": clean}}
			l.Runs = append(l.Runs, run)
			l.Observations = append(l.Observations, programme.Observation{Run: run.ID, Measure: "attempt_speed", Value: v})
		}
	}
	return l
}

var grid = []float64{19, 20, 20.5, 21, 21.5, 22, 22.5, 23, 24, 25}

// Intervals of thresholds hold what they say: stint effects, a drift, attempts
// that are clean by chance, three candidates.
func TestThresholdsHold(t *testing.T) {
	r := rand.New(rand.NewPCG(40, 4))
	truth := map[string]float64{"K": 21.5, "P": 22.3, "R": 21.0, "W": 21.5}
	const n = 300
	held, bias := 0, 0.0
	for range n {
		var list []tried
		for i, c := range strings.Fields("K P R K W W K R P K") {
			list = append(list, try(r, c, truth[c]-0.04*float64(i)+0.2*r.NormFloat64(), grid...))
		}
		res, err := Compare(Input{Log: attemptsLog(list), Measure: highest, Control: "K", Settings: Settings{Drift: Linear, Quick: true}})
		if err != nil {
			t.Fatal(err)
		}
		ok := true
		for _, row := range res.Rows {
			d := truth[row.Code] - truth["K"]
			ok = ok && *row.DiffLow <= d && d <= *row.DiffHigh
			bias += (*row.Difference - d) / n / 3
		}
		if ok {
			held++
		}
	}
	// 4 standard errors of 300 programmes at 0.95: 0.05.
	if got := float64(held) / n; got < 0.95-0.05 {
		t.Errorf("intervals hold in %.3f of programmes, not in 0.95", got)
	}
	if math.Abs(bias) > 0.05 {
		t.Errorf("thresholds are off by %v m/s on the mean", bias)
	}
}

// The entry speed may be the measure with clean or not beside it, or clean or not
// the measure with the speed beside it, in columns or as measures of their own.
func TestFormsOfAttempts(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 40))
	var list []tried
	for _, c := range strings.Fields("K P K P K") {
		list = append(list, try(r, c, 21.5+map[string]float64{"P": 0.8}[c], grid...))
	}
	log := attemptsLog(list)
	want := mustCompare(t, Input{Log: log, Measure: highest, Control: "K"})
	if s := want.Stints[0]; s.N != 10 || s.Threshold == nil || s.Threshold.Attempts != 10 || len(s.Runs) != 10 || s.Runs[0].Clean == nil || want.Rows[0].Runs != 20 || want.Measure.Unit != "m/s" {
		t.Errorf("%+v", want.Stints[0])
	}
	if !want.Caveats.Has("driven_at_the_limit") || want.Caveats.Has("unequal_attempts") {
		t.Errorf("%v", want.Caveats)
	}
	var flags programme.Log
	flags.Stints = log.Stints
	for i, run := range log.Runs {
		clean := run.Covariates["clean"]
		run.Covariates = nil
		flags.Runs = append(flags.Runs, run)
		flags.Observations = append(flags.Observations,
			programme.Observation{Run: run.ID, Measure: "clean", Value: clean},
			programme.Observation{Run: run.ID, Measure: "entry_speed", Value: log.Observations[i].Value})
	}
	got := mustCompare(t, Input{Log: flags, Measure: programme.Measure{ID: "clean", Unit: "1", Better: programme.Higher, Scale: programme.Threshold}, Control: "K"})
	if *got.Rows[0].Difference != *want.Rows[0].Difference || *got.Rows[0].DiffLow != *want.Rows[0].DiffLow || got.Measure.Unit != "m/s" {
		t.Errorf("%v and %v", *got.Rows[0].Difference, *want.Rows[0].Difference)
	}
	// An attempt that is left out is shown, and not compared.
	flags.Exclusions = []programme.Exclusion{{Run: "s2/3", Reason: "gust"}}
	out := mustCompare(t, Input{Log: flags, Measure: programme.Measure{ID: "clean", Better: programme.Higher, Scale: programme.Threshold}, Control: "K"})
	if out.Stints[1].N != 9 || len(out.Stints[1].Runs) != 10 || !out.Caveats.Has("unequal_attempts") {
		t.Errorf("%+v", out.Stints[1])
	}
	margin := 0.2
	if c := mustCompare(t, Input{Log: log, Measure: highest, Control: "K", Settings: Settings{Margin: &Margin{Value: margin, InUnit: true}}}); !c.Caveats.Has("coarse_steps") {
		t.Errorf("steps of 0.5 m/s answer a margin of 0.2: %v", c.Caveats)
	}
	flags.Observations = flags.Observations[:len(flags.Observations)-1]
	if _, err := Compare(Input{Log: flags, Measure: programme.Measure{ID: "clean", Better: programme.Higher, Scale: programme.Threshold}, Control: "K"}); fault.CodeOf(err) != fault.Invalid || !strings.Contains(err.Error(), "entry_speed") {
		t.Errorf("an attempt without a speed: %v", err)
	}
}

// A ceiling that the ground had set is censoring: a candidate that is clean up to
// it is better by at least so much, goes into neither drift nor scatter, and one
// that the control passes as well leaves nothing to say.
func TestCeiling(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 40))
	speeds := []float64{19, 20, 20.5, 21, 21.5, 22, 22.5, 23}
	ceiling := 23.0
	make := func(order string, at map[string]float64) []tried {
		var list []tried
		for i, c := range strings.Fields(order) {
			list = append(list, try(r, c, at[c]+0.15*math.Sin(float64(3*i)), speeds...))
		}
		return list
	}
	at := map[string]float64{"K": 21, "R": 20.6, "P": 99}
	list := make("K P R K R P K R K", at)
	s := Settings{Drift: Linear, Scale: programme.Threshold, Ceiling: &ceiling}
	res := mustCompare(t, Input{Log: attemptsLog(list), Measure: highest, Control: "K", Settings: s})
	p := res.row(t, "P")
	if p.DiffLow == nil || p.DiffHigh != nil || p.Verdict.Word != Better || !p.Caveats.Has("threshold_not_reached") || !res.Caveats.Has("at_the_ceiling") || res.Caveats.Has("no_failed_attempt") {
		t.Errorf("%+v %v", p.Verdict, res.Caveats)
	}
	if res.Stints[1].Threshold.Side != threshold.Above || p.Stints != 2 || p.Runs != 16 {
		t.Errorf("%+v", res.Stints[1].Threshold)
	}
	// What P did goes into no other verdict, but for the number compared.
	other := append([]tried(nil), list...)
	for i := range other {
		if other[i].code == "P" {
			other[i].clean = append([]bool(nil), other[i].clean...)
			other[i].speeds = append([]float64(nil), other[i].speeds...)
			for k := range other[i].speeds {
				other[i].speeds[k] += 0.1 * float64(i)
			}
		}
	}
	moved := mustCompare(t, Input{Log: attemptsLog(other), Measure: highest, Control: "K", Settings: s})
	if a, b := res.row(t, "R"), moved.row(t, "R"); math.Abs(*a.SE / *b.SE - 1) > 0.02 || math.Abs(*a.Difference-*b.Difference) > 0.02 {
		t.Errorf("R moved with P: %v ± %v, %v ± %v", *a.Difference, *a.SE, *b.Difference, *b.SE)
	}
	bracket := s
	bracket.Drift = ""
	if p := mustCompare(t, Input{Log: attemptsLog(list), Measure: highest, Control: "K", Settings: bracket}).row(t, "P"); p.DiffHigh != nil || p.DiffLow == nil {
		t.Errorf("bracket: %+v", p.Verdict)
	}
	at["K"] = 99
	both := mustCompare(t, Input{Log: attemptsLog(make("K P R K R P K R K", at)), Measure: highest, Control: "K", Settings: s})
	if p, q := both.row(t, "P"), both.row(t, "R"); p.Verdict.Word != NotShown || p.Verdict.Because == "" || p.DiffLow != nil || p.DiffHigh != nil || q.DiffLow != nil || q.Verdict.Word == Better {
		t.Errorf("P %+v, R %+v", p.Verdict, q.Verdict)
	}
	// Without a clean attempt the candidate is worse by at least so much.
	at = map[string]float64{"K": 22.3, "R": 22, "P": 1}
	low := mustCompare(t, Input{Log: attemptsLog(make("K P R K R P K R K", at)), Measure: highest, Control: "K", Settings: s})
	if p := low.row(t, "P"); p.DiffLow != nil || p.DiffHigh == nil || p.Verdict.Word != Worse || !low.Caveats.Has("no_clean_attempt") {
		t.Errorf("%+v", p.Verdict)
	}
}

// Counts are compared as differences, and say so.
func TestCounts(t *testing.T) {
	m := programme.Measure{ID: "markers_touched", Unit: "1", Better: programme.Lower, Scale: programme.Count}
	r := mustCompare(t, Input{Log: logOf("markers_touched", seq("K P K P K", 3, 0, 2, 1, 2)), Measure: m, Control: "K"})
	if !r.Caveats.Has("counts_as_differences") || r.Rows[0].Index != nil || !near(*r.Rows[0].Difference, 1.75, 1e-12) {
		t.Errorf("%+v", r.Rows[0])
	}
}
