// Package sequence puts the observations of one measure into the stints they
// were driven in: the order of the sequence, its stretches between breaks and
// blocks, the control's stints, what is excluded, and what the layout leaves
// open.
//
// In the trade it is the run log as one measure sees it. Sources: house rules
// alone; a stint is one set on the vehicle, fitted once. Units: values in the
// measure's unit (SI), positions from 1, clocks in s, distances run in m.
// Limits: values up to 1e100, so that sums of squares stay finite.
package sequence

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/compare/record"
	"example.org/bookend/compare/setting"
	"example.org/bookend/compare/threshold"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

// largest is the greatest size of a value admitted: its square and sums of
// squares stay far from overflow, and no measure comes near it.
const largest = 1e100

// Input is what one measure is compared from.
type Input struct {
	Log      programme.Log
	Measure  programme.Measure
	Place    string // of a measure with places; empty: none
	Rater    string // one rater's observations; empty: the mean of all raters, each of whom must have rated every run
	Control  string // code of the control
	Settings setting.Settings
	Record   *record.Record // control stints of earlier programmes; nil: none
}

// RunValue is one run of a stint.
type RunValue struct {
	Run    string
	Number int
	Value  float64
	// Uncertainty is the standard uncertainty of the value, in its unit, where every
	// observation behind it states one.
	Uncertainty *float64
	Excluded    bool // marked as left out, with its reason
	Reason      string
	Compared    bool // part of this comparison
	Covariates  map[string]float64
	Line        int
	Clean       *bool // of an attempt at a threshold
}

// Stint is one stint with its values of the measure.
type Stint struct {
	programme.Stint
	Control    bool
	Segment    int
	X          float64 // position or clock
	U          float64 // the same from the block's own beginning where blocks follow each other
	Runs       []RunValue
	Values     []float64 // of the runs compared, in the measure's unit
	Numbers    []int     // of those runs within the stint
	Mean       float64   // arithmetic, in the measure's unit
	Equal      float64   // the same on equal run numbers
	Y          float64   // on the analysis scale and equal run numbers, not turned to positive better
	Covariates map[string]float64
	UseStints  int              // stints that its set had done before, in this table
	Level      *threshold.Level // of a measure that is a threshold: what its attempts say
	Attempts   []RunValue       // those attempts; Runs is then the threshold alone
}

// Recorded gives the mean of a covariate over the runs compared; false unless
// every one of them has it.
func (f *Stint) Recorded(covariate string) (mean float64, ok bool) {
	return f.recorded(f.Runs, covariate)
}

func (f *Stint) recorded(runs []RunValue, covariate string) (mean float64, ok bool) {
	n := 0.0
	for _, run := range runs {
		if !run.Compared {
			continue
		}
		x, has := run.Covariates[covariate]
		if !has || !finite(x) {
			return 0, false
		}
		mean += x
		n++
	}
	if n == 0 {
		return 0, false
	}
	return mean / n, true
}

// N gives the number of runs compared.
func (f *Stint) N() int { return len(f.Values) }

// Sequence is what a measure's stints amount to, in order.
type Sequence struct {
	Stints    []Stint
	Controls  []int    // indices of stints
	Codes     []string // candidates, in the order in which they were first driven
	Control   string
	Segments  int // stretches between breaks and blocks
	Blocks    []string
	BlockOf   []int   // of a segment
	Sign      float64 // +1 where higher is better, -1 where lower is
	Ratio     bool
	Directed  bool
	EqualRuns bool // all stints have runs of the same numbers
	Number    NumberEffect
	Width     float64 // of a measure that is a threshold: how fast cleanness falls with speed, m/s
	Excluded  []programme.Exclusion
	Caveats   caveat.List
}

// Alike gives the value that every compared run has, in the measure's unit (SI); false
// where runs differ, or where the measure is a threshold, whose runs are attempts.
func (q *Sequence) Alike() (float64, bool) {
	var v float64
	some := false
	for i := range q.Stints {
		f := &q.Stints[i]
		if f.Level != nil {
			return 0, false
		}
		for _, x := range f.Driven() {
			switch {
			case !x.Compared:
			case some && x.Value != v:
				return 0, false
			default:
				v, some = x.Value, true
			}
		}
	}
	return v, some
}

func where(file string, line int) string {
	if line == 0 {
		return file
	}
	if file == "" {
		return fmt.Sprintf("line %d", line)
	}
	return fmt.Sprintf("%s:%d", file, line)
}

