package app

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"unicode"

	"example.org/bookend/app/logger"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

// BeginRequest says what a test is before anything of it is driven: one manoeuvre on one
// surface. Of a test that is there already, what is left empty stays as it was.
type BeginRequest struct {
	ID          string
	Title       string
	Surface     string
	ControlType string
	First       string // the measure that answers the question
	Procedure   string // id of the Spec; empty: typed values
	Gates       []string
	Given       programme.Parameters // settings other than the procedure's usual ones
	Reset       bool                 // procedure, gates and settings are as given here, nothing is left as it was
}

// most characters of a test's name; bookend's own.
const mostTestName = 60

// SetTest begins a test, or changes what one is. Procedure, gates and settings change as
// long as nothing of the test was brought in and no frozen plan names it (TestFast).
func (f *Folder) SetTest(ctx context.Context, q BeginRequest) error {
	s, err := Rebuild(ctx, f.Store)
	if err != nil {
		return err
	}
	q.ID = strings.TrimSpace(q.ID)
	switch {
	case q.ID == "":
		return fault.New(fault.Invalid, "no test is named").At("test").WithHint("one manoeuvre on one surface, for example wet-stop")
	case len([]rune(q.ID)) > mostTestName || strings.ContainsFunc(q.ID, unicode.IsControl):
		return fault.New(fault.Invalid, "%.60q is no name of a test", q.ID).At("test").WithHint("a few characters: wet-stop")
	}
	i := slices.IndexFunc(s.Tests, func(t TestEntry) bool { return t.Test.ID == q.ID })
	t := TestEntry{Test: programme.Test{ID: q.ID, Title: q.ID}}
	fresh := i < 0 || s.Tests[i].assumed
	if i >= 0 {
		t = s.Tests[i]
		t.assumed = false
	}
	was := t
	for _, x := range []struct {
		from string
		to   *string
	}{{q.Title, &t.Test.Title}, {q.Surface, &t.Test.Surface}, {q.ControlType, &t.Test.ControlType}, {q.First, &t.Test.First}} {
		if v := strings.TrimSpace(x.from); v != "" {
			*x.to = v
		}
	}
	if q.Reset || q.Procedure != "" || len(q.Gates) > 0 || len(q.Given) > 0 {
		if !q.Reset {
			q.Procedure = cmp.Or(q.Procedure, t.Test.Procedure)
		}
		if err := f.setUp(&t, q); err != nil {
			return err
		}
	}
	moved := t.Test.Procedure != was.Test.Procedure || !slices.Equal(t.Test.Parameters, was.Test.Parameters) || !slices.Equal(t.Gates, was.Gates)
	if moved && !fresh {
		if why := s.TestFast(q.ID); why != "" {
			return fault.New(fault.Conflict, "test %s keeps its procedure, gates and settings: %s", q.ID, why).WithHint("title and surface can be changed; another setting is another test")
		}
	}
	same := t.Test.Title == was.Test.Title && t.Test.Surface == was.Test.Surface && t.Test.ControlType == was.Test.ControlType && t.Test.First == was.Test.First
	if same && !moved && !fresh {
		return nil
	}
	return f.Put(ctx, KindTest, "", t)
}

// setUp gives a test its procedure with gates and settings, each checked as an import does.
func (f *Folder) setUp(t *TestEntry, q BeginRequest) error {
	if q.Procedure == "" {
		if len(q.Given) > 0 || len(q.Gates) > 0 {
			return fault.New(fault.Invalid, "gates and settings belong to a procedure").At("procedure").WithHint("a test of typed values has none")
		}
		t.Test.Procedure, t.Test.Parameters, t.Gates = "", nil, nil
		return nil
	}
	p, err := f.Shelf.Procedure(q.Procedure)
	if err != nil {
		return fault.At(err, "procedure")
	}
	given := q.Given
	if !q.Reset && q.Procedure == t.Test.Procedure {
		for _, x := range t.Test.Parameters { // what is not given stays
			if !slices.ContainsFunc(given, func(g programme.Setting) bool { return g.ID == x.ID }) {
				given = append(slices.Clip(given), x)
			}
		}
		if len(q.Gates) == 0 {
			q.Gates = t.Gates
		}
	}
	params, err := p.Spec().Settings(given)
	if err != nil {
		return err
	}
	if _, err := logger.CourseOf(q.Gates, p.Spec()); err != nil {
		return fault.At(err, "gates")
	}
	t.Test.Procedure, t.Test.Parameters, t.Gates = q.Procedure, params, q.Gates
	return nil
}

// TestFast says why a test keeps its procedure, gates and settings; empty: it need not.
func (s *State) TestFast(id string) string {
	switch {
	case slices.ContainsFunc(s.Recordings, func(r RecordingEntry) bool { return r.Test == id }):
		return "recordings of it were brought in"
	case slices.ContainsFunc(s.Tables, func(t TableEntry) bool { return t.Test == id }):
		return "a table of it was brought in"
	case len(s.Day.Of(id)) > 0:
		return "stints of it stand in the run log"
	}
	for i := range s.Plans {
		for _, t := range s.Plans[i].Plan.Tests {
			if t.Test == id || t.Test == "" && len(s.Tests) == 1 && s.Tests[0].Test.ID == id {
				return "the frozen plan names it"
			}
		}
	}
	return ""
}
