package figure

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/figure/fonts"
)

// BracketStrip is a test's day from its first stint to its last: the control's
// stints as posts, its drift as a curve with a band, every candidate's stint
// against it with its mean, its interval and its single runs, and by how much
// it differs from the control at its own moment. Below: the order, the
// brackets, the conditions, the clock.
type BracketStrip struct {
	Head
	Value      Axis           `json:"value"`
	Clock      bool           `json:"clock"`  // the stints' times are of the clock; else only their order counts
	Stints     []StripStint   `json:"stints"` // as driven
	Drift      []Drift        `json:"drift,omitempty"`
	DriftName  Text           `json:"drift_name,omitempty"` // "the control's drift, 95 % band"
	DriftShort Text           `json:"drift_short,omitempty"`
	Brackets   []Bracket      `json:"brackets,omitempty"` // none: between neighbouring controls, not across a break
	Breaks     []Break        `json:"breaks,omitempty"`
	Conditions []ConditionRow `json:"conditions,omitempty"` // on the full width
}

// StripStint is one stint on the strip. Without a mean it stands in the order
// alone; without an interval its mean has no whisker.
type StripStint struct {
	Code string     `json:"code"`
	AtS  float64    `json:"at_s"` // middle of the stint, in seconds since midnight of the first day; its position where there is no clock
	Mean *float64   `json:"mean,omitempty"`
	Low  *float64   `json:"low,omitempty"`
	High *float64   `json:"high,omitempty"`
	Note int        `json:"note,omitempty"` // of a caveat to the mean
	Runs []StripRun `json:"runs,omitempty"`
}

// StripRun is one run. A run that is left out is ringed and bears the number of
// its caveat; the ring is red only if a limit was broken.
type StripRun struct {
	Value   float64 `json:"value"`
	LeftOut bool    `json:"left_out,omitempty"`
	Broken  bool    `json:"broken,omitempty"`
	Note    int     `json:"note,omitempty"`
}

// Drift is one stretch of the control's curve, sampled: times in seconds as the
// stints', values, and the band's edges (both empty: no band).
type Drift struct {
	AtS   []float64 `json:"at_s"`
	Value []float64 `json:"value"`
	Low   []float64 `json:"low,omitempty"`
	High  []float64 `json:"high,omitempty"`
}

// Bracket is two control stints, by their index among the stints, and what was
// driven between them.
type Bracket struct {
	From int    `json:"from"`
	To   int    `json:"to"`
	Name string `json:"name,omitempty"` // empty: its number
}

// Break is a declared break before a stint, given by its index; no correction
// is carried across it.
type Break struct {
	Before int      `json:"before"`
	Words  []string `json:"words,omitempty"` // one a line: "break", "lane rinsed"
}

// ConditionRow is a row of conditions below the strip, one cell a stint.
type ConditionRow struct {
	Name  string `json:"name"` // with its unit: "water, mm"
	Cells []Cell `json:"cells"`
}

// Cell is a condition as printed. A broken limit is red and bears its caveat.
type Cell struct {
	Text   string `json:"text"`
	Broken bool   `json:"broken,omitempty"`
	Note   int    `json:"note,omitempty"`
}

// Kind is "bracket-strip".
func (*BracketStrip) Kind() string { return "bracket-strip" }

// Draw lays the strip out.
func (f *BracketStrip) Draw(w Width) (*Drawing, error) {
	if err := f.check(); err != nil {
		return nil, err
	}
	return compose(f.Kind(), w, f.Codes, f.layout), nil
}

