package watch_test

import (
	"math"
	"testing"

	"example.org/bookend/compare/watch"
	"example.org/bookend/fault"
)

// Three stints at equal distances leave one degree of freedom: residuals about
// the line are d/6 times 1, -2, 1 with d the second difference, the line leaves
// 1/6, 4/6, 1/6 of them, so each standardised residual is d over the root of 6,
// as is the standard deviation. By hand.
func TestThreeStintsByHand(t *testing.T) {
	var list []watch.Stint
	for i, v := range []float64{10, 13, 10, 10, 10.6, 10} {
		list = append(list, watch.Stint{Programme: string(rune('a' + i/3)), Name: "May", Block: "wet", Position: float64(1 + 3*(i%3)), Value: v})
	}
	r, err := watch.Chart(list, false, "")
	if err != nil {
		t.Fatal(err)
	}
	first, second := 6/math.Sqrt(6), 1.2/math.Sqrt(6)
	for i, want := range []float64{first, second} {
		p := r.Programmes[i]
		if p.DF != 1 || math.Abs(*p.SD-want) > 1e-12 || len(p.Residuals) != 3 {
			t.Fatalf("programme %d: %+v, sd %v", i, p, *p.SD)
		}
		for j, sign := range []float64{-1, 1, -1} {
			if got := p.Residuals[j].Residual; math.Abs(got-sign*want) > 1e-12 {
				t.Errorf("programme %d, stint %d: %v, want %v", i, j, got, sign*want)
			}
		}
	}
	if want := math.Sqrt((first*first + second*second) / 2); math.Abs(r.SD-want) > 1e-12 || r.DF != 2 {
		t.Errorf("pooled %v on %v, want %v on 2", r.SD, r.DF, want)
	}
	// F(0.99; 1, 2) = 98.503, a printed table's value (from memory).
	if want := r.SD * math.Sqrt(98.503); math.Abs(*r.Programmes[0].Limit-want) > 1e-4*want {
		t.Errorf("limit %v, want %v", *r.Programmes[0].Limit, want)
	}
	if r.Programmes[0].Name != "May" || r.Programmes[1].Name != "May (2)" {
		t.Errorf("names %q, %q", r.Programmes[0].Name, r.Programmes[1].Name)
	}
	if !r.Caveats.Has("few_programmes") {
		t.Error("two programmes have a chart of levels")
	}
}

// A programme's own drift and level are no scatter; ratios are charted in per
// cent, whatever the unit; the present programme is no part of its own limits.
func TestLawsOfTheChart(t *testing.T) {
	values := [][]float64{{33.1, 33.4, 33.3, 33.6}, {31.0, 31.1, 31.4, 31.4}, {34.0, 33.7, 33.8, 33.5}, {32.2, 32.6, 32.5, 32.9}}
	build := func(factor, slope float64) []watch.Stint {
		var list []watch.Stint
		for i, p := range values {
			for j, v := range p {
				x := float64(1 + 3*j)
				list = append(list, watch.Stint{Programme: string(rune('a' + i)), Name: string(rune('a' + i)), Position: x, Value: factor * v * math.Exp(slope*x)})
			}
		}
		return list
	}
	plain, err := watch.Chart(build(1, 0), true, "")
	if err != nil {
		t.Fatal(err)
	}
	turned, err := watch.Chart(build(3.28, 0.01), true, "")
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(plain.SD-turned.SD) > 1e-9 || plain.DF != 8 {
		t.Errorf("%v and %v on %v: unit and drift are no scatter", plain.SD, turned.SD, plain.DF)
	}
	wild := build(1, 0)
	for i := range 4 {
		wild[i].Value *= 1 + 0.2*float64(i%2)
	}
	now, err := watch.Chart(wild, true, "a")
	if err != nil {
		t.Fatal(err)
	}
	last := now.Programmes[len(now.Programmes)-1]
	if !last.Now || last.Name != "a" || !last.Wide || now.DF != 6 {
		t.Errorf("the present programme: %+v, limits on %v", last, now.DF)
	}
	for _, p := range now.Programmes[:3] {
		if p.Wide {
			t.Errorf("programme %s is called wide", p.Name)
		}
	}
	// A slow shift of the level that no single value shows.
	var slow []watch.Stint
	for i := range 30 {
		level := 100 + 0.3*float64(i%2)
		if i >= 15 {
			level += 0.7
		}
		for j := range 3 {
			slow = append(slow, watch.Stint{Programme: string(rune('A' + i)), Name: string(rune('A' + i)), Position: float64(j), Value: level + 0.1*float64(j%2)})
		}
	}
	r, err := watch.Chart(slow, false, "")
	if err != nil {
		t.Fatal(err)
	}
	out, single := false, false
	for _, p := range r.Programmes {
		out, single = out || p.EWMAOut, single || p.LevelOut
	}
	if !out || single {
		t.Errorf("the weighted average finds the shift: %v; a single level: %v", out, single)
	}
	if _, err := watch.Chart([]watch.Stint{{Programme: "a", Value: -1}}, true, ""); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("a ratio of -1: %v", err)
	}
	if r, err := watch.Chart(nil, true, ""); err != nil || !r.Caveats.Has("no_record") {
		t.Errorf("an empty record: %v, %v", r, err)
	}
}
