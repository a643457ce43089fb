package report_test

import (
	"strings"
	"testing"

	"example.org/bookend/caveat"
	"example.org/bookend/compare"
	"example.org/bookend/programme"
	"example.org/bookend/report"
	"example.org/bookend/unit"
)

// windy gives a log whose wind and air were typed with one decimal and whose entry
// speeds were typed in km/h.
func windy() programme.Log {
	l := wet()
	for i := range l.Runs {
		l.Runs[i].Covariates = map[string]float64{"wind_mps": []float64{2.1, 3, 3.4}[i%3], "air_temperature_degc": []float64{9, 18.5}[i%2],
			"entry_speed_mps": unit.KilometrePerHour.ToHouse([]float64{80.2, 81}[i%2]), "humidity": 60}
	}
	return l
}

// The water of a course is one condition, from the least reading at any of its spots to
// the greatest: naming the first spot alone would hide where it was deepest.
func TestTheWaterIsThatOfEverySpot(t *testing.T) {
	l := wet()
	for i := range l.Runs {
		l.Runs[i].Covariates = map[string]float64{"water_depth_1_m": []float64{0.0006, 0.0012}[i%2], "water_depth_2_m": 0.002, "water_depth_entry_m": 0.0005, "wind_mps": 2}
	}
	in := report.Input{Tests: []report.Test{{Log: l, Measures: []report.Measured{{Both: both(t, l, distance, compare.Settings{})}}}}}
	if text := all(t, in); !strings.Contains(text, "Conditions: water depth 0.5 to 2.0\u00a0mm, wind 2\u00a0m/s") {
		t.Error("the range is not that over the three spots")
	}
	for i := range l.Runs {
		delete(l.Runs[i].Covariates, "water_depth_2_m")
		delete(l.Runs[i].Covariates, "water_depth_entry_m")
	}
	if text := all(t, in); !strings.Contains(text, "water depth 1: 0.6 to 1.2\u00a0mm") {
		t.Error("one spot alone is not named")
	}
}

// Conditions are read in the unit of the trade, or the reader's, with the decimals that
// were typed: 2.1 to 3.4 m/s are 7.6 to 12.2 km/h, by hand; never 7.56.
func TestConditionsHaveTheDecimalsThatWereTyped(t *testing.T) {
	l := windy()
	in := report.Input{Tests: []report.Test{{Log: l, Measures: []report.Measured{{Both: both(t, l, distance, compare.Settings{})}}}}}
	for _, c := range []struct {
		style unit.Style
		want  string
	}{
		{unit.Style{}, "Conditions: air temperature 9.0 to 18.5\u00a0°C, entry speed 80.2 to 81.0\u00a0km/h, humidity 60"},
		{unit.Style{Speed: unit.MilePerHour}, "entry speed 49.83 to 50.33\u00a0mph"}, // 0.1 km/h are 0.06 mph
		{unit.Style{Comma: true}, "9,0 to 18,5"},
	} {
		in.Style = c.style
		if text := all(t, in); !strings.Contains(text, c.want) {
			t.Errorf("%+v: no %q", c.style, c.want)
		}
	}
	in.Style = unit.Style{}
	if text := all(t, in); !strings.Contains(text, "wind, m/s") || strings.Contains(text, "7.56") {
		t.Error("wind is not read in m/s")
	}
	in.Style.Speed = unit.KilometrePerHour
	if text := all(t, in); !strings.Contains(text, "wind, km/h") || !strings.Contains(text, "(7.6 to 12.2)") {
		t.Error("wind is not read as the reader asked")
	}
}

// all gives every text of a document, a line a piece.
func all(t *testing.T, in report.Input) string {
	t.Helper()
	var b strings.Builder
	walk(build(t, in), func(x report.Text) { b.WriteString(x.String() + "\n") })
	return b.String()
}

