package curves

import (
	"math"
	"slices"

	"example.org/bookend/figure/draft"
	"example.org/bookend/figure/fonts"
	"example.org/bookend/figure/scale"
)

// AnswerCurve shows steering in and the vehicle's answers out, one panel each,
// laid over each other at the input; below a panel stand the delays as lengths
// from the input, the thick end being their interval.
type AnswerCurve struct {
	draft.Head
	Time   draft.Axis `json:"time"`  // "time from half the steering step, s"
	Input  float64    `json:"input"` // where on the time axis the input lies
	Panels []Panel    `json:"panels"`
}

// Panel is one signal: steering wheel, yaw rate, lateral acceleration.
type Panel struct {
	Value  draft.Axis `json:"value"`
	Curves []Curve    `json:"curves"`          // one with an empty code is common to all codes
	Words  string     `json:"words,omitempty"` // beside the common curve: "all codes, within 0.7°"
	Delays []Delay    `json:"delays,omitempty"`
}

// Delay is a code's delay from the input: where on the time axis, its interval,
// the value of the curve there, and the words.
type Delay struct {
	Code     string  `json:"code"`
	At       float64 `json:"at"`
	Low      float64 `json:"low"`
	High     float64 `json:"high"`
	Y        float64 `json:"y"`
	Value    string  `json:"value"` // "117 ms"
	Interval string  `json:"interval,omitempty"`
	Note     int     `json:"note,omitempty"`
}

// Kind is "answer-curve".
func (*AnswerCurve) Kind() string { return "answer-curve" }

// Draw lays the figure out.
func (f *AnswerCurve) Draw(w draft.Width) (*draft.Drawing, error) {
	if len(f.Panels) == 0 {
		return nil, draft.Invalid(f.Kind(), "it needs at least one panel")
	}
	for _, p := range f.Panels {
		if err := check(f.Kind(), p.Curves); err != nil {
			return nil, err
		}
		for _, d := range p.Delays {
			if !draft.Finite(d.At, d.Low, d.High, d.Y) || d.Low > d.High {
				return nil, draft.Invalid(f.Kind(), "the delay of %s is not finite or upside down", d.Code)
			}
		}
	}
	if !draft.Finite(f.Input) {
		return nil, draft.Invalid(f.Kind(), "the input's time is not finite")
	}
	return draft.Compose(f.Kind(), w, f.Codes, f.layout), nil
}

func (f *AnswerCurve) layout(c *draft.Canvas) {
	c.Head(f.Head)
	var all []Curve
	for _, p := range f.Panels {
		all = append(all, p.Curves...)
	}
	xe, _ := extents(all)
	xe.Add(f.Input)
	row := c.Pick(8.6, 8.2)
	tick := c.Pick(8.5, 8)
	tagW := 0.0
	for _, q := range all {
		tagW = math.Max(tagW, draft.TextWidth(q.Code, fonts.SansBold, tick)+7)
	}
	type frame struct {
		ts    []scale.Tick
		power int
		ye    scale.Extent
	}
	frames := make([]frame, len(f.Panels))
	L := c.Pick(22, 18)
	for i, p := range f.Panels {
		_, ye := extents(p.Curves)
		ye.Add(0)
		pad := .06 * (ye.Hi - ye.Lo)
		ye.Lo, ye.Hi = ye.Lo-pad, ye.Hi+pad
		n := 4
		if len(p.Delays) == 0 {
			n = 3
		}
		ts, power := scale.Ticks(ye.Lo, ye.Hi, max(2, n-c.Level/2), p.Value.Signed, f.Style())
		frames[i] = frame{ts, power, ye}
		L = math.Max(L, draft.WidestTick(ts)+7)
	}
	R := c.W - tagW - 10
	X := scale.Of(xe.Lo, xe.Hi, L, R)
	outside := false // the delays' words stand beyond the plot
	for _, p := range f.Panels {
		words, wide := delayWords(c, p.Delays)
		far := X.At(f.Input)
		for _, d := range p.Delays {
			far = math.Max(far, X.Clamp(d.High))
		}
		if len(words) > 0 && far+10+wide > R {
			outside = true
			R = math.Min(R, c.W-wide-6)
		}
	}
	X = scale.Of(xe.Lo, xe.Hi, L, R)
	x0 := X.At(f.Input)
	y := c.Y + 14
	for i, p := range f.Panels {
		h := c.Pick(78, 62)
		if len(p.Delays) == 0 {
			h = c.Pick(40, 32)
		}
		yt, yb := y, y+h
		Y := scale.Of(frames[i].ye.Lo, frames[i].ye.Hi, yb, yt)
		c.ValueAxis(L, R, Y, frames[i].ts, c.AxisWords(p.Value, frames[i].power), yt-4, draft.Nowhere)
		below := yb + 2
		if len(p.Delays) > 0 {
			below = yb + 5 + row*float64(len(p.Delays))
		}
		c.Line(x0, yt, x0, below, draft.Pen{W: draft.Thin, Dash: []float64{1, 1.5}, Ghost: true})
		f.panel(c, p, X, Y, yt, yb, R, tick)
		f.delays(c, p, X, Y, yb, row, outside)
		y = below + 18
	}
	y -= 12
	most := 8
	if c.Half {
		most = 5
	}
	xt, xp := scale.Ticks(xe.Lo, xe.Hi, max(2, most-c.Level), false, f.Style())
	c.LevelAxis(y, X, xt)
	caption(c, R, y+19.5, c.AxisWords(f.Time, xp))
	c.Y = y + 22
	if len(f.Notes) > 0 {
		c.Foot(y+33, f.Notes)
	}
}

