package advice

import (
	"math"
	"slices"

	"example.org/bookend/order"
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

// Ahead goes on bracket by bracket, each with the candidates that lower the mean square
// of the standard errors most a stint, until the difference that is wanted could be
// shown of every candidate undecided, at the level of the plan's last look. Wear is kept
// to, the time that is left is not: what the day does not hold is the reader's to see.
// Nil where nothing is wanted, or nothing is known of the scatter yet.
func (a *Advisor) Ahead(s State) (*Ahead, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	wanted := s.Request.Test.Wanted
	sd, df := s.scatter()
	if !(wanted > 0) || !(df > 0) || !(sd > 0) {
		return nil, nil
	}
	f := &farther{s: &s, left: map[string]int{}, blocks: slices.Clone(s.Blocks)}
	for _, c := range s.Request.Candidates {
		if !slices.Contains(s.Decided, c.Code) {
			f.undecided = append(f.undecided, c.Code)
		}
		f.left[c.Code] = s.left(c.Code)
		if slices.Contains(s.Held, c.Code) {
			f.left[c.Code] = 0
		}
	}
	if f.left[s.Request.Control] = s.left(s.Request.Control); slices.Contains(s.Held, s.Request.Control) {
		f.left[s.Request.Control] = 0
	}
	level := 0.05
	if s.Request.Test.Confidence != 0 {
		level = 1 - s.Request.Test.Confidence
	}
	if n := len(s.Looks); n > 0 {
		level = s.Looks[n-1].Level
	}
	out := &Ahead{Largest: math.Inf(1)}
	for {
		if f.closed() {
			now, err := a.showable(&s, f.blocks, level)
			if err != nil {
				return nil, err
			}
			out.Largest = now.Largest(f.undecided) * sd
			if out.Reached = out.Largest <= wanted; out.Reached {
				return out, nil
			}
		}
		then, err := f.next()
		if err != nil {
			return nil, err
		}
		if len(then) == 0 || len(out.Codes)+len(then) > mostAhead {
			return out, nil
		}
		f.drive(then)
		out.Codes = append(out.Codes, then...)
	}
}

// farther is a day that is looked ahead of.
type farther struct {
	s         *State
	blocks    [][]string
	left      map[string]int
	undecided []string
}

// last gives the block that goes on.
func (f *farther) last() []string {
	if len(f.blocks) == 0 {
		return nil
	}
	return f.blocks[len(f.blocks)-1]
}

func (f *farther) closed() bool {
	b := f.last()
	return len(b) > 0 && b[len(b)-1] == f.s.Request.Control
}

func (f *farther) with(then []string) [][]string {
	if len(f.blocks) == 0 {
		return [][]string{then}
	}
	next := slices.Clone(f.blocks)
	next[len(next)-1] = append(slices.Clone(f.last()), then...)
	return next
}

func (f *farther) drive(then []string) {
	f.blocks = f.with(then)
	for _, c := range then {
		f.left[c]--
	}
}

// standing gives how many candidates undecided cannot be told from the control at all,
// and the mean square of the standard errors of the others.
func (f *farther) standing(blocks [][]string) (missing int, mean float64, err error) {
	v, err := order.Estimable(f.s.Request, blocks, f.s.RecordDF)
	if err != nil {
		return 0, 0, err
	}
	n := 0
	for _, c := range f.undecided {
		i := -1
		if v != nil {
			i = slices.Index(v.Codes, c)
		}
		if i < 0 {
			missing++
			continue
		}
		mean += v.Length[i] * v.Length[i]
		n++
	}
	return missing, mean / float64(max(1, n)), nil
}

// next gives what is driven up to the next control, that control last; nothing where
// nothing can be driven any more.
func (f *farther) next() ([]string, error) {
	control := f.s.Request.Control
	if f.left[control] < 1 {
		return nil, nil
	}
	last := f.last()
	if len(last) == 0 {
		return []string{control}, nil // it opens the block
	}
	between, counts := 0, map[string]int{}
	for _, b := range f.blocks {
		between = 0
		for _, c := range b {
			counts[c]++
			if between++; c == control {
				between = 0
			}
		}
	}
	room := len(f.undecided)
	if most := f.s.Request.MostBetween; most > 0 {
		room = min(room, most-between)
	}
	// Who needs it most: the fewest stints first, each other pass the other way round.
	var need []string
	pass := 0
	for _, c := range f.undecided {
		if f.left[c] > 0 && c != last[len(last)-1] {
			need = append(need, c)
			pass = max(pass, counts[c])
		}
	}
	if pass%2 == 1 {
		slices.Reverse(need)
	}
	slices.SortStableFunc(need, func(x, y string) int { return counts[x] - counts[y] })
	missing, mean, err := f.standing(f.blocks)
	if err != nil {
		return nil, err
	}
	var best []string
	found, gained := -1.0, -1.0
	try := func(then []string) error {
		then = append(slices.Clone(then), control)
		m, after, err := f.standing(f.with(then))
		if err != nil {
			return err
		}
		stints := float64(len(then))
		told, gain := float64(missing-m)/stints, (mean-after)/stints
		if told > found+1e-12 || told > found-1e-12 && gain > gained*(1+1e-9) {
			best, found, gained = then, told, gain
		}
		return nil
	}
	if !f.closed() {
		if err := try(nil); err != nil {
			return nil, err
		}
	}
	for i := range need {
		then := []string{need[i]}
		for j := -1; j < len(need) && len(then) <= room; j++ {
			if j == i {
				continue
			}
			if j >= 0 {
				if then = append(then, need[j]); len(then) > room {
					break
				}
			}
			if err := try(then); err != nil {
				return nil, err
			}
		}
	}
	if f.closed() && found <= 0 && gained <= 0 && missing == 0 {
		return nil, nil // nothing helps any more
	}
	return best, nil
}
