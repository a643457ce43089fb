// Package sqlite keeps a programme in a folder: one database file and the raw
// recordings under the SHA-256 of their bytes.
//
// The database runs with foreign keys, a write-ahead log, a busy timeout of 5 s,
// full synchronisation (a flat laptop battery is the real fault at a track) and
// immediate transactions, with one writing connection. Closing checkpoints, so
// that the one file is the programme. Entries form a chain by hash; a changed
// byte is named by Verify.
package sqlite

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"embed"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"github.com/pressly/goose/v3"
	_ "modernc.org/sqlite" // the driver "sqlite"

	"example.org/bookend/clock"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

//go:embed migrations/*.sql
var migrations embed.FS

const (
	// File is the database's name in a programme's folder.
	File = "programme.db"

	// Recordings is the folder of raw files in a programme's folder.
	Recordings = "recordings"

	// applicationID marks the file as a programme of bookend ("bken" in ASCII).
	applicationID = 0x626b656e

	// newest is the version of the newest migration, kept as user_version.
	newest = 2
)

// shelf is what a database of entries is of: its name in the folder, its mark,
// and what people call it.
type shelf struct {
	file, noun string
	id         int64 // application_id
}

var ofProgramme = shelf{File, "programme", applicationID}

// Store is a programme's folder, open.
type Store struct {
	of    shelf
	dir   string
	write *sql.DB // one connection
	read  *sql.DB
	now   func() time.Time
}

// Create makes a programme's folder and opens it. A folder that holds a
// programme already is a conflict; any other content is left alone.
func Create(ctx context.Context, dir string) (*Store, error) {
	if _, err := os.Stat(filepath.Join(dir, File)); err == nil {
		return nil, fault.New(fault.Conflict, "there is a programme already").At("%s", dir).
			WithHint("name another folder, or work in this one")
	}
	if err := os.MkdirAll(filepath.Join(dir, Recordings), 0o755); err != nil {
		return nil, fault.New(fault.Invalid, "making the folder: %w", err).At("%s", dir)
	}
	return open(ctx, dir, ofProgramme)
}

// Open opens a programme's folder. An older database is copied beside itself
// before it is brought up to date; a newer one is refused.
func Open(ctx context.Context, dir string) (*Store, error) {
	if _, err := os.Stat(filepath.Join(dir, File)); err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return nil, fault.New(fault.NotFound, "no programme here: there is no %s", File).At("%s", dir).
				WithHint("go to a programme's folder, or make one: bookend new FOLDER")
		}
		return nil, fault.New(fault.Invalid, "opening the programme: %w", err).At("%s", dir)
	}
	return open(ctx, dir, ofProgramme)
}

func open(ctx context.Context, dir string, of shelf) (*Store, error) {
	s := &Store{of: of, dir: dir, now: time.Now}
	path := filepath.Join(dir, of.file)
	var err error
	if s.write, err = connect(path, 1); err != nil {
		return nil, fault.At(err, "%s", path)
	}
	if err := s.upToDate(ctx, path); err != nil {
		_ = s.write.Close()
		return nil, fault.At(err, "%s", path)
	}
	if s.read, err = connect(path, 4); err != nil {
		_ = s.write.Close()
		return nil, fault.At(err, "%s", path)
	}
	return s, nil
}

// disk is what databases are stored by and how they are synced. Only the tests of
// power cuts put something else in its place.
var disk = struct {
	vfs         string // one of SQLite's file systems; empty: the usual one
	synchronous string
}{synchronous: "FULL"}

func connect(path string, connections int) (*sql.DB, error) {
	q := url.Values{}
	for _, p := range []string{"foreign_keys(1)", "journal_mode(WAL)", "busy_timeout(5000)", "synchronous(" + disk.synchronous + ")"} {
		q.Add("_pragma", p)
	}
	if disk.vfs != "" {
		q.Set("vfs", disk.vfs)
	}
	q.Set("_txlock", "immediate")
	u := url.URL{Scheme: "file", OmitHost: true, Path: path, RawQuery: q.Encode()}
	db, err := sql.Open("sqlite", u.String())
	if err != nil {
		return nil, fault.New(fault.Internal, "opening the database: %w", err)
	}
	db.SetMaxOpenConns(connections)
	if err := db.Ping(); err != nil {
		_ = db.Close()
		return nil, fault.New(fault.Invalid, "opening the database: %w", err).
			WithHint("the file may be no database, or damaged; put back a copy of the folder")
	}
	return db, nil
}

