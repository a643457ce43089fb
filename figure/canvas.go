package figure

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/figure/fonts"
	"example.org/bookend/unit"
)

// box is the space that a text takes: from above its capitals to below its
// baseline.
type box struct{ x0, y0, x1, y1 float64 }

func (a box) meets(b box) bool {
	return a.x0 < b.x1+.8 && b.x0 < a.x1+.8 && a.y0 < b.y1 && b.y0 < a.y1
}

func (a box) holds(p Point) bool {
	return p.X > a.x0-.3 && p.X < a.x1+.3 && p.Y > a.y0+.2 && p.Y < a.y1-.4
}

type placed struct {
	box
	words string
	item  int
	free  bool
	spare bool
	gone  bool
}

// canvas is one attempt at laying a figure out. Attempts get terser: at level
// 0 all words are long, at 1 they are short, at 2 ticks and columns are fewer,
// at 3 all that can be dropped is dropped.
type canvas struct {
	kind   string
	w      float64
	half   bool
	level  int
	codes  Codes
	items  []Item
	texts  []placed
	ink    inkGrid // marks and curves, sampled
	haze   []box   // bands, on which a code's letter is not put if it can be helped
	y      float64 // how far down the figure has got
	title  string
	desc   []string
	doubts caveat.List
	unmet  int // labels that found no place and may at a terser level
}

const levels = 4

// compose lays a figure out at the first level at which no text touches
// anything, then leaves out what may be left out. What still touches is kept,
// with a caveat: a report is never refused for a label.
func compose(kind string, w Width, codes Codes, draw func(*canvas)) *Drawing {
	var best *canvas
	fewest := math.MaxInt
	for level := range levels {
		c := &canvas{kind: kind, w: float64(w), half: w.half(), level: level, codes: codes}
		draw(c)
		n := len(c.clashes()) + c.unmet
		if n < fewest {
			best, fewest = c, n
		}
		if n == 0 {
			break
		}
	}
	best.shed()
	return best.done()
}

// word gives the long words where there is room for them, else the short ones.
func (c *canvas) word(long, short string) string {
	if short != "" && (c.half || c.level >= 1) {
		return short
	}
	return long
}

func (c *canvas) words(long, short Text) Text {
	if len(short) > 0 && (c.half || c.level >= 1) {
		return short
	}
	return long
}

// pick gives the measure for the figure's width.
func (c *canvas) pick(full, half float64) float64 {
	if c.half {
		return half
	}
	return full
}

// ---------------------------------------------------------------- texts

func (c *canvas) boxOf(x, y float64, rs []Run, s setting) box {
	w := runsWidth(rs)
	x0 := x
	switch s.anchor {
	case Middle:
		x0 = x - w/2
	case End:
		x0 = x - w
	}
	top := y - s.size*.7
	for _, r := range rs {
		if r.Rise > 0 {
			top = math.Min(top, y-r.Rise-r.Size*.6)
		}
	}
	return box{x0, top, x0 + w, y + s.size*.2}
}

// text sets a text on its baseline and gives its width in points.
func (c *canvas) text(x, y float64, t Text, s setting) float64 {
	rs := c.codes.runs(t, s)
	if len(rs) == 0 {
		return 0
	}
	b := c.boxOf(x, y, rs, s)
	c.texts = append(c.texts, placed{box: b, words: t.String(), item: len(c.items), free: s.free, spare: s.spare})
	c.items = append(c.items, Item{Label: &Label{At: Point{x, y}, Anchor: s.anchor, Runs: rs, Halo: s.halo}})
	return b.x1 - b.x0
}

// clear tells whether a text may stand there: inside the figure's sides, clear
// of all texts, and of all marks unless free.
func (c *canvas) clear(b box, free bool) bool {
	if b.x0 < -.3 || b.x1 > c.w+.3 || b.y0 < 0 {
		return false
	}
	for _, o := range c.texts {
		if !o.gone && b.meets(o.box) {
			return false
		}
	}
	return free || !c.onInk(b)
}

