// Package freedom says how much the contrasts of a mixed model may be believed:
// their covariance, adjusted for variances that are only estimated, and their
// degrees of freedom.
//
// Sources: Kenward and Roger, Biometrics 53 (1997) 983; Giesbrecht and Burns,
// Biometrics 41 (1985) 477, after Satterthwaite; Fai and Cornelius 1996 for
// several contrasts at once (from memory; the formulas are those that R's pbkrtest and
// lmerTest compute, against which package mixed is checked). Everything is in the coordinates of package basis
// and in the units within. Limits: asymptotic in the number of groups, which is
// what the adjustment is for.
package freedom

import (
	"math"

	"gonum.org/v1/gonum/floats"

	"example.org/bookend/stat/mixed/dense"
	"example.org/bookend/stat/mixed/likelihood"
)

// Method says how degrees of freedom are counted.
type Method int

// The methods.
const (
	// KenwardRoger adjusts the covariance for the variances being estimated
	// and takes degrees of freedom from their expected information; REML alone.
	KenwardRoger Method = iota
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
func (m Method) String() string {
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

// Inference is what errors and degrees of freedom are made of, in the
// coordinates of the basis and the units within.
//
// With the covariance split into fixed (1) and random (2) coordinates,
// A = [A11 A12; A21 A22], the estimate is T y with T = [1, -C], C = A12 A22^-1,
// and its covariance Phi = A11 - C A21. For a part D of the covariance, Kenward
// and Roger's Phi P Phi is -T D T', and Phi (Q - P Phi P) Phi is E A22^-1 E' with E
// the random columns of T D.
type Inference struct {
	At      *likelihood.Point
	C       *dense.Matrix // p x r
	Phi     *dense.Matrix // p x p
	Certain bool          // no variance is estimated: all are held
	Plain   Spread        // over the variances that are not zero
	Whole   Spread        // over all that are estimated, zero or not
	Rest    float64       // rows less fixed terms
	Perfect bool          // the response lies on the fixed terms: there is no scatter
}

// Spread is what a set of parts says about the covariance.
type Spread struct {
	Parts    []likelihood.Part
	N        []*dense.Matrix // T D T', p x p
	W        *dense.Matrix   // inverse of the expected information, REML
	Observed *dense.Matrix   // inverse of the observed one
	PhiA     *dense.Matrix   // Kenward and Roger's adjusted covariance
	HasW     bool
	HasObs   bool
}

// Over says what a set of parts of the covariance says about it.
func (in *Inference) Over(q *likelihood.Problem, parts []likelihood.Part) Spread {
	s := Spread{Parts: parts}
	if len(parts) == 0 {
		s.PhiA, s.HasW, s.HasObs = in.Phi, true, true
		s.W, s.Observed = dense.New(0, 0), dense.New(0, 0)
		return s
	}
	t := dense.New(q.Fixed, q.Fixed+q.Random)
	for i := range q.Fixed {
		t.Set(i, i, 1)
		for j, v := range in.C.Row(i) {
			t.Set(i, q.Fixed+j, -v)
		}
	}
	var e []*dense.Matrix
	for _, d := range parts {
		td := t
		if d.Whole != nil {
			td = dense.Times(t, d.Whole)
		}
		s.N = append(s.N, dense.TimesT(td, t))
		e = append(e, td.Part(0, q.Fixed, q.Fixed, q.Fixed+q.Random))
	}
	_, observed, _ := q.Slopes(in.At, parts)
	if inv, ok := scaledInverse(observed); ok {
		// The criterion is -2 log likelihood: its curvature is twice the information.
		s.Observed, s.HasObs = inv, true
		for i := range inv.Data {
			inv.Data[i] *= 2
		}
	}
	restricted := *q
	restricted.ML = false
	pt := *in.At
	pt.Inv = nil
	_, _, expected := restricted.Slopes(&pt, parts)
	inv, ok := scaledInverse(expected)
	if !ok {
		return s
	}
	for i := range inv.Data {
		inv.Data[i] *= 2
	}
	s.W, s.HasW = inv, true
	s.PhiA = in.Phi.Clone()
	for j := range parts {
		// E_i A22^-1 E_j', A22^-1 E_j' once.
		se := e[j].Transpose()
		pt.Low.Solve(se)
		for i := range parts {
			s.PhiA.AddScaled(2*s.W.At(i, j), dense.Times(e[i], se))
		}
	}
	for i := range s.PhiA.Rows {
		for j := range i {
			v := (s.PhiA.At(i, j) + s.PhiA.At(j, i)) / 2
			s.PhiA.Set(i, j, v)
			s.PhiA.Set(j, i, v)
		}
	}
	return s
}

// scaledInverse inverts a symmetric matrix after scaling its diagonal to one;
// false where it is not positive definite.
func scaledInverse(m *dense.Matrix) (*dense.Matrix, bool) {
	n := m.Rows
	d := make([]float64, n)
	for i := range d {
		v := m.At(i, i)
		if !(v > 0) || math.IsInf(v, 0) {
			return nil, false
		}
		d[i] = math.Sqrt(v)
	}
	s := dense.New(n, n)
	for i := range n {
		for j := range n {
			s.Set(i, j, m.At(i, j)/(d[i]*d[j]))
		}
	}
	l, ok := s.Factor(1e-13)
	if !ok {
		return nil, false
	}
	inv := l.Inverse()
	for i := range n {
		for j := range n {
			inv.Set(i, j, inv.At(i, j)/(d[i]*d[j]))
		}
	}
	return inv, true
}

// Freedom gives the degrees of freedom of the contrast k, in the coordinates of
// the basis.
func (in *Inference) Freedom(s *Spread, k []float64, method Method) float64 {
	if in.Certain {
		return math.Inf(1)
	}
	w, ok := s.W, s.HasW
	if method == Satterthwaite {
		w, ok = s.Observed, s.HasObs
	}
	if method == FixedTerms || !ok || in.Perfect {
		return in.Rest
	}
	v := quadratic(in.Phi, k)
	g := make([]float64, len(s.Parts))
	for i, n := range s.N {
		g[i] = quadratic(n, k)
	}
	variance := quadratic(w, g) // of the estimated variance of the contrast
	if v <= 0 || !(variance > 0) {
		return math.Inf(1)
	}
	return 2 * v * v / variance
}

// ManyKenwardRoger gives degrees of freedom and scale of the F of several
// contrasts (Kenward and Roger 1997, section 3); 0 where there are none.
func (in *Inference) ManyKenwardRoger(s *Spread, within func(*dense.Matrix) *dense.Matrix) (df, scale float64) {
	l, ok := within(in.Phi).Factor(1e-14)
	if !ok {
		return 0, 1
	}
	u := make([]*dense.Matrix, len(s.Parts)) // Theta Phi P Phi, but for the sign
	for i, n := range s.N {
		u[i] = within(n)
		l.Solve(u[i])
	}
	a1, a2 := 0.0, 0.0
	for i := range u {
		for j := range u {
			a1 += s.W.At(i, j) * u[i].Trace() * u[j].Trace()
			a2 += s.W.At(i, j) * dense.TraceOf(u[i], u[j])
		}
	}
	q := float64(l.Rows)
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

// ManySatterthwaite gives the degrees of freedom of the F of several contrasts
// (Fai and Cornelius 1996): from those of the principal combinations. 0 where
// there are none.
func (in *Inference) ManySatterthwaite(s *Spread, km, v *dense.Matrix) float64 {
	values, vectors := v.Eigen()
	q := len(values)
	e := 0.0
	first := math.NaN()
	same := true
	for i := range values {
		k := make([]float64, in.Phi.Rows)
		for a := range q {
			for j := range k {
				k[j] += vectors.At(a, i) * km.At(a, j)
			}
		}
		df := in.Freedom(s, k, Satterthwaite)
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
func quadratic(a *dense.Matrix, k []float64) float64 { return floats.Dot(k, a.Apply(k)) }
