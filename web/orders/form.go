// Package orders is what the page of the order asks and shows: a form about
// candidates, constraints, the day and what is known of the scatter becomes the
// request of ordering.Order, and its answer becomes the words, the table and the
// drawing of the page. The pages beside it (cones, advice, an interim look, the
// rest planned anew) are rooms below.
//
// Everything asked for stands in the address, so that a page can be sent; a table
// of an earlier programme stands there by its hash. Units of the form are the
// trade's: minutes, millimetres, per cent; the request is in SI. Limits: as
// package order.
package orders

import (
	"context"
	"encoding/hex"
	"fmt"
	"io"
	"math"
	"net/url"
	"strconv"
	"strings"

	"example.org/bookend/app"
	"example.org/bookend/app/groundbook"
	"example.org/bookend/app/ordering"
	"example.org/bookend/fault"
	"example.org/bookend/order"
	"example.org/bookend/order/day"
	"example.org/bookend/order/drift"
	"example.org/bookend/order/fitment"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
	"example.org/bookend/web/form"
	"example.org/bookend/web/orders/typed"
)

// Form gives the form of an order. histories and tables are what can be chosen as
// earlier scatter.
func Form(histories, tables []form.Choice) *form.Form {
	return &form.Form{ID: "o", Get: true, Do: "Search for the order", Groups: []form.Group{
		{Title: "What is driven", Fields: []form.Field{
			{Name: "control", Title: "Control", Needed: true},
			{Name: "candidates", Title: "Candidates", Needed: true, Hint: "with their stints, as P:2, R:2; without a number: two"},
			{Name: "controls", Title: "Control stints", Number: true, Hint: "empty: as usual"},
			{Name: "runs", Title: "Runs a stint", Number: true, Value: "6"},
			{Name: "blocks", Title: "Days or sessions", Number: true, Value: "1"},
			{Name: "between", Title: "Candidates between controls, at most", Number: true, Value: "3", Hint: "0: any number"},
			{Name: "correction", Title: "Drift is taken out by", Value: string(drift.Bracket), Choices: form.Words("", drift.Bracket, drift.Linear, drift.Quadratic, drift.None)},
			{Name: "seed", Title: "Seed of the draw", Number: true, Value: "1", Hint: "the same seed, the same order"},
			{Name: "reversed", Title: "Each pass in the reverse of the one before", Tick: true},
			{Name: "twice", Title: "A code may follow itself", Tick: true},
			{Name: "open_ends", Title: "The control need not open and close", Tick: true},
		}},
		{Title: "What is known", Fields: []form.Field{
			{Name: "stint_sd", Title: "Scatter of stints", Hint: "standard deviation in %, as 0.8; of differences with its unit, as 0.25 m; empty: the answer is in it"},
			{Name: "run_sd", Title: "Scatter of runs within a stint", Hint: "the same"},
			{Name: "wanted", Title: "Difference to be shown", Hint: "index points, as 2; of differences with its unit"},
			{Name: "walk", Title: "Drift from stint to stint", Symbol: "sd of a stint", Number: true, Hint: "empty: as the record has it, or usual"},
			{Name: "history", Title: "Or scatter of earlier control stints", Choices: histories, Hint: "instead of a number; a table is brought in below"},
			{Name: "earlier", Title: "Or of an earlier programme", Choices: tables, Hint: "its whole table"},
		}},
		{Title: "The day", Fields: []form.Field{
			{Name: "run_time", Title: "One run with its way back", Symbol: "min", Number: true, Hint: "empty: no timetable"},
			{Name: "start", Title: "First fitting begins", Value: "08:00", Hint: "ground’s clock"},
			{Name: "wheel", Title: "To change one wheel", Symbol: "min", Number: true, Value: "4"},
			{Name: "crew", Title: "Wheels changed at once", Number: true, Value: "1"},
			{Name: "wheels", Title: "Wheels of a set", Number: true, Value: "4"},
			{Name: "wetting", Title: "Wetting, after fitting", Symbol: "min", Number: true, Value: "0"},
			{Name: "warm_up", Title: "Warm-up", Symbol: "min", Number: true, Value: "0"},
			{Name: "cooling", Title: "Cooling between runs", Symbol: "min", Number: true, Value: "0"},
			{Name: "after", Title: "After the last run", Symbol: "min", Number: true, Value: "0"},
			{Name: "breaks", Title: "Breaks", Hint: "as 12:00-12:45, more with commas"},
			{Name: "daylight", Title: "Light", Hint: "as 08:10-15:40; or place and date"},
			{Name: "at", Title: "Place of the ground", Hint: "latitude, longitude: 57.1, -4.5"},
			{Name: "date", Title: "Date", Hint: "as 2026-11-25"},
		}},
		{Title: "Wear", Folded: true, Fields: []form.Field{
			{Name: "wear_most", Title: "Tread that a set may lose", Symbol: "mm", Number: true, Hint: "empty: no budget"},
			{Name: "wear_run", Title: "Lost by a run", Symbol: "mm", Number: true, Value: "0"},
			{Name: "wear_warm_up", Title: "Lost by a warm-up", Symbol: "mm", Number: true, Value: "0"},
			{Name: "sets", Title: "Sets of each candidate", Number: true, Value: "1"},
			{Name: "control_sets", Title: "Sets of the control", Number: true, Value: "1"},
		}},
		{Title: "Load and speed", Folded: true, Fields: []form.Field{
			{Name: "speed", Title: "Highest speed that may be reached", Symbol: "km/h", Number: true, Hint: "empty: nothing is checked"},
			{Name: "sizes", Title: "Sizes as marked", Lines: 3, Hint: "one a line, as 205/55 R16 91V"},
			{Name: "axles", Title: "Axles: name, load, cold pressure", Lines: 3, Hint: "one a line, as front: 900 kg: 230 kPa, and behind another colon the most it may be set to"},
		}},
		{Title: "How it is judged", Folded: true, Fields: []form.Field{
			{Name: "scale", Title: "Scale", Value: string(programme.Ratio), Choices: form.Words("", programme.Ratio, programme.Difference), Hint: "ratio: index points; difference: a unit"},
			{Name: "stint_df", Title: "Degrees of freedom of the scatter", Number: true, Hint: "where a record will be used"},
			{Name: "power", Title: "Power", Symbol: "%", Number: true, Value: "80"},
			{Name: "sided", Title: "Intervals", Value: "two_sided", Choices: form.Words("", "two_sided", "one_sided")},
			{Name: "aim", Title: "Made small", Value: string(drift.Largest), Choices: form.Words("", drift.Largest, drift.Mean), Hint: "the largest variance, or their mean"},
			{Name: "weights", Title: "Weights of the kinds of drift", Value: "1, 1, 1, 1", Hint: "constant, linear, quadratic, random walk"},
			{Name: "rise", Title: "Linear drift over a day", Symbol: "sd of a stint", Number: true, Hint: "empty: as far as the walk goes"},
			{Name: "bow", Title: "Bow of the parabola", Symbol: "sd of a stint", Number: true, Hint: "empty: as the walk"},
		}},
	}}
}

