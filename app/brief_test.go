package app

import (
	"context"
	"fmt"
	"math"
	"sync"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/programme"
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

// What the vehicle asks makes the entry one of version 2; what says nothing of it stays
// version 1, and both are read.
func TestWhatTheVehicleAsksHasAVersionOfItsOwn(t *testing.T) {
	f, _ := moor(t)
	ctx := context.Background()
	newest := func() (string, int) {
		all, err := f.Store.Entries(ctx, 0)
		if err != nil {
			t.Fatal(err)
		}
		e := all[len(all)-1]
		return e.Kind, e.Version
	}
	b := state(t, f).BriefOf()
	b.Client = "Tarn Valley Ambulance"
	if err := f.Rewrite(ctx, b); err != nil {
		t.Fatal(err)
	}
	if kind, version := newest(); kind != KindProgramme || version != 1 {
		t.Errorf("%s %d", kind, version)
	}
	b.Asked.RearKg, b.Asked.TopMps = 1230, 240/3.6
	if err := f.Rewrite(ctx, b); err != nil {
		t.Fatal(err)
	}
	if _, version := newest(); version != 2 || state(t, f).Programme.Asked != b.Asked {
		t.Errorf("version %d, %+v", version, state(t, f).Programme)
	}
	if got := state(t, f).Sidewall("205/55 R16 91V"); !got.Over() { // 615 kg a tyre, and 91 % of load index 91 at 240 km/h (UN R30)
		t.Errorf("%+v", got)
	}
	for _, bad := range []func(*Brief){
		func(b *Brief) { b.Asked.FrontKg = -1 }, func(b *Brief) { b.Asked.RearKg = 1e9 }, func(b *Brief) { b.Asked.TopMps = 1 }, func(b *Brief) { b.Asked.TopMps = math.NaN() }, func(b *Brief) { b.Asked.FrontKg = math.NaN() },
	} {
		x := b
		bad(&x)
		if err := f.Rewrite(ctx, x); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%+v: %v", x.Asked, err)
		}
	}
}

// A set stays under the name and code that it was driven under; one that nobody drove goes.
func TestSetsOfTheBrief(t *testing.T) {
	f, _ := moor(t)
	ctx := context.Background()
	n := state(t, f).Entries
	k1 := programme.Set{ID: "K1", Code: "K", Size: "205/55 R16 91V"}
	if err := f.PutSet(ctx, "", k1); err != nil {
		t.Fatal(err)
	}
	if err := f.PutSet(ctx, "K1", k1); err != nil || state(t, f).Entries != n+1 {
		t.Errorf("the same set makes an entry: %v", err)
	}
	if err := f.PutSet(ctx, "", programme.Set{ID: "X1", Code: "X"}); err != nil {
		t.Fatal(err)
	}
	// K was driven without the set being told, and K1 is the only one of that code.
	if why := state(t, f).Holds().Fast(state(t, f).Programme.Sets, "K1"); why == "" {
		t.Error("nothing holds a set that was driven")
	}
	if err := f.TakeSet(ctx, "K1"); fault.CodeOf(err) != fault.Conflict {
		t.Error(err)
	}
	if err := f.TakeSet(ctx, "X1"); err != nil {
		t.Error(err)
	}
	if got := state(t, f).Programme.Sets; len(got) != 1 || got[0] != k1 {
		t.Errorf("%+v", got)
	}
}

// Pages that add sets at the same moment lose none of each other's.
func TestSetsAddedAtOnceAreAllKept(t *testing.T) {
	f, _ := moor(t)
	var all sync.WaitGroup
	for i := range 12 {
		all.Add(1)
		go func() {
			defer all.Done()
			own := *f // as each page has its own
			own.Author = fmt.Sprint("page ", i)
			if err := own.PutSet(context.Background(), "", programme.Set{ID: fmt.Sprint("X", i), Code: "X"}); err != nil {
				t.Error(err)
			}
		}()
	}
	all.Wait()
	if n := len(state(t, f).Programme.Sets); n != 12 {
		t.Errorf("%d sets of 12 are kept", n)
	}
}

// A test is begun before anything of it is there, set up otherwise as long as nothing is,
// and an import into it finds it.
func TestATestIsBegun(t *testing.T) {
	f, _ := moor(t)
	ctx := context.Background()
	q := BeginRequest{ID: " stop ", Title: "Stops in the wet", Procedure: "braking", Given: programme.Parameters{{ID: "from_speed", Number: 70 / 3.6}}}
	spec, err := f.Shelf.Procedure("braking")
	if err != nil {
		t.Fatal(err)
	}
	if err := f.SetTest(ctx, q); err != nil {
		t.Fatal(err)
	}
	s := state(t, f)
	x, err := s.Test("stop")
	if err != nil || x.Test.Title != "Stops in the wet" || x.Test.Parameters.Number(q.Given[0].ID) != 70/3.6 || len(x.Test.Parameters) != len(spec.Spec().Parameters) {
		t.Fatalf("%v %+v", err, x)
	}
	if err := f.SetTest(ctx, q); err != nil || state(t, f).Entries != s.Entries {
		t.Errorf("the same test makes an entry: %v", err)
	}
	if err := f.SetTest(ctx, BeginRequest{ID: "stop", Surface: "basalt"}); err != nil || state(t, f).Tests[len(state(t, f).Tests)-1].Test.Procedure != "braking" {
		t.Errorf("%v %+v", err, state(t, f).Tests)
	}
	for name, bad := range map[string]BeginRequest{
		"no name": {Procedure: "braking"}, "no such procedure": {ID: "x", Procedure: "none"}, "a gate that is none": {ID: "x", Procedure: "braking", Gates: []string{"here"}},
		"settings of nothing": {ID: "x", Reset: true, Given: q.Given},
	} {
		if err := f.SetTest(ctx, bad); err == nil || fault.CodeOf(err) == fault.Internal {
			t.Errorf("%s: %v", name, err)
		}
	}
	first := s.Tests[0].Test // a run log is there
	if err := f.SetTest(ctx, BeginRequest{ID: first.ID, Procedure: "braking", Reset: true, Given: q.Given}); fault.CodeOf(err) != fault.Conflict {
		t.Errorf("%s: %v", first.ID, err)
	}
}
