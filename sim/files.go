package sim

import (
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"time"

	"example.org/bookend/fault"
	"example.org/bookend/sim/sensor"
	"example.org/bookend/sim/write"
)

// File is one file: its name and its bytes.
type File = write.File

// Write drives a test and hands its files over one by one: the recordings of its
// stints in their order, then the run log. It stops at the first error that yield
// gives. truth, if not nil, is handed each stint as it really was.
func (s *Scenario) Write(t *Test, yield func(File) error, truth func(*Stint) error) error {
	log, err := s.runLog(t)
	if err != nil {
		return err
	}
	type driven struct {
		st    *Stint
		files []File
	}
	// A few stints at a time: traces are large.
	n := runtime.GOMAXPROCS(0)
	for from := 0; from < len(t.Order); from += n {
		batch, err := each(min(n, len(t.Order)-from), func(i int) (driven, error) {
			st, err := s.Drive(t, from+i)
			if err != nil {
				return driven{}, err
			}
			return driven{st, s.Record(t, st)}, nil
		})
		if err != nil {
			return err
		}
		for _, d := range batch {
			for _, f := range d.files {
				if err := yield(f); err != nil {
					return err
				}
			}
			log.add(d.st)
			if truth != nil {
				if err := truth(d.st); err != nil {
					return err
				}
			}
		}
	}
	return yield(File{Name: t.ID + "-run-log.csv", Data: log.sheet.Bytes()})
}

// Mounting is where the instruments sit, as a fitter would measure it, m: from the
// antenna forward, and to its left.
type Mounting struct {
	SeatAhead, SeatLeft   float64 // the accelerometer
	BodyAhead, BodyBehind float64 // the body's ends
	CentreAhead           float64 // the centre of gravity
}

// Mounting gives where the instruments sit in the scenario's vehicle.
func (s *Scenario) Mounting() Mounting {
	x, y := sensor.Antenna()
	sx, sy := sensor.Seat()
	middle := (s.Build.Front - s.Build.Rear) / 2 // of the body, as corner has it
	return Mounting{
		SeatAhead: sx - x, SeatLeft: sy - y, CentreAhead: -x,
		BodyAhead: middle + s.Build.Length/2 - x, BodyBehind: s.Build.Length/2 - middle + x,
	}
}

// Record gives the recordings of a stint as its instruments write them.
func (s *Scenario) Record(t *Test, st *Stint) []File {
	rnd := s.random(t.ID + "/instruments/" + st.ID)
	devices := t.Kit.devices(s.Build.Radius, rnd)
	for _, x := range t.Incidents {
		if x.Kind == Dropout && x.Stint == st.Position && x.Run <= len(st.Runs) {
			r := st.Runs[x.Run-1]
			middle := (r.From + r.To) / 2
			for _, d := range devices {
				d.Outages = append(d.Outages, sensor.Outage{From: middle, To: middle + x.Size, Channels: sensor.Sky})
			}
		}
	}
	return s.RecordBy(t, st, devices, rnd)
}

// devices gives the instruments of a kit, their small errors drawn anew.
func (k Kit) devices(radius float64, rnd *rand.Rand) []*sensor.Device {
	devices := []*sensor.Device{sensor.Logger(k.Hz, radius, rnd)}
	if k.Apart {
		devices = sensor.Apart(radius, rnd)
	}
	if k.Alone {
		for _, d := range devices {
			d.Fix = sensor.Uncorrected
		}
	}
	if k.Exact {
		sensor.Exact(devices)
	}
	return devices
}

// RecordBy gives the recordings of a stint by instruments of one's own; rnd draws
// their noise.
func (s *Scenario) RecordBy(t *Test, st *Stint, devices []*sensor.Device, rnd *rand.Rand) []File {
	var out []File
	for i, tr := range st.Traces {
		for _, d := range devices {
			name := recordingName(t, st.Position, i)
			if len(devices) > 1 {
				name = fmt.Sprintf("%s-%s.csv", name[:len(name)-len(".csv")], d.Name)
			}
			out = append(out, File{Name: name, Data: write.Recording(d.Record(tr, s.Origin, rnd), st.Start.UnixNano(), write.UTC)})
		}
	}
	return out
}

