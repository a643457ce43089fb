package manyone

import "math"

// nestedTail gives the tail for three or four comparisons by Gauss-Legendre
// over the Cholesky variables: outside with the first, or inside with the
// first and outside with the second, and so on, each part positive. It says
// no where the variables lean on each other too much for it.
func nestedTail(r [][]float64, b box, df float64) (value, errBound float64, ok bool) {
	l, order := prioritise(r, b)
	m := len(l)
	lo, hi := make([]float64, m), make([]float64, m)
	farthest := 0.0
	for i, o := range order {
		lo[i], hi[i] = b.lo[o], b.hi[o]
		for _, v := range [2]float64{lo[i], hi[i]} {
			if !math.IsInf(v, 1) {
				farthest = max(farthest, math.Abs(v))
			}
		}
	}
	y := make([]float64, m)
	density := 1.0
	var at func(i int, s float64) float64
	at = func(i int, s float64) float64 {
		mean := 0.0
		for j := range i {
			mean += l[i][j] * y[j]
		}
		d := l[i][i]
		e, a := (hi[i]*s-mean)/d, (-lo[i]*s-mean)/d
		if e <= a {
			return 1
		}
		q := upperPhi(e) + upperPhi(-a)
		if i == m-1 {
			return q
		}
		end := 8.5 + farthest*s
		e, a = min(e, end), max(a, -end)
		if e <= a {
			return q
		}
		// Long ranges are cut, so that a rule never follows more than 6
		// deviations at once.
		parts := int(math.Ceil((e - a) / 6))
		half := (e - a) / 2 / float64(parts)
		x := legendre(int(math.Ceil(density * (7 + 4*2*half))))
		sum := 0.0
		for p := range parts {
			mid := a + half*float64(2*p+1)
			for _, n := range x {
				v := mid + half*n.x
				y[i] = v
				sum += half * n.w * phi(v) * at(i+1, s)
			}
		}
		return q + sum
	}
	// How dense the rules must be is found where the probability gathers.
	s := 1.0
	if !math.IsInf(df, 1) {
		s = math.Exp(newBell(df, b.majorant).peak)
	}
	before := at(0, s)
	for range 6 {
		density *= 1.3
		now := at(0, s)
		rel := math.Abs(now-before) / now
		if rel < 1e-10 {
			v, e := overScale(df, b.majorant, func(s float64) float64 { return at(0, s) })
			return v, v * max(e, 1e-10), true
		}
		before = now
	}
	return 0, 0, false
}

// prioritise gives the Cholesky factor with the comparisons ordered so that
// the likeliest to be outside comes first (Genz and Bretz), rows and columns
// both in that order, at s = 1. Directions without variance of their own come
// last and have a zero on the diagonal.
func prioritise(r [][]float64, b box) (l [][]float64, order []int) {
	m := len(r)
	l = make([][]float64, m)
	mean := make([]float64, m) // of each comparison, given the expected y so far
	full := make([][]float64, m)
	for i := range full {
		full[i] = make([]float64, m)
	}
	used := make([]bool, m)
	for c := range m {
		best, least := -1, math.Inf(1)
		var be, ba, bd float64
		for i := range m {
			if used[i] {
				continue
			}
			v := r[i][i]
			for j := range c {
				v -= full[i][j] * full[i][j]
			}
			if v <= rankTol {
				continue
			}
			d := math.Sqrt(v)
			e, a := (b.hi[i]-mean[i])/d, (-b.lo[i]-mean[i])/d
			if in := 1 - upperPhi(e) - upperPhi(-a); in < least-1e-12 {
				best, least, be, ba, bd = i, in, e, a, d
			}
		}
		if best < 0 { // only directions without variance are left
			for i := range m {
				if !used[i] {
					used[i] = true
					order = append(order, i)
				}
			}
			break
		}
		used[best] = true
		order = append(order, best)
		full[best][c] = bd
		y := 0.0 // expected within the limits
		if in := max(least, 1e-10); in > 0 {
			y = (phi(ba) - phi(be)) / in
		}
		for i := range m {
			if used[i] {
				continue
			}
			s := r[i][best]
			for j := range c {
				s -= full[i][j] * full[best][j]
			}
			full[i][c] = s / bd
			mean[i] += full[i][c] * y
		}
	}
	for i, o := range order {
		l[i] = full[o]
	}
	return l, order
}
