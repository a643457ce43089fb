// Package plan is what the brief's page shows and asks of measures, margins, weights, limits
// and rules: the plan that is frozen, one that is looked through, and the form that drafts or
// amends it, read and checked as the command line's file is.
//
// Limits: looks, confidence, a threshold's ceiling and what else the form does not have stay
// as they were frozen; they are set in a file (bookend plan).
package plan

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"example.org/bookend/app"
	"example.org/bookend/app/testplan"
	"example.org/bookend/compare"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
	"example.org/bookend/web/form"
)

// reader reads the fields of a plan.
type reader struct{ form.Reader }

// Plan is what is said of measures, margins, weights and limits: the plan that is frozen,
// one that is looked through, and the form that drafts or amends it.
type Plan struct {
	Frozen  *Spelled
	Amended []string // why, in order
	Look    *Spelled // as it would be frozen
	Form    form.Form
}

// Spelled is a plan, test by test.
type Spelled struct {
	SHA256, Control string
	Tests           []SpelledTest
}

// SpelledTest is how one test is judged, key by key.
type SpelledTest struct {
	Title, First, Margin string
	Others               []string // margins of other measures, with their names
	Correction           string
	Weights, Limits      string // empty: none
	Lines                [][2]string
}

// Spell spells a plan out, with the titles that tests have in the programme.
func Spell(p *testplan.Plan, s *app.State, measured Measured) (*Spelled, error) {
	sum, err := p.Hash()
	if err != nil {
		return nil, err
	}
	out := &Spelled{SHA256: sum, Control: p.Control}
	for i := range p.Tests {
		t := &p.Tests[i]
		x := SpelledTest{}
		if has, err := s.Test(t.Test); err == nil {
			x.Title = has.Test.Title
		}
		if x.Title == "" {
			x.Title = t.Test
		}
		list := measured(t.Test)
		for _, l := range t.Lines() {
			switch l[0] {
			case "first measure":
				l[1] = titleOf(list, l[1])
			case "margin":
				if t.Margin != "" {
					l[1] = marginOf(list, t.First, t.Margin)
				}
			}
			x.Lines = append(x.Lines, [2]string{form.Sentence(l[0]), l[1]})
			switch l[0] {
			case "first measure":
				x.First = l[1]
			case "margin":
				x.Margin = l[1]
				for _, id := range slices.Sorted(maps.Keys(t.Margins)) {
					name, m := form.Lower(titleOf(list, id)), marginOf(list, id, t.Margins[id])
					x.Lines, x.Others = append(x.Lines, [2]string{"Margin of " + name, m}), append(x.Others, name+" "+m)
				}
			case "correction":
				x.Correction = l[1]
			case "weights":
				x.Weights = l[1]
			case "own limits":
				if l[1] != "none" {
					x.Limits = l[1]
				}
			}
		}
		out.Tests = append(out.Tests, x)
	}
	return out, nil
}

// titleOf gives the title of a measure, or its id in words where the test has none such.
func titleOf(list []programme.Measure, id string) string {
	for _, m := range list {
		if m.ID == id {
			return m.Title
		}
	}
	return strings.ReplaceAll(id, "_", " ")
}

// marginOf says a margin with what it is counted in where it was typed as a bare number.
func marginOf(list []programme.Measure, id, text string) string {
	v, u, err := unit.ParseQuantity(text)
	if err != nil {
		return text
	}
	text = unit.Shortest(v)
	if !u.IsZero() {
		return text + unit.NoBreak + u.Symbol()
	}
	for _, m := range list {
		if m.ID != id {
			continue
		}
		if m.Scale == programme.Ratio && v == 1 {
			return text + " index point"
		}
		if m.Scale == programme.Ratio {
			return text + " index points"
		}
		if u, ok := unit.Known(m.Unit); ok && u.Symbol() != "1" {
			return text + unit.NoBreak + u.Symbol()
		}
	}
	return text
}

// Measured gives the measures of a test: those of its procedure, or those that were typed in.
type Measured func(test string) []programme.Measure

