// Package advice says after each stint what could be shown by now, and what the
// next stint would best be: the control, a repeat of which candidate, or none.
//
// It looks at scatter and drift, at wear and at the time that is left, and never
// at how a candidate compares: who drives on or stops by the differences seen is
// wrong more often than the verdict says. Stopping when the scatter merely looks
// small does the same, if less: the smaller the estimate that stops, the narrower
// the intervals that follow. So the advice says "stop" for certainty only at a
// look that the plan names, at the level that the plan lets it spend (package
// stat/looks); the verdict that is given there is a test of its own at that
// level, and whatever rule stopped, the error over all looks is at most what was
// planned. Without looks it stops only where the plan ends, or where time or wear
// do.
//
// The gain of a stint is by how much the smallest difference that can be shown
// falls, for each stint that it costs, the control that closes its bracket
// counted in. Differences are on the scatter's scale. Nothing here concerns how
// fast anybody drives.
package advice

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/order"
)

// Kind is what the next stint is to be.
type Kind string

// Kinds of next stint.
const (
	Control   Kind = "control"
	Candidate Kind = "candidate"
	Stop      Kind = "stop"
	Wait      Kind = "wait" // for the engineer: something has to be looked at first
)

// Look is one that the plan names: a number of stints, the control that closes
// the bracket among them, and the level that it adds.
type Look struct {
	Stints int
	Level  float64
}

// State is where the day stands.
type State struct {
	Request    order.Request // codes, correction, drift, rules and test; its numbers of stints do not count
	Blocks     [][]string    // codes driven, a slice a block; a declared break begins a new one
	Left       map[string]int
	MostStints int // that time allows from now on; negative: any
	Planned    int // stints of the whole plan; 0: not told

	SD, DF             float64 // of stint means about tyre and drift, as this programme shows it; DF 0: nothing yet
	RecordSD, RecordDF float64 // of the ground's record; DF 0: none

	Looks   []Look
	Decided []string // candidates decided at an earlier look of the plan
	Check   *Check   // of the newest control; nil: not to be had
	Held    []string // codes whose set is held until released
}

// Showable is what could be shown of one candidate.
type Showable struct {
	Code  string
	Value *float64 // on the scatter's scale; nil: nothing yet
	Open  bool     // its bracket is not closed
}

// Option is one thing that can be done next, with the control that closes it.
type Option struct {
	Kind   Kind
	Code   string
	Stints int     // that it costs
	After  float64 // smallest difference that every candidate undecided shows then; infinite: none
	Gain   float64 // by which it falls, a stint; 0 where nothing could be shown before
}

// Advice is what is said after a stint.
type Advice struct {
	Driven  int
	Now     []Showable
	Largest *float64 // what can be shown of every candidate undecided; nil: nothing yet
	SD, DF  float64  // the scatter that this rests on
	Next    Kind
	Code    string
	Reason  string
	Gain    float64 // fall of Largest, a stint
	After   *float64
	Look    *Look // that stands here: the verdict is at its level
	Options []Option
	Caveats caveat.List
}

// Advisor gives advice; it remembers what sequences can show, so that one
// advisor serves a day. It is used by one goroutine.
type Advisor struct {
	shown map[string]*order.Showable
}

// New gives an advisor.
func New() *Advisor { return &Advisor{shown: map[string]*order.Showable{}} }

func (a *Advisor) showable(s *State, blocks [][]string, level float64) (*order.Showable, error) {
	var key strings.Builder
	fmt.Fprintf(&key, "%v %v %v %v %v", level, s.RecordDF, s.Request.Correction, s.Request.Test, s.Request.Drift.StepSD)
	for _, c := range s.Request.Candidates {
		key.WriteString(" " + c.Code)
	}
	for _, b := range blocks {
		key.WriteString("/" + strings.Join(b, " "))
	}
	if v, ok := a.shown[key.String()]; ok {
		return v, nil
	}
	v, err := order.ShowableBy(s.Request, blocks, level, s.RecordDF)
	if err != nil {
		return nil, err
	}
	a.shown[key.String()] = v
	return v, nil
}

// scatter pools this programme's scatter with the record's.
func (s *State) scatter() (sd, df float64) {
	df = s.DF + s.RecordDF
	if !(df > 0) {
		return 0, 0
	}
	return math.Sqrt((s.SD*s.SD*s.DF + s.RecordSD*s.RecordSD*s.RecordDF) / df), df
}

func (s *State) check() error {
	for _, v := range []float64{s.SD, s.DF, s.RecordSD, s.RecordDF} {
		if !(v >= 0) || math.IsInf(v, 0) {
			return fault.New(fault.Invalid, "the scatter has a standard deviation or degrees of freedom of %v", v).WithHint("they are 0 or more")
		}
	}
	last := 0
	for i, l := range s.Looks {
		if l.Stints <= last || !(l.Level > 0 && l.Level < 1) {
			return fault.New(fault.Invalid, "look %d is after %d stints at the level %v", i+1, l.Stints, l.Level).WithHint("rising numbers of stints, levels between 0 and 1")
		}
		last = l.Stints
	}
	return nil
}

