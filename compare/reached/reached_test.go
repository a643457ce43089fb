package reached_test

import (
	"os"
	"strconv"
	"strings"
	"testing"

	"example.org/bookend/caveat"
	"example.org/bookend/compare/reached"
)

// The figures are those of the page that the simulation wrote: columns design, …,
// covered %, family error %, half-width, times known, bias.
func TestFiguresAreThoseOfThePage(t *testing.T) {
	page, err := os.ReadFile("../../docs/coverage.md")
	if err != nil {
		t.Fatal(err)
	}
	rows := map[string][]string{}
	for _, line := range strings.Split(string(page), "\n") {
		cells := strings.Split(strings.Trim(line, "| "), "|")
		for i := range cells {
			cells[i] = strings.TrimSpace(cells[i])
		}
		if len(cells) == 13 || len(cells) == 14 {
			rows[cells[0]] = cells
		}
	}
	for _, code := range reached.Codes() {
		for _, d := range reached.Designs(code) {
			row := rows[d.ID]
			if row == nil {
				t.Errorf("the page has no design %s", d.ID)
				continue
			}
			covered, err1 := strconv.ParseFloat(row[len(row)-5], 64)
			bias, err2 := strconv.ParseFloat(row[len(row)-1], 64)
			if err1 != nil || err2 != nil || covered != d.Covered || bias != d.Bias {
				t.Errorf("%s: %v and %v here, %s and %s on the page", d.ID, d.Covered, d.Bias, row[len(row)-5], row[len(row)-1])
			}
		}
	}
}

func TestOnlyWhatWasSimulatedIsSaid(t *testing.T) {
	var l caveat.List
	l.Add("heterogeneous_record", caveat.Place{}, "They differ.")
	l.Add("one_rater", caveat.Place{}, "One.")
	got := reached.Note(l)
	if !strings.HasPrefix(got[0].Text, "They differ. No coverage is claimed then.") || !strings.Contains(got[0].Text, "96.7 %") || !strings.Contains(got[0].Text, "99.3 % (docs/coverage.md, B17, B18)") {
		t.Error(got[0].Text)
	}
	if got[1] != l[1] || l[0].Text != "They differ." {
		t.Errorf("%+v %+v", got[1], l[0])
	}
}
