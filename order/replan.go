package order

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/order/day"
	"example.org/bookend/order/search"
)

// Replan asks how to go on after something went wrong: a shower, a set that is
// lost, a tyre that was changed. What is driven is kept, what is left is
// optimised anew within the time and the wear that are left.
type Replan struct {
	Request Request        // as planned; its numbers of stints are those of the whole plan, its times begin now
	Driven  [][]string     // codes, a slice a block; stints that will be excluded are left out
	Fresh   bool           // what is left begins a block of its own: the surface is another, or drift is not to be carried over
	Lost    []string       // codes that cannot be driven any more
	Left    map[string]int // stints that the sets of a code still last; none named: as many as are planned
	Reason  string         // insisted on: it is logged as a deviation from the plan
}

// Replanned is how to go on.
type Replanned struct {
	Rest    []Stint     // from the next stint on; positions count from the first stint of the test
	Left    []Candidate // candidates' stints that are left out against the plan, where there are any
	Score   Score       // of the whole, what is driven included
	Planned *Score      // of the order as it was planned, had nothing gone wrong; nil where it cannot be made
	Proven  bool        // every order of what is left was tried
	Reason  string
	Caveats caveat.List
}

// mostDrops ends the search for what to leave out.
const mostDrops = mostStints

// Again plans the rest. Stopped, it gives context.Canceled.
func Again(p Replan) (*Replanned, error) {
	r := p.Request.complete()
	if strings.TrimSpace(p.Reason) == "" {
		return nil, fault.New(fault.Invalid, "no reason is given for planning anew").WithHint("it is logged as a deviation from the plan: say what happened")
	}
	if err := r.check(); err != nil {
		return nil, err
	}
	number := map[string]int8{r.Control: 0}
	total := []int{r.ControlStints}
	for i, c := range r.Candidates {
		number[c.Code] = int8(i + 1)
		total = append(total, c.Repeats)
	}
	for code := range p.Left {
		if _, ok := number[code]; !ok {
			return nil, fault.New(fault.NotFound, "code %s has stints left and is neither control nor candidate", code)
		}
	}
	for _, code := range p.Lost {
		if _, ok := number[code]; !ok {
			return nil, fault.New(fault.NotFound, "code %s is lost and is neither control nor candidate", code)
		}
	}
	driven := make([]int, len(total))
	stints := 0
	var done [][]int8
	for _, b := range p.Driven {
		if len(b) == 0 {
			continue
		}
		var seq []int8
		for _, code := range b {
			n, ok := number[code]
			if !ok {
				return nil, fault.New(fault.NotFound, "code %s was driven and is neither control nor candidate", code).WithHint("name it among the candidates")
			}
			seq = append(seq, n)
			driven[n]++
			stints++
		}
		done = append(done, seq)
	}
	if stints > mostStints {
		return nil, fault.New(fault.Unsupported, "%d stints driven are too many for one order, at most %d are planned", stints, mostStints).WithHint("plan the rest as a programme of its own")
	}
	a := &again{req: r, p: p, done: done, driven: driven, room: math.MaxInt32}
	if r.Times != nil {
		n, err := r.Times.Fit(r.Runs)
		if err != nil {
			return nil, err
		}
		a.room = n
	}
	// What is wished for, and what each code still lasts.
	want := make([]int, len(total))
	most := make([]int, len(total))
	for c := range total {
		code := r.Control
		if c > 0 {
			code = r.Candidates[c-1].Code
		}
		want[c] = max(0, total[c]-driven[c])
		most[c] = mostStints
		if n, ok := p.Left[code]; ok {
			most[c] = max(0, n)
		}
		if slices.Contains(p.Lost, code) {
			most[c] = 0
		}
		if c > 0 {
			want[c] = min(want[c], most[c])
		}
	}
	best, err := a.fit(want, most[0])
	if r.stopped() {
		return nil, context.Canceled
	}
	if err != nil {
		return nil, err
	}
	return a.lay(best, total, stints)
}

// again is the search for the rest.
type again struct {
	req    Request
	p      Replan
	done   [][]int8
	driven []int
	room   int // stints that time allows
}

// option is one way to go on.
type option struct {
	l     *layout
	seq   []int8
	value float64
	want  []int // of candidates and control, from now on
	found *search.Found
}

// layoutOf lays out what is driven and what is wanted; candidates that have
// neither are left out.
func (a *again) layoutOf(want []int) *layout {
	r := a.req
	rules := search.Rules{
		Codes: []string{r.Control}, Total: []int{a.driven[0] + want[0]},
		MostBetween: r.MostBetween, OpenEnds: r.OpenEnds, SameTwice: r.SameTwice, Fresh: a.p.Fresh,
	}
	to := make([]int8, len(want))
	r.Candidates = nil
	for c := 1; c < len(want); c++ {
		if n := a.driven[c] + want[c]; n > 0 {
			to[c] = int8(len(rules.Codes))
			rules.Codes = append(rules.Codes, a.req.Candidates[c-1].Code)
			rules.Total = append(rules.Total, n)
			r.Candidates = append(r.Candidates, Candidate{a.req.Candidates[c-1].Code, n})
		}
	}
	for _, b := range a.done {
		seq := make([]int8, len(b))
		for i, c := range b {
			seq[i] = to[c]
		}
		rules.Done = append(rules.Done, seq)
	}
	r.ControlStints, r.Reversed = rules.Total[0], false
	l := &layout{search.New(rules), r}
	if r.Stop != nil {
		l.Stopped = r.stopped
	}
	return l
}

