package timebase_test

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited/charset"
	"example.org/bookend/ingest/delimited/dialect"
	"example.org/bookend/ingest/delimited/scan"
	"example.org/bookend/ingest/delimited/timebase"
)

// tableOf reads a text as a table.
func tableOf(t *testing.T, text string, m *ingest.Mapping) *scan.Table {
	t.Helper()
	src, err := charset.Open(strings.NewReader(text), "x.csv")
	if err != nil {
		t.Fatal(err)
	}
	d, err := dialect.Detect(src.Head, src.Whole, "x.csv", m)
	if err != nil {
		t.Fatalf("%v (%s)", err, fault.HintOf(err))
	}
	table, err := scan.Read(context.Background(), d, src, "x.csv", 1)
	if err != nil {
		t.Fatalf("%v (%s)", err, fault.HintOf(err))
	}
	return table
}

// rows gives n lines made by line from the row's number.
func rows(n int, line func(i int) string) string {
	var b strings.Builder
	for i := range n {
		b.WriteString(line(i))
	}
	return b.String()
}

// choose chooses the time base of a text, and tells of its rows.
func choose(t *testing.T, text string, opt ingest.Options) (*timebase.Choice, caveat.List) {
	t.Helper()
	table := tableOf(t, text, opt.Mapping)
	var list caveat.List
	got, err := timebase.Choose(table, opt, &list)
	if err != nil {
		t.Fatalf("%v (%s)", err, fault.HintOf(err))
	}
	got.Order.Tell(&list, table.Rows, table.At)
	return got, list
}

