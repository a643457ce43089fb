// Package mend changes channels of a recording as somebody has accepted: a factor, an
// offset, a sign, a time, or samples taken for missing. Nothing is changed by itself.
// Every change is written into the channel's history, in order, and goes with it into
// the derivation of whatever is computed from it.
//
// Values are in the channel's SI unit, times in s from the recording's anchor.
package mend

import (
	"math"
	"slices"
	"sort"

	"example.org/bookend/fault"
	"example.org/bookend/signal"
)

// What a mend does to a channel, as it stands in the channel's history. From and
// To do nothing themselves: they bound the mend that follows them.
const (
	Scale     = "scale"      // values times Value
	Offset    = "offset"     // Value is added, in the channel's unit
	Sign      = "sign"       // values are turned over; Value is -1
	Move      = "move"       // samples are put Value s later; negative: earlier
	Drop      = "drop"       // samples are taken for missing; Value is 0
	DropAbove = "drop_above" // samples at or above Value, in the channel's unit, are taken for missing
	DropBelow = "drop_below" // samples at or below Value likewise
	Split     = "split"      // no value is taken between samples more than Value s apart
	From      = "from"       // the next mend is for samples at or after Value s
	To        = "to"         // the next mend is for samples at or before Value s
)

// Mend is a change proposed for a channel, or accepted. File is the recording's
// name; empty where there is one recording only.
type Mend struct {
	File    string  `json:"file,omitempty"`
	Channel string  `json:"channel"`
	What    string  `json:"what"`
	Value   float64 `json:"value"` // a factor, seconds, or a value in the channel's SI unit
	Reason  string  `json:"reason,omitempty"`
}

// Apply gives the recording with accepted mends made in their order and written
// into the histories of the channels. The recording that is handed in is not
// changed. Mends of other files are passed over; a mend of a channel that is not
// there, or one that cannot be made, is a fault.
func Apply(rec *signal.Recording, mends []Mend) (*signal.Recording, error) {
	a := applier{out: *rec, open: map[string]*stretch{}, moved: map[move]*signal.Base{}}
	a.out.Channels = slices.Clone(rec.Channels)
	for _, m := range mends {
		if m.File != "" && m.File != rec.Name {
			continue
		}
		if _, err := rec.ByName(m.Channel); err != nil {
			return nil, err
		}
		if err := a.make(m); err != nil {
			return nil, fault.At(err, "%s, channel %s", rec.Name, m.Channel)
		}
	}
	return &a.out, nil
}

type stretch struct{ from, to float64 }

type move struct {
	base *signal.Base
	stretch
	by float64
}

type applier struct {
	out   signal.Recording
	open  map[string]*stretch // of each channel that is changed: what the next mend is for
	moved map[move]*signal.Base
}

// make makes one mend.
func (a *applier) make(m Mend) error {
	if math.IsNaN(m.Value) || math.IsInf(m.Value, 0) {
		return fault.New(fault.Invalid, "a mend %q by %g", m.What, m.Value)
	}
	i := slices.IndexFunc(a.out.Channels, func(c *signal.Channel) bool { return c.Name == m.Channel })
	c := a.out.Channels[i]
	in := a.open[m.Channel]
	if in == nil { // a copy of its own
		d := *c
		d.Values, d.Valid, d.History = slices.Clone(c.Values), slices.Clone(c.Valid), slices.Clone(c.History)
		c = &d
		a.out.Channels[i] = c
		in = &stretch{math.Inf(-1), math.Inf(1)}
		a.open[m.Channel] = in
	}
	c.History = append(c.History, signal.Mend{What: m.What, Value: m.Value, Reason: m.Reason})
	lo := sort.SearchFloat64s(c.Base.T, in.from)
	hi := sort.Search(len(c.Base.T), func(k int) bool { return c.Base.T[k] > in.to })
	switch m.What {
	case From:
		in.from = m.Value
		return nil
	case To:
		in.to = m.Value
		return nil
	case Scale, Sign, Offset:
		if m.What == Scale && m.Value == 0 {
			return fault.New(fault.Invalid, "a scale of 0 leaves nothing of it")
		}
		for k := lo; k < hi; k++ {
			switch {
			case !c.ValidAt(k):
			case m.What == Scale:
				c.Values[k] *= m.Value
			case m.What == Sign:
				c.Values[k] = -c.Values[k]
			default:
				c.Values[k] += m.Value
			}
		}
	case Drop:
		Keep(c, func(k int) bool { return k < lo || k >= hi })
	case DropAbove:
		Keep(c, func(k int) bool { return k < lo || k >= hi || c.Values[k] < m.Value })
	case DropBelow:
		Keep(c, func(k int) bool { return k < lo || k >= hi || c.Values[k] > m.Value })
	case Split:
		if !(m.Value > 0) {
			return fault.New(fault.Invalid, "a longest step of %g s", m.Value)
		}
		var valid []signal.Span
		for _, s := range c.Valid {
			from := s.From
			for k := s.From + 1; k < s.To; k++ {
				if k > lo && k < hi && c.Base.T[k]-c.Base.T[k-1] > m.Value {
					valid = append(valid, signal.Span{From: from, To: k})
					from = k
				}
			}
			valid = append(valid, signal.Span{From: from, To: s.To})
		}
		c.Valid = valid
	case Move:
		key := move{c.Base, *in, m.Value}
		if a.moved[key] == nil {
			b := &signal.Base{T: slices.Clone(c.Base.T)}
			for k := lo; k < hi; k++ {
				b.T[k] += m.Value
			}
			for k := 1; k < len(b.T); k++ {
				if !(b.T[k] > b.T[k-1]) {
					return fault.New(fault.Invalid, "moved by %g s, samples at %.3f s would stand before those that they follow", m.Value, c.Base.T[k])
				}
			}
			a.moved[key] = b
		}
		c.Base = a.moved[key]
	default:
		return fault.New(fault.Invalid, "no mend %q", m.What).
			WithHint("there are: scale, offset, sign, move, drop, drop_above, drop_below, split, and from and to before one of them")
	}
	*in = stretch{math.Inf(-1), math.Inf(1)}
	return nil
}

// Keep takes for missing whichever valid samples are not to be kept.
func Keep(c *signal.Channel, kept func(k int) bool) {
	var valid []signal.Span
	for _, s := range c.Valid {
		for k := s.From; k < s.To; k++ {
			switch n := len(valid); {
			case !kept(k):
				c.Values[k] = 0
			case n > 0 && valid[n-1].To == k && k > s.From:
				valid[n-1].To++
			default:
				valid = append(valid, signal.Span{From: k, To: k + 1})
			}
		}
	}
	c.Valid = valid
}
