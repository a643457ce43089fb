package web

import (
	"net/http"
	"strings"

	"example.org/bookend/fault"
)

// look is how a person wants to see pages. It is kept in that person's browser.
type look struct {
	Theme string // paper, dark, sunlight; empty: as the device says
	Comma bool   // decimal comma
}

// themes in the order in which they are offered.
var themes = []string{"paper", "dark", "sunlight"}

const lookCookie = "look"

func lookOf(r *http.Request) look {
	var l look
	c, err := r.Cookie(lookCookie)
	if err != nil {
		return l
	}
	theme, comma, _ := strings.Cut(c.Value, ".")
	for _, t := range themes {
		if t == theme {
			l.Theme = t
		}
	}
	l.Comma = comma == "comma"
	return l
}

// look keeps how pages are to be seen, and goes back to the page that asked.
func (f *face) look(w http.ResponseWriter, r *http.Request) error {
	if err := r.ParseForm(); err != nil {
		return fault.New(fault.Invalid, "reading the form: %w", err)
	}
	value := r.PostForm.Get("theme")
	if r.PostForm.Get("numbers") == "comma" {
		value += ".comma"
	}
	http.SetCookie(w, &http.Cookie{Name: lookCookie, Value: value, Path: "/", MaxAge: 365 * 24 * 3600, HttpOnly: true, SameSite: http.SameSiteStrictMode})
	http.Redirect(w, r, local(r.PostForm.Get("back")), http.StatusSeeOther)
	return nil
}
