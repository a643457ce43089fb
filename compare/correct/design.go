// Package correct takes out the drift that the control shows: it gives each
// candidate against the control as a weighted sum of stint means, and what the
// control was worth at every place of the sequence.
//
// In the trade: the bracketing controls interpolated, a straight line or a
// parabola through the control's stints, or one model of tyres and drift
// together. A level of its own belongs to every stretch between breaks and
// blocks; drift is never carried across one.
//
// Sources: UN R117 (weights of the bracketing references), ASTM F1650 (when to
// correct). Units: the analysis scale for estimates, positive better; the
// measure's unit for what the control was worth. Limits: to first order; scatter
// is another room's.
package correct

import (
	"math"
	"strconv"

	"example.org/bookend/compare/sequence"
	"example.org/bookend/stat/linear"
)

// Design says which column of a linear model stands for what: a level for each
// segment, drift, tyres against the control, covariates about their means.
type Design struct {
	Common     *linear.Polynomial // nil without a common drift
	CommonAt   int                // its first column
	TyreAt     map[string]int     // columns of the candidates
	Covariates []string
	CovAt      int       // column of the first of them
	Means      []float64 // of the covariates over the stints
	Width      int       // columns in all

	from  int                  // lowest degree of the common drift in the model
	own   []*linear.Polynomial // a segment's own drift
	ownAt []int                // its first column
}

// NewDesign lays out a model of the stints named: a common drift and one of
// each segment of the degrees given, lower where there are too few places.
// Without tyres all stints are taken for the control's.
func NewDesign(q *sequence.Sequence, rows []int, common, perBlock int, tyres bool, covariates []string) (*Design, error) {
	d := &Design{TyreAt: map[string]int{}, Covariates: covariates, own: make([]*linear.Polynomial, q.Segments), ownAt: make([]int, q.Segments)}
	// How many different places there are decides how many degrees there can be.
	us := make([]float64, len(rows))
	bySegment := make([][]float64, q.Segments)
	for k, i := range rows {
		us[k] = q.Stints[i].U
		bySegment[q.Stints[i].Segment] = append(bySegment[q.Stints[i].Segment], us[k])
	}
	d.from = perBlock + 1
	n := q.Segments
	d.CommonAt = n
	if deg := min(common, distinct(us)-1); deg >= d.from {
		p, err := linear.NewPolynomial(us, deg)
		if err != nil {
			return nil, err
		}
		d.Common = p
		n += deg - perBlock
	}
	for s := range q.Segments {
		d.ownAt[s] = n
		if deg := min(perBlock, distinct(bySegment[s])-1); deg >= 1 {
			p, err := linear.NewPolynomial(bySegment[s], deg)
			if err != nil {
				return nil, err
			}
			d.own[s] = p
			n += deg
		}
	}
	if tyres {
		for _, c := range q.Codes {
			d.TyreAt[c] = n
			n++
		}
	}
	d.CovAt = n
	d.Width = n + len(covariates)
	for _, c := range covariates {
		mean := 0.0
		for _, i := range rows {
			mean += q.Stints[i].Covariates[c] / float64(len(rows))
		}
		d.Means = append(d.Means, mean)
	}
	return d, nil
}

func distinct(x []float64) int {
	seen := map[float64]bool{}
	for _, v := range x {
		seen[v] = true
	}
	return len(seen)
}

// At gives the row of the design for a code at a place of a segment; nil
// covariates stand at their means.
func (d *Design) At(segment int, u float64, code string, covariates map[string]float64) []float64 {
	row := make([]float64, d.Width)
	row[segment] = 1
	if d.Common != nil {
		copy(row[d.CommonAt:], d.Common.At(u)[d.from:])
	}
	if p := d.own[segment]; p != nil {
		copy(row[d.ownAt[segment]:], p.At(u)[1:])
	}
	if j, ok := d.TyreAt[code]; ok {
		row[j] = 1
	}
	for k, c := range d.Covariates {
		if covariates != nil {
			row[d.CovAt+k] = covariates[c] - d.Means[k]
		}
	}
	return row
}

// Slope gives the contrast that is the common line's slope per unit of what
// drift runs along, and whether there is such a line.
func (d *Design) Slope() ([]float64, bool) {
	if d.Common == nil || d.Common.Degree() != 1 || d.from != 1 {
		return nil, false
	}
	l := make([]float64, d.Width)
	l[d.CommonAt] = (d.Common.At(d.Common.Middle + d.Common.Half)[1] - d.Common.At(d.Common.Middle)[1]) / d.Common.Half
	return l, true
}

// Predictor is a fitted model: it gives a combination of its coefficients, with
// what every stint mean weighs in it; ok is false where the stints do not
// determine it.
type Predictor interface {
	Layout() *Design
	Predict(l []float64) (value float64, weights []float64, ok bool)
}

// Fit is a model of stint means by least squares.
type Fit struct {
	*Design
	M *linear.Model

	q        *sequence.Sequence
	rows     []int // stints in the model
	x        [][]float64
	unscaled [][]float64
}

// LeastSquares fits y over the stints named, as NewDesign lays them out. Terms
// that cannot be told apart are dropped.
func LeastSquares(q *sequence.Sequence, rows []int, y []float64, common, perBlock int, tyres bool, covariates []string) (*Fit, error) {
	d, err := NewDesign(q, rows, common, perBlock, tyres, covariates)
	if err != nil {
		return nil, err
	}
	f := &Fit{Design: d, q: q, rows: rows, x: make([][]float64, len(rows))}
	names := make([]string, d.Width) // no face shows them
	columns := make([][]float64, d.Width)
	for j := range columns {
		columns[j] = make([]float64, len(rows))
		names[j] = strconv.Itoa(j)
	}
	for k, i := range rows {
		s := &q.Stints[i]
		f.x[k] = d.At(s.Segment, s.U, s.Code, s.Covariates)
		for j, v := range f.x[k] {
			columns[j][k] = v
		}
	}
	f.M, err = linear.FitColumns(names, columns, y, linear.Options{Aliased: linear.DropAliased})
	if err != nil {
		return nil, err
	}
	f.unscaled = f.M.Unscaled()
	return f, nil
}

// Rows gives the rows of the design, one a stint.
func (f *Fit) Rows() [][]float64 { return f.x }

// Layout gives the design.
func (f *Fit) Layout() *Design { return f.Design }

// Predict gives L beta with its weights over all stints; ok is false where the
// stints do not determine it.
func (f *Fit) Predict(l []float64) (value float64, weights []float64, ok bool) {
	c, err := f.M.Contrasts([][]float64{l})
	if err != nil {
		return 0, nil, false
	}
	ul := make([]float64, len(l))
	for j := range ul {
		ul[j] = dot(f.unscaled[j], l)
	}
	weights = make([]float64, len(f.q.Stints))
	for k, i := range f.rows {
		weights[i] = dot(f.x[k], ul)
	}
	return c.Estimate[0], weights, true
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i := range a {
		s += a[i] * b[i]
	}
	return s
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

func some(x float64) *float64 { return &x }
