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
	"example.org/bookend/fault"
	"example.org/bookend/figure"
	"example.org/bookend/figure/svg"
	"example.org/bookend/report"
	"example.org/bookend/unit"
	"example.org/bookend/web/above"
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
	Rows    []linedRow
	Comma   bool
	SpeedIn string // unit of speeds, and by what m/s are multiplied
	SpeedBy string
	Figures []linedFigure
}

type linedTest struct {
	ID, Title string
	Now       bool
}

// linedRow is where one code is at the station.
type linedRow struct {
	Code                       string
	Gain, Aside, Spread, Speed string
	Run                        string   // that is driven again
	To                         string   // its page
	Runs                       []string // that can be driven again
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
	p, s, err := f.opened(r)
	if err != nil {
		return err
	}
	a, form, err := s.asked(r)
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
		v.Title = linesTitle(l, style)
		v.Below = say(d.Test.Test.Title, ": means of stints, without correction for drift. Description; the verdicts decide.")
		body.Test, body.Paths = d.Test.Test.ID, p.base()+"/lines/"+escape(d.Test.Test.ID)+"/paths?control="+escape(a.control)
		of, from := r.URL.Query().Get("of"), r.URL.Query().Get("from")
		room, ok := l.Between(of, from)
		if !ok { // nothing asked, or of another test's codes
			room = widest(l)
		}
		at := room.Widest
		if x, err := strconv.ParseFloat(r.URL.Query().Get("station"), 64); err == nil {
			at = nearest(l.Station, x)
		}
		body.Station, body.Last = strconv.FormatFloat(math.Round(l.Station[at]*10)/10, 'f', -1, 64), strconv.FormatFloat(math.Floor(l.Station[len(l.Station)-1]*10)/10, 'f', -1, 64)
		body.Rows = rowsAt(l, at, style)
		for i := range body.Rows {
			body.Rows[i].To = p.base() + "/runs/" + escape(d.Test.Test.ID) + "/" + escape(body.Rows[i].Run)
			for _, x := range l.Runs() {
				if x.Code == body.Rows[i].Code {
					body.Rows[i].Runs = append(body.Rows[i].Runs, x.Run)
				}
			}
		}
		body.Of, body.From, body.Room = room.Of, room.From, roomWords(l, room, at, style)
		body.Plan = above.Plan(l, codes, at, room.Of, room.From)
		body.Charts = []linedChart{
			{"chart", above.Time(l, codes, at, style), "Above the line: ahead of the control."},
			{"asides", above.Aside(l, codes, at, style), "Above the line: to its left. Bands: one standard deviation of single runs to each side."},
		}
		body.Comma = a.comma
		speed := style.Of(unit.KilometrePerHour)
		body.SpeedIn, body.SpeedBy = speed.Symbol(), strconv.FormatFloat(speed.FromHouse(1), 'g', 8, 64)
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

// widest gives the room of the code whose mean line comes farthest from the control's.
func widest(l *lines.Lines) lines.Room {
	var out lines.Room
	for i, q := range l.Codes[1:] {
		r, _ := l.Between(q.Code, l.Control)
		if i == 0 || math.Abs(r.Left[r.Widest]) > math.Abs(out.Left[out.Widest]) {
			out = r
		}
	}
	return out
}

// roomWords says how much room there is between two codes at a place.
func roomWords(l *lines.Lines, r lines.Room, at int, style unit.Style) string {
	by, side, sign := r.Left[at], "left", 1.0
	if by < 0 {
		by, side, sign = -by, "right", -1
	}
	out := fmt.Sprintf("%s lies %s to the %s of %s at %s", r.Of, unit.Metre.Format(by, 2, style), side, r.From, unit.Metre.Format(l.Station[at], 1, style))
	if r.Low != nil {
		low, high := sign*r.Low[at], sign*r.High[at]
		out += " (" + unit.SignedInterval(math.Min(low, high), math.Max(low, high), 2, style) + ")"
	}
	return out
}

// onLines gives the lines that an address below a test names.
func (f *face) onLines(r *http.Request) (*lines.Lines, error) {
	p, s, err := f.opened(r)
	if err != nil {
		return nil, err
	}
	a, _, err := s.asked(r)
	if err != nil {
		return nil, err
	}
	_, l, err := f.laid(r, p, s, r.PathValue("test"), a.control)
	if err == nil && l == nil {
		err = fault.New(fault.NotFound, "test %s has no lines", r.PathValue("test"))
	}
	return l, err
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

func nearest(x []float64, at float64) int {
	best := 0
	for i := range x {
		if math.Abs(x[i]-at) < math.Abs(x[best]-at) {
			best = i
		}
	}
	return best
}

// rowsAt says where everybody is at a station.
func rowsAt(l *lines.Lines, at int, style unit.Style) []linedRow {
	var out []linedRow
	for _, q := range l.Codes {
		row := linedRow{Code: q.Code, Gain: unit.Signed(q.Gain[at], 2, style), Aside: unit.Signed(q.Aside[at], 2, style), Run: q.Driven.Run}
		if q.Low != nil {
			row.Aside += " (" + unit.SignedInterval(q.Low[at], q.High[at], 2, style) + ")"
		}
		if q.Code == l.Control {
			row.Gain, row.Aside = "control", "control"
		}
		if q.Spread != nil {
			row.Spread = unit.Number(q.Spread[at], 2, style)
		}
		if q.Speed != nil {
			row.Speed = unit.Number(style.Of(unit.KilometrePerHour).FromHouse(q.Speed[at]), 1, style)
		}
		out = append(out, row)
	}
	return out
}

// linesTitle says who was farthest ahead of the control at the end, and who farthest
// behind it.
func linesTitle(l *lines.Lines, style unit.Style) report.Text {
	n := len(l.Station) - 1
	first, last := "", ""
	ahead, behind := 0.005, -0.005 // s, what two digits show
	for _, q := range l.Codes[1:] {
		if g := q.Gain[n]; g >= ahead {
			first, ahead = q.Code, g
		} else if g <= behind {
			last, behind = q.Code, g
		}
	}
	by := func(x float64) string { return " " + unit.Second.Format(math.Abs(x), 2, style) }
	switch {
	case first != "" && last != "":
		return say(code(first), " ended"+by(ahead)+" ahead of ", code(l.Control), ", ", code(last), by(behind)+" behind")
	case first != "":
		return say(code(first), " ended"+by(ahead)+" ahead of ", code(l.Control))
	case last != "":
		return say(code(last), " ended"+by(behind)+" behind ", code(l.Control))
	}
	return say("All codes ended with ", code(l.Control))
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
