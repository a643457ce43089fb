package match

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

// Seen is a timed piece of a recording with the time at which it begins by the
// recorder's clock, in s since a whole minute of UTC that all pieces have in common.
type Seen struct {
	Recording string // by the name that the log may give for it
	Source    int    // which recording it is where several have a name; only handed back
	Piece     Piece
	At        float64
}

// Logged is a run as it stands in the run log, with the time that was typed for it,
// in s since the same instant; Timed is false where none was. Recording is the file
// that the log names for it; empty where it names none.
type Logged struct {
	Run       programme.Run
	At        float64
	Timed     bool
	Recording string
}

// Doubts about a pair; empty where order and clock agree.
const (
	OutOfOrder  = "out_of_order" // by its clock it is this run, by its place in the log it is not
	ClockOff    = "clock_off"    // by its place it is this run, by its clock it is not
	Mislabelled = "mislabelled"  // the log names another recording for it
	Unclear     = "unclear_run"  // another run or piece beside it fits about as well
)

// Caveats of matching.
const (
	caveatOffset   = "clock_offset"   // how far the recorder's clock and the log's differ
	caveatHour     = "clock_hour"     // by a whole number of half hours
	caveatDrift    = "clock_drift"    // and ever more
	caveatSegments = "clock_segments" // not by the same in all of the log
	caveatMissing  = "run_missing"    // logged, not recorded
	caveatExtra    = "run_extra"      // recorded, not logged
)

// Pair is a piece and the run that it is. OffS is how far its time is from what the
// clocks' offset lets expect, in s. A pair with a doubt is not to be used before
// somebody has decided.
type Pair struct {
	Seen   Seen
	Logged Logged
	OffS   float64
	Doubt  string
}

// Clocks is how a stretch of recordings and log agree: the recorder's clock shows
// OffsetS more than the log's at the stretch's middle, and gains PerHour s in an hour
// on it (0 where no gain shows).
type Clocks struct {
	OffsetS, SE float64 // s; SE is the standard error of the offset
	PerHourS    float64 // s in an hour
	SpreadS     float64 // of single runs about it, s
	Pairs       int

	middle float64 // by the log's clock
}

// expected gives what the recorder's clock should show when the log's shows t.
func (c Clocks) expected(t float64) float64 {
	return t + c.OffsetS + c.PerHourS*(t-c.middle)/3600
}

// Whose says whose run each piece is. Pairs are in the order of the log.
type Whose struct {
	Pairs   []Pair
	Clocks  []Clocks // one a stretch in which the clocks differ by the same; empty where no time was typed
	Missing []Logged // runs of the log that no piece is
	Extra   []Seen   // pieces that are no run of the log
	Caveats caveat.List
}

// How clocks are compared. Own choices: minutes are typed when somebody finds the
// time, seconds are copied from a display.
const (
	typedMinutes = 25.0 // s, standard deviation of a time typed in whole minutes: 17 s of rounding and some of haste
	typedSeconds = 5.0  // s, of one typed with seconds
	widest       = 4.0  // standard deviations, beyond which a clock does not fit
	hardly       = 2.5  // standard deviations, beyond which a pair is in doubt though it is in its order
	creeping     = 1.2  // standard deviations, beyond which it is so where its neighbour is in doubt or missing
	poorly       = 2.0  // standard deviations, beyond which a run without a time beside it may as well be the piece
	leastPairs   = 3    // that make an offset known
	plainly      = 4.6  // by how much the logarithm of the likelihood must be greater than another way's: 1 to 100
	candidates   = 60   // offsets that are tried
	leastDrift   = 6    // pairs, for a drift to be looked for
	sureDrift    = 4.0  // standard errors
	halfHour     = 1800.0
	named        = 2.0  // by how much the logarithm of the likelihood is greater where the log names the recording: it is seldom wrong
	setAgain     = 12.0 // by how much it must be greater for each time that a clock was set in between
	beginnings   = 8    // offsets that are tried beside each other
)