func at(e *fault.Error, run programme.Run) *fault.Error {
	if w := where(run.File, run.Line); w != "" {
		return e.At("%s", w)
	}
	return e.At("stint %s, run %s", run.Stint, run.ID)
}

// Gather puts the observations of the measure into their stints.
func Gather(in Input, everything bool) (*Sequence, error) {
	m, set, log := in.Measure, in.Settings, in.Log
	q := &Sequence{Control: in.Control, Ratio: set.Scale == programme.Ratio, Sign: 1, Directed: true}
	switch m.Better {
	case programme.Higher:
	case programme.Lower:
		q.Sign = -1
	case programme.Nearest:
		if m.Target == nil {
			q.Directed = false
		} else {
			q.Sign = -1 // the distance from the target is compared
		}
	case programme.Undirected, "":
		q.Directed = false
	default:
		return nil, fault.New(fault.Invalid, "measure %s: %q is no direction", m.ID, m.Better).WithHint("choose higher, lower, nearest or none")
	}

	if set.Profile != nil {
		q.Sign, q.Directed = 1, true // what the profile compares is better where it is higher
	}
	stintAt := make(map[string]int, len(log.Stints))
	all := make([]Stint, len(log.Stints))
	var codes []string
	for i, s := range log.Stints {
		if _, twice := stintAt[s.ID]; twice {
			return nil, fault.New(fault.Invalid, "stint %s stands twice in the log", s.ID).WithHint("give each fitting an id of its own")
		}
		if !(math.Abs(s.Position) <= largest) {
			return nil, fault.New(fault.Invalid, "stint %s has no finite position", s.ID)
		}
		stintAt[s.ID] = i
		all[i] = Stint{Stint: s, Control: s.Code == in.Control, Covariates: map[string]float64{}}
		if !slices.Contains(codes, s.Code) {
			codes = append(codes, s.Code)
		}
	}
	if len(all) == 0 {
		return nil, fault.New(fault.Invalid, "there are no stints to compare")
	}
	slices.Sort(codes)
	if !slices.Contains(codes, in.Control) {
		if in.Control == "" {
			return nil, fault.New(fault.Invalid, "no code is named as the control").WithHint("the codes are %s: name one with --control", strings.Join(codes, ", "))
		}
		return nil, fault.New(fault.NotFound, "there is no code %q, which was named as the control", in.Control).WithHint("the codes are %s", strings.Join(codes, ", "))
	}

	runs := make(map[string]int, len(log.Runs))
	for i, run := range log.Runs {
		if _, twice := runs[run.ID]; twice {
			return nil, at(fault.New(fault.Invalid, "run %s stands twice in the log", run.ID).WithHint("give each run of a stint a number of its own"), run)
		}
		if _, ok := stintAt[run.Stint]; !ok {
			return nil, at(fault.New(fault.Invalid, "run %s belongs to stint %q, which is not in the log", run.ID, run.Stint), run)
		}
		runs[run.ID] = i
	}
	out := make(map[string]string)
	for _, x := range log.Exclusions {
		if x.Measure != "" && x.Measure != m.ID {
			continue
		}
		if _, ok := runs[x.Run]; !ok {
			return nil, fault.New(fault.NotFound, "run %q is excluded, but is not in the log", x.Run)
		}
		if strings.TrimSpace(x.Reason) == "" {
			return nil, fault.New(fault.Invalid, "run %s is excluded without a reason", x.Run).WithHint("an exclusion needs its reason")
		}
		out[x.Run] = x.Reason
		q.Excluded = append(q.Excluded, x)
	}

	// One value a run: raters of one run are averaged.
	type sum struct {
		total  float64
		n      int
		square float64 // of the uncertainties stated
		known  int     // how many are
	}
	values := make([]sum, len(log.Runs))
	var raters []string
	found := false
	seen := map[[2]string]bool{}
	places := map[string]bool{}
	for _, o := range log.Observations {
		if o.Measure != m.ID {
			continue
		}
		found = true
		places[o.Place] = true
		if o.Place != in.Place || in.Rater != "" && o.Rater != in.Rater {
			continue
		}
		i, ok := runs[o.Run]
		if !ok {
			return nil, fault.New(fault.Invalid, "an observation of %s belongs to run %q, which is not in the log", m.ID, o.Run)
		}
		run := log.Runs[i]
		key := [2]string{o.Run, o.Rater}
		if seen[key] {
			return nil, at(fault.New(fault.Invalid, "run %s has two values of %s", o.Run, m.ID).WithHint("give each run of a stint a number of its own"), run)
		}
		seen[key] = true
		v := o.Value
		if !(math.Abs(v) <= largest) {
			return nil, at(fault.New(fault.Invalid, "the value %v of %s is not finite, or too large", v, m.ID).WithHint("leave a missing value out"), run)
		}
		if set.Profile != nil {
			var err *fault.Error
			if v, err = set.Profile.Transform(v); err != nil {
				return nil, at(err, run)
			}
		}
		if m.Better == programme.Nearest && m.Target != nil && set.Profile == nil {
			v = math.Abs(v - *m.Target)
		}
		if q.Ratio && v <= 0 {
			return nil, at(fault.New(fault.Invalid, "the value %v of %s is not above 0 and has no ratio", v, m.ID).
				WithHint("compare it as a difference: --scale difference"), run)
		}
		values[i].total += v
		values[i].n++
		if u := o.Uncertainty; u != nil && *u >= 0 && *u <= largest {
			w := *u
			if set.Profile != nil { // what it compares is a power of the value, whose relative uncertainty stays
				w *= math.Abs(v / o.Value)
			}
			values[i].square += w * w
			values[i].known++
		}
		if !slices.Contains(raters, o.Rater) {
			raters = append(raters, o.Rater)
		}
		q.Caveats = append(q.Caveats, o.Caveats.Within(caveat.Place{Run: o.Run, Stint: run.Stint, Measure: m.ID})...)
	}
	if !found {
		return nil, fault.New(fault.NotFound, "there are no observations of %s", m.ID)
	}
	if len(seen) == 0 {
		var names []string
		for p := range places {
			if p != "" {
				names = append(names, p)
			}
		}
		slices.Sort(names)
		return nil, fault.New(fault.NotFound, "there are no observations of %s at place %q by rater %q", m.ID, in.Place, in.Rater).
			WithHint("it has the places: %s", strings.Join(names, ", "))
	}
	for i, run := range log.Runs {
		f := &all[stintAt[run.Stint]]
		if values[i].n == 0 {
			continue
		}
		if values[i].n != len(raters) {
			return nil, at(fault.New(fault.Invalid, "run %s was rated by %d of %d raters: their mean would not be one of equals", run.ID, values[i].n, len(raters)).
				WithHint("compare one rater at a time"), run)
		}
		v := values[i].total / float64(values[i].n)
		number := run.Number
		if number < 1 {
			number = len(f.Runs) + 1
		}
		reason, excluded := out[run.ID]
		f.Runs = append(f.Runs, RunValue{Run: run.ID, Number: number, Value: v, Excluded: excluded, Reason: reason,
			Compared: everything || !excluded, Covariates: run.Covariates, Line: run.Line})
		if c := &values[i]; c.known == c.n {
			u := math.Sqrt(c.square) / float64(c.n)
			f.Runs[len(f.Runs)-1].Uncertainty = &u
		}
		if excluded && !everything {
			continue
		}
		for _, c := range set.Covariates {
			x, ok := run.Covariates[c]
			if !ok || !finite(x) {
				return nil, at(fault.New(fault.Invalid, "run %s has no %s, which is to enter the model", run.ID, c).WithHint("fill it in, or leave the covariate out"), run)
			}
			f.Covariates[c] += x
		}
	}
	if everything {
		q.Excluded = nil
	}
	renumber(all)
	for i := range all {
		f := &all[i]
		slices.SortStableFunc(f.Runs, func(a, b RunValue) int { return cmp.Compare(a.Number, b.Number) })
		for _, r := range f.Runs {
			if r.Compared {
				f.Values, f.Numbers = append(f.Values, r.Value), append(f.Numbers, r.Number)
			}
		}
	}

	if set.Thresholds {
		if err := q.attempts(in, all); err != nil {
			return nil, err
		}
	}
	for i := range all {
		f := &all[i]
		switch {
		case len(f.Values) > 0:
		case len(f.Runs) > 0:
			q.Caveats.Add("stint_excluded", caveat.Place{Stint: f.ID, Code: f.Code}, "All runs of the stint are excluded: the stint is not compared.")
		default:
			q.Caveats.Add("stint_without_value", caveat.Place{Stint: f.ID, Code: f.Code}, "The stint has no value of the measure and is not compared.")
		}
	}
	if err := q.order(all, set); err != nil {
		return nil, err
	}
	for i := range q.Stints {
		f := &q.Stints[i]
		logs := 0.0
		for _, v := range f.Values {
			f.Mean += v
			if q.Ratio {
				logs += math.Log(v)
			}
		}
		n := float64(f.N())
		f.Mean /= n
		switch {
		case !q.Ratio:
			f.Y = f.Mean
		case set.Average == setting.Means:
			f.Y = math.Log(f.Mean)
		default:
			f.Y = logs / n
		}
		for c := range f.Covariates {
			f.Covariates[c] /= n
		}
		if f.Control {
			q.Controls = append(q.Controls, i)
		} else if !slices.Contains(q.Codes, f.Code) {
			q.Codes = append(q.Codes, f.Code)
		}
	}
	if len(q.Controls) == 0 {
		return nil, fault.New(fault.Invalid, "no stint of the control %s has a value of %s", in.Control, m.ID).WithHint("without a control there is nothing to compare with")
	}
	if len(q.Codes) == 0 {
		return nil, fault.New(fault.Invalid, "only the control %s has values of %s", in.Control, m.ID).WithHint("drive a candidate")
	}
	q.folded(in)
	q.EqualRuns = q.equalRuns()
	q.equalise(set.RunNumber)
	q.doubts(set)
	return q, nil
}