// Each way to state time gives tenths of a second from the first row. The
// moments are worked out by package time.
func TestWaysToStateTime(t *testing.T) {
	start := time.Date(2026, 5, 13, 23, 59, 58, 0, time.UTC)
	at := func(i int) time.Time { return start.Add(time.Duration(i) * 100 * time.Millisecond) }
	gpsEpoch := time.Date(1980, 1, 6, 0, 0, 0, 0, time.UTC)
	berlin := time.FixedZone("", 2*3600)
	ns := func(i int) int64 { return at(i).UnixNano() }
	for _, c := range []struct {
		name, head string
		line       func(i int) string
		anchor     bool // the moment is known
		opt        ingest.Options
		caveat     string
	}{
		{"seconds", "time_s,v", func(i int) string { return fmt.Sprintf("%.1f", float64(i)/10) }, false, ingest.Options{}, ""},
		{"ms", "time [ms],v", func(i int) string { return fmt.Sprint(i * 100) }, false, ingest.Options{}, ""},
		{"ms, unsaid", "time,v", func(i int) string { return fmt.Sprint(i * 100) }, false, ingest.Options{}, "time_unit_assumed"},
		{"us", "time_us,v", func(i int) string { return fmt.Sprint(i * 100000) }, false, ingest.Options{}, ""},
		{"hours", "time [h],v", func(i int) string { return fmt.Sprintf("%.12f", float64(i)/36000) }, false, ingest.Options{}, ""},
		{"clock", "time,v", func(i int) string { return at(i).Format("15:04:05.0") }, false, ingest.Options{}, "midnight"},
		{"clock, comma", "Uhrzeit;v", func(i int) string { return at(i).Format("15:04:05,0") }, false, ingest.Options{}, "midnight"},
		{"clock and day", "time,v", func(i int) string { return at(i).Format("15:04:05.000") }, true, ingest.Options{Date: start, Zone: time.UTC}, "midnight"},
		{"mm:ss", "time,v", func(i int) string { return at(i).Format("04:05.0") }, false, ingest.Options{}, "clock_without_hours"},
		{"am pm", "time,v", func(i int) string { return at(i).Format("3:04:05.0 PM") }, false, ingest.Options{}, "midnight"},
		{"packed", "utc,v", func(i int) string { return at(i).Format("150405.00") }, false, ingest.Options{}, "midnight"},
		{"packed, unsaid", "time,v", func(i int) string { return at(i).Format("150405.00") }, false, ingest.Options{}, "clock_digits"},
		{"packed and date", "date,utc,v", func(i int) string { return at(i).Format("020106,150405.00") }, true, ingest.Options{Zone: time.UTC}, ""},
		{"ISO", "t,v", func(i int) string { return at(i).Format("2006-01-02T15:04:05.0Z") }, true, ingest.Options{}, ""},
		{"ISO, zone", "t,v", func(i int) string { return at(i).In(berlin).Format("2006-01-02T15:04:05.000-07:00") }, true, ingest.Options{}, ""},
		{"ISO, basic", "t,v", func(i int) string { return at(i).Format("20060102T150405.0Z") }, true, ingest.Options{}, ""},
		{"ISO, local", "t,v", func(i int) string { return at(i).In(berlin).Format("2006-01-02 15:04:05.000") }, true, ingest.Options{Zone: berlin}, ""},
		{"ISO, no zone", "t,v", func(i int) string { return at(i).Format("2006-01-02 15:04:05.0") }, true, ingest.Options{}, "zone_unknown"},
		{"points", "Zeit;v", func(i int) string { return at(i).Format("02.01.2006 15:04:05,0") }, true, ingest.Options{Zone: time.UTC}, ""},
		{"strokes, day first", "t,v", func(i int) string { return at(i).Format("02/01/2006 15:04:05.0") }, true, ingest.Options{Zone: time.UTC}, ""},
		{"strokes, month first", "t,v", func(i int) string { return at(i).Format("01/02/2006 15:04:05.0") }, true, ingest.Options{Zone: time.UTC}, ""},
		{"date and clock", "Date,Time,v", func(i int) string { return at(i).Format("2006-01-02,15:04:05.0") }, true, ingest.Options{Zone: time.UTC}, ""},
		{"epoch s", "timestamp,v", func(i int) string { return fmt.Sprintf("%d.%d", ns(i)/1e9, ns(i)/1e8%10) }, true, ingest.Options{}, ""},
		{"epoch ms", "timestamp,v", func(i int) string { return fmt.Sprint(ns(i) / 1e6) }, true, ingest.Options{}, ""},
		{"epoch us", "unix_us,v", func(i int) string { return fmt.Sprint(ns(i) / 1e3) }, true, ingest.Options{}, ""},
		{"epoch ns", "ts,v", func(i int) string { return fmt.Sprint(ns(i)) }, true, ingest.Options{}, ""},
		{"week", "gps_week,gps_tow_s,v", func(i int) string {
			g := at(i).Add(18 * time.Second).Sub(gpsEpoch)
			const week = 7 * 24 * time.Hour
			return fmt.Sprintf("%d,%.1f", g/week, (g % week).Seconds())
		}, true, ingest.Options{}, ""},
		{"time of week", "tow,v", func(i int) string { return fmt.Sprintf("%.1f", math.Mod(604798+float64(i)/10, 604800)) }, false, ingest.Options{}, "week_end"},
		{"time of week, ms", "iTOW [ms],v", func(i int) string { return fmt.Sprint((604798000 + i*100) % 604800000) }, false, ingest.Options{}, "week_end"},
	} {
		t.Run(c.name, func(t *testing.T) {
			const n = 50
			sep := ","
			if strings.Contains(c.head, ";") {
				sep = ";"
			}
			got, list := choose(t, c.head+"\n"+rows(n, func(i int) string { return c.line(i) + sep + "1\n" }), c.opt)
			base := got.Base.T
			if len(base) != n {
				for _, c := range list {
					t.Log(c)
				}
				t.Fatalf("%d rows of %d", len(base), n)
			}
			tol := 1e-9
			if c.name == "hours" {
				tol = 4e-6 // twelve decimals of an hour, nine kept
			}
			for i := range base {
				if after := base[i] - base[0]; math.Abs(after-float64(i)/10) > tol {
					t.Fatalf("row %d is %v s after the first", i, after)
				}
			}
			if got.Anchor.Known() != c.anchor {
				t.Fatalf("the moment is %v", got.Anchor)
			}
			if c.anchor && !got.Anchor.Time().Equal(start) {
				t.Errorf("it begins at %v, want %v", got.Anchor.Time(), start)
			}
			if c.caveat != "" && !list.Has(c.caveat) {
				t.Errorf("no caveat %s in %v", c.caveat, list)
			}
			for _, code := range []string{"duplicate_stamp", "backward_stamp", "missing_stamp"} {
				if list.Has(code) {
					t.Errorf("caveat %s", code)
				}
			}
		})
	}
}

