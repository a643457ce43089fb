// Package html prints a report as one HTML page that needs nothing else: fonts,
// figures and style are inside, there is no script, and nothing is asked of a
// network.
//
// It draws the document and computes nothing. The figures are drawn anew for
// two widths, of which the page shows the one that fits. The page prints on A4
// and on Letter; its first page fits one sheet. What people typed (codes,
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
	"colClass":  func(t report.Text) string { return strings.ToLower(t.String()) },
}).Parse(pageText))

// longTitle is how many letters a title may have before it is set smaller: what
// fills three lines.
const longTitle = 130

// shortTable is how many rows a table may have to be kept on one sheet: own choice,
// about a third of one.
const shortTable = 14

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
	Begin []report.Section // results and conditions
	End   []report.Section // from the exclusions on
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
	v := view{Document: d, Style: template.CSS(fonts.CSS() + svg.CSS() + pageCSS + p.hues()), Begin: d.Sections, Short: short(d.SHA256)}
	for i, s := range d.Sections {
		if s.ID == "plan" || s.ID == "exclusions" {
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
