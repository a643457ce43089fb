package manyone

import (
	"math"
	"sync"

	"example.org/bookend/fault"
	"example.org/bookend/stat/manyone/joint"
	"example.org/bookend/stat/manyone/region"
)

// Power gives the probability that one comparison with the noncentrality
// delta/se, se its true standard error, passes the critical value on the side
// given: the tail of noncentral t. For TwoSided either side counts.
func Power(critical, df, noncentrality float64, sided joint.Sided) (float64, error) {
	switch {
	case math.IsNaN(critical) || math.IsInf(critical, 0):
		return 0, fault.New(fault.Invalid, "the critical value is %v", critical)
	case !(df > 0):
		return 0, fault.New(fault.Invalid, "the degrees of freedom are %v", df)
	case math.IsNaN(noncentrality) || math.IsInf(noncentrality, 0):
		return 0, fault.New(fault.Invalid, "the noncentrality is %v", noncentrality)
	}
	return power(critical, df, noncentrality, sided), nil
}

func power(c, df, ncp float64, sided joint.Sided) float64 {
	if sided == joint.Lower {
		ncp = -ncp
	}
	pieces := region.PhiTable()
	up := func(x float64) float64 {
		if x < region.Deep {
			return pieces.Anywhere(x)
		}
		return region.UpperPhi(x)
	}
	g := func(s float64) float64 {
		q := up(c*s - ncp)
		if sided == joint.TwoSided {
			q += up(c*s + ncp)
		}
		return q
	}
	v, _ := region.OverScale(df, g, g)
	return min(1, v)
}

// Noncentrality gives the size of delta/se that one comparison shows with the
// power given, against a critical value on df degrees of freedom.
func Noncentrality(critical, df, wanted float64, sided joint.Sided) (float64, error) {
	if !(wanted > 0 && wanted < 1) {
		return 0, fault.New(fault.Invalid, "the power wanted is %v, not between 0 and 1", wanted)
	}
	if _, err := Power(critical, df, 0, sided); err != nil {
		return 0, err
	}
	side := sided
	if side == joint.Lower {
		side = joint.Upper // by symmetry
	}
	key := [4]float64{critical, df, wanted, float64(side)}
	sizes.Lock()
	x, ok := sizes.of[key]
	sizes.Unlock()
	if ok {
		return x, nil
	}
	x, err := noncentrality(critical, df, wanted, side)
	if err != nil {
		return 0, err
	}
	sizes.Lock()
	defer sizes.Unlock()
	if len(sizes.of) >= mostSizes {
		clear(sizes.of)
	}
	sizes.of[key] = x
	return x, nil
}

// sizes keeps what Noncentrality gave: the measures of a programme share it.
var sizes = struct {
	sync.Mutex
	of map[[4]float64]float64
}{of: map[[4]float64]float64{}}

// mostSizes bounds the sizes kept; when there are more all are dropped.
const mostSizes = 512

func noncentrality(critical, df, wanted float64, side joint.Sided) (float64, error) {
	low, high := 0.0, 1.0
	if power(critical, df, 0, side) >= wanted {
		return 0, nil
	}
	for power(critical, df, high, side) < wanted {
		low, high = high, 2*high
		if high > 1e8 {
			return 0, fault.New(fault.Unsupported, "no difference reaches power %v against %v on %v degrees of freedom", wanted, critical, df)
		}
	}
	// The complement in logarithms is the smoother function near power 1.
	x, _, _ := region.Solve(func(d float64) (float64, float64) {
		return math.Log(wanted) - math.Log(power(critical, df, d, side)), 0
	}, low, high)
	return x, nil
}

// Layout is a comparison of candidates with Runs stints each against one
// control with Control stints, all of one scatter. (A stint is the unit that
// repeats independently; whoever plans on runs gives runs.)
type Layout struct {
	Candidates int
	Control    int // repeats of the control
	Runs       int // repeats of each candidate
	Alpha      float64
	Sided      joint.Sided
	Spent      int     // further degrees of freedom spent, as on a drift
	DF         float64 // of the scatter if it is known better; 0 means Control + Candidates*Runs - Candidates - 1 - Spent
}

func (l Layout) df() float64 {
	if l.DF != 0 {
		return l.DF
	}
	return float64(l.Control + l.Candidates*l.Runs - l.Candidates - 1 - l.Spent)
}

func (l Layout) check() error {
	switch {
	case l.Candidates < 1 || l.Control < 1 || l.Runs < 1:
		return fault.New(fault.Invalid, "%d candidates with %d repeats against %d of the control", l.Candidates, l.Runs, l.Control)
	case !(l.Alpha > 0 && l.Alpha < 1):
		return fault.New(fault.Invalid, "alpha is %v, not between 0 and 1", l.Alpha)
	case l.Spent < 0:
		return fault.New(fault.Invalid, "%d degrees of freedom spent", l.Spent)
	case !(l.df() > 0):
		return fault.New(fault.Invalid, "there are no degrees of freedom for the scatter").WithHint("repeat the control or a candidate")
	}
	return nil
}

