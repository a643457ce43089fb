package table

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

const plain = `stint,code,run,value,water_depth_mm,excluded,surface
1,K,1,36.10,1.0,,dry spot
1,K,2,35.70,1.1,,none
2,P,1,31.60,1.2,,none
2,P,2,31.20,,puddle,none
3,K,1,36.80,0.9,,none
`

func read(t *testing.T, text string, o Options) *Table {
	t.Helper()
	o.Name = "runs.csv"
	x, err := Read(strings.NewReader(text), o)
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	return x
}

func TestPlainTable(t *testing.T) {
	x := read(t, plain, Options{})
	if n := len(x.Log.Stints); n != 3 {
		t.Fatalf("%d stints", n)
	}
	if s := x.Log.Stints[1]; s.ID != "2" || s.Code != "P" || s.Position != 2 || s.Line != 4 || s.File != "runs.csv" {
		t.Errorf("stint: %+v", s)
	}
	if r := x.Log.Runs[1]; r.ID != "1/2" || r.Number != 2 || r.Line != 3 || r.Covariates["water_depth_m"] != 0.0011 {
		t.Errorf("run: %+v", r)
	}
	if _, ok := x.Log.Runs[3].Covariates["water_depth_m"]; ok {
		t.Error("an empty cell became a covariate")
	}
	if o := x.Log.Observations[2]; o.Run != "2/1" || o.Measure != "value" || o.Value != 31.6 {
		t.Errorf("observation: %+v", o)
	}
	if want := []programme.Exclusion{{Run: "2/2", Reason: "puddle"}}; !reflect.DeepEqual(x.Log.Exclusions, want) {
		t.Errorf("exclusions: %v", x.Log.Exclusions)
	}
	if got := x.Cells["surface"][0]; got != "dry spot" {
		t.Errorf("text column: %q", got)
	}
}

// The same table in every dialect is the same log.
func TestDialects(t *testing.T) {
	want := read(t, plain, Options{}).Log
	comma := strings.ReplaceAll(plain, ",", ";")
	comma = strings.ReplaceAll(comma, ".", ",")
	sixteen := func(s string, big bool) string {
		var b []byte
		for _, u := range append([]uint16{0xFEFF}, utf16.Encode([]rune(s))...) {
			if big {
				b = append(b, byte(u>>8), byte(u))
			} else {
				b = append(b, byte(u), byte(u>>8))
			}
		}
		return string(b)
	}
	for name, text := range map[string]string{
		"semicolon and decimal comma": comma,
		"semicolon and decimal point": strings.ReplaceAll(plain, ",", ";"),
		"tab":                         strings.ReplaceAll(plain, ",", "\t"),
		"byte order mark":             "\uFEFF" + plain,
		"CRLF":                        strings.ReplaceAll(plain, "\n", "\r\n"),
		"lone CR":                     strings.ReplaceAll(plain, "\n", "\r"),
		"UTF-16 little":               sixteen(plain, false),
		"UTF-16 big":                  sixteen(plain, true),
		"no final newline":            strings.TrimSuffix(plain, "\n"),
		"quoted":                      strings.ReplaceAll(plain, "puddle", `"puddle"`),
		"blanks around":               strings.ReplaceAll(plain, ",", " , "),
		"upper-case header":           strings.Replace(plain, "stint,code", "Stint,CODE", 1),
		"trailing separators":         strings.ReplaceAll(plain, "\n", ",,\n"),
	} {
		got := read(t, text, Options{}).Log
		if !reflect.DeepEqual(want, got) {
			t.Errorf("%s:\n%+v\nwant\n%+v", name, got, want)
		}
	}
	x := read(t, "stint,code,value,remark\n1,K,2,na\xDF\n2,P,3,\n", Options{})
	if x.Log.Runs[0].Remark != "naß" {
		t.Errorf("Latin-1 gave %q", x.Log.Runs[0].Remark)
	}
}

