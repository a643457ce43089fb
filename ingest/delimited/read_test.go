package delimited_test

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"reflect"
	"runtime"
	"strings"
	"testing"
	"time"

	"example.org/bookend/fault"
	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited"
	"example.org/bookend/ingest/ingesttest"
	"example.org/bookend/signal"
)

func read(t *testing.T, text string, opt ingest.Options) *signal.Recording {
	t.Helper()
	opt.Name = "x.csv"
	rec, err := ingest.Read(context.Background(), strings.NewReader(text), []ingest.Reader{delimited.New()}, opt)
	if err != nil {
		t.Fatalf("%v (%s)\n%.200s", err, fault.HintOf(err), text)
	}
	if err := ingesttest.Check(rec); err != nil {
		t.Fatal(err)
	}
	return rec
}

// wants insists on a caveat with a code, words of its text and, unless 0, a line.
func wants(t *testing.T, rec *signal.Recording, code, words string, line int) {
	t.Helper()
	for _, c := range rec.Caveats {
		if c.Code == code && strings.Contains(c.Text, words) && (line == 0 || c.Place.Line == line) {
			return
		}
	}
	t.Errorf("no caveat %s with %q at line %d among:", code, words, line)
	for _, c := range rec.Caveats {
		t.Logf("  %s | %s | %s", c.Code, c.Place, c.Text)
	}
}

