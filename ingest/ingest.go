// Package ingest says what a reader of logger files is, opens a file with the
// reader that fits it, and keeps its raw bytes known by their SHA-256.
//
// A reader is one folder, one open format. It turns a file into a
// signal.Recording in SI units and ISO 8855 signs; whatever is odd about the
// file (duplicate, backward or missing time stamps, a truncated line, a unit
// that had to be guessed) becomes a caveat and is never silently repaired.
package ingest

import (
	"context"
	"io"
	"strconv"
	"time"

	"example.org/bookend/signal"
)

// Confidence is how sure a reader is that a file is its own.
type Confidence int

// No, perhaps and yes. Two readers that say Yes make the caller ask.
const (
	No Confidence = iota
	Perhaps
	Yes
)

// HeadBytes is how much of a file Sniff is shown, at most.
const HeadBytes = 64 << 10

// Reader reads one open format.
type Reader interface {
	// ID gives the reader's name and version, "delimited/1".
	ID() string

	// Title says what it reads, in words.
	Title() string

	// Sniff judges the first bytes of a file (at most HeadBytes) and its name.
	Sniff(head []byte, name string) Confidence

	// Read reads the whole of src, in one pass, and gives its channels. It
	// closes nothing. Faults name file, line, column or channel.
	Read(ctx context.Context, src io.Reader, opt Options) (*signal.Recording, error)
}

// Options is what a person may say about a file that the file does not say.
type Options struct {
	Name    string         // the file's name, for messages and for the recording
	Reader  string         // id of the reader to use, "delimited/1" or "delimited"; empty: the one that fits
	Zone    *time.Location // in which clock times without a zone are read; nil: UTC, with a caveat
	Date    time.Time      // day of clock times that state none; zero: unknown, the anchor's clock is then unknown
	Mapping *Mapping       // overrides guesses of roles and units
}

// Mapping overrides what a reader would guess about a file's columns. It is read
// from a small table with the columns column, role, unit, factor, offset.
type Mapping struct {
	Columns []MappedColumn
	Shared  bool // it is for several files: a column that one of them lacks is passed over
}

// MappedColumn says what one column is.
type MappedColumn struct {
	Column string      // name as in the header, or "#3" for the third, from 1
	Role   signal.Role // empty: keep the guess; Ignore: leave the column out; Time: it is the time
	Unit   string      // empty: keep the guess; of a date: its pattern, "dd/mm/yyyy"
	Factor float64     // applied before the unit; 0 counts as 1
	Offset float64     // added after the factor
}

// Roles that only a mapping has.
const (
	Ignore signal.Role = "ignore" // leave the column out
	Time   signal.Role = "time"   // the column is the time
)

// Find gives what the mapping says about the column of that name at that place,
// counted from 1; nil where it says nothing. A nil mapping says nothing.
func (m *Mapping) Find(name string, place int) *MappedColumn {
	if m == nil {
		return nil
	}
	for i := range m.Columns {
		c := &m.Columns[i]
		if c.Column == name || c.Column == "#"+strconv.Itoa(place) {
			return c
		}
	}
	return nil
}
