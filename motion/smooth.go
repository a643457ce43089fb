package motion

import (
	"math"
	"slices"

	"example.org/bookend/caveat"
	"example.org/bookend/course"
	"example.org/bookend/fault"
	"example.org/bookend/motion/kalman"
	"example.org/bookend/motion/sensors"
	"example.org/bookend/signal"
)

// blockSteps is how many steps of the forward pass are kept at a time for the
// backward one; between blocks only the state at their start is kept (own choice:
// 4 MB).
const blockSteps = 512

// together is the time in s below which two stamps are the same moment (own choice:
// microseconds are what loggers print).
const together = 1e-6

// event is one thing that happens at a time: a measurement, or a sample asked for.
type event struct {
	t      float64
	sensor int32 // -1 for a sample asked for
	i      int32
}

// step is a run of events of one moment.
type step struct {
	t        float64
	from, to int
}

type smoother struct {
	kit    *sensors.Kit
	set    Settings
	m      *model
	g      *kalman.State
	events []event
	steps  []step
	row    []float64
	terms  []kalman.Term

	blind    bool // the vehicle never moves: nothing says which way it points
	counting bool
	sum      []float64 // by sensor: squares over variances
	weight   []float64 // one over variances: the harmonic mean is not that of the first few, of which nothing is known
	out      []Innovation
}

// Smooth gives the motion of a recording in a plane, from all sensors at once, at
// the samples of its fastest channel that it used. Recordings of one drive are
// joined first (Join). A recording that has neither position nor speed is
// refused.
func Smooth(rec *signal.Recording, plane course.Plane, set Settings) (*Motion, error) {
	k := sensors.Gather(rec, plane, set.Inertial, set.PositionSD)
	if k.Find(sensors.Position) == nil && k.Find(sensors.Velocity) == nil && k.Find(sensors.Speed) == nil && k.Find(sensors.Wheels) == nil {
		return nil, fault.New(fault.Invalid, "the recording has neither position nor speed").At("%s", rec.Name).
			WithHint("join it with a recording of the same drive that has")
	}
	s := &smoother{kit: k, set: set}
	s.m = newModel(func(state int) bool {
		switch state {
		case rateBias:
			return k.Find(sensors.YawRate) != nil
		case accXBias, accXTilt:
			return k.Find(sensors.AccelX) != nil
		case accYBias, accYTilt:
			return k.Find(sensors.AccelY) != nil
		case scale:
			return k.Find(sensors.Wheels) != nil
		case softness:
			return k.Find(sensors.YawRate) != nil && k.Find(sensors.AccelY) != nil
		}
		return k.Find(sensors.Position) != nil
	}, k.Slow)
	s.m.drive = k.Drives()
	k.Assume()
	s.plan()
	s.fit()
	m, err := s.run()
	if err != nil {
		return nil, fault.At(err, "%s", rec.Name)
	}
	m.Caveats = append(m.Caveats, k.Doubt...)
	if set.RearAxle == 0 {
		m.Caveats.Add("rear_axle_unknown", caveat.Place{File: rec.Name}, "Where the rear axle lies is not stated; it is taken to be within %.1f m of the reference point, which widens the sideslip.", rearUnknown)
	}
	if s.blind {
		m.Caveats.Add("heading_unknown", caveat.Place{File: rec.Name}, "The vehicle never moves at more than %g m/s by its satellites, so that nothing says which way it points; yaw, and east and north beside what was measured, are not to be used.", sensors.MovingSpeed)
	}
	m.doubts(rec.Name, k)
	return m, nil
}

// plan lays all samples out in time.
func (s *smoother) plan() {
	for j := range s.kit.Sensors {
		for i, t := range s.kit.Sensors[j].T {
			s.events = append(s.events, event{t, int32(j), int32(i)})
		}
	}
	for i, t := range s.kit.Base.T {
		s.events = append(s.events, event{t, math.MaxInt32, int32(i)})
	}
	slices.SortFunc(s.events, func(a, b event) int {
		switch {
		case a.t < b.t:
			return -1
		case a.t > b.t:
			return 1
		}
		return int(a.sensor) - int(b.sensor)
	})
	for i, e := range s.events {
		if n := len(s.steps); n > 0 && e.t-s.steps[n-1].t < together {
			s.steps[n-1].to = i + 1
			continue
		}
		s.steps = append(s.steps, step{e.t, i, i + 1})
	}
}

