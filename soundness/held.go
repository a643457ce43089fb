package soundness

import (
	"cmp"
	"math"
	"slices"

	"example.org/bookend/caveat"
	"example.org/bookend/signal"
	"example.org/bookend/soundness/mend"
	"example.org/bookend/soundness/still"
)

// How long a channel may show the same value; own choices. A channel with noise in
// it hardly ever shows one value twice; one that is coarse may for seconds, and is
// judged by what other channels let expect of it.
const (
	noisy         = 0.2 // share of repeated samples up to which a channel counts as noisy
	clippedTotal  = 5   // at it in all
	abruptly      = 3.5 // times the channel's least step: a value comes to its own peak by small steps, to a limit at any pace
	beyondLimit   = 3.0 // times the usual disagreement by which a coarse channel is expected beyond its limit
	expectedMoves = 6.0 // times the usual disagreement by which a coarse channel should have moved while it stood
)

// analogue tells whether a channel is one that should never stand still on a
// vehicle that moves.
func analogue(role signal.Role) bool {
	switch role {
	case "", signal.Brake, signal.Throttle, signal.BeamTrigger, signal.Satellites, signal.FixQuality, signal.AirTemperature,
		signal.WaterDepth, signal.Distance, signal.Height, signal.SteeringTorque:
		return false
	}
	return true
}

func inertial(role signal.Role) bool {
	switch role {
	case signal.AccelX, signal.AccelY, signal.AccelZ, signal.YawRate, signal.RollRate, signal.PitchRate:
		return true
	}
	return false
}

// naturalEnd tells whether a channel comes to rest at a value by itself.
func naturalEnd(role signal.Role, value float64) bool {
	switch role {
	case signal.Speed, signal.WheelSpeedFL, signal.WheelSpeedFR, signal.WheelSpeedRL, signal.WheelSpeedRR, signal.VelocityEast, signal.VelocityNorth, signal.VelocityUp:
		return math.Abs(value) < surelyMoving // a vehicle at rest, and its rebound
	}
	return false
}

// stands gives the runs of one value of a channel, and the share of samples that repeat
// the one before.
func stands(c *signal.Channel) ([]still.Run, float64) {
	return still.Runs(c, max(gapSteps*c.Base.Step(), gapSeconds))
}

// held finds where a channel with noise in it stands still or still.Runs into a limit.
// moves tells whether the vehicle is known to move from one time to another, in s;
// nil where nothing tells.
func (j *judge) held(c *signal.Channel, moves func(from, to float64) bool) {
	if !analogue(c.Role) {
		return
	}
	runs, _ := stands(c)
	// What is held for one long stretch is not to make the rest look coarse.
	kept, same := 0, 0
	for _, s := range c.Valid {
		kept += s.Len()
	}
	for _, r := range runs {
		if still.Long(c, r) {
			kept -= r.Len()
		} else {
			same += r.Len() - 1
		}
	}
	repeated := float64(same) / float64(max(1, kept))
	if repeated > noisy {
		return
	}
	low, high, _ := still.Extremes(c)
	for _, r := range runs {
		if !still.Long(c, r) || naturalEnd(c.Role, r.Value) {
			continue
		}
		if (r.Value == low || r.Value == high) && still.Again(runs, r) {
			continue // a limit, not a sensor that stopped
		}
		// Inertial sensors have noise even at a standstill; anything else may rest.
		if !inertial(c.Role) && (moves == nil || !moves(c.Base.T[r.From], c.Base.T[r.To-1])) {
			continue
		}
		j.stuck(c, r)
	}
	// So many in a row stand at one value by chance less than once in a thousand
	// channels of this length.
	chance := still.Few
	if repeated > 0 {
		chance = max(still.Few, 1+int(math.Ceil(math.Log(1e3*float64(kept))/-math.Log(repeated))))
	}
	j.limits(c, runs, chance)
}

func (j *judge) stuck(c *signal.Channel, r still.Run) {
	from, to := c.Base.T[r.From], c.Base.T[r.To-1]
	j.bad[c] = append(j.bad[c], r.Span)
	j.find(c, "stuck_channel", caveat.At(from),
		[]mend.Mend{{What: mend.From, Value: from}, {What: mend.To, Value: to}, {What: mend.Drop, Reason: "It stood at one value while the vehicle moved."}},
		"It shows the same value for %.2f s while the vehicle moves, as if its sensor had stopped.", to-from)
}

// limits finds runs of at least so many samples at the greatest and the least value.
func (j *judge) limits(c *signal.Channel, runs []still.Run, least int) {
	low, high, ok := still.Extremes(c)
	if !ok || low == high {
		return
	}
	fine := still.Finest(c)
	for _, end := range []float64{high, low} {
		if naturalEnd(c.Role, end) {
			continue
		}
		total, most, first, abrupt := 0, 0, -1, 0
		for _, s := range c.Valid {
			for k := s.From; k < s.To; k++ {
				if c.Values[k] == end {
					total++
					if first < 0 {
						first = k
					}
				}
			}
		}
		var spans []signal.Span
		for _, r := range runs {
			if r.Value == end && (!still.Long(c, r) || still.Again(runs, r)) {
				most = max(most, r.Len())
				spans = append(spans, r.Span)
				if r.From > 0 && c.ValidAt(r.From-1) && math.Abs(c.Values[r.From-1]-end) > abruptly*fine {
					abrupt++
				}
			}
		}
		if most < least || total < clippedTotal || 2*abrupt < len(spans) {
			continue
		}
		j.clipped(c, end, end == high, total, first, spans)
	}
}

func (j *judge) clipped(c *signal.Channel, end float64, top bool, total, first int, spans []signal.Span) {
	j.bad[c] = append(j.bad[c], spans...)
	what, word := mend.DropAbove, "more"
	if !top {
		what, word = mend.DropBelow, "less"
	}
	j.find(c, "clipped_channel", caveat.At(c.Base.T[first]),
		[]mend.Mend{{What: what, Value: end, Reason: "It ran into its limit; what was beyond is not known."}},
		"%d samples stand at %.4g %s and none shows %s, as if its range ended there; the true values lie beyond.", total, end, unitOf(c), word)
}

func unitOf(c *signal.Channel) string { return cmp.Or(c.Unit, "(no unit)") }

// without gives the channel without the samples found bad so far.
func (j *judge) without(c *signal.Channel) *signal.Channel {
	bad := j.bad[c]
	if len(bad) == 0 {
		return c
	}
	d := *c
	d.Values, d.Valid = slices.Clone(c.Values), slices.Clone(c.Valid)
	mend.Keep(&d, func(k int) bool {
		return !slices.ContainsFunc(bad, func(s signal.Span) bool { return k >= s.From && k < s.To })
	})
	return &d
}
