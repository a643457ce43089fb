package app

import (
	"context"

	"example.org/bookend/app/origin"
	"example.org/bookend/caveat"
	"example.org/bookend/compare"
	"example.org/bookend/order"
)

// InterimAnswer is what a client may see while a test goes on: codes, estimates
// and intervals, marked with the stint reached; no verdict but at a look that the
// plan names. It is for no page of whoever drives or rates.
type InterimAnswer struct {
	Of      *CompareAnswer
	Test    string
	Stints  int      // driven
	Planned int      // stints of the whole plan; 0: not told
	Look    string   // of the plan, in words; empty: none is due
	Told    bool     // verdicts are told: a planned look, or the end
	Open    []string // codes whose bracket no control has closed yet
}

// Interim compares what a test has so far. It counts as a look, and is logged as
// one, since whoever reads it has seen how candidates compare.
func (f *Folder) Interim(ctx context.Context, q TestRequest) (*InterimAnswer, error) {
	c, err := f.Compare(ctx, q)
	if err != nil {
		return nil, err
	}
	return interimOf(q, c), nil
}

// InterimSeen gives the interim view where exactly that was looked at before, which is
// no new look; nil where it was not, and nothing of it is told.
func (f *Folder) InterimSeen(ctx context.Context, q TestRequest) (*InterimAnswer, error) {
	c, h, err := f.compared(ctx, q)
	if err != nil {
		return nil, err
	}
	rest, err := h.unseen(q.Test, c.planned(), driven(c.Log), []*compare.Both{c.Both})
	if err != nil || len(rest.Measures) > 0 {
		return nil, err
	}
	return interimOf(q, c), nil
}

func interimOf(q TestRequest, c *CompareAnswer) *InterimAnswer {
	a := &InterimAnswer{Of: c, Test: q.Test, Stints: driven(c.Log)}
	if p := c.Plan; p != nil && p.Test != nil {
		a.Planned = p.Test.Stints
		words, _, planned := p.Test.Look(a.Stints)
		if a.Told = planned && p.Test.Stints > 0; a.Told {
			a.Look = words
		}
	}
	for _, block := range c.Log.Blocks() {
		var codes []string
		for _, s := range block {
			codes = append(codes, s.Code)
		}
		_, open := order.Closed(c.Both.Result.Control, [][]string{codes})
		a.Open = append(a.Open, open...)
	}
	return a
}

// InterimDocument is the JSON of an interim view, schema "bookend.interim/1".
type InterimDocument origin.Document[InterimResults]

// InterimResults is the part of the JSON that holds the numbers.
type InterimResults struct {
	Interim bool         `json:"interim"` // always: what is said here is not the end
	Test    string       `json:"test"`
	Measure string       `json:"measure"`
	Stints  int          `json:"stints"`
	Planned int          `json:"planned_stints,omitempty"`
	Look    string       `json:"look,omitempty"`
	Open    []string     `json:"open"`
	Rows    []InterimRow `json:"rows"`
}

// InterimRow is one candidate by now.
type InterimRow struct {
	Code           string   `json:"code"`
	Index          *float64 `json:"index,omitempty"`
	IndexLow       *float64 `json:"index_low,omitempty"`
	IndexHigh      *float64 `json:"index_high,omitempty"`
	Difference     *float64 `json:"difference,omitempty"`
	DifferenceLow  *float64 `json:"difference_low,omitempty"`
	DifferenceHigh *float64 `json:"difference_high,omitempty"`
	Stints         int      `json:"stints"`
	Verdict        string   `json:"verdict,omitempty"` // only at a planned look
}

// Document gives the answer in the form of its JSON.
func (a *InterimAnswer) Document() InterimDocument {
	r := a.Of.Both.Result
	d := InterimDocument{Schema: "bookend.interim/1", Inputs: append([]origin.Hashed{}, a.Of.Inputs...), Settings: map[string]string{}, Caveats: caveat.List{}}
	for _, s := range r.Spelled {
		d.Settings[s.Key] = s.Value
	}
	d.Results = InterimResults{Interim: true, Test: a.Test, Measure: r.Measure.ID, Stints: a.Stints, Planned: a.Planned, Look: a.Look, Open: append([]string{}, a.Open...), Rows: []InterimRow{}}
	for _, row := range r.Rows {
		d.Results.Rows = append(d.Results.Rows, a.row(&row))
	}
	if len(a.Open) > 0 {
		d.Caveats.Add("open_block", caveat.Place{Test: a.Test}, "No control has closed the bracket of %s yet.", join(a.Open))
	}
	if !a.Told {
		d.Caveats.Add("no_verdict_yet", caveat.Place{Test: a.Test}, "No verdict is told before a look that the plan names: one that is read off early is wrong more often than it says.")
	}
	return d
}

func (a *InterimAnswer) row(row *compare.Row) InterimRow {
	out := InterimRow{Code: row.Code, Stints: row.Stints,
		Index: row.Index, IndexLow: row.IndexLow, IndexHigh: row.IndexHigh,
		Difference: row.Difference, DifferenceLow: row.DiffLow, DifferenceHigh: row.DiffHigh}
	if a.Told {
		out.Verdict = row.Verdict.Word.Key()
	}
	return out
}
