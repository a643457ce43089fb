package app

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"example.org/bookend/app/day"
	"example.org/bookend/clock"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/programme/runlog"
	"example.org/bookend/table"
)

// Receipt is what a device is answered for one entry. It may forget the entry
// once Kept is true, and only then.
type Receipt struct {
	ID       string             `json:"id"`
	Kept     bool               `json:"kept"`
	Again    bool               `json:"again,omitempty"`    // the same bytes were kept before
	Sequence int64              `json:"sequence,omitempty"` // the server's
	Code     fault.Code         `json:"code,omitempty"`     // why it is not kept: conflict, invalid, ...
	Text     string             `json:"text,omitempty"`
	Hint     string             `json:"hint,omitempty"`
	Answers  []programme.Answer `json:"answers,omitempty"` // of the limits, at once
	Wait     string             `json:"wait,omitempty"`    // what only the engineer may answer
}

// Append keeps entries that a device made, in their order, each by itself: one
// that is refused holds none of the others back. The same id with the same bytes
// is kept once, with other bytes it is a conflict; what is malformed is invalid and
// stays with the device, where it can be corrected. Whatever clashes with what
// another device said is kept and shown. The error is of the store alone: then the
// entries without a receipt were not kept.
func (f *Folder) Append(ctx context.Context, entries []programme.Entry) ([]Receipt, error) {
	out := make([]Receipt, 0, len(entries))
	fresh := false
	for _, e := range entries {
		r, err := f.Take(ctx, e)
		if err != nil {
			return out, err
		}
		fresh = fresh || r.Kept && !r.Again
		out = append(out, r)
	}
	if !fresh {
		return out, nil
	}
	s, err := Rebuild(ctx, f.Store)
	if err != nil {
		return out, err
	}
	for i := range out {
		if out[i].Kept && !out[i].Again {
			out[i].Answers, out[i].Wait = s.answers(entries[i])
		}
	}
	return out, nil
}

// Take keeps one entry that a device made, as Append does, without the limits'
// answers: what is taken from a file was driven long ago.
func (f *Folder) Take(ctx context.Context, e programme.Entry) (Receipt, error) {
	r := Receipt{ID: e.ID}
	kept, again, err := f.take(ctx, e)
	if err != nil {
		r.Code, r.Text, r.Hint = fault.CodeOf(err), err.Error(), fault.HintOf(err)
		if r.Code == fault.Internal {
			return r, err
		}
		return r, nil
	}
	r.Kept, r.Again, r.Sequence = true, again, kept.Sequence
	return r, nil
}

// take checks one entry of a device and keeps it.
func (f *Folder) take(ctx context.Context, e programme.Entry) (programme.Entry, bool, error) {
	id, err := uuid.Parse(e.ID)
	if err != nil || id.Version() != 7 || id.String() != e.ID {
		return e, false, fault.New(fault.Invalid, "%q is no id of an entry", e.ID).WithHint("it is a UUID of version 7 in lower case, made by whoever writes the entry")
	}
	if e.Counter < 1 || e.Device == "" || e.Author == "" || !e.DeviceTime.Known() {
		return e, false, fault.New(fault.Invalid, "an entry needs its author, its device, the device's counter from 1 and the device's time").At("entry %s", e.ID).WithHint("whoever makes an entry fills in all four; a device counts its own")
	}
	if e.Kind == KindWithdrawal {
		if e.Supersedes == "" {
			return e, false, fault.New(fault.Invalid, "a withdrawal takes nothing back").At("entry %s", e.ID).WithHint("supersedes names the entry that is taken back")
		}
	} else if err := runlog.Check(e.Kind, e.Version, e.Body); err != nil {
		return e, false, fault.At(err, "entry %s", e.ID)
	}
	if e.Supersedes != "" {
		if err := f.replaces(ctx, e); err != nil {
			return e, false, err
		}
	}
	return f.Store.Put(ctx, e)
}

