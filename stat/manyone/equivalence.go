package manyone

import (
	"math"

	"example.org/bookend/fault"
	"example.org/bookend/stat/manyone/region"
)

// Equivalence is the pair of one-sided tests of a difference against a margin
// (Schuirmann 1987): the difference is the same within the margin at level
// alpha if both reject, that is if P <= alpha. As an intersection-union test
// it needs no adjustment for being two tests. P <= alpha exactly where the
// ordinary interval at confidence 1-2*alpha lies inside the margin.
type Equivalence struct {
	PLow  float64 // against "not above the lower margin"
	PHigh float64 // against "not below the upper margin"
	P     float64 // the larger
}

// Equivalent tests estimate, with standard error se on df degrees of freedom
// (which may be infinite), against the margin low..high, all in one unit.
func Equivalent(estimate, se, df, low, high float64) (Equivalence, error) {
	switch {
	case math.IsNaN(estimate) || math.IsInf(estimate, 0):
		return Equivalence{}, fault.New(fault.Invalid, "the estimate is %v", estimate)
	case !(se > 0) || math.IsInf(se, 0):
		return Equivalence{}, fault.New(fault.Invalid, "the standard error is %v", se).WithHint("without scatter there is no test")
	case !(df > 0):
		return Equivalence{}, fault.New(fault.Invalid, "the degrees of freedom are %v", df)
	case !(low < high):
		return Equivalence{}, fault.New(fault.Invalid, "the margin from %v to %v is empty", low, high)
	}
	e := Equivalence{PLow: region.UpperT((estimate-low)/se, df), PHigh: region.UpperT((high-estimate)/se, df)}
	e.P = max(e.PLow, e.PHigh)
	return e, nil
}