// After says what the next stint is best.
func (a *Advisor) After(s State) (*Advice, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	r := &s.Request
	out := &Advice{}
	driven := map[string]int{}
	lastCode, between, blocks := "", 0, s.Blocks
	for i, b := range blocks {
		if i == len(blocks)-1 {
			between = 0
		}
		lastCode = ""
		for _, c := range b {
			out.Driven++
			driven[c]++
			lastCode = c
			if c == r.Control {
				between = 0
			} else {
				between++
			}
		}
	}
	var open []string // candidates undecided, that may be driven on
	var undecided []string
	for _, c := range r.Candidates {
		if slices.Contains(s.Decided, c.Code) {
			continue
		}
		undecided = append(undecided, c.Code)
		if !slices.Contains(s.Held, c.Code) && s.left(c.Code) > 0 {
			open = append(open, c.Code)
		}
	}
	level := 1 - r.Test.Confidence
	if r.Test.Confidence == 0 {
		level = 0.05
	}
	closed := lastCode == r.Control
	if closed {
		for i := range s.Looks {
			if s.Looks[i].Stints == out.Driven {
				out.Look = &s.Looks[i]
			}
		}
	}
	// Between looks, what can be shown is counted at the level of the next one.
	for _, l := range s.Looks {
		if level = l.Level; l.Stints >= out.Driven {
			break
		}
	}
	now, err := a.showable(&s, blocks, level)
	if err != nil {
		return nil, err
	}
	out.SD, out.DF = s.scatter()
	shown := map[string]float64{}
	if now != nil {
		for i, c := range now.Codes {
			shown[c] = now.InSD[i] * out.SD
		}
	}
	_, notClosed := order.Closed(r.Control, blocks)
	for _, c := range r.Candidates {
		v := Showable{Code: c.Code, Open: slices.Contains(notClosed, c.Code)}
		if x, ok := shown[c.Code]; ok && out.DF > 0 {
			v.Value = &x
		}
		out.Now = append(out.Now, v)
	}
	if largest := now.Largest(undecided) * out.SD; out.DF > 0 && !math.IsInf(largest, 0) && largest > 0 {
		out.Largest = &largest
	}

	say := func(k Kind, code, format string, args ...any) (*Advice, error) {
		out.Next, out.Code, out.Reason = k, code, fmt.Sprintf(format, args...)
		return out, nil
	}
	controls := s.left(r.Control)
	if slices.Contains(s.Held, r.Control) {
		controls = 0
	}
	time := s.MostStints
	if time < 0 {
		time = math.MaxInt32
	}
	switch {
	case s.Check != nil && s.Check.Moved:
		if closed && controls > 0 && time > 0 && !(s.Check.Again) {
			return say(Wait, "", "The control is not where it was: %s. Look for the reason first; then the control once more, before any candidate.", s.Check.Text)
		}
		return say(Wait, "", "The control is not where it was: %s. Look for the reason before anything is driven.", s.Check.Text)
	case out.Driven == 0 || lastCode == "":
		if controls < 1 || time < 1 {
			return say(Stop, "", "No control can be driven, and nothing begins without it.")
		}
		return say(Control, r.Control, "The control opens the block.")
	case !closed && (controls < 1 || time < 1):
		return say(Stop, "", "The bracket stays open: no control can be driven any more. What was driven since the last one is compared with that alone, with drift in the error.")
	case !closed && (len(open) == 0 || r.MostBetween > 0 && between >= r.MostBetween || time < 2):
		return say(Control, r.Control, "The control closes the bracket: %s.", map[bool]string{true: "no more may stand between two", false: "nothing else is left to be driven before it"}[len(open) > 0 && time >= 2])
	}
	if closed {
		switch {
		case len(undecided) == 0:
			return say(Stop, "", "Every candidate has been decided at a look of the plan.")
		case out.Look != nil && r.Test.Wanted > 0 && out.Largest != nil && *out.Largest <= r.Test.Wanted:
			return say(Stop, "", "This is look %d of the plan, and whatever is to be shown could be shown by now of every candidate.", slices.Index(s.Looks, *out.Look)+1)
		case s.Planned > 0 && out.Driven >= s.Planned:
			return say(Stop, "", "The plan has been driven to its end.")
		case len(open) == 0:
			return say(Stop, "", "No candidate that is undecided has a set left to be driven: wear, or a set that is held.")
		case time < 2 || controls < 1:
			return say(Stop, "", "Time or the control's sets do not allow a stint and the control that closes it.")
		}
	}
	if err := a.options(&s, out, blocks, open, undecided, between, closed, min(time, math.MaxInt32), level); err != nil {
		return nil, err
	}
	if len(out.Options) == 0 {
		return say(Control, r.Control, "The control closes the bracket.")
	}
	best := out.Options[0]
	out.Gain = best.Gain
	if out.DF > 0 && !math.IsInf(best.After, 0) && best.After > 0 {
		out.After = &best.After
	}
	why := ""
	switch {
	case out.Largest == nil && out.After != nil:
		why = "after it and the control that closes it something can be shown of every candidate for the first time"
	case out.Largest == nil:
		why = "too few stints yet to show anything; it goes on with the pass"
	default:
		why = fmt.Sprintf("it lowers the smallest difference that can be shown by the most a stint, %.1f %% of it", 100*best.Gain / *out.Largest)
	}
	if best.Kind == Control {
		return say(Control, r.Control, "The control: %s.", why)
	}
	again := "a first stint"
	if driven[best.Code] > 0 {
		again = "a repeat"
	}
	return say(Candidate, best.Code, "%s, %s: %s.", best.Code, again, why)
}

