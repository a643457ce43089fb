// Package frequency turns steering that holds all frequencies, swept or at random, into
// how the vehicle answers each: gain, phase and coherence of yaw rate and lateral
// acceleration.
//
// Source: ISO 7401:2011, clauses 12 (random input), 13 (pulse) and 14 (continuous sine),
// from memory; the estimate is P. J. Daniell's (1946) average over neighbouring
// frequencies of the whole run: gain and phase are those of the cross spectrum with
// steering over the spectrum of steering, so that noise in the answer does not bias them.
//
// Angles in rad at the steering wheel, yaw rate in rad/s, lateral acceleration in m/s²,
// frequencies in Hz, phases in rad: negative where the answer comes late. Signs of ISO
// 8855. Signals are not filtered; what lies above the frequencies asked for is told
// apart by them.
//
// Limits: gains are those of a linear vehicle: coherence tells where it is none, or
// where steering had nothing at a frequency. The width over which is averaged rounds a
// sharp resonance off; a run that begins or ends amid steering is faded in and out.
package frequency

import (
	_ "embed"
	"math"
	"math/cmplx"

	"example.org/bookend/fault"
	"example.org/bookend/figure"
	"example.org/bookend/procedure"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
	"example.org/bookend/unit"
)

//go:embed help.md
var help string

type frequency struct{}

// New gives the procedure.
func New() procedure.Procedure { return frequency{} }

func (frequency) Spec() programme.Spec { return spec }

func (frequency) Help() string { return help }

// run is one run being reduced.
type run struct {
	*procedure.Reduction
	steer signal.Stretch
	step  float64 // s
}

// Reduce turns one run into observations.
func (frequency) Reduce(in procedure.Input) (procedure.Output, error) {
	q, err := procedure.Begin(in)
	if err != nil {
		return procedure.Output{}, err
	}
	r := &run{Reduction: q}
	if err := r.reduce(); err != nil {
		return procedure.Output{}, fault.At(err, "%s", r.Rec.Name)
	}
	return r.Out, nil
}

func (r *run) reduce() error {
	steering, err := r.Needed(signal.SteeringAngle, "steering-wheel angle")
	if err != nil {
		return err
	}
	yaw, err := r.Needed(signal.YawRate, "yaw rate")
	if err != nil {
		return err
	}
	r.steer = procedure.Longest(steering, r.In.FromS, r.In.ToS)
	n := len(r.steer.T)
	r.step = steering.Base.Step()
	if least := r.least(); n < 8 || r.steer.T[n-1]-r.steer.T[0] < least {
		return fault.New(fault.Invalid, "the steering-wheel angle has no valid stretch of %.0f s, which an average over %g Hz needs", least, r.In.Parameters.Number(paramWidth)).
			WithHint("steer for a minute, or average over a greater width")
	}
	r.speed()
	if !r.answer(yaw, "yaw rate", "yaw", "1/s") {
		return fault.New(fault.Invalid, "yaw rate has no valid stretch of %.0f s beside the steering", r.least()).WithHint("see with check where it is valid")
	}
	lateral := r.Channel(signal.AccelY)
	if lateral == nil || !r.answer(lateral, "lateral acceleration", "lateral", "(m/s²)/rad") {
		r.Doubt("no_lateral_acceleration", r.steer.T[0], "There is no lateral acceleration beside the steering; its gains and phases are missing.")
	}
	return nil
}

// least gives the least length of a run in s: two frequencies to average over.
func (r *run) least() float64 { return 2 / r.In.Parameters.Number(paramWidth) }

// speed gives the mean speed, and tells where it is not held.
func (r *run) speed() {
	from, to := r.steer.T[0], r.steer.T[len(r.steer.T)-1]
	v := procedure.Longest(r.Rec.SpeedOverGround(), from, to)
	mean, ok := v.Mean(from, to)
	if !ok {
		r.Doubt("no_speed", from, "The speed is not known throughout; answers of other speeds cannot be told from it.")
		return
	}
	r.Give("mean_speed", "", mean)
	p := r.In.Parameters
	if set := p.Number(paramSpeed); set > 0 {
		worst := 0.0
		for _, x := range v.V {
			worst = math.Max(worst, math.Abs(x-set))
		}
		if worst > p.Number(paramSpeedTolerance)+1e-12 {
			r.Doubt("speed_outside", from, "The speed is up to %s off %s, more than %s.", unit.KilometrePerHour.Format(worst, 1, unit.Plain),
				unit.KilometrePerHour.Format(set, 1, unit.Plain), unit.KilometrePerHour.Format(p.Number(paramSpeedTolerance), 1, unit.Plain))
		}
	}
}

