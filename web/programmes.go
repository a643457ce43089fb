package web

import (
	"fmt"
	"net/http"

	"example.org/bookend/app/sight"
	"example.org/bookend/report"
	"example.org/bookend/web/form"
)

// listed is the body of the first page.
type listed struct {
	Rows []listedRow
}

type listedRow struct {
	Title, About string
	To           string
	Shelf        []step
	Waits        report.Text
	Trouble      string // why it cannot be shown
}

// programmes lists what there is and what each waits for.
func (f *face) programmes(w http.ResponseWriter, r *http.Request) error {
	who, err := f.who(r)
	if err != nil {
		return err
	}
	all, err := f.o.Programmes(r.Context())
	if err != nil {
		return err
	}
	var body listed
	for _, p := range all {
		s, err := f.see(r.Context(), p)
		if err != nil {
			body.Rows = append(body.Rows, listedRow{Title: p.Name, Trouble: form.Sentence(err.Error())})
			continue
		}
		var v frame
		f.around(&v, p, s, "")
		v.Guest = who
		v.blind()
		waits := v.Waits
		if len(waits) > 1 {
			waits = waits[1:] // the column's head says it
		}
		body.Rows = append(body.Rows, listedRow{Title: v.Which, About: v.About, To: p.base() + "/", Shelf: v.Shelf, Waits: waits})
	}
	v := frame{Which: f.o.Ground, Body: body}
	switch len(all) {
	case 0:
		v.Title, v.Below = say("No programme has been begun here"), say("One is begun with bookend new FOLDER.")
	case 1:
		v.Title = say("One programme is open: ", body.Rows[0].Title)
	default:
		v.Title = say(fmt.Sprintf("%d programmes are open", len(all)))
	}
	return f.hand(w, r, http.StatusOK, "programmes", v, nil)
}

// begin leads to where a programme stands.
func (f *face) begin(w http.ResponseWriter, r *http.Request) error {
	p, s, err := f.opened(r)
	if err != nil {
		return err
	}
	if !f.seesAll(r) {
		to := "/day"
		if _, err := f.who(r, sight.RunLog); err != nil {
			to = "/report"
		}
		http.Redirect(w, r, p.base()+to, http.StatusSeeOther)
		return nil
	}
	to := "/recordings"
	if c := s.counts(); c.recordings == 0 || c.matched == c.recordings {
		to = "/verdicts"
	}
	if !s.measured() {
		to = "/day"
	}
	if len(s.state.Tests) == 0 {
		to = "/brief"
	}
	http.Redirect(w, r, p.base()+to, http.StatusSeeOther)
	return nil
}
