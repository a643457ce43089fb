package web

import (
	"encoding/json"
	"fmt"
	"html/template"
	"math"
	"net/http"
	"slices"
	"strconv"

	"example.org/bookend/app"
	"example.org/bookend/app/lines"
	"example.org/bookend/app/trace"
	"example.org/bookend/fault"
	"example.org/bookend/figure"
	"example.org/bookend/figure/svg"
	"example.org/bookend/web/above"
	"example.org/bookend/web/strips"
)

// lined is the body of the page of lines.
type lined struct {
	Ask     asking
	Tests   []linedTest
	Test    string
	Paths   string // address of what the script draws from
	Plan    above.Drawing
	Charts  []linedChart
	Room    string // between two codes at the station, in words
	Of      string // the two
	From    string
	Station string
	Last    string
	At      string // the station as it is read
	Rows    []above.Row
	Cones   bool // room to cones is known
	ToCones bool // and is asked for
	Comma   bool
	By      above.Scale
	Strips  string // address of the channels
	Values  *strips.Window
	Figures []linedFigure
}

type linedTest struct {
	ID, Title string
	Now       bool
}

// linedChart is one picture along the course.
type linedChart struct {
	ID string
	above.Drawing
	Below string
}

// lined gives the tests that have recordings whose paths can be drawn.
func (s *seen) lined() []*app.Driven {
	var out []*app.Driven
	for _, d := range s.driven {
		if len(d.Recorded) > 0 {
			out = append(out, d)
		}
	}
	return out
}

// laid gives the lines of the test that an address names, or of the first that has any.
func (f *face) laid(r *http.Request, p Programme, s *seen, test, control string) (first *app.Driven, l *lines.Lines, err error) {
	for _, d := range s.lined() {
		if test != "" && d.Test.Test.ID != test {
			continue
		}
		l, err := keep(s, "lines\n"+d.Test.Test.ID+"\n"+control, func() (*lines.Lines, error) { return p.Folder.Lines(r.Context(), s.state, d, control) })
		if err != nil || l != nil || test != "" {
			return d, l, err
		}
		if first == nil {
			first = d
		}
	}
	if test != "" {
		_, err := s.test(test)
		return nil, nil, err
	}
	return first, nil, nil
}

