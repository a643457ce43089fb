package sheet_test

import (
	"bytes"
	"html"
	"strings"
	"testing"

	"example.org/bookend/report/sheet"
)

// Whatever stands on it: within 80 columns, every caution and stop rule (those
// of the trade, common practice, no source), typed text escaped, and no word on
// which set is the control.
func TestSheet(t *testing.T) {
	s := &sheet.Sheet{
		Title: "Wet stops <script>", Day: "2026-11-25", Light: "08:12 to 15:41", Runs: 12, Content: "Order by seed 7.",
		Rows:  []sheet.Row{{Stint: 1, Block: 1, Set: "K1", Fit: "08:17", Drive: "08:30", End: "09:06"}, {Stint: 2, Block: 2, Set: "P1"}},
		Notes: []string{strings.Repeat("a long note about the plan ", 6)},
	}
	var text, page bytes.Buffer
	if err := s.Text(&text); err != nil {
		t.Fatal(err)
	}
	if err := s.HTML(&page); err != nil {
		t.Fatal(err)
	}
	for i, line := range strings.Split(text.String(), "\n") {
		if len([]rune(line)) > 80 {
			t.Errorf("line %d has %d columns", i+1, len([]rune(line)))
		}
	}
	if strings.Contains(page.String(), "<script>") || !strings.Contains(page.String(), "&lt;script&gt;") {
		t.Error("a title was not escaped")
	}
	flat := strings.Join(strings.Fields(text.String()), " ")
	for _, want := range []string{"closed course", "briefed", "helmet", "Recovery", "Load, pressure and speed", "driver says stop", "Wind above 5 m/s", "Rain", "set K1", "fit 08:17", "12 ________", "Block 2"} {
		if !strings.Contains(flat, want) {
			t.Errorf("the text does not say %q", want)
		}
	}
	for _, want := range append(append([]string{}, sheet.Cautions...), sheet.StopRules...) {
		if !strings.Contains(html.UnescapeString(page.String()), want) || !strings.Contains(flat, want) {
			t.Errorf("a face does not say %q", want)
		}
	}
	for _, word := range []string{"control", "faster than", "safe to"} {
		if strings.Contains(strings.ToLower(flat), word) || strings.Contains(strings.ToLower(page.String()), word) {
			t.Errorf("the sheet says %q", word)
		}
	}
}
