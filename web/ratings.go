package web

import (
	"net/http"
	"slices"
	"strings"

	"example.org/bookend/fault"
	"example.org/bookend/report"
)

// ratedBody is the body of the page of ratings.
type ratedBody struct {
	Ask      asking
	Sections []report.Section
	Notes    []report.Note
	Open     []string // tests whose sheets are not all closed
}

// rated counts the rating sheets: one a stint and rater, of the run log and of tables
// that name a rater.
func (s *seen) rated() int {
	type sheet struct{ test, stint, rater string }
	seen := map[sheet]bool{}
	for _, d := range s.driven {
		stint := map[string]string{}
		for _, r := range d.Log.Runs {
			stint[r.ID] = r.Stint
		}
		for _, o := range d.Log.Observations {
			if o.Rater != "" {
				seen[sheet{d.Test.Test.ID, stint[o.Run], o.Rater}] = true
			}
		}
	}
	for _, t := range s.state.Day.Tests() {
		log := s.state.Day.Sheets(t)
		stint := map[string]string{}
		for _, r := range log.Runs {
			stint[r.ID] = r.Stint
		}
		for _, o := range log.Observations {
			seen[sheet{t, stint[o.Run], o.Rater}] = true
		}
	}
	return len(seen)
}

// sheetsOpen tells whether sheets of the run log are not closed yet.
func (s *seen) sheetsOpen() bool { return len(s.openSheets()) > 0 }

func (s *seen) openSheets() []string {
	var out []string
	for _, t := range s.state.Day.Tests() {
		if len(s.state.Day.Sheets(t).Observations) > 0 && !s.state.Day.SheetsClosed(t) {
			out = append(out, t)
		}
	}
	return out
}

// ratings shows what was rated: candidates by attribute, raters and how far they agree,
// weights, and which measures go with it. Sheets that are open are not shown: what others
// wrote is not to be seen before one's own is closed.
func (f *face) ratings(w http.ResponseWriter, r *http.Request) error {
	p, s, a, form, err := f.asks(r)
	if err != nil {
		return err
	}
	v := frame{}
	f.around(&v, p, s, "Ratings")
	form.Points, form.Margin = true, a.rated
	body := ratedBody{Ask: form, Open: s.openSheets()}
	switch {
	case s.rated() == 0:
		v.Title, v.Below, v.Body = say("Nothing has been rated yet"), say("Sheets are filled in on the day’s page, or brought in as a table with the columns stint, code, rater, attribute and value."), body
		return f.hand(w, r, http.StatusOK, "ratings", v, nil)
	case a.control == "":
		v.Title, v.Below, v.Body = say("It is not said which code is the control"), say("Ratings are laid beside the control’s. Choose it here."), body
		return f.hand(w, r, http.StatusOK, "ratings", v, nil)
	}
	m, err := f.reported(r, p, a)
	if fault.CodeOf(err) == fault.NotFound && len(body.Open) > 0 {
		v.Title, v.Below, v.Body = say("No sheet is closed yet"), say("Whoever rates closes the sheet on the day’s page; until then nobody sees it."), body
		return f.hand(w, r, http.StatusOK, "ratings", v, nil)
	}
	if err != nil {
		return err
	}
	d, notes := m.document, map[string]bool{}
	for _, x := range d.Sections {
		if x.About == report.Rated && x.Of == "" {
			x = *opened(d.Sections, x.ID)
			body.Sections = append(body.Sections, x)
			for _, k := range x.Blocks {
				marked(k.Text, notes)
				for _, t := range k.List {
					marked(t, notes)
				}
				if k.Table != nil {
					marked(k.Table.Caption, notes)
					for _, row := range k.Table.Rows {
						for _, c := range row.Cells {
							marked(c.Text, notes)
						}
					}
				}
			}
		}
	}
	body.Sections = byTest(body.Sections)
	for _, n := range d.Notes {
		if notes[n.ID] {
			body.Notes = append(body.Notes, n)
		}
	}
	v.Title = say("No rating could be compared")
	if len(body.Sections) > 0 {
		v.Title = body.Sections[0].Title
		v.Below = say("Ratings are description beside the first measures. Every sheet stands below, and in the report.")
	}
	v.Body = body
	return f.hand(w, r, http.StatusOK, "ratings", v, &d.Codes)
}

// byTest puts sections of one test beside each other, each with what it rests on behind
// it; what is about several tests comes last.
func byTest(list []report.Section) []report.Section {
	test := func(s report.Section) string {
		t, _, of := strings.Cut(s.Short, ": ")
		if !of {
			return ""
		}
		return t
	}
	var tests []string
	for _, s := range list {
		if t := test(s); t != "" && !slices.Contains(tests, t) {
			tests = append(tests, t)
		}
	}
	var out []report.Section
	for _, t := range append(tests, "") {
		for _, s := range list {
			if s.Of != "" && slices.ContainsFunc(list, func(x report.Section) bool { return x.ID == s.Of }) || test(s) != t {
				continue
			}
			out = append(out, s)
			for _, x := range list {
				if x.Of == s.ID {
					out = append(out, x)
				}
			}
		}
	}
	return out
}

// marked takes the notes that a text leads to.
func marked(t report.Text, into map[string]bool) {
	for _, s := range t {
		if s.As == report.Mark {
			into[s.To] = true
		}
	}
}