func (c *canvas) onInk(b box) bool { return c.ink.any(b, b.holds) }

// inkGrid keeps points by cells, so that a box is tested against its own
// neighbourhood alone.
type inkGrid map[[2]int][]Point

const inkCell = 8 // points

func (g *inkGrid) add(ps ...Point) {
	if *g == nil {
		*g = inkGrid{}
	}
	for _, p := range ps {
		k := [2]int{int(math.Floor(p.X / inkCell)), int(math.Floor(p.Y / inkCell))}
		(*g)[k] = append((*g)[k], p)
	}
}

// any tells whether a point near the box is one that is asked for.
func (g inkGrid) any(b box, f func(Point) bool) bool {
	for i := int(math.Floor((b.x0 - 1) / inkCell)); i <= int(math.Floor((b.x1+1)/inkCell)); i++ {
		for j := int(math.Floor((b.y0 - 1) / inkCell)); j <= int(math.Floor((b.y1+1)/inkCell)); j++ {
			if slices.ContainsFunc(g[[2]int{i, j}], f) {
				return true
			}
		}
	}
	return false
}

func (c *canvas) onHaze(b box) bool {
	return slices.ContainsFunc(c.haze, func(h box) bool {
		return b.x0 < h.x1 && h.x0 < b.x1 && b.y0 < h.y1 && h.y0 < b.y1
	})
}

// try sets a text if it is clear there, and tells whether it was.
func (c *canvas) try(x, y float64, t Text, s setting) bool {
	rs := c.codes.runs(t, s)
	if !c.clear(c.boxOf(x, y, rs, s), s.free) {
		return false
	}
	c.text(x, y, t, s)
	return true
}

// block sets running text from its first baseline and gives the last one.
func (c *canvas) block(x, y float64, t Text, max float64, s setting, lead float64, even bool) (float64, int) {
	t = keepUnits(t)
	var lines []Text
	if even {
		lines = c.codes.wrapEven(t, s, max)
	} else {
		lines = c.codes.wrapText(t, s, max)
	}
	for i, l := range lines {
		c.text(x, y+float64(i)*lead, l, s)
	}
	return y + float64(max0(len(lines)-1))*lead, len(lines)
}

func max0(n int) int { return max(n, 0) }

func (c *canvas) clashes() []Clash {
	var out []Clash
	for i, a := range c.texts {
		if a.gone {
			continue
		}
		if a.x0 < -.3 || a.x1 > c.w+.3 || a.y0 < 0 || a.y1 > c.y+.5 {
			out = append(out, Clash{a.words, "edge"})
		}
		for _, b := range c.texts[i+1:] {
			if !b.gone && a.meets(b.box) {
				out = append(out, Clash{a.words, b.words})
			}
		}
		if !a.free && c.onInk(a.box) {
			out = append(out, Clash{a.words, "mark"})
		}
	}
	return out
}

// shed leaves out the spare texts that touch something, last set first.
func (c *canvas) shed() {
	var lost []string
	for i := len(c.texts) - 1; i >= 0; i-- {
		t := &c.texts[i]
		if !t.spare || t.gone {
			continue
		}
		hit := t.x0 < -.3 || t.x1 > c.w+.3 || t.y0 < 0 || t.y1 > c.y+.5 || !t.free && c.onInk(t.box)
		for j := range c.texts {
			hit = hit || j != i && !c.texts[j].gone && t.meets(c.texts[j].box)
		}
		if hit {
			t.gone = true
			c.items[t.item] = Item{}
			lost = append(lost, t.words)
		}
	}
	slices.Reverse(lost)
	c.lost(lost...)
}

// lost says which labels had no room.
func (c *canvas) lost(words ...string) {
	if len(words) > 0 {
		c.doubts.Add("figure_label_left_out", caveat.Place{}, "No room in the figure for: %s.", strings.Join(words, "; "))
	}
}

