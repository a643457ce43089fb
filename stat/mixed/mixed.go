// Package mixed fits linear mixed models: a response of fixed terms and of
// random ones, whose variances are estimated.
//
// In the trade the random terms are the stint, the set, the day, the rater: what
// is common to several runs, so that they are no independent replicates. The
// response y has mean X beta and covariance
//
//	sum over k of theta_k V_k  +  theta_0 R
//
// with V_k = Z Z' for groups (nested, crossed or neither), for slopes that vary
// by group, alone or correlated with the level, or any known matrix (a random
// walk), and R the residual's, by default the identity or the inverse of
// weights. Each variance is estimated or held at a value known from elsewhere.
//
// The variances are those of the largest restricted (REML) or full (ML)
// likelihood. The model is first turned into the coordinates of the fixed
// terms and of what the random ones add to them, in which it is small; there
// Newton's method with exact second derivatives runs to the rounding error,
// from several starts. A variance may be exactly zero: it is then left out of
// the degrees of freedom, as a caveat says.
//
// Contrasts have the degrees of freedom of Kenward and Roger, with their
// adjusted covariance, or of Satterthwaite. The random terms are made in package
// component; basis, likelihood and freedom are the rooms of the computation.
//
// Sources: Patterson and Thompson, Biometrika 58 (1971) 545; Kenward and Roger,
// Biometrics 53 (1997) 983; Giesbrecht and Burns, Biometrics 41 (1985) 477 (from
// memory: none was read in full for this; the formulas are those that R's
// pbkrtest and lmerTest compute, against which they are checked). Units are those of the response, squared for variances. Limits: dense, up
// to a few hundred rows and about six variances. A likelihood may have several
// maxima; the starts make missing the highest unlikely, not impossible.
package mixed

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/stat/linear"
	"example.org/bookend/stat/mixed/basis"
	"example.org/bookend/stat/mixed/component"
	"example.org/bookend/stat/mixed/dense"
	"example.org/bookend/stat/mixed/freedom"
	"example.org/bookend/stat/mixed/likelihood"
)

// Method is the likelihood that is maximised.
type Method int

// The methods. Compare fixed terms by ML, random ones by REML, report REML.
const (
	REML Method = iota
	ML
)

// SeparateRule says what becomes of a component that the runs cannot tell from
// the others.
type SeparateRule int

// The rules.
const (
	RefuseInseparable SeparateRule = iota // an error that names it
	DropInseparable                       // it is left out, with a caveat
)

// Options of a fit. The zero value is REML with equal, independent residuals.
type Options struct {
	Method           Method
	Weights          []float64   // one a row, >= 0: the residual's variance in row i is theta_0/w_i; a row of weight 0 takes no part
	Residual         [][]float64 // n x n, positive definite: the residual's covariance is theta_0 times this
	HoldResidual     bool        // the residual's variance is held
	ResidualVariance float64     // at this value, > 0, in the response's unit squared
	Aliased          linear.AliasRule
	Inseparable      SeparateRule
}

// Variance is one entry of a component's covariance.
type Variance struct {
	Component   string
	Term, Other string  // of a component with several terms; the same twice for a variance
	Value       float64 // in the response's unit squared, by the units of the terms
	StdErr      float64 // asymptotic, from the curvature of the likelihood
	HasStdErr   bool
	Held        bool // not estimated, but given
	Zero        bool // estimated, and exactly zero
	Dropped     bool // left out: the runs cannot tell it
}

// Model is a fitted model.
type Model struct {
	Method     Method
	Names      []string
	Coef       []float64 // one a column; 0 where not estimated
	Estimated  []bool    // false for an aliased column
	N          int       // rows with weight
	Rank       int       // columns estimated
	Variances  []Variance
	Criterion  float64   // -2 log likelihood at its maximum, restricted under REML
	HasLogLik  bool      // false without scatter or without degrees of freedom: Criterion means nothing
	Fitted     []float64 // fixed and random terms, in the response's unit, one a row
	FittedMean []float64 // fixed terms alone
	Residuals  []float64 // response less Fitted, unweighted
	// HasError tells that there are standard errors; false without degrees of
	// freedom. PerfectFit tells that the response lies on the fixed terms to
	// the last digit: there is no scatter to test against.
	HasError   bool
	PerfectFit bool
	Caveats    caveat.List

	design *linear.Design
	y      []float64
	opt    Options
	random []*component.Laid
	part   *basis.Basis
	prob   *likelihood.Problem
	scale  float64     // response's unit by the unit within
	unit   [][]float64 // a component's unit by the unit within, term by term
	state  []int       // of each component
	block  []int       // of each component, or -1
	theta  []float64
	rank   []int // of each block
	inf    *freedom.Inference
}

// states of a component
const (
	estimated = iota
	held
	dropped
)

