// Package truth drives sweeps of steering on the synthetic ground, for the procedure's
// tests alone: what the instruments wrote, and how the vehicle really answered.
package truth

import (
	"math"
	"math/cmplx"

	"example.org/bookend/sim"
)

// Sweep drives one sweep of steering at 80 km/h, of an amplitude in rad at the wheel, on a
// tyre in an evaluator's words.
func Sweep(words string, amplitude float64, seed uint64) (*sim.Driven, error) {
	return sim.Drive(sim.Ask{Kind: sim.Sweep, Words: words, Amplitude: amplitude, Runs: 1, Seed: seed})
}

// Answer gives gain in 1/s and phase in rad of yaw rate for the steering wheel at a
// frequency in Hz, from the true motion: the sweep passes each frequency slowly, and over
// the periods about the moment at which it has this one, both are fitted by a sine of the
// steering's own phase, read from where the steering goes through zero.
func Answer(tr *sim.Trace, hz float64) (gain, phase float64) {
	p := tr.Point
	var zeros []float64 // s, of rising and falling crossings by turns
	for i := 1; i < len(p); i++ {
		if a, b := p[i-1].Steer, p[i].Steer; a != 0 && a*b <= 0 && a != b {
			zeros = append(zeros, p[i-1].T+(p[i].T-p[i-1].T)*a/(a-b))
		}
	}
	best := 2
	rate := func(k int) float64 { return 1 / (zeros[k+2] - zeros[k-2]) * 2 } // four half periods
	for k := 2; k+2 < len(zeros); k++ {
		if math.Abs(rate(k)-hz) < math.Abs(rate(best)-hz) {
			best = k
		}
	}
	// Phase between zeros: a parabola through five of them, half a turn apart each.
	t0 := zeros[best]
	var sxx, sxy, sx2, sx3, sx4, sy, sx, n float64
	var sx2y float64
	for j := -2; j <= 2; j++ {
		x, y := zeros[best+j]-t0, math.Pi*float64(j)
		n, sx, sx2, sx3, sx4 = n+1, sx+x, sx2+x*x, sx3+x*x*x, sx4+x*x*x*x
		sy, sxy, sx2y = sy+y, sxy+x*y, sx2y+x*x*y
	}
	sxx = sx2
	a, b, c := solve3([3][4]float64{{n, sx, sxx, sy}, {sx, sxx, sx3, sxy}, {sxx, sx3, sx4, sx2y}})
	angle := func(t float64) float64 { u := t - t0; return a + b*u + c*u*u }
	fit := func(of func(m *sim.Moment) float64) complex128 {
		var ss, sc, cc, s1, c1, m1, ys, yc, y1 float64
		for i := range p {
			if p[i].T < zeros[best-2] || p[i].T > zeros[best+2] {
				continue
			}
			s, co := math.Sincos(angle(p[i].T))
			y := of(&p[i])
			ss, sc, cc, s1, c1, m1 = ss+s*s, sc+s*co, cc+co*co, s1+s, c1+co, m1+1
			ys, yc, y1 = ys+s*y, yc+co*y, y1+y
		}
		q, r, _ := solve3([3][4]float64{{ss, sc, s1, ys}, {sc, cc, c1, yc}, {s1, c1, m1, y1}})
		return complex(q, r) // q sin + r cos = |z| sin(angle + arg z)
	}
	h := fit(func(m *sim.Moment) float64 { return m.YawRate }) / fit(func(m *sim.Moment) float64 { return m.Steer })
	return cmplx.Abs(h), cmplx.Phase(h)
}

// solve3 solves three equations by Gauss's elimination.
func solve3(a [3][4]float64) (x, y, z float64) {
	for j := range 3 {
		for k := j + 1; k < 3; k++ {
			q := a[k][j] / a[j][j]
			for m := j; m < 4; m++ {
				a[k][m] -= q * a[j][m]
			}
		}
	}
	z = a[2][3] / a[2][2]
	y = (a[1][3] - a[1][2]*z) / a[1][1]
	x = (a[0][3] - a[0][1]*y - a[0][2]*z) / a[0][0]
	return x, y, z
}
