package logger

import (
	"example.org/bookend/course"
	"example.org/bookend/match"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
)

// lineStep is how far apart the points of a reference line lie, m (own choice: a bend
// of 10 m turns by a twentieth of a circle between them at most).
const lineStep = 1.0

// Learn makes the reference line of a course that is cut into laps by its gates: the
// first lap of a recording that counts and has positions throughout. nil where there
// is none.
func Learn(rec *signal.Recording, c *course.Course, spec programme.Spec, params programme.Parameters) *course.Line {
	if spec.Cut != programme.CutByGate || c == nil {
		return nil
	}
	lat, lon := rec.ByRole(signal.Latitude), rec.ByRole(signal.Longitude)
	pieces, _, err := match.Cut(rec, c, spec, params)
	if err != nil || lat == nil || lon == nil {
		return nil
	}
	plane := c.Plane()
	step := lat.Base.Step()
	for _, p := range pieces {
		if !p.Counts() {
			continue
		}
		for _, q := range signal.Pair(lat, lon, p.FromS-2*step, p.ToS+2*step) {
			tr := plane.Track(q.T, q.A, q.B)
			if n := len(tr.T); n < 2 || tr.T[0] > p.FromS || tr.T[n-1] < p.ToS {
				continue
			}
			if line, err := course.Learn(tr.Between(p.FromS, p.ToS).At, true, lineStep); err == nil {
				return line
			}
		}
	}
	return nil
}

// Learnt is a test's reference line and the recording that it was learnt from.
type Learnt struct {
	Line *course.Line `json:"line"` // nil: that recording has no lap for it
	From string       `json:"from"`
}
