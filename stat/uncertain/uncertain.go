// Package uncertain carries uncertainties of inputs through a formula to its
// result: the law of propagation to first and second order, effective degrees
// of freedom, coverage factors, and a Monte Carlo beside it.
//
// In the trade: what the standard uncertainty of a stopping distance is, given
// those of speed, time base and gate positions, and which of them it comes
// from. Inputs and result are in their own units; sensitivities are result
// units per input unit.
//
// Sources: JCGM 100:2008 (GUM), clauses 5 (propagation, correlation, second
// order), G (effective degrees of freedom, coverage factor); JCGM 101:2008
// (Supplement 1) for the Monte Carlo. Limits: the formula must be smooth about
// the inputs; first order is right where the result is nearly linear over a few
// standard uncertainties, which the Monte Carlo shows.
package uncertain

import (
	"math"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/stat/tail"
)

// Shape is the distribution of what is not known about an input; it matters to
// the Monte Carlo alone.
type Shape int

// The shapes of JCGM 101:2008, clause 6.4.
const (
	Normal      Shape = iota // Student's t where the input has finite degrees of freedom (6.4.9)
	Rectangular              // half width U sqrt 3
	Triangular               // half width U sqrt 6
	Arcsine                  // half width U sqrt 2: a cycle of unknown phase
)

// Input is one input of a formula.
type Input struct {
	Name  string
	Value float64 // best estimate, in its unit
	U     float64 // standard uncertainty, in its unit; 0 where it is taken as exact
	DF    float64 // degrees of freedom of U; math.Inf(1), or 0, where U is taken as known
	Shape Shape
}

// HalfWidth gives the standard uncertainty of a shape that reaches so far to
// either side of its centre (JCGM 100:2008, 4.3.7 to 4.3.9); of a normal the
// half width is taken as reaching 1.96 standard uncertainties (4.3.4, 95 %).
func HalfWidth(a float64, shape Shape) float64 {
	switch shape {
	case Rectangular:
		return a / math.Sqrt(3)
	case Triangular:
		return a / math.Sqrt(6)
	case Arcsine:
		return a / math.Sqrt2
	}
	return a / 1.959963984540054 // 97.5 % point of the normal
}

// Model is a formula: the inputs' values, in order, to the result. It must not
// change or keep the slice.
type Model func(x []float64) float64

// Options steer a propagation; the zero value takes the defaults.
type Options struct {
	Correlation   [][]float64 // of the inputs, a full matrix; nil: independent
	Sensitivities []float64   // result units per input unit; nil: by differences
	Confidence    float64     // of the expanded uncertainty; 0: 0.95
	SecondOrder   bool        // also compute the terms of the note to 5.1.2
}

// Row is one input's part in the result.
type Row struct {
	Name        string
	Value       float64
	U           float64
	DF          float64 // +Inf where U is taken as known
	Sensitivity float64 // result units per input unit
	Component   float64 // |sensitivity| U, in result units
	Share       float64 // of the squared standard uncertainty; with correlation shares count half of each common term and may be negative
}

// Budget is a result with its uncertainty and where it comes from; all in
// result units.
type Budget struct {
	Value      float64
	U          float64 // combined standard uncertainty, first order
	DF         float64 // effective degrees of freedom, unrounded; +Inf where none limits it
	K          float64 // coverage factor: t for DF cut to a whole number (G.4.1)
	Expanded   float64 // K U
	Confidence float64

	Rows []Row

	SecondOrder    float64 // square root of the second-order terms where positive; 0 where not asked for
	SecondVariance float64 // the second-order terms themselves; may be negative
	USecond        float64 // standard uncertainty with them

	Caveats caveat.List
}

