// Package dialect tells how a text log is written, from its first lines:
// separator, decimal sign, line ends, where the names and the units of the
// columns stand, and what each column's cells are.
//
// Nothing of this is stated in such a file. Separator and decimal sign are those
// under which most cells of the second half of the head are numbers or times and
// lines are equally long; data begin with the first line that has no text where
// the second half has none; the names stand in the line above that looks most like
// them, units in a line of units below it or in the names. A column is what most
// of its cells in the head are: numbers, one form of time, or text. What is
// guessed is no more than that: what stands below the head is held to it and refused
// where it differs. Limits: 64 KiB and 400 lines are looked at; quotes must
// not run over a line's end. Common practice, no source.
package dialect

import (
	"slices"
	"strconv"

	"example.org/bookend/fault"
	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited/stamp"
)

// Bounds of what is looked at to find the dialect. Own: more lines do not
// change it, and titles longer than this are no titles.
const (
	headLines  = 400
	titleLines = 40
)

// Dialect is how a file is written.
type Dialect struct {
	Delim   byte   // ',' ';' '\t' '|' or Blank
	Point   byte   // decimal sign, '.' or ','
	EOL     byte   // '\n', or '\r' where that stands alone
	Skip    int    // lines before the first row of data
	Header  int    // line of the names, from 1; 0: there is none
	Open    bool   // the head is the whole file, and its last line has no end
	Raw     []byte // the line of the names, without its end
	Columns []Column
}

// Detect finds how the file is written from its first bytes. whole tells
// whether head is all of it.
func Detect(head []byte, whole bool, name string, mapping *ingest.Mapping) (*Dialect, error) {
	lines, eol := linesOf(head, whole)
	hint := "expected are rows of numbers with a time column, separated by commas, semicolons, tabs or blanks"
	if len(lines) == 0 {
		return nil, fault.New(fault.Invalid, "the first line is longer than %d KiB", ingest.HeadBytes>>10).At("%s:1", name).WithHint("%s", hint)
	}
	win, ok := best(lines)
	if !ok {
		return nil, fault.New(fault.Invalid, "no table was found in it").At("%s", name).WithHint("%s", hint)
	}
	d := &Dialect{Delim: win.delim, Point: win.point, EOL: eol, Open: whole && head[len(head)-1] != eol}

	cells := make([][][]byte, len(lines))
	classes := make([][]class, len(lines))
	for i, l := range lines {
		cells[i] = Split(l, d.Delim, nil)
		for _, c := range cells[i] {
			classes[i] = append(classes[i], classify(c, d.Point))
		}
	}
	start := firstRow(classes, win.width)
	if start < 0 {
		return nil, fault.New(fault.Invalid, "no rows of numbers were found in it").At("%s", name).WithHint("%s", hint)
	}
	d.Skip = start

	names, units := d.headings(lines, start, win.width)
	width := max(win.width, len(names))
	seen := map[string]bool{}
	for k := range width {
		c := Column{Place: k + 1, Form: stamp.Form{Factor: 1}}
		if k < len(names) {
			c.Heading = names[k]
		}
		if c.Heading == "" {
			c.Heading = "#" + strconv.Itoa(k+1)
		}
		c.Name, c.Stated = ingest.SplitUnit(c.Heading)
		if k < len(units) && units[k] != "" {
			c.Stated = units[k]
		}
		c.Mapped = mapping.Find(c.Heading, k+1)
		if c.Mapped == nil && c.Name != c.Heading {
			c.Mapped = mapping.Find(c.Name, k+1)
		}
		if seen[c.Heading] {
			c.Heading += " (column " + strconv.Itoa(k+1) + ")"
		}
		seen[c.Heading] = true
		d.judge(&c, cells[start:], classes[start:])
		d.Columns = append(d.Columns, c)
	}
	if mapping != nil && !mapping.Shared {
		for _, m := range mapping.Columns {
			if !slices.ContainsFunc(d.Columns, func(c Column) bool { return c.Mapped != nil && *c.Mapped == m }) {
				var have []string
				for _, c := range d.Columns {
					have = append(have, c.Heading)
				}
				return nil, fault.New(fault.NotFound, "the mapping names column %q, which the file does not have", m.Column).
					At("%s", name).WithHint("it has: %s", Listed(have))
			}
		}
	}
	return d, nil
}
