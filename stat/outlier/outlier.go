// Package outlier finds what stands out among repeated results, and says how
// far repeated results agree: Grubbs' test for one value, Cochran's for one
// group's scatter, Mandel's h and k for groups in a table, repeatability and
// reproducibility by ISO 5725-2 and ASTM E691, and the coefficient of
// variation with its exact interval.
//
// In the trade: is one run odd, is one stint more scattered than the others,
// and by how much may two runs of the same thing differ? Nothing is ever
// removed here: a test gives its statistic, its p-value and the index, and
// people decide. Values are in the measure's unit and standard deviations too;
// the scatter of a drifting sequence belongs to its residuals, not to its raw
// values.
//
// Sources: Grubbs, Technometrics 11 (1969) 1-21; ISO 5725-2:1994, clause 7 and
// its tables; ASTM E691; Wilrich, AStA 97 (2013) 1-10 for the exact points of h
// and k. Limits: all tests assume normal scatter; p-values by Bonferroni's bound
// say whether the bound is attained.
package outlier

import (
	"math"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/stat/tail"
)

// Side says in which direction an outlier is looked for.
type Side int

// The three directions.
const (
	TwoSided Side = iota // the value farthest from the mean
	Greatest             // the greatest value
	Least                // the least value
)

func (s Side) String() string {
	return [...]string{"two-sided", "greatest", "least"}[s]
}

// Grubbs is the outcome of Grubbs' test for one outlier.
type Grubbs struct {
	N        int     // number of values
	Side     Side    // direction looked in
	Mean     float64 // of all values, in their unit
	SD       float64 // sample standard deviation (n - 1), in their unit
	Index    int     // of the suspect value, -1 where no value differs from another
	Value    float64 // the suspect value, in its unit
	G        float64 // |value - mean| / SD
	P        float64 // probability of a G at least as great without an outlier
	Exact    bool    // P is exact; false: P is an upper bound (Bonferroni)
	Alpha    float64 // level of Critical
	Critical float64 // G above which the value is an outlier at Alpha
	Outlier  bool    // G > Critical
	Caveats  caveat.List
}

// TestGrubbs tests the values for one outlier at the level alpha.
//
// P is n (or 2n) times the tail of Student's t with n - 2 degrees of freedom.
// It is exact where no two values can both lie so far out, that is for
// G >= sqrt((n-1)(n-2)/(2n)) for one side (Pearson and Chandra Sekar,
// Biometrika 28 (1936) 308) and for G >= sqrt((n-1)/2) for either side;
// elsewhere it is a bound from above, and Exact says so.
func TestGrubbs(x []float64, side Side, alpha float64) (Grubbs, error) {
	n := len(x)
	r := Grubbs{N: n, Side: side, Alpha: alpha, Index: -1, P: 1}
	crit, err := GrubbsCritical(n, side, alpha)
	if err != nil {
		return r, err
	}
	if err := finite(x); err != nil {
		return r, err
	}
	r.Critical = crit
	r.Mean, r.SD = meanSD(x)
	if allEqual(x) || r.SD == 0 {
		r.SD = 0
		r.Mean, r.Value, r.Exact = x[0], x[0], true
		r.Caveats.Add("no_scatter", caveat.Place{}, "All %d values are equal: no value can stand out.", n)
		return r, nil
	}
	far := math.Inf(-1)
	for i, v := range x {
		d := v - r.Mean
		switch side {
		case TwoSided:
			d = math.Abs(d)
		case Least:
			d = -d
		}
		if d > far {
			far, r.Index = d, i
		}
	}
	r.Value = x[r.Index]
	r.G = far / r.SD
	r.P, r.Exact = grubbsP(r.G, n, side)
	r.Outlier = r.G > r.Critical
	ties := 0
	for _, v := range x {
		if v == r.Value {
			ties++
		}
	}
	if ties > 1 {
		r.Caveats.Add("tied_extreme", caveat.Place{}, "The extreme value occurs %d times; several values that lie out together hide one another from this test.", ties)
	}
	return r, nil
}

