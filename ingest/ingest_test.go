package ingest_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/ingest"
	"example.org/bookend/signal"
)

// fixed is a reader that answers Sniff as told and reads four bytes.
type fixed struct {
	id   string
	says ingest.Confidence
}

func (f fixed) ID() string                             { return f.id }
func (f fixed) Title() string                          { return "files of " + f.id }
func (f fixed) Sniff([]byte, string) ingest.Confidence { return f.says }
func (f fixed) Read(_ context.Context, src io.Reader, _ ingest.Options) (*signal.Recording, error) {
	var b [4]byte
	if _, err := io.ReadFull(src, b[:]); err != nil {
		return nil, err
	}
	return &signal.Recording{}, nil
}

func TestWhichReaderReads(t *testing.T) {
	no, perhaps, yes, other := fixed{"no/1", ingest.No}, fixed{"perhaps/1", ingest.Perhaps}, fixed{"yes/2", ingest.Yes}, fixed{"other/1", ingest.Yes}
	for _, c := range []struct {
		readers []ingest.Reader
		ask     string
		reader  string
		code    fault.Code
	}{
		{[]ingest.Reader{no, perhaps, yes}, "", "yes/2", ""},
		{[]ingest.Reader{no, perhaps}, "", "perhaps/1", ""},
		{[]ingest.Reader{no}, "", "", fault.Unsupported},
		{nil, "", "", fault.Unsupported},
		{[]ingest.Reader{yes, perhaps, other}, "", "", fault.Conflict},
		{[]ingest.Reader{perhaps, perhaps}, "", "", fault.Conflict},
		{[]ingest.Reader{yes, other}, "other", "other/1", ""},
		{[]ingest.Reader{yes, other}, "yes/2", "yes/2", ""},
		{[]ingest.Reader{yes, no}, "no", "no/1", ""},
		{[]ingest.Reader{yes, other}, "yes/1", "", fault.NotFound},
	} {
		data := strings.Repeat("0123456789", 50_000) // the reader stops early; the hash does not
		rec, err := ingest.Read(context.Background(), strings.NewReader(data), c.readers, ingest.Options{Name: "a.b", Reader: c.ask})
		if fault.CodeOf(err) != c.code {
			t.Errorf("%v: %v", c.readers, err)
			continue
		}
		if err != nil {
			if fault.HintOf(err) == "" {
				t.Errorf("%v has no hint", err)
			}
			continue
		}
		sum := sha256.Sum256([]byte(data))
		if rec.Reader != c.reader || rec.SHA256 != hex.EncodeToString(sum[:]) || rec.Bytes != int64(len(data)) || rec.Name != "a.b" {
			t.Errorf("%v: %+v", c.readers, rec)
		}
	}
}

func TestFilesThatCannotBeOpened(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) string {
		p := filepath.Join(dir, name)
		if err := os.WriteFile(p, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return p
	}
	for _, c := range []struct {
		path string
		code fault.Code
		says string
	}{
		{filepath.Join(dir, "absent.csv"), fault.NotFound, "no such file"},
		{dir, fault.Invalid, "folder"},
		{write("empty.csv", ""), fault.Invalid, "empty.csv: the file is empty"},
		{write("a.csv.gz", "\x1f\x8b\x08rest"), fault.Unsupported, "gzip"},
		{write("a.xlsx", "PK\x03\x04rest"), fault.Unsupported, "zip"},
		{write("a.bin", "ab\x00cd"), fault.Unsupported, "binary"},
		{write("a.txt", "words"), fault.Unsupported, "no reader knows"},
	} {
		_, err := ingest.Open(context.Background(), c.path, []ingest.Reader{fixed{"no/1", ingest.No}}, ingest.Options{})
		if fault.CodeOf(err) != c.code || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v: %v", c.path, fault.CodeOf(err), err)
		}
	}
	rec, err := ingest.Open(context.Background(), write("ok.csv", "0123456789"), []ingest.Reader{fixed{"yes/1", ingest.Yes}}, ingest.Options{})
	if err != nil || rec.Name != "ok.csv" || rec.Bytes != 10 {
		t.Errorf("%+v, %v", rec, err)
	}
}

type broken struct{}

func (broken) Read([]byte) (int, error) { return 0, errors.New("the disk is gone") }

func TestASourceThatFails(t *testing.T) {
	for _, start := range []string{"", "01234"} {
		_, err := ingest.Read(context.Background(), io.MultiReader(strings.NewReader(start), broken{}), []ingest.Reader{fixed{"yes/1", ingest.Yes}}, ingest.Options{Name: "a"})
		if fault.CodeOf(err) != fault.Invalid || !strings.Contains(err.Error(), "the disk is gone") {
			t.Errorf("after %q: %v", start, err)
		}
	}
}

// few gives its bytes in uneven portions.
type few struct {
	rest []byte
	step int
}

