// Package aquaplanecurve turns passes through a trough on a circle, each faster than the
// one before, into how much lateral acceleration the tyres keep on water by speed.
//
// Source: published method pages of independent testers (docs/sources/aquaplaning-tests.md):
// a circle with a trough of some 7 mm, from 60 km/h upward by 5 km/h, several passes a
// step; entry speed and least lateral acceleration in the trough. The figures of the whole
// curve (its greatest value, the area below it between two speeds by the trapezoidal rule,
// the speed at which it has fallen to a set value) are common practice.
//
// Speeds in m/s, lateral acceleration in m/s² as its size, positive to the inside of the
// circle; the area in m²/s³ (km/h·m/s² as people see it). Lateral acceleration is that of
// the motion by all sensors (room motion), with the gravity that a leaning body adds taken
// out; or else the sensor's, filtered without delay (Butterworth, twelve poles, gain 1/2 at
// the cut-off).
//
// Limits: one run is the whole series of passes, in one recording; the first gate is where
// the trough begins, the second where it ends. Depth is the trough's, by readings in the run log.
package aquaplanecurve

import (
	_ "embed"
	"math"
	"slices"
	"strconv"

	"example.org/bookend/course"
	"example.org/bookend/fault"
	"example.org/bookend/figure"
	"example.org/bookend/motion"
	"example.org/bookend/procedure"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
	"example.org/bookend/unit"
)

//go:embed help.md
var help string

type aquaplanecurve struct{}

// New gives the procedure.
func New() procedure.Procedure { return aquaplanecurve{} }

func (aquaplanecurve) Spec() programme.Spec { return spec }

func (aquaplanecurve) Help() string { return help }

// Reduce turns a series of passes into observations.
func (aquaplanecurve) Reduce(in procedure.Input) (procedure.Output, error) {
	r, err := procedure.Begin(in)
	if err != nil {
		return procedure.Output{}, err
	}
	if err := reduce(r); err != nil {
		return procedure.Output{}, fault.At(err, "%s", r.Rec.Name)
	}
	return r.Out, nil
}

// pass is one pass through the trough.
type pass struct {
	from, to float64 // s
	speed    float64 // m/s at the entry
	least    float64 // m/s², least lateral acceleration within
}

func reduce(r *procedure.Reduction) error {
	p := r.In.Parameters
	speed := r.Rec.SpeedOverGround()
	if speed == nil {
		return fault.New(fault.Invalid, "the procedure needs the speed over ground, and the recording has none").
			WithHint("name the column in a mapping file if it is there under another name")
	}
	lateral, err := r.Needed(signal.AccelY, "lateral acceleration")
	if err != nil {
		return err
	}
	if m := moved(r); m != nil {
		lateral = m
	} else {
		lateral = r.Filtered(lateral, p.Number(paramFilter))
	}
	passes, err := find(r, speed, lateral)
	if err != nil {
		return err
	}
	r.Give("passes", "", float64(len(passes)))
	steps := group(passes, p.Number(paramStep))
	var v, ay []float64
	for _, s := range steps {
		r.Give("trough_lateral", place(s.nominal), s.least)
		v, ay = append(v, s.speed), append(ay, s.least)
	}
	r.Trace("lateral_by_speed", "Least lateral acceleration in the trough by entry speed", v, "m/s", ay, "m/s²")
	if len(v) < 2 {
		r.Doubt("one_speed", passes[0].from, "All passes are at one speed; there is no curve.")
		return nil
	}
	top := 0
	for i := range ay {
		if ay[i] > ay[top] {
			top = i
		}
	}
	if ay[top] > 0 {
		r.Give("greatest_trough_lateral", "", ay[top])
		r.Give("speed_of_greatest", "", v[top])
	}
	if top == len(ay)-1 {
		r.Doubt("never_falls", passes[0].from, "Lateral acceleration is greatest at the highest speed; the tyres did not begin to float.")
	}
	fallen := p.Number(paramFallen)
	found := false
	for i := top + 1; i < len(ay) && !found; i++ {
		if ay[i-1] >= fallen && ay[i] < fallen {
			r.Give("floating_speed", "", v[i-1]+(v[i]-v[i-1])*(ay[i-1]-fallen)/(ay[i-1]-ay[i]))
			found = true
		}
	}
	if !found {
		r.Doubt("not_fallen", passes[0].from, "Lateral acceleration does not fall to %s up to %s.", unit.MetrePerSecondSquared.Format(fallen, 1, unit.Plain),
			unit.KilometrePerHour.Format(v[len(v)-1], 1, unit.Plain))
	}
	from, to := p.Number(paramFrom), p.Number(paramTo)
	near := p.Number(paramStep) / 2
	switch {
	case v[0] > from+near:
		r.Doubt("begins_late", passes[0].from, "The series begins at %s, above %s; the curve has no area.", unit.KilometrePerHour.Format(v[0], 1, unit.Plain), unit.KilometrePerHour.Format(from, 1, unit.Plain))
	case v[len(v)-1] < to-near && ay[len(ay)-1] > stopped:
		r.Doubt("ends_early", passes[0].from, "The series ends at %s, before %s and before the tyres float in full; the curve has no area.",
			unit.KilometrePerHour.Format(v[len(v)-1], 1, unit.Plain), unit.KilometrePerHour.Format(to, 1, unit.Plain))
	default:
		if a := Area(v, ay, from, to); a > 0 {
			r.Give("floating_area", "", a)
		}
	}
	return nil
}

