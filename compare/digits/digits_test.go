package digits_test

import (
	"testing"

	"example.org/bookend/compare"
	"example.org/bookend/compare/digits"
	"example.org/bookend/unit"
)

// Law of the text, by hand: what is claimed is seen. 0.01 m/s are 0.036 km/h, 0.004
// m/s are 0.0144 km/h; an index of 100.004 is 100.00 with two decimals.
func TestAClaimIsSeenInItsDigits(t *testing.T) {
	x := func(v float64) *float64 { return &v }
	kmh := func(v float64) float64 { return 3.6 * v }
	for _, c := range []struct {
		name      string
		low, high *float64
		ratio     bool
		own, want int
	}{
		{"worse by a little, km/h", x(-0.01), x(-0.004), false, 1, 2},
		{"not shown", x(-0.01), x(0.004), false, 1, 1},
		{"worse by much", x(-0.3), x(-0.1), false, 1, 1},
		{"never without end", nil, x(-1e-12), false, 1, 4},
		{"better, index", x(100.004), x(100.3), true, unit.IndexDigits, 3},
		{"worse, index", x(97), x(99.9961), true, unit.IndexDigits, 3},
		{"index not shown", x(99.999), x(100.001), true, unit.IndexDigits, 2},
		{"one-sided better, index", x(100.2), nil, true, unit.IndexDigits, 2},
	} {
		row := compare.Row{DiffLow: c.low, DiffHigh: c.high}
		if c.ratio {
			row = compare.Row{IndexLow: c.low, IndexHigh: c.high}
		}
		if got := digits.Rows([]compare.Row{row}, c.ratio, c.own, kmh); got != c.want {
			t.Errorf("%s: %d decimals, wanted %d", c.name, got, c.want)
		}
	}
}

// One interval, as ratings in points have it: 0.004 is 0.00 with two decimals.
func TestOneIntervalIsSeen(t *testing.T) {
	x := func(v float64) *float64 { return &v }
	for _, c := range []struct {
		low, high *float64
		want      int
	}{{x(0.004), x(0.2), 3}, {x(-0.2), x(-0.0049), 3}, {x(-0.2), x(0.004), 2}, {x(0.0001), nil, 4}, {nil, nil, 2}} {
		if got := digits.Ends(c.low, c.high, 0, 2); got != c.want {
			t.Errorf("%v to %v: %d decimals, wanted %d", c.low, c.high, got, c.want)
		}
	}
}
