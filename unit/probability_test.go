package unit_test

import (
	"testing"

	"example.org/bookend/unit"
)

// A probability is never said to be nothing. By hand.
func TestAProbabilityIsNeverNothing(t *testing.T) {
	for p, want := range map[float64]string{0.0167: "p 0.017", 0.00049: "p < 0.001", 0: "p < 0.001", 1: "p 1.000", 0.0006: "p 0.001"} {
		if got := unit.Probability(p); got != want {
			t.Errorf("%v: %q, want %q", p, got, want)
		}
	}
}
