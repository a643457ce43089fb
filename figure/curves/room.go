package curves

import (
	"math"
	"slices"

	"example.org/bookend/figure/draft"
	"example.org/bookend/figure/fonts"
	"example.org/bookend/figure/scale"
	"example.org/bookend/unit"
)

// RoomPlot shows lines driven between cones from above: each code's mean line with
// its spread, the cones, and what is written as a length at a station. Offsets are
// drawn longer than stations, and the figure says by how much; a detail keeps their
// ratio.
type RoomPlot struct {
	draft.Head
	Station  draft.Axis `json:"station"`            // "station from the entry gate, m"
	Stretch  float64    `json:"stretch,omitempty"`  // how many times as long offsets are drawn as stations; 0: as the figure's height allows
	Ways     []Way      `json:"ways,omitempty"`     // between cones, as driven
	Cones    []Cone     `json:"cones,omitempty"`    // that bound no way: markers of a slalom
	Curves   []Curve    `json:"curves"`             // offset by station, m
	Stations []float64  `json:"stations,omitempty"` // that the axis names, m; none: round ones
	Detail   *Detail    `json:"detail,omitempty"`   // a part drawn larger
	Gaps     []Gap      `json:"gaps,omitempty"`     // in the detail where there is one
}

// Way is a way between two rows of cones, in m of station and of offset to the left.
type Way struct {
	Name  string  `json:"name"`
	From  float64 `json:"from_m"`
	To    float64 `json:"to_m"`
	Right float64 `json:"right_m"`
	Left  float64 `json:"left_m"`
	Count int     `json:"count,omitempty"` // cones on each side; 0: six
}

// Cone is one cone, in m of station and of offset to the left.
type Cone struct {
	Station float64 `json:"station_m"`
	Offset  float64 `json:"offset_m"`
}

// Detail is a part of the plan, in m of station and of offset, drawn larger.
type Detail struct {
	Name string  `json:"name"` // "the exit, enlarged"
	From float64 `json:"from_m"`
	To   float64 `json:"to_m"`
	Low  float64 `json:"low_m"`
	High float64 `json:"high_m"`
}

// Gap is the distance across the way at a station, from an offset to another, both in
// m; the thick end at the second is its interval.
type Gap struct {
	At       float64  `json:"at_m"`
	From     float64  `json:"from_m"`
	To       float64  `json:"to_m"`
	Low      *float64 `json:"low_m,omitempty"` // of the second, m
	High     *float64 `json:"high_m,omitempty"`
	Words    string   `json:"words"` // "K to W at 52 m"
	Value    string   `json:"value"` // "0.42 m"
	Interval string   `json:"interval,omitempty"`
	Note     int      `json:"note,omitempty"`
}

// Kind is "room-plot".
func (*RoomPlot) Kind() string { return "room-plot" }

// Draw lays the figure out.
func (f *RoomPlot) Draw(w draft.Width) (*draft.Drawing, error) {
	if err := check(f.Kind(), f.Curves); err != nil {
		return nil, err
	}
	if !draft.Finite(f.Stretch) || f.Stretch < 0 {
		return nil, draft.Invalid(f.Kind(), "offsets cannot be drawn %g times as long as stations", f.Stretch)
	}
	for _, q := range f.Ways {
		if !draft.Finite(q.From, q.To, q.Right, q.Left) || q.From > q.To || q.Right > q.Left {
			return nil, draft.Invalid(f.Kind(), "%s is not finite or upside down", q.Name)
		}
	}
	for _, q := range f.Cones {
		if !draft.Finite(q.Station, q.Offset) {
			return nil, draft.Invalid(f.Kind(), "a cone is not finite")
		}
	}
	if !draft.Finite(f.Stations...) || !slices.IsSorted(f.Stations) {
		return nil, draft.Invalid(f.Kind(), "the stations are not finite or out of order")
	}
	if d := f.Detail; d != nil && (!draft.Finite(d.From, d.To, d.Low, d.High) || d.From >= d.To || d.Low >= d.High) {
		return nil, draft.Invalid(f.Kind(), "the detail is not finite or upside down")
	}
	for _, g := range f.Gaps {
		for _, v := range []*float64{&g.At, &g.From, &g.To, g.Low, g.High} {
			if v != nil && !draft.Finite(*v) {
				return nil, draft.Invalid(f.Kind(), "the gap %s is not finite", g.Words)
			}
		}
	}
	return draft.Compose(f.Kind(), w, f.Codes, f.layout), nil
}

