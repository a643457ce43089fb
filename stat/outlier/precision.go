package outlier

import (
	"math"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/stat/tail"
)

// The two factors by which a repeatability limit is made from a standard
// deviation: two results differ by less than the limit 95 times in 100.
const (
	RoundFactor = 2.8               // ISO 5725-6:1994, 4.1.4, and ASTM E177: the rounded rule
	ExactFactor = 2.771807648699356 // 1.959963985 sqrt 2, the 97.5 % point of the normal times sqrt 2
)

// Precision is repeatability and reproducibility of groups of repeated
// results, by ISO 5725-2:1994, 7.4, and ASTM E691. Groups are laboratories
// there; in the trade they are stints, days or drivers. Standard deviations
// and limits are in the values' unit.
type Precision struct {
	Groups int
	Counts []int
	Mean   float64 // general mean, weighted by counts

	Means         []float64 // of each group
	SDs           []float64 // of each group; 0 for a group of one
	SDOfMeans     float64   // s_x: standard deviation of the group means
	Repeatability float64   // s_r: pooled standard deviation within groups
	RepeatDF      int       // degrees of freedom of s_r
	BetweenVar    float64   // s_L squared, 0 where the estimate is negative
	Reproduce     float64   // s_R: sqrt(s_r^2 + s_L^2)

	RepeatLimit    float64   // r = 2.8 s_r
	ReproduceLimit float64   // R = 2.8 s_R
	RepeatExact    float64   // 1.96 sqrt 2 s_r
	ReproduceExact float64   // 1.96 sqrt 2 s_R
	H              []float64 // Mandel's h of each group; 0 where all means agree
	K              []float64 // Mandel's k of each group; 0 for a group of one
	Alpha          float64   // level of the critical values
	HCritical      float64   // 0 with fewer than three groups
	KCritical      []float64 // of each group, by its own count; 0 for a group of one
	Caveats        caveat.List
}

// Study computes repeatability and reproducibility, h and k from groups of
// results, with critical values at the level alpha. Counts may differ.
func Study(groups [][]float64, alpha float64) (Precision, error) {
	p := Precision{Groups: len(groups), Alpha: alpha}
	if err := level(alpha); err != nil {
		return p, err
	}
	if len(groups) < 2 {
		return p, fault.New(fault.Invalid, "repeatability and reproducibility need at least 2 groups, not %d", len(groups))
	}
	var total, sum, sumSq, ssWithin float64
	replicated, sumOwn := 0.0, 0.0
	unequal := false
	for i, g := range groups {
		if len(g) == 0 {
			return p, fault.New(fault.Invalid, "group %d is empty", i+1).WithHint("leave empty groups out")
		}
		if err := finite(g); err != nil {
			return p, fault.At(err, "group %d", i+1)
		}
		m, s := meanSD(g)
		n := float64(len(g))
		p.Counts = append(p.Counts, len(g))
		p.Means = append(p.Means, m)
		p.SDs = append(p.SDs, s)
		total += n
		sumSq += n * n
		sum += n * m
		ssWithin += (n - 1) * s * s
		p.RepeatDF += len(g) - 1
		if len(g) > 1 {
			replicated++
			sumOwn += s * s
		} else {
			p.Caveats.Add("group_without_scatter", caveat.Place{}, "Group %d has one value and no scatter of its own.", i+1)
		}
		unequal = unequal || len(g) != len(groups[0])
	}
	if p.RepeatDF == 0 {
		return p, fault.New(fault.Invalid, "no group has two values: there is no repeatability to compute")
	}
	k := float64(len(groups))
	p.Mean = sum / total
	var meanOfMeans float64
	meanOfMeans, p.SDOfMeans = meanSD(p.Means)
	p.Repeatability = math.Sqrt(ssWithin / float64(p.RepeatDF))
	var ssBetween float64
	for i, m := range p.Means {
		ssBetween += float64(p.Counts[i]) * (m - p.Mean) * (m - p.Mean)
	}
	perGroup := (total - sumSq/total) / (k - 1) // ISO 5725-2:1994, 7.4.5.2
	between := (ssBetween/(k-1) - p.Repeatability*p.Repeatability) / perGroup
	if between > 0 {
		p.BetweenVar = between
	} else {
		p.Caveats.Add("no_variance_between_groups", caveat.Place{}, "The groups' means scatter no more than their repeatability explains: the variance between groups is taken as 0.")
	}
	p.Reproduce = math.Sqrt(p.Repeatability*p.Repeatability + p.BetweenVar)
	p.RepeatLimit, p.ReproduceLimit = RoundFactor*p.Repeatability, RoundFactor*p.Reproduce
	p.RepeatExact, p.ReproduceExact = ExactFactor*p.Repeatability, ExactFactor*p.Reproduce

	if len(groups) >= 3 {
		p.HCritical, _ = MandelH(len(groups), alpha)
	} else {
		p.Caveats.Add("too_few_groups", caveat.Place{}, "Mandel's h says nothing with two groups: both are equally far out.")
	}
	rms := math.Sqrt(sumOwn / replicated)
	p.H, p.K, p.KCritical = make([]float64, len(groups)), make([]float64, len(groups)), make([]float64, len(groups))
	for i := range groups {
		if p.SDOfMeans > 0 {
			p.H[i] = (p.Means[i] - meanOfMeans) / p.SDOfMeans
		}
		if rms > 0 {
			p.K[i] = p.SDs[i] / rms
		}
		if p.Counts[i] > 1 && replicated > 1 {
			p.KCritical[i], _ = MandelK(int(replicated), p.Counts[i], alpha)
		}
	}
	if p.SDOfMeans == 0 || rms == 0 {
		p.Caveats.Add("no_scatter", caveat.Place{}, "The groups' means, or the values within the groups, do not scatter at all; h or k is given as 0.")
	}
	if unequal {
		p.Caveats.Add("unequal_counts", caveat.Place{}, "The groups have unequal numbers of values: h gives every mean the same weight, and k is held against the critical value for the group's own number.")
	}
	return p, nil
}

