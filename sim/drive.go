package sim

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"example.org/bookend/fault"
	"example.org/bookend/sim/driver"
	"example.org/bookend/sim/ground"
	"example.org/bookend/sim/tyremodel"
	"example.org/bookend/sim/vehicle"
)

// Names of what lies below, for rooms that see this one alone.
type (
	Trace     = vehicle.Trace  // what really happened, 200 times a second
	Moment    = vehicle.Moment // one line of it
	Course    = ground.Course  // a course drawn by us
	Character = tyremodel.Character
)

// Stint is one set driven in one test, as it really was.
type Stint struct {
	Test      string
	ID        string // within the test
	Code      string
	Position  int
	Start     time.Time // when its time is 0, UTC
	Grip      float64   // factor of the surroundings on grip
	Water     float64   // factor on depths
	AirC      float64
	SurfaceC  float64
	Set       string
	UseM      float64                // what the set had run before
	WornM     float64                // tread that it had lost by then
	Traces    []*Trace               // one a recording
	Condition [4]tyremodel.Condition // of the tyres at the end
	Runs      []Run
}

// vanTyre is the control's tyre as built; characters are made of it.
var vanTyre = tyremodel.Van()

// Control gives the control's tyre as built.
func Control() tyremodel.Tyre { return vanTyre }

// stopsAt is the station at which the brake is stamped, m: some metres into the
// wetted lane.
const stopsAt = ground.LaneFrom + 6

// Drive drives the i-th stint of a test, from 0.
func (s *Scenario) Drive(t *Test, i int) (*Stint, error) {
	if i < 0 || i >= len(t.Order) {
		panic(fmt.Sprintf("sim: test %s has no stint %d", t.ID, i+1))
	}
	tyre, err := s.code(t.Order[i])
	if err != nil {
		return nil, err
	}
	st := &Stint{Test: t.ID, ID: fmt.Sprintf("%02d", i+1), Code: tyre.Code, Set: t.set(i), Position: i + 1}
	s.surround(t, i, st)
	if err := s.session(t, tyre, s.Drivers[t.Driver], st, s.random(fmt.Sprintf("%s/drive/%d", t.ID, i))); err != nil {
		return nil, err
	}
	return st, nil
}

// surround finds the day's factors at a stint. The walk is that of the whole
// sequence, drawn anew for each stint so that stints can be driven in any order.
func (s *Scenario) surround(t *Test, i int, st *Stint) {
	rnd := s.random(t.ID + "/day")
	walk, fit, water := 0.0, 0.0, 0.0
	for range i + 1 {
		walk += t.Day.GripWalk * rnd.NormFloat64()
		fit = t.Day.Fitment * rnd.NormFloat64()
		water = t.Day.WaterSD * rnd.NormFloat64()
	}
	shower := 0.0
	for _, x := range t.Incidents {
		if x.Kind == Shower && st.Position >= x.Stint {
			shower += x.Size
		}
	}
	seconds := t.starts(i)
	st.Start = t.Start.Add(time.Duration(math.Round(seconds)) * time.Second)
	h := seconds / 3600
	st.Grip = math.Exp(t.Day.GripPerHour*h+t.Day.GripBend*h*h+walk+fit) * (1 + shower)
	part := 0.0
	if n := len(t.Order); n > 1 {
		part = float64(i) / float64(n-1)
	}
	st.Water = math.Max(0.05, (1+(t.Day.WaterTo-1)*part)*(1+water))
	st.AirC = t.Day.AirC + t.Day.AirPerHour*h
	st.SurfaceC = t.Day.SurfaceC + t.Day.SurfPerHour*h
	st.UseM, st.WornM = s.use(t, i)
}

// starts gives when the i-th stint goes out, in s from the test's start.
func (t *Test) starts(i int) float64 {
	at := float64(i) * t.StintS
	for _, x := range t.Incidents {
		if x.Kind == Shower && i+1 >= x.Stint {
			at += showerWait
		}
	}
	return at
}

// use gives what a set had run before the i-th stint of a test, over all tests in
// their order of time, and how much tread that took; m.
func (s *Scenario) use(t *Test, i int) (run, worn float64) {
	set, now := t.set(i), t.Start.Add(time.Duration(t.starts(i)*1e9))
	for k := range s.Tests {
		o := &s.Tests[k]
		for j := range o.Order {
			if o.set(j) == set && o.Start.Add(time.Duration(o.starts(j)*1e9)).Before(now) {
				run += o.length()
				worn += o.length() * wears[o.Kind]
			}
		}
	}
	return run, worn
}

// wears is how much tread the control loses for a metre of a kind of test, mean of
// the wheels: what the tyres of a stint driven here had lost, rounded. Kinds that are
// not named wear as little.
var wears = map[string]float64{Laps: 4e-9, Circle: 4e-9, Slalom: 1.1e-9, LaneChange: 0.9e-9, Stops: 0.9e-9}

// showerWait is how long everybody waits for a surface to dry, s.
const showerWait = 2700

