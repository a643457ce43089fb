// Package people keeps who may sign in to the pages, and in which role, in one
// file of a ground's or a programme's folder.
//
// Passwords are kept as argon2id hashes (RFC 9106) alone, by a library, each with
// its own salt and cost. The file is readable by its owner only and is replaced
// whole, so that it is never half-written. It is no part of the chain of entries:
// that is copied, exported and kept for ever, and a hash of a password must not
// be.
package people

import (
	"bytes"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"unicode/utf8"

	"github.com/alexedwards/argon2id"

	"example.org/bookend/fault"
)

// File is the file's name in its folder.
const File = "people.json"

// LeastPassword is how many characters a password has at least: own choice.
const LeastPassword = 10

// mostPassword bounds what is hashed.
const mostPassword = 256

// Person is somebody who may sign in.
type Person struct {
	Name string `json:"name"`
	Role string `json:"role"` // as app/sight has it
	Hash string `json:"key"`  // argon2id, with its salt and cost
}

type contents struct {
	Schema string   `json:"schema"`
	People []Person `json:"entries"`
}

const schema = "bookend.people/1"

// People is the file of one folder. It may be used by several at once.
type People struct {
	path string
	mu   sync.Mutex
}

// In gives the people of a folder. The file need not be there.
func In(dir string) *People { return &People{path: filepath.Join(dir, File)} }

// List gives everybody, by name.
func (p *People) List() ([]Person, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.read()
}

func (p *People) read() ([]Person, error) {
	b, err := os.ReadFile(p.path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fault.New(fault.Invalid, "reading who may sign in: %w", err).At("%s", p.path)
	}
	var c contents
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	if err := d.Decode(&c); err != nil {
		return nil, fault.New(fault.Invalid, "reading who may sign in: %w", err).At("%s", p.path).WithHint("put back a copy, or remove it and add the people again")
	}
	if c.Schema != schema {
		return nil, fault.New(fault.Unsupported, "it is of the form %q", c.Schema).At("%s", p.path).WithHint("this bookend reads %s", schema)
	}
	return c.People, nil
}

// Add adds somebody, or gives somebody who is there another role and password.
func (p *People) Add(name, role, password string) error {
	name = strings.TrimSpace(name)
	switch {
	case name == "" || utf8.RuneCountInString(name) > 100:
		return fault.New(fault.Invalid, "a person needs a name of at most 100 characters")
	case utf8.RuneCountInString(password) < LeastPassword:
		return fault.New(fault.Invalid, "the password has fewer than %d characters", LeastPassword).WithHint("a few words that nobody guesses")
	case len(password) > mostPassword:
		return fault.New(fault.Invalid, "the password is longer than %d bytes", mostPassword)
	}
	hash, err := argon2id.CreateHash(password, argon2id.DefaultParams)
	if err != nil {
		return fault.New(fault.Internal, "hashing a password: %w", err)
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	all, err := p.read()
	if err != nil {
		return err
	}
	one := Person{name, role, hash}
	if i := slices.IndexFunc(all, func(x Person) bool { return x.Name == name }); i >= 0 {
		all[i] = one
	} else {
		all = append(all, one)
	}
	return p.write(all)
}

// Remove takes somebody off the list; a not-found fault where nobody is called
// so.
func (p *People) Remove(name string) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	all, err := p.read()
	if err != nil {
		return err
	}
	i := slices.IndexFunc(all, func(x Person) bool { return x.Name == name })
	if i < 0 {
		return fault.New(fault.NotFound, "nobody here is called %q", name).WithHint("bookend people list shows who may sign in")
	}
	return p.write(slices.Delete(all, i, i+1))
}

func (p *People) write(all []Person) error {
	slices.SortFunc(all, func(a, b Person) int { return strings.Compare(a.Name, b.Name) })
	b, err := json.MarshalIndent(contents{schema, all}, "", "  ")
	if err != nil {
		return fault.New(fault.Internal, "writing who may sign in: %w", err)
	}
	f, err := os.CreateTemp(filepath.Dir(p.path), "."+File+"-*") // made with mode 0600
	if err != nil {
		return fault.New(fault.Invalid, "writing who may sign in: %w", err).At("%s", p.path)
	}
	defer os.Remove(f.Name()) //nolint:errcheck // gone already where all went well
	_, err = f.Write(append(b, '\n'))
	if err == nil {
		err = f.Sync()
	}
	if e := f.Close(); err == nil {
		err = e
	}
	if err == nil {
		err = os.Rename(f.Name(), p.path)
	}
	if err != nil {
		return fault.New(fault.Invalid, "writing who may sign in: %w", err).At("%s", p.path)
	}
	return nil
}

// nobody is what a name that is not there is held against, so that the answer
// takes as long.
var nobody = sync.OnceValues(func() (string, error) {
	return argon2id.CreateHash("a password that nobody has", argon2id.DefaultParams)
})

// Check tells whether somebody of that name has that password, and who it is.
func (p *People) Check(name, password string) (Person, bool, error) {
	if len(password) > mostPassword {
		return Person{}, false, nil
	}
	all, err := p.List()
	if err != nil {
		return Person{}, false, err
	}
	hash, err := nobody()
	if err != nil {
		return Person{}, false, fault.New(fault.Internal, "hashing a password: %w", err)
	}
	i := slices.IndexFunc(all, func(x Person) bool { return x.Name == strings.TrimSpace(name) })
	if i >= 0 {
		hash = all[i].Hash
	}
	same, err := argon2id.ComparePasswordAndHash(password, hash)
	if err != nil {
		return Person{}, false, fault.New(fault.Invalid, "the password of %s cannot be read: %w", name, err).At("%s", p.path).WithHint("give a new one: bookend people add")
	}
	if i < 0 || !same {
		return Person{}, false, nil
	}
	return all[i], true, nil
}