func (c *canvas) done() *Drawing {
	d := &Drawing{Kind: c.kind, Width: c.w, Height: c.y, Title: c.title, Desc: strings.Join(c.desc, " "), Clashes: c.clashes()}
	for _, it := range c.items {
		if it != (Item{}) {
			d.Items = append(d.Items, it)
		}
	}
	d.Caveats = c.doubts.Distinct()
	var seen []string
	for _, k := range d.Clashes {
		seen = append(seen, k.Text)
	}
	if len(seen) > 0 {
		d.Caveats.Add("figure_labels_touch", caveat.Place{}, "In the figure these labels touch something: %s.", strings.Join(slices.Compact(seen), "; "))
	}
	return d
}

// say adds a sentence to what those hear who cannot see the figure.
func (c *canvas) say(s string) {
	if s != "" {
		c.desc = append(c.desc, strings.TrimRight(s, ". ")+".")
	}
}

// ---------------------------------------------------------------- lines and marks

// pen is how a line is drawn.
type pen struct {
	w     float64
	tone  Tone
	dash  []float64
	op    float64 // 0 is full
	ghost bool    // no text keeps clear of it: grid, leaders
	round bool
}

func (p pen) paint() Paint {
	op := p.op
	if op == 0 {
		op = 1
	}
	tone := p.tone
	if tone == None {
		tone = Ink
	}
	return Paint{tone, op}
}

func (c *canvas) put(p *Path) { c.items = append(c.items, Item{Path: p}) }

func (c *canvas) sample(pts []Point) {
	for i := 0; i+1 < len(pts); i++ {
		a, b := pts[i], pts[i+1]
		n := max(1, int(math.Ceil(math.Hypot(b.X-a.X, b.Y-a.Y)/1.2)))
		for k := 0; k <= n; k++ {
			f := float64(k) / float64(n)
			c.ink.add(Point{a.X + (b.X-a.X)*f, a.Y + (b.Y-a.Y)*f})
		}
	}
}

func (c *canvas) line(x1, y1, x2, y2 float64, p pen) { c.poly([]Point{{x1, y1}, {x2, y2}}, p) }

func (c *canvas) poly(pts []Point, p pen) {
	if len(pts) < 2 {
		return
	}
	if !p.ghost {
		c.sample(pts)
	}
	c.put(&Path{Outlines: []Outline{{Points: pts}}, Line: p.paint(), Width: p.w, Dash: p.dash, Round: p.round})
}

func (c *canvas) area(pts []Point, tone Tone, op float64) {
	if len(pts) > 2 {
		c.put(&Path{Outlines: []Outline{{pts, true}}, Fill: Paint{tone, op}})
	}
}

func (c *canvas) rect(x, y, w, h float64, tone Tone, op float64) {
	c.area([]Point{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}}, tone, op)
}

// band draws a band between two edges, top first, as haze.
func (c *canvas) band(top, bottom []Point, tone Tone, op float64) {
	back := slices.Clone(bottom)
	slices.Reverse(back)
	c.area(append(slices.Clone(top), back...), tone, op)
	for _, e := range [][]Point{top, bottom} {
		c.poly(e, pen{w: hair, tone: tone, op: .55, ghost: true})
	}
	for i := 0; i+1 < len(top); i++ {
		c.haze = append(c.haze, box{top[i].X, math.Min(top[i].Y, top[i+1].Y), top[i+1].X, math.Max(bottom[i].Y, bottom[i+1].Y)})
	}
}

// marker draws a code's marker; open is a what-if or a peak.
func (c *canvas) marker(code string, x, y, r float64, open bool) {
	c.shape(c.codes.Style(code), x, y, r, open)
}

