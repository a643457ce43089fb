// Package setout is the sheet by which cones are set out, as a page: the drawing to
// scale, each cone with station and offset, and what to be careful of.
//
// What the course of a test says of itself (markers, spacing, the vehicle's width, the
// standard's lay-out) is where the form begins; all of it can be changed. Lengths are
// in m, places in degrees. Limits: as package order/cones, which lays out: a level
// straight, and the ground's own rules first.
package setout

import (
	"bytes"
	"context"
	"fmt"
	"html/template"
	"io"
	"net/url"
	"strings"

	"example.org/bookend/app/coneplan"
	"example.org/bookend/fault"
	"example.org/bookend/figure/svg"
	"example.org/bookend/order/cones"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
	"example.org/bookend/web/form"
	"example.org/bookend/web/orders"
	"example.org/bookend/web/orders/typed"
)

// fields gives the form; the words of a test are first.
func fields(tests []string) *form.Form {
	return &form.Form{ID: "o", Get: true, Do: "Lay out", Groups: []form.Group{
		{Title: "The course", Fields: []form.Field{
			{Name: "test", Title: "Test", Choices: form.Words("none", tests...), Hint: "what it says of its course stands in the fields"},
			{Name: "layout", Title: "Lay-out", Value: string(cones.Obstacle), Choices: form.Words("", cones.DoubleLaneChange, cones.Obstacle, cones.Slalom)},
			{Name: "width", Title: "Width of the vehicle, without mirrors", Symbol: "m", Number: true, Needed: true},
			{Name: "right", Title: "The first change is to the right", Tick: true},
			{Name: "markers", Title: "Markers of a slalom", Number: true, Value: "7"},
			{Name: "spacing", Title: "From marker to marker", Symbol: "m", Number: true, Value: "18"},
			{Name: "exit", Title: "Exit lane of ISO 3888-2", Value: string(cones.ExitAtLeast), Choices: form.Words("", cones.ExitAtLeast, cones.ExitAtMost, cones.ExitFormula)},
		}},
		{Title: "The cones", Fields: []form.Field{
			{Name: "apart", Title: "Cones along a lane, at most", Symbol: "m", Number: true, Value: "5"},
			{Name: "base", Title: "Diameter of a cone’s base", Symbol: "m", Number: true, Value: "0.3"},
			{Name: "at", Title: "Middle of the entry", Hint: "latitude, longitude: 57.1, -4.5; empty: stations and offsets alone"},
			{Name: "heading", Title: "The axis looks to", Symbol: "°", Number: true, Hint: "from true north to the east"},
		}},
	}}
}

// Sheet is the body of the page.
type Sheet struct {
	Tabs    []orders.Tab
	Form    *form.Form
	Asked   bool
	Drawing template.HTML
	Scale   string
	Lanes   []Lane
	Cones   []Cone
	Placed  bool
	Passed  bool // markers are passed on alternate sides
	Notes   []string
	Files   []File
}

// Lane is one way between cones, in m.
type Lane struct{ Name, From, To, Right, Left, Width string }

// Cone is one cone.
type Cone struct {
	Number                    int
	Of, Side, Station, Offset string
	Latitude, Longitude       string // degrees
}

// File is what can be taken along.
type File struct{ Title, To string }

// usual gives what a test says of its course.
func usual(a orders.Ask) map[string]string {
	out := map[string]string{"test": a.Test}
	t, err := a.State.Test(a.Test)
	if err != nil {
		return out
	}
	switch t.Test.Procedure {
	case "slalom":
		out["layout"] = string(cones.Slalom)
	case "lanechange":
		out["layout"] = string(cones.Obstacle)
	}
	number := func(s programme.Setting, name string) {
		if s.Number > 0 {
			out[name] = unit.Shortest(s.Number)
		}
	}
	for _, s := range t.Test.Parameters {
		switch s.ID {
		case "layout":
			out["layout"] = strings.ReplaceAll(s.Word, "_", "-") // iso_3888_2 of the procedure
		case "vehicle_width":
			number(s, "width")
		case "markers":
			number(s, "markers")
		case "marker_spacing":
			number(s, "spacing")
		case "exit_width":
			out["exit"] = s.Word
		}
	}
	return out
}

// begun gives the form with what the test says in the place of what is usual.
func begun(a orders.Ask) *form.Form {
	f := fields(a.Tests())
	f.To = a.Base + "/order/cones"
	f.Begins(usual(a))
	return f
}

