package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// real gives the path of a real recording, and skips the test where it is not.
func real(t *testing.T, parts ...string) string {
	t.Helper()
	path := filepath.Join(append([]string{dataFolder()}, parts...)...)
	if _, err := os.Stat(path); err != nil {
		t.Skipf("the real recordings are not here (%s); set BOOKEND_DATA", filepath.Join(parts...))
	}
	return path
}

type reduced struct {
	Results struct {
		Observations []struct {
			Measure string  `json:"measure"`
			Run     string  `json:"run"`
			Place   string  `json:"place"`
			Value   float64 `json:"value"`
			Counts  bool    `json:"counts"`
		} `json:"observations"`
	} `json:"results"`
}

func reduceFile(t *testing.T, args ...string) (d reduced) {
	t.Helper()
	answered(t, &d, append([]string{"reduce", "--json"}, args...)...)
	return d
}

// Lap times of three real recordings and of one re-encoded with semicolons,
// decimal commas and a byte order mark, against values that were computed apart
// from this project with numpy (README of the open recordings); within 0.01 s.
func TestLapsOfRealRecordings(t *testing.T) {
	data, err := os.ReadFile(real(t, "laps", "expected_laps.json"))
	if err != nil {
		t.Fatal(err)
	}
	var expected map[string]struct {
		Gate [2][2]float64 `json:"gate_latlon_deg"`
		Laps []float64     `json:"lap_time_s"`
	}
	if err := json.Unmarshal(data, &expected); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		key  string
		path []string
		out  int // laps that must not count
	}{
		{"psu_loop_1.csv", []string{"laps", "psu_loop_1.csv"}, 0},
		{"psu_loop_3.csv", []string{"laps", "psu_loop_3.csv"}, 0},
		{"psu_loop_4.csv", []string{"laps", "psu_loop_4.csv"}, 1}, // lap 1 holds a long stop
		{"psu_loop_4.csv", []string{"formats", "derived_loop4_semicolon_decimalcomma_bom.csv"}, 1},
	} {
		e := expected[c.key]
		gate := fmt.Sprintf("%.12f,%.12f,%.12f,%.12f", e.Gate[0][0], e.Gate[0][1], e.Gate[1][0], e.Gate[1][1])
		d := reduceFile(t, "--procedure", "lap", "--gate", gate, real(t, c.path...))
		n, out := 0, 0
		for _, o := range d.Results.Observations {
			if o.Measure != "lap_time" {
				continue
			}
			if math.Abs(o.Value-e.Laps[n]) > 0.01 {
				t.Errorf("%s, lap %s: %.4f s, want %.4f", c.path[1], o.Run, o.Value, e.Laps[n])
			}
			if !o.Counts {
				out++
				if o.Run != "1" {
					t.Errorf("%s: lap %s does not count", c.path[1], o.Run)
				}
			}
			n++
		}
		if n != len(e.Laps) || out != c.out {
			t.Errorf("%s: %d laps, %d of them left out; want %d and %d", c.path[1], n, out, len(e.Laps), c.out)
		}
	}
}

// The real stop from 60 to 10 km/h: 12.042 m in 1.2367 s, and 11.39 m/s² mean
// fully developed deceleration (README of the open recordings, numpy); 0.5 %.
func TestTheRealStop(t *testing.T) {
	d := reduceFile(t, "--procedure", "braking", "--from", "60", "--to", "10", real(t, "braking", "roadview_abs_stop_1khz.csv"))
	want := map[string]float64{"braking_distance": 12.042, "braking_time": 1.2367, "mfdd": 11.39}
	for _, o := range d.Results.Observations {
		if w, ok := want[o.Measure]; ok {
			if math.Abs(o.Value-w) > 0.005*w {
				t.Errorf("%s = %v, want %v", o.Measure, o.Value, w)
			}
			delete(want, o.Measure)
		}
	}
	if len(want) > 0 {
		t.Errorf("missing: %v", want)
	}
}

