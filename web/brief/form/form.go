// Package form is what people fill in on the page of the brief and send: fields, in groups
// where there are many, each with what was typed and what is wrong with it.
//
// A fault names the field that it is about by the first part of its place; it is said
// there, and what was typed stays. Numbers are taken with decimal comma or point, and with
// another unit of their kind behind them where one stands beside the field.
package form

import (
	"errors"
	"math"
	"net/url"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// Item is one sentence about a size; Word says how it stands, where it is held against anything.
type Item struct{ Standing, Word, Text string }

// Typed is what a size says: its sentences, or why it cannot be read.
type Typed struct {
	Size, Wrong string
	Items       []Item
}

// Field is one field of a form, as it was filled in.
type Field struct {
	ID                  string // of its element, unlike any other of the page
	Name, Title, Symbol string
	Value, Hint         string
	Choices             []Choice // what it may be; nil: typed
	Tick, Number, Lines bool     // a box to tick, a number, several lines
	Needed, Wide        bool
	Begins              bool   // a row of its own begins with it
	Fixed               bool   // shown, not changed
	Wrong               string // what is wrong with it
	Asks                string // what the vehicle asks of its tyres: the key that the script goes by
	Factor              float64
	Size                bool   // a tyre's size, answered while it is typed
	Typed               *Typed // what it says
}

// Group is fields that belong together, under a heading of their own.
type Group struct {
	Title  string
	Folded bool // behind its heading until it is asked for
	Open   bool
	Fields []Field
}

// Choice is one thing that a field may be: what is sent, and what is read.
type Choice [2]string

// Value gives what is sent.
func (c Choice) Value() string { return c[0] }

// Title gives what is read.
func (c Choice) Title() string { return c[1] }

// Form is a form with its fields.
type Form struct {
	ID, To, Legend, Note string
	Fields               []Field
	Groups               []Group           // behind the fields
	Kept                 map[string]string // sent with it, not shown
	Do                   string            // what its button says
	Open                 bool
	Unsent               bool   // it is shown as it was typed, which nothing keeps
	Wrong, Hint          string // what is wrong with the whole of it
	Away                 string // what another button says, that takes away what the form is about
	Stays                string // why it cannot be taken away
	Also                 string // what a further button says, and what it sends
	AlsoDo               string
}

// Field gives a field by its name.
func (f *Form) Field(name string) *Field {
	for _, x := range f.all() {
		if x.Name == name {
			return x
		}
	}
	return nil
}

// all gives every field, those of the groups behind the form's own.
func (f *Form) all() []*Field {
	var out []*Field
	for i := range f.Fields {
		out = append(out, &f.Fields[i])
	}
	for i := range f.Groups {
		for k := range f.Groups[i].Fields {
			out = append(out, &f.Groups[i].Fields[k])
		}
	}
	return out
}

// Named gives the form with every field's element named.
func (f Form) Named() Form {
	for _, x := range f.all() {
		x.ID = f.ID + "-" + x.Name
	}
	return f
}

// Filled puts what was typed into the fields; what is fixed stays.
func (f *Form) Filled(q url.Values) {
	for _, x := range f.all() {
		if !x.Fixed {
			x.Value = q.Get(x.Name)
		}
	}
	f.Open, f.Unsent = true, true
}

// Blame says what is wrong at the field that a fault names, or above the form, and gives it
// as a sentence.
func (f *Form) Blame(err error) string {
	f.Open = true
	what, hint := err.Error(), fault.HintOf(err)
	var e *fault.Error
	if errors.As(err, &e) {
		at, rest, _ := strings.Cut(e.Where, ": ")
		if name, said, ok := strings.Cut(strings.TrimPrefix(what, "parameter "), ": "); ok && strings.HasPrefix(what, "parameter ") {
			at, rest, e = "p-"+name, "", &fault.Error{What: said}
		}
		if x := f.Field(at); x != nil {
			for i := range f.Groups {
				for k := range f.Groups[i].Fields {
					f.Groups[i].Open = f.Groups[i].Open || &f.Groups[i].Fields[k] == x
				}
			}
			x.Wrong = Sentence(e.What)
			if rest != "" && !strings.HasPrefix(rest, "tyre size") {
				x.Wrong = Sentence(rest + ": " + e.What)
			}
			title := x.Title + ": " + Lower(x.Wrong)
			if hint != "" {
				x.Wrong += ": " + hint
			}
			x.Wrong += "."
			return title
		}
	}
	f.Wrong, f.Hint = Sentence(what)+".", Sentence(hint)
	return Sentence(what)
}

// Sentence begins a text with a capital.
func Sentence(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n < 1 {
		return s
	}
	return string(unicode.ToUpper(r)) + s[n:]
}

// Lower gives a title as it stands within a sentence.
func Lower(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n < 1 {
		return s
	}
	return string(unicode.ToLower(r)) + s[n:]
}

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

// Quantity reads a number in a unit, or with another of its kind behind it; nothing typed
// is 0, and what stood there already is taken as it is.
func Quantity(name, text string, u unit.Unit, is float64, style unit.Style) (float64, error) {
	text = strings.TrimSpace(text)
	if text == "" || text == "0" {
		return 0, nil
	}
	if text == Number(is, u, style) {
		return is, nil
	}
	v, typed, err := unit.ParseQuantity(text)
	if err == nil && typed.IsZero() {
		typed = u
	}
	if err != nil || typed.Dimension() != u.Dimension() || !(v > 0) {
		return 0, fault.New(fault.Invalid, "%.40q cannot be read", text).At("%s", name).WithHint("a number of %s", u.Symbol())
	}
	return typed.ToHouse(v), nil
}

// Reader reads fields and keeps the first fault.
type Reader struct {
	Typed url.Values
	Err   error
}

// Bad notes what is wrong with a field, and what would do.
func (r *Reader) Bad(name, hint, format string, args ...any) {
	if r.Err == nil {
		r.Err = fault.New(fault.Invalid, format, args...).At("%s", name).WithHint("%s", hint)
	}
}

// Text gives what was typed, without blanks around it.
func (r *Reader) Text(name string) string { return strings.TrimSpace(r.Typed.Get(name)) }

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
func (r *Reader) Number(name string) *float64 {
	t := strings.Replace(r.Text(name), ",", ".", 1)
	if t == "" {
		return nil
	}
	v, err := strconv.ParseFloat(t, 64)
	if err != nil || !(v >= -1e12 && v <= 1e12) {
		r.Bad(name, "a number", "%.40q cannot be read", t)
		return nil
	}
	return &v
}

// Ordered notes a limit whose bounds are the wrong way round, at a field.
func (r *Reader) Ordered(name string, l programme.Limit) {
	if l.Low != nil && l.High != nil && *l.Low > *l.High {
		r.Bad(name, "the lowest comes first", "the limit ends below its beginning")
	}
}
