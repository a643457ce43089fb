package app

import (
	"context"
	"encoding/json"
	"io"
	"slices"
	"sync"

	"example.org/bookend/app/logger"
	"example.org/bookend/clock"
	"example.org/bookend/fault"
	"example.org/bookend/ingest"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
	"example.org/bookend/soundness/mend"
)

// Holds is what a recording holds as far as it tells which recordings belong together.
type Holds struct {
	Begin    clock.Instant `json:"begin"` // of its first sample, by its own clock, which may be unknown
	Length   float64       `json:"length_s"`
	Position bool          `json:"position"` // it says where the vehicle was
}

func holdsOf(rec *signal.Recording) *Holds {
	h := &Holds{Begin: rec.Anchor}
	has := func(role signal.Role) bool { c := rec.ByRole(role); return c != nil && len(c.Valid) > 0 }
	h.Position = has(signal.Latitude) && has(signal.Longitude)
	for _, c := range rec.Channels {
		if n := len(c.Base.T); n > 0 {
			h.Length = max(h.Length, c.Base.T[n-1])
		}
	}
	return h
}

// together is how many s of two recordings lie at the same time by their clocks.
func (h *Holds) together(o *Holds) float64 {
	begin := float64(o.Begin.UnixNS-h.Begin.UnixNS)/1e9 + o.Begin.OffsetS - h.Begin.OffsetS
	return max(0, min(h.Length, begin+o.Length)-max(0, begin))
}

// most tells whether two recordings run at the same time for more than half of the
// shorter one.
func (h *Holds) most(o *Holds) bool { return h.together(o) > min(h.Length, o.Length)/2 }

// mains gives the recordings of a test that others may lie beside: those with positions
// and a clock, none of which runs at the same time as another.
func (s *State) mains(test string) []RecordingEntry {
	var all []RecordingEntry
	for _, r := range s.Recordings {
		if r.Test == test && r.Holds != nil && r.Holds.Position && r.Holds.Begin.Known() {
			all = append(all, r)
		}
	}
	var out []RecordingEntry
	for i, r := range all {
		if !slices.ContainsFunc(all, func(o RecordingEntry) bool {
			return (o.SHA256 != all[i].SHA256 || o.Name != all[i].Name) && r.Holds.most(o.Holds)
		}) {
			out = append(out, r)
		}
	}
	return out
}

// lies tells whether a recording holds no positions and has a clock, so that it may lie
// beside others.
func (r RecordingEntry) lies() bool {
	return r.Holds != nil && !r.Holds.Position && r.Holds.Begin.Known()
}

// MainOf gives the first recording beside which another instrument of the same vehicle
// wrote one that holds no positions: one of its test with positions that runs at the same
// time, for more than half of the shorter of the two. A logger that was left running lies
// beside several. Whatever states no clock stands for itself, and nothing lies beside one
// of two receivers that ran at once.
func (s *State) MainOf(r RecordingEntry) (main RecordingEntry, ok bool) {
	if !r.lies() {
		return main, false
	}
	for _, m := range s.mains(r.Test) {
		if r.Holds.most(m.Holds) {
			return m, true
		}
	}
	return main, false
}

// Beside gives the recordings that other instruments wrote beside one, in the order that
// they came.
func (s *State) Beside(r RecordingEntry) []RecordingEntry {
	var out []RecordingEntry
	for _, o := range s.Recordings {
		if o.Test == r.Test && o.lies() && r.Holds != nil && r.Holds.most(o.Holds) &&
			slices.ContainsFunc(s.mains(r.Test), func(m RecordingEntry) bool { return m.SHA256 == r.SHA256 && m.Name == r.Name }) {
			out = append(out, o)
		}
	}
	return out
}

