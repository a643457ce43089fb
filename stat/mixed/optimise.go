package mixed

import (
	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/stat/mixed/likelihood"
)

// optimise finds the variances.
func (m *Model) optimise() error {
	q := m.prob
	if q.Bottomless() {
		return fault.New(fault.Unsupported, "the full likelihood of the model has no maximum: it grows without limit as the residual vanishes").
			WithHint("fit by REML, or hold the residual's variance")
	}
	switch {
	case m.PerfectFit || q.Random+q.RestDF == 0:
		m.theta = make([]float64, len(q.Parts))
		m.theta[0] = 1
		if q.Residual {
			m.theta[0] = q.Theta0
		}
	case q.Residual && len(q.Blocks) == 0:
		m.theta = []float64{q.Theta0}
	default:
		x, ok := q.Minimum()
		if !ok {
			return fault.New(fault.Internal, "the likelihood of the model cannot be had")
		}
		m.theta, m.rank = q.Settle(x)
		if q.RestDF == 0 && !q.Residual && m.theta[0] < likelihood.NearZero {
			m.withoutResidual(x)
		}
	}
	if _, ok := q.At(m.theta); !ok {
		return fault.New(fault.Internal, "the likelihood of the model cannot be had at its optimum")
	}
	for i, b := range q.Blocks {
		name := m.random[b.Component].Name
		switch {
		case m.rank[i] == 0:
			m.Caveats.Add("variance_zero", caveat.Place{}, "The variance of component %q is estimated as exactly zero: its groups scatter no more than the rest would make them. It takes no part in the degrees of freedom.", name)
		case m.rank[i] < b.Size:
			m.Caveats.Add("covariance_singular", caveat.Place{}, "The terms of component %q vary together completely (a correlation of 1 or a variance of zero): its covariance is at the edge of what is possible, and the degrees of freedom take the direction as known.", name)
		}
	}
	return nil
}

// withoutResidual tries a residual of zero where the random terms span all.
func (m *Model) withoutResidual(x []float64) {
	q := m.prob
	s := *q
	s.Residual, s.Theta0 = true, 0
	if len(s.Blocks) == 0 {
		return
	}
	start := append([]float64(nil), x...)
	start[0] = 0
	if _, ok := s.At(s.Theta(start)); !ok {
		return
	}
	theta, rank := s.Settle(start)
	if theta == nil {
		return
	}
	pt, ok := s.At(theta)
	if !ok {
		return
	}
	if g, _, _ := s.Slopes(pt, s.Parts[:1]); g[0] < likelihood.FlatSlope {
		return
	}
	m.theta, m.rank, m.prob = theta, rank, &s
	m.Caveats.Add("variance_zero", caveat.Place{}, "The residual's variance is estimated as exactly zero beside the random terms. It takes no part in the degrees of freedom.")
}
