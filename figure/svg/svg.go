// Package svg writes a figure's drawing as SVG: the same drawing gives the same
// bytes, numbers have two decimals at most, text is text, and nothing outside
// the file is asked for.
//
// Colours are presentation attributes (fill="#0a765a"), so that a page can
// print them otherwise by a style rule on the attribute; faces are classes (see
// CSS). One user unit is one point as printed. The picture has the role img
// and is named by its title and its desc.
package svg

import (
	"bufio"
	"io"
	"math"
	"strconv"
	"strings"

	"example.org/bookend/figure/draft"
	"example.org/bookend/figure/fonts"
)

// Options say how a drawing is written.
type Options struct {
	ID         string // prefix of the ids of title and desc, unique on its page; empty: the drawing's kind
	Paper      bool   // paint the paper; without it paper tones are white, as print is
	Grey       bool   // as a black-and-white printer makes of it: same luminance, no hue
	Standalone bool   // a file of its own: with namespace, style rules and fonts inside
	Decorative bool   // hidden from those who hear the page, where the words stand beside it
}

// classes of the faces
var classes = map[fonts.Face]string{fonts.Sans: "fig-s", fonts.SansBold: "fig-b", fonts.SansItalic: "fig-i", fonts.Serif: "fig-h"}

// CSS gives the style rules for the faces' classes, for a page that holds
// figures. The fonts themselves are fonts.CSS().
func CSS() string {
	return `.fig-s,.fig-b,.fig-i{font-family:"Bookend Sans","Source Sans 3",sans-serif}` +
		`.fig-h{font-family:"Bookend Serif","Source Serif 4",serif;font-weight:600}` +
		`.fig-s,.fig-i{font-weight:400}.fig-s,.fig-b,.fig-h{font-style:normal}.fig-b{font-weight:600}.fig-i{font-style:italic}` +
		`.fig-s,.fig-b,.fig-i,.fig-h{font-kerning:normal;font-variant-ligatures:none;font-variant-numeric:tabular-nums;letter-spacing:0;word-spacing:0}`
}

// String gives a drawing as SVG.
func String(d *draft.Drawing, o Options) string {
	var b strings.Builder
	w := writer{w: bufio.NewWriter(&b), o: o}
	w.drawing(d)
	w.w.Flush() // a strings.Builder takes everything
	return b.String()
}

// Write writes a drawing as SVG.
func Write(to io.Writer, d *draft.Drawing, o Options) error {
	_, err := io.WriteString(to, String(d, o))
	return err
}

type writer struct {
	w *bufio.Writer
	o Options
}

func (w *writer) s(parts ...string) {
	for _, p := range parts {
		w.w.WriteString(p)
	}
}

// num gives a length with at most two decimals.
func num(v float64) string {
	s := strconv.FormatFloat(math.RoundToEven(v*100)/100, 'f', 2, 64)
	s = strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
	if s == "-0" {
		return "0"
	}
	return s
}

var escaper = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;")

// esc escapes a text and drops what XML cannot hold.
func esc(s string) string {
	return escaper.Replace(strings.Map(func(r rune) rune {
		if r < 0x20 && r != '\t' && r != '\n' || r == 0xfffe || r == 0xffff || r == 0xfffd {
			return -1
		}
		return r
	}, s))
}

func (w *writer) drawing(d *draft.Drawing) {
	id := w.o.ID
	if id == "" {
		id = d.Kind
	}
	id = esc(id)
	mm := func(v float64) string { return num(v / 72 * 25.4) }
	w.s(`<svg`)
	if w.o.Standalone {
		w.s(` xmlns="http://www.w3.org/2000/svg"`)
	}
	w.s(` width="`, mm(d.Width), `mm" height="`, mm(d.Height), `mm" viewBox="0 0 `, num(d.Width), ` `, num(d.Height), `"`)
	switch {
	case w.o.Decorative:
		w.s(` aria-hidden="true">`)
	case d.Desc == "":
		w.s(` role="img" aria-labelledby="`, id, `-title"><title id="`, id, `-title">`, esc(d.Title), `</title>`)
	default:
		w.s(` role="img" aria-labelledby="`, id, `-title `, id, `-desc"><title id="`, id, `-title">`, esc(d.Title), `</title>`,
			`<desc id="`, id, `-desc">`, esc(d.Desc), `</desc>`)
	}
	if w.o.Standalone {
		w.s("<style>", fonts.CSS(), CSS(), "</style>")
	}
	if w.o.Paper {
		w.s(`<rect class="paper" width="100%" height="100%" fill="`, w.hex(draft.Paper), `"/>`)
	}
	w.s("\n")
	for _, it := range d.Items {
		switch {
		case it.Path != nil:
			w.path(it.Path)
		case it.Circle != nil:
			w.circle(it.Circle)
		case it.Label != nil:
			w.label(it.Label)
		}
		w.s("\n")
	}
	w.s("</svg>\n")
}

