// Package table reads what people type: run tables from a stopwatch sheet or a
// spreadsheet, observation tables with several measures, and rating sheets. It
// writes the same back.
//
// A run table is text with a header line and one run a line; the columns stint,
// code and value are enough:
//
//	stint,code,value
//	1,K,36.1
//	1,K,35.7
//	2,P,31.6
//
// Further columns that are known: run (number or name within the stint),
// position (place in the sequence, from 1), clock (14:05, 14:05:30, ISO 8601, or
// seconds), block, set, driver, break (anything but no: a declared break lies
// before the stint), use (distance that the set had run, with its unit in the
// name: use_km), excluded (the reason why the run is left out), remark, measure,
// place, rater. Any other column of numbers is a covariate, any other column is
// kept as text. A column's name may end in a unit (value_m, water_depth_mm):
// values are converted to SI and covariates renamed after it (water_depth_m). The
// value's may stand in brackets too: value (km/h). Values may be times as a
// stopwatch shows them, 1:23.45: such a column is in seconds.
//
// Columns are separated by comma, semicolon or tab, whichever the header has; a
// comma in a number is a decimal comma, where commas do not separate columns.
// UTF-8 with or without a byte order mark, UTF-16 with one, and Latin-1 are read.
//
// Where neither position nor clock is given, the order of the lines is the
// sequence, and the lines of one stint stand together. Nothing is repaired in
// silence: what is wrong is a fault that names file, line and column. Limits:
// 64 MiB, a million lines, lines of 1 MiB.
package table

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf16"
	"unicode/utf8"

	"example.org/bookend/caveat"
	"example.org/bookend/clock"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// Limits of a table; beyond them it is a recording, or no table at all. Own
// choice: the longest rating season known here has some ten thousand lines.
const (
	mostBytes = 64 << 20
	mostLine  = 1 << 20
	mostRows  = 1_000_000
)

// Options say how a table is to be read. The zero value reads a table whose
// columns have their own names.
type Options struct {
	Name          string            // of the file, for messages
	Columns       map[string]string // by bookend's name: the name in the table, {"code": "trt"}
	EachRowAStint bool              // no stint column: every line is a stint of its own
	Measure       string            // of tables without a measure column; default "value"
	Zone          *time.Location    // of clock times that state none; nil: they are compared among themselves only
	RunsAlone     bool              // a run log: a column value is not wanted, and is read where it is there
}

// Table is a table as read.
type Table struct {
	Log       programme.Log
	Measures  []string // in order of appearance
	Unit      string   // of the value column, SI symbol; empty where the column states none
	Typed     string   // the unit that the column states: "km/h"; values are in Unit
	Decimals  int      // most digits behind the decimal sign of a value, as typed
	Columns   []string // as in the header
	Separator rune
	Comma     bool                // numbers have a decimal comma
	Cells     map[string][]string // raw text by column name, one a line after the header, in order
	Lines     []int               // of those cells, from 1
	Runs      []string            // id of the run of each of those lines
	stintOf   []string            // of those lines
}

// names of columns with a meaning, in the order in which they are written.
var known = []string{"stint", "code", "set", "position", "clock", "block", "driver", "break", "use", "run", "measure", "place", "rater", "value", "excluded", "remark"}

type grid struct {
	name      string
	header    []string
	head      int // its line
	rows      [][]string
	lines     []int
	separator rune
}

func (g *grid) at(row int) string {
	return where(g.name, g.lines[row])
}

func where(name string, line int) string {
	if name == "" {
		return fmt.Sprintf("line %d", line)
	}
	return fmt.Sprintf("%s:%d", name, line)
}

