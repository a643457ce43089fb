// Package aquaplane turns a pass through standing water in a straight line into the
// speed at which the tyre floats.
//
// Source: published method pages of independent testers (docs/sources/aquaplaning-tests.md):
// the wheels of one side run through a trough some 7 mm deep while the driven axle
// accelerates hard in one gear, the other side is dry; the tyre floats where the wet
// wheel turns 15 % faster than the dry one. Formulas for that speed from pressure and
// depth are other things (docs/sources/nasa-tn-d-2056.md) and not used here.
//
// Speeds in m/s, slip as a share. The two wheels' rolling radii are made equal by what
// they show before the trough. The crossing of the slip is interpolated between
// samples, and must hold for a while.
//
// Limits: one pass a run, from the first gate (where the water begins) to the last. Wheel
// speeds are not filtered; a differential that locks, or a traction control that cuts in,
// hides the slip. Depth is the trough's, by readings in the run log.
package aquaplane

import (
	_ "embed"
	"math"
	"slices"
	"strconv"

	"example.org/bookend/fault"
	"example.org/bookend/figure"
	"example.org/bookend/procedure"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
	"example.org/bookend/unit"
)

//go:embed help.md
var help string

type aquaplane struct{}

// New gives the procedure.
func New() procedure.Procedure { return aquaplane{} }

func (aquaplane) Spec() programme.Spec { return spec }

func (aquaplane) Help() string { return help }

// Reduce turns one pass into observations.
func (aquaplane) Reduce(in procedure.Input) (procedure.Output, error) {
	r, err := procedure.Begin(in)
	if err != nil {
		return procedure.Output{}, err
	}
	if err := reduce(r); err != nil {
		return procedure.Output{}, fault.At(err, "%s", r.Rec.Name)
	}
	return r.Out, nil
}

// pass is a pass with one of the wheels taken for the wet one.
type pass struct {
	t, v, slip []float64
	late       bool // the wheels were made equal within the pass
}

func reduce(r *procedure.Reduction) error {
	p := r.In.Parameters
	speed := r.Rec.SpeedOverGround()
	if speed == nil {
		return fault.New(fault.Invalid, "the procedure needs the speed over ground, and the recording has none").
			WithHint("name the column in a mapping file if it is there under another name")
	}
	roles := [2]signal.Role{signal.WheelSpeedRL, signal.WheelSpeedRR}
	if p.Word(paramAxle) == axleFront {
		roles = [2]signal.Role{signal.WheelSpeedFL, signal.WheelSpeedFR}
	}
	left, right := r.Channel(roles[0]), r.Channel(roles[1])
	if left == nil || right == nil {
		r.Doubt("no_wheel_speed", r.In.FromS, "A wheel of the driven axle has no speed; there is no slip and no onset.")
		return nil
	}
	var best *pass
	for _, q := range []struct {
		side     string
		wet, dry *signal.Channel
	}{{wetRight, right, left}, {wetLeft, left, right}} {
		if side := p.Word(paramWet); side != wetEither && side != q.side {
			continue
		}
		one, err := slips(r.In, q.wet, q.dry, speed)
		if err != nil {
			return err
		}
		if best == nil || slices.Max(one.slip) > slices.Max(best.slip) {
			best = one
		}
	}
	if best.late {
		r.Doubt("wheels_not_scaled_before", r.In.FromS, "Nothing is recorded before the water; the wheels are made equal by the first %.1f s of the pass, where the tyre may slip already.", entering)
	}
	t, v, slip := best.t, best.v, best.slip
	r.Give("entry_speed", "", v[0])
	r.Give("top_speed", "", slices.Max(v))
	r.Give("greatest_float_slip", "", slices.Max(slip))
	x, y := rising(v, slip)
	r.Trace("slip_by_speed", "Slip of the wet wheel by speed", x, "m/s", y, "1")
	limit := p.Number(paramSlip)
	on, at, ok := onset(t, v, slip, limit, p.Number(paramHold))
	switch {
	case !ok:
		r.Doubt("no_onset", t[0], "The wet wheel never turns %s faster than the dry one; the tyre did not float up to %s.", unit.Percent.Format(limit, 0, unit.Plain),
			unit.KilometrePerHour.Format(slices.Max(v), 1, unit.Plain))
	case at <= t[0]:
		r.Doubt("floats_at_entry", t[0], "The wet wheel is %s faster at the beginning of the water already; the pass was entered too fast.", unit.Percent.Format(limit, 0, unit.Plain))
	default:
		r.Give("onset_speed", "", on)
	}
	return nil
}

// slips gives the slip of a wheel against the other one of its axle within the pass.
func slips(in procedure.Input, wet, dry, speed *signal.Channel) (*pass, error) {
	one := &pass{}
	scale, ok := before(wet, dry, in.FromS, in.Parameters.Number(paramReference))
	if !ok {
		one.late = true
		if scale, ok = before(wet, dry, in.FromS+entering+settled, entering); !ok {
			return nil, fault.New(fault.Invalid, "the wheels do not turn at the beginning of the pass").WithHint("see the channels with check")
		}
	}
	for _, s := range signal.Pair(wet, dry, in.FromS, in.ToS) {
		for i, at := range s.T {
			x, ok := speed.At(at)
			if !ok || s.B[i] <= 0 {
				continue
			}
			one.t, one.v, one.slip = append(one.t, at), append(one.v, x), append(one.slip, s.A[i]/s.B[i]/scale-1)
		}
	}
	if len(one.t) < 4 {
		return nil, fault.New(fault.Invalid, "wheel speeds and speed over ground are not valid together within the pass").WithHint("see with check where the channels are valid")
	}
	return one, nil
}

