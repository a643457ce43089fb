// Package compare puts each candidate tyre against the control tyre: it takes
// out the drift that the control shows, gives every candidate an index or a
// difference with an interval that holds for all candidates together, and says
// one of better, worse, the same within the margin, or not shown.
//
// It knows observations and nothing older. The unit of analysis is the stint:
// runs of one stint share its fitment and its moment and are never the error.
// The stint variance is that of stint means about tyre plus a straight line
// (the parabola where that is the correction), whichever correction gives the
// estimate. Every estimate is, to first order, a weighted sum of stint means;
// its standard error and its correlations with the other estimates are those of
// its weights: 1 + w1² + w2² for one stint between two controls. Intervals are
// Dunnett's, for those correlations.
//
// A ratio measure is compared on the log scale and has an index, control 100,
// higher better: 100 times candidate by control where higher is better, 100
// times control by candidate where lower is. The mean of ratios is not the
// ratio of means. With a bracket the control is interpolated between the
// arithmetic means of its stints, and the candidate's arithmetic mean is divided
// by it, as the regulations do; several stints of one candidate are averaged on
// the log scale. The models for a line or a parabola take logarithms of the runs
// and so compare geometric means; Settings.Average changes that. A difference
// measure is compared in its own unit, signed so that positive is better.
//
// Drift is never carried across a declared break or from one block (day,
// driver, session) to another: each has a level of its own, and blocks are
// joined through the tyres that recur in them.
//
// Sources: UN R117 (weights of the bracketing references), ASTM F1650 (when to
// correct and to what level), 49 CFR 575.104(f) (correction by difference),
// Dunnett (1955, 1964). Units: values in the measure's unit (SI), positions from
// 1, clocks in s, distances run in m. Limits: some hundred stints; scatter of
// stints alike for all tyres; one variance component. Unequal numbers of runs
// are compared as if equal, with a caveat.
package compare

import (
	"math"
	"slices"
	"strings"
	"sync"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/stat/manyone"
	"example.org/bookend/stat/tail"
)

// Input is what one measure is compared from.
type Input struct {
	Log      programme.Log
	Measure  programme.Measure
	Place    string // of a measure with places; empty: none
	Rater    string // one rater's observations; empty: the mean of all raters, each of whom must have rated every run
	Control  string // code of the control
	Settings Settings
}

// Result is what one measure shows. Values are in the measure's unit (SI)
// unless a field says otherwise; nothing in it is NaN or infinite.
type Result struct {
	Measure    programme.Measure
	Place      string
	Rater      string
	Control    string
	Settings   Settings  // completed
	Spelled    []Spelled // the same spelt out, with sources
	Corrected  bool      // drift was taken out
	Correction string    // how, in words: "bracket, by position"
	Scale      programme.Scale
	Rows       []Row   // one a candidate, in the order in which they were first driven
	Stints     []Stint // in the order of the sequence
	Error      ErrorModel
	Critical   float64 // two- or one-sided point of the interval, 0 where there is none
	Method     string  // how the point was computed
	Controls   ControlReport
	Brackets   []BracketReport
	Curve      []CurvePoint // what the control was worth along the sequence, with a 95 % band
	Level      float64      // reference level to which absolute values are corrected
	Block      *RegulationBlock
	Validity   []Finding
	Excluded   []programme.Exclusion // those that bear on this measure
	Runs       int                   // compared
	Caveats    caveat.List
}

// Row is one candidate against the control.
type Row struct {
	Code       string
	Verdict    Verdict
	Index      *float64 // ratio measures: control 100, higher better
	IndexLow   *float64
	IndexHigh  *float64
	Difference *float64 // difference measures: in the unit, positive better
	DiffLow    *float64
	DiffHigh   *float64
	SE         *float64 // on the analysis scale
	Variance   float64  // of the estimate in stint variances: 1 + w1² + w2² for one stint in a bracket
	T          *float64
	P          *float64 // adjusted for all comparisons
	RawP       *float64 // not adjusted
	Detectable *float64 // the least difference this programme could have shown: index points or the unit
	Mean       float64  // mean of the stint means as driven
	AtLevel    *float64 // the same corrected to the reference level
	Stints     int
	Runs       int
	Sets       []string
	Weights    []float64 // what each stint mean weighs in the estimate, in the order of Stints, positive better
	Caveats    caveat.List
}