// panel draws one signal's curves and the letters at their ends.
func (f *AnswerCurve) panel(c *draft.Canvas, p Panel, X, Y scale.Scale, yt, yb, R, size float64) {
	cs := slices.Clone(p.Curves)
	common := false
	for i := range cs {
		if cs[i].Code == "" { // what all codes share is drawn as the control's
			cs[i].Code, common = f.Codes.Control, true
		}
	}
	draw(c, cs, X, Y)
	if common {
		x, v := X.At(f.Input), cs[0]
		for i := 1; i < len(v.X); i++ { // where the input counts from
			if v.X[i-1] <= f.Input && v.X[i] >= f.Input && v.X[i] > v.X[i-1] {
				at := v.Y[i-1] + (v.Y[i]-v.Y[i-1])*(f.Input-v.X[i-1])/(v.X[i]-v.X[i-1])
				c.Dot(x, Y.Clamp(at), 1.7, draft.Ink, 1)
				break
			}
		}
		if p.Words != "" {
			s := draft.Setting{Face: fonts.SansItalic, Size: draft.PtNote, Tone: draft.Soft}
			w := draft.TextWidth(p.Words, s.Face, s.Size)
			end := Y.Clamp(v.Y[len(v.Y)-1])
			near := math.Min(x+40, R-w-6) // a little after the step
			c.First(draft.Plain(p.Words), s, draft.Points(near, end+10.5, R-w-6, end+11, R-w-6, end-5, x+16, yb-4, x+16, yt+8))
		}
		return
	}
	var es []end
	for _, q := range cs {
		n := len(q.X) - 1
		es = append(es, end{code: q.Code, x: X.At(q.X[n]), y: Y.Clamp(q.Y[n]), words: draft.Say(draft.CodeOf(q.Code))})
	}
	at := make([]float64, len(es))
	for i, e := range es {
		at[i] = e.y
	}
	for i, y := range draft.Spread(at, 9.6, yt-6, yb+6) {
		e := es[i]
		c.Line(e.x+1, e.y, R+6, y, draft.Pen{W: draft.Leader, Tone: c.Codes.Style(e.code).Tone, Ghost: true})
		c.Marker(e.code, R+9, y, 2.2, false)
		c.Text(R+13.2, y+size*.33, e.words, draft.Setting{Face: fonts.SansBold, Size: size, Free: true})
	}
}

// inOrder gives delays by their length.
func inOrder(c *draft.Canvas, ds []Delay) []Delay {
	ds = slices.Clone(ds)
	slices.SortStableFunc(ds, func(a, b Delay) int {
		switch {
		case a.At < b.At:
			return -1
		case a.At > b.At:
			return 1
		}
		return c.Codes.Order(a.Code) - c.Codes.Order(b.Code)
	})
	return ds
}

var delaySetting = draft.Setting{Face: fonts.Sans, Size: draft.PtTick}

// delayWords gives the words of delays in their order, and the widest one's width.
func delayWords(c *draft.Canvas, ds []Delay) (words []draft.Text, wide float64) {
	for _, d := range inOrder(c, ds) {
		w, _ := reading(d.Code, d.Value, "", d.Note)
		if d.Interval != "" {
			w = append(w, draft.Span{Text: " (" + d.Interval + ")"})
		}
		words = append(words, w)
		wide = math.Max(wide, c.Codes.Width(w, delaySetting))
	}
	return words, wide
}

// delays draws the delays below a panel, in the order of their length.
func (f *AnswerCurve) delays(c *draft.Canvas, p Panel, X, Y scale.Scale, yb, row float64, outside bool) {
	ds := inOrder(c, p.Delays)
	words, _ := delayWords(c, p.Delays)
	x0 := X.At(f.Input)
	at := x0
	for _, d := range ds {
		at = math.Max(at, X.Clamp(d.High))
		c.Say(p.Value.Name + ", " + d.Code + ": " + d.Value + " (" + d.Interval + ")")
	}
	at += 10
	if outside {
		at = X.P1 + 6
	}
	for i, d := range ds {
		y := yb + 6 + row*(float64(i)+.35)
		tone := c.Codes.Style(d.Code).Tone
		x := X.Clamp(d.At)
		c.Line(x, Y.Clamp(d.Y)+2, x, y, draft.Pen{W: draft.Leader, Tone: tone, Ghost: true})
		c.Line(x0, y, x, y, draft.Pen{W: .9, Tone: tone})
		c.Line(x0, y-1.8, x0, y+1.8, draft.Pen{W: .9, Tone: tone})
		c.Line(X.Clamp(d.Low), y, X.Clamp(d.High), y, draft.Pen{W: 2.6, Tone: tone})
		c.Text(at, y+2.4, words[i], delaySetting)
		c.Marker(d.Code, x, Y.Clamp(d.Y), 2.2, false)
	}
}
