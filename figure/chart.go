package figure

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"example.org/bookend/figure/fonts"
)

// ControlChart watches the control as a check standard: the residuals of its
// stints, programme by programme, against limits; below, where given, the
// scatter of each programme against its own upper limit. The present programme
// stands in an ink bracket.
type ControlChart struct {
	Head
	Value      Axis         `json:"value"`  // residual of a control stint from its programme's own mean and drift
	Limits     []ChartLimit `json:"limits"` // of a residual, innermost first
	Programmes []ChartGroup `json:"programmes"`
	Scatter    Axis         `json:"scatter"` // standard deviation of control stints within a programme
	Pooled     *float64     `json:"pooled,omitempty"`
	PooledText string       `json:"pooled_text,omitempty"` // "pooled 0.21"
	LimitText  string       `json:"limit_text,omitempty"`  // what the limits of the scatter are: "upper limit"
}

// ChartLimit is a pair of limits with their words; either may be missing.
type ChartLimit struct {
	Low      *float64 `json:"low,omitempty"`
	High     *float64 `json:"high,omitempty"`
	LowText  string   `json:"low_text,omitempty"`
	HighText string   `json:"high_text,omitempty"`
}

// ChartGroup is one programme's control stints.
type ChartGroup struct {
	Name         string       `json:"name"` // its date as a rule
	Now          bool         `json:"now,omitempty"`
	Residuals    []ChartPoint `json:"residuals"`
	Scatter      *float64     `json:"scatter,omitempty"`
	ScatterLimit *float64     `json:"scatter_limit,omitempty"`
	Broken       bool         `json:"broken,omitempty"` // the scatter lies above its limit
	Note         int          `json:"note,omitempty"`   // of a caveat to the scatter
}

// ChartPoint is one control stint's residual.
type ChartPoint struct {
	Value  float64 `json:"value"`
	Broken bool    `json:"broken,omitempty"` // beyond a limit
	Note   int     `json:"note,omitempty"`
}

// Kind is "control-chart".
func (*ControlChart) Kind() string { return "control-chart" }

// Draw lays the chart out.
func (f *ControlChart) Draw(w Width) (*Drawing, error) {
	n := 0
	for _, g := range f.Programmes {
		for _, p := range g.Residuals {
			n++
			if !finite(p.Value) {
				return nil, invalid(f.Kind(), "programme %s has a residual that is not finite", g.Name)
			}
		}
		for _, p := range []*float64{g.Scatter, g.ScatterLimit} {
			if p != nil && (!finite(*p) || *p < 0) {
				return nil, invalid(f.Kind(), "programme %s has a scatter or limit that is not finite or below 0", g.Name)
			}
		}
	}
	if n == 0 {
		return nil, invalid(f.Kind(), "a control chart needs at least one control stint")
	}
	for _, l := range f.Limits {
		for _, p := range []*float64{l.Low, l.High} {
			if p != nil && !finite(*p) {
				return nil, invalid(f.Kind(), "a limit is not finite")
			}
		}
	}
	if f.Pooled != nil && (!finite(*f.Pooled) || *f.Pooled < 0) {
		return nil, invalid(f.Kind(), "the pooled scatter is not finite or below 0")
	}
	return compose(f.Kind(), w, f.Codes, f.layout), nil
}

