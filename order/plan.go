package order

import (
	"context"
	"math/rand/v2"
	"slices"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/order/day"
	"example.org/bookend/order/drift"
	"example.org/bookend/tyre"
)

// Fitment is what load, speed and pressure are checked against.
type Fitment struct {
	Sizes []tyre.Size // every size that is fitted
	Axles []tyre.Axle
	Duty  tyre.Duty
}

// Stint is one place of a planned order.
type Stint struct {
	Position int // from 1
	Block    int // from 1
	Code     string
	Set      string    // code and number of the set, in rotation
	Slot     *day.Slot // nil without times
}

// Variances is how well one candidate is told from the control, in units of the
// variance of a stint mean.
type Variances struct {
	Code  string
	Under [4]float64 // each drift model, in the order of DriftModels, by the plan's correction
	Best  [4]float64 // the least that any unbiased analysis of this order could have
	Free  float64    // without drift and without correction
}

// Score is how an order stands.
type Score struct {
	Criterion  float64
	Candidates []Variances // in the order of the request
	Detectable *Detectable // nil without degrees of freedom, or with Bound
	// Correlations of the estimates of the candidates; nil with Bound.
	Correlations [][]float64
}

// Alternative is what a control stint more or fewer would do.
type Alternative struct {
	ControlStints int
	Stints        int
	Criterion     float64
	Detectable    *Detectable
	Clash         error // why there is no such order; the rest is empty then
}

// Plan is an order with all that is known of it before the day.
type Plan struct {
	Request     Request // completed
	Sequence    []Stint
	Score       Score
	Best        []string // an order of the least criterion found
	BestValue   float64  // its criterion
	Proven      bool     // every order that keeps the rules was tried
	Tried       int      // orders, up to exchanging candidates of equal standing
	Near        int      // of them within 2 % of the best: one of these was drawn
	More, Fewer *Alternative
	Needed      *Needed   // smallest programme for the wanted difference; nil where none is wanted or none was found
	RunsNeeded  int       // runs a stint with which this order shows it; 0: no number of runs does, or none is wanted
	Uses        []day.Use // nil without a wear budget
	Caveats     caveat.List
}

// Make plans an order. Constraints that do not go together are an Invalid fault
// that names them; so is a tyre over its load, speed or pressure. Stopped, it
// gives context.Canceled.
func Make(r Request) (*Plan, error) {
	l, err := r.layout()
	if err != nil {
		return nil, err
	}
	p := &Plan{Request: l.req}
	if f := r.Fitment; f != nil {
		if len(f.Sizes) == 0 {
			return nil, fault.New(fault.Invalid, "load, speed and pressure are to be checked, but no size is named").WithHint("name the size of every set")
		}
		for _, size := range f.Sizes {
			doubts, err := size.Check(f.Axles, f.Duty)
			if err != nil {
				return nil, err
			}
			p.Caveats = append(p.Caveats, doubts...)
		}
	}
	if err := l.Clash(); err != nil {
		return nil, err
	}
	var slots []day.Slot
	if r.Times != nil {
		if slots, err = r.Times.Timetable(l.Lengths, l.req.Runs); err != nil {
			return nil, err
		}
	}
	found := l.best(1)
	if r.stopped() {
		return nil, context.Canceled
	}
	if found == nil {
		return nil, fault.New(fault.Invalid, "no order was found that keeps all the rules").WithHint("let more stand between two controls, or plan another control stint")
	}
	if found.Value > mostVariance {
		return nil, fault.New(fault.Invalid, "with correction %s no order tells every candidate from the control", l.req.Correction).
			WithHint("plan another control stint, or a simpler correction")
	}
	p.Best, p.BestValue, p.Proven, p.Tried, p.Near = l.Text(found.Best), found.Value, found.Proven, found.Tried, found.Near

	// PCG's second word keeps the draw of order and codes apart from others.
	rng := rand.New(rand.NewPCG(l.req.Seed, 0x6f72646572))
	seq := l.relabel(found.Draw(rng), rng)
	if err := p.lay(l, seq, slots); err != nil {
		return nil, err
	}
	if p.More, err = l.other(+1); err != nil {
		return nil, err
	}
	if p.Fewer, err = l.other(-1); err != nil {
		return nil, err
	}
	if p.Needed, err = l.needed(); err != nil {
		return nil, err
	}
	if r.stopped() {
		return nil, context.Canceled
	}
	p.doubts(l)
	return p, nil
}

