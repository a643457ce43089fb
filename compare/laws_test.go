package compare

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

var corrections = []Settings{{Drift: NoDrift}, {Drift: Bracket}, {Drift: Linear}, {Drift: Quadratic}}

// day is a programme with seven control stints, three candidates twice each in
// reversed order, drift, fitment and run scatter, from a seed.
func day(seed uint64) []driven {
	r := rand.New(rand.NewPCG(seed, 7))
	level := map[string]float64{"K": 7.5, "P": 7.8, "W": 7.45, "T": 7.6}
	var list []driven
	for i, code := range strings.Split("K P K W K T K T K W K P K", " ") {
		fit := level[code]*(1-0.002*float64(i)) + 0.03*r.NormFloat64()
		var v []float64
		for range 5 {
			v = append(v, fit+0.05*r.NormFloat64())
		}
		list = append(list, driven{code: code, set: code + "1", values: v})
	}
	return list
}

func near(a, b, tol float64) bool { return math.Abs(a-b) <= tol*(1+math.Abs(b)) }

// same holds two results' rows against each other, values by f.
func same(t *testing.T, what string, a, b *Result, f func(float64) float64) {
	t.Helper()
	get := func(r *Row) []*float64 {
		return []*float64{r.Index, r.IndexLow, r.IndexHigh, r.Difference, r.DiffLow, r.DiffHigh}
	}
	for i := range a.Rows {
		x, y := &a.Rows[i], b.row(t, a.Rows[i].Code)
		if x.Verdict.Word != y.Verdict.Word {
			t.Errorf("%s: %s is %s and %s", what, x.Code, x.Verdict.Word, y.Verdict.Word)
		}
		p, q := get(x), get(y)
		for k := range p {
			if (p[k] == nil) != (q[k] == nil) || p[k] != nil && !near(*q[k], f(*p[k]), 1e-9) {
				t.Errorf("%s: %s, number %d: %v and %v", what, x.Code, k, p[k], q[k])
			}
		}
		if x.T != nil && !near(*y.T, *x.T, 1e-8) {
			t.Errorf("%s: %s: t %v and %v", what, x.Code, *x.T, *y.T)
		}
	}
}

func keep(x float64) float64 { return x }

// A unit changes nothing but its own numbers: ratios keep their index, differences
// scale with it. An offset shifts no difference.
func TestUnitsAndOffsets(t *testing.T) {
	list := day(1)
	change := func(a, b float64) []driven {
		out := slices.Clone(list)
		for i := range out {
			out[i].values = slices.Clone(out[i].values)
			for k := range out[i].values {
				out[i].values[k] = a*out[i].values[k] + b
			}
		}
		return out
	}
	for _, s := range corrections {
		in := Input{Log: logOf("deceleration", list), Measure: decel, Control: "K", Settings: s}
		feet := in
		feet.Log = logOf("deceleration", change(3.28, 0))
		same(t, "index in feet, "+string(s.Drift), mustCompare(t, in), mustCompare(t, feet), keep)
		in.Settings.Scale, feet.Settings.Scale = programme.Difference, programme.Difference
		same(t, "difference in feet, "+string(s.Drift), mustCompare(t, in), mustCompare(t, feet), func(x float64) float64 { return 3.28 * x })
		shifted := in
		shifted.Log = logOf("deceleration", change(1, -20))
		same(t, "shifted, "+string(s.Drift), mustCompare(t, in), mustCompare(t, shifted), keep)
	}
}

// Lower better turns the index round; the control's drift is the same.
func TestDirectionTurnsTheIndexRound(t *testing.T) {
	lower := decel
	lower.Better = programme.Lower
	for _, s := range corrections {
		in := Input{Log: logOf("deceleration", day(2)), Measure: decel, Control: "K", Settings: s}
		a := mustCompare(t, in)
		in.Measure = lower
		b := mustCompare(t, in)
		for i := range a.Rows {
			if !near(*a.Rows[i].Index**b.Rows[i].Index, 1e4, 1e-12) || !near(*a.Rows[i].T, -*b.Rows[i].T, 1e-12) {
				t.Errorf("%s: %v and %v", s.Drift, *a.Rows[i].Index, *b.Rows[i].Index)
			}
			if !near(*a.Rows[i].AtLevel, *b.Rows[i].AtLevel, 1e-12) {
				t.Errorf("%s: corrected %v and %v", s.Drift, *a.Rows[i].AtLevel, *b.Rows[i].AtLevel)
			}
		}
	}
}

