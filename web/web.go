// Package web is the local web face: the evaluator's pages at the desk. Every
// page is HTML from the server and works without a script; every view is an
// address that can be sent.
//
// It calls the use cases of app and computes nothing itself. Errors of app's
// five codes become statuses: invalid 422, not found 404, conflict 409,
// unsupported 501, internal 500; who may not is answered 403, who has not signed
// in is led there. A request for another host's name is refused, and so is one
// that another site's page sends. Who may see what is said by app/sight alone.
//
// Sources: look of its own; WCAG 2.2 AA for contrast, names and keys; ISO 8601
// for dates. Limits: what is computed from the entries is kept until one
// comes that bears on it; who asks meanwhile waits for it instead of computing it again.
package web

import (
	"context"
	"embed"
	"net/http"

	"example.org/bookend/app"
	"example.org/bookend/app/sight"
	"example.org/bookend/app/trace"
	"example.org/bookend/fault"
	"example.org/bookend/figure/fonts"
	"example.org/bookend/web/orders/anew"
	"example.org/bookend/web/orders/interim"
	"example.org/bookend/web/orders/next"
	"example.org/bookend/web/orders/setout"
	"example.org/bookend/web/work"
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

// Options say what the face shows, and to whom.
type Options struct {
	Ground     string                                     // whose programmes these are, in words; may be empty
	Programmes func(context.Context) ([]Programme, error) // those there are now
	Lead       string                                     // who it is where nobody has to sign in

	Door   Door     // who may sign in; nil: nobody has to
	Hosts  []string // names and addresses besides loopback that this machine answers to
	Secure bool     // it is spoken to over TLS
	Trust  *Trust   // what a tablet has to trust; nil: nothing
}

// face is the web face.
type face struct {
	o      Options
	sheets *sheets
	kept   keeper
	shelf  trace.Shelf // traces that were drawn last
	drawn  drawings
	work   work.Bench
	doors  *doors
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
	if len(o.Hosts) > 0 && o.Door == nil {
		return nil, fault.New(fault.Internal, "the web face was to answer to others, and nobody has to sign in")
	}
	f := &face{o: o, sheets: s, doors: newDoors(o)}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", f.behind(f.programmes))
	mux.HandleFunc("GET /p/{programme}/{$}", f.behind(f.begin))
	mux.HandleFunc("GET /p/{programme}/brief", f.behind(f.brief, sight.Plan, sight.SetRecords))
	mux.HandleFunc("POST /p/{programme}/brief", f.behind(f.rewrite, sight.Plan, sight.SetRecords))
	mux.HandleFunc("POST /p/{programme}/brief/set", f.behind(f.putSet, sight.Plan, sight.SetRecords))
	for _, form := range []string{"set", "test", "plan", "limits"} { // a page that shows what was refused, loaded again
		mux.HandleFunc("GET /p/{programme}/brief/"+form, f.behind(f.toBrief, sight.Plan, sight.SetRecords))
	}
	mux.HandleFunc("POST /p/{programme}/brief/limits", f.behind(f.putLimits, sight.Plan, sight.SetRecords))
	mux.HandleFunc("POST /p/{programme}/brief/plan", f.behind(f.putPlan, sight.Plan, sight.SetRecords))
	mux.HandleFunc("POST /p/{programme}/brief/test", f.behind(f.putTest, sight.Plan, sight.SetRecords))
	mux.HandleFunc("GET /p/{programme}/order", f.behind(f.order, sight.Plan, sight.Control))
	mux.HandleFunc("POST /p/{programme}/order/take", f.behind(f.takeOrder, sight.Plan, sight.Control))
	mux.HandleFunc("POST /p/{programme}/order/table", f.behind(f.bringTable, sight.Plan, sight.Control))
	mux.HandleFunc("GET /p/{programme}/order/anew", f.behind(f.leaf("Order", anew.Show), sight.Plan, sight.Control))
	mux.HandleFunc("POST /p/{programme}/order/anew/take", f.behind(f.leafToEnter("plan the rest anew", "Order", anew.Take), sight.Plan, sight.Control))
	mux.HandleFunc("GET /p/{programme}/order/sheet", f.behind(f.runSheet, sight.Plan, sight.Control))
	mux.HandleFunc("GET /p/{programme}/order/anew/sheet", f.behind(f.restSheet, sight.Plan, sight.Control))
	mux.HandleFunc("GET /p/{programme}/order/advice", f.behind(f.leaf("Order", next.Show), sight.Plan, sight.Control))
	mux.HandleFunc("GET /p/{programme}/interim", f.behind(f.leaf("Order", interim.Show), sight.Interim))
	mux.HandleFunc("POST /p/{programme}/interim", f.behind(f.leaf("Order", interim.Look), sight.Interim))
	mux.HandleFunc("GET /p/{programme}/order/cones", f.behind(f.leaf("Order", setout.Page), sight.Plan))
	mux.HandleFunc("GET /p/{programme}/order/cones/{file}", f.behind(f.conesFile, sight.Plan))
	mux.HandleFunc("GET /pieces/{id}", f.behind(f.far))
	mux.HandleFunc("POST /pieces/{id}/cancel", f.behind(f.cancel))
	mux.HandleFunc("GET /p/{programme}/recordings", f.behind(f.recordings, sight.Times, sight.Verdicts))
	mux.HandleFunc("GET /p/{programme}/recordings/{test}/{number}", f.behind(f.recording, sight.Times, sight.Verdicts))
	mux.HandleFunc("POST /p/{programme}/recordings/{test}/{number}/assign", f.behind(f.assign, sight.Verdicts))
	mux.HandleFunc("POST /p/{programme}/recordings/{test}/{number}/unassign", f.behind(f.unassign, sight.Verdicts))
	mux.HandleFunc("GET /p/{programme}/recordings/{test}/{number}/traces", f.behind(f.traces, sight.Times, sight.Verdicts))
	mux.HandleFunc("POST /p/{programme}/recordings/{test}/{number}/recut", f.behind(f.recut, sight.Verdicts))
	mux.HandleFunc("GET /p/{programme}/lines", f.behind(f.lines, sight.Times, sight.Verdicts))
	mux.HandleFunc("GET /p/{programme}/lines/{test}/paths", f.behind(f.paths, sight.Times, sight.Verdicts))
	mux.HandleFunc("GET /p/{programme}/lines/{test}/channels", f.behind(f.strips, sight.Times, sight.Verdicts))
	mux.HandleFunc("GET /p/{programme}/lines/{test}/room", f.behind(f.room, sight.Times, sight.Verdicts))
	mux.HandleFunc("GET /p/{programme}/lines/{test}/again", f.behind(f.again, sight.Times, sight.Verdicts))
	mux.HandleFunc("GET /p/{programme}/verdicts", f.behind(f.verdicts, sight.Verdicts))
	mux.HandleFunc("GET /p/{programme}/runs/{test}/{run}", f.behind(f.run, sight.Times, sight.Verdicts))
	mux.HandleFunc("POST /p/{programme}/runs/{test}/{run}/out", f.behind(f.leaveOut, sight.Verdicts))
	mux.HandleFunc("POST /p/{programme}/runs/{test}/{run}/back", f.behind(f.takeBack, sight.Verdicts))
	mux.HandleFunc("GET /p/{programme}/ratings", f.behind(f.ratings, sight.Verdicts))
	mux.HandleFunc("GET /p/{programme}/report", f.behind(f.report, sight.Report))
	mux.HandleFunc("GET /p/{programme}/report/whole", f.behind(f.whole, sight.Report))
	mux.HandleFunc("GET /p/{programme}/changes", f.changes)
	mux.HandleFunc("GET /p/{programme}/day", f.behind(f.dayAt, sight.RunLog))
	mux.HandleFunc("POST /p/{programme}/day/entries/{kind}", f.behind(f.enter, sight.RunLog))
	mux.HandleFunc("PUT /p/{programme}/day/outbox/{id}", f.take)
	mux.HandleFunc("PUT /p/{programme}/day/blobs/{sum}", f.attach)
	mux.HandleFunc("GET /p/{programme}/day/blobs/{sum}", f.behind(f.hear, sight.RunLog))
	mux.HandleFunc("POST /p/{programme}/day/back/{id}", f.behind(f.backOut, sight.RunLog))
	mux.HandleFunc("POST /p/{programme}/day/correct/{id}", f.behind(f.correct, sight.RunLog))
	mux.HandleFunc("GET /p/{programme}/day/manifest.json", f.manifest)
	mux.HandleFunc("GET /worker.js", f.worker)
	mux.HandleFunc("GET /sign-in", f.page(f.signIn))
	mux.HandleFunc("POST /sign-in", f.page(f.enterBy))
	mux.HandleFunc("POST /sign-out", f.page(f.leave))
	mux.HandleFunc("GET /driver", f.behind(f.handOver))
	mux.HandleFunc("POST /driver", f.behind(f.handTo))
	mux.HandleFunc("POST /driver/back", f.behind(f.handBack))
	mux.HandleFunc("GET /trust", f.page(f.trust))
	mux.HandleFunc("GET /trust/authority.crt", f.certificate)
	mux.HandleFunc("GET /trust/square.png", f.square)
	mux.HandleFunc("POST /look", f.page(f.look))
	mux.HandleFunc("GET /static/{sum}/{file}", s.static)
	mux.HandleFunc("/", f.page(func(w http.ResponseWriter, r *http.Request) error {
		return fault.New(fault.NotFound, "there is no page %s", r.URL.Path).WithHint("begin at the programmes")
	}))
	return f.guard(f.doors.sessions.LoadAndSave(mux)), nil
}

// fontsLicence is the file with the licence of the fonts, beside them.
const fontsLicence = "fonts-licence.txt"

// fontFiles gives the fonts of figure/fonts as this face serves them, and their licence,
// which has to go with every copy (SIL Open Font License 1.1, condition 2).
func fontFiles() map[string][]byte {
	out := map[string][]byte{fontsLicence: []byte(fonts.Licences())}
	for _, f := range fonts.Faces() {
		out[f.Name()+".woff2"] = f.WOFF2()
	}
	return out
}
