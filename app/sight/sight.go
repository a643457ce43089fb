// Package sight says who may see what, as data: one table for every face.
//
// Roles are lead, driver (drives and rates), fitter (holds the key), engineer and
// client. Whoever drives or rates sees neutral codes: no identity, nothing that
// tells which code is the control, no set records, no times and no verdicts until
// the rating sheets are closed; after that times and verdicts by code, still
// without identities. The client sees the report, and the interim view that is made
// for it.
//
// What a role may see of the run log is a list of what is allowed, field by field:
// a kind or a field that nobody thought of is hidden.
package sight

import (
	"encoding/json"
	"slices"

	"example.org/bookend/app/day"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/programme/runlog"
)

// Role is what somebody does in a programme.
type Role string

// The roles.
const (
	Lead     Role = "lead"
	Driver   Role = "driver"
	Fitter   Role = "fitter"
	Engineer Role = "engineer"
	Client   Role = "client"
)

// Roles gives the roles in the order in which they are listed.
func Roles() []Role { return []Role{Lead, Driver, Fitter, Engineer, Client} }

// Matter is what there is to see.
type Matter string

// The matters.
const (
	Identities Matter = "identities" // what is driven under a code; a passphrase is asked for besides
	Control    Matter = "control"    // which codes are the control's, and how it moves
	SetRecords Matter = "set_records"
	Times      Matter = "times" // and every other value of a run
	Verdicts   Matter = "verdicts"
	RunLog     Matter = "run_log"
	AllRatings Matter = "all_ratings" // one's own are always seen
	Conditions Matter = "conditions"
	Plan       Matter = "plan" // it names the control
	Report     Matter = "report"
	Interim    Matter = "interim"
)

// when a role may see a matter.
type when int

const (
	never when = iota
	closed
	always
)

// table is who may see what. What is not in it is never seen.
var table = map[Role]map[Matter]when{
	Lead: {Identities: always, Control: always, SetRecords: always, Times: always, Verdicts: always, RunLog: always, AllRatings: always, Conditions: always, Plan: always, Report: always, Interim: always},
	// A driver's verdicts carry the control's post, so they stay with the engineer.
	Driver:   {Times: closed, AllRatings: closed, RunLog: always, Conditions: always},
	Fitter:   {Identities: always, Control: always, SetRecords: always, RunLog: always, Conditions: always},
	Engineer: {Control: always, SetRecords: always, Times: always, Verdicts: always, RunLog: always, AllRatings: always, Conditions: always, Plan: always, Report: always, Interim: always},
	Client:   {Report: always, Interim: always},
}

// May tells whether a role may see a matter. sheetsClosed: every rating sheet of
// the test is closed.
func May(r Role, m Matter, sheetsClosed bool) bool {
	w := table[r][m]
	return w == always || w == closed && sheetsClosed
}

// Parse gives the role of that name.
func Parse(name string) (Role, error) {
	if r := Role(name); slices.Contains(Roles(), r) {
		return r, nil
	}
	return "", fault.New(fault.Invalid, "%q is no role", name).WithHint("the roles are: lead, driver, fitter, engineer, client")
}

// Entry is an entry as somebody may see it. The hash of the chain is not in it: it
// would tell apart what must look the same.
type Entry struct {
	ID       string          `json:"id"`
	Kind     string          `json:"kind"`
	Version  int             `json:"version"`
	Sequence int64           `json:"sequence"`
	WhenNS   int64           `json:"when_ns"`
	Author   string          `json:"author"`
	Device   string          `json:"device"`
	Body     json.RawMessage `json:"body"`
}