// Stint is one stint as compared.
type Stint struct {
	ID         string
	Code       string
	Set        string
	Control    bool
	Block      string
	Segment    int // counted from 0: stretches between breaks and blocks
	Position   float64
	ClockS     *float64
	X          float64 // what drift runs along: position or clock
	Runs       []RunValue
	N          int
	Mean       float64  // arithmetic
	SD         *float64 // of its runs; nil with one run
	CV         *float64 // per cent of the mean
	MeanLow    *float64 // 95 % interval of the mean from the scatter of its own runs alone
	MeanHigh   *float64
	Local      *float64 // what the control was worth at its moment
	LocalLow   *float64 // 95 % band of that
	LocalHigh  *float64
	Index      *float64 // this stint against the local control; ratio measures
	Difference *float64 // this stint less the local control, in the unit as measured (not turned to positive better)
	AtLevel    *float64 // corrected to the reference level
	After      *float64 // weight of the later control in a bracket
}

// RunValue is one run of a stint.
type RunValue struct {
	Run        string
	Number     int
	Value      float64
	Excluded   bool // marked as left out, with its reason
	Reason     string
	Compared   bool // part of this comparison
	Covariates map[string]float64
	Line       int
}

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

// CurvePoint is what the control was worth at one place of the sequence.
type CurvePoint struct {
	Segment   int
	X         float64
	Value     float64
	Low, High *float64 // pointwise 95 % band; nil without degrees of freedom
}

// Compare compares one measure of a log, exclusions taken out.
func Compare(in Input) (*Result, error) { return compare(in, false) }

// Both is a comparison with the exclusions taken out and, where there are any
// for the measure, the same with every run in.
type Both struct {
	Result *Result
	All    *Result // nil where nothing is excluded
	AllErr string  // why there is no comparison with every run in; else empty
}

// CompareAll compares several measures, each with and without exclusions, in
// their order. A measure that cannot be compared has a nil
// entry and its error.
func CompareAll(list []Input) ([]*Both, []error) {
	out, errs := make([]*Both, len(list)), make([]error, len(list))
	for i, in := range list {
		out[i], errs[i] = CompareBoth(in)
	}
	return out, errs
}

// CompareBoth compares with and without the exclusions.
func CompareBoth(in Input) (*Both, error) {
	b := &Both{}
	r, err := compare(in, false)
	if err != nil {
		return nil, err
	}
	b.Result = r
	if len(r.Excluded) > 0 {
		all, err := compare(in, true)
		if err != nil {
			b.AllErr = err.Error()
		} else {
			b.All = all
		}
	}
	return b, nil
}

func compare(in Input, everything bool) (*Result, error) {
	set, spelled, err := in.Settings.complete(in.Measure)
	if err != nil {
		return nil, err
	}
	in.Settings = set
	seq, err := gather(in, everything)
	if err != nil {
		return nil, err
	}
	r := &Result{Measure: in.Measure, Place: in.Place, Rater: in.Rater, Control: in.Control, Settings: set, Spelled: spelled,
		Scale: set.Scale, Excluded: seq.excluded, Caveats: seq.caveats}
	if set.Profile != nil {
		r.Measure = set.Profile.compared(in.Measure)
	}
	drift := set.Drift
	r.Controls = seq.look(set, &r.Caveats)
	if set.When == IfShown {
		shown := r.Controls.Shown
		if !shown {
			drift = NoDrift
		}
		r.Caveats.Add("corrected_only_if_shown", caveat.Place{Measure: in.Measure.ID},
			"Drift is taken out only if the control shows it (here it is %s). Simulations of programmes decided so found 95 %% intervals to hold 90 to 94 %%.",
			map[bool]string{true: "shown", false: "not shown"}[shown])
	}
	r.Corrected = drift != NoDrift || set.DriftPerBlock != NoDrift
	if !r.Corrected && set.When == Always {
		r.Caveats.Add("not_corrected", caveat.Place{Measure: in.Measure.ID}, "Drift is not taken out: whatever the control lost or gained on the way is given to the candidates.")
	}
	r.Correction = correction(set, drift)
	if err := seq.admit(drift, set); err != nil {
		return nil, err
	}

	scatter, err := seq.scatter(drift, set)
	if err != nil {
		return nil, err
	}
	var est *estimates
	switch {
	case drift == Bracket:
		est, err = seq.bracket(set)
	case set.Scale == programme.Ratio && set.Average == Means:
		est, err = seq.curveOfControls(drift)
	default:
		est, err = seq.model(scatter, drift, set)
	}
	if err != nil {
		return nil, err
	}
	r.Error = scatter.report(set)
	r.Caveats = append(r.Caveats, scatter.caveats...)
	r.Caveats = append(r.Caveats, est.caveats...)
	if err := r.rows(seq, est, scatter); err != nil {
		return nil, err
	}
	r.stints(seq, est, scatter)
	if err := r.validity(seq, set); err != nil {
		return nil, err
	}
	r.Caveats = r.Caveats.Within(caveat.Place{Measure: in.Measure.ID}).Distinct()
	return r, nil
}

