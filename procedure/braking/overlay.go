package braking

import (
	"math"
	"strconv"
	"strings"

	"example.org/bookend/figure"
	"example.org/bookend/procedure"
	"example.org/bookend/unit"
)

// Overlay lays the stops over each other by what was left of them: the distance from
// every speed to the stop's end, and how much more of it each code needed than the
// control; means of stints for each code. The control's runs come first. With fewer than
// two codes there is no figure.
func (braking) Overlay(in []procedure.Overlaid) ([]figure.Figure, error) {
	var left []procedure.Overlaid
	for _, o := range in {
		if q, ok := leftBySpeed(o.Traces); ok {
			o.Traces = []procedure.Trace{q}
			left = append(left, o)
		}
	}
	means := procedure.Means(left, "left_by_speed")
	if len(means) < 2 {
		return nil, nil
	}
	runs, stints := 0, 0
	for _, m := range means {
		runs, stints = runs+m.Runs, stints+m.Stints
	}
	drawn := "Means of " + strconv.Itoa(runs) + " stops in " + strconv.Itoa(stints) + " stints. It describes without correction for drift and gives no verdict."
	bands := procedure.BandWords(means)
	last := len(means[0].X) - 1
	from := unit.KilometrePerHour.Format(means[0].X[last], 0, unit.Style{})

	whole := laid(means)
	whole.Value = figure.Axis{Name: "distance left to the end of the stop, m"}
	whole.Title = needed(from, means, last)
	whole.TitleShort = figure.Say("What was left of the stop, by speed")
	whole.Sub = figure.Say(drawn, bands)

	beside := procedure.Beside(means)
	more := laid(beside)
	more.Value = figure.Axis{Name: "distance left, more than " + means[0].Code + ", m", Signed: true}
	more.Title = longest(from, beside, last)
	more.TitleShort = figure.Say("What was left beside ", figure.CodeOf(means[0].Code))
	if bands != "" && beside[0].Low != nil {
		bands = strings.Replace(bands, "of each mean", "of each difference and of the control’s mean", 1)
	}
	more.Sub = figure.Say(drawn, bands)
	return []figure.Figure{whole, more}, nil
}

// laid begins a figure of means by speed.
func laid(means []procedure.Mean) *figure.PastThePeak {
	f := &figure.PastThePeak{Slip: figure.Axis{Name: "speed, km/h"}}
	f.Codes.Control = means[0].Code
	for i, m := range means {
		if i > 0 {
			f.Codes.Candidates = append(f.Codes.Candidates, m.Code)
		}
		m = m.Scaled(3.6, 1)
		f.Curves = append(f.Curves, figure.Curve{Code: m.Code, X: m.X, Y: m.Y, Low: m.Low, High: m.High})
	}
	f.Test = spec.Title
	f.SubShort = figure.Say("Means of stints. No verdict.")
	return f
}

// needed says what the control needed from the highest speed that all stops share, and
// from what to what the others did.
func needed(from string, means []procedure.Mean, last int) figure.Text {
	least, most := means[1], means[1]
	for _, m := range means[2:] {
		if m.Y[last] < least.Y[last] {
			least = m
		}
		if m.Y[last] > most.Y[last] {
			most = m
		}
	}
	in := func(m procedure.Mean) string { return unit.Metre.Format(m.Y[last], 1, unit.Style{}) }
	t := figure.Say("From "+from+" ", figure.CodeOf(means[0].Code), " needed "+in(means[0])+", ", figure.CodeOf(least.Code), " "+in(least))
	if most.Code != least.Code {
		t = append(t, figure.Say(", ", figure.CodeOf(most.Code), " "+in(most))...)
	}
	return t
}

// longest says who needed most more than the control from there, and who most less.
func longest(from string, beside []procedure.Mean, last int) figure.Text {
	control := figure.CodeOf(beside[0].Code)
	longer, shorter := beside[1], beside[1]
	for _, m := range beside[2:] {
		if m.Y[last] > longer.Y[last] {
			longer = m
		}
		if m.Y[last] < shorter.Y[last] {
			shorter = m
		}
	}
	const seen = 0.005 // m, what two digits show
	by := func(m procedure.Mean) string { return unit.Metre.Format(math.Abs(m.Y[last]), 2, unit.Style{}) }
	switch {
	case longer.Y[last] >= seen && shorter.Y[last] <= -seen:
		return figure.Say("From "+from+" ", figure.CodeOf(longer.Code), " needed "+by(longer)+" more than ", control, ", ", figure.CodeOf(shorter.Code), " "+by(shorter)+" less")
	case longer.Y[last] >= seen:
		return figure.Say("From "+from+" ", figure.CodeOf(longer.Code), " needed "+by(longer)+" more than ", control)
	case shorter.Y[last] <= -seen:
		return figure.Say("From "+from+" ", figure.CodeOf(shorter.Code), " needed "+by(shorter)+" less than ", control)
	}
	return figure.Say("From "+from+" all codes needed what ", control, " needed")
}

// leftBySpeed gives how far a stop still went from every speed on, by increasing speed.
func leftBySpeed(traces []procedure.Trace) (procedure.Trace, bool) {
	var speed, distance *procedure.Trace
	for i := range traces {
		switch traces[i].ID {
		case "speed_by_time":
			speed = &traces[i]
		case "distance_by_time":
			distance = &traces[i]
		}
	}
	if speed == nil || distance == nil || len(speed.Y) != len(distance.Y) || len(speed.Y) < 2 {
		return procedure.Trace{}, false
	}
	q := procedure.Trace{ID: "left_by_speed", Title: "Distance left by speed", XUnit: "m/s", YUnit: "m"}
	n := len(speed.Y) - 1
	for i := n; i >= 0; i-- { // speed is noisy: what is no faster than later samples is left out
		if k := len(q.X); k == 0 || speed.Y[i] > q.X[k-1] {
			q.X, q.Y = append(q.X, speed.Y[i]), append(q.Y, distance.Y[n]-distance.Y[i])
		}
	}
	return q, len(q.X) > 1
}
