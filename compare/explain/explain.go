// Package explain says which measures explain which ratings: how far what instruments
// show of the tyres goes together with what drivers say of them.
//
// In the trade both are of the same tyres, and a client wants to know whether the number
// stands for the feeling. Every tyre is one item, the control among them: the values are
// what stands against the control, positive better, with the drift taken out as in the
// verdicts. With so few tyres a correlation near 1 comes about by chance easily; p-values
// are of permutations, adjusted over all pairs that were looked at (Holm), and how many
// tyres it rests on, and what they could show at all, is said first.
//
// Sources: stat/relate for the correlations, Holm (1979) as stat/manyone has it. Units:
// none. Limits: the errors of the values are not allowed for, which makes correlations
// smaller than they are; a correlation is no cause.
package explain

import (
	"maps"
	"math"
	"slices"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/compare"
	"example.org/bookend/compare/opinion"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/stat/manyone"
	"example.org/bookend/stat/relate"
	"example.org/bookend/stat/resample"
)

// Level is that at which a pair is shown to go together, over all pairs.
const Level = 0.05

// FewTyres is the number of tyres below which a pair is not correlated: two tyres always
// lie on a line, and three have six orders (own choice).
const FewTyres = 4

// Series is what one measure or one attribute says of every tyre.
type Series struct {
	Test, Title string
	Of          map[string]float64 // by code: against the control, positive better; the control's is 0
}

// OfResult takes what a comparison says of every tyre.
func OfResult(test, title string, r *compare.Result) Series {
	s := Series{Test: test, Title: title, Of: map[string]float64{r.Control: 0}}
	for _, row := range r.Rows {
		switch {
		case r.Scale == programme.Ratio && row.Index != nil:
			s.Of[row.Code] = *row.Index - 100
		case row.Difference != nil:
			s.Of[row.Code] = *row.Difference
		}
	}
	return s
}

// OfAttribute takes what rating sheets say of every tyre.
func OfAttribute(test, control string, a *opinion.Attribute) Series {
	s := Series{Test: test, Title: a.Name, Of: map[string]float64{control: 0}}
	for _, row := range a.Rows {
		if row.Difference != nil {
			s.Of[row.Code] = *row.Difference
		}
	}
	return s
}

// Pair is a measure and an attribute.
type Pair struct {
	Measure, Attribute int // in the lists
	Codes              []string
	Failed             string // why nothing is said; the rest is empty then
	relate.Correlation
	Adjusted float64 // p of Pearson's correlation over all pairs (Holm)
	Shown    bool    // it is at most Level
}

// Result is which measures explain which ratings.
type Result struct {
	Measures, Attributes []Series
	Pairs                []Pair // attribute by attribute, in the order of the measures
	Tyres                int    // that most pairs rest on, the control among them
	Looked               int    // pairs with a correlation
	Least                float64
	Caveats              caveat.List
}

// Explain looks at every pair. It fails where there is no measure or no attribute.
func Explain(measures, attributes []Series) (*Result, error) {
	if len(measures) == 0 || len(attributes) == 0 {
		return nil, fault.New(fault.NotFound, "there are %d measures and %d rated attributes", len(measures), len(attributes)).
			WithHint("both are needed, of the same tyres")
	}
	r := &Result{Measures: measures, Attributes: attributes, Least: 1}
	var p []float64
	var at []int
	for j, a := range attributes {
		for i, m := range measures {
			q := Pair{Measure: i, Attribute: j, Adjusted: 1}
			for _, code := range slices.Sorted(maps.Keys(a.Of)) {
				if _, both := m.Of[code]; both {
					q.Codes = append(q.Codes, code)
				}
			}
			if len(q.Codes) < FewTyres {
				q.Failed = "fewer than four tyres have both"
				r.Pairs = append(r.Pairs, q)
				continue
			}
			var x, y []float64
			for _, code := range q.Codes {
				x, y = append(x, m.Of[code]), append(y, a.Of[code])
			}
			var err error
			if q.Correlation, err = relate.Of(x, y, resample.Options{}); err != nil {
				q.Failed = err.Error()
				r.Pairs = append(r.Pairs, q)
				continue
			}
			p, at = append(p, q.PearsonP), append(at, len(r.Pairs))
			r.Tyres, r.Least = max(r.Tyres, q.N), math.Min(r.Least, q.LeastP)
			r.Pairs = append(r.Pairs, q)
		}
	}
	r.Looked = len(p)
	if len(p) > 0 {
		adjusted, err := manyone.Holm(p)
		if err != nil {
			return nil, err
		}
		for k, i := range at {
			r.Pairs[i].Adjusted = adjusted[k]
			r.Pairs[i].Shown = adjusted[k] <= Level
		}
		if least := math.Min(1, r.Least*float64(len(p))); least > Level {
			r.Caveats.Add("few_tyres", caveat.Place{}, "%d tyres, the control among them, can be ordered in so few ways that the best of %d pairs cannot have an adjusted p-value below %.2g: what goes together here is a description, and nothing can be shown. More tyres, or fewer pairs, would tell.", r.Tyres, len(p), least)
		}
	}
	return r, nil
}

// Best gives the pair of an attribute with the correlation farthest from 0; false where
// it has none.
func (r *Result) Best(attribute int) (Pair, bool) {
	best, found := Pair{}, false
	for _, q := range r.Pairs {
		if q.Attribute == attribute && q.Failed == "" && (!found || math.Abs(q.Pearson) > math.Abs(best.Pearson)) {
			best, found = q, true
		}
	}
	return best, found
}

// Named gives a series' words: test and title.
func (s Series) Named() string {
	return strings.TrimPrefix(s.Test+", "+s.Title, ", ")
}