// moved gives the lateral acceleration of the motion that all sensors say together, with
// the gravity that a leaning body adds taken out; nil, and told, where it is that of the
// sensor.
func moved(r *procedure.Reduction) *signal.Channel {
	p := r.In.Parameters
	if p.Word(paramMotion) != motionSmoothed {
		return nil
	}
	if r.Channel(signal.YawRate) == nil || r.Channel(signal.AccelX) == nil || r.In.Course == nil {
		r.Doubt("lean_in_lateral", r.In.FromS, "Without yaw rate and longitudinal acceleration the gravity that a leaning body adds stays in lateral acceleration.")
		return nil
	}
	m, err := motion.Smooth(r.Rec, r.In.Course.Plane(), motion.Settings{
		Antenna: motion.Lever{X: -p.Number(paramReference)}, Inertial: motion.Lever{X: p.Number(paramInertial) - p.Number(paramReference)}, RearAxle: -p.Number(paramRearAxle),
		PositionSD: p.Number(paramPositionSD),
	})
	if err != nil {
		r.Doubt("no_motion", r.In.FromS, "No motion could be made of the recording (%v); lateral acceleration is the sensor's.", err)
		return nil
	}
	for _, c := range m.Channels() {
		if c.Role == signal.AccelY {
			return c
		}
	}
	return nil
}

// stopped is the lateral acceleration in m/s² from which on down a series may end before
// the area's upper speed, because the vehicle no longer follows the circle; what is beyond
// counts as 0 (own choice).
const stopped = 0.5

// Area gives the area below lateral accelerations by rising speeds, between two speeds,
// by the trapezoidal rule. Values below 0 count as 0; beyond the last speed there is
// nothing, and below the first the first value counts.
func Area(speed, lateral []float64, from, to float64) float64 {
	at := func(v float64) float64 {
		n := len(speed)
		switch {
		case v <= speed[0]:
			return math.Max(0, lateral[0])
		case v > speed[n-1]:
			return 0
		}
		i, found := slices.BinarySearch(speed, v)
		if found {
			return math.Max(0, lateral[i])
		}
		a, b := math.Max(0, lateral[i-1]), math.Max(0, lateral[i])
		return a + (b-a)*(v-speed[i-1])/(speed[i]-speed[i-1])
	}
	end := math.Min(to, speed[len(speed)-1])
	if !(end > from) {
		return 0
	}
	x, y := []float64{from}, []float64{at(from)}
	for i, v := range speed {
		if v > from && v < end {
			x, y = append(x, v), append(y, math.Max(0, lateral[i]))
		}
	}
	x, y = append(x, end), append(y, at(end))
	sum := 0.0
	for i := 1; i < len(x); i++ {
		sum += (x[i] - x[i-1]) * (y[i] + y[i-1]) / 2
	}
	return sum
}

