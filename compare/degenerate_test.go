package compare

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

func seq(order string, values ...float64) []driven {
	var list []driven
	for i, code := range strings.Fields(order) {
		list = append(list, driven{code: code, values: []float64{values[i%len(values)]}})
	}
	return list
}

// Input that cannot be compared is a fault with its place and a hint.
func TestRefused(t *testing.T) {
	two := seq("K P K", 7, 7.2, 7.1)
	negative := seq("K P K", 7, -7.2, 7.1)
	for _, c := range []struct {
		name    string
		list    []driven
		control string
		s       Settings
		code    fault.Code
		says    string
	}{
		{"no control named", two, "", Settings{}, fault.Invalid, "K, P"},
		{"no such control", two, "Q", Settings{}, fault.NotFound, "K, P"},
		{"only one control", seq("K P W", 7, 7.2, 7.3), "K", Settings{}, fault.Invalid, "runs.csv:2"},
		{"only one control, line", seq("K P W", 7, 7.2, 7.3), "K", Settings{Drift: Linear}, fault.Invalid, "--drift none"},
		{"only the control", seq("K K", 7, 7.1), "K", Settings{}, fault.Invalid, "candidate"},
		{"candidate first", seq("P K W K", 7, 7.1, 7.2, 7.3), "K", Settings{}, fault.Invalid, "before the first control"},
		{"candidate first, line", seq("P K W K K", 7, 7.1, 7.2, 7.3, 7.2), "K", Settings{Drift: Linear}, fault.Invalid, "runs.csv:2"},
		{"parabola with three controls", seq("K P K W K", 7, 7.1, 7.2, 7.3, 7.1), "K", Settings{Drift: Quadratic}, fault.Invalid, "at least 4 control"},
		{"negative ratio", negative, "K", Settings{}, fault.Invalid, "runs.csv:3"},
		{"not a number", seq("K P K", 7, math.NaN(), 7.1), "K", Settings{}, fault.Invalid, "runs.csv:3"},
		{"infinity", seq("K P K", 7, math.Inf(1), 7.1), "K", Settings{}, fault.Invalid, "runs.csv:3"},
		{"too large for squares", seq("K P K", 7, 1e200, 7.1), "K", Settings{}, fault.Invalid, "runs.csv:3"},
		{"no clock", two, "K", Settings{By: ByClock}, fault.Invalid, "clock"},
		{"no covariate", two, "K", Settings{Drift: Linear, Covariates: []string{"wind_mps"}}, fault.Invalid, "wind_mps"},
		{"covariates in a bracket", two, "K", Settings{Drift: Bracket, Covariates: []string{"wind_mps"}}, fault.Invalid, "bracket"},
		{"if shown, block by block", two, "K", Settings{Drift: Linear, DriftPerBlock: Linear, When: IfShown}, fault.Invalid, "not tested"},
		{"if shown, but how", two, "K", Settings{Drift: NoDrift, When: IfShown}, fault.Invalid, "how"},
		{"no such scale", two, "K", Settings{Scale: "area"}, fault.Invalid, "threshold"},
		{"a threshold without clean or not", two, "K", Settings{Scale: programme.Threshold}, fault.Invalid, "runs.csv:2"},
		{"a ceiling of nothing", two, "K", Settings{Scale: programme.Threshold, Ceiling: is(0)}, fault.Invalid, "ceiling"},
		{"a profile's threshold", two, "K", Settings{Scale: programme.Threshold, Profile: &ProfileSettings{ID: "r117-02-c1-vehicle"}}, fault.Invalid, "fixes"},
		{"unknown drift", two, "K", Settings{Drift: "cubic"}, fault.Invalid, "linear"},
		{"no such model", two, "K", Settings{Model: "fancy"}, fault.Invalid, "stint_means"},
		{"a set deviation without its source", two, "K", Settings{SetSD: is(0.01)}, fault.Invalid, "source"},
		{"bad confidence", two, "K", Settings{Confidence: 95}, fault.Invalid, "0.95"},
		{"bad margin", two, "K", Settings{Margin: &Margin{Value: -1}}, fault.Invalid, "margin"},
		{"unknown profile", two, "K", Settings{Profile: &ProfileSettings{ID: "r117-99"}}, fault.NotFound, "r117-02-c1-vehicle"},
		{"later series without its table", two, "K", Settings{Profile: &ProfileSettings{ID: "r117-later-c1-vehicle"}}, fault.Unsupported, "table"},
		{"profile and line", two, "K", Settings{Drift: Linear, Profile: &ProfileSettings{ID: "r117-02-c1-vehicle"}}, fault.Invalid, "fixes"},
	} {
		_, err := Compare(Input{Log: logOf("deceleration", c.list), Measure: decel, Control: c.control, Settings: c.s})
		if fault.CodeOf(err) != c.code || !strings.Contains(err.Error()+" "+fault.HintOf(err), c.says) {
			t.Errorf("%s: %q: %v (%s)", c.name, fault.CodeOf(err), err, fault.HintOf(err))
		}
	}
	if _, err := Compare(Input{Measure: decel, Control: "K"}); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("an empty log: %v", err)
	}
	collinear := seq("K P K W K K", 7, 7.1, 7.2, 7.3, 7.1, 7.15)
	for i := range collinear {
		collinear[i].water = []float64{float64(3 - 2*i)}
	}
	_, err := Compare(Input{Log: logOf("deceleration", collinear), Measure: decel, Control: "K", Settings: Settings{Drift: Linear, Covariates: []string{"water_depth_mm"}}})
	if fault.CodeOf(err) != fault.Invalid || !strings.Contains(err.Error(), "water_depth_mm") {
		t.Errorf("a covariate that is the drift itself: %v", err)
	}
	second := two
	log := logOf("deceleration", second)
	log.Stints[1].Position = 1
	if _, err := Compare(Input{Log: log, Measure: decel, Control: "K"}); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("two stints at once: %v", err)
	}
}

