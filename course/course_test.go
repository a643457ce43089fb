package course_test

import (
	"math"
	"testing"

	"example.org/bookend/course"
	"example.org/bookend/internal/golden"
)

func rad(deg float64) float64 { return deg * math.Pi / 180 }

func TestTopocentricExampleOfTheGuidanceNote(t *testing.T) {
	golden.Run(t, "iogp-373-7-2", "topocentric", func(t *testing.T, c *golden.Case) {
		var v struct {
			OriginDeg [2]float64 `json:"origin_deg"`
			OriginH   float64    `json:"origin_height_m"`
			PointDeg  [2]float64 `json:"point_deg"`
			PointH    float64    `json:"point_height_m"`
			ENU       [3]float64 `json:"enu_m"`
		}
		c.JSON(t, "case.json", &v)
		p := course.NewPlane(course.Position{Latitude: rad(v.OriginDeg[0]), Longitude: rad(v.OriginDeg[1]), Height: v.OriginH})
		e, n, u := p.ENU(course.Position{Latitude: rad(v.PointDeg[0]), Longitude: rad(v.PointDeg[1]), Height: v.PointH})
		c.Near(t, "east", e, v.ENU[0])
		c.Near(t, "north", n, v.ENU[1])
		c.Near(t, "up", u, v.ENU[2])
	})
}

func TestAGateIsCrossedOneWayOnceAndWhereTheTrackCrossesIt(t *testing.T) {
	// Driven north: the right post is east of the left one.
	g := course.Gate{Right: course.Point{East: 4}, Left: course.Point{East: -4}}
	part, offset, ok := g.Crossing(course.Point{East: 1, North: -1}, course.Point{East: 1, North: 3})
	if !ok || part != 0.25 || offset != -1 {
		t.Errorf("part %v, offset %v, %v", part, offset, ok)
	}
	if _, _, ok := g.Crossing(course.Point{East: 1, North: 3}, course.Point{East: 1, North: -1}); ok {
		t.Error("crossing the other way counted")
	}
	if _, _, ok := g.Crossing(course.Point{East: 9, North: -1}, course.Point{East: 9, North: 3}); ok {
		t.Error("passing beside the posts counted")
	}
	_, _, into := g.Crossing(course.Point{North: -1}, course.Point{})
	_, _, out := g.Crossing(course.Point{}, course.Point{North: 1})
	if !into || out {
		t.Errorf("a sample on the gate: into %v, out %v, want it counted once", into, out)
	}
}
