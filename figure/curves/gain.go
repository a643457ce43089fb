package curves

import (
	"math"
	"slices"

	"example.org/bookend/figure/draft"
	"example.org/bookend/figure/fonts"
	"example.org/bookend/figure/scale"
	"example.org/bookend/unit"
)

// GainAlongTheLap shows the time gained on the control up to each station, with
// the corners named and the course straightened below.
type GainAlongTheLap struct {
	draft.Head
	Value    draft.Axis `json:"value"`             // "time gained, s"
	Station  draft.Axis `json:"station"`           // "station from the start gate, m"
	Curves   []Curve    `json:"curves"`            // of the candidates, against the control at 0
	Itself   *Curve     `json:"itself,omitempty"`  // the control against itself, for its band
	Corners  []Corner   `json:"corners,omitempty"` // as driven
	Finishes []Finish   `json:"finishes"`          // at the last station
}

// Corner is a stretch of the course in which it turns, in metres of station.
type Corner struct {
	Name string  `json:"name"`
	From float64 `json:"from_m"`
	To   float64 `json:"to_m"`
	Left bool    `json:"left"`
}

// Finish is a code's total at the last station, its interval, and both as printed.
type Finish struct {
	Code     string   `json:"code"`
	Estimate float64  `json:"estimate"`
	Low      *float64 `json:"low,omitempty"`
	High     *float64 `json:"high,omitempty"`
	Value    string   `json:"value,omitempty"`
	Interval string   `json:"interval,omitempty"`
	Note     int      `json:"note,omitempty"`
}

// Kind is "gain-along-the-lap".
func (*GainAlongTheLap) Kind() string { return "gain-along-the-lap" }

// Draw lays the figure out.
func (f *GainAlongTheLap) Draw(w draft.Width) (*draft.Drawing, error) {
	all := f.all()
	if len(f.Curves) == 0 {
		all = nil
	}
	if err := check(f.Kind(), all); err != nil {
		return nil, err
	}
	for _, k := range f.Corners {
		if !draft.Finite(k.From, k.To) || k.From > k.To {
			return nil, draft.Invalid(f.Kind(), "corner %s ends before it begins", k.Name)
		}
	}
	for _, e := range f.Finishes {
		for _, p := range []*float64{&e.Estimate, e.Low, e.High} {
			if p != nil && !draft.Finite(*p) {
				return nil, draft.Invalid(f.Kind(), "the total of %s is not finite", e.Code)
			}
		}
	}
	return draft.Compose(f.Kind(), w, f.Codes, f.layout), nil
}

// all gives the curves with the control's band.
func (f *GainAlongTheLap) all() []Curve {
	all := slices.Clone(f.Curves)
	if f.Itself != nil {
		all = append(all, *f.Itself)
	}
	return all
}

