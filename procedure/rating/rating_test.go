package rating

import (
	"math"
	"strings"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/internal/golden"
	"example.org/bookend/procedure"
	"example.org/bookend/procedure/proceduretest"
	"example.org/bookend/programme"
)

func input(t testing.TB, points string, list ...programme.Rating) procedure.Input {
	t.Helper()
	p, err := spec.Settings([]programme.Setting{{ID: "points", Word: points}})
	if err != nil {
		t.Fatal(err)
	}
	return procedure.Input{Run: "s1/sheet", Parameters: p, Ratings: list}
}

// sheet rates every attribute.
func sheet(rater string, value float64) []programme.Rating {
	var out []programme.Rating
	for _, m := range spec.Measures {
		v := value
		if m.Better == programme.Nearest {
			v = -0.5
		}
		out = append(out, programme.Rating{Stint: "s1", Rater: rater, Attribute: m.Title, Value: v})
	}
	return out
}

// The trade's sheet: its attributes, and of which kind each is.
func TestAttributesOfTheSheet(t *testing.T) {
	golden.Run(t, "common-practice", "sheet", func(t *testing.T, c *golden.Case) {
		var q struct {
			Best   []string  `json:"best_at_the_top"`
			Middle []string  `json:"best_in_the_middle"`
			Scale  []float64 `json:"scale"`
			Ends   []float64 `json:"balance"`
		}
		c.JSON(t, "case.json", &q)
		for _, name := range q.Best {
			m, ok := Find(name)
			if !ok || m.Better != programme.Higher || m.Scale != programme.Difference {
				t.Errorf("%s: %v, better %s", name, ok, m.Better)
				continue
			}
			low, high := Bounds(m)
			c.Near(t, name, low, q.Scale[0])
			c.Near(t, name, high, q.Scale[1])
		}
		for _, name := range q.Middle {
			m, ok := Find(name)
			if !ok || m.Better != programme.Nearest || m.Target == nil || *m.Target != 0 {
				t.Errorf("%s: %v, better %s", name, ok, m.Better)
				continue
			}
			low, high := Bounds(m)
			c.Near(t, name, low, q.Ends[0])
			c.Near(t, name, high, q.Ends[1])
		}
	})
}

// However an attribute is written, it is the same one.
func TestSpellings(t *testing.T) {
	for _, name := range []string{"On-centre feel", "on centre feel", "ON_CENTRE_FEEL", "Steering: on-centre feel", " on-centre\u00a0feel "} {
		if m, ok := Find(name); !ok || m.ID != "rated_on_centre_feel" {
			t.Errorf("%q is %v", name, m.ID)
		}
	}
	for _, name := range []string{"", "feel", "on-centre", "colour"} {
		if m, ok := Find(name); ok {
			t.Errorf("%q is %s", name, m.ID)
		}
	}
}

// Values are kept as written, in their order, each with its rater.
func TestASheetIsKept(t *testing.T) {
	in := input(t, quarterPoints,
		programme.Rating{Stint: "s1", Rater: "Ines", Attribute: "Precision", Value: 7.25, Remark: "vague beyond a quarter turn"},
		programme.Rating{Stint: "s1", Rater: "Marek", Attribute: "precision", Value: 6.5},
		programme.Rating{Stint: "s1", Rater: "Ines", Attribute: "balance at entry", Value: -1.5},
		programme.Rating{Stint: "s1", Rater: "Ines", Attribute: "colour", Value: 3})
	out, err := New().Reduce(in)
	if err != nil {
		t.Fatal(err)
	}
	if len(out.Observations) != 3 || !out.Caveats.Has("attribute_unknown") {
		t.Fatalf("%v, %v", out.Observations, out.Caveats)
	}
	for i, want := range []programme.Observation{{Measure: "rated_precision", Rater: "Ines", Value: 7.25}, {Measure: "rated_precision", Rater: "Marek", Value: 6.5}, {Measure: "rated_balance_at_entry", Rater: "Ines", Value: -1.5}} {
		if o := out.Observations[i]; o.Measure != want.Measure || o.Rater != want.Rater || o.Value != want.Value || o.Run != in.Run {
			t.Errorf("%v, want %v", o, want)
		}
	}
	if q := out.Observations[0].Caveats; !q.Has("remark") || !strings.Contains(q[0].Text, "vague") {
		t.Errorf("the remark is lost: %v", q)
	}
}

func TestWhatIsNoRating(t *testing.T) {
	one := func(attribute string, v float64) programme.Rating {
		return programme.Rating{Stint: "s1", Rater: "Ines", Attribute: attribute, Value: v}
	}
	nobody := one("precision", 7)
	nobody.Rater = ""
	for name, in := range map[string]procedure.Input{
		"no sheet":           input(t, quarterPoints),
		"eleven":             input(t, quarterPoints, one("precision", 11)),
		"half a point":       input(t, quarterPoints, one("precision", 0.5)),
		"a third":            input(t, quarterPoints, one("precision", 7.3)),
		"a quarter of halfs": input(t, halfPoints, one("precision", 7.25)),
		"a half of wholes":   input(t, wholePoints, one("precision", 7.5)),
		"too much oversteer": input(t, quarterPoints, one("balance at exit", 3.5)),
		"not a number":       input(t, quarterPoints, one("precision", math.NaN())),
		"twice":              input(t, quarterPoints, one("precision", 7), one("Precision", 8)),
		"nobody":             input(t, quarterPoints, nobody),
	} {
		if _, err := New().Reduce(in); fault.CodeOf(err) != fault.Invalid || fault.HintOf(err) == "" {
			t.Errorf("%s: %v (hint %q)", name, err, fault.HintOf(err))
		}
	}
}

func TestConformance(t *testing.T) {
	proceduretest.Run(t, proceduretest.Suite{
		Procedure: New(),
		Cases: []proceduretest.Case{
			{Name: "two raters", Input: input(t, quarterPoints, append(sheet("Ines", 6.75), sheet("Marek", 7.25)...)...)},
			{Name: "half points", Input: input(t, halfPoints, sheet("Ines", 6.5)...)},
		},
	})
}
