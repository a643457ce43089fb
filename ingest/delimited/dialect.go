package delimited

import (
	"bytes"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"

	"example.org/bookend/fault"
	"example.org/bookend/ingest"
	"example.org/bookend/signal"
	"example.org/bookend/unit"
)

// Bounds of what is looked at to find the dialect. Own: more lines do not
// change it, and titles longer than this are no titles.
const (
	headLines  = 400
	titleLines = 40
)

// blank as a separator stands for runs of blanks and tabs.
const blank = ' '

// dialect is how a file is written.
type dialect struct {
	delim   byte // ',' ';' '\t' '|' or blank
	point   byte // '.' or ','
	eol     byte // '\n', or '\r' where that stands alone
	skip    int  // lines before the first row of data
	header  int  // line of the names, from 1; 0: there is none
	open    bool // the head is the whole file, and its last line has no end
	raw     []byte
	columns []column
}

// column is one column of a file.
type column struct {
	name    string // as in the file, its unit taken off
	heading string // as in the file
	place   int    // from 1
	stated  string // unit as the file has it
	mapped  *ingest.MappedColumn
	kind    kind
	style   style // of a stamp
	scale   int   // a stamp of decimals is a whole number of 10^-scale of its unit
	factor  int64 // of a stamp: its unit in seconds where that is min, h or d; else 1
	short   bool  // a clock of two parts is hours and minutes
	zoned   bool  // moments state their zone
	order   order // of dates with strokes
	unsure  bool  // the order of dates with strokes is not known
	epoch   bool  // decimals count from 1970
	assumed bool  // the unit of a stamp of decimals was told by its numbers
	places  int   // fewest decimals in the head
}

// kind is what a column's cells are read as.
type kind uint8

const (
	skipped kind = iota // text, or left out by the mapping
	numeric
	unseen // nothing in the head: read as numbers until text turns up
	stamp
)

// class is what a cell of the head looks like.
type class uint8

const (
	clsMissing class = iota
	clsNumber
	clsClock
	clsDate
	clsMoment
	clsText
)

// classify judges a cell.
func classify(f []byte, point byte) class {
	_, s := number(f, point)
	switch s {
	case missing:
		return clsMissing
	case valued, infinite:
		return clsNumber
	}
	if len(f) == 0 || f[0]-'0' > 9 || len(f) > 40 {
		return clsText
	}
	if _, ok := clockText(f, true); ok {
		return clsClock
	}
	if _, ok := clockText(f, false); ok {
		return clsClock
	}
	for _, o := range []order{dayFirst, monthFirst} {
		if _, _, _, ok := moment(f, o); ok {
			return clsMoment
		}
		if _, rest, _, ok := date(f, o); ok && len(rest) == 0 {
			return clsDate
		}
	}
	return clsText
}

// split cuts a line into its cells, blanks and quotes taken off.
func split(line []byte, delim byte, into [][]byte) [][]byte {
	into = into[:0]
	if delim == blank {
		line = bytes.Trim(line, " \t")
	}
	for i := 0; ; {
		end := cellEnd(line, i, delim)
		into = append(into, tidy(line[i:end]))
		if end >= len(line) {
			return into
		}
		i = end + 1
		if delim == blank {
			for i < len(line) && (line[i] == ' ' || line[i] == '\t') {
				i++
			}
			if i == len(line) {
				return into
			}
		}
	}
}

// cellEnd gives the place of the separator, or the line's end, after the cell
// that begins at i. A separator within quotes does not count; a quote that is
// never closed does not either.
func cellEnd(line []byte, i int, delim byte) int {
	j := i
	for j < len(line) && line[j] == ' ' && delim != blank {
		j++
	}
	if j < len(line) && line[j] == '"' {
		for k := j + 1; k < len(line); k++ {
			if line[k] != '"' {
				continue
			}
			if k+1 < len(line) && line[k+1] == '"' {
				k++
				continue
			}
			for k++; k < len(line) && !separates(line[k], delim); k++ {
			}
			return k
		}
	}
	for k := i; k < len(line); k++ {
		if separates(line[k], delim) {
			return k
		}
	}
	return len(line)
}