// Fit fits the response to the fixed terms of the design and the random ones.
// Without random terms it is generalised least squares.
func Fit(d *linear.Design, y []float64, components []component.Component, opt Options) (*Model, error) {
	m, err := start(d, y, components, opt)
	if err != nil {
		return nil, err
	}
	var notes caveat.List
	m.part, notes, err = basis.Reduce(d, y, m.random, opt.Weights, opt.Residual, opt.Aliased)
	if err != nil {
		return nil, err
	}
	m.Caveats = notes
	m.N, m.Rank = m.part.N, m.part.Fixed
	m.Estimated = make([]bool, len(m.Names))
	for _, j := range m.part.Kept {
		m.Estimated[j] = true
	}
	if err := m.pose(); err != nil {
		return nil, err
	}
	if err := m.optimise(); err != nil {
		return nil, err
	}
	m.infer()
	m.conclude()
	return m, nil
}

// start checks what is given.
func start(d *linear.Design, y []float64, components []component.Component, opt Options) (*Model, error) {
	n := d.Rows()
	if len(y) != n {
		return nil, fault.New(fault.Invalid, "the response has %d values for %d rows", len(y), n)
	}
	for i, v := range y {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, fault.New(fault.Invalid, "the response has no finite value in row %d", i+1)
		}
	}
	if opt.Method != REML && opt.Method != ML {
		return nil, fault.New(fault.Invalid, "there is no method %d", opt.Method)
	}
	if opt.Weights != nil && opt.Residual != nil {
		return nil, fault.New(fault.Invalid, "weights and a covariance of the residual are given together").WithHint("put the weights into the covariance")
	}
	if opt.Weights != nil && len(opt.Weights) != n {
		return nil, fault.New(fault.Invalid, "%d weights for %d rows", len(opt.Weights), n)
	}
	for i, w := range opt.Weights {
		if !(w >= 0) || math.IsInf(w, 0) {
			return nil, fault.New(fault.Invalid, "the weight of row %d is %v", i+1, w)
		}
	}
	if opt.HoldResidual && (!(opt.ResidualVariance > 0) || math.IsInf(opt.ResidualVariance, 0)) {
		return nil, fault.New(fault.Invalid, "the residual's variance is held at %v", opt.ResidualVariance)
	}
	m := &Model{Method: opt.Method, Names: d.Names(), design: d, y: slices.Clone(y), opt: opt}
	seen := map[string]bool{}
	for _, c := range components {
		if seen[c.Name] {
			return nil, fault.New(fault.Conflict, "two components are called %q", c.Name)
		}
		seen[c.Name] = true
		r, err := c.Over(n)
		if err != nil {
			return nil, err
		}
		m.random = append(m.random, r)
	}
	return m, nil
}

