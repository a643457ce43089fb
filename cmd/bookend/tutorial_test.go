package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// taught is one command of a page and what the page says that it prints.
type taught struct {
	line   int
	words  []string // as a shell would have them
	to     string   // file that it is redirected into
	prints []string // lines; … alone stands for any lines, within a line for any text
}

// commandsOf reads the commands in a page's fenced console blocks.
func commandsOf(page string) ([]taught, error) {
	var out []taught
	within := false
	for i, line := range strings.Split(page, "\n") {
		switch {
		case line == "```console":
			within = true
		case strings.HasPrefix(line, "```"):
			within = false
		case within && strings.HasPrefix(line, "$ "):
			words, err := words(strings.TrimPrefix(line, "$ "))
			if err != nil {
				return nil, fmt.Errorf("line %d: %w", i+1, err)
			}
			c := taught{line: i + 1, words: words}
			if n := len(words); n > 2 && words[n-2] == ">" {
				c.words, c.to = words[:n-2], words[n-1]
			}
			out = append(out, c)
		case within && len(out) > 0:
			out[len(out)-1].prints = append(out[len(out)-1].prints, line)
		}
	}
	return out, nil
}

// words parts a command line as a shell does; quotes of either kind keep words together.
func words(line string) ([]string, error) {
	var out []string
	word, quote, any := "", rune(0), false
	for _, c := range line {
		switch {
		case quote != 0 && c == quote:
			quote = 0
		case quote == 0 && (c == '\'' || c == '"'):
			quote, any = c, true
		case quote == 0 && c == ' ':
			if any {
				out = append(out, word)
			}
			word, any = "", false
		default:
			word, any = word+string(c), true
		}
	}
	if quote != 0 {
		return nil, fmt.Errorf("a quote is not closed")
	}
	if any {
		out = append(out, word)
	}
	return out, nil
}

// pattern gives what a page's lines allow.
func pattern(prints []string) *regexp.Regexp {
	var b strings.Builder
	b.WriteString(`^`)
	for _, l := range prints {
		if l == "…" {
			b.WriteString(`(?:.*\n)*?`)
			continue
		}
		b.WriteString(strings.ReplaceAll(regexp.QuoteMeta(l), "…", ".*") + `\n`)
	}
	b.WriteString(`\n*$`)
	return regexp.MustCompile(b.String())
}

// The commands of the tutorial do what it says: each is run with the program as it
// is built, and what it prints must be what stands below it on the page.
func TestTheTutorialRuns(t *testing.T) {
	page, err := os.ReadFile(filepath.Join("..", "..", "docs", "tutorial.md"))
	if err != nil {
		t.Fatal(err)
	}
	all, err := commandsOf(string(page))
	if err != nil {
		t.Fatal(err)
	}
	if len(all) < 20 {
		t.Fatalf("the page has %d commands: its blocks were not found", len(all))
	}
	dir := t.TempDir()
	var script bytes.Buffer
	for i := range all {
		fmt.Fprintf(&script, "walk %d\n", i)
	}
	if err := os.WriteFile(filepath.Join(dir, "tutorial.txtar"), script.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{Dir: dir, RequireUniqueNames: true, Cmds: map[string]func(*testscript.TestScript, bool, []string){
		"walk": func(ts *testscript.TestScript, _ bool, args []string) {
			var i int
			if _, err := fmt.Sscan(args[0], &i); err != nil {
				ts.Fatalf("%v", err)
			}
			walk(ts, all[i])
		},
	}})
}

// walk runs one command of a page.
func walk(ts *testscript.TestScript, c taught) {
	switch c.words[0] {
	case "cd":
		ts.Check(ts.Chdir(c.words[1]))
		return
	case "export":
		name, value, _ := strings.Cut(c.words[1], "=")
		ts.Setenv(name, value)
		return
	}
	var args []string
	for _, w := range c.words[1:] {
		if !strings.Contains(w, "*") {
			args = append(args, w)
			continue
		}
		found, err := filepath.Glob(ts.MkAbs(w))
		ts.Check(err)
		if len(found) == 0 {
			ts.Fatalf("docs/tutorial.md:%d: %s names no file", c.line, w)
		}
		args = append(args, found...)
	}
	err := ts.Exec(c.words[0], args...)
	refused := slices.ContainsFunc(c.prints, func(l string) bool { return strings.HasPrefix(l, "bookend: ") })
	said, errs := ts.ReadFile("stdout"), ts.ReadFile("stderr")
	if (err != nil) != refused {
		ts.Fatalf("docs/tutorial.md:%d: %s: %v\n%s%s", c.line, strings.Join(c.words, " "), err, said, errs)
	}
	if c.to != "" {
		ts.Check(os.WriteFile(ts.MkAbs(c.to), []byte(said), 0o600))
		said = ""
	}
	if got := said + errs; !pattern(c.prints).MatchString(got) {
		ts.Fatalf("docs/tutorial.md:%d: %s prints\n%s\nand not what the page says:\n%s", c.line, strings.Join(c.words, " "), got, strings.Join(c.prints, "\n"))
	}
}
