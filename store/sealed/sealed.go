// Package sealed keeps what must not be known while people drive and rate: the file
// sealed.db in a programme's folder, encrypted under a passphrase.
//
// The format is age's with a passphrase (age-encryption.org/v1: scrypt, then
// ChaCha20-Poly1305), so that the general-purpose programs of that format open it,
// too. What is sealed is padded to whole blocks of 16 KiB: the file's size tells
// nothing of what is in it. A lost passphrase cannot be replaced.
package sealed

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"filippo.io/age"

	"example.org/bookend/fault"
)

// File is the sealed file's name in a programme's folder.
const File = "sealed.db"

// LeastPassphrase is how many characters a passphrase has at least: own choice, as
// NIST SP 800-63B asks of a secret that stands alone (from memory).
const LeastPassphrase = 8

const (
	block    = 16 << 10 // of the padding, bytes
	mostFile = 16 << 20 // of the file, bytes: beyond it is no sealed file of ours
)

// Box is the sealed file of a programme's folder.
type Box struct {
	dir  string
	work int // log2 of scrypt's cost; 0: age's own
}

// In gives the box of a folder; the file need not be there.
func In(dir string) *Box { return &Box{dir: dir} }

func (b *Box) path() string { return filepath.Join(b.dir, File) }

// Hash gives the SHA-256 of the sealed file as it lies there; ok is false where
// there is none.
func (b *Box) Hash(context.Context) (sum string, ok bool, err error) {
	data, err := b.read()
	if errors.Is(err, fs.ErrNotExist) {
		return "", false, nil
	}
	if err != nil {
		return "", false, fault.New(fault.Internal, "reading the sealed file: %w", err)
	}
	h := sha256.Sum256(data)
	return hex.EncodeToString(h[:]), true, nil
}

func (b *Box) read() ([]byte, error) {
	f, err := os.Open(b.path())
	if err != nil {
		return nil, err
	}
	defer f.Close() //nolint:errcheck // opened for reading alone
	data, err := io.ReadAll(io.LimitReader(f, mostFile+1))
	if err == nil && len(data) > mostFile {
		err = errors.New("it is too large to be a sealed file")
	}
	return data, err
}

// Seal encrypts content under a passphrase into the file, in the place of what was
// there, and gives the SHA-256 of the file. It is on the disk before it has its
// name.
func (b *Box) Seal(_ context.Context, content []byte, passphrase string) (string, error) {
	if len([]rune(passphrase)) < LeastPassphrase {
		return "", fault.New(fault.Invalid, "the passphrase is shorter than %d characters", LeastPassphrase).
			WithHint("several words that nobody at the track would guess")
	}
	failed := func(err error) (string, error) {
		return "", fault.New(fault.Internal, "sealing: %w", err)
	}
	to, err := age.NewScryptRecipient(passphrase)
	if err != nil {
		return failed(err)
	}
	if b.work > 0 {
		to.SetWorkFactor(b.work)
	}
	padded := make([]byte, (8+len(content)+block-1)/block*block)
	binary.BigEndian.PutUint64(padded, uint64(len(content)))
	copy(padded[8:], content)
	var out bytes.Buffer
	w, err := age.Encrypt(&out, to)
	if err != nil {
		return failed(err)
	}
	if _, err := w.Write(padded); err != nil {
		return failed(err)
	}
	if err := w.Close(); err != nil {
		return failed(err)
	}
	if err := b.put(out.Bytes()); err != nil {
		return failed(err)
	}
	h := sha256.Sum256(out.Bytes())
	return hex.EncodeToString(h[:]), nil
}

func (b *Box) put(data []byte) error {
	part, err := os.CreateTemp(b.dir, File+".part-*")
	if err != nil {
		return err
	}
	defer os.Remove(part.Name()) //nolint:errcheck // gone once it has its name
	defer part.Close()           //nolint:errcheck // closed below before it is named
	if _, err := part.Write(data); err != nil {
		return err
	}
	if err := errors.Join(part.Chmod(0o600), part.Sync(), part.Close()); err != nil {
		return err
	}
	return os.Rename(part.Name(), b.path())
}

// Open decrypts the file. A wrong passphrase and a file that was changed are
// invalid faults, and tell nothing of what is in it.
func (b *Box) Open(_ context.Context, passphrase string) ([]byte, error) {
	data, err := b.read()
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fault.New(fault.NotFound, "nothing is sealed here").WithHint("bookend codes seal")
	}
	if err != nil {
		return nil, fault.New(fault.Internal, "reading the sealed file: %w", err)
	}
	id, err := age.NewScryptIdentity(passphrase)
	if err != nil {
		return nil, wrong()
	}
	r, err := age.Decrypt(bytes.NewReader(data), id)
	if err != nil {
		return nil, wrong()
	}
	padded, err := io.ReadAll(io.LimitReader(r, mostFile))
	if err != nil || len(padded) < 8 {
		return nil, wrong()
	}
	n := binary.BigEndian.Uint64(padded)
	if n > uint64(len(padded)-8) {
		return nil, wrong()
	}
	return padded[8 : 8+n], nil
}

func wrong() error {
	return fault.New(fault.Invalid, "the sealed file does not open").WithHint("the passphrase is another one, or the file was changed")
}

// CopyTo copies the file, as it is sealed, into another folder.
func (b *Box) CopyTo(_ context.Context, dir string) error {
	data, err := b.read()
	if errors.Is(err, fs.ErrNotExist) {
		return fault.New(fault.NotFound, "nothing is sealed here").WithHint("leave --with-codes out")
	}
	if err != nil {
		return fault.New(fault.Internal, "reading the sealed file: %w", err)
	}
	if err := In(dir).put(data); err != nil {
		return fault.New(fault.Internal, "copying the sealed file: %w", err)
	}
	return nil
}
