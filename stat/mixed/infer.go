package mixed

import (
	"math"

	"example.org/bookend/caveat"
	"gonum.org/v1/gonum/floats"
)

// inference is what errors and degrees of freedom are made of, in the
// coordinates of the basis and the units within.
//
// With the covariance split into fixed (1) and random (2) coordinates,
// A = [A11 A12; A21 A22], the estimate is T y with T = [1, -C], C = A12 A22^-1,
// and its covariance Phi = A11 - C A21. For a part D of the covariance, Kenward
// and Roger's Phi P Phi is -T D T', and Phi (Q - P Phi P) Phi is E A22^-1 E' with E
// the random columns of T D.
type inference struct {
	pt      *point
	c       *dense // p x r
	phi     *dense // p x p
	certain bool   // no variance is estimated: all are held
	plain   spread // over the variances that are not zero
	whole   spread // over all that are estimated, zero or not
}

// spread is what a set of parts says about the covariance.
type spread struct {
	parts    []part
	n        []*dense // T D T', p x p
	w        *dense   // inverse of the expected information, REML
	observed *dense   // inverse of the observed one
	phiA     *dense   // Kenward and Roger's adjusted covariance
	hasW     bool
	hasObs   bool
}

func (m *Model) infer() {
	q := m.prob
	pt, _ := q.at(m.theta)
	in := &inference{pt: pt}
	a12 := pt.whole.part(0, q.p, q.p, q.p+q.r)
	ct := a12.transpose()
	pt.low.solve(ct)
	in.c = ct.transpose()
	in.phi = pt.whole.part(0, q.p, 0, q.p)
	in.phi.addScaled(-1, timesT(in.c, a12))
	m.inf = in

	var plain, whole []part
	free := m.theta[0] > 0 && !q.residual
	if free {
		plain = append(plain, q.parts[0])
	}
	// A residual estimated as zero counts only where zeros are kept.
	if !m.opt.HoldResidual && !m.Caveats.Has("no_scatter_within") {
		whole = append(whole, q.parts[0])
	}
	fitted := !m.PerfectFit && q.r+q.restDF > 0
	for i, b := range q.blocks {
		if !fitted {
			break
		}
		whole = append(whole, q.parts[b.first:b.first+b.entries()]...)
		switch {
		case m.rank[i] == b.size:
			plain = append(plain, q.parts[b.first:b.first+b.entries()]...)
		case m.rank[i] > 0:
			plain = append(plain, q.directions(b, m.theta)...)
		}
	}
	in.certain = len(whole) == 0
	if !fitted {
		return
	}
	in.plain = m.spreadOver(plain)
	if len(plain) == len(whole) {
		in.whole = in.plain
	} else {
		in.whole = m.spreadOver(whole)
	}
	if !in.plain.hasW && len(plain) > 0 {
		m.Caveats.Add("curvature_unknown", caveat.Place{}, "The likelihood is too flat in some direction for degrees of freedom: those of the fixed terms alone are given.")
	}
}

// directions gives the parts of a block whose covariance has less than full
// rank, over the directions that do vary.
func (q *problem) directions(b block, theta []float64) []part {
	values, vectors := b.matrix(theta).eigen()
	var dirs [][]float64
	for e, v := range values {
		if v > rankFactor*values[b.size-1] {
			d := make([]float64, b.size)
			for a := range d {
				d[a] = vectors.at(a, e)
			}
			dirs = append(dirs, d)
		}
	}
	var out []part
	for i := range dirs {
		for j := range i + 1 {
			d := newDense(q.p+q.r, q.p+q.r)
			for a := range b.size {
				for c := range a + 1 {
					// d/dM_ij of entry a, c of L M L'.
					f := dirs[i][a] * dirs[j][c]
					if i != j {
						f += dirs[j][a] * dirs[i][c]
					}
					d.addScaled(f, q.parts[b.place(a, c)].whole)
				}
			}
			out = append(out, newPart(d, q.p))
		}
	}
	return out
}

