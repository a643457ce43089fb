package region

import (
	"math"
	"testing"
)

// The normal tail in pieces is the normal tail.
func TestPhiPieces(t *testing.T) {
	p := PhiTable()
	for x := -11.99; x < 12; x += 0.00137 {
		tol := 5e-15
		if x > 4 {
			tol = 2e-11
		}
		if got, want := p.At(x), UpperPhi(x); math.Abs(got-want) > tol*want {
			t.Fatalf("P(Z > %v) = %v, want %v", x, got, want)
		}
	}
	if p.Anywhere(40) != 0 || p.Anywhere(-40) != 1 || p.Anywhere(math.Inf(1)) != 0 {
		t.Error("far out")
	}
}