// try scores the best order of what is wanted with the number of control stints
// that serves best; nil where none keeps the rules within the room.
func (a *again) try(want []int, mostControls int, effort float64) *option {
	var best *option
	rest := sum(want[1:])
	for controls := 0; controls <= min(mostControls, rest+2, a.room-rest); controls++ {
		if a.req.stopped() {
			return nil
		}
		if want[0] > 0 && controls > want[0]+1 && best != nil {
			break // more of the control than the plan had only where the rules ask for it
		}
		w := slices.Clone(want)
		w[0] = controls
		if rest+controls == 0 {
			continue
		}
		l := a.layoutOf(w)
		if l.Clash() != nil {
			continue
		}
		f := l.best(effort)
		if f == nil || f.Value > mostVariance {
			continue
		}
		if best == nil || f.Value < best.value*(1-1e-12) {
			best = &option{l: l, seq: f.Best, value: f.Value, want: w, found: f}
		}
	}
	return best
}

// fit finds what of the plan can still be driven: all of it, or, where time,
// wear or the rules do not allow it, as much as leaves the least criterion.
func (a *again) fit(want []int, mostControls int) (*option, error) {
	for range mostDrops {
		if sum(want[1:]) == 0 || a.req.stopped() {
			break
		}
		if sum(want[1:])+1 <= a.room {
			if o := a.try(want, mostControls, 0.05); o != nil {
				if full := a.try(o.want, o.want[0], 0.5); full != nil && full.value < o.value {
					o = full
				}
				return o, nil
			}
		}
		// Leave out one stint: of whom it costs least, the candidates with the most
		// stints first.
		drop, most := 0, 0
		for c := 1; c < len(want); c++ {
			if n := a.driven[c] + want[c]; want[c] > 0 && n >= most {
				drop, most = c, n
			}
		}
		want = slices.Clone(want)
		want[drop]--
	}
	// Nothing of the candidates; a control may still close what is open.
	want = make([]int, len(want))
	if a.room >= 1 && mostControls >= 1 && !a.p.Fresh && len(a.done) > 0 {
		last := a.done[len(a.done)-1]
		if last[len(last)-1] != 0 {
			if o := a.try(want, 1, 0.05); o != nil {
				return o, nil
			}
		}
	}
	why := []string{}
	if a.room < 3 && a.req.Times != nil {
		why = append(why, "the time that is left")
	}
	if mostControls < 2 {
		why = append(why, "the control's sets")
	}
	why = append(why, "the sets that are left", "the rules of the order")
	return nil, fault.New(fault.Invalid, "nothing can be driven any more that keeps all of: %s", strings.Join(why, "; ")).
		WithHint("what was driven stands; plan another day, or declare a break: what is left then begins anew")
}

// lay fills in what was found.
func (a *again) lay(o *option, total []int, stints int) (*Replanned, error) {
	l := o.l
	score, err := l.scoreOver(o.seq, l.Lengths)
	if err != nil {
		return nil, err
	}
	out := &Replanned{Score: *score, Proven: o.found.Proven, Reason: a.p.Reason}
	codes := l.Text(o.seq)
	sets, _, err := l.wear(codes)
	if err != nil {
		// The budget is the caller's to count set by set (Left): here sets only have names.
		plain := *l
		plain.req.Wear = nil
		if sets, _, err = plain.wear(codes); err != nil {
			return nil, err
		}
	}
	rest := len(codes) - stints
	var slots []*day.Slot
	if a.req.Times != nil && rest > 0 {
		s, err := a.req.Times.Timetable([]int{rest}, a.req.Runs)
		if err != nil {
			return nil, err
		}
		for i := range s {
			slots = append(slots, &s[i])
		}
	}
	at := 0
	for b, n := range l.Lengths {
		for range n {
			if i := at - stints; i >= 0 {
				s := Stint{Position: at + 1, Block: b + 1, Code: codes[at], Set: sets[at]}
				if slots != nil {
					s.Slot = slots[i]
				}
				out.Rest = append(out.Rest, s)
			}
			at++
		}
	}
	add := func(code, format string, args ...any) { out.Caveats.Add(code, caveat.Place{}, format, args...) }
	for c := 1; c < len(total); c++ {
		code := a.req.Candidates[c-1].Code
		left := total[c] - a.driven[c] - o.want[c]
		if left <= 0 {
			continue
		}
		out.Left = append(out.Left, Candidate{code, left})
		if a.driven[c]+o.want[c] == 0 {
			add("candidate_left_out", "Candidate %s is not driven at all any more: nothing will be said of it.", code)
		} else {
			add("stints_left_out", "Candidate %s is driven %s less than planned.", code, times(left))
		}
	}
	if a.p.Fresh {
		add("fresh_block", "What is left begins a block of its own: drift is not carried across, and the blocks are joined through the tyres that recur in them.")
	} else if len(out.Rest) > 0 && out.Rest[len(out.Rest)-1].Code != a.req.Control && !a.req.OpenEnds {
		add("open_block", "The block is not closed by the control.")
	}
	add("replanned", "The order was planned anew after stint %d: %s.", stints, strings.TrimRight(a.p.Reason, "."))
	whole := a.req
	whole.Times, whole.Wear, whole.Fitment = nil, nil, nil
	if m, err := whole.layout(); err == nil && m.Clash() == nil {
		if f := m.best(0.1); f != nil && f.Value <= mostVariance {
			if s, err := m.score(f.Best); err == nil {
				out.Planned = s
			}
		}
	}
	return out, nil
}

// times says how often.
func times(n int) string {
	switch n {
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return fmt.Sprintf("%d times", n)
}

func sum(list []int) int {
	n := 0
	for _, v := range list {
		n += v
	}
	return n
}