// A tyre that never floated is not "not shown: 0.00": there is nothing to compare.
func TestWhatNeverOccurredIsSaidToBeSo(t *testing.T) {
	l := logOf("floating", driven{"K", "", []float64{0, 0}}, driven{"P", "", []float64{0, 0}}, driven{"K", "", []float64{0, 0}}, driven{"P", "", []float64{0}}, driven{"K", "", []float64{0, 0}})
	m := programme.Measure{ID: "floating", Title: "Time floating", Unit: "s", Better: programme.Lower, Scale: programme.Difference, Digits: 2}
	in := report.Input{Tests: []report.Test{{Log: l, Measures: []report.Measured{{Both: both(t, l, m, compare.Settings{})}}}}}
	text := all(t, in)
	for _, want := range []string{"Time floating is 0.00\u00a0s in every run: nothing of it occurred, so there is nothing to compare", "did not occur", "9\u00a0runs in 5\u00a0stints were compared"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q", want)
		}
	}
	if strings.Contains(text, "not shown to differ") || strings.Contains(text, "scatter to judge") {
		t.Error("nothing is said to be not shown")
	}
	for i := range l.Observations {
		l.Observations[i].Value = 2
	}
	in.Tests[0] = report.Test{Log: l, Measures: []report.Measured{{Both: both(t, l, m, compare.Settings{})}}}
	if text := all(t, in); !strings.Contains(text, "alike in every run: 2.00\u00a0s") {
		t.Error("what is alike in every run is not said to be")
	}
}

// What is said of twelve runs is one note that names them.
func TestAlikeDoubtsAreOneNote(t *testing.T) {
	l := wet()
	for _, r := range l.Runs[:12] {
		l.Caveats = append(l.Caveats, caveat.Caveat{Code: "swapped", Place: caveat.Place{Stint: r.Stint, Run: r.ID}, Text: "The recordings may have been exchanged."})
	}
	d := build(t, report.Input{Tests: []report.Test{{Log: l, Measures: []report.Measured{{Both: both(t, l, distance, compare.Settings{})}}}}})
	n := 0
	for _, x := range d.Notes {
		if x.Code == "swapped" {
			n++
			if want := "Runs 1/1 to 1/3, 2/1 to 2/3, 3/1 to 3/3 and 4/1 to 4/3"; x.Where != want {
				t.Errorf("where: %q, want %q", x.Where, want)
			}
		}
	}
	if n != 1 {
		t.Errorf("%d notes", n)
	}
}

// Claims that do not stand over all tests are named on the first page, with what that
// means and a link to where it is shown.
func TestClaimsThatFallOverAllTestsAreNamedOnPageOne(t *testing.T) {
	// Three tests: in one P is clearly better, in two barely, so that Holm's step over
	// three tests takes the weak claims away.
	test := func(title string, p float64) report.Test {
		l := logOf("distance", driven{"K", "", []float64{33, 33.1}}, driven{"P", "", []float64{p, p + 0.1}}, driven{"K", "", []float64{33.6, 33.7}},
			driven{"P", "", []float64{p + 0.6, p + 0.7}}, driven{"K", "", []float64{33, 33.2}}, driven{"P", "", []float64{p, p + 0.15}}, driven{"K", "", []float64{33.45, 33.5}})
		return report.Test{Title: title, Log: l, Measures: []report.Measured{{Both: both(t, l, distance, compare.Settings{})}}}
	}
	in := report.Input{Tests: []report.Test{test("Dry lap", 20), test("Slalom", 32.2), test("Wet lap", 32.2)}}
	d := build(t, in)
	var page string
	linked := false
	for _, a := range d.Asides {
		for _, x := range a.Texts {
			page += x.String() + "\n"
			for _, s := range x {
				linked = linked || s.To == "over-tests"
			}
		}
	}
	if !strings.Contains(page, "with all tests allowed for as well, two could be chance: P in Slalom; P in Wet lap (over all tests)") || !linked {
		t.Errorf("linked %v:\n%s", linked, page)
	}
}