// Variation is a coefficient of variation with its interval; shares, not
// percent.
type Variation struct {
	N         int
	Mean, SD  float64 // in the values' unit
	CV        float64 // SD over mean
	Low, High float64 // the interval; High is 0 where Bounded is false
	Bounded   bool    // false: the mean is not shown to differ from zero, and no upper limit exists
	Level     float64 // confidence
	Caveats   caveat.List
}

// CoefficientOfVariation gives standard deviation over mean with its exact
// interval at the confidence given (0.95, say): sqrt(n) mean/SD has a
// noncentral t distribution with n - 1 degrees of freedom and noncentrality
// sqrt(n)/CV (Johnson and Welch, Biometrika 31 (1940) 362), which is solved
// for both limits.
func CoefficientOfVariation(x []float64, confidence float64) (Variation, error) {
	v := Variation{N: len(x), Level: confidence}
	if err := level(confidence); err != nil {
		return v, err
	}
	if len(x) < 2 {
		return v, fault.New(fault.Invalid, "a coefficient of variation needs at least 2 values, not %d", len(x))
	}
	if err := finite(x); err != nil {
		return v, err
	}
	v.Mean, v.SD = meanSD(x)
	if v.Mean <= 0 {
		return v, fault.New(fault.Invalid, "a coefficient of variation needs a mean above zero, not %g", v.Mean).
			WithHint("measures that can be zero or negative have a standard deviation only")
	}
	v.CV = v.SD / v.Mean
	if v.SD == 0 {
		v.Bounded = true
		v.Caveats.Add("no_scatter", caveat.Place{}, "All %d values are equal: their coefficient of variation is 0, and its interval has no width.", v.N)
		return v, nil
	}
	n := float64(v.N)
	t := math.Sqrt(n) / v.CV
	half := (1 - confidence) / 2
	// The tail P(T > t) grows with delta: the great delta belongs to the low limit.
	v.Low = math.Sqrt(n) / noncentrality(t, n-1, 1-half)
	if d := noncentrality(t, n-1, half); d > 0 {
		v.High, v.Bounded = math.Sqrt(n)/d, true
	} else {
		v.Caveats.Add("no_upper_limit", caveat.Place{}, "The values scatter so much that their mean is not shown to differ from zero: the coefficient of variation has no upper limit.")
	}
	return v, nil
}

// noncentrality gives the delta with P(T > t) = p, or 0 where delta is not
// positive.
func noncentrality(t, df, p float64) float64 {
	if tail.NoncentralT(t, df, 0) >= p {
		return 0
	}
	lo, hi := 0.0, 2*t+4
	for tail.NoncentralT(t, df, hi) < p {
		lo, hi = hi, 2*hi
	}
	for range 200 {
		mid := (lo + hi) / 2
		if mid <= lo || mid >= hi || hi-lo < 1e-13*hi {
			break
		}
		if tail.NoncentralT(t, df, mid) < p {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}
