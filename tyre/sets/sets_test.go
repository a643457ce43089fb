package sets_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"example.org/bookend/fault"
	"example.org/bookend/tyre"
	"example.org/bookend/tyre/sets"
)

func num(v float64) *float64 { return &v }

func size(t *testing.T, text string) tyre.Size {
	t.Helper()
	s, err := tyre.ParseSize(text)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func code(t *testing.T, text string) *tyre.DateCode {
	t.Helper()
	d, err := tyre.ParseDateCode(text)
	if err != nil {
		t.Fatal(err)
	}
	return &d
}

var day = time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)

// sound is a set about which there is nothing to say.
func sound(t *testing.T) *sets.Set {
	s := &sets.Set{ID: "P1", Code: "P", Size: size(t, "205/55 R16 91V"), BreakIn: &sets.BreakIn{Metres: 80e3, Cycles: 1, Rest: 30 * time.Hour}}
	for _, p := range []string{"front left", "front right", "rear left", "rear right"} {
		s.Tyres = append(s.Tyres, sets.Tyre{Position: p, Code: code(t, "2026"), Looks: []sets.Look{{
			At: day, TreadM: [][]float64{{7.9e-3, 8.0e-3}, {8.1e-3, 8.0e-3}, {7.8e-3, 7.9e-3}}, Hardness: []float64{66, 67, 65}, HardnessC: num(20), DelayS: num(3),
			MassKg: num(9.2), DiameterM: num(0.632),
		}}})
	}
	return s
}

// Sums by hand.
func TestTreadAndHardness(t *testing.T) {
	m, ok := sets.TreadOf([][]float64{{8e-3, 7e-3}, {6e-3, 6e-3}, {}})
	if !ok || math.Abs(m.Mean-6.75e-3) > 1e-15 || m.Least != 6e-3 || math.Abs(m.Across-1.5e-3) > 1e-15 || math.Abs(m.Around-1e-3) > 1e-15 || m.Points != 4 {
		t.Errorf("%+v", m)
	}
	if _, ok := sets.TreadOf([][]float64{{}}); ok {
		t.Error("a map without points")
	}
	if mean, spread, ok := sets.Hardness([]float64{66, 68, 64}); !ok || mean != 66 || spread != 4 {
		t.Errorf("%v %v", mean, spread)
	}
}

func TestFlags(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(s *sets.Set)
		want   string
	}{
		{"nothing", func(*sets.Set) {}, ""},
		{"old", func(s *sets.Set) {
			for i := range s.Tyres {
				s.Tyres[i].Code = code(t, "2024")
			}
		}, "old_tyre"},
		{"mixed", func(s *sets.Set) { s.Tyres[1].Code = code(t, "1026") }, "mixed_date_codes"},
		{"one code missing", func(s *sets.Set) { s.Tyres[1].Code = nil }, "date_codes_missing"},
		{"worn", func(s *sets.Set) { s.Tyres[0].Looks[0].TreadM[2][1] = 1.5e-3 }, "tread_below_limit uneven_across uneven_around uneven_axle"},
		{"flat spot", func(s *sets.Set) { s.Tyres[0].Looks[0].TreadM[1][1] = 7.5e-3 }, "uneven_around"},
		{"not measured", func(s *sets.Set) { s.Tyres[0].Looks = nil }, "no_tread"},
		{"few points", func(s *sets.Set) { s.Tyres[0].Looks[0].TreadM = [][]float64{{8e-3}} }, "sparse_tread_map"},
		{"hard", func(s *sets.Set) { s.Tyres[2].Looks[0].Hardness = []float64{70, 71} }, "hardness_differs"},
		{"read otherwise", func(s *sets.Set) { s.Tyres[3].Looks[0].DelayS = num(1) }, "hardness_not_comparable"},
		{"not stated", func(s *sets.Set) { s.Tyres[3].Looks[0].HardnessC = nil }, "hardness_not_stated"},
		{"heavy", func(s *sets.Set) { s.Tyres[3].Looks[0].MassKg = num(9.6) }, "mass_differs"},
		{"another size", func(s *sets.Set) { s.Tyres[3].Looks[0].DiameterM = num(0.66) }, "diameter_off"},
		{"new", func(s *sets.Set) { s.BreakIn = &sets.BreakIn{Metres: 10e3} }, "not_broken_in"},
		{"not rested", func(s *sets.Set) { s.BreakIn.Rest = time.Hour }, "short_rest"},
		{"not told", func(s *sets.Set) { s.BreakIn = nil }, "break_in_not_told"},
	} {
		s := sound(t)
		c.change(s)
		if err := s.Check(); err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
		var got []string
		for _, f := range s.Flags(day, sets.DefaultLimits) {
			got = append(got, f.Code)
		}
		if strings.Join(slices.Compact(got), " ") != c.want {
			t.Errorf("%s: %v, want %s", c.name, got, c.want)
		}
	}
}

