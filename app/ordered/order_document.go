// Package ordered is a run order as a JSON document, schemas "bookend.order/1" and its
// neighbours: what is driven when, how well it tells tyres apart, and what the rest of
// a day is planned anew as. It is read back where an order was taken into a programme.
//
// Times of day are clock times of the ground; durations are in s, differences on the
// scale that the document names.
package ordered

import (
	"example.org/bookend/app/origin"
)

// Document is the JSON of an order, schema "bookend.order/1".
type Document origin.Document[Results]

// Results is the part of the JSON that holds the numbers. Variances are in
// that of a stint mean; differences in index points or the unit.
type Results struct {
	Sequence   []Stint     `json:"sequence"`
	Criterion  float64     `json:"criterion"`
	Best       Best        `json:"best"`
	Candidates []Candidate `json:"candidates"`
	Detectable *Detectable `json:"detectable,omitempty"`
	More       *Other      `json:"control_more,omitempty"`
	Fewer      *Other      `json:"control_fewer,omitempty"`
	Needed     *Needed     `json:"needed,omitempty"`
	RunsNeeded int         `json:"runs_needed,omitempty"`
	Wear       []Wear      `json:"wear,omitempty"`
	Daylight   *Span       `json:"daylight,omitempty"`
	Own        *Own        `json:"own,omitempty"`
}

// Stint is one place of the order; times are of the ground's clock.
type Stint struct {
	Position int    `json:"position"`
	Block    int    `json:"block"`
	Code     string `json:"code"`
	Set      string `json:"set"`
	Fit      string `json:"fit,omitempty"`   // fitting begins
	Drive    string `json:"drive,omitempty"` // the warm-up begins
	Run      string `json:"run,omitempty"`   // the first run begins
	End      string `json:"end,omitempty"`   // the last run is over
	Free     string `json:"free,omitempty"`  // the vehicle is free
}

// Best is how good an order can be.
type Best struct {
	Sequence  []string `json:"sequence"`
	Criterion float64  `json:"criterion"`
	Proven    bool     `json:"proven"` // every order that keeps the rules was tried
	Tried     int      `json:"tried"`
	Near      int      `json:"near"` // within 2 % of the best: one of these was drawn
}

// Variances is one variance under each kind of drift.
type Variances struct {
	Constant  float64 `json:"constant"`
	Linear    float64 `json:"linear"`
	Quadratic float64 `json:"quadratic"`
	Walk      float64 `json:"walk"`
}

// Candidate is how well one candidate is told from the control.
type Candidate struct {
	Code  string    `json:"code"`
	Under Variances `json:"under"`         // by the plan's correction
	Best  Variances `json:"best"`          // the least of any unbiased analysis of this order
	Free  float64   `json:"without_drift"` // and without correction
}

// Detectable is the smallest difference that the order can show.
type Detectable struct {
	Value    *float64 `json:"value,omitempty"` // index points, or the unit
	Walk     *float64 `json:"walk,omitempty"`  // the same, what the correction leaves of a random walk included
	Record   *float64 `json:"with_record,omitempty"`
	SD       float64  `json:"sd"` // in standard deviations of a stint mean
	DF       int      `json:"df"`
	Critical float64  `json:"critical"`
	Method   string   `json:"method"`
}

// Other is what a control stint more or fewer would do.
type Other struct {
	Controls   int         `json:"control_stints"`
	Stints     int         `json:"stints"`
	Criterion  float64     `json:"criterion,omitempty"`
	Detectable *Detectable `json:"detectable,omitempty"`
	Clash      string      `json:"clash,omitempty"`
}

// Needed is the smallest programme that shows the wanted difference.
type Needed struct {
	Repeats     int     `json:"repeats"`
	Controls    int     `json:"control_stints"`
	Stints      int     `json:"stints"`
	Runs        int     `json:"runs"`
	Value       float64 `json:"value"`
	Sets        int     `json:"sets,omitempty"`
	ControlSets int     `json:"control_sets,omitempty"`
}

// Wear is what one set is worn by in the plan.
type Wear struct {
	Set    string  `json:"set"`
	Code   string  `json:"code"`
	Stints int     `json:"stints"`
	Runs   int     `json:"runs"`
	WornM  float64 `json:"worn_m"`
	LeftM  float64 `json:"left_m"`
}

// Span is a span of the ground's clock.
type Span struct {
	From string `json:"from"`
	To   string `json:"to"`
}

// Own is how the evaluator's own order stands.
type Own struct {
	Criterion  float64     `json:"criterion"`
	Efficiency float64     `json:"efficiency"` // the best criterion over its own
	Candidates []Candidate `json:"candidates"`
	Detectable *Detectable `json:"detectable,omitempty"`
}

// ReorderDocument is the JSON of an order planned anew, schema
// "bookend.reorder/1".
type ReorderDocument origin.Document[ReorderResults]

// ReorderResults is what the run log keeps of the deviation.
type ReorderResults struct {
	Reason    string      `json:"reason"`
	After     int         `json:"after_stints"` // driven before it
	Sequence  []Stint     `json:"sequence"`     // from the next stint on
	Without   []Without   `json:"without"`      // left out against the plan
	Criterion float64     `json:"criterion"`    // of the whole, what is driven included
	Planned   float64     `json:"planned_criterion,omitempty"`
	Shown     *Detectable `json:"detectable,omitempty"`
	Expected  *Detectable `json:"planned_detectable,omitempty"`
	Proven    bool        `json:"proven"`
}

// Without is how many stints of a candidate are not driven.
type Without struct {
	Code   string `json:"code"`
	Stints int    `json:"stints"`
}
