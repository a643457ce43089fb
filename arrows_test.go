// Package bookend_test holds the house to its own rules: which room may see
// which, and which words it may use.
package bookend_test

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// room is a row of the table of arrows: what a package may import of this
// module and of other modules, and why. The leaves are seen by every room and
// not repeated. Patterns are paths below the module's root; "x/..." is x and
// whatever lies below it, "*" is one folder's name, "self/..." is the room's own
// folder and what lies below it.
type room struct {
	at      string // pattern of the packages that the row is about
	may     string // rooms it may see
	tests   string // rooms that its test files may see besides
	modules string // modules it may see
	reason  string
}

const leaves = "unit caveat fault clock"

// house is the table of arrows. The first row whose pattern fits a package is
// its row; a package without a row fails.
var house = []room{
	{".", "", "...", "", "the root holds only tests about the whole house"},

	// the rim
	{"cmd/bookend/...", "...", "", "github.com/spf13/cobra", "the one binary wires everything, and alone names the adapters"},
	{"web/...", "self/... app app/coneplan app/day app/groundbook app/lines app/logger app/ordered app/ordering app/sight app/testplan app/trace report report/html report/sheet figure figure/... order order/* programme programme/attribute programme/runlog compare", "store/sqlite procedure/all ingest/all", "github.com/alexedwards/argon2id github.com/alexedwards/scs/v2 golang.org/x/time rsc.io/qr", "the web face calls use cases of app; programme and compare for their types"},
	{"report/html", "report figure figure/*", "programme compare", "", "a face draws the document and computes nothing"},
	{"report/pdf", "report figure figure/pdf", "programme compare", "codeberg.org/go-pdf/fpdf", "as report/html"},
	{"report/xlsx", "report", "programme compare", "github.com/xuri/excelize/v2", "as report/html"},
	{"report/sheet", "", "", "", "a run sheet is handed what stands on it: codes and times, no trade"},
	{"report/package", "report", "programme compare", "", "as report/html"},
	{"store/sqlite/powertest", "", "", "modernc.org/libc modernc.org/sqlite", "a disk that loses power; for tests alone, and no trade"},
	{"store/sqlite/...", "self/... app programme signal", "", "github.com/pressly/goose/v3 modernc.org/sqlite github.com/google/uuid", "the store does what app asks of it, and knows no trade"},
	{"store/sealed", "app", "", "filippo.io/age", "the one room that encrypts; what is in it is not its business"},
	{"store/people", "", "", "github.com/alexedwards/argon2id", "who may sign in: passwords are hashed here and nowhere else"},
	{"store/authority", "", "", "", "certificates of the folder's own, by crypto/x509"},
	{"store/channels", "app programme signal", "", "github.com/parquet-go/parquet-go", "as store/sqlite"},
	{"procedure/all", "procedure procedure/*", "", "", "the generated list of the shelf"},
	{"ingest/all", "ingest ingest/*", "", "", "the generated list of the shelf"},

	// the desk
	{"app/...", "self/... report compare compare/* order order/* match soundness soundness/clocks soundness/mend motion procedure ingest table sim programme programme/attribute programme/runlog stat/... signal course figure figure/* tyre tyre/sets",
		"procedure/all procedure/* ingest/all ingest/* store/sqlite report/html", "github.com/google/uuid",
		"the use cases that command line and web share; adapters are handed to it, tests may name them"},

	// the trade
	{"report", "compare compare/* programme figure figure/*", "", "", "the document as a value; it builds the figure values"},
	{"compare/...", "self/... stat/... programme programme/attribute", "", "gonum.org/v1/gonum", "knows observations and nothing older: never signal, never procedure"},
	{"order/...", "self/... stat/... programme tyre", "", "gonum.org/v1/gonum", "plans without recordings; scatter comes as programme.Scatter"},
	{"procedure", "course figure figure/* programme signal stat/tail", "", "", "says what a procedure is; means of overlaid runs have intervals by Student's t"},
	{"procedure/proceduretest", "procedure course figure figure/* programme signal", "procedure/*", "", "the conformance suite knows no single procedure"},
	{"procedure/*/truth", "sim programme", "", "", "truth and estimate must not share a mistake: never its parent"},
	{"procedure/lap/*", "procedure/lap/* procedure course figure figure/*", "", "", "rooms of the lap: corners, and laps laid over each other; the shelf's other folders are not seen"},
	{"procedure/*", "self/... procedure motion motion/sensors motion/pass course signal programme programme/attribute stat/... figure figure/*", "procedure/proceduretest self/truth ingest ingest/* sim", "", "one folder a procedure: never another one; its tests read recordings"},
	{"ingest", "signal course", "ingest/ingesttest", "", "says what a reader is"},
	{"ingest/ingesttest", "ingest signal course", "ingest/*", "", "the conformance suite knows no single reader"},
	{"ingest/parquet", "ingest signal course", "ingest/ingesttest", "github.com/parquet-go/parquet-go", "as the other readers"},
	{"ingest/candump", "ingest signal course", "ingest/ingesttest", "go.einride.tech/can", "as the other readers"},
	{"ingest/delimited/number", "", "", "", "decimal numbers in bytes: it knows no file"},
	{"ingest/delimited/charset", "ingest", "", "golang.org/x/text", "the one room of text logs that knows character sets"},
	{"ingest/delimited/stamp", "ingest ingest/delimited/number", "", "", "how time is written: it knows no column but its name"},
	{"ingest/delimited/dialect", "ingest signal ingest/delimited/charset ingest/delimited/number ingest/delimited/stamp", "", "", "judges the head of a file and never reads its rows"},
	{"ingest/delimited/scan", "ingest signal ingest/delimited/charset ingest/delimited/dialect ingest/delimited/number ingest/delimited/stamp", "", "", "reads rows; what a column means is not its business"},
	{"ingest/delimited/timebase", "ingest signal ingest/delimited/dialect ingest/delimited/scan ingest/delimited/stamp", "ingest/delimited/charset", "", "sees stamps, and no channel"},
	{"ingest/delimited/channel", "ingest signal ingest/delimited/dialect ingest/delimited/scan ingest/delimited/stamp ingest/delimited/timebase", "ingest/delimited/charset", "", "columns become channels, once the time base is there"},
	{"ingest/*", "self/... ingest signal course", "ingest/ingesttest", "golang.org/x/text", "one folder a format: never another one; x/text for character sets"},
	{"table", "programme programme/attribute programme/runlog", "", "", "tables become runs, observations and entries of the run log"},
	{"match", "programme signal course", "", "", "cuts recordings into runs and says whose they are"},
	{"soundness/...", "self/... signal course motion motion/sensors", "ingest ingest/* sim/...", "", "judges recordings before anybody knows whose they are; its tests spoil simulated files and read them"},
	{"motion/...", "self/... signal course", "", "gonum.org/v1/gonum", "motion of a vehicle, whoever drives it"},

	// the waist
	{"programme", "tyre", "", "", "the nouns: everything above speaks through them, so they know nothing above"},
	{"programme/attribute", "", "", "", "what is rated and on which scale: pages, flags, tables and the comparison all ask here"},
	{"programme/runlog", "programme programme/attribute", "", "", "what a run log holds, as data: pages, flags and tables are drawn from it"},

	// tools: none sees another, nor the waist
	{"stat/...", "stat/...", "", "gonum.org/v1/gonum", "statistics without a trade; its parts may see each other"},
	{"signal/...", "self/...", "", "gonum.org/v1/gonum", "channels without a trade"},
	{"course/...", "self/...", "", "gonum.org/v1/gonum", "geometry without a trade"},
	{"figure/...", "figure/...", "", "golang.org/x/image", "figures as data and their layout; labels are measured with x/image"},
	{"tyre", "", "", "", "marks on a sidewall"},
	{"tyre/sets", "tyre", "", "", "what is known of a set, beside its marks"},

	// leaves
	{"fault", "", "", "", "the five codes of error rest on nothing"},
	{"caveat", "", "", "", "doubt rests on nothing"},
	{"unit", "fault", "", "", "an unknown unit is a fault"},
	{"clock", "fault", "", "", "a wrong time is a fault"},

	// beside
	{"sim/...", "self/... programme", "", "gonum.org/v1/gonum", "sees nothing that it is used to check: own geometry, own clock"},
	{"internal/golden", "", "", "golang.org/x/tools", "runs evidence for every room, so it knows none"},
	{"internal/genlist", "internal/golden", "internal/generatedtest", "", "writes the generated lists; never shipped"},
	{"internal/bundle", "", "internal/generatedtest", "github.com/evanw/esbuild", "writes the pages' scripts; never shipped"},
	{"internal/generatedtest", "", "", "", "for the tests of programs that write files; it knows none of them"},
	{"bench/...", "...", "", "", "measures from outside; never shipped"},
}

