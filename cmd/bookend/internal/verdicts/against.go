package verdicts

import (
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/compare"
	"example.org/bookend/compare/digits"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// Against prints what stands against the control: an index, or a difference in the
// unit that people see, with decimals that show whatever is claimed.
type Against struct {
	ratio  bool
	s      shown
	digits int
}

// AgainstOf gives how a result is printed.
func AgainstOf(r *compare.Result) Against {
	s := shownIn(r)
	return Against{ratio: r.Scale == programme.Ratio, s: s, digits: digits.Of(r, r.Measure.Digits, s.by)}
}

// Column names the numbers.
func (a Against) Column() string {
	if a.ratio {
		return "index"
	}
	return "difference"
}

// Unit gives the unit of the numbers as it is printed; none where they are an index or have none.
func (a Against) Unit() string {
	if a.ratio || a.s.u.IsZero() {
		return ""
	}
	return a.s.u.ASCII()
}

// Estimate writes the one of both that the result has, with its decimals.
func (a Against) Estimate(index, difference *float64) string {
	if a.ratio {
		return terminal.Maybe(index, a.digits)
	}
	return terminal.Maybe(a.s.maybe(difference), a.digits)
}

// Least writes the least difference that could have been shown.
func (a Against) Least(d *float64) string {
	if a.ratio {
		return terminal.Maybe(d, a.digits)
	}
	return terminal.Maybe(a.s.maybe(d), a.digits)
}

// Interval writes the ends that there are; none is what stands where there are none.
func (a Against) Interval(indexLow, indexHigh, low, high *float64, none string) string {
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
