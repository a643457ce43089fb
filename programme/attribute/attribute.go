// Package attribute names what an evaluator rates, and on which scale.
//
// In the trade a sheet has attributes of two kinds. Most are best at the top: 1 to
// 10, 10 ideal, 5 borderline, half points usual and quarter points for small
// differences. Balance is best in the middle: from -3, heavy understeer, by 0,
// neutral, to +3, heavy oversteer. The scale belongs to the attribute: whoever
// takes a rating, from a page, a flag or a table, asks here whether it is one. The
// two kinds are never summed with each other.
//
// Sources: SAE J1441 for the scale from 1 to 10 (seen in summary); common practice
// for the attributes, the steps and the scale of balance. Units: points. Limits: an
// attribute that is not on the list is taken to be rated from 1 to 10, as sheets of
// other houses have attributes of their own; where it is best is then the client's to
// say.
package attribute

import (
	"math"
	"slices"
	"strings"

	"example.org/bookend/fault"
	"example.org/bookend/unit"
)

// Scale is how an attribute is rated, in points.
type Scale struct {
	Low  float64 `json:"low"`
	High float64 `json:"high"`
	Step float64 `json:"step"` // finest that a sheet may use
	// Middle tells a scale that is best somewhere between its ends: the neutral
	// point itself is a target only where the client or the procedure says so.
	Middle bool   `json:"middle,omitempty"`
	Words  string `json:"words"` // what its ends mean, as a person reads it
}

// The scales: SAE J1441 for what is best at the top, common practice for balance and
// for quarter points.
var (
	Points  = Scale{Low: 1, High: 10, Step: 0.25, Words: "1 to 10"}
	Balance = Scale{Low: -3, High: 3, Step: 0.25, Middle: true, Words: "-3, heavy understeer, by 0, neutral, to +3, heavy oversteer"}
)

// Attribute is one thing that is rated.
type Attribute struct {
	Group, Name, About string
	Scale              Scale
}

// list is the trade's sheet (common practice), group by group.
var list = []Attribute{
	{"Steering", "On-centre feel", "Does the wheel say where straight ahead is?", Points},
	{"Steering", "Response", "How soon and how much does the vehicle answer a turn of the wheel?", Points},
	{"Steering", "Precision", "Does it go where it is pointed, without correcting?", Points},
	{"Steering", "Linearity", "Does twice the angle make twice the answer?", Points},
	{"Steering", "Effort", "Is the effort right, and does it build up with the turn?", Points},
	{"Steering", "Feedback", "Does the wheel say how much grip is left?", Points},
	{"Steering", "Straight-line stability", "Does it run straight by itself, over bumps and in wind?", Points},
	{"Steering", "Self-centring", "Does the wheel come back, and stop where it should?", Points},
	{"Handling", "Front grip", "How much do the front tyres hold, turning in and through the corner?", Points},
	{"Handling", "Rear grip", "How much do the rear tyres hold?", Points},
	{"Handling", "Lateral grip", "How fast can a corner be driven?", Points},
	{"Handling", "Traction", "How soon and how hard can it accelerate out of a corner?", Points},
	{"Handling", "Balance at entry", "Does it under- or oversteer, turning in?", Balance},
	{"Handling", "Balance in mid-corner", "Does it under- or oversteer in the middle of the corner?", Balance},
	{"Handling", "Balance at exit", "Does it under- or oversteer, accelerating out?", Balance},
	{"Handling", "Lift-off behaviour", "How little does balance change when the throttle is released in a corner?", Points},
	{"Handling", "Breakaway", "Does grip end gradually, with a warning?", Points},
	{"Handling", "Recovery", "How easily is it caught once it slides, and how calmly does it come back?", Points},
	{"Handling", "Predictability", "Does it do the same each time?", Points},
	{"Handling", "Consistency", "Does it stay the same over the laps?", Points},
	{"Handling", "Lane-change stability", "How calm is it in a sudden change of lane and after it?", Points},
	{"Handling", "Braking stability", "Does it stay straight under hard braking?", Points},
	{"Handling", "Braking feel", "Can the deceleration be metered to the limit?", Points},
	{"Handling", "Load change", "How calm is it when load moves from axle to axle?", Points},
	{"Handling", "Confidence", "How near to the limit would one drive it without being asked to?", Points},
	{"Wet", "Wet grip", "How much does it hold in the wet?", Points},
	{"Wet", "Wet braking", "How well does it stop in the wet?", Points},
	{"Wet", "Wet breakaway", "Does grip in the wet end gradually, with a warning?", Points},
	{"Wet", "Aquaplaning resistance", "How fast can standing water be driven through straight ahead?", Points},
	{"Wet", "Lateral aquaplaning resistance", "How fast can standing water be driven through in a bend?", Points},
	{"Wet", "Puddle response", "How calm is it as one side meets a puddle?", Points},
	{"Wet", "Grip changes", "How calm is it where wet and dry meet?", Points},
	{"Comfort and noise", "Impact", "How softly does it take single bumps and joints?", Points},
	{"Comfort and noise", "Texture", "How quiet is it on coarse surfaces?", Points},
	{"Comfort and noise", "Tread noise", "How little does the tread sing?", Points},
	{"Comfort and noise", "Cavity noise", "How little does the air in the tyre ring?", Points},
	{"Comfort and noise", "After-shake", "How soon is a bump over?", Points},
	{"Overall", "Overall", "The rater's own judgement of the whole: given, never computed.", Points},
}