// What never differs gives no verdict, and the reason why. Law, by hand.
func TestNothingToCompareWhereEveryRunIsAlike(t *testing.T) {
	for _, v := range []float64{7, 0} {
		set := Settings{}
		if v == 0 {
			set.Scale = programme.Difference
		}
		r, err := Compare(Input{Log: logOf("deceleration", seq("K P K W K", v)), Measure: decel, Control: "K", Settings: set})
		if err != nil {
			t.Fatal(err)
		}
		sane(t, r)
		if r.Alike == nil || *r.Alike != v || r.Caveats.Has("no_scatter") {
			t.Errorf("alike %v, caveats %v", r.Alike, r.Caveats)
		}
		for _, row := range r.Rows {
			if row.Verdict.Word != NotShown || !strings.Contains(row.Verdict.Because, "nothing to compare") {
				t.Errorf("%s: %v, %q", row.Code, row.Verdict.Word, row.Verdict.Because)
			}
		}
	}
	r, err := Compare(Input{Log: logOf("deceleration", seq("K P K W K", 7, 7, 7, 7, 7.1)), Measure: decel, Control: "K"})
	if err != nil || r.Alike != nil {
		t.Errorf("runs that differ are said to be alike: %v", err)
	}
}

// Thin input is compared as far as it goes, and says how far.
func TestThin(t *testing.T) {
	for _, c := range []struct {
		name   string
		list   []driven
		s      Settings
		caveat string
	}{
		{"one bracket", seq("K P K", 7, 7.2, 7.1), Settings{}, "no_degrees_of_freedom"},
		{"controls alike", seq("K P K W K P K", 7, 7.2, 7, 7.3, 7, 7.21, 7), Settings{}, ""},
		{"perfect line", seq("K P K K W K", 7, 7.2, 6.8, 6.7, 6.9, 6.5), Settings{Scale: programme.Difference, Drift: Linear}, "no_scatter"},
		{"one run a stint", seq("K P K W K", 7, 7.2, 7.1, 7.3, 7), Settings{}, "one_run_a_stint"},
		{"only one control, as driven", seq("K P W P", 7, 7.2, 7.1, 7.3), Settings{Drift: NoDrift}, "only_one_control"},
		{"tiny values", seq("K P K W K", 7e-90, 7.2e-90, 7.1e-90, 7.3e-90, 7e-90), Settings{}, ""},
		{"huge values", seq("K P K W K", 7e90, 7.2e90, 7.1e90, 7.3e90, 7e90), Settings{Drift: Linear}, ""},
		{"zero difference", seq("K P K W K", 0, 1, -1, 0, 0), Settings{Scale: programme.Difference}, ""},
		{"wild scatter", seq("K P K W K P K", 1e-80, 1e80, 1, 1e-70, 1e60, 1, 1e50), Settings{Drift: Linear}, ""},
		{"wild scatter in a bracket", seq("K P K W K P K", 1e-80, 1e80, 1, 1e-70, 1e60, 1, 1e50), Settings{}, ""},
	} {
		r, err := Compare(Input{Log: logOf("deceleration", c.list), Measure: decel, Control: "K", Settings: c.s})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		sane(t, r)
		if c.caveat != "" && !r.Caveats.Has(c.caveat) {
			t.Errorf("%s: no caveat %s: %v", c.name, c.caveat, r.Caveats)
		}
		for _, row := range r.Rows {
			if row.Verdict.Estimate == nil {
				t.Errorf("%s: %s has no estimate", c.name, row.Code)
			}
			if (c.caveat == "no_degrees_of_freedom" || c.caveat == "no_scatter") && (row.IndexLow != nil || row.DiffLow != nil || row.Verdict.Word != NotShown || row.Verdict.Because == "") {
				t.Errorf("%s: %+v", c.name, row.Verdict)
			}
		}
	}
}

