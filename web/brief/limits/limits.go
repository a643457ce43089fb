// Package limits is what the brief's page shows and asks of the limits that the run log's
// entries are answered by: of every test, or of one that has its own.
//
// What is not touched keeps its source; what is, is the evaluator's own. Depths are read in
// mm, everything else in the unit that the limit is kept in.
package limits

import (
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"example.org/bookend/app"
	"example.org/bookend/compare"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/programme/runlog"
	"example.org/bookend/unit"
	"example.org/bookend/web/form"
)

// Row is a limit that entries of the run log are answered by, in words.
type Row struct{ On, Bounds, Stands, Source string }

// List is the limits of one test, or of every test without its own.
type List struct {
	Title, Name string // whose they are, and what their profile is called
	Change      string // address of the form that changes them
	Rows        []Row
}

// Shown gives the limits that the run log's entries are answered by.
func Shown(s *app.State, at string, style unit.Style) []List {
	var out []List
	for _, test := range scopes(s) {
		p := s.Limits(test)
		if test != "" && !slices.ContainsFunc(s.LimitsSet, func(l app.LimitsEntry) bool { return l.Test == test }) {
			continue // those of every test
		}
		x := List{Title: scope(s, test), Name: p.Title, Change: at + "?" + url.Values{"limits": {scopeWord(test)}}.Encode() + "#limits-form"}
		for _, l := range p.Limits {
			row := Row{On: on(l), Stands: l.Stands, Source: source(l.Source)}
			low, high, symbol := typedBound(l, l.Low, style), typedBound(l, l.High, style), measuredIn(l).Symbol()
			switch {
			case l.Low == nil:
				row.Bounds = "at most " + high + unit.NoBreak + symbol
			case l.High == nil:
				row.Bounds = "at least " + low + unit.NoBreak + symbol
			default:
				row.Bounds = low + " to " + high + unit.NoBreak + symbol
			}
			x.Rows = append(x.Rows, row)
		}
		out = append(out, x)
	}
	return out
}

// spareRows is how many empty rows stand below the limits for further ones.
const spareRows = 2

// everyTest stands in addresses for the limits of every test without its own.
const everyTest = "every-test"

func scopes(s *app.State) []string {
	out := []string{""}
	for _, t := range s.Tests {
		out = append(out, t.Test.ID)
	}
	return out
}

func scopeWord(test string) string {
	if test == "" {
		return everyTest
	}
	return "test:" + test
}

func scope(s *app.State, test string) string {
	if t, err := s.Test(test); err == nil {
		return t.Test.Title
	}
	return "Every test without its own"
}

// on says what a limit is on.
func on(l programme.Limit) string {
	stem := l.Field
	if s, _, ok := unit.SplitName(l.Field); ok {
		stem = s
	}
	text := strings.ReplaceAll(stem, "_", " ")
	if l.Of != "" {
		text += " of " + l.Of
	}
	return text
}

func source(s programme.Source) string {
	switch s.Key {
	case programme.CommonPractice:
		return "common practice, no source"
	case programme.Own:
		return "own: " + s.Clause
	}
	return s.String()
}

// measuredIn is the unit in which people read a limit: depths in mm, else its own.
func measuredIn(l programme.Limit) unit.Unit {
	u, ok := unit.Known(l.Unit)
	if !ok {
		return unit.MustParse("1")
	}
	if u == unit.Metre && (strings.Contains(l.Field, "depth") || strings.Contains(l.Field, "tread")) {
		return unit.MustParse("mm")
	}
	return u
}

func typedBound(l programme.Limit, v *float64, style unit.Style) string {
	if v == nil {
		return ""
	}
	if u := measuredIn(l); u.Dimension() == unit.Length {
		return form.Plain(u.FromHouse(*v), style)
	}
	return form.Plain(*v, style)
}

// limitable are the fields of the run log that a limit may be on, with the unit that they
// are kept in; those behind the entries' own follow from them and the log so far.
func limitable() []form.Choice {
	out := []form.Choice{{"", "none"}}
	seen := map[string]bool{}
	add := func(field string) {
		if _, _, ok := unit.SplitName(field); ok && !seen[field] {
			seen[field] = true
			out = append(out, form.Choice{field, on(programme.Limit{Field: field})})
		}
	}
	for _, k := range runlog.Kinds() {
		for _, f := range k.Fields {
			if f.Type == runlog.Number {
				add(f.Key)
			}
		}
	}
	for _, f := range []string{"brake_temperature_degc", "least_tread_m", "surface_temperature_change_degc", "water_depth_change_m"} {
		add(f)
	}
	slices.SortStableFunc(out[1:], func(a, b form.Choice) int { return strings.Compare(a.Title(), b.Title()) })
	return out
}