// order puts the stints that have values into blocks and segments.
func (q *Sequence) order(all []Stint, set setting.Settings) error {
	firstX, lastX := map[string]float64{}, map[string]float64{}
	var breaks []float64
	for i := range all {
		f := &all[i]
		f.X = f.Position
		if set.By == setting.ByClock {
			if f.ClockS == nil {
				if len(f.Values) == 0 {
					continue
				}
				return fault.New(fault.Invalid, "stint %s has no clock time, but drift is to run by the clock", f.ID).
					At("%s", cmp.Or(where(f.File, f.Line), "stint "+f.ID)).WithHint("fill the clock in, or go by position")
			}
			f.X = *f.ClockS
			if !(math.Abs(f.X) <= largest) {
				return fault.New(fault.Invalid, "stint %s has no finite clock time", f.ID)
			}
		}
		if f.Break {
			breaks = append(breaks, f.Position)
		}
	}
	slices.Sort(breaks)
	breaks = slices.Compact(breaks)
	sorted := make([]int, 0, len(all))
	for i := range all {
		if len(all[i].Values) > 0 {
			sorted = append(sorted, i)
		}
	}
	slices.SortStableFunc(sorted, func(a, b int) int { return cmp.Compare(all[a].Position, all[b].Position) })
	for _, i := range sorted {
		f := &all[i]
		b := f.Block
		if _, ok := firstX[b]; !ok {
			q.Blocks = append(q.Blocks, b)
			firstX[b], lastX[b] = f.X, f.X
		}
		firstX[b], lastX[b] = min(firstX[b], f.X), max(lastX[b], f.X)
	}
	// Blocks that follow each other each count from their own beginning: a
	// common curve is one of the time of day, not of the whole week.
	follow := true
	for i, b := range q.Blocks {
		for _, c := range q.Blocks[:i] {
			if firstX[b] <= lastX[c] && firstX[c] <= lastX[b] {
				follow = false
			}
		}
	}
	type key struct {
		block string
		part  int
	}
	q.used(all)
	segment := map[key]int{}
	for bi, b := range q.Blocks {
		for _, i := range sorted {
			f := all[i]
			if f.Block != b {
				continue
			}
			part, _ := slices.BinarySearch(breaks, f.Position)
			if part < len(breaks) && breaks[part] == f.Position {
				part++
			}
			k := key{b, part}
			s, ok := segment[k]
			if !ok {
				s = q.Segments
				segment[k] = s
				q.Segments++
				q.BlockOf = append(q.BlockOf, bi)
			}
			f.Segment, f.U = s, f.X
			if follow {
				f.U -= firstX[b]
			}
			if n := len(q.Stints); n > 0 && q.Stints[n-1].Segment == s {
				last := &q.Stints[n-1]
				switch {
				case f.X == last.X:
					return fault.New(fault.Invalid, "stints %s and %s stand at the same %s", last.ID, f.ID, set.By).
						WithHint("no two fittings of one block are at once")
				case f.X < last.X:
					return fault.New(fault.Invalid, "stint %s comes after stint %s by position, but before it by clock", f.ID, last.ID).
						WithHint("mend the clock, or go by position")
				}
			}
			q.Stints = append(q.Stints, f)
		}
	}
	return nil
}

