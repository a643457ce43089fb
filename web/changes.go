package web

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"time"

	"example.org/bookend/app"
	"example.org/bookend/figure"
)

// watch is how often a page that listens is told of entries made elsewhere.
const watch = time.Second

// patience is how long an event may take to be read.
const patience = 10 * time.Second

// changes tells a page that is open when an entry has come, from another page or
// from the command line: one event with what the chain then stands at. It ends
// when the page is left.
func (f *face) changes(w http.ResponseWriter, r *http.Request) {
	if !f.seesAll(r) {
		http.Error(w, "Your role may not follow this.", http.StatusForbidden)
		return
	}
	p, err := f.find(r.Context(), r.PathValue("programme"))
	if err != nil {
		http.NotFound(w, r)
		return
	}
	control := http.NewResponseController(w)
	// The server's limits on the time of a request and of an answer are not for this
	// one; each event by itself has one, so that who does not read is let go.
	if err := errors.Join(control.SetReadDeadline(time.Time{}), control.SetWriteDeadline(time.Time{})); err != nil {
		http.Error(w, "This connection cannot be kept open.", http.StatusNotImplemented)
		return
	}
	w.Header().Set("Content-Type", "text/event-stream")
	said := ""
	tick := time.NewTicker(watch)
	defer tick.Stop()
	for {
		s, err := app.Rebuild(r.Context(), p.Folder.Store) // from a remembered store nothing but what came since is read
		if err != nil {
			return
		}
		if s.Head != said {
			said = s.Head
			if err := control.SetWriteDeadline(time.Now().Add(patience)); err != nil {
				return
			}
			if _, err := fmt.Fprintf(w, "data: %s\n\n", s.Head); err != nil {
				return
			}
			if err := control.Flush(); err != nil {
				return
			}
		}
		select {
		case <-r.Context().Done():
			return
		case <-tick.C:
		}
	}
}

func escape(s string) string { return url.PathEscape(s) }

// palette gives the codes of a programme in the order of the report: the control
// first, where the sequence tells it.
func (s *seen) palette() *figure.Codes {
	c := figure.Codes{Control: s.opener()}
	for _, k := range s.codes() {
		if k != c.Control {
			c.Candidates = append(c.Candidates, k)
		}
	}
	return &c
}
