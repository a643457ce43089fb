package frequency

import (
	"math"
	"math/rand/v2"
	"strconv"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/internal/golden"
	"example.org/bookend/procedure"
	"example.org/bookend/procedure/proceduretest"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
)

// bicycle is the linear single-track model of docs/sources/vehicle-handbook.md,
// integrated by Runge and Kutta's method at 2 ms.
type bicycle struct {
	Mass  float64 `json:"mass_kg"`
	Iz    float64 `json:"inertia_kgm2"`
	A     float64 `json:"front_m"`
	B     float64 `json:"rear_m"`
	Cf    float64 `json:"front_npr"`
	Cr    float64 `json:"rear_npr"`
	Speed float64 `json:"speed_kmh"`
}

var textbook = bicycle{1573, 2873, 1.1, 1.58, 160000, 160000, 80}

func (q bicycle) drive(rate, seconds float64, steer func(t float64) float64) *signal.Recording {
	v := q.Speed / 3.6
	a11, a12 := -(q.Cf+q.Cr)/(q.Mass*v), -1-(q.A*q.Cf-q.B*q.Cr)/(q.Mass*v*v)
	a21, a22 := -(q.A*q.Cf-q.B*q.Cr)/q.Iz, -(q.A*q.A*q.Cf+q.B*q.B*q.Cr)/(q.Iz*v)
	b1, b2 := q.Cf/(q.Mass*v), q.A*q.Cf/q.Iz
	slope := func(t, x, y float64) (float64, float64) {
		return a11*x + a12*y + b1*steer(t), a21*x + a22*y + b2*steer(t)
	}
	const h = 2e-3
	beta, r, now := 0.0, 0.0, 0.0
	b := signal.Even(0, seconds, 1/rate)
	all := []signal.Span{{From: 0, To: len(b.T)}}
	rec := &signal.Recording{Name: "sweep.csv"}
	for _, c := range []struct {
		role signal.Role
		unit string
	}{{signal.SteeringAngle, "rad"}, {signal.YawRate, "rad/s"}, {signal.AccelY, "m/s²"}, {signal.Speed, "m/s"}} {
		rec.Channels = append(rec.Channels, &signal.Channel{Name: string(c.role), Role: c.role, Unit: c.unit, Base: b, Valid: all})
	}
	for _, t := range b.T {
		for now < t-h/2 {
			k1, l1 := slope(now, beta, r)
			k2, l2 := slope(now+h/2, beta+h/2*k1, r+h/2*l1)
			k3, l3 := slope(now+h/2, beta+h/2*k2, r+h/2*l2)
			k4, l4 := slope(now+h, beta+h*k3, r+h*l3)
			beta, r, now = beta+h/6*(k1+2*k2+2*k3+k4), r+h/6*(l1+2*l2+2*l3+l4), now+h
		}
		bd, _ := slope(t, beta, r)
		for k, x := range []float64{steer(t), r, v * (bd + r), v} {
			rec.Channels[k].Values = append(rec.Channels[k].Values, x)
		}
	}
	return rec
}

// sweep is a sine whose frequency grows evenly.
func sweep(amplitude, from, to, seconds float64) func(t float64) float64 {
	return func(t float64) float64 {
		return amplitude * math.Sin(2*math.Pi*(from*t+(to-from)*t*t/(2*seconds)))
	}
}

// many is a sum of many sines with phases by lot, of a root mean square near 0.7, at
// every millisecond.
var many = func() []float64 {
	draw := rand.New(rand.NewPCG(4, 2))
	table := make([]float64, 100*1000+2)
	n := 0.0
	for f := 0.05; f < 4; f += 0.0473 {
		phase := 2 * math.Pi * draw.Float64()
		n++
		for k := range table {
			table[k] += math.Sin(2*math.Pi*f*float64(k)/1000 + phase)
		}
	}
	for k := range table {
		table[k] /= math.Sqrt(n)
	}
	return table
}()

func random(amplitude float64) func(t float64) float64 {
	return func(t float64) float64 {
		k := int(t * 1000)
		part := t*1000 - float64(k)
		return amplitude * (many[k]*(1-part) + many[k+1]*part)
	}
}

func input(t testing.TB, rec *signal.Recording, given ...programme.Setting) procedure.Input {
	t.Helper()
	p, err := spec.Settings(given)
	if err != nil {
		t.Fatal(err)
	}
	b := rec.Channels[0].Base.T
	return procedure.Input{Run: "r1", Recordings: []*signal.Recording{rec}, FromS: b[0], ToS: b[len(b)-1], Parameters: p}
}

