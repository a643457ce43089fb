package advice

import (
	"math"
	"slices"
)

// mostAhead bounds how far it is looked ahead, in stints: more than a long day holds.
const mostAhead = 40

// Ahead is how far it still is to the difference that is wanted, if stints went on to
// scatter as they do: not a promise, since the scatter is an estimate itself.
type Ahead struct {
	Codes   []string // what would be driven from now on, the control that closes it last
	Largest float64  // what every candidate undecided would show then, on the scatter's scale; infinite: some nothing
	Reached bool     // it is the difference that is wanted; false: not within the sets that are left, or too far
}

// Ahead follows its own advice until the difference that is wanted could be shown of
// every candidate undecided, at the level of the plan's last look. Wear is kept to,
// the time that is left is not: what the day does not hold is the reader's to see. Nil
// where nothing is wanted, or nothing is known of the scatter yet.
func (a *Advisor) Ahead(s State) (*Ahead, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	wanted := s.Request.Test.Wanted
	if sd, df := s.scatter(); !(wanted > 0) || !(df > 0) || !(sd > 0) {
		return nil, nil
	}
	s.MostStints, s.Planned, s.Check = -1, 0, nil
	if n := len(s.Looks); n > 0 {
		s.Request.Test.Confidence, s.Looks = 1-s.Looks[n-1].Level, nil
	}
	left := map[string]int{}
	for code, n := range s.Left {
		left[code] = n
	}
	s.Left, s.Blocks = left, slices.Clone(s.Blocks)
	out := &Ahead{Largest: math.Inf(1)}
	for {
		v, err := a.After(s)
		if err != nil {
			return nil, err
		}
		closed := false
		if n := len(s.Blocks); n > 0 && len(s.Blocks[n-1]) > 0 {
			last := s.Blocks[n-1]
			closed = last[len(last)-1] == s.Request.Control
		}
		if closed && v.Largest != nil {
			out.Largest = *v.Largest
			if out.Reached = out.Largest <= wanted; out.Reached {
				return out, nil
			}
		}
		if v.Next == Stop || v.Next == Wait || len(out.Codes) >= mostAhead {
			return out, nil
		}
		if len(s.Blocks) == 0 {
			s.Blocks = [][]string{nil}
		}
		n := len(s.Blocks) - 1
		s.Blocks[n] = append(slices.Clone(s.Blocks[n]), v.Code)
		out.Codes = append(out.Codes, v.Code)
		if k, ok := s.Left[v.Code]; ok {
			s.Left[v.Code] = k - 1
		}
	}
}