// Neither the order of the log's lists nor the letters matter.
func TestOrderAndLettersDoNotMatter(t *testing.T) {
	list := day(3)
	for _, s := range corrections {
		in := Input{Log: logOf("deceleration", list), Measure: decel, Control: "K", Settings: s}
		want := mustCompare(t, in)
		mixed := in
		mixed.Log.Stints, mixed.Log.Runs, mixed.Log.Observations = slices.Clone(in.Log.Stints), slices.Clone(in.Log.Runs), slices.Clone(in.Log.Observations)
		slices.Reverse(mixed.Log.Stints)
		slices.Reverse(mixed.Log.Runs)
		slices.Reverse(mixed.Log.Observations)
		same(t, "mixed, "+string(s.Drift), want, mustCompare(t, mixed), keep)

		letters := map[string]string{"K": "T", "P": "K", "W": "A", "T": "P"}
		other := slices.Clone(list)
		for i := range other {
			other[i].code = letters[other[i].code]
		}
		got := mustCompare(t, Input{Log: logOf("deceleration", other), Measure: decel, Control: "T", Settings: s})
		for i := range want.Rows {
			w, g := want.Rows[i], got.Rows[i]
			if g.Code != letters[w.Code] || *g.Index != *w.Index || *g.IndexLow != *w.IndexLow || *g.P != *w.P {
				t.Errorf("%s: %s became %s: %v, %v", s.Drift, w.Code, g.Code, *w.Index, *g.Index)
			}
		}
	}
}

// made is the same layout with control 7.5 and candidates that differ by d,
// without scatter; drift gives what is added at a position.
func made(drift func(x float64) float64, factor bool) []driven {
	off := map[string]float64{"K": 0, "P": 0.3, "W": -0.1, "T": 0.05}
	list := day(1)
	for i := range list {
		x := drift(float64(i + 1))
		v := 7.5 + off[list[i].code] + x
		if factor {
			v = (7.5 + off[list[i].code]) * x
		}
		list[i].values = []float64{v}
	}
	return list
}

// Without drift every correction gives the same; a drift within a correction's
// family is removed exactly, one outside it is not.
func TestDriftIsRemovedExactly(t *testing.T) {
	truth := map[string]float64{"P": 0.3, "W": -0.1, "T": 0.05}
	line := func(x float64) float64 { return -0.02 * x }
	bow := func(x float64) float64 { return 0.01*x - 0.002*x*x }
	none := func(float64) float64 { return 0 }
	for _, c := range []struct {
		name  string
		drift func(float64) float64
		by    []Drift
	}{{"none", none, []Drift{NoDrift, Bracket, Linear, Quadratic}}, {"line", line, []Drift{Bracket, Linear, Quadratic}}, {"bow", bow, []Drift{Quadratic}}} {
		for _, d := range c.by {
			r := mustCompare(t, Input{Log: logOf("gain", made(c.drift, false)), Measure: gain, Control: "K", Settings: Settings{Drift: d}})
			for code, want := range truth {
				if got := *r.row(t, code).Difference; math.Abs(got-want) > 1e-12 {
					t.Errorf("%s drift by %s: %s is %v, want %v", c.name, d, code, got, want)
				}
			}
		}
	}
	// The same as ratios: a line in the value by the bracket, an exponential by
	// the line on the log scale.
	for _, c := range []struct {
		drift func(float64) float64
		s     Settings
	}{{func(x float64) float64 { return 1 - 0.004*x }, Settings{Drift: Bracket}}, {func(x float64) float64 { return math.Exp(-0.004 * x) }, Settings{Drift: Linear}},
		{func(x float64) float64 { return 1 - 0.004*x }, Settings{Drift: Linear, Average: Means}}} {
		r := mustCompare(t, Input{Log: logOf("deceleration", made(c.drift, true)), Measure: decel, Control: "K", Settings: c.s})
		for code, d := range truth {
			if got, want := *r.row(t, code).Index, 100*(7.5+d)/7.5; math.Abs(got-want) > 1e-10 {
				t.Errorf("%s: %s is %v, want %v", r.Correction, code, got, want)
			}
		}
	}
	bent := mustCompare(t, Input{Log: logOf("gain", made(bow, false)), Measure: gain, Control: "K", Settings: Settings{Drift: NoDrift}})
	if math.Abs(*bent.row(t, "P").Difference-0.3) < 1e-3 || !bent.Caveats.Has("not_corrected") {
		t.Error("an ignored drift did no harm, or nobody said that it was ignored")
	}
}

