package main

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"example.org/bookend/internal/generatedtest"
)

const root = "../.."

// The scripts in this checkout are what go generate writes now: each widget has
// its script, and no script is there without its widget.
func TestBuiltScriptsAreCurrent(t *testing.T) {
	widgets, err := scripts(filepath.Join(root, from))
	if err != nil {
		t.Fatal(err)
	}
	written, err := scripts(filepath.Join(root, to))
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(widgets, written) {
		t.Errorf("%s has %q, and %s has %q; run go generate ./...", from, widgets, to, written)
	}
	for _, name := range widgets {
		want, err := bundle(root, name)
		if err != nil {
			t.Fatal(err)
		}
		generatedtest.Current(t, filepath.Join(root, to, name), want)
	}
}

var small = map[string]string{
	"web/script/day.js":         "import { judge } from \"./part/limits.js\";\n// A comment that nobody reads in a browser.\nconst word = judge(3);\ndocument.title = word + \" °C\";\n",
	"web/script/part/limits.js": "export function judge(value) {\n  return value > 2 ? \"broken\" : \"within\";\n}\nexport function unused() {\n  return \"never asked for\";\n}\n",
	"web/script/traces.js":      "export function traces(canvas) {\n  canvas.title = \"drawn\";\n}\n",
	"web/script/worker.js":      "const shelf = \"day \" + sheets;\nself.addEventListener(\"install\", () => caches.open(shelf));\n",
	"web/static/gone.js":        "of a widget that is no more\n",
	"web/static/bookend.css":    "body{}\n",
}

func TestAWidgetIsOneScript(t *testing.T) {
	dir, other := generatedtest.Tree(t, small), generatedtest.Tree(t, small)
	for _, d := range []string{dir, other, other} { // the second time over what is there
		if err := writeAll(d); err != nil {
			t.Fatal(err)
		}
	}
	read := func(name string) string {
		b, err := os.ReadFile(filepath.Join(dir, to, name))
		if err != nil {
			t.Fatal(err)
		}
		if again, err := os.ReadFile(filepath.Join(other, to, name)); err != nil || !bytes.Equal(b, again) {
			t.Errorf("%s has other bytes in another folder (%v)", name, err)
		}
		for _, not := range []string{dir, from, "//", "/*", "sourceMappingURL"} {
			if strings.Contains(string(b), not) {
				t.Errorf("%s holds %q: %s", name, not, b)
			}
		}
		return string(b)
	}
	day := read("day.js")
	if !strings.Contains(day, "broken") || !strings.Contains(day, " °C") || strings.Contains(day, "never asked for") || regexp.MustCompile(`\b(import|export)\b`).MatchString(day) {
		t.Errorf("day.js does not hold what it imports, and that alone: %s", day)
	}
	if traces := read("traces.js"); !strings.Contains(traces, "as traces}") {
		t.Errorf("what a widget offers others has lost its name: %s", traces)
	}
	if w := read(worker); !strings.HasPrefix(w, "(()=>{") || !strings.Contains(w, "sheets") {
		t.Errorf("the worker leaves something in the open, or lost what the server hands it: %s", w)
	}
	left, err := scripts(filepath.Join(dir, to))
	if err != nil || !slices.Equal(left, []string{"day.js", "traces.js", "worker.js"}) {
		t.Errorf("there are %q (%v)", left, err)
	}
	if _, err := os.Stat(filepath.Join(dir, to, "bookend.css")); err != nil {
		t.Error(err)
	}
}

func TestAWrongScriptIsSaidWhere(t *testing.T) {
	for name, text := range map[string]string{
		"no script":        "const a = ;\n",
		"nothing there":    "import { x } from \"./part/none.js\";\nx();\n",
		"no such name":     "import { x } from \"./part/limits.js\";\nx();\n",
		"another's module": "import x from \"preact\";\nx();\n",
	} {
		dir := generatedtest.Tree(t, map[string]string{"web/script/day.js": text, "web/script/part/limits.js": small["web/script/part/limits.js"], "web/static/bookend.css": ""})
		if err := writeAll(dir); err == nil || !strings.Contains(err.Error(), "web/script/day.js:1: ") {
			t.Errorf("%s: %v", name, err)
		}
	}
}
