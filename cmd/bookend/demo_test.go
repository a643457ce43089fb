package main

import (
	"os"
	"regexp"
	"strings"
	"testing"
)

// The whole demonstration, with its fixed seed: every true difference above the
// margin is found, none is invented, each true value lies in its interval, the
// recordings that the run log exchanged are found, and nothing printed is wider than a terminal. It drives two days, which takes half a
// minute of two processors: BOOKEND_PROOF=1 asks for it.
func TestTheWholeDemo(t *testing.T) {
	if os.Getenv("BOOKEND_PROOF") == "" {
		t.Skip("BOOKEND_PROOF is not set: two days on the synthetic ground are not driven")
	}
	t.Chdir(t.TempDir())
	code, out, errs := call("demo", "--truth", "--folder", "a")
	if code != 0 {
		t.Fatalf("exit %d: %s", code, errs)
	}
	for _, line := range []string{`lie in their intervals \(in above\)`, "margin that are found", "run log that are found"} {
		if m := regexp.MustCompile(line + `: (\d+) of (\d+)\n`).FindStringSubmatch(out); m == nil || m[1] != m[2] || m[2] == "0" {
			t.Errorf("not all: %s", line)
		}
	}
	if !strings.Contains(out, "wrong verdicts: 0\n") || t.Failed() {
		t.Errorf("truth and verdicts do not agree:\n%s", out)
	}
	for _, line := range strings.Split(out, "\n") {
		if len([]rune(line)) > 80 {
			t.Errorf("longer than 80 columns: %q", line)
		}
	}
}