// upToDate refuses strangers and newer files, copies an older file aside, and
// applies the migrations.
func (s *Store) upToDate(ctx context.Context, path string) error {
	var app, version, tables int64
	for query, into := range map[string]*int64{
		"PRAGMA application_id":              &app,
		"PRAGMA user_version":                &version,
		"SELECT count(*) FROM sqlite_master": &tables,
	} {
		if err := s.write.QueryRowContext(ctx, query).Scan(into); err != nil {
			return fault.New(fault.Invalid, "reading the database: %w", err).
				WithHint("the file may be no database, or damaged; put back a copy of the folder")
		}
	}
	switch {
	case tables > 0 && app != s.of.id:
		return fault.New(fault.Invalid, "the database is no %s of bookend", s.of.noun)
	case version > newest:
		return fault.New(fault.Unsupported, "the "+s.of.noun+" is of version %d, newer than this bookend's %d", version, newest).
			WithHint("use the newer bookend that wrote it")
	case version == newest:
		return nil
	case tables > 0:
		aside := path + ".before-" + strconv.Itoa(newest)
		if _, err := os.Stat(aside); errors.Is(err, fs.ErrNotExist) {
			if _, err := s.write.ExecContext(ctx, "VACUUM INTO ?", aside); err != nil {
				return fault.New(fault.Internal, "copying the older database aside: %w", err)
			}
		}
	}
	if _, err := s.write.ExecContext(ctx, fmt.Sprintf("PRAGMA application_id = %d", s.of.id)); err != nil {
		return fault.New(fault.Internal, "marking the database: %w", err)
	}
	files, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return fault.New(fault.Internal, "reading the migrations: %w", err)
	}
	p, err := goose.NewProvider(goose.DialectSQLite3, s.write, files)
	if err != nil {
		return fault.New(fault.Internal, "reading the migrations: %w", err)
	}
	if _, err := p.Up(ctx); err != nil {
		return fault.New(fault.Internal, "bringing the database up to date: %w", err)
	}
	if _, err := s.write.ExecContext(ctx, fmt.Sprintf("PRAGMA user_version = %d", newest)); err != nil {
		return fault.New(fault.Internal, "marking the database: %w", err)
	}
	return nil
}

// Put keeps an entry; see app.Store.
func (s *Store) Put(ctx context.Context, e programme.Entry) (programme.Entry, bool, error) {
	if e.ID == "" || e.Kind == "" || e.Version < 1 || e.Device == "" || len(e.Body) == 0 {
		return e, false, fault.New(fault.Invalid, "an entry needs an id, a kind with its version, a device and a body")
	}
	e.Sequence, e.Previous, e.ServerTime = 0, "", clock.Instant{}
	sent, err := programme.Canonical(e)
	if err != nil {
		return e, false, err
	}
	tx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return e, false, fault.New(fault.Internal, "keeping the entry: %w", err)
	}
	defer tx.Rollback() //nolint:errcheck // after Commit it has nothing to do

	var knownSent, knownWhole string
	switch err := tx.QueryRowContext(ctx, "SELECT sent, whole FROM entry WHERE id = ?", e.ID).Scan(&knownSent, &knownWhole); {
	case err == nil && knownSent == string(sent):
		kept, err := decode(knownWhole)
		return kept, true, err
	case err == nil:
		return e, false, fault.New(fault.Conflict, "entry %s is kept already, with other content", e.ID).
			WithHint("a correction is a new entry that supersedes the old one")
	case !errors.Is(err, sql.ErrNoRows):
		return e, false, fault.New(fault.Internal, "keeping the entry: %w", err)
	}
	if e.Supersedes != "" {
		var there int
		if err := tx.QueryRowContext(ctx, "SELECT count(*) FROM entry WHERE id = ?", e.Supersedes).Scan(&there); err != nil {
			return e, false, fault.New(fault.Internal, "keeping the entry: %w", err)
		}
		if there == 0 {
			return e, false, fault.New(fault.NotFound, "entry %s supersedes %s, which is not kept here", e.ID, e.Supersedes)
		}
	}
	switch err := tx.QueryRowContext(ctx, "SELECT sequence, hash FROM entry ORDER BY sequence DESC LIMIT 1").Scan(&e.Sequence, &e.Previous); {
	case errors.Is(err, sql.ErrNoRows):
		e.Sequence = 0
	case err != nil:
		return e, false, fault.New(fault.Internal, "keeping the entry: %w", err)
	}
	e.Sequence++
	e.ServerTime = clock.Instant{UnixNS: s.now().UnixNano(), Clock: clock.Server}
	whole, err := programme.Canonical(e)
	if err != nil {
		return e, false, err
	}
	hash, err := e.Hash()
	if err != nil {
		return e, false, err
	}
	if _, err := tx.ExecContext(ctx,
		"INSERT INTO entry (sequence, id, kind, version, device, counter, sent, whole, hash) VALUES (?,?,?,?,?,?,?,?,?)",
		e.Sequence, e.ID, e.Kind, e.Version, e.Device, e.Counter, string(sent), string(whole), hash); err != nil {
		return e, false, fault.New(fault.Internal, "keeping the entry: %w", err)
	}
	if err := tx.Commit(); err != nil {
		return e, false, fault.New(fault.Internal, "keeping the entry: %w", err)
	}
	return e, false, nil
}

