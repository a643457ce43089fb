package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.org/bookend/sim"
)

// wetStops writes five stints of simulated wet stops, three stops each, with their run
// log, and gives the folder and the lines of the log, the first being its head.
func wetStops(t *testing.T, incidents ...sim.Incident) (dir string, log []string) {
	t.Helper()
	s := sim.SkerryMoor(21)
	test, err := s.Test("wet-stop")
	if err != nil {
		t.Fatal(err)
	}
	test.Order, test.Runs, test.Incidents = []string{"K", "P", "K", "W", "K"}, 3, incidents
	dir = t.TempDir()
	err = s.Write(test, func(f sim.File) error {
		if strings.HasSuffix(f.Name, "run-log.csv") {
			log = strings.Split(strings.TrimSuffix(string(f.Data), "\n"), "\n")
			return nil
		}
		if strings.HasPrefix(f.Name, "wet-stop-") {
			return os.WriteFile(filepath.Join(dir, f.Name), f.Data, 0o644)
		}
		return nil
	}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return dir, log
}

type compared struct {
	Results struct {
		Rows []struct {
			Code       string  `json:"code"`
			Runs       int     `json:"runs"`
			Index      float64 `json:"index"`
			Difference float64 `json:"difference"`
		} `json:"rows"`
	} `json:"results"`
	Caveats []struct {
		Code  string `json:"code"`
		Place struct {
			Run string `json:"run"`
		} `json:"place"`
		Text string `json:"text"`
	} `json:"caveats"`
}

func (c compared) count(code string) int {
	n := 0
	for _, k := range c.Caveats {
		if k.Code == code {
			n++
		}
	}
	return n
}

func (c compared) runs(code string) int {
	for _, r := range c.Results.Rows {
		if r.Code == code {
			return r.Runs
		}
	}
	return -1
}

// compareStops imports the recordings of a folder with a run log, and compares.
func compareStops(t *testing.T, dir string, log []string) compared {
	t.Helper()
	return compareIn(t, importStops(t, dir, log))
}

// importStops imports the recordings of a folder with a run log, and gives the
// programme's folder.
func importStops(t *testing.T, dir string, log []string) (moor string) {
	t.Helper()
	sheet := filepath.Join(dir, "run-log.csv")
	if err := os.WriteFile(sheet, []byte(strings.Join(log, "\n")+"\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob(filepath.Join(dir, "wet-stop-*.csv"))
	if err != nil || len(files) != 5 {
		t.Fatal(err, files)
	}
	moor = filepath.Join(t.TempDir(), "moor")
	done(t, "new", moor, "--zone", "Europe/London")
	done(t, append([]string{"import", "--folder", moor, "--test", "wet-stop", "--procedure", "braking", "--from", "80", "--to", "20", sheet}, files...)...)
	return moor
}

// compareIn compares the stops of a programme.
func compareIn(t *testing.T, moor string) (c compared) {
	t.Helper()
	answered(t, &c, "compare", "--folder", moor, "--test", "wet-stop", "--measure", "braking_distance", "--control", "K", "--margin", "1", "--json")
	return c
}

// cell gives the place of a column in a run log.
func cell(t *testing.T, log []string, name string) int {
	t.Helper()
	for i, c := range strings.Split(log[0], ",") {
		if c == name {
			return i
		}
	}
	t.Fatalf("the run log has no column %s: %s", name, log[0])
	return -1
}

// Recordings of a stint whose clock says that it is another than the log names: the
// runs of both are kept out until somebody has decided.
func TestAMislabelledRecordingIsFound(t *testing.T) {
	dir, log := wetStops(t)
	if c := compareStops(t, dir, log); c.runs("P") != 3 || c.runs("W") != 3 || c.count("mislabelled")+c.count("run_extra")+c.count("run_missing")+c.count("clock_off")+c.count("unclear_run") > 0 {
		t.Errorf("nothing is wrong: %+v", c)
	}
	dir, log = wetStops(t)
	for i, line := range log {
		switch {
		case strings.Contains(line, "wet-stop-02"):
			log[i] = strings.ReplaceAll(line, "wet-stop-02", "wet-stop-03")
		case strings.Contains(line, "wet-stop-03"):
			log[i] = strings.ReplaceAll(line, "wet-stop-03", "wet-stop-02")
		}
	}
	moor := importStops(t, dir, log)
	c := compareIn(t, moor)
	if c.count("mislabelled") != 6 || c.runs("W") != 3 || c.runs("P") == 3 {
		t.Errorf("two recordings exchanged: %+v", c)
	}

	// Once somebody has said whose each is, they are used as in the log that was right.
	say := func(want int, args ...string) (out, errs string) {
		t.Helper()
		code, out, errs := call(append([]string{"assign", "--folder", moor, "--test", "wet-stop"}, args...)...)
		if code != want {
			t.Fatalf("%v: exit %d: %s%s", args, code, out, errs)
		}
		return out, errs
	}
	say(0, "wet-stop-02.csv", "--stint", "02", "--reason", "saved under the next name")
	say(0, "wet-stop-03.csv", "--stint", "03", "--reason", "the same card")
	right, wrong := wetStops(t)
	want, got := compareStops(t, right, wrong), compareIn(t, moor)
	if got.count("mislabelled") != 0 || got.count("recording_assigned") != 2 || len(got.Results.Rows) != 2 {
		t.Errorf("after it was said whose they are: %+v", got)
	}
	for i, row := range want.Results.Rows {
		if got.Results.Rows[i] != row {
			t.Errorf("%+v, and with the right log %+v", got.Results.Rows[i], row)
		}
	}

	// It can be taken back, or said that a recording is of no stint.
	say(0, "wet-stop-02.csv", "--back")
	say(0, "wet-stop-03.csv", "--back")
	if c := compareIn(t, moor); c.count("mislabelled") != 6 {
		t.Errorf("taken back: %+v", c)
	}
	say(0, "wet-stop-02.csv", "--stint", "02", "--reason", "saved under the next name")
	say(0, "wet-stop-03.csv", "--stint", "03", "--reason", "the same card")
	say(0, "wet-stop-04.csv", "--none", "--reason", "a warm-up")
	if c := compareIn(t, moor); c.count("recording_set_aside") != 1 || c.runs("W") == 3 {
		t.Errorf("of no stint: %+v", c)
	}
	for _, bad := range []struct {
		code int
		args []string
		want string
	}{
		{2, []string{"wet-stop-02.csv", "--stint", "02"}, "no reason"},
		{3, []string{"wet-stop-02.csv", "--stint", "9", "--reason", "x"}, "no stint"},
		{3, []string{"nonesuch.csv", "--stint", "02", "--reason", "x"}, "no recording"},
		{2, []string{"wet-stop-02.csv", "--reason", "x"}, "of which stint"},
		{2, []string{"wet-stop-02.csv", "--stint", "02", "--none"}, "of which stint"},
		{3, []string{"wet-stop-01.csv", "--back"}, "nobody has said"},
	} {
		if _, errs := say(bad.code, bad.args...); !strings.Contains(errs, bad.want) {
			t.Errorf("%v: %s", bad.args, errs)
		}
	}
}

// A line that is missing in the log, and a log in another zone's time.
func TestALineMissingAndAnHourOff(t *testing.T) {
	dir, log := wetStops(t)
	log = append(log[:8:8], log[9:]...) // the second stop of the third stint
	c := compareStops(t, dir, log)
	if c.count("run_extra") != 1 || c.runs("P") != 3 || c.runs("W") != 3 {
		t.Errorf("a line is missing: %+v", c)
	}

	dir, log = wetStops(t)
	k := cell(t, log, "clock")
	for i := 1; i < len(log); i++ {
		cells := strings.Split(log[i], ",")
		at, err := time.Parse("2006-01-02T15:04", cells[k])
		if err != nil {
			t.Fatal(err)
		}
		cells[k] = at.Add(-time.Hour).Format("2006-01-02T15:04")
		log[i] = strings.Join(cells, ",")
	}
	c = compareStops(t, dir, log)
	if c.count("clock_hour") != 1 || c.runs("P") != 3 || c.runs("W") != 3 {
		t.Errorf("an hour off: %+v", c)
	}
}
