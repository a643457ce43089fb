package lap

import (
	"math"
	"slices"

	"example.org/bookend/course"
	"example.org/bookend/figure"
	"example.org/bookend/procedure"
	"example.org/bookend/unit"
)

// places is how many stations a figure samples (own choice: two a point of the
// figure's width are more than is seen).
const places = 400

// Overlay gives the time gained on the control along the lap: at each station of the
// reference line, the mean time of the control's stints less that of the code's; a
// stint's time is the mean of its laps. The first run's code is taken for the
// control, which opens every sequence. There are no intervals: whether a gain is
// shown is what room compare says of lap and sector times.
//
// Without a reference line stations of different laps are not the same places, and
// there is no figure; nor is there one with fewer than two codes.
func (lap) Overlay(in []procedure.Overlaid) ([]figure.Figure, error) {
	type timed struct {
		run  procedure.Overlaid
		x, y []float64
	}
	var runs []timed
	for _, o := range in {
		for _, tr := range o.Traces {
			if tr.ID == "time_by_station" && len(tr.X) > 1 {
				runs = append(runs, timed{o, tr.X, tr.Y})
			}
		}
	}
	var codes []string
	for _, r := range runs {
		if !slices.Contains(codes, r.run.Code) {
			codes = append(codes, r.run.Code)
		}
	}
	if len(codes) < 2 {
		return nil, nil
	}
	// The grid ends where the shortest lap does.
	end := math.Inf(1)
	for _, r := range runs {
		end = math.Min(end, r.x[len(r.x)-1])
	}
	grid := make([]float64, places+1)
	for i := range grid {
		grid[i] = end * float64(i) / places
	}
	grid[places] = end
	mean := func(code string) []float64 {
		var stints []string
		for _, r := range runs {
			if r.run.Code == code && !slices.Contains(stints, r.run.Stint) {
				stints = append(stints, r.run.Stint)
			}
		}
		out := make([]float64, len(grid))
		for _, stint := range stints {
			n := 0.0
			sum := make([]float64, len(grid))
			for _, r := range runs {
				if r.run.Code != code || r.run.Stint != stint {
					continue
				}
				v, _ := course.ByStation(r.x, r.y, grid)
				n++
				for i := range v {
					sum[i] += v[i]
				}
			}
			for i := range sum {
				out[i] += sum[i] / n / float64(len(stints))
			}
		}
		return out
	}
	control := mean(codes[0])
	f := &figure.GainAlongTheLap{
		Value:   figure.Axis{Name: "time gained, s", Better: figure.Rising, Signed: true},
		Station: figure.Axis{Name: "station from the start gate, m"},
	}
	f.Codes = figure.Codes{Control: codes[0], Candidates: codes[1:]}
	f.Test = spec.Title
	f.Title = figure.Say("Time gained on ", figure.CodeOf(codes[0]), " along the lap")
	f.Sub = figure.Say("means of stints, without intervals and without correction for drift: description, no verdict")
	for _, code := range codes[1:] {
		y := mean(code)
		for i := range y {
			y[i] = control[i] - y[i]
		}
		f.Curves = append(f.Curves, figure.Curve{Code: code, X: grid, Y: y})
		f.Finishes = append(f.Finishes, figure.Finish{Code: code, Estimate: y[places], Value: unit.Second.FormatDifference(y[places], 2, unit.Style{})})
	}
	return []figure.Figure{f}, nil
}
