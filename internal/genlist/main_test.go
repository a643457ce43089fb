package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.org/bookend/internal/generatedtest"
)

const root = "../.."

// What is generated in this checkout is what would be generated now.
func TestGeneratedFilesAreCurrent(t *testing.T) {
	module, err := modulePath(root)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range shelves {
		names, err := s.folders(root)
		if err != nil {
			t.Fatal(err)
		}
		want, err := s.list(module, names)
		if err != nil {
			t.Fatal(err)
		}
		generatedtest.Current(t, filepath.Join(root, s.dir, "all", "all.go"), want)
	}
	checks, err := checksPage(root)
	if err != nil {
		t.Fatal(err)
	}
	generatedtest.Current(t, filepath.Join(root, "docs", "checks.md"), checks)
}

func TestAShelfIsItsFoldersInOrder(t *testing.T) {
	dir := generatedtest.Tree(t, map[string]string{
		"go.mod":                           "module example.org/x\n",
		"procedure/procedure.go":           "package procedure\n",
		"procedure/step/step.go":           "package step\n\nimport \"example.org/x/procedure\"\n\nfunc New() procedure.Procedure { return nil }\n",
		"procedure/lap/a.go":               "package lap\n",
		"procedure/lap/lap.go":             "package lap\n\nimport \"example.org/x/procedure\"\n\nfunc New() procedure.Procedure { return nil }\n",
		"procedure/lap/truth/t.go":         "package truth\n",
		"procedure/proceduretest/suite.go": "package proceduretest\n",
		"procedure/testdata/x.go":          "no Go at all",
		"procedure/empty/help.md":          "",
	})
	names, err := shelves[0].folders(dir)
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(names, " "); got != "lap step" {
		t.Errorf("the shelf holds %q", got)
	}
	text, err := shelves[0].list("example.org/x", names)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"\"example.org/x/procedure/lap\"", "lap.New(),\n\t\tstep.New(),", "func Procedures() []procedure.Procedure"} {
		if !strings.Contains(string(text), want) {
			t.Errorf("the list lacks %q:\n%s", want, text)
		}
	}
}

func TestAFolderWithoutNewIsNotForgotten(t *testing.T) {
	for name, text := range map[string]string{
		"nothing":         "package lap\n",
		"another result":  "package lap\n\nfunc New() *Lap { return nil }\n",
		"with parameters": "package lap\n\nfunc New(n int) procedure.Procedure { return nil }\n",
		"a method":        "package lap\n\nfunc (l Lap) New() procedure.Procedure { return nil }\n",
		"only in a test":  "package lap\n",
	} {
		dir := generatedtest.Tree(t, map[string]string{
			"procedure/lap/lap.go":      text,
			"procedure/lap/lap_test.go": "package lap\n\nfunc New() procedure.Procedure { return nil }\n",
		})
		if _, err := shelves[0].folders(dir); err == nil || !strings.Contains(err.Error(), "procedure/lap has no func New()") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestRenameChangesEveryMention(t *testing.T) {
	dir := generatedtest.Tree(t, map[string]string{
		"go.mod":              "module example.org/old\n\ngo 1.26\n",
		"a/a.go":              "package a\n\nimport (\n\t\"example.org/old/b\"\n\t\"example.org/older/c\"\n)\n\nvar _ = b.X + c.X\n",
		"README.md":           "go run example.org/old/cmd/x\n",
		".git/config":         "example.org/old",
		"data.bin":            "example.org/old",
		"docs/decisions/m.md": "example.org/old is reserved",
	})
	if err := renameModule(dir, "code.example.net/team/new"); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{
		"go.mod":      "module code.example.net/team/new\n",
		"a/a.go":      "\"code.example.net/team/new/b\"\n\t\"example.org/older/c\"",
		"README.md":   "go run code.example.net/team/new/cmd/x",
		".git/config": "example.org/old",
		"data.bin":    "example.org/old",

		"docs/decisions/m.md": "example.org/old is reserved",
	} {
		got, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil || !strings.Contains(string(got), want) {
			t.Errorf("%s: %q (%v), want %q", name, got, err, want)
		}
	}
	for _, bad := range []string{"", "bookend", "nodot/bookend", "a b.c/d", "example.org"} {
		if err := renameModule(dir, bad); err == nil {
			t.Errorf("the module may be called %q", bad)
		}
	}
}