// ofMain lets a log that names the recording of any instrument name the one that the
// others lie beside.
func (s *State) ofMain(test string, names map[string][]string) {
	for _, r := range s.Recordings {
		m, ok := s.MainOf(r)
		if !ok || r.Test != test {
			continue
		}
		if runs := names[r.Name]; len(runs) > 0 && len(names[nameIn(names, m)]) == 0 {
			names[m.Name] = runs
			delete(names, r.Name)
		}
	}
}

// raw reads a recording of the test from the file that was kept, and makes the mends
// that were accepted for it.
func (f *Folder) raw(ctx context.Context, s *State, r RecordingEntry) (*signal.Recording, error) {
	opt, err := r.FileOptions.ingest(r.Name, s.Programme.Zone)
	if err != nil {
		return nil, err
	}
	raw, err := f.Store.Raw(ctx, r.SHA256)
	if err != nil {
		return nil, err
	}
	defer raw.Close() //nolint:errcheck // opened for reading alone
	rec, err := ingest.Read(ctx, io.Reader(raw), f.Shelf.Readers, opt)
	if err != nil {
		return nil, err
	}
	if rec.SHA256 != r.SHA256 {
		return nil, fault.New(fault.Conflict, "the raw file %s was changed after it was kept", r.SHA256).At("%s", r.Name)
	}
	if _, mends := s.mends(r); len(mends) > 0 {
		return mend.Apply(rec, mends)
	}
	return rec, nil
}

// learntLines are lines by their keys, which say all that they are made of: a page asks
// for the same one once a recording.
var learntLines sync.Map

// line gives a test's reference line: the first counting lap of the first of its
// recordings, in the order that they came, that has one. A control stint comes first by
// the plan, and what comes later changes nothing.
func (f *Folder) line(ctx context.Context, s *State, test TestEntry) (logger.Learnt, error) {
	p, err := f.Shelf.Procedure(test.Test.Procedure)
	if err != nil || p.Spec().Cut != programme.CutByGate {
		return logger.Learnt{}, err
	}
	c, err := logger.CourseOf(test.Gates, p.Spec())
	if err != nil {
		return logger.Learnt{}, err
	}
	for _, r := range s.Recordings {
		if r.Test != test.Test.ID || r.Holds != nil && !r.Holds.Position {
			continue
		}
		_, mends := s.mends(r)
		key, err := programme.Hash(struct {
			Line      int                  `json:"line"` // raised when it changes how a line is learnt
			Recording RecordingEntry       `json:"recording"`
			Mends     []mend.Mend          `json:"mends,omitempty"`
			Zone      string               `json:"zone"`
			Gates     []string             `json:"gates"`
			Settings  programme.Parameters `json:"settings"`
			Programme string               `json:"programme"`
		}{1, r, mends, s.Programme.Zone, test.Gates, test.Test.Parameters, f.Shelf.Version})
		if err != nil {
			return logger.Learnt{}, err
		}
		if kept, ok := learntLines.Load(key); ok {
			if l := kept.(logger.Learnt); l.Line != nil {
				return l, nil
			}
			continue
		}
		var l logger.Learnt
		body, ok, err := f.Store.Result(ctx, key)
		if err != nil {
			return logger.Learnt{}, err
		}
		if !ok || json.Unmarshal(body, &l) != nil {
			l = logger.Learnt{From: r.Name}
			rec, err := f.raw(ctx, s, r)
			switch code := fault.CodeOf(err); {
			case err == nil:
				l.Line = logger.Learn(rec, c, p.Spec(), test.Test.Parameters)
			case code != fault.Invalid && code != fault.NotFound: // what cannot be read is told where it is reduced
				return logger.Learnt{}, err
			}
			if body, err = json.Marshal(l); err != nil {
				return logger.Learnt{}, fault.New(fault.Internal, "keeping a reference line: %w", err)
			}
			if err := f.Store.PutResult(ctx, key, body); err != nil {
				return logger.Learnt{}, err
			}
		}
		learntLines.Store(key, l)
		if l.Line != nil {
			return l, nil
		}
	}
	return logger.Learnt{}, nil
}
