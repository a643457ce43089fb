package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"

	"example.org/bookend/compare"
	"example.org/bookend/compare/digits"
	"example.org/bookend/figure"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// As says how a span is set.
type As string

// The ways to set a span.
const (
	Plain  As = ""
	Code   As = "code"   // a code's letter, in its hue
	Mark   As = "mark"   // the number of a note
	Strong As = "strong" // semibold
	Em     As = "em"     // italic: what is not shown, asides
	Gone   As = "gone"   // struck through: a run that is left out
	Broken As = "broken" // a broken limit: the one thing that is red
	Sum    As = "sum"    // a hash
)

// Span is a piece of text set in one way, perhaps leading to another place of
// the document.
type Span struct {
	Text string `json:"text"`
	As   As     `json:"as,omitempty"`
	To   string `json:"to,omitempty"` // id within the document
}

// Text is a line or a paragraph.
type Text []Span

// say makes a text of strings, spans and texts.
func say(parts ...any) Text {
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
			panic(fmt.Sprintf("report: a %T is no text", p))
		}
	}
	return t
}

func code(letter string) Span  { return Span{Text: letter, As: Code} }
func strong(words string) Span { return Span{Text: words, As: Strong} }
func em(words string) Span     { return Span{Text: words, As: Em} }
func link(words, to string) Span {
	return Span{Text: words, To: to}
}

// String gives the words alone, without the numbers of notes.
func (t Text) String() string {
	var b strings.Builder
	for _, s := range t {
		if s.As != Mark {
			b.WriteString(s.Text)
		}
	}
	return b.String()
}

// drawn gives the text as a figure sets it.
func (t Text) drawn() figure.Text {
	var out figure.Text
	for _, s := range t {
		switch s.As {
		case Code:
			out = append(out, figure.CodeOf(s.Text))
		case Mark:
			n, err := strconv.Atoi(s.Text)
			if err == nil {
				out = append(out, figure.MarkOf(n))
			}
		case Strong:
			out = append(out, figure.StrongOf(s.Text))
		case Em:
			out = append(out, figure.EmOf(s.Text))
		default:
			out = append(out, figure.Span{Text: s.Text})
		}
	}
	return out
}

// list joins texts: "a", "a and b", "a, b and c".
func list(items []Text) Text {
	var out Text
	for i, t := range items {
		switch {
		case i == 0:
		case i == len(items)-1:
			out = append(out, Span{Text: " and "})
		default:
			out = append(out, Span{Text: ", "})
		}
		out = append(out, t...)
	}
	return out
}

func codes(letters []string) Text {
	items := make([]Text, len(letters))
	for i, l := range letters {
		items[i] = say(code(l))
	}
	return list(items)
}

// count writes a number with its noun: "1 run", "3 runs".
func count(n int, noun string) string {
	if n == 1 {
		return "1" + unit.NoBreak + noun
	}
	return strconv.Itoa(n) + unit.NoBreak + noun + "s"
}

// words writes whole numbers up to twelve as words.
func words(n int) string {
	w := [...]string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}
	if n >= 0 && n < len(w) {
		return w[n]
	}
	return strconv.Itoa(n)
}

func upper(s string) string {
	for i, r := range s {
		return strings.ToUpper(string(r)) + s[i+len(string(r)):]
	}
	return s
}

// lower begins a title in lower case, as it stands within a sentence; what is
// written in capitals (MFDD) stays.
func lower(s string) string {
	r := []rune(s)
	if len(r) == 0 || len(r) > 1 && (unicode.IsUpper(r[1]) || unicode.IsDigit(r[1])) {
		return s
	}
	r[0] = unicode.ToLower(r[0])
	return string(r)
}

// scale is how the numbers of one measure are printed.
type scale struct {
	style  unit.Style
	unit   unit.Unit // people see it
	none   bool      // the measure has no unit
	digits int
	index  int // decimals of an index
	ratio  bool
	lower  bool // smaller values are better
}

