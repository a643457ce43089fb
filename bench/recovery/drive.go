package main

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"strings"

	"example.org/bookend/compare"
	"example.org/bookend/course"
	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited"
	"example.org/bookend/match"
	"example.org/bookend/procedure"
	"example.org/bookend/procedure/all"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
	"example.org/bookend/sim"
	"example.org/bookend/sim/tyremodel"
	"example.org/bookend/table"
)

// scenario gives the design's programme of a seed; differ is false for one whose
// tyres are all as the control.
func (d *design) scenario(seed uint64, differ bool) (*sim.Scenario, error) {
	s := sim.SkerryMoor(seed)
	if d.order == "" {
		// Runs are given to recordings as the log says: recordings that it exchanges are
		// the demonstration's own proof.
		for i := range s.Tests {
			s.Tests[i].Incidents = slices.DeleteFunc(slices.Clone(s.Tests[i].Incidents), func(x sim.Incident) bool { return x.Kind == sim.Swapped })
		}
		return &s, nil
	}
	words := d.words
	if !differ {
		words = ""
	}
	c, err := tyremodel.Say(words)
	if err != nil {
		return nil, err
	}
	s.Tyres = []sim.Tyre{{Code: "K"}, {Code: "P", Words: words, Character: c}, {Code: "T"}}
	for i := range s.Tests {
		t := &s.Tests[i]
		t.Order, t.Sets, t.Incidents = strings.Split(d.order, ""), nil, nil
		if d.runs > 0 {
			t.Runs = d.runs
		}
		if d.kind == claim {
			// A day that drifts along a straight line: what the fitted family holds.
			t.Day.GripBend, t.Day.GripWalk, t.Day.AirPerHour, t.Day.SurfPerHour, t.Day.WaterTo = 0, 0, 0, 0, 1
		}
	}
	return &s, nil
}

// known gives what the tyres truly show, by the ground's own figures. repeats stints
// of each leave little of the driver's scatter.
func (d *design) known(repeats int) (map[string]float64, error) {
	s, err := d.scenario(d.seed*1_000_000+999_999, true)
	if err != nil {
		return nil, err
	}
	var known []sim.Known
	if d.rated() {
		r, err := ratings(s, d.test)
		if err != nil {
			return nil, err
		}
		known, err = s.Worth(r)
		if err != nil {
			return nil, err
		}
	} else {
		t, err := s.Test(d.test)
		if err != nil {
			return nil, err
		}
		if known, err = s.Reference(t, repeats); err != nil {
			return nil, err
		}
	}
	out := map[string]float64{}
	for i := range known {
		v, ok := known[i].Value(d.truth)
		if !ok {
			return nil, fmt.Errorf("the ground knows no %s of %s", d.truth, known[i].Code)
		}
		out[known[i].Code] = v
	}
	return out, nil
}

func ratings(s *sim.Scenario, id string) (*sim.Ratings, error) {
	for i := range s.Ratings {
		if s.Ratings[i].ID == id {
			return &s.Ratings[i], nil
		}
	}
	return nil, fmt.Errorf("the scenario has no rating test %q", id)
}

// programme drives, records, reads, reduces and compares one programme.
func (d *design) programme(seed uint64, differ bool) (*compare.Result, error) {
	s, err := d.scenario(seed, differ)
	if err != nil {
		return nil, err
	}
	in := compare.Input{Place: d.place, Control: s.Control}
	if d.rated() {
		in.Log, in.Measure, err = sheets(s, d.test, d.measure)
	} else {
		in.Log, in.Measure, err = d.recordings(s)
	}
	if err != nil {
		return nil, err
	}
	in.Settings = compare.Settings{Drift: d.fit, Scale: in.Measure.Scale, Quick: true, Margin: &compare.Margin{Value: d.margin, InUnit: in.Measure.Scale != programme.Ratio}}
	return compare.Compare(in)
}

// sheets reads rating sheets.
func sheets(s *sim.Scenario, test, attribute string) (programme.Log, programme.Measure, error) {
	r, err := ratings(s, test)
	if err != nil {
		return programme.Log{}, programme.Measure{}, err
	}
	f, err := s.Sheets(r)
	if err != nil {
		return programme.Log{}, programme.Measure{}, err
	}
	t, err := table.Read(bytes.NewReader(f.Data), table.Options{Name: f.Name, Columns: map[string]string{"measure": "attribute"}})
	if err != nil {
		return programme.Log{}, programme.Measure{}, err
	}
	return t.Log, programme.Measure{ID: attribute, Title: attribute, Better: programme.Higher, Scale: programme.Difference, Digits: 2,
		Error: "scatter of stint means", About: "rated", Source: programme.Source{Key: programme.Own, Clause: "an attribute"}}, nil
}

