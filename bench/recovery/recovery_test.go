package main

import (
	"math"
	"os"
	"strings"
	"testing"

	"example.org/bookend/compare"
	"example.org/bookend/programme"
)

// The list is whole: every design names a test of the scenario, claims of each kind
// of measure stand in it, and no seed is used twice.
func TestTheListIsWhole(t *testing.T) {
	f, err := os.Open("designs.txt")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close() //nolint:errcheck // opened for reading alone
	designs, err := parse(f)
	if err != nil {
		t.Fatal(err)
	}
	seeds, claimed := map[uint64]bool{}, map[string]bool{}
	for _, d := range designs {
		if seeds[d.seed] {
			t.Errorf("seed %d is used twice", d.seed)
		}
		seeds[d.seed] = true
		if d.kind == claim {
			claimed[d.test] = true
		}
		s, err := d.scenario(d.seed, true)
		if err != nil {
			t.Fatal(err)
		}
		if d.rated() {
			_, err = ratings(s, d.test)
		} else {
			_, err = s.Test(d.test)
		}
		if err != nil {
			t.Errorf("%s: %v", d.id, err)
		}
	}
	for _, test := range []string{"slalom", "lane-change", "dry-lap", "wet-stop", "dry-ratings"} {
		if !claimed[test] {
			t.Errorf("nothing is claimed of %s", test)
		}
	}
}

func TestBadListsAreRefused(t *testing.T) {
	for _, text := range []string{
		"R1 claim",
		"R1 hope test=slalom measure=a truth=a order=KPK fit=linear seed=1",
		"R1 claim test=slalom measure=a truth=a order=KPK fit=linear seed=1 colour=red",
		"R1 claim test=slalom measure=a truth=a order=KPK fit=linear seed=x",
		"R1 claim test=slalom measure=a truth=a order=own fit=linear seed=1",
		"R1 power test=slalom measure=a truth=a order=KPK fit=linear seed=1",
		"R1 power test=slalom measure=a truth=a order=own fit=linear seed=1\nR1 power test=slalom measure=a truth=a order=own fit=linear seed=2",
	} {
		if _, err := parse(strings.NewReader(text)); err == nil {
			t.Errorf("%q is taken", text)
		}
	}
}

// The binomial's tail against its closed forms: none, all but all, and four coins.
func TestAtMost(t *testing.T) {
	for _, n := range []int{1, 4, 20, 200, 400} {
		for _, p := range []float64{0.05, 0.5, 0.95, 0.99} {
			if got, want := atMost(0, n, p), math.Pow(1-p, float64(n)); math.Abs(got-want) > 1e-10*want+1e-300 {
				t.Errorf("P(X = 0) of %d at %v: %v, want %v", n, p, got, want)
			}
			if got, want := atMost(n-1, n, p), 1-math.Pow(p, float64(n)); math.Abs(got-want) > 1e-10 {
				t.Errorf("P(X < %d) at %v: %v, want %v", n, p, got, want)
			}
		}
	}
	for x, want := range []float64{1, 5, 11, 15, 16} {
		if got := atMost(x, 4, 0.5); math.Abs(got-want/16) > 1e-12 {
			t.Errorf("at most %d of four coins: %v, want %v/16", x, got, want)
		}
	}
}

func TestTruthAndVerdicts(t *testing.T) {
	for _, q := range []struct {
		own, control float64
		ratio        bool
		better       programme.Better
		want         float64
	}{{20, 25, true, programme.Lower, 125}, {20, 25, true, programme.Higher, 80}, {20, 25, false, programme.Lower, 5}, {20, 25, false, programme.Higher, -5}} {
		if got := true_(q.own, q.control, q.ratio, q.better); math.Abs(got-q.want) > 1e-12 {
			t.Errorf("%+v: %v", q, got)
		}
	}
	o := outcome{Ratio: true}
	o.judge(compare.Better, 102, 1)               // found
	o.judge(compare.NotShown, 102, 1)             // missed
	o.judge(compare.Better, 98, 1)                // missed, and against the truth
	o.judge(compare.WorseLessThanMargin, 99.8, 1) // true, below the margin
	o.judge(compare.BetterLessThanMargin, 100, 1) // there is none
	o.judge(compare.Same, 100, 1)                 // right
	if o.Above != 3 || o.Found != 1 || o.Invented != 2 {
		t.Errorf("%+v", o)
	}
}

// A whole programme, of rating sheets and of recordings: the chain from files to
// verdict holds, and a difference that is there is estimated near the truth.
func TestOneProgramme(t *testing.T) {
	designs, err := parse(strings.NewReader(`X1 claim test=dry-ratings measure=response truth=response order=KPTKTPK fit=linear margin=0.5 words=much_softer_sidewall seed=7
X2 claim test=wet-stop measure=braking_distance truth=braking_distance order=KPTKTPK fit=linear margin=1 runs=1 words=much_more_wet_grip seed=8`))
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range designs {
		known, err := d.known(1)
		if err != nil {
			t.Fatal(err)
		}
		r, err := d.programme(d.seed, true)
		if err != nil {
			t.Fatal(err)
		}
		ratio := r.Scale == programme.Ratio
		want, within := true_(known["P"], known["K"], ratio, r.Measure.Better), 0.6
		got := r.Rows[0].Difference
		if ratio {
			got, within = r.Rows[0].Index, 3
		}
		if r.Rows[0].Code != "P" || got == nil || math.Abs(*got-want) > within {
			t.Errorf("%s: %+v, truth %v", d.id, r.Rows[0], want)
		}
	}
}