// ByClock says whose run each piece is, by order and clock together. The offset
// between the recorder's clock and the log's is not known beforehand and may be of any
// size: it is that under which most runs and pieces fit in their order, within what
// typed times are good for. Where another way fits about as well (an extra lap before
// runs that are evenly spaced) it is a conflict: nothing is guessed. What fits by one of
// order and clock alone is a pair with a doubt.
//
// A log without times is matched by order alone, if there are as many pieces as runs.
func ByClock(seen []Seen, log []Logged) (Whose, error) {
	seen = slices.Clone(seen)
	slices.SortStableFunc(seen, func(a, b Seen) int { return cmp.Compare(a.At, b.At) })
	timed := 0
	for _, l := range log {
		if l.Timed {
			timed++
		}
	}
	if timed < leastPairs || len(seen) < leastPairs {
		return byOrderAlone(seen, log)
	}
	a := aligner{seen: seen, log: log, sigma: typedError(log), owner: make([]int, len(log)), taken: make([]bool, len(seen)), off: make([]float64, len(log)), doubt: make([]string, len(log))}
	for i := range a.owner {
		a.owner[i] = -1
	}
	var w Whose
	chosen, err := a.stretches()
	if err != nil {
		return Whose{}, err
	}
	if len(chosen) == 0 {
		return Whose{}, fault.New(fault.Conflict, "the times of %d pieces and of %d runs of the log fit under no offset of the clocks", len(seen), timed).
			WithHint("check the day and the zone of both, or leave the times out to match by order alone")
	}
	for _, c := range chosen {
		a.take(c)
		w.Clocks = append(w.Clocks, c.clocks)
	}
	a.untimed()
	a.strays(w.Clocks)
	a.untimed()
	a.leftBetween(w.Clocks)
	a.far(w.Clocks)
	a.unclear(w.Clocks)
	a.names()
	for i, l := range log {
		if k := a.owner[i]; k >= 0 {
			w.Pairs = append(w.Pairs, Pair{Seen: seen[k], Logged: l, OffS: a.off[i], Doubt: a.doubt[i]})
		} else {
			w.Missing = append(w.Missing, l)
		}
	}
	for k, s := range seen {
		if !a.taken[k] {
			w.Extra = append(w.Extra, s)
		}
	}
	w.tell()
	return w, nil
}

// byOrderAlone pairs pieces and runs one by one.
func byOrderAlone(seen []Seen, log []Logged) (Whose, error) {
	if len(seen) != len(log) {
		return Whose{}, fault.New(fault.Conflict, "there are %d recorded runs and %d in the run log, and too few times to say which is which", len(seen), len(log)).
			WithHint("type the clock time of each run into the log, or list every lap, stop or pass that was driven")
	}
	var w Whose
	for i, l := range log {
		p := Pair{Seen: seen[i], Logged: l}
		if l.Recording != "" && l.Recording != seen[i].Recording {
			p.Doubt = Mislabelled
		}
		w.Pairs = append(w.Pairs, p)
	}
	w.tell()
	return w, nil
}

// typedError gives the standard deviation of typed times in s.
func typedError(log []Logged) float64 {
	for _, l := range log {
		if _, part := math.Modf(l.At / 60); l.Timed && math.Abs(part) > 1e-6 {
			return typedSeconds
		}
	}
	return typedMinutes
}

// aligner finds who is whose: owner gives the piece of each run, -1 for none.
type aligner struct {
	seen  []Seen
	log   []Logged
	sigma float64
	owner []int
	taken []bool
	off   []float64
	doubt []string
}

// way is one way to lay runs and pieces beside each other.
type way struct {
	clocks Clocks
	gain   float64
	runs   []int // of the log
	pieces []int // of what was seen, one each
}