// fields of the run log that whoever drives and rates may see always; of a kind
// that is not here, nothing.
var driven = map[string][]string{
	runlog.Stint:            {"test", "stint", "code", "driver", "block", "break", "reason", "at"},
	runlog.Run:              {"test", "stint", "run", "outside", "at"},
	runlog.Conditions:       {"test", "air_temperature_degc", "surface_temperature_degc", "water_temperature_degc", "wind_mps", "gust_mps", "wind_from_deg", "humidity_percent", "sky", "at"},
	runlog.Depth:            {"test", "spot", "water_depth_m", "uncertainty_m", "at"},
	runlog.Wetting:          {"test", "what", "at"},
	runlog.BrakeTemperature: {"test", "stint", "run", "front_left_degc", "front_right_degc", "rear_left_degc", "rear_right_degc", "at"},
	runlog.Fuel:             {"test", "stint", "fuel_m3", "added_m3", "at"},
	runlog.Incident:         {"what", "test", "stint", "run", "at"},
	runlog.Release:          {"incident", "outcome", "at"},
	runlog.Rating:           {"test", "stint", "rater", "attribute", "value", "remark", "at"},
	runlog.SheetClosed:      {"test", "stint", "rater", "at"},
	runlog.Cautions:         {"person", "test", "at"},
	runlog.Times:            {"test", "stint", "run", "measure", "value", "unit", "place", "better", "scale", "at"},
}

// own are the kinds of which their author sees every field.
var own = []string{runlog.Run, runlog.Remark, runlog.Incident, runlog.Release, runlog.Rating, runlog.Cautions, runlog.Conditions, runlog.Depth, runlog.Wetting}

// RunLogOf gives what a person in a role may see of the run log, in the server's
// order.
func RunLogOf(r Role, person string, v *day.View) ([]Entry, error) {
	out := []Entry{}
	if !May(r, RunLog, false) {
		return out, nil
	}
	for _, l := range v.Entries {
		keep, all := visible(r, person, v, l.Entry)
		if !all && len(keep) == 0 {
			continue
		}
		e := Entry{ID: l.Entry.ID, Kind: l.Entry.Kind, Version: l.Entry.Version, Sequence: l.Entry.Sequence, WhenNS: l.When, Author: l.Entry.Author, Device: l.Entry.Device, Body: l.Entry.Body}
		if !all {
			var err error
			if e.Body, err = only(l.Entry.Body, keep); err != nil {
				return nil, err
			}
		}
		out = append(out, e)
	}
	return out, nil
}

// visible gives the fields of an entry that somebody may see, or that all are.
func visible(r Role, person string, v *day.View, e programme.Entry) (keep []string, all bool) {
	test, rater := nameOf(e)
	// Where nothing is rated yet it may be later: no sheet is closed.
	done := slices.ContainsFunc(v.Ratings, func(r day.Rating) bool { return r.Test == test }) && v.SheetsClosed(test)
	switch e.Kind {
	case runlog.Set, runlog.Tread, runlog.TyreChanged, runlog.Pressures, runlog.TyreTemperature:
		return nil, May(r, SetRecords, done)
	case runlog.Times:
		if !May(r, Times, done) {
			return nil, false
		}
	case runlog.Rating:
		if !May(r, AllRatings, done) && rater != person {
			return nil, false
		}
	}
	if May(r, SetRecords, done) {
		return nil, true
	}
	if e.Author == person && slices.Contains(own, e.Kind) {
		return nil, true
	}
	return driven[e.Kind], false
}

func nameOf(e programme.Entry) (test, rater string) {
	var b struct {
		Test  string `json:"test"`
		Rater string `json:"rater"`
	}
	if json.Unmarshal(e.Body, &b) != nil {
		return "", ""
	}
	return b.Test, b.Rater
}

// only gives a body with the fields that are named.
func only(body json.RawMessage, keep []string) (json.RawMessage, error) {
	var all map[string]json.RawMessage
	if err := json.Unmarshal(body, &all); err != nil {
		return nil, fault.New(fault.Internal, "reading an entry: %w", err)
	}
	for k := range all {
		if !slices.Contains(keep, k) {
			delete(all, k)
		}
	}
	return programme.Canonical(all)
}
