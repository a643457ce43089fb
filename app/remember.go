package app

import (
	"context"
	"encoding/json"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"sync"

	"example.org/bookend/app/logger"
	"example.org/bookend/compare"
	"example.org/bookend/figure"
	"example.org/bookend/match"
	"example.org/bookend/procedure"
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

	work    sync.Mutex // of what follows
	driven  map[string]*rememberedTest
	both    map[string][]comparison
	asked   int64                             // comparisons asked for
	whose   map[string]rememberedWhose        // by test
	reduced map[string]*logger.ReduceDocument // what recordings yielded, by the key under which it is kept
	traces  map[string][]procedure.Overlaid   // of recordings, by the key under which they are kept
	values  int                               // in them
}

// rememberedTest is what a test has, for entries that bear on it as they were.
type rememberedTest struct {
	stamp  string
	driven *Driven
	laid   map[string][]figure.Figure // by control
}

// rememberedWhose is whose run each piece of a test's recordings was found to be, and
// from what.
type rememberedWhose struct {
	seen []match.Seen
	log  []match.Logged
	made match.Whose
}

// comparison is what came of comparing one measure.
type comparison struct {
	in   compare.Input
	both *compare.Both
	used *int64 // when it was last asked for, counted in comparisons
}

// Of one measure the comparisons that are kept: with and without what was last left
// out, as planned and otherwise, twice over. Own choice, as is the bound on measures.
const (
	mostComparisons = 4
	mostMeasures    = 2000
)

// mostValues bounds the values of traces in memory, eight bytes each: some three hundred
// runs with twenty traces of a thousand values. Own choice; with more all are dropped.
const mostValues = 8_000_000

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

// Driven gives what a test has, as Drive does: from memory where no entry came that
// bears on it. It is shared: nobody changes it. The state is the store's own.
func (f *Folder) Driven(ctx context.Context, s *State, id string) (*Driven, error) {
	r, ok := f.Store.(*Remembered)
	if !ok || f.Codes != nil {
		return f.Drive(ctx, s, id)
	}
	stamp := s.everywhere + " " + s.only[id]
	r.work.Lock()
	kept := r.driven[id]
	r.work.Unlock()
	if kept != nil && kept.stamp == stamp {
		return kept.driven, nil
	}
	d, err := f.Drive(ctx, s, id)
	if err != nil {
		return nil, err
	}
	if kept != nil {
		share(&kept.driven.Log, &d.Log)
	}
	r.work.Lock()
	defer r.work.Unlock()
	if r.driven == nil {
		r.driven = map[string]*rememberedTest{}
	}
	r.driven[id] = &rememberedTest{stamp: stamp, driven: d, laid: map[string][]figure.Figure{}}
	return d, nil
}

// share lets a log hold the lists of an earlier one wherever they are equal, so that
// two logs with the same list are known for it without looking at a single entry.
func share(was, now *programme.Log) {
	a, b := reflect.ValueOf(was).Elem(), reflect.ValueOf(now).Elem()
	for i := range b.NumField() {
		if b.Field(i).Kind() == reflect.Slice && reflect.DeepEqual(a.Field(i).Interface(), b.Field(i).Interface()) {
			b.Field(i).Set(a.Field(i))
		}
	}
}

// laid gives the figures of Overlay, from memory where they were drawn of the same
// runs before.
func (f *Folder) laid(ctx context.Context, s *State, d *Driven, control string) ([]figure.Figure, error) {
	r, ok := f.Store.(*Remembered)
	if !ok {
		return f.Overlay(ctx, s, d, control)
	}
	r.work.Lock()
	kept := r.driven[d.Test.Test.ID]
	var figures []figure.Figure
	known := kept != nil && kept.driven == d
	if known {
		figures, known = kept.laid[control]
	}
	r.work.Unlock()
	if known {
		return figures, nil
	}
	figures, err := f.Overlay(ctx, s, d, control)
	if err != nil {
		return nil, err
	}
	r.work.Lock()
	defer r.work.Unlock()
	if kept != nil && kept.driven == d {
		kept.laid[control] = figures
	}
	return figures, nil
}

// mostReduced bounds the results of recordings in memory; with more all are dropped. Own
// choice: a programme has some hundred recordings.
const mostReduced = 1000

// kept gives what a recording yielded, by the key of its derivation: from memory where
// it was read before. It is shared, and nobody changes it.
func (f *Folder) kept(ctx context.Context, key string) (d *logger.ReduceDocument, ok bool, err error) {
	r, remembers := f.Store.(*Remembered)
	if remembers {
		r.work.Lock()
		d, ok = r.reduced[key]
		r.work.Unlock()
		if ok {
			return d, true, nil
		}
	}
	body, ok, err := f.Store.Result(ctx, key)
	if err != nil || !ok {
		return nil, false, err
	}
	d = &logger.ReduceDocument{}
	if json.Unmarshal(body, d) != nil {
		return nil, false, nil
	}
	if remembers {
		r.work.Lock()
		defer r.work.Unlock()
		if r.reduced == nil || len(r.reduced) >= mostReduced {
			r.reduced = map[string]*logger.ReduceDocument{}
		}
		r.reduced[key] = d
	}
	return d, true, nil
}