// besides is what an address of an order keeps beside the form.
var besides = []string{"test", "own"}

// Complete gives an address with what is usual where it says nothing. repeats is
// for candidates without a number of their own, as the command line has it.
func Complete(q url.Values, usual map[string]string) url.Values {
	f := Form(nil, nil)
	f.Begins(usual)
	out := f.Complete(q)
	if n := strings.TrimSpace(out.Get("repeats")); n != "" {
		all := typed.Codes(out.Get("candidates"))
		for i, c := range all {
			if !strings.Contains(c, ":") {
				all[i] = c + ":" + n
			}
		}
		out.Set("candidates", strings.Join(all, ", "))
	}
	return out
}

// Asked tells whether an order is asked for.
func Asked(q url.Values) bool { return Form(nil, nil).Asked(q) || q.Has("own") }

// Kept gives of an address what the form has, with the order of one's own.
func Kept(q url.Values) url.Values { return Form(nil, nil).Part(q, besides...) }

// Request reads the form.
func Request(ctx context.Context, a Ask, q url.Values) (out ordering.Request, err error) {
	r := &typed.Reader{Reader: form.Reader{Typed: q}}
	out = ordering.Request{Scale: programme.Ratio, Own: typed.Codes(q.Get("own"))}
	if r.Text("scale") == string(programme.Difference) {
		out.Scale = programme.Difference
	}
	out.Control = r.Text("control")
	if out.Control == "" {
		r.Bad("control", "the code that opens and closes the sequence", "no control is named")
		return out, r.Err
	}
	for _, c := range r.Counted("candidates", 1, 2) {
		out.Candidates = append(out.Candidates, order.Candidate{Code: c.Code, Repeats: c.N})
	}
	if len(out.Candidates) == 0 {
		r.Bad("candidates", "as P:2, R:2", "no candidate is named")
		return out, r.Err
	}
	out.Runs, out.Blocks, out.MostBetween = max(1, r.Count("runs", 1)), max(1, r.Count("blocks", 1)), r.Count("between", 0)
	if out.ControlStints = r.Count("controls", 0); out.ControlStints == 0 {
		out.ControlStints = order.UsualControls(out.Candidates, out.Blocks, out.MostBetween)
	}
	out.Reversed, out.SameTwice, out.OpenEnds = r.Ticked("reversed"), r.Ticked("twice"), r.Ticked("open_ends")
	out.Correction, out.Aim = drift.Correction(r.Text("correction")), drift.Aim(r.Text("aim"))
	if text := r.Text("seed"); text != "" {
		if out.Seed, err = strconv.ParseUint(text, 10, 64); err != nil {
			r.Unread("seed", text, "a whole number")
		}
	}
	drifting(r, &out)
	known(ctx, a, r, &out)
	times(r, &out, a.State.Programme.Zone)
	if most := r.Amount("wear_most", 0); most > 0 || r.Count("sets", 1) > 1 || r.Count("control_sets", 1) > 1 {
		out.Wear = &day.Wear{MostM: most / 1e3, RunM: r.Amount("wear_run", 0) / 1e3, WarmUpM: r.Amount("wear_warm_up", 0) / 1e3, Sets: max(1, r.Count("sets", 1)), ControlSets: max(1, r.Count("control_sets", 1))}
	}
	if speed := r.Amount("speed", 0); speed > 0 {
		fit, field, err := fitment.Parse(lines(r.Text("sizes")), lines(r.Text("axles")), unit.KilometrePerHour.ToHouse(speed))
		r.Refuse(field, err)
		out.Fitment = fit
	} else if axles := r.Text("axles"); axles != "" {
		r.Bad("axles", "say the highest speed that may be reached", "loads are to be checked, and it is not said how fast the test is")
	}
	return out, r.Err
}

