// Package clocks lays recordings of one drive, each by an instrument with a clock of its
// own, on the time of the first.
//
// How far two clocks differ is found from what both instruments show of the speed: the
// acceleration of a body beside the change of the satellites' speed, or wheel speeds
// beside that speed. A wheel that drives or brakes slips about in proportion to the
// acceleration and to the speed, which looks like a delay; slip is fitted beside it, and at the limit, where that does not
// go well, the parts of a drive disagree and nothing is moved. What is found is clocks and the instruments' own delays together, which is what has to be
// taken out for values of one moment to stand side by side.
//
// Times in s, speeds in m/s, accelerations in m/s²; signs of ISO 8855. Limits: a steady
// drive shows nothing, and nothing beyond 3 s is looked for: a clock that is set wrong is
// no drift, and package soundness tells of it.
package clocks

import (
	"math"
	"slices"

	"example.org/bookend/caveat"
	"example.org/bookend/signal"
)

// How the difference is found; own choices.
const (
	step    = 0.05 // s, of the grid
	half    = 5    // samples to each side that a mean takes, alike on both sides
	widest  = 60   // samples either way that are tried
	shape   = 0.8  // correlation from which on two signals show the same
	parts   = 8    // of the drive, whose differences say how sure the mean is
	least   = 200  // samples that both must show
	certain = 0.02 // s, standard error beyond which nothing is moved
)

// speeds are the roles that say how fast the vehicle goes.
var speeds = []signal.Role{signal.Speed, signal.WheelSpeedFL, signal.WheelSpeedFR, signal.WheelSpeedRL, signal.WheelSpeedRR}

// Offset is how much later than the first recording's another one's stamps come.
type Offset struct {
	S, SE float64 // s
	By    string  // the channels that tell
	Known bool
}

// Lay gives recordings as they lie on the first one's time, those after the first moved by
// what Of finds; a caveat says by how much, or that nothing tells. Recordings without a
// clock stay where they are.
func Lay(recs []*signal.Recording) ([]*signal.Recording, caveat.List) {
	var notes caveat.List
	out := append([]*signal.Recording{}, recs...)
	for i := 1; i < len(recs); i++ {
		a, b := recs[0], recs[i]
		if !a.Anchor.Known() || !b.Anchor.Known() {
			continue
		}
		o := Of(a, b)
		moved := *b
		out[i] = &moved
		if !o.Known {
			// A speed at another time than the others would bend the motion.
			moved.Channels = nil
			for _, c := range b.Channels {
				if !slices.Contains(speeds, c.Role) {
					moved.Channels = append(moved.Channels, c)
				}
			}
			notes.Add("clock_not_compared", caveat.Place{File: b.Name}, "Nothing in it tells surely how far its clock is off that of %s; it lies where its stamps put it, its speeds are left out, and delays between the two are no better than their clocks.", a.Name)
			continue
		}
		moved.Anchor.OffsetS -= o.S
		word := "after"
		if o.S < 0 {
			word = "before"
		}
		notes.Add("clock_laid", caveat.Place{File: b.Name}, "Its stamps come %.3f ± %.3f s %s those of %s, by %s beside the speed over ground; it is moved by that.", math.Abs(o.S), o.SE, word, a.Name, o.By)
	}
	return out, notes
}

// Of gives by how much the stamps of b come after those of a.
func Of(a, b *signal.Recording) Offset {
	speed := a.SpeedOverGround()
	if speed == nil || len(speed.Base.T) < 2 {
		return Offset{}
	}
	shift := after(a, b)
	from, to := speed.Base.T[0], speed.Base.T[len(speed.Base.T)-1]
	n := int((to - from) / step)
	if n < least {
		return Offset{}
	}
	v := smooth(grid(speed, from, n))
	rate := slope(v)
	if c := b.ByRole(signal.AccelX); c != nil {
		if o := body(rate, func(late float64) []float64 { return smooth(grid(c, from-shift+late, n)) }); o.Known {
			o.By = c.Name
			return o
		}
	}
	for _, axle := range [][2]signal.Role{{signal.WheelSpeedFL, signal.WheelSpeedFR}, {signal.WheelSpeedRL, signal.WheelSpeedRR}} {
		l, r := b.ByRole(axle[0]), b.ByRole(axle[1])
		if l == nil || r == nil {
			continue
		}
		at := func(late float64) []float64 {
			x, y := grid(l, from-shift+late, n), grid(r, from-shift+late, n)
			for i := range x {
				x[i] = (x[i] + y[i]) / 2 // the axle's middle, whatever the bend
			}
			return smooth(x)
		}
		if o := wheels(v, rate, at); o.Known {
			o.By = l.Name + " and " + r.Name
			return o
		}
	}
	return Offset{}
}

// after gives by how much b's anchor lies after a's by their clocks, s.
func after(a, b *signal.Recording) float64 {
	return float64(b.Anchor.UnixNS-a.Anchor.UnixNS)/1e9 + b.Anchor.OffsetS - a.Anchor.OffsetS
}

