package app_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"example.org/bookend/app"
	"example.org/bookend/clock"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/programme/runlog"
	"example.org/bookend/store/sqlite"
	"example.org/bookend/table"
)

// folder begins a programme in a folder of its own; its clock stands still.
func folder(t *testing.T) *app.Folder {
	t.Helper()
	ctx := context.Background()
	s, err := sqlite.Create(ctx, filepath.Join(t.TempDir(), "moor"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	f := &app.Folder{Store: s, Author: "lead", Device: "laptop", Now: func() time.Time { return time.Unix(1778666400, 0) }}
	if err := f.Begin(ctx, programme.Programme{Title: "Wet stops", Zone: "Europe/London"}); err != nil {
		t.Fatal(err)
	}
	return f
}

// made is an entry as a tablet makes it.
func made(n int, kind, body string) programme.Entry {
	return programme.Entry{
		ID: fmt.Sprintf("01890a5d-ac96-774b-bcce-%012x", n), Kind: kind, Version: 1, Body: json.RawMessage(body),
		Author: "Rask", Device: "tablet", Counter: int64(n), DeviceTime: clock.Instant{UnixNS: 1778666400e9 + int64(n)*60e9, Clock: clock.Device},
	}
}

// The outbox's protocol: the same id with the same bytes is kept once and answered
// as kept; other bytes are a conflict; what is malformed is refused and holds
// nothing else back; order is the device's.
func TestAnOutboxIsKeptOnceAndInOrder(t *testing.T) {
	f := folder(t)
	ctx := context.Background()
	box := []programme.Entry{
		made(1, runlog.Stint, `{"test":"stop","stint":"1","code":"K"}`),
		made(2, runlog.Run, `{"stint":"1","run":"1","test":"stop"}`),
		made(3, runlog.Run, `{"stint":"1","test":"stop"}`),
		made(4, runlog.Remark, `{"text":"<wet> & windy"}`),
	}
	got, err := f.Append(ctx, box)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []struct {
		kept bool
		code fault.Code
	}{{true, ""}, {true, ""}, {false, fault.Invalid}, {true, ""}} {
		if got[i].Kept != want.kept || got[i].Code != want.code || got[i].ID != box[i].ID {
			t.Errorf("entry %d: %+v", i+1, got[i])
		}
	}
	if !strings.Contains(got[2].Text, "field run") || got[2].Hint == "" {
		t.Errorf("the refusal names no field: %+v", got[2])
	}
	// Sent again, in other white space and order of keys: the same canonical bytes.
	again := slices.Clone(box)
	again[1].Body = json.RawMessage("{ \"test\":\"stop\",\n \"run\":\"1\", \"stint\":\"1\" }")
	got, err = f.Append(ctx, again)
	if err != nil {
		t.Fatal(err)
	}
	for _, i := range []int{0, 1, 3} {
		if !got[i].Kept || !got[i].Again {
			t.Errorf("entry %d again: %+v", i+1, got[i])
		}
	}
	other := made(1, runlog.Stint, `{"test":"stop","stint":"1","code":"P"}`)
	if got, err = f.Append(ctx, []programme.Entry{other}); err != nil || got[0].Kept || got[0].Code != fault.Conflict {
		t.Errorf("other bytes under a known id: %+v, %v", got, err)
	}
	s, err := app.Rebuild(ctx, f.Store)
	if err != nil {
		t.Fatal(err)
	}
	if s.Entries != 4 || len(s.Day.Entries) != 3 {
		t.Errorf("%d entries, %d of the run log", s.Entries, len(s.Day.Entries))
	}
	if len(s.Gaps) != 1 || s.Gaps[0].Device != "tablet" || !slices.Equal(s.Gaps[0].Missing, []int64{3}) {
		t.Errorf("the refused entry leaves a gap that is told: %v", s.Gaps)
	}
	if err := f.Store.Verify(ctx); err != nil {
		t.Error(err)
	}
}

func TestWhatADeviceMayNotSendIsRefused(t *testing.T) {
	f := folder(t)
	for says, change := range map[string]func(*programme.Entry){
		"no id of an entry":     func(e *programme.Entry) { e.ID = "f47ac10b-58cc-4372-a567-0e02b2c3d479" }, // version 4
		"no id":                 func(e *programme.Entry) { e.ID = strings.ToUpper(e.ID) },
		"no kind of a run log":  func(e *programme.Entry) { e.Kind = app.KindExclusion },
		"no kind":               func(e *programme.Entry) { e.Kind = app.KindLimits },
		"needs its author":      func(e *programme.Entry) { e.Author = "" },
		"needs":                 func(e *programme.Entry) { e.Counter = 0 },
		"needs its author, its": func(e *programme.Entry) { e.DeviceTime = clock.Instant{} },
		"not known":             func(e *programme.Entry) { e.Version = 2 },
		"takes nothing back":    func(e *programme.Entry) { e.Kind, e.Body = app.KindWithdrawal, json.RawMessage(`{}`) },
		"is not kept here":      func(e *programme.Entry) { e.Supersedes = made(77, "", "").ID },
	} {
		e := made(1, runlog.Remark, `{"text":"x"}`)
		change(&e)
		got, err := f.Append(context.Background(), []programme.Entry{e})
		if err != nil || got[0].Kept || !strings.Contains(got[0].Text, says) {
			t.Errorf("%+v, %v, want %q", got, err, says)
		}
	}
}

// Limits answer at once, by the test's own profile, else by that of all tests, else
// by the usual one; what is about the control waits for the engineer.
func TestLimitsAnswerAtOnce(t *testing.T) {
	f := folder(t)
	ctx := context.Background()
	wind := func(mps string) string {
		r, err := f.Log(ctx, runlog.Conditions, json.RawMessage(`{"test":"stop","wind_mps":`+mps+`}`))
		if err != nil {
			t.Fatal(err)
		}
		var out []string
		for _, a := range r.Answers {
			out = append(out, a.Field+" "+string(a.Standing))
		}
		return strings.Join(out, ", ")
	}
	if got := wind("6"); got != "wind_mps broken" {
		t.Errorf("usual: %q", got)
	}
	seven, two := 7.0, 2.0
	source := programme.Source{Key: programme.Own, Clause: "test"}
	profile := func(high *float64) programme.Profile {
		return programme.Profile{ID: "own", Version: 1, Title: "own", Source: source, Limits: []programme.Limit{
			{Field: "wind_mps", High: high, Unit: "m/s", Source: source}, {Field: "reference_shift", High: high, Of: "control", Unit: "%", Source: source}}}
	}
	if err := f.SetLimits(ctx, app.LimitsEntry{Profile: profile(&seven)}); err != nil {
		t.Fatal(err)
	}
	if got := wind("6"); got != "wind_mps within" {
		t.Errorf("of all tests: %q", got)
	}
	if err := f.SetLimits(ctx, app.LimitsEntry{Test: "stop", Profile: profile(&two)}); err != nil {
		t.Fatal(err)
	}
	if got := wind("6"); got != "wind_mps broken" {
		t.Errorf("of the test: %q", got)
	}
	if a, err := f.Try(ctx, runlog.Conditions, []byte(`{"test":"stop","wind_mps":1}`)); err != nil || len(a) != 1 || a[0].Standing != programme.Within {
		t.Errorf("tried: %+v, %v", a, err)
	}
	if err := f.SetLimits(ctx, app.LimitsEntry{Profile: programme.Profile{ID: "x"}}); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("a profile that says nothing: %v", err)
	}
	for _, body := range []string{`{"test":"stop","stint":"1","code":"K"}`} {
		if _, err := f.Log(ctx, runlog.Stint, json.RawMessage(body)); err != nil {
			t.Fatal(err)
		}
	}
	r, err := f.Log(ctx, runlog.Times, json.RawMessage(`{"test":"stop","stint":"1","run":"1","measure":"distance","value":33.1}`))
	if err != nil || r.Wait != app.WaitForEngineer {
		t.Errorf("%+v, %v", r, err)
	}
}

// A correction changes what is said, keeps the rest, and leaves the old entry where
// it is.
func TestACorrectionIsANewEntry(t *testing.T) {
	f := folder(t)
	ctx := context.Background()
	r, err := f.Log(ctx, runlog.Stint, runlog.StintBody{Test: "stop", Stint: "1", Code: "K", Driver: "Rask", Remark: "cold"})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.CorrectEntry(ctx, r.ID, map[string]any{"code": "P", "remark": nil}); err != nil {
		t.Fatal(err)
	}
	s, err := app.Rebuild(ctx, f.Store)
	if err != nil {
		t.Fatal(err)
	}
	if st := s.Day.Stint("stop", "1"); st.Code != "P" || st.Driver != "Rask" || st.Remark != "" || s.Entries != 3 {
		t.Errorf("%+v, %d entries", st.StintBody, s.Entries)
	}
	if _, err := f.CorrectEntry(ctx, r.ID, map[string]any{"code": "R"}); fault.CodeOf(err) != fault.Conflict {
		t.Errorf("the old entry corrected again: %v", err)
	}
	if _, err := f.CorrectEntry(ctx, s.Day.Stint("stop", "1").Entry.ID, map[string]any{"code": nil}); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("a needed field emptied: %v", err)
	}
	if err := f.Withdraw(ctx, s.Day.Stint("stop", "1").Entry.ID); err != nil {
		t.Fatal(err)
	}
	if s, err = app.Rebuild(ctx, f.Store); err != nil || s.Day.Stint("stop", "1") != nil || s.Entries != 4 {
		t.Errorf("%d entries, %v", s.Entries, err)
	}
}