func correction(s Settings, drift Drift) string {
	var text string
	switch drift {
	case NoDrift:
		text = "none"
		if s.DriftPerBlock != NoDrift {
			text = "no common drift"
		}
	case Bracket:
		text = "bracket"
	case Linear:
		text = "straight line"
	case Quadratic:
		text = "parabola"
	}
	if drift != NoDrift || s.DriftPerBlock != NoDrift {
		switch s.DriftPerBlock {
		case Linear:
			text += ", a line of its own in each block"
		case Quadratic:
			text += ", a parabola of its own in each block"
		}
		text += ", by " + string(s.By)
	}
	return text
}

// estimate is one candidate against the control on the analysis scale,
// positive better.
type estimate struct {
	code    string
	ok      bool
	value   float64
	weights []float64 // over the stint means
	open    []anchor  // what rests on one control alone
	blind   bool      // outside the controls with nothing but extrapolation
	why     string    // not ok: why
}

// anchor is the part of an estimate that rests on one control stint, without
// one on the other side.
type anchor struct {
	control  int     // index of the stint
	distance float64 // in what drift runs along
	weight   float64
}

// local is what the control was worth at one stint.
type local struct {
	ok      bool
	value   float64   // in the measure's unit
	weights []float64 // over the stint means, on the analysis scale
	after   *float64
}

type estimates struct {
	list    []estimate
	local   []local // one a stint
	curve   []curvePoint
	caveats caveat.List
}

type curvePoint struct {
	segment  int
	x, value float64
	weights  []float64
}

// memory keeps critical points and p-values: they depend on the correlations,
// the degrees of freedom and the level alone, are the same bits however they are
// come by, and cost far more than all else. Measures of one programme share
// them, and so does the same programme compared again.
var memory = struct {
	sync.Mutex
	points map[string]point
	ps     map[string]float64
}{points: map[string]point{}, ps: map[string]float64{}}

// remembered bounds each map of memory; a full one is emptied.
const remembered = 4096

type point struct {
	value  float64
	method string
	bound  float64
}

func familyKey(f manyone.Family, level float64) string {
	var key strings.Builder
	key.WriteString(bits(level))
	key.WriteString(bits(f.DF))
	key.WriteByte(byte(f.Sided))
	for _, row := range f.Corr {
		for _, v := range row {
			key.WriteString(bits(v))
		}
	}
	return key.String()
}

func critical(f manyone.Family, alpha float64) (point, error) {
	key := familyKey(f, alpha)
	memory.Lock()
	p, ok := memory.points[key]
	memory.Unlock()
	if ok {
		return p, nil
	}
	k := len(f.Corr)
	if k > manyone.MaxComparisons {
		side := alpha / float64(k)
		if f.Sided == manyone.TwoSided {
			side /= 2
		}
		p = point{value: tail.TPoint(side, f.DF), method: "Bonferroni"}
	} else {
		var err error
		if p.value, p.bound, err = f.Critical(alpha); err != nil {
			return p, err
		}
		if p.method, err = f.Method(); err != nil {
			return p, err
		}
	}
	memory.Lock()
	defer memory.Unlock()
	if len(memory.points) >= remembered {
		clear(memory.points)
	}
	memory.points[key] = p
	return p, nil
}

// adjusted gives the p-value of t in its family, for all comparisons together.
func adjusted(f manyone.Family, t float64) (float64, error) {
	if k := len(f.Corr); k > manyone.MaxComparisons {
		return min(1, float64(k)*f.RawP(t)), nil
	}
	c := t
	if f.Sided == manyone.TwoSided {
		c = math.Abs(t)
	}
	key := familyKey(f, c)
	memory.Lock()
	p, ok := memory.ps[key]
	memory.Unlock()
	if ok {
		return p, nil
	}
	tailed, err := f.Tail(c)
	if err != nil {
		return 0, err
	}
	memory.Lock()
	defer memory.Unlock()
	if len(memory.ps) >= remembered {
		clear(memory.ps)
	}
	memory.ps[key] = tailed.P
	return tailed.P, nil
}