// body compares an acceleration with that of the speed: shown = k·rate + k·late·rate' + c.
func body(rate []float64, at func(late float64) []float64) Offset {
	late, ok := coarse(rate, at(0))
	if !ok {
		return Offset{}
	}
	return fine(late, at, func(i int) ([]float64, bool) {
		if i < 1 || i+1 >= len(rate) {
			return nil, false
		}
		return []float64{rate[i], (rate[i+1] - rate[i-1]) / (2 * step), 1}, true
	})
}

// wheels compares a wheel's speed with that over ground:
// shown = k·v + k·late·rate + slip·v·rate.
func wheels(v, rate []float64, at func(late float64) []float64) Offset {
	late, ok := coarse(rate, slope(at(0)))
	if !ok {
		return Offset{}
	}
	return fine(late, at, func(i int) ([]float64, bool) { return []float64{v[i], rate[i], v[i] * rate[i]}, true })
}

// coarse gives the delay at which two signals correlate best, to a sample; b comes later
// for a delay above 0.
func coarse(a, b []float64) (late float64, ok bool) {
	best, at := 0.0, 0
	for k := -widest; k <= widest; k++ {
		var n, sa, sb, saa, sbb, sab float64
		for i := range a {
			if j := i + k; j >= 0 && j < len(b) && !math.IsNaN(a[i]) && !math.IsNaN(b[j]) {
				n++
				sa, sb = sa+a[i], sb+b[j]
				saa, sbb, sab = saa+a[i]*a[i], sbb+b[j]*b[j], sab+a[i]*b[j]
			}
		}
		if d := (saa - sa*sa/n) * (sbb - sb*sb/n); n >= least && d > 0 {
			if r := (sab - sa*sb/n) / math.Sqrt(d); r > best {
				best, at = r, k
			}
		}
	}
	return float64(at) * step, best >= shape && at > -widest && at < widest
}

// fine makes a delay better by least squares, part by part of the drive: what comes second
// among the explaining ones is the delay times the first's factor. Three rounds bring it to
// where a straight line is exact.
func fine(late float64, at func(late float64) []float64, explain func(i int) ([]float64, bool)) Offset {
	o := Offset{S: late}
	for range 3 {
		y := at(o.S)
		var found []float64
		for p := range parts {
			var s [3][4]float64
			n := 0
			for i := p * len(y) / parts; i < (p+1)*len(y)/parts; i++ {
				x, ok := explain(i)
				if !ok || math.IsNaN(y[i]+x[0]+x[1]+x[2]) {
					continue
				}
				n++
				for j := range 3 {
					for k := range 3 {
						s[j][k] += x[j] * x[k]
					}
					s[j][3] += x[j] * y[i]
				}
			}
			if n < least/parts {
				continue
			}
			if c, ok := solve(s); ok && c[0] > 0.3 {
				found = append(found, -c[1]/c[0])
			}
		}
		if len(found) < parts/2 {
			return Offset{}
		}
		mean, square := 0.0, 0.0
		for _, d := range found {
			mean += d / float64(len(found))
		}
		for _, d := range found {
			square += (d - mean) * (d - mean)
		}
		o.S += mean
		o.SE = math.Sqrt(square / float64(len(found)*(len(found)-1)))
	}
	o.Known = o.SE <= certain
	return o
}

// solve solves three equations by elimination, the pivot the greatest of its column.
func solve(s [3][4]float64) (x [3]float64, ok bool) {
	for k := range 3 {
		p := k
		for i := k + 1; i < 3; i++ {
			if math.Abs(s[i][k]) > math.Abs(s[p][k]) {
				p = i
			}
		}
		s[k], s[p] = s[p], s[k]
		if math.Abs(s[k][k]) < 1e-12 {
			return x, false
		}
		for i := k + 1; i < 3; i++ {
			f := s[i][k] / s[k][k]
			for j := k; j < 4; j++ {
				s[i][j] -= f * s[k][j]
			}
		}
	}
	for k := 2; k >= 0; k-- {
		x[k] = s[k][3]
		for j := k + 1; j < 3; j++ {
			x[k] -= s[k][j] * x[j]
		}
		x[k] /= s[k][k]
	}
	return x, true
}

// grid gives n values of a channel from a time on, each step; where it is not valid there
// is none, which inside this package is not a number.
func grid(c *signal.Channel, from float64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		v, ok := c.At(from + float64(i)*step)
		if !ok {
			v = math.NaN()
		}
		out[i] = v
	}
	return out
}

// smooth gives means of neighbours; one without all of them is none.
func smooth(v []float64) []float64 {
	out := make([]float64, len(v))
	for i := range v {
		out[i] = math.NaN()
		if i < half || i+half >= len(v) {
			continue
		}
		sum := 0.0
		for k := i - half; k <= i+half; k++ {
			sum += v[k]
		}
		out[i] = sum / (2*half + 1)
	}
	return out
}

func slope(v []float64) []float64 {
	out := make([]float64, len(v))
	for i := range v {
		out[i] = math.NaN()
		if i > 0 && i+1 < len(v) {
			out[i] = (v[i+1] - v[i-1]) / (2 * step)
		}
	}
	return out
}