// replaces says why an entry of a device may not stand in the place of the one that it
// names: nothing of the run log is corrected into another kind, and nothing else is
// corrected or taken back by a device. One that is not here is left to the store.
func (f *Folder) replaces(ctx context.Context, e programme.Entry) error {
	all, err := f.Store.Entries(ctx, 0)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(all, func(old programme.Entry) bool { return old.ID == e.Supersedes })
	if i < 0 {
		return nil
	}
	old := all[i]
	_, logged := runlog.KindOf(old.Kind)
	switch {
	case e.Kind == KindWithdrawal && (logged || old.Kind == KindWithdrawal), old.Kind == e.Kind:
		return nil
	case e.Kind == KindWithdrawal:
		return fault.New(fault.Invalid, "entry %d is a %s, which is none of the run log's", old.Sequence, old.Kind).At("entry %s", e.ID).WithHint("it is taken back where it was made")
	}
	return fault.New(fault.Invalid, "a %s cannot stand in the place of entry %d, a %s", e.Kind, old.Sequence, old.Kind).At("entry %s", e.ID).WithHint("take the old entry back, and enter the new one by itself")
}

// Log keeps one entry of the run log made here and now, and answers it by the
// limits. Other than Append it refuses what clashes with what is there: somebody
// stands here who can be asked.
func (f *Folder) Log(ctx context.Context, kind string, body any) (Receipt, error) {
	return f.log(ctx, kind, "", body)
}

// CorrectEntry keeps a new entry in the place of an old one. Fields that are given
// as nil are emptied, those that are not given stay.
func (f *Folder) CorrectEntry(ctx context.Context, id string, changed map[string]any) (Receipt, error) {
	old, err := f.standing(ctx, id)
	if err != nil {
		return Receipt{}, err
	}
	if _, ok := runlog.KindOf(old.Kind); !ok {
		return Receipt{}, fault.New(fault.Invalid, "entry %d is a %s, which is none of the run log's", old.Sequence, old.Kind).WithHint("the run log's entries are corrected here, others where they are made")
	}
	var body map[string]json.RawMessage
	if err := json.Unmarshal(old.Body, &body); err != nil {
		return Receipt{}, fault.New(fault.Internal, "reading entry %s: %w", id, err)
	}
	for k, v := range changed {
		if v == nil {
			delete(body, k)
			continue
		}
		if body[k], err = json.Marshal(v); err != nil {
			return Receipt{}, fault.New(fault.Internal, "writing field %s: %w", k, err)
		}
	}
	return f.log(ctx, old.Kind, old.ID, body)
}

// Withdraw takes an entry back: nothing stands in its place.
func (f *Folder) Withdraw(ctx context.Context, id string) error {
	old, err := f.standing(ctx, id)
	if err != nil {
		return err
	}
	if _, ok := runlog.KindOf(old.Kind); !ok {
		return fault.New(fault.Invalid, "entry %d is a %s, which is none of the run log's", old.Sequence, old.Kind).WithHint("an exclusion is taken back with bookend exclude --back")
	}
	return f.Put(ctx, KindWithdrawal, id, struct{}{})
}

// standing gives an entry that counts, by its id or its sequence (#12).
func (f *Folder) standing(ctx context.Context, id string) (programme.Entry, error) {
	all, err := f.Store.Entries(ctx, 0)
	if err != nil {
		return programme.Entry{}, err
	}
	live, _, twice := day.Standing(all)
	for _, e := range live {
		if e.ID == id {
			return e, nil
		}
	}
	for _, e := range all {
		if e.ID == id && slices.ContainsFunc(twice, func(c day.Clash) bool { return slices.Contains(c.Others, id) }) {
			return e, nil // a second correction of the same entry: it is kept, and may be taken back
		}
		if e.ID == id {
			return e, fault.New(fault.Conflict, "entry %d counts no longer", e.Sequence).WithHint("it was corrected or taken back; correct the entry that stands in its place")
		}
	}
	return programme.Entry{}, fault.New(fault.NotFound, "there is no entry %s", id).WithHint("bookend log show lists them")
}

// EntryID gives the id of an entry by its sequence (#12) or by its id.
func (f *Folder) EntryID(ctx context.Context, named string) (string, error) {
	number, ok := strings.CutPrefix(named, "#")
	if !ok {
		return named, nil
	}
	all, err := f.Store.Entries(ctx, 0)
	if err != nil {
		return "", err
	}
	for _, e := range all {
		if fmt.Sprint(e.Sequence) == number {
			return e.ID, nil
		}
	}
	return "", fault.New(fault.NotFound, "there is no entry %s", named).WithHint("bookend log show lists them")
}

