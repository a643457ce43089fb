package lanechange

import (
	"math"
	"slices"
	"strconv"

	"example.org/bookend/figure"
	"example.org/bookend/procedure"
	"example.org/bookend/unit"
)

// Overlay lays the lines of all passes over each other from above, between the lanes:
// the path of the rear corner on the side that the exit lane's far edge lies on, means
// of stints for each code, with the exit drawn larger. It writes how far the code that
// differs most runs from the control there, and what the widest leaves to the cones.
// Passes whose first change is to the right are turned over. The first run's code is
// taken for the control, which opens every sequence. With fewer than two codes there
// is no figure.
func (lanechange) Overlay(in []procedure.Overlaid) ([]figure.Figure, error) {
	f := &figure.RoomPlot{Station: figure.Axis{Name: "station from the entry gate, m"}}
	var turned []procedure.Overlaid
	for _, o := range in {
		left, right := trace(o, "left_edges"), trace(o, "right_edges")
		if left == nil || right == nil || len(left.X) < 4 {
			continue
		}
		// The side lane's middle says to which side the first change goes.
		toRight := left.Y[2]+right.Y[2] < left.Y[0]+right.Y[0]
		id := "rear_right_by_station"
		if toRight {
			id = "rear_left_by_station"
			left, right = right, left
		}
		line := trace(o, id)
		if line == nil {
			continue
		}
		sign := 1.0
		if toRight {
			sign = -1
		}
		q := procedure.Trace{ID: "rear_by_station", Title: line.Title, X: line.X, XUnit: line.XUnit, Y: slices.Clone(line.Y), YUnit: line.YUnit}
		for i := range q.Y {
			q.Y[i] *= sign
		}
		if f.Ways == nil {
			for k := 0; k+1 < len(left.X); k += 2 {
				name := []string{entryLane, sideLane, exitLane, lastLane}[k/2]
				f.Ways = append(f.Ways, figure.Way{Name: name, From: left.X[k], To: left.X[k+1], Left: sign * left.Y[k], Right: sign * right.Y[k]})
			}
		}
		o.Traces = []procedure.Trace{q}
		turned = append(turned, o)
	}
	means := procedure.Means(turned, "rear_by_station")
	if len(means) < 2 {
		return nil, nil
	}
	runs, stints, banded := 0, 0, true
	for i, m := range means {
		if i == 0 {
			f.Codes.Control = m.Code
		} else {
			f.Codes.Candidates = append(f.Codes.Candidates, m.Code)
		}
		runs, stints, banded = runs+m.Runs, stints+m.Stints, banded && m.Low != nil
		f.Curves = append(f.Curves, figure.Curve{Code: m.Code, X: m.X, Y: m.Y, Low: m.Low, High: m.High})
	}
	f.Test = spec.Title
	f.Title = figure.Say("All codes left the lane change where ", figure.CodeOf(f.Codes.Control), " did")
	f.Sub = figure.Say("Path of the right rear corner from above, changes to the right turned over: means of ", strconv.Itoa(runs), " passes in ", strconv.Itoa(stints), " stints. ",
		"It describes without correction for drift and gives no verdict.", procedure.BandWords(means))
	f.SubShort = figure.Say("Right rear corner from above, means of stints. No verdict.")
	if banded {
		f.SubShort = append(f.SubShort, figure.Span{Text: " Bands: 95 %."})
	}
	for _, w := range f.Ways {
		for _, s := range []float64{w.From, w.To} {
			if s = math.Round(s*10) / 10; !slices.Contains(f.Stations, s) {
				f.Stations = append(f.Stations, s)
			}
		}
	}
	exit(f, means)
	return []figure.Figure{f}, nil
}

// exit draws the exit lane larger, and writes what is farthest apart there, and what
// is left to its far edge where least is.
func exit(f *figure.RoomPlot, means []procedure.Mean) {
	lane := f.Ways[2]
	apart, least, who := 0.0, math.Inf(1), ""
	var gap, left figure.Gap
	low, high := lane.Right, math.Inf(-1)
	for i, s := range means[0].X {
		if s < lane.From || s > lane.To {
			continue
		}
		control := means[0].Y[i]
		at := " at " + unit.Metre.Format(s, 1, unit.Style{})
		for _, m := range means {
			v := m.Y[i]
			low, high = math.Min(low, v), math.Max(high, v)
			if d := math.Abs(v - control); d > apart {
				apart, who = d, m.Code
				gap = figure.Gap{At: s, From: control, To: v, Words: f.Codes.Control + " to " + m.Code + at, Value: unit.Metre.Format(d, 2, unit.Style{})}
			}
			if room := v - lane.Right; room < least {
				least = room
				left = figure.Gap{At: s, From: lane.Right, To: v, Words: m.Code + " to the cones" + at, Value: unit.Metre.Format(room, 2, unit.Style{})}
			}
		}
	}
	if math.IsInf(high, -1) {
		return // no line reaches the exit
	}
	f.Detail = &figure.Detail{Name: "the exit, enlarged", From: lane.From - 1, To: lane.To + 1, Low: low - 0.15, High: high + 0.15}
	if apart > 0 {
		f.Title = figure.Say(figure.CodeOf(who), " ran up to "+gap.Value+" from ", figure.CodeOf(f.Codes.Control), " in the exit")
		f.Gaps = append(f.Gaps, gap)
	}
	f.Gaps = append(f.Gaps, left)
}

// trace gives a run's trace of that id, nil where it has none.
func trace(o procedure.Overlaid, id string) *procedure.Trace {
	for i := range o.Traces {
		if o.Traces[i].ID == id && len(o.Traces[i].X) > 0 {
			return &o.Traces[i]
		}
	}
	return nil
}
