package app

import (
	"context"
	"slices"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/clock"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

// KindAssigned is the kind of entry by which a person says of which stints a recording
// is; its body is an AssignedEntry. A later one about the same recording takes its place.
const KindAssigned = "recording_assigned"

// AssignedEntry says of which stints of its test a recording is, whatever the run log
// names and the clocks show.
type AssignedEntry struct {
	Test   string        `json:"test"`
	Name   string        `json:"name"`
	SHA256 string        `json:"sha256"` // of the recording
	Stints []string      `json:"stints"` // in the order driven; none: it is of no stint and is not used
	Reason string        `json:"reason"`
	Person string        `json:"person,omitempty"`
	At     clock.Instant `json:"at"`
}

// KeptAssigned is an assignment with the entry that made it.
type KeptAssigned struct {
	Entry string
	AssignedEntry
}

// keepAssigned takes an assignment into the state.
func (s *State) keepAssigned(entry string, a AssignedEntry) {
	s.Assigned = slices.DeleteFunc(slices.Clone(s.Assigned), func(k KeptAssigned) bool { return k.Test == a.Test && k.SHA256 == a.SHA256 })
	s.Assigned = append(s.Assigned, KeptAssigned{entry, a})
}

// assigned gives what a person said of a recording; false where nobody did.
func (s *State) assigned(r RecordingEntry) (AssignedEntry, bool) {
	for _, k := range s.Assigned {
		if k.Test == r.Test && k.SHA256 == r.SHA256 {
			return k.AssignedEntry, true
		}
	}
	return AssignedEntry{}, false
}

// of says of which stints a recording is taken to be.
func (a AssignedEntry) of() string {
	if len(a.Stints) == 0 {
		return "of no stint"
	}
	return "of stint " + strings.Join(a.Stints, ", ")
}

// reassigned gives what was said of recordings, or taken back, after a look.
func (h *history) reassigned() []Change {
	said := changesAfter(h, h.assigned, func(a AssignedEntry) Change {
		return Change{What: "recording " + a.Name, Planned: "as it was looked at", Used: a.of(), Reason: a.Reason}
	})
	return append(said, changesAfter(h, h.unsaid, func(a AssignedEntry) Change {
		return Change{What: "recording " + a.Name, Planned: "as it was looked at", Used: "as log and clocks say, no longer " + a.of()}
	})...)
}

// Assign says of which stints a recording of a test is, or of none, with the reason,
// before anybody sees what that does to the verdicts. It fails where the recording does
// not hold as many runs as the stints list and times do not tell which they are.
func (f *Folder) Assign(ctx context.Context, test, recording string, stints []string, reason string) error {
	s, err := Rebuild(ctx, f.Store)
	if err != nil {
		return err
	}
	r, err := s.recording(test, recording)
	if err != nil {
		return err
	}
	if strings.TrimSpace(reason) == "" {
		return fault.New(fault.Invalid, "no reason is given").WithHint("--reason: the driver saved it under the next name")
	}
	d, err := f.Drive(ctx, s, test)
	if err != nil {
		return err
	}
	for i, st := range stints {
		var ids []string
		for _, o := range d.Log.Stints {
			ids = append(ids, o.ID)
		}
		if !slices.Contains(ids, st) {
			return fault.New(fault.NotFound, "test %s has no stint %q", test, st).WithHint("its stints are: %s", strings.Join(ids, ", "))
		}
		if slices.Contains(stints[:i], st) {
			return fault.New(fault.Invalid, "stint %s is named twice", st).WithHint("name each stint once, in the order driven")
		}
		for _, k := range s.Assigned {
			if k.Test == test && k.SHA256 != r.SHA256 && slices.Contains(k.Stints, st) {
				return fault.New(fault.Conflict, "stint %s is said to be in recording %s already: %s", st, k.Name, k.Reason).WithHint("take that back first, with --back")
			}
		}
	}
	e := AssignedEntry{Test: test, Name: r.Name, SHA256: r.SHA256, Stints: append([]string{}, stints...), Reason: reason, Person: f.Author,
		At: clock.Instant{UnixNS: f.Now().UnixNano(), Clock: clock.Device}}
	return f.putTried(ctx, s, test, KindAssigned, e, func(tried *State) { tried.keepAssigned("", e) })
}

// putTried keeps what a person says of a recording, once the test can be driven with it:
// keep takes it into a state that is thrown away.
func (f *Folder) putTried(ctx context.Context, s *State, test, kind string, body any, keep func(*State)) error {
	tried := *s
	keep(&tried)
	if _, err := f.Drive(ctx, &tried, test); err != nil {
		return err
	}
	return f.Put(ctx, kind, "", body)
}

// Unassign takes back what was said of a recording: log and clocks count again.
func (f *Folder) Unassign(ctx context.Context, test, recording string) error {
	s, err := Rebuild(ctx, f.Store)
	if err != nil {
		return err
	}
	r, err := s.recording(test, recording)
	if err != nil {
		return err
	}
	for _, k := range s.Assigned {
		if k.Test == test && k.SHA256 == r.SHA256 {
			return f.Put(ctx, KindWithdrawal, k.Entry, struct{}{})
		}
	}
	return fault.New(fault.NotFound, "nobody has said of which stint recording %s is", r.Name).WithHint("only what was said can be taken back; log and clocks count")
}

// recording gives the recording of a test that a name means: its file's name, the name
// with the first digits of its hash, or the hash.
func (s *State) recording(test, name string) (RecordingEntry, error) {
	if _, err := s.Test(test); err != nil {
		return RecordingEntry{}, err
	}
	var found []RecordingEntry
	var all []string
	for _, r := range s.Recordings {
		if r.Test != test {
			continue
		}
		all = append(all, r.Name)
		if r.Name == name || labelOf(r) == name || r.SHA256 == name {
			found = append(found, r)
		}
	}
	switch {
	case len(found) == 1:
		return found[0], nil
	case len(found) > 1:
		return RecordingEntry{}, fault.New(fault.Conflict, "%d recordings of test %s are called %s", len(found), test, name).
			WithHint("say %s or %s", labelOf(found[0]), labelOf(found[1]))
	case len(all) == 0:
		return RecordingEntry{}, fault.New(fault.NotFound, "test %s has no recording", test).WithHint("bookend import brings recordings in")
	}
	return RecordingEntry{}, fault.New(fault.NotFound, "test %s has no recording %q", test, name).WithHint("its recordings are: %s", strings.Join(all, ", "))
}

// byHand gives the runs of stints to the recordings that a person said they are in, and
// takes both out of what log and clocks are asked about: names loses the runs, and what
// is returned are the recordings and runs that are left.
func (f *Folder) byHand(s *State, d *Driven, all []cutRecording, names map[string][]string) (rest []*cutRecording, taken map[string]bool, err error) {
	taken = map[string]bool{}
	for i := range all {
		c := &all[i]
		a, ok := s.assigned(c.entry)
		if !ok {
			rest = append(rest, c)
			continue
		}
		where := caveat.Place{Test: d.Test.Test.ID, File: c.entry.Name}
		if len(a.Stints) == 0 {
			d.Log.Caveats.Add("recording_set_aside", where, "%s says that this recording is of no stint: %s. Nothing of it is used.", whoOf(a.Person), strings.TrimSuffix(a.Reason, "."))
			continue
		}
		var wanted []programme.Run
		for _, st := range a.Stints {
			for _, r := range d.Log.Runs {
				if r.Stint == st {
					wanted, taken[r.ID] = append(wanted, r), true
				}
			}
		}
		if err := f.inOrder(d, c, wanted); err != nil {
			return nil, nil, fault.At(err, "%s, said to be of stint %s", c.entry.Name, strings.Join(a.Stints, ", "))
		}
		d.Log.Caveats.Add("recording_assigned", where, "%s says that this recording is of stint %s, whatever log and clocks say: %s.", whoOf(a.Person), strings.Join(a.Stints, ", "), strings.TrimSuffix(a.Reason, "."))
	}
	for name, runs := range names {
		names[name] = slices.DeleteFunc(slices.Clone(runs), func(id string) bool { return taken[id] })
	}
	return rest, taken, nil
}

func whoOf(person string) string {
	if person == "" {
		return "Somebody"
	}
	return person
}
