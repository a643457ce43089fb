package strip

import (
	"fmt"
	"math"
	"slices"

	"example.org/bookend/figure/scale"
)

// clockMap maps times to points. A gap far longer than the time between stints
// (a night) is cut out of the axis.
type clockMap struct{ pieces []stretch }

type stretch struct{ t0, t1, x0, x1 float64 }

func newClockMap(at []float64, x0, x1, gap float64) clockMap {
	var steps []float64
	for i := 1; i < len(at); i++ {
		if d := at[i] - at[i-1]; d > 0 {
			steps = append(steps, d)
		}
	}
	slices.Sort(steps)
	mid := 1.0
	if len(steps) > 0 {
		mid = steps[len(steps)/2]
	}
	busy := 0.0
	for _, d := range steps {
		if d <= 5*mid {
			busy += d
		}
	}
	pad := .7 * mid
	pieces := []stretch{{t0: at[0] - pad}}
	for i := 1; i < len(at); i++ {
		if d := at[i] - at[i-1]; d > 5*mid && d > .35*busy {
			pieces[len(pieces)-1].t1 = at[i-1] + pad
			pieces = append(pieces, stretch{t0: at[i] - pad})
		}
	}
	pieces[len(pieces)-1].t1 = at[len(at)-1] + pad
	total := 0.0
	for _, p := range pieces {
		total += p.t1 - p.t0
	}
	perSecond := (x1 - x0 - gap*float64(len(pieces)-1)) / total
	x := x0
	for i := range pieces {
		pieces[i].x0 = x
		x += (pieces[i].t1 - pieces[i].t0) * perSecond
		pieces[i].x1 = x
		x += gap
	}
	return clockMap{pieces}
}

func (m clockMap) At(t float64) float64 {
	for i, p := range m.pieces {
		if i > 0 && t < p.t0 { // in the gap before
			q := m.pieces[i-1]
			return scale.Of(q.t1, p.t0, q.x1, p.x0).At(t)
		}
		if t <= p.t1 || i == len(m.pieces)-1 {
			return scale.Of(p.t0, p.t1, p.x0, p.x1).At(t)
		}
	}
	return 0
}

// clockTicks gives at most most full times within the stretches, in seconds.
func (m clockMap) clockTicks(most int) [][]float64 {
	steps := []float64{300, 600, 900, 1800, 3600, 7200, 10800, 14400, 21600, 43200}
	for _, step := range steps {
		out := make([][]float64, len(m.pieces))
		n := 0
		for i, p := range m.pieces {
			for k := math.Ceil(p.t0 / step); k*step <= p.t1; k++ {
				if n++; n > most*4 {
					break
				}
				out[i] = append(out[i], k*step)
			}
		}
		if n <= most {
			return out
		}
	}
	return make([][]float64, len(m.pieces))
}

// clockWords gives a time of day as hours and minutes.
func clockWords(t float64) string {
	m := int(math.Round(t/60)) % (24 * 60)
	if m < 0 {
		m += 24 * 60
	}
	return fmt.Sprintf("%02d:%02d", m/60, m%60)
}
