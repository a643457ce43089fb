package ingest

import (
	"crypto/sha256"
	"encoding/hex"
	"hash"
	"io"
	"runtime"
)

// Own bounds of what is on its way to be hashed: pieces as large as what a
// reader asks for at once, and few enough to stay in a processor's cache.
const (
	digestBytes  = 256 << 10
	digestPieces = 4
)

// digest hands on the bytes of a source and hashes them as they pass: where the
// program has more than one processor, in copies on another one, else at once.
// The hash is of the same bytes in the same order either way.
type digest struct {
	src  io.Reader
	n    int64
	hash hash.Hash

	full  chan []byte   // to be hashed, in order; nil while hashing at once
	spare chan []byte   // have been
	done  chan struct{} // closed when all of them have been
}

func newDigest(src io.Reader) *digest { return &digest{src: src, hash: sha256.New()} }

// Read reads from the source.
func (d *digest) Read(p []byte) (int, error) {
	n, err := d.src.Read(p)
	d.n += int64(n)
	if d.full == nil {
		d.hash.Write(p[:n])
		return n, err
	}
	for rest := p[:n]; len(rest) > 0; {
		k := min(len(rest), digestBytes)
		d.full <- append((<-d.spare)[:0], rest[:k]...)
		rest = rest[k:]
	}
	return n, err
}

// beside lets all that follows be hashed on another processor, if there is one,
// until end is called.
func (d *digest) beside() {
	if runtime.GOMAXPROCS(0) < 2 {
		return
	}
	d.full, d.spare, d.done = make(chan []byte, digestPieces), make(chan []byte, digestPieces), make(chan struct{})
	for range digestPieces {
		d.spare <- nil
	}
	go func() {
		defer close(d.done)
		for b := range d.full {
			d.hash.Write(b)
			d.spare <- b
		}
	}()
}

// end waits until all that was read is hashed. It may be called twice.
func (d *digest) end() {
	if d.full != nil {
		close(d.full)
		<-d.done
		d.full = nil
	}
}

// sum gives the hash of all that was read, in hexadecimal digits.
func (d *digest) sum() string {
	d.end()
	return hex.EncodeToString(d.hash.Sum(nil))
}
