// Package typed reads what is typed on the pages of the order and nowhere else: times and
// spans of the day, a place on the ground, codes with their stints.
//
// Times are of the ground's clock, in s from midnight; places are in degrees. Limits: what
// is read is not judged; the use cases do that.
package typed

import (
	"strconv"
	"strings"

	"example.org/bookend/order/day"
	"example.org/bookend/web/form"
)

// Reader reads fields and keeps the first fault.
type Reader struct{ form.Reader }

// Some reads a number of 0 and more; nil where nothing is typed.
func (r *Reader) Some(name string) *float64 { return r.Within(name, "a number of 0 and more", 0, 1e6) }

// Amount reads a number of 0 and more; otherwise where nothing is typed.
func (r *Reader) Amount(name string, otherwise float64) float64 {
	if v := r.Some(name); v != nil {
		return *v
	}
	return otherwise
}

// Clock reads a time of the day, in s from midnight.
func (r *Reader) Clock(name, text string) float64 {
	h, m, ok := strings.Cut(strings.TrimSpace(text), ":")
	hours, err1 := strconv.Atoi(h)
	minutes, err2 := strconv.Atoi(m)
	if !ok || err1 != nil || err2 != nil || hours < 0 || hours > 24 || minutes < 0 || minutes > 59 || len(m) != 2 {
		r.Unread(name, text, "a time of the day, as 08:30")
		return 0
	}
	return float64(hours*3600 + minutes*60)
}

// Span reads a span of the day.
func (r *Reader) Span(name, text string) day.Span {
	from, to, ok := strings.Cut(text, "-")
	if !ok {
		r.Unread(name, text, "from and to, as 12:00-12:45")
		return day.Span{}
	}
	return day.Span{FromS: r.Clock(name, from), ToS: r.Clock(name, to)}
}

// Place reads latitude and longitude in degrees; false where nothing was typed.
func (r *Reader) Place(name string) (latitude, longitude float64, ok bool) {
	text := r.Text(name)
	if text == "" {
		return 0, 0, false
	}
	lat, lon, two := strings.Cut(text, ",")
	a, err1 := strconv.ParseFloat(strings.TrimSpace(lat), 64)
	b, err2 := strconv.ParseFloat(strings.TrimSpace(lon), 64)
	if !two || err1 != nil || err2 != nil {
		r.Unread(name, text, "latitude and longitude in degrees, as 57.1, -4.5")
		return 0, 0, false
	}
	return a, b, true
}

// Counted reads codes with a number each, as P:2, R:1; a code without one has the
// number given, and where that is below 0 it is a fault.
func (r *Reader) Counted(name string, least, otherwise int) []Count {
	var out []Count
	for _, text := range Codes(r.Text(name)) {
		code, n, given := strings.Cut(text, ":")
		c := Count{code, otherwise}
		if given {
			v, err := strconv.Atoi(n)
			if err != nil || v < least || v > 200 {
				r.Unread(name, text, "a code with its stints, as P:2")
			}
			c.N = v
		} else if otherwise < 0 {
			r.Unread(name, text, "a code with its stints, as P:2")
		}
		out = append(out, c)
	}
	return out
}

// Count is a code with a number.
type Count struct {
	Code string
	N    int
}

// Codes divides a sequence typed by a person; blocks are divided by "/".
func Codes(text string) []string {
	return strings.FieldsFunc(strings.ReplaceAll(text, "/", " / "), func(c rune) bool {
		return c == ' ' || c == ',' || c == ';' || c == '\t' || c == '\n' || c == '\r'
	})
}