func decode(whole string) (programme.Entry, error) {
	var e programme.Entry
	if err := json.Unmarshal([]byte(whole), &e); err != nil {
		return e, fault.New(fault.Internal, "reading an entry: %w", err)
	}
	return e, nil
}

// Entries gives the entries after a sequence; see app.Store.
func (s *Store) Entries(ctx context.Context, after int64) ([]programme.Entry, error) {
	rows, err := s.read.QueryContext(ctx, "SELECT whole FROM entry WHERE sequence > ? ORDER BY sequence", after)
	if err != nil {
		return nil, fault.New(fault.Internal, "reading the entries: %w", err)
	}
	defer rows.Close()
	var out []programme.Entry
	for rows.Next() {
		var whole string
		if err := rows.Scan(&whole); err != nil {
			return nil, fault.New(fault.Internal, "reading the entries: %w", err)
		}
		e, err := decode(whole)
		if err != nil {
			return nil, err
		}
		out = append(out, e)
	}
	if err := rows.Err(); err != nil {
		return nil, fault.New(fault.Internal, "reading the entries: %w", err)
	}
	return out, nil
}

// Counter gives a device's greatest counter; see app.Store.
func (s *Store) Counter(ctx context.Context, device string) (int64, error) {
	var last int64
	if err := s.read.QueryRowContext(ctx, "SELECT coalesce(max(counter), 0) FROM entry WHERE device = ?", device).Scan(&last); err != nil {
		return 0, fault.New(fault.Internal, "reading the counter: %w", err)
	}
	return last, nil
}

func (s *Store) rawPath(sum string) string { return filepath.Join(s.dir, Recordings, sum) }

// PutRaw keeps a raw file; see app.Store. The bytes are on the disk before the
// file has its name.
func (s *Store) PutRaw(ctx context.Context, src io.Reader) (string, int64, bool, error) {
	sum, size, again, err := keepFile(ctx, filepath.Join(s.dir, Recordings), src)
	if err != nil {
		return "", 0, false, err
	}
	if _, err := s.write.ExecContext(ctx, "INSERT OR IGNORE INTO raw (sha256, size) VALUES (?, ?)", sum, size); err != nil {
		return "", 0, false, fault.New(fault.Internal, "keeping the raw file: %w", err)
	}
	return sum, size, again, nil
}

// syncFolder makes a rename in a folder last. Some systems cannot sync a folder;
// there the file system's own order must do.
func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	if err := d.Sync(); err != nil && !errors.Is(err, fs.ErrInvalid) && !errors.Is(err, errors.ErrUnsupported) {
		return err
	}
	return nil
}

// Raw opens a raw file; see app.Store.
func (s *Store) Raw(_ context.Context, sum string) (io.ReadCloser, error) {
	if b, err := hex.DecodeString(sum); err != nil || len(b) != sha256.Size {
		return nil, fault.New(fault.Invalid, "%q is no SHA-256", sum)
	}
	f, err := os.Open(s.rawPath(sum))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fault.New(fault.NotFound, "the raw file %s is not kept here", sum).
			WithHint("import it again; its bytes must be the same")
	}
	if err != nil {
		return nil, fault.New(fault.Internal, "opening a raw file: %w", err)
	}
	return f, nil
}

