package caveat_test

import (
	"encoding/json"
	"testing"

	"example.org/bookend/caveat"
)

func TestPlaceReadsFromOutermostToInnermost(t *testing.T) {
	p := caveat.Place{Channel: "yaw", TimeS: caveat.At(12.5)}.Within(caveat.Place{File: "s3.csv", Line: 40, Channel: "ay", Stint: "3"})
	if got, want := p.String(), "s3.csv:40, channel yaw, stint 3, at 12.500 s"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

func TestNotesNumberTheSameCaveatOnce(t *testing.T) {
	var l caveat.List
	l.Add("one_stint", caveat.Place{Code: "P"}, "P rests on one stint.")
	l.Add("gap", caveat.Place{Channel: "speed"}, "%d samples are missing.", 3)
	l.Add("one_stint", caveat.Place{Code: "P"}, "P rests on one stint.")
	var n caveat.Notes
	got := []int{n.Mark(l[0]), n.Mark(l[1]), n.Mark(l[2])}
	if got[0] != 1 || got[1] != 2 || got[2] != 1 || len(n.List()) != 2 {
		t.Errorf("numbers %v, %d notes", got, len(n.List()))
	}
	if len(l.Distinct()) != 2 || !l.Has("gap") || l.Has("nonesuch") {
		t.Error("Distinct or Has misjudge the list")
	}
}

func TestWithinLeavesTheOriginalAlone(t *testing.T) {
	var l caveat.List
	l.Add("gap", caveat.Place{}, "A gap.")
	_ = l.Within(caveat.Place{File: "a.csv"})
	if l[0].Place.File != "" {
		t.Error("Within changed the list it was given")
	}
}

func TestTheWrittenFormIsFixed(t *testing.T) {
	c := caveat.Caveat{Code: "gap", Place: caveat.Place{File: "a.csv", TimeS: caveat.At(0)}, Text: "A gap."}
	b, err := json.Marshal(c)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := string(b), `{"code":"gap","place":{"file":"a.csv","time_s":0},"text":"A gap."}`; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}