// sheet reads cells.
func sheet(r io.Reader, name string) (*grid, error) {
	place := cmp.Or(name, "the table")
	raw, err := io.ReadAll(io.LimitReader(&lineGuard{r: r, name: name}, mostBytes+1))
	if err != nil {
		var f *fault.Error
		if errors.As(err, &f) {
			return nil, f
		}
		return nil, fault.New(fault.Internal, "reading: %w", err).At("%s", place)
	}
	if len(raw) > mostBytes {
		return nil, fault.New(fault.Invalid, "it is larger than %d MiB", mostBytes>>20).At("%s", place).WithHint("a run table is small; a recording is brought in with import")
	}
	text, err := decode(raw)
	if err != nil {
		return nil, fault.At(err, "%s", place)
	}
	if strings.TrimSpace(text) == "" {
		return nil, fault.New(fault.Invalid, "it is empty").At("%s", place).WithHint("a run table begins with a header line: stint,code,value")
	}
	g := &grid{name: name, separator: separatorOf(text)}
	c := csv.NewReader(strings.NewReader(text))
	c.Comma, c.FieldsPerRecord, c.TrimLeadingSpace = g.separator, -1, g.separator != '\t'
	for {
		rec, err := c.Read()
		if err == io.EOF {
			break
		}
		var bad *csv.ParseError
		if errors.As(err, &bad) {
			return nil, fault.New(fault.Invalid, "the quotes do not match (%s)", bad.Err).At("%s", where(name, bad.StartLine)).WithHint("a quote within quoted text is written twice")
		}
		if err != nil {
			return nil, fault.New(fault.Internal, "reading: %w", err).At("%s", place)
		}
		line, _ := c.FieldPos(0)
		empty := true
		for i := range rec {
			rec[i] = strings.TrimSpace(rec[i])
			empty = empty && rec[i] == ""
		}
		if empty {
			continue // a line of separators that a spreadsheet left behind
		}
		if g.header == nil {
			for len(rec) > 0 && rec[len(rec)-1] == "" {
				rec = rec[:len(rec)-1]
			}
			g.header, g.head = rec, line
			continue
		}
		for len(rec) > len(g.header) && rec[len(rec)-1] == "" {
			rec = rec[:len(rec)-1]
		}
		if len(rec) != len(g.header) {
			f := fault.New(fault.Invalid, "the line has %d of %d columns", len(rec), len(g.header)).At("%s", where(name, line))
			if len(rec) > len(g.header) {
				return nil, f.WithHint("a decimal comma where commas separate columns? Separate them with semicolons")
			}
			return nil, f.WithHint("is the line cut off? Every line has a cell for each column, if need be an empty one")
		}
		g.rows, g.lines = append(g.rows, rec), append(g.lines, line)
		if len(g.rows) > mostRows {
			return nil, fault.New(fault.Invalid, "it has more than %d lines", mostRows).At("%s", place).WithHint("a run table is small; a recording is brought in with import")
		}
	}
	if len(g.rows) == 0 {
		return nil, fault.New(fault.Invalid, "there is a header line, but nothing below it").At("%s", place).WithHint("write one run a line")
	}
	seen := map[string]bool{}
	for _, h := range g.header {
		if h == "" {
			return nil, fault.New(fault.Invalid, "a column has no name").At("%s", where(name, g.head)).WithHint("the first line names the columns")
		}
		if seen[fold(h)] {
			return nil, fault.New(fault.Invalid, "two columns are named %q", h).At("%s", where(name, g.head)).WithHint("rename one of them")
		}
		seen[fold(h)] = true
	}
	return g, nil
}

// lineGuard stops a reader whose line grows without an end.
type lineGuard struct {
	r    io.Reader
	name string
	line int
	size int
}

func (g *lineGuard) Read(p []byte) (int, error) {
	n, err := g.r.Read(p)
	for rest := p[:n]; ; {
		i := bytes.IndexAny(rest, "\r\n")
		if i < 0 {
			g.size += len(rest)
			break
		}
		g.size += i
		if g.size > mostLine {
			break
		}
		if rest[i] == '\n' {
			g.line++
		}
		g.size, rest = 0, rest[i+1:]
	}
	if g.size > mostLine {
		return 0, fault.New(fault.Invalid, "the line is longer than %d MiB", mostLine>>20).At("%s", where(g.name, g.line+1)).WithHint("is this a table of text?")
	}
	return n, err
}

// decode gives text as UTF-8.
func decode(raw []byte) (string, error) {
	switch {
	case bytes.HasPrefix(raw, []byte{0xEF, 0xBB, 0xBF}):
		raw = raw[3:]
	case bytes.HasPrefix(raw, []byte{0xFF, 0xFE}), bytes.HasPrefix(raw, []byte{0xFE, 0xFF}):
		big := raw[0] == 0xFE
		raw = raw[2:]
		u := make([]uint16, 0, len(raw)/2)
		for i := 0; i+1 < len(raw); i += 2 {
			if big {
				u = append(u, uint16(raw[i])<<8|uint16(raw[i+1]))
			} else {
				u = append(u, uint16(raw[i+1])<<8|uint16(raw[i]))
			}
		}
		raw = []byte(string(utf16.Decode(u)))
	}
	if bytes.IndexByte(raw, 0) >= 0 {
		return "", fault.New(fault.Invalid, "it is no text").WithHint("save the sheet as CSV; a recording is brought in with import")
	}
	text := string(raw)
	if !utf8.ValidString(text) {
		var b strings.Builder
		for _, c := range raw {
			b.WriteRune(rune(c)) // Latin-1
		}
		text = b.String()
	}
	// A lone carriage return ends a line, as old spreadsheets write it.
	return strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n"), nil
}