// lines divides what was typed by lines and semicolons.
func lines(text string) []string {
	var out []string
	for _, l := range strings.FieldsFunc(text, func(c rune) bool { return c == '\n' || c == '\r' || c == ';' }) {
		if l = strings.TrimSpace(l); l != "" {
			out = append(out, l)
		}
	}
	return out
}

// drifting reads what is assumed of the drift.
func drifting(r *typed.Reader, out *ordering.Request) {
	out.Drift.StepSD = r.Amount("walk", 0)
	out.Drift.RiseSD, out.Drift.BowSD = r.Some("rise"), r.Some("bow")
	text := r.Text("weights")
	if text == "" {
		return
	}
	parts := strings.FieldsFunc(text, func(c rune) bool { return c == ',' || c == ' ' || c == ';' })
	if len(parts) != len(out.Drift.Weights) {
		r.Unread("weights", text, "four weights, as 1, 1, 1, 1")
		return
	}
	for i, p := range parts {
		v, err := strconv.ParseFloat(p, 64)
		if err != nil || !(v >= 0) || math.IsInf(v, 0) {
			r.Unread("weights", text, "four weights of 0 and more, as 1, 1, 1, 1")
			return
		}
		out.Drift.Weights[i] = v
	}
}

// known reads what is known of the scatter, and what is to be shown.
func known(ctx context.Context, a Ask, r *typed.Reader, out *ordering.Request) {
	deviation := func(name string, ratio func(float64) float64) float64 {
		if out.Scale == programme.Ratio {
			text := r.Text(name)
			v := &typed.Reader{Reader: form.Reader{Typed: url.Values{name: {strings.TrimSuffix(text, "%")}}}}
			x := ratio(v.Amount(name, 0))
			if v.Err != nil {
				r.Unread(name, text, "a number of 0 and more; with a unit on the scale of differences alone")
			}
			return x
		}
		x, symbol, ok := difference(r, name)
		if !ok {
			return 0
		}
		if out.Unit != "" && symbol != out.Unit {
			r.Bad(name, "one measure, one unit", "it is in %s, what stands before in %s", symbol, out.Unit)
		}
		out.Unit = symbol
		return x
	}
	percent := func(x float64) float64 { return x / 100 } // a small deviation of the logarithm is one of the value over its level
	s := programme.Scatter{StintSD: deviation("stint_sd", percent), RunSD: deviation("run_sd", percent), StintDF: r.Amount("stint_df", 0), FromText: "typed in"}
	if s.StintSD > 0 || s.RunSD > 0 {
		out.Scatter = &s
	}
	out.Test.Wanted = deviation("wanted", ordering.OnRatio)
	out.Test.Power = r.Amount("power", 80) / 100 // 0.8 as the command line has it
	if r.Text("sided") == "one_sided" {
		out.Test.Sided = order.OneSided
	}
	if name := r.Text("history"); name != "" {
		h, err := History(ctx, a, name)
		r.Refuse("history", err)
		out.History = h
	}
	if name := r.Text("earlier"); name != "" {
		data, title, err := kept(ctx, a, name)
		r.Refuse("earlier", err)
		out.Earlier = &app.CompareRequest{Name: title, Data: data, Better: programme.Higher}
	}
}

