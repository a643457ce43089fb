// Package coneplan says where the cones of a course stand: a table of stations and
// offsets in m, waypoints, and a drawing to scale.
//
// Layouts are those of package order/cones, with their sources. Limits: the ground is
// flat, and a position is as good as the datum that is given.
package coneplan

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"example.org/bookend/app/origin"
	"example.org/bookend/caveat"
	"example.org/bookend/course"
	"example.org/bookend/fault"
	"example.org/bookend/figure"
	"example.org/bookend/figure/fonts"
	"example.org/bookend/figure/svg"
	"example.org/bookend/order/cones"
	"example.org/bookend/unit"
)

// Request asks for the sheet by which cones are set out.
type Request struct {
	cones.Request
	At *At // nil: stations and offsets alone
}

// At is where the entry stands on Earth and which way it looks.
type At struct {
	LatitudeDeg, LongitudeDeg float64 // of the middle of the entry, WGS 84
	HeadingDeg                float64 // of the axis, from true north to the east
}

// Answer is a lay-out with its cones' places on Earth.
type Answer struct {
	*cones.Layout
	At     *At
	Places [][2]float64 // latitude and longitude of each cone in degrees; nil without At
}

// Cones lays cones out.
func Cones(q Request) (*Answer, error) {
	l, err := cones.Lay(q.Request)
	if err != nil {
		return nil, err
	}
	a := &Answer{Layout: l, At: q.At}
	if q.At == nil {
		return a, nil
	}
	if !(math.Abs(q.At.LatitudeDeg) <= 89) || !(math.Abs(q.At.LongitudeDeg) <= 180) || !(math.Abs(q.At.HeadingDeg) <= 360) {
		return nil, fault.New(fault.Invalid, "the entry at %v, %v with heading %v", q.At.LatitudeDeg, q.At.LongitudeDeg, q.At.HeadingDeg).
			WithHint("degrees: latitude within 89, longitude within 180, heading 0 to 360 from true north")
	}
	for _, c := range l.Cones {
		lat, lon := q.At.place(c.Station, c.Offset)
		a.Places = append(a.Places, [2]float64{lat, lon})
	}
	return a, nil
}

// place gives latitude and longitude in degrees of a place by station and offset:
// the local plane is undone by a few steps of Newton, to well below a millimetre.
func (at *At) place(station, offset float64) (latitude, longitude float64) {
	const deg = math.Pi / 180
	h := at.HeadingDeg * deg
	east := station*math.Sin(h) - offset*math.Cos(h)
	north := station*math.Cos(h) + offset*math.Sin(h)
	origin := course.Position{Latitude: at.LatitudeDeg * deg, Longitude: at.LongitudeDeg * deg}
	plane := course.NewPlane(origin)
	lat, lon := origin.Latitude, origin.Longitude
	const radius = 6378137.0 // m, WGS 84; the steps' length only
	for range 6 {
		p := plane.Place(lat, lon)
		lat += (north - p.North) / radius
		lon += (east - p.East) / (radius * math.Cos(lat))
	}
	return lat / deg, lon / deg
}

// Document is the JSON of a lay-out, schema "bookend.cones/1".
type Document origin.Document[Results]

// Results is the part of the JSON that holds the places.
type Results struct {
	Title   string   `json:"title"`
	LengthM float64  `json:"length_m"`
	Lanes   []Lane   `json:"lanes"`
	Cones   []Row    `json:"cones"`
	Notes   []string `json:"notes"`
}

// Lane is one way between cones.
type Lane struct {
	Name   string  `json:"name"`
	FromM  float64 `json:"from_m"`
	ToM    float64 `json:"to_m"`
	RightM float64 `json:"right_m"`
	LeftM  float64 `json:"left_m"`
	WidthM float64 `json:"width_m"`
}

// Row is one cone: its centre.
type Row struct {
	Number    int      `json:"number"`
	Of        string   `json:"of"`
	Side      string   `json:"side"`
	StationM  float64  `json:"station_m"`
	OffsetM   float64  `json:"offset_m"`
	Latitude  *float64 `json:"latitude_deg,omitempty"`
	Longitude *float64 `json:"longitude_deg,omitempty"`
}

// Document gives the answer in the form of its JSON.
func (a *Answer) Document() Document {
	q := a.Request
	n := unit.Shortest
	d := Document{Schema: "bookend.cones/1", Inputs: []origin.Hashed{}, Caveats: caveat.List{}, Settings: map[string]string{
		"layout": string(q.Kind), "width_m": n(q.WidthM), "cones_apart_m": n(q.ApartM), "cone_base_m": n(q.BaseM), "markers": fmt.Sprint(q.Markers),
		"spacing_m": n(q.SpaceM), "exit_lane": string(q.Exit), "first_change": map[bool]string{false: "left", true: "right"}[q.Right],
	}}
	if a.At != nil {
		d.Settings["entry_at"] = fmt.Sprintf("%s,%s heading %s", n(a.At.LatitudeDeg), n(a.At.LongitudeDeg), n(a.At.HeadingDeg))
	}
	r := &d.Results
	r.Title, r.LengthM, r.Notes = a.Title, a.LengthM, a.Notes
	for _, l := range a.Lanes {
		r.Lanes = append(r.Lanes, Lane{Name: l.Name, FromM: l.From, ToM: l.To, RightM: l.Right, LeftM: l.Left, WidthM: l.Width()})
	}
	for i, c := range a.Cones {
		row := Row{Number: c.Number, Of: c.Of, Side: c.Side, StationM: c.Station, OffsetM: c.Offset}
		if a.Places != nil {
			row.Latitude, row.Longitude = &a.Places[i][0], &a.Places[i][1]
		}
		r.Cones = append(r.Cones, row)
	}
	return d
}

