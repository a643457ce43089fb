// Package drift says how badly drift can spoil an order: the variance of each
// candidate less the control under constant, linear, quadratic and random-walk
// drift, by the correction that the comparison uses, beside the least that any
// unbiased analysis could have.
//
// An order is a sequence of codes over blocks: 0 is the control, 1 to k are the
// candidates. Stint means scatter about tyre and drift with one variance, which
// is the unit of everything here. Every estimate is a weighted sum of stint
// means: Weigh gives the weights, Vary the variances that they have.
//
// Sources: Cox (1951), Cheng and Steinberg (1991); UN R117 for interpolation
// between controls. Limits: drift runs by position, not by clock.
package drift

import "math"

// Correction names how the drift is to be taken out, as package compare does it.
type Correction string

// The corrections. Bound is none that can be carried out: the least variance of
// any unbiased analysis, the drift model being known. Cubic serves to hold
// published orders against their figures; no comparison offers it.
const (
	None      Correction = "none"
	Bracket   Correction = "bracket"
	Linear    Correction = "linear"
	Quadratic Correction = "quadratic"
	Cubic     Correction = "cubic"
	Bound     Correction = "bound"
)

// Degree gives the degree of the correction's curve, 0 for those without one.
func (c Correction) Degree() int {
	switch c {
	case Linear:
		return 1
	case Quadratic:
		return 2
	case Cubic:
		return 3
	}
	return 0
}

// Aim says what is made small: the largest variance of a candidate less
// control, or their mean.
type Aim string

// Aims.
const (
	Largest Aim = "largest"
	Mean    Aim = "mean"
)

// The drift models, as they stand in Weights and in Variance.
const (
	Constant = iota
	Line
	Parabola
	Walk
)

// Models names the drift models in the order of Weights and Variance.
var Models = [4]string{"constant", "linear", "quadratic", "random walk"}

// Assumption is what is assumed of drift. Sizes are in standard deviations of a
// stint mean.
type Assumption struct {
	Weights [4]float64 // of the drift models, in the order of Models; all 0: equal
	StepSD  float64    // of the random walk, a stint; 0: DefaultStepSD
	RiseSD  *float64   // of linear drift from the first to the last stint of a block; nil: as far as the random walk goes
	BowSD   *float64   // of the parabola's height over its middle; nil: as high as the random walk stands over the chord
}

// DefaultStepSD is the step of the random walk, in standard deviations of a
// stint mean, where nothing is known: bookend's own choice, so that drift over a
// dozen stints is about as large as the scatter.
const DefaultStepSD = 0.3

// Sizes gives the standard deviations of rise and bow over a block of n stints.
// A random walk of n-1 steps ends sqrt(n-1) steps away, and stands over the
// middle of its chord by half of that (the Brownian bridge).
func (a Assumption) Sizes(n int) (rise, bow float64) {
	rise = a.StepSD * math.Sqrt(float64(n-1))
	bow = rise / 2
	if a.RiseSD != nil {
		rise = *a.RiseSD
	}
	if a.BowSD != nil {
		bow = *a.BowSD
	}
	return rise, bow
}

// Shares gives the weights of the drift models, summing to 1.
func (a Assumption) Shares() [4]float64 {
	sum := 0.0
	for _, w := range a.Weights {
		sum += w
	}
	var out [4]float64
	for i, w := range a.Weights {
		out[i] = w / sum
	}
	return out
}
