package compare

import (
	"slices"

	"example.org/bookend/caveat"
	"example.org/bookend/compare/correct"
	"example.org/bookend/compare/fitment"
	"example.org/bookend/compare/record"
	"example.org/bookend/compare/scatter"
	"example.org/bookend/compare/sequence"
)

// borrow measures the estimates by the record, where its rules let it; else the
// yardstick of this programme stays.
func (r *Result) borrow(rec *record.Record, seq *sequence.Sequence, est *correct.Estimates, sc *scatter.Scatter, drift Drift, own yardstick) (yardstick, error) {
	a := record.Asked{Ratio: seq.Ratio, Degree: max(1, drift.Degree()), Modelled: drift == Linear || drift == Quadratic, Controls: seq.FewestControls(), OwnWalk: sc.WalkShare()}
	a.Own.Label = "this programme"
	a.Own.Variance, a.Own.DF = sc.Own()
	if p := r.Settings.Profile; p != nil {
		a.Transform = func(v float64) *float64 {
			if t, err := p.Transform(v); err == nil {
				return &t
			}
			return nil
		}
	}
	b, err := rec.Borrow(a)
	if err != nil {
		return own, err
	}
	r.Record = b
	if sc.IsMixed() && b.Used {
		b.Decline("sets or blocks are terms of their own in the error, and the record knows stints alone")
		b.Caveats.Add("record_not_with_terms", caveat.Place{}, "The record is not used: %s.", b.Why)
	}
	r.Caveats = append(r.Caveats, b.Caveats...)
	if !b.Used {
		return own, nil
	}
	r.Caveats = slices.DeleteFunc(r.Caveats, func(c caveat.Caveat) bool {
		// True of the programme alone, which stands beside.
		return c.Code == "no_degrees_of_freedom" || c.Code == "few_degrees_of_freedom"
	})
	y := yardstick{df: b.DF, method: scatter.ByRecord, walk: r.Settings.DriftSD != nil || b.Walk != nil,
		sets: fitment.Where(seq, r.Settings, false, true)}
	rows, list := r.judged(est, y.walk)
	if len(rows) == 0 || !(b.SD > 0) {
		return own, nil
	}
	weights, steps := products(seq, list)
	for range list {
		y.own = append(y.own, b.DF)
	}
	y.in, y.cov = rows, b.Covariance(weights, steps)
	stated := r.Settings.DriftSD
	if b.Walk != nil {
		stated = nil // the walk is in already
	}
	r.known(seq, list, &y, stated)
	sc.Borrow(b.SD, b.DF)
	return y, nil
}

// Record is the control stints of earlier programmes.
type Record = record.Record

// RecordRow is one control stint of an earlier programme.
type RecordRow = record.Row
