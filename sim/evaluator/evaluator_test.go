package evaluator_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/sim/evaluator"
	"example.org/bookend/sim/tyremodel"
)

var plain = evaluator.Evaluator{Name: "A", Level: 6.5, Spread: 1}

func sheet(t *testing.T, e evaluator.Evaluator, words string, hours float64, rnd *rand.Rand) []float64 {
	t.Helper()
	c, err := tyremodel.Say(words)
	if err != nil {
		t.Fatal(err)
	}
	out, err := e.Sheet(append(append([]evaluator.Attribute{}, evaluator.Dry...), evaluator.Wet...), c, hours, rnd)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// Without scatter the control gets the level, and each word moves what it is about.
func TestWordsMoveTheirAttributes(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 1))
	for _, v := range sheet(t, plain, "", 0, rnd) {
		if v != 6.5 {
			t.Fatalf("the control gets %v", v)
		}
	}
	for _, q := range []struct {
		words string
		moved []int // places on the sheet, in their order; the sign says which way
		down  bool
	}{
		{"softer sidewall", []int{0, 1, 4}, true},
		{"sudden breakaway", []int{3, 4, 7}, true},
		{"more dry grip", []int{2, 5, 6}, false},
		{"more wet grip", []int{5, 6}, false},
		{"floats earlier", []int{8}, true},
	} {
		got := sheet(t, plain, q.words, 0, rnd)
		for i, v := range got {
			moved := false
			for _, k := range q.moved {
				moved = moved || k == i
			}
			if moved != (v != 6.5) || moved && q.down != (v < 6.5) {
				t.Errorf("%s: attribute %d gets %v", q.words, i, v)
			}
		}
	}
}

// Level, drift and spread are his own; the scale ends at 1 and 10, in quarters
// (common practice, no source).
func TestEvaluatorsDiffer(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 1))
	strict := evaluator.Evaluator{Level: 5, Spread: 2, PerHour: -0.25}
	got := sheet(t, strict, "softer sidewall", 2, rnd)
	if got[0] != 5-2*0.5-0.5 || got[2] != 4.5 {
		t.Errorf("he writes %v", got)
	}
	if got := sheet(t, strict, "much more dry grip, much more wet grip", 0, rnd); got[5] != 10-0 && got[5] <= 5 {
		t.Errorf("he writes %v", got)
	}
	wild := evaluator.Evaluator{Level: 6, Spread: 1, SheetSD: 0.3, ScatterSD: 0.4}
	sum, sq := 0.0, 0.0
	const n = 4000
	for range n {
		v := sheet(t, wild, "", 0, rnd)[0]
		if v < 1 || v > 10 || 4*v != math.Round(4*v) {
			t.Fatalf("he writes %v", v)
		}
		sum, sq = sum+v, sq+(v-6)*(v-6)
	}
	// Rounding to quarters adds a variance of 0.25²/12.
	if sd, want := math.Sqrt(sq/n), math.Sqrt(0.09+0.16+0.0625/12); math.Abs(sd-want) > 4*want/math.Sqrt(2*n) || math.Abs(sum/n-6) > 4*want/math.Sqrt(n) {
		t.Errorf("mean %v, scatter %v, want 6 and %v", sum/n, sd, want)
	}
	low := evaluator.Evaluator{Level: -3, Spread: 1}
	if v := sheet(t, low, "", 0, rnd)[0]; v != 1 {
		t.Errorf("below the scale he writes %v", v)
	}
}

func TestUnknownAttribute(t *testing.T) {
	if _, err := plain.Sheet([]evaluator.Attribute{"colour"}, tyremodel.Character{}, 0, rand.New(rand.NewPCG(1, 1))); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("colour: %v", err)
	}
}
