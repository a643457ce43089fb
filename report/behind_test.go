package report_test

import (
	"slices"
	"strings"
	"testing"

	"example.org/bookend/compare"
	"example.org/bookend/programme"
	"example.org/bookend/report"
)

// two gives a programme with a test of eight measures: the first answers.
func two(t *testing.T) report.Input {
	t.Helper()
	l := windy()
	ms := []report.Measured{{Both: both(t, l, distance, compare.Settings{})}}
	for _, id := range []string{"b", "c", "d", "e", "f", "g", "h"} {
		m := distance
		m.ID, m.Title = id, "measure "+id
		for _, o := range l.Observations {
			if o.Measure == "distance" {
				l.Observations = append(l.Observations, programme.Observation{Run: o.Run, Measure: id, Value: o.Value + float64(len(ms))})
			}
		}
		ms = append(ms, report.Measured{Both: both(t, l, m, compare.Settings{})})
	}
	return report.Input{Tests: []report.Test{{Title: "Wet stops", Log: l, Measures: ms}}}
}

// What a client reads stands before the appendix, and the appendix has every measure, every
// stint and every run.
func TestTheAppendixIsBehindTheAnswerAndHasTheRest(t *testing.T) {
	d := build(t, two(t))
	behind := slices.IndexFunc(d.Sections, func(s report.Section) bool { return s.Behind })
	var front, back []string
	for i, s := range d.Sections {
		if s.Behind != (i >= behind) {
			t.Errorf("section %s is behind: %v", s.ID, s.Behind)
		}
		if s.Of != "" && !slices.ContainsFunc(d.Sections, func(x report.Section) bool { return x.ID == s.Of }) {
			t.Errorf("section %s goes on with %s, which is not there", s.ID, s.Of)
		}
		if s.Behind {
			back = append(back, s.ID)
		} else {
			front = append(front, s.ID)
		}
	}
	for _, id := range []string{"t1m1", "exclusions", "limits", "cautions"} {
		if !slices.Contains(front, id) {
			t.Errorf("%s is not in front: %v", id, front)
		}
	}
	for _, id := range []string{"plan", "method", "t1m1-rests", "t1m2", "t1m6", "t1-more", "t1-conditions", "sets", "t1-runs", "hashes"} {
		if !slices.Contains(back, id) {
			t.Errorf("%s is not in the appendix: %v", id, back)
		}
	}
	text := all(t, two(t))
	for _, want := range []string{"Stints in the order driven, stopping distance", "Each candidate against the control K: measures that describe", "measure h", "Values of stopping distance"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is lost", want)
		}
	}
}

// Runs that are left out for the same reason, and conditions that do not change within a
// stint, are said once.
func TestWhatIsAlikeIsListedOnce(t *testing.T) {
	in := two(t)
	l := wet()
	for _, r := range []string{"2/1", "2/2", "2/3"} {
		l.Exclusions = append(l.Exclusions, programme.Exclusion{Run: r, Reason: "recordings exchanged"})
	}
	in.Tests = []report.Test{{Log: l, Measures: []report.Measured{{Both: both(t, l, distance, compare.Settings{})}}}}
	d := build(t, in)
	for _, s := range d.Sections {
		for _, k := range s.Blocks {
			switch {
			case k.Table == nil:
			case k.Table.ID == "exclusions-table":
				if n := len(k.Table.Rows); n != 1 || k.Table.Rows[0].Cells[0].Text.String() != "2/1, 2/2, 2/3" || k.Table.Rows[0].Cells[3].Text.String() != "31.90; 32.10; 32.00" {
					t.Errorf("exclusions: %d rows, %v", n, k.Table.Rows[0])
				}
			case k.Table.ID == "t1-remarks":
				if n := len(k.Table.Rows); n != 1 || k.Table.Rows[0].Cells[1].Text.String() != "left out: recordings exchanged" {
					t.Errorf("remarks: %v", k.Table.Rows)
				}
			case k.Table.ID == "t1-runs-conditions":
				t.Error("conditions that are the same in all runs of every stint are listed run by run")
			case k.Table.ID == "t1-conditions-table" && k.Table.Caption.String() != "Conditions by stint, the same in all of its runs":
				t.Errorf("conditions: %s", k.Table.Caption.String())
			}
		}
	}
}
