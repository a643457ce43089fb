package app

import (
	"context"
	"testing"

	"example.org/bookend/fault"
)

func TestABriefIsRewrittenByAnEntry(t *testing.T) {
	f, _ := moor(t)
	ctx := context.Background()
	b := state(t, f).BriefOf()
	n := state(t, f).Entries
	if err := f.Rewrite(ctx, b); err != nil || state(t, f).Entries != n {
		t.Errorf("the same brief makes an entry: %v", err)
	}
	b.Question, b.Client = " Which stops shortest? ", "Tarn Valley Ambulance"
	if err := f.Rewrite(ctx, b); err != nil {
		t.Fatal(err)
	}
	s := state(t, f)
	if s.Programme.Question != "Which stops shortest?" || s.Programme.Client != b.Client || s.Programme.Title != "moor" || s.Entries != n+1 || s.Programme.ID == "" {
		t.Errorf("%+v", s.Programme)
	}
	b.Question = "" // what is taken out is out
	if err := f.Rewrite(ctx, b); err != nil || state(t, f).Programme.Question != "" {
		t.Errorf("%v %+v", err, state(t, f).Programme)
	}
	bad := b
	bad.Title = " "
	if err := f.Rewrite(ctx, bad); fault.CodeOf(err) != fault.Invalid {
		t.Error(err)
	}
	bad = b
	bad.Zone = "Europe/Nowhere"
	if err := f.Rewrite(ctx, bad); fault.CodeOf(err) != fault.Invalid {
		t.Error(err)
	}
	bad.Zone = "UTC" // a run log is there, whose times were read in another
	if err := f.Rewrite(ctx, bad); fault.CodeOf(err) != fault.Conflict {
		t.Error(err)
	}
}