// What a set has behind it, by hand, before a moment and in all.
func TestTotals(t *testing.T) {
	s := sound(t)
	at := func(h int) time.Time { return day.Add(time.Duration(h) * time.Hour) }
	s.Uses = []sets.Use{
		{At: at(0), Test: "wet stop", Stint: "s2", By: "A", Runs: 6, Metres: 4e3, Hot: true},
		{At: at(2), Test: "wet stop", Stint: "s7", By: "B", Runs: 6, Metres: 4e3, Hot: true},
		{At: at(5), Test: "lap", Stint: "s3", By: "A", Runs: 4, Metres: 12e3},
	}
	all := s.Totals(time.Time{})
	if all.Uses != 3 || all.Runs != 16 || all.Metres != 100e3 || all.Cycles != 3 || strings.Join(all.By, "") != "AB" || strings.Join(all.Tests, ",") != "wet stop,lap" || !all.First.Equal(at(0)) || !all.Last.Equal(at(5)) {
		t.Errorf("%+v", all)
	}
	if before := s.Totals(at(2)); before.Uses != 1 || before.Metres != 84e3 || before.Cycles != 2 {
		t.Errorf("%+v", before)
	}
	s.Tyres[0].Looks = append(s.Tyres[0].Looks, sets.Look{At: at(6), TreadM: [][]float64{{7.4e-3, 7.5e-3}, {7.6e-3, 7.5e-3}, {7.3e-3, 7.4e-3}}})
	if w := s.Worn(); len(w) != 1 || math.Abs(w["front left"]-0.5e-3) > 1e-12 {
		t.Errorf("%v", w)
	}
}

// A changed tyre makes a new set that names the old one and has no use yet.
func TestChange(t *testing.T) {
	s := sound(t)
	s.Uses = []sets.Use{{At: day, Runs: 6, Metres: 4e3}}
	n, err := s.Change("rear left", sets.Tyre{Code: code(t, "3026")}, "P1-2")
	if err != nil {
		t.Fatal(err)
	}
	if n.From != "P1" || n.Changed != "rear left" || len(n.Uses) != 0 || n.Tyres[2].Code.Week != 30 || s.Tyres[2].Code.Week != 20 {
		t.Errorf("%+v", n)
	}
	found := false
	for _, f := range n.Flags(day, sets.DefaultLimits) {
		found = found || f.Code == "changed_tyre"
	}
	if !found {
		t.Error("a changed tyre is not flagged")
	}
	for _, bad := range [][2]string{{"rear left", "P1"}, {"rear left", ""}, {"roof", "P2"}} {
		if _, err := s.Change(bad[0], sets.Tyre{}, bad[1]); err == nil {
			t.Errorf("%v was taken", bad)
		}
	}
}

func TestRefusals(t *testing.T) {
	for i, change := range []func(s *sets.Set){
		func(s *sets.Set) { s.ID = " " },
		func(s *sets.Set) { s.Tyres[1].Position = "front left" },
		func(s *sets.Set) { s.Tyres[1].Looks[0].TreadM[0][0] = math.NaN() },
		func(s *sets.Set) { s.Tyres[1].Looks[0].Hardness[0] = 120 },
		func(s *sets.Set) { s.Tyres[1].Looks[0].MassKg = num(math.Inf(1)) },
		func(s *sets.Set) { s.Uses = []sets.Use{{Metres: -1}} },
		func(s *sets.Set) { s.Uses = []sets.Use{{At: day}, {At: day.Add(-time.Hour)}} },
		func(s *sets.Set) { s.BreakIn.Cycles = -1 },
		func(s *sets.Set) { s.Tyres[0].Looks[0].HardnessC = num(math.NaN()) },
	} {
		s := sound(t)
		change(s)
		if err := s.Check(); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%d: %v", i, err)
		}
	}
}
