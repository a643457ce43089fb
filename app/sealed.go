package app

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"

	"example.org/bookend/app/codes"
	"example.org/bookend/clock"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/programme/runlog"
)

// Vault keeps what is sealed beside a programme (store/sealed implements it).
type Vault interface {
	// Seal encrypts content under a passphrase and gives the sealed file's SHA-256.
	Seal(ctx context.Context, content []byte, passphrase string) (sha256 string, err error)
	// Open decrypts it.
	Open(ctx context.Context, passphrase string) ([]byte, error)
	// Hash gives the sealed file's SHA-256; ok is false where nothing is sealed.
	Hash(ctx context.Context) (sha256 string, ok bool, err error)
	// CopyTo copies the file, sealed, into a folder.
	CopyTo(ctx context.Context, dir string) error
}

// SealedEntry says that the codes were sealed: the letters in the order of the
// alphabet, and the hash of the sealed file. It tells nothing of who is who.
type SealedEntry struct {
	SHA256     string   `json:"sha256"`
	Codes      []string `json:"codes"`
	Regulation bool     `json:"regulation,omitempty"`
}

// CodesOpenedEntry says that somebody opened the codes.
type CodesOpenedEntry struct {
	SHA256 string `json:"sha256"`
	Reason string `json:"reason"`
}

// CopiedEntry says that the sealed file left the folder with a copy.
type CopiedEntry struct {
	SHA256 string `json:"sha256"`
}

// SealCodes seals who is who. What is sealed already stays.
func (f *Folder) SealCodes(ctx context.Context, k *codes.Key, passphrase string) error {
	if err := k.Check(); err != nil {
		return err
	}
	if _, ok, err := f.Vault.Hash(ctx); err != nil {
		return err
	} else if ok {
		return fault.New(fault.Conflict, "codes are sealed here already").WithHint("a programme has one key; bookend codes open shows it")
	}
	content, err := programme.Canonical(k)
	if err != nil {
		return err
	}
	sum, err := f.Vault.Seal(ctx, content, passphrase)
	if err != nil {
		return err
	}
	return f.Put(ctx, KindSealed, "", SealedEntry{SHA256: sum, Codes: k.Letters(), Regulation: k.Regulation})
}

// DrawCodes draws codes for tyres by lot and seals who is who; it gives the
// letters alone.
func (f *Folder) DrawCodes(ctx context.Context, lot io.Reader, tyres []codes.Tyre, regulation bool, passphrase string) ([]string, error) {
	k, err := codes.Draw(lot, tyres, regulation)
	if err != nil {
		return nil, err
	}
	if err := f.SealCodes(ctx, k, passphrase); err != nil {
		return nil, err
	}
	return k.Letters(), nil
}

// OpenCodes opens who is who. That it was opened, by whom and why, is logged
// before anything is handed out; nothing else opens it.
func (f *Folder) OpenCodes(ctx context.Context, passphrase, reason string) (*codes.Key, error) {
	if strings.TrimSpace(reason) == "" {
		return nil, fault.New(fault.Invalid, "no reason is given").WithHint("--reason: setting up, report, tyre damaged")
	}
	sum, ok, err := f.Vault.Hash(ctx)
	if err != nil {
		return nil, err
	}
	if !ok {
		return nil, fault.New(fault.NotFound, "nothing is sealed here").WithHint("bookend codes seal")
	}
	content, err := f.Vault.Open(ctx, passphrase)
	if err != nil {
		return nil, err
	}
	k, err := codes.Read(content)
	if err != nil {
		return nil, err
	}
	if err := f.Put(ctx, KindCodesOpened, "", CodesOpenedEntry{SHA256: sum, Reason: reason}); err != nil {
		return nil, err
	}
	return k, nil
}

// Copy copies the programme into an empty folder while others work on it; with the
// sealed file only where that is asked for, and then it is logged.
func (f *Folder) Copy(ctx context.Context, dir string, withCodes bool) error {
	if withCodes {
		sum, ok, err := f.Vault.Hash(ctx)
		if err != nil {
			return err
		}
		if !ok {
			return fault.New(fault.NotFound, "nothing is sealed here").WithHint("leave --with-codes out")
		}
		if err := f.Put(ctx, KindCopied, "", CopiedEntry{SHA256: sum}); err != nil {
			return err
		}
	}
	if err := f.Store.Copy(ctx, dir); err != nil {
		return err
	}
	if !withCodes {
		return nil
	}
	return f.Vault.CopyTo(ctx, dir)
}

// Opening is that somebody opened the codes.
type Opening struct {
	Person string        `json:"person"`
	At     clock.Instant `json:"at"`
	Reason string        `json:"reason"`
}