// separatorOf finds what separates the columns of the header line.
func separatorOf(text string) rune {
	line, _, _ := strings.Cut(strings.TrimLeft(text, "\n"), "\n")
	quoted := false
	var tabs, semicolons int
	for _, c := range line {
		switch c {
		case '"':
			quoted = !quoted
		case '\t':
			if !quoted {
				tabs++
			}
		case ';':
			if !quoted {
				semicolons++
			}
		}
	}
	switch {
	case tabs > 0:
		return '\t'
	case semicolons > 0:
		return ';'
	}
	return ','
}

func fold(s string) string { return strings.ToLower(strings.TrimSpace(s)) }

// column is one column that a table has.
type column struct {
	at   int // -1: none
	name string
	unit unit.Unit
}

// stated splits a column's name into its stem and the unit that it ends in, as
// people write it: value_m, value (km/h), Value [s].
func stated(header string) (stem string, u unit.Unit, ok bool) {
	h := strings.TrimSpace(header)
	for _, pair := range []string{"()", "[]"} {
		if i := strings.LastIndexByte(h, pair[0]); i > 0 && h[len(h)-1] == pair[1] {
			if u, ok = unit.Known(strings.TrimSpace(h[i+1 : len(h)-1])); ok {
				return strings.TrimSpace(h[:i]), u, true
			}
		}
	}
	if i := strings.LastIndexByte(h, '_'); i > 0 && strings.Contains(h[i:], "/") { // value_km/h
		if u, ok = unit.Known(h[i+1:]); ok {
			return h[:i], u, true
		}
	}
	return unit.SplitName(fold(h))
}

// decimals counts the digits behind the decimal sign of a value as typed.
func decimals(cell string) int {
	if strings.ContainsAny(cell, "eE") {
		return 0
	}
	if i := strings.LastIndexAny(cell, ".,"); i >= 0 {
		return len(cell) - i - 1
	}
	return 0
}

// find gives the column that stands for a name of ours.
func (g *grid) find(ours string, rename map[string]string) (column, error) {
	want, renamed := rename[ours]
	if !renamed {
		want = ours
	}
	for i, h := range g.header {
		if fold(h) == fold(want) {
			c := column{at: i, name: h}
			if _, u, ok := stated(h); ok && renamed && (ours == "value" || ours == "use") {
				c.unit = u
			}
			return c, nil
		}
	}
	for i, h := range g.header {
		if stem, u, ok := stated(h); ok && fold(stem) == fold(want) && (ours == "value" || ours == "use") {
			return column{i, h, u}, nil
		}
	}
	if ours == "value" && !renamed {
		for _, h := range g.header {
			stem, rest, ok := strings.Cut(h, "(")
			if !ok || fold(strings.TrimSpace(stem)) != fold(want) || !strings.HasSuffix(strings.TrimSpace(rest), ")") {
				continue
			}
			_, err := unit.Parse(strings.TrimSuffix(strings.TrimSpace(rest), ")"))
			if err == nil {
				continue
			}
			return column{at: -1}, fault.At(err, "%s: column %s", where(g.name, g.head), h)
		}
	}
	if renamed {
		return column{at: -1}, fault.New(fault.NotFound, "there is no column %q, which is to be the %s", want, ours).
			At("%s", cmp.Or(g.name, "the table")).WithHint("its columns are %s", strings.Join(g.header, ", "))
	}
	return column{at: -1}, nil
}

// number reads a cell.
func (g *grid) number(row, col int) (float64, error) {
	cell := g.rows[row][col]
	v, why := parse(cell, g.separator != ',')
	if why != "" {
		f := fault.New(fault.Invalid, "column %s: %q %s", g.header[col], short(cell), why).At("%s", g.at(row))
		switch {
		case why == notFinite:
			return 0, f.WithHint("leave the cell empty, or the line out, where there is no value")
		case strings.Contains(cell, ",") && g.separator == ',':
			return 0, f.WithHint("with a decimal comma the columns are separated by semicolons")
		}
		if !strings.ContainsAny(cell, "0123456789") {
			return 0, f.WithHint("leave the line out where there is no value, or leave the cell empty and give the reason in a column excluded")
		}
		return 0, f.WithHint("write a number alone; its unit belongs into the column's name: value_m")
	}
	return v, nil
}