func separates(c, delim byte) bool { return c == delim || delim == blank && c == '\t' }

// tidy takes blanks and quotes off a cell.
func tidy(f []byte) []byte {
	f = bytes.Trim(f, " \t\r")
	if n := len(f); n >= 2 && f[0] == '"' && f[n-1] == '"' {
		f = f[1 : n-1]
		if bytes.IndexByte(f, '"') >= 0 {
			f = bytes.ReplaceAll(f, []byte(`""`), []byte(`"`))
		}
		f = bytes.Trim(f, " \t")
	}
	return f
}

// text gives a cell as UTF-8; what is not UTF-8 is taken for Windows-1252, of
// which Latin-1's letters are a part.
func text(f []byte) string {
	if utf8.Valid(f) {
		return string(f)
	}
	s, err := charmap.Windows1252.NewDecoder().Bytes(f)
	if err != nil {
		return string(bytes.ToValidUTF8(f, []byte("?")))
	}
	return string(s)
}

// linesOf cuts the head into lines. Unless the head is the whole file its last
// line is left out, being cut.
func linesOf(head []byte, whole bool) (lines [][]byte, eol byte) {
	eol = '\n'
	if bytes.IndexByte(head, '\n') < 0 && bytes.IndexByte(head, '\r') >= 0 {
		eol = '\r'
	}
	for len(head) > 0 && len(lines) < headLines {
		i := bytes.IndexByte(head, eol)
		if i < 0 {
			if whole {
				lines = append(lines, head)
			}
			break
		}
		lines = append(lines, bytes.TrimRight(head[:i], "\r"))
		head = head[i+1:]
	}
	return lines, eol
}

// candidate is one way to read the head, and how well it fits.
type candidate struct {
	delim, point byte
	width        int // cells in most lines of the second half
	score        float64
}

// best finds the separator and the decimal point with which most cells of the
// second half of the head are numbers or times and lines are equally long.
func best(lines [][]byte) (candidate, bool) {
	var filled [][]byte
	for _, l := range lines {
		if len(bytes.TrimSpace(l)) > 0 {
			filled = append(filled, l)
		}
	}
	tail := filled[len(filled)/2:]
	var win candidate
	found := false
	for _, delim := range []byte{'\t', ';', ',', '|', blank} {
		for _, point := range []byte{'.', ','} {
			if delim == point && delim != ',' { // a decimal comma between commas stands in quotes
				continue
			}
			widths := map[int]int{}
			good, bad := map[int]int{}, 0
			all := 0
			var cells [][]byte
			for _, l := range tail {
				cells = split(l, delim, cells)
				n := len(cells)
				widths[n]++
				for _, c := range cells {
					switch classify(c, point) {
					case clsMissing:
					case clsText:
						all++
						if bytes.ContainsAny(c, "\t;,|") {
							bad++
						}
					default:
						all++
						good[n]++
					}
				}
			}
			width := 0
			for n, count := range widths {
				if n >= 2 && (width == 0 || count > widths[width] || count == widths[width] && n > width) {
					width = n
				}
			}
			if width == 0 || good[width] == 0 {
				continue
			}
			score := float64(good[width]) / float64(all+bad) * float64(widths[width]) / float64(len(tail))
			if score > win.score+1e-12 {
				win = candidate{delim, point, width, score}
				found = true
			}
		}
	}
	return win, found
}

