package motion

import (
	"math"

	"example.org/bookend/caveat"
	"example.org/bookend/motion/kalman"
	"example.org/bookend/motion/sensors"
	"example.org/bookend/signal"
)

func (s *smoother) result() *Motion {
	n := len(s.kit.Base.T)
	m := &Motion{
		Base: s.kit.Base, East: estimate(n), North: estimate(n), EastNorth: make([]float64, n),
		ShownEast: estimate(n), ShownNorth: estimate(n), Yaw: estimate(n),
		VelX: estimate(n), VelY: estimate(n), YawRate: estimate(n), AccelX: estimate(n), AccelY: estimate(n),
		Speed: estimate(n), Course: estimate(n), Sideslip: estimate(n),
	}
	if n > 0 {
		m.Valid = []signal.Span{{From: 0, To: n}}
	}
	for i := range s.out {
		o := &s.out[i]
		o.Kind, o.Channel, o.SD = s.kit.Sensors[i].Kind.String(), s.kit.Sensors[i].Name, s.kit.Sensors[i].SD
		m.Innovations = append(m.Innovations, *o)
	}
	return m
}

// keep writes down the smoothed state at a step, if it was asked for.
func (m *Motion) keep(s *smoother, k int, g *kalman.State) {
	st := s.steps[k]
	for _, e := range s.events[st.from:st.to] {
		if e.sensor != math.MaxInt32 {
			continue
		}
		i, n, x := int(e.i), g.N, g.X
		sd := g.SD
		for _, q := range [...]struct {
			to    *Estimate
			state int
		}{{&m.East, east}, {&m.North, north}, {&m.Yaw, yaw}, {&m.VelX, velX}, {&m.VelY, velY}, {&m.YawRate, rate}, {&m.AccelX, accX}, {&m.AccelY, accY}} {
			q.to.Value[i], q.to.SD[i] = x[q.state], sd(q.state)
		}
		if s.blind {
			m.Yaw.SD[i] = math.Pi
		}
		m.EastNorth[i] = g.P[east*n+north]
		for j, to := range [...]*Estimate{&m.ShownEast, &m.ShownNorth} {
			s.terms = append(s.terms[:0], term(east+j, 1))
			to.Value[i] = x[east+j]
			if slow := s.m.at[eastSlow+j]; slow >= 0 {
				s.terms = append(s.terms, term(slow, 1))
				to.Value[i] += x[slow]
			}
			to.SD[i] = math.Sqrt(max(0, g.Variance(s.terms)))
		}
		v := math.Hypot(x[velX], x[velY])
		beta := math.Atan2(x[velY], x[velX])
		m.Speed.Value[i], m.Course.Value[i] = v, x[yaw]+beta
		if v < 1e-6 { // no direction
			m.Speed.SD[i], m.Course.SD[i] = sd(velX), math.Pi
			continue
		}
		s.terms = append(s.terms[:0], term(velX, x[velX]/v), term(velY, x[velY]/v))
		m.Speed.SD[i] = math.Sqrt(max(0, g.Variance(s.terms)))
		s.terms = append(s.terms[:0], term(velX, -x[velY]/(v*v)), term(velY, x[velX]/(v*v)))
		slip := math.Sqrt(max(0, g.Variance(s.terms)))
		s.terms = append(s.terms, term(yaw, 1))
		m.Course.SD[i] = math.Sqrt(max(0, g.Variance(s.terms)))
		if v >= sensors.SideslipSpeed {
			m.Sideslip.Value[i], m.Sideslip.SD[i] = beta, slip
		}
	}
}

// finish finds where sideslip was given.
func (m *Motion) finish() {
	for i, v := range m.Speed.Value {
		if v < sensors.SideslipSpeed {
			continue
		}
		if n := len(m.SideslipValid); n > 0 && m.SideslipValid[n-1].To == i {
			m.SideslipValid[n-1].To++
		} else {
			m.SideslipValid = append(m.SideslipValid, signal.Span{From: i, To: i + 1})
		}
	}
}

// What some constants are called, for those who look for them.
const (
	LateralZero = "lateral acceleration shows too much"             // m/s²
	RollShare   = "share that rolling adds to lateral acceleration" // of the true one
)

// constants writes down what else was found, as it is at the recording's end.
func (m *Motion) constants(mod *model, g *kalman.State, k *sensors.Kit) {
	for _, q := range []struct {
		state      int
		what, unit string
	}{
		{rateBias, "yaw rate shows too much", "rad/s"},
		{accXBias, "longitudinal acceleration shows too much", "m/s²"},
		{accYBias, LateralZero, "m/s²"},
		{accXTilt, "share that pitching adds to longitudinal acceleration", "1"},
		{accYTilt, RollShare, "1"},
		{scale, "wheel speed for 1 m/s over ground", "1"},
		{softness, "slip angle of the rear axle for 1 m/s² sideways", "rad/(m/s²)"},
	} {
		if i := mod.at[q.state]; i >= 0 {
			m.Constants = append(m.Constants, Constant{q.what, q.unit, g.X[i], g.SD(i)})
		}
	}
}

// Bounds of the mean squared innovation within which stated standard deviations
// count as honest: half and twice the expected 1. Own choice.
const leastSquare, mostSquare = 0.5, 2.0

// longGap is the gap in s in satellite samples from which on it is said how they
// were bridged (own choice).
const longGap = 1.0

func (m *Motion) doubts(file string, k *sensors.Kit) {
	place := caveat.Place{File: file}
	inertial := k.Find(sensors.YawRate) != nil && k.Find(sensors.AccelY) != nil
	if !inertial {
		m.Caveats.Add("sideslip_assumed", place, "Without yaw rate and lateral acceleration sideslip is an assumption about the rear axle, not a measurement; its standard deviation says how good.")
	}
	for _, kind := range [...]sensors.Kind{sensors.Position, sensors.Velocity} {
		s := k.Find(kind)
		if s == nil {
			continue
		}
		longest, at, count := 0.0, 0.0, 0
		for i := 1; i < len(s.T); i++ {
			if gap := s.T[i] - s.T[i-1]; gap > longGap {
				count++
				if gap > longest {
					longest, at = gap, s.T[i-1]
				}
			}
		}
		if count > 0 {
			by := "by assuming that accelerations die down"
			switch {
			case k.Find(sensors.Wheels) != nil && inertial:
				by = "by accelerations, yaw rate and wheel speed"
			case inertial:
				by = "by accelerations and yaw rate"
			case k.Find(sensors.Wheels) != nil:
				by = "by wheel speed"
			}
			p := place
			p.Channel, p.TimeS = s.Name, caveat.At(at)
			m.Caveats.Add("bridged", p, "%d gaps in the %s are bridged %s; the longest, %.1f s, begins here.", count, kind, by, longest)
		}
	}
	for _, o := range m.Innovations {
		if o.Kind == sensors.Rear.String() || o.Kind == sensors.Standstill.String() || o.Numbers < 50 || o.MeanSquare <= mostSquare {
			continue
		}
		p := place
		p.Channel = o.Channel
		m.Caveats.Add("uncertainty_doubtful", p, "The %s differs from what the other sensors let expect by %.1f times what their uncertainties allow, on the average; stated standard deviations are too small by up to that factor.",
			o.Kind, math.Sqrt(o.MeanSquare))
	}
}