// A declared break with a step is not crossed: the step does no harm, and
// without the break it does.
func TestNothingIsCarriedAcrossABreak(t *testing.T) {
	var list []driven
	for i, code := range strings.Split("K P W K K W P K", " ") {
		v := map[string]float64{"K": 7.5, "P": 7.8, "W": 7.4}[code] - 0.01*float64(i)
		if i >= 4 {
			v += 1.5 // the surface was washed
		}
		list = append(list, driven{code: code, values: []float64{v}})
	}
	for _, d := range []Drift{Bracket, Linear} {
		list[4].stop = true
		in := Input{Log: logOf("gain", list), Measure: gain, Control: "K", Settings: Settings{Drift: d}}
		if r := mustCompare(t, in); !near(*r.row(t, "P").Difference, 0.3, 1e-12) || !near(*r.row(t, "W").Difference, -0.1, 1e-12) {
			t.Errorf("%s: %v, %v", d, *r.row(t, "P").Difference, *r.row(t, "W").Difference)
		}
		list[4].stop = false
	}
	// A candidate shut in between breaks without a control is refused.
	list[1].stop, list[3].stop = true, true
	_, err := Compare(Input{Log: logOf("gain", list), Measure: gain, Control: "K"})
	if fault.CodeOf(err) != fault.Invalid || !strings.Contains(err.Error(), "no control between the breaks") {
		t.Error(err)
	}
	list[1].stop, list[3].stop = false, false
}

// Blocks of two days at different levels: joined through the control.
func TestBlocksAreJoinedThroughTheControl(t *testing.T) {
	var list []driven
	r := rand.New(rand.NewPCG(5, 5))
	for i, code := range strings.Split("K P K W K K W K P K", " ") {
		v := map[string]float64{"K": 7.5, "P": 7.8, "W": 7.4}[code] + 0.02*r.NormFloat64()
		block := "monday"
		if i >= 5 {
			block = "tuesday"
			v += 0.9
		}
		list = append(list, driven{code: code, block: block, values: []float64{v}})
	}
	for _, s := range []Settings{{Drift: Bracket}, {Drift: Linear}, {Drift: NoDrift}, {Drift: Linear, DriftPerBlock: Linear}} {
		res := mustCompare(t, Input{Log: logOf("gain", list), Measure: gain, Control: "K", Settings: s})
		if math.Abs(*res.row(t, "P").Difference-0.3) > 0.1 || math.Abs(*res.row(t, "W").Difference+0.1) > 0.1 {
			t.Errorf("%s: %v, %v", res.Correction, *res.row(t, "P").Difference, *res.row(t, "W").Difference)
		}
		if s.Drift == Linear && s.DriftPerBlock == "" && res.Error.Between == nil {
			t.Error("tyre by block was not looked at")
		}
	}
}