// stretches finds how the clocks agree: one way a stretch of the log between two
// settings of a clock, in the order of the log.
func (a *aligner) stretches() ([]way, error) {
	ways := a.ways()
	if len(ways) == 0 {
		return nil, nil
	}
	var clocks []Clocks
	for _, w := range ways[:min(beginnings, len(ways))] {
		clocks = append(clocks, w.clocks)
	}
	best := a.layAll(clocks)
	for range 12 {
		clocks = nil
		for _, w := range best {
			clocks = append(clocks, w.clocks)
		}
		next := a.layAll(clocks)
		same := len(next) == len(best)
		for n := range next {
			same = same && slices.Equal(next[n].runs, best[n].runs) && slices.Equal(next[n].pieces, best[n].pieces)
		}
		best = next
		if same {
			break
		}
	}
	if len(best) == 0 {
		return nil, nil
	}
	total, joined := -setAgain*float64(len(best)-1), way{}
	for _, w := range best {
		total += w.gain
		joined.runs, joined.pieces = append(joined.runs, w.runs...), append(joined.pieces, w.pieces...)
	}
	for _, o := range ways {
		if total-o.gain < plainly && rival(joined, o) {
			return nil, fault.New(fault.Conflict,
				"there are %d recorded runs and %d in the run log, and they fit in two ways: with a recorder's clock that is %.0f s ahead of the log's, or %.0f s",
				len(a.seen), len(a.log), best[0].clocks.OffsetS, o.clocks.OffsetS).
				WithHint("log every lap, stop or pass that was driven, the odd ones too, and exclude those with a reason; or type times with seconds")
		}
	}
	return best, nil
}

// layAll lays all runs and pieces beside each other in their order, as lay does, under
// several clocks of which one holds after the other; going over to another costs
// setAgain. Clocks that hold for fewer than three pairs are left out.
func (a *aligner) layAll(clocks []Clocks) []way {
	var runs []int
	for i, l := range a.log {
		if l.Timed {
			runs = append(runs, i)
		}
	}
	n, m, q := len(runs), len(a.seen), len(clocks)
	best := make([]float64, (n+1)*(m+1)*q) // from there on, under a clock
	most := make([]float64, (n+1)*(m+1))   // from there on, under whichever clock
	at := func(i, k int) int { return i*(m+1) + k }
	for i := n - 1; i >= 0; i-- {
		for k := m - 1; k >= 0; k-- {
			top := 0.0
			for s, c := range clocks {
				b := math.Max(best[at(i+1, k)*q+s], best[at(i, k+1)*q+s])
				if g := a.gain(c, runs[i], k); g > 0 {
					b = math.Max(b, g+math.Max(best[at(i+1, k+1)*q+s], most[at(i+1, k+1)]-setAgain))
				}
				best[at(i, k)*q+s] = b
				top = math.Max(top, b)
			}
			most[at(i, k)] = top
		}
	}
	s := 0
	for r := range q {
		if best[r] > best[s] {
			s = r
		}
	}
	var out []way
	last := -1
	for i, k := 0, 0; i < n && k < m; {
		here := best[at(i, k)*q+s]
		g := a.gain(clocks[s], runs[i], k)
		stay, turn := best[at(i+1, k+1)*q+s], most[at(i+1, k+1)]-setAgain
		switch {
		case g > 0 && here == g+math.Max(stay, turn):
			if s != last {
				out, last = append(out, way{clocks: clocks[s]}), s
			}
			w := &out[len(out)-1]
			w.runs, w.pieces, w.gain = append(w.runs, runs[i]), append(w.pieces, k), w.gain+g
			i++
			k++
			if turn > stay {
				for r := range q {
					if best[at(i, k)*q+r] == most[at(i, k)] {
						s = r
						break
					}
				}
			}
		case here == best[at(i+1, k)*q+s]:
			i++
		default:
			k++
		}
	}
	out = slices.DeleteFunc(out, func(w way) bool { return len(w.runs) < leastPairs })
	for n := range out {
		out[n].clocks = a.fit(out[n])
	}
	return out
}

// take takes a way's pairs.
func (a *aligner) take(w way) {
	for n, i := range w.runs {
		k := w.pieces[n]
		a.owner[i], a.taken[k] = k, true
		a.off[i] = a.seen[k].At - w.clocks.expected(a.log[i].At)
	}
}

