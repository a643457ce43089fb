// Package unit names, parses and converts units, and is the one place where
// numbers become text.
//
// Inside, every value stands in its house unit: the SI unit of its dimension,
// except that temperature stays in °C. What people and loggers use instead
// (km/h, mph, g, bar, psi, °F, ft) is converted once at the door and, for
// print, once on the way out. Pressures are Pa inside and kPa at the rims.
//
// Conversion factors are ratios of whole numbers, exact by definition, as in
// NIST Special Publication 811 (2008), appendix B; the one exception is the inch
// of mercury, which is a conventional value. A ratio costs at most two roundings,
// so 36 km/h is 10 m/s exactly.
//
// Units have no algebra here: a unit that is not in the table is not known.
// Logarithmic units, calendar units and the trade's marks (load index, speed
// symbol, index points) are no units.
package unit

import (
	"math"
	"slices"
	"strings"

	"example.org/bookend/fault"
)

// Dimension is what kind of quantity a unit measures. Values of two units can
// be compared only if their dimensions are equal.
type Dimension string

// Dimensions, each with its house unit.
const (
	Ratio                Dimension = "ratio"                                 // 1
	Length               Dimension = "length"                                // m
	Time                 Dimension = "time"                                  // s
	Speed                Dimension = "speed"                                 // m/s
	Acceleration         Dimension = "acceleration"                          // m/s²
	Jerk                 Dimension = "jerk"                                  // m/s³
	Angle                Dimension = "angle"                                 // rad
	AngularSpeed         Dimension = "angular speed"                         // rad/s
	AngularAcceleration  Dimension = "angular acceleration"                  // rad/s²
	Curvature            Dimension = "curvature"                             // 1/m
	AnglePerAcceleration Dimension = "angle per acceleration"                // rad/(m/s²), the understeer gradient
	Frequency            Dimension = "frequency"                             // Hz, also a gain of yaw rate over angle
	Mass                 Dimension = "mass"                                  // kg
	Force                Dimension = "force"                                 // N
	Torque               Dimension = "torque"                                // N·m
	Pressure             Dimension = "pressure"                              // Pa
	Power                Dimension = "power"                                 // W
	Volume               Dimension = "volume"                                // m³
	Temperature          Dimension = "temperature"                           // °C
	Voltage              Dimension = "voltage"                               // V
	Current              Dimension = "current"                               // A
	AccelerationGain     Dimension = "acceleration per angle"                // (m/s²)/rad
	SpeedByAcceleration  Dimension = "area under acceleration against speed" // m²/s³, of aquaplaning in a curve
	AngleTime            Dimension = "angle times time"                      // rad·s, of the TB factor
	Energy               Dimension = "energy"                                // J
)

// Unit is one unit of the table. The zero Unit is none: it has no name and
// converts nothing; IsZero tells it.
type Unit struct{ e *entry }

// entry is one line of the table. A value x of the unit is (x + offset)·num/den
// in the house unit.
type entry struct {
	key       string // for JSON keys and column names: letters and digits
	symbol    string // as printed
	ascii     string // as printed where only ASCII will do
	dimension Dimension
	num, den  float64
	offset    float64
	tight     bool     // no space between number and symbol
	spellings []string // further spellings, as parsed
}

// IsZero tells whether u is no unit at all.
func (u Unit) IsZero() bool { return u.e == nil }

// Symbol gives the unit as printed: "km/h", "m/s²", "°C"; empty for the number
// one.
func (u Unit) Symbol() string { return u.must().symbol }

// ASCII gives the unit as printed where only ASCII will do: "m/s2", "degC".
func (u Unit) ASCII() string { return u.must().ascii }

// Key gives the unit as it ends JSON keys and column names: "kmh", "mps2",
// "degc"; empty for the number one.
func (u Unit) Key() string { return u.must().key }

// Dimension gives what the unit measures.
func (u Unit) Dimension() Dimension { return u.must().dimension }

// String gives the symbol, and "1" for the number one, so that Parse reads it
// back. The zero Unit gives "no unit".
func (u Unit) String() string {
	switch {
	case u.e == nil:
		return "no unit"
	case u.e.symbol == "":
		return "1"
	}
	return u.e.symbol
}

func (u Unit) must() *entry {
	if u.e == nil {
		panic("unit: the zero Unit was used")
	}
	return u.e
}

// House gives the unit in which values of u's dimension stand inside.
func (u Unit) House() Unit { return House(u.must().dimension) }

// House gives the unit in which values of a dimension stand inside. An unknown
// dimension is a programmer's slip and panics.
func House(d Dimension) Unit {
	for i := range table {
		if e := &table[i]; e.dimension == d && e.num == 1 && e.den == 1 && e.offset == 0 {
			return Unit{e}
		}
	}
	panic("unit: no dimension " + string(d))
}

