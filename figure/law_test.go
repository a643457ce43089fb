package figure_test

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"sort"
	"strings"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/figure"
	"example.org/bookend/figure/figuretest"
	"example.org/bookend/figure/fonts"
)

var widths = []figure.Width{figure.Full, figure.Half}

func draw(t *testing.T, f figure.Figure, w figure.Width) *figure.Drawing {
	t.Helper()
	d, err := f.Draw(w)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func words(l *figure.Label) string {
	var b strings.Builder
	for _, r := range l.Runs {
		b.WriteString(r.Text)
	}
	return b.String()
}

// box measures a label anew, from its capitals' height to a little below its baseline.
func box(l *figure.Label) (x0, y0, x1, y1 float64) {
	w, size := 0.0, 0.0
	for _, r := range l.Runs {
		w += r.Lead + figure.TextWidth(r.Text, r.Face, r.Size)
		size = math.Max(size, r.Size)
	}
	x := l.At.X
	switch l.Anchor {
	case figure.Middle:
		x -= w / 2
	case figure.End:
		x -= w
	}
	return x, l.At.Y - .66*size, x + w, l.At.Y + .1*size
}

// hold tests what holds of every drawing: nothing lies off the paper and no
// two texts meet, measured here anew.
func hold(t *testing.T, name string, d *figure.Drawing) {
	t.Helper()
	for _, k := range d.Clashes {
		t.Errorf("%s: %q touches %s", name, k.Text, k.With)
	}
	off := func(x, y, by float64) bool {
		return !(x >= -by && x <= d.Width+by && y >= -by && y <= d.Height+by) // NaN is off too
	}
	var labels []*figure.Label
	for _, it := range d.Items {
		switch {
		case it.Path != nil:
			for _, o := range it.Path.Outlines {
				for _, p := range o.Points {
					if off(p.X, p.Y, .5) {
						t.Errorf("%s: a path reaches %.1f, %.1f of %.1f, %.1f", name, p.X, p.Y, d.Width, d.Height)
						return
					}
				}
			}
		case it.Circle != nil:
			if c := it.Circle; off(c.Centre.X-c.Radius, c.Centre.Y-c.Radius, 1) || off(c.Centre.X+c.Radius, c.Centre.Y+c.Radius, 1) {
				t.Errorf("%s: a circle at %.1f, %.1f lies off the paper", name, c.Centre.X, c.Centre.Y)
			}
		case it.Label != nil:
			x0, y0, x1, y1 := box(it.Label)
			if off(x0, y0, .5) || off(x1, y1, .5) {
				t.Errorf("%s: %q lies off the paper", name, words(it.Label))
			}
			labels = append(labels, it.Label)
		}
	}
	for i, a := range labels {
		ax0, ay0, ax1, ay1 := box(a)
		for _, b := range labels[i+1:] {
			bx0, by0, bx1, by1 := box(b)
			if ax0 < bx1 && bx0 < ax1 && ay0 < by1 && by0 < ay1 {
				t.Errorf("%s: %q lies on %q", name, words(a), words(b))
			}
		}
	}
	if d.Title == "" && len(labels) > 0 {
		t.Errorf("%s has no title for those who hear it", name)
	}
}

func TestEverySpecimenHolds(t *testing.T) {
	for _, s := range figuretest.All() {
		for _, w := range widths {
			name := fmt.Sprintf("%s at %.0f pt", s.Name, float64(w))
			d := draw(t, s.Figure, w)
			hold(t, name, d)
			if d.Width != float64(w) {
				t.Errorf("%s is %g wide", name, d.Width)
			}
			// the same data, read back from JSON, give the same drawing
			b, err := figure.Marshal(s.Figure)
			if err != nil {
				t.Fatal(err)
			}
			f, err := figure.Unmarshal(b)
			if err != nil {
				t.Fatal(err)
			}
			if again := draw(t, f, w); !reflect.DeepEqual(d, again) {
				t.Errorf("%s is drawn otherwise from its JSON", name)
			}
		}
	}
}

// Drawing does not change the data.
func TestDrawLeavesDataAlone(t *testing.T) {
	for _, s := range figuretest.All() {
		before, _ := json.Marshal(s.Figure)
		draw(t, s.Figure, figure.Full)
		draw(t, s.Figure, figure.Half)
		if after, _ := json.Marshal(s.Figure); string(before) != string(after) {
			t.Errorf("%s is changed by drawing", s.Name)
		}
	}
}

// randomDay makes a day of any shape: one to twelve candidates, two to sixty
// stints, breaks, few runs or many, intervals or none.
func randomDay(r *rand.Rand) *figure.BracketStrip {
	codes := figuretest.Twelve()
	codes.Candidates = codes.Candidates[:1+r.IntN(12)]
	d := figuretest.Day{Codes: codes, StartS: float64(6+r.IntN(6)) * 3600, StepS: float64(240 + r.IntN(2400)), BreakS: float64(3000 + r.IntN(80000)), Runs: 1 + r.IntN(9),
		Level: math.Pow(10, r.Float64()*8-4), Effects: map[string]float64{}, Seed: r.Uint64()}
	d.Scatter = d.Level * .01 * r.Float64()
	d.Half = d.Scatter * (.3 + 3*r.Float64())
	d.Bow = d.Level * .05 * r.NormFloat64()
	for _, c := range codes.Candidates {
		d.Effects[c] = d.Level * .04 * r.NormFloat64()
	}
	var order strings.Builder
	order.WriteString("K")
	for n := 1 + r.IntN(40); n > 0; n-- {
		for m := 1 + r.IntN(4); m > 0; m-- {
			order.WriteString(codes.Candidates[r.IntN(len(codes.Candidates))])
		}
		order.WriteString("K")
		if r.IntN(8) == 0 {
			order.WriteString(" K")
		}
		if order.Len() > 60 {
			break
		}
	}
	d.Order = order.String()
	f := d.Strip()
	f.Title = figure.Say("A day of any shape")
	if r.IntN(4) == 0 {
		f.Drift = nil
	}
	note := 0
	for i := range f.Stints {
		s := &f.Stints[i]
		if r.IntN(12) == 0 {
			note++
			s.Runs = append(s.Runs, figure.StripRun{Value: *s.Mean + 3*d.Scatter*r.NormFloat64(), LeftOut: true, Broken: r.IntN(2) == 0, Note: note})
		}
		if r.IntN(20) == 0 {
			s.Low, s.High = nil, nil
		}
		if r.IntN(30) == 0 {
			s.Mean, s.Low, s.High = nil, nil, nil
		}
	}
	return f
}

// No day, however odd, puts a text on another one or off the paper.
func TestRandomDaysHold(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	n := 120
	if testing.Short() {
		n = 20
	}
	for i := range n {
		f := randomDay(r)
		for _, w := range widths {
			hold(t, fmt.Sprintf("day %d (%d stints) at %.0f pt", i, len(f.Stints), float64(w)), draw(t, f, w))
		}
		if t.Failed() {
			return
		}
	}
}

// No ladder, budget, chart or profile, however odd, does so either.
func TestRandomFiguresHold(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	n := 150
	if testing.Short() {
		n = 30
	}
	p := figuretest.P
	verdicts := []figure.Verdict{figure.Better, figure.BetterLess, figure.Same, figure.NotShown, figure.WorseLess, figure.Worse, figure.NotDone, figure.NotTold}
	for i := range n {
		codes := figuretest.Twelve()
		codes.Candidates = codes.Candidates[:1+r.IntN(12)]
		if r.IntN(5) == 0 {
			codes.Candidates[0] = "PROTO-7"
		}
		scale := math.Pow(10, r.Float64()*8-4)
		digits := r.IntN(4)
		word := func(v float64) string { return fmt.Sprintf("%.*f", digits, v) }
		l := &figure.IntervalLadder{Control: 100 * scale, Columns: []string{"index", "difference, m"}, Stints: "stints", Thin: "thin line: without the ground’s record"}
		l.Codes, l.Title = codes, figure.Say("A ladder of any shape")
		l.Value = figure.Axis{Name: "index", Better: []figure.Toward{figure.Rising, figure.Falling, figure.Nowhere}[r.IntN(3)]}
		if r.IntN(4) > 0 {
			m := scale * 8 * r.Float64()
			l.Margin = &figure.Margin{Low: l.Control - m, High: l.Control + m, LowText: word(l.Control - m), HighText: word(l.Control + m)}
		}
		pr := &figure.Profile{}
		pr.Codes, pr.Title = codes, figure.Say("A profile of any shape")
		pr.Value = figure.Axis{Name: "points from the control", Better: figure.Rising, Signed: true}
		for range 1 + r.IntN(10) {
			a := figure.ProfileAttribute{Name: strings.Repeat("balance at entry ", 1+r.IntN(3)), Finding: figure.Say(figure.CodeOf("A"), " better")}
			for _, c := range codes.Candidates {
				e, h := r.NormFloat64(), math.Abs(r.NormFloat64())
				a.Ratings = append(a.Ratings, figure.ProfileRating{Code: c, Estimate: p(e), Low: p(e - h), High: p(e + h), Raters: []float64{e - h/2, e + h/3}})
			}
			pr.Attributes = append(pr.Attributes, a)
		}
		for _, c := range codes.Candidates {
			e, h := l.Control+scale*6*r.NormFloat64(), scale*math.Exp(2*r.NormFloat64())
			row := figure.LadderRow{Code: c, Verdict: verdicts[r.IntN(len(verdicts))], Stints: fmt.Sprint(1 + r.IntN(12))}
			if r.IntN(8) > 0 {
				row.Estimate = p(e)
				row.Readings = []figure.Reading{{Value: word(e), Interval: word(e-h) + " to " + word(e+h), Note: r.IntN(3)}, {Value: word(e - l.Control)}}
				if r.IntN(8) > 0 {
					row.Low, row.High = p(e-h), p(e+h)
				}
				if r.IntN(3) > 0 {
					row.ThinLow, row.ThinHigh = p(e-2*h), p(e+2*h)
				}
			}
			l.Rows = append(l.Rows, row)
		}
		b := figuretest.Budget()
		b.Parts = nil
		for k := range 1 + r.IntN(9) {
			b.Parts = append(b.Parts, figure.BudgetPart{Name: strings.Repeat("stop to stop ", 1+r.IntN(2)) + fmt.Sprint(k), Short: fmt.Sprintf("part %d", k), Share: math.Exp(3 * r.NormFloat64())})
		}
		ch := figuretest.Chart(1 + r.IntN(30))
		for k := range ch.Programmes {
			g := &ch.Programmes[k]
			if r.IntN(6) == 0 {
				g.Residuals[0] = figure.ChartPoint{Value: 2 * r.NormFloat64(), Broken: true, Note: 1 + k}
			}
		}
		for _, f := range []figure.Figure{l, b, ch, pr} {
			for _, w := range widths {
				hold(t, fmt.Sprintf("%s %d (%d candidates) at %.0f pt", f.Kind(), i, len(codes.Candidates), float64(w)), draw(t, f, w))
			}
		}
		if t.Failed() {
			return
		}
	}
}

// The order row keeps the stints in the order in which they were driven.
func TestStripKeepsTheOrder(t *testing.T) {
	f := figuretest.Strip()
	for _, w := range widths {
		d := draw(t, f, w)
		rows := map[float64][]*figure.Label{}
		for _, it := range d.Items {
			if l := it.Label; l != nil && len(l.Runs) == 1 && l.Runs[0].Face == fonts.SansBold && l.Anchor == figure.Middle {
				rows[l.At.Y] = append(rows[l.At.Y], l)
			}
		}
		var got []*figure.Label
		for _, ls := range rows {
			if len(ls) == len(f.Stints) {
				got = ls
			}
		}
		sort.Slice(got, func(i, j int) bool { return got[i].At.X < got[j].At.X })
		if len(got) != len(f.Stints) {
			t.Fatalf("no row has all %d stints", len(f.Stints))
		}
		for i, l := range got {
			if words(l) != f.Stints[i].Code {
				t.Errorf("place %d is %s, driven was %s", i+1, words(l), f.Stints[i].Code)
			}
		}
	}
}

// Rungs stand by estimate, the best on top, whichever way is better.
func TestLadderStandsByEstimate(t *testing.T) {
	for _, better := range []figure.Toward{figure.Rising, figure.Falling} {
		f := figuretest.Ladder()
		f.Value.Better = better
		for _, w := range widths {
			y := map[string]float64{}
			for _, it := range draw(t, f, w).Items {
				if l := it.Label; l != nil && len(l.Runs) == 1 && l.Runs[0].Face == fonts.SansBold && l.At.X == 0 {
					y[words(l)] = l.At.Y
				}
			}
			want := []string{"R", "P", "T", "W"}
			if better == figure.Falling {
				want = []string{"W", "T", "P", "R"}
			}
			for i := 1; i < len(want); i++ {
				if !(y[want[i-1]] < y[want[i]]) {
					t.Errorf("better %s: %s does not stand above %s", better, want[i-1], want[i])
				}
			}
		}
	}
}

// discs gives the centres of the discs of a radius that are filled with a tone.
func discs(d *figure.Drawing, tone figure.Tone, radius float64) []figure.Point {
	var out []figure.Point
	for _, it := range d.Items {
		if c := it.Circle; c != nil && c.Fill.Tone == tone && c.Fill.Opacity == 1 && c.Radius == radius {
			out = append(out, c.Centre)
		}
	}
	return out
}

// uprights gives the places of the upright lines of the control's weight.
func uprights(d *figure.Drawing) []float64 {
	var out []float64
	for _, it := range d.Items {
		if p := it.Path; p != nil && p.Width == 1.6 && len(p.Outlines[0].Points) == 2 && p.Outlines[0].Points[0].X == p.Outlines[0].Points[1].X {
			out = append(out, p.Outlines[0].Points[0].X)
		}
	}
	return out
}

// Data mirrored about the control give a mirrored ladder: every estimate is as
// far to the other side.
func TestMirroredLadder(t *testing.T) {
	f := figuretest.Ladder()
	m := figuretest.Ladder()
	flip := func(v *float64) *float64 { return figuretest.P(200 - *v) }
	for i := range m.Rows {
		r := &m.Rows[i]
		r.Estimate, r.Low, r.High, r.ThinLow, r.ThinHigh = flip(r.Estimate), flip(r.High), flip(r.Low), flip(r.ThinHigh), flip(r.ThinLow)
	}
	m.Value.Better = figure.Falling
	a, b := draw(t, f, figure.Full), draw(t, m, figure.Full)
	pa, pb := discs(a, figure.Indigo, 3.1), discs(b, figure.Indigo, 3.1)
	ka, kb := uprights(a), uprights(b)
	if len(pa) != 1 || len(pb) != 1 || len(ka) != 1 || len(kb) != 1 {
		t.Fatalf("%d and %d discs, %d and %d lines of the control", len(pa), len(pb), len(ka), len(kb))
	}
	if da, db := pa[0].X-ka[0], pb[0].X-kb[0]; math.Abs(da+db) > 1e-9 || da <= 0 {
		t.Errorf("P lies %g and, mirrored, %g from the control", da, db)
	}
	if pa[0].Y != pb[0].Y {
		t.Error("mirrored and with the other direction better, P changes its rung")
	}
}

// A strip turned upside down is drawn upside down.
func TestMirroredStrip(t *testing.T) {
	f, m := figuretest.Strip(), figuretest.Strip()
	neg := func(v *float64) *float64 { return figuretest.P(-*v) }
	for i := range m.Stints {
		s := &m.Stints[i]
		s.Mean, s.Low, s.High = neg(s.Mean), neg(s.High), neg(s.Low)
		for j := range s.Runs {
			s.Runs[j].Value *= -1
		}
	}
	for i := range m.Drift {
		q := &m.Drift[i]
		for _, col := range [][]float64{q.Value, q.Low, q.High} {
			for j := range col {
				col[j] *= -1
			}
		}
		q.Low, q.High = q.High, q.Low
	}
	pa, pb := discs(draw(t, f, figure.Full), figure.Indigo, 2.6), discs(draw(t, m, figure.Full), figure.Indigo, 2.6)
	if len(pa) != 3 || len(pb) != 3 { // P was driven three times
		t.Fatalf("%d and %d discs", len(pa), len(pb))
	}
	for i := range pa {
		if s := pa[i].Y + pb[i].Y - pa[0].Y - pb[0].Y; math.Abs(s) > 1e-9 {
			t.Errorf("stint %d of P is not mirrored: off by %g pt", i+1, s)
		}
	}
}

func TestWhatCannotBeDrawnIsAFault(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	strip := func(change func(*figure.BracketStrip)) figure.Figure {
		f := figuretest.Strip()
		change(f)
		return f
	}
	ladder := func(change func(*figure.IntervalLadder)) figure.Figure {
		f := figuretest.Ladder()
		change(f)
		return f
	}
	cases := map[string]figure.Figure{
		"no stint":             strip(func(f *figure.BracketStrip) { f.Stints, f.Conditions, f.Breaks = nil, nil, nil }),
		"no candidate":         strip(func(f *figure.BracketStrip) { f.Stints, f.Conditions, f.Breaks = f.Stints[:1], nil, nil }),
		"mean not finite":      strip(func(f *figure.BracketStrip) { f.Stints[2].Mean = &nan }),
		"run not finite":       strip(func(f *figure.BracketStrip) { f.Stints[2].Runs[0].Value = inf }),
		"time not finite":      strip(func(f *figure.BracketStrip) { f.Stints[2].AtS = nan }),
		"out of order":         strip(func(f *figure.BracketStrip) { f.Stints[2].AtS = 0 }),
		"interval upside down": strip(func(f *figure.BracketStrip) { s := &f.Stints[1]; s.Low, s.High = s.High, s.Low }),
		"drift of two lengths": strip(func(f *figure.BracketStrip) { f.Drift[0].Low = f.Drift[0].Low[1:] }),
		"drift not finite":     strip(func(f *figure.BracketStrip) { f.Drift[0].High[3] = inf }),
		"no such stint":        strip(func(f *figure.BracketStrip) { f.Brackets = []figure.Bracket{{From: 3, To: 99}} }),
		"break before all":     strip(func(f *figure.BracketStrip) { f.Breaks = []figure.Break{{Before: 0}} }),
		"cells missing":        strip(func(f *figure.BracketStrip) { f.Conditions[0].Cells = f.Conditions[0].Cells[1:] }),
		"no rung":              ladder(func(f *figure.IntervalLadder) { f.Rows = nil }),
		"estimate not finite":  ladder(func(f *figure.IntervalLadder) { f.Rows[0].Estimate = &inf }),
		"rung upside down":     ladder(func(f *figure.IntervalLadder) { r := &f.Rows[0]; r.Low, r.High = r.High, r.Low }),
		"margin upside down":   ladder(func(f *figure.IntervalLadder) { f.Margin.Low = 104 }),
		"control not finite":   ladder(func(f *figure.IntervalLadder) { f.Control = nan }),
		"strip without a code": &figure.VerdictStrip{},
		"no share":             &figure.UncertaintyBudget{},
		"share below zero":     &figure.UncertaintyBudget{Parts: []figure.BudgetPart{{Share: -1}, {Share: 2}}},
		"no rating":            &figure.Profile{Attributes: []figure.ProfileAttribute{{Name: "Precision"}}},
		"rating not finite":    &figure.Profile{Attributes: []figure.ProfileAttribute{{Ratings: []figure.ProfileRating{{Code: "P", Raters: []float64{nan}}}}}},
		"no curve":             &figure.PastThePeak{},
		"no gain":              &figure.GainAlongTheLap{Finishes: []figure.Finish{{Code: "P"}}},
		"curve backwards":      &figure.PastThePeak{Curves: []figure.Curve{{Code: "P", X: []float64{2, 1}, Y: []float64{1, 1}}}},
		"band of two lengths":  &figure.GainAlongTheLap{Curves: []figure.Curve{{Code: "P", X: []float64{1, 2}, Y: []float64{1, 1}, Low: []float64{0}, High: []float64{2}}}},
		"way upside down":      &figure.RoomPlot{Ways: []figure.Way{{Right: 1}}, Curves: []figure.Curve{{Code: "P", X: []float64{1, 2}, Y: []float64{1, 1}}}},
		"no line":              &figure.RoomPlot{},
		"gap not finite":       &figure.RoomPlot{Gaps: []figure.Gap{{At: nan}}, Curves: []figure.Curve{{Code: "P", X: []float64{1, 2}, Y: []float64{1, 1}}}},
		"detail upside down":   &figure.RoomPlot{Detail: &figure.Detail{From: 2, To: 1, High: 1}, Curves: []figure.Curve{{Code: "P", X: []float64{1, 2}, Y: []float64{1, 1}}}},
		"no panel":             &figure.AnswerCurve{},
		"delay upside down":    &figure.AnswerCurve{Panels: []figure.Panel{{Curves: []figure.Curve{{X: []float64{1, 2}, Y: []float64{1, 1}}}, Delays: []figure.Delay{{Low: 2, High: 1}}}}},
		"no control stint":     &figure.ControlChart{Programmes: []figure.ChartGroup{{Name: "14 May"}}},
		"residual not finite":  &figure.ControlChart{Programmes: []figure.ChartGroup{{Residuals: []figure.ChartPoint{{Value: nan}}}}},
	}
	for name, f := range cases {
		for _, w := range widths {
			if _, err := f.Draw(w); fault.CodeOf(err) != fault.Invalid {
				t.Errorf("%s: %v", name, err)
			}
		}
	}
	if _, err := figure.Unmarshal([]byte(`{"kind":"pie","data":{}}`)); fault.CodeOf(err) != fault.Unsupported {
		t.Errorf("an unknown kind: %v", err)
	}
}

// The verdict strip shows the control in its middle, the estimate where it
// lies, and what lies beyond with an arrowhead.
func TestVerdictStrip(t *testing.T) {
	p := figuretest.P
	f := &figure.VerdictStrip{Codes: figuretest.Codes(), Code: "P", Verdict: figure.Better, Control: 100,
		Margin: &figure.Margin{Low: 98, High: 102}, Estimate: p(105), Low: p(103), High: p(107), Reading: figure.Reading{Value: "105.0", Interval: "103.0 to 107.0"}}
	d := draw(t, f, 68)
	hold(t, "verdict strip", d)
	c := discs(d, figure.Indigo, 1.9)
	if len(c) != 1 || math.Abs(c[0].X-(34+.5*30)) > 1e-9 {
		t.Errorf("105 of 90 to 110 lies at %v, not at %v", c, 49)
	}
	if d.Title != "P: better, 105.0 (103.0 to 107.0)" {
		t.Errorf("it says %q", d.Title)
	}
	f.Mirrored = true
	if m := discs(draw(t, f, 68), figure.Indigo, 1.9); len(m) != 1 || math.Abs(m[0].X-(34-.5*30)) > 1e-9 {
		t.Errorf("mirrored it lies at %v", m)
	}
	f.Mirrored, f.Estimate, f.Low, f.High = false, p(140), p(130), p(150)
	far := draw(t, f, 68)
	hold(t, "far verdict strip", far)
	if len(discs(far, figure.Indigo, 1.9)) != 0 {
		t.Error("an estimate beyond the strip has a mark on it")
	}
	f.Margin, f.Estimate, f.Low, f.High = nil, nil, nil, nil
	f.Verdict, f.Reading = figure.NotDone, figure.Reading{}
	if d := draw(t, f, 68); d.Title != "P: not computed" {
		t.Errorf("it says %q", d.Title)
	}
}

// What had no room is told.
func TestLongTitlesAreTold(t *testing.T) {
	f := figuretest.Ladder()
	f.Title = figure.Say(strings.Repeat("R is better than the control, and so on; ", 8))
	if d := draw(t, f, figure.Half); !d.Caveats.Has("figure_title_long") {
		t.Errorf("caveats %v", d.Caveats)
	}
}

// A stint without a mean stands in the order and is told; nothing is invented.
func TestStintWithoutAMean(t *testing.T) {
	f := figuretest.Strip()
	f.Stints[1].Mean, f.Stints[1].Low, f.Stints[1].High, f.Stints[1].Runs = nil, nil, nil, nil
	d := draw(t, f, figure.Full)
	if !d.Caveats.Has("figure_not_drawn") {
		t.Errorf("caveats %v", d.Caveats)
	}
	if n := len(discs(d, figure.Indigo, 2.6)); n != 2 {
		t.Errorf("%d marks of P, driven twice with a mean", n)
	}
}

// What would narrow an interval stands in rows that hold the longest of them, in whatever
// order they are listed: a law.
func TestTheBudgetsRowsHoldTheLongest(t *testing.T) {
	height := func(names ...string) float64 {
		f := figuretest.Budget()
		f.Options = f.Options[:1]
		for _, n := range names {
			f.Options = append(f.Options, figure.BudgetOption{Name: n, Low: -2.6, High: -1.6})
		}
		d, err := f.Draw(figure.Half)
		if err != nil {
			t.Fatal(err)
		}
		return d.Height
	}
	long, less := "every candidate once more, in reversed order, closed by the control", "P once more, closed by the control"
	if a, b := height(long, less), height(less, long); a != b {
		t.Errorf("%v high, and %v in the other order", a, b)
	}
}