// ways gives the ways in which what is left fits, each under its own offset, the best
// one first.
func (a *aligner) ways() []way {
	var runs, pieces []int
	for i, l := range a.log {
		if a.owner[i] < 0 && l.Timed {
			runs = append(runs, i)
		}
	}
	for k := range a.seen {
		if !a.taken[k] {
			pieces = append(pieces, k)
		}
	}
	if len(runs) < leastPairs || len(pieces) < leastPairs {
		return nil
	}
	var out []way
	for _, d := range a.offsets(runs, pieces) {
		w := a.settle(Clocks{OffsetS: d}, runs, pieces)
		if len(w.runs) >= leastPairs && !slices.ContainsFunc(out, func(o way) bool { return slices.Equal(o.runs, w.runs) && slices.Equal(o.pieces, w.pieces) }) {
			out = append(out, w)
		}
	}
	slices.SortStableFunc(out, func(x, y way) int { return cmp.Compare(y.gain, x.gain) })
	return out
}

// rival tells whether two ways give some run to different pieces.
func rival(a, b way) bool {
	for n, i := range a.runs {
		if m := slices.Index(b.runs, i); m >= 0 && b.pieces[m] != a.pieces[n] {
			return true
		}
	}
	return false
}

// offsets gives the offsets in s that are worth a try: those that most pairs of a run
// and a piece have about in common.
func (a *aligner) offsets(runs, pieces []int) []float64 {
	var all []float64
	for _, i := range runs {
		for _, k := range pieces {
			all = append(all, a.seen[k].At-a.log[i].At)
		}
	}
	slices.Sort(all)
	type window struct {
		middle float64
		n      int
	}
	var list []window
	hi := 0
	for lo := range all {
		for hi < len(all) && all[hi]-all[lo] <= 2*a.sigma {
			hi++
		}
		list = append(list, window{(all[lo] + all[hi-1]) / 2, hi - lo})
	}
	slices.SortStableFunc(list, func(x, y window) int { return y.n - x.n })
	var out []float64
	for _, w := range list {
		if len(out) == candidates {
			break
		}
		if !slices.ContainsFunc(out, func(o float64) bool { return math.Abs(o-w.middle) < a.sigma }) {
			out = append(out, w.middle)
		}
	}
	return out
}

// settle lays runs and pieces beside each other in their order, from a first idea of
// the clocks on, until it does not change.
func (a *aligner) settle(c Clocks, runs, pieces []int) way {
	var w way
	for range 12 {
		next := a.lay(c, runs, pieces)
		if len(next.runs) < leastPairs {
			return next
		}
		same := slices.Equal(next.runs, w.runs) && slices.Equal(next.pieces, w.pieces)
		w = next
		c = a.fit(w)
		w.clocks = c
		if same {
			break
		}
	}
	last := a.lay(c, w.runs, w.pieces) // its gain under the clocks that it is left with
	w.gain = last.gain
	return w
}

// gain gives the logarithm of the likelihood of a pair, counted from where a clock no
// longer fits; 0 for one that does not.
func (a *aligner) gain(c Clocks, run, piece int) float64 {
	s, l := &a.seen[piece], &a.log[run]
	r := (s.At - c.expected(l.At)) / a.sigma
	if r < -widest || r > widest {
		return 0
	}
	g := widest*widest/2 - r*r/2
	switch l.Recording {
	case "":
	case s.Recording:
		g += named
	default:
		g -= named
	}
	return g
}

