package main

import (
	"path/filepath"
	"testing"

	"example.org/bookend/store/sqlite"
)

// The pages know the ground that a programme lies in, as the commands do: the
// record of its control takes part in what they say.
func TestPagesKnowTheGround(t *testing.T) {
	ctx := t.Context()
	ground := filepath.Join(t.TempDir(), "skerry-moor")
	g, err := sqlite.CreateGround(ctx, ground)
	if err != nil {
		t.Fatal(err)
	}
	if err := g.Close(); err != nil {
		t.Fatal(err)
	}
	alone := filepath.Join(t.TempDir(), "alone")
	for _, dir := range []string{filepath.Join(ground, "tarn"), alone} {
		s, err := sqlite.Create(ctx, dir)
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	for dir, want := range map[string]bool{ground: true, filepath.Join(ground, "tarn"): true, alone: false} {
		p := &programmes{dir: dir, open: map[string]*opened{}}
		all, err := p.list(ctx)
		if err != nil || len(all) != 1 {
			t.Fatalf("%s: %d programmes, %v", dir, len(all), err)
		}
		if got := all[0].Folder.Ground != nil; got != want {
			t.Errorf("%s: the ground is known: %v, want %v", dir, got, want)
		}
		p.close()
	}
}
