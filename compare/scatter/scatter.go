// Package scatter says what an estimate is judged by: how stints scatter about
// tyre and drift, and with how many degrees of freedom that is known.
//
// In the trade the unit of analysis is the stint: runs of one stint share its
// fitment and its moment and are never the error by themselves. The stint
// variance is that of stint means about tyre plus a straight line (the parabola
// where that is the correction), whichever correction gives the estimate.
//
// Sources: the rule is the house's, for reasons in every text on experiments
// with subsamples. Units: the analysis scale. Limits: scatter of stints alike for
// all tyres.
package scatter

import (
	"math"
	"strconv"

	"example.org/bookend/caveat"
	"example.org/bookend/compare/correct"
	"example.org/bookend/compare/sequence"
	"example.org/bookend/compare/setting"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/stat/linear"
)

// ErrorModel is where the scatter comes from.
type ErrorModel struct {
	Model   string   // "stint_means"
	About   string   // in words: what the stint means scatter about
	SD      *float64 // stint standard deviation on the analysis scale; nil without degrees of freedom
	Percent *float64 // ratio measures: the same in per cent
	DF      int
	Rows    int // stint means
	Rank    int // terms fitted
	Perfect bool
	// Slope is the drift of the line or the linear term of the model, per
	// position or s, on the analysis scale; nil without one.
	Slope      *Term
	Covariates []Term   // per unit of the covariate, on the analysis scale
	Between    *FResult // tyre by block; nil with one block or without degrees of freedom
}

// Term is one coefficient.
type Term struct {
	Name     string
	Estimate float64
	SE, T, P *float64
	Mean     float64 // of the covariate, where it was centred
}

// FResult is an F test.
type FResult struct {
	F, P     float64
	Num, Den int
}

// Scatter is where the stint variance comes from.
type Scatter struct {
	F       *correct.Fit
	About   string
	Flat    bool // no residual beyond rounding
	Caveats caveat.List
	Between *FResult
}

// DF gives the degrees of freedom of the stint variance.
func (s *Scatter) DF() int { return s.F.M.DF }

// SD gives the stint standard deviation on the analysis scale.
func (s *Scatter) SD() (float64, bool) {
	if s.Flat || s.F.M.DF == 0 {
		return 0, false
	}
	return s.F.M.Sigma()
}

// StintMeans fits tyre plus drift, at least a straight line, to the stint means.
func StintMeans(q *sequence.Sequence, drift setting.Drift, set setting.Settings) (*Scatter, error) {
	rows, y := q.All(), q.Y()
	own := set.DriftPerBlock.Degree()
	f, err := correct.LeastSquares(q, rows, y, max(1, drift.Degree()), own, true, set.Covariates)
	if err != nil {
		return nil, err
	}
	for _, a := range f.M.Aliased {
		if a.Column >= f.CovAt {
			return nil, fault.New(fault.Invalid, "covariate %s cannot be told apart from tyres, drift and the other covariates", set.Covariates[a.Column-f.CovAt]).
				WithHint("leave it out")
		}
	}
	s := &Scatter{F: f, About: "stint means about tyre and straight line"}
	if drift == setting.Quadratic {
		s.About = "stint means about tyre and parabola"
	}
	if own > 0 {
		s.About += ", with drift of its own in each block"
	}
	size := 0.0
	for _, v := range y {
		size = max(size, math.Abs(v))
	}
	if f.M.DF > 0 {
		// Sixteen units in the last place: what the means of runs are rounded by.
		s.Flat = true
		for _, e := range f.M.Residuals {
			if math.Abs(e) > 16*0x1p-52*size {
				s.Flat = false
			}
		}
	}
	switch {
	case f.M.DF == 0:
		s.Caveats.Add("no_degrees_of_freedom", caveat.Place{}, "There are as many terms as stints: estimates, but nothing to judge them by. Another control stint, or candidates repeated in reversed order, would give that.")
	case s.Flat:
		s.Caveats.Add("no_scatter", caveat.Place{}, "The stint means lie on tyre and drift to the last digit: there is no scatter to judge by.")
	case f.M.DF < 3:
		s.Caveats.Add("few_degrees_of_freedom", caveat.Place{}, "The scatter of stints is known from %d degree%s of freedom: intervals are very wide. Another control stint, or candidates repeated in reversed order, would narrow them most.", f.M.DF, plural(f.M.DF))
	}
	if err := interaction(q, s, rows, y); err != nil {
		return nil, err
	}
	return s, nil
}