// Every way to write one and the same drive gives the same channels. The truth
// is the drive that the lines are written from.
func TestDialects(t *testing.T) {
	const n = 40
	v := func(i int) float64 { return float64(36+i) / 2 } // km/h
	comma := func(s string) string { return strings.ReplaceAll(s, ".", ",") }
	for name, text := range map[string]string{
		"comma":         "time_s,speed_kmh\n" + rows(n, func(i int) string { return fmt.Sprintf("%.1f,%.1f\n", float64(i)/10, v(i)) }),
		"blank after":   "time_s, speed_kmh\n" + rows(n, func(i int) string { return fmt.Sprintf("%.1f, %.1f\n", float64(i)/10, v(i)) }),
		"semicolon":     "Zeit [s];Geschwindigkeit [km/h]\n" + comma(rows(n, func(i int) string { return fmt.Sprintf("%.1f;%.1f\n", float64(i)/10, v(i)) })),
		"tab":           "t (s)\tv (km/h)\r\n" + rows(n, func(i int) string { return fmt.Sprintf("%.1f\t%.1f\r\n", float64(i)/10, v(i)) }),
		"stroke":        "t|v\ns|km/h\n" + rows(n, func(i int) string { return fmt.Sprintf("%.1f|%.1f\n", float64(i)/10, v(i)) }),
		"blanks":        "  t   v\n  s   km/h\n" + rows(n, func(i int) string { return fmt.Sprintf(" %6.1f   %6.1f  \n", float64(i)/10, v(i)) }),
		"blanks, comma": "t v\n[s] [km/h]\n" + comma(rows(n, func(i int) string { return fmt.Sprintf("%.1f %.1f\n", float64(i)/10, v(i)) })),
		"quoted":        "\"time\",\"speed [km/h]\",\"note\"\n" + rows(n, func(i int) string { return fmt.Sprintf("\"%.1f\",\"%.1f\",\"a, \"\"b\"\"\"\n", float64(i)/10, v(i)) }),
		"quoted commas": "time,speed / km/h\n" + comma(""),
		"titles":        "Skerry Moor\nDriver: A, B\n\n\ntime,speed\n(s),(km/h)\n" + rows(n, func(i int) string { return fmt.Sprintf("%.1f,%.1f\n", float64(i)/10, v(i)) }),
		"carriage":      "time_s;speed_kmh\r" + rows(n, func(i int) string { return fmt.Sprintf("%.1f;%.1f\r", float64(i)/10, v(i)) }),
		"trailing":      "time_s,speed_kmh,,\n" + rows(n, func(i int) string { return fmt.Sprintf("%.1f,%.1f,,\n", float64(i)/10, v(i)) }),
		"only in rows":  "time_s,speed_kmh\n" + rows(n, func(i int) string { return fmt.Sprintf("%.1f,%.1f,,,\n", float64(i)/10, v(i)) }),
		"exponents":     "time_s,speed_kmh\n" + rows(n, func(i int) string { return fmt.Sprintf("%.4E,%.6e\n", float64(i)/10, v(i)) }),
		"din":           "t in s;v in km/h\n" + rows(n, func(i int) string { return fmt.Sprintf("%.1f;%.1f\n", float64(i)/10, v(i)) }),
		"no end":        "time_s,speed_kmh\n" + strings.TrimSuffix(rows(n, func(i int) string { return fmt.Sprintf("%.1f,%.1f\n", float64(i)/10, v(i)) }), "\n"),
		"comma in quotes": "\"time\",\"speed [km/h]\"\n" + rows(n, func(i int) string {
			return "\"" + comma(fmt.Sprintf("%.1f", float64(i)/10)) + "\",\"" + comma(fmt.Sprintf("%.1f", v(i))) + "\"\n"
		}),
		"sep line":       "sep=;\r\nZeit [s];v [km/h]\r\n" + comma(rows(n, func(i int) string { return fmt.Sprintf("%.1f;%.1f\r\n", float64(i)/10, v(i)) })),
		"old end":        "time_s,speed_kmh\n" + rows(n, func(i int) string { return fmt.Sprintf("%.1f,%.1f\r\n", float64(i)/10, v(i)) }) + "\x1a",
		"hash":           "# time_s,speed_kmh\n" + rows(n, func(i int) string { return fmt.Sprintf("%.1f,%.1f\n", float64(i)/10, v(i)) }),
		"text in front":  "lap,time_s,speed_kmh\n" + rows(n, func(i int) string { return fmt.Sprintf("out lap,%.1f,%.1f\n", float64(i)/10, v(i)) }),
		"remark in name": "time_s,speed (filtered) [km/h]\n" + rows(n, func(i int) string { return fmt.Sprintf("%.1f,%.1f\n", float64(i)/10, v(i)) }),
	} {
		if name == "quoted commas" {
			text += comma(rows(n, func(i int) string { return fmt.Sprintf("\"%.1f\";\"%.1f\"\n", float64(i)/10, v(i)) }))
			text = strings.Replace(text, "time,speed", "time;speed", 1)
		}
		for _, coded := range []struct {
			name string
			b    []byte
		}{{"", []byte(text)}, {", UTF-16 LE", utf16le(text)}, {", UTF-16 BE", utf16be(text)}, {", BOM", []byte("\ufeff" + text)}} {
			t.Run(name+coded.name, func(t *testing.T) {
				rec := read(t, string(coded.b), ingest.Options{})
				speed := rec.ByRole(signal.Speed)
				if speed == nil || len(rec.Channels) != 1 || len(speed.Values) != n || !speed.AllValid() || speed.Unit != "m/s" {
					t.Fatalf("channels %d, speed %+v", len(rec.Channels), speed)
				}
				for i := range n {
					if got, want := speed.Values[i], v(i)*1000/3600; math.Abs(got-want) > 1e-14 {
						t.Fatalf("row %d: %v m/s, want %v", i, got, want)
					}
					if got := speed.Base.T[i]; got != float64(i)/10 {
						t.Fatalf("row %d is at %v s", i, got)
					}
				}
			})
		}
	}
}