func (f *Folder) log(ctx context.Context, kind, supersedes string, body any) (Receipt, error) {
	k, ok := runlog.KindOf(kind)
	if !ok {
		return Receipt{}, runlog.Check(kind, 1, nil)
	}
	b, err := programme.Canonical(body)
	if err != nil {
		return Receipt{}, err
	}
	if err := runlog.Check(kind, k.Version, b); err != nil {
		return Receipt{}, err
	}
	e, err := f.entry(ctx, kind, k.Version, supersedes, b)
	if err != nil {
		return Receipt{}, err
	}
	all, err := f.Store.Entries(ctx, 0)
	if err != nil {
		return Receipt{}, err
	}
	if err := clashes(all, e); err != nil {
		return Receipt{}, err
	}
	got, err := f.Append(ctx, []programme.Entry{e})
	if err != nil {
		return Receipt{}, err
	}
	if r := got[0]; !r.Kept {
		return r, fault.New(r.Code, "%s", r.Text).WithHint("%s", r.Hint)
	}
	return got[0], nil
}

// clashes says what an entry would clash with if it were kept.
func clashes(all []programme.Entry, e programme.Entry) error {
	before, err := day.Build(all)
	if err != nil {
		return err
	}
	after, err := day.Build(append(slices.Clip(all), e))
	if err != nil {
		return err
	}
	for _, c := range after.Clashes {
		if slices.Contains(c.Others, e.ID) || c.Stands == e.ID {
			for _, l := range before.Entries {
				if l.Entry.ID == c.Stands || slices.Contains(c.Others, l.Entry.ID) {
					return fault.New(fault.Conflict, "%s is logged already, in entry %d", c.What, l.Entry.Sequence).
						WithHint("bookend log correct #%d changes it", l.Entry.Sequence)
				}
			}
			return fault.New(fault.Conflict, "%s is logged already", c.What).WithHint("bookend log show lists what stands")
		}
	}
	if e.Kind == runlog.Release {
		var r runlog.ReleaseBody
		if err := json.Unmarshal(e.Body, &r); err != nil {
			return fault.New(fault.Internal, "reading the release: %w", err)
		}
		if before.Incident(r.Incident) == nil {
			return fault.New(fault.NotFound, "no incident stands in entry %s", r.Incident).WithHint("bookend log show --kind incident lists them")
		}
	}
	return nil
}

// entry makes an entry here and now.
func (f *Folder) entry(ctx context.Context, kind string, version int, supersedes string, body []byte) (programme.Entry, error) {
	id, err := uuid.NewV7()
	if err != nil {
		return programme.Entry{}, fault.New(fault.Internal, "making an entry's id: %w", err)
	}
	last, err := f.Store.Counter(ctx, f.Device)
	if err != nil {
		return programme.Entry{}, err
	}
	return programme.Entry{
		ID: id.String(), Kind: kind, Version: version, Body: body, Supersedes: supersedes, Author: f.Author, Device: f.Device,
		Counter: last + 1, DeviceTime: clock.Instant{UnixNS: f.Now().UnixNano(), Clock: clock.Device},
	}, nil
}

// Attach keeps a voice or a picture, whose hash a remark then names.
func (f *Folder) Attach(ctx context.Context, src io.Reader) (string, error) {
	sum, _, err := f.Store.Attach(ctx, src)
	return sum, err
}

// ErasedEntry says that a voice or a picture was erased. The entries that name it
// stand, so that the chain does.
type ErasedEntry struct {
	SHA256 string `json:"sha256"`
	Reason string `json:"reason"`
}

// Erase erases a voice or a picture for good, and logs by whom and why first.
func (f *Folder) Erase(ctx context.Context, sum, reason string) error {
	if strings.TrimSpace(reason) == "" {
		return fault.New(fault.Invalid, "no reason is given").WithHint("for example: asked for by whoever is heard")
	}
	r, err := f.Store.Attachment(ctx, sum)
	if err != nil {
		return err
	}
	if err := r.Close(); err != nil {
		return fault.New(fault.Internal, "closing what is attached: %w", err)
	}
	if err := f.Put(ctx, KindErased, "", ErasedEntry{SHA256: sum, Reason: reason}); err != nil {
		return err
	}
	return f.Store.Erase(ctx, sum)
}

