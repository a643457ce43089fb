package figure

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
	Plain  As = ""
	Code   As = "code"   // a code's letter: semibold, in its hue
	Mark   As = "mark"   // number of a caveat, raised
	Strong As = "strong" // semibold
	Em     As = "em"     // italic
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
func CodeOf(letter string) Span { return Span{letter, Code} }

// MarkOf gives the number of a caveat as a span, raised.
func MarkOf(number int) Span { return Span{strconv.Itoa(number), Mark} }

// StrongOf gives words as a semibold span.
func StrongOf(words string) Span { return Span{words, Strong} }

// EmOf gives words as an italic span.
func EmOf(words string) Span { return Span{words, Em} }

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
		if s.As != Mark {
			b.WriteString(s.Text)
		}
	}
	return b.String()
}

// note appends the number of a caveat, if there is one.
func (t Text) note(n int) Text {
	if n <= 0 {
		return t
	}
	return append(append(Text{}, t...), MarkOf(n))
}

func plain(s string) Text { return Say(s) }

// A number and its unit stay on one line.
var unitAfter = regexp.MustCompile(`(\d) (%|‰|°C|°/s|°|(?:m/s²|m/s|km/h|mph|mm|cm|km|ms|min|kPa|bar|psi|kg|kN|Nm|Hz|m|s|g|h|N|pt)(?:[^\pL\d]|$))`)

func keepUnits(t Text) Text {
	out := make(Text, len(t))
	for i, s := range t {
		out[i] = Span{unitAfter.ReplaceAllString(s.Text, "$1\u00a0$2"), s.As}
	}
	return out
}

// setting is how a text as a whole is set; its spans depart from it.
type setting struct {
	face   fonts.Face
	size   float64 // pt
	tone   Tone
	anchor Anchor
	halo   bool
	free   bool // set by rule beside its own mark: not tested against marks
	spare  bool // may be left out where it would touch something
}

// runs sets a text.
func (c Codes) runs(t Text, s setting) []Run {
	tone := s.tone
	if tone == None {
		tone = Ink
	}
	out := make([]Run, 0, len(t))
	for _, sp := range t {
		r := Run{Text: sp.Text, Face: s.face, Size: s.size, Tone: tone}
		switch sp.As {
		case Code:
			if s.face != fonts.Serif {
				r.Face = fonts.SansBold
			}
			r.Tone = c.Style(sp.Text).Tone
		case Mark:
			r.Face, r.Size = fonts.Sans, math.Max(s.size*.68, ptMark)
			r.Rise, r.Lead = s.size*.36, .5
		case Strong:
			if s.face != fonts.Serif {
				r.Face = fonts.SansBold
			}
		case Em:
			r.Face = fonts.SansItalic
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
		case out[n-1].As == w[0].As || out[n-1].As == Plain:
			out[n-1].Text += " "
		case w[0].As == Plain:
			w = append(Text{{" " + w[0].Text, Plain}}, w[1:]...)
		default:
			add(Span{Text: " "})
		}
		for _, s := range w {
			add(s)
		}
	}
	return out
}

func (c Codes) width(t Text, s setting) float64 { return runsWidth(c.runs(t, s)) }

// fill breaks a text greedily into lines of at most max points.
func (c Codes) fill(words []Text, s setting, max float64) [][]Text {
	var lines [][]Text
	var cur []Text
	for _, w := range words {
		next := append(append([]Text{}, cur...), w)
		if len(cur) > 0 && c.width(line(next), s) > max {
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

// wrapEven breaks a heading: two lines break after a semicolon, colon or comma
// where that keeps the halves near even; more lines are as even as they can be.
func (c Codes) wrapEven(t Text, s setting, max float64) []Text {
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
			a, b := c.width(p, s), c.width(q, s)
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
			ok = ok && c.width(line(l), s) <= m
		}
		if ok {
			hi = m
		} else {
			lo = m
		}
	}
	return joinLines(c.fill(words, s, hi))
}

// wrapText breaks running text: it fills the line, but leaves no stub of under
// a third on the last one.
func (c Codes) wrapText(t Text, s setting, max float64) []Text {
	words := t.words()
	if len(words) == 0 {
		return nil
	}
	l := c.fill(words, s, max)
	if n := len(l); n > 1 && c.width(line(l[n-1]), s) < max/3 {
		return c.wrapEven(t, s, max)
	}
	return joinLines(l)
}

// shorten cuts a plain text to max points: at its last " · " first, then by
// letters with an ellipsis.
func shorten(t string, face fonts.Face, size, max float64) string {
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
