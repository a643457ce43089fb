// Package wear says how far control and candidates differ in what their sets had
// been used, what that is worth in each verdict, and whether a worn control set
// was replaced as it should be.
//
// In the trade the control is fitted again and again and wears, and what it loses
// looks like drift: it is given to the candidates. The weights that every stint
// mean has in an estimate say by how much: an estimate leans by the weighted sum
// of the stints' use, and so does its bias for every unit of wear. A fresh control
// set beside a used one measures what a unit of use is worth; without that it
// cannot be told from drift.
//
// Use is what the table records: the distance that a set had run (use_km), the
// stints that it had done (set_stints; else those of the table are counted where
// sets are named), and the tread left (tread_mm).
//
// Source: own rules; that the control must not wear so far that it differs when it
// is repeated, and that several alike sets are rotated, is common practice. Units: m for distance and tread. Limits: wear is taken as alike
// per unit of use for all tyres; that of candidates alone is not measured.
package wear

import (
	"fmt"
	"math"

	"example.org/bookend/caveat"
	"example.org/bookend/compare/correct"
	"example.org/bookend/compare/scatter"
	"example.org/bookend/compare/sequence"
	"example.org/bookend/compare/setting"
	"example.org/bookend/stat/linear"
)

// Kind is what use is counted in.
type Kind string

// Kinds of use.
const (
	Distance Kind = "distance" // that the set had run when fitted, m
	Stints   Kind = "stints"   // that it had done
	Tread    Kind = "tread"    // depth left, m: less with use
)

// Columns of runs that record use.
const (
	StintsColumn = "set_stints"
	TreadColumn  = "tread_m"
)

// Report is what is known of use.
type Report struct {
	Uses     []Use
	Replaced []Replaced
}

// Use is one kind of use, known of every stint.
type Use struct {
	Kind    Kind
	Limit   *float64  // how far an estimate may lean; nil: not judged
	Stints  []float64 // of each stint, in the order of the sequence: m, or stints
	Counted bool      // from the table itself, not recorded
	Leans   []Lean    // candidate by candidate
	// Measured is what a unit of use does to the control, on the analysis scale as
	// measured, beside a straight drift; nil where that cannot be told.
	Measured *scatter.Term
	Why      string // not measured: why
}

// Lean is how far control and candidate differ in use, weighed as the estimate
// weighs their stints.
type Lean struct {
	Code    string
	Use     float64  // of the candidate's sets
	Less    float64  // how much less than the control's; negative: more
	Over    bool     // beyond the limit
	Bias    *float64 // of the estimate by that, on the analysis scale, positive better, where use was measured
	BiasSE  *float64
	PerUnit float64 // what the estimate changes by, if a unit of use makes a tyre worse by one unit of the analysis scale
}

// Replaced is a control set that gave way to another one for good.
type Replaced struct {
	Old, New    string // sets
	Before      string // last stint of the old one
	After       string // first of the new one
	Overlapping bool   // both were driven side by side: there is something to join them by
}

// Look says what is known of use; estimates are those that Result prints, in
// their order.
func Look(q *sequence.Sequence, set setting.Settings, est *correct.Estimates, inError bool, caveats *caveat.List) Report {
	var r Report
	for _, kind := range []Kind{Distance, Stints, Tread} {
		u, ok := use(q, set, kind)
		if !ok {
			continue
		}
		for i := range est.List {
			e := &est.List[i]
			if !e.OK {
				continue
			}
			l := Lean{Code: e.Code}
			sum, own, weight := 0.0, 0.0, 0.0
			for k, w := range e.Weights {
				x := w * u.Stints[k] * q.Sign // towards the candidate
				sum += x
				if q.Stints[k].Code == e.Code {
					own, weight = own+x, weight+w*q.Sign
				}
			}
			if weight != 0 {
				l.Use = own / weight
			}
			if kind != Tread {
				sum = -sum
			}
			if sum != 0 { // no negative zero
				l.Less, l.PerUnit = sum, sum
			}
			u.Leans = append(u.Leans, l)
		}
		u.measure(q)
		u.judge(q, caveats)
		r.Uses = append(r.Uses, u)
	}
	r.Replaced = replaced(q)
	for _, x := range r.Replaced {
		if x.Overlapping {
			continue
		}
		also := "their difference is taken for drift"
		if inError {
			also = "their difference is in the error as one between sets, and in the drift as well"
		}
		caveats.Add("control_set_replaced", caveat.Place{Stint: x.After, Code: q.Control}, "The control's set %s gave way to %s after stint %s, without being driven beside it and without a declared break: %s. Drive the old set and the new one in turn when a set is replaced, or declare a break.", x.Old, x.New, x.Before, also)
	}
	return r
}

