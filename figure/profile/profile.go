// Package profile draws ratings by attribute: the control as a line through the
// middle, each candidate's difference from it as a bar, evaluators as ticks.
//
// Values are in the rating's points (or whatever the axis names), as given;
// nothing is computed here. On an anchored sheet, where the control's rating is
// fixed, candidates have estimates without intervals and stand as marks alone.
package profile

import (
	"math"
	"slices"
	"strings"

	"example.org/bookend/figure/draft"
	"example.org/bookend/figure/fonts"
	"example.org/bookend/figure/scale"
)

// Profile shows the candidates' ratings against the control's, attribute by attribute.
type Profile struct {
	draft.Head
	Value      draft.Axis  `json:"value"`              // "points from the control"
	Control    float64     `json:"control"`            // where the control stands, 0 for differences
	BandLow    *float64    `json:"band_low,omitempty"` // the control's own repeatability, shaded
	BandHigh   *float64    `json:"band_high,omitempty"`
	Attributes []Attribute `json:"attributes"`
}

// Attribute is one thing that was rated.
type Attribute struct {
	Name    string     `json:"name"`
	Short   string     `json:"short,omitempty"`
	Finding draft.Text `json:"finding,omitempty"` // "R better, W worse"; on the full width
	Note    int        `json:"note,omitempty"`
	Ratings []Rating   `json:"ratings"`
}

// Rating is one candidate's rating of an attribute.
type Rating struct {
	Code     string    `json:"code"`
	Estimate *float64  `json:"estimate,omitempty"`
	Low      *float64  `json:"low,omitempty"`
	High     *float64  `json:"high,omitempty"`
	Raters   []float64 `json:"raters,omitempty"` // each evaluator's own: the first above the bar, the second below, and so on
	Note     int       `json:"note,omitempty"`
}

// Kind is "profile".
func (*Profile) Kind() string { return "profile" }

// Draw lays the profile out.
func (f *Profile) Draw(w draft.Width) (*draft.Drawing, error) {
	n := 0
	for _, a := range f.Attributes {
		for _, r := range a.Ratings {
			n++
			for _, p := range []*float64{r.Estimate, r.Low, r.High} {
				if p != nil && !draft.Finite(*p) {
					return nil, draft.Invalid(f.Kind(), "%s of %s has a value that is not finite", a.Name, r.Code)
				}
			}
			if !draft.Finite(r.Raters...) {
				return nil, draft.Invalid(f.Kind(), "%s of %s has an evaluator's rating that is not finite", a.Name, r.Code)
			}
			if r.Low != nil && r.High != nil && *r.Low > *r.High {
				return nil, draft.Invalid(f.Kind(), "%s of %s has an interval upside down", a.Name, r.Code)
			}
		}
	}
	if n == 0 {
		return nil, draft.Invalid(f.Kind(), "a profile needs at least one rating of a candidate")
	}
	if !draft.Finite(f.Control) {
		return nil, draft.Invalid(f.Kind(), "the control is not finite")
	}
	for _, p := range []*float64{f.BandLow, f.BandHigh} {
		if p != nil && !draft.Finite(*p) {
			return nil, draft.Invalid(f.Kind(), "the control's band is not finite")
		}
	}
	return draft.Compose(f.Kind(), w, f.Codes, f.layout), nil
}

func (f *Profile) domain() scale.Extent {
	var core, full scale.Extent
	var halves []float64
	core.Add(f.Control)
	for _, p := range []*float64{f.BandLow, f.BandHigh} {
		if p != nil {
			core.Add(*p)
		}
	}
	full = core
	for _, a := range f.Attributes {
		for _, r := range a.Ratings {
			if r.Estimate != nil {
				core.Add(*r.Estimate)
			}
			for _, p := range []*float64{r.Estimate, r.Low, r.High} {
				if p != nil {
					full.Add(*p)
				}
			}
			full.Add(r.Raters...)
			if r.Low != nil && r.High != nil {
				halves = append(halves, (*r.High-*r.Low)/2)
			}
		}
	}
	return scale.Readable(core, full, halves)
}

// Measures, in points.
const (
	barGap = 5.9 // from one candidate's bar to the next
	least  = 20  // height of an attribute
)

