package sim_test

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/sim"
	"example.org/bookend/sim/write"
)

// short is the scenario with one stint of one run in each test.
func short(seed uint64) sim.Scenario {
	s := sim.SkerryMoor(seed)
	for i := range s.Tests {
		s.Tests[i].Order = []string{"K", "P"}
		s.Tests[i].Runs = 1
	}
	return s
}

func files(t *testing.T, s sim.Scenario, id string) []write.File {
	t.Helper()
	test, err := s.Test(id)
	if err != nil {
		t.Fatal(err)
	}
	var out []write.File
	if err := s.Write(test, func(f write.File) error { out = append(out, f); return nil }, nil); err != nil {
		t.Fatal(err)
	}
	return out
}

// The same seed gives the same bytes, whichever test is driven first; another seed
// gives others.
func TestSameBytes(t *testing.T) {
	a := files(t, short(4), "wet-lap")
	s := short(4)
	files(t, s, "wet-stop")
	b := files(t, s, "wet-lap")
	if len(a) != 3 || len(b) != 3 {
		t.Fatalf("%d and %d files", len(a), len(b))
	}
	for i := range a {
		if a[i].Name != b[i].Name || !bytes.Equal(a[i].Data, b[i].Data) {
			t.Errorf("%s differs from one run to the next", a[i].Name)
		}
	}
	if c := files(t, short(5), "wet-lap"); bytes.Equal(a[0].Data, c[0].Data) {
		t.Error("another seed gives the same recording")
	}
}

// Every test of the scenario has files: a recording a stint, and a run log that
// names them.
func TestFilesOfEachTest(t *testing.T) {
	for _, test := range sim.SkerryMoor(1).Tests {
		got := files(t, short(1), test.ID)
		log := string(got[len(got)-1].Data)
		if !strings.HasPrefix(log, "stint,code,set,position,") || strings.Count(log, "\n") != 3 {
			t.Errorf("%s: run log %q", test.ID, log)
		}
		for _, f := range got[:len(got)-1] {
			if !strings.Contains(log, f.Name) {
				t.Errorf("the run log does not name %s", f.Name)
			}
			head, _, _ := bytes.Cut(f.Data, []byte("\n"))
			if !bytes.HasPrefix(head, []byte("utc,latitude_deg,")) || bytes.Contains(f.Data, []byte("NaN")) {
				t.Errorf("%s begins with %q", f.Name, head)
			}
		}
	}
}

// The first error that the taker gives ends the driving.
func TestWriteStops(t *testing.T) {
	s := short(1)
	stop := errors.New("disk full")
	n := 0
	err := s.Write(&s.Tests[0], func(write.File) error { n++; return stop }, nil)
	if !errors.Is(err, stop) || n != 1 {
		t.Errorf("%v after %d files", err, n)
	}
	if _, err := s.Test("ice"); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("a test that is not there: %v", err)
	}
	s.Tests[0].Order = []string{"X"}
	if err := s.Write(&s.Tests[0], func(write.File) error { return nil }, nil); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("a tyre that is not there: %v", err)
	}
}

// The surroundings drift as the day says, and every control stint meets its own.
func TestDayDrifts(t *testing.T) {
	s := short(1)
	test := &s.Tests[0]
	test.Order = []string{"K", "K", "K"}
	test.StintS = 3600
	test.Day.GripWalk, test.Day.Fitment, test.Day.WaterSD = 0, 0, 0
	test.Day.GripPerHour, test.Day.GripBend, test.Day.WaterTo = -0.01, 0, 2
	for i, want := range []struct{ grip, water float64 }{{1, 1}, {math.Exp(-0.01), 1.5}, {math.Exp(-0.02), 2}} {
		st, err := s.Drive(test, i)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(st.Grip-want.grip) > 1e-12 || math.Abs(st.Water-want.water) > 1e-12 {
			t.Errorf("stint %d: grip %v, water %v, want %v, %v", i+1, st.Grip, st.Water, want.grip, want.water)
		}
	}
}
