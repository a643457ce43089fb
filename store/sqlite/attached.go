package sqlite

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"example.org/bookend/fault"
)

// Attached is the folder of voices and pictures in a programme's folder.
const Attached = "attached"

// Attach keeps a voice or a picture; see app.Store.
func (s *Store) Attach(ctx context.Context, src io.Reader) (string, int64, error) {
	sum, size, _, err := keepFile(ctx, filepath.Join(s.dir, Attached), src)
	if err != nil {
		return "", 0, err
	}
	if _, err := s.write.ExecContext(ctx, "INSERT INTO attached (sha256, size) VALUES (?, ?) ON CONFLICT (sha256) DO UPDATE SET erased = 0", sum, size); err != nil {
		return "", 0, fault.New(fault.Internal, "keeping what is attached: %w", err)
	}
	return sum, size, nil
}

// Attachment opens a voice or a picture; see app.Store.
func (s *Store) Attachment(ctx context.Context, sum string) (io.ReadCloser, error) {
	if b, err := hex.DecodeString(sum); err != nil || len(b) != sha256.Size {
		return nil, fault.New(fault.Invalid, "%q is no SHA-256", sum)
	}
	var erased bool
	switch err := s.read.QueryRowContext(ctx, "SELECT erased FROM attached WHERE sha256 = ?", sum).Scan(&erased); {
	case errors.Is(err, sql.ErrNoRows):
		return nil, fault.New(fault.NotFound, "nothing is attached under %s", sum).WithHint("it may still be on the device that recorded it")
	case err != nil:
		return nil, fault.New(fault.Internal, "reading what is attached: %w", err)
	case erased:
		return nil, fault.New(fault.NotFound, "what was attached under %s was erased", sum).WithHint("the log says by whom and why")
	}
	f, err := os.Open(filepath.Join(s.dir, Attached, sum))
	if err != nil {
		return nil, fault.New(fault.NotFound, "what is attached under %s is missing: %w", sum, err).WithHint("put back a copy of the folder")
	}
	return f, nil
}

// Erase erases a voice or a picture; see app.Store.
func (s *Store) Erase(ctx context.Context, sum string) error {
	if b, err := hex.DecodeString(sum); err != nil || len(b) != sha256.Size {
		return fault.New(fault.Invalid, "%q is no SHA-256", sum)
	}
	r, err := s.write.ExecContext(ctx, "UPDATE attached SET erased = 1 WHERE sha256 = ?", sum)
	if err != nil {
		return fault.New(fault.Internal, "erasing what is attached: %w", err)
	}
	if n, err := r.RowsAffected(); err != nil || n == 0 {
		return fault.New(fault.NotFound, "nothing is attached under %s", sum)
	}
	dir := filepath.Join(s.dir, Attached)
	if err := os.Remove(filepath.Join(dir, sum)); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fault.New(fault.Internal, "erasing what is attached: %w", err)
	}
	if err := syncFolder(dir); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fault.New(fault.Internal, "erasing what is attached: %w", err)
	}
	return nil
}

func (s *Store) verifyAttached(ctx context.Context) error {
	rows, err := s.read.QueryContext(ctx, "SELECT sha256, size, erased FROM attached ORDER BY sha256")
	if err != nil {
		return fault.New(fault.Internal, "reading the list of what is attached: %w", err)
	}
	defer rows.Close()
	for rows.Next() {
		var sum string
		var size int64
		var erased bool
		if err := rows.Scan(&sum, &size, &erased); err != nil {
			return fault.New(fault.Internal, "reading the list of what is attached: %w", err)
		}
		path := filepath.Join(s.dir, Attached, sum)
		if erased {
			if _, err := os.Stat(path); err == nil {
				return fault.New(fault.Conflict, "what was attached under %s was erased, and its file is there still", sum).WithHint("erase it again")
			}
			continue
		}
		if err := verifyFile(path, sum, size); err != nil {
			return err
		}
	}
	return rows.Err()
}

// verifyFile holds a file's bytes against their hash and size.
func verifyFile(path, sum string, size int64) error {
	f, err := os.Open(path)
	if err != nil {
		return fault.New(fault.Conflict, "file %s is missing: %w", sum, err)
	}
	h := sha256.New()
	n, err := io.Copy(h, f)
	if err := errors.Join(err, f.Close()); err != nil {
		return fault.New(fault.Internal, "reading file %s: %w", sum, err)
	}
	if hex.EncodeToString(h.Sum(nil)) != sum || n != size {
		return fault.New(fault.Conflict, "file %s was changed after it was kept", sum)
	}
	return nil
}

