package delimited

import (
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/clock"
	"example.org/bookend/fault"
	"example.org/bookend/ingest"
	"example.org/bookend/signal"
	"example.org/bookend/unit"
)

// timing is the time base that was chosen.
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

// time chooses the time base.
func (t *table) time() (*signal.Base, clock.Instant, *timing, error) {
	list := t.timings()
	if len(list) == 0 {
		var have []string
		for i := range t.columns {
			have = append(have, t.columns[i].heading)
		}
		return nil, clock.Instant{}, nil, fault.New(fault.Invalid, "it has no time column").At("%s", t.place()).
			WithHint("map the column that states time to the role time; it has: %s", listed(have))
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
		// keeps a tenth more rows.
		if n*10 > m*11 || m*10 <= n*11 && m*11 <= n*12 && c.rank < b.rank && n*11 >= m*10 {
			best = i
		}
	}
	b := &list[best]
	if b.order.Len() == 0 {
		return nil, clock.Instant{}, nil, fault.New(fault.Invalid, "no row has a time stamp").At("%s: column %s", t.place(), strings.Join(b.names, " and "))
	}
	t.caveats = append(t.caveats, b.notes...)
	var others []string
	for i := range list {
		if i != best && list[i].columns[0] != b.columns[0] {
			others = append(others, strings.Join(list[i].names, " with "))
		}
	}
	if len(others) > 0 {
		t.caveats.Add("time_column", caveat.Place{File: t.opt.Name}, "Time is taken from %s. Other columns state time too and stay channels: %s.",
			strings.Join(b.names, " with "), listed(others))
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
				t.caveats.Add("anchor_beside", caveat.Place{File: t.opt.Name}, "The moment of the first row is taken from %s, the steps from there on from %s.",
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
	return base, anchor, b, nil
}

// anchor gives the moment of a stamp, if the timing tells moments.
func (t *table) anchor(b *timing, stamp int64) (clock.Instant, bool) {
	file := caveat.Place{File: t.opt.Name}
	switch {
	case b.gps:
		a, err := clock.FromGPS(int(stamp/week), float64(stamp%week)/1e9)
		return a, err == nil
	case b.absolute && b.unsure:
		t.caveats.Add("date_ambiguous", file, "Day and month of %s can be read either way round, so the moment of the recording is not known. A mapping can state the unit dd/mm/yyyy or mm/dd/yyyy.", strings.Join(b.names, " with "))
		return clock.Instant{}, false
	case b.absolute:
		if !b.zoned {
			stamp = t.inZone(stamp, b.names)
		}
		return clock.Instant{UnixNS: stamp, Clock: b.source}, true
	case b.clock && !t.opt.Date.IsZero():
		y, m, d := t.opt.Date.Date()
		return clock.Instant{UnixNS: t.inZone(civil(y, int(m), d)*day+stamp, b.names), Clock: b.source}, true
	}
	return clock.Instant{}, false
}

// inZone turns a wall clock's stamp into UTC.
func (t *table) inZone(stamp int64, names []string) int64 {
	if t.opt.Zone == nil {
		t.caveats.Add("zone_unknown", caveat.Place{File: t.opt.Name}, "No time zone is stated for %s; it is taken for UTC.", strings.Join(names, " with "))
		return stamp
	}
	return wallToUTC(stamp, t.opt.Zone)
}

// timings lists every way in which the file states time.
func (t *table) timings() []timing {
	var list []timing
	var dateCol, weekCol, towCol = -1, -1, -1
	mapped := false
	for k := range t.columns {
		mapped = mapped || t.columns[k].role() == ingest.Time
	}
	for k := range t.columns {
		c := &t.columns[k]
		if c.kind != stamp {
			continue
		}
		switch {
		case dateCol < 0 && (c.style == dates || c.style == decimals && isDate(c.name)):
			dateCol = k
		case weekCol < 0 && c.style == decimals && isWeek(c.name):
			weekCol = k
		case towCol < 0 && c.style == decimals && isTow(c.name):
			towCol = k
		}
	}
	dateUsed := false
	for k := range t.columns {
		c := &t.columns[k]
		if c.kind != stamp || k == dateCol || k == weekCol || mapped && c.role() != ingest.Time {
			continue
		}
		b := timing{names: []string{c.heading}, columns: []int{k}, stamps: t.stamps(k), rank: rank(c.name), source: source(c.name)}
		file := caveat.Place{File: t.opt.Name, Channel: c.heading}
		if t.header == 0 && c.style == decimals {
			b.notes.Add("time_guessed", file, "No name says so, but the column increases and is taken for time, in s.")
		}
		if c.assumed {
			b.notes.Add("time_unit_assumed", file, "No unit is stated; from the size of its numbers the column is taken for time in %s. A mapping can state another unit.", sourceSeconds(c))
		}
		switch c.style {
		case moments:
			b.absolute, b.zoned, b.unsure = true, c.zoned, c.unsure
		case clocks:
			b.clock = true
			t.goOn(&b, day)
		case decimals:
			switch {
			case c.epoch:
				b.absolute, b.zoned = true, true
			case k == towCol:
				t.weeks(&b, weekCol)
			case t.unpack(&b, c):
				b.clock = true
				t.goOn(&b, day)
			}
		}
		if b.clock && dateCol >= 0 && !dateUsed {
			dateUsed = t.withDate(&b, dateCol, k)
		}
		if b.absolute && b.source == clock.GNSS && b.rank > 2 {
			b.rank = 2
		}
		if c.role() == ingest.Time {
			b.rank = 0
		}
		list = append(list, b)
	}
	if len(list) == 0 && dateCol >= 0 && (!mapped || t.columns[dateCol].role() == ingest.Time) && t.columns[dateCol].style == dates {
		c := &t.columns[dateCol]
		list = append(list, timing{names: []string{c.heading}, columns: []int{dateCol}, stamps: t.stamps(dateCol), rank: 6, absolute: true, unsure: c.unsure, source: clock.Logger})
	}
	return list
}

// goOn makes a clock go on past midnight or the hour, and says so.
func (t *table) goOn(b *timing, period int64) {
	turns, first, noHour := continuous(b.stamps, period, ingest.NoStamp)
	what, code := "midnight", "midnight"
	if period == week {
		what, code = "the week's end", "week_end"
	}
	if noHour > 0 {
		if turns == 0 {
			for row, s := range b.stamps {
				if s != ingest.NoStamp {
					first = row
					break
				}
			}
		}
		p := t.atRow(max(first, 0))
		b.notes.Add("clock_without_hours", p, "%d stamps state minutes and seconds alone; each is taken to lie in the hour that is nearest to the stamp before it.", noHour)
		return
	}
	if turns > 0 {
		b.notes.Add(code, t.atRow(first), "The clock passes %s %d times, first here; time goes on from there.", what, turns)
	}
}

// weeks joins time of week with the week, if there is one.
func (t *table) weeks(b *timing, weekCol int) {
	b.source = clock.GNSS
	b.rank = 3
	if weekCol < 0 {
		t.goOn(b, week)
		return
	}
	weeks := t.stamps(weekCol)
	for i, w := range weeks {
		switch {
		case w == ingest.NoStamp || b.stamps[i] == ingest.NoStamp:
		case w%second != 0 || w/second < firstWeek || w/second > lastWeek || b.stamps[i] < 0 || b.stamps[i] > week:
			b.notes.Add("week_unusable", t.atRow(i), "The GPS week cannot be %.6g with a time of week of %.6g s; the week is not used, and the date is not known.", float64(w)/1e9, float64(b.stamps[i])/1e9)
			t.goOn(b, week)
			return
		}
	}
	for i, w := range weeks {
		if w == ingest.NoStamp || b.stamps[i] == ingest.NoStamp {
			b.stamps[i] = ingest.NoStamp
			continue
		}
		b.stamps[i] += w / second * week
	}
	b.names = []string{t.columns[weekCol].heading, b.names[0]}
	b.columns = append(b.columns, weekCol)
	b.rank, b.gps, b.absolute = 1, true, true
}

// unpack turns packed digits into times of day if the column holds such: every
// number is a time of day, and the name says so or the minutes turn over at 60.
func (t *table) unpack(b *timing, c *column) bool {
	if c.scale != 9 || c.factor != 1 || !packable[ingest.Plain(c.name)] {
		return false
	}
	stated := strings.ToLower(c.stated)
	said := strings.HasPrefix(stated, "hhmmss") || packedBySay[ingest.Plain(c.name)]
	if u, ok := unit.Known(c.stated); ok && u.Dimension() == unit.Time {
		return false
	}
	turns, steps := 0, 0
	last := int64(0)
	have := false
	for _, s := range b.stamps {
		if s == ingest.NoStamp {
			continue
		}
		if _, ok := packed(s); !ok {
			return false
		}
		if have && s != last {
			steps++
			if s-last > 40*second || last-s > 120000*second { // the next minute, or the next day
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
			b.stamps[i], _ = packed(s)
		}
	}
	if !said {
		b.notes.Add("clock_digits", caveat.Place{File: t.opt.Name, Channel: c.heading}, "Its numbers are read as hhmmss, since they turn over after 59 seconds.")
	}
	return true
}

// withDate adds the date of a column of dates to a clock.
func (t *table) withDate(b *timing, dateCol, clockCol int) bool {
	d := &t.columns[dateCol]
	days := t.stamps(dateCol)
	if d.style == decimals && !digitsToDays(days) {
		return false
	}
	clocks := t.stamps(clockCol) // as the file has them: the date turns at midnight, not the clock
	for i := range b.stamps {
		switch {
		case days[i] == ingest.NoStamp || b.stamps[i] == ingest.NoStamp:
			b.stamps[i] = ingest.NoStamp
		case t.columns[clockCol].style == decimals:
			v, _ := packed(clocks[i])
			b.stamps[i] = days[i] + v
		case clocks[i] >= hourless/2:
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
	b.names = []string{d.heading, b.names[0]}
	b.columns = append(b.columns, dateCol)
	b.absolute, b.clock, b.unsure = true, false, d.unsure
	return true
}

// digitsToDays turns dates written as digits, yyyymmdd or ddmmyy as receivers
// have it, in units of 1e-9, into ns since 1970, in place.
func digitsToDays(list []int64) bool {
	for i, v := range list {
		if v == ingest.NoStamp {
			continue
		}
		if v%second != 0 || v < 0 {
			return false
		}
		v /= second
		var y, m, d int
		switch {
		case v >= 19800101 && v <= 21001231:
			y, m, d = int(v/10000), int(v/100%100), int(v%100)
		case v < 320000 && v >= 10100:
			y, m, d = 2000+int(v%100), int(v/100%100), int(v/10000)
		default:
			return false
		}
		if m < 1 || m > 12 || d < 1 || d > daysIn(y, m) {
			return false
		}
		list[i] = civil(y, m, d) * day
	}
	return true
}

// packable are names that a column of packed digits may have; packedBySay are
// those that can hardly mean seconds.
var (
	packable    = words("utc utctime time zeit clock uhrzeit gpstime gnsstime timeofday tod zulu hhmmss timeutc gpsutc utcclock localtime timestamp stamp")
	packedBySay = words("utc utctime clock uhrzeit timeofday tod zulu hhmmss timeutc gpsutc utcclock")
)

func words(s string) map[string]bool {
	out := map[string]bool{}
	for _, w := range strings.Fields(s) {
		out[w] = true
	}
	return out
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