// before gives the plan that was frozen last, as a copy that can be changed; an empty one
// where none is frozen.
func before(s *app.State) (*testplan.Plan, error) {
	p := &testplan.Plan{Schema: testplan.Schema}
	n := len(s.Plans)
	if n == 0 {
		return p, nil
	}
	text, err := json.Marshal(s.Plans[n-1].Plan)
	if err == nil {
		err = json.Unmarshal(text, p)
	}
	if err != nil {
		return nil, fault.New(fault.Internal, "reading the plan: %w", err)
	}
	return p, nil
}

// planned gives what a plan says of a test; ok is false where it does not name it. A plan of
// one test without a name is the only test's.
func planned(p *testplan.Plan, s *app.State, id string) (testplan.Test, bool) {
	for _, t := range p.Tests {
		if t.Test == id || t.Test == "" && len(s.Tests) == 1 {
			return t, true
		}
	}
	return testplan.Test{Test: id}, false
}

// spareRows is how many empty rows stand below the limits for further ones.
const spareRows = 2

// ownFields are the fields of limits that are made from the comparison; every other one is a
// column of runs.
var ownFields = map[string]string{"cv": "%", "runs": "1", "reference_shift": "%", "candidates_between": "1"}

// Draft is the form that drafts a plan or amends the frozen one. guess is the code that
// opens and closes every sequence, where there is one.
func Draft(s *app.State, measured Measured, to, guess string) (form.Form, error) {
	p, err := before(s)
	if err != nil {
		return form.Form{}, err
	}
	f := form.Form{ID: "plan-form", To: to + "/plan", Legend: "Draft a plan", Do: "Look it through", AlsoDo: "freeze", Kept: map[string]string{}, Fields: []form.Field{
		{Name: "title", Title: "What is compared", Value: p.Title, Wide: true},
		{Name: "control", Title: "Control", Value: p.Control, Needed: true, Hint: "The code of the known tyre."},
	}}
	amends := len(s.Plans) > 0
	if !amends {
		f.Fields[0].Value, f.Fields[1].Value = s.Programme.Title, guess
	}
	if amends {
		f.Legend = "Amend the frozen plan"
		f.Note = "What is frozen stays what the first verdict follows. An amendment needs its reason; the report lists it, with the planned verdict beside the later one."
		f.Fields = append(f.Fields, form.Field{Name: "reason", Title: "Why it is amended", Wide: true, Needed: true})
	} else {
		f.Note = "Frozen before the first candidate is driven, the plan fixes how verdicts are come by; whatever is done otherwise is listed in the report."
	}
	for i, t := range s.Tests {
		x, in := planned(p, s, t.Test.ID)
		f.Groups = append(f.Groups, planGroups(fmt.Sprintf("t%d-", i), t, x, in || !amends, measured(t.Test.ID))...)
		f.Kept[fmt.Sprintf("t%d", i)] = t.Test.ID
	}
	return f, nil
}

