package dialect_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited/dialect"
	"example.org/bookend/ingest/delimited/stamp"
)

func cells(line string, delim byte) []string {
	var out []string
	for _, c := range dialect.Split([]byte(line), delim, nil) {
		out = append(out, string(c))
	}
	return out
}

// What encoding/csv writes is cut into the cells that it was given. Reference:
// encoding/csv of the standard library, and strings.Fields for blanks.
func TestCellsAreThoseOfEncodingCSV(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for _, delim := range []byte{',', ';', '\t', '|'} {
		for range 3000 {
			row := make([]string, 2+r.IntN(5))
			for i := range row {
				var b []byte
				for range r.IntN(8) {
					b = append(b, "ab1.\",;|- "[r.IntN(10)])
				}
				row[i] = strings.Trim(string(b), " ")
			}
			var b bytes.Buffer
			w := csv.NewWriter(&b)
			w.Comma = rune(delim)
			if err := w.Write(row); err != nil {
				t.Fatal(err)
			}
			w.Flush()
			line := strings.TrimSuffix(b.String(), "\n")
			if got := cells(line, delim); !slices.Equal(got, row) {
				t.Fatalf("%q is cut into %q, encoding/csv wrote %q", line, got, row)
			}
		}
	}
	for range 3000 {
		var b []byte
		for range 1 + r.IntN(20) {
			b = append(b, "ab1.-,  \t"[r.IntN(9)])
		}
		if want := strings.Fields(string(b)); len(want) > 0 {
			if got := cells(string(b), dialect.Blank); !slices.Equal(got, want) {
				t.Fatalf("%q is cut into %q, strings.Fields gives %q", b, got, want)
			}
		}
	}
}

// Each row is a file as it may be met, and how it is written.
func TestHowFilesAreWritten(t *testing.T) {
	body := func(format string) string {
		var b strings.Builder
		for i := range 20 {
			fmt.Fprintf(&b, format, i, i*10)
		}
		return b.String()
	}
	for _, c := range []struct {
		name, text   string
		delim, point byte
		eol          byte
		skip, header int
		headings     string
		units        string
	}{
		{"plain", "time_s,speed_kmh\n" + body("%d.5,%d.25\n"), ',', '.', '\n', 1, 1, "time_s speed_kmh", "s kmh"},
		{"decimal comma", "Zeit;v\ns;km/h\n" + body("%d,5;%d,25\n"), ';', ',', '\n', 2, 1, "Zeit v", "s km/h"},
		{"tabs", "t [s]\tv [km/h]\r\n" + body("%d.5\t%d\r\n"), '\t', '.', '\n', 1, 1, "t_[s] v_[km/h]", "s km/h"},
		{"strokes", "t|v\n" + body("%d|%d\n"), '|', '.', '\n', 1, 1, "t v", " "},
		{"blanks", "# t v\n" + body("  %d.5   %d\n"), ' ', '.', '\n', 1, 1, "t v", " "},
		{"carriage returns", "t;v\r" + body("%d;%d\r"), ';', '.', '\r', 1, 1, "t v", " "},
		{"titles", "Skerry Moor, wet\n\nTime,Speed\n(s),(mph)\n" + body("%d,%d\n"), ',', '.', '\n', 4, 3, "Time Speed", "s mph"},
		{"no heading", body("%d.5,%d\n"), ',', '.', '\n', 0, 0, "#1 #2", " "},
		{"twice one name", "t,v,v\n" + body("%d,%d,1\n"), ',', '.', '\n', 1, 1, "t v v_(column_3)", "  "},
		{"whole numbers with semicolons", "t;v\n" + body("%d;%d\n"), ';', '.', '\n', 1, 1, "t v", " "},
	} {
		d, err := dialect.Detect([]byte(c.text), true, "x", nil)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		var headings, units []string
		for i := range d.Columns {
			headings = append(headings, strings.ReplaceAll(d.Columns[i].Heading, " ", "_"))
			units = append(units, d.Columns[i].Stated)
		}
		if d.Delim != c.delim || d.Point != c.point || d.EOL != c.eol || d.Skip != c.skip || d.Header != c.header || strings.Join(headings, " ") != c.headings || strings.Join(units, " ") != c.units {
			t.Errorf("%s: separator %q, decimal sign %q, line end %q, %d lines to skip, names in line %d: %q in %q", c.name, d.Delim, d.Point, d.EOL, d.Skip, d.Header, headings, units)
		}
	}
	for _, text := range []string{"\n", "a letter\nof two lines\n", "t,v\n"} {
		if _, err := dialect.Detect([]byte(text), true, "x", nil); fault.CodeOf(err) != fault.Invalid || fault.HintOf(err) == "" {
			t.Errorf("%q is taken for a table: %v", text, err)
		}
	}
}

