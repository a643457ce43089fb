package draft

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/figure/fonts"
	"example.org/bookend/unit"
)

// Box is the space that a text takes: from above its capitals to below its
// baseline.
type Box struct{ X0, Y0, X1, Y1 float64 }

func (a Box) meets(b Box) bool {
	return a.X0 < b.X1+.8 && b.X0 < a.X1+.8 && a.Y0 < b.Y1 && b.Y0 < a.Y1
}

func (a Box) holds(p Point) bool {
	return p.X > a.X0-.3 && p.X < a.X1+.3 && p.Y > a.Y0+.2 && p.Y < a.Y1-.4
}

type placed struct {
	Box
	words string
	item  int
	free  bool
	spare bool
	gone  bool
}

// Canvas is one attempt at laying a figure out. Attempts get terser: at level
// 0 all words are long, at 1 they are short, at 2 ticks and columns are fewer,
// at 3 all that can be dropped is dropped.
type Canvas struct {
	kind   string
	W      float64 // width in points
	Half   bool    // drawn for the half width
	Level  int     // how terse this attempt is, 0 to 3
	Codes  Codes
	items  []Item
	texts  []placed
	ink    inkGrid // marks and curves, sampled
	haze   []Box   // bands, on which a code's letter is not put if it can be helped
	Y      float64 // how far down the figure has got
	Title  string
	desc   []string
	Doubts caveat.List
	Unmet  int // labels that found no place and may at a terser level
}

const levels = 4

// Compose lays a figure out at the first level at which no text touches
// anything, then leaves out what may be left out. What still touches is kept,
// with a caveat: a report is never refused for a label.
func Compose(kind string, w Width, codes Codes, draw func(*Canvas)) *Drawing {
	var best *Canvas
	fewest := math.MaxInt
	for level := range levels {
		c := &Canvas{kind: kind, W: float64(w), Half: w.half(), Level: level, Codes: codes}
		draw(c)
		n := len(c.clashes()) + c.Unmet
		if n < fewest {
			best, fewest = c, n
		}
		if n == 0 {
			break
		}
	}
	best.shed()
	return best.Done()
}

// Bare gives an empty canvas for a picture that needs no attempts, w points wide.
func Bare(kind string, w float64, codes Codes) *Canvas {
	return &Canvas{kind: kind, W: w, Codes: codes}
}

// Word gives the long words where there is room for them, else the short ones.
func (c *Canvas) Word(long, short string) string {
	if short != "" && (c.Half || c.Level >= 1) {
		return short
	}
	return long
}

// Words is Word for texts.
func (c *Canvas) Words(long, short Text) Text {
	if len(short) > 0 && (c.Half || c.Level >= 1) {
		return short
	}
	return long
}

// Pick gives the measure for the figure's width.
func (c *Canvas) Pick(full, half float64) float64 {
	if c.Half {
		return half
	}
	return full
}

// ---------------------------------------------------------------- texts

// BoxOf gives the space that a text would take.
func (c *Canvas) BoxOf(x, y float64, rs []Run, s Setting) Box {
	w := runsWidth(rs)
	x0 := x
	switch s.Anchor {
	case Middle:
		x0 = x - w/2
	case End:
		x0 = x - w
	}
	top := y - s.Size*.7
	for _, r := range rs {
		if r.Rise > 0 {
			top = math.Min(top, y-r.Rise-r.Size*.6)
		}
	}
	return Box{x0, top, x0 + w, y + s.Size*.2}
}

// Text sets a text on its baseline and gives its width in points.
func (c *Canvas) Text(x, y float64, t Text, s Setting) float64 {
	rs := c.Codes.Runs(t, s)
	if len(rs) == 0 {
		return 0
	}
	b := c.BoxOf(x, y, rs, s)
	c.texts = append(c.texts, placed{Box: b, words: t.String(), item: len(c.items), free: s.Free, spare: s.Spare})
	c.items = append(c.items, Item{Label: &Label{At: Point{x, y}, Anchor: s.Anchor, Runs: rs, Halo: s.Halo}})
	return b.X1 - b.X0
}

