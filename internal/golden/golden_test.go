package golden_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.org/bookend/internal/golden"
)

const whole = "kind: certified\nwhere: table 3\ntol: 1e-9\ntol-why: nine digits\n"

func TestAHeadIsReadWhole(t *testing.T) {
	h, err := golden.ParseHead("stat/testdata/golden/nist-strd/norris.txtar", whole+"made-by: R 4.2.2\n")
	if err != nil {
		t.Fatal(err)
	}
	want := golden.Head{Source: "nist-strd", Case: "norris", Kind: "certified", Where: "table 3", Tol: 1e-9, TolWhy: "nine digits", MadeBy: "R 4.2.2", Path: "stat/testdata/golden/nist-strd/norris.txtar"}
	if h != want {
		t.Errorf("got %+v, want %+v", h, want)
	}
	if h.Room() != "stat" {
		t.Errorf("its room is %q", h.Room())
	}
}

func TestEveryKeyIsInsistedOn(t *testing.T) {
	for head, says := range map[string]string{
		"":                                       "key: value",
		"kind: certified\n":                      "lacks \"where\"",
		strings.Replace(whole, "where", "at", 1): "unknown key",
		strings.Replace(whole, "certified", "snapshot", 1):        "is none of",
		strings.Replace(whole, "certified", "independent", 1):     "needs \"made-by\"",
		strings.Replace(whole, "1e-9", "small", 1):                "no tolerance",
		strings.Replace(whole, "1e-9", "-1", 1):                   "no tolerance",
		strings.Replace(whole, "1e-9", "NaN", 1):                  "no tolerance",
		strings.Replace(whole, "table 3", "", 1):                  "key: value",
		strings.Replace(whole, "tol-why: nine digits\n", "", 1):   "lacks \"tol-why\"",
		whole + "where: table 4\n":                                "stands twice",
		strings.Replace(whole, "kind: certified", "certified", 1): "key: value",
	} {
		if _, err := golden.ParseHead("a/b.txtar", head); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v, want an error with %q", head, err, says)
		}
	}
}

func TestAFileMayNotStandTwice(t *testing.T) {
	p := filepath.Join(t.TempDir(), "a.txtar")
	if err := os.WriteFile(p, []byte(whole+"-- x --\n1\n-- x --\n2\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := golden.Read(p); err == nil || !strings.Contains(err.Error(), "stands twice") {
		t.Errorf("read with %v", err)
	}
}

func TestThePageOfChecksShowsEmptyCells(t *testing.T) {
	heads := []golden.Head{
		{Source: "s", Case: "one", Kind: "certified", Where: "a|b", Tol: 1e-9, TolWhy: "digits", Path: "stat/linear/testdata/golden/s/one.txtar"},
		{Source: "s", Case: "two", Kind: "certified", Where: "c", TolWhy: "exact", Path: "stat/linear/testdata/golden/s/two.txtar"},
	}
	page := string(golden.Checks(heads, []string{"unit", "stat/linear"}))
	for _, want := range []string{
		"| `stat/linear` | | 2 | | | | |\n| `unit` | | | | | | |\n",
		"| [s](sources/s.md) | one | certified | a\\|b | 1e-09 | digits |\n",
		"| [s](sources/s.md) | two | certified | c | 0 | exact |\n",
	} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q:\n%s", want, page)
		}
	}
	heads[1].Reached = 13.5
	page = string(golden.Checks(heads, []string{"unit", "stat/linear"}))
	for _, want := range []string{"| why | digits reached |\n", "| 1e-09 | digits | |\n", "| 0 | exact | 13.5 |\n"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q:\n%s", want, page)
		}
	}
	if strings.Contains(page, "\n## unit") {
		t.Error("a room without cases has a table")
	}
}

func TestEvidenceElsewhereIsRefused(t *testing.T) {
	for _, p := range []string{"a/testdata/golden/x.txtar", "a/testdata/golden/s/x.json", "a/testdata/golden/s/t/x.txtar"} {
		dir := t.TempDir()
		full := filepath.Join(dir, p)
		if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(full, []byte(whole), 0o644); err != nil {
			t.Fatal(err)
		}
		if _, err := golden.Heads(dir); err == nil {
			t.Errorf("%s passes as evidence", p)
		}
	}
}

func TestTheHelpersJudge(t *testing.T) {
	c := &golden.Case{Head: golden.Head{Tol: 0.1}}
	for _, x := range []struct {
		got, want float64
		rel, ok   bool
	}{
		{1.05, 1, false, true},
		{1.2, 1, false, false},
		{105, 100, true, true},
		{115, 100, true, false},
		{0, 0, true, true},
		{1e-300, 0, true, false},
	} {
		var inner testing.T
		if x.rel {
			c.NearRel(&inner, "x", x.got, x.want)
		} else {
			c.Near(&inner, "x", x.got, x.want)
		}
		if inner.Failed() == x.ok {
			t.Errorf("%v against %v (relative %v): failed is %v", x.got, x.want, x.rel, inner.Failed())
		}
	}
}

// Every source that evidence names has its page, and the page says what it must.
func TestEverySourceHasItsPage(t *testing.T) {
	heads, err := golden.Heads("../..")
	if err != nil {
		t.Fatal(err)
	}
	if len(heads) == 0 {
		t.Fatal("there is no evidence")
	}
	seen := map[string]bool{}
	for _, h := range heads {
		if seen[h.Source] {
			continue
		}
		seen[h.Source] = true
		if _, err := os.Stat(filepath.Join("../../docs/sources", h.Source+".md")); err != nil {
			t.Errorf("%s: docs/sources/%s.md is missing", h.Path, h.Source)
		}
	}
	pages, err := filepath.Glob("../../docs/sources/*.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range pages {
		if filepath.Base(p) == "README.md" {
			continue
		}
		text, err := os.ReadFile(p)
		if err != nil {
			t.Fatal(err)
		}
		for _, what := range golden.SourcePage(text) {
			t.Errorf("docs/sources/%s does not give %s", filepath.Base(p), what)
		}
	}
}
