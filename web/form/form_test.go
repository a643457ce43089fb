package form

import (
	"math"
	"net/url"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/unit"
)

// What a fault is about is found by the first part of its place, or by the parameter that it
// names; what is about no field is said of the whole form.
func TestAFaultIsSaidAtItsField(t *testing.T) {
	for _, c := range []struct {
		err              error
		at, wrong, title string
	}{
		{fault.New(fault.Invalid, "%q is no code", "Q 1").At("code").WithHint("a letter"), "code", `"Q 1" is no code: a letter.`, `Code: "Q 1" is no code`},
		{fault.At(fault.New(fault.Invalid, "X is not understood").At("tyre size %q", "X"), "code"), "code", "X is not understood.", "Code: x is not understood"},
		{fault.At(fault.New(fault.Invalid, "there is no gate").At("line 2"), "deep"), "deep", "Line 2: there is no gate.", "Deep: line 2: there is no gate"},
		{fault.New(fault.Invalid, "parameter speed: 5 km/h is outside 10 to 20"), "p-speed", "5 km/h is outside 10 to 20.", "Speed: 5 km/h is outside 10 to 20"},
		{fault.New(fault.Conflict, "élan is held").WithHint("wait"), "", "Élan is held.", "Élan is held"},
	} {
		f := Form{Fields: []Field{{Name: "code", Title: "Code"}}, Groups: []Group{{Title: "Other", Fields: []Field{{Name: "none"}}}, {Title: "Folded", Folded: true, Fields: []Field{{Name: "deep", Title: "Deep"}, {Name: "p-speed", Title: "Speed"}}}}}
		if got := f.Blame(c.err); got != c.title {
			t.Errorf("%v: the title is %q", c.err, got)
		}
		got := f.Wrong
		if c.at != "" {
			got = f.Field(c.at).Wrong
		}
		if got != c.wrong || !f.Open {
			t.Errorf("%v: %q", c.err, got)
		}
		if deep := c.at == "deep" || c.at == "p-speed"; f.Groups[1].Open != deep || f.Groups[0].Open {
			t.Errorf("%v: what is folded is open: %v, %v", c.err, f.Groups[0].Open, f.Groups[1].Open)
		}
	}
}

// A pound is 0.45359237 kg and a mile per hour 0.44704 m/s by definition (international yard
// and pound agreement, 1959; from memory).
func TestQuantitiesAsPeopleTypeThem(t *testing.T) {
	kg, comma := unit.MustParse("kg"), unit.Style{Comma: true}
	for _, c := range []struct {
		text  string
		u     unit.Unit
		want  float64
		style unit.Style
	}{
		{"1010", kg, 1010, unit.Plain}, {" 1010,5 ", kg, 1010.5, comma}, {"1010.5 kg", kg, 1010.5, unit.Plain}, {"2000 lb", kg, 907.18474, unit.Plain}, {"", kg, 0, unit.Plain}, {"0", kg, 0, unit.Plain},
		{"100 mph", unit.KilometrePerHour, 44.704, unit.Plain}, {"160", unit.KilometrePerHour, 160 / 3.6, unit.Plain},
	} {
		r := &Reader{Typed: url.Values{"x": {c.text}}}
		got := r.Again("x", c.u, 7, c.style)
		if err := r.Err; err != nil || math.Abs(got-c.want) > 1e-9*c.want {
			t.Errorf("%q: %v, want %v: %v", c.text, got, c.want, err)
		}
	}
	for _, bad := range []string{"-1", "much", "10 m", "1e400", "NaN", "1.000,5", "\x00"} {
		r := &Reader{Typed: url.Values{"x": {bad}}}
		if v := r.Again("x", kg, 0, unit.Plain); fault.CodeOf(r.Err) != fault.Invalid || v != 0 {
			t.Errorf("%q: %v, %v", bad, v, r.Err)
		}
	}
	// What was shown comes back as it stood, whatever digits were shown of it.
	for _, style := range []unit.Style{unit.Plain, comma} {
		for _, v := range []float64{44.44444444444444, 1.0 / 3, 1234.56789012345} {
			r := &Reader{Typed: url.Values{"x": {Number(v, unit.KilometrePerHour, style)}}}
			if got := r.Again("x", unit.KilometrePerHour, v, style); r.Err != nil || got != v {
				t.Errorf("%v comes back as %v: %v", v, got, r.Err)
			}
		}
	}
}

func TestWhatWasTypedFillsTheForm(t *testing.T) {
	f := Form{ID: "f", Fields: []Field{{Name: "a", Value: "was"}, {Name: "b", Value: "stays", Fixed: true}}, Groups: []Group{{Fields: []Field{{Name: "c", Value: "was", Tick: true}}}}}
	f.Filled(url.Values{"a": {"typed"}, "b": {"forged"}})
	if f.Fields[0].Value != "typed" || f.Fields[1].Value != "stays" || f.Groups[0].Fields[0].Value != "" {
		t.Errorf("%+v", f)
	}
	if g := f.Named(); g.Fields[0].ID != "f-a" || g.Groups[0].Fields[0].ID != "f-c" {
		t.Errorf("%+v", g)
	}
}

// What is empty in an address stays empty, what is not in it is as usual, and what
// was typed comes back as it was typed, in a group that opens to show it.
func TestWhatStandsInAnAddress(t *testing.T) {
	asked := func() *Form {
		f := &Form{Groups: []Group{
			{Title: "What", Fields: []Field{{Name: "control", Title: "Control", Needed: true}, {Name: "runs", Title: "Runs", Value: "6"}, {Name: "open_ends", Title: "Open", Tick: true}}},
			{Title: "Else", Folded: true, Fields: []Field{{Name: "width", Title: "Width of the vehicle"}}},
		}}
		f.Begins(map[string]string{"control": "K"})
		return f
	}
	f := asked()
	q := f.Complete(url.Values{"control": {""}, "open-ends": {"yes"}, "own": {"K P K"}})
	if q.Get("control") != "" || q.Get("runs") != "6" || q.Get("open_ends") != "yes" || q.Has("width") {
		t.Errorf("completed: %v", q)
	}
	if k := f.Part(q); !k.Has("control") || !k.Has("open_ends") || k.Has("own") {
		t.Errorf("of the form: %v", k)
	}
	if k := f.Part(q, "own"); k.Get("own") != "K P K" {
		t.Errorf("with what is named besides: %v", k)
	}
	f.Filled(url.Values{"runs": {"many"}, "width": {"<b>"}})
	if x := f.Groups[0].Fields; x[0].Value != "" || x[1].Value != "many" || f.Groups[1].Fields[0].Value != "<b>" || !f.Groups[1].Open {
		t.Errorf("filled: %+v", f)
	}
	f = asked()
	if f.Filled(url.Values{"test": {"wet-stop"}}); f.Groups[0].Fields[0].Value != "K" || f.Groups[0].Fields[1].Value != "6" || f.Groups[1].Open {
		t.Errorf("not asked yet: %+v", f)
	}
}
