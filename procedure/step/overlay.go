package step

import (
	"math"
	"strconv"

	"example.org/bookend/figure"
	"example.org/bookend/procedure"
	"example.org/bookend/unit"
)

// Overlay lays all steps over each other where the steering is half way, steps to the
// right turned to the left: means of stints for each code, with the delay to half of
// the last value. The first run's code is taken for the control, which opens every
// sequence. With fewer than two codes there is no figure.
func (step) Overlay(in []procedure.Overlaid) ([]figure.Figure, error) {
	f := &figure.AnswerCurve{Time: figure.Axis{Name: "time from half the steering step, s"}}
	steer := procedure.Means(in, "steering_by_time")
	if len(steer) < 2 {
		return nil, nil
	}
	f.Codes.Control = steer[0].Code
	for _, m := range steer[1:] {
		f.Codes.Candidates = append(f.Codes.Candidates, m.Code)
	}
	f.Test = spec.Title
	f.Title = figure.Say("How soon the vehicle answers a step of the wheel, beside ", figure.CodeOf(f.Codes.Control))
	f.TitleShort = figure.Say("Answers to a step of the wheel")
	stints, runs := 0, 0
	for _, m := range steer {
		stints, runs = stints+m.Stints, runs+m.Runs
	}
	f.Sub = figure.Say("Means of ", strconv.Itoa(runs), " runs in ", strconv.Itoa(stints), " stints, laid over each other where the wheel is half way. ",
		"Delay: to half of the last value. It describes without correction for drift and gives no verdict.")
	f.SubShort = figure.Say("Means of stints, laid over each other at half the step. Delay: to half of the last value. No verdict.")
	if words := procedure.BandWords(steer); words != "" {
		f.Sub = append(f.Sub, figure.Span{Text: words})
		f.SubShort = append(f.SubShort, figure.Span{Text: " Bands: 95 %."})
	}
	f.Panels = []figure.Panel{common(steer)}
	for _, p := range []struct {
		trace, axis string
		scale       float64
	}{
		{"yaw_rate_by_time", "yaw rate, °/s", 1 / deg},
		{"lateral_acceleration_by_time", "lateral acceleration, m/s²", 1},
	} {
		panel := figure.Panel{Value: figure.Axis{Name: p.axis}}
		for _, m := range procedure.Means(in, p.trace) {
			m = m.Scaled(1, p.scale)
			panel.Curves = append(panel.Curves, figure.Curve{Code: m.Code, X: m.X, Y: m.Y, Low: m.Low, High: m.High})
			if d, ok := delay(m); ok {
				panel.Delays = append(panel.Delays, d)
			}
		}
		if len(panel.Curves) > 0 {
			f.Panels = append(f.Panels, panel)
		}
	}
	later(f)
	return []figure.Figure{f}, nil
}

// later titles the figure: who answered latest or soonest beside the control, by the
// yaw rate.
func later(f *figure.AnswerCurve) {
	for _, p := range f.Panels {
		own, far := -1, -1
		for i, d := range p.Delays {
			if d.Code == f.Codes.Control {
				own = i
			}
		}
		if own < 0 {
			continue
		}
		by := func(i int) float64 { return p.Delays[i].At - p.Delays[own].At }
		for i := range p.Delays {
			if i != own && (far < 0 || math.Abs(by(i)) > math.Abs(by(far))) {
				far = i
			}
		}
		if far < 0 {
			continue
		}
		way := " later than "
		if by(far) < 0 {
			way = " sooner than "
		}
		f.Title = figure.Say(figure.CodeOf(p.Delays[far].Code), " answered a step of the wheel "+ms(math.Abs(by(far)), "\u00a0ms")+way, figure.CodeOf(f.Codes.Control), " in yaw")
		return
	}
}

// common gives the steering's panel: one curve for all codes, and how far they differ.
func common(means []procedure.Mean) figure.Panel {
	p := figure.Panel{Value: figure.Axis{Name: "steering wheel, °"}}
	all := figure.Curve{X: means[0].X, Y: make([]float64, len(means[0].X))}
	apart := 0.0
	for i := range all.X {
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, m := range means {
			all.Y[i] += m.Y[i] / deg / float64(len(means))
			lo, hi = math.Min(lo, m.Y[i]), math.Max(hi, m.Y[i])
		}
		apart = math.Max(apart, hi-lo)
	}
	p.Curves = []figure.Curve{all}
	p.Words = "all codes, within " + unit.Degree.Format(apart, 1, unit.Style{})
	return p
}

// delay gives when a mean first reaches half of its last value, and when the ends of
// its interval do.
func delay(m procedure.Mean) (figure.Delay, bool) {
	n := len(m.X) - 1
	level := m.Y[n] / 2
	cross := func(y []float64) (float64, bool) {
		for i := 1; i <= n; i++ {
			if y[i-1] < level && y[i] >= level {
				return m.X[i-1] + (m.X[i]-m.X[i-1])*(level-y[i-1])/(y[i]-y[i-1]), true
			}
		}
		return 0, false
	}
	at, ok := cross(m.Y)
	if !ok {
		return figure.Delay{}, false
	}
	d := figure.Delay{Code: m.Code, At: at, Low: at, High: at, Y: level, Value: ms(at, "\u00a0ms")}
	if m.Low != nil {
		low, ok1 := cross(m.High) // the upper end is there first
		high, ok2 := cross(m.Low)
		if ok1 && ok2 && low <= at && at <= high {
			d.Low, d.High = low, high
			d.Interval = ms(low, "") + " to " + ms(high, "")
		}
	}
	return d, true
}

func ms(s float64, symbol string) string { return unit.Number(1000*s, 0, unit.Style{}) + symbol }
