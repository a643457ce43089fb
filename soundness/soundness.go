// Package soundness asks of the recordings of one drive whether they are right: what
// each channel holds (Channels), and what is wrong with it (Judge), each with the mend
// that would put it right. Nothing is mended here; package mend does what somebody has
// accepted.
//
// What is looked for: a gap, and a clock that was set; a channel that stands still or
// runs into a limit; and by physics, beside what the other channels let expect, a wrong
// sign, a wrong unit, a factor, a constant offset, a delay, and a channel that is not
// what its role says. The reference is the velocity or the positions of a satellite
// receiver, where there are any (lateral acceleration beside speed times the rate at
// which the course turns, wheels beside the speed over ground, steering beside the
// bend), else a speed with the yaw rate. Stamps that repeat or fall back are the
// reader's to say.
//
// What is compared is averaged onto a grid of 0.05 s and cut above 1.5 Hz, alike on
// both sides. A finding asks for four standard errors beyond what sound sensors of a
// vehicle may show; bounds stand at their lines. It therefore says nothing where a
// drive shows too little: no delay from a steady circle, no factor of a speed that
// hardly changes, none of a wheel below 2 % (its rolling radius changes by as much),
// none of an acceleration below 10 to 25 % (the body rolls and the road banks).
//
// Times are in s from the recording's anchor, values in the channel's SI unit; signs
// follow ISO 8855:2011.
package soundness

import (
	"slices"

	"example.org/bookend/signal"
)

// gapSteps is how many median steps make a gap. Own choice: one lost sample
// gives two steps, and clocks that jitter by half a step must not count.
const gapSteps = 2.5

// Channel is what one channel holds.
type Channel struct {
	Name       string   `json:"name"`
	Role       string   `json:"role"` // empty where not known
	Unit       string   `json:"unit"`
	SourceUnit string   `json:"source_unit"`
	Samples    int      `json:"samples"`
	Valid      int      `json:"valid"`
	Rate       *float64 `json:"rate_hz,omitempty"` // by the median step; nil with fewer than two samples
	FromS      float64  `json:"from_s"`
	ToS        float64  `json:"to_s"`
	Gaps       int      `json:"gaps"`                    // steps longer than 2.5 median ones
	LargestGap *float64 `json:"largest_gap_s,omitempty"` // nil where there is none
	Low        *float64 `json:"low,omitempty"`           // of the valid values; nil where there is none
	High       *float64 `json:"high,omitempty"`
}

// Channels says what each channel of a recording holds, in the file's order.
func Channels(rec *signal.Recording) []Channel {
	type steps struct {
		rate, largest *float64
		gaps          int
	}
	bases := map[*signal.Base]steps{}
	out := make([]Channel, 0, len(rec.Channels))
	for _, c := range rec.Channels {
		s, known := bases[c.Base]
		if !known {
			s.rate, s.gaps, s.largest = cadence(c.Base.T)
			bases[c.Base] = s
		}
		d := Channel{
			Name: c.Name, Role: string(c.Role), Unit: c.Unit, SourceUnit: c.SourceUnit, Samples: c.Len(),
			Rate: s.rate, Gaps: s.gaps, LargestGap: s.largest,
		}
		if n := len(c.Base.T); n > 0 {
			d.FromS, d.ToS = c.Base.T[0], c.Base.T[n-1]
		}
		for _, span := range c.Valid {
			d.Valid += span.Len()
			low, high := slices.Min(c.Values[span.From:span.To]), slices.Max(c.Values[span.From:span.To])
			if d.Low == nil || low < *d.Low {
				d.Low = &low
			}
			if d.High == nil || high > *d.High {
				d.High = &high
			}
		}
		out = append(out, d)
	}
	return out
}

// cadence gives the rate by the median step in Hz, how many steps are gaps, and
// the largest of those in s.
func cadence(t []float64) (rate *float64, gaps int, largest *float64) {
	if len(t) < 2 {
		return nil, 0, nil
	}
	step := make([]float64, len(t)-1)
	for i := range step {
		step[i] = t[i+1] - t[i]
	}
	sorted := slices.Sorted(slices.Values(step))
	median := sorted[len(sorted)/2]
	if median <= 0 {
		return nil, 0, nil
	}
	hz := 1 / median
	for _, s := range step {
		if s > gapSteps*median {
			gaps++
			if largest == nil || s > *largest {
				largest = &s
			}
		}
	}
	return &hz, gaps, largest
}
