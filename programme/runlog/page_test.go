package runlog

import (
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the list of kinds in docs/formats/runlog.md anew")

// page is the list of kinds as the document has it.
func page() string {
	var b strings.Builder
	for _, k := range Kinds() {
		fmt.Fprintf(&b, "\n### `%s`, version %d\n\n%s.\n\n| key | what | type | needed |\n|---|---|---|---|\n", k.ID, k.Version, strings.ToUpper(k.About[:1])+k.About[1:])
		for _, f := range k.Fields {
			what := f.Title
			if f.About != "" {
				what += ": " + f.About
			}
			kind := string(f.Type)
			switch {
			case f.Type == Word:
				kind = "one of " + strings.Join(f.Words, ", ")
			case f.Unit != "" && f.Low != nil:
				kind = fmt.Sprintf("%s, %s (%g to %g)", f.Type, f.Unit, *f.Low, *f.High)
			case f.Low != nil && *f.High < 1e6:
				kind = fmt.Sprintf("%s (%g to %g)", f.Type, *f.Low, *f.High)
			}
			must := ""
			if f.Needed {
				must = "yes"
			}
			fmt.Fprintf(&b, "| `%s` | %s | %s | %s |\n", f.Key, what, kind, must)
		}
	}
	return b.String()
}

// The document lists the kinds and their fields as the code has them.
func TestTheDocumentListsTheKinds(t *testing.T) {
	const path, mark = "../../docs/formats/runlog.md", "<!-- kinds -->\n"
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	before, after, ok := strings.Cut(string(text), mark)
	if !ok {
		t.Fatalf("%s has no line %q", path, mark)
	}
	if *update {
		if err := os.WriteFile(path, []byte(before+mark+page()), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if after != page() {
		t.Errorf("%s lists other kinds; go test ./programme/runlog -update writes them anew", path)
	}
}
