package sim

import (
	"fmt"
	"math"
	"time"

	"example.org/bookend/sim/driver"
	"example.org/bookend/sim/sensor"
	"example.org/bookend/sim/vehicle"
	"example.org/bookend/sim/write"
)

// Stint is one set driven in one test, as it really was.
type Stint struct {
	Test     string
	ID       string // within the test
	Code     string
	Position int
	Start    time.Time // when its recording begins, UTC
	Grip     float64   // factor of the surroundings on grip
	Water    float64   // factor on depths
	AirC     float64
	SurfaceC float64
	UseM     float64 // what the set had run before
	Trace    *vehicle.Trace
}

// Drive drives the i-th stint of a test.
func (s *Scenario) Drive(t *Test, i int) (*Stint, error) {
	if i < 0 || i >= len(t.Order) {
		panic(fmt.Sprintf("sim: test %s has no stint %d", t.ID, i+1))
	}
	tyre, err := s.code(t.Order[i])
	if err != nil {
		return nil, err
	}
	st := &Stint{Test: t.ID, ID: fmt.Sprintf("%02d", i+1), Code: tyre.Code, Position: i + 1}
	st.Start = t.Start.Add(time.Duration(float64(i) * t.StintS * 1e9))
	s.surround(t, i, st)
	d := s.Drivers[t.Driver]
	st.Trace = s.session(t, tyre, d, st, fmt.Sprintf("%s/drive/%d", t.ID, i))
	return st, nil
}

// surround finds the day's factors at a stint. The walk is that of the whole
// sequence, drawn anew for each stint so that stints can be driven in any order.
func (s *Scenario) surround(t *Test, i int, st *Stint) {
	rnd := s.random(t.ID + "/day")
	walk, fit, water := 0.0, 0.0, 0.0
	for k := 0; k <= i; k++ {
		walk += t.Day.GripWalk * rnd.NormFloat64()
		fit = t.Day.Fitment * rnd.NormFloat64()
		water = t.Day.WaterSD * rnd.NormFloat64()
	}
	h := float64(i) * t.StintS / 3600
	st.Grip = math.Exp(t.Day.GripPerHour*h + t.Day.GripBend*h*h + walk + fit)
	part := 0.0
	if n := len(t.Order); n > 1 {
		part = float64(i) / float64(n-1)
	}
	st.Water = math.Max(0.05, (1+(t.Day.WaterTo-1)*part)*(1+water))
	st.AirC = t.Day.AirC + t.Day.AirPerHour*h
	st.SurfaceC = t.Day.SurfaceC + t.Day.SurfPerHour*h
	for k := range i {
		if t.Order[k] == st.Code {
			st.UseM += t.stintLength()
		}
	}
}

// stintLength is about what a set runs in a stint, m.
func (t *Test) stintLength() float64 { return float64(t.Runs+1) * t.Course.Path.Length }

// session drives one recording's worth under the surroundings of a stint.
func (s *Scenario) session(t *Test, tyre Tyre, d driver.Driver, st *Stint, name string) *vehicle.Trace {
	v := vehicle.New(s.Build, tyre.Character.Of(vanTyre), st.AirC)
	rnd := s.random(name)
	around := driver.Surroundings{Grip: st.Grip, Water: st.Water, WaterSD: t.Day.WaterRunSD}
	switch t.Kind {
	case Stops:
		w := driver.Start(v, t.Course, d, around, rnd, 0, 3)
		w.Stops(t.Runs, t.Speed, stopsAt)
		return w.Trace
	default:
		w := driver.Start(v, t.Course, d, around, rnd, t.Course.Gates[0]-150, 5)
		w.Laps(t.Runs)
		return w.Trace
	}
}

// Record gives the recording of a stint as its logger writes it.
func (s *Scenario) Record(t *Test, st *Stint) write.File {
	rnd := s.random(t.ID + "/logger/" + st.ID)
	logger := sensor.Logger(t.LoggerHz, s.Build.Radius, rnd)
	table := logger.Record(st.Trace, s.Origin, rnd)
	return write.File{Name: recordingName(t, st), Data: write.Recording(table, st.Start.UnixNano(), write.UTC)}
}

func recordingName(t *Test, st *Stint) string { return fmt.Sprintf("%s-%s.csv", t.ID, st.ID) }
