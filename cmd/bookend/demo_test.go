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
	if m := regexp.MustCompile(`seen: (\d+) of (\d+) true`).FindStringSubmatch(out); m == nil || m[1] != m[2] || !strings.Contains(out, "wrong verdicts: 0;") || !strings.Contains(out, "2 of 2 found") {
		t.Errorf("truth and verdicts do not agree:\n%s", out)
	}
	for _, line := range strings.Split(out, "\n") {
		if len([]rune(line)) > 80 {
			t.Errorf("longer than 80 columns: %q", line)
		}
		// A true value that is far from the control is followed by no such verdict as
		// "not shown".
		if strings.Contains(line, "not shown") || strings.Contains(line, "same within") {
			if m := regexp.MustCompile(`(\d+\.\d+), (inside|outside)$`).FindStringSubmatch(line); m != nil && !strings.HasPrefix(m[1], "99") && !strings.HasPrefix(m[1], "100") {
				t.Errorf("a true difference is missed: %s", line)
			}
		}
	}
}
