// Package html prints a report as one HTML page that needs nothing else: fonts,
// figures and style are inside, there is no script, and nothing is asked of a
// network.
//
// It draws the document and computes nothing. The figures are drawn anew for
// two widths, of which the page shows the one that fits. The page prints on A4
// and on Letter; its first page fits one sheet, and the appendix is set small in two
// columns, its figures half as wide. What people typed (codes,
// titles, remarks) is escaped by html/template wherever it stands.
//
// Colour is never alone: a code has its letter and its marker; red is a broken
// limit and nothing else. Tables have captions and scopes, figures are images
// with a name and a description (WCAG 2.2).
package html

import (
	"bytes"
	_ "embed"
	"html/template"
	"io"
	"strconv"
	"strings"

	"example.org/bookend/fault"
	"example.org/bookend/figure"
	"example.org/bookend/figure/fonts"
	"example.org/bookend/figure/svg"
	"example.org/bookend/report"
)

//go:embed page.html.tmpl
var pageText string

//go:embed page.css
var pageCSS string

var page = template.Must(template.New("page").Funcs(template.FuncMap{
	"codeClass": func(string) string { return "" },
	"marker":    func(string) template.HTML { return "" },
	"strip":     func(*figure.VerdictStrip) (template.HTML, error) { return "", nil },
	"figure":    func(*report.Drawn) (pictures, error) { return pictures{}, nil },
	"word":      word,
	"isCode":    func(t report.Text) bool { return len(t) > 0 && t[0].As == report.Code },
	"codeOf":    func(t report.Text) string { return t[0].Text },
	"long":      func(t report.Text) bool { return len([]rune(t.String())) > longTitle },
	"short":     func(rows []report.Row) bool { return len(rows) <= shortTable },
	"narrow":    func(t report.Table) bool { return narrow(&t) },
	"leadsWide": leadsWide,
	"crowded":   crowded,
	"colClass":  func(t report.Text) string { return strings.ToLower(t.String()) },
}).Parse(pageText))

// longTitle is how many letters a title may have before it is set smaller: what
// fills three lines.
const longTitle = 130

// shortTable is how many rows a table may have to be kept on one sheet: own choice,
// about a third of one.
const shortTable = 14

// column is how wide a column of the appendix is, in letters of its tables: 82 mm in
// letters of 6.8 pt, which are 1.2 mm wide on average.
const column = 68

// narrow tells whether a table fits a column of the appendix in print. Cells of numbers
// keep their line, words wrap; between columns there are 1.6 mm.
func narrow(t *report.Table) bool {
	width := make([]float64, len(t.Columns))
	longest := func(s string) int {
		n := 0
		for _, w := range strings.FieldsFunc(s, func(r rune) bool { return r == ' ' || r == '-' }) { // no-break blanks hold together
			n = max(n, len([]rune(w)))
		}
		return n
	}
	for i, c := range t.Columns {
		width[i] = float64(longest(c.Head.String()))
	}
	taken := make([]int, len(t.Columns))
	for _, r := range t.Rows {
		at := 0
		for _, c := range r.Cells {
			for at < len(taken) && taken[at] > 0 {
				at++
			}
			if at >= len(width) {
				break
			}
			text := c.Text.String()
			n := max(longest(text), min(len([]rune(text)), 16))
			if len(c.Text) == 1 && c.Text[0].As == report.Sum { // a hash breaks in two
				n = (len(text) + 1) / 2
			}
			if t.Columns[at].Numbers {
				n = len([]rune(text))
			}
			width[at] = max(width[at], float64(n))
			if c.Rows > 1 {
				taken[at] = c.Rows
			}
			at++
		}
		for k := range taken {
			taken[k] = max(0, taken[k]-1)
		}
	}
	sum := 0.0
	for _, w := range width {
		sum += w + 1.6/1.2
	}
	return sum <= column
}

// crowded tells whether the first page holds so much that its sheet has no room for the
// strips: more than five measures below an answer that is spelt out. Own choice.
func crowded(v view) bool {
	rows := 0
	for _, m := range v.Matrix {
		rows += len(m.Rows)
	}
	return rows > 5 && len(v.Answer) > 2
}

// leadsWide tells whether a section begins with a table as wide as the sheet, over which
// its title stands as wide.
func leadsWide(s report.Section) bool {
	return len(s.Blocks) > 0 && s.Blocks[0].Table != nil && !narrow(s.Blocks[0].Table)
}

