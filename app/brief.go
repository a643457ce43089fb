package app

import (
	"context"
	"strings"
	"time"

	"example.org/bookend/fault"
)

// Brief is what is compared, for whom, on what: the words of a programme that a person
// may change.
type Brief struct {
	Title, Client, Ground, Vehicle, Question string
	Zone                                     string // IANA zone of the ground
}

// BriefOf gives the brief of a programme as it stands.
func (s *State) BriefOf() Brief {
	p := s.Programme
	return Brief{p.Title, p.Client, p.Ground, p.Vehicle, p.Question, p.Zone}
}

// Rewrite puts another brief in the place of the one that stands; a brief that is the
// same makes no entry. What was driven and frozen stays as it is: a plan is amended by
// itself.
func (f *Folder) Rewrite(ctx context.Context, b Brief) error {
	s, err := Rebuild(ctx, f.Store)
	if err != nil {
		return err
	}
	for _, t := range []*string{&b.Title, &b.Client, &b.Ground, &b.Vehicle, &b.Question, &b.Zone} {
		*t = strings.TrimSpace(*t)
	}
	if b.Title == "" {
		return fault.New(fault.Invalid, "the programme has no title").WithHint("what is compared, in a few words")
	}
	if b.Zone != "" {
		if _, err := time.LoadLocation(b.Zone); err != nil || b.Zone == "Local" {
			return fault.New(fault.Invalid, "%q is no IANA zone", b.Zone).WithHint("for example Europe/London")
		}
	}
	if b.Zone != s.Programme.Zone && (len(s.Tables) > 0 || len(s.Recordings) > 0 || len(s.Day.Stints) > 0) {
		return fault.New(fault.Conflict, "times that were brought in are read in zone %s already", orNone(s.Programme.Zone)).
			WithHint("a programme keeps its zone once something was driven; begin another one")
	}
	if b == s.BriefOf() {
		return nil
	}
	p := s.Programme
	p.Title, p.Client, p.Ground, p.Vehicle, p.Question, p.Zone = b.Title, b.Client, b.Ground, b.Vehicle, b.Question, b.Zone
	return f.put(ctx, KindProgramme, "", p)
}

func orNone(s string) string {
	if s == "" {
		return "none"
	}
	return s
}
