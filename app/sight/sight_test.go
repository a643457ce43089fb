package sight

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"example.org/bookend/app/day"
	"example.org/bookend/clock"
	"example.org/bookend/programme"
	"example.org/bookend/programme/runlog"
)

// aDay is a run log in which every kind and every field of text is filled; what
// would give a tyre away says so. control is the code that the fitter's entries
// follow.
func aDay(t *testing.T, control string, sheets bool) *day.View {
	t.Helper()
	var entries []programme.Entry
	put := func(author, kind string, body map[string]any) {
		k, ok := runlog.KindOf(kind)
		if !ok {
			t.Fatal(kind)
		}
		for _, f := range k.Fields {
			if _, told := body[f.Key]; told || f.Key == "break" {
				continue
			}
			switch f.Type {
			case runlog.Text:
				body[f.Key] = "SECRET-" + kind + "-" + f.Key
			case runlog.Word:
				body[f.Key] = f.Words[0]
			case runlog.Number:
				body[f.Key] = *f.High
			case runlog.Numbers:
				body[f.Key] = []float64{*f.High}
			case runlog.Hash:
				body[f.Key] = strings.Repeat("5ec2e7", 10) + "5ec2"
			case runlog.EntryID:
				body[f.Key] = "00000000-0000-7000-8000-000000000001"
			}
		}
		delete(body, "at")
		for key := range body {
			if _, ok := k.Field(key); !ok {
				delete(body, key)
			}
		}
		text, err := json.Marshal(body)
		if err != nil {
			t.Fatal(err)
		}
		n := len(entries) + 1
		entries = append(entries, programme.Entry{
			ID: fmt.Sprintf("00000000-0000-7000-8000-%012d", n), Kind: kind, Version: 1, Body: text, Author: author, Device: "tablet", Counter: int64(n),
			DeviceTime: clock.Instant{UnixNS: int64(n) * 60e9, Clock: clock.Device}, Sequence: int64(n),
		})
	}
	put("fitter", runlog.Incident, map[string]any{"test": "lap", "stint": "2", "run": "1", "what": "spin", "tyre": "front_left"})
	for i, code := range []string{"A", "C", "F"} {
		set := "SECRET set of " + code
		if code == control {
			set = "SECRET control set"
		}
		stint := fmt.Sprint(i + 1)
		put("lead", runlog.Stint, map[string]any{"test": "lap", "stint": stint, "code": code, "set": set, "driver": "Rask", "block": "day 1", "reason": "none", "remark": "SECRET " + set})
		put("lead", runlog.Run, map[string]any{"test": "lap", "stint": stint, "run": "1"})
		put("lead", runlog.Times, map[string]any{"test": "lap", "stint": stint, "run": "1", "measure": "lap_time", "value": 77.123, "unit": "s", "place": "", "remark": "SECRET time"})
		for _, rater := range []string{"Rask", "other"} {
			put(rater, runlog.Rating, map[string]any{"test": "lap", "stint": stint, "rater": rater, "attribute": "precision by " + rater, "value": 6.5, "remark": "felt by " + rater})
			if sheets {
				put(rater, runlog.SheetClosed, map[string]any{"test": "lap", "stint": stint, "rater": rater})
			}
		}
	}
	for _, k := range runlog.Kinds() {
		switch k.ID {
		case runlog.Stint, runlog.Run, runlog.Times, runlog.Rating, runlog.SheetClosed, runlog.Incident, runlog.Cautions:
		default:
			put("fitter", k.ID, map[string]any{"test": "lap", "stint": "1", "run": "1", "spot": "middle", "what": word(k, "what"), "set": "SECRET set", "uncertainty_m": 0.001})
		}
	}
	v, err := day.Build(entries)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func word(k runlog.Kind, key string) string {
	if f, ok := k.Field(key); ok && len(f.Words) > 0 {
		return f.Words[0]
	}
	return "SECRET what"
}

func seen(t *testing.T, r Role, person string, v *day.View) string {
	t.Helper()
	e, err := RunLogOf(r, person, v)
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(e)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// Whoever drives and rates sees nothing that gives a tyre away, whatever people
// wrote into whichever field.
func TestADriverSeesNoIdentityNorSetNorTime(t *testing.T) {
	v := aDay(t, "A", false)
	got := seen(t, Driver, "Rask", v)
	for _, must := range []string{`"code":"A"`, `"attribute":"precision by Rask"`, `"water_depth_m"`, `"wind_mps"`} {
		if !strings.Contains(got, must) {
			t.Errorf("%s is not seen", must)
		}
	}
	for _, never := range []string{"SECRET", "5ec2e7", "77.123", "lap_time", "grooves", "kpa", "new_set", "number", "precision by other", "felt by other", `"set"`, "use_m"} {
		if i := strings.Index(got, never); i >= 0 {
			t.Errorf("%q is seen: …%s…", never, got[max(0, i-80):min(len(got), i+80)])
		}
	}
	// Sheets closed: the times and the others' ratings, and still no identity.
	got = seen(t, Driver, "Rask", aDay(t, "A", true))
	if !strings.Contains(got, "77.123") || !strings.Contains(got, "precision by other") || strings.Contains(got, "SECRET") {
		t.Errorf("with closed sheets: %s", got)
	}
}

// Which code is the control changes nothing of what a driver sees: byte for byte.
func TestWhichCodeIsTheControlCannotBeToldFromADriversView(t *testing.T) {
	for _, sheets := range []bool{false, true} {
		first := seen(t, Driver, "Rask", aDay(t, "A", sheets))
		for _, control := range []string{"C", "F"} {
			if got := seen(t, Driver, "Rask", aDay(t, control, sheets)); got != first {
				t.Errorf("control %s: the view differs", control)
			}
		}
		if lead := seen(t, Lead, "Rask", aDay(t, "C", sheets)); lead == seen(t, Lead, "Rask", aDay(t, "A", sheets)) {
			t.Error("the lead's view does not differ either: the test shows nothing")
		}
	}
}

func TestAClientSeesNothingOfTheRunLog(t *testing.T) {
	if got := seen(t, Client, "client", aDay(t, "A", true)); got != "[]" {
		t.Errorf("%s", got)
	}
	if got := seen(t, Fitter, "fitter", aDay(t, "A", true)); strings.Contains(got, "77.123") || strings.Contains(got, "precision by") || !strings.Contains(got, "grooves_m") {
		t.Errorf("the fitter sees times or ratings, or no sets: %s", got)
	}
}

// The table of decisions: who may see what (the roles are this project's own, the
// hiding from whoever drives and rates is common practice).
func TestWhoMaySeeWhat(t *testing.T) {
	for _, c := range []struct {
		role         Role
		matter       Matter
		open, closed bool
	}{
		{Driver, Identities, false, false}, {Driver, Control, false, false}, {Driver, SetRecords, false, false}, {Driver, Plan, false, false},
		{Driver, Verdicts, false, false}, {Driver, Report, false, false}, {Driver, Times, false, true}, {Driver, AllRatings, false, true}, {Driver, Conditions, true, true},
		{Client, Report, true, true}, {Client, Interim, true, true}, {Client, RunLog, false, false}, {Client, Identities, false, false}, {Client, Times, false, false},
		{Fitter, Identities, true, true}, {Fitter, Verdicts, false, false}, {Fitter, Times, false, false},
		{Engineer, Control, true, true}, {Engineer, Identities, false, false}, {Engineer, Verdicts, true, true},
		{Lead, Identities, true, true}, {Role("stranger"), Conditions, false, false}, {Lead, Matter("unheard of"), false, false},
	} {
		if May(c.role, c.matter, false) != c.open || May(c.role, c.matter, true) != c.closed {
			t.Errorf("%s and %s: %v with open sheets, %v with closed ones", c.role, c.matter, May(c.role, c.matter, false), May(c.role, c.matter, true))
		}
	}
	if _, err := Parse("stranger"); err == nil {
		t.Error("a stranger has a role")
	}
}
