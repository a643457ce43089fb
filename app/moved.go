package app

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/bookend/app/day"
	"example.org/bookend/caveat"
	"example.org/bookend/clock"
	"example.org/bookend/fault"
	"example.org/bookend/match"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// KindMoved is the kind of entry by which a person lays a run's begin or end elsewhere
// in its recording; its body is a MovedEntry. A later one about the same piece takes its
// place, and taking that back brings the earlier one into force again.
const KindMoved = "cut_moved"

// MovedEntry says where a piece of a recording begins and ends by a person's word, and
// where it did before, all in s from the recording's first sample.
type MovedEntry struct {
	Test     string        `json:"test"`
	Name     string        `json:"name"`
	SHA256   string        `json:"sha256"` // of the recording
	Piece    int           `json:"piece"`  // of its timed pieces, from 1 in the order driven
	Run      string        `json:"run,omitempty"`
	WasFromS float64       `json:"was_from_s"`
	WasToS   float64       `json:"was_to_s"`
	FromS    float64       `json:"from_s"`
	ToS      float64       `json:"to_s"`
	Reason   string        `json:"reason"`
	Person   string        `json:"person,omitempty"`
	At       clock.Instant `json:"at"`
}

// Says tells what was moved, in words.
func (m MovedEntry) Says() string {
	var ends []string
	end := func(what string, was, now float64) {
		if was != now {
			ends = append(ends, fmt.Sprintf("%s from %s s to %s s", what, unit.Number(was, 2, unit.Plain), unit.Number(now, 2, unit.Plain)))
		}
	}
	end("begin", m.WasFromS, m.FromS)
	end("end", m.WasToS, m.ToS)
	return strings.Join(ends, ", ")
}

// KeptMoved is a moved cut with the entry that moved it.
type KeptMoved struct {
	Entry string
	MovedEntry
}

// keepMoved takes a moved cut into the state.
func (s *State) keepMoved(entry string, m MovedEntry) {
	s.Moved = slices.DeleteFunc(slices.Clone(s.Moved), func(k KeptMoved) bool {
		return k.Test == m.Test && k.SHA256 == m.SHA256 && k.Piece == m.Piece
	})
	s.Moved = append(s.Moved, KeptMoved{entry, m})
}

// MovedIn gives the cuts that a person has moved in a recording, in the order of its
// pieces; of one that another instrument wrote beside it, those of the main one.
func (s *State) MovedIn(r RecordingEntry) []KeptMoved {
	if m, ok := s.MainOf(r); ok {
		r = m
	}
	var out []KeptMoved
	for _, k := range s.Moved {
		if k.Test == r.Test && k.SHA256 == r.SHA256 {
			out = append(out, k)
		}
	}
	slices.SortFunc(out, func(a, b KeptMoved) int { return a.Piece - b.Piece })
	return out
}

// moves gives the same as package match takes it.
func (s *State) moves(r RecordingEntry) []match.Move {
	var out []match.Move
	for _, k := range s.MovedIn(r) {
		out = append(out, match.Move{Number: k.Piece, FromS: k.FromS, ToS: k.ToS})
	}
	return out
}

// CutRequest asks for a run's begin or end to be laid elsewhere in its recording.
type CutRequest struct {
	Test, Recording string
	Piece           int      // of the timed pieces, from 1 in the order driven; 0: that of Run
	Run             string   // of the log
	FromS, ToS      *float64 // s from the recording's first sample; nil: as it is
	Reason          string   // given before anybody sees what it does
}

// MoveCut lays a run's begin or end elsewhere, with the reason. Everything that rests on
// it is computed anew.
func (f *Folder) MoveCut(ctx context.Context, q CutRequest) error {
	s, r, piece, now, err := f.cutOf(ctx, q)
	if err != nil {
		return err
	}
	if strings.TrimSpace(q.Reason) == "" {
		return fault.New(fault.Invalid, "no reason is given").WithHint("--reason: the gate was crossed on the way back")
	}
	e := MovedEntry{Test: q.Test, Name: r.Name, SHA256: r.SHA256, Piece: piece, Run: now.LogRun, WasFromS: now.FromS, WasToS: now.ToS, FromS: now.FromS, ToS: now.ToS,
		Reason: strings.TrimSpace(q.Reason), Person: f.Author, At: clock.Instant{UnixNS: f.Now().UnixNano(), Clock: clock.Device}}
	for _, end := range []struct {
		asked *float64
		now   *float64
	}{{q.FromS, &e.FromS}, {q.ToS, &e.ToS}} {
		if end.asked == nil {
			continue
		}
		if math.IsNaN(*end.asked) || math.IsInf(*end.asked, 0) {
			return fault.New(fault.Invalid, "a cut is moved to no time").WithHint("in s of the recording, for example 61.25")
		}
		*end.now = *end.asked
	}
	if e.FromS == e.WasFromS && e.ToS == e.WasToS {
		return fault.New(fault.Invalid, "piece %d of %s lies from %s s to %s s already", piece, r.Name, unit.Number(e.FromS, 2, unit.Plain), unit.Number(e.ToS, 2, unit.Plain)).
			WithHint("say where it begins or ends: --from 12.4 or --to 61.25, in s of the recording")
	}
	return f.putTried(ctx, s, q.Test, KindMoved, e, func(tried *State) { tried.keepMoved("", e) })
}