// mostVariance is where a difference counts as not to be had: a ten-thousandth
// of what mostDrift could do to a weight of one.
const mostVariance = 1e10

// relabel draws which candidate has which number among those of equal standing.
func (l *layout) relabel(seq []int8, rng *rand.Rand) []int8 {
	to := make([]int8, len(l.Codes))
	perm := rng.Perm(len(l.Codes))
	for c := 1; c < len(l.Codes); c++ {
		mates := l.Mates(int8(c))
		var drawn []int8 // the same, in the order of the permutation
		for _, d := range perm {
			if slices.Contains(mates, int8(d)) {
				drawn = append(drawn, int8(d))
			}
		}
		for i, m := range mates {
			to[m] = drawn[i]
		}
	}
	out := make([]int8, len(seq))
	for i, c := range seq {
		out[i] = to[c]
	}
	return out
}

// lay fills in the sequence, its score, sets and times.
func (p *Plan) lay(l *layout, seq []int8, slots []day.Slot) error {
	codes := l.Text(seq)
	sets, uses, err := l.wear(codes)
	if err != nil {
		return err
	}
	p.Uses = uses
	i := 0
	for b, n := range l.Lengths {
		for range n {
			s := Stint{Position: i + 1, Block: b + 1, Code: codes[i], Set: sets[i]}
			if slots != nil {
				slot := slots[i]
				s.Slot = &slot
			}
			p.Sequence = append(p.Sequence, s)
			i++
		}
	}
	if slots != nil {
		p.Caveats = append(p.Caveats, l.req.Times.BreaksInside(codes, l.req.Control, l.Lengths, slots)...)
	}
	score, err := l.score(seq)
	if err != nil {
		return err
	}
	p.Score = *score
	return nil
}

// score gives how a sequence stands.
func (l *layout) score(seq []int8) (*Score, error) {
	return l.scoreOver(seq, l.Lengths)
}

// scoreOver gives how a sequence over blocks of so many stints stands.
func (l *layout) scoreOver(seq []int8, lengths []int) (*Score, error) {
	s := l.scorerOver(lengths)
	out := &Score{Criterion: s.Criterion(seq)}
	if out.Criterion > mostVariance {
		return nil, fault.New(fault.Invalid, "with correction %s this order does not tell every candidate from the control", l.req.Correction).
			WithHint("drive the control before and after every candidate, or choose a simpler correction")
	}
	var best [4][]float64
	for m := range best {
		b, ok := s.Bound(seq, m)
		if !ok {
			return nil, fault.New(fault.Invalid, "no analysis of this order tells every candidate from the control").
				WithHint("join the blocks by codes that recur in them")
		}
		best[m] = b
	}
	for c := range l.K() {
		v := Variances{Code: l.Codes[c+1], Free: best[drift.Constant][c]}
		for m := range best {
			v.Best[m] = best[m][c]
		}
		v.Under = v.Best
		if l.req.Correction != drift.Bound {
			v.Under = s.Variance[c]
		}
		out.Candidates = append(out.Candidates, v)
	}
	if l.req.Correction == drift.Bound {
		return out, nil
	}
	out.Correlations, _ = correlations(s.W)
	d, ok, err := l.detectable(s, float64(l.df(len(seq), len(lengths))))
	if err != nil {
		return nil, err
	}
	if ok {
		out.Detectable = &d
	}
	return out, nil
}

// other plans with so many control stints more, with a quarter of the effort.
func (l *layout) other(more int) (*Alternative, error) {
	r := l.req
	r.ControlStints += more
	a := &Alternative{ControlStints: r.ControlStints, Stints: l.N() + more}
	m, err := r.layout()
	if err == nil {
		err = m.Clash()
	}
	if err == nil && r.Times != nil {
		_, err = r.Times.Timetable(m.Lengths, r.Runs)
	}
	if err != nil {
		if fault.CodeOf(err) == fault.Internal {
			return nil, err
		}
		a.Clash = err
		return a, nil
	}
	f := m.best(0.25)
	if f == nil || f.Value > mostVariance {
		a.Clash = fault.New(fault.Invalid, "no order with %d control stints was found that keeps the rules", r.ControlStints)
		return a, nil
	}
	score, err := m.score(f.Best)
	if err != nil {
		return nil, err
	}
	a.Criterion, a.Detectable = score.Criterion, score.Detectable
	if r.Wear != nil {
		if _, _, err := m.wear(m.Text(f.Best)); err != nil {
			a.Clash = err
		}
	}
	return a, nil
}

