package app

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.org/bookend/app/logger"
	"example.org/bookend/clock"
	"example.org/bookend/fault"
	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited"
	"example.org/bookend/procedure"
	"example.org/bookend/procedure/braking"
	"example.org/bookend/programme"
	"example.org/bookend/store/sqlite"
)

// stopsLog writes a text log of so many stops from 90 km/h at 7 m/s², 50 rows a second;
// odd makes its content another's.
func stopsLog(n int, odd string) string { return stopsWith(odd, make([]int, n)...) }

// stopsWith makes as many stops as there are pauses, each of so many seconds besides the
// two at rest.
func stopsWith(odd string, pauses ...int) string {
	var b strings.Builder
	fmt.Fprintf(&b, "time_s,speed_kmh%s\n", odd)
	t := 0.0
	row := func(v float64) {
		fmt.Fprintf(&b, "%.2f,%.3f%s\n", t, v*3.6, strings.Repeat(",0", strings.Count(odd, ",")))
		t += 0.02
	}
	for _, pause := range pauses {
		for v := 0.0; v < 25; v += 0.1 {
			row(v)
		}
		for v := 25.0; v > 0; v -= 0.14 {
			row(v)
		}
		for range 100 + 50*pause {
			row(0)
		}
	}
	return b.String()
}

// moor is a programme with a run log of three stints of two stops, in the files a, b
// and c; dir is its folder.
func moor(t *testing.T) (f *Folder, dir string) {
	t.Helper()
	dir = filepath.Join(t.TempDir(), "moor")
	store, err := sqlite.Create(context.Background(), dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { store.Close() })
	f = &Folder{
		Store: store, Author: "lead", Device: "test", Now: func() time.Time { return time.Unix(1_780_000_000, 0) },
		Shelf: logger.Shelf{Readers: []ingest.Reader{delimited.New()}, Procedures: []procedure.Procedure{braking.New()}, Version: "test"},
	}
	if err := f.Begin(context.Background(), programme.Programme{Title: "moor", Zone: "Europe/London"}); err != nil {
		t.Fatal(err)
	}
	log := "stint,code,run,recording\n1,K,1,a.csv\n1,K,2,a.csv\n2,P,1,b.csv\n2,P,2,b.csv\n3,K,1,c.csv\n3,K,2,c.csv\n"
	brought(t, f, file(t, t.TempDir(), "runlog.csv", log))
	return f, dir
}

