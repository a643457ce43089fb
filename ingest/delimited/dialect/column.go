package dialect

import (
	"bytes"
	"math"
	"slices"
	"strings"

	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited/number"
	"example.org/bookend/ingest/delimited/stamp"
	"example.org/bookend/signal"
	"example.org/bookend/unit"
)

// Column is one column of a file.
type Column struct {
	Name       string               // as in the file, its unit taken off
	Heading    string               // as in the file; "#3" where the third has no name
	Place      int                  // from 1
	Stated     string               // unit as the file has it
	Mapped     *ingest.MappedColumn // what a mapping says of it; nil: nothing
	Kind       Kind
	Places     int  // fewest decimals in the head
	stamp.Form      // of a stamp
	Unsure     bool // a stamp's dates have strokes, and their order is not known
	Epoch      bool // a stamp's decimals count from 1970
	Assumed    bool // the unit of a stamp's decimals was told by its numbers
}

// Kind is what a column's cells are read as.
type Kind uint8

// Kinds of column.
const (
	Skipped Kind = iota // text, or left out by the mapping
	Numeric
	Unseen // nothing in the head: read as numbers until text turns up
	Stamp
)

// Role gives the role that the mapping states, else empty.
func (c *Column) Role() signal.Role {
	if c.Mapped == nil {
		return ""
	}
	return c.Mapped.Role
}

// survey is what a column's cells in the head are like.
type survey struct {
	count  [clsText + 1]int
	values []float64 // of the numbers
	zoned  int       // moments that state their zone
	hours  bool      // clocks of two parts can be hours and minutes
	parts  [2]bool   // the first or the second part of a date with strokes is beyond 12
	stroke bool      // there are dates with strokes
}

// survey looks at a column's cells, and counts its decimals. The last cell of
// an open file may be cut.
func (d *Dialect) survey(c *Column, cells [][][]byte, classes [][]class) survey {
	s := survey{hours: true}
	k := c.Place - 1
	counted := false
	for i := range cells {
		if k >= len(cells[i]) {
			continue
		}
		f, cls := cells[i][k], classes[i][k]
		s.count[cls]++
		switch cls {
		case clsNumber:
			if v, st := number.Parse(f, d.Point); st == number.Valued {
				s.values = append(s.values, v)
			}
			if d.Open && i == len(cells)-1 && i > 0 {
				break
			}
			if n := Decimals(f, d.Point); !counted || n < c.Places {
				c.Places, counted = n, true
			}
		case clsClock:
			v, ok := stamp.Clock(f, true)
			if bytes.Count(f, []byte(":")) > 1 || bytes.ContainsAny(f, ".,") || ok && v < stamp.Hourless && v >= stamp.Day {
				s.hours = false
			}
		case clsDate, clsMoment:
			o := stamp.DayFirst
			_, _, parts, ok := stamp.Date(f, o)
			if !ok {
				o = stamp.MonthFirst
				_, _, parts, ok = stamp.Date(f, o)
			}
			if ok && parts != [2]int{} {
				s.stroke = true
				s.parts[0] = s.parts[0] || parts[0] > 12
				s.parts[1] = s.parts[1] || parts[1] > 12
			}
			if _, z, _, ok := stamp.Moment(f, o); ok && z {
				s.zoned++
			}
		}
	}
	return s
}

// Decimals gives how many digits a number has behind its decimal sign.
func Decimals(f []byte, point byte) int {
	if j := bytes.IndexByte(f, point); j >= 0 {
		return len(f) - j - 1
	}
	return 0
}

// judge decides what a column's cells are from those in the head.
func (d *Dialect) judge(c *Column, cells [][][]byte, classes [][]class) {
	s := d.survey(c, cells, classes)
	timed := ingest.IsTimeName(c.Name)
	switch c.Role() {
	case ingest.Ignore:
		c.Kind = Skipped
		return
	case ingest.Time:
		timed = true
	case "":
	default:
		timed = false
	}
	numbers, words := s.count[clsNumber], s.count[clsText]
	times := s.count[clsClock] + s.count[clsDate] + s.count[clsMoment]
	switch {
	case numbers+times+words == 0:
		c.Kind = Unseen
	case times > numbers && times >= words:
		c.Kind = Stamp
		c.timeStamp(&s)
	case numbers >= words:
		c.Kind = Numeric
		if timed || d.Header == 0 && c.Place == 1 {
			c.decimalStamp(s.values, timed)
		}
	default:
		c.Kind = Skipped
	}
}

