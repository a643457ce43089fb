// Package strip draws the bracket strip, the tool's signature: a test's day as it
// was driven, the control's stints as posts that hold what is between them.
//
// Values are in the measure's own unit, times in seconds since midnight of the
// first day. It computes no statistics: means, intervals and drift are given.
package strip

import (
	"math"
	"slices"

	"example.org/bookend/figure/draft"
	"example.org/bookend/figure/scale"
)

// BracketStrip is a test's day from its first stint to its last: the control's
// stints as posts, its drift as a curve with a band, every candidate's stint
// against it with its mean, its interval and its single runs, and by how much
// it differs from the control at its own moment. Below: the order, the
// brackets, the conditions, the clock.
type BracketStrip struct {
	draft.Head
	Value      draft.Axis     `json:"value"`
	Clock      bool           `json:"clock"`  // the stints' times are of the clock; else only their order counts
	Stints     []Stint        `json:"stints"` // as driven
	Drift      []Drift        `json:"drift,omitempty"`
	DriftName  draft.Text     `json:"drift_name,omitempty"` // "the control's drift, 95 % band"
	DriftShort draft.Text     `json:"drift_short,omitempty"`
	Brackets   []Bracket      `json:"brackets,omitempty"` // none: between neighbouring controls, not across a break
	Breaks     []Break        `json:"breaks,omitempty"`
	Conditions []ConditionRow `json:"conditions,omitempty"` // on the full width
}

// Stint is one stint on the strip. Without a mean it stands in the order
// alone; without an interval its mean has no whisker.
type Stint struct {
	Code string   `json:"code"`
	AtS  float64  `json:"at_s"` // middle of the stint, in seconds since midnight of the first day; its position where there is no clock
	Mean *float64 `json:"mean,omitempty"`
	Low  *float64 `json:"low,omitempty"`
	High *float64 `json:"high,omitempty"`
	Note int      `json:"note,omitempty"` // of a caveat to the mean
	Runs []Run    `json:"runs,omitempty"`
}

// Run is one run. A run that is left out is ringed and bears the number of
// its caveat; the ring is red only if a limit was broken.
type Run struct {
	Value   float64 `json:"value"`
	LeftOut bool    `json:"left_out,omitempty"`
	Broken  bool    `json:"broken,omitempty"`
	Note    int     `json:"note,omitempty"`
}

// Drift is one stretch of the control's curve, sampled: times in seconds as the
// stints', values, and the band's edges (both empty: no band).
type Drift struct {
	AtS   []float64 `json:"at_s"`
	Value []float64 `json:"value"`
	Low   []float64 `json:"low,omitempty"`
	High  []float64 `json:"high,omitempty"`
}

// Bracket is two control stints, by their index among the stints, and what was
// driven between them.
type Bracket struct {
	From int    `json:"from"`
	To   int    `json:"to"`
	Name string `json:"name,omitempty"` // empty: its number
}

// Break is a declared break before a stint, given by its index; no correction
// is carried across it.
type Break struct {
	Before int      `json:"before"`
	Words  []string `json:"words,omitempty"` // one a line: "break", "lane rinsed"
}

// ConditionRow is a row of conditions below the strip, one cell a stint.
type ConditionRow struct {
	Name  string `json:"name"` // with its unit: "water, mm"
	Cells []Cell `json:"cells"`
}

// Cell is a condition as printed. A broken limit is red and bears its caveat.
type Cell struct {
	Text   string `json:"text"`
	Broken bool   `json:"broken,omitempty"`
	Note   int    `json:"note,omitempty"`
}

// Kind is "bracket-strip".
func (*BracketStrip) Kind() string { return "bracket-strip" }

// Draw lays the strip out.
func (f *BracketStrip) Draw(w draft.Width) (*draft.Drawing, error) {
	if err := f.check(); err != nil {
		return nil, err
	}
	return draft.Compose(f.Kind(), w, f.Codes, f.layout), nil
}