func grubbsP(g float64, n int, side Side) (p float64, exact bool) {
	nf := float64(n)
	// G^2 at its greatest, (n-1)^2/n, is reached when all others are equal.
	room := (nf-1)*(nf-1) - nf*g*g
	if room <= 0 {
		return 0, true
	}
	t := g * math.Sqrt(nf*(nf-2)/room)
	p = nf * tail.T(t, nf-2)
	exact = g >= math.Sqrt((nf-1)*(nf-2)/(2*nf))
	if side == TwoSided {
		p *= 2
		exact = g >= math.Sqrt((nf-1)/2)
	}
	return math.Min(1, p), exact && p <= 1
}

// GrubbsCritical gives the G that n values without an outlier exceed with
// probability alpha (at most, where the bound of TestGrubbs is not attained).
func GrubbsCritical(n int, side Side, alpha float64) (float64, error) {
	if n < 3 {
		return 0, fault.New(fault.Invalid, "Grubbs' test needs at least 3 values, not %d", n)
	}
	if err := level(alpha); err != nil {
		return 0, err
	}
	nf := float64(n)
	p := alpha / nf
	if side == TwoSided {
		p /= 2
	}
	t := tail.TPoint(p, nf-2)
	t2 := t * t
	return (nf - 1) / math.Sqrt(nf) * math.Sqrt(t2/(nf-2+t2)), nil
}

// Cochran is the outcome of Cochran's test for one group whose scatter stands
// out.
type Cochran struct {
	Groups   int     // number of groups with at least two values
	PerGroup int     // values a group (the most frequent number, where they differ)
	Index    int     // of the group with the greatest share, -1 where nothing scatters
	C        float64 // its variance over the sum of all
	P        float64 // upper bound (Bonferroni) of the probability of that without an odd group
	Alpha    float64 // level of Critical
	Critical float64 // C above which the group is odd at Alpha
	Outlier  bool    // P < Alpha
	Caveats  caveat.List
}

// TestCochran tests the variances of several groups, each of counts[i] values,
// for one that is too great, at the level alpha. Groups of fewer than two
// values are passed over with a caveat.
//
// Where the counts differ, the test is that of 't Lam, Analytica Chimica Acta
// 659 (2010) 68-84: each group's share of the sum of squares against its own F
// limit at alpha over the number of groups, which is Cochran's for equal
// counts. C and Critical are then only indications, for the most frequent
// count (ISO 5725-2:1994, 7.3.3.3), and a caveat says so.
func TestCochran(variances []float64, counts []int, alpha float64) (Cochran, error) {
	r := Cochran{Index: -1, P: 1, Alpha: alpha}
	if len(variances) != len(counts) {
		return r, fault.New(fault.Invalid, "%d variances but %d counts", len(variances), len(counts))
	}
	if err := level(alpha); err != nil {
		return r, err
	}
	if err := finite(variances); err != nil {
		return r, err
	}
	var use []int
	var sumVar, sumSq, sumDF float64
	often := map[int]int{}
	for i, v := range variances {
		if v < 0 {
			return r, fault.New(fault.Invalid, "variance %d is negative", i+1)
		}
		if counts[i] < 2 {
			r.Caveats.Add("group_without_scatter", caveat.Place{}, "Group %d has %d values and no scatter of its own; it is passed over.", i+1, max(counts[i], 0))
			continue
		}
		use = append(use, i)
		often[counts[i]]++
		sumVar += v
		sumSq += float64(counts[i]-1) * v
		sumDF += float64(counts[i] - 1)
	}
	r.Groups = len(use)
	if r.Groups < 2 {
		return r, fault.New(fault.Invalid, "Cochran's test needs at least 2 groups with scatter, not %d", r.Groups)
	}
	for _, i := range use { // in order, so that a draw does not hang on the map
		if c := counts[i]; often[c] > often[r.PerGroup] || (often[c] == often[r.PerGroup] && c > r.PerGroup) {
			r.PerGroup = c
		}
	}
	var err error
	if r.Critical, err = CochranCritical(r.Groups, r.PerGroup, alpha); err != nil {
		return r, err
	}
	if len(often) > 1 {
		r.Caveats.Add("unequal_counts", caveat.Place{}, "The groups have unequal numbers of values: the p-value allows for that, the printed critical value is the one for %d values a group and only an indication.", r.PerGroup)
	}
	if sumVar == 0 {
		r.Caveats.Add("no_scatter", caveat.Place{}, "No group scatters at all: none can stand out.")
		return r, nil
	}
	for _, i := range use {
		df := float64(counts[i] - 1)
		share := df * variances[i] / sumSq
		p := 0.0 // a group that holds all the scatter
		if share < 1 {
			p = math.Min(1, float64(r.Groups)*tail.F(share/(1-share)*(sumDF-df)/df, df, sumDF-df))
		}
		if r.Index < 0 || p < r.P || (p == r.P && variances[i] > variances[r.Index]) {
			r.Index, r.P = i, p
		}
	}
	r.C = variances[r.Index] / sumVar
	r.Outlier = r.P < alpha
	return r, nil
}

