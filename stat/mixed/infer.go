package mixed

import (
	"math"

	"example.org/bookend/caveat"
)

func (m *Model) infer() {
	q := m.prob
	pt, _ := q.at(m.theta)
	in := &inference{pt: pt, rest: float64(q.r + q.restDF), perfect: m.PerfectFit}
	a12 := pt.whole.part(0, q.p, q.p, q.p+q.r)
	ct := a12.transpose()
	pt.low.solve(ct)
	in.c = ct.transpose()
	in.phi = pt.whole.part(0, q.p, 0, q.p)
	in.phi.addScaled(-1, timesT(in.c, a12))
	m.inf = in

	var plain, whole []part
	free := m.theta[0] > 0 && !q.residual
	if free {
		plain = append(plain, q.parts[0])
	}
	// A residual estimated as zero counts only where zeros are kept.
	if !m.opt.HoldResidual && !m.Caveats.Has("no_scatter_within") {
		whole = append(whole, q.parts[0])
	}
	fitted := !m.PerfectFit && q.r+q.restDF > 0
	for i, b := range q.blocks {
		if !fitted {
			break
		}
		whole = append(whole, q.parts[b.first:b.first+b.entries()]...)
		switch {
		case m.rank[i] == b.size:
			plain = append(plain, q.parts[b.first:b.first+b.entries()]...)
		case m.rank[i] > 0:
			plain = append(plain, q.directions(b, m.theta)...)
		}
	}
	in.certain = len(whole) == 0
	if !fitted {
		return
	}
	in.plain = in.over(q, plain)
	if len(plain) == len(whole) {
		in.whole = in.plain
	} else {
		in.whole = in.over(q, whole)
	}
	if !in.plain.hasW && len(plain) > 0 {
		m.Caveats.Add("curvature_unknown", caveat.Place{}, "The likelihood is too flat in some direction for degrees of freedom: those of the fixed terms alone are given.")
	}
}

// conclusions fills the table of variances.
func (m *Model) conclusions() {
	q := m.prob
	// Standard errors, where the entry itself is a part.
	at := map[int]float64{} // variance of the estimate by place in theta
	in := m.inf
	if in.plain.hasObs && !m.PerfectFit && q.r+q.restDF > 0 {
		i := 0
		if m.theta[0] > 0 && !q.residual {
			at[0] = in.plain.observed.at(0, 0)
			i++
		}
		for k, b := range q.blocks {
			switch {
			case m.rank[k] == b.size:
				for e := range b.entries() {
					at[b.first+e] = in.plain.observed.at(i, i)
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
			v := Variance{Component: r.name, Held: m.state[k] == held, Dropped: m.state[k] == dropped}
			if v.Held {
				v.Value = r.value
			}
			m.Variances = append(m.Variances, v)
			continue
		}
		b := q.blocks[m.block[k]]
		for i := range b.size {
			for j := range i + 1 {
				v := Variance{Component: r.name, Zero: m.rank[m.block[k]] == 0}
				if b.size > 1 {
					v.Term, v.Other = r.terms[i], r.terms[j]
				}
				put(v, b.place(i, j), m.unit[k][i]*m.unit[k][j])
			}
		}
	}
	res := Variance{Component: ResidualName, Held: m.opt.HoldResidual}
	switch {
	case m.opt.HoldResidual:
		res.Value = m.opt.ResidualVariance
	case m.PerfectFit || m.Caveats.Has("no_scatter_within"):
		res.Zero = true
	case q.r+q.restDF == 0:
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
