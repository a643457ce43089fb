package channel

import (
	"math"

	"example.org/bookend/caveat"
	"example.org/bookend/signal"
)

// settleRoles leaves a role that several columns claim to those with the plain
// name, and tells where more than one is left. Heights beside positions in 1e-7
// degrees are hardly in m where no unit is stated.
func (m *maker) settleRoles(channels []*signal.Channel, plans []plan, done []finished) {
	e7 := false
	for i := range done {
		e7 = e7 || done[i].e7
	}
	for i := range plans {
		f := &done[i]
		if f.channel == nil || f.channel.Role == "" {
			continue
		}
		if f.channel.Role == signal.Height && e7 && plans[i].assume {
			f.channel.Role, f.channel.Unit = "", ""
			f.caveats = nil
			f.caveats.Add("unit_missing", caveat.Place{}, "No unit is stated, and beside positions in 1e-7 degrees a height is hardly in m. The channel is kept without a role; a mapping can state its unit.")
			continue
		}
		if wheel[f.channel.Role] && plans[i].assume {
			wheelUnit(f, channels)
			continue
		}
		if !plans[i].guess.Weak {
			continue
		}
		for j := range plans {
			if o := done[j].channel; j != i && o != nil && o.Role == f.channel.Role && !plans[j].guess.Weak {
				f.channel.Role = ""
				break
			}
		}
	}
	first := map[signal.Role]string{}
	for _, c := range channels {
		if c.Role == "" {
			continue
		}
		if name, twice := first[c.Role]; twice {
			m.caveats.Add("role_twice", caveat.Place{File: m.File, Channel: c.Name}, "It could be %s, as %s could, which stands first and is used. A mapping can say otherwise.", c.Role, name)
			continue
		}
		first[c.Role] = c.Name
	}
}

var wheel = map[signal.Role]bool{signal.WheelSpeedFL: true, signal.WheelSpeedFR: true, signal.WheelSpeedRL: true, signal.WheelSpeedRR: true}

// wheelUnit tells from the speed over ground whether a wheel's speed without a
// unit is circumferential, in m/s, or a rotation in rad/s: their greatest values
// are alike, or differ by the wheel's radius. Own bounds: slip and unlike tyres
// stay below a quarter, and the radius of a road vehicle's wheel lies between
// 0.2 and 0.55 m. km/h, of a wheel of 0.278 m, is not told from rad/s: near 3.6 the
// role is lost.
func wheelUnit(f *finished, channels []*signal.Channel) {
	c := f.channel
	ground := 0.0
	for _, s := range channels {
		if s.Role == signal.Speed && s.Unit == "m/s" {
			ground, _ = greatest(s)
			break
		}
	}
	most, _ := greatest(c)
	ratio := 0.0
	if ground > 3 { // below walking pace nothing can be told
		ratio = most / ground
	}
	switch {
	case ratio > 0.75 && ratio < 1.25:
		c.Unit = "m/s"
	case ratio > 1/0.55 && ratio < 1/0.2 && math.Abs(ratio-3.6) > 0.15:
		c.Unit = "rad/s"
	default:
		f.caveats.Add("unit_missing", caveat.Place{}, "The name says %s, but no unit is stated, and the speed over ground does not tell which it is. The channel is kept without a role; a mapping can state its unit.", c.Role)
		c.Role = ""
		return
	}
	f.caveats.Add("unit_assumed", caveat.Place{}, "No unit is stated; values up to %.6g, %.3g times the greatest speed over ground in m/s, are taken to be in %s. A mapping can state another.", most, ratio, c.Unit)
}

// greatest gives the greatest magnitude among a channel's values, and whether all
// of them are whole numbers.
func greatest(c *signal.Channel) (most float64, whole bool) {
	whole = true
	for _, s := range c.Valid {
		for _, v := range c.Values[s.From:s.To] {
			most = max(most, math.Abs(v))
			whole = whole && v == math.Trunc(v)
		}
	}
	return most, whole
}
