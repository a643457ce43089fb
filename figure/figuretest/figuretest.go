// Package figuretest holds figures to look at and to hold laws against: the
// project's own scenario (ground Skerry Moor, client Tarn Valley Ambulance,
// control K) and the odd data that a client's day can bring. All values are
// invented. Test files alone import it.
package figuretest

import (
	"fmt"
	"math"

	"example.org/bookend/figure"
)

// Specimen is a figure with a name to find it by.
type Specimen struct {
	Name   string
	Figure figure.Figure
}

// All gives every specimen: the plain ones first, then the odd ones.
func All() []Specimen {
	all := []Specimen{
		{"bracket-strip", Strip()},
		{"interval-ladder", Ladder()},
		{"uncertainty-budget", Budget()},
		{"control-chart", Chart(11)},
		{"profile", Profile()},
		{"gain-along-the-lap", Gain()},
		{"past-the-peak", Peak()},
		{"answer-curve", Answer()},
		{"room-plot", Room()},
		{"room-plot-slalom", Weave()},
		{"verdict-strip-better", Verdict("R", figure.Better, 106.3, 104.2, 108.5)},
		{"verdict-strip-same", Verdict("T", figure.Same, 99.7, 97.7, 101.8)},
		{"verdict-strip-not-shown", Verdict("P", figure.NotShown, 102.1, 96, 121)},
		{"verdict-strip-worse", Verdict("W", figure.Worse, 80, 75, 85)},
	}
	return append(all, Odd()...)
}

// P gives the address of a value.
func P(v float64) *float64 { return &v }

// Codes are the scenario's codes.
func Codes() figure.Codes {
	return figure.Codes{Control: "K", Candidates: []string{"P", "R", "T", "W"}}
}

// noise is a fixed sequence of near-normal numbers (sum of twelve uniform ones,
// from a linear congruential generator with Knuth's MMIX constants).
type noise uint64

func (n *noise) next() float64 {
	s := 0.0
	for range 12 {
		*n = *n*6364136223846793005 + 1442695040888963407
		s += float64(uint64(*n)>>11) / (1 << 53)
	}
	return s - 6
}

// Day is a day of stints made up from an order, an effect a code and a drift.
type Day struct {
	Codes   figure.Codes
	Order   string // one letter a stint; a space is a break
	StartS  float64
	StepS   float64
	BreakS  float64
	Runs    int
	Level   float64
	Effects map[string]float64
	Scatter float64 // of runs
	Half    float64 // half width of a stint's interval
	Bow     float64
	Seed    uint64
}

// Strip makes the day's strip.
func (d Day) Strip() *figure.BracketStrip {
	f := &figure.BracketStrip{Clock: true}
	f.Codes = d.Codes
	f.Value = figure.Axis{Name: "stopping distance, m", Short: "distance, m", Better: figure.Falling}
	g := noise(d.Seed)
	t := d.StartS
	var blocks [][2]float64
	from := t
	drift := func(t float64) float64 {
		u := (t - d.StartS) / 28000
		return d.Level - d.Bow*u*(1.4-u)
	}
	for _, r := range d.Order {
		if r == ' ' {
			blocks = append(blocks, [2]float64{from, t - d.StepS})
			t += d.BreakS - d.StepS
			from = t
			f.Breaks = append(f.Breaks, figure.Break{Before: len(f.Stints), Words: []string{"break", "lane rinsed"}})
			continue
		}
		c := string(r)
		m := drift(t) + d.Effects[c] + g.next()*d.Scatter*.4
		s := figure.StripStint{Code: c, AtS: t}
		sum := 0.0
		for range d.Runs {
			v := m + g.next()*d.Scatter
			sum += v
			s.Runs = append(s.Runs, figure.StripRun{Value: v})
		}
		m = sum / float64(d.Runs)
		s.Mean = P(m)
		if d.Runs > 1 {
			s.Low, s.High = P(m-d.Half), P(m+d.Half)
		}
		f.Stints = append(f.Stints, s)
		t += d.StepS
	}
	blocks = append(blocks, [2]float64{from, t - d.StepS})
	for _, b := range blocks {
		var q figure.Drift
		for i := range 61 {
			u := float64(i) / 60
			at := b[0] + (b[1]-b[0])*u
			w := d.Half * (.7 + .5*(2*u-1)*(2*u-1))
			q.AtS = append(q.AtS, at)
			q.Value = append(q.Value, drift(at))
			q.Low = append(q.Low, drift(at)-w)
			q.High = append(q.High, drift(at)+w)
		}
		f.Drift = append(f.Drift, q)
	}
	f.DriftName = figure.Say("the control’s drift, 95 % band")
	f.DriftShort = figure.Say("control’s drift")
	return f
}

