package delimited

import (
	"bytes"
	"math"
	"strings"
	"sync"

	"example.org/bookend/caveat"
	"example.org/bookend/clock"
	"example.org/bookend/fault"
	"example.org/bookend/ingest"
	"example.org/bookend/signal"
	"example.org/bookend/unit"
)

// table is a file as it was read: the pieces in order, and what was odd.
type table struct {
	*scanner
	opt     ingest.Options
	workers int
	pieces  []*piece
	rows    int
	lines   int   // of data, below the heading
	skipped []int // lines of data that are no row, from 0
	texts   []bool
	short   tally
	long    tally
	notes   tally
	again   tally
	cut     bool
	cutLine int
	nuls    bool
	caveats caveat.List
}

// take adds a piece.
func (t *table) take(p *piece) error {
	if p.err != nil {
		return p.err.At("%s:%d", t.name, t.skip+t.lines+p.errLine+1)
	}
	for _, l := range p.skipped {
		t.skipped = append(t.skipped, t.lines+l)
	}
	t.short.join(p.short, t.lines)
	t.long.join(p.long, t.lines)
	t.notes.join(p.notes, t.lines)
	t.again.join(p.again, t.lines)
	if p.cut {
		t.cut, t.cutLine = true, t.lines+p.cutLine
	}
	for k, is := range p.texts {
		t.texts[k] = t.texts[k] || is
	}
	t.rows += p.rows
	t.lines += p.lines
	t.pieces = append(t.pieces, p)
	return nil
}

// line gives the line of the file, from 1, that a row stands in.
func (t *table) line(row int) int {
	l := row
	for _, s := range t.skipped {
		if s > l {
			break
		}
		l++
	}
	return t.skip + l + 1
}

func (t *table) at(line int) caveat.Place {
	return caveat.Place{File: t.opt.Name, Line: t.skip + line + 1}
}

func (t *table) atRow(row int) caveat.Place {
	return caveat.Place{File: t.opt.Name, Line: t.line(row)}
}

// stamps joins the stamps of one column.
func (t *table) stamps(column int) []int64 {
	slot := t.acts[column].slot
	out := make([]int64, 0, t.rows)
	for _, p := range t.pieces {
		out = append(out, p.times[slot][:p.rows]...)
	}
	return out
}

