package report

import (
	"math"
	"slices"
	"strings"

	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// covariate is a column of conditions and how it is printed.
type covariate struct {
	key, name string
	unit      unit.Unit
	none      bool
	digits    int // decimals that the readings were typed with; -1: not known
}

// covariatesOf gives the conditions recorded with the runs, in the order of the
// alphabet.
func covariatesOf(l programme.Log, style unit.Style) []covariate {
	read := map[string][]float64{}
	for _, r := range l.Runs {
		for k, v := range r.Covariates {
			read[k] = append(read[k], v)
		}
	}
	var out []covariate
	for k, values := range read {
		c := covariateOf(k, style)
		c.digits = c.typed(values, style)
		out = append(out, c)
	}
	slices.SortFunc(out, func(a, b covariate) int { return strings.Compare(a.key, b.key) })
	return out
}

// covariateOf says how a column is printed: in the unit that the reader asked for,
// else in that of the trade. Wind is read in m/s, as its limits are; depth and tread in
// mm (common practice, no source).
func covariateOf(key string, style unit.Style) covariate {
	stem, u, ok := unit.SplitName(key)
	c := covariate{key: key, name: strings.ReplaceAll(stem, "_", " "), none: !ok || u.Symbol() == "", digits: -1}
	if c.none {
		if !ok {
			c.name = strings.ReplaceAll(key, "_", " ")
		}
		return c
	}
	c.unit = style.Of(usual(stem, u))
	return c
}

// usual is the unit of the trade for a column.
func usual(stem string, u unit.Unit) unit.Unit {
	switch {
	case u.Dimension() == unit.Speed && strings.Contains(stem, "wind"):
		return unit.MetrePerSecond
	case u.Dimension() == unit.Length && (strings.Contains(stem, "depth") || strings.Contains(stem, "tread")):
		return unit.Millimetre
	}
	return unit.Rim(u.Dimension())
}

// mostTyped is how many decimals a reading is taken to be typed with at most. House
// choice: what needs more was computed.
const mostTyped = 3

// typed gives the decimals that readings in SI justify in the column's unit: those with
// which they were typed, in whichever unit of the kind that was; -1 where no unit gives
// them back.
func (c covariate) typed(values []float64, style unit.Style) int {
	if c.none {
		return decimals(values, func(x float64) float64 { return x })
	}
	stem, u, _ := unit.SplitName(c.key)
	units := []unit.Unit{usual(stem, u), u.House()}
	for _, x := range unit.All() {
		if x.Dimension() == u.Dimension() {
			units = append(units, x)
		}
	}
	for _, x := range units {
		if n := decimals(values, x.FromHouse); n >= 0 {
			to := unit.Style{Speed: c.unit, Length: c.unit, Temperature: c.unit, Pressure: c.unit}
			if x == c.unit {
				return n
			}
			if x.Dimension() == unit.Length && x != unit.Metre { // Digits leaves lengths that are no metres
				return n + max(0, int(math.Ceil(-math.Log10(math.Abs(c.unit.DifferenceFromHouse(x.DifferenceToHouse(1))))-1e-9)))
			}
			return to.Digits(x, n)
		}
	}
	return -1
}

// decimals is with how few decimals all values are given back; -1: with none.
func decimals(values []float64, in func(float64) float64) int {
	for n := 0; n <= mostTyped; n++ {
		p := math.Pow10(n)
		if !slices.ContainsFunc(values, func(v float64) bool {
			x := in(v) * p
			return math.Abs(x-math.Round(x)) > 1e-9*math.Max(1, math.Abs(x)) // what conversion there and back leaves
		}) {
			return n
		}
	}
	return -1
}

// head names it with its unit: "water depth, mm".
func (c covariate) head() string {
	if c.none {
		return c.name
	}
	return c.name + ", " + c.unit.Symbol()
}

// named writes what is read behind the name; a name that ends in a number keeps apart:
// "water depth 1: 0.9 to 1.2 mm".
func (c covariate) named(text string) string {
	if n := len(c.name); n > 0 && c.name[n-1] >= '0' && c.name[n-1] <= '9' {
		return c.name + ": " + text
	}
	return c.name + " " + text
}

func (c covariate) in(x float64) float64 {
	if c.none {
		return x
	}
	return c.unit.FromHouse(x)
}

// text writes a reading with the decimals that it was typed with.
func (c covariate) text(x float64, style unit.Style) string {
	if c.digits >= 0 {
		return unit.Number(c.in(x), c.digits, style)
	}
	return trimZeros(significant(c.in(x), 6, style), style)
}

// mean writes a mean of readings as they were typed; where nobody knows, with three
// significant digits.
func (c covariate) mean(x float64, style unit.Style) string {
	if c.digits >= 0 {
		return unit.Number(c.in(x), c.digits, style)
	}
	return trimZeros(significant(c.in(x), 3, style), style)
}

// rangesSaid is of how many conditions the range is said in a sentence; the tables have
// them all. Own choice.
const rangesSaid = 3

// thing is what a reading is of, without the spot of the course that it was read at:
// "water depth" of "water depth 2" and of "water depth entry".
func (c covariate) thing() string {
	if rest, ok := strings.CutPrefix(c.name, waterDepth); ok && (rest == "" || rest[0] == ' ') {
		return waterDepth
	}
	return strings.TrimRight(strings.TrimRight(c.name, "0123456789"), " ")
}

const waterDepth = "water depth"

// ranges says from where to where the conditions went, each over all the spots at which
// it was read: "surface temperature 11.0 to 28.0 °C".
func (b *builder) ranges(l programme.Log, all []covariate) []string {
	var out []string
	for i := 0; i < len(all) && len(out) < rangesSaid; {
		c := all[i]
		name := c.name
		lo, hi := math.Inf(1), math.Inf(-1)
		for ; i < len(all) && all[i].thing() == c.thing() && all[i].unit == c.unit; i++ {
			if all[i].digits < 0 || c.digits < 0 {
				c.digits = -1
			} else {
				c.digits = max(c.digits, all[i].digits)
			}
			if all[i].name != name {
				c.name = c.thing()
			}
			for _, r := range l.Runs {
				if v, ok := r.Covariates[all[i].key]; ok {
					lo, hi = math.Min(lo, v), math.Max(hi, v)
				}
			}
		}
		if hi < lo {
			continue
		}
		text := c.text(lo, b.in.Style)
		if hi > lo {
			text += " to " + c.text(hi, b.in.Style)
		}
		if !c.none {
			text = c.unit.Label(text, b.in.Style)
		}
		out = append(out, c.named(text))
	}
	return out
}
