package app

import (
	"encoding/json"
	"testing"

	"example.org/bookend/clock"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

func put(t *testing.T, sequence, counter int64, kind, supersedes string, body any) programme.Entry {
	t.Helper()
	b, err := json.Marshal(body)
	if err != nil {
		t.Fatal(err)
	}
	return programme.Entry{
		ID: kind + "-" + string(rune('a'+sequence)), Kind: kind, Version: 1, Body: b, Supersedes: supersedes,
		Device: "laptop", Counter: counter, Sequence: sequence, ServerTime: clock.Instant{UnixNS: sequence, Clock: clock.Server},
	}
}

func TestACorrectionTakesThePlaceOfWhatItSupersedes(t *testing.T) {
	first := put(t, 1, 1, KindProgramme, "", programme.Programme{ID: "p", Title: "Wet stops"})
	second := put(t, 2, 2, KindProgramme, first.ID, programme.Programme{ID: "p", Title: "Wet stops, van"})
	left := put(t, 3, 3, KindExclusion, "", ExclusionEntry{Test: "wet-stop", Exclusion: programme.Exclusion{Run: "6", Reason: "puddle"}})
	back := put(t, 4, 5, KindWithdrawal, left.ID, struct{}{})
	s, err := fold([]programme.Entry{first, second, left})
	if err != nil || s.Programme.Title != "Wet stops, van" || len(s.Exclusions) != 1 || s.Last.UnixNS != 3 || len(s.Gaps) != 0 {
		t.Fatalf("%+v, %v", s, err)
	}
	s, err = fold([]programme.Entry{first, second, left, back})
	if err != nil || len(s.Exclusions) != 0 || s.Entries != 4 {
		t.Fatalf("%+v, %v", s, err)
	}
	if len(s.Gaps) != 1 || s.Gaps[0].String() != "laptop: an entry has not come: 4" {
		t.Errorf("counter 4 is missing, but the gaps are %v", s.Gaps)
	}
}

func TestAKindOrVersionFromTheFutureIsSaid(t *testing.T) {
	e := put(t, 1, 1, "nonesuch", "", struct{}{})
	if _, err := fold([]programme.Entry{e}); fault.CodeOf(err) != fault.Unsupported {
		t.Errorf("got %v", err)
	}
	e = put(t, 1, 1, KindTest, "", TestEntry{})
	e.Version = 2
	if _, err := fold([]programme.Entry{e}); fault.CodeOf(err) != fault.Unsupported {
		t.Errorf("got %v", err)
	}
	if _, err := (&State{}).Test("wet-stop"); fault.CodeOf(err) != fault.NotFound || fault.HintOf(err) == "" {
		t.Errorf("got %v", err)
	}
}
