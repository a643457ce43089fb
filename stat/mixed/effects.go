package mixed

import (
	"math"

	"example.org/bookend/fault"
	"example.org/bookend/stat/mixed/dense"
)

// Effect is the prediction of one random effect (best linear unbiased).
type Effect struct {
	Group    string  // of a component by groups
	Term     string  // "intercept", or the name of a slope
	Estimate float64 // in the response's unit by that of the term
	// StdErr is that of estimate less true effect, with the fixed terms
	// estimated; Conditional the same with the fixed terms taken as known.
	StdErr, Conditional float64
	HasStdErr           bool
}

// at gives the number of the component named.
func (m *Model) at(component string) (int, error) {
	for k, r := range m.random {
		if r.Name == component {
			return k, nil
		}
	}
	return 0, fault.New(fault.NotFound, "the model has no component %q", component)
}

// entry gives the covariance of terms a and b of component k within.
func (m *Model) entry(k, a, b int) float64 {
	switch m.state[k] {
	case held:
		return m.random[k].Value / (m.scale * m.scale)
	case dropped:
		return 0
	}
	bl := m.prob.Blocks[m.block[k]]
	return m.theta[bl.Place(a, b)] * m.unit[k][a] * m.unit[k][b] / (m.scale * m.scale)
}

// effects gives the predicted effects of component k, term by term, in the
// response's unit by the term's.
func (m *Model) effects(k int) [][]float64 {
	f := m.part.F[k]
	out := make([][]float64, len(f))
	for a := range f {
		out[a] = make([]float64, f[a].Cols)
		if m.PerfectFit {
			continue
		}
		for b := range f {
			g := m.entry(k, a, b)
			if g == 0 {
				continue
			}
			for i, w := range m.inf.At.W {
				for q, v := range f[b].Row(m.part.Fixed + i) {
					out[a][q] += g * v * w * m.scale
				}
			}
		}
	}
	return out
}

// Effects gives the predicted effects of a component by groups, group by group
// in order of first appearance, and within a group term by term.
func (m *Model) Effects(component string) ([]Effect, error) {
	k, err := m.at(component)
	if err != nil {
		return nil, err
	}
	r := m.random[k]
	if r.Levels == nil {
		return nil, fault.New(fault.Unsupported, "component %q has no groups", component).WithHint("ask for its Path")
	}
	u := m.effects(k)
	unknown, conditional := m.leftOver()
	var out []Effect
	for g, level := range r.Levels {
		for a := range r.Z {
			e := Effect{Group: level, Term: r.Terms[a], Estimate: u[a][g]}
			if m.HasError && m.state[k] != dropped {
				// G - G F' P F G, over the terms of this group.
				h := make([]float64, m.part.Fixed+m.part.Random)
				for b := range r.Z {
					c := m.entry(k, a, b)
					for i := range h {
						h[i] += c * m.part.F[k][b].At(i, g)
					}
				}
				v := m.entry(k, a, a)
				e.StdErr = m.scale * math.Sqrt(max(0, v-unknown(h)))
				e.Conditional = m.scale * math.Sqrt(max(0, v-conditional(h)))
				e.HasStdErr = true
			}
			out = append(out, e)
		}
	}
	return out, nil
}

// leftOver gives h' P h, and h' A^-1 h with the fixed terms known.
func (m *Model) leftOver() (unknown, conditional func(h []float64) float64) {
	pt, q := m.inf.At, m.prob
	unknown = func(h []float64) float64 {
		x := &dense.Matrix{Rows: q.Random, Cols: 1, Data: append([]float64(nil), h[q.Fixed:]...)}
		pt.Low.Forward(x)
		return norm(x.Data) * norm(x.Data)
	}
	whole, ok := pt.Whole.Factor(1e-15)
	conditional = func(h []float64) float64 {
		if !ok {
			return unknown(h)
		}
		x := &dense.Matrix{Rows: len(h), Cols: 1, Data: append([]float64(nil), h...)}
		whole.Forward(x)
		return norm(x.Data) * norm(x.Data)
	}
	return unknown, conditional
}

// Path gives what a component adds to the response in each row, as predicted,
// in the response's unit, with the standard error of prediction less truth; nil
// for the latter where there are no errors.
func (m *Model) Path(component string) (estimate, stdErr []float64, err error) {
	k, err := m.at(component)
	if err != nil {
		return nil, nil, err
	}
	r := m.random[k]
	n := m.design.Rows()
	estimate = make([]float64, n)
	u := m.effects(k)
	for t, z := range r.Z {
		for i, v := range z.Apply(u[t]) {
			estimate[i] += v
		}
	}
	if !m.HasError || m.state[k] == dropped {
		return estimate, nil, nil
	}
	unknown, _ := m.leftOver()
	stdErr = make([]float64, n)
	for i := range stdErr {
		h := make([]float64, m.part.Fixed+m.part.Random)
		v := 0.0
		for a, za := range r.Z {
			for b, zb := range r.Z {
				g := m.entry(k, a, b)
				for q, x := range za.Row(i) {
					if x == 0 {
						continue
					}
					v += g * x * zb.At(i, q)
					for j := range h {
						h[j] += g * x * m.part.F[k][b].At(j, q)
					}
				}
			}
		}
		stdErr[i] = m.scale * math.Sqrt(max(0, v-unknown(h)))
	}
	return estimate, stdErr, nil
}
