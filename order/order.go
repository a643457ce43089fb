// Package order plans in which order tyre sets are driven: a control tyre that
// opens and closes the sequence and returns in between, and candidates placed so
// that drift of the surface, the weather and the driver does least harm.
//
// The unit is the stint, as in the comparison that follows. Stint means scatter
// about tyre and drift with one variance; every estimate of a candidate less the
// control is a weighted sum of stint means, with the weights of the correction
// that the plan names (bracket, straight line, parabola, none). Its variance, in
// units of the variance of a stint mean, is
//
//   - under constant drift: the sum of the squared weights;
//   - under linear drift: that, and the square of what the correction leaves of
//     a straight line whose rise over a block is random, with a stated standard
//     deviation;
//   - under quadratic drift: that, and the same for a parabola beside the line;
//   - under random-walk drift: the sum of squared weights, and what the
//     correction leaves of a level that steps at random from stint to stint.
//
// A block (day, driver, session) has a level of its own and drift of its own. An
// order's criterion is the largest variance of a candidate less control under
// each drift model, averaged over the models by stated weights. Beside it stand
// the least variance that any unbiased analysis could have (generalised least
// squares with the drift model's own covariance), and the variance without drift.
//
// Small cases are enumerated, which proves the optimum; larger ones are searched
// by exchanges with a fixed seed. One order is drawn, by the plan's seed, from
// those within 2 % of the optimum, and the candidates are drawn into its places:
// that is the randomisation.
//
// Sources: Cox (1951) and Cheng and Steinberg (1991) for orders under smooth
// trend and under correlated noise; Bradley and Yeh (1980) for trend-free ones;
// Dunnett (1955) for how often the control returns; UN R117 for at most three
// candidates between controls. Units: variances in that of a stint mean, times
// in s, lengths in m. Limits: 1 to 20 candidates, 200 stints; drift runs by
// position, not by clock.
package order

import (
	"math"
	"slices"
	"strings"

	"example.org/bookend/fault"
	"example.org/bookend/order/day"
	"example.org/bookend/order/drift"
	"example.org/bookend/order/search"
	"example.org/bookend/programme"
)

// Candidate is one tyre under comparison.
type Candidate struct {
	Code    string
	Repeats int // stints
}

// Request asks for a plan. The zero value of a field is its default.
type Request struct {
	Control       string
	Candidates    []Candidate
	ControlStints int
	Blocks        int  // days, drivers or sessions; 0: one
	MostBetween   int  // candidate stints between two controls; 0: any number
	OpenEnds      bool // the control need not open and close each block
	SameTwice     bool // a code may follow itself
	Reversed      bool // each pass through the candidates in the reverse order of the one before

	Correction drift.Correction // default bracket
	Aim        drift.Aim        // default largest
	Drift      drift.Assumption
	Seed       uint64 // of the draw

	Runs    int                // runs a stint; default 1
	Scatter *programme.Scatter // nil: figures stay in stint standard deviations
	Test    Test
	Times   *day.Times // nil: no timetable
	Wear    *day.Wear  // nil: no budget
	Fitment *Fitment   // nil: load, speed and pressure are not checked

	Stop <-chan struct{} // closed: the search gives up, and there is no plan; nil: it runs to its end
}

// stopped tells whether nobody waits for the plan any more.
func (r Request) stopped() bool {
	select {
	case <-r.Stop: // of nil: never
		return true
	default:
		return false
	}
}

// UsualControls gives how many control stints a programme of these candidates usually
// has: three, two a block, and as many as keep the candidates between two within
// the limit. Common practice, no source.
func UsualControls(candidates []Candidate, blocks, mostBetween int) int {
	stints := 0
	for _, c := range candidates {
		stints += c.Repeats
	}
	n := max(3, 2*blocks)
	if mostBetween > 0 {
		n = max(n, (stints+mostBetween-1)/mostBetween+blocks)
	}
	return min(n, max(2, stints+1))
}

// Most that is planned.
const (
	mostCandidates = 20
	mostStints     = 200
)

// layout is a request made ready.
type layout struct {
	*search.Layout
	req Request
}

