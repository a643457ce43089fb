package lap

import (
	"bytes"
	"fmt"
	"math"
	"testing"

	"example.org/bookend/course"
	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited"
	"example.org/bookend/procedure"
	"example.org/bookend/procedure/lap/truth"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
	"example.org/bookend/sim"
)

// inputs gives what the procedure sees of each lap driven on the synthetic ground, and by
// how many seconds the recording's time lies behind the trace's.
func inputs(t *testing.T, d *sim.Driven, positionSD float64) (in []procedure.Input, behind float64) {
	t.Helper()
	f := d.Recordings(0)[0]
	rec, err := delimited.New().Read(t.Context(), bytes.NewReader(f.Data), ingest.Options{Name: f.Name})
	if err != nil {
		t.Fatal(err)
	}
	var posts []course.Posts
	for _, g := range d.Gates {
		p, err := course.ParseGate(fmt.Sprintf("%.9f,%.9f,%.9f,%.9f", g[0], g[1], g[2], g[3]))
		if err != nil {
			t.Fatal(err)
		}
		posts = append(posts, p)
	}
	c, err := course.New(posts...)
	if err != nil {
		t.Fatal(err)
	}
	b := d.Scenario.Build
	at := d.Scenario.Mounting()
	p, err := spec.Settings([]programme.Setting{{ID: paramInertial, Number: at.SeatAhead}, {ID: paramInertialY, Number: at.SeatLeft}, {ID: paramReference, Number: at.CentreAhead},
		{ID: paramRearAxle, Number: b.Rear}, {ID: paramWheelbase, Number: b.Front + b.Rear}, {ID: paramRatio, Number: b.Ratio}, {ID: paramPositionSD, Number: positionSD}})
	if err != nil {
		t.Fatal(err)
	}
	behind = float64(rec.Anchor.UnixNS-d.Stint.Start.UnixNano()) / 1e9
	for i, run := range d.Stint.Runs {
		in = append(in, procedure.Input{Run: fmt.Sprint(i + 1), Recordings: []*signal.Recording{rec}, Course: c, Parameters: p, FromS: run.From - behind - 0.3, ToS: run.To - behind + 0.3})
	}
	return in, behind
}

