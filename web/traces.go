package web

import (
	"net/http"
	"strconv"
	"strings"

	"example.org/bookend/app"
	"example.org/bookend/fault"
	"example.org/bookend/unit"
	"example.org/bookend/web/strips"
)

// traces gives least and greatest values of a recording's channels, a column each.
func (f *face) traces(w http.ResponseWriter, r *http.Request) error {
	p, s, err := f.opened(r)
	if err != nil {
		return err
	}
	entry, err := s.numbered(r)
	if err != nil {
		return err
	}
	t, err := p.Folder.Drawn(r.Context(), s.state, entry, &f.shelf)
	if err != nil {
		return err
	}
	q, err := strips.Asked(r.URL.Query())
	if err != nil {
		return err
	}
	out, err := strips.OfRecording(t, q, lookOf(r).style())
	if err != nil {
		return err
	}
	return sendJSON(w, out)
}

// cutDigits is how many decimals of a second the ends of a cut are printed with (own
// choice: no logger samples more often).
const cutDigits = 3

// recut moves a cut, with the reason, or takes the last move back.
func (f *face) recut(w http.ResponseWriter, r *http.Request) error {
	p, s, entry, err := f.written(r, "move a cut")
	if err != nil {
		return err
	}
	if err := readForm(r); err != nil {
		return err
	}
	q := app.CutRequest{Test: entry.Test, Recording: entry.SHA256, Reason: r.PostForm.Get("reason")}
	if q.Piece, err = strconv.Atoi(r.PostForm.Get("piece")); err != nil {
		return fault.New(fault.Invalid, "it is not said which run's cut is moved")
	}
	if r.PostForm.Get("back") != "" {
		err = p.Folder.UnmoveCut(r.Context(), q)
	} else {
		test, err := s.state.Test(entry.Test)
		if err != nil {
			return err
		}
		now, err := p.Folder.Reduce(r.Context(), s.state, test, entry)
		if err != nil {
			return err
		}
		shown := map[string]string{} // the ends as the page printed them: sent back as they were, they stay
		for _, x := range now.Results.Pieces {
			if x.Run == strconv.Itoa(q.Piece) {
				shown["begin"], shown["end"] = unit.Number(x.FromS, cutDigits, unit.Plain), unit.Number(x.ToS, cutDigits, unit.Plain)
			}
		}
		for _, end := range []struct {
			name string
			at   **float64
		}{{"begin", &q.FromS}, {"end", &q.ToS}} {
			text := strings.Replace(strings.TrimSpace(r.PostForm.Get(end.name)), ",", ".", 1)
			if text == "" || text == shown[end.name] {
				continue // as it is
			}
			v, err := strconv.ParseFloat(text, 64)
			if err != nil {
				return fault.New(fault.Invalid, "%q is no time", text).WithHint("in s of the recording, for example 61.25")
			}
			*end.at = &v
		}
		if err := p.Folder.MoveCut(r.Context(), q); err != nil {
			return err
		}
	}
	if err != nil {
		return err
	}
	http.Redirect(w, r, p.base()+"/recordings/"+escape(entry.Test)+"/"+r.PathValue("number"), http.StatusSeeOther)
	return nil
}
