package golden

import (
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// Heads reads the heads of all cases below root, in the order of their paths.
// Folders of other modules, hidden ones and those beginning with an underscore
// are passed over. Path in each head is relative to root, with slashes.
func Heads(root string) ([]Head, error) {
	var heads []Head
	err := filepath.WalkDir(root, func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, p)
		if err != nil {
			return err
		}
		rel = filepath.ToSlash(rel)
		if d.IsDir() {
			if rel != "." && (strings.HasPrefix(d.Name(), ".") || strings.HasPrefix(d.Name(), "_")) {
				return fs.SkipDir
			}
			if rel != "." {
				if _, err := os.Stat(filepath.Join(p, "go.mod")); err == nil {
					return fs.SkipDir
				}
			}
			return nil
		}
		if !strings.Contains("/"+rel, "/testdata/golden/") {
			return nil
		}
		if ok, _ := path.Match("*.txtar", path.Base(rel)); !ok || path.Base(path.Dir(path.Dir(rel))) != "golden" {
			return fmt.Errorf("%s: evidence lies at testdata/golden/<source-key>/<case>.txtar", rel)
		}
		c, err := Read(p)
		if err != nil {
			return err
		}
		c.Path = rel
		heads = append(heads, c.Head)
		return nil
	})
	return heads, err
}

// Room gives the package whose evidence the case is: its path below the root.
func (h Head) Room() string {
	room, _, _ := strings.Cut(h.Path, "testdata/golden/")
	if room = strings.TrimSuffix(room, "/"); room == "" {
		return "."
	}
	return room
}

// Checks writes docs/checks.md from the heads: how many cases of which kind
// stand behind each room, with the empty cells visible, then every case. rooms
// are all packages that should have evidence, also those that have none.
func Checks(heads []Head, rooms []string) []byte {
	rooms = slices.Clone(rooms)
	for _, h := range heads {
		rooms = append(rooms, h.Room())
	}
	slices.Sort(rooms)
	rooms = slices.Compact(rooms)

	var b strings.Builder
	b.WriteString(`# What is checked against what

Written by ` + "`go generate ./...`" + ` from the heads of the cases; do not edit. A case is one file at
` + "`<room>/testdata/golden/<source>/<case>.txtar`" + `, and [sources](sources/README.md) says what each source is. An empty cell is
evidence that is not there. Rooms without a line below have laws, conformance tests or nothing; this page counts
published and independent values alone. Digits reached: how many agree with the source where fewest do, over all
values that a case compares relatively; the test fails when they become fewer.

Kinds, strongest first: worked example (printed in the source), certified value, independent program, analytic
result, synthetic truth, common practice.

## Cases by room and kind

| room |`)
	for _, k := range Kinds {
		b.WriteString(" " + strings.ReplaceAll(k, "-", " ") + " |")
	}
	b.WriteString("\n|---|" + strings.Repeat("---:|", len(Kinds)) + "\n")
	for _, room := range rooms {
		b.WriteString("| `" + room + "` |")
		for _, k := range Kinds {
			n := 0
			for _, h := range heads {
				if h.Room() == room && h.Kind == k {
					n++
				}
			}
			if n > 0 {
				b.WriteString(" " + strconv.Itoa(n) + " |")
			} else {
				b.WriteString(" |")
			}
		}
		b.WriteString("\n")
	}
	for _, room := range rooms {
		first, reached := true, false
		for _, h := range heads {
			if h.Room() != room {
				continue
			}
			if first {
				reached = slices.ContainsFunc(heads, func(o Head) bool { return o.Room() == room && o.Reached > 0 })
				b.WriteString("\n## " + room + "\n\n| source | case | kind | where | tolerance | why |")
				if reached {
					b.WriteString(" digits reached |\n|---|---|---|---|---|---|---:|\n")
				} else {
					b.WriteString("\n|---|---|---|---|---|---|\n")
				}
				first = false
			}
			where := h.Where
			if h.MadeBy != "" {
				where += "; made by " + h.MadeBy
			}
			fmt.Fprintf(&b, "| [%s](sources/%s.md) | %s | %s | %s | %s | %s |", h.Source, h.Source, h.Case, h.Kind,
				cell(where), strconv.FormatFloat(h.Tol, 'g', -1, 64), cell(h.TolWhy))
			if h.Reached > 0 {
				b.WriteString(" " + strconv.FormatFloat(h.Reached, 'g', -1, 64) + " |")
			} else if reached {
				b.WriteString(" |")
			}
			b.WriteString("\n")
		}
	}
	return []byte(b.String())
}

func cell(s string) string { return strings.ReplaceAll(s, "|", "\\|") }

// wanted are the lines that a page of docs/sources must have.
var wanted = []struct{ what, pattern string }{
	{"a heading", `(?m)\A# \S`},
	{"its title", `(?mi)^[-*] (\*\*)?title`},
	{"its edition, version or year", `(?mi)^[-*] (\*\*)?(edition|version|issue|year)`},
	{"where to obtain it", `(?mi)^[-*] (\*\*)?where to obtain`},
	{"what was taken", `(?mi)^[-*] (\*\*)?what was taken`},
}

// SourcePage says what the page of a source lacks; empty if it lacks nothing.
func SourcePage(page []byte) []string {
	var lacks []string
	for _, w := range wanted {
		if !regexp.MustCompile(w.pattern).Match(page) {
			lacks = append(lacks, w.what)
		}
	}
	return lacks
}