// unpacked gives the traces kept under a key, from memory where they were read before.
// The key is that of their derivation, so that they are always the same; they are
// shared, and nobody changes them.
func (f *Folder) unpacked(ctx context.Context, key string) (runs []procedure.Overlaid, ok bool, err error) {
	r, remembers := f.Store.(*Remembered)
	if remembers {
		r.work.Lock()
		runs, ok = r.traces[key]
		r.work.Unlock()
		if ok {
			return runs, true, nil
		}
	}
	body, ok, err := f.Store.Result(ctx, key)
	if err != nil || !ok || unpack(body, &runs) != nil {
		return nil, false, err
	}
	if remembers {
		r.work.Lock()
		defer r.work.Unlock()
		n := 0
		for _, o := range runs {
			for _, t := range o.Traces {
				n += len(t.X) + len(t.Y)
			}
		}
		if _, twice := r.traces[key]; twice {
			return runs, true, nil
		}
		if r.traces == nil || r.values+n > mostValues {
			r.traces, r.values = map[string][]procedure.Overlaid{}, 0
		}
		r.traces[key], r.values = runs, r.values+n
	}
	return runs, true, nil
}

// whoseRuns tells by the clocks whose runs the pieces of a test's recordings are, from
// memory where pieces and log are the same as the last time.
func (f *Folder) whoseRuns(test string, seen []match.Seen, log []match.Logged) (match.Whose, error) {
	r, ok := f.Store.(*Remembered)
	if !ok {
		return match.ByClock(seen, log)
	}
	r.work.Lock()
	kept, ok := r.whose[test]
	r.work.Unlock()
	if ok && reflect.DeepEqual(kept.seen, seen) && reflect.DeepEqual(kept.log, log) {
		return kept.made, nil
	}
	w, err := match.ByClock(seen, log)
	if err != nil {
		return w, err
	}
	r.work.Lock()
	defer r.work.Unlock()
	if r.whose == nil {
		r.whose = map[string]rememberedWhose{}
	}
	r.whose[test] = rememberedWhose{seen, log, w}
	return w, nil
}

// compareBoth compares one measure of a test with and without what is left out, from memory
// where the very same was compared before.
func (f *Folder) compareBoth(test string, in compare.Input) (*compare.Both, error) {
	r, ok := f.Store.(*Remembered)
	if !ok {
		return compare.CompareBoth(in)
	}
	key := comparedIn(test, in)
	r.work.Lock()
	list := r.both[key]
	r.asked++
	now := r.asked
	r.work.Unlock()
	for _, k := range list {
		if reflect.DeepEqual(k.in, in) {
			r.work.Lock()
			defer r.work.Unlock()
			*k.used = max(*k.used, now)
			return own(k.both), nil
		}
	}
	both, err := compare.CompareBothKnowing(in, everyRun(list, in))
	if err != nil {
		return nil, err
	}
	r.work.Lock()
	defer r.work.Unlock()
	if r.both == nil || len(r.both) >= mostMeasures {
		r.both = map[string][]comparison{}
	}
	list = slices.Clone(r.both[key])
	if len(list) >= mostComparisons { // that goes which was not asked for the longest
		oldest := 0
		for i := range list {
			if *list[i].used < *list[oldest].used {
				oldest = i
			}
		}
		list = slices.Delete(list, oldest, oldest+1)
	}
	r.both[key] = append(list, comparison{in, both, &now})
	return own(both), nil
}

// everyRun gives what the same input showed with every run in, if it was compared with
// other runs left out; nil else.
func everyRun(list []comparison, in compare.Input) *compare.Result {
	for _, k := range list {
		was := k.in
		was.Log.Exclusions = in.Log.Exclusions
		if !reflect.DeepEqual(was, in) {
			continue
		}
		switch {
		case k.both.All != nil:
			return own(k.both).All
		case len(k.both.Result.Excluded) == 0:
			return own(k.both).Result
		}
	}
	return nil
}

// foresee compares measures on all processors that will be asked for one by one: as
// each was compared last, on what was driven now. A guess that proves wrong is
// compared again as it is asked for.
func (f *Folder) foresee(test string, list []compare.Input) {
	r, ok := f.Store.(*Remembered)
	if !ok {
		return
	}
	var guesses []compare.Input
	r.work.Lock()
	for _, in := range list {
		if kept := r.both[comparedIn(test, in)]; len(kept) > 0 {
			guess := kept[len(kept)-1].in
			guess.Log = in.Log
			guesses = append(guesses, guess)
		}
	}
	r.work.Unlock()
	var all sync.WaitGroup
	free := make(chan struct{}, runtime.GOMAXPROCS(0))
	for _, in := range guesses {
		free <- struct{}{}
		all.Go(func() {
			defer func() { <-free }()
			_, _ = f.compareBoth(test, in) // a fault is said when it is asked for
		})
	}
	all.Wait()
}

// comparedIn names what is compared.
func comparedIn(test string, in compare.Input) string {
	return strings.Join([]string{test, in.Measure.ID, in.Place, in.Control}, "\n")
}

// own gives a copy of a comparison whose caveats can be added to, and whose words can
// be taken away.
func own(b *compare.Both) *compare.Both {
	c := *b
	for _, r := range []**compare.Result{&c.Result, &c.All} {
		if *r != nil {
			copied := **r
			copied.Caveats, copied.Rows = slices.Clip(copied.Caveats), slices.Clone(copied.Rows)
			*r = &copied
		}
	}
	return &c
}
