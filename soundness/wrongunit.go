package soundness

import (
	"math"
	"slices"

	"example.org/bookend/signal"
	"example.org/bookend/unit"
)

type taken struct {
	symbol, stated string
	factor         float64 // by which values are to be multiplied
}

// families are units that are taken for each other.
var families = [][]unit.Unit{
	{unit.MetrePerSecond, unit.KilometrePerHour, unit.MilePerHour, unit.MustParse("kn"), unit.MustParse("ft/s")},
	{unit.MetrePerSecondSquared, unit.StandardGravity},
	{unit.RadianPerSecond, unit.DegreePerSecond, unit.MustParse("rpm")},
	{unit.Radian, unit.Degree},
}

// wrongUnit gives the unit that the values of a channel are really in, if the
// channel shows a factor of what it should and in some other unit it would be about
// as expected.
func wrongUnit(c *signal.Channel, factor float64, e expectation) (taken, bool) {
	if math.Abs(factor-1) < unitBeyond {
		return taken{}, false
	}
	is, err := unit.Parse(c.SourceUnit)
	if err != nil || c.SourceUnit == "" {
		if is, err = unit.Parse(c.Unit); err != nil {
			return taken{}, false
		}
	}
	best, found := taken{}, false
	miss := math.Inf(1)
	for _, family := range families {
		if !slices.ContainsFunc(family, func(u unit.Unit) bool { return u.Dimension() == is.Dimension() }) {
			continue
		}
		for _, u := range family {
			ratio := is.ToHouse(1) / u.ToHouse(1) // what values in u show, taken for is
			left := factor / ratio
			if m := math.Abs(left - 1); m < miss && math.Abs(ratio-1) > unitBeyond && left > e.low-unitWithin && left < e.high+unitWithin {
				best, found, miss = taken{u.Symbol(), is.Symbol(), 1 / ratio}, true, m
			}
		}
	}
	return best, found
}