// What is erased is logged first, and the chain stands.
func TestErasingIsLogged(t *testing.T) {
	f := folder(t)
	ctx := context.Background()
	sum, err := f.Attach(ctx, strings.NewReader("a voice"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.Log(ctx, runlog.Remark, runlog.RemarkBody{Voice: sum}); err != nil {
		t.Fatal(err)
	}
	if err := f.Erase(ctx, sum, " "); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("without a reason: %v", err)
	}
	if err := f.Erase(ctx, sum, "asked for"); err != nil {
		t.Fatal(err)
	}
	all, err := f.Store.Entries(ctx, 0)
	if err != nil || all[len(all)-1].Kind != app.KindErased || !bytes.Contains(all[len(all)-1].Body, []byte("asked for")) {
		t.Errorf("%+v, %v", all[len(all)-1], err)
	}
	if err := f.Store.Verify(ctx); err != nil {
		t.Error(err)
	}
}

// Entries of every kind, out as tables and in again elsewhere: the same entries,
// byte for byte, however often.
func TestTablesGiveBackTheSameEntries(t *testing.T) {
	ctx := context.Background()
	from, to := folder(t), folder(t)
	var box []programme.Entry
	for i, k := range runlog.Kinds() {
		body := map[string]any{}
		for j, field := range k.Fields {
			switch field.Type {
			case runlog.Text:
				body[field.Key] = fmt.Sprintf("%s, \"%d\";\nsecond line", field.Key, j)
			case runlog.Word:
				body[field.Key] = field.Words[len(field.Words)-1]
			case runlog.Number:
				body[field.Key] = 7.0
				if field.Low != nil {
					body[field.Key] = *field.Low + (*field.High-*field.Low)/3
				}
			case runlog.Numbers:
				body[field.Key] = []float64{*field.High, *field.High / 7}
			case runlog.Flag:
				body[field.Key] = true
			case runlog.Moment:
				body[field.Key] = "2026-05-13T10:42:00.123456789+01:00"
			case runlog.Hash:
				body[field.Key] = strings.Repeat("0a", 32)
			case runlog.EntryID:
				body[field.Key] = made(1, "", "").ID
			}
		}
		if k.ID == runlog.Rating {
			body["value"] = 7.25
		}
		text, err := json.Marshal(body)
		if err != nil {
			t.Fatal(err)
		}
		e := made(i+1, k.ID, string(text))
		e.DeviceTime.OffsetS = -0.125
		box = append(box, e)
	}
	got, err := from.Append(ctx, box)
	if err != nil {
		t.Fatal(err)
	}
	for i, r := range got {
		if !r.Kept {
			t.Errorf("%s: %s", box[i].Kind, r.Text)
		}
	}
	for _, k := range runlog.Kinds() {
		var text bytes.Buffer
		if err := table.WriteEntries(&text, k, box); err != nil {
			t.Fatal(err)
		}
		for range 2 {
			r, err := to.ImportLog(ctx, k, "x.csv", text.Bytes(), nil)
			if err != nil || len(r) != 1 || !r[0].Kept {
				t.Fatalf("%s: %+v, %v\n%s", k.ID, r, err, text.String())
			}
		}
	}
	// What the tables gave back is kept under the same ids: sending the originals is
	// sending the same bytes again.
	got, err = to.Append(ctx, box)
	if err != nil {
		t.Fatal(err)
	}
	for i, r := range got {
		if !r.Kept || !r.Again {
			t.Errorf("%s came back otherwise: %+v", box[i].Kind, r)
		}
	}
}

// A programme of 40 stints and 400 runs, each with a value and a reading, is
// rebuilt fast enough not to be noticed.
func BenchmarkRebuild(b *testing.B) {
	ctx := context.Background()
	s, err := sqlite.Create(ctx, filepath.Join(b.TempDir(), "moor"))
	if err != nil {
		b.Fatal(err)
	}
	defer func() { _ = s.Close() }()
	n := 0
	put := func(kind, body string) {
		n++
		if _, _, err := s.Put(ctx, made(n, kind, body)); err != nil {
			b.Fatal(err)
		}
	}
	put(runlog.Wetting, `{"test":"stop","what":"start"}`)
	for i := range 40 {
		put(runlog.Stint, fmt.Sprintf(`{"test":"stop","stint":"%d","code":"%c"}`, i+1, 'A'+i%4))
		for r := range 10 {
			put(runlog.Run, fmt.Sprintf(`{"test":"stop","stint":"%d","run":"%d"}`, i+1, r+1))
			put(runlog.Times, fmt.Sprintf(`{"test":"stop","stint":"%d","run":"%d","measure":"distance","value":%d}`, i+1, r+1, 30+i%3))
			put(runlog.Depth, `{"test":"stop","spot":"middle","water_depth_m":0.001}`)
		}
	}
	b.ResetTimer()
	for range b.N {
		state, err := app.Rebuild(ctx, s)
		if err != nil {
			b.Fatal(err)
		}
		if q := state.Day.Sequence("stop"); len(q.Log.Runs) != 400 {
			b.Fatal(len(q.Log.Runs))
		}
	}
}

// A report names where the chain stood. Cut off its end, the chain verifies still,
// but it never stood there.
func TestWhatWasCutOffTheEndShows(t *testing.T) {
	f := folder(t)
	ctx := context.Background()
	if _, err := f.Log(ctx, runlog.Remark, runlog.RemarkBody{Text: "first"}); err != nil {
		t.Fatal(err)
	}
	s, err := app.Rebuild(ctx, f.Store)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.Log(ctx, runlog.Remark, runlog.RemarkBody{Text: "second"}); err != nil {
		t.Fatal(err)
	}
	if e, err := f.Stood(ctx, s.Head); err != nil || e.Sequence != 2 {
		t.Errorf("%d, %v", e.Sequence, err)
	}
	if _, err := f.Stood(ctx, strings.Repeat("0", 64)); fault.CodeOf(err) != fault.Conflict {
		t.Errorf("%v", err)
	}
}
