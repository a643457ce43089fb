// Package wrongunit tells in which unit values really are that show a factor of what
// they should: units that are taken for each other, as km/h for m/s or g for m/s².
package wrongunit

import (
	"math"
	"slices"

	"example.org/bookend/signal"
	"example.org/bookend/unit"
)

// How far a factor may lie from what is expected; own choices.
const (
	within = 0.08 // share beyond what is expected by which a factor may miss that of a wrong unit
	beyond = 0.25 // share from 1 from which on a wrong unit is thought of
)

// Taken is the unit that values are really in, by symbol, and the one that is stated.
type Taken struct {
	Symbol, Stated string
	Factor         float64 // by which values are to be multiplied
}

// families are units that are taken for each other.
var families = [][]unit.Unit{
	{unit.MetrePerSecond, unit.KilometrePerHour, unit.MilePerHour, unit.MustParse("kn"), unit.MustParse("ft/s")},
	{unit.MetrePerSecondSquared, unit.StandardGravity},
	{unit.RadianPerSecond, unit.DegreePerSecond, unit.MustParse("rpm")},
	{unit.Radian, unit.Degree},
}

// Find gives the unit that the values of a channel are really in, if the
// channel shows a factor of what it should and in some other unit it would be about
// as expected, from low to high.
func Find(c *signal.Channel, factor, low, high float64) (Taken, bool) {
	if math.Abs(factor-1) < beyond {
		return Taken{}, false
	}
	is, err := unit.Parse(c.SourceUnit)
	if err != nil || c.SourceUnit == "" {
		if is, err = unit.Parse(c.Unit); err != nil {
			return Taken{}, false
		}
	}
	best, found := Taken{}, false
	miss := math.Inf(1)
	for _, family := range families {
		if !slices.ContainsFunc(family, func(u unit.Unit) bool { return u.Dimension() == is.Dimension() }) {
			continue
		}
		for _, u := range family {
			ratio := is.ToHouse(1) / u.ToHouse(1) // what values in u show, taken for is
			left := factor / ratio
			if m := math.Abs(left - 1); m < miss && math.Abs(ratio-1) > beyond && left > low-within && left < high+within {
				best, found, miss = Taken{u.Symbol(), is.Symbol(), 1 / ratio}, true, m
			}
		}
	}
	return best, found
}