// testModules may be imported by every test file, and by nothing else.
const testModules = "github.com/google/go-cmp github.com/rogpeppe/go-internal pgregory.net/rapid"

// standard lists packages of the standard library that only some rooms may
// see, test files aside; the longest prefix of an import decides.
var standard = []struct{ pkg, rooms, reason string }{
	{"net/url", "...", "addresses are text"},
	{"net", "web/... cmd/bookend/... store/authority bench/desk", "bookend works without a network; only the web face speaks, and what measures it"},
	{"database/sql", "store/sqlite/...", "one room knows that there is a database"},
	{"testing", "internal/golden internal/generatedtest procedure/proceduretest ingest/ingesttest figure/figuretest", "the binary links no test"},
	{"testing/fstest", "", "as testing"},
	{"html/template", "report/html report/sheet web/...", "pages are made at the rim"},
	{"math/rand", "order/... sim/... stat/... procedure/*/truth bench/...", "nothing else may draw lots; those that do have a seed"},
	{"os", "cmd/bookend/... app/... store/... web/... table ingest internal/... procedure/proceduretest ingest/ingesttest bench/...", "the trade and its tools are handed what they need; only the rim and the desk touch files"},
	{"os/exec", "cmd/bookend/... internal/genlist bench/...", "nothing is run behind the user's back"},
	{"unsafe", "", "nothing here needs it"},
	{"C", "", "the binary is pure Go, built with CGO_ENABLED=0"},
	{"log", "cmd/bookend/...", "faults and caveats are handed up, not logged; net/http asks for a logger"},
	{"plugin", "", "nothing is loaded at run time"},
}