// stretches are the ratios that are tried, and how each is said.
var stretches = []struct {
	by    float64
	words string
}{{20, "twenty times"}, {15, "fifteen times"}, {12, "twelve times"}, {10, "ten times"}, {8, "eight times"}, {6, "six times"}, {5, "five times"},
	{4, "four times"}, {3, "three times"}, {2, "twice"}, {1, ""}}

// stretch gives the ratio for a plan of so many m of offset, at so many points a metre
// of station, that keeps within a height, and the sentence that says so.
func (f *RoomPlot) stretch(offsets, metre, height float64) (by float64, said string) {
	by = f.Stretch
	if by == 0 {
		by = 1
		for _, s := range stretches {
			if offsets*metre*s.by <= height {
				by = s.by
				break
			}
		}
	}
	said = words(by, f.Style()) + " times"
	for _, s := range stretches {
		if s.by == by {
			said = s.words
		}
	}
	if by == 1 {
		return by, ""
	}
	return by, " Offsets are drawn " + said + " as long as stations."
}

// frame is a part of the plan: its scales, and what of it is drawn.
type frame struct {
	X, Y           scale.Scale
	x0, x1, y0, y1 float64 // m: stations and offsets
	cone           float64 // radius of a cone, points
	count          int     // cones on each side of a way, where it does not say
}

func (f *RoomPlot) layout(c *draft.Canvas) {
	xe, ye := extents(f.Curves)
	for _, q := range f.Curves { // bands in full: they are room that was used
		ye.Add(q.Low...)
		ye.Add(q.High...)
	}
	for _, q := range f.Ways {
		xe.Add(q.From, q.To)
		ye.Add(q.Right, q.Left)
	}
	for _, q := range f.Cones {
		xe.Add(q.Station)
		ye.Add(q.Offset)
	}
	size := c.Pick(8.5, 8)
	tagW := 0.0
	for _, q := range f.Curves {
		tagW = math.Max(tagW, draft.TextWidth(q.Code, fonts.SansBold, size))
	}
	L, R := 3.0, c.W-tagW-15
	metre := (R - L) / (xe.Hi - xe.Lo)
	edge := c.Pick(3, 2.4)
	by, said := f.stretch(ye.Hi-ye.Lo, metre, c.Pick(172, 104)-8*float64(c.Level))
	head := f.Head
	if said != "" {
		head.Sub = append(slices.Clone(head.Sub), draft.Span{Text: said})
		if len(head.SubShort) > 0 {
			head.SubShort = append(slices.Clone(head.SubShort), draft.Span{Text: said})
		}
	}
	c.Head(head)
	yt := c.Y + 6 + edge
	yb := yt + (ye.Hi-ye.Lo)*metre*by
	plan := frame{scale.Of(xe.Lo, xe.Hi, L, R), scale.Of(ye.Lo, ye.Hi, yb, yt), xe.Lo, xe.Hi, ye.Lo, ye.Hi, c.Pick(1.8, 1.3), 6}
	if c.Half {
		plan.count = 5
	}
	f.ground(c, plan)
	draw(c, f.Curves, plan.X, plan.Y)
	f.names(c, plan)
	f.tags(c, f.Curves, plan, R, yt-edge, yb+edge, size)

	ax := yb + edge + c.Pick(10, 8)
	below := false
	var box frame
	if f.Detail != nil {
		box, below = f.room(c, plan, R, yt-edge)
		if !below {
			f.detail(c, plan, box, below, R, size)
		}
	}
	f.keys(c, plan, metre*by)
	f.axis(c, plan, ax, R)
	y := ax + 22
	if below {
		h := box.Y.P0 - box.Y.P1
		box.Y.P1 = y + 10 + f.rows(0)
		box.Y.P0 = box.Y.P1 + h
		f.detail(c, plan, box, below, R, size)
		y = box.Y.P0 + f.rows(1) + 2
	}
	if f.Detail == nil {
		f.gaps(c, plan, nil)
	}
	for _, g := range f.Gaps {
		c.Say(g.Words + ": " + g.Value + " (" + g.Interval + ")")
	}
	c.Y = y + 1
	if len(f.Notes) > 0 {
		c.Foot(y+11, f.Notes)
	}
}