// A block that no control closes: an estimate against the control before it,
// never a verdict unless the plan allows, and no interval without a size for
// what drifted since.
func TestOpenBlock(t *testing.T) {
	list := seq("K P K P K W", 7, 7.5, 7.02, 7.52, 6.99, 8.5)
	sd := 0.001
	for _, c := range []struct {
		s        Settings
		interval bool
		word     Word
	}{
		{Settings{}, false, NotShown},
		{Settings{DriftSD: &sd}, true, NotShown},
		{Settings{DriftSD: &sd, Open: OpenAllowed}, true, Better},
		{Settings{Open: OpenAllowed}, false, NotShown},
		{Settings{Drift: Linear}, true, NotShown},
		{Settings{Drift: Linear, Open: OpenAllowed}, true, Better},
	} {
		r := mustCompare(t, Input{Log: logOf("deceleration", list), Measure: decel, Control: "K", Settings: c.s})
		w := r.row(t, "W")
		if (w.IndexLow != nil) != c.interval || w.Verdict.Word != c.word || !w.Caveats.Has("open_block") {
			t.Errorf("%+v: %+v, caveats %v", c.s, w.Verdict, w.Caveats)
		}
		if r.row(t, "P").Caveats.Has("open_block") || r.row(t, "P").Verdict.Word != Better {
			t.Errorf("%+v: P: %+v", c.s, r.row(t, "P").Verdict)
		}
	}
	// The drift's variance makes the interval wider: one position on.
	r := mustCompare(t, Input{Log: logOf("deceleration", list), Measure: decel, Control: "K", Settings: Settings{DriftSD: &sd}})
	if got, want := r.row(t, "W").Variance, 2 + sd*sd / *r.Error.SD / *r.Error.SD; !near(got, want, 1e-12) {
		t.Errorf("variance %v, want %v", got, want)
	}
	// One control and no more, where the plan allows it.
	r = mustCompare(t, Input{Log: logOf("deceleration", seq("K P W P", 7, 7.2, 7.1, 7.25)), Measure: decel, Control: "K", Settings: Settings{Open: OpenAllowed}})
	if !r.Caveats.Has("only_one_control") || r.row(t, "P").Verdict.Word != NotShown || r.row(t, "P").Index == nil {
		t.Errorf("%+v", r.Rows)
	}
}

func TestFortyCandidatesAndMore(t *testing.T) {
	for _, n := range []int{40, 45} {
		var list []driven
		for pass := range 2 {
			for i := range n {
				if i%3 == 0 {
					list = append(list, driven{code: "K", values: []float64{7 + 0.01*math.Sin(float64(i+50*pass))}})
				}
				list = append(list, driven{code: fmt.Sprint("C", i), values: []float64{7 + 0.01*float64(i) + 0.01*math.Cos(float64(3*i+pass))}})
			}
		}
		list = append(list, driven{code: "K", values: []float64{7}})
		r := mustCompare(t, Input{Log: logOf("gain", list), Measure: gain, Control: "K", Settings: Settings{Drift: NoDrift, Quick: n == 40}})
		if len(r.Rows) != n || r.Critical == 0 || r.Caveats.Has("bonferroni") != (n > 40) {
			t.Errorf("%d: critical %v by %s", n, r.Critical, r.Method)
		}
	}
}

