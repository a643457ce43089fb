package rating

import (
	"example.org/bookend/programme"
	"example.org/bookend/programme/attribute"
)

var (
	j1441 = programme.Source{Key: "sae-j1441", Clause: "scale from 1 to 10, 10 ideal, 5 borderline, fractions allowed (seen in summary)"}
	trade = programme.Source{Key: programme.CommonPractice, Clause: "attributes of the sheet; half points, quarter points for small differences"}
	mid   = programme.Source{Key: programme.CommonPractice, Clause: "balance from -3, heavy understeer, by 0, neutral, to +3, heavy oversteer; never summed with what is best at the top"}
)

// Words of the parameter points, and what ids of measures begin with.
const (
	quarterPoints = "quarter"
	halfPoints    = "half"
	wholePoints   = "whole"

	prefix = "rated_"
)

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
	for _, a := range attribute.All() {
		m := programme.Measure{
			ID:    prefix + attribute.Key(a.Name),
			Title: a.Name, Unit: "1", Better: programme.Higher, Scale: programme.Difference, Digits: 2,
			Error: "independent from sheet to sheet, after the rater's severity and drift", About: a.Group + ". " + a.About, Source: trade,
		}
		if a.Scale.Middle {
			zero := 0.0
			m.Better, m.Target, m.Source = programme.Nearest, &zero, mid
		}
		s.Measures = append(s.Measures, m)
	}
	return s
}
