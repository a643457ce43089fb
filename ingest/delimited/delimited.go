// Package delimited reads text logs: tables of numbers with a time column, in
// whatever dialect a logger or a spreadsheet writes them.
//
// Separators are commas, semicolons, tabs, strokes or blanks; the decimal sign
// is a point or a comma; character sets are UTF-8, UTF-16 and Windows-1252 with
// Latin-1; lines end in LF, CR LF or CR. Titles may stand above the row of
// names and a row of units below it; units may also stand in the names. What is
// quoted must not run over the line's end. None of this is stated in the file:
// it is told from its first 64 KiB, and is the reading under which most cells
// are numbers or times.
//
// # Time
//
// Time is seconds, ms, µs, ns, minutes, hours or days; a clock (hh:mm:ss.s,
// mm:ss.s, hh:mm); packed digits (hhmmss.ss); a date with a clock in one cell
// or two (ISO 8601, or with points or strokes); the same since 1970; or GPS week
// and time of week. It is read exactly, as whole nanoseconds. Of several time columns
// the receiver's own goes before the logger's and that before a computer's, unless
// its stamps repeat; the others stay channels, and a caveat says so. A clock
// that starts again at midnight, at the hour or at the week's end goes on. The
// base is in seconds from the first row's stamp where that is known as a date,
// else in seconds as the file has them, so that files with one clock stay
// aligned.
//
// A time base increases strictly. Rows without a stamp, with a repeated one and
// with one that falls back are left out, each kind with a caveat that counts
// them and names the first; see ingest.Increasing. No stamp is moved.
//
// # Cells
//
// An empty cell, a dash or a word for nothing (NaN, null, n/a) is a missing
// value: it lies outside the channel's valid spans, and a caveat counts it.
// Text in a column of numbers and infinity are invalid faults with file, line
// and column; a column that is mostly text is left out with a caveat. A line
// with too few cells lacks values at its end; one with too many is left out;
// a last line that was cut is left out: each with a caveat. A mapping may give
// any column another role or unit, or have it ignored.
//
// # Units, frame, signs
//
// Values are SI with temperatures in °C, converted once; signs follow ISO
// 8855:2011 where the name of a column says that its sign is opposite. A column
// whose unit is stated but not known is a fault if it has a role, else it is
// kept as it is, with a caveat. One that has a role and states no unit is taken
// to be in SI (positions and directions in degrees), with a caveat; where its
// values cannot be that, it loses its role.
package delimited

import (
	"bytes"
	"context"
	"errors"
	"io"
	"runtime"
	"unicode/utf8"

	"golang.org/x/text/encoding/unicode"

	"example.org/bookend/fault"
	"example.org/bookend/ingest"
	"example.org/bookend/signal"
)

// Reader reads text logs. Its zero value is ready to use.
type Reader struct {
	// Workers is how many processors parse at once; 0 is up to four, as the
	// machine has them. The result does not depend on it.
	Workers int
}

// New gives the reader.
func New() ingest.Reader { return Reader{} }

// ID gives "delimited/1".
func (Reader) ID() string { return "delimited/1" }

// Title says what is read.
func (Reader) Title() string { return "text with separators: CSV, semicolons, tabs, blanks" }

// Sniff says Yes to a table whose names or cells state time, Perhaps to another
// table of numbers, and No to everything else.
func (Reader) Sniff(head []byte, name string) ingest.Confidence {
	utf8, ok := decodeHead(head)
	if !ok || len(bytes.TrimSpace(utf8)) == 0 {
		return ingest.No
	}
	// Formats of lines that other readers know: sentences of NMEA 0183, XML,
	// JSON, and frames of a bus with their time in brackets.
	switch bytes.TrimSpace(utf8)[0] {
	case '$', '!', '<', '{', '(':
		return ingest.No
	}
	if sentences := bytes.Count(utf8, []byte("\n$")); sentences > 0 && sentences*2 >= bytes.Count(utf8, []byte("\n"))-8 {
		return ingest.No // NMEA 0183 below some remarks
	}
	d, err := detect(utf8, len(head) < ingest.HeadBytes, name, nil)
	if err != nil {
		return ingest.No
	}
	for i := range d.columns {
		c := &d.columns[i]
		if c.kind == stamp && (d.header > 0 || c.style != decimals) {
			return ingest.Yes
		}
	}
	return ingest.Perhaps
}

