// Package component holds the random parts of a mixed model: what is common to
// the runs of a stint, a set, a day or a rater, and how it varies from one to the
// next.
//
// A component is named, made by a function below, and laid out over the rows of
// a design. Its variance is estimated by package mixed, or held at a value known
// from elsewhere, in the response's unit squared. Limits: covariances are dense
// and, where given, positive semidefinite; what is not is refused by name.
package component

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"example.org/bookend/fault"
	"example.org/bookend/stat/mixed/dense"
)

// ResidualName is the name of the residual among the components.
const ResidualName = "residual"

// Component is one random part of a model: it adds to the covariance of the
// response either one variance times a known matrix, or, for terms that vary
// together from group to group, a small covariance matrix times known ones. The
// functions below make it. Held tells that its variance is not estimated but is
// Value, in the response's unit squared.
type Component struct {
	Name    string
	groups  []string    // one a row; nil where not by groups
	columns [][]float64 // what each group's effects are multiplied with, one slice a column
	Terms   []string    // names of the columns
	known   [][]float64 // n x n, where not by groups
	Held    bool
	Value   float64
}

// Intercept is a component by which each group has a level of its own. One
// group a row; groups of a nested factor are told apart by joining the names:
// Cells does so.
func Intercept(name string, groups []string) Component {
	return Component{Name: name, groups: slices.Clone(groups), columns: [][]float64{nil}, Terms: []string{"intercept"}}
}

// Slope is a component by which each group has a slope of its own on x, one
// value a row, independent of the group's level.
func Slope(name string, groups []string, x []float64) Component {
	return Component{Name: name, groups: slices.Clone(groups), columns: [][]float64{slices.Clone(x)}, Terms: []string{"slope"}}
}

// InterceptAndSlopes is a component by which each group has a level and slopes
// of its own that may be correlated: one name and one column of x a slope.
func InterceptAndSlopes(name string, groups []string, terms []string, x [][]float64) Component {
	c := Component{Name: name, groups: slices.Clone(groups), columns: [][]float64{nil}, Terms: append([]string{"intercept"}, terms...)}
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
	c := Component{Name: name, known: make([][]float64, len(v)), Terms: []string{""}, columns: [][]float64{nil}}
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
// autoregressive series at the positions given, n x n: for Known, or for the
// residual of package mixed. 0 <= phi < 1.
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
	c.Held, c.Value = true, variance
	return c
}

// Laid is a component with its columns over the rows.
type Laid struct {
	Component
	Levels []string        // groups in order of first appearance, or nil
	Z      []*dense.Matrix // one a term, n x q
}

// Over lays the component out over n rows.
func (c Component) Over(n int) (*Laid, error) {
	r := &Laid{Component: c}
	wrong := func(format string, args ...any) (*Laid, error) {
		return nil, fault.New(fault.Invalid, format, args...).At("component %q", c.Name)
	}
	if c.Name == "" || c.Name == ResidualName {
		return nil, fault.New(fault.Invalid, "a component cannot be called %q", c.Name)
	}
	if c.Held && (!(c.Value >= 0) || math.IsInf(c.Value, 0)) {
		return wrong("the variance held is %v", c.Value)
	}
	if c.Held && len(c.columns) > 1 {
		return nil, fault.New(fault.Unsupported, "only a single variance can be held").At("component %q", c.Name)
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
			return nil, fault.At(err, "component %q", c.Name)
		}
		r.Z = []*dense.Matrix{z}
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
			k = len(r.Levels)
			at[g] = k
			r.Levels = append(r.Levels, g)
		}
		which[i] = k
	}
	if len(c.Terms) != len(c.columns) {
		return wrong("%d names for %d slopes", len(c.Terms)-1, len(c.columns)-1)
	}
	for t, x := range c.columns {
		if x != nil && len(x) != n {
			return wrong("%q has %d values for %d rows", c.Terms[t], len(x), n)
		}
		z := dense.New(n, len(r.Levels))
		for i, k := range which {
			v := 1.0
			if x != nil {
				v = x[i]
			}
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return wrong("%q has no finite value in row %d", c.Terms[t], i+1)
			}
			z.Set(i, k, v)
		}
		r.Z = append(r.Z, z)
	}
	return r, nil
}

// Within tells whether each term of r is a term of the larger component that is
// not taken yet, and takes them.
func (r *Laid) Within(large *Laid, taken []bool) bool {
	now := append([]bool(nil), taken...)
	for _, z := range r.Z {
		found := false
		for t, w := range large.Z {
			if !now[t] && z.Cols == w.Cols && floats.Equal(z.Data, w.Data) {
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
func root(v [][]float64) (*dense.Matrix, error) {
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
	z := dense.New(n, len(cols))
	for j, c := range cols {
		for i := range c {
			z.Set(i, j, c[i])
		}
	}
	return z, nil
}