// A date in whole seconds gives the moment, seconds in tenths the steps; the
// date stays a channel, in seconds since 1970.
func TestTheMomentFromOneColumnAndTheStepsFromAnother(t *testing.T) {
	rec := read(t, "elapsed_s,date,v_mps\n"+rows(30, func(i int) string { return fmt.Sprintf("%.1f,13.05.2026 14:00:%02d,1\n", 5+float64(i)/10, i/10) }), ingest.Options{Zone: time.UTC})
	at := time.Date(2026, 5, 13, 14, 0, 0, 0, time.UTC)
	if !rec.Anchor.Time().Equal(at) || len(rec.Channels) != 2 || rec.Channels[0].Base.T[29] != 2.9 {
		t.Errorf("it begins at %v; %d channels", rec.Anchor, len(rec.Channels))
	}
	if got := rec.Channels[0].Values[15]; got != float64(at.Unix()+1) {
		t.Errorf("the date of row 15 is %v s", got)
	}
	wants(t, rec, "anchor_beside", "from date", 0)
}

// Nothing is repaired in silence: what is left out is counted, and the first
// place named.
func TestOddRowsAreToldOf(t *testing.T) {
	line := func(i int) string { return fmt.Sprintf("%.2f,%d,1\n", float64(i)/100, i) }
	with := func(change map[int]string) string {
		return "time_s,count,x\n" + rows(200, func(i int) string {
			if s, ok := change[i]; ok {
				return s
			}
			return line(i)
		})
	}
	for _, c := range []struct {
		name   string
		text   string
		rows   int
		code   string
		words  string
		line   int
		absent []float64 // counts that must not be left
	}{
		{"repeated", with(map[int]string{50: "0.49,50,1\n", 51: "0.49,51,1\n"}), 198, "duplicate_stamp", "2 of 200 rows", 52, []float64{50, 51}},
		{"one falls back", with(map[int]string{50: "0.10,50,1\n"}), 199, "backward_stamp", "1 times, by up to 0.390 s; 1 of 200", 52, []float64{50}},
		{"one runs ahead", with(map[int]string{50: "9999,50,1\n"}), 199, "backward_stamp", "1 of 200 rows", 52, []float64{50}},
		{"joined", with(nil) + rows(100, line), 200, "backward_stamp", "100 of 300 rows", 202, nil},
		{"no stamp", with(map[int]string{50: ",50,1\n", 60: "NaN,60,1\n"}), 198, "missing_stamp", "2 of 200 rows", 52, []float64{50, 60}},
		{"gap", with(map[int]string{50: "", 51: "", 52: ""}), 197, "gap", "1 steps", 51, nil},
		{"no value", with(map[int]string{50: "0.50,50,\n", 70: "0.70,70,n/a\n"}), 200, "missing_values", "2 of 200", 52, nil},
		{"short", with(map[int]string{50: "0.50,50\n"}), 200, "short_line", "1 lines", 52, nil},
		{"long", with(map[int]string{50: "0.50,50,1,0.51,51,1\n"}), 199, "long_line", "1 lines", 52, []float64{50}},
		{"remark", with(map[int]string{50: "# pit stop\n"}), 199, "remark_line", "1 lines", 52, nil},
		{"heading", with(map[int]string{50: "time_s,count,x\n"}), 199, "heading_again", "1 times", 52, nil},
		{"cut", with(nil) + "2.00,20", 200, "truncated_line", "cut off", 202, []float64{20.5}},
		{"cut at a sign", with(nil) + "2.00,201,-", 201, "missing_values", "1 of 201", 202, nil},
		{"nul", with(nil) + strings.Repeat("\x00", 3000), 200, "nul_bytes", "NUL", 0, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			rec := read(t, c.text, ingest.Options{})
			ch, err := rec.ByName("count")
			if err != nil {
				t.Fatal(err)
			}
			if len(ch.Values) != c.rows {
				t.Errorf("%d rows, want %d", len(ch.Values), c.rows)
			}
			wants(t, rec, c.code, c.words, c.line)
			for _, v := range ch.Values {
				for _, a := range c.absent {
					if v == a {
						t.Errorf("row %v is still there", a)
					}
				}
			}
		})
	}
}