// A tyre that stands otherwise on the second day: with tyre by block in the error
// the figure for both days is wide, block by block each day has its own, and as
// one it is as narrow as if nothing were amiss, with a caveat.
func TestTyreByBlock(t *testing.T) {
	var list []driven
	r := rand.New(rand.NewPCG(15, 5))
	for i, code := range strings.Fields("K P W K W P K K P W K W P K") {
		v := map[string]float64{"K": 7.5, "P": 7.8, "W": 7.4}[code] + 0.01*r.NormFloat64()
		block := "monday"
		if i >= 7 {
			block = "tuesday"
			v += map[string]float64{"K": 0.5, "P": 0.3, "W": 0.6}[code]
		}
		list = append(list, driven{code: code, block: block, values: []float64{v}})
	}
	do := func(a Across) *Result {
		return mustCompare(t, Input{Log: logOf("gain", list), Measure: gain, Control: "K", Settings: Settings{Drift: Linear, TyreByBlock: a}})
	}
	in, one, each := do(InError), do(AsOne), do(EachBlock)
	if in.Error.Model != Mixed || in.Error.DF > 2.5 || in.row(t, "P").Verdict.Word != NotShown {
		t.Errorf("in the error: %s on %v, %s", in.Error.Model, in.Error.DF, in.row(t, "P").Verdict.Word)
	}
	// Shown side by side, whatever becomes of it: P gained 0.2 less than the control.
	if got := in.Error.ByBlock; len(got) != 4 || got[0].Code != "P" || math.Abs(*got[0].Estimate-0.3) > 0.05 || math.Abs(*got[1].Estimate-0.1) > 0.05 || got[1].Block != "tuesday" || got[1].SE == nil || got[0].Stints != 2 {
		t.Errorf("block by block: %+v", got)
	}
	if one.Error.Model != StintMeans || one.row(t, "P").Verdict.Word != Better || !one.Caveats.Has("tyre_by_block") {
		t.Errorf("as one: %s, %v", one.row(t, "P").Verdict.Word, one.Caveats)
	}
	if each.row(t, "P").Verdict.Word != NotShown || len(each.PerBlock) != 2 {
		t.Fatalf("block by block: %+v", each.row(t, "P").Verdict)
	}
	for i, want := range []float64{0.3, 0.1} {
		b := each.PerBlock[i]
		if b.Result == nil || math.Abs(*b.Result.row(t, "P").Difference-want) > 0.05 || b.Result.row(t, "P").Verdict.Word != Better || !near(b.Result.Settings.Confidence, 0.975, 1e-12) {
			t.Errorf("%s: %+v %s", b.Block, b.Result, b.Err)
		}
	}
}

// The standard error of an estimate is its variance by its weights, whatever
// correction it comes from; weights take nothing from the control's level.
func TestWeights(t *testing.T) {
	for _, s := range corrections {
		r := mustCompare(t, Input{Log: logOf("deceleration", day(4)), Measure: decel, Control: "K", Settings: s})
		for _, row := range r.Rows {
			sum, own := 0.0, 0.0
			for i, w := range row.Weights {
				sum += w
				if r.Stints[i].Code == row.Code {
					own += w
				}
			}
			if !near(sum, 0, 1e-12) || !near(own, 1, 1e-12) || !near(*row.SE, *r.Error.SD*math.Sqrt(dot(row.Weights, row.Weights)), 1e-12) {
				t.Errorf("%s %s: weights sum to %v, own %v", s.Drift, row.Code, sum, own)
			}
		}
		// One scatter for every correction of up to a line.
		line := mustCompare(t, Input{Log: logOf("deceleration", day(4)), Measure: decel, Control: "K", Settings: Settings{Drift: Linear}})
		if s.Drift == NoDrift && !near(*r.Error.SD, *line.Error.SD, 1e-12) {
			t.Error("the scatter depends on the correction")
		}
	}
}

// More runs in a stint are no more evidence: doubling every run leaves the
// interval as it is.
func TestRunsAreNotTheError(t *testing.T) {
	list := day(6)
	double := slices.Clone(list)
	for i := range double {
		double[i].values = append(slices.Clone(list[i].values), list[i].values...)
	}
	for _, s := range corrections {
		same(t, string(s.Drift), mustCompare(t, Input{Log: logOf("deceleration", list), Measure: decel, Control: "K", Settings: s}),
			mustCompare(t, Input{Log: logOf("deceleration", double), Measure: decel, Control: "K", Settings: s}), keep)
	}
}