// ImportLog brings a table of entries of one kind into the run log. Lines with an
// id are the entries of that id; the others are made here, under a device of the
// table's own name and hash, so that the same table twice adds nothing. Nothing is
// kept where a line is wrong.
func (f *Folder) ImportLog(ctx context.Context, kind runlog.Kind, name string, data []byte, columns map[string]string) ([]Receipt, error) {
	s, err := Rebuild(ctx, f.Store)
	if err != nil {
		return nil, err
	}
	zone, err := s.Zone()
	if err != nil {
		return nil, err
	}
	lines, err := table.ReadEntries(bytes.NewReader(data), kind, table.Options{Name: name, Columns: columns, Zone: zone})
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(data)
	device := fmt.Sprintf("table %s %s", name, hex.EncodeToString(sum[:])[:12])
	last, err := f.Store.Counter(ctx, device)
	if err != nil {
		return nil, err
	}
	if last > 0 {
		return nil, fault.New(fault.Conflict, "this table is in the run log already").At("%s", name).WithHint("correct its entries (bookend log correct), or change the table and import what is new alone")
	}
	var entries []programme.Entry
	for i, l := range lines {
		e := l.Entry
		if e.ID == "" {
			id, err := uuid.NewV7()
			if err != nil {
				return nil, fault.New(fault.Internal, "making an entry's id: %w", err)
			}
			e.ID, e.Device, e.Counter = id.String(), device, int64(i+1)
		}
		if e.Author == "" {
			e.Author = f.Author
		}
		if !e.DeviceTime.Known() {
			e.DeviceTime = clock.Instant{UnixNS: f.Now().UnixNano(), Clock: clock.Device}
		}
		entries = append(entries, e)
	}
	return f.Append(ctx, entries)
}

// Zone gives the zone of the ground, nil where none is told.
func (s *State) Zone() (*time.Location, error) {
	if s.Programme.Zone == "" {
		return nil, nil
	}
	zone, err := time.LoadLocation(s.Programme.Zone)
	if err != nil {
		return nil, fault.New(fault.Internal, "the ground's zone: %w", err)
	}
	return zone, nil
}

// Summary says in a line what an entry says.
func Summary(e programme.Entry) string {
	k, err := runlog.KindAt(e.Kind, e.Version)
	if err != nil {
		return ""
	}
	fields, err := k.Read(e.Body)
	if err != nil {
		return ""
	}
	var parts []string
	for _, f := range k.Fields {
		v, ok := fields[f.Key]
		if !ok || f.Key == "at" {
			continue
		}
		switch v := v.(type) {
		case string:
			if f.Type == runlog.Word {
				v = strings.ReplaceAll(v, "_", " ")
			}
			if f.Type == runlog.Hash || f.Type == runlog.EntryID {
				v = v[:8]
			}
			if slices.Contains([]string{"test", "what", "when", "text", "measure", "attribute", "value", "across", "outcome"}, f.Key) {
				parts = append(parts, v)
			} else {
				parts = append(parts, f.Title+" "+v)
			}
		case float64:
			parts = append(parts, strings.TrimSpace(f.Title+" "+f.Amount(v)))
		case []float64:
			var list []string
			for _, x := range v {
				list = append(list, f.Amount(x))
			}
			parts = append(parts, f.Title+" "+strings.Join(list, " "))
		case bool:
			parts = append(parts, f.Title)
		}
	}
	return strings.Join(parts, ", ")
}

// Stood gives the entry at which the chain stood when its head was that hash: a
// report names it. Where none has it, entries were cut off or the chain is another.
func (f *Folder) Stood(ctx context.Context, head string) (programme.Entry, error) {
	all, err := f.Store.Entries(ctx, 0)
	if err != nil {
		return programme.Entry{}, err
	}
	for _, e := range all {
		h, err := e.Hash()
		if err != nil {
			return e, err
		}
		if h == strings.ToLower(head) {
			return e, nil
		}
	}
	return programme.Entry{}, fault.New(fault.Conflict, "the chain never stood at %s", head).WithHint("entries were cut off its end, or the hash is of another programme")
}