// rows gives every candidate its numbers and its verdict.
func (r *Result) rows(seq *sequence, est *estimates, sc *scatter) error {
	set := r.Settings
	type judged struct {
		row int
		v   float64
	}
	var in []judged
	sigma, hasError := sc.sd()
	walk := 0.0
	if set.DriftSD != nil && hasError {
		walk = *set.DriftSD * *set.DriftSD / (sigma * sigma)
	}
	for i := range est.list {
		e := &est.list[i]
		row := Row{Code: e.code, Weights: e.weights}
		for _, s := range seq.stints {
			if s.stint.Code != e.code {
				continue
			}
			row.Stints++
			row.Runs += s.n()
			row.Mean += s.mean
			if s.stint.Set != "" && !slices.Contains(row.Sets, s.stint.Set) {
				row.Sets = append(row.Sets, s.stint.Set)
			}
		}
		row.Mean /= float64(row.Stints)
		r.Runs += row.Runs
		if e.ok {
			row.Variance = dot(e.weights, e.weights) + walk*shared(e.open, e.open)
			if hasError && (len(e.open) == 0 || set.DriftSD != nil) {
				in = append(in, judged{i, row.Variance})
			}
			switch {
			case len(e.open) > 0 && set.DriftSD == nil:
				row.Caveats.Add("open_block", caveat.Place{Code: e.code}, "No control closes the block: the estimate rests on one control alone, and what drifted since has no known size.")
			case len(e.open) > 0:
				row.Caveats.Add("open_block", caveat.Place{Code: e.code}, "No control closes the block: the estimate rests on one control alone; the drift's variance is in the interval.")
			case e.blind:
				row.Caveats.Add("open_block", caveat.Place{Code: e.code}, "A stint stands outside the controls of its block: the drift is extrapolated to it.")
			}
		} else {
			row.Caveats.Add("not_computed", caveat.Place{Code: e.code}, "There is no estimate: %s.", e.why)
		}
		r.Rows = append(r.Rows, row)
	}
	for _, s := range seq.stints {
		if s.control {
			r.Runs += s.n()
		}
	}

	// The interval of all comparisons together.
	low, high := make([]*float64, len(r.Rows)), make([]*float64, len(r.Rows))
	if len(in) > 0 {
		f := manyone.Family{Corr: make([][]float64, len(in)), DF: float64(sc.df()), Sided: manyone.TwoSided}
		if set.Sided == OneSided {
			f.Sided = manyone.Upper
		}
		for a := range in {
			f.Corr[a] = make([]float64, len(in))
			ea := &est.list[in[a].row]
			for b := range a {
				eb := &est.list[in[b].row]
				c := (dot(ea.weights, eb.weights) + walk*shared(ea.open, eb.open)) / math.Sqrt(in[a].v*in[b].v)
				c = max(-1, min(1, c))
				f.Corr[a][b], f.Corr[b][a] = c, c
			}
			f.Corr[a][a] = 1
		}
		crit, err := critical(f, 1-set.Confidence)
		if err != nil {
			return fault.At(err, "comparing %d candidates", len(in))
		}
		r.Critical, r.Method = crit.value, crit.method
		if crit.method == "Bonferroni" {
			r.Caveats.Add("bonferroni", caveat.Place{}, "With %d comparisons the intervals use Bonferroni's bound, which is a little too wide.", len(in))
		}
		if crit.bound > 1e-4*crit.value {
			r.Caveats.Add("critical_value_error", caveat.Place{}, "The critical value %.4f is known to ±%.1g only.", crit.value, crit.bound)
		}
		nc, err := manyone.Noncentrality(crit.value, float64(sc.df()), set.Power, f.Sided)
		hasNC := err == nil && finite(nc)
		t := make([]float64, len(in))
		for a, j := range in {
			e, row := &est.list[j.row], &r.Rows[j.row]
			se := sigma * math.Sqrt(j.v)
			t[a] = e.value / se
			row.SE, row.T = some(se), some(t[a])
			row.RawP = some(f.RawP(t[a]))
			low[j.row] = some(e.value - crit.value*se)
			if set.Sided == TwoSided {
				high[j.row] = some(e.value + crit.value*se)
			}
			if hasNC {
				row.Detectable = r.points(nc * se)
			}
		}
		for a, j := range in {
			if set.Quick {
				break
			}
			p, err := adjusted(f, t[a])
			if err != nil {
				return fault.At(err, "adjusting the p-value of %s", r.Rows[j.row].Code)
			}
			r.Rows[j.row].P = some(p)
		}
	}

	margin, err := r.margin(seq)
	if err != nil {
		return err
	}
	controlSets := seq.setsOf(r.Control)
	for i := range r.Rows {
		e, row := &est.list[i], &r.Rows[i]
		g := Grounds{Low: low[i], High: high[i], Margin: margin, DF: sc.df(), Comparisons: len(in), Stints: row.Stints, Runs: row.Runs,
			About: TheseSets, Directed: seq.directed}
		if len(row.Sets) >= 2 && len(controlSets) >= 2 {
			g.About = ThisTyre
		}
		switch {
		case !e.ok:
			g.Withheld = e.why
		case sc.perfect():
			g.Withheld = "there is no scatter to judge by"
		case sc.df() == 0:
			g.Withheld = "there are no degrees of freedom to judge by"
		case len(e.open) > 0 && set.DriftSD == nil:
			g.Withheld = "no control closes the block, and the drift since has no known size"
		case (len(e.open) > 0 || e.blind) && set.Open == OpenNotShown:
			g.Withheld = "no control closes the block"
		}
		if e.ok {
			g.Estimate = some(e.value)
			r.present(row, e.value, low[i], high[i])
		}
		row.Verdict = Judge(g)
		if row.Stints == 1 {
			row.Caveats.Add("one_stint", caveat.Place{Code: row.Code}, "The candidate was fitted once: what its fitment did cannot be told from the tyre.")
		}
		row.Caveats = row.Caveats.Within(caveat.Place{Measure: r.Measure.ID})
	}
	return nil
}

