package app

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"

	"example.org/bookend/app/groundbook"
	"example.org/bookend/app/origin"
	"example.org/bookend/app/testplan"
	"example.org/bookend/app/written"
	"example.org/bookend/caveat"
	"example.org/bookend/compare"
	"example.org/bookend/compare/threshold"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/programme/attribute"
	"example.org/bookend/report"
	"example.org/bookend/table"
)

// CompareRequest asks for the comparison of a table without a programme.
type CompareRequest struct {
	Name     string // of the table, for messages
	Data     []byte
	Columns  map[string]string // by bookend's name: the name in the table
	Rows     bool              // every row is a stint of its own
	Control  string
	Better   programme.Better
	Scale    programme.Scale // empty: ratio
	Measure  string          // of a table with several; empty: its only one
	Block    string          // column that names the blocks; empty: as the table's block column says
	Settings compare.Settings
	History  *groundbook.History // control stints of earlier programmes; nil: none
	Plan     *testplan.Plan      // the frozen plan, of one test; nil: none
	Override Override            // what is asked for otherwise than planned; nil: nothing
	Reason   string              // why
	Author   string              // who asks
}

// CompareAnswer is what the comparison of a table shows.
type CompareAnswer struct {
	Inputs []origin.Hashed
	Log    programme.Log // what was compared
	Both   *compare.Both
	Plan   *Planned // how it stands to the frozen plan; nil where there is none
}

// CompareTable compares the candidates of a table with its control.
func CompareTable(q CompareRequest) (*CompareAnswer, error) {
	t, err := table.Read(bytes.NewReader(q.Data), table.Options{Name: q.Name, Columns: q.Columns, EachRowAStint: q.Rows})
	if err != nil {
		return nil, err
	}
	log := t.Log
	if q.Block != "" {
		if log, err = t.InBlocks(q.Block); err != nil {
			return nil, err
		}
		q.Settings.Block = q.Block
	}
	if q.Plan != nil {
		if err := q.fromPlan(); err != nil {
			return nil, err
		}
	}
	measure := q.Measure
	if measure == "" {
		if len(t.Measures) != 1 {
			return nil, fault.New(fault.Invalid, "the table holds several measures").At("%s", q.Name).
				WithHint("choose one with --measure: %s", join(t.Measures))
		}
		measure = t.Measures[0]
	}
	scale := q.Scale
	if scale == "" {
		scale = programme.Ratio
	}
	m := Typed(measure, t, q.Better, scale)
	q.Settings.Scale = m.Scale
	in := compare.Input{Log: log, Measure: m, Control: q.Control, Settings: q.Settings}
	sum := sha256.Sum256(q.Data)
	inputs := []origin.Hashed{{Name: q.Name, SHA256: hex.EncodeToString(sum[:])}}
	if q.History != nil {
		var used origin.Hashed
		if in.Record, used, err = q.History.Record(measure, t.Unit); err != nil {
			return nil, err
		}
		inputs = append(inputs, used)
	}
	a := &CompareAnswer{Inputs: inputs, Log: log}
	if q.Plan != nil {
		a.Both, a.Plan, err = q.inTable(in)
	} else {
		a.Both, err = compare.CompareBoth(in)
	}
	if err != nil {
		return nil, err
	}
	return a, nil
}

// mostDecimals are printed of typed values: a spreadsheet writes out every digit
// that it computed. House choice.
const mostDecimals = 4

// Typed declares the measure of a column of typed values. A mean of a few runs is
// known to a digit more than one of them. What people rated is compared by
// differences, whatever the table's other values are: points have no ratio. Which
// ratings are better is known of the attributes of the trade's sheet; one that is best
// in the middle has no better before its target is declared.
func Typed(id string, t *table.Table, better programme.Better, scale programme.Scale) programme.Measure {
	if isRated(t.Log, id) {
		scale = programme.Difference
		if a, ok := attribute.Of(id); ok {
			better = programme.Higher
			if a.Scale.Middle {
				better = programme.Nearest
			}
		}
	}
	return programme.Measure{
		ID: id, Title: id, Unit: t.Unit, Shown: t.Typed, Better: better, Scale: scale, Digits: min(t.Decimals+1, mostDecimals),
		Error: "scatter of stint means alike for all codes", About: "typed in",
		Source: programme.Source{Key: programme.Own, Clause: "a column of the table"},
	}
}

// CompareRow is one candidate in the JSON of a comparison.
type CompareRow struct {
	Code           string         `json:"code"`
	Verdict        string         `json:"verdict"`
	About          string         `json:"about"`
	AboutWhy       string         `json:"about_why,omitempty"`
	Because        string         `json:"because,omitempty"`        // why there is no more to say
	StepP          *float64       `json:"p_step_by_step,omitempty"` // for decisions alone: no interval belongs to it
	Index          *float64       `json:"index,omitempty"`
	IndexLow       *float64       `json:"index_low,omitempty"`
	IndexHigh      *float64       `json:"index_high,omitempty"`
	Difference     *float64       `json:"difference,omitempty"`
	DifferenceLow  *float64       `json:"difference_low,omitempty"`
	DifferenceHigh *float64       `json:"difference_high,omitempty"`
	SE             *float64       `json:"se,omitempty"` // on the analysis scale: of the logarithm for ratios, else in the unit
	T              *float64       `json:"t,omitempty"`
	P              *float64       `json:"p,omitempty"` // adjusted for all comparisons
	DF             float64        `json:"df"`
	Comparisons    int            `json:"comparisons"`
	Stints         int            `json:"stints"`
	Runs           int            `json:"runs"`
	Detectable     *float64       `json:"detectable,omitempty"`
	Alone          *written.Alone `json:"without_record,omitempty"`
}

