package scatter

import (
	"math"

	"example.org/bookend/compare/correct"
	"example.org/bookend/compare/scatter/gls"
	"example.org/bookend/compare/sequence"
	"example.org/bookend/compare/setting"
	"example.org/bookend/fault"
	"example.org/bookend/stat/linear"
	"example.org/bookend/stat/mixed"
	"example.org/bookend/stat/mixed/component"
	"example.org/bookend/stat/mixed/freedom"
)

// Names of the variances.
const (
	StintPart = "stint"         // fitment and moment; the set too, where stints are different sets
	RunPart   = "run"           // within a stint
	SetPart   = "set"           // between the sets of one code
	BlockPart = "tyre by block" // how candidates stand otherwise to the control from block to block
)

// mostRuns bounds a mixed model: the covariance of the runs is dense. Own
// choice; 600 runs take some tenths of a second.
const mostRuns = 600

// runs is the sequence run by run.
type runs struct {
	q     *sequence.Sequence
	stint []int // of each run
	y     []float64
	cov   []map[string]float64
}

func runsOf(q *sequence.Sequence) *runs {
	r := &runs{q: q}
	for i := range q.Stints {
		for _, v := range q.Stints[i].Runs {
			if !v.Compared {
				continue
			}
			y := v.Value
			if q.Ratio {
				y = math.Log(y)
			}
			r.stint, r.y, r.cov = append(r.stint, i), append(r.y, y), append(r.cov, v.Covariates)
		}
	}
	return r
}

// columns gives the design of the runs: that of the stints, with the runs' own
// covariates and what stands for their numbers.
func (r *runs) columns(d *correct.Design) [][]float64 {
	var out [][]float64
	for range d.Width {
		out = append(out, make([]float64, len(r.y)))
	}
	for k, i := range r.stint {
		s := &r.q.Stints[i]
		for j, v := range d.At(s.Segment, s.U, s.Code, r.cov[k]) {
			out[j][k] = v
		}
	}
	return append(out, r.q.Number.Columns(r.q)...)
}

func (r *runs) flat(byStint [][]float64) []float64 {
	var out []float64
	for _, a := range byStint {
		out = append(out, a...)
	}
	return out
}

// byStint gives the weights of stints, each the sum of its runs'.
func (r *runs) byStint(a []float64) []float64 {
	out := make([]float64, len(r.q.Stints))
	for k, i := range r.stint {
		out[i] += a[k]
	}
	return out
}

// mixedFit is a model of runs within stints.
type mixedFit struct {
	runs   *runs
	design *correct.Design
	m      *mixed.Model
	cov    *gls.Covariance
	g      *gls.Fitted
	w      [][]float64 // covariance of the estimated variances, by the expected information
	extra  int         // columns beside the design's
	within bool        // stints and runs are told apart; else the residual is the stint's
}

// fitMixed fits runs about tyre and drift with the stint random, and set and
// tyre by block where asked. A nil fit says why there is none.
func fitMixed(q *sequence.Sequence, d *correct.Design, sets, blocks bool) (f *mixedFit, why string, err error) {
	r := runsOf(q)
	n := len(r.y)
	if n > mostRuns {
		return nil, "there are too many runs for it", nil
	}
	f = &mixedFit{runs: r, design: d}
	columns := r.columns(d)
	f.extra = len(columns) - d.Width
	table := linear.NewDesign(n)
	for j, c := range columns {
		if err := table.AddColumn(number(j), c); err != nil {
			return nil, "", err
		}
	}
	stint, set, block := make([]string, n), make([]string, n), make([]string, n)
	for k, i := range r.stint {
		s := &q.Stints[i]
		f.within = f.within || s.N() > 1
		stint[k] = number(i)
		set[k] = s.Code + "\x00" + s.Set
		block[k] = s.Code + "\x00" + s.Block
	}
	var parts []component.Component
	var clusters []gls.Cluster
	add := func(name string, of []string) {
		parts = append(parts, component.Intercept(name, of))
		clusters = append(clusters, gls.NewCluster(name, of))
	}
	if f.within {
		add(StintPart, stint)
	}
	if sets {
		add(SetPart, set)
	}
	if blocks {
		add(BlockPart, block)
	}
	if len(parts) == 0 {
		return nil, "every stint has one run", nil
	}
	f.m, err = mixed.Fit(table, r.y, parts, mixed.Options{Aliased: linear.DropAliased, Inseparable: mixed.DropInseparable})
	if err != nil {
		return nil, "the likelihood has no maximum that can be told (" + err.Error() + ")", nil
	}
	if f.m.PerfectFit || !f.m.HasError {
		return nil, "there is no scatter left", nil
	}
	f.cov = &gls.Covariance{N: n}
	some := false // a random part is left beside the runs' own scatter
	for _, c := range clusters {
		v, _ := f.m.Variance(c.Name)
		if v.Dropped {
			if c.Name == StintPart {
				return nil, "stints and runs cannot be told apart", nil
			}
			continue
		}
		c.Variance, c.Zero = v.Value, v.Zero
		f.cov.Clusters = append(f.cov.Clusters, c)
		some = some || !v.Zero
	}
	if len(f.cov.Clusters) == 0 {
		return nil, "set and block cannot be told apart from the stint", nil
	}
	own, _ := f.m.Variance(component.ResidualName)
	f.cov.Residual = own.Value
	switch {
	case !(own.Value > 0):
		return nil, "nothing scatters within its groups", nil
	case f.within && f.zero(StintPart) && !f.has(SetPart) && !f.has(BlockPart):
		return nil, atBoundary, nil
	case !some && !f.within:
		// Set and block are estimated as nothing: they are kept among what was
		// estimated, so that the degrees of freedom do not grow by that.
	}
	if !f.cov.Factorise() {
		return nil, "the covariance cannot be inverted", nil
	}
	f.g = f.cov.Fit(columns)
	var ok bool
	if f.w, ok = gls.Inverse(f.g.Information()); !ok {
		return nil, "the variances cannot be told apart", nil
	}
	return f, "", nil
}

