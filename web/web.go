// Package web is the local web face: the evaluator's pages at the desk. Every
// page is HTML from the server and works without a script; every view is an
// address that can be sent.
//
// It calls the use cases of app and computes nothing itself. Errors of app's
// five codes become statuses: invalid 422, not found 404, conflict 409,
// unsupported 501, internal 500. It speaks on loopback alone: a request for
// another host's name is refused, and so is one that another site's page sends.
//
// Sources: look of its own; WCAG 2.2 AA for contrast, names and keys; ISO 8601
// for dates. Limits: one programme's entries are read anew for each page, what
// is computed from them is kept until an entry comes.
package web

import (
	"context"
	"embed"
	"net/http"

	"example.org/bookend/app"
	"example.org/bookend/fault"
	"example.org/bookend/figure/fonts"
)

//go:embed page/*.tmpl
var pages embed.FS

//go:embed static
var static embed.FS

// Programme is one programme that the face shows.
type Programme struct {
	Name   string // of its folder: the word in its addresses
	Folder *app.Folder
}

// Options say what the face shows.
type Options struct {
	Ground     string                                     // whose programmes these are, in words; may be empty
	Programmes func(context.Context) ([]Programme, error) // those there are now
}

// face is the web face.
type face struct {
	o      Options
	sheets *sheets
	kept   keeper
}

// New makes the face as a handler.
func New(o Options) (http.Handler, error) {
	if o.Programmes == nil {
		return nil, fault.New(fault.Internal, "the web face was given no programmes")
	}
	s, err := newSheets()
	if err != nil {
		return nil, err
	}
	f := &face{o: o, sheets: s}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", f.page(f.programmes))
	mux.HandleFunc("GET /p/{programme}/{$}", f.page(f.begin))
	mux.HandleFunc("GET /p/{programme}/brief", f.page(f.brief))
	mux.HandleFunc("GET /p/{programme}/recordings", f.page(f.recordings))
	mux.HandleFunc("GET /p/{programme}/recordings/{test}/{number}", f.page(f.recording))
	mux.HandleFunc("GET /p/{programme}/verdicts", f.page(f.verdicts))
	mux.HandleFunc("GET /p/{programme}/runs/{test}/{run}", f.page(f.run))
	mux.HandleFunc("POST /p/{programme}/runs/{test}/{run}/out", f.page(f.leaveOut))
	mux.HandleFunc("POST /p/{programme}/runs/{test}/{run}/back", f.page(f.takeBack))
	mux.HandleFunc("GET /p/{programme}/report", f.page(f.report))
	mux.HandleFunc("GET /p/{programme}/report/whole", f.page(f.whole))
	mux.HandleFunc("GET /p/{programme}/changes", f.changes)
	mux.HandleFunc("GET /p/{programme}/day", f.page(f.dayAt))
	mux.HandleFunc("POST /p/{programme}/day/entries/{kind}", f.page(f.enter))
	mux.HandleFunc("PUT /p/{programme}/day/outbox/{id}", f.take)
	mux.HandleFunc("PUT /p/{programme}/day/blobs/{sum}", f.attach)
	mux.HandleFunc("GET /p/{programme}/day/manifest.json", f.manifest)
	mux.HandleFunc("GET /worker.js", f.worker)
	mux.HandleFunc("POST /look", f.page(f.look))
	mux.HandleFunc("GET /static/{sum}/{file}", s.static)
	mux.HandleFunc("/", f.page(func(w http.ResponseWriter, r *http.Request) error {
		return fault.New(fault.NotFound, "there is no page %s", r.URL.Path).WithHint("begin at the programmes")
	}))
	return guard(mux), nil
}

// asset names a font of figure/fonts as this face serves it.
func fontFiles() map[string][]byte {
	out := map[string][]byte{}
	for _, f := range fonts.Faces() {
		out[f.Name()+".woff2"] = f.WOFF2()
	}
	return out
}