// hex gives a tone as it is printed.
func (w *writer) hex(t draft.Tone) string {
	h := t.Hex()
	if t == draft.Paper && !w.o.Paper {
		h = "#ffffff"
	}
	if w.o.Grey {
		return Grey(h)
	}
	return h
}

// Grey gives the grey of the same luminance as a colour, both as #rrggbb.
func Grey(hex string) string {
	y := draft.Luminance(hex)
	if y <= .0031308 { // IEC 61966-2-1: from linear light to sRGB
		y *= 12.92
	} else {
		y = 1.055*math.Pow(y, 1/2.4) - .055
	}
	g := strconv.FormatUint(uint64(math.Round(255*y)), 16)
	if len(g) < 2 {
		g = "0" + g
	}
	return "#" + g + g + g
}

func (w *writer) paint(fill, line draft.Paint, width float64, dash []float64, round bool) {
	if fill.Tone == draft.None {
		w.s(` fill="none"`)
	} else {
		w.s(` fill="`, w.hex(fill.Tone), `"`)
		if fill.Opacity < 1 {
			w.s(` fill-opacity="`, num(fill.Opacity), `"`)
		}
	}
	if line.Tone == draft.None || width <= 0 {
		return
	}
	w.s(` stroke="`, w.hex(line.Tone), `" stroke-width="`, num(width), `"`)
	if line.Opacity < 1 {
		w.s(` stroke-opacity="`, num(line.Opacity), `"`)
	}
	if len(dash) > 0 {
		w.s(` stroke-dasharray="`)
		for i, v := range dash {
			if i > 0 {
				w.s(" ")
			}
			w.s(num(v))
		}
		w.s(`"`)
	}
	if round {
		w.s(` stroke-linejoin="round" stroke-linecap="round"`)
	}
}

func (w *writer) path(p *draft.Path) {
	w.s(`<path d="`)
	for _, o := range p.Outlines {
		for i, q := range o.Points {
			if i == 0 {
				w.s("M")
			} else {
				w.s("L")
			}
			w.s(num(q.X), " ", num(q.Y))
		}
		if o.Closed {
			w.s("Z")
		}
	}
	w.s(`"`)
	w.paint(p.Fill, p.Line, p.Width, p.Dash, p.Round)
	w.s(`/>`)
}

func (w *writer) circle(c *draft.Circle) {
	w.s(`<circle cx="`, num(c.Centre.X), `" cy="`, num(c.Centre.Y), `" r="`, num(c.Radius), `"`)
	w.paint(c.Fill, c.Line, c.Width, nil, false)
	w.s(`/>`)
}

func (w *writer) label(l *draft.Label) {
	if len(l.Runs) == 0 {
		return
	}
	first := l.Runs[0]
	w.s(`<text class="`, classes[first.Face], `" x="`, num(l.At.X), `" y="`, num(l.At.Y), `" font-size="`, num(first.Size), `" fill="`, w.hex(first.Tone), `"`)
	switch l.Anchor {
	case draft.Middle:
		w.s(` text-anchor="middle"`)
	case draft.End:
		w.s(` text-anchor="end"`)
	}
	if l.Halo {
		w.s(` stroke="`, w.hex(draft.Paper), `" stroke-width="2.4" stroke-linejoin="round" paint-order="stroke"`)
	}
	w.s(`>`)
	rise := 0.0
	for _, r := range l.Runs {
		same := r.Face == first.Face && r.Size == first.Size && r.Tone == first.Tone && r.Rise == rise && r.Lead == 0
		if same {
			w.s(esc(r.Text))
			continue
		}
		w.s(`<tspan`)
		if r.Face != first.Face {
			w.s(` class="`, classes[r.Face], `"`)
		}
		if r.Size != first.Size {
			w.s(` font-size="`, num(r.Size), `"`)
		}
		if r.Tone != first.Tone {
			w.s(` fill="`, w.hex(r.Tone), `"`)
		}
		if r.Lead != 0 {
			w.s(` dx="`, num(r.Lead), `"`)
		}
		if r.Rise != rise {
			w.s(` dy="`, num(rise-r.Rise), `"`)
		}
		rise = r.Rise
		w.s(`>`, esc(r.Text), `</tspan>`)
	}
	w.s(`</text>`)
}
