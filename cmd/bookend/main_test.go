package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

func call(args ...string) (code int, out, errs string) {
	var o, e bytes.Buffer
	code = run(args, strings.NewReader(""), &o, &e)
	return code, o.String(), e.String()
}

// done calls bookend, which has to succeed, and gives what it prints.
func done(t *testing.T, args ...string) string {
	t.Helper()
	code, out, errs := call(args...)
	if code != 0 {
		t.Fatalf("%v: exit %d: %s%s", args, code, out, errs)
	}
	return out
}

// answered calls bookend, which has to succeed, and reads the JSON that it prints.
func answered(t *testing.T, into any, args ...string) {
	t.Helper()
	if err := json.Unmarshal([]byte(done(t, args...)), into); err != nil {
		t.Fatalf("%v: %v", args, err)
	}
}

// dataFolder gives the folder of the open recordings, wherever it is.
func dataFolder() string {
	if dir := os.Getenv("BOOKEND_DATA"); dir != "" {
		return dir
	}
	return filepath.Join("..", "..", "..", "shared", "data")
}

func file(t *testing.T, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "stops.csv")
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// The worked drift table of two candidates between controls, by hand: the
// control goes 10, 11, 12, so P at its place is 20/10.5 and R is 11/11.5 of it.
func TestCompareGivesTheIndexAtTheCandidatesOwnPlace(t *testing.T) {
	path := file(t, "stint,code,value\n1,K,10\n2,P,20\n3,K,11\n4,R,11\n5,K,12\n")
	var d struct {
		Schema  string `json:"schema"`
		Results struct {
			Rows []struct {
				Code    string   `json:"code"`
				Verdict string   `json:"verdict"`
				Index   *float64 `json:"index"`
			} `json:"rows"`
		} `json:"results"`
	}
	answered(t, &d, "compare", path, "--control", "K", "--better", "higher", "--margin", "1", "--json")
	if d.Schema != "bookend.compare/1" || len(d.Results.Rows) != 2 {
		t.Fatalf("%+v", d)
	}
	for i, want := range []float64{100 * 20 / 10.5, 100 * 11 / 11.5} {
		if got := *d.Results.Rows[i].Index; got < want-1e-9 || got > want+1e-9 {
			t.Errorf("index %v, want %v", got, want)
		}
	}
}

// The whole job on a made-up day whose truth is known: each true index lies in
// its interval, what is a margin or more away is found, nothing is invented, and
// the same seed prints the same.
func TestTheDemoFindsTheTruthAndPrintsTheSameTwice(t *testing.T) {
	t.Chdir(t.TempDir())
	code, first, errs := call("demo", "--short", "--truth", "--folder", "a")
	if code != 0 {
		t.Fatalf("exit %d: %s", code, errs)
	}
	_, second, _ := call("demo", "--short", "--truth", "--folder", "b")
	if first != strings.NewReplacer("b/from", "a/from", "in b.", "in a.", "b/report", "a/report").Replace(second) {
		t.Errorf("the second time it prints\n%s", second)
	}
	if n := strings.Count(first, "inside the interval"); n != 4 || strings.Contains(first, "wrong") {
		t.Errorf("%d of 4 true values lie in their intervals:\n%s", n, first)
	}
	for _, want := range []string{`P +better +`, `W +worse +`} {
		if !regexp.MustCompile(want).MatchString(first) {
			t.Errorf("%q is not found:\n%s", want, first)
		}
	}
	if !strings.Contains(first, "Runs left out: 1") {
		t.Errorf("the puddle is not told:\n%s", first)
	}
	for _, line := range strings.Split(first, "\n") {
		if len([]rune(line)) > 80 {
			t.Errorf("longer than 80 columns: %q", line)
		}
	}
}

func TestBadInputHasItsExitCodeItsPlaceAndAHint(t *testing.T) {
	good := "stint,code,value\n1,K,10\n2,P,20\n3,K,11\n"
	for _, c := range []struct {
		name, text string
		args       []string
		code       int
		says       string
	}{
		{"text in a number", "stint,code,value\n1,K,10\n2,P,2o\n3,K,11\n", nil, 2, "stops.csv:3"},
		{"an empty file", "", nil, 2, "stops.csv"},
		{"no such control", good, []string{"--control", "Z"}, 3, "Z"},
		{"an unknown drift", good, []string{"--drift", "wavy"}, 2, "wavy"},
		{"an unknown flag", good, []string{"--nonesuch"}, 2, "nonesuch"},
		{"a negative margin", good, []string{"--margin", "-1m"}, 2, "margin"},
		{"no direction", good, []string{"--better", ""}, 2, "better"},
		{"a parabola through two controls", good, []string{"--drift", "quadratic"}, 2, "control"},
		{"infinity", "stint,code,value\n1,K,10\n2,P,inf\n3,K,11\n", nil, 2, "stops.csv:3"},
	} {
		t.Run(c.name, func(t *testing.T) {
			args := append([]string{"compare", file(t, c.text), "--control", "K", "--better", "higher"}, c.args...)
			code, out, errs := call(args...)
			if code != c.code || !strings.Contains(errs, c.says) || out != "" {
				t.Errorf("exit %d, want %d; said %q on stderr, %q on stdout", code, c.code, errs, out)
			}
			if strings.Count(strings.TrimSpace(errs), "\n") == 0 {
				t.Errorf("no hint: %q", errs)
			}
		})
	}
	if code, _, errs := call("compare", "nonesuch.csv", "--control", "K", "--better", "higher"); code != 3 || errs == "" {
		t.Errorf("no such file: exit %d, %q", code, errs)
	}
	if code, _, _ := call("nonesuch"); code != 2 {
		t.Errorf("an unknown command: exit %d", code)
	}
}

// A file of one endless line is refused by its size, before it is read.
func TestATableTooLargeToHaveBeenTypedIsRefusedUnread(t *testing.T) {
	path := filepath.Join(t.TempDir(), "endless.csv")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := f.Truncate(2 << 30); err != nil { // no bytes are written: the file has a hole
		t.Skip("this file system makes no files with holes:", err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{
		{"compare", path, "--control", "K", "--better", "lower"},
		{"check", path},
		{"report", path, "--control", "K", "--better", "lower"},
	} {
		code, out, errs := call(args...)
		if code == 0 || code == 1 || !strings.Contains(errs, "endless.csv") || out != "" {
			t.Errorf("%s: exit %d, %q", args[0], code, errs)
		}
	}
}
