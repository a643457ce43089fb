package correct

import (
	"example.org/bookend/compare/sequence"
	"example.org/bookend/compare/threshold"
)

// Join gives the estimates for the codes of a sequence whose candidates may have
// stood apart, stint by stint (Sequence.Apart), and says which of them are bounds.
func (e *Estimates) Join(q *sequence.Sequence) *Estimates {
	at := map[string]int{}
	for i := range e.List {
		at[e.List[i].Code] = i
	}
	control, bothWays := q.Bound(q.Control)
	out := *e
	out.List = nil
	for _, code := range q.Codes {
		var est Estimate
		if i, ok := at[code]; ok {
			est = e.List[i]
		} else {
			est = e.joined(q, code, at)
		}
		own, mixed := q.Bound(code)
		up, down := own == threshold.Above || control == threshold.Below, own == threshold.Below || control == threshold.Above
		if mixed || bothWays {
			up, down = true, true
		}
		if q.Sign < 0 {
			up, down = down, up
		}
		est.NotBelow, est.NotAbove = up, down
		out.List = append(out.List, est)
	}
	return &out
}

// joined is the mean of the stints of a code that stood apart.
func (e *Estimates) joined(q *sequence.Sequence, code string, at map[string]int) Estimate {
	est := Estimate{Code: code, OK: true, Weights: make([]float64, len(q.Stints))}
	var parts []*Estimate
	for i := range q.Stints {
		if s := &q.Stints[i]; s.Code == code {
			parts = append(parts, &e.List[at[sequence.Alone(code, s.ID)]])
		}
	}
	m := float64(len(parts))
	for _, p := range parts {
		if !p.OK {
			return Estimate{Code: code, Why: p.Why}
		}
		est.Value += p.Value / m
		for k, w := range p.Weights {
			est.Weights[k] += w / m
		}
		if p.Contrast != nil {
			if est.Contrast == nil {
				est.Contrast = make([]float64, len(p.Contrast))
			}
			for k, c := range p.Contrast {
				est.Contrast[k] += c / m
			}
		}
		for _, o := range p.Open {
			o.Weight /= m
			est.Open = append(est.Open, o)
		}
		est.Blind = est.Blind || p.Blind
	}
	return est
}
