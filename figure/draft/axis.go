package draft

import (
	"math"
	"strconv"
	"strings"

	"example.org/bookend/figure/fonts"
	"example.org/bookend/figure/scale"
)

// Axis is a value axis: the measure's name with its unit ("stopping distance, m").
type Axis struct {
	Name   string `json:"name"`
	Short  string `json:"short,omitempty"` // for the half width
	Better Toward `json:"better,omitempty"`
	Signed bool   `json:"signed,omitempty"` // differences: ticks bear their sign
}

// AxisWords gives the axis' words, with the power of ten by which its ticks were divided.
func (c *Canvas) AxisWords(a Axis, power int) Text {
	t := Plain(c.Word(a.Name, a.Short))
	if power != 0 {
		t = append(t, Span{Text: " × 10"}, Span{strings.Replace(strconv.Itoa(power), "-", "−", 1), AsMark})
	}
	return t
}

// ValueAxis draws an upright axis at x with a grid to xr and its name above at
// y. It gives where the name ends, in points.
func (c *Canvas) ValueAxis(x, xr float64, sc scale.Scale, ts []scale.Tick, name Text, y float64, better Toward) float64 {
	for _, t := range ts {
		p := sc.At(t.V)
		c.Line(x, p, xr, p, Pen{W: Hair, Tone: Rule, Ghost: true})
		c.Line(x-2.6, p, x, p, Pen{W: Thin, Ghost: true})
		c.Text(x-4.4, p+2.4, Plain(t.Words), Setting{Face: fonts.Sans, Size: PtTick, Anchor: End, Spare: true})
	}
	if n := len(ts); n > 1 {
		c.Line(x, sc.At(ts[0].V), x, sc.At(ts[n-1].V), Pen{W: Thin, Ghost: true})
	}
	if len(name) > 0 {
		w := c.Text(x+3, y, name, Setting{Face: fonts.Sans, Size: PtTick, Tone: Soft})
		return x + 3 + w + 5 + c.Better(x+3+w+5, y, better, true, Start)
	}
	return x
}

// WidestTick gives the width of the widest tick in points.
func WidestTick(ts []scale.Tick) float64 {
	w := 0.0
	for _, t := range ts {
		w = math.Max(w, TextWidth(t.Words, fonts.Sans, PtTick))
	}
	return w
}

// LevelAxis draws a horizontal axis at y; a tick whose words would touch
// another's stays without.
func (c *Canvas) LevelAxis(y float64, sc scale.Scale, ts []scale.Tick) {
	if len(ts) == 0 {
		return
	}
	c.Line(sc.At(ts[0].V), y, sc.At(ts[len(ts)-1].V), y, Pen{W: Thin, Ghost: true})
	for _, t := range ts {
		p := sc.At(t.V)
		c.Line(p, y, p, y+2.6, Pen{W: Thin, Ghost: true})
		c.Try(p, y+9.6, Plain(t.Words), Setting{Face: fonts.Sans, Size: PtTick, Anchor: Middle, Free: true})
	}
}