// Clear tells whether a text may stand there: inside the figure's sides, clear
// of all texts, and of all marks unless free.
func (c *Canvas) Clear(b Box, free bool) bool {
	if b.X0 < -.3 || b.X1 > c.W+.3 || b.Y0 < 0 {
		return false
	}
	for _, o := range c.texts {
		if !o.gone && b.meets(o.Box) {
			return false
		}
	}
	return free || !c.onInk(b)
}

func (c *Canvas) onInk(b Box) bool { return c.ink.any(b, b.holds) }

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
func (g inkGrid) any(b Box, f func(Point) bool) bool {
	for i := int(math.Floor((b.X0 - 1) / inkCell)); i <= int(math.Floor((b.X1+1)/inkCell)); i++ {
		for j := int(math.Floor((b.Y0 - 1) / inkCell)); j <= int(math.Floor((b.Y1+1)/inkCell)); j++ {
			if slices.ContainsFunc(g[[2]int{i, j}], f) {
				return true
			}
		}
	}
	return false
}

// OnHaze tells whether a box lies on a band.
func (c *Canvas) OnHaze(b Box) bool {
	return slices.ContainsFunc(c.haze, func(h Box) bool {
		return b.X0 < h.X1 && h.X0 < b.X1 && b.Y0 < h.Y1 && h.Y0 < b.Y1
	})
}

// Try sets a text if it is clear there, and tells whether it was.
func (c *Canvas) Try(x, y float64, t Text, s Setting) bool {
	rs := c.Codes.Runs(t, s)
	if !c.Clear(c.BoxOf(x, y, rs, s), s.Free) {
		return false
	}
	c.Text(x, y, t, s)
	return true
}

// First sets a text at the first of several places where it is clear, and tells
// whether there was one.
func (c *Canvas) First(t Text, s Setting, places []Point) bool {
	for _, p := range places {
		if c.Try(p.X, p.Y, t, s) {
			return true
		}
	}
	return false
}

// Blocked tells whether a straight leader would run through a mark or a text.
func (c *Canvas) Blocked(x1, y1, x2, y2 float64) bool {
	b := Box{math.Min(x1, x2) - 1.2, math.Min(y1, y2) + .8, math.Max(x1, x2) + 1.2, math.Max(y1, y2) - .8}
	if c.ink.any(b, func(p Point) bool { return p.X > b.X0 && p.X < b.X1 && p.Y > b.Y0 && p.Y < b.Y1 }) {
		return true
	}
	return slices.ContainsFunc(c.texts, func(o placed) bool { return !o.gone && o.meets(b) })
}

// Block sets running text from its first baseline and gives the last one.
func (c *Canvas) Block(x, y float64, t Text, width float64, s Setting, lead float64, even bool) (float64, int) {
	t = KeepUnits(t)
	var lines []Text
	if even {
		lines = c.Codes.WrapEven(t, s, width)
	} else {
		lines = c.Codes.WrapText(t, s, width)
	}
	for i, l := range lines {
		c.Text(x, y+float64(i)*lead, l, s)
	}
	return y + float64(max(len(lines)-1, 0))*lead, len(lines)
}

func (c *Canvas) clashes() []Clash {
	var out []Clash
	for i, a := range c.texts {
		if a.gone {
			continue
		}
		if a.X0 < -.3 || a.X1 > c.W+.3 || a.Y0 < 0 || a.Y1 > c.Y+.5 {
			out = append(out, Clash{a.words, "edge"})
		}
		for _, b := range c.texts[i+1:] {
			if !b.gone && a.meets(b.Box) {
				out = append(out, Clash{a.words, b.words})
			}
		}
		if !a.free && c.onInk(a.Box) {
			out = append(out, Clash{a.words, "mark"})
		}
	}
	return out
}