// detect finds how the file is written from its first bytes. whole tells
// whether head is all of it.
func detect(head []byte, whole bool, name string, mapping *ingest.Mapping) (*dialect, error) {
	lines, eol := linesOf(head, whole)
	hint := "expected are rows of numbers with a time column, separated by commas, semicolons, tabs or blanks"
	if len(lines) == 0 {
		return nil, fault.New(fault.Invalid, "the first line is longer than %d KiB", ingest.HeadBytes>>10).At("%s:1", name).WithHint("%s", hint)
	}
	win, ok := best(lines)
	if !ok {
		return nil, fault.New(fault.Invalid, "no table was found in it").At("%s", name).WithHint("%s", hint)
	}
	d := &dialect{delim: win.delim, point: win.point, eol: eol, open: whole && head[len(head)-1] != eol}

	// The rows of data begin with the first line that has no text where the
	// second half of the head has numbers or times.
	cells := make([][][]byte, len(lines))
	classes := make([][]class, len(lines))
	for i, l := range lines {
		cells[i] = split(l, d.delim, nil)
		for _, c := range cells[i] {
			classes[i] = append(classes[i], classify(c, d.point))
		}
	}
	datum := make([]bool, win.width)
	for k := range datum {
		good, text := 0, 0
		for i := len(lines) / 2; i < len(lines); i++ {
			if k < len(classes[i]) && len(classes[i]) >= win.width {
				switch classes[i][k] {
				case clsMissing:
				case clsText:
					text++
				default:
					good++
				}
			}
		}
		datum[k] = good > text
	}
	start := -1
	for i := range lines {
		if len(cells[i]) < 2 || len(cells[i])*2 < win.width {
			continue
		}
		good, text := 0, 0
		for k, c := range classes[i] {
			if k >= win.width || !datum[k] {
				continue
			}
			switch c {
			case clsMissing:
			case clsText:
				text++
			default:
				good++
			}
		}
		if good > 0 && text == 0 {
			start = i
			break
		}
	}
	if start < 0 {
		return nil, fault.New(fault.Invalid, "no rows of numbers were found in it").At("%s", name).WithHint("%s", hint)
	}
	d.skip = start

	names, units := d.headings(lines, start, win.width)
	width := max(win.width, len(names))
	seen := map[string]bool{}
	for k := range width {
		c := column{place: k + 1, factor: 1}
		if k < len(names) {
			c.heading = names[k]
		}
		if c.heading == "" {
			c.heading = "#" + strconv.Itoa(k+1)
		}
		c.name, c.stated = ingest.SplitUnit(c.heading)
		if k < len(units) && units[k] != "" {
			c.stated = units[k]
		}
		c.mapped = mapping.Find(c.heading, k+1)
		if c.mapped == nil && c.name != c.heading {
			c.mapped = mapping.Find(c.name, k+1)
		}
		if seen[c.heading] {
			c.heading += " (column " + strconv.Itoa(k+1) + ")"
		}
		seen[c.heading] = true
		d.judge(&c, cells[start:], classes[start:])
		d.columns = append(d.columns, c)
	}
	if mapping != nil {
		for _, m := range mapping.Columns {
			if !slices.ContainsFunc(d.columns, func(c column) bool { return c.mapped != nil && *c.mapped == m }) {
				var have []string
				for _, c := range d.columns {
					have = append(have, c.heading)
				}
				return nil, fault.New(fault.NotFound, "the mapping names column %q, which the file does not have", m.Column).
					At("%s", name).WithHint("it has: %s", strings.Join(have[:min(len(have), 30)], ", "))
			}
		}
	}
	return d, nil
}

