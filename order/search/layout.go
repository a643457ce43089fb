// Package search finds the run order that a criterion likes best among those
// that keep the rules of the trade: the control first and last, at most so many
// candidates between two controls, no code after itself, each pass in reverse
// of the one before.
//
// Few orders are enumerated, which proves the optimum; many are searched by
// exchanges with a fixed seed and a fixed number of trials, so that the same
// rules give the same order. Rules that no order can keep are named (Clash).
// Stints that are driven already stand at the head and stay as they are.
//
// Sources: exchange search after Eccleston and Whitaker, from memory; the rules
// are common practice, at most three candidates between controls UN R117. An
// order is a sequence of numbers: 0 the control, 1 to k the candidates.
package search

import (
	"fmt"
	"slices"
)

// Rules say which sequences are orders. The zero value of a field is its
// default.
type Rules struct {
	Codes       []string // control first
	Total       []int    // stints of each code, driven ones included
	Blocks      int      // days, drivers or sessions; the stints are shared out as evenly as can be
	MostBetween int      // candidate stints between two controls; 0: any number
	OpenEnds    bool     // the control need not open and close each block
	SameTwice   bool     // a code may follow itself
	Reversed    bool     // each pass through the candidates in the reverse order of the one before
	LeastForFit int      // control stints that the correction needs in a single block

	Done  [][]int8 // what is driven, one slice a block; Blocks is not read then
	Fresh bool     // what is left begins a block of its own, as after a declared break
}

// Layout is rules made ready: how many stints of what in which block.
type Layout struct {
	Rules
	Lengths []int // stints of each block
	Control []int // control stints of each block

	Stopped func() bool // asked during the search: nobody waits for it any more; may be nil

	even  []int  // of each candidate in each block, 0: free
	class []int  // candidates of equal standing have the same
	fixed []int8 // driven stints, at the head
}

// New distributes the stints over the blocks.
func New(r Rules) *Layout {
	l := &Layout{Rules: r, class: make([]int, len(r.Codes)), even: make([]int, len(r.Codes))}
	if r.Blocks == 0 {
		l.Blocks = 1
	}
	l.class[0] = -1
	driven := make([]int, len(r.Codes))
	for _, block := range r.Done {
		l.fixed = append(l.fixed, block...)
		for _, c := range block {
			driven[c]++
		}
	}
	stints, evenly := 0, true
	classes := map[int]int{}
	for c := 1; c < len(r.Codes); c++ {
		// A candidate that was driven has a past and stands alone.
		key := r.Total[c]
		if driven[c] > 0 {
			key = -c
		}
		if _, ok := classes[key]; !ok {
			classes[key] = len(classes)
		}
		l.class[c] = classes[key]
		stints += r.Total[c]
		evenly = evenly && r.Total[c]%l.Blocks == 0
	}
	if len(r.Done) > 0 {
		l.Blocks = len(r.Done)
		for _, block := range r.Done {
			controls := 0
			for _, c := range block {
				if c == 0 {
					controls++
				}
			}
			l.Lengths, l.Control = append(l.Lengths, len(block)), append(l.Control, controls)
		}
		rest, controls := r.Total[0]+stints-len(l.fixed), r.Total[0]-driven[0]
		switch last := len(r.Done) - 1; {
		case rest == 0:
		case r.Fresh:
			l.Blocks++
			l.Lengths, l.Control = append(l.Lengths, rest), append(l.Control, controls)
		default:
			l.Lengths[last] += rest
			l.Control[last] += controls
		}
		return l
	}
	for b := range l.Blocks {
		c := share(r.Total[0], l.Blocks, b)
		l.Control = append(l.Control, c)
		l.Lengths = append(l.Lengths, c+share(stints, l.Blocks, b))
	}
	if evenly && l.Blocks > 1 {
		for c := 1; c < len(r.Codes); c++ {
			l.even[c] = r.Total[c] / l.Blocks
		}
	}
	return l
}

// share gives the part of the b-th of so many: as even as can be, the first
// ones more.
func share(total, parts, b int) int {
	n := total / parts
	if b < total%parts {
		n++
	}
	return n
}

// K gives the number of candidates.
func (l *Layout) K() int { return len(l.Codes) - 1 }

// N gives the number of stints.
func (l *Layout) N() int {
	n := 0
	for _, v := range l.Lengths {
		n += v
	}
	return n
}

// Text gives a sequence in codes.
func (l *Layout) Text(seq []int8) []string {
	out := make([]string, len(seq))
	for i, c := range seq {
		out[i] = l.Codes[c]
	}
	return out
}

// Mates gives the candidates of equal standing with c, itself among them:
// exchanging them changes no criterion.
func (l *Layout) Mates(c int8) []int8 {
	var out []int8
	for d := 1; d < len(l.Codes); d++ {
		if l.class[d] == l.class[c] {
			out = append(out, int8(d))
		}
	}
	return out
}

// canonical renumbers candidates of equal standing in the order in which they
// first come.
func (l *Layout) canonical(seq []int8) []int8 {
	to := make([]int8, len(l.Codes))
	for i := range to {
		to[i] = -1
	}
	to[0] = 0
	out := make([]int8, len(seq))
	for i, c := range seq {
		if to[c] < 0 {
			for d := 1; d < len(l.Codes); d++ {
				if l.class[d] == l.class[c] && !slices.Contains(to, int8(d)) {
					to[c] = int8(d)
					break
				}
			}
		}
		out[i] = to[c]
	}
	return out
}

func many(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}
