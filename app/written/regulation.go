package written

import (
	"example.org/bookend/compare"
	"example.org/bookend/programme"
)

// Regulation is a block as a regulation has it, in the JSON of a comparison.
// What it says is indicative, and Indicative says why.
type Regulation struct {
	Profile    string          `json:"profile"`
	Version    int             `json:"version"`
	Discarded  bool            `json:"discarded"` // the control's scatter is over its limit: nothing stands
	Indicative []string        `json:"indicative"`
	Rows       []RegulationRow `json:"rows"`
	Validity   []Judged        `json:"validity"`
}

// RegulationRow is one stint of a candidate.
type RegulationRow struct {
	Stint      string   `json:"stint"`
	Code       string   `json:"code"`
	Category   string   `json:"category"`
	Mean       float64  `json:"mean"` // deceleration in m/s², or coefficient
	CV         *float64 `json:"cv_percent,omitempty"`
	Weighted   float64  `json:"weighted_control"`
	BFC        *float64 `json:"braking_force_coefficient,omitempty"`
	BFCControl *float64 `json:"braking_force_coefficient_control,omitempty"`
	Ratio      float64  `json:"ratio"`
	SurfaceC   *float64 `json:"surface_temperature_degc,omitempty"`
	Index      *float64 `json:"index,omitempty"` // of the regulation, not the one with the control at 100
	Class      string   `json:"class,omitempty"`
	Stands     bool     `json:"stands"`
	Why        []string `json:"why"`
}

// Judged is one value held against one limit.
type Judged struct {
	Field    string             `json:"field"`
	Stint    string             `json:"stint,omitempty"`
	To       string             `json:"to,omitempty"`
	Run      string             `json:"run,omitempty"`
	Value    *float64           `json:"value,omitempty"`
	Low      *float64           `json:"low,omitempty"`
	High     *float64           `json:"high,omitempty"`
	Unit     string             `json:"unit"`
	Standing programme.Standing `json:"standing"`
	Source   programme.Source   `json:"source"`
}

// RegulationOf gives the block of a result; nil where no profile was asked for.
func RegulationOf(r *compare.Result) *Regulation {
	if r.Block == nil {
		return nil
	}
	b := &Regulation{
		Profile: r.Block.Profile.ID, Version: r.Block.Profile.Version, Discarded: r.Block.Discarded,
		Indicative: append([]string{}, r.Block.Indicative...), Rows: []RegulationRow{}, Validity: judged(r.Validity),
	}
	for _, row := range r.Block.Rows {
		b.Rows = append(b.Rows, RegulationRow{
			Stint: row.Stint, Code: row.Code, Category: row.Category, Mean: row.Mean, CV: row.CV, Weighted: row.Weighted,
			BFC: row.BFC, BFCControl: row.BFCControl, Ratio: row.Ratio, SurfaceC: row.SurfaceC, Index: row.Index,
			Class: row.Class, Stands: row.Stands, Why: append([]string{}, row.Why...),
		})
	}
	return b
}

func judged(list []compare.Finding) []Judged {
	out := []Judged{}
	for _, f := range list {
		out = append(out, Judged{
			Field: f.Limit.Field, Stint: f.Stint, To: f.To, Run: f.Run, Value: f.Value, Low: f.Limit.Low, High: f.Limit.High,
			Unit: f.Limit.Unit, Standing: f.Standing, Source: f.Limit.Source,
		})
	}
	return out
}