// fits tells whether the package at a path below the root fits a pattern, for a
// room at self.
func fits(pattern, pkg, self string) bool {
	if rest, ok := strings.CutPrefix(pattern, "self/"); ok {
		pattern = self + "/" + rest
	}
	if pattern == "..." {
		return true
	}
	if stem, ok := strings.CutSuffix(pattern, "/..."); ok {
		if strings.Contains(stem, "*") {
			panic("arrows: " + pattern)
		}
		return pkg == stem || strings.HasPrefix(pkg, stem+"/")
	}
	ok, err := path.Match(pattern, pkg)
	return err == nil && ok
}

func fitsAny(patterns, pkg, self string) bool {
	return slices.ContainsFunc(strings.Fields(patterns), func(p string) bool { return fits(p, pkg, self) })
}

// rowOf gives the first row that fits, and the folder that "self" stands for.
func rowOf(pkg string) (r room, self string, ok bool) {
	for _, r := range house {
		if fits(r.at, pkg, "") {
			self = pkg
			if stem, deep := strings.CutSuffix(r.at, "/..."); deep {
				self = stem
			}
			return r, self, true
		}
	}
	return room{}, "", false
}

// judge says why a package may not import a path; empty if it may.
func judge(module, pkg, imported string, test bool) string {
	r, self, ok := rowOf(pkg)
	if !ok {
		return "is in no row of the table"
	}
	if imported == module || strings.HasPrefix(imported, module+"/") {
		to := strings.TrimPrefix(strings.TrimPrefix(imported, module), "/")
		switch {
		case to == pkg && test, fitsAny(r.may, to, self):
			return ""
		case slices.Contains(strings.Fields(leaves), to) && !slices.Contains(strings.Fields(leaves), pkg):
			return ""
		case test && (slices.Contains(strings.Fields(leaves), to) || to == "internal/golden" || fitsAny(r.tests, to, self)):
			return ""
		}
		return "may not see " + to + " (" + r.reason + ")"
	}
	first, _, _ := strings.Cut(imported, "/")
	if !strings.Contains(first, ".") { // standard library
		if test && imported != "C" && imported != "unsafe" {
			return ""
		}
		best := -1
		for i, s := range standard {
			if (imported == s.pkg || strings.HasPrefix(imported, s.pkg+"/")) && (best < 0 || len(s.pkg) > len(standard[best].pkg)) {
				best = i
			}
		}
		if best < 0 || fitsAny(standard[best].rooms, pkg, self) {
			return ""
		}
		return "may not see " + imported + " (" + standard[best].reason + ")"
	}
	allowed := r.modules
	if test {
		allowed += " " + testModules
	}
	for _, m := range strings.Fields(allowed) {
		if imported == m || strings.HasPrefix(imported, m+"/") {
			return ""
		}
	}
	return "may not see " + imported + " (its modules: " + r.modules + ")"
}