// Propagate computes a result's uncertainty by the law of propagation (5.1.2,
// 5.2.2), its effective degrees of freedom by Welch and Satterthwaite (G.4.1),
// and its expanded uncertainty.
func Propagate(f Model, inputs []Input, o Options) (Budget, error) {
	b := Budget{Confidence: o.Confidence}
	if b.Confidence == 0 {
		b.Confidence = 0.95
	}
	if !(b.Confidence > 0 && b.Confidence < 1) {
		return b, fault.New(fault.Invalid, "a confidence lies between 0 and 1, not at %v", b.Confidence)
	}
	in, correlated, err := checked(inputs, o.Correlation)
	if err != nil {
		return b, err
	}
	x := values(in)
	b.Value = f(x)
	if !finite(b.Value) {
		return b, fault.New(fault.Invalid, "the formula has no value at the inputs' estimates")
	}
	c := o.Sensitivities
	if c == nil {
		if c, err = sensitivities(f, in, b.Value, &b.Caveats); err != nil {
			return b, err
		}
	}
	if len(c) != len(in) {
		return b, fault.New(fault.Invalid, "%d sensitivities for %d inputs", len(c), len(in))
	}
	variance := 0.0
	for i, p := range in {
		if !finite(c[i]) {
			return b, fault.New(fault.Invalid, "the sensitivity to %s is no number", p.Name)
		}
		r := Row{Name: p.Name, Value: p.Value, U: p.U, DF: p.DF, Sensitivity: c[i], Component: math.Abs(c[i]) * p.U}
		for j, q := range in {
			rho := 0.0
			if i == j {
				rho = 1
			} else if correlated {
				rho = o.Correlation[i][j]
			}
			r.Share += c[i] * p.U * rho * c[j] * q.U
		}
		variance += r.Share
		b.Rows = append(b.Rows, r)
	}
	if variance <= 0 {
		variance = 0
		for i := range b.Rows {
			b.Rows[i].Share = 0
		}
		b.Caveats.Add("no_uncertainty", caveat.Place{}, "To first order no input's uncertainty reaches the result.")
	} else {
		for i := range b.Rows {
			b.Rows[i].Share /= variance
		}
	}
	b.U = math.Sqrt(variance)
	b.DF = effective(b, correlated, &b.Caveats)
	df := b.DF
	if !math.IsInf(df, 1) {
		// G.4.1 note 1: cut to the next lower whole number; below one there is none.
		df = math.Max(1, math.Floor(df+1e-9))
	}
	b.K = tail.TPoint((1-b.Confidence)/2, df)
	b.Expanded = b.K * b.U
	b.USecond = b.U
	if o.SecondOrder {
		if correlated {
			return b, fault.New(fault.Unsupported, "second-order terms are defined for independent inputs only").
				WithHint("use the Monte Carlo")
		}
		if b.SecondVariance, err = secondOrder(f, in); err != nil {
			return b, err
		}
		if b.SecondVariance > 0 {
			b.SecondOrder = math.Sqrt(b.SecondVariance)
		}
		b.USecond = math.Sqrt(math.Max(0, variance+b.SecondVariance))
		if math.Abs(b.SecondVariance) > 0.1*variance {
			b.Caveats.Add("not_linear", caveat.Place{}, "Second-order terms change the squared uncertainty by more than a tenth: the first-order figure alone is not enough.")
		}
	}
	return b, nil
}

// effective gives the Welch-Satterthwaite degrees of freedom; correlated
// inputs break its ground, and the smallest of theirs is taken instead.
func effective(b Budget, correlated bool, l *caveat.List) float64 {
	if b.U == 0 {
		return math.Inf(1)
	}
	if correlated {
		least := math.Inf(1)
		for _, r := range b.Rows {
			if r.Component > 0 {
				least = math.Min(least, r.DF)
			}
		}
		if !math.IsInf(least, 1) {
			l.Add("correlated_degrees_of_freedom", caveat.Place{}, "The formula of effective degrees of freedom holds for independent inputs; the smallest of the inputs' is taken, %g.", least)
		}
		return least
	}
	sum := 0.0
	for _, r := range b.Rows {
		if !math.IsInf(r.DF, 1) {
			q := r.Component / b.U
			sum += q * q * q * q / r.DF
		}
	}
	if sum == 0 {
		return math.Inf(1)
	}
	return 1 / sum
}

// Joint is several results of the same inputs (5.2; H.2).
type Joint struct {
	Values      []float64
	U           []float64
	Correlation [][]float64 // of the results; 0 beside a result without uncertainty
	Budgets     []Budget
	Caveats     caveat.List
}

// PropagateJoint computes several results together, with the correlation that
// their common inputs give them.
func PropagateJoint(models []Model, inputs []Input, o Options) (Joint, error) {
	var j Joint
	if o.Sensitivities != nil {
		return j, fault.New(fault.Unsupported, "given sensitivities belong to one result").WithHint("propagate each result by itself")
	}
	if len(models) == 0 {
		return j, fault.New(fault.Invalid, "there is no result to compute")
	}
	in, correlated, err := checked(inputs, o.Correlation)
	if err != nil {
		return j, err
	}
	for i, f := range models {
		b, err := Propagate(f, inputs, o)
		if err != nil {
			return j, fault.At(err, "result %d", i+1)
		}
		j.Values, j.U, j.Budgets = append(j.Values, b.Value), append(j.U, b.U), append(j.Budgets, b)
		j.Caveats = append(j.Caveats, b.Caveats...)
	}
	j.Caveats = j.Caveats.Distinct()
	for a := range models {
		row := make([]float64, len(models))
		for b := range models {
			if a == b {
				row[b] = 1
				continue
			}
			if j.U[a] == 0 || j.U[b] == 0 {
				continue
			}
			cov := 0.0
			for i, p := range in {
				for k, q := range in {
					rho := 0.0
					if i == k {
						rho = 1
					} else if correlated {
						rho = o.Correlation[i][k]
					}
					cov += j.Budgets[a].Rows[i].Sensitivity * p.U * rho * j.Budgets[b].Rows[k].Sensitivity * q.U
				}
			}
			row[b] = math.Max(-1, math.Min(1, cov/(j.U[a]*j.U[b])))
		}
		j.Correlation = append(j.Correlation, row)
	}
	return j, nil
}