// Strip is the scenario's wet stop: two halves of a day, one stop left out for
// too much water.
func Strip() *figure.BracketStrip {
	d := Day{Codes: Codes(), Order: "KPRKTWKRPK KWTKPTKRWK", StartS: 525 * 60, StepS: 21 * 60, BreakS: 86 * 60, Runs: 6, Level: 36.9,
		Effects: map[string]float64{"P": -.75, "R": -2.1, "T": .12, "W": 2}, Scatter: .3, Half: .34, Bow: 2.6, Seed: 7}
	f := d.Strip()
	f.Test, f.TestShort, f.Number = "Wet stop, 80 to 20 km/h · Skerry Moor, basalt lane, 14 May", "Wet stop, 80 to 20 km/h · 14 May", 1
	f.Title = figure.Say(figure.CodeOf("R"), " stops 2.1 m shorter than the control and ", figure.CodeOf("W"), " 2.0 m longer, whichever bracket is asked")
	f.TitleShort = figure.Say(figure.CodeOf("R"), " stops 2.1 m shorter than the control, ", figure.CodeOf("W"), " 2.0 m longer, in every bracket")
	f.Sub = figure.Say("Large marks: stint means with 95 % intervals. Dots: single stops. Thin verticals: by how much a stint differs from the control at its own moment.")
	f.SubShort = figure.Say("Stint means with 95 % intervals; dots: single stops; thin verticals: difference from the control at that moment.")
	f.DriftName = figure.Say("the control’s drift, 95 % band", figure.MarkOf(1))
	f.DriftShort = figure.Say("control’s drift", figure.MarkOf(1))
	f.Notes = []figure.Note{
		{Text: figure.Say("Control correction: drift curve of order 2 in each half of the day, chosen by the control alone; not carried across the break. Intervals of the differences: figure 2.")},
		{Text: figure.Say("Stop 107 of R: water 1.8 mm, limit 1.5 mm; left out. With it R is 2.0 m shorter."), Short: figure.Say("Stop 107 of R: water 1.8 mm, limit 1.5; left out. With it: 2.0 m.")},
	}
	odd := &f.Stints[17]
	odd.Runs[3] = figure.StripRun{Value: *odd.Mean + 1.2, LeftOut: true, Broken: true, Note: 2}
	conditions(f)
	f.Conditions[1].Cells[17] = figure.Cell{Text: "1.3", Note: 2}
	return f
}

func conditions(f *figure.BracketStrip) {
	rows := []figure.ConditionRow{{Name: "surface, °C"}, {Name: "water, mm"}, {Name: "wind, m/s"}}
	for _, s := range f.Stints {
		m := s.AtS / 60
		rows[0].Cells = append(rows[0].Cells, figure.Cell{Text: fmt.Sprintf("%.0f", 13.5+9.5*math.Sin((m-480)/520*math.Pi*.62))})
		rows[1].Cells = append(rows[1].Cells, figure.Cell{Text: fmt.Sprintf("%.1f", 1.02+.09*math.Sin(m/31))})
		rows[2].Cells = append(rows[2].Cells, figure.Cell{Text: fmt.Sprintf("%.0f", 2.1+1.1*math.Sin(m/75))})
	}
	f.Conditions = rows
}

type rung struct {
	code               string
	v                  figure.Verdict
	e, lo, hi, tlo, th float64
	second             figure.Reading
	note               int
}

func ladder(codes figure.Codes, rungs []rung) *figure.IntervalLadder {
	f := &figure.IntervalLadder{}
	f.Codes = codes
	f.Control = 100
	f.Value = figure.Axis{Name: "index", Better: figure.Rising}
	f.Margin = &figure.Margin{Low: 97, High: 103, LowText: "97", HighText: "103"}
	f.Columns, f.Stints = []string{"index", "difference, m"}, "stints"
	f.Thin, f.ThinHalf = "thin line: the same interval without the ground’s own record of control stints", "thin line: without the ground’s record"
	for _, r := range rungs {
		row := figure.LadderRow{Code: r.code, Verdict: r.v, Estimate: P(r.e), Low: P(r.lo), High: P(r.hi), Stints: "3",
			Readings: []figure.Reading{{Value: fmt.Sprintf("%.1f", r.e), Interval: fmt.Sprintf("%.1f to %.1f", r.lo, r.hi), Note: r.note}}}
		if r.second.Value != "" {
			row.Readings = append(row.Readings, r.second)
		}
		if r.th > r.tlo {
			row.ThinLow, row.ThinHigh = P(r.tlo), P(r.th)
		}
		f.Rows = append(f.Rows, row)
	}
	return f
}

// Verdict is one cell's strip for an index with a margin of 3.
func Verdict(code string, v figure.Verdict, e, lo, hi float64) *figure.VerdictStrip {
	return &figure.VerdictStrip{Codes: Codes(), Code: code, Verdict: v, Control: 100, Margin: &figure.Margin{Low: 97, High: 103},
		Estimate: P(e), Low: P(lo), High: P(hi), Reading: figure.Reading{Value: fmt.Sprintf("%.1f", e), Interval: fmt.Sprintf("%.1f to %.1f", lo, hi)}}
}

// Ladder is the scenario's wet stop as a ladder.
func Ladder() *figure.IntervalLadder {
	f := ladder(Codes(), []rung{
		{"P", figure.NotShown, 102.1, 99.9, 104.3, 98.7, 105.6, figure.Reading{Value: "−0.7", Interval: "−1.5 to 0.0"}, 0},
		{"R", figure.Better, 106.3, 104.2, 108.5, 102.9, 109.9, figure.Reading{Value: "−2.1", Interval: "−2.8 to −1.4"}, 0},
		{"T", figure.Same, 99.7, 97.7, 101.8, 96.4, 103.1, figure.Reading{Value: "+0.1", Interval: "−0.6 to +0.8"}, 0},
		{"W", figure.Worse, 94.7, 92.7, 96.7, 91.5, 97.9, figure.Reading{Value: "+2.0", Interval: "+1.2 to +2.8"}, 1},
	})
	f.Test, f.Number = "Wet stop, 80 to 20 km/h", 2
	f.Title = figure.Say(figure.CodeOf("R"), " is better and ", figure.CodeOf("W"), " worse than the control; ", figure.CodeOf("T"), " is the same within 3 %; ", figure.CodeOf("P"), " is not shown to differ")
	f.Sub = figure.Say("Index against the control (100; higher is better), with intervals that hold for all four comparisons together, 95 %. Shaded: the margin agreed with the client.")
	f.SubShort = figure.Say("Index, control = 100. Intervals hold for all four together, 95 %. Shaded: agreed margin.")
	f.Notes = []figure.Note{{Text: figure.Say("W: one of its three stints had four stops instead of six.")}}
	return f
}
