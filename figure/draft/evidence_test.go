package draft_test

import (
	"fmt"
	"math"
	"testing"

	"example.org/bookend/figure/draft"
	"example.org/bookend/figure/fonts"
	"example.org/bookend/internal/golden"
)

// A label is as wide in a browser as it was measured.
func TestTextWidthAsInABrowser(t *testing.T) {
	faces := map[string]fonts.Face{}
	for _, f := range fonts.Faces() {
		faces[f.Name()] = f
	}
	golden.Run(t, "chromium-156", "text-widths", func(t *testing.T, c *golden.Case) {
		var rows []struct {
			Face, Text string
			Em         float64
		}
		c.JSON(t, "widths.json", &rows)
		for _, r := range rows {
			c.NearRel(t, r.Face+" "+r.Text, draft.TextWidth(r.Text, faces[r.Face], 1), r.Em)
		}
	})
}

func TestContrastFormula(t *testing.T) {
	golden.Run(t, "wcag-2.2", "contrast", func(t *testing.T, c *golden.Case) {
		var rows []struct {
			A, B  string
			Ratio float64
		}
		c.JSON(t, "ratios.json", &rows)
		for _, r := range rows {
			c.Near(t, r.A+" on "+r.B, draft.Contrast(r.A, r.B), r.Ratio)
			if draft.Contrast(r.A, r.B) != draft.Contrast(r.B, r.A) {
				t.Errorf("%s on %s is not as %s on %s", r.A, r.B, r.B, r.A)
			}
		}
	})
}

// over gives a tone laid over another with an opacity, as #rrggbb.
func over(top, bottom string, opacity float64) string {
	out := "#"
	for i := 1; i < 7; i += 2 {
		var a, b int
		fmt.Sscanf(top[i:i+2], "%x", &a)
		fmt.Sscanf(bottom[i:i+2], "%x", &b)
		out += fmt.Sprintf("%02x", int(math.Round(float64(a)*opacity+float64(b)*(1-opacity))))
	}
	return out
}

// Text in any tone keeps 4.5:1 (WCAG 2.2, success criterion 1.4.3) on paper, on
// white and on the margin's tint. The ratios are those that the figure grammar
// states, one decimal, computed there by another program (on a tint one step
// of one channel lighter, hence the wider bound).
func TestContrastOfTones(t *testing.T) {
	stated := map[draft.Tone][2]float64{
		draft.Ink: {17.1, 14.8}, draft.Indigo: {10.7, 9.2}, draft.Teal: {5.4, 4.6}, draft.Ochre: {5.4, 4.7},
		draft.Wine: {10.2, 8.9}, draft.Blue: {5.4, 4.6}, draft.Olive: {5.3, 4.6},
	}
	paper := draft.Paper.Hex()
	tint := over(draft.Ink.Hex(), paper, .075)
	for _, tone := range []draft.Tone{draft.Ink, draft.Soft, draft.Red, draft.Indigo, draft.Teal, draft.Ochre, draft.Wine, draft.Blue, draft.Olive} {
		onPaper, onTint, onWhite := draft.Contrast(tone.Hex(), paper), draft.Contrast(tone.Hex(), tint), draft.Contrast(tone.Hex(), "#ffffff")
		if onPaper < 4.5 || onTint < 4.5 || onWhite < 4.5 {
			t.Errorf("%s: %.2f on paper, %.2f on the margin, %.2f on white", tone, onPaper, onTint, onWhite)
		}
		if s, ok := stated[tone]; ok && (math.Abs(onPaper-s[0]) > .051 || math.Abs(onTint-s[1]) > .11) {
			t.Errorf("%s: %.2f on paper and %.2f on the margin, stated %.1f and %.1f", tone, onPaper, onTint, s[0], s[1])
		}
	}
}

// Every letter, sign and figure that a report needs is in every face.
func TestFacesHaveTheSigns(t *testing.T) {
	const signs = "−±²³°µ→≥≤×–·’“”…√σΔ½ \u00a0\u202fŁłőñÄÖÜßÅØéЖш0123456789%‰"
	for _, f := range fonts.Faces() {
		if !fonts.HasGlyphs(signs, f) {
			for _, r := range signs {
				if !fonts.HasGlyphs(string(r), f) {
					t.Errorf("%s lacks %q", f.Name(), r)
				}
			}
		}
		if len(f.WOFF2()) < 1000 || string(f.WOFF2()[:4]) != "wOF2" {
			t.Errorf("%s: the WOFF2 file is none", f.Name())
		}
		for _, d := range "123456789" { // tabular: numbers stand in columns
			if a, b := draft.TextWidth("0", f, 1), draft.TextWidth(string(d), f, 1); math.Abs(a-b) > .0015 {
				t.Errorf("%s: 0 is %g wide and %c %g", f.Name(), a, d, b)
			}
		}
	}
}

func TestStyles(t *testing.T) {
	seen := map[string]int{}
	for i := range 7 {
		s := draft.Style(i)
		key := string(s.Tone) + " " + string(s.Shape) + fmt.Sprint(s.Dash)
		for _, k := range []string{string(s.Tone), string(s.Shape), fmt.Sprint(s.Dash)} {
			if j, twice := seen[k]; twice {
				t.Errorf("codes %d and %d share %s", i, j, k)
			}
			seen[k] = i
		}
		if (len(s.Dash) == 0) != (i == 0) || (s.Shape == draft.Square) != (i == 0) {
			t.Errorf("%s: solid line and square are the control's alone", key)
		}
	}
	for i := 7; i < 20; i++ {
		if s := draft.Style(i); s.Tone != draft.Soft || s.Shape == draft.Square || len(s.Dash) == 0 {
			t.Errorf("candidate %d is drawn as %+v", i, s)
		}
	}
}