// marks of an encoding at the start of a file.
var (
	bomUTF8 = []byte("\xef\xbb\xbf")
	bomLE   = []byte("\xff\xfe")
	bomBE   = []byte("\xfe\xff")
)

// wide tells whether a head is UTF-16, and of which byte order: by its mark, or
// because every other one of its first bytes is NUL.
func wide(head []byte) (order unicode.Endianness, ok bool) {
	switch {
	case bytes.HasPrefix(head, bomLE):
		return unicode.LittleEndian, true
	case bytes.HasPrefix(head, bomBE):
		return unicode.BigEndian, true
	}
	var nul [2]int
	n := min(len(head), 256) &^ 1
	for i := range n {
		if head[i] == 0 {
			nul[i&1]++
		}
	}
	switch {
	case n >= 8 && nul[1]*10 >= n/2*8 && nul[0] == 0:
		return unicode.LittleEndian, true
	case n >= 8 && nul[0]*10 >= n/2*8 && nul[1] == 0:
		return unicode.BigEndian, true
	}
	return unicode.LittleEndian, false
}

// decodeHead gives the first bytes of a file as text; ok is false if they are
// no text.
func decodeHead(head []byte) (text []byte, ok bool) {
	if order, is := wide(head); is {
		out, err := unicode.UTF16(order, unicode.UseBOM).NewDecoder().Bytes(head[:len(head)&^1])
		return out, err == nil && plain(out)
	}
	head = bytes.TrimPrefix(head, bomUTF8)
	return head, plain(head)
}

// plain tells whether bytes are text: no control characters but tab, the line
// ends, form feed and the old end-of-file mark. NULs that follow the text are
// what a logger leaves that lost power.
func plain(b []byte) bool {
	b = bytes.TrimRight(b, "\x00")
	for _, c := range b {
		if c < 0x20 && c != '\t' && c != '\n' && c != '\r' && c != '\f' && c != 0x1a {
			return false
		}
	}
	if utf8.Valid(b) {
		return true
	}
	// Windows-1252: a table's letters are few beside its digits.
	high := 0
	for _, c := range b {
		if c >= 0x80 {
			high++
		}
	}
	return high*10 <= len(b)
}

// Read reads src.
func (r Reader) Read(ctx context.Context, src io.Reader, opt ingest.Options) (*signal.Recording, error) {
	head := make([]byte, ingest.HeadBytes)
	n, err := io.ReadFull(src, head)
	head = head[:n]
	ended := errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF)
	if err != nil && !ended {
		if fault.CodeOf(err) == fault.Internal {
			err = fault.New(fault.Invalid, "reading stopped: %w", err).At("%s", opt.Name)
		}
		return nil, err
	}
	if order, is := wide(head); is {
		src = unicode.UTF16(order, unicode.UseBOM).NewDecoder().Reader(io.MultiReader(bytes.NewReader(head), src))
		head = make([]byte, ingest.HeadBytes)
		n, err := io.ReadFull(src, head)
		head = head[:n]
		ended = errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF)
		if err != nil && !ended {
			return nil, fault.New(fault.Invalid, "the text is no UTF-16: %w", err).At("%s", opt.Name)
		}
	}
	head = bytes.TrimPrefix(head, bomUTF8)
	if len(bytes.TrimSpace(head)) == 0 && ended {
		return nil, fault.New(fault.Invalid, "the file is empty").At("%s", opt.Name).WithHint("copy it from the logger again")
	}
	if !plain(head) {
		return nil, fault.New(fault.Unsupported, "the file is binary, not text").At("%s", opt.Name).
			WithHint("export the recording as text")
	}
	known := head
	if ended {
		known = bytes.TrimRight(head, "\x00\x1a")
	}
	d, err := detect(known, ended, opt.Name, opt.Mapping)
	if err != nil {
		return nil, err
	}
	s := newScanner(d, opt.Name)
	in := &blocks{src: src, eol: d.eol, head: head, name: opt.Name}
	if err := in.pass(d.skip); err != nil {
		return nil, err
	}
	workers := r.Workers
	if workers <= 0 {
		workers = min(4, runtime.GOMAXPROCS(0))
	}
	t := &table{scanner: s, opt: opt, workers: workers, texts: make([]bool, len(s.acts))}
	if err := s.scan(ctx, in, workers, t.take); err != nil {
		return nil, err
	}
	t.nuls = in.nuls
	return t.recording()
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