func (f *BracketStrip) check() error {
	k := f.Kind()
	candidates := 0
	for i, s := range f.Stints {
		if s.Code != f.Codes.Control {
			candidates++
		}
		vs := []float64{s.AtS}
		for _, p := range []*float64{s.Mean, s.Low, s.High} {
			if p != nil {
				vs = append(vs, *p)
			}
		}
		for _, r := range s.Runs {
			vs = append(vs, r.Value)
		}
		if !draft.Finite(vs...) {
			return draft.Invalid(k, "stint %d (%s) has a value that is not finite", i+1, s.Code)
		}
		if s.Low != nil && s.High != nil && *s.Low > *s.High {
			return draft.Invalid(k, "stint %d (%s) has an interval whose lower end lies above its upper end", i+1, s.Code)
		}
		if i > 0 && s.AtS < f.Stints[i-1].AtS {
			return draft.Invalid(k, "stint %d (%s) comes before stint %d", i+1, s.Code, i)
		}
	}
	if candidates == 0 {
		return draft.Invalid(k, "a strip needs at least one stint of a candidate")
	}
	for i, d := range f.Drift {
		n := len(d.AtS)
		if len(d.Value) != n || len(d.Low) != len(d.High) || len(d.Low) != 0 && len(d.Low) != n {
			return draft.Invalid(k, "stretch %d of the drift has columns of unequal length", i+1)
		}
		if !draft.Finite(d.AtS...) || !draft.Finite(d.Value...) || !draft.Finite(d.Low...) || !draft.Finite(d.High...) {
			return draft.Invalid(k, "stretch %d of the drift has a value that is not finite", i+1)
		}
		if !slices.IsSorted(d.AtS) {
			return draft.Invalid(k, "stretch %d of the drift runs backwards", i+1)
		}
	}
	for i, b := range f.Brackets {
		if b.From < 0 || b.To >= len(f.Stints) || b.From >= b.To {
			return draft.Invalid(k, "bracket %d names stints that are not there", i+1)
		}
	}
	for _, b := range f.Breaks {
		if b.Before < 1 || b.Before >= len(f.Stints) {
			return draft.Invalid(k, "a break stands before stint %d of %d", b.Before+1, len(f.Stints))
		}
	}
	for _, r := range f.Conditions {
		if len(r.Cells) != len(f.Stints) {
			return draft.Invalid(k, "%s has %d cells for %d stints", r.Name, len(r.Cells), len(f.Stints))
		}
	}
	return nil
}

// given gives the brackets, made from the control's stints where none were given.
func (f *BracketStrip) given() []Bracket {
	if len(f.Brackets) > 0 {
		return f.Brackets
	}
	var out []Bracket
	last := -1
	for i, s := range f.Stints {
		if slices.ContainsFunc(f.Breaks, func(b Break) bool { return b.Before == i }) {
			last = -1
		}
		if s.Code != f.Codes.Control {
			continue
		}
		if last >= 0 && i > last+1 {
			out = append(out, Bracket{From: last, To: i})
		}
		last = i
	}
	return out
}

// domain gives the values the strip covers: every mean, every run that counts
// and the drift, and of whiskers, band and runs left out as much as leaves the
// rest readable.
func (f *BracketStrip) domain() scale.Extent {
	var core, full scale.Extent
	for _, s := range f.Stints {
		if s.Mean != nil {
			core.Add(*s.Mean)
		}
		for _, r := range s.Runs {
			full.Add(r.Value)
			if !r.LeftOut {
				core.Add(r.Value)
			}
		}
		for _, p := range []*float64{s.Low, s.High} {
			if p != nil {
				full.Add(*p)
			}
		}
	}
	for _, d := range f.Drift {
		core.Add(d.Value...)
		full.Add(d.Low...)
		full.Add(d.High...)
	}
	if !core.Any {
		core = full
	}
	if !core.Any {
		core.Add(0)
	}
	core = core.Open()
	if full.Any {
		room := .45 * (core.Hi - core.Lo)
		core.Lo, core.Hi = math.Min(core.Lo, math.Max(full.Lo, core.Lo-room)), math.Max(core.Hi, math.Min(full.Hi, core.Hi+room))
	}
	return core
}

// controlAt gives the control's curve at a time: the value and the band's edges.
func (f *BracketStrip) controlAt(t float64) (v, lo, hi float64, ok bool) {
	for _, d := range f.Drift {
		n := len(d.AtS)
		if n == 0 || t < d.AtS[0] || t > d.AtS[n-1] {
			continue
		}
		i, _ := slices.BinarySearch(d.AtS, t)
		i = min(max(i, 1), n-1)
		at := func(col []float64) float64 {
			if n == 1 || d.AtS[i] == d.AtS[i-1] {
				return col[i]
			}
			u := (t - d.AtS[i-1]) / (d.AtS[i] - d.AtS[i-1])
			return col[i-1] + u*(col[i]-col[i-1])
		}
		if n == 1 {
			i = 0
		}
		v = at(d.Value)
		lo, hi = v, v
		if len(d.Low) > 0 {
			lo, hi = at(d.Low), at(d.High)
		}
		return v, lo, hi, true
	}
	return 0, 0, 0, false
}