// doubts says what the plan leaves open.
func (p *Plan) doubts(l *layout) {
	add := func(code, format string, args ...any) { p.Caveats.Add(code, caveat.Place{}, format, args...) }
	if l.req.Correction != drift.Bound {
		switch df := l.df(l.N(), len(l.Lengths)); {
		case df < 1:
			add("no_degrees_of_freedom", "There are as many terms as stints: estimates, but nothing to judge them by, and every verdict will be \"not shown\". Another control stint, or candidates repeated in reversed order, would give that.")
		case df < 3:
			add("few_degrees_of_freedom", "The scatter of stints will be known from %d degrees of freedom: intervals will be very wide. Another control stint, or candidates repeated in reversed order, would narrow them most.", df)
		}
	}
	if !p.Proven {
		add("optimum_not_proven", "There are too many orders to try them all: the best of %d that were tried is not proven to be the best there is.", p.Tried)
	}
	d := p.Score.Detectable
	wanted := l.req.Test.Wanted
	if d == nil || d.Value == nil || wanted == 0 {
		return
	}
	if runs, ok := RunsFor(d.InSD, wanted, *l.req.Scatter); ok {
		p.RunsNeeded = runs
	}
	if *d.Value > wanted {
		add("wanted_not_shown", "With a power of %.0f %% this plan does not show the difference that is wanted: the smallest that it shows is %.2f times as large.", 100*l.req.Test.Power, *d.Value/wanted)
	}
	if p.Needed == nil {
		add("wanted_out_of_reach", "Up to %d stints of each candidate do not show the difference that is wanted at this scatter.", mostRepeats)
	}
}

// ScoreOrder scores an order that somebody else made, by the request's
// correction and drift: one code a stint, one slice a block. Its numbers of
// stints count, not the request's, and no rule is insisted on.
func ScoreOrder(r Request, blocks [][]string) (*Score, error) {
	count := map[string]int{}
	for _, block := range blocks {
		if len(block) == 0 {
			return nil, fault.New(fault.Invalid, "a block of the order has no stint").WithHint("leave it out")
		}
		for _, c := range block {
			count[c]++
		}
	}
	r.Blocks, r.ControlStints = len(blocks), count[r.Control]
	if r.ControlStints == 0 {
		return nil, fault.New(fault.NotFound, "the control %s is not in the order", r.Control).WithHint("name the control's code")
	}
	number := map[string]int8{r.Control: 0}
	candidates := r.Candidates
	r.Candidates = nil
	for _, c := range candidates {
		if count[c.Code] == 0 {
			return nil, fault.New(fault.NotFound, "candidate %s is not in the order", c.Code).WithHint("leave it out of the candidates, or drive it")
		}
		r.Candidates = append(r.Candidates, Candidate{c.Code, count[c.Code]})
		number[c.Code] = int8(len(r.Candidates))
	}
	l, err := r.layout()
	if err != nil {
		return nil, err
	}
	var lengths []int
	var seq []int8
	for _, block := range blocks {
		lengths = append(lengths, len(block))
		for _, c := range block {
			n, ok := number[c]
			if !ok {
				return nil, fault.New(fault.NotFound, "code %s of the order is neither control nor candidate", c).WithHint("name it among the candidates")
			}
			seq = append(seq, n)
		}
	}
	return l.scoreOver(seq, lengths)
}

// wear gives each stint its set and what each is worn by; without a budget, sets
// alone.
func (l *layout) wear(codes []string) ([]string, []day.Use, error) {
	w := day.Wear{}
	if l.req.Wear != nil {
		w = *l.req.Wear
	}
	sets, uses, err := w.Assign(codes, l.req.Control, l.req.Runs, nil)
	if l.req.Wear == nil {
		uses = nil
	}
	return sets, uses, err
}