func (f *BracketStrip) check() error {
	k := f.Kind()
	candidates := 0
	for i, s := range f.Stints {
		if s.Code != f.Codes.Control {
			candidates++
		}
		vs := []float64{s.AtS}
		for _, p := range []*float64{s.Mean, s.Low, s.High} {
			if p != nil {
				vs = append(vs, *p)
			}
		}
		for _, r := range s.Runs {
			vs = append(vs, r.Value)
		}
		if !finite(vs...) {
			return invalid(k, "stint %d (%s) has a value that is not finite", i+1, s.Code)
		}
		if s.Low != nil && s.High != nil && *s.Low > *s.High {
			return invalid(k, "stint %d (%s) has an interval whose lower end lies above its upper end", i+1, s.Code)
		}
		if i > 0 && s.AtS < f.Stints[i-1].AtS {
			return invalid(k, "stint %d (%s) comes before stint %d", i+1, s.Code, i)
		}
	}
	if candidates == 0 {
		return invalid(k, "a strip needs at least one stint of a candidate")
	}
	for i, d := range f.Drift {
		n := len(d.AtS)
		if len(d.Value) != n || len(d.Low) != len(d.High) || len(d.Low) != 0 && len(d.Low) != n {
			return invalid(k, "stretch %d of the drift has columns of unequal length", i+1)
		}
		if !finite(d.AtS...) || !finite(d.Value...) || !finite(d.Low...) || !finite(d.High...) {
			return invalid(k, "stretch %d of the drift has a value that is not finite", i+1)
		}
		if !slices.IsSorted(d.AtS) {
			return invalid(k, "stretch %d of the drift runs backwards", i+1)
		}
	}
	for i, b := range f.Brackets {
		if b.From < 0 || b.To >= len(f.Stints) || b.From >= b.To {
			return invalid(k, "bracket %d names stints that are not there", i+1)
		}
	}
	for _, b := range f.Breaks {
		if b.Before < 1 || b.Before >= len(f.Stints) {
			return invalid(k, "a break stands before stint %d of %d", b.Before+1, len(f.Stints))
		}
	}
	for _, r := range f.Conditions {
		if len(r.Cells) != len(f.Stints) {
			return invalid(k, "%s has %d cells for %d stints", r.Name, len(r.Cells), len(f.Stints))
		}
	}
	return nil
}

// brackets gives the brackets, made from the control's stints where none were given.
func (f *BracketStrip) brackets() []Bracket {
	if len(f.Brackets) > 0 {
		return f.Brackets
	}
	var out []Bracket
	last := -1
	for i, s := range f.Stints {
		if slices.ContainsFunc(f.Breaks, func(b Break) bool { return b.Before == i }) {
			last = -1
		}
		if s.Code != f.Codes.Control {
			continue
		}
		if last >= 0 && i > last+1 {
			out = append(out, Bracket{From: last, To: i})
		}
		last = i
	}
	return out
}

// clockMap maps times to points. A gap far longer than the time between stints
// (a night) is cut out of the axis.
type clockMap struct{ pieces []stretch }

type stretch struct{ t0, t1, x0, x1 float64 }

func newClockMap(at []float64, x0, x1, gap float64) clockMap {
	var steps []float64
	for i := 1; i < len(at); i++ {
		if d := at[i] - at[i-1]; d > 0 {
			steps = append(steps, d)
		}
	}
	slices.Sort(steps)
	mid := 1.0
	if len(steps) > 0 {
		mid = steps[len(steps)/2]
	}
	busy := 0.0
	for _, d := range steps {
		if d <= 5*mid {
			busy += d
		}
	}
	pad := .7 * mid
	pieces := []stretch{{t0: at[0] - pad}}
	for i := 1; i < len(at); i++ {
		if d := at[i] - at[i-1]; d > 5*mid && d > .35*busy {
			pieces[len(pieces)-1].t1 = at[i-1] + pad
			pieces = append(pieces, stretch{t0: at[i] - pad})
		}
	}
	pieces[len(pieces)-1].t1 = at[len(at)-1] + pad
	total := 0.0
	for _, p := range pieces {
		total += p.t1 - p.t0
	}
	perSecond := (x1 - x0 - gap*float64(len(pieces)-1)) / total
	x := x0
	for i := range pieces {
		pieces[i].x0 = x
		x += (pieces[i].t1 - pieces[i].t0) * perSecond
		pieces[i].x1 = x
		x += gap
	}
	return clockMap{pieces}
}

