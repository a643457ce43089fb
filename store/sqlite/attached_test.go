package sqlite_test

import (
	"context"
	"database/sql"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/store/sqlite"
)

// SHA-256 of "abc": FIPS 180-2, appendix B.1.
const abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"

func TestWhatIsAttachedCanBeErasedAndTheChainStands(t *testing.T) {
	s, dir := create(t)
	ctx := context.Background()
	sum, size, err := s.Attach(ctx, strings.NewReader("abc"))
	if err != nil || sum != abc || size != 3 {
		t.Fatalf("%s, %d, %v", sum, size, err)
	}
	if _, _, err := s.Attach(ctx, strings.NewReader("abc")); err != nil {
		t.Errorf("the second time: %v", err)
	}
	r, err := s.Attachment(ctx, abc)
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(r)
	if err != nil || string(text) != "abc" || r.Close() != nil {
		t.Errorf("%q, %v", text, err)
	}
	if err := s.Verify(ctx); err != nil {
		t.Error(err)
	}
	if err := s.Erase(ctx, abc); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Attachment(ctx, abc); fault.CodeOf(err) != fault.NotFound || !strings.Contains(err.Error(), "erased") {
		t.Errorf("%v", err)
	}
	if left, _ := os.ReadDir(filepath.Join(dir, sqlite.Attached)); len(left) != 0 {
		t.Errorf("%d files are left", len(left))
	}
	if err := s.Verify(ctx); err != nil {
		t.Errorf("after erasing: %v", err)
	}
	if err := s.Erase(ctx, strings.Repeat("0", 64)); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("erasing nothing: %v", err)
	}
	if err := s.Erase(ctx, "../programme.db"); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("a path instead of a hash: %v", err)
	}
	// Erased and come back, or missing, or changed: each is told.
	if err := os.WriteFile(filepath.Join(dir, sqlite.Attached, abc), []byte("abc"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := s.Verify(ctx); err == nil || !strings.Contains(err.Error(), "was erased") {
		t.Errorf("%v", err)
	}
	if _, _, err := s.Attach(ctx, strings.NewReader("abc")); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, sqlite.Attached, abc), []byte("abd"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := s.Verify(ctx); err == nil || !strings.Contains(err.Error(), abc) {
		t.Errorf("%v", err)
	}
}

func TestACopyIsTheProgrammeWithoutWhateverElseLiesThere(t *testing.T) {
	s, dir := create(t)
	ctx := context.Background()
	for i := range 3 {
		if _, _, err := s.Put(ctx, entry(i)); err != nil {
			t.Fatal(err)
		}
	}
	if _, _, _, err := s.PutRaw(ctx, strings.NewReader("a recording")); err != nil {
		t.Fatal(err)
	}
	if _, _, err := s.Attach(ctx, strings.NewReader("abc")); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "sealed.db"), []byte("locked"), 0o600); err != nil {
		t.Fatal(err)
	}
	to := filepath.Join(t.TempDir(), "copy")
	if err := s.Copy(ctx, to); err != nil { // while it is open
		t.Fatal(err)
	}
	if _, err := os.Stat(filepath.Join(to, "sealed.db")); err == nil {
		t.Error("the sealed file was copied")
	}
	c, err := sqlite.Open(ctx, to)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if all, err := c.Entries(ctx, 0); err != nil || len(all) != 3 {
		t.Errorf("%d entries, %v", len(all), err)
	}
	if err := c.Verify(ctx); err != nil {
		t.Error(err)
	}
	if r, err := c.Attachment(ctx, abc); err != nil {
		t.Error(err)
	} else {
		_ = r.Close()
	}
	if err := s.Copy(ctx, to); fault.CodeOf(err) != fault.Conflict {
		t.Errorf("onto what is there: %v", err)
	}
}

// A programme of the first version of the file is copied aside as it was before it
// is brought up to date; what it holds is there afterwards.
func TestAnOlderFileIsCopiedAsideBeforeItIsBroughtUpToDate(t *testing.T) {
	ctx := context.Background()
	s, dir := create(t)
	if _, _, err := s.Put(ctx, entry(1)); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, sqlite.File)
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	// The file as the first version made it.
	for _, q := range []string{"DROP TABLE attached", "DELETE FROM goose_db_version WHERE version_id > 1", "PRAGMA user_version = 1"} {
		if _, err := db.Exec(q); err != nil {
			t.Fatal(err)
		}
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	again, err := sqlite.Open(ctx, dir)
	if err != nil {
		t.Fatal(err)
	}
	if all, err := again.Entries(ctx, 0); err != nil || len(all) != 1 {
		t.Errorf("%d entries, %v", len(all), err)
	}
	if _, _, err := again.Attach(ctx, strings.NewReader("abc")); err != nil {
		t.Error(err)
	}
	if err := again.Close(); err != nil {
		t.Fatal(err)
	}
	aside, err := sql.Open("sqlite", path+".before-2")
	if err != nil {
		t.Fatal(err)
	}
	defer aside.Close()
	var version, entries, tables int
	for q, into := range map[string]*int{"PRAGMA user_version": &version, "SELECT count(*) FROM entry": &entries, "SELECT count(*) FROM sqlite_master WHERE name = 'attached'": &tables} {
		if err := aside.QueryRow(q).Scan(into); err != nil {
			t.Fatal(err)
		}
	}
	if version != 1 || entries != 1 || tables != 0 {
		t.Errorf("aside: version %d, %d entries, %d tables of what came later", version, entries, tables)
	}
}

// What decisions say of the file is so: foreign keys, write-ahead log, busy timeout,
// full synchronisation, its marks.
func TestTheFileIsAsDecided(t *testing.T) {
	s, dir := create(t)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, sqlite.File+"-*")); len(left) != 0 {
		t.Errorf("closed, it is not one file: %v", left)
	}
	db, err := sql.Open("sqlite", filepath.Join(dir, sqlite.File))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for q, want := range map[string]string{"PRAGMA application_id": "1651205486", "PRAGMA user_version": "2", "PRAGMA journal_mode": "wal"} {
		var got string
		if err := db.QueryRow(q).Scan(&got); err != nil || got != want {
			t.Errorf("%s: %s, want %s (%v)", q, got, want, err)
		}
	}
	again, err := sqlite.Open(context.Background(), dir)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	for q, want := range map[string]string{"PRAGMA foreign_keys": "1", "PRAGMA busy_timeout": "5000", "PRAGMA synchronous": "2"} {
		if got, err := again.Ask(q); err != nil || got != want {
			t.Errorf("%s: %s, want %s (%v)", q, got, want, err)
		}
	}
}