// shed leaves out the spare texts that touch something, last set first.
func (c *Canvas) shed() {
	var lost []string
	for i := len(c.texts) - 1; i >= 0; i-- {
		t := &c.texts[i]
		if !t.spare || t.gone {
			continue
		}
		hit := t.X0 < -.3 || t.X1 > c.W+.3 || t.Y0 < 0 || t.Y1 > c.Y+.5 || !t.free && c.onInk(t.Box)
		for j := range c.texts {
			hit = hit || j != i && !c.texts[j].gone && t.meets(c.texts[j].Box)
		}
		if hit {
			t.gone = true
			c.items[t.item] = Item{}
			lost = append(lost, t.words)
		}
	}
	slices.Reverse(lost)
	c.Lost(lost...)
}

// Lost says which labels had no room.
func (c *Canvas) Lost(words ...string) {
	if len(words) > 0 {
		c.Doubts.Add("figure_label_left_out", caveat.Place{}, "No room in the figure for: %s.", strings.Join(words, "; "))
	}
}

// Done gives the canvas as a drawing.
func (c *Canvas) Done() *Drawing {
	d := &Drawing{Kind: c.kind, Width: c.W, Height: c.Y, Title: c.Title, Desc: strings.Join(c.desc, " "), Clashes: c.clashes()}
	for _, it := range c.items {
		if it != (Item{}) {
			d.Items = append(d.Items, it)
		}
	}
	d.Caveats = c.Doubts.Distinct()
	var seen []string
	for _, k := range d.Clashes {
		seen = append(seen, k.Text)
	}
	if len(seen) > 0 {
		d.Caveats.Add("figure_labels_touch", caveat.Place{}, "In the figure these labels touch something: %s.", strings.Join(slices.Compact(seen), "; "))
	}
	return d
}

// Say adds a sentence to what those hear who cannot see the figure.
func (c *Canvas) Say(s string) {
	if s != "" {
		c.desc = append(c.desc, strings.TrimRight(s, ". ")+".")
	}
}

// ---------------------------------------------------------------- lines and marks

// Pen is how a line is drawn.
type Pen struct {
	W     float64 // in points
	Tone  Tone
	Dash  []float64
	Op    float64 // opacity; 0 is full
	Ghost bool    // no text keeps clear of it: grid, leaders
	Round bool
}

func (p Pen) paint() Paint {
	op := p.Op
	if op == 0 {
		op = 1
	}
	tone := p.Tone
	if tone == None {
		tone = Ink
	}
	return Paint{tone, op}
}

func (c *Canvas) put(p *Path) { c.items = append(c.items, Item{Path: p}) }

func (c *Canvas) sample(pts []Point) {
	for i := 0; i+1 < len(pts); i++ {
		a, b := pts[i], pts[i+1]
		n := max(1, int(math.Ceil(math.Hypot(b.X-a.X, b.Y-a.Y)/1.2)))
		for k := 0; k <= n; k++ {
			f := float64(k) / float64(n)
			c.ink.add(Point{a.X + (b.X-a.X)*f, a.Y + (b.Y-a.Y)*f})
		}
	}
}

// Line draws a straight line.
func (c *Canvas) Line(x1, y1, x2, y2 float64, p Pen) { c.Poly([]Point{{x1, y1}, {x2, y2}}, p) }

// Poly draws a line through points.
func (c *Canvas) Poly(pts []Point, p Pen) {
	if len(pts) < 2 {
		return
	}
	if !p.Ghost {
		c.sample(pts)
	}
	c.put(&Path{Outlines: []Outline{{Points: Simplify(pts, seen)}}, Line: p.paint(), Width: p.W, Dash: p.Dash, Round: p.Round})
}

// seen is how far a line may be off before anybody sees it, in points: a
// tenth of a hairline.
const seen = .03