func (m clockMap) at(t float64) float64 {
	for i, p := range m.pieces {
		if i > 0 && t < p.t0 { // in the gap before
			q := m.pieces[i-1]
			return scale{q.t1, p.t0, q.x1, p.x0}.at(t)
		}
		if t <= p.t1 || i == len(m.pieces)-1 {
			return scale{p.t0, p.t1, p.x0, p.x1}.at(t)
		}
	}
	return 0
}

// clockTicks gives at most most full times within the stretches, in seconds.
func (m clockMap) clockTicks(most int) [][]float64 {
	steps := []float64{300, 600, 900, 1800, 3600, 7200, 10800, 14400, 21600, 43200}
	for _, step := range steps {
		out := make([][]float64, len(m.pieces))
		n := 0
		for i, p := range m.pieces {
			for k := math.Ceil(p.t0 / step); k*step <= p.t1; k++ {
				if n++; n > most*4 {
					break
				}
				out[i] = append(out[i], k*step)
			}
		}
		if n <= most {
			return out
		}
	}
	return make([][]float64, len(m.pieces))
}

func clock(t float64) string {
	m := int(math.Round(t/60)) % (24 * 60)
	if m < 0 {
		m += 24 * 60
	}
	return fmt.Sprintf("%02d:%02d", m/60, m%60)
}

// domain gives the values the strip covers: every mean, every run that counts
// and the drift, and of whiskers, band and runs left out as much as leaves the
// rest readable.
func (f *BracketStrip) domain() extent {
	var core, full extent
	for _, s := range f.Stints {
		if s.Mean != nil {
			core.add(*s.Mean)
		}
		for _, r := range s.Runs {
			full.add(r.Value)
			if !r.LeftOut {
				core.add(r.Value)
			}
		}
		for _, p := range []*float64{s.Low, s.High} {
			if p != nil {
				full.add(*p)
			}
		}
	}
	for _, d := range f.Drift {
		core.add(d.Value...)
		full.add(d.Low...)
		full.add(d.High...)
	}
	if !core.any {
		core = full
	}
	if !core.any {
		core.add(0)
	}
	core = core.open()
	if full.any {
		room := .45 * (core.hi - core.lo)
		core.lo, core.hi = math.Min(core.lo, math.Max(full.lo, core.lo-room)), math.Max(core.hi, math.Min(full.hi, core.hi+room))
	}
	return core
}

// controlAt gives the control's curve at a time: the value and the band's edges.
func (f *BracketStrip) controlAt(t float64) (v, lo, hi float64, ok bool) {
	for _, d := range f.Drift {
		n := len(d.AtS)
		if n == 0 || t < d.AtS[0] || t > d.AtS[n-1] {
			continue
		}
		i, _ := slices.BinarySearch(d.AtS, t)
		i = min(max(i, 1), n-1)
		at := func(col []float64) float64 {
			if n == 1 || d.AtS[i] == d.AtS[i-1] {
				return col[i]
			}
			u := (t - d.AtS[i-1]) / (d.AtS[i] - d.AtS[i-1])
			return col[i-1] + u*(col[i]-col[i-1])
		}
		if n == 1 {
			i = 0
		}
		v = at(d.Value)
		lo, hi = v, v
		if len(d.Low) > 0 {
			lo, hi = at(d.Low), at(d.High)
		}
		return v, lo, hi, true
	}
	return 0, 0, 0, false
}

