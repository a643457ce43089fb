package drift

import (
	"math"
	"slices"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/stat/tail"
)

// TheilSen is the median of all slopes between two values, with the interval
// that Kendall's test gives.
type TheilSen struct {
	N          int
	Slope      float64 // value per position
	Intercept  float64 // median value minus slope times median position
	Low, High  float64 // interval of the slope
	Bounded    bool    // false: too few values for the confidence asked, Low and High are the extreme slopes
	Confidence float64 // asked for
	Reached    float64 // confidence that the interval has (counted out where Exact, else as asked)
	Exact      bool    // Reached and P are from the exact distribution
	P          float64 // Kendall's test that there is no trend, two-sided
	Caveats    caveat.List
}

// exactKendall is the number of values up to which Kendall's distribution is
// counted out: beyond it the normal approximation is good to three decimals
// (Kendall, Rank Correlation Methods, 1970, chapter 4, calls for it from 10).
const exactKendall = 60

// FitTheilSen gives the slope of Sen (1968) and its interval at the confidence
// given: ranks by Sen's normal approximation with its correction for ties.
// Without ties the distribution of Kendall's S is counted out as well: it says
// what confidence the interval really has, and widens it where that is less
// than was asked.
func FitTheilSen(s Sequence, confidence float64) (TheilSen, error) {
	r := TheilSen{N: len(s.At), Confidence: confidence, P: 1}
	if !(confidence > 0 && confidence < 1) {
		return r, fault.New(fault.Invalid, "a confidence lies between 0 and 1, not at %v", confidence)
	}
	s, err := s.sorted()
	if err != nil {
		return r, err
	}
	n := len(s.At)
	var slopes []float64
	score, tied := 0, false
	for i := range n {
		for j := i + 1; j < n; j++ {
			dy := s.Value[j] - s.Value[i]
			if dy == 0 {
				tied = true
			}
			if s.At[j] == s.At[i] {
				tied = true
				continue
			}
			slopes = append(slopes, dy/(s.At[j]-s.At[i]))
			if dy > 0 {
				score++
			} else if dy < 0 {
				score--
			}
		}
	}
	if len(slopes) == 0 {
		return r, fault.New(fault.Invalid, "a slope needs at least 2 controls at different positions")
	}
	slices.Sort(slopes)
	r.Slope = median(slopes)
	values := slices.Clone(s.Value)
	slices.Sort(values)
	r.Intercept = median(values) - r.Slope*median(s.At)
	r.Low, r.High = slopes[0], slopes[len(slopes)-1]

	nt := len(slopes)
	ny := float64(n)
	v := ny * (ny - 1) * (2*ny + 5)
	for _, t := range append(runs(s.At), runs(values)...) {
		v -= t * (t - 1) * (2*t + 5)
	}
	if v <= 0 {
		r.Bounded, r.Reached = true, confidence
		r.Caveats.Add("all_tied", caveat.Place{}, "All values are equal: the robust slope is 0 and there is nothing to test.")
		return r, nil
	}
	// Sen (1968), (2.6): ranks from the normal approximation, to the nearest.
	sigma := math.Sqrt(v / 18)
	z := tail.NormalPoint((1 - confidence) / 2)
	high := int(math.RoundToEven((float64(nt) + z*sigma) / 2))
	low := int(math.RoundToEven((float64(nt)-z*sigma)/2)) - 1
	if low >= high {
		low, high = (nt-1)/2, nt/2
	}
	if !tied && n <= exactKendall {
		// A slope below the k-th (from 0) asks for at most k discordant pairs.
		upper := kendallUpper(n)
		for low >= 0 && 1-2*upper[low] < confidence-1e-12 {
			low, high = low-1, high+1
		}
		r.Exact = true
		r.Reached = 1 - 2*upper[max(low, 0)]
		r.P = math.Min(1, 2*upper[(nt-max(score, -score))/2])
	} else {
		r.Reached = confidence
		r.P = math.Min(1, 2*tail.Normal(math.Max(0, math.Abs(float64(score))-1)/sigma))
		r.Caveats.Add("approximate_interval", caveat.Place{}, "With ties, or with more than %d values, the robust slope's interval is approximate.", exactKendall)
	}
	if r.Bounded = low >= 0 && high <= nt-1; r.Bounded {
		r.Low, r.High = slopes[low], slopes[high]
	}
	if !r.Bounded {
		r.Caveats.Add("few_controls", caveat.Place{}, "%d controls are too few for a robust slope's interval at the confidence asked; the two extreme slopes are given, at %.0f %%.", n, 100*r.Reached)
	}
	return r, nil
}

// kendallUpper gives for k = 0, 1, ... the probability of at most k discordant
// pairs among n values in random order: numbers of orders with a given number
// of inversions, built up value by value as probabilities.
func kendallUpper(n int) []float64 {
	p := []float64{1}
	for m := 2; m <= n; m++ {
		next := make([]float64, len(p)+m-1)
		for i, v := range p {
			for j := range m {
				next[i+j] += v / float64(m)
			}
		}
		p = next
	}
	for i := 1; i < len(p); i++ {
		p[i] += p[i-1]
	}
	return p
}

// runs gives the sizes of groups of equal values among sorted ones.
func runs(sorted []float64) []float64 {
	var out []float64
	for i := 0; i < len(sorted); {
		j := i
		for j < len(sorted) && sorted[j] == sorted[i] {
			j++
		}
		if j-i > 1 {
			out = append(out, float64(j-i))
		}
		i = j
	}
	return out
}

func median(sorted []float64) float64 {
	n := len(sorted)
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}