func (r Request) complete() Request {
	if r.Blocks == 0 {
		r.Blocks = 1
	}
	if r.Correction == "" {
		r.Correction = drift.Bracket
	}
	if r.Aim == "" {
		r.Aim = drift.Largest
	}
	if r.Runs == 0 {
		r.Runs = 1
	}
	if r.Drift.Weights == [4]float64{} {
		r.Drift.Weights = [4]float64{1, 1, 1, 1}
	}
	if r.Drift.StepSD == 0 {
		r.Drift.StepSD = drift.DefaultStepSD
		if s := r.Scatter; s != nil && s.DriftSD > 0 {
			if sd := r.stintMeanSD(); sd > 0 {
				r.Drift.StepSD = s.DriftSD / sd
			}
		}
	}
	r.Test = r.Test.complete()
	return r
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// check refuses what is no request at all; whether its constraints go together
// is for clash to say.
func (r Request) check() error {
	bad := func(format string, args ...any) *fault.Error { return fault.New(fault.Invalid, format, args...) }
	seen := map[string]bool{}
	if strings.TrimSpace(r.Control) == "" {
		return bad("the control has no code").WithHint("name it, for example K")
	}
	seen[r.Control] = true
	if len(r.Candidates) == 0 {
		return bad("there is no candidate").WithHint("name at least one")
	}
	if len(r.Candidates) > mostCandidates {
		return fault.New(fault.Unsupported, "%d candidates are too many for one order, at most %d are planned", len(r.Candidates), mostCandidates).
			WithHint("split them into programmes that share the control")
	}
	stints := r.ControlStints
	for _, c := range r.Candidates {
		switch {
		case strings.TrimSpace(c.Code) == "":
			return bad("a candidate has no code").WithHint("give each a code of its own")
		case seen[c.Code]:
			return bad("code %s is named twice", c.Code).WithHint("give control and candidates a code of their own each; repeats are a number")
		case c.Repeats < 1:
			return bad("candidate %s has %d stints", c.Code, c.Repeats).WithHint("each candidate is driven at least once")
		}
		seen[c.Code] = true
		stints += c.Repeats
	}
	if r.ControlStints < 1 {
		return bad("the control has %d stints", r.ControlStints).WithHint("it opens and closes the sequence: at least two")
	}
	if stints > mostStints {
		return fault.New(fault.Unsupported, "%d stints are too many for one order, at most %d are planned", stints, mostStints).
			WithHint("split them into programmes that share the control")
	}
	if r.Blocks < 1 {
		return bad("there are %d blocks", r.Blocks).WithHint("one, or as many as days, drivers or sessions")
	}
	if r.MostBetween < 0 {
		return bad("at most %d candidates between controls", r.MostBetween).WithHint("leave it out for any number")
	}
	if !slices.Contains([]drift.Correction{drift.None, drift.Bracket, drift.Linear, drift.Quadratic, drift.Cubic, drift.Bound}, r.Correction) {
		return bad("%q is no correction", r.Correction).WithHint("choose none, bracket, linear, quadratic or bound")
	}
	if r.Aim != drift.Largest && r.Aim != drift.Mean {
		return bad("%q is no aim", r.Aim).WithHint("choose largest or mean")
	}
	if r.Runs < 1 {
		return bad("%d runs a stint", r.Runs).WithHint("at least one")
	}
	sum := 0.0
	for i, w := range r.Drift.Weights {
		if !(w >= 0) || !finite(w) {
			return bad("the weight of %s drift is %v", drift.Models[i], w).WithHint("weights are 0 or more")
		}
		sum += w
	}
	if !(sum > 0) || !finite(sum) {
		return bad("the weights of the drift models sum to %v", sum).WithHint("give at least one of them a weight")
	}
	for _, v := range []*float64{&r.Drift.StepSD, r.Drift.RiseSD, r.Drift.BowSD} {
		if v != nil && (!(*v >= 0) || *v > mostDrift) {
			return bad("a size of drift is %v", *v).WithHint("sizes are in standard deviations of a stint mean, 0 to %g", mostDrift)
		}
	}
	return r.Test.check(r.Scatter)
}

// mostDrift bounds the sizes of drift: beyond a thousand standard deviations of
// a stint nothing changes but the rounding.
const mostDrift = 1000.0

// layout makes the rules of a request ready.
func (r Request) layout() (*layout, error) {
	r = r.complete()
	if err := r.check(); err != nil {
		return nil, err
	}
	rules := search.Rules{
		Codes: []string{r.Control}, Total: []int{r.ControlStints}, Blocks: r.Blocks,
		MostBetween: r.MostBetween, OpenEnds: r.OpenEnds, SameTwice: r.SameTwice, Reversed: r.Reversed,
	}
	if r.Correction == drift.Quadratic {
		rules.LeastForFit = 4 // package compare insists on it: three points fit a parabola exactly
	}
	for _, c := range r.Candidates {
		rules.Codes = append(rules.Codes, c.Code)
		rules.Total = append(rules.Total, c.Repeats)
	}
	l := &layout{search.New(rules), r}
	if r.Stop != nil {
		l.Stopped = r.stopped
	}
	return l, nil
}

func (l *layout) scorer() *drift.Scorer { return l.scorerOver(l.Lengths) }

// scorerOver scores sequences over blocks of so many stints.
func (l *layout) scorerOver(lengths []int) *drift.Scorer {
	return drift.NewScorer(drift.NewFrame(lengths, l.req.Drift), l.K(), l.req.Correction, l.req.Aim, l.req.Drift.Shares())
}

// best searches with the criterion of the request.
func (l *layout) best(effort float64) *search.Found {
	if l.req.Correction == drift.Bound {
		effort /= 20 // a factorisation each
	}
	return l.Best(l.scorer().Criterion, effort)
}
