package web

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"

	"example.org/bookend/app"
	"example.org/bookend/app/sight"
	"example.org/bookend/fault"
	"example.org/bookend/figure"
	"example.org/bookend/figure/svg"
	"example.org/bookend/report"
	"example.org/bookend/unit"
	"example.org/bookend/web/form"
)

// step is one step of a programme on the shelf.
type step struct {
	Name, Says string
	To         string // empty: there is nothing to open yet
	Standing   string // done, now, or empty: not begun
	Current    bool
}

// frame is what every page has around its own part.
type frame struct {
	Title  report.Text // the answer: heading and name of the page
	Below  report.Text // a sentence below it; may be empty
	Which  string      // whose programme
	About  string      // and on what
	Home   string      // where the programme begins; empty on pages of no programme
	Shelf  []step
	Stands report.Text // where the programme stands
	Waits  report.Text // and for what it waits
	Here   string      // this page's address
	Live   string      // address that tells of changes; empty: nothing changes under this page
	Head   string      // what the chain of entries stands at
	Look   look

	Guest  Guest
	Signed bool // the guest signed in
	Handed bool // the pages are with the driver

	Again    bool     // the page is not there yet: without a script it loads itself again
	Class    string   // of the page's body
	Scripts  []string // besides the one that follows changes
	Manifest string   // address of what lets a tablet install the page
	Themes   []string
	Choices  []choice // of units
	Body     any
}

// say makes a text of plain words.
func say(words ...any) report.Text {
	var t report.Text
	for _, w := range words {
		switch w := w.(type) {
		case string:
			t = append(t, report.Span{Text: w})
		case report.Span:
			t = append(t, w)
		case report.Text:
			t = append(t, w...)
		}
	}
	return t
}

func strong(s string) report.Span { return report.Span{Text: s, As: report.Strong} }
func code(s string) report.Span   { return report.Span{Text: s, As: report.Code} }

// hand shows a page: its template with its frame. The whole page is made before
// a byte of it is sent.
func (f *face) hand(w http.ResponseWriter, r *http.Request, status int, name string, v frame, codes *figure.Codes) error {
	v.Look, v.Themes, v.Choices, v.Here = lookOf(r), themes, choices, r.URL.RequestURI()
	if g, ok := f.doors.guest(r.Context()); ok {
		v.Guest, v.Signed, v.Handed = g, f.doors.door != nil, f.isHanded(r)
	}
	v.blind()
	p := printer{base: v.Home, drawn: &f.drawn}
	if codes != nil {
		p.codes = *codes
	}
	t, err := f.sheets.pages[name].Clone()
	if err != nil {
		return fault.New(fault.Internal, "making the page: %w", err)
	}
	t.Funcs(template.FuncMap{"codeClass": p.codeClass, "marker": p.marker, "to": p.to, "strip": p.strip, "figure": p.figure})
	var b bytes.Buffer
	if err := t.ExecuteTemplate(&b, "frame.tmpl", v); err != nil {
		return fault.New(fault.Internal, "making the page: %w", err)
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, _ = w.Write(b.Bytes()) // whoever asked may be gone
	return nil
}

// statuses by code of fault.
var statuses = map[fault.Code]int{
	fault.Internal: http.StatusInternalServerError, fault.Invalid: http.StatusUnprocessableEntity, fault.NotFound: http.StatusNotFound,
	fault.Conflict: http.StatusConflict, fault.Unsupported: http.StatusNotImplemented,
}

// troubled is the body of a page that says what went wrong.
type troubled struct{ Hint string }

// page wraps a page that may fail: the fault becomes a page with its status.
func (f *face) page(show func(http.ResponseWriter, *http.Request) error) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		err := show(w, r)
		if err == nil || errors.Is(err, context.Canceled) {
			return
		}
		var on *waiting
		if errors.As(err, &on) {
			if err := f.waits(w, r, on.on); err != nil {
				http.Error(w, err.Error(), http.StatusInternalServerError)
			}
			return
		}
		var no forbidding
		if errors.As(err, &no) {
			if no == errNobody && r.Method == http.MethodGet {
				http.Redirect(w, r, "/sign-in?back="+url.QueryEscape(r.URL.RequestURI()), http.StatusSeeOther)
				return
			}
			if err := f.hand(w, r, refused(no), "trouble", frame{Title: say(form.Sentence(no.Error())), Body: troubled{fault.HintOf(no)}}, nil); err != nil {
				http.Error(w, err.Error(), http.StatusInternalServerError)
			}
			return
		}
		status := statuses[fault.CodeOf(err)]
		if status == 0 {
			status = http.StatusInternalServerError
		}
		var large *http.MaxBytesError
		if errors.As(err, &large) {
			status = http.StatusRequestEntityTooLarge
		}
		v := frame{Title: say(form.Sentence(err.Error())), Body: troubled{fault.HintOf(err)}}
		if name := r.PathValue("programme"); name != "" && f.seesAll(r) {
			if p, e := f.find(r.Context(), name); e == nil {
				if seen, e := f.see(r.Context(), p); e == nil {
					f.around(&v, p, seen, "")
				}
			}
		}
		if err := f.hand(w, r, status, "trouble", v, nil); err != nil {
			http.Error(w, err.Error(), http.StatusInternalServerError)
		}
	}
}

