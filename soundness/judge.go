package soundness

import (
	"fmt"
	"math"
	"slices"

	"example.org/bookend/caveat"
	"example.org/bookend/motion"
	"example.org/bookend/signal"
	"example.org/bookend/soundness/agree"
	"example.org/bookend/soundness/mend"
)

// Finding is one thing that is not right about a recording, with the mend that
// would put it right; Mends is empty where nothing can be proposed. They belong
// together and are accepted as one.
type Finding struct {
	caveat.Caveat
	Mends []mend.Mend `json:"mends"`

	// Of a scale error: what the channel shows is about Factor times the reference. A
	// line that need not go through 0 may say so otherwise: LineFactor times it and
	// LineOffset more, in the channel's unit. Nil where nothing is known of it.
	Factor     *float64 `json:"factor,omitempty"`
	LineFactor *float64 `json:"line_factor,omitempty"`
	LineOffset *float64 `json:"line_offset,omitempty"`
}

// Judge says what is not right about the recordings of one drive, one file a
// sensor or one for all: what the stamps say, what stands still or runs into a
// limit, and what contradicts what other channels let expect by physics. The order
// is that of the files and their channels.
func Judge(recs ...*signal.Recording) ([]Finding, error) {
	found, _, err := Examine(recs...)
	return found, err
}

// Confirmation says that physics bears out what a channel's role says: it goes with By,
// with that correlation (negative where its sign is the wrong way round).
type Confirmation struct {
	File, Channel string
	By            string // in words
	Correlation   float64
}

// Examine judges as Judge does, and says besides which roles are confirmed, in the
// order of files and channels. What is neither found wrong nor confirmed moved too
// little, or nothing stands beside it that would tell.
func Examine(recs ...*signal.Recording) ([]Finding, []Confirmation, error) {
	rec, err := motion.Join(recs...)
	if err != nil {
		return nil, nil, err
	}
	j := &judge{rec: rec, file: map[*signal.Channel]string{}, bad: map[*signal.Channel][]signal.Span{}, sure: map[*signal.Channel]Confirmation{}}
	i := 0
	for _, r := range recs {
		for range r.Channels {
			j.file[rec.Channels[i]] = r.Name
			i++
		}
	}
	j.stamps()
	for _, c := range rec.Channels {
		j.held(c, j.moving(c))
	}
	j.physics()
	slices.SortStableFunc(j.out, func(a, b Finding) int { return j.rank(a) - j.rank(b) })
	var sure []Confirmation
	for _, c := range rec.Channels {
		if k, ok := j.sure[c]; ok {
			sure = append(sure, k)
		}
	}
	return j.out, sure, nil
}

// findings is every code of a finding but "gap", which readers say too.
var findings = []string{"flipped_sign", "wrong_unit", "scale_error", "offset", "late_channel", "clock_jump", "stuck_channel", "clipped_channel", "contradicts", "impossible_change"}

// Finds tells whether a caveat of that code is a finding of Judge about a channel.
func Finds(code string) bool { return slices.Contains(findings, code) }

type judge struct {
	rec  *signal.Recording
	file map[*signal.Channel]string
	bad  map[*signal.Channel][]signal.Span // samples not to be believed
	out  []Finding

	clean map[*signal.Channel]*signal.Channel // channels without what is bad
	late  []lag
	sure  map[*signal.Channel]Confirmation
	ref   agree.Reference
}

// rank gives the place of a finding's channel.
func (j *judge) rank(f Finding) int {
	return slices.IndexFunc(j.rec.Channels, func(c *signal.Channel) bool {
		return c.Name == f.Place.Channel && j.file[c] == f.Place.File
	})
}

// confirm says that a channel goes with what its role lets expect.
func (j *judge) confirm(c *signal.Channel, by string, correlation float64) {
	j.sure[c] = Confirmation{File: j.file[c], Channel: c.Name, By: by, Correlation: correlation}
}

// find says something about a channel; the mends are for it.
func (j *judge) find(c *signal.Channel, code string, at *float64, mends []mend.Mend, format string, args ...any) {
	for i := range mends {
		mends[i].File, mends[i].Channel = j.file[c], c.Name
	}
	j.findAll(c, code, at, mends, format, args...)
}

func (j *judge) findAll(c *signal.Channel, code string, at *float64, mends []mend.Mend, format string, args ...any) {
	if mends == nil {
		mends = []mend.Mend{}
	}
	j.out = append(j.out, Finding{
		Caveat: caveat.Caveat{Code: code, Place: caveat.Place{File: j.file[c], Channel: c.Name, TimeS: at}, Text: fmt.Sprintf(format, args...)},
		Mends:  mends,
	})
}

// bases gives the bases of the recording in the order of its channels.
func (j *judge) bases() []*signal.Base {
	var out []*signal.Base
	for _, c := range j.rec.Channels {
		if !slices.Contains(out, c.Base) {
			out = append(out, c.Base)
		}
	}
	return out
}