// stop is a recording of one stop at 8 m/s² from 25 m/s after 3 s at that
// speed, 100 Hz: from 80 to 20 km/h it takes (80² - 20²)/3.6²/16 m.
func stop(t *testing.T) string {
	t.Helper()
	var b strings.Builder
	b.WriteString("time_s,speed_mps\n")
	for i := range 801 {
		at := float64(i) / 100
		v := math.Max(0, math.Min(25, 25-8*(at-3)))
		fmt.Fprintf(&b, "%.2f,%.6f\n", at, v)
	}
	path := filepath.Join(t.TempDir(), "stop.csv")
	if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestAStopAtConstantDeceleration(t *testing.T) {
	path := stop(t)
	d := reduceFile(t, "--procedure", "braking", "--from", "80", "--to", "20", path)
	want := (80.0*80 - 20*20) / 3.6 / 3.6 / 16
	found := false
	for _, o := range d.Results.Observations {
		if o.Measure == "braking_distance" {
			found = true
			if math.Abs(o.Value-want) > 1e-3 {
				t.Errorf("distance %v m, want %v", o.Value, want)
			}
		}
	}
	if !found {
		t.Error("no distance")
	}
	code, out, _ := call("reduce", "--procedure", "braking", path)
	if code != 0 || !strings.Contains(out, "28.94") {
		t.Errorf("exit %d:\n%s", code, out)
	}
}

func TestCheckSaysWhatARecordingHoldsAndStrictMakesACaveatAnExitCode(t *testing.T) {
	path := stop(t)
	code, out, errs := call("check", path)
	if code != 0 || !strings.Contains(out, "speed_mps") || !strings.Contains(out, "100.0") {
		t.Errorf("exit %d, %s:\n%s", code, errs, out)
	}
	bad := file(t, "time_s,speed_mps\n0.0,1\n0.1,2\n0.1,2\n0.2,3\n0.3,3\n")
	if code, _, _ := call("check", bad); code != 0 {
		t.Errorf("a caveat alone: exit %d", code)
	}
	if code, _, _ := call("check", "--strict", bad); code != 6 {
		t.Errorf("--strict: exit %d", code)
	}
}

func TestBadRecordingsHaveTheirExitCodeTheirPlaceAndAHint(t *testing.T) {
	good := stop(t)
	lap := "time_s,latitude_deg,longitude_deg\n0,50,8\n1,50.0001,8\n2,50.0002,8\n3,50.0003,8\n"
	for _, c := range []struct {
		name string
		args []string
		code int
		says string
	}{
		{"an empty file", []string{"check", file(t, "")}, 2, "stops.csv"},
		{"a binary file", []string{"check", file(t, "\x00\x01\x02\xff\xfe\x00\x00binary\x00")}, 5, "stops.csv"},
		{"no time column", []string{"check", file(t, "a,b\n1,2\n2,3\n3,4\n")}, 2, "time"},
		{"text in a number", []string{"check", file(t, "time_s,speed_mps\n0,1\n1,2\n2,fast\n3,4\n4,5\n5,6\n")}, 2, "stops.csv:4"},
		{"infinity", []string{"check", file(t, "time_s,speed_mps\n0,1\n1,2\n2,inf\n3,4\n4,5\n")}, 2, "stops.csv:4"},
		{"an unknown unit", []string{"check", file(t, "time [s],speed [furlongs]\n0,1\n1,2\n2,3\n")}, 2, "furlongs"},
		{"no such file", []string{"check", "nonesuch.csv"}, 3, "nonesuch.csv"},
		{"no procedure", []string{"reduce", good}, 2, "procedure"},
		{"an unknown procedure", []string{"reduce", "--procedure", "nonesuch", good}, 3, "nonesuch"},
		{"a lap without a gate", []string{"reduce", "--procedure", "lap", good}, 2, "gate"},
		{"a gate that is no gate", []string{"reduce", "--procedure", "lap", "--gate", "50,8", good}, 2, "50,8"},
		{"a gate never crossed", []string{"reduce", "--procedure", "lap", "--gate", "50.1,8.001,50.1,7.999", file(t, lap)}, 2, "never crossed"},
		{"an unknown parameter", []string{"reduce", "--procedure", "braking", "--set", "nonesuch=1", good}, 2, "nonesuch"},
		{"a window the wrong way round", []string{"reduce", "--procedure", "braking", "--from", "20", "--to", "80", good}, 2, ""},
		{"an unknown zone", []string{"check", "--zone", "Nowhere/At_All", good}, 2, "zone"},
	} {
		t.Run(c.name, func(t *testing.T) {
			code, out, errs := call(c.args...)
			if code != c.code || !strings.Contains(errs, c.says) || out != "" {
				t.Errorf("exit %d, want %d; said %q on stderr, %q on stdout", code, c.code, errs, out)
			}
			if strings.Count(strings.TrimSpace(errs), "\n") == 0 {
				t.Errorf("no hint: %q", errs)
			}
		})
	}
}
