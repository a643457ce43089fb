package draft

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"example.org/bookend/figure/fonts"
)

// As says how a span of text is set.
type As string

// The ways to set a span.
const (
	AsPlain  As = ""
	AsCode   As = "code"   // a code's letter: semibold, in its hue
	AsMark   As = "mark"   // number of a caveat, raised
	AsStrong As = "strong" // semibold
	AsEm     As = "em"     // italic and soft: what is not shown, asides
)

// Span is a piece of text set in one way.
type Span struct {
	Text string `json:"text"`
	As   As     `json:"as,omitempty"`
}

// Text is text with structure: codes in their hue, numbers of caveats,
// semibold and italic words.
type Text []Span

// CodeOf gives a code's letter as a span.
func CodeOf(letter string) Span { return Span{letter, AsCode} }

// MarkOf gives the number of a caveat as a span, raised.
func MarkOf(number int) Span { return Span{strconv.Itoa(number), AsMark} }

// StrongOf gives words as a semibold span.
func StrongOf(words string) Span { return Span{words, AsStrong} }

// EmOf gives words as an italic span.
func EmOf(words string) Span { return Span{words, AsEm} }

// Say makes a text of strings (plain), spans and texts:
// Say(CodeOf("R"), " stops 2.1 m shorter", MarkOf(1)). Anything else is a
// programmer's slip.
func Say(parts ...any) Text {
	var t Text
	for _, p := range parts {
		switch p := p.(type) {
		case string:
			if p != "" {
				t = append(t, Span{Text: p})
			}
		case Span:
			t = append(t, p)
		case Text:
			t = append(t, p...)
		default:
			panic(fmt.Sprintf("figure.Say: a %T is no text", p))
		}
	}
	return t
}

// String gives the words alone, without the numbers of caveats.
func (t Text) String() string {
	var b strings.Builder
	for _, s := range t {
		if s.As != AsMark {
			b.WriteString(s.Text)
		}
	}
	return b.String()
}

// Note appends the number of a caveat, if there is one.
func (t Text) Note(n int) Text {
	if n <= 0 {
		return t
	}
	return append(append(Text{}, t...), MarkOf(n))
}

// Plain gives words as a text.
func Plain(s string) Text { return Say(s) }

// A number and its unit stay on one line.
var unitAfter = regexp.MustCompile(`(\d) (%|‰|°C|°/s|°|(?:m/s²|m/s|km/h|mph|mm|cm|km|ms|min|kPa|bar|psi|kg|kN|Nm|Hz|m|s|g|h|N|pt)(?:[^\pL\d]|$))`)

// KeepUnits puts a no-break space between a number and its unit.
func KeepUnits(t Text) Text {
	out := make(Text, len(t))
	for i, s := range t {
		out[i] = Span{unitAfter.ReplaceAllString(s.Text, "$1\u00a0$2"), s.As}
	}
	return out
}

// Setting is how a text as a whole is set; its spans depart from it.
type Setting struct {
	Face   fonts.Face
	Size   float64 // pt
	Tone   Tone
	Anchor Anchor
	Halo   bool
	Free   bool // set by rule beside its own mark: not tested against marks
	Spare  bool // may be left out where it would touch something
}

// Runs sets a text.
func (c Codes) Runs(t Text, s Setting) []Run {
	tone := s.Tone
	if tone == None {
		tone = Ink
	}
	out := make([]Run, 0, len(t))
	for _, sp := range t {
		r := Run{Text: sp.Text, Face: s.Face, Size: s.Size, Tone: tone}
		switch sp.As {
		case AsCode:
			if s.Face != fonts.Serif {
				r.Face = fonts.SansBold
			}
			r.Tone = c.Style(sp.Text).Tone
		case AsMark:
			r.Face, r.Size = fonts.Sans, math.Max(s.Size*.68, PtMark)
			r.Rise, r.Lead = s.Size*.36, .5
		case AsStrong:
			if s.Face != fonts.Serif {
				r.Face = fonts.SansBold
			}
		case AsEm:
			r.Face, r.Tone = fonts.SansItalic, Soft
		}
		if r.Text != "" {
			out = append(out, r)
		}
	}
	return out
}

func runsWidth(rs []Run) float64 {
	w := 0.0
	for _, r := range rs {
		w += r.Lead + TextWidth(r.Text, r.Face, r.Size)
	}
	return w
}

// TextWidth gives the width of a text in points, in a face at a size in points.
func TextWidth(text string, face fonts.Face, size float64) float64 {
	return fonts.Width(text, face, size)
}

