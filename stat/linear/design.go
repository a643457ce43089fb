package linear

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/bookend/fault"
	"example.org/bookend/stat/linear/twofold"
)

// Coding says how the levels of a factor become columns.
type Coding string

// The codings.
const (
	Treatment Coding = "treatment" // every level but the first against the first: L-1 columns
	Sum       Coding = "sum"       // every level but the last against the mean of levels: L-1 columns
	Cell      Coding = "cell"      // one indicator a level: L columns, for a model without intercept
)

type termKind int

const (
	interceptTerm termKind = iota
	columnTerm
	factorTerm
	polynomialTerm
	powersTerm
	interactionTerm
)

type term struct {
	name   string
	kind   termKind
	first  int // first column
	width  int
	levels []string
	coding Coding
	poly   *Polynomial
	mean   float64 // of a column, for the reference grid
	of     [2]int  // terms of an interaction
}

// Design is a table of columns over n rows, built term by term. Its columns
// stand in the order in which the terms were added; a column is named after
// its term: "tyre[A]" for a level, "drift^2" for a degree, "a:b" for an
// interaction.
type Design struct {
	n       int
	names   []string
	columns [][]float64
	low     [][]float64 // what rounding took off a column, where known; else nil
	terms   []term
}

// NewDesign begins a design over n rows without any column.
func NewDesign(n int) *Design { return &Design{n: n} }

// Rows gives the number of rows.
func (d *Design) Rows() int { return d.n }

// Names gives the names of the columns.
func (d *Design) Names() []string { return slices.Clone(d.names) }

// Terms gives the names of the terms in order.
func (d *Design) Terms() []string {
	out := make([]string, len(d.terms))
	for i, t := range d.terms {
		out[i] = t.name
	}
	return out
}

// Columns gives the columns of the term named: their indices.
func (d *Design) Columns(name string) ([]int, error) {
	t, err := d.find(name)
	if err != nil {
		return nil, err
	}
	out := make([]int, d.terms[t].width)
	for i := range out {
		out[i] = d.terms[t].first + i
	}
	return out, nil
}

func (d *Design) entry(j, i int) twofold.Number {
	if d.low[j] == nil {
		return twofold.Of(d.columns[j][i])
	}
	return twofold.Number{Hi: d.columns[j][i], Lo: d.low[j][i]}
}

// Row gives a copy of row i of the design.
func (d *Design) Row(i int) []float64 {
	out := make([]float64, len(d.columns))
	for j, c := range d.columns {
		out[j] = c[i]
	}
	return out
}

// Index gives the index of the column named, and whether there is one.
func (d *Design) Index(name string) (int, bool) {
	i := slices.Index(d.names, name)
	return i, i >= 0
}

func (d *Design) find(name string) (int, error) {
	for i, t := range d.terms {
		if t.name == name {
			return i, nil
		}
	}
	return 0, fault.New(fault.NotFound, "the design has no term %q", name).WithHint("its terms are %s", strings.Join(d.Terms(), ", "))
}

func (d *Design) fresh(name string) error {
	for _, t := range d.terms {
		if t.name == name {
			return fault.New(fault.Conflict, "the design has a term %q already", name)
		}
	}
	return nil
}

func (d *Design) push(t term, names []string, columns [][]float64) {
	t.first, t.width = len(d.columns), len(columns)
	d.terms = append(d.terms, t)
	d.names = append(d.names, names...)
	d.columns = append(d.columns, columns...)
	d.low = append(d.low, make([][]float64, len(columns))...)
}

// AddIntercept adds a column of ones, "intercept".
func (d *Design) AddIntercept() error {
	if err := d.fresh("intercept"); err != nil {
		return err
	}
	ones := make([]float64, d.n)
	for i := range ones {
		ones[i] = 1
	}
	d.push(term{name: "intercept", kind: interceptTerm}, []string{"intercept"}, [][]float64{ones})
	return nil
}

func (d *Design) finite(name string, x []float64) error {
	if len(x) != d.n {
		return fault.New(fault.Invalid, "term %q has %d values for %d rows", name, len(x), d.n)
	}
	for i, v := range x {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fault.New(fault.Invalid, "term %q has no finite value in row %d", name, i+1)
		}
	}
	return nil
}

// AddColumn adds a covariate as it is, one value a row.
func (d *Design) AddColumn(name string, x []float64) error {
	if err := d.fresh(name); err != nil {
		return err
	}
	if err := d.finite(name, x); err != nil {
		return err
	}
	d.push(term{name: name, kind: columnTerm, mean: meanOf(x)}, []string{name}, [][]float64{slices.Clone(x)})
	return nil
}