// Table writes the cones as a plain table: number, what of, side, station, offset,
// and where there are any latitude and longitude in degrees.
func (a *Answer) Table(out io.Writer) error {
	var b strings.Builder
	b.WriteString("number,of,side,station_m,offset_m")
	if a.Places != nil {
		b.WriteString(",latitude_deg,longitude_deg")
	}
	b.WriteByte('\n')
	for i, c := range a.Cones {
		fmt.Fprintf(&b, "%d,%s,%s,%.3f,%.3f", c.Number, c.Of, c.Side, c.Station, c.Offset)
		if a.Places != nil {
			fmt.Fprintf(&b, ",%.8f,%.8f", a.Places[i][0], a.Places[i][1])
		}
		b.WriteByte('\n')
	}
	return written(io.WriteString(out, b.String()))
}

// GPX writes the cones as waypoints, GPX 1.1 (topografix.com), which hand-held
// receivers for setting out read.
func (a *Answer) GPX(out io.Writer) error {
	if a.Places == nil {
		return fault.New(fault.Invalid, "the cones have no places on Earth").WithHint("say where the entry stands and which way it looks: --at LAT,LON --heading DEGREES")
	}
	var b strings.Builder
	b.WriteString(`<?xml version="1.0" encoding="UTF-8"?>` + "\n" + `<gpx version="1.1" creator="bookend" xmlns="http://www.topografix.com/GPX/1/1">` + "\n")
	for i, c := range a.Cones {
		fmt.Fprintf(&b, "<wpt lat=\"%.8f\" lon=\"%.8f\"><name>%d</name><desc>%s, %s, station %.2f m, offset %.2f m</desc></wpt>\n",
			a.Places[i][0], a.Places[i][1], c.Number, c.Of, c.Side, c.Station, c.Offset)
	}
	b.WriteString("</gpx>\n")
	return written(io.WriteString(out, b.String()))
}

func written(_ int, err error) error {
	if err != nil {
		return fault.New(fault.Internal, "writing the cones: %w", err)
	}
	return nil
}

// scales are those of drawings: ISO 5455 series and their quarters, from memory.
var scales = []float64{50, 100, 200, 250, 500, 750, 1000, 2000, 5000}

// drawingWidth is what an A4 sheet in landscape has between its margins, in m.
const drawingWidth = 0.257

// Scale gives the drawing's scale: 1 to so many, the first that fits an A4 sheet.
func (a *Answer) Scale() float64 {
	for _, s := range scales {
		if a.LengthM/s <= drawingWidth {
			return s
		}
	}
	return scales[len(scales)-1]
}

// Drawing writes the lay-out as SVG, to scale when printed at full size.
func (a *Answer) Drawing(out io.Writer) error {
	var b bytes.Buffer
	if err := svg.Write(&b, a.Drawn(), svg.Options{Standalone: true, Paper: true}); err != nil {
		return err
	}
	return written(out.Write(b.Bytes()))
}

// way gives the side on which each marker of a slalom is passed as a line between them,
// station and offset in m: a sketch of it, no line that anybody is to drive.
func (a *Answer) way() []figure.Point {
	var out []figure.Point
	var markers []cones.Cone
	for _, c := range a.Cones {
		if marker(c) {
			markers = append(markers, c)
		}
	}
	if len(markers) == 0 {
		return nil
	}
	aside := a.Request.WidthM/2 + a.Request.BaseM
	at := func(station float64) float64 {
		off := 0.0
		for _, c := range markers {
			if u := (station - c.Station) / a.Request.SpaceM; math.Abs(u) < 1 {
				side := 1.0
				if c.Side == "right" {
					side = -1
				}
				off += side * aside * (1 + math.Cos(math.Pi*u)) / 2
			}
		}
		return off
	}
	const step = 12 // points from marker to marker
	for i := 0; i <= step*(len(markers)+1); i++ {
		s := a.Request.SpaceM * float64(i) / step
		out = append(out, figure.Point{X: s, Y: at(s)})
	}
	return out
}

// marker tells a slalom's marker from a cone of a lane or gate.
func marker(c cones.Cone) bool { return strings.HasPrefix(c.Of, "marker ") }