func (f *ControlChart) layout(c *canvas) {
	c.head(f.Head)
	// values
	var e extent
	e.add(0)
	for _, g := range f.Programmes {
		for _, p := range g.Residuals {
			e.add(p.Value)
		}
	}
	var lim extent
	for _, l := range f.Limits {
		for _, p := range []*float64{l.Low, l.High} {
			if p != nil {
				e.add(*p)
				lim.add(*p)
			}
		}
	}
	if lim.any { // a wild residual must not flatten the others: it ends in an arrowhead
		room := .5 * math.Max(lim.hi-lim.lo, lim.open().hi-lim.open().lo)
		e.lo, e.hi = math.Max(e.lo, math.Min(0, lim.lo)-room), math.Min(e.hi, math.Max(0, lim.hi)+room)
	}
	e = e.open()
	pad := .06 * (e.hi - e.lo)
	yt := c.y + 14
	yb := yt + c.pick(104, 92)
	Y := scale{e.lo - pad, e.hi + pad, yb, yt}
	most := 6
	if c.half {
		most = 5
	}
	most = max(2, most-c.level)
	ts, power := ticks(Y.v0, Y.v1, most, true, f.style())

	lower := slices.ContainsFunc(f.Programmes, func(g ChartGroup) bool { return g.Scatter != nil })
	var se extent
	se.add(0)
	for _, g := range f.Programmes {
		if g.ScatterLimit != nil {
			se.add(*g.ScatterLimit)
		}
	}
	if f.Pooled != nil {
		se.add(*f.Pooled)
	}
	room := 1.8 * se.hi
	for _, g := range f.Programmes {
		if g.Scatter != nil {
			if room > 0 {
				se.add(math.Min(*g.Scatter, room))
			} else {
				se.add(*g.Scatter)
			}
		}
	}
	se = se.open()
	se.lo = math.Max(0, se.lo)
	sts, spower := ticks(0, se.hi*1.08, max(2, 4-c.level), false, f.style())

	x0 := math.Max(c.pick(32, 24), math.Max(widestTick(ts), widestTick(sts))+8)
	// words at the right end
	note := setting{face: fonts.Sans, size: ptNote, tone: Soft}
	endW := TextWidth(f.Codes.Control, fonts.SansBold, 8)
	for _, l := range f.Limits {
		endW = math.Max(endW, math.Max(TextWidth(l.LowText, note.face, note.size), TextWidth(l.HighText, note.face, note.size)))
	}
	if lower {
		endW = math.Max(endW, math.Max(TextWidth(f.PooledText, note.face, note.size), TextWidth(f.LimitText, note.face, note.size)))
	}
	endMax := c.pick(96, 58)
	endW = math.Min(endW, endMax)
	x1 := c.w - endW - 9

	// places of the stints
	slots := 0.0
	for _, g := range f.Programmes {
		slots += float64(max(1, len(g.Residuals)))
	}
	gap := 1.3
	slots += gap * float64(len(f.Programmes)-1)
	pitch := math.Min((x1-x0-14)/math.Max(slots, 1), c.pick(16, 12))
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

	c.valueAxis(x0, xr, Y, ts, c.axisWords(f.Value, power), yt-6, f.Value.Better)
	type end struct {
		y    float64
		text Text
		s    setting
	}
	var ends []end
	for _, l := range f.Limits {
		for i, p := range []*float64{l.Low, l.High} {
			if p == nil {
				continue
			}
			y := Y.at(*p)
			c.line(x0, y, xr, y, pen{w: thin, tone: Soft, dash: []float64{3, 1.6}})
			if t := []string{l.LowText, l.HighText}[i]; t != "" {
				ends = append(ends, end{y, plain(shorten(t, note.face, note.size, endMax)), note})
			}
		}
	}
	// the control's line lies between its posts
	zero := Y.at(0)
	c.line(x0, zero, xr, zero, pen{w: control, tone: Ink})
	c.post(x0, zero)
	c.post(xr, zero)
	ends = append(ends, end{zero, Say(CodeOf(f.Codes.Control)), setting{face: fonts.SansBold, size: 8}})
	labelEnds := func(ends []end, lo, hi float64) {
		at := make([]float64, len(ends))
		for i, e := range ends {
			at[i] = e.y
		}
		for i, y := range spread(at, 8.4, lo, hi) {
			e := ends[i]
			if d := math.Abs(y - e.y); d > 1 {
				c.line(xr+3, e.y, xr+6.5, y, pen{w: leader, tone: Soft, ghost: true})
			}
			c.text(xr+7.5, y+e.s.size*.33, e.text, e.s)
		}
	}
	labelEnds(ends, yt-6, yb+6)

	// residuals
	size := math.Max(.9, math.Min(c.pick(1.9, 1.6), pitch*.34))
	k := CodeStyle{Tone: Ink, Shape: Square}
	type mark struct {
		x, y float64
		note int
	}
	var marks []mark
	broken := 0
	for i, g := range f.Programmes {
		for j, p := range g.Residuals {
			px, py := places[i].x0+(float64(j)+.5)*pitch, Y.clamp(p.Value)
			c.shape(k, px, py, size, false)
			if raw := Y.at(p.Value); raw < yt-.01 {
				c.arrowhead(px, yt-5.4, -math.Pi/2, Ink, 3)
			} else if raw > yb+.01 {
				c.arrowhead(px, yb+5.4, math.Pi/2, Ink, 3)
			}
			if p.Broken {
				c.ring(px, py, size+2, Red)
				broken++
			}
			if p.Note > 0 {
				marks = append(marks, mark{px, py, p.Note})
			}
		}
	}
	number := func(m mark) {
		s := setting{face: fonts.Sans, size: ptMark}
		t := plain(strconv.Itoa(m.note))
		w, r := TextWidth(t.String(), s.face, s.size), size+2.4
		if !c.first(t, s, []Point{{m.x + r + .6, m.y - 1.2}, {m.x + r + .6, m.y + 4.6}, {m.x - r - .6 - w, m.y - 1.2}, {m.x - w/2, m.y - r - 1.4}, {m.x - w/2, m.y + r + 4.6}}) {
			s.free = true
			c.text(m.x+r+.6, m.y-1.2, t, s)
		}
	}
	for _, m := range marks {
		number(m)
	}

	// scatter
	y := yb
	if lower {
		st := yb + 26
		sb := st + c.pick(40, 36)
		S := scale{0, se.hi * 1.08, sb, st}
		c.valueAxis(x0, xr, S, sts, c.axisWords(f.Scatter, spower), st-6, Nowhere)
		var ends []end
		if f.Pooled != nil {
			p := S.clamp(*f.Pooled)
			c.line(x0, p, xr, p, pen{w: .8, tone: Ink})
			if f.PooledText != "" {
				ends = append(ends, end{p, plain(shorten(f.PooledText, note.face, note.size, endMax)), setting{face: fonts.Sans, size: ptNote}})
			}
		}
		last := -1.0
		for i, g := range f.Programmes {
			if g.ScatterLimit != nil {
				last = S.clamp(*g.ScatterLimit)
				c.line(places[i].x0-.3*pitch, last, places[i].x1+.3*pitch, last, pen{w: whisk, tone: Soft, dash: []float64{3, 1.6}})
			}
		}
		if last >= 0 && f.LimitText != "" {
			ends = append(ends, end{last, plain(shorten(f.LimitText, note.face, note.size, endMax)), note})
		}
		var marks []mark
		for i, g := range f.Programmes {
			if g.Scatter == nil {
				continue
			}
			px, py := places[i].mid, S.clamp(*g.Scatter)
			c.shape(k, px, py, math.Min(1.9, math.Max(1.1, pitch*.5)), false)
			if S.at(*g.Scatter) < st-.01 {
				c.arrowhead(px, st-5.4, -math.Pi/2, Ink, 3)
			}
			if g.Broken {
				c.ring(px, py, 4, Red)
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
		p := pen{w: .5, tone: Soft, ghost: true}
		if g.Now {
			p.w, p.tone = 1, Ink
		}
		l, r := places[i].x0, places[i].x1
		c.poly([]Point{{l, y - 3}, {l, y + .5}, {r, y + .5}, {r, y - 3}}, p)
	}
	name := func(i int) {
		g := f.Programmes[i]
		s := note
		if g.Now {
			s = setting{face: fonts.SansBold, size: ptNote}
		}
		s.anchor = Middle
		x := places[i].mid
		if w := TextWidth(g.Name, s.face, s.size) / 2; x-w < 0 {
			x = w
		} else if x+w > c.w {
			x = c.w - w
		}
		c.try(x, y+9.4, plain(g.Name), s)
	}
	// the present one is named first, then those with something to say, then the ends
	rank := func(i int) int {
		g := f.Programmes[i]
		switch {
		case g.Now:
			return 0
		case g.Broken, slices.ContainsFunc(g.Residuals, func(p ChartPoint) bool { return p.Broken || p.Note > 0 }):
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
	c.say(fmt.Sprintf("%d control stints in %d programmes, %d marks beyond a limit", total, len(f.Programmes), broken))
	c.y = y + 13
	if len(f.Notes) > 0 {
		c.foot(y+25, f.Notes)
	}
}