// settings are what a fitter would tell the procedure of a test.
func settings(s *sim.Scenario, t *sim.Test) programme.Parameters {
	m := s.Mounting()
	number := func(id string, v float64) programme.Setting { return programme.Setting{ID: id, Number: v} }
	switch t.Kind {
	case sim.Stops:
		return programme.Parameters{{ID: "gradient", Word: "level"}}
	case sim.Slalom, sim.LaneChange:
		p := programme.Parameters{number("vehicle_width", s.Build.Width), number("body_ahead", m.BodyAhead), number("body_behind", m.BodyBehind),
			number("inertial_ahead", m.SeatAhead), number("reference_ahead", m.CentreAhead), number("set_speed", t.Speed)}
		if t.Kind == sim.LaneChange {
			p = append(p, programme.Setting{ID: "layout", Word: "iso_3888_1"})
		}
		return p
	}
	return nil
}

// recordings reads and reduces a test's files.
func (d *design) recordings(s *sim.Scenario) (log programme.Log, measure programme.Measure, err error) {
	t, err := s.Test(d.test)
	if err != nil {
		return log, measure, err
	}
	var p procedure.Procedure
	for _, q := range all.Procedures() {
		if q.Spec().ID == t.Procedure {
			p = q
		}
	}
	if p == nil {
		return log, measure, fmt.Errorf("there is no procedure %s", t.Procedure)
	}
	spec := p.Spec()
	measure, ok := spec.Measure(d.measure)
	if !ok {
		return log, measure, fmt.Errorf("procedure %s has no measure %s", t.Procedure, d.measure)
	}
	params, err := spec.Settings(settings(s, t))
	if err != nil {
		return log, measure, err
	}
	var c *course.Course
	if gates := s.Gates(t); len(gates) > 0 {
		var posts []course.Posts
		for _, g := range gates {
			q, err := course.ParseGate(fmt.Sprintf("%.9f,%.9f,%.9f,%.9f", g[0], g[1], g[2], g[3]))
			if err != nil {
				return log, measure, err
			}
			posts = append(posts, q)
		}
		if c, err = course.New(posts...); err != nil {
			return log, measure, err
		}
	}
	seen := map[string][]reduced{}
	take := func(f sim.File) error {
		if strings.HasSuffix(f.Name, "-run-log.csv") {
			tab, err := table.Read(bytes.NewReader(f.Data), table.Options{Name: f.Name, RunsAlone: true})
			if err != nil {
				return err
			}
			log, err = join(tab, seen)
			return err
		}
		rec, err := delimited.New().Read(context.Background(), bytes.NewReader(f.Data), ingest.Options{Name: f.Name})
		if err != nil {
			return err
		}
		pieces, _, err := match.Cut(rec, c, spec, params)
		if err != nil {
			return fmt.Errorf("%s: %w", f.Name, err)
		}
		for _, piece := range pieces {
			if piece.Kind != match.Timed {
				continue
			}
			got, err := p.Reduce(procedure.Input{Run: "1", Recordings: []*signal.Recording{rec}, FromS: piece.FromS, ToS: piece.ToS, Course: c, Parameters: params})
			if err != nil {
				return fmt.Errorf("%s: %w", f.Name, err)
			}
			r := reduced{odd: len(piece.Flags) > 0}
			for _, o := range got.Observations {
				if o.Measure == d.measure && o.Place == d.place {
					r.obs = append(r.obs, o)
				}
			}
			seen[f.Name] = append(seen[f.Name], r)
		}
		return nil
	}
	return log, measure, s.Write(t, take, nil)
}

// reduced is one run as its recording shows it.
type reduced struct {
	obs []programme.Observation
	odd bool // the recording flags it
}

// join gives the run log with the observations of its recordings, by order.
func join(tab *table.Table, seen map[string][]reduced) (programme.Log, error) {
	log := tab.Log
	names := tab.Cells["recording"]
	next := map[string]int{}
	for i, run := range tab.Runs {
		at := next[names[i]]
		next[names[i]]++
		if at >= len(seen[names[i]]) {
			return log, fmt.Errorf("%s holds %d runs, and the run log lists more", names[i], len(seen[names[i]]))
		}
		r := seen[names[i]][at]
		if r.odd {
			log.Exclusions = append(log.Exclusions, programme.Exclusion{Run: run, Reason: "flagged by the recording", Person: "recovery"})
		}
		for _, o := range r.obs {
			o.Run = run
			log.Observations = append(log.Observations, o)
		}
	}
	return log, nil
}
