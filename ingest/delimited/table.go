package delimited

import (
	"math"
	"strings"
	"sync"

	"example.org/bookend/caveat"
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
			u, ok := unit.Known(p.stated)
			switch {
			case ok:
				p.unit = u
			case p.role != "":
				hint := "map the column to a known unit with a factor, or to the role ignore"
				_, why := unit.Parse(p.stated)
				if near := fault.HintOf(why); near != "" {
					hint += "; " + near
				}
				return nil, fault.New(fault.Invalid, "unit %q is not known", p.stated).At("%s: column %s", t.place(), c.heading).WithHint("%s", hint)
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
