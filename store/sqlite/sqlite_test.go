package sqlite_test

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"example.org/bookend/app"
	"example.org/bookend/clock"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/store/sqlite"
)

var _ app.Store = (*sqlite.Store)(nil)

func create(t *testing.T) (*sqlite.Store, string) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "Tarn Valley # 1")
	s, err := sqlite.Create(context.Background(), dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	return s, dir
}

func entry(n int) programme.Entry {
	return programme.Entry{
		ID: fmt.Sprintf("entry-%d", n), Kind: "remark", Version: 1, Body: json.RawMessage(fmt.Sprintf(`{"text":"stint %d"}`, n)),
		Author: "lead", Device: "laptop", Counter: int64(n), DeviceTime: clock.Instant{UnixNS: int64(n), Clock: clock.Device},
	}
}

func TestTheSameEntryTwiceIsKeptOnceAndOtherBytesAreAConflict(t *testing.T) {
	s, _ := create(t)
	ctx := context.Background()
	first, again, err := s.Put(ctx, entry(1))
	if err != nil || again || first.Sequence != 1 || first.Previous != "" || !first.ServerTime.Known() {
		t.Fatalf("first put: %+v, again %v, %v", first, again, err)
	}
	second, again, err := s.Put(ctx, entry(1))
	if err != nil || !again || second.Sequence != 1 || second.ServerTime != first.ServerTime {
		t.Fatalf("second put: %+v, again %v, %v", second, again, err)
	}
	other := entry(1)
	other.Body = json.RawMessage(`{"text":"another"}`)
	if _, _, err := s.Put(ctx, other); fault.CodeOf(err) != fault.Conflict {
		t.Errorf("other bytes under the same id: %v", err)
	}
	next, _, err := s.Put(ctx, entry(2))
	if err != nil {
		t.Fatal(err)
	}
	if want, _ := first.Hash(); next.Previous != want || next.Sequence != 2 {
		t.Errorf("the second entry does not follow the first: %+v", next)
	}
	orphan := entry(3)
	orphan.Supersedes = "nonesuch"
	if _, _, err := s.Put(ctx, orphan); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("superseding an unknown entry: %v", err)
	}
	if err := s.Verify(ctx); err != nil {
		t.Error(err)
	}
}

