// Package budget says where a verdict's doubt comes from, part by part, and what
// would take most of it away.
//
// In the trade a client asks why the interval is so wide. The variance of each
// estimate is taken apart: how the candidate's stints scatter and how the
// control's do, what runs within stints add and how much of that is measurement,
// what taking the drift out costs, what sets, days and the wandering of the
// ground add. What the width owes to not knowing the scatter, and to comparing
// several candidates at once, stands beside it. Then the day is driven on in
// thought: a control stint more, the candidates once more, and how much narrower
// the interval would on the mean become.
//
// Sources: the propagation of variance (JCGM 100:2008, 5.1.2) through the weights
// that every stint mean has in an estimate. What drift costs is the variance over
// that of the same estimate without a correction. Units: the analysis scale
// squared; shares of 1; narrowing in per cent of the half-width. Limits: what is
// driven on in thought scatters as what was driven, and is judged by stint means.
package budget

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/bookend/compare/correct"
	"example.org/bookend/compare/scatter"
	"example.org/bookend/compare/sequence"
)

// Key names a part.
type Key string

// The parts.
const (
	OwnStints     Key = "own_stints"     // fitment and moment of the candidate's own stints
	ControlStints Key = "control_stints" // of the control's
	OtherStints   Key = "other_stints"   // of other candidates', through which blocks are joined
	Runs          Key = "runs"           // runs within stints, measurement aside
	Measurement   Key = "measurement"    // the uncertainty that the observations state
	Drift         Key = "drift"          // what taking the drift out costs
	Sets          Key = "sets"           // between sets of one code
	Blocks        Key = "tyre_by_block"
	Wander        Key = "wander" // of the ground between controls, as a record or the plan has it
	Rough         Key = "rough"  // the variances themselves being known roughly
)

var phrase = map[Key]string{
	OwnStints:     "how %s's own stints scatter",
	ControlStints: "how the control's stints scatter",
	OtherStints:   "how other candidates' stints scatter, through which the blocks are joined",
	Runs:          "how runs scatter within their stints",
	Measurement:   "measurement",
	Drift:         "what taking the drift out costs",
	Sets:          "what sets of one tyre differ by",
	Blocks:        "how the tyres stand otherwise to each other from block to block",
	Wander:        "how the ground wanders between the controls",
	Rough:         "that the variances themselves are known roughly",
}

// Part is one part of the variance of an estimate.
type Part struct {
	Key      Key
	Variance float64 // on the analysis scale squared
	Share    float64 // of all parts, 0 to 1
}

// Row is the budget of one candidate.
type Row struct {
	Code     string
	Variance float64 // of the estimate, on the analysis scale squared
	Parts    []Part  // largest first; those of nothing left out
	Told     bool    // runs and stints are told apart; else runs stand with the stints
	// Known and Alone are half-widths over that of the interval as it is: were the
	// scatter known for certain, and were this candidate the only one.
	Known, Alone *float64
	// Unborrowed is the half-width without the record over that with it; nil where no
	// record was used, or where there is no interval without it.
	Unborrowed *float64
	Remedies   []Remedy // what would narrow the interval, most first
}

// Remedy is something that could still be driven.
type Remedy struct {
	Key      string  // "control_at_end", "control_in_bracket", "candidate_again", "all_again", "runs_doubled"
	What     string  // in words
	Stints   int     // that it takes
	Narrower float64 // of the half-width, in per cent; negative where it would become wider
}

// Estimate is what the budget of one estimate is made from.
type Estimate struct {
	Code     string
	Est      *correct.Estimate
	P        correct.Predictor
	Plain    *correct.Estimate // the same without a correction; nil where there is none
	PlainP   correct.Predictor
	Variance float64 // as judged
	Sets     float64 // of that, stated from elsewhere for the scatter of sets
	Wander   float64 // of that, for the drift since the control that an open block rests on
	Record   bool    // what is left over is the wandering of the record, else rough variances
}

