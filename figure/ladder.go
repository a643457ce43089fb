package figure

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/figure/fonts"
)

// IntervalLadder shows each candidate against the control: the simultaneous
// interval as a bar with ends on a rung of its own, the control as the line
// between its posts, the margin as a shaded band, the verdict's word before and
// the readings behind. Rungs stand in order of the estimate, the best on top.
type IntervalLadder struct {
	Head
	Value    Axis        `json:"value"`   // index, or difference in the measure's unit
	Control  float64     `json:"control"` // where the control stands: 100 for an index, 0 for a difference
	Margin   *Margin     `json:"margin,omitempty"`
	Columns  []string    `json:"columns,omitempty"`   // heads of the readings; the half width shows the first reading alone
	Stints   string      `json:"stints,omitempty"`    // head of the column of stints
	Thin     string      `json:"thin,omitempty"`      // what the thin line is: the interval without the ground's record
	ThinHalf string      `json:"thin_half,omitempty"` // the same for the half width
	Rows     []LadderRow `json:"rows"`
}

// LadderRow is one candidate on a ladder. Without an estimate it has no mark;
// without an interval, no bar.
type LadderRow struct {
	Code     string    `json:"code"`
	Verdict  Verdict   `json:"verdict"`
	Note     int       `json:"note,omitempty"` // of a caveat to the verdict
	Estimate *float64  `json:"estimate,omitempty"`
	Low      *float64  `json:"low,omitempty"`
	High     *float64  `json:"high,omitempty"`
	ThinLow  *float64  `json:"thin_low,omitempty"` // interval without the ground's record
	ThinHigh *float64  `json:"thin_high,omitempty"`
	Readings []Reading `json:"readings,omitempty"`
	Stints   string    `json:"stints,omitempty"`
}

// Kind is "interval-ladder".
func (*IntervalLadder) Kind() string { return "interval-ladder" }

// Draw lays the ladder out.
func (f *IntervalLadder) Draw(w Width) (*Drawing, error) {
	if len(f.Rows) == 0 {
		return nil, invalid(f.Kind(), "a ladder needs at least one candidate")
	}
	for _, r := range f.Rows {
		for _, p := range []*float64{r.Estimate, r.Low, r.High, r.ThinLow, r.ThinHigh} {
			if p != nil && !finite(*p) {
				return nil, invalid(f.Kind(), "code %s has a value that is not finite", r.Code)
			}
		}
		if r.Low != nil && r.High != nil && *r.Low > *r.High || r.ThinLow != nil && r.ThinHigh != nil && *r.ThinLow > *r.ThinHigh {
			return nil, invalid(f.Kind(), "code %s has an interval whose lower end lies above its upper end", r.Code)
		}
	}
	if !finite(f.Control) || f.Margin != nil && (!finite(f.Margin.Low, f.Margin.High) || f.Margin.Low > f.Margin.High) {
		return nil, invalid(f.Kind(), "control or margin is not finite, or the margin is upside down")
	}
	return compose(f.Kind(), w, f.Codes, f.layout), nil
}

// rungs gives the rows in the order in which they stand.
func (f *IntervalLadder) rungs() []LadderRow {
	rows := slices.Clone(f.Rows)
	slices.SortStableFunc(rows, func(a, b LadderRow) int {
		switch {
		case a.Estimate == nil && b.Estimate == nil:
			return cmp.Compare(f.Codes.order(a.Code), f.Codes.order(b.Code))
		case a.Estimate == nil:
			return 1
		case b.Estimate == nil:
			return -1
		}
		d := cmp.Compare(*b.Estimate, *a.Estimate)
		if f.Value.Better == Falling {
			d = -d
		}
		return cmp.Or(d, cmp.Compare(f.Codes.order(a.Code), f.Codes.order(b.Code)))
	})
	return rows
}

