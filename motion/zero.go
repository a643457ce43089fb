package motion

import (
	"math"

	"example.org/bookend/course"
	"example.org/bookend/motion/sensors"
	"example.org/bookend/signal"
)

// Zero is what a channel shows where it should show 0.
type Zero struct {
	Channel *signal.Channel
	Offset  float64 // in the channel's unit
	SD      float64 // of the offset, from how the stretches differ; 0 where there is one only
	At      string  // "standstill" or "straight"
	Seconds float64 // for how long in all
	Pieces  int     // in how many stretches
}

// How straights are found; own choices.
const (
	straightSpeed = 5.0  // m/s
	straightTurn  = 0.01 // rad/s; a bend of 2 km at 20 m/s
	straightFor   = 2.0  // s
)

// Zeros gives the zero errors of a recording's rates, accelerations and steering
// angle, as its standstills and its straights show them. At a standstill rates
// should be 0, and accelerations too but for the slope of the ground, which is in
// what is given. On a straight what the course says is taken off: the rate at
// which it turns, or speed times that; a lateral acceleration has the bank of the
// road left in it, and the steering angle what the bank asks for.
func Zeros(rec *signal.Recording) []Zero {
	plane := course.NewPlane(course.Position{})
	if lat, lon := rec.ByRole(signal.Latitude), rec.ByRole(signal.Longitude); lat != nil && lon != nil && len(lat.Valid) > 0 {
		i := lat.Valid[0].From
		plane = course.NewPlane(course.Position{Latitude: lat.Values[i], Longitude: lon.Values[min(i, len(lon.Values)-1)]})
	}
	k := sensors.Gather(rec, plane, Lever{}, 0)
	var out []Zero
	still := k.Standing()
	for _, role := range [...]signal.Role{signal.YawRate, signal.RollRate, signal.PitchRate, signal.AccelX, signal.AccelY} {
		if c := rec.ByRole(role); c != nil {
			out = zero(out, c, "standstill", still, func([2]float64) float64 { return 0 })
		}
	}
	t, v, turn := k.Turning()
	straights := straight(t, v, turn)
	mean := func(p [2]float64, of func(i int) float64) float64 {
		sum, n := 0.0, 0
		for i, at := range t {
			if at >= p[0] && at <= p[1] {
				sum += of(i)
				n++
			}
		}
		return sum / float64(max(1, n))
	}
	for _, q := range [...]struct {
		role signal.Role
		is   func(p [2]float64) float64
	}{
		{signal.YawRate, func(p [2]float64) float64 { return mean(p, func(i int) float64 { return turn[i] }) }},
		{signal.AccelY, func(p [2]float64) float64 { return mean(p, func(i int) float64 { return turn[i] * v[i] }) }},
		{signal.SteeringAngle, func([2]float64) float64 { return 0 }},
	} {
		if c := rec.ByRole(q.role); c != nil {
			out = zero(out, c, "straight", straights, q.is)
		}
	}
	return out
}

// straight gives the stretches, from and to in s, in which the vehicle goes
// straight on for two seconds or more.
func straight(t, v, turn []float64) [][2]float64 {
	var out [][2]float64
	begin := -1
	for i := 0; i <= len(t); i++ {
		if i < len(t) && math.Abs(turn[i]) < straightTurn && v[i] > straightSpeed && (begin < 0 || t[i]-t[i-1] < sensors.StillFor) {
			if begin < 0 {
				begin = i
			}
			continue
		}
		if begin >= 0 && t[i-1]-t[begin] >= straightFor {
			out = append(out, [2]float64{t[begin], t[i-1]})
		}
		begin = -1
	}
	return out
}

// zero adds what a channel shows in stretches beyond what it should.
func zero(out []Zero, c *signal.Channel, at string, stretches [][2]float64, is func([2]float64) float64) []Zero {
	var mean, weight []float64
	total, sum := 0.0, 0.0
	for _, p := range stretches {
		x, n := 0.0, 0
		for _, s := range c.Stretches(p[0], p[1]) {
			for _, v := range s.V {
				x += v
				n++
			}
		}
		if n == 0 {
			continue
		}
		m, w := x/float64(n)-is(p), p[1]-p[0]
		mean, weight = append(mean, m), append(weight, w)
		sum += m * w
		total += w
	}
	if total == 0 {
		return out
	}
	z := Zero{Channel: c, Offset: sum / total, At: at, Seconds: total, Pieces: len(mean)}
	if n := len(mean); n > 1 {
		square, share := 0.0, 0.0
		for i, m := range mean {
			w := weight[i] / total
			square += w * (m - z.Offset) * (m - z.Offset)
			share += w * w
		}
		z.SD = math.Sqrt(square * share / (1 - share)) // of a weighted mean, weights known
	}
	return append(out, z)
}
