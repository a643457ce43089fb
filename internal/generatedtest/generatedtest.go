// Package generatedtest holds what the tests of programs that write files share: whether what
// is committed is what they write now, and a folder to write from.
package generatedtest

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
)

// Current says of a committed file where it is not what its program writes now.
func Current(t testing.TB, name string, want []byte) {
	t.Helper()
	got, err := os.ReadFile(name)
	if err != nil || !bytes.Equal(got, want) {
		t.Errorf("%s is not what go generate ./... writes now (%v)", name, err)
	}
}

// Tree writes files, by their paths with slashes, into a new folder that the test takes
// away, and gives its path.
func Tree(t testing.TB, files map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		p := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(p, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}