// lines shows the course from above with each code's mean line, where everybody is at a
// station, the time gained along it, and lets runs be driven again.
func (f *face) lines(w http.ResponseWriter, r *http.Request) error {
	p, s, a, form, err := f.asks(r)
	if err != nil {
		return err
	}
	v := frame{}
	f.around(&v, p, s, "Lines")
	body := lined{Ask: form}
	if a.control == "" {
		v.Title, v.Below, v.Body = say("It is not said which code is the control"), say("Lines are laid beside the control’s. Choose it here."), body
		return f.hand(w, r, http.StatusOK, "lines", v, nil)
	}
	d, l, err := f.laid(r, p, s, r.URL.Query().Get("test"), a.control)
	if err != nil {
		return err
	}
	for _, t := range s.lined() {
		body.Tests = append(body.Tests, linedTest{t.Test.Test.ID, t.Test.Test.Title, d != nil && t.Test.Test.ID == d.Test.Test.ID})
	}
	codes := figure.Codes{Control: a.control}
	for _, c := range s.codes() {
		if c != a.control {
			codes.Candidates = append(codes.Candidates, c)
		}
	}
	slices.Sort(codes.Candidates)
	style := a.style
	switch {
	case d == nil:
		v.Title, v.Below = say("There are no lines yet"), say("Recordings with positions, matched to runs of at least two codes, make them.")
	case l == nil:
		v.Title, v.Below = say(d.Test.Test.Title, " has no lines"), say("Its recordings hold no paths of at least two codes; what else lies over each other stands below.")
	default:
		v.Title = above.Title(l, style)
		v.Below = say(d.Test.Test.Title, ": means of stints, without correction for drift. Description; the verdicts decide."+above.TightestWords(l, style))
		base := p.base() + "/lines/" + escape(d.Test.Test.ID)
		body.Test, body.Paths, body.Strips = d.Test.Test.ID, base+"/paths?control="+escape(a.control), base+"/channels?control="+escape(a.control)
		of, from := r.URL.Query().Get("of"), r.URL.Query().Get("from")
		body.Cones = above.HasCones(l)
		room, ok := l.Between(of, from)
		if body.ToCones = body.Cones && from == above.ToCones; body.ToCones {
			if room, ok = l.Between(of, l.Control); ok {
				room.From = from
			}
		}
		if !ok { // nothing asked, or of another test's codes
			room, body.ToCones = above.Widest(l), false
		}
		at := room.Widest
		if x, err := strconv.ParseFloat(r.URL.Query().Get("station"), 64); err == nil {
			at = above.Nearest(l.Station, x)
		}
		body.By = above.ScaleOf(style)
		body.Station, body.Last = strconv.FormatFloat(math.Round(l.Station[at]*10)/10, 'f', -1, 64), strconv.FormatFloat(math.Floor(l.Station[len(l.Station)-1]*10)/10, 'f', -1, 64)
		body.At = strips.Station(l.Station[at], style)
		body.Rows = above.Rows(l, codes, at, style)
		for i := range body.Rows {
			body.Rows[i].To = p.base() + "/runs/" + escape(d.Test.Test.ID) + "/" + escape(body.Rows[i].Run)
		}
		body.Of, body.From, body.Room = room.Of, room.From, above.RoomWords(l, room, at, style)
		if body.ToCones {
			body.Room = above.ConeWords(l, room.Of, at, style)
		}
		body.Plan = above.Plan(l, codes, at, room.Of, room.From, style)
		body.Charts = []linedChart{
			{"chart", above.Time(l, codes, at, style), "Above the line: ahead of the control."},
			{"asides", above.Aside(l, codes, at, style), "Above the line: to its left. Bands: one standard deviation of single runs to each side."},
		}
		body.Comma = a.comma
		if r.URL.Query().Get("values") != "" {
			q := strips.Runs{Ask: strips.Ask{Columns: 1}, At: &l.Station[at]}
			runs, err := f.alongside(r, p, s, d, l, nil)
			if err != nil {
				return err
			}
			if body.Values, err = strips.OfRuns(runs, q, style); err != nil {
				return err
			}
		}
	}
	if d != nil {
		key := fmt.Sprintf("figures\n%s\n%s\n%v", d.Test.Test.ID, a.control, a.comma)
		figs, err := keep(s, key, func() ([]linedFigure, error) { return f.pictures(r, p, s, d, codes, a, l != nil) })
		if err != nil {
			return err
		}
		body.Figures = figs
	}
	v.Body = body
	v.Scripts = []string{"lines.js"}
	return f.hand(w, r, http.StatusOK, "lines", v, &codes)
}

// pictures draws the figures in which the runs of a test lie over each other; the time
// along the lap is left out where it is drawn with its cursor.
func (f *face) pictures(r *http.Request, p Programme, s *seen, d *app.Driven, codes figure.Codes, a asked, along bool) ([]linedFigure, error) {
	figs, err := p.Folder.Overlay(r.Context(), s.state, d, a.control)
	if err != nil {
		return nil, err
	}
	var out []linedFigure
	for i, x := range figs {
		if along && x.Kind() == "gain-along-the-lap" {
			continue
		}
		if h, ok := x.(interface{ Above() *figure.Head }); ok {
			h.Above().Codes, h.Above().Comma, h.Above().Test = codes, a.comma, d.Test.Test.Title
		}
		one, err := picture("laid-"+strconv.Itoa(i+1), x)
		if err != nil {
			return nil, err
		}
		out = append(out, one)
	}
	return out, nil
}

// onLines gives the lines that an address below a test names.
func (f *face) onLines(r *http.Request) (*lines.Lines, error) {
	_, _, _, l, err := f.linesAt(r)
	return l, err
}

