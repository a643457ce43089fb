package app

import (
	"context"
	"math"
	"slices"
	"strings"

	"example.org/bookend/app/day"
	"example.org/bookend/compare"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/programme/runlog"
)

// LimitsEntry says by which limits the entries of a test are answered; of every
// test without its own where Test is empty.
type LimitsEntry struct {
	Test    string            `json:"test,omitempty"`
	Profile programme.Profile `json:"profile"`
}

// SetLimits keeps a profile for the run log of a test, or of all tests.
func (f *Folder) SetLimits(ctx context.Context, l LimitsEntry) error {
	if err := l.Profile.Check(); err != nil {
		return err
	}
	return f.Put(ctx, KindLimits, "", l)
}

// Follow gives the limits of one of the regulation profiles that entries can be
// held against, with the usual ones about what it says nothing of.
func Follow(id string) (programme.Profile, error) {
	var ids []string
	for _, p := range compare.Profiles() {
		ids = append(ids, p.ID)
		if p.ID != id {
			continue
		}
		out := p
		out.Limits = slices.DeleteFunc(slices.Clone(p.Limits), func(l programme.Limit) bool { return l.Per != "run" })
		for _, l := range day.Usual().Limits {
			if !slices.ContainsFunc(out.Limits, func(o programme.Limit) bool { return o.Field == l.Field }) {
				out.Limits = append(out.Limits, l)
			}
		}
		return out, nil
	}
	return programme.Profile{}, fault.New(fault.NotFound, "there is no profile %q", id).WithHint("the profiles are: %s", strings.Join(ids, ", "))
}

// Limits gives the profile that a test's entries are answered by: its own, that
// of all tests, or the usual one.
func (s *State) Limits(test string) programme.Profile {
	for _, name := range []string{test, ""} {
		for _, l := range slices.Backward(s.LimitsSet) {
			if l.Test == name {
				return l.Profile
			}
		}
	}
	return day.Usual()
}

// WaitForEngineer is what stands where a limit is about the control: whoever
// drives or rates is not told which code that is.
const WaitForEngineer = "The control's movement is answered by the engineer."

// answers holds what an entry says against the limits of its test. A run on a set
// is also held against what was last read of the day.
func (s *State) answers(e programme.Entry) ([]programme.Answer, string) {
	k, err := runlog.KindAt(e.Kind, e.Version)
	if err != nil {
		return nil, ""
	}
	fields, err := k.Read(e.Body)
	if err != nil {
		return nil, ""
	}
	test, _ := fields["test"].(string)
	values := s.Day.Values(e, fields)
	profile := s.Limits(test)
	wait := ""
	if e.Kind == runlog.Times && slices.ContainsFunc(profile.Limits, func(l programme.Limit) bool { return l.Of == "control" }) {
		wait = WaitForEngineer
	}
	return profile.Answers(values), wait
}

// LimitsOf reads the profile of a test from the programme as it stands.
func (f *Folder) LimitsOf(ctx context.Context, test string) (programme.Profile, error) {
	s, err := Rebuild(ctx, f.Store)
	if err != nil {
		return programme.Profile{}, err
	}
	return s.Limits(test), nil
}

// Try answers a body by the limits without keeping anything: what a page shows
// while somebody types.
func (f *Folder) Try(ctx context.Context, kind string, body []byte) ([]programme.Answer, error) {
	k, ok := runlog.KindOf(kind)
	if !ok {
		return nil, runlog.Check(kind, 1, nil)
	}
	if err := runlog.Check(kind, k.Version, body); err != nil {
		return nil, err
	}
	s, err := Rebuild(ctx, f.Store)
	if err != nil {
		return nil, err
	}
	a, _ := s.answers(programme.Entry{Kind: kind, Version: k.Version, Body: body, DeviceTime: s.Last})
	if slices.ContainsFunc(a, func(x programme.Answer) bool { return math.IsNaN(x.Value) }) {
		return nil, fault.New(fault.Internal, "a value of the day is not a number")
	}
	return a, nil
}
