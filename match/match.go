// Package match cuts recordings into runs and says whose run each is.
//
// A recording is cut as its procedure asks (programme.Cut): into laps by the first
// gate, into stops by speed, into passes from the first gate to the last, or not at
// all. Each piece is a window in seconds on the recording's base. What is odd about
// a piece (it holds a standstill, its length is off) is a flag with its reason;
// whoever averages leaves flagged pieces out, and nobody deletes them.
//
// Whose run a piece is, order and clock say together (ByClock), with the offset between
// the recorder's clock and the run log's estimated; what they do not agree on is said
// and not used. Where there is no clock, order says it alone (ByOrder).
//
// Positions are WGS 84 in the course's plane, lengths in m, speeds in m/s. Gates
// are crossed one way, between samples, and never across a gap.
package match

import (
	"cmp"
	"math"
	"slices"

	"example.org/bookend/caveat"
	"example.org/bookend/course"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
	"example.org/bookend/unit"
)

// Kind says what a piece of a recording is.
type Kind string

// Out-lap: before the first crossing of the gate. In-lap: after the last. Timed:
// a whole lap, pass or stop, which is a run.
const (
	OutLap Kind = "out_lap"
	InLap  Kind = "in_lap"
	Timed  Kind = "timed"
)

// Piece is one window of a recording.
type Piece struct {
	FromS, ToS float64 // s from the recording's anchor
	Number     int     // of a timed piece, from 1 in the order driven; 0 otherwise
	Kind       Kind
	LengthM    float64     // driven, by position or else by speed, in m; 0 where neither is known
	Flags      caveat.List // why it is odd; empty for a good one
}

// Counts tells whether the piece may enter a mean: a timed one without a flag.
func (p Piece) Counts() bool { return p.Kind == Timed && len(p.Flags) == 0 }

// Codes of flags.
const (
	FlagStanding  = "standing"         // the vehicle stood within the piece
	FlagLength    = "odd_length"       // its length is off that of the others
	FlagFirst     = "first_timed_lap"  // left out by rule
	FlagGap       = "position_missing" // positions are missing within it
	caveatNoLap   = "no_whole_lap"
	caveatJitter  = "gate_crossed_again"
	caveatNoSpeed = "no_speed"
)

// Parameters that a procedure may declare and that cutting heeds; where a Spec does
// not declare one, its default here counts.
const (
	ParamStandingSpeed = "standing_speed" // m/s, below which a vehicle stands
	ParamStandingTime  = "standing_time"  // s, for longer than which it stands
	ParamLengthShare   = "length_share"   // share by which a length may be off the median
	ParamFirstLap      = "first_lap"      // "keep" or "leave_out"
	ParamWindow        = "window"         // WindowSpeeds: the window lies between the two speeds that follow
	ParamFromSpeed     = "from_speed"     // m/s
	ParamToSpeed       = "to_speed"       // m/s
	ParamRestSpeed     = "rest_speed"     // m/s, below which a vehicle is at rest
	ParamLeastEntry    = "least_entry"    // m/s, that a fall to rest must begin above to be a stop
)

// Words of parameters: by LeaveOut the first timed lap is flagged, by WindowSpeeds a
// stop is measured between two speeds.
const (
	LeaveOut     = "leave_out"
	WindowSpeeds = "speeds"
)

// Defaults, where the Spec declares none. Own choices: a vehicle that creeps is
// driving, one held at a walking pace's tenth for two seconds is not lapping; lines
// of one course differ by 3 % at most, a missed corner by more than 5 %.
const (
	standingSpeed = 0.5
	standingTime  = 2.0
	lengthShare   = 0.05
	restSpeed     = 0.1
	leastEntry    = 20 / 3.6
)

func number(ps programme.Parameters, id string, fallback float64) float64 {
	for _, p := range ps {
		if p.ID == id {
			return p.Number
		}
	}
	return fallback
}

func word(ps programme.Parameters, id string) string {
	for _, p := range ps {
		if p.ID == id {
			return p.Word
		}
	}
	return ""
}

// Cut cuts a recording into pieces as the Spec asks, in the order driven. Parameters
// are complete, by Spec.Settings. What is doubtful about the whole is a caveat. A
// gate that is never crossed, a missing channel and a recording without any stop are
// faults; the hint says how near the vehicle came and whether it came the other way.
func Cut(rec *signal.Recording, c *course.Course, spec programme.Spec, params programme.Parameters) ([]Piece, caveat.List, error) {
	var pieces []Piece
	var doubt caveat.List
	var err error
	switch spec.Cut {
	case programme.CutByGate, programme.CutByPass:
		pieces, doubt, err = byGates(rec, c, spec, params)
	case programme.CutByStop:
		pieces, err = byStops(rec, params)
	case programme.CutWhole:
		pieces, err = whole(rec)
	default:
		err = fault.New(fault.Unsupported, "procedure %s cuts by %q", spec.ID, spec.Cut)
	}
	if err != nil {
		return nil, nil, fault.At(err, "%s", rec.Name)
	}
	for i := range pieces {
		pieces[i].Flags = pieces[i].Flags.Within(caveat.Place{File: rec.Name})
	}
	return pieces, doubt.Within(caveat.Place{File: rec.Name}), nil
}