func reduce(t testing.TB, in procedure.Input) procedure.Output {
	t.Helper()
	out, err := New().Reduce(in)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func find(out procedure.Output, measure, place string) (float64, bool) {
	for _, o := range out.Observations {
		if o.Measure == measure && o.Place == place {
			return o.Value, true
		}
	}
	return 0, false
}

func TestTheTextbookBicycleAtEachFrequency(t *testing.T) {
	golden.Run(t, "iso-7401", "bicycle-80-kmh", func(t *testing.T, c *golden.Case) {
		var q struct {
			bicycle
			Rows []struct {
				Hz         float64 `json:"hz"`
				Yaw        float64 `json:"yaw"`
				YawDeg     float64 `json:"yaw_deg"`
				Lateral    float64 `json:"lateral"`
				LateralDeg float64 `json:"lateral_deg"`
			} `json:"frequencies"`
		}
		c.JSON(t, "case.json", &q)
		for name, steer := range map[string]func(float64) float64{"swept": sweep(0.01, 0.05, 4, 90), "at random": random(0.01)} {
			out := reduce(t, input(t, q.drive(100, 90, steer)))
			for _, r := range q.Rows {
				for _, w := range []struct {
					stem       string
					gain, turn float64
				}{{"yaw", r.Yaw, r.YawDeg}, {"lateral", r.Lateral, r.LateralDeg}} {
					gain, ok := find(out, w.stem+"_gain", place(r.Hz))
					phase, _ := find(out, w.stem+"_phase", place(r.Hz))
					if !ok {
						t.Errorf("%s: no gain of %s at %g Hz: %v", name, w.stem, r.Hz, out.Caveats)
						continue
					}
					t.Logf("%s, %s at %g Hz: gain %+.3f %%, phase %+.3f°", name, w.stem, r.Hz, 100*(gain/w.gain-1), phase*180/math.Pi-w.turn)
					c.NearRel(t, name+", gain of "+w.stem+" at "+place(r.Hz), gain, w.gain)
					c.Near(t, name+", phase of "+w.stem+" at "+place(r.Hz), phase, w.turn*math.Pi/180)
				}
			}
			if e, _ := find(out, "yaw_equivalent_time", ""); math.Abs(e-29.5970/360) > 0.002 {
				t.Errorf("%s: equivalent time %v s", name, e)
			}
		}
	})
}

// Noise in the answer leaves gains where they are and lowers coherence; steering that
// stops at 1.2 Hz has nothing to say about 2 Hz.
func TestCoherenceTellsWhatIsKnown(t *testing.T) {
	rec := textbook.drive(100, 120, sweep(0.01, 0.05, 1.2, 120))
	draw := rand.New(rand.NewPCG(1, 1))
	y := rec.ByRole(signal.YawRate)
	for i := range y.Values {
		y.Values[i] += 0.004 * draw.NormFloat64()
	}
	out := reduce(t, input(t, rec))
	if g, ok := find(out, "yaw_gain", "0.5 Hz"); !ok || math.Abs(g/6.17574-1) > 0.02 {
		t.Errorf("gain with noise %v", g)
	}
	if _, ok := find(out, "yaw_gain", "2 Hz"); ok || !out.Caveats.Has("frequency_missing") {
		t.Errorf("a gain at 2 Hz out of nothing; %v", out.Caveats)
	}
	for i := range y.Values {
		y.Values[i] = 0.05 * draw.NormFloat64()
	}
	out = reduce(t, input(t, rec))
	if _, ok := find(out, "yaw_gain", "0.5 Hz"); ok {
		t.Errorf("noise has a gain; %v", out.Observations)
	}
	if slow := reduce(t, input(t, textbook.drive(100, 60, random(0.01)), programme.Setting{ID: paramSpeed, Number: 100 * kmh})); !slow.Caveats.Has("speed_outside") {
		t.Errorf("%v", slow.Caveats)
	}
	if few := reduce(t, input(t, textbook.drive(100, 20, random(0.01)))); !few.Caveats.Has("few_frequencies") {
		t.Errorf("%v", few.Caveats)
	}
	if _, err := New().Reduce(input(t, textbook.drive(100, 5, random(0.01)))); fault.CodeOf(err) != fault.Invalid || fault.HintOf(err) == "" {
		t.Errorf("five seconds: %v", err)
	}
}

func TestConformance(t *testing.T) {
	moved := map[string]float64{}
	for _, m := range spec.Measures { // straight lines between samples take 0.2 % of the amplitude at 3 Hz, and 0.5 ms at most
		switch m.Unit {
		case "rad":
			moved[m.ID] = 0.01
		case "s":
			moved[m.ID] = 1e-3
		case "1":
			moved[m.ID] = 0.02
		case "Hz":
			moved[m.ID] = 0.02
		case "1/s":
			moved[m.ID] = 0.03
		case "(m/s²)/rad":
			moved[m.ID] = 1
		}
	}
	bare := textbook.drive(50, 60, random(0.01))
	bare.Channels = bare.Channels[:2]
	proceduretest.Run(t, proceduretest.Suite{
		Procedure: New(),
		Cases: []proceduretest.Case{
			{Name: "at random", Input: input(t, textbook.drive(100, 60, random(0.01))), Resampled: moved},
			{Name: "yaw rate alone", Input: input(t, bare), Resampled: moved},
		},
	})
}

func TestTheOverlayHasAPanelAnAnswer(t *testing.T) {
	soft := textbook
	soft.Cf *= 0.8
	var runs []procedure.Overlaid
	for i, v := range []bicycle{textbook, soft, textbook, soft} {
		out := reduce(t, input(t, v.drive(50, 60, random(0.01))))
		runs = append(runs, procedure.Overlaid{Code: []string{"K", "P"}[i%2], Stint: strconv.Itoa(i), Run: "1", Traces: out.Traces})
	}
	figs, err := New().Overlay(runs)
	if err != nil || len(figs) != 1 || figs[0].Kind() != "answer-curve" {
		t.Fatal(err, figs)
	}
}