func plural(n int) string {
	if n == 1 {
		return ""
	}
	return "s"
}

// interaction tests tyre by block, where there are blocks and degrees of freedom.
func interaction(q *sequence.Sequence, s *Scatter, rows []int, y []float64) error {
	if len(q.Blocks) < 2 || s.F.M.DF == 0 || s.Flat {
		return nil
	}
	var columns [][]float64
	var names []string
	n := len(rows)
	for j := range s.F.CovAt + len(s.F.Covariates) {
		c := make([]float64, n)
		for k := range rows {
			c[k] = s.F.Rows()[k][j]
		}
		columns, names = append(columns, c), append(names, strconv.Itoa(len(names)))
	}
	for _, code := range q.Codes {
		for b := range q.Blocks[1:] {
			c := make([]float64, n)
			for k, i := range rows {
				if f := &q.Stints[i]; f.Code == code && q.BlockOf[f.Segment] == b+1 {
					c[k] = 1
				}
			}
			columns, names = append(columns, c), append(names, strconv.Itoa(len(names)))
		}
	}
	large, err := linear.FitColumns(names, columns, y, linear.Options{Aliased: linear.DropAliased})
	if err != nil {
		return err
	}
	num, den := large.Rank-s.F.M.Rank, large.DF
	if num <= 0 || den <= 0 || !(large.RSS > 0) || large.PerfectFit {
		return nil
	}
	f := max(0, s.F.M.RSS-large.RSS) / float64(num) / (large.RSS / float64(den))
	s.Between = &FResult{F: f, P: linear.UpperF(f, float64(num), float64(den)), Num: num, Den: den}
	if s.Between.P < 0.05 {
		s.Caveats.Add("tyre_by_block", caveat.Place{}, "The candidates stand differently to the control from block to block (F %.2f on %d and %d degrees of freedom, p %.3f): read the blocks one by one as well.", f, num, den, s.Between.P)
	}
	return nil
}

// Report says where the scatter comes from.
func (s *Scatter) Report(set setting.Settings) ErrorModel {
	f := s.F
	e := ErrorModel{Model: set.Model, About: s.About, DF: f.M.DF, Rows: f.M.N, Rank: f.M.Rank, Perfect: s.Flat, Between: s.Between}
	sigma, ok := s.SD()
	if ok {
		e.SD = some(sigma)
		if set.Scale == programme.Ratio {
			e.Percent = some(100 * math.Expm1(sigma))
		}
	}
	term := func(name string, l []float64) *Term {
		v, _, ok := f.Predict(l)
		if !ok {
			return nil
		}
		t := &Term{Name: name, Estimate: v}
		if sd, ok := s.SD(); ok {
			c, err := f.M.Contrasts([][]float64{l})
			if err == nil && c.Unscaled[0][0] > 0 {
				se := sd * math.Sqrt(c.Unscaled[0][0])
				t.SE, t.T = some(se), some(v/se)
				t.P = some(linear.TwoSidedT(v/se, float64(f.M.DF)))
			}
		}
		return t
	}
	if l, ok := f.Slope(); ok {
		e.Slope = term("drift", l)
	}
	for k, c := range f.Covariates {
		l := make([]float64, f.Width)
		l[f.CovAt+k] = 1
		if t := term(c, l); t != nil {
			t.Mean = f.Means[k]
			e.Covariates = append(e.Covariates, *t)
		}
	}
	return e
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

func some(x float64) *float64 {
	if !finite(x) {
		return nil
	}
	return &x
}
