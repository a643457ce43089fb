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
// Where stints have unequal numbers of runs, where sets recur, or where there
// are several blocks, the error is that of a mixed model of the runs with the
// stint random (room scatter); what the run number within the stint does is
// taken out before stints are compared. The common interval goes by the least
// degrees of freedom of any candidate's.
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
// The work is done in the rooms below, and their words are this one's: setting
// (what is asked), sequence (what was driven), threshold (entry speeds from
// attempts), control (what the control alone shows), correct (drift taken out),
// scatter and record (what an estimate is judged by), fitment (set or tyre), wear
// (what use is worth), joint (judged together, and candidates among each other),
// verdict, budget (where the doubt comes from), edition (regulations and limits).
// Beside them link puts tyres of two programmes against each other, and whole
// holds the verdicts of all tests together.
//
// Sources: UN R117 (weights of the bracketing references), ASTM F1650 (when to
// correct and to what level), 49 CFR 575.104(f) (correction by difference),
// Dunnett (1955, 1964). Units: values in the measure's unit (SI), positions from
// 1, clocks in s, distances run in m. Limits: some hundred stints; scatter of
// stints alike for all tyres.
package compare

import (
	"slices"

	"example.org/bookend/caveat"
	"example.org/bookend/compare/budget"
	"example.org/bookend/compare/control"
	"example.org/bookend/compare/correct"
	"example.org/bookend/compare/edition"
	"example.org/bookend/compare/fitment"
	"example.org/bookend/compare/joint"
	"example.org/bookend/compare/odd"
	"example.org/bookend/compare/reached"
	"example.org/bookend/compare/record"
	"example.org/bookend/compare/scatter"
	"example.org/bookend/compare/sequence"
	"example.org/bookend/compare/threshold"
	"example.org/bookend/compare/wear"
	"example.org/bookend/programme"
)

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
	Sets       fitment.Carried // where the difference between the sets of one code is
	Joint      *Joint          // the estimates judged together; nil where there is no interval
	Group      *joint.Group    // candidates among each other; nil where nobody asked, with fewer than two, or too many
	Budget     []budget.Row    // where the doubt comes from, candidate by candidate; nil where nobody asked
	Critical   float64         // two- or one-sided point of the interval, 0 where there is none
	Method     string          // how the point was computed
	Controls   ControlReport
	Brackets   []BracketReport
	Curve      []CurvePoint // what the control was worth along the sequence, with a 95 % band
	Level      float64      // reference level to which absolute values are corrected
	Block      *edition.Block
	Record     *record.Borrowed // what the ground's record gave; nil where none was at hand
	PerBlock   []BlockResult    // block by block, where that was asked for
	Wear       wear.Report      // what the sets had been used, and what that is worth
	Validity   []Finding
	Excluded   []programme.Exclusion // those that bear on this measure
	Runs       int                   // compared
	Alike      *float64              // the value that every compared run has (SI): there is nothing to compare; nil where they differ
	Caveats    caveat.List
}

// Row is one candidate against the control.
type Row struct {
	Code          string
	Verdict       Verdict
	Index         *float64 // ratio measures: control 100, higher better
	IndexLow      *float64
	IndexHigh     *float64
	Difference    *float64 // difference measures: in the unit, positive better
	DiffLow       *float64
	DiffHigh      *float64
	SE            *float64 // on the analysis scale
	DF            *float64 // of this estimate alone; its interval goes by the verdict's
	Satterthwaite *float64 // the same counted so, beside Kenward and Roger's
	Variance      float64  // of the estimate in stint variances: 1 + w1² + w2² for one stint in a bracket
	T             *float64
	P             *float64 // adjusted for all comparisons
	RawP          *float64 // not adjusted
	StepP         *float64 // adjusted step by step: for decisions alone, no interval belongs to it
	Detectable    *float64 // the least difference this programme could have shown: index points or the unit
	Mean          float64  // mean of the stint means as driven
	AtLevel       *float64 // the same corrected to the reference level
	Stints        int
	Runs          int
	Sets          []string
	Alone         *Alone    // by this programme\'s own scatter, where a record was at hand
	Weights       []float64 // what each stint mean weighs in the estimate, in the order of Stints, positive better
	Caveats       caveat.List
}

