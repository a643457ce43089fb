package app

import (
	"context"

	"example.org/bookend/app/lines"
	"example.org/bookend/app/trace"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
	"example.org/bookend/soundness/clocks"
	"example.org/bookend/soundness/mend"
)

// Drawn gives the channels of a recording as they are reduced: mended, with those of
// other instruments beside it laid on its clock. Shelf keeps what was read last.
func (f *Folder) Drawn(ctx context.Context, s *State, r RecordingEntry, shelf *trace.Shelf) (*trace.Traces, error) {
	if m, ok := s.MainOf(r); ok {
		r = m
	}
	of := append([]RecordingEntry{r}, s.Beside(r)...)
	var mends [][]mend.Mend
	for _, o := range of {
		_, m := s.mends(o)
		mends = append(mends, m)
	}
	key, err := programme.Hash(struct {
		Recordings []RecordingEntry `json:"recordings"`
		Mends      [][]mend.Mend    `json:"mends"`
		Zone       string           `json:"zone"`
	}{of, mends, s.Programme.Zone})
	if err != nil {
		return nil, err
	}
	return shelf.Get(key, func() (*trace.Traces, error) {
		var recs []*signal.Recording
		for _, o := range of {
			rec, err := f.raw(context.WithoutCancel(ctx), s, o) // others may wait for it
			if err != nil {
				return nil, err
			}
			recs = append(recs, rec)
		}
		recs, _ = clocks.Lay(recs)
		return trace.Of(recs...), nil
	})
}

// DrawnRun gives the channels of a run whose line is laid, with when it was at which
// station; they are those of Drawn.
func (f *Folder) DrawnRun(ctx context.Context, s *State, d *Driven, l *lines.Lines, run string, shelf *trace.Shelf) (*trace.Run, error) {
	t, station, ok := l.Clock(run)
	if !ok {
		return nil, fault.New(fault.NotFound, "of run %q it is not known when it was where", run)
	}
	for _, r := range d.Recorded {
		for _, p := range r.Pieces {
			if p.LogRun != run || !p.used() {
				continue
			}
			all, err := f.Drawn(ctx, s, r.Recording, shelf)
			if err != nil {
				return nil, err
			}
			out := &trace.Run{Run: run, Channels: all.Channels, S: station}
			for _, x := range t {
				out.T = append(out.T, p.FromS+x)
			}
			for _, x := range l.Runs() {
				if x.Run == run {
					out.Code = x.Code
				}
			}
			return out, nil
		}
	}
	return nil, fault.New(fault.NotFound, "run %q has no recording", run)
}