// used counts the stints that each set had done before, block after block in the
// order in which they were begun.
func (q *Sequence) used(all []Stint) {
	order := make([]int, len(all))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(slices.Index(q.Blocks, all[a].Block), slices.Index(q.Blocks, all[b].Block)), cmp.Compare(all[a].Position, all[b].Position))
	})
	before := map[string]int{}
	for _, i := range order {
		if s := all[i].Set; s != "" {
			all[i].UseStints = before[s]
			before[s]++
		}
	}
}

// folded says where runs of one stint lie on both sides of a target: the mean of
// their distances is then more than the distance of their mean.
func (q *Sequence) folded(in Input) {
	m := in.Measure
	if m.Better != programme.Nearest || m.Target == nil || in.Settings.Profile != nil {
		return
	}
	stint := map[string]string{}
	for _, r := range in.Log.Runs {
		stint[r.ID] = r.Stint
	}
	below, above := map[string]bool{}, map[string]bool{}
	for _, o := range in.Log.Observations {
		if o.Measure == m.ID && o.Place == in.Place && (in.Rater == "" || o.Rater == in.Rater) {
			below[stint[o.Run]] = below[stint[o.Run]] || o.Value < *m.Target
			above[stint[o.Run]] = above[stint[o.Run]] || o.Value > *m.Target
		}
	}
	for i := range q.Stints {
		if s := &q.Stints[i]; below[s.ID] && above[s.ID] {
			q.Caveats.Add("around_the_target", caveat.Place{Stint: s.ID, Code: s.Code}, "Runs of the stint lie on both sides of the target: what is compared is the mean of their distances from it, which their scatter makes larger than the distance of their mean.")
		}
	}
}