// Every fault names file, line and column, and says what to do.
func TestFaults(t *testing.T) {
	for _, c := range []struct {
		name, text string
		o          Options
		code       fault.Code
		says       []string
	}{
		{"empty", "", Options{}, fault.Invalid, []string{"runs.csv", "empty"}},
		{"blank", " \n\n", Options{}, fault.Invalid, []string{"runs.csv", "empty"}},
		{"header alone", "stint,code,value\n", Options{}, fault.Invalid, []string{"runs.csv", "nothing below"}},
		{"binary", "PK\x03\x04\x00\x00", Options{}, fault.Invalid, []string{"runs.csv", "no text"}},
		{"text in a number", "stint,code,value\n1,K,36.1\n1,K,36.1 m\n", Options{}, fault.Invalid, []string{"runs.csv:3", "column value", `"36.1 m"`}},
		{"decimal comma among commas", "stint,code,value\n1,K,36,1\n", Options{}, fault.Invalid, []string{"runs.csv:2", "4 of 3"}},
		{"quoted decimal comma", "stint,code,value\n1,K,\"36,1\"\n", Options{}, fault.Invalid, []string{"runs.csv:2", "column value"}},
		{"cut off", "stint,code,value\n1,K,36.1\n2,P", Options{}, fault.Invalid, []string{"runs.csv:3", "2 of 3"}},
		{"twice the run", "stint,code,run,value\n1,K,1,36.1\n1,K,1,36.2\n", Options{}, fault.Invalid, []string{"runs.csv:3", "column run", "line 2"}},
		{"not a number", "stint,code,value\n1,K,NaN\n", Options{}, fault.Invalid, []string{"runs.csv:2", "column value", "not finite"}},
		{"infinity", "stint,code,value\n1,K,-Inf\n", Options{}, fault.Invalid, []string{"runs.csv:2", "not finite"}},
		{"beyond", "stint,code,value\n1,K,1e999\n", Options{}, fault.Invalid, []string{"runs.csv:2", "not finite"}},
		{"infinite covariate", "stint,code,value,wind\n1,K,1,3\n1,K,1,inf\n", Options{}, fault.Invalid, []string{"runs.csv:3", "column wind"}},
		{"code changes", "stint,code,value\n1,K,1\n1,P,1\n", Options{}, fault.Invalid, []string{"runs.csv:3", "column code", `"P"`, `"K"`}},
		{"stint comes back", "stint,code,value\n1,K,1\n2,P,1\n1,K,1\n", Options{}, fault.Invalid, []string{"runs.csv:4", "column stint", "comes back"}},
		{"no value", "stint,code,value\n1,K,\n", Options{}, fault.Invalid, []string{"runs.csv:2", "column value"}},
		{"no value at all", "stint,code,value,excluded\n1,K,,fog\n", Options{}, fault.Invalid, []string{"runs.csv", "no line has a value"}},
		{"no stint column", "code,value\nK,1\n", Options{}, fault.Invalid, []string{"runs.csv:1", "no column stint"}},
		{"no value column", "stint,code,time\n1,K,1\n", Options{}, fault.Invalid, []string{"runs.csv:1", "no column value"}},
		{"renamed to nothing", "stint,code,value\n1,K,1\n", Options{Columns: map[string]string{"code": "trt"}}, fault.NotFound, []string{`"trt"`}},
		{"unknown name", "stint,code,value\n1,K,1\n", Options{Columns: map[string]string{"tyre": "code"}}, fault.Invalid, []string{`"tyre"`}},
		{"no stint", "stint,code,value\n,K,1\n", Options{}, fault.Invalid, []string{"runs.csv:2", "column stint"}},
		{"no code", "stint,code,value\n1,,1\n", Options{}, fault.Invalid, []string{"runs.csv:2", "column code"}},
		{"no time", "stint,code,value,clock\n1,K,1,half past\n", Options{}, fault.Invalid, []string{"runs.csv:2", "column clock"}},
		{"two forms of time", "stint,code,value,clock\n1,K,1,09:00\n2,P,1,3600\n", Options{}, fault.Invalid, []string{"runs.csv:3", "one form|seconds"}},
		{"exclusion without reason", "stint,code,value,excluded\n1,K,1,yes\n", Options{}, fault.Invalid, []string{"runs.csv:2", "not why"}},
		{"nameless column", "stint,code,,value\n1,K,x,1\n", Options{}, fault.Invalid, []string{"runs.csv:1"}},
		{"column twice", "stint,code,value,Value\n1,K,1,1\n", Options{}, fault.Invalid, []string{"runs.csv:1"}},
		{"quotes", "stint,code,value\n1,\"K,1\n", Options{}, fault.Invalid, []string{"runs.csv:2", "quotes"}},
		{"hexadecimal", "stint,code,value\n1,K,0x10\n", Options{}, fault.Invalid, []string{"runs.csv:2"}},
	} {
		c.o.Name = "runs.csv"
		_, err := Read(strings.NewReader(c.text), c.o)
		if fault.CodeOf(err) != c.code || fault.HintOf(err) == "" {
			t.Errorf("%s: code %q, hint %q: %v", c.name, fault.CodeOf(err), fault.HintOf(err), err)
			continue
		}
		for _, w := range c.says {
			found := false
			for _, one := range strings.Split(w, "|") {
				found = found || strings.Contains(err.Error()+" "+fault.HintOf(err), one)
			}
			if !found {
				t.Errorf("%s: %v does not say %q", c.name, err, w)
			}
		}
	}
}

