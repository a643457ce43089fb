package ordinal

import "math"

// joint gives the most likely standard severities of all groups together, the
// log density there, and the factor of its curvature; false where it cannot be
// had. It begins at from, or at zero.
func (d *data) joint(x, from []float64) (b []float64, l float64, curve [][]float64, ok bool) {
	cuts, ok := d.limits(x)
	if !ok {
		return nil, 0, nil, false
	}
	np := d.alphas() + d.p
	sigma := x[np:]
	first := make([]int, len(d.groups))
	size := 0
	for k, q := range d.groups {
		first[k] = size
		size += q
	}
	eta := make([]float64, d.n)
	for i := range eta {
		eta[i] = dot(d.x[i], x[d.alphas():np])
	}
	b = make([]float64, size)
	copy(b, from)
	value := func(b []float64) float64 {
		l := -dot(b, b) / 2
		for i := range d.n {
			e := eta[i]
			for k := range first {
				e += sigma[k] * b[first[k]+d.group[k][i]]
			}
			l += d.at(i, cuts, e).l
		}
		return l
	}
	l = value(b)
	// Concave with curvature at least 1: 100 steps are far more than needed.
	for range 100 {
		g, h := make([]float64, size), square(size)
		for a := range b {
			g[a] = -b[a]
			h[a][a] = 1
		}
		for i := range d.n {
			e := eta[i]
			for k := range first {
				e += sigma[k] * b[first[k]+d.group[k][i]]
			}
			r := d.at(i, cuts, e)
			for k := range first {
				a := first[k] + d.group[k][i]
				g[a] += sigma[k] * r.eta
				for j := range first {
					h[a][first[j]+d.group[j][i]] -= sigma[k] * sigma[j] * r.eta2
				}
			}
		}
		if curve, ok = factor(h); !ok {
			return nil, 0, nil, false
		}
		step := solve(curve, g)
		largest := 0.0
		for _, v := range step {
			largest = max(largest, math.Abs(v))
		}
		next := make([]float64, size)
		moved := false
		for f := min(1, 2/math.Max(largest, 1e-300)); f > 1e-8; f /= 2 {
			for a := range next {
				next[a] = b[a] + f*step[a]
			}
			if nl := value(next); nl >= l-1e-13*math.Abs(l) {
				copy(b, next)
				l, moved = nl, true
				break
			}
		}
		// 1e-12: rounding.
		if !moved || largest < 1e-12 {
			break
		}
	}
	return b, l, curve, true
}

// approximation gives Laplace's log likelihood at x, and the severities.
func (d *data) approximation(x, from []float64) (l float64, b []float64, ok bool) {
	b, l, curve, ok := d.joint(x, from)
	if !ok {
		return 0, nil, false
	}
	for i := range curve {
		l -= math.Log(curve[i][i])
	}
	return l, b, !math.IsNaN(l) && !math.IsInf(l, 0)
}

// laplace is the likelihood with several random terms. Its derivatives are taken
// numerically by five points (Abramowitz and Stegun 25.3.6 and 25.3.24): with a
// step of 1e-3 they are good to about 1e-9 and 1e-6.
func (d *data) laplace(x []float64, derivatives bool) (float64, []float64, [][]float64, bool) {
	const step = 1e-3
	l, b, ok := d.approximation(x, nil)
	if !ok || !derivatives {
		return l, nil, nil, ok
	}
	n := len(x)
	bad := false
	f := func(i, j int, p, q float64) float64 {
		y := append([]float64(nil), x...)
		y[i] += p * step
		y[j] += q * step
		v, _, ok := d.approximation(y, b)
		if !ok {
			bad = true
		}
		return v
	}
	g, h := make([]float64, n), square(n)
	for i := range n {
		p1, m1, p2, m2 := f(i, i, 1, 0), f(i, i, -1, 0), f(i, i, 2, 0), f(i, i, -2, 0)
		g[i] = (8*(p1-m1) - (p2 - m2)) / (12 * step)
		h[i][i] = (16*(p1+m1) - (p2 + m2) - 30*l) / (12 * step * step)
		for j := range i {
			cross := func(s float64) float64 {
				return (f(i, j, s, s) - f(i, j, s, -s) - f(i, j, -s, s) + f(i, j, -s, -s)) / (4 * s * s * step * step)
			}
			// Richardson's extrapolation of the two steps.
			h[i][j] = (4*cross(1) - cross(2)) / 3
		}
	}
	mirror(h)
	return l, g, h, !bad
}

// severities fills the most likely severities of the groups.
func (m *Model) severities(x []float64, zero []bool) {
	d := m.data
	np := d.alphas() + d.p
	if len(d.groups) == 0 {
		return
	}
	b, _, curve, ok := d.joint(x, nil)
	at := 0
	for k, r := range m.random {
		effects := make([]Effect, d.groups[k])
		for i, g := range d.group[k] {
			effects[g].Group = r.Groups[i]
		}
		for g := range effects {
			if ok && !zero[k] {
				unit := make([]float64, len(b))
				unit[at+g] = 1
				effects[g].Estimate = x[np+k] * b[at+g]
				effects[g].StdErr = x[np+k] * math.Sqrt(solve(curve, unit)[at+g])
			}
		}
		at += d.groups[k]
		m.modes = append(m.modes, effects)
	}
}