// CochranCritical gives Cochran's C for groups of n values each that is
// exceeded with probability alpha at most when all have the same variance.
func CochranCritical(groups, n int, alpha float64) (float64, error) {
	if groups < 2 || n < 2 {
		return 0, fault.New(fault.Invalid, "Cochran's C needs at least 2 groups of 2 values, not %d of %d", groups, n)
	}
	if err := level(alpha); err != nil {
		return 0, err
	}
	p, df := float64(groups), float64(n-1)
	f := tail.FPoint(alpha/p, df, (p-1)*df)
	return 1 / (1 + (p-1)/f), nil
}

// MandelH gives the critical value of Mandel's h (two-sided, level alpha) for
// the means of a number of groups.
func MandelH(groups int, alpha float64) (float64, error) {
	if groups < 3 {
		return 0, fault.New(fault.Invalid, "Mandel's h needs at least 3 groups, not %d", groups)
	}
	if err := level(alpha); err != nil {
		return 0, err
	}
	p := float64(groups)
	t := tail.TPoint(alpha/2, p-2)
	return (p - 1) * t / math.Sqrt(p*(t*t+p-2)), nil
}

// MandelK gives the critical value of Mandel's k (level alpha) for the scatter
// within groups of n values each.
func MandelK(groups, n int, alpha float64) (float64, error) {
	if groups < 2 || n < 2 {
		return 0, fault.New(fault.Invalid, "Mandel's k needs at least 2 groups of 2 values, not %d of %d", groups, n)
	}
	if err := level(alpha); err != nil {
		return 0, err
	}
	p, df := float64(groups), float64(n-1)
	f := tail.FPoint(alpha, df, (p-1)*df)
	return math.Sqrt(p / (1 + (p-1)/f)), nil
}

func level(alpha float64) error {
	if !(alpha > 0 && alpha < 1) {
		return fault.New(fault.Invalid, "a level lies between 0 and 1, not at %v", alpha)
	}
	return nil
}

// largest is the greatest size of a value admitted: squares and their sums
// stay far from overflow, and no measure comes near it.
const largest = 1e100

func finite(x []float64) error {
	for i, v := range x {
		if !(math.Abs(v) <= largest) {
			return fault.New(fault.Invalid, "value %d is no number, or beyond %g", i+1, largest).WithHint("leave missing values out")
		}
	}
	return nil
}

func allEqual(x []float64) bool {
	for _, v := range x {
		if v != x[0] {
			return false
		}
	}
	return true
}

// meanSD gives mean and sample standard deviation in two passes; the standard
// deviation of fewer than two values is 0.
func meanSD(x []float64) (mean, sd float64) {
	n := float64(len(x))
	for _, v := range x {
		mean += v
	}
	mean /= n
	if len(x) < 2 || allEqual(x) {
		return mean, 0
	}
	var ss, rest float64
	for _, v := range x {
		d := v - mean
		ss += d * d
		rest += d
	}
	return mean + rest/n, math.Sqrt((ss - rest*rest/n) / (n - 1))
}