// keepFile keeps bytes in a folder under their SHA-256. They are on the disk
// before the file has its name; again tells that it was there.
func keepFile(ctx context.Context, dir string, src io.Reader) (sum string, size int64, again bool, err error) {
	failed := func(err error) (string, int64, bool, error) {
		return "", 0, false, fault.New(fault.Internal, "keeping the file: %w", err)
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return failed(err)
	}
	part, err := os.CreateTemp(dir, "part-*")
	if err != nil {
		return failed(err)
	}
	defer os.Remove(part.Name()) //nolint:errcheck // gone once it has its name
	defer part.Close()           //nolint:errcheck // closed below before it is named
	h := sha256.New()
	size, err = io.Copy(io.MultiWriter(part, h), src)
	if err != nil {
		return failed(err)
	}
	if err := ctx.Err(); err != nil {
		return failed(err)
	}
	sum = hex.EncodeToString(h.Sum(nil))
	path := filepath.Join(dir, sum)
	if _, err := os.Stat(path); err == nil {
		return sum, size, true, nil
	}
	if err := errors.Join(part.Chmod(0o444), part.Sync(), part.Close()); err != nil {
		return failed(err)
	}
	if err := os.Rename(part.Name(), path); err != nil {
		return failed(err)
	}
	if err := syncFolder(dir); err != nil {
		return failed(err)
	}
	return sum, size, false, nil
}

// Copy makes a copy of the programme in a folder that does not exist or is empty:
// the database as of one moment, then recordings and what is attached, each held
// against its hash; the database has its name last. Whatever else lies in the folder is not copied.
func (s *Store) Copy(ctx context.Context, dir string) error {
	if left, err := os.ReadDir(dir); err == nil && len(left) > 0 {
		return fault.New(fault.Conflict, "the folder is not empty").At("%s", dir).WithHint("name a new one")
	}
	if err := os.MkdirAll(filepath.Join(dir, Recordings), 0o755); err != nil {
		return fault.New(fault.Invalid, "making the folder: %w", err).At("%s", dir)
	}
	part := filepath.Join(dir, File+".part")
	if _, err := s.write.ExecContext(ctx, "VACUUM INTO ?", part); err != nil {
		return fault.New(fault.Internal, "copying the database: %w", err).At("%s", dir)
	}
	for _, f := range []struct{ query, folder string }{
		{"SELECT sha256 FROM raw ORDER BY sha256", Recordings},
		{"SELECT sha256 FROM attached WHERE erased = 0 ORDER BY sha256", Attached},
	} {
		rows, err := s.read.QueryContext(ctx, f.query)
		if err != nil {
			return fault.New(fault.Internal, "reading the list of files: %w", err)
		}
		var sums []string
		for rows.Next() {
			var sum string
			if err := rows.Scan(&sum); err != nil {
				_ = rows.Close()
				return fault.New(fault.Internal, "reading the list of files: %w", err)
			}
			sums = append(sums, sum)
		}
		if err := errors.Join(rows.Err(), rows.Close()); err != nil {
			return fault.New(fault.Internal, "reading the list of files: %w", err)
		}
		for _, sum := range sums {
			src, err := os.Open(filepath.Join(s.dir, f.folder, sum))
			if err != nil {
				return fault.New(fault.Conflict, "file %s is missing: %w", sum, err).WithHint("bookend verify says what else is wrong")
			}
			got, _, _, err := keepFile(ctx, filepath.Join(dir, f.folder), src)
			_ = src.Close() // read to its end, or err says why not
			if err != nil {
				return err
			}
			if got != sum {
				return fault.New(fault.Conflict, "file %s was changed after it was kept", sum)
			}
		}
	}
	f, err := os.Open(part)
	if err != nil {
		return fault.New(fault.Internal, "copying the database: %w", err).At("%s", dir)
	}
	if err := errors.Join(f.Sync(), f.Close(), os.Rename(part, filepath.Join(dir, File)), syncFolder(dir)); err != nil {
		return fault.New(fault.Internal, "copying the database: %w", err).At("%s", dir)
	}
	return nil
}
