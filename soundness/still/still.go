// Package still finds where a channel stands still: stretches of samples of one value,
// as of a sensor that stopped or one that ran into its limit.
//
// It knows one channel alone, in its SI unit and with times in s of its base; what it
// means that a channel stands still while others move is package soundness' to say.
package still

import (
	"math"
	"slices"

	"example.org/bookend/signal"
)

// How long a channel may show the same value; own choices. A channel with noise in it
// hardly ever shows one value twice.
const (
	stuckFor     = 0.5 // s
	stuckSamples = 10  // at least

	Few = 3 // samples in a row at one value that are no chance
)

// Run is a stretch of samples of one value.
type Run struct {
	signal.Span
	Value float64
}

// Runs gives the runs of two samples or more of one value, and the share of
// samples that repeat the one before. A run ends where samples are
// missing: a step longer than far, s.
func Runs(c *signal.Channel, far float64) (runs []Run, repeated float64) {
	n, same := 0, 0
	for _, s := range c.Valid {
		from := s.From
		for k := s.From + 1; k <= s.To; k++ {
			if k < s.To && c.Values[k] == c.Values[k-1] && c.Base.T[k]-c.Base.T[k-1] <= far {
				continue
			}
			n += k - from
			same += k - from - 1
			if k-from > 1 {
				runs = append(runs, Run{signal.Span{From: from, To: k}, c.Values[from]})
			}
			from = k
		}
	}
	return runs, float64(same) / float64(max(1, n))
}

// Again tells whether a channel stood at the value of a run at another time too.
func Again(runs []Run, r Run) bool {
	return slices.ContainsFunc(runs, func(o Run) bool { return o.Value == r.Value && o.From != r.From && o.Len() >= Few })
}

// Long tells whether a run lasts so long that a sensor stopped rather than met one
// value twice.
func Long(c *signal.Channel, r Run) bool {
	return r.Len() >= stuckSamples && c.Base.T[r.To-1]-c.Base.T[r.From] >= stuckFor
}

// Finest gives the least difference between neighbouring samples that is none.
func Finest(c *signal.Channel) float64 {
	least := math.Inf(1)
	for _, s := range c.Valid {
		for k := s.From + 1; k < s.To; k++ {
			if d := math.Abs(c.Values[k] - c.Values[k-1]); d > 0 {
				least = math.Min(least, d)
			}
		}
	}
	return least
}

// Extremes gives the least and the greatest valid value; ok is false where there is none.
func Extremes(c *signal.Channel) (low, high float64, ok bool) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, s := range c.Valid {
		low = min(low, slices.Min(c.Values[s.From:s.To]))
		high = max(high, slices.Max(c.Values[s.From:s.To]))
	}
	return low, high, low <= high
}