func (c *canvas) shape(s CodeStyle, x, y, r float64, open bool) {
	fill, edge, w := Paint{s.Tone, 1}, Paint{Paper, 1}, .6
	if open {
		fill, edge, w = Paint{Paper, 1}, Paint{s.Tone, 1}, .7
	}
	if s.Shape == Disc {
		if !open { // the rim lies outside, so that the disc keeps its size
			c.items = append(c.items, Item{Circle: &Circle{Centre: Point{x, y}, Radius: r + w/2, Fill: edge}})
			edge, w = Paint{}, 0
		}
		c.items = append(c.items, Item{Circle: &Circle{Centre: Point{x, y}, Radius: r, Fill: fill, Line: edge, Width: w}})
	} else {
		pts := make([]Point, len(shapes[s.Shape]))
		for i, p := range shapes[s.Shape] {
			pts[i] = Point{x + p.X*r, y + p.Y*r}
		}
		if !open {
			c.put(&Path{Outlines: []Outline{{pts, true}}, Line: edge, Width: w})
			edge, w = Paint{}, 0
		}
		c.put(&Path{Outlines: []Outline{{pts, true}}, Fill: fill, Line: edge, Width: w})
	}
	for _, dx := range []float64{-1, -.5, 0, .5, 1} {
		for _, dy := range []float64{-1, -.5, 0, .5, 1} {
			c.ink.add(Point{x + dx*r, y + dy*r})
		}
	}
}

func (c *canvas) dot(x, y, r float64, tone Tone, op float64) {
	c.items = append(c.items, Item{Circle: &Circle{Centre: Point{x, y}, Radius: r, Fill: Paint{tone, op}}})
	c.ink.add(Point{x, y}, Point{x - r, y}, Point{x + r, y}, Point{x, y - r}, Point{x, y + r})
}

// ring draws a ring around a run that is left out: red if a limit was broken.
func (c *canvas) ring(x, y, r float64, tone Tone) {
	c.items = append(c.items, Item{Circle: &Circle{Centre: Point{x, y}, Radius: r, Line: Paint{tone, 1}, Width: .8}})
	for i := range 12 {
		a := float64(i) / 12 * 2 * math.Pi
		c.ink.add(Point{x + r*math.Cos(a), y + r*math.Sin(a)})
	}
}

// span is a stretch of an interval, cut to where it can be drawn.
type span struct {
	lo, hi       float64 // drawn ends, in points along the axis
	offLo, offHi bool    // it goes on beyond
}

func cut(a, b, lo, hi float64) span {
	if a > b {
		a, b = b, a
	}
	s := span{lo: math.Min(math.Max(a, lo), hi), hi: math.Max(math.Min(b, hi), lo)}
	s.offLo, s.offHi = a < lo-.01, b > hi+.01
	return s
}

// stem draws an interval with ends, level or upright; an end that lies beyond
// the plot is an arrowhead.
func (c *canvas) stem(s span, at float64, upright bool, end, endWidth float64, p pen) {
	put := func(x1, y1, x2, y2 float64, p pen) {
		if upright {
			x1, y1, x2, y2 = y1, x1, y2, x2
		}
		c.line(x1, y1, x2, y2, p)
	}
	put(s.lo, at, s.hi, at, p)
	q := p
	q.w, q.dash = endWidth, nil
	for i, v := range []float64{s.lo, s.hi} {
		off, dir := s.offLo, -1.0
		if i == 1 {
			off, dir = s.offHi, 1
		}
		switch {
		case off && upright:
			c.arrowhead(at, v+dir*2.6, dir*math.Pi/2, p.tone, 3.4)
		case off:
			a := 0.0
			if dir < 0 {
				a = math.Pi
			}
			c.arrowhead(v+dir*2.6, at, a, p.tone, 3.4)
		default:
			put(v, at-end, v, at+end, q)
		}
	}
}

