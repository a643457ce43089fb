// Package sim is a synthetic proving ground whose truth is known: Skerry Moor, where
// Tarn Valley Ambulance has all-season tyres for its vans of 3.5 t compared.
//
// It drives a whole programme, control and candidates in their order through days
// that drift, and writes what loggers and people would have written: text
// recordings, run logs, rating sheets. What really happened, and what the tyres
// really are, is kept apart (Truth). Everything is invented; nothing is a measured
// tyre, vehicle or place. The parts lie in rooms of their own below: tyremodel,
// vehicle, driver, ground, sensor, evaluator, write. None of them sees a room that is checked
// against them.
//
// The same scenario and seed give the same bytes: every lot is drawn from
// math/rand/v2's PCG, one generator for each test, stint and instrument, so that one
// test can be driven without the others.
//
// SI units inside; ISO 8855:2011. What the models leave out stands in their rooms;
// what they cannot show is a tyre's behaviour beyond a few simple words: a verdict
// about a synthetic tyre says nothing about any real one.
package sim

import (
	"hash/fnv"
	"math/rand/v2"
	"time"

	"example.org/bookend/fault"
	"example.org/bookend/sim/driver"
	"example.org/bookend/sim/evaluator"
	"example.org/bookend/sim/ground"
	"example.org/bookend/sim/tyremodel"
	"example.org/bookend/sim/vehicle"
)

// Scenario is a programme to be driven.
type Scenario struct {
	Seed    uint64
	Title   string
	Client  string
	Ground  string
	Zone    string // IANA zone of the ground
	Vehicle string // in words
	Build   vehicle.Build
	Origin  ground.Origin
	Control string // code of the control
	Tyres   []Tyre
	Drivers []driver.Driver
	Tests   []Test
	Ratings []Ratings
}

// Ratings has evaluators fill a sheet after each stint of a test.
type Ratings struct {
	ID         string
	Title      string
	Of         string // the test whose stints they rate
	Attributes []evaluator.Attribute
	By         []evaluator.Evaluator
}

// Tyre is one code: what it is in an evaluator's words, and as numbers.
type Tyre struct {
	Code      string
	Words     string
	Character tyremodel.Character
}

// Kinds of tests that are driven, and what is one run of each.
const (
	Laps        = "laps"         // a lap at the limit
	Stops       = "stops"        // a straight-line stop from a set speed
	Slalom      = "slalom"       // a pass through the cones at a set speed
	LaneChange  = "lane-change"  // a pass through a lane change, entered at a set speed
	Circle      = "circle"       // a circle driven ever faster, to the left and to the right by turns
	StepSteer   = "step"         // a step of steering by a machine, to the left and to the right by turns
	Sweep       = "sweep"        // a sine of steering whose frequency grows, by a machine
	SineDwell   = "sine-dwell"   // a sine with a dwell, by a machine, of growing amplitude
	FloatLine   = "float-line"   // a pass with one side in a trough, accelerating in full
	FloatCircle = "float-circle" // a pass through a trough on a circle, at one of several set speeds
)

// Test is one test of the programme.
type Test struct {
	ID        string
	Title     string
	Kind      string
	Procedure string // that reduces it
	Course    *ground.Course
	Start     time.Time // when the first stint goes out
	StintS    float64   // from one stint to the next, s
	Order     []string  // codes in the order driven
	Sets      []string  // which set of the code it was, one each; nil: every code has one
	Runs      int       // timed laps, stops or passes a stint
	Speed     float64   // set speed, m/s, where there is one
	Speeds    []float64 // of a circle with a trough: one a step, Runs of each; m/s
	Amplitude float64   // of a slalom's line in m, or of a machine's steering wheel in rad
	Driver    int       // who drives, by place in Drivers
	Kit       Kit
	Day       Day
	Incidents []Incident
}

// Kit is what the vehicle carries: one logger that writes everything on satellite
// time, or three instruments with rates and clocks of their own.
type Kit struct {
	Hz    float64 // of the one logger
	Apart bool    // three instruments instead: 20, 100 and 50 Hz
	Alone bool    // satellites without corrections from a station
	Exact bool    // faultless instruments
}

// Day is what the surroundings do during a test: how they move from its first stint
// to its last, and how they scatter. Times count in hours from the start.
type Day struct {
	GripPerHour float64 // share of grip gained in an hour
	GripBend    float64 // share gained in an hour squared
	GripWalk    float64 // standard deviation of a random walk, share a stint
	Fitment     float64 // standard deviation from stint to stint, share of grip
	WaterTo     float64 // factor on depth at the end, falling or rising evenly; 1: as at the start
	WaterSD     float64 // scatter of the factor from stint to stint
	WaterRunSD  float64 // and from run to run
	AirC        float64 // at the start
	AirPerHour  float64
	SurfaceC    float64
	SurfPerHour float64
	WindMps     float64
}

// Incident is something that happens to a stint, counted from 1.
type Incident struct {
	Kind  string
	Stint int
	Run   int     // where it is one run's
	Size  float64 // seconds of a dropout, share of grip of a shower
}

// Kinds of incidents.
const (
	Swapped = "swapped" // the run log names the recording of the next stint, and the next one names this one's
	Dropout = "dropout" // the receiver loses its place within the run for Size seconds
	Traffic = "traffic" // the run is spoilt by traffic, and the run log excludes it
	Shower  = "shower"  // rain before the stint: a wait, a declared break, a surface that gives Size more (or less) grip
)

// set names the set of the i-th stint.
func (t *Test) set(i int) string {
	if i < len(t.Sets) {
		return t.Sets[i]
	}
	return t.Order[i] + "1"
}

// code gives the tyre of a code.
func (s *Scenario) code(code string) (Tyre, error) {
	for _, t := range s.Tyres {
		if t.Code == code {
			return t, nil
		}
	}
	return Tyre{}, fault.New(fault.NotFound, "the scenario has no tyre %q", code)
}

// random gives the generator of one thing in the scenario, by its name.
func (s *Scenario) random(name string) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte(name)) //nolint:errcheck // a hash takes everything
	return rand.New(rand.NewPCG(s.Seed, h.Sum64()))
}

// Test gives the test of that id.
func (s *Scenario) Test(id string) (*Test, error) {
	for i := range s.Tests {
		if s.Tests[i].ID == id {
			return &s.Tests[i], nil
		}
	}
	return nil, fault.New(fault.NotFound, "the scenario has no test %q", id)
}

// Gates gives the test's gates as four numbers each: latitude and longitude in
// degrees of the right post as driven, then of the left one. Stops, circles and a
// machine's tests have none.
func (s *Scenario) Gates(t *Test) [][4]float64 {
	switch t.Kind {
	case Stops, Circle, StepSteer, Sweep, SineDwell:
		return nil
	}
	var out [][4]float64
	for i := range t.Course.Gates {
		g := t.Course.Gate(i)
		var four [4]float64
		four[0], four[1], _ = s.Origin.Earth(g.Right, 0)
		four[2], four[3], _ = s.Origin.Earth(g.Left, 0)
		out = append(out, four)
	}
	return out
}

// Place gives latitude and longitude in degrees of a place beside the course, by
// station and offset in m: a cone, a spot, an edge.
func (s *Scenario) Place(t *Test, station, offset float64) (latDeg, lonDeg float64) {
	latDeg, lonDeg, _ = s.Origin.Earth(t.Course.Path.Beside(station, offset), 0)
	return latDeg, lonDeg
}
