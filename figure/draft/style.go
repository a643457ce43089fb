// Package draft is what figures are drawn with: tones, markers and dashes,
// type measured by the fonts that print it, lines and marks, axes, head and
// foot, and a canvas that keeps every text clear of the edge, of other texts and
// of marks.
//
// All places and lengths are in points as printed, x to the right and y down.
package draft

import (
	"math"
	"strconv"
)

// Tone is a colour by its part in a figure. Its text is its name, so that a
// backend may print it otherwise (grey, dark, sunlight).
type Tone string

// The tones. Red marks a broken limit and nothing else. White is the paper
// where the paper rectangle is not drawn.
const (
	None   Tone = ""
	Paper  Tone = "paper"
	Ink    Tone = "ink"
	Soft   Tone = "soft"
	Rule   Tone = "rule"
	Red    Tone = "red"
	Indigo Tone = "indigo"
	Teal   Tone = "teal"
	Ochre  Tone = "ochre"
	Wine   Tone = "wine"
	Blue   Tone = "blue"
	Olive  Tone = "olive"
)

// Hex is the tone's sRGB value as #rrggbb. The seven code hues are the
// project's own choice: at least 4.5:1 against paper and margin tint (WCAG 2.2,
// success criterion 1.4.3), and apart from each other for colour-blind readers.
func (t Tone) Hex() string {
	switch t {
	case Paper:
		return "#fbfaf7"
	case Ink:
		return "#14181c"
	case Soft:
		return "#5b6168"
	case Rule:
		return "#d9d5cb"
	case Red:
		return "#b3261e"
	case Indigo:
		return "#4a277f"
	case Teal:
		return "#0a765a"
	case Ochre:
		return "#80640a"
	case Wine:
		return "#7a0452"
	case Blue:
		return "#57659d"
	case Olive:
		return "#626d37"
	}
	return "none"
}

// Luminance gives the relative luminance, 0 to 1, of a colour written #rrggbb
// (WCAG 2.2, definition of relative luminance; sRGB, IEC 61966-2-1).
func Luminance(hex string) float64 {
	y := 0.0
	for i, k := range []float64{.2126, .7152, .0722} {
		v, err := strconv.ParseUint(hex[1+2*i:3+2*i], 16, 8)
		if err != nil {
			panic("figure: " + hex + " is no colour")
		}
		c := float64(v) / 255
		if c <= .04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+.055)/1.055, 2.4)
		}
		y += k * c
	}
	return y
}

// Contrast gives the contrast ratio, 1 to 21, of two colours written #rrggbb
// (WCAG 2.2, definition of contrast ratio).
func Contrast(a, b string) float64 {
	l, d := Luminance(a), Luminance(b)
	return (math.Max(l, d) + .05) / (math.Min(l, d) + .05)
}

// Shape is the shape of a marker.
type Shape string

// The markers. The square is the control's alone.
const (
	Square  Shape = "square"
	Disc    Shape = "disc"
	Up      Shape = "triangle"
	Diamond Shape = "diamond"
	Down    Shape = "triangle-down"
	Cross   Shape = "cross"
	Hexagon Shape = "hexagon"
)

// CodeStyle is how a code is drawn: its hue, its marker and its dash in points
// (nil: solid, the control's alone). Hue is never alone: the letter stands
// beside it, and where hue fails (grey print, the seventh candidate and on)
// marker and dash remain.
type CodeStyle struct {
	Tone  Tone
	Shape Shape
	Dash  []float64
}

var styles = [...]CodeStyle{
	{Ink, Square, nil},
	{Indigo, Disc, []float64{9, 2}},
	{Teal, Up, []float64{4.5, 1.7}},
	{Ochre, Diamond, []float64{7, 1.8, 1.2, 1.8}},
	{Wine, Down, []float64{2.2, 1.3}},
	{Blue, Cross, []float64{1, 2}},
	{Olive, Hexagon, []float64{5, 1.6, 1.2, 1.6, 1.2, 1.6}},
}

// Style gives how a code is drawn by its place in the programme: 0 is the
// control, 1 the first candidate and so on. Six candidates have a hue of their
// own; from the seventh on all are soft ink, the six markers and dashes come
// round again, and the letter alone tells them apart.
func Style(index int) CodeStyle {
	if index < 0 {
		index = 0
	}
	if index < len(styles) {
		return styles[index]
	}
	s := styles[1+(index-1)%(len(styles)-1)]
	s.Tone = Soft
	return s
}

// Codes are the codes of a programme: the control's letter and the candidates'
// in their order, which settles hue, marker and dash. Every figure of a
// programme is given the same Codes, also where it shows only some of them.
type Codes struct {
	Control    string   `json:"control"`
	Candidates []string `json:"candidates"`
}

// Style gives how a code is drawn; a code that is not among them is drawn in
// soft ink as a disc.
func (c Codes) Style(code string) CodeStyle {
	if code == c.Control && code != "" {
		return Style(0)
	}
	for i, k := range c.Candidates {
		if k == code {
			return Style(i + 1)
		}
	}
	return Style(7)
}

// Order gives a code's place: the control first, unknown codes last.
func (c Codes) Order(code string) int {
	if code == c.Control {
		return 0
	}
	for i, k := range c.Candidates {
		if k == code {
			return i + 1
		}
	}
	return len(c.Candidates) + 1
}

// Line weights, in points.
const (
	Hair    = .35 // grid, edge of a band
	Thin    = .5  // axis, tick, post
	Leader  = .4  // leader
	Drop    = .6  // drop line
	Whisk   = .75 // whisker
	Mean    = 1.2 // a code's line
	Control = 1.6 // the control's line
	Bar     = 2.4 // interval of a ladder
)

// Type sizes, in points. Nothing but the number of a caveat is smaller than a note.
const (
	PtHead      = 6.5
	ptTitle     = 10.5
	ptTitleHalf = 9.5
	PtSub       = 7.5
	PtTick      = 7
	PtLabel     = 7.5
	PtNote      = 6.5
	PtMark      = 5
)

// marker shapes, in units of the marker's size.
var shapes = map[Shape][]Point{
	Square:  {{-.9, -.9}, {.9, -.9}, {.9, .9}, {-.9, .9}},
	Up:      {{0, -1.2}, {1.12, .8}, {-1.12, .8}},
	Down:    {{0, 1.2}, {1.12, -.8}, {-1.12, -.8}},
	Diamond: {{0, -1.28}, {1.1, 0}, {0, 1.28}, {-1.1, 0}},
	Cross: {{-.42, -1.15}, {.42, -1.15}, {.42, -.42}, {1.15, -.42}, {1.15, .42}, {.42, .42},
		{.42, 1.15}, {-.42, 1.15}, {-.42, .42}, {-1.15, .42}, {-1.15, -.42}, {-.42, -.42}},
	Hexagon: {{-1.1, 0}, {-.55, -.95}, {.55, -.95}, {1.1, 0}, {.55, .95}, {-.55, .95}},
}

// Finite tells whether all values are finite.
func Finite(vs ...float64) bool {
	for _, v := range vs {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}
