// Package signal holds channels on a time base: what a logger recorded, in SI
// units, with the stretches in which it is valid.
//
// A time base is seconds from the anchor of its recording, strictly increasing.
// A channel's values stand at the samples of its base; where a value is missing
// the sample lies outside every valid span and its stored value is 0, never
// NaN. Filters, crossings and integrals work span by span.
//
// Angles are in rad, temperatures in °C, everything else in SI units. Signs
// follow ISO 8855:2011: x forward, y left, z up; yaw, steering and lateral
// acceleration positive to the left.
package signal

import (
	"slices"
	"sort"

	"example.org/bookend/caveat"
	"example.org/bookend/clock"
	"example.org/bookend/fault"
)

// Role says what a channel measures; the empty role is not known.
type Role string

// The roles that procedures ask for, and the SI unit that each is kept in.
const (
	Latitude       Role = "latitude"           // rad, WGS 84, north positive
	Longitude      Role = "longitude"          // rad, WGS 84, east positive
	Height         Role = "height"             // m above the WGS 84 ellipsoid, or as the receiver states it
	East           Role = "east"               // m, in the local plane of the recording's maker
	North          Role = "north"              // m, likewise
	Speed          Role = "speed"              // m/s, over ground
	VelocityNorth  Role = "velocity_north"     // m/s
	VelocityEast   Role = "velocity_east"      // m/s
	VelocityUp     Role = "velocity_up"        // m/s
	CourseAngle    Role = "course_over_ground" // rad, clockwise from north as receivers state it
	Heading        Role = "heading"            // rad, as the source states it
	AccelX         Role = "acceleration_x"     // m/s², forward
	AccelY         Role = "acceleration_y"     // m/s², to the left
	AccelZ         Role = "acceleration_z"     // m/s², up
	YawRate        Role = "yaw_rate"           // rad/s, anticlockwise from above
	RollRate       Role = "roll_rate"          // rad/s
	PitchRate      Role = "pitch_rate"         // rad/s
	Roll           Role = "roll"               // rad
	Pitch          Role = "pitch"              // rad
	Sideslip       Role = "sideslip"           // rad
	SteeringAngle  Role = "steering_angle"     // rad, at the steering wheel
	SteeringTorque Role = "steering_torque"    // N·m
	WheelSpeedFL   Role = "wheel_speed_fl"     // m/s, circumferential; rad/s if the source states a rotation
	WheelSpeedFR   Role = "wheel_speed_fr"
	WheelSpeedRL   Role = "wheel_speed_rl"
	WheelSpeedRR   Role = "wheel_speed_rr"
	Brake          Role = "brake"           // 1, 0 released; switch or share of the pedal's travel
	Throttle       Role = "throttle"        // 1
	Satellites     Role = "satellites"      // count
	FixQuality     Role = "fix_quality"     // as the receiver codes it
	Distance       Role = "distance"        // m, odometer or trip
	AirTemperature Role = "air_temperature" // °C
	WaterDepth     Role = "water_depth"     // m
	BeamTrigger    Role = "trigger"         // 1, light beam or marker input
)

// Base is a time base: seconds from the anchor of its recording, strictly
// increasing. Several channels may share one.
type Base struct {
	T []float64
}

// Span is a stretch of samples, From included, To not.
type Span struct {
	From, To int
}

// Len gives the number of samples.
func (s Span) Len() int { return s.To - s.From }

// Mend is one change that was made to a channel, with its reason: written into
// its history in order, and part of every derivation that uses the channel.
type Mend struct {
	What   string  `json:"what"`             // "scale", "offset", "sign", "move", "zero", "drop"
	Value  float64 `json:"value"`            // factor, offset in the channel's unit, or seconds
	Reason string  `json:"reason,omitempty"` // a sentence
}

// Channel is one signal of a recording.
type Channel struct {
	Name       string // as the file has it
	Role       Role
	Unit       string // symbol of the SI unit that Values are in; empty where not known
	SourceUnit string // as the file states it; empty where it states none
	Base       *Base
	Values     []float64 // one a sample of Base; 0 outside every valid span
	Valid      []Span    // disjoint, in order, none empty
	History    []Mend
}

// Len gives the number of samples, valid or not.
func (c *Channel) Len() int { return len(c.Values) }

// AllValid tells whether every sample is valid.
func (c *Channel) AllValid() bool {
	return len(c.Valid) == 1 && c.Valid[0] == Span{0, len(c.Values)}
}

// ValidAt tells whether sample i is valid.
func (c *Channel) ValidAt(i int) bool {
	k := sort.Search(len(c.Valid), func(k int) bool { return c.Valid[k].To > i })
	return k < len(c.Valid) && c.Valid[k].From <= i
}

// Stretch is one valid span of a channel: times in s and values, alike long.
// The slices are windows into the channel and must not be changed.
type Stretch struct {
	T, V []float64
}

// Stretches gives the valid spans of the channel that lie in [from, to] seconds,
// cut to samples inside it. A span that no sample of lies inside is left out.
func (c *Channel) Stretches(from, to float64) []Stretch {
	var out []Stretch
	t := c.Base.T
	for _, s := range c.Valid {
		lo := s.From + sort.SearchFloat64s(t[s.From:s.To], from)
		hi := s.From + sort.Search(s.Len(), func(i int) bool { return t[s.From+i] > to })
		if lo < hi {
			out = append(out, Stretch{T: t[lo:hi], V: c.Values[lo:hi]})
		}
	}
	return out
}

// Recording is one logger file: its channels, when it began, and what there is
// to know about it.
type Recording struct {
	Name     string        // the file's name, without its folder
	SHA256   string        // of the raw bytes, lower-case hexadecimal
	Bytes    int64         // length of the raw file
	Reader   string        // id and version of the reader, "delimited/1"
	Anchor   clock.Instant // time zero of every base; its clock may be unknown
	Channels []*Channel
	Caveats  caveat.List
}

// ByRole gives the channel with that role; the first in the file where there
// are several, nil where there is none.
func (r *Recording) ByRole(role Role) *Channel {
	i := slices.IndexFunc(r.Channels, func(c *Channel) bool { return c.Role == role })
	if i < 0 {
		return nil
	}
	return r.Channels[i]
}

// ByName gives the channel of that name, or a not-found fault that lists what
// the recording has.
func (r *Recording) ByName(name string) (*Channel, error) {
	var names []string
	for _, c := range r.Channels {
		if c.Name == name {
			return c, nil
		}
		names = append(names, c.Name)
	}
	return nil, fault.New(fault.NotFound, "no channel %q", name).At("%s", r.Name).
		WithHint("the recording has: %s", list(names))
}

func list(names []string) string {
	out := ""
	for i, n := range names {
		if i > 0 {
			out += ", "
		}
		if i == 20 {
			return out + "…"
		}
		out += n
	}
	return out
}
