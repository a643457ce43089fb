// Package orders is what the page of the order asks and shows: a form about
// candidates, constraints, the day and what is known of the scatter becomes the
// request of app.Order, and its answer becomes the words, the table and the
// drawing of the page.
//
// Everything asked for stands in the address, so that a page can be sent. Units
// of the form are the trade's: minutes, millimetres, per cent; the request is in SI.
// Limits: as package order; the history of a control and an earlier table are
// named on the command line alone.
package orders

import (
	"net/url"
	"strconv"
	"strings"

	"example.org/bookend/app"
	"example.org/bookend/fault"
	"example.org/bookend/order"
	"example.org/bookend/order/day"
	"example.org/bookend/order/drift"
	"example.org/bookend/programme"
)

// Field is one field of the form, as it was filled in.
type Field struct {
	Name, Title, Symbol, Value, Hint string
	Words                            []string // what it may be; nil: typed
	Tick, Number, Ticked             bool
}

// Group is fields that belong together.
type Group struct {
	Title  string
	Fields []Field
}

// groups lists the form; values are what is taken where nothing is typed.
var groups = []Group{
	{"What is driven", []Field{
		{Name: "control", Title: "Control"},
		{Name: "candidates", Title: "Candidates", Hint: "with their stints, as P:2, R:2; without a number: two"},
		{Name: "controls", Title: "Control stints", Number: true, Hint: "empty: as usual"},
		{Name: "runs", Title: "Runs a stint", Number: true, Value: "6"},
		{Name: "blocks", Title: "Days or sessions", Number: true, Value: "1"},
		{Name: "between", Title: "Candidates between controls, at most", Number: true, Value: "3", Hint: "0: any number"},
		{Name: "correction", Title: "Drift is taken out by", Value: string(drift.Bracket), Words: []string{string(drift.Bracket), string(drift.Linear), string(drift.Quadratic), string(drift.None)}},
		{Name: "seed", Title: "Seed of the draw", Number: true, Value: "1", Hint: "the same seed, the same order"},
		{Name: "reversed", Title: "Each pass in the reverse of the one before", Tick: true},
		{Name: "twice", Title: "A code may follow itself", Tick: true},
		{Name: "open_ends", Title: "The control need not open and close", Tick: true},
	}},
	{"What is known", []Field{
		{Name: "stint_sd", Title: "Scatter of stints", Symbol: "%", Number: true, Hint: "standard deviation; empty: the answer is in it"},
		{Name: "run_sd", Title: "Scatter of runs within a stint", Symbol: "%", Number: true},
		{Name: "wanted", Title: "Difference to be shown", Symbol: "points", Number: true},
		{Name: "walk", Title: "Drift from stint to stint", Symbol: "sd of a stint", Number: true, Hint: "empty: as the record has it, or usual"},
	}},
	{"The day", []Field{
		{Name: "run_time", Title: "One run with its way back", Symbol: "min", Number: true, Hint: "empty: no timetable"},
		{Name: "start", Title: "First fitting begins", Value: "08:00", Hint: "ground’s clock"},
		{Name: "wheel", Title: "To change one wheel", Symbol: "min", Number: true, Value: "4"},
		{Name: "crew", Title: "Wheels changed at once", Number: true, Value: "1"},
		{Name: "wetting", Title: "Wetting, after fitting", Symbol: "min", Number: true, Value: "0"},
		{Name: "warm_up", Title: "Warm-up", Symbol: "min", Number: true, Value: "0"},
		{Name: "cooling", Title: "Cooling between runs", Symbol: "min", Number: true, Value: "0"},
		{Name: "after", Title: "After the last run", Symbol: "min", Number: true, Value: "0"},
		{Name: "breaks", Title: "Breaks", Hint: "as 12:00-12:45, more with commas"},
		{Name: "daylight", Title: "Light", Hint: "as 08:10-15:40; or place and date"},
		{Name: "at", Title: "Place of the ground", Hint: "latitude, longitude: 57.1, -4.5"},
		{Name: "date", Title: "Date", Hint: "as 2026-11-25"},
	}},
	{"Wear", []Field{
		{Name: "wear_most", Title: "Tread that a set may lose", Symbol: "mm", Number: true, Hint: "empty: no budget"},
		{Name: "wear_run", Title: "Lost by a run", Symbol: "mm", Number: true, Value: "0"},
		{Name: "wear_warm_up", Title: "Lost by a warm-up", Symbol: "mm", Number: true, Value: "0"},
		{Name: "sets", Title: "Sets of each candidate", Number: true, Value: "1"},
		{Name: "control_sets", Title: "Sets of the control", Number: true, Value: "1"},
	}},
}

