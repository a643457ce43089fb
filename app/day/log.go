package day

import (
	"cmp"
	"slices"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/programme"
	"example.org/bookend/programme/runlog"
)

// Sequence is a test of the run log in the form that a comparison takes, and what
// else belongs to it.
type Sequence struct {
	Log        programme.Log
	Measures   []programme.Measure // of the values that people read off
	Recordings map[string][]string // by the recording's name: ids of its runs, in the order driven
	Held       []string            // ids of runs that no comparison may use yet
}

// Sequence gives a test of the run log. Runs that are held keep their place and
// have no observations; runs that a release left out are excluded with the
// reason. Positions count the stints from 1; clocks are s from the first stint.
func (v *View) Sequence(test string) Sequence {
	out := Sequence{Recordings: map[string][]string{}}
	of := v.Of(test)
	if len(of) == 0 {
		v.tell(test, &out.Log.Caveats) // of a test that is kept in tables
		return out
	}
	log := &out.Log
	start := of[0].When
	dry := 0
	for i, s := range of {
		c := float64(s.When-start) / 1e9
		log.Stints = append(log.Stints, programme.Stint{
			ID: s.StintBody.Stint, Code: s.Code, Set: s.Set, Position: float64(i + 1), ClockS: &c, Block: s.Block, Driver: s.Driver,
			Break: s.Broken() && i > 0, UseM: s.UseM, File: "run log",
		})
		for k, r := range s.Runs {
			run := programme.Run{ID: r.ID, Stint: s.StintBody.Stint, Number: k + 1, At: instant(r.When), Covariates: v.covariates(r), Remark: r.RunBody.Remark, File: "run log"}
			if _, ok := run.Covariates["water_depth_m"]; !ok && v.watered(test) {
				dry++
			}
			log.Runs = append(log.Runs, run)
			if r.RunBody.Recording != "" {
				out.Recordings[r.RunBody.Recording] = append(out.Recordings[r.RunBody.Recording], r.ID)
			}
			if r.LeftOut != "" {
				log.Exclusions = append(log.Exclusions, programme.Exclusion{Run: r.ID, Reason: r.LeftOut, Person: r.Releaser})
			}
			if len(r.HeldBy) > 0 {
				out.Held = append(out.Held, r.ID)
				continue
			}
			for _, x := range r.Results {
				log.Observations = append(log.Observations, programme.Observation{Run: r.ID, Measure: x.Measure, Place: x.Place, Value: x.Value})
			}
		}
	}
	for _, s := range of {
		for _, r := range s.Runs {
			for _, x := range r.Results {
				out.measure(x)
			}
		}
	}
	if dry > 0 {
		log.Caveats.Add("depth_unknown", caveat.Place{Test: test}, "For %d runs the water depth is not known: it was not read before and after them within one wetting.", dry)
	}
	v.tell(test, &log.Caveats)
	for _, c := range v.Caveats {
		if c.Place.Test == test || c.Place.Test == "" {
			log.Caveats = append(log.Caveats, c)
		}
	}
	return out
}

// tell adds what went wrong in a test and what was done otherwise than planned, in
// the order logged: a reader of its results must know.
func (v *View) tell(test string, list *caveat.List) {
	for _, i := range v.Incidents {
		if i.Test != test && !everywhere(i.What) {
			continue
		}
		place := caveat.Place{Test: i.Test, Stint: i.Stint}
		switch {
		case !doubted(i.What):
			list.Add("incident", place, "%s: %s.", i.Title(), strings.TrimSuffix(i.Text, "."))
		case i.Release != nil:
			what := map[string]string{
				runlog.AsBefore: "they count as they were driven",
				runlog.Break:    "they count behind a declared break",
				runlog.LeftOut:  "they are left out",
			}[i.Release.Outcome]
			list.Add("incident", place, "%s: %s. %d runs were held; released by %s: %s; %s.", i.Title(), strings.TrimSuffix(i.Text, "."), len(i.Held), i.Release.Entry.Author, strings.TrimSuffix(i.Release.Finding, "."), what)
		}
	}
	for _, d := range v.Deviations {
		if d.Test == test || d.Test == "" {
			list.Add("deviation", caveat.Place{Test: d.Test}, "The plan was left: %s; %s (%s).", strings.TrimSuffix(d.What, "."), strings.TrimSuffix(d.Reason, "."), d.Entry.Author)
		}
	}
}

// measure declares the measure of a value, unless it is declared already; the
// first value that says which are better decides.
func (q *Sequence) measure(x Result) {
	i := slices.IndexFunc(q.Measures, func(m programme.Measure) bool { return m.ID == x.Measure })
	if i < 0 {
		i = len(q.Measures)
		q.Measures = append(q.Measures, programme.Measure{
			ID: x.Measure, Title: x.Measure, Unit: x.Unit, Better: programme.Undirected, Scale: programme.Ratio, Digits: 2,
			Error: "scatter of stint means alike for all codes", About: "read off by a person",
			Source: programme.Source{Key: programme.Own, Clause: "a value of the run log"},
		})
	}
	m := &q.Measures[i]
	if m.Better == programme.Undirected && x.Better != "" {
		m.Better = programme.Better(x.Better)
	}
	if x.Scale != "" {
		m.Scale = programme.Scale(x.Scale)
	}
	m.Unit = cmp.Or(m.Unit, x.Unit)
	m.Places = m.Places || x.Place != ""
}

// Sheets gives the ratings of a test as a log: one sheet of a stint and rater is
// one observation an attribute, on a run of its own. Stints stand where they were
// driven.
func (v *View) Sheets(test string) programme.Log {
	var out programme.Log
	for i, s := range v.Of(test) {
		id := s.StintBody.Stint
		run := programme.Run{ID: id + "/sheet", Stint: id, Number: 1, At: instant(s.When), File: "run log"}
		var list []programme.Observation
		for _, r := range v.Ratings {
			if r.Test == test && r.RatingBody.Stint == id && !r.otherScale() {
				list = append(list, programme.Observation{Run: run.ID, Measure: r.Attribute, Rater: r.Rater, Value: r.Value})
			}
		}
		if len(list) == 0 {
			continue
		}
		out.Stints = append(out.Stints, programme.Stint{ID: id, Code: s.Code, Set: s.Set, Position: float64(i + 1), Block: s.Block, Driver: s.Driver, Break: s.Broken() && i > 0, File: "run log"})
		out.Runs = append(out.Runs, run)
		out.Observations = append(out.Observations, list...)
	}
	return out
}
