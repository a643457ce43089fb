// Package charset tells in which character set a text log is written, and turns
// it into one in which separators, digits and line ends are single bytes.
//
// UTF-8, with a byte-order mark or without, is left as it is; so is what is no
// UTF-8 but still text, and String takes such a cell for Windows-1252, of which
// the letters of Latin-1 are a part. UTF-16 is told by its mark, or by every other
// one of its first bytes being NUL, and becomes UTF-8. Nothing in a file states its
// character set; other sets of one byte a letter (Windows-1251, Mac Roman) are taken
// for Windows-1252, which changes names and no number. Sources: The Unicode
// Standard for marks and UTF-16; x/text for the tables.
package charset

import (
	"bytes"
	"errors"
	"io"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"example.org/bookend/fault"
	"example.org/bookend/ingest"
)

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

// Head gives the first bytes of a file as text; ok is false if they are no
// text.
func Head(head []byte) (text []byte, ok bool) {
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

// Text is a file's text.
type Text struct {
	Head  []byte    // its first bytes, at most ingest.HeadBytes, without a mark
	Rest  io.Reader // what follows them
	Whole bool      // nothing does
}

// Open begins to read src as text. An empty file is an invalid fault, one that
// is no text an unsupported one; name is their place.
func Open(src io.Reader, name string) (Text, error) {
	t, err := begin(src, name)
	if err != nil {
		return Text{}, err
	}
	if order, is := wide(t.Head); is {
		src = unicode.UTF16(order, unicode.UseBOM).NewDecoder().Reader(io.MultiReader(bytes.NewReader(t.Head), src))
		if t, err = begin(src, name); err != nil {
			return Text{}, err
		}
	}
	t.Head = bytes.TrimPrefix(t.Head, bomUTF8)
	if t.Whole && len(bytes.TrimSpace(t.Head)) == 0 {
		return Text{}, fault.New(fault.Invalid, "the file is empty").At("%s", name).WithHint("copy it from the logger again")
	}
	if !plain(t.Head) {
		return Text{}, fault.New(fault.Unsupported, "the file is binary, not text").At("%s", name).
			WithHint("export the recording as text")
	}
	return t, nil
}

// begin reads the first bytes of a source.
func begin(src io.Reader, name string) (Text, error) {
	t := Text{Head: make([]byte, ingest.HeadBytes), Rest: src}
	n, err := io.ReadFull(src, t.Head)
	t.Head = t.Head[:n]
	switch {
	case err == nil:
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		t.Whole = true
	case fault.CodeOf(err) == fault.Internal: // a plain error
		return Text{}, fault.New(fault.Invalid, "reading stopped: %w", err).At("%s", name)
	default:
		return Text{}, err
	}
	return t, nil
}

// String gives a cell as UTF-8; what is not UTF-8 is taken for Windows-1252, of
// which Latin-1's letters are a part.
func String(f []byte) string {
	if utf8.Valid(f) {
		return string(f)
	}
	s, err := charmap.Windows1252.NewDecoder().Bytes(f)
	if err != nil {
		return string(bytes.ToValidUTF8(f, []byte("?")))
	}
	return string(s)
}