// lay finds the pairs in order that fit best: of the greatest sum over them of the
// logarithm of the likelihood, counted from where a clock no longer fits.
func (a *aligner) lay(c Clocks, runs, pieces []int) way {
	n, m := len(runs), len(pieces)
	gain := func(i, k int) float64 { return a.gain(c, runs[i], pieces[k]) }
	best := make([]float64, (n+1)*(m+1))
	at := func(i, k int) int { return i*(m+1) + k }
	for i := n - 1; i >= 0; i-- {
		for k := m - 1; k >= 0; k-- {
			b := math.Max(best[at(i+1, k)], best[at(i, k+1)])
			if g := gain(i, k); g > 0 {
				b = math.Max(b, g+best[at(i+1, k+1)])
			}
			best[at(i, k)] = b
		}
	}
	w := way{clocks: c, gain: best[0]}
	for i, k := 0, 0; i < n && k < m; {
		switch g := gain(i, k); {
		case g > 0 && best[at(i, k)] == g+best[at(i+1, k+1)]:
			w.runs, w.pieces = append(w.runs, runs[i]), append(w.pieces, pieces[k])
			i++
			k++
		case best[at(i, k)] == best[at(i+1, k)]:
			i++
		default:
			k++
		}
	}
	return w
}

// fit finds the clocks of pairs: the median of their differences, and by Theil and
// Sen's median of slopes what one clock gains on the other, where that shows.
func (a *aligner) fit(w way) Clocks {
	n := len(w.runs)
	x, y := make([]float64, n), make([]float64, n)
	for j, i := range w.runs {
		x[j], y[j] = a.log[i].At, a.seen[w.pieces[j]].At-a.log[i].At
	}
	c := Clocks{Pairs: n, middle: median(x)}
	spread := func() {
		var dev []float64
		for j := range x {
			dev = append(dev, math.Abs(y[j]-(c.expected(x[j])-x[j])))
		}
		c.SpreadS = 1.4826 * median(dev) // a Gaussian's standard deviation over its median absolute one
	}
	c.OffsetS = median(y)
	if n >= leastDrift {
		var slopes []float64
		for i := range x {
			for j := range i {
				if d := x[i] - x[j]; math.Abs(d) > 600 {
					slopes = append(slopes, (y[i]-y[j])/d)
				}
			}
		}
		if len(slopes) > 0 {
			slope := median(slopes)
			var left []float64
			mean, sxx := 0.0, 0.0
			for j := range x {
				mean += x[j] / float64(n)
			}
			for j := range x {
				left = append(left, y[j]-slope*(x[j]-c.middle))
				sxx += (x[j] - mean) * (x[j] - mean)
			}
			if se := a.sigma / math.Sqrt(sxx); math.Abs(slope) > sureDrift*se {
				c.PerHourS, c.OffsetS = 3600*slope, median(left)
			}
		}
	}
	spread()
	c.SE = 1.2533 * math.Max(c.SpreadS, a.sigma/2) / math.Sqrt(float64(n)) // 1.2533: a median's standard error over a mean's
	return c
}

func median(v []float64) float64 {
	s := slices.Sorted(slices.Values(v))
	n := len(s)
	if n == 0 {
		return 0
	}
	return (s[(n-1)/2] + s[n/2]) / 2
}

// strays pairs what is left by clock alone: it stands in the log at another place
// than it was driven. If it crosses one or two others, they may as well be what is out
// of place, and are in doubt too.
func (a *aligner) strays(clocks []Clocks) {
	for i, l := range a.log {
		if a.owner[i] >= 0 || !l.Timed {
			continue
		}
		near, at := widest*a.sigma, -1
		for k, s := range a.seen {
			for _, c := range clocks {
				if r := math.Abs(s.At - c.expected(l.At)); !a.taken[k] && r < near {
					near, at = r, k
					a.off[i] = s.At - c.expected(l.At)
				}
			}
		}
		if at < 0 { // whoever has its piece by place alone is in doubt
			for j, k := range a.owner {
				if k < 0 || a.log[j].Timed {
					continue
				}
				for _, c := range clocks {
					if math.Abs(a.seen[k].At-c.expected(l.At)) < near {
						a.doubt[j] = Unclear
					}
				}
			}
			continue
		}
		a.owner[i], a.taken[at], a.doubt[i] = at, true, OutOfOrder
		var crossed []int
		for j, k := range a.owner {
			if k >= 0 && j != i && (j < i) != (k < at) {
				crossed = append(crossed, j)
			}
		}
		if len(crossed) <= 2 {
			for _, j := range crossed {
				a.doubt[j] = OutOfOrder
			}
		}
	}
}

