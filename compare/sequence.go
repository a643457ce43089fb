package compare

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

// largest is the greatest size of a value admitted: its square and sums of
// squares stay far from overflow, and no measure comes near it.
const largest = 1e100

// fitment is one stint with its values of the measure.
type fitment struct {
	stint      programme.Stint
	control    bool
	segment    int
	x          float64 // position or clock
	u          float64 // the same from the block's own beginning where blocks follow each other
	runs       []RunValue
	values     []float64 // of the runs compared
	mean       float64
	y          float64 // on the analysis scale, not turned to positive better
	covariates map[string]float64
	useRuns    int // runs that its set had done before
}

// recorded gives the mean of a covariate over the runs compared; false unless
// every one of them has it.
func (f *fitment) recorded(covariate string) (mean float64, ok bool) {
	for _, run := range f.runs {
		if !run.Compared {
			continue
		}
		x, has := run.Covariates[covariate]
		if !has || !finite(x) {
			return 0, false
		}
		mean += x / float64(f.n())
	}
	return mean, f.n() > 0
}

func (f *fitment) n() int { return len(f.values) }

// sequence is what a measure's stints amount to, in order.
type sequence struct {
	stints   []fitment
	controls []int // indices
	codes    []string
	control  string
	segments int
	blocks   []string
	blockOf  []int // of a segment
	sign     float64
	ratio    bool
	directed bool
	excluded []programme.Exclusion
	caveats  caveat.List
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

// gather puts the observations of the measure into their stints.
func gather(in Input, everything bool) (*sequence, error) {
	m, set, log := in.Measure, in.Settings, in.Log
	q := &sequence{control: in.Control, ratio: set.Scale == programme.Ratio, sign: 1, directed: true}
	switch m.Better {
	case programme.Higher:
	case programme.Lower:
		q.sign = -1
	case programme.Nearest:
		if m.Target == nil {
			q.directed = false
		} else {
			q.sign = -1 // the distance from the target is compared
		}
	case programme.Undirected, "":
		q.directed = false
	default:
		return nil, fault.New(fault.Invalid, "measure %s: %q is no direction", m.ID, m.Better).WithHint("choose higher, lower, nearest or none")
	}

	if set.Profile != nil {
		q.sign, q.directed = 1, true // what the profile compares is better where it is higher
	}
	stintAt := make(map[string]int, len(log.Stints))
	all := make([]fitment, len(log.Stints))
	var codes []string
	for i, s := range log.Stints {
		if _, twice := stintAt[s.ID]; twice {
			return nil, fault.New(fault.Invalid, "stint %s stands twice in the log", s.ID).WithHint("give each fitting an id of its own")
		}
		if !(math.Abs(s.Position) <= largest) {
			return nil, fault.New(fault.Invalid, "stint %s has no finite position", s.ID)
		}
		stintAt[s.ID] = i
		all[i] = fitment{stint: s, control: s.Code == in.Control, covariates: map[string]float64{}}
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
		q.excluded = append(q.excluded, x)
	}

	// One value a run: raters of one run are averaged.
	type sum struct {
		total float64
		n     int
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
			if v, err = set.Profile.transform(v); err != nil {
				return nil, at(err, run)
			}
		}
		if m.Better == programme.Nearest && m.Target != nil && set.Profile == nil {
			v = math.Abs(v - *m.Target)
		}
		if q.ratio && v <= 0 {
			return nil, at(fault.New(fault.Invalid, "the value %v of %s is not above 0 and has no ratio", v, m.ID).
				WithHint("compare it as a difference: --scale difference"), run)
		}
		values[i].total += v
		values[i].n++
		if !slices.Contains(raters, o.Rater) {
			raters = append(raters, o.Rater)
		}
		q.caveats = append(q.caveats, o.Caveats.Within(caveat.Place{Run: o.Run, Stint: run.Stint, Measure: m.ID})...)
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
	before := map[string]int{}
	for i, run := range log.Runs {
		f := &all[stintAt[run.Stint]]
		if f.stint.Set != "" && len(f.runs) == 0 {
			f.useRuns = before[f.stint.Set]
		}
		if f.stint.Set != "" {
			before[f.stint.Set]++
		}
		if values[i].n == 0 {
			continue
		}
		if values[i].n != len(raters) {
			return nil, at(fault.New(fault.Invalid, "run %s was rated by %d of %d raters: their mean would not be one of equals", run.ID, values[i].n, len(raters)).
				WithHint("compare one rater at a time"), run)
		}
		v := values[i].total / float64(values[i].n)
		number := run.Number
		if number == 0 {
			number = len(f.runs) + 1
		}
		reason, excluded := out[run.ID]
		f.runs = append(f.runs, RunValue{Run: run.ID, Number: number, Value: v, Excluded: excluded, Reason: reason,
			Compared: everything || !excluded, Covariates: run.Covariates, Line: run.Line})
		if excluded && !everything {
			continue
		}
		for _, c := range set.Covariates {
			x, ok := run.Covariates[c]
			if !ok || !finite(x) {
				return nil, at(fault.New(fault.Invalid, "run %s has no %s, which is to enter the model", run.ID, c).WithHint("fill it in, or leave the covariate out"), run)
			}
			f.covariates[c] += x
		}
		f.values = append(f.values, v)
	}
	if everything {
		q.excluded = nil
	}

	for i := range all {
		f := &all[i]
		switch {
		case len(f.values) > 0:
		case len(f.runs) > 0:
			q.caveats.Add("stint_excluded", caveat.Place{Stint: f.stint.ID, Code: f.stint.Code}, "All runs of the stint are excluded: the stint is not compared.")
		default:
			q.caveats.Add("stint_without_value", caveat.Place{Stint: f.stint.ID, Code: f.stint.Code}, "The stint has no value of the measure and is not compared.")
		}
	}
	if err := q.order(all, set); err != nil {
		return nil, err
	}
	for i := range q.stints {
		f := &q.stints[i]
		logs := 0.0
		for _, v := range f.values {
			f.mean += v
			if q.ratio {
				logs += math.Log(v)
			}
		}
		n := float64(f.n())
		f.mean /= n
		switch {
		case !q.ratio:
			f.y = f.mean
		case set.Average == Means:
			f.y = math.Log(f.mean)
		default:
			f.y = logs / n
		}
		for c := range f.covariates {
			f.covariates[c] /= n
		}
		if f.control {
			q.controls = append(q.controls, i)
		} else if !slices.Contains(q.codes, f.stint.Code) {
			q.codes = append(q.codes, f.stint.Code)
		}
	}
	if len(q.controls) == 0 {
		return nil, fault.New(fault.Invalid, "no stint of the control %s has a value of %s", in.Control, m.ID).WithHint("without a control there is nothing to compare with")
	}
	if len(q.codes) == 0 {
		return nil, fault.New(fault.Invalid, "only the control %s has values of %s", in.Control, m.ID).WithHint("drive a candidate")
	}
	q.doubts(set)
	return q, nil
}

// order puts the stints that have values into blocks and segments.
func (q *sequence) order(all []fitment, set Settings) error {
	firstX, lastX := map[string]float64{}, map[string]float64{}
	var breaks []float64
	for i := range all {
		f := &all[i]
		f.x = f.stint.Position
		if set.By == ByClock {
			if f.stint.ClockS == nil {
				if len(f.values) == 0 {
					continue
				}
				return fault.New(fault.Invalid, "stint %s has no clock time, but drift is to run by the clock", f.stint.ID).
					At("%s", cmp.Or(where(f.stint.File, f.stint.Line), "stint "+f.stint.ID)).WithHint("fill the clock in, or go by position")
			}
			f.x = *f.stint.ClockS
			if !(math.Abs(f.x) <= largest) {
				return fault.New(fault.Invalid, "stint %s has no finite clock time", f.stint.ID)
			}
		}
		if f.stint.Break {
			breaks = append(breaks, f.stint.Position)
		}
	}
	slices.Sort(breaks)
	breaks = slices.Compact(breaks)
	sorted := make([]int, 0, len(all))
	for i := range all {
		if len(all[i].values) > 0 {
			sorted = append(sorted, i)
		}
	}
	slices.SortStableFunc(sorted, func(a, b int) int { return cmp.Compare(all[a].stint.Position, all[b].stint.Position) })
	for _, i := range sorted {
		f := &all[i]
		b := f.stint.Block
		if _, ok := firstX[b]; !ok {
			q.blocks = append(q.blocks, b)
			firstX[b], lastX[b] = f.x, f.x
		}
		firstX[b], lastX[b] = min(firstX[b], f.x), max(lastX[b], f.x)
	}
	// Blocks that follow each other each count from their own beginning: a
	// common curve is one of the time of day, not of the whole week.
	follow := true
	for i, b := range q.blocks {
		for _, c := range q.blocks[:i] {
			if firstX[b] <= lastX[c] && firstX[c] <= lastX[b] {
				follow = false
			}
		}
	}
	type key struct {
		block string
		part  int
	}
	segment := map[key]int{}
	for bi, b := range q.blocks {
		for _, i := range sorted {
			f := all[i]
			if f.stint.Block != b {
				continue
			}
			part, _ := slices.BinarySearch(breaks, f.stint.Position)
			if part < len(breaks) && breaks[part] == f.stint.Position {
				part++
			}
			k := key{b, part}
			s, ok := segment[k]
			if !ok {
				s = q.segments
				segment[k] = s
				q.segments++
				q.blockOf = append(q.blockOf, bi)
			}
			f.segment, f.u = s, f.x
			if follow {
				f.u -= firstX[b]
			}
			if n := len(q.stints); n > 0 && q.stints[n-1].segment == s {
				last := &q.stints[n-1]
				switch {
				case f.x == last.x:
					return fault.New(fault.Invalid, "stints %s and %s stand at the same %s", last.stint.ID, f.stint.ID, set.By).
						WithHint("no two fittings of one block are at once")
				case f.x < last.x:
					return fault.New(fault.Invalid, "stint %s comes after stint %s by position, but before it by clock", f.stint.ID, last.stint.ID).
						WithHint("mend the clock, or go by position")
				}
			}
			q.stints = append(q.stints, f)
		}
	}
	return nil
}

// doubts says what the layout leaves open.
func (q *sequence) doubts(set Settings) {
	single, least, most := 0, math.MaxInt, 0
	for i := range q.stints {
		n := q.stints[i].n()
		if n == 1 {
			single++
		}
		least, most = min(least, n), max(most, n)
	}
	switch {
	case single == len(q.stints):
		q.caveats.Add("one_run_a_stint", caveat.Place{}, "Every stint has one run: how runs scatter within a stint is not known. The comparison does not rest on it.")
	case least != most:
		q.caveats.Add("unequal_runs", caveat.Place{}, "Stints have %d to %d runs; their means are compared as if equally certain.", least, most)
	}
	if len(q.controls) == 1 {
		q.caveats.Add("only_one_control", caveat.Place{Code: q.control}, "The control was fitted once: drift is not known.")
	}
	for s := range q.segments {
		has := false
		for _, i := range q.controls {
			has = has || q.stints[i].segment == s
		}
		if !has {
			q.caveats.Add("block_without_control", caveat.Place{Stint: q.first(s).stint.ID}, "The stretch that begins here has no control of its own%s.", nameOf(q.blocks[q.blockOf[s]]))
		}
	}
	q.use(set)
}

func nameOf(block string) string {
	if block == "" {
		return ""
	}
	return " (block " + block + ")"
}

func (q *sequence) first(segment int) *fitment {
	for i := range q.stints {
		if q.stints[i].segment == segment {
			return &q.stints[i]
		}
	}
	return &q.stints[0]
}

// use says where control and candidates differ in what they had run.
func (q *sequence) use(set Settings) {
	known, runsKnown := true, true
	var sum [2]float64
	var count [2]float64
	var most [2]int
	for i := range q.stints {
		f := &q.stints[i]
		known = known && f.stint.UseM != nil
		runsKnown = runsKnown && f.stint.Set != ""
		k := 1
		if f.control {
			k = 0
		}
		if known {
			sum[k] += *f.stint.UseM
		}
		count[k]++
		most[k] = max(most[k], f.useRuns)
	}
	switch {
	case known && set.UseLimitM != nil:
		if d := sum[0]/count[0] - sum[1]/count[1]; math.Abs(d) > *set.UseLimitM {
			q.caveats.Add("unequal_use", caveat.Place{Code: q.control}, "The control's sets had run %.0f m more on the mean than the candidates' when fitted, beyond the limit of %.0f m: wear of the control looks like drift and is given to the candidates.", d, *set.UseLimitM)
		}
	case runsKnown && most[0] > 0 && most[0] > most[1]:
		q.caveats.Add("unequal_use", caveat.Place{Code: q.control}, "A set of the control had done %d runs before its last stint, no candidate's more than %d: wear of the control looks like drift and is given to the candidates.", most[0], most[1])
	}
}

func (q *sequence) setsOf(code string) []string {
	var out []string
	for i := range q.stints {
		if s := q.stints[i].stint; s.Code == code && s.Set != "" && !slices.Contains(out, s.Set) {
			out = append(out, s.Set)
		}
	}
	return out
}

// level gives the reference level in the measure's unit.
func (q *sequence) level(set Settings) float64 {
	switch set.Reference {
	case StatedLevel:
		return *set.StatedLevel
	case MeanOfControls:
		s := 0.0
		for _, i := range q.controls {
			s += q.stints[i].mean
		}
		return s / float64(len(q.controls))
	}
	return q.stints[q.controls[0]].mean
}

// admit refuses what the correction cannot be made from.
func (q *sequence) admit(drift Drift, set Settings) error {
	allowed := set.Open == OpenAllowed && drift == Bracket
	if len(q.controls) == 1 && drift != NoDrift && !allowed {
		f := q.stints[q.controls[0]]
		return fault.New(fault.Invalid, "the control %s was fitted once: there is nothing to see drift by", q.control).
			At("%s", cmp.Or(where(f.stint.File, f.stint.Line), "stint "+f.stint.ID)).
			WithHint("fit the control again to close the block, or compare without correction: --drift none")
	}
	// A level for each stretch between breaks, slope and bend, and one more.
	if least := q.segments + 3; drift == Quadratic && len(q.blocks) == 1 && len(q.controls) < least {
		return fault.New(fault.Invalid, "a parabola through %d control stints fits them exactly and shows nothing", len(q.controls)).
			WithHint("a parabola needs at least %d control stints here; choose --drift linear or bracket", least)
	}
	if drift == NoDrift {
		return nil
	}
	modelled := drift != Bracket && len(q.blocks) > 1
	for s := range q.segments {
		first := -1
		for _, i := range q.controls {
			if q.stints[i].segment == s {
				first = i
				break
			}
		}
		for i := range q.stints {
			f := &q.stints[i]
			if f.segment != s || f.control {
				continue
			}
			if first >= 0 && i < first && !modelled {
				return fault.New(fault.Invalid, "candidate %s (stint %s) was driven before the first control%s", f.stint.Code, f.stint.ID, nameOf(f.stint.Block)).
					At("%s", cmp.Or(where(f.stint.File, f.stint.Line), "stint "+f.stint.ID)).
					WithHint("the control opens and closes every sequence; leave the stint out, or compare without correction: --drift none")
			}
			if first < 0 && drift == Bracket {
				return fault.New(fault.Invalid, "candidate %s (stint %s) has no control between the breaks that enclose it%s", f.stint.Code, f.stint.ID, nameOf(f.stint.Block)).
					At("%s", cmp.Or(where(f.stint.File, f.stint.Line), "stint "+f.stint.ID)).
					WithHint("drift is never carried across a declared break or from block to block")
			}
		}
	}
	return nil
}
