package advice_test

import (
	"math"
	"strings"
	"testing"

	"example.org/bookend/order"
	"example.org/bookend/order/advice"
)

// What is said to be enough is enough by the law that orders are planned by, and less
// of it is not: after the stints named the difference wanted is shown of each
// candidate, at no control before the last one.
func TestAhead(t *testing.T) {
	s := state("KPRTK")
	s.Request.Test.Wanted = 0.03
	got, err := advice.New().Ahead(s)
	must(t, err)
	if got == nil || !got.Reached || len(got.Codes) == 0 || got.Codes[len(got.Codes)-1] != "K" {
		t.Fatalf("ahead: %+v", got)
	}
	showable := func(codes []string) float64 {
		v, err := order.ShowableBy(s.Request, [][]string{append(strings.Split("KPRTK", ""), codes...)}, 0.05, 0)
		must(t, err)
		return v.Largest([]string{"P", "R", "T"}) * s.SD
	}
	if x := showable(got.Codes); x > 0.03 || math.Abs(x-got.Largest) > 1e-12 {
		t.Errorf("after %v the difference shown is %v, said to be %v", got.Codes, x, got.Largest)
	}
	for i, c := range got.Codes[:len(got.Codes)-1] {
		if c == "K" && showable(got.Codes[:i+1]) <= 0.03 {
			t.Errorf("%d stints were enough, and %d are asked for", i+1, len(got.Codes))
		}
	}
	half := s
	half.SD *= 2
	more, err := advice.New().Ahead(half)
	must(t, err)
	if len(more.Codes) <= len(got.Codes) {
		t.Errorf("twice the scatter needs %d stints, the scatter %d", len(more.Codes), len(got.Codes))
	}
}

// Sets that wear out before it, and what is out of reach, are said to be; without a
// difference or a scatter nothing is said.
func TestAheadIsNotAlwaysReached(t *testing.T) {
	s := state("KPRTK")
	s.Request.Test.Wanted = 0.03
	s.Left = map[string]int{"P": 0, "R": 0, "T": 0}
	got, err := advice.New().Ahead(s)
	must(t, err)
	if got.Reached || len(got.Codes) != 0 {
		t.Errorf("worn sets: %+v", got)
	}
	if s.Left["P"] != 0 || len(s.Blocks[0]) != 5 {
		t.Errorf("the state was changed: %+v", s)
	}
	s = state("KPRTK")
	s.Request.Test.Wanted = 1e-6
	if got, err = advice.New().Ahead(s); err != nil || got.Reached || len(got.Codes) < 30 {
		t.Errorf("out of reach: %+v, %v", got, err)
	}
	s.Request.Test.Wanted = 0
	if got, err = advice.New().Ahead(s); err != nil || got != nil {
		t.Errorf("nothing is wanted: %+v, %v", got, err)
	}
	s.Request.Test.Wanted, s.DF = 0.03, 0
	if got, err = advice.New().Ahead(s); err != nil || got != nil {
		t.Errorf("no scatter: %+v, %v", got, err)
	}
}