// source is one Go file and what it imports.
type source struct {
	file, pkg string
	test      bool
	imports   []string
}

// sources reads the imports of every Go file of the module, whatever its build
// tags, in the order of their paths.
func sources(t *testing.T) (module string, files []source) {
	t.Helper()
	mod, err := os.ReadFile("go.mod")
	if err != nil {
		t.Fatal(err)
	}
	m := regexp.MustCompile(`(?m)^module (\S+)`).FindSubmatch(mod)
	if m == nil {
		t.Fatal("go.mod names no module")
	}
	err = filepath.WalkDir(".", func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if p == "." {
				return nil
			}
			if name := d.Name(); name == "testdata" || strings.HasPrefix(name, ".") || strings.HasPrefix(name, "_") {
				return fs.SkipDir
			}
			if _, err := os.Stat(filepath.Join(p, "go.mod")); err == nil {
				return fs.SkipDir // a module of its own
			}
			return nil
		}
		if !strings.HasSuffix(p, ".go") {
			return nil
		}
		f, err := parser.ParseFile(token.NewFileSet(), p, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		s := source{file: filepath.ToSlash(p), pkg: path.Dir(filepath.ToSlash(p)), test: strings.HasSuffix(p, "_test.go")}
		for _, i := range f.Imports {
			name, err := strconv.Unquote(i.Path.Value)
			if err != nil {
				return err
			}
			s.imports = append(s.imports, name)
		}
		files = append(files, s)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return string(m[1]), files
}

func TestArrows(t *testing.T) {
	module, files := sources(t)
	for _, s := range files {
		if _, _, ok := rowOf(s.pkg); !ok {
			t.Errorf("%s: package %s is in no row of the table of arrows; add one with its reason", s.file, s.pkg)
			continue
		}
		for _, i := range s.imports {
			if why := judge(module, s.pkg, i, s.test); why != "" {
				t.Errorf("%s: %s %s", s.file, s.pkg, why)
			}
		}
	}
}

// Every module that is imported has its line of reason in the decisions, and
// every line is about a module that is used.
func TestEveryModuleHasItsReason(t *testing.T) {
	module, files := sources(t)
	page, err := os.ReadFile("docs/decisions/dependencies.md")
	if err != nil {
		t.Fatal(err)
	}
	mod, err := os.ReadFile("go.mod")
	if err != nil {
		t.Fatal(err)
	}
	used := map[string]bool{}
	for _, m := range regexp.MustCompile(`(?m)^\| `+"`"+`([^`+"`"+`]+)`+"`"+` \|`).FindAllStringSubmatch(string(page), -1) {
		used[m[1]] = false
	}
	mark := func(imported, by string) {
		for m := range used {
			if imported == m || strings.HasPrefix(imported, m+"/") {
				used[m] = true
				return
			}
		}
		t.Errorf("%s imports %s, which has no line in docs/decisions/dependencies.md", by, imported)
	}
	for _, s := range files {
		for _, i := range s.imports {
			if first, _, _ := strings.Cut(i, "/"); strings.Contains(first, ".") && i != module && !strings.HasPrefix(i, module+"/") {
				mark(i, s.file)
			}
		}
	}
	for _, m := range regexp.MustCompile(`(?m)^tool (\S+)`).FindAllStringSubmatch(string(mod), -1) {
		mark(m[1], "go.mod")
	}
	for m, ok := range used {
		if !ok {
			t.Errorf("docs/decisions/dependencies.md gives a reason for %s, which nothing imports", m)
		}
	}
}

// The binary that is shipped links nothing that tests are made of.
func TestTheBinaryLinksNoTest(t *testing.T) {
	module, files := sources(t)
	imports := map[string][]string{}
	for _, s := range files {
		if !s.test {
			imports[s.pkg] = append(imports[s.pkg], s.imports...)
		}
	}
	if _, ok := imports["cmd/bookend"]; !ok {
		t.Fatal("there is no cmd/bookend")
	}
	seen := map[string]bool{}
	var walk func(pkg, from string)
	walk = func(pkg, from string) {
		if seen[pkg] {
			return
		}
		seen[pkg] = true
		if name := path.Base(pkg); name == "truth" || strings.HasSuffix(name, "test") || strings.HasPrefix(pkg, "internal/") {
			t.Errorf("the binary links %s, by way of %s", pkg, from)
		}
		for _, i := range imports[pkg] {
			if i == "testing" || strings.HasPrefix(i, "testing/") {
				t.Errorf("the binary links %s, by way of %s", i, pkg)
			}
			if own, ok := strings.CutPrefix(i, module+"/"); ok {
				walk(own, pkg)
			}
		}
	}
	walk("cmd/bookend", "itself")
}

// The table refuses what it is there to refuse.
func TestArrowsRefuse(t *testing.T) {
	const m = "example.org/bookend"
	for _, c := range []struct {
		pkg, imported string
		test, may     bool
	}{
		{"compare", m + "/stat/linear", false, true},
		{"compare", m + "/signal", false, false},
		{"compare", m + "/procedure", false, false},
		{"compare", m + "/caveat", false, true},
		{"procedure/lap", m + "/procedure", false, true},
		{"procedure/lap", m + "/procedure/braking", false, false},
		{"procedure/lap", m + "/procedure/lap/truth", false, true}, // the walk over the binary refuses it there
		{"procedure/lap", m + "/procedure/lap", true, true},
		{"procedure/lap", m + "/procedure/proceduretest", false, false},
		{"procedure/lap", m + "/procedure/proceduretest", true, true},
		{"procedure/lap/truth", m + "/procedure/lap", false, false},
		{"procedure/lap/truth", m + "/sim", false, true},
		{"ingest/delimited", m + "/ingest/nmea", false, false},
		{"ingest/nmea", m + "/ingest/delimited/number", false, false},
		{"ingest/delimited", "golang.org/x/text/encoding", false, true},
		{"ingest/delimited", m + "/ingest/delimited/scan", false, true},
		{"ingest/delimited/number", m + "/ingest", false, false},
		{"ingest/delimited/dialect", m + "/ingest/delimited/scan", false, false},
		{"ingest/delimited/timebase", m + "/ingest/delimited/channel", false, false},
		{"ingest/delimited/scan", "golang.org/x/text/encoding", false, false},
		{"signal", m + "/course", false, false},
		{"signal", m + "/programme", false, false},
		{"stat/manyone", m + "/stat/linear", false, true},
		{"stat/manyone", m + "/programme", false, false},
		{"stat/manyone", "gonum.org/v1/gonum/mat", false, true},
		{"figure", "gonum.org/v1/gonum/mat", false, false},
		{"figure/svg", m + "/figure", false, true},
		{"unit", m + "/caveat", false, false},
		{"app", m + "/store/sqlite", false, false},
		{"app", m + "/procedure/all", false, false},
		{"app", m + "/procedure", false, true},
		{"app", "net/http", false, false},
		{"app", "github.com/google/go-cmp/cmp", true, true},
		{"app", "github.com/google/go-cmp/cmp", false, false},
		{"web", "net/http", false, true},
		{"programme", "os", false, false},
		{"programme", "os", true, true},
		{"course", "math/rand/v2", false, false},
		{"signal", "testing", false, false},
		{"signal", "unsafe", true, false},
		{"report", m + "/report/html", false, false},
		{"sim", m + "/signal", false, false},
		{"cmd/bookend", m + "/store/sqlite", false, true},
		{"internal/bundle", "github.com/evanw/esbuild/pkg/api", false, true},
		{"web", "github.com/evanw/esbuild/pkg/api", true, false},
		{"nowhere", "fmt", false, false},
	} {
		if why := judge(m, c.pkg, c.imported, c.test); (why == "") != c.may {
			t.Errorf("%s importing %s (test %v): %q, want allowed %v", c.pkg, c.imported, c.test, why, c.may)
		}
	}
}
