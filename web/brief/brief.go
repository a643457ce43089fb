// Package brief is what the page of the brief asks and shows: forms about the words of
// the brief, the vehicle, tyre sets and tests become requests of app's use cases, and what
// a use case refuses is said at the field that it is about, with what was typed kept.
//
// Units of the forms are the trade's and the reader's: kilograms, and speeds as the reader
// sees them; requests are in SI. No rule about sets, tests or plans is made here.
package brief

import (
	"errors"
	"math"
	"net/url"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"example.org/bookend/app"
	"example.org/bookend/fault"
	"example.org/bookend/unit"
)

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

// Choice is one thing that a field may be.
type Choice struct{ Value, Title string }

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

// field gives a field by its name.
func (f *Form) field(name string) *Field {
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
		if x := f.field(at); x != nil {
			for i := range f.Groups {
				for k := range f.Groups[i].Fields {
					f.Groups[i].Open = f.Groups[i].Open || &f.Groups[i].Fields[k] == x
				}
			}
			x.Wrong = sentence(e.What)
			if rest != "" && !strings.HasPrefix(rest, "tyre size") {
				x.Wrong = sentence(rest + ": " + e.What)
			}
			title := x.Title + ": " + lower(x.Wrong)
			if hint != "" {
				x.Wrong += ": " + hint
			}
			x.Wrong += "."
			return title
		}
	}
	f.Wrong, f.Hint = sentence(what)+".", sentence(hint)
	return sentence(what)
}

func sentence(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n < 1 {
		return s
	}
	return string(unicode.ToUpper(r)) + s[n:]
}

// lower gives a title as it stands within a sentence.
func lower(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n < 1 {
		return s
	}
	return string(unicode.ToLower(r)) + s[n:]
}

// speed is the unit in which a reader sees speeds.
func speed(style unit.Style) unit.Unit { return style.Of(unit.KilometrePerHour) }

// number prints a value of the house unit in another, with as many digits as it was typed with.
func number(v float64, u unit.Unit, style unit.Style) string {
	if v == 0 {
		return ""
	}
	return plain(u.FromHouse(v), style)
}

// plain prints a number with up to nine digits and the reader's decimal sign.
func plain(v float64, style unit.Style) string {
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

// quantity reads a number in a unit, or with another of its kind behind it; nothing typed
// is 0, and what stood there already is taken as it is.
func quantity(name, text string, u unit.Unit, is float64, style unit.Style) (float64, error) {
	text = strings.TrimSpace(text)
	if text == "" || text == "0" {
		return 0, nil
	}
	if text == number(is, u, style) {
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

// Words is the form about what is compared, for whom, on what.
func Words(b app.Brief, to, frozen string, style unit.Style) Form {
	kg := unit.MustParse("kg")
	twin := ""
	if b.Asked.TwinRear {
		twin = "yes"
	}
	return Form{ID: "words", To: to, Legend: "Change the brief", Note: frozen, Do: "Keep the brief", Fields: []Field{
		{Name: "title", Title: "Programme", Value: b.Title, Wide: true, Needed: true},
		{Name: "client", Title: "Client", Value: b.Client},
		{Name: "ground", Title: "Ground", Value: b.Ground},
		{Name: "zone", Title: "Its time zone", Value: b.Zone, Hint: "As Europe/London; fixed once something was driven."},
		{Name: "vehicle", Title: "Vehicle, without its make", Value: b.Vehicle, Wide: true},
		{Name: "front_axle_kg", Title: "Front axle", Symbol: "kg", Value: number(b.Asked.FrontKg, kg, style), Number: true, Asks: "front_axle_kg", Factor: 1, Hint: "Loaded as driven; empty: not known."},
		{Name: "rear_axle_kg", Title: "Rear axle", Symbol: "kg", Value: number(b.Asked.RearKg, kg, style), Number: true, Asks: "rear_axle_kg", Factor: 1},
		{Name: "top_speed_mps", Title: "Top speed", Symbol: speed(style).Symbol(), Value: number(b.Asked.TopMps, speed(style), style), Number: true, Asks: "top_speed_mps", Factor: speed(style).ToHouse(1), Hint: "Of the vehicle, not of the test."},
		{Name: "twin_rear", Title: "Twin wheels behind", Value: twin, Tick: true, Asks: "twin_rear"},
		{Name: "question", Title: "The client’s question", Value: b.Question, Wide: true},
	}}
}

// ReadWords gives the brief as it was typed; is is the one that stands.
func ReadWords(q url.Values, is app.Brief, style unit.Style) (app.Brief, error) {
	b := app.Brief{Title: q.Get("title"), Client: q.Get("client"), Ground: q.Get("ground"), Zone: q.Get("zone"), Vehicle: q.Get("vehicle"), Question: q.Get("question")}
	b.Asked = is.Asked
	if !q.Has("front_axle_kg") && !q.Has("rear_axle_kg") && !q.Has("top_speed_mps") { // words alone were sent
		return b, nil
	}
	kg := unit.MustParse("kg")
	var err error
	if b.Asked.FrontKg, err = quantity("front_axle_kg", q.Get("front_axle_kg"), kg, is.Asked.FrontKg, style); err != nil {
		return b, err
	}
	if b.Asked.RearKg, err = quantity("rear_axle_kg", q.Get("rear_axle_kg"), kg, is.Asked.RearKg, style); err != nil {
		return b, err
	}
	b.Asked.TopMps, err = quantity("top_speed_mps", q.Get("top_speed_mps"), speed(style), is.Asked.TopMps, style)
	b.Asked.TwinRear = q.Get("twin_rear") != ""
	return b, err
}

// Asks says what the vehicle asks of its tyres, in the reader's units; empty: nothing is known.
func Asks(b app.Brief, style unit.Style) string {
	var out []string
	kg := unit.MustParse("kg")
	for _, x := range []struct {
		name string
		v    float64
		u    unit.Unit
	}{{"front axle", b.Asked.FrontKg, kg}, {"rear axle", b.Asked.RearKg, kg}, {"top speed", b.Asked.TopMps, speed(style)}} {
		if x.v > 0 {
			out = append(out, x.name+" "+unit.Number(x.u.FromHouse(x.v), 0, style)+unit.NoBreak+x.u.Symbol())
		}
	}
	if b.Asked.TwinRear {
		out = append(out, "twin wheels behind")
	}
	return sentence(strings.Join(out, ", "))
}
