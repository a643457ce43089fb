package mixed

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// DFMethod says how degrees of freedom are counted.
type DFMethod int

// The methods.
const (
	// KenwardRoger adjusts the covariance for the variances being estimated
	// and takes degrees of freedom from their expected information; REML alone.
	KenwardRoger DFMethod = iota
	// Satterthwaite takes degrees of freedom from the curvature of the
	// likelihood and leaves the covariance as it is.
	Satterthwaite
	// KenwardRogerKept is KenwardRoger with variances estimated as zero counted
	// among the estimated, as R's pbkrtest does: fewer degrees of freedom.
	KenwardRogerKept
	// FixedTerms takes rows less fixed terms, as if there were no random ones.
	FixedTerms
)

// String gives the method's name.
func (m DFMethod) String() string {
	switch m {
	case KenwardRoger:
		return "Kenward-Roger"
	case Satterthwaite:
		return "Satterthwaite"
	case KenwardRogerKept:
		return "Kenward-Roger, zero variances kept"
	case FixedTerms:
		return "fixed terms"
	}
	return "unknown"
}

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
	c       *dense  // p x r
	phi     *dense  // p x p
	certain bool    // no variance is estimated: all are held
	plain   spread  // over the variances that are not zero
	whole   spread  // over all that are estimated, zero or not
	rest    float64 // rows less fixed terms
	perfect bool    // the response lies on the fixed terms: there is no scatter
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

// over says what a set of parts of the covariance says about it.
func (in *inference) over(q *problem, parts []part) spread {
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

// freedom gives the degrees of freedom of the contrast k, in the coordinates of
// the basis.
func (in *inference) freedom(s *spread, k []float64, method DFMethod) float64 {
	if in.certain {
		return math.Inf(1)
	}
	w, ok := s.w, s.hasW
	if method == Satterthwaite {
		w, ok = s.observed, s.hasObs
	}
	if method == FixedTerms || !ok || in.perfect {
		return in.rest
	}
	v := quadratic(in.phi, k)
	g := make([]float64, len(s.parts))
	for i, n := range s.n {
		g[i] = quadratic(n, k)
	}
	variance := quadratic(w, g) // of the estimated variance of the contrast
	if v <= 0 || !(variance > 0) {
		return math.Inf(1)
	}
	return 2 * v * v / variance
}

// manyKenwardRoger gives degrees of freedom and scale of the F of several
// contrasts (Kenward and Roger 1997, section 3); 0 where there are none.
func (in *inference) manyKenwardRoger(s *spread, within func(*dense) *dense) (df, scale float64) {
	l, ok := within(in.phi).factor(1e-14)
	if !ok {
		return 0, 1
	}
	u := make([]*dense, len(s.parts)) // Theta Phi P Phi, but for the sign
	for i, n := range s.n {
		u[i] = within(n)
		l.solve(u[i])
	}
	a1, a2 := 0.0, 0.0
	for i := range u {
		for j := range u {
			a1 += s.w.at(i, j) * u[i].trace() * u[j].trace()
			a2 += s.w.at(i, j) * traceOf(u[i], u[j])
		}
	}
	q := float64(l.rows)
	if !(a2 > 0) {
		return math.Inf(1), 1
	}
	b := (a1 + 6*a2) / (2 * q)
	g := ((q+1)*a1 - (q+4)*a2) / ((q + 2) * a2)
	c := 3*q + 2*(1-g)
	v0, v1, v2 := 1+g/c*b, 1-(q-g)/c*b, 1-(q+2-g)/c*b
	// 1e-10, as pbkrtest has it: rounding of a numerator that is zero.
	if math.Abs(v0) < 1e-10 {
		v0 = 0
	}
	ratio := 1.0
	if e := 1 - a2/q; math.Abs(e) > 1e-14 || math.Abs(v1) > 1e-14 {
		ratio = e / v1
	}
	rho := ratio * ratio * v0 / (q * v2)
	df = 4 + (q+2)/(q*rho-1)
	scale = 1
	// 1e-2, as pbkrtest has it: near 2 the scale has no meaning.
	if math.Abs(df-2) >= 1e-2 {
		scale = df * (1 - a2/q) / (df - 2)
	}
	if math.IsNaN(df) || math.IsInf(df, 0) || !(df > 0) || !(scale > 0) {
		return 0, 1
	}
	return df, scale
}

// manySatterthwaite gives the degrees of freedom of the F of several contrasts
// (Fai and Cornelius 1996): from those of the principal combinations. 0 where
// there are none.
func (in *inference) manySatterthwaite(s *spread, km, v *dense) float64 {
	values, vectors := v.eigen()
	q := len(values)
	e := 0.0
	first := math.NaN()
	same := true
	for i := range values {
		k := make([]float64, in.phi.rows)
		for a := range q {
			for j := range k {
				k[j] += vectors.at(a, i) * km.at(a, j)
			}
		}
		df := in.freedom(s, k, Satterthwaite)
		if i == 0 {
			first = df
		}
		// 1e-8, as lmerTest has it: equal ones need no formula.
		if math.Abs(df-first) > 1e-8*first {
			same = false
		}
		if math.IsInf(df, 1) {
			e++
		} else if df > 2 {
			e += df / (df - 2)
		} else {
			return 2
		}
	}
	if same {
		return first
	}
	if e <= float64(q) {
		return math.Inf(1)
	}
	return 2 * e / (e - float64(q))
}

// quadratic gives k' a k.
func quadratic(a *dense, k []float64) float64 { return floats.Dot(k, a.apply(k)) }