// arrowhead draws an arrowhead with its tip at a place, pointing along an angle in rad
// (0 to the right, y down).
func (c *canvas) arrowhead(x, y, angle float64, tone Tone, r float64) {
	at := func(a float64) Point { return Point{x + r*math.Cos(a), y + r*math.Sin(a)} }
	pts := []Point{{x, y}, at(angle + math.Pi - .34), at(angle + math.Pi + .34)}
	c.area(pts, tone, 1)
	c.sample(append(pts, pts[0]))
}

// Toward says in which direction of an axis a measure is better.
type Toward string

// The directions.
const (
	Nowhere Toward = ""
	Rising  Toward = "up"   // greater values are better
	Falling Toward = "down" // smaller values are better
)

// better writes the word with a small arrow, from x, along an upright axis or a level one.
func (c *canvas) better(x, y float64, t Toward, upright bool, anchor Anchor) float64 {
	if t == Nowhere {
		return 0
	}
	s := setting{face: fonts.SansItalic, size: ptNote, tone: Soft, free: true}
	w := TextWidth("better", s.face, s.size)
	p := pen{w: thin, tone: Soft}
	total := w + 7
	if !upright {
		total = w + 13
	}
	if anchor == End {
		x -= total
	}
	switch {
	case upright && t == Falling:
		c.line(x+2.5, y-5, x+2.5, y-1, p)
		c.arrowhead(x+2.5, y+1.3, math.Pi/2, Soft, 3)
		c.text(x+7, y, plain("better"), s)
	case upright:
		c.line(x+2.5, y+.8, x+2.5, y-3, p)
		c.arrowhead(x+2.5, y-5.6, -math.Pi/2, Soft, 3)
		c.text(x+7, y, plain("better"), s)
	case t == Falling:
		c.line(x+3, y-2, x+10, y-2, p)
		c.arrowhead(x+.4, y-2, math.Pi, Soft, 3)
		c.text(x+13, y, plain("better"), s)
	default:
		c.text(x, y, plain("better"), s)
		c.line(x+w+2.4, y-2, x+w+10, y-2, p)
		c.arrowhead(x+w+12.6, y-2, 0, Soft, 3)
	}
	return total
}

// posts draws the control's upright line between two square posts, with its
// letter above, and gives nothing: two posts hold what is between them.
func (c *canvas) posts(x, top, bottom float64, letter string) {
	c.line(x, top, x, bottom, pen{w: control, tone: Ink})
	c.post(x, top)
	c.post(x, bottom)
	if letter != "" {
		c.text(x, top-4.4, Say(CodeOf(letter)), setting{face: fonts.SansBold, size: 8, anchor: Middle, free: true})
	}
}

func (c *canvas) post(x, y float64) { c.rect(x-2.1, y-2.1, 4.2, 4.2, Ink, 1) }

// ---------------------------------------------------------------- head and foot

// Note is a numbered note below a figure: what, where, and what it would change.
type Note struct {
	Number int  `json:"number,omitempty"` // 0: its place in the list, from 1
	Text   Text `json:"text"`
	Short  Text `json:"short,omitempty"` // for the half width
}

// Head is what stands above and below every figure.
type Head struct {
	Codes      Codes  `json:"codes"`
	Comma      bool   `json:"comma,omitempty"` // ticks have a decimal comma
	Test       string `json:"test"`            // test, ground, day
	TestShort  string `json:"test_short,omitempty"`
	Number     int    `json:"number,omitempty"` // 0: not numbered
	Title      Text   `json:"title"`            // the finding: a sentence with number and unit, never stronger than the verdict
	TitleShort Text   `json:"title_short,omitempty"`
	Sub        Text   `json:"sub,omitempty"` // what is drawn, what the intervals mean
	SubShort   Text   `json:"sub_short,omitempty"`
	Notes      []Note `json:"notes,omitempty"`
}

func (h Head) style() unit.Style { return unit.Style{Comma: h.Comma} }