// Rim gives the unit in which people see values of a dimension if nobody asked
// for another: the house unit, but kPa for pressure, km/h for speed, and degrees
// wherever an angle occurs.
func Rim(d Dimension) Unit {
	switch d {
	case Pressure:
		return Kilopascal
	case Speed:
		return KilometrePerHour
	case Angle:
		return Degree
	case AngularSpeed:
		return DegreePerSecond
	case AngularAcceleration:
		return DegreePerSecondSquared
	case AnglePerAcceleration:
		return DegreePerMetrePerSecondSquared
	}
	return House(d)
}

// ToHouse gives x, a value in u, in the house unit of its dimension.
func (u Unit) ToHouse(x float64) float64 {
	e := u.must()
	return (x + e.offset) * e.num / e.den
}

// FromHouse gives x, a value in the house unit of u's dimension, in u.
func (u Unit) FromHouse(x float64) float64 {
	e := u.must()
	return x*e.den/e.num - e.offset
}

// DifferenceToHouse gives d, a difference or a standard uncertainty in u, in the
// house unit: offsets of temperature scales do not count.
func (u Unit) DifferenceToHouse(d float64) float64 {
	e := u.must()
	return d * e.num / e.den
}

// DifferenceFromHouse gives d, a difference or a standard uncertainty in the
// house unit, in u.
func (u Unit) DifferenceFromHouse(d float64) float64 {
	e := u.must()
	return d * e.den / e.num
}

// Convert gives x, a value in from, in to. Units of different dimensions are an
// invalid fault.
func Convert(x float64, from, to Unit) (float64, error) {
	if from.must() == to.must() {
		return x, nil
	}
	if from.Dimension() != to.Dimension() {
		return 0, fault.New(fault.Invalid, "%s (%s) cannot be converted to %s (%s)",
			from, from.Dimension(), to, to.Dimension())
	}
	return to.FromHouse(from.ToHouse(x)), nil
}

// All gives every unit of the table, in its order.
func All() []Unit {
	out := make([]Unit, len(table))
	for i := range table {
		out[i] = Unit{&table[i]}
	}
	return out
}

// Parse finds the unit that a spelling means: a symbol, a key, or what logger
// headers carry ("kph", "m/s/s", "°/s", "1/min", "deg*1e7"). Brackets around it
// are the caller's to strip. Upper and lower case may be mixed up as long as
// only one unit can be meant: "KM/H" is read, "KN" (knots or kilonewtons) is not.
// A spelling that is not known is an invalid fault with the nearest known
// spellings as its hint.
//
// The letter g is the standard acceleration of gravity, never the gram; "-" and
// "1" are the number one; an empty spelling is no unit and an invalid fault.
func Parse(spelling string) (Unit, error) {
	s := tidy(spelling)
	if s == "" {
		return Unit{}, fault.New(fault.Invalid, "no unit is given")
	}
	found := meant(s)
	if len(found) == 1 {
		return Unit{found[0]}, nil
	}
	if why, ok := refused[s]; ok {
		return Unit{}, fault.New(fault.Invalid, "unit %q can mean more than one thing", spelling).WithHint("%s", why)
	}
	if len(found) > 1 {
		var names []string
		for _, e := range found {
			names = append(names, e.symbol)
		}
		return Unit{}, fault.New(fault.Invalid, "unit %q can mean more than one thing", spelling).
			WithHint("write %s, with upper and lower case as here", strings.Join(names, " or "))
	}
	f := fault.New(fault.Invalid, "unit %q is not known", spelling)
	if near := nearest(s); len(near) > 0 {
		return Unit{}, f.WithHint("nearest known: %s", strings.Join(near, ", "))
	}
	return Unit{}, f.WithHint("for example: km/h, m/s, m/s², g, deg/s, °C, kPa, m, s")
}

// Known finds the unit that a spelling means, as Parse does, and tells whether
// there is one. Where there is none it costs a look into the table and no more:
// it is for those who ask of every word of a heading whether it is a unit.
func Known(spelling string) (u Unit, ok bool) {
	if found := meant(tidy(spelling)); len(found) == 1 {
		return Unit{found[0]}, true
	}
	return Unit{}, false
}

// meant gives the units that a tidied spelling may mean: one, none, or several
// that only upper and lower case would tell apart.
func meant(s string) []*entry {
	if e, ok := known.exact[s]; ok {
		return []*entry{e}
	}
	if _, ok := refused[s]; ok {
		return nil
	}
	return known.folded[strings.ToLower(s)]
}

// MustParse is Parse for spellings in the program's own text; an unknown one is
// a programmer's slip and panics.
func MustParse(spelling string) Unit {
	u, err := Parse(spelling)
	if err != nil {
		panic("unit: " + err.Error())
	}
	return u
}