// asked are the frequencies at which gain and phase are observations, in Hz:
// docs/sources/iso-7401.md has the range of 0.2 to 2 Hz, 3 where it can be had.
var asked = []float64{0.2, 0.5, 1, 1.5, 2, 3}

func place(hz float64) string { return unit.Shortest(hz) + " Hz" }

// equivalentAt is the frequency in Hz whose phase gives the equivalent time (own choice:
// about that of a quick lane change).
const equivalentAt = 1.0

// answer gives how a channel answers the steering; false where the two are not valid
// together for a segment.
func (r *run) answer(c *signal.Channel, what, stem, symbol string) bool {
	from, to := r.steer.T[0], r.steer.T[len(r.steer.T)-1]
	y := procedure.Longest(c, from, to)
	if len(y.T) < 8 || y.T[len(y.T)-1]-y.T[0] < r.least() {
		return false
	}
	grid := signal.Even(y.T[0], y.T[len(y.T)-1], r.step)
	var a, b []float64
	for _, t := range grid.T {
		v, ok1 := r.steer.At(t)
		w, ok2 := y.At(math.Min(t, y.T[len(y.T)-1]))
		if !ok1 || !ok2 {
			break
		}
		a, b = append(a, v), append(b, w)
	}
	s := newSpectra(a, b, r.step, r.In.Parameters.Number(paramWidth))
	least := r.In.Parameters.Number(paramCoherence)
	most := 0.0
	for hz := lowest; hz <= highest+1e-9; hz += pace {
		most = math.Max(most, s.over(hz).steering)
	}
	known := func(e estimate) bool { return e.steering >= quiet*quiet*most && e.steering > 0 && e.coherence >= least }
	var hz, gain, phase, coherence []float64
	last := 0.0
	for i := 0; lowest+float64(i)*pace <= highest+1e-9; i++ {
		f := lowest + float64(i)*pace
		e := s.over(f)
		if !known(e) {
			continue
		}
		p := cmplx.Phase(e.gain)
		p -= 2 * math.Pi * math.Round((p-last)/(2*math.Pi)) // goes on past half a turn
		last = p
		hz, gain, phase, coherence = append(hz, f), append(gain, cmplx.Abs(e.gain)), append(phase, p), append(coherence, e.coherence)
	}
	r.Trace(stem+"_gain_by_frequency", "Gain of "+what+" by frequency", hz, "Hz", gain, symbol)
	r.Trace(stem+"_phase_by_frequency", "Phase of "+what+" by frequency", hz, "Hz", phase, "rad")
	r.Trace(stem+"_coherence_by_frequency", "Coherence of "+what+" by frequency", hz, "Hz", coherence, "1")
	if s.count() < few {
		r.Doubt("few_frequencies", from, "The %s is averaged over %d frequencies at a time; coherence of so few is high whatever there is.", what, s.count())
	}
	missing := ""
	for _, f := range asked {
		e := s.over(f)
		if !known(e) {
			if missing != "" {
				missing += ", "
			}
			missing += place(f)
			continue
		}
		r.Give(stem+"_gain", place(f), cmplx.Abs(e.gain))
		p := cmplx.Phase(e.gain)
		if p > math.Pi/2 { // an answer that leads by more than a quarter is one that lags by more than half a turn
			p -= 2 * math.Pi
		}
		r.Give(stem+"_phase", place(f), p)
		r.Give(stem+"_coherence", place(f), e.coherence)
		if f == equivalentAt {
			r.Give(stem+"_equivalent_time", "", -p/(2*math.Pi*f))
		}
	}
	if missing != "" {
		r.Doubt("frequency_missing", from, "The %s has no gain at %s: there the steering holds next to nothing, or the coherence is below %s.", what, missing, unit.Shortest(least))
	}
	r.bandwidth(stem, what, hz, gain)
	return true
}

