// Package curves draws figures of curves, one a code: time gained along the
// lap, the answer to the steering wheel, and grip past its peak.
//
// A curve is a mean with a band, sampled by whoever computed it; nothing is
// smoothed or computed here. Values are in the units that the axes name,
// stations in metres. The control is the solid line; candidates have their hue
// and dash; a label stands at each line's end.
package curves

import (
	"math"
	"slices"

	"example.org/bookend/figure/draft"
	"example.org/bookend/figure/fonts"
	"example.org/bookend/figure/scale"
)

// Curve is a code's mean with its band, sampled: places along the level axis
// (rising), values, and the band's edges (both empty: no band).
type Curve struct {
	Code string    `json:"code"`
	X    []float64 `json:"x"`
	Y    []float64 `json:"y"`
	Low  []float64 `json:"low,omitempty"`
	High []float64 `json:"high,omitempty"`
}

// check refuses curves that cannot be drawn.
func check(kind string, cs []Curve) error {
	if len(cs) == 0 {
		return draft.Invalid(kind, "it needs at least one curve")
	}
	for _, q := range cs {
		n := len(q.X)
		if n < 2 || len(q.Y) != n || len(q.Low) != len(q.High) || len(q.Low) != 0 && len(q.Low) != n {
			return draft.Invalid(kind, "the curve of %s has columns of unequal length or fewer than two places", q.Code)
		}
		if !draft.Finite(q.X...) || !draft.Finite(q.Y...) || !draft.Finite(q.Low...) || !draft.Finite(q.High...) {
			return draft.Invalid(kind, "the curve of %s has a value that is not finite", q.Code)
		}
		if !slices.IsSorted(q.X) {
			return draft.Invalid(kind, "the curve of %s runs backwards", q.Code)
		}
	}
	return nil
}

// extents gives the places and values that curves cover, bands as far as they
// leave the lines readable.
func extents(cs []Curve) (x, y scale.Extent) {
	var full scale.Extent
	for _, q := range cs {
		x.Add(q.X...)
		y.Add(q.Y...)
		full.Add(q.Low...)
		full.Add(q.High...)
	}
	y = y.Open()
	if full.Any {
		room := .5 * (y.Hi - y.Lo)
		y.Lo, y.Hi = math.Min(y.Lo, math.Max(full.Lo, y.Lo-room)), math.Max(y.Hi, math.Min(full.Hi, y.Hi+room))
	}
	return x.Open(), y
}

// draw draws curves, bands below lines, the control's line on top.
func draw(c *draft.Canvas, cs []Curve, X, Y scale.Scale) {
	order := slices.Clone(cs)
	slices.SortStableFunc(order, func(a, b Curve) int { return c.Codes.Order(b.Code) - c.Codes.Order(a.Code) })
	for _, q := range order {
		if len(q.Low) == 0 {
			continue
		}
		var top, bottom []draft.Point
		for i, x := range q.X {
			top = append(top, draft.Pt(X.Clamp(x), Y.Clamp(q.High[i])))
			bottom = append(bottom, draft.Pt(X.Clamp(x), Y.Clamp(q.Low[i])))
		}
		c.Band(top, bottom, c.Codes.Style(q.Code).Tone, .12)
	}
	for _, q := range order {
		st := c.Codes.Style(q.Code)
		w := draft.Mean
		if len(st.Dash) == 0 {
			w = draft.Control
		}
		var line []draft.Point
		for i, x := range q.X {
			line = append(line, draft.Pt(X.Clamp(x), Y.Clamp(q.Y[i])))
		}
		c.Poly(line, draft.Pen{W: w, Tone: st.Tone, Dash: st.Dash})
	}
}

// end is a label at a line's end: a first line of words, and a second, softer
// one below.
type end struct {
	code        string
	x, y        float64 // where the line ends
	words, more draft.Text
}

// ends writes labels beside the ends of lines at x, in their order, a gap apart,
// tied by leaders where they had to move.
func ends(c *draft.Canvas, es []end, x, gap, lo, hi float64) {
	at := make([]float64, len(es))
	for i, e := range es {
		at[i] = e.y
	}
	size := c.Pick(8.5, 7.5)
	for i, y := range draft.Spread(at, gap, lo, hi) {
		e := es[i]
		tone := c.Codes.Style(e.code).Tone
		c.Line(e.x+1.5, e.y, x-2, y, draft.Pen{W: draft.Leader, Tone: tone, Ghost: true})
		yy := y + size*.33
		if len(e.more) > 0 {
			yy = y - 1
		}
		c.Text(x, yy, e.words, draft.Setting{Face: fonts.Sans, Size: size})
		if len(e.more) > 0 {
			c.Text(x, yy+8.2, e.more, draft.Setting{Face: fonts.Sans, Size: draft.PtNote, Tone: draft.Soft})
		}
	}
}

// beside writes each label right behind the end of its line, if all of them are clear
// there; it tells whether they were.
func beside(c *draft.Canvas, es []end) bool {
	size := c.Pick(8.5, 7.5)
	words, more := draft.Setting{Face: fonts.Sans, Size: size}, draft.Setting{Face: fonts.Sans, Size: draft.PtNote, Tone: draft.Soft}
	var boxes []draft.Box
	for _, e := range es {
		x, y := e.x+5, e.y+size*.33
		if len(e.more) > 0 {
			y = e.y + .4
		}
		b := c.BoxOf(x, y, c.Codes.Runs(e.words, words), words)
		if len(e.more) > 0 {
			m := c.BoxOf(x, y+8.2, c.Codes.Runs(e.more, more), more)
			b = draft.Box{X0: math.Min(b.X0, m.X0), Y0: math.Min(b.Y0, m.Y0), X1: math.Max(b.X1, m.X1), Y1: math.Max(b.Y1, m.Y1)}
		}
		if b.X1 > c.W || !c.Clear(b, false) || slices.ContainsFunc(boxes, func(o draft.Box) bool {
			return b.X0 < o.X1 && o.X0 < b.X1 && b.Y0 < o.Y1 && o.Y0 < b.Y1
		}) {
			return false
		}
		boxes = append(boxes, b)
	}
	for _, e := range es {
		x, y := e.x+5, e.y+size*.33
		if len(e.more) > 0 {
			y = e.y + .4
		}
		c.Text(x, y, e.words, words)
		if len(e.more) > 0 {
			c.Text(x, y+8.2, e.more, more)
		}
	}
	return true
}

// widest gives the width of the widest label.
func widest(c *draft.Canvas, es []end) float64 {
	w := 0.0
	for _, e := range es {
		w = math.Max(w, c.Codes.Width(e.words, draft.Setting{Face: fonts.Sans, Size: c.Pick(8.5, 7.5)}))
		w = math.Max(w, c.Codes.Width(e.more, draft.Setting{Face: fonts.Sans, Size: draft.PtNote}))
	}
	return w
}

// reading sets a code's letter, value and, on a second line, its interval.
func reading(code, value, interval string, note int) (words, more draft.Text) {
	words = draft.Say(draft.CodeOf(code))
	if value != "" {
		words = append(words, draft.Span{Text: " "}, draft.StrongOf(value))
	}
	words = words.Note(note)
	if interval != "" {
		more = draft.Plain("(" + interval + ")")
	}
	return words, more
}

// caption writes a level axis' name at its right end, on a baseline.
func caption(c *draft.Canvas, x, y float64, words draft.Text) {
	s := draft.Setting{Face: fonts.Sans, Size: draft.PtNote, Tone: draft.Soft, Anchor: draft.End}
	c.Text(math.Max(x, c.Codes.Width(words, s)), y, words, s)
}
