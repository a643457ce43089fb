package sim

import (
	"time"

	"example.org/bookend/sim/driver"
	"example.org/bookend/sim/evaluator"
	"example.org/bookend/sim/ground"
	"example.org/bookend/sim/tyremodel"
	"example.org/bookend/sim/vehicle"
)

// kmh is a kilometre an hour in m/s.
const kmh = 1 / 3.6

// SkerryMoor gives the demonstration's scenario: a control K and four candidates on
// an ambulance van, one dry day and one wet one.
//
// Every fitment of the dry day drives slalom, lane change and handling laps, every one
// of the wet day stops and laps. Five control stints open, close and divide each day's
// sequence, on three sets by turns; candidates are driven twice, on two sets, the
// second time in reversed order. After the seventh fitment of the dry day there is a
// shower; all wait, and a sixth control stint opens what comes after it. One receiver
// loses its place in a wet lap, one dry lap meets traffic and is left out, and two
// recordings of wet stops stand in the run log under each other's stint.
//
// P grips better in the wet and lets go suddenly; R has a softer sidewall and less wet
// grip; T is as the control; W grips better in the dry and worse in the wet, where it
// floats earlier.
func SkerryMoor(seed uint64) Scenario {
	s := Scenario{
		Seed: seed, Title: "All-season tyres for ambulance vans of 3.5 t", Client: "Tarn Valley Ambulance", Ground: "Skerry Moor",
		Zone: "Europe/London", Vehicle: "ambulance body on a van of 3.5 t, driven at the rear", Build: vehicle.VanAsBuilt(), Origin: ground.SkerryMoor,
		Control: "K", Drivers: []driver.Driver{driver.Professional("Ines")},
	}
	for _, t := range []struct{ code, words string }{
		{"K", ""},
		{"P", "more wet grip, sudden breakaway"},
		{"R", "much softer sidewall, less wet grip"},
		{"T", ""},
		{"W", "more dry grip, floats earlier, much less wet grip"},
	} {
		c, err := tyremodel.Say(t.words)
		if err != nil {
			panic("sim: " + err.Error()) // our own words
		}
		s.Tyres = append(s.Tyres, Tyre{Code: t.code, Words: t.words, Character: c})
	}
	const fitment = 2700 // s from one fitment to the next
	dry := day{
		order:     []string{"K", "P", "R", "K", "T", "W", "K", "K", "W", "T", "K", "R", "P", "K"},
		sets:      []string{"K1", "P1", "R1", "K2", "T1", "W1", "K3", "K1", "W2", "T2", "K2", "R2", "P2", "K3"},
		incidents: []Incident{{Kind: Shower, Stint: 8, Size: 0.004}},
	}
	wet := day{
		order: []string{"K", "P", "R", "K", "T", "W", "K", "W", "T", "K", "R", "P", "K"},
		sets:  []string{"K1", "P1", "R1", "K2", "T1", "W1", "K3", "W2", "T2", "K1", "R2", "P2", "K2"},
	}
	at := func(day, hour, minute int) time.Time {
		return time.Date(2026, time.May, day, hour, minute, 0, 0, time.UTC)
	}
	air := Day{GripPerHour: 0.0010, GripBend: -0.00005, GripWalk: 0.0005, Fitment: 0.0012, WaterTo: 1, AirC: 9, AirPerHour: 0.9, SurfaceC: 11, SurfPerHour: 1.6, WindMps: 2.8}
	water := Day{GripPerHour: -0.0030, GripBend: 0.00015, GripWalk: 0.0008, Fitment: 0.0020, WaterTo: 1.12, WaterSD: 0.02, WaterRunSD: 0.03,
		AirC: 9, AirPerHour: 0.5, SurfaceC: 10, SurfPerHour: 0.5, WindMps: 2.1}
	still := water
	still.WaterRunSD = 0
	s.Tests = []Test{
		dry.test(Test{ID: "slalom", Title: "Slalom, dry", Kind: Slalom, Procedure: "slalom", Course: ground.Slalom(8, 18),
			Start: at(12, 6, 30), StintS: fitment, Runs: 4, Speed: 45 * kmh, Amplitude: 1.6, Kit: Kit{Hz: 100}, Day: air}),
		dry.test(Test{ID: "lane-change", Title: "Lane change, dry", Kind: LaneChange, Procedure: "lanechange", Course: ground.LaneChange1(s.Build.Width),
			Start: at(12, 6, 40), StintS: fitment, Runs: 4, Speed: 75 * kmh, Kit: Kit{Hz: 100}, Day: air}),
		dry.test(Test{ID: "dry-lap", Title: "Handling laps, dry", Kind: Laps, Procedure: "lap", Course: ground.DryHandling(),
			Start: at(12, 6, 50), StintS: fitment, Runs: 4, Kit: Kit{Hz: 50}, Day: air}, Incident{Kind: Traffic, Stint: 3, Run: 3}),
		wet.test(Test{ID: "wet-stop", Title: "Stops on a wetted lane", Kind: Stops, Procedure: "braking", Course: ground.BrakingStraight(0.0010),
			Start: at(13, 6, 30), StintS: fitment, Runs: 6, Speed: 85 * kmh, Kit: Kit{Hz: 50}, Day: water}, Incident{Kind: Swapped, Stint: 5}),
		wet.test(Test{ID: "wet-lap", Title: "Handling laps, wet", Kind: Laps, Procedure: "lap", Course: ground.WetHandling(),
			Start: at(13, 6, 45), StintS: fitment, Runs: 5, Kit: Kit{Hz: 50}, Day: still}, Incident{Kind: Dropout, Stint: 4, Run: 2, Size: 3}),
	}
	both := []evaluator.Evaluator{
		{Name: "Ines", Level: 6.5, Spread: 1, PerHour: 0.01, SheetSD: 0.10, ScatterSD: 0.16},
		{Name: "Marek", Level: 7.25, Spread: 0.85, PerHour: -0.02, SheetSD: 0.12, ScatterSD: 0.20},
	}
	s.Ratings = []Ratings{
		{ID: "dry-ratings", Title: "Ratings, dry", Of: "dry-lap", Attributes: evaluator.Dry, By: both},
		{ID: "wet-ratings", Title: "Ratings, wet", Of: "wet-lap", Attributes: evaluator.Wet, By: both},
	}
	return s
}

// day is the sequence of fitments of one day, and what befalls all of them.
type day struct {
	order, sets []string
	incidents   []Incident
}

// test puts a test into the day.
func (d day) test(t Test, own ...Incident) Test {
	t.Order, t.Sets, t.Incidents = d.order, d.sets, append(append([]Incident(nil), d.incidents...), own...)
	return t
}
