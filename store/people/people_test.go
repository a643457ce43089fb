package people_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/store/people"
)

func TestSigningIn(t *testing.T) {
	dir := t.TempDir()
	p := people.In(dir)
	if all, err := p.List(); err != nil || len(all) != 0 {
		t.Fatalf("an empty folder has %v, %v", all, err)
	}
	for _, bad := range []struct{ name, password string }{{"", "long enough it is"}, {"I. Rask", "short"}, {"I. Rask", strings.Repeat("x", 300)}} {
		if err := p.Add(bad.name, "lead", bad.password); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%q with %d characters: %v", bad.name, len(bad.password), err)
		}
	}
	if err := p.Add("I. Rask", "lead", "three words, no more"); err != nil {
		t.Fatal(err)
	}
	if err := p.Add("A. Holm", "driver", "another set of words"); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, password string
		ok             bool
	}{{"I. Rask", "three words, no more", true}, {"I. Rask", "another set of words", false}, {"i. rask", "three words, no more", false}, {"nobody", "three words, no more", false}, {"I. Rask", "", false}} {
		who, ok, err := p.Check(c.name, c.password)
		if err != nil || ok != c.ok || ok && who.Role != "lead" {
			t.Errorf("%q: %v %v %v", c.name, who, ok, err)
		}
	}
	b, err := os.ReadFile(filepath.Join(dir, people.File))
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(b), "three words") || !strings.Contains(string(b), "$argon2id$v=19$") {
		t.Errorf("the file holds %s", b)
	}
	if info, _ := os.Stat(filepath.Join(dir, people.File)); info.Mode().Perm() != 0o600 {
		t.Errorf("the file has mode %v", info.Mode())
	}
	if left, _ := filepath.Glob(filepath.Join(dir, ".*")); len(left) != 0 {
		t.Errorf("left behind: %v", left)
	}

	if err := p.Add("A. Holm", "fitter", "a third set of words"); err != nil {
		t.Fatal(err)
	}
	if _, ok, _ := p.Check("A. Holm", "another set of words"); ok {
		t.Error("the old password still holds")
	}
	if err := p.Remove("A. Holm"); err != nil {
		t.Fatal(err)
	}
	if err := p.Remove("A. Holm"); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("removed twice: %v", err)
	}
	if all, _ := p.List(); len(all) != 1 {
		t.Errorf("left are %v", all)
	}
	if err := os.WriteFile(filepath.Join(dir, people.File), []byte(`{"schema":"bookend.people/9","entries":[]}`), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := p.List(); fault.CodeOf(err) != fault.Unsupported {
		t.Errorf("a newer file: %v", err)
	}
}
