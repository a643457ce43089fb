// Package link puts tyres that were never driven together against each other
// through one that was driven with both: a link tyre.
//
// In the trade a candidate and the reference do not fit one vehicle, or were
// driven in two programmes; a link tyre fits both, and the index is the product of
// two: candidate against link, link against reference. On the log scale the
// product is a sum, so that its interval is not an approximation of one; for a
// difference measure it is a sum as it stands. The variances of independent
// programmes add up, their degrees of freedom as Welch and Satterthwaite have it.
// Two tyres of one programme need no link: their difference comes from its own
// covariances.
//
// Sources: UN R117, Annex 5 (control tyre between two vehicles: product of two
// ratios); Welch (1947) and Satterthwaite (1946) for the degrees of freedom.
// Units: the analysis scale, positive better. Limits: the link tyre is taken as
// the same tyre in both programmes; where it was two sets, or wore between them,
// nothing here can see it.
package link

import (
	"math"

	"example.org/bookend/caveat"
	"example.org/bookend/compare/verdict"
	"example.org/bookend/fault"
	"example.org/bookend/stat/manyone"
)

// Leg is one tyre against another in one programme.
type Leg struct {
	Of, Against string
	Estimate    float64
	Variance    float64
	DF          float64
	Ratio       bool
	From        any // tells programmes apart; legs of one are not independent
}

// Fan is several tyres against one in one programme.
type Fan struct {
	Codes    []string
	Against  string
	Estimate []float64
	Cov      [][]float64
	DF       float64
	Ratio    bool
	From     any
}

// Asked says how the chain is judged.
type Asked struct {
	Confidence float64  // of all intervals together; 0: 0.95
	Margin     *float64 // on the analysis scale; nil: nothing is called the same
	About      verdict.About
}

// Chained is what a chain shows.
type Chained struct {
	Against  string
	Through  []string // link tyres, in order
	Rows     []Row
	Critical float64
	Method   string // how the point was computed
	Caveats  caveat.List
}

// Row is one tyre at the chain's end.
type Row struct {
	Code      string
	Estimate  float64 // on the analysis scale
	SE, DF    float64
	Parts     []float64 // shares of the variance, link by link from the tyre on
	Index     *float64  // ratio measures: the product, the last tyre at 100
	IndexLow  *float64
	IndexHigh *float64
	Verdict   verdict.Verdict
}

// Chain puts the tyres of a fan against the last leg's, link by link. The common
// interval goes by the least degrees of freedom of any row.
func Chain(a Asked, fan Fan, legs ...Leg) (*Chained, error) {
	if a.Confidence == 0 {
		a.Confidence = 0.95
	}
	if !(a.Confidence > 0.5 && a.Confidence < 1) {
		return nil, fault.New(fault.Invalid, "the confidence is %v, not between 0.5 and 1", a.Confidence).WithHint("write 0.95 for 95 %%")
	}
	if len(legs) == 0 || len(fan.Codes) == 0 {
		return nil, fault.New(fault.Invalid, "there is nothing to link").WithHint("name a tyre that was driven in both programmes")
	}
	out := &Chained{Against: legs[len(legs)-1].Against}
	at := fan.Against
	shift, spread, freedom := 0.0, 0.0, 0.0 // of the legs: sums of estimates, of variances, of variances squared by df
	seen := []any{fan.From}
	for _, l := range legs {
		switch {
		case l.Of != at:
			return nil, fault.New(fault.Invalid, "the chain is broken: after %s comes a comparison of %s with %s", at, l.Of, l.Against).
				WithHint("each programme begins with the tyre that the one before ended with")
		case l.Ratio != fan.Ratio:
			return nil, fault.New(fault.Invalid, "a ratio and a difference make no product").WithHint("compare the measure alike in both programmes")
		case !(l.Variance > 0) || !(l.DF > 0):
			return nil, fault.New(fault.Invalid, "%s against %s has no interval: the chain has none either", l.Of, l.Against)
		}
		for _, s := range seen {
			if s != nil && s == l.From {
				return nil, fault.New(fault.Invalid, "two comparisons of the chain are of one programme, and not independent").
					WithHint("within a programme take the one comparison between its tyres")
			}
		}
		seen = append(seen, l.From)
		out.Through = append(out.Through, at)
		at = l.Against
		shift += l.Estimate
		spread += l.Variance
		freedom += l.Variance * l.Variance / l.DF
	}
	k := len(fan.Codes)
	f := manyone.Family{Corr: make([][]float64, k), DF: math.Inf(1)}
	cov := func(i, j int) float64 { return fan.Cov[i][j] + spread }
	for i := range k {
		v := fan.Cov[i][i]
		if !(v > 0) || !(fan.DF > 0) {
			return nil, fault.New(fault.Invalid, "%s against %s has no interval: the chain has none either", fan.Codes[i], fan.Against)
		}
		row := Row{Code: fan.Codes[i], Estimate: fan.Estimate[i] + shift, SE: math.Sqrt(v + spread)}
		row.DF = (v + spread) * (v + spread) / (v*v/fan.DF + freedom)
		row.Parts = append(row.Parts, v/(v+spread))
		for _, l := range legs {
			row.Parts = append(row.Parts, l.Variance/(v+spread))
		}
		f.DF = min(f.DF, row.DF)
		f.Corr[i] = make([]float64, k)
		for j := range i {
			c := max(-1, min(1, cov(i, j)/math.Sqrt(cov(i, i)*cov(j, j))))
			f.Corr[i][j], f.Corr[j][i] = c, c
		}
		f.Corr[i][i] = 1
		out.Rows = append(out.Rows, row)
	}
	if k > manyone.MaxComparisons {
		return nil, fault.New(fault.Unsupported, "%d tyres at once are too many, at most %d are done", k, manyone.MaxComparisons)
	}
	var err error
	if out.Critical, _, err = f.Critical(1 - a.Confidence); err != nil {
		return nil, fault.At(err, "linking %d tyres", k)
	}
	if out.Method, err = f.Method(); err != nil {
		return nil, err
	}
	for i := range out.Rows {
		row := &out.Rows[i]
		h := out.Critical * row.SE
		row.Verdict = verdict.Judge(verdict.Grounds{Estimate: is(row.Estimate), Low: is(row.Estimate - h), High: is(row.Estimate + h), Margin: a.Margin,
			DF: f.DF, Comparisons: k, About: a.About, AboutWhy: "through the link tyre, taken as the same in both programmes", Directed: true})
		if fan.Ratio {
			row.Index, row.IndexLow, row.IndexHigh = index(row.Estimate), index(row.Estimate-h), index(row.Estimate+h)
		}
	}
	out.Caveats.Add("linked", caveat.Place{}, "These tyres were not driven together: they are compared through %s, whose sets are taken to be alike in both programmes and not to have worn between them.", list(out.Through))
	return out, nil
}

func list(names []string) string {
	s := names[0]
	for _, n := range names[1:] {
		s += ", then " + n
	}
	return s
}

func index(x float64) *float64 {
	v := 100 * math.Exp(x)
	if math.IsInf(v, 0) {
		return nil
	}
	return &v
}

func is(x float64) *float64 { return &x }
