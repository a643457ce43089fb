package dialect

import (
	"bytes"
	"slices"

	"example.org/bookend/ingest/delimited/number"
	"example.org/bookend/ingest/delimited/stamp"
)

// class is what a cell of the head looks like.
type class uint8

const (
	clsMissing class = iota
	clsNumber
	clsClock
	clsDate
	clsMoment
	clsText
)

// classify judges a cell.
func classify(f []byte, point byte) class {
	_, s := number.Parse(f, point)
	switch s {
	case number.Missing:
		return clsMissing
	case number.Valued, number.Infinite:
		return clsNumber
	}
	if len(f) == 0 || f[0]-'0' > 9 || len(f) > 40 {
		return clsText
	}
	if _, ok := stamp.Clock(f, true); ok {
		return clsClock
	}
	if _, ok := stamp.Clock(f, false); ok {
		return clsClock
	}
	for _, o := range []stamp.Order{stamp.DayFirst, stamp.MonthFirst} {
		if _, _, _, ok := stamp.Moment(f, o); ok {
			return clsMoment
		}
		if _, rest, _, ok := stamp.Date(f, o); ok && len(rest) == 0 {
			return clsDate
		}
	}
	return clsText
}

// linesOf cuts the head into lines. Unless the head is the whole file its last
// line is left out, being cut.
func linesOf(head []byte, whole bool) (lines [][]byte, eol byte) {
	eol = '\n'
	if bytes.IndexByte(head, '\n') < 0 && bytes.IndexByte(head, '\r') >= 0 {
		eol = '\r'
	}
	for len(head) > 0 && len(lines) < headLines {
		i := bytes.IndexByte(head, eol)
		if i < 0 {
			if whole {
				lines = append(lines, head)
			}
			break
		}
		lines = append(lines, bytes.TrimRight(head[:i], "\r"))
		head = head[i+1:]
	}
	return lines, eol
}

// candidate is one way to read the head, and how well it fits.
type candidate struct {
	delim, point byte
	width        int // cells in most lines of the second half
	score        float64
}

// best finds the separator and the decimal point with which most cells of the
// second half of the head are numbers or times and lines are equally long.
func best(lines [][]byte) (candidate, bool) {
	var filled [][]byte
	for _, l := range lines {
		if len(bytes.TrimSpace(l)) > 0 {
			filled = append(filled, l)
		}
	}
	tail := filled[len(filled)/2:]
	var win candidate
	found := false
	for _, delim := range []byte{'\t', ';', ',', '|', Blank} {
		for _, point := range []byte{'.', ','} {
			if delim == point && delim != ',' { // a decimal comma between commas stands in quotes
				continue
			}
			widths := map[int]int{}
			good, bad := map[int]int{}, 0
			all := 0
			var cells [][]byte
			for _, l := range tail {
				cells = Split(l, delim, cells)
				n := len(cells)
				widths[n]++
				for _, c := range cells {
					switch classify(c, point) {
					case clsMissing:
					case clsText:
						all++
						if bytes.ContainsAny(c, "\t;,|") {
							bad++
						}
					default:
						all++
						good[n]++
					}
				}
			}
			width := 0
			for n, count := range widths {
				if n >= 2 && (width == 0 || count > widths[width] || count == widths[width] && n > width) {
					width = n
				}
			}
			if width == 0 || good[width] == 0 {
				continue
			}
			score := float64(good[width]) / float64(all+bad) * float64(widths[width]) / float64(len(tail))
			if score > win.score+1e-12 {
				win = candidate{delim, point, width, score}
				found = true
			}
		}
	}
	return win, found
}

// census counts cells that are numbers or times, and cells that are text.
type census struct{ good, text int }

func (n *census) add(c class) {
	switch c {
	case clsMissing:
	case clsText:
		n.text++
	default:
		n.good++
	}
}

// firstRow gives the first line of data: the first one that has no text where
// the second half of the head has numbers or times; below 0 if there is none.
func firstRow(classes [][]class, width int) int {
	datum := make([]bool, width)
	for k := range datum {
		var n census
		for _, line := range classes[len(classes)/2:] {
			if len(line) >= width {
				n.add(line[k])
			}
		}
		datum[k] = n.good > n.text
	}
	return slices.IndexFunc(classes, func(line []class) bool {
		if len(line) < 2 || len(line)*2 < width {
			return false
		}
		var n census
		for k, c := range line[:min(len(line), width)] {
			if datum[k] {
				n.add(c)
			}
		}
		return n.good > 0 && n.text == 0
	})
}
