package app_test

import (
	"context"
	"strings"
	"testing"

	"example.org/bookend/app"
	"example.org/bookend/app/codes"
	"example.org/bookend/fault"
	"example.org/bookend/programme/runlog"
)

// drawer is a vault in memory, so that the tests of who knew what need no hours of
// scrypt; the real one has tests of its own.
type drawer struct {
	content []byte
	words   string
}

func (d *drawer) Seal(_ context.Context, content []byte, passphrase string) (string, error) {
	d.content, d.words = content, passphrase
	return strings.Repeat("0", 64), nil
}

func (d *drawer) Open(_ context.Context, passphrase string) ([]byte, error) {
	if passphrase != d.words {
		return nil, fault.New(fault.Invalid, "it does not open")
	}
	return d.content, nil
}

func (d *drawer) Hash(context.Context) (string, bool, error) {
	return strings.Repeat("0", 64), d.content != nil, nil
}

func (d *drawer) CopyTo(context.Context, string) error { return nil }

func key() *codes.Key {
	return &codes.Key{Schema: codes.Schema, Identities: []codes.Identity{
		{Code: "A", Tyre: "control", Control: true, Maker: "Skerry"}, {Code: "C", Tyre: "first", Maker: "Tarn"}}}
}

func TestOpeningTheCodesIsLoggedAndAFailureTellsNothing(t *testing.T) {
	f := folder(t)
	ctx := context.Background()
	f.Vault = &drawer{}
	if _, err := f.OpenCodes(ctx, "x", "report"); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("nothing sealed: %v", err)
	}
	if err := f.SealCodes(ctx, key(), "marsh heron"); err != nil {
		t.Fatal(err)
	}
	if err := f.SealCodes(ctx, key(), "marsh heron"); fault.CodeOf(err) != fault.Conflict {
		t.Errorf("sealed twice: %v", err)
	}
	if _, err := f.OpenCodes(ctx, "another", "report"); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("another passphrase: %v", err)
	}
	if _, err := f.OpenCodes(ctx, "marsh heron", " "); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("no reason: %v", err)
	}
	before, err := app.Rebuild(ctx, f.Store)
	if err != nil || len(before.Openings) != 0 {
		t.Errorf("%+v, %v", before.Openings, err)
	}
	f.Author = "engineer"
	k, err := f.OpenCodes(ctx, "marsh heron", "report")
	if err != nil || k.Controls()[0] != "A" {
		t.Fatalf("%+v, %v", k, err)
	}
	after, err := app.Rebuild(ctx, f.Store)
	if err != nil || len(after.Openings) != 1 || after.Openings[0].Person != "engineer" || after.Openings[0].Reason != "report" {
		t.Errorf("%+v, %v", after.Openings, err)
	}
	// The entries name letters and nothing else.
	all, err := f.Store.Entries(ctx, 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range all {
		for _, never := range []string{"Skerry", "Tarn", "control", "first"} {
			if strings.Contains(string(e.Body), never) {
				t.Errorf("entry %d (%s) says %q", e.Sequence, e.Kind, never)
			}
		}
	}
}

// Who knew what: open without sealed codes; single-blind as long as nobody who
// drove or rated had opened them before; told by name otherwise.
func TestWhoKnewWhat(t *testing.T) {
	ctx := context.Background()
	f := folder(t)
	f.Vault = &drawer{}
	says := func(want string) app.Blindness {
		t.Helper()
		s, err := app.Rebuild(ctx, f.Store)
		if err != nil {
			t.Fatal(err)
		}
		b := s.Blindness()
		if !strings.HasPrefix(b.Text, want) {
			t.Errorf("%q, want %q", b.Text, want)
		}
		return b
	}
	log := func(kind string, body any) {
		t.Helper()
		if _, err := f.Log(ctx, kind, body); err != nil {
			t.Fatal(err)
		}
	}
	says("Open: codes were not sealed")
	if err := f.SealCodes(ctx, key(), "marsh heron"); err != nil {
		t.Fatal(err)
	}
	log(runlog.Stint, runlog.StintBody{Test: "lap", Stint: "1", Code: "A", Driver: "Rask"})
	log(runlog.Rating, runlog.RatingBody{Test: "lap", Stint: "1", Rater: "Rask", Attribute: "precision", Value: 7})
	if b := says("Single-blind"); !b.Sealed || !b.Drivers || !b.Raters || b.LeadDrove {
		t.Errorf("%+v", b)
	}
	// Opened after driving: still single-blind. Then the same person drives on.
	f.Author = "Rask"
	if _, err := f.OpenCodes(ctx, "marsh heron", "curious"); err != nil {
		t.Fatal(err)
	}
	says("Single-blind")
	log(runlog.Stint, runlog.StintBody{Test: "lap", Stint: "2", Code: "C", Driver: "Rask"})
	if b := says("Blind for ratings"); b.Drivers || !b.Raters || !strings.Contains(b.Text, "Rask") {
		t.Errorf("%+v", b)
	}
	log(runlog.Rating, runlog.RatingBody{Test: "lap", Stint: "2", Rater: "Rask", Attribute: "precision", Value: 6})
	says("Open: these knew")
	// Whoever sealed the codes drives: the lead knew.
	log(runlog.Stint, runlog.StintBody{Test: "lap", Stint: "3", Code: "A", Driver: "lead"})
	if b := says("Open: these knew"); !b.LeadDrove || !strings.Contains(b.Text, "Whoever sealed the codes (lead) drove") {
		t.Errorf("%+v", b)
	}
}
