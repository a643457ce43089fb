// Package linked compares tyres of two tables that never met, through one that both
// tables have.
//
// Values are on the measure's scale. Limits: the linking tyre is taken as the same in
// both tables, and variances add along the chain.
package linked

import (
	"math"

	"example.org/bookend/app"
	"example.org/bookend/app/origin"
	"example.org/bookend/caveat"
	"example.org/bookend/compare"
	"example.org/bookend/compare/link"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

// Request asks for tyres of one table against one of another, through a link
// tyre that both have.
type Request struct {
	First, Second app.CompareRequest
	Link          string // the link tyre's code in the first table
	LinkSecond    string // in the second; empty: the same
	Against       string // of the second table, what all is put against; empty: its control
	Margin        *compare.Margin
}

// Answer is what the chain shows.
type Answer struct {
	Inputs  []origin.Hashed
	Chain   *link.Chained
	Ratio   bool
	Digits  int
	Title   string // of the measure
	Caveats caveat.List
}

// Link chains two tables.
func Link(q Request) (*Answer, error) {
	first, err := app.CompareTable(q.First)
	if err != nil {
		return nil, fault.At(err, "the first table")
	}
	second, err := app.CompareTable(q.Second)
	if err != nil {
		return nil, fault.At(err, "the second table")
	}
	a, b := first.Both.Result, second.Both.Result
	if q.LinkSecond == "" {
		q.LinkSecond = q.Link
	}
	if q.Against == "" {
		q.Against = b.Control
	}
	asked := link.Asked{}
	if m := q.Margin; m != nil {
		switch {
		case a.Scale == programme.Difference:
			asked.Margin = &m.Value
		case m.InUnit:
			return nil, fault.New(fault.Invalid, "a margin in the unit means nothing to a product of ratios").WithHint("give it in index points")
		default:
			v := math.Log1p(m.Value / 100)
			asked.Margin = &v
		}
	}
	out := &Answer{Inputs: append(first.Inputs, second.Inputs...), Ratio: a.Scale == programme.Ratio, Digits: a.Measure.Digits, Title: a.Measure.Title}
	if out.Chain, err = compare.Linked(asked, a, q.Link, b, q.LinkSecond, q.Against); err != nil {
		return nil, err
	}
	out.Caveats = append(append(append(out.Caveats, out.Chain.Caveats...), first.Caveats()...), second.Caveats()...).Distinct()
	return out, nil
}

// Document is the JSON of a chain, schema "bookend.link/1".
type Document struct {
	Schema  string          `json:"schema"`
	Inputs  []origin.Hashed `json:"inputs"`
	Results Results         `json:"results"`
	Caveats caveat.List     `json:"caveats"`
}

// Results is the part that holds the numbers.
type Results struct {
	Against string   `json:"against"`
	Through []string `json:"through"`
	Rows    []Row    `json:"rows"`
}

// Row is one tyre.
type Row struct {
	Code      string    `json:"code"`
	Verdict   string    `json:"verdict"`
	Index     *float64  `json:"index,omitempty"`
	IndexLow  *float64  `json:"index_low,omitempty"`
	IndexHigh *float64  `json:"index_high,omitempty"`
	Value     *float64  `json:"difference,omitempty"`
	Low       *float64  `json:"difference_low,omitempty"`
	High      *float64  `json:"difference_high,omitempty"`
	DF        float64   `json:"df"`
	Shares    []float64 `json:"variance_shares"` // link by link from the tyre on
}

// Document gives the answer in the form of its JSON.
func (a *Answer) Document() Document {
	d := Document{Schema: "bookend.link/1", Inputs: a.Inputs, Caveats: append(caveat.List{}, a.Caveats...)}
	d.Results = Results{Against: a.Chain.Against, Through: a.Chain.Through, Rows: []Row{}}
	for _, r := range a.Chain.Rows {
		row := Row{Code: r.Code, Verdict: r.Verdict.Word.Key(), Index: r.Index, IndexLow: r.IndexLow, IndexHigh: r.IndexHigh, DF: r.DF, Shares: r.Parts}
		if !a.Ratio {
			row.Value, row.Low, row.High = r.Verdict.Estimate, r.Verdict.Low, r.Verdict.High
		}
		d.Results.Rows = append(d.Results.Rows, row)
	}
	return d
}
