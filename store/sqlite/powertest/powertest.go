//go:build unix && (amd64 || arm64)

// Package powertest is a disk for tests that knows what would be left of a
// database if the power failed now.
//
// It stands between SQLite and the files as one of SQLite's own file systems
// ("VFS"): every write and truncation goes to the file as ever, and is also noted
// as pending until SQLite syncs that file. A photograph of the disk holds what was
// synced and, of what was pending, nothing, or any part of it in any combination,
// down to single sectors of 512 bytes: what a drive without power may leave, as
// SQLite's makers assume it (sqlite.org, "How SQLite Is Tested", 3.3, and "Atomic
// Commit In SQLite", 2.0).
//
// What is simulated, and what is not: files exist from their first sync on, since
// SQLite syncs the folder then, too; a deletion may or may not have reached the
// disk until the folder is synced; the shared-memory file of the log's index is never left, and is not
// needed. A drive that says it has synced and has not is beyond what any program
// can mend, and is not simulated. Files that bookend itself writes (recordings) do
// not pass through here.
//
// It is for tests alone; the binary does not link it.
package powertest

import (
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"slices"
	"sync"

	"modernc.org/libc"
	sqlite3 "modernc.org/sqlite/lib"
)

// Name is the VFS's name, for the parameter vfs of a database's address.
const Name = "bookend-powertest"

// Sector is the least that a drive writes as a whole, in bytes.
const Sector = 512

// Offsets in bytes within SQLite's structures sqlite3_vfs and sqlite3_io_methods on
// machines of 64 bits (sqlite3.h).
const (
	sizeVFS, vfsName, vfsOpen, vfsDelete                 = 168, 24, 40, 48
	sizeIO, ioClose, ioWrite, ioTruncate, ioSync uintptr = 152, 8, 24, 32, 40
)

type op struct {
	truncate bool
	at       int64
	data     []byte
}

type file struct {
	synced  []byte
	exists  bool // on the disk
	deleted bool // a deletion is pending
	pending []op
}

// Disk is the files that SQLite has opened through the VFS.
type Disk struct {
	mu    sync.Mutex
	files map[string]*file
	open  map[uintptr]string // by SQLite's file: its path
	after func()
}

var (
	once    sync.Once
	current = &Disk{}
	broken  error

	origVFS uintptr
	tables  = map[uintptr]uintptr{} // by SQLite's own methods: ours
	own     = map[uintptr]uintptr{} // by SQLite's file: its own methods

	callOpen     func(*libc.TLS, uintptr, uintptr, uintptr, int32, uintptr) int32
	callDelete   func(*libc.TLS, uintptr, uintptr, int32) int32
	callClose    func(*libc.TLS, uintptr) int32
	callWrite    func(*libc.TLS, uintptr, uintptr, int32, sqlite3.Tsqlite3_int64) int32
	callTruncate func(*libc.TLS, uintptr, sqlite3.Tsqlite3_int64) int32
	callSync     func(*libc.TLS, uintptr, int32) int32
)

// Use registers the VFS and gives a fresh disk; after is called after every write,
// truncation, sync and deletion, with the disk unlocked. One disk is in use at a
// time.
func Use(after func()) (*Disk, error) {
	once.Do(func() { broken = register() })
	if broken != nil {
		return nil, broken
	}
	current.mu.Lock()
	defer current.mu.Unlock()
	if len(current.open) > 0 {
		return nil, errors.New("powertest: the disk before has open files")
	}
	current.files, current.open, current.after = map[string]*file{}, map[uintptr]string{}, after
	return current, nil
}

// Photograph writes into a folder what the disk would hold if the power failed
// now. Of what is pending each sector reaches the disk where chance says so; nil is
// never. Names are those of the files without their folder.
func (d *Disk) Photograph(dir string, chance func() bool) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if chance == nil {
		chance = func() bool { return false }
	}
	paths := make([]string, 0, len(d.files))
	for p := range d.files {
		paths = append(paths, p)
	}
	slices.Sort(paths)
	for _, path := range paths {
		f := d.files[path]
		if !f.exists || f.deleted && chance() {
			continue
		}
		left := slices.Clone(f.synced)
		for _, o := range f.pending {
			if o.truncate {
				if chance() {
					left = resize(left, o.at)
				}
				continue
			}
			for from := 0; from < len(o.data); {
				to := min(len(o.data), from+Sector-int((o.at+int64(from))%Sector))
				if chance() {
					left = write(left, o.at+int64(from), o.data[from:to])
				}
				from = to
			}
		}
		if err := os.WriteFile(filepath.Join(dir, filepath.Base(path)), left, 0o644); err != nil {
			return err
		}
	}
	return nil
}

func resize(b []byte, n int64) []byte {
	if int64(len(b)) >= n {
		return b[:n]
	}
	return append(b, make([]byte, n-int64(len(b)))...)
}

func write(b []byte, at int64, data []byte) []byte {
	if end := at + int64(len(data)); int64(len(b)) < end {
		b = resize(b, end)
	}
	copy(b[at:], data)
	return b
}

// sync makes what is pending of a file last. With a new file its folder is synced,
// and so are deletions.
func (d *Disk) sync(f *file) {
	if !f.exists {
		for path, o := range d.files {
			if o.deleted {
				delete(d.files, path)
			}
		}
	}
	for _, o := range f.pending {
		if o.truncate {
			f.synced = resize(f.synced, o.at)
		} else {
			f.synced = write(f.synced, o.at, o.data)
		}
	}
	f.pending, f.exists = nil, true
}

// peek reads a word of C memory.
func peek(at uintptr) uintptr { return uintptr(binary.NativeEndian.Uint64(libc.GoBytes(at, 8))) }

