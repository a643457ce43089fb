package mixed

import (
	"math"

	"example.org/bookend/caveat"
	"example.org/bookend/stat/mixed/component"
	"example.org/bookend/stat/mixed/dense"
	"example.org/bookend/stat/mixed/freedom"
	"example.org/bookend/stat/mixed/likelihood"
)

func (m *Model) infer() {
	q := m.prob
	pt, _ := q.At(m.theta)
	in := &freedom.Inference{At: pt, Rest: float64(q.Random + q.RestDF), Perfect: m.PerfectFit}
	a12 := pt.Whole.Part(0, q.Fixed, q.Fixed, q.Fixed+q.Random)
	ct := a12.Transpose()
	pt.Low.Solve(ct)
	in.C = ct.Transpose()
	in.Phi = pt.Whole.Part(0, q.Fixed, 0, q.Fixed)
	in.Phi.AddScaled(-1, dense.TimesT(in.C, a12))
	m.inf = in

	var plain, whole []likelihood.Part
	free := m.theta[0] > 0 && !q.Residual
	if free {
		plain = append(plain, q.Parts[0])
	}
	// A residual estimated as zero counts only where zeros are kept.
	if !m.opt.HoldResidual && !m.Caveats.Has("no_scatter_within") {
		whole = append(whole, q.Parts[0])
	}
	fitted := !m.PerfectFit && q.Random+q.RestDF > 0
	for i, b := range q.Blocks {
		if !fitted {
			break
		}
		whole = append(whole, q.Parts[b.First:b.First+b.Entries()]...)
		switch {
		case m.rank[i] == b.Size:
			plain = append(plain, q.Parts[b.First:b.First+b.Entries()]...)
		case m.rank[i] > 0:
			plain = append(plain, q.Directions(b, m.theta)...)
		}
	}
	in.Certain = len(whole) == 0
	if !fitted {
		return
	}
	in.Plain = in.Over(q, plain)
	if len(plain) == len(whole) {
		in.Whole = in.Plain
	} else {
		in.Whole = in.Over(q, whole)
	}
	if !in.Plain.HasW && len(plain) > 0 {
		m.Caveats.Add("curvature_unknown", caveat.Place{}, "The likelihood is too flat in some direction for degrees of freedom: those of the fixed terms alone are given.")
	}
}

// conclusions fills the table of variances.
func (m *Model) conclusions() {
	q := m.prob
	// Standard errors, where the entry itself is a part.
	at := map[int]float64{} // variance of the estimate by place in theta
	in := m.inf
	if in.Plain.HasObs && !m.PerfectFit && q.Random+q.RestDF > 0 {
		i := 0
		if m.theta[0] > 0 && !q.Residual {
			at[0] = in.Plain.Observed.At(0, 0)
			i++
		}
		for k, b := range q.Blocks {
			switch {
			case m.rank[k] == b.Size:
				for e := range b.Entries() {
					at[b.First+e] = in.Plain.Observed.At(i, i)
					i++
				}
			default:
				i += m.rank[k] * (m.rank[k] + 1) / 2
			}
		}
	}
	put := func(v Variance, place int, unit float64) {
		v.Value = m.theta[place] * unit
		if s, ok := at[place]; ok && s >= 0 {
			v.StdErr, v.HasStdErr = math.Sqrt(s)*math.Abs(unit), true
		}
		m.Variances = append(m.Variances, v)
	}
	for k, r := range m.random {
		if m.state[k] != estimated {
			v := Variance{Component: r.Name, Held: m.state[k] == held, Dropped: m.state[k] == dropped}
			if v.Held {
				v.Value = r.Value
			}
			m.Variances = append(m.Variances, v)
			continue
		}
		b := q.Blocks[m.block[k]]
		for i := range b.Size {
			for j := range i + 1 {
				v := Variance{Component: r.Name, Zero: m.rank[m.block[k]] == 0}
				if b.Size > 1 {
					v.Term, v.Other = r.Terms[i], r.Terms[j]
				}
				put(v, b.Place(i, j), m.unit[k][i]*m.unit[k][j])
			}
		}
	}
	res := Variance{Component: component.ResidualName, Held: m.opt.HoldResidual}
	switch {
	case m.opt.HoldResidual:
		res.Value = m.opt.ResidualVariance
	case m.PerfectFit || m.Caveats.Has("no_scatter_within"):
		res.Zero = true
	case q.Random+q.RestDF == 0:
		res.Dropped = true
	default:
		res.Zero = m.theta[0] == 0
		put(res, 0, m.scale*m.scale)
		return
	}
	m.Variances = append(m.Variances, res)
}

// Variance gives the entry of the table of variances of a component with a
// single term, or of ResidualName; false where there is none.
func (m *Model) Variance(component string) (Variance, bool) {
	for _, v := range m.Variances {
		if v.Component == component && v.Term == v.Other {
			return v, true
		}
	}
	return Variance{}, false
}
