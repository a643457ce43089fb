package rating

import (
	"strings"

	"example.org/bookend/programme"
)

var (
	j1441 = programme.Source{Key: "sae-j1441", Clause: "scale from 1 to 10, 10 ideal, 5 borderline, fractions allowed (seen in summary)"}
	trade = programme.Source{Key: programme.CommonPractice, Clause: "attributes of the sheet; half points, quarter points for small differences"}
	mid   = programme.Source{Key: programme.CommonPractice, Clause: "balance from -3, heavy understeer, by 0, neutral, to +3, heavy oversteer; never summed with what is best at the top"}
)

// The scales, in points: SAE J1441 for what is best at the top, common practice for
// balance.
const (
	lowest, highest = 1, 10
	balance         = 3
)

// Words of the parameter points, and what ids of measures begin with.
const (
	quarterPoints = "quarter"
	halfPoints    = "half"
	wholePoints   = "whole"

	prefix = "rated_"
)

// attribute is one thing that is rated: its name, what it asks, and whether it is best
// in the middle.
type attribute struct {
	name, about string
	middle      bool
}

// attributes are those of the trade's sheets (common practice), group by group.
var attributes = []struct {
	group string
	list  []attribute
}{
	{"Steering", []attribute{
		{"On-centre feel", "Does the wheel say where straight ahead is?", false},
		{"Response", "How soon and how much does the vehicle answer a turn of the wheel?", false},
		{"Precision", "Does it go where it is pointed, without correcting?", false},
		{"Linearity", "Does twice the angle make twice the answer?", false},
		{"Effort", "Is the effort right, and does it build up with the turn?", false},
		{"Feedback", "Does the wheel say how much grip is left?", false},
		{"Straight-line stability", "Does it run straight by itself, over bumps and in wind?", false},
		{"Self-centring", "Does the wheel come back, and stop where it should?", false},
	}},
	{"Handling", []attribute{
		{"Front grip", "How much do the front tyres hold, turning in and through the corner?", false},
		{"Rear grip", "How much do the rear tyres hold?", false},
		{"Lateral grip", "How fast can a corner be driven?", false},
		{"Traction", "How soon and how hard can it accelerate out of a corner?", false},
		{"Balance at entry", "Does it under- or oversteer, turning in?", true},
		{"Balance in mid-corner", "Does it under- or oversteer in the middle of the corner?", true},
		{"Balance at exit", "Does it under- or oversteer, accelerating out?", true},
		{"Lift-off behaviour", "How little does balance change when the throttle is released in a corner?", false},
		{"Breakaway", "Does grip end gradually, with a warning?", false},
		{"Recovery", "How easily is it caught once it slides, and how calmly does it come back?", false},
		{"Predictability", "Does it do the same each time?", false},
		{"Consistency", "Does it stay the same over the laps?", false},
		{"Lane-change stability", "How calm is it in a sudden change of lane and after it?", false},
		{"Braking stability", "Does it stay straight under hard braking?", false},
		{"Braking feel", "Can the deceleration be metered to the limit?", false},
		{"Load change", "How calm is it when load moves from axle to axle?", false},
		{"Confidence", "How near to the limit would one drive it without being asked to?", false},
	}},
	{"Wet", []attribute{
		{"Wet grip", "How much does it hold in the wet?", false},
		{"Wet braking", "How well does it stop in the wet?", false},
		{"Wet breakaway", "Does grip in the wet end gradually, with a warning?", false},
		{"Aquaplaning resistance", "How fast can standing water be driven through straight ahead?", false},
		{"Lateral aquaplaning resistance", "How fast can standing water be driven through in a bend?", false},
		{"Puddle response", "How calm is it as one side meets a puddle?", false},
		{"Grip changes", "How calm is it where wet and dry meet?", false},
	}},
	{"Comfort and noise", []attribute{
		{"Impact", "How softly does it take single bumps and joints?", false},
		{"Texture", "How quiet is it on coarse surfaces?", false},
		{"Tread noise", "How little does the tread sing?", false},
		{"Cavity noise", "How little does the air in the tyre ring?", false},
		{"After-shake", "How soon is a bump over?", false},
	}},
	{"Overall", []attribute{
		{"Overall", "The rater's own judgement of the whole: given, never computed.", false},
	}},
}

// spec is what rating declares.
var spec = declare()

func declare() programme.Spec {
	s := programme.Spec{
		ID:      "rating",
		Version: 1,
		Title:   "Ratings",
		About: "What evaluators felt, attribute by attribute, from sheets filled while the impression is fresh and before times are shown. " +
			"One sheet a stint and rater.",
		Sources: []programme.Source{j1441, trade, mid},
		Cut:     programme.CutWhole,
		Parameters: []programme.Parameter{
			{ID: "points", Title: "Finest step of the sheet", Words: []string{quarterPoints, halfPoints, wholePoints}, Source: trade,
				About: "A quarter point is just noticeable back to back, half a point clear to an expert, a whole one clear to a customer."},
		},
	}
	for _, g := range attributes {
		for _, a := range g.list {
			m := programme.Measure{
				ID:    prefix + strings.NewReplacer(" ", "_", "-", "_").Replace(strings.ToLower(a.name)),
				Title: a.name, Unit: "1", Better: programme.Higher, Scale: programme.Difference, Digits: 2,
				Error: "independent from sheet to sheet, after the rater's severity and drift", About: g.group + ". " + a.about, Source: trade,
			}
			if a.middle {
				zero := 0.0
				m.Better, m.Target, m.Source = programme.Nearest, &zero, mid
			}
			s.Measures = append(s.Measures, m)
		}
	}
	return s
}