func planGroups(at string, t app.TestEntry, x testplan.Test, in bool, measures []programme.Measure) []form.Group {
	yes := func(b bool) string {
		if b {
			return "yes"
		}
		return ""
	}
	title := t.Test.Title
	first := form.Field{Name: at + "first", Title: "First measure", Value: x.First, Hint: "The one that answers the question."}
	if x.First == "" {
		first.Value = t.Test.First
	}
	if len(measures) > 0 {
		first.Choices = []form.Choice{{"", "choose"}}
		for _, m := range measures {
			first.Choices = append(first.Choices, form.Choice{m.ID, m.Title})
		}
		if first.Value != "" && !slices.ContainsFunc(measures, func(m programme.Measure) bool { return m.ID == first.Value }) {
			first.Choices = append(first.Choices, form.Choice{first.Value, first.Value})
		}
		if len(measures) == 1 && first.Value == "" {
			first.Value = measures[0].ID
		}
	}
	stints := ""
	if x.Stints > 0 {
		stints = strconv.Itoa(x.Stints)
	}
	main := form.Group{Title: title, Fields: []form.Field{
		{Name: at + "in", Title: "In the plan", Tick: true, Value: yes(in)},
		first,
		{Name: at + "margin", Title: "Margin", Value: x.Margin, Hint: "Index points of a ratio (2), or with the measure’s unit (0.20 m); empty: nothing is called the same."},
		{Name: at + "stints", Title: "Stints that will be driven", Value: stints, Number: true, Hint: "Empty: as many as there are."},
		{Name: at + "sided", Title: "Intervals", Value: string(x.Sided), Choices: []form.Choice{{"", "two-sided: worse is asked for too"}, {string(compare.OneSided), "one-sided: better alone"}}},
		{Name: at + "drift", Title: "Drift is taken out by", Value: string(x.Drift), Choices: form.Words("as usual", "none", "bracket", "linear", "quadratic")},
		{Name: at + "covariates", Title: "Covariates", Value: strings.Join(x.Covariates, ", "), Hint: "Columns that enter the model beside the control."},
		{Name: at + "record", Title: "The ground’s record of the control", Value: string(x.Record), Choices: form.Words("used where there is one", "none")},
	}}
	for i := range main.Fields { // what is usual, said in so many words, is the usual
		if v := main.Fields[i].Value; v == string(compare.TwoSided) || v == string(compare.RecordUsed) {
			main.Fields[i].Value = ""
		}
	}
	if t.Test.Procedure == "" {
		main.Fields = append(main.Fields,
			form.Field{Name: at + "better", Title: "Better is", Value: string(x.Better), Choices: form.Words("as it was brought in", "higher", "lower")},
			form.Field{Name: at + "scale", Title: "Values are", Value: string(x.Scale), Choices: form.Words("as they were brought in", "ratio", "difference", "count", "threshold")})
	}
	margins := form.Group{Title: "Margins of other measures: " + title, Folded: true}
	for _, m := range measures {
		symbol := "points"
		if m.Scale != programme.Ratio {
			if u, ok := unit.Known(m.Unit); ok {
				symbol = u.Symbol()
			}
		}
		if symbol == "1" {
			symbol = ""
		}
		margins.Fields = append(margins.Fields, form.Field{Name: at + "m-" + m.ID, Title: m.Title, Symbol: symbol, Value: x.Margins[m.ID], Number: true})
		margins.Open = margins.Open || x.Margins[m.ID] != ""
	}
	rest := form.Group{Title: "Weights, limits and rules: " + title, Folded: true, Fields: []form.Field{
		{Name: at + "weights", Title: "What rated attributes weigh", Value: weightsTyped(x.Weights), Wide: true, Hint: "Of the client, relative to each other: grip=3, comfort=1."},
		{Name: at + "rules", Title: "Rules that leave runs out", Value: rulesTyped(x.Exclusions), Lines: 4, Wide: true, Hint: "One a line, the word that a reason begins with and when it is used: traffic = another vehicle within 100 m."},
		{Name: at + "filters", Title: "Filters of the recordings, in words", Value: strings.Join(x.Filters, "\n"), Lines: 4, Wide: true, Hint: "One a line; empty: as the procedure has them."},
	}}
	rest.Open = len(x.Weights) > 0 || len(x.Exclusions) > 0 || len(x.Filters) > 0 || len(x.Beside) > 0 || x.Limits != nil
	for i, e := range compare.Profiles() {
		rest.Fields = append(rest.Fields, form.Field{Name: at + "b-" + e.ID, Title: "Held beside: " + e.Title, Tick: true, Begins: i == 0, Value: yes(slices.Contains(x.Beside, e.ID))})
	}
	var limits []programme.Limit
	if x.Limits != nil {
		limits = x.Limits.Limits
	}
	for k := range len(limits) + spareRows {
		l := programme.Limit{}
		if k < len(limits) {
			l = limits[k]
		}
		rest.Fields = append(rest.Fields, limitRow(fmt.Sprintf("%sl%d-", at, k), l, k)...)
	}
	if len(measures) < 2 {
		return []form.Group{main, rest} // there is no other one
	}
	return []form.Group{main, margins, rest}
}

