package compare

import (
	"example.org/bookend/compare/link"
	"example.org/bookend/fault"
)

// Linked puts the tyres of one comparison against one of another through a link
// tyre that both had, under the name that each has it by.
func Linked(a link.Asked, first *Result, link1 string, second *Result, link2, against string) (*link.Chained, error) {
	if first.Joint == nil || second.Joint == nil {
		return nil, fault.New(fault.Invalid, "a comparison without an interval is no part of a chain").
			WithHint("it needs degrees of freedom: another control stint, or candidates repeated")
	}
	if first.Measure.ID != second.Measure.ID || first.Measure.Better != second.Measure.Better {
		return nil, fault.New(fault.Invalid, "%s and %s are not one measure", first.Measure.ID, second.Measure.ID)
	}
	fan, err := first.Joint.Against(link1)
	if err != nil {
		return nil, fault.At(err, "the first comparison")
	}
	leg, err := second.Joint.Leg(link2, against)
	if err != nil {
		return nil, fault.At(err, "the second comparison")
	}
	leg.Of = link1
	if a.About == "" {
		a.About = TheseSets
	}
	return link.Chain(a, fan, leg)
}
