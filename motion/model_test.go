package motion

import (
	"math"
	"testing"

	"example.org/bookend/motion/kalman"
	"example.org/bookend/motion/sensors"
)

// What forward leaves as its matrix is how a small difference at the start shows
// at the end: held against differences of the midpoint rule itself.
func TestTheMotionsMatrixIsItsSlope(t *testing.T) {
	m := newModel(func(int) bool { return true }, 1)
	for i := range m.drive {
		m.drive[i] = sensors.Drive{SD: 1, Tau: 2}
	}
	start := []float64{3, -2, 0.7, 18, -0.6, 0.4, -2, 6}
	for _, dt := range []float64{0.01, 0.05, 0.3} {
		run := func(i int, by float64) []float64 {
			g := kalman.New(m.n)
			copy(g.X, start)
			g.X[m.at[eastSlow]] = 1
			g.X[i] += by
			m.forward(g, dt)
			return append([]float64(nil), g.X...)
		}
		run(0, 0)
		phi := append([]float64(nil), m.whole...)
		for j := range m.n {
			const d = 1e-5
			up, down := run(j, d), run(j, -d)
			for i := range m.n {
				want := (up[i] - down[i]) / (2 * d)
				// third order in a step of 0.05 s: the yaw turns 0.02 rad in it, at 18 m/s
				if got := phi[i*m.n+j]; math.Abs(got-want) > 2e-3*math.Max(1, math.Abs(want)) {
					t.Errorf("dt %g: d%d/d%d = %v, want %v", dt, i, j, got, want)
				}
			}
		}
	}
}
