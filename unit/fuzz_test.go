package unit_test

import (
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/unit"
)

// Whatever is typed, it is read or it is invalid; what is read can be written
// and read again.
func FuzzParseQuantity(f *testing.F) {
	for _, s := range []string{"0.20m", "58 mph", "2,5 bar", "−4.5 °C", "1e-3 s", "12", "", ".", "1e", "1.2.3", "9e999 m", "3 m/s²", "1 Â°C", "7 deg*1e7", "\xff", "1 \xff", "nan"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		x, u, err := unit.ParseQuantity(text)
		if err != nil {
			if fault.CodeOf(err) != fault.Invalid || fault.HintOf(err) == "" {
				t.Errorf("%q: %v without code or hint", text, err)
			}
			return
		}
		written := unit.Shortest(x)
		if !u.IsZero() {
			written = u.Label(written, unit.Style{})
		}
		y, v, err := unit.ParseQuantity(written)
		if err != nil || y != x || v != u && u != unit.One {
			t.Errorf("%q is %v %v, written %q, read again as %v %v (%v)", text, x, u, written, y, v, err)
		}
	})
}