func (f *few) Read(p []byte) (int, error) {
	if len(f.rest) == 0 {
		return 0, io.EOF
	}
	f.step = f.step*5%7919 + 1
	n := copy(p[:min(len(p), f.step)], f.rest)
	f.rest = f.rest[n:]
	return n, nil
}

// However many processors there are, however long the file and wherever the
// reader stops: the hash is that of crypto/sha256 over the whole, and nothing is
// left running. Reference: sha256.Sum256 of the standard library.
func TestTheHashIsThatOfTheBytesOnAnyNumberOfProcessors(t *testing.T) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	data := make([]byte, 3<<20)
	for i := range data {
		data[i] = byte(i * i >> 7)
	}
	for _, processors := range []int{1, 2, 4} {
		runtime.GOMAXPROCS(processors)
		before := runtime.NumGoroutine()
		for _, n := range []int{4, ingest.HeadBytes - 1, ingest.HeadBytes, ingest.HeadBytes + 1, 256 << 10, 256<<10 + ingest.HeadBytes, 2_000_003, len(data)} {
			want := sha256.Sum256(data[:n])
			for _, src := range []io.Reader{bytes.NewReader(data[:n]), &few{rest: data[:n]}} {
				rec, err := ingest.Read(context.Background(), src, []ingest.Reader{fixed{"yes/1", ingest.Yes}}, ingest.Options{})
				if err != nil || rec.SHA256 != hex.EncodeToString(want[:]) || rec.Bytes != int64(n) {
					t.Errorf("%d processors, %d bytes: %+v, %v", processors, n, rec, err)
				}
			}
			_, err := ingest.Read(context.Background(), io.MultiReader(bytes.NewReader(data[:n]), broken{}), []ingest.Reader{fixed{"yes/1", ingest.Yes}}, ingest.Options{})
			if !strings.Contains(fmt.Sprint(err), "the disk is gone") {
				t.Errorf("%d processors, %d bytes, then a failure: %v", processors, n, err)
			}
		}
		for wait := 0; runtime.NumGoroutine() > before; wait++ { // the last may be on its way out
			if wait == 1000 {
				t.Fatalf("%d processors: %d goroutines before, %d after", processors, before, runtime.NumGoroutine())
			}
			time.Sleep(time.Millisecond)
		}
	}
}

func TestMappings(t *testing.T) {
	for _, text := range []string{
		"column,role,unit,factor,offset\nv,speed,km/h,1.5,-2\n#2,ignore,,,\n",
		"\ufeffcolumn;role;unit;factor;offset\r\nv;speed;km/h;1,5;-2\r\n#2;ignore\r\n",
		"offset\tfactor\tunit\trole\tcolumn\n-2\t1.5\tkm/h\tspeed\tv\n\t\t\tignore\t#2\n",
	} {
		m, err := ingest.ParseMapping("m", []byte(text))
		if err != nil {
			t.Errorf("%q: %v", text, err)
			continue
		}
		if len(m.Columns) != 2 || m.Columns[0] != (ingest.MappedColumn{Column: "v", Role: signal.Speed, Unit: "km/h", Factor: 1.5, Offset: -2}) ||
			m.Columns[1] != (ingest.MappedColumn{Column: "#2", Role: ingest.Ignore}) {
			t.Errorf("%q: %+v", text, m.Columns)
		}
		if m.Find("x", 2) == nil || m.Find("v", 1) == nil || m.Find("x", 1) != nil {
			t.Error("Find does not find by name and by place")
		}
	}
	for _, c := range []struct{ text, says string }{
		{"", "the mapping is empty"},
		{"column,rôle\n", `m:1: a mapping has no column "rôle"`},
		{"role,unit\nspeed,km/h\n", "m:1: the mapping does not say which columns"},
		{"column,role\nv,velocity\n", `m:2: role "velocity" is not known`},
		{"column,role,unit\nv,speed,furlong/h\n", `m:2: unit "furlong/h" is not known`},
		{"column,role,unit\nv,speed,bar\n", "m:2: speed cannot be in bar"},
		{"column,factor\nv,fast\n", `m:2: factor "fast" is no number`},
		{"column,factor\nv,inf\n", `m:2: factor "inf" is no number`},
		{"column,factor\nv,0\n", "m:2: a factor of 0"},
		{"column,role\nv,speed\nw,\nv,heading\n", `m:4: column "v" was mapped in line 2`},
		{"column,column\n", `m:1: column "column" stands twice`},
		{"column,role\n,speed\n", "m:2: the row names no column"},
	} {
		_, err := ingest.ParseMapping("m", []byte(c.text))
		if fault.CodeOf(err) != fault.Invalid || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%q: %v", c.text, err)
		}
	}
	if _, err := ingest.ReadMapping(filepath.Join(t.TempDir(), "none.csv")); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("an absent mapping gives %v", err)
	}
}

