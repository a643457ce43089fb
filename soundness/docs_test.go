package soundness

import (
	"os"
	"strings"
	"testing"
)

// The page about check names every code of a finding.
func TestThePageNamesEveryFinding(t *testing.T) {
	page, err := os.ReadFile("../docs/check.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, code := range append([]string{"gap"}, findings...) {
		if !strings.Contains(string(page), "| `"+code+"` |") {
			t.Errorf("docs/check.md does not say what %s is", code)
		}
	}
}
