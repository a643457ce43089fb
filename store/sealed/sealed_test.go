package sealed

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"filippo.io/age"

	"example.org/bookend/app"
	"example.org/bookend/fault"
)

var _ app.Vault = (*Box)(nil)

const words = "marsh heron gravel lamp"

func box(t *testing.T) *Box {
	t.Helper()
	b := In(t.TempDir())
	b.work = 10 // scrypt's cost in tests; age's own is 18
	return b
}

func TestWhatIsSealedOpensWithItsPassphraseAlone(t *testing.T) {
	b := box(t)
	ctx := context.Background()
	if _, err := b.Open(ctx, words); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("nothing sealed: %v", err)
	}
	if _, ok, err := b.Hash(ctx); ok || err != nil {
		t.Errorf("nothing sealed: %v, %v", ok, err)
	}
	content := []byte(`{"maker":"Tarn Rubber"}`)
	sum, err := b.Seal(ctx, content, words)
	if err != nil {
		t.Fatal(err)
	}
	if got, ok, err := b.Hash(ctx); got != sum || !ok || err != nil {
		t.Errorf("%s, %v, %v", got, ok, err)
	}
	if got, err := b.Open(ctx, words); err != nil || !bytes.Equal(got, content) {
		t.Errorf("%q, %v", got, err)
	}
	for _, other := range []string{"", "marsh heron gravel lamps", strings.ToUpper(words)} {
		if _, err := b.Open(ctx, other); fault.CodeOf(err) != fault.Invalid || strings.Contains(err.Error(), "Tarn") {
			t.Errorf("%q: %v", other, err)
		}
	}
	if _, err := b.Seal(ctx, content, "short"); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("a short passphrase: %v", err)
	}
	info, err := os.Stat(b.path())
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v", info.Mode(), err)
	}
}

// The file is one of age's, as its own library reads it: nothing of it is ours.
func TestTheFileIsOneOfTheFormatsOwn(t *testing.T) {
	b := box(t)
	if _, err := b.Seal(context.Background(), []byte("abc"), words); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(b.path())
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.HasPrefix(data, []byte("age-encryption.org/v1\n-> scrypt ")) {
		t.Errorf("it begins %q", data[:40])
	}
	id, err := age.NewScryptIdentity(words)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := age.Decrypt(bytes.NewReader(data), id); err != nil {
		t.Error(err)
	}
}

// Each byte of the file counts: a changed one is refused, wherever it is. And the
// file's size tells nothing of what is in it.
func TestAChangedByteDoesNotOpenAndTheSizeTellsNothing(t *testing.T) {
	b := box(t)
	ctx := context.Background()
	var sizes []int
	for _, content := range []string{"", "K is the control", strings.Repeat("P and R and W ", 900)} {
		if _, err := b.Seal(ctx, []byte(content), words); err != nil {
			t.Fatal(err)
		}
		data, err := os.ReadFile(b.path())
		if err != nil {
			t.Fatal(err)
		}
		sizes = append(sizes, len(data))
		if bytes.Contains(data, []byte("control")) {
			t.Error("it is legible")
		}
	}
	if sizes[0] != sizes[1] || sizes[1] != sizes[2] {
		t.Errorf("sizes %v", sizes)
	}
	whole, err := os.ReadFile(b.path())
	if err != nil {
		t.Fatal(err)
	}
	for _, at := range []int{0, 25, len(whole) / 2, len(whole) - 1} {
		changed := bytes.Clone(whole)
		changed[at] ^= 1
		if err := os.WriteFile(b.path(), changed, 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := b.Open(ctx, words); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("byte %d: %v", at, err)
		}
	}
	if err := os.WriteFile(b.path(), whole[:len(whole)-100], 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := b.Open(ctx, words); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("cut off: %v", err)
	}
}

func TestACopyIsSealedToo(t *testing.T) {
	b := box(t)
	ctx := context.Background()
	to := t.TempDir()
	if err := b.CopyTo(ctx, to); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("nothing sealed: %v", err)
	}
	if _, err := b.Seal(ctx, []byte("abc"), words); err != nil {
		t.Fatal(err)
	}
	if err := b.CopyTo(ctx, to); err != nil {
		t.Fatal(err)
	}
	if got, err := In(to).Open(ctx, words); err != nil || string(got) != "abc" {
		t.Errorf("%q, %v", got, err)
	}
	if left, _ := filepath.Glob(filepath.Join(to, "*")); len(left) != 1 {
		t.Errorf("%v", left)
	}
}
