package motion

import (
	"math"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/signal"
)

// farthest is how many seconds the anchors of recordings that belong together may
// lie apart. Own choice: beyond two days they are of other days, and float64
// seconds lose nothing within them.
const farthest = 2 * 86400.0

// Join puts recordings of one drive, one file a sensor, on the time axis of the
// first, and hands them on as one recording. Channels and what is known of them
// are kept; no value is changed, and bases only where a recording began at
// another moment.
//
// Recordings whose anchors are known lie where their clocks put them, and clocks
// of different kinds draw a caveat. Recordings without a clock are taken to count
// seconds from the same moment if their times overlap. One with a clock and one
// without cannot be joined.
func Join(recs ...*signal.Recording) (*signal.Recording, error) {
	if len(recs) == 0 {
		return nil, fault.New(fault.Invalid, "no recordings to join")
	}
	first := recs[0]
	if len(recs) == 1 {
		return first, nil
	}
	out := &signal.Recording{Anchor: first.Anchor, Reader: first.Reader}
	var names []string
	from, to := ends(first)
	for i, r := range recs {
		names = append(names, r.Name)
		out.Bytes += r.Bytes
		shift := 0.0
		switch {
		case i == 0:
		case r.Anchor.Known() != first.Anchor.Known():
			with, without := first.Name, r.Name
			if r.Anchor.Known() {
				with, without = without, with
			}
			return nil, fault.New(fault.Invalid, "%s has a clock and %s has none, so that they cannot be laid beside each other", with, without).
				WithHint("say by a mapping which time column both have: a row with its name and the role time")
		case r.Anchor.Known():
			shift = float64(r.Anchor.UnixNS-first.Anchor.UnixNS)/1e9 + r.Anchor.OffsetS - first.Anchor.OffsetS
			if math.Abs(shift) > farthest {
				return nil, fault.New(fault.Invalid, "%s begins %.0f hours from %s", r.Name, shift/3600, first.Name).
					WithHint("join recordings of one drive")
			}
			if r.Anchor.Clock != first.Anchor.Clock {
				out.Caveats.Add("other_clock", caveat.Place{File: r.Name}, "It was stamped by the %s clock, and %s by the %s clock; how far the two differ is not known.",
					r.Anchor.Clock, first.Name, first.Anchor.Clock)
			}
		default:
			f, t := ends(r)
			if f > to || t < from {
				return nil, fault.New(fault.Invalid, "%s and %s state no clock, and their seconds do not overlap", first.Name, r.Name).
					WithHint("join recordings of one drive that count from the same moment")
			}
		}
		out.Caveats = append(out.Caveats, r.Caveats.Within(caveat.Place{File: r.Name})...)
		bases := map[*signal.Base]*signal.Base{}
		for _, c := range r.Channels {
			moved := *c
			if shift != 0 {
				if bases[c.Base] == nil {
					b := &signal.Base{T: make([]float64, len(c.Base.T))}
					for k, t := range c.Base.T {
						b.T[k] = t + shift
					}
					bases[c.Base] = b
				}
				moved.Base = bases[c.Base]
			}
			out.Channels = append(out.Channels, &moved)
		}
	}
	out.Name = strings.Join(names, ", ")
	return out, nil
}

// ends gives the first and the last time of a recording in s.
func ends(r *signal.Recording) (from, to float64) {
	from, to = math.Inf(1), math.Inf(-1)
	for _, c := range r.Channels {
		if n := len(c.Base.T); n > 0 {
			from, to = min(from, c.Base.T[0]), max(to, c.Base.T[n-1])
		}
	}
	return from, to
}