// recording makes the channels.
func (t *table) recording() (*signal.Recording, error) {
	if t.rows == 0 {
		return nil, fault.New(fault.Invalid, "there are no rows of data in it").At("%s", t.opt.Name)
	}
	t.oddLines()
	base, anchor, order, err := t.time()
	if err != nil {
		return nil, err
	}
	keep := order.order.Keep
	rows := 0
	rowOf := func(sample int) int { // row of the file that a sample stands in
		for _, s := range keep {
			if sample < s.Len() {
				return s.From + sample
			}
			sample -= s.Len()
		}
		return 0
	}
	for _, s := range keep {
		rows += s.Len()
	}
	order.order.Tell(&t.caveats, t.rows, t.atRow)
	ingest.TellGaps(&t.caveats, base.T, func(i int) caveat.Place { return t.atRow(rowOf(i)) })

	rec := &signal.Recording{Name: t.opt.Name, Reader: Reader{}.ID(), Anchor: anchor}
	plans, err := t.plan(order.columns)
	if err != nil {
		return nil, err
	}
	// Columns do not depend on each other: they are finished at once, and told of
	// in order.
	done := make([]finished, len(plans))
	var wg sync.WaitGroup
	next := make(chan int)
	for range min(t.workers, len(plans)) {
		wg.Go(func() {
			for i := range next {
				done[i] = t.finish(&plans[i], base, keep)
			}
		})
	}
	for i := range plans {
		next <- i
	}
	close(next)
	wg.Wait()

	var textual, empty []string
	for i := range t.columns {
		c := &t.columns[i]
		if c.role() == ingest.Ignore {
			continue
		}
		if c.kind == skipped || t.texts[i] {
			textual = append(textual, c.heading)
		}
	}
	for i := range done {
		f := &done[i]
		if f.channel == nil {
			if !strings.HasPrefix(plans[i].column.heading, "#") {
				empty = append(empty, plans[i].column.heading)
			}
			continue
		}
		rec.Channels = append(rec.Channels, f.channel)
	}
	if len(rec.Channels) == 0 {
		f := fault.New(fault.Invalid, "it has no column of numbers besides the time").At("%s", t.place())
		if len(textual) > 0 {
			return nil, f.WithHint("these hold mostly text: %s; numbers must not have separators of thousands", listed(textual))
		}
		return nil, f.WithHint("every other column is empty or left out by the mapping")
	}
	if len(textual) > 0 {
		t.caveats.Add("text_column", caveat.Place{File: t.opt.Name}, "Columns of text are left out: %s.", listed(textual))
	}
	if len(empty) > 0 {
		t.caveats.Add("empty_column", caveat.Place{File: t.opt.Name}, "Columns without any value are left out: %s.", listed(empty))
	}
	t.settleRoles(rec.Channels, plans, done)
	for i := range done {
		f := &done[i]
		if f.channel == nil {
			continue
		}
		t.caveats = append(t.caveats, f.caveats.Within(caveat.Place{File: t.opt.Name, Channel: f.channel.Name})...)
		if f.holes > 0 {
			p := t.atRow(rowOf(f.firstHole))
			p.Channel = f.channel.Name
			t.caveats.Add("missing_values", p, "%d of %d values are missing; the first is here. They lie outside the valid stretches of the channel.", f.holes, rows)
		}
	}
	rec.Caveats = t.caveats
	return rec, nil
}

func listed(names []string) string {
	if len(names) > 12 {
		names = append(names[:12:12], "…")
	}
	return strings.Join(names, ", ")
}

// oddLines tells of lines that are not as the others.
func (t *table) oddLines() {
	if t.cut {
		t.caveats.Add("truncated_line", t.at(t.cutLine), "The last line is cut off and is left out.")
	}
	if t.nuls {
		t.caveats.Add("nul_bytes", caveat.Place{File: t.opt.Name}, "NUL bytes follow the last line; they are passed over. The logger may have lost power, and what it last measured with it.")
	}
	if n := t.short.n; n > 0 {
		t.caveats.Add("short_line", t.at(t.short.first), "%d lines have fewer cells than the table has columns; what they lack is missing. The first is here.", n)
	}
	if n := t.long.n; n > 0 {
		t.caveats.Add("long_line", t.at(t.long.first), "%d lines have more cells than the table has columns and are left out; the first is here.", n)
	}
	if n := t.notes.n; n > 0 {
		t.caveats.Add("remark_line", t.at(t.notes.first), "%d lines within the data are remarks and are passed over; the first is here.", n)
	}
	if n := t.again.n; n > 0 {
		t.caveats.Add("heading_again", t.at(t.again.first), "The heading stands %d times more within the data, the first time here: several recordings may have been joined.", n)
	}
	if t.header == 0 {
		t.caveats.Add("no_heading", caveat.Place{File: t.opt.Name}, "The file does not name its columns; they are called #1, #2 and so on. A mapping can say what they are.")
	}
}

// plan is what becomes of one column.
type plan struct {
	column *column
	slot   int
	stamp  bool // a time column that is not the base
	role   signal.Role
	guess  ingest.Guess
	unit   unit.Unit // zero: not known, or to be assumed
	assume bool
	stated string
	known  bool // the unit, if one is stated, is known
}