// endless gives a line that never ends.
type endless struct{}

func (endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = '7'
	}
	return len(p), nil
}

func TestEndlessLineAndBrokenReader(t *testing.T) {
	_, err := Read(io.MultiReader(strings.NewReader("stint,code,value\n1,K,"), endless{}), Options{Name: "runs.csv"})
	if fault.CodeOf(err) != fault.Invalid || !strings.Contains(err.Error(), "runs.csv:2") {
		t.Errorf("a line without an end: %v", err)
	}
	broken := errors.New("cable")
	if _, err := Read(io.MultiReader(strings.NewReader("stint"), brokenReader{broken}), Options{}); !errors.Is(err, broken) {
		t.Errorf("a broken reader: %v", err)
	}
}

type brokenReader struct{ err error }

func (b brokenReader) Read([]byte) (int, error) { return 0, b.err }

func TestClocks(t *testing.T) {
	x := read(t, "stint,code,value,clock\n1,K,1,09:00\n1,K,2,09:10\n2,P,1,09:30:30\n3,K,1,23:50\n4,P,1,00:10\n", Options{})
	var got []float64
	for _, s := range x.Log.Stints {
		got = append(got, *s.ClockS)
	}
	if want := []float64{32700, 34230, 85800, 87000}; !reflect.DeepEqual(got, want) {
		t.Errorf("clocks %v, want %v", got, want)
	}
	if !x.Log.Caveats.Has("past_midnight") {
		t.Error("midnight passed without a word")
	}
	// A summer day in Berlin is two hours ahead of UTC: the same instant.
	zone := time.FixedZone("CEST", 7200)
	a := read(t, "stint,code,value,clock\n1,K,1,2026-06-04T14:00:00+02:00\n", Options{})
	b := read(t, "stint,code,value,clock\n1,K,1,2026-06-04 14:00\n", Options{Zone: zone})
	if a.Log.Runs[0].At != b.Log.Runs[0].At || a.Log.Runs[0].At.UnixNS != 1780574400e9 {
		t.Errorf("%v and %v", a.Log.Runs[0].At, b.Log.Runs[0].At)
	}
	if c := read(t, "stint,code,value,clock\n1,K,1,2026-06-04 14:00\n", Options{}); c.Log.Runs[0].At.Known() {
		t.Error("a time without a zone was taken for an instant")
	}
	// Out of order by line, in order by clock.
	d := read(t, "stint,code,value,clock\n2,P,1,100\n1,K,1,50\n2,P,2,110\n", Options{})
	if d.Log.Stints[0].ID != "1" || d.Log.Stints[0].Position != 1 {
		t.Errorf("%+v", d.Log.Stints)
	}
}

func TestMeasuresPlacesAndRaters(t *testing.T) {
	x := read(t, "stint,code,run,measure,place,rater,value,position\n"+
		"1,K,1,lap_time,,,92,1\n1,K,1,sector_time,sector 1,,40,1\n1,K,1,feel,,A,6.5,1\n1,K,1,feel,,B,7,1\n"+
		"2,P,1,lap_time,,,91,2\n2,P,1,sector_time,sector 1,,39,2\n", Options{})
	if want := []string{"lap_time", "sector_time", "feel"}; !reflect.DeepEqual(x.Measures, want) {
		t.Errorf("%v", x.Measures)
	}
	if len(x.Log.Runs) != 2 || len(x.Log.Observations) != 6 || x.Log.Observations[1].Place != "sector 1" || x.Log.Observations[3].Rater != "B" {
		t.Errorf("%+v", x.Log)
	}
	// Measures one after the other: stints come back, but not within a measure.
	y := read(t, "stint,code,measure,value\n1,K,a,1\n2,P,a,2\n1,K,b,3\n2,P,b,4\n", Options{})
	if len(y.Log.Stints) != 2 || len(y.Log.Runs) != 2 || len(y.Log.Observations) != 4 {
		t.Errorf("%+v", y.Log)
	}
}