// pose makes the problem from the reduced model: units, blocks, and which
// components the runs can tell apart.
func (m *Model) pose() error {
	red := m.part
	q := &likelihood.Problem{ML: m.Method == ML, Fixed: red.Fixed, Random: red.Random, RestDF: red.RestDF}
	m.prob = q
	df := red.Random + red.RestDF
	total := red.Rest
	for _, v := range red.Y[red.Fixed:] {
		total += v * v
	}
	// 16 units in the last place of the largest response, a row: its storage
	// and the sums of the projection.
	rounding := 16 * 0x1p-52 * red.Size
	m.scale = 1
	switch {
	case df == 0:
		m.Caveats.Add("no_degrees_of_freedom", caveat.Place{}, "As many terms as runs: there are estimates, but no scatter to judge them by.")
	case total <= float64(df)*rounding*rounding:
		m.PerfectFit = true
		m.Caveats.Add("perfect_fit", caveat.Place{}, "The runs lie on the fixed terms to the last digit: there is no scatter to judge by.")
	default:
		m.scale = math.Sqrt(total / float64(df))
	}
	for _, v := range red.Y[red.Fixed:] {
		q.Y2 = append(q.Y2, v/m.scale)
	}
	q.Rest = red.Rest / (m.scale * m.scale)
	q.Residual, q.Theta0 = m.opt.HoldResidual, m.opt.ResidualVariance/(m.scale*m.scale)
	if df > 0 && !m.PerfectFit && !q.Residual && red.RestDF > 0 && red.Rest <= float64(red.RestDF)*rounding*rounding {
		// 1e-12: small enough to change no digit of the rest, large enough to compute with.
		q.Residual, q.Theta0 = true, 1e-12
		m.Caveats.Add("no_scatter_within", caveat.Place{}, "Runs that share all terms agree to the last digit: the residual's variance is zero, and the errors rest on the random terms alone.")
	}

	q.Parts = []likelihood.Part{{}}
	m.state = make([]int, len(m.random))
	m.block = make([]int, len(m.random))
	m.unit = make([][]float64, len(m.random))
	names := []string{component.ResidualName}
	for k, r := range m.random {
		f := red.F[k]
		m.block[k] = -1
		var inside []string // terms that lie within the fixed ones
		scaled := make([]*dense.Matrix, len(f))
		for t := range f {
			lower := f[t].Part(red.Fixed, red.Fixed+red.Random, 0, f[t].Cols)
			in, all := dense.Inner(lower, lower), dense.Inner(f[t], f[t])
			u := 1.0
			// 1e-18: a part of 1e-9 of its length that stands out of the fixed terms.
			if in <= 1e-18*all {
				inside = append(inside, r.Terms[t])
			} else {
				u = math.Sqrt(float64(df) / in)
			}
			m.unit[k] = append(m.unit[k], u*m.scale)
			scaled[t] = f[t].Clone()
			for i := range scaled[t].Data {
				scaled[t].Data[i] *= u
			}
		}
		if r.Held {
			m.state[k] = held
			if q.Known == nil {
				q.Known = dense.New(red.Fixed+red.Random, red.Fixed+red.Random)
			}
			q.Known.AddScaled(r.Value/(m.scale*m.scale), basis.Covariance(f, 0, 0))
			continue
		}
		if df == 0 || m.PerfectFit {
			m.state[k] = dropped
			continue
		}
		if len(inside) > 0 {
			if m.opt.Inseparable == RefuseInseparable {
				return fault.New(fault.Invalid, "component %q lies within the fixed terms: no run tells its variance", r.Name).
					WithHint("fit more than one of its groups to the same fixed terms, or hold its variance at a known value")
			}
			m.state[k] = dropped
			m.Caveats.Add("component_untold", caveat.Place{}, "Component %q lies within the fixed terms: no run tells its variance, and the errors do not contain it.", r.Name)
			continue
		}
		b := likelihood.Block{Component: k, First: len(q.Parts), Size: len(f)}
		before := len(q.Parts)
		for i := range f {
			for j := range i + 1 {
				q.Parts = append(q.Parts, likelihood.NewPart(basis.Covariance(scaled, i, j), red.Fixed))
			}
		}
		if from := q.Dependent(before); from != nil {
			var on []string
			for _, i := range from {
				if !slices.Contains(on, names[i]) {
					on = append(on, names[i])
				}
			}
			with := r.Name
			if len(on) > 0 {
				with = strings.Join(on, " and ")
			}
			if m.opt.Inseparable == RefuseInseparable {
				what := fmt.Sprintf("component %q cannot be told from %s", r.Name, with)
				if len(on) == 0 {
					what = fmt.Sprintf("the terms of component %q cannot be told apart", r.Name)
				}
				return fault.New(fault.Invalid, "%s in these runs", what).
					WithHint("leave it out (what is left then holds both), replicate within its groups, or hold its variance at a known value")
			}
			q.Parts = q.Parts[:before]
			m.state[k] = dropped
			m.Caveats.Add("component_dropped", caveat.Place{}, "Component %q cannot be told from %s in these runs and was left out: what is left holds both.", r.Name, with)
			continue
		}
		for range b.Entries() {
			names = append(names, r.Name)
		}
		m.block[k] = len(q.Blocks)
		q.Blocks = append(q.Blocks, b)
	}
	return nil
}

// conclude puts what was found into the response's units.
func (m *Model) conclude() {
	red := m.part
	n, df := float64(red.N), float64(red.Random+red.RestDF)
	m.HasError = m.inf != nil && (df > 0 || m.inf.Certain)
	m.HasLogLik = !m.PerfectFit && df > 0 && m.theta[0] > 0 && !m.Caveats.Has("no_scatter_within")
	if m.HasLogLik {
		logs := 2 * math.Log(m.scale)
		if m.Method == ML {
			m.Criterion = m.inf.At.F + n*(math.Log(2*math.Pi)+logs) + red.LogDet
		} else {
			m.Criterion = m.inf.At.F + df*(math.Log(2*math.Pi)+logs) + red.LogDet
			for i := range red.Fixed {
				m.Criterion += 2 * math.Log(math.Abs(red.Upper.At(i, i)))
			}
		}
	}
	// Coefficients: beta = upper^-1 (y1 - C y2).
	b := make([]float64, red.Fixed)
	for i := range b {
		b[i] = red.Y[i]
		for j, v := range m.inf.C.Row(i) {
			b[i] -= v * red.Y[red.Fixed+j]
		}
	}
	for i := red.Fixed - 1; i >= 0; i-- {
		for j := i + 1; j < red.Fixed; j++ {
			b[i] -= red.Upper.At(i, j) * b[j]
		}
		b[i] /= red.Upper.At(i, i)
	}
	m.Coef = make([]float64, len(m.Names))
	for i, j := range red.Kept {
		m.Coef[j] = b[i]
	}
	m.conclusions()
	rows := m.design.Rows()
	m.FittedMean, m.Fitted, m.Residuals = make([]float64, rows), make([]float64, rows), make([]float64, rows)
	for i := range rows {
		s := 0.0
		for j, v := range m.design.Row(i) {
			s += v * m.Coef[j]
		}
		m.FittedMean[i], m.Fitted[i] = s, s
	}
	for k := range m.random {
		u := m.effects(k)
		for t, z := range m.random[k].Z {
			for i, v := range z.Apply(u[t]) {
				m.Fitted[i] += v
			}
		}
	}
	for i := range rows {
		m.Residuals[i] = m.y[i] - m.Fitted[i]
	}
}