// Variance gives the variance of a candidate less control, in sigma^2.
func (l Layout) Variance() float64 { return 1/float64(l.Control) + 1/float64(l.Runs) }

// Critical gives the critical value of the layout and its degrees of freedom.
func (l Layout) Critical() (critical, df float64, err error) {
	if err := l.check(); err != nil {
		return 0, 0, err
	}
	n := make([]int, l.Candidates)
	for i := range n {
		n[i] = l.Runs
	}
	f, err := Independent(l.Control, n, l.df(), l.Sided)
	if err != nil {
		return 0, 0, err
	}
	critical, _, err = f.Critical(l.Alpha)
	return critical, l.df(), err
}

// Power gives the probability that one candidate that differs by delta, in
// sigma, is shown to differ.
func (l Layout) Power(delta float64) (float64, error) {
	c, df, err := l.Critical()
	if err != nil {
		return 0, err
	}
	return Power(c, df, delta/math.Sqrt(l.Variance()), l.Sided)
}

// Detectable gives the smallest difference, in sigma, that one candidate shows
// with the power given.
func (l Layout) Detectable(wanted float64) (float64, error) {
	c, df, err := l.Critical()
	if err != nil {
		return 0, err
	}
	x, err := Noncentrality(c, df, wanted, l.Sided)
	return x * math.Sqrt(l.Variance()), err
}

// mostRepeats ends the search of Needed.
const mostRepeats = 1000

// Needed gives the smallest layout that shows delta, in sigma, with the power
// wanted, where the control is repeated perCandidate times as often as a
// candidate, rounded up; 0 means sqrt(candidates) (Dunnett 1955). The other
// fields are taken from l.
func (l Layout) Needed(delta, wanted, perCandidate float64) (Layout, error) {
	if !(delta > 0) || !(wanted > 0 && wanted < 1) {
		return l, fault.New(fault.Invalid, "a difference of %v sigma with power %v", delta, wanted)
	}
	if perCandidate == 0 {
		perCandidate = math.Sqrt(float64(l.Candidates))
	}
	if !(perCandidate > 0) || math.IsInf(perCandidate, 0) {
		return l, fault.New(fault.Invalid, "the control is to be repeated %v times as often", perCandidate)
	}
	enough := func(n int) (Layout, bool, error) {
		t := l
		t.Runs = n
		// 1e-9 keeps 2*1.5 from becoming 4.
		t.Control = max(1, int(math.Ceil(float64(n)*perCandidate-1e-9)))
		if !(t.df() > 0) {
			return t, false, nil
		}
		p, err := t.Power(delta)
		return t, p >= wanted, err
	}
	// Power rises with n: double, then halve.
	low, high := 0, 1
	for {
		_, ok, err := enough(high)
		if err != nil {
			return l, err
		}
		if ok {
			break
		}
		if high >= mostRepeats {
			return l, fault.New(fault.Unsupported, "%d repeats do not show %v sigma with power %v", mostRepeats, delta, wanted)
		}
		low, high = high, min(2*high, mostRepeats)
	}
	for high-low > 1 {
		mid := (low + high) / 2
		_, ok, err := enough(mid)
		if err != nil {
			return l, err
		}
		if ok {
			high = mid
		} else {
			low = mid
		}
	}
	t, _, err := enough(high)
	return t, err
}

// Allocation is one split of a number of stints between control and
// candidates.
type Allocation struct {
	Layout
	Variance  float64 // of candidate less control, in sigma^2
	HalfWidth float64 // of the simultaneous interval, in sigma
}

// Allocations gives every split of total repeats over the control and equal
// candidates that leaves degrees of freedom, most for the control first, and
// the indices of the least variance and the least half-width. The first is
// near Control = Runs*sqrt(Candidates) (Dunnett 1955).
func Allocations(candidates, total int, alpha float64, sided joint.Sided) (all []Allocation, leastVariance, leastHalfWidth int, err error) {
	if candidates < 1 || total <= candidates {
		return nil, 0, 0, fault.New(fault.Invalid, "%d repeats over %d candidates and the control", total, candidates)
	}
	for n := 1; total-n*candidates >= 1; n++ {
		l := Layout{Candidates: candidates, Control: total - n*candidates, Runs: n, Alpha: alpha, Sided: sided}
		if !(l.df() > 0) {
			continue
		}
		c, _, err := l.Critical()
		if err != nil {
			return nil, 0, 0, err
		}
		a := Allocation{l, l.Variance(), c * math.Sqrt(l.Variance())}
		all = append(all, a)
		i := len(all) - 1
		// 1e-12: equal but for rounding goes to the first.
		if a.Variance < all[leastVariance].Variance-1e-12 {
			leastVariance = i
		}
		if a.HalfWidth < all[leastHalfWidth].HalfWidth-1e-12 {
			leastHalfWidth = i
		}
	}
	if len(all) == 0 {
		return nil, 0, 0, fault.New(fault.Invalid, "%d repeats leave no degrees of freedom", total)
	}
	return all, leastVariance, leastHalfWidth, nil
}
