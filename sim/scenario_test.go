package sim_test

import (
	"bytes"
	"encoding/csv"
	"strings"
	"testing"
	"time"

	"example.org/bookend/fault"
	"example.org/bookend/sim"
	"example.org/bookend/sim/evaluator"
)

// rows reads a sheet; columns by name.
func rows(t *testing.T, data []byte) (lines []map[string]string) {
	t.Helper()
	all, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range all[1:] {
		line := map[string]string{}
		for i, name := range all[0] {
			line[name] = r[i]
		}
		lines = append(lines, line)
	}
	return lines
}

// cut leaves the first stints of a test.
func cut(s *sim.Scenario, id string, stints, runs int) *sim.Test {
	test, err := s.Test(id)
	if err != nil {
		panic(err)
	}
	test.Order, test.Sets, test.Runs = test.Order[:stints], test.Sets[:stints], runs
	return test
}

// Common practice, no source: the control opens and closes each day and stands
// between, at most two candidates lie between controls, candidates come twice, and
// the control again after a break.
func TestSequences(t *testing.T) {
	s := sim.SkerryMoor(1)
	for _, test := range s.Tests {
		o := test.Order
		if len(test.Sets) != len(o) || o[0] != s.Control || o[len(o)-1] != s.Control {
			t.Errorf("%s: order %v on sets %v", test.ID, o, test.Sets)
		}
		seen := map[string]int{}
		for i, c := range o {
			seen[c]++
			if !strings.HasPrefix(test.Sets[i], c) {
				t.Errorf("%s: stint %d of %s is on set %s", test.ID, i+1, c, test.Sets[i])
			}
			if i >= 2 && o[i] != s.Control && o[i-1] != s.Control && o[i-2] != s.Control {
				t.Errorf("%s: three candidates up to stint %d", test.ID, i+1)
			}
		}
		for _, x := range test.Incidents {
			if x.Kind == sim.Shower && o[x.Stint-1] != s.Control {
				t.Errorf("%s: after the shower %s is driven", test.ID, o[x.Stint-1])
			}
		}
		if seen[s.Control] < 5 || seen["P"] != 2 || seen["R"] != 2 || seen["T"] != 2 || seen["W"] != 2 {
			t.Errorf("%s: %v", test.ID, seen)
		}
	}
}

// A shower is a wait, a declared break and another surface.
func TestShower(t *testing.T) {
	s := sim.SkerryMoor(2)
	test := cut(&s, "slalom", 8, 1)
	var stints []*sim.Stint
	var log []byte
	err := s.Write(test, func(f sim.File) error { log = f.Data; return nil }, func(st *sim.Stint) error { stints = append(stints, st); return nil })
	if err != nil {
		t.Fatal(err)
	}
	if wait := stints[7].Start.Sub(stints[6].Start) - stints[6].Start.Sub(stints[5].Start); wait != 45*time.Minute {
		t.Errorf("everybody waits for %v", wait)
	}
	for _, r := range rows(t, log) {
		if want := r["stint"] == "08"; (r["break"] == "yes") != want || (r["remark"] != "") != want {
			t.Errorf("stint %s run %s: break %q, remark %q", r["stint"], r["run"], r["break"], r["remark"])
		}
	}
	// A set carries what it had run and lost; a set that is new does not.
	if st := stints[7]; st.Set != "K1" || st.UseM <= 0 || st.WornM <= 0 || stints[0].UseM != 0 {
		t.Errorf("stint 8 is on %s with %v m, %v m lost; stint 1 began with %v m", st.Set, st.UseM, st.WornM, stints[0].UseM)
	}
}