// ground draws ways and cones as far as they lie in a frame.
func (f *RoomPlot) ground(c *draft.Canvas, q frame) {
	inside := func(s, o float64) bool {
		return s >= q.x0-1e-9 && s <= q.x1+1e-9 && o >= q.y0-1e-9 && o <= q.y1+1e-9
	}
	cone := func(s, o float64) {
		if inside(s, o) {
			c.Ring(q.X.At(s), q.Y.At(o), q.cone, draft.Ink)
			c.Dot(q.X.At(s), q.Y.At(o), .45, draft.Ink, 1)
		}
	}
	for _, w := range f.Ways {
		a, b := math.Max(w.From, q.x0), math.Min(w.To, q.x1)
		lo, hi := math.Max(w.Right, q.y0), math.Min(w.Left, q.y1)
		if a < b && lo < hi {
			c.Rect(q.X.At(a), q.Y.At(hi), q.X.At(b)-q.X.At(a), q.Y.At(lo)-q.Y.At(hi), draft.Ink, .045)
		}
		n := w.Count
		if n < 2 {
			n = q.count
		}
		for i := range n {
			s := w.From + (w.To-w.From)*float64(i)/float64(n-1)
			cone(s, w.Right)
			cone(s, w.Left)
		}
	}
	for _, k := range f.Cones {
		cone(k.Station, k.Offset)
	}
}

var italic = draft.Setting{Face: fonts.SansItalic, Size: draft.PtNote, Tone: draft.Soft}

// names writes the ways' names inside them, where they are clear.
func (f *RoomPlot) names(c *draft.Canvas, q frame) {
	s := italic
	s.Anchor = draft.Middle
	for _, w := range f.Ways {
		if w.Name == "" {
			continue
		}
		x := q.X.At((w.From + w.To) / 2)
		top, bottom := q.Y.At(w.Left), q.Y.At(w.Right)
		places := draft.Points(x, top+c.Pick(11, 9.5), x, bottom-5, x, (top+bottom)/2, x, bottom+c.Pick(10, 9), x, top-5)
		if !c.First(draft.Plain(w.Name), s, places) {
			c.Lost(w.Name)
		}
	}
}

// tags writes the codes' letters beside the ends of their lines.
func (f *RoomPlot) tags(c *draft.Canvas, cs []Curve, q frame, R, lo, hi, size float64) {
	cs = slices.Clone(cs)
	at := make([]float64, len(cs))
	for i, k := range cs {
		at[i] = q.Y.Clamp(k.Y[len(k.Y)-1])
	}
	gap := c.Pick(9.6, 9)
	if grow := gap*float64(len(cs)) - (hi - lo); grow > 0 { // many codes on a flat plan
		lo, hi = lo-grow/2, hi+grow/2
	}
	for i, y := range draft.Spread(at, gap, lo, hi) {
		k := cs[i]
		c.Line(q.X.Clamp(k.X[len(k.X)-1])+1, at[i], R+5.5, y, draft.Pen{W: draft.Leader, Tone: c.Codes.Style(k.Code).Tone, Ghost: true})
		c.Marker(k.Code, R+8.6, y, 2.2, false)
		c.Text(R+12.6, y+size*.33, draft.Say(draft.CodeOf(k.Code)), draft.Setting{Face: fonts.SansBold, Size: size, Free: true})
	}
}

