package main

import (
	"os"
	"strings"
	"testing"

	"github.com/spf13/cobra"
)

// Every command that does something shows an example, in its description or under
// it, and each example is one that the command line takes: that command, with
// flags that it has.
func TestEveryCommandShowsAnExample(t *testing.T) {
	seen := map[string]bool{}
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		for _, below := range c.Commands() {
			walk(below)
		}
		path := c.CommandPath()
		seen[strings.TrimPrefix(path, "bookend ")] = true
		if !c.Runnable() || c == c.Root() || c.Annotations != nil {
			return
		}
		if entry := c.Parent() != nil && c.Parent().Name() == "log" && c.GroupID == "entries"; entry {
			return // their flags are what they take, each with its own words
		}
		if c.Example == "" && !strings.Contains(c.Long, "  "+path) {
			t.Errorf("%s --help shows no example", path)
		}
		for _, line := range strings.Split(c.Example, "\n") {
			if len([]rune(line)) > 80 {
				t.Errorf("%s --help has an example of more than 80 columns: %s", path, line)
			}
		}
		for _, line := range strings.Split(strings.ReplaceAll(c.Example, "\\\n", " "), "\n") {
			if line = strings.TrimSpace(line); line != "" {
				try(t, line)
			}
		}
	}
	walk(commands())
	for path := range examples {
		if !seen[path] {
			t.Errorf("there is an example of %q, and no such command", path)
		}
	}
}

// Every command line of the README is one that bookend takes.
func TestTheReadmesCommandsAreOnes(t *testing.T) {
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for i, block := range strings.Split(string(text), "```") {
		if i%2 == 0 {
			continue
		}
		for _, line := range strings.Split(block, "\n") {
			line = strings.TrimSpace(strings.Replace(line, "go run ./cmd/bookend", "bookend", 1))
			if strings.HasPrefix(line, "bookend") {
				line, _, _ = strings.Cut(line, " > ")
				try(t, line)
				n++
			}
		}
	}
	if n < 20 {
		t.Errorf("%d commands", n)
	}
}

func try(t *testing.T, line string) {
	t.Helper()
	args, err := words(line)
	if err != nil || len(args) == 0 || args[0] != "bookend" {
		t.Errorf("not a command of bookend: %s (%v)", line, err)
		return
	}
	c, rest, err := commands().Find(args[1:])
	if err != nil {
		t.Errorf("%s: %v", line, err)
		return
	}
	if err := c.ParseFlags(rest); err != nil {
		t.Errorf("%s: %v", line, err)
		return
	}
	if err := c.ValidateArgs(c.Flags().Args()); err != nil {
		t.Errorf("%s: %v", line, err)
	}
}
