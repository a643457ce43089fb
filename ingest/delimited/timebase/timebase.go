// Package timebase chooses by which of its columns a text log is timed, and makes
// the time base of its channels, in seconds, from them.
//
// A file states time in seconds or parts of them, by a clock, a date with a clock,
// a count since 1970, or GPS week and time of week, and often in several columns
// at once. The receiver's own goes before the logger's and that before a computer's,
// told by name, unless its stamps repeat and another keeps a tenth more rows. A
// clock that starts again at midnight, at the hour or at the week's end goes on. The
// base counts from the first row's stamp where that is known as a moment, else as
// the file has it, so that files with one clock stay aligned. Which rows are left
// out so that it increases is ingest.Increasing's rule. Sources: IS-GPS-200 for week
// and time of week, by package clock; the rest is common practice, no source.
package timebase

import (
	"slices"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/clock"
	"example.org/bookend/fault"
	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited/dialect"
	"example.org/bookend/ingest/delimited/scan"
	"example.org/bookend/ingest/delimited/stamp"
	"example.org/bookend/signal"
	"example.org/bookend/unit"
)

// timing is one way in which the file states time.
type timing struct {
	names    []string
	columns  []int
	stamps   []int64
	rank     int
	absolute bool         // stamps count from 1970, or GPS time from 1980
	gps      bool         // stamps are GPS time of whole weeks
	source   clock.Source // of an absolute one
	zoned    bool         // stamps are UTC
	unsure   bool         // a date in them can be read in two ways
	clock    bool         // stamps are a time of day
	order    ingest.Order
	notes    caveat.List
}

// Choice is the time base that was chosen.
type Choice struct {
	Base    *signal.Base
	Anchor  clock.Instant // of the base's zero
	Order   ingest.Order  // which rows make the base
	Columns []int         // the columns that it was made from, from 0
}

// chooser is a file whose time base is being chosen.
type chooser struct {
	*scan.Table
	opt     ingest.Options
	caveats *caveat.List
}

// Choose makes the time base of a file, and tells list what was guessed. A file
// that states no time is an invalid fault.
func Choose(t *scan.Table, opt ingest.Options, list *caveat.List) (*Choice, error) {
	return (&chooser{t, opt, list}).choose()
}

func (t *chooser) choose() (*Choice, error) {
	list := t.timings()
	if len(list) == 0 {
		var have []string
		for i := range t.Columns {
			have = append(have, t.Columns[i].Heading)
		}
		return nil, fault.New(fault.Invalid, "it has no time column").At("%s", t.Heading()).
			WithHint("map the column that states time to the role time; it has: %s", dialect.Listed(have))
	}
	best := -1
	for i := range list {
		c := &list[i]
		c.order = ingest.Increasing(c.stamps)
		if best < 0 {
			best = i
			continue
		}
		b := &list[best]
		n, m := c.order.Len(), b.order.Len()
		// A column whose stamps repeat, being coarse, is passed over for one that
		// keeps a tenth more rows; else the better rank goes first.
		if n*10 > m*11 || m*10 <= n*11 && c.rank < b.rank {
			best = i
		}
	}
	b := &list[best]
	if b.order.Len() == 0 {
		return nil, fault.New(fault.Invalid, "no row has a time stamp").At("%s: column %s", t.Heading(), strings.Join(b.names, " and ")).
			WithHint("map another column to the role time, or fill the cells of this one")
	}
	*t.caveats = append(*t.caveats, b.notes...)
	var others []string
	for i := range list {
		if i != best && list[i].columns[0] != b.columns[0] {
			others = append(others, strings.Join(list[i].names, " with "))
		}
	}
	if len(others) > 0 {
		t.caveats.Add("time_column", caveat.Place{File: t.File}, "Time is taken from %s. Other columns state time too and stay channels: %s.",
			strings.Join(b.names, " with "), dialect.Listed(others))
	}
	first := b.stamps[b.order.Keep[0].From]
	zero := int64(0)
	anchor := clock.Instant{Clock: clock.Unknown}
	if a, ok := t.anchor(b, first); ok {
		anchor, zero = a, first
	} else {
		for i := range list {
			o := &list[i]
			row := b.order.Keep[0].From
			if i == best || o.stamps[row] == ingest.NoStamp {
				continue
			}
			if a, ok := t.anchor(o, o.stamps[row]); ok {
				anchor, zero = a, first
				t.caveats.Add("anchor_beside", caveat.Place{File: t.File}, "The moment of the first row is taken from %s, the steps from there on from %s.",
					strings.Join(o.names, " with "), strings.Join(b.names, " with "))
				break
			}
		}
	}
	base := &signal.Base{T: make([]float64, 0, b.order.Len())}
	for _, s := range b.order.Keep {
		for _, v := range b.stamps[s.From:s.To] {
			base.T = append(base.T, float64(v-zero)/1e9)
		}
	}
	return &Choice{Base: base, Anchor: anchor, Order: b.order, Columns: b.columns}, nil
}

