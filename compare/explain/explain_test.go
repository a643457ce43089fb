package explain_test

import (
	"math"
	"testing"

	"example.org/bookend/compare/explain"
	"example.org/bookend/fault"
)

func series(title string, of map[string]float64) explain.Series {
	return explain.Series{Title: title, Of: of}
}

// Of five tyres and one pair, a perfect line has p 1/120; adjusted over pairs it grows by
// their number, and what cannot be shown at all is said.
func TestFewTyresShowLittle(t *testing.T) {
	delay := series("delay", map[string]float64{"K": 0, "P": 3, "R": -4, "T": 1, "W": 6})
	other := series("lap time", map[string]float64{"K": 0, "P": -1, "R": 2, "T": 5, "W": 1})
	response := series("response", map[string]float64{"K": 0, "P": 0.3, "R": -0.4, "T": 0.1, "W": 0.6})
	r, err := explain.Explain([]explain.Series{delay}, []explain.Series{response})
	if err != nil {
		t.Fatal(err)
	}
	q := r.Pairs[0]
	if math.Abs(q.Pearson-1) > 1e-12 || q.Spearman != 1 || math.Abs(q.PearsonP-1.0/120) > 1e-12 || math.Abs(q.SpearmanP-2.0/120) > 1e-12 || q.Adjusted != q.PearsonP || !q.Shown || q.N != 5 || r.Tyres != 5 || r.Caveats.Has("few_tyres") {
		t.Errorf("%+v %v", q, r.Caveats)
	}
	// Ten pairs: nothing can be shown.
	var many []explain.Series
	for range 5 {
		many = append(many, response)
	}
	if r, err = explain.Explain([]explain.Series{delay, other}, many); err != nil {
		t.Fatal(err)
	}
	if !r.Caveats.Has("few_tyres") || r.Looked != 10 || r.Pairs[0].Shown || math.Abs(r.Pairs[0].Adjusted-10*1.0/120) > 1e-12 {
		t.Errorf("%+v %v", r.Pairs[0], r.Caveats)
	}
	if best, ok := r.Best(1); !ok || best.Measure != 0 {
		t.Errorf("best %+v", best)
	}
}

// Only tyres that have both count; fewer than four are not correlated, and a column that
// does not differ is said.
func TestWhatCannotBeCorrelatedIsSaid(t *testing.T) {
	a := series("delay", map[string]float64{"K": 0, "P": 3, "R": -4, "T": 1})
	b := series("response", map[string]float64{"K": 0, "P": 0.3, "W": 2})
	flat := series("comfort", map[string]float64{"K": 0, "P": 0, "R": 0, "T": 0})
	r, err := explain.Explain([]explain.Series{a}, []explain.Series{b, flat})
	if err != nil {
		t.Fatal(err)
	}
	if r.Looked != 0 || r.Pairs[0].Failed == "" || r.Pairs[1].Failed == "" || r.Pairs[0].Shown {
		t.Errorf("%+v", r.Pairs)
	}
	if _, ok := r.Best(0); ok {
		t.Error("a pair without a correlation is the best one")
	}
	if _, err := explain.Explain(nil, []explain.Series{a}); fault.CodeOf(err) != fault.NotFound {
		t.Error(err)
	}
}
