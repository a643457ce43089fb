package strip

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/figure/draft"
	"example.org/bookend/figure/fonts"
	"example.org/bookend/figure/scale"
)

// layout is one attempt at laying a strip out.
type layout struct {
	*BracketStrip
	c       *draft.Canvas
	X       clockMap
	Y       scale.Scale
	xs      []float64 // the stints' places
	pitch   float64   // usual distance from one stint to the next
	x0, x1  float64   // the plot's left and right end
	yt, yb  float64   // the plot's upper and lower end
	nameEnd float64   // where the axis' name ends
	size    float64   // of a mean's marker
	reach   []span    // what each stint's mark and whisker take up
}

// span is a stretch from top to bottom, in points.
type span struct{ top, bottom float64 }

func (f *BracketStrip) layout(c *draft.Canvas) {
	c.Head(f.Head)
	l := f.frame(c)
	l.breaks()
	l.drift()
	l.stints()
	l.leftOut()
	for i, s := range f.Stints {
		if s.Code != f.Codes.Control && s.Mean != nil {
			l.letter(s, l.xs[i], l.reach[i])
		}
	}
	l.driftLabel()
	y := l.order()
	y = l.brackets(y)
	y = l.conditions(y)
	y = l.clock(y)
	c.Y = y
	if len(f.Notes) > 0 {
		c.Foot(y+13.5, f.Notes)
	}

	order := make([]string, len(f.Stints))
	for i, s := range f.Stints {
		order[i] = s.Code
		if s.Mean == nil {
			c.Doubts.Add("figure_not_drawn", caveat.Place{Code: s.Code, Stint: strconv.Itoa(i + 1)}, "Stint %d (%s) has no mean and no mark in the figure.", i+1, s.Code)
		}
	}
	c.Say("Order as driven: " + strings.Join(order, " "))
}

// rows are the rows of conditions that are shown.
func (l *layout) rows() []ConditionRow {
	if l.c.Half || l.c.Level >= 3 {
		return nil
	}
	return l.Conditions
}

// frame settles the plot's place and its axes.
func (f *BracketStrip) frame(c *draft.Canvas) *layout {
	n := len(f.Stints)
	l := &layout{BracketStrip: f, c: c, yt: c.Y + 13, xs: make([]float64, n), reach: make([]span, n)}
	l.yb = l.yt + c.Pick(158, 112)
	dom := f.domain()
	perPoint := (dom.Hi - dom.Lo) / (l.yb - l.yt - 26) // room for a letter above and below
	l.Y = scale.Of(dom.Lo-13*perPoint, dom.Hi+13*perPoint, l.yb, l.yt)
	most := 8
	if c.Half {
		most = 5
	}
	ts, power := scale.Ticks(l.Y.V0, l.Y.V1, max(2, most-2*max(0, c.Level-1)), f.Value.Signed, f.Style())

	// the gutter holds ticks and the names of rows
	l.x0 = math.Max(c.Pick(44, 22), draft.WidestTick(ts)+8)
	for _, r := range l.rows() {
		l.x0 = math.Max(l.x0, math.Min(draft.TextWidth(r.Name, fonts.Sans, draft.PtNote)+6, 90))
	}
	l.x1 = c.W - c.Pick(6, 4)
	at := make([]float64, n)
	for i, s := range f.Stints {
		at[i] = s.AtS
	}
	l.X = newClockMap(at, l.x0+6, l.x1, c.Pick(34, 18))
	for i := range at {
		l.xs[i] = l.X.At(at[i])
	}
	l.pitch = l.x1 - l.x0 - 6
	var gaps []float64
	for i := 1; i < n; i++ {
		gaps = append(gaps, l.xs[i]-l.xs[i-1])
	}
	if len(gaps) > 0 {
		slices.Sort(gaps)
		l.pitch = gaps[len(gaps)/2]
	}
	l.size = c.Pick(2.6, 1.9)
	if l.pitch < 9 {
		l.size = math.Min(l.size, math.Max(1.3, l.pitch*.26))
	}
	l.nameEnd = c.ValueAxis(l.x0, l.x1, l.Y, ts, c.AxisWords(f.Value, power), l.yt-5, f.Value.Better)
	return l
}