// Exclusions: the result without is the result of a log that never had the run;
// the result with everything in is there beside it.
func TestExclusions(t *testing.T) {
	list := day(8)
	log := logOf("deceleration", list)
	log.Exclusions = []programme.Exclusion{{Run: "s2/3", Reason: "puddle"}}
	both, err := CompareBoth(Input{Log: log, Measure: decel, Control: "K"})
	if err != nil || both.All == nil {
		t.Fatal(err, both)
	}
	plain := mustCompare(t, Input{Log: logOf("deceleration", list), Measure: decel, Control: "K"})
	same(t, "everything in", plain, both.All, keep)
	never := logOf("deceleration", list)
	never.Observations = slices.DeleteFunc(never.Observations, func(o programme.Observation) bool { return o.Run == "s2/3" })
	same(t, "left out", mustCompare(t, Input{Log: never, Measure: decel, Control: "K"}), both.Result, keep)
	if n := len(both.Result.Excluded); n != 1 || !both.Result.Stints[1].Runs[2].Excluded || both.Result.Stints[1].Runs[2].Reason != "puddle" {
		t.Errorf("%d exclusions", n)
	}
	if !both.Result.Caveats.Has("unequal_runs") {
		t.Error("unequal runs without a word")
	}
	log.Exclusions[0].Reason = " "
	if _, err := Compare(Input{Log: log, Measure: decel, Control: "K"}); fault.CodeOf(err) != fault.Invalid {
		t.Error("an exclusion without a reason passed")
	}
	log.Exclusions = []programme.Exclusion{{Run: "s2/3", Measure: "another", Reason: "x"}}
	if b, err := CompareBoth(Input{Log: log, Measure: decel, Control: "K"}); err != nil || b.All != nil {
		t.Error("an exclusion from another measure was taken for one of this", err)
	}
}

func TestJudge(t *testing.T) {
	p := func(x float64) *float64 { return &x }
	for _, c := range []struct {
		est, low, high float64
		margin         *float64
		want           Word
	}{
		{2, 1, 3, nil, Better}, {2, 1, 3, p(1), Better}, {2, 1, 3, p(4), BetterLessThanMargin}, {-2, -3, -1, nil, Worse}, {-2, -3, -1, p(4), WorseLessThanMargin},
		{0.1, -0.5, 0.7, p(1), Same}, {0.1, -0.5, 0.7, p(0.6), NotShown}, {0.1, -0.5, 0.7, nil, NotShown}, {1, 0, 2, nil, NotShown}, {0.5, 0.1, 1, p(1), Better},
	} {
		if v := Judge(Grounds{Estimate: &c.est, Low: &c.low, High: &c.high, Margin: c.margin, Directed: true}); v.Word != c.want {
			t.Errorf("%+v: %s", c, v.Word)
		}
	}
	e := 1.0
	for _, v := range []Verdict{{}, Judge(Grounds{}), Judge(Grounds{Estimate: &e, Low: p(0.5), High: p(2)})} {
		if v.Word.String() != "not computed" || v.Word.Key() != "not_computed" {
			t.Errorf("%+v reads %q", v, v.Word)
		}
	}
	if v := Judge(Grounds{Estimate: &e, Directed: true}); v.Word != NotShown || v.Because == "" {
		t.Errorf("an estimate without an interval: %+v", v)
	}
	if v := Judge(Grounds{Estimate: &e, Low: p(0.5), High: p(2), Directed: true, Withheld: "open"}); v.Word != NotShown || v.Because != "open" {
		t.Errorf("withheld: %+v", v)
	}
	// One side: better can be shown, worse cannot.
	if v := Judge(Grounds{Estimate: &e, Low: p(0.5), Directed: true, Margin: p(3)}); v.Word != Better {
		t.Errorf("one side: %s", v.Word)
	}
	for w := NotComputed; w <= Worse; w++ {
		b, _ := w.MarshalText()
		var back Word
		if err := back.UnmarshalText(b); err != nil || back != w {
			t.Errorf("%s does not read back", b)
		}
	}
}

// Margins: index points on the log scale, symmetric as ratios; the unit for
// differences.
func TestMargins(t *testing.T) {
	log := logOf("deceleration", day(9))
	r := mustCompare(t, Input{Log: log, Measure: decel, Control: "K", Settings: Settings{Drift: Linear, Margin: &Margin{Value: 25}}})
	if m := r.Rows[0].Verdict.Margin; !near(*m, math.Log(1.25), 1e-15) {
		t.Errorf("margin %v", *m)
	}
	for _, row := range r.Rows {
		if !slices.Contains([]Word{Same, BetterLessThanMargin, WorseLessThanMargin}, row.Verdict.Word) {
			t.Errorf("%s inside a quarter: %s (%v to %v)", row.Code, row.Verdict.Word, *row.IndexLow, *row.IndexHigh)
		}
	}
	r = mustCompare(t, Input{Log: log, Measure: decel, Control: "K", Settings: Settings{Margin: &Margin{Value: 0.75, InUnit: true}, Reference: StatedLevel, StatedLevel: is(7.5)}})
	if m := r.Rows[0].Verdict.Margin; !near(*m, math.Log(1.1), 1e-15) {
		t.Errorf("margin in the unit %v", *m)
	}
	_, err := Compare(Input{Log: log, Measure: decel, Control: "K", Settings: Settings{Scale: programme.Difference, Margin: &Margin{Value: 1}}})
	if fault.CodeOf(err) != fault.Invalid || fault.HintOf(err) == "" {
		t.Errorf("index points for a difference: %v", err)
	}
}