// find finds the passes of the recording: from each crossing of the first gate to the next
// one of the second.
func find(r *procedure.Reduction, speed, lateral *signal.Channel) ([]pass, error) {
	if r.In.Course == nil || len(r.In.Course.Posts) < 2 {
		return nil, fault.New(fault.Invalid, "a trough needs two gates, where it begins and where it ends").
			WithHint("give each as LAT,LON,LAT,LON in degrees, the right post as driven first")
	}
	lat, lon := r.Rec.ByRole(signal.Latitude), r.Rec.ByRole(signal.Longitude)
	if lat == nil || lon == nil {
		return nil, fault.New(fault.Invalid, "the procedure needs latitude and longitude, and the recording lacks them").
			WithHint("name the columns in a mapping file if they are there under other names")
	}
	plane, gates := r.In.Course.Plane(), r.In.Course.Gates()
	var out []pass
	lost := 0
	for _, q := range signal.Pair(lat, lon, r.In.FromS, r.In.ToS) {
		tr := plane.Track(q.T, q.A, q.B)
		ins, outs := tr.Crossings(gates[0]), tr.Crossings(gates[1])
		for i, in := range ins {
			k := slices.IndexFunc(outs, func(x course.Passage) bool { return x.T > in.T })
			if k < 0 || i+1 < len(ins) && outs[k].T > ins[i+1].T {
				lost++
				continue
			}
			one := pass{from: in.T, to: outs[k].T}
			v, ok := speed.At(one.from)
			w := procedure.Longest(lateral, one.from, one.to)
			before, known := procedure.Longest(lateral, one.from-approach, one.from).Mean(one.from-approach, one.from)
			if !ok || !known || len(w.T) < 3 || w.T[0] > one.from+1e-6 || w.T[len(w.T)-1] < one.to-1e-6 {
				lost++
				continue
			}
			inside := math.Copysign(1, before)
			one.speed, one.least = v, math.Inf(1)
			for _, a := range w.V {
				one.least = math.Min(one.least, inside*a)
			}
			out = append(out, one)
		}
	}
	if len(out) == 0 {
		return nil, fault.New(fault.Invalid, "the recording holds no whole pass through the trough").
			WithHint("check the gates' posts and which is the right one as driven, and that lateral acceleration is there a second before the trough")
	}
	if lost > 0 {
		r.Doubt("pass_lost", out[0].from, "%d passes are not whole, or speed or lateral acceleration is missing in them; they are left out.", lost)
	}
	return out, nil
}

// approach is for how long in s before the trough the side of the circle is taken from
// (own choice: a steady stretch of the circle).
const approach = 1.0

// level is the passes of one step of speed.
type level struct {
	nominal, speed, least float64
}

// group gives the means of passes by steps of entry speed, a step being whole multiples of
// its width, in the order of speed.
func group(passes []pass, width float64) []level {
	sums := map[int][3]float64{}
	for _, p := range passes {
		k := int(math.Round(p.speed / width))
		s := sums[k]
		sums[k] = [3]float64{s[0] + p.speed, s[1] + p.least, s[2] + 1}
	}
	var ks []int
	for k := range sums {
		ks = append(ks, k)
	}
	slices.Sort(ks)
	var out []level
	for _, k := range ks {
		s := sums[k]
		out = append(out, level{float64(k) * width, s[0] / s[2], s[1] / s[2]})
	}
	return out
}

func place(v float64) string {
	return unit.Shortest(math.Round(v*3.6*10)/10) + " km/h"
}

// Overlay draws lateral acceleration in the trough by entry speed, means of stints for
// each code. The first run's code is taken for the control, which opens every sequence.
// With fewer than two codes there is no figure.
func (aquaplanecurve) Overlay(in []procedure.Overlaid) ([]figure.Figure, error) {
	means := procedure.MeansOfEach(in, "lateral_by_speed")
	if len(means) < 2 {
		return nil, nil
	}
	f := &figure.PastThePeak{
		Value: figure.Axis{Name: "least lateral acceleration in the trough, m/s²", Short: "least lateral acceleration, m/s²"},
		Slip:  figure.Axis{Name: "entry speed, km/h"},
	}
	f.Codes.Control = means[0].Code
	runs := 0
	for i, m := range means {
		if i > 0 {
			f.Codes.Candidates = append(f.Codes.Candidates, m.Code)
		}
		runs += m.Runs
		m = m.Scaled(3.6, 1)
		f.Curves = append(f.Curves, figure.Curve{Code: m.Code, X: m.X, Y: m.Y, Low: m.Low, High: m.High})
	}
	f.Test = spec.Title
	f.Title = figure.Say("What the tyres hold on to in the trough, by speed, beside ", figure.CodeOf(f.Codes.Control))
	if x, shared := procedure.LastShared(means); shared {
		if far, by, ok := procedure.Farthest(means, x); ok {
			way := " more than "
			if by < 0 {
				way = " less than "
			}
			f.Title = figure.Say("At "+unit.KilometrePerHour.Format(x, 0, unit.Style{})+" ", figure.CodeOf(far.Code), " held "+unit.MetrePerSecondSquared.Format(math.Abs(by), 1, unit.Style{})+way, figure.CodeOf(f.Codes.Control), " in the trough")
		}
	}
	f.TitleShort = figure.Say("Lateral acceleration in the trough by speed")
	f.Sub = figure.Say("Means of stints, ", strconv.Itoa(runs), " series in all, each code over the speeds that all of its series have. It describes without correction for drift and gives no verdict.", procedure.BandWords(means))
	f.SubShort = figure.Say("Means of stints. No verdict.")
	return []figure.Figure{f}, nil
}
