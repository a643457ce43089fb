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

// Channels of the instruments; errors of one mounting are drawn once.

// Sky names the channels that a receiver without satellites leaves empty.
var Sky = []string{"latitude_deg", "longitude_deg", "speed_kmh", "course_deg", "height_m"}

func positions() []Channel {
	return []Channel{
		{"latitude_deg", 8, Error{}, func(x *Sight) float64 { return x.LatitudeDeg }},
		{"longitude_deg", 8, Error{}, func(x *Sight) float64 { return x.LongitudeDeg }},
		{"speed_kmh", 3, Error{Noise: 0.03}, func(x *Sight) float64 { return kmh * math.Hypot(x.AntennaVE, x.AntennaVN) }},
		{"course_deg", 2, Error{Noise: 0.05}, course},
	}
}

func inertial(rnd *rand.Rand) []Channel {
	n := rnd.NormFloat64
	return []Channel{
		{"ax_mps2", 3, Error{Noise: 0.04, Bias: 0.02 * n()}, func(x *Sight) float64 { return x.SensorAX }},
		{"ay_mps2", 3, Error{Noise: 0.04, Bias: 0.02 * n()}, func(x *Sight) float64 { return x.SensorAY }},
		{"yaw_rate_degps", 2, Error{Noise: 0.10, Bias: 0.05 * n()}, func(x *Sight) float64 { return x.YawRate * deg }},
	}
}

func network(radius float64, rnd *rand.Rand) []Channel {
	n := rnd.NormFloat64
	out := []Channel{
		{"steering_angle_deg", 1, Error{Noise: 0.05, Bias: 0.4 * n(), Step: 0.1}, func(x *Sight) float64 { return x.Steer * deg }},
		{"brake", 2, Error{Step: 0.01}, func(x *Sight) float64 { return x.Brake }},
		{"throttle", 2, Error{Step: 0.01}, func(x *Sight) float64 { return x.Throttle }},
	}
	for i, name := range []string{"wheel_speed_fl_kmh", "wheel_speed_fr_kmh", "wheel_speed_rl_kmh", "wheel_speed_rr_kmh"} {
		out = append(out, Channel{name, 2, Error{Noise: 0.02, Scale: 0.004 * n(), Step: 0.01}, wheelSpeed(i, radius)})
	}
	return out
}

// Where the instruments sit: the antenna on the roof, the accelerometer under a
// seat; m from the centre of gravity, forward and left.
var (
	antenna = [2]float64{0.4, 0}
	seat    = [2]float64{-0.3, 0.1}
)

// Antenna gives where the antenna sits, forward and left of the centre of gravity, m.
func Antenna() (forward, left float64) { return antenna[0], antenna[1] }

// Seat gives where the accelerometer sits, as Antenna does.
func Seat() (forward, left float64) { return seat[0], seat[1] }

// Logger gives one instrument that writes everything at one rate on satellite time:
// a receiver with corrections, accelerometers and a yaw-rate sensor, and what the
// vehicle's own network says of steering, pedals and wheels, a wheel's radius being
// taken as given, in m. Its small errors are drawn anew for each mounting.
func Logger(hz float64, radius float64, rnd *rand.Rand) *Device {
	d := &Device{Name: "logger", Hz: hz, Antenna: antenna, Seat: seat, Fix: Corrected}
	d.Channels = append(d.Channels, positions()...)
	d.Channels = append(d.Channels, inertial(rnd)...)
	d.Channels = append(d.Channels, network(radius, rnd)...)
	return d
}

// Apart gives three instruments with rates and clocks of their own: a receiver of
// 20 Hz on satellite time whose values are 40 ms old, an inertial sensor of 100 Hz and
// the vehicle's network at 50 Hz, the last two on a logger's clock that is some tenths
// of a second off and runs wrong by some millionths.
func Apart(radius float64, rnd *rand.Rand) []*Device {
	n := rnd.NormFloat64
	offset, wrong := 0.3*n(), 15*n()
	receiver := &Device{Name: "gnss", Hz: 20, Delay: 0.04, Antenna: antenna, Fix: Corrected, Channels: positions()}
	receiver.Channels = append(receiver.Channels,
		Channel{"height_m", 2, Error{Noise: 0.02}, func(x *Sight) float64 { return x.Height }},
		Channel{"satellites", 0, Error{}, func(x *Sight) float64 { return x.Satellites }},
		Channel{"fix_quality", 0, Error{}, func(x *Sight) float64 { return x.Fix }})
	body := &Device{Name: "imu", Hz: 100, Delay: 0.004, Offset: offset, Millionths: wrong, Jitter: 0.0002, Seat: seat, Channels: inertial(rnd)}
	bus := &Device{Name: "can", Hz: 50, Delay: 0.015, Offset: offset, Millionths: wrong, Jitter: 0.001, Missing: 0.001, Channels: network(radius, rnd)}
	return []*Device{receiver, body, bus}
}

// Exact makes the instruments faultless: no noise, bias, scale error or resolution,
// clocks that are right, values that are not late, places without errors. What is
// left is sampling, and where the instruments sit.
func Exact(devices []*Device) {
	for _, d := range devices {
		d.Delay, d.Offset, d.Millionths, d.Jitter, d.Missing, d.Fix = 0, 0, 0, 0, 0, Fix{}
		for i := range d.Channels {
			d.Channels[i].Error = Error{}
			d.Channels[i].Digits += 3
		}
	}
}