// before gives the ratio of two wheels over some time in s before another.
func before(wet, dry *signal.Channel, end, length float64) (float64, bool) {
	a, b, seconds := 0.0, 0.0, 0.0
	for _, s := range signal.Pair(wet, dry, end-length-settled, end-settled) {
		n := len(s.T)
		if n < 2 {
			continue
		}
		x, _ := signal.Stretch{T: s.T, V: s.A}.Integral(s.T[0], s.T[n-1])
		y, _ := signal.Stretch{T: s.T, V: s.B}.Integral(s.T[0], s.T[n-1])
		a, b, seconds = a+x, b+y, seconds+s.T[n-1]-s.T[0]
	}
	if seconds < 0.5*length || a <= 0 || b <= 0 {
		return 0, false
	}
	return a / b, true
}

// How wheels are made equal where nothing comes before the water, and how far before
// the water the rest ends; own choices: half a second is 10 m at 70 km/h, and the axle
// reaches the water after the antenna.
const (
	entering = 0.5 // s
	settled  = 0.1 // s
)

// onset gives the speed at which the slip rises through a limit for good: it then stays
// at or above it for a time in s. at is when.
func onset(t, v, slip []float64, limit, hold float64) (speed, at float64, ok bool) {
	for i := range t {
		if slip[i] < limit {
			continue
		}
		k := i
		for k < len(t) && slip[k] >= limit {
			k++
		}
		if k == len(t) || t[k]-t[i] >= hold {
			if i == 0 {
				return v[0], t[0], true
			}
			part := (limit - slip[i-1]) / (slip[i] - slip[i-1])
			return v[i-1] + part*(v[i]-v[i-1]), t[i-1] + part*(t[i]-t[i-1]), true
		}
	}
	return 0, 0, false
}

// Onset gives the speed at which a slip that rises with speed reaches a limit, by linear
// interpolation; ok is false where it does not. Speeds in any unit.
func Onset(speed, slip []float64, limit float64) (float64, bool) {
	on, _, ok := onset(speed, speed, slip, limit, 0)
	return on, ok
}

// rising gives the mean of a value by steps of speed of a fifth of a metre a second (own
// choice: less than the speed is known to within a pass).
func rising(v, value []float64) (x, y []float64) {
	const step = 0.2
	sum, n := map[int]float64{}, map[int]float64{}
	for i := range v {
		k := int(math.Floor(v[i] / step))
		sum[k] += value[i]
		n[k]++
	}
	var ks []int
	for k := range sum {
		ks = append(ks, k)
	}
	slices.Sort(ks)
	for _, k := range ks {
		x, y = append(x, (float64(k)+0.5)*step), append(y, sum[k]/n[k])
	}
	return x, y
}

// Overlay draws the slip of the wet wheel by speed, means of stints for each code. The
// first run's code is taken for the control, which opens every sequence. With fewer than
// two codes there is no figure.
func (aquaplane) Overlay(in []procedure.Overlaid) ([]figure.Figure, error) {
	means := procedure.MeansOfEach(in, "slip_by_speed")
	if len(means) < 2 {
		return nil, nil
	}
	f := &figure.PastThePeak{
		Value: figure.Axis{Name: "slip of the wet wheel, %"},
		Slip:  figure.Axis{Name: "speed, km/h"},
	}
	f.Codes.Control = means[0].Code
	runs := 0
	for i, m := range means {
		if i > 0 {
			f.Codes.Candidates = append(f.Codes.Candidates, m.Code)
		}
		runs += m.Runs
		m = m.Scaled(3.6, 100)
		f.Curves = append(f.Curves, figure.Curve{Code: m.Code, X: m.X, Y: m.Y, Low: m.Low, High: m.High})
	}
	f.Test = spec.Title
	f.Title = figure.Say("How the tyre loses the road in standing water, beside ", figure.CodeOf(f.Codes.Control))
	if x, shared := procedure.LastShared(means); shared {
		if far, by, ok := procedure.Farthest(means, x); ok {
			way := " points more than that of "
			if by < 0 {
				way = " points less than that of "
			}
			f.Title = figure.Say("At "+unit.KilometrePerHour.Format(x, 0, unit.Style{})+" the wet wheel of ", figure.CodeOf(far.Code), " slipped "+unit.Number(100*math.Abs(by), 1, unit.Style{})+way, figure.CodeOf(f.Codes.Control))
		}
	}
	f.TitleShort = figure.Say("Slip in standing water by speed")
	f.Sub = figure.Say("Means of stints, ", strconv.Itoa(runs), " passes in all, each code over the speeds that all of its passes reached. It describes without correction for drift and gives no verdict.", procedure.BandWords(means))
	f.SubShort = figure.Say("Means of stints. No verdict.")
	return []figure.Figure{f}, nil
}
