// Package form is what people fill in on the pages of the order: fields in groups,
// what of them stands in an address, and how what was typed is read.
//
// A field that cannot be read is named in the fault and marked in the form, which
// stays as it was filled in. Numbers are taken with decimal comma or point; times
// are of the ground's clock, in s from midnight. Limits: a form of its own for
// nothing else than orders; what the fields mean is the pages' business.
package form

import (
	"net/url"
	"strconv"
	"strings"

	"example.org/bookend/fault"
	"example.org/bookend/order/day"
	"example.org/bookend/unit"
)

// Field is one field of a form, as it was filled in.
type Field struct {
	Name, Title, Symbol, Value, Hint string
	Words                            []string // what it may be; nil: typed
	Says                             []string // those words as people read them; nil: as they are
	Tick, Number, Ticked             bool
	Needed                           bool // without it nothing can be asked
	Lines                            int  // of a field for several lines; 0: one line
	Bad                              bool // what was typed cannot be read
}

// Word is one of what a field may be.
type Word struct{ Value, Says string }

// Choices gives what a field may be, with words for people.
func (f Field) Choices() []Word {
	var out []Word
	for i, w := range f.Words {
		c := Word{w, w}
		if i < len(f.Says) {
			c.Says = f.Says[i]
		}
		out = append(out, c)
	}
	return out
}

// Group is fields that belong together.
type Group struct {
	Title  string
	Fields []Field
	Folded bool // opened when somebody wants it, or where something in it was typed
	Open   bool // of a folded one
}

// Form is all the groups of a page.
type Form []Group

// each calls a function for every field.
func (g Form) each(do func(Field)) {
	for _, x := range g {
		for _, f := range x.Fields {
			do(f)
		}
	}
}

// usual gives what a field begins with: its own, or what is usual here.
func (f Field) usual(usual map[string]string) string {
	if f.Value == "" {
		return usual[f.Name]
	}
	return f.Value
}

// Complete gives an address with what is usual where it says nothing of a field;
// a field that was left empty stays so. Words may be parted by hyphens, as the
// command line has them.
func (g Form) Complete(q url.Values, usual map[string]string) url.Values {
	out := url.Values{}
	for k, v := range q {
		out[strings.ReplaceAll(k, "-", "_")] = v
	}
	if !g.Asked(out) {
		return out
	}
	g.each(func(f Field) {
		if v := f.usual(usual); !out.Has(f.Name) && !f.Tick && v != "" {
			out.Set(f.Name, v)
		}
	})
	return out
}

// Filled gives the form as it was filled in; what was not asked for yet has its
// usual value, or what is usual in this programme. bad names a field that cannot
// be read.
func (g Form) Filled(q url.Values, usual map[string]string, bad string) []Group {
	var out []Group
	asked := g.Asked(q)
	for _, x := range g {
		n := Group{Title: x.Title, Folded: x.Folded}
		for _, f := range x.Fields {
			begins := f.usual(usual)
			f.Value = begins
			if asked {
				f.Value = strings.TrimSpace(q.Get(f.Name))
			}
			f.Ticked, f.Bad = f.Tick && f.Value != "", bad != "" && f.Name == bad
			n.Open = n.Open || f.Bad || f.Value != begins && f.Value != ""
			n.Fields = append(n.Fields, f)
		}
		out = append(out, n)
	}
	return out
}

// Asked tells whether an address says anything of a field.
func (g Form) Asked(q url.Values) bool {
	asked := false
	g.each(func(f Field) { asked = asked || q.Has(f.Name) })
	return asked
}

// Kept gives of an address what the form has, and what is named besides. A field
// that is needed is kept where it was left empty too.
func (g Form) Kept(q url.Values, besides ...string) url.Values {
	out := url.Values{}
	keep := func(name string, empty bool) {
		if v := strings.TrimSpace(q.Get(name)); v != "" || empty && q.Has(name) {
			out.Set(name, v)
		}
	}
	g.each(func(f Field) { keep(f.Name, f.Needed) })
	for _, k := range besides {
		keep(k, false)
	}
	return out
}

// Reader reads fields and keeps the first fault.
type Reader struct {
	Form  Form
	Typed url.Values
	Err   error
	Bad   string // the field of that fault; empty: of none
}

func (r *Reader) title(name string) string {
	title := name
	r.Form.each(func(f Field) {
		if f.Name == name {
			title = f.Title
		}
	})
	return strings.ToLower(title[:1]) + title[1:]
}

// Fail notes that a field cannot be read.
func (r *Reader) Fail(name, text, hint string) {
	if r.Err == nil {
		r.Bad, r.Err = name, fault.New(fault.Invalid, "%s: %q cannot be read", r.title(name), text).WithHint("%s", hint)
	}
}

// Refuse notes a fault that a field is to blame for.
func (r *Reader) Refuse(name string, err error) {
	if r.Err == nil && err != nil {
		r.Bad, r.Err = name, fault.At(err, "%s", r.title(name))
	}
}

// Text gives what was typed.
func (r *Reader) Text(name string) string { return strings.TrimSpace(r.Typed.Get(name)) }

// Ticked tells whether a box was ticked.
func (r *Reader) Ticked(name string) bool { return r.Text(name) != "" }

// Number reads a number of 0 and more.
func (r *Reader) Number(name string, otherwise float64) float64 {
	text := r.Text(name)
	if text == "" {
		return otherwise
	}
	v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil || !(v >= 0 && v <= 1e6) {
		r.Fail(name, text, "a number of 0 and more")
		return otherwise
	}
	return v
}

// Count reads a whole number of 0 and more.
func (r *Reader) Count(name string, otherwise int) int {
	text := r.Text(name)
	if text == "" {
		return otherwise
	}
	v, err := strconv.Atoi(text)
	if err != nil || v < 0 || v > 200 { // order plans 200 stints at most
		r.Fail(name, text, "a whole number from 0 to 200")
		return otherwise
	}
	return v
}

// Quantity reads a quantity of the dimension of a unit, in its house unit; without a
// unit of its own the number is in the one named, and no field may be below 0.
func (r *Reader) Quantity(name string, in unit.Unit, otherwise float64) float64 {
	text := r.Text(name)
	if text == "" {
		return otherwise
	}
	v, u, err := unit.ParseQuantity(text)
	if u.IsZero() {
		u = in
	}
	if err != nil || u.Dimension() != in.Dimension() || !(v >= 0 && v <= 1e6) {
		r.Fail(name, text, "a number of "+in.Symbol()+", or with another unit behind it")
		return otherwise
	}
	return u.ToHouse(v)
}

// Clock reads a time of the day, in s from midnight.
func (r *Reader) Clock(name, text string) float64 {
	h, m, ok := strings.Cut(strings.TrimSpace(text), ":")
	hours, err1 := strconv.Atoi(h)
	minutes, err2 := strconv.Atoi(m)
	if !ok || err1 != nil || err2 != nil || hours < 0 || hours > 24 || minutes < 0 || minutes > 59 || len(m) != 2 {
		r.Fail(name, text, "a time of the day, as 08:30")
		return 0
	}
	return float64(hours*3600 + minutes*60)
}

// Span reads a span of the day.
func (r *Reader) Span(name, text string) day.Span {
	from, to, ok := strings.Cut(text, "-")
	if !ok {
		r.Fail(name, text, "from and to, as 12:00-12:45")
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
		r.Fail(name, text, "latitude and longitude in degrees, as 57.1, -4.5")
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
				r.Fail(name, text, "a code with its stints, as P:2")
			}
			c.N = v
		} else if otherwise < 0 {
			r.Fail(name, text, "a code with its stints, as P:2")
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
