package app

import (
	"context"
	"slices"
	"sync"

	"example.org/bookend/programme"
)

// Remembered is a store that keeps in memory what it has read: the entries, of
// which none is ever changed, and the state that they amount to. Each time it asks
// the store beneath for what came since, so that entries of another process are
// seen at once. It is for whoever asks again and again: the pages.
type Remembered struct {
	Store

	mu      sync.Mutex
	entries []programme.Entry
	last    *State
}

// Remember gives a store that keeps what it has read.
func Remember(s Store) *Remembered { return &Remembered{Store: s} }

// read asks for what came since, and gives all entries.
func (f *Remembered) read(ctx context.Context) ([]programme.Entry, error) {
	var last int64
	if n := len(f.entries); n > 0 {
		last = f.entries[n-1].Sequence
	}
	fresh, err := f.Store.Entries(ctx, last)
	if err != nil {
		return nil, err
	}
	if len(fresh) > 0 {
		f.entries, f.last = append(f.entries, fresh...), nil
	}
	return slices.Clip(f.entries), nil
}

// Entries gives the entries after a server sequence; see Store. They are shared:
// nobody changes them.
func (f *Remembered) Entries(ctx context.Context, after int64) ([]programme.Entry, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	all, err := f.read(ctx)
	if err != nil {
		return nil, err
	}
	i, _ := slices.BinarySearchFunc(all, after+1, func(e programme.Entry, s int64) int { return int(e.Sequence - s) })
	return all[i:], nil
}

// state gives what the entries amount to: a copy whose lists can be added to.
func (f *Remembered) state(ctx context.Context) (*State, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	all, err := f.read(ctx)
	if err != nil {
		return nil, err
	}
	if f.last == nil {
		if f.last, err = fold(all); err != nil {
			return nil, err
		}
	}
	s := *f.last
	s.Plans, s.Copied, s.Tests, s.Recordings = slices.Clip(s.Plans), slices.Clip(s.Copied), slices.Clip(s.Tests), slices.Clip(s.Recordings)
	s.Tables, s.Exclusions, s.Mends, s.LimitsSet = slices.Clip(s.Tables), slices.Clip(s.Exclusions), slices.Clip(s.Mends), slices.Clip(s.LimitsSet)
	s.Openings, s.Gaps = slices.Clip(s.Openings), slices.Clip(s.Gaps)
	return &s, nil
}
