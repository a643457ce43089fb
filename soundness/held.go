package soundness

import (
	"cmp"
	"math"
	"slices"

	"example.org/bookend/caveat"
	"example.org/bookend/signal"
	"example.org/bookend/soundness/mend"
)

// How long a channel may show the same value; own choices. A channel with noise in
// it hardly ever shows one value twice; one that is coarse may for seconds, and is
// judged by what other channels let expect of it.
const (
	stuckFor      = 0.5 // s
	stuckSamples  = 10  // at least
	noisy         = 0.2 // share of repeated samples up to which a channel counts as noisy
	clippedRun    = 3   // samples in a row at the greatest value
	clippedTotal  = 5   // at it in all
	abruptly      = 3.5 // times the channel's least step: a value comes to its own peak by small steps, to a limit at any pace
	beyondLimit   = 3.0 // times the usual disagreement by which a coarse channel is expected beyond its limit
	expectedMoves = 6.0 // times the usual disagreement by which a coarse channel should have moved while it stood
)

// run is a stretch of samples of one value.
type run struct {
	signal.Span
	value float64
}

// still gives the runs of two samples or more of one value, and the share of
// samples that repeat the one before. A run ends where samples are missing.
func still(c *signal.Channel) (runs []run, repeated float64) {
	n, same := 0, 0
	far := max(gapSteps*c.Base.Step(), gapSeconds)
	for _, s := range c.Valid {
		from := s.From
		for k := s.From + 1; k <= s.To; k++ {
			if k < s.To && c.Values[k] == c.Values[k-1] && c.Base.T[k]-c.Base.T[k-1] <= far {
				continue
			}
			n += k - from
			same += k - from - 1
			if k-from > 1 {
				runs = append(runs, run{signal.Span{From: from, To: k}, c.Values[from]})
			}
			from = k
		}
	}
	return runs, float64(same) / float64(max(1, n))
}

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

// held finds where a channel with noise in it stands still or runs into a limit.
// moves tells whether the vehicle is known to move from one time to another, in s;
// nil where nothing tells.
func (j *judge) held(c *signal.Channel, moves func(from, to float64) bool) {
	if !analogue(c.Role) {
		return
	}
	runs, _ := still(c)
	// What is held for one long stretch is not to make the rest look coarse.
	kept, same := 0, 0
	for _, s := range c.Valid {
		kept += s.Len()
	}
	for _, r := range runs {
		if long(c, r) {
			kept -= r.Len()
		} else {
			same += r.Len() - 1
		}
	}
	repeated := float64(same) / float64(max(1, kept))
	if repeated > noisy {
		return
	}
	low, high, _ := extremes(c)
	for _, r := range runs {
		if !long(c, r) || naturalEnd(c.Role, r.value) {
			continue
		}
		if (r.value == low || r.value == high) && again(runs, r) {
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
	chance := clippedRun
	if repeated > 0 {
		chance = max(clippedRun, 1+int(math.Ceil(math.Log(1e3*float64(kept))/-math.Log(repeated))))
	}
	j.limits(c, runs, chance)
}

// again tells whether a channel stood at the value of a run at another time too.
func again(runs []run, r run) bool {
	return slices.ContainsFunc(runs, func(o run) bool { return o.value == r.value && o.From != r.From && o.Len() >= clippedRun })
}

func long(c *signal.Channel, r run) bool {
	return r.Len() >= stuckSamples && c.Base.T[r.To-1]-c.Base.T[r.From] >= stuckFor
}

func (j *judge) stuck(c *signal.Channel, r run) {
	from, to := c.Base.T[r.From], c.Base.T[r.To-1]
	j.bad[c] = append(j.bad[c], r.Span)
	j.find(c, "stuck_channel", caveat.At(from),
		[]mend.Mend{{What: mend.From, Value: from}, {What: mend.To, Value: to}, {What: mend.Drop, Reason: "It stood at one value while the vehicle moved."}},
		"It shows the same value for %.2f s while the vehicle moves, as if its sensor had stopped.", to-from)
}

// limits finds runs of at least so many samples at the greatest and the least value.
func (j *judge) limits(c *signal.Channel, runs []run, least int) {
	low, high, ok := extremes(c)
	if !ok || low == high {
		return
	}
	fine := finest(c)
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
			if r.value == end && (!long(c, r) || again(runs, r)) {
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

// finest gives the least difference between neighbouring samples that is none.
func finest(c *signal.Channel) float64 {
	least := math.Inf(1)
	for _, s := range c.Valid {
		for k := s.From + 1; k < s.To; k++ {
			if d := math.Abs(c.Values[k] - c.Values[k-1]); d > 0 {
				least = math.Min(least, d)
			}
		}
	}
	return least
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

func extremes(c *signal.Channel) (low, high float64, ok bool) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, s := range c.Valid {
		low = min(low, slices.Min(c.Values[s.From:s.To]))
		high = max(high, slices.Max(c.Values[s.From:s.To]))
	}
	return low, high, low <= high
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
