package brief

import (
	"net/url"
	"slices"
	"strconv"
	"strings"

	"example.org/bookend/app"
	"example.org/bookend/app/logger"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
	"example.org/bookend/web/form"
)

// typedValues is the choice of no procedure.
const typedValues = "typed"

// Choosing is the form that chooses a procedure before its settings are shown; it changes nothing.
type Choosing struct {
	To, Test, Procedure string
	Choices             []form.Choice
	Open                bool
}

// Choose gives the form that chooses a procedure: another one for the test that is asked
// for, or that of a test to begin, where nothing is asked for or the test keeps its own.
func Choose(s *app.State, shelf logger.Shelf, to string, q url.Values) Choosing {
	c := Choosing{To: to, Test: q.Get("test"), Procedure: q.Get("procedure"), Choices: []form.Choice{{typedValues, "values that people read off"}}}
	for _, p := range shelf.Procedures {
		c.Choices = append(c.Choices, form.Choice{p.Spec().ID, p.Spec().Title})
	}
	c.Open = q.Has("test") || q.Has("procedure")
	if t, unknown := s.Test(c.Test); unknown == nil {
		if s.TestFast(c.Test) != "" {
			c.Test, c.Open = "", false
		} else if c.Procedure == "" {
			c.Procedure = t.Test.Procedure
		}
	}
	return c
}

// TestForm is the form that begins a test or changes one: what it is, and where nothing holds
// them its procedure's gates and settings. ok is false where neither a test nor a procedure
// is asked for.
func TestForm(s *app.State, shelf logger.Shelf, to string, q url.Values, style unit.Style) (f form.Form, ok bool, err error) {
	id, chosen := q.Get("test"), q.Get("procedure")
	if id == "" && chosen == "" {
		return f, false, nil
	}
	f = form.Form{ID: "test", To: to + "/test", Legend: "Begin a test", Do: "Begin the test", Open: true, Kept: map[string]string{}, Fields: []form.Field{
		{Name: "test", Title: "Test", Hint: "Its name in addresses and commands: wet-stop.", Value: id, Needed: true},
		{Name: "title", Title: "As it is to be read"},
		{Name: "surface", Title: "Surface", Hint: "As basalt, wetted."},
		{Name: "control_type", Title: "Kind of tyre that the control is", Hint: "As the ground’s record names it."},
	}}
	t, unknown := s.Test(id)
	procedure := chosen
	if unknown == nil {
		f.Legend, f.Do = "Change test "+id, "Keep the test"
		f.Field("test").Fixed, f.Field("test").Hint, f.Kept["test"] = true, "", id
		f.Field("title").Value, f.Field("surface").Value, f.Field("control_type").Value = t.Test.Title, t.Test.Surface, t.Test.ControlType
		if chosen == "" {
			procedure = t.Test.Procedure
		}
		if why := s.TestFast(id); why != "" {
			f.Note = "Its procedure, gates and settings stay as they are: " + why + ". Another setting is another test."
			return f, true, nil
		}
	}
	if procedure == "" || procedure == typedValues {
		f.Kept["procedure"] = typedValues
		return f, true, nil
	}
	p, err := shelf.Procedure(procedure)
	if err != nil {
		return f, false, err
	}
	spec := p.Spec()
	f.Legend += ": " + form.Lower(spec.Title)
	f.Kept["procedure"] = spec.ID
	measures := form.Field{Name: "first", Title: "Measure that answers the question", Value: t.Test.First, Choices: []form.Choice{{"", "not said yet"}}}
	for _, m := range spec.Measures {
		measures.Choices = append(measures.Choices, form.Choice{m.ID, m.Title})
	}
	gates := form.Field{Name: "gates", Title: "Gates", Lines: 4, Wide: true, Value: strings.Join(t.Gates, "\n"), Hint: "One a line: LAT,LON,LAT,LON in degrees, the right post as driven first; the first one is start and finish."}
	gates.Needed = spec.Cut == programme.CutByGate || spec.Cut == programme.CutByPass
	if !gates.Needed {
		gates.Hint += " This procedure can do without."
	}
	f.Fields = append(f.Fields, measures, gates)
	usual, err := spec.Settings(nil)
	if err != nil {
		return f, false, err
	}
	for i, d := range spec.Parameters {
		set := usual[i]
		if t.Test.Procedure == spec.ID {
			for _, x := range t.Test.Parameters {
				if x.ID == d.ID {
					set = x
				}
			}
		}
		x := form.Field{Name: "p-" + d.ID, Title: d.Title, Hint: d.About}
		if len(d.Words) > 0 {
			x.Value, x.Choices = set.Word, form.Words("", d.Words...)
		} else {
			u := style.Of(shownIn(d))
			x.Number, x.Value = true, form.Plain(u.FromHouse(set.Number), style)
			if s := u.Symbol(); s != "1" {
				x.Symbol = s
			}
		}
		f.Fields = append(f.Fields, x)
	}
	return f, true, nil
}

// shownIn gives the unit in which a parameter is set.
func shownIn(d programme.Parameter) unit.Unit {
	for _, s := range []string{d.Shown, d.Unit, "1"} {
		if u, ok := unit.Known(s); ok && s != "" {
			return u
		}
	}
	return unit.MustParse("1")
}

// ReadTest gives the test as it was typed, for the use case.
func ReadTest(s *app.State, shelf logger.Shelf, q url.Values, style unit.Style) (app.BeginRequest, error) {
	typed := form.Reader{Typed: q}
	r := app.BeginRequest{ID: q.Get("test"), Title: q.Get("title"), Surface: q.Get("surface"), ControlType: q.Get("control_type"), First: q.Get("first")}
	id := q.Get("procedure")
	if id == "" {
		return r, nil // what the test is driven by is held
	}
	r.Reset = true
	if id == typedValues {
		return r, nil
	}
	r.Procedure = id
	r.Gates = typed.Lines("gates")
	p, err := shelf.Procedure(id)
	if err != nil {
		return r, err
	}
	spec := p.Spec()
	var was programme.Parameters
	if i := slices.IndexFunc(s.Tests, func(t app.TestEntry) bool { return t.Test.ID == r.ID && t.Test.Procedure == id }); i >= 0 {
		was = s.Tests[i].Test.Parameters
	}
	usual, err := spec.Settings(nil)
	if err != nil {
		return r, err
	}
	for i, d := range spec.Parameters {
		text := typed.Text("p-" + d.ID)
		if text == "" {
			continue // as usual
		}
		if len(d.Words) > 0 {
			r.Given = append(r.Given, programme.Setting{ID: d.ID, Word: text})
			continue
		}
		stands := usual[i]
		for _, x := range was {
			if x.ID == d.ID {
				stands = x
			}
		}
		u := style.Of(shownIn(d))
		if text == form.Plain(u.FromHouse(stands.Number), style) {
			r.Given = append(r.Given, stands)
			continue
		}
		if v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64); err == nil { // in the unit that stands beside the field
			text = strconv.FormatFloat(v, 'f', -1, 64)
			if s := u.Symbol(); s != "1" {
				text += " " + s
			}
		}
		set, err := spec.Setting(d.ID, text)
		if err != nil {
			return r, fault.At(err, "p-%s", d.ID)
		}
		r.Given = append(r.Given, set)
	}
	return r, nil
}
