package app

import (
	"context"

	"example.org/bookend/app/origin"
	"example.org/bookend/caveat"
	"example.org/bookend/compare/explain"
	"example.org/bookend/report"
)

// ExplainDocument is the JSON of which measures explain which ratings, schema
// "bookend.explain/1".
type ExplainDocument struct {
	Schema  string          `json:"schema"`
	Inputs  []origin.Hashed `json:"inputs"`
	Results ExplainResults  `json:"results"`
	Caveats caveat.List     `json:"caveats"`
}

// ExplainResults is the pairs of a rating and a measure, rating by rating.
type ExplainResults struct {
	Tyres  int           `json:"tyres"` // that most pairs rest on, the control among them
	Looked int           `json:"looked"`
	Pairs  []ExplainPair `json:"pairs"`
}

// ExplainPair is a rating and a measure.
type ExplainPair struct {
	Rating   string   `json:"rating"`
	Measure  string   `json:"measure"`
	Tyres    int      `json:"tyres"`
	Pearson  *float64 `json:"correlation,omitempty"`
	Spearman *float64 `json:"correlation_of_ranks,omitempty"`
	P        *float64 `json:"p_alone,omitempty"`
	Adjusted *float64 `json:"p,omitempty"` // over all pairs
	Shown    bool     `json:"shown"`
	Failed   string   `json:"failed,omitempty"`
}

// ExplainAnswer is which measures explain which ratings.
type ExplainAnswer struct {
	Inputs []origin.Hashed
	Result *explain.Result
}

// Explain says which first measures of a programme's tests explain which ratings: those
// of closed sheets, and those of tables that name a rater. Estimates are those of the
// report, so that the request is one of a report; that they were seen is an entry.
func (f *Folder) Explain(ctx context.Context, q TestsRequest) (*ExplainAnswer, error) {
	in, err := f.compareTests(ctx, q)
	if err != nil {
		return nil, err
	}
	r, err := report.Explain(in)
	if err != nil {
		return nil, err
	}
	a := &ExplainAnswer{Result: r}
	for _, h := range in.Inputs {
		a.Inputs = append(a.Inputs, origin.Hashed{Name: h.Name, SHA256: h.SHA256})
	}
	return a, nil
}

// Document gives the answer in the form of its JSON.
func (a *ExplainAnswer) Document() ExplainDocument {
	r := a.Result
	d := ExplainDocument{Schema: "bookend.explain/1", Inputs: a.Inputs, Caveats: append(caveat.List{}, r.Caveats...),
		Results: ExplainResults{Tyres: r.Tyres, Looked: r.Looked, Pairs: []ExplainPair{}}}
	for i := range r.Pairs {
		q := r.Pairs[i]
		x := ExplainPair{Rating: r.Attributes[q.Attribute].Named(), Measure: r.Measures[q.Measure].Named(), Tyres: len(q.Codes), Shown: q.Shown, Failed: q.Failed}
		if q.Failed == "" {
			x.Pearson, x.Spearman, x.P, x.Adjusted = &q.Pearson, &q.Spearman, &q.PearsonP, &q.Adjusted
		}
		d.Results.Pairs = append(d.Results.Pairs, x)
	}
	return d
}