// atBoundary is why a mixed model falls back to stint means: its degrees of
// freedom must not become those of the runs.
const atBoundary = "the stint variance is estimated as zero"

func (f *mixedFit) find(name string) *gls.Cluster {
	for k := range f.cov.Clusters {
		if f.cov.Clusters[k].Name == name {
			return &f.cov.Clusters[k]
		}
	}
	return nil
}

func (f *mixedFit) has(name string) bool { return f.find(name) != nil }

func (f *mixedFit) zero(name string) bool {
	c := f.find(name)
	return c != nil && c.Zero
}

// freedom gives Satterthwaite's degrees of freedom of a weighted sum of runs,
// by the expected information: those that Kenward and Roger give a single
// contrast.
func (f *mixedFit) freedom(a []float64) float64 {
	v := f.cov.Quadratic(a)
	g := f.cov.Gradient(a)
	s := 0.0
	for j := range g {
		for k := range g {
			s += g[j] * f.w[j][k] * g[k]
		}
	}
	if !(s > 0) {
		return 0
	}
	return 2 * v * v / s
}

// stintVariance gives the variance of the mean of a stint with the mean number
// of runs (harmonic), set and block aside.
func (f *mixedFit) stintVariance() float64 {
	if !f.within {
		return f.cov.Residual
	}
	return f.find(StintPart).Variance + f.cov.Residual/harmonic(f.runs.q)
}

func harmonic(q *sequence.Sequence) float64 {
	s := 0.0
	for i := range q.Stints {
		s += 1 / float64(q.Stints[i].N())
	}
	return float64(len(q.Stints)) / s
}

// predictor is a generalised least-squares fit as correct wants it.
type predictor struct {
	f      *mixedFit
	design *correct.Design
	g      *gls.Fitted
}

// Layout gives the design.
func (p *predictor) Layout() *correct.Design { return p.design }

// Predict gives L beta and what each stint's runs weigh in it together.
func (p *predictor) Predict(l []float64) (value float64, weights []float64, ok bool) {
	a, ok := p.run(l)
	if !ok {
		return 0, nil, false
	}
	return gls.Dot(a, p.f.runs.y), p.f.runs.byStint(a), true
}

func (p *predictor) run(l []float64) ([]float64, bool) {
	return p.g.Weights(append(append([]float64(nil), l...), make([]float64, p.f.extra)...))
}

// Predictor gives the model that estimates are taken from under a drift: the
// scatter's own, or one without drift under the scatter's variances.
func (s *Scatter) Predictor(drift setting.Drift, set setting.Settings) (correct.Predictor, error) {
	q := s.q
	if drift != setting.NoDrift {
		if s.mixed == nil {
			return s.F, nil
		}
		return &predictor{s.mixed, s.mixed.design, s.mixed.g}, nil
	}
	if s.mixed == nil {
		return correct.LeastSquares(q, q.All(), q.Y(), 0, set.DriftPerBlock.Degree(), true, set.Covariates)
	}
	d, err := correct.NewDesign(q, q.All(), 0, set.DriftPerBlock.Degree(), true, set.Covariates)
	if err != nil {
		return nil, err
	}
	return &predictor{s.mixed, d, s.mixed.cov.Fit(s.mixed.runs.columns(d))}, nil
}