// whole gives the recording as one piece, from the first sample of any channel to
// the last.
func whole(rec *signal.Recording) ([]Piece, error) {
	from, to := math.Inf(1), math.Inf(-1)
	for _, ch := range rec.Channels {
		for _, s := range ch.Valid {
			from, to = math.Min(from, ch.Base.T[s.From]), math.Max(to, ch.Base.T[s.To-1])
		}
	}
	if !(to > from) {
		return nil, fault.New(fault.Invalid, "the recording holds no stretch of samples")
	}
	return []Piece{{FromS: from, ToS: to, Number: 1, Kind: Timed}}, nil
}

// tracks gives the recording's path in the course's plane, one track for each
// stretch in which both coordinates are valid.
func tracks(rec *signal.Recording, c *course.Course) ([]course.Track, error) {
	lat, lon := rec.ByRole(signal.Latitude), rec.ByRole(signal.Longitude)
	if lat == nil || lon == nil {
		return nil, fault.New(fault.Invalid, "gates need latitude and longitude, and the recording lacks them").
			WithHint("name the columns in a mapping file if they are there under other names")
	}
	plane := c.Plane()
	var out []course.Track
	for _, p := range signal.Pair(lat, lon, math.Inf(-1), math.Inf(1)) {
		out = append(out, plane.Track(p.T, p.A, p.B))
	}
	if len(out) == 0 {
		return nil, fault.New(fault.Invalid, "latitude and longitude hold no valid sample together")
	}
	return out, nil
}

func byGates(rec *signal.Recording, c *course.Course, spec programme.Spec, params programme.Parameters) ([]Piece, caveat.List, error) {
	if c == nil || len(c.Posts) == 0 {
		return nil, nil, fault.New(fault.Invalid, "procedure %s needs a gate", spec.ID).
			WithHint("give a gate as LAT,LON,LAT,LON in degrees, the right post as driven first")
	}
	gates := c.Gates()
	if spec.Cut == programme.CutByPass && len(gates) < 2 {
		return nil, nil, fault.New(fault.Invalid, "a pass needs a first and a last gate, and the course has one gate")
	}
	path, err := tracks(rec, c)
	if err != nil {
		return nil, nil, err
	}
	first, jitter := crossings(path, gates[0])
	if len(first) == 0 {
		return nil, nil, missed(path, gates, 0)
	}
	var doubt caveat.List
	for _, t := range jitter {
		doubt.Add(caveatJitter, caveat.Place{TimeS: caveat.At(t)},
			"The first gate is crossed again before the vehicle has left it by its width; only the first crossing counts.")
	}
	start, end := path[0].T[0], path[len(path)-1].T[len(path[len(path)-1].T)-1]
	var pieces []Piece
	add := func(from, to float64, kind Kind) {
		p := Piece{FromS: from, ToS: to, Kind: kind, LengthM: driven(path, from, to)}
		if kind == Timed {
			p.Number = 1
			for _, q := range pieces {
				if q.Kind == Timed {
					p.Number++
				}
			}
		}
		pieces = append(pieces, p)
	}
	if spec.Cut == programme.CutByPass {
		last, _ := crossings(path, gates[len(gates)-1])
		for i, from := range first {
			k, _ := slices.BinarySearch(last, from)
			if k < len(last) && (i+1 == len(first) || last[k] <= first[i+1]) {
				add(from, last[k], Timed)
			}
		}
		if len(pieces) == 0 {
			return nil, nil, missed(path, gates, len(gates)-1)
		}
	} else {
		if start < first[0] {
			add(start, first[0], OutLap)
		}
		for i := 1; i < len(first); i++ {
			add(first[i-1], first[i], Timed)
		}
		if end > first[len(first)-1] {
			add(first[len(first)-1], end, InLap)
		}
		if len(first) == 1 {
			doubt.Add(caveatNoLap, caveat.Place{TimeS: caveat.At(first[0])}, "The first gate is crossed once, so there is no whole lap.")
		}
	}
	flagGaps(pieces, path)
	doubt = append(doubt, flagStanding(pieces, rec, path, params)...)
	flagLengths(pieces, number(params, ParamLengthShare, lengthShare))
	if word(params, ParamFirstLap) == LeaveOut {
		for i := range pieces {
			if pieces[i].Number == 1 {
				pieces[i].Flags.Add(FlagFirst, caveat.Place{TimeS: caveat.At(pieces[i].FromS)}, "The first timed lap is left out by rule.")
			}
		}
	}
	return pieces, doubt, nil
}

