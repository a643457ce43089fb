package report

import (
	"testing"

	"example.org/bookend/compare"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// A verdict of worse beside "0.0 (-0.1 to 0.0)" contradicts itself on paper: the
// decimals grow until the interval is seen to lie on one side. Law of the text,
// by hand: 0.01 m/s are 0.036 km/h, 0.004 m/s are 0.0144 km/h.
func TestADifferenceThatIsShownDoesNotReadAsZero(t *testing.T) {
	m := programme.Measure{ID: "speed_lost", Unit: "m/s", Shown: "km/h", Digits: 1}
	x := func(v float64) *float64 { return &v }
	for _, c := range []struct {
		low, high *float64
		digits    int
		text      string
	}{
		{x(-0.01), x(-0.004), 2, "-0.04 to -0.01"},
		{x(-0.01), x(0.004), 1, "0.0 to 0.0"},
		{x(-0.3), x(-0.1), 1, "-1.1 to -0.4"},
		{nil, x(-1e-12), 4, "up to 0.0000"}, // never without end
	} {
		s := scaleOf(m, false, unit.Plain).telling([]compare.Row{{DiffLow: c.low, DiffHigh: c.high}})
		if got := s.interval(c.low, c.high); s.digits != c.digits || got != c.text {
			t.Errorf("%d decimals, %q; wanted %d, %q", s.digits, got, c.digits, c.text)
		}
	}
}