// breaks clears the plot where no correction is carried across.
func (l *layout) breaks() {
	c := l.c
	type pause struct{ x0, x1 float64 }
	for _, b := range l.Breaks {
		left, right := l.xs[b.Before-1], l.xs[b.Before]
		e := math.Min(.62*l.pitch, .35*(right-left))
		p := pause{left + e, right - e}
		top := l.yt - 10
		if p.x0 < l.nameEnd+3 {
			top = l.yt - 1 // below the axis' name
		}
		c.Rect(p.x0, top, p.x1-p.x0, l.yb+4-top, draft.Paper, 1)
		for _, x := range []float64{p.x0, p.x1} {
			c.Line(x, top, x, l.yb+4, draft.Pen{W: draft.Hair, Tone: draft.Soft, Dash: []float64{1, 1.6}})
		}
		words := b.Words
		if (c.Half || c.Level >= 1) && len(words) > 1 {
			words = words[:1]
		}
		for i, word := range words {
			s := draft.Setting{Face: fonts.SansItalic, Size: draft.PtNote, Tone: draft.Soft, Anchor: draft.Middle}
			if draft.TextWidth(word, s.Face, s.Size) <= right-left-8 {
				c.Try((p.x0+p.x1)/2, top+7+float64(i)*8, draft.Plain(word), s)
			}
		}
	}
}

// drift draws the control's curve and its band.
func (l *layout) drift() {
	c := l.c
	for _, d := range l.Drift {
		var line, top, bottom []draft.Point
		for i, t := range d.AtS {
			x := math.Min(math.Max(l.X.At(t), l.x0+1), l.x1)
			line = append(line, draft.Pt(x, l.Y.Clamp(d.Value[i])))
			if len(d.Low) > 0 {
				top = append(top, draft.Pt(x, l.Y.Clamp(d.High[i])))
				bottom = append(bottom, draft.Pt(x, l.Y.Clamp(d.Low[i])))
			}
		}
		if len(top) > 1 {
			c.Band(top, bottom, draft.Ink, .12)
		}
		c.Poly(line, draft.Pen{W: draft.Mean, Tone: draft.Ink, Round: true})
	}
}

// stints draws posts, drop lines, runs, whiskers and means.
func (l *layout) stints() {
	c := l.c
	for i, s := range l.Stints {
		x, tone := l.xs[i], c.Codes.Style(s.Code).Tone
		post := s.Code == l.Codes.Control
		r := span{math.Inf(1), math.Inf(-1)}
		see := func(y float64) { r.top, r.bottom = math.Min(r.top, y), math.Max(r.bottom, y) }
		if s.Mean != nil {
			y := l.Y.At(*s.Mean)
			if post {
				c.Line(x, y, x, l.yb+3, draft.Pen{W: draft.Thin, Tone: draft.Ink})
			} else if v, _, _, ok := l.controlAt(s.AtS); ok {
				c.Line(x, l.Y.Clamp(v), x, y, draft.Pen{W: draft.Drop, Tone: tone})
			}
			see(y - l.size)
			see(y + l.size)
		}
		kept := 0
		for _, q := range s.Runs {
			if !q.LeftOut {
				kept++
			}
		}
		step, dot := c.Pick(2.5, 1.15), c.Pick(.85, .6)
		if kept > 1 {
			step = math.Min(step, .72*l.pitch/float64(kept))
		}
		k := 0
		for _, q := range s.Runs {
			if !q.LeftOut {
				c.Dot(x+(float64(k)-float64(kept-1)/2)*step, l.Y.Clamp(q.Value), dot, tone, .6)
				k++
			}
		}
		if s.Low != nil && s.High != nil {
			iv := draft.Cut(l.Y.At(*s.High), l.Y.At(*s.Low), l.yt, l.yb)
			w := .8
			if post {
				w = 1
			}
			c.Stem(iv, x, true, math.Min(c.Pick(2.2, 1.4), l.pitch*.3), w, draft.Pen{W: w, Tone: tone})
			see(iv.Lo)
			see(iv.Hi)
		}
		if s.Mean != nil {
			c.Marker(s.Code, x, l.Y.At(*s.Mean), l.size, false)
		}
		l.reach[i] = r
	}
}