func TestUnits(t *testing.T) {
	x := read(t, "stint,code,value_ft,use_km,position\n1,K,15,120,1\n2,P,10,,2.5\n", Options{})
	if x.Unit != "m" || x.Log.Observations[0].Value != 4.572 || *x.Log.Stints[0].UseM != 120000 || x.Log.Stints[1].UseM != nil || x.Log.Stints[1].Position != 2.5 {
		t.Errorf("%+v", x)
	}
	// A run's own place in the sequence: the stint stands at their mean.
	y := read(t, "stint,code,value,position\n1,K,1,0\n1,K,1,1\n2,P,1,2\n2,P,1,3\n", Options{})
	if y.Log.Stints[0].Position != 0.5 || y.Log.Stints[1].Position != 2.5 {
		t.Errorf("%+v", y.Log.Stints)
	}
}

func TestBlocksFromAnyColumn(t *testing.T) {
	text := "cow\ttrt\tperiod\tyield\nC1\tT1\tP1\t433\nC2\tT1\tP1\t744.6\nC1\tT2\tP2\t413.7\nC2\tT2\tP2\t797.4\n"
	x := read(t, text, Options{EachRowAStint: true, Columns: map[string]string{"code": "trt", "value": "yield"}})
	log, err := x.InBlocks("cow")
	if err != nil {
		t.Fatal(err)
	}
	if log.Stints[2].Block != "C1" || log.Stints[1].Block != "C2" || x.Log.Stints[0].Block != "" {
		t.Errorf("%+v", log.Stints)
	}
	if _, err := x.InBlocks("herd"); fault.CodeOf(err) != fault.NotFound {
		t.Error(err)
	}
	y := read(t, "stint,code,value,day\n1,K,1,mon\n1,K,1,tue\n", Options{})
	if _, err := y.InBlocks("day"); fault.CodeOf(err) != fault.Invalid || !strings.Contains(err.Error(), "runs.csv:3") {
		t.Error(err)
	}
}

// The real tables of field and animal experiments, as they are.
func TestOpenTables(t *testing.T) {
	dir := os.Getenv("BOOKEND_DATA")
	if dir == "" {
		dir = filepath.Join("..", "..", "shared", "data")
	}
	f, err := os.Open(filepath.Join(dir, "drift", "agridat_brandt.switchback.txt"))
	if err != nil {
		t.Skip("the open data are not here (drift); set BOOKEND_DATA")
	}
	defer f.Close()
	x, err := Read(f, Options{Name: "switchback", EachRowAStint: true, Columns: map[string]string{"code": "trt", "value": "yield"}})
	if err != nil {
		t.Fatal(err)
	}
	log, err := x.InBlocks("cow")
	if err != nil || len(log.Stints) != 30 || log.Observations[0].Value != 433 {
		t.Fatalf("%v, %d stints", err, len(log.Stints))
	}
}

func TestRatings(t *testing.T) {
	text := "stint;code;rater;attribute;value;remark\n1;K;A;steering precision;6,5;\n1;K;B;steering precision;7,25;late\n2;P;A;steering precision;7;\n"
	x, err := ReadRatings(strings.NewReader(text), Options{Name: "sheet.csv"})
	if err != nil {
		t.Fatal(err)
	}
	if len(x.List) != 3 || x.List[1].Value != 7.25 || x.List[1].Remark != "late" || len(x.Log.Runs) != 2 || x.Log.Observations[2].Measure != "steering precision" {
		t.Errorf("%+v", x)
	}
	x, err = ReadRatings(strings.NewReader("stint;code;rater;attribute;value;remark\n1;K;A;Balance at entry;-1,5;pushes\n1;K;A;Handling: balance at exit;3;\n1;K;A;balance in mid-corner;0;\n"), Options{Name: "sheet.csv"})
	if err != nil || x.List[0].Value != -1.5 || x.List[1].Value != 3 || x.List[2].Value != 0 {
		t.Errorf("a balance is not read: %v, %+v", err, x)
	}
	for _, bad := range []string{"1;K;A;balance at entry;7;\n", "1;K;A;balance at entry;-3,25;\n", "1;K;A;grip;-1;\n", "1;K;A;balance;-1;\n", "1;K;A;grip;11;\n", "1;K;A;grip;6,3;\n", "1;K;A;grip;;\n", "1;K;A;grip;6;\n1;K;A;grip;7;\n", "1;K;;grip;6;\n", "1;K;A;grip;6;\n1;P;B;grip;7;\n"} {
		_, err := ReadRatings(strings.NewReader("stint;code;rater;attribute;value;remark\n"+bad), Options{Name: "sheet.csv"})
		if fault.CodeOf(err) != fault.Invalid || fault.HintOf(err) == "" || !strings.Contains(err.Error(), "sheet.csv:") {
			t.Errorf("%q: %v", bad, err)
		}
	}
}