// limitRow is the four fields of one limit of one's own.
func limitRow(at string, l programme.Limit, k int) []form.Field {
	n := strconv.Itoa(k + 1)
	u := l.Unit
	if u == "1" {
		u = ""
	}
	hint := ""
	if k == 0 {
		hint = "cv or reference_shift in %, runs, candidates_between, or a column of runs: water_depth_m."
	}
	return []form.Field{
		{Name: at + "field", Title: "Own limit " + n + ": on", Value: l.Field, Hint: hint, Begins: true},
		{Name: at + "of", Title: "Own limit " + n + ": of", Value: l.Of, Choices: []form.Choice{{"", "all"}, {"control", "the control"}, {"candidate", "candidates"}}},
		{Name: at + "low", Title: "Own limit " + n + ": lowest", Symbol: u, Value: bound(l.Low), Number: true},
		{Name: at + "high", Title: "Own limit " + n + ": highest", Symbol: u, Value: bound(l.High), Number: true},
	}
}

func bound(v *float64) string {
	if v == nil {
		return ""
	}
	return unit.Shortest(*v)
}

func weightsTyped(w map[string]float64) string {
	var out []string
	for _, id := range slices.Sorted(maps.Keys(w)) {
		out = append(out, id+"="+unit.Shortest(w[id]))
	}
	return strings.Join(out, ", ")
}

func rulesTyped(rules []testplan.Rule) string {
	var out []string
	for _, r := range rules {
		out = append(out, r.ID+" = "+r.Text)
	}
	return strings.Join(out, "\n")
}

// margin reads a margin as the command line does, with comma or point.
func (r *reader) margin(name string, scale programme.Scale) string {
	t := strings.Replace(r.Text(name), ",", ".", 1)
	if t == "" {
		return ""
	}
	if _, err := testplan.ParseMargin(t, string(scale)); err != nil {
		r.Bad(name, "for example 2, or with its unit 0.20 m", "%.40q is no margin", t)
	}
	return t
}

// Read gives the plan as it was typed: the frozen one with what the form has in the
// place of what it had, checked as the command line's is.
func Read(s *app.State, measured Measured, q url.Values) (*testplan.Plan, error) {
	p, err := before(s)
	if err != nil {
		return nil, err
	}
	r := &reader{form.Reader{Typed: q}}
	p.Title, p.Control = r.Text("title"), r.Text("control")
	if p.Control == "" {
		r.Bad("control", "its code: K", "the plan names no control")
	}
	old := *p
	p.Tests = nil
	for i, t := range s.Tests {
		at := fmt.Sprintf("t%d-", i)
		if q.Get(fmt.Sprintf("t%d", i)) != t.Test.ID {
			if x, in := planned(&old, s, t.Test.ID); in { // the form knew nothing of it
				p.Tests = append(p.Tests, x)
			}
			continue
		}
		if r.Text(at+"in") == "" {
			continue
		}
		x, _ := planned(&old, s, t.Test.ID)
		p.Tests = append(p.Tests, r.test(at, t, x, measured(t.Test.ID)))
	}
	if r.Err != nil {
		return nil, r.Err
	}
	text, err := json.Marshal(p)
	if err != nil {
		return nil, fault.New(fault.Internal, "writing the plan: %w", err)
	}
	return testplan.Read("the plan", text)
}

