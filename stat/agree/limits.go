package agree

import (
	"math"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/stat/tail"
)

// Limits of agreement between two methods on the same objects; all values in
// the methods' unit, differences first minus second.
type Limits struct {
	N                   int
	Bias                float64 // mean difference
	SD                  float64 // of the differences
	SEBias              float64
	BiasLow, BiasHigh   float64 // interval of the bias at Confidence
	T, DF, P            float64 // paired t test that there is no bias; T 0 where differences do not scatter
	Low, High           float64 // Bias -+ 1.96 SD: where 95 in 100 differences lie
	TwoSDLow, TwoSDHigh float64 // Bias -+ 2 SD, as printed in 1986
	SELimit             float64 // of either limit, about sqrt(3 SD^2/n)
	Slope, SlopeP       float64 // of the difference over the mean of both: does the bias grow with size?
	Confidence          float64
	Caveats             caveat.List
}

// LimitsOfAgreement compares two methods by Bland and Altman (1986): bias with
// interval and paired t test, limits of agreement and their standard error.
func LimitsOfAgreement(first, second []float64, confidence float64) (Limits, error) {
	n := len(first)
	l := Limits{N: n, P: 1, SlopeP: 1, Confidence: confidence}
	if len(second) != n {
		return l, fault.New(fault.Invalid, "%d values by the first method but %d by the second", n, len(second))
	}
	if err := level(confidence); err != nil {
		return l, err
	}
	if n < 2 {
		return l, fault.New(fault.Invalid, "limits of agreement need at least 2 pairs, not %d", n)
	}
	nf := float64(n)
	d, m := make([]float64, n), make([]float64, n)
	var mm float64
	same := true
	for i := range first {
		d[i], m[i] = first[i]-second[i], (first[i]+second[i])/2
		if !(math.Abs(first[i]) <= largest) || !(math.Abs(second[i]) <= largest) {
			return l, fault.New(fault.Invalid, "pair %d holds no numbers, or some beyond %g", i+1, largest).WithHint("leave pairs with a missing value out")
		}
		l.Bias += d[i] / nf
		mm += m[i] / nf
		same = same && math.Abs(d[i]-d[0]) <= 4e-16*(math.Abs(first[i])+math.Abs(second[i]))
	}
	l.DF = nf - 1
	var dd, mmss, md float64
	for i := range d {
		dd += sq(d[i] - l.Bias)
		mmss += sq(m[i] - mm)
		md += (m[i] - mm) * (d[i] - l.Bias)
	}
	if same {
		dd = 0
		l.Caveats.Add("no_scatter", caveat.Place{}, "All differences are equal: bias and limits are one value, and there is nothing to test it against.")
	}
	l.SD = math.Sqrt(dd / l.DF)
	l.SEBias = l.SD / math.Sqrt(nf)
	t := tail.TPoint((1-confidence)/2, l.DF)
	l.BiasLow, l.BiasHigh = l.Bias-t*l.SEBias, l.Bias+t*l.SEBias
	const z = 1.96 // Bland and Altman 1999, 2: the rounded 97.5 % point
	l.Low, l.High = l.Bias-z*l.SD, l.Bias+z*l.SD
	l.TwoSDLow, l.TwoSDHigh = l.Bias-2*l.SD, l.Bias+2*l.SD
	l.SELimit = math.Sqrt(3 * l.SD * l.SD / nf)
	if dd > 0 {
		l.T = l.Bias / l.SEBias
		l.P = tail.TwoSidedT(l.T, l.DF)
	}
	if n >= 3 && mmss > 0 && dd > 0 {
		l.Slope = md / mmss
		if rest := dd - md*md/mmss; rest > 1e-14*dd {
			l.SlopeP = tail.TwoSidedT(l.Slope/math.Sqrt(rest/(nf-2)/mmss), nf-2)
		} else {
			l.SlopeP = 0
		}
		if l.SlopeP < 1-confidence {
			l.Caveats.Add("bias_grows", caveat.Place{}, "The difference changes with the size of what is measured: one bias and one pair of limits do not describe it; compare on the log scale or by a line.")
		}
	}
	return l, nil
}

// RepeatabilityCoefficient is the difference that two readings of one object by
// the same method stay below 95 times in 100: twice the root mean square of the
// differences, taken about zero (Bland and Altman 1986, after the British
// Standards Institution); in the readings' unit.
func RepeatabilityCoefficient(first, second []float64) (float64, error) {
	if len(first) != len(second) || len(first) < 2 {
		return 0, fault.New(fault.Invalid, "repeatability needs at least 2 pairs of readings, not %d and %d", len(first), len(second))
	}
	ss := 0.0
	for i := range first {
		ss += sq(first[i] - second[i])
	}
	if math.IsNaN(ss) || math.IsInf(ss, 0) {
		return 0, fault.New(fault.Invalid, "a reading is no number")
	}
	return 2 * math.Sqrt(ss/float64(len(first))), nil
}