// One-sided intervals are narrower on their side, and have no other.
func TestOneSide(t *testing.T) {
	in := Input{Log: logOf("deceleration", day(10)), Measure: decel, Control: "K"}
	two := mustCompare(t, in)
	in.Settings.Sided = OneSided
	one := mustCompare(t, in)
	for i := range one.Rows {
		if a, b := one.Rows[i], two.Rows[i]; a.IndexHigh != nil || *a.IndexLow <= *b.IndexLow || *a.Detectable >= *b.Detectable {
			t.Errorf("%+v", a)
		}
	}
}

// Where the difference is the smallest detectable one, a simulated programme
// shows it with the stated power.
func TestDetectableIsDetected(t *testing.T) {
	const programmes, sd = 4000, 0.03
	r := rand.New(rand.NewPCG(11, 3))
	order := strings.Split("K P W K W P K P W K", " ")
	draw := func(d float64) *Result {
		var list []driven
		for i, code := range order {
			v := 7 + sd*r.NormFloat64() - 0.01*float64(i)
			if code == "P" {
				v += d
			}
			list = append(list, driven{code: code, values: []float64{v}})
		}
		res, err := Compare(Input{Log: logOf("gain", list), Measure: gain, Control: "K", Settings: Settings{Drift: Linear, Quick: true}})
		if err != nil {
			t.Fatal(err)
		}
		return res
	}
	first := draw(0)
	d := *first.row(t, "P").Detectable / *first.Error.SD * sd // for the true scatter
	shown, held, wrong := 0, 0, 0
	for range programmes {
		res := draw(d)
		if res.row(t, "P").Verdict.Word == Better {
			shown++
		}
		p, w := res.row(t, "P"), res.row(t, "W")
		if *p.DiffLow <= d && d <= *p.DiffHigh && *w.DiffLow <= 0 && 0 <= *w.DiffHigh {
			held++
		}
		if w.Verdict.Word != NotShown {
			wrong++
		}
	}
	// 4 standard errors of 4,000 programmes: 0.025 at 0.8, 0.014 at 0.95.
	if got := float64(shown) / programmes; math.Abs(got-0.8) > 0.026 {
		t.Errorf("shown in %.3f of programmes, not in 0.8", got)
	}
	if got := float64(held) / programmes; math.Abs(got-0.95) > 0.014 {
		t.Errorf("all intervals hold in %.3f of programmes, not in 0.95", got)
	}
	if got := float64(wrong) / programmes; got > 0.05 {
		t.Errorf("a candidate that is no different is shown in %.3f", got)
	}
}

// If the control shows drift: corrected; if it is level: not, and both say so.
func TestOnlyIfShown(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	flat := made(func(float64) float64 { return 0.02 * r.NormFloat64() }, false)
	steep := made(func(x float64) float64 { return -0.05*x + 0.02*r.NormFloat64() }, false)
	for _, d := range []Drift{Bracket, Linear, Quadratic} {
		in := Input{Log: logOf("gain", flat), Measure: gain, Control: "K", Settings: Settings{Drift: d, When: IfShown}}
		a := mustCompare(t, in)
		in.Log = logOf("gain", steep)
		b := mustCompare(t, in)
		if a.Corrected || !b.Corrected || !a.Caveats.Has("corrected_only_if_shown") || !b.Caveats.Has("corrected_only_if_shown") {
			t.Errorf("%s: flat corrected %v (p %v), steep corrected %v", d, a.Corrected, a.Controls.Test, b.Corrected)
		}
	}
}