// untimed pairs runs without a time by their place, where as many pieces as runs are
// left between the pairs about them.
func (a *aligner) untimed() {
	a.gaps(func(runs, pieces []int) {
		if len(runs) != len(pieces) {
			return
		}
		for n, i := range runs {
			if a.log[i].Timed {
				return
			}
			a.owner[i], a.taken[pieces[n]] = pieces[n], true
		}
	})
}

// leftBetween pairs a single run and a single piece that are left between the same
// two pairs: by its place it is that run, by its clock it is not.
func (a *aligner) leftBetween(clocks []Clocks) {
	a.gaps(func(runs, pieces []int) {
		if len(runs) != 1 || len(pieces) != 1 || !a.log[runs[0]].Timed {
			return
		}
		i, k := runs[0], pieces[0]
		a.owner[i], a.taken[k], a.doubt[i] = k, true, ClockOff
		a.off[i] = a.seen[k].At - clocks[0].expected(a.log[i].At)
		for _, c := range clocks[1:] {
			if off := a.seen[k].At - c.expected(a.log[i].At); math.Abs(off) < math.Abs(a.off[i]) {
				a.off[i] = off
			}
		}
	})
}

// far doubts pairs in their order whose clocks hardly fit: the run may be one that was
// not recorded, and the piece one that was not logged.
func (a *aligner) far(clocks []Clocks) {
	spread := a.sigma
	for _, c := range clocks {
		spread = math.Max(spread, c.SpreadS)
	}
	for i, k := range a.owner {
		if k >= 0 && a.log[i].Timed && a.doubt[i] == "" && math.Abs(a.off[i]) > hardly*spread {
			a.doubt[i] = ClockOff
		}
	}
	// Beside one that is off or missing a shift by one may have crept in.
	odd := func(i int) bool {
		return i >= 0 && i < len(a.log) && (a.owner[i] < 0 || a.doubt[i] == ClockOff || a.doubt[i] == Unclear)
	}
	for changed := true; changed; {
		changed = false
		for i, k := range a.owner {
			if k >= 0 && a.log[i].Timed && a.doubt[i] == "" && math.Abs(a.off[i]) > creeping*spread && (odd(i-1) || odd(i+1)) {
				a.doubt[i], changed = Unclear, true
			}
		}
	}
}

// unclear looks whether a piece that is left fits a run beside it about as well as the
// run's own does, or a run that is left such a piece.
func (a *aligner) unclear(clocks []Clocks) {
	off := func(i, k int) float64 {
		least := math.Inf(1)
		for _, c := range clocks {
			least = math.Min(least, math.Abs(a.seen[k].At-c.expected(a.log[i].At))/a.sigma)
		}
		return least
	}
	free := func(k int) bool { // nobody has the piece, or somebody who may as well not
		if k < 0 || k >= len(a.seen) {
			return false
		}
		i := slices.Index(a.owner, k)
		return i < 0 || a.doubt[i] == Unclear
	}
	one := func(i, k int) bool {
		own := off(i, k)
		for _, j := range [...]int{k - 1, k + 1} {
			if free(j) {
				if o := off(i, j); o < widest && (o*o-own*own)/2 < plainly {
					return true
				}
			}
		}
		for _, j := range [...]int{i - 1, i + 1} {
			switch {
			case j < 0 || j >= len(a.log) || a.owner[j] >= 0:
			case !a.log[j].Timed && own > poorly:
				return true
			case a.log[j].Timed:
				if o := off(j, k); o < widest && (o*o-own*own)/2 < plainly {
					return true
				}
			}
		}
		return false
	}
	for changed := true; changed; {
		changed = false
		for i, k := range a.owner {
			if k >= 0 && a.log[i].Timed && a.doubt[i] == "" && one(i, k) {
				a.doubt[i], changed = Unclear, true
			}
		}
	}
}