// readForm reads what a form sends, into r.PostForm; what was cut off on its way is no form.
func readForm(r *http.Request) error {
	if err := r.ParseForm(); err != nil {
		return fault.New(fault.Invalid, "reading the form: %w", err).WithHint("go back to the page that it is on, and send it again")
	}
	return nil
}

// seesAll tells whether a guest may see the steps of a programme and how each
// stands.
func (f *face) seesAll(r *http.Request) bool {
	_, err := f.who(r, sight.Plan, sight.Verdicts)
	return err == nil
}

// blind takes out of a frame what the guest's role may not see: steps that lead
// nowhere for it, how they stand, and what the chain of entries stands at.
func (v *frame) blind() {
	if sight.May(v.Guest.Role, sight.Plan, false) && sight.May(v.Guest.Role, sight.Verdicts, false) {
		return
	}
	v.Stands, v.Waits, v.Live, v.Head = nil, nil, "", ""
	var left []step
	for _, s := range v.Shelf {
		switch {
		case s.Name == "Day" && sight.May(v.Guest.Role, sight.RunLog, false), s.Name == "Report" && sight.May(v.Guest.Role, sight.Report, false):
			s.Says, s.Standing = "", ""
			left = append(left, s)
		}
	}
	if v.Home != "" && sight.May(v.Guest.Role, sight.Interim, false) {
		left = append(left, step{Name: "Interim", Says: "a look is logged", To: v.Home + "/interim", Current: strings.HasPrefix(v.Here, v.Home+"/interim")})
	}
	v.Shelf = left
}

// find gives the programme of that name.
func (f *face) find(ctx context.Context, name string) (Programme, error) {
	all, err := f.o.Programmes(ctx)
	if err != nil {
		return Programme{}, err
	}
	for _, p := range all {
		if p.Name == name {
			return p, nil
		}
	}
	return Programme{}, fault.New(fault.NotFound, "there is no programme %q here", name).WithHint("the programmes are listed on the first page")
}

// opened gives the programme that an address names, as it stands.
func (f *face) opened(r *http.Request) (Programme, *seen, error) {
	p, err := f.find(r.Context(), r.PathValue("programme"))
	if err != nil {
		return p, nil, err
	}
	if g, ok := f.doors.guest(r.Context()); ok {
		p = p.by(g)
	}
	v, err := f.seeing(r, p)
	return p, v, err
}

// by gives the programme with what is entered now entered by a guest.
func (p Programme) by(g Guest) Programme {
	own := *p.Folder
	own.Author = g.Name
	p.Folder = &own
	return p
}

// base is the address of a programme.
func (p Programme) base() string { return "/p/" + url.PathEscape(p.Name) }

// around puts a programme's head and shelf round a page.
func (f *face) around(v *frame, p Programme, s *seen, current string) {
	v.Which, v.Home, v.Head = s.state.Programme.Title, p.base(), s.state.Head
	if v.Which == "" {
		v.Which = p.Name
	}
	var about []string
	for _, t := range []string{s.state.Programme.Vehicle, s.state.Programme.Ground} {
		if t != "" {
			about = append(about, t)
		}
	}
	v.About = strings.Join(about, ", ")
	v.Live = p.base() + "/changes"
	v.Shelf = s.shelf(p)
	for i := range v.Shelf {
		v.Shelf[i].Current = v.Shelf[i].Name == current
	}
	v.Stands, v.Waits = s.stands()
}

