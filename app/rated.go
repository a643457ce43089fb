package app

import (
	"context"

	"example.org/bookend/compare/opinion"
	"example.org/bookend/fault"
)

// CompareRatings compares the rating sheets that the run log holds of a test, once
// every sheet is closed. Opened codes are joined: the control is K's, rated under
// however many letters. Data, name and columns of the request are not looked at.
func (f *Folder) CompareRatings(ctx context.Context, test string, q RatingsRequest) (*RatingsAnswer, error) {
	s, err := Rebuild(ctx, f.Store)
	if err != nil {
		return nil, err
	}
	if _, err := s.Test(test); err != nil {
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
	r, err := opinion.Compare(opinion.Input{Log: log, Control: q.Control, Also: q.Also, Sheet: q.Sheet,
		Targets: rated(log, q.Targets), Weights: q.Weights, Settings: q.Settings})
	if err != nil {
		return nil, fault.At(err, "test %s", test)
	}
	return &RatingsAnswer{Inputs: []Hashed{{Name: "chain of entries", SHA256: s.Head}}, Log: log, Result: r}, nil
}
