package typed_test

import (
	"net/url"
	"strings"
	"testing"

	"example.org/bookend/unit"
	"example.org/bookend/web/form"
	"example.org/bookend/web/orders/typed"
)

// Lengths as written: 1 ft is 0.3048 m and 1 in 25.4 mm exactly (international yard
// and pound agreement, 1959); a decimal comma is a decimal point.
func TestReader(t *testing.T) {
	read := func(text string, do func(*typed.Reader) float64) (float64, *typed.Reader) {
		r := &typed.Reader{Reader: form.Reader{Typed: url.Values{"width": {text}, "start": {text}}}}
		return do(r), r
	}
	length := func(r *typed.Reader) float64 { return r.Quantity("width", unit.Metre) }
	clock := func(r *typed.Reader) float64 { return r.Clock("start", r.Text("start")) }
	for _, c := range []struct {
		text string
		do   func(*typed.Reader) float64
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
		if r.Err != nil && (!strings.Contains(r.Err.Error(), c.text) || !strings.HasPrefix(r.Err.Error(), "width: ") && !strings.HasPrefix(r.Err.Error(), "start: ")) {
			t.Errorf("%q: %v names neither the field nor what was typed", c.text, r.Err)
		}
	}
	r := &typed.Reader{Reader: form.Reader{Typed: url.Values{"control": {"P:2, R; W:1/K"}}}}
	got := r.Counted("control", 1, 2)
	if r.Err != nil || len(got) != 5 || got[0] != (typed.Count{Code: "P", N: 2}) || got[1].N != 2 || got[3].Code != "/" {
		t.Errorf("codes with stints: %v, %v", got, r.Err)
	}
}
