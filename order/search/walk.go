package search

import (
	"math/rand/v2"
	"slices"
)

// walker builds sequences stint by stint so that the rules hold at each.
// Candidates of equal standing come in the order of their numbers, since
// exchanging their codes changes nothing: each sequence stands for all that
// arise from it so.
type walker struct {
	*Layout
	seq      []int8
	left     []int   // of each code
	inBlock  [][]int // of each block and code
	blockOf  []int
	begin    []int // first stint of each block
	between  int   // candidates since the last control of the block
	driven   int   // candidate stints so far
	nodes    int   // tried
	most     int   // nodes at most, 0: any
	shuffle  *rand.Rand
	anyLabel bool
}

func (l *Layout) walker() *walker {
	w := &walker{Layout: l, left: slices.Clone(l.Total)}
	for b, n := range l.Lengths {
		w.begin = append(w.begin, len(w.blockOf))
		w.inBlock = append(w.inBlock, make([]int, len(l.Codes)))
		for range n {
			w.blockOf = append(w.blockOf, b)
		}
	}
	return w
}

// may tells whether a code can be the next stint.
func (w *walker) may(c int) bool {
	if w.left[c] == 0 {
		return false
	}
	i := len(w.seq)
	if i < len(w.fixed) {
		return c == int(w.fixed[i])
	}
	b := w.blockOf[i]
	first, last := i == w.begin[b], i+1 == len(w.blockOf) || w.blockOf[i+1] != b
	r := &w.Rules
	if !first && !r.SameTwice && int(w.seq[i-1]) == c {
		return false
	}
	if c == 0 {
		left := w.Control[b] - w.inBlock[b][0]
		return left > 0 && (r.OpenEnds || first || last || left > 1) && w.room(b, i+1, left-1, 0)
	}
	if !r.OpenEnds && (first || last) {
		return false
	}
	// What is left of the block must hold its controls.
	end := len(w.blockOf)
	if b+1 < len(w.begin) {
		end = w.begin[b+1]
	}
	if end-i-1 < w.Control[b]-w.inBlock[b][0] {
		return false
	}
	if r.MostBetween > 0 && w.between >= r.MostBetween || !w.room(b, i+1, w.Control[b]-w.inBlock[b][0], w.between+1) {
		return false
	}
	if w.even[c] > 0 && w.inBlock[b][c] == w.even[c] {
		return false
	}
	if r.Reversed {
		return c == w.reversed(w.driven)
	}
	if !w.anyLabel && w.left[c] == w.Total[c] {
		for d := 1; d < c; d++ {
			if w.class[d] == w.class[c] && w.left[d] == w.Total[d] {
				return false
			}
		}
	}
	return true
}

// room tells whether the candidates that a block still holds from a place on fit
// between the controls that are left in it, where between have been driven since the
// last one.
func (w *walker) room(b, at, controls, between int) bool {
	most := w.MostBetween
	if most == 0 {
		return true
	}
	end := len(w.blockOf)
	if b+1 < len(w.begin) {
		end = w.begin[b+1]
	}
	fits := 0
	if controls > 0 || w.OpenEnds {
		fits = max(0, most-between) // before the next control
	}
	if controls > 1 {
		fits += (controls - 1) * most
	}
	if controls > 0 && w.OpenEnds {
		fits += most // behind the last one
	}
	return end-at-controls <= fits
}

// reversed gives the candidate of a place among the candidate stints where each
// pass is the reverse of the one before.
func (l *Layout) reversed(place int) int {
	k := l.K()
	pass, at := place/k, place%k
	if pass%2 == 1 {
		return k - at
	}
	return at + 1
}

func (w *walker) push(c int) (between int) {
	between = w.between
	b := w.blockOf[len(w.seq)]
	w.seq = append(w.seq, int8(c))
	w.left[c]--
	w.inBlock[b][c]++
	if c == 0 {
		w.between = 0
	} else {
		w.between++
		w.driven++
	}
	if n := len(w.seq); n < len(w.blockOf) && w.blockOf[n] != b {
		w.between = 0
	}
	return between
}

func (w *walker) pop(c, between int) {
	w.seq = w.seq[:len(w.seq)-1]
	b := w.blockOf[len(w.seq)]
	w.left[c]++
	w.inBlock[b][c]--
	if c > 0 {
		w.driven--
	}
	w.between = between
}

// walk calls visit with every sequence, in a fixed order, until it says stop or
// the nodes are used up; it tells whether it came to the end.
func (w *walker) walk(visit func(seq []int8) bool) bool {
	if len(w.seq) == len(w.blockOf) {
		return visit(w.seq)
	}
	k := len(w.Codes)
	var mixed []int
	if w.shuffle != nil {
		mixed = w.shuffle.Perm(k)
	}
	for c := range k {
		if mixed != nil {
			c = mixed[c]
		}
		if !w.may(c) {
			continue
		}
		w.nodes++
		if w.most > 0 && w.nodes > w.most {
			return false
		}
		between := w.push(c)
		ok := w.walk(visit)
		w.pop(c, between)
		if !ok {
			return false
		}
	}
	return true
}

// Any gives a sequence that keeps the rules, and whether there is one; sure is
// false where the search for it was given up.
func (l *Layout) Any(shuffle *rand.Rand, nodes int) (seq []int8, sure bool) {
	w := l.walker()
	w.most, w.shuffle = nodes, shuffle
	w.anyLabel = shuffle != nil
	done := w.walk(func(s []int8) bool {
		seq = slices.Clone(s)
		return false
	})
	return seq, done || seq != nil
}

// keeps tells whether a whole sequence of the right numbers keeps the rules.
func (w *walker) keeps(seq []int8) bool {
	w.seq = w.seq[:0]
	copy(w.left, w.Total)
	for _, in := range w.inBlock {
		clear(in)
	}
	w.between, w.driven, w.anyLabel = 0, 0, true
	for _, c := range seq {
		if !w.may(int(c)) {
			return false
		}
		w.push(int(c))
	}
	return true
}
