package pool

import (
	"math"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/stat/tail"
)

// Rule is a rule by which a point on a chart is out of control; the four are
// the Western Electric rules of NIST e-Handbook 6.3.2.
type Rule string

// The four rules, in standard deviations from the target, always on one side.
const (
	Beyond      Rule = "beyond"       // beyond the chart's limits (3 sigma where the factor is 3)
	TwoOfThree  Rule = "two_of_three" // two of the last three beyond 2 sigma
	FourOfFive  Rule = "four_of_five" // four of the last five beyond 1 sigma
	EightInARow Rule = "eight_in_row" // eight in a row on one side
)

// Scale says how the standard deviation of a chart is found from its baseline.
type Scale int

// The two scales.
const (
	SampleSD    Scale = iota // sample standard deviation of the baseline
	MovingRange              // mean difference of successive values over 2/sqrt(pi) (NIST 6.3.2.2): does not see a slow drift
)

// ChartOptions steer a chart; the zero value takes the defaults.
type ChartOptions struct {
	Baseline int      // the first so many values set target and standard deviation; 0: all
	Target   *float64 // instead of the baseline's mean, in value units
	SD       *float64 // instead of the baseline's, in value units
	Scale    Scale
	Factor   float64 // limits at so many standard deviations; 0: 3 (NIST e-Handbook 2.2.2.1 and 6.3.2)
	Lambda   float64 // weight of the newest value of an EWMA; 0: 0.2 (NIST e-Handbook 2.2.2.1.1: 0.2 to 0.3)
	Steady   bool    // EWMA limits as after many values, from the first one on (as NIST prints them)
	Rules    []Rule  // of a Shewhart chart; nil: Beyond alone
}

// ChartPoint is one value on a chart; all in value units.
type ChartPoint struct {
	Value     float64
	Statistic float64 // what is plotted: the value, or its weighted average
	Low, High float64 // the limits at this point
	Broken    []Rule  // rules broken at this point, empty where in control
}

// Chart is a check-standard chart.
type Chart struct {
	Target   float64
	SD       float64 // of one value
	Baseline int     // values that target and SD rest on; 0 where both are given
	Points   []ChartPoint
	Out      int // points out of control
	FirstOut int // index of the first, -1 where there is none
	Caveats  caveat.List
}

// Shewhart charts the values themselves.
func Shewhart(values []float64, o ChartOptions) (Chart, error) {
	c, o, err := baseline(values, o)
	if err != nil {
		return c, err
	}
	if o.Rules == nil {
		o.Rules = []Rule{Beyond}
	}
	for i, v := range values {
		p := ChartPoint{Value: v, Statistic: v, Low: c.Target - o.Factor*c.SD, High: c.Target + o.Factor*c.SD}
		for _, r := range o.Rules {
			broken := false
			switch r {
			case Beyond:
				broken = v < p.Low || v > p.High
			case TwoOfThree:
				broken = c.beyond(values, i, 3, 2, 2)
			case FourOfFive:
				broken = c.beyond(values, i, 5, 4, 1)
			case EightInARow:
				broken = c.beyond(values, i, 8, 8, 0)
			default:
				return c, fault.New(fault.Invalid, "%q is no rule of a chart", string(r))
			}
			if broken {
				p.Broken = append(p.Broken, r)
			}
		}
		c.add(p)
	}
	return c, nil
}

// beyond tells whether at least need of the last window values up to i lie
// beyond k standard deviations on the side of value i.
func (c Chart) beyond(values []float64, i, window, need int, k float64) bool {
	if i+1 < window {
		return false
	}
	for _, side := range []float64{1, -1} {
		out := func(v float64) bool { return side*(v-c.Target) > k*c.SD }
		n := 0
		for _, v := range values[i+1-window : i+1] {
			if out(v) {
				n++
			}
		}
		if n >= need && out(values[i]) {
			return true
		}
	}
	return false
}

// EWMA charts the exponentially weighted moving average of the values,
// z = lambda x + (1 - lambda) z before, from the target on: it finds the slow
// and small shifts that single values hide. Limits are factor SD
// sqrt(lambda/(2-lambda) (1 - (1-lambda)^(2t))).
func EWMA(values []float64, o ChartOptions) (Chart, error) {
	c, o, err := baseline(values, o)
	if err != nil {
		return c, err
	}
	if o.Lambda == 0 {
		o.Lambda = 0.2
	}
	if !(o.Lambda > 0 && o.Lambda <= 1) {
		return c, fault.New(fault.Invalid, "the weight of an EWMA lies above 0 and up to 1, not at %v", o.Lambda)
	}
	z, forget := c.Target, 1.0
	for _, v := range values {
		z = o.Lambda*v + (1-o.Lambda)*z
		forget *= (1 - o.Lambda) * (1 - o.Lambda)
		half := o.Factor * c.SD * math.Sqrt(o.Lambda/(2-o.Lambda))
		if !o.Steady {
			half *= math.Sqrt(1 - forget)
		}
		p := ChartPoint{Value: v, Statistic: z, Low: c.Target - half, High: c.Target + half}
		if z < p.Low || z > p.High {
			p.Broken = []Rule{Beyond}
		}
		c.add(p)
	}
	return c, nil
}