// Complete gives an address with what is usual where it says nothing of a field;
// a field that was left empty stays so. Words may be parted by hyphens, as the
// command line has them; repeats is for candidates without a number of their own.
func Complete(q url.Values, usual map[string]string) url.Values {
	out := url.Values{}
	for k, v := range q {
		out[strings.ReplaceAll(k, "-", "_")] = v
	}
	asked := Asked(out)
	for _, g := range groups {
		for _, f := range g.Fields {
			v := f.Value
			if x, ok := usual[f.Name]; ok && v == "" {
				v = x
			}
			if asked && !out.Has(f.Name) && !f.Tick && v != "" {
				out.Set(f.Name, v)
			}
		}
	}
	if n := strings.TrimSpace(out.Get("repeats")); n != "" {
		all := Codes(out.Get("candidates"))
		for i, c := range all {
			if !strings.Contains(c, ":") {
				all[i] = c + ":" + n
			}
		}
		out.Set("candidates", strings.Join(all, ", "))
	}
	return out
}

// Form gives the form as it was filled in; what was not asked for yet has its
// usual value, or what is usual in this programme.
func Form(q url.Values, usual map[string]string) []Group {
	var out []Group
	for _, g := range groups {
		n := Group{Title: g.Title}
		for _, f := range g.Fields {
			if v, ok := usual[f.Name]; ok && f.Value == "" {
				f.Value = v
			}
			if Asked(q) {
				f.Value = strings.TrimSpace(q.Get(f.Name))
			}
			f.Ticked = f.Tick && f.Value != ""
			n.Fields = append(n.Fields, f)
		}
		out = append(out, n)
	}
	return out
}

// Asked tells whether an order is asked for.
func Asked(q url.Values) bool {
	for _, g := range groups {
		for _, f := range g.Fields {
			if q.Has(f.Name) {
				return true
			}
		}
	}
	return q.Has("own")
}

// Kept gives of an address what the form has, with the order of one's own.
func Kept(q url.Values) url.Values {
	out := url.Values{}
	for _, g := range groups {
		for _, f := range g.Fields {
			if v := strings.TrimSpace(q.Get(f.Name)); v != "" {
				out.Set(f.Name, v)
			}
		}
	}
	for _, k := range []string{"test", "own"} {
		if v := strings.TrimSpace(q.Get(k)); v != "" {
			out.Set(k, v)
		}
	}
	if !out.Has("candidates") && q.Has("candidates") {
		out.Set("candidates", "")
	}
	return out
}

// reader reads fields and keeps the first fault.
type reader struct {
	q   url.Values
	err error
}

func (r *reader) title(name string) string {
	for _, g := range groups {
		for _, f := range g.Fields {
			if f.Name == name {
				return f.Title
			}
		}
	}
	return name
}

func (r *reader) bad(name, text, hint string) {
	if r.err == nil {
		r.err = fault.New(fault.Invalid, "%s: %q cannot be read", strings.ToLower(r.title(name)[:1])+r.title(name)[1:], text).WithHint("%s", hint)
	}
}

// number reads a number of 0 and more, with decimal comma or point.
func (r *reader) number(name string, otherwise float64) float64 {
	text := strings.TrimSpace(r.q.Get(name))
	if text == "" {
		return otherwise
	}
	v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil || !(v >= 0 && v <= 1e6) {
		r.bad(name, text, "a number of 0 and more")
	}
	return v
}

func (r *reader) count(name string, otherwise int) int {
	text := strings.TrimSpace(r.q.Get(name))
	if text == "" {
		return otherwise
	}
	v, err := strconv.Atoi(text)
	if err != nil || v < 0 || v > 200 { // order plans 200 stints at most
		r.bad(name, text, "a whole number from 0 to 200")
	}
	return v
}

func (r *reader) clock(name, text string) float64 {
	h, m, ok := strings.Cut(strings.TrimSpace(text), ":")
	hours, err1 := strconv.Atoi(h)
	minutes, err2 := strconv.Atoi(m)
	if !ok || err1 != nil || err2 != nil || hours < 0 || hours > 24 || minutes < 0 || minutes > 59 || len(m) != 2 {
		r.bad(name, text, "a time of the day, as 08:30")
	}
	return float64(hours*3600 + minutes*60)
}

func (r *reader) span(name, text string) day.Span {
	from, to, ok := strings.Cut(text, "-")
	if !ok {
		r.bad(name, text, "from and to, as 12:00-12:45")
		return day.Span{}
	}
	return day.Span{FromS: r.clock(name, from), ToS: r.clock(name, to)}
}

// Codes divides a sequence typed by a person; blocks are divided by "/".
func Codes(text string) []string {
	return strings.FieldsFunc(text, func(c rune) bool { return c == ' ' || c == ',' || c == ';' || c == '\t' })
}