// What is written reads back as the same log, lines and files aside.
func TestWriteReadsBack(t *testing.T) {
	for _, text := range []string{plain,
		"stint,code,run,measure,place,rater,value,position,clock,block,set,driver,break,use_km,excluded,remark\n" +
			"1,K,1,lap_time,,,92.1,1,09:00,mon,K1,A,,12,,first\n1,K,1,feel,,A,6.5,1,09:00,mon,K1,A,,12,,first\n" +
			"2,P,1,lap_time,,,91,2,09:20,mon,P1,A,yes,0,\"traffic, twice\",\n"} {
		want := read(t, text, Options{}).Log
		var b bytes.Buffer
		if err := Write(&b, want); err != nil {
			t.Fatal(err)
		}
		got := read(t, b.String(), Options{}).Log
		for _, l := range []*programme.Log{&want, &got} {
			l.Caveats = nil
			for i := range l.Stints {
				l.Stints[i].File, l.Stints[i].Line = "", 0
			}
			for i := range l.Runs {
				l.Runs[i].File, l.Runs[i].Line = "", 0
			}
			if strings.Contains(text, "measure") {
				continue
			}
			for i := range l.Exclusions { // the written table has a measure column
				l.Exclusions[i].Measure = ""
			}
		}
		if !reflect.DeepEqual(want, got) {
			t.Errorf("%s\n%+v\nwant\n%+v", b.String(), got, want)
		}
	}
}

func FuzzTable(f *testing.F) {
	f.Add([]byte(plain), false)
	f.Add([]byte(strings.ReplaceAll(strings.ReplaceAll(plain, ",", ";"), ".", ",")), false)
	f.Add([]byte("stint,code,value,clock\n1,K,1,09:00\n2,P,1,2026-06-04T14:00:00+02:00\n"), false)
	f.Add([]byte("code\tvalue\nK\t1\nP\t2"), true)
	f.Add([]byte("\xFF\xFEs\x00t\x00"), false)
	f.Add([]byte("stint,code,\"value\n"), false)
	f.Add([]byte("stint;code;value;position;use_km;break;excluded\n1;K;1,5;1;2;yes;fog\n"), false)
	f.Fuzz(func(t *testing.T, data []byte, each bool) {
		x, err := Read(bytes.NewReader(data), Options{Name: "f", EachRowAStint: each})
		_, _ = ReadRatings(bytes.NewReader(data), Options{Name: "f"})
		if err != nil {
			if fault.CodeOf(err) == fault.Internal {
				t.Errorf("internal fault: %v", err)
			}
			return
		}
		for _, o := range x.Log.Observations {
			if o.Value != o.Value || o.Value-o.Value != 0 {
				t.Errorf("the value %v came through", o.Value)
			}
		}
		var b bytes.Buffer
		if err := Write(&b, x.Log); err != nil {
			if fault.CodeOf(err) == fault.Internal {
				t.Errorf("writing: %v", err)
			}
			return
		}
		y, err := Read(bytes.NewReader(b.Bytes()), Options{Name: "f"})
		if err != nil {
			t.Fatalf("what was written is not read: %v\n%s", err, b.String())
		}
		if len(y.Log.Observations) != len(x.Log.Observations) {
			t.Errorf("%d observations became %d", len(x.Log.Observations), len(y.Log.Observations))
		}
	})
}