// on gives the channels that stand on a base.
func (j *judge) on(b *signal.Base) []*signal.Channel {
	var out []*signal.Channel
	for _, c := range j.rec.Channels {
		if c.Base == b {
			out = append(out, c)
		}
	}
	return out
}

// byRole gives the first channel of a role on a base, nil if there is none.
func (j *judge) byRole(role signal.Role, b *signal.Base) *signal.Channel {
	for _, c := range j.rec.Channels {
		if c.Role == role && c.Base == b {
			return c
		}
	}
	return nil
}

var wheelRoles = []signal.Role{signal.WheelSpeedFL, signal.WheelSpeedFR, signal.WheelSpeedRL, signal.WheelSpeedRR}

// surelyMoving is the speed in m/s, or of a wheel in rad/s, above which a vehicle
// does not stand, whatever unit the channel is really in (own choice).
const surelyMoving = 1.0

// moving gives a function that tells whether any speed but the channel's own says
// that the vehicle moves in a stretch of time; nil where there is no speed.
func (j *judge) moving(but *signal.Channel) func(from, to float64) bool {
	var speeds []*signal.Channel
	for _, c := range j.rec.Channels {
		if c.Role == signal.Speed || slices.Contains(wheelRoles, c.Role) || c.Role == signal.VelocityEast || c.Role == signal.VelocityNorth {
			speeds = append(speeds, c)
		}
	}
	if speeds == nil {
		return nil
	}
	return func(from, to float64) bool {
		return slices.ContainsFunc(speeds, func(c *signal.Channel) bool {
			for _, share := range [...]float64{0, 0.5, 1} {
				if v, ok := c.At(from + share*(to-from)); !ok || math.Abs(v) < surelyMoving {
					return false
				}
			}
			return true
		})
	}
}

// lag is how late a channel is against the reference.
type lag struct {
	c         *signal.Channel
	of        string // what the reference is, in words
	delay, se float64
	low, high float64 // what it may be
}

// physics compares channels with each other.
func (j *judge) physics() {
	j.clean = map[*signal.Channel]*signal.Channel{}
	clean := *j.rec
	clean.Channels = nil
	for _, c := range j.rec.Channels {
		d := j.without(c)
		j.clean[c] = d
		clean.Channels = append(clean.Channels, d)
	}
	if !j.refer(&clean) {
		return
	}
	j.votes()
	for _, c := range j.rec.Channels {
		if !slices.Contains(j.ref.Ground, j.clean[c]) {
			j.compare(c)
		}
	}
	j.lags()
}

// refer makes the reference: positions and velocities against each other, the
// better of them, else the speed that there is.
func (j *judge) refer(rec *signal.Recording) bool {
	from, to := math.Inf(1), math.Inf(-1)
	for _, c := range rec.Channels {
		if n := len(c.Base.T); n > 0 {
			from, to = min(from, c.Base.T[0]), max(to, c.Base.T[n-1])
		}
	}
	if !(to > from) || to-from > longestDrive {
		return false
	}
	r := &j.ref
	r.Band = agree.UsefulBand
	step := agree.GridStep
	if lat := first(rec, signal.Latitude, signal.East); lat != nil {
		if s := lat.Base.Step(); s > 2*agree.GridStep { // a slow receiver shows less
			step = min(s/2, 0.5)
			r.Band = min(agree.UsefulBand, 0.25/s)
		}
	}
	r.Grid = agree.NewGrid(from, to, step)
	pe, pn, places, byPlace := agree.Path(rec, r.Grid, r.Band)
	ve, vn, velocities, byVelocity := agree.Velocity(rec, r.Grid, r.Band)
	if byVelocity && byPlace && !j.velocityAgainstPath(velocities, agree.Length(ve, vn), agree.Length(pe, pn)) {
		byVelocity = false
	}
	switch {
	case byVelocity:
		r.Bend(ve, vn)
		r.BySpeed, r.ByTurn, r.Ground = "satellite velocity", "the course over ground", append(velocities, places...)
	case byPlace:
		r.Bend(pe, pn)
		r.BySpeed, r.ByTurn, r.Ground = "positions", "the path over ground", append(velocities, places...)
	default:
		c := rec.ByRole(signal.Speed)
		if c == nil {
			c = first(rec, wheelRoles...)
		}
		if c == nil || c.Unit == "rad/s" {
			return true // signals may still be compared with each other
		}
		r.Speed = r.On(c)
		r.Along = r.Speed.Slope()
		r.BySpeed, r.Ground = c.Name, []*signal.Channel{c}
	}
	r.Clock = r.Ground[len(r.Ground)-1].Base
	return true
}

// longestDrive in s is how long a recording may be to be compared: beyond a day
// its stamps are not seconds of one drive (own choice).
const longestDrive = 86400.0

func first(rec *signal.Recording, roles ...signal.Role) *signal.Channel {
	for _, role := range roles {
		if c := rec.ByRole(role); c != nil {
			return c
		}
	}
	return nil
}