// SplitName splits a column name or JSON key into its stem and the unit that
// its last word names: "water_depth_mm" is "water_depth" in mm. Without such a
// word the whole name comes back and ok is false. Only keys and spellings made
// of letters and digits count; whether "min" is meant as a minute or as a
// minimum is the caller's to know.
func SplitName(name string) (stem string, u Unit, ok bool) {
	i := strings.LastIndexByte(name, '_')
	if i <= 0 || i == len(name)-1 {
		return name, Unit{}, false
	}
	last := name[i+1:]
	for j := range table {
		if table[j].key != "" && table[j].key == last {
			return name[:i], Unit{&table[j]}, true
		}
	}
	if e, found := known.exact[last]; found && len(last) > 1 && e.key != "" && !strings.ContainsFunc(last, notAlphanumeric) {
		return name[:i], Unit{e}, true
	}
	return name, Unit{}, false
}

func notAlphanumeric(r rune) bool {
	return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9')
}

// tidy takes out what different writers do differently without meaning anything
// by it: blanks, kinds of superscript, multiplication dot, micro sign, degree
// sign and minus, and the stray letter that a Latin-1 degree or superscript
// grows when it is read as UTF-8 and written again.
func tidy(s string) string { return tidier.Replace(s) }

var tidier = strings.NewReplacer(
	" ", "", "\t", "", "\u00a0", "", "\u2009", "", "\u202f", "",
	"Â°", "°", "Â²", "^2", "Â³", "^3", "Âµ", "µ", "Â·", "·",
	"⁻¹", "^-1", "⁻²", "^-2", "⁻³", "^-3", "²", "^2", "³", "^3", "**", "^",
	"⋅", "·", "×", "*", "μ", "µ", "º", "°", "˚", "°", "℃", "°C", "℉", "°F", "−", "-", "–", "-", "∕", "/", "⁄", "/",
)

// nearest gives up to three known spellings that differ least from s, by the
// least number of letters to insert, delete, change or swap with a neighbour,
// and by at most a third of its length or two letters.
func nearest(s string) []string {
	type near struct {
		spelling string
		distance int
	}
	low := strings.ToLower(s)
	limit := min(2, (len([]rune(low))+2)/3)
	var list []near
	for i := range table {
		best := near{distance: limit + 1}
		for _, sp := range known.of[&table[i]] {
			if d := distance(low, strings.ToLower(sp)); d < best.distance {
				best = near{sp, d}
			}
		}
		if best.distance <= limit {
			if table[i].symbol != "" {
				best.spelling = table[i].symbol
			}
			list = append(list, best)
		}
	}
	slices.SortStableFunc(list, func(a, b near) int { return a.distance - b.distance })
	var out []string
	for _, n := range list[:min(3, len(list))] {
		out = append(out, n.spelling)
	}
	return out
}

// distance is the optimal string alignment distance of two spellings.
func distance(a, b string) int {
	x, y := []rune(a), []rune(b)
	d := make([][]int, len(x)+1)
	for i := range d {
		d[i] = make([]int, len(y)+1)
		d[i][0] = i
	}
	for j := range d[0] {
		d[0][j] = j
	}
	for i := 1; i <= len(x); i++ {
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			d[i][j] = min(d[i-1][j]+1, d[i][j-1]+1, d[i-1][j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				d[i][j] = min(d[i][j], d[i-2][j-2]+1)
			}
		}
	}
	return d[len(x)][len(y)]
}

// spellings is the table seen from what is written in headers.
type spellings struct {
	exact  map[string]*entry   // by tidied spelling
	folded map[string][]*entry // by tidied spelling in lower case, in the table's order
	of     map[*entry][]string // tidied spellings, in the table's order
}

var known = index(table)

// index refuses a table in which one spelling stands for two units.
func index(table []entry) spellings {
	k := spellings{map[string]*entry{}, map[string][]*entry{}, map[*entry][]string{}}
	for i := range table {
		e := &table[i]
		for _, s := range append([]string{e.symbol, e.ascii, e.key}, e.spellings...) {
			s = tidy(s)
			if s == "" || slices.Contains(k.of[e], s) {
				continue
			}
			if other, twice := k.exact[s]; twice {
				panic("unit: spelling " + s + " stands for " + other.symbol + " and " + e.symbol)
			}
			k.exact[s] = e
			k.of[e] = append(k.of[e], s)
			if f := strings.ToLower(s); !slices.Contains(k.folded[f], e) {
				k.folded[f] = append(k.folded[f], e)
			}
		}
	}
	return k
}

// pi is π as a numerator for angles; the only factor that is no whole number.
const pi = math.Pi