// keys draws which way it is driven, and how long a metre of offset is, each at the
// first free place; metre is in points.
func (f *RoomPlot) keys(c *draft.Canvas, q frame, metre float64) {
	free := func(x0, y0, x1, y1 float64) bool {
		b := draft.Box{X0: x0, Y0: y0, X1: x1, Y1: y1}
		return c.Clear(b, false) && !c.Blocked(x0, y0, x1, y1) && !c.OnHaze(b)
	}
	search := func(w, h float64, put func(x, y float64)) {
		for x := q.X.P0 + 1; x+w < q.X.P1; x += 6 {
			for y := q.Y.P1; y+h <= q.Y.P0; y += 4 {
				if free(x-2, y-1, x+w+3, y+h+1) {
					put(x, y)
					return
				}
			}
		}
	}
	word := "travel"
	wide := math.Max(19, draft.TextWidth(word, italic.Face, italic.Size))
	search(wide, 11, func(x, y float64) {
		c.Text(x, y+5.5, draft.Plain(word), italic)
		c.Line(x, y+10, x+16, y+10, draft.Pen{W: .6, Tone: draft.Ink})
		c.Arrowhead(x+19, y+10, 0, draft.Ink, 3)
	})
	for _, m := range []float64{1, .5, 2, .2, 5} {
		long := m * metre
		if long < 9 || long > 44 {
			continue
		}
		key := words(m, f.Style()) + "\u00a0m"
		if !c.Half {
			key += " of offset"
		}
		s := draft.Setting{Face: fonts.Sans, Size: draft.PtNote}
		w := draft.TextWidth(key, s.Face, s.Size)
		search(w+6, math.Max(long, 7)+12, func(x, y float64) {
			y += 6
			c.Stem(draft.Cut(y, y+long, y, y+long), x+1.8, true, 1.8, .6, draft.Pen{W: .6, Tone: draft.Ink})
			c.Text(x+6, y+long/2+2.4, draft.Plain(key), s)
		})
		return
	}
}

// axis draws the stations.
func (f *RoomPlot) axis(c *draft.Canvas, q frame, y, R float64) {
	var ts []scale.Tick
	power := 0
	if len(f.Stations) > 0 {
		for _, s := range f.Stations {
			ts = append(ts, scale.Tick{V: s, Words: words(s, f.Style())})
		}
	} else {
		most := 8
		if c.Half {
			most = 5
		}
		ts, power = scale.Ticks(q.x0, q.x1, max(2, most-c.Level), f.Station.Signed, f.Style())
	}
	c.LevelAxis(y, q.X, ts)
	caption(c, R, y+19.5, c.AxisWords(f.Station, power))
}

// rows gives the height in points of the words above (0) and below (1) what a detail
// shows: gaps by turns, and beside the last of them below the detail's name.
func (f *RoomPlot) rows(side int) float64 {
	n := (len(f.Gaps) + 1 - side) / 2
	if side == 1 {
		n = max(n, 1)
	}
	return 3 + 9.6*float64(n)
}

