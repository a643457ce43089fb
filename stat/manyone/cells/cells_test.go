package cells

import (
	"math"
	"testing"
)

// The polynomials stand for 2 x P(T > c/x): they are held against it straight, as
// gonum's incomplete beta function and the error function give it, and where
// Student's t has a closed form (one and two degrees of freedom: analytic) against
// that.
func TestTilted(t *testing.T) {
	for _, df := range []float64{1, 1.3, 2, 2.5, 4, 7.7, 20, 55, 200, 2000, math.Inf(1)} {
		for _, c := range []float64{1e-12, 0.01, 0.3, 1, 2, 2.6, 4, 7, 10, 20} {
			f := newTilted(c, df)
			for i := range 2000 {
				x := float64(i+1) / 2000
				want := f.straight(x)
				switch df {
				case 1:
					want = 2 * x * math.Atan(x/c) / math.Pi
				case 2:
					y := c / x
					want = 2 * x / (math.Sqrt(2+y*y) * (math.Sqrt(2+y*y) + y))
				}
				if got := f.at(x); math.Abs(got-want) > 2e-12*f.whole {
					t.Fatalf("df %v, limit %v: at %v it is %v, want %v", df, c, x, got, want)
				}
			}
		}
	}
}