// Bounds of what is looked at; own choices: the standard's range of 0.2 to 3 Hz; a
// steering amplitude below a fiftieth of the greatest is none; an average over fewer
// than five frequencies has a coherence near one by chance.
const (
	lowest  = 0.2  // Hz
	highest = 3.5  // Hz
	pace    = 0.05 // Hz, of what is drawn
	quiet   = 0.02
	few     = 5
)

// bandwidth gives the frequency at which the gain has fallen by 3 dB from that at the
// lowest frequency.
func (r *run) bandwidth(stem, what string, hz, gain []float64) {
	if len(hz) < 2 || hz[0] > 0.3 {
		return
	}
	level := gain[0] / math.Sqrt2
	for i := 1; i < len(hz); i++ {
		if gain[i-1] >= level && gain[i] < level {
			r.Give(stem+"_bandwidth", "", hz[i-1]+(hz[i]-hz[i-1])*(gain[i-1]-level)/(gain[i-1]-gain[i]))
			return
		}
	}
	r.Doubt("no_bandwidth", r.steer.T[0], "The gain of the %s does not fall by 3 dB up to %s.", what, place(math.Round(hz[len(hz)-1]*10)/10))
}

// Overlay lays gain and phase of yaw rate, and gain of lateral acceleration, over each
// other: means of stints for each code. The first run's code is taken for the control,
// which opens every sequence. With fewer than two codes there is no figure.
func (frequency) Overlay(in []procedure.Overlaid) ([]figure.Figure, error) {
	first := procedure.Means(in, "yaw_gain_by_frequency")
	if len(first) < 2 {
		return nil, nil
	}
	f := &figure.AnswerCurve{Time: figure.Axis{Name: "frequency of the steering, Hz"}, Input: first[0].X[0]}
	f.Codes.Control = first[0].Code
	for _, m := range first[1:] {
		f.Codes.Candidates = append(f.Codes.Candidates, m.Code)
	}
	f.Test = spec.Title
	f.Title = figure.Say("How much and how late the vehicle answers each frequency, beside ", figure.CodeOf(f.Codes.Control))
	phases := procedure.Means(in, "yaw_phase_by_frequency")
	if x, shared := procedure.LastShared(phases); shared {
		if far, by, ok := procedure.Farthest(phases, x); ok {
			way := " later than "
			if by > 0 {
				way = " sooner than "
			}
			f.Title = figure.Say("At "+unit.Hertz.Format(x, 1, unit.Style{})+" ", figure.CodeOf(far.Code), " answered "+unit.Degree.Format(math.Abs(by), 0, unit.Style{})+way, figure.CodeOf(f.Codes.Control), " in yaw")
		}
	}
	f.TitleShort = figure.Say("Answers to each frequency of steering")
	f.Sub = figure.Say("Means of stints, where steering and answer belong together. It describes without correction for drift and gives no verdict.", procedure.BandWords(first))
	f.SubShort = figure.Say("Means of stints. No verdict.")
	for _, p := range []struct {
		trace, axis string
		scale       float64
	}{
		{"yaw_gain_by_frequency", "gain of yaw rate, 1/s", 1},
		{"yaw_phase_by_frequency", "phase of yaw rate, °", 180 / math.Pi},
		{"lateral_gain_by_frequency", "gain of lateral acceleration, (m/s²)/°", math.Pi / 180},
	} {
		panel := figure.Panel{Value: figure.Axis{Name: p.axis}}
		for _, m := range procedure.Means(in, p.trace) {
			m = m.Scaled(1, p.scale)
			panel.Curves = append(panel.Curves, figure.Curve{Code: m.Code, X: m.X, Y: m.Y, Low: m.Low, High: m.High})
		}
		if len(panel.Curves) > 0 {
			f.Panels = append(f.Panels, panel)
		}
	}
	return []figure.Figure{f}, nil
}