// shelf gives the steps of a programme and where each stands.
func (s *seen) shelf(p Programme) []step {
	c := s.counts()
	b := p.base()
	question := step{Name: "Brief", Says: "no question yet", To: b + "/brief", Standing: "now"}
	if s.state.Programme.Question != "" {
		question.Says, question.Standing = "question asked", "done"
	}
	ord := step{Name: "Order", Says: "plan it", To: b + "/order"}
	switch n := s.ordered(); {
	case n > 0:
		ord.Says, ord.Standing = "of "+unit.Count(n, "test"), "done"
	case c.stints > 0:
		ord.Says, ord.Standing = unit.Count(c.stints, "stint")+" driven", "done"
	}
	day := step{Name: "Day", Says: "nothing driven yet", To: b + "/day"}
	if c.stints > 0 {
		day.Says, day.Standing = unit.Count(c.stints, "stint")+", "+unit.Count(c.runs, "run"), "done"
	}
	rec := step{Name: "Recordings", Says: "none yet", To: b + "/recordings"}
	if c.recordings > 0 {
		rec.Says, rec.Standing = fmt.Sprintf("%d of %d matched", c.matched, c.recordings), "done"
		if c.matched < c.recordings {
			rec.Standing = "now"
		}
	}
	measures := 0
	for _, d := range s.driven {
		measures += len(d.Measures)
	}
	ver := step{Name: "Verdicts", Says: "none yet", To: b + "/verdicts"}
	rep := step{Name: "Report", Says: "not begun", To: b + "/report"}
	if measures > 0 {
		ver.Says, ver.Standing = unit.Count(measures, "measure"), "done"
		rep.Says, rep.Standing = "a draft", "now"
	}
	lin := step{Name: "Lines", Says: "none yet", To: b + "/lines"}
	if n := len(s.lined()); n > 0 {
		lin.Says, lin.Standing = "of "+unit.Count(n, "test"), "done"
	}
	rat := step{Name: "Ratings", Says: "none yet", To: b + "/ratings"}
	if n := s.rated(); n > 0 {
		rat.Says, rat.Standing = unit.Count(n, "sheet"), "done"
		if s.sheetsOpen() {
			rat.Says, rat.Standing = unit.Count(n, "sheet")+", some open", "now"
		}
	}
	return []step{question, ord, day, rec, lin, rat, ver, rep}
}

// measured tells whether any test has numbers yet.
func (s *seen) measured() bool {
	return slices.ContainsFunc(s.driven, func(d *app.Driven) bool { return len(d.Measures) > 0 })
}

// stands says where the programme stands and for what it waits.
func (s *seen) stands() (stands, waits report.Text) {
	c := s.counts()
	switch {
	case c.tests == 0:
		return say("The programme stands at the ", strong("brief"), "."), say("Waits for: ", strong("its first table or recording"), ".")
	case len(s.failed) > 0:
		return say("The programme stands at the ", strong("recordings"), "."), say("Waits for: ", strong("test "+s.failed[0].test), ", which has no results.")
	case c.matched < c.recordings:
		return say("The programme stands at the ", strong("recordings"), "."), say("Waits for: ", strong(unit.Count(c.recordings-c.matched, "recording")), " whose runs are not known.")
	case !s.measured():
		return say("The programme stands at the ", strong("day"), "."), say("Waits for: ", strong("its first numbers"), ", from recordings or a table.")
	}
	return say("The programme stands at the ", strong("report"), "."), say("Waits for: ", strong("your signature"), ".")
}

// printer prints what depends on the codes of a page.
type printer struct {
	codes figure.Codes
	base  string // address of the programme
	drawn *drawings
}

// drawings keeps what figures were drawn as: a figure of a report never changes.
type drawings struct {
	mu   sync.Mutex
	kept map[*report.Drawn]pictures
}

// mostDrawings bounds the drawings that are kept: those of a few programmes. Own
// choice.
const mostDrawings = 300

func (p printer) place(code string) int {
	n := p.codes.Order(code)
	return min(n, 7)
}

func (p printer) codeClass(code string) string { return "k" + strconv.Itoa(p.place(code)) }

// to gives where a link of a report's text leads from a page: into the whole
// report.
func (p printer) to(anchor string) string { return p.base + "/report/whole#" + anchor }

func (p printer) marker(code string) template.HTML {
	n := p.codes.Order(code)
	if n > len(p.codes.Candidates) {
		return ""
	}
	return template.HTML(svg.Marker(figure.Style(n).Shape, 12))
}

// stripWidth is the width of a verdict's strip in the table, in points.
const stripWidth = figure.Width(112)

func (p printer) strip(f *figure.VerdictStrip) (template.HTML, error) {
	d, err := f.Draw(stripWidth)
	if err != nil {
		return "", err
	}
	return template.HTML(svg.String(d, svg.Options{Decorative: true})), nil
}

// pictures is one figure drawn for two widths.
type pictures struct {
	ID         string
	Full, Half template.HTML
	Doubts     []string // what was left out of the drawing
}

func (p printer) figure(f *report.Drawn) (pictures, error) {
	p.drawn.mu.Lock()
	out, known := p.drawn.kept[f]
	p.drawn.mu.Unlock()
	if known {
		return out, nil
	}
	out = pictures{ID: f.ID}
	for _, w := range []figure.Width{figure.Full, figure.Half} {
		d, err := f.Figure.Draw(w)
		if err != nil {
			return out, err
		}
		id := f.ID
		if w == figure.Half {
			id += "-half"
		}
		text := template.HTML(svg.String(d, svg.Options{ID: id}))
		if w == figure.Half {
			out.Half = text
			continue
		}
		out.Full = text
		for _, c := range d.Caveats {
			out.Doubts = append(out.Doubts, c.Text)
		}
	}
	p.drawn.mu.Lock()
	defer p.drawn.mu.Unlock()
	if p.drawn.kept == nil || len(p.drawn.kept) >= mostDrawings {
		p.drawn.kept = map[*report.Drawn]pictures{}
	}
	p.drawn.kept[f] = out
	return out, nil
}
