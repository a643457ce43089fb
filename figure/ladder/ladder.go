// Package ladder draws the interval ladder, every candidate's simultaneous
// interval against the control's line and the margin, and the small verdict
// strip that stands in a table's cell.
//
// Values are index points or differences in the measure's unit, as given;
// verdicts, estimates and intervals are given, never computed here.
package ladder

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/figure/draft"
	"example.org/bookend/figure/fonts"
	"example.org/bookend/figure/scale"
)

// IntervalLadder shows each candidate against the control: the simultaneous
// interval as a bar with ends on a rung of its own, the control as the line
// between its posts, the margin as a shaded band, the verdict's word before and
// the readings behind. Rungs stand in order of the estimate, the best on top.
type IntervalLadder struct {
	draft.Head
	Value    draft.Axis `json:"value"`   // index, or difference in the measure's unit
	Control  float64    `json:"control"` // where the control stands: 100 for an index, 0 for a difference
	Margin   *Margin    `json:"margin,omitempty"`
	Columns  []string   `json:"columns,omitempty"`   // heads of the readings; the half width shows the first reading alone
	Stints   string     `json:"stints,omitempty"`    // head of the column of stints
	Thin     string     `json:"thin,omitempty"`      // what the thin line is: the interval without the ground's record
	ThinHalf string     `json:"thin_half,omitempty"` // the same for the half width
	Rows     []Row      `json:"rows"`
}

