package compare

import (
	"math"
	"slices"

	"example.org/bookend/caveat"
	"example.org/bookend/compare/correct"
	"example.org/bookend/compare/fitment"
	"example.org/bookend/compare/joint"
	"example.org/bookend/compare/scatter"
	"example.org/bookend/compare/sequence"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/stat/manyone"
)

// yardstick is what the estimates are judged by together.
type yardstick struct {
	in     []int       // rows judged
	cov    [][]float64 // of their estimates, on the analysis scale
	df     float64     // of the common interval; 0: there is none
	own    []float64   // degrees of freedom of each
	beside []float64   // Satterthwaite's, where Kenward and Roger's are the ones used
	method string
	sets   fitment.Carried // where the difference between sets is
	wander []float64       // of that, the drift's variance since the control that an open block rests on
	walk   bool            // how the control walks is in it, so that open blocks can be judged
}

// judged gives the estimates that an interval can be given for: those of open
// blocks only if it is known how the control walks.
func (r *Result) judged(est *correct.Estimates, walk bool) (rows []int, list []*correct.Estimate) {
	for i := range est.List {
		if e := &est.List[i]; e.OK && (len(e.Open) == 0 || walk) {
			rows, list = append(rows, i), append(list, e)
		}
	}
	return rows, list
}

// yard measures the estimates by the scatter of this programme alone.
func (r *Result) yard(seq *sequence.Sequence, est *correct.Estimates, sc *scatter.Scatter, p correct.Predictor) (yardstick, error) {
	walk := r.Settings.DriftSD != nil
	rows, list := r.judged(est, walk)
	errs, ok, err := sc.Errors(list, p)
	if err != nil || !ok {
		return yardstick{}, err
	}
	y := yardstick{in: rows, cov: errs.Cov, df: errs.DF, own: errs.Own, beside: errs.Satterthwaite, method: errs.Method, walk: walk,
		sets: fitment.Where(seq, r.Settings, sc.InError(scatter.SetPart), false)}
	r.known(seq, list, &y, r.Settings.DriftSD)
	return y, nil
}

// known adds what is known from elsewhere: the drift's random walk since the
// control that an open block rests on, and the scatter of sets where nothing in
// the error carries it. Degrees of freedom are left as they are, which is on the
// safe side.
func (r *Result) known(seq *sequence.Sequence, list []*correct.Estimate, y *yardstick, walk *float64) {
	for a, ea := range list {
		own, control := fitment.Added(seq, r.Settings, y.sets, ea.Code)
		y.cov[a][a] += own
		y.wander = append(y.wander, 0)
		for b, eb := range list {
			if walk != nil {
				w := *walk * *walk * shared(ea.Open, eb.Open)
				y.cov[a][b] += w
				if a == b {
					y.wander[a] = w
				}
			}
			y.cov[a][b] += control
		}
	}
}

// family is the comparisons of a yardstick.
func (y *yardstick) family(sided Sides) manyone.Family { return joint.Family(y.cov, y.df, sided) }

