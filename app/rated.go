package app

import (
	"context"
	"fmt"
	"maps"
	"slices"

	"example.org/bookend/app/opinions"
	"example.org/bookend/app/origin"
	"example.org/bookend/compare/opinion"
	"example.org/bookend/fault"
)

// CompareRatings compares the rating sheets that the run log holds of a test, once
// every sheet is closed. Opened codes are joined: the control is K's, rated under
// however many letters. Data, name and columns of the request are not looked at.
func (f *Folder) CompareRatings(ctx context.Context, test string, q opinions.Request) (*opinions.Answer, error) {
	s, err := Rebuild(ctx, f.Store)
	if err != nil {
		return nil, err
	}
	t, err := s.Test(test)
	if err != nil {
		return nil, err
	}
	log := s.Day.Sheets(test)
	switch {
	case len(log.Observations) == 0:
		return nil, fault.New(fault.NotFound, "nothing of test %s is rated in the run log", test).WithHint("bookend log rating, or name a table of sheets")
	case !s.Day.SheetsClosed(test):
		return nil, fault.New(fault.Conflict, "sheets of test %s are still open", test).WithHint("whoever rates closes them: bookend log sheet-closed --test %s --stint N --rater NAME", test)
	}
	if f.Codes != nil {
		log = f.Codes.Join(log)
	}
	weights, planned, err := s.weights(test, q.Weights)
	if err != nil {
		return nil, err
	}
	if planned {
		weights = rated(log, weights) // a plan may weigh what nobody rated
	}
	r, err := opinion.Compare(opinion.Input{Log: log, Control: q.Control, Also: q.Also, Sheet: q.Sheet,
		Targets: f.targets(t.Test.Procedure, log, q.Targets), Weights: weights, Settings: q.Settings})
	if err != nil {
		return nil, fault.At(err, "test %s", test)
	}
	return &opinions.Answer{Inputs: []origin.Hashed{{Name: "chain of entries", SHA256: s.Head}}, Log: log, Result: r}, nil
}

// weights gives what attributes weigh in a test, and whether the frozen plan has said so:
// then other weights are refused.
func (s *State) weights(test string, asked map[string]float64) (weights map[string]float64, planned bool, err error) {
	n := len(s.Plans)
	if n == 0 {
		return asked, false, nil
	}
	t, ok := s.Plans[n-1].Plan.Test(test)
	if !ok || len(t.Weights) == 0 {
		return asked, false, nil
	}
	if asked != nil && !slices.Equal(shares(asked), shares(t.Weights)) {
		return nil, true, fault.New(fault.Conflict, "the frozen plan weighs %s, and other weights are asked for", t.Weighed()).
			WithHint("leave them out, or amend the plan with a reason: bookend plan freeze PLAN.json --reason TEXT")
	}
	return t.Weights, true, nil
}

// shares gives weights as parts of their sum, in parts per billion, by attribute.
func shares(w map[string]float64) []string {
	ids := slices.Sorted(maps.Keys(w))
	sum := 0.0
	for _, id := range ids {
		sum += w[id]
	}
	for i, id := range ids {
		ids[i] = fmt.Sprintf("%s %.0f", id, 1e9*w[id]/sum)
	}
	return ids
}