// doubts says what the layout leaves open.
func (q *Sequence) doubts(set setting.Settings) {
	single := 0
	for i := range q.Stints {
		if q.Stints[i].N() == 1 {
			single++
		}
	}
	if single == len(q.Stints) && !set.Thresholds { // attempts of a stint make one threshold
		q.Caveats.Add("one_run_a_stint", caveat.Place{}, "Every stint has one run: how runs scatter within a stint is not known. The comparison does not rest on it.")
	}
	if len(q.Controls) == 1 {
		q.Caveats.Add("only_one_control", caveat.Place{Code: q.Control}, "The control was fitted once: drift is not known.")
	}
	for s := range q.Segments {
		has := false
		for _, i := range q.Controls {
			has = has || q.Stints[i].Segment == s
		}
		if !has {
			q.Caveats.Add("block_without_control", caveat.Place{Stint: q.first(s).ID}, "The stretch that begins here has no control of its own%s.", nameOf(q.Blocks[q.BlockOf[s]]))
		}
	}
}

func nameOf(block string) string {
	if block == "" {
		return ""
	}
	return " (block " + block + ")"
}

func (q *Sequence) first(segment int) *Stint {
	for i := range q.Stints {
		if q.Stints[i].Segment == segment {
			return &q.Stints[i]
		}
	}
	return &q.Stints[0]
}

// All gives the indices of all stints.
func (q *Sequence) All() []int {
	out := make([]int, len(q.Stints))
	for i := range out {
		out[i] = i
	}
	return out
}

// Y gives the stint means on the analysis scale, not turned to positive better.
func (q *Sequence) Y() []float64 {
	out := make([]float64, len(q.Stints))
	for i := range out {
		out[i] = q.Stints[i].Y
	}
	return out
}

// SetsOf gives the sets driven under a code, in their order.
func (q *Sequence) SetsOf(code string) []string {
	var out []string
	for i := range q.Stints {
		if s := q.Stints[i].Stint; s.Code == code && s.Set != "" && !slices.Contains(out, s.Set) {
			out = append(out, s.Set)
		}
	}
	return out
}

// Walk gives the covariance of the stints under a random walk of unit step from
// position to position, anew in every stretch; its level is the stretch's own.
func (q *Sequence) Walk() [][]float64 {
	least := map[int]float64{}
	for i := range q.Stints {
		s := &q.Stints[i]
		if p, ok := least[s.Segment]; !ok || s.Position < p {
			least[s.Segment] = s.Position
		}
	}
	out := make([][]float64, len(q.Stints))
	for i := range out {
		out[i] = make([]float64, len(out))
		a := &q.Stints[i]
		for j := range out {
			if b := &q.Stints[j]; b.Segment == a.Segment {
				out[i][j] = min(a.Position, b.Position) - least[a.Segment]
			}
		}
	}
	return out
}

