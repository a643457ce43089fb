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
	"example.org/bookend/unit"
)

// lined is the body of the page of lines.
type lined struct {
	Ask     asking
	Tests   []linedTest
	Test    string
	Paths   string // address of what the script draws from
	Plan    drawing
	Chart   drawing
	Station string
	Last    string
	Rows    []linedRow
	Half    bool // bands are drawn
	Comma   bool
	Figures []linedFigure
}

type linedTest struct {
	ID, Title string
	Now       bool
}

// linedRow is where one code is at the station.
type linedRow struct {
	Code               string
	Gain, Aside, Speed string
	Run                string // that is driven again
}

type linedFigure struct{ Full, Half template.HTML }

// drawing is one picture, and how places on it are found.
type drawing struct {
	W, H           int
	SX, SY, OX, OY float64 // x = OX + SX·station or east, y = OY − SY·the other
	Title          string
	Inside         template.HTML
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
	style := unit.Style{Comma: a.comma}
	switch {
	case d == nil:
		v.Title, v.Below = say("There are no lines yet"), say("Recordings with positions, matched to runs of at least two codes, make them.")
	case l == nil:
		v.Title, v.Below = say(d.Test.Test.Title, " has no lines"), say("Its recordings hold no paths of at least two codes; what else lies over each other stands below.")
	default:
		v.Title = linesTitle(l, style)
		v.Below = say(d.Test.Test.Title, ": means of stints, without correction for drift. Description; the verdicts decide.")
		body.Test, body.Paths = d.Test.Test.ID, p.base()+"/lines/"+escape(d.Test.Test.ID)+"/paths?control="+escape(a.control)
		at := len(l.Station) - 1
		if x, err := strconv.ParseFloat(r.URL.Query().Get("station"), 64); err == nil {
			at = nearest(l.Station, x)
		}
		body.Station, body.Last = strconv.FormatFloat(math.Round(l.Station[at]*10)/10, 'f', -1, 64), strconv.FormatFloat(math.Floor(l.Station[len(l.Station)-1]*10)/10, 'f', -1, 64)
		body.Rows = rowsAt(l, at, style)
		body.Plan, body.Chart = plan(l, codes, at), chart(l, codes, at, style)
		body.Half, body.Comma = l.Straight, a.comma
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

// paths gives what the script draws from.
func (f *face) paths(w http.ResponseWriter, r *http.Request) error {
	p, s, err := f.opened(r)
	if err != nil {
		return err
	}
	a, _, err := s.asked(r)
	if err != nil {
		return err
	}
	_, l, err := f.laid(r, p, s, r.PathValue("test"), a.control)
	if err != nil {
		return err
	}
	if l == nil {
		return fault.New(fault.NotFound, "test %s has no lines", r.PathValue("test"))
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	return json.NewEncoder(w).Encode(l.Rounded())
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
		if q.Speed != nil {
			row.Speed = unit.Number(unit.KilometrePerHour.FromHouse(q.Speed[at]), 1, style)
		}
		out = append(out, row)
	}
	return out
}
