package signal

import "example.org/bookend/fault"

// SavitzkyGolay gives the derivative (0: the smoothed value itself) by time of
// evenly spaced samples, a step in s apart: that of the polynomial of a degree
// fitted by least squares to a window of samples about each. Within half a window
// of an end, the polynomial of the first or last whole window counts.
//
// Source: A. Savitzky and M. J. E. Golay, Analytical Chemistry 36 (1964) 1627; ends
// as scipy.signal.savgol_filter with mode "interp".
func SavitzkyGolay(x []float64, window, degree, derivative int, step float64) ([]float64, error) {
	if window < 1 || window%2 == 0 || degree < 0 || degree >= window || derivative < 0 || !(step > 0) {
		return nil, fault.New(fault.Invalid, "a window of %d samples, degree %d, derivative %d, step %g s", window, degree, derivative, step).
			WithHint("an odd window, a degree below it, a step above 0")
	}
	if len(x) < window {
		return nil, fault.New(fault.Invalid, "%d samples are fewer than the window of %d", len(x), window)
	}
	half, n := window/2, len(x)
	scale := 1.0
	for range derivative {
		scale /= step
	}
	apply := func(w []float64, from int) float64 {
		sum := 0.0
		for i, v := range w {
			sum += v * x[from+i]
		}
		return sum * scale
	}
	out := make([]float64, n)
	middle := weights(window, degree, derivative, 0)
	for i := half; i < n-half; i++ {
		out[i] = apply(middle, i-half)
	}
	for i := range half {
		out[i] = apply(weights(window, degree, derivative, float64(i-half)), 0)
		out[n-1-i] = apply(weights(window, degree, derivative, float64(half-i)), n-window)
	}
	return out, nil
}

// weights gives the weights of a window's samples for the derivative at a place
// counted in steps from its middle, through polynomials that are orthogonal on
// the window's samples.
func weights(window, degree, derivative int, at float64) []float64 {
	half := float64(window / 2)
	w := make([]float64, window)
	p, before := make([]float64, window), make([]float64, window)
	d, dBefore := make([]float64, derivative+1), make([]float64, derivative+1) // the polynomial's derivatives at the place
	for i := range p {
		p[i] = 1
	}
	d[0] = 1
	normBefore := 0.0
	for j := 0; ; j++ {
		norm := 0.0
		for _, v := range p {
			norm += v * v
		}
		for i, v := range p {
			w[i] += v * d[derivative] / norm
		}
		if j == degree {
			return w
		}
		// The window is symmetric, so the recurrence is p' = x p - b before.
		b := 0.0
		if normBefore > 0 {
			b = norm / normBefore
		}
		next, dNext := make([]float64, window), make([]float64, derivative+1)
		for i := range next {
			next[i] = (float64(i)-half)*p[i] - b*before[i]
		}
		for k := range dNext {
			dNext[k] = at*d[k] - b*dBefore[k]
			if k > 0 {
				dNext[k] += float64(k) * d[k-1]
			}
		}
		before, p, dBefore, d, normBefore = p, next, d, dNext, norm
	}
}
