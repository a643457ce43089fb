// Package rating turns rating sheets into observations: what no instrument feels, by
// one or several evaluators, attribute by attribute.
//
// Sources: SAE J1441 for the scale (1 to 10, fractions allowed, some events best in
// the middle); common practice for the attributes and for half and quarter points. An
// attribute is best at the top of the scale, or best in the middle: balance runs from
// -3, heavy understeer, by 0, neutral, to +3, heavy oversteer. The two kinds are never
// summed with each other.
//
// A run is a sheet: what one or several raters wrote after one stint. The values are
// points, kept as written. Nothing is corrected here for a rater's severity; that is
// the work of room compare, which sees all sheets.
//
// Limits: an attribute that is not on the list has no observation and a caveat says
// so. Comparisons between manoeuvres, vehicles or days need the control rated in
// each.
package rating

import (
	_ "embed"
	"math"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/figure"
	"example.org/bookend/procedure"
	"example.org/bookend/programme"
	"example.org/bookend/programme/attribute"
	"example.org/bookend/unit"
)

//go:embed help.md
var help string

type rating struct{}

// New gives the procedure.
func New() procedure.Procedure { return rating{} }

func (rating) Spec() programme.Spec { return spec }

func (rating) Help() string { return help }

// Overlay gives no figure: sheets have no traces, and the profile of attributes is
// drawn from what room compare finds.
func (rating) Overlay([]procedure.Overlaid) ([]figure.Figure, error) { return nil, nil }

// Find gives the measure of an attribute as it is written on a sheet, in any of the
// ways that room programme/attribute takes.
func Find(name string) (programme.Measure, bool) { return spec.Measure(prefix + attribute.Key(name)) }

// Bounds gives the lowest and the highest rating of a measure, in points.
func Bounds(m programme.Measure) (low, high float64) {
	s := attribute.ScaleOf(m.Title)
	return s.Low, s.High
}

// Reduce turns the sheets of one run into observations, in the order in which they
// were written.
func (rating) Reduce(in procedure.Input) (procedure.Output, error) {
	var out procedure.Output
	if len(in.Ratings) == 0 {
		return out, fault.New(fault.Invalid, "run %s has no rating", in.Run).
			WithHint("ratings come from sheets, not from recordings: see bookend ratings --help")
	}
	step := map[string]float64{quarterPoints: 0.25, halfPoints: 0.5, wholePoints: 1}[in.Parameters.Word("points")]
	seen := map[[2]string]bool{}
	for _, x := range in.Ratings {
		at := func(err error) error { return fault.At(err, "run %s, %s, %s", in.Run, x.Rater, x.Attribute) }
		if x.Rater == "" {
			return procedure.Output{}, at(fault.New(fault.Invalid, "nobody is named who rated").WithHint("write the rater's name or letter on the sheet"))
		}
		place := caveat.Place{Run: in.Run}
		m, ok := Find(x.Attribute)
		if !ok {
			out.Caveats.Add("attribute_unknown", place, "The attribute %q is not on the list and is left out.", x.Attribute)
			continue
		}
		low, high := Bounds(m)
		if math.IsNaN(x.Value) || x.Value < low || x.Value > high || math.Abs(x.Value/step-math.Round(x.Value/step)) > 1e-9 {
			return procedure.Output{}, at(fault.New(fault.Invalid, "%g is no rating", x.Value).
				WithHint("%s is rated from %s to %s in steps of %s", strings.ToLower(m.Title), unit.Number(low, 0, unit.Plain), unit.Number(high, 0, unit.Plain), unit.Number(step, 2, unit.Plain)))
		}
		key := [2]string{x.Rater, m.ID}
		if seen[key] {
			return procedure.Output{}, at(fault.New(fault.Invalid, "the attribute is rated twice").WithHint("one sheet a stint and rater; a second sheet is of another stint"))
		}
		seen[key] = true
		o := programme.Observation{Run: in.Run, Measure: m.ID, Rater: x.Rater, Value: x.Value}
		if x.Remark != "" {
			place.Measure = m.ID
			o.Caveats.Add("remark", place, "%s: %s", x.Rater, x.Remark)
		}
		out.Observations = append(out.Observations, o)
	}
	return out, nil
}