const (
	notFinite = "is not finite"
	noNumber  = "is no number"
)

func parse(cell string, comma bool) (v float64, why string) {
	s := strings.Replace(cell, "−", "-", 1)
	if comma && strings.Count(s, ",") == 1 && !strings.Contains(s, ".") {
		s = strings.Replace(s, ",", ".", 1)
	}
	switch strings.ToLower(strings.TrimLeft(s, "+-")) {
	case "nan", "inf", "infinity":
		return 0, notFinite
	}
	if strings.ContainsAny(s, "xXpP_") { // ParseFloat reads them; people do not write them
		return 0, noNumber
	}
	v, err := strconv.ParseFloat(s, 64)
	switch {
	case errors.Is(err, strconv.ErrRange) && math.IsInf(v, 0):
		return 0, notFinite
	case err != nil && !errors.Is(err, strconv.ErrRange):
		return 0, noNumber
	}
	if v == 0 {
		v = 0 // no negative zero
	}
	return v, ""
}

// watch looks for times in the column of values as a stopwatch shows them. A
// column that states no unit and holds one, with no column that names several
// measures, is in seconds: 59.8 stands beside 1:00.2 there.
func (g *grid) watch(col map[string]column) error {
	c, ok := col["value"]
	if !ok || c.at < 0 {
		return nil
	}
	for i := range g.rows {
		if _, ok := watched(g.rows[i][c.at], g.separator != ','); !ok {
			continue
		}
		if c.unit.IsZero() && col["measure"].at < 0 {
			c.unit = unit.Second
			col["value"] = c
		}
		if !c.unit.IsZero() && c.unit != unit.Second {
			return fault.New(fault.Invalid, "column %s: %q is a time, and the column is in %s", g.header[c.at], short(g.rows[i][c.at]), c.unit).
				At("%s", g.at(i)).WithHint("minutes and seconds (1:23.45) belong into a column in s")
		}
	}
	return nil
}

// watched reads a time as a stopwatch shows it, in s: 1:23.45, or 1:02:03.4 with
// hours in front. Minutes behind hours, and seconds, have two digits and are
// below 60.
func watched(cell string, comma bool) (s float64, ok bool) {
	parts := strings.Split(cell, ":")
	if len(parts) < 2 || len(parts) > 3 {
		return 0, false
	}
	last := len(parts) - 1
	if comma && !strings.Contains(parts[last], ".") {
		parts[last] = strings.Replace(parts[last], ",", ".", 1)
	}
	whole := 0
	for i, p := range parts {
		digits, part, fraction := strings.Cut(p, ".")
		if fraction && (i != last || part == "" || !allDigits(part)) || !allDigits(digits) || len(digits) > 4 || i > 0 && len(digits) != 2 {
			return 0, false
		}
		n, _ := strconv.Atoi(digits) // at most four digits
		if i > 0 && n >= 60 {
			return 0, false
		}
		whole = 60*whole + n
	}
	_, part, _ := strings.Cut(parts[last], ".")
	s, err := strconv.ParseFloat(strconv.Itoa(whole)+"."+part+"0", 64) // as if it had been typed in seconds
	return s, err == nil
}

func allDigits(s string) bool {
	return s != "" && strings.Trim(s, "0123456789") == ""
}

func short(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return s
}

