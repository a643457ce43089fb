package sim

import (
	"fmt"

	"example.org/bookend/sim/write"
)

// Sheets gives the rating sheets of a test as one table, as somebody types them off:
// a line an attribute, evaluator and stint.
func (s *Scenario) Sheets(r *Ratings) (File, error) {
	t, err := s.Test(r.Of)
	if err != nil {
		return File{}, err
	}
	out := write.Sheet{Head: []string{"stint", "code", "position", "break", "rater", "attribute", "value"}}
	for i, code := range t.Order {
		tyre, err := s.code(code)
		if err != nil {
			return File{}, err
		}
		broken := ""
		for _, x := range t.Incidents {
			if x.Kind == Shower && x.Stint == i+1 {
				broken = "yes"
			}
		}
		for _, e := range r.By {
			rnd := s.random(fmt.Sprintf("%s/sheet/%s/%d", r.ID, e.Name, i))
			values, err := e.Sheet(r.Attributes, tyre.Character, t.starts(i)/3600, rnd)
			if err != nil {
				return File{}, err
			}
			for k, a := range r.Attributes {
				out.Add(fmt.Sprintf("%02d", i+1), code, fmt.Sprint(i+1), broken, e.Name, string(a), write.Decimal(values[k], 2))
			}
		}
	}
	return File{Name: r.ID + ".csv", Data: out.Bytes()}, nil
}