// Laps driven at the limit on the synthetic ground by a van with a receiver of 20 Hz that
// has corrections from a station, and inertial sensors of 100 Hz: the yardsticks are
// 0.005 s for a lap, 0.10 m (1 sigma) for an offset, 0.3° (RMS) for sideslip, and standard
// deviations that are honest.
func TestTheTruthIsRecovered(t *testing.T) {
	laps, worst := 0, 0.0
	var off, slip, place, speed, squares, gate [2]float64 // sums of squares, and how many
	for seed := uint64(1); seed <= 3; seed++ {
		d, err := truth.Laps([]string{"", "much softer sidewall", "more dry grip"}[seed-1], nil, 2, sim.Kit{}, seed)
		if err != nil {
			t.Fatal(err)
		}
		ins, behind := inputs(t, d, 0.02)
		for i, in := range ins {
			run := d.Stint.Runs[i]
			r := newRun(in)
			if err := r.reduce(); err != nil {
				t.Fatal(err)
			}
			out := r.out
			laps++
			was, _ := run.Value("lap_time")
			got := value(t, out, "lap_time", "")
			worst = math.Max(worst, math.Abs(got-was))
			if math.Abs(got-was) > 0.005 {
				t.Errorf("seed %d, lap %d: %.4f s, was %.4f", seed, i+1, got, was)
			}
			for _, o := range out.Observations {
				if o.Measure == "lap_time" && (o.Uncertainty == nil || math.Abs(o.Value-was) > 3**o.Uncertainty || *o.Uncertainty > 0.005) {
					t.Errorf("seed %d, lap %d: %.4f s, was %.4f; stated is %v", seed, i+1, o.Value, was, o.Uncertainty)
				}
			}
			for g := 1; g <= len(d.Gates); g++ {
				was, _ := run.Value(fmt.Sprintf("sector_time_%d", g))
				if got := value(t, out, "sector_time", fmt.Sprintf("sector %d", g)); math.Abs(got-was) > 0.005 {
					t.Errorf("seed %d, lap %d, sector %d: %.4f s, was %.4f", seed, i+1, g, got, was)
				}
			}
			for g, at := range truth.Offsets(d, run) {
				got := value(t, out, "gate_offset", fmt.Sprintf("gate %d", g+1))
				gate[0], gate[1] = gate[0]+(got-at)*(got-at), gate[1]+1
			}
			if got := value(t, out, "floating_time", ""); got != 0 { // the course is dry
				t.Errorf("seed %d, lap %d: floated for %v s", seed, i+1, got)
			}
			if got, was := value(t, out, "sustained_lateral", ""), truth.Sustained(d.Trace(i), run); math.Abs(got-was) > 0.05 {
				t.Errorf("seed %d, lap %d: %.3f m/s² for a second, was %.3f", seed, i+1, got, was)
			}
			// The motion beneath, against the trace.
			m := r.motion
			p := d.Trace(i).Point
			for _, o := range m.Innovations {
				if o.Numbers > 50 && o.MeanSquare > 1.3 {
					t.Errorf("seed %d, lap %d: the %s has a mean squared innovation of %.2f", seed, i+1, o.Kind, o.MeanSquare)
				}
			}
			k := 0
			// The course's plane lies about the first gate: its origin in the trace's plane is the mean difference.
			var de, dn, n float64
			type pair struct{ east, north, slip, speed, sdE, sdSlip, sdV float64 }
			var pairs []pair
			for j, at := range m.Base.T {
				if at < in.FromS || at > in.ToS || j%5 != 0 {
					continue
				}
				for k+1 < len(p) && p[k+1].T <= at+behind+1e-9 {
					k++
				}
				q := &p[k]
				if math.Abs(q.T-at-behind) > 1e-6 {
					continue
				}
				east, north := m.East.Value[j]-q.East, m.North.Value[j]-q.North
				de, dn, n = de+east, dn+north, n+1
				pairs = append(pairs, pair{east, north, m.Sideslip.Value[j] - math.Atan2(q.VY, q.VX), m.Speed.Value[j] - math.Hypot(q.VX, q.VY), m.East.SD[j], m.Sideslip.SD[j], m.Speed.SD[j]})
			}
			if n < 100 {
				t.Fatalf("only %g moments of the motion are those of the trace", n)
			}
			for _, q := range pairs {
				off[0] += (math.Pow(q.east-de/n, 2) + math.Pow(q.north-dn/n, 2)) / 2
				slip[0] += q.slip * q.slip
				place[0] += q.speed * q.speed
				squares[0] += q.slip * q.slip / (q.sdSlip * q.sdSlip)
				speed[0] += q.speed * q.speed / (q.sdV * q.sdV)
			}
			for _, s := range []*[2]float64{&off, &slip, &place, &squares, &speed} {
				s[1] += n
			}
		}
	}
	rms := func(s [2]float64) float64 { return math.Sqrt(s[0] / s[1]) }
	t.Logf("%d laps: lap times off by up to %.4f s; offset at gates off by %.3f m, position within a lap by %.3f m, sideslip by %.3f°, speed by %.4f m/s (RMS); squares over variances: sideslip %.2f, speed %.2f",
		laps, worst, rms(gate), rms(off), rms(slip)/deg, rms(place), squares[0]/squares[1], speed[0]/speed[1])
	if rms(gate) > 0.10 || rms(off) > 0.10 || rms(slip) > 0.3*deg {
		t.Errorf("position off by %.3f m, sideslip by %.3f°", rms(off), rms(slip)/deg)
	}
	if s := squares[0] / squares[1]; s > 1.6 {
		t.Errorf("sideslip is farther off than stated: %.2f", s)
	}
	if s := speed[0] / speed[1]; s > 1.6 {
		t.Errorf("speed is farther off than stated: %.2f", s)
	}
}

// Satellites that are lost as the vehicle crosses the finish leave a lap time that is as far
// off as it says at most, and it is told.
func TestALapTimeWithoutSatellitesAtTheFinish(t *testing.T) {
	d, err := truth.Laps("", nil, 1, sim.Kit{}, 5)
	if err != nil {
		t.Fatal(err)
	}
	ins, _ := inputs(t, d, 0.02)
	in := ins[0]
	was, _ := d.Stint.Runs[0].Value("lap_time")
	whole := 0.0
	for _, lost := range []float64{0, 1, 3} {
		finish := in.ToS - 0.3
		for _, c := range in.Recordings[0].Channels {
			switch c.Role {
			case signal.Latitude, signal.Longitude, signal.Speed, signal.CourseAngle:
				c.Valid = nil
				for i, at := range c.Base.T {
					if at > finish-lost*0.7 && at < finish+lost*0.3 {
						continue
					}
					if n := len(c.Valid); n > 0 && c.Valid[n-1].To == i {
						c.Valid[n-1].To++
					} else {
						c.Valid = append(c.Valid, signal.Span{From: i, To: i + 1})
					}
				}
			}
		}
		out := reduce(t, in)
		for _, o := range out.Observations {
			if o.Measure != "lap_time" {
				continue
			}
			t.Logf("lost for %g s: off by %+.4f s, stated %.4f s", lost, o.Value-was, *o.Uncertainty)
			if math.Abs(o.Value-was) > 3**o.Uncertainty {
				t.Errorf("lost for %g s: %.4f s, was %.4f; stated %.4f", lost, o.Value, was, *o.Uncertainty)
			}
			if lost == 0 {
				whole = *o.Uncertainty
			} else if *o.Uncertainty <= whole {
				t.Errorf("lost for %g s: stated %.4f s, no more than the %.4f s of a whole lap", lost, *o.Uncertainty, whole)
			}
		}
		if lost > 1 && !out.Caveats.Has("bridged") {
			t.Errorf("lost for %g s: %v", lost, out.Caveats)
		}
	}
}

func newRun(in procedure.Input) *run { return &run{in: in, rec: in.Recordings[0]} }