// Readings makes inputs of simultaneous readings (one row an input): means,
// standard uncertainties of the means, degrees of freedom and correlation
// (JCGM 100:2008, 4.2 and 5.2.3). Means of n readings have n - 1 degrees of
// freedom.
func Readings(names []string, rows [][]float64) ([]Input, [][]float64, error) {
	if len(names) != len(rows) || len(rows) == 0 {
		return nil, nil, fault.New(fault.Invalid, "%d names for %d rows of readings", len(names), len(rows))
	}
	n := len(rows[0])
	if n < 2 {
		return nil, nil, fault.New(fault.Invalid, "a standard uncertainty needs at least 2 readings, not %d", n)
	}
	nf := float64(n)
	dev := make([][]float64, len(rows))
	ss := make([]float64, len(rows))
	inputs := make([]Input, len(rows))
	for i, row := range rows {
		if len(row) != n {
			return nil, nil, fault.New(fault.Invalid, "%s has %d readings, %s has %d", names[i], len(row), names[0], n)
		}
		mean := 0.0
		equal := true
		for _, v := range row {
			if !finite(v) {
				return nil, nil, fault.New(fault.Invalid, "a reading of %s is no number", names[i])
			}
			mean += v / nf
			equal = equal && v == row[0]
		}
		dev[i] = make([]float64, n)
		for k, v := range row {
			if !equal {
				dev[i][k] = v - mean
			}
			ss[i] += dev[i][k] * dev[i][k]
		}
		inputs[i] = Input{Name: names[i], Value: mean, U: math.Sqrt(ss[i] / (nf * (nf - 1))), DF: nf - 1}
	}
	r := make([][]float64, len(rows))
	for i := range rows {
		r[i] = make([]float64, len(rows))
		for j := range rows {
			switch {
			case i == j:
				r[i][j] = 1
			case ss[i] > 0 && ss[j] > 0:
				for k := range n {
					r[i][j] += dev[i][k] * dev[j][k]
				}
				r[i][j] /= math.Sqrt(ss[i] * ss[j])
			}
		}
	}
	return inputs, r, nil
}

// checked gives the inputs with DF 0 made infinite, after checking them and
// their correlation.
func checked(inputs []Input, r [][]float64) (in []Input, correlated bool, err error) {
	if len(inputs) == 0 {
		return nil, false, fault.New(fault.Invalid, "the formula has no inputs")
	}
	in = make([]Input, len(inputs))
	for i, p := range inputs {
		if !finite(p.Value) || !finite(p.U) || p.U < 0 {
			return nil, false, fault.New(fault.Invalid, "value %v with standard uncertainty %v is no input", p.Value, p.U).At("%s", p.Name)
		}
		if p.DF < 0 || math.IsNaN(p.DF) {
			return nil, false, fault.New(fault.Invalid, "%v degrees of freedom", p.DF).At("%s", p.Name)
		}
		if p.DF == 0 {
			p.DF = math.Inf(1)
		}
		in[i] = p
	}
	if r == nil {
		return in, false, nil
	}
	if len(r) != len(in) {
		return nil, false, fault.New(fault.Invalid, "the correlation has %d rows for %d inputs", len(r), len(in))
	}
	for i := range r {
		if len(r[i]) != len(in) {
			return nil, false, fault.New(fault.Invalid, "row %d of the correlation has %d entries for %d inputs", i+1, len(r[i]), len(in))
		}
		for j := range r[i] {
			v := r[i][j]
			if !(math.Abs(v) <= 1) || (i == j && math.Abs(v-1) > 1e-12) || math.Abs(v-r[j][i]) > 1e-12 {
				return nil, false, fault.New(fault.Invalid, "entry %d, %d of the correlation is %v", i+1, j+1, v).
					WithHint("ones on the diagonal, the same above and below it, none beyond 1")
			}
			if i != j && v != 0 {
				correlated = true
			}
		}
	}
	return in, correlated, nil
}

