package app

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/gob"
	"slices"

	"example.org/bookend/app/lines"
	"example.org/bookend/fault"
	"example.org/bookend/figure"
	"example.org/bookend/procedure"
	"example.org/bookend/programme"
)

// Overlay lays the traces of a test's runs over each other, as its procedure does it:
// those of runs that count, are nobody's doubt, are not left out and are not held back.
// The control's runs come first, then the candidates', each in the order driven.
func (f *Folder) Overlay(ctx context.Context, s *State, d *Driven, control string) ([]figure.Figure, error) {
	in, err := f.Overlaid(ctx, s, d, control)
	if err != nil || len(in) == 0 {
		return nil, err
	}
	p, err := f.Shelf.Procedure(d.Test.Test.Procedure)
	if err != nil {
		return nil, err
	}
	figs, err := p.Overlay(in)
	return figs, fault.At(err, "figures of test %s", d.Test.Test.ID)
}

// Lines lays the paths of a test's runs over each other as seen from above: those of the
// runs that Overlay has. It gives nil where fewer than two codes have a path.
func (f *Folder) Lines(ctx context.Context, s *State, d *Driven, control string) (*lines.Lines, error) {
	in, err := f.Overlaid(ctx, s, d, control)
	if err != nil {
		return nil, err
	}
	return lines.Lay(in), nil
}

// Overlaid gives the traces that Overlay lays over each other, a run at a time, under
// the codes that the runs were driven under as far as they are opened.
func (f *Folder) Overlaid(ctx context.Context, s *State, d *Driven, control string) ([]procedure.Overlaid, error) {
	traces := map[string][]procedure.Trace{}
	for _, r := range d.Recorded {
		if !slices.ContainsFunc(r.Pieces, func(p RecordedPiece) bool { return p.used() }) {
			continue
		}
		own, err := f.Traces(ctx, s, d.Test, r.Recording)
		if err != nil {
			return nil, err
		}
		for _, p := range r.Pieces {
			if p.used() {
				traces[p.LogRun] = own[p.Run]
			}
		}
	}
	left := map[string]bool{}
	for _, x := range d.Log.Exclusions {
		if x.Measure == "" {
			left[x.Run] = true
		}
	}
	shown := map[string]bool{} // what is held back has no observation either
	for _, o := range d.Log.Observations {
		shown[o.Run] = true
	}
	var first, then []procedure.Overlaid
	for _, st := range d.Log.Stints {
		for _, r := range d.Log.Runs {
			if r.Stint != st.ID || left[r.ID] || !shown[r.ID] || len(traces[r.ID]) == 0 {
				continue
			}
			o := procedure.Overlaid{Code: st.Code, Stint: st.ID, Run: r.ID, Traces: traces[r.ID]}
			if st.Code == control {
				first = append(first, o)
			} else {
				then = append(then, o)
			}
		}
	}
	if len(first) == 0 {
		return nil, nil // nothing to lay the others beside
	}
	return append(first, then...), nil
}

// used tells whether a piece is a run of the log; whether that is left out stands in
// the log.
func (p RecordedPiece) used() bool { return p.LogRun != "" }

// Traces gives the traces of a recording's runs by the runs' own numbers in it, kept
// ones where the same recording, settings and procedure gave them before.
func (f *Folder) Traces(ctx context.Context, s *State, test TestEntry, r RecordingEntry) (map[string][]procedure.Trace, error) {
	w, err := f.work(ctx, s, test, r)
	if err != nil {
		return nil, err
	}
	kept, err := tracesKey(w.key)
	if err != nil {
		return nil, err
	}
	runs, ok, err := f.unpacked(ctx, kept)
	if err != nil {
		return nil, err
	}
	if !ok {
		got, err := f.reduceRaw(ctx, s, w)
		if err != nil {
			return nil, err
		}
		runs = got.Overlaid
	}
	out := map[string][]procedure.Trace{}
	for _, o := range runs {
		out[o.Run] = o.Traces
	}
	return out, nil
}

// tracesKey gives the key of the traces that belong to a kept result.
func tracesKey(result string) (string, error) {
	return programme.Hash(struct {
		Schema int    `json:"schema"` // of traces; raised when it changes
		Of     string `json:"of"`
	}{2, result})
}

// keepTraces keeps the traces of a recording's runs beside its result.
func (f *Folder) keepTraces(ctx context.Context, result string, runs []procedure.Overlaid) error {
	key, err := tracesKey(result)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	z, _ := gzip.NewWriterLevel(&b, gzip.BestSpeed) // fails for levels that there are not
	if err := gob.NewEncoder(z).Encode(runs); err != nil {
		return fault.New(fault.Internal, "keeping traces: %w", err)
	}
	if err := z.Close(); err != nil {
		return fault.New(fault.Internal, "keeping traces: %w", err)
	}
	return f.Store.PutResult(ctx, key, b.Bytes())
}

func unpack(body []byte, into any) error {
	z, err := gzip.NewReader(bytes.NewReader(body))
	if err != nil {
		return err
	}
	return gob.NewDecoder(z).Decode(into)
}
