package wetstops_test

import (
	"strings"
	"testing"

	"example.org/bookend/sim/wetstops"
)

func TestTheSameSeedGivesTheSameDayAndAnotherAnother(t *testing.T) {
	a, b, c := wetstops.Day(1), wetstops.Day(1), wetstops.Day(2)
	if len(a) != 14 || a[0].Name != wetstops.RunLog {
		t.Fatalf("%d files, first %s", len(a), a[0].Name)
	}
	for i := range a {
		if a[i] != b[i] {
			t.Errorf("%s differs for the same seed", a[i].Name)
		}
		if a[i].Data == c[i].Data {
			t.Errorf("%s is the same for another seed", a[i].Name)
		}
	}
}

// Common practice, no source: the control opens and closes the sequence, and
// water depth is read at three spots of a wet lane for every stop.
func TestTheControlOpensAndClosesAndEveryStopHasThreeDepths(t *testing.T) {
	lines := strings.Split(strings.TrimSpace(wetstops.Day(1)[0].Data), "\n")
	if len(lines) != 1+13*6 {
		t.Fatalf("%d lines", len(lines))
	}
	for _, i := range []int{1, len(lines) - 1} {
		if code := strings.Split(lines[i], ",")[1]; code != wetstops.Control {
			t.Errorf("line %d is driven on %s", i+1, code)
		}
	}
	for i, l := range lines[1:] {
		cells := strings.Split(l, ",")
		for _, depth := range cells[6:9] {
			if depth == "" {
				t.Errorf("line %d lacks a depth", i+2)
			}
		}
	}
}
