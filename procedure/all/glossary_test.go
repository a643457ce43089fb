package all_test

import (
	"os"
	"slices"
	"strings"
	"testing"

	"example.org/bookend/procedure/all"
	"example.org/bookend/unit"
)

// section gives the text below a heading of GLOSSARY.md, up to the next one.
func section(t *testing.T, heading string) string {
	t.Helper()
	text, err := os.ReadFile("../../GLOSSARY.md")
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

// rows gives the cells of the table in a section, the head left out.
func rows(t *testing.T, heading string) [][]string {
	t.Helper()
	var out [][]string
	for _, line := range strings.Split(section(t, heading), "\n") {
		if !strings.HasPrefix(line, "|") {
			continue
		}
		var cells []string
		for _, c := range strings.Split(strings.Trim(line, "|"), "|") {
			cells = append(cells, strings.Trim(strings.TrimSpace(c), "`"))
		}
		out = append(out, cells)
	}
	if len(out) < 2 {
		t.Fatalf("GLOSSARY.md: section %q has no table", heading)
	}
	return out[2:]
}

// What procedures declare and what the glossary lists is the same, both ways.
func TestMeasuresAreInTheGlossary(t *testing.T) {
	listed := map[string][]string{}
	for _, r := range rows(t, "Measures") {
		if _, twice := listed[r[0]]; twice {
			t.Errorf("measure %s stands twice", r[0])
		}
		listed[r[0]] = r
	}
	declared := map[string]bool{}
	for _, p := range all.Procedures() {
		spec := p.Spec()
		for _, m := range spec.Measures {
			declared[m.ID] = true
			want := []string{m.ID, m.Unit, string(m.Scale), string(m.Better)}
			got, ok := listed[m.ID]
			if !ok {
				t.Errorf("measure %s of %s is not in GLOSSARY.md: | `%s` | %s |", m.ID, spec.ID, want[0], strings.Join(want[1:], " | "))
			} else if !slices.Equal(got, want) {
				t.Errorf("measure %s of %s is %v, in GLOSSARY.md %v", m.ID, spec.ID, want, got)
			}
			if _, err := unit.Parse(m.Unit); err != nil {
				t.Errorf("measure %s of %s: %v", m.ID, spec.ID, err)
			}
		}
	}
	for id := range listed {
		if !declared[id] {
			t.Errorf("GLOSSARY.md lists measure %s, which no procedure declares", id)
		}
	}
}