// AddCentred adds a covariate with its mean over the rows taken off, so that
// the intercept stays what it is at the mean of the covariate. It gives the
// mean taken off.
func (d *Design) AddCentred(name string, x []float64) (mean float64, err error) {
	if err := d.fresh(name); err != nil {
		return 0, err
	}
	if err := d.finite(name, x); err != nil {
		return 0, err
	}
	mean = meanOf(x)
	c := make([]float64, len(x))
	for i, v := range x {
		c[i] = v - mean
	}
	d.push(term{name: name, kind: columnTerm}, []string{name}, [][]float64{c})
	return mean, nil
}

func meanOf(x []float64) float64 {
	var s twofold.Number
	for _, v := range x {
		s = s.Add(twofold.Of(v))
	}
	if len(x) == 0 {
		return 0
	}
	return s.Div(twofold.Of(float64(len(x)))).Float()
}

// AddFactor adds a factor: one level a row, each out of levels, which stand in
// the order given. Treatment coding holds the first level as its reference.
// A level without a row is kept: its column is zero and will be found aliased.
func (d *Design) AddFactor(name string, levels, values []string, coding Coding) error {
	if err := d.fresh(name); err != nil {
		return err
	}
	if len(values) != d.n {
		return fault.New(fault.Invalid, "factor %q has %d values for %d rows", name, len(values), d.n)
	}
	at := map[string]int{}
	for i, l := range levels {
		if _, twice := at[l]; twice {
			return fault.New(fault.Invalid, "factor %q names level %q twice", name, l)
		}
		at[l] = i
	}
	if len(levels) == 0 {
		return fault.New(fault.Invalid, "factor %q has no levels", name)
	}
	which := make([]int, d.n)
	for i, v := range values {
		l, ok := at[v]
		if !ok {
			return fault.New(fault.Invalid, "factor %q has no level %q (row %d)", name, v, i+1)
		}
		which[i] = l
	}
	t := term{name: name, kind: factorTerm, levels: slices.Clone(levels), coding: coding}
	names := t.columnNames()
	if names == nil {
		return fault.New(fault.Invalid, "factor %q: no coding %q", name, coding)
	}
	columns := make([][]float64, len(names))
	for j := range columns {
		columns[j] = make([]float64, d.n)
	}
	for i, l := range which {
		for j, v := range t.code(l) {
			columns[j][i] = v
		}
	}
	d.push(t, names, columns)
	return nil
}

func (t *term) columnNames() []string {
	var of []string
	switch t.coding {
	case Treatment:
		of = t.levels[1:]
	case Sum:
		of = t.levels[:len(t.levels)-1]
	case Cell:
		of = t.levels
	default:
		return nil
	}
	out := make([]string, len(of))
	for i, l := range of {
		out[i] = fmt.Sprintf("%s[%s]", t.name, l)
	}
	return out
}

// code gives the values of a factor's columns for level l.
func (t *term) code(l int) []float64 {
	switch t.coding {
	case Treatment:
		out := make([]float64, len(t.levels)-1)
		if l > 0 {
			out[l-1] = 1
		}
		return out
	case Sum:
		out := make([]float64, len(t.levels)-1)
		for j := range out {
			if l == len(t.levels)-1 {
				out[j] = -1
			} else if j == l {
				out[j] = 1
			}
		}
		return out
	default:
		out := make([]float64, len(t.levels))
		out[l] = 1
		return out
	}
}

// AddPowers adds the plain powers 1 to degree of x, columns "name^1", "name^2"
// and so on, without the rounding of the powers. Their coefficients are those
// of the polynomial as people write it; they lean on each other far more than
// those of AddPolynomial, which should be preferred for drift.
func (d *Design) AddPowers(name string, x []float64, degree int) error {
	if err := d.fresh(name); err != nil {
		return err
	}
	if err := d.finite(name, x); err != nil {
		return err
	}
	if degree < 1 {
		return fault.New(fault.Invalid, "term %q has no powers up to %d", name, degree)
	}
	names := make([]string, degree)
	columns, low := make([][]float64, degree), make([][]float64, degree)
	power := make([]twofold.Number, len(x))
	for k := range degree {
		names[k] = fmt.Sprintf("%s^%d", name, k+1)
		columns[k], low[k] = make([]float64, len(x)), make([]float64, len(x))
		for i, v := range x {
			if k == 0 {
				power[i] = twofold.Of(v)
			} else {
				power[i] = power[i].Mul(twofold.Of(v))
			}
			columns[k][i], low[k][i] = power[i].Hi, power[i].Lo
		}
		if err := d.finite(names[k], columns[k]); err != nil {
			return err
		}
	}
	d.push(term{name: name, kind: powersTerm, mean: meanOf(x)}, names, columns)
	copy(d.low[len(d.low)-degree:], low)
	return nil
}

