package compare

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"example.org/bookend/compare/budget"
)

func budgetOf(t *testing.T, r *Result, code string) *budget.Row {
	t.Helper()
	for i := range r.Budget {
		if r.Budget[i].Code == code {
			return &r.Budget[i]
		}
	}
	t.Fatalf("no budget of %s", code)
	return nil
}

func shareOf(b *budget.Row, key budget.Key) float64 {
	for _, p := range b.Parts {
		if p.Key == key {
			return p.Share
		}
	}
	return 0
}

// Between two controls at a third of the way a candidate's variance is 1 + 4/9 +
// 1/9; against the mean of three controls it would be 1 + 1/3: the difference is
// what the drift costs. Analytic.
func TestBudgetOfABracket(t *testing.T) {
	r := mustCompare(t, Input{Log: logOf("deceleration", seq("K P W K R T K", 7, 7.3, 7.4, 7.12, 7.22, 7.5, 7.05)), Measure: decel, Control: "K"})
	for _, code := range strings.Fields("P W R T") {
		b := budgetOf(t, r, code)
		for key, want := range map[budget.Key]float64{budget.OwnStints: 9. / 14, budget.ControlStints: 3. / 14, budget.Drift: 2. / 14} {
			if got := shareOf(b, key); !near(got, want, 1e-12) {
				t.Errorf("%s: %s is %v, want %v", code, key, got, want)
			}
		}
		if b.Told || !near(b.Variance, *r.row(t, code).SE**r.row(t, code).SE, 1e-12) {
			t.Errorf("%s: %+v", code, b)
		}
	}
	if got := budgetOf(t, r, "P").Words()[0]; got != "Of the variance behind the interval of P, 64 % is how P's own stints scatter, 21 % is how the control's stints scatter and 14 % is what taking the drift out costs. Runs are not told apart from their stints." {
		t.Errorf("%s", got)
	}
}

// What is driven on in thought is what driving it gives: half-widths in standard
// deviations of a stint.
func TestRemediesAreWhatDrivingThemGives(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	order := strings.Fields("K P R K T W K")
	drive := func(order []string, d Drift, at map[int]float64) *Result {
		var list []driven
		for i, c := range order {
			list = append(list, driven{code: c, values: []float64{7 + 0.1*r.NormFloat64()}, position: float64(i + 1)})
			if p, ok := at[i]; ok {
				list[i].position = p
			}
		}
		return mustCompare(t, Input{Log: logOf("gain", list), Measure: gain, Control: "K", Settings: Settings{Drift: d}})
	}
	half := func(r *Result, code string) float64 {
		row := r.row(t, code)
		return (*row.DiffHigh - *row.DiffLow) / 2 / *r.Error.SD
	}
	for _, d := range []Drift{NoDrift, Bracket, Linear} {
		now := drive(order, d, nil)
		for _, c := range []struct {
			key   string
			order []string
			at    map[int]float64
			codes string
		}{
			{"control_at_end", append(slices.Clone(order), "K"), nil, "P R T W"},
			{"candidate_again", append(slices.Clone(order), "T", "K"), nil, "T"},
			{"all_again", append(slices.Clone(order), "W", "T", "R", "P", "K"), nil, "P R T W"},
			{"control_in_bracket", strings.Fields("K P K R K T W K"), map[int]float64{2: 2.5, 3: 3, 4: 4, 5: 5, 6: 6, 7: 7}, "P R T W"},
		} {
			then := drive(c.order, d, c.at)
			for _, code := range strings.Fields(c.codes) {
				want := 100 * (1 - half(then, code)/half(now, code))
				found := false
				for _, m := range budgetOf(t, now, code).Remedies {
					if m.Key == c.key {
						found = true
						if math.Abs(m.Narrower-want) > 1e-3 || m.Stints != len(c.order)-len(order) {
							t.Errorf("%s, %s, %s: %v in %d stints, want %v", d, c.key, code, m.Narrower, m.Stints, want)
						}
					}
				}
				if !found {
					t.Errorf("%s: no remedy %s for %s", d, c.key, code)
				}
			}
		}
	}
}