// anchor gives the moment of a stamp, if the timing tells moments.
func (t *chooser) anchor(b *timing, at int64) (clock.Instant, bool) {
	file := caveat.Place{File: t.File}
	switch {
	case b.gps:
		a, err := clock.FromGPS(int(at/stamp.Week), float64(at%stamp.Week)/1e9)
		return a, err == nil
	case b.absolute && b.unsure:
		t.caveats.Add("date_ambiguous", file, "Day and month of %s can be read either way round, so the moment of the recording is not known. A mapping can state the unit dd/mm/yyyy or mm/dd/yyyy.", strings.Join(b.names, " with "))
		return clock.Instant{}, false
	case b.absolute:
		if !b.zoned {
			at = t.inZone(at, b.names)
		}
		return clock.Instant{UnixNS: at, Clock: b.source}, true
	case b.clock && !t.opt.Date.IsZero():
		y, m, d := t.opt.Date.Date()
		return clock.Instant{UnixNS: t.inZone(stamp.Civil(y, int(m), d)*stamp.Day+at, b.names), Clock: b.source}, true
	}
	return clock.Instant{}, false
}

// inZone turns a wall clock's stamp into UTC.
func (t *chooser) inZone(at int64, names []string) int64 {
	if t.opt.Zone == nil {
		t.caveats.Add("zone_unknown", caveat.Place{File: t.File}, "No time zone is stated for %s; it is taken for UTC.", strings.Join(names, " with "))
		return at
	}
	utc, twice := stamp.ToUTC(at, t.opt.Zone)
	if twice {
		t.caveats.Add("clock_twice", caveat.Place{File: t.File}, "The clock of %s is put back in the zone given: it shows the time of the first row twice, and the first is taken.", strings.Join(names, " with "))
	}
	return utc
}