// FewestControls gives the least number of control stints in any block.
func (q *Sequence) FewestControls() int {
	least := math.MaxInt
	for b := range q.Blocks {
		n := 0
		for _, i := range q.Controls {
			if q.BlockOf[q.Stints[i].Segment] == b {
				n++
			}
		}
		least = min(least, n)
	}
	return least
}

// SetsRecur tells whether the set can be told apart from the stint: every stint
// names its set, some code has several, and some set was fitted several times.
func (q *Sequence) SetsRecur() bool {
	fitted := map[[2]string]int{}
	sets := map[string]int{}
	several, again := false, false
	for i := range q.Stints {
		s := &q.Stints[i]
		if s.Set == "" {
			return false
		}
		key := [2]string{s.Code, s.Set}
		if fitted[key]++; fitted[key] == 1 {
			sets[s.Code]++
		}
		several, again = several || sets[s.Code] > 1, again || fitted[key] > 1
	}
	return several && again
}

// Level gives the reference level in the measure's unit.
func (q *Sequence) Level(set setting.Settings) float64 {
	switch set.Reference {
	case setting.StatedLevel:
		return *set.StatedLevel
	case setting.MeanOfControls:
		s := 0.0
		for _, i := range q.Controls {
			s += q.Stints[i].Equal
		}
		return s / float64(len(q.Controls))
	}
	return q.Stints[q.Controls[0]].Equal
}

// Admit refuses what the correction cannot be made from.
func (q *Sequence) Admit(drift setting.Drift, set setting.Settings) error {
	allowed := set.Open == setting.OpenAllowed && drift == setting.Bracket
	if len(q.Controls) == 1 && drift != setting.NoDrift && !allowed {
		f := q.Stints[q.Controls[0]]
		return fault.New(fault.Invalid, "the control %s was fitted once: there is nothing to see drift by", q.Control).
			At("%s", cmp.Or(where(f.File, f.Line), "stint "+f.ID)).
			WithHint("fit the control again to close the block, or compare without correction: --drift none")
	}
	// A level for each stretch between breaks, slope and bend, and one more.
	if least := q.Segments + 3; drift == setting.Quadratic && len(q.Blocks) == 1 && len(q.Controls) < least {
		return fault.New(fault.Invalid, "a parabola through %d control stints fits them exactly and shows nothing", len(q.Controls)).
			WithHint("a parabola needs at least %d control stints here; choose --drift linear or bracket", least)
	}
	if drift == setting.NoDrift {
		return nil
	}
	modelled := drift != setting.Bracket && len(q.Blocks) > 1
	for s := range q.Segments {
		first := -1
		for _, i := range q.Controls {
			if q.Stints[i].Segment == s {
				first = i
				break
			}
		}
		for i := range q.Stints {
			f := &q.Stints[i]
			if f.Segment != s || f.Control {
				continue
			}
			if first >= 0 && i < first && !modelled {
				return fault.New(fault.Invalid, "candidate %s (stint %s) was driven before the first control%s", f.Code, f.ID, nameOf(f.Block)).
					At("%s", cmp.Or(where(f.File, f.Line), "stint "+f.ID)).
					WithHint("the control opens and closes every sequence; leave the stint out, or compare without correction: --drift none")
			}
			if first < 0 && drift == setting.Bracket {
				return fault.New(fault.Invalid, "candidate %s (stint %s) has no control between the breaks that enclose it%s", f.Code, f.ID, nameOf(f.Block)).
					At("%s", cmp.Or(where(f.File, f.Line), "stint "+f.ID)).
					WithHint("drift is never carried across a declared break or from block to block")
			}
		}
	}
	return nil
}

// Neighbours gives the control stints around stint i in its segment, -1 where
// there is none.
func (q *Sequence) Neighbours(i int) (before, after int) {
	before, after = -1, -1
	for _, c := range q.Controls {
		if q.Stints[c].Segment != q.Stints[i].Segment {
			continue
		}
		if c < i {
			before = c
		}
		if c > i && after < 0 {
			after = c
		}
	}
	return before, after
}

// Against compares a mean with the control's on the analysis scale, positive
// better.
func (q *Sequence) Against(mean, control float64) float64 {
	if q.Ratio {
		return q.Sign * math.Log(mean/control)
	}
	return q.Sign * (mean - control)
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
