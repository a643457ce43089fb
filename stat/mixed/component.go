package mixed

import (
	"math"
	"slices"

	"example.org/bookend/fault"
	"gonum.org/v1/gonum/floats"
)

// Component is one random part of a model: it adds to the covariance of the
// response either one variance times a known matrix, or, for terms that vary
// together from group to group, a small covariance matrix times known ones. The
// functions below make it.
type Component struct {
	name    string
	groups  []string    // one a row; nil where not by groups
	columns [][]float64 // what each group's effects are multiplied with, one slice a column
	terms   []string    // names of the columns
	known   [][]float64 // n x n, where not by groups
	held    bool
	value   float64
}

// Intercept is a component by which each group has a level of its own. One
// group a row; groups of a nested factor are told apart by joining the names:
// Cells does so.
func Intercept(name string, groups []string) Component {
	return Component{name: name, groups: slices.Clone(groups), columns: [][]float64{nil}, terms: []string{"intercept"}}
}

// Slope is a component by which each group has a slope of its own on x, one
// value a row, independent of the group's level.
func Slope(name string, groups []string, x []float64) Component {
	return Component{name: name, groups: slices.Clone(groups), columns: [][]float64{slices.Clone(x)}, terms: []string{"slope"}}
}

// InterceptAndSlopes is a component by which each group has a level and slopes
// of its own that may be correlated: one name and one column of x a slope.
func InterceptAndSlopes(name string, groups []string, terms []string, x [][]float64) Component {
	c := Component{name: name, groups: slices.Clone(groups), columns: [][]float64{nil}, terms: append([]string{"intercept"}, terms...)}
	for _, v := range x {
		if v == nil {
			v = []float64{} // a column that is missing, not one of ones
		}
		c.columns = append(c.columns, slices.Clone(v))
	}
	return c
}

// Known is a component with covariance v, n x n, times its variance.
func Known(name string, v [][]float64) Component {
	c := Component{name: name, known: make([][]float64, len(v)), terms: []string{""}, columns: [][]float64{nil}}
	for i := range v {
		c.known[i] = slices.Clone(v[i])
	}
	return c
}

// Walk is a random walk over position, one a row in any order: its variance is
// that of a step of one unit of position, in the response's unit squared. It is
// zero at the least position, which the intercept takes up.
func Walk(name string, position []float64) Component {
	v := make([][]float64, len(position))
	least := math.Inf(1)
	for _, p := range position {
		least = min(least, p)
	}
	for i := range v {
		v[i] = make([]float64, len(position))
		for j := range v[i] {
			v[i][j] = min(position[i], position[j]) - least
		}
	}
	return Known(name, v)
}

// Autoregressive gives the correlations phi^|ti - tj| of a first-order
// autoregressive series at the positions given, n x n: for Known, or for
// Options.Residual. 0 <= phi < 1.
func Autoregressive(position []float64, phi float64) ([][]float64, error) {
	if !(phi >= 0 && phi < 1) {
		return nil, fault.New(fault.Invalid, "the correlation of neighbours is %v, not from 0 to below 1", phi)
	}
	v := make([][]float64, len(position))
	for i := range v {
		v[i] = make([]float64, len(position))
		for j := range v[i] {
			v[i][j] = math.Pow(phi, math.Abs(position[i]-position[j]))
		}
	}
	return v, nil
}

// Cells joins two factors, one level of each a row, into the factor of their
// combinations, "a:b": for nested and for interaction components.
func Cells(a, b []string) ([]string, error) {
	if len(a) != len(b) {
		return nil, fault.New(fault.Invalid, "the factors have %d and %d rows", len(a), len(b))
	}
	out := make([]string, len(a))
	for i := range a {
		out[i] = a[i] + ":" + b[i]
	}
	return out, nil
}

// Hold gives the component with its variance held at a value, in the response's
// unit squared, instead of estimated: for a variance known from elsewhere.
func (c Component) Hold(variance float64) Component {
	c.held, c.value = true, variance
	return c
}

// Name gives the component's name.
func (c Component) Name() string { return c.name }

// random is a component with its columns over the rows.
type random struct {
	Component
	levels []string // groups in order of first appearance, or nil
	z      []*dense // one a term, n x q
}

