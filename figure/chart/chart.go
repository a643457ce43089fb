// Package chart draws the control chart: the control tyre watched as a check
// standard over the programmes of a ground.
//
// Residuals, scatters and limits are given in the measure's unit, never
// computed here.
package chart

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"example.org/bookend/figure/draft"
	"example.org/bookend/figure/fonts"
	"example.org/bookend/figure/scale"
)

// ControlChart watches the control as a check standard: the residuals of its
// stints, programme by programme, against limits; below, where given, the
// scatter of each programme against its own upper limit. The present programme
// stands in an ink bracket.
type ControlChart struct {
	draft.Head
	Value      draft.Axis  `json:"value"`  // residual of a control stint from its programme's own mean and drift
	Limits     []Limit     `json:"limits"` // of a residual, innermost first
	Programmes []Programme `json:"programmes"`
	Scatter    draft.Axis  `json:"scatter"` // standard deviation of control stints within a programme
	Pooled     *float64    `json:"pooled,omitempty"`
	PooledText string      `json:"pooled_text,omitempty"` // "pooled 0.21"
	LimitText  string      `json:"limit_text,omitempty"`  // what the limits of the scatter are: "upper limit"
}

// Limit is a pair of limits with their words; either may be missing.
type Limit struct {
	Low      *float64 `json:"low,omitempty"`
	High     *float64 `json:"high,omitempty"`
	LowText  string   `json:"low_text,omitempty"`
	HighText string   `json:"high_text,omitempty"`
}

// Programme is one programme's control stints.
type Programme struct {
	Name         string   `json:"name"` // its date as a rule
	Now          bool     `json:"now,omitempty"`
	Residuals    []Point  `json:"residuals"`
	Scatter      *float64 `json:"scatter,omitempty"`
	ScatterLimit *float64 `json:"scatter_limit,omitempty"`
	Broken       bool     `json:"broken,omitempty"` // the scatter lies above its limit
	Note         int      `json:"note,omitempty"`   // of a caveat to the scatter
}

// Point is one control stint's residual.
type Point struct {
	Value  float64 `json:"value"`
	Broken bool    `json:"broken,omitempty"` // beyond a limit
	Note   int     `json:"note,omitempty"`
}

// Kind is "control-chart".
func (*ControlChart) Kind() string { return "control-chart" }

// Draw lays the chart out.
func (f *ControlChart) Draw(w draft.Width) (*draft.Drawing, error) {
	n := 0
	for _, g := range f.Programmes {
		for _, p := range g.Residuals {
			n++
			if !draft.Finite(p.Value) {
				return nil, draft.Invalid(f.Kind(), "programme %s has a residual that is not finite", g.Name)
			}
		}
		for _, p := range []*float64{g.Scatter, g.ScatterLimit} {
			if p != nil && (!draft.Finite(*p) || *p < 0) {
				return nil, draft.Invalid(f.Kind(), "programme %s has a scatter or limit that is not finite or below 0", g.Name)
			}
		}
	}
	if n == 0 {
		return nil, draft.Invalid(f.Kind(), "a control chart needs at least one control stint")
	}
	for _, l := range f.Limits {
		for _, p := range []*float64{l.Low, l.High} {
			if p != nil && !draft.Finite(*p) {
				return nil, draft.Invalid(f.Kind(), "a limit is not finite")
			}
		}
	}
	if f.Pooled != nil && (!draft.Finite(*f.Pooled) || *f.Pooled < 0) {
		return nil, draft.Invalid(f.Kind(), "the pooled scatter is not finite or below 0")
	}
	return draft.Compose(f.Kind(), w, f.Codes, f.layout), nil
}

