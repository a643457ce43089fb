package sim

import (
	"time"

	"example.org/bookend/fault"
	"example.org/bookend/sim/driver"
	"example.org/bookend/sim/ground"
	"example.org/bookend/sim/tyremodel"
	"example.org/bookend/sim/vehicle"
)

// Ask asks for one stint: one tyre through one manoeuvre, recorded, with its truth.
// Kind alone will do; whatever else is zero is what is usual for it.
type Ask struct {
	Kind      string
	Words     string         // the tyre in an evaluator's words, as tyremodel.Say knows them; "" is the control
	Vehicle   *vehicle.Build // nil: the ambulance van
	Driver    *driver.Driver // nil: a professional with his scatter
	Course    *Course
	Speed     float64   // m/s
	Speeds    []float64 // of a circle with a trough, m/s
	Amplitude float64   // of a slalom's line in m, or of a machine's steering wheel in rad
	Runs      int
	Seed      uint64
	Kit       Kit // zero: one logger of 100 Hz
	Day       Day
	Incidents []Incident
}

// Driven is what an Ask yields: what instruments wrote, and what really happened.
type Driven struct {
	Scenario *Scenario
	Test     *Test
	Stint    *Stint // Runs holds the true figures, Traces the true motion
	Files    []File // recordings: one a trace and instrument, a trace's together
	Gates    [][4]float64
}

// Cone is a marker: latitude and longitude in degrees, station and offset in m, and
// the side on which it is passed (1: it is left to the right; 0: it bounds a way).
type Cone struct {
	LatitudeDeg, LongitudeDeg float64
	Station, Offset, Pass     float64
}

// Drive drives what is asked for. A kind or a word that is not known is an invalid
// fault; more speed than the course bears is an unsupported one.
func Drive(a Ask) (*Driven, error) {
	usual, ok := usually[a.Kind]
	if !ok {
		return nil, fault.New(fault.Invalid, "%q is nothing that is driven", a.Kind)
	}
	character, err := tyremodel.Say(a.Words)
	if err != nil {
		return nil, err
	}
	s := &Scenario{
		Seed: a.Seed, Ground: "Skerry Moor", Zone: "Europe/London", Build: vehicle.VanAsBuilt(), Origin: ground.SkerryMoor,
		Control: "K", Drivers: []driver.Driver{driver.Professional("Ines")}, Tyres: []Tyre{{Code: "K", Words: a.Words, Character: character}},
	}
	if a.Vehicle != nil {
		s.Build = *a.Vehicle
	}
	if a.Driver != nil {
		s.Drivers[0] = *a.Driver
	}
	t := usual(s.Build.Width)
	t.ID, t.Title, t.Kind, t.Start, t.StintS, t.Order = a.Kind, a.Kind, a.Kind, time.Date(2026, time.May, 11, 9, 0, 0, 0, time.UTC), 1200, []string{"K"}
	t.Kit, t.Day, t.Incidents = a.Kit, a.Day, a.Incidents
	if t.Kit.Hz == 0 {
		t.Kit.Hz = 100
	}
	if t.Day.WaterTo == 0 {
		t.Day.WaterTo = 1
	}
	if t.Day.AirC == 0 {
		t.Day.AirC, t.Day.SurfaceC = 14, 18
	}
	if a.Course != nil {
		t.Course = a.Course
	}
	if a.Speed != 0 {
		t.Speed = a.Speed
	}
	if a.Speeds != nil {
		t.Speeds = a.Speeds
	}
	if a.Amplitude != 0 {
		t.Amplitude = a.Amplitude
	}
	if a.Runs != 0 {
		t.Runs = a.Runs
	}
	s.Tests = []Test{t}
	d := &Driven{Scenario: s, Test: &s.Tests[0]}
	if d.Stint, err = s.Drive(d.Test, 0); err != nil {
		return nil, err
	}
	d.Files = s.Record(d.Test, d.Stint)
	d.Gates = s.Gates(d.Test)
	return d, nil
}

// usually gives each kind of test as it is usually driven, by the vehicle's width in
// m. Speeds, spacings and depths are common practice or our own choice; a van of
// 3.5 t is slower than a car in all of them.
var usually = map[string]func(width float64) Test{
	Laps:  func(float64) Test { return Test{Course: ground.DryHandling(), Runs: 4} },
	Stops: func(float64) Test { return Test{Course: ground.BrakingStraight(0.001), Runs: 6, Speed: 85 * kmh} },
	Slalom: func(float64) Test {
		return Test{Course: ground.Slalom(8, 18), Runs: 4, Speed: 45 * kmh, Amplitude: 1.6}
	},
	LaneChange: func(width float64) Test {
		return Test{Course: ground.LaneChange1(width), Runs: 4, Speed: 75 * kmh}
	},
	Circle:    func(float64) Test { return Test{Course: ground.Circle(40), Runs: 2} },
	StepSteer: func(float64) Test { return Test{Course: ground.Pad(), Runs: 6, Speed: 80 * kmh, Amplitude: 0.8} },
	Sweep:     func(float64) Test { return Test{Course: ground.Pad(), Runs: 1, Speed: 80 * kmh, Amplitude: 0.3} },
	SineDwell: func(float64) Test { return Test{Course: ground.Pad(), Runs: 4, Speed: 80 * kmh, Amplitude: 1.5} },
	FloatLine: func(float64) Test { return Test{Course: ground.FloatStraight(0.008), Runs: 4, Speed: 78 * kmh} },
	FloatCircle: func(float64) Test {
		return Test{Course: ground.CurvedTrough(100, 0.007), Runs: 2, Speeds: []float64{50 * kmh, 60 * kmh, 70 * kmh, 80 * kmh}}
	},
}

// Cones gives the course's cones.
func (d *Driven) Cones() []Cone {
	var out []Cone
	for _, c := range d.Test.Course.Cones {
		lat, lon := d.Scenario.Place(d.Test, c.Station, c.Offset)
		out = append(out, Cone{LatitudeDeg: lat, LongitudeDeg: lon, Station: c.Station, Offset: c.Offset, Pass: c.Pass})
	}
	return out
}

// Trace gives the true motion that the i-th run, from 0, is part of.
func (d *Driven) Trace(run int) *Trace { return d.Stint.Traces[d.Stint.Runs[run].Trace] }

// Recordings gives the files of the i-th run, from 0: one an instrument.
func (d *Driven) Recordings(run int) []File {
	n := len(d.Files) / len(d.Stint.Traces)
	i := d.Stint.Runs[run].Trace
	return d.Files[i*n : (i+1)*n]
}
