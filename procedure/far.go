package procedure

import "math"

// Farthest gives which mean lies farthest from the first one, the control's, at a place,
// and by how much; ok is false where no other mean reaches it.
func Farthest(means []Mean, x float64) (m Mean, by float64, ok bool) {
	if len(means) == 0 || !means[0].reaches(x) {
		return Mean{}, 0, false
	}
	control, _, _ := means[0].At(x)
	for _, q := range means[1:] {
		if !q.reaches(x) {
			continue
		}
		v, _, _ := q.At(x)
		if d := v - control; !ok || math.Abs(d) > math.Abs(by) {
			m, by, ok = q, d, true
		}
	}
	return m, by, ok
}

// LastShared gives the last place that all means have; ok is false where there is none.
func LastShared(means []Mean) (x float64, ok bool) {
	from, to := math.Inf(-1), math.Inf(1)
	for _, m := range means {
		if len(m.X) == 0 {
			return 0, false
		}
		from, to = math.Max(from, m.X[0]), math.Min(to, m.X[len(m.X)-1])
	}
	return to, len(means) > 0 && to >= from
}

// WidestApart gives the place at which any mean lies farthest from the first one, the
// control's, of all places of it.
func WidestApart(means []Mean) (x float64, m Mean, by float64, ok bool) {
	if len(means) == 0 {
		return 0, Mean{}, 0, false
	}
	for _, at := range means[0].X {
		if q, d, is := Farthest(means, at); is && (!ok || math.Abs(d) > math.Abs(by)) {
			x, m, by, ok = at, q, d, true
		}
	}
	return x, m, by, ok
}

// Beside gives how far each mean of Means lies from the first one, the control's, with the
// 95 % interval of the difference; the first is none from itself and has the interval of
// its own mean.
func Beside(means []Mean) []Mean {
	out := make([]Mean, len(means))
	for k, m := range means {
		q := Mean{Code: m.Code, X: m.X, Y: make([]float64, len(m.X)), Runs: m.Runs, Stints: m.Stints}
		for i := range m.X {
			q.Y[i] = m.Y[i] - means[0].Y[i]
			if m.Low == nil || means[0].Low == nil {
				continue
			}
			half := m.High[i] - m.Y[i]
			if k > 0 {
				half = math.Hypot(half, means[0].High[i]-means[0].Y[i])
			}
			q.Low, q.High = append(q.Low, q.Y[i]-half), append(q.High, q.Y[i]+half)
		}
		out[k] = q
	}
	return out
}

func (m Mean) reaches(x float64) bool {
	return len(m.X) > 0 && x >= m.X[0] && x <= m.X[len(m.X)-1]
}