// begin gives every candidate its row, without what it is judged by.
func (r *Result) begin(seq *sequence.Sequence, est *correct.Estimates, walk bool) {
	for i := range est.List {
		e := &est.List[i]
		row := Row{Code: e.Code, Weights: e.Weights}
		for _, s := range seq.Stints {
			if s.Code != e.Code {
				continue
			}
			row.Stints++
			row.Runs += s.Count()
			row.Mean += s.Mean
			if s.Set != "" && !slices.Contains(row.Sets, s.Set) {
				row.Sets = append(row.Sets, s.Set)
			}
		}
		row.Mean /= float64(row.Stints)
		r.Runs += row.Runs
		switch {
		case !e.OK:
			row.Caveats.Add("not_computed", caveat.Place{Code: e.Code}, "There is no estimate: %s.", e.Why)
		case len(e.Open) > 0 && !walk:
			row.Caveats.Add("open_block", caveat.Place{Code: e.Code}, "No control closes the block: the estimate rests on one control alone, and what drifted since has no known size.")
		case len(e.Open) > 0:
			row.Caveats.Add("open_block", caveat.Place{Code: e.Code}, "No control closes the block: the estimate rests on one control alone; the drift's variance is in the interval.")
		case e.NotAbove && e.NotBelow:
			row.Caveats.Add("threshold_not_reached", caveat.Place{Code: e.Code}, "Thresholds of the candidate or of the control were not reached, on both sides: nothing is known of their difference.")
		case e.NotBelow:
			row.Caveats.Add("threshold_not_reached", caveat.Place{Code: e.Code}, "A threshold was not reached: the difference is at least what is stated, and its interval has no upper end.")
		case e.NotAbove:
			row.Caveats.Add("threshold_not_reached", caveat.Place{Code: e.Code}, "A threshold was not reached: the difference is at most what is stated, and its interval has no lower end.")
		case e.Blind:
			row.Caveats.Add("open_block", caveat.Place{Code: e.Code}, "A stint stands outside the controls of its block: the drift is extrapolated to it.")
		}
		r.Rows = append(r.Rows, row)
	}
	for _, s := range seq.Stints {
		if s.Control {
			r.Runs += s.Count()
		}
	}
}

// rows gives every candidate its numbers and its verdict by a yardstick; beside
// it the verdict by this programme alone, where a record was at hand.
func (r *Result) rows(seq *sequence.Sequence, est *correct.Estimates, sc *scatter.Scatter, y yardstick, alone *yardstick) error {
	set := r.Settings
	sd, hasSD := sc.SD()
	r.Error.DF, r.Error.DFMethod = 0, ""
	for i := range r.Rows {
		if e := &est.List[i]; e.OK {
			r.Rows[i].Variance = dot(e.Weights, e.Weights)
		}
	}
	if y.df > 0 {
		r.Error.DF, r.Error.DFMethod = y.df, y.method
	}
	ends, crit, err := r.intervals(est, y)
	if err != nil {
		return err
	}
	if len(y.in) > 0 {
		f := y.family(set.Sided)
		r.Critical, r.Method = crit.Value, crit.Method
		if crit.Method == "Bonferroni" {
			r.Caveats.Add("bonferroni", caveat.Place{}, "With %d comparisons the intervals use Bonferroni's bound, which is a little too wide.", len(y.in))
		}
		if crit.Bound > 1e-4*crit.Value {
			r.Caveats.Add("critical_value_error", caveat.Place{}, "The critical value %.4f is known to ±%.1g only.", crit.Value, crit.Bound)
		}
		nc, err := manyone.Noncentrality(crit.Value, y.df, set.Power, f.Sided)
		hasNC := err == nil && finite(nc)
		for a, i := range y.in {
			row, se := &r.Rows[i], math.Sqrt(y.cov[a][a])
			t := est.List[i].Value / se
			if hasSD {
				row.Variance = y.cov[a][a] / (sd * sd)
			}
			row.SE, row.T, row.RawP = some(se), some(t), some(f.RawP(t))
			row.DF = some(y.own[a])
			if y.beside != nil {
				row.Satterthwaite = some(y.beside[a])
			}
			if hasNC {
				row.Detectable = r.points(nc * se)
			}
			if set.Quick {
				continue
			}
			p, err := joint.Adjusted(f, t)
			if err != nil {
				return fault.At(err, "adjusting the p-value of %s", row.Code)
			}
			row.P = some(p)
		}
	}
	margin, err := r.margin(seq)
	if err != nil {
		return err
	}
	var apart []span
	if alone != nil {
		if apart, _, err = r.intervals(est, *alone); err != nil {
			return err
		}
	}
	for i := range r.Rows {
		e, row := &est.List[i], &r.Rows[i]
		row.Verdict = r.verdict(seq, e, sc, y, ends[i], margin, row)
		if e.OK {
			r.present(row, e.Value, ends[i])
		}
		if alone != nil {
			a := &Alone{Verdict: r.verdict(seq, e, sc, *alone, apart[i], margin, row)}
			if r.Scale == programme.Ratio {
				a.IndexLow, a.IndexHigh = index(apart[i].low), index(apart[i].high)
			} else {
				a.DiffLow, a.DiffHigh = apart[i].low, apart[i].high
			}
			row.Alone = a
		}
		if row.Stints == 1 {
			row.Caveats.Add("one_stint", caveat.Place{Code: row.Code}, "The candidate was fitted once: what its fitment did cannot be told from the tyre.")
		}
		row.Caveats = row.Caveats.Within(caveat.Place{Measure: r.Measure.ID})
	}
	return nil
}

