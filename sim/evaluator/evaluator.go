// Package evaluator rates: what somebody writes onto a rating sheet after a stint,
// from what the tyre really is and from what he himself is like.
//
// Attributes are those of the trade's sheets; what a tyre's character is worth on
// each, in points, is our own choice, sized by what raters say of their scale: a
// quarter point is just noticeable back to back, half a point clear to an expert, a
// whole one clear to a customer (common practice, no source). An evaluator has a
// level of his own, spreads differences more or less than another, drifts over the
// day, and scatters from sheet to sheet and from attribute to attribute. He writes
// quarter points from 1 to 10.
package evaluator

import (
	"math"
	"math/rand/v2"

	"example.org/bookend/fault"
	"example.org/bookend/sim/tyremodel"
)

// Evaluator is how somebody rates. All figures but Spread are points.
type Evaluator struct {
	Name      string
	Level     float64 // what he gives the control as he meets it first
	Spread    float64 // how much he makes of a difference: 1 is as Worth has it
	PerHour   float64 // drift
	SheetSD   float64 // scatter of a whole sheet
	ScatterSD float64 // and of each attribute on it
}

// Attribute is one thing that is rated, best at the top of the scale.
type Attribute string

// Attributes of dry and of wet handling.
const (
	Response   Attribute = "response"
	Precision  Attribute = "precision"
	Grip       Attribute = "lateral grip"
	Breakaway  Attribute = "breakaway"
	Stability  Attribute = "lane-change stability"
	WetGrip    Attribute = "wet grip"
	WetBraking Attribute = "wet braking"
	WetBreak   Attribute = "wet breakaway"
	Floating   Attribute = "aquaplaning resistance"
)

// Dry and Wet are the sheets.
var (
	Dry = []Attribute{Response, Precision, Grip, Breakaway, Stability}
	Wet = []Attribute{WetGrip, WetBraking, WetBreak, Floating}
)

// Worth gives what a character is worth on an attribute against the control, in
// points. An attribute that is not known is a not-found fault.
func Worth(a Attribute, c tyremodel.Character) (float64, error) {
	switch a {
	case Response:
		return -0.50 * c.Softer, nil
	case Precision:
		return -0.40 * c.Softer, nil
	case Grip:
		return 0.25 * c.DryGrip, nil
	case Breakaway, WetBreak:
		return -0.75 * c.Sudden, nil
	case Stability:
		return -0.35*c.Softer - 0.20*c.Sudden, nil
	case WetGrip:
		return 0.18*c.WetGrip + 0.10*c.DryGrip, nil
	case WetBraking:
		return 0.18*c.WetGrip + 0.12*c.DryGrip + 0.15*c.Braking, nil
	case Floating:
		return 0.12 * c.Floats, nil
	}
	return 0, fault.New(fault.NotFound, "nothing is known of the attribute %q", a)
}

// Sheet gives what he writes on one sheet, in the order of the attributes, hours
// after he began the day.
func (e Evaluator) Sheet(attributes []Attribute, c tyremodel.Character, hours float64, rnd *rand.Rand) ([]float64, error) {
	out := make([]float64, len(attributes))
	mood := e.SheetSD * rnd.NormFloat64()
	for i, a := range attributes {
		worth, err := Worth(a, c)
		if err != nil {
			return nil, err
		}
		v := e.Level + e.Spread*worth + e.PerHour*hours + mood + e.ScatterSD*rnd.NormFloat64()
		out[i] = math.Min(10, math.Max(1, math.Round(4*v)/4))
	}
	return out, nil
}
