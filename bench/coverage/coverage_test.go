package main

import (
	"bytes"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"example.org/bookend/stat/tail"
)

func listed(t *testing.T) []*design {
	t.Helper()
	f, err := os.Open("designs.txt")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	designs, err := parse(f)
	if err != nil {
		t.Fatal(err)
	}
	return designs
}

// The list has what it is to have: 24 claims over sets, control stints, runs,
// drift, scatter and records.
func TestListed(t *testing.T) {
	seen := map[string]int{}
	claims := 0
	for _, d := range listed(t) {
		if d.kind != claim {
			continue
		}
		claims++
		seen["sets "+d.repeats()]++
		seen["controls "+string(rune('0'+d.controls()))]++
		seen["runs "+d.runsText()]++
		seen["drift "+d.drift]++
		seen["record "+strings.Repeat("I", d.record/20)]++
		if d.stint < 1 {
			seen["small scatter"]++
		} else {
			seen["large scatter"]++
		}
	}
	if claims != 24 {
		t.Errorf("%d claims", claims)
	}
	for _, want := range []string{"sets 1", "sets 2", "sets 3", "controls 3", "controls 4", "controls 5", "controls 6", "runs 3", "runs 10", "runs 3 to 10",
		"drift none", "drift linear", "drift curved", "record ", "record I", "record IIIII", "small scatter", "large scatter"} {
		if seen[want] == 0 {
			t.Errorf("no claim has %s: %v", want, seen)
		}
	}
	for _, bad := range []string{"X1", "X1 claim order=KPK", "X1 claim order=PK fit=linear drift=none runs=3 stint=1 run=1 scale=ratio seed=1",
		"X1 claim order=KPK fit=linear drift=none runs=3 stint=1 run=1 scale=ratio seed=1 wear=1", "X1 claim order=KPK fit=cubic drift=none runs=3 seed=1"} {
		if _, err := parse(strings.NewReader(bad)); err == nil {
			t.Errorf("%q was taken", bad)
		}
	}
}

// The exact binomial tail: small cases by hand, large ones by its relation to F
// (Abramowitz and Stegun 26.5.24 and 26.6.2).
func TestBinomial(t *testing.T) {
	if p := atMost(1, 3, 0.5); math.Abs(p-0.5) > 1e-14 {
		t.Errorf("at most 1 of 3 at one half: %v", p)
	}
	if p := atMost(0, 10, 0.05); math.Abs(p-math.Pow(0.95, 10)) > 1e-14 {
		t.Errorf("none of 10 at 0.05: %v", p)
	}
	for _, n := range []int{200, 20000} {
		for _, off := range []float64{-4, -1, 0, 2} {
			x := int(0.95*float64(n) + off*math.Sqrt(float64(n)*0.95*0.05))
			a, b := float64(n-x), float64(x+1)
			want := tail.F(a*0.95/(b*0.05), 2*b, 2*a)
			if got := atMost(x, n, 0.95); math.Abs(got-want) > 1e-7*want {
				t.Errorf("at most %d of %d: %v, by F %v", x, n, got, want)
			}
		}
	}
}

// A short simulation of every design that can be run: a claim is not far off,
// what is drawn does not depend on the number of workers, and a design made to
// break an interval breaks it.
func TestShort(t *testing.T) {
	n := 2 * chunk
	if testing.Short() {
		n = chunk
	}
	designs := listed(t)
	p := &page{n: n, designs: designs, got: map[string]*outcome{}, sum: strings.Repeat("0", 64)}
	for _, d := range designs {
		if !slices.Contains([]string{"C01", "C05", "C09", "C10", "C13", "C16", "C20", "W04", "B07", "B09"}, d.id) {
			continue
		}
		o, err := simulate(d, n, 2)
		if err != nil {
			t.Fatalf("%s: %v", d.id, err)
		}
		p.got[d.id] = o
		if o.missing > 0 || !(o.half > 0) || !(o.known > 0) || o.half < 0.9*o.known {
			t.Errorf("%s: %+v", d.id, *o)
		}
		// 1e-6: of some ten tests with fixed seeds, none is to fail by chance.
		if d.kind != broke && min(o.pCoverage(), o.pFamily()) < 1e-6 {
			t.Errorf("%s: %d of %d covered, %d wrong", d.id, o.covered, n, o.wrong)
		}
		for k, b := range o.bias {
			if d.kind != broke && math.Abs(b) > 6*o.known/math.Sqrt(float64(n)) {
				t.Errorf("%s: candidate %d is off by %v in the mean", d.id, k+1, b)
			}
		}
	}
	// One set a tyre: the interval is about these sets, not about the tyre.
	if o := p.got["B07"]; atMost(o.covered, n, coverage) > 1e-6 {
		t.Errorf("with one set a tyre %d of %d intervals held the tyre's truth", o.covered, n)
	}
	// The control loses what the candidates do not: all of them look better.
	if o := p.got["B09"]; slices.Min(o.bias) < 0.3 {
		t.Errorf("wear of the control biases by %v", o.bias)
	}
	c05 := designs[slices.IndexFunc(designs, func(d *design) bool { return d.id == "C05" })]
	var err error
	if p.got[c05.id], err = simulate(c05, n, 1); err != nil {
		t.Fatal(err)
	}
	one := p.markdown()
	if p.got[c05.id], err = simulate(c05, n, 3); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(one, p.markdown()) {
		t.Error("the page depends on the number of workers")
	}
	if c := strings.Count(string(one), "| holds |"); c != 7 {
		t.Errorf("%d claims hold on the page", c)
	}
}