// Alone is what is said of a candidate without the record.
type Alone struct {
	Verdict             Verdict
	IndexLow, IndexHigh *float64 // ratio measures
	DiffLow, DiffHigh   *float64 // difference measures
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
	Threshold  *threshold.Level // of a measure that is a threshold: what its attempts say; Mean is then its speed
	Mean       float64          // arithmetic
	Equal      float64          // the same on equal run numbers, which is what is compared
	SD         *float64         // of its runs; nil with one run
	CV         *float64         // per cent of the mean
	MeanLow    *float64         // 95 % interval of the mean from the scatter of its own runs alone
	MeanHigh   *float64
	Local      *float64 // what the control was worth at its moment
	LocalLow   *float64 // 95 % band of that
	LocalHigh  *float64
	Index      *float64 // this stint against the local control; ratio measures
	Difference *float64 // this stint less the local control, in the unit as measured (not turned to positive better)
	AtLevel    *float64 // corrected to the reference level
	After      *float64 // weight of the later control in a bracket
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
func CompareBoth(in Input) (*Both, error) { return CompareBothKnowing(in, nil) }

// CompareBothKnowing is CompareBoth for who knows already what the same input shows
// with every run in, whatever was left out then: All of another comparison, or Result
// of one without exclusions. Nil: it is not known.
func CompareBothKnowing(in Input, all *Result) (*Both, error) {
	b := &Both{}
	r, err := compare(in, false)
	if err != nil {
		return nil, err
	}
	b.Result = r
	if len(r.Excluded) > 0 && all != nil {
		b.All = all.marked(r.Excluded)
	} else if len(r.Excluded) > 0 {
		all, err := compare(in, true)
		if err != nil {
			b.AllErr = err.Error()
		} else {
			b.All = all
		}
	}
	return b, nil
}

// marked gives a comparison with every run in, with other runs marked as left out:
// nothing else of it hangs on which those are.
func (r *Result) marked(out []programme.Exclusion) *Result {
	why := map[string]string{}
	for _, x := range out {
		why[x.Run] = x.Reason
	}
	return r.markedBy(why)
}

func (r *Result) markedBy(why map[string]string) *Result {
	copied := *r
	copied.Stints = slices.Clone(r.Stints)
	for i := range copied.Stints {
		s := &copied.Stints[i]
		s.Runs = slices.Clone(s.Runs)
		for k := range s.Runs {
			s.Runs[k].Reason, s.Runs[k].Excluded = "", false
			if reason, ok := why[s.Runs[k].Run]; ok {
				s.Runs[k].Reason, s.Runs[k].Excluded = reason, true
			}
		}
	}
	copied.PerBlock = slices.Clone(r.PerBlock)
	for i := range copied.PerBlock {
		if b := &copied.PerBlock[i]; b.Result != nil {
			b.Result = b.Result.markedBy(why)
		}
	}
	return &copied
}

func compare(in Input, everything bool) (*Result, error) {
	set, spelled, err := in.Settings.Complete(in.Measure)
	if err != nil {
		return nil, err
	}
	in.Settings = set
	seq, err := sequence.Gather(in, everything)
	if err != nil {
		return nil, err
	}
	r := &Result{Measure: in.Measure, Place: in.Place, Rater: in.Rater, Control: in.Control, Settings: set, Spelled: spelled,
		Scale: set.Scale, Excluded: seq.Excluded, Caveats: seq.Caveats}
	if set.Profile != nil {
		r.Measure = set.Profile.Compared(in.Measure)
	}
	if set.Thresholds && r.Measure.Unit != "m/s" {
		r.Measure.Unit, r.Measure.Shown, r.Measure.Digits = "m/s", "km/h", 1
	}
	drift := set.Drift
	if set.Counts {
		r.Caveats.Add("counts_as_differences", caveat.Place{}, "Counts are compared by their means, as differences: with small counts the interval is rough.")
	}
	r.Controls = control.Look(seq, set, &r.Caveats)
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
	r.Correction = set.Correction(drift)
	if err := seq.Admit(drift, set); err != nil {
		return nil, err
	}

	ask, record := set, in.Record
	if set.Record == RecordNone {
		record = nil
	}
	if record != nil && set.Model == Auto && !(len(seq.Blocks) > 1 && set.TyreByBlock == InError) {
		ask.Model = StintMeans // as the record's own
	}
	fit := seq.Apart()
	sc, err := scatter.New(fit, drift, ask)
	if err != nil {
		return nil, err
	}
	est, p, err := estimate(fit, sc, drift, set)
	if err != nil {
		return nil, err
	}
	est = est.Join(seq)
	r.spell("model", string(sc.Model))
	r.Caveats = append(r.Caveats, sc.Caveats...)
	r.Caveats = append(r.Caveats, est.Caveats...)
	y, err := r.yard(seq, est, sc, p)
	if err != nil {
		return nil, err
	}
	var alone *yardstick
	if record != nil {
		own := y
		alone = &own
		if y, err = r.borrow(record, seq, est, sc, drift, y); err != nil {
			return nil, err
		}
	}
	if v, ok := seq.Alike(); ok {
		r.Alike = &v
		r.Caveats = slices.DeleteFunc(r.Caveats, func(c caveat.Caveat) bool { // the same said of the fit
			return c.Code == "no_scatter" || c.Code == "perfect_fit" || c.Code == "no_scatter_within"
		})
	}
	r.Error, r.Sets = sc.Report(set), y.sets
	r.begin(seq, est, y.walk)
	if err := r.rows(seq, est, sc, y, alone); err != nil {
		return nil, err
	}
	if !set.Thresholds {
		if err := odd.Look(seq, set.Scale == programme.Ratio, &r.Caveats); err != nil {
			return nil, err
		}
	}
	r.Wear = wear.Look(seq, set, est, y.sets == fitment.InSets, &r.Caveats)
	r.stints(seq, est, sc)
	if err := r.budget(seq, fit, est, sc, p, drift, y); err != nil {
		return nil, err
	}
	if err := r.validity(seq, set); err != nil {
		return nil, err
	}
	r.eachBlock(in, seq.Blocks, everything)
	r.Caveats = reached.Note(r.Caveats.Within(caveat.Place{Measure: in.Measure.ID}).Distinct())
	return r, nil
}

// estimate takes the drift out; the predictor is nil where no model gives the
// estimates.
func estimate(seq *sequence.Sequence, sc *scatter.Scatter, drift Drift, set Settings) (*correct.Estimates, correct.Predictor, error) {
	switch {
	case drift == Bracket:
		est, err := correct.Bracket(seq)
		return est, nil, err
	case set.Scale == programme.Ratio && set.Average == Means:
		est, err := correct.CurveOfControls(seq, drift)
		return est, nil, err
	}
	p, err := sc.Predictor(drift, set)
	if err != nil {
		return nil, nil, err
	}
	est, err := correct.FromModel(seq, p, drift, set)
	return est, p, err
}

// spell puts what a default came to in the place of its word.
func (r *Result) spell(key, value string) {
	for i := range r.Spelled {
		if r.Spelled[i].Key == key {
			r.Spelled[i].Value = value
		}
	}
}