func TestManyWritersLoseNothing(t *testing.T) {
	s, _ := create(t)
	ctx := context.Background()
	var wg sync.WaitGroup
	for w := range 8 {
		wg.Go(func() {
			for i := range 10 {
				if _, _, err := s.Put(ctx, entry(w*100+i)); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	all, err := s.Entries(ctx, 0)
	if err != nil || len(all) != 80 {
		t.Fatalf("%d entries, %v", len(all), err)
	}
	if err := s.Verify(ctx); err != nil {
		t.Error(err)
	}
}

func TestAChangedByteIsNamed(t *testing.T) {
	s, dir := create(t)
	ctx := context.Background()
	for i := range 5 {
		if _, _, err := s.Put(ctx, entry(i)); err != nil {
			t.Fatal(err)
		}
	}
	db, err := sql.Open("sqlite", filepath.Join(dir, sqlite.File))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec(`UPDATE entry SET whole = replace(whole, 'stint 2', 'stint 9') WHERE sequence = 3`); err != nil {
		t.Fatal(err)
	}
	if err := s.Verify(ctx); fault.CodeOf(err) != fault.Conflict || !strings.Contains(err.Error(), "entry 3") {
		t.Errorf("got %v", err)
	}
}

// Whatever is changed of an entry is named: any byte of what was kept, of what was
// sent, of its hash, or a column beside it; entries taken away, swapped, or put in.
func TestWhateverIsChangedOfAnEntryIsNamed(t *testing.T) {
	s, dir := create(t)
	ctx := context.Background()
	for i := range 6 {
		if _, _, err := s.Put(ctx, entry(i)); err != nil {
			t.Fatal(err)
		}
	}
	db, err := sql.Open("sqlite", filepath.Join(dir, sqlite.File))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	do := func(q string, args ...any) {
		t.Helper()
		if _, err := db.Exec(q, args...); err != nil {
			t.Fatal(err)
		}
	}
	do("CREATE TABLE aside AS SELECT * FROM entry")
	back := func() {
		do("DELETE FROM entry")
		do("INSERT INTO entry SELECT * FROM aside")
	}
	named := func(what, says string) {
		t.Helper()
		if err := s.Verify(ctx); fault.CodeOf(err) != fault.Conflict || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v, want %q", what, err, says)
		}
		back()
		if err := s.Verify(ctx); err != nil {
			t.Fatalf("put back: %v", err)
		}
	}
	for _, column := range []string{"whole", "sent", "hash"} {
		var text string
		if err := db.QueryRow("SELECT " + column + " FROM entry WHERE sequence = 4").Scan(&text); err != nil {
			t.Fatal(err)
		}
		for at := 0; at < len(text); at += 7 {
			changed := []byte(text)
			changed[at] ^= 1
			do("UPDATE entry SET "+column+" = CAST(? AS TEXT) WHERE sequence = 4", changed)
			named(fmt.Sprintf("byte %d of %s", at, column), "entry 4")
		}
	}
	for column, value := range map[string]any{"kind": "run", "version": 2, "device": "other", "counter": 99, "id": "entry-99"} {
		do("UPDATE entry SET "+column+" = ? WHERE sequence = 4", value)
		named(column, "entry 4")
	}
	do("DELETE FROM entry WHERE sequence = 3")
	named("an entry taken away", "entry 3 is missing")
	do("DELETE FROM entry WHERE sequence = 1")
	named("the first taken away", "entry 1 is missing")
	do("UPDATE entry SET sequence = -1 WHERE sequence = 2")
	do("UPDATE entry SET sequence = 2 WHERE sequence = 3")
	do("UPDATE entry SET sequence = 3 WHERE sequence = -1")
	named("two swapped", "entry 2")
}

func TestRawFilesAreKeptByTheirHashAndAChangedOneIsNamed(t *testing.T) {
	s, dir := create(t)
	ctx := context.Background()
	// SHA-256 of "abc": FIPS 180-2, appendix B.1.
	const abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
	sum, size, again, err := s.PutRaw(ctx, strings.NewReader("abc"))
	if err != nil || sum != abc || size != 3 || again {
		t.Fatalf("%s, %d, %v, %v", sum, size, again, err)
	}
	if _, _, again, err = s.PutRaw(ctx, strings.NewReader("abc")); err != nil || !again {
		t.Errorf("the second time: again %v, %v", again, err)
	}
	left, _ := os.ReadDir(filepath.Join(dir, sqlite.Recordings))
	if len(left) != 1 {
		t.Errorf("%d files in the folder, want 1", len(left))
	}
	if _, err := s.Raw(ctx, strings.Repeat("0", 64)); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("an unknown file: %v", err)
	}
	if _, err := s.Raw(ctx, "../programme.db"); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("a path instead of a hash: %v", err)
	}
	path := filepath.Join(dir, sqlite.Recordings, abc)
	if err := os.Chmod(path, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte("abd"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := s.Verify(ctx); err == nil || !strings.Contains(err.Error(), abc) {
		t.Errorf("got %v", err)
	}
}

type broken struct{}

func (broken) Read(p []byte) (int, error) { return 0, fmt.Errorf("the card was pulled") }

func TestAReadThatFailsLeavesNothingHalfWritten(t *testing.T) {
	s, dir := create(t)
	if _, _, _, err := s.PutRaw(context.Background(), broken{}); err == nil || !strings.Contains(err.Error(), "card was pulled") {
		t.Errorf("got %v", err)
	}
	if left, _ := os.ReadDir(filepath.Join(dir, sqlite.Recordings)); len(left) != 0 {
		t.Errorf("%d files were left", len(left))
	}
}

func TestOneFileIsTheProgrammeOnceClosed(t *testing.T) {
	s, dir := create(t)
	ctx := context.Background()
	if _, _, err := s.Put(ctx, entry(1)); err != nil {
		t.Fatal(err)
	}
	if err := s.PutResult(ctx, "d1", []byte(`{"a":1}`)); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	moved := filepath.Join(t.TempDir(), "moved")
	if err := os.MkdirAll(moved, 0o755); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(filepath.Join(dir, sqlite.File))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(moved, sqlite.File), data, 0o644); err != nil {
		t.Fatal(err)
	}
	again, err := sqlite.Open(ctx, moved)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	all, err := again.Entries(ctx, 0)
	if err != nil || len(all) != 1 {
		t.Errorf("%d entries, %v", len(all), err)
	}
	if body, ok, err := again.Result(ctx, "d1"); err != nil || !ok || string(body) != `{"a":1}` {
		t.Errorf("%s, %v, %v", body, ok, err)
	}
	if _, ok, err := again.Result(ctx, "d2"); err != nil || ok {
		t.Errorf("an unknown result: %v, %v", ok, err)
	}
}

func TestWhatIsNoProgrammeIsRefused(t *testing.T) {
	ctx := context.Background()
	empty := t.TempDir()
	if _, err := sqlite.Open(ctx, empty); fault.CodeOf(err) != fault.NotFound || fault.HintOf(err) == "" {
		t.Errorf("an empty folder: %v", err)
	}
	text := t.TempDir()
	if err := os.WriteFile(filepath.Join(text, sqlite.File), []byte(strings.Repeat("no database ", 100)), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := sqlite.Open(ctx, text); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("a text file: %v", err)
	}
	for _, c := range []struct {
		make string
		want fault.Code
	}{
		{"CREATE TABLE other (x)", fault.Invalid},
		{"CREATE TABLE entry (x); PRAGMA application_id = 1651205486; PRAGMA user_version = 99", fault.Unsupported},
	} {
		dir := t.TempDir()
		db, err := sql.Open("sqlite", filepath.Join(dir, sqlite.File))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := db.Exec(c.make); err != nil {
			t.Fatal(err)
		}
		_ = db.Close()
		if _, err := sqlite.Open(ctx, dir); fault.CodeOf(err) != c.want {
			t.Errorf("%s: %v, want %s", c.make, err, c.want)
		}
	}
	s, dir := create(t)
	_ = s
	if _, err := sqlite.Create(ctx, dir); fault.CodeOf(err) != fault.Conflict {
		t.Errorf("creating twice: %v", err)
	}
}