// Request reads the form. zone is the programme's.
func Request(q url.Values, zone string) (app.OrderRequest, error) {
	r := &reader{q: q}
	out := app.OrderRequest{Scale: programme.Ratio, Own: Codes(q.Get("own"))}
	out.Control = strings.TrimSpace(q.Get("control"))
	if out.Control == "" {
		return out, fault.New(fault.Invalid, "no control is named").WithHint("the code that opens and closes the sequence")
	}
	for _, text := range Codes(q.Get("candidates")) {
		code, n, given := strings.Cut(text, ":")
		c := order.Candidate{Code: code, Repeats: 2}
		if given {
			v, err := strconv.Atoi(n)
			if err != nil || v < 1 {
				r.bad("candidates", text, "a code with its stints, as P:2")
			}
			c.Repeats = v
		}
		out.Candidates = append(out.Candidates, c)
	}
	if len(out.Candidates) == 0 {
		return out, fault.New(fault.Invalid, "no candidate is named").WithHint("as P:2, R:2")
	}
	out.Runs, out.Blocks, out.MostBetween = max(1, r.count("runs", 1)), max(1, r.count("blocks", 1)), r.count("between", 0)
	if out.ControlStints = r.count("controls", 0); out.ControlStints == 0 {
		out.ControlStints = order.UsualControls(out.Candidates, out.Blocks, out.MostBetween)
	}
	out.Reversed, out.SameTwice, out.OpenEnds = q.Get("reversed") != "", q.Get("twice") != "", q.Get("open_ends") != ""
	out.Correction = drift.Correction(q.Get("correction"))
	seed, err := strconv.ParseUint(strings.TrimSpace(q.Get("seed")), 10, 64)
	if text := strings.TrimSpace(q.Get("seed")); text != "" && err != nil {
		r.bad("seed", text, "a whole number")
	}
	out.Seed = seed
	out.Drift.StepSD = r.number("walk", 0)
	s := programme.Scatter{StintSD: r.number("stint_sd", 0) / 100, RunSD: r.number("run_sd", 0) / 100, FromText: "typed in"}
	if s.StintSD > 0 || s.RunSD > 0 {
		out.Scatter = &s
	}
	out.Test.Wanted = app.OnRatio(r.number("wanted", 0))
	out.Test.Power = 0.8 // as the command line has it
	r.day(&out, zone)
	if most := r.number("wear_most", 0); most > 0 {
		out.Wear = &day.Wear{MostM: most / 1e3, RunM: r.number("wear_run", 0) / 1e3, WarmUpM: r.number("wear_warm_up", 0) / 1e3, Sets: max(1, r.count("sets", 1)), ControlSets: max(1, r.count("control_sets", 1))}
	}
	return out, r.err
}

func (r *reader) day(out *app.OrderRequest, zone string) {
	run := 60 * r.number("run_time", 0)
	if run == 0 {
		for _, name := range []string{"breaks", "daylight", "at", "date"} {
			if text := strings.TrimSpace(r.q.Get(name)); text != "" {
				r.bad(name, text, "it belongs to a timetable: say how long one run takes")
			}
		}
		return
	}
	t := &day.Times{Crew: max(1, r.count("crew", 1)), RunS: run, StartS: 8 * 3600,
		WheelS: 60 * r.number("wheel", 4), WettingS: 60 * r.number("wetting", 0), WarmUpS: 60 * r.number("warm_up", 0), CoolingS: 60 * r.number("cooling", 0), AfterS: 60 * r.number("after", 0)}
	if text := r.q.Get("start"); strings.TrimSpace(text) != "" {
		t.StartS = r.clock("start", text)
	}
	for _, text := range Codes(r.q.Get("breaks")) {
		t.Breaks = append(t.Breaks, r.span("breaks", text))
	}
	if text := strings.TrimSpace(r.q.Get("daylight")); text != "" {
		s := r.span("daylight", text)
		t.Light = &s
	}
	out.Times = t
	at := strings.TrimSpace(r.q.Get("at"))
	if at == "" {
		return
	}
	lat, lon, ok := strings.Cut(at, ",")
	a, err1 := strconv.ParseFloat(strings.TrimSpace(lat), 64)
	b, err2 := strconv.ParseFloat(strings.TrimSpace(lon), 64)
	if !ok || err1 != nil || err2 != nil {
		r.bad("at", at, "latitude and longitude in degrees, as 57.1, -4.5")
		return
	}
	if zone == "" {
		zone = "UTC"
	}
	out.Sun = &app.SunAt{Sun: day.Sun{Latitude: a, Longitude: b}, Day: strings.TrimSpace(r.q.Get("date")), Zone: zone}
}
