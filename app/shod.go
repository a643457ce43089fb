package app

import (
	"context"
	"slices"
	"sync"

	"example.org/bookend/app/rack"
	"example.org/bookend/programme"
	"example.org/bookend/tyre"
)

// Holds gives what keeps the sets of the programme as they are.
func (s *State) Holds() rack.Holds {
	h := rack.Holds{Driven: map[string]string{}, Ordered: map[string]string{}}
	if s.Sealed != nil {
		h.Sealed = s.Sealed.Codes
	}
	drove := func(set, code, stint, test string) {
		if set == "" { // not told: the only one of its code
			for _, x := range s.Programme.Sets {
				if x.Code == code {
					if set != "" {
						return
					}
					set = x.ID
				}
			}
		}
		if set != "" && h.Driven[set] == "" {
			h.Driven[set] = rack.Stint(stint, test)
		}
	}
	for _, t := range s.Tables {
		for _, x := range t.Log.Stints {
			drove(x.Set, x.Code, x.ID, t.Test)
		}
	}
	for _, x := range s.Day.Stints {
		drove(x.StintBody.Set, x.Code, x.StintBody.Stint, x.Test)
	}
	for _, x := range s.Day.Sets {
		h.Logged = append(h.Logged, x.ID)
	}
	if n := len(s.Plans); n > 0 {
		h.Control = s.Plans[n-1].Plan.Control
	}
	for _, test := range s.OrderedTests() {
		if o, ok := s.Order(test); ok {
			for _, c := range o.Sequence {
				if h.Ordered[c] == "" {
					h.Ordered[c] = test
				}
			}
		}
	}
	return h
}

// PutSet puts a tyre set into the programme, or in the place of the one called was; one
// that is as it was makes no entry.
func (f *Folder) PutSet(ctx context.Context, was string, set programme.Set) error {
	return f.reshod(ctx, func(s *State) ([]programme.Set, error) {
		return rack.Put(s.Programme.Sets, was, set, s.Holds())
	})
}

// TakeSet takes a tyre set out of the programme.
func (f *Folder) TakeSet(ctx context.Context, id string) error {
	return f.reshod(ctx, func(s *State) ([]programme.Set, error) {
		return rack.Away(s.Programme.Sets, id, s.Holds())
	})
}

// rewriting lets one change of the programme after the other read and write it: an entry
// takes the place of the whole, and what another page adds meanwhile must not be lost.
// Across processes the moment between reading and writing stays open.
var rewriting sync.Mutex

func (f *Folder) reshod(ctx context.Context, change func(*State) ([]programme.Set, error)) error {
	rewriting.Lock()
	defer rewriting.Unlock()
	s, err := Rebuild(ctx, f.Store)
	if err != nil {
		return err
	}
	p := s.Programme
	sets, err := change(s)
	if err != nil {
		return err
	}
	if slices.Equal(sets, p.Sets) {
		return nil
	}
	p.Sets = sets
	return f.putProgramme(ctx, p)
}

// Sidewall says what a size says as it is typed, held against the programme's vehicle.
func (s *State) Sidewall(size string) tyre.Typed { return tyre.AsTyped(size, s.Programme.Asked) }

// SidewallList gives the list by which a page's script says the same while it is typed.
func SidewallList() tyre.List { return tyre.Shared() }
