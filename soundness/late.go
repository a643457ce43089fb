package soundness

import (
	"math"
	"slices"

	"example.org/bookend/signal"
	"example.org/bookend/soundness/mend"
)

// lags decides who is late. A channel is late where it comes after the reference by
// more than it may; one that seems to come before it shows that the reference is
// late, for nothing can come early, unless a channel of another clock agrees with
// the reference.
func (j *judge) lags() {
	var early []lag
	agreed := false
	for _, l := range j.late {
		switch {
		case l.delay-sure*l.se > l.high:
			j.find(l.c, "late_channel", nil, []mend.Mend{{What: mend.Move, Value: -l.delay, Reason: "By cross-correlation."}},
				"It comes %.3f ± %.3f s after %s, by cross-correlation.", l.delay, l.se, l.of)
		case l.delay+sure*l.se < l.low:
			early = append(early, l)
		default:
			agreed = agreed || l.c.Role != signal.YawRate && l.c.Role != signal.SteeringAngle && math.Abs(l.delay) < plainlyNone && l.se < plainlyNone/2
		}
	}
	if len(early) == 0 {
		return
	}
	if agreed {
		for _, l := range early {
			j.find(l.c, "late_channel", nil, []mend.Mend{{What: mend.Move, Value: -l.delay, Reason: "By cross-correlation."}},
				"It comes %.3f ± %.3f s before %s, by cross-correlation, and others do not: its stamps are early.", -l.delay, l.se, j.ref.BySpeed)
		}
		return
	}
	slices.SortFunc(early, func(a, b lag) int {
		switch {
		case a.se < b.se:
			return -1
		case a.se > b.se:
			return 1
		}
		return 0
	})
	l := early[0]
	var mends []mend.Mend
	for _, k := range j.ref.Ground {
		o := j.original(k)
		mends = append(mends, mend.Mend{File: j.file[o], Channel: o.Name, What: mend.Move, Value: l.delay, Reason: "By cross-correlation."})
	}
	o := j.original(j.ref.Ground[0])
	j.findAll(o, "late_channel", nil, mends, "What %s shows comes %.3f ± %.3f s after %s, by cross-correlation, and nothing agrees with it: the receiver hands its values on late.",
		j.ref.BySpeed, -l.delay, l.se, l.c.Name)
}