// use gathers one kind of use; false where it is not known of every stint.
func use(q *sequence.Sequence, set setting.Settings, kind Kind) (Use, bool) {
	u := Use{Kind: kind}
	recorded := true
	for i := range q.Stints {
		s := &q.Stints[i]
		v, ok := 0.0, false
		switch kind {
		case Distance:
			if s.UseM != nil {
				v, ok = *s.UseM, true
			}
		case Stints:
			v, ok = s.Recorded(StintsColumn)
		case Tread:
			v, ok = s.Recorded(TreadColumn)
		}
		recorded = recorded && ok
		u.Stints = append(u.Stints, v)
	}
	switch kind {
	case Distance:
		u.Limit = set.UseLimitM
	case Stints:
		u.Limit = &set.UseLimitStints
	case Tread:
		u.Limit = set.TreadLimitM
	}
	if recorded || kind != Stints {
		return u, recorded
	}
	u.Counted = true
	for i := range q.Stints {
		s := &q.Stints[i]
		if s.Set == "" {
			return u, false
		}
		u.Stints[i] = float64(s.UseStints)
	}
	return u, true
}

// measure finds what a unit of use does to the control beside a straight drift.
func (u *Use) measure(q *sequence.Sequence) {
	own := *q
	own.Stints = append([]sequence.Stint(nil), q.Stints...)
	var y []float64
	differ := false
	for _, i := range q.Controls {
		own.Stints[i].Covariates = map[string]float64{string(u.Kind): u.Stints[i]}
		y = append(y, q.Stints[i].Y)
		differ = differ || u.Stints[i] != u.Stints[q.Controls[0]]
	}
	if !differ {
		u.Why = "the control's sets were alike in it"
		return
	}
	f, err := correct.LeastSquares(&own, q.Controls, y, 1, 0, false, []string{string(u.Kind)})
	if err != nil {
		u.Why = "the control's stints do not tell it"
		return
	}
	for _, a := range f.M.Aliased {
		if a.Column == f.CovAt {
			u.Why = "the control's use rises as a drift would; a fresh control set beside a used one would tell them apart"
			return
		}
	}
	sd, ok := f.M.Sigma()
	l := make([]float64, f.Width)
	l[f.CovAt] = 1
	v, w, can := f.Predict(l)
	if !ok || !can || f.M.DF == 0 || f.M.PerfectFit {
		u.Why = "too few control stints tell it from the drift; a fresh control set beside a used one would"
		return
	}
	t := &scatter.Term{Name: string(u.Kind), Estimate: v}
	if se := sd * math.Sqrt(dot(w, w)); se > 0 {
		t.SE, t.T, t.P = some(se), some(v/se), some(linear.TwoSidedT(v/se, float64(f.M.DF)))
	}
	u.Measured = t
	for i := range u.Leans {
		// What the stints' use adds to the weighted sum of stint means.
		lean := -u.Leans[i].Less * q.Sign
		if u.Kind == Tread {
			lean = -lean
		}
		u.Leans[i].Bias = some(v * lean)
		if t.SE != nil {
			u.Leans[i].BiasSE = some(math.Abs(lean) * *t.SE)
		}
	}
}

