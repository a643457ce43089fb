package sensor

import (
	"math"
	"math/rand/v2"
)

const (
	deg = 180 / math.Pi
	kmh = 3.6
)

func course(x *Sight) float64 {
	c := math.Atan2(x.AntennaVE, x.AntennaVN) * deg // from north, clockwise
	if c < 0 {
		c += 360
	}
	return c
}

func wheelSpeed(i int, radius float64) func(*Sight) float64 {
	return func(x *Sight) float64 { return math.Max(0, x.Spin[i]*radius*kmh) }
}

// Logger gives one instrument that writes everything at one rate on satellite time:
// a receiver with corrections, accelerometers and a yaw-rate sensor, and what the
// vehicle's own network says of steering, brake and wheels. Its small errors are
// drawn anew for each mounting.
func Logger(hz float64, radius float64, rnd *rand.Rand) *Device {
	n := rnd.NormFloat64
	d := &Device{
		Name: "logger", Hz: hz, Antenna: [2]float64{0.4, 0}, Seat: [3]float64{-0.3, 0.1, 0.6}, Fix: Corrected,
		Channels: []Channel{
			{"latitude_deg", 8, Error{}, func(x *Sight) float64 { return x.LatitudeDeg }},
			{"longitude_deg", 8, Error{}, func(x *Sight) float64 { return x.LongitudeDeg }},
			{"speed_kmh", 3, Error{Noise: 0.03}, func(x *Sight) float64 { return kmh * math.Hypot(x.AntennaVE, x.AntennaVN) }},
			{"course_deg", 2, Error{Noise: 0.05}, course},
			{"ax_mps2", 3, Error{Noise: 0.04, Bias: 0.02 * n()}, func(x *Sight) float64 { return x.SensorAX }},
			{"ay_mps2", 3, Error{Noise: 0.04, Bias: 0.02 * n()}, func(x *Sight) float64 { return x.SensorAY }},
			{"yaw_rate_degps", 2, Error{Noise: 0.10, Bias: 0.05 * n()}, func(x *Sight) float64 { return x.YawRate * deg }},
			{"steering_angle_deg", 1, Error{Noise: 0.05, Bias: 0.4 * n(), Step: 0.1}, func(x *Sight) float64 { return x.Steer * deg }},
			{"brake", 2, Error{Step: 0.01}, func(x *Sight) float64 { return x.Brake }},
		},
	}
	for i, name := range []string{"wheel_speed_fl_kmh", "wheel_speed_fr_kmh", "wheel_speed_rl_kmh", "wheel_speed_rr_kmh"} {
		d.Channels = append(d.Channels, Channel{name, 2, Error{Noise: 0.02, Scale: 0.004 * n(), Step: 0.01}, wheelSpeed(i, radius)})
	}
	return d
}