// CompareDocument is the JSON of a comparison, schema "bookend.compare/1".
type CompareDocument origin.Document[CompareResults]

// CompareResults is the part of the JSON that holds the numbers.
type CompareResults struct {
	Rows       []CompareRow        `json:"rows"`
	Unit       string              `json:"unit,omitempty"` // of differences, SI; empty where the measure has none
	Thresholds []StintThreshold    `json:"thresholds,omitempty"`
	Control    written.Control     `json:"control"`
	Letters    []written.Letters   `json:"letters"` // candidates among each other; empty where nobody can tell
	Budget     []written.Budget    `json:"budget"`  // empty where there is no interval
	Error      written.Error       `json:"error"`
	Record     *written.Record     `json:"record,omitempty"`     // where a history was given
	Plan       *ComparePlan        `json:"plan,omitempty"`       // where one is frozen
	Regulation *written.Regulation `json:"regulation,omitempty"` // where a profile was asked for
}

// StintThreshold is what a stint's attempts say of its threshold, in m/s.
type StintThreshold struct {
	Stint    string  `json:"stint"`
	Code     string  `json:"code"`
	Attempts int     `json:"attempts"`
	Clean    int     `json:"clean"`
	Speed    float64 `json:"speed_mps"`
	Side     string  `json:"side"` // found; above: every attempt was clean, below: none was
	SE       float64 `json:"se"`   // from the attempts alone
	Step     float64 `json:"step"` // largest between speeds tried around it
}

// thresholdsOf gives the thresholds of a result; empty for other measures.
func thresholdsOf(r *compare.Result) []StintThreshold {
	var out []StintThreshold
	for _, s := range r.Stints {
		if l := s.Threshold; l != nil {
			side := map[threshold.Side]string{threshold.Found: "found", threshold.Above: "above", threshold.Below: "below"}[l.Side]
			out = append(out, StintThreshold{Stint: s.ID, Code: s.Code, Attempts: l.Attempts, Clean: l.Clean, Speed: l.Speed, Side: side, SE: l.SE, Step: l.Step})
		}
	}
	return out
}

// Title gives the answer as a sentence, as the report has it; empty where the
// report has none.
func (a *CompareAnswer) Title() string {
	d, err := report.Build(report.Input{Tests: []report.Test{{Log: a.Log, Measures: []report.Measured{{Both: a.Both}}}}})
	if err != nil {
		return ""
	}
	return d.Title.String()
}

// Document gives the answer in the form of its JSON.
func (a *CompareAnswer) Document() CompareDocument {
	r := a.Both.Result
	d := CompareDocument{Schema: "bookend.compare/1", Inputs: a.Inputs, Settings: map[string]string{}, Caveats: caveat.List{}}
	for _, s := range r.Spelled {
		d.Settings[s.Key] = s.Value
	}
	d.Results.Rows, d.Results.Plan = rowsOf(r), a.Plan.document()
	d.Results.Error, d.Results.Record = written.ErrorOf(&r.Error), written.RecordOf(r)
	d.Results.Regulation = written.RegulationOf(r)
	d.Results.Unit, d.Results.Thresholds = r.Measure.Unit, thresholdsOf(r)
	d.Results.Control, d.Results.Letters, d.Results.Budget = written.ControlOf(r), written.LettersOf(r), written.BudgetOf(r)
	d.Caveats = append(d.Caveats, a.Caveats()...)
	return d
}

// rowsOf gives the candidates of a result.
func rowsOf(r *compare.Result) []CompareRow {
	var out []CompareRow
	for _, row := range r.Rows {
		out = append(out, CompareRow{
			Code: row.Code, Verdict: row.Verdict.Word.Key(), About: string(row.Verdict.About), AboutWhy: row.Verdict.AboutWhy, Because: row.Verdict.Because, StepP: row.StepP,
			Index: row.Index, IndexLow: row.IndexLow, IndexHigh: row.IndexHigh,
			Difference: row.Difference, DifferenceLow: row.DiffLow, DifferenceHigh: row.DiffHigh,
			SE: row.SE, T: row.T, P: row.P,
			DF: row.Verdict.DF, Comparisons: row.Verdict.Comparisons,
			Stints: row.Stints, Runs: row.Runs, Detectable: row.Detectable, Alone: written.AloneOf(row.Alone),
		})
	}
	return out
}

// Caveats gives all that a reader must know about the answer, each once.
func (a *CompareAnswer) Caveats() caveat.List {
	r := a.Both.Result
	all := append(r.Caveats[:len(r.Caveats):len(r.Caveats)], a.Log.Caveats...)
	for _, row := range r.Rows {
		all = append(all[:len(all):len(all)], row.Caveats.Within(caveat.Place{Code: row.Code})...)
	}
	return all.Distinct()
}