// leftOut rings the runs that are left out, beside their stint, and numbers
// them.
func (l *layout) leftOut() {
	c := l.c
	type ringed struct {
		x, y float64
		note int
	}
	var rings []ringed
	for i, s := range l.Stints {
		off := 0
		for _, q := range s.Runs {
			if !q.LeftOut {
				continue
			}
			tone := draft.Soft
			if q.Broken {
				tone = draft.Red
			}
			x, y := l.xs[i]+math.Min(c.Pick(8.4, 4.6), l.pitch*.42)+float64(off)*math.Min(5.6, l.pitch*.3), l.Y.At(q.Value)
			off++
			switch { // beyond the axis: the ring stays inside, an arrow says that the run lies further out
			case y < l.yt:
				y = l.yt + 7.5
				c.Arrowhead(x, l.yt, -math.Pi/2, tone, 3.4)
			case y > l.yb:
				y = l.yb - 5.5
				c.Arrowhead(x, l.yb+2, math.Pi/2, tone, 3.4)
			}
			c.Ring(x, y, c.Pick(2.6, 2.1), tone)
			c.Dot(x, y, c.Pick(.85, .6), c.Codes.Style(s.Code).Tone, 1)
			if q.Note > 0 {
				rings = append(rings, ringed{x, y, q.Note})
			}
		}
	}
	for _, q := range rings {
		m := draft.Setting{Face: fonts.Sans, Size: draft.PtMark}
		t := draft.Plain(strconv.Itoa(q.note))
		r := c.Pick(2.6, 2.1)
		w := draft.TextWidth(t.String(), m.Face, m.Size)
		right, left := q.x+r+.9, q.x-r-.9-w
		if !c.First(t, m, draft.Points(right, q.y-1, right, q.y+4, left, q.y-1, left, q.y+4, q.x-w/2, q.y-r-1.4, q.x-w/2, q.y+r+4.6, right, q.y-4, right, q.y+6.6, right+2.4, q.y+1.6, left-2.4, q.y+1.6)) {
			m.Free = true // a number on a mark is better than a ring without its number
			c.Text(math.Min(right, c.W-w), q.y-1, t, m)
		}
	}
}

// gutter is how words in the gutter are set.
var gutter = draft.Setting{Face: fonts.Sans, Size: draft.PtNote, Tone: draft.Soft, Anchor: draft.End}

// order writes the order below the plot, on as many lanes as it needs, the
// controls first so that they stand at their posts. It gives the top of what comes below.
func (l *layout) order() float64 {
	c := l.c
	set := draft.Setting{Face: fonts.SansBold, Size: c.Pick(7.5, 6.5), Anchor: draft.Middle}
	lanes := 1
	var lost []string
	for _, wantControl := range []bool{true, false} {
		for i, s := range l.Stints {
			if (s.Code == l.Codes.Control) != wantControl {
				continue
			}
			done := false
			for lane := 0; lane < 4 && !done; lane++ {
				if done = c.Try(l.xs[i], l.yb+12+float64(lane)*8, draft.Say(draft.CodeOf(s.Code)), set); done {
					lanes = max(lanes, lane+1)
				}
			}
			if !done {
				lost = append(lost, s.Code)
			}
		}
	}
	if len(lost) > 0 {
		c.Lost("codes in the order row: " + strings.Join(lost, ", "))
	}
	if !c.Half {
		c.Text(l.x0-4.4, l.yb+12, draft.Plain("order"), gutter)
	}
	return l.yb + 16 + float64(lanes-1)*8
}