func (m *Model) spreadOver(parts []part) spread {
	q, in := m.prob, m.inf
	s := spread{parts: parts}
	if len(parts) == 0 {
		s.phiA, s.hasW, s.hasObs = in.phi, true, true
		s.w, s.observed = newDense(0, 0), newDense(0, 0)
		return s
	}
	t := newDense(q.p, q.p+q.r)
	for i := range q.p {
		t.set(i, i, 1)
		for j, v := range in.c.row(i) {
			t.set(i, q.p+j, -v)
		}
	}
	var e []*dense
	for _, d := range parts {
		td := t
		if d.whole != nil {
			td = times(t, d.whole)
		}
		s.n = append(s.n, timesT(td, t))
		e = append(e, td.part(0, q.p, q.p, q.p+q.r))
	}
	_, observed, _ := q.slopes(in.pt, parts)
	if inv, ok := scaledInverse(observed); ok {
		// The criterion is -2 log likelihood: its curvature is twice the information.
		s.observed, s.hasObs = inv, true
		for i := range inv.a {
			inv.a[i] *= 2
		}
	}
	restricted := *q
	restricted.ml = false
	pt := *in.pt
	pt.inv = nil
	_, _, expected := restricted.slopes(&pt, parts)
	inv, ok := scaledInverse(expected)
	if !ok {
		return s
	}
	for i := range inv.a {
		inv.a[i] *= 2
	}
	s.w, s.hasW = inv, true
	s.phiA = in.phi.clone()
	for j := range parts {
		// E_i A22^-1 E_j', A22^-1 E_j' once.
		se := e[j].transpose()
		pt.low.solve(se)
		for i := range parts {
			s.phiA.addScaled(2*s.w.at(i, j), times(e[i], se))
		}
	}
	for i := range s.phiA.rows {
		for j := range i {
			v := (s.phiA.at(i, j) + s.phiA.at(j, i)) / 2
			s.phiA.set(i, j, v)
			s.phiA.set(j, i, v)
		}
	}
	return s
}

// scaledInverse inverts a symmetric matrix after scaling its diagonal to one;
// false where it is not positive definite.
func scaledInverse(m *dense) (*dense, bool) {
	n := m.rows
	d := make([]float64, n)
	for i := range d {
		v := m.at(i, i)
		if !(v > 0) || math.IsInf(v, 0) {
			return nil, false
		}
		d[i] = math.Sqrt(v)
	}
	s := newDense(n, n)
	for i := range n {
		for j := range n {
			s.set(i, j, m.at(i, j)/(d[i]*d[j]))
		}
	}
	l, ok := s.factor(1e-13)
	if !ok {
		return nil, false
	}
	inv := l.inverse()
	for i := range n {
		for j := range n {
			inv.set(i, j, inv.at(i, j)/(d[i]*d[j]))
		}
	}
	return inv, true
}

// conclusions fills the table of variances.
func (m *Model) conclusions() {
	q := m.prob
	// Standard errors, where the entry itself is a part.
	at := map[int]float64{} // variance of the estimate by place in theta
	in := m.inf
	if in.plain.hasObs && !m.PerfectFit && q.r+q.restDF > 0 {
		i := 0
		if m.theta[0] > 0 && !q.residual {
			at[0] = in.plain.observed.at(0, 0)
			i++
		}
		for k, b := range q.blocks {
			switch {
			case m.rank[k] == b.size:
				for e := range b.entries() {
					at[b.first+e] = in.plain.observed.at(i, i)
					i++
				}
			default:
				i += m.rank[k] * (m.rank[k] + 1) / 2
			}
		}
	}
	put := func(v Variance, place int, unit float64) {
		v.Value = m.theta[place] * unit
		if s, ok := at[place]; ok && s >= 0 {
			v.StdErr, v.HasStdErr = math.Sqrt(s)*math.Abs(unit), true
		}
		m.Variances = append(m.Variances, v)
	}
	for k, r := range m.random {
		if m.state[k] != estimated {
			v := Variance{Component: r.name, Held: m.state[k] == held, Dropped: m.state[k] == dropped}
			if v.Held {
				v.Value = r.value
			}
			m.Variances = append(m.Variances, v)
			continue
		}
		b := q.blocks[m.block[k]]
		for i := range b.size {
			for j := range i + 1 {
				v := Variance{Component: r.name, Zero: m.rank[m.block[k]] == 0}
				if b.size > 1 {
					v.Term, v.Other = r.terms[i], r.terms[j]
				}
				put(v, b.place(i, j), m.unit[k][i]*m.unit[k][j])
			}
		}
	}
	res := Variance{Component: ResidualName, Held: m.opt.HoldResidual}
	switch {
	case m.opt.HoldResidual:
		res.Value = m.opt.ResidualVariance
	case m.PerfectFit || m.Caveats.Has("no_scatter_within"):
		res.Zero = true
	case q.r+q.restDF == 0:
		res.Dropped = true
	default:
		res.Zero = m.theta[0] == 0
		put(res, 0, m.scale*m.scale)
		return
	}
	m.Variances = append(m.Variances, res)
}

// Variance gives the entry of the table of variances of a component with a
// single term, or of ResidualName; false where there is none.
func (m *Model) Variance(component string) (Variance, bool) {
	for _, v := range m.Variances {
		if v.Component == component && v.Term == v.Other {
			return v, true
		}
	}
	return Variance{}, false
}

// quadratic gives k' a k.
func quadratic(a *dense, k []float64) float64 { return floats.Dot(k, a.apply(k)) }
