package budget

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"example.org/bookend/compare/correct"
	"example.org/bookend/compare/sequence"
	"example.org/bookend/compare/setting"
)

// Programme is what is driven on in thought.
type Programme struct {
	Seq   *sequence.Sequence
	Drift setting.Drift
	Set   setting.Settings
	DF    float64 // of the interval as it is
	// Fixed: degrees of freedom grow by one for each that the stints gain; else in
	// proportion, as those of a mixed model.
	Fixed bool
	// Covariance gives that of estimates from a sequence, on the analysis scale.
	Covariance func(q *sequence.Sequence, list []*correct.Estimate) [][]float64
	// Critical gives the point of the common interval; an infinite df is a known
	// scatter.
	Critical func(cov [][]float64, df float64) (float64, error)
}

// Bounds on what is driven on in thought: own choice; beyond them the common
// points take longer than anybody waits.
const (
	mostCandidates = 6
	mostAlone      = 4 // of whom each is repeated by itself as well
	mostStints     = 80
)

// Drive fills in what would narrow the intervals of the rows, which are all that
// are judged together.
func (p *Programme) Drive(rows []Row) {
	q := p.Seq
	if len(rows) == 0 || len(rows) > mostCandidates || len(q.Stints) > mostStints {
		return
	}
	codes := make([]string, len(rows))
	for i := range rows {
		codes[i] = rows[i].Code
	}
	cov, df, ok := p.covariance(q, codes)
	if !ok {
		return
	}
	was, ok := p.halves(cov, p.DF)
	if !ok {
		return
	}
	next := func(stints float64) float64 {
		if p.Fixed {
			return p.DF + stints - df
		}
		return p.DF * stints / df
	}
	if known, ok := p.halves(cov, math.Inf(1)); ok {
		for i := range rows {
			rows[i].Known = some(known[i] / was[i])
		}
	}
	if len(rows) > 1 {
		for i := range rows {
			if alone, ok := p.halves([][]float64{{cov[i][i]}}, p.DF); ok {
				rows[i].Alone = some(alone[0] / was[i])
			}
		}
	}
	try := func(only int, key, what string, longer *sequence.Sequence) {
		cov, df, ok := p.covariance(longer, codes)
		if !ok {
			return
		}
		now, ok := p.halves(cov, next(df))
		if !ok {
			return
		}
		for i := range rows {
			if only < 0 || only == i {
				rows[i].Remedies = append(rows[i].Remedies, Remedy{Key: key, What: what, Stints: len(longer.Stints) - len(q.Stints), Narrower: 100 * (1 - now[i]/was[i])})
			}
		}
	}
	k := q.Control
	try(-1, "control_at_end", "one more control stint at the end", follow(q, k))
	if longer, between := split(q); between > 1 {
		try(-1, "control_in_bracket", "one more control stint in the middle of the widest bracket", longer)
	}
	if len(codes) > 1 && len(codes) <= mostAlone {
		for i, c := range codes {
			try(i, "candidate_again", fmt.Sprintf("%s once more, closed by the control", c), follow(q, c, k))
		}
	}
	again := slices.Clone(codes)
	slices.Reverse(again)
	what := "every candidate once more, in reversed order, closed by the control"
	if len(codes) == 1 {
		what = fmt.Sprintf("%s once more, closed by the control", codes[0])
	}
	try(-1, "all_again", what, follow(q, append(again, k)...))
	for i := range rows {
		for _, part := range rows[i].Parts {
			if part.Key == Runs {
				rows[i].Remedies = append(rows[i].Remedies, Remedy{Key: "runs_doubled", What: "twice the runs in every stint", Narrower: 100 * (1 - math.Sqrt(1-part.Share/2))})
			}
		}
		slices.SortStableFunc(rows[i].Remedies, func(a, b Remedy) int { return cmp.Compare(b.Narrower, a.Narrower) })
	}
}

