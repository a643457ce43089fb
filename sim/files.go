package sim

import (
	"fmt"
	"time"

	"example.org/bookend/fault"
	"example.org/bookend/sim/ground"
	"example.org/bookend/sim/tyremodel"
	"example.org/bookend/sim/write"
)

// vanTyre is the control's tyre as built; characters are made of it.
var vanTyre = tyremodel.Van()

// stopsAt is the station at which the brake is stamped, m: some metres into the
// wetted lane.
const stopsAt = ground.LaneFrom + 6

// Write drives a test and hands its files over one by one: the recordings of its
// stints in their order, then the run log. It stops at the first error that yield
// gives.
func (s *Scenario) Write(t *Test, yield func(write.File) error) error {
	log, err := s.runLog(t)
	if err != nil {
		return err
	}
	for i := range t.Order {
		st, err := s.Drive(t, i)
		if err != nil {
			return err
		}
		if err := yield(s.Record(t, st)); err != nil {
			return err
		}
		if err := log.add(st); err != nil {
			return err
		}
	}
	return yield(write.File{Name: t.ID + "-run-log.csv", Data: log.sheet.Bytes()})
}

// runLog is a run log while it is being written.
type runLog struct {
	sheet write.Sheet
	zone  *time.Location
	test  *Test
	rnd   interface{ NormFloat64() float64 }
}

func (s *Scenario) runLog(t *Test) (*runLog, error) {
	zone, err := time.LoadLocation(s.Zone)
	if err != nil {
		return nil, fault.New(fault.Invalid, "%q is no IANA zone", s.Zone)
	}
	l := &runLog{zone: zone, test: t, rnd: s.random(t.ID + "/sheet")}
	l.sheet.Head = []string{"stint", "code", "position", "driver", "use_km", "run", "clock", "recording",
		"water_depth_mm", "air_temperature_degc", "surface_temperature_degc", "wind_mps", "remark"}
	return l, nil
}

// add writes a stint's lines: one a run, typed by somebody who looks at his watch
// when the stint goes out, reads a gauge to a tenth of a millimetre and a
// thermometer to half a degree.
func (l *runLog) add(st *Stint) error {
	t := l.test
	depth := ""
	if len(t.Course.Spots) > 0 {
		sum := 0.0
		for _, p := range t.Course.Spots {
			sum += p.Depth * st.Water
		}
		depth = write.Decimal(1000*sum/float64(len(t.Course.Spots))+0.03*l.rnd.NormFloat64(), 1)
	}
	half := func(v float64) string { return write.Decimal(float64(int(v*2+0.5))/2, 1) }
	wind := t.Day.WindMps + 0.4*l.rnd.NormFloat64()
	for run := 1; run <= t.Runs; run++ {
		l.sheet.Add(st.ID, st.Code, fmt.Sprint(st.Position), "Ines", write.Decimal(st.UseM/1000, 1), fmt.Sprint(run),
			st.Start.In(l.zone).Format("2006-01-02T15:04"), recordingName(t, st),
			depth, half(st.AirC), half(st.SurfaceC), write.Decimal(max(0, wind), 1), "")
	}
	return nil
}
