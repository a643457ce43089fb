package sim

import (
	"fmt"
	"time"

	"example.org/bookend/sim/evaluator"
	"example.org/bookend/sim/write"
)

// Known is what a tyre truly shows in a test: the means of its figures.
type Known struct {
	Code   string
	Values []Value
}

// Value gives a figure; ok is false where there is none.
func (k *Known) Value(measure string) (v float64, ok bool) {
	r := Run{Values: k.Values}
	return r.Value(measure)
}

// Reference drives every tyre of the scenario, repeats stints each, through a test on
// a day that stands still: no drift, no scatter of fitments, the water as surveyed,
// new tyres, no incidents. All tyres meet the same lots, so that their differences are
// those of the tyres; what is left of the driver's scatter falls with the repeats.
func (s *Scenario) Reference(t *Test, repeats int) ([]Known, error) {
	still := *t
	still.Incidents = nil
	still.Day = Day{WaterTo: 1, WaterRunSD: t.Day.WaterRunSD, AirC: t.Day.AirC, SurfaceC: t.Day.SurfaceC}
	return each(len(s.Tyres), func(i int) (Known, error) {
		tyre := s.Tyres[i]
		k := Known{Code: tyre.Code}
		var sums []Value
		n := 0.0
		for rep := range repeats {
			st := &Stint{Test: t.ID, Code: tyre.Code, Position: 1, Grip: 1, Water: 1, AirC: still.Day.AirC, SurfaceC: still.Day.SurfaceC, Start: time.Unix(0, 0)}
			if err := s.session(&still, tyre, s.Drivers[t.Driver], st, s.random(fmt.Sprintf("%s/reference/%d", t.ID, rep))); err != nil {
				return k, err
			}
			for r := range st.Runs {
				n++
				for j, v := range st.Runs[r].Values {
					if j == len(sums) {
						sums = append(sums, Value{Measure: v.Measure})
					}
					for m := range sums {
						if sums[m].Measure == v.Measure {
							sums[m].Value += v.Value
						}
					}
				}
			}
		}
		for _, v := range sums {
			k.Values = append(k.Values, Value{v.Measure, v.Value / n})
		}
		return k, nil
	})
}

// Worth gives what each tyre is worth on each attribute of a rating test against the
// control, in points, as the evaluators' mean makes it, before they round.
func (s *Scenario) Worth(r *Ratings) ([]Known, error) {
	spread := 0.0
	for _, e := range r.By {
		spread += e.Spread / float64(len(r.By))
	}
	control, err := s.code(s.Control)
	if err != nil {
		return nil, err
	}
	var out []Known
	for _, t := range s.Tyres {
		k := Known{Code: t.Code}
		for _, a := range r.Attributes {
			own, err := evaluator.Worth(a, t.Character)
			if err != nil {
				return nil, err
			}
			theirs, err := evaluator.Worth(a, control.Character)
			if err != nil {
				return nil, err
			}
			k.Values = append(k.Values, Value{string(a), spread * (own - theirs)})
		}
		out = append(out, k)
	}
	return out, nil
}

// TruthSheet is the truth of stints as tables: their surroundings, and the figures of
// their runs.
type TruthSheet struct{ stints, runs write.Sheet }

// NewTruthSheet gives an empty one.
func NewTruthSheet() *TruthSheet {
	return &TruthSheet{
		stints: write.Sheet{Head: []string{"test", "stint", "code", "set", "start", "grip", "water", "air_degc", "surface_degc", "use_m", "worn_mm"}},
		runs:   write.Sheet{Head: []string{"test", "stint", "code", "run", "from_s", "to_s", "measure", "value"}},
	}
}

// Add adds a stint.
func (w *TruthSheet) Add(st *Stint) {
	d := write.Decimal
	w.stints.Add(st.Test, st.ID, st.Code, st.Set, st.Start.Format(time.RFC3339), d(st.Grip, 6), d(st.Water, 4), d(st.AirC, 2), d(st.SurfaceC, 2), d(st.UseM, 0), d(1000*st.WornM, 4))
	for _, r := range st.Runs {
		for _, v := range r.Values {
			w.runs.Add(st.Test, st.ID, st.Code, fmt.Sprint(r.Number), d(r.From, 4), d(r.To, 4), v.Measure, d(v.Value, 6))
		}
	}
}

// Files gives the tables.
func (w *TruthSheet) Files() []File {
	return []File{{Name: "truth-stints.csv", Data: w.stints.Bytes()}, {Name: "truth-runs.csv", Data: w.runs.Bytes()}}
}

// Motion gives the true motion of a stint as tables, one a recording, SI units.
func (st *Stint) Motion(t *Test) []File {
	var out []File
	for i, tr := range st.Traces {
		out = append(out, File{Name: "truth-" + recordingName(t, st.Position, i), Data: write.Motion(tr.Point)})
	}
	return out
}
