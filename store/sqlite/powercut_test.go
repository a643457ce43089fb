//go:build unix && (amd64 || arm64)

package sqlite_test

import (
	"context"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"example.org/bookend/store/sqlite"
	"example.org/bookend/store/sqlite/powertest"
)

// photo is the disk at one moment and what had been acknowledged by then.
type photo struct {
	dir   string
	acked int
}

// photographed keeps entries on a disk that is photographed now and then, also in
// the middle of a write: once with nothing of what was pending, once with some.
func photographed(t *testing.T, entries int, synchronous string, often float64) []photo {
	t.Helper()
	ctx := context.Background()
	chance := rand.New(rand.NewPCG(20260513, 7))
	acked := 0
	var photos []photo
	var disk *powertest.Disk
	begun := false
	disk, err := powertest.Use(func() {
		if !begun || chance.Float64() >= often {
			return
		}
		for _, some := range []func() bool{nil, func() bool { return chance.IntN(2) == 0 }} {
			dir := t.TempDir()
			if err := disk.Photograph(dir, some); err != nil {
				t.Error(err)
			}
			photos = append(photos, photo{dir, acked})
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	s, err := sqlite.CreateOn(ctx, filepath.Join(t.TempDir(), "moor"), powertest.Name, synchronous)
	if err != nil {
		t.Fatal(err)
	}
	begun = true
	for i := range entries {
		if _, _, err := s.Put(ctx, entry(i+1)); err != nil {
			t.Fatal(err)
		}
		acked = i + 1
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return photos
}

// missing opens what a power cut left, and gives how many acknowledged entries are
// not in it; -1 where it cannot be opened or its chain is broken.
func missing(t *testing.T, p photo) int {
	t.Helper()
	ctx := context.Background()
	s, err := sqlite.Open(ctx, p.dir)
	if err != nil {
		return -1
	}
	defer func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}()
	all, err := s.Entries(ctx, 0)
	if err != nil || s.Verify(ctx) != nil {
		return -1
	}
	for i, e := range all {
		if e.ID != entry(i+1).ID {
			return -1
		}
	}
	if len(all) > p.acked+1 {
		t.Errorf("%d entries after %d acknowledgements", len(all), p.acked)
	}
	return max(0, p.acked-len(all))
}

// The power fails at moments drawn over 1,000 log writes, within and between them:
// of what SQLite had not synced nothing, or any sectors, reach the disk. Nothing
// that was acknowledged is lost, and the chain verifies. Without syncing the same
// test finds losses: it bites.
func TestAPowerCutInTheMiddleOfAThousandWritesLosesNothingAcknowledged(t *testing.T) {
	photos := photographed(t, 1000, "FULL", 0.005)
	within := map[int]bool{}
	for _, p := range photos {
		if n := missing(t, p); n != 0 {
			t.Errorf("cut after %d acknowledgements: %d are missing (-1: not even readable)", p.acked, n)
		}
		within[p.acked] = true
	}
	if len(photos) < 60 || len(within) < 30 {
		t.Errorf("only %d cuts at %d places", len(photos), len(within))
	}
	t.Logf("%d cuts at %d places in 1,000 writes, none lost", len(photos), len(within))

	lost := 0
	for _, p := range photographed(t, 150, "OFF", 0.02) {
		if missing(t, p) != 0 {
			lost++
		}
	}
	if lost == 0 {
		t.Error("without syncing nothing was lost either: the disk does not lose what it should")
	}
	t.Logf("without syncing %d cuts lose what was acknowledged", lost)
}