// Stints without the measure are left out and said; other measures do not care.
func TestMissingCells(t *testing.T) {
	log := logOf("deceleration", day(12))
	log.Observations = log.Observations[:len(log.Observations)-40]
	r, err := Compare(Input{Log: log, Measure: decel, Control: "K", Settings: Settings{Drift: Linear}})
	if err != nil {
		t.Fatal(err)
	}
	sane(t, r)
	if !r.Caveats.Has("stint_without_value") || len(r.Stints) >= 13 {
		t.Errorf("%d stints, %v", len(r.Stints), r.Caveats)
	}
	if _, err := Compare(Input{Log: log, Measure: programme.Measure{ID: "other"}, Control: "K"}); fault.CodeOf(err) != fault.NotFound {
		t.Error(err)
	}
	if _, err := Compare(Input{Log: log, Measure: decel, Place: "sector 9", Control: "K"}); fault.CodeOf(err) != fault.NotFound {
		t.Error(err)
	}
}

func TestRaters(t *testing.T) {
	var log programme.Log
	feel := programme.Measure{ID: "feel", Better: programme.Higher, Scale: programme.Difference, Unit: "1"}
	for i, code := range strings.Fields("K P K P K") {
		id := fmt.Sprint("s", i)
		log.Stints = append(log.Stints, programme.Stint{ID: id, Code: code, Position: float64(i + 1)})
		log.Runs = append(log.Runs, programme.Run{ID: id + "/1", Stint: id})
		for _, r := range []string{"A", "B"} {
			v := 6 + 0.25*float64(i%2) + 0.25*float64(i/3)
			if r == "B" {
				v++
			}
			log.Observations = append(log.Observations, programme.Observation{Run: id + "/1", Measure: "feel", Rater: r, Value: v})
		}
	}
	in := Input{Log: log, Measure: feel, Control: "K"}
	all := mustCompare(t, in)
	in.Rater = "B"
	b := mustCompare(t, in)
	if *all.Rows[0].Difference != *b.Rows[0].Difference || b.Stints[0].Mean != 7 || all.Stints[0].Mean != 6.5 {
		t.Errorf("%v %v", *all.Rows[0].Difference, *b.Rows[0].Difference)
	}
	in.Rater = ""
	in.Log.Observations = log.Observations[1:]
	if _, err := Compare(in); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("a mean of unequals passed: %v", err)
	}
}

// Directions: nearest a target is compared by its distance; without a direction
// there is no better or worse.
func TestDirections(t *testing.T) {
	target := 0.0
	balance := programme.Measure{ID: "balance", Better: programme.Nearest, Target: &target, Scale: programme.Difference}
	list := seq("K P K P K P K", 1, -0.2, 1.1, 0.2, 0.9, -0.25, 1)
	r := mustCompare(t, Input{Log: logOf("balance", list), Measure: balance, Control: "K"})
	if p := r.row(t, "P"); p.Verdict.Word != Better || *p.Difference < 0.7 || *p.Difference > 0.85 {
		t.Errorf("%+v", p.Verdict)
	}
	around := logOf("balance", []driven{{code: "K", values: []float64{1, 1.2}}, {code: "P", values: []float64{-0.2, 0.3}}, {code: "K", values: []float64{1.1, 0.9}}})
	if r := mustCompare(t, Input{Log: around, Measure: balance, Control: "K"}); !r.Caveats.Has("around_the_target") || !near(r.stintOf(t, "P").Mean, 0.25, 1e-12) {
		t.Errorf("runs on both sides of the target: %v", r.Caveats)
	}
	for _, better := range []programme.Better{programme.Undirected, programme.Nearest} {
		m := programme.Measure{ID: "balance", Better: better, Scale: programme.Difference}
		r := mustCompare(t, Input{Log: logOf("balance", list), Measure: m, Control: "K"})
		if p := r.row(t, "P"); p.Verdict.Word != NotComputed || p.DiffLow == nil || p.Verdict.Because == "" {
			t.Errorf("%s: %+v", better, p.Verdict)
		}
	}
}

// Two sets of each make a verdict about the tyre; a set fitted twice does not.
func TestAbout(t *testing.T) {
	list := seq("K P K P K", 7, 7.2, 7.02, 7.21, 7.03)
	for i, s := range []string{"K1", "P1", "K2", "P2", "K1"} {
		list[i].set = s
	}
	about := func() About {
		return mustCompare(t, Input{Log: logOf("deceleration", list), Measure: decel, Control: "K"}).Rows[0].Verdict.About
	}
	if about() != ThisTyre {
		t.Error("two sets of each are about these sets")
	}
	list[3].set = "P1"
	if about() != TheseSets {
		t.Error("a set fitted twice was taken for two")
	}
}

