// Package golden runs evidence: values from outside the project against which
// its results are held. It reads and never writes: no flag renews evidence.
//
// A case is a txtar file at
//
//	<room>/testdata/golden/<source-key>/<case>.txtar
//
// The path is the citation: docs/sources/<source-key>.md says what the source
// is. The comment before the first file is the head, one "key: value" a line:
//
//	kind: worked-example | certified | independent | analytic | truth | common-practice
//	where: clause, table, page or data set (or: from memory)
//	tol: 1e-9
//	tol-why: 15 printed digits
//	made-by: program, version, script (insisted on for independent)
//	reached: 13.5 (digits that agree where they agree least, on relative comparisons)
//
// Every key but made-by and reached is insisted on; unknown keys are refused. What
// reached says is held by the test, and shown beside what is asked. The kinds
// stand in order of rank. A snapshot of our own output is no evidence.
package golden

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/tools/txtar"
)

// Kinds of evidence, strongest first.
var Kinds = []string{"worked-example", "certified", "independent", "analytic", "truth", "common-practice"}

// Head says what a case is and how far it may be missed.
type Head struct {
	Source string  // key of the source: the folder's name
	Case   string  // the file's name without its ending
	Kind   string  // one of Kinds
	Where  string  // clause, table, page, data set, or "from memory"
	Tol    float64 // as the test uses it: absolute or relative, TolWhy says which
	TolWhy string
	MadeBy string // program, version and script, for kind independent
	// Reached is how many digits agree at least, by all relative comparisons of the
	// case: minus the decimal logarithm of the greatest relative error. 0: not said.
	Reached float64
	Path    string // from the root of the checkout where known, else as found
}

// Case is a head and its files.
type Case struct {
	Head
	Files map[string][]byte

	compared int     // relatively
	worst    float64 // the greatest relative error of these
}

// ParseHead reads the head of a case from its comment.
func ParseHead(path, comment string) (Head, error) {
	h := Head{
		Source: filepath.Base(filepath.Dir(path)),
		Case:   strings.TrimSuffix(filepath.Base(path), ".txtar"),
		Path:   path,
	}
	seen := map[string]bool{}
	for i, line := range strings.Split(strings.TrimSpace(comment), "\n") {
		key, value, ok := strings.Cut(line, ":")
		value = strings.TrimSpace(value)
		if !ok || value == "" {
			return h, fmt.Errorf("%s:%d: a head line is \"key: value\", not %q", path, i+1, line)
		}
		if seen[key] {
			return h, fmt.Errorf("%s:%d: key %q stands twice", path, i+1, key)
		}
		seen[key] = true
		switch key {
		case "kind":
			if !slices.Contains(Kinds, value) {
				return h, fmt.Errorf("%s:%d: kind %q is none of %s", path, i+1, value, strings.Join(Kinds, ", "))
			}
			h.Kind = value
		case "where":
			h.Where = value
		case "tol":
			tol, err := strconv.ParseFloat(value, 64)
			if err != nil || tol < 0 || math.IsNaN(tol) {
				return h, fmt.Errorf("%s:%d: tol %q is no tolerance", path, i+1, value)
			}
			h.Tol = tol
		case "tol-why":
			h.TolWhy = value
		case "made-by":
			h.MadeBy = value
		case "reached":
			digits, err := strconv.ParseFloat(value, 64)
			if err != nil || !(digits > 0 && digits <= most) {
				return h, fmt.Errorf("%s:%d: reached %q is no number of digits from 0 to %d", path, i+1, value, most)
			}
			h.Reached = digits
		default:
			return h, fmt.Errorf("%s:%d: unknown key %q", path, i+1, key)
		}
	}
	for _, key := range []string{"kind", "where", "tol", "tol-why"} {
		if !seen[key] {
			return h, fmt.Errorf("%s: the head lacks %q", path, key)
		}
	}
	if h.Kind == "independent" && h.MadeBy == "" {
		return h, fmt.Errorf("%s: kind independent needs \"made-by\"", path)
	}
	return h, nil
}

// Read reads one case.
func Read(path string) (*Case, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	a := txtar.Parse(data)
	h, err := ParseHead(path, string(a.Comment))
	if err != nil {
		return nil, err
	}
	c := &Case{Head: h, Files: map[string][]byte{}}
	for _, f := range a.Files {
		if _, twice := c.Files[f.Name]; twice {
			return nil, fmt.Errorf("%s: file %q stands twice", path, f.Name)
		}
		c.Files[f.Name] = f.Data
	}
	return c, nil
}

// Run runs f once for every case of the source in testdata/golden/<source>,
// as a subtest named after the case; match selects by the case's name, as
// filepath.Match does ("*" for all). No case at all fails the test.
func Run(t *testing.T, source, match string, f func(t *testing.T, c *Case)) {
	t.Helper()
	paths, err := filepath.Glob(filepath.Join("testdata", "golden", source, match+".txtar"))
	if err != nil {
		t.Fatal(err)
	}
	if len(paths) == 0 {
		t.Fatalf("no evidence at testdata/golden/%s/%s.txtar", source, match)
	}
	for _, path := range paths {
		c, err := Read(path)
		if err != nil {
			t.Error(err)
			continue
		}
		t.Run(source+"/"+c.Case, func(t *testing.T) {
			f(t, c)
			c.held(t)
		})
	}
}

// most is how many digits can be said to agree: no source prints more.
const most = 15

// held fails the test where fewer digits agree than the head says are reached.
func (c *Case) held(t *testing.T) {
	t.Helper()
	got := float64(most)
	if c.worst > 0 {
		got = math.Min(got, -math.Log10(c.worst))
	}
	switch {
	case c.Reached == 0:
	case c.compared == 0:
		t.Errorf("%s says that %g digits are reached, and nothing is compared relatively", c.Path, c.Reached)
	case !(got >= c.Reached):
		t.Errorf("%s says that %g digits are reached; %.2f are", c.Path, c.Reached, got)
	default:
		t.Logf("%.2f digits agree, %g are said to", got, c.Reached)
	}
}

// JSON decodes the file named into v; an unknown field in it is an error, so
// that no printed value goes unread.
func (c *Case) JSON(t *testing.T, file string, v any) {
	t.Helper()
	data, ok := c.Files[file]
	if !ok {
		t.Fatalf("%s has no file %q", c.Path, file)
	}
	d := json.NewDecoder(strings.NewReader(string(data)))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		t.Fatalf("%s: file %q: %v", c.Path, file, err)
	}
}

// Near fails the test unless got is within the case's tolerance of want,
// absolute: |got - want| <= tol.
func (c *Case) Near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) <= c.Tol) {
		t.Errorf("%s = %v, want %v within %g (%s; %s)", what, got, want, c.Tol, c.Source, c.Where)
	}
}

// NearRel fails the test unless got is within the case's tolerance of want,
// relative: |got - want| <= tol * |want|, and exactly zero for zero.
func (c *Case) NearRel(t *testing.T, what string, got, want float64) {
	t.Helper()
	c.compared++
	if got != want {
		c.worst = math.Max(c.worst, math.Abs(got-want)/math.Abs(want))
	}
	if !(math.Abs(got-want) <= c.Tol*math.Abs(want)) {
		t.Errorf("%s = %v, want %v within %g relative (%s; %s)", what, got, want, c.Tol, c.Source, c.Where)
	}
}
