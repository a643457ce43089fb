package search

import (
	"math"
	"math/rand/v2"
	"slices"
)

// Sizes of the search. Counting to enumerate costs some 50 ns a sequence, scoring
// some microseconds.
const (
	enumerable  = 400_000    // sequences that are all tried
	scored      = 400_000    // evaluations of the exchange search at 20 stints and 4 candidates
	nearEnough  = 1.02       // of the optimum: orders to draw from
	poolAtMost  = 20_000     // orders that the exchange search keeps to draw from
	searchSeed  = 20_240_229 // of the exchange search, whatever the plan's seed
	existsNodes = 300_000
)

// Found is what a search found.
type Found struct {
	Best   []int8  // an order of the least criterion
	Value  float64 // its criterion
	Proven bool    // every order that keeps the rules was tried
	Tried  int     // different orders, up to exchanging candidates of equal standing
	Near   int     // of them within 2 % of the best, as far as tried
	pick   func(rng *rand.Rand) []int8
}

// Draw draws one of the orders within 2 % of the best.
func (f *Found) Draw(rng *rand.Rand) []int8 { return f.pick(rng) }

// Criterion scores a sequence: the less, the better; infinite where a difference
// cannot be had.
type Criterion func(seq []int8) float64

// Best looks for the order of the least criterion. Effort scales the exchange
// search, 1 being all of it, about half a second. A nil result says that no
// order was found that keeps the rules.
func (l *Layout) Best(score Criterion, effort float64) *Found {
	if f := l.enumerate(score); f != nil {
		if f.Tried == 0 {
			return nil
		}
		return f
	}
	return l.Exchange(score, effort)
}

// enumerate tries every order; nil where there are too many.
func (l *Layout) enumerate(s Criterion) *Found {
	n := 0
	w := l.walker()
	w.most = 40 * enumerable // nodes; an order is a few nodes on the mean
	if !w.walk(func([]int8) bool { n++; return n <= enumerable }) {
		return nil
	}
	f := &Found{Value: math.Inf(1), Proven: true, Tried: n}
	values := make([]float64, 0, n)
	l.walker().walk(func(seq []int8) bool {
		if l.gives(len(values)) {
			return false
		}
		v := s(seq)
		values = append(values, v)
		if v < f.Value*(1-1e-12) {
			f.Value, f.Best = v, slices.Clone(seq)
		}
		return true
	})
	if n > 0 && f.Best == nil {
		// Every order leaves a difference that cannot be had.
		l.walker().walk(func(seq []int8) bool { f.Best = slices.Clone(seq); return false })
	}
	var close []int
	for i, v := range values {
		if v <= f.Value*nearEnough {
			close = append(close, i)
		}
	}
	f.Near = len(close)
	f.pick = func(rng *rand.Rand) []int8 {
		if len(close) == 0 {
			return f.Best
		}
		at, i := close[rng.IntN(len(close))], 0
		var out []int8
		l.walker().walk(func(seq []int8) bool {
			if i == at {
				out = slices.Clone(seq)
				return false
			}
			i++
			return true
		})
		return out
	}
	return f
}

// gives tells, at every 256th order tried, whether the search gives up.
func (l *Layout) gives(tried int) bool { return tried%256 == 0 && l.Stopped != nil && l.Stopped() }

// exchanger is the state of the exchange search.
type exchanger struct {
	*Layout
	s     Criterion
	rng   *rand.Rand
	left  int // evaluations
	tried int
	best  []int8
	value float64
	pool  map[string]float64
	rules *walker
}

func (x *exchanger) score(seq []int8) float64 {
	x.left--
	x.tried++
	if x.gives(x.tried) {
		x.left = 0
	}
	v := x.s(seq)
	if v <= x.value*nearEnough {
		if v < x.value*(1-1e-12) {
			x.value, x.best = v, slices.Clone(seq)
		}
		if len(x.pool) >= 2*poolAtMost {
			x.prune()
		}
		if len(x.pool) < 2*poolAtMost {
			key := make([]byte, len(seq))
			for i, c := range x.canonical(seq) {
				key[i] = byte(c)
			}
			x.pool[string(key)] = v
		}
	}
	return v
}

