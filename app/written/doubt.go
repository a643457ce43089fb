package written

import (
	"example.org/bookend/compare"
)

// Control is what the control's stints show, in the JSON of a comparison.
type Control struct {
	Stints     int      `json:"stints"`
	Slope      *float64 `json:"slope,omitempty"` // per position or s, in the measure's unit
	SlopeP     *float64 `json:"slope_p,omitempty"`
	DriftP     *float64 `json:"drift_p,omitempty"` // F test of the drift that the correction would take out
	Shown      bool     `json:"shown"`
	CurvatureP *float64 `json:"curvature_p,omitempty"`
	Shift      *float64 `json:"shift,omitempty"` // in the unit
	ShiftP     *float64 `json:"shift_p,omitempty"`
	ShiftAt    []string `json:"shift_stints,omitempty"` // where it is most likely
	LagOne     *float64 `json:"lag_one,omitempty"`
	LagOneP    *float64 `json:"lag_one_p,omitempty"`
}

// Budget is where the doubt about a candidate comes from.
type Budget struct {
	Code     string        `json:"code"`
	Parts    []BudgetShare `json:"parts"`
	Remedies []Remedy      `json:"remedies"`
}

// BudgetShare is one source's share of the variance, 0 to 1.
type BudgetShare struct {
	Part  string  `json:"part"`
	Share float64 `json:"share"`
}

// Remedy is what would narrow the interval.
type Remedy struct {
	What     string  `json:"what"`
	Stints   int     `json:"stints"`
	Narrower float64 `json:"narrower_percent"`
}

// Letters is a candidate's letters: those that share one are not shown to
// differ.
type Letters struct {
	Code    string `json:"code"`
	Letters string `json:"letters"`
}

// ControlOf writes how the control moved.
func ControlOf(r *compare.Result) Control {
	c := r.Controls
	out := Control{Stints: c.Stints, Shown: c.Shown}
	if c.Slope != nil {
		e := c.Slope.Estimate
		out.Slope, out.SlopeP = &e, c.Slope.P
	}
	if c.Test != nil {
		p := c.Test.P
		out.DriftP = &p
	}
	if c.Curvature != nil {
		out.CurvatureP = c.Curvature.P
	}
	if c.Shift != nil {
		size, p := c.Shift.Size, c.Shift.P
		out.Shift, out.ShiftP, out.ShiftAt = &size, &p, c.ShiftStints
	}
	if c.LagOne != nil && c.LagOne.Defined {
		v, p := c.LagOne.R, c.LagOne.P
		out.LagOne, out.LagOneP = &v, &p
	}
	return out
}

// BudgetOf writes what each candidate's interval is made of.
func BudgetOf(r *compare.Result) []Budget {
	out := []Budget{}
	for _, x := range r.Budget {
		b := Budget{Code: x.Code, Parts: []BudgetShare{}, Remedies: []Remedy{}}
		for _, p := range x.Parts {
			b.Parts = append(b.Parts, BudgetShare{string(p.Key), p.Share})
		}
		for _, m := range x.Remedies {
			b.Remedies = append(b.Remedies, Remedy{m.What, m.Stints, m.Narrower})
		}
		out = append(out, b)
	}
	return out
}

// LettersOf writes which codes differ from which.
func LettersOf(r *compare.Result) []Letters {
	out := []Letters{}
	if r.Group != nil {
		for i, c := range r.Group.Codes {
			out = append(out, Letters{c, r.Group.Letters[i]})
		}
	}
	return out
}
