// Package figure holds bookend's figures: each is data first, then a layout
// that is drawn anew for each of two widths.
//
// A figure says what it shows (its title is the finding), draws every interval,
// labels lines where they are, and numbers its caveats. The values in a figure
// are those of the report, already in the unit in which they are read, and
// words with digits that matter (estimates, intervals, shares) arrive as text,
// printed by package unit; only the ticks of axes are printed here.
//
// Draw lays a figure out as a Drawing: paths, circles and labels in points
// (1/72 inch) from the top left corner, which figure/svg and a PDF backend
// print alike. Labels are measured with the fonts that print them. Each text
// is tested against the edge, every other text and every mark and curve; where
// it would touch, the layout is tried again with shorter words, then with fewer
// ticks and columns, then without what may be left out. What was left out or
// still touches is told by the drawing's caveats: odd data never stop a
// report. What cannot be drawn at all (no candidate, a value that is not
// finite) is a fault.
//
// Horizontal and vertical places are in points as printed, values in the
// figure's own unit, times in seconds since midnight of the first day at the
// ground. The same data give the same drawing.
package figure

import (
	"encoding/json"

	"example.org/bookend/fault"
)

// Width is the width of a figure in points.
type Width float64

// The two widths: the text width of an A4 page, 170 mm, and half of it, 82 mm.
// A figure is drawn anew for each, never scaled.
const (
	Full Width = 170 / 25.4 * 72
	Half Width = 82 / 25.4 * 72
)

func (w Width) half() bool { return w < (Full+Half)/2 }

// Figure is one figure as data.
type Figure interface {
	// Kind is the figure's kind, as in its JSON: "bracket-strip".
	Kind() string
	// Draw lays the figure out. It fails with fault.Invalid for data that
	// cannot be drawn, and never for labels.
	Draw(Width) (*Drawing, error)
}

// makers lists the kinds; a figure is read back from JSON by its kind.
var makers = map[string]func() Figure{
	"bracket-strip":      func() Figure { return new(BracketStrip) },
	"interval-ladder":    func() Figure { return new(IntervalLadder) },
	"verdict-strip":      func() Figure { return new(VerdictStrip) },
	"uncertainty-budget": func() Figure { return new(UncertaintyBudget) },
	"control-chart":      func() Figure { return new(ControlChart) },
}

type envelope struct {
	Kind string          `json:"kind"`
	Data json.RawMessage `json:"data"`
}

// Marshal gives a figure as JSON: {"kind": ..., "data": {...}}.
func Marshal(f Figure) ([]byte, error) {
	data, err := json.Marshal(f)
	if err != nil {
		return nil, fault.New(fault.Invalid, "figure %s has no JSON: %w", f.Kind(), err)
	}
	return json.Marshal(envelope{f.Kind(), data})
}

// Unmarshal reads a figure back.
func Unmarshal(b []byte) (Figure, error) {
	var e envelope
	if err := json.Unmarshal(b, &e); err != nil {
		return nil, fault.New(fault.Invalid, "this is no figure: %w", err)
	}
	mk, ok := makers[e.Kind]
	if !ok {
		return nil, fault.New(fault.Unsupported, "no figure is of kind %q", e.Kind)
	}
	f := mk()
	if err := json.Unmarshal(e.Data, f); err != nil {
		return nil, fault.New(fault.Invalid, "figure %s cannot be read: %w", e.Kind, err)
	}
	return f, nil
}

func invalid(kind, format string, args ...any) error {
	return fault.New(fault.Invalid, format, args...).At("figure %s", kind)
}
