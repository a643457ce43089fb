package charset_test

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"testing"
	"unicode/utf16"

	"example.org/bookend/fault"
	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited/charset"
)

// wide writes a text as UTF-16. Reference: unicode/utf16 of the standard library.
func wide(s string, big, mark bool) []byte {
	if mark {
		s = "\ufeff" + s
	}
	var out []byte
	for _, u := range utf16.Encode([]rune(s)) {
		if big {
			out = append(out, byte(u>>8), byte(u))
		} else {
			out = append(out, byte(u), byte(u>>8))
		}
	}
	return out
}

// Whatever the character set, the text is the same; a long one has a head and a
// rest.
func TestTheTextIsTheSameInEveryCharacterSet(t *testing.T) {
	for _, text := range []string{"Zeit;Länge\n0;1\n", strings.Repeat("Zeit;Länge;m/s²;°\n0,5;1;2;3\n", 10_000)} {
		for name, b := range map[string][]byte{
			"UTF-8": []byte(text), "UTF-8 with a mark": []byte("\ufeff" + text),
			"UTF-16 LE": wide(text, false, true), "UTF-16 BE": wide(text, true, true),
			"UTF-16 LE without a mark": wide(text, false, false), "UTF-16 BE without a mark": wide(text, true, false),
		} {
			got, err := charset.Open(bytes.NewReader(b), "x")
			if err != nil {
				t.Errorf("%s: %v", name, err)
				continue
			}
			rest, err := io.ReadAll(got.Rest)
			if err != nil {
				t.Fatal(err)
			}
			if whole := string(got.Head) + string(rest); whole != text || got.Whole != (len(rest) == 0 && len(got.Head) < ingest.HeadBytes-3) {
				t.Errorf("%s: %d bytes of head and %d of rest, whole %v; want %d in all", name, len(got.Head), len(rest), got.Whole, len(text))
			}
			if head, ok := charset.Head(b[:min(len(b), ingest.HeadBytes)]); !ok || !strings.HasPrefix(text, string(head)) {
				t.Errorf("%s: the head is %.40q (%v)", name, head, ok)
			}
		}
	}
}

// Letters by their places in Windows-1252 (WHATWG Encoding Standard, index
// windows-1252, from memory).
func TestCells(t *testing.T) {
	for cell, want := range map[string]string{
		"Länge": "Länge", "L\xe4nge": "Länge", "m/s\xb2": "m/s²", "\xb0": "°", "\x80": "€", "\x93v\x94": "“v”", "\xb5m": "µm", "": "",
	} {
		if got := charset.String([]byte(cell)); got != want {
			t.Errorf("%q is read as %q, want %q", cell, got, want)
		}
	}
}

type broken struct{}

func (broken) Read([]byte) (int, error) { return 0, errors.New("the disk is gone") }

func TestWhatIsNoText(t *testing.T) {
	for _, c := range []struct {
		src  io.Reader
		code fault.Code
		says string
	}{
		{strings.NewReader(""), fault.Invalid, "x: the file is empty"},
		{strings.NewReader(" \r\n\t"), fault.Invalid, "x: the file is empty"},
		{strings.NewReader("\xff\xfe"), fault.Invalid, "x: the file is empty"},
		{strings.NewReader("a,b\x01\x02"), fault.Unsupported, "x: the file is binary"},
		{strings.NewReader("\xe0\xe1\xe2\xe3\xe4\xe5"), fault.Unsupported, "x: the file is binary"}, // letters without a digit between
		{broken{}, fault.Invalid, "x: reading stopped: the disk is gone"},
		{io.MultiReader(bytes.NewReader(wide("a,b\n", false, true)), broken{}), fault.Invalid, "x: reading stopped: the disk is gone"},
	} {
		_, err := charset.Open(c.src, "x")
		if fault.CodeOf(err) != c.code || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%v: %v, want %v: %s", fault.CodeOf(err), err, c.code, c.says)
		}
	}
	if _, ok := charset.Head([]byte("a,b\x00\x00\x00")); !ok {
		t.Error("NULs behind the text are what a logger leaves that lost power, and the text is refused")
	}
}
