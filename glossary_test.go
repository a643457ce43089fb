package bookend_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"example.org/bookend/unit"
)

// section gives the text below a heading of GLOSSARY.md, up to the next one.
func section(t *testing.T, heading string) string {
	t.Helper()
	text, err := os.ReadFile("GLOSSARY.md")
	if err != nil {
		t.Fatal(err)
	}
	_, after, ok := strings.Cut(string(text), "\n## "+heading+"\n")
	if !ok {
		t.Fatalf("GLOSSARY.md has no section %q", heading)
	}
	before, _, _ := strings.Cut(after, "\n## ")
	return before
}

// keyWords gives the words of which keys may be made.
func keyWords(t *testing.T) map[string]bool {
	words := map[string]bool{}
	_, block, ok := strings.Cut(section(t, "Words of keys"), "```")
	if !ok {
		t.Fatal("GLOSSARY.md: no block of words")
	}
	block, _, _ = strings.Cut(block, "```")
	for _, w := range strings.Fields(block) {
		if words[w] {
			t.Errorf("the word %q stands twice", w)
		}
		words[w] = true
	}
	for _, u := range unit.All() {
		words[u.Key()] = true
	}
	return words
}

var snake = regexp.MustCompile(`^[a-z][a-z0-9]*(_[a-z0-9]+)*$`)

// Every key of every struct that is written as JSON, in every room, is made of
// the glossary's words, and every word of the list is used.
func TestKeysAreMadeOfTheGlossarysWords(t *testing.T) {
	words := keyWords(t)
	used := map[string]bool{}
	_, files := sources(t)
	for _, s := range files {
		if s.test || strings.HasPrefix(s.pkg, "internal/") || strings.HasPrefix(s.pkg, "bench") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), filepath.FromSlash(s.file), nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(f, func(n ast.Node) bool {
			field, ok := n.(*ast.Field)
			if !ok || field.Tag == nil {
				return true
			}
			tag, err := strconv.Unquote(field.Tag.Value)
			if err != nil {
				t.Fatal(err)
			}
			key, _, _ := strings.Cut(reflect.StructTag(tag).Get("json"), ",")
			if key == "" || key == "-" {
				return true
			}
			if !snake.MatchString(key) {
				t.Errorf("%s: key %q is not made of lower-case words joined by underscores", s.file, key)
				return true
			}
			for _, w := range strings.Split(key, "_") {
				used[w] = true
				if !words[w] {
					t.Errorf("%s: key %q has the word %q, which GLOSSARY.md does not list", s.file, key, w)
				}
			}
			return true
		})
	}
	for w := range words {
		isUnit := false
		for _, u := range unit.All() {
			isUnit = isUnit || u.Key() == w
		}
		if !used[w] && !isUnit {
			t.Errorf("GLOSSARY.md lists %q among the words of keys; no key has it", w)
		}
	}
}

// The list of words stands in the order of the alphabet, each defined once.
func TestWordsAreDefinedOnceAndInOrder(t *testing.T) {
	var terms []string
	for _, m := range regexp.MustCompile(`(?m)^\*\*([a-z -]+)\*\* \S`).FindAllStringSubmatch(section(t, "Words"), -1) {
		terms = append(terms, m[1])
	}
	if len(terms) < 30 {
		t.Fatalf("only %d words are defined", len(terms))
	}
	for i := 1; i < len(terms); i++ {
		if terms[i] <= terms[i-1] {
			t.Errorf("%q stands after %q", terms[i], terms[i-1])
		}
	}
}
