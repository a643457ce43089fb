package curves

import (
	"math"

	"example.org/bookend/figure/draft"
	"example.org/bookend/figure/fonts"
	"example.org/bookend/figure/scale"
)

// PastThePeak shows lateral acceleration against sideslip, and how much of the
// peak each code keeps a stated way beyond it.
type PastThePeak struct {
	draft.Head
	Value  draft.Axis `json:"value"` // "lateral acceleration, m/s²"
	Slip   draft.Axis `json:"slip"`  // "sideslip at the rear axle, °"
	Curves []Curve    `json:"curves"`
	Peaks  []Peak     `json:"peaks"`
}

// Peak is a code's highest point, and the point beyond it at which what is kept
// is read, with its interval there and the words for it.
type Peak struct {
	Code     string   `json:"code"`
	X        float64  `json:"x"`
	Y        float64  `json:"y"`
	KeptX    float64  `json:"kept_x"`
	KeptY    float64  `json:"kept_y"`
	Low      *float64 `json:"low,omitempty"`
	High     *float64 `json:"high,omitempty"`
	Value    string   `json:"value"` // "keeps 71 %"
	Short    string   `json:"short,omitempty"`
	Interval string   `json:"interval,omitempty"` // "66 to 76"
	More     string   `json:"more,omitempty"`     // "peak 7.9 at 4.5°"; on the full width
	Note     int      `json:"note,omitempty"`
}

// Kind is "past-the-peak".
func (*PastThePeak) Kind() string { return "past-the-peak" }

// Draw lays the figure out.
func (f *PastThePeak) Draw(w draft.Width) (*draft.Drawing, error) {
	if err := check(f.Kind(), f.Curves); err != nil {
		return nil, err
	}
	for _, p := range f.Peaks {
		for _, v := range []*float64{&p.X, &p.Y, &p.KeptX, &p.KeptY, p.Low, p.High} {
			if v != nil && !draft.Finite(*v) {
				return nil, draft.Invalid(f.Kind(), "the peak of %s is not finite", p.Code)
			}
		}
	}
	return draft.Compose(f.Kind(), w, f.Codes, f.layout), nil
}

func (f *PastThePeak) layout(c *draft.Canvas) {
	c.Head(f.Head)
	xe, ye := extents(f.Curves)
	for _, p := range f.Peaks {
		xe.Add(p.X, p.KeptX)
		ye.Add(p.Y, p.KeptY)
	}
	if xe.Lo > 0 && xe.Lo < .3*xe.Hi {
		xe.Add(0) // sideslip begins at none
	}
	pad := .05 * (ye.Hi - ye.Lo)
	most := 7
	if c.Half {
		most = 5
	}
	ts, power := scale.Ticks(ye.Lo-pad, ye.Hi+pad, max(2, most-c.Level), f.Value.Signed, f.Style())
	L := math.Max(c.Pick(24, 18), draft.WidestTick(ts)+7)
	last := map[string]draft.Point{}
	for _, q := range f.Curves {
		last[q.Code] = draft.Pt(q.X[len(q.X)-1], q.Y[len(q.Y)-1])
	}
	var es []end
	for _, p := range f.Peaks {
		e := end{code: p.Code}
		value := c.Word(p.Value, p.Short)
		e.words, e.more = reading(p.Code, value, p.Interval, p.Note)
		if !c.Half && c.Level == 0 && p.More != "" {
			e.more = append(e.more, draft.Span{Text: ", " + p.More})
			if p.Interval == "" {
				e.more = draft.Plain(p.More)
			}
		}
		es = append(es, e)
		c.Say(p.Code + ": " + p.Value + " (" + p.Interval + "), " + p.More)
	}
	if len(f.Peaks) == 0 {
		for _, q := range f.Curves {
			words, _ := reading(q.Code, "", "", 0)
			es = append(es, end{code: q.Code, words: words})
		}
	}
	R := c.W - widest(c, es) - 12
	yt := c.Y + 14
	yb := yt + math.Max(c.Pick(166, 124), 18.5*float64(len(es)))
	X, Y := scale.Of(xe.Lo, xe.Hi, L, R), scale.Of(ye.Lo-pad, ye.Hi+pad, yb, yt)
	c.ValueAxis(L, R, Y, ts, c.AxisWords(f.Value, power), yt-6, f.Value.Better)
	draw(c, f.Curves, X, Y)
	for _, p := range f.Peaks {
		tone := c.Codes.Style(p.Code).Tone
		px, py, kx, ky := X.At(p.X), Y.At(p.Y), X.At(p.KeptX), Y.At(p.KeptY)
		c.Line(px, py, kx, py, draft.Pen{W: draft.Leader, Tone: tone, Dash: []float64{.8, 1.4}, Ghost: true})
		c.Line(kx, py, kx, ky, draft.Pen{W: .55, Tone: tone})
		c.Line(kx-2, py, kx+2, py, draft.Pen{W: .55, Tone: tone})
		if p.Low != nil && p.High != nil {
			c.Stem(draft.Cut(Y.At(*p.High), Y.At(*p.Low), yt, yb), kx, true, 2.2, .9, draft.Pen{W: .9, Tone: tone})
		}
		c.Marker(p.Code, kx, ky, 2.5, false)
		c.Marker(p.Code, px, py, 2.5, true)
	}
	if len(f.Peaks) > 0 { // said once, at the highest
		top := f.Peaks[0]
		for _, p := range f.Peaks {
			if p.Y > top.Y {
				top = p
			}
		}
		s := draft.Setting{Face: fonts.SansItalic, Size: draft.PtNote, Tone: draft.Soft, Anchor: draft.Middle}
		x, y := X.At(top.X), Y.At(top.Y)
		c.First(draft.Plain("peak"), s, draft.Points(x, y-5.5, x-9, y-5.5, x-14, y-3, x, y-9, x+9, y-6))
	}
	for i := range es {
		if p, ok := last[es[i].code]; ok {
			es[i].x, es[i].y = X.At(p.X), Y.At(p.Y)
		}
	}
	if !beside(c, es) {
		between := 11.
		if len(f.Peaks) > 0 {
			between = 18.5 // two lines each
		}
		ends(c, es, R+10, between, yt-4, yb+4)
	}
	xt, xp := scale.Ticks(xe.Lo, xe.Hi, max(2, most-c.Level), f.Slip.Signed, f.Style())
	c.LevelAxis(yb+5, X, xt)
	caption(c, R, yb+25, c.AxisWords(f.Slip, xp))
	c.Y = yb + 28
	if len(f.Notes) > 0 {
		c.Foot(yb+39, f.Notes)
	}
}
