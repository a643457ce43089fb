package written

import (
	"example.org/bookend/compare"
)

// CompareControl is what the control's stints show, in the JSON of a comparison.
type CompareControl struct {
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

// CompareBudget is where the doubt about a candidate comes from.
type CompareBudget struct {
	Code     string          `json:"code"`
	Parts    []BudgetShare   `json:"parts"`
	Remedies []CompareRemedy `json:"remedies"`
}

// BudgetShare is one source's share of the variance, 0 to 1.
type BudgetShare struct {
	Part  string  `json:"part"`
	Share float64 `json:"share"`
}

// CompareRemedy is what would narrow the interval.
type CompareRemedy struct {
	What     string  `json:"what"`
	Stints   int     `json:"stints"`
	Narrower float64 `json:"narrower_percent"`
}

// CompareLetters is a candidate's letters: those that share one are not shown to
// differ.
type CompareLetters struct {
	Code    string `json:"code"`
	Letters string `json:"letters"`
}

// ControlOf writes how the control moved.
func ControlOf(r *compare.Result) CompareControl {
	c := r.Controls
	out := CompareControl{Stints: c.Stints, Shown: c.Shown}
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
func BudgetOf(r *compare.Result) []CompareBudget {
	out := []CompareBudget{}
	for _, x := range r.Budget {
		b := CompareBudget{Code: x.Code, Parts: []BudgetShare{}, Remedies: []CompareRemedy{}}
		for _, p := range x.Parts {
			b.Parts = append(b.Parts, BudgetShare{string(p.Key), p.Share})
		}
		for _, m := range x.Remedies {
			b.Remedies = append(b.Remedies, CompareRemedy{m.What, m.Stints, m.Narrower})
		}
		out = append(out, b)
	}
	return out
}

// LettersOf writes which codes differ from which.
func LettersOf(r *compare.Result) []CompareLetters {
	out := []CompareLetters{}
	if r.Group != nil {
		for i, c := range r.Group.Codes {
			out = append(out, CompareLetters{c, r.Group.Letters[i]})
		}
	}
	return out
}
