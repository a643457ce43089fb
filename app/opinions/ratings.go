// Package opinions compares what raters said of tyres, from a typed table: by
// attribute, over all attributes, and how well raters agree.
//
// Values are points of the rating scale; the methods are those of package
// compare/opinion, with their sources and limits.
package opinions

import (
	"bytes"

	"example.org/bookend/app/origin"
	"example.org/bookend/caveat"
	"example.org/bookend/compare"
	"example.org/bookend/compare/opinion"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/table"
)

// Request asks for the comparison of rating sheets.
type Request struct {
	Name     string // of the sheet's file, for messages
	Data     []byte
	Columns  map[string]string
	Control  string
	Also     []string // codes under which the control was rated too, blind
	Sheet    opinion.Sheet
	Targets  map[string]float64 // attributes best in the middle, and where
	Weights  map[string]float64 // nil: no overall
	Settings compare.Settings
}

// Answer is what rating sheets show.
type Answer struct {
	Inputs []origin.Hashed
	Log    programme.Log
	Result *opinion.Result
}

// Compare compares rating sheets.
func Compare(q Request) (*Answer, error) {
	t, err := table.ReadRatings(bytes.NewReader(q.Data), table.Options{Name: q.Name, Columns: q.Columns})
	if err != nil {
		return nil, err
	}
	r, err := opinion.Compare(opinion.Input{Log: t.Log, Control: q.Control, Also: q.Also, Sheet: q.Sheet, Targets: q.Targets,
		Weights: q.Weights, Settings: q.Settings})
	if err != nil {
		return nil, fault.At(err, "%s", q.Name)
	}
	return &Answer{Inputs: []origin.Hashed{{Name: q.Name, SHA256: origin.HashOf(q.Data)}}, Log: t.Log, Result: r}, nil
}

// Document is the JSON of a comparison of ratings, schema
// "bookend.ratings/1". Differences are in points, positive better.
type Document origin.Document[Results]

// Results is the part that holds the numbers.
type Results struct {
	Sheet      opinion.Sheet `json:"sheet"`
	Stints     int           `json:"stints"`
	Shared     bool          `json:"shared"` // several raters a stint
	Raters     []Rater       `json:"raters"`
	Attributes []RatedItem   `json:"attributes"`
	Overall    *Overall      `json:"overall,omitempty"`
}

// Rater is one rater.
type Rater struct {
	Rater           string   `json:"rater"`
	Sheets          int      `json:"sheets"`
	Controls        int      `json:"controls"`
	Severity        *float64 `json:"severity,omitempty"` // points above the mean rater
	SeveritySE      *float64 `json:"severity_se,omitempty"`
	RepeatabilitySD *float64 `json:"repeatability_sd,omitempty"`
	RepeatabilityDF float64  `json:"repeatability_df"`
	Drift           *float64 `json:"drift_per_position,omitempty"`
	DriftP          *float64 `json:"drift_p,omitempty"`
}

// RatedItem is one attribute.
type RatedItem struct {
	Attribute string     `json:"attribute"`
	Target    *float64   `json:"target,omitempty"` // best in the middle, and where
	Control   *float64   `json:"control_mean,omitempty"`
	Rows      []RatedRow `json:"rows"`
	Failed    string     `json:"failed,omitempty"`
	RatersP   *float64   `json:"raters_p,omitempty"` // that they are equally severe
	Agreement *Agreement `json:"agreement,omitempty"`
	Ordinal   string     `json:"ordinal,omitempty"` // why there is no ordinal model; empty where there is
}

// RatedRow is one candidate in one attribute.
type RatedRow struct {
	Code       string     `json:"code"`
	Verdict    string     `json:"verdict"`
	About      string     `json:"about"`
	Mean       float64    `json:"mean"`
	Difference *float64   `json:"difference,omitempty"`
	Low        *float64   `json:"difference_low,omitempty"`
	High       *float64   `json:"difference_high,omitempty"`
	P          *float64   `json:"p,omitempty"`
	DF         float64    `json:"df"`
	Stints     int        `json:"stints"`
	Detectable *float64   `json:"detectable,omitempty"`
	ByRater    []*float64 `json:"by_rater,omitempty"` // in the order of raters
	LogOdds    *float64   `json:"ordinal_log_odds,omitempty"`
	LogOddsP   *float64   `json:"ordinal_p,omitempty"`
}

// Agreement is how far raters agree.
type Agreement struct {
	Stints       int      `json:"stints"`
	ICC          *float64 `json:"icc,omitempty"` // ICC(2,1)
	ICCLow       *float64 `json:"icc_low,omitempty"`
	ICCHigh      *float64 `json:"icc_high,omitempty"`
	ICCMean      *float64 `json:"icc_of_mean,omitempty"` // ICC(2,k)
	KendallW     float64  `json:"kendall_w"`
	KendallP     float64  `json:"kendall_p"`
	Alpha        *float64 `json:"krippendorff_alpha,omitempty"` // interval scale
	AlphaOrdinal *float64 `json:"krippendorff_alpha_ordinal,omitempty"`
}

