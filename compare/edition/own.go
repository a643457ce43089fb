package edition

import (
	"slices"
	"strings"

	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

// Fields that are made from the comparison; every other one is a column of runs.
const (
	CV                = "cv"                 // of a stint's runs, per cent
	RunsField         = "runs"               // of a stint
	ReferenceShift    = "reference_shift"    // of the control over a bracket, per cent
	CandidatesBetween = "candidates_between" // two controls
)

// Beside completes a profile whose limits are held beside those of the regulation
// that a comparison follows: the evaluator's own, or a published edition's by its
// id alone. Each limit has a clause, or is the evaluator's own.
func Beside(p programme.Profile) (programme.Profile, error) {
	if strings.TrimSpace(p.ID) == "" {
		return p, fault.New(fault.Invalid, "a profile has no id").WithHint("give it a short name of its own")
	}
	published := (&Asked{ID: p.ID}).regulation()
	switch {
	case published != nil && len(p.Limits) == 0:
		return published.Profile, nil
	case published != nil:
		return p, fault.New(fault.Conflict, "profile %s is a published edition and cannot have other limits", p.ID).WithHint("give your own profile a name of its own")
	case len(p.Limits) == 0:
		return p, fault.New(fault.NotFound, "profile %s is no published edition, and has no limits", p.ID).WithHint("the published ones are %s", strings.Join(ids(), ", "))
	}
	if p.Version == 0 {
		p.Version = 1
	}
	if p.Version < 0 {
		return p, fault.New(fault.Invalid, "profile %s has version %d", p.ID, p.Version)
	}
	if p.Title == "" {
		p.Title = p.ID
	}
	if p.Source.Key == "" {
		p.Source = own("the evaluator's")
	}
	var err error
	if p.Limits, err = Limits(p.Limits); err != nil {
		return p, fault.At(err, "profile %s", p.ID)
	}
	return p, nil
}

func ids() []string {
	var out []string
	for _, r := range regulations {
		out = append(out, r.ID)
	}
	return out
}

// Limits completes limits that the evaluator gives and refuses those that say
// nothing.
func Limits(list []programme.Limit) ([]programme.Limit, error) {
	out := slices.Clone(list)
	for i := range out {
		l := &out[i]
		if strings.TrimSpace(l.Field) == "" {
			return nil, fault.New(fault.Invalid, "limit %d is on nothing", i+1).WithHint("name a field: cv, runs, reference_shift, candidates_between, or a column of runs")
		}
		if l.Low == nil && l.High == nil {
			return nil, fault.New(fault.Invalid, "the limit on %s has no bound", l.Field).WithHint("give it a lowest or a highest value")
		}
		for _, b := range []*float64{l.Low, l.High} {
			if b != nil && !finite(*b) {
				return nil, fault.New(fault.Invalid, "the limit on %s is not finite", l.Field)
			}
		}
		if l.Low != nil && l.High != nil && *l.Low > *l.High {
			return nil, fault.New(fault.Invalid, "the limit on %s ends below its beginning: %g to %g", l.Field, *l.Low, *l.High)
		}
		per := []string{"run", "stint"}
		switch l.Field {
		case CV, RunsField:
			per = []string{"stint"}
		case ReferenceShift, CandidatesBetween:
			per = []string{"bracket"}
		}
		if l.Per == "" {
			l.Per = per[0]
		}
		if !slices.Contains(per, l.Per) {
			return nil, fault.New(fault.Invalid, "%s is not held per %s", l.Field, l.Per).WithHint("it is held per %s", strings.Join(per, " or "))
		}
		if !slices.Contains([]string{"", "control", "candidate"}, l.Of) {
			return nil, fault.New(fault.Invalid, "the limit on %s is of %q", l.Field, l.Of).WithHint("control, candidate, or nothing for both")
		}
		if l.Source.Key == "" {
			l.Source = own("the evaluator's")
		}
		if l.Source.Key != programme.Own && l.Source.Key != programme.CommonPractice && l.Source.Clause == "" {
			return nil, fault.New(fault.Invalid, "the limit on %s names %s, but no clause", l.Field, l.Source.Key).WithHint("say where in it the limit stands, or make it your own")
		}
		if l.Stands == "" {
			l.Stands = notMet
		}
	}
	return out, nil
}

// Line is one field, held side by side against the limits of several profiles.
type Line struct {
	Field, Per, Of, Unit string
	Cells                []Cell // those profiles that limit it, in the order in which they were held
}

// Cell is one profile's limit on it, and how it was met.
type Cell struct {
	Profile                 string // empty: the evaluator's own limits without a profile
	Low, High               *float64
	Source                  programme.Source
	Stands                  string
	Within, Broken, Missing int
	Worst                   *float64 // of the values that break it the furthest out; nil where none does
}

// SideBySide puts findings into lines: one for each field that anything limits.
func SideBySide(findings []Finding) []Line {
	var out []Line
	for _, f := range findings {
		l := f.Limit
		i := slices.IndexFunc(out, func(x Line) bool { return x.Field == l.Field && x.Per == l.Per && x.Of == l.Of })
		if i < 0 {
			i = len(out)
			out = append(out, Line{Field: l.Field, Per: l.Per, Of: l.Of, Unit: l.Unit})
		}
		same := func(a, b *float64) bool { return a == nil && b == nil || a != nil && b != nil && *a == *b }
		j := slices.IndexFunc(out[i].Cells, func(c Cell) bool {
			return c.Profile == f.Profile && same(c.Low, l.Low) && same(c.High, l.High) && c.Source == l.Source
		})
		if j < 0 {
			j = len(out[i].Cells)
			out[i].Cells = append(out[i].Cells, Cell{Profile: f.Profile, Low: l.Low, High: l.High, Source: l.Source, Stands: l.Stands})
		}
		c := &out[i].Cells[j]
		switch f.Standing {
		case programme.Within:
			c.Within++
		case programme.Missing:
			c.Missing++
		case programme.Broken:
			c.Broken++
			if v := *f.Value; c.Worst == nil || beyond(l, v) > beyond(l, *c.Worst) {
				c.Worst = is(v)
			}
		}
	}
	return out
}

// beyond gives how far a value lies outside a limit.
func beyond(l programme.Limit, v float64) float64 {
	d := 0.0
	if l.Low != nil {
		d = max(d, *l.Low-v)
	}
	if l.High != nil {
		d = max(d, v-*l.High)
	}
	return d
}
