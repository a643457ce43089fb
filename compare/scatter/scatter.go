// Package scatter says what an estimate is judged by: how stints scatter about
// tyre and drift, and with how many degrees of freedom that is known.
//
// In the trade the unit of analysis is the stint: runs of one stint share its
// fitment and its moment and are never the error by themselves. The stint
// variance is that of stint means about tyre plus a straight line (the parabola
// where that is the correction), whichever correction gives the estimate.
//
// Where all stints have the same runs, stint means with one variance are all
// there is to know. Where they do not, or where the set or tyre by block is a
// term of its own, a mixed model of the runs takes over, with the stint random:
// restricted maximum likelihood, the degrees of freedom and the covariance of
// Kenward and Roger for estimates that are contrasts of the model, Satterthwaite's
// from the expected information for those that are not (a bracket's weights are
// given, not fitted). For equal runs both ways give the same numbers. A stint
// variance of zero falls back to stint means, so that degrees of freedom never
// become those of the runs; a set or block variance of zero stays among the
// estimated ones for the same reason.
//
// Sources: Kenward and Roger, Biometrics 53 (1997) 983, as package stat/mixed has
// it. Units: the analysis scale. Limits: scatter of stints alike for all tyres;
// up to 600 runs in a mixed model.
package scatter

import (
	"math"
	"strconv"

	"example.org/bookend/caveat"
	"example.org/bookend/compare/correct"
	"example.org/bookend/compare/scatter/gls"
	"example.org/bookend/compare/sequence"
	"example.org/bookend/compare/setting"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/stat/linear"
	"example.org/bookend/unit"
)

// ErrorModel is where the scatter comes from.
type ErrorModel struct {
	Model    setting.Model // as used: stint_means or mixed
	About    string        // in words: what stints scatter about
	SD       *float64      // standard deviation of a stint mean on the analysis scale; nil without degrees of freedom
	Percent  *float64      // ratio measures: the same in per cent
	DF       float64       // of the common interval
	DFMethod string        // how they are counted
	Parts    []Part        // the standard deviations that it is made of, as far as they can be told
	Rows     int           // stint means, or runs
	Rank     int           // terms fitted to the stint means
	Perfect  bool
	// Slope is the drift of the line or the linear term of the model of stint
	// means, per position or s, on the analysis scale; nil without one.
	Slope      *Term
	Covariates []Term    // per unit of the covariate, on the analysis scale, from the model of stint means
	Between    *FResult  // tyre by block; nil with one block or without degrees of freedom
	ByBlock    []ByBlock // each candidate block by block, from the model of stint means with tyre by block; nil with one block
	Number     *Number   // what the run number does; nil where all stints have the same runs
	NumberSaid string    // what becomes of the run number, in words
	Trend      *Term     // by the run number within stints, per run, whatever becomes of it; nil where no stint has two runs
}

// Part is one standard deviation on the analysis scale.
type Part struct {
	Name string
	SD   float64
	Zero bool // estimated, and exactly zero
}

// Number is what the run number within the stint does, on the analysis scale.
type Number struct {
	Rule   setting.RunNumber
	Slope  float64   // per run, under linear
	Levels []float64 // under each: of Runs, against their mean
	Runs   []int
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
	F       *correct.Fit // of stint means
	Model   setting.Model
	About   string
	Flat    bool // no residual beyond rounding
	Caveats caveat.List
	Between *FResult
	ByBlock []ByBlock

	q        *sequence.Sequence
	mixed    *mixedFit // nil: stint means
	within   *within
	borrowed *borrowed // nil: this programme's own
}

type borrowed struct{ sd, df float64 }

// Borrow puts a standard deviation of stint means from elsewhere in the place of
// this programme's own. There is none in a mixed model.
func (s *Scatter) Borrow(sd, df float64) {
	s.borrowed = &borrowed{sd, df}
}

// IsMixed tells whether the error is that of a mixed model.
func (s *Scatter) IsMixed() bool { return s.mixed != nil }