// begin gives what is known before the first measurement.
func (s *smoother) begin() {
	k, m := s.kit, s.m
	g := kalman.New(m.n)
	s.g = g
	s.row = make([]float64, m.n)
	put := func(state int, value, sd float64) {
		if i := m.at[state]; i >= 0 {
			g.X[i], g.P[i*m.n+i] = value, sd*sd
		}
	}
	start := s.steps[0].t
	yaw0, yawSD, speed, speedSD := k.Start(start)
	put(east, 0, 1e4)
	put(north, 0, 1e4)
	if p := k.Find(sensors.Position); p != nil {
		gap := p.T[0] - start
		put(east, p.A[0], 10+40*gap)
		put(north, p.B[0], 10+40*gap)
		put(eastSlow, 0, k.Slow)
		put(northSlow, 0, k.Slow)
	}
	s.blind = yawSD >= math.Pi
	put(yaw, yaw0, yawSD)
	put(velX, speed, speedSD)
	put(velY, 0, 0.5)
	put(rate, 0, m.drive[2].SD)
	put(accX, 0, m.drive[0].SD)
	put(accY, 0, m.drive[1].SD)
	put(rateBias, 0, sensors.RateBiasSD)
	put(accXBias, 0, accBiasSD)
	put(accYBias, 0, accBiasSD)
	tilt := func(state int, levelled bool) {
		if levelled {
			put(state, 0, levelledSD)
		} else {
			put(state, tiltMean, tiltSD)
		}
	}
	tilt(accXTilt, k.Levelled[0])
	tilt(accYTilt, k.Levelled[1])
	put(scale, 1, scaleSD)
	put(softness, softMean, softSD)
}

// enter takes in what was measured at a step.
func (s *smoother) enter(k int) {
	st := s.steps[k]
	for _, e := range s.events[st.from:st.to] {
		if e.sensor != math.MaxInt32 {
			s.take(int(e.sensor), int(e.i))
		}
	}
}

// advance carries the state to a step.
func (s *smoother) advance(k int) { s.m.forward(s.g, s.steps[k].t-s.steps[k-1].t) }

// forth goes forward over steps and hands each on after its measurements.
func (s *smoother) forth(steps int, each func(k int)) {
	s.begin()
	s.out = make([]Innovation, len(s.kit.Sensors))
	s.sum, s.weight = make([]float64, len(s.kit.Sensors)), make([]float64, len(s.kit.Sensors))
	s.counting = true
	for k := range steps {
		if k > 0 {
			s.advance(k)
		}
		s.enter(k)
		each(k)
	}
	s.counting = false
	for i := range s.out {
		if s.out[i].Numbers > 0 {
			s.out[i].MeanSquare = s.sum[i] / float64(s.out[i].Numbers)
		}
	}
}

// fit raises the standard deviations of sensors that differ from what is expected
// of them by more than they allow, a few times over: what is smooth from sample to
// sample need not be right. The assumptions are left as they are.
func (s *smoother) fit() {
	steps := min(len(s.steps), fitSteps)
	for range fitRounds {
		s.forth(steps, func(int) {})
		done := true
		for i := range s.out {
			o, q := s.out[i], &s.kit.Sensors[i]
			if q.Kind != sensors.Rear && q.Kind != sensors.Standstill && o.Numbers >= fitNumbers && o.MeanSquare > fitSquare {
				q.SD = math.Sqrt(q.SD*q.SD + (min(o.MeanSquare, fitMost)-1)*float64(o.Numbers)/s.weight[i])
				done = false
			}
		}
		if done {
			return
		}
	}
}

// How standard deviations are raised; own choices.
const (
	fitRounds  = 4
	fitSteps   = 30000 // of the recording's beginning: five minutes at 100 a second
	fitNumbers = 50    // a mean square of fewer says little
	fitSquare  = 1.1
	fitMost    = 100.0 // ten times the expected standard deviation in one round
)

// run goes forward over all steps and keeps the state at the start of every block,
// then goes backward block by block, each gone over forward again.
func (s *smoother) run() (*Motion, error) {
	var starts []*kalman.State // filtered, at the first step of each block
	s.forth(len(s.steps), func(k int) {
		if k%blockSteps == 0 {
			g := kalman.New(s.m.n)
			g.Copy(s.g)
			starts = append(starts, g)
		}
	})
	n := s.m.n
	last := len(s.steps) - 1
	out := s.result()

	smoothed := kalman.New(n)
	smoothed.Copy(s.g)
	out.constants(s.m, smoothed, s.kit)
	out.keep(s, last, smoothed)
	b := kalman.NewSmoother(n)
	filtered, predicted := make([]*kalman.State, blockSteps), make([]*kalman.State, blockSteps)
	phi := make([][]float64, blockSteps)
	for i := range filtered {
		filtered[i], predicted[i], phi[i] = kalman.New(n), kalman.New(n), make([]float64, n*n)
	}
	for j := len(starts) - 1; j >= 0; j-- {
		first := j * blockSteps
		end := min(first+blockSteps, last) // steps first to end-1 are smoothed here
		s.g.Copy(starts[j])
		for k := first; k < end; k++ {
			filtered[k-first].Copy(s.g)
			s.advance(k + 1)
			predicted[k-first].Copy(s.g)
			copy(phi[k-first], s.m.whole)
			if k+1 < end {
				s.enter(k + 1)
			}
		}
		for k := end - 1; k >= first; k-- {
			i := k - first
			if err := b.Back(filtered[i], predicted[i], smoothed, phi[i], moving); err != nil {
				return nil, fault.At(err, "at %.3f s", s.steps[k].t)
			}
			out.keep(s, k, smoothed)
		}
	}
	out.finish()
	return out, nil
}
