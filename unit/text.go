package unit

import (
	"math"
	"strconv"
	"strings"

	"example.org/bookend/fault"
)

// NotComputed is what stands where there is no number.
const NotComputed = "not computed"

// NoBreak is the no-break space between a number and its unit.
const NoBreak = "\u00a0"

// Style says how numbers are written for one reader. Its zero value is the
// report's: decimal point, true minus, no-break spaces, symbols as printed.
type Style struct {
	Comma bool // decimal comma
	ASCII bool // hyphen for minus, plain spaces, "m/s2", "+-": terminals and CSV

	// Units that the reader wants to see; the zero Unit leaves what a measure is read in.
	Speed, Length, Temperature, Pressure Unit
}

// Of gives the unit in which this reader sees what is otherwise read in u. Lengths other
// than metres (a tread depth in mm) stay as they are.
func (s Style) Of(u Unit) Unit {
	if u.IsZero() {
		return u
	}
	want := Unit{}
	switch u.Dimension() {
	case Speed:
		want = s.Speed
	case Length:
		if u == Metre {
			want = s.Length
		}
	case Temperature:
		want = s.Temperature
	case Pressure:
		want = s.Pressure
	}
	if want.IsZero() {
		return u
	}
	return want
}

// Digits gives the decimals that show in the reader's unit no less than digits do in u.
func (s Style) Digits(u Unit, digits int) int {
	to := s.Of(u)
	if to == u || u.IsZero() {
		return digits
	}
	of := math.Abs(to.DifferenceFromHouse(u.DifferenceToHouse(1)))
	return digits + max(0, int(math.Ceil(-math.Log10(of)-1e-9)))
}

// Plain is the style of terminals and CSV files.
var Plain = Style{ASCII: true}

func (s Style) minus() string {
	if s.ASCII {
		return "-"
	}
	return "−"
}

func (s Style) space() string {
	if s.ASCII {
		return " "
	}
	return NoBreak
}

// IndexDigits is how many decimals an index is written with, and whatever is
// counted in index points, whichever digits its measure has: an interval that ends
// at 100.04 must not read as if it ended at the control (own choice; a
// regulation's index has the digits of its edition).
const IndexDigits = 2

// Number writes x with that many decimals (none if negative). Ties go to the
// even digit, judged on the shortest decimal that reads back as x: 12.25 and
// 12.35 are written 12.2 and 12.4 with one decimal, as by hand (ISO 80000-1,
// annex B, rule A), though no binary number is 12.35 exactly. There is no
// negative zero, and NaN and the infinities are "not computed".
func Number(x float64, digits int, style Style) string {
	return number(x, digits, style, "")
}

// Signed writes x as Number does, with a plus before positive values: for
// differences. What rounds to zero has no sign.
func Signed(x float64, digits int, style Style) string {
	return number(x, digits, style, "+")
}

func number(x float64, digits int, style Style, plus string) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return NotComputed
	}
	text := fixed(math.Abs(x), max(digits, 0))
	if style.Comma {
		text = strings.Replace(text, ".", ",", 1)
	}
	switch {
	case !strings.ContainsAny(text, "123456789"):
		return text
	case x < 0:
		return style.minus() + text
	}
	return plus + text
}

// fixed rounds the shortest decimal form of x >= 0 to that many decimals, ties
// to even.
func fixed(x float64, digits int) string {
	text := strconv.FormatFloat(x, 'f', -1, 64)
	whole, part, _ := strings.Cut(text, ".")
	if len(part) <= digits {
		if digits == 0 {
			return whole
		}
		return whole + "." + part + strings.Repeat("0", digits-len(part))
	}
	kept, rest := []byte(whole+part[:digits]), part[digits:]
	last := kept[len(kept)-1] - '0'
	if half := "5" + strings.Repeat("0", len(rest)-1); rest > half || rest == half && last%2 == 1 {
		i := len(kept) - 1
		for ; i >= 0 && kept[i] == '9'; i-- {
			kept[i] = '0'
		}
		if i >= 0 {
			kept[i]++
		} else {
			kept = append([]byte{'1'}, kept...)
		}
	}
	if digits == 0 {
		return string(kept)
	}
	point := len(kept) - digits
	return string(kept[:point]) + "." + string(kept[point:])
}

// Interval writes an interval from low to high: "104.2 to 108.5". If either end
// is no finite number the interval is "not computed".
func Interval(low, high float64, digits int, style Style) string {
	return interval(low, high, digits, style, "")
}

// SignedInterval writes an interval of differences: "−2.8 to +1.4".
func SignedInterval(low, high float64, digits int, style Style) string {
	return interval(low, high, digits, style, "+")
}

func interval(low, high float64, digits int, style Style, plus string) string {
	a, b := number(low, digits, style, plus), number(high, digits, style, plus)
	if a == NotComputed || b == NotComputed {
		return NotComputed
	}
	return a + " to " + b
}

// PlusMinus writes a half-width: "± 2.5", in ASCII "+- 2.5".
func PlusMinus(half float64, digits int, style Style) string {
	n := Number(math.Abs(half), digits, style)
	switch {
	case n == NotComputed:
		return n
	case style.ASCII:
		return "+- " + n
	}
	return "±" + NoBreak + n
}

// Format writes x, a value in the house unit of u's dimension, in u with u's
// symbol: "93.3 km/h".
func (u Unit) Format(x float64, digits int, style Style) string {
	return u.Label(Number(u.FromHouse(x), digits, style), style)
}