// Of takes one estimate's variance apart; false where there is no scatter.
func Of(q *sequence.Sequence, sc *scatter.Scatter, e Estimate) (Row, bool) {
	whole, ok := sc.Split(e.Est, e.P)
	if !ok || !(e.Variance > 0) {
		return Row{}, false
	}
	base, cost := whole, 0.0
	if e.Plain != nil && e.Plain.OK {
		if plain, ok := sc.Split(e.Plain, e.PlainP); ok && plain.Sum() <= whole.Sum() {
			base, cost = plain, whole.Sum()-plain.Sum()
		}
	}
	row := Row{Code: e.Code, Variance: e.Variance, Told: whole.Told}
	total := 0.0
	add := func(k Key, v float64) {
		// Rounding leaves hairs where there is nothing.
		if v > 1e-12*e.Variance {
			row.Parts = append(row.Parts, Part{Key: k, Variance: v})
			total += v
		}
	}
	own, ownRuns, ownMeasure := base.Of(func(i int) bool { return q.Stints[i].Code == e.Code })
	control, controlRuns, controlMeasure := base.Of(func(i int) bool { return q.Stints[i].Control })
	other, otherRuns, otherMeasure := base.Of(func(i int) bool { return !q.Stints[i].Control && q.Stints[i].Code != e.Code })
	measure := ownMeasure + controlMeasure + otherMeasure
	add(OwnStints, own)
	add(ControlStints, control)
	add(OtherStints, other)
	add(Runs, ownRuns+controlRuns+otherRuns-measure)
	add(Measurement, measure)
	add(Drift, cost)
	add(Sets, base.Set+e.Sets)
	add(Blocks, base.Block)
	rest := e.Variance - whole.Sum() - e.Sets - e.Wander
	if e.Record {
		add(Wander, e.Wander+max(0, rest))
	} else {
		add(Wander, e.Wander)
		add(Rough, rest)
	}
	for i := range row.Parts {
		row.Parts[i].Share = row.Parts[i].Variance / total
	}
	slices.SortStableFunc(row.Parts, func(a, b Part) int { return cmp.Compare(b.Share, a.Share) })
	return row, true
}

// Words says the budget in sentences.
func (r *Row) Words() []string {
	var list []string
	for _, p := range r.Parts {
		text := phrase[p.Key]
		if p.Key == OwnStints {
			text = fmt.Sprintf(text, r.Code)
		}
		list = append(list, share(p.Share)+" is "+text)
	}
	var out []string
	if len(list) > 0 {
		s := "Of the variance behind the interval of " + r.Code + ", " + enumerate(list) + "."
		if !r.Told {
			s += " Runs are not told apart from their stints."
		}
		out = append(out, s)
	}
	if r.Known != nil && *r.Known < 0.995 {
		out = append(out, fmt.Sprintf("Were the scatter known for certain, the interval would be %s narrower.", percent(100*(1-*r.Known))))
	}
	if u := r.Unborrowed; u != nil {
		switch {
		case *u > 1.005:
			out = append(out, fmt.Sprintf("How stints scatter is borrowed from the ground's record; by this programme alone the interval would be %.1f times as wide.", *u))
		case *u < 0.995:
			out = append(out, fmt.Sprintf("How stints scatter is borrowed from the ground's record, which makes the interval %s wider than by this programme alone.", percent(100*(1 / *u - 1))))
		}
	}
	var help []string
	for _, m := range r.Remedies {
		if m.Narrower >= 0.5 {
			help = append(help, fmt.Sprintf("%s would narrow it by %s", m.What, percent(m.Narrower)))
		}
	}
	if len(help) > 0 {
		s := strings.Join(help, "; ") + "."
		out = append(out, strings.ToUpper(s[:1])+s[1:])
	}
	return out
}

func enumerate(list []string) string {
	if n := len(list); n > 1 {
		return strings.Join(list[:n-1], ", ") + " and " + list[n-1]
	}
	return list[0]
}

// share says a share of one in words where a plain fraction is within 2 in 100.
func share(x float64) string {
	for _, f := range []struct {
		at   float64
		word string
	}{{1, "all"}, {0.75, "three quarters"}, {2.0 / 3, "two thirds"}, {0.5, "half"}, {1.0 / 3, "a third"}, {0.25, "a quarter"}} {
		if math.Abs(x-f.at) < 0.02 && (f.at < 1 || x > 0.995) {
			if math.Abs(x-f.at) < 0.005 {
				return f.word
			}
			return "about " + f.word
		}
	}
	return percent(100 * x)
}

func percent(x float64) string {
	if x < 1 {
		return "less than 1 %"
	}
	return fmt.Sprintf("%.0f %%", x)
}