// A control that is level is taken for one that drifts in no more than 1 of 20
// programmes, by either of a bracket's two tests; one that wanders without a trend
// is found by the second, which the first alone misses.
func TestShownByNeighbours(t *testing.T) {
	const n = 300
	r := rand.New(rand.NewPCG(44, 1))
	share := func(d Drift, walk float64) float64 {
		shown := 0
		for range n {
			level := 0.0
			var list []driven
			for i := range 19 {
				level += walk * r.NormFloat64()
				code := "K"
				if i%2 == 1 {
					code = "P"
				}
				list = append(list, driven{code: code, values: []float64{7 + level + 0.05*r.NormFloat64()}})
			}
			res, err := Compare(Input{Log: logOf("gain", list), Measure: gain, Control: "K", Settings: Settings{Drift: d, When: IfShown, Quick: true}})
			if err != nil {
				t.Fatal(err)
			}
			if res.Corrected {
				shown++
			}
		}
		return float64(shown) / n
	}
	// 4 standard errors of 300 programmes at 0.05: 0.05.
	if got := share(Bracket, 0); got > 0.10 {
		t.Errorf("a level control drifts in %.3f of programmes", got)
	}
	if line, bracket := share(Linear, 0.05), share(Bracket, 0.05); bracket < line {
		t.Errorf("a wandering control is found in %.3f by neighbours, in %.3f by the line alone", bracket, line)
	}
}

// Stints of one candidate are averaged as logarithms: 7.80 against 7.47 and 7.71
// against 7.395 are ratios of 1.044177 and 1.042596, their geometric mean
// 1.043386.
func TestRepeatsAreAveragedAsLogarithms(t *testing.T) {
	r := mustCompare(t, Input{Log: logOf("deceleration", seq("K P K P K", 7.50, 7.80, 7.44, 7.71, 7.35)), Measure: decel, Control: "K"})
	if got := *r.Rows[0].Index; math.Abs(got-104.3386) > 5e-5 {
		t.Errorf("index %v", got)
	}
	// 1/2 each for the stints; a quarter, a half and a quarter of the controls.
	if got := r.Rows[0].Variance; !near(got, 0.5+1./16+1./4+1./16, 1e-15) {
		t.Errorf("variance %v", got)
	}
}

// A control that shifts at once draws a caveat that says where; one that only
// drifts does not.
func TestSuddenShift(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 9))
	var step, line []driven
	for i := range 21 {
		code := "K"
		if i%2 == 1 {
			code = "P"
		}
		e := 0.01 * r.NormFloat64()
		s := 7 + e
		if i >= 11 {
			s -= 0.5
		}
		step = append(step, driven{code: code, values: []float64{s}})
		line = append(line, driven{code: code, values: []float64{7 - 0.05*float64(i) + e}})
	}
	a := mustCompare(t, Input{Log: logOf("gain", step), Measure: gain, Control: "K", Settings: Settings{Drift: Linear}})
	if !a.Caveats.Has("sudden_shift") || a.Controls.Shift.From != 11 || a.Controls.Shift.To != 13 {
		t.Errorf("the step was not found: %+v", a.Controls.Shift)
	}
	if got := strings.Join(a.Controls.ShiftStints, " "); got != "s11 s12 s13" {
		t.Errorf("the shift lies among %s", got)
	}
	if a.Controls.Curvature == nil || a.Controls.LagOne == nil || a.Controls.LagOne.R < 0.5 {
		t.Errorf("the evidence of drift: %+v", a.Controls)
	}
	b := mustCompare(t, Input{Log: logOf("gain", line), Measure: gain, Control: "K", Settings: Settings{Drift: Linear}})
	if b.Caveats.Has("sudden_shift") {
		t.Errorf("a drift was taken for a shift: %+v", b.Controls.Shift)
	}
	// A break declared where it shifted leaves nothing to find, and the search
	// looks on either side of it.
	broken := slices.Clone(step)
	broken[11].code, broken[11].stop, broken[12].code, broken[10].code = "K", true, "P", "K"
	c := mustCompare(t, Input{Log: logOf("gain", broken), Measure: gain, Control: "K", Settings: Settings{Drift: Linear}})
	if c.Caveats.Has("sudden_shift") || c.Controls.Shift == nil {
		t.Errorf("a declared break was taken for a shift: %+v", c.Controls.Shift)
	}
}
