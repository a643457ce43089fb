package dialect

import (
	"bytes"
	"strings"

	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited/charset"
	"example.org/bookend/unit"
)

// headings finds the row of names above the data, and the row of units below
// the names if there is one.
func (d *Dialect) headings(lines [][]byte, start, width int) (names, units []string) {
	bestScore, at := 0, -1
	rows := map[int][]string{}
	for i := max(0, start-titleLines); i < start; i++ {
		line := lines[i]
		for _, mark := range []string{"#", "%", "//"} {
			line = bytes.TrimPrefix(line, []byte(mark))
		}
		var row []string
		words, hits, filled := 0, 0, 0
		for _, c := range Split(line, d.Delim, nil) {
			s := charset.String(c)
			row = append(row, s)
			if s == "" {
				continue
			}
			filled++
			if classify(c, d.Point) == clsText {
				words++
			}
			stem, _ := ingest.SplitUnit(s)
			if ingest.IsTimeName(stem) || ingest.GuessRole(stem).Role != "" {
				hits++
			}
		}
		rows[i] = row
		if words == 0 || len(row) < 2 {
			continue
		}
		score := hits*10 + words*2
		if len(row) == width {
			score += 15
		}
		if unitRow(row) && hits < filled { // "t;v" are names, though t and V are units
			score = 1
		}
		if score >= bestScore {
			bestScore, at = score, i
		}
	}
	if at < 0 {
		return nil, nil
	}
	d.Header = at + 1
	d.Raw = bytes.Clone(lines[at])
	for i := at + 1; i < start; i++ {
		if unitRow(rows[i]) {
			for _, s := range rows[i] {
				units = append(units, bare(s))
			}
			break
		}
	}
	return rows[at], units
}

// bare takes brackets off a unit.
func bare(s string) string {
	s = strings.TrimSpace(s)
	for _, pair := range []string{"[]", "()", "{}", "<>"} {
		if len(s) >= 2 && s[0] == pair[0] && s[len(s)-1] == pair[1] {
			if _, ok := unit.Known(s); ok {
				return s
			}
			return strings.TrimSpace(s[1 : len(s)-1])
		}
	}
	return s
}

// unitRow tells whether at least half of the filled cells are units, and one of
// them more than a dash.
func unitRow(row []string) bool {
	filled, known, plain := 0, 0, 0
	for _, s := range row {
		s = bare(s)
		if s == "" {
			continue
		}
		filled++
		if _, ok := unit.Known(s); ok {
			known++
			if s != "-" && s != "1" && s != "--" && s != "#" {
				plain++
			}
		} else if ingest.IsDatePattern(s) || strings.Contains(strings.ToLower(s), "hh:mm") || strings.EqualFold(s, "hhmmss") {
			known++
		}
	}
	return plain > 0 && known*2 >= filled
}
