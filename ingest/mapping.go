package ingest

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"example.org/bookend/fault"
	"example.org/bookend/signal"
	"example.org/bookend/unit"
)

// maxMappingBytes bounds a mapping; own: a row a channel, and no logger has a
// million channels.
const maxMappingBytes = 1 << 20

// ReadMapping reads a mapping from the small table at path, as ParseMapping
// does.
func ReadMapping(path string) (*Mapping, error) {
	f, err := os.Open(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil, fault.New(fault.NotFound, "there is no such mapping").At("%s", path)
	}
	if err != nil {
		return nil, fault.New(fault.Invalid, "the mapping cannot be opened: %w", err).At("%s", path)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxMappingBytes+1))
	if err != nil {
		return nil, fault.New(fault.Invalid, "the mapping cannot be read: %w", err).At("%s", path)
	}
	return ParseMapping(filepath.Base(path), data)
}

// ParseMapping reads a mapping from a table in text: UTF-8, separated by commas,
// semicolons or tabs, whose first row names its columns out of column, role,
// unit, factor, offset. Only column is insisted on; empty cells change nothing.
// Roles and units that are not known, columns named twice and numbers that are
// none are invalid faults with file and line.
func ParseMapping(name string, data []byte) (*Mapping, error) {
	if len(data) > maxMappingBytes {
		return nil, fault.New(fault.Invalid, "a mapping of more than 1 MiB is none").At("%s", name)
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	first, _, _ := bytes.Cut(data, []byte("\n"))
	r := csv.NewReader(bytes.NewReader(data))
	r.FieldsPerRecord = -1
	r.Comment = '%'
	for _, delim := range "\t;" {
		if bytes.ContainsRune(first, delim) {
			r.Comma = delim
		}
	}
	r.TrimLeadingSpace = r.Comma != '\t' // a tab is no space then
	decimalComma := r.Comma != ','

	var m Mapping
	var at map[string]int
	seen := map[string]int{}
	for {
		row, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, fault.New(fault.Invalid, "the mapping is no table: %w", err).At("%s", name)
		}
		line, _ := r.FieldPos(0)
		bad := func(format string, args ...any) *fault.Error {
			return fault.New(fault.Invalid, format, args...).At("%s:%d", name, line)
		}
		if at == nil {
			at = map[string]int{}
			for i, h := range row {
				h = strings.ToLower(strings.TrimSpace(h))
				switch h {
				case "column", "role", "unit", "factor", "offset":
				default:
					return nil, bad("a mapping has no column %q", h).WithHint("its columns are column, role, unit, factor, offset")
				}
				if _, twice := at[h]; twice {
					return nil, bad("column %q stands twice", h)
				}
				at[h] = i
			}
			if _, ok := at["column"]; !ok {
				return nil, bad("the mapping does not say which columns it is about").WithHint("its first row is: column,role,unit,factor,offset")
			}
			continue
		}
		cell := func(key string) string {
			if i, ok := at[key]; ok && i < len(row) {
				return strings.TrimSpace(row[i])
			}
			return ""
		}
		c := MappedColumn{Column: cell("column"), Role: signal.Role(cell("role")), Unit: cell("unit")}
		if c.Column == "" {
			return nil, bad("the row names no column")
		}
		if before, twice := seen[c.Column]; twice {
			return nil, bad("column %q was mapped in line %d", c.Column, before)
		}
		seen[c.Column] = line
		d, known := Dimensions(c.Role)
		if !known {
			return nil, bad("role %q is not known", c.Role).WithHint("roles are: %s", strings.Join(roleNames(), ", "))
		}
		if c.Unit != "" && !(c.Role == Time && IsDatePattern(c.Unit)) {
			u, err := unit.Parse(c.Unit)
			if err != nil {
				return nil, fault.At(err, "%s:%d", name, line)
			}
			if len(d) > 0 && !fits(u.Dimension(), d) {
				return nil, bad("%s cannot be in %s", c.Role, c.Unit).WithHint("it is a %s", d[0])
			}
		}
		for _, n := range []struct {
			key string
			to  *float64
		}{{"factor", &c.Factor}, {"offset", &c.Offset}} {
			text := cell(n.key)
			if text == "" {
				continue
			}
			if decimalComma {
				text = strings.ReplaceAll(text, ",", ".")
			}
			x, err := strconv.ParseFloat(text, 64)
			if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
				return nil, bad("%s %q is no number", n.key, cell(n.key))
			}
			if n.key == "factor" && x == 0 {
				return nil, bad("a factor of 0 leaves nothing of column %q", c.Column).WithHint("to leave the column out, give it the role ignore")
			}
			*n.to = x
		}
		m.Columns = append(m.Columns, c)
	}
	if at == nil {
		return nil, fault.New(fault.Invalid, "the mapping is empty").At("%s", name).
			WithHint("its first row is: column,role,unit,factor,offset")
	}
	return &m, nil
}

// IsDatePattern tells whether a mapping's unit says in which order the parts of
// a date stand: "dd/mm/yyyy" or "mm/dd/yyyy", in either case.
func IsDatePattern(s string) bool {
	s = strings.ToLower(s)
	return s == "dd/mm/yyyy" || s == "mm/dd/yyyy"
}
