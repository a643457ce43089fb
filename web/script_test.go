package web_test

import (
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// A script is one file: it asks for no other, and runs under a policy that allows
// nothing inline and nothing made from text.
func TestScriptsStandAlone(t *testing.T) {
	asks := regexp.MustCompile(`\bimport\b|\bfrom\s*["']|\beval\(|\bnew Function\b|sourceMappingURL`)
	names, err := filepath.Glob("static/*.js")
	if err != nil || len(names) == 0 {
		t.Fatalf("there are no scripts (%v)", err)
	}
	for _, name := range names {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if m := asks.Find(text); m != nil {
			t.Errorf("%s holds %q", name, m)
		}
	}
}

// Without a network the day's page has what it asks for with one: the worker
// keeps each file that the page names, and names no file that there is not.
func TestTheWorkerKeepsWhatTheDayNeeds(t *testing.T) {
	s := serve(t, "Wet stops of two van tyres", stops)
	_, page := s.get("/p/tarn/day?test=wet-stop")
	_, script := s.get("/worker.js")
	sheets := regexp.MustCompile(`^const sheets = "(/static/[0-9a-f]+/)";`).FindStringSubmatch(script)
	list := regexp.MustCompile(`\[("bookend\.css"[^\]]*)\]`).FindStringSubmatch(script)
	if sheets == nil || list == nil {
		t.Fatalf("the worker does not say what it keeps: %.300s", script)
	}
	kept := strings.Split(strings.ReplaceAll(list[1], `"`, ""), ",")
	needs := 0
	for _, m := range regexp.MustCompile(`"`+sheets[1]+`([^"]+)"`).FindAllStringSubmatch(page, -1) {
		needs++
		if !slices.Contains(kept, m[1]) {
			t.Errorf("the page asks for %s, which the worker does not keep: %q", m[1], kept)
		}
	}
	if needs < 3 {
		t.Errorf("the page asks for %d files only", needs)
	}
	for _, name := range kept {
		if code, _ := s.get(sheets[1] + name); code != http.StatusOK {
			t.Errorf("the worker keeps %s, and is answered %d: nothing at all would be kept", name, code)
		}
	}
}
