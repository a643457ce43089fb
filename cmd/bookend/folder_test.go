package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// stops writes a recording of stops one after the other: each 3 s at 25 m/s,
// then at a constant deceleration to rest, 4 s at rest, and up to speed in 5 s.
func stops(t *testing.T, path string, decelerations ...float64) {
	t.Helper()
	var b strings.Builder
	b.WriteString("time_s,speed_mps\n")
	n := 0
	row := func(v float64) {
		fmt.Fprintf(&b, "%.2f,%.9f\n", float64(n)/100, v)
		n++
	}
	for _, a := range decelerations {
		for i := range 500 {
			row(25 * float64(i) / 500)
		}
		for range 300 {
			row(25)
		}
		for i := 0; ; i++ {
			v := 25 - a*float64(i)/100
			if v <= 0 {
				break
			}
			row(v)
		}
		for range 400 {
			row(0)
		}
	}
	if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
}

// A programme from recordings alone: the distance from 80 to 20 km/h at a
// deceleration a is (80² - 20²)/3.6²/2a, so the index of distances is that of
// decelerations: 8.4 to 8.0 is 105, and 7.6 to 8.0 is 95.
func TestAProgrammeFromItsRecordingsAndItsRunLog(t *testing.T) {
	dir := t.TempDir()
	var log strings.Builder
	log.WriteString("stint,code,run,recording\n")
	files := []string{}
	for i, s := range []struct {
		code string
		a    float64
	}{{"K", 8.0}, {"P", 8.4}, {"W", 7.6}, {"K", 8.0}, {"W", 7.6}, {"P", 8.4}, {"K", 8.0}} {
		name := fmt.Sprintf("stint%d.csv", i+1)
		// The scatter within a stint and between them is small and known.
		e := 0.002 * float64(i%3-1)
		stops(t, filepath.Join(dir, name), s.a+e, s.a+e+0.01, s.a+e-0.01)
		for r := range 3 {
			fmt.Fprintf(&log, "%d,%s,%d,%s\n", i+1, s.code, r+1, name)
		}
		files = append(files, filepath.Join(dir, name))
	}
	runlog := filepath.Join(dir, "runlog.csv")
	if err := os.WriteFile(runlog, []byte(log.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	folder := filepath.Join(dir, "moor")
	done(t, "new", folder)
	done(t, append([]string{"import", "--folder", folder, "--test", "stop", "--procedure", "braking", "--from", "80", "--to", "20", runlog}, files...)...)
	compare := func() map[string]float64 {
		t.Helper()
		var d struct {
			Inputs  []struct{} `json:"inputs"`
			Results struct {
				Rows []struct {
					Code  string  `json:"code"`
					Index float64 `json:"index"`
					Runs  int     `json:"runs"`
				} `json:"rows"`
			} `json:"results"`
		}
		answered(t, &d, "compare", "--folder", folder, "--test", "stop", "--measure", "braking_distance", "--control", "K", "--margin", "1", "--json")
		if len(d.Inputs) != 8 {
			t.Errorf("%d inputs are named, want the run log and 7 recordings", len(d.Inputs))
		}
		got := map[string]float64{}
		for _, r := range d.Results.Rows {
			got[r.Code] = r.Index
			if r.Runs != 6 {
				t.Errorf("%s rests on %d runs, want 6", r.Code, r.Runs)
			}
		}
		return got
	}
	first := compare()
	for code, want := range map[string]float64{"P": 105, "W": 95} {
		if math.Abs(first[code]-want) > 0.1 {
			t.Errorf("index of %s is %v, want %v", code, first[code], want)
		}
	}
	if second := compare(); second["P"] != first["P"] || second["W"] != first["W"] {
		t.Error("the results kept differ from those computed")
	}
	// One run too many in the log is a conflict, and says so.
	other := filepath.Join(dir, "other.csv")
	if err := os.WriteFile(other, []byte("stint,code,run,recording\n1,K,1,stint1.csv\n1,K,2,stint1.csv\n1,K,3,stint1.csv\n1,K,4,stint1.csv\n2,P,1,\n3,K,1,\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	done(t, "import", "--folder", folder, "--test", "short", "--procedure", "braking", other, files[0])
	if code, _, errs := call("compare", "--folder", folder, "--test", "short", "--control", "K"); code != 4 || !strings.Contains(errs, "stint1.csv") {
		t.Errorf("exit %d, %q", code, errs)
	}
	// A recording that is no recording is refused before anything is kept.
	bad := filepath.Join(dir, "bad.csv")
	if err := os.WriteFile(bad, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if code, _, _ := call("import", "--folder", folder, "--test", "stop", bad); code != 2 {
		t.Errorf("an empty file: exit %d", code)
	}
}
