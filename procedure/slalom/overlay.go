package slalom

import (
	"math"
	"slices"
	"strconv"

	"example.org/bookend/course"
	"example.org/bookend/figure"
	"example.org/bookend/procedure"
	"example.org/bookend/unit"
)

// Overlay lays the lines of all passes over each other from above: means of stints
// for each code, the antenna's path, with the markers; and writes how far the code
// that differs most runs from the control at the last marker. Passes that begin on the
// other side are turned over. The first run's code is taken for the control, which
// opens every sequence. With fewer than two codes there is no figure.
func (slalom) Overlay(in []procedure.Overlaid) ([]figure.Figure, error) {
	f := &figure.RoomPlot{Station: figure.Axis{Name: "station from the first gate, m"}}
	turned := make([]procedure.Overlaid, 0, len(in))
	for _, o := range in {
		line, posts := trace(o, "offset_by_station"), trace(o, "markers")
		if line == nil || posts == nil || len(posts.X) == 0 {
			continue
		}
		if f.Cones == nil {
			for _, s := range posts.X {
				f.Cones = append(f.Cones, figure.Cone{Station: s})
			}
		}
		q := *line
		if v, ok := course.ByStation(line.X, line.Y, posts.X[:1]); ok[0] && v[0] < 0 {
			q.Y = slices.Clone(line.Y)
			for i := range q.Y {
				q.Y[i] = -q.Y[i]
			}
		}
		o.Traces = []procedure.Trace{q}
		turned = append(turned, o)
	}
	means := procedure.Means(turned, "offset_by_station")
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
	f.Title = figure.Say("All codes passed the last marker where ", figure.CodeOf(f.Codes.Control), " did")
	f.Sub = figure.Say("Path of the antenna from above: means of ", strconv.Itoa(runs), " passes in ", strconv.Itoa(stints), " stints. ",
		"It describes without correction for drift and gives no verdict.", procedure.BandWords(means))
	f.SubShort = figure.Say("Path of the antenna, means of stints. No verdict.")
	if banded {
		f.SubShort = append(f.SubShort, figure.Span{Text: " Bands: 95 %."})
	}
	last := f.Cones[len(f.Cones)-1].Station
	control, _, _ := means[0].At(last)
	far := means[1]
	for _, m := range means[2:] {
		a, _, _ := m.At(last)
		b, _, _ := far.At(last)
		if math.Abs(a-control) > math.Abs(b-control) {
			far = m
		}
	}
	if to, _, _ := far.At(last); to != control {
		way := " farther out than "
		if math.Abs(to) < math.Abs(control) {
			way = " farther in than "
		}
		f.Title = figure.Say(figure.CodeOf(far.Code), " passed the last marker "+unit.Metre.Format(math.Abs(to-control), 2, unit.Style{})+way, figure.CodeOf(f.Codes.Control))
		f.Gaps = []figure.Gap{{At: last, From: control, To: to, Words: f.Codes.Control + " to " + far.Code + " at the last marker",
			Value: unit.Metre.Format(math.Abs(to-control), 2, unit.Style{})}}
	}
	return []figure.Figure{f}, nil
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