func (c *canvas) head(h Head) {
	c.line(0, .4, c.w, .4, pen{w: .8, ghost: true})
	s := setting{face: fonts.Sans, size: ptHead, tone: Soft}
	room := c.w
	if h.Number > 0 {
		e := s
		e.anchor = End
		room -= c.text(c.w, 9, plain("Figure\u00a0"+strconv.Itoa(h.Number)), e) + 10
	}
	test := h.Test
	if TextWidth(test, s.face, s.size) > room || c.half && h.TestShort != "" {
		test = c.wordIf(h.TestShort, h.Test)
	}
	c.text(0, 9, plain(shorten(test, s.face, s.size, room)), s)

	size := c.pick(ptTitle, ptTitleHalf)
	ts := setting{face: fonts.Serif, size: size}
	title := c.words(h.Title, h.TitleShort)
	if len(h.TitleShort) > 0 && len(c.codes.wrapEven(keepUnits(title), ts, c.w-2)) > 2 {
		title = h.TitleShort
	}
	y, n := c.block(0, 9+size*1.42, title, c.w-2, ts, size*1.19, true)
	if n > 2 {
		c.doubts.Add("figure_title_long", caveat.Place{}, "The figure’s title runs to %d lines.", n)
	}
	c.title = h.Title.String()
	if sub := c.words(h.Sub, h.SubShort); len(sub) > 0 {
		y, _ = c.block(0, y+11.2, sub, c.w-2, setting{face: fonts.Sans, size: ptSub, tone: Soft}, 9.1, false)
	}
	c.say(h.Sub.String())
	c.y = y + 6
}

func (c *canvas) wordIf(short, long string) string {
	if short != "" {
		return short
	}
	return long
}

// foot sets the notes from a first baseline at y and closes the figure.
func (c *canvas) foot(y float64, notes []Note) {
	c.y = y - 9
	for i, n := range notes {
		number := n.Number
		if number <= 0 {
			number = i + 1
		}
		num := strconv.Itoa(number)
		c.text(0, y-2, plain(num), setting{face: fonts.Sans, size: ptMark})
		in := math.Max(5, TextWidth(num, fonts.Sans, ptMark)+2)
		t := c.words(n.Text, n.Short)
		last, _ := c.block(in, y, t, c.w-in-1, setting{face: fonts.Sans, size: ptNote, tone: Soft}, 8, false)
		y = last + 8.4
		c.y = last + 3
		c.say(num + ": " + n.Text.String())
	}
}

// ---------------------------------------------------------------- keeping labels apart

// spread keeps labels along one direction in their order and gap apart within lo to hi,
// each moved as little as possible (pool adjacent violators: labels that would
// overlap share their mean displacement). Places are of the labels' middles, in points.
func spread(at []float64, gap, lo, hi float64) []float64 {
	type pool struct {
		sum float64 // of at[i] - i*gap
		n   int
	}
	idx := make([]int, len(at))
	for i := range idx {
		idx[i] = i
	}
	slices.SortStableFunc(idx, func(a, b int) int {
		switch {
		case at[a] < at[b]:
			return -1
		case at[a] > at[b]:
			return 1
		}
		return 0
	})
	if n := float64(len(at)); n > 1 && hi-lo < n*gap {
		gap = (hi - lo) / n
	}
	var pools []pool
	for k, i := range idx {
		pools = append(pools, pool{at[i] - float64(k)*gap, 1})
		for len(pools) > 1 {
			a, b := pools[len(pools)-2], pools[len(pools)-1]
			if a.sum/float64(a.n) <= b.sum/float64(b.n) {
				break
			}
			pools = append(pools[:len(pools)-2], pool{a.sum + b.sum, a.n + b.n})
		}
	}
	out := make([]float64, len(at))
	k := 0
	low, high := lo+gap/2, hi-gap/2-float64(max0(len(at)-1))*gap
	for _, p := range pools {
		base := math.Min(math.Max(p.sum/float64(p.n), low), high)
		for range p.n {
			out[idx[k]] = base + float64(k)*gap
			k++
		}
	}
	return out
}
