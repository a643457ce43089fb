package delimited

import (
	"bytes"
	"context"
	"errors"
	"io"
	"math"
	"sync"

	"example.org/bookend/fault"
	"example.org/bookend/ingest"
)

// Own bounds: a block is small enough to stay in a processor's cache beside its
// columns, and a line longer than a MiB is no row of a table.
const (
	blockBytes = 256 << 10
	maxLine    = 1 << 20
)

// hole stands in the columns of this room, and of no other, for a cell without
// a value: a not-a-number that no text is read as.
var hole = math.NaN()

// scanner reads blocks of whole lines into pieces. It is not changed by that, so
// that several may read at once.
type scanner struct {
	*dialect
	name  string
	acts  []act
	nums  int // columns of numbers
	times int // columns of stamps
}

// act is what is done with the cells of a column.
type act struct {
	kind kind
	slot int // which of the columns of numbers, or of stamps
}

func newScanner(d *dialect, name string) *scanner {
	s := &scanner{dialect: d, name: name}
	for i := range d.columns {
		a := act{kind: d.columns[i].kind}
		switch a.kind {
		case numeric, unseen:
			a.slot = s.nums
			s.nums++
		case stamp:
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
	skipped []int  // lines that are no row, in order
	texts   []bool // by column: an unseen one turned out to be text
	short   tally  // lines with fewer cells than there are columns
	long    tally  // lines with more, left out
	notes   tally  // lines of remarks, left out
	again   tally  // the heading once more, left out
	cut     bool   // the last line was left out, being cut
	cutLine int
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
	rows := bytes.Count(b, []byte{s.eol})
	p := &piece{nums: make([][]float64, s.nums), times: make([][]int64, s.times), texts: make([]bool, len(s.acts))}
	for k := range p.nums {
		p.nums[k] = make([]float64, rows)
	}
	for k := range p.times {
		p.times[k] = make([]int64, rows)
	}
	delim, point, eol := s.delim, s.point, s.eol
	acts := s.acts
	i, n := 0, len(b)
	for i < n {
		start := i
		// Lines that are no rows.
		switch c := b[i]; {
		case c == eol || c == '\r' && b[i+1] == eol:
			i += bytes.IndexByte(b[i:], eol) + 1
			p.skipped = append(p.skipped, p.lines)
			p.lines++
			continue
		case c == '#' || c == '%':
			i += bytes.IndexByte(b[i:], eol) + 1
			p.notes.add(p.lines)
			p.skipped = append(p.skipped, p.lines)
			p.lines++
			continue
		}
		row := p.rows
		k := 0
		for {
			if k == len(acts) {
				break
			}
			for delim == blank && (b[i] == ' ' || b[i] == '\t') {
				i++
			}
			a := acts[k]
			if a.kind == numeric {
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
				if (c == delim || c == eol) && digits > 0 && digits <= maxDigits && m <= 1<<53 {
					v := float64(m)
					if frac > 0 {
						v /= exact[frac]
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
				end := cellEnd(b[i:eolAt], 0, delim) + i
				if !(delim == blank && end == eolAt && len(tidy(b[i:end])) == 0) {
					if !s.cell(p, k, row, tidy(b[i:end])) {
						// The file may hold its own heading again where two were joined.
						whole := bytes.TrimRight(b[start:eolAt], "\r")
						if s.header > 0 && bytes.Equal(whole, s.raw) {
							p.again.add(p.lines)
							p.skipped = append(p.skipped, p.lines)
							i = eolAt + 1
							goto dropped
						}
						if last && eolAt == n-1 && open { // the text is a number's first half, "1e" or "-"
							p.cut, p.cutLine = true, p.lines
							p.skipped = append(p.skipped, p.lines)
							i = n
							goto dropped
						}
						p.err = s.refuse(k, tidy(b[i:end]))
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
			if delim != blank {
				rest = bytes.Trim(rest, string([]byte{delim, ' ', '\t', '\r'}))
			}
			i = eolAt + 1
			if len(rest) > 0 {
				p.long.add(p.lines)
				p.skipped = append(p.skipped, p.lines)
				goto dropped
			}
		}
	ended:
		if last && i == n && open && (k < s.least() || s.cutShort(b[start:n-1])) {
			p.cut, p.cutLine = true, p.lines
			p.skipped = append(p.skipped, p.lines)
			goto dropped
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
	for k := len(s.columns); k > 0; k-- {
		if s.columns[k-1].kind != unseen {
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
	if k < 0 || s.columns[k].kind != numeric || s.columns[k].places == 0 {
		return false
	}
	cells := split(bytes.TrimRight(line, "\r"), s.delim, nil)
	if k >= len(cells) {
		return true
	}
	f := cells[k]
	if j := bytes.IndexByte(f, s.point); j >= 0 {
		return len(f)-j-1 < s.columns[k].places
	}
	return true
}

// cell reads one cell, blanks and quotes taken off, into its column; false if
// it is text where a number or a time should be, or infinite.
func (s *scanner) cell(p *piece, k, row int, f []byte) bool {
	a := s.acts[k]
	switch a.kind {
	case numeric, unseen:
		v, st := number(f, s.point)
		switch st {
		case valued:
			p.nums[a.slot][row] = v
		case missing:
			p.nums[a.slot][row] = hole
		default:
			if a.kind == unseen {
				p.texts[k] = true
				p.nums[a.slot][row] = hole
				return true
			}
			return false
		}
	case stamp:
		v, st := s.columns[k].read(f, s.point)
		if st == missing {
			v = ingest.NoStamp
		} else if st != valued {
			return false
		}
		p.times[a.slot][row] = v
	}
	return true
}

// read reads a stamp.
func (c *column) read(f []byte, point byte) (int64, state) {
	if c.style == decimals {
		v, st := scaled(f, point, c.scale)
		if st == valued && c.factor != 1 {
			if v > math.MaxInt64/c.factor || v < -math.MaxInt64/c.factor {
				return 0, wordy
			}
			v *= c.factor
		}
		return v, st
	}
	var v int64
	ok := false
	switch c.style {
	case clocks:
		v, ok = clockText(f, c.short)
	case dates:
		var rest []byte
		v, rest, _, ok = date(f, c.order)
		ok = ok && len(rest) == 0
		v *= day
	case moments:
		var zoned bool
		v, zoned, _, ok = moment(f, c.order)
		ok = ok && zoned == c.zoned
	}
	if ok {
		return v, valued
	}
	if _, st := number(f, point); st == missing {
		return 0, missing
	}
	return 0, wordy
}

// refuse is the fault of a cell that cannot be read.
func (s *scanner) refuse(k int, f []byte) *fault.Error {
	c := &s.columns[k]
	shown := text(f[:min(len(f), 40)])
	if _, st := number(f, s.point); st == infinite {
		return fault.New(fault.Invalid, "%q is no finite number", shown).At("column %s", c.heading).
			WithHint("to read the file without this column, map it to the role ignore; to read the cell as missing, empty it")
	}
	if c.kind == stamp {
		return fault.New(fault.Invalid, "%q is not the time it should be", shown).At("column %s", c.heading).
			WithHint("above it the column holds times of one form; mend the cell, or empty it: rows without a time are left out")
	}
	return fault.New(fault.Invalid, "%q is no number", shown).At("column %s", c.heading).
		WithHint("mend or empty the cell, or map the column to the role ignore")
}

// blocks cuts what is read into whole lines.
type blocks struct {
	src   io.Reader
	eol   byte
	head  []byte // read already, not yet handed out
	carry []byte
	done  bool
	nuls  bool // a run of NUL bytes ended the file
	line  int  // lines handed out
	name  string
}

// next gives the next block, each line with its end; nil at the end of the file.
// open tells that the last line had no end and was given one. The block is made
// in buf, or in a new buffer if that is too small.
func (r *blocks) next(buf []byte) (b []byte, last, open bool, err error) {
	if r.done {
		return nil, true, false, nil
	}
	if cap(buf) < blockBytes+len(r.carry)+1 {
		buf = make([]byte, 0, blockBytes+len(r.carry)+1)
	}
	buf = append(buf[:0], r.carry...)
	for {
		if len(r.head) > 0 {
			n := min(len(r.head), blockBytes)
			buf = append(buf, r.head[:n]...)
			r.head = r.head[n:]
		} else {
			at := len(buf)
			if cap(buf)-at < blockBytes/2 {
				buf = append(make([]byte, 0, 2*cap(buf)), buf...)
			}
			n, e := io.ReadFull(r.src, buf[at:cap(buf)-1])
			buf = buf[:at+n]
			if errors.Is(e, io.EOF) || errors.Is(e, io.ErrUnexpectedEOF) {
				r.done = true
			} else if e != nil {
				if fault.CodeOf(e) == fault.Internal {
					e = fault.New(fault.Invalid, "reading stopped: %w", e).At("%s:%d", r.name, r.line+1)
				}
				return nil, false, false, e
			}
		}
		if r.done {
			if trimmed := bytes.TrimRight(buf, "\x00\x1a"); len(trimmed) < len(buf) {
				r.nuls = r.nuls || bytes.IndexByte(buf[len(trimmed):], 0) >= 0
				buf = trimmed
			}
			if len(buf) == 0 {
				return nil, true, false, nil
			}
			if buf[len(buf)-1] != r.eol {
				buf, open = append(buf, r.eol), true
			}
			if err := r.tooLong(buf); err != nil {
				return nil, false, false, err
			}
			return buf, true, open, nil
		}
		if i := bytes.LastIndexByte(buf, r.eol); i >= 0 {
			r.carry = append(r.carry[:0], buf[i+1:]...)
			buf = buf[:i+1]
			if err := r.tooLong(buf); err != nil {
				return nil, false, false, err
			}
			return buf, false, false, nil
		}
		if len(buf) > maxLine {
			return nil, false, false, r.tooLong(append(buf, r.eol))
		}
	}
}

// tooLong refuses a block that holds a line longer than the limit, and counts
// its lines.
func (r *blocks) tooLong(b []byte) error {
	if len(b) > maxLine {
		for line, rest := r.line, b; len(rest) > 0; line++ {
			n := bytes.IndexByte(rest, r.eol) + 1
			if n > maxLine {
				what := "it is no table of numbers, or its line ends were lost"
				if len(bytes.Trim(rest[:n-1], "\x00")) == 0 {
					what = "the line is all NUL bytes: the logger lost power, or the copy is damaged"
				}
				return fault.New(fault.Invalid, "the line is longer than %d MiB", maxLine>>20).At("%s:%d", r.name, line+1).
					WithHint("%s", what)
			}
			rest = rest[n:]
		}
	}
	r.line += bytes.Count(b, []byte{r.eol})
	return nil
}

// scan reads the whole source. With more than one worker, blocks are read at
// once and joined in order: the result does not depend on how many there are.
func (s *scanner) scan(ctx context.Context, r *blocks, workers int, take func(*piece) error) error {
	if workers <= 1 {
		var b []byte
		for {
			if err := ctx.Err(); err != nil {
				return err
			}
			var last, open bool
			var err error
			b, last, open, err = r.next(b)
			if err != nil || b == nil {
				return err
			}
			if err := take(s.block(b, last, open)); err != nil {
				return err
			}
		}
	}
	type job struct {
		b          []byte
		last, open bool
		out        chan *piece
	}
	stop := make(chan struct{})
	jobs := make(chan job, workers)
	order := make(chan chan *piece, 2*workers)
	spare := make(chan []byte, 4*workers) // buffers that have been read
	var failed error
	var wg sync.WaitGroup
	wg.Go(func() {
		defer close(order)
		defer close(jobs)
		for {
			var buf []byte
			select {
			case buf = <-spare:
			default:
			}
			b, last, open, err := r.next(buf)
			if err != nil {
				failed = err // read after order is closed
				return
			}
			if b == nil {
				return
			}
			j := job{b, last, open, make(chan *piece, 1)}
			select {
			case order <- j.out:
			case <-stop:
				return
			}
			select {
			case jobs <- j:
			case <-stop:
				return
			}
		}
	})
	for range workers {
		wg.Go(func() {
			for j := range jobs {
				j.out <- s.block(j.b, j.last, j.open)
				select {
				case spare <- j.b:
				default:
				}
			}
		})
	}
	defer wg.Wait()
	defer close(stop)
	for out := range order {
		if err := ctx.Err(); err != nil {
			return err
		}
		var p *piece
		select {
		case p = <-out:
		case <-ctx.Done():
			return ctx.Err()
		}
		if err := take(p); err != nil {
			return err
		}
	}
	return failed
}