// prune leaves in the pool what is still near the best.
func (x *exchanger) prune() {
	for key, v := range x.pool {
		if v > x.value*nearEnough {
			delete(x.pool, key)
		}
	}
}

// Exchange searches by swaps of two stints, moves of one, and, from local
// optima, random swaps: an iterated local search with a fixed seed and a fixed
// number of evaluations, so that the same request gives the same order.
func (l *Layout) Exchange(s Criterion, effort float64) *Found {
	budget := effort * scored * 80 / float64(l.N()*l.K()) // work, not evaluations, is what is bounded
	x := &exchanger{
		Layout: l, s: s, rng: rand.New(rand.NewPCG(searchSeed, 0)),
		left: max(2000, int(budget)), value: math.Inf(1), pool: map[string]float64{},
	}
	x.rules = l.walker()
	starts := 0
	for x.left > 0 {
		var shuffle *rand.Rand
		if starts > 0 {
			shuffle = x.rng
		}
		seq, _ := l.Any(shuffle, existsNodes)
		if seq == nil {
			if starts == 0 {
				starts++
				continue
			}
			if x.best == nil {
				return nil
			}
			break
		}
		starts++
		// A start is left after so many kicks without gain.
		x.climb(seq)
	}
	if x.best == nil {
		seq, _ := l.Any(nil, existsNodes)
		if seq == nil {
			return nil
		}
		x.best = seq
	}
	x.prune()
	keys := make([]string, 0, len(x.pool))
	for key := range x.pool {
		keys = append(keys, key)
	}
	slices.Sort(keys)
	f := &Found{Best: l.canonical(x.best), Value: x.value, Tried: x.tried, Near: len(keys)}
	f.pick = func(rng *rand.Rand) []int8 {
		if len(keys) == 0 {
			return f.Best
		}
		key := keys[rng.IntN(len(keys))]
		out := make([]int8, len(key))
		for i := range out {
			out[i] = int8(key[i])
		}
		return out
	}
	return f
}

// climb descends from a start, kicks, and descends again.
func (x *exchanger) climb(seq []int8) {
	current := slices.Clone(seq)
	value := x.descend(current, x.score(current))
	idle := 0
	for x.left > 0 && idle < 30 {
		next := slices.Clone(current)
		for range 2 + x.rng.IntN(3) {
			x.kick(next)
		}
		v := x.descend(next, x.score(next))
		idle++
		if v < value*(1-1e-12) {
			idle = 0
		}
		if v <= value {
			current, value = next, v
		}
	}
}

// kick swaps two stints at random, if the rules allow it.
func (x *exchanger) kick(seq []int8) {
	for range 50 {
		i, j := x.rng.IntN(len(seq)), x.rng.IntN(len(seq))
		if seq[i] == seq[j] {
			continue
		}
		seq[i], seq[j] = seq[j], seq[i]
		if x.rules.keeps(seq) {
			return
		}
		seq[i], seq[j] = seq[j], seq[i]
	}
}

// descend takes every swap and every move that lowers the criterion until none
// does.
func (x *exchanger) descend(seq []int8, value float64) float64 {
	n := len(seq)
	moved := make([]int8, n)
	for again := true; again && x.left > 0; {
		again = false
		for i := range n {
			for j := i + 1; j < n && x.left > 0; j++ {
				if seq[i] == seq[j] {
					continue
				}
				seq[i], seq[j] = seq[j], seq[i]
				if x.rules.keeps(seq) {
					if v := x.score(seq); v < value*(1-1e-12) {
						value, again = v, true
						continue
					}
				}
				seq[i], seq[j] = seq[j], seq[i]
			}
		}
		for i := range n {
			for j := range n {
				if x.left <= 0 {
					break
				}
				if i == j || i == j+1 || j == i+1 || x.rules.blockOf[i] != x.rules.blockOf[j] {
					continue // neighbours were swapped
				}
				copy(moved, seq)
				c := moved[i]
				if i < j {
					copy(moved[i:j], seq[i+1:j+1])
				} else {
					copy(moved[j+1:i+1], seq[j:i])
				}
				moved[j] = c
				if slices.Equal(moved, seq) || !x.rules.keeps(moved) {
					continue
				}
				if v := x.score(moved); v < value*(1-1e-12) {
					copy(seq, moved)
					value, again = v, true
				}
			}
		}
	}
	return value
}