// plan decides on role and unit of every column that becomes a channel; base
// are the columns that the time base was made from.
func (t *table) plan(base []int) ([]plan, error) {
	used := map[int]bool{}
	for _, k := range base {
		used[k] = true
	}
	var out []plan
	for k := range t.columns {
		c := &t.columns[k]
		if c.kind == skipped || used[k] || t.texts[k] {
			continue
		}
		p := plan{column: c, slot: t.acts[k].slot, stated: c.stated, known: true}
		if c.kind == stamp {
			if c.style != decimals {
				p.stated = "s"
			}
			p.stamp = true
			out = append(out, p)
			continue
		}
		p.guess = ingest.GuessRole(c.name)
		p.role = p.guess.Role
		if m := c.mapped; m != nil {
			if m.Role != "" {
				p.role = m.Role
				p.guess = ingest.Guess{Role: m.Role}
			}
			if m.Unit != "" {
				p.stated = m.Unit
			}
		}
		may, _ := ingest.Dimensions(p.role)
		switch {
		case p.stated == "":
			p.assume = p.role != ""
		default:
			u, err := unit.Parse(p.stated)
			switch {
			case err == nil:
				p.unit = u
			case p.role != "":
				f := fault.New(fault.Invalid, "unit %q is not known", p.stated).At("%s: column %s", t.place(), c.heading)
				if h := fault.HintOf(err); h != "" {
					h = "; " + h
					return nil, f.WithHint("map the column to a known unit with a factor, or to the role ignore%s", h)
				}
				return nil, f.WithHint("map the column to a known unit with a factor, or to the role ignore")
			default:
				p.known = false
			}
		}
		if p.role != "" && !p.unit.IsZero() && !among(p.unit.Dimension(), may) {
			switch {
			case p.unit.Dimension() == unit.Ratio && p.unit.Symbol() == "":
				// A dash in a row of units: none is stated.
				p.unit, p.stated, p.assume = unit.Unit{}, "", true
			case c.mapped != nil && c.mapped.Role != "":
				return nil, fault.New(fault.Invalid, "%s cannot be in %s", p.role, p.stated).At("%s: column %s", t.place(), c.heading).
					WithHint("it is a %s: map the column to such a unit", may[0])
			default:
				p.role, p.guess = "", ingest.Guess{} // the name says one thing, the unit another: brake in bar is a pressure
			}
		}
		out = append(out, p)
	}
	return out, nil
}

func among(d unit.Dimension, list []unit.Dimension) bool {
	for _, e := range list {
		if d == e {
			return true
		}
	}
	return false
}

// place is where the heading stands.
func (t *table) place() string {
	if t.header == 0 {
		return t.opt.Name
	}
	return caveat.Place{File: t.opt.Name, Line: t.header}.String()
}

// finished is a channel and what there is to say of it; no channel if no cell
// holds a value.
type finished struct {
	channel   *signal.Channel
	caveats   caveat.List
	holes     int
	firstHole int // sample
	e7        bool
	assumedIn unit.Unit
}

// finish joins the cells of a column, leaves out the rows that are not in the
// base, and converts to SI.
func (t *table) finish(p *plan, base *signal.Base, keep []signal.Span) finished {
	var f finished
	values := make([]float64, t.rows)
	holes := 0
	at := 0
	for _, piece := range t.pieces {
		if p.stamp {
			for i, v := range piece.times[p.slot][:piece.rows] {
				if v == ingest.NoStamp {
					values[at+i] = hole
					holes++
				} else if p.column.style == decimals {
					values[at+i] = float64(v) / exact[p.column.scale]
				} else {
					if p.column.style == clocks && v >= hourless {
						v -= hourless
					}
					values[at+i] = float64(v) / 1e9
				}
			}
			piece.times[p.slot] = nil
		} else {
			dst := values[at : at+piece.rows]
			for i, v := range piece.nums[p.slot][:piece.rows] {
				if v != v {
					holes++
				}
				dst[i] = v
			}
			piece.nums[p.slot] = nil
		}
		at += piece.rows
	}
	if holes == len(values) {
		return f
	}
	if len(keep) != 1 || keep[0].Len() != len(values) {
		to := 0
		for _, s := range keep {
			to += copy(values[to:], values[s.From:s.To])
		}
		values = values[:to]
	}
	c := &signal.Channel{Name: p.column.heading, Role: p.role, SourceUnit: p.stated, Base: base, Values: values}
	f.channel = c
	if holes == 0 {
		if len(values) > 0 {
			c.Valid = []signal.Span{{From: 0, To: len(values)}}
		}
	} else {
		from := -1
		for i, v := range values {
			if v == v {
				if from < 0 {
					from = i
				}
				continue
			}
			if f.holes == 0 {
				f.firstHole = i
			}
			f.holes++
			values[i] = 0
			if from >= 0 {
				c.Valid = append(c.Valid, signal.Span{From: from, To: i})
				from = -1
			}
		}
		if from >= 0 {
			c.Valid = append(c.Valid, signal.Span{From: from, To: len(values)})
		}
	}
	if p.stamp {
		c.Unit = "s"
		if c.SourceUnit == "" {
			c.SourceUnit = sourceSeconds(p.column)
		}
		return f
	}
	t.convert(p, &f)
	return f
}

