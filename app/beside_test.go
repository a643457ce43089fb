package app

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"example.org/bookend/app/logger"
	"example.org/bookend/clock"
	"example.org/bookend/procedure"
	"example.org/bookend/procedure/lap"
	"example.org/bookend/sim"
)

// Three instruments of one vehicle, each with a file and a clock of its own, whose files
// come in any order and of which the run log names the receiver's: laps are reduced from
// all three, and each number says so. Truth is the synthetic ground's lap time.
func TestInstrumentsBesideEachOther(t *testing.T) {
	f, _ := moor(t)
	f.Shelf.Procedures = []procedure.Procedure{lap.New()}
	s := sim.SkerryMoor(31)
	test, err := s.Test("dry-lap")
	if err != nil {
		t.Fatal(err)
	}
	test.Order, test.Runs, test.Incidents, test.Kit = []string{"K", "P", "K"}, 3, nil, sim.Kit{Apart: true}
	dir := t.TempDir()
	var paths []string
	was := map[string]float64{}
	err = s.Write(test, func(x sim.File) error {
		paths = append(paths, file(t, dir, x.Name, string(x.Data)))
		return nil
	}, func(st *sim.Stint) error {
		for _, r := range st.Runs {
			was[fmt.Sprintf("%s/%d", st.ID, r.Number)], _ = r.Value("lap_time")
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(paths) // bus, receiver, inertial sensors; the log last
	q := ImportRequest{Test: "dry-lap", Procedure: "lap", Paths: paths}
	for _, g := range s.Gates(test) {
		q.Gates = append(q.Gates, fmt.Sprintf("%.9f,%.9f,%.9f,%.9f", g[0], g[1], g[2], g[3]))
	}
	ctx := context.Background()
	if _, err := f.Import(ctx, q); err != nil {
		t.Fatal(err)
	}
	st := state(t, f)
	d, err := f.Drive(ctx, st, "dry-lap")
	if err != nil {
		t.Fatal(err)
	}
	if len(d.Recorded) != 3 || len(d.Inputs) != 10 {
		t.Fatalf("%d recordings, %d inputs: %+v", len(d.Recorded), len(d.Inputs), d.Inputs)
	}
	seen := map[string]int{}
	for _, o := range d.Log.Observations {
		seen[o.Measure]++
		if o.Measure != "lap_time" {
			continue
		}
		w, ok := was[o.Run]
		if !ok || math.Abs(o.Value-w) > 0.02 { // the receiver hands positions on 0.04 s late, both ends alike; 20 Hz and its noise are left
			t.Errorf("run %s: %.4f s, was %.4f s (%v)", o.Run, o.Value, w, ok)
		}
	}
	if seen["lap_time"] < 6 {
		t.Errorf("lap times: %d", seen["lap_time"])
	}
	// What the receiver alone does not say: the wheel is on the bus, the yaw rate apart.
	for _, m := range []string{"steering_corrections", "corner_peak_lateral"} {
		if seen[m] == 0 {
			t.Errorf("no %s: %v", m, seen)
		}
	}
	doc, err := f.Reduce(ctx, st, d.Test, d.Recorded[1].Recording)
	if err != nil {
		t.Fatal(err)
	}
	if line := doc.Settings["reference_line"]; line != "first counting lap of "+d.Recorded[0].Recording.Name {
		t.Errorf("the line is %v", line)
	}
	// Without a programme the files of one drive are named together, and the numbers are the
	// same: of the first recording the line is the same too.
	of := func(name string) string {
		return paths[slices.IndexFunc(paths, func(p string) bool { return strings.HasSuffix(p, name) })]
	}
	alone, err := f.Shelf.ReduceFiles(ctx, logger.ReduceRequest{Paths: []string{of("01-gnss.csv"), of("01-can.csv"), of("01-imu.csv")}, Procedure: "lap", Gates: q.Gates})
	if err != nil {
		t.Fatal(err)
	}
	if doc, err = f.Reduce(ctx, st, d.Test, d.Recorded[0].Recording); err != nil {
		t.Fatal(err)
	}
	if len(alone.Document.Results.Observations) != len(doc.Results.Observations) {
		t.Fatalf("%d observations, and %d in the programme", len(alone.Document.Results.Observations), len(doc.Results.Observations))
	}
	for i, o := range alone.Document.Results.Observations {
		if w := doc.Results.Observations[i]; o.Measure != w.Measure || o.Value != w.Value || o.Derivation != w.Derivation {
			t.Fatalf("%+v, and %+v in the programme", o, w)
		}
	}
	list, err := f.Intake(ctx, st, "dry-lap")
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range list {
		if a.State != Arrived || strings.HasSuffix(a.Name, "-can.csv") != strings.HasPrefix(a.Remark, "beside") && !strings.HasSuffix(a.Name, "-imu.csv") {
			t.Errorf("%+v", a)
		}
	}
	if len(list) != 9 {
		t.Errorf("%d recordings have come", len(list))
	}
}

// Which recordings lie beside which, by hand.
func TestWhatLiesBesideWhat(t *testing.T) {
	at := func(name string, begin, length float64, position bool) RecordingEntry {
		return RecordingEntry{Test: "lap", Name: name, SHA256: name, Holds: &Holds{Length: length, Position: position,
			Begin: clock.Instant{UnixNS: 1_780_000_000e9 + int64(begin*1e9), Clock: clock.Logger}}}
	}
	names := func(list []RecordingEntry) string {
		out := ""
		for _, r := range list {
			out += r.Name + " "
		}
		return out
	}
	a, b := at("a", 0, 300, true), at("b", 900, 300, true)
	s := &State{Recordings: []RecordingEntry{
		at("left running", -60, 1500, false), b, at("of b", 901, 290, false), a, at("of a", -3, 310, false), at("of neither", 400, 300, false),
	}}
	if got := names(s.Beside(a)) + "| " + names(s.Beside(b)); got != "left running of a | left running of b " {
		t.Error(got)
	}
	if m, ok := s.MainOf(s.Recordings[4]); !ok || m.Name != "a" {
		t.Errorf("of a lies beside %q, %v", m.Name, ok)
	}
	for _, r := range []RecordingEntry{a, s.Recordings[5], {Test: "lap", Name: "old"}} {
		if m, ok := s.MainOf(r); ok {
			t.Errorf("%s lies beside %s", r.Name, m.Name)
		}
	}
	// Two receivers at once: which of them the others belong to is not guessed.
	s.Recordings = append(s.Recordings, at("second receiver", 2, 300, true))
	if got := names(s.Beside(a)) + "| " + names(s.Beside(b)); got != "| left running of b " {
		t.Error(got)
	}
}