// crossings gives the times in s at which the path crosses a gate in its direction.
// A crossing before the vehicle has been farther from the gate's middle than the
// gate is wide belongs to the one before it: a receiver that stands on the line
// jitters to and fro.
func crossings(path []course.Track, g course.Gate) (out, jitter []float64) {
	middle, width := g.Middle(), g.Width()
	away := true
	for _, tr := range path {
		xs := tr.Crossings(g)
		k := 0
		for i, p := range tr.At {
			// The crossings of the step that ends at sample i.
			for k < len(xs) && xs[k].T <= tr.T[i] {
				if away {
					out = append(out, xs[k].T)
				} else {
					jitter = append(jitter, xs[k].T)
				}
				away = false
				k++
			}
			away = away || p.Distance(middle) > width
		}
	}
	return out, jitter
}

// missed is the fault of a gate that is never crossed.
func missed(path []course.Track, gates []course.Gate, which int) error {
	g := gates[which]
	backward := 0
	near, at := math.Inf(1), 0.0
	for _, tr := range path {
		backward += len(tr.Crossings(g.Reversed()))
		if m, t := tr.Nearest(g); m < near {
			near, at = m, t
		}
	}
	err := fault.New(fault.Invalid, "gate %d is never crossed", which+1)
	if backward > 0 {
		if which > 0 {
			err = fault.New(fault.Invalid, "gate %d is never crossed after gate 1", which+1)
		}
		return err.WithHint("it is crossed %d times the other way: exchange the posts (the right post as driven comes first)", backward)
	}
	if near == 0 {
		return fault.New(fault.Invalid, "gate %d is never crossed between two crossings of gate 1", which+1).
			WithHint("it is crossed at %.3f s: give the gates in the order driven", at)
	}
	return err.WithHint("the vehicle came within %s of it, at %.3f s: check the posts, or widen the gate", distance(near), at)
}

func distance(m float64) string {
	if m < 1000 {
		return trim(m, 1) + " m"
	}
	return trim(m/1000, 1) + " km"
}

func trim(x float64, digits int) string { return unit.Number(x, digits, unit.Plain) }

// driven gives the path's length in m between two times, gaps left out.
func driven(path []course.Track, from, to float64) float64 {
	sum := 0.0
	for _, tr := range path {
		sum += tr.Between(from, to).Length()
	}
	return sum
}

// flagGaps flags pieces within which positions are missing.
func flagGaps(pieces []Piece, path []course.Track) {
	for i := range pieces {
		p := &pieces[i]
		inside := slices.ContainsFunc(path, func(tr course.Track) bool { return tr.T[0] <= p.FromS && tr.T[len(tr.T)-1] >= p.ToS })
		if !inside {
			p.Flags.Add(FlagGap, caveat.Place{TimeS: caveat.At(p.FromS)},
				"Positions are missing within it: its length is too short, and a crossing of a gate may have been lost.")
		}
	}
}

// flagStanding flags pieces in which the vehicle stood, and gives a caveat if that
// could only be judged by position.
func flagStanding(pieces []Piece, rec *signal.Recording, path []course.Track, params programme.Parameters) caveat.List {
	limit, least := number(params, ParamStandingSpeed, standingSpeed), number(params, ParamStandingTime, standingTime)
	var doubt caveat.List
	speed := rec.SpeedOverGround()
	var stretches []signal.Stretch
	if speed != nil {
		stretches = speed.All()
	} else {
		doubt.Add(caveatNoSpeed, caveat.Place{}, "There is no speed channel; whether the vehicle stood is judged by its positions.")
		for _, tr := range path {
			stretches = append(stretches, speedOf(tr))
		}
	}
	for i := range pieces {
		p := &pieces[i]
		for _, s := range stretches {
			for _, w := range s.Cut(p.FromS, p.ToS).Below(limit) {
				if w[1]-w[0] > least {
					p.Flags.Add(FlagStanding, caveat.Place{TimeS: caveat.At(w[0])},
						"The vehicle stood for %s s (below %s m/s for longer than %s s).", trim(w[1]-w[0], 1), trim(limit, 2), trim(least, 1))
				}
			}
		}
	}
	return doubt
}

// speedOf gives the speed in m/s along a track, at the middle of each step.
func speedOf(tr course.Track) signal.Stretch {
	var s signal.Stretch
	for i := 1; i < len(tr.T); i++ {
		s.T = append(s.T, (tr.T[i-1]+tr.T[i])/2)
		s.V = append(s.V, tr.At[i-1].Distance(tr.At[i])/(tr.T[i]-tr.T[i-1]))
	}
	return s
}

