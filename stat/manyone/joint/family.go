// Package joint gives simultaneous tails, critical values, intervals and
// step-down p-values of a family of correlated comparisons with one residual
// deviation. It finds out once how a family hangs together and chooses the way
// by it: Student, plane, one factor, sphere, factors, range, lattice, or
// Bonferroni far out; package manyone above says what each is.
//
// Sources: Dunnett, J. Am. Stat. Assoc. 50 (1955) 1096; Genz and Bretz,
// Computation of Multivariate Normal and t Probabilities (2009). Units: pure
// numbers; intervals in the unit of the estimates. Limits: 1 to 40 different
// comparisons; every result has its bound.
package joint

import "example.org/bookend/stat/manyone/region"

import (
	"math"

	"example.org/bookend/fault"
)

// Sided says on which side a difference counts.
type Sided int

// The sides. TwoSided is the zero value.
const (
	TwoSided Sided = iota // |T| large
	Upper                 // T large: intervals are lower bounds
	Lower                 // T small: intervals are upper bounds
)

func (s Sided) String() string {
	switch s {
	case Upper:
		return "one-sided, upper"
	case Lower:
		return "one-sided, lower"
	}
	return "two-sided"
}

// MaxComparisons is the largest number of different comparisons: beyond it the
// lattice rule's stated bound has not been tried.
const MaxComparisons = 40

// DefaultTol is the absolute error of a probability that the lattice rule aims
// at; the result says what was reached.
const DefaultTol = 5e-6

// Family is a set of comparisons judged together.
type Family struct {
	Corr  [][]float64 // k x k correlations of the comparisons; may be singular
	DF    float64     // degrees of freedom of the common deviation; math.Inf(1) if it is known
	Sided Sided
	Tol   float64 // aim of the lattice rule; 0 means DefaultTol
}

// Probability is a tail probability with a bound on its error.
type Probability struct {
	P      float64
	Error  float64 // |error| is no larger
	Method string  // "Student", "plane", "one factor", "sphere", "factors", "range", "lattice" or "Bonferroni"
}

// Method names the way in which the family is computed.
func (f Family) Method() (string, error) {
	p, err := f.prepare()
	if err != nil {
		return "", err
	}
	return p.Method, nil
}

// Tail gives P(max |T_i| > c), P(max T_i > c) or P(min T_i < -c), by side.
func (f Family) Tail(c float64) (Probability, error) {
	cs := make([]float64, len(f.Corr))
	for i := range cs {
		cs[i] = c
	}
	return f.TailEach(cs)
}

// TailEach gives the probability that at least one comparison passes its own
// limit: |T_i| > c_i, T_i > c_i or T_i < -c_i, by side.
func (f Family) TailEach(c []float64) (Probability, error) {
	p, err := f.prepare()
	if err != nil {
		return Probability{}, err
	}
	if len(c) != len(f.Corr) {
		return Probability{}, fault.New(fault.Invalid, "%d limits for %d comparisons", len(c), len(f.Corr))
	}
	for i, v := range c {
		if math.IsNaN(v) {
			return Probability{}, fault.New(fault.Invalid, "limit %d is not a number", i+1)
		}
	}
	return p.tail(c), nil
}

// AdjustedP gives the single-step adjusted p-value of each comparison, from
// its t, and the largest bound on their errors.
func (f Family) AdjustedP(t []float64) (p []float64, errBound float64, err error) {
	pl, err := f.prepare()
	if err != nil {
		return nil, 0, err
	}
	if len(t) != len(f.Corr) {
		return nil, 0, fault.New(fault.Invalid, "%d values of t for %d comparisons", len(t), len(f.Corr))
	}
	p = make([]float64, len(t))
	for i, v := range t {
		c, err := f.limit(v)
		if err != nil {
			return nil, 0, fault.At(err, "comparison %d", i+1)
		}
		done := false
		for j := range i {
			if d, _ := f.limit(t[j]); d == c {
				p[i], done = p[j], true
			}
		}
		if !done {
			r := pl.TailAll(c)
			p[i] = r.P
			errBound = max(errBound, r.Error)
		}
	}
	return p, errBound, nil
}

// limit gives the limit that t stands for on the family's side.
func (f Family) limit(t float64) (float64, error) {
	if math.IsNaN(t) {
		return 0, fault.New(fault.Invalid, "t is not a number")
	}
	switch f.Sided {
	case Upper:
		return t, nil
	case Lower:
		return -t, nil
	}
	return math.Abs(t), nil
}

// RawP gives the unadjusted p-value of one t on the family's side.
func (f Family) RawP(t float64) float64 {
	switch f.Sided {
	case Upper:
		return region.UpperT(t, f.DF)
	case Lower:
		return region.UpperT(-t, f.DF)
	}
	return min(1, 2*region.UpperT(math.Abs(t), f.DF))
}

// Critical gives c with Tail(c) = alpha and a bound on the error of c.
func (f Family) Critical(alpha float64) (value, errBound float64, err error) {
	if !(alpha > 0 && alpha < 1) {
		return 0, 0, fault.New(fault.Invalid, "alpha is %v, not between 0 and 1", alpha)
	}
	p, err := f.prepare()
	if err != nil {
		return 0, 0, err
	}
	return p.Critical(alpha)
}

// Interval is a simultaneous interval in the unit of the estimates; a side
// that is open says so.
type Interval struct {
	Low, High         float64
	LowOpen, HighOpen bool
}

// Intervals gives the simultaneous intervals estimate ± c*se at confidence
// 1-alpha: both limits, the lower only (Upper) or the upper only (Lower). The
// bound is that of the critical value.
func (f Family) Intervals(estimate, se []float64, alpha float64) (intervals []Interval, critical, errBound float64, err error) {
	if len(estimate) != len(f.Corr) || len(se) != len(f.Corr) {
		return nil, 0, 0, fault.New(fault.Invalid, "%d estimates and %d standard errors for %d comparisons", len(estimate), len(se), len(f.Corr))
	}
	for i, s := range se {
		if !(s > 0) || math.IsInf(s, 0) {
			return nil, 0, 0, fault.New(fault.Invalid, "the standard error of comparison %d is %v", i+1, s).
				WithHint("without scatter there is no interval")
		}
	}
	critical, errBound, err = f.Critical(alpha)
	if err != nil {
		return nil, 0, 0, err
	}
	for i, e := range estimate {
		iv := Interval{Low: e - critical*se[i], High: e + critical*se[i]}
		switch f.Sided {
		case Upper:
			iv.High, iv.HighOpen = 0, true
		case Lower:
			iv.Low, iv.LowOpen = 0, true
		}
		intervals = append(intervals, iv)
	}
	return intervals, critical, errBound, nil
}
