package app

import (
	"slices"

	"example.org/bookend/app/origin"
	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/procedure"
	"example.org/bookend/programme"
)

// sheets gives a test whose procedure reads rating sheets its observations: those of the
// run log, stint by stint, once every sheet of the test is closed. One sheet of a stint
// and rater is one observation an attribute. Of a test that is driven for something
// else, sheets are compared beside its measures, by room compare/opinion alone, which
// knows raters' severity and drift.
func (f *Folder) sheets(s *State, d *Driven) error {
	id := d.Test.Test.ID
	p, err := f.Shelf.Procedure(d.Test.Test.Procedure)
	if err != nil || len(p.Spec().Needs) > 0 {
		return nil //nolint:nilerr // a test of typed values has no procedure; whoever reduces says what is wrong
	}
	spec := p.Spec()
	log := s.Day.Sheets(id)
	if len(log.Observations) == 0 {
		return nil
	}
	if !s.Day.SheetsClosed(id) {
		d.Log.Caveats.Add("sheets_open", caveat.Place{Test: id}, "Sheets are still open; ratings count once all of them are closed.")
		return nil
	}
	params, err := spec.Settings(d.Test.Test.Parameters)
	if err != nil {
		return fault.At(err, "test %s", id)
	}
	for _, run := range log.Runs {
		in := procedure.Input{Run: run.ID, Parameters: params}
		for _, o := range log.Observations {
			if o.Run == run.ID {
				in.Ratings = append(in.Ratings, programme.Rating{Stint: run.Stint, Rater: o.Rater, Attribute: o.Measure, Value: o.Value})
			}
		}
		out, err := p.Reduce(in)
		if err != nil {
			return fault.At(err, "test %s", id)
		}
		sum, err := programme.Hash(in.Ratings)
		if err != nil {
			return err
		}
		derived, err := programme.Derivation{Raw: []string{sum}, Procedure: spec.ID, Version: spec.Version, Parameters: params, Programme: f.Shelf.Version}.ID()
		if err != nil {
			return err
		}
		run.Number = 1 + len(slices.DeleteFunc(slices.Clone(d.Log.Runs), func(r programme.Run) bool { return r.Stint != run.Stint }))
		d.Log.Runs = append(d.Log.Runs, run)
		d.Log.Caveats = append(d.Log.Caveats, out.Caveats.Within(caveat.Place{Test: id})...)
		for _, o := range out.Observations {
			o.Derivation = derived
			d.Log.Observations = append(d.Log.Observations, o)
			if m, ok := spec.Measure(o.Measure); ok && !slices.ContainsFunc(d.Measures, func(k programme.Measure) bool { return k.ID == m.ID }) {
				d.Measures = append(d.Measures, m)
			}
		}
	}
	d.Inputs = append(d.Inputs, origin.Hashed{Name: "chain of entries", SHA256: s.Head})
	return nil
}