// Read reads a run or observation table.
func Read(r io.Reader, o Options) (*Table, error) {
	g, err := sheet(r, o.Name)
	if err != nil {
		return nil, err
	}
	for _, ours := range slices.Sorted(maps.Keys(o.Columns)) {
		if !slices.Contains(known, ours) {
			return nil, fault.New(fault.Invalid, "there is no column %q to be renamed to", ours).WithHint("the names are %s", strings.Join(known, ", "))
		}
	}
	col := map[string]column{}
	taken := map[int]bool{}
	for _, ours := range known {
		c, err := g.find(ours, o.Columns)
		if err != nil {
			return nil, err
		}
		col[ours] = c
		if c.at >= 0 {
			taken[c.at] = true
		}
	}
	if o.EachRowAStint && o.Columns["stint"] == "" {
		col["stint"] = column{at: -1}
	}
	for _, need := range []string{"stint", "code", "value"} {
		if col[need].at >= 0 || need == "stint" && o.EachRowAStint || need == "value" && o.RunsAlone {
			continue
		}
		f := fault.New(fault.Invalid, "there is no column %s", need).At("%s", where(o.Name, g.head))
		hint := "its columns are " + strings.Join(g.header, ", ") + "; say which one it is with --columns " + need + "=NAME"
		if need == "stint" {
			hint += ", or that every line is a stint of its own"
		}
		return nil, f.WithHint("%s", hint)
	}
	t := &Table{Columns: g.header, Separator: g.separator, Cells: map[string][]string{}, Lines: g.lines}
	for j, h := range g.header {
		for i := range g.rows {
			t.Cells[h] = append(t.Cells[h], g.rows[i][j])
			t.Comma = t.Comma || g.separator != ',' && strings.Contains(g.rows[i][j], ",") && isNumber(g.rows[i][j], true)
		}
	}
	if err := g.watch(col); err != nil {
		return nil, err
	}
	if u := col["value"].unit; !u.IsZero() {
		t.Unit, t.Typed = u.House().String(), u.String()
	}
	if err := t.fill(g, col, taken, o); err != nil {
		return nil, err
	}
	return t, nil
}

func isNumber(cell string, comma bool) bool {
	_, why := parse(cell, comma)
	return why == ""
}

// covariate is a column of numbers without a meaning of its own.
type covariate struct {
	at   int
	name string
	unit unit.Unit
}

func (g *grid) covariates(taken map[int]bool) ([]covariate, error) {
	var out []covariate
	for j, h := range g.header {
		if taken[j] {
			continue
		}
		numbers, bad := 0, -1
		text := false
		for i := range g.rows {
			cell := g.rows[i][j]
			if cell == "" {
				continue
			}
			switch _, why := parse(cell, g.separator != ','); why {
			case "":
				numbers++
			case notFinite:
				bad = i
			default:
				text = true
			}
		}
		if text || numbers == 0 {
			continue
		}
		if bad >= 0 {
			_, err := g.number(bad, j)
			return nil, err
		}
		c := covariate{at: j, name: fold(h)}
		if stem, u, ok := unit.SplitName(c.name); ok && u.House().Key() != "" { // shares and counts stay as typed
			c.unit = u
			if u.House().Key() != u.Key() {
				c.name = stem + "_" + u.House().Key()
			}
		}
		out = append(out, c)
	}
	for i := range out {
		for j := range i {
			if out[i].name == out[j].name {
				return nil, fault.New(fault.Invalid, "columns %s and %s are the same covariate in two units", g.header[out[j].at], g.header[out[i].at]).
					At("%s", where(g.name, g.head)).WithHint("leave one out")
			}
		}
	}
	return out, nil
}