func (f *Profile) layout(c *draft.Canvas) {
	c.Head(f.Head)
	// attributes, left
	ns := draft.Setting{Face: fonts.Sans, Size: c.Pick(8, 7)}
	nameMax := c.Pick(118, 64)
	names := make([][]draft.Text, len(f.Attributes))
	nameW := 0.0
	for i, a := range f.Attributes {
		names[i] = c.Codes.WrapText(draft.Plain(c.Word(a.Name, a.Short)).Note(a.Note), ns, nameMax)
		for _, l := range names[i] {
			nameW = math.Max(nameW, c.Codes.Width(l, ns))
		}
	}
	// findings, right
	fs := draft.Setting{Face: fonts.Sans, Size: 8}
	findMax, findW := 118.0, 0.0
	finds := make([][]draft.Text, len(f.Attributes))
	if !c.Half && c.Level < 2 {
		for i, a := range f.Attributes {
			if len(a.Finding) > 0 {
				finds[i] = c.Codes.WrapText(a.Finding, fs, findMax)
			}
			for _, l := range finds[i] {
				findW = math.Max(findW, c.Codes.Width(l, fs))
			}
		}
	}
	L, R := nameW+12, c.W-4
	if findW > 0 {
		R = c.W - findW - 16
	}
	letter := 0.0 // room for a letter beyond either end
	for _, a := range f.Attributes {
		for _, r := range a.Ratings {
			letter = math.Max(letter, draft.TextWidth(r.Code, fonts.SansBold, draft.PtNote)+6)
		}
	}
	letter = math.Min(letter, .2*(R-L))
	e := f.domain()
	X := scale.Of(e.Lo, e.Hi, L+letter, R-letter)

	heights := make([]float64, len(f.Attributes))
	total := 0.0
	for i, a := range f.Attributes {
		heights[i] = math.Max(least, barGap*float64(len(a.Ratings))+4.5)
		heights[i] = math.Max(heights[i], 9.4*float64(max(len(names[i]), len(finds[i])))+5)
		total += heights[i]
	}
	top := c.Y + 15
	bottom := top + total
	x0 := X.At(f.Control)
	if f.BandLow != nil && f.BandHigh != nil {
		iv := draft.Cut(X.At(*f.BandLow), X.At(*f.BandHigh), L, R)
		c.Rect(iv.Lo, top, iv.Hi-iv.Lo, total, draft.Ink, .075)
	}
	y := top
	for i := range f.Attributes {
		if i > 0 {
			c.Line(0, y, c.W, y, draft.Pen{W: draft.Hair, Tone: draft.Rule, Ghost: true})
		}
		y += heights[i]
	}
	c.Posts(x0, top-2, bottom+2, f.Codes.Control)

	y = top
	for i, a := range f.Attributes {
		mid := y + heights[i]/2
		for k, l := range names[i] {
			c.Text(0, mid+2.6+9.2*(float64(k)-float64(len(names[i])-1)/2), l, ns)
		}
		for k, l := range finds[i] {
			c.Text(R+16, mid+2.6+9.2*(float64(k)-float64(len(finds[i])-1)/2), l, fs)
		}
		order := slices.Clone(a.Ratings)
		slices.SortStableFunc(order, func(p, q Rating) int { return f.Codes.Order(p.Code) - f.Codes.Order(q.Code) })
		first := mid - barGap*float64(len(order)-1)/2
		for k, r := range order {
			f.bar(c, r, X, first+barGap*float64(k), L, R)
		}
		for k, r := range order { // letters when all bars stand
			f.letter(c, r, X, first+barGap*float64(k))
		}
		if len(a.Finding) > 0 {
			c.Say(a.Name + ": " + strings.TrimSpace(a.Finding.String()))
		}
		y += heights[i]
	}

	most := 7
	if c.Half {
		most = 5
	}
	ts, power := scale.Ticks(e.Lo, e.Hi, max(2, most-c.Level), f.Value.Signed, f.Style())
	c.LevelAxis(bottom+8, X, ts)
	s := draft.Setting{Face: fonts.Sans, Size: draft.PtNote, Tone: draft.Soft, Anchor: draft.End}
	name := c.AxisWords(f.Value, power)
	yy := bottom + 27.5
	w := c.Codes.Width(name, s)
	end := math.Max(R, w)
	if f.Value.Better != draft.Nowhere && w+60 < end {
		end -= c.Better(end, yy, f.Value.Better, false, draft.End) + 8
	}
	c.Text(end, yy, name, s)
	c.Y = yy + 3
	if len(f.Notes) > 0 {
		c.Foot(yy+14, f.Notes)
	}
}

// bar draws one candidate's interval, evaluators and estimate at y.
func (f *Profile) bar(c *draft.Canvas, r Rating, X scale.Scale, y, L, R float64) {
	tone := c.Codes.Style(r.Code).Tone
	if r.Low != nil && r.High != nil {
		iv := draft.Cut(X.At(*r.Low), X.At(*r.High), L+5, R-5)
		c.Line(iv.Lo-.6, y, iv.Hi+.6, y, draft.Pen{W: 2.1, Tone: draft.Paper, Ghost: true})
		c.Stem(iv, y, false, 1.5, .8, draft.Pen{W: .9, Tone: tone})
	}
	for i, v := range r.Raters {
		x := X.Clamp(v)
		d := -2.3
		if i%2 == 1 {
			d = 2.3
		}
		c.Line(x, y, x, y+d, draft.Pen{W: .7, Tone: tone})
	}
	if r.Estimate != nil {
		c.Marker(r.Code, X.Clamp(*r.Estimate), y, 1.9, false)
	}
}

// letter writes a candidate's letter beyond its bar, on the side away from the
// control.
func (f *Profile) letter(c *draft.Canvas, r Rating, X scale.Scale, y float64) {
	if r.Estimate == nil {
		return
	}
	x := X.Clamp(*r.Estimate)
	lo, hi := x-2.4, x+2.4
	if r.Low != nil && r.High != nil {
		lo, hi = math.Min(lo, X.Clamp(*r.Low)), math.Max(hi, X.Clamp(*r.High))
	}
	for _, v := range r.Raters {
		lo, hi = math.Min(lo, X.Clamp(v)), math.Max(hi, X.Clamp(v))
	}
	t := draft.Say(draft.CodeOf(r.Code)).Note(r.Note)
	s := draft.Setting{Face: fonts.SansBold, Size: c.Pick(6.5, 6), Free: true}
	right := x >= X.At(f.Control)-1
	left := s
	left.Anchor = draft.End
	yy := y + 2.05
	put := func(toRight bool) bool {
		if toRight {
			return c.Try(hi+2.6, yy, t, s)
		}
		return c.Try(lo-2.6, yy, t, left)
	}
	if !put(right) && !put(!right) {
		s.Spare = true
		c.Text(hi+2.6, yy, t, s)
	}
}