func (f *BracketStrip) layout(c *canvas) {
	c.head(f.Head)
	n := len(f.Stints)
	dom := f.domain()
	yt := c.y + 13
	yb := yt + c.pick(158, 112)
	perPoint := (dom.hi - dom.lo) / (yb - yt - 26) // room for a letter above and below
	Y := scale{dom.lo - 13*perPoint, dom.hi + 13*perPoint, yb, yt}
	most := 8
	if c.half {
		most = 5
	}
	ts, power := ticks(Y.v0, Y.v1, max(2, most-2*max(0, c.level-1)), f.Value.Signed, f.style())

	// the gutter holds ticks and the names of rows
	x0 := math.Max(c.pick(44, 22), widestTick(ts)+8)
	rows := f.Conditions
	if c.half || c.level >= 3 {
		rows = nil
	}
	for _, r := range rows {
		x0 = math.Max(x0, math.Min(TextWidth(r.Name, fonts.Sans, ptNote)+6, 90))
	}
	x1 := c.w - c.pick(6, 4)
	at := make([]float64, n)
	for i, s := range f.Stints {
		at[i] = s.AtS
	}
	X := newClockMap(at, x0+6, x1, c.pick(34, 18))
	xs := make([]float64, n)
	for i := range at {
		xs[i] = X.at(at[i])
	}
	pitch := x1 - x0 - 6
	var gaps []float64
	for i := 1; i < n; i++ {
		gaps = append(gaps, xs[i]-xs[i-1])
	}
	if len(gaps) > 0 {
		slices.Sort(gaps)
		pitch = gaps[len(gaps)/2]
	}
	nameEnd := c.valueAxis(x0, x1, Y, ts, c.axisWords(f.Value, power), yt-5, f.Value.Better)

	// breaks
	type pause struct{ x0, x1 float64 }
	for _, b := range f.Breaks {
		l, r := xs[b.Before-1], xs[b.Before]
		e := math.Min(.62*pitch, .35*(r-l))
		p := pause{l + e, r - e}
		top := yt - 10
		if p.x0 < nameEnd+3 {
			top = yt - 1 // below the axis' name
		}
		c.rect(p.x0, top, p.x1-p.x0, yb+4-top, Paper, 1)
		for _, x := range []float64{p.x0, p.x1} {
			c.line(x, top, x, yb+4, pen{w: hair, tone: Soft, dash: []float64{1, 1.6}})
		}
		words := b.Words
		if (c.half || c.level >= 1) && len(words) > 1 {
			words = words[:1]
		}
		for i, word := range words {
			s := setting{face: fonts.SansItalic, size: ptNote, tone: Soft, anchor: Middle}
			if TextWidth(word, s.face, s.size) <= r-l-8 {
				c.try((p.x0+p.x1)/2, top+7+float64(i)*8, plain(word), s)
			}
		}
	}

	// the control's drift
	for _, d := range f.Drift {
		var line, top, bottom []Point
		for i, t := range d.AtS {
			x := math.Min(math.Max(X.at(t), x0+1), x1)
			line = append(line, Point{x, Y.clamp(d.Value[i])})
			if len(d.Low) > 0 {
				top = append(top, Point{x, Y.clamp(d.High[i])})
				bottom = append(bottom, Point{x, Y.clamp(d.Low[i])})
			}
		}
		if len(top) > 1 {
			c.band(top, bottom, Ink, .12)
		}
		c.poly(line, pen{w: mean, tone: Ink, round: true})
	}

	// stints
	foot := yb + 3
	size := c.pick(2.6, 1.9)
	if pitch < 9 {
		size = math.Min(size, math.Max(1.3, pitch*.26))
	}
	type reach struct{ top, bottom float64 } // what a stint takes up at its place, in points
	reaches := make([]reach, n)
	for i, s := range f.Stints {
		x, tone := xs[i], c.codes.Style(s.Code).Tone
		post := s.Code == f.Codes.Control
		r := reach{math.Inf(1), math.Inf(-1)}
		see := func(y float64) { r.top, r.bottom = math.Min(r.top, y), math.Max(r.bottom, y) }
		if s.Mean != nil {
			y := Y.at(*s.Mean)
			if post {
				c.line(x, y, x, foot, pen{w: thin, tone: Ink})
			} else if v, _, _, ok := f.controlAt(s.AtS); ok {
				c.line(x, Y.clamp(v), x, y, pen{w: drop, tone: tone})
			}
			see(y - size)
			see(y + size)
		}
		kept := 0
		for _, q := range s.Runs {
			if !q.LeftOut {
				kept++
			}
		}
		step, dot := c.pick(2.5, 1.15), c.pick(.85, .6)
		if kept > 1 {
			step = math.Min(step, .72*pitch/float64(kept))
		}
		k := 0
		for _, q := range s.Runs {
			if !q.LeftOut {
				c.dot(x+(float64(k)-float64(kept-1)/2)*step, Y.clamp(q.Value), dot, tone, .6)
				k++
			}
		}
		if s.Low != nil && s.High != nil {
			iv := cut(Y.at(*s.High), Y.at(*s.Low), yt, yb)
			w := .8
			if post {
				w = 1
			}
			c.stem(iv, x, true, math.Min(c.pick(2.2, 1.4), pitch*.3), w, pen{w: w, tone: tone})
			see(iv.lo)
			see(iv.hi)
		}
		if s.Mean != nil {
			c.marker(s.Code, x, Y.at(*s.Mean), size, false)
		}
		reaches[i] = r
	}
	// runs left out, beside their stint
	type ringed struct {
		x, y float64
		note int
	}
	var rings []ringed
	for i, s := range f.Stints {
		off := 0
		for _, q := range s.Runs {
			if !q.LeftOut {
				continue
			}
			tone := Soft
			if q.Broken {
				tone = Red
			}
			x, y := xs[i]+math.Min(c.pick(8.4, 4.6), pitch*.42)+float64(off)*math.Min(5.6, pitch*.3), Y.at(q.Value)
			off++
			switch { // beyond the axis: the ring stays inside, an arrow says that the run lies further out
			case y < yt:
				y = yt + 7.5
				c.arrowhead(x, yt, -math.Pi/2, tone, 3.4)
			case y > yb:
				y = yb - 5.5
				c.arrowhead(x, yb+2, math.Pi/2, tone, 3.4)
			}
			c.ring(x, y, c.pick(2.6, 2.1), tone)
			c.dot(x, y, c.pick(.85, .6), c.codes.Style(s.Code).Tone, 1)
			if q.Note > 0 {
				rings = append(rings, ringed{x, y, q.Note})
			}
		}
	}
	for _, q := range rings {
		m := setting{face: fonts.Sans, size: ptMark}
		t := plain(strconv.Itoa(q.note))
		r := c.pick(2.6, 2.1)
		w := TextWidth(t.String(), m.face, m.size)
		right, left := q.x+r+.9, q.x-r-.9-w
		if !c.first(t, m, []Point{{right, q.y - 1}, {right, q.y + 4}, {left, q.y - 1}, {left, q.y + 4}, {q.x - w/2, q.y - r - 1.4}, {q.x - w/2, q.y + r + 4.6},
			{right, q.y - 4}, {right, q.y + 6.6}, {right + 2.4, q.y + 1.6}, {left - 2.4, q.y + 1.6}}) {
			m.free = true // a number on a mark is better than a ring without its number
			c.text(math.Min(right, c.w-w), q.y-1, t, m)
		}
	}

	// the candidates' letters, away from the control's curve
	for i, s := range f.Stints {
		if s.Code == f.Codes.Control || s.Mean == nil {
			continue
		}
		f.letter(c, s, xs[i], Y, reaches[i].top, reaches[i].bottom, yt, yb)
	}
	f.driftLabel(c, X, Y, x0, x1, yt, yb)

	// order, controls first so that they stand at their posts
	os := setting{face: fonts.SansBold, size: c.pick(7.5, 6.5), anchor: Middle}
	lanes := 1
	var lost []string
	for _, wantControl := range []bool{true, false} {
		for i, s := range f.Stints {
			if (s.Code == f.Codes.Control) != wantControl {
				continue
			}
			done := false
			for lane := 0; lane < 4 && !done; lane++ {
				if done = c.try(xs[i], yb+12+float64(lane)*8, Say(CodeOf(s.Code)), os); done {
					lanes = max(lanes, lane+1)
				}
			}
			if !done {
				lost = append(lost, s.Code)
			}
		}
	}
	if len(lost) > 0 {
		c.lost("codes in the order row: " + strings.Join(lost, ", "))
	}
	gs := setting{face: fonts.Sans, size: ptNote, tone: Soft, anchor: End}
	if !c.half {
		c.text(x0-4.4, yb+12, plain("order"), gs)
	}

	// brackets
	y := yb + 16 + float64(lanes-1)*8
	bs := f.brackets()
	named := false
	for i, b := range bs {
		l, r := xs[b.From]+1, xs[b.To]-1
		if r <= l {
			continue
		}
		c.poly([]Point{{l, y - .5}, {l, y + 3}, {r, y + 3}, {r, y - .5}}, pen{w: .7, tone: Ink, ghost: true})
		name := b.Name
		if name == "" {
			name = strconv.Itoa(i + 1)
		}
		m := setting{face: fonts.Sans, size: ptNote, tone: Soft, anchor: Middle}
		named = c.try((l+r)/2, y+10.4, plain(name), m) || named
	}
	if len(bs) > 0 {
		if !c.half && named {
			c.text(x0-4.4, y+10.4, plain("bracket"), gs)
		}
		y += 12
	}

	// conditions
	for k, row := range rows {
		yy := y + 9.5 + float64(k)*8.6
		c.text(x0-4.4, yy, plain(shorten(row.Name, fonts.Sans, ptNote, x0-5)), gs)
		cell := func(i int) {
			q := row.Cells[i]
			m := setting{face: fonts.Sans, size: ptNote, free: true}
			if q.Broken {
				m.tone = Red
			}
			x, t := xs[i]-TextWidth(q.Text, m.face, m.size)/2, plain(q.Text).note(q.Note)
			b := c.boxOf(x, yy, c.codes.runs(t, m), m)
			b.x0, b.x1 = b.x0-1.2, b.x1+1.2
			if q.Broken || q.Note > 0 || c.clear(b, true) {
				c.text(x, yy, t, m)
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
	if len(rows) > 0 {
		y += 4 + 8.6*float64(len(rows))
	}

	// the clock
	if f.Clock {
		y += 5
		for i, p := range X.clockTicks(int(c.pick(8, 4))) {
			st := X.pieces[i]
			l, r := st.x0, st.x1
			if len(X.pieces) == 1 && len(p) > 1 {
				l, r = X.at(p[0]), X.at(p[len(p)-1])
			}
			c.line(l, y, r, y, pen{w: thin, ghost: true})
			for _, t := range p {
				x := X.at(t)
				if c.try(x, y+9.6, plain(clock(t)), setting{face: fonts.Sans, size: ptTick, anchor: Middle}) {
					c.line(x, y, x, y+2.6, pen{w: thin, ghost: true})
				}
			}
		}
		y += 11.5
	} else {
		y += 2
	}
	c.y = y
	if len(f.Notes) > 0 {
		c.foot(y+13.5, f.Notes)
	}

	order := make([]string, n)
	for i, s := range f.Stints {
		order[i] = s.Code
		if s.Mean == nil {
			c.doubts.Add("figure_not_drawn", caveat.Place{Code: s.Code, Stint: strconv.Itoa(i + 1)}, "Stint %d (%s) has no mean and no mark in the figure.", i+1, s.Code)
		}
	}
	c.say("Order as driven: " + strings.Join(order, " "))
}

// first sets a text at the first of several places where it is clear.
func (c *canvas) first(t Text, s setting, places []Point) bool {
	for _, p := range places {
		if c.try(p.X, p.Y, t, s) {
			return true
		}
	}
	return false
}

// letter puts a candidate's letter beside its mark: outside its whisker on the
// side away from the control's curve if it can, else on the other side, else
// beside the mark. Where there is no room the letter below in the order row,
// the marker and the hue say which code it is.
func (f *BracketStrip) letter(c *canvas, s StripStint, x float64, Y scale, top, bottom, yt, yb float64) {
	size := c.pick(8, 7)
	st := setting{face: fonts.SansBold, size: size, anchor: Middle}
	t := Say(CodeOf(s.Code)).note(s.Note)
	up := true
	if v, lo, hi, ok := f.controlAt(s.AtS); ok {
		up = *s.Mean > v
		if up {
			if y := Y.clamp(hi); y < top && top-y < 14 {
				top = y
			}
		} else if y := Y.clamp(lo); y > bottom && y-bottom < 14 {
			bottom = y
		}
	}
	above, below := []Point{}, []Point{}
	for k := range 7 {
		if y := top - 3.4 - 2*float64(k); y > yt-4 {
			above = append(above, Point{x, y})
		}
		if y := bottom + size*.7 + 2.6 + 2*float64(k); y < yb {
			below = append(below, Point{x, y})
		}
	}
	places := append(above, below...)
	if !up {
		places = append(below, above...)
	}
	w := c.codes.width(t, st)
	y := Y.at(*s.Mean) + size*.33
	for _, d := range []float64{5, 7.5, 10} {
		places = append(places, Point{x + d + w/2, y}, Point{x - d - w/2, y})
	}
	for _, hazy := range []bool{false, true} {
		for _, p := range places {
			b := c.boxOf(p.X, p.Y, c.codes.runs(t, st), st)
			if (hazy || !c.onHaze(b)) && c.clear(b, false) {
				c.text(p.X, p.Y, t, st)
				return
			}
		}
	}
	if s.Note > 0 { // the caveat's number must stand all the same
		m := setting{face: fonts.Sans, size: ptMark}
		n := plain(strconv.Itoa(s.Note))
		if !c.first(n, m, []Point{{x + 3.6, top - 1}, {x + 3.6, bottom + 3}, {x - 6.4, top - 1}, {x - 6.4, bottom + 3}, {x - 1.2, top - 2.6}, {x - 1.2, bottom + 6}}) {
			m.free = true
			c.text(x+3.6, top-1, n, m)
		}
	}
}

// driftLabel writes what the curve is at the curve, tied by a leader, at the
// place nearest to it where nothing is touched.
func (f *BracketStrip) driftLabel(c *canvas, X clockMap, Y scale, x0, x1, yt, yb float64) {
	name := c.words(f.DriftName, f.DriftShort)
	if len(name) == 0 || len(f.Drift) == 0 {
		return
	}
	s := setting{face: fonts.Sans, size: ptLabel}
	lines := c.codes.wrapText(keepUnits(name), s, c.pick(82, 52))
	w := 0.0
	for _, l := range lines {
		w = math.Max(w, c.codes.width(l, s))
	}
	h := 8.6 * float64(len(lines)-1)
	type place struct{ x, y, fx, fy, tx, ty, cost float64 }
	var best *place
	for _, d := range f.Drift {
		for i, t := range d.AtS {
			lo, hi := d.Value[i], d.Value[i]
			if len(d.Low) > 0 {
				lo, hi = d.Low[i], d.High[i]
			}
			px := X.at(t)
			for _, up := range []bool{true, false} {
				for k := range 14 {
					away := 9 + 4*float64(k)
					for _, dx := range []float64{-.5, -.15, -.85} {
						x := px + dx*w
						var y, fy, ty float64
						if up {
							ty = Y.clamp(hi)
							fy = ty - away
							y = fy - 2.5 - h
						} else {
							ty = Y.clamp(lo)
							fy = ty + away
							y = fy + 6.6
						}
						if x < x0+2 || x+w > x1 || y-5.3 < yt || y+h+2 > yb {
							continue
						}
						b := box{x - 1, y - 5.6, x + w + 1, y + h + 2}
						if c.onHaze(b) || !c.clear(b, false) || c.leaderBlocked(px, fy, px, ty) {
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
		c.lost(name.String())
		if c.level == 0 { // a shorter name may find room
			c.unmet++
		}
		return
	}
	for i, l := range lines {
		c.text(best.x, best.y+8.6*float64(i), l, s)
	}
	c.line(best.fx, best.fy, best.tx, best.ty, pen{w: leader, tone: Ink, ghost: true})
}

// leaderBlocked tells whether a leader would run through a mark or a text.
func (c *canvas) leaderBlocked(x1, y1, x2, y2 float64) bool {
	l, r, t, b := math.Min(x1, x2)-1.2, math.Max(x1, x2)+1.2, math.Min(y1, y2)+.8, math.Max(y1, y2)-.8
	if c.ink.any(box{l, t, r, b}, func(p Point) bool { return p.X > l && p.X < r && p.Y > t && p.Y < b }) {
		return true
	}
	return slices.ContainsFunc(c.texts, func(o placed) bool { return !o.gone && o.meets(box{l, t, r, b}) })
}