// AddPolynomial adds degrees 1 to degree of the polynomials orthogonal over the
// positions given, one position a row: columns "name^1", "name^2" and so on,
// each with mean 0 and mean square 1 over the rows. It gives the basis, with
// which the drift can be drawn at other positions.
func (d *Design) AddPolynomial(name string, position []float64, degree int) (*Polynomial, error) {
	if err := d.fresh(name); err != nil {
		return nil, err
	}
	if err := d.finite(name, position); err != nil {
		return nil, err
	}
	p, err := NewPolynomial(position, degree)
	if err != nil {
		return nil, fault.At(err, "term %q", name)
	}
	names := make([]string, degree)
	columns := make([][]float64, degree)
	for j := range columns {
		names[j] = fmt.Sprintf("%s^%d", name, j+1)
		columns[j] = make([]float64, d.n)
	}
	for i, x := range position {
		for j, v := range p.At(x)[1:] {
			columns[j][i] = v
		}
	}
	d.push(term{name: name, kind: polynomialTerm, poly: p}, names, columns)
	return p, nil
}

// Interaction adds the products of the columns of two terms, "a:b", the second
// term's columns running fastest.
func (d *Design) Interaction(a, b string) error {
	ia, err := d.find(a)
	if err != nil {
		return err
	}
	ib, err := d.find(b)
	if err != nil {
		return err
	}
	name := a + ":" + b
	if err := d.fresh(name); err != nil {
		return err
	}
	ta, tb := d.terms[ia], d.terms[ib]
	var names []string
	var columns [][]float64
	for i := range ta.width {
		for j := range tb.width {
			names = append(names, d.names[ta.first+i]+":"+d.names[tb.first+j])
			c := make([]float64, d.n)
			for r := range c {
				c[r] = d.columns[ta.first+i][r] * d.columns[tb.first+j][r]
			}
			columns = append(columns, c)
		}
	}
	d.push(term{name: name, kind: interactionTerm, of: [2]int{ia, ib}}, names, columns)
	return nil
}

// Setting is a point of the reference grid: a level for each factor named and
// a value for each covariate or polynomial position named.
type Setting struct {
	Levels map[string]string
	Values map[string]float64
}

// At gives the row of the design at a setting. A factor not named is averaged
// over its levels with equal weight; a covariate not named stands at its mean
// over the rows (a centred one at 0), powers at the powers of that mean; a polynomial not named at the mean of
// each of its columns, which is 0: the average over the positions driven.
func (d *Design) At(s Setting) ([]float64, error) {
	for name := range s.Levels {
		i, err := d.find(name)
		if err != nil {
			return nil, err
		}
		if d.terms[i].kind != factorTerm {
			return nil, fault.New(fault.Invalid, "term %q is no factor", name)
		}
	}
	for name := range s.Values {
		i, err := d.find(name)
		if err != nil {
			return nil, err
		}
		if k := d.terms[i].kind; k != columnTerm && k != polynomialTerm && k != powersTerm {
			return nil, fault.New(fault.Invalid, "term %q takes no value", name)
		}
	}
	out := make([]float64, 0, len(d.columns))
	for i := range d.terms {
		v, err := d.at(i, s)
		if err != nil {
			return nil, err
		}
		out = append(out, v...)
	}
	return out, nil
}

func (d *Design) at(i int, s Setting) ([]float64, error) {
	t := &d.terms[i]
	switch t.kind {
	case interceptTerm:
		return []float64{1}, nil
	case columnTerm:
		if v, ok := s.Values[t.name]; ok {
			return []float64{v}, nil
		}
		return []float64{t.mean}, nil
	case powersTerm:
		v, ok := s.Values[t.name]
		if !ok {
			v = t.mean
		}
		out := make([]float64, t.width)
		power := 1.0
		for k := range out {
			power *= v
			out[k] = power
		}
		return out, nil
	case polynomialTerm:
		if v, ok := s.Values[t.name]; ok {
			return t.poly.At(v)[1:], nil
		}
		return make([]float64, t.width), nil
	case factorTerm:
		if l, ok := s.Levels[t.name]; ok {
			k := slices.Index(t.levels, l)
			if k < 0 {
				return nil, fault.New(fault.NotFound, "factor %q has no level %q", t.name, l)
			}
			return t.code(k), nil
		}
		out := make([]float64, t.width)
		for l := range t.levels {
			for j, v := range t.code(l) {
				out[j] += v / float64(len(t.levels))
			}
		}
		return out, nil
	default:
		a, err := d.at(t.of[0], s)
		if err != nil {
			return nil, err
		}
		b, err := d.at(t.of[1], s)
		if err != nil {
			return nil, err
		}
		var out []float64
		for _, x := range a {
			for _, y := range b {
				out = append(out, x*y)
			}
		}
		return out, nil
	}
}
