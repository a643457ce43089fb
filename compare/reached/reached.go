// Package reached says what coverage intervals reach where something is found that the
// model does not allow for.
//
// In the trade: a verdict's footnote that only warns is no help to whoever has to
// decide. Programmes that break the model are simulated (bench/coverage) and reported
// without a claim; where a comparison finds the same, its footnote gives what the
// simulation reached.
//
// Source: docs/coverage.md, the table outside the model; a test holds the figures here
// to the page. Units: per cent of programmes in which all intervals that promise 95 %
// hold the truth. Limits: one size of each fault, one layout; a programme at hand may
// do better or worse.
package reached

import (
	"fmt"
	"strings"

	"example.org/bookend/caveat"
)

// Design is one simulated fault.
type Design struct {
	ID      string  // as in bench/coverage/designs.txt
	What    string  // what was simulated
	Covered float64 // per cent
	Bias    float64 // the largest mean error of an estimate, per cent
}

// found gives by the code of a caveat which designs have what it tells.
var found = []struct {
	code    string
	designs []Design
}{
	{"heterogeneous_record", []Design{
		{"B17", "a record of 20 control stints whose scatter differs by a factor of 2 from programme to programme", 96.70, -0.02},
		{"B18", "one of 100", 99.32, -0.02},
	}},
	{"sudden_shift", []Design{
		{"B06", "a shift of three standard deviations of a stint half way, brackets", 99.22, 1.00},
		{"B05", "the same, a straight line", 99.03, 0.31},
	}},
	{"tyre_by_block", []Design{
		{"B13", "two days between which tyres differ by as much as stints scatter", 97.31, 0.02},
	}},
	{"unequal_use", []Design{
		{"B09", "a control that loses half of a stint's standard deviation with every stint", 89.19, 1.00},
	}},
}

// Designs gives the simulated designs of a caveat's code; nil where there is none.
func Designs(code string) []Design {
	for _, f := range found {
		if f.code == code {
			return f.designs
		}
	}
	return nil
}

// Codes gives the codes that have designs.
func Codes() []string {
	var out []string
	for _, f := range found {
		out = append(out, f.code)
	}
	return out
}

// Note puts what was reached behind the caveats that have a design. It changes nothing
// that it is given.
func Note(l caveat.List) caveat.List {
	out := make(caveat.List, 0, len(l))
	for _, c := range l {
		if d := Designs(c.Code); d != nil {
			c.Text += " " + words(d)
		}
		out = append(out, c)
	}
	return out
}

func words(designs []Design) string {
	var parts, ids []string
	for _, d := range designs {
		s := fmt.Sprintf("%s: %.1f %%", d.What, d.Covered)
		if d.Bias >= 0.1 || d.Bias <= -0.1 {
			s += fmt.Sprintf(", estimates off by up to %.1f %%", max(d.Bias, -d.Bias))
		}
		parts, ids = append(parts, s), append(ids, d.ID)
	}
	return "No coverage is claimed then. Reached by simulation, of 95 % promised: " + strings.Join(parts, "; ") + " (docs/coverage.md, " + strings.Join(ids, ", ") + ")."
}
