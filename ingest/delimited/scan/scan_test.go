package scan_test

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/ingest/delimited/charset"
	"example.org/bookend/ingest/delimited/dialect"
	"example.org/bookend/ingest/delimited/scan"
	"example.org/bookend/signal"
)

// read reads a text as a table.
func read(src io.Reader, workers int) (*scan.Table, error) {
	text, err := charset.Open(src, "x.csv")
	if err != nil {
		return nil, err
	}
	d, err := dialect.Detect(text.Head, text.Whole, "x.csv", nil)
	if err != nil {
		return nil, err
	}
	return scan.Read(context.Background(), d, text, "x.csv", workers)
}

// The quick path of the block reader gives what strconv gives, too.
// Reference: strconv.ParseFloat, bit for bit.
func TestBlocksGiveTheNumbersOfStrconv(t *testing.T) {
	n := 200_000
	if testing.Short() {
		n = 20_000
	}
	r := rand.New(rand.NewPCG(5, 6))
	var file bytes.Buffer
	file.WriteString("time_s,a,b\n")
	var want [2][]float64
	for i := range n {
		fmt.Fprintf(&file, "%d", i)
		for k := range want {
			var s string
			switch r.IntN(4) {
			case 0:
				s = strconv.FormatFloat(r.NormFloat64()*math.Pow10(r.IntN(10)-3), 'f', r.IntN(14), 64)
			case 1:
				s = strconv.FormatFloat(r.NormFloat64(), 'g', -1, 64)
			case 2:
				s = strconv.FormatUint(r.Uint64(), 10)
			case 3:
				s = strconv.FormatUint(1<<53-4+r.Uint64N(9), 10) + "." + strings.Repeat("0", r.IntN(5))
			}
			v, err := strconv.ParseFloat(s, 64)
			if err != nil {
				t.Fatal(err)
			}
			want[k] = append(want[k], v)
			file.WriteString("," + s)
		}
		file.WriteString("\r\n")
	}
	table, err := read(&file, 2)
	if err != nil {
		t.Fatal(err)
	}
	for k := range want {
		c := table.Numbers(k+1, []signal.Span{{From: 0, To: table.Rows}})
		if len(c.Values) != n || c.Missing != 0 || len(c.Valid) != 1 || c.Valid[0] != (signal.Span{From: 0, To: n}) {
			t.Fatalf("%d values of %d, %d missing, valid %v", len(c.Values), n, c.Missing, c.Valid)
		}
		for i, v := range c.Values {
			if math.Float64bits(v) != math.Float64bits(want[k][i]) {
				t.Fatalf("row %d: %v, strconv gives %v", i, v, want[k][i])
			}
		}
	}
}

// The truth is the table that the lines are written from: which cells hold
// values, in which line each row stands, which lines are odd.
func TestRowsAreThoseThatWereWritten(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 3))
	type row struct {
		line int
		v    float64
		has  bool
	}
	var rows []row
	var file strings.Builder
	file.WriteString("a title\ntime_s;v;note\n")
	odd := map[string][2]int{} // how many, and the first's line
	tell := func(code string, line int) {
		n := odd[code]
		if n[0]++; n[0] == 1 {
			n[1] = line
		}
		odd[code] = n
	}
	for line := 3; line < 40_000; line++ {
		at := float64(len(rows)) / 100
		switch k := r.IntN(200); {
		case line < 100 || k > 10: // the head is in order
			v := float64(r.IntN(2_000_000)-1_000_000) / 128
			rows = append(rows, row{line, v, true})
			fmt.Fprintf(&file, "%v;%v;word\n", at, v)
		case k == 0:
			file.WriteString("\n")
		case k == 1:
			tell("remark_line", line)
			file.WriteString("# a pause; of 1 s\n")
		case k == 2:
			tell("heading_again", line)
			file.WriteString("time_s;v;note\n")
		case k == 3:
			tell("short_line", line)
			rows = append(rows, row{line, 0, false})
			fmt.Fprintf(&file, "%v\n", at)
		case k == 4:
			tell("long_line", line)
			fmt.Fprintf(&file, "%v;1;word;more\n", at)
		case k == 5:
			rows = append(rows, row{line, 12.5, true})
			fmt.Fprintf(&file, " \"%v\" ; \"12.5\" ;\"one; two\"\r\n", at)
		default:
			rows = append(rows, row{line, 0, false})
			fmt.Fprintf(&file, "%v;%s;word\n", at, []string{"", "-", "NaN", "n/a", "null"}[k%5])
		}
	}
	tell("truncated_line", 40_000)
	file.WriteString("400")
	for _, workers := range []int{1, 2, 5} {
		table, err := read(strings.NewReader(file.String()), workers)
		if err != nil {
			t.Fatal(err)
		}
		keep := []signal.Span{{From: 0, To: 7}, {From: 9, To: table.Rows}}
		got := table.Numbers(1, keep)
		stamps := table.Stamps(0)
		if table.Rows != len(rows) || len(stamps) != len(rows) || len(got.Values) != len(rows)-2 {
			t.Fatalf("%d rows, %d stamps, %d values; written were %d", table.Rows, len(stamps), len(got.Values), len(rows))
		}
		missing := 0
		for i, w := range rows {
			if p := table.At(i); p.Line != w.line || p.File != "x.csv" {
				t.Fatalf("row %d stands in %v, written was line %d", i, p, w.line)
			}
			if stamps[i] != int64(i)*1e7 {
				t.Fatalf("row %d has the stamp %d", i, stamps[i])
			}
			k := i
			if i == 7 || i == 8 {
				continue
			} else if i > 8 {
				k = i - 2
			}
			valid := slices.ContainsFunc(got.Valid, func(s signal.Span) bool { return s.From <= k && k < s.To })
			if valid != w.has || math.Float64bits(got.Values[k]) != math.Float64bits(w.v) {
				t.Fatalf("row %d is %v (%v), written was %v (%v)", i, got.Values[k], valid, w.v, w.has)
			}
			if !w.has {
				if missing++; missing == 1 && got.First != k {
					t.Errorf("the first value missing is %d, written was %d", got.First, k)
				}
			}
		}
		if got.Missing != missing {
			t.Errorf("%d values are missing, of those written %d", got.Missing, missing)
		}
		var list caveat.List
		table.Tell(&list)
		if len(list) != len(odd) {
			t.Errorf("caveats %v, want %v", list, odd)
		}
		for _, c := range list {
			if n := odd[c.Code]; c.Place.Line != n[1] || c.Code != "truncated_line" && !strings.Contains(c.Text, fmt.Sprint(n[0])) {
				t.Errorf("%s at line %d: %s; want %v", c.Code, c.Place.Line, c.Text, n)
			}
		}
	}
}

func TestCellsThatAreNoNumbersAreFaults(t *testing.T) {
	for _, c := range []struct{ cell, says string }{
		{"fast", `x.csv:2002: column v [m/s]: "fast" is no number`}, {"1e999", `"1e999" is no finite number`}, {"1,5", `"1,5" is no number`}, {"0x10", `"0x10" is no number`},
	} {
		var b strings.Builder
		b.WriteString("time_s;v [m/s]\n")
		for i := range 3000 {
			v := "1.5"
			if i == 2000 {
				v = c.cell
			}
			fmt.Fprintf(&b, "%d;%s\n", i, v)
		}
		for _, workers := range []int{1, 3} {
			_, err := read(strings.NewReader(b.String()), workers)
			if fault.CodeOf(err) != fault.Invalid || !strings.Contains(err.Error(), c.says) || fault.HintOf(err) == "" {
				t.Errorf("%q gives %v", c.cell, err)
			}
		}
	}
}