// A lap in traffic is slow, and the run log leaves it out with the reason.
func TestTraffic(t *testing.T) {
	s := sim.SkerryMoor(2)
	test := cut(&s, "dry-lap", 1, 3)
	test.Incidents = []sim.Incident{{Kind: sim.Traffic, Stint: 1, Run: 3}}
	var laps []float64
	var log []byte
	err := s.Write(test, func(f sim.File) error { log = f.Data; return nil }, func(st *sim.Stint) error {
		for i := range st.Runs {
			v, _ := st.Runs[i].Value("lap_time")
			laps = append(laps, v)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for i, r := range rows(t, log) {
		if (r["excluded"] != "") != (i == 2) {
			t.Errorf("run %s: excluded %q", r["run"], r["excluded"])
		}
	}
	if len(laps) != 3 || laps[2] < 1.03*laps[1] {
		t.Errorf("laps of %v s, the last in traffic", laps)
	}
}

// Two recordings stand under each other's stint in the run log; the bytes are those
// of the stint driven, whatever the log says.
func TestSwapped(t *testing.T) {
	s := sim.SkerryMoor(2)
	test := cut(&s, "wet-stop", 6, 1)
	var names []string
	var log []byte
	if err := s.Write(test, func(f sim.File) error { names, log = append(names, f.Name), f.Data; return nil }, nil); err != nil {
		t.Fatal(err)
	}
	for i, r := range rows(t, log) {
		want := names[i]
		switch i {
		case 4:
			want = names[5]
		case 5:
			want = names[4]
		}
		if r["recording"] != want {
			t.Errorf("stint %s: recording %s, want %s", r["stint"], r["recording"], want)
		}
		for _, spot := range []string{"1", "2", "3"} {
			if r["water_depth_"+spot+"_mm"] == "" {
				t.Errorf("stint %s lacks a depth at spot %s", r["stint"], spot)
			}
		}
	}
}

// A receiver that loses its place leaves empty cells for as long.
func TestDropout(t *testing.T) {
	s := sim.SkerryMoor(2)
	test := cut(&s, "wet-lap", 4, 2)
	st, err := s.Drive(test, 3)
	if err != nil {
		t.Fatal(err)
	}
	empty := 0
	for _, r := range rows(t, s.Record(test, st)[0].Data) {
		if r["latitude_deg"] == "" {
			empty++
			if r["wheel_speed_fl_kmh"] == "" || r["ay_mps2"] == "" {
				t.Fatal("the vehicle's own network falls silent with the receiver")
			}
		}
	}
	if want := 3 * int(test.Kit.Hz); empty < want-1 || empty > want+1 {
		t.Errorf("%d rows without a place, want %d", empty, want)
	}
}

// The reference knows what the lots hide: a tyre that is as the control has the
// control's figures exactly, one with more wet grip stops shorter.
func TestReference(t *testing.T) {
	s := sim.SkerryMoor(2)
	test := cut(&s, "wet-stop", 2, 2)
	known, err := s.Reference(test, 1)
	if err != nil {
		t.Fatal(err)
	}
	d := map[string]float64{}
	for i := range known {
		v, ok := known[i].Value("braking_distance")
		if !ok {
			t.Fatalf("%s has no distance", known[i].Code)
		}
		d[known[i].Code] = v
	}
	if d["T"] != d["K"] || !(d["P"] < 0.98*d["K"]) || !(d["R"] > 1.02*d["K"]) {
		t.Errorf("%v", d)
	}
}

// Sheets have a line for each attribute, evaluator and stint, in quarter points; what
// they should show is known.
func TestSheets(t *testing.T) {
	s := sim.SkerryMoor(2)
	r := &s.Ratings[0]
	f, err := s.Sheets(r)
	if err != nil {
		t.Fatal(err)
	}
	test, _ := s.Test(r.Of)
	lines := rows(t, f.Data)
	if want := len(test.Order) * len(r.By) * len(r.Attributes); len(lines) != want {
		t.Errorf("%d lines, want %d", len(lines), want)
	}
	known, err := s.Worth(r)
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range known {
		v, ok := k.Value(string(evaluator.Response))
		if !ok || (k.Code == "R") != (v < -0.5) || (k.Code == "T" || k.Code == "K") && v != 0 {
			t.Errorf("%s is worth %v in response", k.Code, v)
		}
	}
	again, err := s.Sheets(r)
	if err != nil || !bytes.Equal(f.Data, again.Data) {
		t.Error("the same seed gives other sheets")
	}
	if _, err := s.Sheets(&sim.Ratings{Of: "ice"}); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("sheets of no test: %v", err)
	}
}

// The truth goes into tables: stints, runs, and the motion beneath a recording.
func TestTruthTables(t *testing.T) {
	s := sim.SkerryMoor(2)
	test := cut(&s, "wet-stop", 1, 2)
	st, err := s.Drive(test, 0)
	if err != nil {
		t.Fatal(err)
	}
	w := sim.NewTruthSheet()
	w.Add(st)
	files := w.Files()
	stints, runs := rows(t, files[0].Data), rows(t, files[1].Data)
	if len(stints) != 1 || stints[0]["code"] != "K" || stints[0]["set"] != "K1" {
		t.Errorf("stints %v", stints)
	}
	if want := len(st.Runs[0].Values) + len(st.Runs[1].Values); len(runs) != want {
		t.Errorf("%d lines of runs, want %d", len(runs), want)
	}
	motion := st.Motion(test)
	if len(motion) != 1 || motion[0].Name != "truth-wet-stop-01.csv" {
		t.Fatalf("%d files of motion", len(motion))
	}
	if got := bytes.Count(motion[0].Data, []byte("\n")); got != 1+len(st.Traces[0].Point) || bytes.Contains(motion[0].Data, []byte("NaN")) {
		t.Errorf("%d lines of motion", got)
	}
}
