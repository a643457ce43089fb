// Package odd looks for what stands out among the runs of a measure: one run within its
// stint, one stint whose runs scatter more than the others', one value that was typed
// with its decimal point at another place.
//
// In the trade an outlier is shown and never removed by itself: a person looks at the
// run, and leaves it out with a reason or lets it stand. Grubbs' test for one run of a
// stint and Cochran's for one stint's scatter, each at 1 % over all stints together
// (Bonferroni), which ISO 5725-2 calls an outlier; at 5 % it would call a straggler, and
// with some dozen stints those are found in every programme.
//
// Sources: ISO 5725-2:1994, 7.3, by package stat/outlier; Mandel's k is that of its 7.3.1 (clause from memory). Units: the measure's own. Limits:
// runs scatter normally about their stint's mean; a stint of fewer than three runs is not
// tested for one run, and two odd runs in one stint hide each other. A typing slip is told
// where a value of a ratio measure is three times the middle of all or more, or a third of
// it or less (own choice).
package odd

import (
	"math"
	"slices"

	"example.org/bookend/caveat"
	"example.org/bookend/compare/sequence"
	"example.org/bookend/fault"
	"example.org/bookend/stat/outlier"
	"example.org/bookend/unit"
)

// Level is at which a run or a stint stands out, over all stints together.
const Level = 0.01

// Slip is how many times the middle of all values one has to be that is taken for a
// slip of the decimal point.
const Slip = 3.0

// Look says what stands out. Nothing is left out for it.
func Look(q *sequence.Sequence, ratio bool, caveats *caveat.List) error {
	slips := map[string]bool{}
	if ratio {
		slips = typed(q, caveats)
	}
	if err := runs(q, slips, caveats); err != nil {
		return err
	}
	return stints(q, caveats)
}

// typed looks for values that are off by their decimal point.
func typed(q *sequence.Sequence, caveats *caveat.List) map[string]bool {
	var all []float64
	for i := range q.Stints {
		all = append(all, q.Stints[i].Values...)
	}
	if len(all) < 3 {
		return nil
	}
	slices.Sort(all)
	middle := all[len(all)/2]
	out := map[string]bool{}
	for i := range q.Stints {
		st := &q.Stints[i]
		for _, r := range st.Runs {
			if !r.Compared || !(middle > 0) || r.Value < Slip*middle && r.Value > middle/Slip {
				continue
			}
			out[r.Run] = true
			caveats.Add("typing_slip", caveat.Place{Stint: st.ID, Run: r.Run, Code: st.Code}, "Its value is %s times the middle of all: is the decimal point where it belongs? It is compared as it stands.", unit.Number(r.Value/middle, 2, unit.Style{}))
		}
	}
	return out
}

// runs tests each stint for one run.
func runs(q *sequence.Sequence, slips map[string]bool, caveats *caveat.List) error {
	tested := 0
	for i := range q.Stints {
		if len(q.Stints[i].Values) >= 3 {
			tested++
		}
	}
	for i := range q.Stints {
		st := &q.Stints[i]
		if len(st.Values) < 3 {
			continue
		}
		g, err := outlier.TestGrubbs(st.Values, outlier.TwoSided, Level/float64(tested))
		if err != nil {
			return fault.At(err, "stint %s", st.ID)
		}
		if !g.Outlier {
			continue
		}
		k := 0
		for _, r := range st.Runs {
			if !r.Compared {
				continue
			}
			if k == g.Index && !slips[r.Run] {
				caveats.Add("run_stands_out", caveat.Place{Stint: st.ID, Run: r.Run, Code: st.Code}, "It stands out among the %d runs of its stint (Grubbs: %s standard deviations from their mean, p %s over all stints). It is compared; look at it, and leave it out only with a reason of its own.",
					g.N, unit.Number(g.G, 2, unit.Style{}), p(g.P*float64(tested)))
			}
			k++
		}
	}
	return nil
}

// stints tests for one stint whose runs scatter more than the others'.
func stints(q *sequence.Sequence, caveats *caveat.List) error {
	var of []int
	var variances []float64
	var counts []int
	for i := range q.Stints {
		n := len(q.Stints[i].Values)
		if n < 2 {
			continue
		}
		mean, ss := 0.0, 0.0
		for _, v := range q.Stints[i].Values {
			mean += v / float64(n)
		}
		for _, v := range q.Stints[i].Values {
			ss += (v - mean) * (v - mean)
		}
		of, variances, counts = append(of, i), append(variances, ss/float64(n-1)), append(counts, n)
	}
	if len(of) < 2 || !slices.ContainsFunc(variances, func(v float64) bool { return v > 0 }) {
		return nil
	}
	c, err := outlier.TestCochran(variances, counts, Level)
	if err != nil {
		return err
	}
	if !c.Outlier || c.Index < 0 {
		return nil
	}
	st := &q.Stints[of[c.Index]]
	caveats.Add("stint_scatters", caveat.Place{Stint: st.ID, Code: st.Code}, "Its runs scatter more than those of the other stints (Mandel's k %s, Cochran p %s). Every stint counts as one all the same; look at its runs.",
		k(variances[c.Index], variances), p(c.P))
	return nil
}

// k gives Mandel's: by how many times one standard deviation is that of all together.
func k(one float64, all []float64) string {
	sum := 0.0
	for _, v := range all {
		sum += v / float64(len(all))
	}
	return unit.Number(math.Sqrt(one/sum), 1, unit.Style{})
}

func p(x float64) string {
	if x < 0.0001 {
		return "< 0.0001"
	}
	return unit.Number(math.Min(1, x), 4, unit.Style{})
}
