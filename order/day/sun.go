package day

import (
	"math"
	"time"
)

// Sun says when the sun is up at a place: by Meeus, Astronomical Algorithms
// (1998), chapter 25 (the sun's place, low accuracy, 0.01 degrees), 28 (equation
// of time, W. M. Smart's formula) and 15 (rising and setting). Beside the
// refraction of a standard atmosphere at sea level, a hill or a haze moves
// sunrise by minutes.
type Sun struct {
	Latitude  float64 // degrees, north positive
	Longitude float64 // degrees, east positive
}

// horizon is the altitude in degrees of the sun's centre when its upper edge
// rises or sets: refraction 34', half diameter 16'. Source: Meeus, chapter 15.
const horizon = -0.8333

// place gives the sun's declination in radians and the equation of time
// (apparent less mean time) in radians of hour angle, at an instant. Meeus
// (25.2) to (25.8) and (28.3); UTC is taken for dynamical time, which is a
// minute off and moves the declination by less than 0.001 degrees.
func place(at time.Time) (declination, equation float64) {
	const deg = math.Pi / 180
	t := (float64(at.Unix())/86400 + 2440587.5 - 2451545) / 36525
	l0 := math.Mod(280.46646+t*(36000.76983+t*0.0003032), 360) * deg
	m := math.Mod(357.52911+t*(35999.05029-t*0.0001537), 360) * deg
	e := 0.016708634 - t*(0.000042037+t*0.0000001267)
	c := (1.914602-t*(0.004817+t*0.000014))*math.Sin(m) + (0.019993-t*0.000101)*math.Sin(2*m) + 0.000289*math.Sin(3*m)
	node := (125.04 - 1934.136*t) * deg
	lambda := l0 + (c-0.00569-0.00478*math.Sin(node))*deg
	// (22.2), and its correction for the sun's apparent place.
	tilt := (23 + 26/60.0 + (21.448-t*(46.8150+t*(0.00059-t*0.001813)))/3600 + 0.00256*math.Cos(node)) * deg
	declination = math.Asin(math.Sin(tilt) * math.Sin(lambda))
	y := math.Tan(tilt/2) * math.Tan(tilt/2)
	equation = y*math.Sin(2*l0) - 2*e*math.Sin(m) + 4*e*y*math.Sin(m)*math.Cos(2*l0) - y*y/2*math.Sin(4*l0) - 1.25*e*e*math.Sin(2*m)
	return declination, equation
}

// Rise gives sunrise and sunset on the day, in its zone, that holds an instant,
// to about a minute. Up is true where the sun does not set on that day; both
// false and up false is a day without sun.
func (s Sun) Rise(on time.Time) (rise, set time.Time, up, both bool) {
	const deg = math.Pi / 180
	noon := time.Date(on.Year(), on.Month(), on.Day(), 12, 0, 0, 0, on.Location())
	// The transit of the sun that is nearest to noon of the zone's clock.
	midnight := time.Date(noon.UTC().Year(), noon.UTC().Month(), noon.UTC().Day(), 0, 0, 0, 0, time.UTC)
	hour := func(at time.Time) (angle float64, ok bool) {
		d, _ := place(at)
		phi := s.Latitude * deg
		h := (math.Sin(horizon*deg) - math.Sin(phi)*math.Sin(d)) / (math.Cos(phi) * math.Cos(d))
		switch {
		case h < -1:
			return math.Pi, false
		case h > 1:
			return 0, false
		}
		return math.Acos(h), true
	}
	transit := func(at time.Time) time.Time {
		_, e := place(at)
		hours := 12 - s.Longitude/15 - e/deg/15
		out := midnight.Add(time.Duration(hours * float64(time.Hour)))
		for out.Sub(noon) > 12*time.Hour {
			out = out.Add(-24 * time.Hour)
		}
		for noon.Sub(out) > 12*time.Hour {
			out = out.Add(24 * time.Hour)
		}
		return out
	}
	turn := func(sign float64) (time.Time, bool) {
		at := transit(noon)
		// Declination and equation of time at the event itself: three rounds leave
		// less than a second.
		for range 3 {
			h, ok := hour(at)
			if !ok {
				return at, false
			}
			at = transit(at).Add(time.Duration(sign * h / deg / 15 * float64(time.Hour)))
		}
		return at, true
	}
	rise, a := turn(-1)
	set, b := turn(+1)
	if !a || !b {
		h, _ := hour(noon)
		return time.Time{}, time.Time{}, h > 1, false
	}
	return rise.In(on.Location()), set.In(on.Location()), false, true
}

// Light gives daylight on a day as a span of its zone's clock, in s from
// midnight; ok is false on a day without sun.
func (s Sun) Light(on time.Time) (light Span, ok bool) {
	rise, set, up, both := s.Rise(on)
	if !both {
		return Span{0, day}, up
	}
	clock := func(t time.Time) float64 {
		h, m, sec := t.Clock()
		return float64(h*3600 + m*60 + sec)
	}
	light = Span{clock(rise), clock(set)}
	if rise.Day() != on.Day() {
		light.FromS = 0
	}
	if set.Day() != on.Day() || light.ToS <= light.FromS {
		light.ToS = day
	}
	return light, true
}
