package pass

import (
	"math"

	"example.org/bookend/fault"
	"example.org/bookend/signal"
)

// Wave is a sine beside a constant and a trend, as least squares put it through
// evenly spaced values: Amplitude times sin(2π f t + Phase), t from the first value.
type Wave struct {
	Amplitude float64
	Phase     float64 // rad
	Middle    float64 // the constant, at the middle of the values
	Share     float64 // of the variance about the trend that the sine accounts for
}

// Fit puts a sine of hz through values a step in s apart. The values are to last for
// half a period at least.
func Fit(v []float64, step, hz float64) (Wave, error) {
	n := len(v)
	if n < 8 || !(hz > 0) || float64(n)*step*hz < 0.5 || !(hz*step < 0.25) {
		return Wave{}, fault.New(fault.Invalid, "%d values over %.3g s hold no sine of %.3g Hz", n, float64(n)*step, hz)
	}
	const m = 4
	var a [m][m + 1]float64
	mid := float64(n-1) / 2
	row := func(i int) [m]float64 {
		s, c := math.Sincos(2 * math.Pi * hz * step * float64(i))
		return [m]float64{s, c, 1, (float64(i) - mid) / mid}
	}
	for i, y := range v {
		r := row(i)
		for j := range m {
			for k := range m {
				a[j][k] += r[j] * r[k]
			}
			a[j][m] += r[j] * y
		}
	}
	x, ok := solve(a)
	if !ok {
		return Wave{}, fault.New(fault.Invalid, "the values hold no sine of %.3g Hz", hz)
	}
	w := Wave{Amplitude: math.Hypot(x[0], x[1]), Phase: math.Atan2(x[1], x[0]), Middle: x[2]}
	rest, all := 0.0, 0.0
	for i, y := range v {
		r := row(i)
		trend := x[2] + x[3]*r[3]
		e := y - trend - x[0]*r[0] - x[1]*r[1]
		rest, all = rest+e*e, all+(y-trend)*(y-trend)
	}
	if all > 0 {
		w.Share = 1 - rest/all
	}
	return w, nil
}

// solve solves four equations by elimination with pivots.
func solve(a [4][5]float64) (x [4]float64, ok bool) {
	const m = 4
	for j := range m {
		p := j
		for k := j + 1; k < m; k++ {
			if math.Abs(a[k][j]) > math.Abs(a[p][j]) {
				p = k
			}
		}
		if math.Abs(a[p][j]) < 1e-12*math.Abs(a[0][0]+1) {
			return x, false
		}
		a[j], a[p] = a[p], a[j]
		for k := j + 1; k < m; k++ {
			q := a[k][j] / a[j][j]
			for i := j; i <= m; i++ {
				a[k][i] -= q * a[j][i]
			}
		}
	}
	for j := m - 1; j >= 0; j-- {
		x[j] = a[j][m]
		for k := j + 1; k < m; k++ {
			x[j] -= a[j][k] * x[k]
		}
		x[j] /= a[j][j]
	}
	return x, true
}

// Later gives by how many seconds b comes after a, both of hz, within half a period
// either way.
func (b Wave) Later(a Wave, hz float64) float64 {
	return turned(a.Phase-b.Phase) / (2 * math.Pi * hz)
}

// Peak gives the greatest value of sign times v among samples from one to another,
// both included, and when it stands in s: by a parabola through it and its
// neighbours. What is given has its own sign.
func (p *Pass) Peak(v []float64, from, to int, sign float64) (value, t float64) {
	k := from
	for i := from; i <= to; i++ {
		if sign*v[i] > sign*v[k] {
			k = i
		}
	}
	if k == 0 || k == len(v)-1 {
		return v[k], p.T[k]
	}
	a, b, c := v[k-1], v[k], v[k+1]
	d := a - 2*b + c
	if d == 0 || sign*a > sign*b || sign*c > sign*b { // no top within: an end of the samples
		return b, p.T[k]
	}
	part := 0.5 * (a - c) / d
	return b - 0.25*(a-c)*part, p.T[k] + part*p.Step
}

// Delay gives by how many seconds b comes after a between two samples, by the lag of
// greatest correlation, at most longest s either way (package signal).
func (p *Pass) Delay(a, b []float64, from, to int, longest float64) (signal.Lag, error) {
	return signal.Delay(a[from:to+1], b[from:to+1], p.Step, longest)
}