func (s *State) left(code string) int {
	if n, ok := s.Left[code]; ok {
		return max(0, n)
	}
	return math.MaxInt32
}

// options scores what can be done next: each candidate followed by those others
// that need it most, as many as pay, and the control; or the control at once.
// The criterion is the mean square of what can be shown of the undecided, so that
// each repeat counts, not only that of the least known.
func (a *Advisor) options(s *State, out *Advice, blocks [][]string, open, undecided []string, between int, closed bool, time int, level float64) error {
	r := &s.Request
	room := time - 1
	if r.MostBetween > 0 {
		room = min(room, r.MostBetween-between)
	}
	last := blocks[len(blocks)-1]
	// Without any scatter the options are told apart in its unit.
	sd := out.SD
	if !(out.DF > 0) {
		sd = 1
	}
	score := func(then []string) (mean, largest float64, err error) {
		next := slices.Clone(blocks)
		next[len(next)-1] = append(slices.Clone(last), then...)
		v, err := a.showable(s, next, level)
		if err != nil {
			return 0, 0, err
		}
		sum := 0.0
		for _, c := range undecided {
			x := v.Largest([]string{c}) * sd
			sum += x * x
			largest = math.Max(largest, x)
		}
		return math.Sqrt(sum / float64(max(1, len(undecided)))), largest, nil
	}
	before, largest, err := score(nil)
	if err != nil {
		return err
	}
	counts := map[string]int{}
	for _, b := range blocks {
		for _, c := range b {
			counts[c]++
		}
	}
	// Who needs it most: the fewest stints first, then the order of the request
	// reversed in every other pass, which is what takes a straight drift out.
	need := slices.Clone(open)
	pass := 0
	for _, c := range open {
		pass = max(pass, counts[c])
	}
	if pass%2 == 1 {
		slices.Reverse(need)
	}
	slices.SortStableFunc(need, func(a, b string) int { return counts[a] - counts[b] })
	type scored struct {
		Option
		rate float64
	}
	var list []scored
	add := func(kind Kind, code string, then []string) error {
		mean, most, err := score(then)
		if err != nil {
			return err
		}
		o := scored{Option: Option{Kind: kind, Code: code, Stints: len(then), After: most}}
		if !(out.DF > 0) {
			o.After = math.Inf(1)
		}
		switch {
		case !math.IsInf(before, 0):
			o.rate = (before - mean) / float64(len(then))
		case !math.IsInf(mean, 0):
			o.rate = 1 / (mean * float64(len(then))) // the first that shows anything: the least of it
		}
		if !math.IsInf(largest, 0) {
			o.Gain = (largest - most) / float64(len(then))
		}
		for i, v := range list {
			if v.Kind == kind && v.Code == code {
				if o.rate > v.rate*(1+1e-12) {
					list[i] = o
				}
				return nil
			}
		}
		list = append(list, o)
		return nil
	}
	if !closed {
		if err := add(Control, r.Control, []string{r.Control}); err != nil {
			return err
		}
	}
	prev := last[len(last)-1]
	for _, c := range need {
		if c == prev && !r.SameTwice {
			continue
		}
		then := []string{c}
		for _, d := range append([]string{""}, need...) {
			if d == c {
				continue
			}
			if d != "" {
				then = append(then, d)
			}
			if len(then) > room {
				break
			}
			if err := add(Candidate, c, append(slices.Clone(then), r.Control)); err != nil {
				return err
			}
		}
	}
	// Nothing to choose by yet: go on with the pass.
	slices.SortStableFunc(list, func(a, b scored) int {
		switch {
		case a.rate > b.rate*(1+1e-9):
			return -1
		case b.rate > a.rate*(1+1e-9):
			return 1
		case a.Kind != b.Kind && a.rate == 0: // both show nothing yet
			if a.Kind == Candidate {
				return -1
			}
			return 1
		}
		return 0
	})
	for _, o := range list {
		out.Options = append(out.Options, o.Option)
	}
	return nil
}