func (f *face) linesAt(r *http.Request) (p Programme, s *seen, d *app.Driven, l *lines.Lines, err error) {
	p, s, a, _, err := f.asks(r)
	if err != nil {
		return p, s, nil, nil, err
	}
	d, l, err = f.laid(r, p, s, r.PathValue("test"), a.control)
	if err == nil && l == nil {
		err = fault.New(fault.NotFound, "test %s has no lines", r.PathValue("test"))
	}
	return p, s, d, l, err
}

// alongside gives runs with their channels, those that are driven again where none are
// named; a run of which it is not known when it was where is left out.
func (f *face) alongside(r *http.Request, p Programme, s *seen, d *app.Driven, l *lines.Lines, named []string) ([]*trace.Run, error) {
	if len(named) == 0 {
		for _, q := range l.Codes {
			named = append(named, q.Driven.Run)
		}
	}
	if len(named) > 2*len(l.Codes) {
		return nil, fault.New(fault.Invalid, "channels of %d runs at most are laid over each other", 2*len(l.Codes))
	}
	var out []*trace.Run
	for _, run := range named {
		x, err := p.Folder.DrawnRun(r.Context(), s.state, d, l, run, &f.shelf)
		if fault.CodeOf(err) == fault.NotFound {
			continue
		}
		if err != nil {
			return nil, err
		}
		out = append(out, x)
	}
	if len(out) == 0 {
		return nil, fault.New(fault.NotFound, "no channels belong to these lines")
	}
	return out, nil
}

// strips gives channels of runs along the course, or over time since a gate.
func (f *face) strips(w http.ResponseWriter, r *http.Request) error {
	p, s, d, l, err := f.linesAt(r)
	if err != nil {
		return err
	}
	q, err := strips.RunsAsked(r.URL.Query())
	if err != nil {
		return err
	}
	runs, err := f.alongside(r, p, s, d, l, r.URL.Query()["run"])
	if err != nil {
		return err
	}
	out, err := strips.OfRuns(runs, q, lookOf(r).style())
	if err != nil {
		return err
	}
	return sendJSON(w, struct {
		*strips.Window
		Choices []strips.Choice `json:"choices"`
	}{out, strips.Choices(runs, q)})
}

func sendJSON(w http.ResponseWriter, v any) error {
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	return json.NewEncoder(w).Encode(v)
}

// room gives how far one code's mean line lies to the left of another's.
func (f *face) room(w http.ResponseWriter, r *http.Request) error {
	l, err := f.onLines(r)
	if err != nil {
		return err
	}
	of, from := r.URL.Query().Get("of"), r.URL.Query().Get("from")
	x, ok := l.Between(of, from)
	if !ok {
		return fault.New(fault.NotFound, "there are no lines of %q and %q", of, from)
	}
	return sendJSON(w, x.Rounded())
}

// again gives one run to be driven again.
func (f *face) again(w http.ResponseWriter, r *http.Request) error {
	l, err := f.onLines(r)
	if err != nil {
		return err
	}
	x, ok := l.Run(r.URL.Query().Get("run"))
	if !ok {
		return fault.New(fault.NotFound, "there is no line of run %q", r.URL.Query().Get("run"))
	}
	return sendJSON(w, x.Rounded())
}

// paths gives what the script draws from.
func (f *face) paths(w http.ResponseWriter, r *http.Request) error {
	l, err := f.onLines(r)
	if err != nil {
		return err
	}
	return sendJSON(w, l.Rounded())
}

// linedFigure is one figure drawn for two widths.
type linedFigure struct{ Full, Half template.HTML }

// picture draws a figure for two widths.
func picture(id string, f figure.Figure) (linedFigure, error) {
	var out linedFigure
	for _, w := range []figure.Width{figure.Full, figure.Half} {
		d, err := f.Draw(w)
		if err != nil {
			return out, err
		}
		if w == figure.Half {
			out.Half = template.HTML(svg.String(d, svg.Options{ID: id + "-half"}))
		} else {
			out.Full = template.HTML(svg.String(d, svg.Options{ID: id}))
		}
	}
	return out, nil
}
