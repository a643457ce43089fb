package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"example.org/bookend/sim"
)

// turnedOver writes the recording of a simulated stint of stops, whose column of
// longitudinal acceleration is turned over, and gives its path.
func turnedOver(t *testing.T) string {
	t.Helper()
	d, err := sim.Drive(sim.Ask{Kind: sim.Stops, Runs: 2, Seed: 3})
	if err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	k := -1
	for i, line := range strings.Split(strings.TrimSuffix(string(d.Files[0].Data), "\n"), "\n") {
		cells := strings.Split(line, ",")
		if i == 0 {
			for j, name := range cells {
				if name == "ax_mps2" {
					k = j
				}
			}
		} else if cells[k] != "" {
			v, err := strconv.ParseFloat(cells[k], 64)
			if err != nil {
				t.Fatal(err)
			}
			cells[k] = strconv.FormatFloat(-v, 'f', 3, 64)
		}
		fmt.Fprintln(&out, strings.Join(cells, ","))
	}
	path := filepath.Join(t.TempDir(), "stint01.csv")
	if err := os.WriteFile(path, []byte(out.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

type mendable struct {
	Settings struct {
		Mends []struct{ Channel, What, Reason string } `json:"mends"`
	} `json:"settings"`
	Results struct {
		Channels []struct {
			Name     string `json:"name"`
			Findings []struct {
				Code  string `json:"code"`
				Mends []struct {
					What  string  `json:"what"`
					Value float64 `json:"value"`
				} `json:"mends"`
			} `json:"findings"`
		} `json:"channels"`
		Observations []struct {
			Derivation string `json:"derivation"`
		} `json:"observations"`
	} `json:"results"`
	Caveats []struct{ Code string } `json:"caveats"`
}

func (m mendable) has(code string) bool {
	for _, c := range m.Caveats {
		if c.Code == code {
			return true
		}
	}
	return false
}

func asked(t *testing.T, args ...string) (d mendable) {
	t.Helper()
	answered(t, &d, args...)
	return d
}

// A sign that is the wrong way round is found, its mend proposed and accepted by its
// words; it goes into what was derived, and the number has another derivation.
func TestAMendIsProposedAndAccepted(t *testing.T) {
	path := turnedOver(t)
	d := asked(t, "check", "--json", path)
	n := 0
	for _, c := range d.Results.Channels {
		for _, f := range c.Findings {
			n++
			if c.Name != "ax_mps2" || f.Code != "flipped_sign" || len(f.Mends) != 1 || f.Mends[0].What != "sign" || f.Mends[0].Value != -1 {
				t.Errorf("channel %s: %+v", c.Name, f)
			}
		}
	}
	if n != 1 || !d.has("flipped_sign") {
		t.Errorf("%d findings, caveats %v", n, d.Caveats)
	}
	code, out, _ := call("check", path)
	if code != 0 || !strings.Contains(out, "--mend ax_mps2:flipped_sign") {
		t.Errorf("check says\n%s", out)
	}
	for i, line := range strings.Split(out, "\n") {
		if n := len([]rune(line)); n > 80 {
			t.Errorf("line %d has %d columns: %s", i+1, n, line)
		}
	}
	if code, _, _ := call("check", "--strict", path); code != 6 {
		t.Errorf("check --strict: exit %d", code)
	}

	reduce := []string{"reduce", "--json", "--procedure", "braking", "--from", "80", "--to", "20", path}
	left := asked(t, reduce...)
	right := asked(t, append(reduce, "--mend", "ax_mps2:flipped_sign")...)
	own := asked(t, append(reduce, "--mend", "ax_mps2:sign")...)
	if !left.has("flipped_sign") || right.has("flipped_sign") || own.has("flipped_sign") {
		t.Errorf("caveats: %v, %v, %v", left.Caveats, right.Caveats, own.Caveats)
	}
	if len(right.Settings.Mends) != 1 || right.Settings.Mends[0].What != "sign" || right.Settings.Mends[0].Channel != "ax_mps2" {
		t.Errorf("settings: %+v", right.Settings)
	}
	if left.Results.Observations[0].Derivation == right.Results.Observations[0].Derivation {
		t.Error("the mend is not in the derivation")
	}

	for _, w := range []struct {
		word string
		exit int
		says string
	}{
		{"ay_mps2:offset", 3, "proposed is: ax_mps2:flipped_sign"},
		{"nothing:sign", 3, `no channel "nothing"`},
		{"ax_mps2", 2, "says no mend"},
		{"ax_mps2:scale=2m", 2, "plain number"},
		{"ax_mps2:offset=2km", 2, "cannot be converted"},
		{"ax_mps2:polish=2", 2, "no mend"},
		{"ax_mps2:offset=1@soon..", 2, "no time"},
		{"ax_mps2:sign=1", 2, "takes no value"},
	} {
		code, _, errs := call(append(reduce, "--mend", w.word)...)
		if code != w.exit || !strings.Contains(errs, w.says) {
			t.Errorf("--mend %s: exit %d, %s", w.word, code, errs)
		}
	}
	// Own words with units and times.
	if d := asked(t, append(reduce, "--mend", "yaw_rate_degps:offset=0.43°/s@10..20", "--mend", "speed_kmh:scale=1.01")...); len(d.Settings.Mends) != 4 || d.Settings.Mends[2].What != "offset" {
		t.Errorf("own words: %+v", d.Settings.Mends)
	}
}

// In a programme an accepted mend is an entry; the next one about the same recording
// takes its place, and none takes it back.
func TestAMendIsAnEntryOfTheProgramme(t *testing.T) {
	path := turnedOver(t)
	dir := filepath.Join(t.TempDir(), "moor")
	done(t, "new", dir, "--zone", "Europe/London")
	base := []string{"import", path, "--folder", dir, "--test", "wet-stop"}
	out := done(t, append(base, "--procedure", "braking", "--from", "80", "--to", "20", "--mend", "ax_mps2:flipped_sign")...)
	if !strings.Contains(out, "recording with 1 mends") {
		t.Errorf("import says %s", out)
	}
	done(t, "verify", "--folder", dir)
	if out := done(t, append(base, "--mend", "ax_mps2:sign", "--mend", "yaw_rate_degps:offset=0.1°/s")...); !strings.Contains(out, "with 2 mends, here already") {
		t.Errorf("import again says %s", out)
	}
	if out := done(t, append(base, "--mend", "none")...); strings.Contains(out, "mends") {
		t.Errorf("taking back says %s", out)
	}
	if code, _, errs := call(append(base, "--mend", "ax_mps2:offset")...); code != 3 || !strings.Contains(errs, "stint01.csv") {
		t.Errorf("a mend that is not proposed: exit %d, %s", code, errs)
	}
	done(t, "verify", "--folder", dir)
}
