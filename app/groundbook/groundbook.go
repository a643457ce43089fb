// Package groundbook is what a ground's book keeps of its control: stints of signed-off
// programmes by the key that says which of them may stand together, as rows for a
// comparison, as charts, and as the table that an evaluator types of earlier
// programmes.
//
// Values stand in the measure's unit, positions are stints from the first of a
// sequence. Limits: it keeps and reads; what a record is worth is said by package
// compare/record.
package groundbook

import (
	"fmt"

	"example.org/bookend/compare"
	"example.org/bookend/compare/watch"
	"example.org/bookend/programme"
)

// RecordKey says what control stints may stand in one record. A changed version
// of the procedure begins a new one.
type RecordKey struct {
	Ground      string          `json:"ground"`
	Surface     string          `json:"surface"`
	Procedure   string          `json:"procedure"` // "typed" for typed values
	Version     int             `json:"version"`
	Measure     string          `json:"measure"`
	Place       string          `json:"place,omitempty"`
	Unit        string          `json:"unit,omitempty"`
	Scale       programme.Scale `json:"scale"`
	ControlType string          `json:"control_type"`
	Vehicle     string          `json:"vehicle"`
}

// String names the key for people.
func (k RecordKey) String() string {
	m := k.Measure
	if k.Place != "" {
		m += ", " + k.Place
	}
	p := k.Procedure
	if k.Version > 0 {
		p += fmt.Sprintf(" %d", k.Version)
	}
	return fmt.Sprintf("%s by %s on %s, control %s, %s", m, p, k.Surface, k.ControlType, k.Vehicle)
}

// RecordStint is one control stint. It names no client and no candidate.
type RecordStint struct {
	Programme string  `json:"programme"` // its id
	Date      string  `json:"date"`      // of the sign-off, at the ground
	Block     string  `json:"block"`     // the test, and the day or driver within it
	Position  float64 `json:"position"`
	Value     float64 `json:"value"` // mean of the stint, in the measure's unit
	Runs      int     `json:"runs"`
	Driver    string  `json:"driver,omitempty"`
}

// KeyedStints is the control stints of one key.
type KeyedStints struct {
	Key    RecordKey     `json:"key"`
	Stints []RecordStint `json:"stints"`
}

// Watch is a record of the ground on its charts.
type Watch struct {
	Key    RecordKey `json:"key"`
	SHA256 string    `json:"rows_sha256"`
	*watch.Record
}

func (k KeyedStints) charted() []watch.Stint {
	var out []watch.Stint
	for _, s := range k.Stints {
		out = append(out, watch.Stint{Programme: s.Programme, Name: s.Date, Block: s.Block, Position: s.Position, Value: s.Value})
	}
	return out
}

// Watch charts the stints of a key.
func (k KeyedStints) Watch() (*Watch, error) {
	sum, err := k.Rows().Hash()
	if err != nil {
		return nil, err
	}
	r, err := watch.Chart(k.charted(), k.Key.Scale == programme.Ratio, "")
	if err != nil {
		return nil, err
	}
	return &Watch{Key: k.Key, SHA256: sum, Record: r}, nil
}

// Watched charts the rows that a comparison had at hand with its own control
// stints beside them. A programme that has no name is called as the rows call it.
func Watched(r *compare.Result, names map[string]string) (*watch.Record, error) {
	const here = "this programme"
	var list []watch.Stint
	for _, x := range r.Record.Rows {
		name := names[x.Programme]
		if name == "" {
			name = x.Programme
		}
		list = append(list, watch.Stint{Programme: x.Programme, Name: name, Block: x.Block, Position: x.Position, Value: x.Value})
	}
	for _, s := range r.Stints {
		if s.Control {
			list = append(list, watch.Stint{Programme: here, Name: "now", Block: s.Block, Position: s.Position, Value: s.Equal})
		}
	}
	return watch.Chart(list, r.Scale == programme.Ratio, here)
}

// Rows gives the stints as compare takes them.
func (k KeyedStints) Rows() *compare.Record {
	r := &compare.Record{Name: "of the ground"}
	for _, s := range k.Stints {
		r.Rows = append(r.Rows, compare.RecordRow{Programme: s.Programme, Block: s.Block, Position: s.Position, Value: s.Value})
	}
	return r
}
