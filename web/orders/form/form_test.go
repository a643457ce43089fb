package form_test

import (
	"net/url"
	"strings"
	"testing"

	"example.org/bookend/unit"
	"example.org/bookend/web/orders/form"
)

var asked = form.Form{
	{Title: "What", Fields: []form.Field{{Name: "control", Title: "Control", Needed: true}, {Name: "runs", Title: "Runs", Value: "6"}, {Name: "twice", Title: "Twice", Tick: true}}},
	{Title: "Else", Folded: true, Fields: []form.Field{{Name: "width", Title: "Width of the vehicle"}, {Name: "start", Title: "Start"}}},
}

// What is empty in an address stays empty, what is not in it is as usual, and what
// was typed comes back as it was typed.
func TestWhatWasTypedStays(t *testing.T) {
	q := asked.Complete(url.Values{"control": {""}, "open-ends": {"yes"}}, map[string]string{"control": "K"})
	if q.Get("control") != "" || q.Get("runs") != "6" || q.Get("open_ends") != "yes" || q.Has("twice") {
		t.Errorf("completed: %v", q)
	}
	if k := asked.Kept(q); !k.Has("control") || k.Has("open_ends") {
		t.Errorf("kept: %v", k)
	}
	g := asked.Filled(url.Values{"runs": {"many"}, "width": {"<b>"}}, nil, "runs")
	if f := g[0].Fields[1]; f.Value != "many" || !f.Bad {
		t.Errorf("the field is %+v", f)
	}
	if !g[1].Open || g[1].Fields[0].Value != "<b>" {
		t.Errorf("a group with something typed in it is folded: %+v", g[1])
	}
	if g := asked.Filled(url.Values{}, map[string]string{"control": "K"}, ""); g[0].Fields[0].Value != "K" || g[1].Open {
		t.Errorf("not asked yet: %+v", g)
	}
}

// Lengths as written: 1 ft is 0.3048 m and 1 in 25.4 mm exactly (international yard
// and pound agreement, 1959); a decimal comma is a decimal point.
func TestReader(t *testing.T) {
	read := func(text string, do func(*form.Reader) float64) (float64, *form.Reader) {
		r := &form.Reader{Form: asked, Typed: url.Values{"width": {text}, "start": {text}}}
		return do(r), r
	}
	length := func(r *form.Reader) float64 { return r.Quantity("width", unit.Metre, 0) }
	clock := func(r *form.Reader) float64 { return r.Clock("start", r.Text("start")) }
	for _, c := range []struct {
		text string
		do   func(*form.Reader) float64
		want float64
		ok   bool
	}{
		{"1.82", length, 1.82, true}, {"1,82", length, 1.82, true}, {"6 ft", length, 1.8288, true}, {"182 cm", length, 1.82, true}, {"1.82 kg", length, 0, false}, {"wide", length, 0, false}, {"-1", length, 0, false}, {"NaN", length, 0, false},
		{"08:30", clock, 30600, true}, {"24:00", clock, 86400, true}, {"8.30", clock, 0, false}, {"08:60", clock, 0, false}, {"-1:00", clock, 0, false},
	} {
		v, r := read(c.text, c.do)
		if (r.Err == nil) != c.ok || c.ok && (v < c.want-1e-12 || v > c.want+1e-12) {
			t.Errorf("%q gives %v, %v", c.text, v, r.Err)
		}
		if r.Err != nil && (r.Bad == "" || !strings.Contains(r.Err.Error(), c.text)) {
			t.Errorf("%q: %v names neither the field nor what was typed", c.text, r.Err)
		}
	}
	r := &form.Reader{Form: asked, Typed: url.Values{"control": {"P:2, R; W:1/K"}}}
	got := r.Counted("control", 1, 2)
	if r.Err != nil || len(got) != 5 || got[0] != (form.Count{Code: "P", N: 2}) || got[1].N != 2 || got[3].Code != "/" {
		t.Errorf("codes with stints: %v, %v", got, r.Err)
	}
}