// All gives the attributes of the trade's sheet, group by group.
func All() []Attribute { return slices.Clone(list) }

// Key gives the one way of writing an attribute: case, blanks, hyphens and strokes do
// not count, nor does the heading of a group before a colon.
func Key(name string) string {
	if _, after, ok := strings.Cut(name, ":"); ok {
		name = after
	}
	return strings.Join(strings.FieldsFunc(strings.ToLower(name), func(r rune) bool {
		return r == ' ' || r == '-' || r == '/' || r == '_' || r == '\u00a0'
	}), "_")
}

// Of gives the attribute that is written in any of those ways.
func Of(name string) (Attribute, bool) {
	key := Key(name)
	i := slices.IndexFunc(list, func(a Attribute) bool { return Key(a.Name) == key })
	if i < 0 {
		return Attribute{}, false
	}
	return list[i], true
}

// ScaleOf gives the scale of an attribute; of one that is not on the list, Points.
func ScaleOf(name string) Scale {
	if a, ok := Of(name); ok {
		return a.Scale
	}
	return Points
}

// Scales gives each attribute's scale by its key, those on Points left out; Points
// itself stands under the empty key.
func Scales() map[string]Scale {
	out := map[string]Scale{"": Points}
	for _, a := range list {
		if a.Scale != Points {
			out[Key(a.Name)] = a.Scale
		}
	}
	return out
}

// Has tells whether a value, in points, is on the scale and on one of its steps.
func (s Scale) Has(v float64) bool {
	return v >= s.Low && v <= s.High && v/s.Step == math.Trunc(v/s.Step)
}

// Check says why a value, in points, is no rating of an attribute; nil: it is one.
func Check(name string, v float64) error {
	a, known := Of(name)
	s := ScaleOf(name)
	if s.Has(v) {
		return nil
	}
	if r := []rune(name); len(r) > 40 {
		name = string(r[:40]) + "…"
	}
	hint := strings.ToLower(a.Name)
	switch {
	case !known && v < Points.Low && strings.Contains(Key(name), "balance"):
		return fault.New(fault.Invalid, "%s is no rating of %s", unit.Shortest(v), name).
			WithHint("what is rated from %g to %g is %s; whatever else is rated from %s in steps of %g", Balance.Low, Balance.High, strings.Join(middles(), ", "), Points.Words, Points.Step)
	case !known:
		hint = name
	}
	return fault.New(fault.Invalid, "%s is no rating of %s", unit.Shortest(v), name).WithHint("%s is rated from %s, in steps of %g", hint, s.Words, s.Step)
}

// middles are the attributes that are best in the middle, by their names in a
// sentence.
func middles() []string {
	var out []string
	for _, a := range list {
		if a.Scale.Middle {
			out = append(out, strings.ToLower(a.Name))
		}
	}
	return out
}