// A last number that lost its last decimals is a cut line.
func TestALastNumberCutShort(t *testing.T) {
	text := "time_s,v\n" + rows(30, func(i int) string { return fmt.Sprintf("%d,%.4f\n", i, 12.5+float64(i)/10) }) + "30,12.5"
	rec := read(t, text, ingest.Options{})
	if len(rec.Channels[0].Values) != 30 || !rec.Caveats.Has("truncated_line") {
		t.Errorf("%d rows, %v", len(rec.Channels[0].Values), rec.Caveats)
	}
}

func TestFaultsNameTheirPlace(t *testing.T) {
	body := func(at int, s string) string {
		return "time_s,speed_kmh\n" + rows(2000, func(i int) string {
			if i == at {
				return s
			}
			return fmt.Sprintf("%d,50.5\n", i)
		})
	}
	for _, c := range []struct {
		name, text string
		code       fault.Code
		says       string
	}{
		{"text", body(1500, "1500,fast\n"), fault.Invalid, `x.csv:1502: column speed_kmh: "fast" is no number`},
		{"infinity", body(1500, "1500,Inf\n"), fault.Invalid, `x.csv:1502: column speed_kmh: "Inf" is no finite number`},
		{"too great", body(1500, "1500,1e999\n"), fault.Invalid, `x.csv:1502: column speed_kmh: "1e999" is no finite number`},
		{"infinite time", body(1500, "inf,1\n"), fault.Invalid, `x.csv:1502: column time_s: "inf" is no finite number`},
		{"text in time", body(1500, "noon,1\n"), fault.Invalid, `x.csv:1502: column time_s: "noon" is not the time it should be`},
		{"unit", "time_s,speed [furlong/h]\n1,2\n2,3\n3,4\n", fault.Invalid, `x.csv:1: column speed [furlong/h]: unit "furlong/h" is not known`},
		{"unit row", "time,speed\ns,furlong/h\n1,2\n2,3\n3,4\n", fault.Invalid, `x.csv:1: column speed: unit "furlong/h" is not known`},
		{"no time", "speed_kmh,ax_g\n5,2\n4,3\n7,4\n6,4\n", fault.Invalid, "x.csv:1: it has no time column"},
		{"empty", "", fault.Invalid, "x.csv: the file is empty"},
		{"heading alone", "time_s,speed_kmh\n", fault.Unsupported, "x.csv: no reader knows the file"},
		{"binary", "\x00\x01\x02time,1,2\n\x00", fault.Unsupported, "x.csv: the file is binary"},
		{"thousands", "time;speed [km/h]\n0;1.234,5\n1;1.234,6\n2;900,5\n", fault.Invalid, "no column of numbers besides the time"},
		{"packed", "\x1f\x8b\x08\x00abc", fault.Unsupported, "gzip"},
		{"no stamp at all", "time_s,speed_kmh\n" + rows(1200, func(i int) string { return ",5\n" }) + "text\n", fault.Invalid, "time"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := ingest.Read(context.Background(), strings.NewReader(c.text), []ingest.Reader{delimited.New()}, ingest.Options{Name: "x.csv"})
			if fault.CodeOf(err) != c.code || !strings.Contains(err.Error(), c.says) {
				t.Errorf("got %v: %v", fault.CodeOf(err), err)
			}
			if err != nil && fault.HintOf(err) == "" {
				t.Errorf("%v has no hint", err)
			}
		})
	}
}

// endless gives a heading and then digits without a line's end, up to size
// bytes, and counts what was asked of it.
type endless struct {
	head string
	size int64
	read int64
}

func (e *endless) Read(p []byte) (int, error) {
	if e.read >= e.size {
		return 0, io.EOF
	}
	n := copy(p, e.head)
	e.head = e.head[n:]
	if n == 0 {
		for i := range p {
			p[i] = '7'
		}
		n = len(p)
	}
	e.read += int64(n)
	return n, nil
}

