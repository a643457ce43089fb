// Package budget draws the uncertainty budget: which part of an interval comes
// from where, and what would shrink it.
package budget

import (
	"math"

	"example.org/bookend/figure/draft"
	"example.org/bookend/figure/fonts"
	"example.org/bookend/figure/scale"
	"example.org/bookend/unit"
)

// UncertaintyBudget shows which part of an interval comes from where, as shares
// of its variance in one bar, and below what the interval would be with one
// thing done otherwise, against the interval as it is.
type UncertaintyBudget struct {
	draft.Head
	Parts    []Part     `json:"parts"` // in the order in which they stand, the largest first as a rule
	Code     string     `json:"code"`  // whose interval
	Value    draft.Axis `json:"value"`
	Control  float64    `json:"control"` // where the control stands on the axis
	Estimate float64    `json:"estimate"`
	Options  []Option   `json:"options,omitempty"`
}

// Part is one source of doubt and its share of the variance; shares are
// taken relative to their sum.
type Part struct {
	Name  string  `json:"name"`
	Short string  `json:"short,omitempty"`
	Share float64 `json:"share"` // 0 to 1
}

// Option is the interval as it is (Now), or as it would be.
type Option struct {
	Name  string  `json:"name"`
	Short string  `json:"short,omitempty"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
	Text  string  `json:"text,omitempty"` // the interval as printed, with its unit; on the full width
	Now   bool    `json:"now,omitempty"`
}

// Kind is "uncertainty-budget".
func (*UncertaintyBudget) Kind() string { return "uncertainty-budget" }

// Draw lays the budget out.
func (f *UncertaintyBudget) Draw(w draft.Width) (*draft.Drawing, error) {
	sum := 0.0
	for _, p := range f.Parts {
		if !draft.Finite(p.Share) || p.Share < 0 {
			return nil, draft.Invalid(f.Kind(), "the share of %q is not a finite number of at least 0", p.Name)
		}
		sum += p.Share
	}
	if !(sum > 0) || !draft.Finite(sum) {
		return nil, draft.Invalid(f.Kind(), "a budget needs at least one share above 0")
	}
	if !draft.Finite(f.Control, f.Estimate) {
		return nil, draft.Invalid(f.Kind(), "control or estimate is not finite")
	}
	for _, o := range f.Options {
		if !draft.Finite(o.Low, o.High) || o.Low > o.High {
			return nil, draft.Invalid(f.Kind(), "the interval %q is not finite or upside down", o.Name)
		}
	}
	return draft.Compose(f.Kind(), w, f.Codes, func(c *draft.Canvas) { f.layout(c, sum) }), nil
}

// shades are opacities of ink; letters on the first two are paper, on the
// others ink (at least 6:1).
var shades = []float64{.86, .68, .38, .28, .2, .13}

type share struct {
	name, percent string
	x, wide       float64
	inside        bool // the percentage stands in the bar
	text          string
	tw, tx        float64
	lane          int
}

func (f *UncertaintyBudget) layout(c *draft.Canvas, sum float64) {
	c.Head(f.Head)
	style := f.Style()
	y, h := c.Y+5, c.Pick(15, 13)
	var shown []Part
	for _, p := range f.Parts {
		if p.Share/sum >= .0005 {
			shown = append(shown, p)
		}
		c.Say(p.Name + ": " + percent(p.Share/sum, style))
	}
	var parts []share
	x, total := 0.0, c.W-float64(len(shown)-1)
	for i, p := range shown {
		q := share{name: c.Word(p.Name, p.Short), percent: percent(p.Share/sum, style), x: x, wide: total * p.Share / sum}
		op := shades[min(i, len(shades)-1)]
		c.Rect(q.x, y, q.wide, h, draft.Ink, op)
		s := draft.Setting{Face: fonts.SansBold, Size: 8, Free: true}
		if op > .5 {
			s.Tone = draft.Paper
		}
		q.inside = draft.TextWidth(q.percent, s.Face, s.Size) <= q.wide-7
		if q.inside {
			c.Text(q.x+4, y+h/2+2.8, draft.Plain(q.percent), s)
		}
		q.text = q.name
		if !q.inside {
			q.text += "\u00a0" + q.percent
		}
		q.tw = draft.TextWidth(q.text, fonts.Sans, draft.PtTick)
		parts = append(parts, q)
		x += q.wide + 1
	}
	lanes := stair(parts, c.W)
	for _, q := range parts {
		yy := y + h + 10 + 9.2*float64(q.lane)
		c.Line(q.x+.25, y+h, q.x+.25, yy-6.2, draft.Pen{W: draft.Leader, Tone: draft.Soft, Ghost: true})
		c.Text(q.tx, yy, draft.Plain(q.text), draft.Setting{Face: fonts.Sans, Size: draft.PtTick})
	}
	y += h + 10 + 9.2*float64(lanes-1)
	c.Y = y + 3
	if len(f.Options) > 0 {
		y = f.options(c, y+24)
	}
	c.Y = y + 2
	if len(f.Notes) > 0 {
		c.Foot(y+14, f.Notes)
	}
}

func percent(v float64, s unit.Style) string {
	if v < .005 {
		return "<\u00a01\u00a0%"
	}
	return unit.Number(100*v, 0, s) + "\u00a0%"
}

// stair puts the names of the parts on lanes below the bar, each tied to its
// part's left edge by a leader at which it starts, ends or (at the right end of
// the bar) about which it stands, so that no leader runs through a name and no
// two names meet. It gives the number of lanes.
func stair(ps []share, width float64) int {
	const tries = 20000 // of places, for each number of lanes: a bound on time
	for lanes := 1; lanes < len(ps); lanes++ {
		left := tries
		if seat(ps, 0, lanes, width, &left) {
			return lanes
		}
	}
	for i := range ps { // a name a lane, ending at its leader: never meets, if it fits
		ps[i].lane, ps[i].tx = i, math.Max(0, math.Min(ps[i].x+.5, width)-ps[i].tw)
	}
	return len(ps)
}

// seat finds a place for the i-th name and all after it.
func seat(ps []share, i, lanes int, width float64, left *int) bool {
	if i == len(ps) {
		return true
	}
	p := &ps[i]
	var places []float64
	if p.x+p.tw <= width {
		places = append(places, p.x)
	} else if width-p.tw <= p.x && p.tw <= width {
		places = append(places, width-p.tw)
	}
	if at := math.Min(p.x+.5, width) - p.tw; at >= 0 {
		places = append(places, at)
	}
	for p.lane = 0; p.lane < lanes; p.lane++ {
		for _, p.tx = range places {
			if *left--; *left < 0 {
				return false
			}
			free := true
			for _, q := range ps[:i] {
				meet := p.tx < q.tx+q.tw+5 && q.tx < p.tx+p.tw+5
				leaderOnText := q.lane > p.lane && q.x > p.tx-2 && q.x < p.tx+p.tw+2
				textOnLeader := p.lane > q.lane && p.x > q.tx-2 && p.x < q.tx+q.tw+2
				free = free && !(q.lane == p.lane && meet) && !leaderOnText && !textOnLeader
			}
			lane, tx := p.lane, p.tx
			if free && seat(ps, i+1, lanes, width, left) {
				p.lane, p.tx = lane, tx
				return true
			}
			p.lane, p.tx = lane, tx
		}
	}
	return false
}

// options draws the intervals below, from a first line at y; it gives how far down they reach.
func (f *UncertaintyBudget) options(c *draft.Canvas, y float64) float64 {
	nameMax := .36 * c.W
	nameW, textW, rowH := 0.0, 0.0, 14.0
	names := make([][]draft.Text, len(f.Options))
	for i, o := range f.Options {
		s := draft.Setting{Face: fonts.Sans, Size: c.Pick(8, 7)}
		if o.Now {
			s.Face = fonts.SansBold
		}
		names[i] = c.Codes.WrapText(draft.KeepUnits(draft.Plain(c.Word(o.Name, o.Short))), s, nameMax)
		for _, l := range names[i] {
			nameW = math.Max(nameW, c.Codes.Width(l, s))
		}
		if len(names[i]) > 1 {
			rowH = math.Max(rowH, 9*float64(len(names[i]))+4)
		}
		if !c.Half {
			textW = math.Max(textW, draft.TextWidth(o.Text, fonts.Sans, draft.PtLabel))
		}
	}
	L, R := nameW+16, c.W-6
	if textW > 0 {
		R = c.W - textW - 18
	}
	var e scale.Extent
	e.Add(f.Control, f.Estimate)
	for _, o := range f.Options {
		e.Add(o.Low, o.High)
	}
	e = e.Open()
	pad := .04 * (e.Hi - e.Lo)
	X := scale.Of(e.Lo-pad, e.Hi+pad, L, R)
	n := float64(len(f.Options))
	c.Posts(X.At(f.Control), y-rowH/2, y+rowH*(n-.5), f.Codes.Control)
	tone := c.Codes.Style(f.Code).Tone
	for i, o := range f.Options {
		yy := y + rowH*float64(i)
		s := draft.Setting{Face: fonts.Sans, Size: c.Pick(8, 7)}
		if o.Now {
			s.Face = fonts.SansBold
		}
		for k, l := range names[i] {
			c.Text(0, yy+2.6+9*(float64(k)-float64(len(names[i])-1)/2), l, s)
		}
		p := draft.Pen{W: 1.2, Tone: tone, Dash: []float64{3, 1.2}}
		if o.Now {
			p.W, p.Dash = draft.Bar, nil
		}
		lo, hi := X.At(o.Low), X.At(o.High)
		c.Line(lo-.9, yy, hi+.9, yy, draft.Pen{W: p.W + 1.6, Tone: draft.Paper, Ghost: true})
		c.Stem(draft.Interval{Lo: lo, Hi: hi}, yy, false, 3.2, .9, p)
		c.Marker(f.Code, X.At(f.Estimate), yy, 2.7, !o.Now)
		if !c.Half && o.Text != "" {
			c.Text(c.W, yy+2.6, draft.Plain(o.Text), draft.Setting{Face: fonts.Sans, Size: draft.PtLabel, Anchor: draft.End})
		}
		c.Say(o.Name + ": " + o.Text)
	}
	yb := y + rowH*(n-.5) + 8
	most := 6
	if c.Half {
		most = 5
	}
	ts, power := scale.Ticks(X.V0, X.V1, max(2, most-c.Level), f.Value.Signed, f.Style())
	c.LevelAxis(yb, X, ts)
	name := c.AxisWords(f.Value, power)
	s := draft.Setting{Face: fonts.Sans, Size: draft.PtNote, Tone: draft.Soft, Anchor: draft.End}
	w := c.Codes.Width(name, s)
	end := math.Max(R, w)
	c.Text(end, yb+19, name, s)
	if f.Value.Better != draft.Nowhere && end-w-10 > 45 {
		c.Better(end-w-10, yb+19, f.Value.Better, false, draft.End)
	}
	return yb + 21
}