// brackets draws the brackets from y down, and gives how far they reach.
func (l *layout) brackets(y float64) float64 {
	c := l.c
	bs := l.given()
	named := false
	for i, b := range bs {
		a, z := l.xs[b.From]+1, l.xs[b.To]-1
		if z <= a {
			continue
		}
		c.Poly(draft.Points(a, y-.5, a, y+3, z, y+3, z, y-.5), draft.Pen{W: .7, Tone: draft.Ink, Ghost: true})
		name := b.Name
		if name == "" {
			name = strconv.Itoa(i + 1)
		}
		m := draft.Setting{Face: fonts.Sans, Size: draft.PtNote, Tone: draft.Soft, Anchor: draft.Middle}
		named = c.Try((a+z)/2, y+10.4, draft.Plain(name), m) || named
	}
	if len(bs) > 0 {
		if !c.Half && named {
			c.Text(l.x0-4.4, y+10.4, draft.Plain("bracket"), gutter)
		}
		y += 12
	}
	return y
}

// conditions writes the rows of conditions from y down, and gives how far they reach.
func (l *layout) conditions(y float64) float64 {
	c := l.c
	for k, row := range l.rows() {
		yy := y + 9.5 + float64(k)*8.6
		c.Text(l.x0-4.4, yy, draft.Plain(draft.Shorten(row.Name, fonts.Sans, draft.PtNote, l.x0-5)), gutter)
		cell := func(i int) {
			q := row.Cells[i]
			m := draft.Setting{Face: fonts.Sans, Size: draft.PtNote, Free: true}
			if q.Broken {
				m.Tone = draft.Red
			}
			x, t := l.xs[i]-draft.TextWidth(q.Text, m.Face, m.Size)/2, draft.Plain(q.Text).Note(q.Note)
			b := c.BoxOf(x, yy, c.Codes.Runs(t, m), m)
			b.X0, b.X1 = b.X0-1.2, b.X1+1.2
			if q.Broken || q.Note > 0 || c.Clear(b, true) {
				c.Text(x, yy, t, m)
			}
		}
		for i, q := range row.Cells { // what broke a limit or bears a caveat stands whatever else has room
			if q.Broken || q.Note > 0 {
				cell(i)
			}
		}
		for i, q := range row.Cells {
			if !q.Broken && q.Note == 0 && q.Text != "" {
				cell(i)
			}
		}
	}
	if len(l.rows()) > 0 {
		y += 4 + 8.6*float64(len(l.rows()))
	}
	return y
}

// clock draws the clock's axis from y down, and gives how far it reaches.
func (l *layout) clock(y float64) float64 {
	c := l.c
	if l.Clock {
		y += 5
		for i, p := range l.X.clockTicks(int(c.Pick(8, 4))) {
			st := l.X.pieces[i]
			a, z := st.x0, st.x1
			if len(l.X.pieces) == 1 && len(p) > 1 {
				a, z = l.X.At(p[0]), l.X.At(p[len(p)-1])
			}
			c.Line(a, y, z, y, draft.Pen{W: draft.Thin, Ghost: true})
			for _, t := range p {
				x := l.X.At(t)
				if c.Try(x, y+9.6, draft.Plain(clockWords(t)), draft.Setting{Face: fonts.Sans, Size: draft.PtTick, Anchor: draft.Middle}) {
					c.Line(x, y, x, y+2.6, draft.Pen{W: draft.Thin, Ghost: true})
				}
			}
		}
		y += 11.5
	} else {
		y += 2
	}
	return y
}

