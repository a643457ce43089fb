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
// Each kind is a folder of its own (strip, ladder, budget,
// chart, profile, curves), drawn on what
// draft holds: tones, type, marks, axes, and the keeping apart of labels. This
// package gives them all under one name.
//
// Horizontal and vertical places are in points as printed, values in the
// figure's own unit, times in seconds since midnight of the first day at the
// ground. The same data give the same drawing.
package figure

import (
	"encoding/json"

	"example.org/bookend/fault"
	"example.org/bookend/figure/budget"
	"example.org/bookend/figure/chart"
	"example.org/bookend/figure/curves"
	"example.org/bookend/figure/draft"
	"example.org/bookend/figure/fonts"
	"example.org/bookend/figure/ladder"
	"example.org/bookend/figure/profile"
	"example.org/bookend/figure/strip"
)

// Figure is one figure as data.
type Figure interface {
	// Kind is the figure's kind, as in its JSON: "bracket-strip".
	Kind() string
	// Draw lays the figure out. It fails with fault.Invalid for data that
	// cannot be drawn, and never for labels.
	Draw(Width) (*Drawing, error)
}

// The kinds of figure, each a folder of its own.
type (
	BracketStrip      = strip.BracketStrip
	StripStint        = strip.Stint
	StripRun          = strip.Run
	Drift             = strip.Drift
	Bracket           = strip.Bracket
	Break             = strip.Break
	ConditionRow      = strip.ConditionRow
	Cell              = strip.Cell
	IntervalLadder    = ladder.IntervalLadder
	LadderRow         = ladder.Row
	VerdictStrip      = ladder.VerdictStrip
	Verdict           = ladder.Verdict
	Margin            = ladder.Margin
	Reading           = ladder.Reading
	UncertaintyBudget = budget.UncertaintyBudget
	BudgetPart        = budget.Part
	BudgetOption      = budget.Option
	ControlChart      = chart.ControlChart
	ChartLimit        = chart.Limit
	ChartGroup        = chart.Programme
	ChartPoint        = chart.Point
	Profile           = profile.Profile
	ProfileAttribute  = profile.Attribute
	ProfileRating     = profile.Rating
	GainAlongTheLap   = curves.GainAlongTheLap
	Corner            = curves.Corner
	Finish            = curves.Finish
	PastThePeak       = curves.PastThePeak
	Peak              = curves.Peak
	AnswerCurve       = curves.AnswerCurve
	Panel             = curves.Panel
	Delay             = curves.Delay
	Curve             = curves.Curve
	RoomPlot          = curves.RoomPlot
	Way               = curves.Way
	Cone              = curves.Cone
	Detail            = curves.Detail
	Gap               = curves.Gap
)

// What every figure is made of.
type (
	Drawing   = draft.Drawing
	Item      = draft.Item
	Path      = draft.Path
	Outline   = draft.Outline
	Circle    = draft.Circle
	Label     = draft.Label
	Run       = draft.Run
	Point     = draft.Point
	Paint     = draft.Paint
	Clash     = draft.Clash
	Anchor    = draft.Anchor
	Tone      = draft.Tone
	Shape     = draft.Shape
	CodeStyle = draft.CodeStyle
	Codes     = draft.Codes
	Head      = draft.Head
	Note      = draft.Note
	Axis      = draft.Axis
	Toward    = draft.Toward
	Text      = draft.Text
	Span      = draft.Span
	Width     = draft.Width
)

// The two widths: 170 mm and 82 mm, in points.
const (
	Full = draft.Full
	Half = draft.Half
)

// The verdicts, by the keys that results bear.
const (
	Better     = ladder.Better
	BetterLess = ladder.BetterLess
	Same       = ladder.Same
	NotShown   = ladder.NotShown
	WorseLess  = ladder.WorseLess
	Worse      = ladder.Worse
	NotDone    = ladder.NotDone
	NotTold    = ladder.NotTold
)

// In which direction of an axis a measure is better.
const (
	Nowhere = draft.Nowhere
	Rising  = draft.Rising
	Falling = draft.Falling
)

// The tones; see draft.Tone.
const (
	None   = draft.None
	Paper  = draft.Paper
	Ink    = draft.Ink
	Soft   = draft.Soft
	Rule   = draft.Rule
	Red    = draft.Red
	Indigo = draft.Indigo
	Teal   = draft.Teal
	Ochre  = draft.Ochre
	Wine   = draft.Wine
	Blue   = draft.Blue
	Olive  = draft.Olive
)

// Which point of a label its place is.
const (
	Start  = draft.Start
	Middle = draft.Middle
	End    = draft.End
)

// Square is the control's marker.
const Square = draft.Square

// Say makes a text of strings, spans and texts:
// Say(CodeOf("R"), " stops 2.1 m shorter", MarkOf(1)).
func Say(parts ...any) Text { return draft.Say(parts...) }

// CodeOf gives a code's letter as a span, in its hue.
func CodeOf(letter string) Span { return draft.CodeOf(letter) }

// MarkOf gives the number of a caveat as a span, raised.
func MarkOf(number int) Span { return draft.MarkOf(number) }

// StrongOf gives words as a semibold span.
func StrongOf(words string) Span { return draft.StrongOf(words) }

// EmOf gives words as an italic span.
func EmOf(words string) Span { return draft.EmOf(words) }

// Style gives how a code is drawn by its place in the programme: 0 is the
// control, 1 the first candidate and so on.
func Style(index int) CodeStyle { return draft.Style(index) }

// TextWidth gives the width of a text in points, in a face at a size in points.
func TextWidth(text string, face fonts.Face, size float64) float64 {
	return draft.TextWidth(text, face, size)
}

// makers lists the kinds; a figure is read back from JSON by its kind.
var makers = map[string]func() Figure{
	"bracket-strip":      func() Figure { return new(BracketStrip) },
	"interval-ladder":    func() Figure { return new(IntervalLadder) },
	"verdict-strip":      func() Figure { return new(VerdictStrip) },
	"uncertainty-budget": func() Figure { return new(UncertaintyBudget) },
	"profile":            func() Figure { return new(Profile) },
	"gain-along-the-lap": func() Figure { return new(GainAlongTheLap) },
	"past-the-peak":      func() Figure { return new(PastThePeak) },
	"answer-curve":       func() Figure { return new(AnswerCurve) },
	"control-chart":      func() Figure { return new(ControlChart) },
	"room-plot":          func() Figure { return new(RoomPlot) },
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