// A line of 2 GB is refused after little more than the MiB that a line may have.
func TestALineOfTwoGigabytes(t *testing.T) {
	for _, head := range []string{"time_s,speed_kmh\n0,1\n1,2\n2,", ""} {
		src := &endless{head: head, size: 2 << 30}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, err := delimited.New().Read(context.Background(), src, ingest.Options{Name: "x.csv"})
		runtime.ReadMemStats(&after)
		if fault.CodeOf(err) != fault.Invalid || !strings.Contains(err.Error(), "longer than") || !strings.Contains(err.Error(), "x.csv:") {
			t.Errorf("got %v", err)
		}
		if src.read > 4<<20 || after.TotalAlloc-before.TotalAlloc > 32<<20 {
			t.Errorf("%d bytes were read and %d allocated", src.read, after.TotalAlloc-before.TotalAlloc)
		}
	}
}

// One processor and several give the same recording, the same caveats and the
// same fault.
func TestTheNumberOfProcessorsChangesNothing(t *testing.T) {
	text := "time_s,speed_kmh,note,ax_g\n" + rows(60_000, func(i int) string {
		switch {
		case i%9973 == 7:
			return "# pit\n"
		case i%7919 == 3:
			return fmt.Sprintf("%.2f,,x\n", float64(i)/100)
		case i%6007 == 5:
			return fmt.Sprintf("%.2f,1,x,2,3\n", float64(i)/100)
		case i%5003 == 4:
			return fmt.Sprintf("%.2f,1,x,0.5\n", float64(i-3)/100)
		}
		return fmt.Sprintf("%.2f,%d.5,x,-0.125\n", float64(i)/100, i%80)
	})
	var first *signal.Recording
	for _, workers := range []int{1, 2, 3, 8} {
		rec, err := delimited.Reader{Workers: workers}.Read(context.Background(), strings.NewReader(text), ingest.Options{Name: "x"})
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = rec
		} else if !reflect.DeepEqual(first, rec) {
			t.Errorf("%d workers give another recording", workers)
		}
	}
	bad := strings.Replace(strings.Replace(text, "200.00,0.5", "200.00,slow", 1), "400.00,0.5", "400.00,fast", 1)
	for _, workers := range []int{1, 2, 8} {
		_, err := delimited.Reader{Workers: workers}.Read(context.Background(), strings.NewReader(bad), ingest.Options{Name: "x"})
		if err == nil || !strings.Contains(err.Error(), `x:20002: column speed_kmh: "slow"`) {
			t.Errorf("%d workers give %v", workers, err)
		}
	}
}

// What is held while reading is the channels that are kept, and little more.
func TestMemoryGrowsWithTheChannelsKept(t *testing.T) {
	const n = 100_000
	allocated := func(n int) uint64 {
		var file bytes.Buffer
		file.WriteString("time_s,speed_kmh,a,b,c,d,e,f\n")
		for i := range n {
			fmt.Fprintf(&file, "%.2f,50.25,some text,some text,some text,some text,some text,some text\n", float64(i)/100)
		}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		rec, err := delimited.Reader{Workers: 1}.Read(context.Background(), &file, ingest.Options{Name: "x"})
		if err != nil {
			t.Fatal(err)
		}
		runtime.ReadMemStats(&after)
		if len(rec.Channels) != 1 || len(rec.Channels[0].Values) != n {
			t.Fatalf("%d channels", len(rec.Channels))
		}
		return after.TotalAlloc - before.TotalAlloc
	}
	// Two columns of 8 bytes a row are kept, each joined once from its pieces, and
	// the stamps once more as ns: 40 bytes a row of a file that has 75.
	if got := float64(allocated(3*n)-allocated(n)) / (2 * n); got > 46 {
		t.Errorf("%.1f bytes a row were allocated for 16 that are kept", got)
	}
}