// PutResult keeps a result; see app.Store.
func (s *Store) PutResult(ctx context.Context, derivation string, body []byte) error {
	if _, err := s.write.ExecContext(ctx, "INSERT INTO result (derivation, body) VALUES (?, ?) ON CONFLICT (derivation) DO UPDATE SET body = excluded.body", derivation, string(body)); err != nil {
		return fault.New(fault.Internal, "keeping a result: %w", err)
	}
	return nil
}

// Result gives a result; see app.Store.
func (s *Store) Result(ctx context.Context, derivation string) ([]byte, bool, error) {
	var body string
	switch err := s.read.QueryRowContext(ctx, "SELECT body FROM result WHERE derivation = ?", derivation).Scan(&body); {
	case errors.Is(err, sql.ErrNoRows):
		return nil, false, nil
	case err != nil:
		return nil, false, fault.New(fault.Internal, "reading a result: %w", err)
	}
	return []byte(body), true, nil
}

// Verify reads the chain and the raw files; see app.Store.
func (s *Store) Verify(ctx context.Context) error {
	rows, err := s.read.QueryContext(ctx, "SELECT sequence, id, kind, version, device, counter, sent, whole, hash FROM entry ORDER BY sequence")
	if err != nil {
		return fault.New(fault.Internal, "reading the entries: %w", err)
	}
	defer rows.Close()
	previous, expect := "", int64(1)
	for rows.Next() {
		var column programme.Entry // what stands beside the entry for finding it
		var sent, whole, hash string
		if err := rows.Scan(&column.Sequence, &column.ID, &column.Kind, &column.Version, &column.Device, &column.Counter, &sent, &whole, &hash); err != nil {
			return fault.New(fault.Internal, "reading the entries: %w", err)
		}
		e, err := decode(whole)
		if err != nil {
			return fault.New(fault.Conflict, "entry %d (%s) cannot be read: it was changed", column.Sequence, column.ID)
		}
		received := e
		received.Sequence, received.Previous, received.ServerTime = 0, "", clock.Instant{}
		asSent, err := programme.Canonical(received)
		if err != nil {
			return err
		}
		sum := sha256.Sum256([]byte(whole))
		switch {
		case column.Sequence != expect:
			return fault.New(fault.Conflict, "entry %d is missing", expect)
		case hex.EncodeToString(sum[:]) != hash, e.ID != column.ID, e.Sequence != column.Sequence, e.Kind != column.Kind,
			e.Version != column.Version, e.Device != column.Device, e.Counter != column.Counter, sent != string(asSent):
			return fault.New(fault.Conflict, "entry %d (%s) was changed after it was kept", column.Sequence, column.ID)
		case e.Previous != previous:
			return fault.New(fault.Conflict, "entry %d (%s) does not follow the one before it: the chain was changed", column.Sequence, column.ID)
		}
		previous = hash
		expect++
	}
	if err := rows.Err(); err != nil {
		return fault.New(fault.Internal, "reading the entries: %w", err)
	}
	if err := s.verifyRaw(ctx); err != nil {
		return err
	}
	return s.verifyAttached(ctx)
}

func (s *Store) verifyRaw(ctx context.Context) error {
	rows, err := s.read.QueryContext(ctx, "SELECT sha256, size FROM raw ORDER BY sha256")
	if err != nil {
		return fault.New(fault.Internal, "reading the list of raw files: %w", err)
	}
	defer rows.Close()
	for rows.Next() {
		var sum string
		var size int64
		if err := rows.Scan(&sum, &size); err != nil {
			return fault.New(fault.Internal, "reading the list of raw files: %w", err)
		}
		if err := verifyFile(s.rawPath(sum), sum, size); err != nil {
			return err
		}
	}
	return rows.Err()
}

// Close checkpoints the write-ahead log and closes; see app.Store.
func (s *Store) Close() error {
	err := s.read.Close()
	if _, e := s.write.Exec("PRAGMA wal_checkpoint(TRUNCATE)"); e != nil {
		err = errors.Join(err, e)
	}
	if err := errors.Join(err, s.write.Close()); err != nil {
		return fault.New(fault.Internal, "closing the "+s.of.noun+": %w", err)
	}
	return nil
}
