package main

import (
	"strings"
	"testing"

	"github.com/spf13/cobra"
)

// Every verb's help fits a terminal of 80 columns, has an example where it runs, and says
// what it does in the house's own words: no sentence of the library's.
func TestHelpFitsATerminal(t *testing.T) {
	var walk func(c *cobra.Command)
	seen := 0
	walk = func(c *cobra.Command) {
		path := strings.Fields(strings.TrimPrefix(c.CommandPath(), "bookend"))
		code, out, errs := call(append(path, "--help")...)
		if code != 0 || errs != "" {
			t.Errorf("%v: exit %d: %s", path, code, errs)
		}
		seen++
		for _, line := range strings.Split(out, "\n") {
			if len([]rune(line)) > width {
				t.Errorf("%v: %d columns: %s", path, len([]rune(line)), line)
			}
			if strings.HasPrefix(line, "Use \"") || strings.Contains(line, "Help about any") {
				t.Errorf("%v: the library speaks: %s", path, line)
			}
		}
		for _, below := range c.Commands() {
			if c.Name() != "completion" { // its scripts are the library's
				walk(below)
			}
		}
	}
	root := commands()
	walk(root)
	if seen < 30 {
		t.Errorf("%d verbs", seen)
	}
	for _, c := range root.Commands() {
		if c.GroupID == "" {
			t.Errorf("%s stands nowhere in the order of the job", c.Name())
		}
	}
}