// gaps hands over what is left between neighbouring pairs.
func (a *aligner) gaps(do func(runs, pieces []int)) {
	lastRun, lastPiece := -1, -1
	owner := slices.Clone(a.owner)
	for i := 0; i <= len(a.log); i++ {
		k := len(a.seen)
		if i < len(a.log) {
			if owner[i] < 0 || a.doubt[i] == OutOfOrder {
				continue
			}
			k = owner[i]
		}
		var runs, pieces []int
		for j := lastRun + 1; j < i; j++ {
			if owner[j] < 0 {
				runs = append(runs, j)
			}
		}
		for j := lastPiece + 1; j < k; j++ {
			if !a.taken[j] {
				pieces = append(pieces, j)
			}
		}
		if len(runs) > 0 && len(pieces) > 0 {
			do(runs, pieces)
		}
		lastRun, lastPiece = i, k
	}
}

// names looks whether the log names the recording that the piece is in.
func (a *aligner) names() {
	for i, k := range a.owner {
		if l := a.log[i]; k >= 0 && l.Recording != "" && l.Recording != a.seen[k].Recording {
			a.doubt[i] = Mislabelled
		}
	}
}

// tell puts what is to be known into caveats.
func (w *Whose) tell() {
	for n, c := range w.Clocks {
		about := ""
		if len(w.Clocks) > 1 {
			about = " in one stretch of the log"
			if n == 0 {
				w.Caveats.Add(caveatSegments, caveat.Place{}, "The recorder's clock and the log's do not differ by the same all the time: one of them was set in between. There are %d stretches.", len(w.Clocks))
			}
		}
		if math.Abs(c.OffsetS) > math.Max(2*c.SE, 60) {
			w.Caveats.Add(caveatOffset, caveat.Place{}, "The recorder's clock is %.0f ± %.0f s ahead of the run log's%s, by %d runs; they are matched with that taken off.", c.OffsetS, c.SE, about, c.Pairs)
		}
		if k := math.Round(c.OffsetS / halfHour); k != 0 && math.Abs(c.OffsetS-k*halfHour) < math.Max(4*c.SE, 120) {
			w.Caveats.Add(caveatHour, caveat.Place{}, "That is about %g h%s: the log or the recorder was in another zone, or one of them did not go over to summer time or back.", k/2, about)
		}
		if c.PerHourS != 0 {
			w.Caveats.Add(caveatDrift, caveat.Place{}, "The recorder's clock gains %.1f s an hour on the run log's%s.", c.PerHourS, about)
		}
	}
	for _, p := range w.Pairs {
		place := caveat.Place{File: p.Seen.Recording, Run: p.Logged.Run.ID, TimeS: caveat.At(p.Seen.Piece.FromS)}
		switch p.Doubt {
		case OutOfOrder:
			w.Caveats.Add(OutOfOrder, place, "By its clock this is the run, by its place in the log it is not: runs may have been exchanged. It is not used until somebody has decided.")
		case ClockOff:
			w.Caveats.Add(ClockOff, place, "By its place in the log this is the run, but its time is %.0f s off: the time may be mistyped, or another run was driven. It is not used until somebody has decided.", p.OffS)
		case Unclear:
			w.Caveats.Add(Unclear, place, "A run that was not logged, or one that was not recorded, stands so near beside it that it may as well be that one. It is not used until somebody has decided.")
		case Mislabelled:
			w.Caveats.Add(Mislabelled, place, "The log names %s for this run, and by order and clock it is in %s: recordings may have been exchanged. It is not used until somebody has decided.", p.Logged.Recording, p.Seen.Recording)
		}
	}
	for _, l := range w.Missing {
		w.Caveats.Add(caveatMissing, caveat.Place{Run: l.Run.ID}, "The run log lists this run, and no recording holds it.")
	}
	for _, s := range w.Extra {
		w.Caveats.Add(caveatExtra, caveat.Place{File: s.Recording, TimeS: caveat.At(s.Piece.FromS)},
			"A %s that begins here is no run of the log: a warm-up, or a run that nobody logged. Nothing of it is used.", strings.ReplaceAll(string(s.Piece.Kind), "_", " ")+" piece")
	}
}