// covariance gives that of the estimates of the codes from a sequence, and the degrees
// of freedom of its stints.
func (p *Programme) covariance(q *sequence.Sequence, codes []string) (cov [][]float64, df float64, ok bool) {
	f, err := correct.LeastSquares(q, q.All(), q.Y(), max(1, p.Drift.Degree()), p.Set.DriftPerBlock.Degree(), true, p.Set.Covariates)
	if err != nil {
		return nil, 0, false
	}
	df = float64(f.M.DF)
	var all []correct.Estimate
	whole := func(est *correct.Estimates, err error) ([]correct.Estimate, error) {
		if err != nil {
			return nil, err
		}
		return est.List, nil
	}
	switch {
	case p.Drift == setting.Bracket:
		all, err = whole(correct.Bracket(q))
	case q.Ratio && p.Set.Average == setting.Means:
		all, err = whole(correct.CurveOfControls(q, p.Drift))
	case p.Drift == setting.NoDrift:
		if f, err = correct.LeastSquares(q, q.All(), q.Y(), 0, p.Set.DriftPerBlock.Degree(), true, p.Set.Covariates); err == nil {
			all, err = correct.FromModelAlone(q, f, p.Drift, p.Set)
		}
	default:
		all, err = correct.FromModelAlone(q, f, p.Drift, p.Set)
	}
	if err != nil {
		return nil, 0, false
	}
	var list []*correct.Estimate
	for _, c := range codes {
		i := slices.IndexFunc(all, func(e correct.Estimate) bool { return e.Code == c && e.OK })
		if i < 0 {
			return nil, 0, false
		}
		list = append(list, &all[i])
	}
	return p.Covariance(q, list), df, true
}

// halves gives the half-widths of estimates that are judged together on so many
// degrees of freedom.
func (p *Programme) halves(cov [][]float64, df float64) (halves []float64, ok bool) {
	point, err := p.Critical(cov, df)
	if err != nil {
		return nil, false
	}
	for i := range cov {
		h := point * math.Sqrt(cov[i][i])
		if !(h > 0) || math.IsInf(h, 1) {
			return nil, false
		}
		halves = append(halves, h)
	}
	return halves, true
}

// follow drives the codes after the last stint, at the mean distance of stints in
// its segment.
func follow(q *sequence.Sequence, codes ...string) *sequence.Sequence {
	last := &q.Stints[len(q.Stints)-1]
	gap, n := 0.0, 0
	for i := range q.Stints[1:] {
		if a, b := &q.Stints[i], &q.Stints[i+1]; a.Segment == last.Segment && b.Segment == last.Segment {
			gap, n = gap+b.X-a.X, n+1
		}
	}
	if n > 0 {
		gap /= float64(n)
	} else {
		gap = 1
	}
	out := *q
	out.Stints = slices.Clone(q.Stints)
	for k, code := range codes {
		s := q.Stints[0]
		for _, t := range q.Stints {
			if t.Code == code {
				s = t
			}
		}
		d := gap * float64(k+1)
		s.X, s.U, s.Position, s.Segment = last.X+d, last.U+d, last.Position+float64(k+1), last.Segment
		out.Stints = append(out.Stints, s)
	}
	count(&out)
	return &out
}

// split drives a control stint in the middle of the bracket with the most
// candidates in it, and says how many there are.
func split(q *sequence.Sequence) (next *sequence.Sequence, candidates int) {
	at := -1
	for k, i := range q.Controls[:len(q.Controls)-1] {
		j := q.Controls[k+1]
		if n := j - i - 1; q.Stints[i].Segment == q.Stints[j].Segment && n > candidates {
			candidates, at = n, i
		}
	}
	if candidates < 2 {
		return nil, candidates
	}
	before, after := &q.Stints[at+candidates/2], &q.Stints[at+candidates/2+1]
	s := q.Stints[at]
	s.X, s.U, s.Position = (before.X+after.X)/2, (before.U+after.U)/2, (before.Position+after.Position)/2
	out := *q
	out.Stints = slices.Insert(slices.Clone(q.Stints), at+candidates/2+1, s)
	count(&out)
	return &out, candidates
}

// count finds the controls again.
func count(q *sequence.Sequence) {
	q.Controls = nil
	for i := range q.Stints {
		if q.Stints[i].Control {
			q.Controls = append(q.Controls, i)
		}
	}
}

func some(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}
