package main

import (
	"os"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"

	"example.org/bookend/sim"
)

// A cut that a person moves is said in the report with its reason, and taken back it
// leaves what was there before.
func TestAMovedCut(t *testing.T) {
	dir, log := wetStops(t)
	moor := importStops(t, dir, log)
	before := compareIn(t, moor)
	say := func(want int, args ...string) (out, errs string) {
		t.Helper()
		code, out, errs := call(append([]string{"recut", "--folder", moor, "--test", "wet-stop"}, args...)...)
		if code != want {
			t.Fatalf("%v: exit %d: %s%s", args, code, out, errs)
		}
		return out, errs
	}
	var d struct {
		Results struct {
			Pieces []struct {
				From float64 `json:"from_s"`
				To   float64 `json:"to_s"`
			} `json:"pieces"`
		} `json:"results"`
	}
	answered(t, &d, "reduce", filepath.Join(dir, "wet-stop-02.csv"), "--procedure", "braking", "--from", "80", "--to", "20", "--json")
	if len(d.Results.Pieces) != 3 {
		t.Fatal(d)
	}
	second := d.Results.Pieces[1]
	// Nothing that cannot be reduced is entered: cut off early, the stop never gets slow.
	if _, errs := say(2, "wet-stop-02.csv", "--piece", "2", "--to", seconds(second.To-4), "--reason", "x"); !strings.Contains(errs, "never falls") {
		t.Error(errs)
	}
	say(2, "wet-stop-02.csv", "--piece", "2", "--from", seconds(second.From+1))
	say(0, "wet-stop-02.csv", "--piece", "2", "--from", seconds(second.From+1), "--reason", "another vehicle in the lane")
	say(0, "wet-stop-02.csv", "--piece", "2", "--from", seconds(second.From+2), "--reason", "it was longer there")
	if c := compareIn(t, moor); c.count("cut_moved") != 1 {
		t.Errorf("the later move takes the place of the earlier one: %+v", c.Caveats)
	}
	page := filepath.Join(t.TempDir(), "report.html")
	done(t, "report", "--folder", moor, "--control", "K", "--margin", "1", "--out", page)
	read, err := os.ReadFile(page)
	if err != nil || !strings.Contains(string(read), "it was longer there") {
		t.Error("the report does not say that a cut was moved", err)
	}
	say(0, "wet-stop-02.csv", "--piece", "2", "--back")
	if c := compareIn(t, moor); c.count("cut_moved") != 1 {
		t.Errorf("the earlier move stands again: %+v", c.Caveats)
	}
	say(0, "wet-stop-02.csv", "--piece", "2", "--back")
	if back := compareIn(t, moor); !reflect.DeepEqual(back, before) {
		t.Errorf("taken back: %+v, before %+v", back, before)
	}
	for _, bad := range []struct {
		code int
		args []string
		want string
	}{
		{3, []string{"wet-stop-02.csv", "--piece", "9", "--to", "3", "--reason", "x"}, "no piece 9"},
		{3, []string{"nonesuch.csv", "--piece", "1", "--to", "3", "--reason", "x"}, "no recording"},
		{2, []string{"wet-stop-02.csv", "--to", "3", "--reason", "x"}, "which run"},
		{2, []string{"wet-stop-02.csv", "--piece", "2", "--to", "-3", "--reason", "x"}, "before it begins"},
		{2, []string{"wet-stop-02.csv", "--piece", "3", "--to", "1e6", "--reason", "x"}, "outside"},
		{4, []string{"wet-stop-02.csv", "--piece", "2", "--from", seconds(d.Results.Pieces[0].From + 1), "--reason", "x"}, "overlap"},
		{2, []string{"wet-stop-02.csv", "--piece", "2", "--to", seconds(second.To), "--reason", "x"}, "already"},
		{3, []string{"wet-stop-02.csv", "--piece", "2", "--back"}, "nobody has moved"},
	} {
		if _, errs := say(bad.code, bad.args...); !strings.Contains(errs, bad.want) {
			t.Errorf("%v: %s", bad.args, errs)
		}
	}
}

func seconds(s float64) string { return strconv.FormatFloat(s, 'f', 3, 64) }

// What a run yields is reckoned from where its cut was moved to, the plan's verdict from
// where it lay when it was looked at.
func TestAMovedCutChangesItsRun(t *testing.T) {
	d, err := sim.Drive(sim.Ask{Kind: sim.Circle, Runs: 6, Seed: 21})
	if err != nil || len(d.Files) != 6 {
		t.Fatal(err, len(d.Files))
	}
	dir, moor := t.TempDir(), filepath.Join(t.TempDir(), "moor")
	log := "stint,code,run,recording\n"
	b := &d.Scenario.Build
	args := []string{"import", "--folder", moor, "--test", "circle", "--procedure", "circle", "--set", "steering_ratio=" + seconds(b.Ratio), "--set", "wheelbase=" + seconds(b.Front+b.Rear) + "m"}
	for i, f := range d.Files {
		log += strconv.Itoa(i+1) + "," + []string{"K", "P", "K"}[i/2] + ",1," + f.Name + "\n"
		args = append(args, filepath.Join(dir, f.Name))
		if err := os.WriteFile(filepath.Join(dir, f.Name), f.Data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	args = append(args, filepath.Join(dir, "log.csv"))
	if err := os.WriteFile(args[len(args)-1], []byte(log), 0o600); err != nil {
		t.Fatal(err)
	}
	difference := func() float64 {
		t.Helper()
		var c compared
		answered(t, &c, "compare", "--folder", moor, "--test", "circle", "--measure", "lateral_grip", "--place", "left", "--control", "K", "--margin", "1", "--drift", "none", "--json")
		if len(c.Results.Rows) != 1 {
			t.Fatal(c)
		}
		return c.Results.Rows[0].Index
	}
	done(t, "new", moor, "--zone", "Europe/London")
	done(t, args...)
	before := difference()
	done(t, "recut", d.Files[2].Name, "--folder", moor, "--test", "circle", "--piece", "1", "--to", "20", "--reason", "gravel on the circle")
	if difference() == before {
		t.Error("a moved cut changes nothing")
	}
	done(t, "recut", d.Files[2].Name, "--folder", moor, "--test", "circle", "--piece", "1", "--back")
	if got := difference(); got != before {
		t.Errorf("taken back it is %v, and was %v", got, before)
	}
}
