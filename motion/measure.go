package motion

import (
	"math"

	"example.org/bookend/motion/kalman"
	"example.org/bookend/motion/sensors"
)

// The two assumptions about the vehicle, and when they are made. Own choices.
const (
	// The rear axle's slip angle is softness times lateral acceleration, with what
	// that leaves: its own part and one that grows with the square of the
	// acceleration, as tyres give up being linear.
	rearSlipSD   = 0.005  // rad; 0.3°
	rearSlipHard = 0.0006 // rad/(m/s²)²; 1.4° more at 6.3 m/s²
	rearLeastSD  = 0.05   // m/s, of the rear axle's sideways velocity at a crawl
	rearUnknown  = 1.5    // m, how far it may lie from the reference point if nobody says
	leanRest     = 0.1    // 1, share of what a leaning body adds that is not in step with the acceleration: roll lags, and its gravity goes by the sine
	stillSD      = 0.02   // m/s
	stillRateSD  = 0.001  // rad/s
	stillAccSD   = 0.02   // m/s²
)

// beyond is how many standard deviations a measurement may lie off before it
// counts less: at three, and it is then given the variance at which it lies at
// three (own choice; a Gaussian error is beyond in 0.3 % of cases).
const beyond = 3.0

func term(at int, by float64) kalman.Term { return kalman.Term{At: at, By: by} }

// see takes in one number.
func (s *smoother) see(sensor int, innovation, variance float64) {
	p := s.g.Variance(s.terms)
	total := p + variance
	squared := innovation * innovation
	off := squared > beyond*beyond*total
	if s.counting {
		o := &s.out[sensor]
		o.Numbers++
		s.sum[sensor] += squared / total
		s.weight[sensor] += 1 / total
		if off {
			o.Beyond++
		}
	}
	if off {
		variance = squared/(beyond*beyond) - p
	}
	s.g.Update(s.terms, innovation, variance, s.row)
}

// take takes in one sample of a sensor.
func (s *smoother) take(j int, i int) {
	q, m := &s.kit.Sensors[j], s.m
	x := s.g.X
	r := q.SD * q.SD
	a := q.A[i]
	switch q.Kind {
	case sensors.Position:
		l := s.set.Antenna
		sin, cos := math.Sincos(x[yaw])
		s.terms = append(s.terms[:0], term(east, 1), term(yaw, -sin*l.X-cos*l.Y), term(m.at[eastSlow], 1))
		s.see(j, a-(x[east]+cos*l.X-sin*l.Y+x[m.at[eastSlow]]), r)
		sin, cos = math.Sincos(x[yaw])
		s.terms = append(s.terms[:0], term(north, 1), term(yaw, cos*l.X-sin*l.Y), term(m.at[northSlow], 1))
		s.see(j, q.B[i]-(x[north]+sin*l.X+cos*l.Y+x[m.at[northSlow]]), r)
	case sensors.Velocity:
		l := s.set.Antenna
		for axis := range 2 {
			sin, cos := math.Sincos(x[yaw])
			vx, vy := x[velX]-l.Y*x[rate], x[velY]+l.X*x[rate]
			if axis == 0 {
				s.terms = append(s.terms[:0], term(velX, cos), term(velY, -sin), term(yaw, -vx*sin-vy*cos), term(rate, -l.Y*cos-l.X*sin))
				s.see(j, a-(vx*cos-vy*sin), r)
			} else {
				s.terms = append(s.terms[:0], term(velX, sin), term(velY, cos), term(yaw, vx*cos-vy*sin), term(rate, -l.Y*sin+l.X*cos))
				s.see(j, q.B[i]-(vx*sin+vy*cos), r)
			}
		}
	case sensors.Speed:
		l := s.set.Antenna
		vx, vy := x[velX]-l.Y*x[rate], x[velY]+l.X*x[rate]
		v := math.Hypot(vx, vy)
		if v < sensors.StillSpeed {
			s.terms = append(s.terms[:0], term(velX, 1))
			s.see(j, math.Copysign(a, x[velX])-x[velX], r+sensors.StillSpeed*sensors.StillSpeed)
			return
		}
		s.terms = append(s.terms[:0], term(velX, vx/v), term(velY, vy/v), term(rate, (-l.Y*vx+l.X*vy)/v))
		s.see(j, math.Abs(a)-v, r)
	case sensors.YawRate:
		s.terms = append(s.terms[:0], term(rate, 1), term(m.at[rateBias], 1))
		s.see(j, a-x[rate]-x[m.at[rateBias]], r)
	case sensors.AccelX:
		s.accel(j, a, r, accX, m.at[accXBias], m.at[accXTilt])
	case sensors.AccelY:
		s.accel(j, a, r, accY, m.at[accYBias], m.at[accYTilt])
	case sensors.Wheels:
		k := m.at[scale]
		sign := 1.0
		if x[velX] < 0 {
			sign = -1
		}
		slip := sensors.WheelSlip * math.Hypot(x[accX], x[accY]) * x[velX] * q.Held
		s.terms = append(s.terms[:0], term(velX, sign*x[k]), term(k, math.Abs(x[velX])))
		s.see(j, math.Abs(a)-x[k]*math.Abs(x[velX]), r+slip*slip)
	case sensors.Rear:
		soft, arm := softMean, s.set.RearAxle
		s.terms = append(s.terms[:0], term(velY, 1), term(rate, arm))
		sd := rearSlipSD + rearSlipHard*x[accY]*x[accY]
		if c := m.at[softness]; c >= 0 {
			soft = x[c]
			s.terms = append(s.terms, term(c, x[accY]*x[velX]))
		} else {
			sd = math.Hypot(sd, softSD*x[accY])
		}
		sd = math.Hypot(sd*x[velX], rearLeastSD)
		if arm == 0 {
			sd = math.Hypot(sd, rearUnknown*x[rate])
		}
		s.terms = append(s.terms, term(accY, soft*x[velX]), term(velX, soft*x[accY]))
		s.see(j, -(x[velY] + arm*x[rate] + soft*x[accY]*x[velX]), sd*sd)
	case sensors.Standstill:
		for _, q := range [...]struct {
			state int
			sd    float64
		}{{velX, stillSD}, {velY, stillSD}, {rate, stillRateSD}, {accX, stillAccSD}, {accY, stillAccSD}} {
			s.terms = append(s.terms[:0], term(q.state, 1))
			s.see(j, -x[q.state], q.sd*q.sd)
		}
	}
}

func (s *smoother) accel(j int, a, r float64, state, bias, tilt int) {
	x := s.g.X
	s.terms = append(s.terms[:0], term(state, 1+x[tilt]), term(bias, 1), term(tilt, x[state]))
	more := leanRest * x[tilt] * x[state] * s.kit.Sensors[j].Held
	s.see(j, a-(1+x[tilt])*x[state]-x[bias], r+more*more)
}