// UnmoveCut takes the last move of a run's cut back: what stood before stands again.
func (f *Folder) UnmoveCut(ctx context.Context, q CutRequest) error {
	s, r, piece, _, err := f.cutOf(ctx, q)
	if err != nil {
		return err
	}
	for _, k := range s.MovedIn(r) {
		if k.Piece == piece {
			return f.Put(ctx, KindWithdrawal, k.Entry, struct{}{})
		}
	}
	return fault.New(fault.NotFound, "nobody has moved the cut of piece %d of %s", piece, r.Name).WithHint("only a cut that was moved can be put back")
}

// cutOf finds the piece that is meant: the main recording, its number among the timed
// pieces, and how it lies.
func (f *Folder) cutOf(ctx context.Context, q CutRequest) (*State, RecordingEntry, int, RecordedPiece, error) {
	fail := func(err error) (*State, RecordingEntry, int, RecordedPiece, error) {
		return nil, RecordingEntry{}, 0, RecordedPiece{}, err
	}
	s, err := Rebuild(ctx, f.Store)
	if err != nil {
		return fail(err)
	}
	if q.Piece != 0 && q.Run != "" {
		return fail(fault.New(fault.Invalid, "piece and run are both named").WithHint("one of them says which cut is meant"))
	}
	if q.Piece == 0 && q.Run == "" {
		return fail(fault.New(fault.Invalid, "it is not said which run's cut is meant").WithHint("--run 03/2 as the log has it, or --piece 2"))
	}
	var main RecordingEntry
	if q.Recording != "" || q.Run == "" {
		if main, err = s.recording(q.Test, q.Recording); err != nil {
			return fail(err)
		}
		if m, ok := s.MainOf(main); ok {
			main = m
		}
	}
	d, err := f.Drive(ctx, s, q.Test)
	if err != nil {
		return fail(err)
	}
	for _, r := range d.Recorded {
		if main.SHA256 != "" && (r.Recording.SHA256 != main.SHA256 || r.Recording.Name != main.Name) {
			continue
		}
		for _, p := range r.Pieces {
			n, err := strconv.Atoi(p.Run)
			if err == nil && (q.Run != "" && p.LogRun == q.Run || q.Run == "" && n == q.Piece) {
				return s, r.Recording, n, p, nil
			}
		}
	}
	if q.Run != "" {
		return fail(fault.New(fault.NotFound, "no piece of a recording is run %q of test %s", q.Run, q.Test).
			WithHint("name the recording's piece: --piece 2"))
	}
	return fail(fault.New(fault.NotFound, "%s has no piece %d", main.Name, q.Piece).WithHint("its page numbers its pieces from 1"))
}

// tellMoved says of a test which cuts a person has moved.
func (d *Driven) tellMoved(s *State) {
	for _, r := range d.Recorded {
		for _, k := range s.MovedIn(r.Recording) {
			run := ""
			for _, p := range r.Pieces {
				if p.Run == strconv.Itoa(k.Piece) {
					run = p.LogRun
				}
			}
			d.Log.Caveats.Add("cut_moved", caveat.Place{Test: d.Test.Test.ID, File: k.Name, Run: run},
				"%s moved the cut of %s, %s: %s.", whoOf(k.Person), cutName(k.MovedEntry), k.Says(), strings.TrimSuffix(k.Reason, "."))
		}
	}
}

// cutName names a piece by its run, where it is one of the log.
func cutName(m MovedEntry) string {
	if m.Run != "" {
		return "run " + m.Run
	}
	return fmt.Sprintf("piece %d of %s", m.Piece, m.Name)
}

// recuts gives the changes that moving cuts after a look made to what was planned.
func (h *history) recuts() []Change {
	moved := changesAfter(h, h.moved, func(m MovedEntry) Change {
		return Change{What: "cut of " + cutName(m), Planned: "as it was looked at", Used: m.Says(), Reason: m.Reason}
	})
	return append(moved, changesAfter(h, h.unmoved, func(m MovedEntry) Change {
		return Change{What: "cut of " + cutName(m), Planned: "as it was looked at", Used: "move taken back: " + m.Says()}
	})...)
}

// asLooked gives the log of a test with its cuts as they lay, and its recordings as they
// were assigned, when a verdict was first looked at; ok is false where nothing of that
// has changed since.
func (f *Folder) asLooked(ctx context.Context, h *history, test string) (log programme.Log, ok bool, err error) {
	if len(h.recuts()) == 0 && len(h.reassigned()) == 0 {
		return log, false, nil
	}
	entries, err := f.Store.Entries(ctx, 0)
	if err != nil {
		return log, false, err
	}
	s, err := Rebuild(ctx, f.Store)
	if err != nil {
		return log, false, err
	}
	before := slices.DeleteFunc(slices.Clone(entries), func(e programme.Entry) bool { return h.after(e.Sequence) })
	live, _, _ := day.Standing(before)
	then := *s
	then.Moved, then.Assigned = nil, nil
	for _, e := range live {
		switch e.Kind {
		case KindMoved:
			k, err := keptOf[MovedEntry](e)
			if err != nil {
				return log, false, err
			}
			then.keepMoved(e.ID, k.body)
		case KindAssigned:
			k, err := keptOf[AssignedEntry](e)
			if err != nil {
				return log, false, err
			}
			then.keepAssigned(e.ID, k.body)
		}
	}
	if slices.EqualFunc(then.Moved, s.Moved, func(a, b KeptMoved) bool { return a.Entry == b.Entry }) &&
		slices.EqualFunc(then.Assigned, s.Assigned, func(a, b KeptAssigned) bool { return a.Entry == b.Entry }) {
		return log, false, nil
	}
	d, err := f.Drive(ctx, &then, test)
	if err != nil {
		return log, false, err
	}
	return d.Log, true, nil
}
