package cones_test

import (
	"math"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/internal/golden"
	"example.org/bookend/order/cones"
)

func lay(t *testing.T, r cones.Request) *cones.Layout {
	t.Helper()
	l, err := cones.Lay(r)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// Lengths and widths of both parts of ISO 3888.
func TestLanesOfTheStandard(t *testing.T) {
	for _, kind := range []cones.Kind{cones.DoubleLaneChange, cones.Obstacle} {
		golden.Run(t, string(kind), "widths", func(t *testing.T, c *golden.Case) {
			var w struct {
				Width   float64   `json:"width_m"`
				Widths  []float64 `json:"widths_m"`
				Lengths []float64 `json:"lengths_m"`
				Total   float64   `json:"total_m"`
			}
			c.JSON(t, "case.json", &w)
			l := lay(t, cones.Request{Kind: kind, WidthM: w.Width, Exit: cones.ExitFormula})
			if len(l.Lanes) != len(w.Widths) || len(l.Sections) != len(w.Lengths) {
				t.Fatalf("%d lanes, %d sections", len(l.Lanes), len(l.Sections))
			}
			for i, lane := range l.Lanes {
				c.Near(t, lane.Name, lane.Width(), w.Widths[i])
			}
			for i, s := range l.Sections {
				c.Near(t, "section "+s.Name, s.To-s.From, w.Lengths[i])
			}
			c.Near(t, "total", l.LengthM, w.Total)
		})
	}
	for exit, want := range map[cones.Exit]float64{cones.ExitAtLeast: 3, cones.ExitAtMost: 1.3*1.8 + 0.25} {
		l := lay(t, cones.Request{Kind: cones.Obstacle, WidthM: 1.8, Exit: exit})
		if got := l.Lanes[2].Width(); math.Abs(got-want) > 1e-12 {
			t.Errorf("%s: the exit lane is %v m wide", exit, got)
		}
	}
}

// Cones stand at both ends of each lane and no further apart than asked, their
// bases tangent to its edges; none stands twice.
func TestConesBoundTheLanes(t *testing.T) {
	for _, kind := range []cones.Kind{cones.DoubleLaneChange, cones.Obstacle} {
		for _, right := range []bool{false, true} {
			l := lay(t, cones.Request{Kind: kind, WidthM: 1.82, ApartM: 3, BaseM: 0.4, Right: right})
			for i, c := range l.Cones {
				if c.Number != i+1 {
					t.Errorf("cone %d has the number %d", i+1, c.Number)
				}
				for _, d := range l.Cones[:i] {
					if math.Hypot(c.Station-d.Station, c.Offset-d.Offset) < 0.4 {
						t.Errorf("%s: cones %d and %d touch", kind, c.Number, d.Number)
					}
				}
			}
			for _, lane := range l.Lanes {
				for side, edge := range map[string]float64{"left": lane.Left + 0.2, "right": lane.Right - 0.2} {
					last, first := math.Inf(-1), math.Inf(1)
					for _, c := range l.Cones {
						if math.Abs(c.Offset-edge) < 1e-9 && c.Station >= lane.From-1e-9 && c.Station <= lane.To+1e-9 {
							if !math.IsInf(last, 0) && c.Station-last > 3+1e-9 {
								t.Errorf("%s, %s %s: %v m between cones", kind, lane.Name, side, c.Station-last)
							}
							first, last = min(first, c.Station), c.Station
						}
					}
					if first != lane.From || last != lane.To {
						t.Errorf("%s, %s %s: cones from %v to %v", kind, lane.Name, side, first, last)
					}
				}
			}
		}
	}
}

func TestSlalomByHand(t *testing.T) {
	l := lay(t, cones.Request{Kind: cones.Slalom, WidthM: 1.8, Markers: 3, SpaceM: 36, Right: true})
	// Gates at 0 and 144 m, 2.23 m wide; markers at 36, 72, 108 m, the first passed on
	// the right.
	if l.LengthM != 144 || len(l.Cones) != 7 || math.Abs(l.Lanes[0].Width()-2.23) > 1e-12 {
		t.Errorf("%+v", l)
	}
	for i, side := range []string{"right", "left", "right"} {
		c := l.Cones[2+i]
		if c.Station != 36*float64(i+1) || c.Offset != 0 || c.Side != side {
			t.Errorf("%+v", c)
		}
	}
}

func TestRefusals(t *testing.T) {
	for _, r := range []cones.Request{
		{}, {Kind: "figure-of-eight", WidthM: 1.8}, {Kind: cones.Slalom}, {Kind: cones.Slalom, WidthM: math.NaN()}, {Kind: cones.Slalom, WidthM: 1.8, Markers: 1},
		{Kind: cones.Obstacle, WidthM: 1.8, Exit: "wide"}, {Kind: cones.Obstacle, WidthM: 1.8, ApartM: -1}, {Kind: cones.Obstacle, WidthM: 1.8, BaseM: math.Inf(1)},
	} {
		if _, err := cones.Lay(r); fault.CodeOf(err) != fault.Invalid || fault.HintOf(err) == "" {
			t.Errorf("%+v: %v", r, err)
		}
	}
}
