package figure

import (
	"math"

	"example.org/bookend/figure/fonts"
	"example.org/bookend/unit"
)

// UncertaintyBudget shows which part of an interval comes from where, as shares
// of its variance in one bar, and below what the interval would be with one
// thing done otherwise, against the interval as it is.
type UncertaintyBudget struct {
	Head
	Parts    []BudgetPart   `json:"parts"` // in the order in which they stand, the largest first as a rule
	Code     string         `json:"code"`  // whose interval
	Value    Axis           `json:"value"`
	Control  float64        `json:"control"` // where the control stands on the axis
	Estimate float64        `json:"estimate"`
	Options  []BudgetOption `json:"options,omitempty"`
}

// BudgetPart is one source of doubt and its share of the variance; shares are
// taken relative to their sum.
type BudgetPart struct {
	Name  string  `json:"name"`
	Short string  `json:"short,omitempty"`
	Share float64 `json:"share"` // 0 to 1
}

// BudgetOption is the interval as it is (Now), or as it would be.
type BudgetOption struct {
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
func (f *UncertaintyBudget) Draw(w Width) (*Drawing, error) {
	sum := 0.0
	for _, p := range f.Parts {
		if !finite(p.Share) || p.Share < 0 {
			return nil, invalid(f.Kind(), "the share of %q is not a finite number of at least 0", p.Name)
		}
		sum += p.Share
	}
	if !(sum > 0) || !finite(sum) {
		return nil, invalid(f.Kind(), "a budget needs at least one share above 0")
	}
	if !finite(f.Control, f.Estimate) {
		return nil, invalid(f.Kind(), "control or estimate is not finite")
	}
	for _, o := range f.Options {
		if !finite(o.Low, o.High) || o.Low > o.High {
			return nil, invalid(f.Kind(), "the interval %q is not finite or upside down", o.Name)
		}
	}
	return compose(f.Kind(), w, f.Codes, func(c *canvas) { f.layout(c, sum) }), nil
}

// shades are opacities of ink; letters on the first two are paper, on the
// others ink (at least 6:1).
var shades = []float64{.86, .68, .38, .28, .2, .13}

type share struct {
	name, percent string
	x, w          float64
	inside        bool // the percentage stands in the bar
	text          string
	tw, tx        float64
	lane          int
}

func (f *UncertaintyBudget) layout(c *canvas, sum float64) {
	c.head(f.Head)
	style := f.style()
	y, h := c.y+5, c.pick(15, 13)
	var shown []BudgetPart
	for _, p := range f.Parts {
		if p.Share/sum >= .0005 {
			shown = append(shown, p)
		}
		c.say(p.Name + ": " + percent(p.Share/sum, style))
	}
	var parts []share
	x, total := 0.0, c.w-float64(len(shown)-1)
	for i, p := range shown {
		q := share{name: c.word(p.Name, p.Short), percent: percent(p.Share/sum, style), x: x, w: total * p.Share / sum}
		op := shades[min(i, len(shades)-1)]
		c.rect(q.x, y, q.w, h, Ink, op)
		s := setting{face: fonts.SansBold, size: 8, free: true}
		if op > .5 {
			s.tone = Paper
		}
		q.inside = TextWidth(q.percent, s.face, s.size) <= q.w-7
		if q.inside {
			c.text(q.x+4, y+h/2+2.8, plain(q.percent), s)
		}
		q.text = q.name
		if !q.inside {
			q.text += "\u00a0" + q.percent
		}
		q.tw = TextWidth(q.text, fonts.Sans, ptTick)
		parts = append(parts, q)
		x += q.w + 1
	}
	lanes := stair(parts, c.w)
	for _, q := range parts {
		yy := y + h + 10 + 9.2*float64(q.lane)
		c.line(q.x+.25, y+h, q.x+.25, yy-6.2, pen{w: leader, tone: Soft, ghost: true})
		c.text(q.tx, yy, plain(q.text), setting{face: fonts.Sans, size: ptTick})
	}
	y += h + 10 + 9.2*float64(lanes-1)
	c.y = y + 3
	if len(f.Options) > 0 {
		y = f.options(c, y+24)
	}
	c.y = y + 2
	if len(f.Notes) > 0 {
		c.foot(y+14, f.Notes)
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
		ps[i].lane, ps[i].tx = i, math.Max(0, ps[i].x+.5-ps[i].tw)
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
	if p.x+.5-p.tw >= 0 {
		places = append(places, p.x+.5-p.tw)
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
func (f *UncertaintyBudget) options(c *canvas, y float64) float64 {
	nameMax := .36 * c.w
	nameW, textW, rowH := 0.0, 0.0, 14.0
	names := make([][]Text, len(f.Options))
	for i, o := range f.Options {
		s := setting{face: fonts.Sans, size: c.pick(8, 7)}
		if o.Now {
			s.face = fonts.SansBold
		}
		names[i] = c.codes.wrapText(keepUnits(plain(c.word(o.Name, o.Short))), s, nameMax)
		for _, l := range names[i] {
			nameW = math.Max(nameW, c.codes.width(l, s))
		}
		if len(names[i]) > 1 {
			rowH = 9*float64(len(names[i])) + 4
		}
		if !c.half {
			textW = math.Max(textW, TextWidth(o.Text, fonts.Sans, ptLabel))
		}
	}
	L, R := nameW+16, c.w-6
	if textW > 0 {
		R = c.w - textW - 18
	}
	var e extent
	e.add(f.Control, f.Estimate)
	for _, o := range f.Options {
		e.add(o.Low, o.High)
	}
	e = e.open()
	pad := .04 * (e.hi - e.lo)
	X := scale{e.lo - pad, e.hi + pad, L, R}
	n := float64(len(f.Options))
	c.posts(X.at(f.Control), y-rowH/2, y+rowH*(n-.5), f.Codes.Control)
	tone := c.codes.Style(f.Code).Tone
	for i, o := range f.Options {
		yy := y + rowH*float64(i)
		s := setting{face: fonts.Sans, size: c.pick(8, 7)}
		if o.Now {
			s.face = fonts.SansBold
		}
		for k, l := range names[i] {
			c.text(0, yy+2.6+9*(float64(k)-float64(len(names[i])-1)/2), l, s)
		}
		p := pen{w: 1.2, tone: tone, dash: []float64{3, 1.2}}
		if o.Now {
			p.w, p.dash = bar, nil
		}
		lo, hi := X.at(o.Low), X.at(o.High)
		c.line(lo-.9, yy, hi+.9, yy, pen{w: p.w + 1.6, tone: Paper, ghost: true})
		c.stem(span{lo: lo, hi: hi}, yy, false, 3.2, .9, p)
		c.marker(f.Code, X.at(f.Estimate), yy, 2.7, !o.Now)
		if !c.half && o.Text != "" {
			c.text(c.w, yy+2.6, plain(o.Text), setting{face: fonts.Sans, size: ptLabel, anchor: End})
		}
		c.say(o.Name + ": " + o.Text)
	}
	yb := y + rowH*(n-.5) + 8
	most := 6
	if c.half {
		most = 5
	}
	ts, power := ticks(X.v0, X.v1, max(2, most-c.level), f.Value.Signed, f.style())
	c.levelAxis(yb, X, ts)
	name := c.axisWords(f.Value, power)
	s := setting{face: fonts.Sans, size: ptNote, tone: Soft, anchor: End}
	w := c.codes.width(name, s)
	end := math.Max(R, w)
	c.text(end, yb+19, name, s)
	if f.Value.Better != Nowhere && end-w-10 > 45 {
		c.better(end-w-10, yb+19, f.Value.Better, false, End)
	}
	return yb + 21
}