// Drawn draws the lay-out, to scale when printed at full size: lanes as areas, cones as
// circles of their base, widths and lengths of sections written.
func (a *Answer) Drawn() *figure.Drawing {
	const pt = 72 / 0.0254 // points a metre of paper
	scale := a.Scale()
	k := pt / scale // points a metre of ground
	low, high := 0.0, 0.0
	for _, c := range a.Cones {
		low, high = min(low, c.Offset), max(high, c.Offset)
	}
	for _, p := range a.way() {
		low, high = min(low, p.Y), max(high, p.Y)
	}
	const margin, head, foot = 28.0, 50.0, 58.0
	d := &figure.Drawing{
		Kind: "cones", Title: a.Title, Width: a.LengthM*k + 2*margin, Height: head + (high-low)*k + foot,
		Desc: fmt.Sprintf("%s for a vehicle %.2f m wide, scale 1 to %.0f: %d cones over %.1f m.", a.Title, a.Request.WidthM, scale, len(a.Cones), a.LengthM),
	}
	x := func(station float64) float64 { return margin + station*k }
	y := func(offset float64) float64 { return head + (high-offset)*k }
	put := func(p figure.Path) { d.Items = append(d.Items, figure.Item{Path: &p}) }
	say := func(at figure.Point, anchor figure.Anchor, size float64, text string) {
		d.Items = append(d.Items, figure.Item{Label: &figure.Label{At: at, Anchor: anchor, Halo: true, Runs: []figure.Run{{Text: text, Face: fonts.Sans, Size: size, Tone: figure.Ink}}}})
	}
	line := func(x1, y1, x2, y2, width float64) {
		put(figure.Path{Outlines: []figure.Outline{{Points: []figure.Point{{X: x1, Y: y1}, {X: x2, Y: y2}}}}, Line: figure.Paint{Tone: figure.Ink, Opacity: 1}, Width: width})
	}
	say(figure.Point{X: margin, Y: 16}, figure.Start, 10, a.Title)
	say(figure.Point{X: margin, Y: 30}, figure.Start, 8, fmt.Sprintf("Vehicle %s m wide. Scale 1:%s, printed at full size. Driven from left to right.",
		unit.Number(a.Request.WidthM, 2, unit.Plain), unit.Number(scale, 0, unit.Plain)))
	for _, l := range a.Lanes {
		if l.To > l.From {
			put(figure.Path{Outlines: []figure.Outline{{Closed: true, Points: []figure.Point{{X: x(l.From), Y: y(l.Left)}, {X: x(l.To), Y: y(l.Left)}, {X: x(l.To), Y: y(l.Right)}, {X: x(l.From), Y: y(l.Right)}}}},
				Fill: figure.Paint{Tone: figure.Rule, Opacity: 0.35}})
		}
	}
	if way := a.way(); len(way) > 0 {
		for i := range way {
			way[i] = figure.Point{X: x(way[i].X), Y: y(way[i].Y)}
		}
		put(figure.Path{Outlines: []figure.Outline{{Points: way}}, Line: figure.Paint{Tone: figure.Soft, Opacity: 1}, Width: 0.8})
	}
	put(figure.Path{Outlines: []figure.Outline{{Points: []figure.Point{{X: x(0), Y: y(0)}, {X: x(a.LengthM), Y: y(0)}}}}, Line: figure.Paint{Tone: figure.Soft, Opacity: 1}, Width: 0.4, Dash: []float64{6, 2, 1, 2}})
	for _, l := range a.Lanes {
		if l.To > l.From {
			say(figure.Point{X: (x(l.From) + x(l.To)) / 2, Y: y((l.Left+l.Right)/2) + 2.5}, figure.Middle, 7, unit.Number(l.Width(), 2, unit.Plain)+" m")
		}
	}
	for _, c := range a.Cones {
		radius := max(1, a.Request.BaseM/2*k)
		d.Items = append(d.Items, figure.Item{Circle: &figure.Circle{Centre: figure.Point{X: x(c.Station), Y: y(c.Offset)}, Radius: radius, Fill: figure.Paint{Tone: figure.Ink, Opacity: 1}}})
		// Its number stands outside of the lane; of a marker, on the side where nobody drives.
		at := figure.Point{X: x(c.Station), Y: y(c.Offset) - radius - 2}
		if c.Side == "right" && !marker(c) || c.Side == "left" && marker(c) {
			at.Y = y(c.Offset) + radius + 6.5
		}
		say(at, figure.Middle, 6, strconv.Itoa(c.Number))
	}
	base := y(low) + 24
	line(x(0), base, x(a.LengthM), base, 0.5)
	for i, s := range a.Sections {
		line(x(s.From), base-3, x(s.From), base+3, 0.5)
		if i == len(a.Sections)-1 {
			line(x(s.To), base-3, x(s.To), base+3, 0.5)
		}
		say(figure.Point{X: (x(s.From) + x(s.To)) / 2, Y: base + 11}, figure.Middle, 7, unit.Shortest(s.To-s.From)+" m")
	}
	return d
}
