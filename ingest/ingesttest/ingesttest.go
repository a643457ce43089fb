// Package ingesttest is the conformance suite of readers of logger files: what
// holds for every reader, whatever its format.
//
// A reader's own test hands it files that are its own and files that are not.
// The suite holds that recordings keep the laws of package signal, that the same
// bytes give the same recording however they arrive, that the raw hash is that
// of the bytes, that cut, damaged and random bytes give a recording or a fault
// and never a panic, and that sniffing answers.
package ingesttest

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"regexp"
	"slices"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/ingest"
	"example.org/bookend/signal"
	"example.org/bookend/unit"
)

// Sample is a file: its name and its bytes.
type Sample struct {
	Name string
	Data []byte
}

// Suite is a reader and what it is tested with.
type Suite struct {
	Reader  ingest.Reader
	Own     []Sample // it reads these
	Foreign []Sample // it says No to these
}

// readerID is the form of a reader's id: its folder and its version.
var readerID = regexp.MustCompile(`^[a-z0-9]+/[1-9][0-9]*$`)

// Run runs the suite.
func Run(t *testing.T, s Suite) {
	t.Helper()
	if !readerID.MatchString(s.Reader.ID()) {
		t.Errorf("id %q is not a name and a version, \"delimited/1\"", s.Reader.ID())
	}
	if s.Reader.Title() == "" {
		t.Error("the reader has no title")
	}
	if len(s.Own) == 0 || len(s.Foreign) == 0 {
		t.Fatal("the suite needs files of the reader's own and others")
	}
	for _, f := range s.Foreign {
		t.Run("foreign/"+f.Name, func(t *testing.T) {
			if c := s.Reader.Sniff(head(f.Data), f.Name); c != ingest.No {
				t.Errorf("Sniff says %d to a file that is not its own", c)
			}
			hold(t, s.Reader, f.Data)
		})
	}
	if c := s.Reader.Sniff(nil, ""); c != ingest.No {
		t.Errorf("Sniff says %d to an empty file", c)
	}
	for _, f := range s.Own {
		t.Run("own/"+f.Name, func(t *testing.T) { own(t, s.Reader, f) })
	}
	t.Run("random", func(t *testing.T) {
		r := dice(1)
		for range 200 {
			b := make([]byte, r.upTo(3000))
			for i := range b {
				b[i] = byte(r.next())
			}
			hold(t, s.Reader, b)
		}
	})
}

func head(b []byte) []byte { return b[:min(len(b), ingest.HeadBytes)] }