// Limits of profiles and of the evaluator are held, and broken ones discard.
func TestValidity(t *testing.T) {
	steady := []float64{36.1, 35.9, 36.0, 36.1, 35.9, 36.0}
	wild := []float64{36.1, 33, 39, 36.1, 35.9, 36.0}
	late := []float64{40.1, 40, 40.2, 40.1, 40, 40.2}
	m := programme.Measure{ID: "distance", Unit: "m", Better: programme.Lower, Scale: programme.Ratio}
	do := func(a, b, c []float64, extra ...programme.Limit) *Result {
		return mustCompare(t, Input{Log: logOf("distance", []driven{{code: "K", values: a}, {code: "P", values: b}, {code: "K", values: c}}), Measure: m, Control: "K",
			Settings: Settings{Limits: extra, Profile: &ProfileSettings{ID: "r117-02-c1-vehicle", Value: Distance, SurfaceC: map[string]float64{"P": 40}}}})
	}
	if r := do(steady, steady, steady); r.Block.Discarded || r.Block.Rows[0].Stands || !strings.Contains(strings.Join(r.Block.Rows[0].Why, " "), "40 °C") {
		t.Errorf("a surface at 40 °C: %+v", r.Block.Rows[0])
	}
	if r := do(wild, steady, steady); !r.Block.Discarded || r.Block.Rows[0].Stands || !r.Caveats.Has("limit_broken") {
		t.Errorf("a wild reference: %+v", r.Block)
	}
	if r := do(steady, wild, steady); r.Block.Discarded || r.Block.Rows[0].Stands {
		t.Errorf("a wild candidate: %+v", r.Block)
	}
	if r := do(steady, steady, late); r.Block.Discarded || r.Block.Rows[0].Stands {
		t.Errorf("references 10 %% apart: %+v", r.Block)
	}
	own := programme.Limit{Field: "water_depth_mm", High: is(1), Per: "run", Unit: "mm", Source: programme.Source{Key: programme.Own, Clause: "test"}, Stands: "to be looked at"}
	r := mustCompare(t, Input{Log: logOf("distance", []driven{{code: "K", values: steady[:2], water: []float64{0.5, 1.5}}, {code: "P", values: steady[:2], water: []float64{0.5, 0.6}}, {code: "K", values: steady[:2]}}),
		Measure: m, Control: "K", Settings: Settings{Limits: []programme.Limit{own}}})
	var got []programme.Standing
	for _, f := range r.Validity {
		got = append(got, f.Standing)
	}
	if fmt.Sprint(got) != "[within broken within within missing missing]" {
		t.Errorf("%v", got)
	}
	// The later series with a user's own table.
	table := map[string]SecondOrder{"normal": {K: 1.2, A: 0.1, B: 0.002, C: 0.3, D: 0.0001, T0: 20, R0: 0.65, Source: "test"}}
	r = mustCompare(t, Input{Log: logOf("distance", []driven{{code: "K", values: steady}, {code: "P", values: late}, {code: "K", values: steady}}), Measure: m, Control: "K",
		Settings: Settings{Profile: &ProfileSettings{ID: "r117-later-c1-vehicle", Value: Distance, SurfaceC: map[string]float64{"P": 15}, Table: table}}})
	row := r.Block.Rows[0]
	dr, dt := *row.BFCControl-0.65, -5.0
	if want := 1.2 * (row.Ratio - (0.1*dr + 0.002*dt + 0.3*dr*dr + 0.0001*dt*dt)); !near(*row.Index, want, 1e-15) {
		t.Errorf("second order: %v, want %v", *row.Index, want)
	}
	for _, p := range Profiles() {
		for _, l := range p.Limits {
			if l.Source.Key == "" || l.Source.Clause == "" || l.Stands == "" {
				t.Errorf("%s: a limit on %s without its source", p.ID, l.Field)
			}
		}
	}
}

// Every setting is spelt out with its source.
func TestSettingsAreSpeltOut(t *testing.T) {
	r := mustCompare(t, Input{Log: logOf("deceleration", day(1)), Measure: decel, Control: "K"})
	seen := map[string]bool{}
	for _, s := range r.Spelled {
		if s.Source.Key == "" || s.Source.Clause == "" || seen[s.Key] {
			t.Errorf("%+v", s)
		}
		seen[s.Key] = true
	}
	for _, k := range strings.Fields("drift drift_per_block by covariates block scale average reference when shown_level margin sided confidence power open model") {
		if !seen[k] {
			t.Errorf("%s is not spelt out", k)
		}
	}
}
