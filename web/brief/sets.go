package brief

import (
	"net/url"

	"example.org/bookend/app"
	"example.org/bookend/programme"
	"example.org/bookend/web/form"
)

// standings are the words for how something marked stands; the script has the same.
var standings = map[string]string{"within": "within", "over": "over", "not_judged": "not judged", "marked": ""}

// Says gives everything that a size says, held against the vehicle; nil where none is told.
func Says(s *app.State, size string) []form.Said {
	if size == "" {
		return nil
	}
	t := s.Sidewall(size)
	if t.Wrong != "" {
		return []form.Said{{Text: form.Sentence(t.Wrong) + ": " + t.Hint + "."}}
	}
	var out []form.Said
	for _, f := range t.Findings {
		out = append(out, form.Said{Standing: string(f.Standing), Word: standings[string(f.Standing)], Text: f.Text})
	}
	return out
}

// short leaves of what a size says what it is marked for, what is over, and what is not
// judged; where nothing is either it says so.
func short(all []form.Said) []form.Said {
	var out []form.Said
	open := len(all) == 0 || all[0].Standing == "" // none is told, or why it cannot be read
	for i, x := range all {
		if x.Standing != "within" {
			out = append(out, x)
			open = open || i > 2 // the first three say what is marked
		}
	}
	if !open {
		out = append(out, form.Said{Standing: "within", Word: standings["within"], Text: "Both axles’ loads and the top speed."})
	}
	return out
}

// SetRow is one set with what its size says and what holds it.
type SetRow struct {
	programme.Set
	Says   []form.Said
	Held   string
	Change string // address of the form that changes it
}

// Sets gives the rows of the sets.
func Sets(s *app.State, at string) []SetRow {
	holds := s.Holds()
	var out []SetRow
	for _, x := range s.Programme.Sets {
		out = append(out, SetRow{x, short(Says(s, x.Size)), form.Sentence(holds.Fast(s.Programme.Sets, x.ID)), at + "?" + url.Values{"set": {x.ID}}.Encode() + "#set"})
	}
	return out
}

// SetForm is the form that puts a set into the programme, or changes the one called was.
func SetForm(s *app.State, to, was string) form.Form {
	f := form.Form{ID: "set", To: to + "/set", Legend: "Add a tyre set", Do: "Add the set", Fields: []form.Field{
		{Name: "name", Title: "Set", Hint: "The physical tyres: P1, P2.", Needed: true},
		{Name: "code", Title: "Code", Hint: "The letter that it is driven under.", Needed: true},
		{Name: "size", Title: "Size as marked", Hint: "With load index, speed symbol and load variant: 205/65 R16C 107/105T, 205/55 R16 94V XL. No maker’s words.", Wide: true, Answered: true},
		{Name: "note", Title: "Note", Hint: "Nothing that gives the tyre away.", Wide: true},
	}}
	if s.Sealed != nil {
		c := f.Field("code")
		c.Hint = "One of the sealed letters."
		c.Choices = []form.Choice{{"", "choose"}}
		for _, x := range s.Sealed.Codes {
			c.Choices = append(c.Choices, form.Choice{x, x})
		}
	}
	for _, x := range s.Programme.Sets {
		if x.ID != was || was == "" {
			continue
		}
		f.Legend, f.Do, f.Open, f.Away, f.Kept = "Change set "+x.ID, "Keep the set", true, "Take set "+x.ID+" away", map[string]string{"was": x.ID}
		for name, v := range map[string]string{"name": x.ID, "code": x.Code, "size": x.Size, "note": x.Note} {
			f.Field(name).Value = v
		}
		if why := s.Holds().Fast(s.Programme.Sets, x.ID); why != "" {
			f.Stays = why + "."
			f.Note = "Its name and code stay as they are: " + why + ". Size and note can be put right."
			for _, name := range []string{"name", "code"} {
				x := f.Field(name)
				x.Fixed, x.Choices, x.Hint = true, nil, ""
			}
		}
	}
	f.Field("size").Says = Says(s, f.Field("size").Value)
	return f
}

// ReadSet gives the set as it was typed, and which one it changes; what is fixed is not sent.
func ReadSet(s *app.State, q url.Values) (was string, set programme.Set) {
	was, set = q.Get("was"), programme.Set{ID: q.Get("name"), Code: q.Get("code"), Size: q.Get("size"), Note: q.Get("note")}
	for _, x := range s.Programme.Sets {
		if x.ID == was {
			if !q.Has("name") {
				set.ID = x.ID
			}
			if !q.Has("code") {
				set.Code = x.Code
			}
		}
	}
	return was, set
}

// Retype fills the form in as it was typed, with what the typed size says.
func Retype(f *form.Form, s *app.State, q url.Values) {
	f.Filled(q)
	if x := f.Field("size"); x != nil {
		x.Says = Says(s, x.Value)
	}
}

// Over says which sets are over what their sizes are marked for, a sentence each.
func Over(s *app.State) []string {
	var out []string
	for _, x := range s.Programme.Sets {
		for _, i := range Says(s, x.Size) {
			if i.Standing == "over" {
				out = append(out, "Set "+x.ID+": "+form.Lower(i.Text))
			}
		}
	}
	return out
}