// leastDF is the least degrees of freedom that an interval is made from: own
// choice; on fewer it is more than forty thousand standard errors wide, which
// says nothing, and its point lies beyond what can be worked out.
const leastDF = 0.25

// Errors is what several estimates are judged by together.
type Errors struct {
	Cov           [][]float64 // of the estimates, on the analysis scale
	DF            float64     // of their common interval: the least of Own
	Own           []float64   // degrees of freedom of each
	Satterthwaite []float64   // beside them, from the curvature of the likelihood; nil where there are none
	Method        string      // how degrees of freedom are counted
}

// How degrees of freedom are counted.
const (
	ByStints        = "stints less terms"
	ByKenwardRoger  = "Kenward-Roger"
	BySatterthwaite = "Satterthwaite, expected information"
	ByRecord        = "record and programme" // of a borrowed variance
)

// Errors gives the covariance of estimates and their degrees of freedom. They
// are contrasts of the given predictor's model, or weighted sums of stint means
// where that is nil. False without degrees of freedom or scatter.
func (s *Scatter) Errors(list []*correct.Estimate, p correct.Predictor) (*Errors, bool, error) {
	sd, ok := s.SD()
	if !ok || len(list) == 0 {
		return nil, false, nil
	}
	if s.borrowed != nil && s.mixed != nil {
		return nil, false, fault.New(fault.Internal, "a borrowed variance in a mixed model")
	}
	e := &Errors{Cov: make([][]float64, len(list)), Own: make([]float64, len(list)), Method: ByStints}
	for i := range e.Cov {
		e.Cov[i] = make([]float64, len(list))
	}
	f := s.mixed
	own, _ := p.(*predictor)
	switch {
	case f == nil:
		for i, a := range list {
			e.Own[i] = s.VarDF(nil)
			for j, b := range list {
				e.Cov[i][j] = sd * sd * gls.Dot(a.Weights, b.Weights)
			}
		}
	case own != nil && own.g == f.g:
		e.Method = ByKenwardRoger
		var l [][]float64
		for _, a := range list {
			l = append(l, append(append([]float64(nil), a.Contrast...), make([]float64, f.extra)...))
		}
		// Variances estimated as zero stay among the estimated, so that the
		// degrees of freedom do not become those of the runs.
		c, err := f.m.Contrasts(l, freedom.KenwardRogerKept)
		if err != nil {
			return nil, false, err
		}
		beside, err := f.m.Contrasts(l, freedom.Satterthwaite)
		if err != nil {
			return nil, false, err
		}
		e.Cov, e.Own, e.Satterthwaite = c.Covariance, c.DF, beside.DF
	default:
		e.Method = BySatterthwaite
		a := make([][]float64, len(list))
		for i, est := range list {
			if own != nil {
				if a[i], ok = own.run(est.Contrast); !ok {
					return nil, false, nil
				}
			} else {
				a[i] = f.runs.flat(f.runs.q.RunWeights(est.Weights))
			}
		}
		for i := range a {
			e.Own[i] = f.freedom(a[i])
			for j := range a {
				e.Cov[i][j] = f.cov.Bilinear(a[i], a[j])
			}
		}
	}
	e.DF = math.Inf(1)
	for i, d := range e.Own {
		if !(e.Cov[i][i] > 0) || !(d >= leastDF) || math.IsInf(d, 1) {
			return nil, false, nil
		}
		e.DF = min(e.DF, d)
	}
	return e, true, nil
}

// Var gives the variance of a weighted sum of stint means, on the analysis
// scale.
func (s *Scatter) Var(w []float64) float64 {
	if s.mixed != nil {
		return s.mixed.cov.Quadratic(s.mixed.runs.flat(s.q.RunWeights(w)))
	}
	sd, _ := s.SD()
	return sd * sd * gls.Dot(w, w)
}

// VarDF gives the degrees of freedom of Var; without a mixed model the weights
// do not matter.
func (s *Scatter) VarDF(w []float64) float64 {
	if s.mixed != nil {
		return s.mixed.freedom(s.mixed.runs.flat(s.q.RunWeights(w)))
	}
	if s.borrowed != nil {
		return s.borrowed.df
	}
	return float64(s.F.M.DF)
}
