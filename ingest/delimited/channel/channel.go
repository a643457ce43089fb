// Package channel makes the channels of a recording from the columns of a text
// log: each with its role, in SI units with temperatures in °C, by the signs of
// ISO 8855, on the time base that was chosen.
//
// What a column is, its name says, its unit, or a mapping. A unit that is stated
// but not known is an invalid fault if the column has a role; without one its
// values are kept as they are. Where none is stated, SI is assumed (degrees for positions and
// directions, 1e-7 degrees for whole numbers) as far as the values can be that; a
// wheel's speed is compared with the speed over ground. Where two columns claim a role,
// one whose name says so only in passing gives way. Everything assumed, turned or lost
// is a caveat. Sources: ISO 8855 for signs; the bounds are ingest's own.
package channel

import (
	"slices"
	"strings"
	"sync"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited/dialect"
	"example.org/bookend/ingest/delimited/scan"
	"example.org/bookend/ingest/delimited/stamp"
	"example.org/bookend/ingest/delimited/timebase"
	"example.org/bookend/signal"
	"example.org/bookend/unit"
)

// maker is a file of which channels are made.
type maker struct {
	*scan.Table
	time    *timebase.Choice
	caveats *caveat.List
}

// Make makes the channels of a file on its time base, with up to so many columns
// at once, and tells list what was guessed, left out and missing. The table's
// numbers are taken out of it. A file without any column of numbers besides its
// time is an invalid fault.
func Make(t *scan.Table, time *timebase.Choice, workers int, list *caveat.List) ([]*signal.Channel, error) {
	m := &maker{t, time, list}
	plans, err := m.plan()
	if err != nil {
		return nil, err
	}
	// Columns do not depend on each other: they are finished at once, and told of
	// in order.
	done := make([]finished, len(plans))
	var wg sync.WaitGroup
	next := make(chan int)
	for range min(workers, len(plans)) {
		wg.Go(func() {
			for i := range next {
				done[i] = m.finish(&plans[i])
			}
		})
	}
	for i := range plans {
		next <- i
	}
	close(next)
	wg.Wait()

	var channels []*signal.Channel
	for i := range done {
		if c := done[i].channel; c != nil {
			channels = append(channels, c)
		}
	}
	if err := m.leftOut(plans, done, len(channels) > 0); err != nil {
		return nil, err
	}
	m.settleRoles(channels, plans, done)
	for i := range done {
		f := &done[i]
		if f.channel == nil {
			continue
		}
		*list = append(*list, f.caveats.Within(caveat.Place{File: t.File, Channel: f.channel.Name})...)
		if f.missing > 0 {
			p := t.At(time.Order.Row(f.first))
			p.Channel = f.channel.Name
			list.Add("missing_values", p, "%d of %d values are missing; the first is here. They lie outside the valid stretches of the channel.", f.missing, len(time.Base.T))
		}
	}
	return channels, nil
}

// leftOut tells which columns became no channel; if none did, it is a fault.
func (m *maker) leftOut(plans []plan, done []finished, any bool) error {
	var textual, empty []string
	for i := range m.Columns {
		if c := &m.Columns[i]; c.Role() != ingest.Ignore && (c.Kind == dialect.Skipped || m.Text[i]) {
			textual = append(textual, c.Heading)
		}
	}
	for i := range done {
		if h := plans[i].column.Heading; done[i].channel == nil && !strings.HasPrefix(h, "#") {
			empty = append(empty, h)
		}
	}
	if !any {
		f := fault.New(fault.Invalid, "it has no column of numbers besides the time").At("%s", m.Heading())
		if len(textual) > 0 {
			return f.WithHint("these hold mostly text: %s; numbers must not have separators of thousands", dialect.Listed(textual))
		}
		return f.WithHint("every other column is empty or left out by the mapping")
	}
	file := caveat.Place{File: m.File}
	if len(textual) > 0 {
		m.caveats.Add("text_column", file, "Columns of text are left out: %s.", dialect.Listed(textual))
	}
	if len(empty) > 0 {
		m.caveats.Add("empty_column", file, "Columns without any value are left out: %s.", dialect.Listed(empty))
	}
	return nil
}

// plan is what becomes of one column.
type plan struct {
	column *dialect.Column
	at     int  // its place among the columns, from 0
	stamp  bool // a time column that is not the base
	role   signal.Role
	guess  ingest.Guess
	unit   unit.Unit // zero: not known, or to be assumed
	assume bool
	stated string
	known  bool // the unit, if one is stated, is known
}

// plan decides on role and unit of every column that becomes a channel: of each
// that the time base was not made from, and that is not text.
func (m *maker) plan() ([]plan, error) {
	var out []plan
	for k := range m.Columns {
		c := &m.Columns[k]
		if c.Kind == dialect.Skipped || slices.Contains(m.time.Columns, k) || m.Text[k] {
			continue
		}
		p := plan{column: c, at: k, stated: c.Stated, known: true}
		if c.Kind == dialect.Stamp {
			p.stamp = true
			if c.Style != stamp.Decimals {
				p.stated = "s"
			} else if p.stated == "" {
				p.stated = c.Part()
			}
			out = append(out, p)
			continue
		}
		p.guess = ingest.GuessRole(c.Name)
		p.role = p.guess.Role
		if said := c.Mapped; said != nil {
			if said.Role != "" {
				p.role = said.Role
				p.guess = ingest.Guess{Role: said.Role}
			}
			if said.Unit != "" {
				p.stated = said.Unit
			}
		}
		may, _ := ingest.Dimensions(p.role)
		if p.stated == "" {
			p.assume = p.role != ""
		} else if p.unit, p.known = unit.Known(p.stated); !p.known && p.role != "" {
			hint := "map the column to a known unit with a factor, or to the role ignore"
			_, why := unit.Parse(p.stated)
			if near := fault.HintOf(why); near != "" {
				hint += "; " + near
			}
			return nil, fault.New(fault.Invalid, "unit %q is not known", p.stated).At("%s: column %s", m.Heading(), c.Heading).WithHint("%s", hint)
		}
		if p.role != "" && !p.unit.IsZero() && !slices.Contains(may, p.unit.Dimension()) {
			switch {
			case p.unit.Dimension() == unit.Ratio && p.unit.Symbol() == "":
				// A dash in a row of units: none is stated.
				p.unit, p.stated, p.assume = unit.Unit{}, "", true
			case c.Mapped != nil && c.Mapped.Role != "":
				return nil, fault.New(fault.Invalid, "%s cannot be in %s", p.role, p.stated).At("%s: column %s", m.Heading(), c.Heading).
					WithHint("it is a %s: map the column to such a unit", may[0])
			default:
				p.role, p.guess = "", ingest.Guess{} // the name says one thing, the unit another: brake in bar is a pressure
			}
		}
		out = append(out, p)
	}
	return out, nil
}
