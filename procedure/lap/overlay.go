package lap

import (
	"example.org/bookend/figure"
	"example.org/bookend/procedure"
	"example.org/bookend/procedure/lap/laid"
)

// Overlay gives the time gained on the control along the lap, and lateral acceleration
// against sideslip past its peak. The first run's code is taken for the control, which opens
// every sequence. It does not know the test's parameters: corners and the way past the peak
// are those of the defaults. Neither figure has a correction for drift or an allowance for
// how many codes are compared: whether a difference is shown is what room compare says of
// the measures.
func (lap) Overlay(in []procedure.Overlaid) ([]figure.Figure, error) {
	p, err := spec.Settings(nil)
	if err != nil {
		return nil, err
	}
	return laid.Setting{Title: spec.Title, Way: p.Number(paramPast), Rule: rule(p)}.Figures(in), nil
}