// WalkShare gives the step variances of a random walk of the stints that the
// scatter of their means about tyre and drift holds, per degree of freedom.
func (s *Scatter) WalkShare() float64 {
	if s.F.M.DF == 0 {
		return 0
	}
	k := s.q.Walk()
	u := s.F.M.Unscaled()
	x := s.F.Rows()
	sum := 0.0
	for i := range x {
		sum += k[i][i]
		ux := make([]float64, len(x[i]))
		for j := range ux {
			ux[j] = gls.Dot(u[j], x[i])
		}
		for j := range x {
			sum -= gls.Dot(x[j], ux) * k[i][j]
		}
	}
	return max(0, sum/float64(s.F.M.DF))
}

// within is the scatter of runs about their stint means on equal run numbers.
type within struct {
	sd float64
	df int
}

// New finds the scatter under the settings' model.
func New(q *sequence.Sequence, drift setting.Drift, set setting.Settings) (*Scatter, error) {
	s, err := stintMeans(q, drift, set)
	if err != nil {
		return nil, err
	}
	s.q, s.Model, s.within = q, setting.StintMeans, runScatter(q)
	least, most := math.MaxInt, 0
	for i := range q.Stints {
		least, most = min(least, q.Stints[i].N()), max(most, q.Stints[i].N())
	}
	sets := q.SetsRecur()
	blocks := len(q.Blocks) > 1 && set.TyreByBlock == setting.InError
	wanted := set.Model == setting.Mixed || set.Model == setting.Auto && (least != most || sets || blocks)
	why := ""
	if wanted && s.F.M.DF > 0 && !s.Flat {
		var f *mixedFit
		if f, why, err = fitMixed(q, s.F.Design, sets, blocks); err != nil {
			return nil, err
		}
		if f != nil && set.Model == setting.Auto && least == most && len(f.cov.Clusters) == 1 && f.has(StintPart) {
			f = nil // the same numbers as stint means
		}
		if f != nil {
			s.mixed, s.Model = f, setting.Mixed
		}
	}
	switch {
	case s.mixed == nil && why == atBoundary:
		s.Caveats.Add("stint_variance_zero", caveat.Place{}, "Stints scatter no more than their runs make them: the stint variance is estimated as zero, and stint means are judged by their own scatter, so that runs do not become the error.")
	case s.mixed == nil && why != "" && (set.Model == setting.Mixed || least != most):
		s.Caveats.Add("no_mixed_model", caveat.Place{}, "Stint means are compared instead of runs within stints: %s.", why)
	}
	if least != most {
		how := "their means are compared as if equally certain"
		if s.mixed != nil {
			how = "each stint weighs by what its runs make certain"
			if drift == setting.Bracket || set.Average == setting.Means {
				how = "each stint is as certain in the errors as its runs make it"
			}
		}
		s.Caveats.Add("unequal_runs", caveat.Place{}, "Stints have %d to %d runs; %s.", least, most, how)
	}
	if q.Number.Used && q.Number.Rule == setting.NumberLine && !set.Quick {
		if f := bends(q); f != nil && f.P < 0.05 {
			s.Caveats.Add("run_number_bends", caveat.Place{}, "What the run number does is no straight line (F %.2f on %d and %d degrees of freedom, %s), and stints have other runs than each other: let each run number have a level of its own.", f.F, f.Num, f.Den, unit.Probability(f.P))
		}
	}
	if blocks && (s.mixed == nil || !s.mixed.has(BlockPart)) && s.F.M.DF > 0 && !s.Flat {
		s.Caveats.Add("tyre_by_block_untold", caveat.Place{}, "Whether candidates stand otherwise to the control from block to block cannot be told apart from the scatter of stints, and is part of it.")
	}
	if s.mixed != nil {
		for _, c := range s.mixed.cov.Clusters {
			if c.Zero && c.Name != StintPart {
				s.Caveats.Add("variance_zero", caveat.Place{}, "The variance of %s is estimated as zero, which is no proof that it is none; the degrees of freedom count it.", c.Name)
			}
		}
	}
	return s, nil
}