// timings lists every way in which the file states time.
func (t *chooser) timings() []timing {
	var list []timing
	var dateCol, weekCol, towCol = -1, -1, -1
	mapped := false
	for k := range t.Columns {
		mapped = mapped || t.Columns[k].Role() == ingest.Time
	}
	for k := range t.Columns {
		c := &t.Columns[k]
		if c.Kind != dialect.Stamp {
			continue
		}
		switch {
		case dateCol < 0 && (c.Style == stamp.Dates || c.Style == stamp.Decimals && stamp.IsDate(c.Name)):
			dateCol = k
		case weekCol < 0 && c.Style == stamp.Decimals && stamp.IsWeek(c.Name):
			weekCol = k
		case towCol < 0 && c.Style == stamp.Decimals && stamp.IsTimeOfWeek(c.Name):
			towCol = k
		}
	}
	dateUsed := false
	for k := range t.Columns {
		c := &t.Columns[k]
		if c.Kind != dialect.Stamp || k == dateCol || k == weekCol || mapped && c.Role() != ingest.Time {
			continue
		}
		b := timing{names: []string{c.Heading}, columns: []int{k}, stamps: t.Stamps(k), rank: rank(c.Name), source: source(c.Name)}
		file := caveat.Place{File: t.File, Channel: c.Heading}
		if t.Header == 0 && c.Style == stamp.Decimals {
			b.notes.Add("time_guessed", file, "No name says so, but the column increases and is taken for time, in s.")
		}
		if c.Assumed {
			b.notes.Add("time_unit_assumed", file, "No unit is stated; from the size of its numbers the column is taken for time in %s. A mapping can state another unit.", c.Part())
		}
		switch c.Style {
		case stamp.Moments:
			b.absolute, b.zoned, b.unsure = true, c.Zoned, c.Unsure
		case stamp.Clocks:
			b.clock = true
			t.goOn(&b, stamp.Day)
		case stamp.Decimals:
			switch {
			case c.Epoch:
				b.absolute, b.zoned = true, true
			case k == towCol:
				t.weeks(&b, weekCol)
			case t.unpack(&b, c):
				b.clock = true
				t.goOn(&b, stamp.Day)
			}
		}
		if b.clock && dateCol >= 0 && !dateUsed {
			dateUsed = t.withDate(&b, dateCol, k)
		}
		if b.absolute && b.source == clock.GNSS && b.rank > 2 {
			b.rank = 2
		}
		if c.Role() == ingest.Time {
			b.rank = 0
		}
		list = append(list, b)
	}
	if len(list) == 0 && dateCol >= 0 && (!mapped || t.Columns[dateCol].Role() == ingest.Time) && t.Columns[dateCol].Style == stamp.Dates {
		c := &t.Columns[dateCol]
		list = append(list, timing{names: []string{c.Heading}, columns: []int{dateCol}, stamps: t.Stamps(dateCol), rank: 6, absolute: true, unsure: c.Unsure, source: clock.Logger})
	}
	return list
}

// goOn makes a clock go on past the hour, midnight or the week's end, and says
// so.
func (t *chooser) goOn(b *timing, period int64) {
	turns, first, noHour := stamp.Continuous(b.stamps, period)
	switch {
	case noHour > 0:
		if turns == 0 {
			first = slices.IndexFunc(b.stamps, func(s int64) bool { return s != ingest.NoStamp })
		}
		b.notes.Add("clock_without_hours", t.At(max(first, 0)), "%d stamps state minutes and seconds alone; each is taken to lie in the hour that is nearest to the stamp before it.", noHour)
	case turns > 0 && period == stamp.Week:
		b.notes.Add("week_end", t.At(first), "The clock passes the week's end %d times, first here; time goes on from there.", turns)
	case turns > 0:
		b.notes.Add("midnight", t.At(first), "The clock passes midnight %d times, first here; time goes on from there.", turns)
	}
}

// weeks joins time of week with the week, if there is one.
func (t *chooser) weeks(b *timing, weekCol int) {
	b.source = clock.GNSS
	b.rank = 3
	if weekCol < 0 {
		t.goOn(b, stamp.Week)
		return
	}
	weeks := t.Stamps(weekCol)
	for i, w := range weeks {
		switch {
		case w == ingest.NoStamp || b.stamps[i] == ingest.NoStamp:
		case w%stamp.Second != 0 || w/stamp.Second < stamp.FirstWeek || w/stamp.Second > stamp.LastWeek || b.stamps[i] < 0 || b.stamps[i] > stamp.Week:
			b.notes.Add("week_unusable", t.At(i), "The GPS week cannot be %.6g with a time of week of %.6g s; the week is not used, and the date is not known.", float64(w)/1e9, float64(b.stamps[i])/1e9)
			t.goOn(b, stamp.Week)
			return
		}
	}
	for i, w := range weeks {
		if w == ingest.NoStamp || b.stamps[i] == ingest.NoStamp {
			b.stamps[i] = ingest.NoStamp
			continue
		}
		b.stamps[i] += w / stamp.Second * stamp.Week
	}
	b.names = []string{t.Columns[weekCol].Heading, b.names[0]}
	b.columns = append(b.columns, weekCol)
	b.rank, b.gps, b.absolute = 1, true, true
}

