package linear

import (
	"math"

	"example.org/bookend/stat/linear/twofold"
)

// Influence says how much one run weighs in the fit.
type Influence struct {
	Residual float64 // response less fitted, in the response's unit
	Leverage float64 // 0..1; the fit's share in its own value
	// Standard is the residual by its own standard deviation; Student the same
	// with the deviation taken without the run (externally studentised), t
	// distributed with DF-1; Cook is Cook's distance.
	Standard, Student, Cook          float64
	HasStandard, HasStudent, HasCook bool
}

// Influences gives the influence of every row. A row of leverage 1 is fitted
// exactly whatever it says: its residual has no deviation. With a covariance
// of the errors the values are those of the whitened rows.
func (m *Model) Influences() []Influence {
	out := make([]Influence, len(m.y))
	s, ok := m.Sigma()
	z := make([]twofold.Number, len(m.kept))
	for i := range out {
		in := Influence{Residual: m.Residuals[i]}
		// z = R^-T x_i; e = y_i - x_i' b, whitened.
		e := m.whiteY[i]
		for c := range m.kept {
			var t twofold.Number
			for r := range c + 1 {
				t = t.Add(m.rinv[r][c].Mul(m.white[m.kept[r]][i]))
			}
			z[c] = t
			e = e.Sub(t.Mul(m.effect[c]))
		}
		in.Leverage = min(1, twofold.Dot(z, z).Float())
		free := 1 - in.Leverage
		// 1e-10: leverage 1 but for rounding of the stored columns.
		if ok && free > 1e-10 && !m.PerfectFit && s > 0 {
			w := e.Float()
			in.Standard, in.HasStandard = w/(s*math.Sqrt(free)), true
			in.Cook, in.HasCook = in.Standard*in.Standard*in.Leverage/(free*float64(m.Rank)), true
			if m.DF > 1 {
				rest := (m.RSS - w*w/free) / float64(m.DF-1)
				if rest > 1e-14*m.RSS {
					in.Student, in.HasStudent = w/math.Sqrt(rest*free), true
				}
			}
		}
		out[i] = in
	}
	return out
}