func (f *GainAlongTheLap) layout(c *draft.Canvas) {
	c.Head(f.Head)
	xe, ye := extents(f.all())
	ye.Add(0)
	for _, e := range f.Finishes {
		ye.Add(e.Estimate)
		for _, p := range []*float64{e.Low, e.High} {
			if p != nil {
				ye.Add(*p)
			}
		}
	}
	pad := .04 * (ye.Hi - ye.Lo)
	most := 7
	if c.Half {
		most = 5
	}
	ts, power := scale.Ticks(ye.Lo-pad, ye.Hi+pad, max(2, most-c.Level), f.Value.Signed, f.Style())
	L := math.Max(c.Pick(26, 22), draft.WidestTick(ts)+7)
	fin := slices.Clone(f.Finishes)
	slices.SortStableFunc(fin, func(a, b Finish) int {
		switch {
		case a.Estimate > b.Estimate:
			return -1
		case a.Estimate < b.Estimate:
			return 1
		}
		return c.Codes.Order(a.Code) - c.Codes.Order(b.Code)
	})
	es := make([]end, len(fin))
	for i, e := range fin {
		es[i].code = e.Code
		es[i].words, es[i].more = reading(e.Code, e.Value, e.Interval, e.Note)
		if c.Level >= 3 {
			es[i].more = nil
		}
		c.Say(e.Code + ": " + e.Value + " (" + e.Interval + ")")
	}
	step := math.Min(c.Pick(5, 3.6), c.Pick(30, 22)/math.Max(1, float64(len(fin))))
	gap := step*float64(len(fin)) + c.Pick(12, 9)
	R := c.W - widest(c, es) - gap
	yt := c.Y + 25
	yb := yt + math.Max(c.Pick(164, 118), 18.5*float64(len(fin)))
	X, Y := scale.Of(xe.Lo, xe.Hi, L, R), scale.Of(ye.Lo-pad, ye.Hi+pad, yb, yt)

	// corners: shaded, named above
	note := draft.Setting{Face: fonts.Sans, Size: draft.PtNote, Anchor: draft.Middle, Spare: true}
	var mids []float64
	widestName := 0.0
	for _, k := range f.Corners {
		a, b := X.Clamp(k.From), X.Clamp(k.To)
		c.Rect(a, yt, b-a, yb-yt, draft.Ink, .045)
		mids = append(mids, (a+b)/2)
		widestName = math.Max(widestName, draft.TextWidth(k.Name, note.Face, note.Size))
	}
	for i, x := range draft.Spread(mids, widestName+2.5, L-4, R+4) {
		if !c.Try(mids[i], yt-4, draft.Plain(f.Corners[i].Name), note) {
			c.Text(x, yt-4, draft.Plain(f.Corners[i].Name), note)
		}
	}
	c.ValueAxis(L, R, Y, ts, c.AxisWords(f.Value, power), yt-15, f.Value.Better)
	if f.Itself != nil {
		draw(c, []Curve{{Code: f.Codes.Control, X: f.Itself.X, Y: make([]float64, len(f.Itself.X)), Low: f.Itself.Low, High: f.Itself.High}}, X, Y)
	} else {
		c.Line(L, Y.At(0), R, Y.At(0), draft.Pen{W: draft.Control, Tone: draft.Ink})
	}
	draw(c, f.Curves, X, Y)

	// totals: intervals side by side, then their labels
	for i, e := range fin {
		x := R + c.Pick(5, 4) + float64(i)*step
		tone := c.Codes.Style(e.Code).Tone
		if e.Low != nil && e.High != nil {
			c.Stem(draft.Cut(Y.At(*e.High), Y.At(*e.Low), yt, yb), x, true, math.Min(1.6, step*.4), .8, draft.Pen{W: .8, Tone: tone})
		}
		c.Marker(e.Code, x, Y.At(e.Estimate), math.Min(c.Pick(2.1, 1.6), step*.5), false)
		es[i].x, es[i].y = x+1, Y.At(e.Estimate)
	}
	between := 18.5
	if c.Level >= 3 {
		between = 9.5
	}
	ends(c, es, c.W-widest(c, es), between, yt-4, yb+4)

	// the course, straightened: which way it turns
	y := yb + 13
	if len(f.Corners) > 0 {
		c.Line(L, y, R, y, draft.Pen{W: draft.Thin, Ghost: true})
		for _, k := range f.Corners {
			side := 6.
			if k.Left {
				side = -6
			}
			var pts []draft.Point
			for i := range 17 {
				u := float64(i) / 16
				pts = append(pts, draft.Pt(X.Clamp(k.From+(k.To-k.From)*u), y+side*math.Sin(math.Pi*u)))
			}
			c.Area(pts, draft.Ink, .8)
		}
		if !c.Half {
			g := draft.Setting{Face: fonts.Sans, Size: draft.PtNote, Tone: draft.Soft, Anchor: draft.End}
			c.Text(L-4.4, y-2, draft.Plain("left"), g)
			c.Text(L-4.4, y+6.4, draft.Plain("right"), g)
		}
		y += 11
	}
	xt, xp := scale.Ticks(xe.Lo, xe.Hi, max(2, most-c.Level), f.Station.Signed, f.Style())
	if n := len(xt); n > 0 && xp == 0 && xe.Hi-xt[n-1].V > .02*(xe.Hi-xe.Lo) { // the lap's length
		whole := scale.Tick{V: xe.Hi, Words: unit.Number(xe.Hi, 0, f.Style())}
		wide := func(t scale.Tick) float64 { return draft.TextWidth(t.Words, fonts.Sans, draft.PtTick) }
		if n > 1 && X.At(whole.V)-X.At(xt[n-1].V) < (wide(whole)+wide(xt[n-1]))/2+6 {
			xt = xt[:n-1] // the two would stand against each other
		}
		xt = append(xt, whole)
	}
	c.LevelAxis(y, X, xt)
	caption(c, R, y+19.5, c.AxisWords(f.Station, xp))
	c.Y = y + 22
	if len(f.Notes) > 0 {
		c.Foot(y+33, f.Notes)
	}
}
