package compare

import (
	"slices"
	"strings"
	"testing"

	"example.org/bookend/compare/edition"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

// The evaluator's own limits and other editions' stand beside those that the
// comparison follows, each with its clause; none of them changes a verdict.
func TestProfilesSideBySide(t *testing.T) {
	steady := []float64{36.1, 35.9, 36.0, 36.1, 35.9, 36.0}
	loose := []float64{36.1, 34.9, 38.2, 36.1, 35.4, 36.6} // 3.1 per cent
	m := programme.Measure{ID: "distance", Unit: "m", Better: programme.Lower, Scale: programme.Ratio}
	mine := programme.Profile{ID: "skerry-moor", Title: "Skerry Moor, wet", Limits: []programme.Limit{
		{Field: "cv", High: is(2), Of: "candidate", Unit: "%"},
		{Field: "wind_mps", High: is(5), Unit: "m/s", Source: programme.Source{Key: programme.CommonPractice}, Stands: "wait"},
		{Field: "reference_shift", High: is(1), Unit: "%", Stands: "drive the bracket again"},
	}}
	log := logOf("distance", []driven{{code: "K", values: steady}, {code: "P", values: loose}, {code: "K", values: steady}})
	s := Settings{Profile: &ProfileSettings{ID: "r117-02-c1-vehicle", Value: Distance}}
	plain := mustCompare(t, Input{Log: log, Measure: m, Control: "K", Settings: s})
	s.Profiles = []programme.Profile{mine, {ID: "r117-later-c1-vehicle"}}
	given := slices.Clone(s.Profiles[0].Limits)
	r := mustCompare(t, Input{Log: log, Measure: m, Control: "K", Settings: s})
	if r.Rows[0].Verdict.Word != plain.Rows[0].Verdict.Word || *r.Rows[0].Index != *plain.Rows[0].Index || r.Block.Rows[0].Stands != plain.Block.Rows[0].Stands {
		t.Error("a profile beside changed the comparison")
	}
	if given[0].Source.Key != "" || s.Profiles[0].Limits[0].Per != "" {
		t.Error("what was given was changed")
	}
	lines := edition.SideBySide(r.Validity)
	i := slices.IndexFunc(lines, func(l edition.Line) bool { return l.Field == "cv" && l.Of == "candidate" })
	if i < 0 {
		t.Fatalf("%+v", lines)
	}
	got := ""
	for _, c := range lines[i].Cells {
		got += c.Profile + " "
		if c.Source.Key == "" || c.Source.Clause == "" || c.Stands == "" {
			t.Errorf("a limit without its clause: %+v", c)
		}
		want := map[string]int{"skerry-moor": 1, "r117-02-c1-vehicle": 1}[c.Profile]
		if c.Broken != want || c.Broken+c.Within != 1 || (c.Worst != nil) != (want == 1) {
			t.Errorf("%s: %+v", c.Profile, c)
		}
	}
	if got != "skerry-moor r117-later-c1-vehicle r117-02-c1-vehicle " {
		t.Errorf("side by side: %s", got)
	}
	if i := slices.IndexFunc(lines, func(l edition.Line) bool { return l.Field == "wind_mps" }); i < 0 || lines[i].Cells[0].Missing != 18 {
		t.Errorf("%+v", lines)
	}
	spelt := ""
	for _, x := range r.Spelled {
		if x.Key == "profile_beside" {
			id, _, _ := strings.Cut(x.Value, " ") // own limits have their hash behind it
			spelt += id + " "
		}
	}
	if spelt != "skerry-moor/1 r117-later-c1-vehicle/1 " {
		t.Errorf("spelt out: %s", spelt)
	}
}

func TestProfilesRefused(t *testing.T) {
	log := logOf("deceleration", seq("K P K", 7, 7.2, 7.1))
	one := func(l programme.Limit) []programme.Profile {
		return []programme.Profile{{ID: "mine", Limits: []programme.Limit{l}}}
	}
	for _, c := range []struct {
		name     string
		profiles []programme.Profile
		code     fault.Code
		says     string
	}{
		{"no id", []programme.Profile{{}}, fault.Invalid, "name"},
		{"no limits", []programme.Profile{{ID: "mine"}}, fault.NotFound, "r117-02-c1-vehicle"},
		{"a published one changed", []programme.Profile{{ID: "r117-c1-snow-brake", Limits: []programme.Limit{{Field: "cv", High: is(9)}}}}, fault.Conflict, "of its own"},
		{"twice", []programme.Profile{{ID: "r117-c1-snow-brake"}, {ID: "r117-c1-snow-brake"}}, fault.Invalid, "twice"},
		{"no field", one(programme.Limit{High: is(1)}), fault.Invalid, "column"},
		{"no bound", one(programme.Limit{Field: "cv"}), fault.Invalid, "bound"},
		{"turned round", one(programme.Limit{Field: "cv", Low: is(2), High: is(1)}), fault.Invalid, "below"},
		{"per lap of honour", one(programme.Limit{Field: "cv", High: is(2), Per: "run"}), fault.Invalid, "stint"},
		{"of the driver", one(programme.Limit{Field: "wind_mps", High: is(2), Of: "driver"}), fault.Invalid, "candidate"},
		{"a source without a clause", one(programme.Limit{Field: "wind_mps", High: is(2), Source: programme.Source{Key: "iso-7401"}}), fault.Invalid, "clause"},
	} {
		_, err := Compare(Input{Log: log, Measure: decel, Control: "K", Settings: Settings{Profiles: c.profiles}})
		if fault.CodeOf(err) != c.code || !strings.Contains(err.Error()+" "+fault.HintOf(err), c.says) {
			t.Errorf("%s: %v (%s)", c.name, err, fault.HintOf(err))
		}
	}
}