// Blindness is who knew what while people drove and rated.
type Blindness struct {
	Sealed    bool      `json:"sealed"`     // codes were sealed at all
	Drivers   bool      `json:"drivers"`    // nobody who drove had opened them before
	Raters    bool      `json:"raters"`     // nobody who rated had
	LeadDrove bool      `json:"lead_drove"` // whoever sealed them drove or rated
	Openings  []Opening `json:"openings"`
	Text      string    `json:"text"`
}

// Blindness tells who knew what, from the entries: who sealed and opened the codes
// and when, and who drove and rated and when. People are told apart by the names
// that entries carry, so it holds as far as those are right; what was known without
// the file nobody can tell.
func (s *State) Blindness() Blindness {
	b := Blindness{Openings: append([]Opening{}, s.Openings...)}
	if s.Sealed == nil {
		b.Text = "Open: codes were not sealed, whoever drove and rated may have known what was driven."
		return b
	}
	b.Sealed, b.Drivers, b.Raters = true, true, true
	knew := map[string]int64{s.SealedBy: s.SealedAt.UnixNS}
	for _, o := range s.Openings {
		if at, ok := knew[o.Person]; !ok || o.At.UnixNS < at {
			knew[o.Person] = o.At.UnixNS
		}
	}
	var drove, rated []string
	note := func(person string, when int64, blind *bool, list *[]string) {
		if person == "" {
			return
		}
		at, ok := knew[person]
		if ok && at <= when || when < s.SealedAt.UnixNS {
			*blind = false
			if !slices.Contains(*list, person) {
				*list = append(*list, person)
			}
		}
		b.LeadDrove = b.LeadDrove || person == s.SealedBy
	}
	for _, st := range s.Day.Stints {
		person := st.Driver
		if person == "" {
			person = st.Entry.Author
		}
		note(person, st.Entry.ServerTime.UnixNS, &b.Drivers, &drove)
	}
	for _, r := range s.Day.Ratings {
		note(r.Rater, r.Entry.ServerTime.UnixNS, &b.Raters, &rated)
	}
	switch {
	case b.Drivers && b.Raters:
		b.Text = "Single-blind: nobody who drove or rated had opened the codes before."
	case b.Raters && len(s.Day.Ratings) > 0:
		b.Text = fmt.Sprintf("Blind for ratings: nobody who rated had opened the codes before; of those who drove, these had, or drove before the codes were sealed: %s.", strings.Join(drove, ", "))
	default:
		b.Text = fmt.Sprintf("Open: these knew the codes while they drove or rated, or did so before they were sealed: %s.", strings.Join(slices.Compact(slices.Sorted(slices.Values(append(drove, rated...)))), ", "))
	}
	if b.LeadDrove {
		b.Text += fmt.Sprintf(" Whoever sealed the codes (%s) drove or rated.", s.SealedBy)
	}
	return b
}

// applySealed takes an entry about sealed codes; ok is false for every other kind.
func (s *State) applySealed(e programme.Entry) (ok bool, err error) {
	switch e.Kind {
	case KindSealed:
		var x SealedEntry
		if err := json.Unmarshal(e.Body, &x); err != nil {
			return true, fault.New(fault.Internal, "reading the entry: %w", err)
		}
		s.Sealed, s.SealedBy, s.SealedAt = &x, e.Author, e.ServerTime
	case KindCodesOpened:
		var x CodesOpenedEntry
		if err := json.Unmarshal(e.Body, &x); err != nil {
			return true, fault.New(fault.Internal, "reading the entry: %w", err)
		}
		s.Openings = append(s.Openings, Opening{Person: e.Author, At: e.ServerTime, Reason: x.Reason})
	case KindCopied:
	default:
		return false, nil
	}
	return true, nil
}

// Kinds of entry about sealed codes, each at version 1.
const (
	KindSealed      = "codes_sealed" // body: SealedEntry
	KindCodesOpened = "codes_opened" // body: CodesOpenedEntry
	KindCopied      = "codes_copied" // body: CopiedEntry
)

// Unknown gives the codes of stints that are none of the sealed letters: a slip,
// or a set that nobody sealed.
func (s *State) Unknown() []string {
	if s.Sealed == nil {
		return nil
	}
	var out []string
	for _, l := range s.Day.Entries {
		if l.Entry.Kind != runlog.Stint {
			continue
		}
		var b runlog.StintBody
		if json.Unmarshal(l.Entry.Body, &b) == nil && !slices.Contains(s.Sealed.Codes, b.Code) && !slices.Contains(out, b.Code) {
			out = append(out, b.Code)
		}
	}
	return out
}
