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
//
// # Rooms
//
// Each step is a room of its own: charset, dialect, scan, timebase, channel; number
// and stamp read single cells. This one joins them to the reader.
package delimited

import (
	"bytes"
	"context"
	"io"
	"runtime"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited/channel"
	"example.org/bookend/ingest/delimited/charset"
	"example.org/bookend/ingest/delimited/dialect"
	"example.org/bookend/ingest/delimited/scan"
	"example.org/bookend/ingest/delimited/stamp"
	"example.org/bookend/ingest/delimited/timebase"
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
	text, ok := charset.Head(head)
	if !ok || len(bytes.TrimSpace(text)) == 0 {
		return ingest.No
	}
	// Formats of lines that other readers know: sentences of NMEA 0183, XML,
	// JSON, and frames of a bus with their time in brackets.
	switch bytes.TrimSpace(text)[0] {
	case '$', '!', '<', '{', '(':
		return ingest.No
	}
	if sentences := bytes.Count(text, []byte("\n$")); sentences > 0 && sentences*2 >= bytes.Count(text, []byte("\n"))-8 {
		return ingest.No // NMEA 0183 below some remarks
	}
	d, err := dialect.Detect(text, len(head) < ingest.HeadBytes, name, nil)
	if err != nil {
		return ingest.No
	}
	for i := range d.Columns {
		c := &d.Columns[i]
		if c.Kind == dialect.Stamp && (d.Header > 0 || c.Style != stamp.Decimals) {
			return ingest.Yes
		}
	}
	return ingest.Perhaps
}

// Read reads src.
func (r Reader) Read(ctx context.Context, src io.Reader, opt ingest.Options) (*signal.Recording, error) {
	text, err := charset.Open(src, opt.Name)
	if err != nil {
		return nil, err
	}
	head := text.Head
	if text.Whole {
		head = bytes.TrimRight(head, "\x00\x1a")
	}
	d, err := dialect.Detect(head, text.Whole, opt.Name, opt.Mapping)
	if err != nil {
		return nil, err
	}
	workers := r.Workers
	if workers <= 0 {
		workers = min(4, runtime.GOMAXPROCS(0))
	}
	t, err := scan.Read(ctx, d, text, opt.Name, workers)
	if err != nil {
		return nil, err
	}
	if t.Rows == 0 {
		return nil, fault.New(fault.Invalid, "there are no rows of data in it").At("%s", opt.Name).WithHint("the recording may have been stopped before anything was measured: copy it from the logger again")
	}
	var list caveat.List
	t.Tell(&list)
	time, err := timebase.Choose(t, opt, &list)
	if err != nil {
		return nil, err
	}
	time.Order.Tell(&list, t.Rows, t.At)
	ingest.TellGaps(&list, time.Base.T, func(sample int) caveat.Place { return t.At(time.Order.Row(sample)) })
	channels, err := channel.Make(t, time, workers, &list)
	if err != nil {
		return nil, err
	}
	return &signal.Recording{Name: opt.Name, Reader: r.ID(), Anchor: time.Anchor, Channels: channels, Caveats: list}, nil
}