// fill makes the log of the cells.
func (t *Table) fill(g *grid, col map[string]column, taken map[int]bool, o Options) error {
	covariates, err := g.covariates(taken)
	if err != nil {
		return err
	}
	cell := func(i int, ours string) string {
		if c := col[ours]; c.at >= 0 {
			return g.rows[i][c.at]
		}
		return ""
	}
	ordered := col["position"].at >= 0 || col["clock"].at >= 0
	clocks, err := g.clocks(col["clock"].at, o.Zone, &t.Log.Caveats)
	if err != nil {
		return err
	}
	type stintData struct {
		at        int // in Log.Stints
		positions []float64
		clocks    map[string]float64 // by run
		runs      int
	}
	stints := map[string]*stintData{}
	runAt := map[string]int{}
	counts := map[[5]string]int{}  // runs counted where no run column says
	last := map[[3]string]string{} // the stint before, by measure, place and rater
	left := map[[4]string]bool{}
	seen := map[[4]string]int{}
	for i := range g.rows {
		line := g.lines[i]
		bad := func(ours, format string, args ...any) *fault.Error {
			e := fault.New(fault.Invalid, format, args...)
			if c := col[ours]; c.at >= 0 {
				e.What = "column " + g.header[c.at] + ": " + e.What
			}
			return e.At("%s", g.at(i))
		}
		id := cell(i, "stint")
		if o.EachRowAStint && col["stint"].at < 0 {
			id = strconv.Itoa(i + 1)
		}
		if id == "" {
			return bad("stint", "no stint is named").WithHint("every run belongs to a stint: one set, fitted once")
		}
		code := cell(i, "code")
		if code == "" {
			return bad("code", "stint %s has no code", short(id)).WithHint("the code says which set was driven")
		}
		measure := cmp.Or(cell(i, "measure"), o.Measure, "value")
		place, rater := cell(i, "place"), cell(i, "rater")
		series := [3]string{measure, place, rater}
		if col["value"].at >= 0 && !slices.Contains(t.Measures, measure) {
			t.Measures = append(t.Measures, measure)
		}

		s := stints[id]
		if s == nil {
			s = &stintData{at: len(t.Log.Stints), clocks: map[string]float64{}}
			stints[id] = s
			st := programme.Stint{ID: id, Code: code, Set: cell(i, "set"), Block: cell(i, "block"), Driver: cell(i, "driver"), Line: line, File: o.Name}
			st.Break = isYes(cell(i, "break"))
			t.Log.Stints = append(t.Log.Stints, st)
		}
		st := &t.Log.Stints[s.at]
		for _, same := range []struct{ ours, was, is string }{
			{"code", st.Code, code}, {"set", st.Set, cell(i, "set")}, {"block", st.Block, cell(i, "block")}, {"driver", st.Driver, cell(i, "driver")},
		} {
			if same.is == "" { // a cell left empty below the first
				continue
			}
			if same.was != same.is {
				return bad(same.ours, "stint %s has %s %q here but %q in line %d", short(id), same.ours, short(same.is), short(same.was), st.Line).
					WithHint("a stint is one set, fitted once: give each fitting an id of its own")
			}
		}
		if isYes(cell(i, "break")) && !st.Break {
			return bad("break", "stint %s has a break before a run other than its first", short(id)).WithHint("a break lies before a stint: write it in the stint's first line")
		}
		if c := col["use"]; c.at >= 0 && cell(i, "use") != "" {
			v, err := g.number(i, c.at)
			if err != nil {
				return err
			}
			if !c.unit.IsZero() {
				if c.unit.Dimension() != unit.Length {
					return bad("use", "what a set has run is a length, not in %s", c.unit).WithHint("name the column use_km")
				}
				v = c.unit.ToHouse(v)
			}
			if st.UseM != nil && *st.UseM != v {
				return bad("use", "stint %s has two values", short(id)).WithHint("write what the set had run when it was fitted")
			}
			st.UseM = &v
		}
		if !ordered {
			if last[series] != id {
				if left[[4]string{measure, place, rater, id}] {
					return bad("stint", "stint %s comes back after stint %s", short(id), short(last[series])).
						WithHint("a set that is fitted again is a new stint with an id of its own; or add a column position")
				}
				left[[4]string{measure, place, rater, last[series]}] = true
				last[series] = id
			}
		}
		if c := col["position"].at; c >= 0 {
			v, err := g.number(i, c)
			if err != nil {
				return err
			}
			s.positions = append(s.positions, v)
		}

		name := cell(i, "run")
		if name == "" {
			if col["run"].at >= 0 {
				return bad("run", "stint %s has a run without a name", short(id)).WithHint("number the runs of a stint from 1")
			}
			key := [5]string{id, measure, place, rater, ""}
			counts[key]++
			name = strconv.Itoa(counts[key])
		}
		runID := id + "/" + name
		k, ok := runAt[runID]
		if !ok {
			k = len(t.Log.Runs)
			runAt[runID] = k
			s.runs++
			run := programme.Run{ID: runID, Stint: id, Number: s.runs, Line: line, File: o.Name, Remark: cell(i, "remark")}
			if n, err := strconv.Atoi(name); err == nil && n > 0 {
				run.Number = n
			}
			t.Log.Runs = append(t.Log.Runs, run)
		}
		run := &t.Log.Runs[k]
		for _, c := range covariates {
			if g.rows[i][c.at] == "" {
				continue
			}
			v, err := g.number(i, c.at)
			if err != nil {
				return err
			}
			if !c.unit.IsZero() {
				v = c.unit.ToHouse(v)
			}
			if run.Covariates == nil {
				run.Covariates = map[string]float64{}
			}
			if was, ok := run.Covariates[c.name]; ok && was != v {
				return fault.New(fault.Invalid, "column %s: run %s has another value here than in line %d", g.header[c.at], short(runID), run.Line).
					At("%s", g.at(i)).WithHint("a covariate belongs to the run, whatever is measured")
			}
			run.Covariates[c.name] = v
		}
		if clocks != nil && clocks[i].ok {
			if was, ok := s.clocks[runID]; ok && was != clocks[i].seconds {
				return bad("clock", "run %s has another time here than in line %d", short(runID), run.Line).WithHint("the clock says when the run began, whatever is measured")
			}
			s.clocks[runID] = clocks[i].seconds
			run.At = clocks[i].instant
		}
		why := cell(i, "excluded")
		switch fold(why) {
		case "no", "n", "0", "false", "-":
			why = ""
		case "yes", "y", "1", "true", "x":
			return bad("excluded", "%q says that the run is left out, but not why", why).WithHint("write the reason: traffic, missed gear, puddle")
		}
		key := [4]string{runID, measure, place, rater}
		if at, twice := seen[key]; twice {
			return bad("run", "run %s stands in line %d already", short(runID), at).WithHint("number the runs of a stint from 1, each once")
		}
		seen[key] = line
		if cell(i, "value") == "" {
			if why == "" && !o.RunsAlone {
				return bad("value", "run %s has no value", short(runID)).WithHint("leave the line out, or give the reason in a column excluded")
			}
		} else {
			t.Decimals = max(t.Decimals, decimals(cell(i, "value")))
			v, ok := watched(cell(i, "value"), g.separator != ',')
			if !ok {
				var err error
				if v, err = g.number(i, col["value"].at); err != nil {
					return err
				}
			}
			if u := col["value"].unit; !u.IsZero() {
				v = u.ToHouse(v)
			}
			t.Log.Observations = append(t.Log.Observations, programme.Observation{Run: runID, Measure: measure, Place: place, Rater: rater, Value: v})
		}
		if why != "" {
			x := programme.Exclusion{Run: runID, Reason: why}
			if col["measure"].at >= 0 {
				x.Measure = measure
			}
			if !slices.Contains(t.Log.Exclusions, x) {
				t.Log.Exclusions = append(t.Log.Exclusions, x)
			}
		}
		t.Runs = append(t.Runs, runID)
		t.stintOf = append(t.stintOf, id)
	}
	if len(t.Log.Observations) == 0 && !o.RunsAlone {
		return fault.New(fault.Invalid, "no line has a value").At("%s", cmp.Or(o.Name, "the table")).WithHint("the column %s holds the result of each run", g.header[col["value"].at])
	}

	// Where each stint stands.
	for i := range t.Log.Stints {
		st := &t.Log.Stints[i]
		s := stints[st.ID]
		if len(s.clocks) > 0 {
			m, first, same := 0.0, math.Inf(-1), true
			for _, r := range slices.Sorted(maps.Keys(s.clocks)) {
				m += s.clocks[r] / float64(len(s.clocks))
				first, same = s.clocks[r], same && (first == s.clocks[r] || first == math.Inf(-1))
			}
			if same {
				m = first
			}
			st.ClockS = &m
		}
		switch {
		case len(s.positions) > 0:
			m := 0.0
			for _, p := range s.positions {
				m += p / float64(len(s.positions))
			}
			if slices.Min(s.positions) == slices.Max(s.positions) {
				m = s.positions[0]
			}
			st.Position = m
		case col["clock"].at >= 0 && st.ClockS == nil:
			return fault.New(fault.Invalid, "column %s: stint %s has no time, and there is no position", g.header[col["clock"].at], short(st.ID)).
				At("%s", where(o.Name, st.Line)).WithHint("fill the clock in, or add a column position")
		}
	}
	byClock := col["position"].at < 0 && col["clock"].at >= 0
	slices.SortStableFunc(t.Log.Stints, func(a, b programme.Stint) int {
		if byClock {
			return cmp.Compare(*a.ClockS, *b.ClockS)
		}
		return cmp.Compare(a.Position, b.Position)
	})
	if col["position"].at < 0 {
		for i := range t.Log.Stints {
			t.Log.Stints[i].Position = float64(i + 1)
		}
	}
	return nil
}