// InError tells whether a part has a variance of its own in the error.
func (s *Scatter) InError(part string) bool { return s.mixed != nil && s.mixed.has(part) }

// SD gives the standard deviation of a stint mean on the analysis scale; false
// without degrees of freedom.
func (s *Scatter) SD() (float64, bool) {
	if s.borrowed != nil {
		return s.borrowed.sd, true
	}
	if s.Flat || s.F.M.DF == 0 {
		return 0, false
	}
	if s.mixed != nil {
		return math.Sqrt(s.mixed.stintVariance()), true
	}
	return s.F.M.Sigma()
}

// Own gives variance and degrees of freedom of the stint means about tyre and
// drift, whatever the model: what this programme adds to a record.
func (s *Scatter) Own() (variance, df float64) {
	if s.F.M.DF == 0 {
		return 0, 0
	}
	if s.Flat {
		return 0, float64(s.F.M.DF)
	}
	sd, _ := s.F.M.Sigma()
	return sd * sd, float64(s.F.M.DF)
}

// runScatter pools the scatter of runs about their stints, what the run number
// does taken out; nil where every stint has one run.
func runScatter(q *sequence.Sequence) *within {
	w := &within{}
	columns := q.Number.Columns(q)
	var coef []float64
	if q.Number.Used {
		coef = q.Number.Coefficients()
		w.df -= q.Number.Rank()
	}
	k := 0
	for i := range q.Stints {
		s := &q.Stints[i]
		r := make([]float64, s.N())
		mean := 0.0
		for j, v := range s.Values {
			if r[j] = v; q.Ratio {
				r[j] = math.Log(v)
			}
			for a, c := range coef {
				r[j] -= c * columns[a][k]
			}
			mean += r[j] / float64(s.N())
			k++
		}
		for _, v := range r {
			w.sd += (v - mean) * (v - mean)
		}
		w.df += s.N() - 1
	}
	if w.df <= 0 {
		return nil
	}
	w.sd = math.Sqrt(w.sd / float64(w.df))
	return w
}

// parts gives the standard deviations that the scatter is made of.
func (s *Scatter) parts() []Part {
	if s.mixed != nil {
		var out []Part
		for _, c := range s.mixed.cov.Clusters {
			out = append(out, Part{c.Name, math.Sqrt(c.Variance), c.Zero})
		}
		name := RunPart
		if !s.mixed.within {
			name = StintPart
		}
		return append(out, Part{Name: name, SD: math.Sqrt(s.mixed.cov.Residual)})
	}
	sd, ok := s.SD()
	if !ok || s.within == nil {
		return nil
	}
	stint := sd*sd - s.within.sd*s.within.sd/harmonic(s.q)
	return []Part{{StintPart, math.Sqrt(max(0, stint)), stint <= 0}, {Name: RunPart, SD: s.within.sd}}
}

// stintMeans fits tyre plus drift, at least a straight line, to the stint means.
func stintMeans(q *sequence.Sequence, drift setting.Drift, set setting.Settings) (*Scatter, error) {
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
	s := &Scatter{F: f, About: "tyre and straight line"}
	if drift == setting.Quadratic {
		s.About = "tyre and parabola"
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

// Report says where the scatter comes from.
func (s *Scatter) Report(set setting.Settings) ErrorModel {
	f := s.F
	e := ErrorModel{Model: s.Model, About: s.About, DF: float64(f.M.DF), DFMethod: ByStints, Rows: f.M.N, Rank: f.M.Rank, Perfect: s.Flat, Between: s.Between, ByBlock: s.ByBlock, Parts: s.parts(), NumberSaid: numberWords(s.q), Trend: trend(s.q)}
	if s.mixed != nil {
		e.Rows = s.mixed.cov.N
	}
	if n := &s.q.Number; n.Used {
		e.Number = &Number{Rule: n.Rule, Slope: n.Slope, Levels: n.Level, Runs: n.Numbers}
	}
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
		if sd, ok := f.M.Sigma(); ok && !s.Flat {
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

// number names a column that no face shows.
func number(j int) string { return strconv.Itoa(j) }
