package verdicts

import (
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/compare"
	"example.org/bookend/compare/digits"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// against prints what stands against the control: an index, or a difference in the
// unit that people see, with decimals that show whatever is claimed.
type against struct {
	ratio  bool
	s      shown
	digits int
}

func againstOf(r *compare.Result) against {
	s := shownIn(r)
	return against{ratio: r.Scale == programme.Ratio, s: s, digits: digits.Of(r, r.Measure.Digits, s.by)}
}

// column names the numbers.
func (a against) column() string {
	if a.ratio {
		return "index"
	}
	return "difference"
}

func (a against) estimate(index, difference *float64) string {
	if a.ratio {
		return terminal.Maybe(index, a.digits)
	}
	return terminal.Maybe(a.s.maybe(difference), a.digits)
}

// least writes the least difference that could have been shown.
func (a against) least(d *float64) string {
	if a.ratio {
		return terminal.Maybe(d, a.digits)
	}
	return terminal.Maybe(a.s.maybe(d), a.digits)
}

// interval writes the ends that there are; none is what stands where there are none.
func (a against) interval(indexLow, indexHigh, low, high *float64, none string) string {
	if a.ratio {
		low, high = indexLow, indexHigh
	} else {
		low, high = a.s.maybe(low), a.s.maybe(high)
	}
	switch {
	case low != nil && high != nil:
		return unit.Interval(*low, *high, a.digits, unit.Plain)
	case low != nil:
		return "from " + unit.Number(*low, a.digits, unit.Plain)
	case high != nil:
		return "up to " + unit.Number(*high, a.digits, unit.Plain)
	}
	return none
}