// sourceSeconds names the unit that a stamp's numbers were told to be in.
func sourceSeconds(c *column) string {
	switch c.scale {
	case 6:
		return "ms"
	case 3:
		return "us"
	case 0:
		return "ns"
	}
	return ""
}

// convert applies the mapping's factor and offset, turns values to SI and to
// the signs of ISO 8855, and assumes a unit where none is stated.
func (t *table) convert(p *plan, f *finished) {
	c := f.channel
	if m := p.column.mapped; m != nil {
		if m.Factor != 0 && m.Factor != 1 {
			each(c, func(x float64) float64 { return x * m.Factor })
			c.History = append(c.History, signal.Mend{What: "scale", Value: m.Factor, Reason: "the mapping says so"})
		}
		if m.Offset != 0 {
			each(c, func(x float64) float64 { return x + m.Offset })
			c.History = append(c.History, signal.Mend{What: "offset", Value: m.Offset, Reason: "the mapping says so"})
		}
	}
	u := p.unit
	if p.assume && wheel[p.role] {
		return // compared with the speed over ground, when all columns are there
	}
	if p.assume {
		most, whole := 0.0, true
		for _, s := range c.Valid {
			for _, v := range c.Values[s.From:s.To] {
				most = max(most, math.Abs(v))
				whole = whole && v == math.Trunc(v)
			}
		}
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
		f.assumedIn = u
	}
	if !p.known {
		f.caveats.Add("unit_unknown", caveat.Place{}, "Unit %q is not known; the values are as the file has them.", p.stated)
	}
	if !u.IsZero() {
		c.Unit = u.House().String()
		if u != u.House() {
			each(c, u.ToHouse)
		}
	}
	if p.guess.Mirror && c.Role != "" {
		each(c, func(x float64) float64 { return 0 - x })
		c.History = append(c.History, signal.Mend{What: "sign", Value: -1, Reason: "the name says that it is positive to the right or down; ISO 8855 is the other way"})
		f.caveats.Add("sign_turned", caveat.Place{}, "The name says that it is positive to the right or down; the sign is turned, so that it is %s by ISO 8855.", c.Role)
	}
	if p.guess.Frame && c.Role != "" {
		f.caveats.Add("frame_assumed", caveat.Place{}, "It is taken for %s in the plane of whoever made the file; its axes may point elsewhere. Distances and shapes hold all the same.", c.Role)
	}
}

