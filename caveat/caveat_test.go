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

// What is said of twelve runs is one note. By hand.
func TestAlikeCaveatsAreOneNoteWithAListOfItsPlaces(t *testing.T) {
	var n caveat.Notes
	for _, run := range []string{"05/1", "05/2", "05/3", "05/4", "05/6", "06/1", "06/2"} {
		p := caveat.Place{File: "stop-" + run[:2] + ".csv", Test: "wet-stop", Stint: run[:2], Run: run, TimeS: caveat.At(1)}
		if got := n.Mark(caveat.Caveat{Code: "swapped", Place: p, Text: "They may have been exchanged."}); got != 1 {
			t.Fatalf("run %s has note %d", run, got)
		}
	}
	if got := n.Mark(caveat.Caveat{Code: "swapped", Text: "Another text."}); got != 2 {
		t.Errorf("another text has note %d", got)
	}
	if got, want := caveat.Where(n.List()[0].Places), "stop-05.csv, test wet-stop, runs 05/1 to 05/4 and 05/6; stop-06.csv, test wet-stop, runs 06/1 and 06/2"; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	for _, c := range []struct {
		places []caveat.Place
		want   string
	}{
		{nil, ""},
		{[]caveat.Place{{}, {}}, ""},
		{[]caveat.Place{{Measure: "lap_time"}, {Measure: "mfdd"}}, "lap_time and mfdd"},
		{[]caveat.Place{{Measure: "mfdd", Code: "T"}, {Measure: "mfdd", Code: "W"}, {Measure: "lap_time", Code: "W"}}, "mfdd, codes T and W; lap_time, code W"},
		{[]caveat.Place{{File: "s08.csv", Channel: "ax"}, {File: "s09.csv", Channel: "ax"}, {File: "s10.csv", Channel: "ax"}}, "s08.csv to s10.csv, channel ax"},
		{[]caveat.Place{{Run: "1/1", TimeS: caveat.At(2)}}, "run 1/1, at 2.000 s"},
		{[]caveat.Place{{Stint: "9"}, {Stint: "10"}, {Stint: "11"}}, "stints 9 to 11"},
	} {
		if got := caveat.Where(c.places); got != c.want {
			t.Errorf("got %q, want %q", got, c.want)
		}
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