// headings finds the row of names above the data, and the row of units below
// the names if there is one.
func (d *dialect) headings(lines [][]byte, start, width int) (names, units []string) {
	bestScore, at := 0, -1
	rows := map[int][]string{}
	for i := max(0, start-titleLines); i < start; i++ {
		line := lines[i]
		for _, mark := range []string{"#", "%", "//"} {
			line = bytes.TrimPrefix(line, []byte(mark))
		}
		var row []string
		words, hits, filled := 0, 0, 0
		for _, c := range split(line, d.delim, nil) {
			s := text(c)
			row = append(row, s)
			if s == "" {
				continue
			}
			filled++
			if classify(c, d.point) == clsText {
				words++
			}
			stem, _ := ingest.SplitUnit(s)
			if ingest.IsTimeName(stem) || ingest.GuessRole(stem).Role != "" {
				hits++
			}
		}
		rows[i] = row
		if words == 0 || len(row) < 2 {
			continue
		}
		score := hits*10 + words*2
		if len(row) == width {
			score += 15
		}
		if unitRow(row) && hits < filled { // "t;v" are names, though t and V are units
			score = 1
		}
		if score >= bestScore {
			bestScore, at = score, i
		}
	}
	if at < 0 {
		return nil, nil
	}
	d.header = at + 1
	d.raw = bytes.Clone(lines[at])
	for i := at + 1; i < start; i++ {
		if unitRow(rows[i]) {
			for _, s := range rows[i] {
				units = append(units, bare(s))
			}
			break
		}
	}
	return rows[at], units
}

// bare takes brackets off a unit.
func bare(s string) string {
	s = strings.TrimSpace(s)
	for _, pair := range []string{"[]", "()", "{}", "<>"} {
		if len(s) >= 2 && s[0] == pair[0] && s[len(s)-1] == pair[1] {
			if _, ok := unit.Known(s); ok {
				return s
			}
			return strings.TrimSpace(s[1 : len(s)-1])
		}
	}
	return s
}

// unitRow tells whether at least half of the filled cells are units, and one of
// them more than a dash.
func unitRow(row []string) bool {
	filled, known, plain := 0, 0, 0
	for _, s := range row {
		s = bare(s)
		if s == "" {
			continue
		}
		filled++
		if _, ok := unit.Known(s); ok {
			known++
			if s != "-" && s != "1" && s != "--" && s != "#" {
				plain++
			}
		} else if ingest.IsDatePattern(s) || strings.Contains(strings.ToLower(s), "hh:mm") || strings.EqualFold(s, "hhmmss") {
			known++
		}
	}
	return plain > 0 && known*2 >= filled
}

// judge decides what a column's cells are from those in the head.
func (d *dialect) judge(c *column, cells [][][]byte, classes [][]class) {
	var count [6]int
	var values []float64
	first := true
	var both [2]bool // a first or second part of a date that cannot be a month
	strokes := false
	allShort, fractional := true, false
	zoned := 0
	k := c.place - 1
	for i := range cells {
		if k >= len(cells[i]) {
			continue
		}
		f := cells[i][k]
		cls := classes[i][k]
		count[cls]++
		switch cls {
		case clsNumber:
			v, s := number(f, d.point)
			if s == valued {
				values = append(values, v)
			}
			places := 0
			if j := bytes.IndexByte(f, d.point); j >= 0 {
				places = len(f) - j - 1
			}
			if d.open && i == len(cells)-1 && i > 0 {
				break // it may be cut
			}
			if first || places < c.places {
				c.places = places
			}
			first = false
		case clsClock:
			if bytes.Count(f, []byte(":")) > 1 {
				allShort = false
			}
			if bytes.ContainsAny(f, ".,") {
				fractional = true
			}
			if v, ok := clockText(f, true); ok && v < hourless && v >= day {
				allShort = false
			}
		case clsDate, clsMoment:
			o := dayFirst
			_, _, parts, ok := date(f, o)
			if !ok {
				o = monthFirst
				_, _, parts, ok = date(f, o)
			}
			if ok && parts != [2]int{} {
				strokes = true
				both[0] = both[0] || parts[0] > 12
				both[1] = both[1] || parts[1] > 12
			}
			if _, z, _, ok := moment(f, o); ok && z {
				zoned++
			}
		}
	}
	times := count[clsClock] + count[clsDate] + count[clsMoment]
	timed := ingest.IsTimeName(c.name)
	if c.mapped != nil {
		switch c.mapped.Role {
		case ingest.Ignore:
			c.kind = skipped
			return
		case ingest.Time:
			timed = true
		case "":
		default:
			timed = false
		}
	}
	switch {
	case count[clsNumber]+times+count[clsText] == 0:
		c.kind = unseen
	case times > count[clsNumber] && times >= count[clsText]:
		c.kind = stamp
		switch {
		case count[clsMoment] >= count[clsDate] && count[clsMoment] >= count[clsClock]:
			c.style = moments
		case count[clsDate] >= count[clsClock]:
			c.style = dates
		default:
			c.style = clocks
		}
		c.short = allShort && !fractional
		c.zoned = zoned*2 > count[clsMoment]
		if strokes {
			heading := c.heading + " " + c.stated
			if c.mapped != nil {
				heading = c.mapped.Unit
			}
			o, said := dateOrder(heading)
			switch {
			case said:
				c.order = o
			case both[1] && !both[0]:
				c.order = monthFirst
			case both[0]:
				c.order = dayFirst
			default:
				c.order, c.unsure = monthFirst, true
			}
		}
	case count[clsNumber] >= count[clsText]:
		c.kind = numeric
		if timed || d.header == 0 && k == 0 {
			d.decimalStamp(c, values, timed)
		}
	default:
		c.kind = skipped
	}
}

