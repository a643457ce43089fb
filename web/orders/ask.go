package orders

import (
	"net/url"
	"time"

	"example.org/bookend/app"
	"example.org/bookend/app/day"
	"example.org/bookend/app/testplan"
	"example.org/bookend/fault"
	"example.org/bookend/figure"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
	"example.org/bookend/web/form"
)

// Ask is who asks for a page about the order, of which programme, and how.
type Ask struct {
	Folder *app.Folder
	State  *app.State
	Typed  url.Values        // of the address or of the form that was sent
	Test   string            // that the address names; may be empty
	Base   string            // address of the programme
	Usual  map[string]string // what forms begin with in this programme
	Style  unit.Style
	Now    time.Time // at the ground
	Writes bool      // who asks may enter
	Plans  bool      // who asks may see what is planned

	Measure func(test, id string) (programme.Measure, error) // that a test has; the first where id is empty

	// Await has something done that may take a while; what is asked twice is done once.
	// It ends where stop is closed.
	Await func(about, title string, do func(stop <-chan struct{}) (any, error)) (any, error)
}

// Plan gives the frozen plan of a test as it was last amended; nil: none is frozen.
func (a Ask) Plan(test string) *testplan.Test {
	n := len(a.State.Plans)
	if n == 0 {
		return nil
	}
	t, _ := a.State.Plans[n-1].Plan.Test(test)
	return t
}

// Leaf is a page about the order, or where to go instead.
type Leaf struct {
	Page         string // its template
	Title, Below string
	Status       int // 0: as it should be
	Codes        figure.Codes
	Scripts      []string
	Class        string
	Body         any
	Go           string // address to go to: something was done
}

// Refused turns a leaf into one that says what is wrong with what was typed, at the field
// of its form that the fault is about; what was filled in stays. A fault that is no one's
// who typed is handed on.
func (l *Leaf) Refused(f *form.Form, err error) error {
	switch fault.CodeOf(err) {
	case fault.Invalid:
		l.Status = 422
	case fault.NotFound:
		l.Status = 404
	case fault.Unsupported:
		l.Status = 501
	case fault.Conflict:
		l.Status = 409
	default:
		return err
	}
	l.Title, l.Below = f.Blame(err), form.Sentence(fault.HintOf(err))
	return nil
}

// Tab leads to another page about the order.
type Tab struct {
	Name, To string
	Here     bool
}

// Tabs gives the pages about the order, for a test.
func Tabs(base, test, here string) []Tab {
	var out []Tab
	of := ""
	if test != "" {
		of = "?" + url.Values{"test": {test}}.Encode()
	}
	for _, t := range []struct{ name, at string }{{"Search", "/order"}, {"What next", "/order/advice"}, {"Plan the rest anew", "/order/anew"}, {"Interim look", "/interim"}, {"Cones", "/order/cones"}} {
		to := base + t.at + of
		if t.at == "/order" {
			to = base + t.at
		}
		out = append(out, Tab{Name: t.name, To: to, Here: t.name == here})
	}
	return out
}

// Driven gives what of a test counts as driven: by the run log, or by the tables that
// were brought in.
func (a Ask) Driven(test string) day.Driven {
	d := a.State.Day.Driven(test)
	if len(d.Codes) > 0 {
		return d
	}
	var stints []programme.Stint
	for _, t := range a.State.Tables {
		if t.Test == test {
			stints = append(stints, t.Log.Stints...)
		}
	}
	for i, block := range (programme.Log{Stints: stints}).Blocks() {
		if i > 0 {
			d.Codes = append(d.Codes, "/")
		}
		for _, s := range block {
			d.Codes = append(d.Codes, s.Code)
		}
	}
	return d
}

// Chosen gives the test that a page is about: the one asked for, or the first.
func (a Ask) Chosen() string {
	if a.Test == "" && len(a.State.Tests) > 0 {
		return a.State.Tests[0].Test.ID
	}
	return a.Test
}

// Tests lists the tests of a programme, for choosing one.
func (a Ask) Tests() []string {
	var out []string
	for _, t := range a.State.Tests {
		out = append(out, t.Test.ID)
	}
	return out
}