func (c *Chart) add(p ChartPoint) {
	if len(p.Broken) > 0 {
		if c.Out++; c.FirstOut < 0 {
			c.FirstOut = len(c.Points)
		}
	}
	c.Points = append(c.Points, p)
}

// largest is the greatest size of a value or variance admitted: squares and
// their sums stay far from overflow, and no measure comes near it.
const largest = 1e100

// baseline settles target and standard deviation.
func baseline(values []float64, o ChartOptions) (Chart, ChartOptions, error) {
	c := Chart{FirstOut: -1}
	if o.Factor == 0 {
		o.Factor = 3
	}
	if o.Factor < 0 || math.IsNaN(o.Factor) {
		return c, o, fault.New(fault.Invalid, "a chart's limits lie at a positive number of standard deviations, not at %v", o.Factor)
	}
	for i, v := range values {
		if !(math.Abs(v) <= largest) {
			return c, o, fault.New(fault.Invalid, "value %d is no number, or beyond %g", i+1, largest).WithHint("leave missing values out")
		}
	}
	if o.Baseline == 0 {
		o.Baseline = len(values)
	}
	if o.Baseline < 0 || o.Baseline > len(values) {
		return c, o, fault.New(fault.Invalid, "a baseline of %d values out of %d", o.Baseline, len(values))
	}
	base := values[:o.Baseline]
	if o.Target == nil || o.SD == nil {
		if len(base) < 2 {
			return c, o, fault.New(fault.Invalid, "a chart needs at least 2 values for its baseline, not %d", len(base)).
				WithHint("or give target and standard deviation")
		}
		c.Baseline = len(base)
		if len(base) < 20 {
			// NIST e-Handbook 2.2.2.1 asks for about 25 to 100; 6.3.2 for 20 to 25.
			c.Caveats.Add("short_baseline", caveat.Place{}, "A baseline of %d values sets rough limits; about 20 to 25 are wanted.", len(base))
		}
		n := float64(len(base))
		mean, ss, ranges := 0.0, 0.0, 0.0
		equal := true
		for i, v := range base {
			mean += v / n
			equal = equal && v == base[0]
			if i > 0 {
				ranges += math.Abs(v-base[i-1]) / (n - 1)
			}
		}
		for _, v := range base {
			ss += (v - mean) * (v - mean)
		}
		c.Target, c.SD = mean, math.Sqrt(ss/(n-1))
		if o.Scale == MovingRange {
			c.SD = ranges * math.Sqrt(math.Pi) / 2
		}
		if equal {
			c.Target, c.SD = base[0], 0
		}
	}
	if o.Target != nil {
		c.Target = *o.Target
	}
	if o.SD != nil {
		c.SD = *o.SD
	}
	if !(c.SD >= 0) || math.IsInf(c.SD, 0) || math.IsNaN(c.Target) || math.IsInf(c.Target, 0) {
		return c, o, fault.New(fault.Invalid, "target %v and standard deviation %v do not make a chart", c.Target, c.SD)
	}
	if c.SD == 0 {
		c.Caveats.Add("no_scatter", caveat.Place{}, "The baseline does not scatter: every value that differs from the target is out of control.")
	}
	return c, o, nil
}

// PrecisionPoint is one within-group standard deviation on its chart; in value
// units.
type PrecisionPoint struct {
	SD, DF float64
	High   float64 // upper limit; 0 where the point has no degrees of freedom
	Out    bool
}

// PrecisionChart is the chart of standard deviations within groups (level 1 of
// a check standard).
type PrecisionChart struct {
	Pooled   float64 // pooled standard deviation, in value units
	DF       float64
	Level    float64
	Points   []PrecisionPoint
	Out      int
	FirstOut int // -1 where there is none
	Caveats  caveat.List
}

// Precision charts standard deviations within groups against the pooled one of
// the first so many groups (0: all): a group is out of control above
// pooled * sqrt(F) with F the point of the level (0.01, say) for its own and
// the pooled degrees of freedom (NIST e-Handbook 2.2.3.2).
func Precision(groups []Contribution, base int, level float64) (PrecisionChart, error) {
	c := PrecisionChart{Level: level, FirstOut: -1}
	if !(level > 0 && level < 1) {
		return c, fault.New(fault.Invalid, "a level lies between 0 and 1, not at %v", level)
	}
	if base == 0 {
		base = len(groups)
	}
	if base < 0 || base > len(groups) {
		return c, fault.New(fault.Invalid, "a baseline of %d groups out of %d", base, len(groups))
	}
	p, err := Pool(groups[:base])
	if err != nil {
		return c, err
	}
	c.Caveats = p.Caveats
	c.Pooled, c.DF = math.Sqrt(p.Variance), p.DF
	var later caveat.List
	if _, err := usable(groups[base:], &later); err != nil {
		return c, err
	}
	c.Caveats = append(c.Caveats, later...)
	for i, g := range groups {
		q := PrecisionPoint{SD: math.Sqrt(g.Variance), DF: g.DF}
		if g.DF > 0 {
			q.High = c.Pooled * math.Sqrt(tail.FPoint(level, g.DF, c.DF))
			if q.Out = q.SD > q.High; q.Out {
				if c.Out++; c.FirstOut < 0 {
					c.FirstOut = i
				}
			}
		}
		c.Points = append(c.Points, q)
	}
	return c, nil
}
