package delimited_test

import (
	"bytes"
	"context"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited"
	"example.org/bookend/signal"
	"example.org/bookend/unit"
)

// page gives docs/formats/delimited.md.
func page(t *testing.T) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "docs", "formats", "delimited.md"))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// tables gives the rows of the page's tables whose first heading is the one
// asked for.
func tables(page, first string) [][]string {
	var out [][]string
	row, wanted := 0, false // rows of the table so far, its heading being the first
	for _, line := range strings.Split(page, "\n") {
		if row++; !strings.HasPrefix(line, "|") {
			row = 0
			continue
		}
		var cells []string
		for _, c := range strings.Split(strings.Trim(line, "|"), "|") {
			cells = append(cells, strings.Trim(strings.TrimSpace(c), "`"))
		}
		switch {
		case row == 1:
			wanted = cells[0] == first
		case row > 2 && wanted:
			out = append(out, cells)
		}
	}
	return out
}

// Every code of a caveat that the reader can give stands on the page of its
// format, and no other does. The codes are read from the source, so that none can
// be added without its line there.
func TestThePageNamesEveryCaveat(t *testing.T) {
	given := map[string]bool{}
	read := func(path string) {
		f, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(f, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok || len(call.Args) < 3 {
				return true
			}
			if s, ok := call.Fun.(*ast.SelectorExpr); !ok || s.Sel.Name != "Add" {
				return true
			}
			if l, ok := call.Args[0].(*ast.BasicLit); ok && l.Kind == token.STRING {
				code, err := strconv.Unquote(l.Value)
				if err != nil {
					t.Fatal(err)
				}
				given[code] = true
				return true
			}
			t.Errorf("%s: a caveat's code is no text in quotes, so that this test cannot see it", path)
			return true
		})
	}
	read(filepath.Join("..", "stamps.go"))
	err := filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err == nil && strings.HasSuffix(path, ".go") && !strings.HasSuffix(path, "_test.go") {
			read(path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(given) < 30 {
		t.Errorf("only %d codes were found in the source", len(given))
	}
	told := map[string]bool{}
	last := ""
	for _, row := range tables(page(t), "code") {
		code := row[0]
		if told[code] || code < last || len(row) != 2 || row[1] == "" {
			t.Errorf("the row of %q stands twice, out of order, or without its meaning", code)
		}
		told[code], last = true, code
	}
	for _, code := range slices.Sorted(maps.Keys(given)) {
		if !told[code] {
			t.Errorf("docs/formats/delimited.md does not say what %s means", code)
		}
	}
	for _, code := range slices.Sorted(maps.Keys(told)) {
		if !given[code] {
			t.Errorf("docs/formats/delimited.md names %s, which nothing gives", code)
		}
	}
}

// The table of roles is what package ingest does: every role, its unit inside,
// the one assumed and up to where, and names that are guessed as it.
func TestThePageStatesTheRoles(t *testing.T) {
	_, err := ingest.ParseMapping("m", []byte("column,role\nv,nonesuch\n"))
	all := strings.Split(strings.TrimPrefix(fault.HintOf(err), "roles are: "), ", ")
	all = slices.DeleteFunc(all, func(s string) bool { return s == string(ingest.Ignore) || s == string(ingest.Time) })
	var told []string
	for _, row := range tables(page(t), "role") {
		if len(row) != 5 {
			t.Fatalf("row %v has %d cells", row, len(row))
		}
		role := signal.Role(row[0])
		told = append(told, row[0])
		d, known := ingest.Dimensions(role)
		if !known || len(d) == 0 || unit.House(d[0]).String() != row[1] {
			t.Errorf("%s is in %v inside, the page says %s", role, d, row[1])
			continue
		}
		most, err := strconv.ParseFloat(row[3], 64)
		if err != nil {
			t.Fatal(err)
		}
		if u, ok := ingest.Assume(role, most, true); !ok || u != unit.MustParse(row[2]) {
			t.Errorf("%s up to %v is taken for %v (%v), the page says %s", role, most, u, ok, row[2])
		}
		if u, ok := ingest.Assume(role, most*1.001, true); ok && u.Key() != "dege7" {
			t.Errorf("%s beyond %v is still taken for %v", role, most, u)
		}
		for _, name := range strings.Split(strings.ReplaceAll(row[4], "`", ""), ", ") {
			if g := ingest.GuessRole(name); g.Role != role {
				t.Errorf("%s is guessed as %q, the page says %s", name, g.Role, role)
			}
		}
	}
	if !slices.Equal(told, all) {
		t.Errorf("the page has the roles %v, there are %v", told, all)
	}
}

// The page's example gives what the page says.
func TestThePageExampleRuns(t *testing.T) {
	blocks := regexp.MustCompile("(?s)```csv\n(.*?)```").FindAllStringSubmatch(page(t), -1)
	if len(blocks) != 2 {
		t.Fatalf("the page has %d blocks of CSV", len(blocks))
	}
	m, err := ingest.ParseMapping("mapping.csv", []byte(blocks[1][1]))
	if err != nil {
		t.Fatal(err)
	}
	rec, err := delimited.New().Read(context.Background(), bytes.NewReader([]byte(blocks[0][1])), ingest.Options{Name: "log.csv", Mapping: m})
	if err != nil {
		t.Fatalf("%v (%s)", err, fault.HintOf(err))
	}
	var got [][]string
	for _, c := range rec.Channels {
		got = append(got, []string{c.Name, string(c.Role), c.Unit, fmt.Sprintf("%.12g", c.Values[len(c.Values)-1])})
	}
	if want := tables(page(t), "channel"); fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("the page says %v, read are %v", want, got)
	}
	if base := rec.Channels[0].Base.T; base[0] != 0 || base[len(base)-1] != 0.04 {
		t.Errorf("time runs from %v to %v", base[0], base[len(base)-1])
	}
	if len(rec.Caveats) != 0 {
		t.Errorf("caveats %v", rec.Caveats)
	}
}
