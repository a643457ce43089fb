package form

import (
	"math"
	"net/url"
	"strconv"
	"strings"

	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// Number prints a value of the house unit in another, with as many digits as it was typed with.
func Number(v float64, u unit.Unit, style unit.Style) string {
	if v == 0 {
		return ""
	}
	return Plain(u.FromHouse(v), style)
}

// Plain prints a number with up to nine digits and the reader's decimal sign.
func Plain(v float64, style unit.Style) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return ""
	}
	x, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 9, 64), 64)
	if err != nil {
		return ""
	}
	text := unit.Shortest(x)
	if style.Comma {
		text = strings.Replace(text, ".", ",", 1)
	}
	return text
}

// Reader reads fields and keeps the first fault.
type Reader struct {
	Typed url.Values
	Err   error
}

// Refuse notes a fault that a field is to blame for.
func (r *Reader) Refuse(name string, err error) {
	if r.Err == nil && err != nil {
		r.Err = fault.At(err, "%s", name)
	}
}

// Bad notes what is wrong with a field, and what would do.
func (r *Reader) Bad(name, hint, format string, args ...any) {
	r.Refuse(name, fault.New(fault.Invalid, format, args...).WithHint("%s", hint))
}

// Unread notes that what was typed cannot be read, and what could.
func (r *Reader) Unread(name, text, hint string) { r.Bad(name, hint, "%.40q cannot be read", text) }

// Text gives what was typed, without blanks around it.
func (r *Reader) Text(name string) string { return strings.TrimSpace(r.Typed.Get(name)) }

// Ticked tells whether a box was ticked.
func (r *Reader) Ticked(name string) bool { return r.Text(name) != "" }

// Lines gives what was typed line by line, without empty ones.
func (r *Reader) Lines(name string) []string {
	var out []string
	for l := range strings.Lines(r.Typed.Get(name)) {
		if l = strings.TrimSpace(l); l != "" {
			out = append(out, l)
		}
	}
	return out
}

// Number reads a number with decimal comma or point; nil where nothing is typed.
func (r *Reader) Number(name string) *float64 { return r.Within(name, "a number", -1e12, 1e12) }

// Within reads a number between two others; nil where nothing is typed.
func (r *Reader) Within(name, hint string, least, most float64) *float64 {
	text := r.Text(name)
	if text == "" {
		return nil
	}
	v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil || !(v >= least && v <= most) {
		r.Unread(name, text, hint)
		return nil
	}
	return &v
}

// Count reads a whole number of stints, runs, wheels or what else is counted; otherwise
// where nothing is typed.
func (r *Reader) Count(name string, otherwise int) int {
	text := r.Text(name)
	if text == "" {
		return otherwise
	}
	v, err := strconv.Atoi(text)
	if err != nil || v < 0 || v > 200 { // order plans 200 stints at most
		r.Unread(name, text, "a whole number from 0 to 200")
		return otherwise
	}
	return v
}

// Quantity reads a quantity of 0 and more in its house unit: a number of a unit, or with
// another of its kind behind it; 0 where nothing is typed.
func (r *Reader) Quantity(name string, in unit.Unit) float64 {
	text := r.Text(name)
	if text == "" {
		return 0
	}
	v, u, err := unit.ParseQuantity(text)
	if u.IsZero() {
		u = in
	}
	if err != nil || u.Dimension() != in.Dimension() || !(v >= 0 && v <= 1e6) {
		r.Unread(name, text, "a number of "+in.Symbol()+", or with another unit behind it")
		return 0
	}
	return u.ToHouse(v)
}

// Again reads a quantity in the place of another; what was shown of that one comes back as
// it is, whatever digits were shown.
func (r *Reader) Again(name string, in unit.Unit, is float64, style unit.Style) float64 {
	if r.Text(name) == Number(is, in, style) {
		return is
	}
	return r.Quantity(name, in)
}

// Ordered notes a limit whose bounds are the wrong way round, at a field.
func (r *Reader) Ordered(name string, l programme.Limit) {
	if l.Low != nil && l.High != nil && *l.Low > *l.High {
		r.Bad(name, "the lowest comes first", "the limit ends below its beginning")
	}
}