// letter puts a candidate's letter beside its mark: outside its whisker on the
// side away from the control's curve if it can, else on the other side, else
// beside the mark. Where there is no room the letter below in the order row,
// the marker and the hue say which code it is.
func (l *layout) letter(s Stint, x float64, taken span) {
	c, top, bottom := l.c, taken.top, taken.bottom
	size := c.Pick(8, 7)
	st := draft.Setting{Face: fonts.SansBold, Size: size, Anchor: draft.Middle}
	t := draft.Say(draft.CodeOf(s.Code)).Note(s.Note)
	up := true
	if v, lo, hi, ok := l.controlAt(s.AtS); ok {
		up = *s.Mean > v
		if up {
			if y := l.Y.Clamp(hi); y < top && top-y < 14 {
				top = y
			}
		} else if y := l.Y.Clamp(lo); y > bottom && y-bottom < 14 {
			bottom = y
		}
	}
	above, below := []draft.Point{}, []draft.Point{}
	for k := range 7 {
		if y := top - 3.4 - 2*float64(k); y > l.yt-4 {
			above = append(above, draft.Pt(x, y))
		}
		if y := bottom + size*.7 + 2.6 + 2*float64(k); y < l.yb {
			below = append(below, draft.Pt(x, y))
		}
	}
	places := append(above, below...)
	if !up {
		places = append(below, above...)
	}
	w := c.Codes.Width(t, st)
	y := l.Y.At(*s.Mean) + size*.33
	for _, d := range []float64{5, 7.5, 10} {
		places = append(places, draft.Pt(x+d+w/2, y), draft.Pt(x-d-w/2, y))
	}
	for _, hazy := range []bool{false, true} {
		for _, p := range places {
			b := c.BoxOf(p.X, p.Y, c.Codes.Runs(t, st), st)
			if (hazy || !c.OnHaze(b)) && c.Clear(b, false) {
				c.Text(p.X, p.Y, t, st)
				return
			}
		}
	}
	if s.Note > 0 { // the caveat's number must stand all the same
		m := draft.Setting{Face: fonts.Sans, Size: draft.PtMark}
		n := draft.Plain(strconv.Itoa(s.Note))
		if !c.First(n, m, draft.Points(x+3.6, top-1, x+3.6, bottom+3, x-6.4, top-1, x-6.4, bottom+3, x-1.2, top-2.6, x-1.2, bottom+6)) {
			m.Free = true
			c.Text(x+3.6, top-1, n, m)
		}
	}
}

// driftLabel writes what the curve is at the curve, tied by a leader, at the
// place nearest to it where nothing is touched.
func (l *layout) driftLabel() {
	c := l.c
	name := c.Words(l.DriftName, l.DriftShort)
	if len(name) == 0 || len(l.Drift) == 0 {
		return
	}
	s := draft.Setting{Face: fonts.Sans, Size: draft.PtLabel}
	lines := c.Codes.WrapText(draft.KeepUnits(name), s, c.Pick(82, 52))
	w := 0.0
	for _, row := range lines {
		w = math.Max(w, c.Codes.Width(row, s))
	}
	h := 8.6 * float64(len(lines)-1)
	type place struct{ x, y, fx, fy, tx, ty, cost float64 }
	var best *place
	for _, d := range l.Drift {
		for i, t := range d.AtS {
			lo, hi := d.Value[i], d.Value[i]
			if len(d.Low) > 0 {
				lo, hi = d.Low[i], d.High[i]
			}
			px := l.X.At(t)
			for _, up := range []bool{true, false} {
				for k := range 14 {
					away := 9 + 4*float64(k)
					for _, dx := range []float64{-.5, -.15, -.85} {
						x := px + dx*w
						var y, fy, ty float64
						if up {
							ty = l.Y.Clamp(hi)
							fy = ty - away
							y = fy - 2.5 - h
						} else {
							ty = l.Y.Clamp(lo)
							fy = ty + away
							y = fy + 6.6
						}
						if x < l.x0+2 || x+w > l.x1 || y-5.3 < l.yt || y+h+2 > l.yb {
							continue
						}
						b := draft.Box{X0: x - 1, Y0: y - 5.6, X1: x + w + 1, Y1: y + h + 2}
						if c.OnHaze(b) || !c.Clear(b, false) || c.Blocked(px, fy, px, ty) {
							continue
						}
						cost := away + 6*math.Abs(dx+.5)
						if up {
							cost -= 3
						}
						if best == nil || cost < best.cost-1e-9 {
							best = &place{x, y, px, fy, px, ty, cost}
						}
					}
				}
			}
		}
	}
	if best == nil {
		c.Lost(name.String())
		if c.Level == 0 { // a shorter name may find room
			c.Unmet++
		}
		return
	}
	for i, row := range lines {
		c.Text(best.x, best.y+8.6*float64(i), row, s)
	}
	c.Line(best.fx, best.fy, best.tx, best.ty, draft.Pen{W: draft.Leader, Tone: draft.Ink, Ghost: true})
}