// unpack turns packed digits into times of day if the column holds such: every
// number is a time of day, and the name says so or the minutes turn over at 60.
func (t *chooser) unpack(b *timing, c *dialect.Column) bool {
	if c.Scale != 9 || c.Factor != 1 || !stamp.MayBePacked(c.Name) {
		return false
	}
	stated := strings.ToLower(c.Stated)
	said := strings.HasPrefix(stated, "hhmmss") || stamp.IsPacked(c.Name)
	if u, ok := unit.Known(c.Stated); ok && u.Dimension() == unit.Time {
		return false
	}
	turns, steps := 0, 0
	last := int64(0)
	have := false
	for _, s := range b.stamps {
		if s == ingest.NoStamp {
			continue
		}
		if _, ok := stamp.Packed(s); !ok {
			return false
		}
		if have && s != last {
			steps++
			if s-last > 40*stamp.Second || last-s > 120000*stamp.Second { // the next minute, or the next day
				turns++
			}
		}
		last, have = s, true
	}
	if !have || !said && (turns == 0 || turns*2 > steps) { // a clock read at every minute or less often is no vehicle's
		return false
	}
	for i, s := range b.stamps {
		if s != ingest.NoStamp {
			b.stamps[i], _ = stamp.Packed(s)
		}
	}
	if !said {
		b.notes.Add("clock_digits", caveat.Place{File: t.File, Channel: c.Heading}, "Its numbers are read as hhmmss, since they turn over after 59 seconds.")
	}
	return true
}

// withDate adds the date of a column of dates to a clock.
func (t *chooser) withDate(b *timing, dateCol, clockCol int) bool {
	d := &t.Columns[dateCol]
	days := t.Stamps(dateCol)
	if d.Style == stamp.Decimals && !stamp.PackedDays(days) {
		return false
	}
	clocks := t.Stamps(clockCol) // as the file has them: the date turns at midnight, not the clock
	for i := range b.stamps {
		switch {
		case days[i] == ingest.NoStamp || b.stamps[i] == ingest.NoStamp:
			b.stamps[i] = ingest.NoStamp
		case t.Columns[clockCol].Style == stamp.Decimals:
			v, _ := stamp.Packed(clocks[i])
			b.stamps[i] = days[i] + v
		case clocks[i] >= stamp.Hourless/2:
			return false
		default:
			b.stamps[i] = days[i] + clocks[i]
		}
	}
	kept := b.notes[:0]
	for _, n := range b.notes {
		if n.Code != "midnight" {
			kept = append(kept, n)
		}
	}
	b.notes = kept
	b.names = []string{d.Heading, b.names[0]}
	b.columns = append(b.columns, dateCol)
	b.absolute, b.clock, b.unsure = true, false, d.Unsure
	return true
}

// rank orders time columns by whose clock they are: the receiver's 2 to 4, the
// logger's own 5, a computer's 7.
func rank(name string) int {
	n := ingest.Plain(name)
	switch {
	case strings.Contains(n, "utc") || strings.Contains(n, "gps") || strings.Contains(n, "gnss") || n == "zulu":
		return 4
	case strings.Contains(n, "ros") || strings.Contains(n, "sys") || strings.Contains(n, "boot") || strings.Contains(n, "host") ||
		strings.Contains(n, "pc") || strings.Contains(n, "local") || strings.Contains(n, "rec"):
		return 7
	}
	return 5
}

func source(name string) clock.Source {
	if rank(name) <= 4 && !strings.Contains(ingest.Plain(name), "unix") {
		return clock.GNSS
	}
	return clock.Logger
}