// pictures is one figure drawn for two widths.
type pictures struct {
	ID         string
	Full, Half template.HTML
	Doubts     []string // what was left out of the drawing
}

// view is what the template sees.
type view struct {
	*report.Document
	Style template.CSS
	Begin []report.Section // what a client reads
	End   []report.Section // the appendix
	Short string           // of the content hash
}

// Write writes the document as a page. The same document gives the same bytes.
func Write(w io.Writer, d *report.Document) error {
	p := printer{d: d, stripWidth: stripWidth(d)}
	t, err := page.Clone()
	if err != nil {
		return fault.New(fault.Internal, "writing the page: %w", err)
	}
	t.Funcs(template.FuncMap{"codeClass": p.codeClass, "marker": p.marker, "strip": p.strip, "figure": p.figure})
	sum, err := d.SHA256()
	if err != nil {
		return err
	}
	v := view{Document: d, Style: template.CSS(fonts.CSS() + svg.CSS() + pageCSS + p.hues()), Begin: d.Sections, Short: short(sum)}
	for i, s := range d.Sections {
		if s.Behind {
			v.Begin, v.End = d.Sections[:i], d.Sections[i:]
			break
		}
	}
	var b bytes.Buffer
	if err := t.Execute(&b, v); err != nil {
		return fault.New(fault.Internal, "writing the page: %w", err)
	}
	_, err = w.Write(b.Bytes())
	return err
}

// short gives the first sixteen digits of a hash in groups of four.
func short(sum string) string {
	var parts []string
	for i := 0; i+4 <= len(sum) && i < 16; i += 4 {
		parts = append(parts, sum[i:i+4])
	}
	return strings.Join(parts, " ")
}

// printer prints the parts that depend on the document's codes.
type printer struct {
	d          *report.Document
	stripWidth figure.Width
}

// stripWidth gives the width of the strips in the matrix in points: that of a
// column, less its padding. The text is 170 mm wide, of which the names of tests
// and measures take 54 mm or 38 mm (page.css).
func stripWidth(d *report.Document) figure.Width {
	columns, names := 1, 38.
	for _, m := range d.Matrix {
		n := 0
		for _, c := range m.Columns {
			if len(c.Head) > 0 && c.Head[0].As == report.Code {
				n++
			}
		}
		if len(m.Columns)-n > 1 {
			names = 54
		}
		columns = max(columns, n)
	}
	mm := min((170-names)/float64(columns)-2.6, 42)
	return figure.Width(mm / 25.4 * 72)
}

func (p printer) place(code string) int {
	n := p.d.Codes.Order(code)
	if n > len(p.d.Codes.Candidates) {
		return 7
	}
	return min(n, 7)
}

func (p printer) codeClass(code string) string { return "k" + strconv.Itoa(p.place(code)) }

// hues gives the codes' colours, those of the figures.
func (p printer) hues() string {
	var b strings.Builder
	for i := range 8 {
		b.WriteString(".k" + strconv.Itoa(i) + "{color:" + figure.Style(i).Tone.Hex() + "}\n")
	}
	return b.String()
}

func (p printer) marker(code string) template.HTML {
	n := p.d.Codes.Order(code)
	if n > len(p.d.Codes.Candidates) {
		return ""
	}
	return template.HTML(svg.Marker(figure.Style(n).Shape, 8))
}

func (p printer) strip(f *figure.VerdictStrip) (template.HTML, error) {
	d, err := f.Draw(p.stripWidth)
	if err != nil {
		return "", err
	}
	return template.HTML(svg.String(d, svg.Options{Decorative: true})), nil
}

func (p printer) figure(f *report.Drawn) (pictures, error) {
	out := pictures{ID: f.ID}
	for _, w := range []figure.Width{figure.Full, figure.Half} {
		d, err := f.Figure.Draw(w)
		if err != nil {
			return out, err
		}
		id := f.ID
		if w == figure.Half {
			id += "-half"
		}
		text := template.HTML(svg.String(d, svg.Options{ID: id}))
		if w == figure.Half {
			out.Half = text
			continue
		}
		out.Full = text
		for _, c := range d.Caveats {
			out.Doubts = append(out.Doubts, c.Text)
		}
	}
	return out, nil
}

// word gives a verdict's word.
func word(v figure.Verdict) string {
	w, _ := v.Words()
	return w
}