// poke writes a word of C memory.
func poke(tls *libc.TLS, at, word uintptr) {
	w := &word
	libc.Xmemcpy(tls, at, reflect.ValueOf(w).Pointer(), 8)
	runtime.KeepAlive(w)
}

// load makes a Go function of a word that SQLite holds as one, and store the other
// way round: both are addresses of the same kind of record. The functions are all
// package-level ones, which no collector moves.
func load(tls *libc.TLS, into any, word uintptr) {
	w := &word
	libc.Xmemcpy(tls, reflect.ValueOf(into).Pointer(), reflect.ValueOf(w).Pointer(), 8)
	runtime.KeepAlive(w)
}

func store(tls *libc.TLS, at uintptr, from any) {
	libc.Xmemcpy(tls, at, reflect.ValueOf(from).Pointer(), 8)
}

// replacements, as variables so that their words can be copied.
var (
	ourOpen     = xOpen
	ourDelete   = xDelete
	ourClose    = xClose
	ourWrite    = xWrite
	ourTruncate = xTruncate
	ourSync     = xSync
)

func register() error {
	tls := libc.NewTLS()
	origVFS = sqlite3.Xsqlite3_vfs_find(tls, 0)
	if origVFS == 0 {
		return errors.New("powertest: SQLite has no file system of its own")
	}
	load(tls, &callOpen, peek(origVFS+vfsOpen))
	load(tls, &callDelete, peek(origVFS+vfsDelete))
	ours := libc.Xmalloc(tls, sizeVFS)
	name, err := libc.CString(Name)
	if err != nil || ours == 0 {
		return fmt.Errorf("powertest: no memory: %w", err)
	}
	libc.Xmemcpy(tls, ours, origVFS, sizeVFS)
	poke(tls, ours+16, 0) // next
	poke(tls, ours+vfsName, name)
	store(tls, ours+vfsOpen, &ourOpen)
	store(tls, ours+vfsDelete, &ourDelete)
	if rc := sqlite3.Xsqlite3_vfs_register(tls, ours, 0); rc != sqlite3.SQLITE_OK {
		return fmt.Errorf("powertest: registering gives %d", rc)
	}
	return nil
}

func xOpen(tls *libc.TLS, _, zName, pFile uintptr, flags int32, pOut uintptr) int32 {
	path := ""
	var before []byte
	existed := false
	if zName != 0 {
		path = libc.GoString(zName)
		if b, err := os.ReadFile(path); err == nil {
			before, existed = b, true
		}
	}
	rc := callOpen(tls, origVFS, zName, pFile, flags, pOut)
	if rc != sqlite3.SQLITE_OK || path == "" {
		return rc
	}
	methods := peek(pFile)
	if methods == 0 {
		return rc
	}
	d := current
	d.mu.Lock()
	defer d.mu.Unlock()
	ours, ok := tables[methods]
	if !ok {
		load(tls, &callClose, peek(methods+ioClose))
		load(tls, &callWrite, peek(methods+ioWrite))
		load(tls, &callTruncate, peek(methods+ioTruncate))
		load(tls, &callSync, peek(methods+ioSync))
		ours = libc.Xmalloc(tls, 152)
		libc.Xmemcpy(tls, ours, methods, 152)
		store(tls, ours+ioWrite, &ourWrite)
		store(tls, ours+ioTruncate, &ourTruncate)
		store(tls, ours+ioSync, &ourSync)
		store(tls, ours+ioClose, &ourClose)
		tables[methods] = ours
	}
	poke(tls, pFile, ours)
	own[pFile] = methods
	d.open[pFile] = path
	if d.files[path] == nil || !existed {
		d.files[path] = &file{synced: before, exists: existed}
	}
	return rc
}

// note notes an operation on a file that went well.
func note(pFile uintptr, what func(*file)) {
	d := current
	d.mu.Lock()
	if f := d.files[d.open[pFile]]; f != nil {
		what(f)
	}
	after := d.after
	d.mu.Unlock()
	if after != nil {
		after()
	}
}

func xWrite(tls *libc.TLS, pFile, data uintptr, n int32, at sqlite3.Tsqlite3_int64) int32 {
	rc := callWrite(tls, pFile, data, n, at)
	if rc == sqlite3.SQLITE_OK {
		b := slices.Clone(libc.GoBytes(data, int(n)))
		note(pFile, func(f *file) { f.pending = append(f.pending, op{at: int64(at), data: b}) })
	}
	return rc
}

func xTruncate(tls *libc.TLS, pFile uintptr, size sqlite3.Tsqlite3_int64) int32 {
	rc := callTruncate(tls, pFile, size)
	if rc == sqlite3.SQLITE_OK {
		note(pFile, func(f *file) { f.pending = append(f.pending, op{truncate: true, at: int64(size)}) })
	}
	return rc
}

func xSync(tls *libc.TLS, pFile uintptr, flags int32) int32 {
	rc := callSync(tls, pFile, flags)
	if rc == sqlite3.SQLITE_OK {
		note(pFile, current.sync)
	}
	return rc
}

func xClose(tls *libc.TLS, pFile uintptr) int32 {
	d := current
	d.mu.Lock()
	poke(tls, pFile, own[pFile])
	delete(own, pFile)
	delete(d.open, pFile)
	d.mu.Unlock()
	return callClose(tls, pFile)
}

func xDelete(tls *libc.TLS, _, zName uintptr, syncDir int32) int32 {
	rc := callDelete(tls, origVFS, zName, syncDir)
	if rc == sqlite3.SQLITE_OK {
		d := current
		d.mu.Lock()
		path := libc.GoString(zName)
		if f := d.files[path]; f != nil {
			if f.deleted = true; syncDir != 0 {
				delete(d.files, path)
			}
		}
		after := d.after
		d.mu.Unlock()
		if after != nil {
			after()
		}
	}
	return rc
}
