// Package programme holds the nouns of a tyre test: what is compared, what was
// driven, what was found. It is the waist of the house: whatever a run yields, by
// recording, stopwatch or rating sheet, becomes an Observation here, and
// statistics and reports know nothing older than observations.
//
// Values are in SI units, temperatures in °C. Nothing here
// computes; what is computed from the nouns is the work of the rooms around.
//
// A Set has no field for what it really is. Makers, names, and which codes are
// controls lie in a sealed file that only app opens, so that no face, export or
// error can print what it does not hold.
package programme

import (
	"cmp"
	"slices"

	"example.org/bookend/caveat"
	"example.org/bookend/clock"
	"example.org/bookend/tyre"
)

// Programme is one comparison for one client.
type Programme struct {
	ID       string `json:"id"`
	Title    string `json:"title"`
	Client   string `json:"client,omitempty"`
	Ground   string `json:"ground,omitempty"`
	Zone     string `json:"zone,omitempty"`    // IANA zone of the ground; typed clock times are read in it
	Vehicle  string `json:"vehicle,omitempty"` // a description, no make
	Question string `json:"question,omitempty"`
	Tests    []Test `json:"tests,omitempty"`
	Sets     []Set  `json:"sets,omitempty"`

	Asked tyre.Asked `json:"asked,omitzero"` // what the vehicle asks of its tyres: axle loads in kg, top speed in m/s
}

// Test is one manoeuvre on one surface within a programme.
type Test struct {
	ID         string     `json:"id"`
	Title      string     `json:"title"`
	Procedure  string     `json:"procedure"` // id of the Spec
	Surface    string     `json:"surface,omitempty"`
	Course     string     `json:"course,omitempty"` // hash of the course
	Parameters Parameters `json:"parameters,omitempty"`
	First      string     `json:"first,omitempty"` // the measure that answers the question

	ControlType string `json:"control_type,omitempty"` // what kind of tyre the control is, as the ground's record names it
}

// Set is the physical tyres that are fitted together, driven under a code.
type Set struct {
	ID   string `json:"id"`
	Code string `json:"code"`
	Size string `json:"size,omitempty"` // as marked, without the maker's words
	Note string `json:"note,omitempty"`
}

// Stint is one set on the vehicle for one test, fitted once. It is the unit of
// analysis: its runs share the fitment and the moment and are no independent
// replicates.
type Stint struct {
	ID       string   `json:"id"`
	Code     string   `json:"code"`
	Set      string   `json:"set,omitempty"`     // which physical set; empty where not told
	Position float64  `json:"position"`          // place in the sequence, from 1; need not be whole
	ClockS   *float64 `json:"clock_s,omitempty"` // when, in s of one clock common to the table; nil where not told
	Block    string   `json:"block,omitempty"`   // day, driver or session that is joined to others only through the control
	Driver   string   `json:"driver,omitempty"`  // who drove
	Break    bool     `json:"break,omitempty"`   // a declared break lies before this stint: drift is not carried across it
	Line     int      `json:"line,omitempty"`    // where it first stands in its table, from 1
	File     string   `json:"file,omitempty"`    // that table
	UseM     *float64 `json:"use_m,omitempty"`   // what the set had run when it was fitted, in m
}

// Run is one lap, stop or pass within a stint.
type Run struct {
	ID         string             `json:"id"`
	Stint      string             `json:"stint"`
	Number     int                `json:"number"`               // within the stint, from 1
	At         clock.Instant      `json:"at,omitzero"`          // when it began
	Covariates map[string]float64 `json:"covariates,omitempty"` // by column name, SI: water_depth_m, surface_temperature_degc, ...
	Line       int                `json:"line,omitempty"`
	File       string             `json:"file,omitempty"`
	Remark     string             `json:"remark,omitempty"`
}

// Observation is one number that a run yielded: the waist.
type Observation struct {
	Run         string      `json:"run"`
	Measure     string      `json:"measure"`
	Place       string      `json:"place,omitempty"` // "sector 2", "marker 3", "corner 5"
	Rater       string      `json:"rater,omitempty"`
	Value       float64     `json:"value"`                 // in the measure's unit
	Uncertainty *float64    `json:"uncertainty,omitempty"` // standard uncertainty, in the same unit; nil where none is known
	Caveats     caveat.List `json:"caveats,omitempty"`
	Derivation  string      `json:"derivation,omitempty"` // id of the Derivation; empty for typed-in values
}

// Exclusion leaves a run, or one observation of it, out of the comparison. The
// observation is kept; results with and without stand side by side.
type Exclusion struct {
	Run     string        `json:"run"`
	Measure string        `json:"measure,omitempty"` // empty: every measure of the run
	Reason  string        `json:"reason"`            // insisted on
	Person  string        `json:"person,omitempty"`
	At      clock.Instant `json:"at,omitzero"`
}

// Log is what was driven and found: stints in the order of their sequence, the
// runs, the observations, and what is excluded. It is what compare takes.
type Log struct {
	Stints       []Stint       `json:"stints"`
	Runs         []Run         `json:"runs"`
	Observations []Observation `json:"observations"`
	Exclusions   []Exclusion   `json:"exclusions,omitempty"`
	Caveats      caveat.List   `json:"caveats,omitempty"`
}

// AsDriven gives the stints by position, from the first on; those of one position stand as
// the log has them.
func (l Log) AsDriven() []Stint {
	out := slices.Clone(l.Stints)
	slices.SortStableFunc(out, func(a, b Stint) int { return cmp.Compare(a.Position, b.Position) })
	return out
}

// Blocks gives the stints as driven, divided where a break was declared or another block
// begins: what lies between two divisions shares its drift.
func (l Log) Blocks() [][]Stint {
	var out [][]Stint
	for i, s := range l.AsDriven() {
		if last := len(out) - 1; i == 0 || s.Break || s.Block != out[last][0].Block {
			out = append(out, nil)
		}
		out[len(out)-1] = append(out[len(out)-1], s)
	}
	return out
}

// Conditions is one reading of what the day was like.
type Conditions struct {
	At            clock.Instant      `json:"at,omitzero"`
	AirC          *float64           `json:"air_temperature_degc,omitempty"`
	SurfaceC      *float64           `json:"surface_temperature_degc,omitempty"`
	WindMps       *float64           `json:"wind_mps,omitempty"`
	HumidityPct   *float64           `json:"humidity_percent,omitempty"`
	WaterDepthM   map[string]float64 `json:"water_depth_m,omitempty"` // by spot
	SinceWettingS *float64           `json:"since_wetting_s,omitempty"`
	Remark        string             `json:"remark,omitempty"`
}

// Rating is one rated attribute on one sheet, in points of the attribute's scale.
type Rating struct {
	Stint     string  `json:"stint"`
	Rater     string  `json:"rater"`
	Attribute string  `json:"attribute"`
	Value     float64 `json:"value"`
	Remark    string  `json:"remark,omitempty"`
}

// Scatter is what is known of how a measure scatters, for planning: standard
// deviations on the measure's analysis scale and their degrees of freedom.
type Scatter struct {
	Measure  string  `json:"measure"`
	StintSD  float64 `json:"stint_sd"`
	StintDF  float64 `json:"stint_df"`
	RunSD    float64 `json:"run_sd"`
	RunDF    float64 `json:"run_df"`
	DriftSD  float64 `json:"drift_sd"` // random-walk standard deviation a stint
	FromText string  `json:"from"`     // where the figures come from, in words
}
