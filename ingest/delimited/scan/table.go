package scan

import (
	"example.org/bookend/caveat"
	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited/dialect"
	"example.org/bookend/ingest/delimited/stamp"
	"example.org/bookend/signal"
)

// Table is a file as it was read: its rows, column by column, and what was odd
// about its lines.
type Table struct {
	*dialect.Dialect
	File string // place of its faults and caveats
	Rows int
	Text []bool // by column: nothing in the head, and text below it

	acts   []act
	pieces []*piece
	lines  int   // of data, below the heading
	apart  []int // lines of data that are no row, from 0
	short  tally
	long   tally
	notes  tally
	again  tally
	cut    bool
	cutAt  int
	open   bool
	openAt int
	nuls   bool
}

// take adds a piece.
func (t *Table) take(p *piece) error {
	if p.err != nil {
		return p.err.At("%s:%d", t.File, t.Skip+t.lines+p.errLine+1)
	}
	for _, l := range p.apart {
		t.apart = append(t.apart, t.lines+l)
	}
	t.short.join(p.short, t.lines)
	t.long.join(p.long, t.lines)
	t.notes.join(p.notes, t.lines)
	t.again.join(p.again, t.lines)
	if p.cut {
		t.cut, t.cutAt = true, t.lines+p.cutAt
	}
	if p.open {
		t.open, t.openAt = true, t.lines+p.openAt
	}
	for k, is := range p.text {
		t.Text[k] = t.Text[k] || is
	}
	t.Rows += p.rows
	t.lines += p.lines
	t.pieces = append(t.pieces, p)
	return nil
}

// Heading gives where the names of the columns stand: file and line, or the
// file alone.
func (t *Table) Heading() string {
	return caveat.Place{File: t.File, Line: t.Header}.String()
}

// At gives where a row, counted from 0, stands in the file.
func (t *Table) At(row int) caveat.Place {
	l := row
	for _, s := range t.apart {
		if s > l {
			break
		}
		l++
	}
	return t.line(l)
}

func (t *Table) line(l int) caveat.Place { return caveat.Place{File: t.File, Line: t.Skip + l + 1} }

// Stamps gives the stamps of a column of such, one a row, in ns; ingest.NoStamp
// where there is none. The caller may change them.
func (t *Table) Stamps(column int) []int64 {
	slot := t.acts[column].slot
	out := make([]int64, 0, t.Rows)
	for _, p := range t.pieces {
		out = append(out, p.times[slot][:p.rows]...)
	}
	return out
}

// Values are a column's values over the rows that were asked for.
type Values struct {
	Values  []float64     // one a row; 0 outside the valid spans
	Valid   []signal.Span // where there are values
	Missing int           // rows without one
	First   int           // the first of them, from 0 among those asked for
	Empty   bool          // no row of the file has one
}

// Numbers takes the numbers of a column of such, as the file has them, in the
// rows to keep. A column can be taken once; different ones at the same time.
func (t *Table) Numbers(column int, keep []signal.Span) Values {
	slot := t.acts[column].slot
	all := make([]float64, t.Rows)
	holes, at := 0, 0
	for _, p := range t.pieces {
		to := all[at : at+p.rows]
		for i, v := range p.nums[slot][:p.rows] {
			if v != v {
				holes++
			}
			to[i] = v
		}
		at += p.rows
		p.nums[slot] = nil
	}
	return valuesOf(all, holes, keep)
}

// Seconds gives the stamps of a column of such as numbers of seconds, in the rows
// to keep. The hour that a clock does not state is not added.
func (t *Table) Seconds(column int, keep []signal.Span) Values {
	all := make([]float64, t.Rows)
	holes := 0
	for i, v := range t.Stamps(column) {
		switch {
		case v == ingest.NoStamp:
			all[i] = hole
			holes++
		case t.Columns[column].Style == stamp.Clocks && v >= stamp.Hourless:
			all[i] = float64(v-stamp.Hourless) / 1e9
		default:
			all[i] = float64(v) / 1e9
		}
	}
	return valuesOf(all, holes, keep)
}

// valuesOf leaves out the rows that are not to be kept, and the holes, of which
// there are so many. It makes use of the slice that it is given.
func valuesOf(all []float64, holes int, keep []signal.Span) Values {
	if holes == len(all) {
		return Values{Empty: true}
	}
	if len(keep) != 1 || keep[0].Len() != len(all) {
		n := 0
		for _, s := range keep {
			n += copy(all[n:], all[s.From:s.To])
		}
		all = all[:n]
	}
	out := Values{Values: all}
	from := 0
	end := func(to int) {
		if from < to {
			out.Valid = append(out.Valid, signal.Span{From: from, To: to})
		}
	}
	if holes > 0 {
		for i, v := range all {
			if v == v {
				continue
			}
			if out.Missing == 0 {
				out.First = i
			}
			out.Missing++
			all[i] = 0
			end(i)
			from = i + 1
		}
	}
	end(len(all))
	return out
}

// Tell adds a caveat for every kind of line that is not as the others.
func (t *Table) Tell(list *caveat.List) {
	file := caveat.Place{File: t.File}
	if t.cut {
		list.Add("truncated_line", t.line(t.cutAt), "The last line is cut off and is left out.")
	}
	if t.open {
		list.Add("no_line_end", t.line(t.openAt), "The last line has no line end, so its last value may have been cut short; the row is kept.")
	}
	if t.nuls {
		list.Add("nul_bytes", file, "NUL bytes follow the last line; they are passed over. The logger may have lost power, and what it last measured with it.")
	}
	if n := t.short.n; n > 0 {
		list.Add("short_line", t.line(t.short.first), "%d lines have fewer cells than the table has columns; what they lack is missing. The first is here.", n)
	}
	if n := t.long.n; n > 0 {
		list.Add("long_line", t.line(t.long.first), "%d lines have more cells than the table has columns and are left out; the first is here.", n)
	}
	if n := t.notes.n; n > 0 {
		list.Add("remark_line", t.line(t.notes.first), "%d lines within the data are remarks and are passed over; the first is here.", n)
	}
	if n := t.again.n; n > 0 {
		list.Add("heading_again", t.line(t.again.first), "The heading stands %d times more within the data, the first time here: several recordings may have been joined.", n)
	}
	if t.Header == 0 {
		list.Add("no_heading", file, "The file does not name its columns; they are called #1, #2 and so on. A mapping can say what they are.")
	}
}