func values(in []Input) []float64 {
	x := make([]float64, len(in))
	for i, p := range in {
		x[i] = p.Value
	}
	return x
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// sensitivities differentiates by central differences of one, a half and a
// quarter of a standard uncertainty (JCGM 100:2008, 5.1.3 note 2), extrapolated
// to none (Richardson). What rounding of the result leaves is about
// 1e-15 |result| / U.
func sensitivities(f Model, in []Input, value float64, l *caveat.List) ([]float64, error) {
	c := make([]float64, len(in))
	x := values(in)
	for i, p := range in {
		if p.U == 0 {
			continue // it adds nothing, whatever the sensitivity
		}
		var d [3]float64
		for k, h := range []float64{p.U, p.U / 2, p.U / 4} {
			x[i] = p.Value + h
			up, at := f(x), x[i]
			x[i] = p.Value - h
			down := f(x)
			d[k] = (up - down) / (at - x[i])
			if at == x[i] {
				d[k] = math.NaN()
			}
		}
		x[i] = p.Value
		e0, e1 := (4*d[1]-d[0])/3, (4*d[2]-d[1])/3
		c[i] = (16*e1 - e0) / 15
		if !finite(c[i]) {
			return nil, fault.New(fault.Invalid, "the formula cannot be differentiated at the estimate of %s", p.Name).
				WithHint("give the sensitivities, or use the Monte Carlo")
		}
		component := math.Abs(c[i]) * p.U
		if component > 0 && component < 1e-11*math.Abs(value) {
			l.Add("rounded_sensitivity", caveat.Place{}, "The sensitivity to %s is lost in rounding: the result hardly moves within its uncertainty.", p.Name)
		}
		if bend := math.Abs(d[0]-d[2]) * p.U; bend > 0.1*component && bend > 1e-9*math.Abs(value) {
			l.Add("not_linear", caveat.Place{}, "The formula bends within the uncertainty of %s: hold the result against the Monte Carlo.", p.Name)
		}
	}
	return c, nil
}

// secondOrder gives the terms of JCGM 100:2008, note to 5.1.2:
// sum over i and j of (f_ij^2/2 + f_i f_ijj) u_i^2 u_j^2, by differences of one
// standard uncertainty.
func secondOrder(f Model, in []Input) (float64, error) {
	x := values(in)
	n := len(in)
	at := func(i int, a float64, j int, b float64) float64 {
		x[i] += a * in[i].U
		x[j] += b * in[j].U
		v := f(x)
		x[i], x[j] = in[i].Value, in[j].Value
		return v
	}
	// In units of one standard uncertainty: first derivative, mixed second, and
	// the third f_ijj; each by a fourth-order stencil where it is cheap.
	first := func(i int) float64 {
		return (8*(at(i, .5, i, 0)-at(i, -.5, i, 0)) - (at(i, 1, i, 0) - at(i, -1, i, 0))) / 6
	}
	total := 0.0
	f0 := f(x)
	for i := range n {
		if in[i].U == 0 {
			continue
		}
		fi := first(i)
		for j := range n {
			if in[j].U == 0 {
				continue
			}
			var fij, fijj float64
			if i == j {
				h := func(s float64) float64 { return (at(i, s, i, 0) - 2*f0 + at(i, -s, i, 0)) / (s * s) }
				fij = (4*h(0.5) - h(1)) / 3
				g := func(s float64) float64 {
					return (at(i, 2*s, i, 0) - 2*at(i, s, i, 0) + 2*at(i, -s, i, 0) - at(i, -2*s, i, 0)) / (2 * s * s * s)
				}
				fijj = (4*g(0.5) - g(1)) / 3
			} else {
				h := func(s float64) float64 {
					return (at(i, s, j, s) - at(i, s, j, -s) - at(i, -s, j, s) + at(i, -s, j, -s)) / (4 * s * s)
				}
				fij = (4*h(0.5) - h(1)) / 3
				g := func(s float64) float64 {
					up := at(i, s, j, s) - 2*at(i, s, j, 0) + at(i, s, j, -s)
					down := at(i, -s, j, s) - 2*at(i, -s, j, 0) + at(i, -s, j, -s)
					return (up - down) / (2 * s * s * s)
				}
				fijj = (4*g(0.5) - g(1)) / 3
			}
			if !finite(fij) || !finite(fijj) || !finite(fi) {
				return 0, fault.New(fault.Invalid, "the formula has no second-order terms at the estimates of %s and %s", in[i].Name, in[j].Name)
			}
			total += fij*fij/2 + fi*fijj
		}
	}
	return total, nil
}
