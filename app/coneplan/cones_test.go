package coneplan_test

import (
	"bytes"
	"encoding/xml"
	"math"
	"strings"
	"testing"

	"example.org/bookend/app/coneplan"
	"example.org/bookend/internal/golden"
	"example.org/bookend/order/cones"
	"example.org/bookend/procedure/lanechange"
)

// A place set out by station and heading is where the geodesic of another program
// ends: to a millimetre or two over 200 m, of which 1.6e-5 is the height that the
// plane does not have.
func TestPlacesOnEarth(t *testing.T) {
	golden.Run(t, "pyproj-3.4.1", "set-out", func(t *testing.T, c *golden.Case) {
		var list []struct {
			Lat1    float64 `json:"lat1"`
			Lon1    float64 `json:"lon1"`
			Azimuth float64 `json:"azimuth_deg"`
			Length  float64 `json:"geodesic_m"`
			Lat2    float64 `json:"lat2"`
			Lon2    float64 `json:"lon2"`
		}
		c.JSON(t, "case.json", &list)
		for _, q := range list {
			a, err := coneplan.Cones(coneplan.Request{
				Request: cones.Request{Kind: cones.Slalom, WidthM: 1.8, Markers: 2, SpaceM: q.Length},
				At:      &coneplan.At{LatitudeDeg: q.Lat1, LongitudeDeg: q.Lon1, HeadingDeg: q.Azimuth},
			})
			if err != nil {
				t.Fatal(err)
			}
			at := a.Places[2] // the first marker
			const metres = 111e3
			c.Near(t, "north", (at[0]-q.Lat2)*metres, 0)
			c.Near(t, "east", (at[1]-q.Lon2)*metres*math.Cos(q.Lat2*math.Pi/180), 0)
		}
	})
}

// The lanes that are set out are those that a pass is judged by.
func TestTheSheetIsWhatIsJudged(t *testing.T) {
	for kind, layout := range map[cones.Kind]string{cones.DoubleLaneChange: "iso_3888_1", cones.Obstacle: "iso_3888_2"} {
		a, err := coneplan.Cones(coneplan.Request{Request: cones.Request{Kind: kind, WidthM: 1.93}})
		if err != nil {
			t.Fatal(err)
		}
		judged := lanechange.Layout(layout, 1.93, "at_least_3_m")
		if len(judged) != len(a.Lanes) {
			t.Fatalf("%s: %d lanes set out, %d judged", kind, len(a.Lanes), len(judged))
		}
		for i, l := range a.Lanes {
			j := judged[i]
			for _, d := range []float64{l.From - j.From, l.To - j.To, l.Right - j.Right, l.Left - j.Left} {
				if math.Abs(d) > 1e-9 {
					t.Errorf("%s: set out %+v, judged %+v", kind, l, j)
				}
			}
		}
	}
}

// The drawing is to scale, well-formed and fits a sheet; waypoints are XML.
func TestDrawingAndWaypoints(t *testing.T) {
	a, err := coneplan.Cones(coneplan.Request{Request: cones.Request{Kind: cones.DoubleLaneChange, WidthM: 1.8}, At: &coneplan.At{LatitudeDeg: 57.1, LongitudeDeg: -4.5, HeadingDeg: 92}})
	if err != nil {
		t.Fatal(err)
	}
	if s := a.Scale(); 125/s > 0.257 || 125/s < 0.1 {
		t.Errorf("scale 1:%v", s)
	}
	for name, write := range map[string]func(*bytes.Buffer) error{
		"drawing": func(b *bytes.Buffer) error { return a.Drawing(b) }, "waypoints": func(b *bytes.Buffer) error { return a.GPX(b) },
	} {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			t.Fatal(err)
		}
		d := xml.NewDecoder(bytes.NewReader(b.Bytes()))
		n := 0
		for {
			tok, err := d.Token()
			if tok == nil {
				break
			}
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			if e, ok := tok.(xml.StartElement); ok && (e.Name.Local == "circle" || e.Name.Local == "wpt") {
				n++
			}
		}
		if n != len(a.Cones) {
			t.Errorf("%s: %d cones of %d", name, n, len(a.Cones))
		}
	}
	var b bytes.Buffer
	if err := a.Table(&b); err != nil || strings.Count(b.String(), "\n") != len(a.Cones)+1 {
		t.Errorf("%v: %s", err, b.String())
	}
}
