package ingest

import (
	"bytes"
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"example.org/bookend/fault"
	"example.org/bookend/signal"
)

// Open reads the file at path with the reader that fits it, as Read does. A
// file that is not there is a not-found fault, a folder an invalid one.
func Open(ctx context.Context, path string, readers []Reader, opt Options) (*signal.Recording, error) {
	if opt.Name == "" {
		opt.Name = filepath.Base(path)
	}
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, fault.New(fault.NotFound, "there is no such file").At("%s", path).WithHint("name a recording; the path is taken from the folder that you are in")
	case err != nil:
		return nil, fault.New(fault.Invalid, "the file cannot be opened: %w", err).At("%s", path)
	case info.IsDir():
		return nil, fault.New(fault.Invalid, "it is a folder, not a recording").At("%s", path).
			WithHint("name the files in it one by one")
	case !info.Mode().IsRegular():
		return nil, fault.New(fault.Invalid, "it is a device or a pipe, not a file").At("%s", path)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, fault.New(fault.Invalid, "the file cannot be opened: %w", err).At("%s", path)
	}
	defer f.Close()
	return Read(ctx, f, readers, opt)
}

// Read reads a recording from src, once from start to end, with the reader that
// fits its first bytes: the one that says Yes, else the only one that says
// Perhaps. Where that leaves several, it is a conflict fault that names them;
// where it leaves none, an unsupported one. Options.Reader decides instead if it
// is set. The recording's name, length, hash of the raw bytes and reader are
// filled in here. opt.Name is the place of every fault and caveat.
func Read(ctx context.Context, src io.Reader, readers []Reader, opt Options) (*signal.Recording, error) {
	all := newDigest(src)
	head := make([]byte, HeadBytes)
	n, err := io.ReadFull(all, head)
	head = head[:n]
	switch {
	case err == nil:
		all.beside() // there is more
		defer all.end()
	case errors.Is(err, io.ErrUnexpectedEOF):
	case errors.Is(err, io.EOF):
		return nil, fault.New(fault.Invalid, "the file is empty").At("%s", opt.Name).
			WithHint("copy it from the logger again")
	default:
		return nil, unreadable(err, opt.Name)
	}
	reader, err := choose(head, readers, opt)
	if err != nil {
		return nil, err
	}
	rec, err := reader.Read(ctx, io.MultiReader(bytes.NewReader(head), all), opt)
	if err != nil {
		return nil, err
	}
	if _, err := io.Copy(io.Discard, all); err != nil {
		return nil, unreadable(err, opt.Name)
	}
	rec.Name = opt.Name
	rec.SHA256 = all.sum()
	rec.Bytes = all.n
	rec.Reader = reader.ID()
	return rec, nil
}

func unreadable(err error, name string) error {
	if fault.CodeOf(err) != fault.Internal {
		return err
	}
	return fault.New(fault.Invalid, "reading stopped: %w", err).At("%s", name).
		WithHint("copy the file to this machine's own disk and try again")
}

// choose finds the reader for a file by its first bytes.
func choose(head []byte, readers []Reader, opt Options) (Reader, error) {
	if opt.Reader != "" {
		for _, r := range readers {
			stem, _, _ := strings.Cut(r.ID(), "/")
			if opt.Reader == r.ID() || opt.Reader == stem {
				return r, nil
			}
		}
		return nil, fault.New(fault.NotFound, "no reader %q", opt.Reader).WithHint("there are: %s", ids(readers))
	}
	var yes, perhaps []Reader
	for _, r := range readers {
		switch r.Sniff(head, opt.Name) {
		case Yes:
			yes = append(yes, r)
		case Perhaps:
			perhaps = append(perhaps, r)
		}
	}
	fit := yes
	if len(fit) == 0 {
		fit = perhaps
	}
	switch len(fit) {
	case 1:
		return fit[0], nil
	case 0:
		return nil, unknown(head, opt.Name, readers)
	}
	return nil, fault.New(fault.Conflict, "%d readers take it for their own", len(fit)).At("%s", opt.Name).
		WithHint("say which to use: %s", ids(fit))
}

func ids(readers []Reader) string {
	var out []string
	for _, r := range readers {
		out = append(out, r.ID()+" ("+r.Title()+")")
	}
	return strings.Join(out, ", ")
}

// signatures are first bytes by which files are known that no reader takes.
var signatures = []struct{ magic, what, hint string }{
	{"\x1f\x8b", "gzip", "unpack it with gunzip first"},
	{"BZh", "bzip2", "unpack it with bunzip2 first"},
	{"\xfd7zXZ\x00", "xz", "unpack it with unxz first"},
	{"\x28\xb5\x2f\xfd", "zstandard", "unpack it with unzstd first"},
	{"7z\xbc\xaf\x27\x1c", "7z", "unpack it first"},
	{"PK\x03\x04", "zip", "if it is an archive, unpack it; if it is a spreadsheet, save the sheet as CSV"},
	{"\xd0\xcf\x11\xe0", "an old spreadsheet or document", "save the sheet as CSV"},
	{"%PDF", "PDF", "the recording itself is needed, not a document about it"},
}

// unknown says why no reader takes a file, in so far as its first bytes tell.
func unknown(head []byte, name string, readers []Reader) error {
	for _, s := range signatures {
		if bytes.HasPrefix(head, []byte(s.magic)) {
			return fault.New(fault.Unsupported, "the file is packed or not a recording: %s", s.what).At("%s", name).
				WithHint("%s", s.hint)
		}
	}
	what := "no reader knows the file"
	if bytes.IndexByte(head, 0) >= 0 {
		what = "the file is binary, and no reader knows it"
	}
	f := fault.New(fault.Unsupported, "%s", what).At("%s", name)
	if len(readers) == 0 {
		return f.WithHint("this build has no readers")
	}
	return f.WithHint("export it in an open format; read are: %s", ids(readers))
}