func isYes(cell string) bool {
	switch fold(cell) {
	case "", "0", "no", "n", "false", "-":
		return false
	}
	return true
}

type moment struct {
	ok      bool
	seconds float64
	instant clock.Instant
}

// clocks reads a clock column, all cells in one form. A time of day that falls
// back by more than half a day has passed midnight.
func (g *grid) clocks(col int, zone *time.Location, caveats *caveat.List) ([]moment, error) {
	if col < 0 {
		return nil, nil
	}
	out := make([]moment, len(g.rows))
	form, days, before := "", 0.0, math.Inf(-1)
	for i := range g.rows {
		cell := g.rows[i][col]
		if cell == "" {
			continue
		}
		m, f, ok := parseClock(cell, g.separator != ',', zone)
		if !ok {
			return nil, fault.New(fault.Invalid, "column %s: %q is no time", g.header[col], short(cell)).At("%s", g.at(i)).
				WithHint("write 14:05, 14:05:30, 2026-05-04T14:05:30+02:00, or seconds")
		}
		if form == "" {
			form = f
		}
		if f != form {
			return nil, fault.New(fault.Invalid, "column %s: %q is %s, but the times above are %s", g.header[col], short(cell), f, form).At("%s", g.at(i)).
				WithHint("write all times in one form")
		}
		if form == ofDay {
			if m.seconds+86400*days < before-43200 {
				days++
				caveats.Add("past_midnight", caveat.Place{File: g.name, Line: g.lines[i]}, "The clock falls back to %s: it is taken to have passed midnight.", cell)
			}
			m.seconds += 86400 * days
			before = max(before, m.seconds)
		}
		m.ok = true
		out[i] = m
	}
	return out, nil
}

