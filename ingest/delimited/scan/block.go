package scan

import (
	"bytes"
	"math"

	"example.org/bookend/fault"
	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited/charset"
	"example.org/bookend/ingest/delimited/dialect"
	"example.org/bookend/ingest/delimited/number"
)

// hole stands in the pieces of this room, and in no other room, for a cell
// without a value: a not-a-number that no text is read as.
var hole = math.NaN()

// scanner reads blocks of whole lines into pieces. It is not changed by that, so
// that several may read at once.
type scanner struct {
	*dialect.Dialect
	acts  []act
	nums  int // columns of numbers
	times int // columns of stamps
}

// act is what is done with the cells of a column.
type act struct {
	kind dialect.Kind
	slot int // which of the columns of numbers, or of stamps
}

func newScanner(d *dialect.Dialect) *scanner {
	s := &scanner{Dialect: d}
	for i := range d.Columns {
		a := act{kind: d.Columns[i].Kind}
		switch a.kind {
		case dialect.Numeric, dialect.Unseen:
			a.slot = s.nums
			s.nums++
		case dialect.Stamp:
			a.slot = s.times
			s.times++
		}
		s.acts = append(s.acts, a)
	}
	return s
}

// piece is what one block holds. Lines count from 0 within it.
type piece struct {
	rows    int
	nums    [][]float64 // by column, rows long or longer
	times   [][]int64   // likewise
	lines   int
	apart   []int  // lines that are no row, in order
	text    []bool // by column: an unseen one turned out to be text
	short   tally  // lines with fewer cells than there are columns
	long    tally  // lines with more, left out
	notes   tally  // lines of remarks, left out
	again   tally  // the heading once more, left out
	cut     bool   // the last line was left out, being cut
	cutAt   int
	open    bool // the last line has no end, and its last number may lack digits
	openAt  int
	err     *fault.Error
	errLine int
}

// tally counts lines and keeps the first.
type tally struct{ n, first int }

func (t *tally) add(line int) {
	if t.n == 0 {
		t.first = line
	}
	t.n++
}

func (t *tally) join(o tally, lines int) {
	if o.n == 0 {
		return
	}
	if t.n == 0 {
		t.first = o.first + lines
	}
	t.n += o.n
}

// block reads b, whole lines each with its end. last tells that b ends the file,
// open that its last line had no end of its own.
func (s *scanner) block(b []byte, last, open bool) *piece {
	rows := bytes.Count(b, []byte{s.EOL})
	p := &piece{nums: make([][]float64, s.nums), times: make([][]int64, s.times), text: make([]bool, len(s.acts))}
	for k := range p.nums {
		p.nums[k] = make([]float64, rows)
	}
	for k := range p.times {
		p.times[k] = make([]int64, rows)
	}
	delim, point, eol := s.Delim, s.Point, s.EOL
	acts := s.acts
	i, n := 0, len(b)
	for i < n {
		start := i
		// Lines that are no rows.
		switch c := b[i]; {
		case c == eol || c == '\r' && b[i+1] == eol:
			i += bytes.IndexByte(b[i:], eol) + 1
			p.apart = append(p.apart, p.lines)
			p.lines++
			continue
		case c == '#' || c == '%':
			i += bytes.IndexByte(b[i:], eol) + 1
			p.notes.add(p.lines)
			p.apart = append(p.apart, p.lines)
			p.lines++
			continue
		}
		row := p.rows
		k := 0
		for {
			if k == len(acts) {
				break
			}
			for delim == dialect.Blank && (b[i] == ' ' || b[i] == '\t') {
				i++
			}
			a := acts[k]
			if a.kind == dialect.Numeric {
				// The usual cell: sign, digits, point, digits, and the separator
				// at once behind them. Everything else is read slowly below.
				j := i
				neg := false
				if b[j] == '-' {
					neg = true
					j++
				}
				var m uint64
				from := j
				for {
					c := b[j] - '0'
					if c > 9 {
						break
					}
					m = m*10 + uint64(c)
					j++
				}
				digits, frac := j-from, 0
				if b[j] == point && point != delim {
					j++
					from = j
					for {
						c := b[j] - '0'
						if c > 9 {
							break
						}
						m = m*10 + uint64(c)
						j++
					}
					frac = j - from
					digits += frac
				}
				c := b[j]
				if c == '\r' && c != eol && b[j+1] == eol {
					j++
					c = eol
				}
				if (c == delim || c == eol) && digits > 0 && digits <= number.MaxDigits && m <= 1<<53 {
					v := float64(m)
					if frac > 0 {
						v /= number.Exact[frac]
					}
					if neg {
						v = -v
					}
					p.nums[a.slot][row] = v
					i = j + 1
					k++
					if c == eol {
						goto ended
					}
					continue
				}
			}
			// Slowly: find the cell, then read it by its kind.
			{
				eolAt := bytes.IndexByte(b[i:], eol) + i
				end := dialect.CellEnd(b[i:eolAt], 0, delim) + i
				if !(delim == dialect.Blank && end == eolAt && len(dialect.Tidy(b[i:end])) == 0) {
					if !s.cell(p, k, row, dialect.Tidy(b[i:end])) {
						// The file may hold its own heading again where two were joined.
						whole := bytes.TrimRight(b[start:eolAt], "\r")
						if s.Header > 0 && bytes.Equal(whole, s.Raw) {
							p.again.add(p.lines)
							p.apart = append(p.apart, p.lines)
							i = eolAt + 1
							goto dropped
						}
						if last && eolAt == n-1 && open { // the text is a number's first half, "1e" or "-"
							p.cut, p.cutAt = true, p.lines
							p.apart = append(p.apart, p.lines)
							i = n
							goto dropped
						}
						p.err = s.refuse(k, dialect.Tidy(b[i:end]))
						p.errLine = p.lines
						return p
					}
					k++
				}
				i = end + 1
				if end == eolAt {
					goto ended
				}
			}
		}
		// More cells than columns: blank ones are let be.
		{
			eolAt := bytes.IndexByte(b[i:], eol) + i
			rest := bytes.Trim(b[i:eolAt], " \t\r\"")
			if delim != dialect.Blank {
				rest = bytes.Trim(rest, string([]byte{delim, ' ', '\t', '\r'}))
			}
			i = eolAt + 1
			if len(rest) > 0 {
				p.long.add(p.lines)
				p.apart = append(p.apart, p.lines)
				goto dropped
			}
		}
	ended:
		if last && i == n && open && (k < s.least() || s.cutShort(b[start:n-1])) {
			p.cut, p.cutAt = true, p.lines
			p.apart = append(p.apart, p.lines)
			goto dropped
		}
		if last && i == n && open && s.mayLack(b[start:n-1]) {
			p.open, p.openAt = true, p.lines
		}
		if k < len(acts) {
			if k < s.least() {
				p.short.add(p.lines)
			}
			for ; k < len(acts); k++ {
				s.cell(p, k, row, nil)
			}
		}
		p.rows++
	dropped:
		p.lines++
	}
	return p
}

