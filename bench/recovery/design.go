package main

import (
	"bufio"
	"fmt"
	"io"
	"strconv"
	"strings"

	"example.org/bookend/compare"
)

// kind says what a design stands in the list for.
type kind string

const (
	claim  kind = "claim"
	report kind = "report"
	power  kind = "power"
)

// design is one line of designs.txt.
type design struct {
	id                   string
	kind                 kind
	test, measure, place string
	truth                string
	order                string // empty: the scenario's own
	fit                  compare.Drift
	margin               float64
	runs                 int
	words                string
	seed                 uint64
}

// rated tells whether the test is one of rating sheets: attributes have blanks in
// their names, which the list writes as underscores.
func (d *design) rated() bool { return strings.HasSuffix(d.test, "-ratings") }

func parse(r io.Reader) ([]*design, error) {
	var out []*design
	seen := map[string]bool{}
	in := bufio.NewScanner(r)
	for n := 1; in.Scan(); n++ {
		fields := strings.Fields(in.Text())
		if len(fields) == 0 || strings.HasPrefix(fields[0], "#") {
			continue
		}
		if len(fields) < 3 {
			return nil, fmt.Errorf("line %d: a design has an id, a kind and keys", n)
		}
		d := &design{id: fields[0], kind: kind(fields[1])}
		if seen[d.id] {
			return nil, fmt.Errorf("line %d: %s stands twice", n, d.id)
		}
		seen[d.id] = true
		if d.kind != claim && d.kind != report && d.kind != power {
			return nil, fmt.Errorf("line %d: there is no kind %q", n, d.kind)
		}
		for _, f := range fields[2:] {
			key, value, ok := strings.Cut(f, "=")
			if !ok {
				return nil, fmt.Errorf("line %d: %q is not key=value", n, f)
			}
			if err := d.set(key, value); err != nil {
				return nil, fmt.Errorf("line %d: %s: %w", n, key, err)
			}
		}
		if d.rated() {
			d.measure, d.truth = strings.ReplaceAll(d.measure, "_", " "), strings.ReplaceAll(d.truth, "_", " ")
		}
		if d.test == "" || d.measure == "" || d.truth == "" || d.fit == "" || d.seed == 0 || d.kind == power != (d.order == "") {
			return nil, fmt.Errorf("line %d: %s is not whole", n, d.id)
		}
		out = append(out, d)
	}
	return out, in.Err()
}

func (d *design) set(key, value string) (err error) {
	switch key {
	case "test":
		d.test = value
	case "measure":
		d.measure = value
	case "place":
		d.place = strings.ReplaceAll(value, "_", " ")
	case "truth":
		d.truth = value
	case "order":
		if value != "own" {
			d.order = value
		}
	case "fit":
		d.fit = compare.Drift(value)
	case "margin":
		d.margin, err = strconv.ParseFloat(value, 64)
	case "runs":
		d.runs, err = strconv.Atoi(value)
	case "words":
		d.words = strings.ReplaceAll(value, "_", " ")
	case "seed":
		d.seed, err = strconv.ParseUint(value, 10, 64)
	default:
		return fmt.Errorf("there is no such key")
	}
	return err
}