// timeStamp decides how clocks, dates or moments are written.
func (c *Column) timeStamp(s *survey) {
	switch {
	case s.count[clsMoment] >= s.count[clsDate] && s.count[clsMoment] >= s.count[clsClock]:
		c.Style = stamp.Moments
	case s.count[clsDate] >= s.count[clsClock]:
		c.Style = stamp.Dates
	default:
		c.Style, c.Short = stamp.Clocks, s.hours
	}
	c.Zoned = s.zoned*2 > s.count[clsMoment]
	if !s.stroke {
		return
	}
	heading := c.Heading + " " + c.Stated
	if c.Mapped != nil && c.Mapped.Unit != "" {
		heading = c.Mapped.Unit
	}
	o, said := stamp.OrderIn(heading)
	switch {
	case said:
		c.Order = o
	case s.parts[0]:
		c.Order = stamp.DayFirst
	case s.parts[1]:
		c.Order = stamp.MonthFirst
	default:
		c.Order, c.Unsure = stamp.MonthFirst, true
	}
}

// decimalStamp decides whether a column of numbers states time, and in what unit.
func (c *Column) decimalStamp(values []float64, timed bool) {
	if len(values) == 0 {
		return
	}
	var steps []float64
	for i := 1; i < len(values); i++ {
		if s := values[i] - values[i-1]; s > 0 {
			steps = append(steps, s)
		}
	}
	slices.Sort(steps)
	step := 0.0
	if len(steps) > 0 {
		step = steps[len(steps)/2]
	}
	if !timed && len(steps)*10 < (len(values)-1)*9 {
		return // without a name, only what increases is taken for time
	}
	stated := c.Stated
	if c.Mapped != nil && c.Mapped.Unit != "" {
		stated = c.Mapped.Unit
	}
	c.Kind, c.Style, c.Scale = Stamp, stamp.Decimals, 9
	e, epoch := stamp.Epoch(values[0])
	if stated != "" {
		u, ok := unit.Known(stated)
		if !ok || u.Dimension() != unit.Time {
			switch {
			case strings.EqualFold(stated, "hhmmss"), strings.HasPrefix(strings.ToLower(stated), "hhmmss."):
				return
			case ok && u.Dimension() == unit.Ratio:
				// a week's number, or a count: the number alone speaks
			default:
				c.Kind, c.Style = Numeric, stamp.None
				return
			}
		} else {
			switch u.Key() {
			case "s":
			case "ms":
				c.Scale = 6
			case "us":
				c.Scale = 3
			case "ns":
				c.Scale = 0
			case "min":
				c.Factor = 60
			case "h":
				c.Factor = 3600
			case "day":
				c.Factor = 86400
			}
			c.Epoch = epoch && e == c.Scale && c.Factor == 1
			return
		}
	}
	whole := !slices.ContainsFunc(values, func(v float64) bool { return v != float64(int64(v)) })
	switch seconds := step * math.Pow10(e-9); {
	case epoch && seconds <= 60: // rows more than a minute apart are no recording of a vehicle: a plain counter then
		c.Scale, c.Epoch = e, true
		c.Assumed = e != 9
	case whole && step >= 2 && !stamp.IsDate(c.Name) && !stamp.IsWeek(c.Name) && !stamp.IsPacked(c.Name):
		// Whole numbers that rise by two or more a row are no seconds; at the
		// usual 10 Hz to 1 kHz they are ms up to 2000, then µs, then ns.
		c.Assumed = true
		switch {
		case step < 2e3:
			c.Scale = 6
		case step < 2e6:
			c.Scale = 3
		default:
			c.Scale = 0
		}
	}
}

// Listed writes headings one after the other, the first twelve of them.
func Listed(headings []string) string {
	if len(headings) > 12 {
		headings = append(headings[:12:12], "…")
	}
	return strings.Join(headings, ", ")
}