// least is how many cells a line must have not to be short: up to the last
// column that the head has anything in.
func (s *scanner) least() int {
	for k := len(s.Columns); k > 0; k-- {
		if s.Columns[k-1].Kind != dialect.Unseen {
			return k
		}
	}
	return 0
}

// cutShort tells whether the last line of a file, which has all its cells but
// no end, was cut within its last number: it has fewer decimals than any row of
// the head.
func (s *scanner) cutShort(line []byte) bool {
	k := s.least() - 1
	if k < 0 || s.Columns[k].Kind != dialect.Numeric || s.Columns[k].Places == 0 {
		return false
	}
	cells := dialect.Split(bytes.TrimRight(line, "\r"), s.Delim, nil)
	if k >= len(cells) {
		return true
	}
	return dialect.Decimals(cells[k], s.Point) < s.Columns[k].Places
}

// mayLack tells whether the last number of a line without an end may lack digits: no
// count of decimals shows that it is whole.
func (s *scanner) mayLack(line []byte) bool {
	k := s.least() - 1
	if k < 0 || s.Columns[k].Kind != dialect.Numeric && s.Columns[k].Kind != dialect.Stamp {
		return false
	}
	if s.Columns[k].Kind == dialect.Stamp {
		return true
	}
	cells := dialect.Split(bytes.TrimRight(line, "\r"), s.Delim, nil)
	if k >= len(cells) || len(cells) > k+1 { // something stands behind it
		return false
	}
	places := s.Columns[k].Places
	return len(dialect.Tidy(cells[k])) > 0 && (places == 0 || dialect.Decimals(cells[k], s.Point) != places)
}

// cell reads one cell, blanks and quotes taken off, into its column; false if
// it is text where a number or a time should be, or infinite.
func (s *scanner) cell(p *piece, k, row int, f []byte) bool {
	a := s.acts[k]
	switch a.kind {
	case dialect.Numeric, dialect.Unseen:
		v, st := number.Parse(f, s.Point)
		switch st {
		case number.Valued:
			p.nums[a.slot][row] = v
		case number.Missing:
			p.nums[a.slot][row] = hole
		default:
			if a.kind == dialect.Unseen {
				p.text[k] = true
				p.nums[a.slot][row] = hole
				return true
			}
			return false
		}
	case dialect.Stamp:
		v, st := s.Columns[k].Read(f, s.Point)
		if st == number.Missing {
			v = ingest.NoStamp
		} else if st != number.Valued {
			return false
		}
		p.times[a.slot][row] = v
	}
	return true
}

// refuse is the fault of a cell that cannot be read.
func (s *scanner) refuse(k int, f []byte) *fault.Error {
	c := &s.Columns[k]
	shown := charset.String(f[:min(len(f), 40)])
	if _, st := number.Parse(f, s.Point); st == number.Infinite {
		return fault.New(fault.Invalid, "%q is no finite number", shown).At("column %s", c.Heading).
			WithHint("to read the file without this column, map it to the role ignore; to read the cell as missing, empty it")
	}
	if c.Kind == dialect.Stamp {
		return fault.New(fault.Invalid, "%q is not the time it should be", shown).At("column %s", c.Heading).
			WithHint("above it the column holds times of one form; mend the cell, or empty it: rows without a time are left out")
	}
	return fault.New(fault.Invalid, "%q is no number", shown).At("column %s", c.Heading).
		WithHint("mend or empty the cell, or map the column to the role ignore")
}