// difference reads a difference with its unit.
func difference(r *typed.Reader, name string) (x float64, symbol string, ok bool) {
	text := r.Text(name)
	if text == "" {
		return 0, "", false
	}
	v, u, err := unit.ParseQuantity(text)
	if err != nil || !(v >= 0 && v <= 1e6) {
		r.Unread(name, text, "a number with its unit, as 0.25 m")
		return 0, "", false
	}
	if u.IsZero() {
		u = unit.One
	}
	return u.DifferenceToHouse(v), u.House().Symbol(), true
}

func times(r *typed.Reader, out *ordering.Request, zone string) {
	run := 60 * r.Amount("run_time", 0)
	if run == 0 {
		for _, name := range []string{"breaks", "daylight", "at", "date"} {
			if text := r.Text(name); text != "" {
				r.Bad(name, "say how long one run takes", "%.40q belongs to a timetable, and none is asked for", text)
			}
		}
		return
	}
	t := &day.Times{Crew: max(1, r.Count("crew", 1)), Wheels: max(1, r.Count("wheels", 4)), RunS: run, StartS: 8 * 3600,
		WheelS: 60 * r.Amount("wheel", 4), WettingS: 60 * r.Amount("wetting", 0), WarmUpS: 60 * r.Amount("warm_up", 0), CoolingS: 60 * r.Amount("cooling", 0), AfterS: 60 * r.Amount("after", 0)}
	if text := r.Text("start"); text != "" {
		t.StartS = r.Clock("start", text)
	}
	for _, text := range typed.Codes(r.Text("breaks")) {
		t.Breaks = append(t.Breaks, r.Span("breaks", text))
	}
	if text := r.Text("daylight"); text != "" {
		s := r.Span("daylight", text)
		t.Light = &s
	}
	out.Times = t
	lat, lon, ok := r.Place("at")
	if !ok {
		return
	}
	if zone == "" {
		zone = "UTC"
	}
	out.Sun = &ordering.SunAt{Sun: day.Sun{Latitude: lat, Longitude: lon}, Day: r.Text("date"), Zone: zone}
}

