package lap

import (
	"math"
	"slices"

	"example.org/bookend/procedure/lap/corner"
	"example.org/bookend/signal"
)

// wheels are the wheels whose speeds are looked at.
var wheels = []signal.Role{signal.WheelSpeedFL, signal.WheelSpeedFR, signal.WheelSpeedRL, signal.WheelSpeedRR}

// Floating; own choices beside the parameters: what is slower than 8 m/s does not
// float; a wheel is judged while the vehicle neither brakes nor accelerates by more than
// 2 m/s², a yaw rate where 2 m/s² of lateral acceleration are asked for; a wheel's scale
// is its median against the speed over ground.
const (
	floatSpeed   = 8.0 // m/s
	floatAlong   = 2.0 // m/s²
	floatAsked   = 2.0 // m/s²
	floatSamples = 20
)

// floating gives for how long the lap's tyres floated, where wheel speed or yaw rate
// says so.
func (r *run) floating(w *moved, corners []corner.Corner) {
	p := r.in.Parameters
	slip := make([]float64, len(w.t)) // of the wheel that is farthest off
	known := 0
	for _, role := range wheels {
		c := r.rec.ByRole(role)
		if c == nil {
			continue
		}
		var ratios []float64
		v := make([]float64, len(w.t))
		ok := make([]bool, len(w.t))
		for i, t := range w.t {
			if v[i], ok[i] = c.At(t); ok[i] && w.v[i] > floatSpeed && math.Abs(w.ax[i]) < floatAlong {
				ratios = append(ratios, v[i]/w.v[i])
			}
		}
		if len(ratios) < floatSamples {
			continue
		}
		known++
		slices.Sort(ratios)
		scale := ratios[len(ratios)/2]
		if scale <= 0 {
			continue
		}
		for i := range w.t {
			if ok[i] && w.v[i] > floatSpeed {
				if s := v[i]/(scale*w.v[i]) - 1; math.Abs(s) > math.Abs(slip[i]) {
					slip[i] = s
				}
			}
		}
	}
	float := make([]bool, len(w.t))
	least := p.Number(paramFloatFor)
	if known > 0 {
		limit := p.Number(paramFloatSlip)
		w.held(float, least, func(i int) bool { return math.Abs(slip[i]) >= limit && math.Abs(w.ax[i]) < floatAlong })
		r.trace("wheel_slip_by_station", "Slip of the wheel that is farthest off, by station", w.station, "m", slip, "1")
	}
	if known > 0 && known < len(wheels) {
		r.doubt("wheel_speed_missing", w.t[0], "%d of 4 wheels have no speed in the lap; whether they floated is not known.", len(wheels)-known)
	}
	turns := r.answers(w)
	if turns != nil {
		share := p.Number(paramFloatYaw)
		w.held(float, math.Max(least, 0.2), func(i int) bool { return turns[i] >= 0 && turns[i] < share }) // 0.2 s: own choice, longer than yaw lags
	}
	if known == 0 && turns == nil {
		if !w.inertial {
			return // said with what positions alone leave out
		}
		r.doubt("no_floating", w.t[0], "Without wheel speeds and without steering and yaw rate nothing says whether a tyre floated.")
		return
	}
	_, all := w.over(func(i int) bool { return float[i] }, func(int) float64 { return 1 })
	r.give("floating_time", "", all)
	for _, c := range corners {
		_, seconds := w.over(func(i int) bool { return float[i] && w.station[i] >= c.From && w.station[i] <= c.To }, func(int) float64 { return 1 })
		r.give("corner_floating_time", c.Place(), seconds)
	}
}

// held marks what holds for a least time in s without a break.
func (w *moved) held(mark []bool, least float64, holds func(i int) bool) {
	from := -1
	for i := 0; i <= len(w.t); i++ {
		if i < len(w.t) && w.v[i] > floatSpeed && holds(i) && (from < 0 || w.t[i]-w.t[i-1] < longestGap) {
			if from < 0 {
				from = i
			}
			continue
		}
		if from >= 0 && w.t[i-1]-w.t[from] >= least {
			for k := from; k < i; k++ {
				mark[k] = true
			}
		}
		from = -1
	}
}

// answers gives how much yaw rate the steering yields at each sample, for the lap's
// median; negative where too little is asked for. nil where steering or yaw rate is not
// known.
func (r *run) answers(w *moved) []float64 {
	if !w.steers || !w.inertial {
		return nil
	}
	out := make([]float64, len(w.t))
	var all []float64
	for i := range w.t {
		out[i] = -1
		if asked := w.v[i] * w.steer[i]; w.v[i] > floatSpeed && asked != 0 {
			out[i] = w.yaw[i] / asked
			if math.Abs(w.ay[i]) > floatAsked && out[i] > 0 {
				all = append(all, out[i])
			}
		}
	}
	if len(all) < floatSamples {
		return nil
	}
	slices.Sort(all)
	usual := all[len(all)/2]
	for i := range out {
		if asked := usual * w.v[i] * w.steer[i]; out[i] == -1 || math.Abs(asked)*w.v[i] < floatAsked {
			out[i] = -1
		} else {
			out[i] = math.Max(0, out[i]/usual)
		}
	}
	return out
}