// room finds where the detail stands: on the full width beside the lines at the top
// right, smaller if need be, else below the axis. It gives its frame; below the axis
// the height alone counts.
func (f *RoomPlot) room(c *draft.Canvas, plan frame, R, top float64) (box frame, below bool) {
	d := f.Detail
	by := (plan.Y.P0 - plan.Y.P1) / (plan.y1 - plan.y0) * (plan.x1 - plan.x0) / (plan.X.P1 - plan.X.P0)
	at := func(left, wide float64) frame {
		high := (d.High - d.Low) * wide / (d.To - d.From) * by
		above := top + f.rows(0)
		return frame{scale.Of(d.From, d.To, left, left+wide), scale.Of(d.Low, d.High, above+high, above), d.From, d.To, d.Low, d.High, 2.3, plan.count}
	}
	// The letters at the lines' ends stand in two stacks, one above the other.
	stack, ends := 9.6*float64(len(f.Curves)), 0.0
	for _, q := range f.Curves {
		ends += plan.Y.Clamp(q.Y[len(q.Y)-1]) / float64(len(f.Curves))
	}
	for wide := 176.0; !c.Half && wide >= 124; wide -= 4 {
		box = at(R-wide, wide)
		b := draft.Box{X0: R - wide - 6, Y0: top, X1: R + 1, Y1: box.Y.P0 + f.rows(1) + 3}
		free := plan.Y.At(d.High) > b.Y1+5 // the part itself lies in front of the box
		free = free && b.Y1-b.Y0 >= stack && ends-stack/2 > b.Y1+4
		for _, w := range f.Ways {
			free = free && (plan.X.At(w.To) < b.X0 || plan.Y.At(w.Left) > b.Y1+2)
		}
		if free && !c.OnHaze(b) && c.Clear(b, false) && !c.Blocked(b.X0, b.Y0, b.X1, b.Y1) {
			return box, false
		}
	}
	wide := c.Pick(220, R-3.5)
	if high := (d.High - d.Low) * wide / (d.To - d.From) * by; high > c.Pick(120, 110) { // not as high as the page
		wide *= c.Pick(120, 110) / high
	}
	if c.Half {
		return at(3.5, wide), true
	}
	return at((R-wide)/2, wide), true
}

// part gives a curve's part between two stations.
func part(q Curve, from, to float64) (Curve, bool) {
	out := Curve{Code: q.Code}
	at := func(v []float64, x float64) float64 {
		i := max(1, min(len(q.X)-1, sortSearch(q.X, x)))
		if q.X[i] == q.X[i-1] {
			return v[i]
		}
		return v[i-1] + (v[i]-v[i-1])*(x-q.X[i-1])/(q.X[i]-q.X[i-1])
	}
	add := func(x float64) {
		out.X, out.Y = append(out.X, x), append(out.Y, at(q.Y, x))
		if len(q.Low) > 0 {
			out.Low, out.High = append(out.Low, at(q.Low, x)), append(out.High, at(q.High, x))
		}
	}
	from, to = math.Max(from, q.X[0]), math.Min(to, q.X[len(q.X)-1])
	if !(to > from) {
		return out, false
	}
	add(from)
	for _, x := range q.X {
		if x > from && x < to {
			add(x)
		}
	}
	add(to)
	return out, true
}

// words writes a number with as many digits as it needs, up to three.
func words(v float64, style unit.Style) string {
	for digits := range 3 {
		if p := math.Pow(10, float64(digits)); math.Abs(v*p-math.Round(v*p)) < 1e-6 {
			return unit.Number(v, digits, style)
		}
	}
	return unit.Number(v, 3, style)
}

func sortSearch(x []float64, v float64) int {
	i, _ := slices.BinarySearch(x, v)
	return i
}

