package sim

import (
	"time"

	"example.org/bookend/sim/driver"
	"example.org/bookend/sim/ground"
	"example.org/bookend/sim/tyremodel"
	"example.org/bookend/sim/vehicle"
)

// kmh is a kilometre an hour in m/s.
const kmh = 1 / 3.6

// SkerryMoor gives the demonstration's scenario: a control K and four candidates on
// an ambulance van, wet stops and handling laps. Five control stints a test open,
// close and divide each sequence, candidates are driven twice, the second time in
// reversed order. P grips better in the wet and lets go suddenly; R has a softer
// sidewall and stops longer; T is as the control; W grips better in the dry and
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
		{"W", "more dry grip, floats earlier, a little less wet grip"},
	} {
		c, err := tyremodel.Say(t.words)
		if err != nil {
			panic("sim: " + err.Error()) // our own words
		}
		s.Tyres = append(s.Tyres, Tyre{Code: t.code, Words: t.words, Character: c})
	}
	order := []string{"K", "P", "R", "K", "T", "W", "K", "W", "T", "K", "R", "P", "K"}
	at := func(day, hour, minute int) time.Time {
		return time.Date(2026, time.May, day, hour, minute, 0, 0, time.UTC)
	}
	s.Tests = []Test{
		{
			ID: "wet-stop", Title: "Wet stops, 80 to 20 km/h", Kind: Stops, Procedure: "braking", Course: ground.BrakingStraight(0.0010),
			Start: at(12, 7, 30), StintS: 1200, Order: order, Runs: 6, Speed: 85 * kmh, Kit: Kit{Hz: 100},
			Day: Day{GripPerHour: -0.006, GripBend: 0.0008, GripWalk: 0.001, Fitment: 0.003, WaterTo: 1.15, WaterSD: 0.02, WaterRunSD: 0.04,
				AirC: 11, AirPerHour: 0.9, SurfaceC: 12, SurfPerHour: 0.7, WindMps: 2.1},
		},
		{
			ID: "dry-lap", Title: "Handling laps, dry", Kind: Laps, Procedure: "lap", Course: ground.DryHandling(),
			Start: at(13, 8, 0), StintS: 1500, Order: order, Runs: 4, Kit: Kit{Hz: 100},
			Day: Day{GripPerHour: 0.005, GripBend: -0.0004, GripWalk: 0.001, Fitment: 0.002, WaterTo: 1,
				AirC: 12, AirPerHour: 1.1, SurfaceC: 15, SurfPerHour: 2.2, WindMps: 2.8},
		},
		{
			ID: "wet-lap", Title: "Handling laps, wet", Kind: Laps, Procedure: "lap", Course: ground.WetHandling(),
			Start: at(14, 7, 45), StintS: 1500, Order: order, Runs: 5, Kit: Kit{Hz: 100},
			Day: Day{GripPerHour: -0.004, GripBend: 0.0006, GripWalk: 0.001, Fitment: 0.003, WaterTo: 0.85, WaterSD: 0.03,
				AirC: 10, AirPerHour: 0.7, SurfaceC: 11, SurfPerHour: 0.8, WindMps: 1.6},
		},
	}
	return s
}
