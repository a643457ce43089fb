package app

import (
	"context"

	"example.org/bookend/app/trace"
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