// flagLengths flags timed pieces whose length is off the median of the timed ones
// by more than a share. Fewer than three have no median that could judge them.
func flagLengths(pieces []Piece, share float64) {
	var lengths []float64
	for _, p := range pieces {
		if p.Kind == Timed {
			lengths = append(lengths, p.LengthM)
		}
	}
	if len(lengths) < 3 {
		return
	}
	slices.Sort(lengths)
	n := len(lengths)
	median := (lengths[(n-1)/2] + lengths[n/2]) / 2
	for i := range pieces {
		p := &pieces[i]
		if p.Kind == Timed && math.Abs(p.LengthM-median) > share*median {
			p.Flags.Add(FlagLength, caveat.Place{TimeS: caveat.At(p.FromS)},
				"It is %s m long, %s %% off the median of %s m.", trim(p.LengthM, 1), trim(100*math.Abs(p.LengthM-median)/median, 1), trim(median, 1))
		}
	}
}

// byStops finds falls of speed: from the window's upper speed to its lower one, or
// from above the least entry speed to rest. A stop's piece begins where the vehicle last came up from the
// lower speed (or rest) and ends two seconds after the lower speed is reached, so
// that a rebound is seen, but not after the vehicle drives off again.
func byStops(rec *signal.Recording, params programme.Parameters) ([]Piece, error) {
	speed := rec.SpeedOverGround()
	if speed == nil {
		return nil, fault.New(fault.Invalid, "stops are found by speed, and the recording has none").
			WithHint("name the column in a mapping file if it is there under another name")
	}
	rest := number(params, ParamRestSpeed, restSpeed)
	low, high := rest, number(params, ParamLeastEntry, leastEntry)
	if word(params, ParamWindow) == WindowSpeeds {
		// Own choice: what never came within 5 % of the upper speed was no try at it.
		low, high = math.Max(rest, number(params, ParamToSpeed, rest)), 0.95*number(params, ParamFromSpeed, high)
	}
	high = math.Max(high, low*1.01)
	const after = 2.0 // s, own choice: a pitch rebound is over within one
	var pieces []Piece
	for _, s := range speed.All() {
		armed := false
		from := s.T[0]
		for i := 0; i < len(s.V); i++ {
			v := s.V[i]
			switch {
			case v >= high:
				armed = true
			case armed && v <= low:
				armed = false
				// To rest, if the fall goes on to it.
				k := i
				for k+1 < len(s.V) && s.V[k] > rest && s.V[k] <= low {
					k++
				}
				if s.V[k] > low {
					k = i
				}
				to := s.T[k]
				for k+1 < len(s.V) && s.T[k+1] <= to+after && s.V[k+1] <= math.Max(low, rest) {
					k++
				}
				p := Piece{FromS: from, ToS: s.T[k], Number: len(pieces) + 1, Kind: Timed}
				p.LengthM, _ = s.Integral(p.FromS, p.ToS)
				pieces = append(pieces, p)
				from = s.T[k]
				i = k
			case !armed && v <= low:
				from = s.T[i] // the run-up begins at the last sample at or below the lower speed
			}
		}
	}
	if len(pieces) == 0 {
		most := math.Inf(-1)
		for _, s := range speed.All() {
			most = math.Max(most, slices.Max(s.V))
		}
		err := fault.New(fault.Invalid, "the recording holds no stop from above %s km/h to %s km/h", trim(high*3.6, 1), trim(low*3.6, 2))
		if most > math.Inf(-1) {
			err = err.WithHint("its highest speed is %s km/h; choose other speeds, or check the unit of the speed", trim(most*3.6, 1))
		}
		return nil, err
	}
	return pieces, nil
}

// Owned is a piece and the run that it is.
type Owned struct {
	Piece Piece
	Run   programme.Run
}

// ByOrder says whose run each timed piece is by order alone: the first piece is the
// first run, whatever the clocks say. Flagged pieces were driven and count. Unless
// there are as many timed pieces as runs it is a conflict, since one piece too many
// would shift all that follow.
func ByOrder(pieces []Piece, runs []programme.Run) ([]Owned, error) {
	var timed []Piece
	for _, p := range pieces {
		if p.Kind == Timed {
			timed = append(timed, p)
		}
	}
	if len(timed) != len(runs) {
		return nil, fault.New(fault.Conflict, "the recording holds %d runs and the run log lists %d", len(timed), len(runs)).
			WithHint("list every lap, stop or pass that was driven, the odd ones too, and exclude those with a reason")
	}
	slices.SortStableFunc(timed, func(a, b Piece) int { return cmp.Compare(a.FromS, b.FromS) })
	out := make([]Owned, len(timed))
	for i, p := range timed {
		out[i] = Owned{Piece: p, Run: runs[i]}
	}
	return out, nil
}
