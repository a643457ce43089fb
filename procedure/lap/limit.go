package lap

import (
	"math"
	"slices"

	"example.org/bookend/procedure/lap/laid"
	"example.org/bookend/signal"
)

// corrections counts reversals of the steering wheel: turning points that lie apart by
// the least correction or more. What the corners ask for is among them.
func (r *run) corrections(w *moved) {
	if !w.steers {
		if !w.inertial {
			return // said with what positions alone leave out
		}
		r.doubt("no_steering", w.t[0], "There is no steering-wheel angle throughout the lap; balance and corrections are missing.")
		return
	}
	least := r.in.Parameters.Number(paramCorrection)
	r.give("steering_corrections", "", float64(reversals(w.steer, least)))
}

// reversals counts turning points of a signal whose swings are of a least size or more.
func reversals(x []float64, least float64) int {
	if len(x) == 0 {
		return 0
	}
	// edge is the farthest that the signal has gone the way it goes.
	count, way, edge := 0, 0.0, x[0]
	low, high := x[0], x[0]
	for _, v := range x {
		if way == 0 {
			low, high = math.Min(low, v), math.Max(high, v)
			switch {
			case v-low >= least:
				way, edge = 1, v
			case high-v >= least:
				way, edge = -1, v
			}
			continue
		}
		switch {
		case way*(v-edge) > 0:
			edge = v
		case way*(edge-v) >= least:
			count++
			way, edge = -way, v
		}
	}
	return count
}

// Past the peak; own choices: a step of sideslip counts with a
// tenth of a second of driving in it; braking and accelerating take grip away, so that
// what is more than 2 m/s² of either is left out; a walking pace says nothing.
const (
	slipLeast  = 0.1   // s
	slipAlong  = 2.0   // m/s²
	slipSpeed  = 8.0   // m/s
	slipCorner = 2.0   // m/s², of lateral acceleration
	plateau    = 0.995 // share of the greatest from which on the peak is reached: some are flat
)

// past gives lateral acceleration against sideslip at the rear axle, and how much of the
// peak is kept a stated way beyond it: by a straight line through what lies beyond, so
// that laps that go less far still count.
//
// Lateral acceleration is taken at the rear axle too, ay minus its distance times the
// change of yaw rate: where the vehicle's mass lies about as far before and behind its
// centre as its axles do, that is the rear tyres' force for the load on them, whether the
// vehicle is steady or not.
func (r *run) past(w *moved) {
	if !w.slips {
		return
	}
	s := signal.Stretch{T: w.t, V: w.yaw}
	change := signal.Stretch{T: w.t, V: s.MovingMean(0.1)}.Derivative() // own choice: a tenth of a second of smoothing
	n := int(laid.SlipMost / laid.SlipStep)
	sum, seconds := make([]float64, n), make([]float64, n)
	for i := 1; i < len(w.t); i++ {
		h := w.t[i] - w.t[i-1]
		if h > longestGap || w.v[i] < slipSpeed || math.Abs(w.ax[i]) > slipAlong {
			continue
		}
		side := math.Copysign(1, w.ay[i])
		ay := side * (w.ay[i] - w.rearOfNull*change[i])
		slip := -side * (w.sideslip[i] - w.rearOfNull*w.yaw[i]/w.v[i])
		if math.Abs(w.ay[i]) < slipCorner {
			continue
		}
		// Shared between the two steps whose middles it lies between.
		at := slip/laid.SlipStep - 0.5
		k := int(math.Floor(at))
		for _, q := range [...]struct {
			k     int
			share float64
		}{{k, 1 - (at - float64(k))}, {k + 1, at - float64(k)}} {
			if q.k >= 0 && q.k < n {
				sum[q.k], seconds[q.k] = sum[q.k]+q.share*h*ay, seconds[q.k]+q.share*h
			}
		}
	}
	var x, y, weight []float64
	for k := range n {
		if seconds[k] < slipLeast {
			continue
		}
		x, y, weight = append(x, (float64(k)+0.5)*laid.SlipStep), append(y, sum[k]/seconds[k]), append(weight, seconds[k])
	}
	if len(x) < 2 {
		r.doubt("no_limit", w.t[0], "The lap has too little steady cornering for lateral acceleration against sideslip.")
		return
	}
	most := slices.Max(y)
	top := slices.IndexFunc(y, func(v float64) bool { return v >= plateau*most })
	r.trace("lateral_by_sideslip", "Lateral acceleration by sideslip at the rear axle", x, "rad", y, "m/s²")
	r.give("sideslip_at_peak", "", x[top])
	way := r.in.Parameters.Number(paramPast)
	if x[len(x)-1]-x[top] < laid.PastAtLeast*way {
		r.doubt("peak_not_passed", w.t[0], "Sideslip goes %.1f° past the peak of lateral acceleration, which says nothing of what is kept %.1f° past it.",
			(x[len(x)-1]-x[top])*180/math.Pi, way*180/math.Pi)
		return
	}
	num, den := 0.0, 0.0 // of a line through the peak
	for i := top; i < len(x); i++ {
		d := x[i] - x[top]
		num, den = num+weight[i]*d*(y[i]-most), den+weight[i]*d*d
	}
	r.give("grip_kept", "", 1+num/den*way/most)
}
