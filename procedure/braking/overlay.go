package braking

import (
	"math"
	"strconv"

	"example.org/bookend/figure"
	"example.org/bookend/procedure"
	"example.org/bookend/unit"
)

// Overlay lays the stops over each other by what was left of them: the distance from
// every speed to the stop's end, means of stints for each code. The control's runs come
// first. With fewer than two codes there is no figure.
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
	f := &figure.PastThePeak{
		Value: figure.Axis{Name: "distance left to the end of the stop, m"},
		Slip:  figure.Axis{Name: "speed, km/h"},
	}
	f.Codes.Control = means[0].Code
	runs, stints := 0, 0
	for i, m := range means {
		if i > 0 {
			f.Codes.Candidates = append(f.Codes.Candidates, m.Code)
		}
		runs, stints = runs+m.Runs, stints+m.Stints
		m = m.Scaled(3.6, 1)
		f.Curves = append(f.Curves, figure.Curve{Code: m.Code, X: m.X, Y: m.Y, Low: m.Low, High: m.High})
	}
	f.Test = spec.Title
	f.Title = figure.Say("All codes needed what ", figure.CodeOf(f.Codes.Control), " needed")
	if x, shared := procedure.LastShared(means); shared {
		if far, by, ok := procedure.Farthest(means, x); ok && math.Abs(by) >= 0.005 { // m, what two digits show
			way := " more than "
			if by < 0 {
				way = " less than "
			}
			f.Title = figure.Say("From "+unit.KilometrePerHour.Format(x, 0, unit.Style{})+" ", figure.CodeOf(far.Code), " needed "+unit.Metre.Format(math.Abs(by), 2, unit.Style{})+way, figure.CodeOf(f.Codes.Control))
		}
	}
	f.TitleShort = figure.Say("What was left of the stop, by speed")
	f.Sub = figure.Say("Means of ", strconv.Itoa(runs), " stops in ", strconv.Itoa(stints), " stints. Description, without correction for drift; no verdict.", procedure.BandWords(means))
	f.SubShort = figure.Say("Means of stints. No verdict.")
	return []figure.Figure{f}, nil
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