// shared gives the random walk that two estimates share, in walk variances.
func shared(a, b []anchor) float64 {
	s := 0.0
	for _, p := range a {
		for _, q := range b {
			if p.control == q.control && p.distance*q.distance > 0 {
				s += p.weight * q.weight * min(math.Abs(p.distance), math.Abs(q.distance))
			}
		}
	}
	return s
}

// present turns estimate and interval into index or difference.
func (r *Result) present(row *Row, value float64, low, high *float64) {
	if r.Scale == programme.Ratio {
		row.Index, row.IndexLow, row.IndexHigh = index(&value), index(low), index(high)
		for _, end := range []struct{ from, to *float64 }{{low, row.IndexLow}, {high, row.IndexHigh}} {
			if end.from != nil && end.to == nil {
				row.Caveats.Add("interval_out_of_range", caveat.Place{Code: row.Code}, "An end of the interval lies beyond what an index can print; the scatter is too large to say anything.")
			}
		}
		return
	}
	row.Difference, row.DiffLow, row.DiffHigh = some(value), low, high
}

// index gives 100 exp(x), nil beyond what a float64 holds.
func index(x *float64) *float64 {
	if x == nil {
		return nil
	}
	v := 100 * math.Exp(*x)
	if !finite(v) {
		return nil
	}
	return &v
}

// points gives a length on the analysis scale as people read it: index points
// above 100, or the unit. Nil beyond what can be printed.
func (r *Result) points(x float64) *float64 {
	if r.Scale == programme.Ratio {
		x = 100 * math.Expm1(x)
	}
	if !finite(x) {
		return nil
	}
	return &x
}

// margin gives the margin on the analysis scale.
func (r *Result) margin(seq *sequence) (*float64, error) {
	m := r.Settings.Margin
	switch {
	case m == nil:
		return nil, nil
	case r.Scale == programme.Difference:
		return some(m.Value), nil
	case m.InUnit:
		level := math.Abs(seq.level(r.Settings))
		return some(math.Log1p(m.Value / level)), nil
	}
	return some(math.Log1p(m.Value / 100)), nil
}

func some(x float64) *float64 {
	if !finite(x) {
		return nil
	}
	return &x
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i := range a {
		s += a[i] * b[i]
	}
	return s
}

func bits(x float64) string {
	b := math.Float64bits(x)
	var out [8]byte
	for i := range out {
		out[i] = byte(b >> (8 * i))
	}
	return string(out[:])
}
