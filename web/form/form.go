// Package form is what people fill in on the pages of the brief and of the order: fields,
// in groups where there are many, each with what was typed and what is wrong with it.
//
// A fault names the field that it is about by the first part of its place; it is said
// there, and what was typed stays. Numbers are taken with decimal comma or point, and with
// another unit of their kind behind them where one stands beside the field. Limits: what
// the fields mean is the pages' business.
package form

import (
	"errors"
	"net/url"
	"strings"
	"unicode"
	"unicode/utf8"

	"example.org/bookend/fault"
)

// Said is one sentence that answers what is typed; Standing and Word say how it stands,
// where it is held against anything.
type Said struct{ Standing, Word, Text string }

// Field is one field of a form, as it was filled in.
type Field struct {
	ID                  string // of its element, unlike any other of the page
	Name, Title, Symbol string
	Value, Hint         string
	Choices             []Choice // what it may be; nil: typed
	Tick, Number        bool     // a box to tick, a number
	Lines               int      // of a field for several lines; 0: one line
	Needed              bool     // nothing can be asked or kept without it
	Wide, Begins        bool     // three columns wide; a row of its own begins with it
	Fixed               bool     // shown, not changed
	Wrong               string   // what is wrong with it
	Asks                string   // what the vehicle asks of its tyres: the key that the script goes by
	Factor              float64
	Answered            bool // while it is typed
	Says                []Said
}

// Group is fields that belong together, under a heading of their own.
type Group struct {
	Title  string
	Folded bool // behind its heading until it is asked for, or something in it was typed
	Open   bool
	Fields []Field
}

// Choice is one thing that a field may be: what is sent, and what is read.
type Choice [2]string

// Value gives what is sent.
func (c Choice) Value() string { return c[0] }

// Title gives what is read.
func (c Choice) Title() string { return c[1] }

// Words gives words of the house as choices; before them none, where nothing need be chosen.
func Words[T ~string](none string, list ...T) []Choice {
	var out []Choice
	if none != "" {
		out = append(out, Choice{"", none})
	}
	for _, w := range list {
		out = append(out, Choice{string(w), strings.ReplaceAll(string(w), "_", " ")})
	}
	return out
}

// Form is a form with its fields.
type Form struct {
	ID, To, Legend, Note string
	Fields               []Field
	Groups               []Group           // behind the fields
	Kept                 map[string]string // sent with it, not shown
	Do                   string            // what its button says
	Get, Again           bool              // it changes nothing and is an address; it was done before
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

// Begins has fields begin with what is usual, by their names.
func (f *Form) Begins(usual map[string]string) {
	for _, x := range f.all() {
		if v := usual[x.Name]; v != "" {
			x.Value = v
		}
	}
}

// Asked tells whether an address, or a form that was sent, says anything of a field.
func (f *Form) Asked(q url.Values) bool {
	for _, x := range f.all() {
		if q.Has(x.Name) {
			return true
		}
	}
	return false
}

// Complete gives an address with what the fields begin with where it says nothing of one;
// a field that was left empty stays so. Words may be parted by hyphens, as the command
// line has them.
func (f *Form) Complete(q url.Values) url.Values {
	out := url.Values{}
	for k, v := range q {
		out[strings.ReplaceAll(k, "-", "_")] = v
	}
	if !f.Asked(out) {
		return out
	}
	for _, x := range f.all() {
		if !out.Has(x.Name) && !x.Tick && x.Value != "" {
			out.Set(x.Name, x.Value)
		}
	}
	return out
}

// Part gives of an address what the form has, and what is named besides. A field that is
// needed is in it where it was left empty too.
func (f *Form) Part(q url.Values, besides ...string) url.Values {
	out := url.Values{}
	keep := func(name string, empty bool) {
		if v := strings.TrimSpace(q.Get(name)); v != "" || empty && q.Has(name) {
			out.Set(name, v)
		}
	}
	for _, x := range f.all() {
		keep(x.Name, x.Needed)
	}
	for _, k := range besides {
		keep(k, false)
	}
	return out
}

// Filled puts what was typed into the fields and opens the groups with anything of it; what
// is fixed stays, and all of it where nothing was asked yet.
func (f *Form) Filled(q url.Values) {
	if !f.Asked(q) {
		return
	}
	for _, x := range f.all() {
		if v := strings.TrimSpace(q.Get(x.Name)); !x.Fixed && v != x.Value {
			x.Value = v
			f.unfold(x, v != "")
		}
	}
}

// unfold opens the group of a field.
func (f *Form) unfold(x *Field, open bool) {
	for i := range f.Groups {
		for k := range f.Groups[i].Fields {
			f.Groups[i].Open = f.Groups[i].Open || open && &f.Groups[i].Fields[k] == x
		}
	}
}

// about gives the field that a fault names, nil where it names none, and what is wrong as a
// sentence.
func (f *Form) about(err error) (*Field, string) {
	var e *fault.Error
	if errors.As(err, &e) {
		at, rest, _ := strings.Cut(e.Where, ": ")
		if name, said, ok := strings.Cut(strings.TrimPrefix(err.Error(), "parameter "), ": "); ok && strings.HasPrefix(err.Error(), "parameter ") {
			at, rest, e = "p-"+name, "", &fault.Error{What: said}
		}
		if x := f.Field(at); x != nil {
			if rest != "" && !strings.HasPrefix(rest, "tyre size") {
				return x, Sentence(rest + ": " + e.What)
			}
			return x, Sentence(e.What)
		}
	}
	return nil, Sentence(err.Error())
}

// Says gives what is wrong as a sentence, with the title of the field that it is about.
func (f *Form) Says(err error) string {
	x, what := f.about(err)
	if x == nil {
		return what
	}
	return x.Title + ": " + Lower(what)
}

// Blame says what is wrong at the field that a fault names, or above the form, and gives it
// as a sentence.
func (f *Form) Blame(err error) string {
	f.Open, f.Unsent = true, true
	x, what := f.about(err)
	hint := fault.HintOf(err)
	if x == nil {
		f.Wrong, f.Hint = what+".", Sentence(hint)
		return what
	}
	f.unfold(x, true)
	if x.Wrong = what; hint != "" {
		x.Wrong += ": " + hint
	}
	x.Wrong += "."
	return f.Says(err)
}

// Sentence begins a text with a capital.
func Sentence(s string) string { return begun(s, unicode.ToUpper) }

// Lower gives a title as it stands within a sentence.
func Lower(s string) string { return begun(s, unicode.ToLower) }

func begun(s string, with func(rune) rune) string {
	r, n := utf8.DecodeRuneInString(s)
	if n < 1 {
		return s
	}
	return string(with(r)) + s[n:]
}
