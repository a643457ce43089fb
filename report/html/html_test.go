package html_test

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"regexp"
	"strings"
	"testing"

	"example.org/bookend/compare"
	"example.org/bookend/figure"
	"example.org/bookend/figure/draft"
	"example.org/bookend/programme"
	"example.org/bookend/report"
	"example.org/bookend/report/html"
)

const hostile = `</title></style><script>alert("x")</script><img src=x onerror=alert(1)> & "quotes' {{.}} http://example.invalid/`

// day is a day of stops; each text that people type may be made hostile.
func day(t testing.TB, typed string) *report.Document {
	t.Helper()
	var l programme.Log
	for i, code := range []string{"K", "P", "R", "K", "R", "P", "K", "P", "R", "K"} {
		id := string(rune('1'+i)) + typed
		l.Stints = append(l.Stints, programme.Stint{ID: id, Code: code + typed, Set: code + "1" + typed, Position: float64(i + 1)})
		for k := range 3 {
			run := id + "/" + string(rune('1'+k))
			v := 33 + 0.1*float64(i) + 0.1*float64((i*3+k*5)%4)
			if code == "P" {
				v -= 1.4
			}
			l.Runs = append(l.Runs, programme.Run{ID: run, Stint: id, Number: k + 1, Remark: typed, Covariates: map[string]float64{"water_depth_m": 0.001, "odd" + typed: 3}})
			l.Observations = append(l.Observations, programme.Observation{Run: run, Measure: "distance" + typed, Value: v})
		}
	}
	l.Exclusions = []programme.Exclusion{{Run: l.Runs[4].ID, Reason: "a pool " + typed, Person: typed}}
	m := programme.Measure{ID: "distance" + typed, Title: "distance" + typed, Unit: "m", Better: programme.Lower, Scale: programme.Ratio, Digits: 2, About: typed}
	b, err := compare.CompareBoth(compare.Input{Log: l, Measure: m, Control: "K" + typed, Settings: compare.Settings{Margin: &compare.Margin{Value: 1}}})
	if err != nil {
		t.Fatal(err)
	}
	d, err := report.Build(report.Input{Title: typed, Client: "Tarn Valley Ambulance" + typed, Ground: typed, Vehicle: typed, Question: typed, Blind: typed,
		Tests: []report.Test{{Title: typed, Surface: typed, Log: l, Measures: []report.Measured{{Both: b}}}}, Inputs: []report.Hash{{Name: "stops.csv" + typed, SHA256: "00"}}})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func page(t testing.TB, d *report.Document) string {
	t.Helper()
	var b bytes.Buffer
	if err := html.Write(&b, d); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// element is a start tag with what stands in it.
type element struct {
	name string
	attr map[string]string
	text string
}

// parse reads a page's elements; it must be well formed.
func parse(t testing.TB, page string) []element {
	t.Helper()
	style := regexp.MustCompile(`(?s)<style>.*?</style>`)
	if n := strings.Count(page, "<style"); n != 1 {
		t.Errorf("%d style elements", n)
	}
	d := xml.NewDecoder(strings.NewReader(style.ReplaceAllString(strings.TrimPrefix(page, "<!doctype html>"), "")))
	d.Strict, d.AutoClose, d.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	d.AutoClose = append(d.AutoClose[:len(d.AutoClose):len(d.AutoClose)], "col")
	var all []*element
	var open []*element
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		switch tok := tok.(type) {
		case xml.StartElement:
			e := &element{name: tok.Name.Local, attr: map[string]string{}}
			for _, a := range tok.Attr {
				e.attr[a.Name.Local] = a.Value
			}
			all, open = append(all, e), append(open, e)
		case xml.EndElement:
			if len(open) == 0 || open[len(open)-1].name != tok.Name.Local {
				t.Fatalf("</%s> closes nothing", tok.Name.Local)
			}
			open = open[:len(open)-1]
		case xml.CharData:
			for _, e := range open {
				e.text += string(tok)
			}
		}
	}
	if len(open) != 0 {
		t.Errorf("%d elements are never closed", len(open))
	}
	out := make([]element, len(all))
	for i, e := range all {
		out[i] = *e
	}
	return out
}

// The page needs nothing but itself: no script, no address but fonts within, and
// links within the page that lead somewhere, each id once.
func TestThePageStandsAlone(t *testing.T) {
	p := page(t, day(t, ""))
	for _, a := range regexp.MustCompile(`(?i)(url\([^)]{0,20}|https?:[^"<\s]*|@import|<script|<link|<iframe)`).FindAllString(p, -1) {
		if !strings.HasPrefix(a, "url(data:font/woff2;") {
			t.Errorf("the page asks for %q", a)
		}
	}
	have := map[string]bool{}
	es := parse(t, p)
	for _, e := range es {
		if id := e.attr["id"]; id != "" {
			if have[id] {
				t.Errorf("the id %q stands twice", id)
			}
			have[id] = true
		}
		for a := range e.attr {
			if strings.HasPrefix(a, "on") || a == "src" || a == "style" {
				t.Errorf("<%s %s> is not wanted", e.name, a)
			}
		}
	}
	links := 0
	for _, e := range es {
		for _, a := range []string{"href", "aria-labelledby"} {
			for _, to := range strings.Fields(e.attr[a]) {
				links++
				if !have[strings.TrimPrefix(to, "#")] || a == "href" && !strings.HasPrefix(to, "#") {
					t.Errorf("%s leads to %q, which is nowhere", a, to)
				}
			}
		}
	}
	if links < 50 {
		t.Errorf("only %d links", links)
	}
}

// Whatever people type stands on the page as text.
func TestWhatPeopleTypeStaysText(t *testing.T) {
	p := page(t, day(t, hostile))
	if strings.Contains(p, "<script") || strings.Contains(p, "<img") {
		t.Error("typed text has become an element")
	}
	for _, e := range parse(t, p) {
		for a := range e.attr {
			if strings.HasPrefix(a, "on") {
				t.Errorf("typed text has become the attribute %s of <%s>", a, e.name)
			}
		}
	}
	if n := strings.Count(p, "&lt;script&gt;"); n < 20 {
		t.Errorf("the typed text stands %d times on the page", n)
	}
}

func TestTheSameDocumentGivesTheSameBytes(t *testing.T) {
	want := page(t, day(t, ""))
	for range 5 {
		if page(t, day(t, "")) != want {
			t.Fatal("another page")
		}
	}
}

// WCAG 2.2: tables have captions and heads with a scope (1.3.1), pictures a name
// (1.1.1), the page a language and a title (3.1.1, 2.4.2), headings do not skip
// a level (technique G141).
func TestThePageCanBeHeard(t *testing.T) {
	p := page(t, day(t, ""))
	tables, captions, level := 0, 0, 0
	for _, e := range parse(t, p) {
		switch e.name {
		case "table":
			tables++
		case "caption":
			captions++
			if strings.TrimSpace(e.text) == "" {
				t.Error("a caption is empty")
			}
		case "th":
			if e.attr["scope"] == "" || strings.TrimSpace(e.text) == "" {
				t.Errorf("a head without scope or words: %+v", e)
			}
		case "svg":
			if e.attr["role"] == "img" && e.attr["aria-labelledby"] == "" || e.attr["role"] == "" && e.attr["aria-hidden"] != "true" {
				t.Errorf("a picture without a name: %v", e.attr)
			}
		case "html":
			if e.attr["lang"] != "en" {
				t.Error("no language")
			}
		case "title":
			if strings.TrimSpace(e.text) == "" {
				t.Error("no title")
			}
		case "h1", "h2", "h3":
			n := int(e.name[1] - '0')
			if n > level+1 {
				t.Errorf("<%s> %q after a level %d", e.name, e.text, level)
			}
			level = n
		}
	}
	if tables < 8 || tables != captions {
		t.Errorf("%d tables have %d captions", tables, captions)
	}
}

// WCAG 2.2, success criterion 1.4.3: 4.5 to 1 for every colour that letters have,
// on the page's paper and on the tint of what is aimed at.
func TestLettersStandOutFromThePaper(t *testing.T) {
	inks := []string{"#14181c", "#4a5157", figure.Red.Hex()}
	for i := range 8 {
		inks = append(inks, figure.Style(i).Tone.Hex())
	}
	p := page(t, day(t, ""))
	for _, ink := range inks {
		if !strings.Contains(p, ink) {
			t.Errorf("the page has no %s", ink)
		}
		for _, paper := range []string{"#ffffff", "#f2efe7"} {
			if c := draft.Contrast(ink, paper); c < 4.5 {
				t.Errorf("%s on %s: %.2f to 1", ink, paper, c)
			}
		}
	}
}

// Red is for a broken limit alone.
func TestRedIsForBrokenLimitsAlone(t *testing.T) {
	p := page(t, day(t, ""))
	body := p[strings.Index(p, "<body"):]
	if strings.Contains(body, figure.Red.Hex()) || strings.Contains(body, `class="broken"`) {
		t.Error("no limit is broken, but something is red")
	}
}

// The appendix is set apart, and what does not fit half a sheet keeps the whole of it: eleven
// columns of numbers are wider than 82 mm, a table of stints is not.
func TestTheAppendixIsSetInColumns(t *testing.T) {
	text := page(t, day(t, ""))
	part := strings.Index(text, `id="appendix"`)
	if part < 0 || strings.Contains(text[:part], `class="behind`) || !strings.Contains(text[part:], `<section id="t1m1-rests" class="behind"`) {
		t.Error("the appendix does not begin behind the answer")
	}
	for id, narrow := range map[string]bool{"t1m1-stints": true, "t1m1-candidates": false} {
		m := regexp.MustCompile(`<div class="([^"]*)"[^>]*><table id="` + id + `"`).FindStringSubmatch(text)
		if m == nil || strings.Contains(m[1], "narrow") != narrow {
			t.Errorf("%s: %v, wanted narrow %v", id, m, narrow)
		}
	}
}

// A first page that holds much leaves its strips out in print, so that it stays one sheet.
func TestACrowdedFirstPageLeavesItsStripsOut(t *testing.T) {
	d := day(t, "")
	if strings.Contains(page(t, d), `class="front crowded"`) {
		t.Error("one measure is said to crowd a page")
	}
	for len(d.Matrix[0].Rows) < 8 {
		d.Matrix[0].Rows = append(d.Matrix[0].Rows, d.Matrix[0].Rows[0])
	}
	for len(d.Answer) < 4 {
		d.Answer = append(d.Answer, d.Answer[0])
	}
	if !strings.Contains(page(t, d), `class="front crowded"`) {
		t.Error("eight measures do not crowd a page")
	}
}