// Simplify gives a line with as few of its points as keep every point within
// tol of it (Douglas and Peucker 1973). A long recording would fill the file
// and not be seen.
func Simplify(ps []Point, tol float64) []Point {
	if len(ps) < 3 {
		return slices.Clone(ps)
	}
	keep := make([]bool, len(ps))
	keep[0], keep[len(ps)-1] = true, true
	spans := [][2]int{{0, len(ps) - 1}}
	for len(spans) > 0 {
		s := spans[len(spans)-1]
		spans = spans[:len(spans)-1]
		a, b := ps[s[0]], ps[s[1]]
		far, at := tol, -1
		for i := s[0] + 1; i < s[1]; i++ {
			if d := offLine(ps[i], a, b); d > far {
				far, at = d, i
			}
		}
		if at >= 0 {
			keep[at] = true
			spans = append(spans, [2]int{s[0], at}, [2]int{at, s[1]})
		}
	}
	var out []Point
	for i, p := range ps {
		if keep[i] {
			out = append(out, p)
		}
	}
	return out
}

// offLine gives the distance of p from the stretch between a and b.
func offLine(p, a, b Point) float64 {
	dx, dy := b.X-a.X, b.Y-a.Y
	n := dx*dx + dy*dy
	u := 0.0
	if n > 0 {
		u = math.Max(0, math.Min(1, ((p.X-a.X)*dx+(p.Y-a.Y)*dy)/n))
	}
	return math.Hypot(p.X-a.X-u*dx, p.Y-a.Y-u*dy)
}

// Area fills an outline.
func (c *Canvas) Area(pts []Point, tone Tone, op float64) {
	if len(pts) > 2 {
		c.put(&Path{Outlines: []Outline{{pts, true}}, Fill: Paint{tone, op}})
	}
}

// Rect fills a rectangle, given by its top left corner and its size.
func (c *Canvas) Rect(x, y, w, h float64, tone Tone, op float64) {
	c.Area([]Point{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}}, tone, op)
}

// Band draws a band between two edges, top first, as haze.
func (c *Canvas) Band(top, bottom []Point, tone Tone, op float64) {
	back := Simplify(bottom, seen)
	slices.Reverse(back)
	c.Area(append(Simplify(top, seen), back...), tone, op)
	for _, e := range [][]Point{top, bottom} {
		c.Poly(e, Pen{W: Hair, Tone: tone, Op: .55, Ghost: true})
	}
	for i := 0; i+1 < len(top); i++ {
		c.haze = append(c.haze, Box{top[i].X, math.Min(top[i].Y, top[i+1].Y), top[i+1].X, math.Max(bottom[i].Y, bottom[i+1].Y)})
	}
}

// Marker draws a code's marker; open is a what-if or a peak.
func (c *Canvas) Marker(code string, x, y, r float64, open bool) {
	c.Shape(c.Codes.Style(code), x, y, r, open)
}