// words splits a text at its ordinary spaces; a word may hold several spans.
func (t Text) words() []Text {
	var out []Text
	var cur Text
	for _, s := range t {
		for i, part := range strings.Split(s.Text, " ") {
			if i > 0 && len(cur) > 0 {
				out, cur = append(out, cur), nil
			}
			if part != "" {
				cur = append(cur, Span{part, s.As})
			}
		}
	}
	if len(cur) > 0 {
		out = append(out, cur)
	}
	return out
}

// line joins words with spaces; neighbours set alike become one span.
func line(words []Text) Text {
	var out Text
	add := func(s Span) {
		if n := len(out); n > 0 && out[n-1].As == s.As {
			out[n-1].Text += s.Text
			return
		}
		out = append(out, s)
	}
	for i, w := range words {
		switch n := len(out); {
		case i == 0:
		case out[n-1].As == w[0].As || out[n-1].As == AsPlain:
			out[n-1].Text += " "
		case w[0].As == AsPlain:
			w = append(Text{{" " + w[0].Text, AsPlain}}, w[1:]...)
		default:
			add(Span{Text: " "})
		}
		for _, s := range w {
			add(s)
		}
	}
	return out
}

// Width gives the width of a text as it is set, in points.
func (c Codes) Width(t Text, s Setting) float64 { return runsWidth(c.Runs(t, s)) }

// fill breaks a text greedily into lines of at most max points.
func (c Codes) fill(words []Text, s Setting, max float64) [][]Text {
	var lines [][]Text
	var cur []Text
	for _, w := range words {
		next := append(append([]Text{}, cur...), w)
		if len(cur) > 0 && c.Width(line(next), s) > max {
			lines, cur = append(lines, cur), []Text{w}
			continue
		}
		cur = next
	}
	return append(lines, cur)
}

func joinLines(ls [][]Text) []Text {
	out := make([]Text, len(ls))
	for i, l := range ls {
		out[i] = line(l)
	}
	return out
}

var opening = map[string]bool{"and": true, "where": true, "but": true, "than": true}

// WrapEven breaks a heading: two lines break after a semicolon, colon or comma
// where that keeps the halves near even; more lines are as even as they can be.
func (c Codes) WrapEven(t Text, s Setting, max float64) []Text {
	words := t.words()
	if len(words) == 0 {
		return nil
	}
	first := c.fill(words, s, max)
	switch len(first) {
	case 1:
		return joinLines(first)
	case 2:
		best, cost := first, math.Inf(1)
		for i := 1; i < len(words); i++ {
			p, q := line(words[:i]), line(words[i:])
			a, b := c.Width(p, s), c.Width(q, s)
			if a > max || b > max {
				continue
			}
			k := math.Max(a, b) / (a + b)
			last := p.String()
			switch {
			case strings.HasSuffix(last, ";"), strings.HasSuffix(last, ":"):
				k -= .2
			case strings.HasSuffix(last, ","):
				k -= .12
			case opening[words[i].String()]:
				k -= .06
			}
			if k < cost {
				cost, best = k, [][]Text{words[:i], words[i:]}
			}
		}
		return joinLines(best)
	}
	lo, hi := max/3, max
	for range 24 {
		m := (lo + hi) / 2
		w := c.fill(words, s, m)
		ok := len(w) <= len(first)
		for _, l := range w {
			ok = ok && c.Width(line(l), s) <= m
		}
		if ok {
			hi = m
		} else {
			lo = m
		}
	}
	return joinLines(c.fill(words, s, hi))
}

// WrapText breaks running text: it fills the line, but leaves no stub of under
// a third on the last one.
func (c Codes) WrapText(t Text, s Setting, max float64) []Text {
	words := t.words()
	if len(words) == 0 {
		return nil
	}
	l := c.fill(words, s, max)
	if n := len(l); n > 1 && c.Width(line(l[n-1]), s) < max/3 {
		return c.WrapEven(t, s, max)
	}
	return joinLines(l)
}

// Shorten cuts a plain text to max points: at its last " · " first, then by
// letters with an ellipsis.
func Shorten(t string, face fonts.Face, size, max float64) string {
	for TextWidth(t, face, size) > max {
		i := strings.LastIndex(t, " · ")
		if i < 0 {
			break
		}
		t = t[:i]
	}
	if TextWidth(t, face, size) <= max {
		return t
	}
	r := []rune(t)
	for n := len(r) - 1; n > 0; n-- {
		s := strings.TrimRight(string(r[:n]), " ,·") + "…"
		if TextWidth(s, face, size) <= max {
			return s
		}
	}
	return "…"
}
