package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A table of four candidates that are the same within the margin fits a terminal, says
// what the word means, and has no sign that only print has.
func TestAComparisonFitsATerminal(t *testing.T) {
	var b strings.Builder
	b.WriteString("stint,code,run,value_m\n")
	for i, code := range strings.Fields("K P R T K W P K R T W K") {
		for run, v := range []string{"330.01", "330.02", "330.03"} {
			b.WriteString(strings.Join([]string{string(rune('a' + i)), code, string(rune('1' + run)), v}, ",") + "\n")
		}
	}
	text := strings.Replace(b.String(), "b,P,1,330.01", "b,P,1,330.05", 1)
	path := filepath.Join(t.TempDir(), "lengths.csv")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	code, out, errs := call("compare", path, "--control", "K", "--better", "lower", "--scale", "difference", "--margin", "1")
	if code != 0 {
		t.Fatal(errs)
	}
	for _, line := range strings.Split(out, "\n") {
		if len([]rune(line)) > width || strings.ContainsAny(line, "−\u00a0’") {
			t.Errorf("%d columns: %s", len([]rune(line)), line)
		}
	}
	if !strings.Contains(out, "Same: the whole interval lies within the margin.") {
		t.Error(out)
	}
}
