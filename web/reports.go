package web

import (
	"fmt"
	"net/http"

	"example.org/bookend/report"
)

// drafted is the body of the report's page.
type drafted struct {
	Ask      asking
	Whole    string           // address of the report itself
	Contents []report.Section // what a client reads
	Behind   []report.Section // its appendix
	Inputs   []report.Hash
	SHA256   string
	Notes    int
}

// report shows what the client would get, and where it lies.
func (f *face) report(w http.ResponseWriter, r *http.Request) error {
	p, s, a, form, err := f.asks(r)
	if err != nil {
		return err
	}
	m, err := f.reported(r, p, a)
	if err != nil {
		return err
	}
	d := m.document
	sum, err := d.SHA256()
	if err != nil {
		return err
	}
	body := drafted{Ask: form, Whole: p.base() + "/report/whole" + with(r.URL.Query(), "", ""), Contents: d.Sections, Inputs: d.Inputs, SHA256: sum, Notes: len(d.Notes)}
	for i, s := range d.Sections {
		if s.Behind {
			body.Contents, body.Behind = d.Sections[:i], d.Sections[i:]
			break
		}
	}
	v := frame{Title: say(fmt.Sprintf("The report stands as a draft: %d parts to read, %d behind them to audit", len(body.Contents)+1, len(body.Behind))), Below: d.Title, Body: body}
	f.around(&v, p, s, "Report")
	return f.hand(w, r, http.StatusOK, "report", v, &d.Codes)
}

// whole gives the report itself, as it is sent and printed.
func (f *face) whole(w http.ResponseWriter, r *http.Request) error {
	p, _, a, _, err := f.asks(r)
	if err != nil {
		return err
	}
	m, err := f.reported(r, p, a)
	if err != nil {
		return err
	}
	b, err := m.whole()
	if err != nil {
		return err
	}
	w.Header().Set("Content-Security-Policy", policyWhole)
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_, _ = w.Write(b) // whoever asked may be gone
	return nil
}
