package dialect

import (
	"bytes"
)

// Blank as a separator stands for runs of blanks and tabs.
const Blank = ' '

// Split cuts a line into its cells, blanks and quotes taken off.
func Split(line []byte, delim byte, into [][]byte) [][]byte {
	into = into[:0]
	if delim == Blank {
		line = bytes.Trim(line, " \t")
	}
	for i := 0; ; {
		end := CellEnd(line, i, delim)
		into = append(into, Tidy(line[i:end]))
		if end >= len(line) {
			return into
		}
		i = end + 1
		if delim == Blank {
			for i < len(line) && (line[i] == ' ' || line[i] == '\t') {
				i++
			}
			if i == len(line) {
				return into
			}
		}
	}
}

// CellEnd gives the place of the separator, or the line's end, after the cell
// that begins at i. A separator within quotes does not count; a quote that is
// never closed does not either.
func CellEnd(line []byte, i int, delim byte) int {
	j := i
	for j < len(line) && line[j] == ' ' && delim != Blank {
		j++
	}
	if j < len(line) && line[j] == '"' {
		for k := j + 1; k < len(line); k++ {
			if line[k] != '"' {
				continue
			}
			if k+1 < len(line) && line[k+1] == '"' {
				k++
				continue
			}
			for k++; k < len(line) && !separates(line[k], delim); k++ {
			}
			return k
		}
	}
	for k := i; k < len(line); k++ {
		if separates(line[k], delim) {
			return k
		}
	}
	return len(line)
}

func separates(c, delim byte) bool { return c == delim || delim == Blank && c == '\t' }

// Tidy takes blanks and quotes off a cell.
func Tidy(f []byte) []byte {
	f = bytes.Trim(f, " \t\r")
	if n := len(f); n >= 2 && f[0] == '"' && f[n-1] == '"' {
		f = f[1 : n-1]
		if bytes.IndexByte(f, '"') >= 0 {
			f = bytes.ReplaceAll(f, []byte(`""`), []byte(`"`))
		}
		f = bytes.Trim(f, " \t")
	}
	return f
}