// Each row of the table is worked out by hand from the rule that Increasing states.
func TestIncreasing(t *testing.T) {
	const none = ingest.NoStamp
	for _, c := range []struct {
		name                         string
		stamps                       []int64
		kept                         []int64
		missing, duplicate, backward int
		jumps                        int
		back                         int64
	}{
		{"in order", []int64{1, 2, 5}, []int64{1, 2, 5}, 0, 0, 0, 0, 0},
		{"empty", nil, nil, 0, 0, 0, 0, 0},
		{"one", []int64{7}, []int64{7}, 0, 0, 0, 0, 0},
		{"none has a stamp", []int64{none, none}, nil, 2, 0, 0, 0, 0},
		{"missing", []int64{none, 1, none, 2}, []int64{1, 2}, 2, 0, 0, 0, 0},
		{"repeated", []int64{1, 1, 1, 2, 2}, []int64{1, 2}, 0, 3, 0, 0, 0},
		{"one falls back", []int64{10, 20, 5, 30}, []int64{10, 20, 30}, 0, 0, 1, 1, 15},
		{"the last falls back", []int64{10, 20, 5}, []int64{10, 20}, 0, 0, 1, 1, 15},
		{"one ran ahead", []int64{10, 999, 20, 30, 40}, []int64{10, 20, 30, 40}, 0, 0, 1, 1, 979},
		{"three ran ahead", []int64{10, 997, 998, 999, 20, 30, 40}, []int64{10, 20, 30, 40}, 0, 0, 3, 1, 979},
		{"the first ran ahead", []int64{999, 10, 20, 30}, []int64{10, 20, 30}, 0, 0, 1, 1, 989},
		{"begins again", []int64{1, 2, 3, 4, 5, 6, 7, 1, 2, 3, 4, 5, 6, 7, 8}, []int64{1, 2, 3, 4, 5, 6, 7, 8}, 0, 1, 6, 1, 6},
		{"farther than int64 holds", []int64{-1 << 62, 1<<63 - 1, -1<<62 + 1, -1<<62 + 2}, []int64{-1 << 62, -1<<62 + 1, -1<<62 + 2}, 0, 0, 1, 1, 1<<63 - 1},
	} {
		o := ingest.Increasing(c.stamps)
		var kept []int64
		for _, s := range o.Keep {
			kept = append(kept, c.stamps[s.From:s.To]...)
		}
		if len(kept) != len(c.kept) || o.Len() != len(kept) || o.Missing.Rows != c.missing || o.Duplicate.Rows != c.duplicate || o.Backward.Rows != c.backward || o.Jumps != c.jumps || o.BackNS != c.back {
			t.Errorf("%s: kept %v, %+v", c.name, kept, o)
			continue
		}
		for i := range kept {
			if kept[i] != c.kept[i] {
				t.Errorf("%s: kept %v, want %v", c.name, kept, c.kept)
				break
			}
		}
	}
}

func TestGapsAreCountedAgainstTheMedianStep(t *testing.T) {
	var l caveat.List
	ingest.TellGaps(&l, []float64{0, 1, 2, 3.5, 4.5, 7.5, 8.5, 10}, func(int) caveat.Place { return caveat.Place{} })
	if len(l) != 1 || *l[0].Place.TimeS != 4.5 || !strings.Contains(l[0].Text, "1 steps are longer than 1.5 times the median step of 1 s; the longest, 3 s") {
		t.Errorf("%+v", l)
	}
	l = nil
	ingest.TellGaps(&l, []float64{0, 1, 2, 3}, func(int) caveat.Place { return caveat.Place{} })
	if len(l) != 0 {
		t.Errorf("even steps have %v", l)
	}
}

func TestSplitUnit(t *testing.T) {
	for _, c := range []struct{ name, stem, unit string }{
		{"v [km/h]", "v", "km/h"}, {"Geschwindigkeit (km/h)", "Geschwindigkeit", "km/h"}, {"v / km/h", "v", "km/h"}, {"v in km/h", "v", "km/h"},
		{"speed_kmh", "speed", "kmh"}, {"lat_deg", "lat", "deg"}, {"brake_0to1", "brake", "1"}, {"temp_min", "temp_min", ""}, {"time_min", "time", "min"},
		{"gps_tow_s", "gps_tow", "s"}, {"speed (filtered)", "speed (filtered)", ""}, {"Global PSP (Accumulated) [kWhr/m^2]", "Global PSP (Accumulated)", "kWhr/m^2"},
		{"gain [(m/s²)/rad]", "gain", "(m/s²)/rad"}, {"gain ((m/s²)/rad)", "gain", "(m/s²)/rad"}, {"x", "x", ""}, {"", "", ""}, {"[m]", "", "m"}, {"DATE (MM/DD/YYYY)", "DATE", "MM/DD/YYYY"},
		{"yaw_rate", "yaw_rate", ""}, {"num_sats", "num_sats", ""}, {"]", "]", ""}, {"a)", "a)", ""},
	} {
		if stem, u := ingest.SplitUnit(c.name); stem != c.stem || u != c.unit {
			t.Errorf("%q is %q in %q, want %q in %q", c.name, stem, u, c.stem, c.unit)
		}
	}
}