// judge says which estimates lean beyond the limit.
func (u *Use) judge(q *sequence.Sequence, caveats *caveat.List) {
	if u.Limit == nil {
		return
	}
	for i := range u.Leans {
		l := &u.Leans[i]
		// Rounding does not break a limit.
		if l.Over = math.Abs(l.Less) > *u.Limit*(1+1e-9); !l.Over {
			continue
		}
		than := "less"
		if l.Less < 0 {
			than = "more"
		}
		way := "better"
		if l.Less < 0 {
			way = "worse"
		}
		amount, unit := amount(u.Kind, math.Abs(l.Less))
		text := fmt.Sprintf("%s's sets had %s %s use behind them than the control's, weighed as in the estimate (limit %s): what the control loses by its use looks like drift and is given to %s, which comes out %s than it is by %.2g times what a tyre loses %s.",
			l.Code, amount, than, limit(u.Kind, *u.Limit), l.Code, way, math.Abs(scaled(u.Kind, l.Less)), unit)
		switch {
		case l.Bias != nil && l.BiasSE != nil:
			b, se, of := *l.Bias, *l.BiasSE, ""
			if q.Ratio {
				b, se, of = 100*math.Expm1(b), 100*se, " index points"
			}
			text += fmt.Sprintf(" By the control's own stints that is %+.2g ± %.2g%s.", b, se, of)
		case u.Why != "":
			text += " How much that is is not known: " + u.Why + "."
		}
		caveats.Add("unequal_use", caveat.Place{Code: l.Code}, "%s", text)
	}
}

// scaled gives an amount in the unit that people count it in.
func scaled(k Kind, x float64) float64 {
	switch k {
	case Distance:
		return x / 1000
	case Tread:
		return x * 1000
	}
	return x
}

func amount(k Kind, x float64) (text, per string) {
	x = scaled(k, x)
	switch k {
	case Distance:
		return fmt.Sprintf("%.3g km", x), "in a kilometre"
	case Tread:
		return fmt.Sprintf("%.2g mm of tread", x), "with a millimetre of tread"
	}
	if math.Abs(x-1) < 0.005 {
		return "1 stint", "in a stint"
	}
	return fmt.Sprintf("%.2g stints", x), "in a stint"
}

func limit(k Kind, x float64) string {
	text, _ := amount(k, x)
	return text
}

// replaced finds control sets that gave way to another one for good, within a
// stretch. Where every control stint has a set of its own, none is replaced: sets
// are a sample.
func replaced(q *sequence.Sequence) []Replaced {
	var out []Replaced
	for s := range q.Segments {
		var list []int
		fitted := map[string]int{}
		for _, i := range q.Controls {
			if q.Stints[i].Segment != s {
				continue
			}
			if q.Stints[i].Set == "" {
				list = nil
				break
			}
			list = append(list, i)
			fitted[q.Stints[i].Set]++
		}
		if len(list) == len(fitted) {
			continue
		}
		first, last := map[string]int{}, map[string]int{}
		for k, i := range list {
			name := q.Stints[i].Set
			if _, ok := first[name]; !ok {
				first[name] = k
			}
			last[name] = k
		}
		for k := 1; k < len(list); k++ {
			a, b := q.Stints[list[k-1]], q.Stints[list[k]]
			// The old one is gone for good, the new one was not there before, and no
			// other set is carried through.
			if a.Set == b.Set || last[a.Set] != k-1 || first[b.Set] != k {
				continue
			}
			r := Replaced{Old: a.Set, New: b.Set, Before: a.ID, After: b.ID, Overlapping: list[k] == list[k-1]+1}
			for name := range fitted {
				r.Overlapping = r.Overlapping || first[name] < k && last[name] >= k
			}
			out = append(out, r)
		}
	}
	return out
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i := range a {
		s += a[i] * b[i]
	}
	return s
}

func some(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}
