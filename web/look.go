package web

import (
	"net/http"
	"strings"

	"example.org/bookend/unit"
)

// look is how a person wants to see pages. It is kept in that person's browser.
type look struct {
	Theme string            // paper, dark, sunlight; empty: as the device says
	Comma bool              // decimal comma
	Units map[string]string // by what is measured: the symbol's key; absent: as each measure is read
}

// themes in the order in which they are offered.
var themes = []string{"paper", "dark", "sunlight"}

// choices are the units that a person may want to see instead of those in which measures
// are read. Lengths other than metres, as a tread depth, stay as they are.
var choices = []choice{
	{"speed", "Speeds", []unit.Unit{unit.KilometrePerHour, unit.MetrePerSecond, unit.MustParse("mph")}},
	{"length", "Lengths", []unit.Unit{unit.Metre, unit.MustParse("ft")}},
	{"temperature", "Temperatures", []unit.Unit{unit.MustParse("°C"), unit.MustParse("°F")}},
	{"pressure", "Pressures", []unit.Unit{unit.MustParse("kPa"), unit.MustParse("bar"), unit.MustParse("psi")}},
}

type choice struct {
	Name, Title string
	Units       []unit.Unit
}

const lookCookie = "look"

func lookOf(r *http.Request) look {
	var l look
	c, err := r.Cookie(lookCookie)
	if err != nil {
		return l
	}
	parts := strings.Split(c.Value, ".")
	for _, t := range themes {
		if t == parts[0] {
			l.Theme = t
		}
	}
	for _, p := range parts[1:] {
		if p == "comma" {
			l.Comma = true
		}
		name, key, _ := strings.Cut(p, "-")
		if u, ok := chosen(name, key); ok {
			if l.Units == nil {
				l.Units = map[string]string{}
			}
			l.Units[name] = u.Key()
		}
	}
	return l
}

// chosen gives the unit of a key among those that are offered.
func chosen(name, key string) (unit.Unit, bool) {
	for _, c := range choices {
		for _, u := range c.Units {
			if c.Name == name && u.Key() == key {
				return u, true
			}
		}
	}
	return unit.Unit{}, false
}

// style gives how this person wants numbers.
func (l look) style() unit.Style {
	s := unit.Style{Comma: l.Comma}
	for name, to := range map[string]*unit.Unit{"speed": &s.Speed, "length": &s.Length, "temperature": &s.Temperature, "pressure": &s.Pressure} {
		if u, ok := chosen(name, l.Units[name]); ok {
			*to = u
		}
	}
	return s
}

// lookKey tells one style from another.
func lookKey(s unit.Style) string {
	out := "point"
	if s.Comma {
		out = "comma"
	}
	for _, u := range []unit.Unit{s.Speed, s.Length, s.Temperature, s.Pressure} {
		out += "."
		if !u.IsZero() {
			out += u.Key()
		}
	}
	return out
}

// look keeps how pages are to be seen, and goes back to the page that asked.
func (f *face) look(w http.ResponseWriter, r *http.Request) error {
	if err := readForm(r); err != nil {
		return err
	}
	value := r.PostForm.Get("theme")
	if r.PostForm.Get("numbers") == "comma" {
		value += ".comma"
	}
	for _, c := range choices {
		if u, ok := chosen(c.Name, r.PostForm.Get(c.Name)); ok {
			value += "." + c.Name + "-" + u.Key()
		}
	}
	http.SetCookie(w, &http.Cookie{Name: lookCookie, Value: value, Path: "/", MaxAge: 365 * 24 * 3600, HttpOnly: true, SameSite: http.SameSiteStrictMode})
	http.Redirect(w, r, local(r.PostForm.Get("back")), http.StatusSeeOther)
	return nil
}