// Form is the form that sets the limits of the run log.
func Form(s *app.State, to, asked string, style unit.Style) form.Form {
	test := strings.TrimPrefix(asked, "test:")
	if asked == "" || asked == everyTest || !slices.Contains(scopes(s), test) {
		test = ""
	}
	p := s.Limits(test)
	f := form.Form{ID: "limits-form", To: to + "/limits", Legend: "Change the limits of the run log: " + form.Lower(scope(s, test)), Do: "Keep the limits", Open: asked != "",
		Kept: map[string]string{"scope": scopeWord(test)}, Note: "Entries of the day are answered by them at once. A row without bounds goes.",
		Fields: []form.Field{{Name: "follow", Title: "Take those of an edition instead", Wide: true, Choices: []form.Choice{{"", "no, the rows below"}}}}}
	if len(s.Plans) > 0 {
		f.Note += " A plan is frozen: the report lists that they were changed after it."
	}
	for _, e := range compare.Profiles() {
		if _, err := app.Follow(e.ID); err == nil {
			f.Fields[0].Choices = append(f.Fields[0].Choices, form.Choice{e.ID, e.Title})
		}
	}
	for k, l := range p.Limits {
		at, u := fmt.Sprintf("l%d-", k), measuredIn(l).Symbol()
		f.Kept[fmt.Sprintf("l%d", k)] = l.Field + " " + l.Of + " " + l.Per
		f.Fields = append(f.Fields,
			form.Field{Name: at + "on", Title: "Limit on", Value: on(l), Fixed: true, Begins: true, Hint: form.Sentence(source(l.Source)) + "."},
			form.Field{Name: at + "low", Title: form.Sentence(on(l)) + ": lowest", Symbol: u, Value: typedBound(l, l.Low, style), Number: true},
			form.Field{Name: at + "high", Title: form.Sentence(on(l)) + ": highest", Symbol: u, Value: typedBound(l, l.High, style), Number: true},
			form.Field{Name: at + "stands", Title: form.Sentence(on(l)) + ": when broken", Value: l.Stands})
	}
	for k := range spareRows {
		at := fmt.Sprintf("n%d-", k)
		n := strconv.Itoa(k + 1)
		f.Fields = append(f.Fields,
			form.Field{Name: at + "field", Title: "Further limit " + n + ": on", Choices: limitable(), Begins: true, Hint: "Depths in mm, everything else in the unit that the day’s entries are kept in."},
			form.Field{Name: at + "low", Title: "Further limit " + n + ": lowest", Number: true},
			form.Field{Name: at + "high", Title: "Further limit " + n + ": highest", Number: true},
			form.Field{Name: at + "stands", Title: "Further limit " + n + ": when broken"})
	}
	return f
}

// Read gives the limits as they were typed; ok is false where they are those that stand.
// What was not touched keeps its source, what was is the evaluator's own.
func Read(s *app.State, q url.Values, style unit.Style) (x app.LimitsEntry, ok bool, err error) {
	asked := q.Get("scope")
	x.Test = strings.TrimPrefix(asked, "test:")
	if asked == everyTest {
		x.Test = ""
	} else if !slices.Contains(scopes(s), x.Test) {
		return x, false, fault.New(fault.NotFound, "there is no test %.60q", x.Test)
	}
	if id := q.Get("follow"); id != "" {
		x.Profile, err = app.Follow(id)
		return x, true, err
	}
	was := s.Limits(x.Test)
	r := &form.Reader{Typed: q}
	own := programme.Source{Key: programme.Own, Clause: "the evaluator's"}
	bound := func(name string, l programme.Limit, is *float64) *float64 {
		if r.Text(name) == typedBound(l, is, style) {
			return is
		}
		v := r.Number(name)
		if u := measuredIn(l); v != nil && u.Dimension() == unit.Length {
			*v = u.ToHouse(*v)
		}
		return v
	}
	p := programme.Profile{ID: was.ID, Version: was.Version, Title: was.Title, Source: was.Source}
	changed := false
	for k, l := range was.Limits {
		at := fmt.Sprintf("l%d-", k)
		if q.Get(fmt.Sprintf("l%d", k)) != l.Field+" "+l.Of+" "+l.Per {
			return x, false, fault.New(fault.Conflict, "the limits were changed meanwhile").WithHint("look at those that stand, then change them")
		}
		n := l
		n.Low, n.High, n.Stands = bound(at+"low", l, l.Low), bound(at+"high", l, l.High), r.Text(at+"stands")
		same := equal(n.Low, l.Low) && equal(n.High, l.High)
		if !same {
			n.Source = own
		}
		changed = changed || !same || n.Stands != l.Stands
		if n.Low != nil || n.High != nil {
			p.Limits = append(p.Limits, n)
		}
		r.Ordered(at+"high", n)
	}
	for k := range spareRows {
		at := fmt.Sprintf("n%d-", k)
		l := programme.Limit{Field: r.Text(at + "field"), Per: "run", Source: own, Stands: r.Text(at + "stands")}
		if l.Field == "" {
			if r.Text(at+"low") != "" || r.Text(at+"high") != "" {
				r.Bad(at+"field", "choose what it is on", "the limit is on nothing")
			}
			continue
		}
		if !slices.ContainsFunc(limitable(), func(c form.Choice) bool { return c.Value() == l.Field }) {
			r.Bad(at+"field", "choose one of the list", "%.40q is nothing that the run log has", l.Field)
			continue
		}
		_, u, _ := unit.SplitName(l.Field)
		l.Unit = u.Symbol()
		l.Low, l.High = bound(at+"low", l, nil), bound(at+"high", l, nil)
		if l.Low == nil && l.High == nil {
			r.Bad(at+"high", "give it a lowest or a highest value", "the limit has no bound")
		}
		r.Ordered(at+"high", l)
		p.Limits, changed = append(p.Limits, l), true
	}
	if r.Err != nil {
		return x, false, r.Err
	}
	if changed {
		if p.ID != "own" {
			p.ID, p.Version, p.Title, p.Source = "own", 0, "The evaluator’s own limits", own
		}
		p.Version++
	}
	x.Profile = p
	return x, changed, nil
}

func equal(a, b *float64) bool { return a == nil && b == nil || a != nil && b != nil && *a == *b }
