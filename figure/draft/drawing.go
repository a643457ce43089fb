package draft

import (
	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/figure/fonts"
)

// Point is a place on a drawing, in points from its top left corner, x to the
// right and y down.
type Point struct{ X, Y float64 }

// Pt gives the point at x, y.
func Pt(x, y float64) Point { return Point{x, y} }

// Points gives points by their coordinates, x and y in turn.
func Points(xy ...float64) []Point {
	out := make([]Point, len(xy)/2)
	for i := range out {
		out[i] = Point{xy[2*i], xy[2*i+1]}
	}
	return out
}

// Paint is a tone and how much of it covers what is below, 0 to 1. A zero
// Paint paints nothing.
type Paint struct {
	Tone    Tone
	Opacity float64
}

// Outline is one run of straight segments of a path, closed or open.
type Outline struct {
	Points []Point
	Closed bool
}

// Path is a run of straight segments, filled, stroked or both. Curves reach a
// drawing as segments shorter than a point and a half or as the caller's own
// samples.
type Path struct {
	Outlines []Outline
	Fill     Paint
	Line     Paint
	Width    float64   // of the line, in points
	Dash     []float64 // in points; nil is solid
	Round    bool      // round joins and ends; else mitred and flat
}

// Circle is a circle with its radius in points.
type Circle struct {
	Centre Point
	Radius float64
	Fill   Paint
	Line   Paint
	Width  float64 // of the line, in points
}

// Anchor says which point of a text its place is.
type Anchor uint8

// The anchors.
const (
	Start Anchor = iota
	Middle
	End
)

// Run is a piece of text in one face, size and tone.
type Run struct {
	Text string
	Face fonts.Face
	Size float64 // in points
	Tone Tone
	Rise float64 // above the baseline, in points
	Lead float64 // space before it, in points
}

// Label is a line of text: its runs follow one another from (or around, or up
// to) a point on the baseline.
type Label struct {
	At     Point
	Anchor Anchor
	Runs   []Run
	Halo   bool // a rim of paper around the letters
}

// Item is one primitive of a drawing; exactly one of its fields is set.
type Item struct {
	Path   *Path
	Circle *Circle
	Label  *Label
}

// Clash is a text that could not be kept clear of the edge, of another text or
// of a mark.
type Clash struct {
	Text string // the text
	With string // "edge", "mark", or the other text
}

// Drawing is a figure laid out: primitives in the order in which they are
// painted, in points as printed. Every backend prints the same drawing.
type Drawing struct {
	Kind          string  // kind of the figure: "bracket-strip"
	Width, Height float64 // in points
	Title         string  // the finding, plain
	Desc          string  // what is drawn and its values, plain, for those who hear the figure
	Items         []Item
	Caveats       caveat.List // labels left out or touching, titles too long
	Clashes       []Clash     // what remained unresolved; empty but for odd data
}

// Width is the width of a figure in points.
type Width float64

// The two widths: the text width of an A4 page, 170 mm, and half of it, 82 mm.
// A figure is drawn anew for each, never scaled.
const (
	Full Width = 170 / 25.4 * 72
	Half Width = 82 / 25.4 * 72
)

func (w Width) half() bool { return w < (Full+Half)/2 }

// Invalid is the fault of a figure that cannot be drawn.
func Invalid(kind, format string, args ...any) error {
	return fault.New(fault.Invalid, format, args...).At("figure %s", kind)
}