// The parts of a budget are the whole, whatever the error is made of.
func TestBudgetsAddUp(t *testing.T) {
	rec, short := ground(rand.New(rand.NewPCG(8, 8)), 6, 4, 0.1, 0.1)
	days := append(day(5), day(6)...)
	for i := range days {
		days[i].block = []string{"monday", "tuesday"}[i/13]
	}
	unequal := day(7)
	for i := range unequal {
		unequal[i].values = unequal[i].values[:2+i%4]
	}
	sets := day(9)
	for i := range sets {
		sets[i].set = sets[i].code + []string{"1", "2"}[i%3%2]
	}
	sd, walk := 0.02, 0.01
	for _, c := range []struct {
		name string
		list []driven
		rec  *Record
		s    Settings
		has  []budget.Key
	}{
		{"plain", day(3), nil, Settings{}, []budget.Key{budget.Runs, budget.Drift}},
		{"line", day(3), nil, Settings{Drift: Linear}, []budget.Key{budget.OwnStints, budget.ControlStints}},
		{"no correction", day(3), nil, Settings{Drift: NoDrift}, []budget.Key{budget.OwnStints}},
		{"unequal runs", unequal, nil, Settings{Drift: Linear, Scale: "difference"}, nil},
		{"days", days, nil, Settings{Drift: Linear}, nil},
		{"sets", sets, nil, Settings{Drift: Linear}, nil},
		{"stated sets", day(3), nil, Settings{SetSD: &sd, SetSDSource: "stated"}, []budget.Key{budget.Sets}},
		{"record", short, rec, Settings{Scale: "difference"}, []budget.Key{budget.OwnStints, budget.Drift}},
		{"open", append(day(3), driven{code: "Z", values: []float64{7.6, 7.7}}), nil, Settings{DriftSD: &walk}, nil},
	} {
		r := mustCompare(t, Input{Log: logOf("deceleration", c.list), Measure: decel, Control: "K", Record: c.rec, Settings: c.s})
		if len(r.Budget) != len(r.Joint.Codes) {
			t.Fatalf("%s: %d budgets of %d", c.name, len(r.Budget), len(r.Joint.Codes))
		}
		for i := range r.Budget {
			b := &r.Budget[i]
			share, variance := 0.0, 0.0
			for _, p := range b.Parts {
				share, variance = share+p.Share, variance+p.Variance
				if p.Variance < 0 {
					t.Errorf("%s, %s: %+v", c.name, b.Code, p)
				}
			}
			// Kenward and Roger's covariance may be a little less than the plain one.
			if !near(share, 1, 1e-12) || math.Abs(variance-b.Variance) > 0.02*b.Variance {
				t.Errorf("%s, %s: the parts make %v of %v", c.name, b.Code, variance, b.Variance)
			}
			for _, key := range c.has {
				if shareOf(b, key) == 0 {
					t.Errorf("%s, %s: nothing is said of %s: %+v", c.name, b.Code, key, b.Parts)
				}
			}
			if u := b.Unborrowed; (u != nil) != (c.name == "record") || u != nil && (*u < 1.5 || !strings.Contains(strings.Join(b.Words(), " "), "times as wide")) {
				t.Errorf("%s, %s: without the record %v: %v", c.name, b.Code, u, b.Words())
			}
			if b.Known == nil || *b.Known > 1 || len(b.Remedies) == 0 || len(b.Words()) < 2 {
				t.Errorf("%s, %s: %+v", c.name, b.Code, b)
			}
		}
	}
}

// Uncertainties that the observations state are part of the runs' scatter, not
// added to it: those of n runs in each of the two means and the two controls.
func TestMeasurementInTheBudget(t *testing.T) {
	list := day(11)
	log := logOf("deceleration", list)
	u := 0.02
	for i := range log.Observations {
		log.Observations[i].Uncertainty = &u
	}
	in := Input{Log: log, Measure: decel, Control: "K", Settings: Settings{Drift: NoDrift, Scale: "difference"}}
	r := mustCompare(t, in)
	bare := in
	bare.Log = logOf("deceleration", list)
	b := budgetOf(t, r, "P")
	if *r.row(t, "P").SE != *mustCompare(t, bare).row(t, "P").SE {
		t.Error("a stated uncertainty changed the interval")
	}
	// P in two stints of 5 runs, the control in seven.
	want := u * u * (1./10 + 1./35)
	for _, p := range b.Parts {
		if p.Key == budget.Measurement && !near(p.Variance, want, 1e-12) {
			t.Errorf("measurement %v, want %v", p.Variance, want)
		}
	}
	if shareOf(b, budget.Measurement) == 0 {
		t.Errorf("%+v", b.Parts)
	}
}