// length is about what a set runs in a stint, m.
func (t *Test) length() float64 { return float64(t.runs()+1) * t.Course.Path.Length }

// runs gives how many runs a stint has.
func (t *Test) runs() int {
	if t.Kind == FloatCircle {
		return t.Runs * len(t.Speeds)
	}
	return t.Runs
}

// between is the time from one recording of a stint to its next, s.
const between = 45

// session drives a stint.
func (s *Scenario) session(t *Test, tyre Tyre, d driver.Driver, st *Stint, rnd *rand.Rand) error {
	var all []*driver.Session
	v := vehicle.New(s.Build, tyre.Character.Of(vanTyre), st.AirC)
	for i := range v.Condition {
		v.Condition[i].Tread -= st.WornM * v.Tyres[i].WearRate / vanTyre.WearRate
	}
	around := driver.Surroundings{Grip: st.Grip, Water: st.Water, WaterSD: t.Day.WaterRunSD}
	start := func(c *ground.Course, station, speed float64) *driver.Session {
		if len(st.Traces) > 0 {
			v.State.T = math.Ceil(v.State.T) + between
		}
		w := driver.Start(v, c, d, around, rnd, station, speed)
		st.Traces = append(st.Traces, w.Trace)
		all = append(all, w)
		return w
	}
	spoilt := func(run int) bool {
		for _, x := range t.Incidents {
			if x.Kind == Traffic && x.Stint == st.Position && x.Run == run {
				return true
			}
		}
		return false
	}
	c := t.Course
	switch t.Kind {
	case Laps:
		start(c, c.Gates[0]-150, 5).Laps(t.Runs, spoilt)
	case Stops:
		start(c, 0, 3).Stops(t.Runs, t.Speed, stopsAt)
	case Slalom:
		line := c.Weave(t.Amplitude)
		start(c, 0, 5).Passes(passes(t.Runs, driver.Pass{Speed: t.Speed, From: c.Gates[0], To: c.Gates[1], Line: line}))
	case LaneChange:
		line := c.Dodge(s.Build.Width, 0.35, 4)
		start(c, 0, 5).Passes(passes(t.Runs, driver.Pass{Speed: t.Speed, From: c.Gates[0] - 30, To: c.Gates[1] + 20, Line: line, Release: c.Gates[0] + released}))
	case FloatLine:
		start(c, 0, 5).Passes(passes(t.Runs, driver.Pass{Speed: t.Speed, From: c.Gates[0] - 20, To: c.Gates[1], Full: true}))
	case FloatCircle:
		var list []driver.Pass
		for _, speed := range t.Speeds {
			list = append(list, passes(t.Runs, driver.Pass{Speed: speed, From: c.Gates[0], To: c.Gates[1], Hold: true, Blind: true, Easy: speed})...)
		}
		start(c, 0, 5).Passes(list)
	case Circle:
		other := *c
		other.Path = c.Path.Mirrored()
		for run := range t.Runs {
			on := c
			if run&1 == 1 {
				on = &other
			}
			start(on, 0, 5).Climb(5, 0.15, 45, 2.5)
		}
	case StepSteer:
		for run := range t.Runs {
			angle := t.Amplitude
			if run&1 == 1 {
				angle = -angle
			}
			start(c, 0, t.Speed).Machine(t.Speed, settle, 4, driver.Step(angle, stepRate))
		}
	case Sweep:
		for range t.Runs {
			start(c, 0, t.Speed).Machine(t.Speed, settle, sweepS+1, driver.Sweep(t.Amplitude, sweepFrom, sweepTo, sweepS))
		}
	case SineDwell:
		for run := range t.Runs {
			start(c, 0, t.Speed).Machine(t.Speed, settle, 5, driver.SineDwell(t.Amplitude*(1+0.5*float64(run))))
		}
	default:
		panic("sim: no kind of test " + t.Kind)
	}
	st.Condition = v.Condition
	for _, w := range all {
		if w.Over() {
			return fault.New(fault.Unsupported, "the vehicle leaves the course %s in stint %d on %s at station %.0f m", t.Course.Name, st.Position, tyre.Code, w.Station()).
				At("test %s", t.ID).WithHint("ask for less speed")
		}
	}
	st.Runs = s.truth(t, st)
	return nil
}

// Machines drive straight for settle seconds before they steer; a step rises at
// stepRate in rad/s (ISO 7401 asks for 200 to 500 °/s, from memory); a sweep takes
// sweepS seconds from and to frequencies in Hz. A lane change is entered with the
// throttle released this far in, m (ISO 3888-2, from memory).
const (
	settle    = 3.0
	stepRate  = 400 * math.Pi / 180
	sweepS    = 30.0
	sweepFrom = 0.2
	sweepTo   = 2.5
	released  = 2.0
)

func passes(n int, p driver.Pass) []driver.Pass {
	out := make([]driver.Pass, n)
	for i := range out {
		out[i] = p
	}
	return out
}