// own holds what must hold for a file that the reader reads.
func own(t *testing.T, reader ingest.Reader, f Sample) {
	before := bytes.Clone(f.Data)
	c := reader.Sniff(head(f.Data), f.Name)
	if c != ingest.Perhaps && c != ingest.Yes {
		t.Errorf("Sniff says %d to a file of its own", c)
	}
	opt := ingest.Options{Name: f.Name}
	first, err := ingest.Read(context.Background(), bytes.NewReader(f.Data), []ingest.Reader{reader}, opt)
	if err != nil {
		t.Fatalf("it is not read: %v (%s)", err, fault.HintOf(err))
	}
	if err := Check(first); err != nil {
		t.Error(err)
	}
	if len(first.Channels) == 0 {
		t.Error("it has no channels")
	}
	sum := sha256.Sum256(f.Data)
	if first.SHA256 != hex.EncodeToString(sum[:]) || first.Bytes != int64(len(f.Data)) || first.Name != f.Name || first.Reader != reader.ID() {
		t.Errorf("the recording says %s, %d bytes, %q, %s of its file", first.SHA256, first.Bytes, first.Name, first.Reader)
	}
	for _, c := range first.Caveats {
		if c.Code == "" || c.Text == "" || c.Place.File != f.Name {
			t.Errorf("caveat %+v lacks its code, its text or the file", c)
		}
	}
	// The same bytes, a few at a time.
	for _, step := range []int{0, 1021} {
		again, err := ingest.Read(context.Background(), &trickle{f.Data, step}, []ingest.Reader{reader}, opt)
		if err != nil {
			t.Fatalf("the second time it is not read: %v", err)
		}
		if !reflect.DeepEqual(first, again) {
			t.Errorf("the same bytes, %d at a time, give another recording", step)
		}
	}
	if !bytes.Equal(before, f.Data) {
		t.Error("the reader changed the bytes that it was given")
	}
	// Cut, damaged and doubled.
	for i := range 40 {
		hold(t, reader, f.Data[:len(f.Data)*i/40])
	}
	for i := max(0, len(f.Data)-30); i < len(f.Data); i++ {
		hold(t, reader, f.Data[:i])
	}
	r := dice(2)
	small := f.Data[:min(len(f.Data), 20_000)]
	for range 60 {
		b := bytes.Clone(small)
		for range 1 + r.upTo(8) {
			if len(b) == 0 {
				break
			}
			at := r.upTo(len(b))
			switch r.upTo(3) {
			case 0:
				b[at] = byte(r.next())
			case 1:
				b = slices.Delete(b, at, min(len(b), at+r.upTo(40)))
			case 2:
				b = slices.Insert(b, at, b[at:min(len(b), at+r.upTo(40))]...)
			}
		}
		hold(t, reader, b)
	}
	hold(t, reader, slices.Concat(small, small))

	// A source that fails half-way is a fault, and one that is given up ends.
	broken := errors.New("the disk is gone")
	_, err = reader.Read(context.Background(), io.MultiReader(bytes.NewReader(f.Data[:len(f.Data)/2]), failing{broken}), opt)
	if err == nil || !errors.Is(err, broken) {
		t.Errorf("a source that fails half-way gives %v", err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := reader.Read(ctx, bytes.NewReader(f.Data), opt); !errors.Is(err, context.Canceled) {
		t.Errorf("reading that was given up gives %v", err)
	}
}

// hold reads bytes that may be anything: what comes of them is a recording that
// keeps the laws, or a fault that is not the program's own.
func hold(t *testing.T, reader ingest.Reader, b []byte) {
	t.Helper()
	if err := Holds(reader, b); err != nil {
		t.Fatalf("%v\nof %d bytes: %.300q", err, len(b), b)
	}
}

// Holds reads bytes that may be anything, for fuzzing: the error says which law
// was broken. A fault of the reader is none.
func Holds(reader ingest.Reader, b []byte) error {
	reader.Sniff(head(b), "x")
	rec, err := reader.Read(context.Background(), bytes.NewReader(b), ingest.Options{Name: "x"})
	if err != nil {
		if c := fault.CodeOf(err); c == fault.Internal {
			return fmt.Errorf("odd bytes are called the program's own mistake: %w", err)
		}
		return nil
	}
	return Check(rec)
}

// Check tells whether a recording keeps the laws of package signal: time bases
// finite and strictly increasing; valid spans in order, disjoint and not empty;
// values finite within them and 0 outside; units known, in the house's unit of
// their dimension, and fitting the role.
func Check(rec *signal.Recording) error {
	bases := map[*signal.Base]bool{}
	for _, c := range rec.Channels {
		if c.Base == nil {
			return fmt.Errorf("channel %s has no time base", c.Name)
		}
		if !bases[c.Base] {
			bases[c.Base] = true
			for i, t := range c.Base.T {
				if math.IsNaN(t) || math.IsInf(t, 0) {
					return fmt.Errorf("channel %s: time %d is %v", c.Name, i, t)
				}
				if i > 0 && t <= c.Base.T[i-1] {
					return fmt.Errorf("channel %s: time %d is %v after %v", c.Name, i, t, c.Base.T[i-1])
				}
			}
		}
		if c.Name == "" {
			return errors.New("a channel has no name")
		}
		if len(c.Values) != len(c.Base.T) {
			return fmt.Errorf("channel %s has %d values on %d times", c.Name, len(c.Values), len(c.Base.T))
		}
		at := 0
		for k, s := range c.Valid {
			if s.From >= s.To || s.From < at || k > 0 && s.From == at || s.To > len(c.Values) {
				return fmt.Errorf("channel %s: valid spans %v", c.Name, c.Valid)
			}
			for i := at; i < s.From; i++ {
				if math.Float64bits(c.Values[i]) != 0 {
					return fmt.Errorf("channel %s: value %d is %v outside the valid spans", c.Name, i, c.Values[i])
				}
			}
			for i := s.From; i < s.To; i++ {
				if v := c.Values[i]; math.IsNaN(v) || math.IsInf(v, 0) {
					return fmt.Errorf("channel %s: value %d is %v", c.Name, i, v)
				}
			}
			at = s.To
		}
		for i := at; i < len(c.Values); i++ {
			if math.Float64bits(c.Values[i]) != 0 {
				return fmt.Errorf("channel %s: value %d is %v outside the valid spans", c.Name, i, c.Values[i])
			}
		}
		dimensions, known := ingest.Dimensions(c.Role)
		if !known {
			return fmt.Errorf("channel %s has the unknown role %q", c.Name, c.Role)
		}
		if c.Unit == "" {
			if c.Role != "" {
				return fmt.Errorf("channel %s has the role %s and no unit", c.Name, c.Role)
			}
			continue
		}
		u, err := unit.Parse(c.Unit)
		if err != nil {
			return fmt.Errorf("channel %s: %w", c.Name, err)
		}
		if u != u.House() {
			return fmt.Errorf("channel %s is in %s, which is not converted", c.Name, u)
		}
		if c.Role != "" && !slices.Contains(dimensions, u.Dimension()) {
			return fmt.Errorf("channel %s has the role %s and is in %s", c.Name, c.Role, u)
		}
	}
	return nil
}

// trickle gives its bytes step at a time; as many as are asked for if step is 0.
type trickle struct {
	rest []byte
	step int
}

func (r *trickle) Read(p []byte) (int, error) {
	if len(r.rest) == 0 {
		return 0, io.EOF
	}
	if r.step > 0 && len(p) > r.step {
		p = p[:r.step]
	}
	n := copy(p, r.rest)
	r.rest = r.rest[n:]
	return n, nil
}

type failing struct{ err error }

func (f failing) Read([]byte) (int, error) { return 0, f.err }

// roll is a small generator of numbers, the same at every run: Marsaglia's
// xorshift with shifts 13, 7 and 17.
type roll uint64

func dice(seed uint64) *roll {
	r := roll(seed * 0x9e3779b97f4a7c15)
	return &r
}

func (r *roll) next() uint64 {
	x := uint64(*r)
	x ^= x << 13
	x ^= x >> 7
	x ^= x << 17
	*r = roll(x)
	return x >> 11
}

func (r *roll) upTo(n int) int { return int(r.next() % uint64(n)) }