// Shape draws a marker in a style; open is a what-if or a peak.
func (c *Canvas) Shape(s CodeStyle, x, y, r float64, open bool) {
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

// Dot draws a run.
func (c *Canvas) Dot(x, y, r float64, tone Tone, op float64) {
	c.items = append(c.items, Item{Circle: &Circle{Centre: Point{x, y}, Radius: r, Fill: Paint{tone, op}}})
	c.ink.add(Point{x, y}, Point{x - r, y}, Point{x + r, y}, Point{x, y - r}, Point{x, y + r})
}

// Ring draws a ring around a run that is left out: red if a limit was broken.
func (c *Canvas) Ring(x, y, r float64, tone Tone) {
	c.items = append(c.items, Item{Circle: &Circle{Centre: Point{x, y}, Radius: r, Line: Paint{tone, 1}, Width: .8}})
	for i := range 12 {
		a := float64(i) / 12 * 2 * math.Pi
		c.ink.add(Point{x + r*math.Cos(a), y + r*math.Sin(a)})
	}
}

// Interval is a stretch of an interval, cut to where it can be drawn.
type Interval struct {
	Lo, Hi       float64 // drawn ends, in points along the axis
	OffLo, OffHi bool    // it goes on beyond
}

// Cut gives the stretch between two places as far as it lies within lo to hi.
func Cut(a, b, lo, hi float64) Interval {
	if a > b {
		a, b = b, a
	}
	s := Interval{Lo: math.Min(math.Max(a, lo), hi), Hi: math.Max(math.Min(b, hi), lo)}
	s.OffLo, s.OffHi = a < lo-.01, b > hi+.01
	return s
}

// Stem draws an interval with ends, level or upright; an end that lies beyond
// the plot is an arrowhead.
func (c *Canvas) Stem(s Interval, at float64, upright bool, end, endWidth float64, p Pen) {
	put := func(x1, y1, x2, y2 float64, p Pen) {
		if upright {
			x1, y1, x2, y2 = y1, x1, y2, x2
		}
		c.Line(x1, y1, x2, y2, p)
	}
	put(s.Lo, at, s.Hi, at, p)
	q := p
	q.W, q.Dash = endWidth, nil
	for i, v := range []float64{s.Lo, s.Hi} {
		off, dir := s.OffLo, -1.0
		if i == 1 {
			off, dir = s.OffHi, 1
		}
		switch {
		case off && upright:
			c.Arrowhead(at, v+dir*2.6, dir*math.Pi/2, p.Tone, 3.4)
		case off:
			a := 0.0
			if dir < 0 {
				a = math.Pi
			}
			c.Arrowhead(v+dir*2.6, at, a, p.Tone, 3.4)
		default:
			put(v, at-end, v, at+end, q)
		}
	}
}

// Arrowhead draws an arrowhead with its tip at a place, pointing along an angle in rad
// (0 to the right, y down).
func (c *Canvas) Arrowhead(x, y, angle float64, tone Tone, r float64) {
	at := func(a float64) Point { return Point{x + r*math.Cos(a), y + r*math.Sin(a)} }
	pts := []Point{{x, y}, at(angle + math.Pi - .34), at(angle + math.Pi + .34)}
	c.Area(pts, tone, 1)
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

// Better writes the word with a small arrow, from x, along an upright axis or a level one.
func (c *Canvas) Better(x, y float64, t Toward, upright bool, anchor Anchor) float64 {
	if t == Nowhere {
		return 0
	}
	s := Setting{Face: fonts.SansItalic, Size: PtNote, Tone: Soft, Free: true}
	w := TextWidth("better", s.Face, s.Size)
	p := Pen{W: Thin, Tone: Soft}
	total := w + 7
	if !upright {
		total = w + 13
	}
	if anchor == End {
		x -= total
	}
	switch {
	case upright && t == Falling:
		c.Line(x+2.5, y-5, x+2.5, y-1, p)
		c.Arrowhead(x+2.5, y+1.3, math.Pi/2, Soft, 3)
		c.Text(x+7, y, Plain("better"), s)
	case upright:
		c.Line(x+2.5, y+.8, x+2.5, y-3, p)
		c.Arrowhead(x+2.5, y-5.6, -math.Pi/2, Soft, 3)
		c.Text(x+7, y, Plain("better"), s)
	case t == Falling:
		c.Line(x+3, y-2, x+10, y-2, p)
		c.Arrowhead(x+.4, y-2, math.Pi, Soft, 3)
		c.Text(x+13, y, Plain("better"), s)
	default:
		c.Text(x, y, Plain("better"), s)
		c.Line(x+w+2.4, y-2, x+w+10, y-2, p)
		c.Arrowhead(x+w+12.6, y-2, 0, Soft, 3)
	}
	return total
}

// Posts draws the control's upright line between two square posts, with its
// letter above: two posts hold what is between them.
func (c *Canvas) Posts(x, top, bottom float64, letter string) {
	c.Line(x, top, x, bottom, Pen{W: Control, Tone: Ink})
	c.Post(x, top)
	c.Post(x, bottom)
	if letter != "" {
		c.Text(x, top-4.4, Say(CodeOf(letter)), Setting{Face: fonts.SansBold, Size: 8, Anchor: Middle, Free: true})
	}
}

// Post draws one of the control's square posts.
func (c *Canvas) Post(x, y float64) { c.Rect(x-2.1, y-2.1, 4.2, 4.2, Ink, 1) }

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

// Above gives the head itself: a document sets in it what it knows and the figure's maker
// did not, the figure's number and how numbers are written.
func (h *Head) Above() *Head { return h }

// Style is how the figure's ticks are written.
func (h Head) Style() unit.Style { return unit.Style{Comma: h.Comma} }

// Head sets what stands above a figure.
func (c *Canvas) Head(h Head) {
	c.Line(0, .4, c.W, .4, Pen{W: .8, Ghost: true})
	s := Setting{Face: fonts.Sans, Size: PtHead, Tone: Soft}
	room := c.W
	if h.Number > 0 {
		e := s
		e.Anchor = End
		room -= c.Text(c.W, 9, Plain("Figure\u00a0"+strconv.Itoa(h.Number)), e) + 10
	}
	test := h.Test
	if TextWidth(test, s.Face, s.Size) > room || c.Half && h.TestShort != "" {
		test = c.wordIf(h.TestShort, h.Test)
	}
	c.Text(0, 9, Plain(Shorten(test, s.Face, s.Size, room)), s)

	size := c.Pick(ptTitle, ptTitleHalf)
	ts := Setting{Face: fonts.Serif, Size: size}
	title := c.Words(h.Title, h.TitleShort)
	if len(h.TitleShort) > 0 && len(c.Codes.WrapEven(KeepUnits(title), ts, c.W-2)) > 2 {
		title = h.TitleShort
	}
	y, n := c.Block(0, 9+size*1.42, title, c.W-2, ts, size*1.19, true)
	if n > 2 {
		c.Doubts.Add("figure_title_long", caveat.Place{}, "The figure’s title runs to %d lines.", n)
	}
	c.Title = h.Title.String()
	if sub := c.Words(h.Sub, h.SubShort); len(sub) > 0 {
		y, _ = c.Block(0, y+11.2, sub, c.W-2, Setting{Face: fonts.Sans, Size: PtSub, Tone: Soft}, 9.1, false)
	}
	c.Say(h.Sub.String())
	c.Y = y + 6
}

func (c *Canvas) wordIf(short, long string) string {
	if short != "" {
		return short
	}
	return long
}

// Foot sets the notes from a first baseline at y and closes the figure.
func (c *Canvas) Foot(y float64, notes []Note) {
	c.Y = y - 9
	for i, n := range notes {
		number := n.Number
		if number <= 0 {
			number = i + 1
		}
		num := strconv.Itoa(number)
		c.Text(0, y-2, Plain(num), Setting{Face: fonts.Sans, Size: PtMark})
		in := math.Max(5, TextWidth(num, fonts.Sans, PtMark)+2)
		t := c.Words(n.Text, n.Short)
		last, _ := c.Block(in, y, t, c.W-in-1, Setting{Face: fonts.Sans, Size: PtNote, Tone: Soft}, 8, false)
		y = last + 8.4
		c.Y = last + 3
		c.Say(num + ": " + n.Text.String())
	}
}

// ---------------------------------------------------------------- keeping labels apart

// Spread keeps labels along one direction in their order and gap apart within lo to hi,
// each moved as little as possible (pool adjacent violators: labels that would
// overlap share their mean displacement). Places are of the labels' middles, in points.
func Spread(at []float64, gap, lo, hi float64) []float64 {
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
	low, high := lo+gap/2, hi-gap/2-float64(max(len(at)-1, 0))*gap
	for _, p := range pools {
		base := math.Min(math.Max(p.sum/float64(p.n), low), high)
		for range p.n {
			out[idx[k]] = base + float64(k)*gap
			k++
		}
	}
	return out
}