// domain gives the values that the axis covers. It holds the control, the
// margin and every estimate; an interval several times as wide as the others
// goes on beyond it, so that the others can be read.
func (f *IntervalLadder) domain() (lo, hi float64) {
	var core, full extent
	var halves []float64
	core.add(f.Control)
	if f.Margin != nil {
		core.add(f.Margin.Low, f.Margin.High)
	}
	full = core
	for _, r := range f.Rows {
		for i, p := range []*float64{r.Estimate, r.Low, r.High, r.ThinLow, r.ThinHigh} {
			if p == nil {
				continue
			}
			if i == 0 {
				core.add(*p)
			}
			full.add(*p)
		}
		if r.Low != nil && r.High != nil {
			halves = append(halves, (*r.High-*r.Low)/2)
		}
	}
	reach := 0.0
	if len(halves) > 0 {
		slices.Sort(halves)
		reach = 2.5 * halves[len(halves)/2]
	}
	reach = math.Max(reach, .5*(core.hi-core.lo))
	lo, hi = math.Max(full.lo, core.lo-reach), math.Min(full.hi, core.hi+reach)
	e := extent{lo, hi, true}.open()
	pad := .03 * (e.hi - e.lo)
	return e.lo - pad, e.hi + pad
}

func (f *IntervalLadder) layout(c *canvas) {
	c.head(f.Head)
	rows := f.rungs()

	// the column of codes and words
	codeSize := c.pick(11, 9)
	wordSize := c.pick(9, 8)
	codeW, wordW := 9.0, 0.0
	codeText := make([]string, len(rows))
	for i, r := range rows {
		codeText[i] = shorten(r.Code, fonts.SansBold, codeSize, 56)
		codeW = math.Max(codeW, TextWidth(codeText[i], fonts.SansBold, codeSize))
		word, s := r.Verdict.set(wordSize)
		wordW = math.Max(wordW, c.codes.width(plain(word).note(r.Note), s))
		if _, more := r.Verdict.Words(); more != "" {
			wordW = math.Max(wordW, TextWidth(more, fonts.Sans, ptNote))
		}
	}
	wordX := codeW + 6
	left := wordX + wordW + 12

	// the columns of readings, from the right
	stints := f.Stints
	if !slices.ContainsFunc(rows, func(r LadderRow) bool { return r.Stints != "" }) || c.level >= 2 {
		stints = ""
	}
	right := c.w
	stintX := 0.0
	if stints != "" {
		w := TextWidth(stints, fonts.Sans, ptNote)
		for _, r := range rows {
			w = math.Max(w, TextWidth(r.Stints, fonts.Sans, ptLabel))
		}
		stintX = right - w/2
		right -= w + 14
	}
	var colX []float64
	columns := 0
	for _, r := range rows {
		for k, q := range r.Readings {
			if q != (Reading{}) {
				columns = max(columns, k+1)
			}
		}
	}
	width := func(k int) float64 {
		w := 0.0
		if k < len(f.Columns) {
			w = TextWidth(f.Columns[k], fonts.Sans, ptNote)
		}
		for _, r := range rows {
			if k < len(r.Readings) {
				w = math.Max(w, c.codes.width(r.Readings[k].Text(), setting{face: fonts.Sans, size: ptLabel}))
			}
		}
		return w
	}
	if c.level >= 2 {
		columns = min(columns, 1)
	}
	stacked := c.half
	if !stacked {
		for ; columns > 0; columns-- { // as many columns as leave room for the rungs
			total := 0.0
			for k := range columns {
				total += width(k) + 14
			}
			if right-total-left >= 120 {
				break
			}
		}
		stacked = columns == 0 && len(rows[0].Readings) > 0
	}
	if stacked {
		stints = ""
	} else {
		colX = make([]float64, columns)
		for k := columns - 1; k >= 0; k-- {
			colX[k] = right
			right -= width(k) + 14
		}
	}

	lo, hi := f.domain()
	L, R := left, right-6
	if stacked {
		L, R = 4, c.w-4
	}
	rowH := 23.0
	top := c.y + 14
	two := false // stacked: word and reading do not fit on one line
	if stacked {
		rowH = 31
		leftMax, rightMax := 0.0, 0.0
		for i, r := range rows {
			word, s := r.Verdict.set(8)
			lw := TextWidth(codeText[i], fonts.SansBold, 9) + 4 + c.codes.width(plain(word).note(r.Note), s)
			if _, more := r.Verdict.Words(); more != "" {
				lw += 4 + TextWidth(more, fonts.Sans, ptNote)
			}
			leftMax = math.Max(leftMax, lw)
			if len(r.Readings) > 0 {
				rightMax = math.Max(rightMax, c.codes.width(r.Readings[0].Text(), setting{face: fonts.Sans, size: ptTick}))
			}
		}
		two = leftMax+rightMax+12 > c.w
		if two {
			rowH += 8.5
		} else {
			// keep the control's line clear of the words on both sides
			l, r := leftMax+5, c.w-rightMax-5
			for range 24 {
				x := scale{lo, hi, L, R}.at(f.Control)
				if x < l {
					lo -= .06 * (hi - lo)
				} else if x > r {
					hi += .06 * (hi - lo)
				}
			}
		}
	}
	sc := scale{lo, hi, L, R}
	x0 := sc.at(f.Control)
	bottom := top + rowH*float64(len(rows)) + 2
	note := setting{face: fonts.Sans, size: ptNote, tone: Soft}

	// heads of columns
	if !stacked {
		s := note
		s.anchor = End
		for k, x := range colX {
			if k < len(f.Columns) {
				c.text(x, top-6, plain(f.Columns[k]), s)
			}
		}
		if stints != "" {
			s.anchor = Middle
			c.text(stintX, top-6, plain(stints), s)
		}
	}

	// margin and control
	if f.Margin != nil {
		m := cut(sc.at(f.Margin.Low), sc.at(f.Margin.High), L, R)
		c.rect(m.lo, top, m.hi-m.lo, bottom-top, Ink, .075)
		kw := TextWidth(f.Codes.Control, fonts.SansBold, 8)/2 + 3
		s := note
		s.anchor = Middle
		s.spare = true
		if t := f.Margin.LowText; t != "" {
			w := TextWidth(t, s.face, s.size) / 2
			x := math.Max(math.Min(m.lo, x0-kw-w), w)
			c.text(x, top-3, plain(t), s)
		}
		if t := f.Margin.HighText; t != "" {
			w := TextWidth(t, s.face, s.size) / 2
			x := math.Min(math.Max(m.hi, x0+kw+w), c.w-w)
			c.text(x, top-3, plain(t), s)
		}
	}
	for i := range rows {
		if i > 0 {
			y := top + rowH*float64(i)
			c.line(0, y, c.w, y, pen{w: hair, tone: Rule, ghost: true})
		}
	}
	if two {
		for i := range rows { // the line stops where words stand
			y := top + rowH*float64(i)
			c.line(x0, y+19, x0, y+rowH, pen{w: control, tone: Ink})
		}
		c.line(x0, top-2, x0, top, pen{w: control, tone: Ink})
		c.line(x0, bottom-2, x0, bottom+2, pen{w: control, tone: Ink})
		c.post(x0, top-2)
		c.post(x0, bottom+2)
		c.text(x0, top-6.4, Say(CodeOf(f.Codes.Control)), setting{face: fonts.SansBold, size: 8, anchor: Middle, free: true})
	} else {
		c.posts(x0, top-2, bottom+2, f.Codes.Control)
	}

	// rungs
	thin := false
	for i, r := range rows {
		y0 := top + rowH*float64(i)
		y := y0 + rowH*.5
		if stacked {
			y = y0 + rowH - 10.5
		}
		f.rung(c, r, sc, y, L, R)
		thin = thin || r.ThinLow != nil && r.ThinHigh != nil
		word, ws := r.Verdict.set(wordSize)
		_, more := r.Verdict.Words()
		code := Text{{codeText[i], Code}}
		tone := c.codes.Style(r.Code).Tone
		cs := setting{face: fonts.SansBold, size: codeSize, tone: tone, free: stacked}
		code[0].As = Strong
		if !stacked {
			c.text(0, y+2.8, code, cs)
			if more == "" {
				c.text(wordX, y+2.8, plain(word).note(r.Note), ws)
			} else {
				c.text(wordX, y-.6, plain(word).note(r.Note), ws)
				c.text(wordX, y+7, plain(more), note)
			}
			for k, x := range colX {
				if k < len(r.Readings) {
					c.text(x, y+2.6, r.Readings[k].Text(), setting{face: fonts.Sans, size: ptLabel, anchor: End})
				}
			}
			if stints != "" {
				c.text(stintX, y+2.6, plain(r.Stints), setting{face: fonts.Sans, size: ptLabel, anchor: Middle})
			}
		} else {
			yt := y0 + 9.4
			w := c.text(0, yt, code, cs)
			w += 4 + c.text(w+4, yt, plain(word).note(r.Note), ws)
			if more != "" {
				c.text(w+4, yt, plain(more), note)
			}
			if len(r.Readings) > 0 {
				s := setting{face: fonts.Sans, size: ptTick, anchor: End}
				if two {
					s.anchor = Start
					c.text(0, yt+8.5, r.Readings[0].Text(), s)
				} else {
					c.text(c.w, yt, r.Readings[0].Text(), s)
				}
			}
		}
		said := r.Code + ": " + strings.Join(verdictWords(r.Verdict), ", ")
		if len(r.Readings) > 0 {
			said += ", " + r.Readings[0].words()
		}
		c.say(said)
		if r.Estimate == nil {
			c.doubts.Add("figure_not_drawn", caveat.Place{Code: r.Code}, "%s has no estimate and no mark in the figure.", r.Code)
		}
	}

	// axis, direction, what the thin line is
	most := 6
	if c.half {
		most = 5
	}
	ts, power := ticks(lo, hi, most-c.level, f.Value.Signed, f.style())
	c.levelAxis(bottom+9, sc, ts)
	y := bottom + 28.5
	last := R
	if len(ts) > 0 {
		last = sc.at(ts[len(ts)-1].v) + 14
	}
	name := c.axisWords(f.Value, power)
	if !stacked && power == 0 && len(f.Columns) > 0 && f.Columns[0] == f.Value.Name {
		name = nil // the column's head says it
	}
	nameW := c.codes.width(name, note)
	thinWords := ""
	if thin {
		thinWords = c.word(f.Thin, f.ThinHalf)
	}
	if f.Value.Better != Nowhere && !stacked && last+40 <= c.w {
		c.better(last, bottom+18.6, f.Value.Better, false, Start)
	} else if f.Value.Better != Nowhere {
		nameW += c.better(c.w, y, f.Value.Better, false, End) + 8
	}
	ns := note
	ns.anchor = End
	if x := math.Min(R, c.w); !stacked {
		c.text(x, y, name, ns)
	} else {
		c.text(c.w-(nameW-c.codes.width(name, note)), y, name, ns)
	}
	if thinWords != "" {
		ts := setting{face: fonts.SansItalic, size: ptNote, tone: Soft, spare: true}
		w := TextWidth(thinWords, ts.face, ts.size)
		x := 0.0
		if !stacked {
			x = math.Max(0, math.Min(L, c.w-w))
		}
		end := c.w
		if !stacked {
			end = R
		}
		if nameW > 0 && x+w+10 > end-nameW {
			y += 9
		}
		c.text(x, y, plain(thinWords), ts)
	} else if nameW == 0 {
		y = bottom + 20
	}
	c.foot(y+14, f.Notes)
}

// rung draws one candidate's bar at y.
func (f *IntervalLadder) rung(c *canvas, r LadderRow, sc scale, y, L, R float64) {
	tone := c.codes.Style(r.Code).Tone
	if r.ThinLow != nil && r.ThinHigh != nil {
		s := cut(sc.at(*r.ThinLow), sc.at(*r.ThinHigh), L, R)
		c.stem(s, y+4.4, false, 1.3, thin, pen{w: thin, tone: Soft})
	}
	if r.Low != nil && r.High != nil {
		s := cut(sc.at(*r.Low), sc.at(*r.High), L, R)
		c.line(s.lo-.9, y, s.hi+.9, y, pen{w: bar + 1.6, tone: Paper, ghost: true})
		c.stem(s, y, false, 3.4, .9, pen{w: bar, tone: tone})
	}
	if r.Estimate != nil {
		c.marker(r.Code, sc.clamp(*r.Estimate), y, 3.1, false)
	}
}