// Each row is a column's heading and cells, and what they are.
func TestWhatColumnsAre(t *testing.T) {
	const dates = "05/06/2026 10:00:00"
	for _, c := range []struct {
		heading string
		cell    func(i int) string
		said    *ingest.MappedColumn
		kind    dialect.Kind
		form    stamp.Form
		unsure  bool
		epoch   bool
	}{
		{heading: "v", cell: func(i int) string { return fmt.Sprint(i) }, kind: dialect.Numeric},
		{heading: "note", cell: func(i int) string { return "lap" }, kind: dialect.Skipped},
		{heading: "v", cell: func(i int) string { return "" }, kind: dialect.Unseen},
		{heading: "v", cell: func(i int) string { return "1" }, said: &ingest.MappedColumn{Column: "v", Role: ingest.Ignore}, kind: dialect.Skipped},
		{heading: "time [ms]", cell: func(i int) string { return fmt.Sprint(i) }, kind: dialect.Stamp, form: stamp.Form{Style: stamp.Decimals, Scale: 6, Factor: 1}},
		{heading: "time [h]", cell: func(i int) string { return fmt.Sprint(i) }, kind: dialect.Stamp, form: stamp.Form{Style: stamp.Decimals, Scale: 9, Factor: 3600}},
		{heading: "time [bar]", cell: func(i int) string { return fmt.Sprint(i) }, kind: dialect.Numeric},
		{heading: "unix", cell: func(i int) string { return fmt.Sprint(1_778_680_800_000 + i) }, kind: dialect.Stamp, form: stamp.Form{Style: stamp.Decimals, Scale: 6, Factor: 1}, epoch: true},
		{heading: "v", cell: func(i int) string { return fmt.Sprint(i) }, said: &ingest.MappedColumn{Column: "v", Role: ingest.Time, Unit: "us"}, kind: dialect.Stamp, form: stamp.Form{Style: stamp.Decimals, Scale: 3, Factor: 1}},
		{heading: "time", cell: func(i int) string { return fmt.Sprint(i) }, said: &ingest.MappedColumn{Column: "time", Role: "speed"}, kind: dialect.Numeric},
		{heading: "x", cell: func(i int) string { return fmt.Sprintf("10:00:%02d.5", i) }, kind: dialect.Stamp, form: stamp.Form{Style: stamp.Clocks, Factor: 1}},
		{heading: "x", cell: func(i int) string { return fmt.Sprintf("10:%02d", i) }, kind: dialect.Stamp, form: stamp.Form{Style: stamp.Clocks, Factor: 1, Short: true}},
		{heading: "x", cell: func(i int) string { return fmt.Sprintf("2026-05-13T10:00:%02dZ", i) }, kind: dialect.Stamp, form: stamp.Form{Style: stamp.Moments, Factor: 1, Zoned: true}},
		{heading: "x", cell: func(i int) string { return "13/05/2026" }, kind: dialect.Stamp, form: stamp.Form{Style: stamp.Dates, Factor: 1}},
		{heading: "x", cell: func(i int) string { return "05/13/2026" }, kind: dialect.Stamp, form: stamp.Form{Style: stamp.Dates, Factor: 1, Order: stamp.MonthFirst}},
		{heading: "x", cell: func(i int) string { return dates }, kind: dialect.Stamp, form: stamp.Form{Style: stamp.Moments, Factor: 1, Order: stamp.MonthFirst}, unsure: true},
		{heading: "x (DD/MM/YYYY)", cell: func(i int) string { return dates }, kind: dialect.Stamp, form: stamp.Form{Style: stamp.Moments, Factor: 1}},
		{heading: "x (DD/MM/YYYY)", cell: func(i int) string { return dates }, said: &ingest.MappedColumn{Column: "x", Role: ingest.Time}, kind: dialect.Stamp, form: stamp.Form{Style: stamp.Moments, Factor: 1}},
		{heading: "x (DD/MM/YYYY)", cell: func(i int) string { return dates }, said: &ingest.MappedColumn{Column: "x", Unit: "mm/dd/yyyy"}, kind: dialect.Stamp, form: stamp.Form{Style: stamp.Moments, Factor: 1, Order: stamp.MonthFirst}},
	} {
		text := "first;" + c.heading + ";last\n"
		for i := range 20 {
			text += fmt.Sprintf("%d;%s;7\n", i%3, c.cell(i))
		}
		var m *ingest.Mapping
		if c.said != nil {
			m = &ingest.Mapping{Columns: []ingest.MappedColumn{*c.said}}
		}
		d, err := dialect.Detect([]byte(text), true, "x", m)
		if err != nil {
			t.Errorf("%s of %s: %v", c.heading, c.cell(1), err)
			continue
		}
		got := d.Columns[1]
		if got.Kind != c.kind || got.Unsure != c.unsure || got.Epoch != c.epoch || c.kind == dialect.Stamp && got.Form != c.form {
			t.Errorf("%s of %s is %+v", c.heading, c.cell(1), got)
		}
	}
}
