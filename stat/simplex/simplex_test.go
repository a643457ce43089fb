package simplex_test

import (
	"math"
	"testing"

	"example.org/bookend/stat/simplex"
)

// Shares by elementary geometry: of two criteria, (1,0), (0,1) and (t,t) part the
// edge at 1-t and t; of three, the unit vectors share the triangle by thirds, and
// (1/2,1/2,1/2) takes the middle quarter; of four it takes what four corners of
// volume 1/8 leave.
func TestSharesByGeometry(t *testing.T) {
	half := []float64{.5, .5, .5, .5}
	for _, c := range []struct {
		name   string
		values [][]float64
		want   []float64
		exact  bool
	}{
		{"one criterion", [][]float64{{1}, {3}, {3}}, []float64{0, .5, .5}, true},
		{"two", [][]float64{{1, 0}, {0, 1}, {.6, .6}}, []float64{.4, .4, .2}, true},
		{"two, one beaten everywhere", [][]float64{{1, 1}, {0, 0}}, []float64{1, 0}, true},
		{"two, alike", [][]float64{{1, 0}, {1, 0}, {0, 1}}, []float64{.25, .25, .5}, true},
		{"three corners", [][]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}, []float64{1. / 3, 1. / 3, 1. / 3}, true},
		{"three and the middle", [][]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}, half[:3]}, []float64{.25, .25, .25, .25}, true},
		{"four and the middle", [][]float64{{1, 0, 0, 0}, {0, 1, 0, 0}, {0, 0, 1, 0}, {0, 0, 0, 1}, half}, []float64{.125, .125, .125, .125, .5}, false},
	} {
		got, exact, err := simplex.Leads(c.values)
		if err != nil || exact != c.exact {
			t.Fatalf("%s: exact %v, %v", c.name, exact, err)
		}
		sum := 0.0
		for i, l := range got {
			sum += l.Share
			tol := 1e-12
			if !exact {
				tol = 4 * math.Sqrt(c.want[i]*(1-c.want[i])/simplex.Draws)
			}
			if math.Abs(l.Share-c.want[i]) > tol {
				t.Errorf("%s, object %d: %v, want %v", c.name, i, l.Share, c.want[i])
			}
			if exact != (l.Error == 0) {
				t.Errorf("%s: error %v", c.name, l.Error)
			}
		}
		if math.Abs(sum-1) > 1e-12 {
			t.Errorf("%s: shares sum to %v", c.name, sum)
		}
		again, _, _ := simplex.Leads(c.values)
		for i := range got {
			if got[i] != again[i] {
				t.Errorf("%s: other bits on another call", c.name)
			}
		}
	}
}

// By hand: (2,0) leads (0,1) at equal weights; at a first weight of 1/3 they are
// level.
func TestTheWeightAtWhichTheLeadChanges(t *testing.T) {
	leader, turns, err := simplex.Turns([][]float64{{2, 0}, {0, 1}}, []float64{3, 3})
	if err != nil || leader != 0 || len(turns) != 2 {
		t.Fatalf("leader %d, %v, %v", leader, turns, err)
	}
	if a := turns[0]; a.Criterion != 0 || a.From != .5 || math.Abs(a.To-1./3) > 1e-12 || a.Leader != 1 {
		t.Errorf("%+v", a)
	}
	if a := turns[1]; a.Criterion != 1 || math.Abs(a.To-2./3) > 1e-12 || a.Leader != 1 {
		t.Errorf("%+v", a)
	}
	if _, turns, _ := simplex.Turns([][]float64{{2, 2}, {0, 1}}, []float64{1, 1}); len(turns) != 0 {
		t.Errorf("a leader in everything is turned: %v", turns)
	}
	for _, bad := range [][]float64{{-1, 1}, {0, 0}, {1}, {math.NaN(), 1}} {
		if _, _, err := simplex.Turns([][]float64{{2, 0}, {0, 1}}, bad); err == nil {
			t.Errorf("weights %v are taken", bad)
		}
	}
	if _, _, err := simplex.Leads([][]float64{{1, 2}, {1}}); err == nil {
		t.Error("a missing value is taken")
	}
}