// Overall is the weighted sum.
type Overall struct {
	Weights map[string]float64 `json:"weights"` // summing to one
	Left    []string           `json:"left_out"`
	Rows    []RatedRow         `json:"rows"`
	Failed  string             `json:"failed,omitempty"`
	Leader  string             `json:"leader"`
	Exact   bool               `json:"exact"`
	Leads   []Lead             `json:"leads"`
	Turns   []Turn             `json:"turns"`
}

// Lead is the share of all weightings under which a code leads.
type Lead struct {
	Code  string  `json:"code"`
	Share float64 `json:"share"`
	SE    float64 `json:"share_se"`
}

// Turn is the weight of an attribute at which another code leads.
type Turn struct {
	Attribute string  `json:"attribute"`
	From      float64 `json:"weight_from"`
	To        float64 `json:"weight_to"`
	Leader    string  `json:"leader"`
}

func ratedRows(list []opinion.Row) []RatedRow {
	out := []RatedRow{}
	for _, r := range list {
		out = append(out, RatedRow{Code: r.Code, Verdict: r.Verdict.Word.Key(), About: string(r.Verdict.About), Mean: r.Mean,
			Difference: r.Difference, Low: r.Low, High: r.High, P: r.P, DF: r.Verdict.DF, Stints: r.Stints, Detectable: r.Detectable,
			ByRater: r.ByRater, LogOdds: r.OrdinalOdds, LogOddsP: r.OrdinalP})
	}
	return out
}

// Document gives the answer in the form of its JSON.
func (a *Answer) Document() Document {
	r := a.Result
	d := Document{Schema: "bookend.ratings/1", Inputs: a.Inputs, Settings: map[string]string{}, Caveats: caveat.List{}}
	d.Results.Sheet, d.Results.Stints, d.Results.Shared = r.Sheet, r.Stints, r.Shared
	for _, p := range r.Raters {
		d.Results.Raters = append(d.Results.Raters, Rater{Rater: p.Name, Sheets: p.Sheets, Controls: p.Controls, Severity: p.Severity,
			SeveritySE: p.SeveritySE, RepeatabilitySD: p.Repeatability, RepeatabilityDF: p.DF, Drift: p.Drift, DriftP: p.DriftP})
	}
	for _, x := range r.Attributes {
		item := RatedItem{Attribute: x.Name, Target: x.Target, Control: x.Control, Rows: ratedRows(x.Rows), Failed: x.Failed, RatersP: x.RaterP, Ordinal: x.Graded}
		if g := x.Agreement; g != nil {
			out := Agreement{Stints: g.Stints, KendallW: g.W, KendallP: g.WP, Alpha: g.Alpha, AlphaOrdinal: g.AlphaOrdinal}
			if g.ICC.Defined {
				v, low, high := g.ICC.Value, g.ICC.Low, g.ICC.High
				out.ICC, out.ICCHigh = &v, &high
				if !g.ICC.NoLow {
					out.ICCLow = &low
				}
			}
			if g.ICCMean.Defined {
				v := g.ICCMean.Value
				out.ICCMean = &v
			}
			item.Agreement = &out
		}
		if len(d.Settings) == 0 && x.Result != nil {
			for _, s := range x.Result.Spelled {
				d.Settings[s.Key] = s.Value
			}
		}
		d.Results.Attributes = append(d.Results.Attributes, item)
	}
	if o := r.Overall; o != nil {
		out := &Overall{Weights: map[string]float64{}, Left: append([]string{}, o.Left...), Rows: ratedRows(o.Rows), Failed: o.Failed,
			Leader: o.Leader, Exact: o.Exact, Leads: []Lead{}, Turns: []Turn{}}
		for i, n := range o.Names {
			out.Weights[n] = o.Weights[i]
		}
		for _, l := range o.Leads {
			out.Leads = append(out.Leads, Lead{l.Code, l.Share, l.Error})
		}
		for _, t := range o.Turns {
			out.Turns = append(out.Turns, Turn{t.Attribute, t.From, t.To, t.Leader})
		}
		d.Results.Overall = out
	}
	d.Caveats = append(d.Caveats, a.Caveats()...)
	return d
}

// Caveats gives all that a reader must know about the answer, each once.
func (a *Answer) Caveats() caveat.List {
	var all caveat.List
	all = append(all, a.Result.Caveats...)
	for _, x := range a.Result.Attributes {
		all = append(all, x.Caveats...)
	}
	return all.Distinct()
}
