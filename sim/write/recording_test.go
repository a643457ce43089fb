package write_test

import (
	"math"
	"testing"

	"example.org/bookend/sim/sensor"
	"example.org/bookend/sim/write"
)

func TestRecording(t *testing.T) {
	tab := sensor.Table{
		Stamp: []float64{0, 0.01, 0.0204}, Names: []string{"v", "w"}, Digits: []int{2, 0},
		Columns: [][]float64{{1.005, math.NaN(), -0.001}, {7, 8, math.NaN()}},
	}
	const start = 1_000_000_000 * 1_000_000_000
	want := "utc,v,w\n2001-09-09T01:46:40.000Z,1.00,7\n2001-09-09T01:46:40.010Z,,8\n2001-09-09T01:46:40.020Z,0.00,\n"
	if got := string(write.Recording(tab, start, write.UTC)); got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
	want = "time_s,v,w\n0.0000,1.00,7\n0.0100,,8\n0.0204,0.00,\n"
	if got := string(write.Recording(tab, start, write.Seconds)); got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
}

func TestSheet(t *testing.T) {
	s := write.Sheet{Head: []string{"a", "b"}}
	s.Add("1", "two, three")
	s.Add(`four "five"`, "")
	if got, want := string(s.Bytes()), "a,b\n1,\"two, three\"\n\"four \"\"five\"\"\",\n"; got != want {
		t.Errorf("got %q want %q", got, want)
	}
}
