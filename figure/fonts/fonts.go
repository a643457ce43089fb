// Package fonts holds the letters of bookend's figures and report: Bookend
// Sans and Bookend Serif, which are subsets of Source Sans 3 and Source Serif 4
// under the SIL Open Font License 1.1 (see README.md and the OFL texts beside
// it; a subset may not bear the reserved name, hence ours).
//
// The TrueType files are what labels are measured with and what a PDF embeds;
// the WOFF2 files hold the same glyphs for pages. Both are unhinted, have 1000
// units to the em, lining tabular figures of one width, and kerning as their
// only feature, so that a text is as wide on the page as it was measured.
package fonts

import (
	"embed"
	"encoding/base64"
	"strings"
	"sync"
)

//go:embed *.ttf *.woff2 OFL-*.txt
var files embed.FS

// Face is one of the four faces.
type Face uint8

// The four faces.
const (
	Sans       Face = iota // Bookend Sans 400: ticks, labels, notes
	SansBold               // Bookend Sans 600: codes, estimates, verdicts
	SansItalic             // Bookend Sans 400 italic: what is not shown, asides
	Serif                  // Bookend Serif 600: findings
)

// Faces lists the four faces in order.
func Faces() []Face { return []Face{Sans, SansBold, SansItalic, Serif} }

type facts struct {
	file, family, style string
	weight              string
}

var table = [...]facts{
	Sans:       {"bookend-sans-400", "Bookend Sans", "normal", "400"},
	SansBold:   {"bookend-sans-600", "Bookend Sans", "normal", "600"},
	SansItalic: {"bookend-sans-400-italic", "Bookend Sans", "italic", "400"},
	Serif:      {"bookend-serif-600", "Bookend Serif", "normal", "600"},
}

// Name is the face's file name without its ending: "bookend-sans-600".
func (f Face) Name() string { return table[f].file }

// Family is the face's family name as CSS knows it: "Bookend Sans".
func (f Face) Family() string { return table[f].family }

// Weight is the face's weight as CSS knows it: "400" or "600".
func (f Face) Weight() string { return table[f].weight }

// Italic tells whether the face is the italic one.
func (f Face) Italic() bool { return table[f].style == "italic" }

// TrueType gives the bytes of the face's TrueType file.
func (f Face) TrueType() []byte { return read(f.Name() + ".ttf") }

// WOFF2 gives the bytes of the face's WOFF2 file.
func (f Face) WOFF2() []byte { return read(f.Name() + ".woff2") }

// Licences gives the text of the licences, which whoever hands the fonts on
// hands on too.
func Licences() string {
	return string(read("OFL-source-sans-3.txt")) + "\n" + string(read("OFL-source-serif-4.txt"))
}

// CSS gives the @font-face rules of the faces asked for (all four when none
// is), each font inside the text as a data: address, so that a page that holds
// the text needs no other file and no network.
func CSS(faces ...Face) string {
	if len(faces) == 0 {
		return all()
	}
	return css(faces)
}

var all = sync.OnceValue(func() string { return css(Faces()) })

func css(faces []Face) string {
	var b strings.Builder
	for _, f := range faces {
		t := table[f]
		b.WriteString(`@font-face{font-family:"` + t.family + `";font-style:` + t.style + `;font-weight:` + t.weight +
			`;src:url(data:font/woff2;base64,` + base64.StdEncoding.EncodeToString(f.WOFF2()) + `) format("woff2")}` + "\n")
	}
	return b.String()
}

func read(name string) []byte {
	b, err := files.ReadFile(name)
	if err != nil {
		panic("figure/fonts: " + err.Error()) // the files are embedded: only a wrong name gets here
	}
	return b
}
