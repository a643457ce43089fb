package lap

import (
	"math"

	"example.org/bookend/course"
	"example.org/bookend/procedure/lap/corner"
	"example.org/bookend/programme"
)

// bend is curvature by station: that of the course's reference line or, without one, of
// the lap's own path.
func (r *run) bend(tr course.Track, station []float64) (x, k []float64) {
	span := r.in.Parameters.Number(paramSpan)
	if line := r.in.Course.Reference; line != nil {
		first, _ := line.Locate(tr.At[0])
		all := line.Curvature(span)
		n := len(all)
		for i := 0; float64(i)*line.Step <= station[len(station)-1]; i++ {
			at := first/line.Step + float64(i)
			if !line.Closed && at > float64(n-1) {
				break
			}
			j := int(math.Floor(at))
			part := at - float64(j)
			a, b := all[j%n], all[(j+1)%n]
			if !line.Closed && j+1 >= n {
				b = a
			}
			x, k = append(x, float64(i)*line.Step), append(k, a+(b-a)*part)
		}
		return x, k
	}
	line, err := course.Learn(tr.At, false, 1)
	if err != nil {
		return nil, nil
	}
	k = line.Curvature(span)
	scale := station[len(station)-1] / line.Length()
	for i := range k {
		x = append(x, float64(i)*line.Step*scale)
	}
	return x, k
}

// rule says what a corner is by the parameters.
func rule(p programme.Parameters) corner.Rule {
	return corner.Rule{Radius: p.Number(paramRadius), Turn: p.Number(paramTurn), Join: p.Number(paramJoin)}
}

// sustainedFor is for how long in s a lateral acceleration is held to count as
// sustained: docs/sources has no standard for it; a second is common practice.
const sustainedFor = 1.0

// sustained gives at each sample the mean of a value over a second about it; ok is
// false where the second is not whole.
func (w *moved) sustained(value func(i int) float64) (mean []float64, ok []bool) {
	n := len(w.t)
	sum := make([]float64, n) // integral up to each
	for i := 1; i < n; i++ {
		sum[i] = sum[i-1] + (w.t[i]-w.t[i-1])*(value(i)+value(i-1))/2
	}
	var upper, lower []float64
	for _, t := range w.t {
		lower, upper = append(lower, t-sustainedFor/2), append(upper, t+sustainedFor/2)
	}
	low, has := course.ByStation(w.t, sum, lower)
	high, too := course.ByStation(w.t, sum, upper)
	mean, ok = make([]float64, n), make([]bool, n)
	for i := range mean {
		if ok[i] = has[i] && too[i]; ok[i] {
			mean[i] = (high[i] - low[i]) / sustainedFor
		}
	}
	return mean, ok
}

// take gives the measures of each corner and of lateral grip.
func (r *run) take(w *moved, corners []corner.Corner) {
	p := r.in.Parameters
	mean, whole := w.sustained(func(i int) float64 { return w.ay[i] })
	best := 0.0
	for i := range mean {
		if whole[i] {
			best = math.Max(best, math.Abs(mean[i]))
		}
	}
	if best > 0 {
		r.give("sustained_lateral", "", best)
	}
	if len(corners) == 0 {
		r.doubt("no_corner", w.t[0], "The lap has no corner on a radius below %.0f m that turns by %.0f° or more.", p.Number(paramRadius), p.Number(paramTurn)*180/math.Pi)
		return
	}
	if r.in.Course.Reference == nil {
		r.doubt("corners_by_lap", w.t[0], "The course has no reference line, so that corners are found in each lap's own path; laps on another line may have others.")
	}
	for _, c := range corners {
		place := c.Place()
		if !c.Whole {
			r.doubt("corner_cut", w.t[0], "Corner %d lies across the start gate and is cut there; its entry or exit speed is that at the gate.", c.Number)
		}
		least, peak, held := math.Inf(1), 0.0, 0.0
		for i, s := range w.station {
			if s < c.From || s > c.To {
				continue
			}
			least, peak = math.Min(least, w.v[i]), math.Max(peak, c.Sign()*w.ay[i])
			if whole[i] {
				held = math.Max(held, c.Sign()*mean[i])
			}
		}
		if math.IsInf(least, 1) {
			continue
		}
		r.give("corner_entry_speed", place, w.at(c.From))
		if least > 0 {
			r.give("corner_least_speed", place, least)
		}
		if v := w.at(c.To); v > 0 {
			r.give("corner_exit_speed", place, v)
		}
		if peak > 0 {
			r.give("corner_peak_lateral", place, peak)
		}
		if held > 0 {
			r.give("corner_sustained_lateral", place, held)
		}
		r.balance(w, c, peak)
	}
}

// steadyShare is the share of a corner's peak lateral acceleration from which on it
// counts as being cornered in full (own choice).
const steadyShare = 0.8

// balance gives how far the steering is from the neutral angle, and yaw rate from its
// kinematic value, where a corner is driven in full.
func (r *run) balance(w *moved, c corner.Corner, peak float64) {
	base, ratio := r.in.Parameters.Number(paramWheelbase), r.in.Parameters.Number(paramRatio)
	if !w.steers || base == 0 || ratio == 0 {
		return
	}
	full := func(i int) bool {
		return w.station[i] >= c.From && w.station[i] <= c.To && c.Sign()*w.ay[i] >= steadyShare*peak && w.v[i] > 1
	}
	angle, seconds := w.over(full, func(i int) float64 { return c.Sign() * (w.steer[i]/ratio - base*w.curvature[i]) })
	if seconds == 0 {
		return
	}
	r.give("steering_balance", c.Place(), angle)
	turned, _ := w.over(full, func(i int) float64 { return w.yaw[i] })
	asked, _ := w.over(full, func(i int) float64 { return w.v[i] * w.steer[i] / ratio / base })
	if c.Sign()*asked > 0.02 { // rad/s; own choice: a steering wheel held straight asks for no yaw rate to compare with
		r.give("yaw_balance", c.Place(), turned/asked)
	}
}
