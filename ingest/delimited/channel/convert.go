package channel

import (
	"example.org/bookend/caveat"
	"example.org/bookend/ingest"
	"example.org/bookend/signal"
	"example.org/bookend/unit"
)

// finished is a channel and what there is to say of it; no channel if no cell
// holds a value.
type finished struct {
	channel *signal.Channel
	caveats caveat.List
	missing int
	first   int  // sample that is missing first
	e7      bool // whole numbers were taken for 1e-7 degrees
}

// finish takes the values of a column in the rows of the base, and converts them
// to SI.
func (m *maker) finish(p *plan) finished {
	var f finished
	take := m.Numbers
	if p.stamp {
		take = m.Seconds
	}
	v := take(p.at, m.time.Order.Keep)
	if v.Empty {
		return f
	}
	f.channel = &signal.Channel{Name: p.column.Heading, Role: p.role, SourceUnit: p.stated, Base: m.time.Base, Values: v.Values, Valid: v.Valid}
	f.missing, f.first = v.Missing, v.First
	if p.stamp {
		f.channel.Unit = "s"
	} else {
		convert(p, &f)
	}
	return f
}

// convert applies the mapping's factor and offset, turns values to SI and to
// the signs of ISO 8855, and assumes a unit where none is stated.
func convert(p *plan, f *finished) {
	c := f.channel
	if m := p.column.Mapped; m != nil {
		if m.Factor != 0 && m.Factor != 1 {
			f.each(func(x float64) float64 { return x * m.Factor })
			c.History = append(c.History, signal.Mend{What: "scale", Value: m.Factor, Reason: "the mapping says so"})
		}
		if m.Offset != 0 {
			f.each(func(x float64) float64 { return x + m.Offset })
			c.History = append(c.History, signal.Mend{What: "offset", Value: m.Offset, Reason: "the mapping says so"})
		}
	}
	u := p.unit
	if p.assume && wheel[p.role] {
		return // compared with the speed over ground, when all columns are there
	}
	if p.assume {
		most, whole := greatest(c)
		var ok bool
		u, ok = ingest.Assume(p.role, most, whole)
		switch {
		case !ok:
			f.caveats.Add("unit_missing", caveat.Place{}, "The name says %s, but no unit is stated, and values up to %.6g are not in the one that would be assumed. The channel is kept without a role; a mapping can state its unit.", p.role, most)
			c.Role = ""
			u = unit.Unit{}
		case u.Key() == "dege7":
			f.e7 = true
			f.caveats.Add("unit_assumed", caveat.Place{}, "No unit is stated; whole numbers up to %.0f are taken for 1e-7 degrees.", most)
		case u.Dimension() != unit.Ratio:
			f.caveats.Add("unit_assumed", caveat.Place{}, "No unit is stated; values up to %.6g are taken to be in %s. A mapping can state another.", most, u)
		}
	}
	if !p.known {
		f.caveats.Add("unit_unknown", caveat.Place{}, "Unit %q is not known; the values are as the file has them.", p.stated)
	}
	if !u.IsZero() {
		c.Unit = u.House().String()
		if u != u.House() {
			f.each(u.ToHouse)
		}
	}
	if p.guess.Mirror && c.Role != "" {
		f.each(func(x float64) float64 { return 0 - x })
		c.History = append(c.History, signal.Mend{What: "sign", Value: -1, Reason: "the name says that it is positive to the right or down; ISO 8855 is the other way"})
		f.caveats.Add("sign_turned", caveat.Place{}, "The name says that it is positive to the right or down; the sign is turned, so that it is %s by ISO 8855.", c.Role)
	}
	if p.guess.Frame && c.Role != "" {
		f.caveats.Add("frame_assumed", caveat.Place{}, "It is taken for %s in the plane of whoever made the file; its axes may point elsewhere. Distances and shapes hold all the same.", c.Role)
	}
}

// each changes the valid values of a channel. A result beyond what 64 bits hold
// ends the valid span, with a caveat.
func (f *finished) each(change func(float64) float64) {
	c := f.channel
	overflow := false
	for _, s := range c.Valid {
		for i := s.From; i < s.To; i++ {
			v := change(c.Values[i])
			c.Values[i] = v
			overflow = overflow || v-v != 0
		}
	}
	if !overflow {
		return
	}
	var valid []signal.Span
	lost := 0
	for _, s := range c.Valid {
		from := s.From
		for i := s.From; i < s.To; i++ {
			if v := c.Values[i]; v-v != 0 {
				c.Values[i] = 0
				lost++
				if from < i {
					valid = append(valid, signal.Span{From: from, To: i})
				}
				from = i + 1
			}
		}
		if from < s.To {
			valid = append(valid, signal.Span{From: from, To: s.To})
		}
	}
	c.Valid = valid
	f.caveats.Add("beyond_range", caveat.Place{}, "%d values are greater than a number of 64 bits can be once they are converted; they are missing.", lost)
}