// detail draws the part that is shown larger, and the frame in the plan that it is of.
func (f *RoomPlot) detail(c *draft.Canvas, plan, box frame, below bool, R, size float64) {
	d := f.Detail
	x0, x1 := box.X.P0, box.X.P1
	y0, y1 := box.Y.P1-f.rows(0), box.Y.P0+f.rows(1)
	pen := draft.Pen{W: .5, Tone: draft.Soft, Ghost: true}
	outline := func(x0, y0, x1, y1 float64) {
		c.Poly(draft.Points(x0, y0, x1, y0, x1, y1, x0, y1, x0, y0), pen)
	}
	a, b, hi, lo := plan.X.Clamp(d.From), plan.X.Clamp(d.To), plan.Y.Clamp(d.High), plan.Y.Clamp(d.Low)
	outline(a, hi, b, lo)
	tie := draft.Pen{W: draft.Hair, Tone: draft.Soft, Dash: []float64{1, 1.4}, Ghost: true}
	if !below {
		c.Line(a, hi, x0, y1, tie)
		c.Line(b, hi, x1, y1, tie)
	}
	c.Rect(x0, y0, x1-x0, y1-y0, draft.Paper, 1)
	outline(x0, y0, x1, y1)
	f.ground(c, box)
	var cs []Curve
	for _, q := range f.Curves {
		if p, ok := part(q, d.From, d.To); ok {
			cs = append(cs, p)
		}
	}
	draw(c, cs, box.X, box.Y)
	if len(cs) > 0 {
		f.tags(c, cs, box, x1, y0, y1, size)
	}
	f.gaps(c, box, &draft.Box{X0: x0, Y0: y0, X1: x1, Y1: y1})
	s := italic
	s.Anchor = draft.End
	if !c.First(draft.Plain(d.Name), s, draft.Points(x1-4, y1-4, x1-4, y0+9, x1-1, y1+8.5)) {
		c.Lost(d.Name)
	}
}

// gaps draws lengths across the way. In a detail their words stand by turns above and
// below what it shows; in the plan beside the length.
func (f *RoomPlot) gaps(c *draft.Canvas, q frame, in *draft.Box) {
	s := draft.Setting{Face: fonts.Sans, Size: draft.PtLabel}
	ink := draft.Pen{W: draft.Drop, Tone: draft.Ink}
	for i, g := range f.Gaps {
		if g.At < q.x0 || g.At > q.x1 {
			c.Lost(g.Words)
			continue
		}
		x, from, to := q.X.At(g.At), q.Y.Clamp(g.From), q.Y.Clamp(g.To)
		c.Line(x, from, x, to, ink)
		if way := to - from; math.Abs(way) > 5 {
			c.Arrowhead(x, from, -math.Copysign(math.Pi/2, way), draft.Ink, 3)
		}
		if g.Low != nil && g.High != nil {
			c.Line(x, q.Y.Clamp(*g.Low), x, q.Y.Clamp(*g.High), draft.Pen{W: draft.Bar, Tone: draft.Ink})
		}
		said := draft.Say(g.Words+": ", draft.StrongOf(g.Value)).Note(g.Note)
		if g.Interval != "" && (!c.Half || c.Level < 2) {
			said = append(said, draft.Span{Text: " (" + g.Interval + ")"})
		}
		wide := c.Codes.Width(said, s)
		if in == nil {
			mid := (from + to) / 2
			if !c.First(said, s, draft.Points(x+4, mid+2.5, x-4-wide, mid+2.5, x-wide/2, math.Min(from, to)-4, x-wide/2, math.Max(from, to)+10,
				x+4, math.Min(from, to)-4, x-4-wide, math.Min(from, to)-4)) {
				c.Lost(g.Words + ": " + g.Value)
			}
			continue
		}
		at := math.Max(in.X0+4, math.Min(x-wide/2, in.X1-4-wide))
		row := float64(i / 2)
		y := in.Y0 + 9 + 9.6*row
		lowest := i+2 >= len(f.Gaps)
		if i&1 == 1 {
			at = in.X0 + 4
			y = in.Y1 - f.rows(1) + 9 + 9.6*row
		}
		c.Text(at, y, said, s)
		if end, near := y+2.5, math.Min(from, to); i&1 == 0 && lowest && end < near {
			c.Line(x, end, x, near, draft.Pen{W: draft.Hair, Tone: draft.Ink, Dash: []float64{1, 1.4}, Ghost: true})
		}
	}
}