// recordingName names the i-th recording of a stint, from 0.
func recordingName(t *Test, position, i int) string {
	if t.each() {
		return fmt.Sprintf("%s-%02d-%d.csv", t.ID, position, i+1)
	}
	return fmt.Sprintf("%s-%02d.csv", t.ID, position)
}

// named is what a run log calls the recording: of several instruments' the receiver's.
func (t *Test) named(position, i int) string {
	name := recordingName(t, position, i)
	if t.Kit.Apart {
		return name[:len(name)-len(".csv")] + "-gnss.csv"
	}
	return name
}

// each tells whether every run has a recording of its own.
func (t *Test) each() bool {
	switch t.Kind {
	case Circle, StepSteer, Sweep, SineDwell:
		return true
	}
	return false
}

// runLog is a run log while it is being written.
type runLog struct {
	sheet write.Sheet
	zone  *time.Location
	test  *Test
	who   string
	rnd   *rand.Rand
}

func (s *Scenario) runLog(t *Test) (*runLog, error) {
	zone, err := time.LoadLocation(s.Zone)
	if err != nil {
		return nil, fault.New(fault.Invalid, "%q is no IANA zone", s.Zone)
	}
	l := &runLog{zone: zone, test: t, who: s.Drivers[t.Driver].Name, rnd: s.random(t.ID + "/sheet")}
	l.sheet.Head = []string{"stint", "code", "set", "position", "driver", "break", "use_km", "run", "clock", "recording"}
	for _, p := range t.Course.Spots {
		l.sheet.Head = append(l.sheet.Head, "water_depth_"+p.Name+"_mm")
	}
	l.sheet.Head = append(l.sheet.Head, "air_temperature_degc", "surface_temperature_degc", "wind_mps", "excluded", "remark")
	return l, nil
}

// add writes a stint's lines: one a run, typed by somebody who looks at his watch
// when the run begins, reads a gauge to a tenth of a millimetre at each spot once a
// stint, and a thermometer to half a degree.
func (l *runLog) add(st *Stint) {
	t := l.test
	var depths []string
	for _, p := range t.Course.Spots {
		depths = append(depths, write.Decimal(max(0, 1000*p.Depth*st.Water+0.05*l.rnd.NormFloat64()), 1))
	}
	half := func(v float64) string { return write.Decimal(math.Round(2*v)/2, 1) }
	wind := write.Decimal(max(0, t.Day.WindMps+0.4*l.rnd.NormFloat64()), 1)
	recorded := st.Position
	broken, remark := "", ""
	for _, x := range t.Incidents {
		switch {
		case x.Kind == Swapped && x.Stint == st.Position:
			recorded++
		case x.Kind == Swapped && x.Stint == st.Position-1:
			recorded--
		case x.Kind == Shower && x.Stint == st.Position:
			broken, remark = "yes", "shower before this stint; waited until the surface was dry"
		}
	}
	for i, r := range st.Runs {
		why := ""
		for _, x := range t.Incidents {
			if x.Kind == Traffic && x.Stint == st.Position && x.Run == r.Number {
				why = "traffic: held up by the recovery vehicle"
			}
		}
		at := st.Start.Add(time.Duration(r.From * 1e9)).In(l.zone)
		line := []string{st.ID, st.Code, st.Set, fmt.Sprint(st.Position), l.who, broken, write.Decimal(st.UseM/1000, 1), fmt.Sprint(r.Number),
			at.Format("2006-01-02T15:04"), t.named(recorded, r.Trace)}
		line = append(line, depths...)
		line = append(line, half(st.AirC), half(st.SurfaceC), wind, why, remark)
		l.sheet.Add(line...)
		if i == 0 {
			broken = ""
		}
		remark = ""
	}
}