// FormatDifference writes d, a difference in the house unit of u's dimension,
// in u with its sign and symbol: "−0.20 m". Temperature differences are
// converted without the scale's offset.
func (u Unit) FormatDifference(d float64, digits int, style Style) string {
	return u.Label(Signed(u.DifferenceFromHouse(d), digits, style), style)
}

// FormatInterval writes an interval of values in the house unit: "5.0 to 35.0 °C".
func (u Unit) FormatInterval(low, high float64, digits int, style Style) string {
	return u.Label(Interval(u.FromHouse(low), u.FromHouse(high), digits, style), style)
}

// FormatDifferenceInterval writes an interval of differences in the house unit,
// with signs: "−2.8 to −1.4 m".
func (u Unit) FormatDifferenceInterval(low, high float64, digits int, style Style) string {
	return u.Label(SignedInterval(u.DifferenceFromHouse(low), u.DifferenceFromHouse(high), digits, style), style)
}

// Label puts u's symbol after a number that is already text. Nothing is put
// after "not computed", and nothing by the number one.
func (u Unit) Label(number string, style Style) string {
	e := u.must()
	symbol := e.symbol
	if style.ASCII {
		symbol = e.ascii
	}
	switch {
	case symbol == "" || number == NotComputed:
		return number
	case e.tight && !style.ASCII:
		return number + symbol
	}
	return number + style.space() + symbol
}

// LapTime writes a time in s as minutes and seconds from one minute on, in
// seconds below: "1:44.59", "59.99 s". Negative times are written with a minus.
func LapTime(seconds float64, digits int, style Style) string {
	text := Number(math.Abs(seconds), digits, Style{})
	if text == NotComputed {
		return text
	}
	rounded, _ := strconv.ParseFloat(text, 64)
	if rounded < 60 {
		return Second.Label(Number(seconds, digits, style), style)
	}
	whole, part, _ := strings.Cut(text, ".")
	s, err := strconv.ParseInt(whole, 10, 64)
	if err != nil {
		return NotComputed // beyond 292 thousand million years
	}
	out := strconv.FormatInt(s/60, 10) + ":" + strconv.FormatInt(s%60/10, 10) + strconv.FormatInt(s%10, 10)
	if part != "" && style.Comma {
		out += "," + part
	} else if part != "" {
		out += "." + part
	}
	if seconds < 0 {
		out = style.minus() + out
	}
	return out
}

// Probability writes a probability of a test as "p 0.017", one that would read 0.000 as
// "p < 0.001".
func Probability(p float64) string {
	if p < 0.0005 {
		return "p < 0.001"
	}
	return "p " + Number(p, 3, Plain)
}

// Count prints a whole number with its noun, in the plural where it must be: 1 run, 3 runs.
func Count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return strconv.Itoa(n) + " " + noun + "s"
}

// Shortest writes x with the fewest digits that read back as the same number,
// with a decimal point, as encoding/json does: for CSV files and keys. Zero has
// no sign. NaN and the infinities are "not computed".
func Shortest(x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return NotComputed
	}
	if x == 0 {
		return "0"
	}
	if a := math.Abs(x); a < 1e-6 || a >= 1e21 {
		text := strconv.FormatFloat(x, 'e', -1, 64)
		return strings.Replace(text, "e-0", "e-", 1)
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}

// ParseQuantity reads a number with a unit behind it, as typed in a flag or a
// field: "0.20m", "58 mph", "2,5 bar". The value comes back in u, not in the
// house unit. Without a unit, u is the zero Unit. The decimal sign is a point
// or one comma; thousands are not grouped; NaN and infinity are invalid.
func ParseQuantity(text string) (x float64, u Unit, err error) {
	s := strings.TrimSpace(text)
	s = strings.Replace(s, "−", "-", 1)
	end := numberEnd(s)
	digits := s[:end]
	if strings.Count(digits, ",") == 1 && !strings.Contains(digits, ".") {
		digits = strings.Replace(digits, ",", ".", 1)
	}
	x, perr := strconv.ParseFloat(digits, 64)
	if perr != nil || math.IsInf(x, 0) || strings.TrimSpace(digits) == "" {
		return 0, Unit{}, fault.New(fault.Invalid, "%q is no number with a unit", text).
			WithHint("write a number, then its unit: 0.20m, 58 mph, 2.5 bar")
	}
	if rest := strings.TrimSpace(s[end:]); rest != "" {
		if u, err = Parse(rest); err != nil {
			return 0, Unit{}, err
		}
	}
	return x, u, nil
}

// numberEnd gives the length of the decimal number that s begins with.
func numberEnd(s string) int {
	i := 0
	if i < len(s) && (s[i] == '+' || s[i] == '-') {
		i++
	}
	for i < len(s) && (s[i] >= '0' && s[i] <= '9' || s[i] == '.' || s[i] == ',') {
		i++
	}
	if i < len(s) && (s[i] == 'e' || s[i] == 'E') {
		j := i + 1
		if j < len(s) && (s[j] == '+' || s[j] == '-') {
			j++
		}
		if j < len(s) && s[j] >= '0' && s[j] <= '9' {
			for j < len(s) && s[j] >= '0' && s[j] <= '9' {
				j++
			}
			i = j
		}
	}
	return i
}
