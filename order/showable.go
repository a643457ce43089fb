package order

import (
	"math"
	"slices"

	"example.org/bookend/fault"
	"example.org/bookend/order/drift"
	"example.org/bookend/stat/manyone"
)

// Showable is the smallest difference that stints driven, or about to be, can
// show of each candidate, in standard deviations of a stint mean.
type Showable struct {
	Codes    []string // candidates that stand in a closed bracket, in the request's order
	InSD     []float64
	Length   []float64 // standard error of each estimate, in the same unit
	Corr     [][]float64
	DF       float64 // own degrees of freedom and those lent
	OwnDF    int
	Critical float64
	Open     []string // candidates that have been driven, but no control since
}

// Closed gives blocks without what was driven after the last control of the last
// one, and the candidates that were driven there alone.
func Closed(control string, blocks [][]string) (closed [][]string, open []string) {
	closed = slices.Clone(blocks)
	if len(closed) == 0 {
		return nil, nil
	}
	last := closed[len(closed)-1]
	end := len(last)
	for end > 0 && last[end-1] != control {
		end--
	}
	seen := map[string]bool{}
	if closed[len(closed)-1] = last[:end]; end == 0 {
		closed = closed[:len(closed)-1]
	}
	for _, b := range closed {
		for _, c := range b {
			seen[c] = true
		}
	}
	for _, c := range last[end:] {
		if !seen[c] && !slices.Contains(open, c) {
			open = append(open, c)
		}
	}
	return closed, open
}

// ShowableBy says what an order can show of each of its candidates, at an error
// level for all candidates of the request together; lent are degrees of freedom
// that a record adds. Candidates without a closed bracket are left out; nil
// where nothing can be shown yet.
func ShowableBy(r Request, blocks [][]string, level, lent float64) (*Showable, error) {
	out, err := Estimable(r, blocks, lent)
	if err != nil || out == nil {
		return nil, err
	}
	// All candidates of the request share the level, whether driven yet or not.
	t := r.complete().Test
	share := level * float64(len(out.Codes)) / float64(len(r.Candidates))
	f := manyone.Family{Corr: out.Corr, DF: out.DF, Sided: t.Sided, Tol: planTol}
	if out.Critical, _, err = f.Critical(share); err != nil {
		return nil, err
	}
	nc, err := manyone.Noncentrality(out.Critical, out.DF, t.Power, t.Sided)
	if err != nil {
		return nil, err
	}
	for _, v := range out.Length {
		out.InSD = append(out.InSD, nc*v)
	}
	return out, nil
}

// Estimable says how well stints driven, or about to be, tell each candidate from the
// control, without what that can show (InSD and Critical are empty): for choosing
// among many orders.
func Estimable(r Request, blocks [][]string, lent float64) (*Showable, error) {
	closed, open := Closed(r.Control, blocks)
	count := map[string]int{}
	stints := 0
	var lengths []int
	for _, b := range closed {
		if len(b) > 0 {
			lengths = append(lengths, len(b))
		}
		for _, c := range b {
			count[c]++
			stints++
		}
	}
	q := r
	q.Blocks, q.ControlStints, q.Candidates = len(lengths), count[r.Control], nil
	q.Test.Wanted, q.Scatter = 0, nil
	out := &Showable{Open: open}
	number := map[string]int8{r.Control: 0}
	for _, c := range r.Candidates {
		if n := count[c.Code]; n > 0 {
			q.Candidates = append(q.Candidates, Candidate{c.Code, n})
			number[c.Code] = int8(len(q.Candidates))
			out.Codes = append(out.Codes, c.Code)
		}
	}
	if len(out.Codes) == 0 || q.ControlStints == 0 {
		return nil, nil
	}
	l, err := q.layout()
	if err != nil {
		return nil, err
	}
	var seq []int8
	for _, b := range closed {
		for _, c := range b {
			n, ok := number[c]
			if !ok {
				return nil, fault.New(fault.NotFound, "code %s was driven and is neither control nor candidate", c).WithHint("name it among the candidates")
			}
			seq = append(seq, n)
		}
	}
	out.OwnDF = max(0, l.df(stints, len(lengths)))
	if out.DF = float64(out.OwnDF) + lent; !(out.DF > 0) {
		return nil, nil
	}
	s := l.scorerOver(lengths)
	if l.req.Correction == drift.Bound || !s.Weigh(seq) {
		return nil, nil
	}
	out.Corr, out.Length = correlations(s.W)
	return out, nil
}

// Largest gives the largest smallest-showable difference of the codes wanted,
// infinite where one of them cannot be shown at all.
func (s *Showable) Largest(codes []string) float64 {
	most := 0.0
	for _, c := range codes {
		if s == nil {
			return math.Inf(1)
		}
		i := slices.Index(s.Codes, c)
		if i < 0 {
			return math.Inf(1)
		}
		most = math.Max(most, s.InSD[i])
	}
	return most
}
