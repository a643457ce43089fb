package svg_test

import (
	"encoding/xml"
	"io"
	"regexp"
	"strings"
	"testing"

	"example.org/bookend/figure"
	"example.org/bookend/figure/draft"
	"example.org/bookend/figure/figuretest"
	"example.org/bookend/figure/fonts"
	"example.org/bookend/figure/svg"
)

func drawing(t *testing.T, f figure.Figure, w figure.Width) *figure.Drawing {
	t.Helper()
	d, err := f.Draw(w)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// wellFormed reads the whole of a text as XML (Go's encoding/xml, strict) and
// gives the number of each element and all character data.
func wellFormed(t *testing.T, s string) (map[string]int, string) {
	t.Helper()
	n := map[string]int{}
	var text strings.Builder
	dec := xml.NewDecoder(strings.NewReader(s))
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			return n, text.String()
		}
		if err != nil {
			t.Fatalf("not well formed: %v", err)
		}
		switch tok := tok.(type) {
		case xml.StartElement:
			n[tok.Name.Local]++
		case xml.CharData:
			text.Write(tok)
		}
	}
}

var (
	outside  = regexp.MustCompile(`(?i)href|url\(|@import|src=|<script|<image|<use|\son[a-z]+=`)
	style    = regexp.MustCompile(`\sstyle=`)
	longNum  = regexp.MustCompile(`\d\.\d{3}`)
	colour   = regexp.MustCompile(`#[0-9a-f]{6}`)
	geometry = regexp.MustCompile(`\s(d|x|y|cx|cy|r|dx|dy|points|width|height|viewBox|stroke-width|stroke-dasharray|font-size|fill-opacity|stroke-opacity)="([^"]*)"`)
)

func TestEverySpecimenIsSoundSVG(t *testing.T) {
	for _, s := range figuretest.All() {
		for _, w := range []figure.Width{figure.Full, figure.Half} {
			d := drawing(t, s.Figure, w)
			for _, o := range []svg.Options{{}, {Paper: true}, {Grey: true}, {ID: "f1"}, {Decorative: true}} {
				got := svg.String(d, o)
				if again := svg.String(drawing(t, s.Figure, w), o); got != again {
					t.Errorf("%s: two drawings of the same data differ in their bytes", s.Name)
				}
				n, text := wellFormed(t, got)
				labels := 0
				for _, it := range d.Items {
					if it.Label != nil {
						labels++
						for _, r := range it.Label.Runs {
							if !strings.Contains(text, r.Text) {
								t.Errorf("%s: the text %q is lost", s.Name, r.Text)
							}
						}
					}
				}
				if n["text"] != labels {
					t.Errorf("%s: %d texts of %d", s.Name, n["text"], labels)
				}
				if m := outside.FindString(got); m != "" {
					t.Errorf("%s reaches outside: %s", s.Name, m)
				}
				if style.MatchString(got) {
					t.Errorf("%s has inline style, which a strict page refuses", s.Name)
				}
				for _, m := range geometry.FindAllStringSubmatch(got, -1) {
					if longNum.MatchString(m[2]) || strings.Contains(m[2], "NaN") || strings.Contains(m[2], "Inf") {
						t.Errorf("%s: %s=%q", s.Name, m[1], m[2])
						break
					}
				}
				if o.Decorative {
					if !strings.Contains(got, `aria-hidden="true"`) || n["title"] != 0 {
						t.Errorf("%s: a decorative picture is announced", s.Name)
					}
				} else if n["title"] != 1 || !strings.Contains(got, `role="img" aria-labelledby="`) {
					t.Errorf("%s: no name for those who hear it", s.Name)
				}
				if o.Paper == (n["rect"] == 0) {
					t.Errorf("%s: paper %v but %d rectangles", s.Name, o.Paper, n["rect"])
				}
				for _, c := range colour.FindAllString(got, -1) {
					if o.Grey && (c[1:3] != c[3:5] || c[3:5] != c[5:7]) {
						t.Errorf("%s in grey has the hue %s", s.Name, c)
						break
					}
					if !o.Paper && c == figure.Paper.Hex() {
						t.Errorf("%s without paper has paper's tone", s.Name)
						break
					}
				}
			}
		}
	}
}

// Grey keeps the luminance: what is told apart by lightness stays so.
func TestGreyKeepsLuminance(t *testing.T) {
	for _, tone := range []figure.Tone{figure.Paper, figure.Ink, figure.Soft, figure.Rule, figure.Red, figure.Indigo, figure.Teal, figure.Ochre, figure.Wine, figure.Blue, figure.Olive} {
		g := svg.Grey(tone.Hex())
		if a, b := draft.Luminance(tone.Hex()), draft.Luminance(g); a-b > .005 || b-a > .005 {
			t.Errorf("%s: luminance %.4f, in grey %.4f", tone, a, b)
		}
	}
}

func TestWordsAreEscaped(t *testing.T) {
	f := figuretest.Ladder()
	f.Test = `<script>alert("1")</script> & 'so on' ]]>` + "\x00\x07"
	f.Title = figure.Say(`A < B & C > D "quoted"`)
	f.Notes = []figure.Note{{Text: figure.Say("</svg><b>")}}
	d := drawing(t, f, figure.Full)
	got := svg.String(d, svg.Options{ID: `x" onload="y`, Standalone: true})
	n, text := wellFormed(t, got)
	if n["script"] != 0 || n["b"] != 0 {
		t.Error("words became elements")
	}
	for _, want := range []string{`<script>alert("1")</script> & 'so on' ]]>`, "</svg><b>"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is lost", want)
		}
	}
	if strings.Contains(got, ` onload="`) {
		t.Error("an id broke out of its attribute")
	}
}

// A file of its own carries its letters.
func TestStandaloneCarriesItsFonts(t *testing.T) {
	got := svg.String(drawing(t, figuretest.Ladder(), figure.Half), svg.Options{Standalone: true, Paper: true})
	if !strings.HasPrefix(got, `<svg xmlns="http://www.w3.org/2000/svg"`) {
		t.Errorf("it begins %q", got[:60])
	}
	if n := strings.Count(got, "data:font/woff2;base64,"); n != len(fonts.Faces()) {
		t.Errorf("%d fonts inside", n)
	}
	for _, c := range []string{"fig-s", "fig-b", "fig-i", "fig-h"} {
		if !strings.Contains(svg.CSS(), "."+c) {
			t.Errorf("no rule for %s", c)
		}
	}
}