// Words by which earlier scatter is chosen: the ground's record by its key, a table
// that was brought in by its name and hash.
const (
	ofRecord = "record: "
	ofTable  = "table "
)

// Named gives the word by which a table that was brought in is chosen.
func Named(name, sum string) string { return ofTable + sum + " " + name }

// kept gives a table that was brought in.
func kept(ctx context.Context, a Ask, word string) ([]byte, string, error) {
	sum, name, ok := strings.Cut(strings.TrimPrefix(word, ofTable), " ")
	if b, err := hex.DecodeString(sum); !ok || err != nil || len(b) != 32 || !strings.HasPrefix(word, ofTable) {
		return nil, "", fault.New(fault.Invalid, "%q names no table", word).WithHint("bring it in below")
	}
	src, err := a.Folder.Store.Attachment(ctx, sum)
	if err != nil {
		return nil, "", err
	}
	defer func() { _ = src.Close() }() // read whole or refused
	data, err := io.ReadAll(io.LimitReader(src, 1<<24))
	if err != nil {
		return nil, "", fault.New(fault.Internal, "reading the table %s: %w", name, err)
	}
	return data, name, nil
}

// History gives what was chosen as control stints of earlier programmes.
func History(ctx context.Context, a Ask, word string) (*groundbook.History, error) {
	key, ok := strings.CutPrefix(word, ofRecord)
	if !ok {
		data, name, err := kept(ctx, a, word)
		return &groundbook.History{Name: name, Data: data}, err
	}
	rows, err := a.record(ctx)
	if err != nil {
		return nil, err
	}
	for _, k := range rows {
		if k.Key.String() == key {
			return k.History(), nil
		}
	}
	return nil, fault.New(fault.NotFound, "the ground’s record has no %s", key).WithHint("choose one of those that it has, or bring a table in")
}

// record gives the ground's record; nothing where no ground is at hand.
func (a Ask) record(ctx context.Context) ([]groundbook.KeyedStints, error) {
	if a.Folder.Ground == nil {
		return nil, nil
	}
	g, err := app.RebuildGround(ctx, a.Folder.Ground)
	if err != nil {
		return nil, err
	}
	return g.Record, nil
}

// Choices gives what can be chosen as earlier scatter: the ground's record, and what
// the address names already.
func (a Ask) Choices(ctx context.Context, q url.Values) (histories, tables []form.Choice, err error) {
	rows, err := a.record(ctx)
	if err != nil {
		return nil, nil, err
	}
	histories, tables = []form.Choice{{"", "none"}}, []form.Choice{{"", "none"}}
	for _, k := range rows {
		histories = append(histories, form.Words("", ofRecord+k.Key.String())...)
	}
	if w := strings.TrimSpace(q.Get("history")); strings.HasPrefix(w, ofTable) {
		histories = append(histories, chosen(w))
	}
	if w := strings.TrimSpace(q.Get("earlier")); w != "" {
		tables = append(tables, chosen(w))
	}
	return histories, tables, nil
}

// chosen gives a table that was brought in as people read it.
func chosen(word string) form.Choice {
	sum, name, _ := strings.Cut(strings.TrimPrefix(word, ofTable), " ")
	return form.Choice{word, fmt.Sprintf("%s (%.8s)", name, sum)}
}
