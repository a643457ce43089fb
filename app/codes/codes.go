// Package codes is who is who: which tyre is driven under which code, and which
// codes are the control's.
//
// Sets carry neutral letters; the key is held by the fitter; the driver does not
// know, and the control is hidden too, under more than one letter: a blind repeat
// of it measures the rater's own scatter (common practice, references 6.1). Letters
// are drawn by lot from a source of randomness that is handed in, so that the order
// of the alphabet tells nothing.
//
// K is never drawn: it is the control's letter once the codes are open. I, O and Q
// are left out, as they are misread; R and T in regulation blocks, where they mean
// reference and test tyre.
package codes

import (
	"crypto/rand"
	"encoding/csv"
	"encoding/json"
	"io"
	"math/big"
	"slices"
	"strconv"
	"strings"

	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

// Opened is the control's letter once the codes are open.
const Opened = "K"

// Alphabet gives the letters that codes are drawn from.
func Alphabet(regulation bool) []string {
	var out []string
	for _, r := range "ABCDEFGHJLMNPRSTUVWXYZ" {
		if regulation && (r == 'R' || r == 'T') {
			continue
		}
		out = append(out, string(r))
	}
	return out
}

// Identity is what is driven under a code.
type Identity struct {
	Code    string   `json:"code"`
	Tyre    string   `json:"tyre"` // the same for every code of the same tyre
	Control bool     `json:"control,omitempty"`
	Maker   string   `json:"maker,omitempty"`
	Name    string   `json:"name,omitempty"`
	Marks   string   `json:"marks,omitempty"` // whatever else would give it away
	Sets    []string `json:"sets,omitempty"`
	Note    string   `json:"note,omitempty"`
}

// Key is the whole of it: the content of the sealed file.
type Key struct {
	Schema     string     `json:"schema"` // bookend.codes/1
	Regulation bool       `json:"regulation,omitempty"`
	Identities []Identity `json:"identities"`
}

// Schema of a key.
const Schema = "bookend.codes/1"

// Tyre is one tyre that wants codes.
type Tyre struct {
	Identity
	Codes int // how many letters; 0 is one
}

// Draw draws letters for tyres by lot.
func Draw(lot io.Reader, tyres []Tyre, regulation bool) (*Key, error) {
	letters := Alphabet(regulation)
	need := 0
	for _, t := range tyres {
		need += max(1, t.Codes)
	}
	if need > len(letters) {
		return nil, fault.New(fault.Invalid, "%d codes are wanted, and there are %d letters", need, len(letters)).WithHint("fewer codes, or two programmes")
	}
	for i := len(letters) - 1; i > 0; i-- { // Fisher and Yates
		j, err := rand.Int(lot, big.NewInt(int64(i+1)))
		if err != nil {
			return nil, fault.New(fault.Internal, "drawing lots: %w", err)
		}
		letters[i], letters[j.Int64()] = letters[j.Int64()], letters[i]
	}
	k := &Key{Schema: Schema, Regulation: regulation}
	for _, t := range tyres {
		for range max(1, t.Codes) {
			id := t.Identity
			id.Code, letters = letters[0], letters[1:]
			k.Identities = append(k.Identities, id)
		}
	}
	slices.SortFunc(k.Identities, func(a, b Identity) int { return strings.Compare(a.Code, b.Code) })
	return k, k.Check()
}

// Check says what is wrong with a key.
func (k *Key) Check() error {
	if k.Schema != Schema {
		return fault.New(fault.Unsupported, "the key is of the schema %q", k.Schema).WithHint("use the newer bookend that wrote it")
	}
	allowed := Alphabet(k.Regulation)
	seen := map[string]bool{}
	control := map[string]bool{}
	tyres := map[string]bool{}
	for i, id := range k.Identities {
		switch {
		case !slices.Contains(allowed, id.Code):
			return fault.New(fault.Invalid, "code %q is none of the letters", id.Code).At("line %d", i+1).WithHint("the letters are: %s", strings.Join(allowed, " "))
		case seen[id.Code]:
			return fault.New(fault.Invalid, "code %s stands twice", id.Code).At("line %d", i+1).WithHint("a code is one tyre's")
		case strings.TrimSpace(id.Tyre) == "":
			return fault.New(fault.Invalid, "code %s has no tyre", id.Code).At("line %d", i+1).WithHint("name what is driven under it")
		case tyres[id.Tyre] && control[id.Tyre] != id.Control:
			return fault.New(fault.Invalid, "code %s: its tyre is the control under another code and a candidate here", id.Code).At("line %d", i+1).WithHint("a tyre is the control under all its codes, or under none")
		}
		seen[id.Code], tyres[id.Tyre] = true, true
		if id.Control {
			control[id.Tyre] = true
		}
	}
	if len(control) != 1 {
		return fault.New(fault.Invalid, "there are %d control tyres", len(control)).WithHint("one tyre is the control, under one code or several")
	}
	return nil
}

// Letters gives the codes in the order of the alphabet: all that may be known
// while they are sealed.
func (k *Key) Letters() []string {
	var out []string
	for _, id := range k.Identities {
		out = append(out, id.Code)
	}
	slices.Sort(out)
	return out
}

// Controls gives the control's codes in the order of the alphabet.
func (k *Key) Controls() []string {
	var out []string
	for _, id := range k.Identities {
		if id.Control {
			out = append(out, id.Code)
		}
	}
	slices.Sort(out)
	return out
}

// names gives, by code, the letter that a tyre has once the codes are open: K for
// the control, the first of its letters for every other.
func (k *Key) names() map[string]string {
	first := map[string]string{}
	ids := slices.Clone(k.Identities)
	slices.SortFunc(ids, func(a, b Identity) int { return strings.Compare(a.Code, b.Code) })
	out := map[string]string{}
	for _, id := range ids {
		if first[id.Tyre] == "" {
			first[id.Tyre] = id.Code
		}
		out[id.Code] = first[id.Tyre]
		if id.Control {
			out[id.Code] = Opened
		}
	}
	return out
}

// Join gives a log with the codes of one tyre joined: every control stint is K's.
// Where a stint names no set and its tyre has several codes, the code stands for
// the set, so that fitments under two letters are not taken for one set's. Codes
// that the key does not know stay.
func (k *Key) Join(log programme.Log) programme.Log {
	names := k.names()
	codesOf := map[string]int{}
	for _, n := range names {
		codesOf[n]++
	}
	out := log
	out.Stints = slices.Clone(log.Stints)
	for i := range out.Stints {
		s := &out.Stints[i]
		n, ok := names[s.Code]
		if !ok {
			continue
		}
		if s.Set == "" && codesOf[n] > 1 {
			s.Set = "under " + s.Code
		}
		s.Code = n
	}
	return out
}

// Read reads a key from the content of a sealed file.
func Read(content []byte) (*Key, error) {
	var k Key
	if err := json.Unmarshal(content, &k); err != nil {
		return nil, fault.New(fault.Invalid, "what is sealed is no key of codes")
	}
	return &k, k.Check()
}

// mostKey is how large a table of tyres may be, in bytes: own choice.
const mostKey = 1 << 20

// ReadTyres reads a table of tyres, comma-separated with a head: tyre, and as far
// as there are such columns control (yes), codes (how many letters), maker, name,
// marks, sets (with spaces between), note, and code where letters were chosen by
// hand. given tells whether there is a column code.
func ReadTyres(r io.Reader, name string) (tyres []Tyre, given bool, err error) {
	c := csv.NewReader(io.LimitReader(r, mostKey))
	c.TrimLeadingSpace = true
	rows, err := c.ReadAll()
	if err != nil {
		return nil, false, fault.New(fault.Invalid, "it is no table: %w", err).At("%s", name).WithHint("its first line names the columns: tyre,control,codes,maker,name,marks,sets,note")
	}
	if len(rows) < 2 {
		return nil, false, fault.New(fault.Invalid, "it names no tyre").At("%s", name).WithHint("a head, then a line a tyre")
	}
	known := []string{"code", "tyre", "control", "codes", "maker", "name", "marks", "sets", "note"}
	for i, h := range rows[0] {
		rows[0][i] = strings.ToLower(strings.TrimSpace(strings.TrimPrefix(h, "\ufeff")))
		if !slices.Contains(known, rows[0][i]) {
			return nil, false, fault.New(fault.Invalid, "column %d is none that is known", i+1).At("%s:1", name).WithHint("the columns are: %s", strings.Join(known, ", "))
		}
		given = given || rows[0][i] == "code"
	}
	for i, row := range rows[1:] {
		t := Tyre{}
		for j, cell := range row {
			cell = strings.TrimSpace(cell)
			switch rows[0][j] {
			case "code":
				t.Code = cell
			case "tyre":
				t.Tyre = cell
			case "control":
				switch strings.ToLower(cell) {
				case "yes":
					t.Control = true
				case "", "no":
				default:
					return nil, given, fault.New(fault.Invalid, "column control: neither yes nor no").At("%s:%d", name, i+2).WithHint("yes on the lines of the control, nothing on the others")
				}
			case "codes":
				if cell == "" {
					continue
				}
				if t.Codes, err = strconv.Atoi(cell); err != nil || t.Codes < 1 {
					return nil, given, fault.New(fault.Invalid, "column codes: no number of letters").At("%s:%d", name, i+2).WithHint("1, or 2 for the control that is driven under two letters")
				}
			case "maker":
				t.Maker = cell
			case "name":
				t.Name = cell
			case "marks":
				t.Marks = cell
			case "sets":
				t.Sets = strings.Fields(cell)
			case "note":
				t.Note = cell
			}
		}
		tyres = append(tyres, t)
	}
	return tyres, given, nil
}

// Given makes a key of letters that were chosen by hand.
func Given(tyres []Tyre, regulation bool) (*Key, error) {
	k := &Key{Schema: Schema, Regulation: regulation}
	for _, t := range tyres {
		k.Identities = append(k.Identities, t.Identity)
	}
	return k, k.Check()
}
