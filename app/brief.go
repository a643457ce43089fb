package app

import (
	"context"
	"math"
	"strings"
	"time"

	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/tyre"
	"example.org/bookend/unit"
)

// Brief is what is compared, for whom, on what: the words of a programme that a person
// may change.
type Brief struct {
	Title, Client, Ground, Vehicle, Question string
	Zone                                     string // IANA zone of the ground

	Asked tyre.Asked // what the vehicle asks of its tyres; what is not known is 0
}

// BriefOf gives the brief of a programme as it stands.
func (s *State) BriefOf() Brief {
	p := s.Programme
	return Brief{p.Title, p.Client, p.Ground, p.Vehicle, p.Question, p.Zone, p.Asked}
}

// Rewrite puts another brief in the place of the one that stands; a brief that is the
// same makes no entry. What was driven and frozen stays as it is: a plan is amended by
// itself.
func (f *Folder) Rewrite(ctx context.Context, b Brief) error {
	rewriting.Lock()
	defer rewriting.Unlock()
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
	if err := asks(b.Asked); err != nil {
		return err
	}
	if b == s.BriefOf() {
		return nil
	}
	p := s.Programme
	p.Title, p.Client, p.Ground, p.Vehicle, p.Question, p.Zone, p.Asked = b.Title, b.Client, b.Ground, b.Vehicle, b.Question, b.Zone, b.Asked
	return f.putProgramme(ctx, p)
}

// asks refuses what no vehicle asks of its tyres. Bounds are this project's own: from a
// light car's axle to what the greatest load index carries on twin wheels, and speeds that
// are driven on roads and grounds.
func asks(a tyre.Asked) error {
	for _, x := range []struct {
		field, what string
		kg          float64
	}{{"front_axle_kg", "front", a.FrontKg}, {"rear_axle_kg", "rear", a.RearKg}} {
		if x.kg != 0 && !(x.kg >= 50 && x.kg <= 7600) {
			return fault.New(fault.Invalid, "%s kg are no load on the %s axle", unit.Shortest(x.kg), x.what).At("%s", x.field).WithHint("50 to 7600 kg, as loaded for the tests; 0 where it is not known")
		}
	}
	if v := a.TopMps; v != 0 && !(v >= 20/3.6-1e-9 && v <= 500/3.6+1e-9) {
		return fault.New(fault.Invalid, "%s km/h are no top speed", unit.Shortest(math.Round(v*3.6*10)/10)).At("top_speed_mps").WithHint("20 to 500 km/h; 0 where it is not known")
	}
	return nil
}

// putProgramme keeps what the programme is. Version 2 of the kind has what the vehicle
// asks of its tyres; what says nothing of it stays version 1, which every bookend reads.
func (f *Folder) putProgramme(ctx context.Context, p programme.Programme) error {
	b, err := programme.Canonical(p)
	if err != nil {
		return err
	}
	version := 1
	if p.Asked != (tyre.Asked{}) {
		version = 2
	}
	e, err := f.entry(ctx, KindProgramme, version, "", b)
	if err != nil {
		return err
	}
	_, _, err = f.Store.Put(ctx, e)
	return err
}

func orNone(s string) string {
	if s == "" {
		return "none"
	}
	return s
}