// scaleOf gives how a measure's numbers are printed. A unit that is not known is
// printed by none: values stand as they were typed.
func scaleOf(m programme.Measure, ratio bool, style unit.Style) scale {
	s := scale{style: style, digits: m.Digits, index: indexDigits, ratio: ratio, lower: m.Better == programme.Lower}
	symbol := m.Shown
	if symbol == "" {
		symbol = m.Unit
	}
	u, err := unit.Parse(symbol)
	if symbol == "" || err != nil || u.Symbol() == "" {
		s.none = true
		return s
	}
	s.unit, s.digits = style.Of(u), style.Digits(u, s.digits)
	return s
}

// telling gives the scale the decimals with which what is claimed is seen.
func (s scale) telling(rows []compare.Row) scale {
	if s.ratio {
		s.index = digits.Rows(rows, true, indexDigits, nil)
	} else {
		s.digits = digits.Rows(rows, false, s.digits, s.by)
	}
	return s
}

// symbol gives ", m" for a head, or nothing.
func (s scale) symbol() string {
	if s.none {
		return ""
	}
	return s.unit.Symbol()
}

// in gives a value in the unit that people see.
func (s scale) in(x float64) float64 {
	if s.none {
		return x
	}
	return s.unit.FromHouse(x)
}

// by gives a difference in the unit that people see.
func (s scale) by(d float64) float64 {
	if s.none {
		return d
	}
	return s.unit.DifferenceFromHouse(d)
}

func (s scale) number(x float64) string { return unit.Number(s.in(x), s.digits, s.style) }

func (s scale) value(x float64) string {
	if s.none {
		return s.number(x)
	}
	return s.unit.Label(s.number(x), s.style)
}

// length writes a difference without its sign: "1.59 m".
func (s scale) length(d float64) string {
	n := unit.Number(math.Abs(s.by(d)), s.digits, s.style)
	if s.none {
		return n
	}
	return s.unit.Label(n, s.style)
}

func (s scale) signed(d float64) string { return unit.Signed(s.by(d), s.digits, s.style) }

// indexDigits is how many decimals an index has, whatever the measure's own.
const indexDigits = unit.IndexDigits

// estimate writes an index or a difference without its unit.
func (s scale) estimate(x float64) string {
	if s.ratio {
		return unit.Number(x, s.index, s.style)
	}
	return s.signed(x)
}

// estimateIn writes an index, or a difference with its unit.
func (s scale) estimateIn(x float64) string {
	if s.ratio || s.none {
		return s.estimate(x)
	}
	return s.unit.Label(s.estimate(x), s.style)
}

// interval writes an interval of indices or differences; one end may be absent.
func (s scale) interval(low, high *float64) string {
	switch {
	case low != nil && high != nil && s.ratio:
		return unit.Interval(*low, *high, s.index, s.style)
	case low != nil && high != nil:
		return unit.SignedInterval(s.by(*low), s.by(*high), s.digits, s.style)
	case low != nil:
		return "from " + s.estimate(*low)
	case high != nil:
		return "up to " + s.estimate(*high)
	}
	return ""
}

// axis gives an index or a difference as it is drawn.
func (s scale) axis(x *float64) *float64 {
	if x == nil {
		return nil
	}
	v := *x
	if !s.ratio {
		v = s.by(v)
	}
	return &v
}

// drawn gives a value as it is drawn.
func (s scale) drawn(x *float64) *float64 {
	if x == nil {
		return nil
	}
	v := s.in(*x)
	return &v
}

// what names the numbers: "index", or "difference, m".
func (s scale) what() string {
	switch {
	case s.ratio:
		return "index"
	case s.none:
		return "difference"
	}
	return "difference, " + s.unit.Symbol()
}

func plain(x float64, digits int, style unit.Style) string { return unit.Number(x, digits, style) }

// significant writes x with that many significant digits, whole numbers in
// full.
func significant(x float64, figures int, style unit.Style) string {
	if math.Abs(x) < 1e-12 { // what rounding leaves of 0; no more decimals are printed
		return "0"
	}
	d := figures - 1 - int(math.Floor(math.Log10(math.Abs(x))))
	return unit.Number(x, min(max(d, 0), 12), style)
}

// probability writes a p-value.
func probability(p float64, style unit.Style) string {
	if p < 0.0001 {
		return "< " + unit.Number(0.0001, 4, style)
	}
	return unit.Number(p, 4, style)
}