// span is an interval on the analysis scale; an end that is nil is open, and
// both are where there is none.
type span struct{ low, high *float64 }

// intervals gives the simultaneous interval of every row.
func (r *Result) intervals(est *correct.Estimates, y yardstick) ([]span, joint.Point, error) {
	out := make([]span, len(est.List))
	if len(y.in) == 0 {
		return out, joint.Point{}, nil
	}
	crit, err := joint.Critical(y.family(r.Settings.Sided), 1-r.Settings.Confidence)
	if err != nil {
		return nil, joint.Point{}, fault.At(err, "comparing %d candidates", len(y.in))
	}
	for a, i := range y.in {
		half := crit.Value * math.Sqrt(y.cov[a][a])
		if e := &est.List[i]; !e.NotAbove {
			out[i].low = some(e.Value - half)
		}
		if e := &est.List[i]; r.Settings.Sided == TwoSided && !e.NotBelow {
			out[i].high = some(e.Value + half)
		}
	}
	return out, crit, nil
}

// verdict says what is said of a candidate by an interval.
func (r *Result) verdict(seq *sequence.Sequence, e *correct.Estimate, sc *scatter.Scatter, y yardstick, ends span, margin *float64, row *Row) Verdict {
	set := r.Settings
	g := Grounds{Low: ends.low, High: ends.high, Margin: margin, DF: y.df, Comparisons: len(y.in), Stints: row.Stints, Runs: row.Runs, Directed: seq.Directed}
	g.About, g.AboutWhy = fitment.About(seq, set, y.sets, row.Code)
	switch {
	case !e.OK:
		g.Withheld = e.Why
	case r.Alike != nil:
		g.Withheld = "every run has the same value: there is nothing to compare"
	case sc.Flat && len(y.in) == 0:
		g.Withheld = "there is no scatter to judge by"
	case y.df == 0 && (len(e.Open) == 0 || y.walk):
		g.Withheld = "there are no degrees of freedom to judge by"
	case len(e.Open) > 0 && !y.walk:
		g.Withheld = "no control closes the block, and the drift since has no known size"
	case e.NotAbove && e.NotBelow:
		g.Withheld = "the thresholds were not reached"
	case (len(e.Open) > 0 || e.Blind) && set.Open == OpenNotShown:
		g.Withheld = "no control closes the block"
	case set.TyreByBlock == EachBlock && len(seq.Blocks) > 1:
		g.Withheld = "the blocks are judged one by one"
	}
	if e.OK {
		g.Estimate = some(e.Value)
	}
	return Judge(g)
}

// shared gives the random walk that two estimates share, in walk variances.
func shared(a, b []correct.Anchor) float64 {
	s := 0.0
	for _, p := range a {
		for _, q := range b {
			if p.Control == q.Control && p.Distance*q.Distance > 0 {
				s += p.Weight * q.Weight * min(math.Abs(p.Distance), math.Abs(q.Distance))
			}
		}
	}
	return s
}

// present turns estimate and interval into index or difference.
func (r *Result) present(row *Row, value float64, ends span) {
	low, high := ends.low, ends.high
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
func (r *Result) margin(seq *sequence.Sequence) (*float64, error) {
	m := r.Settings.Margin
	switch {
	case m == nil:
		return nil, nil
	case r.Scale == programme.Difference:
		return some(m.Value), nil
	case m.InUnit:
		level := math.Abs(seq.Level(r.Settings))
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

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

func is(x float64) *float64 { return &x }