func file(t *testing.T, dir, name, text string) string {
	t.Helper()
	path := filepath.Join(dir, name)
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func brought(t *testing.T, f *Folder, paths ...string) []Imported {
	t.Helper()
	out, err := f.Import(context.Background(), ImportRequest{Test: "wet-stop", Procedure: "braking", Paths: paths})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func state(t *testing.T, f *Folder) *State {
	t.Helper()
	s, err := Rebuild(context.Background(), f.Store)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestWhatHasArrivedByStint(t *testing.T) {
	f, _ := moor(t)
	card := t.TempDir()
	brought(t, f, file(t, card, "a.csv", stopsLog(2, "")), file(t, card, "b.csv", stopsLog(1, "")), file(t, card, "d.csv", stopsLog(3, "")))
	list, err := f.Intake(context.Background(), state(t, f), "wet-stop")
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, a := range list {
		got = append(got, fmt.Sprintf("%s %s %s %d/%d %s %v", a.Stint, a.Code, a.Name, a.Pieces, a.Runs, a.State, a.Another))
	}
	want := []string{"1 K a.csv 2/2 arrived false", "2 P b.csv 1/2 short false", "3 K c.csv 0/2 missing false", "  d.csv 3/0 stray false"}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("%q, want %q", got, want)
	}

	// The same name with other content is another recording; the same content again is
	// none.
	again := brought(t, f, file(t, card, "a.csv", stopsLog(2, "")), file(t, t.TempDir(), "a.csv", stopsLog(2, ",x")))
	if !again[0].Again || again[0].Another || again[1].Again || !again[1].Another {
		t.Errorf("%+v", again)
	}
	s := state(t, f)
	list, err = f.Intake(context.Background(), s, "wet-stop")
	if err != nil || len(list) != 5 || list[0].Name != "a.csv" || list[1].Name != "a.csv" || !list[0].Another || !list[1].Another || list[0].SHA256 == list[1].SHA256 {
		t.Errorf("%v %+v", err, list)
	}

	// Without clocks nobody can say which of the two the log means.
	brought(t, f, file(t, card, "b.csv", stopsLog(2, "")), file(t, card, "c.csv", stopsLog(2, "")))
	if _, err := f.Drive(context.Background(), state(t, f), "wet-stop"); fault.CodeOf(err) != fault.Conflict || !strings.Contains(fault.HintOf(err), "a.csv#") {
		t.Errorf("two recordings of one name: %v %s", err, fault.HintOf(err))
	}

	// A recording whose end is not there is short, however many stops it holds.
	f, _ = moor(t)
	brought(t, f, file(t, card, "a.csv", strings.TrimSuffix(stopsLog(2, ""), "00\n")))
	if list, err = f.Intake(context.Background(), state(t, f), "wet-stop"); err != nil || list[0].State != Short || list[0].Pieces != 2 {
		t.Errorf("%v %+v", err, list)
	}
}

// A recording without a clock that holds a run more than the log lists: the times
// between the runs tell which, and the one that was not logged is said and not used.
func TestTimesBetweenRunsTellWhich(t *testing.T) {
	f, _ := moor(t)
	// Stops begin 0, 30.6, 66.1, 86.7 and 127.2 s after the first; the third is not logged.
	log := "stint,code,run,clock,recording\n" +
		"5,K,1,2026-05-13T09:00:10,e.csv\n5,K,2,2026-05-13T09:00:40,e.csv\n5,K,3,2026-05-13T09:01:37,e.csv\n5,K,4,2026-05-13T09:02:17,e.csv\n"
	brought(t, f, file(t, t.TempDir(), "more.csv", log), file(t, t.TempDir(), "e.csv", stopsWith("", 20, 25, 10, 30, 0)))
	d, err := f.Drive(context.Background(), state(t, f), "wet-stop")
	if err != nil {
		t.Fatal(err)
	}
	runs := map[string]bool{}
	for _, o := range d.Log.Observations {
		runs[o.Run] = true
	}
	if len(runs) != 4 || !d.Log.Caveats.Has("run_extra") || d.Log.Caveats.Has("clock_offset") || len(d.Log.Exclusions) != 0 {
		t.Errorf("runs %v, caveats %v, left out %v", runs, d.Log.Caveats, d.Log.Exclusions)
	}
	for _, c := range d.Log.Caveats {
		if c.Code == "run_extra" && (*c.Place.TimeS < 60 || *c.Place.TimeS > 72) {
			t.Errorf("the run that was not logged is at %.1f s", *c.Place.TimeS)
		}
	}
}

// bytesBelow reads every file below a folder.
func bytesBelow(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		info, e := d.Info()
		if e != nil {
			return e
		}
		out[strings.TrimPrefix(path, dir)] = string(b) + info.ModTime().String()
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// Nothing is called safe to wipe before its bytes have been read again in the programme
// and on another device, and nothing on the card is touched.
func TestSafeToWipe(t *testing.T) {
	f, dir := moor(t)
	ctx := context.Background()
	card, second := t.TempDir(), t.TempDir()
	brought(t, f, file(t, card, "a.csv", stopsLog(2, "")), file(t, card, "b.csv", stopsLog(1, "")))
	before := bytesBelow(t, card)
	devices := map[string]uint64{dir: 1, second: 2, card: 3}
	deviceOf = func(path string) (uint64, bool) { d, ok := devices[path]; return d, ok }
	defer func() { deviceOf = device }()
	wipe := func(m Media) (all bool, list []Copied) {
		t.Helper()
		list, err := f.Card(ctx, state(t, f), m)
		if err != nil {
			t.Fatal(err)
		}
		all = true
		for _, c := range list {
			all = all && c.Wipe
		}
		return all, list
	}
	if all, list := wipe(Media{Kept: dir, Card: card}); all || !list[0].Kept || list[0].Verified {
		t.Errorf("without a second copy: %+v", list)
	}
	m := Media{Kept: dir, Second: second, Card: card}
	if all, list := wipe(m); !all || len(list) != 2 {
		t.Errorf("%+v", list)
	}
	// The same again finds the copies there.
	if all, list := wipe(m); !all {
		t.Errorf("again: %+v", list)
	}
	written := bytesBelow(t, second)
	if len(written) != 2 {
		t.Errorf("the second medium holds %d files", len(written))
	}
	// A copy by hand under its own name does as well.
	third := t.TempDir()
	devices[third] = 4
	file(t, third, "card of monday.csv", stopsLog(2, ""))
	if all, list := wipe(Media{Kept: dir, Second: third, Card: card}); !all {
		t.Errorf("by hand: %+v", list)
	}
	if n := len(bytesBelow(t, third)); n != 2 {
		t.Errorf("by hand: %d files, one of which was there", n)
	}

	// The same device is no second medium.
	devices[second] = 1
	if all, list := wipe(m); all || !list[0].Verified || list[0].Wipe || !strings.Contains(list[0].Remark, "same device") {
		t.Errorf("on one device: %+v", list)
	}
	devices[second] = 3
	if all, list := wipe(m); all || !strings.Contains(list[0].Remark, "the card") {
		t.Errorf("on the card: %+v", list)
	}
	delete(devices, second)
	if all, list := wipe(m); all {
		t.Errorf("on who knows what: %+v", list)
	}
	devices[second] = 2

	// A file that was not imported, or changed since, keeps the card from being wiped.
	file(t, card, "c.csv", stopsLog(3, ""))
	if all, list := wipe(m); all || list[2].Kept || list[2].Wipe || !list[0].Wipe {
		t.Errorf("a file more: %+v", list)
	}
	if err := os.Remove(filepath.Join(card, "c.csv")); err != nil {
		t.Fatal(err)
	}

	// A second copy whose bytes have changed is written anew beside it, and verified.
	for name := range written {
		path := filepath.Join(second, name)
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		b[len(b)/2] ^= 1
		if err := os.WriteFile(path, b, 0o644); err != nil {
			t.Fatal(err)
		}
		break
	}
	if all, list := wipe(m); !all {
		t.Errorf("after a bit has turned: %+v", list)
	}

	// The programme's own copy is spoilt: nothing of it is safe, and nothing spoilt is
	// copied.
	sum := state(t, f).Recordings[0].SHA256
	empty := t.TempDir()
	devices[empty] = 5
	spoilt := ""
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() && strings.Contains(filepath.ToSlash(path), sum[2:]) {
			spoilt = path
		}
		return err
	})
	if err != nil || spoilt == "" {
		t.Fatal(err, "the raw file is not found")
	}
	if err := os.Chmod(spoilt, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(spoilt, []byte("time_s,speed_kmh\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	all, list := wipe(Media{Kept: dir, Second: empty, Card: card})
	if all || list[0].Kept || list[0].Wipe || !list[1].Wipe {
		t.Errorf("spoilt: %+v", list)
	}
	if left := bytesBelow(t, empty); len(left) != 1 {
		t.Errorf("spoilt: %d files on the second medium", len(left))
	}
	if after := bytesBelow(t, card); fmt.Sprint(after) != fmt.Sprint(before) {
		t.Error("the card has been changed")
	}
	if _, err := f.SecondCopies(ctx, Media{Kept: dir, Second: filepath.Join(second, "nowhere")}, nil); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("a folder that is not there: %v", err)
	}
}

// A copy that is broken off leaves nothing that looks like one.
func TestABrokenCopyLeavesNothing(t *testing.T) {
	f, dir := moor(t)
	card, second := t.TempDir(), t.TempDir()
	brought(t, f, file(t, card, "a.csv", stopsLog(2, "")))
	ctx, cancel := context.WithCancel(context.Background())
	s := state(t, f)
	cancel()
	if _, err := f.SecondCopies(ctx, Media{Kept: dir, Second: second}, s.Recordings); err == nil {
		t.Error("it went on")
	}
	if left := bytesBelow(t, second); len(left) != 0 {
		t.Errorf("%d files are left", len(left))
	}
}

// Two runs within one minute have a time each; one time for all runs of a stint is the
// first one's.
func TestOwnTimes(t *testing.T) {
	at := func(s int64) clock.Instant { return clock.Instant{UnixNS: s * 1e9, Clock: clock.Typed} }
	runs := []programme.Run{
		{Stint: "1", At: at(60)}, {Stint: "1", At: at(120)}, {Stint: "1", At: at(120)}, {Stint: "1"},
		{Stint: "2", At: at(600)}, {Stint: "2", At: at(600)}, {Stint: "2", At: at(600)}, {Stint: "3"},
	}
	want := []bool{true, true, true, false, true, false, false, false}
	for i, got := range ownTimes(runs) {
		if got != want[i] {
			t.Errorf("run %d: %v", i, got)
		}
	}
}
