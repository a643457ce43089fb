package ladder

import (
	"math"
	"strings"

	"example.org/bookend/figure/draft"
	"example.org/bookend/figure/fonts"
	"example.org/bookend/figure/scale"
)

// Verdict is what was found of a candidate against the control.
type Verdict string

// The verdicts, by the keys that results bear.
const (
	Better     Verdict = "better"
	BetterLess Verdict = "better_less_than_margin"
	Same       Verdict = "same"
	NotShown   Verdict = "not_shown"
	WorseLess  Verdict = "worse_less_than_margin"
	Worse      Verdict = "worse"
	NotDone    Verdict = "not_computed"
	NotTold    Verdict = "not_told" // before a look that the plan names
)

// Words gives a verdict's word and what is added to it, as they are printed.
func (v Verdict) Words() (word, more string) {
	switch v {
	case Better, Worse, Same:
		return string(v), ""
	case BetterLess:
		return "better", "by less than matters"
	case WorseLess:
		return "worse", "by less than matters"
	case NotShown:
		return "not shown", ""
	case NotTold:
		return "not told yet", ""
	}
	return "not computed", ""
}

// set gives a verdict's word as it is set: better and worse semibold, same
// regular, the rest italic and soft. A verdict has no colour of its own.
func (v Verdict) set(size float64) (string, draft.Setting) {
	w, _ := v.Words()
	s := draft.Setting{Size: size}
	switch v {
	case Better, BetterLess, Worse, WorseLess:
		s.Face = fonts.SansBold
	case Same:
		s.Face = fonts.Sans
	default:
		s.Face, s.Tone = fonts.SansItalic, draft.Soft
	}
	return w, s
}

// Margin is the band within which a difference does not matter, from its lower
// to its upper limit on the value axis, with the limits' words.
type Margin struct {
	Low      float64 `json:"low"`
	High     float64 `json:"high"`
	LowText  string  `json:"low_text,omitempty"`
	HighText string  `json:"high_text,omitempty"`
}

// Reading is a value and its interval as printed, with the number of a caveat:
// "106.3", "104.2 to 108.5".
type Reading struct {
	Value    string `json:"value"`
	Interval string `json:"interval,omitempty"`
	Note     int    `json:"note,omitempty"`
}

// Text sets a reading: the value semibold, the interval regular in brackets.
func (r Reading) Text() draft.Text {
	t := draft.Text{draft.StrongOf(r.Value)}.Note(r.Note)
	if r.Value == "" {
		t = draft.Text{}.Note(r.Note)
	}
	if r.Interval != "" {
		t = append(t, draft.Span{Text: " (" + r.Interval + ")"})
	}
	return t
}

func (r Reading) words() string {
	if r.Interval == "" {
		return r.Value
	}
	return r.Value + " (" + r.Interval + ")"
}

// VerdictStrip is the small strip under a verdict's word in a table cell: a
// line several margins wide with the control's mark, the margin, the interval
// and the estimate. It has no text of its own.
type VerdictStrip struct {
	Codes    draft.Codes `json:"codes"`
	Code     string      `json:"code"`
	Verdict  Verdict     `json:"verdict"`
	Control  float64     `json:"control"` // 100 for an index, 0 for a difference
	Margin   *Margin     `json:"margin,omitempty"`
	Estimate *float64    `json:"estimate,omitempty"`
	Low      *float64    `json:"low,omitempty"`
	High     *float64    `json:"high,omitempty"`
	Reach    float64     `json:"reach,omitempty"` // how far the strip runs to either side of the control; 0: five margins
	Reading  Reading     `json:"reading"`
	Mirrored bool        `json:"mirrored,omitempty"` // smaller values are better: draw them to the right
}

// Kind is "verdict-strip".
func (*VerdictStrip) Kind() string { return "verdict-strip" }

// Measures of the strip, in points.
const (
	stripHeight = 9
	stripInset  = 4 // room for an arrowhead at either end
)

// Draw draws the strip at any width in points; it is 9 points high.
func (f *VerdictStrip) Draw(w draft.Width) (*draft.Drawing, error) {
	const kind = "verdict-strip"
	if f.Code == "" {
		return nil, draft.Invalid(kind, "a strip needs its code")
	}
	if float64(w) < 20 {
		return nil, draft.Invalid(kind, "a strip needs 20 points of width, not %g", float64(w))
	}
	vals := []float64{f.Control, f.Reach}
	for _, p := range []*float64{f.Estimate, f.Low, f.High} {
		if p != nil {
			vals = append(vals, *p)
		}
	}
	if f.Margin != nil {
		vals = append(vals, f.Margin.Low, f.Margin.High)
	}
	if !draft.Finite(vals...) || f.Reach < 0 {
		return nil, draft.Invalid(kind, "code %s has a value that is not finite, or a reach below zero", f.Code)
	}
	reach := f.Reach
	if reach == 0 && f.Margin != nil {
		reach = 5 * math.Max(f.Control-f.Margin.Low, f.Margin.High-f.Control)
	}
	if reach <= 0 {
		for _, v := range vals[2:] {
			reach = math.Max(reach, 1.1*math.Abs(v-f.Control))
		}
	}
	if reach <= 0 {
		reach = 1
	}
	c := draft.Bare(kind, float64(w), f.Codes)
	c.Title = strings.TrimSuffix(f.Code+": "+strings.Join(verdictWords(f.Verdict), ", ")+", "+f.Reading.words(), ", ")
	lo, hi := float64(stripInset), float64(w)-stripInset
	sc := scale.Of(f.Control-reach, f.Control+reach, lo, hi)
	if f.Mirrored {
		sc.P0, sc.P1 = hi, lo
	}
	const y = stripHeight / 2.
	c.Line(lo, y, hi, y, draft.Pen{W: draft.Hair, Tone: draft.Rule, Ghost: true})
	if f.Margin != nil {
		s := draft.Cut(sc.At(f.Margin.Low), sc.At(f.Margin.High), lo, hi)
		c.Rect(s.Lo, y-2.6, s.Hi-s.Lo, 5.2, draft.Ink, .1)
	}
	c.Line(sc.At(f.Control), y-3.4, sc.At(f.Control), y+3.4, draft.Pen{W: .9, Tone: draft.Ink})
	tone := f.Codes.Style(f.Code).Tone
	if f.Low != nil && f.High != nil {
		s := draft.Cut(sc.At(*f.Low), sc.At(*f.High), lo, hi)
		c.Line(s.Lo, y, s.Hi, y, draft.Pen{W: 1.7, Tone: tone})
		if s.OffLo {
			c.Arrowhead(lo-3.4, y, math.Pi, tone, 4)
		}
		if s.OffHi {
			c.Arrowhead(hi+3.4, y, 0, tone, 4)
		}
	}
	if f.Estimate != nil {
		if p := sc.At(*f.Estimate); p >= lo && p <= hi {
			c.Marker(f.Code, p, y, 1.9, false)
		} else if f.Low == nil || f.High == nil { // beyond the strip, with no interval to say so
			d, a := hi+3.4, 0.
			if p < lo {
				d, a = lo-3.4, math.Pi
			}
			c.Arrowhead(d, y, a, tone, 4)
		}
	}
	c.Y = stripHeight
	return c.Done(), nil
}

func verdictWords(v Verdict) []string {
	w, more := v.Words()
	if more != "" {
		return []string{w, more}
	}
	return []string{w}
}