func (r *reader) test(at string, t app.TestEntry, x testplan.Test, measures []programme.Measure) testplan.Test {
	x.First = r.Text(at + "first")
	if x.First == "" {
		r.Bad(at+"first", "one measure answers the question; the others are description", "no first measure is named")
	}
	if t.Test.Procedure == "" {
		x.Better, x.Scale = programme.Better(r.Text(at+"better")), programme.Scale(r.Text(at+"scale"))
	}
	scaleOf := func(id string) programme.Scale {
		for _, m := range measures {
			if m.ID == id {
				return m.Scale
			}
		}
		if x.Scale != "" {
			return x.Scale
		}
		return programme.Ratio
	}
	x.Margin = r.margin(at+"margin", scaleOf(x.First))
	for _, m := range measures {
		text := r.margin(at+"m-"+m.ID, m.Scale)
		switch {
		case text == "" || m.ID == x.First:
			delete(x.Margins, m.ID)
			if text != "" && text != x.Margin {
				r.Bad(at+"m-"+m.ID, "it is the first measure: its margin stands above", "its margin stands twice")
			}
		default:
			if x.Margins == nil {
				x.Margins = map[string]string{}
			}
			x.Margins[m.ID] = text
		}
	}
	if len(x.Margins) == 0 {
		x.Margins = nil
	}
	x.Stints = r.Count(at+"stints", 0)
	// What is usual may have been said in so many words: it stays as it was said.
	if v := compare.Sides(r.Text(at + "sided")); v != "" || x.Sided != compare.TwoSided {
		x.Sided = v
	}
	if v := compare.Borrowing(r.Text(at + "record")); v != "" || x.Record != compare.RecordUsed {
		x.Record = v
	}
	x.Drift = compare.Drift(r.Text(at + "drift"))
	x.Covariates = slices.Clip(strings.FieldsFunc(r.Text(at+"covariates"), func(c rune) bool { return c == ',' || c == ' ' || c == ';' }))
	if len(x.Covariates) == 0 {
		x.Covariates = nil
	}
	x.Weights = r.weights(at + "weights")
	x.Filters, x.Exclusions, x.Beside = r.Lines(at+"filters"), nil, nil
	for _, l := range r.Lines(at + "rules") {
		id, text, ok := strings.Cut(l, "=")
		if !ok || strings.TrimSpace(id) == "" || strings.TrimSpace(text) == "" {
			r.Bad(at+"rules", "for example traffic = another vehicle within 100 m", "%.60q is no rule", l)
			continue
		}
		x.Exclusions = append(x.Exclusions, testplan.Rule{ID: strings.TrimSpace(id), Text: strings.TrimSpace(text)})
	}
	for _, e := range compare.Profiles() {
		if r.Text(at+"b-"+e.ID) != "" {
			x.Beside = append(x.Beside, e.ID)
		}
	}
	x.Limits = r.limits(at, x.Limits)
	return x
}

func (r *reader) weights(name string) map[string]float64 {
	var out map[string]float64
	for _, pair := range strings.FieldsFunc(r.Text(name), func(c rune) bool { return c == ',' || c == ';' || c == '\n' }) {
		id, text, ok := strings.Cut(pair, "=")
		id = strings.TrimSpace(id)
		v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
		if !ok || id == "" || err != nil || !(v > 0 && v <= 1e6) {
			r.Bad(name, "an attribute and a number above 0, relative to the others: grip=3, comfort=1.5", "%.60q is no weight", strings.TrimSpace(pair))
			continue
		}
		if _, twice := out[id]; twice {
			r.Bad(name, "once is enough", "%.40q weighs twice", id)
		}
		if out == nil {
			out = map[string]float64{}
		}
		out[id] = v
	}
	return out
}

// limits reads the limits of one's own; what a row does not ask for is kept of the one that
// stood there for the same field.
func (r *reader) limits(at string, was *programme.Profile) *programme.Profile {
	p := programme.Profile{ID: "own", Title: "The evaluator’s own limits"}
	if was != nil {
		p = *was
	}
	old := p.Limits
	p.Limits = nil
	for k := range len(old) + spareRows {
		row := fmt.Sprintf("%sl%d-", at, k)
		l := programme.Limit{Field: r.Text(row + "field"), Of: r.Text(row + "of"), Low: r.Number(row + "low"), High: r.Number(row + "high")}
		if l.Field == "" {
			if l.Low != nil || l.High != nil {
				r.Bad(row+"field", "for example cv, or water_depth_m", "the limit is on nothing")
			}
			continue
		}
		if i := slices.IndexFunc(old, func(o programme.Limit) bool { return o.Field == l.Field && o.Of == l.Of }); i >= 0 {
			l.Per, l.Unit, l.Source, l.Stands = old[i].Per, old[i].Unit, old[i].Source, old[i].Stands
		} else if u, ok := ownFields[l.Field]; ok {
			l.Unit = u
		} else if _, u, ok := unit.SplitName(l.Field); ok {
			l.Unit = u.Symbol()
		} else {
			r.Bad(row+"field", "a column carries its unit: water_depth_m, surface_temperature_degc", "%.40q has no unit in its name", l.Field)
		}
		if l.Low == nil && l.High == nil {
			r.Bad(row+"low", "give it a lowest or a highest value", "the limit has no bound")
		}
		r.Ordered(row+"high", l)
		p.Limits = append(p.Limits, l)
	}
	if len(p.Limits) == 0 {
		return nil
	}
	return &p
}