// lay reads the form and lays out.
func lay(q url.Values) (*coneplan.Answer, error) {
	r := &typed.Reader{Reader: form.Reader{Typed: q}}
	c := coneplan.Request{Request: cones.Request{Kind: cones.Kind(r.Text("layout")), Right: r.Ticked("right"), Exit: cones.Exit(r.Text("exit")), Markers: r.Count("markers", 0)}}
	if r.Text("width") == "" {
		r.Bad("width", "without mirrors, as 1.82", "the vehicle’s width is not told")
	}
	c.WidthM, c.SpaceM, c.ApartM, c.BaseM = r.Quantity("width", unit.Metre), r.Quantity("spacing", unit.Metre), r.Quantity("apart", unit.Metre), r.Quantity("base", unit.Metre)
	lat, lon, ok := r.Place("at")
	heading := r.Amount("heading", 0)
	switch {
	case ok && r.Text("heading") == "":
		r.Bad("heading", "degrees from true north to the east, as 92", "it is not said which way the axis looks")
	case ok:
		c.At = &coneplan.At{LatitudeDeg: lat, LongitudeDeg: lon, HeadingDeg: heading}
	}
	if r.Err != nil {
		return nil, r.Err
	}
	return coneplan.Cones(c)
}

// Page shows the sheet.
func Page(_ context.Context, a orders.Ask) (*orders.Leaf, error) {
	f := begun(a)
	q := a.Typed
	// Choosing a test alone begins with what it says.
	chosen := q.Has("layout")
	if chosen {
		q = f.Complete(q)
	} else {
		q = url.Values{}
	}
	f.Filled(q)
	body := &Sheet{Tabs: orders.Tabs(a.Base, a.Test, "Cones"), Form: f}
	l := &orders.Leaf{Page: "cones", Body: body, Class: "setout", Scripts: []string{"print.js"},
		Title: "Where the cones stand is not laid out yet", Below: "Say which lay-out, and how wide the vehicle is."}
	if !chosen {
		// A test that says all of it is laid out at once.
		if width := usual(a)["width"]; width == "" || a.Test == "" {
			return l, nil
		}
		q = f.Complete(url.Values{"test": {a.Test}})
	}
	got, err := lay(q)
	if err != nil {
		return l, l.Refused(f, err)
	}
	body.fill(got, f.To+"/", f.Part(q).Encode(), a.Style)
	d := got.Document()
	l.Title = fmt.Sprintf("%s: %d cones over %s m, for a vehicle %s m wide", got.Title, len(got.Cones), unit.Shortest(got.LengthM), unit.Number(got.Request.WidthM, 2, a.Style))
	l.Below = "The first change, or the first marker, is passed to the " + d.Settings["first_change"] + "."
	return l, nil
}

// fill prints a lay-out.
func (s *Sheet) fill(a *coneplan.Answer, at, asked string, style unit.Style) {
	n := func(x float64) string { return unit.Number(x, 2, style) }
	s.Asked, s.Placed, s.Notes = true, a.Places != nil, a.Notes
	s.Passed = a.Request.Kind == cones.Slalom
	s.Drawing = template.HTML(svg.String(a.Drawn(), svg.Options{ID: "cones"}))
	s.Scale = unit.Number(a.Scale(), 0, style)
	for _, l := range a.Lanes {
		s.Lanes = append(s.Lanes, Lane{l.Name, n(l.From), n(l.To), n(l.Right), n(l.Left), n(l.Width())})
	}
	for i, c := range a.Cones {
		row := Cone{Number: c.Number, Of: c.Of, Side: c.Side, Station: n(c.Station), Offset: n(c.Offset)}
		if s.Placed {
			row.Latitude, row.Longitude = fmt.Sprintf("%.7f", a.Places[i][0]), fmt.Sprintf("%.7f", a.Places[i][1])
		}
		s.Cones = append(s.Cones, row)
	}
	s.Files = []File{{"Drawing to scale", at + "drawing.svg?" + asked}, {"Places as a table", at + "cones.csv?" + asked}}
	if s.Placed {
		s.Files = append(s.Files, File{"Places as waypoints", at + "cones.gpx?" + asked})
	}
}

// Take writes one of the files: drawing.svg, cones.csv, cones.gpx.
func Take(a orders.Ask, name string) (data []byte, kind string, err error) {
	got, err := lay(begun(a).Complete(a.Typed))
	if err != nil {
		return nil, "", err
	}
	files := map[string]struct {
		kind  string
		write func(io.Writer) error
	}{
		"drawing.svg": {"image/svg+xml", got.Drawing},
		"cones.csv":   {"text/csv; charset=utf-8", got.Table},
		"cones.gpx":   {"application/gpx+xml", got.GPX},
	}
	x, ok := files[name]
	if !ok {
		return nil, "", fault.New(fault.NotFound, "there is no %q of a lay-out", name).WithHint("drawing.svg, cones.csv, cones.gpx")
	}
	var b bytes.Buffer
	if err := x.write(&b); err != nil {
		return nil, "", err
	}
	return b.Bytes(), x.kind, nil
}
