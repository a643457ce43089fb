// Package written writes what a comparison rests on as the parts of a JSON document:
// the control's movement, the error model and the record behind it, the budget of an
// interval, letters, and the block of a regulation.
//
// Values are in the unit of the measure, differences on its scale; what there is none
// of is left out. It computes nothing.
package written

import (
	"example.org/bookend/compare"
)

// Error is what a comparison is judged by, in its JSON. Standard
// deviations stand on the analysis scale: of logarithms for ratios, else in the
// unit.
type Error struct {
	Model  string   `json:"model"` // stint_means or mixed
	About  string   `json:"about"` // what stints scatter about
	SD     *float64 `json:"sd,omitempty"`
	DF     float64  `json:"df"`
	Method string   `json:"method"` // how degrees of freedom are counted
	Parts  []Part   `json:"parts"`
}

// Part is one standard deviation that the scatter is made of.
type Part struct {
	Name string  `json:"name"`
	SD   float64 `json:"sd"`
	Zero bool    `json:"zero"` // estimated, and exactly zero
}

// Record is what the ground's record gave.
type Record struct {
	Name       string   `json:"name"`
	Hash       string   `json:"rows_sha256"` // of the rows used
	Rows       int      `json:"rows"`
	Programmes int      `json:"programmes"`
	Used       bool     `json:"used"`
	Why        string   `json:"why,omitempty"` // it is not used
	Method     string   `json:"method"`        // pooled, moderated or own
	SD         float64  `json:"sd"`
	DF         float64  `json:"df"`
	RecordSD   float64  `json:"record_sd"`
	RecordDF   float64  `json:"record_df"`
	OwnSD      float64  `json:"programme_sd"`
	OwnDF      float64  `json:"programme_df"`
	F          float64  `json:"f"` // own variance over the record's
	FLimit     float64  `json:"f_limit"`
	P          float64  `json:"p"`
	WalkSD     *float64 `json:"walk_sd,omitempty"` // from one position to the next
}

// Alone is what is said of a candidate without the record.
type Alone struct {
	Verdict        string   `json:"verdict"`
	IndexLow       *float64 `json:"index_low,omitempty"`
	IndexHigh      *float64 `json:"index_high,omitempty"`
	DifferenceLow  *float64 `json:"difference_low,omitempty"`
	DifferenceHigh *float64 `json:"difference_high,omitempty"`
	DF             float64  `json:"df"`
}

// ErrorOf writes the error model.
func ErrorOf(e *compare.ErrorModel) Error {
	out := Error{Model: string(e.Model), About: e.About, SD: e.SD, DF: e.DF, Method: e.DFMethod, Parts: []Part{}}
	for _, p := range e.Parts {
		out.Parts = append(out.Parts, Part{Name: p.Name, SD: p.SD, Zero: p.Zero})
	}
	return out
}

// RecordOf writes the control's record that was used; nil where none was.
func RecordOf(r *compare.Result) *Record {
	b := r.Record
	if b == nil {
		return nil
	}
	out := &Record{
		Name: b.Name, Hash: b.Hash, Rows: len(b.Rows), Programmes: b.Programmes, Used: b.Used, Why: b.Why, Method: b.Method,
		SD: b.SD, DF: b.DF, RecordSD: b.RecordSD, RecordDF: b.RecordDF, OwnSD: b.OwnSD, OwnDF: b.OwnDF, F: b.F, FLimit: b.FLimit, P: b.P,
	}
	if b.Walk != nil {
		out.WalkSD = &b.Walk.StepSD
	}
	return out
}

// AloneOf writes what these runs say by themselves, without the record; nil where they
// are not beside one.
func AloneOf(a *compare.Alone) *Alone {
	if a == nil {
		return nil
	}
	return &Alone{Verdict: a.Verdict.Word.Key(), IndexLow: a.IndexLow, IndexHigh: a.IndexHigh,
		DifferenceLow: a.DiffLow, DifferenceHigh: a.DiffHigh, DF: a.Verdict.DF}
}