// decimalStamp decides whether a column of numbers states time, and in what unit.
func (d *dialect) decimalStamp(c *column, values []float64, timed bool) {
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
	stated := c.stated
	if c.mapped != nil && c.mapped.Unit != "" {
		stated = c.mapped.Unit
	}
	c.kind, c.style, c.scale = stamp, decimals, 9
	e, epoch := epochScale(values[0])
	if stated != "" {
		u, ok := unit.Known(stated)
		if !ok || u.Dimension() != unit.Time {
			switch {
			case strings.EqualFold(stated, "hhmmss"), strings.HasPrefix(strings.ToLower(stated), "hhmmss."):
				return
			case ok && u.Dimension() == unit.Ratio:
				// a week's number, or a count: the number alone speaks
			default:
				c.kind, c.style = numeric, noTime
				return
			}
		} else {
			switch u.Key() {
			case "s":
			case "ms":
				c.scale = 6
			case "us":
				c.scale = 3
			case "ns":
				c.scale = 0
			case "min":
				c.factor = 60
			case "h":
				c.factor = 3600
			case "day":
				c.factor = 86400
			}
			c.epoch = epoch && e == c.scale && c.factor == 1
			return
		}
	}
	whole := !slices.ContainsFunc(values, func(v float64) bool { return v != float64(int64(v)) })
	switch seconds := step * pow10(e-9); {
	case epoch && seconds <= 60: // rows more than a minute apart are no recording of a vehicle: a plain counter then
		c.scale, c.epoch = e, true
		c.assumed = e != 9
	case whole && step >= 2 && !isDate(c.name) && !isWeek(c.name) && !packedBySay[ingest.Plain(c.name)]:
		// Whole numbers that rise by two or more a row are no seconds; at the
		// usual 10 Hz to 1 kHz they are ms up to 2000, then µs, then ns.
		c.assumed = true
		switch {
		case step < 2e3:
			c.scale = 6
		case step < 2e6:
			c.scale = 3
		default:
			c.scale = 0
		}
	}
}

func pow10(e int) float64 {
	if e < 0 {
		return 1 / exact[-e]
	}
	return exact[e]
}

func isWeek(name string) bool {
	return slices.Contains([]string{"week", "gpsweek", "weeknumber", "wn", "wnc"}, ingest.Plain(name))
}

func isTow(name string) bool {
	return slices.Contains([]string{"tow", "gpstow", "timeofweek", "gpstimeofweek", "itow", "towms"}, ingest.Plain(name))
}

func isDate(name string) bool {
	return slices.Contains([]string{"date", "datum", "utcdate", "gpsdate", "day", "tag"}, ingest.Plain(name))
}

// role gives the role that the mapping states, else empty.
func (c *column) role() signal.Role {
	if c.mapped == nil {
		return ""
	}
	return c.mapped.Role
}