func (f *ControlChart) layout(c *draft.Canvas) {
	c.Head(f.Head)
	// values
	var e scale.Extent
	e.Add(0)
	for _, g := range f.Programmes {
		for _, p := range g.Residuals {
			e.Add(p.Value)
		}
	}
	var lim scale.Extent
	for _, l := range f.Limits {
		for _, p := range []*float64{l.Low, l.High} {
			if p != nil {
				e.Add(*p)
				lim.Add(*p)
			}
		}
	}
	if lim.Any { // a wild residual must not flatten the others: it ends in an arrowhead
		room := .5 * math.Max(lim.Hi-lim.Lo, lim.Open().Hi-lim.Open().Lo)
		e.Lo, e.Hi = math.Max(e.Lo, math.Min(0, lim.Lo)-room), math.Min(e.Hi, math.Max(0, lim.Hi)+room)
	}
	e = e.Open()
	pad := .06 * (e.Hi - e.Lo)
	yt := c.Y + 14
	yb := yt + c.Pick(104, 92)
	Y := scale.Of(e.Lo-pad, e.Hi+pad, yb, yt)
	most := 6
	if c.Half {
		most = 5
	}
	most = max(2, most-c.Level)
	ts, power := scale.Ticks(Y.V0, Y.V1, most, true, f.Style())

	lower := slices.ContainsFunc(f.Programmes, func(g Programme) bool { return g.Scatter != nil })
	var se scale.Extent
	se.Add(0)
	for _, g := range f.Programmes {
		if g.ScatterLimit != nil {
			se.Add(*g.ScatterLimit)
		}
	}
	if f.Pooled != nil {
		se.Add(*f.Pooled)
	}
	room := 1.8 * se.Hi
	for _, g := range f.Programmes {
		if g.Scatter != nil {
			if room > 0 {
				se.Add(math.Min(*g.Scatter, room))
			} else {
				se.Add(*g.Scatter)
			}
		}
	}
	se = se.Open()
	se.Lo = math.Max(0, se.Lo)
	sts, spower := scale.Ticks(0, se.Hi*1.08, max(2, 4-c.Level), false, f.Style())

	x0 := math.Max(c.Pick(32, 24), math.Max(draft.WidestTick(ts), draft.WidestTick(sts))+8)
	// words at the right end
	note := draft.Setting{Face: fonts.Sans, Size: draft.PtNote, Tone: draft.Soft}
	endW := draft.TextWidth(f.Codes.Control, fonts.SansBold, 8)
	for _, l := range f.Limits {
		endW = math.Max(endW, math.Max(draft.TextWidth(l.LowText, note.Face, note.Size), draft.TextWidth(l.HighText, note.Face, note.Size)))
	}
	if lower {
		endW = math.Max(endW, math.Max(draft.TextWidth(f.PooledText, note.Face, note.Size), draft.TextWidth(f.LimitText, note.Face, note.Size)))
	}
	endMax := c.Pick(96, 58)
	endW = math.Min(endW, endMax)
	x1 := c.W - endW - 9

	// places of the stints
	slots := 0.0
	for _, g := range f.Programmes {
		slots += float64(max(1, len(g.Residuals)))
	}
	gap := 1.3
	slots += gap * float64(len(f.Programmes)-1)
	pitch := math.Min((x1-x0-14)/math.Max(slots, 1), c.Pick(16, 12))
	from := x0 + 7
	type place struct{ x0, x1, mid float64 }
	places := make([]place, len(f.Programmes))
	x := from
	for i, g := range f.Programmes {
		n := float64(max(1, len(g.Residuals)))
		places[i] = place{x, x + n*pitch, x + n*pitch/2}
		x += (n + gap) * pitch
	}
	xr := math.Min(x1, math.Max(x-gap*pitch+7, x0+80))

	c.ValueAxis(x0, xr, Y, ts, c.AxisWords(f.Value, power), yt-6, f.Value.Better)
	type end struct {
		y    float64
		text draft.Text
		s    draft.Setting
	}
	var ends []end
	for _, l := range f.Limits {
		for i, p := range []*float64{l.Low, l.High} {
			if p == nil {
				continue
			}
			y := Y.At(*p)
			c.Line(x0, y, xr, y, draft.Pen{W: draft.Thin, Tone: draft.Soft, Dash: []float64{3, 1.6}})
			if t := []string{l.LowText, l.HighText}[i]; t != "" {
				ends = append(ends, end{y, draft.Plain(draft.Shorten(t, note.Face, note.Size, endMax)), note})
			}
		}
	}
	// the control's line lies between its posts
	zero := Y.At(0)
	c.Line(x0, zero, xr, zero, draft.Pen{W: draft.Control, Tone: draft.Ink})
	c.Post(x0, zero)
	c.Post(xr, zero)
	ends = append(ends, end{zero, draft.Say(draft.CodeOf(f.Codes.Control)), draft.Setting{Face: fonts.SansBold, Size: 8}})
	labelEnds := func(ends []end, lo, hi float64) {
		at := make([]float64, len(ends))
		for i, e := range ends {
			at[i] = e.y
		}
		for i, y := range draft.Spread(at, 8.4, lo, hi) {
			e := ends[i]
			if d := math.Abs(y - e.y); d > 1 {
				c.Line(xr+3, e.y, xr+6.5, y, draft.Pen{W: draft.Leader, Tone: draft.Soft, Ghost: true})
			}
			c.Text(xr+7.5, y+e.s.Size*.33, e.text, e.s)
		}
	}
	labelEnds(ends, yt-6, yb+6)

	// residuals
	size := math.Max(.9, math.Min(c.Pick(1.9, 1.6), pitch*.34))
	k := draft.CodeStyle{Tone: draft.Ink, Shape: draft.Square}
	type mark struct {
		x, y float64
		note int
	}
	var marks []mark
	broken := 0
	for i, g := range f.Programmes {
		for j, p := range g.Residuals {
			px, py := places[i].x0+(float64(j)+.5)*pitch, Y.At(p.Value)
			switch { // beyond the axis: the mark stays inside, an arrow says that it lies further out
			case py < yt:
				py = yt + 9
				c.Arrowhead(px, yt+.5, -math.Pi/2, draft.Ink, 3)
			case py > yb:
				py = yb - 9
				c.Arrowhead(px, yb-.5, math.Pi/2, draft.Ink, 3)
			}
			c.Shape(k, px, py, size, false)
			if p.Broken {
				c.Ring(px, py, size+2, draft.Red)
				broken++
			}
			if p.Note > 0 {
				marks = append(marks, mark{px, py, p.Note})
			}
		}
	}
	number := func(m mark) {
		s := draft.Setting{Face: fonts.Sans, Size: draft.PtMark}
		t := draft.Plain(strconv.Itoa(m.note))
		w, r := draft.TextWidth(t.String(), s.Face, s.Size), size+2.4
		if !c.First(t, s, draft.Points(m.x+r+.6, m.y-1.2, m.x+r+.6, m.y+4.6, m.x-r-.6-w, m.y-1.2, m.x-w/2, m.y-r-1.4, m.x-w/2, m.y+r+4.6)) {
			s.Free = true
			c.Text(m.x+r+.6, m.y-1.2, t, s)
		}
	}
	for _, m := range marks {
		number(m)
	}

	// scatter
	y := yb
	if lower {
		st := yb + 26
		sb := st + c.Pick(40, 36)
		S := scale.Of(0, se.Hi*1.08, sb, st)
		c.ValueAxis(x0, xr, S, sts, c.AxisWords(f.Scatter, spower), st-6, draft.Nowhere)
		var ends []end
		if f.Pooled != nil {
			p := S.Clamp(*f.Pooled)
			c.Line(x0, p, xr, p, draft.Pen{W: .8, Tone: draft.Ink})
			if f.PooledText != "" {
				ends = append(ends, end{p, draft.Plain(draft.Shorten(f.PooledText, note.Face, note.Size, endMax)), draft.Setting{Face: fonts.Sans, Size: draft.PtNote}})
			}
		}
		last := -1.0
		for i, g := range f.Programmes {
			if g.ScatterLimit != nil {
				last = S.Clamp(*g.ScatterLimit)
				c.Line(places[i].x0-.3*pitch, last, places[i].x1+.3*pitch, last, draft.Pen{W: draft.Whisk, Tone: draft.Soft, Dash: []float64{3, 1.6}})
			}
		}
		if last >= 0 && f.LimitText != "" {
			ends = append(ends, end{last, draft.Plain(draft.Shorten(f.LimitText, note.Face, note.Size, endMax)), note})
		}
		var marks []mark
		for i, g := range f.Programmes {
			if g.Scatter == nil {
				continue
			}
			px, py := places[i].mid, S.At(*g.Scatter)
			if py < st {
				py = st + 9
				c.Arrowhead(px, st+.5, -math.Pi/2, draft.Ink, 3)
			}
			c.Shape(k, px, py, math.Min(1.9, math.Max(1.1, pitch*.5)), false)
			if g.Broken {
				c.Ring(px, py, 4, draft.Red)
				broken++
			}
			if g.Note > 0 {
				marks = append(marks, mark{px, py, g.Note})
			}
		}
		for _, m := range marks {
			number(m)
		}
		labelEnds(ends, st-6, sb+4)
		y = sb
	}

	// programmes below, the present one in ink
	y += 7
	for i, g := range f.Programmes {
		p := draft.Pen{W: .5, Tone: draft.Soft, Ghost: true}
		if g.Now {
			p.W, p.Tone = 1, draft.Ink
		}
		l, r := places[i].x0, places[i].x1
		c.Poly(draft.Points(l, y-3, l, y+.5, r, y+.5, r, y-3), p)
	}
	name := func(i int) {
		g := f.Programmes[i]
		s := note
		if g.Now {
			s = draft.Setting{Face: fonts.SansBold, Size: draft.PtNote}
		}
		s.Anchor = draft.Middle
		x := places[i].mid
		if w := draft.TextWidth(g.Name, s.Face, s.Size) / 2; x-w < 0 {
			x = w
		} else if x+w > c.W {
			x = c.W - w
		}
		c.Try(x, y+9.4, draft.Plain(g.Name), s)
	}
	// the present one is named first, then those with something to say, then the ends
	rank := func(i int) int {
		g := f.Programmes[i]
		switch {
		case g.Now:
			return 0
		case g.Broken, slices.ContainsFunc(g.Residuals, func(p Point) bool { return p.Broken || p.Note > 0 }):
			return 1
		case i == 0, i == len(f.Programmes)-1:
			return 2
		}
		return 3
	}
	for r := range 4 {
		for i := range f.Programmes {
			if rank(i) == r {
				name(i)
			}
		}
	}
	total := 0
	for _, g := range f.Programmes {
		total += len(g.Residuals)
	}
	c.Say(fmt.Sprintf("%d control stints in %d programmes, %d marks beyond a limit", total, len(f.Programmes), broken))
	c.Y = y + 13
	if len(f.Notes) > 0 {
		c.Foot(y+25, f.Notes)
	}
}