// Forms of clock times.
const (
	ofDay   = "a time of day"
	seconds = "a number of seconds"
	zoned   = "a date and time with a zone"
	local   = "a date and time without a zone"
)

func parseClock(cell string, comma bool, zone *time.Location) (m moment, form string, ok bool) {
	if v, why := parse(cell, comma); why == "" {
		if math.Abs(v) > 1e15 {
			return m, "", false
		}
		m.seconds = v
		return m, seconds, true
	}
	s := cell
	if comma {
		s = strings.Replace(s, ",", ".", 1)
	}
	for _, layout := range []string{"15:04", "15:04:05"} {
		if at, err := time.Parse(layout, s); err == nil {
			m.seconds = float64(at.Hour()*3600+at.Minute()*60+at.Second()) + float64(at.Nanosecond())/1e9
			return m, ofDay, true
		}
	}
	s = strings.Replace(s, " ", "T", 1)
	for _, layout := range []string{"2006-01-02T15:04:05Z07:00", "2006-01-02T15:04Z07:00", "2006-01-02T15:04:05Z0700"} {
		if at, err := time.Parse(layout, s); err == nil {
			return m.of(at, true), zoned, true
		}
	}
	for _, layout := range []string{"2006-01-02T15:04:05", "2006-01-02T15:04"} {
		in := zone
		if in == nil {
			in = time.UTC
		}
		if at, err := time.ParseInLocation(layout, s, in); err == nil {
			return m.of(at, zone != nil), local, true
		}
	}
	return m, "", false
}

// of takes a moment from a time; the years 1678 to 2262 fit nanoseconds.
func (m moment) of(at time.Time, absolute bool) moment {
	m.seconds = float64(at.Unix()) + float64(at.Nanosecond())/1e9
	if absolute && at.Year() > 1678 && at.Year() < 2262 {
		m.instant = clock.Instant{UnixNS: at.UnixNano(), Clock: clock.Typed}
	}
	return m
}

// InBlocks gives the log with the column named as the block of each stint: a
// day, a driver, an animal. Every line of a stint must agree.
func (t *Table) InBlocks(name string) (programme.Log, error) {
	at := slices.IndexFunc(t.Columns, func(h string) bool { return fold(h) == fold(name) })
	if at < 0 {
		return programme.Log{}, fault.New(fault.NotFound, "there is no column %q to be the block", name).WithHint("the columns are %s", strings.Join(t.Columns, ", "))
	}
	cells := t.Cells[t.Columns[at]]
	block := map[string]string{}
	for i, s := range t.stintOf {
		was, ok := block[s]
		if ok && was != cells[i] {
			return programme.Log{}, fault.New(fault.Invalid, "column %s: stint %s is in block %q here but in %q above", t.Columns[at], short(s), short(cells[i]), short(was)).
				At("%s", where(t.Log.Stints[0].File, t.Lines[i])).WithHint("a stint lies in one block")
		}
		block[s] = cells[i]
	}
	log := t.Log
	log.Stints = slices.Clone(log.Stints)
	for i := range log.Stints {
		log.Stints[i].Block = block[log.Stints[i].ID]
		if log.Stints[i].Block == "" {
			return programme.Log{}, fault.New(fault.Invalid, "column %s: stint %s has no block", t.Columns[at], short(log.Stints[i].ID)).
				At("%s", where(log.Stints[i].File, log.Stints[i].Line)).WithHint("fill it in for every stint")
		}
	}
	return log, nil
}