// Row is one candidate on a ladder. Without an estimate it has no mark;
// without an interval, no bar.
type Row struct {
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
func (f *IntervalLadder) Draw(w draft.Width) (*draft.Drawing, error) {
	if len(f.Rows) == 0 {
		return nil, draft.Invalid(f.Kind(), "a ladder needs at least one candidate")
	}
	for _, r := range f.Rows {
		for _, p := range []*float64{r.Estimate, r.Low, r.High, r.ThinLow, r.ThinHigh} {
			if p != nil && !draft.Finite(*p) {
				return nil, draft.Invalid(f.Kind(), "code %s has a value that is not finite", r.Code)
			}
		}
		if r.Low != nil && r.High != nil && *r.Low > *r.High || r.ThinLow != nil && r.ThinHigh != nil && *r.ThinLow > *r.ThinHigh {
			return nil, draft.Invalid(f.Kind(), "code %s has an interval whose lower end lies above its upper end", r.Code)
		}
	}
	if !draft.Finite(f.Control) || f.Margin != nil && (!draft.Finite(f.Margin.Low, f.Margin.High) || f.Margin.Low > f.Margin.High) {
		return nil, draft.Invalid(f.Kind(), "control or margin is not finite, or the margin is upside down")
	}
	return draft.Compose(f.Kind(), w, f.Codes, f.layout), nil
}

// rungs gives the rows in the order in which they stand.
func (f *IntervalLadder) rungs() []Row {
	rows := slices.Clone(f.Rows)
	slices.SortStableFunc(rows, func(a, b Row) int {
		switch {
		case a.Estimate == nil && b.Estimate == nil:
			return cmp.Compare(f.Codes.Order(a.Code), f.Codes.Order(b.Code))
		case a.Estimate == nil:
			return 1
		case b.Estimate == nil:
			return -1
		}
		d := cmp.Compare(*b.Estimate, *a.Estimate)
		if f.Value.Better == draft.Falling {
			d = -d
		}
		return cmp.Or(d, cmp.Compare(f.Codes.Order(a.Code), f.Codes.Order(b.Code)))
	})
	return rows
}

// domain gives the values that the axis covers. It holds the control, the
// margin and every estimate; an interval several times as wide as the others
// goes on beyond it, so that the others can be read.
func (f *IntervalLadder) domain() (lo, hi float64) {
	var core, full scale.Extent
	var halves []float64
	core.Add(f.Control)
	if f.Margin != nil {
		core.Add(f.Margin.Low, f.Margin.High)
	}
	full = core
	for _, r := range f.Rows {
		for i, p := range []*float64{r.Estimate, r.Low, r.High, r.ThinLow, r.ThinHigh} {
			if p == nil {
				continue
			}
			if i == 0 {
				core.Add(*p)
			}
			full.Add(*p)
		}
		if r.Low != nil && r.High != nil {
			halves = append(halves, (*r.High-*r.Low)/2)
		}
	}
	e := scale.Readable(core, full, halves)
	return e.Lo, e.Hi
}

func (f *IntervalLadder) layout(c *draft.Canvas) {
	c.Head(f.Head)
	rows := f.rungs()

	// the column of codes and words
	codeSize := c.Pick(11, 9)
	wordSize := c.Pick(9, 8)
	codeW, wordW := 9.0, 0.0
	codeText := make([]string, len(rows))
	for i, r := range rows {
		codeText[i] = draft.Shorten(r.Code, fonts.SansBold, codeSize, 56)
		codeW = math.Max(codeW, draft.TextWidth(codeText[i], fonts.SansBold, codeSize))
		word, s := r.Verdict.set(wordSize)
		wordW = math.Max(wordW, c.Codes.Width(draft.Plain(word).Note(r.Note), s))
		if _, more := r.Verdict.Words(); more != "" {
			wordW = math.Max(wordW, draft.TextWidth(more, fonts.Sans, draft.PtNote))
		}
	}
	wordX := codeW + 6
	left := wordX + wordW + 12

	// the columns of readings, from the right
	stints := f.Stints
	if !slices.ContainsFunc(rows, func(r Row) bool { return r.Stints != "" }) || c.Level >= 2 {
		stints = ""
	}
	right := c.W
	stintX := 0.0
	if stints != "" {
		w := draft.TextWidth(stints, fonts.Sans, draft.PtNote)
		for _, r := range rows {
			w = math.Max(w, draft.TextWidth(r.Stints, fonts.Sans, draft.PtLabel))
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
			w = draft.TextWidth(f.Columns[k], fonts.Sans, draft.PtNote)
		}
		for _, r := range rows {
			if k < len(r.Readings) {
				w = math.Max(w, c.Codes.Width(r.Readings[k].Text(), draft.Setting{Face: fonts.Sans, Size: draft.PtLabel}))
			}
		}
		return w
	}
	if c.Level >= 2 {
		columns = min(columns, 1)
	}
	stacked := c.Half
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
		L, R = 4, c.W-4
	}
	rowH := 23.0
	top := c.Y + 14
	two := false // stacked: word and reading do not fit on one line
	if stacked {
		rowH = 31
		leftMax, rightMax := 0.0, 0.0
		for i, r := range rows {
			word, s := r.Verdict.set(8)
			lw := draft.TextWidth(codeText[i], fonts.SansBold, 9) + 4 + c.Codes.Width(draft.Plain(word).Note(r.Note), s)
			if _, more := r.Verdict.Words(); more != "" {
				lw += 4 + draft.TextWidth(more, fonts.Sans, draft.PtNote)
			}
			leftMax = math.Max(leftMax, lw)
			if len(r.Readings) > 0 {
				rightMax = math.Max(rightMax, c.Codes.Width(r.Readings[0].Text(), draft.Setting{Face: fonts.Sans, Size: draft.PtTick}))
			}
		}
		two = leftMax+rightMax+12 > c.W
		if two {
			rowH += 8.5
		} else {
			// keep the control's line clear of the words on both sides
			l, r := leftMax+5, c.W-rightMax-5
			for range 24 {
				x := scale.Of(lo, hi, L, R).At(f.Control)
				if x < l {
					lo -= .06 * (hi - lo)
				} else if x > r {
					hi += .06 * (hi - lo)
				}
			}
		}
	}
	sc := scale.Of(lo, hi, L, R)
	x0 := sc.At(f.Control)
	bottom := top + rowH*float64(len(rows)) + 2
	note := draft.Setting{Face: fonts.Sans, Size: draft.PtNote, Tone: draft.Soft}

	// heads of columns
	if !stacked {
		s := note
		s.Anchor = draft.End
		for k, x := range colX {
			if k < len(f.Columns) {
				c.Text(x, top-6, draft.Plain(f.Columns[k]), s)
			}
		}
		if stints != "" {
			s.Anchor = draft.Middle
			c.Text(stintX, top-6, draft.Plain(stints), s)
		}
	}

	// margin and control
	if f.Margin != nil {
		m := draft.Cut(sc.At(f.Margin.Low), sc.At(f.Margin.High), L, R)
		c.Rect(m.Lo, top, m.Hi-m.Lo, bottom-top, draft.Ink, .075)
		kw := draft.TextWidth(f.Codes.Control, fonts.SansBold, 8)/2 + 3
		s := note
		s.Anchor = draft.Middle
		s.Spare = true
		if t := f.Margin.LowText; t != "" {
			w := draft.TextWidth(t, s.Face, s.Size) / 2
			x := math.Max(math.Min(m.Lo, x0-kw-w), w)
			c.Text(x, top-3, draft.Plain(t), s)
		}
		if t := f.Margin.HighText; t != "" {
			w := draft.TextWidth(t, s.Face, s.Size) / 2
			x := math.Min(math.Max(m.Hi, x0+kw+w), c.W-w)
			c.Text(x, top-3, draft.Plain(t), s)
		}
	}
	for i := range rows {
		if i > 0 {
			y := top + rowH*float64(i)
			c.Line(0, y, c.W, y, draft.Pen{W: draft.Hair, Tone: draft.Rule, Ghost: true})
		}
	}
	if two {
		for i := range rows { // the line stops where words stand
			y := top + rowH*float64(i)
			c.Line(x0, y+19, x0, y+rowH, draft.Pen{W: draft.Control, Tone: draft.Ink})
		}
		c.Line(x0, top-2, x0, top, draft.Pen{W: draft.Control, Tone: draft.Ink})
		c.Line(x0, bottom-2, x0, bottom+2, draft.Pen{W: draft.Control, Tone: draft.Ink})
		c.Post(x0, top-2)
		c.Post(x0, bottom+2)
		c.Text(x0, top-6.4, draft.Say(draft.CodeOf(f.Codes.Control)), draft.Setting{Face: fonts.SansBold, Size: 8, Anchor: draft.Middle, Free: true})
	} else {
		c.Posts(x0, top-2, bottom+2, f.Codes.Control)
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
		code := draft.Text{draft.StrongOf(codeText[i])}
		tone := c.Codes.Style(r.Code).Tone
		cs := draft.Setting{Face: fonts.SansBold, Size: codeSize, Tone: tone, Free: stacked}
		if !stacked {
			c.Text(0, y+2.8, code, cs)
			if more == "" {
				c.Text(wordX, y+2.8, draft.Plain(word).Note(r.Note), ws)
			} else {
				c.Text(wordX, y-.6, draft.Plain(word).Note(r.Note), ws)
				c.Text(wordX, y+7, draft.Plain(more), note)
			}
			for k, x := range colX {
				if k < len(r.Readings) {
					c.Text(x, y+2.6, r.Readings[k].Text(), draft.Setting{Face: fonts.Sans, Size: draft.PtLabel, Anchor: draft.End})
				}
			}
			if stints != "" {
				c.Text(stintX, y+2.6, draft.Plain(r.Stints), draft.Setting{Face: fonts.Sans, Size: draft.PtLabel, Anchor: draft.Middle})
			}
		} else {
			yt := y0 + 9.4
			w := c.Text(0, yt, code, cs)
			w += 4 + c.Text(w+4, yt, draft.Plain(word).Note(r.Note), ws)
			if more != "" {
				c.Text(w+4, yt, draft.Plain(more), note)
			}
			if len(r.Readings) > 0 {
				s := draft.Setting{Face: fonts.Sans, Size: draft.PtTick, Anchor: draft.End}
				if two {
					s.Anchor = draft.Start
					c.Text(0, yt+8.5, r.Readings[0].Text(), s)
				} else {
					c.Text(c.W, yt, r.Readings[0].Text(), s)
				}
			}
		}
		said := r.Code + ": " + strings.Join(verdictWords(r.Verdict), ", ")
		if len(r.Readings) > 0 {
			said += ", " + r.Readings[0].words()
		}
		c.Say(said)
		if r.Estimate == nil {
			c.Doubts.Add("figure_not_drawn", caveat.Place{Code: r.Code}, "%s has no estimate and no mark in the figure.", r.Code)
		}
	}

	// axis, direction, what the thin line is
	most := 6
	if c.Half {
		most = 5
	}
	ts, power := scale.Ticks(lo, hi, most-c.Level, f.Value.Signed, f.Style())
	c.LevelAxis(bottom+9, sc, ts)
	y := bottom + 28.5
	last := R
	if len(ts) > 0 {
		last = sc.At(ts[len(ts)-1].V) + 14
	}
	name := c.AxisWords(f.Value, power)
	if !stacked && power == 0 && len(f.Columns) > 0 && f.Columns[0] == f.Value.Name {
		name = nil // the column's head says it
	}
	nameW := c.Codes.Width(name, note)
	thinWords := ""
	if thin {
		thinWords = c.Word(f.Thin, f.ThinHalf)
	}
	if f.Value.Better != draft.Nowhere && !stacked && last+40 <= c.W {
		c.Better(last, bottom+18.6, f.Value.Better, false, draft.Start)
	} else if f.Value.Better != draft.Nowhere {
		nameW += c.Better(c.W, y, f.Value.Better, false, draft.End) + 8
	}
	ns := note
	ns.Anchor = draft.End
	if x := math.Min(R, c.W); !stacked {
		c.Text(x, y, name, ns)
	} else {
		c.Text(c.W-(nameW-c.Codes.Width(name, note)), y, name, ns)
	}
	if thinWords != "" {
		ts := draft.Setting{Face: fonts.SansItalic, Size: draft.PtNote, Tone: draft.Soft, Spare: true}
		w := draft.TextWidth(thinWords, ts.Face, ts.Size)
		x := 0.0
		if !stacked {
			x = math.Max(0, math.Min(L, c.W-w))
		}
		end := c.W
		if !stacked {
			end = R
		}
		if nameW > 0 && x+w+10 > end-nameW {
			y += 9
		}
		c.Text(x, y, draft.Plain(thinWords), ts)
	} else if nameW == 0 {
		y = bottom + 20
	}
	c.Foot(y+14, f.Notes)
}

// rung draws one candidate's bar at y.
func (f *IntervalLadder) rung(c *draft.Canvas, r Row, sc scale.Scale, y, L, R float64) {
	tone := c.Codes.Style(r.Code).Tone
	if r.ThinLow != nil && r.ThinHigh != nil {
		s := draft.Cut(sc.At(*r.ThinLow), sc.At(*r.ThinHigh), L, R)
		c.Stem(s, y+4.4, false, 1.3, draft.Thin, draft.Pen{W: draft.Thin, Tone: draft.Soft})
	}
	if r.Low != nil && r.High != nil {
		s := draft.Cut(sc.At(*r.Low), sc.At(*r.High), L, R)
		c.Line(s.Lo-.9, y, s.Hi+.9, y, draft.Pen{W: draft.Bar + 1.6, Tone: draft.Paper, Ghost: true})
		c.Stem(s, y, false, 3.4, .9, draft.Pen{W: draft.Bar, Tone: tone})
	}
	if r.Estimate != nil {
		c.Marker(r.Code, sc.Clamp(*r.Estimate), y, 3.1, false)
	}
}