func TestAmbiguousDatesHaveNoMoment(t *testing.T) {
	text := "t,v\n" + rows(20, func(i int) string { return fmt.Sprintf("05/06/2026 10:00:%02d,1\n", i) })
	got, list := choose(t, text, ingest.Options{Zone: time.UTC})
	if got.Anchor.Known() || !list.Has("date_ambiguous") {
		t.Errorf("it begins at %v", got.Anchor)
	}
	for pattern, want := range map[string]time.Month{"dd/mm/yyyy": time.June, "mm/dd/yyyy": time.May} {
		m := &ingest.Mapping{Columns: []ingest.MappedColumn{{Column: "t", Role: ingest.Time, Unit: pattern}}}
		if got, _ := choose(t, text, ingest.Options{Zone: time.UTC, Mapping: m}); !got.Anchor.Known() || got.Anchor.Time().Month() != want {
			t.Errorf("with %s it begins at %v", pattern, got.Anchor)
		}
	}
}

// Which of several columns times the file: each row is decided by hand from the
// rule that the package states. "of" are the columns of the base, step is its first step in s.
func TestWhichColumnTimesTheFile(t *testing.T) {
	for _, c := range []struct {
		name, heads string
		row         func(i int) string
		of          []int
		step        float64
		codes       string
	}{
		{"one", "time_s,v", func(i int) string { return fmt.Sprintf("%d,1", i) }, []int{0}, 1, ""},
		{"the receiver's before the logger's", "time_s,gps_time_s,v", func(i int) string { return fmt.Sprintf("%d,%d,1", i, 2*i) }, []int{1}, 2, "time_column"},
		{"the logger's before a computer's", "sys_time_s,time_s,v", func(i int) string { return fmt.Sprintf("%d,%d,1", i, 2*i) }, []int{1}, 2, "time_column"},
		{"of equals the first", "time_s,elapsed_s,v", func(i int) string { return fmt.Sprintf("%d,%d,1", i, 2*i) }, []int{0}, 1, "time_column"},
		{"not the receiver's that repeats", "time_s,gps_time_s,v", func(i int) string { return fmt.Sprintf("%d,%d,1", i, i/10) }, []int{0}, 1, "time_column"},
		{"week and time of week", "gps_week,gps_tow_s,time_s,v", func(i int) string { return fmt.Sprintf("2400,%d,%d,1", 3*i, i) }, []int{1, 0}, 3, "time_column"},
		{"a week that cannot be", "gps_week,gps_tow_s,v", func(i int) string { return fmt.Sprintf("12,%d,1", 3*i) }, []int{1}, 3, "week_unusable"},
		{"no name, but it increases", "", func(i int) string { return fmt.Sprintf("%d.5,1", i) }, []int{0}, 1, "time_guessed"},
		{"a date alone", "date,v", func(i int) string { return fmt.Sprintf("%02d.05.2026,1", 1+i) }, []int{0}, 86400, "zone_unknown"},
	} {
		text := rows(20, func(i int) string { return c.row(i) + "\n" })
		if c.heads != "" {
			text = c.heads + "\n" + text
		}
		got, list := choose(t, text, ingest.Options{})
		var codes []string
		for _, n := range list {
			codes = append(codes, n.Code)
		}
		if fmt.Sprint(got.Columns) != fmt.Sprint(c.of) || got.Base.T[1]-got.Base.T[0] != c.step || strings.Join(codes, " ") != c.codes {
			t.Errorf("%s: columns %v, step %v, caveats %v; want %v, %v, %s", c.name, got.Columns, got.Base.T[1]-got.Base.T[0], list, c.of, c.step, c.codes)
		}
	}
}

// On the night when clocks are put back, an hour has two moments.
func TestAClockThatIsPutBack(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	for wall, utc := range map[string]string{"02:30": "2026-10-25T00:30:00Z", "03:30": "2026-10-25T02:30:00Z"} {
		got, list := choose(t, "t,v\n"+rows(20, func(i int) string { return fmt.Sprintf("2026-10-25 %s:%02d,1\n", wall, i) }), ingest.Options{Zone: berlin})
		if at := got.Anchor.Time().UTC().Format(time.RFC3339); at != utc || list.Has("clock_twice") != (wall == "02:30") {
			t.Errorf("%s is %s, want %s; caveats %v", wall, at, utc, list)
		}
	}
}

func TestNoTime(t *testing.T) {
	for _, text := range []string{"speed_kmh,ax_g\n5,2\n4,3\n7,4\n6,4\n", "time_s,v\n" + rows(1200, func(int) string { return ",5\n" }) + "1,5\n"} {
		table := tableOf(t, text, nil)
		var list caveat.List
		if _, err := timebase.Choose(table, ingest.Options{}, &list); err != nil && (fault.CodeOf(err) != fault.Invalid || fault.HintOf(err) == "") {
			t.Errorf("%v without its code or a hint", err)
		} else if err == nil {
			t.Errorf("%.20q has a time base", text)
		}
	}
}
