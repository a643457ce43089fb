package sqlite_test

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/store/sqlite"
)

func TestAGroundIsNoProgramme(t *testing.T) {
	ctx, dir := context.Background(), t.TempDir()
	g, err := sqlite.CreateGround(ctx, filepath.Join(dir, "moor"))
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := g.Put(ctx, entry(1)); err != nil {
		t.Fatal(err)
	}
	if err := g.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := sqlite.CreateGround(ctx, filepath.Join(dir, "moor")); fault.CodeOf(err) != fault.Conflict {
		t.Errorf("a second ground in one folder: %v", err)
	}
	if _, err := sqlite.OpenGround(ctx, dir); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("no ground: %v", err)
	}
	p, err := sqlite.Create(ctx, filepath.Join(dir, "moor", "spring"))
	if err != nil {
		t.Fatal(err)
	}
	if err := p.Close(); err != nil {
		t.Fatal(err)
	}
	want, _ := filepath.Abs(filepath.Join(dir, "moor"))
	if up := sqlite.GroundOf(filepath.Join(dir, "moor", "spring")); up != want {
		t.Errorf("the ground of the programme is %q", up)
	}
	if up := sqlite.GroundOf(filepath.Join(dir, "moor")); up != "" {
		t.Errorf("the ground of the ground is %q", up)
	}
	g, err = sqlite.OpenGround(ctx, want)
	if err != nil {
		t.Fatal(err)
	}
	if list, err := g.Entries(ctx, 0); err != nil || len(list) != 1 {
		t.Errorf("%d entries, %v", len(list), err)
	}
	if err := g.Close(); err != nil {
		t.Fatal(err)
	}
	// One put in the other's place is refused.
	data, err := os.ReadFile(filepath.Join(want, sqlite.GroundFile))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, sqlite.File), data, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := sqlite.Open(ctx, dir); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("a ground as a programme: %v", err)
	}
}
