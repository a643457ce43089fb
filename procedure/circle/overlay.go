package circle

import (
	"math"
	"strconv"

	"example.org/bookend/figure"
	"example.org/bookend/procedure"
	"example.org/bookend/unit"
)

// Overlay lays steering against lateral acceleration over each other, a figure for each
// way round: means of stints for each code, over what all of its own runs reached. The
// control's runs come first. With fewer than two codes there is no figure.
func (circle) Overlay(in []procedure.Overlaid) ([]figure.Figure, error) {
	var out []figure.Figure
	for _, way := range []string{"left", "right"} {
		means := procedure.MeansOfEach(in, "steering_by_lateral_"+way)
		if len(means) < 2 {
			continue
		}
		f := &figure.PastThePeak{
			Value: figure.Axis{Name: "steering, °"},
			Slip:  figure.Axis{Name: "lateral acceleration, m/s²"},
		}
		f.Codes.Control = means[0].Code
		runs, stints := 0, 0
		for i, m := range means {
			if i > 0 {
				f.Codes.Candidates = append(f.Codes.Candidates, m.Code)
			}
			runs, stints = runs+m.Runs, stints+m.Stints
			m = m.Scaled(1, 180/math.Pi)
			f.Curves = append(f.Curves, figure.Curve{Code: m.Code, X: m.X, Y: m.Y, Low: m.Low, High: m.High})
		}
		f.Test = spec.Title
		f.Title = figure.Say("To the "+way+" all codes were steered as ", figure.CodeOf(f.Codes.Control))
		if x, shared := procedure.LastShared(means); shared {
			if far, by, ok := procedure.Farthest(means, x); ok && math.Abs(by) >= 0.05*math.Pi/180 { // what one digit shows
				more := " more than "
				// To the right angles are negative: more is farther from the middle.
				if own, _, _ := means[0].At(x); by*own < 0 {
					more = " less than "
				}
				f.Title = figure.Say("To the "+way+", at "+unit.MetrePerSecondSquared.Format(math.Abs(x), 1, unit.Style{})+", ", figure.CodeOf(far.Code),
					" was steered "+unit.Degree.Format(math.Abs(by), 1, unit.Style{})+more, figure.CodeOf(f.Codes.Control))
			}
		}
		f.TitleShort = figure.Say("Steering by lateral acceleration, to the " + way)
		f.Sub = figure.Say("Means of ", strconv.Itoa(runs), " runs in ", strconv.Itoa(stints), " stints. It describes without correction for drift and gives no verdict.", procedure.BandWords(means))
		f.SubShort = figure.Say("Means of stints. No verdict.")
		out = append(out, f)
	}
	return out, nil
}
