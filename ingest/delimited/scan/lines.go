package scan

import (
	"bytes"
	"errors"
	"io"

	"example.org/bookend/fault"
)

// Own bounds: a block is small enough to stay in a processor's cache beside its
// columns, and a line longer than a MiB is no row of a table.
const (
	blockBytes = 256 << 10
	maxLine    = 1 << 20
)

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

// pass leaves the first lines out; they lie in the head.
func (r *blocks) pass(lines int) error {
	for range lines {
		i := bytes.IndexByte(r.head, r.eol)
		if i < 0 {
			return fault.New(fault.Internal, "the head has fewer lines than were found in it").At("%s", r.name)
		}
		r.head = r.head[i+1:]
		r.line++
	}
	return nil
}