// each changes the valid values; a result beyond 64 bits ends the valid span.
func each(c *signal.Channel, f func(float64) float64) {
	overflow := false
	for _, s := range c.Valid {
		for i := s.From; i < s.To; i++ {
			v := f(c.Values[i])
			c.Values[i] = v
			overflow = overflow || v-v != 0
		}
	}
	if !overflow {
		return
	}
	var valid []signal.Span
	for _, s := range c.Valid {
		from := s.From
		for i := s.From; i < s.To; i++ {
			if v := c.Values[i]; v-v != 0 {
				c.Values[i] = 0
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
}

// settleRoles leaves a role that several columns claim to those with the plain
// name, and tells where more than one is left. Heights beside positions in 1e-7
// degrees are hardly in m where no unit is stated.
func (t *table) settleRoles(channels []*signal.Channel, plans []plan, done []finished) {
	e7 := false
	for i := range done {
		e7 = e7 || done[i].e7
	}
	for i := range plans {
		f := &done[i]
		if f.channel == nil || f.channel.Role == "" {
			continue
		}
		if f.channel.Role == signal.Height && e7 && plans[i].assume {
			f.channel.Role, f.channel.Unit = "", ""
			f.caveats = nil
			f.caveats.Add("unit_missing", caveat.Place{}, "No unit is stated, and beside positions in 1e-7 degrees a height is hardly in m. The channel is kept without a role; a mapping can state its unit.")
			continue
		}
		if wheel[f.channel.Role] && plans[i].assume {
			t.wheelUnit(f, channels)
			continue
		}
		if !plans[i].guess.Weak {
			continue
		}
		for j := range plans {
			if o := done[j].channel; j != i && o != nil && o.Role == f.channel.Role && !plans[j].guess.Weak {
				f.channel.Role = ""
				break
			}
		}
	}
	first := map[signal.Role]string{}
	for _, c := range channels {
		if c.Role == "" {
			continue
		}
		if name, twice := first[c.Role]; twice {
			t.caveats.Add("role_twice", caveat.Place{File: t.opt.Name, Channel: c.Name}, "It could be %s, as %s could, which stands first and is used. A mapping can say otherwise.", c.Role, name)
			continue
		}
		first[c.Role] = c.Name
	}
}

var wheel = map[signal.Role]bool{signal.WheelSpeedFL: true, signal.WheelSpeedFR: true, signal.WheelSpeedRL: true, signal.WheelSpeedRR: true}

// wheelUnit tells from the speed over ground whether a wheel's speed without a
// unit is circumferential, in m/s, or a rotation in rad/s: their greatest values
// are alike, or differ by the wheel's radius. Own bounds: slip and unlike tyres
// stay below a quarter, and the radius of a road vehicle's wheel lies between
// 0.2 and 0.55 m. km/h, of a wheel of 0.278 m, is not told from rad/s: near 3.6 the
// role is lost.
func (t *table) wheelUnit(f *finished, channels []*signal.Channel) {
	c := f.channel
	ground := 0.0
	for _, s := range channels {
		if s.Role == signal.Speed && s.Unit == "m/s" {
			ground = greatest(s)
			break
		}
	}
	most := greatest(c)
	ratio := 0.0
	if ground > 3 { // below walking pace nothing can be told
		ratio = most / ground
	}
	switch {
	case ratio > 0.75 && ratio < 1.25:
		c.Unit = "m/s"
	case ratio > 1/0.55 && ratio < 1/0.2 && math.Abs(ratio-3.6) > 0.15:
		c.Unit = "rad/s"
	default:
		f.caveats.Add("unit_missing", caveat.Place{}, "The name says %s, but no unit is stated, and the speed over ground does not tell which it is. The channel is kept without a role; a mapping can state its unit.", c.Role)
		c.Role = ""
		return
	}
	f.caveats.Add("unit_assumed", caveat.Place{}, "No unit is stated; values up to %.6g, %.3g times the greatest speed over ground in m/s, are taken to be in %s. A mapping can state another.", most, ratio, c.Unit)
}

func greatest(c *signal.Channel) float64 {
	most := 0.0
	for _, s := range c.Valid {
		for _, v := range c.Values[s.From:s.To] {
			most = max(most, math.Abs(v))
		}
	}
	return most
}

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
	if u, err := unit.Parse(c.stated); err == nil && u.Dimension() == unit.Time {
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
	if rank(name) <= 4 && !bytes.Contains([]byte(ingest.Plain(name)), []byte("unix")) {
		return clock.GNSS
	}
	return clock.Logger
}
