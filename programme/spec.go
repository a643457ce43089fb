package programme

import "fmt"

// Source names where a limit, default, constant or definition comes from: the
// key of a page in docs/sources and the clause there. The keys CommonPractice
// and Own stand for themselves.
type Source struct {
	Key    string `json:"key"`
	Clause string `json:"clause,omitempty"`
}

// Keys of Source without a page of their own.
const (
	CommonPractice = "common-practice" // a fact of the trade without a source
	Own            = "own"             // bookend's own choice, reasoned in the clause
)

// String gives "key, clause".
func (s Source) String() string {
	if s.Clause == "" {
		return s.Key
	}
	return s.Key + ", " + s.Clause
}

// Better says in which direction a measure is better.
type Better string

// Directions. Nearest and Undirected give no better or worse without a target
// that the client has set.
const (
	Higher     Better = "higher"
	Lower      Better = "lower"
	Nearest    Better = "nearest" // to a target
	Undirected Better = "none"
)

// Scale says how a measure is compared.
type Scale string

// Scales. A ratio measure is compared on the log scale and has an index with
// the control at 100; a difference measure is compared in its unit and has none.
const (
	Ratio      Scale = "ratio"
	Difference Scale = "difference"
	Count      Scale = "count"
	Threshold  Scale = "threshold"
)

// Measure is one number that a run yields.
type Measure struct {
	ID     string   `json:"id"` // lap_time, mfdd
	Title  string   `json:"title"`
	Unit   string   `json:"unit"` // SI symbol as package unit has it; "1" for none
	Better Better   `json:"better"`
	Scale  Scale    `json:"scale"`
	Target *float64 `json:"target,omitempty"` // for Nearest, in the unit
	Digits int      `json:"digits"`           // decimals printed, in the unit that people see
	Shown  string   `json:"shown,omitempty"`  // unit that people see where it differs: "km/h"
	Error  string   `json:"error"`            // what is assumed of its scatter, in words
	Places bool     `json:"places,omitempty"` // occurs once a place
	About  string   `json:"about"`            // definition, one or two sentences
	Source Source   `json:"source"`
}

// Parameter is one setting of a procedure: a number in SI units, or a word out
// of a list where Words is not empty.
type Parameter struct {
	ID      string   `json:"id"`
	Title   string   `json:"title"`
	Unit    string   `json:"unit,omitempty"`  // SI symbol
	Shown   string   `json:"shown,omitempty"` // unit that people set it in
	Default float64  `json:"default"`
	Low     float64  `json:"low"`
	High    float64  `json:"high"`
	Words   []string `json:"words,omitempty"` // choices; the first is the default
	Above   string   `json:"above,omitempty"` // id of the parameter that it has to lie above; empty: of none
	Flag    string   `json:"flag,omitempty"`  // its own word at the command line, where it has one: "from" is --from
	About   string   `json:"about"`
	Source  Source   `json:"source"`
}

// Need is one channel that a procedure asks for.
type Need struct {
	Role     string  `json:"role"` // as package signal names it
	Unit     string  `json:"unit"`
	LeastHz  float64 `json:"least_hz"`
	Optional string  `json:"optional,omitempty"` // what is lost without it; empty: it cannot be done without
}

// Cut says how runs of a procedure are found in a recording.
type Cut string

// Ways to find runs.
const (
	CutByGate Cut = "gate" // from one crossing of the first gate to the next
	CutByStop Cut = "stop" // from before the brake is applied to rest
	CutByPass Cut = "pass" // from the first gate to the last
	CutWhole  Cut = "whole"
)

// Spec declares a procedure: set-up form, measure table, report section and
// command-line help are all drawn from it.
type Spec struct {
	ID         string      `json:"id"`
	Version    int         `json:"version"` // raised whenever an expected output or a default changes
	Title      string      `json:"title"`
	About      string      `json:"about"`
	Sources    []Source    `json:"sources"`
	Cut        Cut         `json:"cut"`
	Needs      []Need      `json:"needs"`
	Parameters []Parameter `json:"parameters"`
	Measures   []Measure   `json:"measures"`
}

// Measure gives the measure of that id.
func (s Spec) Measure(id string) (Measure, bool) {
	for _, m := range s.Measures {
		if m.ID == id {
			return m, true
		}
	}
	return Measure{}, false
}

// Setting is one parameter's value as used.
type Setting struct {
	ID     string  `json:"id"`
	Number float64 `json:"number,omitempty"` // SI
	Word   string  `json:"word,omitempty"`
}

// Parameters is the settings of a reduction, every parameter spelt out, in the
// order of the Spec.
type Parameters []Setting

// Number gives a numeric setting in SI units. Asking for one that the Spec does
// not declare is a programmer's slip and panics.
func (p Parameters) Number(id string) float64 {
	for _, s := range p {
		if s.ID == id {
			return s.Number
		}
	}
	panic(fmt.Sprintf("programme: no parameter %q", id))
}

// Word gives a setting that is a word; it panics as Number does.
func (p Parameters) Word(id string) string {
	for _, s := range p {
		if s.ID == id {
			return s.Word
		}
	}
	panic(fmt.Sprintf("programme: no parameter %q", id))
}
