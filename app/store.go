package app

import (
	"context"
	"io"

	"example.org/bookend/programme"
)

// Store keeps one programme: its entries, its raw files and what was computed
// from them. The adapters implement it (store/sqlite); app alone decides what is
// put in.
type Store interface {
	// Put keeps an entry and gives it back with its server sequence, server time
	// and the hash of the entry before it. The same id with the same bytes is
	// answered as if it were new (again is true); other bytes under a known id are
	// a conflict fault.
	Put(ctx context.Context, e programme.Entry) (kept programme.Entry, again bool, err error)

	// Entries gives the entries after a server sequence, in its order.
	Entries(ctx context.Context, after int64) ([]programme.Entry, error)

	// Counter gives the greatest counter of a device's entries, 0 where it has none.
	Counter(ctx context.Context, device string) (int64, error)

	// PutRaw keeps a raw file under the SHA-256 of its bytes; again tells that
	// it was there. Nothing half-written is left behind.
	PutRaw(ctx context.Context, src io.Reader) (sha256 string, size int64, again bool, err error)

	// Raw opens a raw file by its SHA-256; a not-found fault where there is none.
	Raw(ctx context.Context, sha256 string) (io.ReadCloser, error)

	// Attach keeps a voice or a picture under the SHA-256 of its bytes.
	Attach(ctx context.Context, src io.Reader) (sha256 string, size int64, err error)

	// Attachment opens a voice or a picture by its SHA-256; a not-found fault where
	// there is none, or none any more.
	Attachment(ctx context.Context, sha256 string) (io.ReadCloser, error)

	// Erase erases a voice or a picture for good. Entries go on naming its hash.
	Erase(ctx context.Context, sha256 string) error

	// Copy makes a copy of the programme in an empty folder while others work on
	// it. A sealed file is not copied.
	Copy(ctx context.Context, dir string) error

	// PutResult keeps what a derivation yielded, as JSON, under the derivation's
	// id, replacing what was there.
	PutResult(ctx context.Context, derivation string, body []byte) error

	// Result gives what is kept under a derivation's id; ok is false where
	// nothing is.
	Result(ctx context.Context, derivation string) (body []byte, ok bool, err error)

	// Verify reads the whole chain of entries, every raw file and whatever is
	// attached, and gives a fault that names the first entry or file whose bytes have changed.
	Verify(ctx context.Context) error

	// Close closes the store so that one database file is the programme.
	Close() error
}
