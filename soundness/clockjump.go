package soundness

import (
	"math"

	"example.org/bookend/caveat"
	"example.org/bookend/course"
	"example.org/bookend/signal"
	"example.org/bookend/soundness/mend"
)

// gapSeconds is how long at least a step is that is told as a gap. Own choice: at
// 100 km/h the vehicle goes 2.8 m in it.
const gapSeconds = 0.1

// Of a step in the stamps it is asked whether the vehicle went on meanwhile. Own
// choices: it must have been quick enough for the answer to be plain.
const (
	jumpSeconds = 0.3 // s, longer than the usual step
	jumpSpeed   = 3.0 // m/s
	jumpShare   = 0.5 // of the way that the speed would have taken it, below which it did not
)

// stamps looks at the steps of each base: gaps, and jumps of its clock.
func (j *judge) stamps() {
	for _, b := range j.bases() {
		median := b.Step()
		if median <= 0 {
			continue
		}
		position := j.position(b)
		limit := max(gapSteps*median, gapSeconds)
		count, at, longest := 0, 0.0, 0.0
		for i := 1; i < len(b.T); i++ {
			step := b.T[i] - b.T[i-1]
			if step <= limit {
				continue
			}
			if step-median > jumpSeconds && position != nil && jumped(position, i, step, median) {
				j.jump(b, b.T[i], step-median, "the vehicle is where it would have been one step later")
				continue
			}
			count++
			if step > longest {
				longest, at = step, b.T[i-1]
			}
		}
		if count == 0 {
			continue
		}
		var mends []mend.Mend
		for _, c := range j.on(b) {
			mends = append(mends, mend.Mend{File: j.file[c], Channel: c.Name, What: mend.Split, Value: limit, Reason: "Nothing is known of the time in between."})
		}
		first := j.on(b)[0]
		j.findAll(first, "gap", caveat.At(at), mends, "%d steps are longer than %.3g s; the longest, %.4g s, begins here, and values in between would be made up.", count, limit, longest)
	}
}

// jump says that the clock of a base was set forward by d s before a moment.
func (j *judge) jump(b *signal.Base, at, d float64, why string) {
	var mends []mend.Mend
	for _, c := range j.on(b) {
		mends = append(mends, mend.Mend{File: j.file[c], Channel: c.Name, What: mend.From, Value: at},
			mend.Mend{File: j.file[c], Channel: c.Name, What: mend.Move, Value: -d, Reason: "The logger's clock was set forward."})
	}
	j.findAll(j.on(b)[0], "clock_jump", caveat.At(at), mends, "The stamps jump by %.3f s here, but %s: the clock was set, no time passed.", d, why)
}

// position gives the positions in m that stand on a base, nil where there are none.
func (j *judge) position(b *signal.Base) []course.Point {
	for _, roles := range [][2]signal.Role{{signal.Latitude, signal.Longitude}, {signal.East, signal.North}} {
		x, y := j.byRole(roles[0], b), j.byRole(roles[1], b)
		if x == nil || y == nil || !x.AllValid() || !y.AllValid() {
			continue
		}
		out := make([]course.Point, x.Len())
		plane := course.NewPlane(course.Position{Latitude: x.Values[0], Longitude: y.Values[0]})
		for i := range out {
			if roles[0] == signal.Latitude {
				out[i] = plane.Place(x.Values[i], y.Values[i])
			} else {
				out[i] = course.Point{East: x.Values[i], North: y.Values[i]}
			}
		}
		return out
	}
	return nil
}

// jumped tells whether a vehicle that moved before and after a step did not move on
// in it.
func jumped(p []course.Point, i int, step, median float64) bool {
	const about = 5 // samples on each side, for the speed
	if i-about-1 < 0 || i+about >= len(p) {
		return false
	}
	before := p[i-1].Distance(p[i-1-about]) / (about * median)
	after := p[i+about].Distance(p[i]) / (about * median)
	way := p[i].Distance(p[i-1])
	return math.Min(before, after) > jumpSpeed && way < jumpShare*math.Min(before, after)*step
}