// over lays the component out over n rows.
func (c Component) over(n int) (*random, error) {
	r := &random{Component: c}
	wrong := func(format string, args ...any) (*random, error) {
		return nil, fault.New(fault.Invalid, format, args...).At("component %q", c.name)
	}
	if c.name == "" || c.name == ResidualName {
		return nil, fault.New(fault.Invalid, "a component cannot be called %q", c.name)
	}
	if c.held && (!(c.value >= 0) || math.IsInf(c.value, 0)) {
		return wrong("the variance held is %v", c.value)
	}
	if c.held && len(c.columns) > 1 {
		return nil, fault.New(fault.Unsupported, "only a single variance can be held").At("component %q", c.name)
	}
	if c.known != nil || c.groups == nil {
		if len(c.known) != n {
			return wrong("the covariance has %d rows for %d", len(c.known), n)
		}
		for i, row := range c.known {
			if len(row) != n {
				return wrong("row %d of the covariance has %d entries for %d", i+1, len(row), n)
			}
			for _, v := range row {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					return wrong("row %d of the covariance is not finite", i+1)
				}
			}
		}
		z, err := root(c.known)
		if err != nil {
			return nil, fault.At(err, "component %q", c.name)
		}
		r.z = []*dense{z}
		return r, nil
	}
	if len(c.groups) != n {
		return wrong("%d groups for %d rows", len(c.groups), n)
	}
	at := map[string]int{}
	which := make([]int, n)
	for i, g := range c.groups {
		k, ok := at[g]
		if !ok {
			k = len(r.levels)
			at[g] = k
			r.levels = append(r.levels, g)
		}
		which[i] = k
	}
	if len(c.terms) != len(c.columns) {
		return wrong("%d names for %d slopes", len(c.terms)-1, len(c.columns)-1)
	}
	for t, x := range c.columns {
		if x != nil && len(x) != n {
			return wrong("%q has %d values for %d rows", c.terms[t], len(x), n)
		}
		z := newDense(n, len(r.levels))
		for i, k := range which {
			v := 1.0
			if x != nil {
				v = x[i]
			}
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return wrong("%q has no finite value in row %d", c.terms[t], i+1)
			}
			z.set(i, k, v)
		}
		r.z = append(r.z, z)
	}
	return r, nil
}

// within tells whether each term of r is a term of the larger component that is
// not taken yet, and takes them.
func (r *random) within(large *random, taken []bool) bool {
	now := append([]bool(nil), taken...)
	for _, z := range r.z {
		found := false
		for t, w := range large.z {
			if !now[t] && z.cols == w.cols && floats.Equal(z.a, w.a) {
				now[t], found = true, true
				break
			}
		}
		if !found {
			return false
		}
	}
	copy(taken, now)
	return true
}

// root gives a z with z z' = v by Cholesky's method with pivots, and refuses a
// v that is not symmetric or has a negative variance in some direction.
func root(v [][]float64) (*dense, error) {
	n := len(v)
	largest := 0.0
	for i := range v {
		largest = max(largest, v[i][i])
		for j := range i {
			// 1e-12: the rounding of entries computed both ways round.
			if math.Abs(v[i][j]-v[j][i]) > 1e-12*(math.Abs(v[i][j])+math.Abs(v[j][i])) {
				return nil, fault.New(fault.Invalid, "the covariance is not symmetric at %d, %d", i+1, j+1)
			}
		}
	}
	left := make([]float64, n)
	done := make([]bool, n)
	for i := range v {
		left[i] = v[i][i]
	}
	// 1e-12 of the largest variance is the rounding left over after n steps.
	tol := 1e-12 * largest * float64(max(n, 1))
	var cols [][]float64
	for {
		best := -1
		for i := range left {
			if left[i] < -tol {
				return nil, fault.New(fault.Invalid, "the covariance is not positive semidefinite (row %d)", i+1)
			}
			if !done[i] && left[i] > tol && (best < 0 || left[i] > left[best]) {
				best = i
			}
		}
		if best < 0 {
			break
		}
		done[best] = true
		d := math.Sqrt(left[best])
		c := make([]float64, n)
		for i := range c {
			if done[i] && i != best {
				continue
			}
			s := v[i][best]
			for _, e := range cols {
				s -= e[i] * e[best]
			}
			c[i] = s / d
		}
		c[best] = d
		for i := range c {
			left[i] -= c[i] * c[i]
		}
		left[best] = 0
		cols = append(cols, c)
	}
	for i := range v {
		for j := range i {
			s := v[i][j]
			for _, e := range cols {
				s -= e[i] * e[j]
			}
			// What the columns leave must be as small as the variances left.
			if math.Abs(s) > 10*tol {
				return nil, fault.New(fault.Invalid, "the covariance is not positive semidefinite (rows %d and %d)", j+1, i+1)
			}
		}
	}
	z := newDense(n, len(cols))
	for j, c := range cols {
		for i := range c {
			z.set(i, j, c[i])
		}
	}
	return z, nil
}
